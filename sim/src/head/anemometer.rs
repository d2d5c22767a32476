//! The cup anemometer.

use crate::head::relaxation::decay;
use crate::site::Exposure;
use crate::truth::WIND_SAMPLES;

/// Run of wind in which the cups take up 63 % of a change, m. WMO-No. 8, Part I, ch. 5 (from memory): 2 to
/// 5 m is wanted.
pub const DISTANCE_CONSTANT_M: f64 = 3.0;
/// Wind speed at whose pace the cups run down in a calm, m/s: without wind it is their own drag and friction
/// that stop them (common practice, no source).
pub const RUN_DOWN_MS: f64 = 0.5;
/// Run of wind for one pulse of the cups, m: two pulses a turn (common practice, no source).
pub const RUN_PER_PULSE_M: f64 = 0.4;
/// Over-speeding by the vertical part of the turbulence, as a share of the speed per square of the
/// turbulence intensity: `c Iw^2` with `c` = 1 and `Iw` = `Iu` / 2. Busch and Kristensen 1976, J. Appl.
/// Meteor. (abstract); the ratio of neutral surface layers 1.25 / 2.5, Panofsky and Dutton 1984 (from
/// memory). The other part, from answering faster to gusts than to lulls, comes out of the lag.
pub const OVERSPEEDING: f64 = 0.25;
/// Largest turbulence intensity the over-speeding law is used for.
pub const TURBULENCE_MAX: f64 = 0.4;
/// Time over which the cups' surroundings show their turbulence intensity, s: the ten minutes of WMO-No. 8, as the
/// time constant of a running mean.
pub const TURBULENCE_S: f64 = 300.0;
/// How much the starting speed grows per K below freezing, share: grease stiffens (common practice, no source).
pub const STIFFENING_PER_K: f64 = 0.02;

/// Reading over true speed of cups whose axis leans `attack_deg` towards or away from the wind.
///
/// `cos a (1 + c tan^2 a)` with the `c` = 1 of [`OVERSPEEDING`]'s law: the wind along the rotor's plane, and the
/// excess by its component along the axis. Source: quasi-steady form of Busch and Kristensen 1976. Validity: 20 degrees
/// either way; rotors differ.
#[must_use]
pub fn attack_response(attack_deg: f64) -> f64 {
    let attack = attack_deg.to_radians();
    let tangent = libm::tan(attack);
    libm::cos(attack) * (1.0 + tangent * tangent)
}

/// The same over all directions of a wind that blows level past a mast that leans by `tilt_deg`: of the square of the
/// angle a half is left on average.
#[must_use]
pub fn tilt_response(tilt_deg: f64) -> f64 {
    attack_response(tilt_deg * core::f64::consts::FRAC_1_SQRT_2)
}

/// What the cups tell of one interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wind {
    /// Mean of the interval, m/s.
    pub mean_ms: f64,
    /// Highest short mean, m/s; never below the mean.
    pub gust_ms: f64,
}

/// How cups answer this wind, whatever their state: computed once for a head and its twin.
#[derive(Debug, Clone, Copy)]
pub struct Response {
    /// What is left of a lag at the end of each sub-sample.
    rest: [f64; WIND_SAMPLES],
    /// What is left of it in the mean of each sub-sample.
    share: [f64; WIND_SAMPLES],
    /// Mean speed and mean squared speed of the samples.
    mean: f64,
    mean_square: f64,
    /// Share by which this interval moves the running means of the two.
    weight: f64,
    /// Factor on the starting speed's square.
    stiff: f64,
}

impl Response {
    /// The answer to this wind.
    #[must_use]
    pub fn to(exposure: &Exposure) -> Self {
        const EACH: f64 = 1.0 / WIND_SAMPLES as f64;
        let sample_s = exposure.interval_s * EACH;
        let mut rest = [0.0; WIND_SAMPLES];
        let mut share = [0.0; WIND_SAMPLES];
        let (mut mean, mut mean_square) = (0.0, 0.0);
        for (index, sample) in exposure.wind.iter().enumerate() {
            let speed = if sample.speed_ms > RUN_DOWN_MS {
                sample.speed_ms
            } else {
                RUN_DOWN_MS
            };
            // The floor keeps an interval of no length from dividing by nothing.
            let lengths = (speed * sample_s * (1.0 / DISTANCE_CONSTANT_M)).max(1e-9);
            rest[index] = decay(lengths);
            share[index] = (1.0 - rest[index]) / lengths;
            mean += EACH * sample.speed_ms;
            mean_square += EACH * sample.speed_ms * sample.speed_ms;
        }
        let stiff = 1.0 - STIFFENING_PER_K * exposure.air_temperature_degc.min(0.0);
        Self {
            rest,
            share,
            mean,
            mean_square,
            weight: (exposure.interval_s * (1.0 / TURBULENCE_S)).min(1.0),
            stiff: stiff * stiff,
        }
    }
}

