//! One case put to one receiver, and what came of it.

use super::script::{Case, Field, Input, Step, hex};
use super::told::{Told, agree};
use benchmast_protocol::packet::HeadId;
use std::collections::BTreeMap;
use std::fmt;

/// What a receiver says to one step.
#[derive(Debug, Default)]
pub struct Answer {
    /// Its events.
    pub events: Vec<Told>,
    /// The fields that its event shows, by name.
    pub fields: Option<BTreeMap<String, Option<String>>>,
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Trouble {
    /// The receiver has ended or closed its output.
    Crash(String),
    /// It says nothing.
    Timeout(String),
    /// It says what is no reply.
    Garbled(String),
    /// Somebody has asked to stop; no verdict.
    Interrupted,
}

/// A receiver under examination.
pub trait Examinee {
    /// Begin a case; `Some` with the reason if the receiver leaves it out.
    ///
    /// # Errors
    /// [`Trouble`]
    fn open(&mut self, case: &Case) -> Result<Option<String>, Trouble>;
    /// Put one step to it.
    ///
    /// # Errors
    /// [`Trouble`]
    fn take(&mut self, step: &Step, answer: &mut Answer) -> Result<(), Trouble>;
    /// The tips it has told of each head; `None` if it does not say.
    ///
    /// # Errors
    /// [`Trouble`]
    fn tips(&mut self) -> Result<Option<Vec<(HeadId, u64)>>, Trouble>;
    /// End the case.
    ///
    /// # Errors
    /// [`Trouble`]
    fn close(&mut self) -> Result<(), Trouble>;
    /// Whether it cannot be talked to any more: all further cases fail without being put to it.
    fn is_hopeless(&self) -> bool {
        false
    }
}

/// What came of a case.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Verdict {
    /// As the clause demands.
    Pass,
    /// Not so.
    Fail(Miss),
    /// Left out by the receiver, with its reason.
    Skip(String),
    /// The receiver has ended.
    Crash(String),
    /// The receiver said nothing in time.
    Timeout(String),
    /// The receiver said what is no reply.
    Garbled(String),
}

impl Verdict {
    /// The word of EXAMINATION.md.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Pass => "pass",
            Self::Fail(_) => "fail",
            Self::Skip(_) => "skip",
            Self::Crash(_) => "crash",
            Self::Timeout(_) => "timeout",
            Self::Garbled(_) => "garbled",
        }
    }

    /// The whole story; empty for a pass.
    #[must_use]
    pub fn story(&self) -> String {
        match self {
            Self::Pass => String::new(),
            Self::Fail(miss) => miss.to_string(),
            Self::Skip(text) | Self::Crash(text) | Self::Timeout(text) | Self::Garbled(text) => {
                text.clone()
            }
        }
    }
}

/// What was not as it must be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Miss {
    /// Step, counted from 1; 0 for the sums at the end.
    pub step: u64,
    /// Where in the case, for people.
    pub place: String,
    /// What must be said.
    pub expected: Vec<String>,
    /// What was said.
    pub said: Vec<String>,
}

impl fmt::Display for Miss {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let list = |lines: &[String]| {
            if lines.is_empty() {
                "nothing".to_owned()
            } else {
                lines.join("\n         ")
            }
        };
        write!(
            f,
            "{}\nexpected {}\nsaid     {}",
            self.place,
            list(&self.expected),
            list(&self.said)
        )
    }
}

/// The longest packet or stretch of a stream that is shown whole, bytes.
const SHOWN: usize = 64;

fn place(number: u64, case: &Case, step: &Step) -> String {
    let what = match &step.input {
        Input::Packet(bytes) => format!("packet {}", shown(bytes)),
        Input::Stream(bytes) => format!("stream {}", shown(bytes)),
        Input::Tick => "tick".into(),
        Input::Expect(serial) => format!("expect {serial}"),
        Input::Pairing(open) => format!("pairing open: {open}"),
    };
    let says = if step.says.is_empty() {
        String::new()
    } else {
        format!("{}; ", step.says)
    };
    format!(
        "step {number} of {}, t_us {}: {says}{what}",
        case.len(),
        step.t_us
    )
}

fn shown(bytes: &[u8]) -> String {
    match bytes.get(..SHOWN) {
        Some(begin) if bytes.len() > SHOWN => {
            format!("{}... ({} bytes)", hex(begin), bytes.len())
        }
        _ if bytes.is_empty() => "of no bytes".into(),
        _ => hex(bytes),
    }
}

/// Put a case to a receiver. Trouble is the case's verdict; a failure ends the case at once.
///
/// # Errors
/// [`Trouble::Interrupted`] only.
pub fn examine(case: &Case, receiver: &mut dyn Examinee) -> Result<Verdict, Trouble> {
    examine_with(case, receiver, &mut |_| {})
}

