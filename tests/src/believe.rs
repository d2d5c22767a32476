//! The table: each statistic of a real year, its sampling range, and the simulated years beside it.

use crate::hourly::Record;
use crate::statistics::{BLOCK_H, all, blocks};
use benchmast_sim::entropy::Seed;

/// Resamplings of the blocks.
pub const REPLICATES: usize = 500;

/// One line of the table.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// What it is.
    pub name: String,
    /// Value of the real year.
    pub real: f64,
    /// Its one-year sampling range, 5 and 95 percent.
    pub range: (f64, f64),
    /// The range widened by half (a quarter of its width on each side, at least half a step of the record).
    pub allowed: (f64, f64),
    /// Value of each simulated year.
    pub years: Vec<f64>,
}

impl Line {
    /// Mean of the simulated years.
    #[must_use]
    pub fn simulated(&self) -> f64 {
        self.years.iter().sum::<f64>() / self.years.len() as f64
    }

    /// Lowest and highest simulated year.
    #[must_use]
    pub fn spread(&self) -> (f64, f64) {
        let fold = |f: fn(f64, f64) -> f64, from| self.years.iter().copied().fold(from, f);
        (fold(f64::min, f64::MAX), fold(f64::max, f64::MIN))
    }

    /// Whether the mean of the simulated years lies in the widened range.
    #[must_use]
    pub fn inside(&self) -> bool {
        let mean = self.simulated();
        self.allowed.0 <= mean && mean <= self.allowed.1
    }
}

/// 5 and 95 percent of each statistic under resampling of whole ten-day blocks, `REPLICATES` times.
#[must_use]
pub fn sampling_ranges(record: &Record) -> Vec<(f64, f64)> {
    let statistics = all(record);
    let whole = record.len() / BLOCK_H - 1;
    let mut luck = Seed(10).stream("resampling", "blocks");
    let mut drawn: Vec<Vec<f64>> = vec![Vec::with_capacity(REPLICATES); statistics.len()];
    for _ in 0..REPLICATES {
        let mut weights = vec![0.0; blocks(record)];
        for _ in 0..whole {
            weights[(luck.uniform() * whole as f64) as usize] += 1.0;
        }
        for (statistic, values) in statistics.iter().zip(&mut drawn) {
            values.push(statistic.value(&weights));
        }
    }
    drawn
        .into_iter()
        .map(|values| {
            let sample = crate::sample::Values::new(values.into_iter().map(|v| (v, 0)));
            (sample.quantile(&[1.0], 0.05), sample.quantile(&[1.0], 0.95))
        })
        .collect()
}

/// The whole table; `ranges` are the real record's [`sampling_ranges`].
#[must_use]
pub fn table(real: &Record, ranges: &[(f64, f64)], years: &[Record]) -> Vec<Line> {
    let plain = |record: &Record| -> Vec<f64> {
        let weights = vec![1.0; blocks(record)];
        all(record).iter().map(|s| s.value(&weights)).collect()
    };
    let simulated: Vec<Vec<f64>> = years.iter().map(plain).collect();
    let values = plain(real);
    all(real)
        .iter()
        .zip(values)
        .zip(ranges.iter().copied())
        .enumerate()
        .map(|(i, ((statistic, value), range))| {
            let wider = (0.25 * (range.1 - range.0)).max(0.5 * statistic.grain);
            Line {
                name: statistic.name.clone(),
                real: value,
                range,
                allowed: (range.0 - wider, range.1 + wider),
                years: simulated.iter().map(|year| year[i]).collect(),
            }
        })
        .collect()
}

