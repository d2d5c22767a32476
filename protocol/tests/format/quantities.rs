//! The table of quantities: every wire value of every type goes to SI and back.

use benchmast_protocol::quantity::{
    AirPressure, AirTemperature, CellsVoltage, Illuminance, Quantity, RelativeHumidity,
    StoreVoltage, SupplyVoltage, UltravioletIndex, WindFromDirection, WindSpeed, WindSpeedOfGust,
};
use std::string::ToString;

/// Runs a check for each type of the table.
macro_rules! for_each_quantity {
    ($check:ident) => {
        $check::<AirTemperature>();
        $check::<RelativeHumidity>();
        $check::<AirPressure>();
        $check::<WindSpeed>();
        $check::<WindSpeedOfGust>();
        $check::<WindFromDirection>();
        $check::<Illuminance>();
        $check::<UltravioletIndex>();
        $check::<SupplyVoltage>();
        $check::<StoreVoltage>();
        $check::<CellsVoltage>();
    };
}

fn every_raw_value<Q: Quantity>() {
    let row = Q::SPECIFICATION;
    let (mut legal, mut missing) = (0, 0);
    for raw in -(1 << 21)..=(1 << 21) {
        match Q::try_from_raw(raw) {
            Err(_) => {
                assert!(raw != row.raw_missing && !(row.raw_min..=row.raw_max).contains(&raw));
            }
            Ok(value) if value.is_missing() => {
                missing += 1;
                assert_eq!((value, value.si()), (Q::MISSING, None));
            }
            Ok(value) => {
                legal += 1;
                let si = value.si().unwrap();
                assert_eq!(value.raw(), raw);
                assert_eq!(Q::try_from_si(si), Ok(value), "{} {raw}", row.name);
                assert_eq!(Q::saturating_from_si(si), value);
            }
        }
    }
    assert_eq!(
        (legal, missing),
        (row.raw_max - row.raw_min + 1, 1),
        "{}",
        row.name
    );
}

#[test]
fn every_raw_value_of_every_type_goes_round() {
    for_each_quantity!(every_raw_value);
}

fn ends<Q: Quantity>() {
    let row = Q::SPECIFICATION;
    let (lowest, highest) = (
        Q::try_from_raw(row.raw_min).unwrap(),
        Q::try_from_raw(row.raw_max).unwrap(),
    );
    for beyond in [
        row.max_si() + 0.6 * row.step_si(),
        1e12,
        f64::MAX,
        f64::INFINITY,
    ] {
        assert_eq!(
            Q::saturating_from_si(beyond),
            highest,
            "{} {beyond}",
            row.name
        );
        assert!(Q::try_from_si(beyond).is_err(), "{} {beyond}", row.name);
    }
    for beyond in [
        row.min_si() - 0.6 * row.step_si(),
        -1e12,
        f64::MIN,
        f64::NEG_INFINITY,
    ] {
        assert_eq!(
            Q::saturating_from_si(beyond),
            lowest,
            "{} {beyond}",
            row.name
        );
        assert!(Q::try_from_si(beyond).is_err(), "{} {beyond}", row.name);
    }
    assert_eq!(
        Q::saturating_from_si(row.max_si() + 0.4 * row.step_si()),
        highest
    );
    assert_eq!(
        Q::saturating_from_si(row.min_si() - 0.4 * row.step_si()),
        lowest
    );
    assert_eq!(Q::saturating_from_si(f64::NAN), Q::MISSING);
    assert!(Q::try_from_si(f64::NAN).is_err());
    for raw in [i64::MIN, i64::MAX, row.raw_min - 1, row.raw_max + 1] {
        assert!(Q::try_from_raw(raw).is_err(), "{} {raw}", row.name);
    }
}

#[test]
fn beyond_the_ends_saturates_and_not_a_number_is_missing() {
    for_each_quantity!(ends);
}

#[test]
fn halves_round_away_from_zero() {
    let raw = |value| AirTemperature::try_from_si(value).unwrap().raw();
    // 0.125 K and its negative are exact in binary: exactly twelve and a half steps.
    assert_eq!(
        [raw(0.125), raw(-0.125), raw(0.004), raw(-0.004)],
        [13, -13, 0, 0]
    );
}

#[test]
fn shows_value_and_unit() {
    assert_eq!(
        AirTemperature::try_from_raw(-5).unwrap().to_string(),
        "-0.05 degC"
    );
    assert_eq!(
        WindFromDirection::try_from_raw(7).unwrap().to_string(),
        "7 degree"
    );
    assert_eq!(Illuminance::MISSING.to_string(), "missing");
}
