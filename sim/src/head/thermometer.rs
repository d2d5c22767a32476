//! The thermometer in its naturally ventilated shield.

use crate::condition::Condition;
use crate::head::relaxation::{decay, nearest};
use crate::site::{DUSK_IRRADIANCE_WM2, Exposure};

/// Radiation error of a shield per unit of short-wave heating over ventilation. Nakamura and Mahrt 2005,
/// J. Atmos. Oceanic Technol. 22, 1046 (coefficient read second-hand); their intercept of 0.13 K is the
/// rest of a fit and is left out. One shield, one grass site.
pub const SHORT_WAVE_COEFFICIENT: f64 = 373.40;
/// The same by night, for the net long-wave irradiance. Same source and caution.
pub const LONG_WAVE_COEFFICIENT: f64 = 355.84;
/// Short-wave gain of this shield when clean, against the one of the source: white plates in good order
/// lie between 0.3 and 1 (common practice, no source).
pub const SHORT_WAVE_GAIN: f64 = 0.5;
/// Air speed that free convection and the smallest draughts keep up in an open shield, m/s: the floor of
/// the source's formula in use (common practice, no source).
pub const CALM_SPEED_MS: f64 = 0.3;
/// Air speed to which a fully blocked shield comes down, m/s: it stands for conduction through the
/// plates and bounds the error at about 4 K in full sun (common practice, no source).
pub const BLOCKED_SPEED_MS: f64 = 0.1;
/// Time constant of sensor and shield at 1 m/s, s; it falls with the square root of the speed. WMO-No. 8,
/// Part I, ch. 2 (from memory): 20 to 200 s for small multi-plate shields.
pub const TIME_CONSTANT_S: f64 = 100.0;
/// How much longer the time constant is when no air passes: "3 to 10 times" (common practice, no source).
pub const BLOCKED_LAG_FACTOR: f64 = 10.0;
/// Standard deviation of the reading's noise, K (common practice, no source).
pub const NOISE_K: f64 = 0.02;
/// Steps of resolution in one kelvin: 0.02 K (common practice, no source).
pub const STEPS_PER_K: f64 = 50.0;

/// Gas constant of dry air over its heat capacity: 287.05 / 1004.67, J/(kg K) each; ISO 2533.
const GAS_CONSTANT_OVER_HEAT_CAPACITY: f64 = 287.05 / 1004.67;

/// Steady error of the shield, K: how much warmer the sensor is than the air.
///
/// `global_irradiance_wm2` and `net_longwave_wm2` (negative is a loss) in W/m2; `ventilation_ms`: air
/// speed at the sensor, at least [`BLOCKED_SPEED_MS`]; `air_pressure_hpa`; `gain`: short-wave gain.
///
/// Source: Nakamura and Mahrt 2005 with `X = S / (rho cp T u)`; since `rho T = p / R`, the temperature
/// drops out. Day and night form are joined by a weight that fades the long-wave loss out at
/// [`DUSK_IRRADIANCE_WM2`] (ours). Validity: their data, 0 to 1000 W/m2 and 0.3 to 8 m/s.
#[must_use]
pub fn shield_error_k(
    global_irradiance_wm2: f64,
    net_longwave_wm2: f64,
    ventilation_ms: f64,
    air_pressure_hpa: f64,
    gain: f64,
) -> f64 {
    let night = (1.0 - global_irradiance_wm2 * (1.0 / DUSK_IRRADIANCE_WM2)).max(0.0);
    let heating = gain * SHORT_WAVE_COEFFICIENT * global_irradiance_wm2
        + LONG_WAVE_COEFFICIENT * night * net_longwave_wm2;
    heating * GAS_CONSTANT_OVER_HEAT_CAPACITY / (100.0 * air_pressure_hpa * ventilation_ms)
}

/// How much a blocked shield slows sensors inside: 1 when open, [`BLOCKED_LAG_FACTOR`] when closed.
#[must_use]
pub fn lag_factor(shield_airflow: f64) -> f64 {
    1.0 + (BLOCKED_LAG_FACTOR - 1.0) * (1.0 - shield_airflow)
}

/// The thermometer of one head.
#[derive(Debug, Clone)]
pub struct Thermometer {
    bias_k: f64,
    sensor_degc: f64,
    started: bool,
}

impl Thermometer {
    /// A thermometer with a calibration error of `bias_k`.
    #[must_use]
    pub fn new(bias_k: f64) -> Self {
        Self {
            bias_k,
            sensor_degc: 0.0,
            started: false,
        }
    }

