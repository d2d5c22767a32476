//! Rain: a field of cells in clusters, in the phases of the passing systems and in the afternoons, down to
//! seconds; and the cold pools that convective cells spread.
//!
//! The cells are those of a stochastic rectangular-pulse model (see `cell`), whose storms are the phases of
//! the systems (see `phases`). They lie in the region's own ground, and travel with the system, so what a
//! station gets follows from where it is: a front's rain comes to all with a lag, a shower may miss a
//! neighbour, and every point of the region expects the same. Inside a cell the rate varies by a random cascade down to
//! 16 s. The fallen depth is an integral of a function of time, so any interval gets exactly its share.

mod cell;
mod fit;
mod outflow;
mod phases;
#[cfg(test)]
mod pool_tests;
#[cfg(test)]
mod pulse_tests;
#[cfg(test)]
mod tests;
mod texture;
mod veil;

use super::climate::MonthPoint;
use super::noise::{floor, smooth_step};
use super::region::Offset;
use super::synoptic::{System, Train};
use crate::entropy::{Key, Seed};
use cell::{Cell, HOUR_S, View, mix};
pub(crate) use fit::Wanted;
pub(crate) use outflow::Outflow;
use outflow::{Pool, REACH_KM, USUAL_DEPRESSION_K, together};
pub(crate) use phases::{Phase, phases, phases_with};
use texture::Texture;
pub(crate) use texture::cascade;
pub(crate) use veil::Moistened;
use veil::Veil;

/// Longest cell, s.
const LONGEST_CELL_S: f64 = 18.0 * HOUR_S;
/// Step of the gauge that the normals' hours with rain are counted with, mm (0.01 inch; others have 0.2 mm). As it
/// starts from a random rest, an hour with less than a step is reported in proportion.
const GAUGE_STEP_MM: f64 = 0.254;
/// Cells of a system may fall this long before its interval of the train and after it, with the lag of a
/// station some hundreds of kilometres off, h.
const EARLY_H: f64 = 48.0;
const LATE_H: f64 = 72.0;

/// What fell and what hangs overhead in an interval.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Fall {
    pub(crate) depth_mm: f64,
    /// 0 to 1: how much of the sky the rain's own cloud takes at the end of the interval.
    pub(crate) cloud: f64,
    /// Cold outflow at the end of the interval; `None` where there is none, which is nearly always.
    pub(crate) outflow: Option<Outflow>,
}

