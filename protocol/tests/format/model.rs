//! The receiver against an oracle that keeps everything it ever heard, over reordering, duplicates,
//! loss and restarts.

use super::samples::{Dice, HEAD, IDENTITY, health_packet, observation_packet};
use benchmast_protocol::frame::Frame;
use benchmast_protocol::receiver::{Config, Event, Receiver};
use proptest::prelude::*;
use std::collections::BTreeMap;
use std::vec::Vec;

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Kind {
    Observation,
    Health,
}

/// A packet as the head knows it: nothing in it wraps.
#[derive(Debug, Clone, Copy)]
struct Sent {
    kind: Kind,
    restarts: u16,
    interval: u64,
    tips: u64,
}

impl Sent {
    fn bytes(self) -> Vec<u8> {
        match self.kind {
            Kind::Observation => observation_packet(self.restarts, self.interval, self.tips),
            Kind::Health => health_packet(self.restarts, self.interval),
        }
    }
}

/// What must be said, without the readings.
#[derive(Debug, PartialEq)]
enum Said {
    Observation {
        sequence: u16,
        tips_since: Option<u64>,
        missed: u64,
    },
    Health {
        sequence: u16,
    },
    Duplicate {
        sequence: u16,
    },
    Late {
        sequence: u16,
        late: u64,
        tips_since: u64,
    },
    Restarted {
        life: u16,
    },
    Stale,
    Other,
}

fn said(event: &Event) -> Said {
    match event {
        Event::Observation(believed) => Said::Observation {
            sequence: believed.sequence,
            tips_since: believed.tips_since.map(u64::from),
            missed: u64::from(believed.intervals_missed),
        },
        Event::Health { sequence, .. } => Said::Health {
            sequence: *sequence,
        },
        Event::Duplicate { sequence, .. } => Said::Duplicate {
            sequence: *sequence,
        },
        Event::Late {
            sequence,
            intervals_late,
            tips_since,
            frame,
            ..
        } => {
            assert!(!matches!(frame, Frame::Identity(_)));
            Said::Late {
                sequence: *sequence,
                late: u64::from(*intervals_late),
                tips_since: u64::from(*tips_since),
            }
        }
        Event::Restarted { life, .. } => Said::Restarted {
            life: u16::from(*life),
        },
        Event::Refused(benchmast_protocol::receiver::Refusal::Stale) => Said::Stale,
        _ => Said::Other,
    }
}

/// Remembers every packet believed, by life and kind.
#[derive(Default)]
struct Oracle {
    heard: BTreeMap<(u16, Kind), BTreeMap<u64, u64>>,
    present: Option<u16>,
    /// The life believed before it.
    former: Option<u16>,
    /// The life that was under way at the first packet: its start is unknown.
    first: u16,
    /// Its counter at its first observation believed.
    base: u64,
}

impl Oracle {
    fn newest(&self, restarts: u16, kind: Kind) -> Option<(u64, u64)> {
        let heard = self.heard.get(&(restarts, kind))?;
        heard
            .last_key_value()
            .map(|(interval, tips)| (*interval, *tips))
    }

    fn hear(&mut self, packet: Sent) -> Vec<Said> {
        let sequence = packet.interval as u16;
        let Sent {
            kind,
            restarts,
            interval,
            tips,
        } = packet;
        let mut all = Vec::new();
        let present = *self.present.get_or_insert_with(|| {
            self.first = restarts;
            restarts
        });
        let newest = self.newest(restarts, kind);
        if restarts > present {
            self.former = Some(present);
            self.present = Some(restarts);
            all.push(Said::Restarted {
                life: restarts % 16,
            });
        } else if restarts < present && self.former != Some(restarts) {
            return [Said::Stale].into();
        } else if let Some((newest, _)) = newest
            && interval + 64 <= newest
        {
            return [Said::Stale].into();
        } else if self
            .heard
            .get(&(restarts, kind))
            .is_some_and(|heard| heard.contains_key(&interval))
        {
            return [Said::Duplicate { sequence }].into();
        } else if restarts < present {
            // Late by the intervals of the present life, and those behind in its own.
            let present_newest = [Kind::Observation, Kind::Health]
                .iter()
                .filter_map(|kind| self.newest(present, *kind))
                .map(|(interval, _)| interval)
                .max();
            let (behind, tips_since) = match newest {
                Some((newest, _)) if interval < newest => (newest - interval, 0),
                Some((_, before)) if kind == Kind::Observation => (0, tips - before),
                None if kind == Kind::Observation && restarts != self.first => (0, tips),
                _ => (0, 0),
            };
            self.heard
                .entry((restarts, kind))
                .or_default()
                .insert(interval, tips);
            let late = present_newest.unwrap() + 1 + behind;
            return [Said::Late {
                sequence,
                late,
                tips_since,
            }]
            .into();
        } else if let Some((newest, _)) = newest
            && interval < newest
        {
            self.heard
                .entry((restarts, kind))
                .or_default()
                .insert(interval, tips);
            return [Said::Late {
                sequence,
                late: newest - interval,
                tips_since: 0,
            }]
            .into();
        }
        let base = match newest {
            Some((at, before)) => Some((at + 1, before)),
            None if restarts == self.first => None,
            None => Some((0, 0)),
        };
        if base.is_none() && kind == Kind::Observation {
            self.base = tips;
        }
        all.push(match kind {
            Kind::Observation => Said::Observation {
                sequence,
                tips_since: base.map(|(_, before)| tips - before),
                missed: base.map_or(0, |(due, _)| interval - due),
            },
            Kind::Health => Said::Health { sequence },
        });
        self.heard
            .entry((restarts, kind))
            .or_default()
            .insert(interval, tips);
        all
    }

