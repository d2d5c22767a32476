//! The day's part of the fit: its range, and what it adds on the mean.

use super::{Calibration, DAY_S, FIRST_S, MONTH_S, SEED, YEARS, solve};
use crate::entropy::Stream;
use crate::site::Place;
use crate::weather::climate::{Climate, MonthPoint, day_of_year};
use crate::weather::cloud::Optics;
use crate::weather::daylight::Daylight;
use crate::weather::noise::{Curve, floor};
use crate::weather::rain::Rain;
use crate::weather::region::{OWNER, Offset, Region};
use crate::weather::temperature::{Forcing, Surface, patchiness_k};
use crate::weather::wind::mixing;

/// Stretches of days simulated for each month, and their length; the first day is dropped as spin-up.
const STRETCHES: i64 = 12;
const STRETCH_STEPS: usize = 3 * STEPS_A_DAY;
const STEP_S: f64 = 1800.0;
const STEPS_A_DAY: usize = 48;

fn random_instant(stream: &mut Stream, month: i64) -> f64 {
    let year = floor(stream.uniform() * YEARS as f64) as f64;
    FIRST_S + (year * 12.0 + month as f64 + stream.uniform()) * MONTH_S
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
        )
        .with_convection(region.convection());
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

pub(super) fn fit(fitted: &mut Calibration, climate: &Climate, place: &Place) {
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
