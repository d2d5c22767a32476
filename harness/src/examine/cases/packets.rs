//! Sections 1 and 2 of WIRE.md: packet, numbers.

use super::super::script::{Case, Mode};
use super::craft::{Encoding, FieldKind, encoded, fields, packet_of, pieces, sealed, typical};
use super::samples::{named, obs, obs_of, observation_with, report};
use super::*;

pub(super) fn all() -> Vec<Case> {
    let mut all = packet_cases();
    all.extend(number_cases());
    all
}

/// The same input again and again, each refused with the same reason.
pub(super) fn each_refused(
    case: Case,
    packets: impl IntoIterator<Item = Said>,
    reason: &'static str,
) -> Case {
    let all_refused = packets
        .into_iter()
        .fold(case, |case, packet| case.hear(packet, &[refused(reason)]));
    all_refused.hear(obs(3, 9, 1234), &[baseless(9)])
}

fn packet_cases() -> Vec<Case> {
    let whole = obs(3, 9, 1234).1;
    let flipped = |bits: &[usize]| {
        let mut bytes = whole.clone();
        for bit in bits {
            bytes[bit / 8] ^= 0x80 >> (bit % 8);
        }
        bytes
    };
    let bits = 8 * whole.len();
    let two = obs(3, 10, 1234).1;
    let extremes = [
        HeadId(0),
        HeadId(u32::MAX),
        HeadId(0x0000_00ff),
        HeadId(0xff00_0000),
    ];
    let adopted: Vec<_> = extremes
        .iter()
        .zip(1..)
        .map(|(head, serial)| (*head, settings(serial, 16, 300)))
        .collect();
    let any_head = extremes.iter().fold(
        Case::must("W1.3/any-head-id", &["W7.7"], "A head id is any number of 32 bits, least significant byte first, shown with eight digits.").with(&adopted),
        |case, head| case.hear(obs_of(*head, 3, 9, 0), &[baseless_of(*head, 9)]),
    );
    vec![
        (0..16).filter(|version| *version != 1).fold(
            Case::must("W1.1/every-version", &["W9.1"], "Every format version but 1 is refused by its number, whatever else the packet holds."),
            |case, version: u8| {
                let bytes = packet_of(version << 4 | 1, A, 9, &pieces(1, &typical(1)));
                case.hear(named(&format!("version {version}"), bytes), &[unknown_version(version)])
            },
        ),
        each_refused(
            Case::must("W1.2/every-kind", &[], "Kinds 0 and 4 to 7 are not used."),
            [0, 4, 5, 6, 7].map(|kind| named(&format!("kind {kind}"), packet_of(0x10 | kind, A, 9, &pieces(1, &typical(1))))),
            "malformed",
        ),
        each_refused(
            Case::must("W1.2/reserved-bit-of-every-kind", &[], "A reserved bit that is 1 is refused in every kind."),
            (1..4).map(|kind: u8| named(&format!("kind {kind}, reserved bit"), packet_of(0x18 | kind, A, 9, &pieces(kind, &typical(kind))))),
            "malformed",
        ),
        any_head,
        Case::must("W1.3/kinds-share-a-number", &["W7.3"], "Packets of different kinds in one interval have the same number and are two packets.")
            .hear(report(3, 7), &[well(7)])
            .hear(obs(3, 7, 5), &[baseless(7)])
            .hear(report(3, 7), &[duplicate(7)]),
        Case::must("W1.3/every-byte-of-the-sequence", &[], "The sequence number is two bytes, least significant first.")
            .hear(obs(3, 0x00ff, 0), &[baseless(0x00ff)])
            .hear(obs(3, 0x0100, 0), &[new(0x0100, 0, 0)])
            .hear(obs(3, 0x1234, 0), &[new(0x1234, 0, 0x1133)]),
        each_refused(
            Case::must("W1.4/every-bit", &["W1.5"], "One wrong bit anywhere is found."),
            (0..bits).map(|bit| named(&format!("bit {bit} flipped"), flipped(&[bit]))),
            "damaged",
        ),
        each_refused(
            Case::must("W1.4/two-bits", &["W1.5"], "Two wrong bits are found, near or far apart."),
            (1..bits).map(|apart| named(&format!("bits 0 and {apart} flipped"), flipped(&[0, apart]))),
            "damaged",
        ),
        each_refused(
            Case::must("W1.4/bursts", &["W1.5"], "A burst of sixteen wrong bits is found."),
            (0..bits - 15).map(|from| named(&format!("burst from bit {from}"), flipped(&(from..from + 16).collect::<Vec<_>>()))),
            "damaged",
        ),
        each_refused(
            Case::must("W1.4/wrong-start", &[], "A check computed from a register of 0, or with the final inversion of other checks, is another check."),
            [0x0000_u16, 0xffff].map(|wrong| {
                let mut bytes = whole.clone();
                let end = bytes.len() - 2;
                let mut sum = if wrong == 0 { crc_from(0, &bytes[..end]) } else { u16::from_be_bytes([bytes[end], bytes[end + 1]]) ^ wrong };
                if sum.to_be_bytes() == bytes[end..] { sum ^= 1; }
                bytes[end..].copy_from_slice(&sum.to_be_bytes());
                named("another check", bytes)
            }),
            "damaged",
        ),
        each_refused(
            Case::must("W1.5/every-length", &["W1.4"], "A packet cut off anywhere is damaged."),
            (0..whole.len()).map(|length| named(&format!("the first {length} bytes"), whole[..length].to_vec())),
            "damaged",
        ),
        each_refused(
            Case::must("W1.5/short-with-right-check", &[], "Less than nine bytes are damaged, even with a right check."),
            (0..7).map(|length| named(&format!("{length} bytes and their check"), sealed(&whole[..length]))),
            "damaged",
        ),
        each_refused(
            Case::must("W1.6/two-in-a-datagram", &[], "A datagram holds one packet: two in one are damaged."),
            [named("two packets", [whole.clone(), two].concat())],
            "damaged",
        ),
        each_refused(
            Case::must("W1.6/byte-after-the-packet", &["W1.5"], "A byte too many in the datagram is damage."),
            [1_u8, 0x80, 0xff].map(|byte| named("a byte after the packet", [whole.clone(), vec![byte]].concat())),
            "damaged",
        ),
        Case::must("W1.7/forty-eight-bytes", &["W1.1"], "A receiver can take in 48 bytes, whatever they turn out to be.")
            .hear(named("48 bytes of version 2", sealed(&[0x21; 46])), &[unknown_version(2)])
            .hear(named("48 bytes of version 1", packet_of(0x11, A, 9, &[vec![0x55; 39]])), &[refused("malformed")])
            .hear(obs(3, 9, 0), &[baseless(9)]),
    ]
}

