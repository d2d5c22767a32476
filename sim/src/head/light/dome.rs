//! The dome over the light sensors: dirt, dew, frost and snow.

use crate::physics::moist_air::{
    saturation_vapour_pressure_hpa, saturation_vapour_pressure_over_ice_hpa,
};
use crate::site::Exposure;

/// Light lost to dirt per dry day, share. Half of the 0.0015 that Kimber et al. 2006 (4th World Conf. on
/// Photovoltaic Energy Conversion; as given in the documentation of pvlib 0.16.1) fit to flat panels in rural
/// dry places: a small smooth dome sheds some (the half: common practice, no source).
pub const DIRT_PER_DAY: f64 = 0.000_75;
/// Light lost to dirt at most; same source.
pub const DIRTIEST: f64 = 0.3;
/// Rain that washes off all but a third of the dirt, mm; the source's model calls a panel clean after 6 mm in a
/// day, which here leaves an eighth.
pub const WASHING_MM: f64 = 3.0;
/// Light lost under a dome full of dew, share (common practice, no source).
pub const DEW_DIMS: f64 = 0.05;
/// Light lost under a dome full of hoar, share (common practice, no source).
pub const FROST_DIMS: f64 = 0.30;
/// Snow on the dome that leaves a third of the light, mm of water (common practice, no source).
pub const SNOW_DIMS_MM: f64 = 1.5;
/// Water on the dome when it is covered from side to side, mm (common practice, no source).
const COVERED_MM: f64 = 0.05;
/// Water that stays on the dome at most, mm: more runs off (dew collectors yield at most some 0.5 mm a night;
/// common practice, no source).
const HOLDS_MM: f64 = 0.15;
/// Share of the sunlight that the dome and what lies under it take up (common practice, no source).
const ABSORBS: f64 = 0.10;
/// Time between two steps of the dome, s.
const STEP_S: f64 = 300.0;
/// Wind above which dry snow is blown off, m/s (common practice, no source).
const BLOWN_OFF_MS: f64 = 6.0;
/// Times in which snow slides off a thawed dome, is blown off, and goes in full sun, s (common practice).
const SLIDES_S: f64 = 600.0;
const BLOWN_S: f64 = 1800.0;
const SUNNED_S: f64 = 3600.0;

/// Exchange of heat between a small dome and the air, W/(m2 K), by wind in m/s.
///
/// Order of a sphere of 5 cm, `Nu = 0.37 Re^0.6` (textbook, from memory: 25 at 1 m/s, 48 at 3 m/s) over the
/// whole dome, of which the upper half sees the sky: `4 + 18 sqrt(u)`.
fn convective_wm2_k(wind_ms: f64) -> f64 {
    4.0 + 18.0 * wind_ms.sqrt()
}

/// How much cooler (negative: warmer) than the air the dome is, K, by net long-wave irradiance (negative is a
/// loss), global irradiance, both W/m2, and wind, m/s: balance of the upper side.
#[must_use]
pub fn dome_cooler_k(net_longwave_wm2: f64, global_wm2: f64, wind_ms: f64) -> f64 {
    const RADIATIVE_WM2_K: f64 = 5.4;
    -(net_longwave_wm2 + ABSORBS * global_wm2) / (RADIATIVE_WM2_K + convective_wm2_k(wind_ms))
}

/// What lies on the dome and what light it lets through.
#[derive(Debug, Clone)]
pub struct Dome {
    dirt: f64,
    water_mm: f64,
    frozen: bool,
    snow_mm: f64,
    passes: f64,
    dark_factor: f64,
    waited_s: f64,
    rain_mm: f64,
    fallen_snow_mm: f64,
}

impl Dome {
    pub(super) fn new() -> Self {
        Self {
            dirt: 0.0,
            water_mm: 0.0,
            frozen: false,
            snow_mm: 0.0,
            passes: 1.0,
            dark_factor: 1.0,
            waited_s: 0.0,
            rain_mm: 0.0,
            fallen_snow_mm: 0.0,
        }
    }

    /// Share of the light lost to dirt.
    #[must_use]
    pub fn dirt(&self) -> f64 {
        self.dirt
    }

    /// Dew, rain or hoar on it, mm.
    #[must_use]
    pub fn water_mm(&self) -> f64 {
        self.water_mm
    }

