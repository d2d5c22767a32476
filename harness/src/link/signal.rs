//! Signal strength at the receiver.

use benchmast_sim::entropy::Stream;

/// Time in which the swing forgets where it was (to 1/e), s. People, cars, wet leaves and doors move
/// in the path within minutes; common practice, no source.
pub const MEMORY_S: f64 = 1_200.0;

const KNOT_US: i64 = 60_000_000;
/// exp(-60 s / [`MEMORY_S`]).
const KEPT: f64 = 0.951_229_424_500_714;

/// A slow swing about the median: a first-order autoregressive process in decibels, drawn once a minute
/// and straight between. (Between two knots that lowers its spread by up to 1.2 %.)
///
/// The draws depend on time alone, not on how many packets were sent.
#[derive(Debug)]
pub struct Signal {
    median_dbm: f64,
    spread_db: f64,
    knot_us: i64,
    from: f64,
    to: f64,
    stream: Stream,
}

impl Signal {
    /// About `median_dbm`, with the standard deviation `spread_db`, from `start_us` on.
    #[must_use]
    pub fn new(median_dbm: f64, spread_db: f64, start_us: i64, mut stream: Stream) -> Self {
        let from = stream.normal();
        let to = next(from, &mut stream);
        Self {
            median_dbm,
            spread_db,
            knot_us: start_us,
            from,
            to,
            stream,
        }
    }

    /// Signal strength at `time_us`, dBm, in steps of 0.1 as a receiver would report it. Times must not
    /// fall; before the start (or the last knot) the value of that instant counts.
    pub fn at(&mut self, time_us: i64) -> f64 {
        while time_us - self.knot_us >= KNOT_US {
            self.knot_us += KNOT_US;
            self.from = self.to;
            self.to = next(self.from, &mut self.stream);
        }
        let share = (time_us - self.knot_us).max(0) as f64 / KNOT_US as f64;
        let swing = self.from + share * (self.to - self.from);
        ((self.median_dbm + self.spread_db * swing) * 10.0).round() / 10.0
    }
}

fn next(from: f64, stream: &mut Stream) -> f64 {
    KEPT * from + (1.0 - KEPT * KEPT).sqrt() * stream.normal()
}

#[cfg(test)]
mod tests {
    use super::*;
    use benchmast_sim::entropy::Seed;

    fn signal(spread_db: f64) -> Signal {
        Signal::new(-85.0, spread_db, 0, Seed(3).stream("here", "signal"))
    }

    #[test]
    fn without_spread_it_is_the_median() {
        let mut signal = signal(0.0);
        assert!((0..10_000).all(|n| signal.at(n * 16_000_000) == -85.0));
    }

    #[test]
    fn mean_spread_and_memory_are_as_given() {
        let mut signal = signal(4.0);
        let minutes = 400_000;
        let swings: Vec<f64> = (0..minutes)
            .map(|n| signal.at(n * KNOT_US) + 85.0)
            .collect();
        let n = swings.len() as f64;
        let mean = swings.iter().sum::<f64>() / n;
        let variance = swings.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / n;
        let lag = 20;
        let together = swings
            .iter()
            .zip(&swings[lag..])
            .map(|(a, b)| (a - mean) * (b - mean))
            .sum::<f64>()
            / (n - lag as f64);
        // About 10000 independent stretches: standard errors 0.04 dB, 0.7 % and 0.01.
        assert!(mean.abs() < 0.16, "{mean}");
        assert!((variance.sqrt() - 4.0).abs() < 0.12, "{}", variance.sqrt());
        // After 20 minutes, 1/e.
        assert!((together / variance - 0.368).abs() < 0.05);
    }

    #[test]
    fn it_swings_slowly() {
        let mut signal = signal(4.0);
        let mut last = signal.at(0);
        for n in 1..100_000 {
            let now = signal.at(n * 16_000_000);
            // One minute's step has a standard deviation of 4 dB x 0.31; six of them are never seen here.
            assert!((now - last).abs() < 7.5);
            last = now;
        }
    }

    #[test]
    fn silence_does_not_shift_it() {
        let (mut often, mut seldom) = (signal(4.0), signal(4.0));
        for n in 0..10_000 {
            let value = often.at(n * 16_000_000);
            if n % 97 == 0 {
                assert_eq!(value, seldom.at(n * 16_000_000));
            }
        }
    }
}
