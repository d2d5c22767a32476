//! The horizon: what of the sky and of the sun the head can see.

use super::obstacles::{Obstacle, SECTOR_DEG, SECTORS, sector_of};
use crate::physics::sun::SunDirection;

/// Azimuths at which the horizon is given: every ten degrees from north, clockwise.
pub const AZIMUTHS: usize = 36;
const AZIMUTH_DEG: f64 = 360.0 / AZIMUTHS as f64;
/// Diameter of the sun's disc, rad: 32 minutes of arc (Astronomical Almanac, mean, from memory).
const SUN_DISC_RAD: f64 = 0.0093;
/// Lift of the sun by refraction times the tangent of its elevation, rad: 58 seconds of arc, from 5 degrees
/// of elevation up (standard, from memory).
const REFRACTION_RAD: f64 = 0.000_28;
/// Floor of the sine of elevation in the refraction's formula, which fails near the level.
const REFRACTION_FLOOR: f64 = 0.05;

/// What stands before the sky.
#[derive(Debug, Clone)]
pub(super) struct Horizon {
    /// Elevation of the lasting horizon, degrees.
    ground_deg: [f64; AZIMUTHS],
    /// Sine of the elevation of each sector's obstacle, and what it lets through.
    sectors: [(f64, f64); SECTORS],
    highest: f64,
    /// Share of a level plane's light from an even sky that is left, 0 to 1.
    pub(super) sky_view: f64,
}

impl Horizon {
    /// `None` where nothing rises above the level of the sensors.
    pub(super) fn of(
        ground_deg: &[f64; AZIMUTHS],
        obstacles: &[Obstacle; SECTORS],
        sensor_height_m: f64,
    ) -> Option<Self> {
        let sectors = obstacles.map(|obstacle| {
            let above_m = obstacle.height_m - sensor_height_m;
            if obstacle.stands() && above_m > 0.0 {
                let (d, porosity) = (obstacle.distance_m, obstacle.porosity);
                (above_m / (above_m * above_m + d * d).sqrt(), porosity)
            } else {
                (0.0, 1.0)
            }
        });
        let ground_deg = ground_deg.map(|elevation| elevation.clamp(0.0, 90.0));
        let highest_deg = ground_deg.iter().copied().fold(0.0, f64::max);
        let highest = sectors
            .iter()
            .map(|sector| sector.0)
            .fold(libm::sin(highest_deg.to_radians()), f64::max);
        if highest <= 0.0 {
            return None;
        }
        let mut horizon = Self {
            ground_deg,
            sectors,
            highest,
            sky_view: 1.0,
        };
        horizon.sky_view = horizon.view();
        Some(horizon)
    }

    /// Share of an even sky's light on a level plane: the mean over azimuth of `cos^2` of the horizon's
    /// elevation (geometry), each degree of azimuth in turn.
    fn view(&self) -> f64 {
        let seen: f64 = (0..360)
            .map(|azimuth| {
                let azimuth = f64::from(azimuth) + 0.5;
                let ground = self.ground_sine(azimuth);
                let (top, through) = self.sectors[sector_of(azimuth).0];
                let (ground, top) = (ground * ground, top * top);
                1.0 - ground - (1.0 - through) * (top - ground).max(0.0)
            })
            .sum();
        seen * (1.0 / 360.0)
    }

    fn ground_sine(&self, azimuth_deg: f64) -> f64 {
        let position = azimuth_deg * (1.0 / AZIMUTH_DEG);
        let below = libm::floor(position);
        let index = below.rem_euclid(AZIMUTHS as f64) as usize;
        let (low, high) = (
            self.ground_deg[index],
            self.ground_deg[(index + 1) % AZIMUTHS],
        );
        let elevation = low + (high - low) * (position - below);
        libm::sin(elevation.to_radians())
    }

    /// Share of the sun's disc above the horizon: a straight ramp over the disc's diameter.
    pub(super) fn sun_seen(&self, sun: &SunDirection) -> f64 {
        let level = (1.0 - sun.up * sun.up).max(1e-6);
        let up = sun.up + REFRACTION_RAD * level / sun.up.max(REFRACTION_FLOOR);
        // The difference of two sines over the cosine is the difference of the angles.
        let per_disc = 1.0 / (SUN_DISC_RAD * level.sqrt());
        let above = |sine: f64| ((up - sine) * per_disc + 0.5).clamp(0.0, 1.0);
        if above(self.highest) >= 1.0 {
            return 1.0;
        }
        let azimuth = sun.azimuth_deg();
        let (sector, off_deg) = sector_of(azimuth);
        let behind = |sector: usize| {
            let (top, through) = self.sectors[sector];
            through + (1.0 - through) * above(top)
        };
        // The disc passes the side of an obstacle as it passes its top.
        let neighbour = if off_deg < 0.0 {
            sector + SECTORS - 1
        } else {
            sector + 1
        } % SECTORS;
        let to_edge_rad = (0.5 * SECTOR_DEG - off_deg.abs()).to_radians() * level.sqrt();
        let own = (0.5 + to_edge_rad * (1.0 / SUN_DISC_RAD)).min(1.0);
        let obstacles = own * behind(sector) + (1.0 - own) * behind(neighbour);
        obstacles.min(above(self.ground_sine(azimuth)))
    }
}

/// View factor of an obstacle's face from a level sensor: `sin^2` of its elevation, by its share of the
/// round (geometry; the face as high everywhere in its sector).
#[must_use]
pub fn face_view(elevation_sine: f64) -> f64 {
    elevation_sine * elevation_sine * (SECTOR_DEG / 360.0)
}

