//! What stands around the head, and how it shelters the wind.

use crate::head::relaxation::full_turn;
use crate::truth::{WIND_SAMPLES, WindSample};

/// Sectors of the obstacles around the head.
pub const SECTORS: usize = 12;
/// Width of one sector, degrees. Sector 0 is centred on north, the others follow clockwise.
pub const SECTOR_DEG: f64 = 30.0;

/// What fills one sector: a house, a hedge, a wall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Obstacle {
    /// Distance of its near face from the mast, m, above 0.
    pub distance_m: f64,
    /// Height above the ground the mast stands on, m. 0 or less: nothing stands there.
    pub height_m: f64,
    /// Share of it that lets wind, light and drops through, 0 (wall) to 1 (nothing): 0.3 to 0.5 for a hedge
    /// in leaf, 0.6 to 0.8 for bare trees (common practice, no source).
    pub porosity: f64,
    /// Share of the sunlight its face sends back, 0 to 1: 0.2 brick or leaves, 0.6 white paint.
    pub reflectance: f64,
}

impl Obstacle {
    /// Nothing stands there.
    pub const NONE: Self = Self {
        distance_m: 1000.0,
        height_m: 0.0,
        porosity: 0.0,
        reflectance: 0.2,
    };

    /// Whether anything stands there at all.
    #[must_use]
    pub const fn stands(&self) -> bool {
        self.height_m > 0.0 && self.porosity < 1.0
    }
}

impl Default for Obstacle {
    fn default() -> Self {
        Self::NONE
    }
}

/// Deepest shelter, a share of the wind: what is left in the dead air right behind a wall (common practice,
/// no source; the wake law itself ends some five heights behind the obstacle).
pub const DEEPEST_SHELTER: f64 = 0.9;
/// Directions at which the shelter is tabled.
const DIRECTIONS: usize = 72;
const DIRECTION_DEG: f64 = 360.0 / DIRECTIONS as f64;
/// Averaging time of what counts as the mean wind when gusts are told apart from it, s: that of the
/// trade's mean wind (WMO-No. 8, Part I, ch. 5).
const MEAN_WIND_S: f64 = 600.0;

/// Wake moment coefficient of an obstacle by its width over its height and its porosity.
///
/// Source: Taylor and Salmon 1993, J. Appl. Meteorol. 32, 1683 (table read second-hand): 0.8 (1 - porosity) for
/// fences and rows of trees, 0.2 to 0.35 for buildings as wide as high. Between a width of two and of ten
/// heights the two are joined by a straight line (ours).
#[must_use]
pub fn wake_coefficient(width_over_height: f64, porosity: f64) -> f64 {
    let row = ((width_over_height - 2.0) * (1.0 / 8.0)).clamp(0.0, 1.0);
    (0.3 + 0.5 * row) * (1.0 - porosity)
}

/// Wind lost at a height behind a small piece of an obstacle, as a share of the wind at that height.
///
/// `downwind_m`, `aside_m`: where the place lies from the piece, along and across the wind; `width_m`: width of
/// the piece across the wind; `height_m`: of the obstacle; `place_height_m`; `roughness_m`; `wake`: the
/// [`wake_coefficient`].
///
/// Source: Taylor and Salmon 1993, J. Appl. Meteorol. 32, 1683 (equations read second-hand), which spreads the
/// wake of Perera 1981, J. Wind Eng. Ind. Aerodyn. 8, 93 sideways as a Gaussian; the loss refers to the wind at
/// the obstacle's top and is turned into a share by the logarithmic law. Validity: downwind of some five
/// heights, loss below a half.
#[must_use]
pub fn wake_loss(
    downwind_m: f64,
    aside_m: f64,
    width_m: f64,
    height_m: f64,
    place_height_m: f64,
    roughness_m: f64,
    wake: f64,
) -> f64 {
    const MOMENT: f64 = 12.1875;
    const KARMAN: f64 = 0.4;
    const PROFILE: f64 = 1.0 / 7.0;
    const SPREAD: f64 = 0.5;
    if downwind_m <= 0.0 {
        return 0.0;
    }
    let log = |height: f64| libm::log((height + roughness_m) / roughness_m);
    let x = downwind_m / height_m;
    let power = 1.0 / (PROFILE + 2.0);
    let scale = libm::pow(log(height_m) / (2.0 * KARMAN * KARMAN), power);
    let eta = scale * place_height_m / height_m * libm::pow(x, -power);
    let vertical = eta * libm::exp(-0.67 * eta * eta.sqrt());
    let lateral = aside_m / (height_m * x.sqrt());
    let across = libm::exp(-lateral * lateral / (2.0 * SPREAD * SPREAD))
        / (SPREAD * (2.0 * core::f64::consts::PI).sqrt());
    MOMENT * wake * width_m / height_m / (x * x.sqrt()) * vertical * across * log(height_m)
        / log(place_height_m)
}

