//! Fitting the region to its normals: an ensemble of the same weather under another seed is averaged, and
//! the few free figures are set so that its monthly means meet the normals. Any one year then departs from
//! them as real years do.

use super::climate::{Climate, MonthPoint, day_of_year};
use super::cloud::Optics;
use super::daylight::Daylight;
use super::noise::{Curve, floor};
use super::rain::{Phase, Rain, possible_phases};
use super::region::{OWNER, Offset, Region, logistic, total_cover};
use super::synoptic::{SPACING_S, System, Train};
use super::temperature::{Forcing, Surface, patchiness_k};
use super::wind::mixing;
use crate::entropy::{Seed, Stream};
use crate::physics::sun::position;
use crate::site::Place;

/// The ensemble's own seed: the fit must not know the run's.
const SEED: Seed = Seed(0x5eed_0fc1_1a7e);
const DAY_S: f64 = 86_400.0;
const MONTH_S: f64 = 365.2425 * 86_400.0 / 12.0;
/// 2012-01-01T00:00:00Z: the ensemble's first year.
const FIRST_S: f64 = 1_325_376_000.0;
const YEARS: i64 = 60;
/// Slots of the train taken in each month, and years of the ensemble.
const RUN: usize = 19;
/// Instants taken in each month.
const INSTANTS: i64 = 300;
/// Stretches of days simulated for each month, and their length; the first day is dropped as spin-up.
const STRETCHES: i64 = 16;
const STRETCH_STEPS: usize = 3 * STEPS_A_DAY;
const STEP_S: f64 = 1800.0;
const STEPS_A_DAY: usize = 48;

/// The figures that are fitted, one a month (at its middle).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Calibration {
    /// Index of low cloud at which half the sky is covered.
    pub(crate) cloud_threshold: [f64; 12],
    /// 10 m wind over geostrophic wind.
    pub(crate) wind_factor: [f64; 12],
    /// Mean of the systems' departures of pressure, hPa, to be taken off.
    pub(crate) mean_pressure_hpa: [f64; 12],
    /// Mean of the air mass's departures and of the day's swing, K, to be taken off.
    pub(crate) mean_warmth_k: [f64; 12],
    pub(crate) mean_moisture_k: [f64; 12],
    /// What the day's swing is multiplied by.
    pub(crate) range_gain: [f64; 12],
    /// Abundance of rain cells.
    pub(crate) abundance: [f64; 12],
    /// Intensity of rain cells, mm/h.
    pub(crate) intensity_mmh: [f64; 12],
}

impl Calibration {
    const START: Self = Self {
        cloud_threshold: [0.4; 12],
        wind_factor: [1.0; 12],
        mean_pressure_hpa: [0.0; 12],
        mean_warmth_k: [0.0; 12],
        mean_moisture_k: [0.0; 12],
        range_gain: [1.0; 12],
        abundance: [0.0; 12],
        intensity_mmh: [0.0; 12],
    };

    /// Fits a place to its climate.
    pub(crate) fn fit(climate: &Climate, place: &Place) -> Self {
        let mut fitted = Self::START;
        let t = std::time::Instant::now();
        fit_rain(&mut fitted, climate, place);
        eprintln!("rain {:?}", t.elapsed());
        let t = std::time::Instant::now();
        fit_air(&mut fitted, climate, place);
        eprintln!("air {:?}", t.elapsed());
        let t = std::time::Instant::now();
        fit_days(&mut fitted, climate, place);
        eprintln!("days {:?}", t.elapsed());
        fitted
    }
}

/// The value in [low, high] at which an increasing function reaches a target, or the end nearer to it.
///
/// False position, the stale end halved (the Illinois rule; Dowell & Jarratt 1971, BIT 11).
fn solve(low: f64, high: f64, target: f64, rising: impl Fn(f64) -> f64) -> f64 {
    let (mut a, mut b) = ((low, rising(low) - target), (high, rising(high) - target));
    if a.1 >= 0.0 || b.1 <= 0.0 {
        return if a.1 >= 0.0 { low } else { high };
    }
    for _ in 0..12 {
        let x = (a.0 * b.1 - b.0 * a.1) / (b.1 - a.1);
        let y = rising(x) - target;
        if y.abs() <= 1e-4 * target.abs() {
            return x;
        }
        if (y < 0.0) == (b.1 < 0.0) {
            a.1 *= 0.5;
        } else {
            a = b;
        }
        b = (x, y);
    }
    b.0
}

/// Instant `n` of [`INSTANTS`] of a month, in order: every [`APART_S`] through the month of each year of a
/// few, so that hours and days are met evenly.
fn spread_instant(n: i64, month: i64) -> f64 {
    const A_MONTH: i64 = 12;
    let start = FIRST_S + ((n / A_MONTH) * 12 + month) as f64 * MONTH_S;
    start + ((n % A_MONTH) as f64 + 0.5) * APART_S
}

/// Nearly two and a half days: the weather has forgotten itself, and hours go round.
const APART_S: f64 = MONTH_S / 12.0 - 4_000.0;

