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
#[derive(Debug, Clone, PartialEq)]
pub struct Vane {
    /// Degrees clockwise from true north, whole turns not taken off.
    position_deg: f64,
    /// Turning rate, degrees a second.
    rate_deg_s: f64,
    /// Where the wind last came from, and the same followed through north, within half a turn of the position.
    before_deg: f64,
    followed_deg: f64,
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

/// How a vane as made answers this wind, whatever its state: computed once for a head and its twin.
#[derive(Debug, Clone, Copy)]
pub struct Response {
    /// What becomes of a displacement and of a turning rate in each sub-sample.
    swing: [Swing; WIND_SAMPLES],
    /// How far off the wind friction holds the vane in each sub-sample, degrees.
    band_deg: [f64; WIND_SAMPLES],
    /// Turn of the wind since the first sub-sample, degrees, followed through north.
    turned_deg: [f64; WIND_SAMPLES],
}

impl Response {
    /// The answer to this wind.
    #[must_use]
    pub fn to(exposure: &Exposure) -> Self {
        let sample_s = exposure.interval_s * (1.0 / WIND_SAMPLES as f64);
        let mut response = Self {
            swing: [Swing::HELD; WIND_SAMPLES],
            band_deg: [0.0; WIND_SAMPLES],
            turned_deg: [0.0; WIND_SAMPLES],
        };
        let (mut turned, mut before) = (0.0, exposure.wind[0].from_direction_deg);
        for (index, sample) in exposure.wind.iter().enumerate() {
            turned += shorter_turn(sample.from_direction_deg - before);
            before = sample.from_direction_deg;
            response.turned_deg[index] = turned;
            // Up to its starting speed the vane rests.
            if sample.speed_ms > START_SPEED_MS {
                let seconds_per_m = 1.0 / sample.speed_ms;
                let ratio = START_SPEED_MS * seconds_per_m;
                response.band_deg[index] = DEAD_BAND_DEG * ratio * ratio;
                response.swing[index] = Swing::after(sample.speed_ms, sample_s, seconds_per_m);
            }
        }
        response
    }

    /// The same for a vane with friction (0 as made, 1 seized).
    fn rubbing(&self, exposure: &Exposure, friction: f64) -> Self {
        let start = start_speed_ms(friction);
        let more = start / START_SPEED_MS;
        let mut response = *self;
        for (index, sample) in exposure.wind.iter().enumerate() {
            if sample.speed_ms > start {
                response.band_deg[index] *= more * more;
            } else {
                response.swing[index] = Swing::HELD;
            }
        }
        response
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
            before_deg: 0.0,
            followed_deg: 0.0,
            step_deg,
            per_step: 1.0 / step_deg,
            gap_deg: gap_deg.clamp(0.0, 90.0),
            started: false,
        }
    }

