//! The day: a surface energy balance that warms, cools, moistens and dries the air near the ground.

use crate::physics::moist_air::{dew_point_degc, saturation_vapour_pressure_hpa, wet_bulb_degc};

/// Density of air times its heat capacity, J/(m3 K), near the ground.
const AIR_HEAT: f64 = 1206.0;
/// Reflectivity of grass (FAO Irrigation and Drainage Paper 56, eq. 38).
const ALBEDO: f64 = 0.23;
/// Stefan-Boltzmann constant, W/(m2 K4).
const STEFAN_BOLTZMANN: f64 = 5.670_374e-8;
/// Stratification of the air that the growing mixed layer eats into, K/m (common practice, no source).
const STRATIFICATION: f64 = 0.006;
/// How far rain's evaporation takes the air towards its wet bulb (common practice, no source).
const RAIN_COOLING: f64 = 0.85;

/// Net long-wave loss of the ground, W/m2, by air temperature (degC), vapour pressure (hPa) and cloud.
///
/// Source: FAO Irrigation and Drainage Paper 56, eq. 39 (Brunt's emissivity); cloud by a factor of
/// 1 - 0.85 cover (common practice, no source). Fair weather and moist air to 30 hPa; never below 0.
#[must_use]
pub fn long_wave_loss_wm2(
    temperature_degc: f64,
    vapour_pressure_hpa: f64,
    cloud_area_fraction: f64,
) -> f64 {
    let kelvin = temperature_degc + 273.15;
    let square = kelvin * kelvin;
    let emissivity = 0.34 - 0.14 * (vapour_pressure_hpa / 10.0).sqrt();
    (STEFAN_BOLTZMANN * square * square * emissivity * (1.0 - 0.85 * cloud_area_fraction)).max(0.0)
}

/// Spread of the patches of air, minutes to hours long, that are warmer than the next, K: more under an
/// open sky and above hot ground (common practice, no source).
pub(crate) fn patchiness_k(low_cloud: f64, heat_flux_wm2: f64) -> f64 {
    0.08 + 0.1 * (1.0 - low_cloud) + 0.0005 * heat_flux_wm2
}

/// Share of what falls that is snow, 0 to 1, by the wet-bulb temperature in degC.
///
/// Half at 1 degC, a tenth at 2.1 degC (common practice, no source).
#[must_use]
pub(crate) fn solid_share(wet_bulb_degc: f64) -> f64 {
    1.0 / (1.0 + libm::exp(2.0 * (wet_bulb_degc - 1.0)))
}

/// What acts on the surface during one knot interval.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Forcing {
    /// Length, s.
    pub(crate) seconds: f64,
    /// Air mass: temperature and dew point, degC.
    pub(crate) temperature_degc: f64,
    pub(crate) dew_point_degc: f64,
    pub(crate) global_wm2: f64,
    /// Cover as the long waves see it: low cloud counts fully.
    pub(crate) cover: f64,
    /// Wind at 10 m, m/s.
    pub(crate) wind_ms: f64,
    pub(crate) pressure_hpa: f64,
    pub(crate) rain_mmh: f64,
    /// What the swing is multiplied by to meet the normal range.
    pub(crate) range_gain: f64,
}

/// The air near the ground.
#[derive(Debug, Clone, Copy)]
pub(crate) struct NearGround {
    pub(crate) temperature_degc: f64,
    pub(crate) vapour_pressure_hpa: f64,
    /// Upward flux of sensible heat, W/m2; 0 when it points down.
    pub(crate) heat_flux_wm2: f64,
    /// The swing itself before its gain, K.
    pub(crate) swing_k: f64,
}

/// The state that the day leaves behind.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Surface {
    swing_k: f64,
    depth_m: f64,
    excess_hpa: f64,
    /// How far the air is soaked by rain, 0 to 1.
    soaked: f64,
    /// Water on the ground, 0 to 1.
    wet_ground: f64,
    /// Dew or fog forms.
    saturated: bool,
    last: Option<(f64, f64)>,
}

impl Surface {
    pub(crate) fn new() -> Self {
        Self {
            swing_k: 0.0,
            depth_m: 200.0,
            excess_hpa: 0.0,
            soaked: 0.0,
            wet_ground: 0.3,
            saturated: false,
            last: None,
        }
    }

