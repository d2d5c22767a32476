//! Sections 1 to 4 of WIRE.md: packet, numbers, observation, health.

use super::super::script::{Case, Mode};
use super::craft::{
    Encoding, FieldKind, GUST, HEALTH, OBSERVATION, STATUS, WIND, encoded, fields, packet,
    packet_of, pieces, sealed, typical,
};
use super::samples::{named, obs, obs_of, observation_with, report};
use super::*;

pub(super) fn all() -> Vec<Case> {
    let mut all = packet_cases();
    all.extend(number_cases());
    all.extend(observation_cases());
    all.extend(health_cases());
    all
}

/// The same input again and again, each refused with the same reason.
fn each_refused(case: Case, packets: impl IntoIterator<Item = Said>, reason: &'static str) -> Case {
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

/// Every field of a kind at its ends, which are accepted, and one step beyond, which is implausible.
fn limits(kind: u8, id: &str, clauses: &[&str], sentence: &str) -> Case {
    let mut case = Case::must(id, clauses, sentence);
    let mut sequence = 9;
    let mut is_first = kind == 1;
    for (at, field) in fields(kind)
        .iter()
        .enumerate()
        .filter(|(_, field)| field.name != "tips" && field.name != "restarts")
    {
        let with = |number: i64| {
            let mut numbers = typical(kind);
            numbers[at] = number;
            if kind == 1 && at == WIND {
                numbers[GUST] = 1200.max(number);
            }
            if kind == 1 && at == GUST {
                numbers[WIND] = 0;
            }
            numbers
        };
        for number in [field.low, field.high] {
            let numbers = with(number);
            let life = if kind == 1 {
                (numbers[STATUS] % 16) as u8
            } else {
                3
            };
            if life != 3 {
                continue;
            }
            let event = match (kind, std::mem::take(&mut is_first)) {
                (1, true) => baseless(sequence),
                (1, false) => new(sequence, 0, 0),
                _ => well(sequence),
            };
            let says = format!("{} {number}", field.name);
            case = case.hear(named(&says, packet(kind, A, sequence, &numbers)), &[event]);
            sequence += 1;
        }
        // The widest number that the spelling has room for says whether there is anything beyond.
        let room = match field.encoding {
            Encoding::Byte => (0, 255),
            Encoding::Zigzag(bits) => (-(1_i64 << (bits - 1)), (1 << (bits - 1)) - 1),
            Encoding::Varint(bits) => (0, (1 << bits) - 1),
        };
        for number in [field.low - 1, field.high + 1, room.0, room.1] {
            let is_legal =
                (field.low..=field.high).contains(&number) || field.missing == Some(number);
            if is_legal || number < room.0 || number > room.1 {
                continue;
            }
            let says = format!("{} {number}", field.name);
            case = case.hear(
                named(&says, packet(kind, A, sequence, &with(number))),
                &[refused("implausible")],
            );
        }
        if let Some(missing) = field.missing {
            for number in [missing - 1, missing + 1] {
                if number > room.1 || number < room.0 {
                    continue;
                }
                let says = format!("{} {number}", field.name);
                case = case.hear(
                    named(&says, packet(kind, A, sequence, &with(number))),
                    &[refused("implausible")],
                );
            }
        }
    }
    case
}

fn observation_cases() -> Vec<Case> {
    let missing = OBSERVATION
        .iter()
        .enumerate()
        .filter_map(|(at, field)| Some((at, field, field.missing?)))
        .zip(9_u16..)
        .fold(
            Case::must(
                "W3.3/each-missing",
                &["W3.2"],
                "A missing value is no number; the others beside it are.",
            ),
            |case, ((at, field, number), sequence)| {
                let event = if sequence == 9 {
                    baseless(9)
                } else {
                    new(sequence, 0, 0)
                };
                let other = if at == 1 {
                    ("relative_humidity", Some("47.2"))
                } else {
                    ("air_temperature", Some("21.53"))
                };
                case.hear(observation_with(sequence, &[(at, number)]), &[event])
                    .showing(&[(field.name, None), other])
            },
        );
    let flags = (0..8_i64).zip(9_u16..).fold(
        Case::must(
            "W3.4/flags-are-not-life",
            &["W7.5"],
            "Bits 4 to 6 of the status say nothing of the life.",
        ),
        |case, (flags, sequence)| {
            let event = if sequence == 9 {
                baseless(9)
            } else {
                new(sequence, 0, 0)
            };
            case.hear(
                observation_with(sequence, &[(STATUS, 3 + 16 * flags)]),
                &[event],
            )
        },
    );
    vec![
        Case::must(
            "W3.1/order-of-fields",
            &["W3.6", "W2.1", "W2.2", "W2.3"],
            "Ten fields in this order, each with its step.",
        )
        .hear(
            named(
                "ten numbers that differ",
                packet(
                    1,
                    A,
                    9,
                    &[3, -101, 202, 3303, 404, 505, 306, 707, 80808, 99],
                ),
            ),
            &[baseless(9)],
        )
        .showing(&[
            ("status", Some("3")),
            ("air_temperature", Some("-1.01")),
            ("relative_humidity", Some("20.2")),
            ("air_pressure", Some("330.3")),
            ("wind_speed", Some("40.4")),
            ("wind_speed_of_gust", Some("50.5")),
            ("wind_from_direction", Some("306")),
            ("tips", Some("707")),
            ("illuminance_lx", Some("80808")),
            ("ultraviolet_index", Some("9.9")),
        ]),
        limits(
            1,
            "W3.2/limits",
            &["W3.4"],
            "Every number of the legal range is believed, and no other.",
        ),
        missing,
        Case::must(
            "W3.3/nought-is-a-number",
            &[],
            "A reading of 0 is a reading.",
        )
        .hear(
            observation_with(
                9,
                &[(1, 0), (2, 0), (WIND, 0), (GUST, 0), (6, 0), (8, 0), (9, 0)],
            ),
            &[baseless(9)],
        )
        .showing(&[
            ("air_temperature", Some("0")),
            ("relative_humidity", Some("0")),
            ("wind_speed", Some("0")),
            ("wind_from_direction", Some("0")),
            ("illuminance_lx", Some("0")),
            ("ultraviolet_index", Some("0")),
        ]),
        flags,
        each_refused(
            Case::must(
                "W3.4/reserved-bit-of-every-life",
                &[],
                "Bit 7 of the status is 0 in every life.",
            ),
            (0..16).map(|life| observation_with(9, &[(STATUS, 128 + life)])),
            "implausible",
        ),
        Case::must(
            "W3.5/gust-and-mean",
            &[],
            "A gust may equal its mean; where one is missing there is nothing to compare.",
        )
        .hear(observation_with(9, &[(WIND, 61)]), &[baseless(9)])
        .hear(
            observation_with(10, &[(WIND, 62)]),
            &[refused("implausible")],
        )
        .hear(observation_with(10, &[(GUST, 16383)]), &[new(10, 0, 0)])
        .hear(
            observation_with(11, &[(WIND, 16383), (GUST, 0)]),
            &[new(11, 0, 0)],
        )
        .hear(
            observation_with(12, &[(WIND, 1), (GUST, 0)]),
            &[refused("implausible")],
        )
        .hear(
            observation_with(12, &[(WIND, 1), (GUST, 1)]),
            &[new(12, 0, 0)],
        ),
        Case::must(
            "W3.6/north-is-nought",
            &["W3.2"],
            "Direction is clockwise from north, and north is 0; 360 is no direction.",
        )
        .hear(observation_with(9, &[(6, 0)]), &[baseless(9)])
        .showing(&[("wind_from_direction", Some("0"))])
        .hear(observation_with(10, &[(6, 360)]), &[refused("implausible")])
        .hear(observation_with(10, &[(6, 359)]), &[new(10, 0, 0)])
        .showing(&[("wind_from_direction", Some("359"))]),
        Case::must(
            "W3.7/counter-wraps",
            &["W7.4"],
            "Tips are counted modulo 65536; rain is the difference times the bucket.",
        )
        .hear(obs(3, 9, 65530), &[baseless(9)])
        .hear(obs(3, 10, 65535), &[new(10, 5, 0)])
        .hear(obs(3, 11, 0), &[new(11, 1, 0)])
        .hear(obs(3, 12, 7), &[new(12, 7, 0)])
        .tips(A, 13),
    ]
}

fn health_cases() -> Vec<Case> {
    let shown = |case: Case, sequence: u16, cause: i64| {
        let mut numbers = typical(2);
        numbers[1] = cause;
        case.hear(
            named(
                &format!("health, cause {cause}"),
                packet(2, A, sequence, &numbers),
            ),
            &[well(sequence)],
        )
    };
    let causes = (0..=255).zip(9_u16..).fold(
        Case::must(
            "W4.3/every-cause",
            &["W9.3"],
            "Every cause of a restart is accepted, also those that have no name yet.",
        ),
        |case, (cause, sequence)| shown(case, sequence, cause),
    );
    let no_health = (60..70).fold(
        Case::must("W4.4/health-never-comes", &[], "A receiver does not rely on health: where it is due and does not come, nothing is said."),
        |case, sequence| {
            let event = if sequence == 60 { baseless(60) } else { new(sequence, 0, 0) };
            case.hear(obs(3, sequence, 5), &[event])
        },
    );
    vec![
        Case::must(
            "W4.1/order-of-fields",
            &["W4.5", "W3.3"],
            "Seven fields in this order; those that may be missing are so by themselves.",
        )
        .hear(
            named(
                "seven numbers that differ",
                packet(2, A, 9, &[259, 2, 70_000, 3311, 2422, 3033, 444]),
            ),
            &[well(9)],
        )
        .showing(&[
            ("restarts", Some("259")),
            ("cause", Some("2")),
            ("uptime_s", Some("70000")),
            ("supply_mv", Some("3311")),
            ("store_mv", Some("2422")),
            ("cells_mv", Some("3033")),
            ("firmware", Some("444")),
        ])
        .hear(
            named(
                "no cells",
                packet(2, A, 10, &[259, 2, 70_016, 3311, 2422, 16383, 444]),
            ),
            &[well(10)],
        )
        .showing(&[("cells_mv", None), ("store_mv", Some("2422"))]),
        limits(
            2,
            "W4.1/limits",
            &["W3.2"],
            "Every number of the legal range is believed, and no other.",
        ),
        Case::must(
            "W4.2/restarts-wrap",
            &["W7.5"],
            "The low four bits of the restart count are the life.",
        )
        .hear(report(65535, 500), &[well(500)])
        .hear(obs(15, 500, 7), &[baseless(500)])
        .hear(report(0, 0), &[restarted(0), well(0)])
        .hear(obs(0, 1, 1), &[new(1, 1, 1)])
        .hear(report(0x5550, 2), &[well(2)]),
        causes,
        shown(
            Case::should(
                "W4.3/unknown-cause-shown",
                &[],
                "A cause that has no name is shown as a number.",
            ),
            9,
            200,
        )
        .showing(&[("cause", Some("200"))]),
        no_health,
        Case::must(
            "W4.4/health-at-other-times",
            &[],
            "Health may come in any interval, and more than once in sixty-four.",
        )
        .hear(report(3, 7), &[well(7)])
        .hear(report(3, 8), &[well(8)])
        .hear(report(3, 65), &[well(65)])
        .hear(obs(3, 65, 0), &[baseless(65)]),
        Case::must(
            "W4.5/missing-voltages",
            &["W3.3"],
            "A voltage may be missing.",
        )
        .hear(
            named(
                "no voltages",
                packet(2, A, 9, &[3, 1, 144, 16383, 16383, 16383, 107]),
            ),
            &[well(9)],
        )
        .showing(&[
            ("supply_mv", None),
            ("store_mv", None),
            ("cells_mv", None),
            ("firmware", Some(HEALTH_FIRMWARE)),
        ]),
    ]
}

/// The typical firmware revision as text.
const HEALTH_FIRMWARE: &str = "107";

const _: () = assert!(HEALTH[6].typical == 107);
