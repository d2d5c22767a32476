//! Winds that the terrain makes by itself: sea and land breeze, valley wind. Knot by knot.

use super::noise::smooth_step;
use crate::site::LocalWind;

/// What acts on a local wind during the interval that ends at a knot.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Context {
    /// Length of the interval, s.
    pub(crate) seconds: f64,
    pub(crate) latitude_deg: f64,
    /// Sine of the sun's elevation and global irradiance, W/m2.
    pub(crate) sun_up: f64,
    pub(crate) global_wm2: f64,
    /// Cover as the long waves see it, 0 to 1.
    pub(crate) cover: f64,
    /// Air over the land as it would be without the local wind: temperature and dew point, degC.
    pub(crate) land_degc: f64,
    pub(crate) dew_point_degc: f64,
    /// Surface of the water, degC.
    pub(crate) water_degc: f64,
    /// The wind of the weather at 10 m, m/s, and where it comes from, degrees.
    pub(crate) wind_ms: f64,
    pub(crate) wind_from_deg: f64,
}

/// What a local wind does to the air at the station.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct BreezeEffect {
    /// Vector to be added to the weather's wind at 10 m, m/s.
    pub(crate) east_ms: f64,
    pub(crate) north_ms: f64,
    /// To be added to temperature and dew point, K.
    pub(crate) temperature_k: f64,
    pub(crate) dew_point_k: f64,
    /// Depth of the air that the ground stirs over that of a mixed layer far inland, 0 to 1.
    pub(crate) depth: f64,
}

impl BreezeEffect {
    /// No local wind.
    const NONE: Self = Self {
        east_ms: 0.0,
        north_ms: 0.0,
        temperature_k: 0.0,
        dew_point_k: 0.0,
        depth: 1.0,
    };
}

/// The local wind of one station.
#[derive(Debug, Clone)]
pub(crate) enum Breeze {
    None,
    Sea(SeaBreeze),
    Valley(ValleyWind),
}

impl Breeze {
    pub(crate) fn new(local: LocalWind) -> Self {
        match local {
            LocalWind::None => Self::None,
            LocalWind::SeaBreeze {
                onshore_from_deg,
                shore_km,
            } => Self::Sea(SeaBreeze::new(onshore_from_deg, shore_km)),
            LocalWind::Valley { up_valley_from_deg } => Self::Valley(ValleyWind {
                towards: towards(up_valley_from_deg),
                sun_mj: 0.0,
                along_ms: 0.0,
            }),
        }
    }

    /// One interval on. Knots must come in order of time.
    pub(crate) fn act(&mut self, context: &Context) -> BreezeEffect {
        match self {
            Self::None => BreezeEffect::NONE,
            Self::Sea(breeze) => breeze.act(context),
            Self::Valley(wind) => wind.act(context),
        }
    }
}

/// Unit vector (east, north) in which a wind from `from_deg` blows.
fn towards(from_deg: f64) -> (f64, f64) {
    let (sine, cosine) = libm::sincos(from_deg.to_radians());
    (-sine, -cosine)
}