    /// Temperature the sensor really has, degC; what the hygrometer beside it feels.
    #[must_use]
    pub fn sensor_degc(&self) -> f64 {
        self.sensor_degc
    }

    /// Calibration error, K.
    #[must_use]
    pub fn bias_k(&self) -> f64 {
        self.bias_k
    }

    /// One interval on; the reading at its end, degC. `noise`: variate of deviation 1.
    pub fn step(&mut self, exposure: &Exposure, condition: &Condition, noise: f64) -> f64 {
        let airflow = condition.shield_airflow;
        let speed = exposure.wind_speed_ms.max(CALM_SPEED_MS);
        let error = shield_error_k(
            exposure.global_irradiance_wm2,
            exposure.net_longwave_wm2,
            (speed * airflow).max(BLOCKED_SPEED_MS),
            exposure.air_pressure_hpa,
            SHORT_WAVE_GAIN,
        );
        let target = exposure.air_temperature_degc + error;
        if self.started {
            let time_constants =
                exposure.interval_s * speed.sqrt() / (TIME_CONSTANT_S * lag_factor(airflow));
            self.sensor_degc = target + (self.sensor_degc - target) * decay(time_constants);
        } else {
            self.started = true;
            self.sensor_degc = target;
        }
        let signal = self.sensor_degc + self.bias_k + NOISE_K * noise;
        nearest(signal * STEPS_PER_K) * (1.0 / STEPS_PER_K)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::head::testing::still_air;

    /// Ten steps of 16 s after a jump of 10 K the lag has the analytic value, at two wind speeds.
    #[test]
    fn a_step_of_temperature_is_followed_with_the_time_constant() {
        for (speed, tau) in [(1.0, 100.0), (4.0, 50.0), (0.0, 100.0 / libm::sqrt(0.3))] {
            let mut thermometer = Thermometer::new(0.0);
            let mut air = still_air();
            air.wind_speed_ms = speed;
            thermometer.step(&air, &Condition::HEALTHY, 0.0);
            air.air_temperature_degc += 10.0;
            for _ in 0..10 {
                thermometer.step(&air, &Condition::HEALTHY, 0.0);
            }
            let rest = air.air_temperature_degc - thermometer.sensor_degc();
            let expected = 10.0 * libm::exp(-160.0 / tau);
            assert!((rest - expected).abs() < 1e-4, "{rest} for {expected}");
        }
    }

    #[test]
    fn a_blocked_shield_is_ten_times_slower_and_hotter_the_more_it_is_blocked() {
        assert_eq!(lag_factor(1.0), 1.0);
        assert_eq!(lag_factor(0.0), 10.0);
        let mut sun = still_air();
        sun.wind_speed_ms = 2.0;
        sun.global_irradiance_wm2 = 800.0;
        let mut last = 0.0;
        for airflow in [1.0, 0.8, 0.5, 0.3, 0.1, 0.06] {
            let condition = Condition {
                shield_airflow: airflow,
                ..Condition::HEALTHY
            };
            let mut thermometer = Thermometer::new(0.0);
            thermometer.step(&sun, &condition, 0.0);
            let error = thermometer.sensor_degc() - sun.air_temperature_degc;
            assert!(error > last, "airflow {airflow}: {error}");
            last = error;
        }
        assert!((0.2..0.3).contains(&{
            let mut healthy = Thermometer::new(0.0);
            healthy.step(&sun, &Condition::HEALTHY, 0.0);
            healthy.sensor_degc() - sun.air_temperature_degc
        }));
        assert!((2.0..5.0).contains(&last), "blocked: {last} K");
    }

    /// Handbooks (from memory) say -0.1 to -0.5 K under a clear calm night sky.
    #[test]
    fn a_clear_calm_night_cools_the_shield_a_little() {
        let error = shield_error_k(0.0, -78.0, 0.3, 1013.25, SHORT_WAVE_GAIN);
        assert!((-0.5..=-0.1).contains(&error), "{error}");
        assert_eq!(shield_error_k(0.0, 0.0, 0.3, 1013.25, 1.0), 0.0);
    }

    #[test]
    fn the_reading_carries_bias_noise_and_resolution() {
        let air = still_air();
        let mut thermometer = Thermometer::new(0.17);
        let quiet = thermometer.step(&air, &Condition::HEALTHY, 0.0);
        assert!((quiet - air.air_temperature_degc - 0.17).abs() <= 0.01 + 1e-9);
        let noisy = thermometer.step(&air, &Condition::HEALTHY, 3.0);
        assert!((noisy - quiet - 0.06).abs() < 1e-9);
        assert!((noisy * 50.0 - nearest(noisy * 50.0)).abs() < 1e-9);
    }
}