fn random_instant(stream: &mut Stream, month: i64) -> f64 {
    let year = floor(stream.uniform() * YEARS as f64) as f64;
    FIRST_S + (year * 12.0 + month as f64 + stream.uniform()) * MONTH_S
}

fn fit_rain(fitted: &mut Calibration, climate: &Climate, place: &Place) {
    let mut train = Region::with(climate, place, SEED, *fitted).train();
    for (i, normals) in climate.months.iter().enumerate() {
        let mut systems: Vec<System> = Vec::new();
        for year in 0..YEARS {
            let start = FIRST_S + (year * 12 + i as i64) as f64 * MONTH_S;
            let first = Train::interval(start);
            systems.extend((first..first + RUN as i64).map(|number| train.system(number)));
        }
        let per_month = MONTH_S / SPACING_S / systems.len() as f64;
        // All systems, or every so many as stand for all while the count below corrects what they miss.
        let expected = |every: usize, abundance: f64, measure: fn(&Phase) -> f64| {
            let some = systems.iter().step_by(every);
            let share = some.len() as f64 / systems.len() as f64;
            let sum: f64 = some
                .flat_map(|system| possible_phases(system, abundance, place.longitude_deg))
                .map(|(chance, phase)| chance * measure(&phase))
                .sum();
            sum * per_month / share
        };
        if normals.rain_mm <= 0.0 || normals.wet_hours <= 0.0 {
            continue;
        }
        // The expectation of a phase is near, but phases overlap and hours are cut: count the ensemble's own
        // cells and aim again.
        let (mut target, mut abundance, mut intensity) = (normals.wet_hours, 0.0, 0.0);
        for _ in 0..2 {
            abundance = solve(0.0, 12.0, target, |a| expected(5, a, Phase::wet_hours));
            intensity =
                normals.rain_mm / expected(1, abundance, Phase::depth).max(f64::MIN_POSITIVE);
            let mut rain = Rain::new(
                train.clone(),
                SEED,
                OWNER,
                place.longitude_deg,
                Offset::default(),
                [abundance; 12],
                [intensity; 12],
            );
            // Every other year.
            let hours: f64 = systems
                .chunks_exact(RUN)
                .step_by(2)
                .map(|run| rain.count(run[0].number..run[0].number + RUN as i64).0)
                .sum();
            let counted = 2.0 * hours * per_month;
            if counted <= 0.0 {
                break;
            }
            target = (target * normals.wet_hours / counted).min(2.0 * normals.wet_hours);
        }
        fitted.abundance[i] = abundance;
        fitted.intensity_mmh[i] = intensity;
    }
}

fn fit_air(fitted: &mut Calibration, climate: &Climate, place: &Place) {
    let mut region = Region::with(climate, place, SEED, *fitted).scattered();
    let count = INSTANTS as f64;
    for (i, normals) in climate.months.iter().enumerate() {
        let mut samples = Vec::new();
        let (mut warmth, mut moisture, mut pressure) = (0.0, 0.0, 0.0);
        for n in 0..INSTANTS {
            let time_s = spread_instant(n, i as i64);
            let air = region.at(time_s, Offset::default());
            warmth += air.anomalies.0 / count;
            moisture += air.anomalies.1 / count;
            pressure += air.departure_hpa / count;
            let up = position(time_s - 3600.0, place).up;
            samples.push((up, air));
        }
        fitted.mean_pressure_hpa[i] = pressure;
        fitted.mean_warmth_k[i] = warmth;
        fitted.mean_moisture_k[i] = moisture;
        let cover = |threshold: f64| {
            let sum: f64 = samples
                .iter()
                .map(|(_, air)| {
                    let low = logistic(6.5 * (air.anomalies.2 - threshold));
                    total_cover(low.max(0.96 * air.rain_shield), air.high_cloud)
                })
                .sum();
            sum / count
        };
        let threshold = -solve(-2.0, 2.0, normals.cloud_area_fraction, |t| cover(-t));
        fitted.cloud_threshold[i] = threshold;
        let wind = |factor: f64| {
            let sum: f64 = samples
                .iter()
                .map(|(up, air)| {
                    let low = logistic(6.5 * (air.anomalies.2 - threshold));
                    let speed = air.wind_speed_ms * factor;
                    speed * mixing(*up, low, speed)
                })
                .sum();
            sum / count
        };
        fitted.wind_factor[i] = solve(0.0, 3.0, normals.mean_wind_speed_ms, wind);
    }
}

/// One simulated step, as far as the fit needs it.
struct Step {
    air_degc: f64,
    air_dew_degc: f64,
    swing_k: f64,
    temperature_degc: f64,
    dew_degc: f64,
}

