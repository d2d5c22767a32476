//! The day's part of the fit: its range, what it adds on the mean, and the cloud that rain and fog bring.
//!
//! Some years are run through the surface without a gap, so that what it remembers for months (snow, water
//! in the ground) is there as it will be.

use super::{Calibration, DAY_S, FIRST_S, MONTH_S, SEED, solve};
use crate::site::Place;
use crate::weather::climate::{Climate, MonthPoint, day_of_year};
use crate::weather::cloud::Optics;
use crate::weather::daylight::Daylight;
use crate::weather::noise::{Curve, floor};
use crate::weather::rain::{Moistened, Rain};
use crate::weather::region::{
    DAY_LAG_S, OWNER, Offset, Region, Regional, low_cover, stirred, total_cover,
};
use crate::weather::temperature::{Forcing, Surface, patchiness_k};

/// Months run, of which the first are for the surface to forget its beginning.
const MONTHS: usize = 27;
const FORGOTTEN: usize = 3;
const STEP_S: f64 = 1800.0;
const STEPS_A_DAY: usize = 48;
/// Steps by which the day's wind lags the sun.
const LAGGED: usize = (DAY_LAG_S / STEP_S) as usize;
const STEPS: usize = (MONTHS as f64 * MONTH_S / STEP_S) as usize;
/// Days that one day's sun stands for.
const ALIKE: usize = 6;
/// Cloud over rain is at least this (the same as what hangs over a cell).
const RAIN_COVER: f64 = 0.95;

/// What the region and the sun bring to one step.
struct Acting {
    month: MonthPoint,
    temperature_degc: f64,
    dew_point_degc: f64,
    /// Index of low cloud, cover of high cloud, and how far a front's rain is overhead.
    low_index: f64,
    high_cloud: f64,
    rain_shield: f64,
    /// Wind before its factor, m/s.
    wind_ms: f64,
    rain_mmh: f64,
    /// Share of the sky from which cloud precipitates.
    precipitating: f64,
    /// Share of the sky that the rain's own cloud takes.
    rain_cloud: f64,
    /// Number of the local day.
    day: i64,
    /// Irradiance of a cloudless sky, W/m2, and the sun's height [`DAY_LAG_S`] before.
    clear_wm2: f64,
    up: f64,
}

/// Some years on end.
pub(super) struct Days {
    all: Vec<Acting>,
}

impl Days {
    pub(super) fn new(fitted: &Calibration, climate: &Climate, place: &Place) -> Self {
        let plain = Calibration {
            wind_factor: [1.0; 12],
            ..*fitted
        };
        let mut region = Region::with(climate, place, SEED, plain);
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
        let begin = FIRST_S + (12 - FORGOTTEN) as f64 * MONTH_S;
        let mut lights: Vec<Daylight> = Vec::new();
        let mut ups = [0.0; LAGGED];
        let mut later = region.at(begin, Offset::default());
        let mut earlier = later;
        let step = |n: usize| {
            let time_s = begin + n as f64 * STEP_S;
            // The region is slow: its knots are two steps apart here.
            let share = if n.is_multiple_of(2) {
                earlier = later;
                later = region.at(time_s + 2.0 * STEP_S, Offset::default());
                0.0
            } else {
                0.5
            };
            let mix = |pick: fn(&Regional) -> f64| {
                pick(&earlier) + share * (pick(&later) - pick(&earlier))
            };
            if n.is_multiple_of(ALIKE * STEPS_A_DAY) {
                lights.clear();
                let middle_s = time_s + (ALIKE / 2) as f64 * DAY_S;
                lights.extend((0..STEPS_A_DAY).map(|step| {
                    let time_s = middle_s + (step as f64 - 0.5) * STEP_S;
                    let turbidity = region.turbidity.at(time_s);
                    Daylight::through(time_s, place, day_of_year(time_s), turbidity)
                }));
            }
            let light = &lights[n % STEPS_A_DAY];
            let month = MonthPoint::at(time_s);
            let flow = region.flow(month);
            let rain_mmh = rain.smooth_rate_mmh(time_s - STEP_S, time_s, flow);
            let rain_cloud = rain.fall(time_s - STEP_S, time_s).cloud;
            Acting {
                month,
                temperature_degc: mix(|a| a.temperature_degc),
                dew_point_degc: mix(|a| a.dew_point_degc),
                low_index: mix(|a| a.anomalies.2),
                high_cloud: mix(|a| a.high_cloud),
                rain_shield: mix(|a| a.rain_shield),
                wind_ms: mix(|a| a.wind_speed_ms),
                rain_mmh,
                precipitating: rain.precipitating(time_s),
                rain_cloud,
                day: floor(time_s / DAY_S + place.longitude_deg / 360.0),
                clear_wm2: light.sky.global_wm2,
                up: core::mem::replace(&mut ups[n % LAGGED], light.sun.up),
            }
        };
        Self {
            all: (0..STEPS).map(step).collect(),
        }
    }

