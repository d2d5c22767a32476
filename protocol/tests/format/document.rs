//! `WIRE.md` against the vector files and the code: its worked bytes, its tables, its clause numbers.

use super::vectors::{hex, read, text, unhex, verdict};
use benchmast_protocol::frame::{Frame, Observation};
use benchmast_protocol::packet::Packet;
use benchmast_protocol::quantity::{
    AirPressure, AirTemperature, CellsVoltage, Illuminance, Quantity, RelativeHumidity,
    Specification, StoreVoltage, SupplyVoltage, UltravioletIndex, WindFromDirection, WindSpeed,
    WindSpeedOfGust,
};
use std::collections::{BTreeMap, BTreeSet};
use std::format;
use std::string::{String, ToString};
use std::vec::Vec;

const DOCUMENT: &str = include_str!("../../WIRE.md");
const FILES: [&str; 6] = [
    "packets_accepted.json",
    "packets_refused.json",
    "streams.json",
    "packets_tagged.json",
    "dialogues.json",
    "dialogues_tagged.json",
];

/// Worked examples of the document: vector id and bytes.
fn worked() -> Vec<(String, Vec<u8>)> {
    let mut all = Vec::new();
    for block in DOCUMENT.split("```hex ").skip(1) {
        let (id, rest) = block.split_once('\n').unwrap();
        let (body, _) = rest.split_once("```").unwrap();
        let digits: String = body
            .lines()
            .map(|line| line.split(';').next().unwrap())
            .flat_map(str::chars)
            .filter(|letter| !letter.is_whitespace())
            .collect();
        all.push((id.trim().to_string(), unhex(&digits)));
    }
    all
}

/// Rows of the document's tables, their cells trimmed and without backticks.
fn rows() -> Vec<Vec<String>> {
    DOCUMENT
        .lines()
        .filter(|line| line.starts_with('|'))
        .map(|line| {
            line.trim_matches('|')
                .split('|')
                .map(|cell| cell.trim().replace('`', ""))
                .collect()
        })
        .collect()
}

#[test]
fn worked_bytes_are_those_of_the_vectors() {
    let mut vectors = BTreeMap::new();
    for file in &FILES[..4] {
        for vector in read(file) {
            vectors.insert(
                text(&vector, "id").to_string(),
                text(&vector, "hex").to_string(),
            );
        }
    }
    let worked = worked();
    assert!(worked.len() >= 6, "{} worked examples", worked.len());
    for (id, bytes) in worked {
        assert_eq!(Some(&hex(&bytes)), vectors.get(&id), "{id}");
    }
}

/// Worked by hand from the document: nothing here was generated.
#[test]
fn worked_by_hand() {
    let bytes = [
        0x11, 0x4d, 0x3c, 0x2b, 0x1a, 0x34, 0x12, 0x03, 0xd2, 0x21, 0xd8, 0x03, 0x94, 0x4f, 0x22,
        0x3d, 0xf7, 0x01, 0xd2, 0x09, 0xd2, 0xf8, 0x02, 0x2b, 0x80, 0x15,
    ];
    let packet = Packet::parse(&bytes).unwrap();
    assert_eq!(packet.head.to_string(), "1a2b3c4d");
    assert_eq!(packet.sequence, 4660);
    let Frame::Observation(Observation {
        status,
        air_temperature,
        relative_humidity,
        air_pressure,
        wind_speed,
        wind_speed_of_gust,
        wind_from_direction,
        tips,
        illuminance,
        ultraviolet_index,
    }) = packet.frame
    else {
        panic!("{packet:?}");
    };
    assert_eq!((status.life(), status.bits(), tips), (3, 3, 1234));
    assert_eq!(air_temperature.si(), Some(21.53));
    assert_eq!(relative_humidity.si(), Some(47.2));
    assert_eq!(air_pressure.si(), Some(1013.2));
    assert_eq!(wind_speed.si(), Some(3.4));
    assert_eq!(wind_speed_of_gust.si(), Some(6.1));
    assert_eq!(wind_from_direction.si(), Some(247.0));
    assert_eq!(illuminance.si(), Some(48_210.0));
    assert_eq!(ultraviolet_index.si(), Some(4.3));

    let health = unhex("124d3c2b1a00100301808004e4199213c4176bca3a");
    let Frame::Health(health) = Packet::parse(&health).unwrap().frame else {
        panic!("{health:02x?}");
    };
    assert_eq!(
        (health.restarts, health.cause.0, health.uptime_s),
        (3, 1, 65_536)
    );
    assert_eq!(
        (health.supply.raw(), health.store.raw(), health.cells.raw()),
        (3300, 2450, 3012)
    );
    assert_eq!(health.firmware, 107);

    let identity = unhex("134d3c2b1a0000d5c8d1bd0402ff0110ac02f484");
    let Frame::Identity(identity) = Packet::parse(&identity).unwrap().frame else {
        panic!("{identity:02x?}");
    };
    assert_eq!(identity.serial.to_string(), "1203004501");
    assert_eq!((identity.hardware, identity.fit.0), (2, 255));
    assert_eq!((identity.interval_s, identity.bucket_um), (16, 300));
}

