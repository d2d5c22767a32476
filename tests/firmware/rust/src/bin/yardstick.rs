//! How many instructions a packet takes, how deep the stack goes, how much memory the receiver has.
//! It reads packets until one of format version 15, then tells.
#![no_std]
#![no_main]

use benchmast_firmware::{Counter, SERIAL, Uart, stack_depth};
use benchmast_protocol::frame::Serial;
use benchmast_protocol::packet::{Packet, ParseError};
use benchmast_protocol::receiver::{Config, Event, Receiver};
use benchmast_protocol::stream::{Deframed, Deframer};
use core::hint::black_box;
use core::mem::size_of;

/// A frame as it comes, its delimiter included.
fn frame(air: Uart, bytes: &mut [u8; 64]) -> &[u8] {
    let mut length = 0;
    loop {
        let byte = air.read();
        if let Some(place) = bytes.get_mut(length) {
            *place = byte;
            length += 1;
        }
        if byte == 0 {
            return bytes.get(..length).unwrap_or(&[]);
        }
    }
}

/// A thousand instructions, and those around them that every measurement has.
#[inline(never)]
fn thousand(counter: &Counter) -> u64 {
    let before = counter.now();
    // SAFETY: it does nothing, a thousand times.
    unsafe { core::arch::asm!(".rept 1000", "nop", ".endr", options(nomem, nostack)) };
    Counter::since(before, counter.now())
}

#[cortex_m_rt::entry]
fn main() -> ! {
    static mut RECEIVER: Receiver<1> = Receiver::new(Config { silent_after: 20 });
    static mut DEFRAMER: Deframer = Deframer::new();
    static mut OTHER: Deframer = Deframer::new();
    static mut BYTES: [u8; 64] = [0; 64];
    let (air, desk) = (Uart::AIR.open(), Uart::DESK.open());
    let counter = Counter::start();
    let _ = RECEIVER.expect(Serial(SERIAL));
    let (mut deframe, mut parse, mut road) = (0, 0, 0);
    let (mut frames, mut sound, mut events, mut believed) = (0, 0, 0, 0);
    loop {
        let bytes = frame(air, BYTES);
        if bytes.len() < 2 {
            continue;
        }
        let mut rest = black_box(bytes);
        let start = counter.now();
        let closed = DEFRAMER.push_from(&mut rest);
        let deframed = counter.now();
        let Some(Deframed::Packet(packet)) = closed else {
            continue;
        };
        let packet = black_box(packet);
        let before = counter.now();
        let parsed = black_box(Packet::parse(packet));
        let after = counter.now();
        if parsed == Err(ParseError::UnknownVersion(15)) {
            break;
        }
        frames += 1;
        if parsed.is_ok() {
            // Damaged ones are found out sooner; the comparison is of whole ones.
            sound += 1;
            deframe += Counter::since(start, deframed);
            parse += Counter::since(before, after);
        }
        let mut rest = black_box(bytes);
        let start = counter.now();
        match OTHER.push_from(&mut rest) {
            Some(Deframed::Packet(packet)) => RECEIVER.handle_packet(0, packet),
            Some(Deframed::Damaged) => RECEIVER.handle_damaged(0),
            None => {}
        }
        while let Some(event) = RECEIVER.poll_event() {
            events += 1;
            let event = black_box(event);
            believed += u64::from(matches!(event, Event::Observation(_)));
        }
        road += Counter::since(start, counter.now());
    }
    desk.tell("thousand", thousand(&counter));
    desk.tell("frames", frames);
    desk.tell("sound", sound);
    desk.tell("events", events);
    desk.tell("believed", believed);
    desk.tell("deframe", deframe);
    desk.tell("parse", parse);
    desk.tell("road", road);
    desk.tell("stack", stack_depth().into());
    desk.tell(
        "memory",
        (size_of::<Receiver<1>>() + size_of::<Deframer>()) as u64,
    );
    desk.tell(
        "memory_4_heads",
        (size_of::<Receiver<4>>() + size_of::<Deframer>()) as u64,
    );
    desk.tell("end", 0);
    loop {}
}
