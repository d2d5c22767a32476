//! The rain gauge: a funnel with an outlet above a tipping bucket.
//!
//! Water is never made nor lost without a name: what fell is counted, stored, evaporated, overflowed or
//! lost while tipping, and [`Balance`] tells how much of each.

use crate::condition::Condition;
use crate::site::Exposure;

/// Area of the collector, cm2 (common practice, no source).
pub const COLLECTOR_AREA_CM2: f64 = 100.0;
/// Height of the funnel's cone, mm: with its area it holds 200 ml (common practice, no source).
pub const CONE_HEIGHT_MM: f64 = 60.0;
/// What the funnel holds to the brim, mm over the collector: a third of its height, being a cone.
pub const BRIM_MM: f64 = CONE_HEIGHT_MM / 3.0;
/// Bore of the funnel's outlet, mm (common practice, no source).
pub const OUTLET_MM: f64 = 4.0;
/// Discharge of the open outlet with the funnel full, mm over the collector per second:
/// [`orifice_mm_s`] of the outlet under the whole cone.
pub const OUTLET_CAPACITY_MM_S: f64 = 0.817_95;
/// Resistance of a plug of debris, per `(1 - n)^2 / n^3` of its porosity `n`, against that of the open outlet: a plug of half
/// porosity lets some 20 mm/h through (common practice, no source).
pub const PLUG_RESISTANCE: f64 = 70.0;
/// Water the dry funnel holds on its walls before any runs off, mm (from memory: 0.05 to 0.2 mm).
pub const WETTING_MM: f64 = 0.05;
/// Evaporation from the funnel, mm per hour and hPa of saturation deficit (common practice, no source).
pub const EVAPORATION_MM_PER_H_HPA: f64 = 0.02;
/// Most that evaporates, mm per hour (common practice, no source).
pub const EVAPORATION_MAX_MM_PER_H: f64 = 0.3;
/// Time from the start of a tip until the bucket is level, in which the water that arrives still runs
/// into the full half and is lost, s. Duchon, Fiebrich and Grimsley 2014, J. Atmos. Oceanic Technol. 31,
/// 1330 (abstract): mean of eight tips at two rain rates.
pub const TIP_S: f64 = 0.450;

/// Discharge of a round hole, mm over the collector per second: Torricelli's law with a discharge
/// coefficient of 0.6 (textbook hydraulics, from memory).
///
/// `bore_mm`: diameter of the hole; `head_mm`: height of water above it; `collector_cm2`: area the depth
/// is told over. Validity: sharp-edged hole, head well above the bore.
#[must_use]
pub fn orifice_mm_s(bore_mm: f64, head_mm: f64, collector_cm2: f64) -> f64 {
    const DISCHARGE_COEFFICIENT: f64 = 0.6;
    const GRAVITY_MM_S2: f64 = 9806.65;
    let hole_mm2 = 0.25 * core::f64::consts::PI * bore_mm * bore_mm;
    DISCHARGE_COEFFICIENT * hole_mm2 * (2.0 * GRAVITY_MM_S2 * head_mm).sqrt()
        / (100.0 * collector_cm2)
}

/// Flow through the outlet as a share of the open one's, 0 to 1, when debris leaves this share of it open.
///
/// The open share is the porosity of a plug; its resistance, in series with the outlet's, goes as
/// `(1 - n)^2 / n^3` (Kozeny-Carman, from memory). Exactly 1 for a clear outlet and 0 for a closed one.
#[must_use]
pub fn outlet_share(opening: f64) -> f64 {
    let solid = 1.0 - opening;
    let cube = opening * opening * opening;
    cube / (cube + PLUG_RESISTANCE * solid * solid)
}

/// Share of steady rain that is lost while tipping, 0 to 1: of every `bucket + rate * tip` that falls the
/// second part is lost.
///
/// `rate_mm_h`; `tip_s`: time in which water is lost; `bucket_mm`. Source: Marsalek 1981, J. Hydrol. 53
/// (from memory). Against what is *counted* the loss is `rate * tip / bucket`, the undercatch that Duchon
/// et al. 2014 measured.
#[must_use]
pub fn tipping_loss(rate_mm_h: f64, tip_s: f64, bucket_mm: f64) -> f64 {
    let lost = rate_mm_h * tip_s / 3600.0;
    lost / (bucket_mm + lost)
}

