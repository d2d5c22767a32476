//! The time axis: a period cut into at most [`MOST_BINS`] bins, and the ticks that label it.

use super::wording;
use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::Offset;

/// More bins than this no screen shows.
const MOST_BINS: i64 = 1000;
/// More bars than this cannot be told apart.
const MOST_BARS: i64 = 180;
/// More labels than this run into each other.
const MOST_TICKS: usize = 14;
const SECOND: i64 = 1_000_000;
pub(super) const HOUR: i64 = 3600 * SECOND;
pub(super) const DAY: i64 = 24 * HOUR;
/// 1970-01-05 was a Monday.
const FIRST_MONDAY: i64 = 4 * DAY;

/// Widths of a bin, microseconds. Between 3 h and a day there is none: such bins would turn the day's
/// course into a zigzag, whereas a whole day has a mean, a lowest and a highest value.
const WIDTHS: [i64; 17] = [
    60 * SECOND,
    120 * SECOND,
    300 * SECOND,
    600 * SECOND,
    900 * SECOND,
    1200 * SECOND,
    1800 * SECOND,
    HOUR,
    2 * HOUR,
    3 * HOUR,
    DAY,
    2 * DAY,
    5 * DAY,
    10 * DAY,
    30 * DAY,
    100 * DAY,
    1000 * DAY,
];

/// A period cut into bins of equal width.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Timeline {
    /// First instant of the plan, microseconds since 1970-01-01T00:00:00Z.
    pub start_us: i64,
    /// Last instant of the plan.
    pub end_us: i64,
    /// Reporting interval, microseconds.
    pub interval_us: i64,
    /// Where the first bin begins.
    pub origin_us: i64,
    /// Width of a bin.
    pub width_us: i64,
    /// Number of bins, 1 to [`MOST_BINS`].
    pub count: usize,
}

impl Timeline {
    pub(super) fn new(start_us: i64, end_us: i64, interval_s: u16) -> Self {
        let interval_us = i64::from(interval_s.max(1)) * SECOND;
        let period_us = end_us.saturating_sub(start_us).max(interval_us);
        let mut timeline = Self {
            start_us,
            end_us: start_us.saturating_add(period_us),
            interval_us,
            origin_us: start_us,
            width_us: interval_us,
            count: 1,
        };
        let intervals = (period_us - 1) / interval_us + 1;
        if intervals <= MOST_BINS {
            timeline.count = intervals as usize;
            return timeline;
        }
        for width in WIDTHS.into_iter().filter(|width| *width >= interval_us) {
            let origin = start_us.div_euclid(width) * width;
            let count = (timeline.end_us - origin - 1) / width + 1;
            timeline.origin_us = origin;
            timeline.width_us = width;
            timeline.count = count.min(MOST_BINS) as usize;
            if count <= MOST_BINS {
                break;
            }
        }
        timeline
    }

    /// End of the last bin.
    pub(super) fn close_us(&self) -> i64 {
        self.origin_us
            .saturating_add(self.width_us.saturating_mul(self.count as i64))
    }

    /// The bin of an instant; what lies outside belongs to the first or last bin.
    pub(super) fn bin_of(&self, time_us: i64) -> usize {
        let bin = time_us.saturating_sub(self.origin_us) / self.width_us;
        bin.clamp(0, self.count as i64 - 1) as usize
    }

    /// The bin of what happens at the end of an interval, which belongs to the interval.
    pub(super) fn bin_of_interval_end(&self, time_us: i64) -> usize {
        self.bin_of(time_us - self.interval_us / 2)
    }

    /// Begin of a bin.
    pub(super) fn begin_us(&self, bin: usize) -> i64 {
        self.origin_us + self.width_us * bin as i64
    }

    /// How far along the axis an instant lies, held to 0..=1.
    pub(super) fn share(&self, time_us: i64) -> f64 {
        let along = time_us.saturating_sub(self.origin_us) as f64;
        (along / (self.width_us as f64 * self.count as f64)).clamp(0.0, 1.0)
    }

    /// Whether a bin holds more than one interval, so that it has a range.
    pub(super) fn has_ranges(&self) -> bool {
        self.width_us > self.interval_us
    }

