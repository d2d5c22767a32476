/* The receiver of the benchmast wire format (WIRE.md) for C99 and later, and for C++.
 *
 * Generated from the Rust source beside it; do not edit.
 *
 * Memory: the library allocates nothing and has no state of its own. Everything is in the `benchmast_receiver` that
 * you give; every pointer is used during its call only and kept by nobody. Packets and bytes are read, never written.
 * Time: a monotonic clock of your own, microseconds; it may stand still (then SILENT is never told).
 * Threads: calls on one receiver must not overlap, interrupts included; different receivers are free of each other.
 * Errors: a status less than 0 says that the call did nothing. Null pointers, memory not aligned, and memory that is
 * all zero are met with a status, in every function. No input can make the library stop, loop or write elsewhere.
 *
 * The caller's part in every call that takes a receiver: it points to a whole `benchmast_receiver` whose bytes
 * were written at some time (static, zeroed, or given to benchmast_init) and that no other call uses meanwhile.
 */

#ifndef BENCHMAST_H
#define BENCHMAST_H

#include <stddef.h>
#include <stdint.h>

#if !defined(BENCHMAST_ONE_HEAD)
/**
 * Heads that one receiver can be paired with.
 */
#define BENCHMAST_HEADS 4
#endif

#if defined(BENCHMAST_ONE_HEAD)
/**
 * Heads that one receiver can be paired with.
 */
#define BENCHMAST_HEADS 1
#endif

#if !defined(BENCHMAST_ONE_HEAD)
/**
 * Size of a receiver in words of eight bytes.
 */
#define BENCHMAST_RECEIVER_WORDS 152
#endif

#if defined(BENCHMAST_ONE_HEAD)
/**
 * Size of a receiver in words of eight bytes.
 */
#define BENCHMAST_RECEIVER_WORDS 64
#endif

/**
 * Value of a reading that is missing, per field of `benchmast_observation` and `benchmast_health`.
 */
#define BENCHMAST_MISSING_TEMPERATURE -8192

/**
 * For humidity, pressure, wind speed, gust, direction and the three voltages.
 */
#define BENCHMAST_MISSING 16383

/**
 * For illuminance.
 */
#define BENCHMAST_MISSING_ILLUMINANCE 2097151

/**
 * For the UV index.
 */
#define BENCHMAST_MISSING_ULTRAVIOLET 255

/**
 * What a call says of itself: 0 or more when it did its work, less than 0 when it did nothing.
 */
enum benchmast_status
#if defined(__cplusplus) || __STDC_VERSION__ >= 202311L
  : int32_t
#endif // defined(__cplusplus) || __STDC_VERSION__ >= 202311L
 {
    /**
     * Done.
     */
    BENCHMAST_STATUS_OK = 0,
    /**
     * Done, and there are events to poll.
     */
    BENCHMAST_STATUS_EVENTS = 1,
    /**
     * Done; there is nothing (no event, no deadline, no head at this index).
     */
    BENCHMAST_STATUS_NONE = 2,
    /**
     * A pointer is null that must not be.
     */
    BENCHMAST_STATUS_NULL_POINTER = -1,
    /**
     * The receiver's memory is not aligned to eight bytes.
     */
    BENCHMAST_STATUS_MISALIGNED = -2,
    /**
     * The memory is smaller than this library's receiver: header and library do not belong together, or one of
     * them was made for one head only.
     */
    BENCHMAST_STATUS_TOO_SMALL = -3,
    /**
     * `benchmast_init` was not called on this memory.
     */
    BENCHMAST_STATUS_NOT_READY = -4,
    /**
     * Every place for a head is taken, or kept for a serial number that is waited for.
     */
    BENCHMAST_STATUS_FULL = -5,
    /**
     * The identity holds a number outside its legal range.
     */
    BENCHMAST_STATUS_ILLEGAL = -6,
    /**
     * No such head is paired.
     */
    BENCHMAST_STATUS_NOT_PAIRED = -7,
    /**
     * The bytes are no packet: too short, or the check does not fit.
     */
    BENCHMAST_STATUS_DAMAGED = -8,
    /**
     * The packet's check fits, its format version is another.
     */
    BENCHMAST_STATUS_UNKNOWN_VERSION = -9,
    /**
     * The packet's check and version fit, the rest does not follow the format.
     */
    BENCHMAST_STATUS_MALFORMED = -10,
    /**
     * The packet is well formed and holds a number that no head may send.
     */
    BENCHMAST_STATUS_IMPLAUSIBLE = -11,
    /**
     * No key is kept for this serial number.
     */
    BENCHMAST_STATUS_NO_KEY = -12,
};
#ifndef __cplusplus
#if __STDC_VERSION__ >= 202311L
typedef enum benchmast_status benchmast_status;
#else
typedef int32_t benchmast_status;
#endif // __STDC_VERSION__ >= 202311L
#endif // __cplusplus

