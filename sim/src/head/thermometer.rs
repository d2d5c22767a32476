//! The thermometer in its naturally ventilated shield.

use crate::condition::Condition;
use crate::head::relaxation::{decay, nearest};
use crate::site::Exposure;

/// Radiation error of a shield per unit of short-wave heating over ventilation. Nakamura and Mahrt 2005,
/// J. Atmos. Oceanic Technol. 22, 1046 (coefficient read second-hand); their intercept of 0.13 K is the
/// rest of a fit and is left out. One shield, one grass site.
pub const SHORT_WAVE_COEFFICIENT: f64 = 373.40;
/// The same by night, for the net long-wave irradiance. Same source and caution.
pub const LONG_WAVE_COEFFICIENT: f64 = 355.84;
/// Short-wave gain of this shield when clean, against the one of the source: white plates in good order
/// lie between 0.3 and 1 (common practice, no source).
pub const SHORT_WAVE_GAIN: f64 = 0.5;
/// Global irradiance at which the warm ground below makes up for the sky's long-wave loss above, W/m2: grass some
/// 10 K warmer than the air sends 60 W/m2 more than it would at air temperature (ours; the day's coefficient of
/// the source holds the rest).
pub const LONG_WAVE_BALANCED_WM2: f64 = 300.0;
/// Reflectance of the ground for which the source's coefficient stands: grass.
const REFLECTED_BY_GRASS: f64 = 0.20;
/// Weight of sunlight from below and from the side against that from above: plates shade downwards. With it a
/// shield of gain 1 errs by some 6 K over snow in a calm noon, as Arck and Scherer 2001, Ann. Glaciol. 32, saw
/// (up to 6.2 K).
pub const FROM_BELOW: f64 = 1.5;
/// Share of the sun's beam that gets between the plates when it comes level; none above
/// [`PLATES_SHADE_FROM`]. Field comparisons find the largest errors with a low sun (common practice, no source).
pub const LOW_SUN: f64 = 0.4;
/// Sine of the sun's elevation above which the plates shade each other wholly: 30 degrees.
pub const PLATES_SHADE_FROM: f64 = 0.5;
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
/// Share of the way to the wet bulb that a wholly wet shield in good order takes its sensor: plates drip off and the
/// sensor itself stays dry (common practice, no source).
pub const WET_COOLING: f64 = 0.12;
/// Water that wets the shield wholly, mm.
pub const SHIELD_HOLDS_MM: f64 = 0.08;
/// How fast it dries, mm/h per hPa of saturation deficit and `1 + u / (m/s)`: at 4 hPa and 2 m/s it is gone in
/// eight minutes, at 1 hPa in a calm in an hour and a half (common practice, no source).
pub const SHIELD_DRYING_MM_H_HPA: f64 = 0.05;
/// Share of the airflow that snow and rime between the plates take away at most (common practice, no source).
pub const RIME_BLOCKS: f64 = 0.5;
/// Snowfall that fills the gaps, mm of water, while it is below freezing (common practice, no source).
pub const RIME_FILLS_MM: f64 = 6.0;
/// Time in which fog below freezing fills them, s (common practice, no source).
pub const RIME_FILLS_S: f64 = 6.0 * 3600.0;
/// Time in which they are free again at 3 K above freezing, s (common practice, no source).
pub const RIME_GOES_S: f64 = 1800.0;
/// Standard deviation of the reading's noise, K (common practice, no source).
pub const NOISE_K: f64 = 0.02;
/// Steps of resolution in one kelvin: 0.02 K (common practice, no source).
pub const STEPS_PER_K: f64 = 50.0;

/// Gas constant of dry air over its heat capacity: 287.05 / 1004.67, J/(kg K) each; ISO 2533.
const GAS_CONSTANT_OVER_HEAT_CAPACITY: f64 = 287.05 / 1004.67;

/// Steady error of the shield, K: how much warmer the sensor is than the air.
///
/// `short_wave_wm2`: global irradiance, or [`short_wave_on_shield`]; `net_longwave_wm2` (negative is a loss) in
/// W/m2; `ventilation_ms`: air speed at the sensor, at least [`BLOCKED_SPEED_MS`]; `air_pressure_hpa`; `gain`:
/// short-wave gain.
///
/// Source: Nakamura and Mahrt 2005 with `X = S / (rho cp T u)`; since `rho T = p / R`, the temperature
/// drops out. Day and night form are joined by a weight that takes the long-wave loss out at
/// [`LONG_WAVE_BALANCED_WM2`] (ours); so the error changes its sign in weak sun, where the net radiation does.
/// Validity: their data, 0 to 1000 W/m2 and 0.3 to 8 m/s.
#[must_use]
pub fn shield_error_k(
    short_wave_wm2: f64,
    net_longwave_wm2: f64,
    ventilation_ms: f64,
    air_pressure_hpa: f64,
    gain: f64,
) -> f64 {
    let night = (1.0 - short_wave_wm2 * (1.0 / LONG_WAVE_BALANCED_WM2)).max(0.0);
    let heating = gain * SHORT_WAVE_COEFFICIENT * short_wave_wm2
        + LONG_WAVE_COEFFICIENT * night * net_longwave_wm2;
    heating * GAS_CONSTANT_OVER_HEAT_CAPACITY / (100.0 * air_pressure_hpa * ventilation_ms)
}

