//! The receiver: bytes of the air in, one line of JSON out for each event, with the words of the vectors and the numbers of
//! the wire (`raw`, in the order of their fields).
#![no_std]
#![no_main]

use benchmast_firmware::{SERIAL, Uart};
use benchmast_protocol::frame::{Frame, Health, Identity, Observation, Serial};
use benchmast_protocol::packet::HeadId;
use benchmast_protocol::quantity::Quantity;
use benchmast_protocol::receiver::{Config, Event, Receiver, Refusal};
use benchmast_protocol::stream::{Deframed, Deframer};
use core::fmt::{self, Display, Write};

/// Heads that there is room for.
const PLACES: usize = if cfg!(feature = "examined") { 4 } else { 1 };

/// A number, or `null`.
struct Maybe<T>(Option<T>);

impl<T: Display> Display for Maybe<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.0 {
            Some(number) => number.fmt(f),
            None => f.write_str("null"),
        }
    }
}

/// The numbers of a frame, in the order of the wire.
struct Raw<'f>(&'f Frame);

impl Display for Raw<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0 {
            Frame::Observation(o) => write!(
                f,
                "[{},{},{},{},{},{},{},{},{},{}]",
                o.status.bits(),
                o.air_temperature.raw(),
                o.relative_humidity.raw(),
                o.air_pressure.raw(),
                o.wind_speed.raw(),
                o.wind_speed_of_gust.raw(),
                o.wind_from_direction.raw(),
                o.tips,
                o.illuminance.raw(),
                o.ultraviolet_index.raw()
            ),
            Frame::Health(h) => write!(
                f,
                "[{},{},{},{},{},{},{}]",
                h.restarts,
                h.cause.0,
                h.uptime_s,
                h.supply.raw(),
                h.store.raw(),
                h.cells.raw(),
                h.firmware
            ),
            Frame::Identity(i) => write!(
                f,
                "[{},{},{},{},{}]",
                i.serial.0, i.hardware, i.fit.0, i.interval_s, i.bucket_um
            ),
        }
    }
}

fn heard(desk: &mut Uart, event: &str, head: HeadId, sequence: u16) -> fmt::Result {
    write!(
        desk,
        "{{\"event\":\"{event}\",\"head\":\"{head}\",\"sequence\":{sequence}"
    )
}

fn frame(desk: &mut Uart, frame: Frame) -> fmt::Result {
    let name = match &frame {
        Frame::Observation(Observation { .. }) => "observation",
        Frame::Health(Health { .. }) => "health",
        Frame::Identity(Identity { .. }) => "identity",
    };
    writeln!(desk, ",\"frame\":\"{name}\",\"raw\":{}}}", Raw(&frame))
}

fn tell(desk: &mut Uart, event: &Event) -> fmt::Result {
    match event {
        Event::Paired { head, identity } => {
            write!(
                desk,
                "{{\"event\":\"paired\",\"head\":\"{head}\",\"serial\":{},\"interval_s\":{},\"bucket_um\":{}",
                identity.serial.0, identity.interval_s, identity.bucket_um
            )?;
            frame(desk, Frame::Identity(*identity))
        }
        Event::Observation(believed) => {
            heard(desk, "observation", believed.head, believed.sequence)?;
            write!(
                desk,
                ",\"tips_since\":{},\"rain_um\":{},\"intervals_missed\":{}",
                Maybe(believed.tips_since),
                Maybe(believed.rain_um),
                believed.intervals_missed
            )?;
            frame(desk, Frame::Observation(believed.observation))
        }
        Event::Health {
            head,
            sequence,
            health,
        } => {
            heard(desk, "health", *head, *sequence)?;
            frame(desk, Frame::Health(*health))
        }
        Event::Duplicate { head, sequence } => {
            heard(desk, "duplicate", *head, *sequence)?;
            desk.write_str("}\n")
        }
        Event::Late {
            head,
            sequence,
            intervals_late,
            frame: late,
            tips_since,
            rain_um,
        } => {
            heard(desk, "late", *head, *sequence)?;
            write!(
                desk,
                ",\"intervals_late\":{intervals_late},\"tips_since\":{tips_since},\"rain_um\":{rain_um}"
            )?;
            frame(desk, *late)
        }
        Event::Restarted { head, life } => {
            writeln!(
                desk,
                "{{\"event\":\"restarted\",\"head\":\"{head}\",\"life\":{life}}}"
            )
        }
        Event::Silent { head, last_heard } => writeln!(
            desk,
            "{{\"event\":\"silent\",\"head\":\"{head}\",\"last_heard_us\":{last_heard}}}"
        ),
        Event::Refused(refusal) => {
            desk.write_str("{\"event\":\"refused\",\"reason\":\"")?;
            match refusal {
                Refusal::Damaged => desk.write_str("damaged\"}\n"),
                Refusal::UnknownVersion(version) => {
                    writeln!(desk, "unknown_version\",\"version\":{version}}}")
                }
                Refusal::UnknownHead(head) => {
                    writeln!(desk, "unknown_head\",\"head\":\"{head}\"}}")
                }
                Refusal::Malformed => desk.write_str("malformed\"}\n"),
                Refusal::Implausible => desk.write_str("implausible\"}\n"),
                Refusal::Stale => desk.write_str("stale\"}\n"),
                // Nobody has a key here.
                Refusal::Forged => desk.write_str("forged\"}\n"),
                Refusal::Replayed => desk.write_str("replayed\"}\n"),
            }
        }
    }
}

#[cortex_m_rt::entry]
fn main() -> ! {
    static mut RECEIVER: Receiver<PLACES> = Receiver::new(Config { silent_after: 20 });
    static mut DEFRAMER: Deframer = Deframer::new();
    let (air, mut desk) = (Uart::AIR.open(), Uart::DESK.open());
    if cfg!(feature = "examined") {
        RECEIVER.expect_any(true);
    } else {
        let _ = RECEIVER.expect(Serial(SERIAL));
    }
    loop {
        // The time stands still: this board has no clock of the simulation, and a receiver needs none to believe.
        match DEFRAMER.push(air.read()) {
            Some(Deframed::Packet(packet)) => RECEIVER.handle_packet(0, packet),
            Some(Deframed::Damaged) => RECEIVER.handle_damaged(0),
            None => continue,
        }
        while let Some(event) = RECEIVER.poll_event() {
            // The line takes everything.
            let _ = tell(&mut desk, &event);
        }
    }
}
