//! The light sensor and the UV sensor under one dome.

mod dome;

pub use dome::{
    DEW_DIMS, DIRT_PER_DAY, DIRTIEST, Dome, FROST_DIMS, SNOW_DIMS_MM, WASHING_MM, dome_cooler_k,
};

use crate::head::relaxation::nearest;
use crate::site::Exposure;

/// End of the light sensor's range, lx; the wire ends there too (common practice, no source).
pub const RANGE_END_LX: f64 = 200_000.0;
/// End of the UV sensor's range, UV index: above anything seen on the Earth's lowlands (common practice, no
/// source).
pub const RANGE_END_INDEX: f64 = 20.0;
/// Share of the direct light lost at the horizon for want of a perfect cosine response; it fades as the
/// cube of `1 - sin(elevation)`: 2 % at 30 degrees, 9 % at 10 degrees (common practice, no source; good
/// pyranometers keep within 3 % at 10 degrees, WMO-No. 8, Part I, ch. 7, from memory).
pub const COSINE_ERROR: f64 = 0.15;
/// Standard deviation of the noise as a share of the reading (common practice, no source).
pub const NOISE: f64 = 0.003;
/// Standard deviation of the dark offset at 20 degC among sensors, lx (common practice, no source).
pub const DARK_OFFSET_LX: f64 = 1.0;
/// Temperature step that doubles the dark offset, K: dark current of a silicon junction (textbook rule).
pub const DARK_DOUBLES_K: f64 = 10.0;
/// Accuracy of the UV sensor (two standard deviations of its calibration error), share (common practice,
/// no source).
pub const ULTRAVIOLET_ACCURACY: f64 = 0.10;
/// Standard deviation of the UV sensor's noise in the light, UV index (common practice, no source).
pub const ULTRAVIOLET_NOISE: f64 = 0.02;

/// The light and the UV sensor of one head.
#[derive(Debug, Clone)]
pub struct Light {
    gain: f64,
    dark_lx: f64,
    ultraviolet_gain: f64,
    dome: Dome,
}

/// Share of all light that the diffuser passes, for light of which `direct_share` comes from a sun at the
/// sine of elevation `sun_up`; 1 for a perfect cosine response.
#[must_use]
pub fn cosine_response(direct_share: f64, sun_up: f64) -> f64 {
    let low = (1.0 - sun_up).clamp(0.0, 1.0);
    1.0 - direct_share * COSINE_ERROR * low * low * low
}

impl Light {
    /// Sensors that read `gain` and `ultraviolet_gain` times the truth, and `dark_lx` in the dark at 20 degC.
    #[must_use]
    pub fn new(gain: f64, dark_lx: f64, ultraviolet_gain: f64) -> Self {
        Self {
            gain,
            dark_lx,
            ultraviolet_gain,
            dome: Dome::new(),
        }
    }

    /// Calibration of the light sensor: reading over truth.
    #[must_use]
    pub fn gain(&self) -> f64 {
        self.gain
    }

    /// What lies on the dome.
    #[must_use]
    pub fn dome(&self) -> &Dome {
        &self.dome
    }

    /// What goes on whether or not anybody reads: the dome gets dirty, wet and clean.
    pub fn age(&mut self, exposure: &Exposure) {
        self.dome.step(exposure);
    }

    /// Illuminance, lx, and UV index at the end of the interval. `noise`, `ultraviolet_noise`: variates of
    /// deviation 1. In the dark the noise is below a step and the reading is the dark offset.
    pub fn step(&mut self, exposure: &Exposure, noise: f64, ultraviolet_noise: f64) -> (f64, f64) {
        self.age(exposure);
        let response = cosine_response(exposure.direct_share, exposure.sun_up);
        let passed = response * self.dome.passes();
        let signal = exposure.illuminance_lx * passed * self.gain * (1.0 + NOISE * noise)
            + self.dark_lx * self.dome.dark_factor();
        let lit = if exposure.ultraviolet_index > 0.0 {
            ULTRAVIOLET_NOISE
        } else {
            0.0
        };
        let index = exposure.ultraviolet_index * self.dome.passes() * self.ultraviolet_gain
            + lit * ultraviolet_noise;
        (
            nearest(signal.clamp(0.0, RANGE_END_LX)),
            nearest(index.clamp(0.0, RANGE_END_INDEX) * 10.0) * 0.1,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::head::testing::still_air;

    #[test]
    fn gain_dark_offset_and_range() {
        let mut light = Light::new(1.05, -1.4, 0.9);
        let mut air = still_air();
        assert_eq!(light.step(&air, 0.0, 0.0), (0.0, 0.0), "clipped at zero");
        let mut leaky = Light::new(1.0, 2.0, 1.0);
        assert_eq!(leaky.step(&air, 0.0, 0.0).0, 2.0);
        air.illuminance_lx = 40_000.0;
        air.ultraviolet_index = 5.0;
        let (lux, index) = light.step(&air, 0.0, 0.0);
        assert!((lux - 41_998.6).abs() <= 0.5, "{lux}");
        assert!((index - 4.5).abs() < 1e-9);
        air.illuminance_lx = 300_000.0;
        air.ultraviolet_index = 30.0;
        assert_eq!(light.step(&air, 0.0, 0.0), (RANGE_END_LX, RANGE_END_INDEX));
    }

    /// The same dark reading all night whatever the noise, and more of it when it is hot.
    #[test]
    fn a_night_reads_the_dark_offset_and_nothing_else() {
        let mut light = Light::new(1.05, 1.6, 0.9);
        let mut night = still_air();
        for noise in [-3.0, -1.0, 0.0, 2.0, 3.4] {
            assert_eq!(light.step(&night, noise, noise), (2.0, 0.0));
        }
        night.air_temperature_degc = 40.0;
        for _ in 0..40 {
            light.step(&night, 0.0, 0.0);
        }
        assert_eq!(light.step(&night, 0.0, 0.0).0, 6.0, "1.6 lx four times");
        night.air_temperature_degc = -20.0;
        for _ in 0..40 {
            light.step(&night, 0.0, 0.0);
        }
        assert_eq!(light.step(&night, 0.0, 0.0).0, 0.0);
    }

    #[test]
    fn a_low_sun_is_read_too_dark_and_a_grey_sky_is_not() {
        assert_eq!(cosine_response(0.0, 0.1), 1.0);
        assert_eq!(cosine_response(1.0, 1.0), 1.0);
        assert!((cosine_response(1.0, 0.5) - 0.981).abs() < 0.001);
        assert!((cosine_response(1.0, 0.1736) - 0.915).abs() < 0.001);
    }
}
