//! What a turned knob moves and what it leaves alone, on ten invented days.

use super::*;
use crate::condition::KNOBS;
use crate::entropy::Stream;
use crate::physics::moist_air::saturation_vapour_pressure_hpa;
use crate::physics::sun::SunDirection;
use crate::truth::WindSample;
use benchmast_protocol::frame::RestartCause;
use benchmast_protocol::quantity::{CellsVoltage, Quantity};
use std::vec::Vec;

const PLACE: Place = Place {
    latitude_deg: 50.0,
    longitude_deg: 8.0,
    altitude_m: 100.0,
};

/// Ten invented days and nights of 16 s: sun and wind by day, damp nights, a shower every afternoon.
struct Days {
    stream: Stream,
    start_us: i64,
    dark: bool,
}

impl Days {
    fn new() -> Self {
        Self {
            stream: Seed(99).stream("test", "weather"),
            start_us: 0,
            dark: false,
        }
    }

    fn truth(&mut self, from_us: i64, until_us: i64) -> Truth {
        let day = (until_us - self.start_us) as f64 / 86_400e6;
        let hour = 24.0 * (day - libm::floor(day));
        let up = if self.dark {
            -0.5
        } else {
            -0.75 * libm::cos(core::f64::consts::TAU * hour / 24.0)
        };
        let light = up.max(0.0);
        let temperature = 14.0 + 8.0 * up;
        let saturation = saturation_vapour_pressure_hpa(temperature);
        let vapour = saturation.min(11.0);
        let mean = 2.0 + 3.0 * light;
        let wind: [WindSample; 4] = core::array::from_fn(|_| WindSample {
            speed_ms: (mean * (1.0 + 0.3 * self.stream.normal())).max(0.0),
            from_direction_deg: (200.0 + 60.0 * libm::sin(day * 5.0) + 12.0 * self.stream.normal())
                .rem_euclid(360.0),
        });
        let seconds = (until_us - from_us) as f64 * 1e-6;
        let raining = (15.0..15.5).contains(&hour);
        Truth {
            time_us: until_us,
            interval_s: seconds,
            air_temperature_degc: temperature,
            vapour_pressure_hpa: vapour,
            relative_humidity_percent: 100.0 * vapour / saturation,
            air_pressure_hpa: 1005.0 + 4.0 * libm::sin(day),
            wind,
            wind_speed_ms: wind.iter().map(|sample| sample.speed_ms).sum::<f64>() / 4.0,
            rainfall_mm: if raining {
                16.0 * seconds / 3600.0
            } else {
                0.0
            },
            sun: SunDirection {
                east: 0.0,
                north: 0.0,
                up,
            },
            global_irradiance_wm2: 900.0 * light,
            direct_normal_irradiance_wm2: 700.0 * light,
            illuminance_lx: 98_000.0 * light,
            ultraviolet_index: 7.0 * light,
            ..Truth::default()
        }
    }
}

fn station(seed: u64) -> Station {
    Station::new(
        &Parameters::default(),
        PLACE,
        Site::default(),
        Seed(seed),
        "test",
        0,
    )
}

/// Run `station` for so many days; the knobs as `condition` says at each step.
fn run(
    station: &mut Station,
    mut days: Days,
    length_days: f64,
    mut condition: impl FnMut(i64) -> Condition,
) -> Vec<Step> {
    let mut last_us = 0;
    let mut steps = Vec::new();
    while last_us < (length_days * 86_400e6) as i64 {
        let until_us = station.next_time_us();
        let truth = days.truth(last_us, until_us);
        steps.push(station.step(&truth, &condition(until_us)));
        last_us = until_us;
    }
    steps
}

fn faulty(turn: impl Fn(&mut Condition)) -> Condition {
    let mut condition = Condition::HEALTHY;
    turn(&mut condition);
    condition
}

