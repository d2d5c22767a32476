//! Cells in clusters: the pulse machinery, in time and in space.
//!
//! In time, a cluster is a storm of a rectangular-pulse model: cells start at random in it, last a random
//! time and have a random intensity. Bartlett-Lewis and Neyman-Scott arrivals are both there
//! (Rodriguez-Iturbe, Cox & Isham 1987), and so is the random tempo that makes all lengths of one cluster
//! short and its rain hard together (Rodriguez-Iturbe, Cox & Isham 1988; Kaczmarska, Isham & Onof 2014).
//! In space, clusters and cells are discs whose centres are a Poisson process in the plane (Cowpertwait
//! 1995, Proc. R. Soc. A 450: disc cells; within discs of clusters as in Cox & Isham 1988). So every point of
//! the plane expects the same rain. The plane is cut into square tiles with an entropy stream each, so a
//! point makes the discs near itself only, and two points that share a disc see the same one.

use super::super::noise::{floor, smooth_step};
use super::super::region::Offset;
use crate::entropy::{Key, Stream};
use core::f64::consts::PI;
use core::ops::RangeInclusive;

pub(super) const HOUR_S: f64 = 3600.0;

/// How the cells of a cluster follow each other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Arrival {
    /// Evenly within a length that is even between half and one and a half times its mean.
    Within,
    /// Bartlett-Lewis: evenly within an exponential length, and one at its start.
    #[cfg(test)]
    Lewis,
    /// Neyman-Scott: each after an exponential delay of its own.
    #[cfg(test)]
    Scott,
}

/// The ground that clusters and cells cover.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Ground {
    /// All of it: a model of a single point.
    #[cfg(test)]
    Everywhere,
    /// Discs whose radii are even between two bounds, km.
    Discs {
        cluster_km: (f64, f64),
        cell_km: (f64, f64),
    },
}

/// The law of a cluster as one point sees it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Law {
    /// Mean length of the time in which cells start (or their mean delay), h.
    pub(super) cluster_h: f64,
    /// Mean number of cells over a point inside a cluster of mean length.
    pub(super) cells: f64,
    /// Mean length of a cell, h.
    pub(super) cell_h: f64,
    /// Mean intensity of a cell.
    pub(super) intensity: f64,
    /// Shape of the gamma law of intensities; 1 is the exponential law.
    pub(super) intensity_shape: f64,
    /// Shape of the gamma law of the tempo (mean 1), by which lengths are divided.
    pub(super) tempo_shape: Option<f64>,
    /// Shape of the gamma law (mean 1) of what all intensities of one cluster are multiplied by.
    pub(super) vigour_shape: Option<f64>,
    /// How far the intensity goes with the tempo, 0 to 1. At 1 the depth of a cluster does not depend on it.
    pub(super) tied: f64,
    pub(super) arrival: Arrival,
    pub(super) ground: Ground,
}

/// A point, and the key to the cells of its region.
#[derive(Debug, Clone, Copy)]
pub(super) struct View {
    pub(super) key: Key,
    pub(super) at: Offset,
    /// Cells that miss the point by no more than this are wanted too, km.
    pub(super) reach_km: f64,
}

/// One cluster.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cluster {
    number: i64,
    pub(super) start_s: f64,
    pub(super) length_s: f64,
    /// Length over its mean.
    longer: f64,
    tempo: f64,
    /// What its intensities are multiplied by.
    vigour: f64,
    centre: Offset,
    radius_km: f64,
}

impl Cluster {
    /// How near a point is: 1 inside, 0 from `margin_km` outside.
    pub(super) fn nearness(&self, at: Offset, margin_km: f64) -> f64 {
        let distance_km = squared_distance(self.centre, at).sqrt();
        1.0 - smooth_step(self.radius_km, self.radius_km + margin_km, distance_km)
    }
}

