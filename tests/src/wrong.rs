//! Receivers that are wrong on purpose, and the proof that the examination catches each.

use benchmast::examine::cases::{self, Choice};
use benchmast::examine::child::{Child, Options, Unfit};
use benchmast::examine::judge::Trouble;
use benchmast::examine::results::Outcome;
use benchmast::examine::script::Case;
use std::fmt::Write as _;
use std::time::Duration;

/// Name of a fault, the clause that it offends, and what it does.
pub type Fault = (&'static str, &'static str, &'static str);

/// All faults. The last two offend the messages, not a clause of the wire format.
pub const FAULTS: [Fault; 18] = [
    ("bad-check", "W1.5", "believes a packet with a bad check"),
    ("any-version", "W1.1", "reads every version as its own"),
    (
        "padded-numbers",
        "W2.4",
        "accepts numbers with needless bytes",
    ),
    (
        "illegal-numbers",
        "W3.2",
        "believes numbers outside their range",
    ),
    (
        "missing-is-a-number",
        "W3.3",
        "takes a missing value for a number",
    ),
    (
        "empty-frames",
        "W6.4",
        "complains of two delimiters in a row",
    ),
    (
        "swallows-a-byte",
        "W6.5",
        "swallows the byte after the delimiter",
    ),
    ("overflows", "W6.6", "crashes over a frame without an end"),
    (
        "neighbour",
        "W7.2",
        "adopts any head that tells its identity",
    ),
    ("duplicate-counts", "W7.3", "counts a duplicate as new"),
    ("stale-is-late", "W7.3", "trusts what is stale"),
    (
        "wrap-loses-rain",
        "W7.4",
        "loses the rain where the counter wraps",
    ),
    (
        "no-base-is-nought",
        "W7.4",
        "tells rain of 0 where there is no base",
    ),
    ("ignores-restarts", "W7.5", "does not look at the life"),
    (
        "silence-after",
        "W7.6",
        "tells a silence after the packet that ended it",
    ),
    (
        "ignores-keys",
        "W10.4",
        "believes packets without the tag they must have",
    ),
    (
        "hangs",
        "W1.5",
        "waits for ever for the bytes of an empty datagram",
    ),
    ("agrees", "canary", "agrees to every request, known or not"),
];

/// Faults inside the small receiver in Python, which only a few packets in a certain order bring out.
pub const FAULTS_WITHIN: [Fault; 5] = [
    ("two-witnesses", "W7.5", "believes after two witnesses"),
    (
        "due-from-observations",
        "W7.3",
        "counts the interval that is due from observations only",
    ),
    (
        "late-clock",
        "W7.3",
        "counts the interval that is due from a late packet's time",
    ),
    (
        "late-counter",
        "W7.4",
        "does not judge the counter of a late packet",
    ),
    (
        "rain-after-health",
        "W7.5",
        "loses the rain of the first observation after a health report told of the restart",
    ),
];

/// What the examination says to a receiver.
#[derive(Debug)]
pub enum Found {
    /// Its outcomes.
    Outcomes(Vec<Outcome>),
    /// It did not pass the canary, with the reason.
    Canary(String),
}

impl Found {
    /// Ids of the cases that were not met; the canary's as `canary`.
    #[must_use]
    pub fn missed(&self) -> Vec<&str> {
        match self {
            Self::Outcomes(outcomes) => benchmast::examine::missed(outcomes),
            Self::Canary(_) => vec!["canary"],
        }
    }

    /// Whether a case of this clause was missed.
    #[must_use]
    pub fn names(&self, clause: &str) -> bool {
        self.missed()
            .iter()
            .any(|id| id.split('/').next() == Some(clause))
    }
}

/// The cases that are put to wrong receivers: all, with a short soak and a few random ones.
#[must_use]
pub fn short_cases() -> Vec<Case> {
    cases::all(Choice {
        soak_days: 1,
        seed: 1,
        random: 10,
    })
}

/// Examine a command with all cases.
///
/// # Errors
/// In words, when it cannot be started.
pub fn examine(command: &[String], cases: &[Case]) -> Result<Found, String> {
    let options = Options {
        timeout: Duration::from_secs(2),
        ..Options::default()
    };
    let mut child = match Child::start(command, options) {
        Ok(child) => child,
        Err(Unfit::Canary(why)) => return Ok(Found::Canary(why)),
        Err(other) => return Err(other.to_string()),
    };
    let outcomes =
        benchmast::examine::run(cases, &mut child, &mut |_, _| {}, &mut |_, _, _| Ok(()))
            .map_err(|trouble: Trouble| format!("{trouble:?}"))?;
    child.bye();
    Ok(Found::Outcomes(outcomes))
}

/// A command that is wrong in one way: `wrong` in front of a right receiver.
#[must_use]
pub fn command(wrong: &str, fault: &str, right: &[String]) -> Vec<String> {
    let mut command = vec![
        wrong.to_owned(),
        "--fault".to_owned(),
        fault.to_owned(),
        "--".to_owned(),
    ];
    command.extend_from_slice(right);
    command
}

/// A command that is wrong within.
#[must_use]
pub fn command_within(fault: &str) -> Vec<String> {
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/receivers/wrong_within.py");
    ["python3", script, fault].map(str::to_owned).to_vec()
}

/// Every wrong receiver: its fault and its command.
pub fn all<'a>(wrong: &'a str, right: &'a [String]) -> impl Iterator<Item = (Fault, Vec<String>)> {
    let around = FAULTS
        .into_iter()
        .map(move |fault| (fault, command(wrong, fault.0, right)));
    let within = FAULTS_WITHIN
        .into_iter()
        .map(|fault| (fault, command_within(fault.0)));
    around.chain(within)
}

/// The table of wrong receivers, as Markdown, and whether each was caught by the clause it offends.
///
/// # Errors
/// As [`examine`].
pub fn table(wrong: &str, right: &[String]) -> Result<(String, bool), String> {
    let cases = short_cases();
    let mut text = format!(
        "| fault | what it does | clause meant | caught by it | cases missed of {} | first of the clause |\n|---|---|---|---|---|---|\n",
        cases.len()
    );
    let mut all_caught = true;
    for ((name, clause, what), command) in all(wrong, right) {
        let found = examine(&command, &cases)?;
        let missed = found.missed();
        let is_caught = found.names(clause);
        all_caught &= is_caught;
        let first = missed
            .iter()
            .find(|id| id.split('/').next() == Some(clause));
        let _ = writeln!(
            text,
            "| `{name}` | {what} | {clause} | {} | {} | {} |",
            if is_caught { "yes" } else { "NO" },
            missed.len(),
            first.unwrap_or(&"-"),
        );
    }
    Ok((text, all_caught))
}
