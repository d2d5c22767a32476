//! A climate of one's own, from `[weather.normals]`.

use super::draft::NormalsDraft;
use super::read::Places;
use super::report::{Document, Kind, Problem};
use benchmast_sim::weather::climate::{Climate, Normals, USUAL_LINKE_TURBIDITY};

/// Share of a second prevailing sector when nothing is said.
const USUAL_SECOND_SHARE: f64 = 0.3;

/// Greatest change of the mean temperature from one month to the next, K. The most continental places on
/// Earth come to about 20 (common practice, no one source); a curve through greater steps overshoots them.
const GREATEST_STEP_K: f64 = 30.0;

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// The climate; `None` when a quantity is missing or two contradict each other.
pub(super) fn climate(
    document: &Document,
    draft: &NormalsDraft,
    places: &Places,
    problems: &mut Vec<Problem>,
) -> Option<Climate> {
    let mean = draft.mean_temperature_degc?;
    let range = draft.daily_range_k?;
    let dew_point = draft.mean_dew_point_degc?;
    let rain = draft.rain_mm?;
    let wet_hours = draft.wet_hours?;
    let wind = draft.mean_wind_speed_ms?;
    let direction = draft.prevailing_direction_deg?;
    let cloud = draft.cloud_area_fraction?;
    let turbidity = draft.linke_turbidity.unwrap_or([USUAL_LINKE_TURBIDITY; 12]);
    let second = draft.second_direction_deg;
    let second_share = draft.second_share.unwrap_or([USUAL_SECOND_SHARE; 12]);
    let found_before = problems.len();
    let mut conflict = |key: &str, message: String, help: &str| {
        problems.push(document.problem(
            Kind::Conflict,
            places.value("weather.normals", key),
            message,
            "these do not go together",
            help,
        ));
    };
    if let Some(month) = (0..12).find(|&month| dew_point[month] > mean[month]) {
        let message = format!(
            "the mean dew point of {} ({} degC) is above the mean temperature ({} degC)",
            MONTHS[month], dew_point[month], mean[month]
        );
        conflict(
            "mean_dew_point_degc",
            message,
            "air is saturated at the latest when its dew point reaches its temperature: lower the dew point",
        );
    }
    let next = |month: usize| (month + 1) % 12;
    if let Some(month) =
        (0..12).find(|&month| (mean[next(month)] - mean[month]).abs() > GREATEST_STEP_K)
    {
        let message = format!(
            "the mean temperature goes from {} degC in {} to {} degC in {}",
            mean[month],
            MONTHS[month],
            mean[next(month)],
            MONTHS[next(month)]
        );
        conflict(
            "mean_temperature_degc",
            message,
            "no place on Earth changes by more than 30 K from month to month: is a sign or a decimal point wrong?",
        );
    }
    if let Some(month) = (0..12).find(|&month| (rain[month] > 0.0) != (wet_hours[month] > 0.0)) {
        let message = format!(
            "{} has {} mm of rain in {} wet hours",
            MONTHS[month], rain[month], wet_hours[month]
        );
        conflict(
            "wet_hours",
            message,
            "rain and wet hours are both 0, or neither is",
        );
    }
    if problems.len() > found_before {
        return None;
    }
    Some(Climate {
        months: std::array::from_fn(|month| Normals {
            mean_temperature_degc: mean[month],
            daily_range_k: range[month],
            mean_dew_point_degc: dew_point[month],
            rain_mm: rain[month],
            wet_hours: wet_hours[month],
            mean_wind_speed_ms: wind[month],
            // 360 and 0 are one direction, and the sim knows [0, 360).
            prevailing_direction_deg: direction[month] % 360.0,
            second_direction_deg: second.map_or(0.0, |second| second[month] % 360.0),
            second_share: second.map_or(0.0, |_| second_share[month]),
            cloud_area_fraction: cloud[month],
            linke_turbidity: turbidity[month],
        }),
    })
}
