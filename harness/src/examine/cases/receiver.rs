//! Clauses 7.1, 7.6 and 7.7 of WIRE.md: order of judgement, silence, what is told.

use super::super::script::Case;
use super::craft::{packet_of, pieces, sealed, typical};
use super::samples::{identity, named, obs, obs_of, observation_with, report};
use super::*;

pub(super) fn all() -> Vec<Case> {
    let mut all = order_cases();
    all.extend(silence_cases());
    all.extend(told_cases());
    all
}

fn order_cases() -> Vec<Case> {
    let other = settings(77, 16, 300);
    let odd: Vec<(Said, Told)> = vec![
        (named("nothing", vec![]), refused("damaged")),
        (named("version 9", sealed(&[0x91; 20])), unknown_version(9)),
        (
            named("kind 6", packet_of(0x16, A, 9, &pieces(1, &typical(1)))),
            refused("malformed"),
        ),
        (obs_of(B, 9, 600, 900), unknown(B)),
        (
            named("body too short", packet_of(0x11, A, 600, &[vec![9]])),
            refused("malformed"),
        ),
        (observation_with(600, &[(1, 6001)]), refused("implausible")),
        (obs(12, 600, 9), refused("stale")),
        (obs(3, 400, 9), refused("stale")),
        (obs(3, 520, 9000), refused("implausible")),
        (identity(A, other), unknown(A)),
        (identity(B, other), unknown(B)),
    ];
    let mut untouched = Case::must(
        "W7.1/refused-changes-nothing",
        &["W7.4", "W7.3"],
        "Whatever is refused between two packets changes nothing of what is believed of the second.",
    )
    .hear(obs(3, 500, 40), &[baseless(500)]);
    for (number, (packet, event)) in odd.into_iter().enumerate() {
        let sequence = 501 + number as u16;
        untouched = untouched
            .hear(packet, &[event])
            .hear(obs(3, sequence, 41 + number as u16), &[new(sequence, 1, 0)]);
    }
    vec![
        untouched.tips(A, 11),
        Case::must("W7.1/neighbour-by-the-hour", &["W7.2"], "A neighbour's head is told as unknown each time, and never taken in, however often it is heard.")
            .hear(obs(3, 500, 40), &[baseless(500)])
            .hear(obs_of(B, 3, 501, 41), &[unknown(B)])
            .hear(obs_of(B, 3, 502, 42), &[unknown(B)])
            .hear(obs_of(B, 3, 503, 43), &[unknown(B)])
            .hear(obs_of(B, 3, 504, 44), &[unknown(B)])
            .hear(obs(3, 501, 40), &[new(501, 0, 0)])
            .tips(A, 0),
        Case::must("W7.1/body-before-pairing", &["W2.5"], "An identity is looked at whole before its serial number is, waited for or not.")
            .with(&[])
            .expect(SERIAL)
            .hear(named("an identity cut short", packet_of(0x13, A, 0, &[vec![0xd5, 0xc8, 0xd1, 0xbd, 0x04, 2]])), &[refused("malformed")])
            .hear(named("an identity of no interval", packet_of(0x13, A, 0, &pieces(3, &[SERIAL as i64, 2, 255, 0, 300]))), &[refused("implausible")])
            .hear(identity(A, MINE), &[paired(A, MINE)]),
        Case::must("W7.1/malformed-before-implausible", &["W2.4", "W3.2"], "A packet that is both malformed and implausible is malformed; one of an unknown head is of an unknown head.")
            .hear(named("60.01 degC, and a byte too many", packet_of(0x11, A, 9, &[vec![3, 0xe2, 0x5d, 0xd8, 3, 0x94, 0x4f, 0x22, 0x3d, 0xf7, 1, 4, 0xd2, 0xf8, 2, 43, 0]])), &[refused("malformed")])
            .hear(named("the same of another head", packet_of(0x11, B, 9, &[vec![3, 0xe2, 0x5d]])), &[unknown(B)]),
        Case::must("W7.1/implausible-before-sequence", &["W3.2"], "The numbers are judged before the sequence: an old packet with an illegal number is implausible, not a duplicate or stale.")
            .hear(obs(3, 500, 40), &[baseless(500)])
            .hear(observation_with(500, &[(1, 6001)]), &[refused("implausible")])
            .hear(observation_with(100, &[(1, 6001)]), &[refused("implausible")]),
    ]
}

