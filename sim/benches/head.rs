//! What one interval of a station costs: site, noise, twin and actual head.
//!
//! `cargo bench -p benchmast-sim --bench head`. Each sample is a day of 16 s intervals; divide by 5400.

use benchmast_sim::condition::Condition;
use benchmast_sim::entropy::Seed;
use benchmast_sim::head::noise::NoiseSource;
use benchmast_sim::head::{Head, Parameters};
use benchmast_sim::physics::sun::SunDirection;
use benchmast_sim::site::{Place, Site, Surroundings};
use benchmast_sim::station::Station;
use benchmast_sim::truth::{Truth, WindSample};
use divan::{Bencher, black_box, counter::ItemsCount};

const INTERVALS: usize = 5400;
const PLACE: Place = Place {
    latitude_deg: 50.0,
    longitude_deg: 8.0,
    altitude_m: 200.0,
};

fn main() {
    divan::main();
}

/// A day with sun, wind from all round, and rain in a tenth of it.
fn day() -> Vec<Truth> {
    let mut stream = Seed(5).stream("bench", "weather");
    (0..INTERVALS)
        .map(|step| {
            let phase = step as f64 / INTERVALS as f64;
            let up = -libm::cos(core::f64::consts::TAU * phase);
            let light = up.max(0.0);
            let temperature = 12.0 + 6.0 * up;
            let mean = 3.0 + 2.0 * up;
            let wind: [WindSample; 4] = core::array::from_fn(|_| WindSample {
                speed_ms: (mean + stream.normal()).max(0.0),
                from_direction_deg: (360.0 * phase + 20.0 * stream.normal()).rem_euclid(360.0),
            });
            Truth {
                interval_s: 16.0,
                air_temperature_degc: temperature,
                vapour_pressure_hpa: 9.0,
                air_pressure_hpa: 1000.0 + up,
                wind,
                wind_speed_ms: wind.iter().map(|sample| sample.speed_ms).sum::<f64>() / 4.0,
                rainfall_mm: if step % 540 < 54 { 0.02 } else { 0.0 },
                cloud_area_fraction: 0.3,
                sun: SunDirection {
                    east: 0.0,
                    north: 0.0,
                    up,
                },
                global_irradiance_wm2: 800.0 * light,
                direct_normal_irradiance_wm2: 600.0 * light,
                illuminance_lx: 90_000.0 * light,
                ultraviolet_index: 6.0 * light,
                ..Truth::default()
            }
        })
        .collect()
}

fn run(bencher: Bencher<'_, '_>, apart: bool, condition: &Condition) {
    let mut truths = day();
    bencher
        .counter(ItemsCount::new(INTERVALS))
        .with_inputs(|| {
            let mut station = Station::new(
                &Parameters::default(),
                PLACE,
                Site::default(),
                Seed(1),
                "bench",
                0,
            );
            if apart {
                station.part();
            }
            station
        })
        .bench_local_values(|mut station| {
            for truth in &mut truths {
                truth.time_us = station.next_time_us();
                black_box(station.step(truth, condition));
            }
            station
        });
}

/// Both heads computed, nothing wrong.
#[divan::bench]
fn station_apart(bencher: Bencher<'_, '_>) {
    run(bencher, true, &Condition::HEALTHY);
}

/// All knobs turned.
#[divan::bench]
fn station_all_faults(bencher: Bencher<'_, '_>) {
    let condition = Condition {
        arrow_azimuth_deg: 30.0,
        funnel_opening: 0.3,
        shield_airflow: 0.2,
        hygrometer_film: 0.8,
        vane_friction: 0.5,
        cells_charge: 0.1,
    };
    run(bencher, true, &condition);
}

/// One computation for both heads, as long as nothing has ever been wrong.
#[divan::bench]
fn station_together(bencher: Bencher<'_, '_>) {
    run(bencher, false, &Condition::HEALTHY);
}

/// Site and noise alone.
#[divan::bench]
fn site_and_noise(bencher: Bencher<'_, '_>) {
    let truths = day();
    let mut surroundings = Surroundings::new(Site::default());
    let mut noise = NoiseSource::new(Seed(1), "bench");
    bencher.counter(ItemsCount::new(INTERVALS)).bench_local(|| {
        for truth in &truths {
            black_box((surroundings.expose(truth), noise.draw()));
        }
    });
}

/// One head alone.
#[divan::bench]
fn one_head(bencher: Bencher<'_, '_>) {
    let mut surroundings = Surroundings::new(Site::default());
    let mut source = NoiseSource::new(Seed(1), "bench");
    let inputs: Vec<_> = day()
        .iter()
        .map(|truth| (surroundings.expose(truth), source.draw()))
        .collect();
    let mut head = Head::new(
        &Parameters::default(),
        &mut Seed(1).stream("bench", "calibration"),
    );
    bencher.counter(ItemsCount::new(INTERVALS)).bench_local(|| {
        for (exposure, noise) in &inputs {
            black_box(head.step(exposure, &Condition::HEALTHY, noise));
        }
    });
}
