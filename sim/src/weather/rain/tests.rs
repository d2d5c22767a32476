//! Rain as a whole: hours, neighbours, and what every point expects.

use super::super::climate::{Climate, Normals};
use super::super::region::{OWNER, Region};
use super::fit::Wanted;
use super::*;
use crate::site::Place;
use core::ops::Range;

const RAIN: [f64; 12] = [
    62.0, 69.3, 54.9, 47.0, 83.3, 201.9, 57.4, 69.3, 48.8, 7.1, 65.8, 114.3,
];
const WET: [f64; 12] = [
    58.0, 72.0, 56.0, 32.0, 64.0, 73.0, 36.0, 36.0, 17.0, 4.0, 47.0, 81.0,
];

/// A fit of every month of a climate.
fn fitted(region: &Region, climate: &Climate, place: &Place) -> ([f64; 12], [f64; 12]) {
    let month_s = 365.2425 * 86_400.0 / 12.0;
    let both: [(f64, f64); 12] = core::array::from_fn(|i| {
        let runs: Vec<_> = (0..60)
            .map(|year| {
                let start_s = START_S + (year * 12 + i) as f64 * month_s;
                Train::interval(start_s)..Train::interval(start_s + month_s)
            })
            .collect();
        let convection = [region.convection()[i]; 12];
        let mut rain = Rain::new(
            region.train(),
            Seed(77),
            OWNER,
            place.longitude_deg,
            Offset::default(),
            [0.0; 12],
            [0.0; 12],
        )
        .with_convection(convection);
        let wanted = Wanted {
            rain_mm: climate.months[i].rain_mm,
            wet_hours: climate.months[i].wet_hours,
        };
        rain.fit(&runs, wanted, month_s)
    });
    (both.map(|b| b.0), both.map(|b| b.1))
}

pub(super) fn coast() -> (Region, Place) {
    let base = Climate::by_name("temperate_maritime").unwrap();
    let climate = Climate {
        months: core::array::from_fn(|i| Normals {
            rain_mm: RAIN[i],
            wet_hours: WET[i],
            ..base.months[i]
        }),
    };
    let place = Place {
        latitude_deg: 40.6,
        longitude_deg: -73.8,
        altitude_m: 5.0,
    };
    (refit(&climate, place), place)
}

fn refit(climate: &Climate, place: Place) -> Region {
    let mut region = Region::new(climate, place, Seed(1));
    let (abundance, intensity) = fitted(&region, climate, &place);
    region.calibration.abundance = abundance;
    region.calibration.intensity_mmh = intensity;
    region
}

pub(super) fn rain_at(region: &Region, place: &Place, offset: Offset) -> Rain {
    Rain::new(
        region.train(),
        region.seed(),
        OWNER,
        place.longitude_deg,
        offset,
        region.calibration.abundance,
        region.calibration.intensity_mmh,
    )
    .with_convection(region.convection())
}

pub(super) const START_S: f64 = 1_356_998_400.0;

/// Depths of the clock hours of some years, mm.
fn hourly(rain: &mut Rain, years: i64) -> Vec<f64> {
    let end_s = START_S + years as f64 * 8766.0 * HOUR_S;
    for number in Train::interval(START_S) - 5..Train::interval(end_s) + 5 {
        let system = rain.train.system(number);
        rain.add_system(&system, (1.0, 0.0), 0.0);
    }
    let (start, hours) = rain.hours();
    let skip = (START_S / HOUR_S) as i64 - start;
    hours[skip as usize..(skip + years * 8766) as usize].to_vec()
}

pub(super) fn quantile(sorted: &[f64], q: f64) -> f64 {
    sorted[((sorted.len() - 1) as f64 * q) as usize]
}

/// What a gauge of hundredths of an inch reports of hourly depths.
fn reported(hours: &[f64]) -> Vec<f64> {
    let mut rest = 0.0;
    let report = |depth: &f64| {
        rest += depth;
        let steps = libm::floor(rest / 0.254);
        rest -= steps * 0.254;
        steps * 0.254
    };
    hours.iter().map(report).collect()
}