fn silence_cases() -> Vec<Case> {
    let two = [(A, MINE), (B, settings(77, 60, 300))];
    vec![
        Case::should("W7.6/once", &[], "A silence is told once, when it is as long as it was set, and anew after the next packet.")
            .silent_after(5)
            .hear_at(0, obs(3, 9, 0), &[baseless(9)])
            .tick(5 * INTERVAL - 1, &[])
            .tick(5 * INTERVAL, &[silent(0)])
            .tick(6 * INTERVAL, &[])
            .tick(500 * INTERVAL, &[])
            .hear_at(501 * INTERVAL, obs(3, 510, 0), &[new(510, 0, 500)])
            .tick(506 * INTERVAL - 1, &[])
            .tick(506 * INTERVAL, &[silent(501 * INTERVAL)]),
        Case::should("W7.6/what-counts-as-heard", &[], "Health reports and identities count, repeated identities too; duplicates, late and refused packets do not.")
            .silent_after(3)
            .hear_at(0, obs(3, 100, 0), &[baseless(100)])
            .hear_at(2 * INTERVAL, report(3, 102), &[well(102)])
            .tick(3 * INTERVAL, &[])
            .hear_at(4 * INTERVAL, identity(A, MINE), &[duplicate(0)])
            .tick(6 * INTERVAL, &[])
            .hear_at(6 * INTERVAL, obs(3, 100, 0), &[duplicate(100)])
            .hear_at(6 * INTERVAL, obs(3, 99, 0), &[late(99, 1, 0)])
            .hear_at(6 * INTERVAL, obs(3, 101, 900), &[refused("implausible")])
            .tick(7 * INTERVAL, &[silent(4 * INTERVAL)]),
        Case::should("W7.6/before-the-packet-that-ends-it", &[], "A silence that nobody asked for in time is told before the packet that ends it.")
            .silent_after(3)
            .hear_at(0, obs(3, 100, 0), &[baseless(100)])
            .hear_at(3 * INTERVAL, obs(3, 103, 0), &[silent(0), new(103, 0, 2)])
            .hear_at(9 * INTERVAL, obs(4, 1, 0), &[silent(3 * INTERVAL), restarted(4), new(1, 0, 1)])
            .hear_at(19 * INTERVAL, identity(A, MINE), &[silent(9 * INTERVAL), duplicate(0)])
            .hear_at(29 * INTERVAL, report(4, 64), &[silent(19 * INTERVAL), well(64)]),
        Case::should("W7.6/interval-of-the-head", &["W5.1"], "Silence is counted in intervals of the head's own, and follows its settings.")
            .silent_after(2)
            .with(&two)
            .tick(0, &[])
            .tick(32_000_000, &[silent(0)])
            .tick(119_999_999, &[])
            .tick(120_000_000, &[silent_of(B, 0)])
            .hear_at(130_000_000, identity(A, settings(SERIAL, 32, 300)), &[paired(A, settings(SERIAL, 32, 300))])
            .tick(193_999_999, &[])
            .tick(194_000_000, &[silent(130_000_000)]),
        Case::should("W7.6/restart-does-not-hide-it", &[], "A duplicate or refused packet that comes while a head is silent does not end the silence.")
            .silent_after(3)
            .hear_at(0, obs(3, 100, 0), &[baseless(100)])
            .tick(3 * INTERVAL, &[silent(0)])
            .hear_at(4 * INTERVAL, obs(3, 100, 0), &[duplicate(100)])
            .tick(20 * INTERVAL, &[])
            .hear_at(21 * INTERVAL, obs(3, 121, 0), &[new(121, 0, 20)])
            .tick(24 * INTERVAL, &[silent(21 * INTERVAL)]),
        Case::must("W7.6/never-when-not-asked", &[], "Where no limit is set, no silence is told.")
            .hear_at(0, obs(3, 100, 0), &[baseless(100)])
            .tick(1_000_000 * INTERVAL, &[])
            .hear_at(1_000_001 * INTERVAL, obs(4, 0, 0), &[restarted(4), new(0, 0, 0)]),
    ]
}

fn told_cases() -> Vec<Case> {
    let coarse = settings(SERIAL, 16, 5000);
    let no_gauge = Identity {
        fit: benchmast_protocol::frame::SensorFit(0xF7),
        ..MINE
    };
    vec![
        Case::must(
            "W7.7/rain-in-micrometres",
            &["W5.2"],
            "rain_um is tips times bucket_um, also where that is more than 65535.",
        )
        .with(&[(A, coarse)])
        .hear(obs(3, 9, 0), &[baseless(9)])
        .hear(
            obs(3, 109, 100),
            &[Told::Observation {
                head: A,
                sequence: 109,
                tips_since: Some(100),
                rain_um: Some(500_000),
                intervals_missed: 99,
            }],
        )
        .tips(A, 100),
        Case::must(
            "W7.7/rain-of-a-late-packet",
            &["W7.5"],
            "A late packet tells the tips that nothing else told of.",
        )
        .hear(obs(3, 500, 40), &[baseless(500)])
        .hear(obs(4, 0, 0), &[restarted(4), new(0, 0, 0)])
        .hear(obs(3, 502, 45), &[late(502, 1, 5)])
        .hear(obs(3, 501, 43), &[late(501, 2, 0)])
        .tips(A, 5),
        Case::must(
            "W7.7/no-rain-of-a-late-packet-without-gauge",
            &["W7.4"],
            "A late packet of a head without a gauge tells of no tips.",
        )
        .with(&[(A, no_gauge)])
        .hear(obs(3, 500, 0), &[baseless(500)])
        .hear(obs(4, 0, 0), &[restarted(4), baseless(0)])
        .hear(obs(3, 502, 5), &[late(502, 1, 0)])
        .tips(A, 0),
        Case::must(
            "W7.7/version-and-head-are-named",
            &["W7.1"],
            "A refusal names the version or the head where that is its reason.",
        )
        .hear(
            named("version 12", sealed(&[0xC5, 1, 2, 3, 4, 5, 6, 7])),
            &[unknown_version(12)],
        )
        .hear(obs_of(HeadId(0x0000_0001), 1, 1, 1), &[unknown(HeadId(1))]),
        Case::must(
            "W7.7/life-of-a-restart",
            &["W3.4"],
            "A restart names the new life, restart and packet in this order.",
        )
        .hear(obs(14, 500, 40), &[baseless(500)])
        .hear(report(15, 0), &[restarted(15), well(0)])
        .hear(obs(1, 0, 0), &[restarted(1), new(0, 0, 0)]),
    ]
}
