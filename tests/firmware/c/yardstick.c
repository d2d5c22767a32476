/* How many instructions a packet takes, how deep the stack goes, how much memory the receiver has.
 * It reads packets until one of format version 15, then tells. */
#include "board.h"
#include "road.h"

/* A frame as it comes, its delimiter included. */
static size_t frame(uint8_t *bytes, size_t room)
{
    size_t length = 0;
    for (;;) {
        uint8_t byte = board_read();
        if (length < room)
            bytes[length++] = byte;
        if (byte == 0)
            return length;
    }
}

/* A thousand instructions, and those around them that every measurement has. */
static uint32_t __attribute__((noinline)) thousand(void)
{
    uint32_t before = counter_now();
    __asm volatile(".rept 1000\n nop\n .endr\n");
    return counter_since(before, counter_now());
}

static void tell(const char *name, uint64_t number)
{
    board_text(name);
    board_write(' ');
    board_number((int64_t)number);
    board_write('\n');
}

int main(void)
{
    static uint8_t bytes[64];
    uint64_t deframe = 0, parse = 0, road = 0;
    uint32_t frames = 0, sound = 0, events = 0, believed = 0;
    board_open();
    road_open();
    counter_start();
    for (;;) {
        const uint8_t *packet;
        size_t length = frame(bytes, sizeof bytes);
        if (length < 2)
            continue;
        uint32_t start = counter_now();
        size_t packet_length = road_deframe(bytes, length, &packet);
        uint32_t deframed = counter_now();
        if (packet_length == 0)
            continue;
        if (packet[0] == 0xF0)
            break;
        uint32_t before = counter_now();
        int is_sound = road_parse(packet, packet_length);
        uint32_t after = counter_now();
        frames++;
        if (is_sound) {
            /* Damaged ones are found out sooner; the comparison is of whole ones. */
            sound++;
            deframe += counter_since(start, deframed);
            parse += counter_since(before, after);
        }
        start = counter_now();
        events += road_go(bytes, length, &believed);
        road += counter_since(start, counter_now());
    }
    tell("thousand", thousand());
    tell("frames", frames);
    tell("sound", sound);
    tell("events", events);
    tell("believed", believed);
    tell("deframe", deframe);
    tell("parse", parse);
    tell("road", road);
    tell("stack", stack_depth());
    tell("memory", road_memory());
    tell("end", 0);
    for (;;)
        ;
}
