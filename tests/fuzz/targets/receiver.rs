//! Any dialogue with a receiver: packets of two heads with right checks, one of which has a key, times that
//! stand still or jump, pairing and forgetting in any order. What is told must add up, nothing may be told of a
//! head that is not paired, and nothing believed of the one with the key unless its tag is right.
#![no_main]

use benchmast_protocol::frame::{Frame, Identity, SensorFit, Serial};
use benchmast_protocol::packet::{HeadId, MAX_PACKET, Packet, check};
use benchmast_protocol::receiver::{Config, Event, Receiver};
use benchmast_protocol::tag::{Key, TAG_LEN};
use libfuzzer_sys::fuzz_target;
use std::collections::BTreeMap;

const KEY: Key = Key(*b"the head's own..");
const KEYED: Serial = Serial(2);
const HEADS: [HeadId; 3] = [HeadId(0x0a), HeadId(0x0b), HeadId(0x0c)];

fn identity(serial: Serial) -> Identity {
    Identity {
        serial,
        hardware: 1,
        fit: SensorFit::ALL,
        interval_s: 16,
        bucket_um: 300,
    }
}

/// Takes numbers from the front of the input; zeros when it is used up.
struct Input<'d>(&'d [u8]);

impl Input<'_> {
    fn byte(&mut self) -> u8 {
        self.0.split_off_first().copied().unwrap_or(0)
    }
    fn short(&mut self) -> u16 {
        u16::from_le_bytes([self.byte(), self.byte()])
    }
}

fuzz_target!(|data: &[u8]| {
    let mut input = Input(data);
    let mut receiver = Receiver::<2>::new(Config {
        silent_after: u16::from(input.byte() % 8),
    });
    receiver
        .set_key(KEYED, KEY, None)
        .expect("a place for a key");
    let mut now = 0_u64;
    let mut tips: BTreeMap<u32, u64> = BTreeMap::new();
    while !input.0.is_empty() {
        let mut right_tag = false;
        match input.byte() % 16 {
            0 => now = now.saturating_add(u64::from(input.short()) * 1_000_000),
            1 => now = u64::from(input.short()) << (input.byte() % 48),
            2 => {
                let _ = receiver.expect(Serial(u64::from(input.byte() % 4)));
            }
            3 => receiver.expect_any(input.byte() & 1 == 1),
            4 => {
                let head = HEADS[usize::from(input.byte() % 3)];
                let serial = Serial(u64::from(input.byte() % 4));
                if receiver.adopt(head, identity(serial)).is_ok() {
                    tips.insert(head.0, 0);
                }
            }
            5 => {
                receiver.forget(HEADS[usize::from(input.byte() % 3)]);
            }
            6 => receiver.handle_time(now),
            7 => receiver.handle_damaged(now),
            // Bytes as they come, with a right check and of a head that may be paired.
            8 => {
                let length = usize::from(input.byte() % 47);
                let mut bytes: Vec<u8> = (0..length).map(|_| input.byte()).collect();
                if let [first, a, b, c, d, ..] = bytes.as_mut_slice() {
                    *first = *first & 0x0f | 0x10;
                    [*a, *b, *c, *d] = HEADS[usize::from(*a % 3)].0.to_le_bytes();
                }
                let sum = check(&bytes).to_be_bytes();
                bytes.extend(sum);
                receiver.handle_packet(now, &bytes);
            }
            // An honest packet, or nearly.
            kind => {
                let head = HEADS[usize::from(input.byte() % 3)];
                let sequence = input.short() % 200;
                let counter = input.short();
                let frame = frame(kind, &mut input);
                let packet = Packet {
                    head,
                    sequence,
                    frame,
                };
                let mut buffer = [0; MAX_PACKET];
                let bytes = match input.byte() % 4 {
                    0 => packet.emit(&mut buffer),
                    1 => packet.emit_tagged(&Key([0; 16]), counter.into(), &mut buffer),
                    _ => {
                        right_tag = true;
                        packet.emit_tagged(&KEY, counter.into(), &mut buffer)
                    }
                };
                receiver.handle_packet(now, bytes.expect("a packet"));
            }
        }
        let paired: BTreeMap<u32, Serial> = receiver
            .paired()
            .map(|(head, identity)| (head.0, identity.serial))
            .collect();
        let keyed = |head: HeadId| paired.get(&head.0) == Some(&KEYED);
        while let Some(event) = receiver.poll_event() {
            let believed = match event {
                Event::Paired { head, .. } => {
                    // Taken up anew, or settings changed: the sums go on only in the second case.
                    if receiver.tips_believed(head) == Some(0) {
                        tips.insert(head.0, 0);
                    }
                    Some(head)
                }
                Event::Observation(seen) => {
                    *tips.entry(seen.head.0).or_default() +=
                        u64::from(seen.tips_since.unwrap_or(0));
                    assert_eq!(
                        seen.rain_um,
                        seen.tips_since
                            .map(|tips| u32::from(tips) * bucket(&receiver, seen.head))
                    );
                    Some(seen.head)
                }
                Event::Late {
                    head, tips_since, ..
                } => {
                    *tips.entry(head.0).or_default() += u64::from(tips_since);
                    Some(head)
                }
                Event::Health { head, .. }
                | Event::Duplicate { head, .. }
                | Event::Restarted { head, .. } => Some(head),
                Event::Silent { head, .. } => {
                    assert!(paired.contains_key(&head.0));
                    None
                }
                Event::Refused(_) => None,
            };
            if let Some(head) = believed {
                assert!(paired.contains_key(&head.0), "{event:?}");
                assert!(right_tag || !keyed(head), "{event:?}");
            }
        }
        for head in paired.keys() {
            let told = tips.get(head).copied().unwrap_or(0);
            assert_eq!(receiver.tips_believed(HeadId(*head)), Some(told));
        }
        assert_eq!(receiver.events_lost(), 0);
        assert!(paired.len() <= 2);
    }
    assert_eq!(TAG_LEN, 8);
});

