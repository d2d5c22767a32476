//! Every named climate, in both hemispheres: monthly means of ten years against the normals.
//!
//! The tolerance is the sampling error: the spread of the ten single years about their mean gives the
//! standard error of that mean; beside it stands the fit's own, which rests on a finite ensemble of other
//! years and is reckoned as large as that of ten years. So the tolerance for one month is `Z` times
//! `sqrt(2)` standard errors, plus a small floor for what is not noise (interpolation between months).

use super::*;

/// Standard errors allowed for one month of one quantity. There are 7 climates, 12 months and 6 quantities,
/// and single-year spreads of ten years are known to a quarter only: Student's t with nine degrees of
/// freedom exceeds 5 once in 1400 draws.
const Z: f64 = 5.0;
const YEARS_RUN: usize = 10;
const STEP: i64 = 600_000_000;

/// Temperature, dew point, range, wind, cloud, rain of each month of each year.
fn months(name: &str, latitude: f64, seed: u64) -> Vec<[[f64; 6]; 12]> {
    let place = place(latitude);
    let mut weather = weather(name, place, seed, "station", 600.0);
    let ratio = exposure_ratio(Site::default().height_m, Site::default().roughness_length_m);
    // Months of the mean year, as the normals are read.
    let month_us = 365.2425 * 86_400e6 / 12.0;
    let begin = 946_684_800_000_000.0;
    let mut years = vec![[[0.0; 6]; 12]; YEARS_RUN];
    let mut counts = vec![[[0.0; 2]; 12]; YEARS_RUN];
    let (mut low, mut high, mut day) = (f64::MAX, f64::MIN, 0);
    let first = ((START_US as f64 - begin) / month_us).ceil() as i64;
    let steps = (YEARS_RUN as f64 + 0.2) * 12.0 * month_us / STEP as f64;
    for n in 1..=steps as i64 {
        let t = weather.advance(START_US + n * STEP);
        let at = ((t.time_us as f64 - begin) / month_us).floor() as i64 - first;
        let (year, month) = (at.div_euclid(12), (at + first).rem_euclid(12) as usize);
        if n / 144 != day {
            day = n / 144;
            if (0..YEARS_RUN as i64).contains(&year) && high > low {
                years[year as usize][month][2] += high - low;
                counts[year as usize][month][1] += 1.0;
            }
            (low, high) = (f64::MAX, f64::MIN);
        }
        low = low.min(t.air_temperature_degc);
        high = high.max(t.air_temperature_degc);
        if !(0..YEARS_RUN as i64).contains(&year) {
            continue;
        }
        let sum = &mut years[year as usize][month];
        counts[year as usize][month][0] += 1.0;
        sum[0] += t.air_temperature_degc;
        sum[1] += t.dew_point_degc;
        sum[3] += t.wind_speed_ms / ratio;
        sum[4] += t.cloud_area_fraction;
        sum[5] += t.rainfall_mm + t.snowfall_mm;
    }
    for (year, count) in years.iter_mut().zip(&counts) {
        for (sum, count) in year.iter_mut().zip(count) {
            for i in [0, 1, 3, 4] {
                sum[i] /= count[0];
            }
            sum[2] /= count[1];
        }
    }
    years
}

fn meets(name: &str, latitude: f64, seed: u64) {
    let climate = Climate::by_name_at(name, latitude).unwrap();
    let years = months(name, latitude, seed);
    let n = YEARS_RUN as f64;
    let mut misses = Vec::new();
    for (m, normals) in climate.months.iter().enumerate() {
        let expected = [
            ("temperature", normals.mean_temperature_degc, 0.15),
            ("dew point", normals.mean_dew_point_degc, 0.3),
            ("range", normals.daily_range_k, 0.06 * normals.daily_range_k),
            (
                "wind",
                normals.mean_wind_speed_ms,
                0.05 * normals.mean_wind_speed_ms,
            ),
            // The fit sees 480 instants of a month: three times 0.4 / sqrt(480).
            ("cloud", normals.cloud_area_fraction, 0.055),
            // Where a year has one shower or none, ten years may have none.
            ("rain", normals.rain_mm, 1.0 + 0.05 * normals.rain_mm),
        ];
        for (q, (what, expected, floor)) in expected.into_iter().enumerate() {
            let value = mean(years.iter().map(|y| y[m][q]));
            let square = mean(years.iter().map(|y| (y[m][q] - value) * (y[m][q] - value)));
            let error = (square / (n - 1.0)).sqrt();
            let tolerance = floor + Z * std::f64::consts::SQRT_2 * error;
            if (value - expected).abs() > tolerance {
                misses.push(format!(
                    "{name} {latitude} month {}: {what} {value:.2}, normal {expected:.2}, standard error {error:.2}",
                    m + 1
                ));
            }
        }
    }
    assert!(misses.is_empty(), "{}", misses.join("\n"));
}

#[test]
fn maritime_and_continental_years_meet_their_normals() {
    meets("temperate_maritime", 51.0, 7);
    meets("continental", -41.0, 8);
}

#[test]
fn mediterranean_and_subtropical_years_meet_their_normals() {
    meets("mediterranean", 38.0, 9);
    meets("humid_subtropical", -32.0, 10);
}

#[test]
fn arid_years_meet_their_normals() {
    meets("arid", 27.0, 11);
}

#[test]
fn subarctic_years_meet_their_normals() {
    meets("subarctic", 64.0, 12);
}

#[test]
fn equatorial_years_meet_their_normals() {
    meets("equatorial", 2.0, 13);
    meets("equatorial", -4.0, 14);
}
