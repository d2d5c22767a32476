//! Years of simulated weather, written down as airport reports.

use crate::airport::{MINUTE, Observer};
use crate::hourly::{DAY, Record, day_of};
use crate::open_year::{PLACE, ZONE_H};
use crate::sample::Values;
use benchmast_sim::entropy::Seed;
use benchmast_sim::site::{LocalWind, Site};
use benchmast_sim::weather::climate::{Climate, Normals};
use benchmast_sim::weather::{Region, Weather};

/// Mean cloud cover of the months at the open year's place: the reports do not hold it (about 0.5 in autumn
/// to 0.6 in winter on that coast; from memory).
const CLOUD: [f64; 12] = [
    0.60, 0.58, 0.58, 0.58, 0.58, 0.56, 0.55, 0.54, 0.51, 0.50, 0.57, 0.60,
];
/// What hourly readings miss of the day's range, K: the extremes fall between them (common practice, no
/// source; 0.3 and 1.3 K on the open minute days).
pub const MISSED_RANGE_K: f64 = 0.5;
const FIRST_YEAR: i16 = 2013;
const STEP_US: i64 = 16_000_000;
const STEPS_AN_HOUR: usize = 225;
/// Interval of the hour whose end is at the report's minute.
const REPORT_STEP: usize = (MINUTE * 60 / 16) as usize;

/// The place's own shore: open water to the south, some kilometres away (from the map, roughly).
pub const BREEZE: LocalWind = LocalWind::SeaBreeze {
    onshore_from_deg: 180.0,
    shore_km: 6.0,
};

/// What one calendar month is like: a row of the table of normals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Month {
    /// Mean temperature and dew point, degC.
    pub t: f64,
    /// Dew point.
    pub td: f64,
    /// Mean of the daily range of the hourly readings, K.
    pub range: f64,
    /// Rain, mm a month.
    pub rain: f64,
    /// Hours of the month with at least one hundredth of an inch.
    pub wet_hours: f64,
    /// Mean wind, m/s.
    pub ws: f64,
    /// Middle of the most frequent 70 degrees of direction.
    pub wd: f64,
    /// Middle of the 70 degrees that are the most frequent of those at least 90 degrees away from `wd`.
    pub wd_second: f64,
    /// Share of the second among the directions of the two.
    pub second_share: f64,
}

/// The months of one record.
#[must_use]
pub fn months(record: &Record) -> [Month; 12] {
    let of = record.months();
    std::array::from_fn(|m| {
        let hours: Vec<usize> = (0..record.len()).filter(|&i| of[i] == m + 1).collect();
        month(record, &hours)
    })
}

fn month(record: &Record, hours: &[usize]) -> Month {
    let mean = |of: fn(&crate::hourly::Hour) -> f64| {
        Values::new(hours.iter().map(|&i| (of(&record.hours[i]), 0))).mean(&[1.0])
    };
    // A month of the record may lack hours; its totals are those of a whole month of the mean year.
    let whole = 365.2425 * DAY as f64 / 12.0;
    let mut sectors = [0.0; 36];
    for &i in hours {
        let hour = &record.hours[i];
        if hour.wd.is_finite() {
            sectors[(hour.wd / 10.0).round() as usize % 36] += 1.0;
        }
    }
    let near = |s: usize| (0..7).map(|k| sectors[(s + 33 + k) % 36]).sum::<f64>();
    let most = |from: usize, to: usize| {
        let sectors = (from..=to).map(|s| s % 36);
        sectors
            .max_by(|&a, &b| near(a).total_cmp(&near(b)))
            .unwrap_or(0)
    };
    let prevailing = most(0, 35);
    let second = most(prevailing + 9, prevailing + 27);
    let mut ranges = Vec::new();
    for day in hours.chunk_by(|&a, &b| record.day(a) == record.day(b)) {
        let t = Values::new(day.iter().map(|&i| (record.hours[i].t, 0)));
        if t.count(&[1.0]) >= 23.0 {
            ranges.push((t.quantile(&[1.0], 1.0) - t.quantile(&[1.0], 0.0), 0));
        }
    }
    Month {
        t: mean(|h| h.t),
        td: mean(|h| h.td),
        range: Values::new(ranges).mean(&[1.0]),
        rain: mean(|h| h.rain) * whole,
        wet_hours: mean(|h| {
            if h.rain.is_nan() {
                f64::NAN
            } else {
                f64::from(u8::from(h.rain > 0.05))
            }
        }) * whole,
        ws: mean(|h| h.ws),
        wd: prevailing as f64 * 10.0,
        wd_second: second as f64 * 10.0,
        second_share: near(second) / (near(second) + near(prevailing)),
    }
}

