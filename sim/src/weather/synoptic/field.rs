//! The field of sea-level pressure: moving lows and highs, and the wind that balances it.
//!
//! Plane coordinates count from the region's reference point: x east, y towards the pole, km. South of the
//! equator the plane is the mirror image, so that one set of formulas serves both hemispheres.

/// Seconds in an hour.
pub(crate) const HOUR_S: f64 = 3600.0;
/// Geostrophic wind, m/s, per hPa/km of pressure gradient at 45 degrees: `1/(rho f)` with 1.2 kg/m3 and
/// 1.031e-4 /s (Holton 2004, eq. 2.23).
const GEOSTROPHIC: f64 = 808.0;
/// Relative vorticity of the geostrophic wind over the Coriolis parameter of 45 degrees, per hPa/km2 there.
const VORTICITY: f64 = 808.0e-3 / 1.031e-4;

/// Pressure and its derivatives at one point and instant: hPa, hPa/km, hPa/km2.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Jet {
    pub(crate) p: f64,
    pub(crate) x: f64,
    pub(crate) y: f64,
    pub(crate) xx: f64,
    pub(crate) xy: f64,
    pub(crate) yy: f64,
}

/// A low or a high on a straight track.
///
/// Its shape is `A / (1 + r2/a2)^2`: flat in the middle, steepest at 0.45 a, with tails that let go; it is
/// drawn out along one axis. It grows and decays as `(1 - (t/life)^2)^2` about its peak. Shapes and sizes:
/// common practice, no source.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Vortex {
    /// Instant of closest approach, s since 1970, and where its centre is then, km.
    pub(crate) nearest_s: f64,
    pub(crate) x_km: f64,
    pub(crate) y_km: f64,
    /// Velocity, km/h.
    pub(crate) vx: f64,
    pub(crate) vy: f64,
    pub(crate) peak_s: f64,
    /// Half its whole life, h.
    pub(crate) life_h: f64,
    /// Amplitude at the peak, hPa; negative for a low.
    pub(crate) amplitude_hpa: f64,
    /// Size `a` along its long axis, km; how much smaller across; and the axis as a unit vector.
    pub(crate) size_km: f64,
    pub(crate) stretch: f64,
    pub(crate) axis: (f64, f64),
}

/// Beyond this many squared sizes a vortex is not felt (below a two-hundredth of its depth).
const REACH: f64 = 13.0;

impl Vortex {
    pub(crate) const NONE: Self = Self {
        nearest_s: 0.0,
        x_km: 0.0,
        y_km: 0.0,
        vx: 0.0,
        vy: 0.0,
        peak_s: f64::NEG_INFINITY,
        life_h: 1.0,
        amplitude_hpa: 0.0,
        size_km: 1.0,
        stretch: 1.0,
        axis: (1.0, 0.0),
    };

    /// Whether it lives at any time of an interval.
    pub(crate) fn lives(&self, from_s: f64, to_s: f64) -> bool {
        let half_s = HOUR_S * self.life_h;
        self.peak_s - half_s < to_s && self.peak_s + half_s > from_s
    }

    /// Share of its full amplitude at an instant.
    pub(crate) fn grown(&self, time_s: f64) -> f64 {
        let age = (time_s - self.peak_s) / (HOUR_S * self.life_h);
        let rest = 1.0 - age * age;
        if rest > 0.0 { rest * rest } else { 0.0 }
    }

    /// Adds its pressure and derivatives.
    #[inline]
    pub(crate) fn add(&self, time_s: f64, x_km: f64, y_km: f64, jet: &mut Jet) {
        let grown = self.grown(time_s);
        if grown == 0.0 {
            return;
        }
        let hours = (time_s - self.nearest_s) * (1.0 / HOUR_S);
        let dx = x_km - self.x_km - self.vx * hours;
        let dy = y_km - self.y_km - self.vy * hours;
        let (c, s) = self.axis;
        let (along, across) = (c * dx + s * dy, c * dy - s * dx);
        let per = 1.0 / (self.size_km * self.size_km);
        let wide = per * self.stretch * self.stretch;
        let q = along * along * per + across * across * wide - 0.05;
        if q > REACH {
            return;
        }
        let k = 1.0 / (1.05 + q);
        let a = self.amplitude_hpa * grown * k * k;
        let (first, second) = (-2.0 * a * k, 6.0 * a * k * k);
        let (qu, qv) = (2.0 * along * per, 2.0 * across * wide);
        let (pu, pv) = (first * qu, first * qv);
        let uu = second * qu * qu + 2.0 * first * per;
        let vv = second * qv * qv + 2.0 * first * wide;
        let uv = second * qu * qv;
        jet.p += a;
        jet.x += c * pu - s * pv;
        jet.y += s * pu + c * pv;
        jet.xx += c * c * uu - 2.0 * c * s * uv + s * s * vv;
        jet.yy += s * s * uu + 2.0 * c * s * uv + c * c * vv;
        jet.xy += c * s * (uu - vv) + (c * c - s * s) * uv;
    }
}

