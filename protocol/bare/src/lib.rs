//! What a receiver's and a head's firmware call, as C functions, so that a linker has a reason to keep
//! all of it. If any of it could panic, the archive would hold symbols of `core::panicking`.
#![no_std]

use benchmast_protocol::frame::{Identity, Observation, Serial};
use benchmast_protocol::packet::{HeadId, MAX_PACKET, Packet};
use benchmast_protocol::quantity::{AirTemperature, Quantity};
use benchmast_protocol::receiver::{Config, Event, Receiver};
use benchmast_protocol::stream::{Deframed, Deframer, MAX_ENCODED, encode};

#[panic_handler]
fn never(_: &core::panic::PanicInfo) -> ! {
    loop {}
}

/// A byte arrives: the first event it causes, if any.
#[unsafe(no_mangle)]
pub extern "Rust" fn benchmast_feed(
    receiver: &mut Receiver<4>,
    deframer: &mut Deframer,
    byte: u8,
    now: u64,
) -> Option<Event> {
    match deframer.push(byte) {
        Some(Deframed::Packet(packet)) => receiver.handle_packet(now, packet),
        Some(Deframed::Damaged) => receiver.handle_damaged(now),
        None => {}
    }
    receiver.poll_event()
}

/// Everything else that is asked of a receiver.
#[unsafe(no_mangle)]
pub extern "Rust" fn benchmast_manage(
    silent_after: u16,
    serial: u64,
    open: bool,
    head: u32,
    identity: &Identity,
    now: u64,
) -> (Receiver<4>, bool) {
    let mut receiver = Receiver::new(Config { silent_after });
    receiver.expect_any(open);
    let expected = receiver.expect(Serial(serial)).is_ok();
    let adopted = receiver.adopt(HeadId(head), *identity).is_ok();
    receiver.handle_time(now);
    let late = receiver
        .next_deadline()
        .is_some_and(|deadline| deadline > now);
    let wet = receiver.tips_believed(HeadId(head)) > Some(0);
    (receiver, expected && adopted && late && wet)
}

/// A head sends: the bytes on the stream.
#[unsafe(no_mangle)]
pub extern "Rust" fn benchmast_send(packet: &Packet, stream: &mut [u8; MAX_ENCODED]) -> usize {
    let mut bytes = [0; MAX_PACKET];
    packet
        .emit(&mut bytes)
        .and_then(|bytes| encode(bytes, stream))
        .map_or(0, <[u8]>::len)
}

/// A reading becomes a number on the wire.
#[unsafe(no_mangle)]
pub extern "Rust" fn benchmast_measure(observation: &mut Observation, celsius: f64) {
    observation.air_temperature = AirTemperature::saturating_from_si(celsius);
}
