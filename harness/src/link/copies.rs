//! Packets that arrive twice, or late.

use benchmast_sim::entropy::Stream;

/// A second copy comes this much after the first at the earliest, microseconds; no source.
pub const COPY_AFTER_MIN_US: i64 = 50_000;
/// A second copy comes less than this much after the first, microseconds; no source.
pub const COPY_AFTER_MAX_US: i64 = 500_000;

/// Some packets arrive a second time, as when something repeats what it hears. Two draws a packet.
#[derive(Debug)]
pub struct Duplicates {
    chance: f64,
    stream: Stream,
}

impl Duplicates {
    /// `chance` from 0 (never) to 1 (always).
    #[must_use]
    pub const fn new(chance: f64, stream: Stream) -> Self {
        Self { chance, stream }
    }

    /// How long after the next packet its copy comes, microseconds, if it has one.
    pub fn copy_after_us(&mut self) -> Option<i64> {
        let (hit, place) = (self.stream.uniform(), self.stream.uniform());
        let span = (COPY_AFTER_MAX_US - COPY_AFTER_MIN_US) as f64;
        (hit < self.chance).then(|| COPY_AFTER_MIN_US + (place * span) as i64)
    }
}

/// Some packets are held back, so that later ones may overtake them. Two draws a packet.
#[derive(Debug)]
pub struct Delays {
    chance: f64,
    longest_us: f64,
    stream: Stream,
}

impl Delays {
    /// `chance` from 0 (never) to 1 (always), delays spread evenly up to `longest_s`.
    #[must_use]
    pub const fn new(chance: f64, longest_s: f64, stream: Stream) -> Self {
        Self {
            chance,
            longest_us: longest_s * 1e6,
            stream,
        }
    }

    /// How long the next packet is held back, microseconds; 0 when it is not.
    pub fn hold_us(&mut self) -> i64 {
        let (hit, place) = (self.stream.uniform(), self.stream.uniform_positive());
        if hit < self.chance {
            (place * self.longest_us) as i64
        } else {
            0
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use benchmast_sim::entropy::Seed;

    const N: usize = 100_000;

    fn stream(seed: u64) -> Stream {
        Seed(seed).stream("here", "copies")
    }

    #[test]
    fn rate_zero_changes_nothing() {
        let mut duplicates = Duplicates::new(0.0, stream(1));
        let mut delays = Delays::new(0.0, 40.0, stream(1));
        assert!((0..N).all(|_| duplicates.copy_after_us().is_none() && delays.hold_us() == 0));
    }

    #[test]
    fn rate_one_hits_everything_within_bounds() {
        let mut duplicates = Duplicates::new(1.0, stream(2));
        let mut delays = Delays::new(1.0, 40.0, stream(2));
        let mut longest = 0;
        for _ in 0..N {
            let after = duplicates.copy_after_us().expect("always a copy");
            assert!((COPY_AFTER_MIN_US..COPY_AFTER_MAX_US).contains(&after));
            let hold = delays.hold_us();
            assert!((1..=40_000_000).contains(&hold));
            longest = longest.max(hold);
        }
        assert!(longest > 39_900_000, "delays reach up to the longest");
    }

    #[test]
    fn measured_rates_are_in_bounds() {
        for (seed, chance) in [(3, 0.002), (4, 0.2), (5, 0.7)] {
            let mut duplicates = Duplicates::new(chance, stream(seed));
            let mut delays = Delays::new(chance, 40.0, stream(seed + 100));
            let copies = (0..N).filter(|_| duplicates.copy_after_us().is_some());
            let held = (0..N).filter(|_| delays.hold_us() > 0);
            let n = N as f64;
            for count in [copies.count(), held.count()] {
                let spread = (n * chance * (1.0 - chance)).sqrt();
                assert!(
                    (count as f64 - n * chance).abs() < 4.0 * spread,
                    "{chance}: {count}"
                );
            }
        }
    }
}
