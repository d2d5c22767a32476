//! From TOML to a draft, by the table of keys.

use super::draft::{Draft, FaultDraft, Slot, StationDraft};
use super::keys::{Allowed, FAULT, Key, Need, OF_STATIONS, SECTIONS, STATION, Section};
use super::nearest::{self, Unknown, bracketed};
use super::report::{Document, Kind, Problem};
use super::value;
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeString, DeTable, DeValue};

/// Where things stand in the text, for the problems that show only when keys are seen together.
#[derive(Debug, Clone, Default)]
pub(super) struct Places {
    /// Headers of the sections that are there.
    headers: BTreeMap<&'static str, Range<usize>>,
    /// Keys that were written wrongly: it was said, and they are not missing as well.
    meant: BTreeSet<(&'static str, &'static str)>,
    /// Values by section and key.
    keys: BTreeMap<(&'static str, &'static str), Range<usize>>,
}

impl Places {
    /// The value of a key, or its section's header, or the start of the file.
    pub(super) fn value(&self, section: &str, key: &str) -> Range<usize> {
        self.keys
            .iter()
            .find(|((s, k), _)| *s == section && *k == key)
            .map_or_else(|| self.header(section), |(_, value)| value.clone())
    }
    /// Whether a key was written.
    pub(super) fn has(&self, section: &str, key: &str) -> bool {
        self.keys.keys().any(|(s, k)| *s == section && *k == key)
    }
    /// Whether a key was written, or another that must have been meant as this one.
    pub(super) fn has_or_meant(&self, section: &str, key: &str) -> bool {
        self.has(section, key) || self.meant.iter().any(|(s, k)| *s == section && *k == key)
    }
    /// Whether a section was written.
    pub(super) fn has_section(&self, section: &str) -> bool {
        self.headers.contains_key(section)
    }
    /// These places, where `own` says nothing else.
    fn under(&self, own: &Self) -> Self {
        let mut both = self.clone();
        both.headers.extend(own.headers.clone());
        both.meant.extend(&own.meant);
        both.keys.extend(own.keys.clone());
        both
    }
    /// Forget that a key was written.
    pub(super) fn forget(&mut self, section: &'static str, key: &'static str) {
        self.keys.remove(&(section, key));
    }
    /// A section's header, or the start of the file.
    pub(super) fn header(&self, section: &str) -> Range<usize> {
        self.headers.get(section).cloned().unwrap_or(0..0)
    }
}

/// A fault and where it stands.
#[derive(Debug, Clone)]
pub(super) struct PlacedFault {
    pub(super) draft: FaultDraft,
    pub(super) places: Places,
    /// No problem was found in it.
    pub(super) sound: bool,
}

/// A station and where it stands in the text.
#[derive(Debug, Clone)]
pub(super) struct PlacedStation {
    pub(super) draft: StationDraft,
    /// The scenario's draft with the changes of this station.
    pub(super) whole: Draft,
    /// Where its own keys are.
    pub(super) own: Places,
    /// Where all keys are that hold for it, those of the whole scenario included.
    pub(super) places: Places,
    /// No problem was found in it.
    pub(super) sound: bool,
}

/// All that was read.
pub(super) struct Reading {
    pub(super) draft: Draft,
    pub(super) places: Places,
    /// The stations, if the scenario names any, sound or not.
    pub(super) stations: Vec<PlacedStation>,
    pub(super) faults: Vec<PlacedFault>,
}

/// Reads one document and collects what is wrong with it.
pub(super) struct Reader<'t> {
    pub(super) document: &'t Document,
    pub(super) problems: Vec<Problem>,
    /// What stands before the name of the section that is being read: `station.` or nothing.
    pub(super) within: &'static str,
}

type Entry<'e, 'i> = (&'e Spanned<DeString<'i>>, &'e Spanned<DeValue<'i>>);

