//! Clauses 7.3 to 7.5 of WIRE.md: sequence, rain, restarts.

use super::super::script::Case;
use super::samples::{obs, obs_of, report};
use super::*;

pub(super) fn all() -> Vec<Case> {
    let mut all = sequence_cases();
    all.extend(rain_cases());
    all.extend(restart_cases());
    all
}

fn sequence_cases() -> Vec<Case> {
    let wraps = (0..12_u32).fold(
        Case::must(
            "W7.3/wraps-again-and-again",
            &["W1.3"],
            "The sequence number wraps, and the interval goes on.",
        ),
        |case, n| {
            let sequence = (n * 20_000) as u16;
            let event = if n == 0 {
                baseless(0)
            } else {
                new(sequence, 0, 19_999)
            };
            case.hear(obs(3, sequence, 0), &[event])
        },
    );
    let ties = |id: &str, sentence: &str, due: u64, sequence: u16, event: Told| {
        Case::must(id, &[], sentence)
            .hear_at(INTERVAL, obs(3, 1000, 0), &[baseless(1000)])
            .hear_at((1 + due) * INTERVAL, obs(3, sequence, 0), &[event])
    };
    let window = (1..64_u16).fold(
        Case::must(
            "W7.3/all-of-the-window",
            &[],
            "Each of the 63 intervals before the newest is late once, and then a duplicate.",
        )
        .hear(obs(3, 100, 0), &[baseless(100)]),
        |case, behind| {
            case.hear(
                obs(3, 100 - behind, 0),
                &[late(100 - behind, behind.into(), 0)],
            )
            .hear(obs(3, 100 - behind, 0), &[duplicate(100 - behind)])
        },
    );
    vec![
        Case::must("W7.3/duplicate", &[], "A packet again is a duplicate, whatever it holds, and is counted once.")
            .hear(obs(3, 9, 4), &[baseless(9)])
            .hear(obs(3, 10, 6), &[new(10, 2, 0)])
            .hear(obs(3, 10, 6), &[duplicate(10)])
            .hear(obs(3, 10, 9), &[duplicate(10)])
            .hear(obs(3, 9, 4), &[duplicate(9)])
            .hear(obs(3, 11, 7), &[new(11, 1, 0)])
            .tips(A, 3),
        Case::must("W7.3/late-then-duplicate", &[], "A packet that was overtaken is late, its rain is counted already, and it is late once.")
            .hear(obs(3, 9, 4), &[baseless(9)])
            .hear(obs(3, 12, 10), &[new(12, 6, 2)])
            .hear(obs(3, 10, 5), &[late(10, 2, 0)])
            .hear(obs(3, 10, 5), &[duplicate(10)])
            .hear(obs(3, 13, 11), &[new(13, 1, 0)])
            .tips(A, 7),
        wraps,
        window.hear(obs(3, 36, 0), &[refused("stale")]),
        Case::must("W7.3/late-before-the-first", &[], "A packet from before the first one heard may lie before interval 0.")
            .hear(obs(3, 2, 5), &[baseless(2)])
            .hear(obs(3, 65_534, 3), &[late(65_534, 4, 0)])
            .hear(obs(3, 65_534, 3), &[duplicate(65_534)])
            .hear(obs(3, 65_475, 0), &[late(65_475, 63, 0)])
            .hear(obs(3, 65_474, 0), &[refused("stale")]),
        Case::must("W7.3/window-slides-over-the-wrap", &[], "The window of 64 knows no end of the sequence number.")
            .hear(obs(3, 65_530, 0), &[baseless(65_530)])
            .hear(obs(3, 20, 0), &[new(20, 0, 25)])
            .hear(obs(3, 65_530, 0), &[duplicate(65_530)])
            .hear(obs(3, 65_531, 0), &[late(65_531, 25, 0)])
            .hear(obs(3, 0, 0), &[late(0, 20, 0)]),
        ties("W7.3/tie-without-clock", "Of two intervals equally near the later is meant: 32768 ahead is ahead.", 0, 33_768, new(33_768, 0, 32_767)),
        ties("W7.3/one-more-is-behind", "32769 ahead is 32767 behind.", 0, 33_769, refused("stale")),
        ties("W7.3/tie-by-the-clock", "With 70000 intervals passed, 32768 more and 32768 less are equally near: the later is meant.", 70_000, 38_232, new(38_232, 0, 102_767)),
        ties("W7.3/behind-by-the-clock", "With 70000 intervals passed the nearest interval may be less than is due.", 70_000, 38_233, new(38_233, 0, 37_232)),
        Case::must("W7.3/clock-without-refusal", &[], "Timing is no reason to refuse: packets may come faster than their intervals, or slower.")
            .hear_at(0, obs(3, 9, 0), &[baseless(9)])
            .hear_at(1, obs(3, 500, 0), &[new(500, 0, 490)])
            .hear_at(2000 * INTERVAL, obs(3, 501, 0), &[new(501, 0, 0)])
            .hear_at(INTERVAL, obs(3, 502, 0), &[new(502, 0, 0)])
            .hear_at(0, obs(3, 503, 0), &[new(503, 0, 0)])
            .hear_at(u64::from(u32::MAX) * INTERVAL, obs(3, 503, 0), &[duplicate_or_turn()]),
        Case::must("W7.3/late-leaves-the-clock-alone", &[], "What is due counts from when the newest interval was told as new, not from a late packet.")
            .hear_at(INTERVAL, obs(3, 1000, 0), &[baseless(1000)])
            .hear_at(30_001 * INTERVAL, obs(3, 999, 0), &[late(999, 1, 0)])
            .hear_at(40_001 * INTERVAL, obs(3, 44_000, 0), &[new(44_000, 0, 42_999)]),
        Case::must("W7.3/duplicate-leaves-the-clock-alone", &[], "What is due does not count from a duplicate either.")
            .hear_at(INTERVAL, obs(3, 1000, 0), &[baseless(1000)])
            .hear_at(30_001 * INTERVAL, obs(3, 1000, 0), &[duplicate(1000)])
            .hear_at(40_001 * INTERVAL, obs(3, 44_000, 0), &[new(44_000, 0, 42_999)]),
        Case::must("W7.3/due-counts-from-any-kind", &[], "What is due counts from the newest packet of any kind.")
            .hear_at(INTERVAL, obs(3, 1000, 0), &[baseless(1000)])
            .hear_at(30_001 * INTERVAL, report(3, 31_000), &[well(31_000)])
            .hear_at(60_001 * INTERVAL, report(3, 61_000), &[well(61_000)])
            .hear_at(60_002 * INTERVAL, obs(3, 61_001, 0), &[new(61_001, 0, 60_000)]),
        Case::must("W7.3/kinds-have-windows-of-their-own", &[], "Newer, heard and late are judged within a kind.")
            .hear(obs(3, 100, 0), &[baseless(100)])
            .hear(report(3, 90), &[well(90)])
            .hear(report(3, 80), &[late_report(80, 10)])
            .hear(report(3, 80), &[duplicate(80)])
            .hear(obs(3, 80, 0), &[late(80, 20, 0)])
            .hear(report(3, 100), &[well(100)]),
        Case::must("W7.3/report-lied", &[], "A health report less than 64 before the newest observation is believed against the newest report; then none until now counts as heard.")
            .hear(obs(3, 500, 0), &[baseless(500)])
            .hear(report(3, 448), &[well(448)])
            .hear(report(3, 9000), &[well(9000)])
            .hear(report(3, 437), &[well(437)])
            .hear(report(3, 448), &[well(448)])
            .hear(report(3, 9000), &[well(9000)])
            .hear(report(3, 436), &[refused("stale")]),
    ]
}

