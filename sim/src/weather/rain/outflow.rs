//! Cold pools: air that rain has cooled sinks and spreads as a density current.
//!
//! Under a convective cell part of the rain evaporates into unsaturated air and cools it towards its wet bulb. The
//! cold air spreads below the cell: at a point its gust front comes ahead of the rain, with a fall of
//! temperature, a jump of pressure and wind out of the cell; it is forgotten in about two hours
//! (Kruse, Haerter & Meyer 2021, Q. J. R. Meteorol. Soc., abstract: recovery some two hours, median
//! fall 2.9 K with 4.4 m/s of wind, wind as the square root of the fall). Kirsch, Ament & Hohenegger
//! (2021, Mon. Weather Rev. 149, abstract): median fall 3.3 K at 2 m, depth 750 m, correlation of the fall
//! with the saturation deficit before it -0.71, with the event's rain -0.35.

use super::super::noise::smooth_step;
use super::cell::Seen;

/// Depth of a cold pool, m (Kirsch, Ament & Hohenegger 2021).
const DEPTH_M: f64 = 750.0;
/// Wind over the speed of a loss-free density current: 4.4 m/s at 2.9 K (Kruse, Haerter & Meyer 2021).
const FROUDE: f64 = 0.51;
/// Time in which the cold air arrives, s: most of the fall within some ten minutes (common practice, no source).
const ARRIVAL_S: f64 = 720.0;
/// Wet-bulb depression of the air where nobody tells it, K.
pub(super) const USUAL_DEPRESSION_K: f64 = 5.0;
/// Centre intensity of the weakest cell that makes a pool, mm/h: lighter rain cools the air too slowly to sink
/// as a current (common practice, no source).
const LEAST_MMH: f64 = 12.0;
/// Reach of the strongest pool beyond the cell's centre, km (common practice, no source).
pub(super) const REACH_KM: f64 = 16.0;

/// What the cold outflow of convective cells does to the air at the point, on top of the slow state.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Outflow {
    /// How far the air has gone from its own state to its wet bulb, 0 to 1.
    pub(crate) cooled: f64,
    /// Pressure jump, hPa.
    pub(crate) pressure_hpa: f64,
    /// Wind blowing out of the cell at 10 m, towards east and north, m/s.
    pub(crate) east_ms: f64,
    pub(crate) north_ms: f64,
}

/// Speed of a density current, m/s: `k sqrt(g h dT/T)` (Benjamin 1968; k, h as above), for a fall of some kelvin.
pub(super) fn current_ms(fall_k: f64) -> f64 {
    FROUDE * (9.81 * DEPTH_M * fall_k.max(0.0) / 295.0).sqrt()
}

/// Hydrostatic pressure jump, hPa, under a pool whose fall of temperature shrinks evenly to nothing at its top.
pub(super) fn jump_hpa(fall_k: f64) -> f64 {
    0.01 * 0.5 * 1.19 * 9.81 * DEPTH_M * fall_k.max(0.0) / 295.0
}

/// One cold pool as it passes the point.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pool {
    /// The gust front's arrival, s.
    pub(super) start_s: f64,
    /// The cell's rain is over, or its nearest part is past, s.
    until_s: f64,
    pub(super) end_s: f64,
    /// Nearest approach of the cell's centre, s.
    nearest_s: f64,
    /// Share of the wet-bulb depression by which it cools at most.
    cooled: f64,
    reach_km: f64,
    /// From the cell's centre to the point at its nearest approach, km east and north.
    beside_km: (f64, f64),
    /// Velocity of the cell, km/s east and north.
    motion_kms: (f64, f64),
}

