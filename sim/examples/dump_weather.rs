//! Prints the truth of a stretch of synthetic weather as CSV, thinned, for a plot.
//!
//! `cargo run --release -p benchmast-sim --example dump_weather -- temperate_maritime 51 0 50 1767225600 14 1 37`
//! (climate, latitude, longitude, altitude in m, start in s since 1970, days, seed, steps of 16 s per line).

use benchmast_sim::entropy::Seed;
use benchmast_sim::site::{Place, Site};
use benchmast_sim::weather::climate::Climate;
use benchmast_sim::weather::{Region, Weather};

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let number = |i: usize| arguments[i].parse::<f64>().expect("a number");
    let place = Place {
        latitude_deg: number(1),
        longitude_deg: number(2),
        altitude_m: number(3),
    };
    let climate = Climate::by_name_at(&arguments[0], place.latitude_deg).expect("a climate");
    let start_us = number(4) as i64 * 1_000_000;
    let steps = (number(5) * 5400.0) as i64;
    let (seed, thin) = (Seed(number(6) as u64), number(7) as i64);
    let mut weather = Weather::synthetic(
        &Region::new(&climate, place, seed),
        place,
        Site::default(),
        "station",
        start_us,
        16.0,
    );
    println!("time_s,t,td,rh,p,u,gust,dir,rain,cloud,up,ghi,dni,dhi,lux,uv");
    let (mut rain, mut gust) = (0.0, 0.0_f64);
    for n in 1..=steps {
        let t = weather.advance(start_us + n * 16_000_000);
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
