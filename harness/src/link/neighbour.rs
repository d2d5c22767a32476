//! Another head on the same channel.
//!
//! It reports as often as ours by its own clock, so its packets drift slowly through ours. What it says
//! is legal and plausible, but follows nobody's weather: it is there to be told apart, not believed.

use super::{Arrival, Bytes, Neighbour, Parameters, Sent, air, bits, signal};
use benchmast_protocol::frame::health::HEALTH_EVERY;
use benchmast_protocol::frame::{
    Frame, Health, Identity, Observation, RestartCause, SensorFit, Serial, Status,
};
use benchmast_protocol::packet::{HeadId, MAX_PACKET, Packet};
use benchmast_protocol::quantity::{Quantity, UltravioletIndex};
use benchmast_sim::entropy::{Seed, Stream};
use std::collections::VecDeque;

/// The two clocks differ by up to this much, parts per million: two crystals of 20 ppm each; common
/// practice, no source.
pub const CLOCK_PPM: f64 = 40.0;
/// Its owner presses the button for an identity packet about once in so many intervals; no source.
pub const IDENTITY_EVERY: f64 = 2_048.0;
/// It is farther away than ours by so many decibels; no source.
pub const FARTHER_DB: f64 = 6.0;

/// Health follows the observation by this much, identity follows health by as much, microseconds.
const NEXT_PACKET_US: i64 = 150_000;
/// Its readings forget where they were in this time (to 1/e), s.
const MEMORY_S: f64 = 21_600.0;

/// The other head, its clock, and its packets that are still on the air.
#[derive(Debug)]
pub struct Transmitter {
    modulation: air::Modulation,
    head: HeadId,
    heard: f64,
    clock: Clock,
    count: u64,
    first_sequence: u16,
    state: State,
    identity: Identity,
    entropy: Entropy,
    signal: signal::Signal,
    bit_errors: bits::BitErrors,
    on_air: VecDeque<Transmission>,
    unannounced: VecDeque<Sent>,
}

#[derive(Debug)]
struct Clock {
    first_us: i64,
    period_us: f64,
}

impl Clock {
    fn start_us(&self, count: u64) -> i64 {
        self.first_us + (count as f64 * self.period_us) as i64
    }
}

#[derive(Debug)]
struct Entropy {
    readings: Stream,
    button: Stream,
    heard: Stream,
}

#[derive(Debug)]
struct Transmission {
    span: air::Span,
    heard: bool,
    signal_dbm: f64,
    bytes: Bytes,
}

/// What its readings are made from: slow swings with standard deviation 1, and the tips counted.
#[derive(Debug)]
struct State {
    interval_s: u16,
    kept: f64,
    swings: [f64; 5],
    tips: u16,
    restarts: u16,
}

impl State {
    fn step(&mut self, stream: &mut Stream) {
        let kick = (1.0 - self.kept * self.kept).sqrt();
        for swing in &mut self.swings {
            *swing = self.kept * *swing + kick * stream.normal();
        }
        // It rains at the damp end of the humidity's swing: a tip a minute or so.
        let wet = self.swings[1] > 1.5;
        let tip = stream.uniform() < f64::from(self.interval_s) / 60.0;
        self.tips = self.tips.wrapping_add(u16::from(wet && tip));
    }

    fn observation(&self, time_us: i64) -> Observation {
        let [temperature, humidity, pressure, wind, turn] = self.swings;
        let speed = (2.5 + 1.5 * wind).max(0.0);
        let hour = time_us.rem_euclid(86_400_000_000) as f64 / 3.6e9;
        let daylight = (1.0 - (hour - 12.0).abs() / 7.0).max(0.0);
        Observation {
            status: Status::new(self.restarts, false, false, false),
            air_temperature: reading(11.0 + 6.0 * temperature),
            relative_humidity: reading((75.0 + 12.0 * humidity).clamp(10.0, 100.0)),
            air_pressure: reading(1_005.0 + 9.0 * pressure),
            wind_speed: reading(speed),
            wind_speed_of_gust: reading(speed * 1.5),
            wind_from_direction: reading((225.0 + 60.0 * turn).rem_euclid(360.0).floor()),
            tips: self.tips,
            illuminance: reading(50_000.0 * daylight),
            ultraviolet_index: reading::<UltravioletIndex>(4.0 * daylight * daylight),
        }
    }
}

fn reading<Q: Quantity>(si: f64) -> Q {
    Q::try_from_si(si).unwrap_or(Q::MISSING)
}

impl Transmitter {
    /// A neighbour of the head `name`, with entropy streams of its own.
    #[must_use]
    pub fn new(
        neighbour: &Neighbour,
        parameters: &Parameters,
        interval_s: u16,
        seed: Seed,
        name: &str,
        start_us: i64,
    ) -> Self {
        let stream = |component| seed.stream(name, component);
        let interval_s = interval_s.max(1);
        let nominal_us = f64::from(interval_s) * 1e6;
        let mut birth = stream("neighbour");
        let offset = CLOCK_PPM * (2.0 * birth.uniform() - 1.0) * 1e-6;
        let clock = Clock {
            first_us: start_us + (birth.uniform() * nominal_us) as i64,
            period_us: nominal_us * (1.0 + offset),
        };
        let identity = Identity {
            serial: Serial(birth.bits() % (Serial::MAX + 1)),
            hardware: 1,
            fit: SensorFit::ALL,
            interval_s: interval_s.min(3_600),
            bucket_um: 300,
        };
        let [first_sequence, tips, restarts] = std::array::from_fn(|_| birth.bits() as u16);
        Self {
            modulation: parameters.modulation,
            head: neighbour.head,
            heard: neighbour.heard,
            clock,
            count: 0,
            first_sequence,
            state: State {
                interval_s,
                kept: (1.0 - f64::from(interval_s) / MEMORY_S).max(0.0),
                swings: std::array::from_fn(|_| birth.normal()),
                tips,
                restarts,
            },
            identity,
            entropy: Entropy {
                readings: stream("neighbour readings"),
                button: stream("neighbour button"),
                heard: stream("neighbour heard"),
            },
            signal: signal::Signal::new(
                parameters.median_dbm() - FARTHER_DB,
                parameters.signal_spread_db,
                start_us,
                stream("neighbour signal"),
            ),
            bit_errors: bits::BitErrors::new(parameters.bit_error, stream("neighbour bits")),
            on_air: VecDeque::new(),
            unannounced: VecDeque::new(),
        }
    }

