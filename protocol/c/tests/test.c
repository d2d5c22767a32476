/* The library from C: every vector of the wire format, every way to call it wrongly, and noise. */
#include "test.h"

#include <stdio.h>

static unsigned long checks, failures;

void check_that(int holds, const char *condition, const char *about, const char *file, int line)
{
    checks++;
    if (holds)
        return;
    failures++;
    if (failures <= 20)
        printf("%s:%d: %s: not so: %s\n", file, line, about, condition);
}

int same_identity(const benchmast_identity *one, const benchmast_identity *other)
{
    return one->serial == other->serial && one->hardware == other->hardware && one->fit == other->fit
        && one->interval_s == other->interval_s && one->bucket_um == other->bucket_um;
}

static int same_observation(const benchmast_observation *one, const benchmast_observation *other)
{
    return one->illuminance_lx == other->illuminance_lx && one->air_temperature == other->air_temperature
        && one->relative_humidity == other->relative_humidity && one->air_pressure == other->air_pressure
        && one->wind_speed == other->wind_speed && one->wind_speed_of_gust == other->wind_speed_of_gust
        && one->wind_from_direction == other->wind_from_direction && one->tips == other->tips
        && one->ultraviolet_index == other->ultraviolet_index && one->status == other->status;
}

static int same_health(const benchmast_health *one, const benchmast_health *other)
{
    return one->uptime_s == other->uptime_s && one->restarts == other->restarts && one->supply_mv == other->supply_mv
        && one->store_mv == other->store_mv && one->cells_mv == other->cells_mv && one->firmware == other->firmware
        && one->cause == other->cause;
}

int same_packet(const benchmast_packet *one, const benchmast_packet *other)
{
    return one->head == other->head && one->sequence == other->sequence && one->frame == other->frame
        && same_identity(&one->identity, &other->identity)
        && same_observation(&one->observation, &other->observation) && same_health(&one->health, &other->health);
}

int same_event(const benchmast_event *one, const benchmast_event *other)
{
    return one->tells == other->tells && one->last_heard_us == other->last_heard_us && one->head == other->head
        && one->rain_um == other->rain_um && one->intervals_missed == other->intervals_missed
        && one->intervals_late == other->intervals_late && one->sequence == other->sequence
        && one->tips_since == other->tips_since && one->frame == other->frame && one->why == other->why
        && one->version == other->version && one->life == other->life && one->rain_known == other->rain_known
        && same_identity(&one->identity, &other->identity)
        && same_observation(&one->observation, &other->observation) && same_health(&one->health, &other->health);
}

int main(void)
{
    run_vectors();
    run_misuse();
    run_noise();
    printf("%lu checks, %lu failed\n", checks, failures);
    return failures != 0;
}
