//! Several stations under one weather, by the commands and through the library.

mod testing_green;
mod workbench;

use benchmast::bench::Bench;
use benchmast::plan::{Network, Plan};
use benchmast::record::folder::sha256;
use benchmast::row::{Row, Sink};
use benchmast::scenario;
use std::fs;
use std::io;
use std::path::Path;
use std::process::Command;
use workbench::{Room, files, said};

/// Three stations over two hours: heads of their own, losses of their own, one with a fault.
fn three_stations(days: f64) -> String {
    testing_green::scenario("Three stations", 23, "2026-06-01T06:00:00Z", days)
        + "[link]
loss = 0.05
[[station]]
name = \"mill\"
[[station]]
name = \"bridge\"
east_km = 1
[station.head]
bucket_mm = 0.2
[[station]]
name = \"far-hill\"
east_km = 40
north_km = -30
altitude_m = 410
[station.link]
burst_loss = 0.1
[station.site]
height_m = 6
[[fault]]
id = \"arrow_misaligned\"
station = \"bridge\"
onset = \"+0d00:30\"
severity = 0.5
"
}

fn three_stations_room() -> Room {
    Room::with(&three_stations(0.1))
}

fn json(bytes: &[u8]) -> serde_json::Value {
    serde_json::from_slice(bytes).expect("JSON")
}

#[test]
fn each_station_has_a_folder_and_the_manifest_knows_every_file() {
    let room = three_stations_room();
    let found = files(&room.run("out", &[]));
    let manifest = json(&found["manifest.json"]);
    let listed = manifest["files"].as_array().expect("a list");
    assert_eq!(listed.len() + 1, found.len(), "{:?}", found.keys());
    for file in listed {
        let bytes = &found[file["name"].as_str().expect("a name")];
        assert_eq!(file["sha256"], sha256(bytes), "{file}");
        assert_eq!(file["bytes"], bytes.len(), "{file}");
    }
    let stations = manifest["stations"].as_array().expect("a list");
    assert_eq!(stations.len(), 3);
    let page = String::from_utf8_lossy(&found["report.html"]).into_owned();
    for (station, name) in stations.iter().zip(["mill", "bridge", "far-hill"]) {
        assert_eq!(station["station"], name);
        let own = json(&found[&format!("{name}/manifest.json")]);
        assert_eq!(own["station"], name);
        assert_eq!(own["tally"], station["tally"]);
        assert_eq!(own["head"], station["head"]);
        for file in ["key.csv", "observed.csv", "capture.ndjson", "report.html"] {
            assert!(
                found.contains_key(&format!("{name}/{file}")),
                "{name}/{file}"
            );
        }
        assert!(
            page.contains(&format!("href=\"{name}/report.html\"")),
            "{name}"
        );
    }
    assert_eq!(stations[1]["head"]["bucket_um"], 200);
    assert_eq!(stations[2]["east_km"], 40.0);
    // Nothing is fetched from outside.
    for word in ["http", "<script", "@import", "url("] {
        assert!(!page.contains(word), "{word}");
    }
    // A fault is where it was put, and nowhere else.
    let active = |name: &str| -> u64 {
        let tally = &json(&found[&format!("{name}/manifest.json")])["tally"];
        tally["intervals_with_fault"].as_u64().expect("a number")
    };
    assert_eq!((active("mill"), active("far-hill")), (0, 0));
    assert!(active("bridge") > 400, "{}", active("bridge"));
}

#[test]
fn any_number_of_threads_gives_the_same_bytes() {
    let room = three_stations_room();
    let run = |threads: &str| {
        let options = ["--format", "csv,parquet", "--threads", threads];
        files(&room.run(&format!("out{threads}"), &options))
    };
    let one = run("1");
    for threads in ["2", "4"] {
        let other = run(threads);
        assert_eq!(one.len(), other.len());
        for (name, bytes) in &one {
            assert!(
                other.get(name) == Some(bytes),
                "{name} with {threads} threads"
            );
        }
    }
}

