//! The examination of receivers: cases numbered by clause of WIRE.md, put to a receiver in any language.
//!
//! The receiver is a child process ([`child`]); how the two talk is in `protocol/EXAMINATION.md`. A [`script::Case`]
//! is data: steps and what must be said to each. [`cases`] makes them, from the vectors and from generators;
//! [`judge`] puts one to an [`judge::Examinee`] and tells what came of it. The protocol crate's own receiver is
//! an examinee too ([`reference`](mod@reference)): it answers for the cases, and is the oracle of the random ones.

pub mod cases;
pub mod child;
pub mod judge;
pub mod message;
pub mod port;
pub mod reference;
pub mod replay;
pub mod results;
pub mod script;
pub mod select;
pub mod told;

/// Version of the messages, as EXAMINATION.md has it.
pub const EXAMINATION: u8 = 1;

use judge::{Examinee, Trouble, Verdict};
use results::Outcome;
use script::Case;
use std::time::Instant;

/// After so many starts that did not get as far as `hello`, a receiver is given up.
pub const HOPELESS_AFTER: u32 = 3;

/// Put cases to a receiver, one after the other. `progress` is told the case and the number of every thousandth step and of the last;
/// `done` each outcome, and may put more to the receiver.
///
/// # Errors
/// [`Trouble::Interrupted`] when somebody asked to stop.
pub fn run<R: Examinee>(
    cases: &[Case],
    receiver: &mut R,
    progress: &mut dyn FnMut(&Case, u64),
    done: &mut dyn FnMut(&Case, &Outcome, &mut R) -> Result<(), Trouble>,
) -> Result<Vec<Outcome>, Trouble> {
    let mut outcomes = Vec::with_capacity(cases.len());
    for case in cases {
        let begin = Instant::now();
        progress(case, 0);
        let verdict = if receiver.is_hopeless() {
            Verdict::Crash("left out: the receiver does not start any more".into())
        } else {
            judge::examine_with(case, receiver, &mut |step| progress(case, step))?
        };
        let outcome = Outcome::of(case, verdict, begin.elapsed().as_secs_f64());
        done(case, &outcome, receiver)?;
        outcomes.push(outcome);
    }
    Ok(outcomes)
}

/// Ids of the cases that were not met.
#[must_use]
pub fn missed(outcomes: &[Outcome]) -> Vec<&str> {
    let missed = outcomes.iter().filter(|outcome| outcome.is_miss());
    missed.map(|outcome| outcome.id.as_str()).collect()
}

/// Whether nothing but passes and what was left out came.
#[must_use]
pub fn is_met(outcomes: &[Outcome]) -> bool {
    outcomes
        .iter()
        .all(|outcome| matches!(outcome.verdict, Verdict::Pass | Verdict::Skip(_)))
}
