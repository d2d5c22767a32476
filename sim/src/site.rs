//! The place and its surroundings: what of the free air reaches the head.

pub mod horizon;
pub mod obstacles;
pub mod rain_shadow;
pub mod surface;

use crate::physics::moist_air::saturation_vapour_pressure_hpa;
use crate::truth::{Truth, WIND_SAMPLES, WindSample};
use horizon::{AZIMUTHS, Faces, Horizon};
use obstacles::{Obstacle, SECTORS, Shelter};
use rain_shadow::{RainShadow, SNOW_FALL_SPEED_MS, fall_speed_ms};
use surface::{Forcing, Surface};

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
    /// Height of the cups above ground, m; funnel, shield and light sensor stand on the same mast head.
    pub height_m: f64,
    /// Roughness length of the surroundings, m.
    pub roughness_length_m: f64,
    /// The terrain's own wind.
    pub local_wind: LocalWind,
    /// The ground within some 10 m.
    pub surface: Surface,
    /// Share of that round which is `surface`, 0 to 1; the rest is grass.
    pub surface_share: f64,
    /// What stands around, by sectors of 30 degrees: the first centred on north, the others clockwise.
    pub obstacles: [Obstacle; SECTORS],
    /// Elevation of the lasting horizon (hills, a row of houses far off) every 10 degrees from north
    /// clockwise, degrees, 0 to 90.
    pub horizon_deg: [f64; AZIMUTHS],
}

impl Site {
    /// Grass all around, nothing in the way, cups at 2 m.
    pub const OPEN: Self = Self {
        height_m: 2.0,
        roughness_length_m: 0.1,
        local_wind: LocalWind::None,
        surface: Surface::Grass,
        surface_share: 1.0,
        obstacles: [Obstacle::NONE; SECTORS],
        horizon_deg: [0.0; AZIMUTHS],
    };
}

impl Default for Site {
    fn default() -> Self {
        Self::OPEN
    }
}

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
    /// Direct irradiance on a plane that faces the sun, W/m2.
    pub direct_normal_irradiance_wm2: f64,
    /// Share of the global irradiance that comes straight from the sun, 0 to 1.
    pub direct_share: f64,
    /// Sine of the sun's elevation.
    pub sun_up: f64,
    /// Sunlight sent back by the ground and by walls onto the shield from below and from the side, W/m2.
    pub reflected_irradiance_wm2: f64,
    /// Net long-wave irradiance of an upward plane at air temperature, W/m2; negative is a loss.
    pub net_longwave_wm2: f64,
    /// Illuminance on a horizontal plane, lx.
    pub illuminance_lx: f64,
    /// UV index.
    pub ultraviolet_index: f64,
}

/// The surroundings as they work on the air: between weather and head.
///
/// Whatever stands in the way changes fields of the [`Exposure`], never a reading. Over grass, with nothing in the
/// way, the free air passes bit for bit. A head in worse surroundings than its twin's has a `Surroundings` of its
/// own, made by [`Self::changed_to`], and both expose the same [`Truth`].
#[derive(Debug, Clone)]
pub struct Surroundings {
    site: Site,
    ground: surface::Surroundings,
    shelter: Option<Shelter>,
    view: Option<(Horizon, Faces)>,
    shadow: Option<RainShadow>,
}

/// Share of the clear sky's UV that comes straight from the sun, as a share of the same for all sunlight: at
/// these wavelengths the sky gives at least half (WMO-No. 8, Part I, ch. 7, from memory).
const ULTRAVIOLET_DIRECT: f64 = 0.5;
/// Share of the gain in air temperature by which the wet bulb rises at constant vapour pressure: the psychrometer
/// constant over its sum with the slope of the saturation curve, at 15 degC (0.66 / (0.66 + 1.1), WMO-No. 8,
/// Annex 4.B).
const WET_BULB_SHARE: f64 = 0.38;

