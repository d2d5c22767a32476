//! Wind at the head: the day's mixing, the profile, gusts and a wandering direction.

use super::noise::{floor, smooth_step};
use crate::entropy::Stream;
use crate::physics::wind_profile::{CROSSWIND_RATIO, exposure_ratio, turbulence_intensity};
use crate::site::Site;
use crate::truth::{WIND_SAMPLES, WindSample};

/// Integral times of the two scales of turbulence, s (common practice, no source): eddies of the size of
/// the height, and those of the mixed layer.
const FAST_S: f64 = 5.0;
const SLOW_S: f64 = 45.0;
/// Degrees in a radian.
const DEGREES: f64 = 180.0 / core::f64::consts::PI;
/// Root of the share of the fast scale in the variance, 0.62, and the share of the slow one.
const FAST_SHARE_ROOT: f64 = 0.787_400_787_401_181_1;
const SLOW_SHARE: f64 = 0.38;
/// Velocity that convection adds, m/s per W/m2 of heat flux (common practice, no source).
const CONVECTIVE_MS: f64 = 0.0022;
/// Time in which the direction wanders, s (common practice, no source).
const MEANDER_S: f64 = 240.0;
/// Wander of the direction that does not depend on speed, m/s across the wind (common practice).
const MEANDER_MS: f64 = 0.28;
/// The same of the quick eddies.
const CALM_EDDY_MS: f64 = 0.1;

/// Wind at 10 m over what it would be without the day: less at night, more on a sunny afternoon, both the
/// weaker the stronger the wind. `sun_up` is the sine of the sun's elevation an hour before. Common
/// practice, no source; the day-night ratio near 1.4 at moderate wind fits open-terrain airports.
pub(crate) fn mixing(sun_up: f64, low_cloud: f64, speed_ms: f64) -> f64 {
    let stirred = smooth_step(-0.08, 0.75, sun_up) * (1.0 - 0.45 * low_cloud);
    let calm = 0.55 * (1.0 - low_cloud) * (1.0 - smooth_step(-0.15, 0.1, sun_up));
    1.0 + (0.75 * stirred - 0.12 - calm) / (1.0 + speed_ms / 9.0)
}

/// Wind through one interval.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Blow {
    pub(crate) samples: [WindSample; WIND_SAMPLES],
    pub(crate) mean_ms: f64,
    pub(crate) gust_ms: f64,
    pub(crate) from_deg: f64,
}

/// Turbulence at the head.
#[derive(Debug, Clone)]
pub(crate) struct Turbulence {
    stream: Stream,
    ratio: f64,
    intensity: f64,
    fast: Step,
    slow: Step,
    meander: Step,
    along_fast: f64,
    along_slow: f64,
    across_fast: f64,
    across_slow: f64,
}

/// One step of a first-order process with unit spread: what stays, what is new.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Step {
    keep: f64,
    fresh: f64,
}

impl Step {
    pub(crate) fn new(seconds: f64, memory_s: f64) -> Self {
        let keep = libm::exp(-seconds / memory_s);
        Self {
            keep,
            fresh: (1.0 - keep * keep).sqrt(),
        }
    }
    pub(crate) fn next(self, value: f64, normal: f64) -> f64 {
        self.keep * value + self.fresh * normal
    }
}

impl Turbulence {
    pub(crate) fn new(mut stream: Stream, site: &Site, interval_s: f64) -> Self {
        let sample_s = interval_s / WIND_SAMPLES as f64;
        Self {
            ratio: exposure_ratio(site.height_m, site.roughness_length_m),
            intensity: turbulence_intensity(site.height_m, site.roughness_length_m).min(0.45),
            fast: Step::new(sample_s, FAST_S),
            slow: Step::new(interval_s, SLOW_S),
            meander: Step::new(interval_s, MEANDER_S),
            along_fast: stream.normal(),
            along_slow: stream.normal(),
            across_fast: stream.normal(),
            across_slow: stream.normal(),
            stream,
        }
    }

