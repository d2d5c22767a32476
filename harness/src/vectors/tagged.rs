//! Authenticated packets: one of each kind, made under the key of the RFC's own examples.

use super::hex;
use super::packets::{HEAD, typical, typical_health, typical_identity};
use benchmast_protocol::frame::Frame;
use benchmast_protocol::packet::{MAX_PACKET, Packet};
use benchmast_protocol::tag::Key;
use serde::Serialize;

pub(super) const ABOUT: &str = "Authenticated packets. hex: the whole packet; key: the secret that its tag is made with, 16 bytes; \
    counter: what stands before the tag; plain: the same packet without counter and tag.";

/// RFC 4493, section 4: the key of its test vectors.
pub(super) const KEY: Key = Key([
    0x2b, 0x7e, 0x15, 0x16, 0x28, 0xae, 0xd2, 0xa6, 0xab, 0xf7, 0x15, 0x88, 0x09, 0xcf, 0x4f, 0x3c,
]);

#[derive(Serialize)]
pub(super) struct Tagged {
    id: &'static str,
    clauses: &'static [&'static str],
    comment: &'static str,
    verdict: &'static str,
    hex: String,
    key: String,
    counter: u32,
    plain: String,
}

/// The packet's bytes, authenticated.
pub(super) fn emit(packet: &Packet, key: &Key, counter: u32) -> Vec<u8> {
    let mut buffer = [0; MAX_PACKET];
    packet
        .emit_tagged(key, counter, &mut buffer)
        .map(<[u8]>::to_vec)
        .unwrap_or_default()
}

pub(super) fn all() -> Vec<Tagged> {
    let of = |id, comment, sequence, counter, frame| {
        let packet = Packet {
            head: HEAD,
            sequence,
            frame,
        };
        Tagged {
            id,
            clauses: &["W10.1", "W10.2"],
            comment,
            verdict: "valid",
            hex: hex(&emit(&packet, &KEY, counter)),
            key: hex(&KEY.0),
            counter,
            plain: hex(&super::packets::emit(HEAD, sequence, frame)),
        }
    };
    vec![
        of(
            "observation-tagged",
            "The typical observation.",
            4660,
            1234,
            Frame::Observation(typical()),
        ),
        of(
            "health-tagged",
            "The typical health report.",
            4096,
            1235,
            Frame::Health(typical_health()),
        ),
        of(
            "identity-tagged",
            "The typical identity; the highest counter there is.",
            0,
            u32::MAX,
            Frame::Identity(typical_identity()),
        ),
    ]
}
