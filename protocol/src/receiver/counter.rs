//! The tip counter: how far it may move between two packets.

/// How a head is set, as far as its counters are concerned.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Pace {
    /// Reporting interval, s, 1 or more.
    pub(super) interval_s: u16,
    /// Rain depth of one tip, micrometres, 1 or more.
    pub(super) bucket_um: u16,
}

/// Highest rain rate that is believed, micrometres per hour: the upper end of the range that
/// WMO-No. 8 asks of rainfall-intensity gauges, 2000 mm/h (from memory).
const FASTEST_RAIN_UM_PER_HOUR: u64 = 2_000_000;

impl Pace {
    /// Most tips in some intervals at the fastest rain, and one for the water already in the bucket.
    pub(super) fn most_tips(self, intervals: u64) -> u64 {
        let depth_um = intervals
            .saturating_mul(u64::from(self.interval_s))
            .saturating_mul(FASTEST_RAIN_UM_PER_HOUR)
            / 3600;
        depth_um / u64::from(self.bucket_um.max(1)) + 1
    }

    /// Tips from one reading of the counter to a later one, modulo 65536; `None` when no rain is so fast,
    /// which is also how a counter that ran backwards shows.
    pub(super) fn advance(self, from: u16, to: u16, intervals: u64) -> Option<u16> {
        let tips = to.wrapping_sub(from);
        // One tip is always allowed: the common case needs no division.
        (tips <= 1 || u64::from(tips) <= self.most_tips(intervals)).then_some(tips)
    }
}

#[cfg(test)]
mod tests {
    use super::Pace;

    const PACE: Pace = Pace {
        interval_s: 16,
        bucket_um: 300,
    };

    #[test]
    fn the_limit_is_2000_mm_an_hour_and_one_tip() {
        // 2000 mm/h * 16 s = 8.888 mm = 29.6 tips of 0.3 mm.
        assert_eq!(PACE.most_tips(1), 29 + 1);
        assert_eq!(PACE.advance(0, 30, 1), Some(30));
        assert_eq!(PACE.advance(0, 31, 1), None);
        // 225 intervals are one hour: 6666 tips.
        assert_eq!(PACE.most_tips(225), 6667);
    }

    #[test]
    fn wraps_forwards_and_refuses_backwards() {
        assert_eq!(PACE.advance(65_530, 4, 1), Some(10));
        assert_eq!(PACE.advance(4, 3, 1), None);
        assert_eq!(PACE.advance(4, 65_530, 100), None);
    }

    #[test]
    fn no_overflow_at_the_ends() {
        let slow = Pace {
            interval_s: u16::MAX,
            bucket_um: 0,
        };
        assert_eq!(slow.advance(1, 0, u64::MAX), Some(u16::MAX));
    }
}
