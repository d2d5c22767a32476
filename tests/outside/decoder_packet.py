"""Sections 1 to 6 of protocol/WIRE.md: packets, numbers, fields, the byte stream."""

OBSERVATION, HEALTH, IDENTITY = 1, 2, 3

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

    def __init__(self, reason, **more):
        super().__init__(reason)
        self.more = more


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
        raise Refused("unknown_version", version=data[0] >> 4)
    if data[0] & 7 not in FIELDS:  # [W1.2]
        raise Refused("malformed")
    return data[0] & 7, int.from_bytes(data[1:5], "little"), int.from_bytes(data[5:7], "little")


def body(kind, data):
    """The fields of a packet, None for a missing value."""
    if data[0] & 8:  # [W1.2]; section 10 is optional, and not known here
        raise Refused("malformed")
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
