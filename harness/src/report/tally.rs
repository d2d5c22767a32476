//! What was true and what was read, folded into time bins.
//!
//! One call per interval: the bin that is being filled is kept apart and is written back when the next
//! one begins. Intervals in which both heads read the same are folded once for both.

use super::faults::Watch;
use super::folds::{Block, Deviation, Means, Range, Spread};
use super::lanes::{DIRECTION, LANES, Values, error, of_reading, of_truth, turned};
use super::timeline::Timeline;
use crate::faults::Episode;
use crate::row::Row;
use benchmast_protocol::frame::Health;
use benchmast_protocol::quantity::Quantity;
use benchmast_sim::station::Step;
use benchmast_sim::truth::Truth;

/// Unit vectors (east, north) for whole degrees, 0 to 360.
type Compass = [[f64; 2]; 361];

/// Truth, twin, actual and effect of one time bin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bin {
    pub truth: Means,
    pub twin: Means,
    pub actual: Block,
    /// Actual minus twin, where both have a reading.
    pub effect: Block,
    /// Sums of unit vectors: truth, twin, actual, effect.
    pub vectors: [[f64; 2]; 4],
    /// Sums in mm: truth, twin, actual.
    pub rain: [f64; 3],
    /// Dew point of the truth, degC.
    pub dew_point: Spread,
    /// Supply, store and cells in mV, of the twin and of the actual head.
    pub volts: [[Spread; 3]; 2],
    /// Intervals that ended here.
    pub intervals: u32,
    /// Of these, how many had the sun below the horizon.
    pub night: u32,
    /// Of these, in how many the actual head ran on its reserve cells.
    pub on_cells: u32,
}

impl Bin {
    const EMPTY: Self = Self {
        truth: Means::EMPTY,
        twin: Means::EMPTY,
        actual: Block::EMPTY,
        effect: Block::EMPTY,
        vectors: [[0.0; 2]; 4],
        rain: [0.0; 3],
        dew_point: Spread::EMPTY,
        volts: [[Spread::EMPTY; 3]; 2],
        intervals: 0,
        night: 0,
        on_cells: 0,
    };
}

/// A value and when it was reached.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Extreme {
    pub value: f64,
    pub time_us: i64,
}

/// The whole of what was true and read.
#[derive(Debug)]
pub(super) struct Tally {
    timeline: Timeline,
    compass: Box<Compass>,
    bins: Vec<Bin>,
    /// The bin being filled; its twin and actual blocks hold only where the heads differ.
    open: Bin,
    open_index: usize,
    open_begin_us: i64,
    open_end_us: i64,
    /// Where both heads read the same.
    alike: Block,
    alike_vector: [f64; 2],
    deviation_alike: Deviation,
    deviation_twin: Deviation,
    deviation_actual: Deviation,
    /// Sum of the effect's magnitude, per lane.
    pub effect_sum: Values,
    /// Intervals in all.
    pub intervals: u64,
    /// Intervals in which the actual head ran, and in which its twin ran.
    pub alive: [u64; 2],
    /// Intervals with an active fault.
    pub with_cause: u64,
    /// Intervals in which the heads differ.
    pub with_effect: u64,
    /// Snow in truth, mm of water.
    pub snow_mm: f64,
    pub coldest: Option<Extreme>,
    pub warmest: Option<Extreme>,
    pub gustiest: Option<Extreme>,
    pub watch: Watch,
}

impl Tally {
    pub(super) fn new(timeline: Timeline, episodes: &[Episode]) -> Self {
        Self {
            timeline,
            compass: compass(),
            bins: vec![Bin::EMPTY; timeline.count],
            open: Bin::EMPTY,
            open_index: 0,
            open_begin_us: i64::MIN,
            open_end_us: timeline.begin_us(1),
            alike: Block::EMPTY,
            alike_vector: [0.0; 2],
            deviation_alike: Deviation::EMPTY,
            deviation_twin: Deviation::EMPTY,
            deviation_actual: Deviation::EMPTY,
            effect_sum: [0.0; LANES],
            intervals: 0,
            alive: [0; 2],
            with_cause: 0,
            with_effect: 0,
            snow_mm: 0.0,
            coldest: None,
            warmest: None,
            gustiest: None,
            watch: Watch::new(episodes),
        }
    }

