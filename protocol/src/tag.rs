//! Authenticated packets. WIRE.md section 10.
//!
//! A head that shares a secret key with its receiver closes each packet with a counter that never repeats
//! and a tag over everything before it: AES-CMAC (RFC 4493) with AES-128, its first [`TAG_LEN`] bytes. Who
//! does not have the key can neither make a packet nor change one, and a packet heard before is known by
//! its counter. It does not hide what a packet says, does not help against jamming, and is worth as much
//! as the key's keeping.

use crate::packet::{CHECK_LEN, HEADER_LEN, Packet, TAGGED, check};
use aes::Aes128;
use cmac::{Cmac, KeyInit, Mac};

/// Bytes of the counter.
pub const COUNTER_LEN: usize = 4;
/// Bytes of the tag, the first of AES-CMAC's sixteen: half of all forgers need 2^63 tries, one each.
pub const TAG_LEN: usize = 8;
/// Bytes that authentication adds to a packet.
pub const OVERHEAD: usize = COUNTER_LEN + TAG_LEN;

/// A secret that one head shares with its receivers and uses for nothing else.
///
/// Its `Debug` form shows nothing of it.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Key(pub [u8; 16]);

impl core::fmt::Debug for Key {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("Key(..)")
    }
}

/// Why a text is no key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct KeyError;

impl core::fmt::Display for KeyError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("a key is 32 hexadecimal digits")
    }
}

impl core::error::Error for KeyError {}

/// From 32 hexadecimal digits, first byte first.
impl core::str::FromStr for Key {
    type Err = KeyError;

    fn from_str(text: &str) -> Result<Self, KeyError> {
        let mut key = [0; 16];
        let (pairs, rest) = text.as_bytes().as_chunks::<2>();
        if pairs.len() != key.len() || !rest.is_empty() {
            return Err(KeyError);
        }
        let digit = |letter: u8| char::from(letter).to_digit(16).ok_or(KeyError);
        for (byte, [high, low]) in key.iter_mut().zip(pairs) {
            *byte = (digit(*high)? << 4 | digit(*low)?) as u8;
        }
        Ok(Self(key))
    }
}

impl Key {
    fn mac(&self, covered: &[u8]) -> Cmac<Aes128> {
        let mut mac = Cmac::<Aes128>::new(&self.0.into());
        mac.update(covered);
        mac
    }

    /// The tag of some bytes.
    #[must_use]
    pub fn tag(&self, covered: &[u8]) -> [u8; TAG_LEN] {
        let whole = self.mac(covered).finalize().into_bytes();
        let mut tag = [0; TAG_LEN];
        for (to, from) in tag.iter_mut().zip(whole) {
            *to = from;
        }
        tag
    }

    /// Whether this is the tag of these bytes. Takes as long whichever byte is wrong.
    #[must_use]
    pub fn fits(&self, covered: &[u8], tag: &[u8; TAG_LEN]) -> bool {
        self.mac(covered).verify_truncated_left(tag).is_ok()
    }
}

/// Counter and tag, cut from the end of what the check covers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Trailer<'p> {
    /// Everything that the tag covers.
    pub covered: &'p [u8],
    /// The body of the packet as without authentication.
    pub body: &'p [u8],
    /// The counter.
    pub counter: u32,
    /// The tag.
    pub tag: [u8; TAG_LEN],
}

impl<'p> Trailer<'p> {
    /// Take counter and tag from a packet whose check was found right; `None` when it is too short.
    #[must_use]
    pub fn cut(packet: &'p [u8]) -> Option<Self> {
        let (rest, _check) = packet.split_last_chunk::<CHECK_LEN>()?;
        let (covered, tag) = rest.split_last_chunk::<TAG_LEN>()?;
        let (before, counter) = covered.split_last_chunk::<COUNTER_LEN>()?;
        let (_header, body) = before.split_first_chunk::<HEADER_LEN>()?;
        Some(Self {
            covered,
            body,
            counter: u32::from_le_bytes(*counter),
            tag: *tag,
        })
    }
}

impl Packet {
    /// Write the packet with counter and tag into `buffer` and return the bytes written.
    ///
    /// `None` when the buffer is too short; [`crate::packet::MAX_PACKET`] always suffices.
    #[must_use]
    pub fn emit_tagged<'b>(
        &self,
        key: &Key,
        counter: u32,
        buffer: &'b mut [u8],
    ) -> Option<&'b [u8]> {
        let before = self.emit(buffer)?.len().checked_sub(CHECK_LEN)?;
        if let Some(first) = buffer.first_mut() {
            *first |= TAGGED;
        }
        let covered = before + COUNTER_LEN;
        let tagged = covered + TAG_LEN;
        buffer
            .get_mut(before..covered)?
            .copy_from_slice(&counter.to_le_bytes());
        let tag = key.tag(buffer.get(..covered)?);
        buffer.get_mut(covered..tagged)?.copy_from_slice(&tag);
        let sum = check(buffer.get(..tagged)?).to_be_bytes();
        buffer
            .get_mut(tagged..tagged + CHECK_LEN)?
            .copy_from_slice(&sum);
        buffer.get(..tagged + CHECK_LEN)
    }
}

/// A head's counter, kept in non-volatile memory without a write for each packet.
///
/// Counters are reserved in blocks: what is stored is the end of the block in use, so that a head that
/// starts anew goes on behind everything that it can have sent.
///
/// ```
/// use benchmast_protocol::tag::SendCounter;
/// let mut counter = SendCounter::new(0);
/// let first = counter.take().unwrap();
/// assert_eq!((first.value, first.store), (0, Some(1024)));
/// assert_eq!(counter.take().unwrap().store, None);
/// // Power fails; the memory still says 1024.
/// assert_eq!(SendCounter::new(1024).take().unwrap().value, 1024);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SendCounter {
    next: u32,
    reserved: u32,
}

/// A counter for one packet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Taken {
    /// What to send.
    pub value: u32,
    /// What non-volatile memory must hold before the packet is sent.
    pub store: Option<u32>,
}

impl SendCounter {
    /// Counters of one block: at one packet in 16 s a write every four and a half hours.
    pub const BLOCK: u32 = 1024;

    /// After a start, from what non-volatile memory holds; 0 for a head that is new.
    #[must_use]
    pub const fn new(stored: u32) -> Self {
        Self {
            next: stored,
            reserved: stored,
        }
    }

    /// What non-volatile memory holds now.
    #[must_use]
    pub const fn stored(&self) -> u32 {
        self.reserved
    }

    /// The next counter; `None` when all are used up, after two thousand years at one packet in 16 s. Then only
    /// a new key helps.
    pub fn take(&mut self) -> Option<Taken> {
        let store = if self.next == self.reserved {
            self.reserved = self.reserved.checked_add(Self::BLOCK)?;
            Some(self.reserved)
        } else {
            None
        };
        let value = self.next;
        self.next = value.checked_add(1)?;
        Some(Taken { value, store })
    }
}
