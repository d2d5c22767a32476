//! Sections 6 and 9 of WIRE.md: the byte stream, and what never changes.

use super::super::script::{Case, Mode, framed};
use super::craft::{observation_bytes, packet, packet_of, sealed};
use super::samples::{obs, report};
use super::*;

fn stream_case(id: &str, clauses: &[&str], sentence: &str) -> Case {
    Case::must(id, clauses, sentence).in_mode(Mode::Stream)
}

/// A frame by hand, delimiter included.
fn raw(bytes: &[u8]) -> Vec<u8> {
    [bytes, &[0]].concat()
}

pub(super) fn all() -> Vec<Case> {
    let one = framed(&obs(3, 9, 4).1);
    let two = framed(&obs(3, 10, 5).1);
    let three = framed(&report(3, 10).1);
    let open = [0_u8];
    let damaged = || refused("damaged");
    let zeros = observation_bytes([0, 0, 0, 3000, 0, 0, 0, 0, 0, 0], HeadId(0), 0);
    let zero_head = settings(5, 16, 300);
    let byte_by_byte = [&open[..], &one, &two].concat();
    let events_at = [one.len(), one.len() + two.len()];
    let bytewise = byte_by_byte.iter().enumerate().fold(
        stream_case(
            "W6.5/byte-by-byte",
            &["W6.4"],
            "However the stream is cut, a frame is told when its delimiter comes and not before.",
        ),
        |case, (at, byte)| {
            let events: &[Told] = match events_at.iter().position(|end| *end == at) {
                Some(0) => &[baseless(9)],
                Some(_) => &[new(10, 1, 0)],
                None => &[],
            };
            case.stream("a byte", &[*byte], events)
        },
    );
    let every_cut = (1..one.len()).fold(
        stream_case(
            "W6.5/cut-in-two",
            &[],
            "A packet that comes in two parts is one packet.",
        ),
        |case, at| {
            let bytes = framed(&obs(3, 9 + at as u16, 0).1);
            let event = if at == 1 {
                baseless(10)
            } else {
                new(9 + at as u16, 0, 0)
            };
            let at = at.min(bytes.len() - 1);
            case.stream("its first part", &bytes[..at], &[]).stream(
                "its second part",
                &bytes[at..],
                &[event],
            )
        },
    );
    let long_code = [vec![0xFF], vec![0x41; 254]].concat();
    vec![
        stream_case("W6.1/zeros-inside", &["W3.2"], "Zeros of a packet come back out of their stuffing.")
            .with(&[(HeadId(0), zero_head)])
            .stream("a packet full of zeros", &framed(&zeros), &[baseless_of(HeadId(0), 0)]),
        stream_case("W6.1/three-at-once", &[], "Packets that come at once are judged one after the other.")
            .stream("three packets", &[&open[..], &one, &two, &three].concat(), &[baseless(9), new(10, 1, 0), well(10)]),
        stream_case("W6.2/no-opening-delimiter", &["W6.4"], "The first frame may begin with the stream itself.")
            .stream("a packet", &one, &[baseless(9)]),
        stream_case("W6.2/delimiters-between", &["W6.4"], "A sender may send delimiters between packets at any time.")
            .stream("a packet among delimiters", &[&[0; 5][..], &one, &[0; 3], &two, &[0]].concat(), &[baseless(9), new(10, 1, 0)])
            .stream("delimiters alone", &[0; 300], &[]),
        stream_case("W6.3/longest", &["W1.7"], "The longest stretch is 49 bytes and its delimiter.")
            .stream("48 bytes of version 2", &framed(&sealed(&[0x21; 46])), &[unknown_version(2)])
            .stream("a packet", &one, &[baseless(9)]),
        stream_case("W6.4/frame-of-no-bytes", &["W1.5"], "A frame that stands for no bytes is a packet too short, not a delimiter to skip.")
            .stream("the stuffed form of nothing, twice", &[1, 0, 1, 0], &[damaged(), damaged()])
            .stream("a packet", &one, &[baseless(9)]),
        stream_case("W6.4/frame-from-the-start", &[], "The bytes from the start of the stream to its first delimiter are a frame.")
            .stream("the end of a packet", &one[5..], &[damaged()])
            .stream("a packet", &two, &[baseless(10)]),
        stream_case("W6.5/stuffing-broken", &[], "A frame that ends before its stuffing says is damaged, once.")
            .stream("a code of 30 and three bytes", &raw(&[30, 1, 2, 3]), &[damaged()])
            .stream("a packet", &one, &[baseless(9)])
            .stream("a code at the very end", &raw(&[2, 1, 9]), &[damaged()])
            .stream("a packet", &two, &[new(10, 1, 0)]),
        stream_case("W6.5/byte-after-the-delimiter", &[], "The byte after a delimiter begins the next frame, whatever was before.")
            .stream("two packets with one delimiter between, thrice", &[&one[..], &two, &three].concat(), &[baseless(9), new(10, 1, 0), well(10)])
            .stream("broken, and a packet right after", &[&raw(&[9, 1])[..], &framed(&obs(3, 11, 5).1)].concat(), &[damaged(), new(11, 0, 0)])
            .stream("too long, and a packet right after", &[&raw(&[0x41; 120])[..], &framed(&obs(3, 12, 6).1)].concat(), &[damaged(), new(12, 1, 0)]),
        stream_case("W6.5/nothing-of-an-open-frame", &[], "Of a frame without its delimiter nothing is said, however long one waits.")
            .stream("a packet without its delimiter", &one[..one.len() - 1], &[])
            .tick(100 * INTERVAL, &[])
            .stream("the delimiter", &[0], &[baseless(9)]),
        bytewise,
        every_cut,
        stream_case("W6.6/much-too-long", &[], "Ten thousand bytes without a delimiter are one damaged frame, told when its delimiter comes.")
            .stream("ten thousand bytes", &[0x55; 10_000], &[])
            .stream("the delimiter and a packet", &[&open[..], &one].concat(), &[damaged(), baseless(9)]),
        stream_case("W6.6/forty-nine", &["W1.7"], "49 bytes are one too many, even with a right check.")
            .stream("49 bytes", &framed(&sealed(&[0x21; 47])), &[damaged()])
            .stream("48 bytes", &framed(&sealed(&[0x21; 46])), &[unknown_version(2)])
            .stream("a packet", &one, &[baseless(9)]),
        stream_case("W6.6/code-of-254", &["W6.1"], "A code byte of FF is damage: the frame is far too long.")
            .stream("a code of FF and 254 bytes", &raw(&long_code), &[damaged()])
            .stream("a code of FF alone", &raw(&[0xFF]), &[damaged()])
            .stream("a packet", &one, &[baseless(9)]),
        stream_case("W6.6/too-long-again-and-again", &["W6.5"], "Each frame that is too long is told once.")
            .stream("three of them", &[&raw(&[0x41; 60])[..], &raw(&[0x42; 70]), &raw(&[0x43; 80])].concat(), &[damaged(), damaged(), damaged()])
            .stream("a packet", &one, &[baseless(9)]),
        Case::must("W9.1/later-version-or-damage", &["W1.1", "W1.5"], "Version and check stand where they stand in every version: damage is told from a later format.")
            .hear(("version 15, a body of its own".into(), sealed(&[0xF7, 1, 2, 3, 4, 5, 6, 7, 8])), &[unknown_version(15)])
            .hear(("the same, damaged".into(), {
                let mut bytes = sealed(&[0xF7, 1, 2, 3, 4, 5, 6, 7, 8]);
                bytes[3] ^= 4;
                bytes
            }), &[refused("damaged")])
            .hear(("version 3, nine bytes".into(), sealed(&[0x3F, 1, 2, 3, 4, 5, 6])), &[unknown_version(3)])
            .hear(obs(3, 9, 4), &[baseless(9)]),
        stream_case("W9.1/delimiter-of-every-version", &["W6.4"], "The delimiter is the same in every version: packets of others between ours cost nothing.")
            .stream("ours", &one, &[baseless(9)])
            .stream("one of version 7", &framed(&packet_of(0x70, A, 1, &[vec![0, 0, 7]])), &[unknown_version(7)])
            .stream("ours", &two, &[new(10, 1, 0)]),
        Case::must("W9.3/cause-to-come", &["W4.3"], "New causes of a restart may come within version 1.")
            .hear(("health, cause 77".into(), packet(2, A, 9, &[3, 77, 144, 3300, 2450, 3012, 107])), &[well(9)]),
    ]
}
