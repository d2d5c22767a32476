//! Mains and the receiver's small battery.

use benchmast_sim::entropy::Stream;

const HOUR_US: f64 = 3.6e9;

/// One stretch without mains.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Cut {
    /// First instant without, microseconds since 1970-01-01T00:00:00Z.
    pub start_us: i64,
    /// First instant with mains again.
    pub end_us: i64,
}

/// What a scenario says about mains and battery.
#[derive(Debug, Clone, PartialEq)]
pub struct Parameters {
    /// Cuts at given times, in order, not overlapping.
    pub cuts: Vec<Cut>,
    /// Further cuts at random, a year.
    pub cuts_a_year: f64,
    /// Mean length of the random cuts, h; lengths are exponential.
    pub cut_hours: f64,
    /// Hours that the full battery carries the receiver; 0 for none.
    pub battery_hours: f64,
    /// Hours of mains that fill the empty battery.
    pub charge_hours: f64,
}

impl Default for Parameters {
    /// No cuts; a small battery. Its hours: common practice, no source.
    fn default() -> Self {
        Self {
            cuts: Vec::new(),
            cuts_a_year: 0.0,
            cut_hours: 1.0,
            battery_hours: 4.0,
            charge_hours: 8.0,
        }
    }
}

/// Mains and battery at work. Times must not fall.
#[derive(Debug)]
pub struct Mains {
    cuts: Vec<Cut>,
    next: usize,
    /// The random cut that is or comes next; `None` when there are none.
    random: Option<Cut>,
    mean_gap_us: f64,
    mean_cut_us: f64,
    stream: Stream,
    capacity_h: f64,
    charge_h: f64,
    charge_share: f64,
    mains: bool,
    running: bool,
    time_us: i64,
}

impl Mains {
    /// From `start_us` on, with a full battery.
    #[must_use]
    pub fn new(parameters: &Parameters, start_us: i64, mut stream: Stream) -> Self {
        const YEAR_US: f64 = 8_766.0 * HOUR_US;
        let mean_gap_us = YEAR_US / parameters.cuts_a_year.max(1e-9);
        let mean_cut_us = parameters.cut_hours.max(0.0) * HOUR_US;
        let random = (parameters.cuts_a_year > 0.0)
            .then(|| random_cut(start_us, mean_gap_us, mean_cut_us, &mut stream));
        Self {
            cuts: parameters.cuts.clone(),
            next: 0,
            random,
            mean_gap_us,
            mean_cut_us,
            stream,
            capacity_h: parameters.battery_hours.max(0.0),
            charge_h: parameters.battery_hours.max(0.0),
            charge_share: parameters.battery_hours.max(0.0) / parameters.charge_hours.max(1e-3),
            mains: true,
            running: true,
            time_us: start_us,
        }
    }

    /// Go on to an instant.
    pub fn advance(&mut self, time_us: i64) {
        while self.time_us < time_us {
            let until = self.next_change_us().clamp(self.time_us + 1, time_us);
            let hours = (until - self.time_us) as f64 / HOUR_US;
            if self.mains {
                self.charge_h = (self.charge_h + hours * self.charge_share).min(self.capacity_h);
            } else {
                self.charge_h = (self.charge_h - hours).max(0.0);
            }
            self.time_us = until;
            self.settle();
        }
        self.settle();
    }

    fn settle(&mut self) {
        while self
            .cuts
            .get(self.next)
            .is_some_and(|cut| cut.end_us <= self.time_us)
        {
            self.next += 1;
        }
        while self.random.is_some_and(|cut| cut.end_us <= self.time_us) {
            self.random = Some(random_cut(
                self.time_us,
                self.mean_gap_us,
                self.mean_cut_us,
                &mut self.stream,
            ));
        }
        let within = |cut: Option<&Cut>| cut.is_some_and(|cut| cut.start_us <= self.time_us);
        self.mains = !within(self.cuts.get(self.next)) && !within(self.random.as_ref());
        self.running = self.mains || self.charge_h > 0.0;
    }

    /// When mains comes or goes next, or the battery is empty.
    fn next_change_us(&self) -> i64 {
        let mut next = i64::MAX;
        for cut in self.cuts.get(self.next).iter().copied().chain(&self.random) {
            let at = if cut.start_us > self.time_us {
                cut.start_us
            } else {
                cut.end_us
            };
            next = next.min(at);
        }
        if !self.mains && self.charge_h > 0.0 {
            next = next.min(self.time_us + (self.charge_h * HOUR_US).ceil() as i64);
        }
        next
    }

