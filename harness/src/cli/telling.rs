//! What the commands say in words.

use super::Failure;
use crate::plan::{Network, Plan};
use crate::ports::Stop;
use crate::scenario;
use crate::tally::Tally;
use std::fmt::Write as _;
use std::io::{IsTerminal, Write as _};
use std::path::Path;

/// Read a scenario: its text and the plans it makes.
pub(super) fn load(path: &Path) -> Result<(String, Network), Failure> {
    scenario::load_network(path).map_err(|report| Failure::Input(scenario_trouble(&report)))
}

/// A scenario's problems, with colours and frames where somebody is watching.
pub(super) fn scenario_trouble(report: &scenario::Report) -> String {
    if std::io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none() {
        report.fancy(100)
    } else {
        report.plain()
    }
}

/// The station of a network that is asked for.
pub(super) fn station<'n>(network: &'n Network, name: &str) -> Result<&'n Plan, Failure> {
    network.station(name).ok_or_else(|| {
        let names: Vec<&str> = network.names().collect();
        Failure::Input(if names.is_empty() {
            "error: --station: the scenario has one station, without a name; leave the option out"
                .to_owned()
        } else {
            let meant = names
                .iter()
                .map(|known| (strsim::jaro_winkler(known, name), known))
                .max_by(|a, b| a.0.total_cmp(&b.0))
                .filter(|(likeness, _)| *likeness > 0.7)
                .map_or_else(String::new, |(_, known)| {
                    format!(" Did you mean `{known}`?")
                });
            format!(
                "error: there is no station `{name}`.{meant} The stations are: {}",
                names.join(", ")
            )
        })
    })
}

/// One station of a network in one line.
pub(super) fn short_tally(name: &str, tally: &Tally) -> String {
    format!(
        "{name:<10} {} of {} observations believed ({}); {:.1} mm of rain fell, {:.1} mm believed{}\n",
        tally.observations,
        tally.intervals,
        percent(tally.observations, tally.intervals),
        tally.rain_truth_mm,
        tally.rain_believed_mm,
        if tally.snow_truth_mm >= 0.05 {
            format!("; {:.1} mm of water fell as snow", tally.snow_truth_mm)
        } else {
            String::new()
        }
    )
}

/// A share as text.
fn percent(part: u64, whole: u64) -> String {
    if whole == 0 {
        return "-".into();
    }
    format!("{:.2} %", 100.0 * part as f64 / whole as f64)
}

/// The numbers of a run.
pub(super) fn tally(tally: &Tally) -> String {
    let mut text = String::new();
    let _ = writeln!(
        text,
        "{} intervals; {} observations believed ({}), {} health reports.",
        tally.intervals,
        tally.observations,
        percent(tally.observations, tally.intervals),
        tally.health_reports,
    );
    let _ = writeln!(
        text,
        "{} packets sent, {} heard; {} refused, {} duplicate, {} late; {} restarts, {} silences.",
        tally.sent,
        tally.heard,
        tally.refused_total(),
        tally.duplicates,
        tally.late,
        tally.restarts,
        tally.silences,
    );
    for (reason, count) in &tally.refused {
        let _ = writeln!(text, "  refused as {reason}: {count}");
    }
    let _ = writeln!(
        text,
        "Rain: {:.1} mm fell; {:.1} mm by the healthy twin, {:.1} mm by the head, {:.1} mm believed.",
        tally.rain_truth_mm, tally.rain_twin_mm, tally.rain_head_mm, tally.rain_believed_mm,
    );
    if tally.snow_truth_mm >= 0.05 {
        let _ = writeln!(
            text,
            "Snow: {:.1} mm of water; a gauge counts it when it melts.",
            tally.snow_truth_mm
        );
    }
    if tally.intervals_with_fault > 0 {
        let _ = writeln!(
            text,
            "A fault was active in {} intervals; the head did not run in {}.",
            tally.intervals_with_fault, tally.intervals_dead,
        );
    }
    text
}

/// Tell the user something on standard error; nobody has to be there to read it.
pub(super) fn notice(text: &str) {
    let _ = writeln!(std::io::stderr(), "benchmast: {text}");
}

/// Ctrl-C asks whatever waits to stop, so that results are closed properly; a second one ends the process.
pub(super) fn stop_on_interrupt() -> Stop {
    let stop = Stop::default();
    let asked = stop.clone();
    let handler = move || {
        if asked.is_asked() {
            std::process::exit(INTERRUPTED.into());
        }
        asked.ask();
    };
    if ctrlc::set_handler(handler).is_err() {
        notice("Ctrl-C will end this at once");
    }
    stop
}

/// Exit code of a command that was interrupted.
pub(super) const INTERRUPTED: u8 = 130;