/// The measured columns, rain last, as wire steps; what a fault may move is told by their names.
fn columns(reading: &Reading) -> [(&'static str, f64); 9] {
    let o = &reading.observation;
    [
        ("air_temperature", o.air_temperature.raw() as f64),
        ("relative_humidity", o.relative_humidity.raw() as f64),
        ("air_pressure", o.air_pressure.raw() as f64),
        ("wind_speed", o.wind_speed.raw() as f64),
        ("wind_speed_of_gust", o.wind_speed_of_gust.raw() as f64),
        ("wind_from_direction", o.wind_from_direction.raw() as f64),
        ("illuminance", o.illuminance.raw() as f64),
        ("ultraviolet_index", o.ultraviolet_index.raw() as f64),
        ("rain", reading.rainfall_mm),
    ]
}

/// Names of the columns in which the actual head ever differs from its twin.
fn moved(steps: &[Step]) -> Vec<&'static str> {
    let mut names = Vec::new();
    for step in steps {
        let pairs = columns(&step.twin).into_iter().zip(columns(&step.actual));
        for ((name, twin), (_, actual)) in pairs {
            if twin != actual && !names.contains(&name) {
                names.push(name);
            }
        }
    }
    names.sort_unstable();
    names
}

#[test]
fn a_healthy_head_computed_apart_is_its_twin_bit_for_bit() {
    let together = run(&mut station(1), Days::new(), 3.0, |_| Condition::HEALTHY);
    let mut parted = station(1);
    parted.part();
    let apart = run(&mut parted, Days::new(), 3.0, |_| Condition::HEALTHY);
    assert_eq!(together, apart);
    for step in &apart {
        assert_eq!(step.twin, step.actual);
        assert_eq!(step.twin.store_v.to_bits(), step.actual.store_v.to_bits());
    }
    let other_seed = run(&mut station(2), Days::new(), 0.1, |_| Condition::HEALTHY);
    assert_ne!(together[..other_seed.len()], other_seed[..]);
}

#[test]
fn every_knob_put_to_its_healthy_value_changes_nothing() {
    let plain = run(&mut station(3), Days::new(), 2.0, |_| Condition::HEALTHY);
    for knob in KNOBS {
        let condition = faulty(|c| (knob.set)(c, knob.healthy));
        let mut turned = station(3);
        turned.part();
        let steps = run(&mut turned, Days::new(), 2.0, |_| condition);
        assert_eq!(plain, steps, "{}", knob.name);
    }
}

#[test]
fn the_twin_never_notices_a_fault() {
    let plain = run(&mut station(4), Days::new(), 2.0, |_| Condition::HEALTHY);
    for knob in KNOBS {
        let worst = if knob.healthy == knob.range.0 {
            knob.range.1
        } else {
            knob.range.0
        };
        let steps = run(&mut station(4), Days::new(), 2.0, |time_us| {
            if time_us > 40_000_000_000 {
                faulty(|c| (knob.set)(c, worst))
            } else {
                Condition::HEALTHY
            }
        });
        for (a, b) in plain.iter().zip(&steps) {
            assert_eq!(a.twin, b.twin, "{}", knob.name);
            if b.time_us <= 40_000_000_000 {
                assert_eq!(a.actual, b.actual, "{} before its onset", knob.name);
            }
        }
    }
}

#[test]
fn each_knob_moves_what_physics_says_and_nothing_else() {
    let cases: [(&str, f64, &[&str]); 6] = [
        ("arrow_azimuth_deg", 30.0, &["wind_from_direction"]),
        ("funnel_opening", 0.3, &["rain"]),
        (
            "shield_airflow",
            0.2,
            &["air_temperature", "relative_humidity"],
        ),
        ("hygrometer_film", 0.8, &["relative_humidity"]),
        ("vane_friction", 0.8, &["wind_from_direction"]),
        ("cells_charge", 0.0, &[]),
    ];
    assert_eq!(cases.len(), KNOBS.len());
    for (name, value, expected) in cases {
        let knob = KNOBS
            .iter()
            .find(|knob| knob.name == name)
            .expect("a knob of this name");
        let condition = faulty(|c| (knob.set)(c, value));
        let steps = run(&mut station(5), Days::new(), 4.0, |_| condition);
        assert_eq!(moved(&steps), expected, "{name}");
        assert!(steps.iter().all(|step| step.actual.alive), "{name}");
    }
}

