//! The wind vane, its position sensor and the firmware's mean.

mod swing;

use crate::condition::Condition;
use crate::head::relaxation::{full_turn, half_turn, nearest, shorter_turn};
use crate::site::Exposure;
use crate::truth::WIND_SAMPLES;

pub use swing::{DAMPING_RATIO, DELAY_DISTANCE_M, NATURAL_WAVELENGTH_M, Swing};

/// Wind speed below which the vane as made does not move, m/s (common practice, no source).
pub const START_SPEED_MS: f64 = 0.5;
/// How far off the wind the vane may stay at its starting speed, degrees: friction balances the torque,
/// which goes with the square of the speed, so that the dead band shrinks with it (the law is a torque
/// balance; the figure is common practice, no source).
pub const DEAD_BAND_DEG: f64 = 20.0;
/// Deviation of the direction in gusts shorter than a sub-sample, degrees (common practice, no source).
pub const FLUTTER_DEG: f64 = 3.0;
/// Standard deviation of the position sensor's noise, degrees (common practice, no source).
pub const NOISE_DEG: f64 = 0.15;

/// The vane of one head.
#[derive(Debug, Clone)]
pub struct Vane {
    position_deg: f64,
    /// Turning rate, degrees a second.
    rate_deg_s: f64,
    step_deg: f64,
    per_step: f64,
    gap_deg: f64,
    started: bool,
}

/// Wind speed below which a vane of this friction (0 as made, 1 seized) holds still, m/s.
///
/// It grows without limit as the friction nears 1; at 0.9 it is 5 m/s (common practice, no source).
#[must_use]
pub fn start_speed_ms(friction: f64) -> f64 {
    if friction < 1.0 {
        START_SPEED_MS / (1.0 - friction)
    } else {
        f64::INFINITY
    }
}

/// How a vane answers this wind, whatever its state: computed once for a head and its twin.
#[derive(Debug, Clone, Copy)]
pub struct Response {
    /// What becomes of a displacement and of a turning rate in each sub-sample.
    swing: [Swing; WIND_SAMPLES],
    /// Reciprocal of the square of the speed of each sub-sample, s2/m2.
    inverse_square: [f64; WIND_SAMPLES],
}

impl Response {
    /// The answer to this wind.
    #[must_use]
    pub fn to(exposure: &Exposure) -> Self {
        let sample_s = exposure.interval_s * (1.0 / WIND_SAMPLES as f64);
        // The floor only keeps a calm from dividing by nothing; it never moves the vane.
        let inverse_square = exposure.wind.map(|sample| {
            let square = sample.speed_ms * sample.speed_ms;
            1.0 / if square > 1e-6 { square } else { 1e-6 }
        });
        let mut swing = [Swing::HELD; WIND_SAMPLES];
        for (index, sample) in exposure.wind.iter().enumerate() {
            let seconds_per_m = sample.speed_ms * inverse_square[index];
            swing[index] = Swing::after(sample.speed_ms, sample_s, seconds_per_m);
        }
        Self {
            swing,
            inverse_square,
        }
    }
}

impl Vane {
    /// A vane that has not seen any wind yet, with a position sensor of 1 degree all round.
    #[must_use]
    pub fn new() -> Self {
        Self::with_sensor(1.0, 0.0)
    }

    /// The same with another position sensor: `step_deg`: its resolution, 0.01 to 90 degrees; `gap_deg`: width of the gap at
    /// the arrow, 0 to 90 degrees, in which it reads 0, as a resistance ring does between its ends.
    #[must_use]
    pub fn with_sensor(step_deg: f64, gap_deg: f64) -> Self {
        let step_deg = step_deg.clamp(0.01, 90.0);
        Self {
            position_deg: 0.0,
            rate_deg_s: 0.0,
            step_deg,
            per_step: 1.0 / step_deg,
            gap_deg: gap_deg.clamp(0.0, 90.0),
            started: false,
        }
    }

    /// Where the vane points, degrees clockwise from true north, in 0 to 360.
    #[must_use]
    pub fn position_deg(&self) -> f64 {
        self.position_deg
    }

