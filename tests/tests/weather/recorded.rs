//! Recorded weather: a real fortnight keeps its records, and what lies between them is weather.

use super::{HOUR_US, START_US, STEP_US, check, mean, place};
use benchmast_sim::entropy::Seed;
use benchmast_sim::site::{LocalWind, Place, Site};
use benchmast_sim::truth::Truth;
use benchmast_sim::weather::Weather;
use benchmast_sim::weather::recorded::Record;

/// The real fortnight (`data/WEATHER.md`).
fn fortnight() -> Vec<Record> {
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/data/hourly_record_2013_09.csv"
    );
    let mut reader = csv::Reader::from_path(path).unwrap();
    // 2013-09-10T00:00:00Z; the extract has every hour.
    let start_us = 1_378_771_200_000_000;
    reader
        .records()
        .zip(0..)
        .map(|(row, i)| {
            let row = row.unwrap();
            let (day, hour) = (10 + i / 24, i % 24);
            assert_eq!(&row[0], format!("2013-09-{day}T{hour:02}:00:00Z"));
            let cell = |column: usize| row[column].parse::<f64>().ok();
            Record {
                time_us: start_us + i * HOUR_US,
                air_temperature_degc: cell(1),
                dew_point_degc: cell(2),
                air_pressure_at_mean_sea_level_hpa: cell(3),
                wind_speed_ms: cell(4),
                wind_from_direction_deg: cell(5),
                rainfall_mm: cell(6),
                cloud_area_fraction: cell(7),
            }
        })
        .collect()
}

#[test]
fn a_real_fortnight_keeps_its_records() {
    let records = fortnight();
    assert_eq!(records.len(), 337);
    let place = Place {
        latitude_deg: 40.64,
        longitude_deg: -73.78,
        altitude_m: 0.0,
    };
    let start = records[0].time_us;
    let site = Site {
        height_m: 10.0,
        roughness_length_m: 0.03,
        local_wind: LocalWind::None,
        ..Site::OPEN
    };
    let mut weather =
        Weather::recorded(&records, 10.0, place, site, Seed(1), "s", start, 16.0).unwrap();
    let (mut total, mut expected_total) = (0.0, 0.0);
    let (mut wind, mut recorded_wind) = (Vec::new(), Vec::new());
    let mut steps = Vec::new();
    let mut before = None;
    for (i, record) in records.iter().enumerate().skip(1) {
        let mut rain = 0.0;
        let mut last = Truth::default();
        for n in 1..=225 {
            last = weather.advance(records[i - 1].time_us + n * STEP_US);
            check(&last);
            rain += last.rainfall_mm;
            wind.push(last.wind_speed_ms);
            if let Some(before) = before.replace(last.air_temperature_degc) {
                steps.push(f64::abs(last.air_temperature_degc - before));
            }
        }
        assert_eq!(last.time_us, record.time_us);
        let expected = record.rainfall_mm.unwrap();
        assert!(
            (rain - expected).abs() < 1e-9,
            "record {i}: {rain} {expected}"
        );
        total += rain;
        expected_total += expected;
        let temperature = record.air_temperature_degc.unwrap();
        assert!(
            (last.air_temperature_degc - temperature).abs() < 1e-9,
            "record {i}"
        );
        let dew = record.dew_point_degc.unwrap().min(temperature);
        // The dew point of a step comes from a table of saturation: within 1e-5 K.
        assert!((last.dew_point_degc - dew).abs() < 1e-5, "record {i}");
        if let Some(pressure) = record.air_pressure_at_mean_sea_level_hpa {
            // At sea level, so that reduction is nothing.
            assert!(
                (last.air_pressure_hpa - pressure).abs() < 1e-9,
                "record {i}"
            );
        }
        recorded_wind.push(record.wind_speed_ms.unwrap());
    }
    assert!(
        (total - expected_total).abs() < 1e-9 && (total - 48.006).abs() < 1e-6,
        "{total}"
    );
    let (made, real) = (mean(wind), mean(recorded_wind));
    assert!((made / real - 1.0).abs() < 0.05, "{made} {real}");
    // It is not a staircase of straight lines: temperature moves in nearly every step, by little.
    assert!(steps.iter().filter(|&&s| s > 0.0).count() > steps.len() * 9 / 10);
    assert!(steps.iter().copied().fold(0.0, f64::max) < 2.0);
}

