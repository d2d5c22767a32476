//! What each episode of a fault did while it lasted.

use super::folds::Range;
use super::lanes::Values;
use crate::faults::Episode;
use benchmast_sim::station::Step;

/// What one episode did.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Doing {
    /// Least and greatest effect, per lane.
    pub effect: Range,
    /// Rain of the actual head minus rain of the twin, mm.
    pub rain_mm: f64,
    /// Intervals in which only the twin ran.
    pub dead: u64,
}

impl Doing {
    const NONE: Self = Self {
        effect: Range::EMPTY,
        rain_mm: 0.0,
        dead: 0,
    };
}

/// Follows which episodes are active.
#[derive(Debug)]
pub(super) struct Watch {
    /// Onset and end of every episode, in order of the plan.
    periods: Vec<(i64, i64)>,
    active: Vec<usize>,
    /// When `active` next changes.
    due_us: i64,
    pub doings: Vec<Doing>,
}

impl Watch {
    pub(super) fn new(episodes: &[Episode]) -> Self {
        let periods: Vec<(i64, i64)> = episodes
            .iter()
            .map(|episode| (episode.onset_us, episode.end_us.unwrap_or(i64::MAX)))
            .collect();
        let mut watch = Self {
            doings: vec![Doing::NONE; periods.len()],
            active: Vec::with_capacity(periods.len()),
            due_us: i64::MIN,
            periods,
        };
        watch.turn_to(i64::MIN);
        watch
    }

    #[inline]
    pub(super) fn is_due(&self, time_us: i64) -> bool {
        time_us >= self.due_us
    }

    /// Find the active episodes anew.
    pub(super) fn turn_to(&mut self, time_us: i64) {
        self.active.clear();
        self.due_us = i64::MAX;
        for (index, (onset, end)) in self.periods.iter().enumerate() {
            if *onset <= time_us && time_us < *end {
                self.active.push(index);
            }
            for change in [*onset, *end] {
                if change > time_us {
                    self.due_us = self.due_us.min(change);
                }
            }
        }
    }

    /// Book the effect of one interval on every active episode.
    pub(super) fn note(&mut self, step: &Step, effect: Option<&Values>) {
        let rain_mm = step.actual.rainfall_mm - step.twin.rainfall_mm;
        for index in &self.active {
            let Some(doing) = self.doings.get_mut(*index) else {
                continue;
            };
            doing.dead += u64::from(step.twin.alive && !step.actual.alive);
            doing.rain_mm += if rain_mm.is_finite() { rain_mm } else { 0.0 };
            if let Some(effect) = effect {
                doing.effect.add(effect);
            }
        }
    }
}
