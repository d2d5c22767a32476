//! Packets put together from numbers, legal or not, by the tables of WIRE.md sections 2 to 5.

use benchmast_protocol::packet::{HeadId, check};

/// How a number stands in the body.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Encoding {
    /// One plain byte.
    Byte,
    /// A varint of so many bits.
    Varint(u8),
    /// A zigzag number of so many bits.
    Zigzag(u8),
}

/// One field of a body.
#[derive(Debug, Clone, Copy)]
pub struct FieldKind {
    /// Its name.
    pub name: &'static str,
    /// How it is written.
    pub encoding: Encoding,
    /// Lowest legal number.
    pub low: i64,
    /// Highest legal number.
    pub high: i64,
    /// What says that there is no reading.
    pub missing: Option<i64>,
    /// An ordinary number.
    pub typical: i64,
}

const fn field(
    name: &'static str,
    encoding: Encoding,
    (low, high): (i64, i64),
    missing: Option<i64>,
    typical: i64,
) -> FieldKind {
    FieldKind {
        name,
        encoding,
        low,
        high,
        missing,
        typical,
    }
}

use Encoding::{Byte, Varint, Zigzag};

/// W3.1.
pub const OBSERVATION: [FieldKind; 10] = [
    field("status", Byte, (0, 127), None, 3),
    field(
        "air_temperature",
        Zigzag(16),
        (-8000, 6000),
        Some(-8192),
        2153,
    ),
    field("relative_humidity", Varint(16), (0, 1000), Some(16383), 472),
    field(
        "air_pressure",
        Varint(16),
        (3000, 11000),
        Some(16383),
        10132,
    ),
    field("wind_speed", Varint(16), (0, 1200), Some(16383), 34),
    field("wind_speed_of_gust", Varint(16), (0, 1200), Some(16383), 61),
    field(
        "wind_from_direction",
        Varint(16),
        (0, 359),
        Some(16383),
        247,
    ),
    field("tips", Varint(16), (0, 65535), None, 1234),
    field(
        "illuminance_lx",
        Varint(32),
        (0, 200_000),
        Some(2_097_151),
        48210,
    ),
    field("ultraviolet_index", Byte, (0, 250), Some(255), 43),
];
/// Where the status stands in [`OBSERVATION`].
pub const STATUS: usize = 0;
/// Where the mean wind stands.
pub const WIND: usize = 4;
/// Where the gust stands.
pub const GUST: usize = 5;
/// Where the tip counter stands.
pub const TIPS: usize = 7;

/// W4.1.
pub const HEALTH: [FieldKind; 7] = [
    field("restarts", Varint(16), (0, 65535), None, 3),
    field("cause", Byte, (0, 255), None, 1),
    field("uptime_s", Varint(32), (0, 4_294_967_295), None, 65536),
    field("supply_mv", Varint(16), (0, 6000), Some(16383), 3300),
    field("store_mv", Varint(16), (0, 6000), Some(16383), 2450),
    field("cells_mv", Varint(16), (0, 6000), Some(16383), 3012),
    field("firmware", Varint(16), (0, 65535), None, 107),
];

/// W5.1.
pub const IDENTITY: [FieldKind; 5] = [
    field(
        "serial",
        Varint(64),
        (0, 9_999_999_999),
        None,
        super::SERIAL as i64,
    ),
    field("hardware", Varint(16), (0, 65535), None, 2),
    field("fit", Varint(16), (0, 255), None, 255),
    field("interval_s", Varint(16), (1, 3600), None, 16),
    field("bucket_um", Varint(16), (10, 5000), None, 300),
];

/// The fields of a kind of packet.
#[must_use]
pub const fn fields(kind: u8) -> &'static [FieldKind] {
    match kind {
        1 => &OBSERVATION,
        2 => &HEALTH,
        _ => &IDENTITY,
    }
}

/// Ordinary numbers of a kind of packet.
#[must_use]
pub fn typical(kind: u8) -> Vec<i64> {
    fields(kind).iter().map(|field| field.typical).collect()
}

/// W2.2.
#[must_use]
pub fn varint(mut number: u64) -> Vec<u8> {
    let mut bytes = Vec::new();
    while number > 0x7F {
        bytes.push(number as u8 & 0x7F | 0x80);
        number >>= 7;
    }
    bytes.push(number as u8);
    bytes
}

/// A number as its field has it, without a look at what is legal.
#[must_use]
pub fn encoded(encoding: Encoding, number: i64) -> Vec<u8> {
    match encoding {
        Byte => vec![number as u8],
        Varint(_) => varint(number.cast_unsigned()),
        Zigzag(_) if number >= 0 => varint(2 * number.unsigned_abs()),
        Zigzag(_) => varint(2 * number.unsigned_abs() - 1),
    }
}

/// W1.4: bytes and their check.
#[must_use]
pub fn sealed(covered: &[u8]) -> Vec<u8> {
    [covered, &check(covered).to_be_bytes()].concat()
}

/// A packet of the given first byte and body pieces, with a right check.
#[must_use]
pub fn packet_of(first: u8, head: HeadId, sequence: u16, body: &[Vec<u8>]) -> Vec<u8> {
    let mut bytes = vec![first];
    bytes.extend_from_slice(&head.0.to_le_bytes());
    bytes.extend_from_slice(&sequence.to_le_bytes());
    bytes.extend(body.concat());
    sealed(&bytes)
}

/// The body of a kind of packet in pieces, one a field.
#[must_use]
pub fn pieces(kind: u8, numbers: &[i64]) -> Vec<Vec<u8>> {
    fields(kind)
        .iter()
        .zip(numbers)
        .map(|(field, number)| encoded(field.encoding, *number))
        .collect()
}

/// A packet of these numbers.
#[must_use]
pub fn packet(kind: u8, head: HeadId, sequence: u16, numbers: &[i64]) -> Vec<u8> {
    packet_of(0x10 | kind, head, sequence, &pieces(kind, numbers))
}

/// An observation of these numbers.
#[must_use]
pub fn observation_bytes(numbers: [i64; 10], head: HeadId, sequence: u16) -> Vec<u8> {
    packet(1, head, sequence, &numbers)
}
