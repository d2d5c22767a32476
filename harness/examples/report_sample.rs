//! Writes reports of invented runs, to look at: `cargo run --release --example report_sample DIR`.
//! Nothing in them is simulated; they only show what a page looks like. Prints the cost per interval.

#[path = "../tests/invented/mod.rs"]
mod invented;

use benchmast::report::{Outcome, Report};
use benchmast::row::{Row, Sink};
use invented::DAY;

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
        let mut plan = invented::plan(120 * DAY);
        if with_faults {
            plan.faults = invented::faults(&plan);
        }
        // Few enough to stay in the cache, as the one interval of a real run does.
        let mut some: Vec<_> = invented::intervals(&plan, 2.0, 2.0)
            .skip(210_000)
            .take(64)
            .collect();
        let mut report = Report::new(&plan);
        let rounds = 6_000;
        let begin = busy_ns();
        for _ in 0..rounds {
            for interval in &mut some {
                report.interval(&Row {
                    truth: &interval.truth,
                    step: &interval.step,
                    causes: interval.causes,
                })?;
                interval.step.time_us += 64 * 16 * invented::SECOND;
            }
        }
        let each = (busy_ns() - begin) / (rounds * some.len()) as u64;
        println!("{name}: {each} ns per interval");
    }
    Ok(())
}

/// Time this process has spent computing, ns; 0 where the system does not tell.
fn busy_ns() -> u64 {
    std::fs::read_to_string("/proc/self/schedstat")
        .ok()
        .and_then(|text| text.split(' ').next()?.parse().ok())
        .unwrap_or(0)
}
