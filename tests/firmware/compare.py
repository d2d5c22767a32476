"""Hold what a receiver on the microcontroller told against the record of `run`, or against `listen --json`.

compare.py run TOLD FOLDER           every row of the record in its order, and nothing else
compare.py within TOLD FOLDER        no reading but those of the record (bytes of the stream were lost or added)
compare.py listen TOLD JSON          event by event
"""
import collections
import csv
import json
import pathlib
import sys

sys.path.insert(0, str(pathlib.Path(__file__).parent.parent / "outside"))
from decoder_compare import of_listen  # noqa: E402
from decoder_packet import FIELDS, KINDS  # noqa: E402

CODES = {name: code for code, name in KINDS.items()}


def decimal(raw, decimals):
    return f"{raw / 10 ** decimals:.{decimals}f}"


def told(path):
    """Events, with the numbers of the wire by name as the decimal strings of WIRE.md's units."""
    events = []
    for line in pathlib.Path(path).read_text().splitlines():
        event = json.loads(line)
        if event.get("version") == 15:                    # the mark that this was all
            return events
        if "frame" in event:
            kind = event.pop("frame")
            fields = FIELDS[CODES[kind]]
            raw = event.pop("raw")
            assert len(raw) == len(fields), event
            event[kind] = {name: None if value == missing else decimal(value, decimals)
                           for (name, _, decimals, _, _, missing), value in zip(fields, raw)}
        if event["event"] == "paired":                    # said twice: as EXAMINATION.md has it, and as the packet has it
            for name in ("serial", "interval_s", "bucket_um"):
                assert str(event.pop(name)) == event["identity"][name], event
        events.append(event)
    sys.exit(f"{path} has no end")


def with_listen(here, path):
    there = [of_listen(json.loads(line)) for line in pathlib.Path(path).read_text().splitlines()]
    for number, (mine, theirs) in enumerate(zip(here, there)):
        if mine != theirs:
            sys.exit(f"event {number}:\n  firmware {mine}\n  listen   {theirs}")
    if len(here) != len(there):
        sys.exit(f"{len(here)} events of the firmware, {len(there)} of listen")
    kinds = collections.Counter(event["event"] for event in here)
    return f"{len(here)} events (" + ", ".join(f"{count} {kind}" for kind, count in sorted(kinds.items())) + ")"


def observation_row(event):
    o = event["observation"]
    status = int(o["status"])
    is_late = event["event"] == "late"
    rain = event["rain_um"]
    row = {name: o[name] or "" for name, *_ in FIELDS[CODES["observation"]] if name != "status"}
    row |= {"head_id": str(int(event["head"], 16)), "sequence": str(event["sequence"]), "life": str(status & 15),
            "thickness_of_rainfall_amount": "" if rain is None else f"{rain / 1000:.1f}",
            "intervals_missed": "0" if is_late else str(event["intervals_missed"]),
            "intervals_late": str(event["intervals_late"]) if is_late else "0"}
    return row | {name: str(status >> bit & 1) for bit, name in ((4, "on_cells"), (5, "store_low"), (6, "cells_low"))}


def health_row(event):
    h = {name: value or "" for name, value in event["health"].items()}
    h["restart_cause"] = h.pop("cause")
    return h | {"head_id": str(int(event["head"], 16)), "sequence": str(event["sequence"])}


def believed(events, kind, row):
    return [row(event) for event in events if event["event"] in (kind, "late") and kind in event]


def record(path):
    """Rows without what a receiver cannot know of itself: the computer's time and the signal."""
    with open(path, encoding="utf-8") as lines:
        return [{name: value for name, value in row.items() if name not in ("time", "signal_dbm")}
                for row in csv.DictReader(lines)]


def with_run(here, folder):
    counts = []
    for name, kind, row in (("observed.csv", "observation", observation_row), ("observed_health.csv", "health", health_row)):
        mine, theirs = believed(here, kind, row), record(pathlib.Path(folder) / name)
        for number, (one, other) in enumerate(zip(mine, theirs)):
            if one != other:
                sys.exit(f"{name}, row {number}:\n  firmware {one}\n  run      {other}")
        if len(mine) != len(theirs):
            sys.exit(f"{name}: {len(mine)} believed by the firmware, {len(theirs)} by run")
        counts.append(f"{len(mine)} {'health reports' if kind == 'health' else 'observations'}")
    restarts = sum(event["event"] == "restarted" for event in here)
    rain_um = sum(event["rain_um"] or 0 for event in here if "rain_um" in event)
    return f"{' and '.join(counts)}, {restarts} restarts, {rain_um / 1000:.1f} mm of rain, all as recorded, none wrong"


def within_run(here, folder):
    # How many were missed before one, and the rain since, depend on which were lost.
    apart = ("thickness_of_rainfall_amount", "intervals_missed", "intervals_late")
    key = lambda row: tuple(sorted((name, value) for name, value in row.items() if name not in apart))
    known = {key(row) for row in record(pathlib.Path(folder) / "observed.csv")}
    mine = [key(row) for row in believed(here, "observation", observation_row)]
    wrong = [row for row in mine if row not in known]
    if wrong or len(set(mine)) != len(mine):
        sys.exit(f"believed what was not recorded, or twice: {wrong[:3]}")
    return f"{len(mine)} of {len(known)} observations, none wrong"


if __name__ == "__main__":
    what, mine, other = sys.argv[1:]
    print({"run": with_run, "within": within_run, "listen": with_listen}[what](told(mine), other))
