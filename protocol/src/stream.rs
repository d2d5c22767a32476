//! Packets on a byte stream. WIRE.md section 6.
//!
//! Each packet travels as its COBS encoding (Cheshire and Baker, "Consistent Overhead Byte Stuffing",
//! IEEE/ACM Transactions on Networking 7(2), 1999), which holds no zero, followed by one zero. A
//! receiver that joins late or loses bytes is in step again after the next zero.

use crate::packet::MAX_PACKET;
use cobs::{DecodeResult, DecoderState};

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
    state: DecoderState,
    bytes: [u8; MAX_PACKET],
    length: usize,
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
            state: DecoderState::Idle,
            bytes: [0; MAX_PACKET],
            length: 0,
            overlong: false,
        }
    }

    /// Take one byte; something comes back only for a delimiter that closes a frame.
    /// A delimiter right after another closes nothing and is skipped.
    pub fn push(&mut self, byte: u8) -> Option<Deframed<'_>> {
        if byte == DELIMITER {
            return self.close();
        }
        // Without an error for anything but a zero: the stuffing breaks only where a frame ends early.
        if let Ok(DecodeResult::DataContinue(value)) = self.state.feed(byte) {
            match self.bytes.get_mut(self.length) {
                Some(place) => {
                    *place = value;
                    self.length += 1;
                }
                None => self.overlong = true,
            }
        }
        None
    }

    /// Take bytes from the front of `input` up to the end of the first frame that closes there.
    /// Call again until `None`; then `input` is used up.
    pub fn push_from<'d>(&'d mut self, input: &mut &[u8]) -> Option<Deframed<'d>> {
        while let Some((&byte, rest)) = input.split_first() {
            *input = rest;
            if byte == DELIMITER && !self.is_midway() {
                continue;
            }
            if byte == DELIMITER {
                return self.close();
            }
            self.push(byte);
        }
        None
    }

    /// Whether a frame has begun that no delimiter has closed yet. At the end of a file: it was cut off.
    #[must_use]
    pub const fn is_midway(&self) -> bool {
        !matches!(self.state, DecoderState::Idle)
    }

    fn close(&mut self) -> Option<Deframed<'_>> {
        let outcome = self.state.feed(DELIMITER);
        let length = core::mem::take(&mut self.length);
        let overlong = core::mem::take(&mut self.overlong);
        match outcome {
            Ok(DecodeResult::DataComplete) if !overlong => Some(
                self.bytes
                    .get(..length)
                    .map_or(Deframed::Damaged, Deframed::Packet),
            ),
            Ok(DecodeResult::NoData) => None,
            _ => Some(Deframed::Damaged),
        }
    }
}
