#!/usr/bin/env python3
"""A second decoder and receiver of wire format 1, written from protocol/WIRE.md alone.

Reads a byte stream on standard input and prints one JSON object per event. No clock is known there, so it
stands still, which [W7.3] allows. Any head that tells its identity is paired.
"""
import json
import sys

OBSERVATION, HEALTH, IDENTITY = 1, 2, 3
TURN = 65536   # sequence numbers and counters are modulo this
WINDOW = 64    # intervals [W7.3]

# Name, encoding, decimals, lowest and highest legal number, missing value (or None).
FIELDS = {
    OBSERVATION: [  # [W3.1]
        ("status", "byte", 0, 0, 127, None),
        ("air_temperature", "zigzag16", 2, -8000, 6000, -8192),
        ("relative_humidity", "varint16", 1, 0, 1000, 16383),
        ("air_pressure", "varint16", 1, 3000, 11000, 16383),
        ("wind_speed", "varint16", 1, 0, 1200, 16383),
        ("wind_speed_of_gust", "varint16", 1, 0, 1200, 16383),
        ("wind_from_direction", "varint16", 0, 0, 359, 16383),
        ("tips", "varint16", 0, 0, 65535, None),
        ("illuminance_lx", "varint32", 0, 0, 200000, 2097151),
        ("ultraviolet_index", "byte", 1, 0, 250, 255)],
    HEALTH: [  # [W4.1]
        ("restarts", "varint16", 0, 0, 65535, None),
        ("cause", "byte", 0, 0, 255, None),
        ("uptime_s", "varint32", 0, 0, 4294967295, None),
        ("supply_mv", "varint16", 0, 0, 6000, 16383),
        ("store_mv", "varint16", 0, 0, 6000, 16383),
        ("cells_mv", "varint16", 0, 0, 6000, 16383),
        ("firmware", "varint16", 0, 0, 65535, None)],
    IDENTITY: [  # [W5.1]
        ("serial", "varint64", 0, 0, 9999999999, None),
        ("hardware", "varint16", 0, 0, 65535, None),
        ("fit", "varint16", 0, 0, 255, None),
        ("interval_s", "varint16", 0, 1, 3600, None),
        ("bucket_um", "varint16", 0, 10, 5000, None)],
}
KINDS = {OBSERVATION: "observation", HEALTH: "health", IDENTITY: "identity"}


class Refused(Exception):
    """A packet that is not believed; the text is the reason of [W7.1]."""


# --- Packets -------------------------------------------------------------------------------------------------

def check(data):
    """[W1.4] CRC-16/M17."""
    register = 0xFFFF
    for byte in data:
        register ^= byte << 8
        for _ in range(8):
            register <<= 1
            if register & 0x10000:
                register ^= 0x15935
    return register


def number(body, at, encoding):
    """One field of the body, and where the next begins (section 2)."""
    if encoding == "byte":  # [W2.1]
        if at >= len(body):
            raise Refused("malformed")
        return body[at], at + 1
    bits = int(encoding[6:])
    value = shift = 0
    while True:  # [W2.2]
        if at >= len(body) or shift >= bits:  # [W2.4] [W2.5]
            raise Refused("malformed")
        byte = body[at]
        value |= (byte & 0x7F) << shift
        at, shift = at + 1, shift + 7
        if byte < 0x80:
            break
    if (byte == 0 and shift > 7) or value >> bits:  # [W2.4]
        raise Refused("malformed")
    if encoding.startswith("zigzag"):  # [W2.3]
        value = -(value + 1) // 2 if value & 1 else value // 2
    return value, at


def header(data):
    """Kind, head id, sequence number; refuses in the order of [W7.1]."""
    if len(data) < 9 or check(data) != 0:  # [W1.5]; the residue is 0
        raise Refused("damaged")
    if data[0] >> 4 != 1:  # [W1.1]
        raise Refused("unknown_version")
    if data[0] & 0x0F not in FIELDS:  # [W1.2]; the reserved bit included
        raise Refused("malformed")
    return data[0] & 7, int.from_bytes(data[1:5], "little"), int.from_bytes(data[5:7], "little")


