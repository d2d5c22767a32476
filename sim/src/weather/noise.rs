//! Smooth random curves that are a function of time alone.

use crate::entropy::Key;

/// A curve with mean 0 and standard deviation near 1 that forgets itself in about two periods: a
/// uniform cubic B-spline over independent normals, one a period. Twice differentiable, so that its
/// rate can drive other quantities; any instant can be asked for, in any order.
#[derive(Debug, Clone)]
pub(crate) struct Curve {
    key: Key,
    per_second: f64,
    cell: i64,
    nodes: [f64; 4],
}

/// Mean square of a uniform cubic B-spline's weights summed over its four nodes: 151/315.
const MEAN_SQUARE: f64 = 151.0 / 315.0;

impl Curve {
    pub(crate) fn new(key: Key, period_s: f64) -> Self {
        let mut curve = Self {
            key,
            per_second: 1.0 / period_s,
            cell: 0,
            nodes: [0.0; 4],
        };
        curve.load(0);
        curve
    }

    fn load(&mut self, cell: i64) {
        let scale = 1.0 / libm::sqrt(MEAN_SQUARE);
        let node = |number: i64| self.key.stream(number).normal() * scale;
        // One on or one back, and three nodes stay.
        match cell.wrapping_sub(self.cell) {
            1 => {
                let [_, b, c, d] = self.nodes;
                self.nodes = [b, c, d, node(cell + 2)];
            }
            -1 => {
                let [a, b, c, _] = self.nodes;
                self.nodes = [node(cell - 1), a, b, c];
            }
            _ => self.nodes = core::array::from_fn(|i| node(cell + i as i64 - 1)),
        }
        self.cell = cell;
    }

    /// Value and rate of change per second.
    pub(crate) fn at(&mut self, time_s: f64) -> (f64, f64) {
        let position = time_s * self.per_second;
        let cell = floor(position);
        if cell != self.cell {
            self.load(cell);
        }
        let x = position - cell as f64;
        let y = 1.0 - x;
        let [a, b, c, d] = self.nodes;
        let value = (a * y * y * y
            + b * (4.0 - 6.0 * x * x + 3.0 * x * x * x)
            + c * (4.0 - 6.0 * y * y + 3.0 * y * y * y)
            + d * x * x * x)
            / 6.0;
        let rate =
            (-a * y * y + b * (3.0 * x * x - 4.0 * x) + c * (4.0 * y - 3.0 * y * y) + d * x * x)
                * (0.5 * self.per_second);
        (value, rate)
    }

    pub(crate) fn value(&mut self, time_s: f64) -> f64 {
        self.at(time_s).0
    }
}

/// The largest whole number not above `x`, for numbers far inside the range of `i64`: a cast, where the
/// portable library would take a dozen instructions.
pub(crate) fn floor(x: f64) -> i64 {
    let whole = x as i64;
    if x < whole as f64 { whole - 1 } else { whole }
}

/// A smooth step from 0 at `low` to 1 at `high`.
pub(crate) fn smooth_step(low: f64, high: f64, x: f64) -> f64 {
    let t = ((x - low) / (high - low)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// A normal variate made into one of spread 1 whose large values are larger and whose small ones are smaller: the
/// spread of `a x + b x^3` is the root of `a^2 + 6 a b + 15 b^2`. Bounded where the cube would run away.
pub(crate) fn sharpened(x: f64) -> f64 {
    let x = x.clamp(-3.2, 3.2);
    x * (0.5 + 0.145 * x * x)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::entropy::Seed;

    #[test]
    fn the_curve_has_unit_spread_and_its_rate_is_its_derivative() {
        let mut curve = Curve::new(Seed(5).key("test", "curve"), 100.0);
        let n = 200_000;
        let mut squares = 0.0;
        for i in 0..n {
            let t = f64::from(i) * 17.0;
            let (value, rate) = curve.at(t);
            squares += value * value;
            let difference = (curve.value(t + 0.01) - curve.value(t - 0.01)) / 0.02;
            assert!((difference - rate).abs() < 1e-6, "{difference} {rate}");
        }
        let variance = squares / f64::from(n);
        assert!((variance - 1.0).abs() < 0.05, "{variance}");
    }

    #[test]
    fn floor_rounds_down() {
        for x in [-2.0, -1.5, -1e-20, 0.0, 0.5, 1.0, 1.999, 1e9 + 0.5] {
            assert_eq!(floor(x) as f64, libm::floor(x), "{x}");
        }
    }

    #[test]
    fn the_curve_is_the_same_in_any_order() {
        let key = Seed(5).key("test", "curve");
        let (mut forth, mut back) = (Curve::new(key, 60.0), Curve::new(key, 60.0));
        let there: Vec<f64> = (0..500).map(|i| forth.value(f64::from(i) * 13.0)).collect();
        let mut again: Vec<f64> = (0..500)
            .rev()
            .map(|i| back.value(f64::from(i) * 13.0))
            .collect();
        again.reverse();
        assert_eq!(there, again);
    }
}