#[test]
fn the_effect_grows_with_the_knob() {
    let effect = |turn: &dyn Fn(&mut Condition)| {
        let condition = faulty(turn);
        let steps = run(&mut station(6), Days::new(), 2.0, |_| condition);
        let mut sums = [0.0; 9];
        let mut owed_mm = 0.0;
        for step in &steps {
            let pairs = columns(&step.twin).into_iter().zip(columns(&step.actual));
            for (sum, ((name, twin), (_, actual))) in sums.iter_mut().zip(pairs) {
                let mut difference = (actual - twin).abs();
                if name == "wind_from_direction" && difference > 180.0 {
                    difference = 360.0 - difference;
                }
                if name == "rain" {
                    // Late rain counts for as long as it is owed.
                    owed_mm += twin - actual;
                    difference = owed_mm;
                }
                *sum += difference;
            }
        }
        sums
    };
    let rising = |values: &[f64], column: usize, set: fn(&mut Condition, f64)| {
        let effects: Vec<f64> = values
            .iter()
            .map(|&value| effect(&|c| set(c, value))[column])
            .collect();
        assert!(
            effects[0] == 0.0 && effects.windows(2).all(|pair| pair[1] > pair[0]),
            "{column}: {effects:?}"
        );
    };
    rising(&[0.0, 10.0, 40.0, 170.0], 5, |c, v| c.arrow_azimuth_deg = v);
    rising(&[1.0, 0.5, 0.35, 0.0], 8, |c, v| c.funnel_opening = v);
    rising(&[1.0, 0.7, 0.4, 0.1], 0, |c, v| c.shield_airflow = v);
    rising(&[0.0, 0.2, 0.5, 1.0], 1, |c, v| c.hygrometer_film = v);
    rising(&[0.0, 0.5, 0.8, 1.0], 5, |c, v| c.vane_friction = v);
}

#[test]
fn a_turned_arrow_reads_thirty_degrees_too_small() {
    let condition = faulty(|c| c.arrow_azimuth_deg = 30.0);
    for step in run(&mut station(7), Days::new(), 1.0, |_| condition) {
        let twin = step.twin.observation.wind_from_direction.raw();
        let actual = step.actual.observation.wind_from_direction.raw();
        assert_eq!((twin + 330) % 360, actual);
    }
}

/// Signature of the catalogue: a warm bias by day, none worth naming in a windy night, and a lag.
#[test]
fn a_blocked_shield_is_warm_by_day_and_the_dew_point_stays() {
    let condition = faulty(|c| c.shield_airflow = 0.1);
    let steps = run(&mut station(8), Days::new(), 2.0, |_| condition);
    let mut noon_k: f64 = 0.0;
    for step in steps.iter().skip(5400) {
        let hour = (step.time_us % 86_400_000_000) as f64 / 3600e6;
        let (t, a) = (&step.twin.observation, &step.actual.observation);
        let (Some(twin), Some(actual)) = (t.air_temperature.si(), a.air_temperature.si()) else {
            panic!("both heads run");
        };
        let (Some(twin_rh), Some(actual_rh)) = (t.relative_humidity.si(), a.relative_humidity.si())
        else {
            panic!("both heads run");
        };
        if (12.5..13.5).contains(&hour) {
            noon_k = noon_k.max(actual - twin);
            assert!(actual > twin && actual_rh < twin_rh, "{hour}");
            let dew = |temperature: f64, percent: f64| {
                percent * saturation_vapour_pressure_hpa(temperature)
            };
            let ratio = dew(actual, actual_rh) / dew(twin, twin_rh);
            assert!((ratio - 1.0).abs() < 0.08, "vapour pressure {ratio}");
        }
    }
    assert!((0.8..4.0).contains(&noon_k), "{noon_k} K");
}

