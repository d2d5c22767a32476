//! The cases: from the vectors, and from generators that know the clauses.

pub mod craft;
mod identity;
mod packets;
mod random;
mod readings;
mod receiver;
mod samples;
mod sequence;
mod soak;
mod streams;
mod vectors;

pub use random::{any_case, any_script, from_capture, told_by_reference};
pub use soak::Soak;

use super::script::{Case, Field, Input, Level, Mode, Setup, Step, Steps, settings};
use super::told::Told;
use benchmast_protocol::frame::{Identity, Serial};
use benchmast_protocol::packet::HeadId;

/// Which cases to make.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Choice {
    /// Length of the soak, simulated days.
    pub soak_days: u32,
    /// Seed of the soak and the random cases.
    pub seed: u64,
    /// How many random cases.
    pub random: u32,
}

impl Default for Choice {
    fn default() -> Self {
        Self {
            soak_days: 30,
            seed: 1,
            random: 50,
        }
    }
}

/// Clauses of WIRE.md for which there is no case, each with the reason. Of all others there is one at least.
pub const NOT_EXAMINED: [(&str, &str); 2] = [
    (
        "W9.2",
        "says what a later version may change; no receiver of version 1 can show it",
    ),
    (
        "W10.6",
        "the time of a comparison does not show in what is told",
    ),
];

/// All cases, in the order of their clauses; random ones last.
#[must_use]
pub fn all(choice: Choice) -> Vec<Case> {
    let mut all = vectors::all();
    all.extend(packets::all());
    all.extend(readings::all());
    all.extend(identity::all());
    all.extend(streams::all());
    all.extend(sequence::all());
    all.extend(receiver::all());
    all.extend(soak::all(choice));
    all.sort_by_cached_key(|case| (order(&case.id), case.id.clone()));
    all.extend((0..choice.random).map(|number| any_case(choice.seed, number)));
    all
}

/// Section and clause of an id, as numbers.
fn order(id: &str) -> (u32, u32) {
    let clause = id.split('/').next().unwrap_or_default();
    let (section, number) = clause
        .trim_start_matches('W')
        .split_once('.')
        .unwrap_or_default();
    (
        section.parse().unwrap_or(u32::MAX),
        number.parse().unwrap_or(u32::MAX),
    )
}

/// The head of most cases; its bytes differ, so that their order shows.
pub const A: HeadId = HeadId(0x1a2b_3c4d);
/// A neighbour's.
pub const B: HeadId = HeadId(0x0bad_c0de);
/// Serial number of head [`A`].
pub const SERIAL: u64 = 1_203_004_501;
/// One reporting interval, microseconds.
pub const INTERVAL: u64 = 16_000_000;

/// Settings of head [`A`].
const MINE: Identity = settings(SERIAL, 16, 300);

/// A packet and what it is, for people.
type Said = (String, Vec<u8>);