#[test]
fn field_tables_are_those_of_the_code() {
    let observation = [
        AirTemperature::SPECIFICATION,
        RelativeHumidity::SPECIFICATION,
        AirPressure::SPECIFICATION,
        WindSpeed::SPECIFICATION,
        WindSpeedOfGust::SPECIFICATION,
        WindFromDirection::SPECIFICATION,
        Illuminance::SPECIFICATION,
        UltravioletIndex::SPECIFICATION,
    ];
    let health = [
        SupplyVoltage::SPECIFICATION,
        StoreVoltage::SPECIFICATION,
        CellsVoltage::SPECIFICATION,
    ];
    let rows = rows();
    let mut at = 0;
    for row in observation.iter().chain(&health) {
        let Specification {
            name, unit, step, ..
        } = *row;
        let found = rows
            .iter()
            .position(|cells| cells[0] == name)
            .unwrap_or_else(|| panic!("no row for {name}"));
        assert!(found > at, "{name} is out of order");
        at = found;
        let stated = &rows[found][2..6];
        let expected = [
            format!("{}/{}", step.0, step.1),
            unit.to_string(),
            format!("{} to {}", row.raw_min, row.raw_max),
            row.raw_missing.to_string(),
        ];
        assert_eq!(stated, expected, "{name}");
    }
}

#[test]
fn odd_inputs_are_judged_as_their_table_says() {
    let mut vectors = BTreeMap::new();
    for file in &FILES[..2] {
        for vector in read(file) {
            vectors.insert(text(&vector, "id").to_string(), unhex(text(&vector, "hex")));
        }
    }
    let (_, table) = DOCUMENT.split_once("## 8 Odd inputs").unwrap();
    let (table, _) = table.split_once("## 9").unwrap();
    let mut listed = BTreeSet::new();
    for line in table.lines().filter(|line| line.contains('`')) {
        let cells: Vec<&str> = line.trim_matches('|').split('|').map(str::trim).collect();
        let id = cells[3].trim_matches('`');
        let bytes = vectors.get(id).unwrap_or_else(|| panic!("no vector {id}"));
        assert_eq!(verdict(bytes), cells[1], "{id}");
        listed.insert(id.to_string());
    }
    for vector in read("packets_refused.json") {
        let id = text(&vector, "id");
        assert!(listed.contains(id), "{id} is not in the table");
    }
}

#[test]
fn clauses_are_unique_and_the_vectors_cite_real_ones() {
    let mut clauses = BTreeSet::new();
    for line in DOCUMENT.lines() {
        if let Some(rest) = line.strip_prefix("- [W") {
            let (number, _) = rest.split_once(']').unwrap();
            assert!(
                clauses.insert(format!("W{number}")),
                "W{number} stands twice"
            );
        }
    }
    for cited in DOCUMENT
        .split("[W")
        .skip(1)
        .filter_map(|rest| rest.split_once(']'))
    {
        assert!(
            clauses.contains(&format!("W{}", cited.0)),
            "W{} is cited, not stated",
            cited.0
        );
    }
    let mut cited = BTreeSet::new();
    for file in FILES {
        for vector in read(file) {
            for clause in vector["clauses"].as_array().unwrap() {
                let clause = clause.as_str().unwrap();
                assert!(
                    clauses.contains(clause),
                    "{clause} of {}",
                    text(&vector, "id")
                );
                cited.insert(clause.to_string());
            }
        }
    }
    for clause in [
        "W7.1", "W7.2", "W7.3", "W7.4", "W7.5", "W7.6", "W6.4", "W6.5", "W6.6", "W10.1", "W10.2",
        "W10.3", "W10.4", "W10.5",
    ] {
        assert!(cited.contains(clause), "no vector for {clause}");
    }
}
