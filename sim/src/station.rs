//! The actual head and its healthy twin under the same weather and the same noise.

use benchmast_protocol::frame::{Health, Observation};

/// What one head has to say at the end of one interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Whether the head is running; if not, nothing is sent and all values are missing.
    pub alive: bool,
    /// Reporting intervals since the head started, modulo 65536.
    pub sequence: u16,
    /// The readings, as they go on the wire.
    pub observation: Observation,
    /// The state of the head, in the intervals in which it is sent.
    pub health: Option<Health>,
    /// Rain of this interval by the head's own count, mm.
    pub rainfall_mm: f64,
}

/// One interval of a station.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// End of the interval in true time, microseconds since 1970-01-01T00:00:00Z.
    pub time_us: i64,
    /// The head without any fault.
    pub twin: Reading,
    /// The head as it is.
    pub actual: Reading,
}
