//! What hangs on a low: fronts, with the trough they lie in, their air masses and their sheets of cloud.

use super::super::noise::smooth_step;
use super::field::{HOUR_S, Jet};
use super::system::System;
use super::{Air, Setting};

/// Rounding of the kink of pressure at a front, km.
const KINK_KM: f64 = 8.0;

impl System {
    /// Hours since the cold front at a point of the plane.
    pub(crate) fn hours(&self, time_s: f64, x_km: f64, y_km: f64) -> f64 {
        (time_s - self.front_s - self.lag_at(x_km, y_km) * 1.0) * (1.0 / HOUR_S)
    }

    /// Adds the trough in which the cold front lies: a kink of pressure along the line, which turns the wind.
    pub(crate) fn add_trough(&self, hours: f64, jet: &mut Jet) {
        if self.trough_hpa == 0.0 {
            return;
        }
        // Distance behind the line, km, and the unit vector that points ahead of it.
        let slope = self.slope * self.frontal;
        let steep = (1.0 + slope * slope).sqrt();
        let behind = 3.6 * self.speed_ms * hours / steep;
        if behind.abs() > 6.0 * self.trough_km {
            return;
        }
        let (c, s) = self.heading;
        let ahead = ((c + s * slope) / steep, (s - c * slope) / steep);
        let distance = (behind * behind + KINK_KM * KINK_KM).sqrt();
        let k = 1.0 / (1.0 + distance / self.trough_km);
        jet.p -= self.trough_hpa * k * k;
        let per_km = 2.0 * self.trough_hpa * k * k * k * behind / (distance * self.trough_km);
        // `behind` falls in the direction `ahead`.
        jet.x -= per_km * ahead.0;
        jet.y -= per_km * ahead.1;
    }

    /// Adds air masses and cloud `hours` after the cold front; `presence` collects the nearest sheets of low
    /// and high cloud.
    ///
    /// The order is the textbook's (Bjerknes & Solberg 1922): high cloud leads, the shield thickens to the
    /// warm front, stratus in the warm sector, a band at the cold front, then clearing and showers. Lengths
    /// are common practice, no source.
    pub(crate) fn add_fronts(
        &self,
        hours: f64,
        air: &mut Air,
        presence: &mut [f64; 2],
        setting: &Setting,
    ) {
        let to_warm = hours + self.warm_h;
        let contrast = setting.contrast_k * (1.0 + 0.25 * self.winterness);
        if self.frontal > 0.0 {
            let cold_front = smooth_step(-0.2, self.front_h, hours);
            let ahead = 0.25 * smooth_step(-26.0, -2.0, to_warm);
            let warm = (ahead + 0.75 * smooth_step(-2.5, 2.5, to_warm)) * (1.0 - cold_front);
            let behind = if hours > -0.2 {
                cold_front / (1.0 + 0.004 * hours * hours)
            } else {
                0.0
            };
            air.temperature_k +=
                contrast * (WARM_STEP * self.warm * warm - COLD_STEP * self.cold * behind);
            air.dew_point_k += contrast
                * (1.5 * WARM_STEP * self.warm * warm
                    - COLD_DRY_STEP * self.cold * self.dry * behind);
        }
        let grip = (0.35 + 0.75 * self.strength).min(1.0) * self.nearness;
        let shield = smooth_step(-14.0 - self.ahead_h, -4.0, to_warm)
            * (1.0 - smooth_step(0.0, 3.0, to_warm));
        let stratus = 0.6 * smooth_step(-2.0, 1.0, to_warm) * (1.0 - smooth_step(-0.5, 0.7, hours));
        let band = smooth_step(-3.5, -1.2, hours) * (1.0 - smooth_step(0.9, 3.0, hours));
        let low = grip * (1.1 * shield).max(stratus).max(1.1 * band);
        let high = grip * smooth_step(-30.0, -15.0, to_warm) * (1.0 - smooth_step(1.0, 4.0, hours));
        presence[0] = presence[0].max(low);
        presence[1] = presence[1].max(high);
        if hours > 2.0 {
            let showery =
                smooth_step(2.0, 4.5, hours) * (1.0 - smooth_step(14.0, 40.0, hours)) * grip;
            air.unstable = air.unstable.max(showery);
        }
        if self.rainy[0] {
            let rain = smooth_step(-self.ahead_h - 1.5, -self.ahead_h - 0.3, to_warm)
                * (1.0 - smooth_step(1.3, 2.6, to_warm));
            air.rain_shield = air.rain_shield.max(rain);
        }
        if self.rainy[1] {
            let rain = smooth_step(-2.2, -1.2, hours) * (1.0 - smooth_step(1.5, 2.6, hours));
            air.rain_shield = air.rain_shield.max(rain);
        }
    }
}

/// Steps at the fronts over the spread of air masses; the rest of the change comes with the paths.
const WARM_STEP: f64 = 0.25;
const COLD_STEP: f64 = 0.35;
const COLD_DRY_STEP: f64 = 1.1;
