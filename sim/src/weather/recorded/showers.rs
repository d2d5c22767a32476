//! Rain between two records, spread over time so that the total is kept exactly.

use super::super::noise::smooth_step;
use super::super::rain::{Fall, cascade};
use super::Record;
use crate::entropy::Key;

/// Cloud stands over the rain this long before and after it, s (common practice, no source).
const CLOUD_MARGIN_S: f64 = 1800.0;
const PIECES: usize = 128;

/// Intensity at which a break in the rain is 1/e as likely as in drizzle, mm/h (common practice, no source).
const UNBROKEN_MMH: f64 = 2.0;
/// Intensity of rain's beginning and end over its mean (common practice, no source).
const EDGE: f64 = 0.3;

/// The rain of one record: all of it falls between `start_s` and `end_s`.
#[derive(Debug, Clone, Copy)]
struct Burst {
    start_s: f64,
    end_s: f64,
    depth_mm: f64,
    number: i64,
    /// Intensity at either end over the mean.
    edges: [f64; 2],
    /// Breaks: from and to, as shares of the length; empty ones begin where they end.
    breaks: [(f64, f64); 2],
}

impl Burst {
    /// Intensity at a share of the length, relative: straight from either end to the middle.
    fn shape(&self, x: f64) -> f64 {
        if self.breaks.iter().any(|&(from, to)| from <= x && x < to) {
            return 0.0;
        }
        let middle = (2.0 - 0.5 * (self.edges[0] + self.edges[1])).max(0.3);
        let edge = self.edges[usize::from(x > 0.5)];
        edge + (middle - edge) * (1.0 - (2.0 * x - 1.0).abs())
    }

    /// Running sums of the shares of the total: the shape, roughened by a random cascade.
    fn sums(&self, key: Key) -> [f64; PIECES + 1] {
        let rough: [f64; PIECES + 1] = cascade(key, self.number, 1.0);
        let mut sums = [0.0; PIECES + 1];
        for i in 0..PIECES {
            let shape = self.shape((i as f64 + 0.5) / PIECES as f64);
            sums[i + 1] = sums[i] + shape * (rough[i + 1] - rough[i]);
        }
        let whole = sums[PIECES];
        for sum in &mut sums {
            *sum /= whole;
        }
        sums
    }
}

/// All rain of a series of records.
///
/// A record's total falls within its own interval. If the neighbouring interval is wet, the rain reaches
/// that side; else it takes a random part of the interval, the longer the more of it there is (common
/// practice, no source). Inside, it rises and falls towards its neighbours, breaks off for a while the
/// more likely the lighter it is, and is roughened by a random cascade.
#[derive(Debug, Clone)]
pub(super) struct Showers {
    key: Key,
    bursts: Vec<Burst>,
    /// First burst that may still matter.
    current: usize,
    spread: i64,
    sums: [f64; PIECES + 1],
}

