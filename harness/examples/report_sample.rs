//! Writes reports of invented runs, to look at: `cargo run --release --example report_sample DIR`.
//! Nothing in them is simulated; they only show what a page looks like. Prints the cost per interval.

#[path = "../tests/invented/mod.rs"]
mod invented;

use benchmast::report::{Outcome, Report};
use benchmast::row::{Row, Sink};
use invented::DAY;
use std::time::Instant;

fn main() -> std::io::Result<()> {
    let directory = std::env::args().nth(1).unwrap_or_else(|| ".".into());
    let outcome = Outcome {
        facts: vec![("version".into(), env!("CARGO_PKG_VERSION").into())],
    };
    let hours = DAY / 24;
    let samples = [
        ("hour", hours, false, (2.0, 2.0)),
        ("day", DAY, true, (2.0, 2.0)),
        ("week", 7 * DAY, true, (0.57, 0.61)),
        ("calm_week", 7 * DAY, false, (2.0, 2.0)),
        ("month", 31 * DAY, true, (0.6, 0.62)),
        ("year", 365 * DAY, true, (0.57, 0.59)),
    ];
    for (name, length, with_faults, dead) in samples {
        let mut plan = invented::plan(length);
        if with_faults {
            plan.faults = invented::faults(&plan);
        }
        let mut report = Report::new(&plan);
        invented::run(&plan, &mut report, dead)?;
        let html = report.render(&outcome);
        println!("{name}: {} kB", html.len() / 1000);
        std::fs::write(format!("{directory}/{name}.html"), html)?;
    }
    for (name, with_faults) in [("no fault", false), ("three faults", true)] {
        let mut plan = invented::plan(7 * DAY);
        if with_faults {
            plan.faults = invented::faults(&plan);
        }
        let week: Vec<_> = invented::intervals(&plan, 2.0, 2.0).collect();
        let mut report = Report::new(&plan);
        let begin = Instant::now();
        for interval in &week {
            report.interval(&Row {
                truth: &interval.truth,
                step: &interval.step,
                causes: interval.causes,
            })?;
        }
        let each = begin.elapsed().as_nanos() / week.len() as u128;
        println!("{name}: {each} ns per interval");
    }
    Ok(())
}
