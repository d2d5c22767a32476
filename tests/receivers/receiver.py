#!/usr/bin/env python3
"""A complete receiver for `benchmast examine`, written from protocol/WIRE.md and EXAMINATION.md alone.
Python 3.10 or later, no packages. Clause numbers in brackets are those of WIRE.md."""
import json
import sys

B, V, Z = "byte", "varint", "zigzag"  # name, encoding, bits, decimals, lowest, highest, missing
FIELDS = {
    1: [("status", B, 8, 0, 0, 127, None), ("air_temperature", Z, 16, 2, -8000, 6000, -8192),
        ("relative_humidity", V, 16, 1, 0, 1000, 16383), ("air_pressure", V, 16, 1, 3000, 11000, 16383),
        ("wind_speed", V, 16, 1, 0, 1200, 16383), ("wind_speed_of_gust", V, 16, 1, 0, 1200, 16383),
        ("wind_from_direction", V, 16, 0, 0, 359, 16383), ("tips", V, 16, 0, 0, 65535, None),
        ("illuminance_lx", V, 32, 0, 0, 200000, 2097151), ("ultraviolet_index", B, 8, 1, 0, 250, 255)],
    2: [("restarts", V, 16, 0, 0, 65535, None), ("cause", B, 8, 0, 0, 255, None),
        ("uptime_s", V, 32, 0, 0, 2**32 - 1, None), ("supply_mv", V, 16, 0, 0, 6000, 16383),
        ("store_mv", V, 16, 0, 0, 6000, 16383), ("cells_mv", V, 16, 0, 0, 6000, 16383),
        ("firmware", V, 16, 0, 0, 65535, None)],
    3: [("serial", V, 64, 0, 0, 9999999999, None), ("hardware", V, 16, 0, 0, 65535, None),
        ("fit", V, 16, 0, 0, 255, None), ("interval_s", V, 16, 0, 1, 3600, None),
        ("bucket_um", V, 16, 0, 10, 5000, None)]}
TABLE = []  # the check, a byte at a time [W1.4]
for index in range(256):
    register = index << 8
    for _ in range(8):
        register = register << 1 ^ (0x15935 if register & 0x8000 else 0)
    TABLE.append(register)


class Refused(Exception):
    pass


def check(data):
    register = 0xFFFF
    for byte in data:
        register = (register << 8 & 0xFFFF) ^ TABLE[register >> 8 ^ byte]
    return register


def header(data):
    if len(data) < 9 or check(data):  # [W1.5]
        raise Refused("damaged")
    if data[0] >> 4 != 1:
        raise Refused("unknown_version", "version", data[0] >> 4)
    if data[0] & 7 not in FIELDS:  # bit 3 is looked at later [W7.1]
        raise Refused("malformed")
    return data[0] & 7, data[4::-1][:4].hex(), data[5] | data[6] << 8


def body(kind, data):
    at, end, found = 7, len(data) - 2, {}
    for name, encoding, bits, _, low, high, missing in FIELDS[kind]:
        value = shift = 0
        while True:
            if at >= end or shift >= bits:  # [W2.4] [W2.5]
                raise Refused("malformed")
            byte, at = data[at], at + 1
            if encoding == B:
                value = byte
                break
            value, shift = value | (byte & 127) << shift, shift + 7
            if byte < 128:
                if value >> bits or byte == 0 and shift > 7:
                    raise Refused("malformed")
                break
        if encoding == Z:
            value = -(value + 1) // 2 if value & 1 else value // 2
        found[name] = value
    if at != end:
        raise Refused("malformed")
    for name, _, _, _, low, high, missing in FIELDS[kind]:
        if found[name] == missing and missing is not None:
            found[name] = None  # [W3.3]
        elif not low <= found[name] <= high:
            raise Refused("implausible")
    mean, gust = found.get("wind_speed"), found.get("wind_speed_of_gust")
    if mean is not None and gust is not None and gust < mean:  # [W3.5]
        raise Refused("implausible")
    return found


def unstuff(frame):  # [W6.1]; None: broken [W6.5] or too long [W6.6]
    out, at = b"", 0
    while at < len(frame):
        code = frame[at]
        if at + code > len(frame):
            return None
        out += frame[at + 1:at + code]
        at += code
        out += b"\0" if code != 255 and at < len(frame) else b""
    return out if len(out) <= 48 else None