impl Pool {
    /// The pool of a cell, if it is strong enough and reaches the point. `scale_mmh` turns the cell's intensity into
    /// mm/h, `motion_ms` is its velocity.
    pub(super) fn of(
        seen: &Seen,
        lag_s: f64,
        scale_mmh: f64,
        motion_ms: (f64, f64),
    ) -> Option<Self> {
        let centre_mmh = 2.0 * seen.intensity * scale_mmh;
        if centre_mmh < LEAST_MMH {
            return None;
        }
        let speed = (motion_ms.0 * motion_ms.0 + motion_ms.1 * motion_ms.1)
            .sqrt()
            .max(1.0);
        let along = (motion_ms.0 / speed, motion_ms.1 / speed);
        // What the cell has rained decides how large and how cold its pool gets.
        let hours = (seen.length_s / 3600.0).min(1.0);
        let depth_mm = 0.5 * centre_mmh * hours;
        let strength = depth_mm / (depth_mm + 5.0);
        let reach_km = REACH_KM * (0.3 + 0.7 * strength);
        // The distance across the track stays while the cell passes.
        let across = seen.north_km * along.0 - seen.east_km * along.1;
        let beside = across / reach_km;
        if beside.abs() >= 1.0 {
            return None;
        }
        // Flat in its middle, where the air is well mixed, and thin at its sides.
        // Coldest under the rain itself.
        let side = beside * beside * beside * beside;
        let under = seen.nearness.max(0.0);
        let cooled = (0.42 + 0.28 * strength + 0.24 * under) * (1.0 - side * side);
        let ahead_s = 1000.0 * (reach_km * reach_km - across * across).sqrt() / speed;
        let nearest_s = seen.start_s + lag_s + 0.5 * seen.length_s;
        // Never long before the rain: the front runs ahead of the cell by its reach at most.
        let start_s = (nearest_s - ahead_s.min(2400.0)).min(seen.start_s + lag_s - 120.0);
        let until_s = (seen.start_s + lag_s + seen.length_s).min(start_s + 7200.0);
        let until_s = until_s.max(start_s + ARRIVAL_S);
        Some(Self {
            start_s,
            until_s,
            end_s: until_s + 5400.0 + 1800.0 * strength,
            nearest_s,
            cooled,
            reach_km,
            beside_km: (-across * along.1, across * along.0),
            motion_kms: (0.001 * motion_ms.0, 0.001 * motion_ms.1),
        })
    }

    /// What the pool does at an instant: the cold air that is there, the cold air that has come or is on its way
    /// (shares of the wet-bulb depression), and the direction of its wind (east, north; at most 1 long).
    fn at(&self, time_s: f64) -> Option<(f64, f64, (f64, f64))> {
        if time_s <= self.start_s || time_s >= self.end_s {
            return None;
        }
        let come = smooth_step(self.start_s, self.start_s + ARRIVAL_S, time_s);
        let left = 1.0 - smooth_step(self.until_s, self.end_s, time_s);
        // Out of the cell: from its centre to the point; strongest at the pool's head, nothing under its middle.
        // The wind is there as soon as the front, and dies before the cold does.
        let gone_s = time_s - self.nearest_s;
        let east = self.beside_km.0 - self.motion_kms.0 * gone_s;
        let north = self.beside_km.1 - self.motion_kms.1 * gone_s;
        let far_km = (east * east + north * north).sqrt().max(0.5);
        let fresh = smooth_step(self.start_s, self.start_s + 180.0, time_s)
            * (1.0 - smooth_step(self.start_s + 900.0, self.start_s + 3600.0, time_s));
        let part = fresh * (far_km / self.reach_km).min(1.0) / far_km;
        let cold = self.cooled * left;
        Some((cold * come, cold, (part * east, part * north)))
    }
}

/// What some pools do together at an instant, in air with a wet-bulb depression in K. None cools below the wet bulb,
/// and their wind is not above that of the coldest air they could make together.
pub(super) fn together(pools: &[Pool], time_s: f64, depression_k: f64) -> Outflow {
    let (mut warm, mut warm_at_last, mut east, mut north) = (1.0, 1.0, 0.0, 0.0);
    for (here, cold, wind) in pools.iter().filter_map(|pool| pool.at(time_s)) {
        warm *= 1.0 - here;
        warm_at_last *= 1.0 - cold;
        east += wind.0;
        north += wind.1;
    }
    let speed = current_ms((1.0 - warm_at_last) * depression_k)
        / (east * east + north * north).sqrt().max(1.0);
    Outflow {
        cooled: 1.0 - warm,
        pressure_hpa: jump_hpa((1.0 - warm) * depression_k),
        east_ms: speed * east,
        north_ms: speed * north,
    }
}
