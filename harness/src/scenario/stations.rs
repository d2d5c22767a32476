//! From the `[[station]]` sections to stations with a name, a place and numbers of their own.

use super::assemble::Assembler;
use super::draft::{Draft, StationDraft};
use super::keys::{FARTHEST_KM, MOST_STATIONS};
use super::nearest::suggestion;
use super::read::{PlacedFault, PlacedStation, Places};
use super::report::Kind;
use crate::plan::{distance_km, place_at};
use benchmast_protocol::frame::Serial;
use benchmast_sim::site::Place;
use benchmast_sim::weather::Offset;
use std::collections::BTreeMap;
use std::ops::Range;

/// Longest name of a station, characters.
const LONGEST_NAME: usize = 40;

/// What one plan is made of.
pub(super) struct Part {
    pub(super) name: Option<String>,
    pub(super) place: Option<Place>,
    pub(super) draft: Draft,
    pub(super) places: Places,
}

/// Keys of a local wind, which go with one kind of it.
const OF_LOCAL_WIND: [&str; 3] = ["onshore_from_deg", "shore_km", "up_valley_from_deg"];

impl Assembler<'_> {
    /// The stations in the order of the file, each with numbers of its own.
    pub(super) fn stations(
        &mut self,
        draft: &Draft,
        stations: &[PlacedStation],
        reference: Option<Place>,
    ) -> Vec<Part> {
        if let Some(first_too_many) = stations.get(MOST_STATIONS) {
            self.conflict(
                first_too_many.own.header("station"),
                format!("there are {} stations", stations.len()),
                "too many",
                format!("a scenario holds at most {MOST_STATIONS}; split it into several"),
            );
        }
        self.names(stations);
        let parts = stations.iter().zip(0_u32..).map(|(station, number)| {
            let place = reference.and_then(|reference| self.place(station, reference));
            let mut own = station.whole.clone();
            // Numbered on from what stands for all, so that a network needs no numbers.
            if !station.own.has_or_meant("head", "serial") {
                own.serial = draft.serial.saturating_add(number.into()).min(Serial::MAX);
            }
            if !station.own.has_or_meant("head", "head_id") {
                own.head_id = draft.head_id.wrapping_add(number);
            }
            let mut places = station.places.clone();
            if station.own.has("site", "local_wind") && own.local_wind.kind != draft.local_wind.kind
            {
                // What the scenario says of another wind does not count here.
                let slots = [
                    &mut own.local_wind.onshore_from_deg,
                    &mut own.local_wind.shore_km,
                    &mut own.local_wind.up_valley_from_deg,
                ];
                for (key, slot) in OF_LOCAL_WIND.into_iter().zip(slots) {
                    if !station.own.has("site", key) {
                        places.forget("site", key);
                        *slot = None;
                    }
                }
            }
            Part {
                name: station.draft.name.clone(),
                place,
                draft: own,
                places,
            }
        });
        let parts: Vec<Part> = parts.collect();
        let serials = parts.iter().map(|part| part.draft.serial);
        self.unlike(stations, "serial", serials, |serial| {
            Serial(serial).to_string()
        });
        let addresses = parts.iter().map(|part| u64::from(part.draft.head_id));
        self.unlike(stations, "head_id", addresses, |address| {
            format!("\"{address:08x}\"")
        });
        parts
    }

    /// Every name is fit for a folder and there once.
    fn names(&mut self, stations: &[PlacedStation]) {
        let mut seen: BTreeMap<String, Range<usize>> = BTreeMap::new();
        for station in stations {
            let Some(name) = &station.draft.name else {
                continue;
            };
            let span = station.own.value("station", "name");
            let fits = |c: char| c.is_ascii_alphanumeric() || matches!(c, '_' | '-');
            let begins = name.starts_with(|c: char| c.is_ascii_alphanumeric());
            if !begins || !name.chars().all(fits) || name.chars().count() > LONGEST_NAME {
                self.conflict(
                    span,
                    "a station's name is the name of its folder, too",
                    "not fit for a folder",
                    format!(
                        "letters a-z, digits, `_` and `-`, a letter or digit first, at most {LONGEST_NAME}: for example name = \"{}\"",
                        folder_like(name)
                    ),
                );
                continue;
            }
            // Some file systems do not tell large letters from small ones.
            match seen.get(&name.to_lowercase()) {
                Some(earlier) => {
                    let problem = self
                        .document
                        .problem(
                            Kind::Conflict,
                            span,
                            format!("two stations are called \"{name}\""),
                            "again",
                            "give each station a name of its own; large and small letters do not count",
                        )
                        .and_at(earlier.clone(), "first");
                    self.problems.push(problem);
                }
                None => {
                    seen.insert(name.to_lowercase(), span);
                }
            }
        }
    }

    /// No two heads have the same number.
    fn unlike(
        &mut self,
        stations: &[PlacedStation],
        key: &'static str,
        values: impl Iterator<Item = u64>,
        show: impl Fn(u64) -> String,
    ) {
        let mut seen: BTreeMap<u64, Range<usize>> = BTreeMap::new();
        for (station, value) in stations.iter().zip(values) {
            let span = if station.own.has("head", key) {
                station.own.value("head", key)
            } else {
                station.own.header("station")
            };
            if let Some(earlier) = seen.insert(value, span.clone()) {
                let line = self.document.line(earlier.start);
                self.conflict(
                    span,
                    format!("two stations have the {key} {}", show(value)),
                    "the second one",
                    format!(
                        "the first is in line {line}; give each a {key} of its own in [station.head], or none: they are numbered on from that of [head]"
                    ),
                );
            }
        }
    }

    /// Where a station stands.
    fn place(&mut self, station: &PlacedStation, reference: Place) -> Option<Place> {
        let StationDraft {
            east_km,
            north_km,
            latitude_deg,
            longitude_deg,
            altitude_m,
            ..
        } = station.draft;
        let own = &station.own;
        let first = |keys: [&'static str; 2]| {
            let written = keys.into_iter().find(|key| own.has("station", key));
            written.map(|key| (key, own.value("station", key)))
        };
        let in_km = first(["east_km", "north_km"]);
        let in_degrees = first(["latitude_deg", "longitude_deg"]);
        if let (Some((km, _)), Some((degrees, span))) = (&in_km, &in_degrees) {
            self.conflict(
                span.clone(),
                format!("`{km}` and `{degrees}` both say where the station stands"),
                "second statement",
                "keep east_km and north_km, or latitude_deg and longitude_deg",
            );
            return None;
        }
        let place = if let Some((_, span)) = in_degrees {
            for (key, value) in [
                ("latitude_deg", latitude_deg),
                ("longitude_deg", longitude_deg),
            ] {
                if value.is_none() && !own.has_or_meant("station", key) {
                    let problem = self.document.problem(
                        Kind::Missing,
                        span.clone(),
                        format!("this station has no `{key}`"),
                        "only one of two",
                        format!("add {key} = and a number, or write east_km and north_km instead"),
                    );
                    self.problems.push(problem);
                }
            }
            Place {
                latitude_deg: latitude_deg?,
                longitude_deg: longitude_deg?,
                altitude_m: reference.altitude_m,
            }
        } else {
            let offset = Offset {
                east_km: east_km.unwrap_or(0.0),
                north_km: north_km.unwrap_or(0.0),
            };
            let Some(place) = place_at(&reference, offset) else {
                self.conflict(
                    in_km.map_or(own.header("station"), |(_, span)| span),
                    "east and north mean nothing so near to a pole",
                    "beyond the pole",
                    "write latitude_deg and longitude_deg instead",
                );
                return None;
            };
            place
        };
        let distance = distance_km(&reference, &place);
        if distance > FARTHEST_KM {
            let keys = ["latitude_deg", "longitude_deg", "east_km", "north_km"];
            let written = keys.into_iter().find(|key| own.has("station", key));
            self.conflict(
                written.map_or(own.header("station"), |key| own.value("station", key)),
                format!("this station stands {distance:.0} km from [place]"),
                "too far",
                format!("the stations of a region stand at most {FARTHEST_KM} km from its place: farther away there is other weather"),
            );
            return None;
        }
        Some(Place {
            altitude_m: altitude_m.unwrap_or(reference.altitude_m),
            ..place
        })
    }

    /// The faults of each station, in the order of the stations; of the only one where none is named.
    pub(super) fn faults_by_station<'f>(
        &mut self,
        faults: &'f [PlacedFault],
        stations: &[PlacedStation],
    ) -> Vec<Vec<&'f PlacedFault>> {
        let names: Vec<&str> = stations
            .iter()
            .map(|station| station.draft.name.as_deref().unwrap_or_default())
            .collect();
        let known: Vec<&str> = names
            .iter()
            .copied()
            .filter(|name| !name.is_empty())
            .collect();
        let mut by_station = vec![Vec::new(); stations.len().max(1)];
        for fault in faults {
            let at = fault.places.value("fault", "station");
            let number = match fault.draft.station.as_deref() {
                None if stations.len() < 2 => Some(0),
                None => {
                    if !fault.places.has_or_meant("fault", "station") {
                        let problem = self.document.problem(
                            Kind::Missing,
                            at,
                            "this fault does not say at which station it is",
                            "in this section",
                            format!("add station = and one of: {}", known.join(", ")),
                        );
                        self.problems.push(problem);
                    }
                    None
                }
                Some(_) if stations.is_empty() => {
                    self.conflict(
                        at,
                        "the scenario has one station, without a name",
                        "no such station",
                        "take the line out, or write [[station]] with a name for each station",
                    );
                    None
                }
                Some(name) => {
                    let found = names.iter().position(|other| *other == name);
                    if found.is_none() {
                        let problem = self.document.problem(
                            Kind::UnknownWord,
                            at,
                            format!("there is no station called \"{name}\""),
                            "unknown",
                            suggestion(name, &known),
                        );
                        self.problems.push(problem);
                    }
                    found
                }
            };
            if let Some(list) = number.and_then(|number| by_station.get_mut(number)) {
                list.push(fault);
            }
        }
        by_station
    }
}

/// The nearest name that is fit for a folder.
fn folder_like(name: &str) -> String {
    let mut folder: String = name
        .chars()
        .map(|c| match c.to_ascii_lowercase() {
            c if c.is_ascii_alphanumeric() || matches!(c, '_' | '-') => c,
            _ => '_',
        })
        .take(LONGEST_NAME)
        .collect();
    folder = folder.trim_matches(['_', '-']).to_owned();
    if folder.is_empty() {
        folder.push_str("north");
    }
    folder
}
