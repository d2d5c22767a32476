//! Health: the state of the head itself. WIRE.md section "Health".

use crate::quantity::{CellsVoltage, Quantity, StoreVoltage, SupplyVoltage};
use serde::{Deserialize, Serialize};

/// A health packet goes out in every interval whose sequence number is a multiple of this, which
/// includes the first after each restart.
pub const HEALTH_EVERY: u16 = 64;

/// Why the head last started. Unknown codes are kept, so that a later head may add some.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct RestartCause(pub u8);

impl RestartCause {
    /// Cells were inserted.
    pub const CELLS_INSERTED: Self = Self(1);
    /// The supply fell below the cut-off and came back.
    pub const BROWN_OUT: Self = Self(2);
    /// The firmware's watchdog expired.
    pub const WATCHDOG: Self = Self(3);
    /// The button was pressed.
    pub const BUTTON: Self = Self(4);
}

/// Supply, restarts, uptime and firmware, in wire order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Health {
    /// Restarts since manufacture, modulo 65536; its low four bits are the life of the observations.
    pub restarts: u16,
    /// Why the head last started.
    pub cause: RestartCause,
    /// Seconds since the head started.
    pub uptime_s: u32,
    /// Regulated rail.
    pub supply: SupplyVoltage,
    /// Capacitor store.
    pub store: StoreVoltage,
    /// Reserve cells in series.
    pub cells: CellsVoltage,
    /// Firmware revision of the head.
    pub firmware: u16,
}

impl Health {
    pub(crate) fn read(numbers: &mut crate::numbers::Numbers<'_>) -> Self {
        Self {
            restarts: numbers.small(),
            cause: RestartCause(numbers.byte()),
            uptime_s: numbers.medium(),
            supply: SupplyVoltage::from_wire(numbers.small()),
            store: StoreVoltage::from_wire(numbers.small()),
            cells: CellsVoltage::from_wire(numbers.small()),
            firmware: numbers.small(),
        }
    }

    /// Whether every value is one that a sender may emit.
    #[must_use]
    pub fn is_legal(&self) -> bool {
        self.supply.is_legal() && self.store.is_legal() && self.cells.is_legal()
    }
}
