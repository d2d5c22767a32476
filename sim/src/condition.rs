//! Every property of the station that can go wrong, each with its healthy value and unit.
//!
//! A fault is a schedule on some of these; the symptom comes out of the physics that reads them.
//! No sensor model reads anything else that a fault may change.

/// The state of everything that can go wrong.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Condition {
    /// Where the head's arrow points, degrees clockwise from true north. Healthy: 0.
    pub arrow_azimuth_deg: f64,
    /// Open share of the funnel outlet, 0 (closed) to 1. Healthy: 1.
    pub funnel_opening: f64,
    /// Share of the natural airflow that still passes the shield, 0 to 1. Healthy: 1.
    pub shield_airflow: f64,
    /// Share of the humidity element under a water film, 0 to 1. Healthy: 0.
    pub hygrometer_film: f64,
    /// Friction of the vane's pivot, 0 (as made) to 1 (seized). Healthy: 0.
    pub vane_friction: f64,
    /// Charge left in the reserve cells as a share of what they were inserted with, 0 to 1, that this
    /// knob imposes as an upper bound. Healthy: 1.
    pub cells_charge: f64,
}

impl Condition {
    /// As made and as installed by the book.
    pub const HEALTHY: Self = Self {
        arrow_azimuth_deg: 0.0,
        funnel_opening: 1.0,
        shield_airflow: 1.0,
        hygrometer_film: 0.0,
        vane_friction: 0.0,
        cells_charge: 1.0,
    };
}

impl Default for Condition {
    fn default() -> Self {
        Self::HEALTHY
    }
}
