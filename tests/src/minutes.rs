//! Days by the minute: open records and simulated ones, described by the same numbers.
//!
//! Open minutes, sources: `open_minutes_winter_basin.csv`, one clear day of a public surface radiation network
//! (US Government work; sample file in the source distribution of pvlib 0.16.1, BSD-3), 37.70 N 105.92 W,
//! 2317 m, wind at 10 m; `open_minutes_autumn_desert.csv`, one clear day of a public radiation laboratory's
//! archive (the same distribution), 32.23 N 110.96 W, 786 m, wind at 3 m. `open_minute_bands.csv`: statistics
//! of both and of ten June days near 46.8 N 6.9 E, 491 m, with pvlib 0.16.1, computed.

use crate::hourly::change;
use crate::sample::{Pairs, Values};
use benchmast_sim::physics::atmosphere::standard_atmosphere;
use benchmast_sim::physics::sun::{clear_sky, extraterrestrial_wm2, position, refraction_deg};
use benchmast_sim::site::Place;
use benchmast_sim::weather::Weather;
use benchmast_sim::weather::climate::{USUAL_LINKE_TURBIDITY, day_of_year};

/// Minutes in a day.
pub const DAY_MIN: usize = 1440;
/// Interval of the simulation under the minutes: four to the minute.
pub const STEP_US: i64 = 15_000_000;

/// One minute: means of it. Missing values are NaN.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Minute {
    /// Air temperature, degC.
    pub t: f64,
    /// Relative humidity, percent.
    pub rh: f64,
    /// Pressure at the station, hPa.
    pub p: f64,
    /// Wind speed, m/s.
    pub ws: f64,
    /// Highest short mean of the minute, m/s.
    pub peak: f64,
    /// Global irradiance, W/m2.
    pub ghi: f64,
    /// Rain, mm.
    pub rain: f64,
}

/// Consecutive minutes at a place.
#[derive(Debug, Clone)]
pub struct Minutes {
    /// Where.
    pub place: Place,
    /// Start of the first minute, s since 1970-01-01T00:00:00Z.
    pub first_s: f64,
    /// The minutes.
    pub minutes: Vec<Minute>,
}