    /// Whether that is frozen.
    #[must_use]
    pub fn frozen(&self) -> bool {
        self.frozen
    }

    /// Snow on it, mm of water.
    #[must_use]
    pub fn snow_mm(&self) -> f64 {
        self.snow_mm
    }

    /// Share of the light that passes.
    #[must_use]
    pub fn passes(&self) -> f64 {
        self.passes
    }

    /// Dark offset over that at 20 degC.
    pub(super) fn dark_factor(&self) -> f64 {
        self.dark_factor
    }

    /// One interval on. The films move every five minutes.
    pub(super) fn step(&mut self, exposure: &Exposure) {
        self.waited_s += exposure.interval_s;
        self.rain_mm += exposure.rainfall_mm;
        self.fallen_snow_mm += exposure.snowfall_mm;
        if self.waited_s >= STEP_S {
            self.move_films(exposure);
        }
    }

    fn move_films(&mut self, exposure: &Exposure) {
        let (seconds, rain_mm) = (self.waited_s, self.rain_mm);
        let fallen_mm = self.fallen_snow_mm;
        (self.waited_s, self.rain_mm, self.fallen_snow_mm) = (0.0, 0.0, 0.0);
        let air_degc = exposure.air_temperature_degc;
        let degc = air_degc
            - dome_cooler_k(
                exposure.net_longwave_wm2,
                exposure.global_irradiance_wm2,
                exposure.wind_speed_ms,
            );
        self.soil(seconds, rain_mm);
        self.cover(seconds, rain_mm, degc, exposure);
        self.snow(seconds, fallen_mm, degc, exposure);
        let covered = (self.water_mm * (1.0 / COVERED_MM)).min(1.0);
        let dims = if self.frozen { FROST_DIMS } else { DEW_DIMS };
        let snow = if self.snow_mm > 0.0 {
            libm::exp(-self.snow_mm * (1.0 / SNOW_DIMS_MM)).max(0.05)
        } else {
            1.0
        };
        self.passes = (1.0 - self.dirt) * (1.0 - dims * covered) * snow;
        self.dark_factor = libm::exp2((air_degc - 20.0) * (1.0 / super::DARK_DOUBLES_K)).min(8.0);
    }

    fn soil(&mut self, seconds: f64, rain_mm: f64) {
        if rain_mm > 0.0 {
            self.dirt *= libm::exp(-rain_mm * (1.0 / WASHING_MM));
        } else {
            self.dirt = (self.dirt + DIRT_PER_DAY * seconds * (1.0 / 86_400.0)).min(DIRTIEST);
        }
    }

    /// Vapour that condenses on the dome or leaves it: `h / (gamma L)` per hPa, the psychrometer's exchange, over
    /// water or ice.
    fn cover(&mut self, seconds: f64, rain_mm: f64, degc: f64, exposure: &Exposure) {
        const PSYCHROMETER_HPA_K: f64 = 0.66;
        const EVAPORATION_J_KG: f64 = 2.45e6;
        if self.water_mm == 0.0 {
            self.frozen = degc < 0.0;
        } else if degc < -0.5 {
            self.frozen = true;
        } else if degc > 0.5 {
            self.frozen = false;
        }
        let saturation = if self.frozen {
            saturation_vapour_pressure_over_ice_hpa(degc.max(-80.0))
        } else {
            saturation_vapour_pressure_hpa(degc.clamp(-80.0, 100.0))
        };
        let per_hpa = convective_wm2_k(exposure.wind_speed_ms) * seconds
            / (PSYCHROMETER_HPA_K * EVAPORATION_J_KG);
        let gain = per_hpa * (exposure.vapour_pressure_hpa - saturation) + rain_mm;
        self.water_mm = (self.water_mm + gain).clamp(0.0, HOLDS_MM);
    }

