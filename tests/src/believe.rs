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

/// The whole table.
#[must_use]
pub fn table(real: &Record, years: &[Record]) -> Vec<Line> {
    let plain = |record: &Record| -> Vec<f64> {
        let weights = vec![1.0; blocks(record)];
        all(record).iter().map(|s| s.value(&weights)).collect()
    };
    let simulated: Vec<Vec<f64>> = years.iter().map(plain).collect();
    let values = plain(real);
    all(real)
        .iter()
        .zip(values)
        .zip(sampling_ranges(real))
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
