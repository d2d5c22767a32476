//! Faults: schedules on the knobs of the station's condition.
//!
//! A fault never edits data. It turns knobs of [`Condition`]; the symptom comes out of the physics. Each
//! fault is one file below this module and one line in [`CATALOGUE`].

mod arrow_misaligned;
mod funnel_partly_blocked;
mod reserve_cells_flat;
mod rh_stuck_wet;
pub mod schedule;
mod shield_airflow_blocked;
mod vane_stuck;

use benchmast_sim::condition::Condition;
pub use schedule::{Causes, Episode, Schedule, Shape};

/// What an installer or a trainer has to know about a fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Card {
    /// What happens.
    pub what: &'static str,
    /// How it shows in the data.
    pub signature: &'static str,
    /// What it can be taken for, and how to tell them apart.
    pub look_alikes: &'static str,
    /// What to look at on site.
    pub field_check: &'static str,
    /// How to put it right.
    pub remedy: &'static str,
    /// What can hurt somebody or something on the way.
    pub caution: &'static str,
    /// Where this knowledge comes from.
    pub source: &'static str,
}

/// One entry of the catalogue.
#[derive(Debug)]
pub struct Fault {
    /// Our own word for it.
    pub id: &'static str,
    /// What severity 1 means, in physical terms.
    pub full_severity: &'static str,
    /// Names of the quantities that it can move, and no other; the tests hold it to that. Rain here also
    /// means tips that were not counted while the head was off.
    pub moves: &'static [&'static str],
    /// Whether it can stop the head altogether.
    pub stops_head: bool,
    /// What people have to know.
    pub card: Card,
    /// Turn the knobs: severity 0 leaves every knob exactly as it was, 1 is the worst.
    pub apply: fn(&mut Condition, f64),
}

/// All faults.
pub const CATALOGUE: &[&Fault] = &[
    &arrow_misaligned::FAULT,
    &funnel_partly_blocked::FAULT,
    &shield_airflow_blocked::FAULT,
    &rh_stuck_wet::FAULT,
    &vane_stuck::FAULT,
    &reserve_cells_flat::FAULT,
];

/// A fault by its id.
#[must_use]
pub fn by_id(id: &str) -> Option<&'static Fault> {
    CATALOGUE.iter().copied().find(|fault| fault.id == id)
}

/// General cautions that go with any work at a station.
pub const GENERAL_CAUTION: &str = "Heights, masts, overhead lines, lightning and mains come before data: \
    treat all overhead lines as live, do not work in wind or when thunder can be heard, keep a second person \
    present on a ladder, and follow local codes; leave mast, earthing and electrical work to licensed people.";

#[cfg(test)]
mod tests {
    use super::*;
    use benchmast_protocol::quantity::OBSERVED;

    #[test]
    fn ids_are_unique() {
        for fault in CATALOGUE {
            assert_eq!(
                CATALOGUE
                    .iter()
                    .filter(|other| other.id == fault.id)
                    .count(),
                1
            );
            assert_eq!(by_id(fault.id).map(|found| found.id), Some(fault.id));
        }
        assert!(by_id("no_such_fault").is_none());
    }

    #[test]
    fn severity_zero_leaves_every_knob_exactly_alone() {
        for fault in CATALOGUE {
            let mut condition = Condition::HEALTHY;
            (fault.apply)(&mut condition, 0.0);
            assert_eq!(condition, Condition::HEALTHY, "{}", fault.id);
            (fault.apply)(&mut condition, 1.0);
            assert_ne!(condition, Condition::HEALTHY, "{}", fault.id);
        }
    }

    #[test]
    fn every_fault_says_which_quantities_it_moves() {
        for fault in CATALOGUE {
            assert!(!fault.moves.is_empty(), "{}", fault.id);
            for name in fault.moves {
                assert!(OBSERVED.iter().any(|row| row.name == *name), "{name}");
            }
        }
    }

    #[test]
    fn every_card_is_filled_in() {
        for fault in CATALOGUE {
            let card = fault.card;
            for text in [
                card.what,
                card.signature,
                card.look_alikes,
                card.field_check,
                card.remedy,
                card.caution,
                card.source,
                fault.full_severity,
            ] {
                assert!(text.len() > 5, "{}", fault.id);
            }
        }
    }
}