/// One cell as a point sees it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Seen {
    pub(super) start_s: f64,
    pub(super) length_s: f64,
    /// Mean intensity over the cell's disc.
    pub(super) intensity: f64,
    /// From the centre to the point, km.
    pub(super) east_km: f64,
    pub(super) north_km: f64,
    /// 1 at the centre, 0 at the edge, negative outside: less the square of the distance in radii.
    pub(super) nearness: f64,
}

impl Seen {
    /// Intensity at the point: a paraboloid over the disc, whose mean is the cell's (a cell is hardest
    /// in its middle; common practice, no source for the shape).
    pub(super) fn here(&self) -> f64 {
        self.intensity * 2.0 * self.nearness
    }
}

/// Spreads two numbers over one (the finaliser of `SplitMix64`; Steele, Lea & Flood 2014).
pub(super) fn mix(a: i64, b: i64) -> i64 {
    let mut z = a
        .cast_unsigned()
        .wrapping_mul(0x9e37_79b9_7f4a_7c15)
        .wrapping_add(b.cast_unsigned());
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    (z ^ (z >> 31)).cast_signed()
}

/// The chance of none where `mean` are expected, for [`poisson`]; means above some hundred are cut.
fn chance_of_none(mean: f64) -> f64 {
    libm::exp(-mean.min(600.0))
}

/// A Poisson variate by multiplying uniforms (Knuth 1969, section 3.4.1), from its chance of none.
fn poisson(stream: &mut Stream, none: f64) -> i64 {
    let (mut product, mut count) = (1.0, 0);
    loop {
        product *= stream.uniform_positive();
        if product <= none {
            return count;
        }
        count += 1;
    }
}

/// Gamma with mean 1 (Marsaglia & Tsang 2000, ACM Trans. Math. Softw. 26; boosted below shape 1).
pub(super) fn gamma(stream: &mut Stream, shape: f64) -> f64 {
    let boost = if shape < 1.0 {
        libm::pow(stream.uniform_positive(), 1.0 / shape)
    } else {
        1.0
    };
    let d = if shape < 1.0 { shape + 1.0 } else { shape } - 1.0 / 3.0;
    let c = 1.0 / (9.0 * d).sqrt();
    loop {
        let x = stream.normal();
        let v = 1.0 + c * x;
        if v <= 0.0 {
            continue;
        }
        let v = v * v * v;
        if libm::log(stream.uniform_positive()) < 0.5 * x * x + d * (1.0 - v + libm::log(v)) {
            return d * v * boost / shape;
        }
    }
}

/// Numbers of the tiles that lie within a reach.
fn tiles(at_km: f64, reach_km: f64, side_km: f64) -> RangeInclusive<i64> {
    floor((at_km - reach_km) / side_km)..=floor((at_km + reach_km) / side_km)
}

/// A disc thrown into a tile: where its centre lies and its radius, from one draw.
fn disc(
    stream: &mut Stream,
    tile: (i64, i64),
    side_km: f64,
    radius_km: (f64, f64),
) -> (Offset, f64) {
    const PART: u64 = 1 << 21;
    let bits = stream.bits();
    let part = |shift: u32| ((bits >> shift) & (PART - 1)) as f64 * (1.0 / PART as f64);
    let centre = Offset {
        east_km: (tile.0 as f64 + part(0)) * side_km,
        north_km: (tile.1 as f64 + part(21)) * side_km,
    };
    let (least, most) = radius_km;
    (centre, least + (most - least) * part(42))
}

/// Mean area of a disc whose radius is even between two bounds.
fn mean_area((least, most): (f64, f64)) -> f64 {
    PI / 3.0 * (least * least + least * most + most * most)
}

fn squared_distance(a: Offset, b: Offset) -> f64 {
    let (east, north) = (a.east_km - b.east_km, a.north_km - b.north_km);
    east * east + north * north
}

impl Law {
    /// Mean number of cells of a cluster over a point inside it.
    pub(super) fn cells_of_one(&self) -> f64 {
        match self.arrival {
            Arrival::Within => self.cells,
            #[cfg(test)]
            Arrival::Lewis => self.cells + 1.0,
            #[cfg(test)]
            Arrival::Scott => self.cells,
        }
    }

