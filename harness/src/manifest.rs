//! What a run's folder says of itself: `manifest.json`.

use crate::faults::Causes;
use crate::plan::{Network, Plan};
use crate::record::folder::Finished;
use crate::tally::Tally;
use benchmast_sim::site::Place;
use benchmast_sim::weather::Offset;
use serde_json::{Value, json};
use std::path::Path;

/// Version of the manifest's shape.
const MANIFEST_VERSION: u32 = 1;

/// The version of this program.
pub const VERSION: &str = env!("CARGO_PKG_VERSION");

/// ISO 8601 in UTC.
fn stamp(time_us: i64) -> String {
    jiff::Timestamp::from_microsecond(time_us)
        .map_or_else(|_| String::new(), |stamp| stamp.to_string())
}

/// The last part of a path, which is no business of this machine's alone.
#[must_use]
pub fn file_name(path: &Path) -> String {
    path.file_name()
        .map_or_else(String::new, |name| name.to_string_lossy().into_owned())
}

/// What the metadata of each file and the report say of the run.
#[must_use]
pub fn facts(plan: &Plan, scenario: &Path) -> Vec<(String, String)> {
    let mut facts = facts_of_all(plan, scenario);
    if let Some(station) = &plan.station {
        facts.insert(1, ("station".into(), station.clone()));
    }
    facts
}

/// The same, for what tells of all stations at once: any plan of the network will do.
#[must_use]
pub fn facts_of_all(plan: &Plan, scenario: &Path) -> Vec<(String, String)> {
    [
        ("title", plan.title.clone()),
        ("scenario", file_name(scenario)),
        ("seed", plan.seed.to_string()),
        ("benchmast", VERSION.to_string()),
        (
            "wire_format",
            benchmast_protocol::packet::VERSION.to_string(),
        ),
        ("schema_version", "1".to_string()),
        ("start", stamp(plan.start_us)),
        ("end", stamp(plan.end_us)),
    ]
    .map(|(key, value)| (key.to_string(), value))
    .to_vec()
}

/// The manifest.
#[must_use]
pub fn json(
    plan: &Plan,
    scenario_name: &str,
    scenario_sha256: &str,
    tally: &Tally,
    files: &[Finished],
) -> Value {
    let mut manifest = json!({
        "manifest": MANIFEST_VERSION,
        "benchmast": VERSION,
        "wire_format": benchmast_protocol::packet::VERSION,
        "title": plan.title,
        "scenario": { "file": scenario_name, "sha256": scenario_sha256 },
        "seed": plan.seed,
        "period": { "start": stamp(plan.start_us), "end": stamp(plan.end_us) },
        "place": place(&plan.place_name, &plan.place),
        "head": head(plan),
        "faults": faults(plan),
        "tally": tally,
        "files": list(files),
    });
    if let Some(station) = &plan.station {
        manifest["station"] = station.as_str().into();
    }
    manifest
}

/// The manifest of a network: what its stations share, each of them, and all files. Their faults stand in
/// their own manifests.
#[must_use]
pub fn network_json(
    network: &Network,
    scenario_name: &str,
    scenario_sha256: &str,
    tallies: &[Tally],
    files: &[Finished],
) -> Value {
    let stations: Vec<_> = network
        .stations
        .iter()
        .zip(tallies)
        .map(|(plan, tally)| {
            let offset = Offset::between(&network.place, &plan.place);
            json!({
                "station": plan.station,
                "latitude_deg": plan.place.latitude_deg,
                "longitude_deg": plan.place.longitude_deg,
                "altitude_m": plan.place.altitude_m,
                "east_km": metres(offset.east_km),
                "north_km": metres(offset.north_km),
                "head": head(plan),
                "faults": plan.faults.len(),
                "tally": tally,
            })
        })
        .collect();
    let mut manifest = json!({
        "manifest": MANIFEST_VERSION,
        "benchmast": VERSION,
        "wire_format": benchmast_protocol::packet::VERSION,
        "scenario": { "file": scenario_name, "sha256": scenario_sha256 },
        "place": place(&network.place_name, &network.place),
        "stations": stations,
        "files": list(files),
    });
    if let Some(plan) = network.stations.first() {
        manifest["title"] = plan.title.as_str().into();
        manifest["seed"] = plan.seed.into();
        manifest["period"] = json!({ "start": stamp(plan.start_us), "end": stamp(plan.end_us) });
    }
    manifest
}

/// Kilometres to the metre, and no minus before zero.
pub(crate) fn metres(km: f64) -> f64 {
    (km * 1000.0).round() / 1000.0 + 0.0
}

fn place(name: &str, place: &Place) -> Value {
    json!({
        "name": name,
        "latitude_deg": place.latitude_deg,
        "longitude_deg": place.longitude_deg,
        "altitude_m": place.altitude_m,
    })
}

fn head(plan: &Plan) -> Value {
    json!({
        "serial": plan.identity.serial.to_string(),
        "head_id": plan.head_id.0,
        "interval_s": plan.identity.interval_s,
        "bucket_um": plan.identity.bucket_um,
    })
}

fn faults(plan: &Plan) -> Vec<Value> {
    let causes = Causes::new(&plan.faults);
    plan.faults
        .iter()
        .map(|episode| {
            json!({
                "fault": episode.fault.id,
                "mask": causes.mask(episode.fault),
                "onset": stamp(episode.onset_us),
                "end": episode.end_us.map(stamp),
                "shape": episode.shape.word(),
                "severity": episode.severity,
            })
        })
        .collect()
}

fn list(files: &[Finished]) -> Vec<Value> {
    files
        .iter()
        .map(|file| json!({ "name": file.name, "bytes": file.bytes, "sha256": file.sha256 }))
        .collect()
}
