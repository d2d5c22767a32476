//! `benchmast examine` as a user runs it, with receivers of a few lines of shell and Python.

use std::fs;
use std::path::PathBuf;
use std::process::{Command, Output};
use tempfile::TempDir;

fn examine(room: &TempDir, arguments: &[&str], command: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_benchmast"))
        .arg("examine")
        .args(["--soak", "0"])
        .args(arguments)
        .args((!arguments.contains(&"--random")).then_some("--random=0"))
        .arg("--")
        .args(command)
        .current_dir(room.path())
        .output()
        .expect("benchmast")
}

fn room() -> TempDir {
    tempfile::tempdir().expect("a room")
}

fn text(output: &Output) -> String {
    let both = [&output.stdout[..], &output.stderr].concat();
    String::from_utf8_lossy(&both).into_owned()
}

fn code(output: &Output) -> Option<i32> {
    output.status.code()
}

/// A receiver in Python that answers as `body` says; `ask` is the request, `say` writes a reply.
fn script(room: &TempDir, body: &str) -> String {
    let path = room.path().join("receiver.py");
    let text = format!(
        "import json, sys, os, time\n\
        def say(**more): print(json.dumps({{'id': ask['id'], **more}}), flush=True)\n\
        for line in sys.stdin:\n    ask = json.loads(line)\n    word = ask['do']\n    \
        if word.startswith('zz') or ask.get('mode', '').startswith('zz'): say(unsupported=True); continue\n\
        {body}\n"
    );
    fs::write(&path, text).expect("a script");
    path.display().to_string()
}

fn small_receiver() -> String {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../tests/receivers/receiver.py");
    path.display().to_string()
}

#[test]
fn a_receiver_that_is_not_there_is_told_and_no_panic() {
    let room = room();
    let output = examine(&room, &[], &["./no-such-receiver"]);
    assert_eq!(code(&output), Some(4), "{}", text(&output));
    assert!(
        text(&output).contains("cannot start \"./no-such-receiver\""),
        "{}",
        text(&output)
    );
    fs::write(room.path().join("plain"), "no program").expect("a file");
    let output = examine(&room, &[], &["plain"]);
    assert!(
        text(&output).contains("a file here needs its path: ./plain"),
        "{}",
        text(&output)
    );
    let output = examine(&room, &[], &["./plain"]);
    assert_eq!(code(&output), Some(4));
    assert!(
        text(&output).contains("is it executable"),
        "{}",
        text(&output)
    );
}

#[test]
fn who_agrees_to_everything_is_not_examined() {
    let room = room();
    let output = examine(&room, &[], &["cat"]);
    assert_eq!(code(&output), Some(4), "{}", text(&output));
    assert!(text(&output).contains("the canary"), "{}", text(&output));
    let output = examine(&room, &[], &["true"]);
    assert_eq!(code(&output), Some(4));
    assert!(
        text(&output).contains("does not answer hello"),
        "{}",
        text(&output)
    );
    let output = examine(&room, &["--timeout", "0.2"], &["sleep", "60"]);
    assert_eq!(code(&output), Some(4));
    assert!(
        text(&output).contains("flush its standard output"),
        "{}",
        text(&output)
    );
}

/// Each kind of trouble fails its own case, and the examination goes on.
#[test]
fn trouble_fails_one_case_and_the_receiver_is_started_again() {
    let room = room();
    let body = "    if word == 'open' and 'cut-off' in ask['case']: print('Traceback', file=sys.stderr); os._exit(7)\n    \
        if word == 'open' and 'bit-flipped' in ask['case']: time.sleep(60)\n    \
        if word == 'open' and 'empty' in ask['case']: print('hello there', flush=True); continue\n    \
        if word == 'open' and 'check-alone' in ask['case']: print('x' * 70000, flush=True); continue\n    \
        if word == 'open' and 'too-short' in ask['case']: say(skip='not today'); continue\n    \
        say(events=[])";
    let receiver = script(&room, body);
    let names = [
        "empty",
        "too-short",
        "check-alone",
        "bit-flipped",
        "cut-off",
    ];
    let only: Vec<String> = names.iter().map(|name| format!("W1.5/{name}")).collect();
    let mut arguments = vec!["--timeout", "0.5", "--json", "report.json"];
    for pattern in only
        .iter()
        .map(String::as_str)
        .chain(["W1.4/check-swapped"])
    {
        arguments.extend(["--only", pattern]);
    }
    let output = examine(&room, &arguments, &["python3", &receiver]);
    assert_eq!(code(&output), Some(1), "{}", text(&output));
    let report = fs::read_to_string(room.path().join("report.json")).expect("a report");
    let report: serde_json::Value = serde_json::from_str(&report).expect("JSON");
    let verdict = |name: &str| {
        let cases = report["cases"].as_array().expect("cases");
        let case = cases
            .iter()
            .find(|case| case["id"].as_str().is_some_and(|id| id.ends_with(name)));
        let case = case.unwrap_or_else(|| panic!("{name}"));
        (
            case["verdict"].as_str().expect("a word").to_owned(),
            case["story"].as_str().unwrap_or_default().to_owned(),
        )
    };
    let (word, story) = verdict("cut-off");
    assert_eq!(word, "crash");
    assert!(
        story.contains("exit status: 7") && story.contains("Traceback"),
        "{story}"
    );
    assert_eq!(verdict("bit-flipped").0, "timeout");
    assert_eq!(verdict("/empty").0, "garbled");
    assert_eq!(verdict("check-alone").0, "garbled");
    assert_eq!(verdict("too-short"), ("skip".into(), "not today".into()));
    let (word, story) = verdict("check-swapped");
    assert_eq!(word, "fail");
    assert!(
        story.contains("expected refused damaged") && story.contains("said     nothing"),
        "{story}"
    );
}