/// Light that the faces of the obstacles send to a level sensor, as a share of the direct irradiance on a plane
/// facing the sun and of the global irradiance on the level.
///
/// A face looks at the mast and gets the sun under the cosine of their angle, and half of the global
/// irradiance from sky and ground (both: geometry, even sky, common practice).
#[derive(Debug, Clone)]
pub(super) struct Faces {
    faces: Vec<Face>,
}

#[derive(Debug, Clone, Copy)]
struct Face {
    /// Horizontal unit vector from the face to the mast.
    east: f64,
    north: f64,
    /// View factor from the level sensor times the reflectance.
    level: f64,
    /// The same from a body that looks sideways, as a shield does.
    sideways: f64,
}

impl Faces {
    pub(super) fn of(obstacles: &[Obstacle; SECTORS], sensor_height_m: f64) -> Self {
        let faces = obstacles
            .iter()
            .enumerate()
            .filter(|(_, obstacle)| obstacle.stands() && obstacle.height_m > sensor_height_m)
            .map(|(sector, obstacle)| {
                let azimuth = (sector as f64 * SECTOR_DEG).to_radians();
                let above = obstacle.height_m - sensor_height_m;
                let sine =
                    above / (above * above + obstacle.distance_m * obstacle.distance_m).sqrt();
                let sent = obstacle.reflectance * (1.0 - obstacle.porosity);
                Face {
                    east: -libm::sin(azimuth),
                    north: -libm::cos(azimuth),
                    level: face_view(sine) * sent,
                    sideways: sine * (SECTOR_DEG / 360.0) * sent,
                }
            })
            .collect();
        Self { faces }
    }

    /// Irradiance on the level sensor and on the side of a shield, W/m2.
    pub(super) fn send(&self, sun: &SunDirection, direct_wm2: f64, global_wm2: f64) -> (f64, f64) {
        let (mut level, mut side) = (0.0, 0.0);
        for face in &self.faces {
            // The mast sees the side of the face that the sun sees only when the sun stands behind the mast.
            let cosine = (sun.east * face.east + sun.north * face.north).max(0.0);
            let lit = direct_wm2 * cosine + 0.5 * global_wm2;
            level += face.level * lit;
            side += face.sideways * lit;
        }
        (level, side)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_even_horizon_leaves_the_squared_cosine() {
        for elevation in [10.0, 30.0, 45.0_f64] {
            let horizon = Horizon::of(&[elevation; AZIMUTHS], &[Obstacle::NONE; SECTORS], 2.0)
                .expect("a horizon");
            let cosine = libm::cos(elevation.to_radians());
            assert!((horizon.sky_view - cosine * cosine).abs() < 1e-9);
        }
        assert!(Horizon::of(&[0.0; AZIMUTHS], &[Obstacle::NONE; SECTORS], 2.0).is_none());
    }

    #[test]
    fn the_sun_sinks_behind_the_ridge_within_its_own_diameter() {
        let horizon =
            Horizon::of(&[10.0; AZIMUTHS], &[Obstacle::NONE; SECTORS], 2.0).expect("a horizon");
        let seen = |elevation| horizon.sun_seen(&SunDirection::from_angles(elevation, 123.0));
        assert_eq!((seen(9.5), seen(10.5), seen(60.0)), (0.0, 1.0, 1.0));
        // Refraction lifts it by 5.4 minutes at 10 degrees: half is seen at 9.91 degrees.
        assert!((seen(9.91) - 0.5).abs() < 0.02, "{}", seen(9.91));
        assert!(seen(9.8) < seen(9.9) && seen(9.9) < seen(10.0));
    }

    #[test]
    fn a_hedge_lets_its_share_of_the_sun_through_and_only_there() {
        let mut around = [Obstacle::NONE; SECTORS];
        around[3] = Obstacle {
            distance_m: 10.0,
            height_m: 12.0,
            porosity: 0.3,
            ..Obstacle::NONE
        };
        let horizon = Horizon::of(&[0.0; AZIMUTHS], &around, 2.0).expect("a horizon");
        let seen =
            |elevation, azimuth| horizon.sun_seen(&SunDirection::from_angles(elevation, azimuth));
        assert!((seen(30.0, 90.0) - 0.3).abs() < 1e-12);
        assert_eq!(seen(46.0, 90.0), 1.0);
        assert_eq!(seen(30.0, 74.0), 1.0);
        assert!(
            (seen(30.0, 75.0) - 0.65).abs() < 1e-9,
            "half of the disc past the edge"
        );
        assert!((horizon.sky_view - (1.0 - 0.7 * 0.5 / 12.0)).abs() < 1e-3);
    }

    #[test]
    fn a_white_wall_sends_light_only_when_the_sun_is_behind_the_mast() {
        let mut around = [Obstacle::NONE; SECTORS];
        around[0] = Obstacle {
            distance_m: 3.0,
            height_m: 5.0,
            porosity: 0.0,
            reflectance: 0.6,
        };
        let faces = Faces::of(&around, 2.0);
        let south = faces.send(&SunDirection::from_angles(30.0, 180.0), 800.0, 500.0);
        let north = faces.send(&SunDirection::from_angles(30.0, 0.0), 800.0, 500.0);
        // Elevation 45 degrees: view 1/24, sent 0.6 of (800 cos 30 + 250).
        assert!(
            (south.0 - 0.6 / 24.0 * (692.8 + 250.0)).abs() < 0.1,
            "{south:?}"
        );
        assert!((north.0 - 0.6 / 24.0 * 250.0).abs() < 0.1, "{north:?}");
        assert!(south.1 > south.0);
    }
}