    /// Send all that it sends up to and including `until_us`. An interval's packets go out together.
    pub fn run_until(&mut self, until_us: i64) {
        while self.clock.start_us(self.count) <= until_us {
            self.send_interval();
        }
    }

    fn send_interval(&mut self) {
        let start_us = self.clock.start_us(self.count);
        let sequence = self.first_sequence.wrapping_add(self.count as u16);
        self.state.step(&mut self.entropy.readings);
        let pressed = self.entropy.button.uniform() * IDENTITY_EVERY < 1.0;
        let observation = Frame::Observation(self.state.observation(start_us));
        let health = sequence
            .is_multiple_of(HEALTH_EVERY)
            .then(|| Frame::Health(self.health()));
        let identity = pressed.then_some(Frame::Identity(self.identity));
        for (place, frame) in [Some(observation), health, identity]
            .into_iter()
            .enumerate()
        {
            // A draw for each packet that there could be.
            let heard = self.entropy.heard.uniform() < self.heard;
            if let Some(frame) = frame {
                self.send(
                    start_us + place as i64 * NEXT_PACKET_US,
                    sequence,
                    frame,
                    heard,
                );
            }
        }
        self.count += 1;
    }

    fn health(&self) -> Health {
        Health {
            restarts: self.state.restarts,
            cause: RestartCause::CELLS_INSERTED,
            uptime_s: (self.count.saturating_add(u64::from(self.first_sequence)))
                .saturating_mul(u64::from(self.identity.interval_s))
                .try_into()
                .unwrap_or(u32::MAX),
            supply: reading(3_000.0),
            store: reading(2_400.0),
            cells: reading(3_050.0),
            firmware: 1,
        }
    }

    fn send(&mut self, time_us: i64, sequence: u16, frame: Frame, heard: bool) {
        let packet = Packet {
            head: self.head,
            sequence,
            frame,
        };
        let mut buffer = [0; MAX_PACKET];
        let mut bytes = Bytes::new();
        if let Some(emitted) = packet.emit(&mut buffer) {
            // Cannot fail: a packet is never longer than the room.
            let _ = bytes.extend_from_slice(emitted);
        }
        self.unannounced.push_back(Sent {
            time_us,
            bytes: bytes.clone(),
        });
        self.bit_errors.strike(&mut bytes);
        self.on_air.push_back(Transmission {
            span: self.modulation.span(time_us, bytes.len()),
            heard,
            signal_dbm: self.signal.at(time_us),
            bytes,
        });
    }

    /// Our head sends: whatever overlaps disturbs both. `true` when our packet is lost by it.
    ///
    /// A neighbour's packet too weak to be heard disturbs nothing.
    pub fn meet(&mut self, ours: air::Span, bytes: &mut Bytes, noise: &mut Stream) -> bool {
        self.run_until(ours.end_us);
        let mut lost = false;
        for theirs in &mut self.on_air {
            if theirs.heard && theirs.span.overlaps(ours) {
                theirs.heard = !air::disturb(
                    &self.modulation,
                    &mut theirs.bytes,
                    theirs.span,
                    ours,
                    noise,
                );
                lost |= air::disturb(&self.modulation, bytes, ours, theirs.span, noise);
            }
        }
        lost
    }

    /// The next of its packets whose sending has begun by `until_us`, once each.
    pub fn announced(&mut self, until_us: i64) -> Option<Sent> {
        if self.unannounced.front()?.time_us > until_us {
            return None;
        }
        self.unannounced.pop_front()
    }

    /// The next of its packets heard to the end by `until_us`, once each.
    pub fn landed(&mut self, until_us: i64) -> Option<Arrival> {
        while self.on_air.front()?.span.end_us <= until_us {
            let theirs = self.on_air.pop_front()?;
            if theirs.heard {
                return Some(Arrival {
                    time_us: theirs.span.end_us,
                    signal_dbm: theirs.signal_dbm,
                    bytes: theirs.bytes,
                });
            }
        }
        None
    }

    /// Nothing of it is heard before this instant.
    #[must_use]
    pub fn next_us(&self) -> i64 {
        self.on_air.iter().find(|theirs| theirs.heard).map_or_else(
            || self.clock.start_us(self.count),
            |theirs| theirs.span.end_us,
        )
    }
}

/// An observation and a health frame, for the lengths of their packets.
#[cfg(test)]
pub(super) fn samples() -> impl Iterator<Item = Frame> {
    let other = Neighbour {
        head: HeadId(1),
        heard: 1.0,
    };
    let parameters = Parameters::default();
    let transmitter = Transmitter::new(&other, &parameters, 16, Seed(1), "sample", 0);
    let observation = Frame::Observation(transmitter.state.observation(0));
    [observation, Frame::Health(transmitter.health())].into_iter()
}