/// A statistic: its name and value.
pub type Number = (&'static str, f64);

/// An open day from its table; `ws` and `peak` may be missing.
///
/// # Panics
/// When the table in this repository is broken.
#[must_use]
pub fn open(text: &str, place: Place) -> Minutes {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let names = reader.headers().expect("headings").clone();
    let at = |name: &str| names.iter().position(|n| n == name);
    let columns = ["t", "rh", "p", "ws", "peak", "ghi"].map(at);
    let mut first_s = f64::NAN;
    let mut minutes = Vec::new();
    for row in reader.records() {
        let row = row.expect("a row");
        if minutes.is_empty() {
            let stamp: jiff::Timestamp = row[0].replace(' ', "T").parse().expect("a time");
            first_s = stamp.as_second() as f64;
        }
        let [t, rh, p, ws, peak, ghi] =
            columns.map(|column| column.map_or(f64::NAN, |c| row[c].parse().unwrap_or(f64::NAN)));
        let rain = f64::NAN;
        minutes.push(Minute {
            t,
            rh,
            p,
            ws,
            peak,
            ghi,
            rain,
        });
    }
    Minutes {
        place,
        first_s,
        minutes,
    }
}

/// Minutes of simulated weather from its present instant on, whose intervals are [`STEP_US`] long.
pub fn simulate(weather: &mut Weather, place: Place, start_us: i64, count: usize) -> Minutes {
    let mut minutes = Vec::with_capacity(count);
    let mut time_us = start_us;
    for _ in 0..count {
        let mut sum = Minute {
            t: 0.0,
            rh: 0.0,
            p: 0.0,
            ws: 0.0,
            peak: 0.0,
            ghi: 0.0,
            rain: 0.0,
        };
        for _ in 0..4 {
            time_us += STEP_US;
            let truth = weather.advance(time_us);
            sum.t += 0.25 * truth.air_temperature_degc;
            sum.rh += 0.25 * truth.relative_humidity_percent;
            sum.p += 0.25 * truth.air_pressure_hpa;
            sum.ws += 0.25 * truth.wind_speed_ms;
            sum.peak = sum.peak.max(truth.wind_speed_of_gust_ms);
            sum.ghi += 0.25 * truth.global_irradiance_wm2;
            sum.rain += truth.rainfall_mm + truth.snowfall_mm;
        }
        minutes.push(sum);
    }
    Minutes {
        place,
        first_s: start_us as f64 * 1e-6,
        minutes,
    }
}

impl Minutes {
    /// One quantity of every minute.
    #[must_use]
    pub fn column(&self, of: impl Fn(&Minute) -> f64) -> Vec<f64> {
        self.minutes.iter().map(of).collect()
    }

    /// A stretch of it.
    #[must_use]
    pub fn part(&self, from: usize, count: usize) -> Self {
        Self {
            place: self.place,
            first_s: self.first_s + 60.0 * from as f64,
            minutes: self.minutes[from..from + count].to_vec(),
        }
    }

    /// Elevation of the sun in the middle of each minute, degrees.
    #[must_use]
    pub fn elevations(&self) -> Vec<f64> {
        let at = |i: usize| self.first_s + 60.0 * i as f64 + 30.0;
        (0..self.minutes.len())
            .map(|i| position(at(i), &self.place).elevation_deg())
            .collect()
    }

    /// Irradiance over that of the clear sky (turbidity 3), sun above 10 degrees, else missing.
    #[must_use]
    pub fn clear_sky_indices(&self) -> Vec<f64> {
        let (pressure, _) = standard_atmosphere(self.place.altitude_m);
        let above = extraterrestrial_wm2(day_of_year(self.first_s));
        let up = self.elevations();
        let of = |(minute, up): (&Minute, &f64)| {
            if *up <= 10.0 {
                return f64::NAN;
            }
            let seen = up + refraction_deg(*up, pressure, 10.0);
            let clear = clear_sky(
                seen,
                pressure,
                self.place.altitude_m,
                above,
                USUAL_LINKE_TURBIDITY,
            );
            minute.ghi / clear.global_wm2
        };
        self.minutes.iter().zip(&up).map(of).collect()
    }

    /// Mean and standard deviation of the day's clear-sky index: how clear and how even it was.
    #[must_use]
    pub fn clearness(&self) -> (f64, f64) {
        let index = sample(&self.clear_sky_indices());
        (index.mean(&ONE), index.deviation(&ONE))
    }
}

const ONE: [f64; 1] = [1.0];

fn sample(x: &[f64]) -> Values {
    Values::new(x.iter().map(|v| (*v, 0)))
}

fn size(x: Vec<f64>) -> Vec<f64> {
    x.into_iter().map(f64::abs).collect()
}

fn lagged(x: &[f64], lag: usize) -> f64 {
    Pairs::lagged(x, x, lag, &|_| 0).correlation(&ONE)
}

/// All statistics of the minutes of one or more whole days. Quantities are given in `steps` of their
/// instrument: temperature K, humidity percent, pressure hPa; 0 leaves them as they are.
#[must_use]
pub fn statistics(days: &Minutes, steps: [f64; 3]) -> Vec<Number> {
    let rounded = |x: Vec<f64>, step: f64| -> Vec<f64> {
        if step == 0.0 {
            x
        } else {
            x.into_iter().map(|v| (v / step).round() * step).collect()
        }
    };
    let t = rounded(days.column(|m| m.t), steps[0]);
    let rh = rounded(days.column(|m| m.rh), steps[1]);
    let p = rounded(days.column(|m| m.p), steps[2]);
    let ws = days.column(|m| m.ws);
    let up = days.elevations();
    let mut list = Vec::new();

    let quick = size(change(&t, 1));
    let only = |keep: &dyn Fn(usize) -> bool, x: &[f64]| {
        Values::new((0..x.len()).filter(|&i| keep(i)).map(|i| (x[i], 0)))
    };
    let all = sample(&quick);
    list.push(("1-min |dT| q50 K", all.quantile(&ONE, 0.5)));
    list.push(("1-min |dT| q99 K", all.quantile(&ONE, 0.99)));
    list.push(("1-min |dT| q99.9 K", all.quantile(&ONE, 0.999)));
    list.push(("1-min |dT| max K", all.quantile(&ONE, 1.0)));
    let day = only(&|i| up[i] > 20.0, &quick).quantile(&ONE, 0.99);
    let night = only(&|i| up[i] < 0.0, &quick).quantile(&ONE, 0.99);
    list.push(("1-min |dT| q99 day (sun>20 deg)", day));
    list.push(("1-min |dT| q99 night", night));
    list.push((
        "10-min |dT| q99 K",
        sample(&size(change(&t, 10))).quantile(&ONE, 0.99),
    ));
    list.push(("lag-1min autocorr T", lagged(&t, 1)));
    list.push(("lag-60min autocorr T (1 day to 20 days)", lagged(&t, 60)));

    let moved = sample(&size(change(&rh, 1)));
    list.push(("1-min |dRH| q50 %", moved.quantile(&ONE, 0.5)));
    list.push(("1-min |dRH| q99 %", moved.quantile(&ONE, 0.99)));
    list.push(("1-min |dRH| q99.9 %", moved.quantile(&ONE, 0.999)));
    let within: Vec<f64> = (0..t.len() / DAY_MIN)
        .map(|d| {
            let of = d * DAY_MIN..(d + 1) * DAY_MIN;
            Pairs::lagged(&t[of.clone()], &rh[of], 0, &|_| 0).correlation(&ONE)
        })
        .collect();
    list.push((
        "median within-day corr(T,RH) 1 min",
        sample(&within).quantile(&ONE, 0.5),
    ));

    let blown = sample(&size(change(&ws, 1)));
    list.push(("1-min |dws| q50 m/s", blown.quantile(&ONE, 0.5)));
    list.push(("1-min |dws| q99 m/s", blown.quantile(&ONE, 0.99)));
    list.push(("lag-1min autocorr ws", lagged(&ws, 1)));
    list.push((
        "1-min |dp| q99 hPa",
        sample(&size(change(&p, 1))).quantile(&ONE, 0.99),
    ));
    let intensities: Vec<f64> = ws.chunks_exact(10).filter_map(intensity).collect();
    list.push((
        "10-min turbulence intensity of 1-min means, median",
        sample(&intensities).quantile(&ONE, 0.5),
    ));
    let peaks = days.column(|m| if m.ws >= 2.0 { m.peak / m.ws } else { f64::NAN });
    list.push((
        "peak/mean in 1 min, median",
        sample(&peaks).quantile(&ONE, 0.5),
    ));

    let bright: Vec<f64> = (0..up.len())
        .map(|i| {
            if up[i] > 10.0 {
                days.minutes[i].ghi
            } else {
                f64::NAN
            }
        })
        .collect();
    let light = sample(&size(change(&bright, 1)));
    list.push(("1-min |dGHI| q50 W/m2", light.quantile(&ONE, 0.5)));
    list.push(("1-min |dGHI| q90", light.quantile(&ONE, 0.9)));
    list.push(("1-min |dGHI| q99", light.quantile(&ONE, 0.99)));
    list.push(("1-min |dGHI| max", light.quantile(&ONE, 1.0)));
    let index = days.clear_sky_indices();
    let values = sample(&index);
    list.push((
        "clear-sky index median (sun>10 deg)",
        values.quantile(&ONE, 0.5),
    ));
    list.push(("clear-sky index q99", values.quantile(&ONE, 0.99)));
    list.push(("fraction kc>1.05", values.share(&ONE, |k| k > 1.05)));
    let jump = sample(&size(change(&index, 1)));
    list.push((
        "fraction of minutes |dkc|>0.2",
        jump.share(&ONE, |k| k > 0.2),
    ));
    list
}

/// Standard deviation over mean of ten one-minute means, where the mean is at least 2 m/s.
fn intensity(ws: &[f64]) -> Option<f64> {
    let values = sample(ws);
    let mean = values.mean(&ONE);
    (mean >= 2.0).then(|| values.deviation(&ONE) / mean)
}

/// A sudden cooling with rain.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ColdPool {
    /// Fall of temperature within the 20 minutes before and after, K.
    pub drop_k: f64,
    /// Rise of pressure from ten minutes before to the highest of the half hour after, hPa.
    pub pressure_rise_hpa: f64,
    /// Highest short mean of wind in the half hour around, over the mean of the half hour before.
    pub gust_over_before: f64,
    /// Lack of vapour before, hPa.
    pub deficit_hpa: f64,
}

