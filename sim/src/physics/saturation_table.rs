//! Saturation vapour pressure and dew point without an exponential or a logarithm, for what is asked for at
//! every step.

use crate::physics::moist_air::saturation_vapour_pressure_hpa;
use std::sync::LazyLock;

/// Range of the table, degC, and its pieces of 1 K.
const LOWEST_DEGC: f64 = -100.0;
const PIECES: usize = 180;
/// Constants of the formula that the table follows (WMO-No. 8, Part I, Annex 4.B).
const A: f64 = 17.62;
const B_K: f64 = 243.12;

/// Cubic in the part of one kelvin, by piece.
static TABLE: LazyLock<[[f64; 4]; PIECES]> = LazyLock::new(|| {
    let value = |t: f64| saturation_vapour_pressure_hpa(t);
    let slope = |t: f64| value(t) * A * B_K / ((B_K + t) * (B_K + t));
    core::array::from_fn(|i| {
        let from = LOWEST_DEGC + i as f64;
        let (y0, y1) = (value(from), value(from + 1.0));
        let (d0, d1) = (slope(from), slope(from + 1.0));
        [
            y0,
            d0,
            3.0 * (y1 - y0) - 2.0 * d0 - d1,
            2.0 * (y0 - y1) + d0 + d1,
        ]
    })
});

/// Saturation vapour pressure over water, hPa, from the temperature in degC.
///
/// Cubic Hermite pieces of 1 K through
/// [`saturation_vapour_pressure_hpa`] (WMO-No. 8, Part I,
/// Annex 4.B), which it follows within 1e-6 of the value from -60 to 60 degC; outside -100 to 80 degC the
/// formula itself.
#[must_use]
pub fn quick_saturation_hpa(temperature_degc: f64) -> f64 {
    let position = temperature_degc - LOWEST_DEGC;
    if !(0.0..PIECES as f64).contains(&position) {
        return saturation_vapour_pressure_hpa(temperature_degc);
    }
    let piece = position as usize;
    let x = position - piece as f64;
    let [a, b, c, d] = TABLE[piece];
    a + x * (b + x * (c + x * d))
}

/// Dew points of vapour pressures that follow each other closely.
///
/// The inverse of the WMO formula (Part I, Annex 4.B), exact but for the logarithm of the ratio of the pressure
/// to one not far from it, which is a series: within 2e-6 K. Where the pressure has moved by more than a
/// twentieth, the logarithm itself gives a new one to start from.
#[derive(Debug, Clone, Copy)]
pub struct DewPoints {
    /// One over the pressure near which the last ones were, 1/hPa, and the logarithm of that pressure over
    /// the formula's own at 0 degC.
    per_hpa: f64,
    log: f64,
}

impl Default for DewPoints {
    fn default() -> Self {
        Self::about(6.112)
    }
}

impl DewPoints {
    fn about(vapour_pressure_hpa: f64) -> Self {
        Self {
            per_hpa: 1.0 / vapour_pressure_hpa,
            log: libm::log(vapour_pressure_hpa * (1.0 / 6.112)),
        }
    }

    /// Dew point over water, degC, from the vapour pressure in hPa, which must be above 0.
    pub fn dew_point_degc(&mut self, vapour_pressure_hpa: f64) -> f64 {
        let mut x = vapour_pressure_hpa * self.per_hpa - 1.0;
        if x.abs() > 0.05 {
            *self = Self::about(vapour_pressure_hpa);
            x = 0.0;
        }
        let log = self.log + x * (1.0 - x * (0.5 - x * (1.0 / 3.0 - x * 0.25)));
        B_K * log / (A - log)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_follows_the_formula() {
        for i in -6000..6000 {
            let t = f64::from(i) * 0.01 + 0.003;
            let (quick, formula) = (quick_saturation_hpa(t), saturation_vapour_pressure_hpa(t));
            assert!(
                (quick / formula - 1.0).abs() < 1e-6,
                "{t}: {quick} {formula}"
            );
        }
        for t in [-150.0, 95.0] {
            assert_eq!(quick_saturation_hpa(t), saturation_vapour_pressure_hpa(t));
        }
    }

    #[test]
    fn the_dew_point_is_found_near_and_far_from_the_last() {
        let mut points = DewPoints::default();
        for i in -500..400 {
            let last = f64::from(i) * 0.1;
            for away in [-40.0, -3.0, -0.4, 0.0, 0.01, 0.6, 1.7, 5.0] {
                let wanted = last + away;
                points.dew_point_degc(saturation_vapour_pressure_hpa(last));
                let found = points.dew_point_degc(saturation_vapour_pressure_hpa(wanted));
                assert!((found - wanted).abs() < 2e-6, "{last} {wanted}: {found}");
            }
        }
    }
}
