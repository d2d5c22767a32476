"""The table of what each receiver takes: table.py DIRECTORY, which holds the images and what the yardsticks told.

Flash: code, constants and the stored image of initialised data of the image `core`, which does nothing else than receive, without the
table of interrupts (its length is the start-up code's choice). Static memory and stack: the yardstick's own words and its painted
stack. Instructions: ticks of the system timer, in an emulator that lets the same time pass for every instruction, as
many as a thousand NOPs say, averaged over the day's packets; `deframe` and `check, parse` over those with a right check.
"""
import pathlib
import subprocess
import sys

ROADS = (("rust", "protocol crate, Rust"), ("c", "C interface"), ("hand_small", "by hand, C, -Os"), ("hand_fast", "by hand, C, -O2"))


def flash(image):
    listing = subprocess.run(["arm-none-eabi-size", "-A", image], check=True, capture_output=True, text=True).stdout
    sections = {row[0]: int(row[1]) for row in map(str.split, listing.splitlines()) if len(row) == 3 and row[1].isdigit()}
    # The tables in C stand at the head of .text: 16 words.
    vectors = 0 if ".vector_table" in sections else 64
    return sum(sections.get(name, 0) for name in (".text", ".rodata", ".data", ".ARM.exidx")) - vectors


def measured(path):
    numbers = {name: int(value) for name, value in map(str.split, path.read_text().splitlines())}
    per_tick = 1000 / numbers["thousand"]
    # The readings of the timer themselves stay below one in a hundred of a thousand.
    assert 0.2 < per_tick < 0.4, numbers
    return {
        "memory": numbers["memory"], "stack": numbers["stack"], "believed": numbers["believed"],
        "deframe": numbers["deframe"] * per_tick / numbers["sound"], "parse": numbers["parse"] * per_tick / numbers["sound"],
        "road": numbers["road"] * per_tick / numbers["frames"]}


def main(folder):
    folder = pathlib.Path(folder)
    rows = {road: measured(folder / f"{road}.measured") for road, _ in ROADS}
    print("| receiver, one head | flash, B | static, B | stack, B | deframe | check, parse | both | all the way | believed |")
    print("|---|---|---|---|---|---|---|---|---|")
    for road, name in ROADS:
        row = rows[road]
        # The C interface gives no frame without judging it.
        parts = (["", f"{row['parse']:.0f}", ""] if road == "c" else
                 [f"{row['deframe']:.0f}", f"{row['parse']:.0f}", f"{row['deframe'] + row['parse']:.0f}"])
        print("|", " | ".join([name, str(flash(folder / "images" / f"{road}_core")), str(row["memory"]), str(row["stack"]),
                               *parts, f"{row['road']:.0f}", str(row["believed"])]), "|")
    ours, fastest = (rows[road]["deframe"] + rows[road]["parse"] for road in ("rust", "hand_fast"))
    print(f"instructions a packet, deframe, check and parse: {ours / fastest:.2f} times those of the decoder by hand")


if __name__ == "__main__":
    main(sys.argv[1])
