//! Slow random quantities that are fields: they drift along with the wind aloft and fade across it.

use super::super::noise::Curve;
use crate::entropy::{Key, Seed};

/// Where and when a field is looked at: the delay against the reference point, s, and the distance across
/// the drift, km.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Spot {
    pub(crate) delay_s: f64,
    pub(crate) across_km: f64,
}

impl Spot {
    /// Of a point (east, poleward, km) in a drift of `speed_ms` towards a unit vector.
    pub(crate) fn of(point: (f64, f64), towards: (f64, f64), speed_ms: f64) -> Self {
        Self {
            delay_s: 1000.0 * (point.0 * towards.0 + point.1 * towards.1) / speed_ms,
            across_km: point.1 * towards.0 - point.0 * towards.1,
        }
    }
}

/// A random field with mean 0 and standard deviation near 1: frozen along the drift (Taylor 1938), and
/// across it of correlation `cos(distance / width)` up to a quarter wave and zero beyond, by two independent
/// curves mixed.
#[derive(Debug, Clone)]
pub(crate) struct Drift {
    here: Curve,
    aside: Curve,
    width_km: f64,
}

impl Drift {
    /// Of a period in seconds and a width in km.
    pub(crate) fn new(seed: Seed, owner: &str, name: &str, period_s: f64, width_km: f64) -> Self {
        let key: Key = seed.key(owner, name);
        let other = seed.key(owner, &format!("{name} aside"));
        Self {
            here: Curve::new(key, period_s),
            aside: Curve::new(other, period_s),
            width_km,
        }
    }

    pub(crate) fn value(&mut self, time_s: f64, spot: Spot) -> f64 {
        let time_s = time_s - spot.delay_s;
        let here = self.here.value(time_s);
        if spot.across_km == 0.0 {
            return here;
        }
        let quarter = core::f64::consts::FRAC_PI_2;
        let turn = (spot.across_km / self.width_km).clamp(-quarter, quarter);
        let (sine, cosine) = libm::sincos(turn);
        cosine * here + sine * self.aside.value(time_s)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn neighbours_agree_as_far_as_they_are_near() {
        let mut field = Drift::new(Seed(3), "t", "f", 3600.0, 50.0);
        let correlation = |field: &mut Drift, across_km: f64| {
            let n = 40_000;
            let (mut ab, mut aa) = (0.0, 0.0);
            for i in 0..n {
                let t = f64::from(i) * 9000.0;
                let a = field.value(t, Spot::default());
                let spot = Spot {
                    delay_s: 0.0,
                    across_km,
                };
                ab += a * field.value(t, spot);
                aa += a * a;
            }
            ab / aa
        };
        assert!((correlation(&mut field, 5.0) - 0.995).abs() < 0.005);
        assert!((correlation(&mut field, 50.0) - 0.54).abs() < 0.03);
        assert!(correlation(&mut field, 200.0).abs() < 0.03);
    }

    #[test]
    fn a_point_downstream_sees_it_later() {
        let mut field = Drift::new(Seed(3), "t", "f", 3600.0, 50.0);
        let spot = Spot::of((10.0, 0.0), (1.0, 0.0), 10.0);
        assert_eq!(spot.delay_s, 1000.0);
        assert_eq!(
            field.value(5000.0, spot),
            field.value(4000.0, Spot::default())
        );
    }
}