/// Greatest `U^2 / (c dT)` at which a breeze forms, with U in m/s, c = 1.003 J/(g K) and dT in K: Biggs &
/// Graves 1962, J. Appl. Meteor. 1, for a lake breeze (from memory).
const BREEZE_INDEX: f64 = 3.0;
/// Wind off the land that keeps the front at sea, m/s: numerical studies find 6 to 11 aloft (Arritt 1993,
/// J. Appl. Meteor. 32, from memory); here at 10 m.
const OFFSHORE_MS: f64 = 5.5;
/// Time of contrast and sunshine before the breeze starts at the shore, s: the forenoon in which the land warms
/// air some hundred metres deep; irradiance that counts, W/m2 (common practice, no source).
const BUILD_UP_S: f64 = 2.5 * 3600.0;
const SUNSHINE_WM2: f64 = 250.0;
/// Time in which the front passes a station, and in which a breeze without sun dies, s (common practice).
const PASSAGE_S: f64 = 900.0;
const DECAY_S: f64 = 3000.0;
/// Time in which sea air takes the place of the land's behind the front, whose head has mixed the two, and in
/// which it is worn away when the breeze has died, s (common practice, no source).
const ARRIVING_S: f64 = 2400.0;
const LEAVING_S: f64 = 5400.0;
/// Warmth of the air over a coast's water above the water by day, K (common practice, no source).
const OVER_WATER_K: f64 = 1.0;
/// Stratification of the air that comes from the sea, K/m, and share of the sun's light that heats the air over
/// land (common practice, no source).
const MARINE_K_PER_M: f64 = 0.01;
const HEATING_SHARE: f64 = 0.3;
/// Distances in which sea air takes on the land's moisture, and in which the breeze and the land breeze
/// weaken, km (common practice, no source).
const FETCH_KM: f64 = 30.0;
const REACH_KM: f64 = 90.0;
const LAND_REACH_KM: f64 = 15.0;
/// Veer of the breeze by the Earth's turning, degrees an hour at 45 degrees of latitude, and its end: towards
/// the shore's own direction (common practice, no source).
const VEER_DEG_PER_H: f64 = 4.0;
const MOST_VEER_DEG: f64 = 30.0;

/// Depth of the mixed layer far inland, m, as convection near the ground is worked out with.
const INLAND_DEPTH_M: f64 = 1000.0;

/// What air from the sea has warmed by, K, after so many metres over land in the sun (W/m2) at a speed (m/s).
///
/// The internal boundary layer that grows by encroachment into it, `h^2 = 2 H x / (rho c G U)`, is warmer by
/// `G h` (Venkatram 1977, Boundary-Layer Meteorol. 11, from memory); G is [`MARINE_K_PER_M`].
fn warmed_k(over_land_m: f64, global_wm2: f64, speed_ms: f64) -> f64 {
    let heat_kms = HEATING_SHARE * global_wm2.max(0.0) / 1215.0;
    (2.0 * MARINE_K_PER_M * heat_kms * over_land_m / speed_ms.max(2.0)).sqrt()
}

/// Sea breeze by day, land breeze by night.
///
/// A density current: speed by the root of the contrast (Simpson 1994, Sea Breeze and Local Winds, from memory:
/// 3 to 7 m/s), a front that advances against the wind of the weather (Simpson & Britter 1980, Quart. J. 106,
/// from memory: three quarters of the current's speed less six tenths of the head wind).
#[derive(Debug, Clone)]
pub(crate) struct SeaBreeze {
    towards: (f64, f64),
    shore_km: f64,
    built_s: f64,
    current_ms: f64,
    /// How far inland the front is; negative while there is none.
    front_km: f64,
    /// How far the front has passed the station, 0 to 1, and for how long, h.
    passed: f64,
    hours: f64,
    /// Share of sea air in the station's, before the land has warmed it.
    marine: f64,
    land_breeze_ms: f64,
}

impl SeaBreeze {
    fn new(onshore_from_deg: f64, shore_km: f64) -> Self {
        Self {
            towards: towards(onshore_from_deg),
            shore_km: shore_km.max(0.0),
            built_s: 0.0,
            current_ms: 0.0,
            front_km: -1.0,
            passed: 0.0,
            hours: 0.0,
            marine: 0.0,
            land_breeze_ms: 0.0,
        }
    }

