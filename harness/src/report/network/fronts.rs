//! When fronts arrived at the stations.
//!
//! A front is looked for as a forecaster looks for it in a barogram: the pressure falls, then rises, and the
//! wind turns. How much later it came to another station is the shift at which both barograms fit best.

use benchmast_sim::truth::Truth;

/// Length of one mean, microseconds.
const SLOT_US: i64 = 600_000_000;
/// Means that are kept: sixty days. Nobody reads longer lists of fronts.
const MOST_SLOTS: i64 = 60 * 144;
/// Three hours, in means: how far a barogram is looked at on either side.
const REACH: usize = 18;
/// How much steeper the pressure must rise after a front than before it, hPa in three hours (common
/// practice, no source): more than the twice-daily tide makes, twice its amplitude, which is 1.2 hPa at most.
const LEAST_KINK_HPA: f64 = 2.5;
/// How far the wind must turn from the hour before a front to the hour after it, degrees (common practice,
/// no source).
const LEAST_TURN_DEG: f64 = 25.0;
/// Most fronts that are told.
const MOST_FRONTS: usize = 40;

/// Ten-minute sums of what a front moves.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Slot {
    number: f32,
    pressure_hpa: f64,
    temperature_degc: f64,
    east_ms: f64,
    north_ms: f64,
}

/// Ten-minute means of one station, at the same instants at all stations.
#[derive(Debug, Clone)]
pub(super) struct Fine {
    first: i64,
    slots: Vec<Slot>,
}

impl Fine {
    pub(super) fn new(start_us: i64, end_us: i64) -> Self {
        let first = start_us.div_euclid(SLOT_US);
        let count = ((end_us - 1).div_euclid(SLOT_US) - first + 1).clamp(0, MOST_SLOTS);
        Self {
            first,
            slots: vec![Slot::default(); usize::try_from(count).unwrap_or(0)],
        }
    }

    /// One interval; `from` is where its wind comes from as a vector (east, north), m/s.
    pub(super) fn add(&mut self, truth: &Truth, from: [f64; 2]) {
        let index = (truth.time_us - 1).div_euclid(SLOT_US) - self.first;
        let Some(slot) = usize::try_from(index)
            .ok()
            .and_then(|index| self.slots.get_mut(index))
        else {
            return;
        };
        slot.number += 1.0;
        slot.pressure_hpa += truth.air_pressure_hpa;
        slot.temperature_degc += truth.air_temperature_degc;
        slot.east_ms += from[0];
        slot.north_ms += from[1];
    }

    fn pressure(&self, slot: usize) -> Option<f64> {
        let slot = self.slots.get(slot)?;
        (slot.number > 0.0).then(|| slot.pressure_hpa / f64::from(slot.number))
    }

    /// How much the pressure's rise grows within three hours of an instant, hPa.
    fn kink(&self, slot: usize) -> Option<f64> {
        let before = self.pressure(slot.checked_sub(REACH)?)?;
        let after = self.pressure(slot + REACH)?;
        Some(after + before - 2.0 * self.pressure(slot)?)
    }

    /// Turn of the wind, clockwise positive, degrees, and warming, K, from the hour before to the hour after.
    fn change(&self, slot: usize) -> Option<(f64, f64)> {
        let mean = |from: usize| {
            let hour = self.slots.get(from..from + 6)?;
            let sum = |pick: fn(&Slot) -> f64| hour.iter().map(pick).sum::<f64>();
            let number = sum(|slot| f64::from(slot.number));
            let from_deg = libm::atan2(sum(|s| s.east_ms), sum(|s| s.north_ms)).to_degrees();
            (number > 0.0).then(|| (from_deg, sum(|s| s.temperature_degc) / number))
        };
        // The hour in the middle is the front's own.
        let (before, after) = (mean(slot.checked_sub(9)?)?, mean(slot + 3)?);
        let turn = after.0 - before.0;
        let turn = turn - 360.0 * (turn / 360.0 + 0.5).floor();
        Some((turn, after.1 - before.1))
    }
}

/// One front.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Front {
    /// When it passed the first station, microseconds since 1970-01-01T00:00:00Z.
    pub(super) time_us: i64,
    /// How much the pressure's rise grew, hPa in three hours.
    pub(super) kink_hpa: f64,
    /// How far the wind turned, clockwise positive, degrees.
    pub(super) turn_deg: f64,
    /// Temperature an hour after less that of an hour before, K.
    pub(super) warming_k: f64,
    /// How much later it came to each station than to the first, minutes; `None` where it cannot be told.
    pub(super) lags_min: Vec<Option<f64>>,
}

