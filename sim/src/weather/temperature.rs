//! The day: a surface energy balance that warms, cools, moistens and dries the air near the ground.
//!
//! The ground takes up sun and long waves and gives them on as heat, vapour, heat of melting and heat of
//! the soil ([`ground`]). By day a mixed layer takes up what it gives; by night a shallow stable layer
//! cools, dew or frost takes vapour out of it, and fog forms where it is saturated ([`layer`]). Rain, dew
//! and snow wet the ground and leave it again ([`water`]). All are departures from the region's air mass,
//! to which renewal by the wind brings them back.

mod exchange;
mod ground;
mod layer;
mod radiation;
mod water;

use crate::physics::moist_air::{dew_point_degc, saturation_vapour_pressure_hpa, wet_bulb_degc};
use exchange::convective_ms;
use ground::{Acting, Fluxes, Ground};
use layer::{Layer, Uptake};
pub use radiation::long_wave_loss_wm2;
pub(crate) use radiation::through_fog;
use radiation::{EMISSIVITY, ICE_POINT_K, black_body_wm2, sky_wm2};
use water::{Water, WaterBudget};

/// Density of air times its heat capacity, J/(m3 K), at 1000 hPa and 15 degC.
const AIR_HEAT: f64 = 1215.0;
/// Gas constant of water vapour, J/(kg K).
const VAPOUR_GAS: f64 = 461.5;
/// Long-wave cooling of clear air near the ground at night, W/m2 over the stable layer (common practice, no
/// source: 0.1 to 0.4 K/h over 100 m).
const CLEAR_AIR_LOSS_WM2: f64 = 8.0;
/// Time in which the ground around turns from warm to cold and back, slopes and woods one after the other, s
/// (common practice, no source).
const FETCH_S: f64 = 2400.0;
/// Change of the air mass that replaces half of what the place has made of the old one, K (common practice,
/// no source).
const NEW_AIR_K: f64 = 12.0;
/// Furthest that the ground brings the air away from the air mass, K: sun, night and season together (common
/// practice, no source; even hot bare ground and deep winter inversions stay within 40 K). Only air from
/// another place or time meets ground that would take it further.
const FURTHEST_K: f64 = 50.0;
/// Most of the air at 2 m that is the ground's own where its vapour counts.
const MOST_OF_GROUND: f64 = 0.5;
/// Share of the loss at the top of fog that cools the layer; the rest is made good by warmer air drawn in
/// from above (common practice, no source).
const FOG_TOP_COOLING: f64 = 0.5;
/// Relative humidity that steady rain brings the air below its cloud to, and the time in which rain of
/// 1 mm/h goes half of that way, s; heavy rain takes half as long (common practice, no source; the median
/// humidity of wet hours at an open coastal airport is 90 %).
const RAIN_HUMIDITY: f64 = 0.90;
const RAIN_COOLING_S: f64 = 7200.0;

/// Spread of the patches of air, minutes to hours long, that are warmer than the next, K: more under an
/// open sky and above hot ground (common practice, no source; ten minutes of open records change by 1.1 to 1.4 K
/// in one case of a hundred).
pub(crate) fn patchiness_k(low_cloud: f64, heat_flux_wm2: f64) -> f64 {
    0.12 + 0.16 * (1.0 - low_cloud) + 0.0008 * heat_flux_wm2
}

/// Share of what falls that is snow, 0 to 1, by the wet-bulb temperature in degC.
///
/// Wang et al. 2019, Geophys. Res. Lett. 46, eq. 1 (read in public model codes that cite it):
/// `1/(1 + 6.99e-5 exp(2 (tw + 3.97)))`; half at 0.8 degC. Above 6 degC, where it is below 3e-5, nothing.
#[must_use]
pub(crate) fn solid_share(wet_bulb_degc: f64) -> f64 {
    if wet_bulb_degc > 6.0 {
        return 0.0;
    }
    1.0 / (1.0 + 6.99e-5 * libm::exp(2.0 * (wet_bulb_degc + 3.97)))
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
    /// Rain or snow, mm/h of water.
    pub(crate) rain_mmh: f64,
    /// What the swing is multiplied by to meet the normal range: the depth of the air that takes up the
    /// ground's heat is divided by it.
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
    /// Share of fog, 0 to 1: it hides that much of the sky from the ground.
    pub(crate) fog: f64,
}