/// The climate of a place whose normals are those of one record.
///
/// # Panics
/// Never: the named climate it starts from exists.
#[must_use]
pub fn climate(record: &Record) -> Climate {
    let mut climate = Climate::by_name("temperate_maritime").expect("a named climate");
    for ((normals, month), cloud) in climate.months.iter_mut().zip(months(record)).zip(CLOUD) {
        *normals = Normals {
            mean_temperature_degc: month.t,
            daily_range_k: month.range + MISSED_RANGE_K,
            mean_dew_point_degc: month.td,
            rain_mm: month.rain,
            wet_hours: month.wet_hours,
            mean_wind_speed_ms: month.ws,
            prevailing_direction_deg: month.wd,
            second_direction_deg: month.wd_second,
            second_share: month.second_share,
            cloud_area_fraction: cloud,
            ..*normals
        };
    }
    climate
}

/// A calendar year of the region's weather at the open year's place, with the open year's first and last
/// hours.
///
/// # Panics
/// When the year is not a year of the calendar.
#[must_use]
pub fn year(region: &Region, number: i16, local_wind: LocalWind, hours: usize) -> Record {
    let site = Site {
        height_m: 10.0,
        roughness_length_m: 0.01,
        local_wind,
        ..Site::OPEN
    };
    // The record's first label is 01 h of 1 January; the report ends 51 minutes after it.
    let first = day_of(jiff::civil::date(number, 1, 1)) * DAY as i64 + 1;
    let label_us = (first - ZONE_H) * 3_600_000_000;
    // One hour before, so that the means have a past, shifted so that an interval ends at the report.
    let start_us = label_us - 3_600_000_000 + MINUTE * 60_000_000 % STEP_US;
    let owner = "airport";
    let mut weather = Weather::synthetic(region, PLACE, site, owner, start_us, 16.0);
    let luck = Seed(region.seed().0 ^ u64::from(number.unsigned_abs()));
    let mut observer = Observer::new(PLACE.altitude_m, luck);
    let mut record = Record {
        first,
        hours: Vec::with_capacity(hours),
    };
    let mut time_us = start_us;
    for step in 1..=(hours + 1) * STEPS_AN_HOUR {
        time_us += STEP_US;
        let truth = weather.advance(time_us);
        observer.watch(&truth);
        if step % STEPS_AN_HOUR == REPORT_STEP {
            let hour = observer.report(&truth);
            if step > STEPS_AN_HOUR {
                record.hours.push(hour);
            }
        }
    }
    record
}

/// Consecutive years under one seed, in order; worked out on two threads.
///
/// # Panics
/// When a thread does.
#[must_use]
pub fn years(open: &Record, seed: u64, count: usize, local_wind: LocalWind) -> Vec<Record> {
    let region = Region::new(&climate(open), PLACE, Seed(seed));
    let make = |n: usize| year(&region, FIRST_YEAR + n as i16, local_wind, open.len());
    let half = count / 2;
    std::thread::scope(|scope| {
        let second = scope.spawn(move || (half..count).map(make).collect::<Vec<_>>());
        let mut all: Vec<Record> = (0..half).map(make).collect();
        all.extend(second.join().expect("a year"));
        all
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::open_year;

    #[test]
    fn the_normals_are_those_of_the_open_year() {
        let months = months(&open_year::read());
        // January: 62 mm fell in 744 hours; July: the warmest, from the south.
        assert!(
            (months[0].rain - 61.98 * 730.485 / 743.0).abs() < 0.3,
            "{:?}",
            months[0]
        );
        assert!((months[6].range - 7.061).abs() < 0.001, "{:?}", months[6]);
        assert!((150.0..=210.0).contains(&months[6].wd), "{:?}", months[6]);
        assert!(months.iter().all(|m| m.t <= months[6].t));
    }

    #[test]
    fn a_simulated_year_has_the_open_years_labels() {
        let open = open_year::read();
        let region = Region::new(&climate(&open), PLACE, Seed(1));
        let record = year(&region, 2013, LocalWind::None, 50);
        assert_eq!((record.first, record.len()), (open.first, 50));
        assert!(record.hours.iter().all(|h| h.td <= h.t && h.ws >= 0.0));
    }
}
