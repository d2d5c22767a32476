//! Packets on a byte stream. WIRE.md section 6.
//!
//! Each packet travels as its COBS encoding (Cheshire and Baker, "Consistent Overhead Byte Stuffing",
//! IEEE/ACM Transactions on Networking 7(2), 1999), which holds no zero, followed by one zero. A
//! receiver that joins late or loses bytes is in step again after the next zero.

use crate::packet::MAX_PACKET;

/// Closes every packet. A sender also opens its stream with one, so that whatever was on the line
/// before cannot damage its first packet.
pub const DELIMITER: u8 = 0x00;

/// Bytes that a packet takes on a stream beyond its own: one of COBS, one delimiter.
pub const OVERHEAD: usize = 2;

/// Longest piece of a stream that carries one packet, delimiter included.
pub const MAX_ENCODED: usize = MAX_PACKET + OVERHEAD;

/// Write a packet's bytes as they travel on a stream, delimiter included, and return what was written.
///
/// `None` when the packet is empty or longer than [`MAX_PACKET`], or `buffer` is shorter than the packet
/// and [`OVERHEAD`]; [`MAX_ENCODED`] always suffices.
#[must_use]
pub fn encode<'b>(packet: &[u8], buffer: &'b mut [u8]) -> Option<&'b [u8]> {
    if packet.is_empty() || packet.len() > MAX_PACKET {
        return None;
    }
    let encoded_len = cobs::try_encode(packet, buffer.get_mut(..packet.len() + 1)?).ok()?;
    *buffer.get_mut(encoded_len)? = DELIMITER;
    buffer.get(..=encoded_len)
}

/// What a delimiter closed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Deframed<'d> {
    /// The bytes of a packet, its check not yet looked at.
    Packet(&'d [u8]),
    /// Bytes that cannot hold a packet: broken stuffing, or too many of them.
    Damaged,
}

/// Cuts a byte stream into packets, in fixed memory.
#[derive(Debug)]
pub struct Deframer {
    bytes: [u8; MAX_PACKET],
    length: u8,
    /// Bytes of the present piece that are still to come.
    left: u8,
    /// A zero stands between this piece and the next.
    owes_zero: bool,
    is_midway: bool,
    overlong: bool,
}

impl Default for Deframer {
    fn default() -> Self {
        Self::new()
    }
}

impl Deframer {
    /// At the start of a stream.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            bytes: [0; MAX_PACKET],
            length: 0,
            left: 0,
            owes_zero: false,
            is_midway: false,
            overlong: false,
        }
    }

    /// Take one byte; something comes back only for a delimiter that closes a frame.
    /// A delimiter right after another closes nothing and is skipped.
    pub fn push(&mut self, byte: u8) -> Option<Deframed<'_>> {
        if byte == DELIMITER {
            return self.close();
        }
        self.take(byte);
        None
    }

    #[inline]
    fn take(&mut self, byte: u8) {
        if let Some(left) = self.left.checked_sub(1) {
            self.left = left;
            self.put(byte);
            return;
        }
        if self.owes_zero {
            self.put(0);
        }
        self.is_midway = true;
        self.left = byte.wrapping_sub(1);
        self.owes_zero = byte != 0xFF;
    }

    #[inline]
    fn put(&mut self, byte: u8) {
        match self.bytes.get_mut(usize::from(self.length)) {
            Some(place) => {
                *place = byte;
                self.length += 1;
            }
            None => self.overlong = true,
        }
    }

    /// Take bytes from the front of `input` up to the end of the first frame that closes there.
    /// Call again until `None`; then `input` is used up.
    pub fn push_from<'d>(&'d mut self, input: &mut &[u8]) -> Option<Deframed<'d>> {
        while let Some((&byte, rest)) = input.split_first() {
            *input = rest;
            if byte != DELIMITER {
                self.take(byte);
            } else if self.is_midway {
                return self.close();
            }
        }
        None
    }

    /// Whether a frame has begun that no delimiter has closed yet. At the end of a file: it was cut off.
    #[must_use]
    pub const fn is_midway(&self) -> bool {
        self.is_midway
    }

    fn close(&mut self) -> Option<Deframed<'_>> {
        let was_midway = core::mem::take(&mut self.is_midway);
        let is_whole = self.left == 0 && !self.overlong;
        let length = usize::from(self.length);
        self.left = 0;
        self.length = 0;
        self.overlong = false;
        self.owes_zero = false;
        was_midway.then(|| match self.bytes.get(..length) {
            Some(bytes) if is_whole => Deframed::Packet(bytes),
            _ => Deframed::Damaged,
        })
    }
}
