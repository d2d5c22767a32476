//! What a receiver tells, in the words of WIRE.md W7.7 and of the vectors.

use benchmast_protocol::frame::Frame;
use benchmast_protocol::packet::HeadId;
use benchmast_protocol::receiver::{Event, Refusal};
use serde::{Deserialize, Serialize, Serializer};
use serde_json::{Map, Value, json};
use std::borrow::Cow;
use std::fmt;

/// The reasons of a refusal, as they are spelled in messages.
const REASONS: [&str; 8] = [
    "damaged",
    "unknown_version",
    "malformed",
    "unknown_head",
    "implausible",
    "stale",
    "forged",
    "replayed",
];

fn digits<S: Serializer>(head: &HeadId, to: S) -> Result<S::Ok, S::Error> {
    to.collect_str(head)
}

fn maybe_digits<S: Serializer>(head: &Option<HeadId>, to: S) -> Result<S::Ok, S::Error> {
    head.map(|head| head.to_string()).serialize(to)
}

/// One event. It serialises as EXAMINATION.md has it; [`json()`] adds the fields of the packet.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(tag = "event", rename_all = "snake_case")]
pub enum Told {
    /// A head was paired, or has changed settings.
    Paired {
        /// Its radio address.
        #[serde(serialize_with = "digits")]
        head: HeadId,
        /// Its serial number.
        serial: u64,
        /// Its reporting interval, s.
        interval_s: u16,
        /// Its bucket, micrometres a tip.
        bucket_um: u16,
    },
    /// A new observation.
    Observation {
        /// Who sent it.
        #[serde(serialize_with = "digits")]
        head: HeadId,
        /// Its sequence number.
        sequence: u16,
        /// Tips since the last one; `None` without a base.
        tips_since: Option<u16>,
        /// Their depth, micrometres.
        rain_um: Option<u32>,
        /// Intervals not heard before it.
        intervals_missed: u32,
    },
    /// A new health report.
    Health {
        /// Who sent it.
        #[serde(serialize_with = "digits")]
        head: HeadId,
        /// Its sequence number.
        sequence: u16,
    },
    /// Nothing new.
    Duplicate {
        /// Who sent it.
        #[serde(serialize_with = "digits")]
        head: HeadId,
        /// Its sequence number.
        sequence: u16,
    },
    /// Overtaken, but not heard before.
    Late {
        /// Who sent it.
        #[serde(serialize_with = "digits")]
        head: HeadId,
        /// Its sequence number.
        sequence: u16,
        /// By how much.
        intervals_late: u32,
        /// Tips that only it tells of.
        tips_since: u16,
        /// Their depth, micrometres.
        rain_um: u32,
    },
    /// A new life.
    Restarted {
        /// Whose.
        #[serde(serialize_with = "digits")]
        head: HeadId,
        /// Restart count modulo 16.
        life: u8,
    },
    /// Nothing was heard for long.
    Silent {
        /// Of whom.
        #[serde(serialize_with = "digits")]
        head: HeadId,
        /// Since when.
        last_heard_us: u64,
    },
    /// A packet not believed.
    Refused {
        /// Why.
        reason: &'static str,
        /// Of an unknown head.
        #[serde(
            skip_serializing_if = "Option::is_none",
            serialize_with = "maybe_digits"
        )]
        head: Option<HeadId>,
        /// Of an unknown version.
        #[serde(skip_serializing_if = "Option::is_none")]
        version: Option<u8>,
    },
    /// Not an event of EXAMINATION.md: its text.
    #[serde(skip)]
    Other(String),
}

/// What a receiver on the protocol crate says in EXAMINATION.md's words to an event; with the fields of its packet, where a case
/// looks at them.
#[must_use]
pub fn json(event: &Event, with_fields: bool) -> Value {
    let mut object = json!(Told::of(event));
    let frame = match event {
        Event::Paired { identity, .. } => Frame::Identity(*identity),
        Event::Observation(believed) => Frame::Observation(believed.observation),
        Event::Health { health, .. } => Frame::Health(*health),
        _ => return object,
    };
    if with_fields {
        object["fields"] = crate::vectors::decimals(&frame)
            .map(|(name, value)| (name.to_owned(), json!(value)))
            .collect::<Map<_, _>>()
            .into();
    }
    object
}

impl Told {
    /// A refusal that names nothing but its reason.
    #[must_use]
    pub const fn refused(reason: &'static str) -> Self {
        Self::Refused {
            reason,
            head: None,
            version: None,
        }
    }

    /// Whom it is about.
    #[must_use]
    pub const fn head(&self) -> Option<HeadId> {
        match self {
            Self::Paired { head, .. }
            | Self::Observation { head, .. }
            | Self::Health { head, .. }
            | Self::Duplicate { head, .. }
            | Self::Late { head, .. }
            | Self::Restarted { head, .. }
            | Self::Silent { head, .. } => Some(*head),
            Self::Refused { head, .. } => *head,
            Self::Other(_) => None,
        }
    }

    /// Whether the event's packet has fields to show.
    #[must_use]
    pub const fn has_fields(&self) -> bool {
        matches!(
            self,
            Self::Paired { .. } | Self::Observation { .. } | Self::Health { .. }
        )
    }

