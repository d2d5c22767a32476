//! Scenes of simulated weather at an invented place, and their pictures.

pub mod search;

use benchmast::report::gallery::{Picture, period};
use benchmast_sim::entropy::Seed;
use benchmast_sim::site::{Place, Site};
use benchmast_sim::truth::Truth;
use benchmast_sim::weather::climate::Climate;
use benchmast_sim::weather::{Region, Weather};

/// Where the scenes are.
pub const PLACE_NAME: &str = "Vale of Orrin";
/// An invented vale in the middle latitudes, near the meridian: UTC is the sun's time.
pub const PLACE: Place = Place {
    latitude_deg: 53.1,
    longitude_deg: -1.9,
    altitude_m: 95.0,
};
/// Its climate, by name.
pub const CLIMATE: &str = "temperate_maritime";
/// Length of a step.
pub const INTERVAL_US: i64 = 16_000_000;
/// An hour, microseconds.
pub const HOUR_US: i64 = 3_600_000_000;

/// One stretch of weather.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scene {
    /// Name of the file, without its ending.
    pub name: &'static str,
    /// What the picture is headed.
    pub title: &'static str,
    /// Of the region's weather.
    pub seed: u64,
    /// First hour: year, month, day, hour UTC.
    pub start: (i16, i8, i8, i8),
    /// Length.
    pub hours: i64,
}

/// The scenes of the gallery, found by [`search`].
pub const SCENES: [Scene; 4] = [
    Scene {
        name: "winter_week",
        title: "A winter week",
        seed: 4,
        start: (2026, 2, 17, 0),
        hours: 168,
    },
    Scene {
        name: "summer_week",
        title: "A summer week",
        seed: 5,
        start: (2026, 6, 10, 0),
        hours: 168,
    },
    Scene {
        name: "cold_front",
        title: "A cold front",
        seed: 2,
        start: (2026, 10, 20, 0),
        hours: 30,
    },
    Scene {
        name: "shower",
        title: "A day with a shower",
        seed: 4,
        start: (2026, 6, 13, 0),
        hours: 24,
    },
];

impl Scene {
    /// First instant, microseconds since 1970-01-01T00:00:00Z.
    ///
    /// # Panics
    /// When the start is not in the calendar.
    #[must_use]
    pub fn start_us(&self) -> i64 {
        let (year, month, day, hour) = self.start;
        let start = jiff::civil::date(year, month, day).at(hour, 0, 0, 0);
        let start = jiff::tz::Offset::UTC.to_timestamp(start);
        start.expect("an instant of the calendar").as_microsecond()
    }

    /// Last instant.
    #[must_use]
    pub fn end_us(&self) -> i64 {
        self.start_us() + self.hours * HOUR_US
    }

    /// The picture, an SVG file.
    #[must_use]
    pub fn draw(&self) -> String {
        let period_us = (self.start_us(), self.end_us());
        let title = format!("{}, {}", self.title, period(period_us.0, period_us.1));
        let note = format!("Simulated; {PLACE_NAME} is invented. Seed {}.", self.seed);
        let mut picture = Picture::new(&title, &note, PLACE.altitude_m, period_us, 16);
        watch(self.seed, period_us, |truth| picture.add(truth));
        picture.svg()
    }
}

/// Every interval of a period of one seed's weather.
///
/// # Panics
/// Never: the climate exists.
pub fn watch(seed: u64, period_us: (i64, i64), mut tell: impl FnMut(&Truth)) {
    let climate = Climate::by_name(CLIMATE).expect("a named climate");
    let region = Region::new(&climate, PLACE, Seed(seed));
    let start_us = period_us.0;
    let mut weather =
        Weather::synthetic(&region, PLACE, Site::default(), "gallery", start_us, 16.0);
    let mut time_us = start_us;
    while time_us < period_us.1 {
        time_us += INTERVAL_US;
        tell(&weather.advance(time_us));
    }
}