    /// Whether nights can be told apart on the axis.
    pub(super) fn shows_nights(&self) -> bool {
        self.width_us <= 3 * HOUR && self.close_us() - self.origin_us <= 45 * DAY
    }

    /// Bins put together into bars that can be told apart: the width of a bar and the ranges of bins.
    pub(super) fn bars(&self) -> (i64, Vec<(usize, usize)>) {
        let mut bar_us = self.width_us;
        if self.count as i64 > MOST_BARS {
            let smallest = self.width_us * self.count as i64 / MOST_BARS;
            bar_us = if self.has_ranges() {
                let fits = |width: &i64| *width >= smallest && *width % self.width_us == 0;
                let day_parts = [6 * HOUR, 12 * HOUR];
                let mut widths: Vec<i64> = WIDTHS.into_iter().chain(day_parts).collect();
                widths.sort_unstable();
                widths.into_iter().find(fits).unwrap_or(smallest)
            } else {
                self.width_us * (smallest / self.width_us + 1)
            };
        }
        let first_us = if self.has_ranges() {
            self.origin_us.div_euclid(bar_us) * bar_us
        } else {
            self.origin_us
        };
        let mut ranges = Vec::new();
        let mut begin = 0;
        for bin in 1..=self.count {
            let bar_before = (self.begin_us(bin - 1) - first_us) / bar_us;
            let bar = (self.begin_us(bin) - first_us) / bar_us;
            if bin == self.count || bar != bar_before {
                ranges.push((begin, bin));
                begin = bin;
            }
        }
        (bar_us, ranges)
    }

    /// Labelled instants along the axis, at most [`MOST_TICKS`].
    pub(super) fn ticks(&self) -> Vec<Tick> {
        let span = self.close_us() - self.origin_us;
        let parts = [1, 2, 5, 10, 20, 60, 120, 300, 600, 900, 1800].map(|s| s * SECOND);
        let hours = [1, 2, 3, 6, 12].map(|h| h * HOUR);
        let days = [1, 2, 3, 7, 14].map(|d| d * DAY);
        for step in parts.into_iter().chain(hours).chain(days) {
            if span / step <= MOST_TICKS as i64 {
                let phase = if step >= 7 * DAY { FIRST_MONDAY } else { 0 };
                return self.even_ticks(step, phase);
            }
        }
        for months in [1, 3, 6, 12, 24, 60, 120, 600, 1200, 6000] {
            let ticks = self.month_ticks(months);
            if ticks.len() <= MOST_TICKS {
                return ticks;
            }
        }
        Vec::new()
    }

    fn even_ticks(&self, step: i64, phase: i64) -> Vec<Tick> {
        let first = (self.origin_us - phase + step - 1).div_euclid(step) * step + phase;
        let mut ticks = Vec::new();
        let mut time = first;
        while time <= self.close_us() {
            let at = civil(time);
            let midnight = time.rem_euclid(DAY) == 0;
            let label = if midnight {
                wording::day(at)
            } else if step % (60 * SECOND) == 0 {
                format!("{:02}:{:02}", at.hour(), at.minute())
            } else {
                format!("{:02}:{:02}:{:02}", at.hour(), at.minute(), at.second())
            };
            ticks.push(Tick {
                share: self.share(time),
                label,
                strong: midnight,
            });
            time += step;
        }
        ticks
    }

    fn month_ticks(&self, months: i32) -> Vec<Tick> {
        let first = civil(self.origin_us);
        let mut index = i32::from(first.year()) * 12 + i32::from(first.month()) - 1;
        index = index.div_euclid(months) * months;
        let mut ticks = Vec::new();
        while ticks.len() <= MOST_TICKS {
            let (year, month) = (index.div_euclid(12), index.rem_euclid(12));
            index += months;
            let Ok(year) = i16::try_from(year) else { break };
            let Ok(date) = jiff::civil::Date::new(year, month as i8 + 1, 1) else {
                break;
            };
            let Ok(begin) = Offset::UTC.to_timestamp(date.at(0, 0, 0, 0)) else {
                break;
            };
            let time = begin.as_microsecond();
            if time > self.close_us() {
                break;
            }
            if time < self.origin_us {
                continue;
            }
            let label = if months >= 12 {
                year.to_string()
            } else if month == 0 || ticks.is_empty() {
                format!("{} {year}", wording::month(month as usize))
            } else {
                wording::month(month as usize).to_owned()
            };
            ticks.push(Tick {
                share: self.share(time),
                label,
                strong: month == 0,
            });
        }
        ticks
    }
}