impl Reader<'_> {
    /// Read the whole document.
    pub(super) fn read(&mut self, root: &DeTable<'_>) -> Reading {
        let mut reading = Reading {
            draft: Draft::default(),
            places: Places::default(),
            stations: Vec::new(),
            faults: Vec::new(),
        };
        reading.places.headers.insert("", 0..0);
        self.read_table("", root, &mut reading);
        // After everything that holds for all stations, wherever that stands in the file.
        if let Some((key, value)) = root.get_key_value(STATION.name) {
            self.read_stations(key, value, &mut reading);
        }
        for section in SECTIONS {
            // What is wrong with it has been said.
            if reading.places.has_or_meant("", section.name) {
                continue;
            }
            // A section that may be left out is not missing its keys.
            if reading.places.has_section(section.name)
                || matches!(section.name, "period" | "place")
            {
                self.demand(section, &reading.places);
            }
        }
        reading
    }

    /// One section of [`SECTIONS`] with its subsections.
    fn read_table(&mut self, name: &'static str, table: &DeTable<'_>, reading: &mut Reading) {
        let Some(section) = SECTIONS.iter().find(|section| section.name == name) else {
            return;
        };
        for (key, value) in in_order(table) {
            let word: &str = key.get_ref();
            let path = if name.is_empty() {
                word.to_owned()
            } else {
                format!("{name}.{word}")
            };
            if name.is_empty() && word == FAULT.name {
                self.read_faults(key, value, reading);
            } else if name.is_empty() && word == STATION.name {
                // Later.
            } else if let Some(below) = SECTIONS.iter().find(|section| section.name == path) {
                match value.get_ref() {
                    DeValue::Table(table) => {
                        reading
                            .places
                            .headers
                            .insert(below.name, header_span(key, value));
                        self.read_table(below.name, table, reading);
                    }
                    other => {
                        reading.places.meant.insert(("", below.name));
                        let repeated = matches!(other, DeValue::Array(_));
                        self.problems.push(value::not_a_section(
                            self.document,
                            below.name,
                            key,
                            value,
                            repeated,
                        ));
                    }
                }
            } else {
                self.read_key(
                    section,
                    (key, value),
                    &mut reading.draft,
                    &mut reading.places,
                );
            }
        }
    }

    fn read_faults(
        &mut self,
        key: &Spanned<DeString<'_>>,
        value: &Spanned<DeValue<'_>>,
        reading: &mut Reading,
    ) {
        let told = (
            "a fault is a section of its own, with at least an id and an onset",
            "write [[fault]], and below it id = \"...\" and onset = \"+2d09:00\"",
        );
        for (entry, table) in self.entries(key, value, told) {
            let found_before = self.problems.len();
            let mut fault = PlacedFault {
                draft: FaultDraft::default(),
                places: Places::default(),
                sound: true,
            };
            fault.places.headers.insert(FAULT.name, entry.span());
            for entry in in_order(table) {
                self.read_key(&FAULT, entry, &mut fault.draft, &mut fault.places);
            }
            self.demand(&FAULT, &fault.places);
            fault.sound = self.problems.len() == found_before;
            reading.faults.push(fault);
        }
    }

    /// The entries of a section that is repeated. `told` is what to say of an entry that is no section.
    fn entries<'e, 'i>(
        &mut self,
        key: &Spanned<DeString<'_>>,
        value: &'e Spanned<DeValue<'i>>,
        told: (&str, &str),
    ) -> Vec<(&'e Spanned<DeValue<'i>>, &'e DeTable<'i>)> {
        let name = key.get_ref();
        let DeValue::Array(entries) = value.get_ref() else {
            self.problems.push(self.document.problem(
                Kind::WrongType,
                header_span(key, value),
                format!("`{name}` is a list: its section has double brackets"),
                "single brackets",
                format!("write [[{name}]] above each {name}, also when there is only one"),
            ));
            return Vec::new();
        };
        let mut tables = Vec::new();
        for entry in entries {
            match entry.get_ref() {
                DeValue::Table(table) => tables.push((entry, table)),
                other => self.problems.push(self.document.problem(
                    Kind::WrongType,
                    entry.span(),
                    told.0,
                    value::type_name(other),
                    told.1,
                )),
            }
        }
        tables
    }

    fn read_stations(
        &mut self,
        key: &Spanned<DeString<'_>>,
        value: &Spanned<DeValue<'_>>,
        reading: &mut Reading,
    ) {
        let told = (
            "a station is a section of its own, with at least a name",
            "write [[station]], and below it name = \"...\", east_km = 10 and north_km = 0",
        );
        for (entry, table) in self.entries(key, value, told) {
            let found_before = self.problems.len();
            let mut station = PlacedStation {
                draft: StationDraft::default(),
                whole: reading.draft.clone(),
                own: Places::default(),
                places: Places::default(),
                sound: true,
            };
            station.own.headers.insert(STATION.name, entry.span());
            for entry in in_order(table) {
                let word: &str = entry.0.get_ref();
                if OF_STATIONS.contains(&word) {
                    self.within = "station.";
                    self.read_of_station(word, entry, &mut station);
                    self.within = "";
                } else if let Some(problem) = self.misplaced_in_station(entry) {
                    self.problems.push(problem);
                } else {
                    self.read_key(&STATION, entry, &mut station.draft, &mut station.own);
                }
            }
            self.demand(&STATION, &station.own);
            station.places = reading.places.under(&station.own);
            self.within = "station.";
            for section in SECTIONS {
                // What the section of all stations lacks has been said.
                if station.own.has_section(section.name) {
                    self.demand(section, &station.places);
                }
            }
            self.within = "";
            station.sound = self.problems.len() == found_before;
            reading.stations.push(station);
        }
    }

    /// A section that belongs elsewhere.
    fn misplaced_in_station(&self, (key, value): Entry<'_, '_>) -> Option<Problem> {
        let word: &str = key.get_ref();
        let (message, help) = match word {
            "fault" => (
                "a fault stands by itself and names its station",
                "write [[fault]] instead, and below it station = \"...\"",
            ),
            "place" => (
                "a station says where it stands by itself",
                "write east_km and north_km from [place], or latitude_deg and longitude_deg, below [[station]]",
            ),
            "weather" | "period" => (
                "all stations of a scenario share weather and period",
                "take it out: one [weather] and one [period] hold for all",
            ),
            _ => return None,
        };
        let span = match value.get_ref() {
            DeValue::Array(list) => list.first().map_or_else(|| key.span(), Spanned::span),
            _ => header_span(key, value),
        };
        let document = self.document;
        Some(document.problem(Kind::UnknownWord, span, message, "not in a station", help))
    }

    /// One of the sections below `[[station]]`, with its subsections.
    fn read_of_station(
        &mut self,
        name: &str,
        (key, value): Entry<'_, '_>,
        station: &mut PlacedStation,
    ) {
        let Some(section) = SECTIONS.iter().find(|section| section.name == name) else {
            return;
        };
        let DeValue::Table(table) = value.get_ref() else {
            let shown = format!("{}{name}", self.within);
            let repeated = matches!(value.get_ref(), DeValue::Array(_));
            self.problems.push(value::not_a_section(
                self.document,
                &shown,
                key,
                value,
                repeated,
            ));
            return;
        };
        station
            .own
            .headers
            .insert(section.name, header_span(key, value));
        for entry in in_order(table) {
            let below = format!("{name}.{}", entry.0.get_ref());
            if OF_STATIONS.contains(&&*below) {
                self.read_of_station(&below, entry, station);
            } else {
                self.read_key(section, entry, &mut station.whole, &mut station.own);
            }
        }
    }

    /// One `key = value`.
    fn read_key<D>(
        &mut self,
        section: &Section<D>,
        entry: Entry<'_, '_>,
        draft: &mut D,
        places: &mut Places,
    ) {
        let (name, written) = entry;
        let Some(key) = section.keys.iter().find(|key| key.name == name.get_ref()) else {
            let (problem, meant) = nearest::unknown_key(&Unknown {
                document: self.document,
                section: section.name,
                within: self.within,
                key: name,
                value: written,
            });
            self.problems.push(problem);
            if let Some(key) = meant {
                places.meant.insert((section.name, key));
            }
            return;
        };
        places.keys.insert((section.name, key.name), written.span());
        let mut slot = (key.slot)(draft);
        let shown = format!("{}{}", self.within, section.name);
        if let Err(problem) = value::store(self.document, &shown, key, written, &mut slot) {
            self.problems.push(*problem);
        }
    }

    /// Say which required keys of a section are missing.
    fn demand<D>(&mut self, section: &Section<D>, places: &Places) {
        let missing: Vec<&Key<D>> = section
            .keys
            .iter()
            .filter(|key| {
                key.need == Need::Required && !places.has_or_meant(section.name, key.name)
            })
            .collect();
        let Some(first) = missing.first() else { return };
        let names: Vec<_> = missing
            .iter()
            .map(|key| format!("`{}`", key.name))
            .collect();
        let examples: Vec<_> = missing
            .iter()
            .map(|key| format!("{} = {}", key.name, example(key)))
            .collect();
        let (span, label, help) = if section.name.is_empty() {
            (
                0..0,
                "here".to_owned(),
                format!(
                    "put it at the top, before the first [section]: {}",
                    examples.join(", ")
                ),
            )
        } else if places.has_section(section.name) {
            let below = if missing.len() == 1 {
                first.meaning.to_owned()
            } else {
                String::new()
            };
            (
                places.header(section.name),
                "in this section".to_owned(),
                format!("add below it: {}\n{below}", examples.join(", "))
                    .trim_end()
                    .to_owned(),
            )
        } else {
            let end = self.document.text().len();
            (
                end..end,
                "add it below".to_owned(),
                format!(
                    "add {} ({}) and below it: {}",
                    bracketed(section.name),
                    section.meaning,
                    examples.join(", ")
                ),
            )
        };
        let owner = match section.name {
            "" => "the scenario".to_owned(),
            name if name == FAULT.name => "this fault".to_owned(),
            name if name == STATION.name => "this station".to_owned(),
            name => bracketed(&format!("{}{name}", self.within)),
        };
        self.problems.push(self.document.problem(
            Kind::Missing,
            span,
            format!("{owner} needs {}", listed(&names)),
            label,
            help,
        ));
    }
}

