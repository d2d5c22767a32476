/* A complete receiver for `benchmast examine`, in C99 on the library of protocol/c. Nothing is allocated. */
#include "benchmast.h"
#include <ctype.h>
#include <inttypes.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define NEVER INT64_MIN /* this number is never missing */

static char line[65536 + 1];
static uint8_t data[sizeof line / 2];
static benchmast_receiver receiver;
static bool shows_fields;
static bool comma; /* between the members of what is being printed */

/* What stands behind a key, from a place in the line on: examiners write no blanks, and inside a string a quote would be escaped. */
static const char *behind(const char *from, const char *key)
{
    char name[24];
    snprintf(name, sizeof name, "\"%s\":", key);
    const char *at = strstr(from, name);
    return at ? at + strlen(name) : "";
}

static bool is(const char *key, const char *value) { return strncmp(behind(line, key), value, strlen(value)) == 0; }
static uint64_t number(const char *from, const char *key) { return strtoull(behind(from, key), NULL, 10); }
static uint16_t small(const char *from, const char *key) { return (uint16_t)number(from, key); }

/* The next object of an array, NULL at its end. */
static const char *item(const char *at)
{
    at = strpbrk(at, "{]");
    return at != NULL && *at == '{' ? at : NULL;
}

static size_t bytes(const char *from, const char *key)
{
    const char *at = behind(from, key);
    size_t count = 0;
    for (at += *at == '"'; isxdigit((unsigned char)at[0]) && isxdigit((unsigned char)at[1]); at += 2)
        data[count++] = (uint8_t)strtoul((char[]){ at[0], at[1], '\0' }, NULL, 16);
    return count;
}

static void must(benchmast_status status)
{
    if (status < 0) {
        fprintf(stderr, "the library says %d to %s", (int)status, line);
        exit(1);
    }
}

static void field(const char *name, int64_t value, int64_t missing, int decimals)
{
    printf("%s\"%s\":", comma ? "," : "", name);
    comma = true;
    if (value == missing)
        printf("null");
    else
        printf("\"%.*f\"", decimals, (double)value / (double[]){ 1, 10, 100 }[decimals]);
}

static void fields(const benchmast_event *event)
{
    printf(",\"fields\":{");
    comma = false;
    if (event->frame == BENCHMAST_FRAME_OBSERVATION) {
        const benchmast_observation *o = &event->observation;
        field("status", o->status, NEVER, 0);
        field("air_temperature", o->air_temperature, BENCHMAST_MISSING_TEMPERATURE, 2);
        field("relative_humidity", o->relative_humidity, BENCHMAST_MISSING, 1);
        field("air_pressure", o->air_pressure, BENCHMAST_MISSING, 1);
        field("wind_speed", o->wind_speed, BENCHMAST_MISSING, 1);
        field("wind_speed_of_gust", o->wind_speed_of_gust, BENCHMAST_MISSING, 1);
        field("wind_from_direction", o->wind_from_direction, BENCHMAST_MISSING, 0);
        field("tips", o->tips, NEVER, 0);
        field("illuminance_lx", o->illuminance_lx, BENCHMAST_MISSING_ILLUMINANCE, 0);
        field("ultraviolet_index", o->ultraviolet_index, BENCHMAST_MISSING_ULTRAVIOLET, 1);
    } else if (event->frame == BENCHMAST_FRAME_HEALTH) {
        const benchmast_health *h = &event->health;
        field("restarts", h->restarts, NEVER, 0);
        field("cause", h->cause, NEVER, 0);
        field("uptime_s", h->uptime_s, NEVER, 0);
        field("supply_mv", h->supply_mv, BENCHMAST_MISSING, 0);
        field("store_mv", h->store_mv, BENCHMAST_MISSING, 0);
        field("cells_mv", h->cells_mv, BENCHMAST_MISSING, 0);
        field("firmware", h->firmware, NEVER, 0);
    } else if (event->frame == BENCHMAST_FRAME_IDENTITY) {
        const benchmast_identity *i = &event->identity;
        field("serial", (int64_t)i->serial, NEVER, 0);
        field("hardware", i->hardware, NEVER, 0);
        field("fit", i->fit, NEVER, 0);
        field("interval_s", i->interval_s, NEVER, 0);
        field("bucket_um", i->bucket_um, NEVER, 0);
    }
    printf("}");
}