    /// What a receiver must say where the protocol crate's says this.
    #[must_use]
    pub fn of(event: &Event) -> Self {
        match *event {
            Event::Paired { head, identity } => Self::Paired {
                head,
                serial: identity.serial.0,
                interval_s: identity.interval_s,
                bucket_um: identity.bucket_um,
            },
            Event::Observation(believed) => Self::Observation {
                head: believed.head,
                sequence: believed.sequence,
                tips_since: believed.tips_since,
                rain_um: believed.rain_um,
                intervals_missed: believed.intervals_missed,
            },
            Event::Health { head, sequence, .. } => Self::Health { head, sequence },
            Event::Duplicate { head, sequence } => Self::Duplicate { head, sequence },
            Event::Late {
                head,
                sequence,
                intervals_late,
                tips_since,
                rain_um,
                ..
            } => Self::Late {
                head,
                sequence,
                intervals_late,
                tips_since,
                rain_um,
            },
            Event::Restarted { head, life } => Self::Restarted { head, life },
            Event::Silent { head, last_heard } => Self::Silent {
                head,
                last_heard_us: last_heard,
            },
            Event::Refused(refusal) => match refusal {
                Refusal::UnknownVersion(version) => Self::Refused {
                    reason: "unknown_version",
                    head: None,
                    version: Some(version),
                },
                Refusal::UnknownHead(head) => Self::Refused {
                    reason: "unknown_head",
                    head: Some(head),
                    version: None,
                },
                Refusal::Damaged => Self::refused("damaged"),
                Refusal::Malformed => Self::refused("malformed"),
                Refusal::Implausible => Self::refused("implausible"),
                Refusal::Stale => Self::refused("stale"),
                Refusal::Forged => Self::refused("forged"),
                Refusal::Replayed => Self::refused("replayed"),
            },
        }
    }
}

impl fmt::Display for Told {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Paired {
                head,
                serial,
                interval_s,
                bucket_um,
            } => write!(
                f,
                "paired {head} serial {serial} interval_s {interval_s} bucket_um {bucket_um}"
            ),
            Self::Observation {
                head,
                sequence,
                tips_since,
                rain_um,
                intervals_missed,
            } => write!(
                f,
                "observation {head} sequence {sequence} tips_since {} rain_um {} intervals_missed {intervals_missed}",
                OrNull(*tips_since),
                OrNull(*rain_um)
            ),
            Self::Health { head, sequence } => write!(f, "health {head} sequence {sequence}"),
            Self::Duplicate { head, sequence } => write!(f, "duplicate {head} sequence {sequence}"),
            Self::Late {
                head,
                sequence,
                intervals_late,
                tips_since,
                rain_um,
            } => write!(
                f,
                "late {head} sequence {sequence} intervals_late {intervals_late} tips_since {tips_since} rain_um {rain_um}"
            ),
            Self::Restarted { head, life } => write!(f, "restarted {head} life {life}"),
            Self::Silent {
                head,
                last_heard_us,
            } => write!(f, "silent {head} last_heard_us {last_heard_us}"),
            Self::Refused {
                reason,
                head,
                version,
            } => {
                write!(f, "refused {reason}")?;
                if let Some(head) = head {
                    write!(f, " {head}")?;
                }
                version.map_or(Ok(()), |version| write!(f, " {version}"))
            }
            Self::Other(text) => write!(f, "{text} (no event of EXAMINATION.md)"),
        }
    }
}

struct OrNull<T>(Option<T>);

impl<T: fmt::Display> fmt::Display for OrNull<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.0 {
            Some(value) => value.fmt(f),
            None => f.write_str("null"),
        }
    }
}

/// An event as it stands in a message or a vector; what its word does not need is not looked at.
#[derive(Debug, Deserialize)]
pub(crate) struct RawTold<'m> {
    #[serde(borrow)]
    event: Cow<'m, str>,
    #[serde(borrow)]
    head: Option<Cow<'m, str>>,
    sequence: Option<u16>,
    tips_since: Option<u16>,
    rain_um: Option<u32>,
    intervals_missed: Option<u32>,
    intervals_late: Option<u32>,
    life: Option<u8>,
    last_heard_us: Option<u64>,
    #[serde(borrow)]
    reason: Option<Cow<'m, str>>,
    version: Option<u8>,
    serial: Option<u64>,
    interval_s: Option<u16>,
    bucket_um: Option<u16>,
    /// Field values by name; `null` is no reading.
    pub(crate) fields: Option<std::collections::BTreeMap<String, Option<String>>>,
}

/// A head id of exactly eight digits.
pub(crate) fn head_id(text: &str) -> Option<HeadId> {
    (text.len() == 8 && text.bytes().all(|byte| byte.is_ascii_hexdigit()))
        .then(|| u32::from_str_radix(text, 16).ok())
        .flatten()
        .map(HeadId)
}

