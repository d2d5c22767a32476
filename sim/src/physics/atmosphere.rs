//! Pressure with height: the standard atmosphere, reduction to sea level, tides.

use crate::physics::moist_air::saturation_vapour_pressure_hpa;

/// Standard acceleration of gravity, m/s2 (ISO 2533).
pub const GRAVITY_MS2: f64 = 9.80665;
/// Specific gas constant of dry air, J/(kg K) (ISO 2533).
pub const DRY_AIR_GAS_CONSTANT: f64 = 287.05287;
/// Temperature lapse of the standard troposphere, K/m (ISO 2533).
pub const STANDARD_LAPSE_K_PER_M: f64 = 0.0065;
const STANDARD_TEMPERATURE_K: f64 = 288.15;
const STANDARD_PRESSURE_HPA: f64 = 1013.25;

/// Temperature (K) and pressure (hPa) of the standard atmosphere at a geopotential height in m.
///
/// Source: ISO 2533:1975, troposphere layer; -2000 to 11 000 m.
#[must_use]
pub fn standard_atmosphere(height_gpm: f64) -> (f64, f64) {
    let temperature_k = STANDARD_TEMPERATURE_K - STANDARD_LAPSE_K_PER_M * height_gpm;
    let exponent = GRAVITY_MS2 / (DRY_AIR_GAS_CONSTANT * STANDARD_LAPSE_K_PER_M);
    let pressure_hpa =
        STANDARD_PRESSURE_HPA * libm::pow(temperature_k / STANDARD_TEMPERATURE_K, exponent);
    (temperature_k, pressure_hpa)
}

/// Ratio of mean-sea-level to station pressure at a station `altitude_m` high with temperature
/// `temperature_degc` and vapour pressure `vapour_pressure_hpa`.
///
/// Source: WMO-No. 8, Part I, ch. 3 (formula for low-level stations, coefficients from memory):
/// `log10(p0/ps) = Kp H / (Ts + a H/2 + e Ch)`, Kp = 0.0148275 K/gpm, a = 0.0065 K/gpm, Ch = 0.12 K/hPa.
/// Intended below 750 m; used here at any altitude, where it only shifts the level of the pressure.
#[must_use]
pub fn sea_level_ratio(altitude_m: f64, temperature_degc: f64, vapour_pressure_hpa: f64) -> f64 {
    let mean_k = temperature_degc
        + 273.15
        + STANDARD_LAPSE_K_PER_M * altitude_m / 2.0
        + 0.12 * vapour_pressure_hpa;
    libm::exp(core::f64::consts::LN_10 * 0.014_827_5 * altitude_m / mean_k)
}

/// Mean-sea-level pressure, hPa, from station pressure (hPa), altitude (m), temperature (degC) and
/// relative humidity (percent); see [`sea_level_ratio`].
#[must_use]
pub fn reduce_to_sea_level_hpa(
    station_hpa: f64,
    altitude_m: f64,
    temperature_degc: f64,
    relative_humidity_percent: f64,
) -> f64 {
    let vapour =
        saturation_vapour_pressure_hpa(temperature_degc) * relative_humidity_percent / 100.0;
    station_hpa * sea_level_ratio(altitude_m, temperature_degc, vapour)
}

/// Amplitudes of the solar diurnal (S1) and semidiurnal (S2) pressure tide at a latitude, hPa.
///
/// Source, from memory: migrating waves, S1 = 0.593 cos3(lat) (Haurwitz 1965), S2 = 1.16 cos3(lat)
/// (Haurwitz 1956; Chapman & Lindzen 1970). Continents add a local S1 that is not in it.
#[must_use]
pub fn tide_amplitudes_hpa(latitude_deg: f64) -> (f64, f64) {
    let cosine = libm::cos(latitude_deg.to_radians()).max(0.0);
    let cube = cosine * cosine * cosine;
    (0.593 * cube, 1.16 * cube)
}

/// The pressure tide, hPa, at a local mean time given as an angle (radians, 0 at midnight).
///
/// Phases, from memory: S1 = sin(t + 12 deg), S2 = sin(2t + 158 deg), that is maxima of S2 near 09:44
/// and 21:44 local mean time (Haurwitz 1956; Haurwitz & Cowley 1973).
#[must_use]
pub fn tide_hpa(latitude_deg: f64, local_mean_time_rad: f64) -> f64 {
    let (s1, s2) = tide_amplitudes_hpa(latitude_deg);
    s1 * libm::sin(local_mean_time_rad + 12.0_f64.to_radians())
        + s2 * libm::sin(2.0 * local_mean_time_rad + 158.0_f64.to_radians())
}