/// Where the water of a gauge has gone, mm over the collector since it was made.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Balance {
    /// Rain that reached the funnel, and what was in the bucket at the start.
    pub received_mm: f64,
    /// Tipped out: tips times the bucket's size.
    pub tipped_mm: f64,
    /// Still on the funnel's walls, in the funnel and in the bucket.
    pub stored_mm: f64,
    /// Evaporated from the funnel.
    pub evaporated_mm: f64,
    /// Overflowed the brim.
    pub overflowed_mm: f64,
    /// Arrived in the bucket while it tipped.
    pub lost_mm: f64,
}

/// The rain gauge of one head.
#[derive(Debug, Clone)]
pub struct RainGauge {
    bucket_mm: f64,
    tip_s: f64,
    walls_mm: f64,
    pond_mm: f64,
    content_mm: f64,
    tipping_s: f64,
    tips: u64,
    received_mm: f64,
    evaporated_mm: f64,
    overflowed_mm: f64,
    lost_mm: f64,
}

impl RainGauge {
    /// A dry gauge with a bucket of `bucket_mm` that already holds `content_mm` (0 to `bucket_mm`).
    #[must_use]
    pub fn new(bucket_mm: f64, content_mm: f64) -> Self {
        Self::with_tip_time(bucket_mm, content_mm, TIP_S)
    }

    /// The same with another time in which water is lost at each tip, s.
    #[must_use]
    pub fn with_tip_time(bucket_mm: f64, content_mm: f64, tip_s: f64) -> Self {
        Self {
            bucket_mm,
            tip_s,
            walls_mm: 0.0,
            pond_mm: 0.0,
            content_mm,
            tipping_s: 0.0,
            tips: 0,
            received_mm: content_mm,
            evaporated_mm: 0.0,
            overflowed_mm: 0.0,
            lost_mm: 0.0,
        }
    }

    /// Where all water has gone.
    #[must_use]
    pub fn balance(&self) -> Balance {
        Balance {
            received_mm: self.received_mm,
            tipped_mm: self.tips as f64 * self.bucket_mm,
            stored_mm: self.walls_mm + self.pond_mm + self.content_mm,
            evaporated_mm: self.evaporated_mm,
            overflowed_mm: self.overflowed_mm,
            lost_mm: self.lost_mm,
        }
    }

    /// Water that stands in the funnel, mm over the collector.
    #[must_use]
    pub fn pond_mm(&self) -> f64 {
        self.pond_mm
    }

    /// One interval on; the tips in it.
    pub fn step(&mut self, exposure: &Exposure, condition: &Condition) -> u32 {
        let rain = exposure.rainfall_mm;
        if rain <= 0.0 && self.pond_mm <= 0.0 && self.walls_mm <= 0.0 {
            self.tipping_s = (self.tipping_s - exposure.interval_s).max(0.0);
            return 0;
        }
        self.received_mm += rain;
        let onto_walls = rain.min(WETTING_MM - self.walls_mm);
        self.walls_mm += onto_walls;
        self.pond_mm += rain - onto_walls;
        let outflow = self.drain(condition.funnel_opening, exposure.interval_s);
        if self.pond_mm > BRIM_MM {
            self.overflowed_mm += self.pond_mm - BRIM_MM;
            self.pond_mm = BRIM_MM;
        }
        self.evaporate(exposure);
        self.fill(outflow, exposure.interval_s)
    }

    /// What runs out of the funnel in an interval, mm over the collector.
    ///
    /// Torricelli's law in a cone: the head goes with the cube root of what stands in the funnel, the
    /// discharge with its sixth root, so that a choked outlet lets water through almost evenly until it is
    /// dry. With `x` the filling (1 is the brim) and `k` the discharge at the brim,
    /// `dx/dt = -k x^(1/6)`, whose solution is `x^(5/6) = x0^(5/6) - 5/6 k t`.
    fn drain(&mut self, opening: f64, interval_s: f64) -> f64 {
        if self.pond_mm <= 0.0 {
            return 0.0;
        }
        let capacity = OUTLET_CAPACITY_MM_S * outlet_share(opening);
        let run = 5.0 / 6.0 * capacity * interval_s / BRIM_MM;
        let filling = self.pond_mm / BRIM_MM;
        // For less than a full funnel x^(5/6) is below the square root of x, which spares two powers in
        // every rain that a clear funnel swallows.
        let left = if filling <= 1.0 && filling.sqrt() <= run {
            0.0
        } else {
            let rest = libm::pow(filling, 5.0 / 6.0) - run;
            if rest <= 0.0 {
                0.0
            } else {
                (BRIM_MM * libm::pow(rest, 1.2)).min(self.pond_mm)
            }
        };
        let outflow = self.pond_mm - left;
        self.pond_mm = left;
        outflow
    }