    fn snow(&mut self, seconds: f64, fallen_mm: f64, degc: f64, exposure: &Exposure) {
        if fallen_mm > 0.0 {
            // Wind carries most of it past a small dome.
            self.snow_mm += fallen_mm / (1.0 + 0.3 * exposure.wind_speed_ms);
        }
        if self.snow_mm == 0.0 {
            return;
        }
        let mut per_second = exposure.global_irradiance_wm2 * (0.001 / SUNNED_S);
        if degc > 0.0 {
            per_second += 1.0 / SLIDES_S;
        } else if exposure.wind_speed_ms > BLOWN_OFF_MS {
            per_second += 1.0 / BLOWN_S;
        }
        self.snow_mm *= (1.0 - per_second * seconds).max(0.0);
        if self.snow_mm < 0.001 {
            self.snow_mm = 0.0;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::head::testing::still_air;

    fn run(dome: &mut Dome, exposure: &Exposure, hours: f64) {
        for _ in 0..(225.0 * hours) as u32 {
            dome.step(exposure);
        }
    }

    #[test]
    fn a_dry_month_dims_by_two_percent_and_rain_washes() {
        let mut dome = Dome::new();
        let mut air = still_air();
        run(&mut dome, &air, 30.0 * 24.0);
        assert!(
            (1.0 - dome.passes() - 0.0225).abs() < 0.0005,
            "{}",
            dome.passes()
        );
        air.rainfall_mm = 6.0 / 225.0;
        run(&mut dome, &air, 1.0);
        assert!(dome.dirt() < 0.0035, "{}", dome.dirt());
        assert!(dome.water_mm() > 0.0);
    }

    /// A calm clear night near the dew point covers the dome; the cloudy or windy one does not; the sun dries it
    /// within three hours.
    #[test]
    fn dew_and_frost_come_on_clear_calm_nights_and_go_after_sunrise() {
        for (degc, frost) in [(10.0, false), (-3.0, true)] {
            let mut night = still_air();
            night.air_temperature_degc = degc;
            let saturation = saturation_vapour_pressure_hpa(degc);
            night.saturation_vapour_pressure_hpa = saturation;
            night.vapour_pressure_hpa = 0.92 * saturation;
            night.wind_speed_ms = 0.3;
            night.net_longwave_wm2 = -75.0;
            let mut dome = Dome::new();
            run(&mut dome, &night, 8.0);
            assert!(dome.water_mm() > COVERED_MM, "{degc}: {}", dome.water_mm());
            assert_eq!(dome.frozen(), frost);
            let dims = if frost { FROST_DIMS } else { DEW_DIMS };
            assert!((dome.passes() - (1.0 - dims)).abs() < 0.001);
            let mut cloudy = Dome::new();
            night.net_longwave_wm2 = -5.0;
            run(&mut cloudy, &night, 8.0);
            assert_eq!(cloudy.water_mm(), 0.0);
            // The morning: sun, wind, and air that warms by 2 K an hour.
            night.net_longwave_wm2 = -75.0;
            night.wind_speed_ms = 1.0;
            let mut hours = 0.0;
            while dome.water_mm() > 0.0 {
                hours += 0.1;
                night.air_temperature_degc = degc + 2.0 * hours;
                night.global_irradiance_wm2 = 120.0 * hours;
                run(&mut dome, &night, 0.1);
                assert!(hours < 5.0);
            }
            assert!((0.5..3.5).contains(&hours), "{degc}: {hours} h");
        }
    }

    #[test]
    fn snow_darkens_the_dome_until_it_slides() {
        let mut snowing = still_air();
        snowing.air_temperature_degc = -4.0;
        snowing.vapour_pressure_hpa = 4.0;
        snowing.snowfall_mm = 1.0 / 225.0;
        let mut dome = Dome::new();
        run(&mut dome, &snowing, 5.0);
        assert!(
            dome.snow_mm() > 4.0 && dome.passes() < 0.15,
            "{}",
            dome.passes()
        );
        snowing.snowfall_mm = 0.0;
        run(&mut dome, &snowing, 5.0);
        assert!(dome.snow_mm() > 4.0, "it stays while cold, dark and calm");
        snowing.air_temperature_degc = 2.0;
        run(&mut dome, &snowing, 2.0);
        assert_eq!(dome.snow_mm(), 0.0);
    }

    #[test]
    fn the_dome_is_some_kelvin_cooler_under_a_clear_calm_sky() {
        let calm = dome_cooler_k(-80.0, 0.0, 0.3);
        assert!((2.0..6.0).contains(&calm), "{calm}");
        assert!(dome_cooler_k(-80.0, 0.0, 5.0) < 0.5 * calm);
        assert!(dome_cooler_k(-80.0, 1000.0, 1.0) < 0.0);
    }
}
