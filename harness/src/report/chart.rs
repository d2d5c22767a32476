//! Marks of a chart as SVG paths: lines, ranges, dots and bars over the bins of a timeline.
//!
//! A chart's own coordinates are half bins across and thousandths of its height down; the page stretches
//! them to whatever room there is and keeps strokes as they are, so nothing here knows of pixels.

use std::fmt::Write as _;

/// Height of a chart in its own coordinates.
pub(super) const HEIGHT: i64 = 1000;

/// What a chart shows from bottom to top.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Scale {
    pub low: f64,
    pub high: f64,
    /// Labelled values.
    pub ticks: Vec<f64>,
    /// Decimals of the labels.
    pub decimals: usize,
}

impl Scale {
    /// A scale from round value to round value around `low` and `high` with about `wanted` steps.
    pub(super) fn around(low: f64, high: f64, least_span: f64, wanted: usize) -> Self {
        let (mut low, mut high) = if low.is_finite() && high.is_finite() && low <= high {
            (low, high)
        } else {
            (0.0, least_span)
        };
        if high - low < least_span {
            let middle = f64::midpoint(low, high);
            (low, high) = (middle - least_span / 2.0, middle + least_span / 2.0);
        }
        let (step, decimals) = round_step((high - low) / wanted as f64);
        let first = (low / step + 1e-9).floor();
        let last = (high / step - 1e-9).ceil().max(first + 1.0);
        let steps = (last - first).min(50.0) as usize;
        Self {
            low: first * step,
            high: last * step,
            ticks: (0..=steps)
                .map(|tick| (first + tick as f64) * step)
                .collect(),
            decimals,
        }
    }

    /// A scale that begins at zero.
    pub(super) fn from_zero(high: f64, least_span: f64, wanted: usize) -> Self {
        Self::around(0.0, high.max(least_span), least_span, wanted)
    }

    /// A scale with given ends and labels.
    pub(super) fn fixed(low: f64, high: f64, ticks: &[f64]) -> Self {
        Self {
            low,
            high,
            ticks: ticks.to_vec(),
            decimals: 0,
        }
    }

    /// How far down a value lies, 0..=1.
    pub(super) fn depth(&self, value: f64) -> f64 {
        ((self.high - value) / (self.high - self.low)).clamp(0.0, 1.0)
    }

    fn y(&self, value: f64) -> i64 {
        (self.depth(value) * HEIGHT as f64).round() as i64
    }
}

/// The smallest of 1, 2, 5 times a power of ten that is not below `rough`, and its decimals.
fn round_step(rough: f64) -> (f64, usize) {
    // Powers of ten by counting, not by a logarithm, so that every machine finds the same.
    let mut power = 0_i32;
    let mut unit = 1.0_f64;
    while rough > 10.0 * unit && power < 300 {
        unit *= 10.0;
        power += 1;
    }
    while rough <= unit && power > -9 {
        power -= 1;
        unit = 1.0 / (0..-power).fold(1.0, |product, _| product * 10.0);
    }
    let step = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|digit| digit * unit)
        .find(|step| *step >= rough * (1.0 - 1e-9))
        .unwrap_or(unit);
    let decimals = if step >= 10.0 * unit {
        -power - 1
    } else {
        -power
    };
    (step, decimals.max(0) as usize)
}

/// Centre of a bin in a chart's coordinates.
fn centre(bin: usize) -> i64 {
    2 * bin as i64 + 1
}

/// A line through the values of the bins. It breaks where more than `bridge` bins lie between two
/// values; a value alone becomes a dash as wide as its bin.
pub(super) fn line(values: &[Option<f64>], scale: &Scale, bridge: usize) -> String {
    let mut path = String::new();
    let mut before: Option<(usize, i64)> = None;
    let mut alone = false;
    for (bin, value) in values.iter().enumerate() {
        let Some(y) = value.map(|value| scale.y(value)) else {
            continue;
        };
        match before {
            Some((last, last_y)) if bin - last <= bridge.max(1) => {
                let (dx, dy) = (2 * (bin - last) as i64, y - last_y);
                let _ = write!(path, "l{dx} {dy}");
                alone = false;
            }
            _ => {
                if alone {
                    path.push_str("m-1 0h2");
                }
                let _ = write!(path, "M{} {y}", centre(bin));
                alone = true;
            }
        }
        before = Some((bin, y));
    }
    if alone {
        path.push_str("m-1 0h2");
    }
    path
}

/// A closed area between two series, run by run.
pub(super) fn range(low: &[Option<f64>], high: &[Option<f64>], scale: &Scale) -> String {
    let mut path = String::new();
    let mut run: Vec<(usize, i64, i64)> = Vec::new();
    let pairs = low.iter().zip(high).map(Some).chain([None]);
    for (bin, pair) in pairs.enumerate() {
        match pair {
            Some((Some(low), Some(high))) => run.push((bin, scale.y(*high), scale.y(*low))),
            _ => {
                write_run(&mut path, &run);
                run.clear();
            }
        }
    }
    path
}

fn write_run(path: &mut String, run: &[(usize, i64, i64)]) {
    let (Some(first), Some(last)) = (run.first(), run.last()) else {
        return;
    };
    if run.len() == 1 {
        let (left, height) = (2 * first.0, first.2 - first.1);
        let _ = write!(path, "M{left} {}h2v{height}h-2z", first.1);
        return;
    }
    let _ = write!(path, "M{} {}", centre(first.0), first.1);
    for pair in run.windows(2) {
        let _ = write!(path, "l2 {}", pair[1].1 - pair[0].1);
    }
    let _ = write!(path, "V{}", last.2);
    for pair in run.windows(2).rev() {
        let _ = write!(path, "l-2 {}", pair[0].2 - pair[1].2);
    }
    path.push('z');
}

