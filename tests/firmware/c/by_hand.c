#include "board.h"
#include "plain.h"
#include "road.h"

static struct plain plain;
static struct deframer other;

void road_open(void)
{
}

size_t road_deframe(const uint8_t *bytes, size_t length, const uint8_t **packet)
{
    *packet = other.bytes;
    for (size_t i = 0; i < length; i++) {
        int closed = plain_push(&other, bytes[i]);
        if (closed != NOTHING)
            return (size_t)closed;
    }
    return 0;
}

int road_parse(const uint8_t *packet, size_t length)
{
    return plain_parse(packet, length, &plain.packet);
}

unsigned road_go(const uint8_t *bytes, size_t length, uint32_t *believed)
{
    unsigned count = 0;
    for (size_t i = 0; i < length; i++) {
        int closed = plain_push(&plain.deframer, bytes[i]);
        if (closed == NOTHING)
            continue;
        count++;
        if (closed != BROKEN && plain_parse(plain.deframer.bytes, (size_t)closed, &plain.packet))
            *believed += (uint32_t)plain_believe(&plain, SERIAL);
    }
    return count;
}

uint32_t road_memory(void)
{
    return sizeof plain;
}
