//! What the air and the sun do to the water and the snow in the funnel: evaporation, dew, melting, freezing.

/// Share of the global irradiance that the funnel takes up: a light-coloured cone (common practice, no source).
pub const ABSORBED_SHARE: f64 = 0.7;
/// How much of an open plane's dew the funnel gets: its walls see part of the sky only (common practice, no source).
pub const DEW_SHARE: f64 = 0.6;
/// Melt of snow in the funnel, mm per hour and K of air temperature above freezing: 4.5 mm per day and K
/// (degree-day factors of 3 to 6, common practice, no source).
pub const MELT_MM_PER_H_K: f64 = 4.5 / 24.0;
/// Melt by the sun, mm per hour and W/m2. A third of the irradiance taken up, over the latent heat of fusion of
/// 334 kJ/kg: 0.35 x 3600 / 334000.
pub const MELT_MM_PER_H_WM2: f64 = 0.0038;
/// Melt by rain, mm of snow per mm of rain and K: specific over latent heat, 4.19 / 334.
pub const MELT_PER_RAIN_K: f64 = 0.0125;

/// Snow that melts in the funnel, mm of water per hour, never negative.
///
/// Degree-day form with sun (Hock 2003, J. Hydrol. 282, from memory); the sun must first make up for what the air
/// takes below freezing, so that snow melts in the sun at a few degrees of frost. Latent heat is in both factors.
/// Validity: -50 to 50 degC.
#[must_use]
pub fn melt_mm_h(temperature_degc: f64, irradiance_wm2: f64) -> f64 {
    (MELT_MM_PER_H_K * temperature_degc + MELT_MM_PER_H_WM2 * irradiance_wm2).max(0.0)
}

/// Drying power of the air alone, mm of water per hour from a wet surface, never negative.
///
/// `deficit_hpa`: saturation deficit; `wind_ms`: at 2 m. Source: Penman 1948, Proc. R. Soc. A 193 (from memory):
/// `0.26 (1 + 0.54 u) D` mm per day.
#[must_use]
pub fn drying_power_mm_h(deficit_hpa: f64, wind_ms: f64) -> f64 {
    0.26 / 24.0 * (1.0 + 0.54 * wind_ms) * deficit_hpa.max(0.0)
}

/// Water that evaporates from a wet surface, mm per hour; negative when dew forms.
///
/// `net_wm2`: net radiation of the surface. Source: combination equation of Penman 1948 (from memory), with the slope
/// of the saturation curve `4098 es / (T + 237.3)^2` (FAO Irrigation and Drainage Paper 56, equation 13) and a
/// psychrometer constant of 0.66 hPa/K; as a loss at night it bounds dew (Monteith 1957, from memory). Validity: -50 to
/// 50 degC.
#[must_use]
pub fn evaporation_mm_h(
    temperature_degc: f64,
    saturation_hpa: f64,
    deficit_hpa: f64,
    net_wm2: f64,
    wind_ms: f64,
) -> f64 {
    const PSYCHROMETER: f64 = 0.66;
    // Latent heat of evaporation 2.45 MJ/kg (the same paper).
    const MM_PER_H_WM2: f64 = 3600.0 / 2.45e6;
    let warm = temperature_degc + 237.3;
    let slope = 4098.0 * saturation_hpa / (warm * warm);
    (slope * MM_PER_H_WM2 * net_wm2 + PSYCHROMETER * drying_power_mm_h(deficit_hpa, wind_ms))
        / (slope + PSYCHROMETER)
}

/// Saturation vapour pressure over ice over that over water, 0.5 to 1: `1 + 0.0097 T` below freezing, within 1.5 % of the
/// WMO formulas down to -15 degC.
#[must_use]
pub fn ice_over_water(temperature_degc: f64) -> f64 {
    (1.0 + 0.0097 * temperature_degc).clamp(0.5, 1.0)
}
