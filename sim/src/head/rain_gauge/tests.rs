//! The gauge by itself: arithmetic, budgets, and what a choked funnel shows.

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
            assert!(b.gap_mm().abs() < 1e-9, "{open}: {b:?}");
        }
        assert!((gauge.balance().received_mm - fallen).abs() < 1e-9);
        let overflows = gauge.balance().overflowed_mm > 0.0;
        assert_eq!(overflows, open < 0.3, "opening {open}");
        // A trickle dries in the bucket before it fills it.
        assert_eq!(gauge.balance().lost_mm > 0.0, open >= 0.2);
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
        // What still runs down the walls is a fifth of one interval.
        let on_its_way = 0.25 * rate * 16.0 / 3600.0;
        let into_bucket = rate * hours - b.evaporated_mm - WETTING_MM - on_its_way;
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
                air.global_irradiance_wm2 = 250.0;
                air.wind_speed_ms = 2.0;
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
