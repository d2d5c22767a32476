//! What the radio path does to packets.
//!
//! A packet that the head sends at one instant is heard after its airtime, or not at all, or damaged, or
//! twice, or late. Each of these is an injector of its own ([`loss`], [`bits`], [`copies`], [`signal`])
//! with an entropy stream of its own, and each injector looks at every packet, whatever the others have
//! done to it: so changing one of them moves nothing but its own effect. A [`path`] tells from the
//! geometry how strong packets arrive, and loses or damages the weak ones. A [`neighbour`] is a second head
//! on the same channel; where its packets and ours overlap, [`air`] decides what is left of them.

pub mod air;
pub mod bits;
pub mod copies;
pub mod loss;
pub mod neighbour;
pub mod path;
pub mod signal;

use benchmast_protocol::packet::{HeadId, MAX_PACKET};
use benchmast_sim::entropy::{Seed, Stream};
use std::cmp::Ordering;
use std::collections::BinaryHeap;

/// A packet's bytes, wherever it is on its way.
pub type Bytes = heapless::Vec<u8, MAX_PACKET>;

/// What a scenario says about the radio path. The default is a perfect path.
#[derive(Debug, Clone, PartialEq)]
pub struct Parameters {
    /// Chance that a packet is lost by itself, 0 to 1.
    pub loss: f64,
    /// Share of packets lost in bursts, 0 to 1.
    pub burst_loss: f64,
    /// Mean length of a burst, packets, 1 or more.
    pub burst_length: f64,
    /// Chance that a bit flips, 0 to 1.
    pub bit_error: f64,
    /// Chance that a packet arrives twice, 0 to 1.
    pub duplicate: f64,
    /// Chance that a packet is held back by up to `delay_max_s`, 0 to 1; it may be overtaken.
    pub delay: f64,
    /// Longest delay, s.
    pub delay_max_s: f64,
    /// Median signal strength at the receiver, dBm.
    pub signal_dbm: f64,
    /// Standard deviation of the slow signal swing, dB.
    pub signal_spread_db: f64,
    /// How bits are put on the air.
    pub modulation: air::Modulation,
    /// The path by its geometry; it then sets the median signal, and weak packets are lost or damaged by
    /// noise, on top of all else.
    pub path: Option<path::Path>,
    /// Another head on the same channel.
    pub neighbour: Option<Neighbour>,
}

impl Parameters {
    /// Median signal strength at the receiver, dBm: the path's, if there is one.
    #[must_use]
    pub fn median_dbm(&self) -> f64 {
        self.path.map_or(self.signal_dbm, |path| {
            path.budget(&self.modulation).signal_dbm
        })
    }
}

/// Another head on the same channel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Neighbour {
    /// Its radio address.
    pub head: HeadId,
    /// Chance that one of its packets is heard, 0 to 1.
    pub heard: f64,
}

impl Default for Parameters {
    fn default() -> Self {
        Self {
            loss: 0.0,
            burst_loss: 0.0,
            burst_length: 4.0,
            bit_error: 0.0,
            duplicate: 0.0,
            delay: 0.0,
            delay_max_s: 40.0,
            signal_dbm: -85.0,
            signal_spread_db: 4.0,
            modulation: air::Modulation::default(),
            path: None,
            neighbour: None,
        }
    }
}

/// A packet at the receiver's antenna.
#[derive(Debug, Clone, PartialEq)]
pub struct Arrival {
    /// When, microseconds since 1970-01-01T00:00:00Z.
    pub time_us: i64,
    /// Signal strength, dBm.
    pub signal_dbm: f64,
    /// What arrived.
    pub bytes: Bytes,
}

/// A packet that left another head's antenna.
#[derive(Debug, Clone, PartialEq)]
pub struct Sent {
    /// When its transmission began, microseconds since 1970-01-01T00:00:00Z.
    pub time_us: i64,
    /// What was sent.
    pub bytes: Bytes,
}

/// Anything that happens on the channel beside our own head's sending.
#[derive(Debug, Clone, PartialEq)]
pub enum Traffic {
    /// The neighbour's head sends a packet.
    NeighbourSent(Sent),
    /// A packet, whosever, is heard.
    Heard(Arrival),
}

impl Traffic {
    /// When, microseconds since 1970-01-01T00:00:00Z.
    #[must_use]
    pub const fn time_us(&self) -> i64 {
        match self {
            Self::NeighbourSent(sent) => sent.time_us,
            Self::Heard(arrival) => arrival.time_us,
        }
    }
}

/// The radio path between one head and its receiver.
///
/// The order of calls: `send` at rising times; before a `send` at T, poll until T at most; nothing is
/// sent at a time before one already polled for. A packet that has arrived by then is final.
#[derive(Debug)]
pub struct Link {
    loss: loss::Independent,
    bursts: loss::Bursts,
    bit_errors: bits::BitErrors,
    duplicates: copies::Duplicates,
    delays: copies::Delays,
    signal: signal::Signal,
    modulation: air::Modulation,
    reception: Option<path::Reception>,
    noise_bits: bits::BitErrors,
    collisions: Stream,
    neighbour: Option<neighbour::Transmitter>,
    coming: BinaryHeap<Coming>,
    order: u64,
}