/// Autocorrelation at a lag.
fn auto(x: &[f64], lag: usize) -> f64 {
    correlation(&x[lag..], &x[..x.len() - lag])
}

#[test]
fn hours_are_like_those_of_a_real_coastal_year() {
    let (region, place) = coast();
    let years = 40;
    let x = reported(&hourly(
        &mut rain_at(&region, &place, Offset::default()),
        years,
    ));
    let n = x.len();
    let wet = |i: usize| x[i] > 0.05;
    let mut amounts: Vec<f64> = x.iter().copied().filter(|mm| *mm > 0.05).collect();
    amounts.sort_unstable_by(f64::total_cmp);
    let hours = amounts.len() as f64;
    let total: f64 = amounts.iter().sum();
    let top: f64 = amounts[amounts.len() - amounts.len() / 20..].iter().sum();
    let pairs = |first: bool| (1..n).filter(|&i| wet(i - 1) == first && wet(i)).count() as f64;
    let mut events: Vec<(usize, usize, f64)> = Vec::new();
    for i in (0..n).filter(|&i| wet(i)) {
        match events.last_mut() {
            Some(event) if i - event.1 <= 3 => {
                event.1 = i;
                event.2 += x[i];
            }
            _ => events.push((i, i, x[i])),
        }
    }
    let mut lengths: Vec<f64> = events.iter().map(|e| (e.1 - e.0 + 1) as f64).collect();
    lengths.sort_unstable_by(f64::total_cmp);
    let days = daily(&x);
    let wet_days = days.iter().filter(|mm| **mm > 0.2).count() as f64;
    let both = days.windows(2).filter(|p| p[0] > 0.2 && p[1] > 0.2).count() as f64;
    // The year 2013 near 40.6 N 73.8 W (`open_airport_year_2013.csv`) and the 5 to 95 % range of one year (block
    // bootstrap of ten days).
    let table = [
        ("wet hours", hours / n as f64, 0.066, 0.052, 0.079),
        ("P(wet|wet)", pairs(true) / hours, 0.707, 0.664, 0.740),
        (
            "P(wet|dry)",
            pairs(false) / (n as f64 - hours),
            0.0207,
            0.0170,
            0.0246,
        ),
        ("wet hour mean", total / hours, 1.53, 1.25, 1.84),
        (
            "wet hour median",
            quantile(&amounts, 0.5),
            0.762,
            0.508,
            0.762,
        ),
        ("wet hour q90", quantile(&amounts, 0.9), 3.56, 3.05, 4.32),
        ("wet hour q99", quantile(&amounts, 0.99), 9.97, 7.37, 14.7),
        ("share of the top 5 %", top / total, 0.272, 0.238, 0.304),
        ("lag 1 h", auto(&x, 1), 0.596, 0.487, 0.669),
        ("event median h", quantile(&lengths, 0.5), 3.0, 2.0, 4.0),
        ("event q90 h", quantile(&lengths, 0.9), 14.0, 9.2, 16.2),
        (
            "wet days",
            wet_days / days.len() as f64,
            0.313,
            0.269,
            0.372,
        ),
        ("P(wet day|wet day)", both / wet_days, 0.412, 0.356, 0.491),
        ("mm a year", total / years as f64, 872.0, 666.0, 1130.0),
    ];
    for (name, ours, real, low, high) in table {
        let inside = (low..=high).contains(&ours);
        println!("{name:<22}{ours:>9.3}{real:>9.3}{low:>9.3}{high:>9.3} {inside}");
        let wider = 0.25 * (high - low);
        assert!(
            (low - wider..=high + wider).contains(&ours),
            "{name}: {ours}"
        );
    }
}

