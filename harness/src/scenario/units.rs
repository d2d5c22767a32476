//! Units that people may write where a scenario wants another one: what the message needs to convert them.

/// What a unit measures. Temperatures and their differences convert differently.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Dimension {
    Time,
    Length,
    Speed,
    Pressure,
    Temperature,
    TemperatureDifference,
    Angle,
    Share,
    Area,
    Charge,
    Capacitance,
}

/// One unit: what it is called as the suffix of a key or after a number, and how it converts.
struct Unit {
    dimension: Dimension,
    /// First the symbol that the table of keys uses, if it uses this unit; no other unit of the list starts
    /// with it.
    names: &'static [&'static str],
    title: &'static str,
    /// Value in the dimension's base unit is `value * scale + offset`.
    scale: f64,
    offset: f64,
}

const fn unit(
    dimension: Dimension,
    names: &'static [&'static str],
    title: &'static str,
    scale: f64,
    offset: f64,
) -> Unit {
    Unit {
        dimension,
        names,
        title,
        scale,
        offset,
    }
}

/// Factors: the International System of Units brochure, 9th edition, and, for foot, inch, knot, mile and
/// the mercury columns, their definitions (NIST SP 811, appendix B).
#[rustfmt::skip]
const UNITS: &[Unit] = &[
    unit(Dimension::Time, &["ms", "msec"], "milliseconds", 0.001, 0.0),
    unit(Dimension::Time, &["s", "sec", "secs", "second", "seconds"], "seconds", 1.0, 0.0),
    unit(Dimension::Time, &["min", "mins", "minute", "minutes"], "minutes", 60.0, 0.0),
    unit(Dimension::Time, &["h", "hr", "hrs", "hour", "hours"], "hours", 3600.0, 0.0),
    unit(Dimension::Time, &["days", "d", "day"], "days", 86_400.0, 0.0),
    unit(Dimension::Time, &["week", "weeks"], "weeks", 604_800.0, 0.0),
    unit(Dimension::Length, &["um"], "micrometres", 1e-6, 0.0),
    unit(Dimension::Length, &["mm"], "millimetres", 1e-3, 0.0),
    unit(Dimension::Length, &["cm"], "centimetres", 0.01, 0.0),
    unit(Dimension::Length, &["m", "metre", "metres", "meter", "meters"], "metres", 1.0, 0.0),
    unit(Dimension::Length, &["km"], "kilometres", 1000.0, 0.0),
    unit(Dimension::Length, &["in", "inch", "inches"], "inches", 0.0254, 0.0),
    unit(Dimension::Length, &["ft", "feet", "foot"], "feet", 0.3048, 0.0),
    unit(Dimension::Speed, &["m/s", "ms", "mps"], "metres per second", 1.0, 0.0),
    unit(Dimension::Speed, &["km/h", "kmh", "kph"], "kilometres per hour", 1.0 / 3.6, 0.0),
    unit(Dimension::Speed, &["kn", "kt", "kts", "knot", "knots"], "knots", 1852.0 / 3600.0, 0.0),
    unit(Dimension::Speed, &["mph"], "miles per hour", 0.44704, 0.0),
    unit(Dimension::Pressure, &["hpa", "mbar", "mb"], "hectopascals", 1.0, 0.0),
    unit(Dimension::Pressure, &["pa"], "pascals", 0.01, 0.0),
    unit(Dimension::Pressure, &["kpa"], "kilopascals", 10.0, 0.0),
    unit(Dimension::Pressure, &["inhg"], "inches of mercury", 33.863_89, 0.0),
    unit(Dimension::Pressure, &["mmhg", "torr"], "millimetres of mercury", 1.333_224, 0.0),
    unit(Dimension::Temperature, &["degc", "c", "celsius"], "degrees Celsius", 1.0, 0.0),
    unit(Dimension::Temperature, &["kelvin", "k"], "kelvin", 1.0, -273.15),
    unit(Dimension::Temperature, &["degf", "f", "fahrenheit"], "degrees Fahrenheit", 5.0 / 9.0, -160.0 / 9.0),
    unit(Dimension::TemperatureDifference, &["k", "kelvin", "c", "degc", "celsius"], "kelvin", 1.0, 0.0),
    unit(Dimension::TemperatureDifference, &["fahrenheit", "degf", "f"], "Fahrenheit degrees", 5.0 / 9.0, 0.0),
    unit(Dimension::Angle, &["deg", "degree", "degrees"], "degrees", 1.0, 0.0),
    unit(Dimension::Angle, &["rad", "radian", "radians"], "radians", 180.0 / std::f64::consts::PI, 0.0),
    unit(Dimension::Share, &["1", "fraction", "share"], "shares of 1", 1.0, 0.0),
    unit(Dimension::Share, &["%", "percent", "pct"], "percent", 0.01, 0.0),
    unit(Dimension::Share, &["okta", "oktas"], "oktas", 0.125, 0.0),
    unit(Dimension::Area, &["mm2"], "square millimetres", 0.01, 0.0),
    unit(Dimension::Area, &["cm2"], "square centimetres", 1.0, 0.0),
    unit(Dimension::Area, &["m2"], "square metres", 1e4, 0.0),
    unit(Dimension::Charge, &["mah"], "milliampere-hours", 1.0, 0.0),
    unit(Dimension::Charge, &["ah"], "ampere-hours", 1000.0, 0.0),
    unit(Dimension::Capacitance, &["f", "farad", "farads"], "farads", 1.0, 0.0),
    unit(Dimension::Capacitance, &["mf"], "millifarads", 1e-3, 0.0),
];