#[test]
fn a_receiver_that_never_comes_back_is_given_up() {
    let room = room();
    let body = "    if word == 'hello' and os.path.exists('once'): os._exit(1)\n    \
        if word == 'open': open('once', 'w'); os._exit(1)\n    say(events=[])";
    let receiver = script(&room, body);
    let output = examine(&room, &["--only", "W1.*"], &["python3", &receiver]);
    assert_eq!(code(&output), Some(1), "{}", text(&output));
    assert!(
        text(&output).contains("does not start any more"),
        "{}",
        text(&output)
    );
}

#[test]
fn what_is_expected_is_written_read_and_held_against_what_comes() {
    let room = room();
    let lazy = script(&room, "    say(events=[], heads=[])");
    let all = ["--only", "W1.5/*"];
    let output = examine(
        &room,
        &[&all[..], &["--write-expected", "expected.json"]].concat(),
        &["python3", &lazy],
    );
    assert_eq!(code(&output), Some(0), "{}", text(&output));
    let with = [
        &all[..],
        &["--expected", "expected.json", "--junit", "junit.xml"],
    ]
    .concat();
    let output = examine(&room, &with, &["python3", &lazy]);
    assert_eq!(code(&output), Some(0), "{}", text(&output));
    assert!(
        text(&output).contains("All as expected"),
        "{}",
        text(&output)
    );
    let xml = "import sys, xml.dom.minidom as m\nd = m.parse('junit.xml')\nprint(len(d.getElementsByTagName('testcase')), len(d.getElementsByTagName('failure')))";
    let parsed = Command::new("python3")
        .args(["-c", xml])
        .current_dir(room.path())
        .output()
        .expect("python3");
    let counts = String::from_utf8_lossy(&parsed.stdout).into_owned();
    let numbers: Vec<u32> = counts
        .split_whitespace()
        .filter_map(|word| word.parse().ok())
        .collect();
    assert!(
        numbers.len() == 2 && numbers[0] == numbers[1] && numbers[0] > 5,
        "{counts} {}",
        text(&parsed)
    );
    // A better receiver is not as expected either.
    let output = examine(&room, &with, &["python3", &small_receiver()]);
    assert_eq!(code(&output), Some(1), "{}", text(&output));
    assert!(
        text(&output).contains("pass, expected fail"),
        "{}",
        text(&output)
    );
    fs::write(room.path().join("expected.json"), "{}").expect("a file");
    let output = examine(&room, &with, &["python3", &lazy]);
    assert_eq!(code(&output), Some(3), "{}", text(&output));
    assert!(
        text(&output).contains("is no file of --write-expected"),
        "{}",
        text(&output)
    );
}

/// The command that is printed fails again, and passes with a receiver that is right.
#[test]
fn a_random_case_that_fails_leaves_a_capture_that_fails_again() {
    let room = room();
    let right = fs::read_to_string(small_receiver()).expect("the small receiver");
    let wrong = right.replace("if interval in self.heard[kind]:", "if False:");
    assert_ne!(right, wrong);
    fs::write(room.path().join("wrong.py"), wrong).expect("a script");
    let output = examine(
        &room,
        &["--random", "2", "--only", "W7/random-1-0"],
        &["python3", "wrong.py"],
    );
    assert_eq!(code(&output), Some(1), "{}", text(&output));
    let told = text(&output);
    let command = told
        .lines()
        .find_map(|line| line.trim().strip_prefix("replay: benchmast examine "));
    let command = command.unwrap_or_else(|| panic!("{told}"));
    assert_eq!(
        command,
        "--case examination/W7-random-1-0.ndjson -- python3 wrong.py"
    );
    let capture = fs::read_to_string(room.path().join("examination/W7-random-1-0.ndjson"))
        .expect("a capture");
    assert!(capture.lines().count() <= 5, "{capture}");
    let case = ["--case", "examination/W7-random-1-0.ndjson"];
    let again = examine(&room, &case, &["python3", "wrong.py"]);
    assert_eq!(code(&again), Some(1), "{}", text(&again));
    let streamed = examine(
        &room,
        &[&case[..], &["--mode", "stream"]].concat(),
        &["python3", "wrong.py"],
    );
    assert_eq!(code(&streamed), Some(1), "{}", text(&streamed));
    let passed = examine(&room, &case, &["python3", &small_receiver()]);
    assert_eq!(code(&passed), Some(0), "{}", text(&passed));
}

