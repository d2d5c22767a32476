//! Scenarios: one TOML file says what a run, a live port, an examination or a drill is to do.
//!
//! [`load_network`] turns a file into a [`Network`] (of one station: [`load`], a [`Plan`]), or into a [`Report`] that names file, line, column, what is
//! allowed, the nearest valid word and the next step. Every key stands in one table (`keys`), from which
//! the reader, the messages and [`reference()`] come. Times are written as in `time`, a record as in
//! `recorded`.

mod assemble;
mod draft;
mod episodes;
mod keys;
mod nearest;
mod normals;
mod read;
mod recorded;
mod reference;
mod report;
mod stations;
mod summary;
mod syntax;
#[cfg(test)]
mod tests;
mod text_file;
mod time;
mod units;
mod value;

pub use reference::reference;
pub use report::{Kind, Problem, Report};
pub use summary::{network_summary, summary};

use crate::plan::{Network, Plan};
use assemble::Assembler;
use read::Reader;
use report::Document;
use std::path::Path;

/// Largest scenario, bytes: room for some ten thousand faults.
const LARGEST: u64 = 1 << 20;

/// Read a scenario of one station from a file; a record that it names is looked for beside it.
///
/// # Errors
/// A [`Report`] of all that can be found wrong at once; also if it has several stations.
pub fn load(path: &Path) -> Result<Plan, Report> {
    let (_, network) = load_network(path)?;
    alone(&path.display().to_string(), network)
}

/// Read a scenario of any number of stations from a file, with the text it was made of; a record that it
/// names is looked for beside it. The file is read once, so a pipe will do.
///
/// # Errors
/// A [`Report`] of all that can be found wrong at once.
pub fn load_network(path: &Path) -> Result<(String, Network), Report> {
    let name = path.display().to_string();
    let text =
        text_file::read(path, LARGEST).map_err(|refusal| unreadable(&name, path, &refusal))?;
    let network = parse_network(&name, &text, path.parent().unwrap_or(Path::new("")))?;
    Ok((text, network))
}

/// The only station of a network.
fn alone(name: &str, mut network: Network) -> Result<Plan, Report> {
    match (network.stations.pop(), network.stations.len()) {
        (Some(plan), 0) => Ok(plan),
        (_, others) => Err(Report::one(Problem::with_file(
            name,
            Kind::Conflict,
            format!("the scenario has {} stations", others + 1),
            "name the station that is meant",
        ))),
    }
}

/// Why there is no text to read a scenario from.
fn unreadable(name: &str, path: &Path, refusal: &text_file::Refusal) -> Report {
    let message = format!("the scenario {refusal}");
    let help = refusal.help(path);
    let problem = match refusal {
        text_file::Refusal::NotUtf8(bytes, valid) if !bytes.contains(&0) => {
            // Up to there, lossy text has the same bytes, and the first wrong one is U+FFFD: three.
            let document = Document::new(name, &String::from_utf8_lossy(bytes));
            document.problem(Kind::File, *valid..*valid + 3, message, "not UTF-8", help)
        }
        // A program or a picture, say: its bytes would only upset the terminal.
        text_file::Refusal::NotUtf8(..) => Problem::with_file(
            name,
            Kind::File,
            "the scenario is no text",
            "look whether it is the right file",
        ),
        _ => Problem::with_file(name, Kind::File, message, help),
    };
    Report::one(problem)
}

/// Read a scenario of one station from its text. `name` stands in messages; `base_dir` is where a record is
/// looked for.
///
/// # Errors
/// A [`Report`] of all that can be found wrong at once; also if it has several stations.
pub fn parse(name: &str, text: &str, base_dir: &Path) -> Result<Plan, Report> {
    alone(name, parse_network(name, text, base_dir)?)
}

/// As [`parse`], for any number of stations.
///
/// # Errors
/// A [`Report`] of all that can be found wrong at once.
pub fn parse_network(name: &str, text: &str, base_dir: &Path) -> Result<Network, Report> {
    if text.trim_start_matches('\u{feff}').trim().is_empty() {
        return Err(Report::one(Problem::with_file(
            name,
            Kind::Missing,
            "the scenario is empty",
            "begin with title = \"...\", a [period] and a [place]; `benchmast check --keys` lists all keys",
        )));
    }
    let document = Document::new(name, text);
    let table = syntax::parse(&document).map_err(|problems| several(name, problems))?;
    let mut reader = Reader {
        document: &document,
        problems: Vec::new(),
        within: "",
    };
    let reading = reader.read(&table);
    let mut assembler = Assembler {
        document: &document,
        base_dir,
        problems: reader.problems,
    };
    let network = assembler.assemble(reading);
    match network {
        Some(network) if assembler.problems.is_empty() => Ok(network),
        _ => Err(several(name, assembler.problems)),
    }
}

/// A report of what was found; a plan that could not be made has at least one reason.
fn several(name: &str, problems: Vec<Problem>) -> Report {
    Report::of(problems).unwrap_or_else(|| {
        Report::one(Problem::with_file(
            name,
            Kind::Missing,
            "the scenario cannot be carried out",
            "this is a fault of benchmast itself: please send the scenario to its makers",
        ))
    })
}
