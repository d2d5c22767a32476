//! One value of a scenario: type, unit and range, by its key's row of the table.

use super::draft::Slot;
use super::keys::{Allowed, Key};
use super::nearest::{bracketed, suggestion};
use super::read::wanted;
use super::report::{Document, Kind, Problem};
use super::time::{self, Refusal};
use super::units;
use benchmast_protocol::tag;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeString, DeValue};

/// What a value is, in words.
pub(super) fn type_name(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a time",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a section",
    }
}

/// The number a value is, however it is written.
pub(super) fn as_number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(integer) => match integer.radix() {
            10 => integer.as_str().parse().ok(),
            radix => u64::from_str_radix(integer.as_str(), radix)
                .ok()
                .map(|value| value as f64),
        },
        DeValue::Float(float) => float.as_str().parse().ok(),
        _ => None,
    }
}

/// A section's name with a value instead of the section.
pub(super) fn not_a_section(
    document: &Document,
    name: &str,
    key: &Spanned<DeString<'_>>,
    value: &Spanned<DeValue<'_>>,
    repeated: bool,
) -> Problem {
    let (span, label) = if repeated {
        (key.span(), "repeated")
    } else {
        (value.span(), type_name(value.get_ref()))
    };
    document.problem(
        Kind::WrongType,
        span,
        format!("`{name}` is a section, and there is one of it"),
        label,
        format!("write [{name}] in single brackets on a line of its own, and its keys below it"),
    )
}

/// Everything a message about one value needs.
struct Context<'c, D: 'static> {
    document: &'c Document,
    section: &'c str,
    key: &'c Key<D>,
    span: Range<usize>,
    /// The type that the key takes, in words.
    wanted: &'static str,
    /// Whether that is a number.
    numeric: bool,
}