/// What acts on the surface through all stretches of one month, step by step.
fn forcings(
    fitted: &Calibration,
    climate: &Climate,
    place: &Place,
    month: usize,
) -> Vec<[Forcing; STRETCH_STEPS]> {
    let mut region = Region::with(climate, place, SEED, *fitted);
    let mut stream = SEED.key(OWNER, "stretches").stream(month as i64);
    let one_stretch = |_| {
        let begin = floor(random_instant(&mut stream, month as i64) / STEP_S) as f64 * STEP_S;
        let mut rain = Rain::new(
            region.train(),
            SEED,
            OWNER,
            place.longitude_deg,
            Offset::default(),
            fitted.abundance,
            fitted.intensity_mmh,
        );
        let flow = region.flow(MonthPoint::at(begin));
        // The sun of the second day stands for all three.
        let lights: [Daylight; STEPS_A_DAY] = core::array::from_fn(|n| {
            let time_s = begin + DAY_S + (n as f64 - 0.5) * STEP_S;
            Daylight::through(
                time_s,
                place,
                day_of_year(time_s),
                region.turbidity.at(time_s),
            )
        });
        let mut ups = [0.0; 2];
        let mut later = region.at(begin, Offset::default());
        let mut earlier = later;
        core::array::from_fn(|n| {
            let time_s = begin + n as f64 * STEP_S;
            // The region is slow: its knots are two steps apart here.
            let air = if n % 2 == 0 {
                earlier = later;
                later = region.at(time_s + 2.0 * STEP_S, Offset::default());
                earlier
            } else {
                earlier.halfway(&later)
            };
            let light = lights[n % STEPS_A_DAY];
            let optics = Optics::new(air.low_cloud, air.high_cloud, air.rain_shield, 0.0);
            let lagged = core::mem::replace(&mut ups[n % 2], light.sun.up);
            Forcing {
                seconds: STEP_S,
                temperature_degc: air.temperature_degc,
                dew_point_degc: air.dew_point_degc,
                global_wm2: light.sky.global_wm2 * optics.transmission,
                cover: air.low_cloud + 0.3 * (1.0 - air.low_cloud) * air.high_cloud,
                wind_ms: air.wind_speed_ms * mixing(lagged, air.low_cloud, air.wind_speed_ms),
                pressure_hpa: 1000.0,
                rain_mmh: rain.smooth_rate_mmh(time_s - STEP_S, time_s, flow),
                range_gain: 1.0,
            }
        })
    };
    (0..STRETCHES).map(one_stretch).collect()
}

/// Runs the surface through a month's stretches with its air mass shifted and its swing multiplied.
fn simulate(
    stretches: &[[Forcing; STRETCH_STEPS]],
    warmer_k: f64,
    moister_k: f64,
    gain: f64,
) -> Vec<Step> {
    let mut steps = Vec::with_capacity(stretches.len() * STRETCH_STEPS);
    let mut patches = Curve::new(SEED.key(OWNER, "patches"), STEP_S);
    for stretch in stretches {
        let mut surface = Surface::new();
        for (n, forcing) in stretch.iter().enumerate() {
            let forcing = Forcing {
                temperature_degc: forcing.temperature_degc + warmer_k,
                dew_point_degc: forcing.dew_point_degc + moister_k,
                range_gain: gain,
                ..*forcing
            };
            let near = surface.step(&forcing);
            if n >= STEPS_A_DAY {
                let patch_k = patchiness_k(forcing.cover, near.heat_flux_wm2)
                    * patches.value(steps.len() as f64 * STEP_S);
                steps.push(Step {
                    air_degc: forcing.temperature_degc,
                    air_dew_degc: forcing.dew_point_degc,
                    swing_k: near.swing_k,
                    temperature_degc: near.temperature_degc + patch_k,
                    dew_degc: near.dew_point_degc(),
                });
            }
        }
    }
    steps
}

fn mean_range(steps: &[Step], value: impl Fn(&Step) -> f64) -> f64 {
    let days = steps.chunks_exact(STEPS_A_DAY);
    let count = days.len() as f64;
    days.map(|day| {
        let values = day.iter().map(&value);
        let low = values.clone().fold(f64::MAX, f64::min);
        values.fold(f64::MIN, f64::max) - low
    })
    .sum::<f64>()
        / count
}

fn fit_days(fitted: &mut Calibration, climate: &Climate, place: &Place) {
    let before = *fitted;
    for (i, normals) in climate.months.iter().enumerate() {
        let stretches = forcings(&before, climate, place, i);
        let (mut gain, mut local_k, mut local_dew_k) = (1.0, 0.0, 0.0);
        for round in 0..3 {
            // What the day adds on the mean is taken off the air mass, and the day run again.
            let steps = simulate(&stretches, -local_k, -local_dew_k, gain);
            let count = steps.len() as f64;
            let mean = |pick: fn(&Step) -> f64| steps.iter().map(pick).sum::<f64>() / count;
            local_k = mean(|s| s.temperature_degc - s.air_degc);
            local_dew_k = mean(|s| s.dew_degc - s.air_dew_degc);
            if round < 2 {
                // The swing is nearly linear in its gain, so the same run tells the next.
                let next = solve(0.05, 4.0, normals.daily_range_k, |next| {
                    mean_range(&steps, |s| s.temperature_degc + (next - gain) * s.swing_k)
                });
                local_k += (next - gain) * mean(|s| s.swing_k);
                gain = next;
            }
        }
        fitted.range_gain[i] = gain;
        fitted.mean_warmth_k[i] += local_k;
        fitted.mean_moisture_k[i] += local_dew_k;
    }
}
