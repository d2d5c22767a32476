//! Bits that flip on the way.

use benchmast_sim::entropy::Stream;

/// Each bit flips by itself, with the same chance.
///
/// Instead of a draw for each bit, the distance to the next error is drawn when the last one has
/// happened: an exponential store of patience, of which every bit uses up `-ln(1 - chance)`. That is the
/// geometric distance exactly, and a clean path costs one comparison a packet.
#[derive(Debug)]
pub struct BitErrors {
    wear: f64,
    patience: f64,
    stream: Stream,
}

impl BitErrors {
    /// `chance` from 0 (no bit) to 1 (every bit).
    #[must_use]
    pub fn new(chance: f64, mut stream: Stream) -> Self {
        Self {
            wear: -libm::log1p(-chance.clamp(0.0, 1.0)),
            patience: stream.exponential(),
            stream,
        }
    }

    /// Let one packet's bytes through; returns how many bits flipped. Bits go most significant first.
    pub fn strike(&mut self, bytes: &mut [u8]) -> usize {
        self.wear_down(self.wear, bytes)
    }

    /// As [`Self::strike`], at another chance than its own for this one packet.
    pub fn strike_at(&mut self, chance: f64, bytes: &mut [u8]) -> usize {
        self.wear_down(-libm::log1p(-chance.clamp(0.0, 1.0)), bytes)
    }

    fn wear_down(&mut self, wear: f64, bytes: &mut [u8]) -> usize {
        let bits = bytes.len() * 8;
        if wear.is_infinite() {
            bytes.iter_mut().for_each(|byte| *byte = !*byte);
            return bits;
        }
        let (mut passed, mut flipped) = (0, 0);
        while self.patience < (bits - passed) as f64 * wear {
            // Rounding must not carry the error past the last bit.
            let at = (passed + (self.patience / wear) as usize).min(bits - 1);
            if let Some(byte) = bytes.get_mut(at / 8) {
                *byte ^= 0x80 >> (at % 8);
            }
            passed = at + 1;
            flipped += 1;
            self.patience = self.stream.exponential();
        }
        self.patience -= (bits - passed) as f64 * wear;
        flipped
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use benchmast_sim::entropy::Seed;

    fn errors(chance: f64) -> BitErrors {
        BitErrors::new(chance, Seed(7).stream("here", "bits"))
    }

    #[test]
    fn rate_zero_changes_nothing() {
        let mut errors = errors(0.0);
        for _ in 0..100_000 {
            let mut bytes = [0xA5; 29];
            assert_eq!(errors.strike(&mut bytes), 0);
            assert_eq!(bytes, [0xA5; 29]);
        }
    }

    #[test]
    fn rate_one_flips_every_bit() {
        let mut errors = errors(1.0);
        let mut bytes = [0xA5; 29];
        assert_eq!(errors.strike(&mut bytes), 232);
        assert_eq!(bytes, [0x5A; 29]);
    }

    #[test]
    fn an_empty_packet_is_let_through() {
        assert_eq!(errors(0.5).strike(&mut []), 0);
        assert_eq!(errors(1.0).strike(&mut []), 0);
    }

    #[test]
    fn the_rate_holds_for_every_bit_of_the_packet() {
        for chance in [1e-4, 0.01, 0.3, 0.9] {
            let mut errors = errors(chance);
            let packets = 50_000;
            let mut by_place = [0_u32; 64];
            let mut total = 0;
            for _ in 0..packets {
                let mut bytes = [0_u8; 8];
                total += errors.strike(&mut bytes);
                for (place, count) in by_place.iter_mut().enumerate() {
                    *count += u32::from(bytes[place / 8] >> (7 - place % 8) & 1);
                }
            }
            let within = |count: f64, n: f64, spreads: f64| {
                (count - n * chance).abs() < spreads * (n * chance * (1.0 - chance)).sqrt() + 1.0
            };
            assert_eq!(by_place.iter().sum::<u32>() as usize, total);
            assert!(
                within(total as f64, f64::from(packets) * 64.0, 4.0),
                "{chance}: {total}"
            );
            for count in by_place {
                assert!(
                    within(f64::from(count), f64::from(packets), 5.0),
                    "{chance}: {count}"
                );
            }
        }
    }
}
