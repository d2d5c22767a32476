//! The satellites that a receiver indoors can hear, and the position fix they give.
//!
//! A constellation of thirty satellites on circular orbits, six planes of five, 26 560 km from the Earth's
//! centre and inclined 55 degrees (the public figures of a medium-orbit navigation system; phases between
//! planes after Walker 1984, from memory). Through the window a satellite loses what the glass takes,
//! elsewhere what the wall takes (the same recommendation as for the head's radio), each with its own
//! shadowing. Those above the tracking threshold give the fix and its geometry (horizontal dilution of
//! precision, from the inverse of the normal equations; textbook).

use benchmast_sim::entropy::Stream;
use benchmast_sim::physics::radio::{Construction, building_entry_loss_db};
use benchmast_sim::site::Place;
use std::f64::consts::TAU;

const PLANES: usize = 6;
const PER_PLANE: usize = 5;
const SATELLITES: usize = PLANES * PER_PLANE;
/// Orbit radius and Earth radius, km.
const ORBIT_KM: f64 = 26_560.0;
const EARTH_KM: f64 = 6_371.0;
/// Half a sidereal day, s.
const PERIOD_S: f64 = 43_082.0;
/// A sidereal day, s.
const SIDEREAL_S: f64 = 86_164.1;
const INCLINATION_DEG: f64 = 55.0;
/// Carrier to noise density outdoors at the zenith, dB-Hz, and how much less it is at the horizon. Common
/// practice, no source.
const ZENITH_DBHZ: f64 = 47.0;
const LOW_DB: f64 = 8.0;
/// Weakest that a receiver still tracks, dB-Hz (common practice, no source).
const TRACKED_DBHZ: f64 = 26.0;
/// Loss through a window of ordinary and of coated glass at 1.6 GHz, dB (common practice, no source).
const GLASS_DB: (f64, f64) = (2.0, 20.0);
/// Spread of a satellite's shadowing indoors, dB (common practice, no source).
const SHADOW_DB: f64 = 6.0;
/// Error of one range with its echoes indoors, m (common practice, no source).
const RANGE_ERROR_M: f64 = 8.0;
/// How much of the last fix's error stays in the next, a quarter of an hour later.
const KEPT: f64 = 0.6;
/// A dilution above this is no fix.
const USELESS: f64 = 20.0;
const FREQUENCY_MHZ: f64 = 1_575.42;

/// What a scenario says about the sky that the receiver sees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parameters {
    /// Where its window looks, degrees clockwise from true north.
    pub window_azimuth_deg: f64,
    /// Width of the window's view, degrees; 0 for no window, 360 for the open.
    pub window_width_deg: f64,
    /// Highest elevation seen through the window, degrees; 90 for the open.
    pub window_top_deg: f64,
    /// How walls and glass are made.
    pub construction: Construction,
}

impl Default for Parameters {
    /// A window to the south, half a wall wide.
    fn default() -> Self {
        Self {
            window_azimuth_deg: 180.0,
            window_width_deg: 120.0,
            window_top_deg: 60.0,
            construction: Construction::Traditional,
        }
    }
}

/// A position fix, or the want of one.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Fix {
    /// Satellites tracked.
    pub satellites: u8,
    /// Horizontal dilution of precision; infinite without a fix.
    pub horizontal_dilution: f64,
    /// Error of the position, m: east and north.
    pub east_m: f64,
    /// North.
    pub north_m: f64,
}

impl Fix {
    /// Whether there is a position: four satellites, and a geometry that is of use.
    #[must_use]
    pub fn is_fix(&self) -> bool {
        self.satellites >= 4 && self.horizontal_dilution <= USELESS
    }
}

/// The sky at work. Thirty-two draws a fix.
#[derive(Debug)]
pub struct Sky {
    parameters: Parameters,
    up: [f64; 3],
    east: [f64; 3],
    north: [f64; 3],
    wall_db: f64,
    glass_db: f64,
    shadows: [f64; SATELLITES],
    error_m: [f64; 2],
    stream: Stream,
}

impl Sky {
    /// The sky over a place.
    #[must_use]
    pub fn new(parameters: &Parameters, place: &Place, mut stream: Stream) -> Self {
        let (sin_lat, cos_lat) = libm::sincos(place.latitude_deg.to_radians());
        let (sin_lon, cos_lon) = libm::sincos(place.longitude_deg.to_radians());
        let glass_db = match parameters.construction {
            Construction::Traditional => GLASS_DB.0,
            Construction::ThermallyEfficient => GLASS_DB.1,
        };
        Self {
            parameters: *parameters,
            up: [cos_lat * cos_lon, cos_lat * sin_lon, sin_lat],
            east: [-sin_lon, cos_lon, 0.0],
            north: [-sin_lat * cos_lon, -sin_lat * sin_lon, cos_lat],
            wall_db: building_entry_loss_db(FREQUENCY_MHZ, parameters.construction, 30.0, 0.5),
            glass_db,
            shadows: std::array::from_fn(|_| stream.normal()),
            error_m: [0.0; 2],
            stream,
        }
    }

