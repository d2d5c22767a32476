//! Times as a scenario writes them.
//!
//! | written | means |
//! |---|---|
//! | `2026-04-01T09:00:00Z` | that instant (with or without quotes; another offset than Z is converted) |
//! | `2026-04-01` | that day at 00:00 UTC |
//! | `"+2d09:00"` | two days and nine hours after the start of the period (faults only) |
//! | `"+2d"`, `"+36h"` | two days, 36 hours after the start of the period (faults only) |

use jiff::Timestamp;
use std::fmt;

/// One day, microseconds.
pub(super) const DAY_US: i64 = 86_400_000_000;
/// One hour, microseconds.
pub(super) const HOUR_US: i64 = 3_600_000_000;

/// Earliest instant, inclusive: the Gregorian calendar and UTC are safe ground from here on.
const EARLIEST: &str = "1900-01-01T00:00:00Z";
/// Latest instant, inclusive.
const LATEST: &str = "2100-01-01T00:00:00Z";

/// When.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Moment {
    /// An instant, microseconds since 1970-01-01T00:00:00Z.
    At(i64),
    /// So long after the start of the period, microseconds.
    AfterStart(i64),
}

impl Moment {
    /// The instant, for a period that starts at `start_us`.
    pub(super) fn resolve(self, start_us: i64) -> i64 {
        match self {
            Self::At(instant) => instant,
            Self::AfterStart(offset) => start_us.saturating_add(offset),
        }
    }
}

/// Why a text is not a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Refusal {
    /// No such day or time of day, or not written like one.
    NotATime,
    /// A date with a time of day but without an offset.
    NoOffset,
    /// Before 1900 or after 2100.
    FarAway,
    /// A relative time where only an instant will do.
    Relative,
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::NotATime => "is not a time of the calendar",
            Self::NoOffset => "does not say which time zone",
            Self::FarAway => "is not between the years 1900 and 2100",
            Self::Relative => "is relative, and there is nothing it could be relative to",
        })
    }
}

/// Read a time. Relative times are read only when `relative` is set.
pub(super) fn parse(text: &str, relative: bool) -> Result<Moment, Refusal> {
    let text = text.trim();
    if let Some(offset) = text.strip_prefix('+') {
        let offset = parse_offset(offset).ok_or(Refusal::NotATime)?;
        return if relative {
            Ok(Moment::AfterStart(offset))
        } else {
            Err(Refusal::Relative)
        };
    }
    instant(text).map(Moment::At)
}

/// Read an instant, microseconds since 1970-01-01T00:00:00Z.
pub(super) fn instant(text: &str) -> Result<i64, Refusal> {
    let timestamp = if let Ok(timestamp) = text.parse::<Timestamp>() {
        timestamp
    } else if text.parse::<jiff::civil::Date>().is_ok() && text.len() == 10 {
        format!("{text}T00:00:00Z")
            .parse()
            .map_err(|_| Refusal::NotATime)?
    } else if text.parse::<jiff::civil::DateTime>().is_ok() && text.len() > 10 {
        return Err(Refusal::NoOffset);
    } else {
        return Err(Refusal::NotATime);
    };
    let limit = |text: &str| text.parse::<Timestamp>().ok();
    if limit(EARLIEST).is_some_and(|earliest| timestamp < earliest)
        || limit(LATEST).is_some_and(|latest| timestamp > latest)
    {
        return Err(Refusal::FarAway);
    }
    Ok(timestamp.as_microsecond())
}

/// `2d`, `2d09:00`, `36h`, without the plus.
fn parse_offset(text: &str) -> Option<i64> {
    let count = |digits: &str| -> Option<i64> {
        // Five digits of days are 273 years: more than any period, and no overflow.
        let plain = !digits.is_empty() && digits.len() <= 5;
        (plain && digits.bytes().all(|byte| byte.is_ascii_digit()))
            .then(|| digits.parse().ok())
            .flatten()
    };
    if let Some(hours) = text.strip_suffix('h') {
        return Some(count(hours)? * HOUR_US);
    }
    let (days, clock) = text.split_once('d')?;
    let days = count(days)? * DAY_US;
    if clock.is_empty() {
        return Some(days);
    }
    let (hours, minutes) = clock.trim_start().split_once(':')?;
    let (hours, minutes) = (count(hours)?, count(minutes)?);
    (hours < 24 && minutes < 60).then(|| days + hours * HOUR_US + minutes * (HOUR_US / 60))
}

/// An instant as text, to the second where nothing finer is needed.
pub(super) fn show(time_us: i64) -> String {
    Timestamp::from_microsecond(time_us).map_or_else(
        |_| format!("{time_us} us"),
        |timestamp| timestamp.to_string(),
    )
}

/// A duration as text, in the unit that suits it.
pub(super) fn show_duration(duration_us: i64) -> String {
    let with = |value: f64, unit: &str| {
        let rounded = (value * 100.0).round() / 100.0;
        format!("{rounded} {unit}")
    };
    let length = duration_us as f64;
    if duration_us.abs() >= 2 * DAY_US {
        with(length / DAY_US as f64, "days")
    } else if duration_us.abs() >= HOUR_US {
        with(length / HOUR_US as f64, "h")
    } else {
        with(length / 60e6, "min")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_way_of_writing_a_time() {
        let april = 1_775_001_600_000_000;
        for (text, expected) in [
            ("2026-04-01T00:00:00Z", Ok(Moment::At(april))),
            ("2026-04-01 00:00:00Z", Ok(Moment::At(april))),
            ("2026-04-01T02:00:00+02:00", Ok(Moment::At(april))),
            ("2026-04-01", Ok(Moment::At(april))),
            ("+0d", Ok(Moment::AfterStart(0))),
            ("+2d", Ok(Moment::AfterStart(2 * DAY_US))),
            (
                "+2d09:30",
                Ok(Moment::AfterStart(2 * DAY_US + 9 * HOUR_US + HOUR_US / 2)),
            ),
            ("+36h", Ok(Moment::AfterStart(36 * HOUR_US))),
            ("2026-04-01T00:00:00", Err(Refusal::NoOffset)),
            ("2026-02-30", Err(Refusal::NotATime)),
            ("2026-04-01T25:00:00Z", Err(Refusal::NotATime)),
            ("tomorrow", Err(Refusal::NotATime)),
            ("", Err(Refusal::NotATime)),
            ("+", Err(Refusal::NotATime)),
            ("+2", Err(Refusal::NotATime)),
            ("+2d24:00", Err(Refusal::NotATime)),
            ("+999999d", Err(Refusal::NotATime)),
            ("+-2d", Err(Refusal::NotATime)),
            ("1899-12-31", Err(Refusal::FarAway)),
            ("2100-01-02", Err(Refusal::FarAway)),
        ] {
            assert_eq!(parse(text, true), expected, "{text}");
        }
        assert_eq!(parse("+2d", false), Err(Refusal::Relative));
    }

    #[test]
    fn durations_take_the_unit_that_suits_them() {
        assert_eq!(show_duration(16_000_000), "0.27 min");
        assert_eq!(show_duration(36 * HOUR_US), "36 h");
        assert_eq!(show_duration(7 * DAY_US), "7 days");
        assert_eq!(show(1_775_001_600_000_000), "2026-04-01T00:00:00Z");
    }
}