    /// Width of a cluster's edge, km: cells reach that far out of it.
    pub(super) fn margin_km(&self) -> f64 {
        match self.ground {
            #[cfg(test)]
            Ground::Everywhere => 1.0,
            Ground::Discs { cell_km, .. } => cell_km.1,
        }
    }

    /// Clusters that may have cells within reach of a point, `mean` of them over every point, that start
    /// within a window.
    pub(super) fn clusters(
        &self,
        view: &View,
        number: i64,
        window_s: (f64, f64),
        mean: f64,
        mut visit: impl FnMut(Cluster),
    ) {
        let &View { key, at, reach_km } = view;
        match self.ground {
            #[cfg(test)]
            Ground::Everywhere => {
                let mut stream = key.stream(number);
                for i in 0..poisson(&mut stream, chance_of_none(mean)) {
                    visit(self.cluster(key, mix(number, i), window_s, at, 0.0));
                }
            }
            Ground::Discs {
                cluster_km,
                cell_km,
            } => {
                let reach_km = reach_km + cell_km.1;
                let side_km = 2.0 * cluster_km.1;
                let none = chance_of_none(mean * side_km * side_km / mean_area(cluster_km));
                for east in tiles(at.east_km, cluster_km.1 + reach_km, side_km) {
                    for north in tiles(at.north_km, cluster_km.1 + reach_km, side_km) {
                        let tile = mix(mix(number, east), north);
                        let mut stream = key.stream(tile);
                        for i in 0..poisson(&mut stream, none) {
                            let (centre, radius_km) =
                                disc(&mut stream, (east, north), side_km, cluster_km);
                            let far = radius_km + reach_km;
                            if squared_distance(centre, at) < far * far {
                                let own = mix(tile, i);
                                visit(self.cluster(key, own, window_s, centre, radius_km));
                            }
                        }
                    }
                }
            }
        }
    }

    fn cluster(
        &self,
        key: Key,
        number: i64,
        window_s: (f64, f64),
        centre: Offset,
        radius_km: f64,
    ) -> Cluster {
        let own = &mut key.stream(number);
        let place = own.uniform();
        let longer = match self.arrival {
            Arrival::Within => 0.5 + own.uniform(),
            #[cfg(test)]
            Arrival::Lewis => own.exponential(),
            #[cfg(test)]
            Arrival::Scott => 1.0,
        };
        // A tempo far from 1 would make cells of no length or of days: the real ones are bounded.
        let tempo = match self.tempo_shape {
            None => 1.0,
            Some(shape) if self.arrival == Arrival::Within => gamma(own, shape).clamp(0.3, 5.0),
            Some(shape) => gamma(own, shape).max(1e-7),
        };
        let vigour = self.vigour_shape.map_or(1.0, |shape| gamma(own, shape));
        let length_s = longer * self.cluster_h * HOUR_S / tempo;
        // Inside its window if it is short enough.
        let slack_s = match self.arrival {
            Arrival::Within => (window_s.1 - window_s.0 - length_s).max(0.0),
            #[cfg(test)]
            _ => window_s.1 - window_s.0,
        };
        Cluster {
            number,
            start_s: window_s.0 + place * slack_s,
            length_s,
            longer,
            tempo,
            vigour: vigour * (1.0 - self.tied + self.tied * tempo),
            centre,
            radius_km,
        }
    }

