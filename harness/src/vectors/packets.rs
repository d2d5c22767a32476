//! Packets that a decoder must accept, with every field.

use super::hex;
use benchmast_protocol::frame::observation::Status;
use benchmast_protocol::frame::{
    Frame, Health, Identity, Observation, RestartCause, SensorFit, Serial,
};
use benchmast_protocol::packet::{HeadId, MAX_PACKET, Packet};
use benchmast_protocol::quantity::{
    AirPressure, AirTemperature, CellsVoltage, Illuminance, Quantity, RelativeHumidity,
    Specification, StoreVoltage, SupplyVoltage, UltravioletIndex, WindFromDirection, WindSpeed,
    WindSpeedOfGust,
};
use serde::Serialize;

pub(super) const ABOUT: &str = "Packets that a decoder must accept. verdict: valid, or tolerated for what no head of today sends. hex: the whole packet. \
    fields: in wire order; raw is the number on the wire, value the reading in unit as a decimal string, null if missing.";

#[derive(Serialize)]
pub(super) struct Accepted {
    id: &'static str,
    clauses: &'static [&'static str],
    comment: &'static str,
    verdict: &'static str,
    hex: String,
    kind: &'static str,
    head: String,
    sequence: u16,
    fields: Vec<Field>,
}

#[derive(Serialize)]
pub(super) struct Field {
    pub(super) name: &'static str,
    raw: i64,
    pub(super) value: Option<String>,
    unit: &'static str,
}

/// The head of most examples; its bytes differ, so that their order shows.
pub(super) const HEAD: HeadId = HeadId(0x1a2b_3c4d);

/// The packet's bytes.
pub(super) fn emit(head: HeadId, sequence: u16, frame: Frame) -> Vec<u8> {
    let packet = Packet {
        head,
        sequence,
        frame,
    };
    let mut buffer = [0; MAX_PACKET];
    packet
        .emit(&mut buffer)
        .map(<[u8]>::to_vec)
        .unwrap_or_default()
}

/// A fine afternoon.
pub(super) fn typical() -> Observation {
    Observation {
        status: Status::new(3, false, false, false),
        air_temperature: AirTemperature::saturating_from_si(21.53),
        relative_humidity: RelativeHumidity::saturating_from_si(47.2),
        air_pressure: AirPressure::saturating_from_si(1013.2),
        wind_speed: WindSpeed::saturating_from_si(3.4),
        wind_speed_of_gust: WindSpeedOfGust::saturating_from_si(6.1),
        wind_from_direction: WindFromDirection::saturating_from_si(247.0),
        tips: 1234,
        illuminance: Illuminance::saturating_from_si(48_210.0),
        ultraviolet_index: UltravioletIndex::saturating_from_si(4.3),
    }
}

pub(super) fn typical_health() -> Health {
    Health {
        restarts: 3,
        cause: RestartCause::CELLS_INSERTED,
        uptime_s: 65_536,
        supply: SupplyVoltage::saturating_from_si(3300.0),
        store: StoreVoltage::saturating_from_si(2450.0),
        cells: CellsVoltage::saturating_from_si(3012.0),
        firmware: 107,
    }
}

pub(super) fn typical_identity() -> Identity {
    Identity {
        serial: Serial(1_203_004_501),
        hardware: 2,
        fit: SensorFit::ALL,
        interval_s: 16,
        bucket_um: 300,
    }
}

/// Every quantity at the value that `pick` takes from its row of the table.
fn observation_at(pick: impl Fn(&Specification) -> i64, status: Status, tips: u16) -> Observation {
    fn at<Q: Quantity>(pick: &impl Fn(&Specification) -> i64) -> Q {
        Q::try_from_raw(pick(&Q::SPECIFICATION)).unwrap_or(Q::MISSING)
    }
    Observation {
        status,
        air_temperature: at(&pick),
        relative_humidity: at(&pick),
        air_pressure: at(&pick),
        wind_speed: at(&pick),
        wind_speed_of_gust: at(&pick),
        wind_from_direction: at(&pick),
        tips,
        illuminance: at(&pick),
        ultraviolet_index: at(&pick),
    }
}

fn quantity<Q: Quantity>(value: Q) -> Field {
    let specification = Q::SPECIFICATION;
    Field {
        name: specification.name,
        raw: value.raw(),
        value: value
            .si()
            .map(|si| format!("{si:.*}", specification.decimals())),
        unit: specification.unit,
    }
}

fn number(name: &'static str, raw: impl Into<i64>, unit: &'static str) -> Field {
    let raw = raw.into();
    Field {
        name,
        raw,
        value: Some(raw.to_string()),
        unit,
    }
}