pub(super) fn correlation(a: &[f64], b: &[f64]) -> f64 {
    let n = a.len() as f64;
    let (p, q) = (a.iter().sum::<f64>() / n, b.iter().sum::<f64>() / n);
    let sum =
        |f: fn(f64, f64) -> f64| -> f64 { a.iter().zip(b).map(|(x, y)| f(x - p, y - q)).sum() };
    sum(|x, y| x * y) / (sum(|x, _| x * x) * sum(|_, y| y * y)).sqrt()
}

fn daily(x: &[f64]) -> Vec<f64> {
    x.chunks_exact(24).map(|c| c.iter().sum()).collect()
}

#[test]
fn every_point_of_the_region_expects_the_same_rain() {
    let (region, place) = coast();
    let years = 40;
    let at = |east_km, north_km| {
        let offset = Offset { east_km, north_km };
        hourly(&mut rain_at(&region, &place, offset), years)
    };
    let per_year =
        |x: &[f64]| -> Vec<f64> { x.chunks_exact(8766).map(|year| year.iter().sum()).collect() };
    let wet = |x: &[f64]| x.iter().filter(|d| **d > 0.2).count() as f64 / years as f64;
    let here = at(0.0, 0.0);
    for (east_km, north_km) in [(30.0, 0.0), (0.0, 80.0), (-150.0, 90.0), (12.3, -45.6)] {
        let there = at(east_km, north_km);
        let differences: Vec<f64> = per_year(&here)
            .iter()
            .zip(per_year(&there))
            .map(|(a, b)| b - a)
            .collect();
        let n = years as f64;
        let mean = differences.iter().sum::<f64>() / n;
        let squares: f64 = differences.iter().map(|d| (d - mean) * (d - mean)).sum();
        let error = (squares / (n - 1.0) / n).sqrt();
        println!(
            "{east_km} {north_km}: {mean:.1} +- {error:.1} mm/year, wet hours {:.0} {:.0}",
            wet(&here),
            wet(&there)
        );
        assert!(error < 40.0 && mean.abs() < 3.5 * error, "{mean} {error}");
        assert!((wet(&there) / wet(&here) - 1.0).abs() < 0.06);
    }
}

#[test]
fn neighbours_share_less_the_further_they_are() {
    let (region, place) = coast();
    let years = 20;
    let at = |east_km: f64| {
        let offset = Offset {
            east_km,
            north_km: 0.6 * east_km,
        };
        hourly(&mut rain_at(&region, &place, offset), years)
    };
    let here = at(0.0);
    let warm = |x: &[f64]| -> Vec<f64> {
        let month = |i: usize| (i * 12 / 8766) % 12;
        let picked = x
            .iter()
            .enumerate()
            .filter(|(i, _)| (5..8).contains(&month(*i)));
        picked.map(|(_, d)| *d).collect()
    };
    // Orders only: hourly rain of convective months is forgotten in 10 to 20 km, of fronts in 50 to 100 km and more;
    // daily rain in some hundred (common practice; e.g. the e-foldings in Villarini, Mandapaka, Krajewski & Moore
    // 2008, J. Geophys. Res. 113, from memory).
    let mut last = [1.0; 4];
    for (km, hour_range) in [
        (1.0, 0.95..1.0),
        (3.0, 0.85..0.99),
        (10.0, 0.4..0.8),
        (30.0, 0.25..0.6),
        (100.0, 0.05..0.35),
        (200.0, 0.0..0.25),
    ] {
        let there = at(km / libm::sqrt(1.36));
        let now = [
            correlation(&here, &there),
            correlation(&daily(&here), &daily(&there)),
            correlation(&warm(&here), &warm(&there)),
            correlation(&daily(&warm(&here)), &daily(&warm(&there))),
        ];
        println!(
            "{km} km: hour {:.2} day {:.2}; summer hour {:.2} day {:.2}",
            now[0], now[1], now[2], now[3]
        );
        assert!(hour_range.contains(&now[0]), "{km} km: {}", now[0]);
        assert!(now[1] > now[0] && now[3] > now[2], "{km} km: {now:?}");
        // Summer is short, and beyond the largest clusters days share nothing but the systems: such figures scatter.
        let scatter = if km > 100.0 { 0.04 } else { 0.0 };
        assert!(now[0] < last[0] && now[1] < last[1] + scatter && now[2] < last[2] + 0.05);
        last = now;
    }
}

