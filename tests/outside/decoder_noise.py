"""Write a capture of packets with right checks that make little sense together: lives, sequences and counters
jump, packets come again and late, the clock leaps. For two receivers to be held against each other.

decoder_noise.py SEED COUNT > CAPTURE
decoder_noise.py SEED --tear < STREAM > STREAM    the same stream with bytes lost and others added
"""
import json
import random
import sys

from decoder_packet import FIELDS, HEALTH, IDENTITY, OBSERVATION, check

HEADS = {0x1A2B3C4D: 1203004501, 0x0BADC0DE: 77}
INTERVAL_US = 16_000_000


def varint(value):
    out = bytearray()
    while value > 0x7F:
        out.append(value & 0x7F | 0x80)
        value >>= 7
    return bytes(out) + bytes([value])


def packet(kind, head, sequence, numbers):
    data = bytes([0x10 | kind]) + head.to_bytes(4, "little") + (sequence % 65536).to_bytes(2, "little")
    for (_, encoding, *_), value in zip(FIELDS[kind], numbers):
        if encoding.startswith("zigzag"):
            value = 2 * value if value >= 0 else -2 * value - 1
        data += bytes([value]) if encoding == "byte" else varint(value)
    return data + check(data).to_bytes(2, "big")


def any_legal(draw, kind):
    return [missing if missing is not None and draw.random() < 0.05 else draw.randint(low, high)
            for _, _, _, low, high, missing in FIELDS[kind]]


class Sender:
    """A head that lies now and then."""

    def __init__(self, draw, head):
        self.draw, self.head = draw, head
        self.settings = [2, 255, 16, 300]
        self.life, self.sequence, self.tips = draw.randrange(16), draw.randrange(1000), draw.randrange(100)
        self.past = []

    def identity(self):
        return packet(IDENTITY, self.head, self.sequence, [HEADS[self.head], *self.settings])

    def next(self):
        draw = self.draw
        move = draw.random()
        if move < 0.12 and self.past:                    # an old packet again
            return draw.choice(self.past[-draw.choice((2, 5, 100)):])
        life, sequence, tips = self.life, self.sequence, self.tips
        if move < 0.17:                                  # late, perhaps too late
            sequence -= draw.choice((1, 2, 5, 20, 63, 64, 65, 200))
            tips -= draw.choice((0, 0, 1, 40))
        elif move < 0.22:                                # a lie that is not repeated
            sequence += draw.choice((0, 1, 30, 64, 65, 3000, 32767, 32768, 40000))
            tips += draw.choice((0, 1, 30, 31, 300, -1))
            life += draw.choice((0, 0, 1, 2, 8, 9, 15))
        elif move < 0.23:
            self.settings = [draw.choice(choices) for choices in ((1, 2), (255, 255, 255, 247), (16, 8), (300, 200))]
            return self.identity()
        elif move < 0.26:                                # a restart, or several, or a life taken up again
            self.life += draw.choice((1, 1, 1, 2, 7, 8, 9, 15))
            self.sequence, self.tips = draw.choice(((0, 0), (1, 0), (5, 3), (40, 2), (sequence, tips), (9, 300)))
            life, sequence, tips = self.life, self.sequence, self.tips
        elif move < 0.27:                                # a leap
            self.sequence += draw.choice((64, 100, 30000, 32768, 50000))
            self.tips += draw.choice((0, 5, 500, -20))
            sequence, tips = self.sequence, self.tips
        else:
            self.sequence += draw.choice((1, 1, 1, 1, 2, 3, 10))
            self.tips += draw.choice((0, 0, 1, 1, 5))
            sequence, tips = self.sequence, self.tips
        if draw.random() < 0.12:
            numbers = any_legal(draw, HEALTH)
            numbers[0] = 16 * draw.randrange(4000) + life % 16
            data = packet(HEALTH, self.head, sequence, numbers)
        else:
            numbers = any_legal(draw, OBSERVATION)
            numbers[0], numbers[7] = life % 16 + 16 * draw.randrange(8), tips % 65536
            if numbers[5] < numbers[4] != 16383:
                numbers[5] = numbers[4]
            data = packet(OBSERVATION, self.head, sequence, numbers)
        self.past.append(data)
        return data


def main(seed, count):
    draw = random.Random(seed)
    senders = [Sender(draw, head) for head in HEADS]
    print(json.dumps({"format": "benchmast-capture", "version": 1, "title": "noise", "seed": seed, "heads": [
        {"serial": f"{serial:010d}", "head": f"{head:08x}", "interval_s": 16, "bucket_um": 300}
        for head, serial in HEADS.items()]}))
    now = 1_700_000_000_000_000
    for turn in range(count):
        sender = draw.choice(senders) if draw.random() < 0.3 else senders[0]
        data = senders[turn].identity() if turn < len(senders) else sender.next()
        if draw.random() < 0.03:                         # a body that is longer, shorter or otherwise than it says
            inner = bytearray(data[:-2])
            inner[draw.randrange(len(inner))] = draw.randrange(256)
            inner = inner[:draw.choice((len(inner), len(inner), len(inner) - 1))] + bytes(draw.choice((0, 0, 0, 1)))
            data = bytes(inner) + check(inner).to_bytes(2, "big")
        if draw.random() < 0.01:
            data = data[:-1]
        now += draw.choice((0, INTERVAL_US // 2, INTERVAL_US, INTERVAL_US + 1)) if draw.random() < 0.99 else (
            INTERVAL_US * draw.choice((19, 20, 64, 1000, 32768, 65535, 70000, 200000)))
        print(json.dumps({"t_us": now, "event": "heard", "signal_dbm": -90.0, "hex": data.hex()}))


def tear(seed, data):
    draw = random.Random(seed)
    out, at = bytearray(), 0
    while at < len(data):
        step = draw.randrange(1, 400)
        out += data[at:at + step]
        at += step + draw.choice((0, 0, 1, 2, 40))       # bytes lost
        out += draw.choice((b"", b"\0", b"\1\0", b"\xff", draw.randbytes(draw.randrange(80))))
    return bytes(out)


if __name__ == "__main__":
    if sys.argv[2] == "--tear":
        sys.stdout.buffer.write(tear(int(sys.argv[1]), sys.stdin.buffer.read()))
    else:
        main(int(sys.argv[1]), int(sys.argv[2]))
