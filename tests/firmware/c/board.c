#include "board.h"

#define REGISTER(address) (*(volatile uint32_t *)(address))
#define AIR 0x4000C000U
#define DESK 0x4000D000U
#define FLAGS 0x18U
#define NOTHING_IN (1U << 4)
#define OUT_FULL (1U << 5)
#define WIDTH 0x00FFFFFFU

void board_open(void)
{
    REGISTER(AIR + 0x2CU) = REGISTER(DESK + 0x2CU) = 0x70;
    REGISTER(AIR + 0x30U) = REGISTER(DESK + 0x30U) = 0x301;
}

uint8_t board_read(void)
{
    while (REGISTER(AIR + FLAGS) & NOTHING_IN)
        ;
    return (uint8_t)REGISTER(AIR);
}

void board_write(uint8_t byte)
{
    while (REGISTER(DESK + FLAGS) & OUT_FULL)
        ;
    REGISTER(DESK) = byte;
}

void board_text(const char *text)
{
    while (*text != '\0')
        board_write((uint8_t)*text++);
}

void board_number(int64_t number)
{
    char digits[20];
    int count = 0;
    uint64_t rest = number < 0 ? 0 - (uint64_t)number : (uint64_t)number;
    if (number < 0)
        board_write('-');
    do {
        digits[count++] = (char)('0' + rest % 10);
        rest /= 10;
    } while (rest != 0);
    while (count > 0)
        board_write((uint8_t)digits[--count]);
}

void counter_start(void)
{
    REGISTER(0x400FE060U) &= ~(0xFU << 23);
    REGISTER(0xE000E014U) = WIDTH;
    REGISTER(0xE000E018U) = 0;
    REGISTER(0xE000E010U) = 5;
}

uint32_t counter_now(void)
{
    return REGISTER(0xE000E018U);
}

uint32_t counter_since(uint32_t earlier, uint32_t later)
{
    return (earlier - later) & WIDTH;
}
