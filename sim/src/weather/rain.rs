//! Rain: clusters of cells in the phases of a system, down to seconds.
//!
//! A rectangular-pulse model in the manner of Bartlett and Lewis (Rodriguez-Iturbe, Cox & Isham 1987):
//! within a phase, cells start at random (Poisson), last an exponential time and have an exponential
//! intensity; what is new is only that the "storms" are the fronts of the passing systems. Inside a cell,
//! the rate varies by a random cascade down to some 20 s. The fallen depth is an integral of a function of
//! time, so any interval gets exactly its share.

use super::climate::MonthPoint;
use super::noise::{floor, smooth_step};
use super::region::Offset;
use super::synoptic::{System, Train};
use crate::entropy::{Key, Seed};
use std::collections::VecDeque;

const HOUR_S: f64 = 3600.0;
/// Cloud stands over a shower this long before and after its rain, s (common practice, no source).
const CLOUD_MARGIN_S: f64 = 900.0;
/// Longest cell, s.
const LONGEST_CELL_S: f64 = 6.0 * HOUR_S;

/// One phase of a system in which cells may fall.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Phase {
    pub(crate) start_s: f64,
    pub(crate) end_s: f64,
    /// Cells an hour.
    pub(crate) rate: f64,
    /// Mean length of a cell, h.
    pub(crate) cell_h: f64,
    /// Mean intensity, relative.
    pub(crate) intensity: f64,
    /// Share of the intensity that the cascade moves about.
    pub(crate) unevenness: f64,
}

/// The phases that a system may bring, each with its chance: warm front, warm sector, cold front, showers
/// behind, thunderstorms ahead. Figures: common practice, no source; `abundance` is fitted to the normals.
pub(crate) fn possible_phases(
    system: &System,
    abundance: f64,
    longitude_deg: f64,
) -> [(f64, Phase); 5] {
    let wet = system.strength * system.wetness;
    let likely = abundance.sqrt();
    let summer = (0.5 - 0.5 * system.winterness).clamp(0.0, 1.0);
    let at = |hours: f64| system.front_s + hours * HOUR_S;
    let rate = likely * (0.35 + 0.65 * wet).min(1.8);
    // Afternoon of the day before or of the front, by local mean solar time.
    let east_s = longitude_deg * 240.0;
    let noon_s = floor((system.front_s + east_s - 15.0 * HOUR_S) / 86_400.0) as f64 * 86_400.0
        + 12.0 * HOUR_S
        - east_s;
    // Start, end, chance, (cells an hour, length of a cell in h, intensity, unevenness).
    let table = [
        (
            at(-system.warm_h - system.ahead_h),
            at(-system.warm_h + 1.0),
            0.75 * wet.min(1.0) * (1.0 - 0.45 * summer),
            (1.9, 0.9, 1.0, 0.55),
        ),
        (
            at(-system.warm_h + 1.0),
            at(-1.0),
            0.4,
            (0.22, 0.6, 0.35, 0.5),
        ),
        (
            at(-1.0),
            at(1.2),
            0.45 + 0.5 * wet.min(1.0),
            (3.2, 0.35, 2.6 + 1.5 * summer, 0.8),
        ),
        (at(4.0), at(20.0), 0.7, (0.2, 0.25, 2.0 + summer, 0.9)),
        (
            noon_s + 1.5 * HOUR_S,
            noon_s + 8.0 * HOUR_S,
            0.8 * summer,
            (0.3, 0.45, 6.0, 0.9),
        ),
    ];
    table.map(
        |(start_s, end_s, chance, (cells, cell_h, intensity, unevenness))| {
            let phase = Phase {
                start_s,
                end_s: end_s.max(start_s),
                rate: cells * rate,
                cell_h,
                intensity: intensity * (0.5 + 0.5 * wet),
                unevenness,
            };
            ((chance * likely).min(0.97), phase)
        },
    )
}

/// The phases that a system does bring.
pub(crate) fn phases(system: &System, abundance: f64, longitude_deg: f64) -> [Option<Phase>; 5] {
    let possible = possible_phases(system, abundance, longitude_deg);
    core::array::from_fn(|i| (system.chances[i] < possible[i].0).then_some(possible[i].1))
}

impl Phase {
    /// Expected number of clock hours with rain in them.
    pub(crate) fn wet_hours(&self) -> f64 {
        let hours = (self.end_s - self.start_s) / HOUR_S;
        // A clock hour is dry when no cell touches it: none starts in it or reaches into it.
        let inside = hours * (1.0 - libm::exp(-self.rate * (1.0 + self.cell_h)));
        inside + (1.0 - libm::exp(-self.rate * hours)) * (0.5 + 0.5 * self.cell_h).min(1.0)
    }
    /// Expected depth, in units of the fitted intensity.
    pub(crate) fn depth(&self) -> f64 {
        (self.end_s - self.start_s) / HOUR_S * self.rate * self.cell_h * self.intensity
    }
}