impl RawTold<'_> {
    /// The event, if it has all that its word needs.
    fn complete(&self) -> Option<Told> {
        let head = self.head.as_deref().and_then(head_id);
        Some(match self.event.as_ref() {
            "paired" => Told::Paired {
                head: head?,
                serial: self.serial?,
                interval_s: self.interval_s?,
                bucket_um: self.bucket_um?,
            },
            "observation" => Told::Observation {
                head: head?,
                sequence: self.sequence?,
                tips_since: self.tips_since,
                rain_um: self.rain_um,
                intervals_missed: self.intervals_missed?,
            },
            "health" => Told::Health {
                head: head?,
                sequence: self.sequence?,
            },
            "duplicate" => Told::Duplicate {
                head: head?,
                sequence: self.sequence?,
            },
            "late" => Told::Late {
                head: head?,
                sequence: self.sequence?,
                intervals_late: self.intervals_late?,
                tips_since: self.tips_since?,
                rain_um: self.rain_um?,
            },
            "restarted" => Told::Restarted {
                head: head?,
                life: self.life?,
            },
            "silent" => Told::Silent {
                head: head?,
                last_heard_us: self.last_heard_us?,
            },
            "refused" => {
                let given = self.reason.as_deref()?;
                let reason = REASONS.into_iter().find(|reason| *reason == given)?;
                Told::Refused {
                    reason,
                    head: if reason == "unknown_head" {
                        Some(head?)
                    } else {
                        None
                    },
                    version: if reason == "unknown_version" {
                        Some(self.version?)
                    } else {
                        None
                    },
                }
            }
            _ => return None,
        })
    }

    pub(crate) fn told(&self) -> Told {
        self.complete().unwrap_or_else(|| {
            let reason = self.reason.as_deref().unwrap_or_default();
            Told::Other(
                format!("{} {reason} without a key it needs", self.event).replace("  ", " "),
            )
        })
    }
}

/// Whether what was said is what must be said: the same events in the same order, but that silences of
/// other heads may stand anywhere ([`Told::Silent`] keeps its place among the events of its own head).
#[must_use]
pub fn agree(said: &[Told], expected: &[Told]) -> bool {
    if said == expected {
        return true;
    }
    said.len() == expected.len()
        && spoken(said) == spoken(expected)
        && silences(said) == silences(expected)
}

fn spoken(events: &[Told]) -> Vec<&Told> {
    events
        .iter()
        .filter(|told| !matches!(told, Told::Silent { .. }))
        .collect()
}

/// Every silence with the number of its head's events before it, in order of heads.
fn silences(events: &[Told]) -> Vec<(HeadId, usize, u64)> {
    let mut found: Vec<_> = events
        .iter()
        .enumerate()
        .filter_map(|(at, told)| match told {
            Told::Silent {
                head,
                last_heard_us,
            } => {
                let before = events[..at]
                    .iter()
                    .filter(|other| other.head() == Some(*head));
                Some((*head, before.count(), *last_heard_us))
            }
            _ => None,
        })
        .collect();
    found.sort();
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    const A: HeadId = HeadId(1);
    const B: HeadId = HeadId(2);

    fn silent(head: HeadId) -> Told {
        Told::Silent {
            head,
            last_heard_us: 5,
        }
    }
    fn health(head: HeadId) -> Told {
        Told::Health { head, sequence: 0 }
    }

    #[test]
    fn silences_of_other_heads_may_stand_anywhere_and_nothing_else() {
        assert!(agree(&[silent(B), health(A)], &[health(A), silent(B)]));
        assert!(agree(&[silent(B), silent(A)], &[silent(A), silent(B)]));
        assert!(!agree(&[silent(A), health(A)], &[health(A), silent(A)]));
        assert!(!agree(&[health(B), health(A)], &[health(A), health(B)]));
        assert!(!agree(&[health(A)], &[health(A), health(A)]));
        assert!(!agree(&[], &[silent(A)]));
    }

    #[test]
    fn what_is_written_is_read_back() {
        let (one, two) = (Some(1), None);
        for told in [
            silent(A),
            health(B),
            Told::refused("stale"),
            Told::of(&Event::Refused(Refusal::UnknownVersion(7))),
            Told::of(&Event::Refused(Refusal::UnknownHead(A))),
            Told::Observation {
                head: A,
                sequence: 2,
                tips_since: one,
                rain_um: two,
                intervals_missed: 4,
            },
        ] {
            let text = json!(told).to_string();
            let raw: RawTold<'_> = serde_json::from_str(&text).expect(&text);
            assert_eq!(raw.told(), told, "{text}");
        }
    }

    #[test]
    fn an_event_that_lacks_a_key_is_told_as_such() {
        for (text, shown) in [
            (r#"{"event":"health","head":"0000000a"}"#, "without a key"),
            (
                r#"{"event":"health","head":"a","sequence":1}"#,
                "without a key",
            ),
            (
                r#"{"event":"refused","reason":"because"}"#,
                "refused because",
            ),
            (r#"{"event":"believed"}"#, "believed without"),
        ] {
            let raw: RawTold<'_> = serde_json::from_str(text).expect(text);
            let told = raw.told();
            assert!(matches!(told, Told::Other(_)), "{told}");
            assert!(told.to_string().contains(shown), "{told}");
        }
    }
}
