//! The worked examples as cases: `protocol/vectors/*.json`, as they stand beside WIRE.md.

use super::super::reference::Reference;
use super::super::script::{Case, Field, Input, Keyed, Level, Mode, Setup, Step, Steps, unhex};
use super::super::told::{RawTold, Told, head_id};
use super::samples::obs;
use super::{A, MINE, baseless};
use benchmast_protocol::frame::{Identity, SensorFit, Serial};
use benchmast_protocol::packet::HeadId;
use benchmast_protocol::tag::Key;
use serde::Deserialize;

const ACCEPTED: &str = include_str!("../../../../protocol/vectors/packets_accepted.json");
const REFUSED: &str = include_str!("../../../../protocol/vectors/packets_refused.json");
const STREAMS: &str = include_str!("../../../../protocol/vectors/streams.json");
const TAGGED: &str = include_str!("../../../../protocol/vectors/packets_tagged.json");
const DIALOGUES_TAGGED: &str = include_str!("../../../../protocol/vectors/dialogues_tagged.json");
const DIALOGUES: &str = include_str!("../../../../protocol/vectors/dialogues.json");

#[derive(Deserialize)]
struct File<V> {
    vectors: Vec<V>,
}

#[derive(Deserialize)]
struct Packet {
    id: String,
    clauses: Vec<String>,
    comment: String,
    hex: String,
    #[serde(default)]
    kind: String,
    #[serde(default)]
    head: String,
    #[serde(default)]
    sequence: u16,
    #[serde(default)]
    fields: Vec<RawField>,
    #[serde(default)]
    refusal: String,
}

#[derive(Deserialize)]
struct RawField {
    name: String,
    raw: i64,
    value: Option<String>,
}

#[derive(Deserialize)]
struct Stream {
    id: String,
    clauses: Vec<String>,
    comment: String,
    hex: String,
    yields: Vec<String>,
}

#[derive(Deserialize)]
struct Dialogue<'v> {
    id: String,
    clauses: Vec<String>,
    comment: String,
    silent_after: u16,
    adopted: Vec<Adopted>,
    #[serde(default)]
    keys: Vec<RawKey>,
    #[serde(borrow)]
    steps: Vec<RawStep<'v>>,
    tips: Vec<Total>,
}

#[derive(Deserialize)]
struct Tagged {
    id: String,
    clauses: Vec<String>,
    comment: String,
    hex: String,
    key: String,
    counter: u32,
    plain: String,
}

#[derive(Deserialize)]
struct RawKey {
    serial: u64,
    key: String,
    heard: Option<u32>,
}

impl RawKey {
    fn keyed(&self) -> Option<Keyed> {
        Some(Keyed {
            serial: Serial(self.serial),
            key: Key(unhex(&self.key)?.try_into().ok()?),
            heard: self.heard,
        })
    }
}

#[derive(Deserialize)]
struct Adopted {
    head: String,
    serial: u64,
    hardware: u16,
    fit: u16,
    interval_s: u16,
    bucket_um: u16,
}

#[derive(Deserialize)]
struct Total {
    head: String,
    tips: u64,
}

#[derive(Deserialize)]
struct RawStep<'v> {
    at_us: u64,
    expect: Option<u64>,
    open: Option<bool>,
    says: Option<String>,
    hex: Option<String>,
    #[serde(borrow)]
    events: Vec<RawTold<'v>>,
}

/// The vectors are part of the program: what cannot be read of them yields no case, and a test counts them.
fn read<'v, V: Deserialize<'v>>(text: &'v str) -> Vec<V> {
    serde_json::from_str::<File<V>>(text).map_or_else(|_| Vec::new(), |file| file.vectors)
}

