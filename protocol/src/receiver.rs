//! What is believed: the receiver's logic without input or output.
//!
//! Packets and the time go in (`handle_packet`, `handle_time`), events come out (`poll_event`).

use crate::frame::{Frame, Health, Identity, Observation};
use crate::packet::HeadId;

/// Microseconds on the receiver's monotonic clock.
pub type Micros = u64;

/// Why a packet is not believed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Refusal {
    /// Too short, or the check does not fit.
    Damaged,
    /// The format version is another.
    UnknownVersion(u8),
    /// No such head is paired.
    UnknownHead(HeadId),
    /// Check and version fit, the rest does not follow the format.
    Malformed,
    /// Well formed, but it says what cannot be: an illegal value, or a counter that jumps.
    Implausible,
    /// Older than the window in which late packets can be told from duplicates.
    Stale,
}

/// An observation the receiver believes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Believed {
    /// Who sent it.
    pub head: HeadId,
    /// Reporting intervals since the head started, modulo 65536.
    pub sequence: u16,
    /// The readings.
    pub observation: Observation,
    /// Tips since the last observation believed; `None` for the first one ever, which has no base.
    pub tips_since: Option<u16>,
    /// Depth of those tips, micrometres.
    pub rain_um: Option<u32>,
    /// Intervals between the last observation believed and this one that were not heard.
    pub intervals_missed: u32,
}

/// What the receiver makes of what it heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Event {
    /// A head that was waited for told its identity.
    Paired {
        /// Its radio address.
        head: HeadId,
        /// What it said.
        identity: Identity,
    },
    /// A new observation.
    Observation(Believed),
    /// A new health report.
    Health {
        /// Who sent it.
        head: HeadId,
        /// Reporting intervals since the head started, modulo 65536.
        sequence: u16,
        /// The report.
        health: Health,
    },
    /// A packet already believed.
    Duplicate {
        /// Who sent it.
        head: HeadId,
        /// Its sequence number.
        sequence: u16,
    },
    /// A packet not seen before that a newer one has overtaken. Its rain is already counted.
    Late {
        /// Who sent it.
        head: HeadId,
        /// Its sequence number.
        sequence: u16,
        /// How many intervals before the newest one believed.
        intervals_late: u32,
        /// What it says.
        frame: Frame,
    },
    /// The head has started anew; its counters began at zero.
    Restarted {
        /// Who restarted.
        head: HeadId,
        /// Restart count modulo 16.
        life: u8,
    },
    /// A packet not believed.
    Refused(Refusal),
    /// Nothing was heard from a head for longer than the silence limit.
    Silent {
        /// Who is overdue.
        head: HeadId,
        /// When it was last heard.
        last_heard: Micros,
    },
}
