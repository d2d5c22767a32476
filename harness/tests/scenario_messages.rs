//! What a scenario that is wrong says to its author, and that the scenarios we ship are right.

use benchmast::scenario;
use std::path::{Path, PathBuf};

/// The files of a directory with one ending, in order of name.
fn files(directory: &str, ending: &str) -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = Path::new(directory)
        .read_dir()
        .expect("the directory is part of the source")
        .map(|entry| entry.expect("a readable directory").path())
        .filter(|path| path.extension().is_some_and(|found| found == ending))
        .collect();
    files.sort();
    files
}

#[test]
fn every_malformed_scenario_says_what_to_do() {
    let malformed = files("tests/malformed", "toml");
    assert!(malformed.len() >= 30);
    for path in malformed {
        let report = scenario::load(&path).expect_err(&path.display().to_string());
        let plain = report.plain();
        let name = path
            .file_stem()
            .expect("a file has a name")
            .to_string_lossy();
        insta::assert_snapshot!(&*name, plain);
    }
}

#[test]
fn every_message_has_a_place_and_a_next_step() {
    for path in files("tests/malformed", "toml") {
        let report = scenario::load(&path).expect_err("malformed");
        let plain = report.plain();
        assert!(
            plain.is_ascii()
                || path.to_string_lossy().contains("beyond_ascii")
                || path.to_string_lossy().contains("not_utf8"),
            "{plain}"
        );
        assert!(!plain.contains('\u{1b}'), "no colour in a plain report");
        let json = report.to_json();
        let problems = json["problems"].as_array().expect("a list");
        assert_eq!(problems.len(), report.problems().count());
        for problem in problems {
            assert!(
                problem["message"]
                    .as_str()
                    .is_some_and(|text| text.len() > 10),
                "{problem}"
            );
            assert!(
                problem["help"].as_str().is_some_and(|text| text.len() > 4),
                "{problem}"
            );
            assert!(
                problem["file"]
                    .as_str()
                    .is_some_and(|file| file.contains("malformed")),
                "{problem}"
            );
            let empty = path.to_string_lossy().contains("empty");
            assert_eq!(problem["line"].is_u64(), !empty, "{problem}");
            assert_eq!(problem["column"].is_u64(), !empty, "{problem}");
            if !empty {
                let place = format!(
                    "[{}:{}:{}]",
                    problem["file"].as_str().expect("a file"),
                    problem["line"],
                    problem["column"]
                );
                assert!(plain.contains(&place), "{place} is in both forms:\n{plain}");
            }
        }
    }
}

#[test]
fn every_scenario_that_we_ship_can_be_read_and_shows_itself() {
    let shipped = files("../scenarios", "toml");
    assert!(shipped.len() >= 8);
    for path in shipped {
        let text = std::fs::read_to_string(&path).expect("a scenario is text");
        assert!(
            text.starts_with("# "),
            "{} opens with what it shows",
            path.display()
        );
        let (_, network) = scenario::load_network(&path)
            .unwrap_or_else(|report| panic!("{}\n{}", path.display(), report.plain()));
        let summary = scenario::network_summary(&network);
        assert!(summary.lines().count() <= 40, "one page:\n{summary}");
        let name = path
            .file_stem()
            .expect("a file has a name")
            .to_string_lossy();
        insta::assert_snapshot!(format!("summary_{name}"), summary);
    }
}

#[test]
fn the_reference_lists_every_key() {
    insta::assert_snapshot!("reference", scenario::reference());
}

#[test]
fn a_directory_and_a_file_that_is_not_there() {
    let directory = scenario::load(Path::new("tests/malformed")).expect_err("a directory");
    insta::assert_snapshot!("directory", directory.plain());
    let missing = scenario::load(Path::new("tests/malformed/02_mising_value.toml"))
        .expect_err("no such file");
    insta::assert_snapshot!("file_not_found", missing.plain());
}

#[test]
fn the_json_form_of_a_report() {
    let report =
        scenario::load(Path::new("tests/malformed/12_milliseconds.toml")).expect_err("malformed");
    insta::assert_snapshot!("json", report.to_json().to_string());
}