/// The rain at one point of the region.
#[derive(Debug, Clone)]
pub(crate) struct Rain {
    train: Train,
    cells_key: Key,
    texture: Texture,
    abundance: [f64; 12],
    intensity_mmh: [f64; 12],
    convection: Option<[f64; 12]>,
    longitude_deg: f64,
    offset: Offset,
    depression_k: f64,
    next_system: Option<i64>,
    /// Not begun yet, the latest first; then those whose cloud is overhead.
    to_come: Vec<Cell>,
    overhead: Vec<Cell>,
    pools_to_come: Vec<Pool>,
    pools: Vec<Pool>,
    veils: Vec<Veil>,
    /// No cell, nor its cloud or outflow, before this instant.
    quiet_until_s: f64,
    /// Nothing begins or is over before this instant.
    change_s: f64,
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
        // Stations within half a kilometre of each other share the finest structure, others do not.
        let spot = mix(floor(offset.east_km * 2.0), floor(offset.north_km * 2.0));
        Self {
            train,
            cells_key: seed.key(owner, "rain cells"),
            texture: Texture::new(seed.key(owner, "rain texture"), spot),
            abundance,
            intensity_mmh,
            convection: None,
            longitude_deg,
            offset,
            depression_k: USUAL_DEPRESSION_K,
            next_system: None,
            to_come: Vec::new(),
            overhead: Vec::new(),
            pools_to_come: Vec::new(),
            pools: Vec::new(),
            veils: Vec::new(),
            quiet_until_s: f64::NEG_INFINITY,
            change_s: f64::NEG_INFINITY,
        }
    }

    /// Sets the share of the rain that falls from the day's own convection, 0 to 1, at the middle of each month.
    #[must_use]
    pub(crate) fn with_convection(mut self, share: [f64; 12]) -> Self {
        self.convection = Some(share);
        self
    }

    /// Tells the wet-bulb depression of the air outside of the pools, K: what an outflow can fall by.
    pub(crate) fn air_is(&mut self, wet_bulb_depression_k: f64) {
        self.depression_k = wet_bulb_depression_k.max(0.0);
    }

    /// Makes the cells of every system that may rain before `time_s`.
    fn prepare(&mut self, time_s: f64, flow: (f64, f64)) {
        let last = Train::interval(time_s + EARLY_H * HOUR_S);
        let mut next = *self
            .next_system
            .get_or_insert_with(|| Train::interval(time_s - LATE_H * HOUR_S));
        if next > last {
            return;
        }
        while next <= last {
            let system = self.train.system(next);
            self.add_system(&system, flow, REACH_KM);
            next += 1;
        }
        self.next_system = Some(next);
        self.to_come
            .sort_by(|a, b| (b.start_s - b.margin_s).total_cmp(&(a.start_s - a.margin_s)));
        self.pools_to_come
            .sort_by(|a, b| b.start_s.total_cmp(&a.start_s));
        self.quiet_until_s = f64::NEG_INFINITY;
        self.change_s = f64::NEG_INFINITY;
    }

    fn phases_of(&self, system: &System, month: MonthPoint) -> [Option<Phase>; phases::PHASES] {
        let abundance = month.of(&self.abundance).max(0.0);
        match &self.convection {
            None => phases(system, abundance, self.longitude_deg),
            Some(share) => phases_with(system, abundance, self.longitude_deg, month.of(share)),
        }
    }

    /// Adds the cells of one system that fall on the point, and the pools that reach it from up to `reach_km`.
    fn add_system(&mut self, system: &System, flow: (f64, f64), reach_km: f64) {
        let lag_s = system.lag_s(self.offset, flow);
        let month = MonthPoint::at(system.front_s);
        let scale_mmh = month.of(&self.intensity_mmh).max(0.0);
        let (key, at) = (self.cells_key, self.offset);
        let motion_ms = system.motion_ms();
        for (phase, index) in self.phases_of(system, month).into_iter().zip(0..) {
            let Some(phase) = phase else { continue };
            if phase.clusters <= 0.0 || scale_mmh <= 0.0 {
                continue;
            }
            let kind = phase.kind;
            let passing = reach_km > 0.0;
            let reach_km = if kind.pools { reach_km } else { 0.0 };
            let view = View { key, at, reach_km };
            let window_s = (phase.start_s, phase.end_s);
            let mut found = |seen: cell::Seen| {
                let start_s = seen.start_s + lag_s;
                if seen.nearness > 0.0 {
                    self.to_come.push(Cell::new(
                        start_s,
                        seen.length_s.min(LONGEST_CELL_S),
                        seen.here() * scale_mmh / HOUR_S,
                        kind.swell,
                        kind.unevenness,
                        kind.margin_s,
                    ));
                }
                if reach_km > 0.0 {
                    self.pools_to_come
                        .extend(Pool::of(&seen, lag_s, scale_mmh, motion_ms));
                }
            };
            let own = mix(system.number, index);
            let (law, mean) = (&phase.law, phase.clusters);
            let veils = &mut self.veils;
            law.clusters(&view, own, window_s, mean, |cluster| {
                if passing {
                    let start_s = cluster.start_s + lag_s;
                    let span_s = (start_s, start_s + cluster.length_s);
                    let share = kind.closed * cluster.nearness(at, law.margin_km());
                    veils.push(Veil::new(span_s, kind.lead_s, share));
                }
                law.cells(&view, &cluster, &mut found);
            });
        }
    }

    #[cfg(test)]
    /// Expected number of clock hours in which a gauge of [`GAUGE_STEP_MM`] reports rain, and depth (mm), of a
    /// run of systems: the cells counted one by one, for the fit.
    pub(crate) fn count(&mut self, systems: core::ops::Range<i64>) -> (f64, f64) {
        let systems: Vec<System> = systems.map(|number| self.train.system(number)).collect();
        self.count_systems(&systems)
    }

    fn count_systems(&mut self, systems: &[System]) -> (f64, f64) {
        self.to_come.clear();
        for system in systems {
            self.add_system(system, (1.0, 0.0), 0.0);
        }
        let (_, hours) = self.hours();
        let shown = hours.iter().map(|depth| (depth / GAUGE_STEP_MM).min(1.0));
        (shown.sum(), hours.iter().sum())
    }

    /// Depth of each clock hour, mm, of the cells to come, and the number of the first hour since 1970.
    fn hours(&self) -> (i64, Vec<f64>) {
        let hour = |time_s: f64| floor(time_s * (1.0 / HOUR_S));
        let first = self.to_come.iter().map(|c| hour(c.start_s)).min();
        let last = self.to_come.iter().map(|c| hour(c.end_s)).max();
        let (Some(first), Some(last)) = (first, last) else {
            return (0, Vec::new());
        };
        let mut hours = vec![0.0; (last - first + 1) as usize];
        for cell in &self.to_come {
            for number in hour(cell.start_s)..=hour(cell.end_s) {
                let start_s = number as f64 * HOUR_S;
                hours[(number - first) as usize] += cell.between(start_s, start_s + HOUR_S);
            }
        }
        (first, hours)
    }

    /// Mean rate over an interval ahead of the present, mm/h, without the finest structure.
    pub(crate) fn smooth_rate_mmh(&mut self, from_s: f64, to_s: f64, flow: (f64, f64)) -> f64 {
        self.prepare(to_s, flow);
        let soon = self.to_come.iter().rev();
        let depth: f64 = soon
            .take_while(|cell| cell.start_s - cell.margin_s < to_s)
            .chain(&self.overhead)
            .map(|cell| cell.between(from_s, to_s))
            .sum();
        depth / (to_s - from_s) * HOUR_S
    }

    /// Share of the sky from which cloud precipitates at an instant, whether what falls reaches the ground or
    /// not. Time must not run backwards between calls, and [`Rain::smooth_rate_mmh`] must have been asked before.
    pub(crate) fn precipitating(&mut self, time_s: f64) -> f64 {
        self.veils.retain(|veil| !veil.is_over(time_s));
        let open = self
            .veils
            .iter()
            .fold(1.0, |open, veil| open * (1.0 - veil.at(time_s)));
        1.0 - open
    }

    /// What falls from `from_s` to `to_s`. Time must not run backwards between calls, and
    /// [`Rain::smooth_rate_mmh`] must have been asked for an interval up to `to_s`.
    pub(crate) fn fall(&mut self, from_s: f64, to_s: f64) -> Fall {
        if to_s < self.quiet_until_s {
            return Fall::default();
        }
        self.fall_in_rain(from_s, to_s)
    }

    /// Takes up the cells and pools that have come by `to_s`, and drops those that are over.
    fn take_up(&mut self, from_s: f64, to_s: f64) {
        while let Some(cell) = self.to_come.pop_if(|c| c.start_s - c.margin_s < to_s) {
            self.overhead.push(cell);
        }
        self.overhead.retain(|c| c.end_s + c.margin_s > from_s);
        while let Some(pool) = self.pools_to_come.pop_if(|p| p.start_s < to_s) {
            self.pools.push(pool);
        }
        self.pools.retain(|p| p.end_s > to_s);
        let cell = self.to_come.last().map(|c| c.start_s - c.margin_s);
        let pool = self.pools_to_come.last().map(|p| p.start_s);
        let begins = [cell, pool].into_iter().flatten();
        let begins_s = begins.fold(f64::INFINITY, f64::min);
        if self.overhead.is_empty() && self.pools.is_empty() {
            self.quiet_until_s = begins_s;
        }
        let over = self.overhead.iter().map(|c| c.end_s + c.margin_s);
        let over = over.chain(self.pools.iter().map(|p| p.end_s));
        self.change_s = over.fold(begins_s, f64::min);
    }

    fn fall_in_rain(&mut self, from_s: f64, to_s: f64) -> Fall {
        if to_s >= self.change_s {
            self.take_up(from_s, to_s);
        }
        let mut fall = Fall::default();
        if self.overhead.iter().any(|c| c.falls(from_s, to_s)) {
            fall.cloud = 1.0;
            let (cells, depth) = (&self.overhead, &mut fall.depth_mm);
            self.texture.pieces(from_s, to_s, |a, b, rate| {
                for cell in cells.iter().filter(|c| c.falls(a, b)) {
                    *depth += cell.between(a, b) * (1.0 + (rate - 1.0) * cell.unevenness);
                }
            });
        } else {
            for cell in &self.overhead {
                let away_s = (cell.start_s - to_s).max(from_s - cell.end_s);
                let cloud = smooth_step(0.0, 1.0, 1.0 - away_s / cell.margin_s);
                fall.cloud = fall.cloud.max(cloud);
            }
        }
        if !self.pools.is_empty() {
            fall.outflow = Some(together(&self.pools, to_s, self.depression_k));
        }
        fall
    }
}
