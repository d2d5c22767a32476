//! How fast simulated time passes for whoever listens.
//!
//! Instants are slept for by an absolute schedule, so that late wake-ups do not add up.

use crate::ports::Stop;
use std::fmt;
use std::io::{self, BufRead};
use std::str::FromStr;
use std::time::{Duration, Instant};

/// How fast simulated time passes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Pace {
    /// One second a second.
    Real,
    /// So many seconds a second, above 0.
    Times(f64),
    /// As fast as the port takes it.
    Max,
    /// One step each time somebody asks for it.
    Step,
}

/// A pace that cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "{text:?} is no pace; allowed are real, max, step, or a number above 0 with an x, as in 60x{hint}"
)]
pub struct PaceError {
    text: String,
    hint: String,
}

impl FromStr for Pace {
    type Err = PaceError;

    fn from_str(text: &str) -> Result<Self, PaceError> {
        match text {
            "real" => return Ok(Self::Real),
            "max" => return Ok(Self::Max),
            "step" => return Ok(Self::Step),
            _ => {}
        }
        let factor = |number: &str| {
            number
                .parse()
                .ok()
                .filter(|x| *x > 0.0 && f64::is_finite(*x))
        };
        if let Some(factor) = text.strip_suffix('x').and_then(factor) {
            return Ok(Self::Times(factor));
        }
        let number = text.trim_matches(['x', 'X', '*', '×', ' ']);
        let meant = if factor(number).is_some() {
            Some(format!("{number}x"))
        } else {
            let lower = text.trim().to_lowercase();
            ["real", "max", "step"]
                .into_iter()
                .find(|word| strsim::damerau_levenshtein(&lower, word) <= 1)
                .map(str::to_owned)
        };
        Err(PaceError {
            text: text.to_owned(),
            hint: meant.map_or_else(String::new, |meant| format!("; did you mean {meant}?")),
        })
    }
}

impl fmt::Display for Pace {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Real => f.write_str("real"),
            Self::Times(factor) => write!(f, "{factor}x"),
            Self::Max => f.write_str("max"),
            Self::Step => f.write_str("step"),
        }
    }
}

/// A clock that can be slept on.
pub trait Clock {
    /// Time since the clock was made.
    fn now(&self) -> Duration;
    /// Come back after about this long; `false` when waiting is over for good.
    fn sleep(&mut self, time: Duration) -> bool;
}

/// The machine's monotonic clock, whose sleep can be ended from outside.
#[derive(Debug, Clone)]
pub struct Monotonic {
    from: Instant,
    stop: Stop,
}

impl Monotonic {
    /// From now on, until asked to stop.
    #[must_use]
    pub fn new(stop: Stop) -> Self {
        Self {
            from: Instant::now(),
            stop,
        }
    }
}

impl Clock for Monotonic {
    fn now(&self) -> Duration {
        self.from.elapsed()
    }
    fn sleep(&mut self, time: Duration) -> bool {
        self.stop.sleep(time).is_ok()
    }
}

/// Asks for the next step; `false` when no more are wanted.
pub type Trigger = Box<dyn FnMut() -> io::Result<bool> + Send>;

/// Holds simulated instants back until their time has come.
pub struct Pacer<C: Clock = Monotonic> {
    pace: Pace,
    clock: C,
    trigger: Trigger,
    /// Clock time and simulated time that belong together.
    anchor: Option<(Duration, i64)>,
    behind: Duration,
}

impl<C: Clock + fmt::Debug> fmt::Debug for Pacer<C> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Pacer")
            .field("pace", &self.pace)
            .field("clock", &self.clock)
            .field("anchor", &self.anchor)
            .field("behind", &self.behind)
            .finish_non_exhaustive()
    }
}

impl Pacer {
    /// On the machine's clock, until asked to stop; [`Pace::Step`] takes a step for each line on standard
    /// input and ends with it.
    #[must_use]
    pub fn new(pace: Pace, stop: Stop) -> Self {
        Self::with(pace, Monotonic::new(stop), Box::new(line_on_stdin))
    }
}

impl<C: Clock> Pacer<C> {
    /// With a clock and a trigger of the caller's.
    #[must_use]
    pub fn with(pace: Pace, clock: C, trigger: Trigger) -> Self {
        Self {
            pace,
            clock,
            trigger,
            anchor: None,
            behind: Duration::ZERO,
        }
    }

    /// From now on the simulated instant `time_us` is this very moment: at the start, and after a wait
    /// that is not to be made up for.
    pub fn start(&mut self, time_us: i64) {
        self.anchor = Some((self.clock.now(), time_us));
    }

    /// Come back when the simulated instant `time_us` (microseconds) has come; `false` when the one who
    /// asks for steps wants no more, or waiting is over for good. Without a [`Pacer::start`] the first instant is this very moment.
    ///
    /// # Errors
    /// What the trigger says.
    pub fn wait(&mut self, time_us: i64) -> io::Result<bool> {
        let factor = match self.pace {
            Pace::Max => return Ok(true),
            Pace::Step => return (self.trigger)(),
            Pace::Real => 1.0,
            Pace::Times(factor) => factor,
        };
        let (from, from_us) = *self.anchor.get_or_insert((self.clock.now(), time_us));
        let due = from + span(time_us.saturating_sub(from_us), factor);
        loop {
            let now = self.clock.now();
            let Some(left) = due.checked_sub(now).filter(|left| !left.is_zero()) else {
                self.behind = now.saturating_sub(due);
                return Ok(true);
            };
            if !self.clock.sleep(left) {
                return Ok(false);
            }
        }
    }

    /// How long after its time the last instant was let go.
    #[must_use]
    pub const fn behind(&self) -> Duration {
        self.behind
    }
}

