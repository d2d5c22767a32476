/* A decoder as one writes it by hand for one head: the yardstick. Its rules of belief are the simplest that count rain. */
#ifndef PLAIN_H
#define PLAIN_H

#include <stddef.h>
#include <stdint.h>

#define LONGEST 48

/* As it lies in a packet. The body cannot lie so: its numbers have no fixed length. */
struct __attribute__((packed)) header {
    uint8_t kind;
    uint32_t head;
    uint16_t sequence;
};

struct observation {
    uint32_t illuminance_lx;
    int16_t air_temperature;
    uint16_t relative_humidity, air_pressure, wind_speed, wind_speed_of_gust, wind_from_direction, tips;
    uint8_t ultraviolet_index, status;
};

struct health {
    uint32_t uptime_s;
    uint16_t restarts, supply_mv, store_mv, cells_mv, firmware;
    uint8_t cause;
};

struct identity {
    uint64_t serial;
    uint16_t hardware, fit, interval_s, bucket_um;
};

struct packet {
    struct header header;
    union {
        struct observation observation;
        struct health health;
        struct identity identity;
    } body;
};

struct deframer {
    uint8_t bytes[LONGEST];
    uint8_t length, left, broken, zero;
};

struct plain {
    struct deframer deframer;
    struct packet packet;
    struct identity identity;
    uint32_t head;
    uint32_t missed;
    uint32_t rain_um;
    uint16_t sequence, tips;
    uint8_t life, is_paired, is_heard;
};

enum { NOTHING = -1, BROKEN = 0 };

/* Take a byte: the length of a packet that closes with it, BROKEN or NOTHING. */
int plain_push(struct deframer *deframer, uint8_t byte);
/* Check a packet and read its fields. */
int plain_parse(const uint8_t *bytes, size_t length, struct packet *packet);
/* Judge what was read: 1 if it is an observation to believe. */
int plain_believe(struct plain *plain, uint64_t serial);

#endif