/* Keys that an event does not need are passed over ([E5]), so every event tells nearly all. */
static void tell(void)
{
    static const char *const tells[] = { "", "paired", "observation", "health", "duplicate", "late", "restarted",
                                         "refused", "silent" };
    static const char *const why[] = { "", "damaged", "unknown_version", "unknown_head", "malformed", "implausible",
                                       "stale", "forged", "replayed" };
    benchmast_event e;
    while (benchmast_poll_event(&receiver, &e) == BENCHMAST_STATUS_EVENTS) {
        printf("%s{\"event\":\"%s\",\"reason\":\"%s\",\"head\":\"%08" PRIx32 "\",\"sequence\":%d,\"version\":%d,\"life\":%d,"
               "\"intervals_missed\":%" PRIu32 ",\"intervals_late\":%" PRIu32 ",\"last_heard_us\":%" PRIu64,
               comma ? "," : "", tells[e.tells], why[e.why], e.head, e.sequence, e.version, e.life,
               e.intervals_missed, e.intervals_late, e.last_heard_us);
        comma = true;
        printf(",\"serial\":%" PRIu64 ",\"interval_s\":%d,\"bucket_um\":%d",
               e.identity.serial, e.identity.interval_s, e.identity.bucket_um);
        if (e.rain_known || e.tells == BENCHMAST_TELLS_LATE)
            printf(",\"tips_since\":%d,\"rain_um\":%" PRIu32, e.tips_since, e.rain_um);
        if (shows_fields)
            fields(&e);
        printf("}");
    }
}

static uint32_t head_id(const char *from)
{
    return bytes(from, "head") == 4 ? (uint32_t)data[0] << 24 | (uint32_t)data[1] << 16 | (uint32_t)data[2] << 8 | data[3] : 0;
}

static void begin(void)
{
    must(benchmast_init(&receiver, sizeof receiver, small(line, "silent_after")));
    shows_fields = is("fields", "true");
    for (const char *at = item(behind(line, "adopted")); at != NULL; at = item(at + 1)) {
        benchmast_identity identity = { number(at, "serial"), small(at, "hardware"), small(at, "fit"),
                                        small(at, "interval_s"), small(at, "bucket_um") };
        must(benchmast_adopt(&receiver, head_id(at), &identity));
    }
    for (const char *at = item(behind(line, "keys")); at != NULL; at = item(at + 1)) {
        uint32_t heard = (uint32_t)number(at, "heard");
        bytes(at, "key");
        must(benchmast_set_key(&receiver, number(at, "serial"), data, *behind(at, "heard") == 'n' ? NULL : &heard));
    }
}

static void hear(void)
{
    uint64_t now = number(line, "t_us");
    size_t length = bytes(line, "hex"), used;
    printf(",\"events\":[");
    comma = false;
    if (is("do", "\"packet\"")) {
        must(benchmast_handle_packet(&receiver, now, data, length));
    } else if (is("do", "\"stream\"")) {
        for (const uint8_t *at = data; at < data + length; at += used) {
            must(benchmast_handle_stream(&receiver, now, at, (size_t)(data + length - at), &used));
            tell();
        }
        must(benchmast_handle_time(&receiver, now));
    } else if (is("do", "\"tick\"")) {
        must(benchmast_handle_time(&receiver, now));
    } else if (is("do", "\"expect\"")) {
        must(benchmast_expect(&receiver, number(line, "serial")));
    } else {
        must(benchmast_expect_any(&receiver, is("open", "true")));
    }
    tell();
    printf("]");
}

static void state(void)
{
    uint32_t head;
    benchmast_identity identity;
    uint64_t tips, rain_um;
    printf(",\"heads\":[");
    for (size_t i = 0; benchmast_paired(&receiver, i, &head, &identity) == BENCHMAST_STATUS_OK; i++) {
        must(benchmast_rain_believed(&receiver, head, &tips, &rain_um));
        printf("%s{\"head\":\"%08" PRIx32 "\",\"tips\":%" PRIu64 "}", i > 0 ? "," : "", head, tips);
    }
    printf("]");
}

int main(void)
{
    while (fgets(line, sizeof line, stdin) != NULL) {
        printf("{\"id\":%" PRIu64, number(line, "id"));
        if (is("do", "\"hello\""))
            printf(",\"name\":\"receiver.c\"");
        else if (is("do", "\"open\"") && (is("mode", "\"packet\"") || is("mode", "\"stream\"")))
            begin();
        else if (is("do", "\"packet\"") || is("do", "\"stream\"") || is("do", "\"tick\"") || is("do", "\"expect\"")
                 || is("do", "\"pairing\""))
            hear();
        else if (is("do", "\"state\""))
            state();
        else if (!is("do", "\"close\"") && !is("do", "\"bye\""))
            printf(",\"unsupported\":true");
        printf("}\n");
        fflush(stdout);
        if (is("do", "\"bye\""))
            break;
    }
    return 0;
}