def body(kind, data):
    """The fields of a packet, None for a missing value."""
    data, at, numbers = data[7:-2], 0, {}
    for name, encoding, *_ in FIELDS[kind]:
        numbers[name], at = number(data, at, encoding)
    if at != len(data):  # [W2.5]
        raise Refused("malformed")
    for name, _, _, low, high, missing in FIELDS[kind]:  # [W3.2] [W3.4] [W5.1]
        if missing is not None and numbers[name] == missing:
            numbers[name] = None  # [W3.3]
        elif not low <= numbers[name] <= high:
            raise Refused("implausible")
    mean, gust = numbers.get("wind_speed"), numbers.get("wind_speed_of_gust")
    if mean is not None and gust is not None and gust < mean:  # [W3.5]
        raise Refused("implausible")
    return numbers


def decode(data):
    """Kind, head id, sequence number and fields of one packet."""
    kind, head, sequence = header(data)
    return kind, head, sequence, body(kind, data)


def decimal(value, decimals):
    """An exact decimal string of a number of steps of 1/10**decimals."""
    if value is None:
        return None
    digits = str(abs(value)).rjust(decimals + 1, "0")
    text = digits if decimals == 0 else digits[:-decimals] + "." + digits[-decimals:]
    return "-" + text if value < 0 else text


# --- Byte stream ---------------------------------------------------------------------------------------------

def unstuff(frame):
    """The bytes a frame stands for, or None if its stuffing is broken ([W6.1] [W6.5])."""
    out, at = bytearray(), 0
    while at < len(frame):
        code = frame[at]
        if at + code > len(frame):
            return None
        out += frame[at + 1:at + code]
        at += code
        if code != 0xFF and at < len(frame):
            out.append(0)
    return bytes(out)


def frames(chunks):
    """Packets of a stream; None for a frame that is broken or too long ([W6.4] to [W6.6])."""
    rest = b""
    for chunk in chunks:
        *whole, rest = (rest + chunk).split(b"\0")
        for frame in filter(None, whole):
            packet = unstuff(frame)
            yield packet if packet is not None and len(packet) <= 48 else None


# --- Receiver ------------------------------------------------------------------------------------------------

