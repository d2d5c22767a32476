//! The nearest valid word for one that the scenario language does not have.

use super::keys::{FAULT, OF_STATIONS, SECTIONS, STATION};
use super::report::{Document, Kind, Problem};
use super::units;
use super::value;
use toml::Spanned;
use toml::de::{DeString, DeValue};

/// From this similarity on (Jaro and Winkler's, 0 to 1) a word may be meant: it finds left-out parts and
/// words that begin alike. Common practice, no source.
const SIMILAR: f64 = 0.82;

/// The word of a list that is nearest to `word`, if any is near enough to be meant.
pub(super) fn nearest<'w>(word: &str, words: impl IntoIterator<Item = &'w str>) -> Option<&'w str> {
    let word = word.to_lowercase().replace(['-', ' '], "_");
    if word.is_empty() {
        return None;
    }
    words
        .into_iter()
        .map(|candidate| (strsim::jaro_winkler(&word, candidate), candidate))
        .filter(|(similarity, candidate)| {
            let slips = strsim::damerau_levenshtein(&word, candidate);
            *similarity >= SIMILAR || slips <= candidate.chars().count() / 3
        })
        .max_by(|(one, _), (other, _)| one.total_cmp(other))
        .map(|(_, candidate)| candidate)
}

/// "Did you mean", or the whole list.
pub(super) fn suggestion(word: &str, words: &[&str]) -> String {
    let all = words.join(", ");
    match nearest(word, words.iter().copied()) {
        Some(candidate) => format!("did you mean \"{candidate}\"? Possible are: {all}"),
        None => format!("possible are: {all}"),
    }
}

/// A key that its section does not have.
pub(super) struct Unknown<'u, 'i> {
    pub(super) document: &'u Document,
    pub(super) section: &'u str,
    /// What stands before the section's name: `station.` or nothing.
    pub(super) within: &'u str,
    pub(super) key: &'u Spanned<DeString<'i>>,
    pub(super) value: &'u Spanned<DeValue<'i>>,
}

/// Name and unit of every key, by section.
fn vocabulary() -> impl Iterator<Item = (&'static str, &'static str, &'static str)> {
    SECTIONS
        .iter()
        .flat_map(|section| {
            section
                .keys
                .iter()
                .map(|key| (section.name, key.name, key.unit))
        })
        .chain(
            STATION
                .keys
                .iter()
                .map(|key| (STATION.name, key.name, key.unit)),
        )
        .chain(
            FAULT
                .keys
                .iter()
                .map(|key| (FAULT.name, key.name, key.unit)),
        )
}

/// The words that may stand in a section: its keys, then its subsections.
fn words_of(section: &str) -> Vec<&'static str> {
    let below = SECTIONS
        .iter()
        .map(|section| section.name)
        .chain([STATION.name, FAULT.name])
        .filter_map(|name| match name.rsplit_once('.') {
            Some((parent, last)) => (parent == section).then_some(last),
            None if section == STATION.name => OF_STATIONS.contains(&name).then_some(name),
            None => (section.is_empty() && !name.is_empty()).then_some(name),
        });
    vocabulary()
        .filter(|(owner, ..)| *owner == section)
        .map(|(_, name, _)| name)
        .chain(below)
        .collect()
}

/// A section as people write it.
pub(super) fn bracketed(section: &str) -> String {
    match section {
        "" => "the top of the file".to_owned(),
        name if name == FAULT.name || name == STATION.name => format!("[[{name}]]"),
        name => format!("[{name}]"),
    }
}

/// Say what is meant instead of an unknown key; with it, the key of this section that is meant, if one is.
pub(super) fn unknown_key(unknown: &Unknown<'_, '_>) -> (Problem, Option<&'static str>) {
    let word: &str = unknown.key.get_ref();
    let here = bracketed(&format!("{}{}", unknown.within, unknown.section));
    // A station's own sections have the names of the scenario's.
    let in_station = !unknown.within.is_empty() || unknown.section == STATION.name;
    let where_it_is = |owner: &str| {
        if in_station && OF_STATIONS.contains(&owner) {
            bracketed(&format!("{}.{owner}", STATION.name))
        } else {
            bracketed(owner)
        }
    };
    let problem = |kind, message: String, label: &str, help: String| {
        unknown
            .document
            .problem(kind, unknown.key.span(), message, label, help)
    };
    if let Some((name, message, help)) = other_unit(unknown, word) {
        let label = if units::split(word).1.is_some() {
            "this unit"
        } else {
            "without its unit"
        };
        return (problem(Kind::WrongUnit, message, label, help), Some(name));
    }
    let message = match unknown.section {
        "" => format!("`{word}` is neither a key nor a section of a scenario"),
        _ => format!("`{word}` is not a key of {here}"),
    };
    let words = words_of(unknown.section);
    let elsewhere: Vec<_> = vocabulary().filter(|(_, name, _)| *name == word).collect();
    if let Some((owner, ..)) = elsewhere.first() {
        let help = format!(
            "`{word}` belongs in {}: move the line there",
            where_it_is(owner)
        );
        let problem = problem(Kind::UnknownWord, message, "in the wrong section", help);
        return (problem, None);
    }
    let all = words.join(", ");
    let meant = nearest(word, words.iter().copied());
    let help = if let Some(candidate) = meant {
        format!("did you mean `{candidate}`? {here} takes: {all}")
    } else if let Some((owner, candidate, _)) = vocabulary()
        .filter(|(_, name, _)| nearest(word, [*name]).is_some())
        .min_by_key(|(_, name, _)| strsim::damerau_levenshtein(word, name))
    {
        format!(
            "did you mean `{candidate}` of {}? {here} takes: {all}",
            where_it_is(owner)
        )
    } else {
        format!("take the line out, or use one of: {all}")
    };
    (problem(Kind::UnknownWord, message, "unknown", help), meant)
}

/// The key that is meant, message and help when the word is a known key in another unit, or without its unit.
fn other_unit(unknown: &Unknown<'_, '_>, word: &str) -> Option<(&'static str, String, String)> {
    let (stem, unit) = units::split(word);
    let (_, name, wanted) = vocabulary().find(|(owner, name, _)| {
        *owner == unknown.section && *name != word && units::split(name).0 == stem
    })?;
    let Some(unit) = unit else {
        let with = units::conversion(wanted, wanted)?;
        return Some((
            name,
            format!("`{word}` does not say its unit"),
            format!("write `{name}`, in {}", with.wanted_title()),
        ));
    };
    let conversion = units::conversion(unit, wanted)?;
    let replacement = value::as_number(unknown.value.get_ref()).map_or_else(
        || name.to_owned(),
        |value| format!("{name} = {}", conversion.convert(value)),
    );
    Some((
        name,
        format!(
            "`{word}` is in {}, but a scenario gives this in {}",
            conversion.foreign_title(),
            conversion.wanted_title()
        ),
        format!("write {replacement}"),
    ))
}

#[cfg(test)]
mod tests {
    use super::nearest;

    #[test]
    fn near_words_are_found_and_far_ones_are_not() {
        let words = ["arrow_misaligned", "vane_stuck", "rh_stuck_wet"];
        assert_eq!(nearest("arow_misalligned", words), Some("arrow_misaligned"));
        assert_eq!(nearest("Vane-Stuck", words), Some("vane_stuck"));
        assert_eq!(nearest("rh_stuck", words), Some("rh_stuck_wet"));
        assert_eq!(nearest("lightning", words), None);
        assert_eq!(nearest("", words), None);
    }
}