impl Surroundings {
    /// The surroundings of one station. Takes a few milliseconds where obstacles stand.
    #[must_use]
    pub fn new(site: Site) -> Self {
        let height_m = site.height_m;
        let obstacles = &site.obstacles;
        Self {
            ground: surface::Surroundings::new(site.surface.ground(), site.surface_share, height_m),
            shelter: Shelter::of(obstacles, height_m, site.roughness_length_m),
            view: Horizon::of(&site.horizon_deg, obstacles, height_m)
                .map(|horizon| (horizon, Faces::of(obstacles, height_m))),
            shadow: RainShadow::of(obstacles, height_m, site.roughness_length_m),
            site,
        }
    }

    /// Other surroundings of the same head from now on: snow that lies and warmth that is stored stay.
    #[must_use]
    pub fn changed_to(&self, site: Site) -> Self {
        let mut changed = Self::new(site);
        changed.ground.take_over(&self.ground);
        changed
    }

    /// What the surroundings are.
    #[must_use]
    pub fn site(&self) -> &Site {
        &self.site
    }

    /// Snow that lies around the head, mm of water.
    #[must_use]
    pub fn snow_mm(&self) -> f64 {
        self.ground.snow_mm()
    }

    /// Share of a level plane's light from an even sky that is left, 0 to 1.
    #[must_use]
    pub fn sky_view(&self) -> f64 {
        self.view
            .as_ref()
            .map_or(1.0, |(horizon, _)| horizon.sky_view)
    }

    /// What of the free air reaches the head in this interval.
    #[must_use]
    pub fn expose(&mut self, truth: &Truth) -> Exposure {
        let mut exposure = free_air(truth);
        if let Some(shadow) = &self.shadow {
            shade_rain(shadow, truth, &mut exposure);
        }
        if let Some(shelter) = &mut self.shelter {
            exposure.wind = shelter.apply(
                &truth.wind,
                truth.wind_speed_ms,
                truth.wind_from_direction_deg,
                truth.interval_s,
            );
            let sum: f64 = exposure.wind.iter().map(|sample| sample.speed_ms).sum();
            exposure.wind_speed_ms = sum * (1.0 / WIND_SAMPLES as f64);
        }
        let from_walls_wm2 = match &self.view {
            Some((horizon, faces)) => shade_light(horizon, faces, truth, &mut exposure),
            None => 0.0,
        };
        let excess_k = self.ground.step(&Forcing {
            interval_s: truth.interval_s,
            air_degc: truth.air_temperature_degc,
            vapour_hpa: truth.vapour_pressure_hpa,
            global_wm2: exposure.global_irradiance_wm2,
            net_longwave_wm2: exposure.net_longwave_wm2,
            wind_ms: exposure.wind_speed_ms,
            rainfall_mm: exposure.rainfall_mm,
            snowfall_mm: truth.snowfall_mm,
        });
        if !self.ground.is_grass() {
            warm(&mut exposure, excess_k);
        }
        exposure.reflected_irradiance_wm2 =
            self.ground.albedo() * exposure.global_irradiance_wm2 + from_walls_wm2;
        exposure
    }
}

/// The exposure of a head with nothing in the way.
fn free_air(truth: &Truth) -> Exposure {
    let global = truth.global_irradiance_wm2;
    let sun_up = truth.sun.up;
    let direct_share = if global > 0.0 && sun_up > 0.0 {
        (truth.direct_normal_irradiance_wm2 * sun_up / global).clamp(0.0, 1.0)
    } else {
        0.0
    };
    Exposure {
        interval_s: truth.interval_s,
        air_temperature_degc: truth.air_temperature_degc,
        vapour_pressure_hpa: truth.vapour_pressure_hpa,
        saturation_vapour_pressure_hpa: saturation_vapour_pressure_hpa(truth.air_temperature_degc),
        relative_humidity_percent: truth.relative_humidity_percent,
        air_pressure_hpa: truth.air_pressure_hpa,
        wind: truth.wind,
        wind_speed_ms: truth.wind_speed_ms,
        rainfall_mm: truth.rainfall_mm,
        snowfall_mm: truth.snowfall_mm,
        wet_bulb_degc: truth.wet_bulb_degc,
        global_irradiance_wm2: global,
        direct_normal_irradiance_wm2: truth.direct_normal_irradiance_wm2,
        direct_share,
        sun_up,
        reflected_irradiance_wm2: 0.0,
        net_longwave_wm2: truth.net_longwave_wm2,
        illuminance_lx: truth.illuminance_lx,
        ultraviolet_index: truth.ultraviolet_index,
    }
}