fn late_report(sequence: u16, intervals_late: u32) -> Told {
    late(sequence, intervals_late, 0)
}

/// After 2^32 intervals by the clock the number 503 means the interval 65536 * 65536 after the last.
fn duplicate_or_turn() -> Told {
    // 4294967295 intervals are due, and 65536 * 65536 = 4294967296 is the nearest multiple of a turn.
    new(503, 0, 4_294_967_295)
}

fn rain_cases() -> Vec<Case> {
    let wrap_by = |step: u16| {
        let start = 65_536_u32 - u32::from(step) / 2;
        (0..4_u32)
            .fold(
                Case::must(
                    &format!("W7.4/counter-wraps-by-{step}"),
                    &["W3.7"],
                    "No rain is lost or gained where the counter wraps.",
                ),
                |case, n| {
                    let tips = (start + n * u32::from(step)) as u16;
                    let event = if n == 0 {
                        baseless(9)
                    } else {
                        new(9 + n as u16, step, 0)
                    };
                    case.hear(obs(3, 9 + n as u16, tips), &[event])
                },
            )
            .tips(A, 3 * u64::from(step))
    };
    let fine = settings(SERIAL, 3600, 10);
    let coarse = settings(SERIAL, 1, 5000);
    let rain = |sequence, tips: u16, bucket: u32, missed| Told::Observation {
        head: A,
        sequence,
        tips_since: Some(tips),
        rain_um: Some(u32::from(tips) * bucket),
        intervals_missed: missed,
    };
    vec![
        wrap_by(1),
        wrap_by(2),
        wrap_by(29),
        Case::must("W7.4/wrap-within-a-loss", &["W3.7"], "The counter may wrap while packets are lost.")
            .hear(obs(3, 9, 65_000), &[baseless(9)])
            .hear(obs(3, 109, 100), &[new(109, 636, 99)])
            .tips(A, 636),
        Case::must("W7.4/bound-of-a-coarse-bucket", &[], "1 s at 2000 mm/h is 0.56 mm, no tip of 5 mm: one tip is believed, for the water in the bucket; nine intervals have room for two.")
            .with(&[(A, coarse)])
            .hear(obs(3, 9, 0), &[baseless(9)])
            .hear(obs(3, 10, 2), &[refused("implausible")])
            .hear(obs(3, 10, 1), &[rain(10, 1, 5000, 0)])
            .hear(obs(3, 18, 3), &[refused("implausible")])
            .hear(obs(3, 19, 3), &[rain(19, 2, 5000, 8)]),
        Case::must("W7.4/bound-of-a-fine-bucket", &[], "3600 s have room for 200001 tips of 10 um: every counter is believed, and none runs backwards.")
            .with(&[(A, fine)])
            .hear(obs(3, 9, 100), &[baseless(9)])
            .hear(obs(3, 10, 99), &[rain(10, 65_535, 10, 0)])
            .hear(obs(3, 11, 99), &[rain(11, 0, 10, 0)]),
        Case::must("W7.4/bound-rounds-down-twice", &[], "Depth and tips are rounded down: 3 intervals are 26666 um, 88 tips of 300 um, and one.")
            .hear(obs(3, 9, 0), &[baseless(9)])
            .hear(obs(3, 12, 90), &[refused("implausible")])
            .hear(obs(3, 12, 89), &[new(12, 89, 2)]),
        Case::must("W7.4/implausible-leaves-no-trace", &["W7.1"], "A refused counter changes neither base nor window.")
            .hear(obs(3, 9, 10), &[baseless(9)])
            .hear(obs(3, 10, 900), &[refused("implausible")])
            .hear(obs(3, 10, 11), &[new(10, 1, 0)])
            .hear(obs(3, 11, 900), &[refused("implausible")])
            .hear(obs(3, 12, 12), &[new(12, 1, 1)])
            .tips(A, 2),
        Case::must("W7.4/no-base-is-not-nought", &[], "The rain of the first observation is not known, whatever its counter says, and no intervals were missed.")
            .hear(obs(3, 40_000, 60_000), &[baseless(40_000)])
            .hear(obs(3, 40_001, 60_000), &[new(40_001, 0, 0)])
            .tips(A, 0),
        Case::must("W7.4/three-witnesses-for-a-counter", &["W7.5"], "Three in a row that agree set the counter anew, and the third has no base; a packet between them that is believed sets them back.")
            .hear(obs(3, 500, 1000), &[baseless(500)])
            .hear(obs(3, 501, 10), &[refused("implausible")])
            .hear(obs(3, 502, 10), &[refused("implausible")])
            .hear(obs(3, 503, 1001), &[new(503, 1, 2)])
            .hear(obs(3, 504, 11), &[refused("implausible")])
            .hear(obs(3, 505, 11), &[refused("implausible")])
            .hear(obs(3, 505, 11), &[duplicate_witness()])
            .hear(obs(3, 506, 12), &[baseless(506)])
            .hear(obs(3, 507, 14), &[new(507, 2, 0)])
            .tips(A, 3),
        Case::must("W7.4/no-gauge-counter-judged", &["W5.2"], "The counter of a head without a gauge is judged all the same.")
            .with(&[(A, Identity { fit: benchmast_protocol::frame::SensorFit(0xF7), ..MINE })])
            .hear(obs(3, 9, 0), &[baseless(9)])
            .hear(obs(3, 10, 900), &[refused("implausible")])
            .hear(obs(3, 11, 1), &[missed_without_rain(11, 1)])
            .tips(A, 0),
    ]
}

