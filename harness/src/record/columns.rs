//! Which columns the tables have, from the one table of quantities.

use super::table::{Column, Kind};
use crate::faults::Causes;
use benchmast_protocol::quantity::{
    CellsVoltage, OBSERVED, Quantity, RAINFALL, Specification, StoreVoltage, SupplyVoltage,
};

/// Depth of one tip as a step in mm: micrometres over 1000, in lowest decimal terms.
pub(super) fn bucket_step(bucket_um: u16) -> Kind {
    let (mut numerator, mut denominator) = (i32::from(bucket_um), 1000);
    while denominator > 1 && numerator % 10 == 0 {
        numerator /= 10;
        denominator /= 10;
    }
    Kind::Steps {
        numerator,
        denominator,
    }
}

fn steps_of(specification: &Specification, bucket_um: u16) -> Kind {
    if specification.name == RAINFALL.name {
        return bucket_step(bucket_um);
    }
    Kind::Steps {
        numerator: specification.step.0.cast_signed(),
        denominator: specification.step.1.cast_signed(),
    }
}

fn time(title: &str) -> Column {
    Column {
        name: "time".into(),
        unit: "1".into(),
        cf_standard_name: Some("time"),
        title: title.into(),
        kind: Kind::Time,
        flags: Vec::new(),
    }
}

fn count(name: &str, title: &str) -> Column {
    Column {
        name: name.into(),
        unit: "1".into(),
        cf_standard_name: None,
        title: title.into(),
        kind: Kind::Count,
        flags: Vec::new(),
    }
}

/// Truths that are fine noise at every hour; rain and light are at rest half of the time.
const NOISE: [&str; 11] = [
    "air_temperature_truth",
    "relative_humidity_truth",
    "air_pressure_truth",
    "wind_speed_truth",
    "wind_speed_of_gust_truth",
    "wind_from_direction_truth",
    "dew_point_temperature_truth",
    "wet_bulb_temperature_truth",
    "surface_net_downward_longwave_flux_truth",
    "cloud_area_fraction_truth",
    "solar_elevation_angle_truth",
];

fn real(name: &str, unit: &str, cf: Option<&'static str>, decimals: u32, title: &str) -> Column {
    Column {
        name: name.into(),
        unit: unit.into(),
        cf_standard_name: cf,
        title: title.into(),
        kind: Kind::Real {
            decimals,
            is_noise: NOISE.contains(&name),
        },
        flags: Vec::new(),
    }
}

fn reported(specification: &Specification, suffix: &str, what: &str, bucket_um: u16) -> Column {
    Column {
        name: format!("{}{suffix}", specification.name),
        unit: specification.unit.into(),
        cf_standard_name: specification.cf_standard_name,
        title: format!("{}{what}", specification.title),
        kind: steps_of(specification, bucket_um),
        flags: Vec::new(),
    }
}

/// What the receiver believed of the observations: all that a quality-control program may see.
pub(super) fn observed(bucket_um: u16) -> Vec<Column> {
    let mut columns = vec![
        time("Arrival of the packet by the receiver's clock, UTC"),
        count("head_id", "Radio address of the head"),
        count(
            "sequence",
            "Reporting intervals since the head started, modulo 65536",
        ),
        count("life", "Restart count of the head, modulo 16"),
    ];
    for specification in &OBSERVED {
        let what = if specification.name == RAINFALL.name {
            " since the last observation believed"
        } else {
            ""
        };
        columns.push(reported(specification, "", what, bucket_um));
    }
    columns.extend([
        count(
            "tips",
            "Tips of the bucket since the head started, modulo 65536",
        ),
        count(
            "intervals_missed",
            "Intervals not heard since the last observation believed",
        ),
        count(
            "intervals_late",
            "Intervals by which newer packets overtook this one; 0 in order",
        ),
        count("on_cells", "1 while the head runs on its reserve cells"),
        count(
            "store_low",
            "1 while the store is below its change-over voltage",
        ),
        count("cells_low", "1 while the reserve cells are near their end"),
        real(
            "signal_dbm",
            "dBm",
            None,
            1,
            "Signal strength at the receiver",
        ),
    ]);
    columns
}

/// What the receiver believed of the health reports.
pub(super) fn observed_health() -> Vec<Column> {
    let mut columns = vec![
        time("Arrival of the packet by the receiver's clock, UTC"),
        count("head_id", "Radio address of the head"),
        count(
            "sequence",
            "Reporting intervals since the head started, modulo 65536",
        ),
        count("restarts", "Restarts of the head, modulo 65536"),
        count("restart_cause", "Why the head last started, wire code"),
        count("uptime_s", "Seconds since the head started"),
    ];
    for specification in [
        SupplyVoltage::SPECIFICATION,
        StoreVoltage::SPECIFICATION,
        CellsVoltage::SPECIFICATION,
    ] {
        columns.push(reported(&specification, "", "", 300));
    }
    columns.push(count("firmware", "Firmware revision of the head"));
    columns
}

/// Decimals with which the truth of a quantity is shown: one more than the wire has, rain four.
fn truth_decimals(specification: &Specification) -> u32 {
    match specification.name {
        name if name == RAINFALL.name => 4,
        "illuminance_lx" => 0,
        _ => specification.decimals() as u32 + 1,
    }
}

