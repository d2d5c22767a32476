//! What was sent, what was heard and what the receiver made of it, folded into time bins.

use super::folds::Spread;
use super::timeline::Timeline;
use crate::link::Arrival;
use crate::tally::{REASONS, place_of};
use benchmast_protocol::frame::{Frame, Kind};
use benchmast_protocol::packet::HeadId;
use benchmast_protocol::receiver::Event;

/// The packets of one time bin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bin {
    /// Observations that left the head.
    pub sent: u32,
    /// Observations that the receiver believed, late ones included.
    pub believed: u32,
    pub refused: u32,
    pub duplicate: u32,
    pub late: u32,
    /// Signal strength of whatever arrived, dBm.
    pub signal: Spread,
    /// Rain believed, micrometres.
    pub rain_um: u64,
}

/// The whole of what went over the air.
#[derive(Debug)]
pub(super) struct Traffic {
    timeline: Timeline,
    head: HeadId,
    pub bins: Vec<Bin>,
    /// Packets that left the head: observations, health reports, identities.
    pub sent: [u64; 3],
    /// Packets that left another head.
    pub sent_by_others: u64,
    /// Packets at the antenna, whoever sent them, copies included.
    pub heard: u64,
    /// Observations believed in order of time, and late packets of any kind.
    pub believed: u64,
    pub late: u64,
    /// Of the late packets, those that brought an observation.
    pub late_observations: u64,
    pub duplicates: u64,
    pub refused: [u64; REASONS.len()],
    pub restarts: u64,
    pub silences: u64,
    pub pairings: u64,
    pub health_reports: u64,
    /// Rain believed, micrometres; `None` until the receiver knows the bucket and a base.
    pub rain_um: Option<u64>,
    /// Waits between two observations that were too long for none to be missing.
    pub gaps: u64,
    longest_wait_us: i64,
    last_believed_us: i64,
    /// A wait longer than this is a gap even if the sequence number does not tell, as after a restart.
    patience_us: i64,
}

impl Traffic {
    pub(super) fn new(timeline: Timeline, head: HeadId, delay_max_s: f64) -> Self {
        let empty = Bin {
            sent: 0,
            believed: 0,
            refused: 0,
            duplicate: 0,
            late: 0,
            signal: Spread::EMPTY,
            rain_um: 0,
        };
        let delay_us = (delay_max_s.clamp(0.0, 1e6) * 1e6) as i64;
        Self {
            timeline,
            head,
            bins: vec![empty; timeline.count],
            sent: [0; 3],
            sent_by_others: 0,
            heard: 0,
            believed: 0,
            late: 0,
            late_observations: 0,
            duplicates: 0,
            refused: [0; REASONS.len()],
            restarts: 0,
            silences: 0,
            pairings: 0,
            health_reports: 0,
            rain_um: None,
            gaps: 0,
            longest_wait_us: 0,
            last_believed_us: timeline.start_us,
            patience_us: timeline.interval_us * 3 / 2 + delay_us,
        }
    }

    fn bin(&mut self, time_us: i64) -> Option<&mut Bin> {
        let index = self.timeline.bin_of_interval_end(time_us);
        self.bins.get_mut(index)
    }

    /// A packet leaves a head. It is whole here, so its header can be trusted unchecked.
    pub(super) fn sent(&mut self, time_us: i64, bytes: &[u8]) {
        let &[first, a, b, c, d, ..] = bytes else {
            return;
        };
        if HeadId(u32::from_le_bytes([a, b, c, d])) != self.head {
            self.sent_by_others += 1;
            return;
        }
        match Kind::from_code(first & 0x07) {
            Some(Kind::Observation) => {
                self.sent[0] += 1;
                if let Some(bin) = self.bin(time_us) {
                    bin.sent += 1;
                }
            }
            Some(Kind::Health) => self.sent[1] += 1,
            Some(Kind::Identity) => self.sent[2] += 1,
            None => {}
        }
    }

    /// A packet arrives at the antenna.
    pub(super) fn heard(&mut self, arrival: &Arrival) {
        self.heard += 1;
        if let Some(bin) = self.bin(arrival.time_us) {
            bin.signal.add(arrival.signal_dbm);
        }
    }

    /// The receiver has made up its mind.
    pub(super) fn event(&mut self, time_us: i64, event: &Event) {
        match event {
            Event::Observation(believed) if believed.head == self.head => {
                self.believed += 1;
                let wait_us = time_us - self.last_believed_us;
                self.longest_wait_us = self.longest_wait_us.max(wait_us);
                self.gaps += u64::from(believed.intervals_missed > 0 || wait_us > self.patience_us);
                self.last_believed_us = time_us;
                if let Some(rain_um) = believed.rain_um {
                    *self.rain_um.get_or_insert(0) += u64::from(rain_um);
                }
                let rain_um = u64::from(believed.rain_um.unwrap_or(0));
                if let Some(bin) = self.bin(time_us) {
                    bin.believed += 1;
                    bin.rain_um += rain_um;
                }
            }
            Event::Late {
                head,
                intervals_late,
                frame,
                ..
            } if *head == self.head => {
                self.late += 1;
                if let Some(bin) = self.bin(time_us) {
                    bin.late += 1;
                }
                if matches!(frame, Frame::Observation(_)) {
                    self.late_observations += 1;
                    // It fills the place of the interval that it tells of.
                    let earlier_us = i64::from(*intervals_late) * self.timeline.interval_us;
                    if let Some(bin) = self.bin(time_us - earlier_us) {
                        bin.believed += 1;
                    }
                }
            }
            Event::Duplicate { .. } => {
                self.duplicates += 1;
                if let Some(bin) = self.bin(time_us) {
                    bin.duplicate += 1;
                }
            }
            Event::Refused(refusal) => {
                if let Some(number) = self.refused.get_mut(place_of(refusal)) {
                    *number += 1;
                }
                if let Some(bin) = self.bin(time_us) {
                    bin.refused += 1;
                }
            }
            Event::Paired { .. } => self.pairings += 1,
            Event::Health { .. } => self.health_reports += 1,
            Event::Restarted { .. } => self.restarts += 1,
            Event::Silent { .. } => self.silences += 1,
            Event::Observation(_) | Event::Late { .. } => {}
        }
    }

    /// Observations believed, early or late.
    pub(super) fn observations(&self) -> u64 {
        self.believed + self.late_observations
    }

    /// Longest time without a new observation, the begin and the end of the period included.
    pub(super) fn longest_wait_us(&self) -> i64 {
        self.longest_wait_us
            .max(self.timeline.end_us - self.last_believed_us)
    }

    pub(super) fn refusals(&self) -> u64 {
        self.refused.iter().sum()
    }
}