/// How long a stretch of simulated time takes, to the nanosecond.
fn span(simulated_us: i64, factor: f64) -> Duration {
    let simulated = Duration::from_micros(u64::try_from(simulated_us).unwrap_or(0));
    Duration::try_from_secs_f64(simulated.as_secs_f64() / factor).unwrap_or(Duration::MAX / 4)
}

fn line_on_stdin() -> io::Result<bool> {
    let mut line = Vec::new();
    Ok(io::stdin().lock().read_until(b'\n', &mut line)? > 0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Arc;
    use std::sync::atomic::{AtomicU32, Ordering};

    /// Every sleep takes a little longer than asked.
    #[derive(Debug)]
    struct Sluggish(Duration);

    const EXTRA: Duration = Duration::from_millis(3);

    impl Clock for Sluggish {
        fn now(&self) -> Duration {
            self.0
        }
        fn sleep(&mut self, time: Duration) -> bool {
            self.0 += time + EXTRA;
            true
        }
    }

    fn pacer(pace: Pace) -> Pacer<Sluggish> {
        let none = Box::new(|| panic!("nobody asks"));
        Pacer::with(pace, Sluggish(Duration::from_secs(5)), none)
    }

    #[test]
    fn paces_read_as_they_are_written() {
        for (text, pace) in [
            ("real", Pace::Real),
            ("max", Pace::Max),
            ("step", Pace::Step),
            ("60x", Pace::Times(60.0)),
            ("0.5x", Pace::Times(0.5)),
        ] {
            assert_eq!(text.parse(), Ok(pace));
            assert_eq!(pace.to_string(), text);
        }
    }

    #[test]
    fn what_is_no_pace_is_told_with_the_way_out() {
        for (text, hint) in [
            ("60", Some("60x")),
            ("x60", Some("60x")),
            ("60X", Some("60x")),
            ("Real", Some("real")),
            ("maxx", Some("max")),
            ("setp", Some("step")),
            ("", None),
            ("0x", None),
            ("-1x", None),
            ("infx", None),
            ("nanx", None),
            ("fast", None),
        ] {
            let message = text.parse::<Pace>().expect_err(text).to_string();
            assert!(message.contains("allowed are real, max, step"), "{message}");
            match hint {
                Some(hint) => assert!(
                    message.ends_with(&format!("did you mean {hint}?")),
                    "{message}"
                ),
                None => assert!(!message.contains("did you mean"), "{message}"),
            }
        }
    }

    #[test]
    fn lateness_does_not_add_up() {
        for (pace, factor) in [(Pace::Real, 1), (Pace::Times(60.0), 60)] {
            let mut pacer = pacer(pace);
            pacer.start(1_000_000);
            let begin = pacer.clock.now();
            for n in 1..=10_000_i64 {
                assert!(pacer.wait(1_000_000 + n * 16_000_000).expect("no trigger"));
                let due = Duration::from_micros(n as u64 * 16_000_000 / factor);
                let late = (pacer.clock.now() - begin).checked_sub(due);
                // Never early by more than the microsecond that the division above cuts off.
                let late = late.unwrap_or_else(|| panic!("early at {n}"));
                assert!(late <= EXTRA + Duration::from_micros(1), "{late:?} at {n}");
            }
            assert!(pacer.behind() <= EXTRA);
        }
    }

    #[test]
    fn an_instant_whose_time_is_past_goes_at_once_and_the_lateness_is_told() {
        let mut pacer = pacer(Pace::Real);
        pacer.wait(0).expect("no trigger");
        pacer.clock.0 += Duration::from_secs(100);
        let before = pacer.clock.now();
        pacer.wait(16_000_000).expect("no trigger");
        assert_eq!(pacer.clock.now(), before);
        assert_eq!(pacer.behind(), Duration::from_secs(84));
        pacer.start(32_000_000);
        pacer.wait(32_000_000).expect("no trigger");
        assert_eq!(pacer.behind(), Duration::ZERO);
    }

    #[test]
    fn the_machine_is_never_early() {
        let mut pacer = Pacer::new(Pace::Times(1_000.0), Stop::default());
        let begin = Instant::now();
        pacer.start(0);
        for n in 1..=20 {
            pacer.wait(n * 1_000_000).expect("no trigger");
            assert!(begin.elapsed() >= Duration::from_millis(n as u64));
        }
    }

    #[test]
    fn a_step_is_taken_for_each_call_until_no_more_are_wanted() {
        let asked = Arc::new(AtomicU32::new(0));
        let count = Arc::clone(&asked);
        let trigger = Box::new(move || Ok(count.fetch_add(1, Ordering::Relaxed) < 2));
        let mut pacer = Pacer::with(Pace::Step, Monotonic::new(Stop::default()), trigger);
        let steps: Vec<bool> = (0..3).map(|n| pacer.wait(n).expect("no input")).collect();
        assert_eq!(steps, [true, true, false]);
        assert_eq!(asked.load(Ordering::Relaxed), 3);
    }

    #[test]
    fn at_full_speed_nothing_is_waited_for() {
        let mut pacer = pacer(Pace::Max);
        assert!((0..1_000).all(|n| pacer.wait(n * 1_000_000_000).expect("no trigger")));
        assert_eq!(pacer.clock.now(), Duration::from_secs(5));
    }

    #[test]
    fn a_long_wait_ends_when_asked_to_stop() {
        let stop = Stop::default();
        let mut pacer = Pacer::new(Pace::Real, stop.clone());
        pacer.start(0);
        let asker = std::thread::spawn(move || {
            std::thread::sleep(Duration::from_millis(50));
            stop.ask();
        });
        let goes_on = pacer.wait(3_600_000_000).expect("a wait");
        assert!(!goes_on);
        asker.join().expect("asked");
    }
}
