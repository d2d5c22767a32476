"""Write the table of WIRE.md W1.4's check for the decoder written by hand: check_table.py > check_table.c"""
import pathlib
import sys

sys.path.insert(0, str(pathlib.Path(__file__).parent.parent.parent / "outside"))
from decoder_packet import check  # noqa: E402

# Of one byte, without what the register began with: 0xFFFF is the same as those two bytes before all others.
table = [check(bytes([byte])) ^ check(b"\0") for byte in range(256)]
print("#include <stdint.h>\nextern const uint16_t check_table[256];\nconst uint16_t check_table[256] = {")
print(",\n".join("    " + ", ".join(f"0x{value:04X}" for value in table[row:row + 12]) for row in range(0, 256, 12)))
print("};")
