//! Packets that a decoder must refuse, and why.

use super::hex;
use super::packets::{HEAD, emit, typical, typical_health, typical_identity};
use benchmast_protocol::frame::Frame;
use benchmast_protocol::packet::check;
use serde::Serialize;

pub(super) const ABOUT: &str = "Packets that a decoder must refuse, judged by themselves, whoever sent them. verdict: always invalid. \
    hex: the whole packet. refusal: damaged, unknown_version, malformed or implausible; the first that applies in this order.";

#[derive(Serialize)]
pub(super) struct Refused {
    id: &'static str,
    clauses: &'static [&'static str],
    comment: &'static str,
    verdict: &'static str,
    hex: String,
    refusal: &'static str,
}

/// A packet with a right check around any bytes: what a sender with a fault of its own would send.
pub(super) fn sealed(covered: &[u8]) -> Vec<u8> {
    [covered, &check(covered).to_be_bytes()].concat()
}

/// A typical packet with some of its bytes replaced by others, and a right check.
fn altered(frame: Frame, at: usize, length: usize, by: &[u8]) -> Vec<u8> {
    let mut bytes = emit(HEAD, 9, frame);
    bytes.truncate(bytes.len() - 2);
    bytes.splice(at..at + length, by.iter().copied());
    sealed(&bytes)
}

/// Id, clauses, comment, bytes and the reason.
type Sample = (
    &'static str,
    &'static [&'static str],
    &'static str,
    Vec<u8>,
    &'static str,
);

