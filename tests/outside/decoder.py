#!/usr/bin/env python3
"""A second decoder and receiver of wire format 1, written from protocol/WIRE.md before the Rust code was read.
Where the two differed, the text was made clearer or the Rust code mended.

    decoder.py < STREAM              a byte stream. It has no clock, so that stands still, which section 7
                                     allows. Any head that tells its identity is paired
    decoder.py --capture < CAPTURE   packets with their times. Only the capture's own heads are paired
    decoder.py --vectors DIR         judge the worked examples instead, and fail when one disagrees

The first two print one JSON object per event.
"""
import json
import pathlib
import sys

from decoder_packet import FIELDS, KINDS, Refused, decimal, decode, frames
from decoder_receiver import Receiver

PLACES = 4  # for heads, as the dialogues have it
# What a vector says besides what a decoder must find.
ASIDE = {"id", "clauses", "comment", "says", "unit", "hex", "at_us", "adopted", "expect", "open", "silent_after",
         "unfinished", "sent", "verdict"}


def values(kind, numbers):
    """Fields by name as decimal strings, None for missing."""
    return {name: decimal(numbers[name], decimals) for name, _, decimals, *_ in FIELDS[kind]}


def say(events):
    for event in events:
        for kind, name in KINDS.items():
            if name in event:
                event[name] = values(kind, event[name])
        if "identity" in event:
            event["identity"]["serial"] = event["identity"]["serial"].rjust(10, "0")  # [W5.2]
        print(json.dumps(event))


def listen_to_stream(source):
    receiver = Receiver(PLACES, is_open=True)
    for packet in frames(iter(lambda: source.read1(65536), b"")):
        say(receiver.hear(packet))


def listen_to_capture(lines):
    """What was heard, with its times; the heads of the first line are waited for."""
    first = json.loads(next(lines))
    receiver, began = Receiver(PLACES, is_open=False, silent_after=20), None
    receiver.waiting = {int(head["serial"]) for head in first["heads"]}
    for line in map(json.loads, lines):
        if line["event"] == "heard":
            began = line["t_us"] if began is None else began
            say(receiver.hear(bytes.fromhex(line["hex"]), line["t_us"] - began))


# --- The worked examples: each function says what it found, in the words of the vector -----------------------

def accepted(vector):
    kind, head, sequence, numbers = decode(bytes.fromhex(vector["hex"]))
    missing = {name: number for name, *_, number in FIELDS[kind]}
    fields = [{"name": name, "raw": missing[name] if numbers[name] is None else numbers[name], "value": value}
              for name, value in values(kind, numbers).items()]
    return {"kind": KINDS[kind], "head": f"{head:08x}", "sequence": sequence, "fields": fields}


def refused(vector):
    try:
        decode(bytes.fromhex(vector["hex"]))
    except Refused as reason:
        return {"refusal": str(reason)}
    return {"refusal": "none"}


def deframed(vector):
    data = bytes.fromhex(vector["hex"])
    whole, bytewise = (["damaged" if packet is None else packet.hex() for packet in frames(chunks)]
                       for chunks in ([data], [data[at:at + 1] for at in range(len(data))]))
    return {"yields": whole if whole == bytewise else "depends on how the stream is cut"}


def dialogue(vector):
    receiver = Receiver(PLACES, is_open=False, silent_after=vector["silent_after"])
    for head in vector["adopted"]:
        settings = {name: head[name] for name in ("hardware", "fit", "interval_s", "bucket_um")}
        receiver.adopt(int(head["head"], 16), head["serial"], settings)
    steps = []
    for step in vector["steps"]:
        if "expect" in step:
            receiver.waiting.add(step["expect"])
        receiver.is_open |= "open" in step
        now = step["at_us"]
        events = receiver.hear(bytes.fromhex(step["hex"]), now) if "hex" in step else receiver.tick(now)
        steps.append({"events": [{**event, **event.get("identity", {})} for event in events]})
    tips = [{"head": head["head"], "tips": receiver.heads[int(head["head"], 16)].tips_told} for head in vector["tips"]]
    return {"steps": steps, "tips": tips}


def agrees(here, there):
    """Whether everything the vector states was found."""
    if isinstance(there, dict):
        return all(key in here and agrees(here[key], there[key]) for key in there.keys() - ASIDE)
    if isinstance(there, list):
        return len(here) == len(there) and all(map(agrees, here, there))
    return here == there


def judge_vectors(folder):
    counts, failed = [], 0
    for name, judge in (("packets_accepted", accepted), ("packets_refused", refused),
                        ("streams", deframed), ("dialogues", dialogue)):
        vectors = json.loads((folder / f"{name}.json").read_text(encoding="utf-8"))["vectors"]
        good = 0
        for vector in vectors:
            here = judge(vector)
            if agrees(here, vector):
                good += 1
                continue
            print(f"{name}, {vector['id']}:\n  here   {json.dumps(here)}\n  vector {json.dumps(vector)}",
                  file=sys.stderr)
        counts.append(f"{good} of {len(vectors)} {name}")
        failed += len(vectors) - good
    print("vectors that agree: " + ", ".join(counts))
    return failed


if __name__ == "__main__":
    match sys.argv[1:]:
        case []:
            listen_to_stream(sys.stdin.buffer)
        case ["--capture"]:
            listen_to_capture(sys.stdin)
        case ["--vectors", folder]:
            sys.exit(1 if judge_vectors(pathlib.Path(folder)) else 0)
        case _:
            sys.exit("usage: decoder.py [--capture | --vectors DIR]")
