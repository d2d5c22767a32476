//! Packets that are not heard at all: one by one, or in bursts.

use benchmast_sim::entropy::Stream;

/// Each packet is lost by itself, with the same chance. One draw a packet.
#[derive(Debug)]
pub struct Independent {
    chance: f64,
    stream: Stream,
}

impl Independent {
    /// `chance` from 0 (never) to 1 (always).
    #[must_use]
    pub const fn new(chance: f64, stream: Stream) -> Self {
        Self { chance, stream }
    }

    /// Whether the next packet is lost.
    pub fn lost(&mut self) -> bool {
        self.stream.uniform() < self.chance
    }
}

/// Packets are lost in bursts: the path is good or bad, and while it is bad every packet is lost.
///
/// Two-state Markov chain in packets (E. N. Gilbert, "Capacity of a burst-noise channel", Bell System
/// Technical Journal 39(5), 1960; E. O. Elliott, ibid. 42(5), 1963) with no loss in the good state and
/// nothing but loss in the bad one. Burst lengths are geometric. One draw a packet, one at the start.
#[derive(Debug)]
pub struct Bursts {
    enter: f64,
    leave: f64,
    bad: bool,
    stream: Stream,
}

impl Bursts {
    /// `share` of all packets lost, 0 to 1, in bursts of `mean_length` packets (1 or more) on average.
    ///
    /// Between two bursts there is at least one good packet, so a share above
    /// `mean_length / (mean_length + 1)` needs longer bursts; the share is kept, the length grows.
    #[must_use]
    pub fn new(share: f64, mean_length: f64, mut stream: Stream) -> Self {
        let share = share.clamp(0.0, 1.0);
        let bad = stream.uniform() < share;
        let (enter, leave) = if share < 1.0 {
            let odds = share / (1.0 - share);
            let leave = 1.0 / mean_length.max(1.0).max(odds);
            (odds * leave, leave)
        } else {
            (1.0, 0.0)
        };
        Self {
            enter,
            leave,
            bad,
            stream,
        }
    }

    /// Whether the next packet is lost.
    pub fn lost(&mut self) -> bool {
        let lost = self.bad;
        let draw = self.stream.uniform();
        self.bad = if lost {
            draw >= self.leave
        } else {
            draw < self.enter
        };
        lost
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use benchmast_sim::entropy::Seed;

    const N: usize = 200_000;

    fn stream(seed: u64) -> Stream {
        Seed(seed).stream("here", "loss")
    }

    /// Lengths of the runs of losses in `N` packets; the first and last may be cut, so they are left out.
    fn runs(bursts: &mut Bursts) -> (usize, Vec<usize>) {
        let fates: Vec<bool> = (0..N).map(|_| bursts.lost()).collect();
        let runs: Vec<usize> = fates
            .chunk_by(|a, b| a == b)
            .filter(|run| run[0])
            .map(<[bool]>::len)
            .collect();
        let lost = fates.iter().filter(|lost| **lost).count();
        (lost, runs[1..runs.len().max(2) - 1].to_vec())
    }

    #[test]
    fn rate_zero_loses_nothing() {
        let (mut single, mut bursts) = (
            Independent::new(0.0, stream(1)),
            Bursts::new(0.0, 4.0, stream(1)),
        );
        assert!((0..N).all(|_| !single.lost() && !bursts.lost()));
    }

    #[test]
    fn rate_one_loses_everything() {
        let (mut single, mut bursts) = (
            Independent::new(1.0, stream(1)),
            Bursts::new(1.0, 4.0, stream(1)),
        );
        assert!((0..N).all(|_| single.lost() && bursts.lost()));
    }

    #[test]
    fn single_losses_keep_their_rate_and_their_independence() {
        for (seed, chance) in [(1, 0.01), (2, 0.3), (3, 0.9)] {
            let mut single = Independent::new(chance, stream(seed));
            let fates: Vec<bool> = (0..N).map(|_| single.lost()).collect();
            let n = N as f64;
            let lost = fates.iter().filter(|lost| **lost).count() as f64;
            let spread = (n * chance * (1.0 - chance)).sqrt();
            assert!((lost - n * chance).abs() < 4.0 * spread, "{chance}: {lost}");
            // Two in a row: chance squared, if independent.
            let pairs = fates.windows(2).filter(|two| two[0] && two[1]).count() as f64;
            let (pair, limit) = (chance * chance, 4.0 * (3.0 * n * chance * chance).sqrt());
            assert!((pairs - n * pair).abs() < limit, "{chance}: {pairs} pairs");
        }
    }

    #[test]
    fn bursts_keep_their_share_and_are_geometric_with_their_mean() {
        for (seed, share, mean) in [(1, 0.05, 4.0), (2, 0.3, 8.0), (3, 0.5, 1.5), (4, 0.2, 20.0)] {
            let (lost, runs) = runs(&mut Bursts::new(share, mean, stream(seed)));
            let count = runs.len() as f64;
            let measured = runs.iter().sum::<usize>() as f64 / count;
            // A geometric length has the standard deviation sqrt(mean (mean - 1)).
            let spread = (mean * (mean - 1.0) / count).sqrt();
            assert!(
                (measured - mean).abs() < 4.0 * spread,
                "mean {measured} for {mean}"
            );
            // The share scatters with burst and gap lengths: both geometric, over `count` cycles.
            let gap = mean * (1.0 - share) / share;
            let cycle = (mean * mean + gap * gap).sqrt() * (1.0 - share) / (mean + gap);
            let limit = 4.0 * cycle.max(share * 1.5) / count.sqrt();
            let rate = lost as f64 / N as f64;
            assert!(
                (rate - share).abs() < limit,
                "{rate} for {share} within {limit}"
            );
            // Geometric, not only in its mean: P(length > k) falls by (1 - 1/mean) each packet.
            for k in 1..=3_usize {
                let p = (1..=k).fold(1.0, |p, _| p * (1.0 - 1.0 / mean));
                let longer = runs.iter().filter(|run| **run > k).count() as f64;
                let spread = (count * p * (1.0 - p)).sqrt();
                assert!((longer - count * p).abs() < 4.0 * spread, "P(length > {k})");
            }
        }
    }

    #[test]
    fn a_share_that_needs_longer_bursts_is_kept() {
        let (lost, runs) = runs(&mut Bursts::new(0.9, 2.0, stream(5)));
        let measured = runs.iter().sum::<usize>() as f64 / runs.len() as f64;
        assert!((lost as f64 / N as f64 - 0.9).abs() < 0.01);
        assert!((measured - 9.0).abs() < 0.5, "{measured}");
    }
}
