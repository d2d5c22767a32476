//! Pressure at the station: the systems' and the tide's, brought from sea level to the barometer.

use crate::physics::atmosphere::{sea_level_ratio, tide_hpa};
use crate::site::Place;

/// The tide at an instant and place, hPa; see [`tide_hpa`].
pub(crate) fn tide_at(time_s: f64, place: &Place) -> f64 {
    let day = (time_s / 86_400.0) + place.longitude_deg / 360.0;
    let local = (day - super::noise::floor(day) as f64) * core::f64::consts::TAU;
    tide_hpa(place.latitude_deg, local)
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