/**
 * What an event tells.
 */
enum benchmast_tells
#if defined(__cplusplus) || __STDC_VERSION__ >= 202311L
  : uint8_t
#endif // defined(__cplusplus) || __STDC_VERSION__ >= 202311L
 {
    /**
     * A head was paired, or a paired one has other settings: `identity`.
     */
    BENCHMAST_TELLS_PAIRED = 1,
    /**
     * An observation is believed: `observation`, `rain_known`, `tips_since`, `rain_um`, `intervals_missed`.
     */
    BENCHMAST_TELLS_OBSERVATION = 2,
    /**
     * A health report is believed: `health`.
     */
    BENCHMAST_TELLS_HEALTH = 3,
    /**
     * Believed already, or an identity that says nothing new.
     */
    BENCHMAST_TELLS_DUPLICATE = 4,
    /**
     * Overtaken by a newer one, usable: `frame` says whether `observation` or `health` is filled; `intervals_late`,
     * `tips_since`, `rain_um`.
     */
    BENCHMAST_TELLS_LATE = 5,
    /**
     * The head has started anew: `life`.
     */
    BENCHMAST_TELLS_RESTARTED = 6,
    /**
     * A packet is not believed: `why`; `version` and `head` where the reason has them.
     */
    BENCHMAST_TELLS_REFUSED = 7,
    /**
     * Nothing was believed from a head for too long: `last_heard_us`.
     */
    BENCHMAST_TELLS_SILENT = 8,
};
#ifndef __cplusplus
#if __STDC_VERSION__ >= 202311L
typedef enum benchmast_tells benchmast_tells;
#else
typedef uint8_t benchmast_tells;
#endif // __STDC_VERSION__ >= 202311L
#endif // __cplusplus

/**
 * Kinds of frames, as on the wire.
 */
enum benchmast_frame
#if defined(__cplusplus) || __STDC_VERSION__ >= 202311L
  : uint8_t
#endif // defined(__cplusplus) || __STDC_VERSION__ >= 202311L
 {
    /**
     * None is filled.
     */
    BENCHMAST_FRAME_NONE = 0,
    /**
     * `observation` is filled.
     */
    BENCHMAST_FRAME_OBSERVATION = 1,
    /**
     * `health` is filled.
     */
    BENCHMAST_FRAME_HEALTH = 2,
    /**
     * `identity` is filled.
     */
    BENCHMAST_FRAME_IDENTITY = 3,
};
#ifndef __cplusplus
#if __STDC_VERSION__ >= 202311L
typedef enum benchmast_frame benchmast_frame;
#else
typedef uint8_t benchmast_frame;
#endif // __STDC_VERSION__ >= 202311L
#endif // __cplusplus

/**
 * Why a packet is refused.
 */
enum benchmast_why
#if defined(__cplusplus) || __STDC_VERSION__ >= 202311L
  : uint8_t
#endif // defined(__cplusplus) || __STDC_VERSION__ >= 202311L
 {
    /**
     * Not refused.
     */
    BENCHMAST_WHY_NOTHING = 0,
    /**
     * Too short, or the check does not fit, or no packet at all.
     */
    BENCHMAST_WHY_DAMAGED = 1,
    /**
     * Another format version: `version`.
     */
    BENCHMAST_WHY_UNKNOWN_VERSION = 2,
    /**
     * No such head is paired: `head`.
     */
    BENCHMAST_WHY_UNKNOWN_HEAD = 3,
    /**
     * Does not follow the format.
     */
    BENCHMAST_WHY_MALFORMED = 4,
    /**
     * Says what cannot be.
     */
    BENCHMAST_WHY_IMPLAUSIBLE = 5,
    /**
     * Too old to tell late from repeated.
     */
    BENCHMAST_WHY_STALE = 6,
    /**
     * The head has a key, and the packet has no tag or a wrong one.
     */
    BENCHMAST_WHY_FORGED = 7,
    /**
     * The tag is right, and the counter was heard before or is too old to tell.
     */
    BENCHMAST_WHY_REPLAYED = 8,
};
#ifndef __cplusplus
#if __STDC_VERSION__ >= 202311L
typedef enum benchmast_why benchmast_why;
#else
typedef uint8_t benchmast_why;
#endif // __STDC_VERSION__ >= 202311L
#endif // __cplusplus