pub(super) fn refused() -> Vec<Refused> {
    let observation = Frame::Observation(typical());
    let health = Frame::Health(typical_health());
    let identity = Frame::Identity(typical_identity());
    let whole = emit(HEAD, 9, observation);
    let swapped = {
        let mut bytes = whole.clone();
        let end = bytes.len();
        bytes.swap(end - 1, end - 2);
        bytes
    };
    let flipped = {
        let mut bytes = whole.clone();
        bytes[12] ^= 0x10;
        bytes
    };
    // Offsets in the typical observation: 7 status, 8 temperature, 10 humidity, 12 pressure, 14 wind,
    // 15 gust, 16 direction, 18 tips, 20 illuminance, 23 UV index.
    let samples: Vec<Sample> = vec![
        ("empty", &["W1.5"], "No bytes at all.", vec![], "damaged"),
        (
            "too-short",
            &["W1.5"],
            "Eight bytes with a right check: one less than header and check take.",
            sealed(&[0x11, 0, 0, 0, 0, 0]),
            "damaged",
        ),
        (
            "check-alone",
            &["W1.5"],
            "The check of nothing.",
            sealed(&[]),
            "damaged",
        ),
        (
            "bit-flipped",
            &["W1.5"],
            "One bit of the body flipped.",
            flipped,
            "damaged",
        ),
        (
            "cut-off",
            &["W1.5"],
            "The last byte is missing.",
            whole[..whole.len() - 1].to_vec(),
            "damaged",
        ),
        (
            "check-swapped",
            &["W1.4"],
            "The check's bytes in the wrong order.",
            swapped,
            "damaged",
        ),
        (
            "version-0",
            &["W1.1", "W7.1"],
            "Format version 0.",
            altered(observation, 0, 1, &[0x01]),
            "unknown_version",
        ),
        (
            "version-2",
            &["W1.1", "W7.1"],
            "Format version 2; kind and body need not be as here.",
            sealed(&[0x2f, 1, 2, 3, 4, 5, 6, 7]),
            "unknown_version",
        ),
        (
            "kind-0",
            &["W1.2"],
            "Kind 0.",
            altered(observation, 0, 1, &[0x10]),
            "malformed",
        ),
        (
            "kind-4",
            &["W1.2"],
            "Kind 4.",
            altered(observation, 0, 1, &[0x14]),
            "malformed",
        ),
        (
            "reserved-bit",
            &["W1.2"],
            "Bit 3 of byte 0 is set.",
            altered(observation, 0, 1, &[0x19]),
            "malformed",
        ),
        (
            "no-body",
            &["W2.5"],
            "Header and check only.",
            sealed(&[0x11, 0x4d, 0x3c, 0x2b, 0x1a, 9, 0]),
            "malformed",
        ),
        (
            "body-short",
            &["W2.5"],
            "The body ends before its last field.",
            altered(observation, 23, 1, &[]),
            "malformed",
        ),
        (
            "body-long",
            &["W2.5"],
            "One byte follows the last field.",
            altered(observation, 24, 0, &[0]),
            "malformed",
        ),
        (
            "kind-mismatch",
            &["W2.5"],
            "An observation's body called health.",
            altered(observation, 0, 1, &[0x12]),
            "malformed",
        ),
        (
            "number-padded",
            &["W2.4"],
            "Wind speed 34 written in two bytes.",
            altered(observation, 14, 1, &[0xa2, 0x00]),
            "malformed",
        ),
        (
            "number-too-big",
            &["W2.4"],
            "A tip counter of 65536.",
            altered(observation, 18, 2, &[0x80, 0x80, 0x04]),
            "malformed",
        ),
        (
            "number-unending",
            &["W2.4"],
            "A tip counter of four bytes.",
            altered(observation, 18, 2, &[0xff, 0xff, 0xff, 0x01]),
            "malformed",
        ),
        (
            "temperature-high",
            &["W3.2"],
            "60.01 degC.",
            altered(observation, 8, 2, &[0xe2, 0x5d]),
            "implausible",
        ),
        (
            "temperature-low",
            &["W3.2"],
            "-80.01 degC.",
            altered(observation, 8, 2, &[0x81, 0x7d]),
            "implausible",
        ),
        (
            "humidity-high",
            &["W3.2"],
            "100.1 percent.",
            altered(observation, 10, 2, &[0xe9, 0x07]),
            "implausible",
        ),
        (
            "pressure-low",
            &["W3.2"],
            "299.9 hPa.",
            altered(observation, 12, 2, &[0xb7, 0x17]),
            "implausible",
        ),
        (
            "direction-360",
            &["W3.2"],
            "North is 0, not 360.",
            altered(observation, 16, 2, &[0xe8, 0x02]),
            "implausible",
        ),
        (
            "illuminance-high",
            &["W3.2"],
            "200001 lx.",
            altered(observation, 20, 3, &[0xc1, 0x9a, 0x0c]),
            "implausible",
        ),
        (
            "uv-index-high",
            &["W3.2"],
            "UV index 25.1.",
            altered(observation, 23, 1, &[0xfb]),
            "implausible",
        ),
        (
            "gust-below-mean",
            &["W3.5"],
            "Gust 3.3 m/s, mean 3.4 m/s.",
            altered(observation, 15, 1, &[33]),
            "implausible",
        ),
        (
            "status-reserved-bit",
            &["W3.4"],
            "Bit 7 of the status is set.",
            altered(observation, 7, 1, &[0x83]),
            "implausible",
        ),
        (
            "supply-high",
            &["W4.1"],
            "6001 mV.",
            altered(health, 12, 2, &[0xf1, 0x2e]),
            "implausible",
        ),
        (
            "serial-eleven-digits",
            &["W5.1"],
            "Serial number 10000000000.",
            altered(identity, 7, 5, &[0x80, 0xc8, 0xaf, 0xa0, 0x25]),
            "implausible",
        ),
        (
            "fit-reserved-bit",
            &["W5.1"],
            "Bit 8 of the fit is set.",
            altered(identity, 13, 2, &[0xff, 0x03]),
            "implausible",
        ),
        (
            "interval-0",
            &["W5.1"],
            "An interval of 0 s.",
            altered(identity, 15, 1, &[0]),
            "implausible",
        ),
        (
            "bucket-9",
            &["W5.1"],
            "A bucket of 9 um.",
            altered(identity, 16, 2, &[9]),
            "implausible",
        ),
    ];
    samples
        .into_iter()
        .map(|(id, clauses, comment, bytes, refusal)| Refused {
            id,
            clauses,
            comment,
            verdict: "invalid",
            hex: hex(&bytes),
            refusal,
        })
        .collect()
}
