//! A packet: header, body, check. What the radio carries, and what a datagram port carries whole.
//!
//! | offset | size | field |
//! |---|---|---|
//! | 0 | 1 | bits 7..4 format version, bit 3 authenticated (WIRE.md section 10; else 0), bits 2..0 kind |
//! | 1 | 4 | head id, little-endian |
//! | 5 | 2 | sequence, little-endian: reporting intervals since the head started, modulo 65536 |
//! | 7 | n | body: the frame in postcard's encoding |
//! | 7+n | 2 | check over all bytes before it, big-endian |

use crate::frame::{Frame, Health, Identity, Kind, Observation};
use crate::numbers::Numbers;
use crc::{Algorithm, CRC_16_M17, Crc, Table};

/// Format version this crate speaks.
pub const VERSION: u8 = 1;
/// Bytes before the body.
pub const HEADER_LEN: usize = 7;
/// Bytes of the check.
pub const CHECK_LEN: usize = 2;
/// The bit of the first byte that says that the packet is authenticated: counter and tag follow the body.
pub const TAGGED: u8 = 1 << 3;
/// Longest packet of this version: observation 29, health 27, identity 23 bytes at most, 12 more where it is
/// authenticated; the rest is room for later versions.
pub const MAX_PACKET: usize = 48;

/// CRC-16/M17 of the public catalogue of parametrised CRC algorithms. Its polynomial 0x5935 finds every
/// combination of up to four bit errors in up to 241 bits, check excluded, which no other 16-bit
/// polynomial in common use does at the length of an observation packet; a test proves it.
const CHECK: Algorithm<u16> = CRC_16_M17;

/// The same without its first value: zeros before a message then change nothing.
#[cfg(not(target_os = "none"))]
static BARE: Crc<u16, Table<16>> = Crc::<u16, Table<16>>::new(&Algorithm { init: 0, ..CHECK });

/// The check of some bytes.
///
/// Where an operating system is, 8 KiB of tables take sixteen bytes at once; a packet is filled up to a multiple of
/// that from the front, since bytes left over would go one by one and take longer than all others. The first
/// value of a check that is not reflected works as if it stood in the first bytes.
#[cfg(not(target_os = "none"))]
#[must_use]
pub fn check(bytes: &[u8]) -> u16 {
    let mut room = [0; MAX_PACKET];
    let len = bytes.len().next_multiple_of(16);
    let padded = room.get_mut(..len).and_then(|room| {
        let (_, message) = room.split_at_mut_checked(len - bytes.len())?;
        message.copy_from_slice(bytes);
        let first = message.first_chunk_mut()?;
        *first = (u16::from_be_bytes(*first) ^ CHECK.init).to_be_bytes();
        Some(&*room)
    });
    match padded {
        Some(padded) => BARE.checksum(padded),
        // Longer than any packet, or shorter than the first value.
        None => WHOLE.checksum(bytes),
    }
}

/// For what is longer than any packet, and on bare metal, where 512 bytes of a table have to do.
static WHOLE: Crc<u16, Table<1>> = Crc::<u16, Table<1>>::new(&CHECK);

/// The check of some bytes.
#[cfg(target_os = "none")]
#[must_use]
pub fn check(bytes: &[u8]) -> u16 {
    WHOLE.checksum(bytes)
}

/// Radio address of a head. Not the serial number: that is what people read and pair by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct HeadId(pub u32);

impl core::fmt::Display for HeadId {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "{:08x}", self.0)
    }
}

/// A packet taken apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Packet {
    /// Who sent it.
    pub head: HeadId,
    /// Reporting intervals since the head started, modulo 65536.
    pub sequence: u16,
    /// What it says.
    pub frame: Frame,
}

/// Why bytes are not a packet of this version.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ParseError {
    /// Too short, or the check does not fit the bytes.
    Damaged,
    /// The check fits, the format version is another.
    UnknownVersion(u8),
    /// The check and version fit, the rest does not follow the format.
    Malformed,
}

/// Whose packet this claims to be, once check and version are right; the body is not looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Header {
    /// Kind code as sent, with the bit that says that the packet is authenticated.
    pub kind_code: u8,
    /// Who sent it.
    pub head: HeadId,
    /// Reporting intervals since the head started, modulo 65536.
    pub sequence: u16,
}

impl Header {
    /// Verify the check, then read the header.
    ///
    /// # Errors
    /// [`ParseError::Damaged`] or [`ParseError::UnknownVersion`].
    pub fn parse(bytes: &[u8]) -> Result<(Self, &[u8]), ParseError> {
        let (covered, sent) = bytes
            .split_last_chunk::<CHECK_LEN>()
            .ok_or(ParseError::Damaged)?;
        if covered.len() < HEADER_LEN || check(covered) != u16::from_be_bytes(*sent) {
            return Err(ParseError::Damaged);
        }
        let (&[first, a, b, c, d, low, high], body) = covered
            .split_first_chunk::<HEADER_LEN>()
            .ok_or(ParseError::Damaged)?;
        if first >> 4 != VERSION {
            return Err(ParseError::UnknownVersion(first >> 4));
        }
        let header = Self {
            kind_code: first & 0x0F,
            head: HeadId(u32::from_le_bytes([a, b, c, d])),
            sequence: u16::from_le_bytes([low, high]),
        };
        Ok((header, body))
    }

