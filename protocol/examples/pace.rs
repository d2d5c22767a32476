//! Measures the codec and the receiver on this machine: nanoseconds per packet.
//!
//! `cargo run --release -p benchmast-protocol --example pace`

use benchmast_protocol::frame::{Frame, Identity, Observation, SensorFit, Serial, Status};
use benchmast_protocol::packet::{HeadId, MAX_PACKET, Packet, check};
use benchmast_protocol::quantity::Quantity;
use benchmast_protocol::receiver::{Config, Event, Receiver};
use benchmast_protocol::stream::{Deframed, Deframer, MAX_ENCODED, encode};
use std::hint::black_box;

const PACKETS: usize = 1 << 16;

fn packet(interval: usize) -> Packet {
    Packet {
        head: HeadId(7),
        sequence: interval as u16,
        frame: Frame::Observation(Observation {
            status: Status::new(1, false, false, false),
            air_temperature: Quantity::saturating_from_si(21.53),
            relative_humidity: Quantity::saturating_from_si(47.2),
            air_pressure: Quantity::saturating_from_si(1013.2),
            wind_speed: Quantity::saturating_from_si(3.4),
            wind_speed_of_gust: Quantity::saturating_from_si(6.1),
            wind_from_direction: Quantity::saturating_from_si(247.0),
            tips: (interval / 3) as u16,
            illuminance: Quantity::saturating_from_si(48_210.0),
            ultraviolet_index: Quantity::saturating_from_si(4.3),
        }),
    }
}

/// Best of twenty rounds over all packets.
#[expect(clippy::disallowed_types, reason = "a clock is what measures")]
fn best(name: &str, mut round: impl FnMut()) {
    let fastest = (0..20)
        .map(|_| {
            let start = std::time::Instant::now();
            round();
            start.elapsed().as_nanos() as f64 / PACKETS as f64
        })
        .fold(f64::INFINITY, f64::min);
    println!("{name:40} {fastest:7.1} ns");
}

fn main() {
    let frames: Vec<Packet> = (0..PACKETS).map(packet).collect();
    let mut buffer = [0; MAX_PACKET];
    let packets: Vec<Vec<u8>> = frames
        .iter()
        .map(|frame| frame.emit(&mut buffer).unwrap_or_default().to_vec())
        .collect();
    let mut wire = [0; MAX_ENCODED];
    let streams: Vec<Vec<u8>> = packets
        .iter()
        .map(|packet| encode(packet, &mut wire).unwrap_or_default().to_vec())
        .collect();

    best("quantities from SI", || {
        for interval in 0..PACKETS {
            black_box(packet(black_box(interval)));
        }
    });
    best("emit", || {
        for frame in &frames {
            black_box(frame.emit(black_box(&mut buffer)));
        }
    });
    best("check alone", || {
        for bytes in &packets {
            black_box(check(black_box(&bytes[..bytes.len() - 2])));
        }
    });
    best("parse", || {
        for bytes in &packets {
            let _ = black_box(Packet::parse(black_box(bytes)));
        }
    });
    best("parse, ledger and event", || {
        let mut receiver = Receiver::<4>::new(Config::default());
        let identity = Identity {
            serial: Serial(7),
            hardware: 1,
            fit: SensorFit::ALL,
            interval_s: 16,
            bucket_um: 300,
        };
        let _ = receiver.adopt(HeadId(7), identity);
        let mut believed = 0;
        for (interval, bytes) in packets.iter().enumerate() {
            receiver.handle_packet(interval as u64 * 16_000_000, black_box(bytes));
            while let Some(event) = receiver.poll_event() {
                believed += usize::from(matches!(black_box(event), Event::Observation(_)));
            }
        }
        assert_eq!(believed, PACKETS);
    });
    best("stuff for a stream", || {
        for bytes in &packets {
            black_box(encode(black_box(bytes), &mut wire));
        }
    });
    best("deframe", || {
        let mut deframer = Deframer::new();
        for bytes in &streams {
            let mut input = &bytes[..];
            while let Some(Deframed::Packet(packet)) = deframer.push_from(&mut input) {
                black_box(packet);
            }
        }
    });
}
