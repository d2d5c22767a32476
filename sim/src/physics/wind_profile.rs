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