/// The answer key: truth, twin, actual reading and effect of every quantity, and what caused it.
pub(super) fn key(bucket_um: u16, causes: &Causes) -> Vec<Column> {
    let mut columns = vec![
        time("End of the reporting interval in true time, UTC"),
        count("alive", "1 while the head runs"),
        count(
            "sequence",
            "Reporting intervals since the head started, modulo 65536",
        ),
        count("restarts", "Restarts of the head, modulo 65536"),
        Column {
            cf_standard_name: Some("status_flag"),
            flags: causes.iter().collect(),
            ..count("status_flag", "Active faults, one bit each")
        },
    ];
    for specification in &OBSERVED {
        columns.push(real(
            &format!("{}_truth", specification.name),
            specification.unit,
            specification.cf_standard_name,
            truth_decimals(specification),
            &format!("{}, free-air truth", specification.title),
        ));
        columns.push(reported(
            specification,
            "_twin",
            ", healthy twin's reading",
            bucket_um,
        ));
        columns.push(reported(
            specification,
            "_actual",
            ", actual head's reading",
            bucket_um,
        ));
        columns.push(reported(
            specification,
            "_effect",
            ", actual minus twin",
            bucket_um,
        ));
    }
    columns.extend([
        real(
            "dew_point_temperature_truth",
            "degC",
            Some("dew_point_temperature"),
            2,
            "Dew point, free-air truth",
        ),
        real(
            "wet_bulb_temperature_truth",
            "degC",
            Some("wet_bulb_temperature"),
            2,
            "Wet-bulb temperature, free-air truth",
        ),
        // In mm of water, as the rain beside it; the standard name's canonical unit is the metre.
        real(
            "lwe_thickness_of_snowfall_amount_truth",
            "mm",
            Some("lwe_thickness_of_snowfall_amount"),
            4,
            "Snow, as depth of water, truth; the rain is the liquid part alone",
        ),
        real(
            "surface_downwelling_shortwave_flux_in_air_truth",
            "W m-2",
            Some("surface_downwelling_shortwave_flux_in_air"),
            1,
            "Global irradiance, free-air truth",
        ),
        real(
            "surface_net_downward_longwave_flux_truth",
            "W m-2",
            Some("surface_net_downward_longwave_flux"),
            1,
            "Net long-wave irradiance of a surface at air temperature, truth; negative is a loss",
        ),
        real(
            "cloud_area_fraction_truth",
            "1",
            Some("cloud_area_fraction"),
            2,
            "Cloud cover, truth",
        ),
        real(
            "solar_elevation_angle_truth",
            "degree",
            Some("solar_elevation_angle"),
            2,
            "Elevation of the sun, truth",
        ),
        real(
            "store_mv_twin",
            "mV",
            None,
            0,
            "Store voltage, healthy twin",
        ),
        real(
            "store_mv_actual",
            "mV",
            None,
            0,
            "Store voltage, actual head",
        ),
        real(
            "supply_mv_twin",
            "mV",
            None,
            0,
            "Supply voltage, healthy twin",
        ),
        real(
            "supply_mv_actual",
            "mV",
            None,
            0,
            "Supply voltage, actual head",
        ),
    ]);
    columns
}

/// The receiver's own surroundings, every quarter of an hour.
pub(super) fn observed_receiver() -> Vec<Column> {
    vec![
        time("Instant, UTC"),
        count("mains", "1 while there is mains"),
        count(
            "running",
            "1 while the receiver runs, on mains or on its battery",
        ),
        real(
            "battery_hours",
            "h",
            None,
            2,
            "How long its battery would carry it from now on",
        ),
        count("network", "1 while the way to the network is open"),
        count(
            "satellites",
            "Satellites tracked; 0 without a satellite receiver",
        ),
        real(
            "horizontal_dilution",
            "1",
            None,
            2,
            "Horizontal dilution of precision; missing without a fix",
        ),
        real(
            "position_error_east_m",
            "m",
            None,
            1,
            "Error of the position fix towards east",
        ),
        real(
            "position_error_north_m",
            "m",
            None,
            1,
            "Error of the position fix towards north",
        ),
        real(
            "clock_offset_s",
            "s",
            None,
            4,
            "The receiver's clock less true time",
        ),
        count(
            "backlog",
            "Observations that wait in the receiver for the network",
        ),
        real(
            "behind_s",
            "s",
            None,
            0,
            "Age of the newest observation that the network has",
        ),
        count(
            "overflowed",
            "Observations lost since the start because its store was full",
        ),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn names_are_unique_and_units_are_stated() {
        for table in [
            observed(300),
            observed_health(),
            key(300, &Causes::default()),
        ] {
            let names: BTreeSet<_> = table.iter().map(|column| column.name.as_str()).collect();
            assert_eq!(names.len(), table.len());
            assert!(table.iter().all(|column| !column.unit.is_empty()));
        }
    }

    #[test]
    fn what_is_called_noise_is_in_the_key() {
        let key = key(300, &Causes::default());
        let noise = key
            .iter()
            .filter(|column| matches!(column.kind, Kind::Real { is_noise: true, .. }));
        assert_eq!(noise.count(), NOISE.len());
    }

    #[test]
    fn a_tip_of_any_size_is_a_step_in_lowest_decimal_terms() {
        for (bucket_um, numerator, denominator) in [
            (300, 3, 10),
            (200, 2, 10),
            (254, 254, 1000),
            (1000, 1, 1),
            (250, 25, 100),
        ] {
            assert_eq!(
                bucket_step(bucket_um),
                Kind::Steps {
                    numerator,
                    denominator
                }
            );
        }
    }
}
