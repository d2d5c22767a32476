//! Prints the truth of a stretch of synthetic weather as CSV, thinned, for a plot.
//!
//! `cargo run --release -p benchmast-sim --example dump_weather -- temperate_maritime 51 0 50 1767225600 14 1 37`
//! (climate, latitude, longitude, altitude in m, start in s since 1970, days, seed, steps per line; a ninth
//! argument is the length of a step, 16 s unless given, a tenth the height of the head). The climate may be a file of twelve lines of eight
//! numbers: temperature, daily range, dew point, rain, wet hours, wind, its direction, cloud.

use benchmast_sim::entropy::Seed;
use benchmast_sim::site::{Place, Site};
use benchmast_sim::weather::climate::{Climate, Normals};
use benchmast_sim::weather::{Region, Weather};

/// Normals from a file.
fn normals(path: &str) -> Climate {
    let text = std::fs::read_to_string(path).expect("a climate or a file of normals");
    let rows: Vec<Vec<f64>> = text
        .lines()
        .map(|line| {
            let words = line.split([',', ' ']).filter(|word| !word.is_empty());
            words.map(|word| word.parse().expect("a number")).collect()
        })
        .collect();
    let mut climate = Climate::by_name("continental").expect("a climate");
    for (month, row) in climate.months.iter_mut().zip(rows) {
        *month = Normals {
            mean_temperature_degc: row[0],
            daily_range_k: row[1],
            mean_dew_point_degc: row[2],
            rain_mm: row[3],
            wet_hours: row[4],
            mean_wind_speed_ms: row[5],
            prevailing_direction_deg: row[6],
            cloud_area_fraction: row[7],
            ..*month
        };
    }
    climate
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let number = |i: usize| arguments[i].parse::<f64>().expect("a number");
    let place = Place {
        latitude_deg: number(1),
        longitude_deg: number(2),
        altitude_m: number(3),
    };
    let climate = Climate::by_name_at(&arguments[0], place.latitude_deg)
        .unwrap_or_else(|| normals(&arguments[0]));
    let start_us = number(4) as i64 * 1_000_000;
    let interval_s: i64 = arguments.get(8).map_or(16, |s| s.parse().expect("seconds"));
    let steps = (number(5) * 86_400.0) as i64 / interval_s;
    let (seed, thin) = (Seed(number(6) as u64), number(7) as i64);
    let height_m = arguments.get(9).map(|s| s.parse().expect("metres"));
    let site = Site {
        height_m: height_m.unwrap_or(Site::default().height_m),
        ..Site::default()
    };
    let mut weather = Weather::synthetic(
        &Region::new(&climate, place, seed),
        place,
        site,
        "station",
        start_us,
        interval_s as f64,
    );
    println!("time_s,t,td,rh,p,u,gust,dir,rain,cloud,up,ghi,dni,dhi,lux,uv");
    let (mut rain, mut gust) = (0.0, 0.0_f64);
    for n in 1..=steps {
        let t = weather.advance(start_us + n * interval_s * 1_000_000);
        rain += t.rainfall_mm;
        gust = gust.max(t.wind_speed_of_gust_ms);
        if n % thin == 0 {
            println!(
                "{},{:.3},{:.3},{:.2},{:.3},{:.2},{:.2},{:.0},{:.4},{:.3},{:.4},{:.1},{:.1},{:.1},{:.0},{:.2}",
                t.time_us / 1_000_000,
                t.air_temperature_degc,
                t.dew_point_degc,
                t.relative_humidity_percent,
                t.air_pressure_hpa,
                t.wind_speed_ms,
                gust,
                t.wind_from_direction_deg,
                rain,
                t.cloud_area_fraction,
                t.sun.up,
                t.global_irradiance_wm2,
                t.direct_normal_irradiance_wm2,
                t.diffuse_irradiance_wm2,
                t.illuminance_lx,
                t.ultraviolet_index
            );
            rain = 0.0;
            gust = 0.0;
        }
    }
}