    /// The fix at an instant, microseconds since 1970-01-01T00:00:00Z.
    pub fn fix(&mut self, time_us: i64) -> Fix {
        let time_s = time_us as f64 * 1e-6;
        // Normal equations of unknowns east, north, up and clock.
        let mut normal = [[0.0; 4]; 4];
        let mut satellites = 0;
        for number in 0..SATELLITES {
            let fresh = self.stream.normal();
            self.shadows[number] = KEPT * self.shadows[number] + (1.0 - KEPT * KEPT).sqrt() * fresh;
            let line = self.direction(number, time_s);
            if self.strength_dbhz(&line, self.shadows[number]) < TRACKED_DBHZ {
                continue;
            }
            satellites += 1;
            let row = [line[0], line[1], line[2], 1.0];
            for (i, a) in row.iter().enumerate() {
                for (j, b) in row.iter().enumerate() {
                    normal[i][j] += a * b;
                }
            }
        }
        let dilution = dilution(normal);
        let kicks = [self.stream.normal(), self.stream.normal()];
        for (error, kick) in self.error_m.iter_mut().zip(kicks) {
            let spread_m = RANGE_ERROR_M * dilution.min(USELESS) * std::f64::consts::FRAC_1_SQRT_2;
            *error = KEPT * *error + (1.0 - KEPT * KEPT).sqrt() * spread_m * kick;
        }
        Fix {
            satellites,
            horizontal_dilution: dilution,
            east_m: self.error_m[0],
            north_m: self.error_m[1],
        }
    }

    /// Unit vector (east, north, up) to a satellite.
    fn direction(&self, number: usize, time_s: f64) -> [f64; 3] {
        let (plane, slot) = ((number / PER_PLANE) as f64, (number % PER_PLANE) as f64);
        // Phases of neighbouring planes differ by one step of the whole constellation.
        let phase = slot / PER_PLANE as f64 + plane / SATELLITES as f64;
        let along = TAU * (phase + time_s / PERIOD_S).fract();
        let node = TAU * (plane / PLANES as f64 - time_s / SIDEREAL_S).fract();
        let (sin_u, cos_u) = libm::sincos(along);
        let (sin_n, cos_n) = libm::sincos(node);
        let (sin_i, cos_i) = libm::sincos(INCLINATION_DEG.to_radians());
        let at = [
            ORBIT_KM * (cos_n * cos_u - sin_n * sin_u * cos_i),
            ORBIT_KM * (sin_n * cos_u + cos_n * sin_u * cos_i),
            ORBIT_KM * sin_u * sin_i,
        ];
        let line: [f64; 3] = std::array::from_fn(|i| at[i] - EARTH_KM * self.up[i]);
        let dot = |axis: &[f64; 3]| line.iter().zip(axis).map(|(a, b)| a * b).sum::<f64>();
        let length = dot(&line).sqrt();
        [&self.east, &self.north, &self.up].map(|axis| dot(axis) / length)
    }

    /// Carrier to noise density of a satellite in a direction, dB-Hz.
    fn strength_dbhz(&self, line: &[f64; 3], shadow: f64) -> f64 {
        let [east, north, up] = *line;
        if up <= 0.0 {
            return f64::NEG_INFINITY;
        }
        let open = self.parameters.window_width_deg >= 360.0;
        let azimuth = libm::atan2(east, north).to_degrees();
        let aside =
            (azimuth - self.parameters.window_azimuth_deg + 540.0).rem_euclid(360.0) - 180.0;
        let elevation = libm::asin(up.min(1.0)).to_degrees();
        let through_window = aside.abs() <= 0.5 * self.parameters.window_width_deg
            && elevation <= self.parameters.window_top_deg;
        let loss_db = match (open, through_window) {
            (true, _) => 0.0,
            (false, true) => self.glass_db + SHADOW_DB * shadow.abs() * 0.5,
            (false, false) => self.wall_db + SHADOW_DB * shadow,
        };
        ZENITH_DBHZ - LOW_DB * (1.0 - up) - loss_db
    }
}