pub(super) fn fields(frame: &Frame) -> Vec<Field> {
    match frame {
        Frame::Observation(frame) => vec![
            number("status", frame.status.bits(), "1"),
            quantity(frame.air_temperature),
            quantity(frame.relative_humidity),
            quantity(frame.air_pressure),
            quantity(frame.wind_speed),
            quantity(frame.wind_speed_of_gust),
            quantity(frame.wind_from_direction),
            number("tips", frame.tips, "1"),
            quantity(frame.illuminance),
            quantity(frame.ultraviolet_index),
        ],
        Frame::Health(frame) => vec![
            number("restarts", frame.restarts, "1"),
            number("cause", frame.cause.0, "1"),
            number("uptime_s", frame.uptime_s, "s"),
            quantity(frame.supply),
            quantity(frame.store),
            quantity(frame.cells),
            number("firmware", frame.firmware, "1"),
        ],
        Frame::Identity(frame) => vec![
            number("serial", frame.serial.0 as i64, "1"),
            number("hardware", frame.hardware, "1"),
            number("fit", frame.fit.0, "1"),
            number("interval_s", frame.interval_s, "s"),
            number("bucket_um", frame.bucket_um, "um"),
        ],
    }
}

/// Id, clauses, comment, and the packet.
type Sample = (
    &'static str,
    &'static [&'static str],
    &'static str,
    HeadId,
    u16,
    Frame,
);

pub(super) fn accepted() -> Vec<Accepted> {
    let longest = Observation {
        status: Status::new(15, true, true, true),
        air_temperature: AirTemperature::MISSING,
        ..observation_at(|row| row.raw_missing, Status::default(), u16::MAX)
    };
    let samples: [Sample; 12] = [
        (
            "observation-typical",
            &["W3.1", "W3.2"],
            "A fine afternoon.",
            HEAD,
            0x1234,
            Frame::Observation(typical()),
        ),
        (
            "observation-frost",
            &["W2.3"],
            "Below zero: the zigzag form of a negative number.",
            HEAD,
            7,
            Frame::Observation(Observation {
                air_temperature: AirTemperature::saturating_from_si(-7.25),
                ..typical()
            }),
        ),
        (
            "observation-all-missing",
            &["W3.3"],
            "No sensor gives a reading.",
            HEAD,
            1,
            Frame::Observation(observation_at(|row| row.raw_missing, Status::default(), 0)),
        ),
        (
            "observation-lowest",
            &["W3.2"],
            "Every quantity at the lower end of its legal range.",
            HeadId(0),
            0,
            Frame::Observation(observation_at(|row| row.raw_min, Status::default(), 0)),
        ),
        (
            "observation-highest",
            &["W3.2"],
            "Every quantity at the upper end of its legal range.",
            HeadId(u32::MAX),
            u16::MAX,
            Frame::Observation(observation_at(
                |row| row.raw_max,
                Status::new(15, true, true, true),
                u16::MAX,
            )),
        ),
        (
            "observation-longest",
            &["W1.7"],
            "29 bytes: no observation is longer.",
            HEAD,
            2,
            Frame::Observation(longest),
        ),
        (
            "observation-on-cells",
            &["W3.4"],
            "Life 9, on cells, store low, cells not low.",
            HEAD,
            3,
            Frame::Observation(Observation {
                status: Status::new(25, true, true, false),
                ..typical()
            }),
        ),
        (
            "health-typical",
            &["W4.1"],
            "A little over eighteen hours after cells were inserted.",
            HEAD,
            4096,
            Frame::Health(typical_health()),
        ),
        (
            "health-longest",
            &["W1.7"],
            "27 bytes: no health packet is longer. The cause is a code of a later head.",
            HEAD,
            64,
            Frame::Health(Health {
                restarts: u16::MAX,
                cause: RestartCause(200),
                uptime_s: u32::MAX,
                supply: SupplyVoltage::MISSING,
                store: StoreVoltage::MISSING,
                cells: CellsVoltage::MISSING,
                firmware: u16::MAX,
            }),
        ),
        (
            "identity-typical",
            &["W5.1"],
            "All sensors, 16 s, a bucket of 0.3 mm.",
            HEAD,
            0,
            Frame::Identity(typical_identity()),
        ),
        (
            "identity-longest",
            &["W1.7"],
            "23 bytes: no identity packet is longer.",
            HEAD,
            0,
            Frame::Identity(Identity {
                serial: Serial(Serial::MAX),
                hardware: u16::MAX,
                fit: SensorFit::ALL,
                interval_s: 3600,
                bucket_um: 5000,
            }),
        ),
        (
            "identity-shortest",
            &["W5.1"],
            "Every number at its least.",
            HEAD,
            0,
            Frame::Identity(Identity {
                serial: Serial(0),
                hardware: 0,
                fit: SensorFit(0),
                interval_s: 1,
                bucket_um: 10,
            }),
        ),
    ];
    samples
        .into_iter()
        .map(|(id, clauses, comment, head, sequence, frame)| Accepted {
            id,
            clauses,
            comment,
            verdict: match id {
                // An unknown cause of restart; a head without any sensor.
                "health-longest" | "identity-shortest" => "tolerated",
                _ => "valid",
            },
            hex: hex(&emit(head, sequence, frame)),
            kind: match frame {
                Frame::Observation(_) => "observation",
                Frame::Health(_) => "health",
                Frame::Identity(_) => "identity",
            },
            head: head.to_string(),
            sequence,
            fields: fields(&frame),
        })
        .collect()
}