class Life:
    def __init__(self, number, base):
        self.number, self.base = number, base  # base: interval and counter that rain counts from
        self.newest, self.heard, self.top, self.at = {}, {1: set(), 2: set()}, None, None

    def interval(self, sequence, whole_since):  # [W7.3]
        if self.top is None:
            return sequence
        low = self.top + whole_since(self.at) - 32767
        return low + (sequence - low) % 65536

    def place(self, kind, interval, tips, bound):
        newest = self.newest.get(kind)
        if newest is None or interval > newest:
            if kind == 1 and self.base and (tips - self.base[1]) % 65536 > bound(abs(interval - self.base[0])):
                raise Refused("implausible")
            return "new"
        if interval in self.heard[kind]:
            return "duplicate"
        if newest - interval >= 64:
            raise Refused("stale")
        if kind == 1 and (self.base[1] - tips) % 65536 > bound(newest - interval):
            raise Refused("implausible")
        self.heard[kind].add(interval)
        return "late"

    def believe(self, kind, interval, tips, now):
        since, missed = None, 0
        if kind == 1:
            if self.base:
                since, missed = (tips - self.base[1]) % 65536, max(0, interval - self.base[0] - 1)
            self.base = interval, tips
        self.newest[kind] = interval
        if self.top is None or interval >= self.top:
            self.top, self.at = interval, now
        self.heard[kind] = {one for one in self.heard[kind] if interval - 64 < one < interval} | {interval}
        return since, missed


