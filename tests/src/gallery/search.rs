//! Looks through simulated years for scenes worth drawing, and prints the best of each kind.
//!
//! The measures are a forecaster's habits put in numbers (common practice, no source); they choose, they do
//! not judge.

use super::{HOUR_US, watch};

/// 2026-01-01T00:00:00Z.
const YEAR_US: i64 = 1_767_225_600_000_000;
const DAYS: i64 = 365;
/// Records of ten minutes.
const AN_HOUR: usize = 6;
const A_DAY: usize = 24 * AN_HOUR;
const A_WEEK: usize = 7 * A_DAY;
/// Intervals in a record, nearly.
const RECORD_US: i64 = HOUR_US / AN_HOUR as i64;

/// Ten minutes.
#[derive(Debug, Clone, Copy, Default)]
struct Record {
    number: f64,
    temperature: f64,
    spread: f64,
    pressure: f64,
    rain: f64,
    gust: f64,
    speed: f64,
    east: f64,
    north: f64,
    global: f64,
    cloud: f64,
}

fn year(seed: u64) -> Vec<Record> {
    let mut records = vec![Record::default(); DAYS as usize * A_DAY];
    let end_us = YEAR_US + DAYS * 24 * HOUR_US;
    watch(seed, (YEAR_US, end_us), |truth| {
        let index = (truth.time_us - 1 - YEAR_US) / RECORD_US;
        let Some(record) = records.get_mut(index as usize) else {
            return;
        };
        record.number += 1.0;
        record.temperature += truth.air_temperature_degc;
        record.spread += truth.air_temperature_degc - truth.dew_point_degc;
        record.pressure += truth.air_pressure_hpa;
        record.rain += truth.rainfall_mm + truth.snowfall_mm;
        record.gust = record.gust.max(truth.wind_speed_of_gust_ms);
        record.speed += truth.wind_speed_ms;
        let (sine, cosine) = libm::sincos(truth.wind_from_direction_deg.to_radians());
        record.east += truth.wind_speed_ms * sine;
        record.north += truth.wind_speed_ms * cosine;
        record.global += truth.global_irradiance_wm2;
        record.cloud += truth.cloud_area_fraction;
    });
    for record in &mut records {
        let number = record.number.max(1.0);
        for value in [
            &mut record.temperature,
            &mut record.spread,
            &mut record.pressure,
            &mut record.speed,
            &mut record.global,
            &mut record.cloud,
        ] {
            *value /= number;
        }
    }
    records
}

fn mean(records: &[Record], of: fn(&Record) -> f64) -> f64 {
    records.iter().map(of).sum::<f64>() / records.len().max(1) as f64
}
fn sum(records: &[Record], of: fn(&Record) -> f64) -> f64 {
    records.iter().map(of).sum()
}
fn least(records: &[Record], of: fn(&Record) -> f64) -> f64 {
    records.iter().map(of).fold(f64::INFINITY, f64::min)
}
fn most(records: &[Record], of: fn(&Record) -> f64) -> f64 {
    records.iter().map(of).fold(f64::NEG_INFINITY, f64::max)
}
fn from_deg(records: &[Record]) -> f64 {
    libm::atan2(sum(records, |r| r.east), sum(records, |r| r.north)).to_degrees()
}

/// A week with a low passing and nights of frost and of saturated calm air.
fn winter(week: &[Record]) -> (f64, String) {
    let (low, high) = (
        least(week, |r| r.pressure),
        most(&week[A_DAY..6 * A_DAY], |r| r.pressure),
    );
    let span = most(week, |r| r.pressure) - low;
    let deepest = least(&week[A_DAY..6 * A_DAY], |r| r.pressure) - low;
    let frosty = week
        .chunks(A_DAY)
        .filter(|day| least(day, |r| r.temperature) < -1.0)
        .count();
    let murky = week
        .iter()
        .filter(|r| r.spread < 0.4 && r.speed < 1.2)
        .count();
    let rain = sum(week, |r| r.rain);
    let clear = week
        .chunks(A_DAY)
        .filter(|day| mean(day, |r| r.cloud) < 0.35)
        .count();
    let score = (span.min(40.0) - 20.0) / 10.0
        + (frosty.min(3) as f64)
        + (murky.min(40) as f64) / 20.0
        + (clear.min(2) as f64) / 2.0
        + rain.min(20.0) / 10.0
        - deepest / 4.0;
    let words = format!(
        "pressure {low:.0}..{high:.0}, {frosty} frosty days, {murky} records of murk, {rain:.0} mm"
    );
    (score, words)
}

/// A week with fair days, broken cloud and a short heavy fall.
fn summer(week: &[Record]) -> (f64, String) {
    let days = || week.chunks(A_DAY);
    let fair = days().filter(|day| mean(day, |r| r.global) > 290.0).count();
    let dull = days().filter(|day| mean(day, |r| r.global) < 120.0).count();
    let noon = |day: &[Record]| mean(&day[A_DAY * 3 / 8..A_DAY * 5 / 8], |r| r.cloud);
    let broken = days()
        .filter(|day| (0.35..0.7).contains(&noon(day)))
        .count();
    let hour = week
        .chunks(AN_HOUR)
        .map(|hour| sum(hour, |r| r.rain))
        .fold(0.0, f64::max);
    let wet = week
        .chunks(AN_HOUR)
        .filter(|hour| sum(hour, |r| r.rain) > 0.1)
        .count();
    let warmest = most(week, |r| r.temperature);
    let score = fair.min(3) as f64
        + broken.min(2) as f64
        + dull.min(1) as f64
        + hour.min(8.0) / 4.0
        + (warmest.min(28.0) - 22.0) / 3.0
        - (wet as f64 - 14.0).max(0.0) / 7.0;
    let words = format!(
        "{fair} fair, {broken} broken, {dull} dull days, most {hour:.1} mm in an hour, {wet} wet hours, {warmest:.0} degC"
    );
    (score, words)
}

