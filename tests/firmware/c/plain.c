#include "plain.h"

#include <string.h>

int plain_push(struct deframer *d, uint8_t byte)
{
    if (byte == 0) {
        int result = d->left > 0 || d->broken ? BROKEN : d->length > 0 || d->zero ? d->length : NOTHING;
        d->length = d->left = d->broken = d->zero = 0;
        return result;
    }
    if (d->left == 0) {
        if (d->zero) {
            if (d->length < LONGEST)
                d->bytes[d->length++] = 0;
            else
                d->broken = 1;
        }
        d->left = (uint8_t)(byte - 1);
        d->zero = byte != 0xFF;
    } else {
        if (d->length < LONGEST)
            d->bytes[d->length++] = byte;
        else
            d->broken = 1;
        d->left--;
    }
    return NOTHING;
}

/* CRC-16/M17 of each byte; written from WIRE.md W1.4 when this is built. */
extern const uint16_t check_table[256];

static uint16_t check(const uint8_t *bytes, size_t length)
{
    uint16_t sum = 0xFFFF;
    while (length-- > 0)
        sum = (uint16_t)(sum << 8 ^ check_table[sum >> 8 ^ *bytes++]);
    return sum;
}

struct cursor {
    const uint8_t *at, *end;
    int bad;
};

static uint8_t byte(struct cursor *c)
{
    if (c->at == c->end) {
        c->bad = 1;
        return 0;
    }
    return *c->at++;
}

/* A number of 7 bits a byte, with no needless byte, of at most 32 bits. */
static uint32_t number(struct cursor *c, uint32_t most)
{
    uint32_t value = 0;
    for (unsigned shift = 0; shift < 35 && c->at < c->end; shift += 7) {
        uint8_t next = *c->at++;
        if (shift == 28 && next > 0x0F)
            break;
        value |= (uint32_t)(next & 0x7F) << shift;
        if (next < 0x80) {
            if ((next == 0 && shift > 0) || value > most)
                break;
            return value;
        }
    }
    c->bad = 1;
    return 0;
}

static uint16_t small(struct cursor *c)
{
    return (uint16_t)number(c, 0xFFFF);
}

static uint64_t large(struct cursor *c)
{
    uint64_t value = 0;
    for (unsigned shift = 0; shift < 70 && c->at < c->end; shift += 7) {
        uint8_t next = *c->at++;
        if (shift == 63 && next > 1)
            break;
        value |= (uint64_t)(next & 0x7F) << shift;
        if (next < 0x80) {
            if (next == 0 && shift > 0)
                break;
            return value;
        }
    }
    c->bad = 1;
    return 0;
}

int plain_parse(const uint8_t *bytes, size_t length, struct packet *packet)
{
    if (length < sizeof packet->header + 2 || check(bytes, length) != 0)
        return 0;
    memcpy(&packet->header, bytes, sizeof packet->header);
    struct cursor c = { bytes + sizeof packet->header, bytes + length - 2, 0 };
    switch (packet->header.kind) {
    case 0x11: {
        struct observation *o = &packet->body.observation;
        o->status = byte(&c);
        uint16_t zigzag = small(&c);
        o->air_temperature = (int16_t)((zigzag >> 1) ^ -(zigzag & 1));
        o->relative_humidity = small(&c);
        o->air_pressure = small(&c);
        o->wind_speed = small(&c);
        o->wind_speed_of_gust = small(&c);
        o->wind_from_direction = small(&c);
        o->tips = small(&c);
        o->illuminance_lx = number(&c, 0xFFFFFFFF);
        o->ultraviolet_index = byte(&c);
        break;
    }
    case 0x12: {
        struct health *h = &packet->body.health;
        h->restarts = small(&c);
        h->cause = byte(&c);
        h->uptime_s = number(&c, 0xFFFFFFFF);
        h->supply_mv = small(&c);
        h->store_mv = small(&c);
        h->cells_mv = small(&c);
        h->firmware = small(&c);
        break;
    }
    case 0x13: {
        struct identity *i = &packet->body.identity;
        i->serial = large(&c);
        i->hardware = small(&c);
        i->fit = small(&c);
        i->interval_s = small(&c);
        i->bucket_um = small(&c);
        break;
    }
    default:
        return 0;
    }
    return !c.bad && c.at == c.end;
}

static int within(int32_t value, int32_t low, int32_t high, int32_t missing)
{
    return (value >= low && value <= high) || value == missing;
}

static int is_legal(const struct observation *o)
{
    return o->status < 0x80 && within(o->air_temperature, -8000, 6000, -8192)
        && within(o->relative_humidity, 0, 1000, 16383) && within(o->air_pressure, 3000, 11000, 16383)
        && within(o->wind_speed, 0, 1200, 16383) && within(o->wind_speed_of_gust, 0, 1200, 16383)
        && within(o->wind_from_direction, 0, 359, 16383) && within((int32_t)o->illuminance_lx, 0, 200000, 2097151)
        && within(o->ultraviolet_index, 0, 250, 255)
        && (o->wind_speed == 16383 || o->wind_speed_of_gust >= o->wind_speed);
}

/* No window, no late packets, no witnesses: newer by the sequence number, or a restart. */
int plain_believe(struct plain *p, uint64_t serial)
{
    const struct header *header = &p->packet.header;
    if (header->kind == 0x13 && p->packet.body.identity.serial == serial) {
        p->identity = p->packet.body.identity;
        p->head = header->head;
        p->is_paired = 1;
        return 0;
    }
    const struct observation *o = &p->packet.body.observation;
    if (header->kind != 0x11 || !p->is_paired || header->head != p->head || !is_legal(o))
        return 0;
    uint8_t life = o->status & 0x0F;
    int16_t ahead = (int16_t)(header->sequence - p->sequence);
    uint16_t tips = (uint16_t)(o->tips - p->tips);
    if (!p->is_heard) {
        tips = 0;
    } else if (life != p->life) {
        tips = o->tips;
    } else {
        if (ahead <= 0)
            return 0;
        p->missed += (uint32_t)(ahead - 1);
    }
    p->is_heard = 1;
    p->life = life;
    p->sequence = header->sequence;
    p->tips = o->tips;
    p->rain_um += (uint32_t)tips * p->identity.bucket_um;
    return 1;
}
