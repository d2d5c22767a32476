//! `benchmast run`: a scenario from the first interval to the folder of results.

use super::{Failure, print, print_json, telling};
use crate::bench::Bench;
use crate::capture::{self, Writer as CaptureWriter};
use crate::episodes::EpisodeLog;
use crate::faults::Causes;
use crate::manifest;
use crate::plan::Plan;
use crate::ports::Stop;
use crate::record::folder::{Finished, Folder, HashedFile, MANIFEST, sha256};
use crate::record::{Format, Recorder, RecorderOptions};
use crate::report::{Outcome, Report};
use crate::row::{Row, Sink};
use crate::tally::Tally;
use clap::ValueEnum;
use indicatif::{ProgressBar, ProgressStyle};
use std::collections::BTreeSet;
use std::io::{self, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Run a scenario and write what was believed, the answer key, the capture and a report
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

/// Everything that listens to a run.
struct Outputs {
    recorder: Recorder,
    capture: Option<CaptureWriter<HashedFile>>,
    report: Option<Report>,
    episodes: EpisodeLog,
    tally: Tally,
}

pub(super) fn run(arguments: &Arguments) -> Result<(), Failure> {
    let (text, mut plan) = telling::load(&arguments.scenario)?;
    if let Some(seed) = arguments.seed {
        plan.seed = seed;
    }
    let plan = plan;
    let out = arguments.out.display().to_string();
    let mut bench = Bench::new(&plan).map_err(|error| Failure::Input(format!("error: {error}")))?;
    let folder = Folder::create_beside(&arguments.out, arguments.replace)
        .map_err(|error| Failure::writing(&out, &error))?;
    let (tally, path) = write(arguments, &plan, &text, &mut bench, folder)
        .map_err(|error| Failure::writing(&out, &error))?;
    tell(arguments, &plan, &tally, &path)
}

fn write(
    arguments: &Arguments,
    plan: &Plan,
    text: &str,
    bench: &mut Bench,
    folder: Folder,
) -> io::Result<(Tally, PathBuf)> {
    let mut outputs = open(arguments, plan, &folder)?;
    drive(plan, bench, &mut outputs)?;
    let mut files = outputs.recorder.finish()?;
    if let Some(capture) = outputs.capture {
        files.push(capture.finish()?.finish()?);
    }
    let mut episodes = folder.create("episodes.csv")?;
    outputs.episodes.write(&mut episodes)?;
    files.push(episodes.finish()?);
    files.push(save(&folder, "scenario.toml", text.as_bytes())?);
    if let Some(report) = outputs.report {
        let facts = manifest::facts(plan, &arguments.scenario);
        files.push(save(
            &folder,
            "report.html",
            report.render(&Outcome { facts }).as_bytes(),
        )?);
    }
    files.sort_by(|a, b| a.name.cmp(&b.name));
    let scenario_name = file_name(&arguments.scenario);
    let manifest = manifest::json(
        plan,
        &scenario_name,
        &sha256(text.as_bytes()),
        &outputs.tally,
        &files,
    );
    save(&folder, MANIFEST, format!("{manifest:#}\n").as_bytes())?;
    Ok((outputs.tally, folder.finish()?))
}

fn open(arguments: &Arguments, plan: &Plan, folder: &Folder) -> io::Result<Outputs> {
    let options = RecorderOptions {
        formats: arguments.formats(),
        observed: arguments.wants(Part::Observed),
        key: arguments.wants(Part::Key),
        bucket_um: plan.identity.bucket_um,
        causes: Causes::new(&plan.faults),
        background: arguments.threads > 1,
        facts: manifest::facts(plan, &arguments.scenario),
    };
    let capture = arguments
        .wants(Part::Capture)
        .then(|| CaptureWriter::new(folder.create("capture.ndjson")?, &capture::Header::of(plan)))
        .transpose()?;
    Ok(Outputs {
        recorder: Recorder::new(folder, &options)?,
        capture,
        report: arguments.wants(Part::Report).then(|| Report::new(plan)),
        episodes: EpisodeLog::new(&plan.faults),
        tally: Tally::default(),
    })
}

fn save(folder: &Folder, name: &str, bytes: &[u8]) -> io::Result<Finished> {
    let mut file = folder.create(name)?;
    file.write_all(bytes)?;
    file.finish()
}

fn file_name(path: &Path) -> String {
    path.file_name()
        .map_or_else(String::new, |name| name.to_string_lossy().into_owned())
}

/// Run the period, with a progress bar where somebody is watching.
fn drive(plan: &Plan, bench: &mut Bench, outputs: &mut Outputs) -> io::Result<()> {
    let mut progress = Progress::new(plan);
    let recorded = (&mut outputs.recorder, &mut outputs.capture);
    let watched = (&mut outputs.report, &mut outputs.episodes);
    let mut sink = ((recorded, watched), (&mut outputs.tally, &mut progress));
    bench.run(&mut sink)?;
    progress.bar.finish_and_clear();
    Ok(())
}

/// Shows how far the run has come, and ends it on Ctrl-C.
struct Progress {
    bar: ProgressBar,
    stop: Stop,
    start_us: i64,
    intervals: u64,
}

impl Progress {
    fn new(plan: &Plan) -> Self {
        let seconds = u64::try_from((plan.end_us - plan.start_us) / 1_000_000).unwrap_or(0);
        let bar = if io::stderr().is_terminal() {
            ProgressBar::new(seconds)
        } else {
            ProgressBar::hidden()
        };
        if let Ok(style) =
            ProgressStyle::with_template("{wide_bar} {percent} %  {msg}  {eta} to go")
        {
            bar.set_style(style);
        }
        bar.enable_steady_tick(Duration::from_millis(200));
        Self {
            bar,
            stop: telling::stop_on_interrupt(),
            start_us: plan.start_us,
            intervals: 0,
        }
    }
}

impl Sink for Progress {
    fn interval(&mut self, row: &Row<'_>) -> io::Result<()> {
        self.intervals += 1;
        if self.stop.is_asked() {
            return Err(io::ErrorKind::Interrupted.into());
        }
        if self.intervals.is_multiple_of(5400) {
            let seconds = (row.step.time_us - self.start_us) / 1_000_000;
            self.bar.set_position(u64::try_from(seconds).unwrap_or(0));
            self.bar.set_message(format!("{} days", seconds / 86_400));
        }
        Ok(())
    }
}

fn tell(arguments: &Arguments, plan: &Plan, tally: &Tally, path: &Path) -> Result<(), Failure> {
    if arguments.json {
        return print_json(&serde_json::json!({
            "out": path, "seed": plan.seed, "tally": tally,
        }));
    }
    let mut text = telling::tally(tally);
    let report = path.join("report.html");
    if report.is_file() {
        text.push_str(&format!("\nLook at {}\n", report.display()));
    } else {
        text.push_str(&format!("\nWritten to {}\n", path.display()));
    }
    print(text.as_bytes())
}