    /// The cells of a cluster whose discs come within reach of a point.
    pub(super) fn cells(&self, view: &View, cluster: &Cluster, mut visit: impl FnMut(Seen)) {
        let &View { key, at, reach_km } = view;
        let mean = self.cells * cluster.longer;
        match self.ground {
            #[cfg(test)]
            Ground::Everywhere => {
                let mut stream = key.stream(mix(cluster.number, -1));
                let others = poisson(&mut stream, chance_of_none(mean));
                let first = i64::from(self.cells_of_one() > self.cells);
                for i in 0..others + first {
                    let mut seen = self.cell(view, cluster, mix(cluster.number, i), at, 0.0);
                    if i < first {
                        seen.start_s = cluster.start_s;
                    }
                    visit(seen);
                }
            }
            Ground::Discs { cell_km, .. } => {
                let side_km = 2.0 * cell_km.1;
                let none = chance_of_none(mean * side_km * side_km / mean_area(cell_km));
                let within = cluster.radius_km * cluster.radius_km;
                for east in tiles(at.east_km, cell_km.1 + reach_km, side_km) {
                    for north in tiles(at.north_km, cell_km.1 + reach_km, side_km) {
                        let tile = mix(mix(cluster.number, east), north);
                        let mut stream = key.stream(tile);
                        for i in 0..poisson(&mut stream, none) {
                            let (centre, radius_km) =
                                disc(&mut stream, (east, north), side_km, cell_km);
                            let far = radius_km + reach_km;
                            if squared_distance(centre, at) < far * far
                                && squared_distance(centre, cluster.centre) < within
                            {
                                visit(self.cell(view, cluster, mix(tile, i), centre, radius_km));
                            }
                        }
                    }
                }
            }
        }
    }

    fn cell(
        &self,
        view: &View,
        cluster: &Cluster,
        number: i64,
        centre: Offset,
        radius_km: f64,
    ) -> Seen {
        let at = view.at;
        let mut own = view.key.stream(number);
        let wait = match self.arrival {
            #[cfg(test)]
            Arrival::Scott => own.exponential(),
            _ => own.uniform(),
        };
        let length_s = own.exponential() * self.cell_h * HOUR_S / cluster.tempo;
        let strength = if self.intensity_shape == 1.0 {
            own.exponential()
        } else {
            gamma(&mut own, self.intensity_shape)
        };
        let nearness = if radius_km > 0.0 {
            1.0 - squared_distance(centre, at) / (radius_km * radius_km)
        } else {
            0.5
        };
        Seen {
            start_s: cluster.start_s + wait * cluster.length_s,
            length_s,
            intensity: self.intensity * strength * cluster.vigour,
            east_km: at.east_km - centre.east_km,
            north_km: at.north_km - centre.north_km,
            nearness,
        }
    }
}

/// A cell over the point, ready to fall.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cell {
    pub(super) start_s: f64,
    pub(super) end_s: f64,
    pub(super) depth_mm: f64,
    per_second: f64,
    /// 0: an even rate; 1: it swells and fades.
    pub(super) swell: f64,
    /// Share of the intensity that the texture moves about.
    pub(super) unevenness: f64,
    /// Cloud stands over the point this long before and after, s.
    pub(super) margin_s: f64,
}

impl Cell {
    pub(super) fn new(
        start_s: f64,
        length_s: f64,
        rate: f64,
        swell: f64,
        unevenness: f64,
        margin_s: f64,
    ) -> Self {
        let length_s = length_s.max(1.0);
        Self {
            start_s,
            end_s: start_s + length_s,
            depth_mm: rate * length_s,
            per_second: 1.0 / length_s,
            swell,
            unevenness,
            margin_s,
        }
    }

    /// Depth that has fallen until an instant, mm, without the texture.
    ///
    /// A parabola over an even rate: cells grow and decay (Northrop & Stone 2005 have truncated bells).
    #[inline]
    fn until(&self, time_s: f64) -> f64 {
        let x = ((time_s - self.start_s) * self.per_second).clamp(0.0, 1.0);
        self.depth_mm * (x + self.swell * (smooth_step(0.0, 1.0, x) - x))
    }

    /// Some of it falls between two instants.
    #[inline]
    pub(super) fn falls(&self, from_s: f64, to_s: f64) -> bool {
        self.start_s < to_s && self.end_s > from_s
    }

    /// Depth that falls from one instant to another, mm, without the texture.
    #[inline]
    pub(super) fn between(&self, from_s: f64, to_s: f64) -> f64 {
        self.until(to_s) - self.until(from_s)
    }
}