/// Drops and flakes that come over an obstacle and miss the funnel.
fn shade_rain(shadow: &RainShadow, truth: &Truth, exposure: &mut Exposure) {
    let (speed, from) = (truth.wind_speed_ms, truth.wind_from_direction_deg);
    if truth.rainfall_mm > 0.0 {
        let rate_mm_h = truth.rainfall_mm * 3600.0 / truth.interval_s;
        exposure.rainfall_mm *= shadow.reaching(fall_speed_ms(rate_mm_h), speed, from);
    }
    if truth.snowfall_mm > 0.0 {
        exposure.snowfall_mm *= shadow.reaching(SNOW_FALL_SPEED_MS, speed, from);
    }
}

/// Sun and sky behind the horizon; what walls send to the side of the shield, W/m2.
fn shade_light(horizon: &Horizon, faces: &Faces, truth: &Truth, exposure: &mut Exposure) -> f64 {
    let sky = horizon.sky_view;
    // What is not sky stands at about air temperature and exchanges nothing with a body that does too.
    exposure.net_longwave_wm2 *= sky;
    let global = truth.global_irradiance_wm2;
    if global <= 0.0 {
        return 0.0;
    }
    let sun = if exposure.direct_share > 0.0 {
        horizon.sun_seen(&truth.sun)
    } else {
        1.0
    };
    let direct_share = exposure.direct_share;
    let (level, side) = faces.send(&truth.sun, truth.direct_normal_irradiance_wm2 * sun, global);
    let of = |share: f64| share * sun + (1.0 - share) * sky + level / global;
    let left = of(direct_share);
    exposure.global_irradiance_wm2 = global * left;
    exposure.illuminance_lx *= left;
    exposure.ultraviolet_index *= of(ULTRAVIOLET_DIRECT * direct_share);
    exposure.direct_normal_irradiance_wm2 *= sun;
    exposure.direct_share = if left > 0.0 {
        direct_share * sun / left
    } else {
        0.0
    };
    side
}

