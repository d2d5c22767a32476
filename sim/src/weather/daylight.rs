//! The sun's path and the light of a cloudless sky, at knots and in between.

use super::climate::{Climate, MonthPoint, USUAL_LINKE_TURBIDITY, day_of_year, mean_preserving};
use super::noise::floor;
use crate::physics::atmosphere::standard_atmosphere;
use crate::physics::light::{
    clear_ultraviolet_index, low_sun_illuminance_lx, mean_ozone_du, ultraviolet_aerosol_factor,
    ultraviolet_altitude_factor,
};
use crate::physics::sun::{
    ClearSky, SunDirection, clear_sky, extraterrestrial_wm2, position, refraction_deg,
};
use crate::site::Place;
use std::sync::LazyLock;

/// Distance of the knots, s. A straight line between unit vectors 1.25 degrees apart, brought back to
/// length 1, is within 0.002 degrees of the sun's small circle.
const KNOT_S: f64 = 300.0;
/// Sine of the sun's elevation below which no light of it is left: -18 degrees, astronomical night.
pub(crate) const NIGHT_UP: f64 = -0.309_016_994_374_947_45;
/// Illuminance at -6 degrees, lx: below it, twilight has no irradiance worth the name (under 0.03 W/m2).
const CIVIL_LX: f64 = 3.5;
/// Light of the twilight sky, lm/W: Littlefair's of the clear blue sky (1988: 144), rounded down.
const TWILIGHT_LM_PER_W: f64 = 130.0;

/// Highest altitude that the clear-sky model's own terms are asked for, m: its pressure goes on falling above,
/// but at 4000 m the terms alone would let 99 % of the light through the whole atmosphere, while at this height
/// nine tenths are left (common practice, no source).
const CLEAR_SKY_TOP_M: f64 = 2500.0;

/// Linke turbidity over the year.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Turbidity([f64; 12]);

impl Turbidity {
    /// Ordinary clean air, where no climate is known.
    pub(crate) const USUAL: Self = Self([USUAL_LINKE_TURBIDITY; 12]);

    /// A climate's, its monthly means kept.
    pub(crate) fn of(climate: &Climate) -> Self {
        Self(mean_preserving(
            &climate.months.map(|month| month.linke_turbidity),
        ))
    }

    pub(crate) fn at(&self, time_s: f64) -> f64 {
        // Perfectly clean and dry air has 1.
        MonthPoint::at(time_s).of(&self.0).max(1.0)
    }
}

/// The sun and the light of a cloudless sky at one instant.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Daylight {
    pub(crate) sun: SunDirection,
    pub(crate) sky: ClearSky,
    pub(crate) ultraviolet_index: f64,
    /// Irradiance above the atmosphere on a plane that faces the sun, W/m2; 0 by night.
    pub(crate) extraterrestrial_wm2: f64,
}

impl Daylight {
    /// In ordinary clean air.
    pub(crate) fn at(time_s: f64, place: &Place, day: f64) -> Self {
        Self::through(time_s, place, day, USUAL_LINKE_TURBIDITY)
    }

    /// In air of a given Linke turbidity.
    pub(crate) fn through(time_s: f64, place: &Place, day: f64, linke_turbidity: f64) -> Self {
        let sun = position(time_s, place);
        if sun.up <= DUSK_UP {
            return Self {
                sun,
                ..Self::default()
            };
        }
        Self::of(sun, place, &Season::new(place, day, linke_turbidity))
    }

    fn of(sun: SunDirection, place: &Place, season: &Season) -> Self {
        let elevation = sun.elevation_deg();
        let apparent = elevation + refraction_deg(elevation, season.pressure_hpa, 12.0);
        let sky = clear_sky(
            apparent,
            season.pressure_hpa,
            place.altitude_m.min(CLEAR_SKY_TOP_M),
            season.extraterrestrial_wm2,
            season.linke_turbidity,
        );
        Self {
            sun,
            sky,
            ultraviolet_index: season.ultraviolet * clear_ultraviolet_index(sun.up, 300.0),
            extraterrestrial_wm2: season.extraterrestrial_wm2,
        }
    }
}

/// Sine of the sun's elevation below which the day's model is not asked.
const DUSK_UP: f64 = -0.02;

