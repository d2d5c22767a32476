//! One head's ledger: which intervals were heard, and what the tip counter stood at. WIRE.md section 7.

use super::counter::Pace;
use super::event::{Micros, Refusal};
use super::window::{Place, Window};

/// Consecutive packets that contradict the ledger but not each other, after which they are believed.
pub(super) const RESYNC_AFTER: u8 = 3;
/// Furthest apart that two packets may be to speak for each other, intervals.
const RESYNC_REACH: u16 = 64;

/// A packet as the ledger sees it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Entry {
    /// Restart count modulo 16.
    pub(super) life: u8,
    pub(super) sequence: u16,
    /// Tip counter of an observation; `None` for a health report.
    pub(super) tips: Option<u16>,
}

/// What the ledger makes of a packet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Verdict {
    New {
        restarted: bool,
        tips_since: Option<u16>,
        intervals_missed: u32,
    },
    Duplicate,
    Late {
        intervals_late: u32,
        tips_since: u16,
    },
    Refused(Refusal),
}

/// What was heard from a head between two of its restarts.
#[derive(Debug, Clone, Copy)]
struct Life {
    /// Newest interval heard in any packet, counted from the start of the life without wrapping
    /// (from some start unknown, if the life was under way when the receiver came to know it).
    newest: i64,
    /// When that was.
    at: Micros,
    observations: Window,
    reports: Window,
    /// Tip counter of the newest observation; 0 at the start of a life; `None` if there is no base yet.
    tips: Option<u16>,
    number: u8,
}

impl Life {
    fn new(entry: Entry, now: Micros, interval: i64, tips: Option<u16>) -> Self {
        Self {
            newest: interval,
            at: now,
            observations: Window::empty(-1),
            reports: Window::empty(-1),
            tips,
            number: entry.life,
        }
    }

    /// Which interval a sequence number means: of all that fit, the nearest to the one that is due by
    /// the clock. Without a running clock that is the nearest to the newest one heard.
    fn interval_of(&self, sequence: u16, now: Micros, pace: Pace) -> i64 {
        let nearest = i64::from(sequence.wrapping_sub(self.newest as u16) as i16);
        let elapsed = now.saturating_sub(self.at);
        let interval_us = u64::from(pace.interval_s.max(1)) * 1_000_000;
        if nearest >= -0x4000 && elapsed < interval_us << 14 {
            // Nothing to resolve: less than a quarter of the way round on either count.
            return self.newest.saturating_add(nearest);
        }
        // At most 1.9e13, so nothing below can overflow.
        let due = (elapsed / interval_us) as i64;
        let turns = (due - nearest + 0x8000).div_euclid(0x1_0000);
        self.newest.saturating_add(nearest + turns * 0x1_0000)
    }

    fn window(&mut self, entry: Entry) -> &mut Window {
        if entry.tips.is_some() {
            &mut self.observations
        } else {
            &mut self.reports
        }
    }

    /// Enter a packet that is the newest of its kind; says how many of its kind were missed before it.
    fn enter(&mut self, entry: Entry, now: Micros, interval: i64) -> u32 {
        let window = self.window(entry);
        let missed = interval.saturating_sub(window.newest()).saturating_sub(1);
        window.mark(interval);
        if entry.tips.is_some() {
            self.tips = entry.tips;
        }
        if interval >= self.newest {
            self.newest = interval;
            self.at = now;
        }
        u32::try_from(missed.max(0)).unwrap_or(u32::MAX)
    }

    /// Whether a late packet's counter stands where it can have stood, `behind` intervals ago.
    fn counter_fits_late(&self, entry: Entry, behind: i64, pace: Pace) -> bool {
        match (entry.tips, self.tips) {
            (Some(then), Some(newest)) => {
                pace.advance(then, newest, behind.unsigned_abs()).is_some()
            }
            _ => true,
        }
    }
}

/// Observations that contradict the ledger, waiting for others to speak for them.
#[derive(Debug, Clone, Copy, Default)]
struct Witness {
    run: u8,
    life: u8,
    sequence: u16,
    tips: u16,
}

impl Witness {
    /// Hear one more; true when there are enough.
    fn hear(&mut self, entry: Entry, pace: Pace) -> bool {
        let Some(tips) = entry.tips else {
            return false;
        };
        let ahead = entry.sequence.wrapping_sub(self.sequence);
        let same_life = self.run > 0 && self.life == entry.life;
        if same_life && ahead == 0 && tips == self.tips {
            // The same one again is no second witness.
            return false;
        }
        let agrees = same_life
            && (1..=RESYNC_REACH).contains(&ahead)
            && pace.advance(self.tips, tips, u64::from(ahead)).is_some();
        *self = Self {
            run: if agrees { self.run + 1 } else { 1 },
            life: entry.life,
            sequence: entry.sequence,
            tips,
        };
        self.run >= RESYNC_AFTER
    }
}