/// As [`examine`]; `progress` is told the number of each thousandth step, and of the last.
///
/// # Errors
/// [`Trouble::Interrupted`] only.
pub fn examine_with(
    case: &Case,
    receiver: &mut dyn Examinee,
    progress: &mut dyn FnMut(u64),
) -> Result<Verdict, Trouble> {
    match run(case, receiver, progress) {
        Ok(verdict) => Ok(verdict),
        Err(Trouble::Crash(text)) => Ok(Verdict::Crash(text)),
        Err(Trouble::Timeout(text)) => Ok(Verdict::Timeout(text)),
        Err(Trouble::Garbled(text)) => Ok(Verdict::Garbled(text)),
        Err(Trouble::Interrupted) => Err(Trouble::Interrupted),
    }
}

fn run(
    case: &Case,
    receiver: &mut dyn Examinee,
    progress: &mut dyn FnMut(u64),
) -> Result<Verdict, Trouble> {
    if let Some(reason) = receiver.open(case)? {
        return Ok(Verdict::Skip(reason));
    }
    let mut script = case.play();
    let mut answer = Answer::default();
    let mut number = 0;
    while let Some(step) = script.next_step() {
        number += 1;
        if number % 1000 == 0 {
            progress(number);
        }
        receiver.take(&step, &mut answer)?;
        let miss = if agree(&answer.events, &step.expect) {
            wrong_field(&step.fields, answer.fields.as_ref())
        } else {
            let texts = |events: &[Told]| events.iter().map(ToString::to_string).collect();
            Some((texts(&step.expect), texts(&answer.events)))
        };
        if let Some((expected, said)) = miss {
            progress(number);
            receiver.close()?;
            return Ok(Verdict::Fail(Miss {
                step: number,
                place: place(number, case, &step),
                expected,
                said,
            }));
        }
    }
    progress(number);
    let said = receiver.tips()?;
    receiver.close()?;
    let wrong = said.and_then(|said| wrong_tips(&script.tips(), &said));
    Ok(wrong.map_or(Verdict::Pass, |(expected, said)| {
        Verdict::Fail(Miss {
            step: 0,
            place: "state at the end: tips told of each head".into(),
            expected,
            said,
        })
    }))
}

type Difference = (Vec<String>, Vec<String>);

fn wrong_tips(expected: &[(HeadId, u64)], said: &[(HeadId, u64)]) -> Option<Difference> {
    let tips = |list: &[(HeadId, u64)], of: HeadId| {
        let found = list.iter().find(|(head, _)| *head == of);
        found.map(|(_, tips)| *tips)
    };
    expected
        .iter()
        .find(|(head, sum)| tips(said, *head) != Some(*sum))
        .map(|(head, sum)| {
            let said = tips(said, *head).map_or_else(
                || format!("nothing of head {head}"),
                |tips| format!("head {head} tips {tips}"),
            );
            (vec![format!("head {head} tips {sum}")], vec![said])
        })
}

/// The first field that is not as it must be.
fn wrong_field(
    expected: &[Field],
    shown: Option<&BTreeMap<String, Option<String>>>,
) -> Option<Difference> {
    let text = |name: &str, value: &Option<String>| match value {
        Some(value) => format!("field {name} {value:?}"),
        None => format!("field {name} null"),
    };
    expected.iter().find_map(|(name, value)| {
        let said = shown.and_then(|fields| fields.get(name));
        let same = match (value, said) {
            (None, Some(None)) => true,
            (Some(value), Some(Some(said))) => same_number(value, said),
            _ => false,
        };
        (!same).then(|| {
            let said = said.map_or_else(|| format!("no field {name}"), |said| text(name, said));
            (vec![text(name, value)], vec![said])
        })
    })
}

/// Whether two decimal texts are the same number. No value has more than ten digits.
fn same_number(one: &str, other: &str) -> bool {
    let is_plain = |text: &str| {
        let digits = text.strip_prefix('-').unwrap_or(text);
        !digits.is_empty()
            && digits
                .bytes()
                .all(|byte| byte.is_ascii_digit() || byte == b'.')
    };
    match (one.parse::<f64>(), other.parse::<f64>()) {
        (Ok(a), Ok(b)) => is_plain(other) && (a - b).abs() < 1e-6,
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_compared_as_numbers() {
        for (a, b, same) in [
            ("21.53", "21.53", true),
            ("21.50", "21.5", true),
            ("0", "-0", true),
            ("-7.25", "7.25", false),
            ("9999999999", "9999999998", false),
            ("1", "1e0", false),
            ("1", "inf", false),
            ("1", "", false),
        ] {
            assert_eq!(same_number(a, b), same, "{a} {b}");
        }
    }

    #[test]
    fn a_missing_value_is_no_number_and_a_missing_field_no_missing_value() {
        let expected = [("a".to_owned(), None)];
        let shown =
            |value: Option<&str>| BTreeMap::from([("a".to_owned(), value.map(ToOwned::to_owned))]);
        assert_eq!(wrong_field(&expected, Some(&shown(None))), None);
        assert!(wrong_field(&expected, Some(&shown(Some("0")))).is_some());
        assert!(wrong_field(&expected, Some(&BTreeMap::new())).is_some());
        assert!(wrong_field(&expected, None).is_some());
    }
}
