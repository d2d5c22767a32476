//! Samples that know their block of time, so that a statistic can be worked out for any resampling of the
//! blocks without touching the data again.

/// How often each block counts.
pub type Weights = [f64];

/// Values with their blocks, sorted.
#[derive(Debug, Clone, Default)]
pub struct Values(Vec<(f64, usize)>);

impl Values {
    /// From values and their blocks; missing ones are left out.
    pub fn new(values: impl IntoIterator<Item = (f64, usize)>) -> Self {
        let mut kept: Vec<(f64, usize)> = values.into_iter().filter(|v| v.0.is_finite()).collect();
        kept.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        Self(kept)
    }

    /// How many values.
    #[must_use]
    pub fn count(&self, weights: &Weights) -> f64 {
        self.0.iter().map(|v| weights[v.1]).sum()
    }

    /// Arithmetic mean.
    #[must_use]
    pub fn mean(&self, weights: &Weights) -> f64 {
        let sum: f64 = self.0.iter().map(|v| v.0 * weights[v.1]).sum();
        sum / self.count(weights)
    }

    /// Sum.
    #[must_use]
    pub fn sum(&self, weights: &Weights) -> f64 {
        self.0.iter().map(|v| v.0 * weights[v.1]).sum()
    }

    /// Standard deviation, `n - 1` in the denominator.
    #[must_use]
    pub fn deviation(&self, weights: &Weights) -> f64 {
        let mean = self.mean(weights);
        let squares: f64 = self
            .0
            .iter()
            .map(|v| (v.0 - mean).powi(2) * weights[v.1])
            .sum();
        (squares / (self.count(weights) - 1.0)).sqrt()
    }

    /// Quantile by linear interpolation between order statistics (the usual definition 7).
    #[must_use]
    pub fn quantile(&self, weights: &Weights, share: f64) -> f64 {
        let count = self.count(weights);
        if count < 1.0 {
            return f64::NAN;
        }
        let position = (count - 1.0) * share;
        let (whole, part) = (position.floor(), position.fract());
        let (mut low, mut seen) = (f64::NAN, 0.0);
        for &(value, block) in &self.0 {
            seen += weights[block];
            if low.is_nan() && seen > whole {
                low = value;
            }
            if seen > whole + 1.0 || (seen > whole && part == 0.0) {
                return low + part * (value - low);
            }
        }
        low
    }

    /// Share of the values for which something holds.
    #[must_use]
    pub fn share(&self, weights: &Weights, holds: impl Fn(f64) -> bool) -> f64 {
        let sum: f64 = self
            .0
            .iter()
            .filter(|v| holds(v.0))
            .map(|v| weights[v.1])
            .sum();
        // An empty sum is -0.
        (sum + 0.0) / self.count(weights)
    }

    /// Share of the sum that the highest `share` of the values hold.
    #[must_use]
    pub fn share_of_highest(&self, weights: &Weights, share: f64) -> f64 {
        let mut left = (share * self.count(weights)).floor().max(1.0);
        let mut sum = 0.0;
        for &(value, block) in self.0.iter().rev() {
            let taken = weights[block].min(left);
            sum += value * taken;
            left -= taken;
        }
        sum / self.sum(weights)
    }

    /// Shape of the Weibull law with the same mean and standard deviation, 0.5 to 8.
    #[must_use]
    pub fn weibull_shape(&self, weights: &Weights) -> f64 {
        let wanted = self.deviation(weights) / self.mean(weights);
        let variation = |k: f64| {
            let first = libm::tgamma(1.0 + 1.0 / k);
            (libm::tgamma(1.0 + 2.0 / k) / (first * first) - 1.0).sqrt()
        };
        let (mut low, mut high) = (0.5, 8.0);
        for _ in 0..50 {
            let middle = 0.5 * (low + high);
            if variation(middle) > wanted {
                low = middle;
            } else {
                high = middle;
            }
        }
        0.5 * (low + high)
    }
}

