//! When a fault is there, and how bad.

use super::Fault;
use benchmast_sim::condition::Condition;
use std::collections::BTreeSet;

/// How a fault sets in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shape {
    /// At once.
    Step,
    /// Linearly from 0 to its severity over this time, s.
    Ramp {
        /// Duration of the ramp, s.
        over_s: f64,
    },
    /// On for a share of each period, off for the rest.
    Intermittent {
        /// Length of a period, s.
        period_s: f64,
        /// Share of the period in which it is on, 0 to 1.
        duty: f64,
    },
}

impl Shape {
    /// The word a scenario uses for it.
    #[must_use]
    pub fn word(&self) -> &'static str {
        match self {
            Self::Step => "step",
            Self::Ramp { .. } => "ramp",
            Self::Intermittent { .. } => "intermittent",
        }
    }
}

/// One stretch of one fault.
#[derive(Debug, Clone, Copy)]
pub struct Episode {
    /// Which fault.
    pub fault: &'static Fault,
    /// When it sets in, microseconds since 1970-01-01T00:00:00Z.
    pub onset_us: i64,
    /// When it is put right; `None` for never.
    pub end_us: Option<i64>,
    /// How it sets in.
    pub shape: Shape,
    /// How bad it gets, 0 to 1.
    pub severity: f64,
}

impl PartialEq for Episode {
    fn eq(&self, other: &Self) -> bool {
        self.fault.id == other.fault.id
            && self.onset_us == other.onset_us
            && self.end_us == other.end_us
            && self.shape == other.shape
            && self.severity.total_cmp(&other.severity).is_eq()
    }
}

impl Episode {
    /// How bad the fault is at a time, 0 to the episode's severity.
    #[must_use]
    pub fn severity_at(&self, time_us: i64) -> f64 {
        if time_us < self.onset_us || self.end_us.is_some_and(|end| time_us >= end) {
            return 0.0;
        }
        let since_s = time_us.saturating_sub(self.onset_us) as f64 / 1e6;
        match self.shape {
            Shape::Step => self.severity,
            Shape::Ramp { over_s } => self.severity * (since_s / over_s).min(1.0),
            Shape::Intermittent { period_s, duty } => {
                if since_s % period_s < duty * period_s {
                    self.severity
                } else {
                    0.0
                }
            }
        }
    }
}

/// Which bit of a run's cause mask stands for which fault.
///
/// Bits are given out per run, in the order of the ids, and every file of the run says which is which: a
/// catalogue may then grow beyond the bits of a mask.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Causes {
    ids: Vec<&'static str>,
}

impl Causes {
    /// Different faults that one run may have: the mask is a signed 64-bit number in the files.
    pub const MOST: usize = 63;

    /// For these episodes. Faults beyond [`Self::MOST`] get no bit; the catalogue is far from it.
    #[must_use]
    pub fn new(episodes: &[Episode]) -> Self {
        let ids: BTreeSet<_> = episodes.iter().map(|episode| episode.fault.id).collect();
        Self {
            ids: ids.into_iter().take(Self::MOST).collect(),
        }
    }

    /// The mask of one fault; 0 for one that is not of this run.
    #[must_use]
    pub fn mask(&self, fault: &Fault) -> u64 {
        self.ids
            .binary_search(&fault.id)
            .map_or(0, |place| 1 << place)
    }

    /// Mask and id of each fault, lowest bit first.
    pub fn iter(&self) -> impl Iterator<Item = (u64, &'static str)> + '_ {
        self.ids
            .iter()
            .enumerate()
            .map(|(place, id)| (1 << place, *id))
    }
}

/// All episodes of a run.
#[derive(Debug, Clone, Default)]
pub struct Schedule {
    episodes: Vec<(Episode, u64)>,
}

impl Schedule {
    /// From the episodes of a plan, in any order.
    #[must_use]
    pub fn new(episodes: &[Episode]) -> Self {
        let causes = Causes::new(episodes);
        let with_mask = |episode: &Episode| (*episode, causes.mask(episode.fault));
        Self {
            episodes: episodes.iter().map(with_mask).collect(),
        }
    }

    /// The condition of the station at a time, and the faults that are active with a severity above 0, as
    /// a mask of [`Causes`].
    #[must_use]
    pub fn at(&self, time_us: i64) -> (Condition, u64) {
        let mut condition = Condition::HEALTHY;
        let mut causes = 0;
        for (episode, mask) in &self.episodes {
            let severity = episode.severity_at(time_us);
            if severity > 0.0 {
                (episode.fault.apply)(&mut condition, severity);
                causes |= mask;
            }
        }
        (condition, causes)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::faults::{CATALOGUE, by_id};

    const SECOND: i64 = 1_000_000;

    fn episode(shape: Shape) -> Episode {
        Episode {
            fault: by_id("vane_stuck").unwrap_or(CATALOGUE[0]),
            onset_us: 100 * SECOND,
            end_us: Some(300 * SECOND),
            shape,
            severity: 0.8,
        }
    }

    #[test]
    fn a_step_is_there_from_onset_until_just_before_its_end() {
        let step = episode(Shape::Step);
        for (time, severity) in [(99, 0.0), (100, 0.8), (299, 0.8), (300, 0.0)] {
            assert_eq!(step.severity_at(time * SECOND), severity, "{time} s");
        }
    }

    #[test]
    fn a_ramp_grows_evenly_and_then_stays() {
        let ramp = episode(Shape::Ramp { over_s: 100.0 });
        for (time, severity) in [(100, 0.0), (150, 0.4), (200, 0.8), (250, 0.8)] {
            assert!(
                (ramp.severity_at(time * SECOND) - severity).abs() < 1e-12,
                "{time} s"
            );
        }
    }

    #[test]
    fn an_intermittent_fault_comes_and_goes() {
        let shape = Shape::Intermittent {
            period_s: 40.0,
            duty: 0.25,
        };
        let flicker = episode(shape);
        for (time, severity) in [(100, 0.8), (109, 0.8), (110, 0.0), (139, 0.0), (140, 0.8)] {
            assert_eq!(flicker.severity_at(time * SECOND), severity, "{time} s");
        }
    }

    #[test]
    fn the_schedule_names_only_what_is_active() {
        let schedule = Schedule::new(&[episode(Shape::Step)]);
        assert_eq!(schedule.at(0), (Condition::HEALTHY, 0));
        let (condition, causes) = schedule.at(150 * SECOND);
        assert_ne!(condition, Condition::HEALTHY);
        assert_eq!(causes, 1);
    }

    #[test]
    fn bits_follow_the_ids_whatever_the_order_of_episodes() {
        let of = |id: &str| Episode {
            fault: by_id(id).unwrap_or(CATALOGUE[0]),
            ..episode(Shape::Step)
        };
        let one = [of("vane_stuck"), of("arrow_misaligned"), of("vane_stuck")];
        let other = [of("arrow_misaligned"), of("vane_stuck")];
        assert_eq!(Causes::new(&one), Causes::new(&other));
        let named: Vec<_> = Causes::new(&one).iter().collect();
        assert_eq!(named, [(1, "arrow_misaligned"), (2, "vane_stuck")]);
        assert_eq!(Causes::new(&other).mask(one[0].fault), 2);
        assert_eq!(Causes::new(&other).mask(of("rh_stuck_wet").fault), 0);
    }
}
