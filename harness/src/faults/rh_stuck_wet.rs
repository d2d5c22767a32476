//! The humidity element stays wet.

use super::{Card, Fault};

/// A water film covers the element.
pub(super) const FAULT: Fault = Fault {
    id: "rh_stuck_wet",
    full_severity: "the whole element stays under a water film once it got wet",
    moves: &["relative_humidity"],
    stops_head: false,
    card: Card {
        what: "A water film or an aged filter keeps the humidity element wet: it reads 100 % far too long.",
        signature: "98 to 100 % for hours after the gap between temperature and dew point has opened.",
        look_alikes: "Real fog: little light, little wind, neighbours wet too. A wet shield dries within an hour.",
        field_check: "Compare the 14:00 values of dry days with a hand instrument; breathe on it and time the \
            way back.",
        remedy: "Dry the element with gentle warmth, clean or replace its filter, else replace the element.",
        caution: "No solvents and no flame near the element. Lower the mast rather than work on a ladder.",
        source: "A published long series whose count of readings above 97 % rose for years and fell after \
            replacement; sizes: common practice, no source",
    },
    apply: |condition, severity| {
        condition.hygrometer_film = condition.hygrometer_film.max(severity);
    },
};