class Life:
    """What is believed of one life of a head; intervals are whole numbers that do not wrap."""

    def __init__(self, number, began=False):
        self.number = number
        self.newest = {OBSERVATION: None, HEALTH: None}
        self.at = {}                                   # when the newest was heard
        self.heard = {OBSERVATION: set(), HEALTH: set()}
        self.base = (-1, 0) if began else None         # interval and counter that rain counts from

    def interval(self, sequence, waited):
        """[W7.3] The interval meant; waited: whole intervals that passed since a time."""
        heard = [kind for kind in self.newest if self.newest[kind] is not None]
        if not heard:
            return sequence
        top = max(heard, key=lambda kind: (self.newest[kind], -self.at[kind]))
        due = self.newest[top] + waited(self.at[top])
        return due - (TURN // 2 - 1) + (sequence - due + TURN // 2 - 1) % TURN

    def keep(self, kind, interval, now, tips):
        """Believe a packet as the newest of its kind."""
        self.newest[kind], self.at[kind] = interval, now
        self.heard[kind] = {i for i in self.heard[kind] if interval - WINDOW < i < interval} | {interval}
        if kind == OBSERVATION:
            self.base = (interval, tips)


class Head:
    """A paired head."""

    def __init__(self, serial, settings):
        self.serial, self.settings = serial, settings
        self.life = self.before = None  # the present life, and the one believed before it
        self.witness, self.witnesses = None, 0
        self.goes_on = 0                # observations in a row that show that the life before goes on

    def bound(self, n):
        """[W7.4] The most tips believed in n intervals."""
        return n * self.settings["interval_s"] * 2000000 // 3600 // self.settings["bucket_um"] + 1

    def waited(self, now):
        """Whole intervals from a time to now; none if the clock stood still or ran backwards."""
        return lambda since: max(0, int((now - since) // self.settings["interval_s"]))


class Receiver:
    """Section 7. Every method returns events; times are in seconds."""

    def __init__(self, places=8, pairing=True, silent_after=None, waiting=(), now=0):
        self.places, self.pairing, self.silent_after = places, pairing, silent_after
        self.heads = {}                                   # by head id
        self.waiting = set(waiting)
        self.last = {serial: now for serial in waiting}   # when a serial number was last heard, until told

    def hear(self, data, now=0):
        """What is said to one packet; None is a frame that cannot be a packet."""
        events = []
        try:
            kind, head_id, sequence = header(data or b"")
            if kind != IDENTITY and head_id not in self.heads:
                raise Refused("unknown_head")
            fields = body(kind, data)
            told = {"head": f"{head_id:08x}", "sequence": sequence, "fields": fields, "kind": kind}
            if kind == IDENTITY:
                events.append({"event": self.pair(head_id, fields, now), **told})
            else:
                head = self.heads[head_id]
                events += [{**event, **told} for event in self.judge(head, kind, sequence, fields, now)]
        except Refused as refused:
            events.append({"event": "refused", "reason": str(refused)})
        return events

    def pair(self, head_id, fields, now):
        """[W7.2]"""
        serial = fields["serial"]
        settings = {name: value for name, value in fields.items() if name != "serial"}
        waited, here = serial in self.waiting, self.heads.get(head_id)
        there = next((i for i, head in self.heads.items() if head.serial == serial), None)
        if not waited:
            if there is None:
                full = len(self.heads) + len(self.waiting) >= self.places
                if here or not self.pairing or full:
                    raise Refused("unknown_head")
            elif there != head_id:
                raise Refused("unknown_head")
            elif here.settings == settings:
                self.last[serial] = now
                return "duplicate"
        if there == head_id:
            here.settings = settings
        else:
            if here:
                self.last.pop(here.serial, None)
            self.heads.pop(there, None)
            self.heads[head_id] = Head(serial, settings)
        self.waiting.discard(serial)
        self.last[serial] = now
        return "paired"

    def judge(self, head, kind, sequence, fields, now):
        """An observation or a health report of a paired head ([W7.3] to [W7.5])."""
        number = (fields["status"] if kind == OBSERVATION else fields["restarts"]) & 15
        tips = fields.get("tips")
        if head.life is None:
            head.life = Life(number)
        try:
            if number == head.life.number:
                events = self.present(head, kind, sequence, tips, now)
            elif head.before and number == head.before.number:
                events = self.overtaken(head, kind, sequence, tips, now)
            elif (number - head.life.number) % 16 <= 8:
                events = self.restart(head, number, kind, sequence, tips, now)
            else:
                raise Refused("stale")
        except Refused as refused:
            if kind != OBSERVATION or not self.testify(head, number, sequence, tips):
                raise
            events = self.convinced(head, number, sequence, tips, now, str(refused))
        if any(event["event"] in ("observation", "health") for event in events):
            self.last[head.serial] = now
        if any(event["event"] in ("observation", "restarted") for event in events):
            head.witness, head.witnesses = None, 0
        return events

    def place(self, head, life, kind, interval, tips):
        """[W7.3] [W7.4] Where a packet stands in its life: new, duplicate or late."""
        newest = life.newest[kind]
        if newest is None or interval > newest:
            if kind == OBSERVATION and life.base:
                if (tips - life.base[1]) % TURN > head.bound(interval - life.base[0]):
                    raise Refused("implausible")
            return "new"
        if interval in life.heard[kind]:
            return "duplicate"
        if newest - interval < WINDOW:
            if kind == OBSERVATION and (life.base[1] - tips) % TURN > head.bound(newest - interval):
                raise Refused("implausible")
            return "late"
        seen = life.newest[OBSERVATION]
        if kind == HEALTH and seen is not None and seen - interval < WINDOW:
            return "new"  # the newest health report was a lie
        raise Refused("stale")

    def believe(self, head, life, kind, interval, tips, now):
        """Take a packet as the newest of its kind; what is told of rain and gaps."""
        told = {}
        if kind == OBSERVATION:
            since = None if life.base is None else (tips - life.base[1]) % TURN
            if not head.settings["fit"] & 8:  # [W7.4] no rain gauge, no rain
                since = None
            told = {"tips_since": since,
                    "rain_um": None if since is None else since * head.settings["bucket_um"],
                    "intervals_missed": 0 if life.base is None else interval - life.base[0] - 1}
        life.keep(kind, interval, now, tips)
        return told

    def present(self, head, kind, sequence, tips, now):
        """[W7.3] A packet of the present life."""
        life = head.life
        interval = life.interval(sequence, head.waited(now))
        place = self.place(head, life, kind, interval, tips)
        if kind == OBSERVATION:
            head.goes_on = 0
        if place == "new":
            return [{"event": KINDS[kind], **self.believe(head, life, kind, interval, tips, now)}]
        life.heard[kind].add(interval)
        return [{"event": place}]

    def overtaken(self, head, kind, sequence, tips, now):
        """[W7.5] A packet of the life before."""
        life = head.before
        interval = life.interval(sequence, lambda since: 0)
        place = self.place(head, life, kind, interval, tips)
        if place != "new":
            life.heard[kind].add(interval)
            return [{"event": place}]
        near = life.newest[kind] is not None and interval - life.newest[kind] <= WINDOW
        told = self.believe(head, life, kind, interval, tips, now)
        if kind == OBSERVATION:
            head.goes_on = head.goes_on + 1 if near else 1
            if head.goes_on == 3:
                head.life, head.before, head.goes_on = life, head.life, 0
                return [{"event": "observation", **told}]
        return [{"event": "late", **told}]

    def restart(self, head, number, kind, sequence, tips, now):
        """[W7.5] One to eight lives ahead."""
        old, life = head.life, Life(number, began=True)
        n = sequence + 1
        if old.at:  # whole turns of the sequence number, if the clock leaves room for them
            n += max(0, head.waited(now)(max(old.at.values())) - n) // TURN * TURN
        self.place(head, life, kind, n - 1, tips)
        head.life, head.before, head.goes_on = life, old, 0
        return [{"event": "restarted"}, {"event": KINDS[kind], **self.believe(head, life, kind, n - 1, tips, now)}]

    def testify(self, head, number, sequence, tips):
        """[W7.5] Keep a refused observation in mind; whether it is the third that agrees."""
        if head.witness == (number, sequence, tips):
            return False  # the same packet again
        agree = False
        if head.witness and head.witness[0] == number:
            n = (sequence - head.witness[1]) % TURN
            agree = 1 <= n <= WINDOW and (tips - head.witness[2]) % TURN <= head.bound(n)
        head.witness, head.witnesses = (number, sequence, tips), head.witnesses + 1 if agree else 1
        return head.witnesses == 3

    def convinced(self, head, number, sequence, tips, now, reason):
        """[W7.4] [W7.5] Three witnesses agree."""
        if number == head.life.number and reason == "implausible":
            life = head.life
            interval = life.interval(sequence, head.waited(now))
            missed = max(0, interval - life.base[0] - 1)
            life.base = None
            told = self.believe(head, life, OBSERVATION, interval, tips, now)
            return [{"event": "observation", **told, "intervals_missed": missed}]
        life = Life(number)
        told = self.believe(head, life, OBSERVATION, sequence, tips, now)
        head.life, head.before, head.goes_on = life, head.life, 0
        return [{"event": "restarted"}, {"event": "observation", **told}]

    def tick(self, now):
        """[W7.6] Heads that are silent."""
        if self.silent_after is None:
            return []
        events = []
        spans = {head.serial: head.settings["interval_s"] for head in self.heads.values()}
        for serial, since in sorted(self.last.items()):
            if now - since >= self.silent_after * spans.get(serial, 16):
                del self.last[serial]
                events.append({"event": "silent", "serial": f"{serial:010d}"})
        return events


def stream(source):
    """Chunks of a byte stream as they come."""
    while chunk := source.read1(65536):
        yield chunk


def main():
    receiver = Receiver()
    for packet in frames(stream(sys.stdin.buffer)):
        for event in receiver.hear(packet):
            print(json.dumps(event), flush=True)


if __name__ == "__main__":
    main()
