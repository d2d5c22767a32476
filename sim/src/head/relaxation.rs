//! First-order lags, and rounding to a sensor's resolution, without a platform function.

/// `exp(-x)` for `x` of zero or more, to 2e-6 of itself up to `x` = 3 and to 1e-6 absolutely beyond.
///
/// The reciprocal of the exponential series to the sixth power of `x / 8`, raised to the eighth power: it
/// falls from 1 to 0 without a bend, has no branch, and a lag needs no more than its accuracy.
#[must_use]
pub fn decay(x: f64) -> f64 {
    let y = 0.125 * x;
    let square = y * y;
    let low = 1.0 + y;
    let middle = 0.5 + y * (1.0 / 6.0);
    let high = 1.0 / 24.0 + y * (1.0 / 120.0) + square * (1.0 / 720.0);
    let series = low + square * (middle + square * high);
    let second = series * series;
    let fourth = second * second;
    1.0 / (fourth * fourth)
}

/// The whole number nearest to `value` (halves to even), for magnitudes below 2^51.
///
/// Adding and taking away 1.5 * 2^52 leaves no room for a fraction; the arithmetic is exact on every
/// machine and costs two additions.
#[must_use]
pub fn nearest(value: f64) -> f64 {
    const NO_FRACTION: f64 = 6_755_399_441_055_744.0;
    (value + NO_FRACTION) - NO_FRACTION
}

/// An angle or a difference of two bearings brought into -180 to 180 degrees; `degrees` must lie within
/// -540 to 540.
#[must_use]
pub fn half_turn(degrees: f64) -> f64 {
    if degrees > 180.0 {
        degrees - 360.0
    } else if degrees < -180.0 {
        degrees + 360.0
    } else {
        degrees
    }
}

/// The same for any angle below 2^51 turns, without a branch, which angles that jump about would mispredict.
#[must_use]
pub fn shorter_turn(degrees: f64) -> f64 {
    degrees - 360.0 * nearest(degrees * (1.0 / 360.0))
}

/// A bearing brought into 0 to 360 degrees, 360 excluded; `degrees` must lie within -360 to 720.
#[must_use]
pub fn full_turn(degrees: f64) -> f64 {
    let turned = if degrees < 0.0 {
        degrees + 360.0
    } else {
        degrees
    };
    // A bearing a hair below zero rounds up to 360 itself; the second test takes that back to 0.
    if turned >= 360.0 {
        turned - 360.0
    } else {
        turned
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decay_keeps_to_the_exponential() {
        assert_eq!(decay(0.0), 1.0);
        let mut last = 1.0;
        for step in 1..6000 {
            let x = f64::from(step) * 0.005;
            let (approximate, exact) = (decay(x), libm::exp(-x));
            let error = (approximate - exact).abs();
            let allowed = if x <= 3.0 { 2e-6 * exact } else { 1e-6 };
            assert!(error <= allowed, "x {x}: {approximate} for {exact}");
            assert!(approximate < last, "falls at {x}");
            last = approximate;
        }
        assert!(decay(1e9) < 1e-9);
    }

    #[test]
    fn nearest_rounds_both_signs() {
        for (value, whole) in [(0.49, 0.0), (0.51, 1.0), (-2.6, -3.0), (1e9 + 0.4, 1e9)] {
            assert_eq!(nearest(value), whole);
        }
    }

    #[test]
    fn angles_come_back_into_their_turn() {
        assert_eq!(half_turn(190.0), -170.0);
        assert_eq!(half_turn(-190.0), 170.0);
        assert_eq!(half_turn(350.0 - 10.0), -20.0);
        for degrees in [-1000.0, -190.0, -90.0, 0.0, 30.5, 181.0, 355.0, 800.0] {
            let turned = shorter_turn(degrees);
            assert!((-180.0..=180.0).contains(&turned), "{degrees}: {turned}");
            let circles = (degrees - turned) / 360.0;
            assert!((circles - nearest(circles)).abs() < 1e-12);
        }
        assert_eq!(full_turn(-10.0), 350.0);
        assert_eq!(full_turn(360.0), 0.0);
        assert_eq!(full_turn(-1e-20), 0.0);
        assert_eq!(full_turn(719.0), 359.0);
    }
}