/**
 * The memory of one receiver. Only its size and alignment are for you to use: put one where you like (static, on the
 * stack, in a block of your own), give it to `benchmast_init`, and hand its address to every other call. It
 * holds no pointer, not even to itself, and needs no end: it may be copied as a whole, moved or dropped.
 */
typedef struct benchmast_receiver {
    /**
     * Not for you to read or write.
     */
    uint64_t opaque[BENCHMAST_RECEIVER_WORDS];
} benchmast_receiver;

/**
 * Who a head is and how it is set.
 */
typedef struct benchmast_identity {
    /**
     * On the label, ten digits at most.
     */
    uint64_t serial;
    /**
     * Revision of the hardware.
     */
    uint16_t hardware;
    /**
     * Sensors fitted, bits 0 to 7: thermometer, hygrometer, barometer, rain gauge, cups, vane, light, ultraviolet.
     */
    uint16_t fit;
    /**
     * Reporting interval, s, 1 to 3600.
     */
    uint16_t interval_s;
    /**
     * Rain depth of one tip, micrometres, 10 to 5000.
     */
    uint16_t bucket_um;
} benchmast_identity;

/**
 * All readings of one interval, in the steps of the wire; a missing one has the value named above.
 */
typedef struct benchmast_observation {
    /**
     * lx.
     */
    uint32_t illuminance_lx;
    /**
     * 1/100 degC.
     */
    int16_t air_temperature;
    /**
     * 1/10 percent.
     */
    uint16_t relative_humidity;
    /**
     * 1/10 hPa, at the head's height.
     */
    uint16_t air_pressure;
    /**
     * 1/10 m/s, mean over the interval.
     */
    uint16_t wind_speed;
    /**
     * 1/10 m/s, highest short mean.
     */
    uint16_t wind_speed_of_gust;
    /**
     * Degrees clockwise from north, where the wind comes from.
     */
    uint16_t wind_from_direction;
    /**
     * Tips since the head started, modulo 65536.
     */
    uint16_t tips;
    /**
     * 1/10.
     */
    uint8_t ultraviolet_index;
    /**
     * Bits 0 to 3: restarts modulo 16; 4: on reserve cells; 5: store low; 6: reserve cells near their end.
     */
    uint8_t status;
} benchmast_observation;

/**
 * The state of the head itself.
 */
typedef struct benchmast_health {
    /**
     * Seconds since the head started.
     */
    uint32_t uptime_s;
    /**
     * Starts since manufacture, modulo 65536.
     */
    uint16_t restarts;
    /**
     * mV, the regulated rail.
     */
    uint16_t supply_mv;
    /**
     * mV, the store.
     */
    uint16_t store_mv;
    /**
     * mV, the reserve cells in series.
     */
    uint16_t cells_mv;
    /**
     * Firmware revision of the head.
     */
    uint16_t firmware;
    /**
     * Cause of the last start: 1 cells inserted, 2 supply came back, 3 watchdog, 4 button; others may come.
     */
    uint8_t cause;
} benchmast_health;

/**
 * One thing the receiver tells. What `tells` does not name is zero.
 */
typedef struct benchmast_event {
    /**
     * When a silent head was last heard, by your clock.
     */
    uint64_t last_heard_us;
    /**
     * Filled if `frame` says so, else zero.
     */
    struct benchmast_identity identity;
    /**
     * Filled if `frame` says so, else zero.
     */
    struct benchmast_observation observation;
    /**
     * Filled if `frame` says so, else zero.
     */
    struct benchmast_health health;
    /**
     * Radio address of the head; 0 in most refusals.
     */
    uint32_t head;
    /**
     * Depth of `tips_since`, micrometres.
     */
    uint32_t rain_um;
    /**
     * Intervals not heard between the last observation believed and this one.
     */
    uint32_t intervals_missed;
    /**
     * How many intervals before the newest one believed.
     */
    uint32_t intervals_late;
    /**
     * Intervals since the head started, modulo 65536.
     */
    uint16_t sequence;
    /**
     * Tips since the last observation believed; 0 where `rain_known` is 0.
     */
    uint16_t tips_since;
    /**
     * What this event tells.
     */
    benchmast_tells tells;
    /**
     * Which of the three frames is filled.
     */
    benchmast_frame frame;
    /**
     * Why a packet is refused.
     */
    benchmast_why why;
    /**
     * Format version of a packet refused for it.
     */
    uint8_t version;
    /**
     * Restarts modulo 16, of a head that restarted.
     */
    uint8_t life;
    /**
     * 1 if `tips_since` counts from something; 0 for an observation without a base, or without a rain gauge: its rain is
     * then not known, which is not 0.
     */
    uint8_t rain_known;
} benchmast_event;

