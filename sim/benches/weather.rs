//! Time of one 16 s step of weather, and of setting one up. `cargo bench -p benchmast-sim --bench weather`.

use benchmast_sim::entropy::Seed;
use benchmast_sim::site::{Place, Site};
use benchmast_sim::weather::climate::Climate;
use benchmast_sim::weather::recorded::Record;
use benchmast_sim::weather::{Region, Weather};
use divan::Bencher;
use divan::counter::ItemsCount;

const START_US: i64 = 1_767_225_600_000_000;
const STEP_US: i64 = 16_000_000;
const PLACE: Place = Place {
    latitude_deg: 50.0,
    longitude_deg: 10.0,
    altitude_m: 100.0,
};

fn main() {
    divan::main();
}

fn synthetic(name: &str) -> Weather {
    let climate = Climate::by_name(name).expect("a climate");
    Weather::synthetic(
        &Region::new(&climate, PLACE, Seed(1)),
        PLACE,
        Site::default(),
        "station",
        START_US,
        16.0,
    )
}

fn run(weather: &mut Weather, steps: i64) -> f64 {
    (1..=steps)
        .map(|n| {
            let truth = weather.advance(START_US + n * STEP_US);
            truth.air_temperature_degc + truth.rainfall_mm
        })
        .sum()
}

/// Forty days from one weather; the items are steps.
#[divan::bench(args = ["temperate_maritime", "continental"], sample_count = 10)]
fn step_synthetic(bencher: Bencher<'_, '_>, name: &str) {
    let steps = 40 * 5400;
    let weather = synthetic(name);
    bencher
        .counter(ItemsCount::new(steps as usize))
        .with_inputs(|| weather.clone())
        .bench_refs(|weather| run(weather, steps));
}

#[divan::bench(sample_count = 10)]
fn step_recorded(bencher: Bencher<'_, '_>) {
    let steps = 40 * 5400;
    let records: Vec<Record> = (0..41 * 24)
        .map(|i| Record {
            time_us: START_US + i * 3_600_000_000,
            air_temperature_degc: Some(10.0 + (i % 24) as f64 * 0.1),
            dew_point_degc: Some(5.0),
            air_pressure_at_mean_sea_level_hpa: Some(1010.0),
            wind_speed_ms: Some(4.0),
            wind_from_direction_deg: Some((i * 7 % 360) as f64),
            rainfall_mm: Some(if i % 15 == 0 { 1.0 } else { 0.0 }),
            cloud_area_fraction: None,
        })
        .collect();
    let weather = Weather::recorded(
        &records,
        10.0,
        PLACE,
        Site::default(),
        Seed(1),
        "station",
        START_US,
        16.0,
    )
    .expect("good records");
    bencher
        .counter(ItemsCount::new(steps as usize))
        .with_inputs(|| weather.clone())
        .bench_refs(|weather| run(weather, steps));
}

#[divan::bench(sample_count = 10)]
fn set_up_synthetic() -> Weather {
    synthetic("continental")
}

#[divan::bench(sample_count = 10)]
fn normals(bencher: Bencher<'_, '_>) {
    let mut stream = Seed(1).stream("bench", "normals");
    bencher
        .counter(ItemsCount::new(1_000_000_usize))
        .bench_local(|| (0..1_000_000).map(|_| stream.normal()).sum::<f64>());
}
