//! The rain's part of the fit: abundance and intensity of its cells.

use super::{Calibration, FIRST_S, MONTH_S, SEED, YEARS, solve};
use crate::site::Place;
use crate::weather::climate::Climate;
use crate::weather::rain::{Phase, Rain, possible_phases_with};
use crate::weather::region::{OWNER, Offset, Region};
use crate::weather::synoptic::{SPACING_S, System, Train};

/// Slots of the train taken in each month.
const RUN: usize = 19;

pub(super) fn fit(fitted: &mut Calibration, climate: &Climate, place: &Place) {
    let region = Region::with(climate, place, SEED, *fitted);
    let (mut train, convection) = (region.train(), region.convection());
    for (i, normals) in climate.months.iter().enumerate() {
        let mut systems: Vec<System> = Vec::new();
        for year in 0..YEARS {
            let start = FIRST_S + (year * 12 + i as i64) as f64 * MONTH_S;
            let first = Train::interval(start);
            systems.extend((first..first + RUN as i64).map(|number| train.system(number)));
        }
        let per_month = MONTH_S / SPACING_S / systems.len() as f64;
        // All systems, or every so many as stand for all while the count below corrects what they miss.
        let expected = |every: usize, abundance: f64, measure: fn(&Phase) -> f64| {
            let some = systems.iter().step_by(every);
            let share = some.len() as f64 / systems.len() as f64;
            let sum: f64 = some
                .flat_map(|system| {
                    let possible =
                        possible_phases_with(system, abundance, place.longitude_deg, convection[i]);
                    // What a system cannot bring has chance 1 drawn against it.
                    let chances = &system.chances;
                    possible
                        .into_iter()
                        .enumerate()
                        .filter(move |(n, _)| chances.get(*n).is_none_or(|&drawn| drawn < 1.0))
                })
                .map(|(_, (chance, phase))| chance * measure(&phase))
                .sum();
            sum * per_month / share
        };
        if normals.rain_mm <= 0.0 || normals.wet_hours <= 0.0 {
            continue;
        }
        // The expectation of a phase is near, but phases overlap and hours are cut: count the ensemble's own
        // cells and aim again.
        let (mut target, mut abundance, mut intensity) = (normals.wet_hours, 0.0, 0.0);
        for _ in 0..2 {
            abundance = solve(0.0, 12.0, target, |a| expected(5, a, Phase::wet_hours));
            intensity =
                normals.rain_mm / expected(1, abundance, Phase::depth).max(f64::MIN_POSITIVE);
            let mut rain = Rain::new(
                train.clone(),
                SEED,
                OWNER,
                place.longitude_deg,
                Offset::default(),
                [abundance; 12],
                [intensity; 12],
            )
            .with_convection([convection[i]; 12]);
            // Every other year.
            let hours: f64 = systems
                .chunks_exact(RUN)
                .step_by(2)
                .map(|run| rain.count(run[0].number..run[0].number + RUN as i64).0)
                .sum();
            let counted = 2.0 * hours * per_month;
            if counted <= 0.0 {
                break;
            }
            target = (target * normals.wet_hours / counted).min(2.0 * normals.wet_hours);
        }
        fitted.abundance[i] = abundance;
        fitted.intensity_mmh[i] = intensity;
    }
}