/// A foreign unit next to the one that is wanted.
pub(super) struct Conversion {
    from: &'static Unit,
    to: &'static Unit,
}

impl Conversion {
    /// The foreign unit's title.
    pub(super) fn foreign_title(&self) -> &'static str {
        self.from.title
    }
    /// The wanted unit's title.
    pub(super) fn wanted_title(&self) -> &'static str {
        self.to.title
    }
    /// Whether both are one unit.
    pub(super) fn is_same(&self) -> bool {
        std::ptr::eq(self.from, self.to)
    }
    /// The value in the wanted unit, to five digits.
    pub(super) fn convert(&self, value: f64) -> String {
        let base = value * self.from.scale + self.from.offset;
        let converted = (base - self.to.offset) / self.to.scale;
        // Through scientific notation, so that 0.0254 * 0.3 does not come out with seventeen digits.
        let rounded: f64 = format!("{converted:.4e}").parse().unwrap_or(converted);
        format!("{rounded}")
    }
}

/// How to come from the unit called `foreign` to the unit with the symbol `wanted`; `None` when either is
/// unknown or they measure different things.
pub(super) fn conversion(foreign: &str, wanted: &str) -> Option<Conversion> {
    let foreign = foreign.trim().to_ascii_lowercase();
    let wanted = wanted.to_ascii_lowercase();
    let to = UNITS
        .iter()
        .find(|unit| unit.names.first() == Some(&&*wanted))?;
    let from = UNITS
        .iter()
        .find(|unit| unit.dimension == to.dimension && unit.names.contains(&&*foreign))?;
    Some(Conversion { from, to })
}

/// The other unit that explains why a value in `wanted` is above `most`: a sentence, or nothing.
pub(super) fn slip(value: f64, wanted: &str, most: f64) -> Option<String> {
    let foreign = match wanted {
        "1" if value <= 100.0 => "percent",
        // Weather in degrees Fahrenheit ends near 135, weather in kelvin begins near 180.
        "degC" if value <= 135.0 => "fahrenheit",
        "degC" if (180.0..335.0).contains(&value) => "kelvin",
        "hPa" if value >= 80_000.0 => "pa",
        _ => return None,
    };
    let conversion = conversion(foreign, wanted)?;
    (value > most).then(|| {
        format!(
            "If {value} was meant in {}, write {}.",
            conversion.foreign_title(),
            conversion.convert(value)
        )
    })
}

/// Split a key into what it is about and the unit it ends in: `interval_ms` is `interval` in `ms`, `days`
/// is nothing but a unit, `title` has none.
pub(super) fn split(key: &str) -> (&str, Option<&str>) {
    let is_unit = |word: &str| UNITS.iter().any(|unit| unit.names.contains(&word));
    match key.rsplit_once('_') {
        Some((stem, suffix)) if is_unit(suffix) => (stem, Some(suffix)),
        None if is_unit(key) => ("", Some(key)),
        _ => (key, None),
    }
}

/// A text that is a number with something after it.
pub(super) fn number_with_unit(text: &str) -> Option<(f64, &str)> {
    let text = text.trim();
    let end = text
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '-' | '+')))
        .unwrap_or(text.len());
    let (number, unit) = text.split_at(end);
    Some((number.parse().ok()?, unit.trim()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn convert(value: f64, foreign: &str, wanted: &str) -> Option<String> {
        conversion(foreign, wanted).map(|conversion| conversion.convert(value))
    }

    #[test]
    fn known_conversions() {
        for (value, foreign, wanted, expected) in [
            (16_000.0, "ms", "s", "16"),
            (36.0, "kmh", "m/s", "10"),
            (1.0, "ms", "m/s", "1"),
            (200.0, "cm", "m", "2"),
            (0.01, "in", "mm", "0.254"),
            (50.0, "F", "degC", "10"),
            (273.15, "k", "degC", "0"),
            (1.8, "f", "K", "1"),
            (4.0, "okta", "1", "0.5"),
            (1.0, "inHg", "hPa", "33.864"),
            (12.0, "hours", "days", "0.5"),
        ] {
            assert_eq!(
                convert(value, foreign, wanted).as_deref(),
                Some(expected),
                "{foreign}"
            );
        }
        assert!(convert(1.0, "kg", "m").is_none());
        assert!(convert(1.0, "s", "m").is_none());
    }

    #[test]
    fn keys_split_into_subject_and_unit() {
        assert_eq!(split("interval_ms"), ("interval", Some("ms")));
        assert_eq!(split("days"), ("", Some("days")));
        assert_eq!(split("title"), ("title", None));
        assert_eq!(split("burst_loss"), ("burst_loss", None));
    }

    #[test]
    fn numbers_with_units() {
        assert_eq!(number_with_unit("16 s"), Some((16.0, "s")));
        assert_eq!(number_with_unit("-3.5degC"), Some((-3.5, "degC")));
        assert_eq!(number_with_unit("7"), Some((7.0, "")));
        assert_eq!(number_with_unit("often"), None);
    }
}
