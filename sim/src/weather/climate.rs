//! What a place's weather is like over the year: twelve monthly normals.

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
    /// Mean cloud cover, 0 to 1.
    pub cloud_area_fraction: f64,
}

/// Twelve months, January first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Climate {
    /// January to December.
    pub months: [Normals; 12],
}

impl Climate {
    /// The climates that can be named; all are invented.
    pub const NAMES: &'static [&'static str] = &["temperate_maritime", "continental"];
    /// A climate by its name.
    #[must_use]
    pub fn by_name(_name: &str) -> Option<Self> {
        None
    }
}
