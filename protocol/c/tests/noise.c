/* Packets and bytes that mean nothing, or nearly something: the library answers, and nothing is lost. */
#include "test.h"

#include <string.h>

static uint32_t state = 1;

/* Numerical Recipes' quick generator; its upper bits are good enough for noise. */
static uint32_t draw(uint32_t below)
{
    state = state * 1664525U + 1013904223U;
    return (uint32_t)(((uint64_t)state * below) >> 32);
}

static void drain(benchmast_receiver *receiver)
{
    benchmast_event event;
    unsigned count = 0;
    while (benchmast_poll_event(receiver, &event) == BENCHMAST_STATUS_EVENTS) {
        CHECK(event.tells >= BENCHMAST_TELLS_PAIRED && event.tells <= BENCHMAST_TELLS_SILENT, "noise");
        CHECK((event.tells == BENCHMAST_TELLS_REFUSED) == (event.why != BENCHMAST_WHY_NOTHING), "noise");
        /* One packet's events, and a silence of each head. */
        CHECK(++count <= 3 + BENCHMAST_HEADS, "noise");
    }
}

/* A packet with a right check around noise; now and then of the head that is paired. */
static size_t packet(uint8_t *bytes)
{
    size_t length = 7 + draw(24);
    for (size_t i = 0; i < length; i++)
        bytes[i] = (uint8_t)draw(draw(2) ? 256 : 4);
    bytes[0] = (uint8_t)(0x10 + draw(5));
    if (draw(4))
        memcpy(bytes + 1, "\001\000\000\000", 4);
    uint16_t check = benchmast_check(bytes, length);
    bytes[length] = (uint8_t)(check >> 8);
    bytes[length + 1] = (uint8_t)check;
    if (!draw(8))
        bytes[draw((uint32_t)length + 2)] ^= (uint8_t)(1U << draw(8));
    return length + 2;
}

void run_noise(void)
{
    static benchmast_receiver receiver;
    benchmast_identity identity = { .serial = 5, .hardware = 1, .fit = 255, .interval_s = 16, .bucket_um = 300 };
    uint64_t now_us = 0;
    uint32_t lost = 1;
    benchmast_init(&receiver, sizeof receiver, 20);
    benchmast_expect_any(&receiver, 1);
    CHECK(benchmast_adopt(&receiver, 1, &identity) == BENCHMAST_STATUS_OK, "noise");
    for (int turn = 0; turn < 20000; turn++) {
        uint8_t bytes[64];
        size_t length = packet(bytes), used;
        now_us += draw(3) ? 16000000U : draw(0xFFFFFFFFU) * (uint64_t)draw(100000);
        CHECK(benchmast_handle_packet(&receiver, now_us, bytes, length) == BENCHMAST_STATUS_EVENTS, "noise");
        drain(&receiver);
        for (size_t at = 0; at < length; at += used) {
            benchmast_handle_stream(&receiver, now_us, bytes + at, length - at, &used);
            CHECK(used > 0 && used <= length - at, "noise");
            drain(&receiver);
            if (used == 0)
                break;
        }
    }
    CHECK(benchmast_events_lost(&receiver, &lost) == BENCHMAST_STATUS_OK && lost == 0, "noise");
}