impl<D> Context<'_, D> {
    fn problem(&self, kind: Kind, message: String, label: &str, help: String) -> Box<Problem> {
        Box::new(
            self.document
                .problem(kind, self.span.clone(), message, label, help),
        )
    }

    /// `allowed: ...` and, where it helps, the meaning.
    fn allowed(&self) -> String {
        format!("allowed: {}", self.key.allowed.describe(self.key.unit))
    }

    fn wrong_type(&self, found: &DeValue<'_>) -> Box<Problem> {
        let name = self.key.name;
        if let (DeValue::String(text), true) = (found, self.numeric)
            && let Some(problem) = self.quoted_number(text)
        {
            return problem;
        }
        self.problem(
            Kind::WrongType,
            format!("`{name}` takes {}", self.wanted),
            type_name(found),
            format!("{}\n{}", self.allowed(), self.key.meaning),
        )
    }

    /// A number in quotes, perhaps with a unit.
    fn quoted_number(&self, text: &str) -> Option<Box<Problem>> {
        let name = self.key.name;
        let (number, unit) = units::number_with_unit(text)?;
        if unit.is_empty() {
            return Some(self.problem(
                Kind::WrongType,
                format!("`{name}` takes a number, without quotes"),
                "text",
                format!("write {name} = {number}"),
            ));
        }
        let conversion = units::conversion(unit, self.key.unit);
        let help = match &conversion {
            Some(conversion) => format!("write {name} = {}", conversion.convert(number)),
            None => self.allowed(),
        };
        let message = match conversion {
            Some(conversion) if !conversion.is_same() => format!(
                "`{name}` takes a number alone, in {}",
                conversion.wanted_title()
            ),
            _ => format!("`{name}` takes a number alone, without quotes and without unit"),
        };
        Some(self.problem(Kind::WrongUnit, message, "text with a unit", help))
    }

    /// A finite number within the range.
    fn number(&self, value: &DeValue<'_>) -> Result<f64, Box<Problem>> {
        let name = self.key.name;
        let number = as_number(value).ok_or_else(|| self.wrong_type(value))?;
        if !number.is_finite() {
            return Err(self.problem(
                Kind::OutOfRange,
                format!("`{name}` takes a number that can be written down"),
                "not a finite number",
                self.allowed(),
            ));
        }
        let within = match self.key.allowed {
            Allowed::Range(least, most) => (least..=most).contains(&number),
            Allowed::Above(least, most) => number > least && number <= most,
            _ => true,
        };
        if within {
            return Ok(number);
        }
        let hint = self
            .range_hint(number)
            .map_or_else(String::new, |hint| format!("\n{hint}"));
        Err(self.problem(
            Kind::OutOfRange,
            match self.section {
                "" => format!("`{name}` is out of range"),
                section => format!("`{name}` of {} is out of range", bracketed(section)),
            },
            "out of range",
            format!("{}\n{}{hint}", self.allowed(), self.key.meaning),
        ))
    }

    /// A slip that explains a value out of range.
    fn range_hint(&self, number: f64) -> Option<String> {
        let Allowed::Range(_, most) = self.key.allowed else {
            return None;
        };
        if self.key.name == "longitude_deg" && number > most && number <= 360.0 {
            return Some(format!(
                "West of Greenwich is negative: write {}.",
                number - 360.0
            ));
        }
        units::slip(number, self.key.unit, most)
    }

    /// A whole number within the range.
    fn whole(&self, value: &DeValue<'_>) -> Result<u64, Box<Problem>> {
        let DeValue::Integer(integer) = value else {
            if let DeValue::Float(float) = value {
                return Err(self.problem(
                    Kind::WrongType,
                    format!("`{}` takes a whole number", self.key.name),
                    "not a whole number",
                    match (float.as_str().parse::<f64>(), self.key.allowed) {
                        (Ok(number), Allowed::Range(least, most)) if number.is_finite() => {
                            let near = number.round().clamp(least, most);
                            format!("{}\nfor example {} = {near}", self.allowed(), self.key.name)
                        }
                        _ => self.allowed(),
                    },
                ));
            }
            return Err(self.wrong_type(value));
        };
        self.number(value)?;
        u64::from_str_radix(integer.as_str(), integer.radix()).map_err(|_| {
            // Its nearest float is within the range, it is not: only at the far end of 64 bits.
            self.problem(
                Kind::OutOfRange,
                format!("`{}` is too large", self.key.name),
                "out of range",
                self.allowed(),
            )
        })
    }

    fn text(&self, value: &DeValue<'_>) -> Result<String, Box<Problem>> {
        let DeValue::String(text) = value else {
            return Err(self.wrong_type(value));
        };
        let name = self.key.name;
        match self.key.allowed {
            Allowed::Words(words) => {
                let words = words();
                if words.contains(&&**text) {
                    return Ok(text.to_string());
                }
                Err(self.problem(
                    Kind::UnknownWord,
                    match name {
                        "id" => format!("there is no fault called \"{text}\""),
                        name => format!("there is no {name} called \"{text}\""),
                    },
                    "unknown",
                    suggestion(text, &words),
                ))
            }
            _ if text.trim().is_empty() => Err(self.problem(
                Kind::OutOfRange,
                format!("`{name}` is empty"),
                "nothing in it",
                self.key.meaning.to_owned(),
            )),
            _ if text.chars().any(char::is_control) => Err(self.problem(
                Kind::OutOfRange,
                format!("`{name}` is one line of plain text"),
                "has a line break or another control character in it",
                self.key.meaning.to_owned(),
            )),
            _ => Ok(text.to_string()),
        }
    }

    fn key(&self, value: &DeValue<'_>) -> Result<tag::Key, Box<Problem>> {
        let DeValue::String(text) = value else {
            return Err(self.wrong_type(value));
        };
        text.parse().map_err(|_| {
            self.problem(
                Kind::WrongType,
                format!("`{}` takes thirty-two hexadecimal digits", self.key.name),
                "not thirty-two digits 0-9 a-f",
                self.allowed(),
            )
        })
    }

    fn address(&self, value: &DeValue<'_>) -> Result<u32, Box<Problem>> {
        let DeValue::String(text) = value else {
            let mut problem = *self.wrong_type(value);
            if let (DeValue::Integer(_), Some(number)) = (value, as_number(value))
                && (0.0..=f64::from(u32::MAX)).contains(&number)
            {
                problem = *self.problem(
                    Kind::WrongType,
                    format!(
                        "`{}` takes eight hexadecimal digits in quotes",
                        self.key.name
                    ),
                    "a number",
                    format!("write {} = \"{:08x}\"", self.key.name, number as u32),
                );
            }
            return Err(Box::new(problem));
        };
        let digits = text.len() == 8 && text.bytes().all(|byte| byte.is_ascii_hexdigit());
        u32::from_str_radix(text, 16)
            .ok()
            .filter(|_| digits)
            .ok_or_else(|| {
                self.problem(
                    Kind::WrongType,
                    format!("`{}` takes eight hexadecimal digits", self.key.name),
                    "not eight digits 0-9 a-f",
                    "write it as it stands in a capture, for example \"0000a001\"".to_owned(),
                )
            })
    }

    fn moment(&self, value: &DeValue<'_>) -> Result<time::Moment, Box<Problem>> {
        let text = match value {
            DeValue::String(text) => text.to_string(),
            DeValue::Datetime(datetime) => datetime.to_string(),
            _ => return Err(self.wrong_type(value)),
        };
        let relative = matches!(self.key.allowed, Allowed::Moment);
        time::parse(&text, relative).map_err(|refusal| {
            let help = match refusal {
                Refusal::NoOffset => format!("time is UTC: write {}Z", text.replace(' ', "T")),
                Refusal::NotATime | Refusal::FarAway | Refusal::Relative => self.allowed(),
            };
            self.problem(
                match refusal {
                    Refusal::FarAway => Kind::OutOfRange,
                    _ => Kind::WrongType,
                },
                format!("`{}` {refusal}", self.key.name),
                match refusal {
                    Refusal::NotATime => "no such time",
                    Refusal::NoOffset => "no Z at the end",
                    Refusal::FarAway => "too far away",
                    Refusal::Relative => "after what?",
                },
                help,
            )
        })
    }

    fn months(&self, value: &DeValue<'_>) -> Result<[f64; 12], Box<Problem>> {
        let mut months = [0.0; 12];
        let (label, help) = (
            "not twelve",
            "January to December, or one number without brackets for all months",
        );
        self.numbers(value, &mut months, "a number for each month", label, help)?;
        Ok(months)
    }

    /// One number for each place, or one for all.
    fn numbers(
        &self,
        value: &DeValue<'_>,
        places: &mut [f64],
        wanted: &'static str,
        label: &str,
        help: &str,
    ) -> Result<(), Box<Problem>> {
        let DeValue::Array(list) = value else {
            places.fill(self.number(value)?);
            return Ok(());
        };
        if list.len() != places.len() {
            let number = match places.len() {
                12 => "twelve".to_owned(),
                other => other.to_string(),
            };
            return Err(self.problem(
                Kind::WrongType,
                format!(
                    "`{}` takes {number} numbers, and there are {}",
                    self.key.name,
                    list.len()
                ),
                label,
                help.to_owned(),
            ));
        }
        for (place, entry) in places.iter_mut().zip(list) {
            let one = Context {
                span: entry.span(),
                wanted,
                ..*self
            };
            *place = one.number(entry.get_ref())?;
        }
        Ok(())
    }
}

