//! A head's readings as cells of a table.

use benchmast_protocol::frame::Observation;
use benchmast_protocol::quantity::Quantity;

/// A wire value in its steps, if there is a reading.
pub(super) fn wire_steps<Q: Quantity>(quantity: Q) -> Option<i32> {
    if quantity.is_missing() || !quantity.is_legal() {
        return None;
    }
    i32::try_from(quantity.raw()).ok()
}

/// The readings in the order of the table of quantities, in steps; rain in tips.
pub(crate) fn reported(observation: &Observation, tips: Option<i32>) -> [Option<i32>; 9] {
    [
        wire_steps(observation.air_temperature),
        wire_steps(observation.relative_humidity),
        wire_steps(observation.air_pressure),
        wire_steps(observation.wind_speed),
        wire_steps(observation.wind_speed_of_gust),
        wire_steps(observation.wind_from_direction),
        tips,
        wire_steps(observation.illuminance),
        wire_steps(observation.ultraviolet_index),
    ]
}