    /// Fold one interval.
    pub(super) fn interval(&mut self, row: &Row<'_>) {
        let middle_us = row.step.time_us - self.timeline.interval_us / 2;
        if middle_us >= self.open_end_us || middle_us < self.open_begin_us {
            self.turn_to(middle_us);
        }
        if self.watch.is_due(middle_us) {
            self.watch.turn_to(middle_us);
        }
        // All values are gathered before any is folded: read again at once in pairs, they would have to
        // wait for their way through the store buffer.
        let (truth, step) = (row.truth, row.step);
        let true_values = of_truth(truth);
        let actual = of_reading(&step.actual);
        self.supply(step);
        self.open.rain[1] += finite_or_zero(step.twin.rainfall_mm);
        self.open.rain[2] += finite_or_zero(step.actual.rainfall_mm);
        self.intervals += 1;
        self.snow_mm += finite_or_zero(truth.snowfall_mm);
        self.alive[0] += u64::from(step.twin.alive);
        self.alive[1] += u64::from(step.actual.alive);
        self.with_cause += u64::from(row.causes != 0);
        self.weather(truth, &true_values);
        if read_alike(step) {
            self.alike.add(&actual);
            self.deviation_alike.add(&error(&actual, &true_values));
            if let Some([east, north]) = self.pointer(actual[DIRECTION]) {
                self.alike_vector[0] += east;
                self.alike_vector[1] += north;
            }
            // Rain may differ where nothing else does.
            if step.twin.rainfall_mm.to_bits() != step.actual.rainfall_mm.to_bits() {
                self.with_effect += 1;
                self.watch.note(step, None);
            }
        } else {
            self.differing(step, &true_values, &actual);
        }
    }

    /// Fold the readings of an interval in which the heads differ.
    fn differing(&mut self, step: &Step, truth: &Values, actual: &Values) {
        let twin = of_reading(&step.twin);
        let mut effect = [f64::NAN; LANES];
        for lane in 0..LANES {
            effect[lane] = actual[lane] - twin[lane];
        }
        effect[DIRECTION] = turned(effect[DIRECTION]);
        let (twin_error, actual_error) = (error(&twin, truth), error(actual, truth));
        self.open.actual.add(actual);
        self.open.twin.add(&twin);
        self.deviation_twin.add(&twin_error);
        self.deviation_actual.add(&actual_error);
        self.open.effect.add(&effect);
        for (sum, effect) in self.effect_sum.iter_mut().zip(&effect) {
            let magnitude = effect.abs();
            // What is not a number does not compare.
            *sum += if magnitude > 0.0 { magnitude } else { 0.0 };
        }
        let turn = effect[DIRECTION];
        let round = if turn < 0.0 { turn + 360.0 } else { turn };
        let sides = [twin[DIRECTION], actual[DIRECTION], round];
        for (side, direction) in sides.into_iter().enumerate() {
            if let Some([east, north]) = self.pointer(direction) {
                self.open.vectors[side + 1][0] += east;
                self.open.vectors[side + 1][1] += north;
            }
        }
        self.with_effect += 1;
        self.watch.note(step, Some(&effect));
    }

    fn weather(&mut self, truth: &Truth, values: &Values) {
        let open = &mut self.open;
        open.truth.add(values);
        open.dew_point.add(truth.dew_point_degc);
        open.rain[0] += finite_or_zero(truth.rainfall_mm);
        open.intervals += 1;
        open.night += u32::from(truth.sun.up < 0.0);
        if let Some([east, north]) = self.pointer(truth.wind_from_direction_deg) {
            self.open.vectors[0][0] += east;
            self.open.vectors[0][1] += north;
        }
        let (temperature, gust) = (truth.air_temperature_degc, truth.wind_speed_of_gust_ms);
        let time_us = truth.time_us;
        keep(&mut self.warmest, temperature, time_us, |new, old| {
            new > old
        });
        keep(&mut self.coldest, temperature, time_us, |new, old| {
            new < old
        });
        keep(&mut self.gustiest, gust, time_us, |new, old| new > old);
    }

    fn supply(&mut self, step: &Step) {
        let status = step.actual.observation.status;
        self.open.on_cells += u32::from(step.actual.alive && status.on_cells());
        for (side, reading) in [&step.twin, &step.actual].into_iter().enumerate() {
            if let Some(Health {
                supply,
                store,
                cells,
                ..
            }) = &reading.health
            {
                let values = [supply.si(), store.si(), cells.si()];
                for (spread, value) in self.open.volts[side].iter_mut().zip(values) {
                    spread.add(value.unwrap_or(f64::NAN));
                }
            }
        }
    }

    /// The unit vector of a direction in [0, 360], degrees.
    #[inline]
    fn pointer(&self, direction_deg: f64) -> Option<[f64; 2]> {
        // What is not a number is not at least zero.
        if direction_deg >= 0.0 {
            self.compass.get((direction_deg + 0.5) as usize).copied()
        } else {
            None
        }
    }

    /// Write the open bin back and open the one of another instant.
    fn turn_to(&mut self, middle_us: i64) {
        let closed = self.closed();
        if let Some(bin) = self.bins.get_mut(self.open_index) {
            *bin = closed;
        }
        let index = self.timeline.bin_of(middle_us);
        self.open_index = index;
        self.open_begin_us = if index == 0 {
            i64::MIN
        } else {
            self.timeline.begin_us(index)
        };
        self.open_end_us = if index + 1 == self.timeline.count {
            i64::MAX
        } else {
            self.timeline.begin_us(index + 1)
        };
        // Calls come in order of time; a bin that is met again goes on where it was left.
        self.open = self.bins.get(index).copied().unwrap_or(Bin::EMPTY);
        self.alike = Block::EMPTY;
        self.alike_vector = [0.0; 2];
    }

