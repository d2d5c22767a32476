//! Where the sun stands and what a clear sky lets through.

/// Unit vector towards the sun: east, north, up.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SunDirection {
    /// East component.
    pub east: f64,
    /// North component.
    pub north: f64,
    /// Up component: the sine of the true elevation.
    pub up: f64,
}

impl SunDirection {
    /// Elevation above the true horizon without refraction, degrees.
    #[must_use]
    pub fn elevation_deg(&self) -> f64 {
        libm::asin(self.up.clamp(-1.0, 1.0)).to_degrees()
    }
    /// Azimuth clockwise from true north, degrees in [0, 360).
    #[must_use]
    pub fn azimuth_deg(&self) -> f64 {
        let azimuth = libm::atan2(self.east, self.north).to_degrees();
        if azimuth < 0.0 {
            azimuth + 360.0
        } else {
            azimuth
        }
    }
}