impl Case {
    /// Head [`A`] is paired and nothing of it believed yet; packets come whole; time stands still at 0.
    fn must(id: &str, clauses: &[&str], sentence: &str) -> Self {
        let first = id.split('/').next().unwrap_or_default();
        let mut all = vec![first.to_owned()];
        all.extend(
            clauses
                .iter()
                .filter(|clause| **clause != first)
                .map(|clause| (*clause).to_owned()),
        );
        Self {
            id: id.to_owned(),
            clauses: all,
            level: Level::Must,
            sentence: sentence.to_owned(),
            mode: Mode::Packet,
            setup: Setup {
                silent_after: 0,
                adopted: vec![(A, MINE)],
                keys: Vec::new(),
            },
            steps: Steps::Listed(Vec::new(), Vec::new()),
        }
    }
    fn should(id: &str, clauses: &[&str], sentence: &str) -> Self {
        Self {
            level: Level::Should,
            ..Self::must(id, clauses, sentence)
        }
    }
    fn in_mode(mut self, mode: Mode) -> Self {
        self.mode = mode;
        self
    }
    fn silent_after(mut self, intervals: u16) -> Self {
        self.setup.silent_after = intervals;
        self
    }
    fn with(mut self, adopted: &[(HeadId, Identity)]) -> Self {
        self.setup.adopted = adopted.to_vec();
        self
    }
    fn now(&self) -> u64 {
        match &self.steps {
            Steps::Listed(steps, _) => steps.last().map_or(0, |step| step.t_us),
            Steps::Generated(..) => 0,
        }
    }
    fn step(mut self, t_us: u64, input: Input, says: &str, expect: &[Told]) -> Self {
        if let Steps::Listed(steps, _) = &mut self.steps {
            steps.push(Step {
                t_us,
                input,
                says: says.to_owned(),
                expect: expect.to_vec(),
                fields: Vec::new(),
            });
        }
        self
    }
    fn hear(self, packet: Said, expect: &[Told]) -> Self {
        let now = self.now();
        self.hear_at(now, packet, expect)
    }
    fn hear_at(self, t_us: u64, (says, packet): Said, expect: &[Told]) -> Self {
        self.step(t_us, Input::Packet(packet), &says, expect)
    }
    fn stream(self, says: &str, bytes: &[u8], expect: &[Told]) -> Self {
        let now = self.now();
        self.step(now, Input::Stream(bytes.to_vec()), says, expect)
    }
    fn tick(self, t_us: u64, expect: &[Told]) -> Self {
        self.step(t_us, Input::Tick, "", expect)
    }
    fn expect(self, serial: u64) -> Self {
        let now = self.now();
        self.step(now, Input::Expect(Serial(serial)), "", &[])
    }
    fn pairing(self, open: bool) -> Self {
        let now = self.now();
        self.step(now, Input::Pairing(open), "", &[])
    }
    /// The event of the last step must show these fields.
    fn showing(mut self, fields: &[(&str, Option<&str>)]) -> Self {
        let owned = |(name, value): &(&str, Option<&str>)| -> Field {
            ((*name).to_owned(), value.map(ToOwned::to_owned))
        };
        if let Steps::Listed(steps, _) = &mut self.steps
            && let Some(step) = steps.last_mut()
        {
            step.fields = fields.iter().map(owned).collect();
        }
        self
    }
    fn tips(mut self, head: HeadId, sum: u64) -> Self {
        if let Steps::Listed(_, tips) = &mut self.steps {
            tips.push((head, sum));
        }
        self
    }
}

/// A new observation of head [`A`] with a bucket of 300 um.
fn new(sequence: u16, tips_since: u16, intervals_missed: u32) -> Told {
    Told::Observation {
        head: A,
        sequence,
        tips_since: Some(tips_since),
        rain_um: Some(u32::from(tips_since) * 300),
        intervals_missed,
    }
}
/// One that has no base to count rain from.
fn baseless(sequence: u16) -> Told {
    baseless_of(A, sequence)
}
fn baseless_of(head: HeadId, sequence: u16) -> Told {
    Told::Observation {
        head,
        sequence,
        tips_since: None,
        rain_um: None,
        intervals_missed: 0,
    }
}
fn well(sequence: u16) -> Told {
    Told::Health { head: A, sequence }
}
fn duplicate(sequence: u16) -> Told {
    Told::Duplicate { head: A, sequence }
}
fn late(sequence: u16, intervals_late: u32, tips_since: u16) -> Told {
    Told::Late {
        head: A,
        sequence,
        intervals_late,
        tips_since,
        rain_um: u32::from(tips_since) * 300,
    }
}
fn restarted(life: u8) -> Told {
    Told::Restarted { head: A, life }
}
fn silent(last_heard_us: u64) -> Told {
    silent_of(A, last_heard_us)
}
fn silent_of(head: HeadId, last_heard_us: u64) -> Told {
    Told::Silent {
        head,
        last_heard_us,
    }
}
fn refused(reason: &'static str) -> Told {
    Told::refused(reason)
}
fn unknown_version(version: u8) -> Told {
    Told::Refused {
        reason: "unknown_version",
        head: None,
        version: Some(version),
    }
}
fn unknown(head: HeadId) -> Told {
    Told::Refused {
        reason: "unknown_head",
        head: Some(head),
        version: None,
    }
}
fn paired(head: HeadId, identity: Identity) -> Told {
    Told::Paired {
        head,
        serial: identity.serial.0,
        interval_s: identity.interval_s,
        bucket_um: identity.bucket_um,
    }
}

#[cfg(test)]
mod tests;
