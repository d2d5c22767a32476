//! Water vapour in air.

/// Saturation vapour pressure over water, hPa, from the temperature in degC; pure phase.
///
/// Source: WMO-No. 8, Part I, Annex 4.B; -45 to 60 degC, over supercooled water below 0 degC.
#[must_use]
pub fn saturation_vapour_pressure_hpa(temperature_degc: f64) -> f64 {
    6.112 * libm::exp(17.62 * temperature_degc / (243.12 + temperature_degc))
}

/// Dew point over water, degC, from the vapour pressure in hPa: the inverse of
/// [`saturation_vapour_pressure_hpa`], same source and validity. `vapour_pressure_hpa` must be above 0.
#[must_use]
pub fn dew_point_degc(vapour_pressure_hpa: f64) -> f64 {
    let log = libm::log(vapour_pressure_hpa / 6.112);
    243.12 * log / (17.62 - log)
}
