//! Sections 5 and 7.2 of WIRE.md: identity and pairing.

use super::super::script::Case;
use super::craft::{IDENTITY, packet, typical};
use super::samples::{identity, identity_at, named, obs, obs_of, report};
use super::*;
use benchmast_protocol::frame::SensorFit;

pub(super) fn all() -> Vec<Case> {
    let mut all = identity_cases();
    all.extend(pairing_cases());
    all
}

const OTHER: Identity = settings(77, 16, 300);

fn identity_cases() -> Vec<Case> {
    let with = |at: usize, number: i64| {
        let mut numbers = typical(3);
        numbers[at] = number;
        named(
            &format!("identity, {} {number}", IDENTITY[at].name),
            packet(3, A, 0, &numbers),
        )
    };
    let beyond: Vec<(usize, i64)> = vec![
        (0, 10_000_000_000),
        (0, i64::MAX),
        (2, 256),
        (2, 65535),
        (3, 0),
        (3, 3601),
        (3, 65535),
        (4, 0),
        (4, 9),
        (4, 5001),
        (4, 65535),
    ];
    let limits = beyond.into_iter().fold(
        Case::must("W5.1/limits", &[], "A number outside its range makes an identity implausible, and nothing of it is taken over."),
        |case, (at, number)| case.hear(with(at, number), &[refused("implausible")]),
    );
    let ends = [
        (3, 1),
        (3, 3600),
        (4, 10),
        (4, 5000),
        (2, 0),
        (1, 65535),
        (1, 0),
    ];
    let ends = ends.into_iter().fold(
        Case::must(
            "W5.1/ends",
            &["W7.2"],
            "The ends belong to the range: changed settings are taken over.",
        ),
        |case, (at, number)| {
            let mut mine = MINE;
            match at {
                1 => mine.hardware = number as u16,
                2 => mine.fit = SensorFit(number as u16),
                3 => mine.interval_s = number as u16,
                _ => mine.bucket_um = number as u16,
            }
            case.hear(with(at, number), &[paired(A, mine)])
        },
    );
    let no_gauge = Identity {
        fit: SensorFit(0xF7),
        ..MINE
    };
    vec![
        limits.hear(obs(3, 9, 0), &[baseless(9)]).hear(obs(3, 10, 1), &[new(10, 1, 0)]),
        ends,
        Case::must("W5.1/order-of-fields", &["W5.2"], "Five fields in this order; the serial number may have ten digits.")
            .with(&[])
            .expect(9_876_543_210)
            .hear(
                named("five numbers that differ", packet(3, A, 0, &[9_876_543_210, 301, 202, 3003, 404])),
                &[paired(A, Identity { serial: Serial(9_876_543_210), hardware: 301, fit: SensorFit(202), interval_s: 3003, bucket_um: 404 })],
            )
            .showing(&[
                ("serial", Some("9876543210")),
                ("hardware", Some("301")),
                ("fit", Some("202")),
                ("interval_s", Some("3003")),
                ("bucket_um", Some("404")),
            ]),
        Case::must("W5.2/gauge-taken-away", &["W7.4"], "Bit 3 of the fit is the rain gauge: without it there is no rain, with it again there is.")
            .hear(obs(3, 9, 4), &[baseless(9)])
            .hear(obs(3, 10, 6), &[new(10, 2, 0)])
            .hear(identity(A, no_gauge), &[paired(A, no_gauge)])
            .hear(obs(3, 11, 8), &[baseless(11)])
            .hear(identity(A, MINE), &[paired(A, MINE)])
            .hear(obs(3, 12, 11), &[new(12, 3, 0)])
            .tips(A, 5),
        Case::must("W5.3/sequence-of-an-identity", &["W7.3"], "The sequence number of an identity has no part in what is believed of others.")
            .hear(obs(3, 100, 4), &[baseless(100)])
            .hear(identity_at(A, 40_000, MINE), &[duplicate(40_000)])
            .hear(obs(3, 101, 5), &[new(101, 1, 0)])
            .hear(identity_at(A, 101, MINE), &[duplicate(101)])
            .hear(identity_at(A, 101, MINE), &[duplicate(101)])
            .hear(identity_at(A, 5, MINE), &[duplicate(5)])
            .hear(obs(3, 102, 5), &[new(102, 0, 0)]),
    ]
}