/// Horizontal dilution of precision from the normal equations; infinite when they cannot be solved.
fn dilution(normal: [[f64; 4]; 4]) -> f64 {
    // Gauss-Jordan with the identity beside it.
    let mut m = [[0.0; 8]; 4];
    for (i, row) in normal.iter().enumerate() {
        m[i][..4].copy_from_slice(row);
        m[i][4 + i] = 1.0;
    }
    for column in 0..4 {
        let best = (column..4)
            .max_by(|&a, &b| m[a][column].abs().total_cmp(&m[b][column].abs()))
            .unwrap_or(column);
        if m[best][column].abs() < 1e-9 {
            return f64::INFINITY;
        }
        m.swap(column, best);
        let scale = 1.0 / m[column][column];
        m[column].iter_mut().for_each(|x| *x *= scale);
        let pivot = m[column];
        for (i, row) in m.iter_mut().enumerate() {
            if i != column {
                let factor = row[column];
                row.iter_mut()
                    .zip(pivot)
                    .for_each(|(x, p)| *x -= factor * p);
            }
        }
    }
    (m[0][4] + m[1][5]).max(0.0).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use benchmast_sim::entropy::Seed;

    fn fixes(latitude_deg: f64, parameters: &Parameters) -> Vec<Fix> {
        let place = Place {
            latitude_deg,
            longitude_deg: 8.0,
            altitude_m: 0.0,
        };
        let mut sky = Sky::new(parameters, &place, Seed(7).stream("here", "sky"));
        (0..4_000).map(|n| sky.fix(n * 900_000_000)).collect()
    }

    fn mean(fixes: &[Fix], of: impl Fn(&Fix) -> f64) -> f64 {
        fixes.iter().map(of).sum::<f64>() / fixes.len() as f64
    }

    const OPEN: Parameters = Parameters {
        window_azimuth_deg: 0.0,
        window_width_deg: 360.0,
        window_top_deg: 90.0,
        construction: Construction::Traditional,
    };

    /// From the open some ten satellites are in view and the horizontal dilution is near 1 (common
    /// practice: about 10 satellites is a good fix).
    #[test]
    fn in_the_open_ten_satellites_give_a_good_fix() {
        for latitude in [-45.0, 0.0, 20.0, 51.0, 70.0] {
            let fixes = fixes(latitude, &OPEN);
            let (count, dilution) = (
                mean(&fixes, |f| f64::from(f.satellites)),
                mean(&fixes, |f| f.horizontal_dilution),
            );
            assert!((8.5..13.0).contains(&count), "{latitude}: {count}");
            assert!((0.6..1.6).contains(&dilution), "{latitude}: {dilution}");
            assert!(fixes.iter().all(Fix::is_fix));
        }
    }

    #[test]
    fn a_window_sees_fewer_and_a_coated_room_hardly_any() {
        let window = fixes(51.0, &Parameters::default());
        let coated = fixes(
            51.0,
            &Parameters {
                construction: Construction::ThermallyEfficient,
                ..Parameters::default()
            },
        );
        let count = |fixes: &[Fix]| mean(fixes, |f| f64::from(f.satellites));
        assert!((4.0..10.5).contains(&count(&window)), "{}", count(&window));
        assert!(count(&coated) < 0.7 * count(&window), "{}", count(&coated));
        let share = |fixes: &[Fix]| mean(fixes, |f| f64::from(u8::from(f.is_fix())));
        assert!(share(&window) > 0.7, "{}", share(&window));
        assert!(share(&coated) < share(&window));
        let error = |fixes: &[Fix]| {
            let good: Vec<Fix> = fixes.iter().copied().filter(Fix::is_fix).collect();
            mean(&good, |f| f.east_m.hypot(f.north_m))
        };
        assert!(error(&window) > error(&fixes(51.0, &OPEN)));
    }

    /// Four satellites, one overhead and three on the horizon a third of a circle apart: by hand
    /// sqrt(2/3 + 2/3) = 1.155.
    #[test]
    fn dilution_of_a_geometry_worked_by_hand() {
        let mut normal = [[0.0; 4]; 4];
        for row in [
            [0.0, 0.0, 1.0, 1.0],
            [0.0, 1.0, 0.0, 1.0],
            [0.75_f64.sqrt(), -0.5, 0.0, 1.0],
            [-(0.75_f64.sqrt()), -0.5, 0.0, 1.0],
        ] {
            for i in 0..4 {
                for j in 0..4 {
                    normal[i][j] += row[i] * row[j];
                }
            }
        }
        let expected = (4.0_f64 / 3.0).sqrt();
        assert!((dilution(normal) - expected).abs() < 1e-9);
        assert_eq!(dilution([[0.0; 4]; 4]), f64::INFINITY);
    }
}