#[test]
fn a_station_run_alone_is_the_station_of_the_network_byte_for_byte() {
    let room = three_stations_room();
    let network = files(&room.run("out", &[]));
    let mut keys = Vec::new();
    for name in ["mill", "bridge", "far-hill"] {
        let alone = files(&room.run(&format!("{name}_alone"), &["--station", name]));
        assert!(alone.contains_key("key.csv") && alone.contains_key("observed.csv"));
        for (file, bytes) in &alone {
            assert!(
                network.get(&format!("{name}/{file}")) == Some(bytes),
                "{name}/{file}"
            );
        }
        keys.push(alone["key.csv"].clone());
    }
    assert!(keys[0] != keys[1] && keys[1] != keys[2]);
}

/// True values of a run.
#[derive(Default)]
struct Truths {
    temperature: Vec<f64>,
    rain_mm: f64,
}

impl Sink for Truths {
    fn interval(&mut self, row: &Row<'_>) -> io::Result<()> {
        self.temperature.push(row.truth.air_temperature_degc);
        self.rain_mm += row.truth.rainfall_mm + row.truth.snowfall_mm;
        Ok(())
    }
}

fn truths(plan: &Plan, network: &Network) -> Truths {
    let mut truths = Truths::default();
    Bench::within(plan, network.region().as_ref())
        .unwrap_or_else(|error| panic!("{error}"))
        .run(&mut truths)
        .unwrap_or_else(|error| panic!("{error}"));
    truths
}

fn network(text: &str) -> Network {
    scenario::parse_network("test.toml", text, Path::new("../scenarios"))
        .unwrap_or_else(|report| panic!("{}", report.plain()))
}

/// Root of the mean squared difference.
fn apart(one: &Truths, other: &Truths) -> f64 {
    let pairs = one.temperature.iter().zip(&other.temperature);
    let squares: f64 = pairs.map(|(a, b)| (a - b) * (a - b)).sum();
    (squares / one.temperature.len() as f64).sqrt()
}

#[test]
fn near_stations_have_more_alike_weather_than_far_ones_and_none_the_same() {
    let network = network(&three_stations(4.0));
    let [mill, bridge, hill] = [0, 1, 2].map(|index| truths(&network.stations[index], &network));
    let (near, far) = (apart(&mill, &bridge), apart(&mill, &hill));
    assert!(near > 0.01 && near < far, "{near} {far}");
}

#[test]
fn a_record_is_kept_by_every_station_with_details_of_its_own() {
    let recorded = fs::read_to_string("../scenarios/recorded_fortnight.toml").expect("a scenario");
    let (recorded, _) = recorded.split_once("[[fault]]").expect("a fault");
    let network = network(&format!(
        "{recorded}\n[[station]]\nname = \"a\"\n[[station]]\nname = \"b\"\neast_km = 3\n"
    ));
    assert!(network.region().is_none());
    let [a, b] = [0, 1].map(|index| truths(&network.stations[index], &network));
    assert!(
        apart(&a, &b) > 0.0 && apart(&a, &b) < 1.0,
        "{}",
        apart(&a, &b)
    );
    assert!(a.rain_mm > 1.0);
    assert!(
        (a.rain_mm - b.rain_mm).abs() < 0.02 * a.rain_mm + 0.2,
        "{} {}",
        a.rain_mm,
        b.rain_mm
    );
}