    /// The kind of frame in the body; `None` for an unknown kind, or where counter and tag still stand
    /// after the body.
    #[must_use]
    pub const fn kind(&self) -> Option<Kind> {
        Kind::from_code(self.kind_code)
    }

    /// The same header without the bit that says that the packet is authenticated.
    #[must_use]
    pub const fn plain(&self) -> Self {
        Self {
            kind_code: self.kind_code & !TAGGED,
            ..*self
        }
    }

    /// Read the body that belongs to this header.
    ///
    /// # Errors
    /// [`ParseError::Malformed`] for an unknown kind, a body that ends early or late, or a number
    /// written in more bytes than it needs.
    pub fn parse_body(&self, body: &[u8]) -> Result<Frame, ParseError> {
        let kind = self.kind().ok_or(ParseError::Malformed)?;
        let mut numbers = Numbers::of(body);
        let frame = match kind {
            Kind::Observation => Frame::Observation(Observation::read(&mut numbers)),
            Kind::Health => Frame::Health(Health::read(&mut numbers)),
            Kind::Identity => Frame::Identity(Identity::read(&mut numbers)),
        };
        if !numbers.end_well() {
            return Err(ParseError::Malformed);
        }
        Ok(frame)
    }
}

/// Room for a body. A number takes one to three bytes, which is no work for the platform's copying of memory;
/// postcard's own slice calls that for each.
struct Room<'b> {
    bytes: &'b mut [u8],
    len: usize,
}

impl<'b> Room<'b> {
    const fn of(bytes: &'b mut [u8]) -> Self {
        Self { bytes, len: 0 }
    }

    fn put<const LEN: usize>(&mut self, bytes: [u8; LEN]) -> postcard::Result<()> {
        let rest = self.bytes.get_mut(self.len..);
        let place = rest.and_then(<[u8]>::first_chunk_mut);
        *place.ok_or(postcard::Error::SerializeBufferFull)? = bytes;
        self.len += LEN;
        Ok(())
    }
}

impl postcard::ser_flavors::Flavor for Room<'_> {
    type Output = usize;

    fn try_push(&mut self, byte: u8) -> postcard::Result<()> {
        self.put([byte])
    }

    fn try_extend(&mut self, bytes: &[u8]) -> postcard::Result<()> {
        match *bytes {
            [a] => self.put([a]),
            [a, b] => self.put([a, b]),
            [a, b, c] => self.put([a, b, c]),
            _ => bytes.iter().try_for_each(|byte| self.put([*byte])),
        }
    }

    fn finalize(self) -> postcard::Result<usize> {
        Ok(self.len)
    }
}

impl Packet {
    /// Take a whole packet apart.
    ///
    /// # Errors
    /// See [`ParseError`]. Values are not judged here: ask [`Frame::is_legal`].
    pub fn parse(bytes: &[u8]) -> Result<Self, ParseError> {
        let (header, body) = Header::parse(bytes)?;
        Ok(Self {
            head: header.head,
            sequence: header.sequence,
            frame: header.parse_body(body)?,
        })
    }

    /// Write the packet into `buffer` and return the bytes written.
    ///
    /// `None` when the buffer is too short; [`MAX_PACKET`] always suffices.
    #[must_use]
    pub fn emit<'b>(&self, buffer: &'b mut [u8]) -> Option<&'b [u8]> {
        let (header, rest) = buffer.split_first_chunk_mut::<HEADER_LEN>()?;
        let [a, b, c, d] = self.head.0.to_le_bytes();
        let [low, high] = self.sequence.to_le_bytes();
        *header = [
            VERSION << 4 | self.frame.kind().code(),
            a,
            b,
            c,
            d,
            low,
            high,
        ];
        let body_len = match &self.frame {
            Frame::Observation(frame) => postcard::serialize_with_flavor(frame, Room::of(rest)),
            Frame::Health(frame) => postcard::serialize_with_flavor(frame, Room::of(rest)),
            Frame::Identity(frame) => postcard::serialize_with_flavor(frame, Room::of(rest)),
        }
        .ok()?;
        let covered_len = HEADER_LEN + body_len;
        let sum = check(buffer.get(..covered_len)?).to_be_bytes();
        buffer
            .get_mut(covered_len..covered_len + CHECK_LEN)?
            .copy_from_slice(&sum);
        buffer.get(..covered_len + CHECK_LEN)
    }
}

#[cfg(test)]
mod tests {
    use super::{CHECK, MAX_PACKET, check};
    use crc::Crc;

    #[test]
    fn the_check_is_the_catalogues_at_every_length() {
        let plain = Crc::<u16>::new(&CHECK);
        let mut bytes = [0_u8; 2 * MAX_PACKET];
        for round in 0..50_u8 {
            for (place, byte) in (0_u8..).zip(&mut bytes) {
                *byte = (place ^ round).wrapping_mul(157).rotate_left(3) ^ round;
            }
            for len in 0..=bytes.len() {
                let message = &bytes[..len];
                assert_eq!(check(message), plain.checksum(message), "{len} bytes");
            }
        }
    }
}