/// What is known of one head.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Ledger {
    present: Option<Life>,
    /// The life before, whose packets may still be on their way.
    former: Option<Life>,
    witness: Witness,
}

impl Ledger {
    /// Judge a packet and enter it. A packet that is refused leaves the ledger as it was, but for the
    /// note that others may speak for it.
    pub(super) fn judge(&mut self, entry: Entry, now: Micros, pace: Pace) -> Verdict {
        let Some(present) = &mut self.present else {
            return self.begin(entry, now, false);
        };
        if entry.life == present.number {
            return self.judge_present(entry, now, pace);
        }
        if self
            .former
            .is_some_and(|former| former.number == entry.life)
        {
            return self.judge_former(entry, now, pace);
        }
        // Half of the sixteen lives lie ahead, the other half behind.
        if entry.life.wrapping_sub(present.number) & 0x0F > 8 {
            return self.contradict(entry, now, pace, Refusal::Stale);
        }
        self.judge_restart(entry, now, pace)
    }

    /// Start with a packet whose past is unknown: what its counter counted from cannot be told.
    fn begin(&mut self, entry: Entry, now: Micros, restarted: bool) -> Verdict {
        let interval = i64::from(entry.sequence);
        let mut life = Life::new(entry, now, interval, None);
        life.enter(entry, now, interval);
        self.present = Some(life);
        self.witness = Witness::default();
        Verdict::New {
            restarted,
            tips_since: None,
            intervals_missed: 0,
        }
    }

    fn judge_present(&mut self, entry: Entry, now: Micros, pace: Pace) -> Verdict {
        let Some(life) = &mut self.present else {
            return Verdict::Refused(Refusal::Stale);
        };
        let interval = life.interval_of(entry.sequence, now, pace);
        match life.window(entry).place(interval) {
            Place::Newer(ahead) => match (entry.tips, life.tips) {
                (Some(to), Some(from)) => match pace.advance(from, to, ahead.unsigned_abs()) {
                    None => self.contradict_counter(entry, now, pace, interval),
                    tips_since => {
                        self.witness = Witness::default();
                        Verdict::New {
                            restarted: false,
                            tips_since,
                            intervals_missed: life.enter(entry, now, interval),
                        }
                    }
                },
                _ => {
                    if entry.tips.is_some() {
                        self.witness = Witness::default();
                    }
                    life.enter(entry, now, interval);
                    Verdict::New {
                        restarted: false,
                        tips_since: None,
                        intervals_missed: 0,
                    }
                }
            },
            Place::Missed(behind) => {
                if !life.counter_fits_late(entry, behind, pace) {
                    return self.contradict(entry, now, pace, Refusal::Implausible);
                }
                life.window(entry).mark(interval);
                Verdict::Late {
                    intervals_late: behind.unsigned_abs() as u32,
                    tips_since: 0,
                }
            }
            Place::Heard => Verdict::Duplicate,
            Place::Behind if entry.tips.is_none() && life.observations.is_recent(interval) => {
                // The observations say that this is no old report: the newest report must have lied.
                life.reports = Window::empty(-1);
                life.newest = life.observations.newest();
                life.enter(entry, now, interval);
                Verdict::New {
                    restarted: false,
                    tips_since: None,
                    intervals_missed: 0,
                }
            }
            Place::Behind => self.contradict(entry, now, pace, Refusal::Stale),
        }
    }

    /// A packet of the life before: it has been overtaken by the restart, but its counter may tell of
    /// rain that nothing else told of.
    fn judge_former(&mut self, entry: Entry, now: Micros, pace: Pace) -> Verdict {
        let since_restart = self
            .present
            .map_or(0, |life| life.newest.saturating_add(1).max(1));
        let Some(life) = &mut self.former else {
            return Verdict::Refused(Refusal::Stale);
        };
        // No clock here: the life is over, its packets are near its end.
        let at = life.at;
        let interval = life.interval_of(entry.sequence, at, pace);
        let late =
            |behind: i64| u32::try_from(since_restart.saturating_add(behind)).unwrap_or(u32::MAX);
        match life.window(entry).place(interval) {
            Place::Newer(ahead) => {
                let tips_since = match (entry.tips, life.tips) {
                    (Some(to), Some(from)) => pace.advance(from, to, ahead.unsigned_abs()),
                    _ => Some(0),
                };
                let Some(tips_since) = tips_since else {
                    return self.contradict(entry, now, pace, Refusal::Implausible);
                };
                let intervals_missed = life.enter(entry, at, interval);
                if self.witness.hear(entry, pace) {
                    // The life goes on: what looked like a restart was none, or was overtaken by much.
                    life.at = now;
                    core::mem::swap(&mut self.present, &mut self.former);
                    self.witness = Witness::default();
                    return Verdict::New {
                        restarted: false,
                        tips_since: Some(tips_since),
                        intervals_missed,
                    };
                }
                Verdict::Late {
                    intervals_late: late(0),
                    tips_since,
                }
            }
            Place::Missed(behind) => {
                if !life.counter_fits_late(entry, behind, pace) {
                    return self.contradict(entry, now, pace, Refusal::Implausible);
                }
                life.window(entry).mark(interval);
                Verdict::Late {
                    intervals_late: late(behind),
                    tips_since: 0,
                }
            }
            Place::Heard => Verdict::Duplicate,
            Place::Behind => self.contradict(entry, now, pace, Refusal::Stale),
        }
    }

