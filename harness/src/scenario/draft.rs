//! A scenario as written: what the table of keys reads into, before it is known to make sense.

use super::time::Moment;
use crate::link;
use crate::plan::ReceiverPlan;
use crate::room;
use benchmast_protocol::tag::Key;
use benchmast_sim::head;
use benchmast_sim::site::obstacles::{Obstacle, SECTORS};
use benchmast_sim::site::{LocalWind, Site};

/// Where a key's value goes; its type decides what the key takes.
pub(super) enum Slot<'d> {
    /// A number.
    Number(&'d mut f64),
    /// A number that may be left out.
    MaybeNumber(&'d mut Option<f64>),
    /// A whole number.
    Short(&'d mut u16),
    /// A whole number.
    Long(&'d mut u64),
    /// A radio address.
    Address(&'d mut u32),
    /// A radio address that may be left out.
    MaybeAddress(&'d mut Option<u32>),
    /// A key that may be left out.
    MaybeKey(&'d mut Option<Key>),
    /// Yes or no.
    Flag(&'d mut bool),
    /// Text, or one word of a list, that may be left out.
    MaybeText(&'d mut Option<String>),
    /// A time that may be left out.
    MaybeMoment(&'d mut Option<Moment>),
    /// A number for each of so many directions, or one for all.
    Numbers(&'d mut [f64]),
    /// A number for each month that may be left out.
    MaybeMonths(&'d mut Option<[f64; 12]>),
}

/// Everything but the stations and the faults.
#[derive(Debug, Clone)]
pub(super) struct Draft {
    pub(super) title: Option<String>,
    pub(super) seed: u64,
    pub(super) start: Option<Moment>,
    pub(super) end: Option<Moment>,
    pub(super) days: Option<f64>,
    pub(super) place_name: Option<String>,
    pub(super) latitude_deg: Option<f64>,
    pub(super) longitude_deg: Option<f64>,
    pub(super) altitude_m: Option<f64>,
    pub(super) climate: Option<String>,
    pub(super) record: Option<String>,
    pub(super) wind_height_m: Option<f64>,
    pub(super) normals: NormalsDraft,
    pub(super) site: Site,
    pub(super) local_wind: LocalWindDraft,
    pub(super) surface: Option<String>,
    pub(super) obstacles: ObstaclesDraft,
    pub(super) serial: u64,
    pub(super) head_id: u32,
    pub(super) hardware: u16,
    pub(super) key: Option<Key>,
    pub(super) head: head::Parameters,
    pub(super) link: link::Parameters,
    pub(super) neighbour_head_id: Option<u32>,
    pub(super) neighbour_heard: f64,
    pub(super) receiver: ReceiverPlan,
    pub(super) cells: Option<String>,
    pub(super) air: AirDraft,
    pub(super) path: PathDraft,
    pub(super) room: room::Parameters,
    pub(super) sky: SkyDraft,
}

/// How bits are put on the air.
#[derive(Debug, Clone)]
pub(super) struct AirDraft {
    pub(super) modulation: Option<String>,
    pub(super) bit_rate: f64,
    pub(super) bandwidth_khz: Option<f64>,
    pub(super) spreading_factor: u16,
}

/// The radio path by its geometry.
#[derive(Debug, Clone, Default)]
pub(super) struct PathDraft {
    pub(super) outdoor_m: Option<f64>,
    pub(super) path: link::path::Path,
    pub(super) construction: Option<String>,
    pub(super) rooms: Option<String>,
    pub(super) floors: u16,
}

/// The sky that the receiver sees.
#[derive(Debug, Clone, Default)]
pub(super) struct SkyDraft {
    pub(super) window_azimuth_deg: Option<f64>,
    pub(super) sky: room::sky::Parameters,
    pub(super) construction: Option<String>,
}

/// Climate of a place by quantity, as people have it in their tables.
#[derive(Debug, Clone, Default)]
pub(super) struct NormalsDraft {
    pub(super) mean_temperature_degc: Option<[f64; 12]>,
    pub(super) daily_range_k: Option<[f64; 12]>,
    pub(super) mean_dew_point_degc: Option<[f64; 12]>,
    pub(super) rain_mm: Option<[f64; 12]>,
    pub(super) wet_hours: Option<[f64; 12]>,
    pub(super) mean_wind_speed_ms: Option<[f64; 12]>,
    pub(super) prevailing_direction_deg: Option<[f64; 12]>,
    pub(super) cloud_area_fraction: Option<[f64; 12]>,
    pub(super) linke_turbidity: Option<[f64; 12]>,
    pub(super) second_direction_deg: Option<[f64; 12]>,
    pub(super) second_share: Option<[f64; 12]>,
}

/// What stands around the head, quantity by quantity.
#[derive(Debug, Clone)]
pub(super) struct ObstaclesDraft {
    pub(super) height_m: [f64; SECTORS],
    pub(super) distance_m: [f64; SECTORS],
    pub(super) porosity: [f64; SECTORS],
    pub(super) reflectance: [f64; SECTORS],
}

impl From<[Obstacle; SECTORS]> for ObstaclesDraft {
    fn from(obstacles: [Obstacle; SECTORS]) -> Self {
        Self {
            height_m: obstacles.map(|obstacle| obstacle.height_m),
            distance_m: obstacles.map(|obstacle| obstacle.distance_m),
            porosity: obstacles.map(|obstacle| obstacle.porosity),
            reflectance: obstacles.map(|obstacle| obstacle.reflectance),
        }
    }
}

impl ObstaclesDraft {
    /// Sector by sector.
    pub(super) fn sectors(&self) -> [Obstacle; SECTORS] {
        std::array::from_fn(|sector| Obstacle {
            distance_m: self.distance_m[sector],
            height_m: self.height_m[sector],
            porosity: self.porosity[sector],
            reflectance: self.reflectance[sector],
        })
    }
}

/// The terrain's own wind, in the words of the scenario.
#[derive(Debug, Clone, Default)]
pub(super) struct LocalWindDraft {
    pub(super) kind: Option<String>,
    pub(super) onshore_from_deg: Option<f64>,
    pub(super) shore_km: Option<f64>,
    pub(super) up_valley_from_deg: Option<f64>,
}

impl From<LocalWind> for LocalWindDraft {
    fn from(wind: LocalWind) -> Self {
        let of = |kind: &str| Self {
            kind: Some(kind.to_owned()),
            ..Self::default()
        };
        match wind {
            LocalWind::None => Self::default(),
            LocalWind::SeaBreeze {
                onshore_from_deg,
                shore_km,
            } => Self {
                onshore_from_deg: Some(onshore_from_deg),
                shore_km: Some(shore_km),
                ..of("sea_breeze")
            },
            LocalWind::Valley { up_valley_from_deg } => Self {
                up_valley_from_deg: Some(up_valley_from_deg),
                ..of("valley")
            },
        }
    }
}

/// One `[[station]]`, without the sections below it.
#[derive(Debug, Clone, Default)]
pub(super) struct StationDraft {
    pub(super) name: Option<String>,
    pub(super) east_km: Option<f64>,
    pub(super) north_km: Option<f64>,
    pub(super) latitude_deg: Option<f64>,
    pub(super) longitude_deg: Option<f64>,
    pub(super) altitude_m: Option<f64>,
}

impl Default for Draft {
    fn default() -> Self {
        Self {
            title: None,
            seed: 1,
            start: None,
            end: None,
            days: None,
            place_name: None,
            latitude_deg: None,
            longitude_deg: None,
            altitude_m: None,
            climate: None,
            record: None,
            wind_height_m: None,
            normals: NormalsDraft::default(),
            site: Site::default(),
            local_wind: LocalWindDraft::default(),
            surface: None,
            obstacles: Site::default().obstacles.into(),
            serial: 1_000_000_001,
            head_id: 0x0000_a001,
            hardware: 1,
            key: None,
            head: head::Parameters::default(),
            link: link::Parameters::default(),
            neighbour_head_id: None,
            neighbour_heard: 0.5,
            receiver: ReceiverPlan::default(),
            cells: None,
            air: AirDraft {
                modulation: None,
                bit_rate: 38_400.0,
                bandwidth_khz: None,
                spreading_factor: 9,
            },
            path: PathDraft::default(),
            room: room::Parameters::default(),
            sky: SkyDraft::default(),
        }
    }
}

/// One `[[fault]]`.
#[derive(Debug, Clone)]
pub(super) struct FaultDraft {
    pub(super) id: Option<String>,
    pub(super) station: Option<String>,
    pub(super) onset: Option<Moment>,
    pub(super) end: Option<Moment>,
    pub(super) for_hours: Option<f64>,
    pub(super) for_days: Option<f64>,
    pub(super) shape: Option<String>,
    pub(super) ramp_hours: Option<f64>,
    pub(super) period_minutes: Option<f64>,
    pub(super) duty: Option<f64>,
    pub(super) severity: f64,
}

impl Default for FaultDraft {
    fn default() -> Self {
        Self {
            id: None,
            station: None,
            onset: None,
            end: None,
            for_hours: None,
            for_days: None,
            shape: None,
            ramp_hours: None,
            period_minutes: None,
            duty: None,
            severity: 1.0,
        }
    }
}
