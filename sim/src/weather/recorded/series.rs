//! A smooth curve through values at unequal times, without overshoot.

/// A piecewise cubic through all its points, monotone where they are: Fritsch & Butland 1984, SIAM J. Sci.
/// Stat. Comput. 5 (weighted harmonic mean of the neighbouring slopes). Held constant beyond the ends.
#[derive(Debug, Clone)]
pub(super) struct Series {
    times: Vec<f64>,
    values: Vec<f64>,
    slopes: Vec<f64>,
}

impl Series {
    /// From at least one point, times rising.
    pub(super) fn new(times: Vec<f64>, values: Vec<f64>) -> Self {
        let n = values.len();
        let mut slopes = vec![0.0; n];
        for i in 1..n.saturating_sub(1) {
            let (before, after) = (times[i] - times[i - 1], times[i + 1] - times[i]);
            let left = (values[i] - values[i - 1]) / before;
            let right = (values[i + 1] - values[i]) / after;
            if left * right > 0.0 {
                let (a, b) = (2.0 * after + before, after + 2.0 * before);
                slopes[i] = (a + b) / (a / left + b / right);
            }
        }
        Self {
            times,
            values,
            slopes,
        }
    }

    pub(super) fn at(&self, time: f64) -> f64 {
        let next = self.times.partition_point(|&t| t <= time);
        if next == 0 {
            return self.values[0];
        }
        let i = next - 1;
        if next == self.times.len() || self.times[i] == time {
            return self.values[i];
        }
        let length = self.times[next] - self.times[i];
        let x = (time - self.times[i]) / length;
        let y = 1.0 - x;
        self.values[i] * y * y * (1.0 + 2.0 * x)
            + self.values[next] * x * x * (1.0 + 2.0 * y)
            + length * x * y * (self.slopes[i] * y - self.slopes[next] * x)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_keeps_its_points_and_does_not_overshoot() {
        let times = vec![0.0, 1.0, 2.5, 3.0, 7.0];
        let values = vec![1.0, 4.0, 4.0, 2.0, 9.0];
        let series = Series::new(times.clone(), values.clone());
        for (t, v) in times.iter().zip(&values) {
            assert_eq!(series.at(*t), *v);
        }
        for i in 0..1000 {
            let t = f64::from(i) * 0.007;
            let k = times.partition_point(|&x| x <= t).clamp(1, 4);
            let (a, b) = (values[k - 1], values[k]);
            let v = series.at(t);
            assert!(v >= a.min(b) - 1e-12 && v <= a.max(b) + 1e-12, "{t} {v}");
        }
        assert_eq!(series.at(-5.0), 1.0);
        assert_eq!(series.at(50.0), 9.0);
    }

    #[test]
    fn it_is_smooth_at_its_points() {
        let series = Series::new(vec![0.0, 1.0, 2.0, 4.0], vec![0.0, 1.0, 3.0, 4.0]);
        for t in [1.0, 2.0] {
            let before = (series.at(t) - series.at(t - 1e-6)) / 1e-6;
            let after = (series.at(t + 1e-6) - series.at(t)) / 1e-6;
            assert!((before - after).abs() < 1e-4, "{before} {after}");
        }
    }
}