    fn judge_restart(&mut self, entry: Entry, now: Micros, pace: Pace) -> Verdict {
        let interval = i64::from(entry.sequence);
        let elapsed = self.present.map_or(0, |life| now.saturating_sub(life.at));
        // The sequence may have gone round since the start, if the clock leaves room for it.
        let due = elapsed / (u64::from(pace.interval_s.max(1)) * 1_000_000);
        let running = due.saturating_sub(u64::from(entry.sequence)) / 0x1_0000 * 0x1_0000
            + u64::from(entry.sequence)
            + 1;
        let tips_since = match entry.tips {
            Some(tips) => match pace.advance(0, tips, running) {
                Some(tips) => Some(tips),
                None => return self.contradict(entry, now, pace, Refusal::Implausible),
            },
            None => None,
        };
        let mut life = Life::new(entry, now, interval, Some(0));
        let intervals_missed = life.enter(entry, now, interval);
        self.former = self.present;
        self.present = Some(life);
        self.witness = Witness::default();
        Verdict::New {
            restarted: true,
            tips_since,
            intervals_missed,
        }
    }

    /// The sequence goes on, the counter does not: after enough witnesses the counter is taken anew.
    fn contradict_counter(
        &mut self,
        entry: Entry,
        now: Micros,
        pace: Pace,
        interval: i64,
    ) -> Verdict {
        if !self.witness.hear(entry, pace) {
            return Verdict::Refused(Refusal::Implausible);
        }
        self.witness = Witness::default();
        if let Some(life) = &mut self.present {
            life.enter(entry, now, interval);
        }
        Verdict::New {
            restarted: false,
            tips_since: None,
            intervals_missed: 0,
        }
    }

    /// A packet that does not fit: after enough witnesses the head is taken to have restarted unheard.
    fn contradict(&mut self, entry: Entry, now: Micros, pace: Pace, why: Refusal) -> Verdict {
        if !self.witness.hear(entry, pace) {
            return Verdict::Refused(why);
        }
        self.former = self.present;
        self.begin(entry, now, true)
    }
}

#[cfg(test)]
mod tests {
    use super::{Entry, Life, Pace};

    const PACE: Pace = Pace {
        interval_s: 16,
        bucket_um: 300,
    };

    /// WIRE.md W7.3 by trying every candidate.
    fn nearest_to_due(newest: i64, sequence: u16, due: i64) -> i64 {
        (-3..5)
            .map(|turns| (newest & !0xffff) + turns * 0x1_0000 + i64::from(sequence))
            .rev()
            .min_by_key(|interval| (interval - (newest + due)).abs())
            .unwrap()
    }

    #[test]
    fn a_sequence_number_means_the_interval_nearest_to_the_one_due() {
        let entry = Entry {
            life: 0,
            sequence: 0,
            tips: None,
        };
        for newest in [0, 100, 40_000, 65_535, 65_536, 1_000_000] {
            let life = Life::new(entry, 5_000_000, newest, None);
            for due in [
                0, 1, 63, 9_000, 16_383, 16_384, 20_000, 32_767, 32_768, 65_535, 65_536, 100_000,
            ] {
                // Half an interval later than due: whole intervals count.
                let now = 5_000_000 + due as u64 * 16_000_000 + 8_000_000;
                for sequence in 0..=u16::MAX {
                    assert_eq!(
                        life.interval_of(sequence, now, PACE),
                        nearest_to_due(newest, sequence, due),
                        "newest {newest}, due {due}, sequence {sequence}"
                    );
                }
            }
        }
    }

    #[test]
    fn a_clock_set_back_counts_as_standing_still() {
        let entry = Entry {
            life: 0,
            sequence: 0,
            tips: None,
        };
        let life = Life::new(entry, u64::MAX, 7, None);
        assert_eq!(life.interval_of(9, 0, PACE), 9);
        assert_eq!(life.interval_of(65_535, 0, PACE), -1);
    }
}