#[test]
fn cases_are_listed_and_chosen_by_patterns() {
    let list = |arguments: &[&str]| {
        let output = Command::new(env!("CARGO_BIN_EXE_benchmast"))
            .args(["examine", "--list"])
            .args(arguments)
            .output()
            .expect("benchmast");
        (code(&output), text(&output))
    };
    let (done, all) = list(&[]);
    assert_eq!(done, Some(0));
    assert!(
        all.contains("MUST    W7.3/window") && all.contains("SHOULD  W7.6/once"),
        "{all}"
    );
    let (_, some) = list(&["--only", "W7.6/*", "--skip", "*once"]);
    assert!(
        !some.contains("W7.6/once") && !some.contains("W7.3"),
        "{some}"
    );
    let (done, none) = list(&["--only", "W77*"]);
    assert_eq!(done, Some(3), "{none}");
    assert!(none.contains("no case is left"), "{none}");
}

/// A process that is ended with the test.
struct Running(std::process::Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn firmware(room: &TempDir, arguments: &[&str], source: &str) -> Running {
    let receivers = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../tests/receivers");
    for name in ["receiver.py", "firmware.py"] {
        let text = fs::read_to_string(receivers.join(name)).expect("a small receiver");
        let text = if name == "receiver.py" && !source.is_empty() {
            source.to_owned()
        } else {
            text
        };
        fs::write(room.path().join(name), text).expect("a file");
    }
    let events = fs::File::create(room.path().join("events.log")).expect("a log");
    let child = Command::new("python3")
        .arg("firmware.py")
        .args(arguments)
        .current_dir(room.path())
        .stdout(events)
        .spawn()
        .expect("python3");
    Running(child)
}

fn over(room: &TempDir, port: &str, more: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_benchmast"))
        .args(["examine", "--soak", "0", "--random", "0", "--port", port])
        .args([
            "--verdicts",
            "file:events.log",
            "--peer-within",
            "20",
            "--timeout",
            "20",
        ])
        .args(more)
        .current_dir(room.path())
        .output()
        .expect("benchmast")
}

#[test]
fn firmware_at_the_end_of_a_tcp_port_meets_what_goes_over_one() {
    let room = room();
    let free =
        std::net::TcpListener::bind("127.0.0.1:0").and_then(|listener| listener.local_addr());
    let number = free.expect("a port").port().to_string();
    let _firmware = firmware(&room, &["tcp", &number], "");
    let output = over(&room, &format!("tcp:127.0.0.1:{number}"), &[]);
    assert_eq!(code(&output), Some(0), "{}", text(&output));
    let told = text(&output);
    let passed = told
        .split(" pass")
        .next()
        .and_then(|before| before.rsplit(' ').next()?.parse().ok());
    assert!(passed.is_some_and(|passed: u32| passed > 150), "{told}");
}

/// Wrong firmware is caught there too; a terminal is opened again and again.
#[test]
fn wrong_firmware_at_the_end_of_a_terminal_is_caught() {
    let room = room();
    let right = fs::read_to_string(small_receiver()).expect("the small receiver");
    let wrong = right.replace("if interval in self.heard[kind]:", "if False:");
    let _firmware = firmware(&room, &["tty", "head0"], &wrong);
    let only = [
        "--only",
        "W7.3/duplicate",
        "--only",
        "W7.4/no-base*",
        "--only",
        "W6.5/byte-*",
    ];
    let output = over(&room, "pty:head0", &only);
    assert_eq!(code(&output), Some(1), "{}", text(&output));
    let told = text(&output);
    assert!(told.contains("1 fail, 4 pass"), "{told}");
    assert!(told.contains("Clauses not met: W7.3."), "{told}");
}

#[test]
fn strictness_does_not_demand_what_is_optional() {
    let room = room();
    let receiver = small_receiver();
    let strict = ["--strict", "--only", "W1.*", "--only", "W10.*"];
    let output = examine(&room, &strict, &["python3", &receiver]);
    assert_eq!(code(&output), Some(0), "{}", text(&output));
    assert!(text(&output).contains("skip"), "{}", text(&output));
}
