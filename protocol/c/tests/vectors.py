"""Write the vectors of the wire format as tables in C: vectors.py DIRECTORY > vectors.h

What it does not know it does not leave out: a new kind of step or event ends it with an error.
"""
import json
import pathlib
import sys

STATUS = {"damaged": "DAMAGED", "unknown_version": "UNKNOWN_VERSION", "malformed": "MALFORMED",
          "implausible": "IMPLAUSIBLE"}
FIELDS = {"supply_mv", "store_mv", "cells_mv", "firmware", "cause", "uptime_s", "restarts", "serial", "hardware", "fit",
          "interval_s", "bucket_um", "status", "air_temperature", "relative_humidity", "air_pressure", "wind_speed",
          "wind_speed_of_gust", "wind_from_direction", "tips", "illuminance_lx", "ultraviolet_index"}
EVENT = {"event", "head", "sequence", "tips_since", "rain_um", "intervals_missed", "intervals_late", "life",
         "last_heard_us", "reason", "version", "serial", "interval_s", "bucket_um"}
DIALOGUE = {"id", "clauses", "comment", "silent_after", "adopted", "steps", "tips", "keys"}
STEP = {"at_us", "says", "hex", "expect", "open", "events"}
ADOPTED = {"head", "serial", "hardware", "fit", "interval_s", "bucket_um"}


def known(thing, names):
    if unknown := set(thing) - names:
        sys.exit(f"the test in C does not know {sorted(unknown)} in {thing}")
    return thing


def bytes_of(text):
    """A byte string and its length, as two initialisers; C99 allows no empty array."""
    data = bytes.fromhex(text)
    # In octal, always of three digits: a hexadecimal escape would swallow the digits after it.
    return '(const uint8_t *)"' + "".join(f"\\{byte:03o}" for byte in data) + f'", {len(data)}'


def number(value):
    return f"{value}{'ULL' if value > 0x7FFFFFFF else ''}"


def members(pairs):
    return "{ " + ", ".join(f".{name} = {value}" for name, value in pairs) + " }"


def load(folder, name):
    file = json.loads((folder / name).read_text())
    assert file["wire_format"] == 1
    return file["vectors"]


def packets(folder):
    print("static const struct packet_vector packet_vectors[] = {")
    for vector in load(folder, "packets_accepted.json"):
        fields = {field["name"]: field["raw"] for field in vector["fields"]}
        known(fields, FIELDS)
        kind = vector["kind"]
        inner = members((name, number(raw)) for name, raw in fields.items())
        packet = members([("head", "0x" + vector["head"] + "U"), ("sequence", vector["sequence"]),
                          ("frame", "BENCHMAST_FRAME_" + kind.upper()), (kind, inner)])
        print(f'  {{ "{vector["id"]}", {bytes_of(vector["hex"])}, BENCHMAST_STATUS_OK, {packet} }},')
    for vector in load(folder, "packets_refused.json"):
        status = "BENCHMAST_STATUS_" + STATUS[vector["refusal"]]
        print(f'  {{ "{vector["id"]}", {bytes_of(vector["hex"])}, {status}, {{ .head = 0 }} }},')
    for vector in load(folder, "packets_tagged.json"):
        # Without a receiver nobody knows its key.
        print(f'  {{ "{vector["id"]}", {bytes_of(vector["hex"])}, BENCHMAST_STATUS_MALFORMED, {{ .head = 0 }} }},')
    print("};")


def streams(folder):
    rows = []
    for count, vector in enumerate(load(folder, "streams.json")):
        name = "0"
        if vector["yields"]:
            name = f"yields_{count}"
            print(f"static const struct bytes {name}[] = {{")
            for piece in vector["yields"]:
                # What is damaged on the stream is told like a packet of no bytes.
                print(f'  {{ {bytes_of("" if piece == "damaged" else piece)} }},')
            print("};")
        rows.append(f'  {{ "{vector["id"]}", {{ {bytes_of(vector["hex"])} }}, {name}, {len(vector["yields"])}, '
                    f'{int(vector["unfinished"])} }},')
    print("static const struct stream_vector stream_vectors[] = {", *rows, "};", sep="\n")


