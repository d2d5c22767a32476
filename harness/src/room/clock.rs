//! The receiver's clock: set by satellites or the network, free while neither can be had.

use benchmast_sim::entropy::Stream;

/// The clock. One draw at the start.
#[derive(Debug)]
pub struct Clock {
    rate: f64,
    offset_s: f64,
}

impl Clock {
    /// A crystal whose error has a standard deviation of half of `ppm`, at most `ppm`: a maker's bound.
    #[must_use]
    pub fn new(ppm: f64, mut stream: Stream) -> Self {
        Self {
            rate: 1e-6 * ppm * (0.5 * stream.normal()).clamp(-1.0, 1.0),
            offset_s: 0.0,
        }
    }

    /// Go on for some seconds; `running`: the receiver is on (its clock chip runs on in any case); `set`:
    /// something sets it. Returns clock less true time, s.
    pub fn advance(&mut self, seconds: f64, running: bool, set: bool) -> f64 {
        self.offset_s += self.rate * seconds;
        if running && set {
            self.offset_s = 0.0;
        }
        self.offset_s
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use benchmast_sim::entropy::Seed;

    #[test]
    fn a_free_clock_drifts_within_its_bound_and_a_set_one_is_right() {
        let mut drifts = Vec::new();
        for seed in 0..200 {
            let mut clock = Clock::new(20.0, Seed(seed).stream("here", "clock"));
            assert_eq!(clock.advance(3_600.0, true, true), 0.0);
            drifts.push(clock.advance(86_400.0, false, true));
        }
        // 20 ppm of a day are 1.728 s.
        assert!(drifts.iter().all(|drift| drift.abs() <= 1.728 + 1e-9));
        let mean = drifts.iter().map(|drift| drift.abs()).sum::<f64>() / 200.0;
        assert!((0.5..0.9).contains(&mean), "{mean}");
    }
}
