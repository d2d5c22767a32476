//! What the TOML parser says, in words for people who do not know TOML.

use super::report::{Document, Kind, Problem};
use super::units;
use toml::de::{DeTable, Error};

/// How many syntax errors are told: one slip often makes the parser stumble again further down.
const TOLD: usize = 3;

/// The document as a table.
///
/// # Errors
/// What is not TOML in it, one problem a line at most.
pub(super) fn parse<'t>(document: &'t Document) -> Result<DeTable<'t>, Vec<Problem>> {
    let (table, errors) = DeTable::parse_recoverable(document.text());
    if errors.is_empty() {
        return Ok(table.into_inner());
    }
    let mut problems: Vec<Problem> = Vec::new();
    let mut last_line = 0;
    for error in &errors {
        let line = document.line(error.span().map_or(0, |span| span.start));
        if line != last_line && problems.len() < TOLD {
            problems.push(explain(document, error));
        }
        last_line = line;
    }
    Err(problems)
}

fn explain(document: &Document, error: &Error) -> Problem {
    let text = document.text();
    let span = error.span().unwrap_or(0..0);
    let span = span.start.min(text.len())..span.end.min(text.len());
    let words = text.get(span.clone()).unwrap_or_default().trim();
    let line_start = text[..span.start]
        .rfind('\n')
        .map_or(0, |newline| newline + 1);
    let line = text[line_start..].lines().next().unwrap_or_default();
    let said = error.message();
    if said.starts_with("duplicate key") {
        let (help, what) = if line.trim_start().starts_with('[') {
            (
                format!(
                    "put all keys of [{words}] below one header; only stations and faults are repeated, as [[station]] and [[fault]] in double brackets"
                ),
                format!("the section `{words}` is there twice"),
            )
        } else {
            (
                "keep one of the lines".to_owned(),
                format!("`{words}` is given twice in this section"),
            )
        };
        return document.problem(Kind::Syntax, span, what, "again", help);
    }
    let (key, value) = line.split_once('=').unwrap_or_default();
    let (key, value) = (key.trim(), value.trim());
    let (message, help) = slip(line.trim(), key, value).unwrap_or_else(|| {
        (
            format!("this is not TOML: {said}"),
            "a line is `key = value`, a [section] or a # comment; text stands in quotes, numbers do not; a time looks like 2026-04-01T09:00:00Z".to_owned(),
        )
    });
    let label = if words.is_empty() {
        "here"
    } else {
        "not expected here"
    };
    document.problem(Kind::Syntax, span, message, label, help)
}

/// Message and help for the slips of people who do not write TOML every day.
fn slip(line: &str, key: &str, value: &str) -> Option<(String, String)> {
    let value = value.split('#').next().unwrap_or_default().trim();
    if line.starts_with('[') && !line.contains(']') {
        let close = if line.starts_with("[[") { "]]" } else { "]" };
        let message = "the bracket of this section is not closed".to_owned();
        return Some((message, format!("write {line}{close}")));
    }
    if key.is_empty() {
        return None;
    }
    if value.is_empty() {
        let help = "write the value behind the = sign, or take the line out".to_owned();
        return Some((format!("`{key}` has no value"), help));
    }
    if value.starts_with('"') && value.matches('"').count() == 1 {
        let message = "the quotes are not closed".to_owned();
        return Some((message, format!("write {key} = {value}\"")));
    }
    let unit = |(_, unit): &(f64, &str)| unit.starts_with(|c: char| c.is_alphabetic() || c == '%');
    if let Some((number, unit)) = units::number_with_unit(value).filter(unit) {
        let help =
            format!("its key names the unit, so the number stands alone: write {key} = {number}");
        return Some((format!("`{key}` has `{unit}` behind its number"), help));
    }
    if value.starts_with(char::is_alphabetic) {
        let help = format!("write {key} = \"{}\"", value.replace('"', ""));
        return Some((format!("the text of `{key}` is not in quotes"), help));
    }
    None
}