/// A number in four figures or so.
#[must_use]
pub fn short(x: f64) -> String {
    match x.abs() {
        a if a >= 100.0 => format!("{x:.1}"),
        a if a >= 10.0 => format!("{x:.2}"),
        a if a >= 1.0 => format!("{x:.3}"),
        _ => format!("{x:.4}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::open_year;
    use std::sync::LazyLock;

    static RANGES: LazyLock<Vec<(f64, f64)>> =
        LazyLock::new(|| sampling_ranges(&open_year::read()));

    /// The same statistics of the same year worked out with numpy 2.4.6, scipy 1.17.1 and pandas 3.1.1 from
    /// the same definitions, in four figures; `first_350_days` and the range belong to the first 8400 hours
    /// and another generator's 500 resamplings.
    const COMPUTED: &str = include_str!("../data/open_year_statistics.csv");

    fn rows() -> Vec<(String, [Option<f64>; 4])> {
        let mut reader = csv::Reader::from_reader(COMPUTED.as_bytes());
        let rows = reader.records().map(|row| {
            let row = row.unwrap();
            (row[0].to_owned(), [1, 2, 3, 4].map(|i| row[i].parse().ok()))
        });
        rows.collect()
    }

    fn by_name(record: &Record) -> Vec<(String, f64)> {
        let weights = vec![1.0; blocks(record)];
        let list = all(record);
        list.iter()
            .map(|s| (s.name.clone(), s.value(&weights)))
            .collect()
    }

    fn of(values: &[(String, f64)], name: &str) -> f64 {
        let found = values.iter().find(|v| v.0 == name);
        found.unwrap_or_else(|| panic!("{name} is in the table")).1
    }

    #[test]
    fn the_open_year_has_the_statistics_that_others_compute() {
        let values = by_name(&open_year::read());
        let mut seen = 0;
        for (name, [year, ..]) in rows() {
            let Some(wanted) = year else { continue };
            let value = of(&values, &name);
            // Four figures; an hour whose departure is 8 hPa but for rounding may fall to either side.
            let figures = if name.contains("p anomaly") {
                2e-3
            } else {
                6e-4
            };
            let allowed = (figures * wanted.abs()).max(1e-5);
            assert!(
                (value - wanted).abs() <= allowed,
                "{name}: {value}, not {wanted}"
            );
            seen += 1;
        }
        assert!(seen >= 100, "{seen}");
    }

    #[test]
    fn the_first_blocks_and_their_sampling_range_agree_with_another_bootstrap() {
        let head = open_year::read().head(8400);
        let values = by_name(&head);
        let ranges = &*RANGES;
        let mut seen = 0;
        for (name, [_, wanted, low, high]) in rows() {
            let (Some(wanted), Some(low), Some(high)) = (wanted, low, high) else {
                continue;
            };
            let value = of(&values, &name);
            let width = high - low;
            // Days at the ends count a little differently there.
            let allowed = if name.contains("dai") || name.contains("day") {
                0.06 * width
            } else {
                6e-4 * wanted.abs()
            };
            assert!(
                (value - wanted).abs() <= allowed,
                "{name}: {value}, not {wanted}"
            );
            let at = values.iter().position(|v| v.0 == name).unwrap();
            // The ends of a range from 500 replicates scatter by some percent of its width, more where it is skewed, and the anomalies there know a shorter year; rain amounts
            // move in steps of 0.254 mm.
            let allowed = 0.2 * width + if name.contains("mm") { 0.26 } else { 0.0 };
            let (a, b) = ranges[at];
            let allowed = if name.contains("annual") {
                0.2 * width
            } else {
                allowed
            };
            assert!((a - low).abs() <= allowed, "{name}: from {a}, not {low}");
            assert!((b - high).abs() <= allowed, "{name}: to {b}, not {high}");
            seen += 1;
        }
        assert_eq!(seen, 32);
    }

    #[test]
    fn a_year_is_believed_beside_itself_and_a_shuffled_one_is_not() {
        let real = open_year::read();
        let lines = table(&real, &RANGES, std::slice::from_ref(&real));
        assert!(lines.len() >= 45);
        assert!(lines.iter().all(Line::inside));
        let mut shuffled = real.clone();
        // Every seventh hour in turn: the same values, no weather.
        let order = (0..7).flat_map(|k| (k..real.len()).step_by(7));
        shuffled.hours = order.map(|i| real.hours[i]).collect();
        let inside = table(&real, &RANGES, &[shuffled])
            .iter()
            .filter(|l| l.inside())
            .count();
        assert!(inside < lines.len() * 2 / 3, "{inside} of {}", lines.len());
    }
}
