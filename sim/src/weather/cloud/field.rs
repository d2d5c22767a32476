//! Broken cloud as the sun sees it: clouds and gaps of many sizes, drifting by.

use crate::entropy::Stream;

/// Exponent of the power law of cloud chord lengths, and ratio of the longest to the shortest. Wood & Field
/// 2011, J. Climate 24: 1.66 from 0.1 to 1500 km (from memory); gaps likewise (common practice, no source).
const EXPONENT: f64 = 1.66;
const LENGTH_RATIO: f64 = 100.0;
/// Harmonic mean of the mean chords of clouds and gaps, m (common practice, no source; at half cover both are
/// twice as long on average, and most are far shorter).
const SCALE_M: f64 = 1800.0;
/// Depth into the softest cloud at which it takes half the beam, m; most clouds are far harder (common
/// practice, no source).
const SOFTEST_M: f64 = 700.0;
/// Length over which a cloud's ragged edge covers the sun, m (common practice, no source).
const EDGE_M: f64 = 120.0;
/// Distance from the edge at which a bright cloud side counts half, m (common practice, no source).
const SIDE_M: f64 = 675.0;
/// What stands before the sun.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Sight {
    /// Share of the beam that is taken, 0 to 1.
    pub(super) cover: f64,
    /// Light that cloud sides add, as a share of the beam.
    pub(super) sides: f64,
}

/// A line of clouds and gaps, by their lengths over the mean length of their kind, so that it follows a
/// changing cover at once.
#[derive(Debug, Clone)]
pub(super) struct Field {
    stream: Stream,
    hidden: bool,
    /// Length left to the next edge and gone since the last, over the mean of this kind.
    left: f64,
    gone: f64,
    /// Share of the beam that the present cloud lets through in its middle, and the depth at which its edge
    /// takes half of the rest, over [`SCALE_M`].
    thin: f64,
    soft: f64,
    /// Brightness of the present gap's sides.
    bright: f64,
    cover: f64,
}

/// A length over its mean for a uniform variate in (0, 1].
fn length(uniform: f64) -> f64 {
    // Inverse of the truncated power law's distribution; the shortest length such that the mean is 1.
    const POWER: f64 = 1.0 - EXPONENT;
    // LENGTH_RATIO to POWER, and to POWER + 1.
    const FAR: f64 = 0.047_863_009_232_263_83;
    const FAR_MEAN: f64 = FAR * LENGTH_RATIO;
    const SHORTEST: f64 = (1.0 - FAR) / -POWER / ((FAR_MEAN - 1.0) / (POWER + 1.0));
    SHORTEST * libm::pow(FAR + (1.0 - FAR) * uniform, 1.0 / POWER)
}

impl Field {
    pub(super) fn new(mut stream: Stream) -> Self {
        let left = stream.uniform_positive();
        Self {
            stream,
            hidden: false,
            left,
            gone: 1.0,
            thin: 0.0,
            soft: 0.0,
            bright: 0.0,
            cover: 0.0,
        }
    }

    fn turn(&mut self) {
        let bits = self.stream.bits();
        let part = |bits: u64, scale: f64| bits.cast_signed() as f64 * scale;
        let (long, quality, soft) = (bits >> 32, bits >> 16 & 0xFFFF, bits & 0xFFFF);
        self.hidden = !self.hidden;
        self.left = length(1.0 - part(long, 1.0 / 4_294_967_296.0));
        self.gone = 0.0;
        let (quality, soft) = (part(quality, 1.0 / 65_536.0), part(soft, 1.0 / 65_536.0));
        if self.hidden {
            self.thin = 0.5 * quality * quality * quality;
            self.soft = SOFTEST_M / SCALE_M * soft * soft * soft;
        } else {
            self.bright = 0.03 + 0.45 * quality * quality;
        }
    }

