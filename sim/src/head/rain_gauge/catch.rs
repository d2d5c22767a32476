//! What of the falling water enters the funnel and stays in it: wind around the rim, and splashes.

/// Wind at the funnel's rim as a share of that at the cups, which stand a little higher on the same mast
/// (logarithmic law between 1.7 and 2 m over 0.1 m of roughness).
pub const RIM_WIND_SHARE: f64 = 0.95;
/// Wind at the rim beyond which the rain formula is held, m/s (common practice, no source).
pub const RAIN_WIND_MAX_MS: f64 = 15.0;
/// Wind at the rim beyond which the snow formula is held, m/s (Kochendorfer et al. 2017).
pub const SNOW_WIND_MAX_MS: f64 = 7.2;
/// Share that splashes out again in a downpour driven by a gale (WMO-No. 8, Part I, ch. 6, table of errors
/// after Sevruk, from memory: 1 to 2 %).
pub const SPLASH_MAX: f64 = 0.02;
/// Wind at the rim at which the splash is full, m/s (common practice, no source).
pub const SPLASH_WIND_MS: f64 = 10.0;
/// Rain rate at which the splash is full, mm/h: its drops are large (common practice, no source).
pub const SPLASH_RATE_MM_H: f64 = 50.0;

/// Share of the rain that enters an unshielded funnel in wind, 0 to 1.
///
/// `rate_mm_h`: 0.1 to 100, held outside; `wind_ms`: at the rim, 0 to [`RAIN_WIND_MAX_MS`], held above. The rate
/// stands for the size of the drops: small ones are carried over the rim.
///
/// Source: reciprocal of the Nordic correction factor, Foerland et al. 1996 after Allerup and Madsen
/// (coefficients from memory): `exp(-0.00101 ln I - 0.012177 U ln I + 0.034331 U + 0.007697)`. The terms without
/// wind (0.8 %) are a fit's intercept and left out: without wind no wind error.
#[must_use]
pub fn rain_catch(rate_mm_h: f64, wind_ms: f64) -> f64 {
    if wind_ms <= 0.0 {
        return 1.0;
    }
    let logarithm = libm::log(rate_mm_h.clamp(0.1, 100.0));
    let per_ms = 0.012_177 * logarithm - 0.034_331;
    if per_ms >= 0.0 {
        return 1.0;
    }
    libm::exp(per_ms * wind_ms.min(RAIN_WIND_MAX_MS))
}

/// Share of the snow or sleet that enters an unshielded funnel in wind, 0 to 1.
///
/// `temperature_degc`: of the air; `wind_ms`: at the rim, 0 to [`SNOW_WIND_MAX_MS`], held above.
///
/// Source: Kochendorfer et al. 2017, Hydrol. Earth Syst. Sci. 21, equation 3, unshielded gauge at its own height
/// (coefficients read second-hand): `exp(-a U (1 - atan(b T) + c))`, a = 0.0348, b = 1.366, c = 0.779.
#[must_use]
pub fn snow_catch(temperature_degc: f64, wind_ms: f64) -> f64 {
    let wind = wind_ms.clamp(0.0, SNOW_WIND_MAX_MS);
    let falling = 1.0 - libm::atan(1.366 * temperature_degc) + 0.779;
    libm::exp(-0.0348 * wind * falling).min(1.0)
}

/// Share of the rain in the funnel that splashes out of it, 0 to [`SPLASH_MAX`]: none in calm air, where a deep cone
/// keeps its splashes, and most when wind drives large drops at its walls (shape common practice, no source).
///
/// Nothing splashes in: the rim stands well above the ground.
#[must_use]
pub fn splash_share(rate_mm_h: f64, wind_ms: f64) -> f64 {
    let driven = (wind_ms * (1.0 / SPLASH_WIND_MS)).clamp(0.0, 1.0);
    let heavy = (rate_mm_h * (1.0 / SPLASH_RATE_MM_H)).clamp(0.0, 1.0);
    SPLASH_MAX * driven * heavy
}
