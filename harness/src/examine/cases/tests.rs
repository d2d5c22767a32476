//! The cases are sound: the protocol crate's own receiver meets them, and no clause is left out.

use super::super::judge::{Verdict, examine};
use super::super::reference::Reference;
use super::super::script::{Case, Input, Mode, PLACES, Script, Setup, Steps};
use super::*;
use std::collections::{BTreeMap, BTreeSet};

const WIRE: &str = include_str!("../../../../protocol/WIRE.md");

fn short() -> Vec<Case> {
    all(Choice {
        soak_days: 3,
        seed: 1,
        random: 200,
    })
}

/// Fields are shown by nobody in this test; what they must be is the vectors' and the cases' own.
fn without_fields(case: &Case) -> Case {
    let steps = match &case.steps {
        Steps::Listed(steps, tips) => {
            let mut steps = steps.clone();
            steps.iter_mut().for_each(|step| step.fields.clear());
            Steps::Listed(steps, tips.clone())
        }
        generated @ Steps::Generated(..) => generated.clone(),
    };
    Case {
        steps,
        ..case.clone()
    }
}

#[test]
fn the_reference_receiver_meets_every_case_as_packets_and_on_a_stream() {
    let mut missed = Vec::new();
    for case in short() {
        let case = without_fields(&case);
        for case in [case.clone(), case.on_a_stream()] {
            let mut receiver = Reference::new(&Setup::default());
            let verdict = examine(&case, &mut receiver).expect("nobody stops it");
            if verdict != Verdict::Pass {
                missed.push(format!("{} as {}\n{}", case.id, case.mode, verdict.story()));
            }
        }
    }
    assert!(missed.is_empty(), "{}", missed.join("\n\n"));
}

#[test]
fn every_clause_has_a_case_or_a_reason() {
    let stated: BTreeSet<&str> = WIRE
        .lines()
        .filter_map(|line| line.strip_prefix("- [")?.split_once(']'))
        .map(|(clause, _)| clause)
        .collect();
    assert!(stated.len() > 40, "{stated:?}");
    let mut examined: BTreeMap<String, usize> = BTreeMap::new();
    for case in short() {
        for clause in &case.clauses {
            assert!(
                stated.contains(clause.as_str()),
                "{clause} of {} is no clause",
                case.id
            );
            *examined.entry(clause.clone()).or_default() += 1;
        }
    }
    for clause in stated {
        let reason = NOT_EXAMINED.iter().any(|(not, _)| *not == clause);
        assert!(
            examined.contains_key(clause) != reason,
            "{clause} has neither a case nor a reason, or both"
        );
    }
}

/// Random cases stand under a section; all others under a clause, by their own id.
#[test]
fn ids_are_unique_and_begin_with_their_first_clause() {
    let mut ids = BTreeSet::new();
    for case in short() {
        assert!(ids.insert(case.id.clone()), "{} stands twice", case.id);
        let (clause, name) = case.id.split_once('/').expect("clause and name");
        assert!(
            clause == case.clauses[0] || clause == "W7" && name.starts_with("random"),
            "{}",
            case.id
        );
        assert!(
            case.sentence.ends_with('.'),
            "{}: {}",
            case.id,
            case.sentence
        );
        assert!(case.setup.adopted.len() <= PLACES, "{}", case.id);
        assert!(!case.is_empty(), "{}", case.id);
        if case.mode == Mode::Packet {
            let mut script = case.play();
            while let Some(step) = script.next_step() {
                assert!(!matches!(step.input, Input::Stream(_)), "{}", case.id);
            }
        }
    }
}

#[test]
fn every_vector_is_a_case() {
    assert_eq!(vectors::all().len(), vectors::counts());
}

/// What no receiver is asked for: the head's own count. The path takes away what came after the last packet of
/// each life and before the first of all, and nothing else.
#[test]
fn the_soak_believes_what_the_head_has_counted() {
    let mut soak = Soak::new(1, 30 * 5400);
    let (mut steps, mut events) = (0_u64, BTreeMap::<&str, u64>::new());
    while let Some(step) = soak.next_step() {
        steps += 1;
        for told in step.expect {
            let word = match told {
                Told::Observation { .. } => "observation",
                Told::Restarted { .. } => "restarted",
                Told::Duplicate { .. } => "duplicate",
                Told::Late { .. } => "late",
                Told::Refused { reason, .. } => reason,
                _ => "other",
            };
            *events.entry(word).or_default() += 1;
        }
    }
    let believed = soak.tips()[0].1;
    assert!(believed <= soak.tips_counted);
    let unheard = soak.tips_counted - believed;
    assert!(
        unheard < 2 * (events["restarted"] + 1) + 10,
        "{unheard} of {}",
        soak.tips_counted
    );
    assert!(soak.tips_counted > 65_536, "the counter has not wrapped");
    for word in ["restarted", "duplicate", "late", "damaged", "unknown_head"] {
        assert!(
            events.get(word).is_some_and(|count| *count > 20),
            "{word}: {events:?}"
        );
    }
    assert!(steps > 140_000, "{steps}");
    // No lie is in it: what is refused was damaged, or is the neighbour's.
    assert_eq!(events.get("stale"), None, "{events:?}");
    assert_eq!(events.get("implausible"), None, "{events:?}");
}

#[test]
fn the_same_seed_makes_the_same_random_case() {
    assert_eq!(any_script(7, 3), any_script(7, 3));
    assert_ne!(any_script(7, 3), any_script(7, 4));
    assert_ne!(any_script(7, 3), any_script(8, 3));
}

/// A receiver that says the opposite in one place is caught by random cases too: they have something to say.
#[test]
fn random_cases_meet_every_kind_of_event() {
    let mut words = BTreeSet::new();
    for number in 0..50 {
        let case = any_case(1, number);
        let mut script = case.play();
        while let Some(step) = script.next_step() {
            for told in step.expect {
                let text = told.to_string();
                let mut parts = text.split(' ');
                let word = parts.next().unwrap_or_default().to_owned();
                words.insert(if word == "refused" {
                    parts.next().unwrap_or_default().to_owned()
                } else {
                    word
                });
            }
        }
    }
    for word in [
        "observation",
        "health",
        "duplicate",
        "late",
        "restarted",
        "paired",
        "damaged",
        "malformed",
        "implausible",
        "stale",
        "unknown_head",
        "unknown_version",
    ] {
        assert!(words.contains(word), "{word}: {words:?}");
    }
}
