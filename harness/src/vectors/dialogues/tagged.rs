//! Heads with keys.

use super::super::packets::{HEAD, emit, typical, typical_identity};
use super::super::refused::sealed;
use super::super::tagged::{KEY, emit as emit_tagged};
use super::*;
use benchmast_protocol::packet::Packet;

/// Another key than the head's.
const WRONG: Key = Key([0x5a; 16]);

fn packet(head: HeadId, sequence: u16, frame: Frame) -> Packet {
    Packet {
        head,
        sequence,
        frame,
    }
}

fn seen(life: u16, tips: u16) -> Frame {
    Frame::Observation(Observation {
        status: Status::new(life, false, false, false),
        tips,
        ..typical()
    })
}

/// An observation of head `A` in life 3 whose tips are its sequence number.
fn tagged(sequence: u16, counter: u32) -> (String, Vec<u8>) {
    of_life(3, sequence, counter)
}

fn of_life(life: u16, sequence: u16, counter: u32) -> (String, Vec<u8>) {
    let says = format!("observation of {A}: life {life}, sequence {sequence}, counter {counter}");
    let bytes = emit_tagged(&packet(A, sequence, seen(life, sequence)), &KEY, counter);
    (says, bytes)
}

fn of_key(key: &Key, identity: Identity, head: HeadId, counter: u32) -> (String, Vec<u8>) {
    let says = format!(
        "identity of {head}: serial {}, counter {counter}",
        identity.serial.0
    );
    let bytes = emit_tagged(&packet(head, 0, Frame::Identity(identity)), key, counter);
    (says, bytes)
}

fn says(words: &str, bytes: Vec<u8>) -> (String, Vec<u8>) {
    (words.to_string(), bytes)
}

/// A packet with one byte changed and a right check.
fn with_byte(mut bytes: Vec<u8>, at: usize) -> Vec<u8> {
    bytes.truncate(bytes.len() - 2);
    bytes[at] ^= 1;
    sealed(&bytes)
}

