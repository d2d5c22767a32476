//! The road, end to end: one station from weather to what its receiver believes.

use crate::faults::Schedule;
use crate::link::{Arrival, Link, Traffic};
use crate::plan::{Plan, WeatherSource};
use crate::room::Room;
use crate::row::{Row, Sink};
use benchmast_protocol::frame::{Frame, Identity};
use benchmast_protocol::packet::{HeadId, MAX_PACKET, Packet};
use benchmast_protocol::receiver::{Config, Event, Micros, Receiver};
use benchmast_protocol::tag::{Key, SendCounter};
use benchmast_sim::entropy::Seed;
use benchmast_sim::station::{Reading, Station};
use benchmast_sim::weather::{Region, Weather};
use std::io;

/// Heads that the reference receiver can be paired with.
pub const HEADS: usize = 4;

/// The reference receiver.
pub type ReferenceReceiver = Receiver<HEADS>;

/// Packets of one interval leave this far apart, so that they do not collide with each other.
const PACKET_SPACING_US: i64 = 250_000;

/// By then the last packet of the period has arrived, however long it was on the air.
const GRACE_US: i64 = 2_000_000;

/// Intervals after the insertion of the cells in which a head that was not paired indoors tells its identity.
const IDENTITY_INTERVALS: u64 = 4;

/// One station on the bench, ready to run.
pub struct Bench {
    plan: Plan,
    weather: Weather,
    station: Station,
    schedule: Schedule,
    link: Link,
    receiver: ReferenceReceiver,
    /// `None` where nothing can go wrong with it.
    room: Option<Room>,
    /// `None` where packets are not authenticated.
    signer: Option<Signer>,
    /// Whether the receiver ran at the last instant.
    running: bool,
    interval: u64,
}

/// Why a plan cannot be put on the bench.
#[derive(Debug, thiserror::Error)]
pub enum BenchError {
    /// The record does not fit the period.
    #[error("the recorded weather cannot drive this run: {0}")]
    Record(#[from] benchmast_sim::weather::recorded::RecordError),
}

impl Bench {
    /// Set everything up at the start of the period.
    ///
    /// # Errors
    /// If recorded weather does not cover the period.
    pub fn new(plan: &Plan) -> Result<Self, BenchError> {
        Self::within(plan, plan.region().as_ref())
    }

    /// As [`Bench::new`], with the region that the stations of a network share: it must be the plan's own
    /// ([`Plan::region`]), which is then not fitted again for each of them.
    ///
    /// # Errors
    /// If recorded weather does not cover the period.
    pub fn within(plan: &Plan, region: Option<&Region>) -> Result<Self, BenchError> {
        let seed = Seed(plan.seed);
        let name = plan.identity.serial.to_string();
        let weather = weather(plan, region, seed, &name)?;
        Ok(Self {
            weather,
            station: Station::new(
                &plan.head,
                plan.place,
                plan.site,
                seed,
                &name,
                plan.start_us,
            ),
            schedule: Schedule::new(&plan.faults),
            link: Link::new(&plan.link, plan.head.interval_s, seed, &name, plan.start_us),
            receiver: receiver(plan),
            room: (!plan.room.is_perfect())
                .then(|| Room::new(&plan.room, &plan.place, seed, &name, plan.start_us)),
            signer: plan.key.map(Signer::new),
            running: true,
            interval: 0,
            plan: plan.clone(),
        })
    }

    /// Run the whole period into a sink.
    ///
    /// # Errors
    /// What the sink says.
    pub fn run(&mut self, sink: &mut impl Sink) -> io::Result<()> {
        self.commission(sink)?;
        while self.step(sink)? {}
        self.finish(sink)
    }

    /// Pair head and receiver side by side, where nothing is lost.
    ///
    /// # Errors
    /// What the sink says.
    pub fn commission(&mut self, sink: &mut impl Sink) -> io::Result<()> {
        if !self.plan.receiver.commissioned {
            return Ok(());
        }
        let packet = identity_packet(self.plan.head_id, 0, self.plan.identity);
        let mut buffer = [0; MAX_PACKET];
        let bytes = emit(&packet, self.signer.as_mut(), &mut buffer)?;
        self.link.send_beside(self.plan.start_us, bytes);
        sink.sent(self.plan.start_us, bytes)
    }

