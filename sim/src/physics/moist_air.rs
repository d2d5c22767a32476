//! Water vapour in air.

/// Saturation vapour pressure over water, hPa, from the temperature in degC; pure phase.
///
/// Source: WMO-No. 8, Part I, Annex 4.B; -45 to 60 degC, over supercooled water below 0 degC.
#[must_use]
pub fn saturation_vapour_pressure_hpa(temperature_degc: f64) -> f64 {
    6.112 * libm::exp(17.62 * temperature_degc / (243.12 + temperature_degc))
}

/// Saturation vapour pressure over ice, hPa, from the temperature in degC; pure phase.
///
/// Source: WMO-No. 8, Part I, Annex 4.B; -65 to 0 degC.
#[must_use]
pub fn saturation_vapour_pressure_over_ice_hpa(temperature_degc: f64) -> f64 {
    6.112 * libm::exp(22.46 * temperature_degc / (272.62 + temperature_degc))
}

/// Dew point over water, degC, from the vapour pressure in hPa: the inverse of
/// [`saturation_vapour_pressure_hpa`], same source and validity. `vapour_pressure_hpa` must be above 0.
#[must_use]
pub fn dew_point_degc(vapour_pressure_hpa: f64) -> f64 {
    let log = libm::log(vapour_pressure_hpa / 6.112);
    243.12 * log / (17.62 - log)
}

/// Psychrometer coefficient, 1/K, of a ventilated psychrometer at a wet-bulb temperature in degC.
///
/// Source: WMO-No. 8, Part I, Annex 4.B (6.53e-4 (1 + 0.000944 t), over water).
#[must_use]
pub fn psychrometer_coefficient_per_k(wet_bulb_degc: f64) -> f64 {
    6.53e-4 * (1.0 + 9.44e-4 * wet_bulb_degc)
}

/// Wet-bulb temperature over water, degC, from temperature (degC), vapour pressure (hPa) and pressure (hPa).
///
/// Solves the psychrometer equation of WMO-No. 8, Part I, Annex 4.B, without the enhancement factor
/// (which is within 0.5 % of 1 near the ground); -45 to 60 degC. The result lies between the dew point
/// and the temperature. Newton's method on a convex function; four steps reach 1e-6 K.
#[must_use]
pub fn wet_bulb_degc(temperature_degc: f64, vapour_pressure_hpa: f64, pressure_hpa: f64) -> f64 {
    // Newton from the temperature comes down monotonically, because saturation pressure is convex.
    let mut wet = temperature_degc;
    for _ in 0..5 {
        let saturation = saturation_vapour_pressure_hpa(wet);
        let coefficient = psychrometer_coefficient_per_k(wet) * pressure_hpa;
        let excess = saturation - coefficient * (temperature_degc - wet) - vapour_pressure_hpa;
        let denominator = 243.12 + wet;
        let slope = saturation * 17.62 * 243.12 / (denominator * denominator) + coefficient;
        wet -= excess / slope;
    }
    wet.min(temperature_degc)
}
