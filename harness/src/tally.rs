//! A run in numbers.

use crate::link::Arrival;
use crate::row::{Row, Sink};
use benchmast_protocol::receiver::{Event, Refusal};
use serde::Serialize;
use std::collections::BTreeMap;
use std::io;

/// What happened to packets and rain in a run.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Tally {
    /// Reporting intervals of the period.
    pub intervals: u64,
    /// Intervals in which the head did not run.
    pub intervals_dead: u64,
    /// Intervals with at least one active fault.
    pub intervals_with_fault: u64,
    /// Packets sent, the neighbour's included.
    pub sent: u64,
    /// Packets that arrived, damaged ones and copies included.
    pub heard: u64,
    /// Observations believed.
    pub observations: u64,
    /// Health reports believed.
    pub health_reports: u64,
    /// Observations that the receiver knows it missed.
    pub intervals_missed: u64,
    /// Packets believed already.
    pub duplicates: u64,
    /// Packets that came after a newer one.
    pub late: u64,
    /// Restarts of the head that the receiver noticed.
    pub restarts: u64,
    /// Times the head fell silent.
    pub silences: u64,
    /// Packets refused, by reason.
    pub refused: BTreeMap<&'static str, u64>,
    /// Rain in free air, its liquid part only, mm.
    pub rain_truth_mm: f64,
    /// Snow in free air, mm of water.
    pub snow_truth_mm: f64,
    /// Rain by the healthy twin's count, melted snow included, mm.
    pub rain_twin_mm: f64,
    /// Rain by the actual head's count, melted snow included, mm.
    pub rain_head_mm: f64,
    /// Rain the receiver believed, mm.
    pub rain_believed_mm: f64,
}

/// The reasons of a refusal: word and meaning, in the order of [`place_of`].
pub const REASONS: [(&str, &str); 8] = [
    ("damaged", "too short, or the check does not fit the bytes"),
    ("unknown version", "another format version"),
    (
        "unknown head",
        "a head that is not paired, such as a neighbour's",
    ),
    (
        "malformed",
        "the check fits, the rest does not follow the format",
    ),
    ("implausible", "well formed, but it says what cannot be"),
    ("stale", "too old to tell a late packet from a duplicate"),
    (
        "forged",
        "the head has a key, and the packet has no tag or a wrong one",
    ),
    (
        "replayed",
        "the tag is right, but this packet was heard before or is too old to tell",
    ),
];

/// Where a refusal stands in [`REASONS`].
#[must_use]
pub fn place_of(refusal: &Refusal) -> usize {
    match refusal {
        Refusal::Damaged => 0,
        Refusal::UnknownVersion(_) => 1,
        Refusal::UnknownHead(_) => 2,
        Refusal::Malformed => 3,
        Refusal::Implausible => 4,
        Refusal::Stale => 5,
        Refusal::Forged => 6,
        Refusal::Replayed => 7,
    }
}

/// The word for a reason.
#[must_use]
pub fn reason(refusal: &Refusal) -> &'static str {
    REASONS.get(place_of(refusal)).map_or("", |(word, _)| word)
}

impl Tally {
    /// Packets refused for whatever reason.
    #[must_use]
    pub fn refused_total(&self) -> u64 {
        self.refused.values().sum()
    }
}

impl Sink for Tally {
    fn interval(&mut self, row: &Row<'_>) -> io::Result<()> {
        self.intervals += 1;
        self.intervals_dead += u64::from(!row.step.actual.alive);
        self.intervals_with_fault += u64::from(row.causes != 0);
        self.rain_truth_mm += row.truth.rainfall_mm;
        self.snow_truth_mm += row.truth.snowfall_mm;
        self.rain_twin_mm += row.step.twin.rainfall_mm;
        self.rain_head_mm += row.step.actual.rainfall_mm;
        Ok(())
    }

    fn sent(&mut self, _time_us: i64, _bytes: &[u8]) -> io::Result<()> {
        self.sent += 1;
        Ok(())
    }

    fn heard(&mut self, _arrival: &Arrival) -> io::Result<()> {
        self.heard += 1;
        Ok(())
    }

    fn event(&mut self, _time_us: i64, _signal_dbm: f64, event: &Event) -> io::Result<()> {
        match event {
            Event::Observation(believed) => {
                self.observations += 1;
                self.intervals_missed += u64::from(believed.intervals_missed);
                self.rain_believed_mm += f64::from(believed.rain_um.unwrap_or(0)) / 1000.0;
            }
            Event::Health { .. } => self.health_reports += 1,
            Event::Duplicate { .. } => self.duplicates += 1,
            Event::Late { rain_um, .. } => {
                self.late += 1;
                self.rain_believed_mm += f64::from(*rain_um) / 1000.0;
            }
            Event::Restarted { .. } => self.restarts += 1,
            Event::Silent { .. } => self.silences += 1,
            Event::Refused(refusal) => *self.refused.entry(reason(refusal)).or_default() += 1,
            Event::Paired { .. } => {}
        }
        Ok(())
    }
}
