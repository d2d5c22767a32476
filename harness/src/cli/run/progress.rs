//! How far a run has come, over all its stations, and its end on Ctrl-C.

use crate::plan::Plan;
use crate::ports::Stop;
use crate::row::{Row, Sink};
use indicatif::{ProgressBar, ProgressStyle};
use std::io::{self, IsTerminal};
use std::time::Duration;

/// Intervals between two looks at the bar.
const SHOWN_EVERY: u64 = 5400;

/// One bar for all stations of a run.
#[derive(Debug, Clone)]
pub(super) struct Progress {
    bar: ProgressBar,
    stop: Stop,
}

fn seconds(plan: &Plan) -> u64 {
    u64::try_from((plan.end_us - plan.start_us) / 1_000_000).unwrap_or(0)
}

impl Progress {
    /// A bar, where somebody is watching. `threads` stations run at once.
    pub(super) fn new(plans: &[Plan], threads: usize, stop: Stop) -> Self {
        let whole = plans.iter().map(seconds).sum();
        let bar = if io::stderr().is_terminal() {
            ProgressBar::new(whole)
        } else {
            ProgressBar::hidden()
        };
        if let Ok(style) =
            ProgressStyle::with_template("{wide_bar} {percent} %  {msg}  {eta} to go")
        {
            bar.set_style(style);
        }
        if plans.len() > 1 {
            bar.set_message(format!("{} stations, {threads} at once", plans.len()));
        }
        bar.enable_steady_tick(Duration::from_millis(200));
        Self { bar, stop }
    }

    /// The part of one station.
    pub(super) fn of(&self, plan: &Plan, is_alone: bool) -> Part {
        Part {
            progress: self.clone(),
            start_us: plan.start_us,
            whole_s: seconds(plan),
            shown_s: 0,
            intervals: 0,
            is_alone,
        }
    }

    /// End the other stations, too: one has failed.
    pub(super) fn give_up(&self) {
        self.stop.ask();
    }

    pub(super) fn finish(&self) {
        self.bar.finish_and_clear();
    }
}

/// Follows one station.
#[derive(Debug)]
pub(super) struct Part {
    progress: Progress,
    start_us: i64,
    whole_s: u64,
    shown_s: u64,
    intervals: u64,
    is_alone: bool,
}

impl Part {
    fn show(&mut self, seconds: u64) {
        self.progress.bar.inc(seconds.saturating_sub(self.shown_s));
        self.shown_s = seconds;
    }

    /// The station is through.
    pub(super) fn done(&mut self) {
        self.show(self.whole_s);
    }
}

impl Sink for Part {
    fn interval(&mut self, row: &Row<'_>) -> io::Result<()> {
        self.intervals += 1;
        if self.progress.stop.is_asked() {
            return Err(io::ErrorKind::Interrupted.into());
        }
        if self.intervals.is_multiple_of(SHOWN_EVERY) {
            let seconds = (row.step.time_us - self.start_us) / 1_000_000;
            self.show(u64::try_from(seconds).unwrap_or(0));
            if self.is_alone {
                let days = format!("{} days", seconds / 86_400);
                self.progress.bar.set_message(days);
            }
        }
        Ok(())
    }
}
