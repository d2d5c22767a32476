//! What each episode of a fault did: `episodes.csv`.

use crate::faults::{Causes, Episode, Fault};
use crate::record::reported;
use crate::row::{Row, Sink};
use benchmast_protocol::quantity::{OBSERVED, RAINFALL};
use benchmast_sim::station::Reading;
use std::io;

/// One episode and what was seen of it.
#[derive(Debug, Clone)]
struct Line {
    episode: Episode,
    intervals_active: u64,
    intervals_with_effect: u64,
    first_effect_us: Option<i64>,
}

/// Follows the episodes of a run.
#[derive(Debug, Clone)]
pub struct EpisodeLog {
    lines: Vec<Line>,
    causes: Causes,
}

/// In which quantities the actual head said anything else than its twin, in the order of the table.
fn differences(twin: &Reading, actual: &Reading) -> [bool; OBSERVED.len()] {
    let of = |reading: &Reading| reported(&reading.observation, None);
    let (was, is) = (of(twin), of(actual));
    std::array::from_fn(|place| {
        if OBSERVED[place].name == RAINFALL.name {
            // Not the counters: once they differ they stay different, long after the fault is gone.
            twin.rainfall_mm.to_bits() != actual.rainfall_mm.to_bits()
        } else {
            was[place] != is[place]
        }
    })
}

/// Whether a fault has an effect: a difference in a quantity that it can move, or a head that is off.
/// What other faults do meanwhile is not its doing.
fn has_effect(fault: &Fault, twin: &Reading, actual: &Reading) -> bool {
    if twin.alive != actual.alive {
        return fault.stops_head;
    }
    let differences = differences(twin, actual);
    OBSERVED
        .iter()
        .zip(differences)
        .any(|(row, differs)| differs && fault.moves.contains(&row.name))
}

impl EpisodeLog {
    /// For the episodes of a plan.
    #[must_use]
    pub fn new(episodes: &[Episode]) -> Self {
        let lines = episodes.iter().map(|episode| Line {
            episode: *episode,
            intervals_active: 0,
            intervals_with_effect: 0,
            first_effect_us: None,
        });
        Self {
            lines: lines.collect(),
            causes: Causes::new(episodes),
        }
    }

    /// Write the table.
    ///
    /// # Errors
    /// What the target says.
    pub fn write(&self, target: impl io::Write) -> io::Result<()> {
        let mut table = csv::Writer::from_writer(target);
        table.write_record([
            "episode",
            "fault",
            "mask",
            "onset",
            "end",
            "shape",
            "severity",
            "intervals_active",
            "intervals_with_effect",
            "first_effect",
        ])?;
        for (number, line) in self.lines.iter().enumerate() {
            let episode = &line.episode;
            table.write_record([
                (number + 1).to_string(),
                episode.fault.id.to_string(),
                self.causes.mask(episode.fault).to_string(),
                stamp(Some(episode.onset_us)),
                stamp(episode.end_us),
                episode.shape.word().to_string(),
                episode.severity.to_string(),
                line.intervals_active.to_string(),
                line.intervals_with_effect.to_string(),
                stamp(line.first_effect_us),
            ])?;
        }
        table.flush()
    }
}

/// ISO 8601 in UTC, empty for none.
fn stamp(time_us: Option<i64>) -> String {
    time_us
        .and_then(|time| jiff::Timestamp::from_microsecond(time).ok())
        .map_or_else(String::new, |stamp| stamp.to_string())
}

impl Sink for EpisodeLog {
    fn interval(&mut self, row: &Row<'_>) -> io::Result<()> {
        if self.lines.is_empty() {
            return Ok(());
        }
        let time_us = row.step.time_us;
        let (twin, actual) = (&row.step.twin, &row.step.actual);
        for line in &mut self.lines {
            if line.episode.severity_at(time_us) <= 0.0 {
                continue;
            }
            line.intervals_active += 1;
            if has_effect(line.episode.fault, twin, actual) {
                line.intervals_with_effect += 1;
                line.first_effect_us.get_or_insert(time_us);
            }
        }
        Ok(())
    }
}
