/* The board: two serial lines, a counter of instructions, and how deep the stack went. */
#ifndef BOARD_H
#define BOARD_H

#include <stdint.h>

/* Serial number of the head that this receiver waits for. */
#define SERIAL 1000005400U

void board_open(void);
/* Wait for a byte of the air. */
uint8_t board_read(void);
/* Tell at the desk. */
void board_write(uint8_t byte);
void board_text(const char *text);
void board_number(int64_t number);

/* Start the system timer at the fastest clock of the board, 5 ns a tick. The emulator lets the same time pass for every
 * instruction, so it counts instructions; how many ticks one takes is measured. */
void counter_start(void);
uint32_t counter_now(void);
uint32_t counter_since(uint32_t earlier, uint32_t later);

/* Deepest that the stack ever was, bytes. */
uint32_t stack_depth(void);

#endif
