//! Air below precipitating cloud: it is moist before rain reaches the ground.
//!
//! Ahead of rain the moist current that feeds its cloud is already there, and what falls from the cloud first
//! evaporates on its way down (virga): the dew point rises and the air cools a little for hours, and when rain
//! arrives at the ground little is left to evaporate into. The cloud of a cluster of cells is wider than what
//! falls from it, so air is moistened where a cluster passes, whether or not one of its cells hits.

use super::super::noise::smooth_step;
use super::HOUR_S;
use crate::physics::moist_air::{dew_point_degc, saturation_vapour_pressure_hpa};

/// Relative humidity to which the air below precipitating cloud is brought before rain does the rest (the median
/// of wet hours at an open coastal airport is 90 %; common practice, no source).
const HUMIDITY: f64 = 0.84;
/// Time in which that happens, s; in which what is more than that is stirred away with drier air; and in which
/// it is forgotten once the cloud is gone (common practice, no source).
const MOISTENING_S: f64 = 2.0 * HOUR_S;
const STIRRING_S: f64 = 2.0 * HOUR_S;
const FORGETTING_S: f64 = 4.0 * HOUR_S;
/// Share of the moistening that is evaporation of what falls, and so takes heat from the air; the rest comes
/// with the current (common practice, no source).
const EVAPORATED: f64 = 0.3;
/// Fall of temperature, K, by evaporation of 1 hPa of vapour pressure: `0.622 L / (cp p)`.
const COOLING_K_PER_HPA: f64 = 1.55;

/// The cloud of one cluster as it passes the point.
#[derive(Debug, Clone, Copy)]
pub(super) struct Veil {
    /// First, whole, still whole, gone, s.
    times_s: [f64; 4],
    /// How near the point is, 0 to 1, times how closed such cloud is.
    share: f64,
}

impl Veil {
    /// Of a cluster that falls between two instants, with cloud `lead_s` before it.
    pub(super) fn new((from_s, to_s): (f64, f64), lead_s: f64, share: f64) -> Self {
        Self {
            times_s: [
                from_s - lead_s,
                from_s - 0.3 * lead_s,
                to_s,
                to_s + 0.5 * lead_s,
            ],
            share,
        }
    }

    pub(super) fn is_over(&self, time_s: f64) -> bool {
        time_s >= self.times_s[3]
    }

    pub(super) fn at(&self, time_s: f64) -> f64 {
        let [first, whole, still, gone] = self.times_s;
        if time_s <= first || time_s >= gone {
            return 0.0;
        }
        self.share * smooth_step(first, whole, time_s) * (1.0 - smooth_step(still, gone, time_s))
    }
}

/// What precipitating cloud has done to the air mass so far.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Moistened {
    moist_hpa: f64,
    cool_k: f64,
}

impl Moistened {
    /// Temperature and dew point of the air mass, degC, after `seconds` below cloud that precipitates from a
    /// share of the sky; `near` is the air near the ground before (degC, hPa).
    pub(crate) fn step(
        &mut self,
        seconds: f64,
        share: f64,
        near: (f64, f64),
        (temperature_degc, dew_point_degc_before): (f64, f64),
    ) -> (f64, f64) {
        let forgotten = seconds * (1.0 - share) / FORGETTING_S;
        self.moist_hpa /= 1.0 + forgotten;
        self.cool_k /= 1.0 + forgotten;
        let room = HUMIDITY * saturation_vapour_pressure_hpa(near.0) - near.1;
        if room > 0.0 {
            let pace = share * seconds / MOISTENING_S;
            let taken = room * pace / (1.0 + pace);
            self.moist_hpa += taken;
            self.cool_k += EVAPORATED * COOLING_K_PER_HPA * taken;
        } else {
            let pace = seconds / STIRRING_S;
            self.moist_hpa = (self.moist_hpa + room * pace / (1.0 + pace)).max(0.0);
        }
        if self.moist_hpa < 1e-3 {
            return (temperature_degc, dew_point_degc_before);
        }
        let cooler = temperature_degc - self.cool_k;
        let vapour = saturation_vapour_pressure_hpa(dew_point_degc_before) + self.moist_hpa;
        let most = 0.97 * saturation_vapour_pressure_hpa(cooler);
        (cooler, dew_point_degc(vapour.min(most)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_air_is_moist_before_the_rain_and_forgets_it_after() {
        let veil = Veil::new((10.0 * HOUR_S, 12.0 * HOUR_S), 4.0 * HOUR_S, 1.0);
        assert_eq!(veil.at(6.0 * HOUR_S), 0.0);
        assert_eq!(veil.at(11.0 * HOUR_S), 1.0);
        assert!(veil.is_over(14.0 * HOUR_S));
        let mass = (15.0, 7.0);
        let mut air = Moistened::default();
        let mut now = mass;
        let mut at = |hours: std::ops::Range<i32>| {
            for n in hours.start * 6..hours.end * 6 {
                let near = (now.0, saturation_vapour_pressure_hpa(now.1));
                now = air.step(600.0, veil.at(f64::from(n) * 600.0), near, mass);
            }
            now
        };
        let before = at(0..6);
        assert_eq!(before, mass);
        let onset = at(6..10);
        // A third of the way by cooling, the rest by vapour.
        assert!(
            onset.0 - onset.1 < 4.0 && onset.1 > 9.5 && onset.0 < 14.7,
            "{onset:?}"
        );
        let day_after = at(10..40);
        assert!((day_after.1 - mass.1).abs() < 0.3, "{day_after:?}");
    }
}
