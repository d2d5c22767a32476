//! From a draft to a plan: what each key says is fine, now they must go together.

use super::draft::{AirDraft, Draft, LocalWindDraft};
use super::keys::{
    DEFAULT_CLIMATE, DEFAULT_WIND_HEIGHT_M, chemistry, construction, rooms, surface,
};
use super::read::{PlacedStation, Places, Reading};
use super::report::{Document, Kind, Problem};
use super::stations::Part;
use super::time::{self, DAY_US};
use super::{normals, recorded};
use crate::link::air::Modulation;
use crate::link::{self, Neighbour};
use crate::plan::{Network, Plan, WeatherSource};
use crate::room;
use benchmast_protocol::frame::{Identity, SensorFit, Serial};
use benchmast_protocol::packet::HeadId;
use benchmast_sim::head;
use benchmast_sim::site::{LocalWind, Place, Site};
use benchmast_sim::weather::climate::Climate;
use std::ops::Range;
use std::path::Path;

/// Longest period, microseconds.
const LONGEST_US: i64 = 7305 * DAY_US;

/// Checks a draft and collects what does not go together.
pub(super) struct Assembler<'t> {
    pub(super) document: &'t Document,
    pub(super) base_dir: &'t Path,
    pub(super) problems: Vec<Problem>,
}

