//! The barometer inside the head.

use crate::head::relaxation::{nearest, shorter_turn};
use crate::site::Exposure;
use crate::truth::WIND_SAMPLES;

/// Standard deviation among barometers of the change of the reading with the temperature inside, hPa per K away from
/// 20 degC: what is left after the chip's own compensation (common practice: makers state 0.005 to 0.015; no
/// source).
pub const TEMPERATURE_COEFFICIENT_HPA_PER_K: f64 = 0.005;
/// Standard deviation of the drift among barometers, hPa per year (common practice: makers state up to 0.1 to 1
/// hPa a year; no source).
pub const DRIFT_HPA_PER_YEAR: f64 = 0.1;
/// How much warmer the inside is than the air in 1000 W/m2 and a calm, K; it falls as `1 / (1 + u / 2)`
/// (common practice, no source).
pub const INSIDE_WARMER_K: f64 = 8.0;
/// Time constant of the inside, s (common practice, no source).
pub const INSIDE_TIME_CONSTANT_S: f64 = 900.0;
/// Pressure coefficient of the port, mean over the directions: the body's sides are under suction. Buildings and
/// bodies without a static head lie between -0.5 and 0.3 (orders of WMO-No. 8, Part I, ch. 3, on wind
/// effects, and of Lanzinger and Schubotz 2012, TECO-2012, on static pressure heads; the value is ours).
pub const PORT_COEFFICIENT: f64 = -0.08;
/// Its change with direction: above the mean by this when the wind blows on the port, below it from behind.
pub const PORT_COEFFICIENT_SWING: f64 = 0.15;
/// Bearing the port looks to on a head that is set up right, degrees: south, away from the arrow. A turned head is
/// not followed.
pub const PORT_BEARING_DEG: f64 = 180.0;
/// Standard deviation of the reading's noise, hPa (common practice, no source).
pub const NOISE_HPA: f64 = 0.03;
/// Steps of resolution in one hPa (common practice, no source).
pub const STEPS_PER_HPA: f64 = 10.0;

const YEAR_S: f64 = 365.25 * 86_400.0;
/// Gas constant of dry air, J/(kg K); ISO 2533.
const GAS_CONSTANT: f64 = 287.05;

/// Cosine of an angle in degrees between -180 and 180, to 0.002: Bhaskara's rational form (7th century).
fn cosine(degrees: f64) -> f64 {
    let x = degrees.abs();
    let (near, sign) = if x <= 90.0 {
        (x, 1.0)
    } else {
        (180.0 - x, -1.0)
    };
    let square = near * near;
    sign * (32_400.0 - 4.0 * square) / (32_400.0 + square)
}

/// What the wind adds to the pressure at the port, hPa: `rho u^2 / 2` times the coefficient of the direction.
///
/// `speed_ms`, `from_direction_deg`: of the wind; `air_pressure_hpa`, `air_temperature_degc`. Source: definition of
/// the pressure coefficient; its values: [`PORT_COEFFICIENT`].
#[must_use]
pub fn wind_pressure_hpa(
    speed_ms: f64,
    from_direction_deg: f64,
    air_pressure_hpa: f64,
    air_temperature_degc: f64,
) -> f64 {
    let off = shorter_turn(from_direction_deg - PORT_BEARING_DEG);
    let coefficient = PORT_COEFFICIENT + PORT_COEFFICIENT_SWING * cosine(off);
    let kelvin = air_temperature_degc + 273.15;
    0.5 * speed_ms * speed_ms * coefficient * air_pressure_hpa * (1.0 / GAS_CONSTANT) / kelvin
}

/// The barometer of one head.
#[derive(Debug, Clone)]
pub struct Barometer {
    bias_hpa: f64,
    hpa_per_k: f64,
    drift_hpa_s: f64,
    drifted_hpa: f64,
    warmer_k: f64,
}

impl Barometer {
    /// A barometer with a calibration error of `bias_hpa`, the usual temperature coefficient and no drift.
    #[must_use]
    pub fn new(bias_hpa: f64) -> Self {
        Self {
            bias_hpa,
            hpa_per_k: TEMPERATURE_COEFFICIENT_HPA_PER_K,
            drift_hpa_s: 0.0,
            drifted_hpa: 0.0,
            warmer_k: 0.0,
        }
    }

    /// The same barometer with a temperature coefficient of its own, hPa per K, and a drift, hPa per year.
    #[must_use]
    pub fn drifting(mut self, hpa_per_k: f64, hpa_per_year: f64) -> Self {
        self.hpa_per_k = hpa_per_k;
        self.drift_hpa_s = hpa_per_year * (1.0 / YEAR_S);
        self
    }

