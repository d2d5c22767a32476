//! The reference of the scenario language, made from the table of keys and the table of columns.

use super::draft::{Draft, FaultDraft, StationDraft};
use super::keys::{FAULT, Need, SECTIONS, STATION, Section};
use super::nearest::bracketed;
use super::recorded;
use std::fmt::Write;

/// All sections and keys, and the columns of a record, as Markdown tables: unit, what is allowed, default and meaning.
#[must_use]
pub fn reference() -> String {
    let mut text = String::from(
        "# Keys of a scenario\n\nKeys end in their unit. Times are UTC. A key without a default must be there.\n",
    );
    for section in SECTIONS {
        write_section(&mut text, section, &mut Draft::default());
    }
    write_section(&mut text, &STATION, &mut StationDraft::default());
    write_section(&mut text, &FAULT, &mut FaultDraft::default());
    text.push_str(
        "\n## The columns of a record\n\nA CSV file with commas and decimal points. The first line names the \
         columns, in any order; lines that begin with # are comments. An empty cell was not observed and is \
         filled in from its neighbours. The records begin before the period and end after it.\n\n",
    );
    text.push_str(&recorded::describe());
    text
}

fn write_section<D>(text: &mut String, section: &Section<D>, defaults: &mut D) {
    let title = match section.name {
        "" => "The top".to_owned(),
        name => format!("`{}`", bracketed(name)),
    };
    // Writing to a String cannot fail.
    let _ = write!(
        text,
        "\n## {title}: {}\n\n| key | unit | allowed | default | meaning |\n|---|---|---|---|---|\n",
        section.meaning
    );
    for key in section.keys {
        let default = match key.need {
            Need::Required => "required".to_owned(),
            Need::Optional => (key.slot)(defaults).show().unwrap_or_default(),
            Need::Else(otherwise) => otherwise.to_owned(),
        };
        let _ = writeln!(
            text,
            "| `{}` | {} | {} | {default} | {} |",
            key.name,
            key.unit,
            // The unit has a column of its own.
            key.allowed.describe(""),
            key.meaning
        );
    }
}
