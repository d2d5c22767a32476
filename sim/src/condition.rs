//! Every property of the station that can go wrong, each with its healthy value and unit.
//!
//! A fault is a schedule on some of these; the symptom comes out of the physics that reads them.
//! No sensor model reads anything else that a fault may change. At its healthy value a knob leaves
//! every result bit for bit as it is without the knob.

/// The state of everything that can go wrong.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Condition {
    /// Where the head's arrow points, degrees clockwise from true north. Healthy: 0. With the arrow at
    /// 30 degrees (east of north) the head reports directions that are 30 degrees too small.
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

/// One row of the table of knobs.
#[derive(Debug, Clone, Copy)]
pub struct Knob {
    /// Name of the field of [`Condition`].
    pub name: &'static str,
    /// Unit in UDUNITS spelling.
    pub unit: &'static str,
    /// Value when nothing is wrong.
    pub healthy: f64,
    /// Smallest and largest value the physics is made for.
    pub range: (f64, f64),
    /// What turning it away from its healthy value does to the readings.
    pub what: &'static str,
    /// Read the field.
    pub get: fn(&Condition) -> f64,
    /// Write the field.
    pub set: fn(&mut Condition, f64),
}

macro_rules! knob {
    ($field:ident, $unit:literal, $range:expr, $what:literal) => {
        Knob {
            name: stringify!($field),
            unit: $unit,
            healthy: Condition::HEALTHY.$field,
            range: $range,
            what: $what,
            get: |condition| condition.$field,
            set: |condition, value| condition.$field = value,
        }
    };
}

/// All knobs, in the order of the fields of [`Condition`].
pub const KNOBS: &[Knob] = &[
    knob!(
        arrow_azimuth_deg,
        "degree",
        (-180.0, 180.0),
        "wind direction reads this much too small at every speed and hour"
    ),
    knob!(
        funnel_opening,
        "1",
        (0.0, 1.0),
        "rain comes late, its peaks are clipped and part of it evaporates or overflows"
    ),
    knob!(
        shield_airflow,
        "1",
        (0.0, 1.0),
        "temperature and humidity lag, and the sun heats the shield more"
    ),
    knob!(
        hygrometer_film,
        "1",
        (0.0, 1.0),
        "humidity stays near 100 % for hours after the air has dried"
    ),
    knob!(
        vane_friction,
        "1",
        (0.0, 1.0),
        "the vane moves only above a threshold speed that grows without limit"
    ),
    knob!(
        cells_charge,
        "1",
        (0.0, 1.0),
        "nothing until the store runs down; then the head falls silent until the sun is back"
    ),
];

#[cfg(test)]
mod tests {
    use super::*;

    /// The derived `Debug` of the struct lists its fields in order with their values: the table must
    /// say the same, so that a new field cannot be forgotten in it.
    #[test]
    fn the_table_and_the_struct_agree() {
        let text = format!("{:?}", Condition::HEALTHY);
        let fields: Vec<(&str, f64)> = text
            .trim_start_matches("Condition { ")
            .trim_end_matches(" }")
            .split(", ")
            .map(|field| {
                let (name, value) = field.split_once(": ").expect("a field and its value");
                (name, value.parse().expect("a number"))
            })
            .collect();
        let table: Vec<(&str, f64)> = KNOBS.iter().map(|k| (k.name, k.healthy)).collect();
        assert_eq!(fields, table);
    }

    #[test]
    fn getters_and_setters_reach_their_own_field_only() {
        for (index, knob) in KNOBS.iter().enumerate() {
            let (low, high) = knob.range;
            assert!(low <= knob.healthy && knob.healthy <= high, "{}", knob.name);
            let mut condition = Condition::HEALTHY;
            (knob.set)(&mut condition, 0.25);
            for (other, row) in KNOBS.iter().enumerate() {
                let expected = if other == index { 0.25 } else { row.healthy };
                assert_eq!((row.get)(&condition), expected, "{}", row.name);
            }
        }
    }
}
