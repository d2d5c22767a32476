/* The vectors of the wire format: packets, streams in every cut, dialogues. */
#include "test.h"

#include <stdio.h>
#include <string.h>

struct packet_vector {
    const char *id;
    const uint8_t *at;
    size_t length;
    benchmast_status status;
    benchmast_packet packet;
};

struct stream_vector {
    const char *id;
    struct bytes stream;
    const struct bytes *yields;
    size_t count;
    int unfinished;
};

enum act { PACKET, EXPECT, OPEN, TIME };

struct step {
    enum act act;
    uint64_t at_us;
    uint64_t value;
    struct bytes packet;
    const benchmast_event *events;
    size_t count;
};

struct adopted {
    uint32_t head;
    benchmast_identity identity;
};

struct tips {
    uint32_t head;
    uint64_t tips;
};

struct keyed {
    uint64_t serial;
    uint8_t key[16];
    int has_heard;
    uint32_t heard;
};

struct dialogue {
    const char *id;
    uint16_t silent_after;
    const struct adopted *adopted;
    size_t adopted_count;
    const struct step *steps;
    size_t step_count;
    const struct tips *tips;
    size_t tips_count;
    const struct keyed *keys;
    size_t keys_count;
};

#include "vectors.h"

#define COUNT(array) (sizeof(array) / sizeof *(array))

static void packets(void)
{
    for (size_t i = 0; i < COUNT(packet_vectors); i++) {
        const struct packet_vector *vector = &packet_vectors[i];
        benchmast_packet packet;
        memset(&packet, 0, sizeof packet);
        CHECK(benchmast_parse(vector->at, vector->length, &packet) == vector->status, vector->id);
        /* Of what is implausible the vectors do not state the fields. */
        if (vector->status != BENCHMAST_STATUS_IMPLAUSIBLE)
            CHECK(same_packet(&packet, &vector->packet), vector->id);
        if (vector->status != BENCHMAST_STATUS_DAMAGED)
            CHECK(benchmast_check(vector->at, vector->length) == 0, vector->id);
    }
    /* The check value of the catalogue that W1.4 names. */
    CHECK(benchmast_check((const uint8_t *)"123456789", 9) == 0x772B, "catalogue");
}

/* Take all events; returns how many. */
static size_t drain(benchmast_receiver *receiver, benchmast_event *events, size_t room, const char *id)
{
    size_t count = 0;
    benchmast_event event;
    while (benchmast_poll_event(receiver, &event) == BENCHMAST_STATUS_EVENTS) {
        CHECK(count < room, id);
        if (count < room)
            events[count++] = event;
    }
    return count;
}

/* One stream in pieces of some length, against its packets handed over whole to another receiver. */
static void stream(const struct stream_vector *vector, size_t piece)
{
    static benchmast_receiver streamed, whole;
    size_t yielded = 0;
    benchmast_init(&streamed, sizeof streamed, 0);
    benchmast_init(&whole, sizeof whole, 0);
    benchmast_expect_any(&streamed, 1);
    benchmast_expect_any(&whole, 1);
    for (size_t at = 0; at < vector->stream.length;) {
        size_t left = vector->stream.length - at, used = 99999;
        benchmast_event here[4], there[4];
        benchmast_status status =
            benchmast_handle_stream(&streamed, 7, vector->stream.at + at, left < piece ? left : piece, &used);
        CHECK(used > 0 && used <= piece && used <= left, vector->id);
        at += used;
        if (status == BENCHMAST_STATUS_OK)
            continue;
        CHECK(status == BENCHMAST_STATUS_EVENTS && yielded < vector->count, vector->id);
        if (yielded == vector->count)
            return;
        benchmast_handle_packet(&whole, 7, vector->yields[yielded].at, vector->yields[yielded].length);
        yielded++;
        size_t count = drain(&streamed, here, 4, vector->id);
        CHECK(drain(&whole, there, 4, vector->id) == count && count > 0, vector->id);
        for (size_t i = 0; i < count; i++)
            CHECK(same_event(&here[i], &there[i]), vector->id);
    }
    CHECK(yielded == vector->count, vector->id);
    /* Something closes now only if it was begun, and a new stream begins with nothing. */
    size_t used = 0;
    benchmast_receiver other = streamed;
    benchmast_status status = vector->unfinished ? BENCHMAST_STATUS_EVENTS : BENCHMAST_STATUS_OK;
    CHECK(benchmast_handle_stream(&streamed, 7, (const uint8_t *)"", 1, &used) == status, vector->id);
    CHECK(benchmast_restart_stream(&other) == BENCHMAST_STATUS_OK, vector->id);
    CHECK(benchmast_handle_stream(&other, 7, (const uint8_t *)"", 1, &used) == BENCHMAST_STATUS_OK, vector->id);
}

