//! How long a packet is on the air, and what is left of two that overlap.

use super::Bytes;
use benchmast_sim::entropy::Stream;

/// Bit rate on the air, bit/s. Common practice for short packets, no source.
pub const BIT_RATE: i64 = 38_400;

/// Bytes on the air before a packet: preamble and synchronisation. Common practice, no source.
pub const PREAMBLE_LEN: usize = 8;

/// Time on the air of a packet of this many bytes, microseconds, rounded down.
#[must_use]
pub const fn airtime_us(len: usize) -> i64 {
    offset_us(len)
}

/// From the start of a transmission to the start of its byte `index`, microseconds.
const fn offset_us(index: usize) -> i64 {
    (PREAMBLE_LEN + index) as i64 * 8 * 1_000_000 / BIT_RATE
}

/// One transmission's time on the air.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Span {
    /// First instant, microseconds since 1970-01-01T00:00:00Z.
    pub start_us: i64,
    /// First instant after it.
    pub end_us: i64,
}

impl Span {
    /// Of a packet of `len` bytes sent at `start_us`.
    #[must_use]
    pub const fn of(start_us: i64, len: usize) -> Self {
        Self {
            start_us,
            end_us: start_us + airtime_us(len),
        }
    }

    /// Whether two transmissions are on the air at once.
    #[must_use]
    pub const fn overlaps(self, other: Self) -> bool {
        self.start_us < other.end_us && other.start_us < self.end_us
    }
}

/// What another transmission that overlaps leaves of this packet: `true` when it is lost.
///
/// A packet whose preamble is disturbed is not recognised and so lost; one that is disturbed later has
/// random bytes from the first disturbed byte to the last, and differs at least in the first.
/// Takes six draws, whatever comes of it.
pub fn disturb(bytes: &mut Bytes, span: Span, other: Span, noise: &mut Stream) -> bool {
    let words: [u64; 6] = std::array::from_fn(|_| noise.bits());
    if other.start_us < span.start_us + offset_us(0) {
        return true;
    }
    let mut untouched = true;
    for (index, byte) in bytes.iter_mut().enumerate() {
        let (from_us, to_us) = (
            span.start_us + offset_us(index),
            span.start_us + offset_us(index + 1),
        );
        if from_us < other.end_us && other.start_us < to_us {
            let word = words.get(index / 8).copied().unwrap_or_default();
            let noise = (word >> (index % 8 * 8)) as u8;
            *byte ^= if untouched { noise | 1 } else { noise };
            untouched = false;
        }
    }
    false
}

#[cfg(test)]
mod tests {
    use super::*;
    use benchmast_sim::entropy::Seed;

    fn packet() -> Bytes {
        Bytes::from_slice(&[0x55; 29]).expect("fits")
    }

    #[test]
    fn an_observation_is_a_few_milliseconds_on_the_air() {
        // (8 + 29) bytes of 8 bits at 38400 bit/s: 7708.3 us.
        assert_eq!(airtime_us(29), 7_708);
    }

    #[test]
    fn spans_that_only_touch_do_not_overlap() {
        let first = Span::of(0, 29);
        assert!(!first.overlaps(Span::of(first.end_us, 29)));
        assert!(first.overlaps(Span::of(first.end_us - 1, 29)));
        assert!(Span::of(first.end_us - 1, 29).overlaps(first));
    }

    #[test]
    fn the_later_packet_is_lost_and_the_earlier_is_damaged_at_its_end() {
        let mut noise = Seed(1).stream("here", "collisions");
        let (earlier, later) = (Span::of(0, 29), Span::of(5_000, 29));
        let mut bytes = packet();
        assert!(disturb(&mut bytes, later, earlier, &mut noise));
        let mut bytes = packet();
        assert!(!disturb(&mut bytes, earlier, later, &mut noise));
        // Byte 16 begins at (8 + 16) / 4800 s = 5000 us.
        assert_eq!(&bytes[..16], &packet()[..16]);
        assert_ne!(bytes[16], packet()[16]);
        assert_ne!(&bytes[17..], &packet()[17..]);
    }

    #[test]
    fn a_touch_of_one_microsecond_damages_one_byte() {
        let mut noise = Seed(2).stream("here", "collisions");
        let span = Span::of(0, 29);
        let mut bytes = packet();
        assert!(!disturb(
            &mut bytes,
            span,
            Span::of(span.end_us - 1, 29),
            &mut noise
        ));
        assert_eq!(&bytes[..28], &packet()[..28]);
        assert_ne!(bytes[28], packet()[28]);
    }
}