    /// The open bin with what both heads shared given to each.
    fn closed(&self) -> Bin {
        let mut bin = self.open;
        bin.twin.merge(&self.alike);
        bin.actual.merge(&self.alike);
        for lane in 0..LANES {
            if self.alike.number[lane] > 0.0 {
                bin.effect.number[lane] += self.alike.number[lane];
                bin.effect.least[lane] = bin.effect.least[lane].min(0.0);
                bin.effect.most[lane] = bin.effect.most[lane].max(0.0);
            }
        }
        for side in [1, 2] {
            bin.vectors[side][0] += self.alike_vector[0];
            bin.vectors[side][1] += self.alike_vector[1];
        }
        bin.vectors[3][1] += self.alike.number[DIRECTION];
        bin
    }

    /// All bins, the one being filled included.
    pub(super) fn bins(&self) -> Vec<Bin> {
        let mut bins = self.bins.clone();
        if let Some(bin) = bins.get_mut(self.open_index) {
            *bin = self.closed();
        }
        bins
    }

    /// The effect of greatest magnitude per lane; 0 for none.
    pub(super) fn largest_effects(&self) -> Values {
        let mut range = Range::EMPTY;
        for bin in self.bins() {
            let end = |of: fn(&Block, usize) -> Option<f64>| -> Values {
                std::array::from_fn(|lane| of(&bin.effect, lane).unwrap_or(f64::NAN))
            };
            range.add(&end(Block::least));
            range.add(&end(Block::most));
        }
        range.larger()
    }

    /// How far the twin and the actual head were from the truth.
    pub(super) fn deviations(&self) -> [Deviation; 2] {
        [
            self.deviation_alike.joined(&self.deviation_twin),
            self.deviation_alike.joined(&self.deviation_actual),
        ]
    }

    /// The direction of a sum of unit vectors to the nearest degree; `None` for no vector at all.
    pub(super) fn direction(&self, [east, north]: [f64; 2]) -> Option<f64> {
        // The table is searched instead of taking an arc tangent, which differs between machines.
        if east.abs() + north.abs() < 1e-9 {
            return None;
        }
        let along = |at: &[f64; 2]| at[0] * east + at[1] * north;
        let best = (0..360).max_by(|a, b| {
            let (a, b) = (&self.compass[*a], &self.compass[*b]);
            along(a).total_cmp(&along(b))
        })?;
        Some(best as f64)
    }
}

/// Keep a value that beats the one kept so far.
#[inline]
fn keep(kept: &mut Option<Extreme>, value: f64, time_us: i64, beats: impl Fn(f64, f64) -> bool) {
    let better = match kept {
        Some(kept) => beats(value, kept.value),
        None => value.is_finite(),
    };
    if better {
        *kept = Some(Extreme { value, time_us });
    }
}

/// The table of unit vectors, by turning one degree at a time: the same on every machine.
fn compass() -> Box<Compass> {
    const SIN_1_DEG: f64 = 0.017_452_406_437_283_51;
    const COS_1_DEG: f64 = 0.999_847_695_156_391_3;
    let mut table = Box::new([[0.0; 2]; 361]);
    let [mut east, mut north] = [0.0, 1.0];
    for entry in table.iter_mut() {
        *entry = [east, north];
        [east, north] = [
            east * COS_1_DEG + north * SIN_1_DEG,
            north * COS_1_DEG - east * SIN_1_DEG,
        ];
    }
    table
}

fn finite_or_zero(value: f64) -> f64 {
    if value.is_finite() { value } else { 0.0 }
}

/// Whether both heads agree in everything but their counters.
fn read_alike(step: &Step) -> bool {
    if !step.twin.alive || !step.actual.alive {
        return step.twin.alive == step.actual.alive;
    }
    let (twin, actual) = (&step.twin.observation, &step.actual.observation);
    twin.air_temperature == actual.air_temperature
        && twin.relative_humidity == actual.relative_humidity
        && twin.air_pressure == actual.air_pressure
        && twin.wind_speed == actual.wind_speed
        && twin.wind_speed_of_gust == actual.wind_speed_of_gust
        && twin.wind_from_direction == actual.wind_from_direction
        && twin.illuminance == actual.illuminance
        && twin.ultraviolet_index == actual.ultraviolet_index
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tally() -> Tally {
        Tally::new(Timeline::new(0, 16_000_000, 16), &[])
    }

    #[test]
    fn directions_are_found_again_and_average_across_north() {
        let tally = tally();
        for degrees in 0..360 {
            let vector = tally.pointer(f64::from(degrees)).expect("in the table");
            assert_eq!(tally.direction(vector), Some(f64::from(degrees)));
            let norm = vector[0] * vector[0] + vector[1] * vector[1];
            assert!((norm - 1.0).abs() < 1e-12, "{degrees}");
        }
        let [a, b] = [350.0, 10.0].map(|d| tally.pointer(d).expect("in the table"));
        assert_eq!(tally.direction([a[0] + b[0], a[1] + b[1]]), Some(0.0));
        assert_eq!(tally.direction([0.0, 0.0]), None);
        assert_eq!(tally.pointer(f64::NAN), None);
        assert_eq!(tally.pointer(1e9), None);
    }
}