/// `a`, `a and b`, `a, b and c`.
pub(super) fn listed(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [start @ .., last] => format!("{} and {last}", start.join(", ")),
    }
}

/// A value that the key would take, for help texts.
fn example<D>(key: &Key<D>) -> String {
    match (key.name, key.allowed) {
        ("latitude_deg", _) => "52.0".to_owned(),
        ("longitude_deg", _) => "-3.5".to_owned(),
        ("altitude_m", _) => "40".to_owned(),
        // Together a climate that could be.
        ("mean_temperature_degc", _) => "10".to_owned(),
        ("daily_range_k", _) => "8".to_owned(),
        ("mean_dew_point_degc", _) => "6".to_owned(),
        ("rain_mm", _) => "60".to_owned(),
        ("wet_hours", _) => "55".to_owned(),
        ("mean_wind_speed_ms", _) => "4".to_owned(),
        ("prevailing_direction_deg", _) => "240".to_owned(),
        ("cloud_area_fraction", _) => "0.6".to_owned(),
        ("name", _) if key.meaning.starts_with("Short") => "\"hill\"".to_owned(),
        ("name", _) => "\"Example Hill\"".to_owned(),
        (_, Allowed::Words(words)) => format!("\"{}\"", words().first().unwrap_or(&"")),
        (_, Allowed::Instant) => "2026-04-01T00:00:00Z".to_owned(),
        (_, Allowed::Moment) => "\"+2d09:00\"".to_owned(),
        (_, Allowed::Address) => "\"0000b002\"".to_owned(),
        (_, Allowed::Secret) => "\"2b7e151628aed2a6abf7158809cf4f3c\"".to_owned(),
        (_, Allowed::Range(least, _) | Allowed::Above(least, _)) => format!("{least}"),
        (_, Allowed::Flag) => "true".to_owned(),
        (_, Allowed::Text) => "\"...\"".to_owned(),
    }
}