/// Air warmed (or cooled) by the ground; its vapour stays unless it would be more than it can hold.
fn warm(exposure: &mut Exposure, excess_k: f64) {
    exposure.air_temperature_degc += excess_k;
    let saturation = saturation_vapour_pressure_hpa(exposure.air_temperature_degc);
    let ratio = exposure.saturation_vapour_pressure_hpa / saturation;
    exposure.saturation_vapour_pressure_hpa = saturation;
    exposure.vapour_pressure_hpa = exposure.vapour_pressure_hpa.min(saturation);
    exposure.relative_humidity_percent =
        (exposure.relative_humidity_percent * ratio).clamp(0.0, 100.0);
    exposure.wet_bulb_degc =
        (exposure.wet_bulb_degc + WET_BULB_SHARE * excess_k).min(exposure.air_temperature_degc);
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

    fn afternoon() -> Truth {
        Truth {
            interval_s: 16.0,
            air_temperature_degc: 20.0,
            vapour_pressure_hpa: 12.0,
            relative_humidity_percent: 51.4,
            air_pressure_hpa: 1000.0,
            rainfall_mm: 0.2,
            snowfall_mm: 0.01,
            wet_bulb_degc: 13.9,
            wind_speed_ms: 3.0,
            wind_from_direction_deg: 180.0,
            wind: [WindSample {
                speed_ms: 3.0,
                from_direction_deg: 180.0,
            }; WIND_SAMPLES],
            sun: SunDirection {
                east: 0.0,
                north: -0.8,
                up: 0.6,
            },
            global_irradiance_wm2: 500.0,
            direct_normal_irradiance_wm2: 600.0,
            diffuse_irradiance_wm2: 140.0,
            net_longwave_wm2: -60.0,
            illuminance_lx: 55_000.0,
            ultraviolet_index: 4.0,
            ..Truth::default()
        }
    }

    #[test]
    fn free_air_passes_an_open_site_bit_for_bit() {
        let truth = afternoon();
        let mut open = Surroundings::new(Site::OPEN);
        for _ in 0..10 {
            let e = open.expose(&truth);
            let pairs = [
                (e.air_temperature_degc, truth.air_temperature_degc),
                (e.vapour_pressure_hpa, truth.vapour_pressure_hpa),
                (e.relative_humidity_percent, truth.relative_humidity_percent),
                (e.air_pressure_hpa, truth.air_pressure_hpa),
                (e.wind_speed_ms, truth.wind_speed_ms),
                (e.rainfall_mm, truth.rainfall_mm),
                (e.snowfall_mm, truth.snowfall_mm),
                (e.wet_bulb_degc, truth.wet_bulb_degc),
                (e.global_irradiance_wm2, truth.global_irradiance_wm2),
                (e.net_longwave_wm2, truth.net_longwave_wm2),
                (e.illuminance_lx, truth.illuminance_lx),
                (e.ultraviolet_index, truth.ultraviolet_index),
            ];
            for (ours, free) in pairs {
                assert_eq!(ours.to_bits(), free.to_bits());
            }
            assert_eq!(e.wind, truth.wind);
            assert!((e.direct_share - 0.72).abs() < 1e-12);
            assert!((e.saturation_vapour_pressure_hpa - 23.33).abs() < 0.03);
        }
        assert_eq!(open.sky_view(), 1.0);
    }

    #[test]
    fn a_wall_to_the_south_takes_wind_sun_and_rain() {
        let mut site = Site::OPEN;
        site.obstacles[6] = Obstacle {
            distance_m: 4.0,
            height_m: 8.0,
            ..Obstacle::NONE
        };
        let truth = Truth {
            wind_speed_ms: 6.0,
            wind: [WindSample {
                speed_ms: 6.0,
                from_direction_deg: 180.0,
            }; WIND_SAMPLES],
            ..afternoon()
        };
        let mut walled = Surroundings::new(site);
        let e = walled.expose(&truth);
        assert!(e.wind_speed_ms < 0.5 * truth.wind_speed_ms);
        assert!(e.rainfall_mm < 0.9 * truth.rainfall_mm);
        assert_eq!((e.direct_normal_irradiance_wm2, e.direct_share), (0.0, 0.0));
        let diffuse = truth.global_irradiance_wm2 * 0.28;
        assert!((0.9 * diffuse..1.2 * diffuse).contains(&e.global_irradiance_wm2));
        assert!(e.net_longwave_wm2 > truth.net_longwave_wm2);
        assert_eq!(e.air_temperature_degc, truth.air_temperature_degc);
        let north = Truth {
            wind_from_direction_deg: 0.0,
            wind: [WindSample {
                speed_ms: 6.0,
                from_direction_deg: 0.0,
            }; WIND_SAMPLES],
            sun: SunDirection {
                north: 0.8,
                ..truth.sun
            },
            ..truth
        };
        let e = Surroundings::new(site).expose(&north);
        assert!((e.wind_speed_ms - 6.0).abs() < 1e-9);
        assert_eq!(e.rainfall_mm, north.rainfall_mm);
        assert!(e.global_irradiance_wm2 > 0.95 * north.global_irradiance_wm2);
    }

    /// Two surroundings under one truth: what a fault of siting needs.
    #[test]
    fn worse_surroundings_start_with_the_snow_that_lies() {
        let mut good = Surroundings::new(Site::OPEN);
        let snowing = Truth {
            snowfall_mm: 2.0,
            air_temperature_degc: -5.0,
            ..afternoon()
        };
        let free = good.expose(&snowing);
        assert!(free.reflected_irradiance_wm2 > 0.2 * free.global_irradiance_wm2);
        let mut worse = good.changed_to(Site {
            surface: Surface::DarkRoof,
            ..Site::OPEN
        });
        assert_eq!(worse.snow_mm(), good.snow_mm());
        let same = good.changed_to(Site::OPEN).expose(&snowing);
        assert_eq!(same, good.expose(&snowing));
        let _ = worse.expose(&snowing);
    }
}