/// Ten days of the same values every hour.
fn even(wind_speed_ms: f64, rainfall_mm: f64) -> Weather {
    let records: Vec<Record> = (0..=240)
        .map(|i| Record {
            time_us: START_US + i * HOUR_US,
            air_temperature_degc: Some(12.0),
            dew_point_degc: Some(11.8),
            air_pressure_at_mean_sea_level_hpa: Some(1005.0),
            wind_speed_ms: Some(wind_speed_ms),
            wind_from_direction_deg: Some(200.0),
            rainfall_mm: Some(rainfall_mm * f64::from(u8::from(i % 24 > 8 && i % 24 < 15))),
            cloud_area_fraction: None,
        })
        .collect();
    let site = Site::default();
    Weather::recorded(
        &records,
        10.0,
        place(20.0),
        site,
        Seed(4),
        "s",
        START_US,
        16.0,
    )
    .unwrap()
}

fn spread(values: &[f64]) -> f64 {
    let average = mean(values.iter().copied());
    mean(values.iter().map(|v| (v - average) * (v - average))).sqrt()
}

#[test]
fn the_air_is_as_restless_near_a_record_as_between_two() {
    let mut weather = even(4.0, 0.0);
    // Changes of temperature in the five minutes around each record but its own two, and at mid-hour.
    let (mut near, mut far) = (Vec::new(), Vec::new());
    let mut before = weather.advance(START_US);
    for n in 1..=240 * 225_i64 {
        let t = weather.advance(START_US + n * STEP_US);
        let change = t.air_temperature_degc - before.air_temperature_degc;
        match n % 225 {
            8..=19 | 206..=217 => near.push(change),
            100..=124 => far.push(change),
            _ => {}
        }
        before = t;
    }
    let ratio = spread(&near) / spread(&far);
    assert!((0.85..1.15).contains(&ratio), "{ratio}");
}

#[test]
fn a_calm_is_light_air_between_its_records() {
    let mut weather = even(0.0, 0.0);
    let mut speeds = Vec::new();
    for n in 1..=240 * 225_i64 {
        let t = weather.advance(START_US + n * STEP_US);
        if n % 225 == 0 {
            assert_eq!(t.wind_speed_ms, 0.0);
        } else if (10..215).contains(&(n % 225)) {
            speeds.push(t.wind_speed_ms);
        }
    }
    let average = mean(speeds.iter().copied());
    assert!((0.2..0.8).contains(&average), "{average}");
    assert!(speeds.iter().all(|&s| s < 2.5));
    assert!(spread(&speeds) > 0.1);
}

#[test]
fn light_in_rain_is_neither_even_nor_out_of_bounds() {
    let mut weather = even(4.0, 2.0);
    let (mut shares, mut jump, mut before) = (Vec::new(), 0.0_f64, None);
    for n in 1..=240 * 225_i64 {
        let t = weather.advance(START_US + n * STEP_US);
        let share = t.global_irradiance_wm2 / (1100.0 * t.sun.up);
        if t.sun.up > 0.5 && t.rainfall_mm > 0.0 {
            shares.push(share);
            if let Some(before) = before.replace(share) {
                jump = jump.max(f64::abs(share - before));
            }
        } else {
            before = None;
        }
    }
    assert!(shares.len() > 2000, "{}", shares.len());
    assert!(spread(&shares) > 0.02, "{}", spread(&shares));
    assert!(shares.iter().all(|s| (0.02..0.4).contains(s)));
    assert!(jump < 0.06, "{jump}");
}
