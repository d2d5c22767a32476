//! A sketch of where the stations stand.

use crate::plan::Network;
use crate::report::wording::escape;
use benchmast_sim::weather::Offset;
use std::fmt::Write as _;

/// Width and height of the sketch, in its own units.
const SIZE: (f64, f64) = (520.0, 340.0);
/// Room around the outermost station for its name.
const MARGIN: f64 = 48.0;
/// More names than this run into each other.
const MOST_NAMES: usize = 40;

/// Width of a letter of a name, about.
const LETTER: f64 = 7.2;

/// Left, top, right and bottom of what must not be written over.
struct Area(f64, f64, f64, f64);

impl Area {
    fn meets(&self, other: &Self) -> bool {
        self.0 < other.2 && other.0 < self.2 && self.1 < other.3 && other.1 < self.3
    }
}

/// The sketch as SVG: north is up, a bar gives the scale.
pub(super) fn map(network: &Network) -> String {
    let at: Vec<(f64, f64)> = network
        .stations
        .iter()
        .map(|plan| {
            let offset = Offset::between(&network.place, &plan.place);
            (offset.east_km, offset.north_km)
        })
        .collect();
    // The place itself is on the map, too.
    let extent = |pick: fn(&(f64, f64)) -> f64| {
        let values = at.iter().map(pick).chain([0.0]);
        values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
            (low.min(value), high.max(value))
        })
    };
    let (west, east) = extent(|at| at.0);
    let (south, north) = extent(|at| at.1);
    let scale = ((SIZE.0 - 2.0 * MARGIN) / (east - west).max(0.1))
        .min((SIZE.1 - 2.0 * MARGIN) / (north - south).max(0.1));
    let x = |east_km: f64| SIZE.0 / 2.0 + (east_km - f64::midpoint(west, east)) * scale;
    let y = |north_km: f64| SIZE.1 / 2.0 - (north_km - f64::midpoint(south, north)) * scale;
    let mut svg = format!(
        "<svg class=\"map\" viewBox=\"0 0 {} {}\" role=\"img\" aria-label=\"Map of {} stations around {}\">",
        SIZE.0,
        SIZE.1,
        at.len(),
        escape(&network.place_name)
    );
    let (middle_x, middle_y) = (x(0.0), y(0.0));
    let _ = write!(
        svg,
        "<path class=\"cross\" d=\"M{:.1} {middle_y:.1}h16M{middle_x:.1} {:.1}v16\"/>",
        middle_x - 8.0,
        middle_y - 8.0
    );
    let dots: Vec<(f64, f64)> = at.iter().map(|at| (x(at.0), y(at.1))).collect();
    let mut taken: Vec<Area> = dots
        .iter()
        .map(|(across, down)| Area(across - 6.0, down - 6.0, across + 6.0, down + 6.0))
        .collect();
    for ((across, down), name) in dots.iter().zip(network.names()) {
        let _ = write!(svg, "<circle cx=\"{across:.1}\" cy=\"{down:.1}\" r=\"4\"/>");
        if at.len() > MOST_NAMES {
            continue;
        }
        let long = LETTER * name.len() as f64;
        // To the right, to the left, above, below, then in ever lower lines.
        let beside = [
            (8.0, 4.0),
            (-8.0 - long, 4.0),
            (-long / 2.0, -9.0),
            (-long / 2.0, 18.0),
        ];
        let lower = (1..9).map(|line| (8.0, 4.0 + 14.0 * f64::from(line)));
        let areas = beside.into_iter().chain(lower).map(|(right, under)| {
            let (left, base) = (across + right, down + under);
            Area(left, base - 10.0, left + long, base + 3.0)
        });
        let is_free = |area: &Area| {
            area.0 >= 0.0 && area.2 <= SIZE.0 && !taken.iter().any(|other| area.meets(other))
        };
        let mut areas = areas.filter(is_free);
        let Some(area) = areas.next() else { continue };
        drop(areas);
        let _ = write!(
            svg,
            "<text x=\"{:.1}\" y=\"{:.1}\">{}</text>",
            area.0,
            area.3 - 3.0,
            escape(name)
        );
        taken.push(area);
    }
    let bar_km = round_length(110.0 / scale);
    let _ = write!(
        svg,
        "<path class=\"bar\" d=\"M12 {0:.1}v6h{1:.1}v-6\"/><text x=\"{2:.1}\" y=\"{3:.1}\">{bar_km} km</text>\
         <path class=\"bar\" d=\"M20 42V14m-5 8l5-8 5 8\"/><text x=\"30\" y=\"24\">N</text></svg>",
        SIZE.1 - 18.0,
        bar_km * scale,
        18.0 + bar_km * scale,
        SIZE.1 - 10.0,
    );
    svg
}

/// The largest of 1, 2, 5 times a power of ten that is not above `most`.
fn round_length(most: f64) -> f64 {
    let mut best = 0.1;
    for unit in [0.1, 1.0, 10.0, 100.0] {
        for digit in [1.0, 2.0, 5.0] {
            if digit * unit <= most {
                best = digit * unit;
            }
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::round_length;

    #[test]
    fn the_scale_bar_is_round() {
        for (most, length) in [
            (0.01, 0.1),
            (0.4, 0.2),
            (7.0, 5.0),
            (49.0, 20.0),
            (900.0, 500.0),
        ] {
            assert_eq!(round_length(most), length);
        }
    }
}
