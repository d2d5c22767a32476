//! One list of sample packets that feeds round-trip, truncation, bit-flip and length tests.

use super::vectors::{read, text, unhex};
use benchmast_protocol::frame::{
    Frame, Health, Identity, Observation, RestartCause, SensorFit, Serial, Status,
};
use benchmast_protocol::packet::{HeadId, MAX_PACKET, Packet};
use benchmast_protocol::quantity::Quantity;
use proptest::prelude::*;
use std::vec::Vec;

/// The packets of the vector file.
pub(crate) fn packets() -> Vec<Vec<u8>> {
    read("packets_accepted.json")
        .iter()
        .map(|vector| unhex(text(vector, "hex")))
        .collect()
}

pub(crate) fn emit(packet: &Packet) -> Vec<u8> {
    let mut buffer = [0; MAX_PACKET];
    packet.emit(&mut buffer).unwrap().to_vec()
}

/// Any legal or missing value.
fn quantity<Q: Quantity>() -> impl Strategy<Value = Q> {
    let row = Q::SPECIFICATION;
    prop_oneof![
        1 => Just(Q::MISSING),
        9 => (row.raw_min..=row.raw_max).prop_map(|raw| Q::try_from_raw(raw).unwrap()),
    ]
}

fn observation() -> impl Strategy<Value = Frame> {
    let wind = (quantity(), quantity());
    let rest = (
        quantity(),
        quantity(),
        quantity(),
        quantity(),
        quantity(),
        quantity(),
    );
    (any::<(u16, bool, bool, bool)>(), any::<u16>(), wind, rest).prop_map(
        |(status, tips, wind, rest)| {
            let (wind_speed, wind_speed_of_gust) = wind;
            Frame::Observation(Observation {
                status: Status::new(status.0, status.1, status.2, status.3),
                air_temperature: rest.0,
                relative_humidity: rest.1,
                air_pressure: rest.2,
                wind_speed,
                wind_speed_of_gust,
                wind_from_direction: rest.3,
                tips,
                illuminance: rest.4,
                ultraviolet_index: rest.5,
            })
        },
    )
}

fn health() -> impl Strategy<Value = Frame> {
    (
        any::<(u16, u8, u32, u16)>(),
        quantity(),
        quantity(),
        quantity(),
    )
        .prop_map(
            |((restarts, cause, uptime_s, firmware), supply, store, cells)| {
                Frame::Health(Health {
                    restarts,
                    cause: RestartCause(cause),
                    uptime_s,
                    supply,
                    store,
                    cells,
                    firmware,
                })
            },
        )
}

fn identity() -> impl Strategy<Value = Frame> {
    (
        0..=Serial::MAX,
        any::<u16>(),
        0..=SensorFit::ALL.0,
        1..=3600_u16,
        10..=5000_u16,
    )
        .prop_map(|(serial, hardware, fit, interval_s, bucket_um)| {
            Frame::Identity(Identity {
                serial: Serial(serial),
                hardware,
                fit: SensorFit(fit),
                interval_s,
                bucket_um,
            })
        })
}

/// Any packet whose values are legal one by one (the gust may be below the mean).
pub(crate) fn any_packet() -> impl Strategy<Value = Packet> {
    (
        any::<u32>(),
        any::<u16>(),
        prop_oneof![observation(), health(), identity()],
    )
        .prop_map(|(head, sequence, frame)| Packet {
            head: HeadId(head),
            sequence,
            frame,
        })
}

/// A small generator of our own (xorshift64*, Vigna 2016), so that these runs repeat themselves.
pub(crate) struct Dice(pub(crate) u64);

impl Dice {
    pub(crate) fn roll(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_f491_4f6c_dd1d)
    }
    /// A number below `end`.
    pub(crate) fn below(&mut self, end: u64) -> u64 {
        (self.roll() >> 33) % end
    }
    pub(crate) fn chance(&mut self, of_a_million: u64) -> bool {
        self.below(1_000_000) < of_a_million
    }
}

pub(crate) const HEAD: HeadId = HeadId(0x1a2b_3c4d);

pub(crate) const IDENTITY: Identity = Identity {
    serial: Serial(1_203_004_501),
    hardware: 1,
    fit: SensorFit::ALL,
    interval_s: 16,
    bucket_um: 300,
};

/// An observation of [`HEAD`] without readings.
pub(crate) fn observation_packet(restarts: u16, interval: u64, tips: u64) -> Vec<u8> {
    emit(&Packet {
        head: HEAD,
        sequence: interval as u16,
        frame: Frame::Observation(Observation {
            status: Status::new(restarts, false, false, false),
            air_temperature: Quantity::MISSING,
            relative_humidity: Quantity::MISSING,
            air_pressure: Quantity::MISSING,
            wind_speed: Quantity::MISSING,
            wind_speed_of_gust: Quantity::MISSING,
            wind_from_direction: Quantity::MISSING,
            tips: tips as u16,
            illuminance: Quantity::MISSING,
            ultraviolet_index: Quantity::MISSING,
        }),
    })
}

/// A health report of [`HEAD`] without voltages.
pub(crate) fn health_packet(restarts: u16, interval: u64) -> Vec<u8> {
    emit(&Packet {
        head: HEAD,
        sequence: interval as u16,
        frame: Frame::Health(Health {
            restarts,
            cause: RestartCause::BROWN_OUT,
            uptime_s: 0,
            supply: Quantity::MISSING,
            store: Quantity::MISSING,
            cells: Quantity::MISSING,
            firmware: 1,
        }),
    })
}
