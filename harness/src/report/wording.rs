//! How numbers, times and units are written for people.

use super::timeline::{DAY, HOUR, civil};
use jiff::civil::DateTime;

const MONTHS: [&str; 12] = [
    "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
];

/// Text that is safe between tags and inside quoted attributes.
pub(super) fn escape(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            other => safe.push(other),
        }
    }
    safe
}

/// Short name of a month, 0 to 11.
pub(super) fn month(index: usize) -> &'static str {
    MONTHS.get(index).copied().unwrap_or("")
}

/// `4 Oct`.
pub(super) fn day(at: DateTime) -> String {
    format!("{} {}", at.day(), month(at.month() as usize - 1))
}

/// `4 Oct 2024, 06:00 UTC`.
pub(super) fn instant(time_us: i64) -> String {
    let at = civil(time_us);
    let (hour, minute) = (at.hour(), at.minute());
    format!("{} {}, {hour:02}:{minute:02} UTC", day(at), at.year())
}

/// A length of time in the two largest units that matter.
pub(super) fn span(length_us: i64) -> String {
    let (large, large_unit, small, small_unit) = if length_us >= 2 * DAY {
        (length_us / DAY, "d", length_us % DAY / HOUR, "h")
    } else if length_us >= HOUR {
        let minutes = length_us % HOUR / (HOUR / 60);
        (length_us / HOUR, "h", minutes, "min")
    } else if length_us >= HOUR / 60 {
        let seconds = length_us % (HOUR / 60) / (HOUR / 3600);
        (length_us / (HOUR / 60), "min", seconds, "s")
    } else {
        (length_us / (HOUR / 3600), "s", 0, "")
    };
    if small == 0 {
        format!("{large} {large_unit}")
    } else {
        format!("{large} {large_unit} {small} {small_unit}")
    }
}

/// A count with a narrow space between thousands.
pub(super) fn count(number: u64) -> String {
    let digits = number.to_string();
    let mut spaced = String::with_capacity(digits.len() * 2);
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            spaced.push('\u{202f}');
        }
        spaced.push(digit);
    }
    spaced
}

/// A value with a true minus sign and no minus before zero; a dash for none.
pub(super) fn value(value: Option<f64>, decimals: usize) -> String {
    let Some(value) = value.filter(|value| value.is_finite()) else {
        return "–".to_owned();
    };
    let text = format!("{value:.decimals$}");
    let Some(magnitude) = text.strip_prefix('-') else {
        return text;
    };
    if magnitude.bytes().all(|byte| byte == b'0' || byte == b'.') {
        magnitude.to_owned()
    } else {
        format!("\u{2212}{magnitude}")
    }
}

/// As [`value`], with a plus sign before what is above zero.
pub(super) fn signed(number: Option<f64>, decimals: usize) -> String {
    let text = value(number, decimals);
    let above =
        number.is_some_and(|number| number > 0.0) && text.bytes().any(|b| b > b'0' && b <= b'9');
    if above { format!("+{text}") } else { text }
}

/// A unit as people write it, from its UDUNITS spelling.
pub(super) fn unit(udunits: &'static str) -> &'static str {
    match udunits {
        "degC" => "°C",
        "percent" => "%",
        "m s-1" => "m/s",
        "degree" => "°",
        "1" => "",
        other => other,
    }
}

/// A value with its unit.
pub(super) fn quantity(number: Option<f64>, decimals: usize, udunits: &'static str) -> String {
    with_unit(value(number, decimals), udunits)
}

/// Text with a unit behind it, closed up where the trade closes it up.
pub(super) fn with_unit(text: String, udunits: &'static str) -> String {
    match unit(udunits) {
        "" => text,
        "°" => text + "°",
        unit => format!("{text}\u{a0}{unit}"),
    }
}

/// A share of a whole in percent; a dash when there is no whole.
pub(super) fn percent(part: u64, whole: u64) -> String {
    if whole == 0 {
        return "–".to_owned();
    }
    if part == whole {
        return "100\u{a0}%".to_owned();
    }
    // All but a few must not read as all.
    let share = (part as f64 / whole as f64 * 100.0).min(99.9);
    format!("{share:.1}\u{a0}%")
}

/// `one` or `many` after its number.
pub(super) fn plural(number: u64, one: &str, many: &str) -> String {
    format!("{} {}", count(number), if number == 1 { one } else { many })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_read_well() {
        assert_eq!(count(1_971_000), "1\u{202f}971\u{202f}000");
        assert_eq!(count(7), "7");
        assert_eq!(value(Some(-0.004), 2), "0.00");
        assert_eq!(value(Some(-1.5), 1), "\u{2212}1.5");
        assert_eq!(value(Some(f64::NAN), 1), "–");
        assert_eq!(signed(Some(0.004), 2), "0.00");
        assert_eq!(signed(Some(0.4), 1), "+0.4");
        assert_eq!(percent(99_999, 100_000), "99.9\u{a0}%");
        assert_eq!(percent(0, 0), "–");
    }

    #[test]
    fn spans_read_well() {
        assert_eq!(span(16_000_000), "16 s");
        assert_eq!(span(256_000_000), "4 min 16 s");
        assert_eq!(span(26 * HOUR), "26 h");
        assert_eq!(span(7 * DAY + 3 * HOUR), "7 d 3 h");
    }

    #[test]
    fn nothing_escapes() {
        assert_eq!(escape("<a b=\"'&"), "&lt;a b=&quot;&#39;&amp;");
    }
}
