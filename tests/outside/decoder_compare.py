"""Hold what the second decoder says against what `benchmast listen --json` says, event by event."""
import collections
import json
import sys

STATUS = {"on_cells": 16, "store_low": 32, "cells_low": 64}  # [W3.4]


def of_listen(event):
    """An event of `listen`, in the decoder's words."""
    event = {name: value for name, value in event.items() if name not in ("t_us", "signal_dbm")}
    if event["event"] == "refused":
        words = event.pop("reason").split()
        if words[:2] == ["unknown", "head"]:
            event["head"] = words.pop()
        elif words[:2] == ["unknown", "version"]:
            event["version"] = int(words.pop())
        event["reason"] = "_".join(words)
    if "readings" in event:
        readings = event.pop("readings")
        status = readings.pop("life") + sum(bit for name, bit in STATUS.items() if readings.pop(name))
        event["observation"] = {**readings, "status": status}
    for kind in ("observation", "health", "identity"):
        if kind in event:
            event[kind] = {name: value if value is None else str(value) for name, value in event[kind].items()}
    return event


def of_decoder(event, theirs):
    """What both tell: a refused, a duplicate or a restarting packet's fields, for one, only the decoder tells."""
    return {name: value for name, value in event.items() if name in theirs or name in (
        "event", "reason", "version", "life", "tips_since", "rain_um", "intervals_missed", "intervals_late")}


def main(decoder, listen):
    with open(decoder, encoding="utf-8") as lines:
        here = [json.loads(line) for line in lines]
    with open(listen, encoding="utf-8") as lines:
        there = [of_listen(json.loads(line)) for line in lines]
    wrong = sum(1 for mine, theirs in zip(here, there) if of_decoder(mine, theirs) != theirs)
    shown = 0
    for number, (mine, theirs) in enumerate(zip(here, there)):
        if of_decoder(mine, theirs) != theirs and shown < 5:
            shown += 1
            print(f"event {number}:\n  decoder {mine}\n  listen  {theirs}", file=sys.stderr)
    if wrong or len(here) != len(there):
        sys.exit(f"{wrong} events differ; {len(here)} of the decoder, {len(there)} of listen")
    kinds = collections.Counter(event["event"] for event in here)
    print(f"{len(here)} events (" + ", ".join(f"{count} {kind}" for kind, count in sorted(kinds.items())) + ")")


if __name__ == "__main__":
    main(*sys.argv[1:])
