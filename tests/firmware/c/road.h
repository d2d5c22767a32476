/* What is measured and compared: the receiver of the C interface (library.c), or the decoder written by hand (plain.c). */
#ifndef ROAD_H
#define ROAD_H

#include <stddef.h>
#include <stdint.h>

void road_open(void);
/* The bytes of a packet out of a frame with its delimiter; their number, or 0. They stay until the next call. */
size_t road_deframe(const uint8_t *bytes, size_t length, const uint8_t **packet);
/* Check a packet and read its fields: 1 if it is well formed. */
int road_parse(const uint8_t *packet, size_t length);
/* All the way: bytes of the stream in, events out. How many; of observations believed `*believed`. */
unsigned road_go(const uint8_t *bytes, size_t length, uint32_t *believed);
/* Bytes of static memory. */
uint32_t road_memory(void);

#endif