/// A labelled instant.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Tick {
    /// How far along the axis, 0..=1.
    pub share: f64,
    /// Its label.
    pub label: String,
    /// Begin of a day (or year), drawn stronger.
    pub strong: bool,
}

/// Date and time in UTC; instants no calendar reaches are held at its ends.
pub(super) fn civil(time_us: i64) -> DateTime {
    let instant = Timestamp::from_microsecond(time_us).unwrap_or(if time_us < 0 {
        Timestamp::MIN
    } else {
        Timestamp::MAX
    });
    Offset::UTC.to_datetime(instant)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn timeline(start_day: i64, length_us: i64) -> Timeline {
        let start = start_day * DAY;
        Timeline::new(start, start + length_us, 16)
    }

    #[test]
    fn widths_follow_the_period() {
        let cases = [
            (16 * SECOND, 16 * SECOND, 1),
            (HOUR, 16 * SECOND, 225),
            (7 * DAY, 900 * SECOND, 672),
            (365 * DAY, DAY, 365),
            (3652 * DAY, 5 * DAY, 731),
        ];
        for (length, width, count) in cases {
            let axis = timeline(20_000, length);
            assert_eq!((axis.width_us, axis.count), (width, count), "{length}");
        }
    }

    #[test]
    fn few_intervals_get_a_bin_each_in_spite_of_clock_drift() {
        let axis = timeline(20_000, 900 * 16 * SECOND);
        for interval in 0..900 {
            for drift_ppm in [-200, 0, 200] {
                let length = 16 * SECOND + 16 * drift_ppm;
                let end = axis.start_us + (interval + 1) * length;
                assert_eq!(axis.bin_of_interval_end(end), interval as usize);
            }
        }
    }

    #[test]
    fn instants_outside_are_held() {
        let axis = timeline(20_000, 7 * DAY);
        assert_eq!(axis.bin_of(i64::MIN + 1), 0);
        assert_eq!(axis.bin_of(i64::MAX), axis.count - 1);
        assert!((axis.share(i64::MAX) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn bars_cover_every_bin_once() {
        for length in [16 * SECOND, HOUR, 4 * HOUR, 7 * DAY, 90 * DAY, 3652 * DAY] {
            let axis = timeline(20_000, length);
            let (bar_us, bars) = axis.bars();
            assert!(bars.len() <= MOST_BARS as usize + 2, "{}", bars.len());
            assert_eq!(bar_us % axis.width_us, 0);
            assert_eq!(bars.first().map(|bar| bar.0), Some(0));
            assert_eq!(bars.last().map(|bar| bar.1), Some(axis.count));
            assert!(bars.windows(2).all(|pair| pair[0].1 == pair[1].0));
        }
    }

    #[test]
    fn ticks_are_few_and_inside() {
        for length in [
            16 * SECOND,
            300 * SECOND,
            HOUR,
            DAY,
            7 * DAY,
            31 * DAY,
            200 * DAY,
            3652 * DAY,
        ] {
            let ticks = timeline(20_000, length).ticks();
            assert!(!ticks.is_empty() && ticks.len() <= MOST_TICKS + 1);
            assert!(ticks.iter().all(|tick| (0.0..=1.0).contains(&tick.share)));
        }
        let labels: Vec<String> = timeline(20_000, 3 * DAY)
            .ticks()
            .into_iter()
            .map(|tick| tick.label)
            .collect();
        // 20 000 days after 1970-01-01 is 2024-10-04.
        assert_eq!(labels[..3], ["4 Oct", "06:00", "12:00"]);
    }
}