fn is_numeric(slot: &Slot<'_>) -> bool {
    matches!(
        slot,
        Slot::Number(_)
            | Slot::MaybeNumber(_)
            | Slot::Short(_)
            | Slot::Long(_)
            | Slot::Numbers(_)
            | Slot::MaybeMonths(_)
    )
}

/// Check a value and put it where it belongs.
pub(super) fn store<D>(
    document: &Document,
    section: &str,
    key: &Key<D>,
    value: &Spanned<DeValue<'_>>,
    slot: &mut Slot<'_>,
) -> Result<(), Box<Problem>> {
    let context = Context {
        document,
        section,
        key,
        span: value.span(),
        wanted: wanted(slot, key.allowed),
        numeric: is_numeric(slot),
    };
    let value = value.get_ref();
    match slot {
        Slot::Number(place) => **place = context.number(value)?,
        Slot::MaybeNumber(place) => **place = Some(context.number(value)?),
        // The range of the key, checked before, fits its type; a test over the table holds it to that.
        Slot::Short(place) => **place = u16::try_from(context.whole(value)?).unwrap_or(u16::MAX),
        Slot::Long(place) => **place = context.whole(value)?,
        Slot::Address(place) => **place = context.address(value)?,
        Slot::MaybeAddress(place) => **place = Some(context.address(value)?),
        Slot::MaybeKey(place) => **place = Some(context.key(value)?),
        Slot::MaybeText(place) => **place = Some(context.text(value)?),
        Slot::MaybeMoment(place) => **place = Some(context.moment(value)?),
        Slot::Numbers(places) => context.numbers(
            value,
            places,
            "a number for each direction",
            "another number of them",
            key.meaning,
        )?,
        Slot::MaybeMonths(place) => **place = Some(context.months(value)?),
        Slot::Flag(place) => match value {
            DeValue::Boolean(flag) => **place = *flag,
            other => return Err(context.wrong_type(other)),
        },
    }
    Ok(())
}
