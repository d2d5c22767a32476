//! Leaves or moss throttle the funnel's outlet.

use super::{Card, Fault};

/// Open share of the outlet at severity 1: it seeps for many hours and overflows in heavy rain. A closed
/// outlet is another fault.
const WORST_OPENING: f64 = 0.25;

/// The outlet narrows.
pub(super) const FAULT: Fault = Fault {
    id: "funnel_partly_blocked",
    full_severity: "25 % of the outlet still open, through a plug: it passes about 1 mm an hour",
    moves: &["thickness_of_rainfall_amount"],
    stops_head: false,
    card: Card {
        what: "Leaves, pollen paste or moss throttle the outlet of the funnel.",
        signature: "Peak rain rate clipped at what the outlet passes, a tail of evenly spaced tips for half an \
            hour to a day after the rain; total 5 to 50 % low if the funnel overflows or evaporates.",
        look_alikes: "Drizzle: also even tips, but light and humidity say rain. Melting snow: needs 1 degC or \
            less before. Rain shadow: bound to a wind sector.",
        field_check: "Pour 200 ml slowly into the funnel: expected number of tips within 10 %, and note how \
            long it takes to drain.",
        remedy: "Clean the funnel, fit a mesh, repeat every three months.",
        caution: "Keep fingers away from sharp filter edges. Reach the funnel from the ground or lower the \
            mast; ladder only with a second person, never against the mast.",
        source: "El Hachem et al. 2024, HESS 28:4715; de Vos et al. 2019, GRL 46:8820; linear reservoir: derived",
    },
    apply: |condition, severity| {
        condition.funnel_opening = condition
            .funnel_opening
            .min(1.0 - severity * (1.0 - WORST_OPENING));
    },
};
