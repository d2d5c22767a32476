//! Rain that comes slantwise over an obstacle and misses the funnel behind it.

use super::obstacles::{Obstacle, SECTORS, sector_of};

/// Fall speed of snowflakes, m/s (Locatelli and Hobbs 1974, J. Geophys. Res. 79, 2185: aggregates about 1 m/s,
/// from memory).
pub const SNOW_FALL_SPEED_MS: f64 = 1.0;
/// Fall speeds among which a shower's water is spread, as shares of the median drop's (common practice, no
/// source): below the first all of it misses the funnel, above the second none.
const SPREAD: (f64, f64) = (0.65, 1.35);

/// Fall speed of the median volume drop, m/s, at a rain rate in mm/h.
///
/// Source: median diameter `1.24 R^0.182` mm of Laws and Parsons 1943, Trans. AGU 24, 452; fall speed
/// `9.65 - 10.3 exp(-0.6 D)` of Atlas, Srivastava and Sekhon 1973, Rev. Geophys. 11, 1 (both from memory);
/// 0.6 to 5 mm, rates 0.1 to 200 mm/h: 3 to 8.2 m/s.
#[must_use]
pub fn fall_speed_ms(rate_mm_h: f64) -> f64 {
    let diameter_mm = 1.24 * libm::pow(rate_mm_h.clamp(0.1, 200.0), 0.182);
    9.65 - 10.3 * libm::exp(-0.6 * diameter_mm)
}

/// The shadow of the obstacles.
#[derive(Debug, Clone)]
pub(super) struct RainShadow {
    /// By sector: fall speed below which drops in a wind of 1 m/s miss the funnel, and the share of the
    /// obstacle that stops them.
    sectors: [(f64, f64); SECTORS],
}

impl RainShadow {
    /// `None` where nothing rises above the rim.
    pub(super) fn of(
        obstacles: &[Obstacle; SECTORS],
        rim_height_m: f64,
        roughness_m: f64,
    ) -> Option<Self> {
        let sectors = obstacles.map(|obstacle| {
            let above_m = obstacle.height_m - rim_height_m;
            if !obstacle.stands() || above_m <= 0.0 {
                return (0.0, 0.0);
            }
            let wind = mean_wind_ratio(rim_height_m, obstacle.height_m, roughness_m);
            (
                above_m * wind / obstacle.distance_m,
                1.0 - obstacle.porosity,
            )
        });
        sectors
            .iter()
            .any(|sector| sector.0 > 0.0)
            .then_some(Self { sectors })
    }

    /// Share of the fall that reaches the funnel in a free wind of `speed_ms` at the head from `from_deg`.
    ///
    /// Drops that fall at `v` are carried `u / v` metres sideways per metre: those that just clear the top come
    /// down at the distance of the funnel when `v = u (H - z) / d` (geometry).
    pub(super) fn reaching(&self, fall_speed_ms: f64, speed_ms: f64, from_deg: f64) -> f64 {
        let (per_wind, stops) = self.sectors[sector_of(from_deg).0];
        let missing = speed_ms * per_wind / fall_speed_ms;
        1.0 - stops * ((missing - SPREAD.0) * (1.0 / (SPREAD.1 - SPREAD.0))).clamp(0.0, 1.0)
    }
}

/// Mean wind between two heights over the wind at the lower one, by the logarithmic law (WMO-No. 8, Part I,
/// ch. 5), integrated exactly.
fn mean_wind_ratio(low_m: f64, high_m: f64, roughness_m: f64) -> f64 {
    let log = |height: f64| libm::log((height / roughness_m).max(3.0));
    let area = |height: f64| height * (log(height) - 1.0);
    (area(high_m) - area(low_m)) / ((high_m - low_m) * log(low_m))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wall_shades_the_funnel_only_in_wind_from_its_side() {
        let mut around = [Obstacle::NONE; SECTORS];
        around[9] = Obstacle {
            distance_m: 4.0,
            height_m: 6.0,
            porosity: 0.0,
            ..Obstacle::NONE
        };
        let shadow = RainShadow::of(&around, 2.0, 0.03).expect("a wall");
        let drops = fall_speed_ms(2.0);
        assert_eq!(shadow.reaching(drops, 0.5, 270.0), 1.0);
        assert_eq!(shadow.reaching(drops, 10.0, 90.0), 1.0);
        assert_eq!(shadow.reaching(drops, 12.0, 270.0), 0.0);
        let part = shadow.reaching(drops, 3.5, 270.0);
        assert!((0.05..0.95).contains(&part), "{part}");
        assert!(
            shadow.reaching(fall_speed_ms(50.0), 3.5, 270.0) > part,
            "big drops fall steeper"
        );
        assert!(RainShadow::of(&around, 6.5, 0.03).is_none());
    }
}
