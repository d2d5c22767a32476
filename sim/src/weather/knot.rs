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
    /// What blows beside it where the record says calm, m/s; nothing at the record's own instant.
    pub(crate) light_air_ms: f64,
    /// Not confined to a circle: it runs on, so that it can be interpolated.
    pub(crate) wind_from_deg: f64,
    pub(crate) cover: f64,
    pub(crate) optics: Optics,
    /// Upward flux of sensible heat, W/m2.
    pub(crate) heat_flux_wm2: f64,
    /// Wet-bulb temperature, degC.
    pub(crate) wet_bulb_degc: f64,
    /// Share of what falls that is snow, 0 to 1.
    pub(crate) solid_share: f64,
    /// How dense the fog is, 0 to 1.
    pub(crate) fog: f64,
    /// Net long-wave irradiance of an upward plane at air temperature, W/m2; negative is a loss.
    pub(crate) net_longwave_wm2: f64,
    /// 0 to 1: how stable the air near the ground is.
    pub(crate) stable: f64,
    /// What the slower part of the fine structure is multiplied by: 0 where a record's own value stands.
    pub(crate) freedom: f64,
    /// The same for the eddies, which are back within [`RECOVERY_S`] of a record; not given at knots but
    /// worked out from their freedom.
    pub(crate) fineness: f64,
}

/// Time from a record's instant in which eddies grow to their full size, s.
const RECOVERY_S: f64 = 90.0;

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
        let fineness = self.fineness(time_s);
        let light_air_ms = mix(a.light_air_ms, b.light_air_ms);
        Slow {
            temperature_degc: mix(a.temperature_degc, b.temperature_degc),
            vapour_pressure_hpa: mix(a.vapour_pressure_hpa, b.vapour_pressure_hpa),
            pressure_hpa: mix(a.pressure_hpa, b.pressure_hpa),
            wind_ms: mix(a.wind_ms, b.wind_ms) + fineness * light_air_ms,
            light_air_ms,
            wind_from_deg: mix(a.wind_from_deg, b.wind_from_deg),
            cover: mix(a.cover, b.cover),
            optics: Optics {
                transmission: mix(a.optics.transmission, b.optics.transmission),
                obscured: mix(a.optics.obscured, b.optics.obscured),
                beam: mix(a.optics.beam, b.optics.beam),
            },
            heat_flux_wm2: mix(a.heat_flux_wm2, b.heat_flux_wm2),
            wet_bulb_degc: mix(a.wet_bulb_degc, b.wet_bulb_degc),
            solid_share: mix(a.solid_share, b.solid_share),
            fog: mix(a.fog, b.fog),
            net_longwave_wm2: mix(a.net_longwave_wm2, b.net_longwave_wm2),
            stable: mix(a.stable, b.stable),
            freedom: mix(a.freedom, b.freedom),
            fineness,
        }
    }

    /// Smooth from 0 at a knot that stands for a record to 1 a little way off; 0 between two such knots,
    /// which is where records are held beyond their ends.
    fn fineness(&self, time_s: f64) -> f64 {
        let pinned = |knot: &Knot| knot.slow.freedom == 0.0;
        let away_s = match (pinned(&self.first), pinned(&self.second)) {
            (false, false) => return 1.0,
            (true, true) => return 0.0,
            (true, false) => time_s - self.first.time_s,
            (false, true) => self.second.time_s - time_s,
        };
        let x = (away_s * (1.0 / RECOVERY_S)).clamp(0.0, 1.0);
        x * x * (3.0 - 2.0 * x)
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
    fn eddies_vanish_at_a_record_alone() {
        let free = |time_s: f64, freedom: f64| {
            let mut knot = knot(time_s, 0.0);
            knot.slow.freedom = freedom;
            knot
        };
        let mut span = Span::new(free(0.0, 0.7), free(600.0, 0.0));
        let fineness = |span: &Span, time_s: f64| span.at(time_s).fineness;
        assert_eq!(fineness(&span, 500.0), 1.0);
        assert_eq!(fineness(&span, 555.0), 0.5);
        assert_eq!(fineness(&span, 600.0), 0.0);
        span = span.followed_by(free(1200.0, 1.0));
        assert_eq!(fineness(&span, 600.0), 0.0);
        assert_eq!(fineness(&span, 645.0), 0.5);
        assert_eq!(fineness(&span, 690.0), 1.0);
        span = span.followed_by(free(1800.0, 1.0));
        assert_eq!(fineness(&span, 1200.0), 1.0);
        assert_eq!(
            fineness(&Span::new(free(0.0, 0.0), free(9.0, 0.0)), 5.0),
            0.0
        );
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