    /// One interval on; the reading at its end, whole degrees in 0 to 359, against the head's arrow: the direction of the
    /// vector mean of the positions at the ends of the sub-samples.
    ///
    /// The arrow turns the frame of the reading, not the vane: with the arrow 30 degrees east of north the
    /// reading is 30 degrees too small. `flutter` and `noise`: variates of deviation 1.
    pub fn step(
        &mut self,
        exposure: &Exposure,
        response: &Response,
        condition: &Condition,
        flutter: f64,
        noise: f64,
    ) -> f64 {
        if !self.started {
            self.started = true;
            self.position_deg = full_turn(exposure.wind[0].from_direction_deg);
        }
        let positions = self.follow(exposure, response, condition, flutter, noise);
        let arrow = if condition.arrow_azimuth_deg.abs() <= 180.0 {
            condition.arrow_azimuth_deg
        } else {
            half_turn(condition.arrow_azimuth_deg % 360.0)
        };
        // The sensor's noise is slow against an interval: one variate for all its samples.
        let shift = NOISE_DEG * noise - arrow;
        let mut read = positions.map(|position| {
            let steps = nearest((position + shift) * self.per_step);
            steps * self.step_deg
        });
        if self.gap_deg > 0.0 {
            for bearing in &mut read {
                let turned = full_turn(shorter_turn(*bearing));
                // Half of the gap lies on either side of the arrow.
                let half = 0.5 * self.gap_deg;
                if turned <= half || turned >= 360.0 - half {
                    *bearing -= shorter_turn(*bearing);
                }
            }
        }
        // Ties go up, so that a turned arrow turns a tie with it.
        let reading = nearest(full_turn(shorter_turn(vector_mean_deg(&read))) + 1e-7);
        if reading >= 360.0 { 0.0 } else { reading }
    }

    /// Where the vane points at the end of each sub-sample, degrees, not brought into the circle.
    fn follow(
        &mut self,
        exposure: &Exposure,
        response: &Response,
        condition: &Condition,
        flutter: f64,
        noise: f64,
    ) -> [f64; WIND_SAMPLES] {
        // Two variates for four samples: each has deviation 1, and their mean a half, as of four apart.
        const PATTERN: [(f64, f64); WIND_SAMPLES] =
            [(1.0, 0.0), (0.0, 1.0), (1.0, 0.0), (0.0, -1.0)];
        let start = start_speed_ms(condition.vane_friction);
        let band_at_1_ms = DEAD_BAND_DEG * start * start;
        let mut position = self.position_deg;
        let mut rate = self.rate_deg_s;
        let mut followed = position;
        let mut before = position;
        let mut positions = [0.0; WIND_SAMPLES];
        for (index, sample) in exposure.wind.iter().enumerate() {
            let (of_flutter, of_noise) = PATTERN[index];
            let bearing =
                sample.from_direction_deg + FLUTTER_DEG * (of_flutter * flutter + of_noise * noise);
            // Directions are followed through north, so that the vane hardly ever finds itself more than
            // half a turn off, and finding the shorter way round is a branch that predicts well.
            followed += shorter_turn(bearing - before);
            before = bearing;
            if (followed - position).abs() > 180.0 {
                followed = position + shorter_turn(followed - position);
            }
            let band = band_at_1_ms * response.inverse_square[index];
            let swing = if sample.speed_ms > start {
                response.swing[index]
            } else {
                Swing::HELD
            };
            // Friction holds the vane anywhere within the band; outside it swings about the band's edge.
            let (low, high) = (followed - band, followed + band);
            let below = if position < high { position } else { high };
            let rest = if below > low { below } else { low };
            let next = (1.0 - swing.keep) * rest + (swing.keep * position + swing.carry * rate);
            rate = swing.pull * (position - rest) + swing.damp * rate;
            position = next;
            positions[index] = position;
        }
        self.position_deg = full_turn(shorter_turn(position));
        self.rate_deg_s = rate;
        positions
    }
}

/// Direction of the mean of unit vectors, degrees, near the first of them and not brought into the circle. Of vectors
/// that cancel out, the arithmetic mean.
///
/// Newton's step from the arithmetic mean, `atan(sum sin d / sum cos d)`, with series that are good to 1e-5 degrees for
/// what lies within a radian of it; anything wider goes by the functions themselves.
fn vector_mean_deg(bearings: &[f64; WIND_SAMPLES]) -> f64 {
    const RADIAN_DEG: f64 = 57.295_779_513_082_32;
    let mean = 0.25 * ((bearings[0] + bearings[1]) + (bearings[2] + bearings[3]));
    let off = bearings.map(|bearing| (bearing - mean) * (1.0 / RADIAN_DEG));
    let widest = off.iter().fold(0.0, |most: f64, d| {
        let size = d.abs();
        if size > most { size } else { most }
    });
    let (mut sines, mut cosines) = (0.0, 0.0);
    if widest > 1.0 {
        for d in off {
            sines += libm::sin(d);
            cosines += libm::cos(d);
        }
        return if sines * sines + cosines * cosines > 1e-12 {
            mean + RADIAN_DEG * libm::atan2(sines, cosines)
        } else {
            mean
        };
    }
    for d in off {
        let square = d * d;
        sines +=
            d * (1.0 - square * (1.0 / 6.0 - square * (1.0 / 120.0 - square * (1.0 / 5040.0))));
        cosines += 1.0 - square * (0.5 - square * (1.0 / 24.0 - square * (1.0 / 720.0)));
    }
    let tangent = sines / cosines;
    mean + RADIAN_DEG * tangent * (1.0 - tangent * tangent * (1.0 / 3.0))
}

impl Default for Vane {
    fn default() -> Self {
        Self::new()
    }
}

#[cfg(test)]
mod tests;
