//! One station of a run: everything that listens to it, and its files.

use super::progress::{Part as Follower, Progress};
use super::{Arguments, Part};
use crate::bench::Bench;
use crate::capture::{self, Writer as CaptureWriter};
use crate::episodes::EpisodeLog;
use crate::faults::Causes;
use crate::manifest;
use crate::plan::Plan;
use crate::record::folder::{Finished, HashedFile, MANIFEST, Shelf, sha256};
use crate::record::{Recorder, RecorderOptions};
use crate::report::network::{Gathering, Strand};
use crate::report::{Outcome, Report};
use crate::tally::Tally;
use std::io;

/// Everything that listens to a run.
struct Outputs {
    recorder: Recorder,
    capture: Option<CaptureWriter<HashedFile>>,
    report: Option<Report>,
    gathering: Option<Gathering>,
    episodes: EpisodeLog,
    tally: Tally,
    follower: Follower,
}

/// What a station leaves behind.
pub(super) struct Done {
    pub(super) tally: Tally,
    /// Its files, in order of name, the manifest last.
    pub(super) files: Vec<Finished>,
    /// What the network's page shows of it.
    pub(super) strand: Option<Strand>,
}

/// Run one station into a shelf.
pub(super) fn write(
    arguments: &Arguments,
    plan: &Plan,
    text: &str,
    bench: &mut Bench,
    shelf: &Shelf,
    progress: &Progress,
    background: bool,
) -> io::Result<Done> {
    let is_alone = arguments.station.is_some() || plan.station.is_none();
    let mut outputs = open(arguments, plan, shelf, background, is_alone, progress)?;
    drive(bench, &mut outputs)?;
    let mut files = outputs.recorder.finish()?;
    if let Some(capture) = outputs.capture {
        files.push(capture.finish()?.finish()?);
    }
    let mut episodes = shelf.create("episodes.csv")?;
    outputs.episodes.write(&mut episodes)?;
    files.push(episodes.finish()?);
    files.push(shelf.save("scenario.toml", text.as_bytes())?);
    if let Some(report) = outputs.report {
        let facts = manifest::facts(plan, &arguments.scenario);
        let page = report.render(&Outcome { facts });
        files.push(shelf.save("report.html", page.as_bytes())?);
    }
    files.sort_by(|a, b| a.name.cmp(&b.name));
    let manifest = manifest::json(
        plan,
        &manifest::file_name(&arguments.scenario),
        &sha256(text.as_bytes()),
        &outputs.tally,
        &files,
    );
    files.push(shelf.save(MANIFEST, format!("{manifest:#}\n").as_bytes())?);
    outputs.follower.done();
    Ok(Done {
        tally: outputs.tally,
        files,
        strand: outputs.gathering.map(Gathering::finish),
    })
}

fn open(
    arguments: &Arguments,
    plan: &Plan,
    shelf: &Shelf,
    background: bool,
    is_alone: bool,
    progress: &Progress,
) -> io::Result<Outputs> {
    let options = RecorderOptions {
        room: !plan.room.is_perfect(),
        formats: arguments.formats(),
        observed: arguments.wants(Part::Observed),
        key: arguments.wants(Part::Key),
        bucket_um: plan.identity.bucket_um,
        causes: Causes::new(&plan.faults),
        background,
        facts: manifest::facts(plan, &arguments.scenario),
    };
    let capture = arguments
        .wants(Part::Capture)
        .then(|| CaptureWriter::new(shelf.create("capture.ndjson")?, &capture::Header::of(plan)))
        .transpose()?;
    let wants_report = arguments.wants(Part::Report);
    Ok(Outputs {
        recorder: Recorder::new(shelf, &options)?,
        capture,
        report: wants_report.then(|| Report::new(plan)),
        gathering: (wants_report && !is_alone).then(|| Gathering::new(plan)),
        episodes: EpisodeLog::new(&plan.faults),
        tally: Tally::default(),
        follower: progress.of(plan, is_alone),
    })
}

/// Run the period.
fn drive(bench: &mut Bench, outputs: &mut Outputs) -> io::Result<()> {
    let recorded = (&mut outputs.recorder, &mut outputs.capture);
    let watched = (&mut outputs.report, &mut outputs.gathering);
    let counted = (&mut outputs.episodes, &mut outputs.tally);
    let mut sink = ((recorded, watched), (counted, &mut outputs.follower));
    bench.run(&mut sink)
}