/// What of the cloudless light changes with the season alone.
#[derive(Debug, Clone, Copy)]
struct Season {
    pressure_hpa: f64,
    extraterrestrial_wm2: f64,
    linke_turbidity: f64,
    /// UV index over that at sea level in clean air under 300 Dobson units of ozone.
    ultraviolet: f64,
}

impl Season {
    fn new(place: &Place, day: f64, linke_turbidity: f64) -> Self {
        let ozone = mean_ozone_du(place.latitude_deg, place.longitude_deg, day);
        Self {
            pressure_hpa: standard_atmosphere(place.altitude_m).1,
            extraterrestrial_wm2: extraterrestrial_wm2(day),
            linke_turbidity,
            ultraviolet: ultraviolet_aerosol_factor(linke_turbidity)
                * ultraviolet_altitude_factor(place.altitude_m)
                * clear_ultraviolet_index(1.0, ozone)
                / clear_ultraviolet_index(1.0, 300.0),
        }
    }
}

/// Ends of the table of light by the sine of the sun's elevation, and its pieces: 0.14 degrees each.
pub(crate) const TWILIGHT_UP: f64 = 0.1;
const PIECES: usize = 160;
const PIECES_PER_UP: f64 = PIECES as f64 / (TWILIGHT_UP - NIGHT_UP);

static LOW_SUN_LX: LazyLock<[f64; PIECES + 1]> = LazyLock::new(|| {
    core::array::from_fn(|i| {
        let up = NIGHT_UP + i as f64 / PIECES_PER_UP;
        low_sun_illuminance_lx(libm::asin(up).to_degrees())
    })
});

/// Light of the twilight sky beyond that of the day's model, which ends at the horizon: illuminance in lx and
/// irradiance in W/m2, under a cloudless sky. `day_lx` is the model's own illuminance.
///
/// Exactly dark below -18 degrees, without irradiance below -6 degrees; nothing to add above 5.7 degrees.
pub(crate) fn twilight(sun_up: f64, day_lx: f64) -> (f64, f64) {
    let position = (sun_up - NIGHT_UP) * PIECES_PER_UP;
    if !(0.0..PIECES as f64).contains(&position) {
        return (0.0, 0.0);
    }
    let piece = position as usize;
    let (low, high) = (LOW_SUN_LX[piece], LOW_SUN_LX[piece + 1]);
    let whole = low + (high - low) * (position - piece as f64);
    // The two models cross near 4 degrees; the last degree fades what is left.
    let fade = ((TWILIGHT_UP - sun_up) * 60.0).min(1.0);
    let beyond = (whole - day_lx).max(0.0) * fade;
    (beyond, (beyond - CIVIL_LX).max(0.0) / TWILIGHT_LM_PER_W)
}

/// Knots for which one season stands: a quarter of a day.
const KNOTS_A_SEASON: i64 = 72;

/// The path: knots every five minutes, straight lines in between.
#[derive(Debug, Clone)]
pub(crate) struct Path {
    place: Place,
    turbidity: Turbidity,
    season: Option<(i64, Season)>,
    knot: i64,
    first: Daylight,
    second: Daylight,
}

impl Path {
    pub(crate) fn new(place: Place, turbidity: Turbidity) -> Self {
        Self {
            place,
            turbidity,
            season: None,
            knot: i64::MIN,
            first: Daylight::default(),
            second: Daylight::default(),
        }
    }

    fn compute(&mut self, knot: i64) -> Daylight {
        let time_s = knot as f64 * KNOT_S;
        let sun = position(time_s, &self.place);
        if sun.up <= DUSK_UP {
            return Daylight {
                sun,
                ..Daylight::default()
            };
        }
        // By the number of the quarter day, so that it is the same whenever the path begins.
        let quarter = knot.div_euclid(KNOTS_A_SEASON);
        let season = match self.season {
            Some((number, season)) if number == quarter => season,
            _ => {
                let middle_s = (quarter as f64 + 0.5) * KNOTS_A_SEASON as f64 * KNOT_S;
                let turbidity = self.turbidity.at(middle_s);
                let season = Season::new(&self.place, day_of_year(middle_s), turbidity);
                self.season = Some((quarter, season));
                season
            }
        };
        Daylight::of(sun, &self.place, &season)
    }