/// Pairs of values, summed up by block.
#[derive(Debug, Clone)]
pub struct Pairs(Vec<[f64; 6]>);

impl Pairs {
    /// Value `i` of `x` with value `i + lag` of `y`; the pair belongs to the block of `i`.
    #[must_use]
    pub fn lagged(x: &[f64], y: &[f64], lag: usize, block: &dyn Fn(usize) -> usize) -> Self {
        // Values near their mean keep the sums of squares accurate.
        let middle = |v: &[f64]| Values::new(v.iter().map(|&v| (v, 0))).mean(&[1.0]);
        let (mx, my) = (middle(x), middle(y));
        let mut sums: Vec<[f64; 6]> = Vec::new();
        for i in 0..x.len().saturating_sub(lag) {
            let (a, b) = (x[i] - mx, y[i + lag] - my);
            if a.is_nan() || b.is_nan() {
                continue;
            }
            if sums.len() <= block(i) {
                sums.resize(block(i) + 1, [0.0; 6]);
            }
            for (sum, term) in sums[block(i)]
                .iter_mut()
                .zip([1.0, a, b, a * a, b * b, a * b])
            {
                *sum += term;
            }
        }
        Self(sums)
    }

    /// Correlation coefficient.
    #[must_use]
    pub fn correlation(&self, weights: &Weights) -> f64 {
        let mut all = [0.0; 6];
        for (sums, weight) in self.0.iter().zip(weights) {
            for (sum, term) in all.iter_mut().zip(sums) {
                *sum += weight * term;
            }
        }
        let [n, x, y, xx, yy, xy] = all;
        (n * xy - x * y) / ((n * xx - x * x) * (n * yy - y * y)).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Doubling a block is the same as writing its values down twice.
    #[test]
    fn weights_are_repetitions() {
        let values = [(3.0, 0), (1.0, 1), (f64::NAN, 1), (7.0, 0), (4.0, 1)];
        let twice = Values::new(
            values
                .iter()
                .copied()
                .chain(values.iter().copied().filter(|v| v.1 == 1)),
        );
        let once = Values::new(values);
        for share in [0.0, 0.1, 0.5, 0.77, 1.0] {
            let a = once.quantile(&[1.0, 2.0], share);
            let b = twice.quantile(&[1.0, 1.0], share);
            assert!((a - b).abs() < 1e-12, "{share}: {a} {b}");
        }
        assert_eq!(once.mean(&[1.0, 2.0]), twice.mean(&[1.0, 1.0]));
        assert_eq!(once.deviation(&[1.0, 2.0]), twice.deviation(&[1.0, 1.0]));
        assert_eq!(once.mean(&[0.0, 1.0]), 2.5);
        assert_eq!(once.share_of_highest(&[1.0, 1.0], 0.5), 11.0 / 15.0);
    }

    #[test]
    fn quantiles_by_hand() {
        let values = Values::new([(1.0, 0), (2.0, 0), (4.0, 0), (8.0, 0)]);
        assert_eq!(values.quantile(&[1.0], 0.5), 3.0);
        assert!((values.quantile(&[1.0], 0.9) - 6.8).abs() < 1e-12);
    }

    #[test]
    fn a_line_is_perfectly_correlated_and_a_rayleigh_law_has_shape_two() {
        let x: Vec<f64> = (0..50).map(|i| 1000.0 + f64::from(i)).collect();
        let pairs = Pairs::lagged(&x, &x, 3, &|i| i / 10);
        assert!((pairs.correlation(&[1.0, 0.0, 2.0, 1.0, 1.0]) - 1.0).abs() < 1e-9);
        let n = 20_000;
        let speeds = (0..n).map(|i| {
            (
                (-(1.0 - (f64::from(i) + 0.5) / f64::from(n)).ln()).sqrt(),
                0,
            )
        });
        let shape = Values::new(speeds).weibull_shape(&[1.0]);
        assert!((shape - 2.0).abs() < 0.01, "{shape}");
    }
}
