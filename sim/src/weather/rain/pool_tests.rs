//! Cold pools against published figures of their passages.

use super::outflow::{current_ms, jump_hpa, together};
use super::tests::{START_S, coast, correlation, quantile, rain_at};
use super::*;
use crate::physics::moist_air::{saturation_vapour_pressure_hpa, wet_bulb_degc};

/// A passage: largest fall of temperature within 20 minutes, K; saturation deficit before it, hPa; the rain of its
/// three hours, mm; largest pressure jump, hPa; strongest wind, m/s; hours until nine tenths of the cold are gone.
struct Passage {
    fall_k: f64,
    deficit_hpa: f64,
    rain_mm: f64,
    jump_hpa: f64,
    wind_ms: f64,
    hours: f64,
    /// From the gust front to the first rain, s.
    lead_s: f64,
}

/// Every pool of forty summers, each in air of its own: 13 to 31 degC, 38 to 94 % (a mid-latitude summer's day).
fn passages() -> Vec<Passage> {
    let (region, place) = coast();
    let mut rain = rain_at(&region, &place, Offset::default());
    let first = Train::interval(START_S);
    let last = Train::interval(START_S + 40.0 * 8766.0 * HOUR_S);
    let mut stream = Seed(4).stream("test", "air");
    let mut found = Vec::new();
    for number in first..last {
        let system = rain.train.system(number);
        if system.winterness > -0.4 {
            continue;
        }
        rain.to_come.clear();
        rain.pools_to_come.clear();
        rain.add_system(&system, (1.0, 0.0), REACH_KM);
        rain.pools_to_come
            .sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
        // Pools that follow each other within an hour are one passage.
        let pools = &rain.pools_to_come;
        for group in pools.chunk_by(|a, b| b.start_s - a.start_s < 3600.0) {
            let temperature = stream.between(13.0, 31.0);
            let humidity = stream.between(0.38, 0.94);
            let saturation = saturation_vapour_pressure_hpa(temperature);
            let vapour = humidity * saturation;
            let depression_k = temperature - wet_bulb_degc(temperature, vapour, 1010.0);
            let start_s = group[0].start_s;
            let end_s = group.iter().map(|p| p.end_s).fold(0.0, f64::max);
            let minutes = ((end_s - start_s) / 60.0) as usize + 1;
            let states: Vec<Outflow> = (0..minutes)
                .map(|minute| together(group, start_s + 60.0 * minute as f64, depression_k))
                .collect();
            let most = |f: &dyn Fn(&Outflow) -> f64| states.iter().map(f).fold(0.0, f64::max);
            let cooled = most(&|s| s.cooled);
            let within_20 = (20..minutes)
                .map(|i| states[i].cooled - states[i - 20].cooled)
                .fold(0.0, f64::max);
            let gone = states.iter().rposition(|s| s.cooled > 0.1 * cooled);
            let until_s = start_s + 10_800.0;
            let here = |c: &&Cell| c.start_s < until_s && c.end_s > start_s;
            let cells: Vec<&Cell> = rain.to_come.iter().filter(here).collect();
            let starts = cells.iter().map(|c| c.start_s);
            found.push(Passage {
                fall_k: within_20 * depression_k,
                deficit_hpa: saturation - vapour,
                rain_mm: cells.iter().map(|c| c.between(start_s, until_s)).sum(),
                jump_hpa: most(&|s| s.pressure_hpa),
                wind_ms: most(&|s| (s.east_ms * s.east_ms + s.north_ms * s.north_ms).sqrt()),
                hours: gone.unwrap_or(0) as f64 / 60.0,
                lead_s: starts.fold(f64::MAX, f64::min) - start_s,
            });
        }
    }
    // As the observers choose them: with rain, and a fall of 2 K or more.
    found.retain(|p| p.fall_k >= 2.0 && p.rain_mm > 0.1);
    found
}

#[test]
fn cold_pools_are_as_cold_as_observed() {
    let found = passages();
    let sorted = |pick: fn(&Passage) -> f64| {
        let mut values: Vec<f64> = found.iter().map(pick).collect();
        values.sort_unstable_by(f64::total_cmp);
        values
    };
    let list = |pick: fn(&Passage) -> f64| -> Vec<f64> { found.iter().map(pick).collect() };
    let falls = sorted(|p| p.fall_k);
    let by_deficit = correlation(&list(|p| -p.fall_k), &list(|p| p.deficit_hpa));
    let by_rain = correlation(&list(|p| -p.fall_k), &list(|p| p.rain_mm));
    let quartiles = |v: &[f64]| [0.05, 0.5, 0.95].map(|q| quantile(v, q));
    println!(
        "{} a summer; fall {:.1?} most {:.1} K; r deficit {by_deficit:.2}, rain {by_rain:.2}",
        found.len() / 40,
        quartiles(&falls),
        falls[falls.len() - 1]
    );
    println!(
        "jump {:.2?} hPa, wind {:.1?} m/s, gone after {:.1?} h, lead {:.0?} s",
        quartiles(&sorted(|p| p.jump_hpa)),
        quartiles(&sorted(|p| p.wind_ms)),
        quartiles(&sorted(|p| p.hours)),
        quartiles(&sorted(|p| p.lead_s))
    );
    // Kirsch, Ament & Hohenegger 2021: 489 in 14 summers, median 3.3 K, 2 to 11 K, r = -0.71 and -0.35.
    let median = quantile(&falls, 0.5);
    assert!((2.8..3.8).contains(&median), "{median}");
    assert!((6.0..11.5).contains(&falls[falls.len() - 1]));
    assert!((-0.85..-0.55).contains(&by_deficit), "{by_deficit}");
    assert!((-0.5..-0.05).contains(&by_rain), "{by_rain}");
}

#[test]
fn a_density_current_of_a_usual_pool_has_the_usual_wind_and_jump() {
    // Kruse, Haerter & Meyer 2021: 4.4 m/s at a fall of 2.9 K, and as its square root.
    assert!((current_ms(2.9) - 4.4).abs() < 0.1);
    assert!((current_ms(8.0) / current_ms(2.0) - 2.0).abs() < 1e-9);
    // Hydrostatic: half of rho g h dT/T.
    assert!((0.4..0.6).contains(&jump_hpa(3.3)));
    assert_eq!((current_ms(-1.0), jump_hpa(-1.0)), (0.0, 0.0));
}
