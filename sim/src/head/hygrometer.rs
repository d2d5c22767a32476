//! The hygrometer: a capacitive element in the same shield as the thermometer.

use crate::condition::Condition;
use crate::head::relaxation::{decay, nearest};
use crate::head::thermometer::lag_factor;
use crate::site::Exposure;

/// Time constant of the element behind its filter at 20 degC, s (common practice, no source).
pub const TIME_CONSTANT_S: f64 = 20.0;
/// Part of it that is the polymer's own, s; the rest is the filter's.
pub const ELEMENT_TIME_CONSTANT_S: f64 = 5.0;
/// How much slower the polymer gets per kelvin of cold: ten times over some 40 K, as thin-film elements on
/// soundings do (order of Miloshevich et al. 2004, J. Atmos. Oceanic Technol. 21, 1305, from memory).
pub const SLOWER_PER_K: f64 = 0.06;
/// Standard deviation of the drift among elements, percent per year at 100 % (common practice: makers state
/// less than 0.25 to 0.5 % a year; no source).
pub const DRIFT_PERCENT_PER_YEAR: f64 = 0.25;
/// How much an element reads too high after long damp, percent at saturation: makers warn of up to 3 % beyond
/// 80 % (common practice, no source).
pub const SWELLING_PERCENT: f64 = 1.5;
/// Relative humidity above which it swells, percent (common practice, no source).
pub const SWELLING_FROM_PERCENT: f64 = 80.0;
/// Time constant of swelling and of its recovery, s (common practice, no source).
pub const SWELLING_S: f64 = 6.0 * 3600.0;
/// Water that condenses in the filter in saturated air at most, um (common practice, no source).
pub const FILTER_HOLDS_UM: f64 = 1.0;
/// Time in which it does, s (common practice, no source).
pub const FILTER_FILLS_S: f64 = 1800.0;
/// Depth from which the filter holds its air saturated, um (common practice, no source).
pub const FILTER_SATURATES_UM: f64 = 0.3;
/// Half width of the hysteresis loop, percent (common practice, no source).
pub const HYSTERESIS_PERCENT: f64 = 1.0;
/// Standard deviation of the reading's noise, percent (common practice, no source).
pub const NOISE_PERCENT: f64 = 0.15;
/// Steps of resolution in one percent (common practice, no source).
pub const STEPS_PER_PERCENT: f64 = 10.0;
/// Relative humidity above which a dirty element gathers water, percent: salty dirt does so well below
/// saturation (common practice, no source).
pub const WETTING_PERCENT: f64 = 90.0;
/// Depth of the film when it covers the whole element, um (common practice, no source).
pub const FILM_DEPTH_UM: f64 = 90.0;
/// Time in which the film fills, s (common practice, no source).
pub const FILM_FILLING_S: f64 = 600.0;
/// How fast the film dries behind the filter, um per hour and hPa of saturation deficit: about a tenth of
/// an open water surface, so that the deepest film holds for 12 h at 5 hPa (common practice, no source).
pub const FILM_DRYING_UM_PER_H_HPA: f64 = 1.5;

/// Saturation vapour pressure over water at `air_degc` over that at `sensor_degc`: what relative humidity is
/// multiplied with when the same air is felt at the sensor's temperature.
///
/// Source: ratio of the formula of WMO-No. 8, Part I, Annex 4.B, -45 to 60 degC. For differences up to some
/// 10 K the exponential and the quotient in it are series, within 2e-5 of the formula, so that nothing
/// waits for a division; beyond, the formula itself is used.
#[must_use]
pub fn saturation_ratio(air_degc: f64, sensor_degc: f64) -> f64 {
    let inverse = 1.0 / (243.12 + air_degc);
    let relative = (sensor_degc - air_degc) * inverse;
    let slope = 17.62 * 243.12 * inverse;
    if (slope * relative).abs() > 0.8 {
        return libm::exp(-slope * relative / (1.0 + relative));
    }
    let square = relative * relative;
    // 1 / (1 + r) = (1 - r) (1 + r^2 + ...)
    let x = -slope * relative * ((1.0 - relative) * (1.0 + square));
    let x2 = x * x;
    let low = (1.0 + x) + x2 * (0.5 + x * (1.0 / 6.0));
    let high = (1.0 / 24.0 + x * (1.0 / 120.0)) + x2 * (1.0 / 720.0 + x * (1.0 / 5040.0));
    low + x2 * x2 * high
}

