"""Section 7 of protocol/WIRE.md: what a receiver believes. Times are in microseconds."""
from decoder_packet import HEALTH, IDENTITY, KINDS, OBSERVATION, Refused, body, header

TURN = 65536         # sequence numbers and counters are modulo this
WINDOW = 64          # intervals [W7.3]
SECOND = 1_000_000   # microseconds
RAIN_GAUGE = 8       # bit 3 of the fit [W5.2]


class Life:
    """What is believed of one life of a head. Intervals are whole numbers that do not wrap."""

    def __init__(self, number, base):
        self.number = number
        self.base = base    # interval and counter that rain counts from, or None [W7.4]
        self.newest = {}                                  # by kind: the newest interval believed
        self.top, self.at = None, None                    # the newest of any kind, and when it was heard
        self.heard = {OBSERVATION: set(), HEALTH: set()}  # the newest of the kind and the 63 before it

    def interval(self, sequence, whole_since):
        """[W7.3] Which interval is meant: the nearest to the one due, the later of two equally near."""
        if self.top is None:
            return sequence
        due = self.top + whole_since(self.at)
        lowest = due - TURN // 2 + 1
        return lowest + (sequence - lowest) % TURN

    def place(self, kind, interval, tips, bound):
        """[W7.3] [W7.4] New, duplicate or late in this life; bound: the most tips in some intervals."""
        newest = self.newest.get(kind)
        if newest is None or interval > newest:
            if kind == OBSERVATION and self.base:
                from_interval, from_tips = self.base
                if (tips - from_tips) % TURN > bound(abs(interval - from_interval)):
                    raise Refused("implausible")
            return "new"
        if interval in self.heard[kind]:
            return "duplicate"
        if newest - interval >= WINDOW:
            raise Refused("stale")
        if kind == OBSERVATION and (self.base[1] - tips) % TURN > bound(newest - interval):
            raise Refused("implausible")
        self.heard[kind].add(interval)
        return "late"

    def believe(self, kind, interval, tips, now):
        """Enter a packet as the newest of its kind; tips and intervals missed since the one before."""
        since, missed = None, 0
        if kind == OBSERVATION:
            if self.base:
                since, missed = (tips - self.base[1]) % TURN, max(0, interval - self.base[0] - 1)
            self.base = (interval, tips)
        self.newest[kind] = interval
        if self.top is None or interval >= self.top:
            self.top, self.at = interval, now
        self.heard[kind] = {i for i in self.heard[kind] if interval - WINDOW < i < interval} | {interval}
        return since, missed