impl Showers {
    pub(super) fn new(records: &[Record], key: Key) -> Self {
        let depth = |i: usize| {
            records
                .get(i)
                .and_then(|r| r.rainfall_mm)
                .unwrap_or_default()
        };
        let mut bursts = Vec::new();
        for i in 1..records.len() {
            let depth_mm = depth(i);
            if depth_mm <= 0.0 {
                continue;
            }
            let from_s = super::super::seconds(records[i - 1].time_us);
            let to_s = super::super::seconds(records[i].time_us);
            let (before, after) = (i > 1 && depth(i - 1) > 0.0, depth(i + 1) > 0.0);
            let mut stream = key.stream(-1 - i as i64);
            let (u, place) = (stream.uniform(), stream.uniform());
            let hours = (to_s - from_s) / 3600.0;
            let part = (0.15 + 0.6 * u + 0.12 * depth_mm / hours).min(1.0);
            let length = part * (to_s - from_s);
            let (start_s, end_s) = match (before, after) {
                (true, true) => (from_s, to_s),
                (true, false) => (from_s, from_s + length),
                (false, true) => (to_s - length, to_s),
                (false, false) => {
                    let start = from_s + place * (to_s - from_s - length);
                    (start, (start + length).min(to_s))
                }
            };
            let rate = |i: usize| {
                let length_s = super::super::seconds(records[i].time_us)
                    - super::super::seconds(records[i - 1].time_us);
                depth(i) / length_s
            };
            let edge = |wet: bool, other: usize| {
                if wet {
                    (0.5 + 0.5 * rate(other) / rate(i)).min(1.7)
                } else {
                    EDGE
                }
            };
            let edges = [edge(before, i - 1), edge(after, i + 1)];
            let mmh = depth_mm * 3600.0 / (end_s - start_s);
            let likely = 0.8 * libm::exp(-mmh / UNBROKEN_MMH);
            let breaks = core::array::from_fn(|n| {
                let [luck, at, long] = core::array::from_fn(|_| stream.uniform());
                let from = 0.1 + 0.4 * n as f64 + 0.2 * at;
                let broken = luck < likely;
                (from, from + if broken { 0.05 + 0.15 * long } else { 0.0 })
            });
            bursts.push(Burst {
                start_s,
                end_s,
                depth_mm,
                number: i as i64,
                edges,
                breaks,
            });
        }
        Self {
            key,
            bursts,
            current: 0,
            spread: 0,
            sums: [0.0; PIECES + 1],
        }
    }

    /// Share of a burst that has fallen at an instant within it.
    fn share(&mut self, burst: &Burst, time_s: f64) -> f64 {
        if time_s <= burst.start_s {
            return 0.0;
        }
        if time_s >= burst.end_s {
            return 1.0;
        }
        if self.spread != burst.number {
            self.spread = burst.number;
            self.sums = burst.sums(self.key);
        }
        let x = (time_s - burst.start_s) / (burst.end_s - burst.start_s) * PIECES as f64;
        let piece = (x as usize).min(PIECES - 1);
        let (a, b) = (self.sums[piece], self.sums[piece + 1]);
        a + (b - a) * (x - piece as f64)
    }

    /// The rain's own cloud at an instant (0 to 1) and the mean intensity of the rain nearest to it, mm/h.
    pub(super) fn overhead(&self, time_s: f64) -> (f64, f64) {
        let next = self.bursts.partition_point(|b| b.end_s <= time_s);
        let near = &self.bursts[next.saturating_sub(1)..self.bursts.len().min(next + 1)];
        let mut over = (0.0, 0.0);
        for burst in near {
            let away_s = (burst.start_s - time_s).max(time_s - burst.end_s).max(0.0);
            let cloud = smooth_step(0.0, 1.0, 1.0 - away_s / CLOUD_MARGIN_S);
            if cloud > over.0 {
                let hours = (burst.end_s - burst.start_s) / 3600.0;
                over = (cloud, burst.depth_mm / hours);
            }
        }
        over
    }

    /// What falls from `from_s` to `to_s`; time must not run backwards between calls.
    pub(super) fn fall(&mut self, from_s: f64, to_s: f64) -> Fall {
        let mut fall = Fall::default();
        while self
            .bursts
            .get(self.current)
            .is_some_and(|burst| burst.end_s + CLOUD_MARGIN_S < from_s)
        {
            self.current += 1;
        }
        let mut index = self.current;
        while let Some(&burst) = self.bursts.get(index) {
            if burst.start_s - CLOUD_MARGIN_S >= to_s {
                break;
            }
            if burst.start_s < to_s && burst.end_s > from_s {
                let share = self.share(&burst, to_s) - self.share(&burst, from_s);
                fall.depth_mm += burst.depth_mm * share;
                fall.cloud = 1.0;
            } else {
                let away_s = (burst.start_s - to_s).max(from_s - burst.end_s);
                let cloud = smooth_step(0.0, 1.0, 1.0 - away_s / CLOUD_MARGIN_S);
                fall.cloud = fall.cloud.max(cloud);
            }
            index += 1;
        }
        fall
    }
}
