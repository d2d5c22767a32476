/* Calls that are wrong, calls at the ends of what is allowed, and what the lists say. */
#include "test.h"

#include <string.h>

#define OK BENCHMAST_STATUS_OK
#define NONE BENCHMAST_STATUS_NONE
#define NULL_POINTER BENCHMAST_STATUS_NULL_POINTER

static const benchmast_identity identity = {
    .serial = 1203004501, .hardware = 2, .fit = 255, .interval_s = 16, .bucket_um = 300
};

/* Every function, with every pointer null in turn, on a receiver that gives `status` by itself. */
static void every_call(benchmast_receiver *receiver, benchmast_status status, const char *about)
{
    const uint8_t byte = 0;
    size_t used;
    uint32_t small;
    uint64_t large, other;
    benchmast_identity settings;
    benchmast_event event;
    CHECK(benchmast_expect(receiver, 1) == status, about);
    CHECK(benchmast_expect_any(receiver, 1) == status, about);
    CHECK(benchmast_adopt(receiver, 1, &identity) == status, about);
    CHECK(benchmast_forget(receiver, 1) == status, about);
    CHECK(benchmast_handle_packet(receiver, 0, &byte, 1) == status, about);
    CHECK(benchmast_handle_stream(receiver, 0, &byte, 1, &used) == status, about);
    CHECK(benchmast_restart_stream(receiver) == status, about);
    CHECK(benchmast_handle_time(receiver, 0) == status, about);
    CHECK(benchmast_poll_event(receiver, &event) == status, about);
    CHECK(benchmast_next_deadline(receiver, &large) == status, about);
    CHECK(benchmast_paired(receiver, 0, &small, &settings) == status, about);
    CHECK(benchmast_expected(receiver, 0, &large) == status, about);
    CHECK(benchmast_rain_believed(receiver, 1, &large, &other) == status, about);
    CHECK(benchmast_last_heard(receiver, 1, &large) == status, about);
    CHECK(benchmast_events_lost(receiver, &small) == status, about);
}

static void null_pointers(void)
{
    static benchmast_receiver receiver;
    const char *about = "null pointers";
    const uint8_t byte = 0;
    size_t used;
    uint32_t head;
    uint64_t large;
    benchmast_identity settings;
    benchmast_packet packet;
    every_call(NULL, NULL_POINTER, "no receiver");
    CHECK(benchmast_init(NULL, sizeof receiver, 20) == NULL_POINTER, about);
    CHECK(benchmast_init(&receiver, sizeof receiver, 20) == OK, about);
    CHECK(benchmast_adopt(&receiver, 1, NULL) == NULL_POINTER, about);
    CHECK(benchmast_adopt(&receiver, 1, &identity) == OK, about);
    CHECK(benchmast_expect(&receiver, 5) == OK, about);
    CHECK(benchmast_handle_packet(&receiver, 0, NULL, 1) == NULL_POINTER, about);
    CHECK(benchmast_handle_stream(&receiver, 0, NULL, 1, &used) == NULL_POINTER, about);
    CHECK(benchmast_handle_stream(&receiver, 0, &byte, 1, NULL) == NULL_POINTER, about);
    CHECK(benchmast_handle_stream(&receiver, 0, NULL, 0, &used) == OK && used == 0, about);
    CHECK(benchmast_handle_time(&receiver, 0) == OK, about);
    CHECK(benchmast_poll_event(&receiver, NULL) == NULL_POINTER, about);
    CHECK(benchmast_next_deadline(&receiver, NULL) == NULL_POINTER, about);
    CHECK(benchmast_paired(&receiver, 0, NULL, &settings) == NULL_POINTER, about);
    CHECK(benchmast_paired(&receiver, 0, &head, NULL) == NULL_POINTER, about);
    CHECK(benchmast_expected(&receiver, 0, NULL) == NULL_POINTER, about);
    CHECK(benchmast_rain_believed(&receiver, 1, NULL, &large) == NULL_POINTER, about);
    CHECK(benchmast_rain_believed(&receiver, 1, &large, NULL) == NULL_POINTER, about);
    CHECK(benchmast_last_heard(&receiver, 1, NULL) == NULL_POINTER, about);
    CHECK(benchmast_events_lost(&receiver, NULL) == NULL_POINTER, about);
    CHECK(benchmast_parse(NULL, 1, &packet) == NULL_POINTER, about);
    CHECK(benchmast_parse(NULL, 0, &packet) == BENCHMAST_STATUS_DAMAGED, about);
    CHECK(benchmast_check(NULL, 3) == 0xFFFF && benchmast_check(NULL, 0) == 0xFFFF, about);
    CHECK(benchmast_handle_packet(&receiver, 0, NULL, 0) == BENCHMAST_STATUS_EVENTS, about);
    CHECK(benchmast_handle_packet(&receiver, 0, &byte, (size_t)-1) == BENCHMAST_STATUS_TOO_SMALL, about);
}

