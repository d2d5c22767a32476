//! What was true and what was read, folded into time bins.
//!
//! One call per interval: the bin that is being filled is kept apart and is written back when the next
//! one begins. Intervals in which both heads read the same are folded once for both.

use super::faults::Watch;
use super::timeline::Timeline;
use crate::faults::Episode;
use crate::row::Row;
use benchmast_protocol::frame::Health;
use benchmast_protocol::quantity::{
    AirPressure, AirTemperature, Illuminance, Quantity, RelativeHumidity, Specification,
    UltravioletIndex, WindFromDirection, WindSpeed, WindSpeedOfGust,
};
use benchmast_sim::station::{Reading, Step};
use benchmast_sim::truth::Truth;

/// Number of quantities that are plotted as lines or dots; rain is a sum and stands apart.
pub(super) const LANES: usize = 8;
/// Wind speed among the [`LANES`].
pub(super) const SPEED: usize = 3;
/// Gust among the [`LANES`].
pub(super) const GUST: usize = 4;
/// Wind direction among the [`LANES`]: the only one that is a circle.
pub(super) const DIRECTION: usize = 5;
/// Illuminance among the [`LANES`].
pub(super) const LIGHT: usize = 6;

/// The rows of the table of quantities in the order of the lanes.
pub(super) const SPECIFICATIONS: [Specification; LANES] = [
    AirTemperature::SPECIFICATION,
    RelativeHumidity::SPECIFICATION,
    AirPressure::SPECIFICATION,
    WindSpeed::SPECIFICATION,
    WindSpeedOfGust::SPECIFICATION,
    WindFromDirection::SPECIFICATION,
    Illuminance::SPECIFICATION,
    UltravioletIndex::SPECIFICATION,
];

/// Below this true wind speed a direction means nothing, m/s (common practice, no source).
pub(super) const CALM_MS: f64 = 1.0;

/// One value per lane; what is missing is not a number.
pub(super) type Values = [f64; LANES];

/// Unit vectors (east, north) for whole degrees, 0 to 360.
type Compass = [[f64; 2]; 361];

/// Least, greatest, sum and number of what was present, per lane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Block {
    pub sum: Values,
    pub least: Values,
    pub most: Values,
    pub number: Values,
}

impl Block {
    const EMPTY: Self = Self {
        sum: [0.0; LANES],
        least: [f64::INFINITY; LANES],
        most: [f64::NEG_INFINITY; LANES],
        number: [0.0; LANES],
    };

    #[inline]
    fn add(&mut self, values: &Values) {
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

    fn merge(&mut self, other: &Self) {
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

/// Sum and number of what was present per lane, and the highest gust.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Means {
    sum: Values,
    number: Values,
    gust: f64,
}

impl Means {
    const EMPTY: Self = Self {
        sum: [0.0; LANES],
        number: [0.0; LANES],
        gust: f64::NEG_INFINITY,
    };

    #[inline]
    fn add(&mut self, values: &Values) {
        for (lane, value) in values.iter().enumerate() {
            let present = !value.is_nan();
            self.sum[lane] += if present { *value } else { 0.0 };
            self.number[lane] += if present { 1.0 } else { 0.0 };
        }
        if values[GUST] > self.gust {
            self.gust = values[GUST];
        }
    }

    fn merge(&mut self, other: &Block) {
        for lane in 0..LANES {
            self.sum[lane] += other.sum[lane];
            self.number[lane] += other.number[lane];
        }
        self.gust = self.gust.max(other.most[GUST]);
    }

    /// Sum and number of what was present.
    pub(super) fn parts(&self, lane: usize) -> (f64, f64) {
        (self.sum[lane], self.number[lane])
    }
    /// Mean, of the gust the highest; `None` when nothing was present.
    pub(super) fn shown(&self, lane: usize) -> Option<f64> {
        let value = if lane == GUST {
            self.gust
        } else {
            self.sum[lane] / self.number[lane]
        };
        (self.number[lane] > 0.0 && value.is_finite()).then_some(value)
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

/// Difference from the truth, per lane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Deviation {
    sum: Values,
    squares: Values,
    number: Values,
}

impl Deviation {
    const EMPTY: Self = Self {
        sum: [0.0; LANES],
        squares: [0.0; LANES],
        number: [0.0; LANES],
    };

    #[inline]
    fn add(&mut self, differences: &Values) {
        for (lane, difference) in differences.iter().enumerate() {
            let present = !difference.is_nan();
            let difference = if present { *difference } else { 0.0 };
            self.sum[lane] += difference;
            self.squares[lane] += difference * difference;
            self.number[lane] += if present { 1.0 } else { 0.0 };
        }
    }

    fn joined(mut self, other: &Self) -> Self {
        for lane in 0..LANES {
            self.sum[lane] += other.sum[lane];
            self.squares[lane] += other.squares[lane];
            self.number[lane] += other.number[lane];
        }
        self
    }

    /// Mean difference.
    pub(super) fn bias(&self, lane: usize) -> Option<f64> {
        (self.number[lane] > 0.0).then(|| self.sum[lane] / self.number[lane])
    }
    /// Root of the mean squared difference.
    pub(super) fn rmse(&self, lane: usize) -> Option<f64> {
        (self.number[lane] > 0.0).then(|| (self.squares[lane] / self.number[lane]).sqrt())
    }
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

/// The shorter way round, degrees in -180..=180.
fn turned(difference_deg: f64) -> f64 {
    if difference_deg > 180.0 {
        difference_deg - 360.0
    } else if difference_deg < -180.0 {
        difference_deg + 360.0
    } else {
        difference_deg
    }
}

/// Reading minus truth; no direction in a calm.
#[inline]
fn error(reading: &Values, truth: &Values) -> Values {
    let mut difference = [f64::NAN; LANES];
    for lane in 0..LANES {
        difference[lane] = reading[lane] - truth[lane];
    }
    difference[DIRECTION] = if truth[SPEED] >= CALM_MS {
        turned(difference[DIRECTION])
    } else {
        f64::NAN
    };
    difference
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

fn of_truth(truth: &Truth) -> Values {
    [
        truth.air_temperature_degc,
        truth.relative_humidity_percent,
        truth.air_pressure_hpa,
        truth.wind_speed_ms,
        truth.wind_speed_of_gust_ms,
        truth.wind_from_direction_deg,
        truth.illuminance_lx,
        truth.ultraviolet_index,
    ]
}

fn of_reading(reading: &Reading) -> Values {
    if !reading.alive {
        return [f64::NAN; LANES];
    }
    let observation = &reading.observation;
    [
        number(observation.air_temperature),
        number(observation.relative_humidity),
        number(observation.air_pressure),
        number(observation.wind_speed),
        number(observation.wind_speed_of_gust),
        number(observation.wind_from_direction),
        number(observation.illuminance),
        number(observation.ultraviolet_index),
    ]
}

#[inline]
fn number<Q: Quantity>(reading: Q) -> f64 {
    // Multiplied by one step, for a division per reading is a third of the cost of an interval; the
    // difference to `si` is in the sixteenth digit.
    let step = const { Q::SPECIFICATION.step.0 as f64 / Q::SPECIFICATION.step.1 as f64 };
    if reading.is_missing() || !reading.is_legal() {
        f64::NAN
    } else {
        reading.raw() as f64 * step
    }
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

    #[test]
    fn the_shorter_way_round() {
        for (difference, expected) in [(0.0, 0.0), (190.0, -170.0), (-190.0, 170.0), (180.0, 180.0)]
        {
            assert_eq!(turned(difference), expected);
        }
        assert!(turned(f64::NAN).is_nan());
    }

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
