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
use crc::{CRC_16_M17, Crc, Table};

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
static CHECK: Crc<u16, Lookup> = Crc::<u16, Lookup>::new(&CRC_16_M17);

/// Where an operating system is, 8 KiB of tables take sixteen bytes at once; on bare metal 512 bytes do.
#[cfg(not(target_os = "none"))]
type Lookup = Table<16>;
#[cfg(target_os = "none")]
type Lookup = Table<1>;

/// The check of some bytes.
#[must_use]
pub fn check(bytes: &[u8]) -> u16 {
    CHECK.checksum(bytes)
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
        let (frame, rest) = match kind {
            Kind::Observation => postcard::take_from_bytes::<Observation>(body)
                .map(|(frame, rest)| (Frame::Observation(frame), rest)),
            Kind::Health => postcard::take_from_bytes::<Health>(body)
                .map(|(frame, rest)| (Frame::Health(frame), rest)),
            Kind::Identity => postcard::take_from_bytes::<Identity>(body)
                .map(|(frame, rest)| (Frame::Identity(frame), rest)),
        }
        .map_err(|_| ParseError::Malformed)?;
        // A padded number is longer than need be, so the lengths agree only if none is padded.
        if !rest.is_empty() || body_len(&frame) != Some(body.len()) {
            return Err(ParseError::Malformed);
        }
        Ok(frame)
    }
}

/// Length of a frame in postcard's encoding.
fn body_len(frame: &Frame) -> Option<usize> {
    match frame {
        Frame::Observation(frame) => postcard::experimental::serialized_size(frame),
        Frame::Health(frame) => postcard::experimental::serialized_size(frame),
        Frame::Identity(frame) => postcard::experimental::serialized_size(frame),
    }
    .ok()
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
            Frame::Observation(frame) => postcard::to_slice(frame, rest).map(|body| body.len()),
            Frame::Health(frame) => postcard::to_slice(frame, rest).map(|body| body.len()),
            Frame::Identity(frame) => postcard::to_slice(frame, rest).map(|body| body.len()),
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