    /// Sun and cloudless light at an instant, without twilight; all light is exactly 0 while the sun is at or
    /// below the true horizon.
    pub(crate) fn at(&mut self, time_s: f64) -> Daylight {
        let position = time_s * (1.0 / KNOT_S);
        let knot = floor(position);
        if knot != self.knot {
            self.first = if self.knot != i64::MIN && knot == self.knot + 1 {
                self.second
            } else {
                self.compute(knot)
            };
            self.second = self.compute(knot + 1);
            self.knot = knot;
        }
        let w = position - knot as f64;
        let (a, b) = (&self.first, &self.second);
        let mix = |x: f64, y: f64| x + (y - x) * w;
        let east = mix(a.sun.east, b.sun.east);
        let north = mix(a.sun.north, b.sun.north);
        let up = mix(a.sun.up, b.sun.up);
        let scale = 1.0 / (east * east + north * north + up * up).sqrt();
        let sun = SunDirection {
            east: east * scale,
            north: north * scale,
            up: up * scale,
        };
        if sun.up <= 0.0 {
            return Daylight {
                sun,
                ..Daylight::default()
            };
        }
        let direct = mix(a.sky.direct_normal_wm2, b.sky.direct_normal_wm2);
        let diffuse = mix(a.sky.diffuse_wm2, b.sky.diffuse_wm2);
        Daylight {
            sun,
            sky: ClearSky {
                global_wm2: direct * sun.up + diffuse,
                direct_normal_wm2: direct,
                diffuse_wm2: diffuse,
            },
            ultraviolet_index: mix(a.ultraviolet_index, b.ultraviolet_index),
            // Beside a knot of the night it would be half: the day's own value is as good.
            extraterrestrial_wm2: a.extraterrestrial_wm2.max(b.extraterrestrial_wm2),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_path_between_knots_is_within_a_hundredth_of_a_degree() {
        let mut worst: f64 = 0.0;
        for latitude_deg in [-89.0, -52.0, 0.0, 23.4, 60.0] {
            let place = Place {
                latitude_deg,
                longitude_deg: 17.0,
                altitude_m: 0.0,
            };
            let mut path = Path::new(place, Turbidity::USUAL);
            for i in 0..20_000 {
                let time_s = 1_760_000_000.0 + f64::from(i) * 1571.0;
                let (a, b) = (path.at(time_s).sun, position(time_s, &place));
                let cross = [
                    a.north * b.up - a.up * b.north,
                    a.up * b.east - a.east * b.up,
                    a.east * b.north - a.north * b.east,
                ];
                let sine = libm::sqrt(cross.iter().map(|c| c * c).sum());
                worst = worst.max(libm::asin(sine).to_degrees());
            }
        }
        assert!(worst < 0.002, "{worst}");
    }

    #[test]
    fn twilight_ends_where_the_handbooks_say() {
        let at = |degrees: f64| twilight(libm::sin(degrees.to_radians()), 0.0);
        // Seidelmann 1992 and handbooks: 3.4 lx at the end of civil twilight; some hundred at sunset.
        assert!((3.2..3.6).contains(&at(-6.0).0), "{:?}", at(-6.0));
        assert!((350.0..600.0).contains(&at(-0.833).0), "{:?}", at(-0.833));
        assert!((0.006..0.01).contains(&at(-12.0).0), "{:?}", at(-12.0));
        assert_eq!(at(-18.01), (0.0, 0.0));
        assert_eq!(at(-6.0).1, 0.0);
        assert!(at(-5.0).1 > 0.0 && at(-0.833).1 < 6.0);
        assert_eq!(at(6.0), (0.0, 0.0));
    }

    #[test]
    fn turbidity_takes_from_the_beam_and_gives_to_the_sky() {
        let place = Place {
            latitude_deg: 45.0,
            longitude_deg: 0.0,
            altitude_m: 0.0,
        };
        // 2026-06-21T12:00:00Z.
        let at = |turbidity| Daylight::through(1_782_043_200.0, &place, 172.5, turbidity);
        let (clean, hazy) = (at(2.0), at(5.0));
        assert!(hazy.sky.direct_normal_wm2 < 0.85 * clean.sky.direct_normal_wm2);
        assert!(hazy.sky.diffuse_wm2 > 1.5 * clean.sky.diffuse_wm2);
        assert!(hazy.ultraviolet_index < clean.ultraviolet_index);
    }
}