impl Link {
    /// A path for the head `name` that reports every `interval_s`.
    ///
    /// Chances outside 0 to 1 act as the nearer end.
    #[must_use]
    pub fn new(
        parameters: &Parameters,
        interval_s: u16,
        seed: Seed,
        name: &str,
        start_us: i64,
    ) -> Self {
        let stream = |component| seed.stream(name, component);
        Self {
            loss: loss::Independent::new(parameters.loss, stream("link loss")),
            bursts: loss::Bursts::new(
                parameters.burst_loss,
                parameters.burst_length,
                stream("link bursts"),
            ),
            bit_errors: bits::BitErrors::new(parameters.bit_error, stream("link bits")),
            duplicates: copies::Duplicates::new(parameters.duplicate, stream("link duplicates")),
            delays: copies::Delays::new(
                parameters.delay,
                parameters.delay_max_s,
                stream("link delays"),
            ),
            signal: signal::Signal::new(
                parameters.median_dbm(),
                parameters.signal_spread_db,
                start_us,
                stream("link signal"),
            ),
            modulation: parameters.modulation,
            reception: parameters.path.map(|path| {
                path::Reception::new(&path, parameters.modulation, stream("link fading"))
            }),
            noise_bits: bits::BitErrors::new(0.0, stream("link noise")),
            collisions: stream("link collisions"),
            neighbour: parameters.neighbour.map(|other| {
                neighbour::Transmitter::new(&other, parameters, interval_s, seed, name, start_us)
            }),
            coming: BinaryHeap::with_capacity(16),
            order: 0,
        }
    }

    /// Our head begins to send a packet. Bytes beyond [`MAX_PACKET`] are cut off.
    pub fn send(&mut self, sent_us: i64, packet: &[u8]) {
        let mut arrival = self.undisturbed(sent_us, packet);
        // Every injector looks at every packet: `|` and not `||`.
        let mut lost = self.loss.lost() | self.bursts.lost();
        self.bit_errors.strike(&mut arrival.bytes);
        let copy_after_us = self.duplicates.copy_after_us();
        let hold_us = self.delays.hold_us();
        if let Some(reception) = &mut self.reception {
            let (signal_dbm, missed, bit_error) = reception.packet(arrival.signal_dbm);
            arrival.signal_dbm = signal_dbm;
            lost |= missed;
            self.noise_bits.strike_at(bit_error, &mut arrival.bytes);
        }
        if let Some(neighbour) = &mut self.neighbour {
            let ours = self.modulation.span(sent_us, arrival.bytes.len());
            lost |= neighbour.meet(ours, &mut arrival.bytes, &mut self.collisions);
        }
        if lost {
            return;
        }
        if let Some(after_us) = copy_after_us {
            let mut copy = arrival.clone();
            copy.time_us += after_us;
            self.push(copy);
        }
        arrival.time_us += hold_us;
        self.push(arrival);
    }

    /// The head sends while it lies beside the receiver, as when it is paired before it is installed:
    /// the packet always arrives, whole and once. It moves nothing in any injector.
    pub fn send_beside(&mut self, sent_us: i64, packet: &[u8]) {
        let arrival = self.undisturbed(sent_us, packet);
        self.push(arrival);
    }

    /// The next packet heard up to and including `until_us`, in order of time; `None` when no more.
    /// What the neighbour sent is passed over; see [`Link::poll_traffic`].
    pub fn poll(&mut self, until_us: i64) -> Option<Arrival> {
        loop {
            match self.poll_traffic(until_us)? {
                Traffic::Heard(arrival) => return Some(arrival),
                Traffic::NeighbourSent(_) => {}
            }
        }
    }

    /// As [`Link::poll`], with the neighbour's sending too: all that a capture records beside our own
    /// packets, in order of time.
    pub fn poll_traffic(&mut self, until_us: i64) -> Option<Traffic> {
        if let Some(neighbour) = &mut self.neighbour {
            neighbour.run_until(until_us);
            while let Some(arrival) = neighbour.landed(until_us) {
                self.order += 1;
                self.coming.push(Coming {
                    arrival,
                    order: self.order,
                });
            }
            let heard_us = self.coming.peek().map(|coming| coming.arrival.time_us);
            if let Some(sent) =
                neighbour.announced(heard_us.map_or(until_us, |at| at.min(until_us)))
            {
                return Some(Traffic::NeighbourSent(sent));
            }
        }
        if self.coming.peek()?.arrival.time_us > until_us {
            return None;
        }
        self.coming
            .pop()
            .map(|coming| Traffic::Heard(coming.arrival))
    }

    /// Nothing is heard before this instant unless our head sends again; `None` when nothing is under way.
    #[must_use]
    pub fn next_arrival_us(&self) -> Option<i64> {
        let ours = self.coming.peek().map(|coming| coming.arrival.time_us);
        let theirs = self.neighbour.as_ref().map(neighbour::Transmitter::next_us);
        match (ours, theirs) {
            (Some(ours), Some(theirs)) => Some(ours.min(theirs)),
            (ours, theirs) => ours.or(theirs),
        }
    }

    fn undisturbed(&mut self, sent_us: i64, packet: &[u8]) -> Arrival {
        let mut bytes = Bytes::new();
        let fits = packet.get(..MAX_PACKET).unwrap_or(packet);
        // Cannot fail: `fits` is never longer than the room.
        let _ = bytes.extend_from_slice(fits);
        Arrival {
            time_us: sent_us + self.modulation.airtime_us(bytes.len()),
            signal_dbm: self.signal.at(sent_us),
            bytes,
        }
    }

    fn push(&mut self, arrival: Arrival) {
        self.order += 1;
        self.coming.push(Coming {
            arrival,
            order: self.order,
        });
    }
}

/// A packet under way; the earliest is the greatest, as the heap wants it.
#[derive(Debug)]
struct Coming {
    arrival: Arrival,
    order: u64,
}

impl Coming {
    const fn key(&self) -> (i64, u64) {
        (self.arrival.time_us, self.order)
    }
}

impl PartialEq for Coming {
    fn eq(&self, other: &Self) -> bool {
        self.key() == other.key()
    }
}

impl Eq for Coming {}

impl PartialOrd for Coming {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Coming {
    fn cmp(&self, other: &Self) -> Ordering {
        other.key().cmp(&self.key())
    }
}
