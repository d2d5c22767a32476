//! The receiver and as little else as can be, for its size: a byte in, a byte out for each event.
#![no_std]
#![no_main]

use benchmast_firmware::{SERIAL, Uart};
use benchmast_protocol::frame::Serial;
use benchmast_protocol::receiver::{Config, Event, Receiver};
use benchmast_protocol::stream::{Deframed, Deframer};

#[cortex_m_rt::entry]
fn main() -> ! {
    static mut RECEIVER: Receiver<1> = Receiver::new(Config { silent_after: 20 });
    static mut DEFRAMER: Deframer = Deframer::new();
    let (air, desk) = (Uart::AIR.open(), Uart::DESK.open());
    // It is the first, and there is a place.
    let _ = RECEIVER.expect(Serial(SERIAL));
    loop {
        match DEFRAMER.push(air.read()) {
            Some(Deframed::Packet(packet)) => RECEIVER.handle_packet(0, packet),
            Some(Deframed::Damaged) => RECEIVER.handle_damaged(0),
            None => continue,
        }
        while let Some(event) = RECEIVER.poll_event() {
            // Every field is looked at, or the compiler would leave the work undone.
            desk.write(match event {
                Event::Observation(believed) => {
                    core::hint::black_box(believed);
                    b'o'
                }
                Event::Late { frame, .. } => {
                    core::hint::black_box(frame);
                    b'l'
                }
                other => {
                    core::hint::black_box(other);
                    b'x'
                }
            });
        }
    }
}