/// The shelter of the obstacles, tabled by the direction of the wind, and the mean wind it works on.
#[derive(Debug, Clone)]
pub(super) struct Shelter {
    /// Share of the wind that is left, by direction.
    left: [f64; DIRECTIONS],
    mean_ms: f64,
    mean_from_deg: f64,
    started: bool,
}

impl Shelter {
    /// `None` where no obstacle takes any wind away.
    pub(super) fn of(
        obstacles: &[Obstacle; SECTORS],
        place_height_m: f64,
        roughness_m: f64,
    ) -> Option<Self> {
        if !obstacles.iter().any(Obstacle::stands) {
            return None;
        }
        let mut left = [1.0; DIRECTIONS];
        for (index, left) in left.iter_mut().enumerate() {
            let from_deg = index as f64 * DIRECTION_DEG;
            *left = 1.0 - shelter(obstacles, from_deg, place_height_m, roughness_m);
        }
        Some(Self {
            left,
            mean_ms: 0.0,
            mean_from_deg: 0.0,
            started: false,
        })
    }

    /// Share of the wind from `from_deg`, 0 to 360, that is left.
    pub(super) fn left(&self, from_deg: f64) -> f64 {
        let position = from_deg.max(0.0) * (1.0 / DIRECTION_DEG);
        let index = (position as usize).min(DIRECTIONS - 1);
        let below = index as f64;
        let (low, high) = (self.left[index], self.left[(index + 1) % DIRECTIONS]);
        low + (high - low) * (position - below)
    }

    /// The sheltered wind. The mean falls by the share of the table; what the samples stray from it falls by
    /// the square root of that share only, in speed and across, so that a sheltered place is gusty for
    /// its wind and its direction unsteady (direction of the effect: WMO-No. 8, Part I, ch. 5; the square root:
    /// common practice, no source).
    pub(super) fn apply(
        &mut self,
        wind: &[WindSample; WIND_SAMPLES],
        mean_ms: f64,
        mean_from_deg: f64,
        interval_s: f64,
    ) -> [WindSample; WIND_SAMPLES] {
        let weight = if self.started {
            (interval_s * (1.0 / MEAN_WIND_S)).min(1.0)
        } else {
            1.0
        };
        self.started = true;
        self.mean_ms += weight * (mean_ms - self.mean_ms);
        self.mean_from_deg =
            full_turn(self.mean_from_deg + weight * shorter(mean_from_deg - self.mean_from_deg));
        wind.map(|sample| {
            let left = self.left(sample.from_direction_deg);
            let root = left.sqrt();
            let strayed = shorter(sample.from_direction_deg - self.mean_from_deg);
            let turned = (strayed * (1.0 / root - 1.0)).clamp(-60.0, 60.0);
            WindSample {
                speed_ms: (self.mean_ms * left + (sample.speed_ms - self.mean_ms) * root).max(0.0),
                from_direction_deg: full_turn(sample.from_direction_deg + turned),
            }
        })
    }
}

/// Share of the wind from one direction that all obstacles together take away.
fn shelter(
    obstacles: &[Obstacle; SECTORS],
    from_deg: f64,
    place_height_m: f64,
    roughness_m: f64,
) -> f64 {
    const PIECES: u32 = 30;
    let mut all = 0.0;
    for (sector, obstacle) in obstacles.iter().enumerate() {
        if !obstacle.stands() {
            continue;
        }
        let wake = wake_coefficient(
            row_width_m(obstacles, sector) / obstacle.height_m,
            obstacle.porosity,
        );
        let piece_deg = SECTOR_DEG / f64::from(PIECES);
        let width_m = obstacle.distance_m * piece_deg.to_radians();
        let mut one = 0.0;
        for piece in 0..PIECES {
            let at_deg = SECTOR_DEG * (sector as f64 - 0.5) + piece_deg * (f64::from(piece) + 0.5);
            let off = shorter(at_deg - from_deg);
            if off.abs() < 80.0 {
                let (sine, cosine) = (libm::sin(off.to_radians()), libm::cos(off.to_radians()));
                one += wake_loss(
                    obstacle.distance_m * cosine,
                    obstacle.distance_m * sine,
                    width_m * cosine,
                    obstacle.height_m,
                    place_height_m,
                    roughness_m,
                    wake,
                );
            }
        }
        // What blows through a porous obstacle bounds its shelter close behind it.
        all += one.min(DEEPEST_SHELTER * (1.0 - obstacle.porosity).sqrt());
    }
    all.min(DEEPEST_SHELTER)
}

