//! `benchmast faults`: the catalogue.

use super::{Failure, print, print_json};
use crate::faults::{CATALOGUE, Fault, GENERAL_CAUTION, by_id};
use std::fmt::Write as _;

/// List the faults that a scenario can switch on, or explain one
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  benchmast faults\n  benchmast faults vane_stuck")]
pub(super) struct Arguments {
    /// Explain this one
    id: Option<String>,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments) -> Result<(), Failure> {
    let chosen: Vec<&Fault> = match &arguments.id {
        Some(id) => vec![by_id(id).ok_or_else(|| unknown(id))?],
        None => CATALOGUE.to_vec(),
    };
    if arguments.json {
        let list: Vec<_> = chosen.iter().map(|fault| json(fault)).collect();
        return print_json(&serde_json::Value::Array(list));
    }
    let text = match (&arguments.id, chosen.as_slice()) {
        (Some(_), [fault]) => card(fault),
        _ => list(&chosen),
    };
    print(text.as_bytes())
}

fn unknown(id: &str) -> Failure {
    let nearest = CATALOGUE
        .iter()
        .map(|fault| (strsim::jaro_winkler(fault.id, id), fault.id))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .filter(|(likeness, _)| *likeness > 0.7)
        .map_or_else(String::new, |(_, word)| format!(" Did you mean `{word}`?"));
    Failure::Input(format!(
        "error: there is no fault `{id}`.{nearest} `benchmast faults` lists them all."
    ))
}

fn list(faults: &[&Fault]) -> String {
    let width = faults.iter().map(|fault| fault.id.len()).max().unwrap_or(0);
    let mut text = String::new();
    for fault in faults {
        let _ = writeln!(text, "{:width$}  {}", fault.id, fault.card.what);
    }
    text.push_str("\n`benchmast faults ID` explains one: signature, look-alikes, field check, remedy, caution.\n");
    text
}

fn card(fault: &Fault) -> String {
    let card = fault.card;
    let mut text = format!("{}\n\n", fault.id);
    for (heading, body) in [
        ("What", card.what),
        ("Severity 1", fault.full_severity),
        ("Signature", card.signature),
        ("Look-alikes", card.look_alikes),
        ("Field check", card.field_check),
        ("Remedy", card.remedy),
        ("Caution", card.caution),
        ("", GENERAL_CAUTION),
        ("Source", card.source),
    ] {
        wrap(&mut text, heading, body);
    }
    text
}

/// Column at which the text of a card starts.
const INDENT: usize = 14;
/// Width of a card.
const WIDTH: usize = 96;

fn wrap(text: &mut String, heading: &str, body: &str) {
    let _ = write!(text, "{heading:INDENT$}");
    let mut used = INDENT;
    for word in body.split_whitespace() {
        if used > INDENT && used + 1 + word.len() > WIDTH {
            let _ = write!(text, "\n{:INDENT$}", "");
            used = INDENT;
        }
        if used > INDENT {
            text.push(' ');
            used += 1;
        }
        text.push_str(word);
        used += word.len();
    }
    text.push('\n');
}

fn json(fault: &Fault) -> serde_json::Value {
    let card = fault.card;
    serde_json::json!({
        "id": fault.id,
        "severity_1": fault.full_severity,
        "what": card.what,
        "signature": card.signature,
        "look_alikes": card.look_alikes,
        "field_check": card.field_check,
        "remedy": card.remedy,
        "caution": [card.caution, GENERAL_CAUTION],
        "source": card.source,
    })
}