    /// Where the vane points, degrees clockwise from true north, in 0 to 360.
    #[must_use]
    pub fn position_deg(&self) -> f64 {
        full_turn(shorter_turn(self.position_deg))
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
            self.before_deg = self.position_deg;
            self.followed_deg = self.position_deg;
        }
        let positions = if condition.vane_friction == 0.0 {
            self.follow(exposure, response, flutter, noise)
        } else {
            let rubbing = response.rubbing(exposure, condition.vane_friction);
            self.follow(exposure, &rubbing, flutter, noise)
        };
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
        let reading = shorter_turn(nearest(vector_mean_deg(&read) + 1e-7));
        if reading < 0.0 {
            reading + 360.0
        } else {
            reading
        }
    }

    /// Where the vane points at the end of each sub-sample, degrees, whole turns not taken off.
    fn follow(
        &mut self,
        exposure: &Exposure,
        response: &Response,
        flutter: f64,
        noise: f64,
    ) -> [f64; WIND_SAMPLES] {
        /// Windings after which whole turns are taken off, degrees.
        const MANY_DEG: f64 = 36_000.0;
        // Two variates for four samples: each has deviation 1, and their mean a half, as of four apart.
        let (one, other) = (FLUTTER_DEG * flutter, FLUTTER_DEG * noise);
        let gusts: [f64; WIND_SAMPLES] = [one, other, one, -other];
        let mut position = self.position_deg;
        let mut rate = self.rate_deg_s;
        // Followed through north by itself, so that it need not wait for the vane.
        let direction = exposure.wind[0].from_direction_deg;
        let mut first = self.followed_deg + shorter_turn(direction - self.before_deg);
        let mut positions = [0.0; WIND_SAMPLES];
        for index in 0..WIND_SAMPLES {
            let Swing {
                keep,
                carry,
                pull,
                damp,
            } = response.swing[index];
            let turned = response.turned_deg[index] + gusts[index];
            // The vane hardly ever finds itself more than half a turn off, and taking the shorter way round is a
            // branch that predicts well.
            let off = first + turned - position;
            if off.abs() > 180.0 {
                first += shorter_turn(off) - off;
            }
            let bearing = first + turned;
            let band = response.band_deg[index];
            // Friction holds the vane anywhere within the band; outside it swings about the band's edge.
            let (low, high) = (bearing - band, bearing + band);
            let below = if position < high { position } else { high };
            let rest = if below > low { below } else { low };
            let next = (1.0 - keep) * rest + (keep * position + carry * rate);
            rate = pull * (position - rest) + damp * rate;
            position = next;
            positions[index] = position;
        }
        self.before_deg = exposure.wind[WIND_SAMPLES - 1].from_direction_deg;
        self.followed_deg = first + response.turned_deg[WIND_SAMPLES - 1];
        self.position_deg = position;
        if position.abs() > MANY_DEG {
            self.position_deg = shorter_turn(position);
            self.followed_deg += self.position_deg - position;
        }
        self.rate_deg_s = rate;
        positions
    }
}

/// Direction of the mean of unit vectors, degrees, near the first of them and not brought into the circle. Of vectors
/// that cancel out, the arithmetic mean.
///
/// Newton's step from the arithmetic mean, `atan(sum sin d / sum cos d)`, with series that are good to 0.05 degrees up to a
/// squared spread of 4 (one of them 100 degrees off the others), and to 1e-4 within a radian; anything wider goes by the
/// functions themselves.
fn vector_mean_deg(bearings: &[f64; WIND_SAMPLES]) -> f64 {
    const RADIAN_DEG: f64 = 57.295_779_513_082_32;
    let mean = 0.25 * ((bearings[0] + bearings[1]) + (bearings[2] + bearings[3]));
    let off = bearings.map(|bearing| (bearing - mean) * (1.0 / RADIAN_DEG));
    let squares = off.map(|d| d * d);
    let spread = (squares[0] + squares[1]) + (squares[2] + squares[3]);
    if spread > 4.0 {
        return mean + RADIAN_DEG * wide_mean(&off);
    }
    let (mut sines, mut cosines) = (0.0, 4.0 - 0.5 * spread);
    for (d, square) in off.into_iter().zip(squares) {
        let cubic = 1.0 / 6.0 - square * (1.0 / 120.0 - square * (1.0 / 5040.0));
        sines += d - d * square * cubic;
        cosines += square * square * (1.0 / 24.0 - square * (1.0 / 720.0));
    }
    let tangent = sines / cosines;
    mean + RADIAN_DEG * tangent * (1.0 - tangent * tangent * (1.0 / 3.0))
}

/// Direction of the mean of unit vectors in radians by the functions themselves; 0 of vectors that cancel out.
#[cold]
fn wide_mean(off: &[f64; WIND_SAMPLES]) -> f64 {
    let (mut sines, mut cosines) = (0.0, 0.0);
    for &d in off {
        sines += libm::sin(d);
        cosines += libm::cos(d);
    }
    if sines * sines + cosines * cosines > 1e-12 {
        libm::atan2(sines, cosines)
    } else {
        0.0
    }
}

impl Default for Vane {
    fn default() -> Self {
        Self::new()
    }
}

#[cfg(test)]
mod tests;