fn bucket(receiver: &Receiver<2>, head: HeadId) -> u32 {
    receiver
        .identity(head)
        .map_or(0, |identity| identity.bucket_um.into())
}

/// A frame of the typical packets with a few of its numbers changed.
fn frame(kind: u8, input: &mut Input<'_>) -> Frame {
    let typical = |hex: &[u8]| Packet::parse(hex).expect("a worked example").frame;
    match kind % 4 {
        0 => {
            let Frame::Health(mut health) = typical(HEALTH) else {
                unreachable!("a health report")
            };
            health.restarts = u16::from(input.byte() % 20);
            Frame::Health(health)
        }
        1 => {
            let mut changed = identity(Serial(u64::from(input.byte() % 4)));
            changed.interval_s = u16::from(input.byte() % 3) * 16;
            changed.bucket_um = 100 + u16::from(input.byte() % 2) * 200;
            Frame::Identity(changed)
        }
        _ => {
            let Frame::Observation(mut observation) = typical(OBSERVATION) else {
                unreachable!("an observation")
            };
            let life = u16::from(input.byte() % 16);
            observation.status = benchmast_protocol::frame::Status::new(life, false, false, false);
            observation.tips = input.short() % 512;
            Frame::Observation(observation)
        }
    }
}

/// The worked examples of WIRE.md.
const OBSERVATION: &[u8] = &[
    0x11, 0x4d, 0x3c, 0x2b, 0x1a, 0x34, 0x12, 0x03, 0xd2, 0x21, 0xd8, 0x03, 0x94, 0x4f, 0x22, 0x3d,
    0xf7, 0x01, 0xd2, 0x09, 0xd2, 0xf8, 0x02, 0x2b, 0x80, 0x15,
];
const HEALTH: &[u8] = &[
    0x12, 0x4d, 0x3c, 0x2b, 0x1a, 0x00, 0x10, 0x03, 0x01, 0x80, 0x80, 0x04, 0xe4, 0x19, 0x92, 0x13,
    0xc4, 0x17, 0x6b, 0xca, 0x3a,
];
