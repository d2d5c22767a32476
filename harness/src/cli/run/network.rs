//! All stations of a run side by side, and the files that tell of all of them.
//!
//! Each thread takes the next station that nobody has taken and runs it from end to end into its own folder.
//! Stations share nothing but the region, which is read only; so no byte depends on the number of threads.
//! What is kept of a station when it is through does not grow with the period.

use super::progress::Progress;
use super::station::{self, Done};
use super::{Arguments, Part, telling};
use crate::bench::Bench;
use crate::manifest;
use crate::plan::Network;
use crate::record::folder::{Finished, Folder, MANIFEST, Shelf, sha256};
use crate::report::network::page;
use crate::tally::Tally;
use benchmast_sim::weather::Region;
use std::io;
use std::path::PathBuf;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Run all stations; their tallies in the order of the scenario, and the folder.
pub(super) fn write(
    arguments: &Arguments,
    network: &Network,
    region: Option<&Region>,
    text: &str,
    folder: Folder,
) -> io::Result<(Vec<Tally>, PathBuf)> {
    let shelves: Vec<Shelf> = network
        .names()
        .map(|name| folder.below(name))
        .collect::<io::Result<_>>()?;
    let done = side_by_side(arguments, network, region, text, &shelves)?;
    let mut tallies = Vec::new();
    let mut strands = Vec::new();
    let mut files: Vec<Finished> = Vec::new();
    for (done, shelf) in done.into_iter().zip(&shelves) {
        files.extend(done.files.into_iter().map(|file| shelf.outer(file)));
        tallies.push(done.tally);
        strands.extend(done.strand);
    }
    let shelf = folder.shelf();
    files.push(shelf.save("scenario.toml", text.as_bytes())?);
    if arguments.wants(Part::Report) {
        let facts = match network.stations.first() {
            Some(plan) => manifest::facts_of_all(plan, &arguments.scenario),
            None => Vec::new(),
        };
        let page = page(network, &strands, &tallies, &facts);
        files.push(shelf.save("report.html", page.as_bytes())?);
    }
    files.sort_by(|a, b| a.name.cmp(&b.name));
    let manifest = manifest::network_json(
        network,
        &manifest::file_name(&arguments.scenario),
        &sha256(text.as_bytes()),
        &tallies,
        &files,
    );
    shelf.save(MANIFEST, format!("{manifest:#}\n").as_bytes())?;
    Ok((tallies, folder.finish()?))
}

/// Run the stations, as many at once as there are threads.
fn side_by_side(
    arguments: &Arguments,
    network: &Network,
    region: Option<&Region>,
    text: &str,
    shelves: &[Shelf],
) -> io::Result<Vec<Done>> {
    let plans = &network.stations;
    let threads = usize::from(arguments.threads).min(plans.len()).max(1);
    // A thread that would have no station writes for those that have.
    let background = usize::from(arguments.threads) > plans.len();
    let progress = Progress::new(plans, threads, telling::stop_on_interrupt());
    let next = AtomicUsize::new(0);
    let work = || {
        let mut mine: Vec<(usize, io::Result<Done>)> = Vec::new();
        loop {
            let number = next.fetch_add(1, Ordering::Relaxed);
            let (Some(plan), Some(shelf)) = (plans.get(number), shelves.get(number)) else {
                return mine;
            };
            let done = Bench::within(plan, region)
                .map_err(io::Error::other)
                .and_then(|mut bench| {
                    station::write(
                        arguments, plan, text, &mut bench, shelf, &progress, background,
                    )
                });
            let failed = done.is_err();
            mine.push((number, done));
            if failed {
                progress.give_up();
                return mine;
            }
        }
    };
    let mut done: Vec<(usize, io::Result<Done>)> = std::thread::scope(|scope| {
        let others: Vec<_> = (1..threads).map(|_| scope.spawn(work)).collect();
        let mut all = work();
        for other in others {
            match other.join() {
                Ok(theirs) => all.extend(theirs),
                Err(_) => all.push((usize::MAX, Err(io::Error::other("a thread failed")))),
            }
        }
        all
    });
    progress.finish();
    // The reason comes before the interruptions that it made.
    done.sort_by_key(|(number, done)| {
        let was_interrupted = |error: &io::Error| error.kind() == io::ErrorKind::Interrupted;
        (done.as_ref().err().is_none_or(was_interrupted), *number)
    });
    done.into_iter().map(|(_, done)| done).collect()
}
