//! The place and its surroundings: what of the free air reaches the head.

/// Where a station stands on the Earth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Latitude, degrees north, -90 to 90.
    pub latitude_deg: f64,
    /// Longitude, degrees east, -180 to 180.
    pub longitude_deg: f64,
    /// Height of the barometer above mean sea level, m.
    pub altitude_m: f64,
}

/// The surroundings of the head.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Site {
    /// Height of the cups above ground, m.
    pub height_m: f64,
    /// Roughness length of the surroundings, m.
    pub roughness_length_m: f64,
}

impl Default for Site {
    fn default() -> Self {
        Self {
            height_m: 2.0,
            roughness_length_m: 0.1,
        }
    }
}
