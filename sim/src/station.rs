//! The actual head and its healthy twin under the same weather and the same noise.

pub use crate::head::Reading;

use crate::condition::Condition;
use crate::entropy::Seed;
use crate::head::clock::{Clock, TURN_OVER_DEGC};
use crate::head::noise::NoiseSource;
use crate::head::{Beside, Head, Parameters, Response};
use crate::site::{Place, Site, Surroundings};
use crate::truth::Truth;

/// One interval of a station.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// End of the interval in true time, microseconds since 1970-01-01T00:00:00Z.
    pub time_us: i64,
    /// The head without any fault.
    pub twin: Reading,
    /// The head as it is.
    pub actual: Reading,
}

/// A site with a head on it, and the head's healthy twin.
///
/// Both see the same exposure and the same noise, of which every step draws the same amount. Both keep one
/// time: a head that was off takes up the beat of its twin again, so that their intervals stay paired.
#[derive(Debug, Clone)]
pub struct Station {
    place: Place,
    surroundings: Surroundings,
    noise: NoiseSource,
    clock: Clock,
    next_time_us: i64,
    twin: Head,
    /// `None` until a knob is first turned: up to then the head is its own twin, and one computation
    /// serves both; from then on it is what differs.
    actual: Option<Beside>,
}

impl Station {
    /// A station whose head is given its cells at `start_us` and ends its first interval at
    /// [`Self::next_time_us`]. `name` is the owner of its entropy streams.
    #[must_use]
    pub fn new(
        parameters: &Parameters,
        place: Place,
        site: Site,
        seed: Seed,
        name: &str,
        start_us: i64,
    ) -> Self {
        let mut clock = Clock::new(parameters.clock_ppm, parameters.interval_s)
            .ageing(parameters.clock_ageing_ppm)
            .starting_after(parameters.clock_offset_s);
        // The first interval runs before any temperature is known.
        let next_time_us = start_us + clock.next_interval_us(TURN_OVER_DEGC);
        Self {
            place,
            surroundings: Surroundings::new(site),
            noise: NoiseSource::new(seed, name),
            clock,
            next_time_us,
            twin: Head::new(parameters, &mut seed.stream(name, "calibration")),
            actual: None,
        }
    }

    /// Where the station stands.
    #[must_use]
    pub fn place(&self) -> &Place {
        &self.place
    }

    /// True time at which the current reporting interval ends, the drift of the head's clock included,
    /// microseconds since 1970-01-01T00:00:00Z: the time the next [`Truth`] must be for.
    #[must_use]
    pub fn next_time_us(&self) -> i64 {
        self.next_time_us
    }

    /// The head without any fault.
    #[must_use]
    pub fn twin(&self) -> &Head {
        &self.twin
    }

    /// The head as it is.
    #[must_use]
    pub fn actual(&self) -> Head {
        match &self.actual {
            Some(actual) => actual.head(&self.twin),
            None => self.twin.clone(),
        }
    }

    /// Compute every part of the actual head by itself from now on, even while nothing is wrong with it. Changes
    /// no result; otherwise it is done for the parts whose knobs are turned, while they differ.
    pub fn part(&mut self) {
        match &mut self.actual {
            Some(actual) => actual.compute_all(),
            None => self.actual = Some(Beside::new(&self.twin, true)),
        }
    }

    /// One interval on, both heads. `truth` must end at [`Self::next_time_us`].
    pub fn step(&mut self, truth: &Truth, condition: &Condition) -> Step {
        debug_assert_eq!(
            truth.time_us, self.next_time_us,
            "truth of another interval"
        );
        if self.actual.is_none() && *condition != Condition::HEALTHY {
            self.actual = Some(Beside::new(&self.twin, false));
        }
        let exposure = self.surroundings.expose(truth);
        let response = Response::to(&exposure);
        let noise = self.noise.draw();
        let (twin, actual) = match &mut self.actual {
            Some(actual) => actual.step(&mut self.twin, &exposure, &response, condition, &noise),
            None => {
                let healthy = Condition::HEALTHY;
                let twin = self.twin.step(&exposure, &response, &healthy, &noise);
                (twin, twin)
            }
        };
        self.next_time_us += self.clock.next_interval_us(exposure.air_temperature_degc);
        Step {
            time_us: truth.time_us,
            twin,
            actual,
        }
    }
}

#[cfg(test)]
mod tests;
