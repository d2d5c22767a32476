//! The head's own clock, which makes its reporting intervals a little too long or too short.

/// Turn-over temperature of a tuning-fork crystal, degC (from memory).
pub const TURN_OVER_DEGC: f64 = 25.0;
/// Curvature of a tuning-fork crystal's frequency, parts per million and K2 (from memory).
pub const CURVATURE_PPM_PER_K2: f64 = -0.034;

const YEAR_S: f64 = 365.25 * 86_400.0;

/// Frequency error at a temperature, parts per million; positive is fast.
///
/// `ppm_at_turn_over`: error at 25 degC. Source: parabola of tuning-fork crystals (from memory), -40 to
/// 85 degC.
#[must_use]
pub fn error_ppm(ppm_at_turn_over: f64, temperature_degc: f64) -> f64 {
    let off = temperature_degc - TURN_OVER_DEGC;
    ppm_at_turn_over + CURVATURE_PPM_PER_K2 * off * off
}

/// The clock of one head.
#[derive(Debug, Clone)]
pub struct Clock {
    /// Error at 25 degC at the age it has.
    ppm: f64,
    /// Growth of that error in one interval.
    ppm_per_interval: f64,
    interval_us: f64,
    /// What whole microseconds have left over so far, and what the first interval is longer by.
    remainder_us: f64,
}

impl Clock {
    /// A clock with an error of `ppm` at 25 degC that counts intervals of `interval_s`, and neither ages nor starts late.
    #[must_use]
    pub fn new(ppm: f64, interval_s: u16) -> Self {
        Self {
            ppm,
            ppm_per_interval: 0.0,
            interval_us: f64::from(interval_s) * 1e6,
            remainder_us: 0.0,
        }
    }

    /// The same clock with a crystal whose error grows by `ppm_per_year` (3 in the first year and less later, either way, from
    /// memory; here evenly).
    #[must_use]
    pub fn ageing(mut self, ppm_per_year: f64) -> Self {
        self.ppm_per_interval = ppm_per_year * self.interval_us * (1e-6 / YEAR_S);
        self
    }

    /// The same clock, whose first interval is longer by `offset_s`: the head got its cells that much later.
    #[must_use]
    pub fn starting_after(mut self, offset_s: f64) -> Self {
        self.remainder_us += 1e6 * offset_s;
        self
    }

    /// True length of the next interval at this temperature, whole microseconds; fractions are carried on.
    pub fn next_interval_us(&mut self, temperature_degc: f64) -> i64 {
        let error = 1e-6 * error_ppm(self.ppm, temperature_degc);
        self.ppm += self.ppm_per_interval;
        // 1 / (1 + error) to its third power, which is 1e-11 of an interval at most.
        let exact = self.interval_us * (1.0 - error + error * error) + self.remainder_us;
        let whole = exact as i64;
        self.remainder_us = exact - whole as f64;
        whole
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fast_clock_makes_short_intervals_and_fractions_add_up() {
        let mut clock = Clock::new(20.3, 16);
        let total: i64 = (0..100_000).map(|_| clock.next_interval_us(25.0)).sum();
        let exact = 100_000.0 * 16e6 / (1.0 + 20.3e-6);
        assert!((total as f64 - exact).abs() < 2.0, "{total} {exact}");
    }

    /// Arithmetic: 100 ppm are an interval of 16 s in 1.9 days.
    #[test]
    fn frost_slows_a_tuning_fork() {
        assert_eq!(error_ppm(20.0, 25.0), 20.0);
        assert!((error_ppm(20.0, -15.0) + 34.4).abs() < 1e-12);
        let mut clock = Clock::new(0.0, 16);
        let cold: i64 = (0..10_000).map(|_| clock.next_interval_us(-29.233)).sum();
        let days_per_interval = 16.0 / ((cold as f64 / 160e9 - 1.0) * 86_400.0);
        assert!(
            (1.8..1.9).contains(&days_per_interval),
            "{days_per_interval}"
        );
    }

    #[test]
    fn a_crystal_ages_and_a_late_start_stays() {
        let mut clock = Clock::new(0.0, 3600).ageing(3.0).starting_after(7.25);
        let intervals = 8766;
        let total: i64 = (0..intervals).map(|_| clock.next_interval_us(25.0)).sum();
        // 3 ppm after a year are 1.5 ppm over it: 47.3 s early, less the late start.
        let exact = YEAR_S * 1e6 * (1.0 - 1.5e-6) + 7.25e6;
        assert!((total as f64 - exact).abs() < 1e4, "{total} {exact}");
        assert!((error_ppm(clock.ppm, 25.0) - 3.0).abs() < 1e-9);
    }
}
