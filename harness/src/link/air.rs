//! How long a packet is on the air, and what is left of two that overlap.

use super::Bytes;
use benchmast_sim::entropy::Stream;
use benchmast_sim::physics::radio::chirp_airtime_s;

/// Bytes on the air before a packet of keyed bits: preamble and synchronisation. Common practice, no source.
pub const PREAMBLE_LEN: usize = 8;

/// Symbols on the air before the first byte of a chirp packet: preamble of 12.25 and header of 8.
const CHIRP_PREAMBLE: f64 = 20.25;

/// How bits are put on the air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Modulation {
    /// Binary frequency-shift keying.
    Keying {
        /// Bit rate, bit/s.
        bit_rate: f64,
        /// Bandwidth of the receiver's filter, Hz.
        bandwidth_hz: f64,
    },
    /// Chirp spread spectrum.
    Chirp {
        /// Spreading factor, 6 to 12.
        spreading_factor: u8,
        /// Bandwidth, Hz.
        bandwidth_hz: f64,
    },
}

impl Default for Modulation {
    /// Keying at 38.4 kbit/s in 100 kHz: common practice for short packets, no source.
    fn default() -> Self {
        Self::Keying {
            bit_rate: 38_400.0,
            bandwidth_hz: 100e3,
        }
    }
}

impl Modulation {
    /// Time on the air of a packet of this many bytes, microseconds, rounded down.
    #[must_use]
    pub fn airtime_us(&self, len: usize) -> i64 {
        self.offset_us(len, len)
    }

    /// Bandwidth in which noise counts, Hz.
    #[must_use]
    pub const fn bandwidth_hz(&self) -> f64 {
        match *self {
            Self::Keying { bandwidth_hz, .. } | Self::Chirp { bandwidth_hz, .. } => bandwidth_hz,
        }
    }

    /// One packet's time on the air.
    #[must_use]
    pub fn span(&self, start_us: i64, len: usize) -> Span {
        Span {
            start_us,
            end_us: start_us + self.airtime_us(len),
        }
    }

    /// From the start of a transmission of `len` bytes to the start of its byte `index`, microseconds.
    fn offset_us(&self, index: usize, len: usize) -> i64 {
        match *self {
            Self::Keying { bit_rate, .. } => {
                ((PREAMBLE_LEN + index) as f64 * 8e6 / bit_rate) as i64
            }
            Self::Chirp {
                spreading_factor,
                bandwidth_hz,
            } => {
                let whole_us = 1e6 * chirp_airtime_s(len, spreading_factor, bandwidth_hz);
                let symbol_us = 1e6 * f64::from(1_u32 << spreading_factor) / bandwidth_hz;
                let first_us = CHIRP_PREAMBLE * symbol_us;
                let share = index as f64 / len.max(1) as f64;
                // A thousandth keeps rounding in floating point from taking a whole microsecond.
                (first_us + (whole_us - first_us) * share + 1e-3) as i64
            }
        }
    }
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
pub fn disturb(
    modulation: &Modulation,
    bytes: &mut Bytes,
    span: Span,
    other: Span,
    noise: &mut Stream,
) -> bool {
    let len = bytes.len();
    let words: [u64; 6] = std::array::from_fn(|_| noise.bits());
    if other.start_us < span.start_us + modulation.offset_us(0, len) {
        return true;
    }
    let mut untouched = true;
    for (index, byte) in bytes.iter_mut().enumerate() {
        let (from_us, to_us) = (
            span.start_us + modulation.offset_us(index, len),
            span.start_us + modulation.offset_us(index + 1, len),
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

    const KEYING: Modulation = Modulation::Keying {
        bit_rate: 38_400.0,
        bandwidth_hz: 100e3,
    };

    fn packet() -> Bytes {
        Bytes::from_slice(&[0x55; 29]).expect("fits")
    }

    #[test]
    fn an_observation_is_a_few_milliseconds_on_the_air() {
        // (8 + 29) bytes of 8 bits at 38400 bit/s: 7708.3 us.
        assert_eq!(KEYING.airtime_us(29), 7_708);
    }

    #[test]
    fn spans_that_only_touch_do_not_overlap() {
        let first = KEYING.span(0, 29);
        assert!(!first.overlaps(KEYING.span(first.end_us, 29)));
        assert!(first.overlaps(KEYING.span(first.end_us - 1, 29)));
        assert!(KEYING.span(first.end_us - 1, 29).overlaps(first));
    }

    #[test]
    fn the_later_packet_is_lost_and_the_earlier_is_damaged_at_its_end() {
        let mut noise = Seed(1).stream("here", "collisions");
        let (earlier, later) = (KEYING.span(0, 29), KEYING.span(5_000, 29));
        let mut bytes = packet();
        assert!(disturb(&KEYING, &mut bytes, later, earlier, &mut noise));
        let mut bytes = packet();
        assert!(!disturb(&KEYING, &mut bytes, earlier, later, &mut noise));
        // Byte 16 begins at (8 + 16) / 4800 s = 5000 us.
        assert_eq!(&bytes[..16], &packet()[..16]);
        assert_ne!(bytes[16], packet()[16]);
        assert_ne!(&bytes[17..], &packet()[17..]);
    }

    #[test]
    fn a_touch_of_one_microsecond_damages_one_byte() {
        let mut noise = Seed(2).stream("here", "collisions");
        let span = KEYING.span(0, 29);
        let mut bytes = packet();
        assert!(!disturb(
            &KEYING,
            &mut bytes,
            span,
            KEYING.span(span.end_us - 1, 29),
            &mut noise
        ));
        assert_eq!(&bytes[..28], &packet()[..28]);
        assert_ne!(bytes[28], packet()[28]);
    }

    #[test]
    fn a_chirp_packet_begins_after_its_preamble_and_ends_with_its_last_byte() {
        let chirp = Modulation::Chirp {
            spreading_factor: 9,
            bandwidth_hz: 125e3,
        };
        // The published example: 13 bytes are 164.864 ms, of which 12.25 + 8 symbols of 4.096 ms come first.
        assert_eq!(chirp.airtime_us(13), 164_864);
        assert_eq!(chirp.offset_us(0, 13), 82_944);
    }
}
