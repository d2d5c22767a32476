//! Fitting the region to its normals: an ensemble of the same weather under another seed is averaged, and
//! the few free figures are set so that its monthly means meet the normals. Any one year then departs from
//! them as real years do.

mod air;
mod days;
mod rain;

use super::climate::Climate;
use crate::entropy::Seed;
use crate::site::Place;

/// The ensemble's own seed: the fit must not know the run's.
const SEED: Seed = Seed(0x5eed_0fc1_1a7e);
const DAY_S: f64 = 86_400.0;
const MONTH_S: f64 = 365.2425 * 86_400.0 / 12.0;
/// 2012-01-01T00:00:00Z: the ensemble's first year.
const FIRST_S: f64 = 1_325_376_000.0;
/// Rounds of the daily range's fit.
const ROUNDS: usize = 2;

/// The figures that are fitted, one a month (at its middle).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Calibration {
    /// Index of low cloud at which half the sky is covered.
    pub(crate) cloud_threshold: [f64; 12],
    /// 10 m wind over geostrophic wind.
    pub(crate) wind_factor: [f64; 12],
    /// Mean wind of the systems before friction (east, poleward), m/s.
    pub(crate) field_wind_ms: [[f64; 12]; 2],
    /// Mean of the systems' departures of pressure, hPa, to be taken off.
    pub(crate) mean_pressure_hpa: [f64; 12],
    /// Mean of the air mass's departures, K, to be taken off.
    pub(crate) mean_warmth_k: [f64; 12],
    pub(crate) mean_moisture_k: [f64; 12],
    /// What the day adds on the mean to temperature and dew point, K, to be taken off the air mass.
    pub(crate) local_warmth_k: [f64; 12],
    pub(crate) local_moisture_k: [f64; 12],
    /// What the day's swing is multiplied by.
    pub(crate) range_gain: [f64; 12],
    /// Abundance of rain cells.
    pub(crate) abundance: [f64; 12],
    /// Intensity of rain cells, mm/h.
    pub(crate) intensity_mmh: [f64; 12],
}

impl Calibration {
    const START: Self = Self {
        cloud_threshold: [0.4; 12],
        wind_factor: [1.0; 12],
        field_wind_ms: [[0.0; 12]; 2],
        mean_pressure_hpa: [0.0; 12],
        mean_warmth_k: [0.0; 12],
        mean_moisture_k: [0.0; 12],
        local_warmth_k: [0.0; 12],
        local_moisture_k: [0.0; 12],
        range_gain: [1.0; 12],
        abundance: [0.0; 12],
        intensity_mmh: [0.0; 12],
    };

    /// Fits a place to its climate.
    pub(crate) fn fit(climate: &Climate, place: &Place) -> Self {
        let mut fitted = Self::START;
        rain::fit(&mut fitted, climate, place);
        let sampled = air::fit(&mut fitted, climate, place);
        sampled.fit_cloud_and_wind(&mut fitted, climate, &[0.0; 12]);
        let days = days::Days::new(&fitted, climate, place);
        // Once with the layers alone, to learn what rain and fog add to them.
        let cloudier = days.run(&mut fitted, climate, false);
        sampled.fit_cloud_and_wind(&mut fitted, climate, &cloudier);
        for _ in 0..ROUNDS {
            days.run(&mut fitted, climate, true);
        }
        days.run(&mut fitted, climate, false);
        fitted
    }
}

/// The value in [low, high] at which an increasing function reaches a target, or the end nearer to it.
///
/// False position, the stale end halved (the Illinois rule; Dowell & Jarratt 1971, BIT 11).
fn solve(low: f64, high: f64, target: f64, rising: impl Fn(f64) -> f64) -> f64 {
    let (mut a, mut b) = ((low, rising(low) - target), (high, rising(high) - target));
    if a.1 >= 0.0 || b.1 <= 0.0 {
        return if a.1 >= 0.0 { low } else { high };
    }
    for _ in 0..12 {
        let x = (a.0 * b.1 - b.0 * a.1) / (b.1 - a.1);
        let y = rising(x) - target;
        if y.abs() <= 1e-4 * target.abs() {
            return x;
        }
        if (y < 0.0) == (b.1 < 0.0) {
            a.1 *= 0.5;
        } else {
            a = b;
        }
        b = (x, y);
    }
    b.0
}
