//! Sums, means and ranges into which the values of many intervals are folded.

use super::lanes::{GUST, LANES, Values};

/// Least, greatest, sum and number of what was present, per lane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Block {
    pub sum: Values,
    pub least: Values,
    pub most: Values,
    pub number: Values,
}

impl Block {
    pub(super) const EMPTY: Self = Self {
        sum: [0.0; LANES],
        least: [f64::INFINITY; LANES],
        most: [f64::NEG_INFINITY; LANES],
        number: [0.0; LANES],
    };

    #[inline]
    pub(super) fn add(&mut self, values: &Values) {
        for (lane, value) in values.iter().enumerate() {
            let present = !value.is_nan();
            self.sum[lane] += if present { *value } else { 0.0 };
            self.number[lane] += if present { 1.0 } else { 0.0 };
            // What is not a number compares as false and changes nothing.
            let (least, most) = (self.least[lane], self.most[lane]);
            self.least[lane] = if *value < least { *value } else { least };
            self.most[lane] = if *value > most { *value } else { most };
        }
    }

    pub(super) fn merge(&mut self, other: &Self) {
        for lane in 0..LANES {
            self.sum[lane] += other.sum[lane];
            self.number[lane] += other.number[lane];
            self.least[lane] = self.least[lane].min(other.least[lane]);
            self.most[lane] = self.most[lane].max(other.most[lane]);
        }
    }

    fn of(&self, lane: usize, value: f64) -> Option<f64> {
        (self.number[lane] > 0.0 && value.is_finite()).then_some(value)
    }
    /// Mean, `None` when nothing was present.
    pub(super) fn mean(&self, lane: usize) -> Option<f64> {
        self.of(lane, self.sum[lane] / self.number[lane])
    }
    /// Mean, of the gust the highest; `None` when nothing was present.
    pub(super) fn shown(&self, lane: usize) -> Option<f64> {
        if lane == GUST {
            self.most(lane)
        } else {
            self.mean(lane)
        }
    }
    /// Least, `None` when nothing was present.
    pub(super) fn least(&self, lane: usize) -> Option<f64> {
        self.of(lane, self.least[lane])
    }
    /// Greatest, `None` when nothing was present.
    pub(super) fn most(&self, lane: usize) -> Option<f64> {
        self.of(lane, self.most[lane])
    }
}

/// Sum and number of what was present, per lane.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Sums {
    sum: Values,
    number: Values,
}

impl Sums {
    const EMPTY: Self = Self {
        sum: [0.0; LANES],
        number: [0.0; LANES],
    };

    #[inline]
    fn add(&mut self, values: &Values) {
        for (lane, value) in values.iter().enumerate() {
            let present = !value.is_nan();
            self.sum[lane] += if present { *value } else { 0.0 };
            self.number[lane] += if present { 1.0 } else { 0.0 };
        }
    }

    fn merge(&mut self, sum: &Values, number: &Values) {
        for lane in 0..LANES {
            self.sum[lane] += sum[lane];
            self.number[lane] += number[lane];
        }
    }

    fn mean(&self, lane: usize) -> Option<f64> {
        (self.number[lane] > 0.0).then(|| self.sum[lane] / self.number[lane])
    }
}

/// Sum and number of what was present per lane, and the highest gust.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Means {
    sums: Sums,
    gust: f64,
}

impl Means {
    pub(super) const EMPTY: Self = Self {
        sums: Sums::EMPTY,
        gust: f64::NEG_INFINITY,
    };

    #[inline]
    pub(super) fn add(&mut self, values: &Values) {
        self.sums.add(values);
        if values[GUST] > self.gust {
            self.gust = values[GUST];
        }
    }

    pub(super) fn merge(&mut self, other: &Block) {
        self.sums.merge(&other.sum, &other.number);
        self.gust = self.gust.max(other.most[GUST]);
    }

    /// Sum and number of what was present.
    pub(super) fn parts(&self, lane: usize) -> (f64, f64) {
        (self.sums.sum[lane], self.sums.number[lane])
    }
    /// Mean, of the gust the highest; `None` when nothing was present.
    pub(super) fn shown(&self, lane: usize) -> Option<f64> {
        let mean = self.sums.mean(lane)?;
        let value = if lane == GUST { self.gust } else { mean };
        value.is_finite().then_some(value)
    }
}

/// Least and greatest of a signed quantity and 0, per lane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Range {
    least: Values,
    most: Values,
}

impl Range {
    pub(super) const EMPTY: Self = Self {
        least: [0.0; LANES],
        most: [0.0; LANES],
    };

    /// Widen the range; what is not a number stands for nothing.
    #[inline]
    pub(super) fn add(&mut self, values: &Values) {
        for (lane, value) in values.iter().enumerate() {
            let (least, most) = (self.least[lane], self.most[lane]);
            self.least[lane] = if *value < least { *value } else { least };
            self.most[lane] = if *value > most { *value } else { most };
        }
    }

    /// The end farther from 0 of each lane.
    pub(super) fn larger(&self) -> Values {
        let mut larger = self.most;
        for (lane, least) in self.least.iter().enumerate() {
            if -least > larger[lane] {
                larger[lane] = *least;
            }
        }
        larger
    }
}

/// Least, greatest, sum and number of one series.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Spread {
    pub sum: f64,
    pub least: f64,
    pub most: f64,
    pub number: u32,
}

impl Spread {
    pub(super) const EMPTY: Self = Self {
        sum: 0.0,
        least: f64::INFINITY,
        most: f64::NEG_INFINITY,
        number: 0,
    };

    pub(super) fn add(&mut self, value: f64) {
        if value.is_finite() {
            self.sum += value;
            self.least = self.least.min(value);
            self.most = self.most.max(value);
            self.number += 1;
        }
    }

    pub(super) fn mean(&self) -> Option<f64> {
        (self.number > 0).then(|| self.sum / f64::from(self.number))
    }
}

/// Difference from the truth, per lane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Deviation {
    sums: Sums,
    squares: Values,
}

impl Deviation {
    pub(super) const EMPTY: Self = Self {
        sums: Sums::EMPTY,
        squares: [0.0; LANES],
    };

    #[inline]
    pub(super) fn add(&mut self, differences: &Values) {
        self.sums.add(differences);
        for (square, difference) in self.squares.iter_mut().zip(differences) {
            *square += if difference.is_nan() {
                0.0
            } else {
                difference * difference
            };
        }
    }

    pub(super) fn joined(mut self, other: &Self) -> Self {
        self.sums.merge(&other.sums.sum, &other.sums.number);
        for (square, other) in self.squares.iter_mut().zip(other.squares) {
            *square += other;
        }
        self
    }

    /// Mean difference.
    pub(super) fn bias(&self, lane: usize) -> Option<f64> {
        self.sums.mean(lane)
    }
    /// Root of the mean squared difference.
    pub(super) fn rmse(&self, lane: usize) -> Option<f64> {
        let number = self.sums.number[lane];
        (number > 0.0).then(|| (self.squares[lane] / number).sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_block_leaves_out_what_is_missing() {
        let mut block = Block::EMPTY;
        let mut values = [f64::NAN; LANES];
        values[0] = 2.0;
        block.add(&values);
        values[0] = -4.0;
        block.add(&values);
        assert_eq!(block.mean(0), Some(-1.0));
        assert_eq!((block.least(0), block.most(0)), (Some(-4.0), Some(2.0)));
        assert_eq!((block.mean(1), block.least(1)), (None, None));
    }
}
