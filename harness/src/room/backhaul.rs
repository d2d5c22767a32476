//! The way from the receiver to the network: outages, and catching up after them.

use benchmast_sim::entropy::Stream;

const HOUR_US: f64 = 3.6e9;

/// What a scenario says about the way to the network.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parameters {
    /// Outages at random, a year.
    pub outages_a_year: f64,
    /// Mean length of an outage, h; lengths are exponential.
    pub outage_hours: f64,
    /// What the receiver can keep, h; what is older is lost.
    pub store_hours: f64,
    /// How much faster than real time it catches up: 60 sends an hour's backlog in a minute.
    pub catch_up: f64,
}

impl Default for Parameters {
    /// No outages; three days of store. Common practice, no source.
    fn default() -> Self {
        Self {
            outages_a_year: 0.0,
            outage_hours: 3.0,
            store_hours: 72.0,
            catch_up: 60.0,
        }
    }
}

/// Outages, made as far ahead as they are asked for.
#[derive(Debug)]
struct Outages {
    stream: Stream,
    mean_gap_us: f64,
    mean_length_us: f64,
    start_us: i64,
    end_us: i64,
}

impl Outages {
    fn new(parameters: &Parameters, start_us: i64, stream: Stream) -> Self {
        const YEAR_US: f64 = 8_766.0 * HOUR_US;
        let mut outages = Self {
            stream,
            mean_gap_us: YEAR_US / parameters.outages_a_year.max(1e-12),
            mean_length_us: parameters.outage_hours.max(0.0) * HOUR_US,
            start_us,
            end_us: start_us,
        };
        outages.draw();
        outages
    }
    fn draw(&mut self) {
        let gap = (self.stream.exponential() * self.mean_gap_us).min(1e17);
        self.start_us = self.end_us + gap as i64;
        self.end_us = self.start_us + (self.stream.exponential() * self.mean_length_us) as i64;
    }
    /// The outage in which an instant lies, as (start, end).
    fn at(&mut self, time_us: i64) -> Option<(i64, i64)> {
        while self.end_us <= time_us {
            self.draw();
        }
        (self.start_us <= time_us).then_some((self.start_us, self.end_us))
    }
}

/// The way at work. The two questions are independent of each other; the times of each must not fall.
#[derive(Debug)]
pub struct Backhaul {
    now: Option<Outages>,
    rows: Option<Outages>,
    store_us: f64,
    catch_up: f64,
    /// The way is busy with the backlog until then.
    busy_us: i64,
    /// What was asked for last.
    last_us: i64,
}

impl Backhaul {
    /// From `start_us` on.
    #[must_use]
    pub fn new(parameters: &Parameters, start_us: i64, stream: Stream) -> Self {
        let any = parameters.outages_a_year > 0.0;
        let outages = any.then(|| Outages::new(parameters, start_us, stream.clone()));
        Self {
            now: outages,
            rows: any.then(|| Outages::new(parameters, start_us, stream)),
            store_us: parameters.store_hours.max(0.0) * HOUR_US,
            catch_up: parameters.catch_up.max(1.0),
            busy_us: i64::MIN,
            last_us: start_us,
        }
    }

    /// Whether the way is open.
    pub fn open(&mut self, time_us: i64) -> bool {
        self.now
            .as_mut()
            .is_none_or(|outages| outages.at(time_us).is_none())
    }

    /// When what was observed at an instant reaches the network; `None` when the store overflows first.
    pub fn delivered_us(&mut self, observed_us: i64) -> Option<i64> {
        let since_us = (observed_us - self.last_us).max(0) as f64;
        self.last_us = observed_us;
        let Some(outages) = &mut self.rows else {
            return Some(observed_us);
        };
        if let Some((start_us, end_us)) = outages.at(observed_us) {
            // First in, first out: the oldest is sent first when the way opens.
            let waited = (end_us - observed_us) as f64;
            if waited > self.store_us {
                return None;
            }
            let kept_from = start_us.max(end_us - self.store_us as i64);
            let sent_us = end_us + ((observed_us - kept_from) as f64 / self.catch_up) as i64;
            self.busy_us = self.busy_us.max(sent_us);
            return Some(sent_us);
        }
        // What comes while the backlog is on its way queues behind it, and the queue drains.
        if self.busy_us > observed_us {
            self.busy_us += (since_us / self.catch_up) as i64;
            return Some(self.busy_us);
        }
        Some(observed_us)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use benchmast_sim::entropy::Seed;

    const STEP_US: i64 = 16_000_000;

    fn backhaul(parameters: &Parameters) -> Backhaul {
        Backhaul::new(parameters, 0, Seed(3).stream("here", "backhaul"))
    }

    #[test]
    fn without_outages_everything_is_on_time() {
        let mut backhaul = backhaul(&Parameters::default());
        for n in 0..10_000 {
            assert!(backhaul.open(n * STEP_US));
            assert_eq!(backhaul.delivered_us(n * STEP_US), Some(n * STEP_US));
        }
    }

    #[test]
    fn nothing_is_early_order_is_kept_and_the_backlog_drains() {
        let parameters = Parameters {
            outages_a_year: 100.0,
            outage_hours: 2.0,
            ..Parameters::default()
        };
        let mut backhaul = backhaul(&parameters);
        let (mut last, mut late, mut shut) = (i64::MIN, 0_u32, 0_u32);
        let steps = 365 * 5_400;
        for n in 0..steps {
            let time = n * STEP_US;
            shut += u32::from(!backhaul.open(time));
            let delivered = backhaul
                .delivered_us(time)
                .expect("three days are never filled");
            assert!(
                delivered >= time && delivered >= last,
                "{time}: {delivered} after {last}"
            );
            last = delivered;
            late += u32::from(delivered > time);
        }
        // 200 h in a year are 2.3 %; what queues behind a backlog adds a sixtieth or so.
        let share = f64::from(late) / steps as f64;
        assert!((0.015..0.035).contains(&share), "{share}");
        assert!(
            late > shut && f64::from(late) < 1.1 * f64::from(shut),
            "{late} {shut}"
        );
    }

    #[test]
    fn a_small_store_loses_the_oldest() {
        let parameters = Parameters {
            outages_a_year: 50.0,
            outage_hours: 10.0,
            store_hours: 1.0,
            ..Parameters::default()
        };
        let mut backhaul = backhaul(&parameters);
        let (mut lost, mut kept) = (0, 0);
        for n in 0..365 * 5_400 {
            let time = n * STEP_US;
            let open = backhaul.open(time);
            match backhaul.delivered_us(time) {
                None => {
                    assert!(!open);
                    lost += 1;
                }
                Some(delivered) if !open => {
                    assert!(delivered - time <= 3_660_000_000, "{}", delivered - time);
                    kept += 1;
                }
                Some(_) => {}
            }
        }
        assert!(lost > 3 * kept && kept > 0, "{lost} {kept}");
    }
}
