//! `benchmast check`: is a scenario in order?

use super::{Failure, print, print_json, telling};
use crate::manifest::metres;
use crate::plan::Network;
use crate::{bench, scenario};
use benchmast_sim::weather::Offset;
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
    match scenario::load_network(path) {
        Ok((_, network)) => {
            let region = network.region();
            for plan in &network.stations {
                // A record that does not drive the run is found out here, not after an hour of running.
                bench::Bench::within(plan, region.as_ref())
                    .map_err(|error| Failure::Input(format!("error: {error}")))?;
            }
            if arguments.json {
                return print_json(&json(&network));
            }
            print(scenario::network_summary(&network).as_bytes())
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

/// What a scenario will do, for programs.
fn json(network: &Network) -> serde_json::Value {
    let faults: usize = network.stations.iter().map(|plan| plan.faults.len()).sum();
    let stations: Vec<_> = network
        .stations
        .iter()
        .map(|plan| {
            let from_place = Offset::between(&network.place, &plan.place);
            serde_json::json!({
                "station": plan.station,
                "serial": plan.identity.serial.to_string(),
                "head_id": plan.head_id.to_string(),
                "latitude_deg": plan.place.latitude_deg,
                "longitude_deg": plan.place.longitude_deg,
                "altitude_m": plan.place.altitude_m,
                "east_km": metres(from_place.east_km),
                "north_km": metres(from_place.north_km),
                "faults": plan.faults.len(),
            })
        })
        .collect();
    let first = network.stations.first();
    serde_json::json!({
        "ok": true,
        "title": first.map(|plan| plan.title.as_str()),
        "seed": first.map(|plan| plan.seed),
        "faults": faults,
        "stations": stations,
    })
}
