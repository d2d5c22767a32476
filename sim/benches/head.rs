//! What one interval of a station costs: site, noise, twin and actual head.
//!
//! `cargo bench -p benchmast-sim --bench head`. Each sample is a day of 16 s intervals; divide by 5400.

use benchmast_sim::condition::Condition;
use benchmast_sim::entropy::Seed;
use benchmast_sim::head::anemometer::{self, Anemometer};
use benchmast_sim::head::hygrometer::Hygrometer;
use benchmast_sim::head::light::Light;
use benchmast_sim::head::noise::{Noise, NoiseSource};
use benchmast_sim::head::power::Power;
use benchmast_sim::head::rain_gauge::RainGauge;
use benchmast_sim::head::thermometer::Thermometer;
use benchmast_sim::head::vane::{self, Vane};
use benchmast_sim::head::{Head, Parameters, Response};
use benchmast_sim::physics::sun::SunDirection;
use benchmast_sim::site::obstacles::Obstacle;
use benchmast_sim::site::surface::Surface;
use benchmast_sim::site::{Exposure, Place, Site, Surroundings};
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
                relative_humidity_percent: 900.0
                    / benchmast_sim::physics::moist_air::saturation_vapour_pressure_hpa(
                        temperature,
                    ),
                wet_bulb_degc: temperature - 2.5,
                net_longwave_wm2: -60.0,
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
    run_at(bencher, apart, condition, Site::OPEN);
}

fn run_at(bencher: Bencher<'_, '_>, apart: bool, condition: &Condition, site: Site) {
    let mut truths = day();
    bencher
        .counter(ItemsCount::new(INTERVALS))
        .with_inputs(|| {
            let mut station =
                Station::new(&Parameters::default(), PLACE, site, Seed(1), "bench", 0);
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

/// Both heads among houses, on paving, under a hilly horizon: what a site that is not open adds.
#[divan::bench]
fn station_in_a_yard(bencher: Bencher<'_, '_>) {
    run_at(bencher, true, &Condition::HEALTHY, yard());
}

/// A site with everything in the way.
fn yard() -> Site {
    let mut site = Site {
        surface: Surface::Paving,
        horizon_deg: [4.0; 36],
        ..Site::OPEN
    };
    for sector in [1, 2, 6, 7, 10] {
        site.obstacles[sector] = Obstacle {
            distance_m: 15.0,
            height_m: 7.0,
            ..Obstacle::NONE
        };
    }
    site
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
    let inputs = exposures();
    let mut head = Head::new(
        &Parameters::default(),
        &mut Seed(1).stream("bench", "calibration"),
    );
    bencher.counter(ItemsCount::new(INTERVALS)).bench_local(|| {
        for (exposure, noise) in &inputs {
            black_box(head.step(
                exposure,
                &Response::to(exposure),
                &Condition::HEALTHY,
                noise,
            ));
        }
    });
}

fn exposures() -> Vec<(Exposure, Noise)> {
    let mut surroundings = Surroundings::new(Site::default());
    let mut source = NoiseSource::new(Seed(1), "bench");
    day()
        .iter()
        .map(|truth| (surroundings.expose(truth), source.draw()))
        .collect()
}

fn sensor(bencher: Bencher<'_, '_>, mut step: impl FnMut(&Exposure, &Noise) -> f64) {
    let inputs = exposures();
    bencher.counter(ItemsCount::new(INTERVALS)).bench_local(|| {
        for (exposure, noise) in &inputs {
            black_box(step(exposure, noise));
        }
    });
}

/// The thermometer alone.
#[divan::bench]
fn thermometer(bencher: Bencher<'_, '_>) {
    let mut thermometer = Thermometer::new(0.1);
    sensor(bencher, |exposure, noise| {
        thermometer.step(exposure, &Condition::HEALTHY, noise.temperature)
    });
}

/// The hygrometer alone.
#[divan::bench]
fn hygrometer(bencher: Bencher<'_, '_>) {
    let mut hygrometer = Hygrometer::new(1.0);
    sensor(bencher, |exposure, noise| {
        hygrometer.step(
            exposure,
            exposure.air_temperature_degc + 0.3,
            &Condition::HEALTHY,
            noise.humidity,
        )
    });
}

/// The rain gauge alone.
#[divan::bench]
fn rain_gauge(bencher: Bencher<'_, '_>) {
    let mut gauge = RainGauge::new(0.3, 0.0);
    sensor(bencher, |exposure, _| {
        f64::from(gauge.step(exposure, &Condition::HEALTHY))
    });
}

/// The cups alone.
#[divan::bench]
fn cups(bencher: Bencher<'_, '_>) {
    let mut cups = Anemometer::new(1.02, 0.5);
    sensor(bencher, |exposure, _| {
        cups.step(exposure, &anemometer::Response::to(exposure), 16.0)
            .gust_ms
    });
}

/// The vane alone.
#[divan::bench]
fn wind_vane(bencher: Bencher<'_, '_>) {
    let mut vane = Vane::new();
    sensor(bencher, |exposure, noise| {
        let response = vane::Response::to(exposure);
        vane.step(
            exposure,
            &response,
            &Condition::HEALTHY,
            noise.flutter,
            noise.position,
        )
    });
}

/// The light and UV sensors alone.
#[divan::bench]
fn light(bencher: Bencher<'_, '_>) {
    let mut light = Light::new(1.02, 0.5, 0.98);
    sensor(bencher, |exposure, noise| {
        light.step(exposure, noise.light, noise.ultraviolet).0
    });
}

/// The supply alone.
#[divan::bench]
fn power(bencher: Bencher<'_, '_>) {
    let mut power = Power::new(&Parameters::default());
    sensor(bencher, |exposure, _| {
        power.step(exposure, &Condition::HEALTHY);
        power.store_v()
    });
}