    fn act(&mut self, c: &Context) -> BreezeEffect {
        let contrast_k = c.land_degc - c.water_degc;
        let flow = towards(c.wind_from_deg);
        let offshore_ms = -c.wind_ms * (flow.0 * self.towards.0 + flow.1 * self.towards.1);
        let possible = contrast_k > 1.0
            && c.wind_ms * c.wind_ms < BREEZE_INDEX * 1.003 * contrast_k
            && offshore_ms < OFFSHORE_MS;
        // A breeze that blows has cooled the land that it is measured against: it asks for sun alone.
        let under_way = self.front_km >= 0.0 && contrast_k > 0.5 && offshore_ms < OFFSHORE_MS;
        let sunny = c.global_wm2 > SUNSHINE_WM2;
        if sunny && (possible || under_way) {
            self.built_s = (self.built_s + c.seconds).min(BUILD_UP_S);
            if self.built_s >= BUILD_UP_S {
                let target_ms = (1.9 * contrast_k.sqrt()).clamp(2.8, 7.0);
                let share = 1.0 - libm::exp(-c.seconds / DECAY_S);
                if self.front_km < 0.0 {
                    self.front_km = 0.0;
                    self.current_ms = target_ms;
                }
                self.current_ms += (target_ms - self.current_ms) * share;
                let front_ms = 0.75 * self.current_ms - 0.6 * offshore_ms.max(0.0);
                self.front_km = (self.front_km + front_ms * c.seconds * 1e-3).max(0.0);
            }
        } else {
            self.built_s = (self.built_s - 2.0 * c.seconds).max(0.0);
            self.current_ms *= libm::exp(-c.seconds / DECAY_S);
            if self.current_ms < 0.8 {
                self.current_ms = 0.0;
                self.front_km = -1.0;
            }
        }
        let here = if self.front_km >= self.shore_km {
            1.0
        } else {
            0.0
        };
        let most = c.seconds / PASSAGE_S;
        self.passed += (here - self.passed).clamp(-most, most);
        self.hours = if self.passed > 0.0 {
            self.hours + c.seconds / 3600.0
        } else {
            0.0
        };
        self.blow_by_night(c, contrast_k);

        // Weakened by distance and, when it dies, by its own age.
        let share = self.passed * smooth_step(0.5, 2.5, self.current_ms);
        let breeze_ms = self.current_ms * libm::exp(-self.shore_km / REACH_KM);
        let turned = (VEER_DEG_PER_H * self.hours * libm::sin(c.latitude_deg.to_radians())
            / core::f64::consts::FRAC_1_SQRT_2)
            .clamp(-MOST_VEER_DEG, MOST_VEER_DEG);
        let (sine, cosine) = libm::sincos(turned.to_radians());
        let (east, north) = self.towards;
        // Clockwise in the north.
        let along = (east * cosine + north * sine, north * cosine - east * sine);
        let replaced = 0.85 * share * c.wind_ms;
        let night_ms = self.land_breeze_ms * libm::exp(-self.shore_km / LAND_REACH_KM);
        let pace_s = if share > self.marine {
            ARRIVING_S
        } else {
            LEAVING_S
        };
        self.marine += (share - self.marine) * (1.0 - libm::exp(-c.seconds / pace_s));
        // What weakens the breeze inland is land air that it draws in.
        let marine = 0.85 * libm::exp(-self.shore_km / REACH_KM) * self.marine;
        let inland_ms = breeze_ms + (-offshore_ms).max(0.0);
        let warmed = warmed_k(1000.0 * self.shore_km, c.global_wm2, inland_ms);
        let cooler_k = (contrast_k.min(10.0) - OVER_WATER_K - warmed).max(0.0);
        // Air over the water is some three kelvin drier than its surface (common practice: 80 to 85 %).
        let moister_k = c.water_degc - 3.0 - c.dew_point_degc;
        let added = (
            share * breeze_ms * along.0 - replaced * flow.0 - night_ms * east,
            share * breeze_ms * along.1 - replaced * flow.1 - night_ms * north,
        );
        // Sea air is stirred as deep as the internal boundary layer has grown into it.
        let blown = (c.wind_ms * flow.0 + added.0, c.wind_ms * flow.1 + added.1);
        let speed_ms = (blown.0 * blown.0 + blown.1 * blown.1).sqrt() + 0.1;
        let onshore = (blown.0 * east + blown.1 * north) / speed_ms;
        let fetch_m = 1000.0 * self.shore_km / onshore.max(0.1);
        let grown_m = warmed_k(fetch_m, c.global_wm2, speed_ms) / MARINE_K_PER_M;
        let shallow = (1.0 - grown_m / INLAND_DEPTH_M).max(0.0);
        BreezeEffect {
            depth: 1.0 - smooth_step(0.0, 0.3, onshore) * shallow,
            east_ms: added.0,
            north_ms: added.1,
            temperature_k: -marine * cooler_k,
            dew_point_k: marine * libm::exp(-self.shore_km / FETCH_KM) * moister_k.clamp(0.0, 8.0),
        }
    }