    /// Calibration error at 20 degC when new, hPa.
    #[must_use]
    pub fn bias_hpa(&self) -> f64 {
        self.bias_hpa
    }

    /// Drift since it was made, hPa.
    #[must_use]
    pub fn drifted_hpa(&self) -> f64 {
        self.drifted_hpa
    }

    /// What goes on whether or not anybody reads: the drift, and the warmth inside.
    pub fn age(&mut self, exposure: &Exposure) {
        self.drifted_hpa += self.drift_hpa_s * exposure.interval_s;
        let warmer = INSIDE_WARMER_K * 0.001 * exposure.global_irradiance_wm2
            / (1.0 + 0.5 * exposure.wind_speed_ms);
        let step = (exposure.interval_s * (1.0 / INSIDE_TIME_CONSTANT_S)).min(1.0);
        self.warmer_k += step * (warmer - self.warmer_k);
    }

    /// The reading at the end of the interval, hPa. The wind is that of the interval's last part.
    pub fn step(&mut self, exposure: &Exposure, noise: f64) -> f64 {
        self.age(exposure);
        let warm = self.hpa_per_k * (exposure.air_temperature_degc + self.warmer_k - 20.0);
        let last = &exposure.wind[WIND_SAMPLES - 1];
        let wind = wind_pressure_hpa(
            last.speed_ms,
            last.from_direction_deg,
            exposure.air_pressure_hpa,
            exposure.air_temperature_degc,
        );
        let own = self.bias_hpa + self.drifted_hpa + warm;
        let signal = exposure.air_pressure_hpa + own + wind + NOISE_HPA * noise;
        nearest(signal * STEPS_PER_HPA) * (1.0 / STEPS_PER_HPA)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::head::testing::{still_air, with_wind};

    #[test]
    fn bias_temperature_and_noise_add_up() {
        let mut air = still_air();
        air.air_pressure_hpa = 1000.0;
        let mut barometer = Barometer::new(0.4);
        assert!((barometer.step(&air, 0.0) - 1000.4).abs() < 1e-9);
        air.air_temperature_degc = -20.0;
        assert!((barometer.step(&air, 0.0) - 1000.2).abs() < 1e-9);
        assert!((barometer.step(&air, 2.0) - 1000.3).abs() < 1e-9);
    }

    #[test]
    fn the_cosine_is_near_enough() {
        for degrees in -180..=180 {
            let exact = libm::cos(f64::from(degrees).to_radians());
            assert!(
                (cosine(f64::from(degrees)) - exact).abs() < 0.002,
                "{degrees}"
            );
        }
    }

    /// 10 m/s at 1.2 kg/m3 are 60 Pa: 0.6 hPa times the coefficient.
    #[test]
    fn wind_on_the_port_reads_high_and_from_behind_low() {
        let on = wind_pressure_hpa(10.0, 180.0, 1013.25, 20.0);
        let behind = wind_pressure_hpa(10.0, 0.0, 1013.25, 20.0);
        let side = wind_pressure_hpa(10.0, 90.0, 1013.25, 20.0);
        assert!((on - 0.602 * 0.07).abs() < 0.001, "{on}");
        assert!((behind + 0.602 * 0.23).abs() < 0.001, "{behind}");
        assert!((side + 0.602 * 0.08).abs() < 0.001, "{side}");
        assert!((wind_pressure_hpa(20.0, 0.0, 1013.25, 20.0) - 4.0 * behind).abs() < 1e-12);
        let mut barometer = Barometer::new(0.0);
        let gale = with_wind(&[25.0; WIND_SAMPLES], 0.0);
        assert!((barometer.step(&gale, 0.0) - 1012.4).abs() < 0.051);
    }

    #[test]
    fn it_drifts_and_warms_in_the_sun() {
        let mut barometer = Barometer::new(0.0).drifting(0.05, 0.3);
        let mut air = still_air();
        air.global_irradiance_wm2 = 1000.0;
        for _ in 0..500 {
            barometer.age(&air);
        }
        assert!((barometer.warmer_k - 8.0).abs() < 0.01);
        assert!((barometer.step(&air, 0.0) - 1013.65).abs() < 0.06);
        air.interval_s = YEAR_S;
        barometer.age(&air);
        assert!((barometer.drifted_hpa() - 0.3).abs() < 0.001);
    }
}