/// How strongly a film of this share pulls the reading to 100 %: 0 to 1.
///
/// Water's permittivity is some twenty times the polymer's, so half a film already rules the element; the
/// shape `1 - (1 - share)^4` says so (common practice, no source).
#[must_use]
pub fn film_pull(share: f64) -> f64 {
    let dry = 1.0 - share;
    let squared = dry * dry;
    1.0 - squared * squared
}

/// The hygrometer of one head.
#[derive(Debug, Clone, PartialEq)]
pub struct Hygrometer {
    bias_percent: f64,
    /// Change of the reading at 100 %, percent per second.
    drift_percent_s: f64,
    /// Drift so far, percent at 100 %.
    drifted_percent: f64,
    swollen_percent: f64,
    filter_um: f64,
    lagged_percent: f64,
    held_percent: f64,
    film_um: f64,
    lag: Lag,
    started: bool,
}

/// Time constant of element and filter at a temperature, s.
///
/// The filter's part stays, the polymer's grows exponentially in the cold ([`SLOWER_PER_K`]); -60 to 60 degC.
#[must_use]
pub fn time_constant_s(degc: f64) -> f64 {
    let colder = 20.0 - degc.clamp(-60.0, 60.0);
    TIME_CONSTANT_S - ELEMENT_TIME_CONSTANT_S
        + ELEMENT_TIME_CONSTANT_S * libm::exp(SLOWER_PER_K * colder)
}

/// What is left of a difference after one interval, kept while neither the interval nor the airflow nor the whole
/// degree of temperature changes: intervals are told apart to a millisecond, which the drift of the head's
/// clock does not reach.
#[derive(Debug, Clone, PartialEq)]
struct Lag {
    milliseconds: f64,
    airflow: f64,
    degc: f64,
    rest: f64,
}

impl Lag {
    fn rest(&mut self, interval_s: f64, airflow: f64, degc: f64) -> f64 {
        let milliseconds = nearest(1000.0 * interval_s);
        let off = (degc - self.degc).abs();
        if milliseconds != self.milliseconds || airflow != self.airflow || off > 0.75 {
            let degc = nearest(degc);
            let time_constants =
                0.001 * milliseconds / (time_constant_s(degc) * lag_factor(airflow));
            *self = Self {
                milliseconds,
                airflow,
                degc,
                rest: decay(time_constants),
            };
        }
        self.rest
    }
}

impl Hygrometer {
    /// A hygrometer with a calibration error of `bias_percent`.
    #[must_use]
    pub fn new(bias_percent: f64) -> Self {
        Self {
            bias_percent,
            drift_percent_s: 0.0,
            drifted_percent: 0.0,
            swollen_percent: 0.0,
            filter_um: 0.0,
            lagged_percent: 0.0,
            held_percent: 0.0,
            film_um: 0.0,
            lag: Lag {
                milliseconds: 0.0,
                airflow: 1.0,
                degc: 20.0,
                rest: 1.0,
            },
            started: false,
        }
    }

    /// The same hygrometer with a drift, percent per year at 100 % and in proportion below.
    #[must_use]
    pub fn drifting(mut self, percent_per_year: f64) -> Self {
        self.drift_percent_s = percent_per_year * (1.0 / (365.25 * 86_400.0));
        self
    }

    /// Drift since it was made, percent at 100 %.
    #[must_use]
    pub fn drifted_percent(&self) -> f64 {
        self.drifted_percent
    }

    /// How much long damp makes it read too high now, percent.
    #[must_use]
    pub fn swollen_percent(&self) -> f64 {
        self.swollen_percent
    }

    /// Calibration error, percent.
    #[must_use]
    pub fn bias_percent(&self) -> f64 {
        self.bias_percent
    }

    /// Depth of the water film, um.
    #[must_use]
    pub fn film_um(&self) -> f64 {
        self.film_um
    }

    /// One interval on; the reading at its end, percent. `sensor_degc`: temperature of the element, that is
    /// of the thermometer beside it; vapour pressure, and so the dew point, is that of the air.
    pub fn step(
        &mut self,
        exposure: &Exposure,
        sensor_degc: f64,
        condition: &Condition,
        noise: f64,
    ) -> f64 {
        let ratio = saturation_ratio(exposure.air_temperature_degc, sensor_degc);
        let at_element = exposure.relative_humidity_percent * ratio;
        let surrounding = if at_element < 100.0 {
            at_element
        } else {
            100.0
        };
        let surrounding = self.behind_filter(surrounding, exposure);
        if !self.started {
            self.started = true;
            self.lagged_percent = surrounding;
            self.held_percent = surrounding;
        }
        let rest = self
            .lag
            .rest(exposure.interval_s, condition.shield_airflow, sensor_degc);
        self.lagged_percent = surrounding + (self.lagged_percent - surrounding) * rest;
        // A play operator: the element follows only when its input has crossed the width of the loop.
        self.held_percent = self
            .held_percent
            .max(self.lagged_percent - HYSTERESIS_PERCENT)
            .min(self.lagged_percent + HYSTERESIS_PERCENT);
        let pull = self.film(condition.hygrometer_film, surrounding, exposure);
        let element = self.held_percent + (100.0 - self.held_percent) * pull;
        let share_of_bias = 1.0 - pull;
        let own = self.bias_percent + self.slow(exposure.interval_s);
        let signal = element + own * share_of_bias + NOISE_PERCENT * noise;
        nearest(signal.clamp(0.0, 100.0) * STEPS_PER_PERCENT) * (1.0 / STEPS_PER_PERCENT)
    }

