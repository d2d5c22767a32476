//! `benchmast check`: is a scenario in order?

use super::{Failure, print, print_json, telling};
use crate::{bench, scenario};
use std::path::PathBuf;

/// Check a scenario and say in words what it will do
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  benchmast check scenarios/first_week.toml\n  benchmast check --keys"
)]
pub(super) struct Arguments {
    /// Scenario file (TOML)
    #[arg(required_unless_present = "keys")]
    scenario: Option<PathBuf>,
    /// Print every key a scenario may have: unit, range, default, meaning
    #[arg(long)]
    keys: bool,
    /// Print JSON
    #[arg(long, conflicts_with = "keys")]
    json: bool,
}

pub(super) fn run(arguments: &Arguments) -> Result<(), Failure> {
    let Some(path) = arguments.scenario.as_ref().filter(|_| !arguments.keys) else {
        return print(scenario::reference().as_bytes());
    };
    match scenario::load(path) {
        Ok(plan) => {
            // A record that does not drive the run is found out here, not after an hour of running.
            bench::Bench::new(&plan).map_err(|error| Failure::Input(format!("error: {error}")))?;
            if arguments.json {
                return print_json(&serde_json::json!({
                    "ok": true, "title": plan.title, "seed": plan.seed, "faults": plan.faults.len(),
                }));
            }
            print(scenario::summary(&plan).as_bytes())
        }
        Err(report) if arguments.json => {
            let mut problems = report.to_json();
            problems["ok"] = false.into();
            print_json(&problems)?;
            Err(Failure::Input(String::new()))
        }
        Err(report) => Err(Failure::Input(telling::scenario_trouble(&report))),
    }
}
