//! What came of an examination, for people and programs: JSON, `JUnit` XML, and files of what is expected.

use super::EXAMINATION;
use super::judge::Verdict;
use super::script::{Case, Level};
use serde::{Deserialize, Serialize};
use serde_json::json;
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// One case and its verdict.
#[derive(Debug, Clone)]
pub struct Outcome {
    /// The case's id.
    pub id: String,
    /// All clauses it examines.
    pub clauses: Vec<String>,
    /// How binding it is.
    pub level: Level,
    /// What it demands.
    pub sentence: String,
    /// What came of it.
    pub verdict: Verdict,
    /// How long it took, s.
    pub seconds: f64,
}

impl Outcome {
    /// Of a case.
    #[must_use]
    pub fn of(case: &Case, verdict: Verdict, seconds: f64) -> Self {
        Self {
            id: case.id.clone(),
            clauses: case.clauses.clone(),
            level: case.level,
            sentence: case.sentence.clone(),
            verdict,
            seconds,
        }
    }

    /// Whether the clause was not met.
    #[must_use]
    pub const fn is_miss(&self) -> bool {
        !matches!(self.verdict, Verdict::Pass | Verdict::Skip(_))
    }

    /// Whether it is of section 10 of WIRE.md, which a receiver may not know.
    #[must_use]
    pub fn is_of_an_option(&self) -> bool {
        self.id.starts_with("W10.")
    }

    /// Whether it makes the examination fail, where nothing else is expected; [`is_passed`] knows of what is optional.
    #[must_use]
    pub const fn is_fatal(&self, strict: bool) -> bool {
        match self.verdict {
            Verdict::Pass => false,
            Verdict::Skip(_) => strict,
            _ => strict || matches!(self.level, Level::Must),
        }
    }
}

/// Whether the examination is passed, where nothing else is expected. What is optional may be left out, as a whole, even
/// where everything else may not: who leaves out a part of it does know it.
#[must_use]
pub fn is_passed(outcomes: &[Outcome], strict: bool) -> bool {
    let is_left_out = outcomes
        .iter()
        .filter(|outcome| outcome.is_of_an_option())
        .all(|outcome| matches!(outcome.verdict, Verdict::Skip(_)));
    !outcomes
        .iter()
        .filter(|outcome| !(is_left_out && outcome.is_of_an_option()))
        .any(|outcome| outcome.is_fatal(strict))
}

/// Verdicts that are expected: every case that is not listed is expected to pass.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Expected {
    /// Version of the examination.
    pub examination: u8,
    /// Ids of cases that do not pass, each with its verdict.
    pub not_passed: BTreeMap<String, String>,
}

impl Expected {
    /// What came this time.
    #[must_use]
    pub fn of(outcomes: &[Outcome]) -> Self {
        let not_passed = outcomes
            .iter()
            .filter(|outcome| outcome.verdict != Verdict::Pass)
            .map(|outcome| (outcome.id.clone(), outcome.verdict.word().to_owned()));
        Self {
            examination: EXAMINATION,
            not_passed: not_passed.collect(),
        }
    }

    /// The verdict that is expected of a case.
    #[must_use]
    pub fn word(&self, id: &str) -> &str {
        self.not_passed.get(id).map_or("pass", String::as_str)
    }

    /// Outcomes that are otherwise than expected, better or worse.
    pub fn differing<'o>(&'o self, outcomes: &'o [Outcome]) -> impl Iterator<Item = &'o Outcome> {
        outcomes
            .iter()
            .filter(|outcome| self.word(&outcome.id) != outcome.verdict.word())
    }
}

/// How many outcomes there are of each verdict.
#[must_use]
pub fn counts(outcomes: &[Outcome]) -> BTreeMap<&'static str, usize> {
    let mut counts = BTreeMap::new();
    for outcome in outcomes {
        *counts.entry(outcome.verdict.word()).or_default() += 1;
    }
    counts
}

/// Everything as one JSON object.
#[must_use]
pub fn json(outcomes: &[Outcome], receiver: &str, seed: u64) -> serde_json::Value {
    let cases: Vec<_> = outcomes
        .iter()
        .map(|outcome| {
            let mut case = json!({
                "id": outcome.id, "clauses": outcome.clauses, "level": outcome.level.to_string(),
                "sentence": outcome.sentence, "verdict": outcome.verdict.word(), "seconds": outcome.seconds,
            });
            if outcome.verdict != Verdict::Pass {
                case["story"] = outcome.verdict.story().into();
            }
            case
        })
        .collect();
    json!({
        "examination": EXAMINATION, "receiver": receiver, "seed": seed,
        "counts": counts(outcomes), "cases": cases,
    })
}

