#include "benchmast.h"
#include "board.h"
#include "plain.h"
#include "road.h"

static benchmast_receiver receiver;
static benchmast_event event;

void road_open(void)
{
    benchmast_init(&receiver, sizeof receiver, 20);
    benchmast_expect(&receiver, SERIAL);
}

/* The library gives no packet without judging it: the yardstick unstuffs for itself, and this is not counted as its work. */
size_t road_deframe(const uint8_t *bytes, size_t length, const uint8_t **packet)
{
    static struct deframer deframer;
    *packet = deframer.bytes;
    for (size_t i = 0; i < length; i++) {
        int closed = plain_push(&deframer, bytes[i]);
        if (closed != NOTHING)
            return (size_t)closed;
    }
    return 0;
}

int road_parse(const uint8_t *packet, size_t length)
{
    static benchmast_packet parsed;
    benchmast_status status = benchmast_parse(packet, length, &parsed);
    return status == BENCHMAST_STATUS_OK || status == BENCHMAST_STATUS_IMPLAUSIBLE;
}

unsigned road_go(const uint8_t *bytes, size_t length, uint32_t *believed)
{
    unsigned count = 0;
    while (length > 0) {
        size_t used = 0;
        if (benchmast_handle_stream(&receiver, 0, bytes, length, &used) < 0)
            break;
        bytes += used;
        length -= used;
        while (benchmast_poll_event(&receiver, &event) == BENCHMAST_STATUS_EVENTS) {
            count++;
            *believed += event.tells == BENCHMAST_TELLS_OBSERVATION;
        }
    }
    return count;
}

uint32_t road_memory(void)
{
    return sizeof receiver + sizeof event;
}