pub(in crate::vectors) fn all() -> Vec<Dialogue> {
    let mine = typical_identity();
    let serial = mine.serial.0;
    let plain = |sequence: u16| emit(HEAD, sequence, seen(3, sequence));
    let short = {
        let mut bytes = plain(8);
        bytes.truncate(18);
        bytes[0] |= 8;
        sealed(&bytes)
    };
    let mut unreadable = of_key(&KEY, mine, A, 30).1;
    unreadable.remove(7);
    unreadable.truncate(unreadable.len() - 2);
    let unreadable = sealed(&unreadable);
    // What a head with a fault of its own would send: the tag is right, the body is another kind's.
    let misnamed = {
        let mut bytes = plain(6);
        bytes.truncate(bytes.len() - 2);
        bytes[0] = 0x1a;
        bytes.extend(40_u32.to_le_bytes());
        let tag = KEY.tag(&bytes);
        bytes.extend(tag);
        sealed(&bytes)
    };
    let short_identity = {
        let mut bytes = emit(HEAD, 0, Frame::Identity(mine));
        bytes.truncate(bytes.len() - 2);
        bytes[0] |= 8;
        sealed(&bytes)
    };
    let implausible = emit_tagged(
        &packet(
            A,
            12,
            Frame::Identity(Identity {
                interval_s: 0,
                ..mine
            }),
        ),
        &KEY,
        40,
    );
    vec![
        Dialogue::new("tag-believed", &["W10.4"], "With the right tag a packet is believed as without a key.")
            .key(serial, KEY, None)
            .hear(tagged(5, 0), &[baseless(5)])
            .hear(tagged(7, 2), &[new(7, 2, 1)])
            .hear(tagged(6, 1), &[late(6, 1, 0)])
            .tips(A, 2),
        Dialogue::new("tag-demanded", &["W10.4", "W7.1"], "A head with a key is never believed without its tag; a head without one never with.")
            .with(vec![adopted(A, mine), adopted(B, with_serial(77))])
            .key(serial, KEY, None)
            .hear(tagged(5, 10), &[baseless(5)])
            .hear(obs(3, 6, 6), &[refused("forged")])
            .hear(report(3, 6), &[refused("forged")])
            .hear(identity(A, mine), &[refused("forged")])
            .hear(says("another key", emit_tagged(&packet(A, 6, seen(3, 6)), &WRONG, 11)), &[refused("forged")])
            .hear(says("a reading changed", with_byte(tagged(6, 11).1, 9)), &[refused("forged")])
            .hear(says("the counter changed", with_byte(tagged(6, 11).1, 23)), &[refused("forged")])
            .hear(says("the last byte of the tag changed", with_byte(tagged(6, 11).1, 34)), &[refused("forged")])
            .hear(says("bit 3, and no room for a tag", short), &[refused("forged")])
            .hear(says("tagged, of a head without a key", emit_tagged(&packet(B, 6, seen(3, 6)), &KEY, 12)), &[refused("malformed")])
            .hear(says("tagged, of a head that is not paired", emit_tagged(&packet(HeadId(7), 6, seen(3, 6)), &KEY, 12)), &[unknown(HeadId(7))])
            .hear(obs_of(B, 3, 6, 6), &[baseless_of(B, 6)])
            .hear(tagged(6, 11), &[new(6, 1, 0)])
            .tips(A, 1),
        Dialogue::new("tag-replayed", &["W10.4"], "Each counter once, within 64 of the highest; refused packets count too.")
            .key(serial, KEY, None)
            .hear(tagged(5, 100), &[baseless(5)])
            .hear(tagged(5, 100), &[refused("replayed")])
            .hear(tagged(5, 101), &[duplicate(5)])
            .hear(tagged(6, 164), &[new(6, 1, 0)])
            .hear(tagged(7, 101), &[refused("replayed")])
            .hear(tagged(7, 100), &[refused("replayed")])
            .hear(tagged(7, 102), &[new(7, 1, 0)])
            .hear(says("implausible, counter 40: too old", implausible.clone()), &[refused("replayed")])
            .hear(tagged(8, u32::MAX), &[new(8, 1, 0)])
            .hear(tagged(9, 0), &[refused("replayed")])
            .hear(tagged(9, u32::MAX - 63), &[new(9, 1, 0)])
            .hear(tagged(10, u32::MAX - 64), &[refused("replayed")])
            .tips(A, 4),
        Dialogue::new("tag-malformed-counts", &["W10.4"], "A packet with a right tag and a body that cannot be read has used its counter, and no other.")
            .key(serial, KEY, None)
            .hear(tagged(5, 39), &[baseless(5)])
            .hear(says("an observation that is called a health report, counter 40", misnamed), &[refused("malformed")])
            .hear(tagged(6, 40), &[refused("replayed")])
            .hear(tagged(5, 39), &[refused("replayed")])
            .hear(tagged(6, 41), &[new(6, 1, 0)]),
        Dialogue::new("tag-refused-counts", &["W10.4", "W7.1"], "A packet with a right tag that is refused for its numbers has used its counter.")
            .key(serial, KEY, None)
            .hear(says("identity with an interval of 0 s", implausible.clone()), &[refused("implausible")])
            .hear(says("the same again", implausible), &[refused("replayed")])
            .hear(tagged(5, 40), &[refused("replayed")])
            .hear(tagged(5, 41), &[baseless(5)]),
        Dialogue::new("tag-restart", &["W10.3", "W10.4", "W7.5"], "After a restart of the head counters go on; three old packets in order are no witnesses.")
            .key(serial, KEY, None)
            .hear(tagged(5, 10), &[baseless(5)])
            .hear(tagged(6, 11), &[new(6, 1, 0)])
            .hear(tagged(7, 12), &[new(7, 1, 0)])
            .hear(of_life(4, 0, 1024), &[restarted(4), new(0, 0, 0)])
            .hear(of_life(5, 0, 2048), &[restarted(5), new(0, 0, 0)])
            .hear(tagged(5, 10), &[refused("replayed")])
            .hear(tagged(6, 11), &[refused("replayed")])
            .hear(tagged(7, 12), &[refused("replayed")])
            .hear(of_life(5, 1, 2049), &[new(1, 1, 0)])
            .tips(A, 3),
        Dialogue::new("tag-receiver-restart", &["W10.5"], "The receiver came back and knows that counter 200 was heard.")
            .key(serial, KEY, Some(200))
            .hear(tagged(5, 200), &[refused("replayed")])
            .hear(tagged(4, 199), &[refused("replayed")])
            .hear(tagged(3, 100), &[refused("replayed")])
            .hear(tagged(6, 201), &[baseless(6)]),
        Dialogue::new("tag-pairing", &["W10.4", "W10.2"], "An identity is judged by the key of the serial number that it names.")
            .with(vec![])
            .key(serial, KEY, None)
            .expect(serial)
            .hear(identity(A, mine), &[refused("forged")])
            .hear(of_key(&WRONG, mine, A, 5), &[refused("forged")])
            .hear(of_key(&KEY, with_serial(77), A, 6), &[refused("malformed")])
            .hear(says("a byte of the serial number is missing", unreadable), &[refused("malformed")])
            .hear(says("bit 3, and no room for a tag", short_identity), &[refused("malformed")])
            .hear(of_key(&KEY, mine, A, 7), &[paired(A, mine)])
            .hear(of_key(&KEY, mine, A, 7), &[refused("replayed")])
            .hear(of_key(&KEY, mine, A, 8), &[duplicate(0)])
            .hear(tagged(5, 9), &[baseless(5)]),
        Dialogue::new("tag-outlives-pairing", &["W10.5", "W7.2"], "The head comes back with another head id: old packets stay old.")
            .key(serial, KEY, None)
            .hear(tagged(5, 50), &[baseless(5)])
            .expect(serial)
            .hear(of_key(&KEY, mine, B, 51), &[paired(B, mine)])
            .hear(tagged(6, 52), &[unknown(A)])
            .hear(says("observation under the new head id, counter 50", emit_tagged(&packet(B, 6, seen(3, 6)), &KEY, 50)), &[refused("replayed")])
            .hear(says("observation under the new head id, counter 52", emit_tagged(&packet(B, 6, seen(3, 6)), &KEY, 52)), &[baseless_of(B, 6)]),
    ]
}
