//! Receiver dialogues: packets and times, and what a receiver must say to each. Written by hand from
//! WIRE.md section 7; no receiver is asked.

mod ledger;
mod pairing;
mod tagged;

use super::hex;
use super::packets::{emit, typical, typical_health, typical_identity};
use benchmast_protocol::frame::observation::Status;
use benchmast_protocol::frame::{Frame, Health, Identity, Observation, Serial};
use benchmast_protocol::packet::HeadId;
use benchmast_protocol::tag::Key;
use serde::Serialize;
pub(super) use tagged::all as all_tagged;

pub(super) const ABOUT: &str = "Receiver dialogues, for a receiver with places for 4 heads. adopted: heads paired before, each with \
    settings 16 s and 300 um unless said otherwise; no packet of theirs has been believed yet. steps: in order; expect: from now on this serial number is waited for; \
    open: from now on any identity is adopted; hex: this packet arrives; without hex: time passes. \
    events: everything the receiver says to this step, in order. tips: what it has believed of each head in the end.";

pub(super) const ABOUT_TAGGED: &str = "Receiver dialogues with authenticated packets, read as dialogues.json. keys: given to the receiver before the \
    first step, by serial number; heard: the highest counter heard before, null for none.";

#[derive(Serialize)]
pub(super) struct Dialogue {
    id: &'static str,
    clauses: &'static [&'static str],
    comment: &'static str,
    silent_after: u16,
    adopted: Vec<Adopted>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    keys: Vec<Keyed>,
    steps: Vec<Step>,
    tips: Vec<Total>,
}

#[derive(Serialize)]
struct Adopted {
    head: String,
    serial: u64,
    hardware: u16,
    fit: u16,
    interval_s: u16,
    bucket_um: u16,
}

#[derive(Serialize)]
struct Total {
    head: String,
    tips: u64,
}

#[derive(Serialize, Default)]
struct Step {
    at_us: u64,
    #[serde(skip_serializing_if = "Option::is_none")]
    expect: Option<u64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    open: Option<bool>,
    #[serde(skip_serializing_if = "Option::is_none")]
    says: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    hex: Option<String>,
    events: Vec<Told>,
}

/// A key given to the receiver before the first step.
#[derive(Serialize)]
struct Keyed {
    serial: u64,
    key: String,
    heard: Option<u32>,
}

/// What a receiver says, as it stands in the file.
#[derive(Serialize, Clone)]
#[serde(tag = "event", rename_all = "snake_case")]
enum Told {
    Paired {
        head: String,
        serial: u64,
        interval_s: u16,
        bucket_um: u16,
    },
    Observation {
        head: String,
        sequence: u16,
        tips_since: Option<u16>,
        rain_um: Option<u32>,
        intervals_missed: u32,
    },
    Health {
        head: String,
        sequence: u16,
    },
    Duplicate {
        head: String,
        sequence: u16,
    },
    Late {
        head: String,
        sequence: u16,
        intervals_late: u32,
        tips_since: u16,
        rain_um: u32,
    },
    Restarted {
        head: String,
        life: u8,
    },
    Silent {
        head: String,
        last_heard_us: u64,
    },
    Refused {
        reason: &'static str,
        #[serde(skip_serializing_if = "Option::is_none")]
        head: Option<String>,
        #[serde(skip_serializing_if = "Option::is_none")]
        version: Option<u8>,
    },
}

const A: HeadId = super::packets::HEAD;
const B: HeadId = HeadId(0x0badc0de);
/// One reporting interval, microseconds.
const INTERVAL: u64 = 16_000_000;

