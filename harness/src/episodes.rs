//! What each episode of a fault did: `episodes.csv`.

use crate::faults::{Causes, Episode};
use crate::row::{Row, Sink};
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

/// Whether the actual head measured anything else than its twin. Counters and status are left out: once
/// they differ they stay different, long after the fault is gone.
fn has_effect(twin: &Reading, actual: &Reading) -> bool {
    let mut measured = actual.observation;
    measured.tips = twin.observation.tips;
    measured.status = twin.observation.status;
    twin.alive != actual.alive
        || twin.observation != measured
        || twin.rainfall_mm.to_bits() != actual.rainfall_mm.to_bits()
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
        let mut effect = None;
        for line in &mut self.lines {
            if line.episode.severity_at(time_us) <= 0.0 {
                continue;
            }
            line.intervals_active += 1;
            if *effect.get_or_insert_with(|| has_effect(&row.step.twin, &row.step.actual)) {
                line.intervals_with_effect += 1;
                line.first_effect_us.get_or_insert(time_us);
            }
        }
        Ok(())
    }
}
