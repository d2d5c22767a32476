//! What a place's weather is like over the year: twelve monthly normals.

mod named;

use super::noise::floor;

/// The normals of one calendar month.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Normals {
    /// Mean air temperature, degC.
    pub mean_temperature_degc: f64,
    /// Mean difference of the day's highest and lowest temperature, K.
    pub daily_range_k: f64,
    /// Mean dew point, degC.
    pub mean_dew_point_degc: f64,
    /// Mean rain total, mm.
    pub rain_mm: f64,
    /// Mean number of hours with rain.
    pub wet_hours: f64,
    /// Mean wind speed 10 m above open ground, m/s.
    pub mean_wind_speed_ms: f64,
    /// Where the wind most often comes from, degrees clockwise from true north.
    pub prevailing_direction_deg: f64,
    /// A second direction that the wind often comes from, degrees, and its share of the time, 0 to 1; with
    /// share 0 there is none, as where only one sector is known.
    pub second_direction_deg: f64,
    /// See [`Normals::second_direction_deg`].
    pub second_share: f64,
    /// Mean cloud cover, 0 to 1.
    pub cloud_area_fraction: f64,
    /// Linke turbidity of the cloudless air at air mass 2.
    pub linke_turbidity: f64,
}

/// Linke turbidity where nothing better is known: ordinary clean air (Ineichen & Perez 2002: about 3 in
/// rural mid-latitudes).
pub const USUAL_LINKE_TURBIDITY: f64 = 3.0;

/// Twelve months, January first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Climate {
    /// January to December.
    pub months: [Normals; 12],
}

impl Climate {
    /// The climates that can be named; all are invented. They are stated for the northern hemisphere:
    /// weather south of the equator reads a named climate half a year later (see [`Climate::southern`]).
    pub const NAMES: &'static [&'static str] = &[
        "temperate_maritime",
        "continental",
        "mediterranean",
        "humid_subtropical",
        "arid",
        "subarctic",
        "equatorial",
    ];

    /// A climate by its name, months as in the northern hemisphere.
    #[must_use]
    pub fn by_name(name: &str) -> Option<Self> {
        match name {
            "temperate_maritime" => Some(named::TEMPERATE_MARITIME),
            "continental" => Some(named::CONTINENTAL),
            "mediterranean" => Some(named::MEDITERRANEAN),
            "humid_subtropical" => Some(named::HUMID_SUBTROPICAL),
            "arid" => Some(named::ARID),
            "subarctic" => Some(named::SUBARCTIC),
            "equatorial" => Some(named::EQUATORIAL),
            _ => None,
        }
    }

    /// A climate by its name as it is at a latitude: south of the equator the months are shifted by six
    /// and the prevailing directions mirrored, so that a westerly with a poleward part stays one.
    #[must_use]
    pub fn by_name_at(name: &str, latitude_deg: f64) -> Option<Self> {
        let climate = Self::by_name(name)?;
        Some(if latitude_deg < 0.0 {
            climate.southern()
        } else {
            climate
        })
    }

    /// The same climate on the other hemisphere: half a year later and mirrored north to south.
    #[must_use]
    pub fn southern(&self) -> Self {
        let mut months = self.months;
        months.rotate_left(6);
        let mirrored = |direction_deg: f64| (540.0 - direction_deg).rem_euclid(360.0);
        for month in &mut months {
            month.prevailing_direction_deg = mirrored(month.prevailing_direction_deg);
            month.second_direction_deg = mirrored(month.second_direction_deg);
        }
        Self { months }
    }
}

/// Seconds of the mean Gregorian year.
const YEAR_S: f64 = 365.2425 * 86_400.0;
/// 2000-01-01T00:00:00Z in seconds since 1970.
const MILLENNIUM_S: f64 = 946_684_800.0;

/// Day of the year, 1.0 at the start of 1 January, of the mean Gregorian year: within a day of the
/// calendar's, which is enough for the seasons.
#[must_use]
pub fn day_of_year(time_s: f64) -> f64 {
    let years = (time_s - MILLENNIUM_S) / YEAR_S;
    1.0 + (years - floor(years) as f64) * 365.2425
}

/// A point of the year between two middles of months.
#[derive(Debug, Clone, Copy)]
pub(crate) struct MonthPoint {
    first: usize,
    second: usize,
    weight: f64,
}

impl MonthPoint {
    pub(crate) fn at(time_s: f64) -> Self {
        let position = (day_of_year(time_s) - 1.0) / 365.2425 * 12.0 + 11.5;
        let whole = floor(position);
        let first = whole.rem_euclid(12) as usize;
        Self {
            first,
            second: (first + 1) % 12,
            weight: position - whole as f64,
        }
    }
    pub(crate) fn of(&self, curve: &[f64; 12]) -> f64 {
        curve[self.first] + (curve[self.second] - curve[self.first]) * self.weight
    }
}

/// Values at the middles of the months such that the means of the straight lines between them are the
/// given monthly means (Rymes & Myers 2001 give the idea for daily values; here solved directly).
pub(crate) fn mean_preserving(means: &[f64; 12]) -> [f64; 12] {
    // The mean of a month is 1/8 of each neighbour's knot and 6/8 of its own; diagonally dominant.
    let mut knots = *means;
    for _ in 0..30 {
        for i in 0..12 {
            let neighbours = knots[(i + 11) % 12] + knots[(i + 1) % 12];
            knots[i] = (means[i] - neighbours / 8.0) / 0.75;
        }
    }
    knots
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_name_is_a_climate_with_possible_months() {
        for name in Climate::NAMES {
            let climate = Climate::by_name(name).unwrap();
            for m in climate.months {
                assert!(m.mean_dew_point_degc < m.mean_temperature_degc);
                assert!((0.0..=1.0).contains(&m.cloud_area_fraction));
                assert!((0.0..0.5).contains(&m.second_share));
                assert!((1.5..7.0).contains(&m.linke_turbidity));
                assert!(m.wet_hours < 700.0 && m.rain_mm >= 0.0 && m.daily_range_k > 0.0);
            }
        }
        assert!(Climate::by_name("nowhere").is_none());
    }

    #[test]
    fn the_south_has_its_summer_in_january_and_its_wind_mirrored() {
        let north = Climate::by_name("continental").unwrap();
        let south = Climate::by_name_at("continental", -40.0).unwrap();
        assert_eq!(
            south.months[0].mean_temperature_degc,
            north.months[6].mean_temperature_degc
        );
        assert_eq!(north.months[6].prevailing_direction_deg, 275.0);
        assert_eq!(south.months[0].prevailing_direction_deg, 265.0);
        assert_eq!(south.southern(), north);
    }

    #[test]
    fn lines_between_the_knots_keep_the_monthly_means() {
        let means = [
            1.0, 2.0, 6.0, 9.0, 14.0, 20.0, 22.0, 21.0, 15.0, 9.0, 4.0, 0.0,
        ];
        let knots = mean_preserving(&means);
        for i in 0..12 {
            let mean = 0.75 * knots[i] + (knots[(i + 11) % 12] + knots[(i + 1) % 12]) / 8.0;
            assert!((mean - means[i]).abs() < 1e-9);
        }
    }

    #[test]
    fn the_middle_of_july_reads_july() {
        let curve = core::array::from_fn(|i| i as f64);
        // 2026-07-16T12:00:00Z; months of the mean year are a little unequal to the calendar's.
        let value = MonthPoint::at(1_784_203_200.0).of(&curve);
        assert!((value - 6.0).abs() < 0.1, "{value}");
    }
}
