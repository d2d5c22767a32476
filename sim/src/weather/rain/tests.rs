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

fn coast() -> (Region, Place) {
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

fn rain_at(region: &Region, place: &Place, offset: Offset) -> Rain {
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

const START_S: f64 = 1_356_998_400.0;

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

fn quantile(sorted: &[f64], q: f64) -> f64 {
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
    let dw = on.iter().filter(|&&i| !wet(i) && wet(i + 1)).count() as f64 / (on.len() - w.len()) as f64;
    let total: f64 = d.iter().sum();
    let top: f64 = d[d.len() - d.len() / 20..].iter().sum();
    let mean = x.iter().sum::<f64>() / n as f64;
    let cov = |lag: usize| (0..n - lag).map(|i| (x[i] - mean) * (x[i + lag] - mean)).sum::<f64>();
    let mut ev: Vec<(usize, usize, f64)> = Vec::new();
    for &i in &w {
        match ev.last_mut() {
            Some(e) if i - e.1 <= 3 => { e.1 = i; e.2 += x[i]; }
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
    for &i in &w { if x[i] > 2.5 { t3[((i + 19) % 24) / 3] += 1; } }
    println!("{name}: frac {:.4} P(w|w) {ww:.3} P(w|d) {dw:.4} mean {:.2} q50 {:.2} q90 {:.2} q99 {:.2} top5 {:.3} total/y {:.0}",
        w.len() as f64 / on.len() as f64, total / w.len() as f64, quantile(&d, 0.5), quantile(&d, 0.9), quantile(&d, 0.99), top / total, total / (n as f64 / 8766.0));
    println!("   ac1 {:.3} ac2 {:.3} ac3 {:.3} ac6 {:.3} ac12 {:.3} ac24 {:.3} | events/y {:.0} dur {:.0?} tot {:.1?} | wet days {:.3} wdwd {wdwd:.3} | heavy by LST {t3:?}",
        cov(1) / cov(0), cov(2) / cov(0), cov(3) / cov(0), cov(6) / cov(0), cov(12) / cov(0), cov(24) / cov(0),
        ev.len() as f64 / (n as f64 / 8766.0), [0.25, 0.5, 0.75, 0.9, 0.99].map(|q| quantile(&dur, q)), [0.25, 0.5, 0.75, 0.9].map(|q| quantile(&tot, q)), wd / day.len() as f64);
}