/// The check of W1.4 from another start.
fn crc_from(start: u16, bytes: &[u8]) -> u16 {
    bytes.iter().fold(start, |mut register, byte| {
        register ^= u16::from(*byte) << 8;
        for _ in 0..8 {
            let out = register & 0x8000 != 0;
            register <<= 1;
            if out {
                register ^= 0x5935;
            }
        }
        register
    })
}

/// A packet in which one field is spelled as given.
fn spelled(kind: u8, at: usize, spelling: Vec<u8>) -> Vec<u8> {
    let mut body = pieces(kind, &typical(kind));
    body[at] = spelling;
    packet_of(0x10 | kind, A, 9, &body)
}

/// Kind and place of every varint field, zigzag ones included, with its bits.
fn varints() -> impl Iterator<Item = (u8, usize, &'static FieldKind, u8)> {
    (1..4_u8).flat_map(|kind| {
        fields(kind)
            .iter()
            .enumerate()
            .filter_map(move |(at, field)| match field.encoding {
                Encoding::Varint(bits) | Encoding::Zigzag(bits) => Some((kind, at, field, bits)),
                Encoding::Byte => None,
            })
    })
}

fn number_cases() -> Vec<Case> {
    let padded = varints().map(|(kind, at, field, _)| {
        let mut spelling = encoded(field.encoding, field.typical);
        if let Some(last) = spelling.last_mut() {
            *last |= 0x80;
        }
        spelling.push(0);
        named(
            &format!("{} with a needless byte", field.name),
            spelled(kind, at, spelling),
        )
    });
    let too_big = varints().map(|(kind, at, field, bits)| {
        // One more bit than the field has.
        let spelling = if bits == 64 {
            [vec![0x80; 9], vec![2]].concat()
        } else {
            craft::varint(1 << bits)
        };
        named(
            &format!("{} of {} bits", field.name, bits + 1),
            spelled(kind, at, spelling),
        )
    });
    let too_long = varints().map(|(kind, at, field, bits)| {
        let longest = usize::from(bits).div_ceil(7);
        let spelling = [vec![0xff; longest], vec![1]].concat();
        named(
            &format!("{} in {} bytes", field.name, longest + 1),
            spelled(kind, at, spelling),
        )
    });
    let cut = (1..4_u8).flat_map(|kind| {
        let body = pieces(kind, &typical(kind)).concat();
        (0..body.len()).map(move |length| {
            named(
                &format!("kind {kind}, the first {length} bytes of the body"),
                packet_of(0x10 | kind, A, 9, &[body[..length].to_vec()]),
            )
        })
    });
    let longer = (1..4_u8).flat_map(|kind| {
        [vec![0], vec![1], vec![0xff], vec![0; 8]].map(|more| {
            let mut body = pieces(kind, &typical(kind));
            let says = format!("kind {kind}, {} bytes after the body", more.len());
            body.push(more);
            named(&says, packet_of(0x10 | kind, A, 9, &body))
        })
    });
    let whole = obs(3, 9, 1234).1;
    vec![
        Case::must("W2.1/plain-bytes", &["W3.1"], "A byte field is one plain byte, also above 127.")
            .hear(observation_with(9, &[(9, 250)]), &[baseless(9)])
            .showing(&[("ultraviolet_index", Some("25.0"))])
            .hear(observation_with(10, &[(9, 128)]), &[new(10, 0, 0)])
            .showing(&[("ultraviolet_index", Some("12.8"))]),
        Case::must("W2.2/group-ends", &["W3.1"], "A varint is in groups of seven bits, least significant first.")
            .hear(observation_with(9, &[(8, 127)]), &[baseless(9)])
            .showing(&[("illuminance_lx", Some("127"))])
            .hear(observation_with(10, &[(8, 128)]), &[new(10, 0, 0)])
            .showing(&[("illuminance_lx", Some("128"))])
            .hear(observation_with(11, &[(8, 16383)]), &[new(11, 0, 0)])
            .showing(&[("illuminance_lx", Some("16383"))])
            .hear(observation_with(12, &[(8, 16384)]), &[new(12, 0, 0)])
            .showing(&[("illuminance_lx", Some("16384"))])
            .hear(observation_with(13, &[(8, 200_000)]), &[new(13, 0, 0)])
            .showing(&[("illuminance_lx", Some("200000"))]),
        Case::must("W2.3/around-zero", &["W3.1"], "Zigzag numbers lie alternately above and below zero.")
            .hear(observation_with(9, &[(1, 0)]), &[baseless(9)])
            .showing(&[("air_temperature", Some("0.00"))])
            .hear(observation_with(10, &[(1, -1)]), &[new(10, 0, 0)])
            .showing(&[("air_temperature", Some("-0.01"))])
            .hear(observation_with(11, &[(1, 1)]), &[new(11, 0, 0)])
            .showing(&[("air_temperature", Some("0.01"))])
            .hear(observation_with(12, &[(1, -64)]), &[new(12, 0, 0)])
            .showing(&[("air_temperature", Some("-0.64"))]),
        each_refused(Case::must("W2.4/padded-anywhere", &[], "No number of any field has a needless byte."), padded, "malformed"),
        each_refused(Case::must("W2.4/too-big-anywhere", &[], "No number has more bits than its field."), too_big, "malformed"),
        each_refused(Case::must("W2.4/too-long-anywhere", &[], "No number has more bytes than its field allows."), too_long, "malformed"),
        each_refused(Case::must("W2.5/cut-anywhere", &[], "A body that ends before its last field is malformed."), cut, "malformed"),
        each_refused(Case::must("W2.5/longer", &[], "A body that goes on after its last field is malformed."), longer, "malformed"),
        each_refused(
            Case::must("W2.5/zero-after-the-packet", &["W1.4", "W1.5"], "A zero after a packet leaves its check right, because the residue is 0; its body is too long.").in_mode(Mode::Packet),
            [named("a packet and a zero", [whole.clone(), vec![0]].concat()), named("a packet and two zeros", [whole, vec![0, 0]].concat())],
            "malformed",
        ),
    ]
}