/// One dot per value, for what goes round in a circle; drawn by round line ends of no length.
pub(super) fn dots(values: &[Option<f64>], scale: &Scale) -> String {
    let mut path = String::new();
    for (bin, value) in values.iter().enumerate() {
        if let Some(value) = value {
            let _ = write!(path, "M{} {}h0", centre(bin), scale.y(*value));
        }
    }
    path
}

/// Bars from `base` to `top` over ranges of bins, each held to the middle `width` (0..=1) of its range.
pub(super) fn bars(
    ranges: &[(usize, usize)],
    base: &[f64],
    top: &[f64],
    width: f64,
    scale: &Scale,
) -> String {
    let mut path = String::new();
    for ((range, base), top) in ranges.iter().zip(base).zip(top) {
        let (upper, lower) = (scale.y(*top), scale.y(*base));
        if upper < lower {
            let (left, across) = middle_of(*range, width);
            let _ = write!(path, "M{left} {lower}V{upper}h{across}V{lower}z");
        }
    }
    path
}

/// Level marks at the height of `values` over ranges of bins; none at zero.
pub(super) fn levels(
    ranges: &[(usize, usize)],
    values: &[f64],
    width: f64,
    scale: &Scale,
) -> String {
    let mut path = String::new();
    for (range, value) in ranges.iter().zip(values) {
        if *value > 0.0 {
            let (left, across) = middle_of(*range, width);
            let _ = write!(path, "M{left} {}h{across}", scale.y(*value));
        }
    }
    path
}

fn middle_of((begin, end): (usize, usize), width: f64) -> (f64, f64) {
    let whole = 2.0 * (end - begin) as f64;
    let across = (whole * width * 100.0).round() / 100.0;
    let left = 2.0 * begin as f64 + (whole - across) / 2.0;
    ((left * 100.0).round() / 100.0, across)
}

/// Steps over the bins down to the foot of the chart: a share of each bin.
pub(super) fn steps(values: &[Option<f64>], scale: &Scale) -> String {
    let mut path = String::new();
    let mut level = HEIGHT;
    path.push_str("M0 1000");
    for value in values {
        let y = value.map_or(HEIGHT, |value| scale.y(value));
        if y == level {
            path.push_str("h2");
        } else {
            let _ = write!(path, "V{y}h2");
            level = y;
        }
    }
    path.push_str("V1000z");
    path
}

/// Whole-height bands over runs of bins for which `is_on` holds: `(first bin, bin after the last)`.
pub(super) fn runs(count: usize, is_on: impl Fn(usize) -> bool) -> Vec<(usize, usize)> {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for bin in (0..count).filter(|bin| is_on(*bin)) {
        match runs.last_mut() {
            Some(run) if run.1 == bin => run.1 = bin + 1,
            _ => runs.push((bin, bin + 1)),
        }
    }
    runs
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scales_are_round_and_hold_their_data() {
        for (low, high) in [
            (0.0, 1.0),
            (-3.2, 17.9),
            (1001.3, 1001.4),
            (0.0, 123_456.0),
            (5.0, 5.0),
            (f64::INFINITY, f64::NEG_INFINITY),
        ] {
            let scale = Scale::around(low, high, 0.1, 4);
            assert!(scale.low < scale.high);
            // Round values such as 0.05 are not exact, so an end may miss by a rounding.
            let slack = 1e-9 * high.abs().max(1.0);
            assert!(low > high || (scale.low <= low + slack && scale.high >= high - slack));
            assert!((2..=9).contains(&scale.ticks.len()), "{scale:?}");
        }
        let scale = Scale::around(-3.2, 17.9, 0.1, 4);
        assert_eq!(scale.ticks, [-10.0, 0.0, 10.0, 20.0]);
        assert_eq!(scale.decimals, 0);
        let scale = Scale::around(0.0, 0.9, 0.1, 4);
        assert_eq!((scale.ticks.len(), scale.decimals), (3, 1));
    }

    #[test]
    fn lines_break_where_values_are_missing() {
        let scale = Scale::fixed(0.0, 10.0, &[]);
        let values = [Some(10.0), Some(5.0), None, Some(0.0), None, None];
        assert_eq!(line(&values, &scale, 1), "M1 0l2 500M7 1000m-1 0h2");
        assert_eq!(line(&values, &scale, 2), "M1 0l2 500l4 500");
        assert_eq!(line(&[None, None], &scale, 1), "");
    }

    #[test]
    fn ranges_close_each_run() {
        let scale = Scale::fixed(0.0, 10.0, &[]);
        let low = [Some(0.0), Some(0.0), None, Some(2.0)];
        let high = [Some(10.0), Some(5.0), Some(1.0), Some(4.0)];
        assert_eq!(
            range(&low, &high, &scale),
            "M1 0l2 500V1000l-2 0zM6 600h2v200h-2z"
        );
    }

    #[test]
    fn runs_join_neighbours() {
        let on = [true, true, false, true];
        assert_eq!(runs(4, |bin| on[bin]), [(0, 2), (3, 4)]);
    }
}