fn missed_without_rain(sequence: u16, intervals_missed: u32) -> Told {
    Told::Observation {
        head: A,
        sequence,
        tips_since: None,
        rain_um: None,
        intervals_missed,
    }
}

/// The same packet again is refused again, and is no second witness.
fn duplicate_witness() -> Told {
    refused("implausible")
}

fn restart_cases() -> Vec<Case> {
    let ahead = (1..9_u16).map(|ahead| {
        let life = (14 + ahead) % 16;
        Case::must(&format!("W7.5/{ahead}-lives-ahead"), &["W3.4"], "One to eight lives ahead is a restart, over the wrap of the life too; its rain counts from 0.")
            .hear(obs(14, 500, 40), &[baseless(500)])
            .hear(obs(life, 3, 2), &[restarted(life as u8), new(3, 2, 3)])
            .hear(obs(life, 4, 3), &[new(4, 1, 0)])
            .tips(A, 3)
    });
    let behind = (9..16_u16).map(|ahead| {
        let life = (3 + ahead) % 16;
        Case::must(
            &format!("W7.5/{}-lives-behind", 16 - ahead),
            &["W3.4"],
            "One to seven lives behind is stale.",
        )
        .hear(obs(3, 500, 40), &[baseless(500)])
        .hear(obs(life, 501, 41), &[refused("stale")])
        .hear(obs(3, 501, 41), &[new(501, 1, 0)])
        .tips(A, 1)
    });
    let mut all: Vec<Case> = ahead.chain(behind).collect();
    all.extend([
        Case::must("W7.5/rain-of-a-new-life", &["W7.4"], "Of a new life the counter began at 0: no rain before the first packet heard is lost.")
            .hear(obs(3, 500, 60_000), &[baseless(500)])
            .hear(obs(4, 100, 300), &[restarted(4), new(100, 300, 100)])
            .hear(obs(5, 0, 1), &[restarted(5), new(0, 1, 0)])
            .hear(obs(6, 0, 0), &[restarted(6), new(0, 0, 0)])
            .tips(A, 301),
        Case::must("W7.5/forged-restarts-unkeyed", &[], "A forged packet of an older life, alone or repeated, changes nothing.")
            .hear(obs(9, 500, 40), &[baseless(500)])
            .hear(obs(3, 10, 7), &[refused("stale")])
            .hear(obs(3, 10, 7), &[refused("stale")])
            .hear(obs(3, 10, 7), &[refused("stale")])
            .hear(obs(3, 10, 7), &[refused("stale")])
            .hear(obs(9, 501, 41), &[new(501, 1, 0)])
            .tips(A, 1),
        Case::must("W7.5/replay-between-live-packets", &[], "Old packets in order, with a live one between each two, are never believed.")
            .hear(obs(9, 500, 40), &[baseless(500)])
            .hear(obs(2, 10, 0), &[refused("stale")])
            .hear(obs(9, 501, 40), &[new(501, 0, 0)])
            .hear(obs(2, 11, 0), &[refused("stale")])
            .hear(obs(9, 502, 40), &[new(502, 0, 0)])
            .hear(obs(2, 12, 0), &[refused("stale")])
            .hear(obs(9, 503, 41), &[new(503, 1, 0)])
            .hear(obs(2, 13, 0), &[refused("stale")])
            .tips(A, 1),
        Case::must("W7.5/witness-too-far", &[], "A witness more than 64 intervals after the one before stands for itself.")
            .hear(obs(9, 500, 40), &[baseless(500)])
            .hear(obs(2, 10, 0), &[refused("stale")])
            .hear(obs(2, 75, 0), &[refused("stale")])
            .hear(obs(2, 139, 0), &[refused("stale")])
            .hear(obs(2, 203, 0), &[restarted(2), baseless(203)])
            .tips(A, 0),
        Case::must("W7.5/health-is-no-witness", &[], "Health reports of a life behind are stale, and never witnesses; nor do they part observations that are.")
            .hear(obs(9, 500, 40), &[baseless(500)])
            .hear(report(2, 10), &[refused("stale")])
            .hear(report(2, 11), &[refused("stale")])
            .hear(report(2, 12), &[refused("stale")])
            .hear(obs(2, 13, 0), &[refused("stale")])
            .hear(report(9, 501), &[well(501)])
            .hear(obs(2, 14, 0), &[refused("stale")])
            .hear(report(2, 14), &[refused("stale")])
            .hear(obs(2, 15, 0), &[restarted(2), baseless(15)]),
        Case::must("W7.5/two-heads-two-ledgers", &["W7.1"], "Witnesses, lives and counters of one head are not those of another.")
            .with(&[(A, MINE), (B, settings(77, 16, 300))])
            .hear(obs(9, 500, 40), &[baseless(500)])
            .hear(obs_of(B, 2, 10, 0), &[baseless_of(B, 10)])
            .hear(obs(2, 10, 0), &[refused("stale")])
            .hear(obs_of(B, 1, 11, 0), &[refused("stale")])
            .hear(obs(2, 11, 0), &[refused("stale")])
            .hear(obs_of(B, 2, 11, 1), &[Told::Observation { head: B, sequence: 11, tips_since: Some(1), rain_um: Some(300), intervals_missed: 0 }])
            .hear(obs(2, 12, 0), &[restarted(2), baseless(12)])
            .tips(B, 1),
        Case::must("W7.5/life-before-is-not-forgotten-twice", &[], "After two restarts the life before is the one in between; an older one is stale.")
            .hear(obs(3, 500, 40), &[baseless(500)])
            .hear(obs(4, 10, 0), &[restarted(4), new(10, 0, 10)])
            .hear(obs(5, 2, 0), &[restarted(5), new(2, 0, 2)])
            .hear(obs(4, 11, 1), &[late(11, 3, 1)])
            .hear(obs(3, 501, 41), &[refused("stale")])
            .hear(obs(5, 3, 1), &[new(3, 1, 0)])
            .tips(A, 2),
        Case::must("W7.5/restart-by-health-then-late", &[], "Where a health report told of the restart, rain and missed intervals count from the restart.")
            .hear(obs(3, 500, 40), &[baseless(500)])
            .hear(report(4, 0), &[restarted(4), well(0)])
            .hear(obs(4, 3, 5), &[new(3, 5, 3)])
            .hear(obs(4, 1, 1), &[late(1, 2, 0)])
            .hear(report(3, 448), &[late(448, 4, 0)])
            .tips(A, 5),
    ]);
    all
}
