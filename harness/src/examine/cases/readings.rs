//! Sections 3 and 4 of WIRE.md: what the fields of observations and health reports may hold.

use super::super::script::Case;
use super::craft::{Encoding, GUST, HEALTH, OBSERVATION, STATUS, WIND, fields, packet, typical};
use super::packets::each_refused;
use super::samples::{named, obs, observation_with, report};
use super::*;

pub(super) fn all() -> Vec<Case> {
    let mut all = observation_cases();
    all.extend(health_cases());
    all
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