/// What one step did with energy and water, for those who check it.
#[derive(Debug, Clone, Copy)]
#[cfg_attr(not(test), expect(dead_code, reason = "only the checks read it"))]
struct Account {
    fluxes: Fluxes,
    water: WaterBudget,
}

/// The state that the day leaves behind.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Surface {
    ground: Ground,
    water: Water,
    layer: Layer,
    /// Upward flux of heat in the last step, K m/s.
    heat_kms: f64,
    /// Departure of the air at 2 m from that at 10 m, K and hPa.
    screen: (f64, f64),
    /// Temperature of the air mass in the last step, degC.
    mass_degc: f64,
    begun: bool,
}

impl Surface {
    /// A surface that takes its first air mass for its past.
    pub(crate) fn new() -> Self {
        Self {
            ground: Ground::at(10.0),
            water: Water::under(0.7, 10.0),
            layer: Layer::START,
            heat_kms: 0.0,
            screen: (0.0, 0.0),
            mass_degc: 10.0,
            begun: false,
        }
    }

    pub(crate) fn step(&mut self, f: &Forcing) -> NearGround {
        self.advance(f).0
    }

    fn advance(&mut self, f: &Forcing) -> (NearGround, Account) {
        let air_hpa = saturation_vapour_pressure_hpa(f.dew_point_degc);
        let humidity =
            (air_hpa / saturation_vapour_pressure_hpa(f.temperature_degc)).clamp(0.0, 1.0);
        if !self.begun {
            self.begun = true;
            self.ground = Ground::at(f.temperature_degc);
            self.water = Water::under(humidity, f.temperature_degc);
            self.mass_degc = f.temperature_degc;
        }
        let changed_k = (f.temperature_degc - self.mass_degc).abs();
        let kept = 1.0 / (1.0 + changed_k / NEW_AIR_K);
        self.layer.keep(kept);
        self.screen = (self.screen.0 * kept, self.screen.1 * kept);
        self.mass_degc = f.temperature_degc;
        let gain = f.range_gain.max(0.02);
        let wind = f.wind_ms.max(0.0);
        let snowing = self.rain(f, air_hpa, gain);

        let (warm, moist) = self.layer.near(gain);
        let degc = f.temperature_degc + warm;
        let vapour = (air_hpa + moist).max(0.1 * air_hpa);
        let kelvin = degc + ICE_POINT_K;
        let saturated = saturation_vapour_pressure_hpa(degc);
        let air_heat = AIR_HEAT * (f.pressure_hpa / 1000.0) * (288.15 / kelvin);
        let fog = self.layer.fog(wind);
        // The spread of the air mass tells the base of its clouds.
        let sky = sky_wm2(
            kelvin,
            vapour,
            f.temperature_degc - f.dew_point_degc,
            f.cover,
        );
        let from_fog = fog * (black_body_wm2(kelvin) - sky).max(0.0);
        let sun = f.global_wm2 * through_fog(fog);
        let absorbed = (1.0 - self.water.albedo()) * sun + EMISSIVITY * (sky + from_fog);
        let warmed = f.global_wm2 > 0.0 && self.heat_kms > 0.0;
        let acting = Acting {
            seconds: f.seconds,
            absorbed_wm2: absorbed,
            wind_ms: wind,
            convective_ms: convective_ms(self.heat_kms, self.layer.depth_m, kelvin),
            air_degc: degc,
            vapour_hpa: vapour,
            air_heat,
            depth_m: self.layer.answering_m(gain, warmed),
            wet: self.water.wet(),
            resistance_sm: self.water.resistance_sm(sun, saturated - vapour, degc),
            moist: self.water.moist(),
            snow_mm: self.water.snow_mm,
            snow_share: self.water.snow_share(),
        };
        let (fluxes, exchange) = self.ground.step(&acting);
        self.heat_kms = fluxes.sensible / air_heat;
        let night = 1.0 - (f.global_wm2 * (1.0 / 50.0)).min(1.0);
        let clear_air = CLEAR_AIR_LOSS_WM2 * night * (1.0 - f.cover) * (1.0 - fog);
        self.layer.take_up(&Uptake {
            seconds: f.seconds,
            heat_kms: self.heat_kms,
            vapour_hpa_ms: fluxes.vapour_hpa_ms,
            radiated_kms: (FOG_TOP_COOLING * from_fog + clear_air) / air_heat,
            wind_ms: wind,
            air_hpa,
            gain,
            furthest_k: FURTHEST_K,
        });
        let warming = ground::VAPORISATION * 0.622 / (1005.0 * f.pressure_hpa);
        self.follow(f, air_hpa, gain, exchange.above_screen, fluxes.skin_hpa);
        let screen = self.at_screen(f, air_hpa, gain);
        self.layer.condense(
            f.seconds,
            (f.temperature_degc, air_hpa),
            screen,
            warming,
            gain,
        );
        let settled_hpam = self.layer.settle(f.seconds, gain);
        let fallen = f.rain_mmh.max(0.0) * f.seconds / 3600.0;
        let water = self.water.step(
            f.seconds,
            (fallen * (1.0 - snowing), fallen * snowing),
            settled_hpam * 100.0 / (VAPOUR_GAS * kelvin),
            fluxes.vapour_kg * f.seconds,
            fluxes.melt * f.seconds,
            humidity,
        );

        let (temperature, vapour) = self.at_screen(f, air_hpa, gain);
        let vapour = vapour.min(saturation_vapour_pressure_hpa(temperature));
        let near = NearGround {
            temperature_degc: temperature,
            vapour_pressure_hpa: vapour,
            heat_flux_wm2: fluxes.sensible.max(0.0),
            swing_k: (temperature - f.temperature_degc) / gain,
            fog: self.layer.fog(wind),
        };
        (near, Account { fluxes, water })
    }

