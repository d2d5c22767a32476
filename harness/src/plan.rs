//! What a run is to do: the checked, resolved form of a scenario.
//!
//! A [`Plan`] is one station; a [`Network`] is all stations of a scenario, which share one weather.

use crate::faults::Episode;
use crate::link;
use crate::room;
use benchmast_protocol::frame::Identity;
use benchmast_protocol::packet::HeadId;
use benchmast_protocol::tag::Key;
use benchmast_sim::entropy::Seed;
use benchmast_sim::head;
use benchmast_sim::site::{Place, Site};
use benchmast_sim::weather::climate::Climate;
use benchmast_sim::weather::recorded::Record;
use benchmast_sim::weather::{KM_PER_DEG, Offset, Region};
use std::path::PathBuf;
use std::sync::Arc;

/// What one station is to do.
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
    /// Name of the station, where the scenario names its stations.
    pub station: Option<String>,
    /// Name of the invented place.
    pub place_name: String,
    /// Where the station stands.
    pub place: Place,
    /// Where the monthly normals hold, if not where the station stands: the middle of the region that it
    /// shares with others.
    pub reference: Option<Place>,
    /// Its surroundings.
    pub site: Site,
    /// Where the weather comes from.
    pub weather: WeatherSource,
    /// Radio address of the head.
    pub head_id: HeadId,
    /// Serial number, fit and settings of the head.
    pub identity: Identity,
    /// The secret that it shares with its receiver, if its packets are authenticated.
    pub key: Option<Key>,
    /// What the scenario changes about the head.
    pub head: head::Parameters,
    /// What the radio path does to packets.
    pub link: link::Parameters,
    /// What the receiver does.
    pub receiver: ReceiverPlan,
    /// Its mains, network, sky and clock.
    pub room: room::Parameters,
    /// Faults, in order of onset.
    pub faults: Vec<Episode>,
}

impl Plan {
    /// The weather that this station shares with all of its network; `None` where a record drives it.
    /// Fitting it to the normals takes a few hundredths of a second.
    #[must_use]
    pub fn region(&self) -> Option<Region> {
        match &self.weather {
            WeatherSource::Synthetic { climate } => Some(Region::new(
                climate,
                self.reference.unwrap_or(self.place),
                Seed(self.seed),
            )),
            WeatherSource::Recorded { .. } => None,
        }
    }
}

/// All stations of a scenario, under one weather.
///
/// They share title, seed, period, and either region or record; a recorded weather gets a fine structure
/// of its own at each station.
#[derive(Debug, Clone, PartialEq)]
pub struct Network {
    /// Name of the place in whose surroundings the stations stand.
    pub place_name: String,
    /// The place itself: where the normals hold, and from where distances are measured.
    pub place: Place,
    /// At least one, in the order of the scenario. A single station may have no name.
    pub stations: Vec<Plan>,
}

impl Network {
    /// The station of a scenario that names none.
    #[must_use]
    pub fn single(&self) -> Option<&Plan> {
        match self.stations.as_slice() {
            [only] if only.station.is_none() => Some(only),
            _ => None,
        }
    }

    /// The station of this name.
    #[must_use]
    pub fn station(&self, name: &str) -> Option<&Plan> {
        let is_it = |plan: &&Plan| plan.station.as_deref() == Some(name);
        self.stations.iter().find(is_it)
    }

    /// The names of the stations.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.stations
            .iter()
            .filter_map(|plan| plan.station.as_deref())
    }

    /// Another seed than the scenario's, for all stations.
    pub fn reseed(&mut self, seed: u64) {
        for plan in &mut self.stations {
            plan.seed = seed;
        }
    }

    /// The weather that all stations share; `None` where a record drives them.
    #[must_use]
    pub fn region(&self) -> Option<Region> {
        self.stations.first().and_then(Plan::region)
    }
}

/// Distance of two places of a region, km.
#[must_use]
pub fn distance_km(from: &Place, to: &Place) -> f64 {
    let Offset { east_km, north_km } = Offset::between(from, to);
    (east_km * east_km + north_km * north_km).sqrt()
}

/// The place so far from another, at its altitude, to a tenth of a metre; `None` beyond a pole, or where a
/// step east goes more than half round the Earth.
#[must_use]
pub fn place_at(from: &Place, offset: Offset) -> Option<Place> {
    let latitude_deg = from.latitude_deg + offset.north_km / KM_PER_DEG;
    let middle = f64::midpoint(from.latitude_deg, latitude_deg);
    let turn = if offset.east_km == 0.0 {
        0.0
    } else {
        offset.east_km / (KM_PER_DEG * libm::cos(middle.to_radians()))
    };
    if latitude_deg.abs() > 90.0 || turn.is_nan() || turn.abs() > 180.0 {
        return None;
    }
    let turned = from.longitude_deg + turn;
    let whole_turns = ((turned + 180.0) / 360.0).floor();
    let rounded = |degrees: f64| (degrees * 1e6).round() / 1e6;
    Some(Place {
        latitude_deg: rounded(latitude_deg),
        longitude_deg: rounded(turned - 360.0 * whole_turns),
        altitude_m: from.altitude_m,
    })
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
        records: Arc<[Record]>,
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

#[cfg(test)]
mod tests {
    use super::*;

    fn place(latitude_deg: f64, longitude_deg: f64) -> Place {
        Place {
            latitude_deg,
            longitude_deg,
            altitude_m: 5.0,
        }
    }

    #[test]
    fn a_place_is_found_again_by_its_offset() {
        for (latitude, longitude) in [(52.0, -3.0), (-34.0, 179.9), (0.0, -180.0), (78.0, 15.0)] {
            let from = place(latitude, longitude);
            for (east_km, north_km) in [(0.0, 0.0), (1.0, -1.0), (-10.0, 50.0), (200.0, 100.0)] {
                let to = place_at(&from, Offset { east_km, north_km }).expect("no pole near");
                let back = Offset::between(&from, &to);
                assert!((back.east_km - east_km).abs() < 2e-4, "{to:?} {back:?}");
                assert!((back.north_km - north_km).abs() < 2e-4, "{to:?} {back:?}");
                assert!((-180.0..=180.0).contains(&to.longitude_deg));
            }
        }
        // One degree of longitude at 60 degrees is half a degree of latitude (cosine 0.5).
        let east = Offset::between(&place(60.0, 0.0), &place(60.0, 1.0)).east_km;
        assert!((east - 55.597).abs() < 1e-3, "{east}");
    }

    #[test]
    fn there_is_no_place_beyond_a_pole() {
        let offset = |east_km, north_km| Offset { east_km, north_km };
        assert_eq!(place_at(&place(89.9, 0.0), offset(0.0, 20.0)), None);
        assert_eq!(place_at(&place(90.0, 0.0), offset(1.0, 0.0)), None);
        assert!(place_at(&place(90.0, 0.0), offset(0.0, -50.0)).is_some());
    }
}
