//! Recorded weather: a CSV of observations that drives the head.
//!
//! The first line names the columns, in any order, by their CF standard names; lines that begin with `#`
//! are comments. `time` and `air_temperature` must be there, the others may. An empty cell was not observed
//! and is filled in from its neighbours.
//! [`describe`] lists the columns with their units and ranges.
//!
//! Ranges are wider than the extremes of the WMO World Weather and Climate Extremes Archive (from memory);
//! they are there to find wrong units and shifted columns.

use super::nearest::suggestion;
use super::report::{Document, Kind, Problem};
use super::{text_file, time, units};
use benchmast_sim::weather::recorded::Record;
use csv::StringRecord;
use std::ops::Range;
use std::path::Path;

/// How many bad lines are told.
const TOLD: usize = 5;
/// Largest record file, bytes: a year of minutes with every column is a tenth of it.
const LARGEST: u64 = 512 << 20;
/// A dew point may be above the temperature by this much, K: archives round the two on their own.
const ROUNDING_K: f64 = 1.0;

/// A column of numbers.
struct Column {
    name: &'static str,
    unit: &'static str,
    least: f64,
    most: f64,
    meaning: &'static str,
    slot: fn(&mut Record) -> &mut Option<f64>,
}

const TIME: &str = "time";
const TEMPERATURE: &str = "air_temperature";

#[rustfmt::skip]
const COLUMNS: &[Column] = &[
    Column { name: TEMPERATURE, unit: "degC", least: -90.0, most: 60.0, meaning: "At that time; at least one record has it.", slot: |r| &mut r.air_temperature_degc },
    Column { name: "dew_point_temperature", unit: "degC", least: -100.0, most: 40.0, meaning: "At that time, over water.", slot: |r| &mut r.dew_point_degc },
    Column { name: "air_pressure_at_mean_sea_level", unit: "hPa", least: 850.0, most: 1090.0, meaning: "At that time.", slot: |r| &mut r.air_pressure_at_mean_sea_level_hpa },
    Column { name: "wind_speed", unit: "m/s", least: 0.0, most: 120.0, meaning: "At that time, at `wind_height_m`.", slot: |r| &mut r.wind_speed_ms },
    Column { name: "wind_from_direction", unit: "deg", least: 0.0, most: 360.0, meaning: "At that time, clockwise from true north.", slot: |r| &mut r.wind_from_direction_deg },
    Column { name: "thickness_of_rainfall_amount", unit: "mm", least: 0.0, most: 2000.0, meaning: "Fallen since the record before.", slot: |r| &mut r.rainfall_mm },
    Column { name: "cloud_area_fraction", unit: "1", least: 0.0, most: 1.0, meaning: "At that time, as a share of the sky.", slot: |r| &mut r.cloud_area_fraction },
];

/// The columns as a Markdown table.
pub(super) fn describe() -> String {
    let mut text = format!(
        "| column | unit | allowed | needed | meaning |\n|---|---|---|---|---|\n\
         | `{TIME}` | UTC | like 2026-04-01T09:00:00Z | yes | Time of the record, later than the one before. |\n"
    );
    for column in COLUMNS {
        text.push_str(&format!(
            "| `{}` | {} | {} to {} | {} | {} |\n",
            column.name,
            column.unit,
            column.least,
            column.most,
            if column.name == TEMPERATURE {
                "yes"
            } else {
                "no"
            },
            column.meaning
        ));
    }
    text
}

/// Read the record `file`, which the scenario names at `mention` as `shown`, and see that it covers the
/// period.
pub(super) fn read(
    scenario: &Document,
    mention: Range<usize>,
    file: &Path,
    shown: &str,
    period: Option<(i64, i64)>,
) -> Result<Vec<Record>, Vec<Problem>> {
    let text = text_file::read(file, LARGEST).map_err(|refusal| {
        vec![scenario.problem(
            Kind::File,
            mention.clone(),
            format!("the record {} {refusal}", file.display()),
            "named here",
            refusal.help(file),
        )]
    })?;
    let name = file.display().to_string();
    let document = Document::new(&name, &text);
    let records = parse(&document)?;
    let (Some(first), Some(last)) = (records.first(), records.last()) else {
        return Err(vec![document.problem(
            Kind::Missing,
            text.len()..text.len(),
            "there is no record below the header",
            "nothing follows",
            "add at least one record before the period and one after it",
        )]);
    };
    if let Some((start_us, end_us)) = period
        && (first.time_us > start_us || last.time_us < end_us)
    {
        return Err(vec![scenario.problem(
                Kind::Conflict,
                mention,
                format!("the record {shown} does not cover the period"),
                "too short for the period",
                format!(
                    "the record runs from {} to {}, the period from {} to {}: move or shorten the period",
                    time::show(first.time_us),
                    time::show(last.time_us),
                    time::show(start_us),
                    time::show(end_us)
                ),
            )]);
    }
    Ok(records)
}

/// What each column of the file is: `None` for the time.
type Header = Vec<Option<&'static Column>>;