    /// Tips up to the last one heard of in each life.
    fn tips(&self) -> u64 {
        let lives = self
            .heard
            .iter()
            .filter(|((_, kind), _)| *kind == Kind::Observation);
        lives
            .map(|((restarts, _), heard)| {
                let last = heard.last_key_value().map_or(0, |(_, tips)| *tips);
                let base = if *restarts == self.first {
                    self.base
                } else {
                    0
                };
                last - base
            })
            .sum()
    }
}

/// Packets in the order of their arrival, with the time of each in microseconds.
fn arrivals(
    seed: u64,
    intervals: u64,
    start: u64,
    loss: u64,
    restarts_of_a_million: u64,
) -> Vec<(u64, Sent)> {
    const INTERVAL_US: u64 = 16_000_000;
    let mut dice = Dice(seed | 1);
    let mut all = Vec::new();
    let (mut restarts, mut interval, mut tips) =
        (dice.below(1000) as u16, start, dice.below(70_000));
    let mut since_restart = 0;
    for at in 1..=intervals {
        since_restart += 1;
        // Lives of 25 intervals and more: shorter ones than the reach of a delay are a dialogue's matter.
        if since_restart > 24 && dice.chance(restarts_of_a_million) {
            restarts += 1;
            (interval, tips, since_restart) = (0, 0, 0);
        } else {
            interval += 1;
            tips += dice.below(3);
        }
        let kinds = [Kind::Observation, Kind::Health];
        let sent = if interval % 64 == 0 || dice.chance(100_000) {
            2
        } else {
            1
        };
        for kind in &kinds[..sent] {
            for copy in 0..=u64::from(dice.chance(100_000)) {
                if dice.chance(loss) {
                    continue;
                }
                // Some are held back by up to two and a half intervals, copies by up to twenty.
                let delay = match (copy, dice.below(4)) {
                    (0, 0) => dice.below(INTERVAL_US * 5 / 2),
                    (0, _) => 0,
                    _ => dice.below(INTERVAL_US * 20),
                };
                let packet = Sent {
                    kind: *kind,
                    restarts,
                    interval,
                    tips,
                };
                all.push((at * INTERVAL_US + delay, packet));
            }
        }
    }
    all.sort_by_key(|(time, _)| *time);
    all
}

fn agree(arrivals: &[(u64, Sent)], clock: bool) {
    let mut receiver = Receiver::<1>::new(Config { silent_after: 0 });
    receiver.adopt(HEAD, IDENTITY).unwrap();
    let mut oracle = Oracle::default();
    for (time, packet) in arrivals {
        receiver.handle_packet(if clock { *time } else { 0 }, &packet.bytes());
        let ours: Vec<Said> = core::iter::from_fn(|| receiver.poll_event())
            .map(|event| said(&event))
            .collect();
        assert_eq!(ours, oracle.hear(*packet), "{packet:?} at {time}");
    }
    assert_eq!(receiver.tips_believed(HEAD), Some(oracle.tips()));
    assert_eq!(receiver.events_lost(), 0);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]
    #[test]
    fn agrees_with_the_oracle(
        seed in any::<u64>(),
        start in 0_u64..70_000,
        loss in 0_u64..600_000,
        restarts in prop_oneof![Just(0_u64), 0_u64..30_000],
        clock in any::<bool>(),
    ) {
        agree(&arrivals(seed, 400, start, loss, restarts), clock);
    }
}

#[test]
fn agrees_with_the_oracle_over_the_wraps() {
    for clock in [false, true] {
        agree(&arrivals(7, 150_000, 100, 300_000, 100), clock);
    }
}