    /// Drift and swelling, percent: what changes over hours and years.
    fn slow(&mut self, interval_s: f64) -> f64 {
        self.drifted_percent += self.drift_percent_s * interval_s;
        let damp = (self.lagged_percent - SWELLING_FROM_PERCENT)
            * (SWELLING_PERCENT / (100.0 - SWELLING_FROM_PERCENT));
        let step = (interval_s * (1.0 / SWELLING_S)).min(1.0);
        self.swollen_percent += step * (damp.max(0.0) - self.swollen_percent);
        self.drifted_percent * (0.01 * self.lagged_percent) + self.swollen_percent
    }

    /// Humidity in the filter, percent: water that condensed there in fog keeps it saturated for a while.
    fn behind_filter(&mut self, surrounding: f64, exposure: &Exposure) -> f64 {
        if surrounding >= 99.5 {
            let grown = exposure.interval_s * (FILTER_HOLDS_UM / FILTER_FILLS_S);
            self.filter_um = (self.filter_um + grown).min(FILTER_HOLDS_UM);
            return surrounding;
        }
        if self.filter_um == 0.0 {
            return surrounding;
        }
        let deficit = exposure.vapour_pressure_hpa * (100.0 / surrounding.max(1.0) - 1.0);
        let dried = FILM_DRYING_UM_PER_H_HPA * deficit * exposure.interval_s * (1.0 / 3600.0);
        self.filter_um = (self.filter_um - dried).max(0.0);
        let wet = (self.filter_um * (1.0 / FILTER_SATURATES_UM)).min(1.0);
        surrounding + (100.0 - surrounding) * wet
    }

