//! The quantities of the plots side by side, so that one loop serves them all.

use benchmast_protocol::quantity::{
    AirPressure, AirTemperature, Illuminance, Quantity, RelativeHumidity, Specification,
    UltravioletIndex, WindFromDirection, WindSpeed, WindSpeedOfGust,
};
use benchmast_sim::station::Reading;
use benchmast_sim::truth::Truth;

/// Number of quantities that are plotted as lines or dots; rain is a sum and stands apart.
pub(super) const LANES: usize = 8;
/// Wind speed among the [`LANES`].
pub(super) const SPEED: usize = 3;
/// Gust among the [`LANES`].
pub(super) const GUST: usize = 4;
/// Wind direction among the [`LANES`]: the only one that is a circle.
pub(super) const DIRECTION: usize = 5;
/// Illuminance among the [`LANES`].
pub(super) const LIGHT: usize = 6;

/// The rows of the table of quantities in the order of the lanes.
pub(super) const SPECIFICATIONS: [Specification; LANES] = [
    AirTemperature::SPECIFICATION,
    RelativeHumidity::SPECIFICATION,
    AirPressure::SPECIFICATION,
    WindSpeed::SPECIFICATION,
    WindSpeedOfGust::SPECIFICATION,
    WindFromDirection::SPECIFICATION,
    Illuminance::SPECIFICATION,
    UltravioletIndex::SPECIFICATION,
];

/// Below this true wind speed a direction means nothing, m/s (common practice, no source).
pub(super) const CALM_MS: f64 = 1.0;

/// One value per lane; what is missing is not a number.
pub(super) type Values = [f64; LANES];

/// The shorter way round, degrees in -180..=180.
pub(super) fn turned(difference_deg: f64) -> f64 {
    if difference_deg > 180.0 {
        difference_deg - 360.0
    } else if difference_deg < -180.0 {
        difference_deg + 360.0
    } else {
        difference_deg
    }
}

/// Reading minus truth; no direction in a calm.
#[inline]
pub(super) fn error(reading: &Values, truth: &Values) -> Values {
    let mut difference = [f64::NAN; LANES];
    for lane in 0..LANES {
        difference[lane] = reading[lane] - truth[lane];
    }
    difference[DIRECTION] = if truth[SPEED] >= CALM_MS {
        turned(difference[DIRECTION])
    } else {
        f64::NAN
    };
    difference
}

/// The true values of an interval.
pub(super) fn of_truth(truth: &Truth) -> Values {
    [
        truth.air_temperature_degc,
        truth.relative_humidity_percent,
        truth.air_pressure_hpa,
        truth.wind_speed_ms,
        truth.wind_speed_of_gust_ms,
        truth.wind_from_direction_deg,
        truth.illuminance_lx,
        truth.ultraviolet_index,
    ]
}

/// The values a head reads; none when it does not run.
pub(super) fn of_reading(reading: &Reading) -> Values {
    if !reading.alive {
        return [f64::NAN; LANES];
    }
    let observation = &reading.observation;
    [
        number(observation.air_temperature),
        number(observation.relative_humidity),
        number(observation.air_pressure),
        number(observation.wind_speed),
        number(observation.wind_speed_of_gust),
        number(observation.wind_from_direction),
        number(observation.illuminance),
        number(observation.ultraviolet_index),
    ]
}

#[inline]
fn number<Q: Quantity>(reading: Q) -> f64 {
    // Multiplied by one step, for a division per reading is a third of the cost of an interval; the
    // difference to `si` is in the sixteenth digit.
    let step = const { Q::SPECIFICATION.step.0 as f64 / Q::SPECIFICATION.step.1 as f64 };
    if reading.is_missing() || !reading.is_legal() {
        f64::NAN
    } else {
        reading.raw() as f64 * step
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shorter_way_round() {
        for (difference, expected) in [(0.0, 0.0), (190.0, -170.0), (-190.0, 170.0), (180.0, 180.0)]
        {
            assert_eq!(turned(difference), expected);
        }
        assert!(turned(f64::NAN).is_nan());
    }
}