/// A month that is always alike.
fn monotonous(rain_mm: f64, wet_hours: f64) -> Climate {
    let base = Climate::by_name("temperate_maritime").unwrap().months[4];
    Climate {
        months: [Normals {
            rain_mm,
            wet_hours,
            ..base
        }; 12],
    }
}

#[test]
fn deserts_and_rain_forests_get_their_normals() {
    let place = Place {
        latitude_deg: 20.0,
        longitude_deg: 30.0,
        altitude_m: 5.0,
    };
    for (rain_mm, wet_hours) in [
        (3.0, 3.0),
        (10.0, 3.0),
        (40.0, 60.0),
        (100.0, 20.0),
        (250.0, 90.0),
        (400.0, 120.0),
        (400.0, 300.0),
    ] {
        let region = refit(&monotonous(rain_mm, wet_hours), place);
        let mut rain = rain_at(&region, &place, Offset::default());
        let first = Train::interval(START_S);
        let months = 40.0 * 12.0;
        let end_s = START_S + 40.0 * 8766.0 * HOUR_S;
        let (hours, depth) = rain.count(first..Train::interval(end_s));
        println!(
            "{rain_mm} mm in {wet_hours} h: {:.1} mm in {:.1} h",
            depth / months,
            hours / months
        );
        // Forty years of rare showers scatter by some tenth and a half themselves.
        let scatter = 0.05 + 0.2 / wet_hours.sqrt();
        assert!((hours / months / wet_hours - 1.0).abs() < scatter);
        assert!((depth / months / rain_mm - 1.0).abs() < scatter);
    }
}

const STEP_S: f64 = 16.0;

/// Runs the rain of a point from an instant, knots of 600 s and steps of 16 s, as a station does.
fn run(rain: &mut Rain, start_s: f64, days: usize, mut each: impl FnMut(f64, Fall)) {
    for n in 0..days * 5400 {
        let from_s = start_s + n as f64 * STEP_S;
        if n % 37 == 0 {
            let _ = rain.smooth_rate_mmh(from_s, from_s + 1200.0, (1.0, 0.0));
        }
        each(from_s + STEP_S, rain.fall(from_s, from_s + STEP_S));
    }
}

#[test]
fn totals_are_exact_however_time_is_cut_and_clouds_stand_over_rain() {
    let (region, place) = coast();
    let mut fine = rain_at(&region, &place, Offset::default());
    let mut coarse = fine.clone();
    let (mut hour_mm, mut most, mut wet, mut cloudy) = (0.0, 0.0_f64, 0, 0);
    let _ = coarse.smooth_rate_mmh(START_S, START_S + 3600.0, (1.0, 0.0));
    run(&mut fine, START_S, 90, |time_s, fall| {
        hour_mm += fall.depth_mm;
        assert!(fall.depth_mm >= 0.0);
        assert!(
            fall.depth_mm == 0.0 || fall.cloud == 1.0,
            "rain from a clear sky"
        );
        wet += usize::from(fall.depth_mm > 0.0);
        cloudy += usize::from(fall.cloud > 0.0);
        most = most.max(fall.depth_mm);
        if ((time_s - START_S) / 3600.0).fract() == 0.0 {
            let _ = coarse.smooth_rate_mmh(time_s, time_s + 3600.0, (1.0, 0.0));
            let whole = coarse.fall(time_s - 3600.0, time_s).depth_mm;
            assert!((whole - hour_mm).abs() < 1e-9, "{whole} {hour_mm}");
            hour_mm = 0.0;
        }
    });
    assert!(
        wet > 1000 && cloudy > wet && most > 0.02,
        "{wet} {cloudy} {most}"
    );
}

