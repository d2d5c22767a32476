//! Byte streams: what a sender writes, and what a receiver must make of whole and of broken ones.

use super::hex;
use super::packets::{HEAD, emit, typical, typical_health, typical_identity};
use super::refused::sealed;
use benchmast_protocol::frame::Frame;
use benchmast_protocol::packet::MAX_PACKET;
use benchmast_protocol::stream::{DELIMITER, MAX_ENCODED, encode};
use serde::Serialize;

pub(super) const ABOUT: &str = "Byte streams. hex: the stream from its first byte. yields: what a deframer hands on, \
    in order: the bytes of a packet in hex (its check not yet looked at) or the word damaged. \
    unfinished: the stream ends inside a frame. sent: a sender that sends these packets writes exactly this stream.";

#[derive(Serialize)]
pub(super) struct Stream {
    id: &'static str,
    clauses: &'static [&'static str],
    comment: &'static str,
    hex: String,
    yields: Vec<String>,
    unfinished: bool,
    sent: bool,
}

const DAMAGED: &str = "damaged";

fn framed(packet: &[u8]) -> Vec<u8> {
    let mut buffer = [0; MAX_ENCODED];
    encode(packet, &mut buffer)
        .map(<[u8]>::to_vec)
        .unwrap_or_default()
}

pub(super) fn all() -> Vec<Stream> {
    let observation = emit(HEAD, 64, Frame::Observation(typical()));
    let health = emit(HEAD, 64, Frame::Health(typical_health()));
    let identity = emit(HEAD, 0, Frame::Identity(typical_identity()));
    let lost = {
        let mut bytes = framed(&observation);
        bytes.remove(9);
        bytes
    };
    let open = vec![DELIMITER];
    let overlong = [vec![0x41; 2 * MAX_ENCODED], vec![DELIMITER]].concat();
    let longest = sealed(&[0x55; MAX_PACKET - 2]);
    // A frame of one more byte than the longest packet, with its stuffing in order.
    let one_more = [vec![50], vec![0x33; 49], vec![DELIMITER]].concat();
    vec![
        stream(
            "one-packet",
            &["W6.1", "W6.2"],
            "The opening delimiter and one packet.",
            &[&open, &framed(&observation)],
            &[hex(&observation)],
            true,
        ),
        stream(
            "three-packets",
            &["W6.1", "W6.2"],
            "Observation, health and identity one after the other.",
            &[
                &open,
                &framed(&observation),
                &framed(&health),
                &framed(&identity),
            ],
            &[hex(&observation), hex(&health), hex(&identity)],
            true,
        ),
        stream(
            "longest-packet",
            &["W6.3"],
            "48 bytes take 50: the longest piece of this version.",
            &[&open, &framed(&longest)],
            &[hex(&longest)],
            true,
        ),
        stream(
            "empty-frames",
            &["W6.4"],
            "Delimiters without anything between them say nothing.",
            &[&open, &open, &open, &framed(&health), &open, &open],
            &[hex(&health)],
            false,
        ),
        stream(
            "joined-late",
            &["W6.5"],
            "The receiver joins in the middle of a packet; the next one is whole.",
            &[&framed(&observation)[9..], &framed(&health)],
            &[DAMAGED.to_string(), hex(&health)],
            false,
        ),
        stream(
            "byte-lost",
            &["W6.5"],
            "One byte of the first packet is lost: its stuffing is broken; the next one is whole.",
            &[&open, &lost, &framed(&health)],
            &[DAMAGED.to_string(), hex(&health)],
            false,
        ),
        stream(
            "delimiter-inside",
            &["W6.5"],
            "A byte of the first packet became zero: two broken pieces, then a whole packet.",
            &[
                &open,
                &[0x03, 0x11, 0x00, 0x3c, 0x2b, 0x1a, 0x00],
                &framed(&health),
            ],
            &[DAMAGED.to_string(), DAMAGED.to_string(), hex(&health)],
            false,
        ),
        stream(
            "overlong",
            &["W6.6"],
            "A hundred bytes without a delimiter; the next packet is whole.",
            &[&open, &overlong, &framed(&health)],
            &[DAMAGED.to_string(), hex(&health)],
            false,
        ),
        stream(
            "overlong-by-one",
            &["W6.6"],
            "49 bytes, one more than a packet may have.",
            &[&open, &one_more, &framed(&health)],
            &[DAMAGED.to_string(), hex(&health)],
            false,
        ),
        stream(
            "empty-packet",
            &["W6.4"],
            "The stuffed form of no bytes: a frame, whose packet is then too short.",
            &[&open, &[0x01, 0x00]],
            &[String::new()],
            false,
        ),
        Stream {
            unfinished: true,
            ..stream(
                "unfinished",
                &["W6.5"],
                "The stream ends before the delimiter.",
                &[&open, &framed(&health), &framed(&observation)[..12]],
                &[hex(&health)],
                false,
            )
        },
    ]
}

fn stream(
    id: &'static str,
    clauses: &'static [&'static str],
    comment: &'static str,
    pieces: &[&[u8]],
    yields: &[String],
    sent: bool,
) -> Stream {
    Stream {
        id,
        clauses,
        comment,
        hex: hex(&pieces.concat()),
        yields: yields.to_vec(),
        unfinished: false,
        sent,
    }
}
