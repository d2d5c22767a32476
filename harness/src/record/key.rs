//! The answer key: truth, twin, actual reading and effect of every quantity, and what caused it.

use super::readings::reported;
use super::table::Block;
use super::writer::TableWriter;
use crate::row::{Row, Sink};
use benchmast_protocol::quantity::{Quantity, WindFromDirection};
use benchmast_sim::station::Reading;
use std::io;

/// The table of the answer key.
pub(super) struct Key {
    pub(super) table: TableWriter,
    pub(super) bucket_um: u32,
}

impl Sink for Key {
    fn interval(&mut self, row: &Row<'_>) -> io::Result<()> {
        key_row(self.table.block(), row, self.bucket_um);
        self.table.row_done()
    }
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
    if !reading.alive {
        return None;
    }
    // Hardly ever anything; rounding is dear.
    if reading.rainfall_mm == 0.0 {
        return Some(0);
    }
    Some((reading.rainfall_mm * 1000.0 / f64::from(bucket_um)).round() as i32)
}

fn key_row(block: &mut Block, row: &Row<'_>, bucket_um: u32) {
    let (truth, step) = (row.truth, row.step);
    let mut cells = block
        .row()
        .whole(step.time_us)
        .whole(i64::from(step.actual.alive))
        .whole(i64::from(step.actual.sequence))
        .whole(i64::from(step.actual.restarts))
        .whole(row.causes.cast_signed());
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
        cells = cells
            .real(truth)
            .steps(twin)
            .steps(actual)
            .steps(effect(place, twin, actual));
    }
    cells
        .real(truth.dew_point_degc)
        .real(truth.wet_bulb_degc)
        .real(truth.snowfall_mm)
        .real(truth.global_irradiance_wm2)
        .real(truth.net_longwave_wm2)
        .real(truth.cloud_area_fraction)
        .real(truth.sun.elevation_deg())
        .real(1000.0 * step.twin.store_v)
        .real(1000.0 * step.actual.store_v)
        .real(1000.0 * step.twin.supply_v)
        .real(1000.0 * step.actual.supply_v)
        .end();
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