    /// The air at 2 m, degC and hPa; it may be beyond saturation.
    fn at_screen(&self, f: &Forcing, air_hpa: f64, gain: f64) -> (f64, f64) {
        let (warm, moist) = self.layer.near(gain);
        let away = (warm + self.screen.0).clamp(-FURTHEST_K, FURTHEST_K);
        let vapour = (air_hpa + moist).max(0.1 * air_hpa);
        // However dry the ground, the rest is still the layer's.
        let moister = self.screen.1.max(-MOST_OF_GROUND * vapour);
        (f.temperature_degc + away, vapour + moister)
    }

    /// The air at 2 m follows the profile between the layer and the skin as the ground of the whole fetch
    /// does.
    fn follow(&mut self, f: &Forcing, air_hpa: f64, gain: f64, share: f64, skin_hpa: f64) {
        let (warm, moist) = self.layer.near(gain);
        // A gain below 1 is also that of ground which the air hardly feels; above 1 it thins the layer alone.
        let share = share * gain.min(1.0);
        let warmer = share * (self.ground.skin_degc - f.temperature_degc - warm);
        let moister = share.min(MOST_OF_GROUND) * (skin_hpa - (air_hpa + moist).max(0.1 * air_hpa));
        let pace = f.seconds / (FETCH_S + f.seconds);
        self.screen.0 += (warmer - self.screen.0) * pace;
        self.screen.1 += (moister - self.screen.1) * pace;
    }

    /// Evaporation of falling rain takes the air towards its wet bulb; returns the share of snow.
    fn rain(&mut self, f: &Forcing, air_hpa: f64, gain: f64) -> f64 {
        if f.rain_mmh <= 0.0 {
            return 0.0;
        }
        let (warm, moist) = self.layer.near(gain);
        let degc = f.temperature_degc + warm;
        let vapour = (air_hpa + moist).max(0.1 * air_hpa);
        let wet_bulb = wet_bulb_degc(degc, vapour, f.pressure_hpa);
        let humidity = vapour / saturation_vapour_pressure_hpa(degc);
        if humidity < RAIN_HUMIDITY {
            let reach = (RAIN_HUMIDITY - humidity) / (1.0 - humidity);
            let gone = f.seconds / RAIN_COOLING_S * 2.0 * f.rain_mmh / (1.0 + f.rain_mmh);
            let share = reach * gone / (1.0 + gone);
            let missing = saturation_vapour_pressure_hpa(wet_bulb) - vapour;
            self.layer
                .rained((degc - wet_bulb) * share, missing.max(0.0) * share);
        }
        solid_share(wet_bulb)
    }
}

impl NearGround {
    pub(crate) fn dew_point_degc(&self) -> f64 {
        dew_point_degc(self.vapour_pressure_hpa)
    }
}

#[cfg(test)]
mod tests;