/// `JUnit` XML, as build servers read it: one suite, one test case a case, named after its id; the class is the
/// clause. By hand, because it is four kinds of elements.
#[must_use]
pub fn junit(outcomes: &[Outcome], receiver: &str) -> String {
    let failures = outcomes
        .iter()
        .filter(|outcome| matches!(outcome.verdict, Verdict::Fail(_)))
        .count();
    let skipped = outcomes
        .iter()
        .filter(|outcome| matches!(outcome.verdict, Verdict::Skip(_)))
        .count();
    let errors = outcomes.iter().filter(|outcome| outcome.is_miss()).count() - failures;
    let seconds: f64 = outcomes.iter().map(|outcome| outcome.seconds).sum();
    let mut text = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    let _ = writeln!(
        text,
        "<testsuites><testsuite name=\"{}\" tests=\"{}\" failures=\"{failures}\" errors=\"{errors}\" skipped=\"{skipped}\" time=\"{seconds:.3}\">",
        escaped(receiver),
        outcomes.len()
    );
    for outcome in outcomes {
        let _ = write!(
            text,
            "<testcase classname=\"{}\" name=\"{}\" time=\"{:.3}\"",
            escaped(outcome.clauses.first().map_or("", String::as_str)),
            escaped(&outcome.id),
            outcome.seconds
        );
        let message = escaped(&format!("{} {}", outcome.level, outcome.sentence));
        let story = escaped(&outcome.verdict.story());
        let _ = match &outcome.verdict {
            Verdict::Pass => writeln!(text, "/>"),
            Verdict::Skip(_) => writeln!(text, "><skipped message=\"{story}\"/></testcase>"),
            Verdict::Fail(_) => writeln!(
                text,
                "><failure message=\"{message}\">{story}</failure></testcase>"
            ),
            other => writeln!(
                text,
                "><error type=\"{}\" message=\"{message}\">{story}</error></testcase>",
                other.word()
            ),
        };
    }
    text.push_str("</testsuite></testsuites>\n");
    text
}

/// Text fit for XML 1.0, which has no place for most control characters.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\n' | '\t' => out.push(letter),
            letter if letter.is_control() || matches!(letter, '\u{fffe}' | '\u{ffff}') => {
                out.push('\u{fffd}');
            }
            letter => out.push(letter),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn outcome(id: &str, level: Level, verdict: Verdict) -> Outcome {
        Outcome {
            id: id.into(),
            clauses: vec!["W1.1".into()],
            level,
            sentence: "As it must.".into(),
            verdict,
            seconds: 0.25,
        }
    }

    fn mixed() -> Vec<Outcome> {
        vec![
            outcome("W1.1/a", Level::Must, Verdict::Pass),
            outcome(
                "W1.1/b",
                Level::Should,
                Verdict::Timeout("no <reply> & \u{1}".into()),
            ),
            outcome("W1.1/c", Level::Must, Verdict::Skip("cannot".into())),
        ]
    }

    #[test]
    fn a_should_and_what_was_left_out_are_fatal_only_when_strict() {
        let fatal = |strict| {
            mixed()
                .iter()
                .filter(|outcome| outcome.is_fatal(strict))
                .count()
        };
        assert_eq!((fatal(false), fatal(true)), (0, 2));
        assert!(outcome("x", Level::Must, Verdict::Crash(String::new())).is_fatal(false));
    }

    #[test]
    fn what_is_optional_may_be_left_out_as_a_whole() {
        let skip = |id| outcome(id, Level::Must, Verdict::Skip("does not know it".into()));
        let pass = |id| outcome(id, Level::Must, Verdict::Pass);
        let mut outcomes = vec![pass("W1.1/a"), skip("W10.1/a"), skip("W10.4/b")];
        assert!(is_passed(&outcomes, true));
        outcomes[1] = pass("W10.1/a");
        assert!(is_passed(&outcomes, false) && !is_passed(&outcomes, true));
        outcomes[1] = skip("W1.2/a");
        assert!(is_passed(&outcomes, false) && !is_passed(&outcomes, true));
        outcomes[1] = outcome("W10.1/a", Level::Must, Verdict::Crash(String::new()));
        assert!(!is_passed(&outcomes, false));
    }

    #[test]
    fn what_came_is_expected_next_time_and_a_pass_that_was_not_shows() {
        let mut outcomes = mixed();
        let expected = Expected::of(&outcomes);
        assert_eq!(expected.differing(&outcomes).count(), 0);
        outcomes[1].verdict = Verdict::Pass;
        let differing: Vec<_> = expected
            .differing(&outcomes)
            .map(|outcome| &outcome.id)
            .collect();
        assert_eq!(differing, ["W1.1/b"]);
        outcomes[0].verdict = Verdict::Garbled(String::new());
        assert_eq!(expected.differing(&outcomes).count(), 2);
    }

    #[test]
    fn junit_counts_and_escapes() {
        let text = junit(&mixed(), "a \"receiver\"");
        assert!(
            text.contains("tests=\"3\" failures=\"0\" errors=\"1\" skipped=\"1\""),
            "{text}"
        );
        assert!(text.contains("no &lt;reply&gt; &amp; \u{fffd}"), "{text}");
        assert!(text.contains("a &quot;receiver&quot;"), "{text}");
    }
}
