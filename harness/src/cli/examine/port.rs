//! Firmware at the end of a port.

use super::{Arguments, Desk, conclude, summary, write_reports};
use crate::cli::{Failure, telling};
use crate::examine::judge::Verdict;
use crate::examine::port::{Firmware, Reset, Verdicts};
use crate::examine::results::{Expected, Outcome};
use crate::examine::script::Case;
use crate::pace::Pacer;
use crate::ports::{PortName, SendOptions, Stop};
use std::io;
use std::time::{Duration, Instant};

/// Put the cases to it that can go over a port.
pub(super) fn run(
    arguments: &Arguments,
    (to, verdicts): (&PortName, &PortName),
    cases: &[Case],
    expected: Option<&Expected>,
    stop: &Stop,
) -> Result<(), Failure> {
    let failed = |error: io::Error| match error.kind() {
        io::ErrorKind::Interrupted => Failure::Interrupted,
        _ => Failure::Port(format!("error: {error}")),
    };
    let verdicts = match verdicts {
        PortName::Standard => Verdicts::Standard,
        PortName::File(path) => Verdicts::File(path.clone()),
        other => Verdicts::Port(other.clone()),
    };
    let reset = match arguments.reset.as_str() {
        "reopen" => Reset::Reopen,
        command => Reset::Command(command.to_owned()),
    };
    let (asked, within) = (stop.clone(), arguments.peer_within.map(Duration::from_secs));
    let options = Box::new(move || SendOptions {
        stop: asked.clone(),
        peer_within: within,
        notice: Box::new(telling::notice),
        ..SendOptions::default()
    });
    let mut firmware = Firmware::new(
        to.clone(),
        &verdicts,
        reset,
        arguments.timeout,
        stop.clone(),
        options,
    )
    .map_err(failed)?;
    let mut pacer = Pacer::new(arguments.pace, stop.clone());
    let (begin, mut desk) = (Instant::now(), Desk::new(cases));
    let mut outcomes = Vec::new();
    for case in cases {
        let begin = Instant::now();
        let verdict = firmware.examine(case, &mut pacer).map_err(failed)?;
        if !matches!(verdict, Verdict::Skip(_)) {
            desk.progress(case.len());
        }
        let outcome = Outcome::of(case, verdict, begin.elapsed().as_secs_f64());
        if outcome.is_miss() {
            desk.tell(case, &outcome, None);
        } else {
            desk.done(case);
        }
        outcomes.push(outcome);
    }
    desk.bar.finish();
    let name = format!("the firmware at {to}");
    desk.text
        .push_str(&summary(&outcomes, &name, 1, desk.steps, begin.elapsed()));
    write_reports(arguments, &outcomes, &name)?;
    conclude(arguments, desk.text, &outcomes, expected)
}
