//! A folder with a scenario in it, and the program run on it as a user runs it.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use tempfile::TempDir;

pub(crate) fn bench() -> Command {
    Command::new(env!("CARGO_BIN_EXE_benchmast"))
}

pub(crate) struct Room {
    room: TempDir,
    pub(crate) scenario: PathBuf,
}

impl Room {
    pub(crate) fn with(scenario: &str) -> Self {
        let room = tempfile::tempdir().expect("a room");
        let path = room.path().join("scenario.toml");
        fs::write(&path, scenario).expect("a scenario");
        Self {
            room,
            scenario: path,
        }
    }

    pub(crate) fn folder(&self) -> &Path {
        self.room.path()
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.room.path().join(name)
    }

    /// `benchmast COMMAND SCENARIO MORE...`
    pub(crate) fn command(&self, command: &str, more: &[&str]) -> Output {
        bench()
            .arg(command)
            .arg(&self.scenario)
            .args(more)
            .output()
            .expect("start")
    }

    /// Run the scenario into a folder of this name.
    pub(crate) fn run(&self, name: &str, more: &[&str]) -> PathBuf {
        let out = self.path(name);
        let target = out.display().to_string();
        assert_ok(&self.command("run", &[&["--out", &target], more].concat()));
        out
    }
}

pub(crate) fn assert_ok(output: &Output) {
    assert!(
        output.status.success(),
        "{:?}\n{}",
        output.status,
        said(output)
    );
}

/// What was printed on standard error.
pub(crate) fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// All files of a folder and of the folders in it, by name.
pub(crate) fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    for entry in fs::read_dir(folder).expect("a folder") {
        let entry = entry.expect("an entry");
        let name = entry.file_name().to_string_lossy().into_owned();
        if entry.path().is_dir() {
            let below = files(&entry.path()).into_iter();
            found.extend(below.map(|(file, bytes)| (format!("{name}/{file}"), bytes)));
        } else {
            found.insert(name, fs::read(entry.path()).expect("a file"));
        }
    }
    found
}
