/* The receiver of the C interface: bytes of the air in, one line of JSON out for each event, with the words of the vectors
 * and the numbers of the wire (`raw`, in the order of their fields). */
#include "benchmast.h"
#include "board.h"

static void item(const char *name, int64_t number)
{
    board_text(",\"");
    board_text(name);
    board_text("\":");
    board_number(number);
}

static void rain(const char *name, const benchmast_event *event, int64_t number)
{
    if (event->rain_known) {
        item(name, number);
        return;
    }
    board_text(",\"");
    board_text(name);
    board_text("\":null");
}

static void hexadecimal(uint32_t number)
{
    for (int shift = 28; shift >= 0; shift -= 4)
        board_write((uint8_t)"0123456789abcdef"[number >> shift & 0xF]);
}

static void head(const benchmast_event *event)
{
    board_text(",\"head\":\"");
    hexadecimal(event->head);
    board_text("\"");
}

static void row(const int64_t *numbers, int count)
{
    board_text(",\"raw\":[");
    for (int i = 0; i < count; i++) {
        if (i > 0)
            board_write(',');
        board_number(numbers[i]);
    }
    board_write(']');
}

static void frame(const benchmast_event *event)
{
    const benchmast_observation *o = &event->observation;
    const benchmast_health *h = &event->health;
    const benchmast_identity *i = &event->identity;
    if (event->frame == BENCHMAST_FRAME_OBSERVATION) {
        const int64_t numbers[] = { o->status, o->air_temperature, o->relative_humidity, o->air_pressure, o->wind_speed,
                                    o->wind_speed_of_gust, o->wind_from_direction, o->tips, o->illuminance_lx,
                                    o->ultraviolet_index };
        board_text(",\"frame\":\"observation\"");
        row(numbers, 10);
    } else if (event->frame == BENCHMAST_FRAME_HEALTH) {
        const int64_t numbers[] = { h->restarts, h->cause, h->uptime_s, h->supply_mv, h->store_mv, h->cells_mv,
                                    h->firmware };
        board_text(",\"frame\":\"health\"");
        row(numbers, 7);
    } else if (event->frame == BENCHMAST_FRAME_IDENTITY) {
        const int64_t numbers[] = { (int64_t)i->serial, i->hardware, i->fit, i->interval_s, i->bucket_um };
        board_text(",\"frame\":\"identity\"");
        row(numbers, 5);
    }
}

static void tell(const benchmast_event *event)
{
    static const char *const tells[] = { "", "paired", "observation", "health", "duplicate", "late", "restarted",
                                         "refused", "silent" };
    static const char *const why[] = { "", "damaged", "unknown_version", "unknown_head", "malformed", "implausible",
                                       "stale", "forged", "replayed" };
    board_text("{\"event\":\"");
    board_text(tells[event->tells]);
    board_text("\"");
    if (event->tells != BENCHMAST_TELLS_REFUSED)
        head(event);
    switch (event->tells) {
    case BENCHMAST_TELLS_PAIRED:
        item("serial", (int64_t)event->identity.serial);
        item("interval_s", event->identity.interval_s);
        item("bucket_um", event->identity.bucket_um);
        break;
    case BENCHMAST_TELLS_OBSERVATION:
        item("sequence", event->sequence);
        rain("tips_since", event, event->tips_since);
        rain("rain_um", event, event->rain_um);
        item("intervals_missed", event->intervals_missed);
        break;
    case BENCHMAST_TELLS_LATE:
        item("sequence", event->sequence);
        item("intervals_late", event->intervals_late);
        item("tips_since", event->tips_since);
        item("rain_um", event->rain_um);
        break;
    case BENCHMAST_TELLS_HEALTH:
    case BENCHMAST_TELLS_DUPLICATE:
        item("sequence", event->sequence);
        break;
    case BENCHMAST_TELLS_RESTARTED:
        item("life", event->life);
        break;
    case BENCHMAST_TELLS_SILENT:
        item("last_heard_us", (int64_t)event->last_heard_us);
        break;
    case BENCHMAST_TELLS_REFUSED:
        board_text(",\"reason\":\"");
        board_text(why[event->why]);
        board_text("\"");
        if (event->why == BENCHMAST_WHY_UNKNOWN_VERSION)
            item("version", event->version);
        if (event->why == BENCHMAST_WHY_UNKNOWN_HEAD)
            head(event);
        break;
    default:
        break;
    }
    frame(event);
    board_text("}\n");
}

int main(void)
{
    static benchmast_receiver receiver;
    static benchmast_event event;
    board_open();
    benchmast_init(&receiver, sizeof receiver, 20);
#ifdef EXAMINED /* room for four heads, and pairing is open */
    benchmast_expect_any(&receiver, 1);
#else
    benchmast_expect(&receiver, SERIAL);
#endif
    for (;;) {
        /* The time stands still: this board has no clock of the simulation, and a receiver needs none to believe. */
        uint8_t byte = board_read();
        size_t used;
        if (benchmast_handle_stream(&receiver, 0, &byte, 1, &used) != BENCHMAST_STATUS_EVENTS)
            continue;
        while (benchmast_poll_event(&receiver, &event) == BENCHMAST_STATUS_EVENTS)
            tell(&event);
    }
}
