//! The place and its surroundings: what of the free air reaches the head.

use crate::physics::moist_air::saturation_vapour_pressure_hpa;
use crate::truth::{Truth, WIND_SAMPLES, WindSample};

/// Where a station stands on the Earth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Latitude, degrees north, -90 to 90.
    pub latitude_deg: f64,
    /// Longitude, degrees east, -180 to 180.
    pub longitude_deg: f64,
    /// Height of the barometer above mean sea level, m.
    pub altitude_m: f64,
}

/// A wind that the terrain makes by itself on fair days.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum LocalWind {
    /// None.
    #[default]
    None,
    /// A breeze from the water by day and a weaker one from the land by night.
    SeaBreeze {
        /// Where the breeze from the water comes from, degrees clockwise from true north.
        onshore_from_deg: f64,
        /// Distance of the shore, km.
        shore_km: f64,
    },
    /// A wind up the valley by day and down the valley by night.
    Valley {
        /// Where the wind of the day comes from, degrees clockwise from true north.
        up_valley_from_deg: f64,
    },
}

/// The surroundings of the head.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Site {
    /// Height of the cups above ground, m.
    pub height_m: f64,
    /// Roughness length of the surroundings, m.
    pub roughness_length_m: f64,
    /// The terrain's own wind.
    pub local_wind: LocalWind,
}

impl Default for Site {
    fn default() -> Self {
        Self {
            height_m: 2.0,
            roughness_length_m: 0.1,
            local_wind: LocalWind::None,
        }
    }
}

/// Below this global irradiance the long-wave balance of the shield counts, W/m2; above it the sun
/// outweighs it (common practice, no source).
pub const DUSK_IRRADIANCE_WM2: f64 = 50.0;

/// What reaches the head over one interval.
///
/// Instantaneous quantities are at the end of the interval; wind and rain cover the whole of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exposure {
    /// Length of the interval in true time, s.
    pub interval_s: f64,
    /// Air temperature around the shield, degC.
    pub air_temperature_degc: f64,
    /// Vapour pressure around the shield, hPa.
    pub vapour_pressure_hpa: f64,
    /// Saturation vapour pressure over water at the air temperature, hPa.
    pub saturation_vapour_pressure_hpa: f64,
    /// Relative humidity over water around the shield, percent, 0 to 100.
    pub relative_humidity_percent: f64,
    /// Pressure at the barometer, hPa.
    pub air_pressure_hpa: f64,
    /// Short means of the wind at the cups and the vane, in order of time.
    pub wind: [WindSample; WIND_SAMPLES],
    /// Mean wind speed of the interval, m/s.
    pub wind_speed_ms: f64,
    /// Rain that fell at the funnel's place, mm.
    pub rainfall_mm: f64,
    /// Snow that fell at the funnel's place, mm of water.
    pub snowfall_mm: f64,
    /// Wet-bulb temperature around the shield, degC.
    pub wet_bulb_degc: f64,
    /// Global irradiance on a horizontal plane, W/m2.
    pub global_irradiance_wm2: f64,
    /// Share of the global irradiance that comes straight from the sun, 0 to 1.
    pub direct_share: f64,
    /// Sine of the sun's elevation.
    pub sun_up: f64,
    /// Net long-wave irradiance of an upward plane at air temperature, W/m2; negative is a loss. Worked
    /// out only while the global irradiance is below [`DUSK_IRRADIANCE_WM2`], zero above it.
    pub net_longwave_wm2: f64,
    /// Illuminance on a horizontal plane, lx.
    pub illuminance_lx: f64,
    /// UV index.
    pub ultraviolet_index: f64,
}

/// The surroundings as they work on the air: between weather and head.
///
/// Nothing stands in the way yet: the free air passes as it is. Obstacles by sector, the horizon and
/// warm surfaces belong here; they change fields of the [`Exposure`], never a reading.
#[derive(Debug, Clone)]
pub struct Surroundings {
    site: Site,
}

impl Surroundings {
    /// The surroundings of one station.
    #[must_use]
    pub fn new(site: Site) -> Self {
        Self { site }
    }

    /// What the surroundings are.
    #[must_use]
    pub fn site(&self) -> &Site {
        &self.site
    }

