//! Identity: who the head is and how it is set, so that a receiver can be paired by serial number.
//! WIRE.md section "Identity".

use serde::{Deserialize, Serialize};

/// Serial number as printed on the head: ten decimal digits at most.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Serial(pub u64);

impl Serial {
    /// Largest serial number.
    pub const MAX: u64 = 9_999_999_999;
}

impl core::fmt::Display for Serial {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "{:010}", self.0)
    }
}

/// Which sensors are fitted, one bit each; the other bits are reserved and zero.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct SensorFit(pub u16);

impl SensorFit {
    /// Thermometer.
    pub const THERMOMETER: u16 = 1;
    /// Hygrometer.
    pub const HYGROMETER: u16 = 1 << 1;
    /// Barometer.
    pub const BAROMETER: u16 = 1 << 2;
    /// Rain gauge.
    pub const RAIN_GAUGE: u16 = 1 << 3;
    /// Cup anemometer.
    pub const ANEMOMETER: u16 = 1 << 4;
    /// Wind vane.
    pub const VANE: u16 = 1 << 5;
    /// Light sensor.
    pub const LIGHT: u16 = 1 << 6;
    /// UV sensor.
    pub const ULTRAVIOLET: u16 = 1 << 7;
    /// All of them.
    pub const ALL: Self = Self(0xFF);

    /// Whether a sensor (one of the constants) is fitted.
    #[must_use]
    pub const fn has(self, sensor: u16) -> bool {
        self.0 & sensor != 0
    }
}

/// Who the head is and how it is set, in wire order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Identity {
    /// Serial number on the label.
    pub serial: Serial,
    /// Revision of the hardware.
    pub hardware: u16,
    /// Sensors fitted.
    pub fit: SensorFit,
    /// Reporting interval, whole seconds, 1 to 3600.
    pub interval_s: u16,
    /// Rain depth of one tip, micrometres, 10 to 5000.
    pub bucket_um: u16,
}

impl Identity {
    pub(crate) fn read(numbers: &mut crate::numbers::Numbers<'_>) -> Self {
        Self {
            serial: Serial(numbers.large()),
            hardware: numbers.small(),
            fit: SensorFit(numbers.small()),
            interval_s: numbers.small(),
            bucket_um: numbers.small(),
        }
    }

    /// Whether every value is one that a sender may emit.
    #[must_use]
    pub fn is_legal(&self) -> bool {
        self.serial.0 <= Serial::MAX
            && self.fit.0 & !SensorFit::ALL.0 == 0
            && (1..=3600).contains(&self.interval_s)
            && (10..=5000).contains(&self.bucket_um)
    }
}
