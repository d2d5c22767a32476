//! Wind with height over rough ground, its turbulence and gusts.

/// Roughness length of the open terrain that wind at 10 m is quoted for, m (WMO-No. 8, Part I, ch. 5).
pub const OPEN_TERRAIN_ROUGHNESS_M: f64 = 0.03;
/// Height to which winds over open terrain are quoted, m (WMO-No. 8, Part I, ch. 5).
pub const REFERENCE_HEIGHT_M: f64 = 10.0;
/// Height at which the local roughness is no longer felt, m (Wieringa 1976, from memory).
const BLENDING_HEIGHT_M: f64 = 60.0;

/// Speed at `height_m` over the speed at `other_m` over the same ground.
///
/// Neutral logarithmic law without displacement height: `ln(z/z0) / ln(z2/z0)` (WMO-No. 8, Part I,
/// ch. 5). Valid well above the roughness elements; heights are taken as at least three roughness
/// lengths so that it never turns negative.
#[must_use]
pub fn logarithmic_ratio(height_m: f64, other_m: f64, roughness_m: f64) -> f64 {
    let log = |height: f64| libm::log(height.max(3.0 * roughness_m) / roughness_m);
    log(height_m) / log(other_m)
}

/// Speed at `height_m` over ground of `roughness_m` over the speed at 10 m over open terrain.
///
/// Exposure correction through the blending height: both profiles agree at 60 m (Wieringa 1976;
/// WMO-No. 8, Part I, ch. 5; the height from memory).
#[must_use]
pub fn exposure_ratio(height_m: f64, roughness_m: f64) -> f64 {
    logarithmic_ratio(
        BLENDING_HEIGHT_M,
        REFERENCE_HEIGHT_M,
        OPEN_TERRAIN_ROUGHNESS_M,
    ) * logarithmic_ratio(height_m, BLENDING_HEIGHT_M, roughness_m)
}

/// Intensity of the turbulence along the mean wind, a share of the mean speed, in neutral air.
///
/// `1 / ln(z/z0)`: standard deviation 2.5 friction velocities with a von Karman constant of 0.4
/// (Panofsky & Dutton 1984, rounded, from memory).
#[must_use]
pub fn turbulence_intensity(height_m: f64, roughness_m: f64) -> f64 {
    1.0 / libm::log(height_m.max(3.0 * roughness_m) / roughness_m)
}

/// Crosswind over along-wind standard deviation, 1.92/2.5 (Panofsky & Dutton 1984, from memory).
pub const CROSSWIND_RATIO: f64 = 1.92 / 2.5;

/// Highest mean over `gust_s` in ten minutes over the ten-minute mean, for a turbulence intensity.
///
/// Source: Wieringa 1973: `1 + (1.42 + 0.3013 ln(600/t - 4)) I`; 1 s to 2 min. Used to check the gusts
/// that emerge, not to make them.
#[must_use]
pub fn gust_factor(gust_s: f64, turbulence_intensity: f64) -> f64 {
    1.0 + (1.42 + 0.3013 * libm::log(600.0 / gust_s - 4.0)) * turbulence_intensity
}

/// Integral length of the along-wind eddies of the size of the height, m: `8 z^0.6`, 12 m at 2 m and 32 m at
/// 10 m. A third to a half of the lengths that Counihan 1975 (Atmos. Environ. 9) reviews, because larger
/// eddies are counted apart (the form from memory, the figures common practice).
#[must_use]
pub fn integral_length_m(height_m: f64) -> f64 {
    8.0 * libm::pow(height_m.max(0.5), 0.6)
}

/// Depth of the mixed layer that the convective velocity is worked out with, m.
const MIXED_LAYER_M: f64 = 1000.0;

/// Spread of the horizontal wind that convection makes near the ground, m/s, by the upward flux of sensible
/// heat in W/m2: what of it lies within ten minutes.
///
/// Source: Panofsky, Tennekes, Lenschow & Wyngaard 1977, Boundary-Layer Meteorol. 11 (from memory): in free
/// convection 0.58 of the convective velocity `w* = (g/T H/(rho c) zi)^(1/3)` at any height of the surface
/// layer; here a layer of 1000 m and three quarters of the spread, since its largest eddies take longer.
#[must_use]
pub fn convective_spread_ms(heat_flux_wm2: f64) -> f64 {
    let buoyancy = 9.81 / 290.0 * heat_flux_wm2.max(0.0) / 1206.0;
    0.75 * 0.58 * libm::cbrt(buoyancy * MIXED_LAYER_M)
}

/// Spread of the wind across its mean that is left however weak the wind, m/s, over ten minutes: the direction
/// then wanders by this over the speed.
///
/// Source: Hanna 1983, J. Climate Appl. Meteor. 22 (from memory): about 0.5 m/s over an hour in stable light
/// wind whatever the speed, so that the spread of the direction is that over the speed; ten minutes see
/// somewhat more than half of it (common practice).
#[must_use]
pub fn calm_crosswind_ms() -> f64 {
    0.3
}