    /// Runs the surface through all months with the figures fitted so far and takes over what that tells of
    /// the means and, where wanted, of the gain of the daily range; returns the cover that rain and fog add to
    /// the layers in each month.
    pub(super) fn run(&self, fitted: &mut Calibration, climate: &Climate, gain: bool) -> [f64; 12] {
        let months = self.months(fitted);
        core::array::from_fn(|i| {
            let month = &months[i];
            let mean = |sum: f64| sum / month.steps.max(1.0);
            fitted.local_warmth_k[i] += mean(month.warmer_k);
            fitted.local_moisture_k[i] += mean(month.moister_k);
            if gain {
                // The swing is nearly linear in its gain, so the same run tells the next.
                let before = fitted.range_gain[i];
                let target = climate.months[i].daily_range_k;
                fitted.range_gain[i] =
                    solve(0.05, 4.0, target, |next| month.mean_range(next - before));
            }
            mean(month.cloudier)
        })
    }

    fn months(&self, fitted: &Calibration) -> [Month; 12] {
        let mut months: [Month; 12] = core::array::from_fn(|_| Month::default());
        let mut patches = Curve::new(SEED.key(OWNER, "patches"), STEP_S);
        let mut surface = Surface::new();
        let (mut moistened, mut near_before) = (Moistened::default(), (-40.0, 10.0));
        for (n, at) in self.all.iter().enumerate() {
            let low = low_cover(
                at.low_index,
                at.month.of(&fitted.cloud_threshold),
                at.rain_shield,
            );
            let optics = Optics::new(low, at.high_cloud, at.rain_shield, 0.0);
            let wind_ms = at.wind_ms * at.month.of(&fitted.wind_factor);
            let (temperature_degc, dew_point_degc) = moistened.step(
                STEP_S,
                at.precipitating,
                near_before,
                (
                    at.temperature_degc - at.month.of(&fitted.local_warmth_k),
                    at.dew_point_degc - at.month.of(&fitted.local_moisture_k),
                ),
            );
            let forcing = Forcing {
                seconds: STEP_S,
                temperature_degc,
                dew_point_degc,
                global_wm2: at.clear_wm2 * optics.transmission,
                cover: low + 0.3 * (1.0 - low) * at.high_cloud,
                wind_ms: wind_ms * stirred(at.up, low, wind_ms),
                pressure_hpa: 1000.0,
                rain_mmh: at.rain_mmh,
                range_gain: at.month.of(&fitted.range_gain),
            };
            let near = surface.step(&forcing);
            near_before = (near.temperature_degc, near.vapour_pressure_hpa);
            let number = floor(n as f64 * STEP_S / MONTH_S) as usize + 12 - FORGOTTEN;
            if number < 12 {
                continue;
            }
            let month = &mut months[number % 12];
            let patch_k = patchiness_k(low, near.heat_flux_wm2) * patches.value(n as f64 * STEP_S);
            let temperature = near.temperature_degc + patch_k;
            let layers = total_cover(low, at.high_cloud);
            let rained = layers + (RAIN_COVER - layers).max(0.0) * at.rain_cloud;
            month.warmer_k += temperature - at.temperature_degc;
            month.moister_k += near.dew_point_degc() - at.dew_point_degc;
            month.cloudier += rained.max(near.fog) - layers;
            month.steps += 1.0;
            month.course.push((at.day, temperature, near.swing_k));
        }
        months
    }
}

/// What one month of all the years is like in one round.
#[derive(Default)]
struct Month {
    /// Departures of temperature and dew point from the air mass before its shift, K; cover that rain and fog
    /// add to the layers.
    warmer_k: f64,
    moister_k: f64,
    cloudier: f64,
    steps: f64,
    /// Day, temperature and swing of each step.
    course: Vec<(i64, f64, f64)>,
}

impl Month {
    fn mean_range(&self, more_gain: f64) -> f64 {
        // Days from midnight to midnight, as they are observed: another border meets other extremes.
        let days = self.course.chunk_by(|a, b| a.0 == b.0);
        let (mut sum, mut count) = (0.0, 0.0);
        for day in days.filter(|day| day.len() == STEPS_A_DAY) {
            let (low, high) = day.iter().fold((f64::MAX, f64::MIN), |(low, high), step| {
                let value = step.1 + more_gain * step.2;
                (low.min(value), high.max(value))
            });
            sum += high - low;
            count += 1.0;
        }
        sum / count
    }
}
