//! The commands as separate processes, as a user runs them.

mod testing_green;
mod workbench;

use std::fs;
use std::io::{BufRead, BufReader, Read};
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};
use workbench::{Room, assert_ok, bench, files, said};

/// Six lossy hours of an invented place, short enough for a debug build.
fn six_hours() -> String {
    testing_green::scenario("Six hours", 11, "2026-06-01T06:00:00Z", 0.25)
        + "[link]
loss = 0.05
burst_loss = 0.1
bit_error = 0.0003
duplicate = 0.05
delay = 0.05
[link.neighbour]
head_id = \"0000beef\"
heard = 0.8
[[fault]]
id = \"arrow_misaligned\"
onset = \"+2h\"
severity = 0.25
"
}

fn six_hours_room() -> Room {
    Room::with(&six_hours())
}

#[test]
fn the_same_seed_gives_the_same_bytes_on_one_and_two_threads() {
    let room = six_hours_room();
    let formats = ["--format", "csv,parquet"];
    let one = files(&room.run("one", &[&formats[..], &["--threads", "1"]].concat()));
    let two = files(&room.run("two", &[&formats[..], &["--threads", "2"]].concat()));
    assert_eq!(one.len(), 14, "{:?}", one.keys());
    for (name, bytes) in &one {
        assert!(two.get(name) == Some(bytes), "{name} differs");
    }
    let other = files(&room.run("other", &[&formats[..], &["--seed", "12"]].concat()));
    for name in ["observed.csv", "key.csv", "key.parquet", "capture.ndjson"] {
        assert!(
            other[name] != one[name],
            "another seed gave the same {name}"
        );
    }
}

#[test]
fn listening_to_a_capture_believes_exactly_what_run_recorded() {
    let room = six_hours_room();
    let run = room.run("run", &[]);
    let heard = room.path("heard");
    let done = bench()
        .arg("listen")
        .arg("--from")
        .arg(format!("file:{}", run.join("capture.ndjson").display()))
        .arg("--out")
        .arg(&heard)
        .arg("--quiet")
        .output()
        .expect("listen");
    assert_ok(&done);
    for name in [
        "observed.csv",
        "observed_health.csv",
        "observed.units.json",
        "observed_health.units.json",
    ] {
        assert!(
            fs::read(run.join(name)).expect("run's") == fs::read(heard.join(name)).expect("ours"),
            "{name} differs"
        );
    }
    assert!(said(&done).contains("observations"), "{}", said(&done));
}

/// What `listen` says of a file, as JSON lines.
fn heard_in(file: &Path, more: &[&str]) -> String {
    let done = bench()
        .arg("listen")
        .arg("--from")
        .arg(format!("file:{}", file.display()))
        .arg("--json")
        .args(more)
        .output()
        .expect("listen");
    assert_ok(&done);
    String::from_utf8(done.stdout).expect("text")
}

#[test]
fn a_capture_is_played_and_what_a_port_heard_becomes_a_capture() {
    let room = six_hours_room();
    let run = room.run("run", &[]);
    let (stream, field) = (room.path("stream"), room.path("field.ndjson"));
    let played = bench()
        .arg("play")
        .arg(run.join("capture.ndjson"))
        .args(["--pace", "max", "--to"])
        .arg(format!("file:{}", stream.display()))
        .output()
        .expect("play");
    assert_ok(&played);
    let capture = field.display().to_string();
    let of_stream = heard_in(&stream, &["--capture", &capture]);
    let of_run = heard_in(&run.join("capture.ndjson"), &[]);
    assert!(told(&of_run).len() > 1000);
    assert_eq!(told(&of_stream), told(&of_run));
    // The capture of the stream has no times but the same packets, and names the head that was paired.
    let of_field = heard_in(&field, &[]);
    assert_eq!(told(&of_field), told(&of_run));
    let header = fs::read_to_string(&field).expect("a capture");
    let header: serde_json::Value =
        serde_json::from_str(header.lines().next().expect("a line")).expect("JSON");
    assert_eq!(
        header["heads"].as_array().map(Vec::len),
        Some(1),
        "{header}"
    );
    // Nothing lies about beside it.
    let left: Vec<_> = fs::read_dir(field.parent().expect("a folder"))
        .expect("a folder")
        .map(|entry| entry.expect("an entry").file_name())
        .filter(|name| name.to_string_lossy().contains("unfinished"))
        .collect();
    assert!(left.is_empty(), "{left:?}");
    let refused = bench()
        .arg("play")
        .arg(&field)
        .args(["--to", "-", "--seed", "3"])
        .output()
        .expect("play");
    assert_eq!(refused.status.code(), Some(3), "{}", said(&refused));
}

/// What a receiver believes, without the times: sequence, tips, intervals missed, readings.
type Belief = Vec<(String, String, String, String)>;

