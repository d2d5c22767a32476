//! The noise of the sensors: drawn once a step and used by the twin and by the actual head alike.

use crate::entropy::{Seed, Stream};

/// The variates of one step, each with mean 0 and standard deviation 1.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Noise {
    /// For the thermometer.
    pub temperature: f64,
    /// For the hygrometer.
    pub humidity: f64,
    /// For the barometer.
    pub pressure: f64,
    /// For the flutter of the vane in gusts shorter than one wind sample.
    pub flutter: f64,
    /// For the vane's position sensor.
    pub position: f64,
    /// For the light sensor.
    pub light: f64,
    /// For the UV sensor.
    pub ultraviolet: f64,
}

/// Where the noise comes from: one stream a sensor, so that a further draw in one shifts no other.
#[derive(Debug, Clone)]
pub struct NoiseSource {
    temperature: Stream,
    humidity: Stream,
    pressure: Stream,
    vane: Stream,
    light: Stream,
    ultraviolet: Stream,
}

impl NoiseSource {
    /// The noise of one station.
    #[must_use]
    pub fn new(seed: Seed, station: &str) -> Self {
        Self {
            temperature: seed.stream(station, "thermometer"),
            humidity: seed.stream(station, "hygrometer"),
            pressure: seed.stream(station, "barometer"),
            vane: seed.stream(station, "vane"),
            light: seed.stream(station, "light"),
            ultraviolet: seed.stream(station, "ultraviolet"),
        }
    }

    /// The variates of the next step; always the same number of draws.
    pub fn draw(&mut self) -> Noise {
        Noise {
            temperature: bell(self.temperature.bits()),
            humidity: bell(self.humidity.bits()),
            pressure: bell(self.pressure.bits()),
            flutter: bell(self.vane.bits()),
            position: bell(self.vane.bits()),
            light: bell(self.light.bits()),
            ultraviolet: bell(self.ultraviolet.bits()),
        }
    }
}

/// A nearly normal variate from 64 uniform bits: the sum of their four 16-bit parts (Irwin-Hall law),
/// scaled to mean 0 and standard deviation 1; it ends at 3.46 standard deviations.
///
/// Electronic noise of a few steps of resolution needs no better tails, and this costs a tenth of a
/// logarithm and a cosine.
#[must_use]
pub fn bell(bits: u64) -> f64 {
    const MEAN: f64 = 2.0 * 65535.0;
    // Variance of one part: (65536^2 - 1) / 12; of four: a third of 65536^2 - 1.
    const PER_DEVIATION: f64 = 1.0 / 37_837.227_237_206_48;
    let parts = (bits & 0xFFFF) + (bits >> 16 & 0xFFFF) + (bits >> 32 & 0xFFFF) + (bits >> 48);
    (parts as f64 - MEAN) * PER_DEVIATION
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bell_has_mean_zero_deviation_one_and_ends() {
        let exact = libm::sqrt((65536.0_f64 * 65536.0 - 1.0) / 3.0);
        assert!((bell(u64::MAX) - 131_070.0 / exact).abs() < 1e-12);
        assert_eq!(bell(0), -bell(u64::MAX));
        let mut stream = Seed(1).stream("test", "bell");
        let (mut sum, mut squares, mut beyond_two) = (0.0, 0.0, 0);
        let count = 200_000;
        for _ in 0..count {
            let value = bell(stream.bits());
            sum += value;
            squares += value * value;
            beyond_two += i32::from(value.abs() > 2.0);
        }
        let n = f64::from(count);
        assert!((sum / n).abs() < 0.01, "{}", sum / n);
        assert!((squares / n - 1.0).abs() < 0.01, "{}", squares / n);
        // The normal law leaves 4.6 % beyond two deviations; four parts come near it.
        let share = f64::from(beyond_two) / n;
        assert!((0.040..0.046).contains(&share), "{share}");
    }

    #[test]
    fn streams_differ_between_sensors_and_stations() {
        let one = NoiseSource::new(Seed(7), "a").draw();
        let other = NoiseSource::new(Seed(7), "b").draw();
        assert_eq!(one, NoiseSource::new(Seed(7), "a").draw());
        assert_ne!(one.temperature, other.temperature);
        assert_ne!(one.temperature, one.humidity);
    }
}
