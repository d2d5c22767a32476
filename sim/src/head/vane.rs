//! The wind vane and its position sensor.

use crate::condition::Condition;
use crate::head::relaxation::{decay, full_turn, half_turn, nearest, shorter_turn};
use crate::site::Exposure;
use crate::truth::WIND_SAMPLES;

/// Wind speed below which the vane as made does not move, m/s (common practice, no source).
pub const START_SPEED_MS: f64 = 0.5;
/// How far off the wind the vane may stay at its starting speed, degrees: friction balances the torque,
/// which goes with the square of the speed, so that the dead band shrinks with it (the law is a torque
/// balance; the figure is common practice, no source).
pub const DEAD_BAND_DEG: f64 = 20.0;
/// Run of wind in which the vane takes up 63 % of a change, m. WMO-No. 8, Part I, ch. 5 asks for a damping
/// ratio of 0.3 to 0.7 (from memory): within one sub-sample of some seconds the swing has died out above
/// 2 m/s, so it is reduced to a first-order lag (common practice, no source).
pub const DISTANCE_CONSTANT_M: f64 = 1.5;
/// Deviation of the direction in gusts shorter than a sub-sample, degrees (common practice, no source).
pub const FLUTTER_DEG: f64 = 3.0;
/// Standard deviation of the position sensor's noise, degrees (common practice, no source).
pub const NOISE_DEG: f64 = 0.15;

/// The vane of one head.
#[derive(Debug, Clone)]
pub struct Vane {
    position_deg: f64,
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
    /// Share of a turn that is done in each sub-sample.
    share: [f64; WIND_SAMPLES],
    /// Reciprocal of the square of the speed of each sub-sample, s2/m2.
    inverse_square: [f64; WIND_SAMPLES],
}

impl Response {
    /// The answer to this wind.
    #[must_use]
    pub fn to(exposure: &Exposure) -> Self {
        let sample_s = exposure.interval_s * (1.0 / WIND_SAMPLES as f64);
        let per_ms = sample_s * (1.0 / DISTANCE_CONSTANT_M);
        // The floor only keeps a calm from dividing by nothing; it never moves the vane.
        Self {
            share: exposure
                .wind
                .map(|sample| 1.0 - decay(sample.speed_ms * per_ms)),
            inverse_square: exposure
                .wind
                .map(|sample| 1.0 / (sample.speed_ms * sample.speed_ms).max(1e-6)),
        }
    }
}

impl Vane {
    /// A vane that has not seen any wind yet.
    #[must_use]
    pub fn new() -> Self {
        Self {
            position_deg: 0.0,
            started: false,
        }
    }

    /// Where the vane points, degrees clockwise from true north, in 0 to 360.
    #[must_use]
    pub fn position_deg(&self) -> f64 {
        self.position_deg
    }

    /// One interval on; the reading at its end, whole degrees in 0 to 359, against the head's arrow.
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
        let start = start_speed_ms(condition.vane_friction);
        let band_at_1_ms = DEAD_BAND_DEG * start * start;
        // Only the last position is read: flutter in the sub-samples before it leaves no trace.
        let mut direction = exposure.wind.map(|sample| sample.from_direction_deg);
        direction[WIND_SAMPLES - 1] += FLUTTER_DEG * flutter;
        // Directions are followed through north, so that the vane hardly ever finds itself more than half a
        // turn off, and finding the shorter way round is a branch that predicts well.
        let mut followed = self.position_deg;
        let mut before = self.position_deg;
        for bearing in &mut direction {
            followed += shorter_turn(*bearing - before);
            before = *bearing;
            *bearing = followed;
        }
        let mut position = self.position_deg;
        for (index, bearing) in direction.iter().enumerate() {
            let mut off = bearing - position;
            if off.abs() > 180.0 {
                off = shorter_turn(off);
            }
            let band = band_at_1_ms * response.inverse_square[index];
            let moved = (off.abs() - band).max(0.0).copysign(off) * response.share[index];
            position += if exposure.wind[index].speed_ms > start {
                moved
            } else {
                0.0
            };
        }
        self.position_deg = full_turn(shorter_turn(position));
        let arrow = if condition.arrow_azimuth_deg.abs() <= 180.0 {
            condition.arrow_azimuth_deg
        } else {
            half_turn(condition.arrow_azimuth_deg % 360.0)
        };
        let reading = nearest(full_turn(self.position_deg - arrow + NOISE_DEG * noise));
        if reading >= 360.0 { 0.0 } else { reading }
    }
}