    fn blow_by_night(&mut self, c: &Context, contrast_k: f64) {
        let target_ms = if c.sun_up < 0.0 {
            1.6 * smooth_step(1.0, 6.0, -contrast_k) / (1.0 + libm::pow(c.wind_ms / 3.5, 4.0))
        } else {
            0.0
        };
        let share = 1.0 - libm::exp(-c.seconds / 5400.0);
        self.land_breeze_ms += (target_ms - self.land_breeze_ms) * share;
    }
}

/// Sunshine that breaks the night's inversion in a valley, MJ/m2: two to three hours after sunrise in summer,
/// later in winter (Whiteman 2000, Mountain Meteorology, from memory, for the hours).
const INVERSION_MJ: f64 = 1.6;
/// Wind of the weather at which a valley wind is half suppressed, m/s (common practice, no source).
const SUPPRESSED_MS: f64 = 6.0;
/// Time in which the air of a valley is set in motion, s (common practice, no source).
const INERTIA_S: f64 = 4000.0;

/// Up the valley by day, down by night; it turns when the night's inversion is broken, and again about sunset.
#[derive(Debug, Clone)]
pub(crate) struct ValleyWind {
    towards: (f64, f64),
    /// Sunshine since sunrise, MJ/m2.
    sun_mj: f64,
    /// Up the valley, m/s.
    along_ms: f64,
}

