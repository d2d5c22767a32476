//! What the radio path does to packets.

use benchmast_protocol::packet::{HeadId, MAX_PACKET};

/// A packet's bytes, wherever it is on its way.
pub type Bytes = heapless::Vec<u8, MAX_PACKET>;

/// What a scenario says about the radio path. The default is a perfect path.
#[derive(Debug, Clone, PartialEq)]
pub struct Parameters {
    /// Chance that a packet is lost by itself, 0 to 1.
    pub loss: f64,
    /// Share of packets lost in bursts, 0 to 1.
    pub burst_loss: f64,
    /// Mean length of a burst, packets, 1 or more.
    pub burst_length: f64,
    /// Chance that a bit flips, 0 to 1.
    pub bit_error: f64,
    /// Chance that a packet arrives twice, 0 to 1.
    pub duplicate: f64,
    /// Chance that a packet is held back by up to `delay_max_s`, 0 to 1; it may be overtaken.
    pub delay: f64,
    /// Longest delay, s.
    pub delay_max_s: f64,
    /// Median signal strength at the receiver, dBm.
    pub signal_dbm: f64,
    /// Standard deviation of the slow signal swing, dB.
    pub signal_spread_db: f64,
    /// Another head on the same channel.
    pub neighbour: Option<Neighbour>,
}

/// Another head on the same channel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Neighbour {
    /// Its radio address.
    pub head: HeadId,
    /// Chance that one of its packets is heard, 0 to 1.
    pub heard: f64,
}

impl Default for Parameters {
    fn default() -> Self {
        Self {
            loss: 0.0,
            burst_loss: 0.0,
            burst_length: 4.0,
            bit_error: 0.0,
            duplicate: 0.0,
            delay: 0.0,
            delay_max_s: 40.0,
            signal_dbm: -85.0,
            signal_spread_db: 4.0,
            neighbour: None,
        }
    }
}

/// A packet at the receiver's antenna.
#[derive(Debug, Clone, PartialEq)]
pub struct Arrival {
    /// When, microseconds since 1970-01-01T00:00:00Z.
    pub time_us: i64,
    /// Signal strength, dBm.
    pub signal_dbm: f64,
    /// What arrived.
    pub bytes: Bytes,
}
