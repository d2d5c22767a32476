//! Webs, leaves or a nest block the shield.

use super::{Card, Fault};

/// Share of the airflow that still passes at severity 1.
const WORST_AIRFLOW: f64 = 0.05;

/// The air no longer passes between the plates.
pub(super) const FAULT: Fault = Fault {
    id: "shield_airflow_blocked",
    full_severity: "5 % of the airflow still passes the shield",
    moves: &["air_temperature", "relative_humidity"],
    stops_head: false,
    card: Card {
        what: "Webs, a wasp nest, leaves or ice sit between the plates of the shield.",
        signature: "Temperature and humidity lag three to ten times longer (fronts and sunrise smeared over 10 \
            to 40 minutes), and the temperature is too high by day.",
        look_alikes: "A healthy shield in a calm also lags. An aged shield is too warm by day but does not lag.",
        field_check: "Look through the plates, with a torch from the far side.",
        remedy: "Brush the plates out; fit a mesh.",
        caution: "Wasps and bees: keep away and call a specialist; occupied nests may be protected. Lower the \
            mast rather than work on a ladder.",
        source: "Bernard et al. 2019, Climate 7(2):26 (response time and radiation gain); sizes: common practice, no source",
    },
    apply: |condition, severity| {
        condition.shield_airflow = condition
            .shield_airflow
            .min(1.0 - severity * (1.0 - WORST_AIRFLOW));
    },
};