/// The cup anemometer of one head.
#[derive(Debug, Clone)]
pub struct Anemometer {
    gain: f64,
    start_speed_ms: f64,
    cups_ms: f64,
    /// Part of a pulse that was left over.
    turned: f64,
    /// Running means of the speed and of its square.
    mean_ms: f64,
    mean_square: f64,
    started: bool,
}

impl Anemometer {
    /// Cups that read `gain` times the speed and start to turn at `start_speed_ms`.
    #[must_use]
    pub fn new(gain: f64, start_speed_ms: f64) -> Self {
        Self {
            gain,
            start_speed_ms,
            cups_ms: 0.0,
            turned: 0.0,
            mean_ms: 0.0,
            mean_square: 0.0,
            started: false,
        }
    }

    /// The same cups on a mast that leans by `tilt_deg`.
    #[must_use]
    pub fn leaning(mut self, tilt_deg: f64) -> Self {
        self.gain *= tilt_response(tilt_deg);
        self
    }

    /// Share by which turbulence on the cups' axis makes them run too fast.
    fn over_speeding(&self) -> f64 {
        let square = self.mean_ms * self.mean_ms;
        // Below the starting speed there is nothing to speed up.
        if square > 0.25 {
            let intensity_squared = self.mean_square / square - 1.0;
            OVERSPEEDING * intensity_squared.clamp(0.0, TURBULENCE_MAX * TURBULENCE_MAX)
        } else {
            0.0
        }
    }

    /// Calibration: reading over true speed, without friction.
    #[must_use]
    pub fn gain(&self) -> f64 {
        self.gain
    }