/// Thirty hours around a cold front; the sixteenth hour begins with it.
fn front(hours: &[Record]) -> (f64, String) {
    let at = 15 * AN_HOUR;
    let drop = mean(&hours[at - 9..at - 3], |r| r.temperature)
        - mean(&hours[at + 6..at + 12], |r| r.temperature);
    let before = from_deg(&hours[at - 2 * AN_HOUR..at - 3]);
    let after = from_deg(&hours[at + 3..at + 2 * AN_HOUR]);
    let veer = (after - before + 540.0) % 360.0 - 180.0;
    let fall = hours[at - 3 * AN_HOUR].pressure - hours[at].pressure;
    let rise = hours[at + 3 * AN_HOUR].pressure - hours[at].pressure;
    let rain = sum(&hours[at - 4 * AN_HOUR..at + 2 * AN_HOUR], |r| r.rain);
    let later = sum(&hours[at + 5 * AN_HOUR..], |r| r.rain);
    let clearing = mean(&hours[at - 3 * AN_HOUR..at], |r| r.cloud)
        - mean(&hours[at + 2 * AN_HOUR..at + 8 * AN_HOUR], |r| r.cloud);
    let light = mean(&hours[at..at + 6 * AN_HOUR], |r| r.global);
    let score = drop.min(6.0)
        + veer.min(90.0) / 20.0
        + fall.min(4.0)
        + rise.min(4.0)
        + rain.min(10.0) / 3.0
        + 4.0 * clearing
        - later.min(4.0)
        + light.min(300.0) / 150.0;
    let words = format!(
        "{drop:.1} K colder, veer {veer:.0}, {fall:.1} hPa fall, {rise:.1} hPa rise, {rain:.1} mm, cloud -{clearing:.2}"
    );
    (score, words)
}

/// A day with one shower of the afternoon and the cold air below it.
fn shower(day: &[Record]) -> (f64, String) {
    let (score, words) = (9 * AN_HOUR..19 * AN_HOUR)
        .map(|at| {
            let peak = sum(&day[at..at + 3], |r| r.rain);
            let around = sum(&day[at - AN_HOUR..at + 2 * AN_HOUR], |r| r.rain);
            let rest = sum(day, |r| r.rain) - around;
            let drop = mean(&day[at - 3..at - 1], |r| r.temperature)
                - least(&day[at..at + 6], |r| r.temperature);
            let jump = most(&day[at - 2..at + 3], |r| r.gust)
                - most(&day[at - AN_HOUR..at - 2], |r| r.gust);
            let score = peak.min(8.0) / 2.0 + drop.min(8.0) + jump.min(8.0) - rest.min(6.0)
                + mean(day, |r| r.global).min(250.0) / 60.0;
            let words = format!(
                "{}:{}0 {peak:.1} mm in half an hour, {drop:.1} K colder, gust {jump:+.1} m/s, rest {rest:.1} mm",
                at / AN_HOUR, at % AN_HOUR
            );
            (score, words)
        })
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .unwrap_or_default();
    (score, words)
}

/// Name, length in records, step in records, measure, and the months that count.
type Kind = (
    &'static str,
    usize,
    usize,
    fn(&[Record]) -> (f64, String),
    fn(usize) -> bool,
);

const KINDS: [Kind; 4] = [
    ("winter_week", A_WEEK, A_DAY, winter, |day| {
        !(60..330).contains(&day)
    }),
    ("summer_week", A_WEEK, A_DAY, summer, |day| {
        (150..235).contains(&day)
    }),
    ("cold_front", 30 * AN_HOUR, AN_HOUR, front, |_| true),
    ("shower", A_DAY, A_DAY, shower, |day| {
        (120..260).contains(&day)
    }),
];

/// Print the best of each kind among the years of seeds 1 to `years`.
pub fn print(years: u64) {
    let mut found: [Vec<(f64, String)>; 4] = Default::default();
    for seed in 1..=years {
        let records = year(seed);
        for (kind, best) in KINDS.iter().zip(&mut found) {
            let (_, length, step, measure, counts) = kind;
            for begin in (0..=records.len() - length).step_by(*step) {
                if counts(begin / A_DAY) {
                    let (score, words) = measure(&records[begin..begin + length]);
                    let start = jiff::civil::date(2026, 1, 1).at(0, 0, 0, 0)
                        + jiff::Span::new().hours((begin / AN_HOUR) as i64);
                    best.push((score, format!("seed {seed} {start}: {words}")));
                }
            }
            best.sort_by(|a, b| b.0.total_cmp(&a.0));
            best.truncate(8);
        }
    }
    for (kind, best) in KINDS.iter().zip(&found) {
        println!("{}", kind.0);
        for (score, words) in best {
            println!("  {score:5.1} {words}");
        }
    }
}
