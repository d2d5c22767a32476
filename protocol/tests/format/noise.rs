//! Noise, hostile order of calls, and the size of a receiver.

use super::samples::{Dice, HEAD, IDENTITY, any_packet, emit, health_packet, observation_packet};
use benchmast_protocol::frame::Serial;
use benchmast_protocol::packet::HeadId;
use benchmast_protocol::receiver::{Config, Event, Receiver};
use benchmast_protocol::stream::{Deframed, Deframer};
use proptest::prelude::*;
use std::vec::Vec;

#[test]
fn a_receiver_of_four_heads_is_under_a_kilobyte() {
    let size = size_of::<Receiver<4>>();
    // With keys for four heads: each a key, a serial number and the counters heard.
    let keyring = if cfg!(feature = "tags") {
        4 * 40 + 8
    } else {
        0
    };
    assert!(size < 1024 + keyring, "{size} bytes");
    std::println!(
        "Receiver<4>: {size} bytes, Deframer: {} bytes, Event: {} bytes",
        size_of::<Deframer>(),
        size_of::<Event>()
    );
}

/// Ten million random bytes, some of them with more delimiters than chance gives: nothing is believed.
#[test]
fn ten_million_random_bytes() {
    let mut dice = Dice(0x6e6f_6973);
    let mut deframer = Deframer::new();
    let mut receiver = Receiver::<4>::new(Config::default());
    receiver.adopt(HEAD, IDENTITY).unwrap();
    receiver.expect(Serial(77)).unwrap();
    let (mut frames, mut refused, mut believed) = (0_u32, 0_u32, 0_u32);
    for chunk in 0..10_000_000 / 8_u64 {
        let mut bytes = dice.roll().to_le_bytes();
        if chunk % 2 == 0 && bytes[0] < 128 {
            bytes[1] = 0;
        }
        let mut input = &bytes[..];
        while let Some(frame) = deframer.push_from(&mut input) {
            frames += 1;
            match frame {
                Deframed::Packet(packet) => receiver.handle_packet(chunk, packet),
                Deframed::Damaged => receiver.handle_damaged(chunk),
            }
            while let Some(event) = receiver.poll_event() {
                match event {
                    Event::Refused(_) => refused += 1,
                    _ => believed += 1,
                }
            }
        }
    }
    assert_eq!((believed, refused), (0, frames));
    assert!(frames > 250_000, "{frames}");
}

/// One call on a receiver.
#[derive(Debug, Clone)]
enum Call {
    Packet(u64, Vec<u8>),
    Time(u64),
    Damaged(u64),
    Poll,
    Expect(u64),
    Open(bool),
    Adopt(u32),
    Forget(u32),
}

fn time() -> impl Strategy<Value = u64> {
    prop_oneof![any::<u64>(), 0_u64..100_000_000, Just(0), Just(u64::MAX)]
}

fn packet() -> impl Strategy<Value = Vec<u8>> {
    prop_oneof![
        1 => any_packet().prop_map(|packet| emit(&packet)),
        1 => any_packet().prop_map(|packet| emit(&benchmast_protocol::packet::Packet { head: HEAD, ..packet })),
        4 => (0_u16..40, any::<u16>(), any::<u16>())
            .prop_map(|(life, interval, tips)| observation_packet(life, interval.into(), tips.into())),
        4 => (0_u16..3, 0_u64..200, 0_u64..200)
            .prop_map(|(life, interval, tips)| observation_packet(life, interval, tips)),
        2 => (0_u16..3, 0_u64..200).prop_map(|(life, interval)| health_packet(life, interval)),
        1 => prop::collection::vec(any::<u8>(), 0..60),
    ]
}

fn call() -> impl Strategy<Value = Call> {
    prop_oneof![
        8 => (time(), packet()).prop_map(|(time, bytes)| Call::Packet(time, bytes)),
        1 => time().prop_map(Call::Time),
        1 => time().prop_map(Call::Damaged),
        4 => Just(Call::Poll),
        1 => (0_u64..4).prop_map(Call::Expect),
        1 => any::<bool>().prop_map(Call::Open),
        1 => (0_u32..4).prop_map(Call::Adopt),
        1 => (0_u32..4).prop_map(Call::Forget),
    ]
}

proptest! {
    /// Whatever is called in whatever order at whatever time: no panic, and the sums hold.
    #[test]
    fn any_calls_are_no_panic(calls in prop::collection::vec(call(), 0..120)) {
        let mut receiver = Receiver::<2>::new(Config { silent_after: 3 });
        receiver.adopt(HEAD, IDENTITY).unwrap();
        let mut none = Receiver::<0>::new(Config::default());
        let mut told = 0_u64;
        for call in calls {
            match call {
                Call::Packet(now, bytes) => {
                    receiver.handle_packet(now, &bytes);
                    none.handle_packet(now, &bytes);
                }
                Call::Time(now) => receiver.handle_time(now),
                Call::Damaged(now) => receiver.handle_damaged(now),
                Call::Poll => {
                    while receiver.poll_event().is_some() {
                        told += 1;
                        prop_assert!(told < 10_000, "polling ends");
                    }
                    while none.poll_event().is_some() {}
                }
                Call::Expect(serial) => {
                    let _ = receiver.expect(Serial(serial));
                    prop_assert!(none.expect(Serial(serial)).is_err());
                }
                Call::Open(open) => receiver.expect_any(open),
                Call::Adopt(head) => {
                    let identity = benchmast_protocol::frame::Identity { serial: Serial(head.into()), ..IDENTITY };
                    let _ = receiver.adopt(HeadId(head), identity);
                }
                Call::Forget(head) => {
                    receiver.forget(HeadId(head));
                }
            }
            let _ = receiver.next_deadline();
            prop_assert!(receiver.paired().count() <= 2);
            for (head, identity) in receiver.paired().collect::<Vec<_>>() {
                prop_assert_eq!(receiver.identity(head), Some(identity));
            }
        }
    }

    /// No lock-out: whatever was said before, a head that reports in order is believed from the fourth
    /// observation after it left the reach of what was heard before.
    #[test]
    fn a_steady_head_is_believed_again(calls in prop::collection::vec(call(), 0..60), life in 0_u16..16, start in any::<u16>(), tips in any::<u16>()) {
        let mut receiver = Receiver::<2>::new(Config::default());
        receiver.adopt(HEAD, IDENTITY).unwrap();
        for call in calls {
            if let Call::Packet(now, bytes) = call {
                receiver.handle_packet(now, &bytes);
                while receiver.poll_event().is_some() {}
            }
        }
        let mut believed = 0;
        for step in 0..80_u64 {
            receiver.handle_packet(0, &observation_packet(life, u64::from(start) + step, u64::from(tips) + step / 4));
            while let Some(event) = receiver.poll_event() {
                believed += u64::from(step >= 68 && matches!(event, Event::Observation(_)));
            }
        }
        prop_assert_eq!(believed, 12);
    }
}
