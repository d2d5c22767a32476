//! Recorded weather: a series of observations drives the head, filled in between the records.

/// One record. What was not observed is `None` and is filled in from its neighbours.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Record {
    /// When, microseconds since 1970-01-01T00:00:00Z.
    pub time_us: i64,
    /// Air temperature at that time, degC.
    pub air_temperature_degc: Option<f64>,
    /// Dew point at that time, degC.
    pub dew_point_degc: Option<f64>,
    /// Pressure reduced to mean sea level at that time, hPa.
    pub air_pressure_at_mean_sea_level_hpa: Option<f64>,
    /// Wind speed at that time, m/s, at `wind_height_m`.
    pub wind_speed_ms: Option<f64>,
    /// Where the wind comes from at that time, degrees.
    pub wind_from_direction_deg: Option<f64>,
    /// Rain since the record before, mm.
    pub rainfall_mm: Option<f64>,
    /// Cloud cover at that time, 0 to 1.
    pub cloud_area_fraction: Option<f64>,
}
