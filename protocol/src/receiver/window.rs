//! Which of the last 64 intervals have been heard.

/// Intervals in which a late packet can be told from a duplicate.
pub(super) const WINDOW: i64 = 64;

/// Where a packet falls.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Place {
    /// This many intervals after the newest.
    Newer(i64),
    /// Not heard before, this many intervals behind the newest.
    Missed(i64),
    /// Heard before.
    Heard,
    /// Behind the window: nobody can tell.
    Behind,
}

/// The newest interval heard and the 63 before it. Intervals are counted without wrapping.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Window {
    newest: i64,
    /// Bit n: interval `newest - n` was heard. All zero: none was, and the next one is new.
    heard: u64,
}

impl Window {
    /// Nothing heard yet; missed intervals count from the one after `before`.
    pub(super) const fn empty(before: i64) -> Self {
        Self {
            newest: before,
            heard: 0,
        }
    }

    /// Everything up to `newest` counts as heard.
    #[cfg(feature = "tags")]
    pub(super) const fn full(newest: i64) -> Self {
        Self {
            newest,
            heard: u64::MAX,
        }
    }

    pub(super) const fn newest(&self) -> i64 {
        self.newest
    }

    /// Whether an interval is inside the window or after it.
    pub(super) fn is_recent(&self, interval: i64) -> bool {
        self.heard != 0 && interval.saturating_sub(self.newest) > -WINDOW
    }

    pub(super) fn place(&self, interval: i64) -> Place {
        let ahead = interval.saturating_sub(self.newest);
        if self.heard == 0 || ahead > 0 {
            Place::Newer(ahead)
        } else if ahead <= -WINDOW {
            Place::Behind
        } else if self.heard >> ahead.unsigned_abs() & 1 == 1 {
            Place::Heard
        } else {
            Place::Missed(-ahead)
        }
    }

    /// Remember an interval; one behind the window changes nothing.
    pub(super) fn mark(&mut self, interval: i64) {
        let ahead = interval.saturating_sub(self.newest);
        if self.heard == 0 || ahead >= WINDOW {
            self.newest = interval;
            self.heard = 1;
        } else if ahead > 0 {
            self.newest = interval;
            self.heard = self.heard << ahead | 1;
        } else if ahead > -WINDOW {
            self.heard |= 1 << ahead.unsigned_abs();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Place, Window};

    #[test]
    fn tells_newer_missed_heard_and_behind() {
        let mut window = Window::empty(-1);
        assert_eq!(window.place(5), Place::Newer(6));
        window.mark(5);
        assert_eq!(window.place(5), Place::Heard);
        assert_eq!(window.place(4), Place::Missed(1));
        window.mark(68);
        assert_eq!(window.place(5), Place::Heard);
        assert_eq!(window.place(6), Place::Missed(62));
        assert_eq!(window.place(4), Place::Behind);
        window.mark(69);
        assert_eq!(window.place(5), Place::Behind);
        window.mark(6);
        assert_eq!(window.place(6), Place::Heard);
        window.mark(1000);
        assert_eq!(window.place(999), Place::Missed(1));
        assert_eq!(window.place(937), Place::Missed(63));
        assert_eq!(window.place(936), Place::Behind);
    }

    #[test]
    fn holds_at_the_ends_of_the_count() {
        let mut window = Window::empty(i64::MAX);
        window.mark(i64::MAX);
        assert_eq!(window.place(i64::MIN), Place::Behind);
        window.mark(i64::MIN);
        assert_eq!(window.place(i64::MAX), Place::Heard);
        let mut window = Window::empty(i64::MIN);
        window.mark(i64::MIN);
        assert_eq!(window.place(i64::MAX), Place::Newer(i64::MAX));
        window.mark(i64::MAX);
        assert_eq!(window.newest(), i64::MAX);
    }
}