/// The records of a document.
pub(super) fn parse(document: &Document) -> Result<Vec<Record>, Vec<Problem>> {
    let mut lines = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .comment(Some(b'#'))
        .from_reader(document.text().trim_start_matches('\u{feff}').as_bytes());
    let shift = document.text().len() - document.text().trim_start_matches('\u{feff}').len();
    let mut line = StringRecord::new();
    let mut header: Option<Header> = None;
    let mut records: Vec<Record> = Vec::new();
    let mut problems = Vec::new();
    // The text is valid UTF-8 and in memory, and lines may differ in length: reading cannot fail.
    while let Ok(true) = lines.read_record(&mut line) {
        let start = shift
            + line
                .position()
                .map_or(0, |position| position.byte() as usize);
        let cells = Cells { document, start };
        match &header {
            None => header = Some(read_header(&cells, &line)?),
            Some(header) => match read_record(&cells, &line, header, records.last()) {
                Ok(record) => records.push(record),
                Err(problem) => problems.push(*problem),
            },
        }
        if problems.len() == TOLD {
            break;
        }
    }
    if header.is_none() {
        problems.push(document.problem(
            Kind::Missing,
            0..0,
            "the record is empty",
            "no header",
            "write the names of the columns in the first line: time,air_temperature,...",
        ));
    }
    if problems.is_empty()
        && records
            .iter()
            .all(|record| record.air_temperature_degc.is_none())
        && !records.is_empty()
    {
        problems.push(document.problem(
            Kind::Missing,
            0..0,
            "no record has an air_temperature",
            "in this file",
            "fill in the column: at least one value is needed, and a useful record has one in every line",
        ));
    }
    if problems.is_empty() {
        Ok(records)
    } else {
        Err(problems)
    }
}

fn read_header(cells: &Cells<'_>, line: &StringRecord) -> Result<Header, Vec<Problem>> {
    let names: Vec<&str> = [TIME]
        .into_iter()
        .chain(COLUMNS.iter().map(|column| column.name))
        .collect();
    let mut problems = Vec::new();
    let mut header = Header::new();
    let mut seen: Vec<&str> = Vec::new();
    for (index, cell) in line.iter().enumerate() {
        let cell = cell.trim();
        if seen.contains(&cell) {
            problems.push(cells.problem(
                index,
                Kind::Syntax,
                format!("the column `{cell}` is there twice"),
                "again",
                "keep one of the two",
            ));
        } else if cell != TIME && !names.contains(&cell) {
            let stem = units::split(cell).0;
            let help = if cell.contains([';', '\t']) {
                "separate the columns by commas, and write numbers with a decimal point".to_owned()
            } else if stem != cell && names.contains(&stem) {
                format!("write {stem}: a column's unit is fixed and not part of its name")
            } else {
                suggestion(cell, &names)
            };
            problems.push(cells.problem(
                index,
                Kind::UnknownWord,
                format!("`{cell}` is not a column of a record"),
                "unknown",
                &help,
            ));
        }
        seen.push(cell);
        header.push(COLUMNS.iter().find(|column| column.name == cell));
    }
    // A misspelt column that must be there has been told already.
    if problems.is_empty() {
        for required in [TIME, TEMPERATURE] {
            if !seen.contains(&required) {
                problems.push(cells.problem(
                    0,
                    Kind::Missing,
                    format!("the record has no column `{required}`"),
                    "the columns are named here",
                    "the first line that is no comment names the columns; `time` and `air_temperature` must be among them",
                ));
            }
        }
    }
    if problems.is_empty() {
        Ok(header)
    } else {
        Err(problems)
    }
}

fn read_record(
    cells: &Cells<'_>,
    line: &StringRecord,
    header: &Header,
    before: Option<&Record>,
) -> Result<Record, Box<Problem>> {
    let fail = |index, kind, message: String, label: &str, help: &str| {
        Err(Box::new(cells.problem(index, kind, message, label, help)))
    };
    if line.len() != header.len() {
        return fail(
            line.len().min(header.len()).saturating_sub(1),
            Kind::Syntax,
            format!(
                "this line has {} cells, the header has {}",
                line.len(),
                header.len()
            ),
            "from here on",
            "leave a cell that was not observed empty, but keep its comma",
        );
    }
    let mut record = Record::default();
    for (index, (cell, column)) in line.iter().zip(header).enumerate() {
        let cell = cell.trim();
        let Some(column) = column else {
            record.time_us = match time::instant(cell) {
                Ok(time_us) => time_us,
                Err(refusal) => {
                    return fail(
                        index,
                        Kind::WrongType,
                        format!("the time of this record {refusal}"),
                        "time",
                        "write it in UTC, like 2026-04-01T09:00:00Z",
                    );
                }
            };
            if let Some(before) = before.filter(|before| before.time_us >= record.time_us) {
                let help = format!(
                    "the record before it is of {}: sort the lines by time and keep one of each time",
                    time::show(before.time_us)
                );
                return fail(
                    index,
                    Kind::Conflict,
                    "the records are not in order of time".to_owned(),
                    "not later than the line before",
                    &help,
                );
            }
            continue;
        };
        if cell.is_empty() {
            continue;
        }
        let Ok(value) = cell.parse::<f64>() else {
            let help = match cell.replace(',', ".").parse::<f64>() {
                Ok(value) => format!("write {value}, with a decimal point"),
                Err(_) => {
                    "write a number, or leave the cell empty if it was not observed".to_owned()
                }
            };
            let message = format!("`{}` takes a number", column.name);
            return fail(index, Kind::WrongType, message, "not a number", &help);
        };
        if !(column.least..=column.most).contains(&value) {
            let unit = match column.unit {
                "1" => "(a share, not percent)",
                unit => unit,
            };
            let slip = units::slip(value, column.unit, column.most);
            let help = format!(
                "allowed: {} to {} {unit}; leave the cell empty if it was not observed\n{}",
                column.least,
                column.most,
                slip.unwrap_or_else(
                    || "Look whether the unit is right and no column is shifted.".to_owned()
                ),
            );
            return fail(
                index,
                Kind::OutOfRange,
                format!("`{}` is out of range", column.name),
                "out of range",
                &help,
            );
        }
        *(column.slot)(&mut record) = Some(value);
    }
    if let (Some(dew_point), Some(temperature)) =
        (record.dew_point_degc, record.air_temperature_degc)
        && dew_point > temperature + ROUNDING_K
    {
        let index = header
            .iter()
            .position(|column| column.is_some_and(|column| column.name == "dew_point_temperature"));
        return fail(
            index.unwrap_or(0),
            Kind::Conflict,
            format!(
                "the dew point ({dew_point} degC) is above the air temperature ({temperature} degC)"
            ),
            "too high",
            "look whether the two columns are swapped or in different units",
        );
    }
    Ok(record)
}