pub(super) fn all() -> Vec<Case> {
    let accepted = read::<Packet>(ACCEPTED).into_iter().filter_map(accepted);
    let refused = read::<Packet>(REFUSED).into_iter().filter_map(refused);
    let streams = read::<Stream>(STREAMS).into_iter().filter_map(stream);
    let dialogues = read::<Dialogue<'_>>(DIALOGUES)
        .into_iter()
        .chain(read::<Dialogue<'_>>(DIALOGUES_TAGGED))
        .filter_map(dialogue);
    let tagged = read::<Tagged>(TAGGED).into_iter().filter_map(tagged);
    accepted
        .chain(refused)
        .chain(streams)
        .chain(dialogues)
        .chain(tagged)
        .collect()
}

/// How many vectors there are in each file.
#[cfg(test)]
pub(super) fn counts() -> usize {
    [
        ACCEPTED,
        REFUSED,
        STREAMS,
        DIALOGUES,
        DIALOGUES_TAGGED,
        TAGGED,
    ]
    .iter()
    .map(|text| {
        let file: serde_json::Value = serde_json::from_str(text).expect("a vector file");
        file["vectors"].as_array().expect("vectors").len()
    })
    .sum()
}

fn case(
    id: &str,
    clauses: Vec<String>,
    sentence: String,
    mode: Mode,
    setup: Setup,
    steps: Steps,
) -> Option<Case> {
    let first = clauses.first()?;
    Some(Case {
        id: format!("{first}/{id}"),
        level: if first == "W7.6" {
            Level::Should
        } else {
            Level::Must
        },
        clauses,
        sentence,
        mode,
        setup,
        steps,
    })
}

fn step(input: Input, says: &str, expect: Vec<Told>, fields: Vec<Field>) -> Step {
    Step {
        t_us: 0,
        input,
        says: says.to_owned(),
        expect,
        fields,
    }
}

/// A packet to accept: of a head that is paired, or an identity that is waited for; every field is looked at.
fn accepted(vector: Packet) -> Option<Case> {
    let head = head_id(&vector.head)?;
    let sequence = vector.sequence;
    let number = |name: &str| {
        let field = vector.fields.iter().find(|field| field.name == name);
        field.map_or(0, |field| field.raw)
    };
    let (serial, event) = match vector.kind.as_str() {
        "observation" => (None, super::baseless_of(head, sequence)),
        "health" => (None, Told::Health { head, sequence }),
        _ => {
            let serial = number("serial").cast_unsigned();
            let event = Told::Paired {
                head,
                serial,
                interval_s: u16::try_from(number("interval_s")).ok()?,
                bucket_um: u16::try_from(number("bucket_um")).ok()?,
            };
            (Some(serial), event)
        }
    };
    let fields = vector
        .fields
        .iter()
        .map(|field| (field.name.clone(), field.value.clone()))
        .collect();
    let mut steps = Vec::new();
    if let Some(serial) = serial {
        let waited = step(Input::Expect(Serial(serial)), "", Vec::new(), Vec::new());
        steps.push(waited);
    }
    let bytes = unhex(&vector.hex)?;
    steps.push(step(Input::Packet(bytes), &vector.id, vec![event], fields));
    let adopted = if serial.is_some() {
        Vec::new()
    } else {
        vec![(head, MINE)]
    };
    let setup = Setup {
        silent_after: 0,
        adopted,
        keys: Vec::new(),
    };
    let mut clauses = vector.clauses;
    // The fields of an observation are told by its names, in its order.
    clauses.extend(["W2.1", "W2.2", "W3.3"].map(str::to_owned));
    clauses.dedup();
    case(
        &vector.id,
        clauses,
        vector.comment,
        Mode::Packet,
        setup,
        Steps::Listed(steps, Vec::new()),
    )
}

/// A packet to refuse, of a head that is paired; the next one is believed as if it had not been.
fn refused(vector: Packet) -> Option<Case> {
    let bytes = unhex(&vector.hex)?;
    let reason = ["damaged", "malformed", "implausible"]
        .into_iter()
        .find(|reason| *reason == vector.refusal);
    let event = match reason {
        Some(reason) => Told::refused(reason),
        None => super::unknown_version(bytes.first()? >> 4),
    };
    let (says, next) = obs(3, 9, 1234);
    let steps = vec![
        step(Input::Packet(bytes), &vector.id, vec![event], Vec::new()),
        step(Input::Packet(next), &says, vec![baseless(9)], Vec::new()),
    ];
    let setup = Setup {
        silent_after: 0,
        adopted: vec![(A, MINE)],
        keys: Vec::new(),
    };
    case(
        &vector.id,
        vector.clauses,
        vector.comment,
        Mode::Packet,
        setup,
        Steps::Listed(steps, Vec::new()),
    )
}

/// A stream: whole, and byte by byte. What its packets mean is taken from the protocol crate; how the stream
/// is cut into packets is the vector's.
fn stream(vector: Stream) -> Option<Case> {
    let setup = Setup {
        silent_after: 0,
        adopted: vec![(A, MINE)],
        keys: Vec::new(),
    };
    let mut receiver = Reference::new(&setup);
    let mut expect = Vec::new();
    for yielded in &vector.yields {
        if yielded == "damaged" {
            expect.push(Told::refused("damaged"));
        } else {
            receiver.hear(0, &Input::Packet(unhex(yielded)?), &mut expect);
        }
    }
    let bytes = unhex(&vector.hex)?;
    let steps = vec![step(Input::Stream(bytes), &vector.id, expect, Vec::new())];
    case(
        &vector.id,
        vector.clauses,
        vector.comment,
        Mode::Stream,
        setup,
        Steps::Listed(steps, Vec::new()),
    )
}

/// An authenticated packet is believed like the plain one beside it, which is refused itself.
fn tagged(vector: Tagged) -> Option<Case> {
    let keyed = RawKey {
        serial: MINE.serial.0,
        key: vector.key,
        heard: vector.counter.checked_sub(1),
    };
    let setup = Setup {
        silent_after: 0,
        adopted: vec![(A, MINE)],
        keys: vec![keyed.keyed()?],
    };
    let (hex, plain) = (unhex(&vector.hex)?, unhex(&vector.plain)?);
    let sequence = u16::from_le_bytes([*plain.get(5)?, *plain.get(6)?]);
    let told = match plain.first()? & 7 {
        1 => baseless(sequence),
        2 => super::well(sequence),
        _ => super::duplicate(sequence),
    };
    let again = vec![Told::refused("replayed")];
    let steps = vec![
        step(
            Input::Packet(plain),
            "without its tag",
            vec![Told::refused("forged")],
            Vec::new(),
        ),
        step(
            Input::Packet(hex.clone()),
            &vector.id,
            vec![told],
            Vec::new(),
        ),
        step(Input::Packet(hex), "again", again, Vec::new()),
    ];
    let steps = Steps::Listed(steps, Vec::new());
    case(
        &vector.id,
        vector.clauses,
        vector.comment,
        Mode::Packet,
        setup,
        steps,
    )
}

fn dialogue(vector: Dialogue<'_>) -> Option<Case> {
    let setup = Setup {
        silent_after: vector.silent_after,
        adopted: vector.adopted.iter().map(adopted).collect::<Option<_>>()?,
        keys: vector
            .keys
            .iter()
            .map(RawKey::keyed)
            .collect::<Option<_>>()?,
    };
    let steps = vector
        .steps
        .iter()
        .map(|raw| {
            let input = match (raw.expect, raw.open, &raw.hex) {
                (Some(serial), ..) => Input::Expect(Serial(serial)),
                (None, Some(open), _) => Input::Pairing(open),
                (None, None, Some(hex)) => Input::Packet(unhex(hex)?),
                (None, None, None) => Input::Tick,
            };
            Some(Step {
                t_us: raw.at_us,
                input,
                says: raw.says.clone().unwrap_or_default(),
                expect: raw.events.iter().map(RawTold::told).collect(),
                fields: Vec::new(),
            })
        })
        .collect::<Option<_>>()?;
    let tips = vector
        .tips
        .iter()
        .map(|total| Some((head_id(&total.head)?, total.tips)))
        .collect::<Option<_>>()?;
    let mut clauses = vector.clauses;
    clauses.push("W7.7".to_owned());
    case(
        &vector.id,
        clauses,
        vector.comment,
        Mode::Packet,
        setup,
        Steps::Listed(steps, tips),
    )
}

fn adopted(raw: &Adopted) -> Option<(HeadId, Identity)> {
    let identity = Identity {
        serial: Serial(raw.serial),
        hardware: raw.hardware,
        fit: SensorFit(raw.fit),
        interval_s: raw.interval_s,
        bucket_um: raw.bucket_um,
    };
    Some((head_id(&raw.head)?, identity))
}
