//! What the firmware counts, and how it puts what the sensors say into frames.

use super::power::cells::LOW_SHARE;
use super::power::{Power, Run};
use super::{FIRMWARE, Parameters, Reading};
use crate::condition::Condition;
use crate::site::Exposure;
use benchmast_protocol::frame::health::HEALTH_EVERY;
use benchmast_protocol::frame::{Health, Observation, RestartCause, Status};
use benchmast_protocol::quantity::{
    AirPressure, AirTemperature, CellsVoltage, Illuminance, Quantity, RelativeHumidity,
    StoreVoltage, SupplyVoltage, UltravioletIndex, WindFromDirection, WindSpeed, WindSpeedOfGust,
};

/// What the sensors say at the end of one interval, in the steps of the wire.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sensed {
    pub(super) air_temperature: AirTemperature,
    pub(super) relative_humidity: RelativeHumidity,
    pub(super) air_pressure: AirPressure,
    pub(super) wind_speed: WindSpeed,
    pub(super) wind_speed_of_gust: WindSpeedOfGust,
    pub(super) wind_from_direction: WindFromDirection,
    /// Tips in the interval.
    pub(super) tips: u32,
    pub(super) illuminance: Illuminance,
    pub(super) ultraviolet_index: UltravioletIndex,
}

/// What the supply says at the end of one interval.
#[derive(Debug, Clone, Copy)]
pub(super) struct Supplied {
    run: Run,
    on_cells: bool,
    store_low: bool,
    cells_low: bool,
    store_v: f64,
    /// 0 while the head is off.
    supply_v: f64,
}

impl Supplied {
    /// One interval on with the supply. The head can tell that its cells are low only while they carry it.
    pub(super) fn step(power: &mut Power, exposure: &Exposure, condition: &Condition) -> Self {
        let run = power.step(exposure, condition);
        let store_v = power.store_v();
        let store_low = power.store_low();
        if run != Run::Running {
            return Self {
                run,
                on_cells: false,
                store_low,
                cells_low: false,
                store_v,
                supply_v: 0.0,
            };
        }
        let degc = exposure.air_temperature_degc;
        let supply_v = power.supply_v(store_v, degc, condition);
        let on_cells = power.on_cells();
        Self {
            run,
            on_cells,
            store_low,
            cells_low: on_cells && power.cells_share(degc, condition) < LOW_SHARE,
            store_v,
            supply_v,
        }
    }
}

/// What the firmware counts.
#[derive(Debug, Clone)]
pub(super) struct Firmware {
    interval_s: u16,
    bucket_mm: f64,
    restarts: u16,
    cause: RestartCause,
    /// Intervals since the head started, this one not yet counted; its low half is the sequence.
    intervals: u32,
    tips: u16,
}

impl Firmware {
    /// Of a head that has just been given its cells.
    pub(super) fn new(parameters: &Parameters) -> Self {
        Self {
            interval_s: parameters.interval_s,
            bucket_mm: parameters.bucket_mm,
            restarts: 0,
            cause: RestartCause::CELLS_INSERTED,
            intervals: 0,
            tips: 0,
        }
    }

    /// What the head has to say. `cells_v`: voltage of the reserve cells while the head sends, asked for when the
    /// state of the head is due.
    pub(super) fn tell(
        &mut self,
        sensed: &Sensed,
        supplied: &Supplied,
        cells_v: impl FnOnce() -> f64,
    ) -> Reading {
        if supplied.run != Run::Running {
            return self.silent(supplied);
        }
        self.tips = self.tips.wrapping_add(sensed.tips as u16);
        let sequence = self.intervals as u16;
        self.intervals = self.intervals.wrapping_add(1);
        Reading {
            alive: true,
            sequence,
            observation: Observation {
                status: Status::new(
                    self.restarts,
                    supplied.on_cells,
                    supplied.store_low,
                    supplied.cells_low,
                ),
                air_temperature: sensed.air_temperature,
                relative_humidity: sensed.relative_humidity,
                air_pressure: sensed.air_pressure,
                wind_speed: sensed.wind_speed,
                wind_speed_of_gust: sensed.wind_speed_of_gust,
                wind_from_direction: sensed.wind_from_direction,
                tips: self.tips,
                illuminance: sensed.illuminance,
                ultraviolet_index: sensed.ultraviolet_index,
            },
            health: sequence.is_multiple_of(HEALTH_EVERY).then(|| Health {
                restarts: self.restarts,
                cause: self.cause,
                uptime_s: self.intervals.saturating_mul(u32::from(self.interval_s)),
                supply: SupplyVoltage::saturating_from_si(1000.0 * supplied.supply_v),
                store: StoreVoltage::saturating_from_si(1000.0 * supplied.store_v),
                cells: CellsVoltage::saturating_from_si(1000.0 * cells_v()),
                firmware: FIRMWARE,
            }),
            rainfall_mm: f64::from(sensed.tips) * self.bucket_mm,
            restarts: self.restarts,
            store_v: supplied.store_v,
            supply_v: supplied.supply_v,
        }
    }

    /// Nothing is sent; a head that starts at the end of this interval counts from nothing.
    fn silent(&mut self, supplied: &Supplied) -> Reading {
        if supplied.run == Run::Restarting {
            self.restarts = self.restarts.wrapping_add(1);
            self.cause = RestartCause::BROWN_OUT;
            self.intervals = 0;
            self.tips = 0;
        }
        Reading {
            alive: false,
            sequence: 0,
            observation: Observation {
                status: Status::new(self.restarts, false, supplied.store_low, false),
                air_temperature: AirTemperature::MISSING,
                relative_humidity: RelativeHumidity::MISSING,
                air_pressure: AirPressure::MISSING,
                wind_speed: WindSpeed::MISSING,
                wind_speed_of_gust: WindSpeedOfGust::MISSING,
                wind_from_direction: WindFromDirection::MISSING,
                tips: self.tips,
                illuminance: Illuminance::MISSING,
                ultraviolet_index: UltravioletIndex::MISSING,
            },
            health: None,
            rainfall_mm: 0.0,
            restarts: self.restarts,
            store_v: supplied.store_v,
            supply_v: 0.0,
        }
    }
}
