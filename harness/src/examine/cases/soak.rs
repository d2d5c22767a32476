//! The long soak: weeks of a head over a bad radio path.

use super::super::reference::Reference;
use super::super::script::{Case, Input, Level, Mode, Script, Setup, Step, Steps};
use super::craft::{STATUS, TIPS, packet, typical};
use super::{A, B, Choice, INTERVAL, MINE};
use benchmast_protocol::packet::HeadId;
use benchmast_sim::entropy::{Seed, Stream};
use std::collections::VecDeque;
use std::sync::Arc;

/// Intervals of a day.
const DAY: u64 = 5400;

pub(super) fn all(choice: Choice) -> Vec<Case> {
    let case = |id: &str, sentence: &str, mode: Mode, days: u32| {
        let intervals = u64::from(days) * DAY;
        let seed = choice.seed;
        let case = Case {
            id: id.to_owned(),
            clauses: ["W7.4", "W7.1", "W7.3", "W7.5", "W1.5"]
                .map(str::to_owned)
                .to_vec(),
            level: Level::Must,
            sentence: sentence.to_owned(),
            mode: Mode::Packet,
            setup: setup(),
            steps: Steps::Generated(
                Arc::new(move || Box::new(Soak::new(seed, intervals))),
                intervals,
            ),
        };
        if mode == Mode::Stream {
            case.on_a_stream()
        } else {
            case
        }
    };
    let days = choice.soak_days;
    if days == 0 {
        return Vec::new();
    }
    vec![
        case(
            "W7.4/soak",
            &format!(
                "{days} days over a path that loses, damages, repeats and delays packets, with restarts and a neighbour: no tip is lost or counted twice."
            ),
            Mode::Packet,
            days,
        ),
        case(
            "W7.4/soak-on-a-stream",
            "A day of the same on a byte stream.",
            Mode::Stream,
            1,
        ),
    ]
}

fn setup() -> Setup {
    Setup {
        silent_after: 0,
        adopted: vec![(A, MINE)],
        keys: Vec::new(),
    }
}

/// A head, its neighbour, and the path to the receiver. What must be said is taken from the protocol crate's
/// receiver; the sum of the tips is checked against the head's own count by a test.
pub struct Soak {
    draw: Stream,
    receiver: Reference,
    interval: u64,
    intervals: u64,
    life: u64,
    sequence: u64,
    tips: u64,
    /// Packets on their way, with the interval in which they arrive.
    air: VecDeque<(u64, Vec<u8>)>,
    bad: bool,
    /// Tips that the head has counted over all its lives.
    pub tips_counted: u64,
}

impl std::fmt::Debug for Soak {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Soak")
            .field("interval", &self.interval)
            .field("intervals", &self.intervals)
            .finish_non_exhaustive()
    }
}

impl Soak {
    /// So many intervals.
    #[must_use]
    pub fn new(seed: u64, intervals: u64) -> Self {
        Self {
            draw: Seed(seed).stream("examination", "soak"),
            receiver: Reference::new(&setup()),
            interval: 0,
            intervals,
            life: 3,
            sequence: 60_000,
            tips: 60_000,
            air: VecDeque::new(),
            bad: false,
            tips_counted: 0,
        }
    }

    fn chance(&mut self, of: f64) -> bool {
        self.draw.uniform() < of
    }

    /// One interval: what the head sends, and what of it is in the air.
    fn run(&mut self) {
        self.interval += 1;
        if self.chance(0.0003) {
            self.life += 1;
            (self.sequence, self.tips) = (0, 0);
        } else {
            self.sequence += 1;
            // A wet climate: a tip in one interval of three, so that the counter wraps in the month.
            let tips = u64::from(self.chance(0.3)) * (1 + u64::from(self.chance(0.3)) * 4);
            self.tips += tips;
            self.tips_counted += tips;
        }
        self.bad = if self.bad {
            !self.chance(0.25)
        } else {
            self.chance(0.04)
        };
        let sequence = self.sequence as u16;
        if self.sequence.is_multiple_of(64) {
            let mut numbers = typical(2);
            numbers[0] = (self.life % 65_536).cast_signed();
            numbers[2] = (self.sequence * 16).cast_signed();
            self.send(packet(2, A, sequence, &numbers));
        }
        let mut numbers = typical(1);
        numbers[STATUS] = (self.life % 16).cast_signed();
        numbers[1] = (self.draw.uniform() * 4000.0) as i64;
        numbers[8] = (self.draw.uniform() * 90_000.0) as i64;
        numbers[TIPS] = (self.tips % 65_536).cast_signed();
        self.send(packet(1, A, sequence, &numbers));
        if self.chance(0.1) {
            let neighbour = packet(1, B, (self.interval % 65_536) as u16, &typical(1));
            self.air.push_back((self.interval, neighbour));
        }
    }

    fn send(&mut self, bytes: Vec<u8>) {
        let lost = self.bad || self.chance(0.05);
        let (damaged, twice, held) = (self.chance(0.02), self.chance(0.02), self.chance(0.03));
        let (bits, delay) = (self.draw.bits(), 1 + self.draw.bits() % 5);
        if lost {
            return;
        }
        let mut heard = bytes.clone();
        if damaged {
            // One to four wrong bits, which the check always finds.
            for n in 0..=(bits >> 62) {
                let bit = (bits >> (12 * n)) as usize % (8 * heard.len());
                heard[bit / 8] ^= 1 << (bit % 8);
            }
            if heard == bytes {
                heard[0] ^= 1;
            }
        }
        let at = self.interval + if held { delay } else { 0 };
        self.air.push_back((at, heard));
        if twice {
            self.air.push_back((at, bytes));
        }
    }

    /// A packet whose time has come.
    fn arrival(&mut self) -> Option<Vec<u8>> {
        let at = self.air.iter().position(|(at, _)| *at <= self.interval)?;
        self.air.remove(at).map(|(_, bytes)| bytes)
    }
}

impl Script for Soak {
    fn next_step(&mut self) -> Option<Step> {
        let bytes = loop {
            if let Some(bytes) = self.arrival() {
                break bytes;
            }
            if self.interval >= self.intervals {
                return None;
            }
            self.run();
        };
        let (t_us, input) = (self.interval * INTERVAL, Input::Packet(bytes));
        let mut expect = Vec::new();
        self.receiver.hear(t_us, &input, &mut expect);
        Some(Step {
            t_us,
            input,
            says: String::new(),
            expect,
            fields: Vec::new(),
        })
    }
    fn tips(&self) -> Vec<(HeadId, u64)> {
        vec![(A, self.receiver.tips_of(A))]
    }
}
