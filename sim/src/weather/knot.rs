//! The slow state of the air at a point, given at knots and straight in between.

use super::cloud::Optics;

/// The slow state at one instant.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Slow {
    pub(crate) temperature_degc: f64,
    pub(crate) vapour_pressure_hpa: f64,
    /// At station level.
    pub(crate) pressure_hpa: f64,
    /// At 10 m over open ground.
    pub(crate) wind_ms: f64,
    /// Not confined to a circle: it runs on, so that it can be interpolated.
    pub(crate) wind_from_deg: f64,
    pub(crate) cover: f64,
    pub(crate) optics: Optics,
    /// Upward flux of sensible heat, W/m2.
    pub(crate) heat_flux_wm2: f64,
    /// 0 to 1: how stable the air near the ground is.
    pub(crate) stable: f64,
    /// What the fine structure of temperature, vapour and pressure is multiplied by: 0 where a record's own
    /// value stands.
    pub(crate) fineness: f64,
}

/// A knot.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Knot {
    pub(crate) time_s: f64,
    pub(crate) slow: Slow,
}

/// Two knots and the line between them.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Span {
    first: Knot,
    second: Knot,
    per_second: f64,
}

impl Span {
    pub(crate) fn new(first: Knot, mut second: Knot) -> Self {
        // The shorter way round.
        let turn = second.slow.wind_from_deg - first.slow.wind_from_deg;
        let turn = turn - 360.0 * libm::floor(turn / 360.0 + 0.5);
        second.slow.wind_from_deg = first.slow.wind_from_deg + turn;
        Self {
            first,
            second,
            per_second: 1.0 / (second.time_s - first.time_s),
        }
    }

    pub(crate) fn followed_by(&self, next: Knot) -> Self {
        Self::new(self.second, next)
    }

    pub(crate) fn end_s(&self) -> f64 {
        self.second.time_s
    }

    pub(crate) fn at(&self, time_s: f64) -> Slow {
        let w = ((time_s - self.first.time_s) * self.per_second).clamp(0.0, 1.0);
        let (a, b) = (&self.first.slow, &self.second.slow);
        // This form gives the knots' own values exactly at both ends.
        let v = 1.0 - w;
        let mix = |x: f64, y: f64| x * v + y * w;
        Slow {
            temperature_degc: mix(a.temperature_degc, b.temperature_degc),
            vapour_pressure_hpa: mix(a.vapour_pressure_hpa, b.vapour_pressure_hpa),
            pressure_hpa: mix(a.pressure_hpa, b.pressure_hpa),
            wind_ms: mix(a.wind_ms, b.wind_ms),
            wind_from_deg: mix(a.wind_from_deg, b.wind_from_deg),
            cover: mix(a.cover, b.cover),
            optics: Optics {
                transmission: mix(a.optics.transmission, b.optics.transmission),
                obscured: mix(a.optics.obscured, b.optics.obscured),
                beam: mix(a.optics.beam, b.optics.beam),
            },
            heat_flux_wm2: mix(a.heat_flux_wm2, b.heat_flux_wm2),
            stable: mix(a.stable, b.stable),
            fineness: mix(a.fineness, b.fineness),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn knot(time_s: f64, from: f64) -> Knot {
        let mut knot = Knot {
            time_s,
            ..Knot::default()
        };
        knot.slow.wind_from_deg = from;
        knot
    }

    #[test]
    fn the_direction_takes_the_shorter_way() {
        let span = Span::new(knot(0.0, 350.0), knot(10.0, 20.0));
        assert_eq!(span.at(5.0).wind_from_deg, 365.0);
        let span = span.followed_by(knot(20.0, 300.0));
        assert_eq!(span.at(10.0).wind_from_deg, 380.0);
        assert_eq!(span.at(20.0).wind_from_deg, 300.0);
    }
}
