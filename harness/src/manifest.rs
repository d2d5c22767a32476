//! What a run's folder says of itself: `manifest.json`.

use crate::faults::Causes;
use crate::plan::Plan;
use crate::record::folder::Finished;
use crate::tally::Tally;
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

/// What the metadata of each file and the report say of the run.
#[must_use]
pub fn facts(plan: &Plan, scenario: &Path) -> Vec<(String, String)> {
    let name = scenario
        .file_name()
        .map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    [
        ("title", plan.title.clone()),
        ("scenario", name),
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
    let causes = Causes::new(&plan.faults);
    let faults: Vec<_> = plan
        .faults
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
        .collect();
    let files: Vec<_> = files
        .iter()
        .map(|file| json!({ "name": file.name, "bytes": file.bytes, "sha256": file.sha256 }))
        .collect();
    json!({
        "manifest": MANIFEST_VERSION,
        "benchmast": VERSION,
        "wire_format": benchmast_protocol::packet::VERSION,
        "title": plan.title,
        "scenario": { "file": scenario_name, "sha256": scenario_sha256 },
        "seed": plan.seed,
        "period": { "start": stamp(plan.start_us), "end": stamp(plan.end_us) },
        "place": {
            "name": plan.place_name,
            "latitude_deg": plan.place.latitude_deg,
            "longitude_deg": plan.place.longitude_deg,
            "altitude_m": plan.place.altitude_m,
        },
        "head": {
            "serial": plan.identity.serial.to_string(),
            "head_id": plan.head_id.0,
            "interval_s": plan.identity.interval_s,
            "bucket_um": plan.identity.bucket_um,
        },
        "faults": faults,
        "tally": tally,
        "files": files,
    })
}