    /// One reporting interval; `false` when the period is over.
    ///
    /// # Errors
    /// What the sink says.
    pub fn step(&mut self, sink: &mut impl Sink) -> io::Result<bool> {
        let time_us = self.station.next_time_us();
        if time_us > self.plan.end_us {
            return Ok(false);
        }
        // What was on the air arrives before the next packet leaves.
        self.hear(time_us - 1, sink)?;
        let truth = self.weather.advance(time_us);
        let (condition, causes) = self.schedule.at(time_us);
        let step = self.station.step(&truth, &condition);
        sink.interval(&Row {
            truth: &truth,
            step: &step,
            causes,
        })?;
        if step.actual.alive {
            self.send(time_us, &step.actual, sink)?;
        }
        self.interval += 1;
        Ok(true)
    }

    /// Let everything arrive that is still on its way.
    ///
    /// # Errors
    /// What the sink says.
    pub fn finish(&mut self, sink: &mut impl Sink) -> io::Result<()> {
        let last_us = self.plan.end_us + (self.plan.link.delay_max_s * 1e6) as i64 + GRACE_US;
        self.hear(self.plan.end_us, sink)?;
        // The head sends nothing after the period: whoever waited on would take that for silence.
        self.carry(last_us, sink)
    }

    /// True time up to which the run has come, microseconds since 1970-01-01T00:00:00Z.
    #[must_use]
    pub fn time_us(&self) -> i64 {
        self.station.next_time_us()
    }

    fn send(&mut self, time_us: i64, reading: &Reading, sink: &mut impl Sink) -> io::Result<()> {
        let head = self.plan.head_id;
        let sequence = reading.sequence;
        if let Some(signer) = &mut self.signer {
            signer.follow(reading.observation.status.life());
        }
        let observation = Packet {
            head,
            sequence,
            frame: Frame::Observation(reading.observation),
        };
        self.transmit(time_us, &observation, sink)?;
        if let Some(health) = reading.health {
            let packet = Packet {
                head,
                sequence,
                frame: Frame::Health(health),
            };
            self.transmit(time_us + PACKET_SPACING_US, &packet, sink)?;
        }
        if !self.plan.receiver.commissioned && self.interval < IDENTITY_INTERVALS {
            let packet = identity_packet(head, sequence, self.plan.identity);
            self.transmit(time_us + 2 * PACKET_SPACING_US, &packet, sink)?;
        }
        Ok(())
    }

    fn transmit(&mut self, time_us: i64, packet: &Packet, sink: &mut impl Sink) -> io::Result<()> {
        // What is heard before comes before: sinks are told in order of time.
        self.hear(time_us - 1, sink)?;
        let mut buffer = [0; MAX_PACKET];
        let bytes = emit(packet, self.signer.as_mut(), &mut buffer)?;
        self.link.send(time_us, bytes);
        sink.sent(time_us, bytes)
    }

    /// Let arrive what does so until then, and let the receiver notice the time.
    fn hear(&mut self, until_us: i64, sink: &mut impl Sink) -> io::Result<()> {
        self.carry(until_us, sink)?;
        self.surround(until_us, sink)?;
        if !self.running {
            return Ok(());
        }
        self.receiver.handle_time(self.receiver_time(until_us));
        self.report(until_us, f64::NAN, sink)
    }

    /// Let arrive what does so until then.
    fn carry(&mut self, until_us: i64, sink: &mut impl Sink) -> io::Result<()> {
        while let Some(traffic) = self.link.poll_traffic(until_us) {
            match traffic {
                Traffic::NeighbourSent(sent) => sink.sent(sent.time_us, &sent.bytes)?,
                Traffic::Heard(arrival) => self.deliver(arrival, sink)?,
            }
        }
        Ok(())
    }

    /// Let the receiver's surroundings go on. A receiver that comes back knows its head from non-volatile
    /// memory, and nothing else.
    fn surround(&mut self, time_us: i64, sink: &mut impl Sink) -> io::Result<()> {
        let Some(room) = &mut self.room else {
            return Ok(());
        };
        if let Some(state) = room.advance(time_us) {
            sink.room(&state)?;
        }
        let running = room.state().running;
        if running && !self.running {
            let known = self.receiver.identity(self.plan.head_id).is_some();
            let heard = self.receiver.newest_counter(self.plan.identity.serial);
            self.receiver = receiver(&self.plan);
            if let Some(key) = self.plan.key {
                // There is room, and the key is known already.
                let _ = self.receiver.set_key(self.plan.identity.serial, key, heard);
            }
            if known {
                // There is room: nothing else is paired yet.
                let _ = self.receiver.adopt(self.plan.head_id, self.plan.identity);
            }
        }
        self.running = running;
        Ok(())
    }