/// Sunlight that counts for the shield, W/m2: the global irradiance, what comes from below and beside beyond
/// what grass sends, and the low sun between the plates. Equal to the global irradiance over grass when the sun
/// is high or hidden.
#[must_use]
pub fn short_wave_on_shield(exposure: &Exposure) -> f64 {
    let global = exposure.global_irradiance_wm2;
    let beyond_grass = exposure.reflected_irradiance_wm2 - REFLECTED_BY_GRASS * global;
    let low = (1.0 - exposure.sun_up * (1.0 / PLATES_SHADE_FROM)).clamp(0.0, 1.0);
    let between = LOW_SUN * low * exposure.direct_normal_irradiance_wm2;
    (global + FROM_BELOW * beyond_grass + between).max(0.0)
}

/// How much a blocked shield slows sensors inside: 1 when open, [`BLOCKED_LAG_FACTOR`] when closed.
#[must_use]
pub fn lag_factor(shield_airflow: f64) -> f64 {
    1.0 + (BLOCKED_LAG_FACTOR - 1.0) * (1.0 - shield_airflow)
}

/// The thermometer of one head.
#[derive(Debug, Clone, PartialEq)]
pub struct Thermometer {
    bias_k: f64,
    sensor_degc: f64,
    water_mm: f64,
    /// Share of the gaps between the plates that snow and rime fill, 0 to 1.
    rime: f64,
    started: bool,
}