#[test]
fn a_station_gets_the_same_rain_whenever_it_is_asked_from() {
    let (region, place) = coast();
    let offset = Offset {
        east_km: 7.0,
        north_km: -11.0,
    };
    let day_s = 86_400.0;
    // From June on.
    let begin_s = START_S + 150.0 * day_s;
    let collect = |days_before: usize| {
        let mut rain = rain_at(&region, &place, offset);
        let mut falls = Vec::new();
        let start_s = begin_s - days_before as f64 * day_s;
        run(&mut rain, start_s, days_before + 40, |time_s, fall| {
            if time_s > begin_s + 3.0 * day_s {
                let wind = fall.outflow.map_or(0.0, |o| o.east_ms);
                falls.push((fall.depth_mm, fall.cloud, wind));
            }
        });
        falls
    };
    let (late, early) = (collect(0), collect(23));
    assert!(late.iter().any(|f| f.0 > 0.0) && late.iter().any(|f| f.2 != 0.0));
    for (a, b) in late.iter().zip(&early) {
        assert!((a.0 - b.0).abs() < 1e-12 && a.1 == b.1 && (a.2 - b.2).abs() < 1e-9);
    }
}

#[test]
fn a_shower_may_miss_a_neighbour_and_a_front_comes_to_both() {
    let (region, place) = coast();
    let years = 10;
    let at = |east_km| {
        let offset = Offset {
            east_km,
            north_km: 0.0,
        };
        hourly(&mut rain_at(&region, &place, offset), years)
    };
    let (here, there) = (at(0.0), at(20.0));
    // Days with 5 mm here in one season, and those among them without a drop 20 km away.
    let share = |months: Range<usize>| {
        let days = here.chunks_exact(24).zip(there.chunks_exact(24));
        let (mut wet, mut missed) = (0, 0);
        for (day, (a, b)) in days.enumerate() {
            let month = (day * 24 * 12 / 8766) % 12;
            if months.contains(&month) && a.iter().sum::<f64>() > 5.0 {
                wet += 1;
                missed += usize::from(b.iter().sum::<f64>() < 0.1);
            }
        }
        println!("{months:?}: {missed} of {wet} missed");
        f64::from(missed as u32) / f64::from(wet)
    };
    let (summer, winter) = (share(5..8), share(0..3));
    assert!(summer > 0.02 && summer > 2.0 * winter, "{summer} {winter}");
}

#[test]
fn short_bursts_are_as_much_harder_than_hours_as_observed() {
    let (region, place) = coast();
    let mut rain = rain_at(&region, &place, Offset::default());
    let years = 12;
    let minutes = 365 * 24 * 60;
    let spans = [5, 10, 15, 30, 60];
    let mut mean = [0.0; 5];
    for year in 0..years {
        let start_s = START_S + (year * minutes) as f64 * 60.0;
        let mut sums = vec![0.0; minutes + 1];
        for n in 0..minutes {
            let from_s = start_s + n as f64 * 60.0;
            if n % 10 == 0 {
                let _ = rain.smooth_rate_mmh(from_s, from_s + 1200.0, (1.0, 0.0));
            }
            sums[n + 1] = sums[n] + rain.fall(from_s, from_s + 60.0).depth_mm;
        }
        for (most, span) in mean.iter_mut().zip(spans) {
            let depths = (span..=minutes).map(|i| sums[i] - sums[i - span]);
            *most += depths.fold(0.0, f64::max) / years as f64;
        }
    }
    // Ratios of the yearly largest n-minute depth to the hour's: Hershfield 1961 (Weather Bureau Technical
    // Paper 40: 30 min 0.79 of 60 min; 5, 10, 15 min 0.37, 0.57, 0.72 of 30 min; from memory).
    let ratios = mean.map(|m| m / mean[4]);
    println!("yearly maxima {mean:.1?} mm, ratios {ratios:.2?}");
    for (ratio, observed) in ratios.iter().zip([0.29, 0.45, 0.57, 0.79]) {
        assert!(
            (ratio / observed - 1.0).abs() < 0.25,
            "{ratio} for {observed}"
        );
    }
}
