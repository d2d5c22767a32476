//! Pressure at the station: the systems' and the tide's, brought from sea level to the barometer.

use crate::physics::atmosphere::{sea_level_ratio, tide_hpa};
use crate::site::Place;

/// Amplitude of the day's own wave of pressure over land, hPa per K of normal daily range, and the local mean
/// time of its maximum as an angle: heated air spreads out aloft, and pressure is lowest in the late afternoon
/// (sized by one coastal year of airport reports, where S1 is 0.67 hPa with a range of 7.3 K; no other source).
const LAND_HPA_PER_K: f64 = 0.05;
const LAND_MAXIMUM_RAD: f64 = 6.5 / 24.0 * core::f64::consts::TAU;

/// The tide at an instant and place, hPa (see [`tide_hpa`]), with the wave that land adds to S1 where the
/// normal daily range is `range_k`.
pub(crate) fn tide_at(time_s: f64, place: &Place, range_k: f64) -> f64 {
    let day = (time_s / 86_400.0) + place.longitude_deg / 360.0;
    let local = (day - super::noise::floor(day) as f64) * core::f64::consts::TAU;
    tide_hpa(place.latitude_deg, local)
        + LAND_HPA_PER_K * range_k * libm::cos(local - LAND_MAXIMUM_RAD)
}

/// Station pressure, hPa, from sea-level pressure (hPa) and the air at the station.
pub(crate) fn station_hpa(
    sea_level_hpa: f64,
    place: &Place,
    temperature_degc: f64,
    vapour_pressure_hpa: f64,
) -> f64 {
    sea_level_hpa / sea_level_ratio(place.altitude_m, temperature_degc, vapour_pressure_hpa)
}