/// From `observed.csv` of a run.
fn recorded(run: &Path) -> Belief {
    let mut table = csv::Reader::from_path(run.join("observed.csv")).expect("observed.csv");
    let header = table.headers().expect("a header").clone();
    let place = |name: &str| header.iter().position(|cell| cell == name).expect(name);
    let (sequence, tips, missed, late, temperature) = (
        place("sequence"),
        place("tips"),
        place("intervals_missed"),
        place("intervals_late"),
        place("air_temperature"),
    );
    table
        .records()
        .map(|row| row.expect("a row"))
        .filter(|row| &row[late] == "0")
        .map(|row| [sequence, tips, missed, temperature].map(|column| row[column].to_string()))
        .map(|[a, b, c, d]| (a, b, c, d))
        .collect()
}

/// From the JSON lines of `listen`.
fn told(lines: &str) -> Belief {
    lines
        .lines()
        .map(|line| serde_json::from_str::<serde_json::Value>(line).expect(line))
        .filter(|event| event["event"] == "observation")
        .map(|event| {
            (
                event["sequence"].to_string(),
                event["readings"]["tips"].to_string(),
                event["intervals_missed"].to_string(),
                event["readings"]["air_temperature"]
                    .as_str()
                    .unwrap_or("")
                    .to_string(),
            )
        })
        .collect()
}

#[test]
fn a_played_file_is_believed_as_the_run_was() {
    let room = six_hours_room();
    let run = room.run("run", &[]);
    let stream = room.path("six_hours.stream");
    let port = format!("file:{}", stream.display());
    let played = bench()
        .arg("play")
        .arg(&room.scenario)
        .args(["--to", &port, "--pace", "max"])
        .output()
        .expect("play");
    assert_ok(&played);
    let heard = bench()
        .args(["listen", "--from", &port, "--json"])
        .output()
        .expect("listen");
    assert_ok(&heard);
    let belief = told(&String::from_utf8_lossy(&heard.stdout));
    assert!(belief.len() > 1000);
    assert_eq!(belief, recorded(&run));
}

/// A process that does not outlive its test.
struct Guarded(Option<Child>);

impl Guarded {
    fn get(&mut self) -> &mut Child {
        self.0.as_mut().expect("still ours")
    }
    fn output(mut self) -> Output {
        let child = self.0.take().expect("still ours");
        child.wait_with_output().expect("ends")
    }
}

impl Drop for Guarded {
    fn drop(&mut self) {
        if let Some(mut child) = self.0.take() {
            let _ = child.kill();
            let _ = child.wait();
        }
    }
}

