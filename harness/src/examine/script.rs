//! A case: what is put to a receiver, and what it must say.

use super::told::Told;
use benchmast_protocol::frame::{Identity, SensorFit, Serial};
use benchmast_protocol::packet::HeadId;
use benchmast_protocol::stream::{DELIMITER, MAX_ENCODED, encode};
use benchmast_protocol::tag::Key;
use std::fmt;

/// Places for heads that a receiver under examination has.
pub const PLACES: usize = 4;

/// How binding a case is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Level {
    /// The clause demands it.
    Must,
    /// The clause recommends it.
    Should,
}

impl fmt::Display for Level {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Must => "MUST",
            Self::Should => "SHOULD",
        })
    }
}

/// How packets come in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Mode {
    /// One whole packet a time.
    Packet,
    /// Bytes of a stream.
    Stream,
}

impl fmt::Display for Mode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Packet => "packet",
            Self::Stream => "stream",
        })
    }
}

/// What the receiver is told at the start.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Setup {
    /// Intervals until a head is silent; 0 for never.
    pub silent_after: u16,
    /// Heads paired before.
    pub adopted: Vec<(HeadId, Identity)>,
    /// Keys, for a receiver that knows section 10 of WIRE.md.
    pub keys: Vec<Keyed>,
}

/// A key that the receiver is given at the start.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Keyed {
    /// Whose.
    pub serial: Serial,
    /// The secret.
    pub key: Key,
    /// The highest counter heard before.
    pub heard: Option<u32>,
}

/// One thing that happens.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Input {
    /// A packet arrives.
    Packet(Vec<u8>),
    /// Bytes of a stream arrive.
    Stream(Vec<u8>),
    /// Time passes.
    Tick,
    /// A serial number is waited for.
    Expect(Serial),
    /// Pairing is opened or closed.
    Pairing(bool),
}

/// Name and decimal value of a field; `None`: no reading.
pub type Field = (String, Option<String>);

/// One step: what happens, and what must be said to it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// When, microseconds.
    pub t_us: u64,
    /// What.
    pub input: Input,
    /// What it is, for people; may be empty.
    pub says: String,
    /// What must be said.
    pub expect: Vec<Told>,
    /// Fields that the event of this step must show; empty where they are not looked at.
    pub fields: Vec<Field>,
}

/// Steps made one after the other, for cases too long to keep.
pub trait Script {
    /// The next step; `None` at the end.
    fn next_step(&mut self) -> Option<Step>;
    /// Tips that must have been told of each head by now.
    fn tips(&self) -> Vec<(HeadId, u64)>;
}

/// Where the steps of a case come from.
#[derive(Clone)]
pub enum Steps {
    /// A list, and what must have been told in the end.
    Listed(Vec<Step>, Vec<(HeadId, u64)>),
    /// A generator, begun anew each time, and how many steps it will make, about.
    Generated(
        std::sync::Arc<dyn Fn() -> Box<dyn Script> + Send + Sync>,
        u64,
    ),
}

impl fmt::Debug for Steps {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Listed(steps, tips) => f.debug_tuple("Listed").field(steps).field(tips).finish(),
            Self::Generated(_, count) => f.debug_tuple("Generated").field(count).finish(),
        }
    }
}

/// A case.
#[derive(Debug, Clone)]
pub struct Case {
    /// Clause and name, as in `W7.3/window`.
    pub id: String,
    /// All clauses it examines; the first is that of the id.
    pub clauses: Vec<String>,
    /// How binding.
    pub level: Level,
    /// What it demands, in a sentence.
    pub sentence: String,
    /// How packets come in.
    pub mode: Mode,
    /// How the receiver begins.
    pub setup: Setup,
    /// What happens.
    pub steps: Steps,
}

struct List<'c> {
    steps: std::slice::Iter<'c, Step>,
    tips: &'c [(HeadId, u64)],
}

impl Script for List<'_> {
    fn next_step(&mut self) -> Option<Step> {
        self.steps.next().cloned()
    }
    fn tips(&self) -> Vec<(HeadId, u64)> {
        self.tips.to_vec()
    }
}

