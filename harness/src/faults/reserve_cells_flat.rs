//! The two reserve cells are empty or missing.

use super::{Card, Fault};

/// The cells' charge is capped, down to nothing.
pub(super) const FAULT: Fault = Fault {
    id: "reserve_cells_flat",
    full_severity: "cells empty or missing",
    moves: &["thickness_of_rainfall_amount"],
    stops_head: true,
    card: Card {
        what: "The two reserve cells are empty or missing.",
        signature: "First gaps before dawn in long dull spells, later whole nights; the head comes back by day \
            with its counters at zero.",
        look_alikes: "A receiver without power: gaps at any hour. An aged store: full by noon but empty soon \
            after dusk.",
        field_check: "Measure each cell under load; note dusk and dawn voltages of the store.",
        remedy: "Replace both cells by two of the same type, make and date.",
        caution: "Replace both together; never mix, charge, heat, short or open primary cells; leaked paste is \
            caustic: gloves and eye protection; recycle. Lower the mast to reach the cells.",
        source: "IEC 60086-5 clause 7; effect: energy balance, derived",
    },
    apply: |condition, severity| {
        condition.cells_charge = condition.cells_charge.min(1.0 - severity);
    },
};