fn pairing_cases() -> Vec<Case> {
    let finer = Identity {
        bucket_um: 200,
        ..MINE
    };
    let finer_rain = |sequence, tips: u16| Told::Observation {
        head: A,
        sequence,
        tips_since: Some(tips),
        rain_um: Some(u32::from(tips) * 200),
        intervals_missed: 0,
    };
    let four: Vec<_> = (1..5)
        .map(|n| (HeadId(n), settings(n.into(), 16, 300)))
        .collect();
    vec![
        Case::must("W7.2/waited-not-paired", &[], "Row 1: a head that is waited for is paired, and then no longer waited for.")
            .with(&[])
            .expect(SERIAL)
            .hear(identity(A, MINE), &[paired(A, MINE)])
            .hear(identity(A, MINE), &[duplicate(0)])
            .hear(obs(3, 9, 4), &[baseless(9)]),
        Case::must("W7.2/waited-paired-with-this", &[], "Row 2: paired again, and what was believed stays.")
            .hear(obs(3, 9, 4), &[baseless(9)])
            .expect(SERIAL)
            .hear(obs(3, 10, 5), &[new(10, 1, 0)])
            .hear(identity(A, MINE), &[paired(A, MINE)])
            .hear(obs(3, 11, 7), &[new(11, 2, 0)])
            .tips(A, 3),
        Case::must("W7.2/waited-paired-with-another", &[], "Row 3: the head that had this address is forgotten, and nothing is believed yet of the new one.")
            .hear(obs(3, 500, 40), &[baseless(500)])
            .expect(77)
            .hear(identity(A, OTHER), &[paired(A, OTHER)])
            .hear(obs(3, 3, 2), &[baseless(3)])
            .hear(identity(A, MINE), &[unknown(A)])
            .hear(obs(3, 4, 3), &[new(4, 1, 0)])
            .tips(A, 1),
        Case::must("W7.2/paired-elsewhere", &[], "Row 4: a paired serial number under another address is refused, even while pairing is open.")
            .pairing(true)
            .hear(identity(B, MINE), &[unknown(B)])
            .hear(obs_of(B, 3, 9, 0), &[unknown(B)])
            .hear(obs(3, 9, 0), &[baseless(9)]),
        Case::must("W7.2/paired-elsewhere-waited", &[], "Row 5: waited for, it is paired under the new address, and the old one is forgotten.")
            .hear(obs(3, 500, 40), &[baseless(500)])
            .expect(SERIAL)
            .hear(identity(B, MINE), &[paired(B, MINE)])
            .hear(obs(3, 501, 40), &[unknown(A)])
            .hear(obs_of(B, 3, 501, 41), &[baseless_of(B, 501)]),
        Case::must("W7.2/paired-elsewhere-onto-a-taken-address", &[], "Rows 3 and 5 at once: both the old address and the head that had the new one are forgotten.")
            .with(&[(A, MINE), (B, OTHER)])
            .expect(SERIAL)
            .hear(identity(B, MINE), &[paired(B, MINE)])
            .hear(obs(3, 9, 0), &[unknown(A)])
            .hear(obs_of(B, 3, 9, 0), &[baseless_of(B, 9)])
            .hear(identity(B, OTHER), &[unknown(B)]),
        Case::must("W7.2/settings-changed", &[], "Row 6: changed settings pair anew and hold from the next packet on; what was believed stays.")
            .hear(obs(3, 9, 4), &[baseless(9)])
            .hear(identity(A, finer), &[paired(A, finer)])
            .hear(obs(3, 10, 7), &[finer_rain(10, 3)])
            .hear(identity(A, finer), &[duplicate(0)])
            .tips(A, 3),
        Case::must("W7.2/open-with-room", &[], "Row 7: an unknown head is paired while pairing is open, and not before or after.")
            .with(&[])
            .hear(identity(A, MINE), &[unknown(A)])
            .pairing(true)
            .hear(identity(A, MINE), &[paired(A, MINE)])
            .pairing(false)
            .hear(identity(B, OTHER), &[unknown(B)])
            .hear(obs(3, 9, 0), &[baseless(9)]),
        Case::must("W7.2/open-without-room", &[], "Row 7: with four heads paired there is no place for a fifth; changed settings need none.")
            .with(&four)
            .pairing(true)
            .hear(identity(A, MINE), &[unknown(A)])
            .hear(identity(HeadId(2), settings(2, 16, 200)), &[paired(HeadId(2), settings(2, 16, 200))])
            .hear(obs(3, 9, 0), &[unknown(A)]),
        Case::must("W7.2/place-kept", &[], "A place kept for a serial number that is waited for is not free; one that is paired already keeps none.")
            .with(&four[..2])
            .pairing(true)
            .expect(1)
            .expect(50)
            .hear(identity(A, MINE), &[paired(A, MINE)])
            .hear(identity(B, OTHER), &[unknown(B)])
            .hear(identity(HeadId(50), settings(50, 16, 300)), &[paired(HeadId(50), settings(50, 16, 300))]),
        Case::must("W7.2/open-address-taken", &[], "Row 8: an unknown serial number under a paired address is refused, even while pairing is open.")
            .pairing(true)
            .hear(obs(3, 9, 0), &[baseless(9)])
            .hear(identity(A, OTHER), &[unknown(A)])
            .hear(obs(3, 10, 1), &[new(10, 1, 0)]),
        Case::must("W7.2/waited-is-not-paired", &["W7.1"], "A head that is waited for is not believed before its identity.")
            .with(&[])
            .expect(SERIAL)
            .hear(obs(3, 9, 0), &[unknown(A)])
            .hear(report(3, 9), &[unknown(A)])
            .hear(identity(A, MINE), &[paired(A, MINE)])
            .hear(report(3, 9), &[well(9)]),
        Case::must("W7.2/believed-of-another-stays", &[], "Pairing one head changes nothing for another.")
            .hear(obs(3, 9, 4), &[baseless(9)])
            .expect(77)
            .hear(identity(B, OTHER), &[paired(B, OTHER)])
            .hear(obs_of(B, 7, 9000, 100), &[baseless_of(B, 9000)])
            .hear(obs(3, 10, 5), &[new(10, 1, 0)])
            .tips(A, 1)
            .tips(B, 0),
    ]
}