impl ValleyWind {
    fn act(&mut self, c: &Context) -> BreezeEffect {
        if c.sun_up < 0.0 {
            self.sun_mj = 0.0;
        } else {
            self.sun_mj += c.global_wm2 * c.seconds * 1e-6;
        }
        let down_ms = -(0.6 + 2.0 * (1.0 - c.cover));
        let target_ms = if c.sun_up < 0.0 || self.sun_mj < INVERSION_MJ {
            down_ms
        } else {
            5.5 * smooth_step(80.0, 700.0, c.global_wm2)
        };
        let share = 1.0 - libm::exp(-c.seconds / INERTIA_S);
        self.along_ms += (target_ms - self.along_ms) * share;
        let x = c.wind_ms / SUPPRESSED_MS;
        let free = 1.0 / (1.0 + x * x * x * x);
        let along_ms = free * self.along_ms;
        // The walls keep half of a weak wind of the weather out.
        let flow = towards(c.wind_from_deg);
        let kept_out = 0.5 * free * c.wind_ms;
        BreezeEffect {
            east_ms: along_ms * self.towards.0 - kept_out * flow.0,
            north_ms: along_ms * self.towards.1 - kept_out * flow.1,
            ..BreezeEffect::NONE
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::weather::wind::blown;

    /// A fair day by the hour: sun from 6 to 18, land 14 to 26 degC, water 16.
    fn day(
        local: LocalWind,
        wind: (f64, f64),
        latitude_deg: f64,
    ) -> Vec<(f64, BreezeEffect, (f64, f64))> {
        let mut breeze = Breeze::new(local);
        (0..144)
            .map(|n| {
                let hour = f64::from(n) / 6.0;
                let sun_up = 0.85 * libm::sin((hour - 6.0) / 12.0 * core::f64::consts::PI);
                let swing = libm::cos((hour - 15.0) / 12.0 * core::f64::consts::PI);
                let effect = breeze.act(&Context {
                    seconds: 600.0,
                    latitude_deg,
                    sun_up,
                    global_wm2: 950.0 * sun_up.max(0.0),
                    cover: 0.1,
                    land_degc: 20.0 + 6.0 * swing,
                    dew_point_degc: 9.0,
                    water_degc: 16.0,
                    wind_ms: wind.0,
                    wind_from_deg: wind.1,
                });
                let total = blown(wind, effect.east_ms, effect.north_ms);
                (hour, effect, total)
            })
            .collect()
    }

    fn sea(shore_km: f64) -> LocalWind {
        LocalWind::SeaBreeze {
            onshore_from_deg: 180.0,
            shore_km,
        }
    }

    #[test]
    fn a_sea_breeze_comes_cools_and_goes() {
        // A weak wind off the land, from the north.
        let day = day(sea(3.0), (1.5, 0.0), 45.0);
        let onset = day.iter().position(|s| s.1.temperature_k < -0.5).unwrap();
        let hour = day[onset].0;
        assert!((9.0..13.0).contains(&hour), "onset at {hour}");
        let (before, after) = (day[onset - 3], day[onset + 3]);
        assert!(after.1.temperature_k < -2.0, "{after:?}");
        assert!(after.1.dew_point_k > 1.0, "{after:?}");
        let turn = (after.2.1 - before.2.1 + 540.0).rem_euclid(360.0) - 180.0;
        assert!((90.0..=180.0).contains(&turn.abs()), "{turn}");
        let strongest = day.iter().map(|s| s.2.0).fold(0.0, f64::max);
        assert!((3.0..7.5).contains(&strongest), "{strongest}");
        // The Earth's turning: from the south towards the west in the north.
        let late = day.iter().find(|s| s.0 == 16.0).unwrap();
        assert!(
            (190.0..250.0).contains(&late.2.1.rem_euclid(360.0)),
            "{late:?}"
        );
        let evening = day.iter().find(|s| s.0 == 21.0).unwrap();
        assert!(evening.1.temperature_k > -0.3, "{evening:?}");
    }

    #[test]
    fn it_reaches_inland_later_and_weaker() {
        let onset = |shore_km: f64| {
            let day = day(sea(shore_km), (1.0, 0.0), 45.0);
            let coldest = day.iter().map(|s| s.1.temperature_k).fold(0.0, f64::min);
            let first = day.iter().find(|s| s.1.temperature_k < 0.3 * coldest);
            (first.map(|s| s.0), coldest)
        };
        let (near, inland) = (onset(1.0), onset(25.0));
        let lag = inland.0.unwrap() - near.0.unwrap();
        assert!((1.5..5.0).contains(&lag), "{lag} h");
        assert!(inland.1 > 0.7 * near.1, "{inland:?} {near:?}");
        assert_eq!(onset(120.0).1, 0.0);
    }

    #[test]
    fn the_winds_of_the_weather_suppress_it() {
        for wind in [(7.0, 0.0), (9.0, 180.0)] {
            let day = day(sea(3.0), wind, 45.0);
            assert!(day.iter().all(|s| s.1.temperature_k == 0.0), "{wind:?}");
        }
    }

    #[test]
    fn it_turns_the_other_way_in_the_south() {
        let day = day(sea(1.0), (1.0, 0.0), -45.0);
        let late = day.iter().find(|s| s.0 == 16.0).unwrap();
        assert!(
            (110.0..170.0).contains(&late.2.1.rem_euclid(360.0)),
            "{late:?}"
        );
    }

    #[test]
    fn a_valley_wind_turns_hours_after_sunrise_and_after_sunset() {
        let local = LocalWind::Valley {
            up_valley_from_deg: 270.0,
        };
        let day = day(local, (0.5, 0.0), 45.0);
        let up = |from: f64, to: f64| {
            day.iter()
                .find(|s| s.0 > from && s.0 < to && s.1.east_ms > 0.0)
                .map(|s| s.0)
        };
        let turned = up(3.0, 18.0).unwrap();
        assert!((7.5..10.5).contains(&turned), "up at {turned}");
        let at = |hour: f64| day.iter().find(|s| s.0 == hour).unwrap().1.east_ms;
        assert!((3.0..6.0).contains(&at(15.0)), "{}", at(15.0));
        assert!((-4.0..-1.0).contains(&at(23.0)), "{}", at(23.0));
        let down = day
            .iter()
            .find(|s| s.0 > 15.0 && s.1.east_ms < 0.0)
            .unwrap()
            .0;
        assert!((18.0..21.0).contains(&down), "down at {down}");
    }

    #[test]
    fn nothing_blows_where_nothing_is_asked_for() {
        assert!(
            day(LocalWind::None, (2.0, 10.0), 45.0)
                .iter()
                .all(|s| s.1 == BreezeEffect::NONE)
        );
    }
}
