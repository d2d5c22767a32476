//! Waiting that can be ended from outside.

use super::{PortName, SendOptions, told};
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use std::io;
use std::os::fd::AsFd;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// Longest time until a request to stop is noticed.
const SLICE: Duration = Duration::from_millis(100);

/// Asks everything that shares it to stop waiting, from another thread or a signal.
#[derive(Debug, Clone, Default)]
pub struct Stop(Arc<AtomicBool>);

impl Stop {
    /// Stop.
    pub fn ask(&self) {
        self.0.store(true, Ordering::Relaxed);
    }

    /// Whether it was asked.
    #[must_use]
    pub fn is_asked(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }

    /// # Errors
    /// [`io::ErrorKind::Interrupted`] once it was asked.
    pub(super) fn check(&self) -> io::Result<()> {
        if self.is_asked() {
            return Err(io::Error::new(io::ErrorKind::Interrupted, "stopped"));
        }
        Ok(())
    }

    /// Sleep.
    ///
    /// # Errors
    /// [`io::ErrorKind::Interrupted`] once it was asked.
    pub fn sleep(&self, time: Duration) -> io::Result<()> {
        let end = Instant::now() + time;
        loop {
            self.check()?;
            let left = end.saturating_duration_since(Instant::now());
            if left.is_zero() {
                return Ok(());
            }
            std::thread::sleep(left.min(SLICE));
        }
    }
}

/// A sender's wait for a peer that is not there yet.
pub(super) struct Patience {
    since: Instant,
    has_told: bool,
}

impl Patience {
    /// The wait begins.
    pub(super) fn new() -> Self {
        Self {
            since: Instant::now(),
            has_told: false,
        }
    }

    /// Nobody is there: tell the user the first time, then sleep.
    ///
    /// # Errors
    /// [`io::ErrorKind::TimedOut`], with `advice`, when the options allow no more time;
    /// [`io::ErrorKind::Interrupted`] when asked to stop.
    pub(super) fn go_on(
        &mut self,
        name: &PortName,
        options: &mut SendOptions,
        (waiting, advice): (&str, &str),
        again_after: Duration,
    ) -> io::Result<()> {
        if !std::mem::replace(&mut self.has_told, true) {
            (options.notice)(waiting);
        }
        if options
            .peer_within
            .is_some_and(|limit| self.since.elapsed() >= limit)
        {
            return Err(told(name, io::ErrorKind::TimedOut, advice));
        }
        options.stop.sleep(again_after)
    }
}

/// Whether an error only says that somebody asked to stop.
pub(super) fn is_stop(error: &io::Error) -> bool {
    error.kind() == io::ErrorKind::Interrupted
}

/// What of `events`, hang-up and error there is right now.
pub(super) fn now(fd: impl AsFd, events: PollFlags) -> io::Result<PollFlags> {
    look(fd, events, Duration::ZERO)
}

/// Wait for one of `events`, hang-up or error; empty when `limit` has passed.
///
/// # Errors
/// [`io::ErrorKind::Interrupted`] when asked to stop; else what the operating system says.
pub(super) fn until(
    fd: impl AsFd,
    events: PollFlags,
    limit: Option<Duration>,
    stop: &Stop,
) -> io::Result<PollFlags> {
    let end = limit.map(|limit| Instant::now() + limit);
    loop {
        stop.check()?;
        let left = end.map(|end| end.saturating_duration_since(Instant::now()));
        let found = look(fd.as_fd(), events, left.unwrap_or(SLICE).min(SLICE))?;
        if !found.is_empty() || left.is_some_and(|left| left.is_zero()) {
            return Ok(found);
        }
    }
}

fn look(fd: impl AsFd, events: PollFlags, time: Duration) -> io::Result<PollFlags> {
    let time = Timespec {
        tv_sec: i64::try_from(time.as_secs()).unwrap_or(i64::MAX),
        tv_nsec: time.subsec_nanos().into(),
    };
    let mut fds = [PollFd::from_borrowed_fd(fd.as_fd(), events)];
    match poll(&mut fds, Some(&time)) {
        // A signal: whoever waits looks at its request to stop and comes again.
        Err(rustix::io::Errno::INTR) => Ok(PollFlags::empty()),
        Err(error) => Err(error.into()),
        Ok(_) => Ok(fds[0].revents()),
    }
}
