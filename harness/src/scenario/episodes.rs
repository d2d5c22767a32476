//! From fault drafts to episodes: when, how and how bad, each by itself and beside the others.

use super::assemble::Assembler;
use super::keys::DEFAULT_DUTY;
use super::read::PlacedFault;
use super::report::Kind;
use super::time::{self, DAY_US, HOUR_US, Moment};
use crate::faults::{self, Episode, Shape};
use std::ops::Range;

impl Assembler<'_> {
    /// Episodes with a severity above 0, in order of onset.
    pub(super) fn faults(
        &mut self,
        faults: &[&PlacedFault],
        start_us: i64,
        end_us: i64,
    ) -> Vec<Episode> {
        let mut episodes: Vec<(Episode, Range<usize>)> = Vec::new();
        for fault in faults.iter().filter(|fault| fault.sound) {
            let Some(episode) = self.episode(fault, start_us, end_us) else {
                continue;
            };
            // As if it were not there, byte for byte: so it is not.
            if episode.severity > 0.0 {
                episodes.push((episode, fault.places.value("fault", "onset")));
            }
        }
        episodes.sort_by_key(|(episode, _)| episode.onset_us);
        for (index, (later, span)) in episodes.iter().enumerate() {
            let before = episodes[..index].iter().rev().find(|(earlier, _)| {
                earlier.fault.id == later.fault.id
                    && earlier.end_us.is_none_or(|end| end > later.onset_us)
            });
            if let Some((earlier, other)) = before {
                let until = earlier
                    .end_us
                    .map_or("it is never put right".to_owned(), |end| {
                        format!("it is put right at {}", time::show(end))
                    });
                let problem = self
                    .document
                    .problem(
                        Kind::Conflict,
                        span.clone(),
                        format!("two episodes of {} overlap", later.fault.id),
                        "sets in again",
                        format!("the one of line {} is still there: {until}. Let it end before {}, or make one of the two", self.document.line(other.start), time::show(later.onset_us)),
                    )
                    .and_at(other.clone(), "still there");
                self.problems.push(problem);
            }
        }
        episodes.into_iter().map(|(episode, _)| episode).collect()
    }

    fn episode(&mut self, fault: &PlacedFault, start_us: i64, end_us: i64) -> Option<Episode> {
        let found_before = self.problems.len();
        let (draft, places) = (&fault.draft, &fault.places);
        let at = |key: &str| places.value("fault", key);
        let onset_us = draft.onset?.resolve(start_us);
        if onset_us < start_us || onset_us >= end_us {
            let help = format!(
                "the period is {} to {}; \"+0d\" is from its beginning",
                time::show(start_us),
                time::show(end_us)
            );
            let label = if onset_us < start_us {
                "before the period"
            } else {
                "after the period"
            };
            self.conflict(
                at("onset"),
                "the fault sets in outside the period",
                label,
                help,
            );
        }
        let ends: Vec<_> = ["end", "for_hours", "for_days"]
            .into_iter()
            .filter(|key| places.has("fault", key))
            .collect();
        if let [first, second, ..] = ends[..] {
            self.conflict(
                at(second),
                format!("`{first}` and `{second}` both say when the fault ends"),
                "second statement",
                "keep one of them",
            );
        }
        let length = |value: f64, unit_us: i64| {
            Moment::At(onset_us + (value * unit_us as f64).round() as i64)
        };
        let fault_end = draft
            .end
            .or(draft.for_hours.map(|hours| length(hours, HOUR_US)))
            .or(draft.for_days.map(|days| length(days, DAY_US)));
        let fault_end_us = fault_end.map(|end| end.resolve(start_us));
        if fault_end_us.is_some_and(|end| end <= onset_us) {
            let help = format!(
                "it sets in at {}; give a later `end`, or for_hours = 12 instead. A relative time counts from the start of the period",
                time::show(onset_us)
            );
            self.conflict(
                at("end"),
                "the fault ends before it sets in",
                "not after `onset`",
                help,
            );
        }
        let shape = self.shape(fault)?;
        let found = faults::by_id(draft.id.as_deref()?)?;
        (self.problems.len() == found_before).then_some(Episode {
            fault: found,
            onset_us,
            end_us: fault_end_us,
            shape,
            severity: draft.severity,
        })
    }

    fn shape(&mut self, fault: &PlacedFault) -> Option<Shape> {
        let (draft, places) = (&fault.draft, &fault.places);
        let word = draft.shape.as_deref().unwrap_or("step");
        for (key, owner) in [
            ("ramp_hours", "ramp"),
            ("period_minutes", "intermittent"),
            ("duty", "intermittent"),
        ] {
            if places.has("fault", key) && word != owner {
                self.conflict(
                    places.value("fault", key),
                    format!("`{key}` goes with shape \"{owner}\", and the shape is \"{word}\""),
                    "another shape",
                    format!("write shape = \"{owner}\", or take the line out"),
                );
                return None;
            }
        }
        let mut needs = |key: &str, value: Option<f64>, example: &str| {
            if value.is_none() {
                let problem = self.document.problem(
                    Kind::Missing,
                    places.value("fault", "shape"),
                    format!("shape \"{word}\" needs `{key}`"),
                    "this shape",
                    format!("add {key} = {example}"),
                );
                self.problems.push(problem);
            }
            value
        };
        Some(match word {
            "ramp" => Shape::Ramp {
                over_s: needs("ramp_hours", draft.ramp_hours, "12")? * 3600.0,
            },
            "intermittent" => Shape::Intermittent {
                period_s: needs("period_minutes", draft.period_minutes, "90")? * 60.0,
                duty: draft.duty.unwrap_or(DEFAULT_DUTY),
            },
            _ => Shape::Step,
        })
    }
}