/// One cell.
#[derive(Debug, Clone, Copy)]
struct Cell {
    start_s: f64,
    end_s: f64,
    /// mm/s.
    rate: f64,
    unevenness: f64,
}

/// What fell and what hangs overhead in an interval.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Fall {
    pub(crate) depth_mm: f64,
    /// 0 to 1: how much of the sky the rain's own cloud takes at the end of the interval.
    pub(crate) cloud: f64,
    /// Cold outflow at the end of the interval; `None` where there is none, which is nearly always.
    pub(crate) outflow: Option<Outflow>,
}

/// What the cold outflow of convective cells does to the air at the point, on top of the slow state.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Outflow {
    /// How far the air has gone from its own state to its wet bulb, 0 to 1.
    pub(crate) cooled: f64,
    /// Pressure jump, hPa.
    pub(crate) pressure_hpa: f64,
    /// Wind blowing out of the cell at 10 m, towards east and north, m/s.
    pub(crate) east_ms: f64,
    pub(crate) north_ms: f64,
}

/// The rain at one point of the region.
#[derive(Debug, Clone)]
pub(crate) struct Rain {
    train: Train,
    cells_key: Key,
    texture: Texture,
    abundance: [f64; 12],
    intensity_mmh: [f64; 12],
    longitude_deg: f64,
    offset: Offset,
    next_system: Option<i64>,
    cells: VecDeque<Cell>,
    /// No cell, nor its cloud, before this instant.
    quiet_until_s: f64,
}

impl Rain {
    pub(crate) fn new(
        train: Train,
        seed: Seed,
        owner: &str,
        longitude_deg: f64,
        offset: Offset,
        abundance: [f64; 12],
        intensity_mmh: [f64; 12],
    ) -> Self {
        Self {
            train,
            cells_key: seed.key(owner, "rain cells"),
            texture: Texture::new(seed.key(owner, "rain texture")),
            abundance,
            intensity_mmh,
            longitude_deg,
            offset,
            next_system: None,
            cells: VecDeque::new(),
            quiet_until_s: f64::NEG_INFINITY,
        }
    }

    /// Makes the cells of every system that may rain before `time_s`.
    fn prepare(&mut self, time_s: f64, flow: (f64, f64)) {
        // Phases reach from 25 h before the front to 20 h after; lags add some hours.
        let last = Train::interval(time_s + 40.0 * HOUR_S);
        let mut next = *self
            .next_system
            .get_or_insert_with(|| Train::interval(time_s - 60.0 * HOUR_S));
        if next > last {
            return;
        }
        while next <= last {
            self.add_system(next, flow);
            next += 1;
        }
        self.next_system = Some(next);
        self.cells
            .make_contiguous()
            .sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
        self.quiet_until_s = f64::NEG_INFINITY;
    }

    fn add_system(&mut self, number: i64, flow: (f64, f64)) {
        let system = self.train.system(number);
        let lag_s = system.lag_s(self.offset, flow);
        let month = MonthPoint::at(system.front_s);
        let intensity = month.of(&self.intensity_mmh).max(0.0) / HOUR_S;
        let phases = phases(
            &system,
            month.of(&self.abundance).max(0.0),
            self.longitude_deg,
        );
        for (phase, index) in phases.into_iter().zip(0..) {
            let Some(phase) = phase else { continue };
            let mut stream = self.cells_key.stream(number * 8 + index);
            let mut start_s = phase.start_s;
            loop {
                start_s += stream.exponential() / phase.rate * HOUR_S;
                if start_s >= phase.end_s {
                    break;
                }
                let length_s =
                    (stream.exponential() * phase.cell_h * HOUR_S).clamp(60.0, LONGEST_CELL_S);
                let rate = intensity * phase.intensity * stream.exponential();
                self.cells.push_back(Cell {
                    start_s: start_s + lag_s,
                    end_s: start_s + lag_s + length_s,
                    rate,
                    unevenness: phase.unevenness,
                });
            }
        }
    }

    /// Clock hours with rain and depth (mm) of a run of systems: the cells counted one by one, for the fit.
    pub(crate) fn count(&mut self, systems: core::ops::Range<i64>) -> (f64, f64) {
        self.cells.clear();
        for number in systems {
            self.add_system(number, (1.0, 0.0));
        }
        let hour = |time_s: f64| floor(time_s * (1.0 / HOUR_S));
        let mut hours: Vec<i64> = self
            .cells
            .iter()
            .flat_map(|cell| hour(cell.start_s)..=hour(cell.end_s))
            .collect();
        hours.sort_unstable();
        hours.dedup();
        let depth = self.cells.iter().map(|c| c.rate * (c.end_s - c.start_s));
        (hours.len() as f64, depth.sum())
    }