class Head:
    def __init__(self, identity):
        self.set(identity)
        self.present = self.former = self.witness = self.heard_at = None
        self.witnesses, self.told_silent, self.tips = 0, False, 0

    def set(self, identity):
        self.identity, self.has_gauge = identity, identity["fit"] & 8

    def bound(self, n):  # [W7.4]
        return n * self.identity["interval_s"] * 2000000 // 3600 // self.identity["bucket_um"] + 1

    def whole_since(self, now):
        return lambda at: max(0, (now - at) // (self.identity["interval_s"] * 1000000))

    def rain(self, tips):
        self.tips += tips or 0
        return {"tips_since": tips, "rain_um": None if tips is None else tips * self.identity["bucket_um"]}

    def is_heard(self, now):
        self.heard_at, self.told_silent = now, False

    def judge(self, kind, sequence, number, tips, now):
        packet = kind, number, sequence, tips
        try:
            if not self.present:
                return self.begin(packet, now)
            if number == self.present.number:
                return self.of_present(packet, now)
            if self.former and number == self.former.number:
                return self.of_former(packet, now)
            if (number - self.present.number) % 16 > 8:
                raise Refused("stale")
            life = Life(number, (-1, 0))  # [W7.5], one to eight ahead
            turns = max(0, self.whole_since(now)(self.present.at) - sequence) // 65536 * 65536
            life.place(kind, sequence + turns, tips, self.bound)
            self.former, self.present, self.witness, self.witnesses = self.present, life, None, 0
            return [{"event": "restarted", "life": number}] + self.new(life, kind, sequence, tips, now)
        except Refused as refused:
            if not self.testify(packet):
                raise
            if number == self.present.number and refused.args[0] == "implausible":
                interval = self.present.interval(sequence, self.whole_since(now))
                if interval > self.present.newest.get(1, interval - 1):  # the counter alone [W7.4]
                    self.present.base = None
                    return self.new(self.present, kind, interval, tips, now)
            self.former = self.present
            return [{"event": "restarted", "life": number}] + self.begin(packet, now)

    def new(self, life, kind, interval, tips, now):
        self.is_heard(now)
        since, missed = life.believe(kind, interval, tips, now)
        if kind == 2:
            return [{"event": "health"}]
        self.witness, self.witnesses = None, 0
        return [{"event": "observation", **self.rain(since if self.has_gauge else None), "intervals_missed": missed}]

    def begin(self, packet, now):
        kind, number, sequence, tips = packet
        self.witness, self.witnesses, self.present = None, 0, Life(number, None)
        return self.new(self.present, kind, sequence, tips, now)

    def of_present(self, packet, now):
        kind, _, sequence, tips = packet
        life = self.present
        interval = life.interval(sequence, self.whole_since(now))
        try:
            place = life.place(kind, interval, tips, self.bound)
        except Refused:
            if kind == 1 or 1 not in life.newest or life.newest[1] - interval >= 64:
                raise
            life.heard[2], life.top, place = set(), life.newest[1], "new"  # the newest report was a lie
        if place == "new":
            return self.new(life, kind, interval, tips, now)
        late = {"intervals_late": life.newest[kind] - interval, "tips_since": 0, "rain_um": 0}
        return [{"event": place, **(late if place == "late" else {})}]

    def of_former(self, packet, now):
        kind, _, sequence, tips = packet
        life = self.former
        interval = life.interval(sequence, lambda at: 0)
        place = life.place(kind, interval, tips, self.bound)
        if place == "duplicate":
            return [{"event": place}]
        rain, behind = {"tips_since": 0, "rain_um": 0}, 0
        if place == "late":
            behind = life.newest[kind] - interval
        elif kind == 1 and self.testify(packet):  # that life goes on
            self.present, self.former, life.at = life, self.present, now
            return self.new(life, kind, interval, tips, now)
        else:
            since, _ = life.believe(kind, interval, tips, life.at)
            rain = self.rain(since) if since is not None and self.has_gauge else rain
        return [{"event": "late", "intervals_late": max(1, self.present.top + 1) + behind, **rain}]

    def testify(self, packet):  # whether this is the third witness in a row that agrees [W7.5]
        if packet[0] != 1 or packet == self.witness:
            return False
        n = (packet[2] - self.witness[2]) % 65536 if self.witness and self.witness[1] == packet[1] else 0
        agrees = 1 <= n <= 64 and (packet[3] - self.witness[3]) % 65536 <= self.bound(n)
        self.witness, self.witnesses = packet, self.witnesses + 1 if agrees else 1
        return self.witnesses == 3


class Receiver:
    def __init__(self, ask):
        self.heads = {head["head"]: Head(head) for head in ask["adopted"]}
        self.places, self.silent_after, self.shows = ask["places"], ask["silent_after"], ask["fields"]
        self.waiting, self.is_open, self.rest = set(), False, b""

    def packet(self, data, now):
        silences, told, fields = self.tick(now), {}, None
        try:
            kind, head, sequence = header(data or b"")
            if kind != 3 and head not in self.heads:
                raise Refused("unknown_head", "head", head)
            if data[0] & 8:  # section 10 is not known here
                raise Refused("malformed")
            told, fields = {"head": head, "sequence": sequence}, body(kind, data)
            if kind == 3:
                events = [self.pair(head, fields, now)]
            else:
                number = fields["status" if kind == 1 else "restarts"] % 16
                events = self.heads[head].judge(kind, sequence, number, fields.get("tips"), now)
            events = [{**event, **told} for event in events]
        except Refused as refused:
            reason, *named = refused.args
            events = [{"event": "refused", "reason": reason, **({named[0]: named[1]} if named else {})}]
        if self.shows and fields:
            for event in events:
                event["fields"] = {name: decimal(fields[name], places) for name, _, _, places, *_ in FIELDS[kind]}
        return silences + events  # a silence that the packet ended stands before it [W7.6]

    def pair(self, head_id, fields, now):  # [W7.2]
        serial, head = fields["serial"], self.heads.get(head_id)
        paired = {"event": "paired", "serial": serial, "interval_s": fields["interval_s"], "bucket_um": fields["bucket_um"]}
        keys = ("hardware", "fit", "interval_s", "bucket_um")
        if head and head.identity["serial"] == serial:
            says_new = serial in self.waiting or any(head.identity[key] != fields[key] for key in keys)
            head.set(fields)
            head.is_heard(now)
            self.waiting.discard(serial)
            return paired if says_new else {"event": "duplicate"}
        if serial not in self.waiting:
            known = {other.identity["serial"] for other in self.heads.values()}
            free = self.places - len(self.heads) - len(self.waiting - known)
            if head or serial in known or not self.is_open or free <= 0:
                raise Refused("unknown_head", "head", head_id)
        self.heads = {key: other for key, other in self.heads.items()
                      if key != head_id and other.identity["serial"] != serial}
        self.heads[head_id] = Head(fields)
        self.heads[head_id].is_heard(now)
        self.waiting.discard(serial)
        return paired

    def tick(self, now):  # [W7.6]
        events = []
        for head_id, head in self.heads.items():
            head.heard_at = now if head.heard_at is None else head.heard_at
            limit = self.silent_after * head.identity["interval_s"] * 1000000
            if limit and not head.told_silent and now - head.heard_at >= limit:
                head.told_silent = True
                events.append({"event": "silent", "head": head_id, "last_heard_us": head.heard_at})
        return events

    def stream(self, data, now):
        *frames, rest = data.split(b"\0")
        events = []
        for frame in frames:
            frame, self.rest = self.rest + frame, b""
            events += self.packet(unstuff(frame), now) if frame else []
        self.rest = (self.rest + rest)[:1000]  # more is damaged anyway [W6.6]
        return events + self.tick(now)


def decimal(value, places):
    return None if value is None else f"{value / 10 ** places:.{places}f}"


def main():
    receiver = None
    for line in sys.stdin:
        ask = json.loads(line)
        answer, now, data = {"id": ask["id"]}, ask.get("t_us", 0), bytes.fromhex(ask.get("hex", ""))
        match ask["do"]:
            case "hello":
                answer["name"] = "receiver.py"
            case "open" if ask["mode"] in ("packet", "stream"):
                receiver = Receiver(ask)
                if ask["keys"]:
                    answer["skip"] = "does not know section 10"
            case "packet":
                answer["events"] = receiver.packet(data, now)
            case "stream":
                answer["events"] = receiver.stream(data, now)
            case "tick":
                answer["events"] = receiver.tick(now)
            case "expect":
                receiver.waiting.add(ask["serial"])
                answer["events"] = []
            case "pairing":
                receiver.is_open, answer["events"] = ask["open"], []
            case "state":
                answer["heads"] = [{"head": key, "tips": head.tips} for key, head in receiver.heads.items()]
            case "close" | "bye":
                pass
            case _:
                answer["unsupported"] = True
        print(json.dumps(answer), flush=True)
        if ask["do"] == "bye":
            break


if __name__ == "__main__":
    main()