/// Passages of cold pools: temperature falls by 2 K or more in 20 minutes and at least 0.1 mm of rain fall
/// from the beginning of the fall until an hour later; one in two hours at most.
///
/// Like the detection of Kirsch, Ament & Hohenegger 2021 (Mon. Wea. Rev. 149), from memory.
#[must_use]
pub fn cold_pools(days: &Minutes) -> Vec<ColdPool> {
    let m = &days.minutes;
    let mut found = Vec::new();
    let mut i = 40;
    while i + 90 < m.len() {
        if m[i].t - m[i + 20].t < 2.0 {
            i += 1;
            continue;
        }
        if m[i..i + 80].iter().map(|m| m.rain).sum::<f64>() < 0.1 {
            i += 1;
            continue;
        }
        let low = m[i..i + 60].iter().map(|m| m.t).fold(f64::MAX, f64::min);
        let high = m[i - 10..i + 20]
            .iter()
            .map(|m| m.t)
            .fold(f64::MIN, f64::max);
        let before = m[i - 10].p;
        let after = m[i..i + 30].iter().map(|m| m.p).fold(f64::MIN, f64::max);
        let wind = m[i - 40..i - 10].iter().map(|m| m.ws).sum::<f64>() / 30.0;
        let gust = m[i - 10..i + 20].iter().map(|m| m.peak).fold(0.0, f64::max);
        let was = &m[i - 10];
        found.push(ColdPool {
            drop_k: high - low,
            pressure_rise_hpa: after - before,
            gust_over_before: gust / wind.max(0.5),
            deficit_hpa: 6.112 * (17.62 * was.t / (243.12 + was.t)).exp() * (1.0 - was.rh / 100.0),
        });
        i += 120;
    }
    found
}

