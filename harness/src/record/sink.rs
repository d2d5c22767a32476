//! From the intervals and events of a run to the rows of its tables.

use super::Format;
use super::columns;
use super::folder::{Finished, Folder, HashedFile, units};
use super::table::{Block, Column};
use super::writer::{Facts, TableWriter};
use crate::row::{Row, Sink};
use benchmast_protocol::frame::{Health, Observation};
use benchmast_protocol::quantity::{Quantity, WindFromDirection};
use benchmast_protocol::receiver::{Believed, Event};
use benchmast_sim::station::Reading;
use std::io::{self, Write};

/// What is to be recorded, and how.
#[derive(Debug, Clone)]
pub struct RecorderOptions {
    /// In what forms.
    pub formats: Vec<Format>,
    /// Whether the answer key is written.
    pub key: bool,
    /// Rain depth of one tip, micrometres.
    pub bucket_um: u16,
    /// Write on further threads.
    pub background: bool,
    /// What the files' metadata say of the run.
    pub facts: Vec<(String, String)>,
}

/// Writes the tables of a run.
pub struct Recorder {
    observed: TableWriter,
    health: TableWriter,
    key: Option<TableWriter>,
    bucket_um: u32,
    sidecars: Vec<HashedFile>,
}

fn table(
    folder: &Folder,
    name: &str,
    columns: &[Column],
    options: &RecorderOptions,
    sidecars: &mut Vec<HashedFile>,
) -> io::Result<TableWriter> {
    if options.formats.contains(&Format::Csv) {
        let mut file = folder.create(&format!("{name}.units.json"))?;
        serde_json::to_writer_pretty(&mut file, &units(columns))?;
        writeln!(file)?;
        sidecars.push(file);
    }
    let facts: &Facts = &options.facts;
    // The short tables are not worth a thread.
    let background = options.background && name == "key";
    TableWriter::new(folder, name, columns, &options.formats, facts, background)
}

impl Recorder {
    /// Open the files of a run.
    ///
    /// # Errors
    /// If a file cannot be created.
    pub fn new(folder: &Folder, options: &RecorderOptions) -> io::Result<Self> {
        let mut sidecars = Vec::new();
        let bucket = options.bucket_um;
        Ok(Self {
            observed: table(
                folder,
                "observed",
                &columns::observed(bucket),
                options,
                &mut sidecars,
            )?,
            health: table(
                folder,
                "observed_health",
                &columns::observed_health(),
                options,
                &mut sidecars,
            )?,
            key: options
                .key
                .then(|| table(folder, "key", &columns::key(bucket), options, &mut sidecars))
                .transpose()?,
            bucket_um: u32::from(bucket),
            sidecars,
        })
    }

    /// Write what is left and close the files.
    ///
    /// # Errors
    /// What the files say.
    pub fn finish(self) -> io::Result<Vec<Finished>> {
        let mut files = self.observed.finish()?;
        files.extend(self.health.finish()?);
        if let Some(key) = self.key {
            files.extend(key.finish()?);
        }
        files.extend(self.sidecars);
        files.into_iter().map(HashedFile::finish).collect()
    }

    fn believe(&mut self, time_us: i64, signal_dbm: f64, believed: &Believed) -> io::Result<()> {
        let observation = &believed.observation;
        let block = self.observed.block();
        block.whole(time_us);
        block.whole(i64::from(believed.head.0));
        block.whole(i64::from(believed.sequence));
        block.whole(i64::from(observation.status.life()));
        for steps in reported(observation, believed.tips_since.map(i32::from)) {
            block.steps(steps);
        }
        block.whole(i64::from(observation.tips));
        block.whole(i64::from(believed.intervals_missed));
        block.whole(i64::from(observation.status.on_cells()));
        block.whole(i64::from(observation.status.store_low()));
        block.whole(i64::from(observation.status.cells_low()));
        block.real(signal_dbm);
        self.observed.row_done()
    }

    fn believe_health(
        &mut self,
        time_us: i64,
        head: u32,
        sequence: u16,
        health: &Health,
    ) -> io::Result<()> {
        let block = self.health.block();
        block.whole(time_us);
        block.whole(i64::from(head));
        block.whole(i64::from(sequence));
        block.whole(i64::from(health.restarts));
        block.whole(i64::from(health.cause.0));
        block.whole(i64::from(health.uptime_s));
        block.steps(wire_steps(health.supply));
        block.steps(wire_steps(health.store));
        block.steps(wire_steps(health.cells));
        block.whole(i64::from(health.firmware));
        self.health.row_done()
    }
}

