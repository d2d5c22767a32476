/* The receiver and as little else as can be, for its size: a byte in, a byte out for what it causes. */
#include "board.h"
#include "road.h"

int main(void)
{
    uint32_t believed = 0;
    board_open();
    road_open();
    for (;;) {
        uint8_t byte = board_read();
        if (road_go(&byte, 1, &believed) > 0)
            board_write((uint8_t)believed);
    }
}