impl Case {
    /// Begin the steps.
    #[must_use]
    pub fn play(&self) -> Box<dyn Script + '_> {
        match &self.steps {
            Steps::Listed(steps, tips) => Box::new(List {
                steps: steps.iter(),
                tips,
            }),
            Steps::Generated(begin, _) => begin(),
        }
    }

    /// How many steps, about.
    #[must_use]
    pub fn len(&self) -> u64 {
        match &self.steps {
            Steps::Listed(steps, _) => steps.len() as u64,
            Steps::Generated(_, count) => *count,
        }
    }

    /// Whether nothing happens in it.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Whether fields of events are looked at.
    #[must_use]
    pub fn has_fields(&self) -> bool {
        matches!(&self.steps, Steps::Listed(steps, _) if steps.iter().any(|step| !step.fields.is_empty()))
    }

    /// The same case with its packets on a byte stream.
    #[must_use]
    pub fn on_a_stream(&self) -> Self {
        if self.mode == Mode::Stream {
            return self.clone();
        }
        let steps = match &self.steps {
            Steps::Listed(steps, tips) => Steps::Listed(
                steps.iter().cloned().map(step_on_a_stream).collect(),
                tips.clone(),
            ),
            Steps::Generated(begin, count) => {
                let begin = std::sync::Arc::clone(begin);
                Steps::Generated(
                    std::sync::Arc::new(move || Box::new(OnAStream(begin()))),
                    *count,
                )
            }
        };
        Self {
            mode: Mode::Stream,
            steps,
            ..self.clone()
        }
    }
}

struct OnAStream(Box<dyn Script>);

impl Script for OnAStream {
    fn next_step(&mut self) -> Option<Step> {
        self.0.next_step().map(step_on_a_stream)
    }
    fn tips(&self) -> Vec<(HeadId, u64)> {
        self.0.tips()
    }
}

fn step_on_a_stream(step: Step) -> Step {
    Step {
        input: match step.input {
            Input::Packet(bytes) => Input::Stream(framed(&bytes)),
            other => other,
        },
        ..step
    }
}

/// A packet as it travels on a byte stream, whatever its length.
#[must_use]
pub fn framed(packet: &[u8]) -> Vec<u8> {
    let mut buffer = [0; MAX_ENCODED];
    if let Some(bytes) = encode(packet, &mut buffer) {
        return bytes.to_vec();
    }
    if packet.is_empty() {
        return vec![1, DELIMITER];
    }
    // Longer than any packet: its stuffing by the words of WIRE.md section 6, in pieces of at most 253 bytes.
    let mut bytes = Vec::new();
    for piece in packet.split(|byte| *byte == DELIMITER) {
        let (blocks, rest) = piece.as_chunks::<254>();
        for block in blocks {
            bytes.push(0xFF);
            bytes.extend_from_slice(block);
        }
        bytes.push(rest.len() as u8 + 1);
        bytes.extend_from_slice(rest);
    }
    bytes.push(DELIMITER);
    bytes
}

/// Settings of a head that has all sensors.
#[must_use]
pub const fn settings(serial: u64, interval_s: u16, bucket_um: u16) -> Identity {
    Identity {
        serial: Serial(serial),
        hardware: 2,
        fit: SensorFit::ALL,
        interval_s,
        bucket_um,
    }
}

/// Bytes as pairs of hexadecimal digits, onto the end of a text.
pub(crate) fn push_hex(text: &mut String, bytes: &[u8]) {
    const DIGITS: &[u8; 16] = b"0123456789abcdef";
    for byte in bytes {
        text.push(char::from(DIGITS[usize::from(byte >> 4)]));
        text.push(char::from(DIGITS[usize::from(byte & 15)]));
    }
}

/// Bytes as pairs of hexadecimal digits.
pub(crate) fn hex(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(2 * bytes.len());
    push_hex(&mut text, bytes);
    text
}

/// The bytes of pairs of hexadecimal digits.
pub(crate) fn unhex(text: &str) -> Option<Vec<u8>> {
    let digits: Option<Vec<u8>> = text
        .chars()
        .map(|digit| digit.to_digit(16).map(|value| value as u8))
        .collect();
    let digits = digits?;
    let (pairs, rest) = digits.as_chunks::<2>();
    rest.is_empty()
        .then(|| pairs.iter().map(|[high, low]| high << 4 | low).collect())
}
