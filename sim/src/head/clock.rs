//! The head's own clock, which makes its reporting intervals a little too long or too short.

/// Turn-over temperature of a tuning-fork crystal, degC (from memory).
pub const TURN_OVER_DEGC: f64 = 25.0;
/// Curvature of a tuning-fork crystal's frequency, parts per million and K2 (from memory).
pub const CURVATURE_PPM_PER_K2: f64 = -0.035;

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
    ppm: f64,
    interval_us: f64,
    /// What whole microseconds have left over so far.
    remainder_us: f64,
}

impl Clock {
    /// A clock with an error of `ppm` at 25 degC that counts intervals of `interval_s`.
    #[must_use]
    pub fn new(ppm: f64, interval_s: u16) -> Self {
        Self {
            ppm,
            interval_us: f64::from(interval_s) * 1e6,
            remainder_us: 0.0,
        }
    }

    /// True length of the next interval at this temperature, whole microseconds; fractions are carried on.
    pub fn next_interval_us(&mut self, temperature_degc: f64) -> i64 {
        let error = 1e-6 * error_ppm(self.ppm, temperature_degc);
        let exact = self.interval_us / (1.0 + error) + self.remainder_us;
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

    /// Arithmetic of the catalogue: 10 to 100 ppm are an interval of 16 s in 18.5 to 1.9 days.
    #[test]
    fn frost_slows_a_tuning_fork() {
        assert_eq!(error_ppm(20.0, 25.0), 20.0);
        assert!((error_ppm(20.0, -15.0) + 36.0).abs() < 1e-12);
        let mut clock = Clock::new(0.0, 16);
        let cold: i64 = (0..10_000).map(|_| clock.next_interval_us(-28.45)).sum();
        let days_per_interval = 16.0 / ((cold as f64 / 160e9 - 1.0) * 86_400.0);
        assert!(
            (1.8..1.9).contains(&days_per_interval),
            "{days_per_interval}"
        );
    }
}