/// Where the cells of one line are in the text; looked for only when something is wrong.
struct Cells<'c> {
    document: &'c Document,
    /// Where the reader stood before the line; blank lines and comments may come first.
    start: usize,
}

impl Cells<'_> {
    fn problem(
        &self,
        index: usize,
        kind: Kind,
        message: String,
        label: &str,
        help: &str,
    ) -> Problem {
        self.document
            .problem(kind, self.span(index), message, label, help)
    }

    /// The text of one cell, without the blanks around it.
    fn span(&self, index: usize) -> Range<usize> {
        let text = self.document.text();
        let mut line_start = self.start;
        loop {
            let rest = &text[line_start..];
            let end = rest.find('\n').map_or(rest.len(), |newline| newline + 1);
            let line = rest[..end].trim();
            if end == rest.len() || !(line.is_empty() || line.starts_with('#')) {
                break;
            }
            line_start += end;
        }
        let mut quoted = false;
        let mut column = 0;
        let mut cell = line_start..text.len();
        for (offset, byte) in text.bytes().enumerate().skip(line_start) {
            match byte {
                b'"' => quoted = !quoted,
                b',' | b'\n' if !quoted => {
                    if column == index || byte == b'\n' {
                        cell.end = offset;
                        break;
                    }
                    column += 1;
                    cell.start = offset + 1;
                }
                _ => {}
            }
        }
        let inner = &text[cell.clone()];
        let start = cell.start + inner.len() - inner.trim_start().len();
        start..start + inner.trim().len()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parsed(text: &str) -> Result<Vec<Record>, Vec<Problem>> {
        parse(&Document::new("r.csv", text))
    }

    #[test]
    fn columns_in_any_order_comments_blank_lines_and_empty_cells() {
        let text = "\u{feff}# invented\n\nair_temperature,time\n# one\n 3.5 ,2026-01-01T00:00:00Z\r\n\n,2026-01-01T01:00:00Z\n";
        let records = parsed(text).expect("a good record");
        assert_eq!(records.len(), 2);
        assert_eq!(records[0].air_temperature_degc, Some(3.5));
        assert_eq!(records[1].air_temperature_degc, None);
        assert_eq!(records[1].time_us - records[0].time_us, time::HOUR_US);
    }

    #[test]
    fn every_column_reaches_its_own_field() {
        let names: Vec<_> = COLUMNS.iter().map(|column| column.name).collect();
        for (index, column) in COLUMNS.iter().enumerate() {
            // The temperature must be there; alone, it is the column under test.
            let mut cells = vec![String::new(); COLUMNS.len()];
            cells[0] = "5".to_owned();
            cells[index] = format!("{}", 5.0_f64.clamp(column.least, column.most));
            let text = format!("time,{}\n2026-01-01,{}\n", names.join(","), cells.join(","));
            let mut record = parsed(&text).expect("a good record")[0];
            assert_eq!(
                (column.slot)(&mut record).take(),
                Some(5.0_f64.clamp(column.least, column.most))
            );
            record.air_temperature_degc = None;
            record.time_us = 0;
            assert_eq!(
                record,
                Record::default(),
                "{} fills one field only",
                column.name
            );
        }
    }

    #[test]
    fn a_problem_names_line_and_column_of_the_record() {
        let text = "# c\ntime,wind_speed,air_temperature\n2026-01-01,\"1\",2\n\n# c\n2026-01-02, 3 ,warm\n";
        let problems = parsed(text).expect_err("a bad cell");
        assert_eq!(problems[0].position(), Some((6, 16)));
    }
}