def event(told):
    known(told, EVENT)
    pairs = [("tells", "BENCHMAST_TELLS_" + told["event"].upper())]
    if "head" in told:
        pairs.append(("head", "0x" + told["head"] + "U"))
    if "reason" in told:
        pairs.append(("why", "BENCHMAST_WHY_" + told["reason"].upper()))
    if told.get("tips_since") is not None:
        pairs.append(("rain_known", 1))
    for name in ("sequence", "tips_since", "rain_um", "intervals_missed", "intervals_late", "life", "version",
                 "last_heard_us"):
        if told.get(name) is not None:
            pairs.append((name, number(told[name])))
    identity = [(name, number(told[name])) for name in ("serial", "interval_s", "bucket_um") if name in told]
    if identity:
        pairs.append(("identity", members(identity)))
    return members(pairs)


def step(told, events):
    known(told, STEP)
    acts = [name for name in ("hex", "expect", "open") if name in told]
    if len(acts) > 1 or acts == ["open"] and not isinstance(told["open"], bool):
        sys.exit(f"the test in C does not know this step: {told}")
    act = {"hex": "PACKET", "expect": "EXPECT", "open": "OPEN"}[acts[0]] if acts else "TIME"
    value = number(int(told[acts[0]])) if acts and acts[0] != "hex" else "0"
    packet = bytes_of(told.get("hex", ""))
    return f'{{ {act}, {number(told["at_us"])}, {value}, {{ {packet} }}, {events}, {len(told["events"])} }}'


def dialogues(folder):
    rows = []
    for count, vector in enumerate(load(folder, "dialogues.json") + load(folder, "dialogues_tagged.json")):
        known(vector, DIALOGUE)
        steps = []
        for place, told in enumerate(vector["steps"]):
            name = "0"
            if told["events"]:
                name = f"events_{count}_{place}"
                rows_of_events = ",\n  ".join(event(each) for each in told["events"])
                print(f"static const benchmast_event {name}[] = {{\n  {rows_of_events}\n}};")
            steps.append("  " + step(told, name))
        print(f"static const struct step steps_{count}[] = {{\n" + ",\n".join(steps) + "\n};")
        adopted = "0"
        if vector["adopted"]:
            adopted = f"adopted_{count}"
            print(f"static const struct adopted {adopted}[] = {{")
            for head in vector["adopted"]:
                known(head, ADOPTED)
                settings = members((name, number(value)) for name, value in head.items() if name != "head")
                print(f'  {{ 0x{head["head"]}U, {settings} }},')
            print("};")
        keys = "0"
        if vector.get("keys"):
            keys = f"keys_{count}"
            print(f"static const struct keyed {keys}[] = {{")
            for keyed in vector["keys"]:
                known(keyed, {"serial", "key", "heard"})
                heard = keyed["heard"]
                key = ", ".join(f"0x{byte:02x}" for byte in bytes.fromhex(keyed["key"]))
                print(f'  {{ {number(keyed["serial"])}, {{ {key} }}, {int(heard is not None)}, {number(heard or 0)} }},')
            print("};")
        tips = "0"
        if vector["tips"]:
            tips = f"tips_{count}"
            print(f"static const struct tips {tips}[] = {{")
            for total in vector["tips"]:
                known(total, {"head", "tips"})
                print(f'  {{ 0x{total["head"]}U, {number(total["tips"])} }},')
            print("};")
        rows.append(f'  {{ "{vector["id"]}", {vector["silent_after"]}, {adopted}, {len(vector["adopted"])}, '
                    f'steps_{count}, {len(steps)}, {tips}, {len(vector["tips"])}, '
                    f'{keys}, {len(vector.get("keys", []))} }},')
    print("static const struct dialogue dialogues[] = {", *rows, "};", sep="\n")


def main(folder):
    print("/* Written from protocol/vectors; included by test.c. */")
    packets(folder)
    streams(folder)
    dialogues(folder)


main(pathlib.Path(sys.argv[1]))
