//! The vane's pivot binds.

use super::{Card, Fault};

/// Friction in the pivot up to a seized bearing.
pub(super) const FAULT: Fault = Fault {
    id: "vane_stuck",
    full_severity: "pivot seized",
    moves: &["wind_from_direction"],
    stops_head: false,
    card: Card {
        what: "The vane's pivot is fouled or seized.",
        signature: "The same direction within one step for more than an hour while the wind blows above 2 m/s, \
            or the vane moves only in strong wind.",
        look_alikes: "A steady valley wind still scatters by 10 degrees. Icing stops the cups as well.",
        field_check: "Turn the vane by a finger: does it move freely and stay where it is put?",
        remedy: "Clean the pivot, or replace the vane.",
        caution: "Lower the mast before touching the vane; no mast work in wind or near overhead lines.",
        source: "common practice, no source",
    },
    apply: |condition, severity| condition.vane_friction = condition.vane_friction.max(severity),
};