    /// When the cut that is on now will be over; `None` while there is mains.
    #[must_use]
    pub fn back_us(&self) -> Option<i64> {
        let given = self.cuts.get(self.next).copied();
        let on = |cut: &Cut| cut.start_us <= self.time_us;
        given
            .into_iter()
            .chain(self.random)
            .filter(on)
            .map(|cut| cut.end_us)
            .max()
    }

    /// Whether there is mains.
    #[must_use]
    pub const fn mains(&self) -> bool {
        self.mains
    }
    /// Whether the receiver runs.
    #[must_use]
    pub const fn running(&self) -> bool {
        self.running
    }
    /// Hours that the battery would carry the receiver from now on.
    #[must_use]
    pub const fn battery_hours(&self) -> f64 {
        self.charge_h
    }
}

fn random_cut(from_us: i64, mean_gap_us: f64, mean_cut_us: f64, stream: &mut Stream) -> Cut {
    let start_us = from_us + (stream.exponential() * mean_gap_us).min(1e18) as i64 + 1;
    Cut {
        start_us,
        end_us: start_us + (stream.exponential() * mean_cut_us) as i64 + 1,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use benchmast_sim::entropy::Seed;

    const HOUR: i64 = 3_600_000_000;

    fn mains(parameters: &Parameters) -> Mains {
        Mains::new(parameters, 0, Seed(2).stream("here", "mains"))
    }

    #[test]
    fn the_battery_carries_its_hours_and_fills_again() {
        let cuts = vec![
            Cut {
                start_us: 10 * HOUR,
                end_us: 20 * HOUR,
            },
            Cut {
                start_us: 22 * HOUR,
                end_us: 30 * HOUR,
            },
        ];
        let parameters = Parameters {
            cuts,
            ..Parameters::default()
        };
        for step_us in [16_000_000, 600_000_000, HOUR / 3] {
            let mut mains = mains(&parameters);
            let mut off = 0.0;
            let mut time = 0;
            while time < 40 * HOUR {
                time += step_us;
                mains.advance(time);
                off += if mains.running() {
                    0.0
                } else {
                    step_us as f64 / HOUR_US
                };
            }
            // The first cut leaves 10 - 4 hours dark; two hours of mains bring one hour back, so the second 8 - 1.
            assert!((off - 13.0).abs() < 0.7, "{step_us}: {off}");
            assert!(mains.mains() && (mains.battery_hours() - 4.0).abs() < 1e-9);
        }
    }

    #[test]
    fn a_receiver_without_a_battery_goes_with_the_mains() {
        let parameters = Parameters {
            cuts: vec![Cut {
                start_us: HOUR,
                end_us: 2 * HOUR,
            }],
            battery_hours: 0.0,
            ..Parameters::default()
        };
        let mut mains = mains(&parameters);
        for minute in 0..180 {
            mains.advance(minute * 60_000_000);
            assert_eq!(mains.running(), !(60..120).contains(&minute), "{minute}");
        }
    }

    #[test]
    fn random_cuts_keep_their_number_and_length_whatever_the_step() {
        let parameters = Parameters {
            cuts_a_year: 50.0,
            cut_hours: 2.0,
            ..Parameters::default()
        };
        let dark = |step_us: i64| {
            let mut mains = mains(&parameters);
            let (mut hours, mut cuts, mut before) = (0.0, 0, true);
            for n in 1..=20 * 8_766 * HOUR / step_us {
                mains.advance(n * step_us);
                hours += if mains.mains() {
                    0.0
                } else {
                    step_us as f64 / HOUR_US
                };
                cuts += i32::from(before && !mains.mains());
                before = mains.mains();
            }
            (hours, cuts)
        };
        let (hours, cuts) = dark(HOUR / 20);
        // 1000 cuts of 2 h: standard errors 32 and 63 h or so, and short ones fall between two steps.
        assert!((880..1_100).contains(&cuts), "{cuts}");
        assert!((1_750.0..2_250.0).contains(&hours), "{hours}");
        let (coarse, _) = dark(HOUR / 2);
        assert!((coarse - hours).abs() < 60.0, "{coarse} {hours}");
    }
}