    pub(crate) fn step(&mut self, f: &Forcing) -> NearGround {
        let air_hpa = saturation_vapour_pressure_hpa(f.dew_point_degc);
        let (temperature, vapour) = self.last.unwrap_or((f.temperature_degc, air_hpa));
        let loss = long_wave_loss_wm2(temperature, vapour, f.cover);
        let net = (1.0 - ALBEDO) * f.global_wm2 - loss;
        let hours = f.seconds / 3600.0;

        // By day the heat goes into the air and into evaporation, the more so the wetter the ground.
        let (heat, evaporation) = if net > 0.0 {
            let moist = 0.38 + 0.25 * self.wet_ground;
            (net * (0.88 - moist), net * moist)
        } else {
            (0.55 * net, 0.0)
        };
        // By day the mixed layer grows as its heat fills the stratification (encroachment; Tennekes
        // 1973); by night only the wind mixes.
        let stirred = (45.0 * f.wind_ms).clamp(45.0, 700.0);
        if heat > 0.0 {
            let grown =
                self.depth_m * self.depth_m + 2.0 * heat * f.seconds / (AIR_HEAT * STRATIFICATION);
            self.depth_m = grown.sqrt().clamp(stirred, 2200.0);
        } else {
            self.depth_m += (stirred - self.depth_m) * (1.0 - libm::exp(-hours / 0.7));
        }
        // By night the ground gives heat back the more it has cooled, and dew and fog theirs: the fall slows.
        let (memory_h, kept) = if heat > 0.0 {
            (10.0, 1.0)
        } else {
            (4.5, if self.saturated { 0.35 } else { 1.0 })
        };
        self.swing_k += kept * heat * f.seconds / (AIR_HEAT * self.depth_m);
        self.swing_k *= libm::exp(-hours * (1.0 + f.wind_ms / 9.0) / memory_h);

        // Vapour: evaporation into the layer, exchange with the air mass.
        let latent = 2.5e6 * 1.2 * 0.622;
        self.excess_hpa +=
            evaporation * f.seconds * f.pressure_hpa / (latent * self.depth_m.max(120.0));
        let exchange_h = if heat > 0.0 { 1.6 } else { 5.0 };
        self.excess_hpa *= libm::exp(-hours / exchange_h);

        // The lowest air runs ahead of the layer when the ground is hot.
        let skin = 0.0045 * heat.max(0.0) / (1.0 + 0.25 * f.wind_ms);
        let dry = f.temperature_degc + f.range_gain * (self.swing_k + skin);
        let saturated = saturation_vapour_pressure_hpa(dry);
        let mut vapour = (air_hpa + self.excess_hpa).max(0.12 * air_hpa);
        self.saturated = vapour > saturated;
        if self.saturated {
            // Dew and fog take the rest out of the air.
            vapour = saturated;
            self.excess_hpa = saturated - air_hpa;
        }

        let target = 1.0 - libm::exp(-f.rain_mmh / 0.4);
        let pace_h = if target > self.soaked { 0.25 } else { 1.5 };
        self.soaked += (target - self.soaked) * (1.0 - libm::exp(-hours / pace_h));
        let wetting = f.rain_mmh * hours / 2.0;
        self.wet_ground =
            (self.wet_ground + wetting - 0.0006 * evaporation * hours).clamp(0.0, 1.0);
        let mut temperature = dry;
        if self.soaked > 0.01 {
            let wet_bulb = wet_bulb_degc(dry, vapour, f.pressure_hpa);
            let share = RAIN_COOLING * self.soaked;
            temperature = dry + (wet_bulb - dry) * share;
            vapour += (saturation_vapour_pressure_hpa(wet_bulb) - vapour) * share;
            vapour = vapour.min(saturation_vapour_pressure_hpa(temperature));
        }
        self.last = Some((temperature, vapour));
        NearGround {
            temperature_degc: temperature,
            vapour_pressure_hpa: vapour,
            heat_flux_wm2: heat.max(0.0),
            swing_k: self.swing_k + skin,
        }
    }
}

impl NearGround {
    pub(crate) fn dew_point_degc(&self) -> f64 {
        dew_point_degc(self.vapour_pressure_hpa)
    }
}