    /// What of the free air reaches the head in this interval.
    #[must_use]
    pub fn expose(&mut self, truth: &Truth) -> Exposure {
        let global = truth.global_irradiance_wm2;
        let sun_up = truth.sun.up;
        let direct_share = if global > 0.0 && sun_up > 0.0 {
            (truth.direct_normal_irradiance_wm2 * sun_up / global).clamp(0.0, 1.0)
        } else {
            0.0
        };
        let net_longwave_wm2 = if global < DUSK_IRRADIANCE_WM2 {
            net_longwave_wm2(
                truth.air_temperature_degc,
                truth.vapour_pressure_hpa,
                truth.cloud_area_fraction,
            )
        } else {
            0.0
        };
        let saturation_vapour_pressure_hpa =
            saturation_vapour_pressure_hpa(truth.air_temperature_degc);
        let relative_humidity_percent =
            (100.0 * truth.vapour_pressure_hpa / saturation_vapour_pressure_hpa).clamp(0.0, 100.0);
        Exposure {
            interval_s: truth.interval_s,
            air_temperature_degc: truth.air_temperature_degc,
            vapour_pressure_hpa: truth.vapour_pressure_hpa,
            saturation_vapour_pressure_hpa,
            relative_humidity_percent,
            air_pressure_hpa: truth.air_pressure_hpa,
            wind: truth.wind,
            wind_speed_ms: truth.wind_speed_ms,
            rainfall_mm: truth.rainfall_mm,
            snowfall_mm: truth.snowfall_mm,
            wet_bulb_degc: truth.wet_bulb_degc,
            global_irradiance_wm2: global,
            direct_share,
            sun_up,
            net_longwave_wm2,
            illuminance_lx: truth.illuminance_lx,
            ultraviolet_index: truth.ultraviolet_index,
        }
    }
}

/// Net long-wave irradiance of a surface at air temperature under the sky, W/m2, never positive.
///
/// `temperature_degc`: air temperature; `vapour_pressure_hpa`; `cloud_area_fraction`: 0 to 1.
/// Source: FAO Irrigation and Drainage Paper 56, equation 39 (from memory), for -30 to 45 degC; its
/// factor for cloud, which needs the sun, is replaced by `1 - 0.9 n` (common practice, no source), so
/// that an overcast sky leaves a tenth of the loss as the paper's factor does.
#[must_use]
pub fn net_longwave_wm2(
    temperature_degc: f64,
    vapour_pressure_hpa: f64,
    cloud_area_fraction: f64,
) -> f64 {
    const STEFAN_BOLTZMANN: f64 = 5.670_374e-8;
    let kelvin = temperature_degc + 273.15;
    let squared = kelvin * kelvin;
    let sky = (0.34 - 0.14 * (0.1 * vapour_pressure_hpa.max(0.0)).sqrt()).max(0.0);
    let open = 1.0 - 0.9 * cloud_area_fraction.clamp(0.0, 1.0);
    -STEFAN_BOLTZMANN * squared * squared * sky * open
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::sun::SunDirection;

    /// Hand calculation: 283.15 K radiates 364.5 W/m2; at 8 hPa the clear sky keeps back all but
    /// 0.34 - 0.14 sqrt(0.8) = 0.2148 of it.
    #[test]
    fn long_wave_loss_of_a_clear_and_of_an_overcast_night() {
        let clear = net_longwave_wm2(10.0, 8.0, 0.0);
        assert!((clear + 78.29).abs() < 0.05, "{clear}");
        let overcast = net_longwave_wm2(10.0, 8.0, 1.0);
        assert!((overcast - 0.1 * clear).abs() < 1e-9);
        assert!(
            net_longwave_wm2(45.0, 90.0, 0.0) <= 0.0,
            "steam does not heat"
        );
    }

    #[test]
    fn free_air_passes_an_open_site() {
        let truth = Truth {
            interval_s: 16.0,
            air_temperature_degc: 20.0,
            vapour_pressure_hpa: 12.0,
            air_pressure_hpa: 1000.0,
            rainfall_mm: 0.2,
            wind_speed_ms: 3.0,
            sun: SunDirection {
                east: 0.0,
                north: -0.8,
                up: 0.6,
            },
            global_irradiance_wm2: 500.0,
            direct_normal_irradiance_wm2: 600.0,
            diffuse_irradiance_wm2: 140.0,
            ..Truth::default()
        };
        let exposure = Surroundings::new(Site::default()).expose(&truth);
        assert_eq!(exposure.air_temperature_degc, 20.0);
        assert_eq!(exposure.rainfall_mm, 0.2);
        assert!((exposure.direct_share - 0.72).abs() < 1e-12);
        assert_eq!(exposure.net_longwave_wm2, 0.0);
        assert!((exposure.saturation_vapour_pressure_hpa - 23.33).abs() < 0.03);
    }
}