/// A wire value in its steps, if there is a reading.
fn wire_steps<Q: Quantity>(quantity: Q) -> Option<i32> {
    if quantity.is_missing() || !quantity.is_legal() {
        return None;
    }
    i32::try_from(quantity.raw()).ok()
}

/// The readings in the order of the table of quantities, in steps; rain in tips.
fn reported(observation: &Observation, tips: Option<i32>) -> [Option<i32>; 9] {
    [
        wire_steps(observation.air_temperature),
        wire_steps(observation.relative_humidity),
        wire_steps(observation.air_pressure),
        wire_steps(observation.wind_speed),
        wire_steps(observation.wind_speed_of_gust),
        wire_steps(observation.wind_from_direction),
        tips,
        wire_steps(observation.illuminance),
        wire_steps(observation.ultraviolet_index),
    ]
}

/// Place of the wind direction in the order of the table of quantities.
const DIRECTION: usize = 5;

/// Actual minus twin, in steps; the short way round for the direction.
fn effect(place: usize, twin: Option<i32>, actual: Option<i32>) -> Option<i32> {
    let difference = actual? - twin?;
    if place != DIRECTION {
        return Some(difference);
    }
    let circle = (WindFromDirection::SPECIFICATION.raw_max + 1) as i32;
    let wrapped = difference.rem_euclid(circle);
    Some(if wrapped > circle / 2 {
        wrapped - circle
    } else {
        wrapped
    })
}

fn tips_of(reading: &Reading, bucket_um: u32) -> Option<i32> {
    reading
        .alive
        .then(|| (reading.rainfall_mm * 1000.0 / f64::from(bucket_um)).round() as i32)
}

fn key_row(block: &mut Block, row: &Row<'_>, bucket_um: u32) {
    let (truth, step) = (row.truth, row.step);
    block.whole(step.time_us);
    block.whole(i64::from(step.actual.alive));
    block.whole(i64::from(step.actual.sequence));
    block.whole(i64::from(step.actual.restarts));
    block.whole(row.causes.cast_signed());
    let truths = [
        truth.air_temperature_degc,
        truth.relative_humidity_percent,
        truth.air_pressure_hpa,
        truth.wind_speed_ms,
        truth.wind_speed_of_gust_ms,
        truth.wind_from_direction_deg,
        truth.rainfall_mm,
        truth.illuminance_lx,
        truth.ultraviolet_index,
    ];
    let twins = reported(&step.twin.observation, tips_of(&step.twin, bucket_um));
    let actuals = reported(&step.actual.observation, tips_of(&step.actual, bucket_um));
    for (place, ((truth, twin), actual)) in truths.into_iter().zip(twins).zip(actuals).enumerate() {
        block.real(truth);
        block.steps(twin);
        block.steps(actual);
        block.steps(effect(place, twin, actual));
    }
    block.real(truth.dew_point_degc);
    block.real(truth.global_irradiance_wm2);
    block.real(truth.cloud_area_fraction);
    block.real(truth.sun.elevation_deg());
    block.real(step.twin.store_mv);
    block.real(step.actual.store_mv);
    block.real(step.twin.cells_mv);
    block.real(step.actual.cells_mv);
}

impl Sink for Recorder {
    fn interval(&mut self, row: &Row<'_>) -> io::Result<()> {
        let Some(key) = &mut self.key else {
            return Ok(());
        };
        key_row(key.block(), row, self.bucket_um);
        key.row_done()
    }

    fn event(&mut self, time_us: i64, signal_dbm: f64, event: &Event) -> io::Result<()> {
        match event {
            Event::Observation(believed) => self.believe(time_us, signal_dbm, believed),
            Event::Health {
                head,
                sequence,
                health,
            } => self.believe_health(time_us, head.0, *sequence, health),
            _ => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_effect_on_a_direction_goes_the_short_way_round() {
        for (twin, actual, expected) in [(350, 10, 20), (10, 350, -20), (0, 180, 180), (90, 90, 0)]
        {
            assert_eq!(effect(DIRECTION, Some(twin), Some(actual)), Some(expected));
        }
        assert_eq!(effect(0, Some(350), Some(10)), Some(-340));
        assert_eq!(effect(0, None, Some(10)), None);
        assert_eq!(effect(0, Some(10), None), None);
    }
}
