//! Saturation vapour pressure and dew point without an exponential or a logarithm, for what is asked for at
//! every step.

use crate::physics::moist_air::{dew_point_degc, saturation_vapour_pressure_hpa};
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
/// [`saturation_vapour_pressure_hpa`](super::moist_air::saturation_vapour_pressure_hpa) (WMO-No. 8, Part I,
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

/// Dew point over water, degC, from the vapour pressure in hPa (above 0) and a dew point near it, such as the
/// last one.
///
/// The inverse of the WMO formula, exact but for the logarithm of the ratio of the pressure to saturation at
/// the near dew point, which is a series: within 1e-5 K wherever the ratio is within a fifth of 1; beyond
/// that the logarithm itself.
#[must_use]
pub fn dew_point_near_degc(vapour_pressure_hpa: f64, near_degc: f64) -> f64 {
    let ratio = vapour_pressure_hpa / quick_saturation_hpa(near_degc);
    if !(0.8..1.25).contains(&ratio) {
        return dew_point_degc(vapour_pressure_hpa);
    }
    let s = (ratio - 1.0) / (ratio + 1.0);
    let square = s * s;
    let step = 2.0 * s * (1.0 + square * (1.0 / 3.0 + square * (1.0 / 5.0)));
    let log = A * near_degc / (B_K + near_degc) + step;
    B_K * log / (A - log)
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
    fn the_dew_point_is_found_from_near_and_from_far() {
        for i in -50..40 {
            let near = f64::from(i);
            for away in [-40.0, -3.0, -0.4, 0.0, 0.01, 1.7, 5.0] {
                let wanted = near + away;
                let vapour = saturation_vapour_pressure_hpa(wanted);
                let found = dew_point_near_degc(vapour, near);
                assert!((found - wanted).abs() < 1e-5, "{near} {wanted}: {found}");
            }
        }
    }
}