static void memory(void)
{
    static struct {
        uint64_t before[4];
        benchmast_receiver receiver;
        uint64_t after[4];
    } room;
    const char *about = "memory";
    CHECK(benchmast_receiver_size() <= sizeof room.receiver, about);
    CHECK(benchmast_receiver_alignment() <= 8, about);
    every_call(&room.receiver, BENCHMAST_STATUS_NOT_READY, "memory all zero");
    CHECK(benchmast_init(&room.receiver, benchmast_receiver_size() - 1, 20) == BENCHMAST_STATUS_TOO_SMALL, about);
    every_call(&room.receiver, BENCHMAST_STATUS_NOT_READY, "memory too small");
    for (size_t off = 1; off < benchmast_receiver_alignment(); off++) {
        /* By way of an integer: a pointer that is not aligned is not C's idea of a receiver. */
        benchmast_receiver *shifted = (benchmast_receiver *)((uintptr_t)&room.receiver + off);
        CHECK(benchmast_init(shifted, sizeof room.receiver, 20) == BENCHMAST_STATUS_MISALIGNED, about);
        every_call(shifted, BENCHMAST_STATUS_MISALIGNED, "memory not aligned");
    }
    memset(&room, 0xA5, sizeof room);
    /* Not a byte more than the library asks for. */
    size_t size = benchmast_receiver_size();
    CHECK(benchmast_init(&room.receiver, size, 20) == OK, about);
    benchmast_expect_any(&room.receiver, 1);
    for (uint32_t head = 1; head <= 2 * BENCHMAST_HEADS; head++) {
        benchmast_identity settings = identity;
        settings.serial = head;
        benchmast_status status = benchmast_adopt(&room.receiver, head, &settings);
        CHECK(status == (head <= BENCHMAST_HEADS ? OK : BENCHMAST_STATUS_FULL), about);
    }
    for (int round = 0; round < 10; round++)
        benchmast_handle_packet(&room.receiver, 0, NULL, 0);
    const unsigned char *byte = (const unsigned char *)&room;
    for (size_t i = 0; i < sizeof room; i++) {
        size_t start = offsetof(benchmast_receiver, opaque) + sizeof room.before;
        if (i < start || i >= start + size)
            CHECK(byte[i] == 0xA5, about);
    }
    uint32_t lost = 0;
    CHECK(benchmast_events_lost(&room.receiver, &lost) == OK && lost == 7, "ten told, room for three");
}