    /// The film grows in damp air and dries with the saturation deficit; how strongly it pulls now.
    fn film(&mut self, share: f64, surrounding: f64, exposure: &Exposure) -> f64 {
        let deepest = FILM_DEPTH_UM * share;
        if deepest <= 0.0 {
            self.film_um = 0.0;
            return 0.0;
        }
        if surrounding >= WETTING_PERCENT {
            self.film_um += deepest * exposure.interval_s / FILM_FILLING_S;
        } else if self.film_um > 0.0 {
            // Vapour pressure over relative humidity is the saturation at the element.
            let saturation = 100.0 * exposure.vapour_pressure_hpa / surrounding.max(1.0);
            let deficit = saturation - exposure.vapour_pressure_hpa;
            let drying = FILM_DRYING_UM_PER_H_HPA * deficit.max(0.0);
            self.film_um = (self.film_um - drying * exposure.interval_s / 3600.0).max(0.0);
        }
        self.film_um = self.film_um.min(deepest);
        // The last tenth of the film breaks up into spots.
        film_pull(share) * (self.film_um / (0.1 * deepest)).min(1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::head::testing::still_air;
    use crate::physics::moist_air::saturation_vapour_pressure_hpa;

    fn at(relative_humidity: f64) -> Exposure {
        let mut air = still_air();
        air.vapour_pressure_hpa = 0.01 * relative_humidity * air.saturation_vapour_pressure_hpa;
        air.relative_humidity_percent = relative_humidity;
        air
    }

    fn run(hygrometer: &mut Hygrometer, air: &Exposure, condition: &Condition, steps: u32) -> f64 {
        let mut last = 0.0;
        for _ in 0..steps {
            last = hygrometer.step(air, air.air_temperature_degc, condition, 0.0);
        }
        last
    }

    #[test]
    fn the_ratio_of_saturation_pressures_keeps_to_the_formula() {
        for air in [-30.0, -5.0, 10.0, 35.0] {
            let from = saturation_vapour_pressure_hpa(air);
            for (difference, allowed) in [
                (-20.0, 1e-12),
                (-8.0, 2e-5),
                (-2.0, 1e-7),
                (0.0, 1e-15),
                (2.0, 1e-7),
                (10.0, 2e-5),
            ] {
                let got = saturation_ratio(air, air + difference);
                let error = got * saturation_vapour_pressure_hpa(air + difference) / from - 1.0;
                assert!(error.abs() <= allowed, "{air} {difference}: {error}");
            }
        }
    }

    /// A warm element in the same vapour reads drier: 20 degC and 50 % are 37.0 % at 25 degC.
    #[test]
    fn humidity_is_told_at_the_elements_own_temperature() {
        let mut hygrometer = Hygrometer::new(0.0);
        let reading = hygrometer.step(&at(50.0), 25.0, &Condition::HEALTHY, 0.0);
        let expected =
            50.0 * saturation_vapour_pressure_hpa(20.0) / saturation_vapour_pressure_hpa(25.0);
        assert!((expected - 36.9).abs() < 0.2);
        assert!(
            (reading - expected).abs() <= 0.06,
            "{reading} for {expected}"
        );
    }

    #[test]
    fn rising_and_falling_humidity_differ_by_the_loop() {
        let mut hygrometer = Hygrometer::new(0.0);
        run(&mut hygrometer, &at(20.0), &Condition::HEALTHY, 50);
        let rising = run(&mut hygrometer, &at(60.0), &Condition::HEALTHY, 50);
        run(&mut hygrometer, &at(95.0), &Condition::HEALTHY, 50);
        let falling = run(&mut hygrometer, &at(60.0), &Condition::HEALTHY, 50);
        assert!((rising - 59.0).abs() < 0.06, "{rising}");
        assert!((falling - 61.0).abs() < 0.06, "{falling}");
        // A small excursion inside the loop moves nothing.
        let held = run(&mut hygrometer, &at(61.5), &Condition::HEALTHY, 50);
        assert_eq!(held, falling);
    }

    #[test]
    fn a_step_of_humidity_is_followed_with_the_time_constant() {
        let mut hygrometer = Hygrometer::new(0.0);
        run(&mut hygrometer, &at(30.0), &Condition::HEALTHY, 5);
        run(&mut hygrometer, &at(80.0), &Condition::HEALTHY, 2);
        let expected = 80.0 - 50.0 * libm::exp(-32.0 / TIME_CONSTANT_S);
        assert!((hygrometer.lagged_percent - expected).abs() < 1e-3);
    }

    #[test]
    fn a_film_holds_the_reading_up_for_hours_and_the_thicker_the_longer() {
        let mut lengths: Vec<f64> = Vec::new();
        for share in [0.25, 0.5, 0.75, 1.0] {
            let film = Condition {
                hygrometer_film: share,
                ..Condition::HEALTHY
            };
            let mut hygrometer = Hygrometer::new(-3.0);
            run(&mut hygrometer, &at(98.0), &film, 100);
            let mut hours = 0.0;
            let dry = at(60.0);
            while run(&mut hygrometer, &dry, &film, 1) > 65.0 {
                hours += 16.0 / 3600.0;
                assert!(hours < 48.0);
            }
            lengths.push(hours);
            if share > 0.7 {
                let mut fresh = Hygrometer::new(-3.0);
                run(&mut fresh, &at(98.0), &film, 100);
                let reading = run(&mut fresh, &dry, &film, 225);
                assert!(reading >= 98.0, "an hour into dry air: {reading}");
            }
        }
        assert!(
            lengths.windows(2).all(|pair| pair[1] > pair[0]),
            "{lengths:?}"
        );
        // 9.3 hPa of deficit dry 90 um in 6.4 h.
        assert!((lengths[3] - 6.4).abs() < 0.3, "{lengths:?}");
    }

    #[test]
    fn a_film_needs_damp_air_to_form_and_goes_when_it_is_wiped_off() {
        let film = Condition {
            hygrometer_film: 1.0,
            ..Condition::HEALTHY
        };
        let (mut dirty, mut clean) = (Hygrometer::new(1.0), Hygrometer::new(1.0));
        let dry = at(55.0);
        for _ in 0..100 {
            let a = dirty.step(&dry, 20.0, &film, 0.4);
            let b = clean.step(&dry, 20.0, &Condition::HEALTHY, 0.4);
            assert_eq!(a.to_bits(), b.to_bits(), "no effect while it is dry");
        }
        assert_eq!(run(&mut dirty, &at(99.0), &film, 100), 100.0);
        let wiped = run(&mut dirty, &dry, &Condition::HEALTHY, 50);
        assert!(wiped < 60.0, "{wiped}");
    }
}