impl Default for Vane {
    fn default() -> Self {
        Self::new()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::head::testing::with_wind;

    /// A step with the response to the same wind.
    fn blow(
        vane: &mut Vane,
        air: &Exposure,
        condition: &Condition,
        flutter: f64,
        noise: f64,
    ) -> f64 {
        vane.step(air, &Response::to(air), condition, flutter, noise)
    }

    fn friction(vane_friction: f64) -> Condition {
        Condition {
            vane_friction,
            ..Condition::HEALTHY
        }
    }

    #[test]
    fn the_vane_holds_below_its_starting_speed() {
        let mut vane = Vane::new();
        blow(
            &mut vane,
            &with_wind(&[5.0; 4], 200.0),
            &Condition::HEALTHY,
            0.0,
            0.0,
        );
        for _ in 0..100 {
            let reading = blow(
                &mut vane,
                &with_wind(&[0.5; 4], 20.0),
                &Condition::HEALTHY,
                2.0,
                0.0,
            );
            assert_eq!(reading, 200.0);
        }
        let moved = blow(
            &mut vane,
            &with_wind(&[0.8; 4], 20.0),
            &Condition::HEALTHY,
            0.0,
            0.0,
        );
        assert_ne!(moved, 200.0);
    }

    #[test]
    fn the_dead_band_shrinks_with_the_square_of_the_speed() {
        for (speed, band) in [(1.0, 5.0), (2.0, 1.25), (5.0, 0.2)] {
            let mut vane = Vane::new();
            blow(
                &mut vane,
                &with_wind(&[8.0; 4], 350.0),
                &Condition::HEALTHY,
                0.0,
                0.0,
            );
            for _ in 0..200 {
                blow(
                    &mut vane,
                    &with_wind(&[speed; 4], 40.0),
                    &Condition::HEALTHY,
                    0.0,
                    0.0,
                );
            }
            let short = half_turn(40.0 - vane.position_deg());
            assert!(
                (short - band).abs() < 0.3,
                "{speed} m/s: {short} for {band}"
            );
        }
    }

    #[test]
    fn it_turns_the_short_way_round_with_its_distance_constant() {
        let mut vane = Vane::new();
        let mut air = with_wind(&[10.0; 4], 350.0);
        blow(&mut vane, &air, &Condition::HEALTHY, 0.0, 0.0);
        air = with_wind(&[10.0; 4], 20.0);
        air.interval_s = 0.15; // one distance constant of wind in all
        blow(&mut vane, &air, &Condition::HEALTHY, 0.0, 0.0);
        let done = half_turn(vane.position_deg() - 350.0);
        let expected = (30.0 - DEAD_BAND_DEG / 400.0) * (1.0 - libm::exp(-1.0));
        assert!((done - expected).abs() < 0.01, "{done} for {expected}");
    }

    #[test]
    fn readings_stay_in_the_circle() {
        let mut vane = Vane::new();
        for step in 0..3600 {
            let direction = f64::from(step) * 0.1;
            let condition = Condition {
                arrow_azimuth_deg: f64::from(step % 721 - 360),
                ..Condition::HEALTHY
            };
            let noise = f64::from(step % 7 - 3);
            let reading = blow(
                &mut vane,
                &with_wind(&[6.0; 4], direction),
                &condition,
                noise,
                noise,
            );
            assert!((0.0..=359.0).contains(&reading) && reading == nearest(reading));
        }
    }

    #[test]
    fn an_arrow_east_of_north_reads_too_small() {
        for (arrow, wind, expected) in [
            (30.0, 90.0, 60.0),
            (30.0, 10.0, 340.0),
            (-45.0, 350.0, 35.0),
        ] {
            let condition = Condition {
                arrow_azimuth_deg: arrow,
                ..Condition::HEALTHY
            };
            let air = with_wind(&[9.0; 4], wind);
            assert_eq!(blow(&mut Vane::new(), &air, &condition, 0.0, 0.0), expected);
        }
    }

    #[test]
    fn friction_raises_the_threshold_and_a_seized_vane_never_moves() {
        assert_eq!(start_speed_ms(0.0), START_SPEED_MS);
        assert!((start_speed_ms(0.9) - 5.0).abs() < 1e-9);
        let turn = |friction_value: f64, speed: f64| {
            let mut vane = Vane::new();
            blow(
                &mut vane,
                &with_wind(&[9.0; 4], 100.0),
                &Condition::HEALTHY,
                0.0,
                0.0,
            );
            for _ in 0..50 {
                blow(
                    &mut vane,
                    &with_wind(&[speed; 4], 190.0),
                    &friction(friction_value),
                    0.0,
                    0.0,
                );
            }
            vane.position_deg()
        };
        assert_eq!(turn(0.9, 4.9), 100.0);
        assert!(turn(0.9, 6.0) > 160.0);
        assert_eq!(turn(1.0, 40.0), 100.0);
        // Within one step although the position sensor has its noise.
        let mut vane = Vane::new();
        let air = with_wind(&[9.0; 4], 100.0);
        for step in 0..500 {
            let noise = f64::from(step % 7 - 3) * 1.1;
            let reading = blow(&mut vane, &air, &friction(1.0), noise, noise);
            assert!((reading - 100.0).abs() <= 1.0, "{reading}");
        }
    }
}