    /// Water on the walls and in the funnel dries with the saturation deficit of the air.
    fn evaporate(&mut self, exposure: &Exposure) {
        let deficit = exposure.saturation_vapour_pressure_hpa - exposure.vapour_pressure_hpa;
        let rate = (EVAPORATION_MM_PER_H_HPA * deficit).clamp(0.0, EVAPORATION_MAX_MM_PER_H);
        let could = rate * exposure.interval_s * (1.0 / 3600.0);
        let from_pond = could.min(self.pond_mm);
        let from_walls = (could - from_pond).min(self.walls_mm);
        self.pond_mm -= from_pond;
        self.walls_mm -= from_walls;
        self.evaporated_mm += from_pond + from_walls;
    }

    /// `inflow_mm` reaches the bucket evenly over the interval; the tips it makes.
    fn fill(&mut self, inflow_mm: f64, interval_s: f64) -> u32 {
        if self.tipping_s <= 0.0 && self.content_mm + inflow_mm < self.bucket_mm {
            self.content_mm += inflow_mm;
            return 0;
        }
        if inflow_mm <= 0.0 {
            self.tipping_s = (self.tipping_s - interval_s).max(0.0);
            return 0;
        }
        let rate = inflow_mm / interval_s;
        let (mut left_s, mut tips) = (interval_s, 0);
        loop {
            let wasted_s = self.tipping_s.min(left_s);
            self.lost_mm += rate * wasted_s;
            self.tipping_s -= wasted_s;
            left_s -= wasted_s;
            let needed_s = (self.bucket_mm - self.content_mm) / rate;
            if needed_s > left_s {
                self.content_mm += rate * left_s;
                break;
            }
            left_s -= needed_s;
            self.content_mm = 0.0;
            self.tipping_s = self.tip_s;
            self.tips += 1;
            tips += 1;
        }
        tips
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::entropy::Seed;
    use crate::head::testing::still_air;

    fn opening(funnel_opening: f64) -> Condition {
        Condition {
            funnel_opening,
            ..Condition::HEALTHY
        }
    }

    fn rain(rate_mm_h: f64, interval_s: f64) -> Exposure {
        let mut air = still_air();
        air.interval_s = interval_s;
        air.rainfall_mm = rate_mm_h * interval_s / 3600.0;
        // Rain in nearly saturated air.
        air.vapour_pressure_hpa = 0.98 * air.saturation_vapour_pressure_hpa;
        air
    }

    #[test]
    fn the_capacity_of_the_outlet_is_the_orifice_law() {
        let brim = orifice_mm_s(OUTLET_MM, CONE_HEIGHT_MM, COLLECTOR_AREA_CM2);
        assert!((brim / OUTLET_CAPACITY_MM_S - 1.0).abs() < 1e-4, "{brim}");
        assert_eq!((outlet_share(1.0), outlet_share(0.0)), (1.0, 0.0));
        let half = OUTLET_CAPACITY_MM_S * outlet_share(0.5) * 3600.0;
        assert!((15.0..25.0).contains(&half), "{half} mm/h");
        // A hole of 0.3 mm under 30 mm of water lets about 12 mm/h through 100 cm2 (hand calculation).
        assert!((orifice_mm_s(0.3, 30.0, 100.0) * 3600.0 - 11.7).abs() < 0.2);
    }

    #[test]
    fn water_balances_whatever_the_weather_and_the_funnel() {
        let mut stream = Seed(3).stream("test", "rain");
        for open in [1.0, 0.5, 0.2, 0.05, 0.0] {
            let mut gauge = RainGauge::new(0.3, 0.11);
            let mut fallen = 0.11;
            for _ in 0..40_000 {
                let mut air = still_air();
                air.vapour_pressure_hpa =
                    air.saturation_vapour_pressure_hpa * (0.3 + 0.7 * stream.uniform());
                if stream.uniform() < 0.1 {
                    air.rainfall_mm = 0.3 * stream.exponential();
                }
                fallen += air.rainfall_mm;
                gauge.step(&air, &opening(open));
                let b = gauge.balance();
                let parts =
                    b.tipped_mm + b.stored_mm + b.evaporated_mm + b.overflowed_mm + b.lost_mm;
                assert!((b.received_mm - parts).abs() < 1e-9, "{open}: {b:?}");
            }
            assert!((gauge.balance().received_mm - fallen).abs() < 1e-9);
            let overflows = gauge.balance().overflowed_mm > 0.0;
            assert_eq!(overflows, open < 0.3, "opening {open}");
            assert!(gauge.balance().lost_mm > 0.0 || open == 0.0);
        }
    }

    #[test]
    fn steady_rain_tips_by_arithmetic() {
        for rate in [0.5, 2.5, 10.0, 50.0, 200.0] {
            let mut gauge = RainGauge::new(0.3, 0.0);
            let wet = rain(rate, 16.0);
            let mut tips = 0;
            let hours = 40.0;
            for _ in 0..(hours * 225.0) as u32 {
                tips += gauge.step(&wet, &Condition::HEALTHY);
            }
            let b = gauge.balance();
            let into_bucket = rate * hours - b.evaporated_mm - WETTING_MM;
            let expected = into_bucket * (1.0 - tipping_loss(rate, TIP_S, 0.3)) / 0.3;
            assert!(
                (f64::from(tips) - expected).abs() <= 1.0,
                "{rate} mm/h: {tips} for {expected}"
            );
        }
    }

    #[test]
    fn a_healthy_funnel_is_dry_within_a_minute() {
        let mut gauge = RainGauge::new(0.3, 0.0);
        gauge.step(&rain(600.0, 60.0), &opening(0.0));
        assert!(gauge.pond_mm() > 9.0);
        let mut dry = rain(0.0, 1.0);
        dry.rainfall_mm = 0.0;
        let mut seconds = 0;
        while gauge.pond_mm() > 0.0 {
            gauge.step(&dry, &Condition::HEALTHY);
            seconds += 1;
        }
        assert!((5..=60).contains(&seconds), "{seconds} s");
    }

    /// A shower of 12 mm in half an hour, then dry air: the catalogue's symptom of a choked funnel.
    #[test]
    fn a_choked_funnel_clips_the_peak_and_tips_evenly_for_hours() {
        let run = |open: f64| {
            let mut gauge = RainGauge::new(0.3, 0.0);
            let (mut in_rain, mut times) = (0, Vec::new());
            for step in 0..(24 * 225) {
                let mut air = rain(if step < 113 { 24.0 } else { 0.0 }, 16.0);
                if step >= 113 {
                    air.vapour_pressure_hpa = 0.5 * air.saturation_vapour_pressure_hpa;
                }
                let tips = gauge.step(&air, &opening(open));
                if step < 113 {
                    in_rain += tips;
                } else if tips > 0 {
                    times.push(f64::from(step - 113) * 16.0 / 3600.0);
                }
            }
            (in_rain, times, gauge.balance())
        };
        let (healthy, after, _) = run(1.0);
        assert!((38..=40).contains(&healthy) && after.is_empty());
        let mut last_total = healthy;
        for (open, hours) in [(0.45, 0.3..1.5), (0.4, 0.8..2.5), (0.3, 3.0..12.0)] {
            let (clipped, times, balance) = run(open);
            let end = *times.last().expect("a tail");
            assert!(hours.contains(&end), "opening {open}: tail of {end} h");
            assert!(clipped < healthy, "{open}: {clipped}");
            let gaps: Vec<f64> = times.windows(2).map(|pair| pair[1] - pair[0]).collect();
            let (first, middle) = (gaps[0], gaps[gaps.len() / 2]);
            assert!(
                middle / first < 1.6,
                "{open}: evenly spaced, {first} {middle}"
            );
            let total = clipped + times.len() as u32;
            assert!(total <= last_total && balance.evaporated_mm > 0.05);
            last_total = total;
        }
        assert!(
            f64::from(last_total) < 0.95 * f64::from(healthy),
            "{last_total}"
        );
        assert_eq!(run(0.0).0, 0, "a closed funnel counts nothing");
        assert_eq!(run(0.0).1.len(), 0);
    }

    #[test]
    fn a_dry_funnel_keeps_the_first_drops() {
        let mut gauge = RainGauge::new(0.3, 0.0);
        let mut drop = rain(1.0, 16.0);
        drop.rainfall_mm = 0.02;
        assert_eq!(gauge.step(&drop, &Condition::HEALTHY), 0);
        assert_eq!(gauge.pond_mm(), 0.0);
        assert!(gauge.balance().stored_mm <= 0.02);
        let dry = still_air();
        for _ in 0..500 {
            gauge.step(&dry, &Condition::HEALTHY);
        }
        let b = gauge.balance();
        assert!((b.evaporated_mm - 0.02).abs() < 1e-12, "{b:?}");
    }
}
