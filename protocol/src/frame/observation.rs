//! Observation: all readings of one reporting interval. WIRE.md section "Observation".

use crate::quantity::{
    AirPressure, AirTemperature, Illuminance, Quantity, RelativeHumidity, UltravioletIndex,
    WindFromDirection, WindSpeed, WindSpeedOfGust,
};
use serde::{Deserialize, Serialize};

/// Life and state of the head, one byte.
///
/// Low four bits: the *life*, the restart count modulo 16, so that any packet after a restart tells of
/// it even when the health packet was lost. Bits 4 to 6: flags. Bit 7 is reserved and zero.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Status(u8);

impl Status {
    const ON_CELLS: u8 = 0x10;
    const STORE_LOW: u8 = 0x20;
    const CELLS_LOW: u8 = 0x40;
    const RESERVED: u8 = 0x80;

    /// From the restart count and the state of the supply.
    #[must_use]
    pub const fn new(restarts: u16, on_cells: bool, store_low: bool, cells_low: bool) -> Self {
        let mut bits = (restarts & 0x0F) as u8;
        if on_cells {
            bits |= Self::ON_CELLS;
        }
        if store_low {
            bits |= Self::STORE_LOW;
        }
        if cells_low {
            bits |= Self::CELLS_LOW;
        }
        Self(bits)
    }
    /// From the wire byte, reserved bit included.
    #[must_use]
    pub const fn from_bits(bits: u8) -> Self {
        Self(bits)
    }
    /// The wire byte.
    #[must_use]
    pub const fn bits(self) -> u8 {
        self.0
    }
    /// Restart count modulo 16.
    #[must_use]
    pub const fn life(self) -> u8 {
        self.0 & 0x0F
    }
    /// The head runs on its reserve cells.
    #[must_use]
    pub const fn on_cells(self) -> bool {
        self.0 & Self::ON_CELLS != 0
    }
    /// The store is below its change-over voltage.
    #[must_use]
    pub const fn store_low(self) -> bool {
        self.0 & Self::STORE_LOW != 0
    }
    /// The reserve cells are near their end.
    #[must_use]
    pub const fn cells_low(self) -> bool {
        self.0 & Self::CELLS_LOW != 0
    }
    /// The reserved bit is zero.
    #[must_use]
    pub const fn is_legal(self) -> bool {
        self.0 & Self::RESERVED == 0
    }
}

/// All readings of one reporting interval, in wire order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Observation {
    /// Life and state of the head.
    pub status: Status,
    /// Air temperature in the shield.
    pub air_temperature: AirTemperature,
    /// Relative humidity in the shield.
    pub relative_humidity: RelativeHumidity,
    /// Pressure at the head.
    pub air_pressure: AirPressure,
    /// Mean wind speed of the interval.
    pub wind_speed: WindSpeed,
    /// Highest short mean of the interval; never below the mean.
    pub wind_speed_of_gust: WindSpeedOfGust,
    /// Vane position at the end of the interval.
    pub wind_from_direction: WindFromDirection,
    /// Tips of the bucket since the head started, modulo 65536.
    pub tips: u16,
    /// Illuminance at the end of the interval.
    pub illuminance: Illuminance,
    /// UV index at the end of the interval.
    pub ultraviolet_index: UltravioletIndex,
}

impl Observation {
    pub(crate) fn read(numbers: &mut crate::numbers::Numbers<'_>) -> Self {
        Self {
            status: Status(numbers.byte()),
            air_temperature: AirTemperature::from_wire(numbers.signed()),
            relative_humidity: RelativeHumidity::from_wire(numbers.small()),
            air_pressure: AirPressure::from_wire(numbers.small()),
            wind_speed: WindSpeed::from_wire(numbers.small()),
            wind_speed_of_gust: WindSpeedOfGust::from_wire(numbers.small()),
            wind_from_direction: WindFromDirection::from_wire(numbers.small()),
            tips: numbers.small(),
            illuminance: Illuminance::from_wire(numbers.medium()),
            ultraviolet_index: UltravioletIndex::from_wire(numbers.byte()),
        }
    }

    /// Whether every value is one that a sender may emit: legal fields, reserved bit zero, and a gust
    /// not below the mean where both are present.
    #[must_use]
    pub fn is_legal(&self) -> bool {
        let gust_holds = self.wind_speed.is_missing()
            || self.wind_speed_of_gust.is_missing()
            || self.wind_speed_of_gust.raw() >= self.wind_speed.raw();
        self.status.is_legal()
            && self.air_temperature.is_legal()
            && self.relative_humidity.is_legal()
            && self.air_pressure.is_legal()
            && self.wind_speed.is_legal()
            && self.wind_speed_of_gust.is_legal()
            && self.wind_from_direction.is_legal()
            && self.illuminance.is_legal()
            && self.ultraviolet_index.is_legal()
            && gust_holds
    }
}