/* A packet taken apart; of an authenticated one, as if it had no counter and tag (W10.4). */
static benchmast_status parse(const struct bytes *bytes, benchmast_packet *packet)
{
    uint8_t plain[48];
    if (bytes->length < 21 || bytes->length > sizeof plain || !(bytes->at[0] & 8))
        return benchmast_parse(bytes->at, bytes->length, packet);
    size_t length = bytes->length - 14;
    memcpy(plain, bytes->at, length);
    plain[0] &= 0xF7;
    uint16_t check = benchmast_check(plain, length);
    plain[length] = (uint8_t)(check >> 8);
    plain[length + 1] = (uint8_t)check;
    return benchmast_parse(plain, length + 2, packet);
}

/* What the vectors tell of an event; readings are those of the packet. */
static void compare(const benchmast_event *said, benchmast_event stated, const struct step *step, const char *about)
{
    benchmast_packet packet;
    if (said->frame != BENCHMAST_FRAME_NONE) {
        CHECK(step->act == PACKET, about);
        memset(&packet, 0, sizeof packet);
        CHECK(parse(&step->packet, &packet) == BENCHMAST_STATUS_OK, about);
        if (packet.frame == BENCHMAST_FRAME_IDENTITY) {
            CHECK(packet.identity.serial == stated.identity.serial, about);
            CHECK(packet.identity.interval_s == stated.identity.interval_s, about);
            CHECK(packet.identity.bucket_um == stated.identity.bucket_um, about);
        }
        stated.frame = packet.frame;
        stated.identity = packet.identity;
        stated.observation = packet.observation;
        stated.health = packet.health;
    }
    CHECK(said->frame != BENCHMAST_FRAME_NONE
              || (said->tells != BENCHMAST_TELLS_OBSERVATION && said->tells != BENCHMAST_TELLS_HEALTH
                  && said->tells != BENCHMAST_TELLS_LATE && said->tells != BENCHMAST_TELLS_PAIRED),
          about);
    CHECK(same_event(said, &stated), about);
}

static void dialogue(const struct dialogue *dialogue)
{
    /* The memory moves with every step: nothing in it may point into itself. */
    static benchmast_receiver places[2];
    benchmast_receiver *receiver = &places[0];
    char about[96];
    CHECK(benchmast_init(receiver, sizeof *receiver, dialogue->silent_after) == BENCHMAST_STATUS_OK, dialogue->id);
    for (size_t i = 0; i < dialogue->adopted_count; i++) {
        const struct adopted *adopted = &dialogue->adopted[i];
        CHECK(benchmast_adopt(receiver, adopted->head, &adopted->identity) == BENCHMAST_STATUS_OK, dialogue->id);
    }
    for (size_t i = 0; i < dialogue->keys_count; i++) {
        const struct keyed *keyed = &dialogue->keys[i];
        CHECK(benchmast_set_key(receiver, keyed->serial, keyed->key, keyed->has_heard ? &keyed->heard : NULL)
                  == BENCHMAST_STATUS_OK,
              dialogue->id);
    }
    for (size_t i = 0; i < dialogue->step_count; i++) {
        const struct step *step = &dialogue->steps[i];
        benchmast_receiver *next = &places[(i + 1) % 2];
        benchmast_event said[8];
        memcpy(next, receiver, sizeof *next);
        memset(receiver, 0xA5, sizeof *receiver);
        receiver = next;
        snprintf(about, sizeof about, "%s, step %lu", dialogue->id, (unsigned long)i);
        switch (step->act) {
        case PACKET:
            CHECK(benchmast_handle_packet(receiver, step->at_us, step->packet.at, step->packet.length)
                      == BENCHMAST_STATUS_EVENTS,
                  about);
            break;
        case EXPECT:
            CHECK(benchmast_expect(receiver, step->value) == BENCHMAST_STATUS_OK, about);
            break;
        case OPEN:
            CHECK(benchmast_expect_any(receiver, step->value != 0) == BENCHMAST_STATUS_OK, about);
            break;
        case TIME:
            CHECK(benchmast_handle_time(receiver, step->at_us) == BENCHMAST_STATUS_OK, about);
            break;
        }
        size_t count = drain(receiver, said, COUNT(said), about);
        CHECK(count == step->count, about);
        for (size_t j = 0; j < count && j < step->count; j++)
            compare(&said[j], step->events[j], step, about);
    }
    uint32_t lost = 99;
    CHECK(benchmast_events_lost(receiver, &lost) == BENCHMAST_STATUS_OK && lost == 0, dialogue->id);
    for (size_t i = 0; i < dialogue->tips_count; i++) {
        uint64_t tips = 0, rain_um = 0;
        CHECK(benchmast_rain_believed(receiver, dialogue->tips[i].head, &tips, &rain_um) == BENCHMAST_STATUS_OK
                  && tips == dialogue->tips[i].tips,
              dialogue->id);
    }
}

void run_vectors(void)
{
    packets();
    for (size_t i = 0; i < COUNT(stream_vectors); i++)
        for (size_t piece = 1; piece <= stream_vectors[i].stream.length; piece++)
            stream(&stream_vectors[i], piece);
    for (size_t i = 0; i < COUNT(dialogues); i++)
        dialogue(&dialogues[i]);
    printf("%lu packets, %lu streams, %lu dialogues\n", (unsigned long)COUNT(packet_vectors),
           (unsigned long)COUNT(stream_vectors), (unsigned long)COUNT(dialogues));
}