    /// The field has drifted by `moved_m`; `obscured` is the share of the sun's path that clouds take.
    pub(super) fn step(&mut self, moved_m: f64, obscured: f64) -> Sight {
        let moved = moved_m * (1.0 / SCALE_M);
        let mut rest = moved;
        // Per SCALE_M, in this kind's mean lengths.
        let mut rate;
        loop {
            rate = if self.hidden {
                1.0 - obscured
            } else {
                obscured
            };
            let lengths = rest * rate;
            if lengths < self.left {
                self.left -= lengths;
                self.gone += lengths;
                break;
            }
            rest -= self.left / rate;
            self.turn();
        }
        let near = self.left.min(self.gone);
        // In lengths of its kind the edge is as far as the rate makes it; with no cloud there is none.
        let (target, sides) = if self.hidden {
            let soft = self.soft * rate;
            let leak = soft / (soft + near + 1e-9);
            ((1.0 - leak) * (1.0 - self.thin * rate), 0.0)
        } else {
            let near = near * (SCALE_M / SIDE_M);
            let square = rate * rate;
            (0.0, self.bright * square / (square + near * near + 1e-9))
        };
        self.cover += (target - self.cover) * (moved * (SCALE_M / EDGE_M)).min(1.0);
        Sight {
            cover: self.cover,
            sides,
        }
    }
}

/// Mean share of the beam that clouds let through while the sun is behind them, by the obscured share: a fit
/// to the field's own mean, within 0.02.
pub(super) fn mean_leak(obscured: f64) -> f64 {
    let open = 1.0 - obscured;
    0.76 * open / (1.0 + 2.0 * open)
}

/// Mean of what the sides add while the sun is out, as a share of the beam, by the obscured share: a fit to
/// the field's own mean, within 0.005.
pub(super) fn mean_sides(obscured: f64) -> f64 {
    0.111 * obscured / (obscured + 0.5)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::entropy::Seed;

    #[test]
    fn lengths_have_mean_one_and_follow_the_power_law() {
        let n = 200_000;
        let lengths: Vec<f64> = (0..n)
            .map(|i| length((f64::from(i) + 0.5) / f64::from(n)))
            .collect();
        let mean = lengths.iter().sum::<f64>() / f64::from(n);
        assert!((mean - 1.0).abs() < 1e-3, "{mean}");
        // Numbers between doublings fall by 2^0.66.
        let count = |low: f64| {
            lengths
                .iter()
                .filter(|&&x| (low..2.0 * low).contains(&x))
                .count()
        };
        let fall = count(0.5) as f64 / count(1.0) as f64;
        assert!((fall - libm::pow(2.0, 0.66)).abs() < 0.02, "{fall}");
    }

    #[test]
    fn the_sun_is_hidden_for_its_share_at_any_pace() {
        for obscured in [0.0, 0.03, 0.2, 0.5, 0.8, 1.0] {
            for moved_m in [20.0, 150.0, 9000.0] {
                let mut field = Field::new(Seed(4).stream("t", "field"));
                let n = 400_000;
                let hidden: f64 = (0..n)
                    .map(|_| {
                        field.step(moved_m, obscured);
                        f64::from(u8::from(field.hidden))
                    })
                    .sum();
                let share = hidden / f64::from(n);
                assert!(
                    (share - obscured).abs() < 0.03,
                    "{obscured} at {moved_m} m: {share}"
                );
            }
        }
    }

    #[test]
    fn the_fitted_means_are_the_fields_own() {
        for obscured in [0.03, 0.1, 0.2, 0.3, 0.5, 0.7, 0.9, 0.97] {
            let mut field = Field::new(Seed(4).stream("t", "field"));
            let n = 1_000_000;
            let (mut sides, mut taken) = (0.0, 0.0);
            for _ in 0..n {
                let sight = field.step(270.0, obscured);
                sides += sight.sides / f64::from(n);
                taken += sight.cover / f64::from(n);
            }
            let (own, fit) = (sides / (1.0 - obscured), mean_sides(obscured));
            assert!((own - fit).abs() < 0.006, "sides {obscured}: {own} {fit}");
            let (own, fit) = (1.0 - taken / obscured, mean_leak(obscured));
            assert!((own - fit).abs() < 0.02, "leak {obscured}: {own} {fit}");
        }
    }
}