/// Start a listener and wait until it says where it listens.
fn listener(from: &str) -> (Guarded, String, BufReader<std::process::ChildStderr>) {
    let child = bench()
        .args(["listen", "--from", from, "--json", "--once"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("listen");
    let mut child = Guarded(Some(child));
    let mut voice = BufReader::new(child.get().stderr.take().expect("stderr"));
    let mut line = String::new();
    while !line.contains("listening at ") {
        line.clear();
        assert!(voice.read_line(&mut line).expect("a line") > 0);
    }
    let address = line
        .trim()
        .rsplit(' ')
        .next()
        .expect("an address")
        .to_string();
    (child, address, voice)
}

fn play(room: &Room, port: &str, pace: &str) -> Output {
    bench()
        .arg("play")
        .arg(&room.scenario)
        .args(["--to", port, "--pace", pace])
        .output()
        .expect("play")
}

#[test]
fn a_second_process_hears_all_over_tcp() {
    let room = six_hours_room();
    let run = room.run("run", &["--only", "observed"]);
    let (child, address, mut voice) = listener("tcp:127.0.0.1:0");
    assert_ok(&play(&room, &address, "max"));
    let heard = child.output();
    voice.read_to_string(&mut String::new()).expect("stderr");
    assert_ok(&heard);
    assert_eq!(
        told(&String::from_utf8_lossy(&heard.stdout)),
        recorded(&run)
    );
}

#[test]
fn a_second_process_hears_all_over_udp() {
    let room = six_hours_room();
    let run = room.run("run", &["--only", "observed"]);
    let (mut child, address, _voice) = listener("udp:127.0.0.1:0");
    let out = child.get().stdout.take().expect("stdout");
    let reader = std::thread::spawn(move || {
        BufReader::new(out)
            .lines()
            .map_while(Result::ok)
            .collect::<Vec<_>>()
    });
    // A datagram socket has no end, so the listener is stopped when it has printed what it got.
    assert_ok(&play(&room, &address, "20000x"));
    std::thread::sleep(std::time::Duration::from_millis(2500));
    drop(child);
    let lines = reader.join().expect("lines").join("\n");
    assert_eq!(told(&lines), recorded(&run));
}

#[test]
fn a_second_process_hears_all_over_a_pseudo_terminal() {
    let room = six_hours_room();
    let run = room.run("run", &["--only", "observed"]);
    let link = room.path("head0");
    let port = format!("pty:{}", link.display());
    let player = Guarded(Some(
        bench()
            .arg("play")
            .arg(&room.scenario)
            .args(["--to", &port, "--pace", "max"])
            .stderr(Stdio::piped())
            .spawn()
            .expect("play"),
    ));
    let heard = bench()
        .args(["listen", "--from", &port, "--json", "--once"])
        .output()
        .expect("listen");
    assert_ok(&player.output());
    assert_ok(&heard);
    assert_eq!(
        told(&String::from_utf8_lossy(&heard.stdout)),
        recorded(&run)
    );
    assert!(!link.exists(), "the link is still there");
}

#[test]
fn a_reader_that_leaves_is_no_error() {
    let room = six_hours_room();
    for arguments in [
        vec!["play", "SCENARIO", "--to", "-", "--pace", "max"],
        vec!["faults"],
        vec!["check", "--keys"],
    ] {
        let arguments = arguments.into_iter().map(|argument| match argument {
            "SCENARIO" => room.scenario.clone(),
            other => other.into(),
        });
        let mut child = bench()
            .args(arguments)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("start");
        // Closed before anything is read.
        drop(child.stdout.take());
        let done = child.wait_with_output().expect("ends");
        assert_ok(&done);
        assert!(!said(&done).contains("rror"), "{}", said(&done));
    }
}

#[test]
fn exit_codes_are_as_documented_and_nothing_is_half_written() {
    let room = six_hours_room();
    let out = room.path("out");
    let code = |arguments: &[&str]| {
        let done = bench().args(arguments).output().expect("start");
        (done.status.code(), said(&done))
    };
    let (scenario, out_text) = (
        room.scenario.display().to_string(),
        out.display().to_string(),
    );
    assert_eq!(code(&["run"]).0, Some(2));
    assert_eq!(code(&["faults", "no_such_fault"]).0, Some(3));
    let (status, text) = code(&["run", "no/such.toml", "--out", &out_text]);
    assert_eq!(status, Some(3), "{text}");
    assert!(text.contains("no/such.toml"), "{text}");
    let (status, text) = code(&["listen", "--from", "file:no/such.stream"]);
    assert_eq!(status, Some(3), "{text}");
    assert!(text.contains("no/such.stream"), "{text}");
    let damaged = room.path("damaged.ndjson");
    fs::write(&damaged, "{\"format\":\"benchmast-capture\"").expect("a file");
    let (status, text) = code(&["listen", "--from", &format!("file:{}", damaged.display())]);
    assert_eq!(status, Some(3), "{text}");
    assert!(text.contains("line 1"), "{text}");
    let nobody = ["--to", "tcp:127.0.0.1:1", "--peer-within", "0"];
    let (status, text) = code(&[&["play", &scenario][..], &nobody].concat());
    assert_eq!(status, Some(4), "{text}");
    assert!(text.contains("nobody listens there"), "{text}");
    fs::create_dir(&out).expect("a folder");
    fs::write(out.join("mine.txt"), "mine").expect("a file");
    let (status, text) = code(&["run", &scenario, "--out", &out_text, "--replace"]);
    assert_eq!(status, Some(5), "{text}");
    assert!(text.contains("choose another --out"), "{text}");
    assert_eq!(
        files(&out).into_keys().collect::<Vec<_>>(),
        ["mine.txt"],
        "something was written"
    );
    let left: Vec<_> = fs::read_dir(room.folder())
        .expect("the room")
        .map(|entry| entry.expect("an entry").file_name())
        .filter(|name| name.to_string_lossy().contains("unfinished"))
        .collect();
    assert!(left.is_empty(), "{left:?}");
}

#[test]
fn the_small_commands_say_what_they_should() {
    let room = six_hours_room();
    let text = |arguments: &[&str]| {
        let done = bench().args(arguments).output().expect("start");
        assert_ok(&done);
        String::from_utf8_lossy(&done.stdout).into_owned()
    };
    assert!(text(&["completions", "bash"]).contains("benchmast"));
    assert!(text(&["faults"]).contains("funnel_partly_blocked"));
    let card = text(&["faults", "vane_stuck"]);
    for heading in [
        "Signature",
        "Look-alikes",
        "Field check",
        "Remedy",
        "Caution",
    ] {
        assert!(card.contains(heading), "{card}");
    }
    assert!(
        card.lines()
            .all(|line| line == line.trim_end() && line.len() <= 96),
        "{card}"
    );
    let json: serde_json::Value = serde_json::from_str(&text(&["faults", "--json"])).expect("JSON");
    assert_eq!(json.as_array().map(Vec::len), Some(6));
    let vectors = room.path("vectors");
    text(&["vectors", "--out", &vectors.display().to_string()]);
    assert!(files(&vectors).len() >= 3);
    let scenario = room.scenario.display().to_string();
    assert!(text(&["check", &scenario]).contains("Testing Green"));
}

/// Ask a process to stop, as Ctrl-C does.
fn interrupt(child: &Child) {
    let done = Command::new("kill")
        .args(["-INT", &child.id().to_string()])
        .status()
        .expect("kill");
    assert!(done.success());
}

#[test]
fn to_stop_waiting_for_a_peer_is_an_interruption_and_no_error_of_the_port() {
    let room = six_hours_room();
    let link = room.path("head0");
    let mut player = bench()
        .arg("play")
        .arg(&room.scenario)
        .args(["--to", &format!("pty:{}", link.display())])
        .stderr(Stdio::piped())
        .spawn()
        .expect("play");
    let mut voice = BufReader::new(player.stderr.take().expect("stderr"));
    let mut line = String::new();
    voice.read_line(&mut line).expect("a line");
    assert!(line.contains("waiting for a reader"), "{line}");
    interrupt(&player);
    assert_eq!(player.wait().expect("ends").code(), Some(130));
    let mut rest = String::new();
    voice.read_to_string(&mut rest).expect("text");
    assert!(rest.contains("interrupted"), "{rest}");
    assert!(!link.exists(), "the link is still there");
}

#[cfg(target_os = "linux")]
#[test]
fn a_scenario_from_a_pipe_is_kept_as_it_was_run() {
    use std::io::Write as _;
    let room = six_hours_room();
    let out = room.path("piped");
    let mut child = bench()
        .args(["run", "/dev/stdin", "--only", "observed", "--out"])
        .arg(&out)
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .spawn()
        .expect("run");
    let mut input = child.stdin.take().expect("stdin");
    input.write_all(six_hours().as_bytes()).expect("a reader");
    drop(input);
    assert!(child.wait().expect("ends").success());
    assert_eq!(
        fs::read_to_string(out.join("scenario.toml")).expect("a scenario"),
        six_hours()
    );
}

#[test]
fn a_program_taken_for_a_scenario_does_not_reach_the_terminal() {
    let room = six_hours_room();
    let program = room.path("program.toml");
    fs::write(&program, b"\x7fELF\x00\x1b[31m\xff").expect("a file");
    let done = bench().arg("check").arg(&program).output().expect("check");
    assert_eq!(done.status.code(), Some(3));
    assert!(said(&done).contains("is no text"), "{}", said(&done));
    assert!(!said(&done).contains('\u{1b}'), "{:?}", said(&done));
}

#[test]
fn json_of_a_check_says_whether_it_is_in_order() {
    let room = six_hours_room();
    let broken = room.path("broken.toml");
    fs::write(&broken, six_hours().replace("latitude_deg", "latitude")).expect("a file");
    for (scenario, status, ok) in [(&room.scenario, 0, true), (&broken, 3, false)] {
        let done = bench()
            .args(["check", "--json"])
            .arg(scenario)
            .output()
            .expect("check");
        assert_eq!(done.status.code(), Some(status));
        let said: serde_json::Value = serde_json::from_slice(&done.stdout).expect("JSON");
        assert_eq!(said["ok"], ok, "{said}");
    }
}

#[test]
fn a_negative_number_is_told_as_a_wrong_number() {
    let arguments = ["run", "any.toml", "--out", "any", "--seed", "-1"];
    let done = bench().args(arguments).output().expect("run");
    assert_eq!(done.status.code(), Some(2));
    assert!(
        said(&done).contains("invalid value '-1'"),
        "{}",
        said(&done)
    );
}

#[test]
fn a_stream_that_is_none_and_a_stream_without_times_are_told() {
    let room = six_hours_room();
    let listen = |name: &str, more: &[&str]| {
        let from = format!("file:{}", room.path(name).display());
        let done = bench()
            .args(["listen", "--quiet", "--from", &from])
            .args(more)
            .output()
            .expect("listen");
        assert_ok(&done);
        said(&done)
    };
    fs::write(room.path("letter.txt"), "Dear reader").expect("a file");
    let told = listen("letter.txt", &[]);
    assert!(told.contains("11 bytes came, and no packet"), "{told}");
    let stream = format!("file:{}", room.path("head.stream").display());
    assert_ok(&play(&room, &stream, "max"));
    assert!(!listen("head.stream", &[]).contains("no times"));
    let out = room.path("believed").display().to_string();
    let told = listen("head.stream", &["--out", &out]);
    assert!(told.contains("holds no times"), "{told}");
}
