//! The receiver's surroundings: mains and its small battery, the way to the network, the sky it sees, and
//! its clock.
//!
//! Each part is a function of time and of its own entropy stream; none of them looks at what is received.

pub mod backhaul;
pub mod clock;
pub mod mains;
pub mod sky;

use backhaul::Backhaul;
use benchmast_sim::entropy::Seed;
use benchmast_sim::site::Place;
use clock::Clock;
use mains::Mains;
use sky::{Fix, Sky};
use std::collections::VecDeque;

/// A state of the surroundings is worked out this often, microseconds.
pub const STATE_EVERY_US: i64 = 900_000_000;

/// What a scenario says about the receiver's surroundings. The default is a good place: no cuts, no
/// outages, a clock set by the network.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Parameters {
    /// Mains and battery.
    pub mains: mains::Parameters,
    /// The way to the network.
    pub backhaul: backhaul::Parameters,
    /// The sky; `None` where there is no satellite receiver, and the network alone sets the clock.
    pub sky: Option<sky::Parameters>,
    /// Frequency error of the receiver's clock while nothing sets it, parts per million.
    pub clock_ppm: f64,
}

impl Parameters {
    /// Whether nothing can go wrong, so that the surroundings need not be worked out.
    #[must_use]
    pub fn is_perfect(&self) -> bool {
        *self == Self::default()
    }
}

/// The state of the surroundings at one instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct State {
    /// When, microseconds since 1970-01-01T00:00:00Z.
    pub time_us: i64,
    /// Whether there is mains.
    pub mains: bool,
    /// Whether the receiver runs, on mains or on its battery.
    pub running: bool,
    /// Hours that the battery would carry the receiver from now on.
    pub battery_hours: f64,
    /// Whether the way to the network is open.
    pub backhaul: bool,
    /// The position fix; `None` without a satellite receiver or while the receiver is off.
    pub fix: Option<Fix>,
    /// The receiver's clock less true time, s.
    pub clock_offset_s: f64,
    /// Observations that wait in the receiver for the network.
    pub backlog: u32,
    /// Age of the newest observation that the network has, s.
    pub behind_s: f64,
    /// Observations lost since the start because the receiver's store was full.
    pub overflowed: u32,
}

/// The receiver's surroundings at work. Times must not fall.
#[derive(Debug)]
pub struct Room {
    mains: Mains,
    backhaul: Backhaul,
    sky: Option<Sky>,
    clock: Clock,
    next_us: i64,
    last_us: i64,
    state: State,
    /// Observations on their way: when they were made, and when they arrive.
    waiting: VecDeque<(i64, i64)>,
    newest_us: i64,
    overflowed: u32,
}

impl Room {
    /// The surroundings of the receiver of the station `name`, from `start_us` on.
    #[must_use]
    pub fn new(
        parameters: &Parameters,
        place: &Place,
        seed: Seed,
        name: &str,
        start_us: i64,
    ) -> Self {
        let stream = |component| seed.stream(name, component);
        let mut room = Self {
            mains: Mains::new(&parameters.mains, start_us, stream("room mains")),
            backhaul: Backhaul::new(&parameters.backhaul, start_us, stream("room backhaul")),
            sky: parameters
                .sky
                .as_ref()
                .map(|sky| Sky::new(sky, place, stream("room sky"))),
            clock: Clock::new(parameters.clock_ppm, stream("room clock")),
            next_us: start_us,
            last_us: start_us,
            state: State {
                time_us: start_us,
                mains: true,
                running: true,
                battery_hours: parameters.mains.battery_hours,
                backhaul: true,
                fix: None,
                clock_offset_s: 0.0,
                backlog: 0,
                behind_s: 0.0,
                overflowed: 0,
            },
            waiting: VecDeque::new(),
            newest_us: start_us,
            overflowed: 0,
        };
        room.advance(start_us);
        room
    }

