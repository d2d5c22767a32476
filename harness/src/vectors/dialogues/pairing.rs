//! Order of judgement, pairing, silence.

use super::super::packets::{HEAD, emit, typical, typical_identity};
use super::super::refused::sealed;
use super::*;
use benchmast_protocol::frame::SensorFit;

fn bytes(says: &str, packet: Vec<u8>) -> (String, Vec<u8>) {
    (says.to_string(), packet)
}

pub(super) fn all() -> Vec<Dialogue> {
    let mine = typical_identity();
    let finer = Identity {
        bucket_um: 200,
        ..mine
    };
    let no_gauge = Identity {
        fit: SensorFit(SensorFit::ALL.0 & !SensorFit::RAIN_GAUGE),
        ..mine
    };
    let other = with_serial(77);
    let first = |byte: u8, head: HeadId| {
        let mut packet = emit(head, 9, Frame::Observation(typical()));
        packet.truncate(packet.len() - 2);
        packet[0] = byte;
        sealed(&packet)
    };
    let mut damaged = first(0x21, B);
    damaged[5] ^= 1;
    vec![
        Dialogue::new("order-of-judgement", &["W7.1"], "Each packet has several faults; the first in order is told.")
            .hear(bytes("version 2, unknown head, check broken", damaged), &[refused("damaged")])
            .hear(bytes("version 2, unknown head", first(0x21, B)), &[Told::Refused {
                reason: "unknown_version",
                head: None,
                version: Some(2),
            }])
            .hear(bytes("bit 3, unknown head", first(0x19, B)), &[unknown(B)])
            .hear(bytes("bit 3 and kind 7, unknown head", first(0x1f, B)), &[refused("malformed")])
            .hear(bytes("bit 3, no key", first(0x19, HEAD)), &[refused("malformed")])
            .hear(bytes("kind 7, unknown head", first(0x17, B)), &[refused("malformed")])
            .hear(bytes("observation called health, unknown head", first(0x12, B)), &[unknown(B)])
            .hear(bytes("observation called health", first(0x12, HEAD)), &[refused("malformed")])
            .hear(bytes("observation called identity, unknown head", first(0x13, B)), &[refused("malformed")]),
        Dialogue::new("pair-by-serial", &["W7.2", "W7.4"], "Only the head that is waited for is believed.")
            .with(vec![])
            .hear(obs(3, 4, 6), &[unknown(A)])
            .hear(identity(A, mine), &[unknown(A)])
            .expect(mine.serial.0)
            .hear(identity(B, other), &[unknown(B)])
            .hear(identity(A, mine), &[paired(A, mine)])
            .hear(obs(3, 5, 7), &[baseless(5)])
            .hear(identity(B, mine), &[unknown(B)])
            .hear(obs(3, 6, 9), &[new(6, 2, 0)])
            .tips(A, 2),
        Dialogue::new("identity-again", &["W7.2"], "Nothing new; nothing new, but waited for; then another bucket.")
            .hear(identity(A, mine), &[duplicate(0)])
            .hear(obs(3, 5, 7), &[baseless(5)])
            .expect(mine.serial.0)
        .hear(identity(A, mine), &[paired(A, mine)])
        .hear(identity(A, mine), &[duplicate(0)])
        .hear(identity(A, finer), &[paired(A, finer)])
            .hear(obs(3, 6, 10), &[Told::Observation {
                head: A.to_string(),
                sequence: 6,
                tips_since: Some(3),
                rain_um: Some(600),
                intervals_missed: 0,
            }])
            .tips(A, 3),
        Dialogue::new("address-taken", &["W7.2"], "Another head with the address of a paired one is a stranger, until it is waited for: then it takes the place.")
            .hear(obs(3, 5, 7), &[baseless(5)])
            .hear(identity(A, other), &[unknown(A)])
            .hear(obs(3, 6, 8), &[new(6, 1, 0)])
            .expect(77)
            .hear(identity(A, other), &[paired(A, other)])
            .hear(obs(5, 0, 0), &[baseless(0)]),
        Dialogue::new("new-address", &["W7.2"], "A paired serial number under another address is a stranger, until it is waited for: then the old address is forgotten.")
            .hear(identity(B, mine), &[unknown(B)])
            .expect(mine.serial.0)
            .hear(obs(3, 5, 7), &[baseless(5)])
            .hear(identity(B, mine), &[paired(B, mine)])
            .hear(obs(3, 6, 7), &[unknown(A)])
            .hear(obs_of(B, 0, 0, 0), &[baseless_of(B, 0)]),
        Dialogue::new("open-pairing", &["W7.2"], "Any identity is adopted while there is room; a place kept for a serial number is no room.")
            .with(vec![])
            .open(true)
            .expect(4)
            .hear(identity(HeadId(1), with_serial(1)), &[paired(HeadId(1), with_serial(1))])
            .hear(identity(HeadId(2), with_serial(2)), &[paired(HeadId(2), with_serial(2))])
            .hear(identity(HeadId(3), with_serial(3)), &[paired(HeadId(3), with_serial(3))])
            .hear(identity(HeadId(5), with_serial(5)), &[unknown(HeadId(5))])
            .hear(identity(HeadId(4), with_serial(4)), &[paired(HeadId(4), with_serial(4))])
            .open(false)
            .hear(identity(HeadId(6), with_serial(6)), &[unknown(HeadId(6))]),
        Dialogue::new("neighbour", &["W7.1"], "A neighbour's packets between our own change nothing.")
            .hear(obs(3, 5, 7), &[baseless(5)])
            .hear(obs_of(B, 9, 6000, 900), &[unknown(B)])
            .hear(obs(3, 6, 8), &[new(6, 1, 0)])
            .hear(obs_of(B, 9, 6001, 900), &[unknown(B)])
            .hear(identity(B, other), &[unknown(B)])
            .hear(obs(3, 7, 8), &[new(7, 0, 0)])
            .tips(A, 1),
        Dialogue::new("no-rain-gauge", &["W7.4"], "A head without a rain gauge has no rain, not rain of zero.")
            .with(vec![adopted(A, no_gauge)])
            .hear(obs(3, 5, 0), &[baseless(5)])
            .hear(obs(3, 6, 0), &[baseless(6)])
            .tips(A, 0),
        Dialogue::new("silence", &["W7.6"], "Told once, after three intervals; again only after a believed packet.")
            .silent_after(3)
            .hear_at(INTERVAL, obs(3, 5, 7), &[baseless(5)])
            .wait_until(4 * INTERVAL - 1, &[])
            .wait_until(4 * INTERVAL, &[silent(INTERVAL)])
            .wait_until(9 * INTERVAL, &[])
            .hear_at(10 * INTERVAL, obs(3, 5, 7), &[duplicate(5)])
            .wait_until(13 * INTERVAL, &[])
            .hear_at(14 * INTERVAL, obs(3, 18, 7), &[new(18, 0, 12)])
            .wait_until(17 * INTERVAL, &[silent(14 * INTERVAL)]),
        Dialogue::new("silence-ended-by-packet", &["W7.6"], "Nobody asked in time: the silence is told before the packet that ends it.")
            .silent_after(3)
            .hear_at(INTERVAL, obs(3, 5, 7), &[baseless(5)])
            .hear_at(5 * INTERVAL, obs(3, 9, 7), &[silent(INTERVAL), new(9, 0, 3)]),
        Dialogue::new("silence-from-the-start", &["W7.6"], "A head never heard is overdue too, counted from the first time that is told.")
            .silent_after(3)
            .wait_until(1000 * INTERVAL, &[])
            .wait_until(1003 * INTERVAL - 1, &[])
            .wait_until(1003 * INTERVAL, &[silent(1000 * INTERVAL)]),
        Dialogue::new("clock-backwards", &["W7.3"], "A clock that is set back refuses nothing.")
            .silent_after(3)
            .hear_at(100 * INTERVAL, obs(3, 5, 7), &[baseless(5)])
            .hear_at(2 * INTERVAL, obs(3, 6, 8), &[new(6, 1, 0)])
            .wait_until(0, &[])
            .hear_at(3 * INTERVAL, obs(3, 7, 9), &[new(7, 1, 0)])
            .tips(A, 2),
    ]
}