impl Assembler<'_> {
    pub(super) fn conflict(
        &mut self,
        span: Range<usize>,
        message: impl Into<String>,
        label: &str,
        help: impl Into<String>,
    ) {
        let problem = self
            .document
            .problem(Kind::Conflict, span, message, label, help);
        self.problems.push(problem);
    }

    /// The plans; `None` when something is missing or does not go together.
    pub(super) fn assemble(&mut self, reading: Reading) -> Option<Network> {
        let Reading {
            draft,
            places,
            stations,
            faults,
        } = reading;
        let period = self.period(&draft, &places, &stations);
        let weather = self.weather(&draft, &places, period);
        let reference = match (draft.latitude_deg, draft.longitude_deg, draft.altitude_m) {
            (Some(latitude_deg), Some(longitude_deg), Some(altitude_m)) => Some(Place {
                latitude_deg,
                longitude_deg,
                altitude_m,
            }),
            _ => None,
        };
        let mut parts = if stations.is_empty() {
            vec![Part {
                name: None,
                place: reference,
                draft: draft.clone(),
                places: places.clone(),
            }]
        } else {
            self.stations(&draft, &stations, reference)
        };
        let mut faults = self.faults_by_station(&faults, &stations).into_iter();
        let mut plans = Vec::new();
        for part in &mut parts {
            let identity = self.head(&part.draft, &part.places);
            let link = self.link(&part.draft, &part.places);
            let site = self.site(&part.draft, &part.places);
            let faults = faults.next().unwrap_or_default();
            let faults = match period {
                Some((start_us, end_us)) => self.faults(&faults, start_us, end_us),
                None => Vec::new(),
            };
            let make = || {
                let (start_us, end_us) = period?;
                Some(Plan {
                    title: draft.title.clone()?,
                    seed: draft.seed,
                    start_us,
                    end_us,
                    station: part.name.clone(),
                    place_name: draft.place_name.clone()?,
                    place: part.place?,
                    reference: part.name.as_ref().and(reference),
                    site: site?,
                    weather: weather.clone()?,
                    head_id: HeadId(part.draft.head_id),
                    identity: identity?,
                    key: part.draft.key,
                    head: head::Parameters {
                        cells: chemistry(part.draft.cells.as_deref()),
                        ..part.draft.head
                    },
                    link,
                    receiver: part.draft.receiver,
                    room: room(&part.draft),
                    faults,
                })
            };
            plans.extend(make());
        }
        if plans.len() < parts.len() {
            return None;
        }
        Some(Network {
            place_name: draft.place_name?,
            place: reference?,
            stations: plans,
        })
    }

    /// First and last instant.
    fn period(
        &mut self,
        draft: &Draft,
        places: &Places,
        stations: &[PlacedStation],
    ) -> Option<(i64, i64)> {
        let start_us = draft.start?.resolve(0);
        let (end_us, span) = match (draft.days, draft.end) {
            (Some(days), None) => (
                // Whole microseconds; 7305 days are far inside what a double counts exactly.
                start_us + (days * DAY_US as f64).round() as i64,
                places.value("period", "days"),
            ),
            (None, Some(end)) => (end.resolve(start_us), places.value("period", "end")),
            (Some(_), Some(_)) => {
                let span = places.value("period", "end");
                self.conflict(
                    span,
                    "`days` and `end` both say when the period ends",
                    "second statement",
                    "keep one of the two",
                );
                return None;
            }
            (None, None) => {
                // When one was written but refused, that has been said already.
                if !places.has_or_meant("period", "days") && !places.has_or_meant("period", "end") {
                    let problem = self.document.problem(
                        Kind::Missing,
                        places.header("period"),
                        "the period has no length",
                        "in this section",
                        "add days = 7 (or end = and a time) below it",
                    );
                    self.problems.push(problem);
                }
                return None;
            }
        };
        if end_us <= start_us {
            self.conflict(
                span,
                "the period ends before it begins",
                "not after `start`",
                format!(
                    "`start` is {}; give a later `end`, or days = 7 instead",
                    time::show(start_us)
                ),
            );
            return None;
        }
        if end_us - start_us > LONGEST_US {
            self.conflict(
                span,
                format!(
                    "the period is {} long",
                    time::show_duration(end_us - start_us)
                ),
                "too late",
                "a scenario covers at most 7305 days (twenty years); split it into several",
            );
            return None;
        }
        let of_stations = stations.iter().map(|station| station.whole.head.interval_s);
        let interval_s = of_stations.max().unwrap_or(draft.head.interval_s);
        if end_us - start_us < i64::from(interval_s) * 1_000_000 {
            self.conflict(
                span,
                format!("the period is shorter than one reporting interval of {interval_s} s"),
                "too short",
                "make the period longer, or `interval_s` of [head] shorter",
            );
            return None;
        }
        Some((start_us, end_us))
    }

    fn head(&mut self, draft: &Draft, places: &Places) -> Option<Identity> {
        let micrometres = draft.head.bucket_mm * 1000.0;
        if (micrometres - micrometres.round()).abs() > 1e-6 {
            self.conflict(
                places.value("head", "bucket_mm"),
                "`bucket_mm` is finer than the head can say",
                "finer than 0.001 mm",
                format!("write bucket_mm = {}", micrometres.round() / 1000.0),
            );
            return None;
        }
        Some(Identity {
            serial: Serial(draft.serial),
            hardware: draft.hardware,
            fit: SensorFit::ALL,
            interval_s: draft.head.interval_s,
            bucket_um: micrometres.round() as u16,
        })
    }

    fn link(&mut self, draft: &Draft, places: &Places) -> link::Parameters {
        let mut link = draft.link.clone();
        link.modulation = modulation(&draft.air);
        link.path = draft.path.outdoor_m.map(|outdoor_m| link::path::Path {
            outdoor_m,
            construction: construction(draft.path.construction.as_deref()),
            rooms: rooms(draft.path.rooms.as_deref()),
            floors: draft.path.floors as u8,
            ..draft.path.path
        });
        let span = if places.has("link", "burst_loss") {
            places.value("link", "burst_loss")
        } else {
            places.value("link", "loss")
        };
        if link.loss + link.burst_loss >= 1.0 {
            self.conflict(
                span,
                "`loss` and `burst_loss` together lose every packet",
                "together 1 or more",
                format!(
                    "allowed: a sum below 1; it is {} now",
                    link.loss + link.burst_loss
                ),
            );
        } else if link.burst_loss > link.burst_length / (link.burst_length + 1.0) {
            // Between two bursts at least one packet comes through.
            let least = (link.burst_loss / (1.0 - link.burst_loss)).ceil();
            self.conflict(
                span,
                format!("bursts of {} packets cannot lose so much", link.burst_length),
                "too much for this burst length",
                format!("between two bursts at least one packet comes through: lower `burst_loss`, or set burst_length = {least} or more"),
            );
        }
        if let Some(head_id) = draft.neighbour_head_id {
            if head_id == draft.head_id {
                self.conflict(
                    places.value("link.neighbour", "head_id"),
                    "the neighbour has the head's own radio address",
                    "same as [head]",
                    "give it another head_id, for example \"0000b002\"",
                );
            }
            link.neighbour = Some(Neighbour {
                head: HeadId(head_id),
                heard: draft.neighbour_heard,
            });
        }
        link
    }

    fn site(&mut self, draft: &Draft, places: &Places) -> Option<Site> {
        let local_wind = self.local_wind(&draft.local_wind, places);
        if draft.site.roughness_length_m * 2.0 > draft.site.height_m {
            let key = if places.has("site", "roughness_length_m") {
                "roughness_length_m"
            } else {
                "height_m"
            };
            self.conflict(
                places.value("site", key),
                format!(
                    "cups at {} m stand inside surroundings of roughness length {} m",
                    draft.site.height_m, draft.site.roughness_length_m
                ),
                "these do not go together",
                "`height_m` is at least twice `roughness_length_m`: below that, wind does not follow the logarithmic profile",
            );
        }
        let stands = draft.obstacles.height_m.iter().any(|height| *height > 0.0);
        if stands && !places.has("site", "obstacle_distance_m") {
            let problem = self.document.problem(
                Kind::Missing,
                places.value("site", "obstacle_height_m"),
                "an obstacle needs `obstacle_distance_m`",
                "how far away?",
                "add obstacle_distance_m = 15, or a list of 12 for the sectors",
            );
            self.problems.push(problem);
        }
        let surface = match &draft.surface {
            Some(word) => surface(word)?,
            // There is no such ground: that has been said.
            None if places.has("site", "surface") => return None,
            None => draft.site.surface,
        };
        Some(Site {
            local_wind: local_wind?,
            surface,
            obstacles: draft.obstacles.sectors(),
            ..draft.site
        })
    }

    fn local_wind(&mut self, draft: &LocalWindDraft, places: &Places) -> Option<LocalWind> {
        if draft.kind.is_none() && places.has("site", "local_wind") {
            // There is no such wind: that has been said.
            return None;
        }
        let kind = draft.kind.as_deref().unwrap_or("none");
        for (key, owner) in [
            ("onshore_from_deg", "sea_breeze"),
            ("shore_km", "sea_breeze"),
            ("up_valley_from_deg", "valley"),
        ] {
            if places.has("site", key) && kind != owner {
                self.conflict(
                    places.value("site", key),
                    format!("`{key}` goes with local_wind = \"{owner}\", and it is \"{kind}\""),
                    "another wind",
                    format!("write local_wind = \"{owner}\", or take the line out"),
                );
                return None;
            }
        }
        let mut needs = |key: &str, value: Option<f64>, example: &str| {
            if value.is_none() && !places.has_or_meant("site", key) {
                let problem = self.document.problem(
                    Kind::Missing,
                    places.value("site", "local_wind"),
                    format!("local wind \"{kind}\" needs `{key}`"),
                    "this wind",
                    format!("add {key} = {example}, where it blows from by day"),
                );
                self.problems.push(problem);
            }
            // North is 0, and the sim knows [0, 360).
            value.map(|degrees| degrees % 360.0)
        };
        Some(match kind {
            "sea_breeze" => LocalWind::SeaBreeze {
                onshore_from_deg: needs("onshore_from_deg", draft.onshore_from_deg, "190")?,
                shore_km: draft.shore_km.unwrap_or(0.0),
            },
            "valley" => LocalWind::Valley {
                up_valley_from_deg: needs("up_valley_from_deg", draft.up_valley_from_deg, "150")?,
            },
            _ => LocalWind::None,
        })
    }

    fn weather(
        &mut self,
        draft: &Draft,
        places: &Places,
        period: Option<(i64, i64)>,
    ) -> Option<WeatherSource> {
        let normals = places.has_section("weather.normals");
        let sources = [
            (
                "`climate`",
                places.has("weather", "climate"),
                places.value("weather", "climate"),
            ),
            (
                "`record`",
                places.has("weather", "record"),
                places.value("weather", "record"),
            ),
            (
                "[weather.normals]",
                normals,
                places.header("weather.normals"),
            ),
        ];
        let mut given = sources.iter().filter(|(_, given, _)| *given);
        if let (Some((first, ..)), Some((second, _, span))) = (given.next(), given.next()) {
            self.conflict(
                span.clone(),
                format!("{first} and {second} both say where the weather comes from"),
                "second source",
                "keep one of the two",
            );
            return None;
        }
        if draft.wind_height_m.is_some() && !places.has("weather", "record") {
            self.conflict(
                places.value("weather", "wind_height_m"),
                "`wind_height_m` goes with `record`",
                "no record",
                "take the line out: computed wind is known at every height",
            );
        }
        if let Some(record) = &draft.record {
            let file = self.base_dir.join(record);
            let span = places.value("weather", "record");
            return match recorded::read(self.document, span, &file, record, period) {
                Ok(records) => Some(WeatherSource::Recorded {
                    file,
                    records: records.into(),
                    wind_height_m: draft.wind_height_m.unwrap_or(DEFAULT_WIND_HEIGHT_M),
                }),
                Err(problems) => {
                    self.problems.extend(problems);
                    None
                }
            };
        }
        if places.has("weather", "record")
            || places.has("weather", "climate") && draft.climate.is_none()
        {
            return None;
        }
        let climate = if normals {
            normals::climate(self.document, &draft.normals, places, &mut self.problems)?
        } else {
            let name = draft.climate.as_deref().unwrap_or(DEFAULT_CLIMATE);
            Climate::by_name_at(name, draft.latitude_deg?)?
        };
        let climate = Box::new(climate);
        Some(WeatherSource::Synthetic { climate })
    }
}

fn modulation(draft: &AirDraft) -> Modulation {
    let bandwidth_hz = |usual_khz: f64| 1e3 * draft.bandwidth_khz.unwrap_or(usual_khz);
    if draft.modulation.as_deref() == Some("chirp") {
        Modulation::Chirp {
            spreading_factor: draft.spreading_factor as u8,
            bandwidth_hz: bandwidth_hz(125.0),
        }
    } else {
        Modulation::Keying {
            bit_rate: draft.bit_rate,
            bandwidth_hz: bandwidth_hz(100.0),
        }
    }
}

fn room(draft: &Draft) -> room::Parameters {
    let sky = draft
        .sky
        .window_azimuth_deg
        .map(|window_azimuth_deg| room::sky::Parameters {
            window_azimuth_deg,
            construction: construction(draft.sky.construction.as_deref()),
            ..draft.sky.sky
        });
    room::Parameters {
        sky,
        ..draft.room.clone()
    }
}