    fn deliver(&mut self, arrival: Arrival, sink: &mut impl Sink) -> io::Result<()> {
        self.surround(arrival.time_us, sink)?;
        if !self.running {
            return Ok(());
        }
        sink.heard(&arrival)?;
        let now = self.receiver_time(arrival.time_us);
        self.receiver.handle_packet(now, &arrival.bytes);
        self.report(arrival.time_us, arrival.signal_dbm, sink)
    }

    fn report(&mut self, time_us: i64, signal_dbm: f64, sink: &mut impl Sink) -> io::Result<()> {
        while let Some(event) = self.receiver.poll_event() {
            let mut stamp_us = time_us;
            if let Some(room) = &mut self.room {
                if matches!(event, Event::Observation(_) | Event::Late { .. }) {
                    room.believed(time_us);
                }
                // What the receiver believes carries the time of its own clock.
                stamp_us += (room.state().clock_offset_s * 1e6) as i64;
            }
            sink.event(stamp_us, signal_dbm, &event)?;
        }
        Ok(())
    }

    fn receiver_time(&self, time_us: i64) -> Micros {
        Micros::try_from(time_us - self.plan.start_us).unwrap_or(0)
    }
}

/// The weather over a station from its start on.
fn weather(
    plan: &Plan,
    region: Option<&Region>,
    seed: Seed,
    name: &str,
) -> Result<Weather, BenchError> {
    let interval_s = f64::from(plan.head.interval_s);
    let own;
    match &plan.weather {
        WeatherSource::Synthetic { climate } => {
            let region = if let Some(region) = region {
                region
            } else {
                own = Region::new(climate, plan.reference.unwrap_or(plan.place), seed);
                &own
            };
            Ok(Weather::synthetic(
                region,
                plan.place,
                plan.site,
                name,
                plan.start_us,
                interval_s,
            ))
        }
        WeatherSource::Recorded {
            records,
            wind_height_m,
            ..
        } => Ok(Weather::recorded(
            records,
            *wind_height_m,
            plan.place,
            plan.site,
            seed,
            name,
            plan.start_us,
            interval_s,
        )?),
    }
}

/// The reference receiver of a plan: it waits for the serial number on the head's label.
#[must_use]
pub fn receiver(plan: &Plan) -> ReferenceReceiver {
    let mut receiver = ReferenceReceiver::new(Config {
        silent_after: plan.receiver.silent_after_intervals,
    });
    // There is room: nothing else is paired yet.
    let _ = receiver.expect(plan.identity.serial);
    if let Some(key) = plan.key {
        let _ = receiver.set_key(plan.identity.serial, key, None);
    }
    receiver
}

fn identity_packet(head: HeadId, sequence: u16, identity: Identity) -> Packet {
    Packet {
        head,
        sequence,
        frame: Frame::Identity(identity),
    }
}

/// The head's part of authentication: its key, and the counter in its non-volatile memory.
struct Signer {
    key: Key,
    counter: SendCounter,
    life: Option<u8>,
}

impl Signer {
    fn new(key: Key) -> Self {
        Self {
            key,
            counter: SendCounter::new(0),
            life: None,
        }
    }

    /// A head that started anew knows only what was stored.
    fn follow(&mut self, life: u8) {
        if self.life.is_some_and(|before| before != life) {
            self.counter = SendCounter::new(self.counter.stored());
        }
        self.life = Some(life);
    }
}

fn emit<'b>(
    packet: &Packet,
    signer: Option<&mut Signer>,
    buffer: &'b mut [u8],
) -> io::Result<&'b [u8]> {
    let bytes = match signer {
        None => packet.emit(buffer),
        Some(signer) => signer
            .counter
            .take()
            .and_then(|taken| packet.emit_tagged(&signer.key, taken.value, buffer)),
    };
    bytes.ok_or_else(|| io::Error::other("a packet is longer than the longest packet"))
}
