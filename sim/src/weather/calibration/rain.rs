//! The rain's part of the fit: abundance and intensity of its cells.

use super::{Calibration, FIRST_S, MONTH_S, SEED};
use crate::site::Place;
use crate::weather::climate::Climate;
use crate::weather::rain::{Rain, Wanted};
use crate::weather::region::{OWNER, Offset, Region};
use crate::weather::synoptic::{SPACING_S, Train};

/// Years whose systems are counted for each month.
const YEARS: i64 = 24;
/// Slots of the train that begin in a month.
const RUN: i64 = (MONTH_S / SPACING_S) as i64;

pub(super) fn fit(fitted: &mut Calibration, climate: &Climate, place: &Place) {
    let region = Region::with(climate, place, SEED, *fitted);
    let mut rain = Rain::new(
        region.train(),
        SEED,
        OWNER,
        place.longitude_deg,
        Offset::default(),
        [0.0; 12],
        [0.0; 12],
    )
    .with_convection(region.convection());
    for (i, normals) in climate.months.iter().enumerate() {
        let runs: Vec<_> = (0..YEARS)
            .map(|year| {
                let first = Train::interval(FIRST_S + (year * 12 + i as i64) as f64 * MONTH_S);
                first..first + RUN
            })
            .collect();
        let wanted = Wanted {
            rain_mm: normals.rain_mm,
            wet_hours: normals.wet_hours,
        };
        (fitted.abundance[i], fitted.intensity_mmh[i]) = rain.fit(&runs, wanted, MONTH_S);
    }
}