/// The open winter day in a high basin.
#[must_use]
pub fn winter_basin() -> Minutes {
    let place = Place {
        latitude_deg: 37.70,
        longitude_deg: -105.92,
        altitude_m: 2317.0,
    };
    open(include_str!("../data/open_minutes_winter_basin.csv"), place)
}

/// The open autumn day in a desert.
#[must_use]
pub fn autumn_desert() -> Minutes {
    let place = Place {
        latitude_deg: 32.23,
        longitude_deg: -110.96,
        altitude_m: 786.0,
    };
    open(
        include_str!("../data/open_minutes_autumn_desert.csv"),
        place,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The open days' statistics were computed with pandas and pvlib; irradiance is compared without the
    /// clear sky, which is another model's there.
    #[test]
    fn open_days_have_the_statistics_that_others_compute() {
        let bands = include_str!("../data/open_minute_bands.csv");
        let mut reader = csv::Reader::from_reader(bands.as_bytes());
        let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
        for (column, days) in [(1, autumn_desert()), (2, winter_basin())] {
            let mut seen = 0;
            for (name, value) in statistics(&days, [0.0; 3]) {
                let Some(row) = rows.iter().find(|row| &row[0] == name) else {
                    panic!("{name}")
                };
                let Ok(wanted) = row[column].parse::<f64>() else {
                    continue;
                };
                let modelled = name.contains("kc") || name.contains("clear-sky");
                // The sun's elevation decides which minutes count; the record's own steps are 0.1.
                let allowed = if modelled {
                    0.5
                } else {
                    0.02 * wanted.abs() + 1e-4
                };
                assert!(
                    (value - wanted).abs() <= allowed,
                    "{column} {name}: {value}, not {wanted}"
                );
                seen += 1;
            }
            assert!(seen >= 20, "{seen}");
        }
    }

    #[test]
    fn a_gust_front_is_one_cold_pool() {
        let calm = Minute {
            t: 25.0,
            rh: 50.0,
            p: 1010.0,
            ws: 3.0,
            peak: 4.0,
            ghi: 0.0,
            rain: 0.0,
        };
        let mut minutes = vec![calm; 400];
        for (n, minute) in minutes[200..].iter_mut().enumerate() {
            minute.t -= 0.4 * (n as f64).min(10.0);
            minute.p += 1.5;
            minute.rain = if n < 30 { 0.05 } else { 0.0 };
        }
        minutes[203].peak = 12.0;
        let place = Place {
            latitude_deg: 45.0,
            longitude_deg: 0.0,
            altitude_m: 0.0,
        };
        let found = cold_pools(&Minutes {
            place,
            first_s: 0.0,
            minutes,
        });
        assert_eq!(found.len(), 1);
        assert!(
            (found[0].drop_k - 4.0).abs() < 1e-9 && found[0].gust_over_before == 4.0,
            "{found:?}"
        );
        assert!((found[0].pressure_rise_hpa - 1.5).abs() < 1e-9);
    }
}
