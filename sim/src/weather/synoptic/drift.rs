//! Slow random quantities that are fields: they drift along with the wind aloft and fade across it.

use super::super::noise::Curve;
use crate::entropy::{Key, Seed};

/// Where and when a field is looked at: the delay against the reference point, s, and the distances along
/// and across the drift, km.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Spot {
    pub(crate) delay_s: f64,
    pub(crate) along_km: f64,
    pub(crate) across_km: f64,
}

impl Spot {
    /// Of a point (east, poleward, km) in a drift of `speed_ms` towards a unit vector.
    pub(crate) fn of(point: (f64, f64), towards: (f64, f64), speed_ms: f64) -> Self {
        let along_km = point.0 * towards.0 + point.1 * towards.1;
        Self {
            delay_s: 1000.0 * along_km / speed_ms,
            along_km,
            across_km: point.1 * towards.0 - point.0 * towards.1,
        }
    }
}

/// Distance along the drift in which a field changes as much as over one kilometre across it, km: what is carried
/// along lives for some times its own passage (common practice, no source; frozen fields are the limit, Taylor 1938).
const FROZEN: f64 = 1.5;

/// A random field with mean 0 and standard deviation near 1: carried along the drift, and of correlation
/// `cos(distance / width)` up to a quarter wave and zero beyond, both across the drift and, [`FROZEN`] times
/// wider, along it; by independent curves mixed.
#[derive(Debug, Clone)]
pub(crate) struct Drift {
    here: Curve,
    aside: Curve,
    fresh: Curve,
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
            fresh: Curve::new(seed.key(owner, &format!("{name} fresh")), period_s),
            width_km,
        }
    }

    pub(crate) fn value(&mut self, time_s: f64, spot: Spot) -> f64 {
        let time_s = time_s - spot.delay_s;
        let here = self.here.value(time_s);
        if spot.across_km == 0.0 && spot.along_km == 0.0 {
            return here;
        }
        let quarter = core::f64::consts::FRAC_PI_2;
        let mixed = |km: f64| libm::sincos((km / self.width_km).clamp(-quarter, quarter));
        let (across, beside) = (mixed(spot.across_km), self.aside.value(time_s));
        let (along, later) = (mixed(spot.along_km / FROZEN), self.fresh.value(time_s));
        along.1 * (across.1 * here + across.0 * beside) + along.0 * later
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
                    across_km,
                    ..Spot::default()
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
        let (mut ab, mut aa) = (0.0, 0.0);
        for i in 0..20_000 {
            let t = f64::from(i) * 9000.0;
            let here = field.value(t, Spot::default());
            ab += here * field.value(t + 1000.0, spot);
            aa += here * here;
        }
        // cos(10 / (1.5 * 50)).
        assert!((ab / aa - 0.991).abs() < 0.005, "{}", ab / aa);
    }
}