class Head:
    """A paired head."""

    def __init__(self, serial, settings):
        self.serial, self.settings = serial, settings
        self.present = self.former = None      # the present life and the one believed before it [W7.5]
        self.witness, self.witnesses = None, 0
        self.heard_at, self.is_told_silent = None, False  # [W7.6]; None before any time was told
        self.tips_told = 0

    def bound(self, n):
        """[W7.4] The most tips believed in n intervals."""
        return n * self.settings["interval_s"] * 2000000 // 3600 // self.settings["bucket_um"] + 1

    def rain(self, tips):
        """[W7.4] What is told of tips; nothing without a base or a rain gauge."""
        if tips is None or not self.settings["fit"] & RAIN_GAUGE:
            return {"tips_since": None, "rain_um": None}
        self.tips_told += tips
        return {"tips_since": tips, "rain_um": tips * self.settings["bucket_um"]}

    def is_heard(self, now):
        self.heard_at, self.is_told_silent = now, False

    def judge(self, kind, sequence, fields, now):
        """An observation or a health report: the events, without what is the packet's own."""
        number = (fields["status"] if kind == OBSERVATION else fields["restarts"]) % 16  # [W7.5]
        packet = (kind, number, sequence, fields.get("tips"))
        try:
            if self.present is None:
                return self.begin(packet, now)
            if number == self.present.number:
                return self.of_present(packet, now)
            if self.former and number == self.former.number:
                return self.of_former(packet, now)
            if (number - self.present.number) % 16 > 8:
                raise Refused("stale")
            return self.restart(packet, now)
        except Refused as refused:
            if not self.testify(packet):
                raise
            if number == self.present.number and str(refused) == "implausible":
                interval = self.present.interval(sequence, self.whole_since(now))
                newest = self.present.newest.get(OBSERVATION)
                if newest is None or interval > newest:  # the counter alone: [W7.4]
                    self.present.base = None
                    return self.new(self.present, kind, interval, packet[3], now)
            self.former = self.present
            return [{"event": "restarted", "life": number}, *self.begin(packet, now)]

    def whole_since(self, now):
        """[W7.3] Whole intervals from a time to now; 0 if the clock stood still or ran backwards."""
        return lambda at: max(0, (now - at) // (self.settings["interval_s"] * SECOND))

    def new(self, life, kind, interval, tips, now):
        """Tell a packet as new. A health report speaks neither for nor against witnesses."""
        self.is_heard(now)
        since, missed = life.believe(kind, interval, tips, now)
        if kind == HEALTH:
            return [{"event": "health"}]
        self.witness, self.witnesses = None, 0
        return [{"event": "observation", **self.rain(since), "intervals_missed": missed}]

    def begin(self, packet, now):
        """Take up a life that is under way."""
        kind, number, sequence, tips = packet
        self.witness, self.witnesses = None, 0
        self.present = Life(number, None)
        return self.new(self.present, kind, sequence, tips, now)

    def of_present(self, packet, now):
        """[W7.3]"""
        kind, _, sequence, tips = packet
        life = self.present
        interval = life.interval(sequence, self.whole_since(now))
        try:
            place = life.place(kind, interval, tips, self.bound)
        except Refused:
            seen = life.newest.get(OBSERVATION)
            if kind == OBSERVATION or seen is None or seen - interval >= WINDOW:
                raise
            life.heard[HEALTH], life.top = set(), seen  # the newest health report was a lie
            place = "new"
        if place == "new":
            return self.new(life, kind, interval, tips, now)
        if place == "late":
            return [{"event": "late", "intervals_late": life.newest[kind] - interval,
                     "tips_since": 0, "rain_um": 0}]
        return [{"event": place}]

    def of_former(self, packet, now):
        """[W7.5] A packet of the life before, overtaken by the restart."""
        kind, _, sequence, tips = packet
        life = self.former
        interval = life.interval(sequence, lambda at: 0)
        place = life.place(kind, interval, tips, self.bound)
        if place == "duplicate":
            return [{"event": place}]
        rain, behind = {"tips_since": 0, "rain_um": 0}, 0
        if place == "late":
            behind = life.newest[kind] - interval
        elif kind == OBSERVATION and self.testify(packet):  # that life goes on
            self.present, self.former = life, self.present
            life.at = now
            return self.new(life, kind, interval, tips, now)
        else:
            since, _ = life.believe(kind, interval, tips, life.at)
            if since is not None and self.settings["fit"] & RAIN_GAUGE:
                rain = self.rain(since)
        return [{"event": "late", "intervals_late": max(1, self.present.top + 1) + behind, **rain}]

    def restart(self, packet, now):
        """[W7.5] One to eight lives ahead."""
        kind, number, sequence, tips = packet
        due = self.whole_since(now)(self.present.at)
        turns = max(0, due - sequence) // TURN * TURN  # what the clock leaves room for
        life = Life(number, (-1, 0))
        life.place(kind, sequence + turns, tips, self.bound)
        self.former, self.present = self.present, life
        self.witness, self.witnesses = None, 0
        return [{"event": "restarted", "life": number}, *self.new(life, kind, sequence, tips, now)]

    def testify(self, packet):
        """[W7.5] Keep an observation in mind; whether it is the third in a row that agrees."""
        kind, number, sequence, tips = packet
        if kind != OBSERVATION or packet == self.witness:  # the same packet again is no second witness
            return False
        agrees = False
        if self.witness and self.witness[1] == number:
            n = (sequence - self.witness[2]) % TURN
            agrees = 1 <= n <= WINDOW and (tips - self.witness[3]) % TURN <= self.bound(n)
        self.witness, self.witnesses = packet, self.witnesses + 1 if agrees else 1
        return self.witnesses == 3


class Receiver:
    """All paired heads. Every method returns the events it causes, in order."""

    def __init__(self, places, is_open, silent_after=None):
        self.places, self.is_open, self.silent_after = places, is_open, silent_after
        self.heads = {}       # by head id
        self.waiting = set()  # serial numbers waited for

    def adopt(self, head_id, serial, settings):
        """Pair; whatever had this head id or serial number is forgotten."""
        self.heads = {i: head for i, head in self.heads.items() if i != head_id and head.serial != serial}
        self.heads[head_id] = Head(serial, settings)
        self.waiting.discard(serial)

    def hear(self, data, now=0):
        """Judge one packet; None stands for a frame that is none."""
        silences, told, events = self.tick(now), {}, []
        try:
            kind, head_id, sequence = header(data or b"")
            told = {"head": f"{head_id:08x}", "sequence": sequence}
            if kind != IDENTITY and head_id not in self.heads:
                raise Refused("unknown_head")
            fields = body(kind, data)
            if kind == IDENTITY:
                events = [{"event": self.pair(head_id, fields, now)}]
            else:
                events = self.heads[head_id].judge(kind, sequence, fields, now)
            events = [{**event, **told, KINDS[kind]: fields} for event in events]
        except Refused as refused:
            events = [{"event": "refused", "reason": str(refused), **refused.more, **told}]
        # [W7.6] A silence that the packet ended is told before it.
        go_on = {f"{head_id:08x}" for head_id, head in self.heads.items() if head.is_told_silent}
        return ([silence for silence in silences if silence["head"] not in go_on] + events
                + [silence for silence in silences if silence["head"] in go_on])

    def pair(self, head_id, fields, now):
        """[W7.2]"""
        serial = fields["serial"]
        settings = {name: value for name, value in fields.items() if name != "serial"}
        head = self.heads.get(head_id)
        known = {other.serial for other in self.heads.values()}
        if head and head.serial == serial:
            says_new = head.settings != settings or serial in self.waiting
            head.settings = settings
            head.is_heard(now)
            self.waiting.discard(serial)
            return "paired" if says_new else "duplicate"
        if serial not in self.waiting:
            free = self.places - len(self.heads) - len(self.waiting - known)
            if head or serial in known or not self.is_open or free <= 0:
                raise Refused("unknown_head")
        self.adopt(head_id, serial, settings)
        self.heads[head_id].is_heard(now)
        return "paired"

    def tick(self, now):
        """[W7.6] Note the time; heads that are silent."""
        events = []
        for head_id, head in self.heads.items():
            if head.heard_at is None:
                head.heard_at = now
            limit = (self.silent_after or 0) * head.settings["interval_s"] * SECOND
            if limit and not head.is_told_silent and now - head.heard_at >= limit:
                head.is_told_silent = True
                events.append({"event": "silent", "head": f"{head_id:08x}", "last_heard_us": head.heard_at})
        return events
