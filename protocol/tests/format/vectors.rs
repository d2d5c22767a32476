//! Reads `protocol/vectors/*.json`, and checks the codec against the packets in them.

use benchmast_protocol::frame::{Frame, Kind};
use benchmast_protocol::packet::{HeadId, MAX_PACKET, Packet, ParseError};
use benchmast_protocol::quantity::Quantity;
use serde_json::Value;
use std::collections::BTreeSet;
use std::format;
use std::path::Path;
use std::string::{String, ToString};
use std::vec::Vec;

/// The vectors of a file.
pub(crate) fn read(name: &str) -> Vec<Value> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("vectors")
        .join(name);
    let text = std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{path:?}: {error}"));
    let file: Value = serde_json::from_str(&text).unwrap();
    assert_eq!(file["wire_format"], 1);
    file["vectors"].as_array().unwrap().clone()
}

pub(crate) fn text<'v>(vector: &'v Value, key: &str) -> &'v str {
    vector[key]
        .as_str()
        .unwrap_or_else(|| panic!("no {key} in {vector}"))
}

pub(crate) fn unhex(text: &str) -> Vec<u8> {
    assert_eq!(text.len() % 2, 0, "{text}");
    (0..text.len() / 2)
        .map(|at| u8::from_str_radix(&text[2 * at..2 * at + 2], 16).unwrap())
        .collect()
}

pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// What a decoder says of a packet by itself.
pub(crate) fn verdict(bytes: &[u8]) -> &'static str {
    match Packet::parse(bytes) {
        Err(ParseError::Damaged) => "damaged",
        Err(ParseError::UnknownVersion(_)) => "unknown_version",
        Err(ParseError::Malformed) => "malformed",
        Ok(packet) if !packet.frame.is_legal() => "implausible",
        Ok(_) => "accepted",
    }
}

/// Name, wire number and reading of each field.
type Field = (String, i64, Option<String>);

fn quantity<Q: Quantity>(value: Q) -> Field {
    let row = Q::SPECIFICATION;
    let reading = value.si().map(|si| format!("{si:.*}", row.decimals()));
    (row.name.to_string(), value.raw(), reading)
}

fn number(name: &str, raw: impl TryInto<i64>) -> Field {
    let raw = raw.try_into().unwrap_or(i64::MIN);
    (name.to_string(), raw, Some(raw.to_string()))
}

fn fields(frame: &Frame) -> Vec<Field> {
    match frame {
        Frame::Observation(o) => [
            number("status", o.status.bits()),
            quantity(o.air_temperature),
            quantity(o.relative_humidity),
            quantity(o.air_pressure),
            quantity(o.wind_speed),
            quantity(o.wind_speed_of_gust),
            quantity(o.wind_from_direction),
            number("tips", o.tips),
            quantity(o.illuminance),
            quantity(o.ultraviolet_index),
        ]
        .to_vec(),
        Frame::Health(h) => [
            number("restarts", h.restarts),
            number("cause", h.cause.0),
            number("uptime_s", h.uptime_s),
            quantity(h.supply),
            quantity(h.store),
            quantity(h.cells),
            number("firmware", h.firmware),
        ]
        .to_vec(),
        Frame::Identity(i) => [
            number("serial", i.serial.0),
            number("hardware", i.hardware),
            number("fit", i.fit.0),
            number("interval_s", i.interval_s),
            number("bucket_um", i.bucket_um),
        ]
        .to_vec(),
    }
}

#[test]
fn accepted_packets_decode_to_their_fields_and_encode_to_their_bytes() {
    for vector in read("packets_accepted.json") {
        let id = text(&vector, "id");
        let bytes = unhex(text(&vector, "hex"));
        assert_eq!(verdict(&bytes), "accepted", "{id}");
        let packet = Packet::parse(&bytes).unwrap();
        let head = HeadId(u32::from_str_radix(text(&vector, "head"), 16).unwrap());
        assert_eq!(packet.head, head, "{id}");
        assert_eq!(vector["sequence"], packet.sequence, "{id}");
        let kind = match packet.frame.kind() {
            Kind::Observation => "observation",
            Kind::Health => "health",
            Kind::Identity => "identity",
        };
        assert_eq!(kind, text(&vector, "kind"), "{id}");
        let stated: Vec<Field> = vector["fields"]
            .as_array()
            .unwrap()
            .iter()
            .map(|field| {
                (
                    text(field, "name").to_string(),
                    field["raw"].as_i64().unwrap(),
                    field["value"].as_str().map(ToString::to_string),
                )
            })
            .collect();
        assert_eq!(fields(&packet.frame), stated, "{id}");
        let mut buffer = [0; MAX_PACKET];
        assert_eq!(packet.emit(&mut buffer), Some(&bytes[..]), "{id}");
    }
}

#[test]
fn refused_packets_are_refused_for_their_reason() {
    for vector in read("packets_refused.json") {
        let id = text(&vector, "id");
        assert_eq!(
            verdict(&unhex(text(&vector, "hex"))),
            text(&vector, "refusal"),
            "{id}"
        );
    }
}

#[test]
fn ids_are_unique_and_comments_are_there() {
    let mut ids = BTreeSet::new();
    for file in [
        "packets_accepted.json",
        "packets_refused.json",
        "streams.json",
        "dialogues.json",
    ] {
        let vectors = read(file);
        assert!(vectors.len() >= 10, "{file}");
        for vector in vectors {
            assert!(ids.insert(text(&vector, "id").to_string()), "{vector}");
            assert!(!text(&vector, "comment").is_empty(), "{vector}");
            assert!(
                !vector["clauses"].as_array().unwrap().is_empty(),
                "{vector}"
            );
        }
    }
}
