//! The weather at a point: truth in free air.
//!
//! A region has one slow state (a private module: passing systems, air masses, layers of cloud, rain
//! cells), a function of seed and time; a station samples it at knots, lets the day act on it (surface energy
//! balance) and adds its own fine structure, step by step. Recorded weather gives the knots instead, and gets
//! the same fine structure.

mod breeze;
mod calibration;
pub mod climate;
mod cloud;
mod daylight;
mod knot;
mod local;
mod noise;
mod pressure;
mod rain;
pub mod recorded;
mod region;
mod synoptic;
mod synthetic;
mod temperature;
mod wind;

pub use region::{KM_PER_DEG, Offset, Region};
pub use temperature::long_wave_loss_wm2;

use crate::entropy::Seed;
use crate::site::{Place, Site};
use crate::truth::Truth;
use daylight::Turbidity;
use knot::{Knot, Span};
use local::Local;
use recorded::{Record, RecordError, Recorded};
use synthetic::Synthetic;

/// The weather at one station, from one instant on.
#[derive(Debug, Clone)]
pub struct Weather {
    source: Source,
    span: Span,
    local: Local,
    time_us: i64,
}

#[derive(Debug, Clone)]
enum Source {
    Synthetic(Box<Synthetic>),
    Recorded(Box<Recorded>),
}

impl Source {
    fn next_knot(&mut self) -> Knot {
        match self {
            Self::Synthetic(source) => source.next_knot(),
            Self::Recorded(source) => source.next_knot(),
        }
    }
    fn fall(&mut self, from_s: f64, to_s: f64) -> rain::Fall {
        match self {
            Self::Synthetic(source) => source.fall(from_s, to_s),
            Self::Recorded(source) => source.fall(from_s, to_s),
        }
    }
}

/// Seconds since 1970 of an instant in microseconds.
fn seconds(time_us: i64) -> f64 {
    time_us as f64 * 1e-6
}

impl Weather {
    /// Weather of a region at one place in it.
    ///
    /// `owner` names the station: its own fine structure differs from its neighbour's, while the region's
    /// weather is the same for all of them. `interval_s` is the nominal length of the steps; real ones may
    /// differ from it by the drift of a clock. The surface is spun up before `start_us`, so that the first
    /// day is like any other.
    #[must_use]
    pub fn synthetic(
        region: &Region,
        place: Place,
        site: Site,
        owner: &str,
        start_us: i64,
        interval_s: f64,
    ) -> Self {
        let source = Synthetic::new(region, place, site, owner, seconds(start_us));
        let local = Local::new(
            place,
            region.turbidity,
            site,
            region.seed(),
            owner,
            interval_s,
        );
        Self::begin(Source::Synthetic(Box::new(source)), local, start_us)
    }

    /// Weather filled in between records, whose own values and totals are kept; see [`recorded`].
    ///
    /// `wind_height_m` is the height above open ground at which the recorded wind was measured.
    ///
    /// # Errors
    /// [`RecordError`] when the records are too few, out of order, impossible or leave too long a gap.
    #[expect(
        clippy::too_many_arguments,
        reason = "every one is a fact of the scenario; a struct would only repeat them"
    )]
    pub fn recorded(
        records: &[Record],
        wind_height_m: f64,
        place: Place,
        site: Site,
        seed: Seed,
        owner: &str,
        start_us: i64,
        interval_s: f64,
    ) -> Result<Self, RecordError> {
        let start_s = seconds(start_us);
        let source = Recorded::new(records, wind_height_m, place, seed, owner, start_s)?;
        let local = Local::new(place, Turbidity::USUAL, site, seed, owner, interval_s);
        let source = Source::Recorded(Box::new(source));
        Ok(Self::begin(source, local, start_us))
    }

    fn begin(mut source: Source, local: Local, start_us: i64) -> Self {
        let first = source.next_knot();
        let second = source.next_knot();
        Self {
            source,
            span: Span::new(first, second),
            local,
            time_us: start_us,
        }
    }

    /// Truth over the interval from the last call (or the start) to `until_us`, microseconds since
    /// 1970-01-01T00:00:00Z. An instant at or before the last one gives an interval of no length.
    pub fn advance(&mut self, until_us: i64) -> Truth {
        let until_us = until_us.max(self.time_us);
        let (from_s, to_s) = (seconds(self.time_us), seconds(until_us));
        while self.span.end_s() < to_s {
            self.span = self.span.followed_by(self.source.next_knot());
        }
        let interval_s = (until_us - self.time_us) as f64 * 1e-6;
        self.time_us = until_us;
        let fall = self.source.fall(from_s, to_s);
        let slow = self.span.at(to_s);
        self.local.step(until_us, interval_s, &slow, fall)
    }
}
