//! The air's part of the fit: what the systems add on the mean, the cloud and the wind.

use super::{Calibration, FIRST_S, MONTH_S, SEED, solve};
use crate::physics::sun::position;
use crate::site::Place;
use crate::weather::climate::Climate;
use crate::weather::region::{
    DAY_LAG_S, Offset, Region, Regional, least_spread_k, low_cover, stirred, total_cover,
};

/// Instants taken in each month.
const INSTANTS: i64 = 480;

/// Instant `n` of [`INSTANTS`] of a month, in order: every [`APART_S`] through the month of each year of a
/// few, so that hours and days are met evenly.
fn spread_instant(n: i64, month: i64) -> f64 {
    const A_MONTH: i64 = 12;
    let start = FIRST_S + ((n / A_MONTH) * 12 + month) as f64 * MONTH_S;
    start + ((n % A_MONTH) as f64 + 0.5) * APART_S
}

/// Nearly two and a half days: the weather has forgotten itself, and hours go round.
const APART_S: f64 = MONTH_S / 12.0 - 4_000.0;

/// Height of the sun [`DAY_LAG_S`] before an instant, and the air at it.
type Sample = (f64, Regional);

/// Mean wind of the systems, which the prevailing wind is reckoned to hold already.
fn fit_field_wind(fitted: &mut Calibration, climate: &Climate, place: &Place) {
    let mut region = Region::with(climate, place, SEED, *fitted);
    for month in 0..12 {
        let mut sum = (0.0, 0.0);
        for n in 0..INSTANTS {
            let wind = region.field_wind_ms(spread_instant(n, month as i64));
            sum = (sum.0 + wind.0, sum.1 + wind.1);
        }
        fitted.field_wind_ms[0][month] = sum.0 / INSTANTS as f64;
        fitted.field_wind_ms[1][month] = sum.1 / INSTANTS as f64;
    }
}

/// Samples of the air of each month, from which cloud and wind are fitted again when more is known.
pub(super) struct Sampled {
    months: Vec<Vec<Sample>>,
}

/// Fits the means; returns the samples they rest on.
pub(super) fn fit(fitted: &mut Calibration, climate: &Climate, place: &Place) -> Sampled {
    fit_field_wind(fitted, climate, place);
    let mut region = Region::with(climate, place, SEED, *fitted).scattered();
    let count = INSTANTS as f64;
    let mut months = Vec::new();
    for i in 0..12 {
        let mut samples: Vec<Sample> = Vec::new();
        let (mut warmth, mut moisture, mut pressure) = (0.0, 0.0, 0.0);
        for n in 0..INSTANTS {
            let time_s = spread_instant(n, i as i64);
            let air = region.at(time_s, Offset::default());
            warmth += air.anomalies.0 / count;
            moisture += air.anomalies.1 / count;
            pressure += air.departure_hpa / count;
            let up = position(time_s - DAY_LAG_S, place).up;
            samples.push((up, air));
        }
        fitted.mean_pressure_hpa[i] = pressure;
        fitted.mean_warmth_k[i] = warmth;
        // Keeping the spread positive widens it on the mean: that is given back.
        let mean_spread = samples.iter().map(|s| s.1.spread_k).sum::<f64>() / count;
        let wider = solve(-6.0, 0.0, mean_spread + moisture - warmth, |wider| {
            let spread = |s: &Sample| least_spread_k(s.1.spread_k + moisture - warmth + wider);
            samples.iter().map(spread).sum::<f64>() / count
        });
        fitted.mean_moisture_k[i] = moisture + wider;
        months.push(samples);
    }
    Sampled { months }
}

impl Sampled {
    /// Fits cloud and wind; `cloudier` is the cover that rain and fog add to the layers in each month.
    pub(super) fn fit_cloud_and_wind(
        &self,
        fitted: &mut Calibration,
        climate: &Climate,
        cloudier: &[f64; 12],
    ) {
        let count = INSTANTS as f64;
        for (i, (normals, samples)) in climate.months.iter().zip(&self.months).enumerate() {
            let cover = |threshold: f64| {
                let sum: f64 = samples
                    .iter()
                    .map(|(_, air)| {
                        let low = low_cover(air.anomalies.2, threshold, air.rain_shield);
                        total_cover(low, air.high_cloud)
                    })
                    .sum();
                sum / count
            };
            let wanted = normals.cloud_area_fraction - cloudier[i];
            let threshold = -solve(-2.0, 2.0, wanted, |t| cover(-t));
            fitted.cloud_threshold[i] = threshold;
            let wind = |factor: f64| {
                let sum: f64 = samples
                    .iter()
                    .map(|(up, air)| {
                        let low = low_cover(air.anomalies.2, threshold, air.rain_shield);
                        let speed = air.wind_speed_ms * factor;
                        speed * stirred(*up, low, speed)
                    })
                    .sum();
                sum / count
            };
            fitted.wind_factor[i] = solve(0.0, 3.0, normals.mean_wind_speed_ms, wind);
        }
    }
}