    /// Go on to an instant. Returns the state whenever one is due, every [`STATE_EVERY_US`].
    pub fn advance(&mut self, time_us: i64) -> Option<State> {
        let seconds = (time_us - self.last_us).max(0) as f64 * 1e-6;
        self.last_us = time_us;
        self.mains.advance(time_us);
        let running = self.mains.running();
        let due = time_us >= self.next_us;
        if due {
            self.next_us += STATE_EVERY_US * (1 + (time_us - self.next_us) / STATE_EVERY_US);
            self.state.fix = self
                .sky
                .as_mut()
                .map(|sky| sky.fix(time_us))
                .filter(|_| running);
        }
        let open = self.backhaul.open(time_us) && self.mains.mains();
        let set = running && (open || self.state.fix.is_some_and(|fix| fix.is_fix()));
        while let Some((made_us, _)) = self.waiting.front().filter(|way| way.1 <= time_us) {
            self.newest_us = *made_us;
            self.waiting.pop_front();
        }
        self.state = State {
            time_us,
            mains: self.mains.mains(),
            running,
            battery_hours: self.mains.battery_hours(),
            backhaul: open,
            fix: self.state.fix,
            clock_offset_s: self.clock.advance(seconds, running, set),
            backlog: self.waiting.len() as u32,
            behind_s: (time_us - self.newest_us) as f64 * 1e-6,
            overflowed: self.overflowed,
        };
        due.then_some(self.state)
    }

    /// The state at the last instant gone on to.
    #[must_use]
    pub fn state(&self) -> &State {
        &self.state
    }

    /// The receiver believes an observation: it goes to the network now, or waits for the way to open.
    ///
    /// A cut of the mains closes the way for as long as it lasts, so what is believed then waits as well.
    pub fn believed(&mut self, time_us: i64) {
        match self.backhaul.delivered_us(time_us) {
            Some(arrives_us) => self.waiting.push_back((
                time_us,
                arrives_us.max(self.mains.back_us().unwrap_or(arrives_us)),
            )),
            None => self.overflowed += 1,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOUR_US: i64 = 3_600_000_000;
    const PLACE: Place = Place {
        latitude_deg: 51.0,
        longitude_deg: 4.0,
        altitude_m: 20.0,
    };

    #[test]
    fn a_good_place_is_always_on_and_on_time() {
        let parameters = Parameters::default();
        assert!(parameters.is_perfect());
        let mut room = Room::new(&parameters, &PLACE, Seed(1), "s", 0);
        for hour in 0..2_000 {
            room.advance(hour * HOUR_US);
            let state = room.state();
            assert!(state.mains && state.running && state.backhaul);
            assert_eq!(state.clock_offset_s, 0.0);
            room.believed(hour * HOUR_US);
            room.advance(hour * HOUR_US + 1);
            assert_eq!((room.state().backlog, room.state().overflowed), (0, 0));
            assert!(room.state().behind_s < 1.0);
        }
    }

    #[test]
    fn without_mains_the_way_to_the_network_is_closed_and_the_clock_runs_free() {
        let parameters = Parameters {
            mains: mains::Parameters {
                cuts: vec![mains::Cut {
                    start_us: 10 * HOUR_US,
                    end_us: 20 * HOUR_US,
                }],
                battery_hours: 4.0,
                ..mains::Parameters::default()
            },
            clock_ppm: 10.0,
            ..Parameters::default()
        };
        let mut room = Room::new(&parameters, &PLACE, Seed(1), "s", 0);
        for minute in 0..30 * 60 {
            room.advance(minute * 60_000_000);
            let hours = minute as f64 / 60.0;
            let state = *room.state();
            assert_eq!(state.mains, !(10.0..20.0).contains(&hours));
            // At the very minute rounding decides.
            if minute != 14 * 60 {
                assert_eq!(state.running, !(14.0..20.0).contains(&hours), "{hours}");
            }
            assert_eq!(state.backhaul, state.mains);
        }
        // Four hours at 10 ppm are 0.144 s, set right again when the network is back.
        let mut room = Room::new(&parameters, &PLACE, Seed(1), "s", 0);
        room.advance(10 * HOUR_US);
        for minute in 601..=838 {
            room.advance(minute * 60_000_000);
        }
        let offset = room.state().clock_offset_s.abs();
        assert!((0.05..0.25).contains(&offset), "{offset}");
        room.advance(21 * HOUR_US);
        assert_eq!(room.state().clock_offset_s, 0.0);
    }
}