/// A vortex at one instant, ready to be asked for wind alone.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Still {
    x_km: f64,
    y_km: f64,
    axis: (f64, f64),
    per: f64,
    wide: f64,
    a: f64,
}

impl Vortex {
    /// The vortex at an instant; `None` when it does not live then.
    #[inline]
    pub(crate) fn still(&self, time_s: f64) -> Option<Still> {
        let grown = self.grown(time_s);
        if grown == 0.0 {
            return None;
        }
        let hours = (time_s - self.nearest_s) * (1.0 / HOUR_S);
        let per = 1.0 / (self.size_km * self.size_km);
        Some(Still {
            x_km: self.x_km + self.vx * hours,
            y_km: self.y_km + self.vy * hours,
            axis: self.axis,
            per,
            wide: per * self.stretch * self.stretch,
            a: self.amplitude_hpa * grown,
        })
    }
}

impl Still {
    /// Adds its gradient (hPa/km) and the Laplacian of its pressure (hPa/km2): the same as [`Vortex::add`],
    /// less what only the curvature of the wind needs.
    #[inline]
    pub(crate) fn add(&self, x_km: f64, y_km: f64, gradient: &mut (f64, f64), laplacian: &mut f64) {
        let (dx, dy) = (x_km - self.x_km, y_km - self.y_km);
        let (c, s) = self.axis;
        let (along, across) = (c * dx + s * dy, c * dy - s * dx);
        let (u, v) = (along * self.per, across * self.wide);
        let q = along * u + across * v - 0.05;
        if q > REACH {
            return;
        }
        let k = 1.0 / (1.05 + q);
        let first = -2.0 * self.a * k * k * k;
        let (pu, pv) = (2.0 * first * u, 2.0 * first * v);
        gradient.0 += c * pu - s * pv;
        gradient.1 += s * pu + c * pv;
        *laplacian += first * (2.0 * (self.per + self.wide) - 12.0 * k * (u * u + v * v));
    }
}

impl Jet {
    /// Geostrophic wind (east, poleward), m/s; `coriolis` is the Coriolis parameter over that of 45 degrees.
    pub(crate) fn geostrophic_ms(&self, coriolis: f64) -> (f64, f64) {
        let scale = GEOSTROPHIC / coriolis;
        (-scale * self.y, scale * self.x)
    }

    /// Relative vorticity of the geostrophic wind over the Coriolis parameter of 45 degrees: what friction makes of
    /// it, the pumping of air out of the layer near the ground, goes with the vorticity itself.
    pub(crate) fn vorticity(&self, coriolis: f64) -> f64 {
        (self.xx + self.yy) * VORTICITY / coriolis
    }

    /// Curvature of the isobars, 1/km, positive around a low: `(p_xx p_y^2 - 2 p_xy p_x p_y + p_yy p_x^2) /
    /// |grad p|^3`, bounded.
    fn curvature(&self) -> f64 {
        let square = self.x * self.x + self.y * self.y;
        if square < 1e-8 {
            return 0.0;
        }
        let bent =
            self.xx * self.y * self.y - 2.0 * self.xy * self.x * self.y + self.yy * self.x * self.x;
        (bent / (square * square.sqrt())).clamp(-1.0 / SHARPEST_KM, 1.0 / SHARPEST_KM)
    }
}

/// Smallest radius of the air's path, km: systems travel on while air turns around them, so paths are bent
/// less than isobars (Holton 2004, section 3.3, on trajectories and streamlines; the bound is common
/// practice, no source).
const SHARPEST_KM: f64 = 450.0;