    /// One interval on; mean and gust as the head counts them in `nominal_s` of its own seconds.
    ///
    /// The cups follow the wind with `tau = distance / speed` (WMO-No. 8, Part I, ch. 5); friction takes
    /// `us^2 / u` off the speed (torque balance to first order, `us`: starting speed), which leaves nothing
    /// at the starting speed and below; whole pulses are counted in each sub-sample.
    pub fn step(&mut self, exposure: &Exposure, response: &Response, nominal_s: f64) -> Wind {
        const SAMPLES: f64 = WIND_SAMPLES as f64;
        let sample_s = exposure.interval_s * (1.0 / SAMPLES);
        let Response { rest, share, .. } = response;
        if !self.started {
            self.started = true;
            self.cups_ms = exposure.wind[0].speed_ms;
            self.mean_ms = response.mean;
            self.mean_square = response.mean_square;
        }
        self.mean_ms += response.weight * (response.mean - self.mean_ms);
        self.mean_square += response.weight * (response.mean_square - self.mean_square);
        let fast = 1.0 + self.over_speeding();
        let mut mean = [0.0; WIND_SAMPLES];
        for (index, sample) in exposure.wind.iter().enumerate() {
            let behind = self.cups_ms - sample.speed_ms;
            mean[index] = sample.speed_ms + behind * share[index];
            self.cups_ms = sample.speed_ms + behind * rest[index];
        }
        let pulses_per_ms = self.gain * fast * sample_s * (1.0 / RUN_PER_PULSE_M);
        let friction = self.start_speed_ms * self.start_speed_ms * response.stiff;
        let mut turned = self.turned;
        let (mut before, mut most) = (0.0, 0.0);
        for speed in mean {
            // At the starting speed and below friction takes all.
            let drag = friction / if speed > 1e-9 { speed } else { 1e-9 };
            let turning = if speed > drag { speed - drag } else { 0.0 };
            turned += turning * pulses_per_ms;
            // Truncation of what is never negative: whole pulses since the interval began.
            let pulses = turned as u32 as f64;
            let here = pulses - before;
            before = pulses;
            most = if here > most { here } else { most };
        }
        self.turned = turned - before;
        let per_interval = RUN_PER_PULSE_M / nominal_s;
        Wind {
            mean_ms: before * per_interval,
            gust_ms: most * SAMPLES * per_interval,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::head::testing::{still_air, with_wind};

    fn long_run(anemometer: &mut Anemometer, speed: f64) -> f64 {
        let air = with_wind(&[speed; 4], 0.0);
        let mut sum = 0.0;
        for _ in 0..2000 {
            let wind = anemometer.step(&air, &Response::to(&air), 16.0);
            assert!(wind.gust_ms >= wind.mean_ms);
            sum += wind.mean_ms;
        }
        sum / 2000.0
    }

    #[test]
    fn nothing_turns_below_the_starting_speed() {
        let mut cups = Anemometer::new(1.0, 0.5);
        assert_eq!(long_run(&mut cups, 0.5), 0.0);
        assert!(long_run(&mut cups, 0.55) > 0.0);
    }

    /// Hand calculation for worn cups that start at 1.5 m/s: -25 % at 3 m/s, -2 % at 10 m/s.
    #[test]
    fn friction_takes_its_share() {
        let mut worn = Anemometer::new(1.0, 1.5);
        let at_3 = long_run(&mut worn, 3.0);
        assert!((at_3 / 3.0 - 0.75).abs() < 0.002, "{at_3}");
        let at_10 = long_run(&mut worn, 10.0);
        assert!((at_10 / 10.0 - 0.9775).abs() < 0.001, "{at_10}");
    }

    #[test]
    fn the_gain_scales_and_pulses_are_whole() {
        let mut cups = Anemometer::new(1.08, 0.0);
        let mean = long_run(&mut cups, 5.0);
        assert!((mean - 5.4).abs() < 0.001, "{mean}");
        let air = with_wind(&[5.0; 4], 0.0);
        let wind = cups.step(&air, &Response::to(&air), 16.0);
        let pulses = wind.mean_ms * 16.0 / RUN_PER_PULSE_M;
        assert!((pulses - libm::round(pulses)).abs() < 1e-9);
    }

    #[test]
    fn calm_and_the_first_step_are_no_special_case() {
        let mut cups = Anemometer::new(1.0, 0.5);
        let calm = still_air();
        let wind = cups.step(&calm, &Response::to(&calm), 16.0);
        assert_eq!((wind.mean_ms, wind.gust_ms), (0.0, 0.0));
    }

    #[test]
    fn cups_run_down_when_the_wind_stops_dead() {
        let mut cups = Anemometer::new(1.0, 0.0);
        long_run(&mut cups, 8.0);
        let calm = still_air();
        let first = cups.step(&calm, &Response::to(&calm), 16.0);
        assert!((1.5..4.0).contains(&first.mean_ms), "{first:?}");
        for _ in 0..10 {
            cups.step(&calm, &Response::to(&calm), 16.0);
        }
        assert_eq!(cups.step(&calm, &Response::to(&calm), 16.0).gust_ms, 0.0);
    }

    /// Cups answer faster to gusts than to lulls, so a wind that changes is read too high (Busch and
    /// Kristensen 1976). Checked against fine steps of the same equation, `dS/dt = u (u - S) / l`.
    #[test]
    fn turbulence_makes_the_cups_run_fast() {
        let speeds = [3.9, 2.1, 3.9, 2.1];
        let (mut cups_ms, mut sum) = (3.0, 0.0);
        for step in 0..160_000 {
            let speed = speeds[step / 4000 % 4];
            sum += cups_ms;
            cups_ms += 0.001 * speed * (speed - cups_ms) / DISTANCE_CONSTANT_M;
        }
        let lag_only = sum / 160_000.0 / 3.0;
        let mut cups = Anemometer::new(1.0, 0.0);
        let air = with_wind(&speeds, 0.0);
        let mut total = 0.0;
        for _ in 0..2000 {
            total += cups.step(&air, &Response::to(&air), 16.0).mean_ms;
        }
        let expected = lag_only * (1.0 + OVERSPEEDING * 0.09);
        let got = total / 2000.0 / 3.0;
        assert!((got / expected - 1.0).abs() < 0.002, "{got} {expected}");
        assert!((1.03..1.10).contains(&got), "{got}");
    }
}
