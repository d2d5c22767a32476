//! A record of hours without holes in its index; a missing value is NaN.

use jiff::civil::Date;

/// Hours in a day.
pub const DAY: usize = 24;

/// One hourly report. Missing values are NaN.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hour {
    /// Air temperature, degC.
    pub t: f64,
    /// Dew point, degC.
    pub td: f64,
    /// Relative humidity, percent.
    pub rh: f64,
    /// Pressure at sea level, hPa.
    pub p: f64,
    /// Wind speed, m/s; 0 is a calm.
    pub ws: f64,
    /// Direction the wind comes from, degrees; missing in a calm.
    pub wd: f64,
    /// Gust, m/s; missing when none is reported.
    pub gust: f64,
    /// Rain of the hour, mm.
    pub rain: f64,
}

impl Hour {
    /// Nothing reported.
    pub const MISSING: Self = Self {
        t: f64::NAN,
        td: f64::NAN,
        rh: f64::NAN,
        p: f64::NAN,
        ws: f64::NAN,
        wd: f64::NAN,
        gust: f64::NAN,
        rain: f64::NAN,
    };
}

/// Consecutive hours in local standard time.
#[derive(Debug, Clone, PartialEq)]
pub struct Record {
    /// Label of the first hour: hours since 1970-01-01 00:00 of the local standard time.
    pub first: i64,
    /// The hours, in order.
    pub hours: Vec<Hour>,
}

impl Record {
    /// How many hours.
    #[must_use]
    pub fn len(&self) -> usize {
        self.hours.len()
    }

    /// Whether there is no hour.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.hours.is_empty()
    }

    /// Hour of the day of hour `i`, 0 to 23.
    #[must_use]
    pub fn hour_of_day(&self, i: usize) -> usize {
        (self.first + i as i64).rem_euclid(DAY as i64) as usize
    }

    /// Number of the day of hour `i`, from 0 at the first hour's day.
    #[must_use]
    pub fn day(&self, i: usize) -> usize {
        ((self.first + i as i64).div_euclid(DAY as i64) - self.first.div_euclid(DAY as i64))
            as usize
    }

    /// Month of every hour, 1 to 12.
    #[must_use]
    pub fn months(&self) -> Vec<usize> {
        let mut date = date_of(self.first.div_euclid(DAY as i64));
        let mut months = Vec::with_capacity(self.len());
        for i in 0..self.len() {
            if i > 0 && self.hour_of_day(i) == 0 {
                date = date.tomorrow().unwrap_or(date);
            }
            months.push(date.month().unsigned_abs() as usize);
        }
        months
    }

    /// One quantity of every hour.
    #[must_use]
    pub fn column(&self, of: impl Fn(&Hour) -> f64) -> Vec<f64> {
        self.hours.iter().map(of).collect()
    }

    /// The first `n` hours.
    #[must_use]
    pub fn head(&self, n: usize) -> Self {
        Self {
            first: self.first,
            hours: self.hours[..n.min(self.len())].to_vec(),
        }
    }
}

/// Date of a day counted from 1970-01-01.
#[must_use]
pub fn date_of(day: i64) -> Date {
    let epoch = jiff::civil::date(1970, 1, 1);
    epoch
        .checked_add(jiff::Span::new().days(day))
        .unwrap_or(epoch)
}

/// Days from 1970-01-01 to a date.
#[must_use]
pub fn day_of(date: Date) -> i64 {
    let epoch = jiff::civil::date(1970, 1, 1);
    epoch
        .until(date)
        .map_or(0, |span| i64::from(span.get_days()))
}

/// `x[i] - x[i - lag]`, NaN where either is missing.
#[must_use]
pub fn change(x: &[f64], lag: usize) -> Vec<f64> {
    (0..x.len())
        .map(|i| if i < lag { f64::NAN } else { x[i] - x[i - lag] })
        .collect()
}

/// Values less the mean of their month and hour of the day.
#[must_use]
pub fn anomaly(record: &Record, x: &[f64]) -> Vec<f64> {
    let months = record.months();
    let cell = |i: usize| (months[i] - 1) * DAY + record.hour_of_day(i);
    let mut sums = vec![(0.0, 0.0); 12 * DAY];
    for (i, v) in x.iter().enumerate().filter(|(_, v)| v.is_finite()) {
        sums[cell(i)].0 += v;
        sums[cell(i)].1 += 1.0;
    }
    x.iter()
        .enumerate()
        .map(|(i, v)| v - sums[cell(i)].0 / sums[cell(i)].1)
        .collect()
}

/// The first `limit` values of every inner gap filled on the straight line across it.
#[must_use]
pub fn bridge(x: &[f64], limit: usize) -> Vec<f64> {
    let mut filled = x.to_vec();
    let mut last: Option<usize> = None;
    for i in 0..x.len() {
        if x[i].is_nan() {
            continue;
        }
        if let Some(from) = last {
            for (n, slot) in filled[from + 1..i].iter_mut().take(limit).enumerate() {
                let share = (n + 1) as f64 / (i - from) as f64;
                *slot = x[from] + share * (x[i] - x[from]);
            }
        }
        last = Some(i);
    }
    filled
}

/// Values less the mean of the 25 hours around them, of which at least 22 must be there.
#[must_use]
pub fn without_slow_part(x: &[f64]) -> Vec<f64> {
    (0..x.len())
        .map(|i| {
            let (from, to) = (i.saturating_sub(12), (i + 13).min(x.len()));
            let there: Vec<f64> = x[from..to]
                .iter()
                .copied()
                .filter(|v| v.is_finite())
                .collect();
            if there.len() < 22 {
                return f64::NAN;
            }
            x[i] - there.iter().sum::<f64>() / there.len() as f64
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_follow_the_calendar() {
        let first = day_of(jiff::civil::date(2016, 2, 28)) * 24 + 22;
        let record = Record {
            first,
            hours: vec![Hour::MISSING; 60],
        };
        let months = record.months();
        assert_eq!((record.hour_of_day(0), record.hour_of_day(2)), (22, 0));
        assert_eq!((record.day(1), record.day(2), record.day(26)), (0, 1, 2));
        // 2016 has a 29 February: two hours of the 28th and the whole 29th.
        assert_eq!((months[25], months[26]), (2, 3));
        assert_eq!(
            date_of(day_of(jiff::civil::date(2013, 7, 4))).to_string(),
            "2013-07-04"
        );
    }

    #[test]
    fn a_long_gap_is_bridged_in_its_first_hours_only() {
        let n = f64::NAN;
        let filled = bridge(&[n, 1.0, n, n, n, n, 6.0, n], 3);
        assert_eq!(filled[1..5], [1.0, 2.0, 3.0, 4.0]);
        assert!(filled[0].is_nan() && filled[5].is_nan() && filled[7].is_nan());
    }
}
