//! Stations of one region at some distance from each other.

use crate::hourly::{DAY, Hour, Record, anomaly, day_of};
use crate::sample::{Pairs, Values};
use benchmast_sim::entropy::Seed;
use benchmast_sim::site::{Place, Site};
use benchmast_sim::weather::climate::Climate;
use benchmast_sim::weather::{Region, Weather};

const ONE: [f64; 1] = [1.0];
const STEP_US: i64 = 16_000_000;
/// Kilometres in a degree of latitude, on a sphere of 6371 km.
const KM_PER_DEG: f64 = 111.195;

/// A year at one station: hourly values and temperature and pressure every 160 s.
pub struct Year {
    /// Values at the full hour, rain of the hour; wind is the hour's mean.
    pub hours: Record,
    /// Temperature every 160 s, degC.
    pub temperature: Vec<f64>,
    /// Pressure every 160 s, hPa.
    pub pressure: Vec<f64>,
}

/// Seconds between the values of [`Year::temperature`].
pub const FINE_S: f64 = 160.0;

/// A place some kilometres east and north of another.
#[must_use]
pub fn shifted(place: Place, east_km: f64, north_km: f64) -> Place {
    let cosine = place.latitude_deg.to_radians().cos();
    Place {
        latitude_deg: place.latitude_deg + north_km / KM_PER_DEG,
        longitude_deg: place.longitude_deg + east_km / (KM_PER_DEG * cosine),
        ..place
    }
}

/// A year of one station of a region.
#[must_use]
pub fn year(climate: &Climate, reference: Place, place: Place, seed: u64, owner: &str) -> Year {
    let region = Region::new(climate, reference, Seed(seed));
    let first = day_of(jiff::civil::date(2013, 1, 1)) * DAY as i64;
    let start_us = first * 3_600_000_000;
    let mut weather = Weather::synthetic(&region, place, Site::OPEN, owner, start_us, 16.0);
    let mut year = Year {
        hours: Record {
            first,
            hours: Vec::new(),
        },
        temperature: Vec::new(),
        pressure: Vec::new(),
    };
    let (mut rain, mut wind) = (0.0, 0.0);
    for n in 1..=365 * 5400_i64 {
        let truth = weather.advance(start_us + n * STEP_US);
        rain += truth.rainfall_mm + truth.snowfall_mm;
        wind += truth.wind_speed_ms / 225.0;
        if n % 10 == 0 {
            year.temperature.push(truth.air_temperature_degc);
            year.pressure.push(truth.air_pressure_hpa);
        }
        if n % 225 == 0 {
            year.hours.hours.push(Hour {
                t: truth.air_temperature_degc,
                td: truth.dew_point_degc,
                rh: truth.relative_humidity_percent,
                p: truth.air_pressure_hpa,
                ws: wind,
                wd: truth.wind_from_direction_deg,
                gust: f64::NAN,
                rain,
            });
            (rain, wind) = (0.0, 0.0);
        }
    }
    year
}

/// Correlations of two stations by quantity: temperature anomaly, dew point anomaly, humidity anomaly,
/// pressure, wind anomaly, hourly rain, daily rain; then how often the second is wet in the first's wet hours.
#[must_use]
pub fn correlations(a: &Year, b: &Year) -> [f64; 8] {
    let of = |pick: fn(&Hour) -> f64, less: bool| {
        let [x, y] = [a, b].map(|s| {
            let values = s.hours.column(pick);
            if less {
                anomaly(&s.hours, &values)
            } else {
                values
            }
        });
        Pairs::lagged(&x, &y, 0, &|_| 0).correlation(&ONE)
    };
    let daily = |s: &Year| -> Vec<f64> {
        s.hours
            .hours
            .chunks_exact(DAY)
            .map(|d| d.iter().map(|h| h.rain).sum())
            .collect()
    };
    let wet = a
        .hours
        .hours
        .iter()
        .zip(&b.hours.hours)
        .filter(|(a, _)| a.rain >= 0.2);
    let both = Values::new(wet.map(|(_, b)| (f64::from(u8::from(b.rain >= 0.2)), 0)));
    [
        of(|h| h.t, true),
        of(|h| h.td, true),
        of(|h| h.rh, true),
        of(|h| h.p, false),
        of(|h| h.ws, true),
        of(|h| h.rain, false),
        Pairs::lagged(&daily(a), &daily(b), 0, &|_| 0).correlation(&ONE),
        both.mean(&ONE),
    ]
}

/// A sharp fall of temperature with pressure that falls before and rises after.
#[must_use]
pub fn fronts(year: &Year) -> Vec<usize> {
    let (t, p) = (&year.temperature, &year.pressure);
    let hour = (3600.0 / FINE_S) as usize;
    let kink = |i: usize| (p[i + 3 * hour] - p[i]) - (p[i] - p[i - 3 * hour]);
    let mut found: Vec<usize> = Vec::new();
    let mut i = 6 * hour;
    while i + 12 * hour < t.len() {
        let fall = t[i - hour] - t[i + hour];
        if fall < 3.0 || kink(i) < 2.0 {
            i += 1;
            continue;
        }
        // The sharpest moment of the next hours.
        let best = (i..i + 4 * hour).max_by(|&a, &b| {
            let fall = |k: usize| t[k - hour / 2] - t[k + hour / 2];
            fall(a).total_cmp(&fall(b))
        });
        found.push(best.unwrap_or(i));
        i += 12 * hour;
    }
    found
}

/// Lag of the second station behind the first, s, at which the falls of temperature around a front fit best,
/// within `most_s` either way; and the correlation there.
#[must_use]
pub fn lag_s(a: &Year, b: &Year, front: usize, most_s: f64) -> (f64, f64) {
    let hour = (3600.0 / FINE_S) as usize;
    let most = (most_s / FINE_S) as i64;
    // Changes over half an hour: the day's own course hardly counts in them.
    let step = |y: &Year, i: usize| y.temperature[i + hour / 2] - y.temperature[i];
    let x: Vec<f64> = (front - 3 * hour..front + 3 * hour)
        .map(|i| step(a, i))
        .collect();
    let mut best = (0.0, -1.0);
    for shift in -most..=most {
        let at = |i: usize| (i as i64 + shift).max(0) as usize;
        let end = at(front + 4 * hour);
        if end >= b.temperature.len() {
            continue;
        }
        let y: Vec<f64> = (front - 3 * hour..front + 3 * hour)
            .map(|i| step(b, at(i)))
            .collect();
        let r = Pairs::lagged(&x, &y, 0, &|_| 0).correlation(&ONE);
        if r > best.1 {
            best = (shift as f64 * FINE_S, r);
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    fn with_front(at: usize) -> Year {
        let n = 2000;
        let s = |i: usize| (i as f64 - at as f64) * FINE_S / 3600.0;
        Year {
            hours: Record {
                first: 0,
                hours: vec![Hour::MISSING; 24],
            },
            temperature: (0..n).map(|i| 15.0 - 3.0 * (s(i) / 0.3).tanh()).collect(),
            pressure: (0..n).map(|i| 1000.0 + 1.5 * s(i).abs().min(9.0)).collect(),
        }
    }

    #[test]
    fn a_front_is_found_and_its_delay_measured() {
        let (a, b) = (with_front(900), with_front(920));
        let found = fronts(&a);
        assert_eq!(found.len(), 1);
        assert!(found[0].abs_diff(900) <= 2, "{found:?}");
        let (lag, r) = lag_s(&a, &b, found[0], 7200.0);
        assert!((lag - 20.0 * FINE_S).abs() < 1.0 && r > 0.999, "{lag} {r}");
    }
}