impl Thermometer {
    /// A thermometer with a calibration error of `bias_k`.
    #[must_use]
    pub fn new(bias_k: f64) -> Self {
        Self {
            bias_k,
            sensor_degc: 0.0,
            water_mm: 0.0,
            rime: 0.0,
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

    /// Share of the gaps between the plates that snow and rime fill, 0 to 1.
    #[must_use]
    pub fn rime(&self) -> f64 {
        self.rime
    }

    /// Water on the shield, mm.
    #[must_use]
    pub fn water_mm(&self) -> f64 {
        self.water_mm
    }

    /// One interval on; the reading at its end, degC. `noise`: variate of deviation 1.
    pub fn step(&mut self, exposure: &Exposure, condition: &Condition, noise: f64) -> f64 {
        let wet_k = self.wet_cooling_k(exposure);
        self.freeze(exposure);
        let airflow = condition.shield_airflow * (1.0 - RIME_BLOCKS * self.rime);
        let speed = exposure.wind_speed_ms.max(CALM_SPEED_MS);
        let error = shield_error_k(
            short_wave_on_shield(exposure),
            exposure.net_longwave_wm2,
            (speed * airflow).max(BLOCKED_SPEED_MS),
            exposure.air_pressure_hpa,
            SHORT_WAVE_GAIN,
        );
        let target = exposure.air_temperature_degc + error - wet_k;
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

    /// How much the wet shield cools its sensor, K. Rain wets it; wind, warmth and dry air dry it.
    fn wet_cooling_k(&mut self, exposure: &Exposure) -> f64 {
        if exposure.rainfall_mm > 0.0 {
            self.water_mm = (self.water_mm + exposure.rainfall_mm).min(SHIELD_HOLDS_MM);
        } else if self.water_mm == 0.0 {
            return 0.0;
        }
        let deficit = exposure.saturation_vapour_pressure_hpa - exposure.vapour_pressure_hpa;
        let drying = SHIELD_DRYING_MM_H_HPA * deficit.max(0.0) * (1.0 + exposure.wind_speed_ms);
        let share = WET_COOLING * self.water_mm * (1.0 / SHIELD_HOLDS_MM);
        self.water_mm = (self.water_mm - drying * exposure.interval_s * (1.0 / 3600.0)).max(0.0);
        let depression = exposure.air_temperature_degc - exposure.wet_bulb_degc;
        share * depression.max(0.0)
    }

    /// Snow and freezing fog grow between the plates and go in the warmth.
    fn freeze(&mut self, exposure: &Exposure) {
        let degc = exposure.air_temperature_degc;
        if degc < 0.0 {
            let fog = exposure.relative_humidity_percent >= 98.0;
            if fog || exposure.snowfall_mm > 0.0 {
                let by_fog = if fog {
                    exposure.interval_s * (1.0 / RIME_FILLS_S)
                } else {
                    0.0
                };
                let grown = exposure.snowfall_mm * (1.0 / RIME_FILLS_MM) + by_fog;
                self.rime = (self.rime + grown).min(1.0);
            }
        }
        if self.rime > 0.0 && self.sensor_degc > 0.0 {
            let gone = exposure.interval_s * self.sensor_degc * (1.0 / (3.0 * RIME_GOES_S));
            self.rime = (self.rime - gone).max(0.0);
        }
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
        sun.reflected_irradiance_wm2 = 160.0;
        sun.sun_up = 0.8;
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

    /// The error is the day's and the night's of the source at the ends, without a jump or a bend downwards between.
    #[test]
    fn day_and_night_join_and_the_sign_changes_where_net_radiation_does() {
        let at = |sun: f64| shield_error_k(sun, -70.0, 1.0, 1013.25, SHORT_WAVE_GAIN);
        let mut last = at(0.0);
        assert!(last < 0.0);
        for step in 1..1000 {
            let now = at(f64::from(step));
            assert!(now > last, "{step}");
            last = now;
        }
        assert!(at(60.0) < 0.0 && at(120.0) > 0.0);
        assert_eq!(
            at(500.0),
            shield_error_k(500.0, 0.0, 1.0, 1013.25, SHORT_WAVE_GAIN)
        );
    }

    #[test]
    fn low_sun_and_snow_below_count_and_grass_under_a_high_sun_does_not() {
        let mut sun = still_air();
        sun.global_irradiance_wm2 = 800.0;
        sun.reflected_irradiance_wm2 = 160.0;
        sun.direct_normal_irradiance_wm2 = 850.0;
        sun.sun_up = 0.8;
        assert_eq!(short_wave_on_shield(&sun), 800.0);
        sun.reflected_irradiance_wm2 = 0.75 * 800.0;
        assert!((short_wave_on_shield(&sun) - 800.0 - 1.5 * 440.0).abs() < 1e-9);
        sun.sun_up = 0.2;
        sun.global_irradiance_wm2 = 180.0;
        sun.reflected_irradiance_wm2 = 36.0;
        sun.direct_normal_irradiance_wm2 = 600.0;
        let low = short_wave_on_shield(&sun);
        assert!((low - 180.0 - 0.4 * 0.6 * 600.0).abs() < 1e-9, "{low}");
    }

    /// After a shower in dry air the sensor lies below the air and above the wet bulb, for some minutes.
    #[test]
    fn a_wet_shield_is_cool_until_it_has_dried() {
        let mut air = still_air();
        air.wind_speed_ms = 2.0;
        let mut thermometer = Thermometer::new(0.0);
        thermometer.step(&air, &Condition::HEALTHY, 0.0);
        air.rainfall_mm = 0.5;
        for _ in 0..60 {
            thermometer.step(&air, &Condition::HEALTHY, 0.0);
        }
        let wet = thermometer.sensor_degc();
        assert!((19.3..19.6).contains(&wet), "{wet}");
        air.rainfall_mm = 0.0;
        let mut minutes = 0.0;
        while thermometer.water_mm() > 0.0 {
            thermometer.step(&air, &Condition::HEALTHY, 0.0);
            minutes += 16.0 / 60.0;
        }
        assert!(
            (2.0..10.0).contains(&minutes),
            "{minutes} min at a deficit of 9 hPa"
        );
        for _ in 0..60 {
            thermometer.step(&air, &Condition::HEALTHY, 0.0);
        }
        assert!((thermometer.sensor_degc() - 20.0).abs() < 0.01);
    }

    #[test]
    fn snow_slows_the_sensor_until_it_has_melted() {
        let mut air = still_air();
        air.air_temperature_degc = -3.0;
        air.wind_speed_ms = 2.0;
        air.snowfall_mm = 0.02;
        let mut thermometer = Thermometer::new(0.0);
        for _ in 0..500 {
            thermometer.step(&air, &Condition::HEALTHY, 0.0);
        }
        assert_eq!(thermometer.rime(), 1.0);
        air.snowfall_mm = 0.0;
        air.air_temperature_degc = 3.0;
        for _ in 0..300 {
            thermometer.step(&air, &Condition::HEALTHY, 0.0);
        }
        assert_eq!(thermometer.rime(), 0.0);
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
