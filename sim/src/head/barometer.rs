//! The barometer inside the head.

use crate::head::relaxation::nearest;
use crate::site::Exposure;

/// Change of the reading with the temperature of the head, hPa per K away from 20 degC (common practice,
/// no source).
pub const TEMPERATURE_COEFFICIENT_HPA_PER_K: f64 = 0.005;
/// Standard deviation of the reading's noise, hPa (common practice, no source).
pub const NOISE_HPA: f64 = 0.03;
/// Steps of resolution in one hPa (common practice, no source).
pub const STEPS_PER_HPA: f64 = 10.0;

/// The barometer of one head.
#[derive(Debug, Clone)]
pub struct Barometer {
    bias_hpa: f64,
}

impl Barometer {
    /// A barometer with a calibration error of `bias_hpa`.
    #[must_use]
    pub fn new(bias_hpa: f64) -> Self {
        Self { bias_hpa }
    }

    /// Calibration error at 20 degC, hPa.
    #[must_use]
    pub fn bias_hpa(&self) -> f64 {
        self.bias_hpa
    }

    /// The reading at the end of the interval, hPa. The head's inside is taken to be as warm as the air.
    pub fn step(&mut self, exposure: &Exposure, noise: f64) -> f64 {
        let warm = TEMPERATURE_COEFFICIENT_HPA_PER_K * (exposure.air_temperature_degc - 20.0);
        let signal = exposure.air_pressure_hpa + self.bias_hpa + warm + NOISE_HPA * noise;
        nearest(signal * STEPS_PER_HPA) * (1.0 / STEPS_PER_HPA)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::head::testing::still_air;

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
}
