//! What a receiver tells its user.

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
    /// The head has a key, and the packet has no tag or a wrong one.
    Forged,
    /// The tag is right, and the counter was heard before or is too old to tell.
    Replayed,
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
    /// Tips since the last observation believed; `None` where there is no base to count from: the first
    /// observation after pairing, the first after the receiver had to find its place anew
    /// (WIRE.md W7.5), and every observation of a head without a rain gauge.
    pub tips_since: Option<u16>,
    /// Depth of those tips, micrometres.
    pub rain_um: Option<u32>,
    /// Intervals between the last observation believed and this one that were not heard. After a
    /// restart those of the new life only; 0 where there is no base.
    pub intervals_missed: u32,
}

/// What the receiver makes of what it heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Event {
    /// A head that was waited for told its identity, or a paired one told of changed settings.
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
    /// A packet already believed, or an identity that says nothing new.
    Duplicate {
        /// Who sent it.
        head: HeadId,
        /// Its sequence number.
        sequence: u16,
    },
    /// A packet not seen before that a newer one has overtaken. Its readings are usable; its rain is
    /// already counted, but for `tips_since`.
    Late {
        /// Who sent it.
        head: HeadId,
        /// Its sequence number.
        sequence: u16,
        /// How many intervals before the newest one believed; at least so many across a restart.
        intervals_late: u32,
        /// What it says.
        frame: Frame,
        /// Tips heard of here for the first time: not 0 only when the packet is the newest of the life
        /// before a restart, whose counter nothing later could continue.
        tips_since: u16,
        /// Depth of those tips, micrometres.
        rain_um: u32,
    },
    /// The head has started anew. The observation that follows says in `tips_since` whether its
    /// counter can be taken to have begun at zero.
    Restarted {
        /// Who restarted.
        head: HeadId,
        /// Restart count modulo 16.
        life: u8,
    },
    /// A packet not believed.
    Refused(Refusal),
    /// Nothing was believed from a head for longer than the silence limit.
    Silent {
        /// Who is overdue.
        head: HeadId,
        /// When it was last heard, or when waiting for it began.
        last_heard: Micros,
    },
}

/// All places for heads are taken, or kept for serial numbers that are waited for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Full;

impl core::fmt::Display for Full {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("the receiver has no place left for another head")
    }
}

impl core::error::Error for Full {}

/// Why a remembered head cannot be taken up again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AdoptError {
    /// No place is left.
    Full,
    /// The settings are none that a head may have.
    Illegal,
}

impl core::fmt::Display for AdoptError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Full => Full.fmt(f),
            Self::Illegal => f.write_str("the identity holds a value outside its legal range"),
        }
    }
}

impl core::error::Error for AdoptError {}