/**
 * A packet taken apart, nothing of it believed yet.
 */
typedef struct benchmast_packet {
    /**
     * Filled if `frame` says so, else zero.
     */
    struct benchmast_identity identity;
    /**
     * Filled if `frame` says so, else zero.
     */
    struct benchmast_observation observation;
    /**
     * Filled if `frame` says so, else zero.
     */
    struct benchmast_health health;
    /**
     * Radio address of the sender.
     */
    uint32_t head;
    /**
     * Intervals since the head started, modulo 65536.
     */
    uint16_t sequence;
    /**
     * Which of the three is filled.
     */
    benchmast_frame frame;
} benchmast_packet;

#ifdef __cplusplus
extern "C" {
#endif // __cplusplus

/**
 * Bytes that this library needs for a receiver: at most `sizeof(benchmast_receiver)`.
 */
size_t benchmast_receiver_size(void);

/**
 * Bytes to which this library wants a receiver aligned: at most 8.
 */
size_t benchmast_receiver_alignment(void);

/**
 * Make a receiver that knows no head and waits for none, at the start of a stream. `size` is
 * `sizeof *receiver`. `silent_after`: intervals without a believed packet after which a head is told to be silent; 0 for
 * never. What was in the memory is overwritten. NULL_POINTER, MISALIGNED, TOO_SMALL.
 *
 * The caller's part:
 * `receiver` points to `size` bytes that nobody else uses meanwhile.
 */
benchmast_status benchmast_init(struct benchmast_receiver *receiver,
                                size_t size,
                                uint16_t silent_after);

/**
 * Wait for the identity of the head with this serial number, and pair with it. FULL.
 *
 * The caller's part:
 * See the head of this file.
 */
benchmast_status benchmast_expect(struct benchmast_receiver *receiver, uint64_t serial);

/**
 * Pair with every head that tells its identity while there is room (1), or no longer (0): for a bench, not for
 * a street.
 *
 * The caller's part:
 * See the head of this file.
 */
benchmast_status benchmast_expect_any(struct benchmast_receiver *receiver,
                                      uint8_t is_open);

/**
 * Take up a head again that was paired before, from your non-volatile memory. A paired head with this address or serial number
 * is replaced. FULL, ILLEGAL.
 *
 * The caller's part:
 * See the head of this file.
 */
benchmast_status benchmast_adopt(struct benchmast_receiver *receiver,
                                 uint32_t head,
                                 const struct benchmast_identity *identity);

/**
 * Forget a paired head. NOT_PAIRED.
 *
 * The caller's part:
 * See the head of this file.
 */
benchmast_status benchmast_forget(struct benchmast_receiver *receiver, uint32_t head);

/**
 * Judge the bytes of one packet, as a datagram or a radio brings it. EVENTS: poll before the next call. `packet` may be
 * null if `length` is 0, which is a damaged packet.
 *
 * The caller's part:
 * See the head of this file; `packet` points to `length` bytes outside the receiver.
 */
benchmast_status benchmast_handle_packet(struct benchmast_receiver *receiver,
                                         uint64_t now_us,
                                         const uint8_t *packet,
                                         size_t length);

/**
 * Take bytes of a stream, up to the end of the first packet that closes in them. `*used` says how many were taken. EVENTS: a
 * packet closed; poll, then call again with the rest. OK: all bytes were taken, and nothing closed. They may come in any
 * pieces, one at a time too.
 *
 * The caller's part:
 * See the head of this file; `bytes` points to `length` bytes outside the receiver.
 */
benchmast_status benchmast_handle_stream(struct benchmast_receiver *receiver,
                                         uint64_t now_us,
                                         const uint8_t *bytes,
                                         size_t length,
                                         size_t *used);

/**
 * A new stream begins (a line was opened anew): a packet that was under way is dropped.
 *
 * The caller's part:
 * See the head of this file.
 */
benchmast_status benchmast_restart_stream(struct benchmast_receiver *receiver);

/**
 * Note the time, when the next deadline has come. Needed for SILENT only. OK; there may be events to poll.
 *
 * The caller's part:
 * See the head of this file.
 */
benchmast_status benchmast_handle_time(struct benchmast_receiver *receiver,
                                       uint64_t now_us);

/**
 * What there is to tell, oldest first: EVENTS with `*event` written, or NONE with `*event` as it was. Poll until NONE after
 * every packet: there is room for what one packet can cause, and what does not fit is lost and counted.
 *
 * The caller's part:
 * See the head of this file; `event` points to a structure outside the receiver.
 */
benchmast_status benchmast_poll_event(struct benchmast_receiver *receiver,
                                      struct benchmast_event *event);

/**
 * When the next head will be overdue unless it is heard before: OK with `*deadline_us` written, or NONE.
 *
 * The caller's part:
 * See the head of this file; `deadline_us` points to a number outside the receiver.
 */
benchmast_status benchmast_next_deadline(struct benchmast_receiver *receiver,
                                         uint64_t *deadline_us);

/**
 * The paired head at an index from 0, for your non-volatile memory: OK with `*head` and `*identity` written, or NONE at the end
 * of the list. The order changes when a head is paired or forgotten.
 *
 * The caller's part:
 * See the head of this file; `head` and `identity` point outside the receiver.
 */
benchmast_status benchmast_paired(struct benchmast_receiver *receiver,
                                  size_t index,
                                  uint32_t *head,
                                  struct benchmast_identity *identity);

/**
 * The serial number waited for at an index from 0: OK with `*serial` written, or NONE at the end of the list.
 *
 * The caller's part:
 * See the head of this file; `serial` points to a number outside the receiver.
 */
benchmast_status benchmast_expected(struct benchmast_receiver *receiver,
                                    size_t index,
                                    uint64_t *serial);

/**
 * Sum of all tips and of their depth, micrometres, told in events since pairing. NOT_PAIRED.
 *
 * The caller's part:
 * See the head of this file; `tips` and `rain_um` point outside the receiver.
 */
benchmast_status benchmast_rain_believed(struct benchmast_receiver *receiver,
                                         uint32_t head,
                                         uint64_t *tips,
                                         uint64_t *rain_um);

/**
 * When a paired head was last believed, or taken up: OK with `*time_us` written; NONE before any time was told;
 * NOT_PAIRED.
 *
 * The caller's part:
 * See the head of this file; `time_us` points to a number outside the receiver.
 */
benchmast_status benchmast_last_heard(struct benchmast_receiver *receiver,
                                      uint32_t head,
                                      uint64_t *time_us);

/**
 * Events lost because nobody polled, into `*count`.
 *
 * The caller's part:
 * See the head of this file; `count` points to a number outside the receiver.
 */
benchmast_status benchmast_events_lost(struct benchmast_receiver *receiver, uint32_t *count);

/**
 * From now on the head with this serial number is believed only with tags of this key (WIRE.md section 10).
 * `key` is 16 bytes, copied. `heard` points to the newest counter believed of it, from your non-volatile memory: it
 * and all before it are old; null if none was. FULL when as many heads have keys as there are places. Keys outlive
 * benchmast_forget.
 *
 * The caller's part:
 * See the head of this file; `key` points to 16 bytes outside the receiver.
 */
benchmast_status benchmast_set_key(struct benchmast_receiver *receiver,
                                   uint64_t serial,
                                   const uint8_t *key,
                                   const uint32_t *heard);

/**
 * The head with this serial number is believed without tags again. NO_KEY.
 *
 * The caller's part:
 * See the head of this file.
 */
benchmast_status benchmast_remove_key(struct benchmast_receiver *receiver, uint64_t serial);

/**
 * The newest counter believed of a head with a key, for your non-volatile memory: OK with `*counter` written; NONE
 * before the first, or without a key.
 *
 * The caller's part:
 * See the head of this file; `counter` points to a number outside the receiver.
 */
benchmast_status benchmast_newest_counter(struct benchmast_receiver *receiver,
                                          uint64_t serial,
                                          uint32_t *counter);

/**
 * The check of some bytes: CRC-16/M17 (WIRE.md W1.4). 0 over a whole packet, its check included. Null is no bytes.
 *
 * The caller's part:
 * `bytes` points to `length` bytes.
 */
uint16_t benchmast_check(const uint8_t *bytes,
                         size_t length);

/**
 * Take a whole packet apart and judge its numbers, without a receiver: for tests, or to look into a
 * capture. Nothing is believed of it. `packet` is written only when the packet is well formed: with OK, or
 * IMPLAUSIBLE. Else: DAMAGED, UNKNOWN_VERSION, MALFORMED, NULL_POINTER.
 *
 * The caller's part:
 * `bytes` points to `length` bytes and does not overlap `packet`; `bytes` may be null if `length` is 0.
 */
benchmast_status benchmast_parse(const uint8_t *bytes,
                                 size_t length,
                                 struct benchmast_packet *packet);

#ifdef __cplusplus
}  // extern "C"
#endif  // __cplusplus

#endif  /* BENCHMAST_H */