    /// Mean rate over an interval ahead of the present, mm/h, without the finest structure.
    pub(crate) fn smooth_rate_mmh(&mut self, from_s: f64, to_s: f64, flow: (f64, f64)) -> f64 {
        self.prepare(to_s, flow);
        let mut depth = 0.0;
        for cell in &self.cells {
            if cell.start_s >= to_s {
                break;
            }
            let (a, b) = (cell.start_s.max(from_s), cell.end_s.min(to_s));
            if b > a {
                depth += cell.rate * (b - a);
            }
        }
        depth / (to_s - from_s) * HOUR_S
    }

    /// What falls from `from_s` to `to_s`. Time must not run backwards between calls.
    pub(crate) fn fall(&mut self, from_s: f64, to_s: f64) -> Fall {
        if to_s < self.quiet_until_s {
            return Fall::default();
        }
        while self
            .cells
            .front()
            .is_some_and(|cell| cell.end_s + CLOUD_MARGIN_S < from_s)
        {
            self.cells.pop_front();
        }
        self.quiet_until_s = self
            .cells
            .front()
            .map_or(f64::INFINITY, |cell| cell.start_s - CLOUD_MARGIN_S);
        let mut fall = Fall::default();
        for cell in &self.cells {
            if cell.start_s - CLOUD_MARGIN_S >= to_s {
                break;
            }
            let (a, b) = (cell.start_s.max(from_s), cell.end_s.min(to_s));
            if b > a {
                let even = b - a;
                let uneven = self.texture.integral(a, b);
                fall.depth_mm += cell.rate * (even + (uneven - even) * cell.unevenness);
                fall.cloud = 1.0;
            } else {
                let away_s = (cell.start_s - to_s).max(from_s - cell.end_s);
                let cloud = smooth_step(0.0, 1.0, 1.0 - away_s / CLOUD_MARGIN_S);
                fall.cloud = fall.cloud.max(cloud);
            }
        }
        fall
    }
}

/// Length of one block of the texture, s, and its number of pieces (20 s each).
const BLOCK_S: f64 = 640.0;
const PIECES: usize = 32;

/// A positive curve with mean 1 over every block, that a cell's rate is multiplied by.
#[derive(Debug, Clone)]
struct Texture {
    key: Key,
    block: i64,
    /// Integral from the block's start, s.
    sums: [f64; PIECES + 1],
}

impl Texture {
    fn new(key: Key) -> Self {
        Self {
            key,
            block: i64::MIN,
            sums: [0.0; PIECES + 1],
        }
    }

    fn within(&mut self, time_s: f64) -> (i64, f64) {
        let position = time_s / BLOCK_S;
        let block = floor(position);
        if block != self.block {
            self.block = block;
            self.sums = cascade(self.key, block, BLOCK_S);
        }
        let x = (position - block as f64) * PIECES as f64;
        let piece = (x as usize).min(PIECES - 1);
        let part = x - piece as f64;
        let sum = self.sums[piece] + (self.sums[piece + 1] - self.sums[piece]) * part;
        (block, sum)
    }

    fn integral(&mut self, from_s: f64, to_s: f64) -> f64 {
        let (first, low) = self.within(from_s);
        let (last, high) = self.within(to_s);
        (last - first) as f64 * BLOCK_S + high - low
    }
}

/// Running sums of a random cascade: the total is split in two again and again, at each level in random
/// shares, and so is kept exactly. (Conservative multiplicative cascade; Gupta & Waymire 1993.)
pub(crate) fn cascade<const N: usize>(key: Key, number: i64, total: f64) -> [f64; N] {
    let pieces = N - 1;
    let mut stream = key.stream(number);
    let mut weights = [0.0; N];
    weights[0] = 1.0;
    let mut filled = 1;
    while filled < pieces {
        for i in (0..filled).rev() {
            // The mean of two uniforms: shares near a half are likelier, none is ever 0.
            let share = 0.06 + 0.88 * 0.5 * (stream.uniform() + stream.uniform());
            let weight = weights[i];
            weights[2 * i] = weight * share;
            weights[2 * i + 1] = weight * (1.0 - share);
        }
        filled *= 2;
    }
    let mut sums = [0.0; N];
    for i in 0..pieces {
        sums[i + 1] = sums[i] + weights[i] * total;
    }
    sums[pieces] = total;
    sums
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cascade_keeps_its_total_and_never_falls() {
        for number in 0..200 {
            let sums: [f64; 33] = cascade(Seed(9).key("t", "c"), number, 3.5);
            assert_eq!(sums[0], 0.0);
            assert_eq!(sums[32], 3.5);
            assert!(sums.windows(2).all(|p| p[1] > p[0]));
        }
    }

    #[test]
    fn the_texture_is_exact_over_any_interval() {
        let mut texture = Texture::new(Seed(9).key("t", "c"));
        let whole = texture.integral(100.0, 5000.0);
        let parts: f64 = (0..4900)
            .map(|i| texture.integral(100.0 + f64::from(i), 101.0 + f64::from(i)))
            .sum();
        assert!((whole - parts).abs() < 1e-8);
        assert!((texture.integral(640.0, 640.0 * 50.0) - 640.0 * 49.0).abs() < 1e-8);
    }
}