impl Dialogue {
    /// Head `A` is paired, nothing of it believed yet, and time stands still at 0 unless a step says otherwise.
    fn new(id: &'static str, clauses: &'static [&'static str], comment: &'static str) -> Self {
        Self {
            id,
            clauses,
            comment,
            silent_after: 0,
            adopted: vec![adopted(A, typical_identity())],
            keys: Vec::new(),
            steps: Vec::new(),
            tips: Vec::new(),
        }
    }
    fn with(mut self, adopted: Vec<Adopted>) -> Self {
        self.adopted = adopted;
        self
    }
    fn key(mut self, serial: u64, key: Key, heard: Option<u32>) -> Self {
        self.keys.push(Keyed {
            serial,
            key: hex(&key.0),
            heard,
        });
        self
    }
    fn silent_after(mut self, intervals: u16) -> Self {
        self.silent_after = intervals;
        self
    }
    fn expect(mut self, serial: u64) -> Self {
        self.steps.push(Step {
            at_us: self.now(),
            expect: Some(serial),
            ..Step::default()
        });
        self
    }
    fn open(mut self, open: bool) -> Self {
        self.steps.push(Step {
            at_us: self.now(),
            open: Some(open),
            ..Step::default()
        });
        self
    }
    fn now(&self) -> u64 {
        self.steps.last().map_or(0, |step| step.at_us)
    }
    /// A packet arrives at the time of the step before.
    fn hear(self, packet: (String, Vec<u8>), events: &[Told]) -> Self {
        let now = self.now();
        self.hear_at(now, packet, events)
    }
    fn hear_at(mut self, at_us: u64, (says, packet): (String, Vec<u8>), events: &[Told]) -> Self {
        self.steps.push(Step {
            at_us,
            says: Some(says),
            hex: Some(hex(&packet)),
            events: events.to_vec(),
            ..Step::default()
        });
        self
    }
    fn wait_until(mut self, at_us: u64, events: &[Told]) -> Self {
        self.steps.push(Step {
            at_us,
            events: events.to_vec(),
            ..Step::default()
        });
        self
    }
    fn tips(mut self, head: HeadId, tips: u64) -> Self {
        self.tips.push(Total {
            head: head.to_string(),
            tips,
        });
        self
    }
}

fn adopted(head: HeadId, identity: Identity) -> Adopted {
    Adopted {
        head: head.to_string(),
        serial: identity.serial.0,
        hardware: identity.hardware,
        fit: identity.fit.0,
        interval_s: identity.interval_s,
        bucket_um: identity.bucket_um,
    }
}

/// An observation; only life, sequence and tips matter here.
fn obs_of(head: HeadId, life: u16, sequence: u16, tips: u16) -> (String, Vec<u8>) {
    let frame = Frame::Observation(Observation {
        status: Status::new(life, false, false, false),
        tips,
        ..typical()
    });
    let says = format!("observation of {head}: life {life}, sequence {sequence}, tips {tips}");
    (says, emit(head, sequence, frame))
}
fn obs(life: u16, sequence: u16, tips: u16) -> (String, Vec<u8>) {
    obs_of(A, life, sequence, tips)
}
fn report(restarts: u16, sequence: u16) -> (String, Vec<u8>) {
    let frame = Frame::Health(Health {
        restarts,
        ..typical_health()
    });
    let says = format!("health of {A}: restarts {restarts}, sequence {sequence}");
    (says, emit(A, sequence, frame))
}
fn identity(head: HeadId, identity: Identity) -> (String, Vec<u8>) {
    let says = format!(
        "identity of {head}: serial {}, interval {} s, bucket {} um",
        identity.serial.0, identity.interval_s, identity.bucket_um
    );
    (says, emit(head, 0, Frame::Identity(identity)))
}
fn with_serial(serial: u64) -> Identity {
    Identity {
        serial: Serial(serial),
        ..typical_identity()
    }
}

/// A new observation of head `A` with a bucket of 300 um.
fn new(sequence: u16, tips_since: u16, intervals_missed: u32) -> Told {
    Told::Observation {
        head: A.to_string(),
        sequence,
        tips_since: Some(tips_since),
        rain_um: Some(u32::from(tips_since) * 300),
        intervals_missed,
    }
}
/// A new observation that has no base to count rain from.
fn baseless(sequence: u16) -> Told {
    baseless_of(A, sequence)
}
fn baseless_of(head: HeadId, sequence: u16) -> Told {
    Told::Observation {
        head: head.to_string(),
        sequence,
        tips_since: None,
        rain_um: None,
        intervals_missed: 0,
    }
}
fn well(sequence: u16) -> Told {
    Told::Health {
        head: A.to_string(),
        sequence,
    }
}
fn duplicate(sequence: u16) -> Told {
    Told::Duplicate {
        head: A.to_string(),
        sequence,
    }
}
fn late(sequence: u16, intervals_late: u32, tips_since: u16) -> Told {
    Told::Late {
        head: A.to_string(),
        sequence,
        intervals_late,
        tips_since,
        rain_um: u32::from(tips_since) * 300,
    }
}
fn restarted(life: u8) -> Told {
    Told::Restarted {
        head: A.to_string(),
        life,
    }
}
fn silent(last_heard_us: u64) -> Told {
    Told::Silent {
        head: A.to_string(),
        last_heard_us,
    }
}
fn refused(reason: &'static str) -> Told {
    Told::Refused {
        reason,
        head: None,
        version: None,
    }
}
fn unknown(head: HeadId) -> Told {
    Told::Refused {
        reason: "unknown_head",
        head: Some(head.to_string()),
        version: None,
    }
}
fn paired(head: HeadId, identity: Identity) -> Told {
    Told::Paired {
        head: head.to_string(),
        serial: identity.serial.0,
        interval_s: identity.interval_s,
        bucket_um: identity.bucket_um,
    }
}

pub(super) fn all() -> Vec<Dialogue> {
    let mut all = pairing::all();
    all.extend(ledger::all());
    all
}
