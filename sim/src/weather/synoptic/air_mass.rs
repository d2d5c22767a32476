//! Where the air comes from: parcels followed backwards through the moving field.
//!
//! Air takes on the warmth and moisture of the ground it passes over within a day or two, and loses moisture
//! where it sinks. Followed back for some days, a parcel's path gives all three; where paths part, air masses
//! meet, and that is where the fronts of the field lie (backward trajectories as in Stohl 1998, Atmos.
//! Environ. 32; times and rates: common practice, no source).

use super::super::noise::floor;
use super::field::HOUR_S;

/// Step back in time, h, and their number.
pub(crate) const BACK_H: f64 = 6.0;
pub(crate) const BACKS: usize = 14;
/// Time in which air takes on the ground's warmth, and its moisture, h.
const WARMING_H: f64 = 60.0;
const MOISTENING_H: f64 = 40.0;
/// Time over which sinking counts, h.
const SINKING_H: f64 = 30.0;
/// Grid of instants at which paths are followed, s.
const GRID_S: f64 = 3.0 * HOUR_S;

/// What the path of a parcel tells.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Origin {
    /// How far towards the pole the ground lies whose warmth, and whose moisture, it has, km.
    pub(crate) warmth_km: f64,
    pub(crate) moisture_km: f64,
    /// Mean vorticity over the Coriolis parameter of 45 degrees that it went through lately: negative where it sank.
    pub(crate) lift: f64,
}

/// Follows a parcel back: `wind` gives velocity (km/h) and vorticity over the Coriolis parameter of 45 degrees at (s, x, y).
pub(crate) fn follow(
    time_s: f64,
    x_km: f64,
    y_km: f64,
    mut wind: impl FnMut(f64, f64, f64) -> (f64, f64, f64),
) -> Origin {
    let (mut x, mut y) = (x_km, y_km);
    let keep = [WARMING_H, MOISTENING_H, SINKING_H].map(|h| 1.0 - BACK_H / h);
    let mut weights = [
        BACK_H / WARMING_H,
        BACK_H / MOISTENING_H,
        BACK_H / SINKING_H,
    ];
    let mut origin = Origin::default();
    for n in 0..BACKS {
        let at_s = time_s - (n as f64 + 0.5) * BACK_H * HOUR_S;
        let (vx, vy, vorticity) = wind(at_s, x, y);
        origin.lift += weights[2] * vorticity.clamp(-0.4, 0.8);
        x -= vx * BACK_H;
        y -= vy * BACK_H;
        // Ground differs the less, the further one goes.
        let away = (y - y_km) / (1.0 + (y - y_km).abs() / REACH_KM);
        origin.warmth_km += weights[0] * away;
        origin.moisture_km += weights[1] * away;
        for (weight, keep) in weights.iter_mut().zip(keep) {
            *weight *= keep;
        }
    }
    origin
}

/// Distance at which ground stops differing much more, km.
const REACH_KM: f64 = 2500.0;

/// Origins on a grid of instants at one point, and curves between them: a function of time alone.
#[derive(Debug, Clone)]
pub(crate) struct Path {
    cell: i64,
    point: (f64, f64),
    nodes: [Origin; 4],
}

impl Path {
    pub(crate) const fn new() -> Self {
        Self {
            cell: i64::MIN,
            point: (0.0, 0.0),
            nodes: [Origin {
                warmth_km: 0.0,
                moisture_km: 0.0,
                lift: 0.0,
            }; 4],
        }
    }

    /// The origin at an instant and point; `follow` works one out on the grid.
    pub(crate) fn at(
        &mut self,
        time_s: f64,
        point: (f64, f64),
        mut follow: impl FnMut(f64) -> Origin,
    ) -> Origin {
        let position = time_s * (1.0 / GRID_S);
        let cell = floor(position);
        if point != self.point || !(0..4).contains(&cell.wrapping_sub(self.cell)) {
            self.nodes = core::array::from_fn(|n| follow((cell + n as i64 - 1) as f64 * GRID_S));
        } else {
            for next in self.cell + 1..=cell {
                self.nodes.rotate_left(1);
                self.nodes[3] = follow((next + 2) as f64 * GRID_S);
            }
        }
        (self.cell, self.point) = (cell, point);
        let x = position - cell as f64;
        let pick = |get: fn(&Origin) -> f64| {
            // Catmull-Rom: through the nodes, smooth.
            let [a, b, c, d] = [0, 1, 2, 3].map(|n| get(&self.nodes[n]));
            let (slope_b, slope_c) = (0.5 * (c - a), 0.5 * (d - b));
            let (p, q) = (
                3.0 * (c - b) - 2.0 * slope_b - slope_c,
                2.0 * (b - c) + slope_b + slope_c,
            );
            b + x * (slope_b + x * (p + x * q))
        };
        Origin {
            warmth_km: pick(|o| o.warmth_km),
            moisture_km: pick(|o| o.moisture_km),
            lift: pick(|o| o.lift),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_steady_wind_from_the_equator_brings_its_ground() {
        let origin = follow(0.0, 10.0, 20.0, |_, _, _| (0.0, 30.0, 0.1));
        // 40 h at 30 km/h, less what is too far or too long ago.
        assert!((-1000.0..-400.0).contains(&origin.warmth_km), "{origin:?}");
        assert!((origin.lift - 0.1).abs() < 0.01);
    }

    #[test]
    fn the_curve_is_a_function_of_time_alone() {
        let truth = |t: f64| Origin {
            warmth_km: libm::sin(t / 40_000.0),
            ..Origin::default()
        };
        let mut path = Path::new();
        let forth: Vec<f64> = (0..200)
            .map(|n| path.at(f64::from(n) * 1700.0, (0.0, 0.0), truth).warmth_km)
            .collect();
        for n in (0..200).rev() {
            let mut fresh = Path::new();
            let value = fresh.at(f64::from(n) * 1700.0, (0.0, 0.0), truth).warmth_km;
            assert_eq!(value, forth[n as usize]);
            assert!((value - truth(f64::from(n) * 1700.0).warmth_km).abs() < 2e-3);
        }
    }
}