/// Gradient wind over geostrophic wind: `V/G` of `V + kappa V^2 / f = G` (Holton 2004, section 3.2.5),
/// with path curvature at two thirds of the isobars'; around a high at most 1.6.
pub(crate) fn gradient_ratio(jet: &Jet, geostrophic_ms: f64, coriolis: f64) -> f64 {
    // kappa / f, s/m: per km to per m, over f.
    let bend = jet.curvature() * (2.0 / 3.0) * 1e-3 / (1.031e-4 * coriolis);
    let x = 4.0 * bend * geostrophic_ms;
    // 2 (sqrt(1+x)-1)/x without its 0/0.
    2.0 / (1.0 + (1.0 + x.max(-0.9375)).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn low() -> Vortex {
        Vortex {
            nearest_s: 1000.0,
            x_km: 120.0,
            y_km: 300.0,
            vx: 40.0,
            vy: 8.0,
            peak_s: 0.0,
            life_h: 80.0,
            amplitude_hpa: -20.0,
            size_km: 800.0,
            stretch: 1.5,
            axis: (0.8, 0.6),
        }
    }

    #[test]
    fn the_derivatives_are_those_of_the_pressure() {
        let vortex = low();
        let at = |x: f64, y: f64| {
            let mut jet = Jet::default();
            vortex.add(5000.0, x, y, &mut jet);
            jet
        };
        let h = 0.05;
        for (x, y) in [(0.0, 0.0), (-400.0, 250.0), (700.0, -900.0)] {
            let jet = at(x, y);
            let (e, w, n, s) = (at(x + h, y), at(x - h, y), at(x, y + h), at(x, y - h));
            let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-8, "{a} {b}");
            near(jet.x, (e.p - w.p) / (2.0 * h));
            near(jet.y, (n.p - s.p) / (2.0 * h));
            near(jet.xx, (e.x - w.x) / (2.0 * h));
            near(jet.yy, (n.y - s.y) / (2.0 * h));
            near(jet.xy, (e.y - w.y) / (2.0 * h));
        }
    }

    #[test]
    fn a_still_vortex_has_the_same_gradient_and_laplacian() {
        let vortex = low();
        for (x, y) in [(0.0, 0.0), (-400.0, 250.0), (700.0, -900.0)] {
            let mut jet = Jet::default();
            vortex.add(5000.0, x, y, &mut jet);
            let (mut gradient, mut laplacian) = ((0.0, 0.0), 0.0);
            let still = vortex.still(5000.0).unwrap();
            still.add(x, y, &mut gradient, &mut laplacian);
            assert!((gradient.0 - jet.x).abs() < 1e-15 && (gradient.1 - jet.y).abs() < 1e-15);
            assert!((laplacian - jet.xx - jet.yy).abs() < 1e-15);
        }
    }

    #[test]
    fn wind_blows_around_a_low_against_the_clock_and_slower_than_geostrophic() {
        let vortex = Vortex {
            stretch: 1.0,
            ..low()
        };
        let mut jet = Jet::default();
        // East of the centre.
        vortex.add(1000.0, 620.0, 300.0, &mut jet);
        let (east, poleward) = jet.geostrophic_ms(1.0);
        assert!(poleward > 5.0 && east.abs() < 1e-9, "{east} {poleward}");
        // 1 hPa in 100 km at 45 degrees: 8.1 m/s.
        assert!((jet.x * 808.0 - poleward).abs() < 1e-9);
        let ratio = gradient_ratio(&jet, poleward, 1.0);
        assert!((0.6..0.95).contains(&ratio), "{ratio}");
        // In the middle of a deep low the air turns about as fast as the ground under it.
        let mut middle = Jet::default();
        vortex.add(1000.0, 120.0, 300.0, &mut middle);
        let vorticity = middle.vorticity(1.0);
        assert!((0.5..2.5).contains(&vorticity), "{vorticity}");
        let high = Jet {
            x: -jet.x,
            xx: -jet.xx,
            xy: -jet.xy,
            yy: -jet.yy,
            ..jet
        };
        assert!(gradient_ratio(&high, poleward, 1.0) > 1.0);
    }

    #[test]
    fn a_vortex_lives_its_life() {
        let vortex = low();
        assert_eq!(vortex.grown(0.0), 1.0);
        assert_eq!(vortex.grown(81.0 * 3600.0), 0.0);
        assert!((0.5..0.6).contains(&vortex.grown(40.0 * 3600.0)));
    }
}
