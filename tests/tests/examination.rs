//! The small receivers meet every clause, and every wrong one is caught by the clause it offends.

use benchmast_tests::wrong::{Found, all, command, examine, short_cases};

const RIGHT: &str = env!("CARGO_BIN_EXE_receiver");
const WRONG: &str = env!("CARGO_BIN_EXE_wrong");

fn words(words: &[&str]) -> Vec<String> {
    words.iter().map(|word| (*word).to_owned()).collect()
}

/// Passes all; those whose ids begin with `skipped` are left out instead.
fn meets_everything(command: &[String], skipped: &str) {
    let cases = short_cases();
    match examine(command, &cases).expect("it starts") {
        Found::Outcomes(outcomes) => {
            for outcome in &outcomes {
                let is_skipped = !skipped.is_empty() && outcome.id.starts_with(skipped);
                assert_eq!(
                    outcome.verdict.word(),
                    if is_skipped { "skip" } else { "pass" },
                    "{}\n{}",
                    outcome.id,
                    outcome.verdict.story()
                );
            }
            assert_eq!(outcomes.len(), cases.len());
        }
        Found::Canary(why) => panic!("{why}"),
    }
}

#[test]
fn the_rust_receiver_meets_every_case() {
    meets_everything(&words(&[RIGHT]), "");
}

#[test]
fn the_python_receiver_meets_every_case() {
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/receivers/receiver.py");
    // It knows no keys: section 10 is optional.
    meets_everything(&words(&["python3", script]), "W10.");
}

#[test]
fn every_wrong_receiver_is_caught_by_the_clause_it_offends() {
    let cases = short_cases();
    let right = words(&[RIGHT]);
    for ((fault, clause, what), command) in all(WRONG, &right) {
        let found = examine(&command, &cases).expect("it starts");
        assert!(
            found.names(clause),
            "{fault} ({what}): {clause} is not among {:?}",
            found.missed()
        );
        // It is wrong in one way, not in all.
        assert!(
            found.missed().len() < cases.len(),
            "{fault}: every case is missed"
        );
    }
}

/// The wrapper itself changes nothing: what is caught is the fault.
#[test]
fn a_fault_without_an_occasion_is_none() {
    let cases: Vec<_> = short_cases()
        .into_iter()
        .filter(|case| !case.id.starts_with("W6."))
        .filter(|case| case.mode == benchmast::examine::script::Mode::Packet)
        .collect();
    let command = command(WRONG, "swallows-a-byte", &words(&[RIGHT]));
    let found = examine(&command, &cases).expect("it starts");
    assert!(found.missed().is_empty(), "{:?}", found.missed());
}