/// The entries of a table in the order of the text; the parser keeps them by name.
fn in_order<'e, 'i>(table: &'e DeTable<'i>) -> Vec<Entry<'e, 'i>> {
    let mut entries: Vec<_> = table.iter().collect();
    entries.sort_by_key(|(key, _)| key.span().start);
    entries
}

/// The header of a section: `[place]`, or its key where it is written in another way.
fn header_span(key: &Spanned<DeString<'_>>, value: &Spanned<DeValue<'_>>) -> Range<usize> {
    let span = value.span();
    // The span of an inline table is the whole of it; its key says enough.
    if span.start > key.span().end {
        key.span()
    } else {
        span
    }
}

/// A slot's kind, for messages.
pub(super) fn wanted(slot: &Slot<'_>, allowed: Allowed) -> &'static str {
    match (slot, allowed) {
        (Slot::Number(_) | Slot::MaybeNumber(_), _) => "a number",
        (Slot::Short(_) | Slot::Long(_), _) => "a whole number",
        (Slot::Address(_) | Slot::MaybeAddress(_), _) => "eight hexadecimal digits in quotes",
        (Slot::MaybeKey(_), _) => "thirty-two hexadecimal digits in quotes",
        (Slot::Flag(_), _) => "true or false",
        (Slot::MaybeText(_), Allowed::Words(_)) => "one of a list of words, in quotes",
        (Slot::MaybeText(_), _) => "text in quotes",
        (Slot::MaybeMoment(_), _) => "a time",
        (Slot::Numbers(_), _) => "a list of numbers (or one for all directions)",
        (Slot::MaybeMonths(_), _) => "twelve numbers, January to December (or one for all)",
    }
}