static void lists(void)
{
    static benchmast_receiver receiver;
    const char *about = "lists";
    uint32_t head = 0;
    uint64_t serial = 0, time_us = 0, tips = 1, rain_um = 1;
    benchmast_identity settings = identity, read;
    CHECK(benchmast_init(&receiver, sizeof receiver, 20) == OK, about);
    CHECK(benchmast_next_deadline(&receiver, &time_us) == NONE, about);
    CHECK(benchmast_paired(&receiver, 0, &head, &read) == NONE, about);
    CHECK(benchmast_expected(&receiver, 0, &serial) == NONE, about);
    CHECK(benchmast_rain_believed(&receiver, 7, &tips, &rain_um) == BENCHMAST_STATUS_NOT_PAIRED, about);
    CHECK(benchmast_last_heard(&receiver, 7, &time_us) == BENCHMAST_STATUS_NOT_PAIRED, about);
    settings.interval_s = 0;
    CHECK(benchmast_adopt(&receiver, 7, &settings) == BENCHMAST_STATUS_ILLEGAL, about);
    CHECK(benchmast_adopt(&receiver, 7, &identity) == OK, about);
    CHECK(benchmast_last_heard(&receiver, 7, &time_us) == NONE, about);
    CHECK(benchmast_handle_time(&receiver, 5000000) == OK, about);
    CHECK(benchmast_last_heard(&receiver, 7, &time_us) == OK && time_us == 5000000, about);
    CHECK(benchmast_next_deadline(&receiver, &time_us) == OK && time_us == 5000000 + 20 * 16000000ULL, about);
    CHECK(benchmast_paired(&receiver, 0, &head, &read) == OK && head == 7, about);
    CHECK(same_identity(&read, &identity), about);
    CHECK(benchmast_paired(&receiver, 1, &head, &read) == NONE, about);
    CHECK(benchmast_paired(&receiver, (size_t)-1, &head, &read) == NONE, about);
    CHECK(benchmast_rain_believed(&receiver, 7, &tips, &rain_um) == OK && tips == 0 && rain_um == 0, about);
    for (uint64_t wanted = 1; wanted < BENCHMAST_HEADS; wanted++)
        CHECK(benchmast_expect(&receiver, wanted) == OK, about);
    CHECK(benchmast_expect(&receiver, 99) == BENCHMAST_STATUS_FULL, about);
    for (uint64_t wanted = 1; wanted < BENCHMAST_HEADS; wanted++)
        CHECK(benchmast_expected(&receiver, (size_t)wanted - 1, &serial) == OK && serial == wanted, about);
    CHECK(benchmast_expected(&receiver, BENCHMAST_HEADS - 1, &serial) == NONE, about);
    CHECK(benchmast_forget(&receiver, 7) == OK, about);
    CHECK(benchmast_forget(&receiver, 7) == BENCHMAST_STATUS_NOT_PAIRED, about);
    CHECK(benchmast_paired(&receiver, 0, &head, &read) == NONE, about);
}

static void keys(void)
{
    static benchmast_receiver receiver;
    static const uint8_t key[16] = { 1 };
    const char *about = "keys";
    const uint32_t heard = 200;
    uint32_t counter = 0;
    CHECK(benchmast_set_key(NULL, 1, key, &heard) == NULL_POINTER, about);
    CHECK(benchmast_set_key(&receiver, 1, key, &heard) == BENCHMAST_STATUS_NOT_READY, about);
    CHECK(benchmast_remove_key(&receiver, 1) == BENCHMAST_STATUS_NOT_READY, about);
    CHECK(benchmast_newest_counter(&receiver, 1, &counter) == BENCHMAST_STATUS_NOT_READY, about);
    CHECK(benchmast_init(&receiver, sizeof receiver, 20) == OK, about);
    CHECK(benchmast_remove_key(&receiver, 1) == BENCHMAST_STATUS_NO_KEY, about);
    CHECK(benchmast_newest_counter(&receiver, 1, &counter) == NONE, about);
    CHECK(benchmast_set_key(&receiver, 1, NULL, &heard) == NULL_POINTER, about);
    for (uint64_t serial = 1; serial <= BENCHMAST_HEADS; serial++)
        CHECK(benchmast_set_key(&receiver, serial, key, serial == 1 ? &heard : NULL) == OK, about);
    CHECK(benchmast_set_key(&receiver, 99, key, NULL) == BENCHMAST_STATUS_FULL, about);
    CHECK(benchmast_newest_counter(&receiver, 1, &counter) == OK && counter == heard, about);
    CHECK(benchmast_newest_counter(&receiver, 1, NULL) == NULL_POINTER, about);
    CHECK(benchmast_newest_counter(&receiver, 2, &counter) == NONE, about);
    CHECK(benchmast_remove_key(&receiver, 1) == OK, about);
    CHECK(benchmast_newest_counter(&receiver, 1, &counter) == NONE, about);
}

void run_misuse(void)
{
    keys();
    null_pointers();
    memory();
    lists();
}
