//! `benchmast run`: a scenario from the first interval to the folder of results.

mod network;
mod progress;
mod station;

use super::{Failure, print, print_json, telling};
use crate::bench::Bench;
use crate::plan::{Network, Plan};
use crate::record::Format;
use crate::record::folder::Folder;
use clap::ValueEnum;
use progress::Progress;
use std::collections::BTreeSet;
use std::io;
use std::path::{Path, PathBuf};

/// Run a scenario and write what was believed, the answer key, the capture and a report
///
/// A scenario of several stations makes a folder for each of them, and a report of the network.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  benchmast run scenarios/first_week.toml --out first_week\n  \
    benchmast run scenarios/station_year.toml --out year --format parquet --only observed,key --seed 42"
)]
pub(super) struct Arguments {
    /// Scenario file (TOML)
    scenario: PathBuf,
    /// Folder to write; it appears only when everything in it is complete
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Run only this station of a network, into DIR itself
    #[arg(long, value_name = "NAME")]
    station: Option<String>,
    /// Another seed than the scenario's
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    seed: Option<u64>,
    /// In what form the tables are written
    #[arg(long, value_delimiter = ',', default_value = "csv")]
    format: Vec<TableFormat>,
    /// Write only these (and the manifest); everything if not given
    #[arg(long, value_delimiter = ',', value_name = "PART")]
    only: Vec<Part>,
    /// Write an earlier run's folder anew
    #[arg(long)]
    replace: bool,
    /// Threads to use; the results are the same
    #[arg(
        long,
        value_name = "N",
        default_value_t = 2,
        allow_negative_numbers = true,
        value_parser = clap::value_parser!(u8).range(1..=64)
    )]
    threads: u8,
    /// Print the result as JSON
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum TableFormat {
    /// RFC 4180 text with units in a sidecar
    Csv,
    /// Apache Parquet
    Parquet,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Part {
    /// What the receiver believed
    Observed,
    /// Truth, twin, actual reading and effect
    Key,
    /// Every packet as sent and as arrived
    Capture,
    /// Plots and a summary
    Report,
}

impl Arguments {
    fn wants(&self, part: Part) -> bool {
        self.only.is_empty() || self.only.contains(&part)
    }

    fn formats(&self) -> Vec<Format> {
        let formats: BTreeSet<_> = self
            .format
            .iter()
            .map(|format| match format {
                TableFormat::Csv => Format::Csv,
                TableFormat::Parquet => Format::Parquet,
            })
            .collect();
        formats.into_iter().collect()
    }
}

pub(super) fn run(arguments: &Arguments) -> Result<(), Failure> {
    let (text, mut network) = telling::load(&arguments.scenario)?;
    if let Some(seed) = arguments.seed {
        network.reseed(seed);
    }
    let alone = match &arguments.station {
        Some(name) => Some(telling::station(&network, name)?),
        None => network.single(),
    };
    match alone {
        Some(plan) => one(arguments, plan, &text),
        None => many(arguments, &network, &text),
    }
}

fn create(arguments: &Arguments) -> Result<Folder, Failure> {
    Folder::create_beside(&arguments.out, arguments.replace)
        .map_err(|error| writing(arguments, &error))
}

fn writing(arguments: &Arguments, error: &io::Error) -> Failure {
    Failure::writing(&arguments.out.display().to_string(), error)
}

/// One station, into the folder itself.
fn one(arguments: &Arguments, plan: &Plan, text: &str) -> Result<(), Failure> {
    let mut bench = Bench::new(plan).map_err(|error| Failure::Input(format!("error: {error}")))?;
    let folder = create(arguments)?;
    let progress = Progress::new(std::slice::from_ref(plan), 1, telling::stop_on_interrupt());
    let background = arguments.threads > 1;
    let shelf = folder.shelf();
    let done = station::write(
        arguments, plan, text, &mut bench, &shelf, &progress, background,
    )
    .and_then(|done| {
        progress.finish();
        Ok((done.tally, folder.finish()?))
    });
    let (tally, path) = done.map_err(|error| writing(arguments, &error))?;
    if arguments.json {
        return print_json(&serde_json::json!({
            "out": path, "seed": plan.seed, "tally": tally,
        }));
    }
    tell(&telling::tally(&tally), &path)
}

/// All stations of a network, each into a folder of its own.
fn many(arguments: &Arguments, network: &Network, text: &str) -> Result<(), Failure> {
    let region = network.region();
    // A record that does not drive the run is found out before anything is written; all share it.
    for plan in network.stations.iter().take(1) {
        Bench::within(plan, region.as_ref())
            .map_err(|error| Failure::Input(format!("error: {error}")))?;
    }
    let folder = create(arguments)?;
    let (tallies, path) = network::write(arguments, network, region.as_ref(), text, folder)
        .map_err(|error| writing(arguments, &error))?;
    let named = || network.names().zip(&tallies);
    if arguments.json {
        let seed = network.stations.first().map(|plan| plan.seed);
        let stations: Vec<_> = named()
            .map(|(name, tally)| {
                serde_json::json!({ "station": name, "out": path.join(name), "tally": tally })
            })
            .collect();
        return print_json(&serde_json::json!({
            "out": path, "seed": seed, "stations": stations,
        }));
    }
    let mut words = String::new();
    for (name, tally) in named() {
        words.push_str(&telling::short_tally(name, tally));
    }
    tell(&words, &path)
}

fn tell(words: &str, path: &Path) -> Result<(), Failure> {
    let report = path.join("report.html");
    let last = if report.is_file() {
        format!("\nLook at {}\n", report.display())
    } else {
        format!("\nWritten to {}\n", path.display())
    };
    print(format!("{words}{last}").as_bytes())
}
