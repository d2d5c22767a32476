//! Captures: every packet of a run as it was sent and as it arrived, one JSON object a line.
//!
//! # Format, version 1
//!
//! UTF-8 text, one JSON object a line, each line closed by a line feed (NDJSON). Readers pass over keys
//! they do not know and over empty lines. A change that an old reader would misread raises the version.
//!
//! The first line is the header:
//!
//! | key | value |
//! |---|---|
//! | `format` | the string `benchmast-capture` |
//! | `version` | 1 |
//! | `title` | one line about the scenario |
//! | `seed` | the scenario's seed, integer, 0 to 2^64 - 1 |
//! | `heads` | array: the heads the receiver is paired with |
//! | `heads[].serial` | serial number as printed, ten decimal digits in a string |
//! | `heads[].head` | radio address, eight hexadecimal digits in a string |
//! | `heads[].interval_s` | reporting interval, s, integer |
//! | `heads[].bucket_um` | rain depth of one tip, micrometres, integer |
//!
//! Every other line is one packet at one instant, in order of time:
//!
//! | key | value |
//! |---|---|
//! | `t_us` | true time, microseconds since 1970-01-01T00:00:00Z, integer. Sent: the transmission begins. Heard: its last bit is in. |
//! | `event` | `sent` (by the head, or by a neighbour's) or `heard` (by the receiver; what arrived, damage included) |
//! | `signal_dbm` | `heard` only: signal strength, dBm, one decimal; left out where the bearer does not tell it |
//! | `hex` | the packet's bytes, two hexadecimal digits each, 0 to 48 bytes |
//!
//! ```text
//! {"format":"benchmast-capture","version":1,"title":"A blocked funnel","seed":7,"heads":[{"serial":"0000000042","head":"0000a001","interval_s":16,"bucket_um":300}]}
//! {"t_us":1764028816000000,"event":"sent","hex":"1101a00000010000"}
//! {"t_us":1764028816003333,"event":"heard","signal_dbm":-85.3,"hex":"1101a00000010000"}
//! ```

mod read;
mod write;

pub use read::{CaptureError, Problem, Reader};
pub use write::Writer;

use crate::link::Bytes;
use crate::plan::Plan;
use benchmast_protocol::frame::Serial;
use benchmast_protocol::packet::HeadId;

/// What the first line's `format` says.
pub const FORMAT: &str = "benchmast-capture";
/// Version of the format that is written, and the only one read.
pub const VERSION: u32 = 1;

/// The first line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Header {
    /// One line about the scenario.
    pub title: String,
    /// The scenario's seed.
    pub seed: u64,
    /// The heads the receiver is paired with.
    pub heads: Vec<Head>,
}

impl Header {
    /// For a run of this plan.
    #[must_use]
    pub fn of(plan: &Plan) -> Self {
        Self {
            title: plan.title.clone(),
            seed: plan.seed,
            heads: vec![Head {
                serial: plan.identity.serial,
                head: plan.head_id,
                interval_s: plan.identity.interval_s,
                bucket_um: plan.identity.bucket_um,
            }],
        }
    }
}

/// One head the receiver is paired with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Head {
    /// Serial number.
    pub serial: Serial,
    /// Radio address.
    pub head: HeadId,
    /// Reporting interval, s.
    pub interval_s: u16,
    /// Rain depth of one tip, micrometres.
    pub bucket_um: u16,
}

/// Any line but the first.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// True time, microseconds since 1970-01-01T00:00:00Z.
    pub time_us: i64,
    /// What happened.
    pub event: Event,
    /// The packet's bytes.
    pub bytes: Bytes,
}

/// What happened to a packet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Event {
    /// A head began to send it.
    Sent,
    /// The receiver heard it.
    Heard {
        /// Signal strength, dBm; NaN where it is not known.
        signal_dbm: f64,
    },
}

#[cfg(test)]
mod tests;