/// Width of the row that an obstacle is part of: its own and that of like neighbours side by side.
fn row_width_m(obstacles: &[Obstacle; SECTORS], sector: usize) -> f64 {
    let own = obstacles[sector];
    let like =
        |other: &Obstacle| other.stands() && (other.distance_m / own.distance_m - 1.0).abs() < 0.5;
    let count = |step: usize| {
        (1..SECTORS)
            .take_while(|k| like(&obstacles[(sector + k * step) % SECTORS]))
            .count()
    };
    let sectors = (1 + count(1) + count(SECTORS - 1)).min(SECTORS / 2);
    own.distance_m * (SECTOR_DEG * sectors as f64).to_radians()
}

/// The sector in which a bearing lies, and how far the bearing is from that sector's centre, degrees.
pub(super) fn sector_of(bearing_deg: f64) -> (usize, f64) {
    let position = bearing_deg * (1.0 / SECTOR_DEG);
    let nearest = libm::floor(position + 0.5);
    let off_deg = (position - nearest) * SECTOR_DEG;
    (nearest.rem_euclid(SECTORS as f64) as usize, off_deg)
}

/// The difference of two bearings brought into -180 to 180 degrees. Adding and taking away 1.5 * 2^52 rounds to
/// whole turns.
fn shorter(degrees: f64) -> f64 {
    const NO_FRACTION: f64 = 6_755_399_441_055_744.0;
    degrees - 360.0 * ((degrees * (1.0 / 360.0) + NO_FRACTION) - NO_FRACTION)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn house(distance_m: f64, height_m: f64, porosity: f64) -> [Obstacle; SECTORS] {
        let mut around = [Obstacle::NONE; SECTORS];
        around[6] = Obstacle {
            distance_m,
            height_m,
            porosity,
            ..Obstacle::NONE
        };
        around
    }

    #[test]
    fn the_shelter_is_in_its_own_sector_and_falls_with_distance_and_porosity() {
        assert!(Shelter::of(&[Obstacle::NONE; SECTORS], 2.0, 0.03).is_none());
        let left = |distance, porosity, from| {
            Shelter::of(&house(distance, 5.0, porosity), 2.0, 0.03)
                .expect("an obstacle")
                .left(from)
        };
        assert!(left(25.0, 0.0, 180.0) < 0.8);
        assert_eq!(left(25.0, 0.0, 0.0), 1.0);
        assert!(left(25.0, 0.0, 250.0) > 0.99);
        let by_distance = [10.0, 25.0, 50.0, 150.0].map(|distance| left(distance, 0.0, 180.0));
        assert!(
            by_distance.windows(2).all(|pair| pair[1] > pair[0]),
            "{by_distance:?}"
        );
        let by_porosity = [0.0, 0.4, 0.8].map(|porosity| left(50.0, porosity, 180.0));
        assert!(
            by_porosity.windows(2).all(|pair| pair[1] > pair[0]),
            "{by_porosity:?}"
        );
        // What does not rise above the cups hardly shelters them.
        let low = Shelter::of(&house(10.0, 0.8, 0.0), 2.0, 0.03).expect("an obstacle");
        assert!(low.left(180.0) > 0.85, "{}", low.left(180.0));
    }

    #[test]
    fn a_sheltered_wind_is_gustier_for_its_mean() {
        let mut shelter = Shelter::of(&house(25.0, 5.0, 0.0), 2.0, 0.03).expect("an obstacle");
        let sample = |speed_ms, from_direction_deg| WindSample {
            speed_ms,
            from_direction_deg,
        };
        let free = [
            sample(4.0, 175.0),
            sample(6.0, 185.0),
            sample(5.0, 180.0),
            sample(5.0, 180.0),
        ];
        let mut sheltered = free;
        for _ in 0..200 {
            sheltered = shelter.apply(&free, 5.0, 180.0, 16.0);
        }
        let mean = sheltered.iter().map(|sample| sample.speed_ms).sum::<f64>() / 4.0;
        let left = shelter.left(180.0);
        assert!((mean / 5.0 - left).abs() < 0.03, "{mean} for {left}");
        assert!(sheltered[1].speed_ms / mean > 1.2);
        assert!(sheltered[0].from_direction_deg < 175.0);
        // From the open side nothing happens, bit for bit but for rounding.
        let mut north = Shelter::of(&house(25.0, 5.0, 0.0), 2.0, 0.03).expect("an obstacle");
        let open = north.apply(
            &free.map(|s| sample(s.speed_ms, s.from_direction_deg - 170.0)),
            5.0,
            10.0,
            16.0,
        );
        assert!((open[1].speed_ms - 6.0).abs() < 1e-12 && open[1].from_direction_deg == 15.0);
    }

    #[test]
    fn bearings_find_their_sector() {
        assert_eq!(sector_of(0.0), (0, 0.0));
        assert_eq!(sector_of(359.0).0, 0);
        assert_eq!(sector_of(44.0).0, 1);
        assert_eq!(sector_of(345.5).0, 0);
        assert_eq!(sector_of(344.5).0, 11);
    }
}