#[test]
fn flat_cells_silence_the_head_in_a_dark_spell_and_the_sun_starts_it_anew() {
    let flat = faulty(|c| c.cells_charge = 0.0);
    let mut subject = station(9);
    let mut dark = Days::new();
    dark.dark = true;
    let night = run(&mut subject, dark, 2.0, |_| flat);
    assert!(night.iter().all(|step| step.twin.alive));
    let fell = night
        .iter()
        .position(|step| !step.actual.alive)
        .expect("an outage");
    assert!(moved(&night[..fell]).is_empty(), "no data error before it");
    let silent = &night[night.len() - 1].actual;
    assert!(silent.health.is_none() && silent.observation.air_temperature.is_missing());
    assert!(night[night.len() - 1].twin.observation.status.on_cells());

    // Then days with sun: the clock of the station runs on.
    let mut last_us = night[night.len() - 1].time_us;
    let (mut days, mut steps) = (Days::new(), Vec::new());
    for _ in 0..8000 {
        let until_us = subject.next_time_us();
        let truth = days.truth(last_us, until_us);
        steps.push(subject.step(&truth, &flat));
        last_us = until_us;
    }
    let back = steps
        .iter()
        .position(|step| step.actual.alive)
        .expect("a restart");
    let first = &steps[back].actual;
    assert_eq!((first.sequence, first.restarts), (0, 1));
    assert_eq!(first.observation.status.life(), 1);
    let health = first
        .health
        .expect("a health frame right after the restart");
    assert_eq!(health.cause, RestartCause::BROWN_OUT);
    assert_eq!((health.restarts, health.uptime_s), (1, 16));
    assert_eq!(first.observation.tips, 0);
    assert!(CellsVoltage::si(health.cells).is_some_and(|mv| mv < 1_800.0));
    assert!(first.store_v >= 2.1 && first.supply_v > 1.7);
    assert_eq!(steps[back].twin.restarts, 0);
    // From then on its own count starts at nothing and rain is the twin's.
    let rain = |pick: fn(&Step) -> &Reading| -> f64 {
        steps[back..]
            .iter()
            .map(|step| pick(step).rainfall_mm)
            .sum()
    };
    let own = rain(|step| &step.actual);
    assert!(own > 5.0 && (own - rain(|step| &step.twin)).abs() < 1e-9);
    let tips = steps[steps.len() - 1].actual.observation.tips;
    assert!((f64::from(tips) * 0.3 - own).abs() < 1e-9);
}

#[test]
fn sequence_health_and_legality() {
    let steps = run(&mut station(10), Days::new(), 14.0, |_| Condition::HEALTHY);
    assert!(steps.len() > 65_536, "the sequence wraps: {}", steps.len());
    let mut tips = 0u16;
    for (index, step) in steps.iter().enumerate() {
        let reading = &step.actual;
        assert_eq!(usize::from(reading.sequence), index % 65_536);
        assert_eq!(reading.health.is_some(), index % 64 == 0);
        assert!(reading.observation.is_legal());
        if let Some(health) = reading.health {
            assert!(health.is_legal() && health.cause == RestartCause::CELLS_INSERTED);
            assert_eq!(health.uptime_s as usize, 16 * (index + 1));
        }
        let more = reading.observation.tips.wrapping_sub(tips);
        assert!((f64::from(more) * 0.3 - reading.rainfall_mm).abs() < 1e-12);
        tips = reading.observation.tips;
    }
}

/// 20 ppm at 25 degC less the parabola's 0.035 ppm/K2 at the days' temperatures, carried by the clock.
#[test]
fn intervals_follow_the_heads_own_clock() {
    let mut subject = station(11);
    assert_eq!(subject.next_time_us(), 15_999_680);
    let steps = run(&mut subject, Days::new(), 1.0, |_| Condition::HEALTHY);
    let mean = steps[steps.len() - 1].time_us as f64 / steps.len() as f64;
    let ppm = 1e6 * (16e6 / mean - 1.0);
    assert!((10.0..18.0).contains(&ppm), "{ppm}");
}
