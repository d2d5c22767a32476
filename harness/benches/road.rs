//! What one interval of the road costs, and what each listener adds to it. The stages inside are measured
//! where they live: `benchmast-sim` has benches for weather and heads, `benchmast-protocol` an example for
//! packets and receiver.

use benchmast::bench::Bench;
use benchmast::capture::{Header, Writer};
use benchmast::faults::Causes;
use benchmast::plan::Plan;
use benchmast::record::folder::Folder;
use benchmast::record::{Format, Recorder, RecorderOptions};
use benchmast::report::Report;
use benchmast::row::{Row, Sink};
use benchmast::scenario;
use benchmast::tally::Tally;
use divan::Bencher;
use divan::counter::ItemsCount;
use std::io;
use std::path::Path;

/// Five days: two healthy, three with two faults.
const INTERVALS: usize = 5 * 5400;

const SCENARIO: &str = r#"
title = "Five days"
seed = 3
[period]
start = 2026-04-01T00:00:00Z
days = 5
[place]
name = "Bench Hill"
latitude_deg = 50
longitude_deg = 5
altitude_m = 100
[link]
loss = 0.05
[[fault]]
id = "shield_airflow_blocked"
onset = "+2d"
[[fault]]
id = "arrow_misaligned"
onset = "+2d"
severity = 0.3
"#;

fn plan() -> Plan {
    scenario::parse("bench.toml", SCENARIO, Path::new(".")).expect("a sound scenario")
}

fn main() {
    divan::main();
}

/// Takes nothing down.
struct Nobody;

impl Sink for Nobody {
    fn interval(&mut self, row: &Row<'_>) -> io::Result<()> {
        divan::black_box(row);
        Ok(())
    }
}

fn measure<S: Sink>(bencher: Bencher, sink: impl Fn() -> S + Sync) {
    let plan = plan();
    bencher
        .counter(ItemsCount::new(INTERVALS))
        // Setting up, which fits the weather to its normals, is not part of an interval.
        .with_inputs(|| (Bench::new(&plan).expect("a bench"), sink()))
        .bench_values(|(mut bench, mut sink)| {
            bench.run(&mut sink).expect("a run");
            sink
        });
}

#[divan::bench(sample_count = 12)]
fn bare(bencher: Bencher) {
    measure(bencher, || Nobody);
}

#[divan::bench(sample_count = 12)]
fn tally(bencher: Bencher) {
    measure(bencher, Tally::default);
}

#[divan::bench(sample_count = 12)]
fn report(bencher: Bencher) {
    let plan = plan();
    measure(bencher, || Report::new(&plan));
}

#[divan::bench(sample_count = 12)]
fn capture(bencher: Bencher) {
    let header = Header::of(&plan());
    measure(bencher, || {
        Writer::new(Vec::new(), &header).expect("a capture")
    });
}

#[divan::bench(args = [Format::Csv, Format::Parquet], sample_count = 12)]
fn record(bencher: Bencher, format: Format) {
    let room = tempfile::tempdir().expect("a room");
    measure(bencher, || {
        let folder = Folder::create_beside(&room.path().join("run"), false).expect("a folder");
        let options = RecorderOptions {
            room: false,
            formats: vec![format],
            observed: true,
            key: true,
            bucket_um: 300,
            causes: Causes::default(),
            background: false,
            facts: Vec::new(),
        };
        Recorder::new(&folder.shelf(), &options).expect("files")
    });
}

#[divan::bench(sample_count = 12)]
fn set_up(bencher: Bencher) {
    let plan = plan();
    bencher.bench(|| Bench::new(&plan).expect("a bench"));
}