    /// Wind through one interval whose slow wind at 10 m is `wind_ms` from `from_deg`; `heat_flux_wm2` is
    /// the upward flux of heat, which stirs, and `stable` (0 to 1) the lack of it, which calms.
    pub(crate) fn step(
        &mut self,
        wind_ms: f64,
        from_deg: f64,
        heat_flux_wm2: f64,
        stable: f64,
    ) -> Blow {
        let speed = wind_ms * self.ratio;
        let slow = self.stream.normal();
        let wander = self.stream.normal();
        self.along_slow = self.slow.next(self.along_slow, slow);
        self.across_slow = self.meander.next(self.across_slow, wander);
        // Convection adds velocity of its own, so its share falls with the wind. Its eddies are as large as
        // the mixed layer is deep: they belong to the slow scale, and variances add (Panofsky, Tennekes,
        // Lenschow & Wyngaard 1977, Boundary-Layer Meteorol. 11, from memory).
        let convection = (CONVECTIVE_MS * heat_flux_wm2 / (speed + 0.7)).min(0.25);
        let mechanical = self.intensity * (1.0 - 0.4 * stable);
        let variance = mechanical * mechanical;
        let slow_share = (SLOW_SHARE * variance + convection * convection).sqrt();
        let fast_share = FAST_SHARE_ROOT * mechanical;
        let variance = variance + convection * convection;
        let intensity = variance.sqrt();
        let skewness = 0.12 / intensity;
        let meander = MEANDER_MS / (speed + 0.12);
        let turbulent = CROSSWIND_RATIO * intensity + CALM_EDDY_MS / (speed + 0.12);

        let mut samples = [WindSample::default(); WIND_SAMPLES];
        let mut turns = [0.0; WIND_SAMPLES];
        let (mut sum, mut gust, mut ahead, mut aside) = (0.0, 0.0_f64, 0.0, 0.0);
        for (sample, turn) in samples.iter_mut().zip(&mut turns) {
            let along = self.stream.normal();
            let across = self.stream.normal();
            self.along_fast = self.fast.next(self.along_fast, along);
            self.across_fast = self.fast.next(self.across_fast, across);
            let x = fast_share * self.along_fast + slow_share * self.along_slow;
            // Gusts reach further above the mean than lulls below it.
            sample.speed_ms = (speed * (1.0 + x + skewness * (x * x - variance))).max(0.0);
            let angle = turbulent * self.across_fast + meander * self.across_slow;
            *turn = angle.clamp(-1.3, 1.3);
            let (sine, cosine) = small_sincos(*turn);
            sum += sample.speed_ms;
            gust = gust.max(sample.speed_ms);
            ahead += sample.speed_ms * cosine;
            aside += sample.speed_ms * sine;
        }
        let mean_turn = if sum > 0.0 {
            small_atan2(aside, ahead)
        } else {
            turns[WIND_SAMPLES - 1]
        };
        // No turn exceeds a quarter circle, so one full turn at most has to be taken off or added.
        let base = circle(from_deg);
        let turned = |turn: f64| {
            let angle = base + turn * DEGREES;
            let angle = if angle < 0.0 { angle + 360.0 } else { angle };
            if angle >= 360.0 { angle - 360.0 } else { angle }
        };
        for (sample, turn) in samples.iter_mut().zip(turns) {
            sample.from_direction_deg = turned(turn);
        }
        Blow {
            samples,
            mean_ms: sum / WIND_SAMPLES as f64,
            gust_ms: gust,
            from_deg: turned(mean_turn),
        }
    }
}

/// Sine and cosine of an angle below 1.3 radians, within 4e-6: a wandering vane needs no more.
fn small_sincos(x: f64) -> (f64, f64) {
    let y = x * x;
    let sine = x
        * (1.0
            - y * (1.0 / 6.0)
                * (1.0 - y * (1.0 / 20.0) * (1.0 - y * (1.0 / 42.0) * (1.0 - y * (1.0 / 72.0)))));
    let cosine = 1.0
        - y * 0.5
            * (1.0
                - y * (1.0 / 12.0)
                    * (1.0
                        - y * (1.0 / 30.0) * (1.0 - y * (1.0 / 56.0) * (1.0 - y * (1.0 / 90.0)))));
    (sine, cosine)
}

/// The angle of a vector, within 2e-7 radians: the series where it is enough, which is nearly always.
fn small_atan2(y: f64, x: f64) -> f64 {
    if y.abs() >= 0.3 * x {
        return libm::atan2(y, x);
    }
    let r = y / x;
    let s = r * r;
    r * (1.0 - s * (1.0 / 3.0 - s * (1.0 / 5.0 - s * (1.0 / 7.0 - s * (1.0 / 9.0)))))
}

/// An angle brought into [0, 360).
pub(crate) fn circle(degrees: f64) -> f64 {
    let turned = degrees - 360.0 * floor(degrees * (1.0 / 360.0)) as f64;
    if turned >= 360.0 { 0.0 } else { turned }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shares_of_the_variance_add_up() {
        let sum = FAST_SHARE_ROOT * FAST_SHARE_ROOT + SLOW_SHARE;
        assert!((sum - 1.0).abs() < 1e-12);
    }

    #[test]
    fn the_series_follows_sine_and_cosine() {
        for i in -130..=130 {
            let x = f64::from(i) / 100.0;
            let (sine, cosine) = small_sincos(x);
            assert!((sine - libm::sin(x)).abs() < 4e-6 && (cosine - libm::cos(x)).abs() < 4e-6);
        }
    }

    #[test]
    fn the_short_arc_tangent_follows_the_long_one() {
        for i in -400..=400 {
            let (y, x) = (f64::from(i) / 100.0, 2.0);
            assert!((small_atan2(y, x) - libm::atan2(y, x)).abs() < 2e-7);
        }
        assert_eq!(small_atan2(0.0, -1.0), core::f64::consts::PI);
    }

    #[test]
    fn the_circle_is_closed() {
        for (angle, expected) in [(-1e-15, 0.0), (360.0, 0.0), (-10.0, 350.0), (725.0, 5.0)] {
            assert!((circle(angle) - expected).abs() < 1e-9, "{angle}");
            assert!(circle(angle) < 360.0);
        }
    }
}
