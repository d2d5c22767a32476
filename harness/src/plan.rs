//! What a run is to do: the checked, resolved form of a scenario.

use crate::faults::Episode;
use crate::link;
use benchmast_protocol::frame::Identity;
use benchmast_protocol::packet::HeadId;
use benchmast_sim::head;
use benchmast_sim::site::{Place, Site};
use benchmast_sim::weather::climate::Climate;
use benchmast_sim::weather::recorded::Record;
use std::path::PathBuf;

/// What a run is to do.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// One line that says what the scenario shows.
    pub title: String,
    /// The one seed.
    pub seed: u64,
    /// First instant, microseconds since 1970-01-01T00:00:00Z.
    pub start_us: i64,
    /// Last instant.
    pub end_us: i64,
    /// Name of the invented place.
    pub place_name: String,
    /// Where the station stands.
    pub place: Place,
    /// Its surroundings.
    pub site: Site,
    /// Where the weather comes from.
    pub weather: WeatherSource,
    /// Radio address of the head.
    pub head_id: HeadId,
    /// Serial number, fit and settings of the head.
    pub identity: Identity,
    /// What the scenario changes about the head.
    pub head: head::Parameters,
    /// What the radio path does to packets.
    pub link: link::Parameters,
    /// What the receiver does.
    pub receiver: ReceiverPlan,
    /// Faults, in order of onset.
    pub faults: Vec<Episode>,
}

/// Where the weather comes from.
#[derive(Debug, Clone, PartialEq)]
pub enum WeatherSource {
    /// Computed from monthly normals.
    Synthetic {
        /// Twelve months.
        climate: Box<Climate>,
    },
    /// Filled in between the records of a file.
    Recorded {
        /// The file.
        file: PathBuf,
        /// Its records, in order of time.
        records: Vec<Record>,
        /// Height above ground at which its wind was measured, m.
        wind_height_m: f64,
    },
}

/// What the receiver does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReceiverPlan {
    /// Intervals without a packet after which a head counts as silent.
    pub silent_after_intervals: u16,
    /// The head was paired beside the receiver before it was installed, so its first identity packet
    /// always arrives.
    pub commissioned: bool,
}

impl Default for ReceiverPlan {
    fn default() -> Self {
        Self {
            silent_after_intervals: 20,
            commissioned: true,
        }
    }
}