/// The fronts that passed the first station, in order of time, the strongest if there are too many; with
/// when they came to the others.
pub(super) fn fronts(stations: &[&Fine]) -> Vec<Front> {
    let Some(first) = stations.first() else {
        return Vec::new();
    };
    let kinks: Vec<f64> = (0..first.slots.len())
        .map(|slot| first.kink(slot).unwrap_or(f64::NEG_INFINITY))
        .collect();
    let mut found = Vec::new();
    for (slot, kink) in kinks.iter().enumerate() {
        let around = slot.saturating_sub(REACH)..(slot + REACH + 1).min(kinks.len());
        let is_sharpest = kinks[around].iter().all(|other| other <= kink);
        if !is_sharpest || *kink < LEAST_KINK_HPA {
            continue;
        }
        let Some((turn_deg, warming_k)) = first.change(slot) else {
            continue;
        };
        if turn_deg.abs() >= LEAST_TURN_DEG {
            found.push(Front {
                time_us: (first.first + slot as i64) * SLOT_US + SLOT_US / 2,
                kink_hpa: *kink,
                turn_deg,
                warming_k,
                lags_min: stations
                    .iter()
                    .map(|other| lag_min(first, other, slot))
                    .collect(),
            });
        }
    }
    found.sort_by(|a, b| b.kink_hpa.total_cmp(&a.kink_hpa));
    found.truncate(MOST_FRONTS);
    found.sort_by_key(|front| front.time_us);
    found
}

/// The shift of the other barogram, minutes, at which it fits this one best around an instant.
fn lag_min(this: &Fine, other: &Fine, slot: usize) -> Option<f64> {
    let from = slot.checked_sub(REACH)?;
    let here: Vec<f64> = (from..=slot + REACH)
        .map(|slot| this.pressure(slot))
        .collect::<Option<_>>()?;
    // Sum of squares of the difference, less its mean: the stations stand at different heights.
    let misfit = |shift: usize| -> Option<f64> {
        let start = (from + shift).checked_sub(REACH)?;
        let mut sums = [0.0; 2];
        for (index, here) in here.iter().enumerate() {
            let difference = other.pressure(start + index)? - here;
            sums = [sums[0] + difference, sums[1] + difference * difference];
        }
        Some(sums[1] - sums[0] * sums[0] / here.len() as f64)
    };
    let misfits: Vec<Option<f64>> = (0..=2 * REACH).map(misfit).collect();
    let best = (0..misfits.len())
        .filter(|shift| misfits[*shift].is_some())
        .min_by(|a, b| {
            let of = |shift: usize| misfits[shift].unwrap_or(f64::INFINITY);
            of(*a).total_cmp(&of(*b))
        })?;
    // At the end of the search there is no best shift.
    let (left, right) = (*misfits.get(best.checked_sub(1)?)?, *misfits.get(best + 1)?);
    let (left, middle, right) = (left?, misfits[best]?, right?);
    // The lowest point of the parabola through the three.
    let bend = left - 2.0 * middle + right;
    let within = if bend > 0.0 {
        (0.5 * (left - right) / bend).clamp(-0.5, 0.5)
    } else {
        0.0
    };
    Some((best as f64 - REACH as f64 + within) * (SLOT_US / 60_000_000) as f64)
}

#[cfg(test)]
mod tests {
    use super::super::gathering::from_vector;
    use super::*;

    /// Two days in which the pressure falls to a trough at `trough_s`, then rises, and the wind veers.
    fn barogram(trough_s: f64, height_hpa: f64) -> Fine {
        let mut fine = Fine::new(0, 2 * 86_400_000_000);
        for step in 1..=10_800_i64 {
            let time_us = step * 16_000_000;
            let after_s = time_us as f64 * 1e-6 - trough_s;
            let slope = if after_s < 0.0 { -0.5 } else { 0.8 } / 3600.0;
            let truth = Truth {
                time_us,
                air_pressure_hpa: height_hpa + slope * after_s,
                air_temperature_degc: if after_s < 0.0 { 14.0 } else { 9.0 },
                wind_speed_ms: 6.0,
                wind_from_direction_deg: if after_s < 0.0 { 200.0 } else { 290.0 },
                ..Truth::default()
            };
            fine.add(&truth, from_vector(&truth));
        }
        fine
    }

    #[test]
    fn a_front_is_found_and_its_lag_is_the_shift_of_the_barogram() {
        let trough_s = 86_400.0;
        for lag_min in [0.0, 17.0, -40.0, 95.0] {
            let here = barogram(trough_s, 1000.0);
            let there = barogram(trough_s + 60.0 * lag_min, 940.0);
            let found = fronts(&[&here, &there]);
            assert_eq!(found.len(), 1, "{found:?}");
            let front = &found[0];
            assert!((front.time_us as f64 * 1e-6 - trough_s).abs() <= 600.0);
            assert!((front.turn_deg - 90.0).abs() < 1.0 && (front.warming_k + 5.0).abs() < 0.1);
            assert!(front.lags_min[0].is_some_and(|lag| lag.abs() < 0.01));
            let lag = front.lags_min[1].expect("found");
            assert!((lag - lag_min).abs() < 2.0, "{lag} for {lag_min}");
        }
    }

    #[test]
    fn a_trough_without_a_turn_of_the_wind_is_no_front() {
        let mut calm = barogram(86_400.0, 1000.0);
        for slot in &mut calm.slots {
            (slot.east_ms, slot.north_ms) = (1.0, 1.0);
        }
        assert!(fronts(&[&calm]).is_empty());
        assert!(fronts(&[]).is_empty());
    }
}
