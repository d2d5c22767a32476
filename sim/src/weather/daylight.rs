//! The sun's path and the light of a cloudless sky, at knots and in between.

use super::climate::day_of_year;
use super::noise::floor;
use crate::physics::atmosphere::standard_atmosphere;
use crate::physics::light::{clear_ultraviolet_index, mean_ozone_du};
use crate::physics::sun::{
    ClearSky, SunDirection, clear_sky, extraterrestrial_wm2, position, refraction_deg,
};
use crate::site::Place;

/// Distance of the knots, s. A straight line between unit vectors 1.25 degrees apart, brought back to
/// length 1, is within 0.002 degrees of the sun's small circle.
const KNOT_S: f64 = 300.0;
/// Linke turbidity of ordinary clean air (Ineichen & Perez 2002: about 3 in rural mid-latitudes).
const LINKE_TURBIDITY: f64 = 3.0;
/// What ordinary aerosol leaves of the clear-air UV index (common practice, no source).
const ULTRAVIOLET_TURBIDITY: f64 = 0.92;

/// The sun and the light of a cloudless sky at one instant.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Daylight {
    pub(crate) sun: SunDirection,
    pub(crate) sky: ClearSky,
    pub(crate) ultraviolet_index: f64,
}

impl Daylight {
    pub(crate) fn at(time_s: f64, place: &Place, day: f64) -> Self {
        let sun = position(time_s, place);
        if sun.up <= -0.02 {
            return Self {
                sun,
                ..Self::default()
            };
        }
        let (_, pressure_hpa) = standard_atmosphere(place.altitude_m);
        let elevation = sun.elevation_deg();
        let apparent = elevation + refraction_deg(elevation, pressure_hpa, 12.0);
        let sky = clear_sky(
            apparent,
            pressure_hpa,
            place.altitude_m,
            extraterrestrial_wm2(day),
            LINKE_TURBIDITY,
        );
        let ozone = mean_ozone_du(place.latitude_deg, place.longitude_deg, day);
        Self {
            sun,
            sky,
            ultraviolet_index: ULTRAVIOLET_TURBIDITY * clear_ultraviolet_index(sun.up, ozone),
        }
    }
}

/// The path: knots every five minutes, straight lines in between.
#[derive(Debug, Clone)]
pub(crate) struct Path {
    place: Place,
    knot: i64,
    first: Daylight,
    second: Daylight,
}

impl Path {
    pub(crate) fn new(place: Place) -> Self {
        Self {
            place,
            knot: i64::MIN,
            first: Daylight::default(),
            second: Daylight::default(),
        }
    }

    fn compute(&self, knot: i64) -> Daylight {
        let time_s = knot as f64 * KNOT_S;
        Daylight::at(time_s, &self.place, day_of_year(time_s))
    }

    /// Sun and cloudless light at an instant; all light is exactly 0 while the sun is at or below the
    /// true horizon (twilight is left out: a few lx).
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
            let mut path = Path::new(place);
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
}