#[test]
fn every_station_is_played_to_a_port_of_its_own_and_listened_to_there() {
    let room = three_stations_room();
    let run = room.run("out", &["--only", "observed"]);
    let port = format!("file:{}/{{station}}.stream", room.folder().display());
    let played = room.command("play", &["--to", &port, "--pace", "max"]);
    assert!(played.status.success(), "{}", said(&played));
    let names = ["mill", "bridge", "far-hill"];
    let listen = |names: &[&str], more: &[&str]| {
        let stations = names.iter().flat_map(|name| ["--station", name]);
        let done = Command::new(env!("CARGO_BIN_EXE_benchmast"))
            .args(["listen", "--from", &port, "--json"])
            .args(stations)
            .args(more)
            .output()
            .expect("listen");
        assert!(done.status.success(), "{}", said(&done));
        let text = String::from_utf8_lossy(&done.stdout).into_owned();
        text.lines()
            .map(|line| json(line.as_bytes()))
            .collect::<Vec<_>>()
    };
    let out = room.path("believed").display().to_string();
    let all = listen(&names, &["--out", &out]);
    for name in names {
        let believed = |events: &[serde_json::Value]| -> Vec<String> {
            let of_station = events.iter().filter(|event| {
                event["event"] == "observation"
                    && (event["station"].is_null() || event["station"] == name)
            });
            of_station
                .map(|event| event["readings"].to_string())
                .collect()
        };
        let of_all = believed(&all);
        assert!(of_all.len() > 400, "{name}: {}", of_all.len());
        assert_eq!(of_all, believed(&listen(&[name], &[])), "{name}");
        // What was believed from the run, less the times, of which a stream has none.
        let rows = |folder: &Path| {
            let text = fs::read_to_string(folder.join("observed.csv")).expect("observed.csv");
            text.lines().count()
        };
        assert_eq!(
            rows(&run.join(name)),
            rows(&room.path("believed").join(name)),
            "{name}"
        );
    }
    let one = format!("file:{}", room.path("one.stream").display());
    let played = room.command(
        "play",
        &["--to", &one, "--station", "bridge", "--pace", "max"],
    );
    assert!(played.status.success(), "{}", said(&played));
    assert!(
        fs::read(room.path("one.stream")).expect("a stream")
            == fs::read(room.path("bridge.stream")).expect("a stream")
    );
}

#[test]
fn who_does_not_say_which_station_is_told_their_names() {
    let room = three_stations_room();
    let out = room.path("out").display().to_string();
    let each = format!("file:{}/{{station}}.stream", room.folder().display());
    for (command, arguments, told) in [
        (
            "play",
            vec!["--to", "-"],
            "3 stations (mill, bridge, far-hill): choose one with --station NAME",
        ),
        (
            "play",
            vec!["--to", "-", "--station", "brigde"],
            "Did you mean `bridge`?",
        ),
        (
            "play",
            vec!["--to", &each, "--pace", "step"],
            "choose one station",
        ),
        (
            "run",
            vec!["--out", &out, "--station", "x"],
            "The stations are: mill, bridge, far-hill",
        ),
    ] {
        let done = room.command(command, &arguments);
        assert_eq!(done.status.code(), Some(3), "{}", said(&done));
        assert!(said(&done).contains(told), "{}\nlacks\n{told}", said(&done));
    }
    let single = room.path("single.toml");
    let text = testing_green::scenario("One", 1, "2026-06-01", 0.01);
    fs::write(&single, text).expect("a scenario");
    let bench = |arguments: &[&str]| {
        let done = Command::new(env!("CARGO_BIN_EXE_benchmast"))
            .args(arguments)
            .output()
            .expect("start");
        assert_eq!(done.status.code(), Some(3), "{}", said(&done));
        said(&done)
    };
    let single = single.display().to_string();
    assert!(bench(&["play", &single, "--to", &each]).contains("one station, without a name"));
    let told = bench(&["run", &single, "--out", &out, "--station", "mill"]);
    assert!(told.contains("leave the option out"), "{told}");
    assert!(bench(&["listen", "--from", &each]).contains("--station NAME"));
    let told = bench(&["listen", "--from", "file:x", "--station", "mill"]);
    assert!(told.contains("no place for it"), "{told}");
}

#[test]
fn a_check_lists_the_stations_for_people_and_for_programs() {
    let room = three_stations_room();
    let checked = json(&room.command("check", &["--json"]).stdout);
    assert_eq!(checked["ok"], true);
    assert_eq!(checked["faults"], 1);
    let names: Vec<_> = checked["stations"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|station| (station["station"].clone(), station["head_id"].clone()))
        .collect();
    assert_eq!(names[2], ("far-hill".into(), "0000a003".into()));
    let page = String::from_utf8(room.command("check", &[]).stdout).expect("text");
    assert!(page.contains("40.0 km east and 30.0 km south"), "{page}");
    assert!(page.contains("bridge: arrow_misaligned"), "{page}");
}
