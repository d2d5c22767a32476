//! Rain as a whole: hours, neighbours, and what every point expects.

use super::super::climate::{Climate, Normals};
use super::super::region::{OWNER, Region};
use super::*;
use crate::site::Place;

const RAIN: [f64; 12] = [
    62.0, 69.3, 54.9, 47.0, 83.3, 201.9, 57.4, 69.3, 48.8, 7.1, 65.8, 114.3,
];
const WET: [f64; 12] = [
    58.0, 72.0, 56.0, 32.0, 64.0, 73.0, 36.0, 36.0, 17.0, 4.0, 47.0, 81.0,
];

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
    (Region::new(&climate, place, Seed(1)), place)
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
}

pub(super) const START_S: f64 = 1_356_998_400.0;

/// Depths of the clock hours of some years, mm.
fn hourly(rain: &mut Rain, years: i64) -> Vec<f64> {
    let first = Train::interval(START_S) - 2;
    for number in first..first + 4 + years * 108 {
        rain.add_system(number, (1.0, 0.0), 0.0);
    }
    let (start, hours) = rain.hours();
    let skip = (START_S / HOUR_S) as i64 - start;
    hours[skip as usize..(skip + years * 8766) as usize].to_vec()
}

pub(super) fn quantile(sorted: &[f64], q: f64) -> f64 {
    sorted[((sorted.len() - 1) as f64 * q) as usize]
}

#[test]
fn probe() {
    let clock = libm::sqrt(1.0);
    let (region, place) = coast();
    println!("abundance {:.2?}", region.calibration.abundance);
    println!("intensity {:.2?}", region.calibration.intensity_mmh);
    let mut rain = rain_at(&region, &place, Offset::default());
    let years = 40;
    let x = hourly(&mut rain, years);
    let (mut rest, mut tips) = (0.0, Vec::new());
    for d in &x {
        rest += d;
        let n = libm::floor(rest / 0.254);
        rest -= n * 0.254;
        tips.push(n * 0.254);
    }
    show("all", &tips, |_| true);
    show("warm", &tips, |i| (3..9).contains(&((i * 12 / 8766) % 12)));
    show("cold", &tips, |i| !(3..9).contains(&((i * 12 / 8766) % 12)));
    let _ = clock;
}

fn show(name: &str, x: &[f64], pick: impl Fn(usize) -> bool) {
    let n = x.len();
    let wet = |i: usize| x[i] > 0.05;
    let on: Vec<usize> = (0..n - 1).filter(|&i| pick(i)).collect();
    let w: Vec<usize> = on.iter().copied().filter(|&i| wet(i)).collect();
    let mut d: Vec<f64> = w.iter().map(|&i| x[i]).collect();
    d.sort_unstable_by(f64::total_cmp);
    let ww = w.iter().filter(|&&i| wet(i + 1)).count() as f64 / w.len() as f64;
    let dw =
        on.iter().filter(|&&i| !wet(i) && wet(i + 1)).count() as f64 / (on.len() - w.len()) as f64;
    let total: f64 = d.iter().sum();
    let top: f64 = d[d.len() - d.len() / 20..].iter().sum();
    let mean = x.iter().sum::<f64>() / n as f64;
    let cov = |lag: usize| {
        (0..n - lag)
            .map(|i| (x[i] - mean) * (x[i + lag] - mean))
            .sum::<f64>()
    };
    let mut ev: Vec<(usize, usize, f64)> = Vec::new();
    for &i in &w {
        match ev.last_mut() {
            Some(e) if i - e.1 <= 3 => {
                e.1 = i;
                e.2 += x[i];
            }
            _ => ev.push((i, i, x[i])),
        }
    }
    let mut dur: Vec<f64> = ev.iter().map(|e| (e.1 - e.0 + 1) as f64).collect();
    dur.sort_unstable_by(f64::total_cmp);
    let mut tot: Vec<f64> = ev.iter().map(|e| e.2).collect();
    tot.sort_unstable_by(f64::total_cmp);
    let day: Vec<f64> = x.chunks_exact(24).map(|c| c.iter().sum()).collect();
    let wd = day.iter().filter(|&&d| d > 0.2).count() as f64;
    let wdwd = day.windows(2).filter(|p| p[0] > 0.2 && p[1] > 0.2).count() as f64 / wd;
    let mut t3 = [0; 8];
    for &i in &w {
        if x[i] > 2.5 {
            t3[((i + 19) % 24) / 3] += 1;
        }
    }
    println!(
        "{name}: frac {:.4} P(w|w) {ww:.3} P(w|d) {dw:.4} mean {:.2} q50 {:.2} q90 {:.2} q99 {:.2} top5 {:.3} total/y {:.0}",
        w.len() as f64 / on.len() as f64,
        total / w.len() as f64,
        quantile(&d, 0.5),
        quantile(&d, 0.9),
        quantile(&d, 0.99),
        top / total,
        total / (n as f64 / 8766.0)
    );
    println!(
        "   ac1 {:.3} ac2 {:.3} ac3 {:.3} ac6 {:.3} ac12 {:.3} ac24 {:.3} | events/y {:.0} dur {:.0?} tot {:.1?} | wet days {:.3} wdwd {wdwd:.3} | heavy by LST {t3:?}",
        cov(1) / cov(0),
        cov(2) / cov(0),
        cov(3) / cov(0),
        cov(6) / cov(0),
        cov(12) / cov(0),
        cov(24) / cov(0),
        ev.len() as f64 / (n as f64 / 8766.0),
        [0.25, 0.5, 0.75, 0.9, 0.99].map(|q| quantile(&dur, q)),
        [0.25, 0.5, 0.75, 0.9].map(|q| quantile(&tot, q)),
        wd / day.len() as f64
    );
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
    for km in [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0] {
        let there = at(km / libm::sqrt(1.36));
        println!(
            "{km} km: hour {:.2} day {:.2} summer hour {:.2} summer day {:.2}",
            correlation(&here, &there),
            correlation(&daily(&here), &daily(&there)),
            correlation(&warm(&here), &warm(&there)),
            correlation(&daily(&warm(&here)), &daily(&warm(&there)))
        );
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
        let region = Region::new(&monotonous(rain_mm, wet_hours), place, Seed(1));
        let mut rain = rain_at(&region, &place, Offset::default());
        let first = Train::interval(START_S);
        let months = 40.0 * 12.0;
        let (hours, depth) = rain.count(first..first + (40.0 * 365.25 / 3.4) as i64);
        println!(
            "{rain_mm} mm in {wet_hours} h: {:.1} mm in {:.1} h; abundance {:.2?}",
            depth / months,
            hours / months,
            region.calibration.abundance[0]
        );
    }
}
