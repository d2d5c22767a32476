//! When it may rain: the phases of a passing system, and the afternoons of the days around it.

use super::super::noise::floor;
use super::super::synoptic::{SPACING_S, System};
use super::cell::{Arrival, Ground, HOUR_S, Law};

const DAY_S: f64 = 86_400.0;
/// Phases of a system itself; the days of its interval follow them.
const OWN: usize = 5;
/// Days that may begin their afternoon within one interval of the train.
const DAYS: usize = 1 + (SPACING_S / DAY_S) as usize;
/// All phases that a system stands for: the last is unsettled weather of very wet climates.
pub(crate) const PHASES: usize = OWN + DAYS + 1;
const UNSETTLED_AT: usize = PHASES - 1;
/// Makes the days alone as wet as the systems alone are.
const DAYS_AMOUNT: f64 = 1.9;
/// Abundance from which systems and afternoons alone would not rain for hours enough.
const UNSETTLED_FROM: f64 = 3.0;

/// One phase in which cells may fall.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Phase {
    pub(crate) start_s: f64,
    pub(crate) end_s: f64,
    /// Mean number of clusters over a point.
    pub(super) clusters: f64,
    pub(super) law: Law,
    pub(super) kind: &'static Kind,
}

/// What rain of one kind is like.
#[derive(Debug)]
pub(super) struct Kind {
    law: Law,
    /// Mean number of clusters over a point.
    clusters: f64,
    /// Share of the intensity that the texture moves about.
    pub(super) unevenness: f64,
    /// 0: cells with an even rate; 1: cells that swell and fade.
    pub(super) swell: f64,
    /// Cloud stands over a cell this long before and after its rain, s (common practice, no source).
    pub(super) margin_s: f64,
    /// Its cells make cold pools.
    pub(super) pools: bool,
    /// Time for which its cloud is there before rain, s, and how closed it is, 0 to 1 (common practice, no source).
    pub(super) lead_s: f64,
    pub(super) closed: f64,
}

const fn law(
    (cluster_h, cells, cell_h, intensity): (f64, f64, f64, f64),
    (intensity_shape, tempo_shape, vigour_shape): (f64, f64, f64),
    cluster_km: (f64, f64),
    cell_km: (f64, f64),
) -> Law {
    Law {
        cluster_h,
        cells,
        cell_h,
        intensity,
        intensity_shape,
        tempo_shape: Some(tempo_shape),
        vigour_shape: Some(vigour_shape),
        tied: 1.0,
        arrival: Arrival::Within,
        ground: Ground::Discs {
            cluster_km,
            cell_km,
        },
    }
}

// Sizes: convective cells 2 to 10 km across in clusters of some ten kilometres, stratiform rain in bands of 20
// to 100 km with cores in them (orders of Austin & Houze 1972, J. Appl. Meteor. 11, from memory). A moving cell's
// swath is what a disc stands for, so the discs are wider than the cells. Lengths, numbers and
// intensities: fitted by trial to the hourly statistics of a mid-latitude coastal year; no source.

/// Ahead of the warm front: long, even, light.
static SHIELD: Kind = Kind {
    law: law(
        (6.5, 5.5, 1.5, 1.0),
        (1.5, 5.0, 4.0),
        (28.0, 58.0),
        (9.0, 18.0),
    ),
    clusters: 1.2,
    unevenness: 0.5,
    swell: 0.7,
    margin_s: 1800.0,
    pools: false,
    lead_s: 7.0 * HOUR_S,
    closed: 1.0,
};
/// In the warm sector: a little drizzle.
static SECTOR: Kind = Kind {
    law: law(
        (3.5, 4.0, 1.0, 0.4),
        (1.0, 6.0, 3.0),
        (16.0, 32.0),
        (5.0, 9.0),
    ),
    clusters: 0.8,
    unevenness: 0.5,
    swell: 0.5,
    margin_s: 1800.0,
    pools: false,
    lead_s: 4.2 * HOUR_S,
    closed: 1.0,
};
/// The band of the cold front.
static BAND: Kind = Kind {
    law: law(
        (1.4, 5.0, 0.45, 1.35),
        (1.0, 6.0, 8.0),
        (22.0, 42.0),
        (4.0, 7.0),
    ),
    clusters: 1.1,
    unevenness: 0.9,
    swell: 0.6,
    margin_s: 1200.0,
    pools: true,
    lead_s: 4.2 * HOUR_S,
    closed: 1.0,
};
/// Showers in the cold air behind.
static SHOWERS: Kind = Kind {
    law: law(
        (1.0, 3.5, 0.3, 1.3),
        (1.0, 6.0, 8.0),
        (10.0, 25.0),
        (3.5, 6.0),
    ),
    clusters: 0.9,
    unevenness: 0.9,
    swell: 0.6,
    margin_s: 900.0,
    pools: true,
    lead_s: 2.1 * HOUR_S,
    closed: 0.7,
};
/// Thunderstorms of warm afternoons.
static STORMS: Kind = Kind {
    law: law(
        (1.5, 4.0, 0.35, 2.8),
        (1.0, 6.0, 8.0),
        (15.0, 35.0),
        (4.5, 9.0),
    ),
    clusters: 0.35,
    unevenness: 1.0,
    swell: 1.0,
    margin_s: 1500.0,
    pools: true,
    lead_s: 4.2 * HOUR_S,
    closed: 0.8,
};

/// At any time, where there is no end of rain.
static UNSETTLED: Kind = Kind {
    law: law(
        (3.0, 4.0, 0.9, 0.9),
        (1.0, 5.0, 4.0),
        (20.0, 45.0),
        (6.0, 12.0),
    ),
    clusters: 0.35,
    unevenness: 0.7,
    swell: 0.6,
    margin_s: 1800.0,
    pools: false,
    lead_s: 4.2 * HOUR_S,
    closed: 1.0,
};

/// Share of the rain that falls from the day's own convection, 0 to 1, where the climate does not tell: none
/// in winter (common practice, no source).
pub(crate) fn usual_convection(winterness: f64) -> f64 {
    0.2 * (0.5 - 0.5 * winterness).clamp(0.0, 1.0)
}

/// The phases that a system may bring, each with its chance: ahead of the warm front, warm sector, cold
/// front, showers behind, thunderstorms ahead; then the afternoons of the days of its interval of the train,
/// which need no system, and unsettled hours of very wet climates. `abundance` is fitted to the normals, `convection` is the share of rain that falls from the
/// day's own convection (0 to 1).
pub(crate) fn possible_phases_with(
    system: &System,
    abundance: f64,
    longitude_deg: f64,
    convection: f64,
) -> [(f64, Phase); PHASES] {
    let wet = system.strength * system.wetness;
    let likely = abundance.sqrt();
    let summer = (0.5 - 0.5 * system.winterness).clamp(0.0, 1.0);
    let convection = convection.clamp(0.0, 1.0);
    let frontal = 1.0 - convection;
    let hours = |h: f64| system.front_s + h * HOUR_S;
    // Local mean solar noon of the day of an instant.
    let east_s = longitude_deg * 240.0;
    let noon = |time_s: f64| {
        floor((time_s + east_s) * (1.0 / DAY_S)) as f64 * DAY_S + 0.5 * DAY_S - east_s
    };
    let ahead_s = noon(system.front_s - 15.0 * HOUR_S);
    let first_s = noon(system.number as f64 * SPACING_S + 0.5 * DAY_S);
    let amount = (0.35 + 0.65 * wet).min(1.8);
    let vigour = 0.3 + 0.7 * wet.min(2.6);
    let phase = |kind: &'static Kind, span: (f64, f64), clusters: f64, vigour: f64| Phase {
        start_s: span.0,
        end_s: span.1.max(span.0),
        clusters: kind.clusters * clusters,
        law: Law {
            intensity: kind.law.intensity * vigour,
            ..kind.law
        },
        kind,
    };
    let of_system = |i: usize, kind: &'static Kind, span: (f64, f64), chance: f64, vigour: f64| {
        // A chance that abundance would drive past certainty goes into the number instead.
        let wanted = chance * likely * system.favour(0.5 * (span.0 + span.1));
        let surplus = (wanted / 0.97).max(1.0);
        // A draw of 1 is never below a chance: the system cannot bring it.
        let possible = if system.chances[i] < 1.0 { 0.97 } else { 0.0 };
        (
            wanted.min(possible),
            phase(kind, span, amount * likely * surplus, vigour),
        )
    };
    core::array::from_fn(|i| match i {
        0 => of_system(
            i,
            &SHIELD,
            (
                hours(-system.warm_h - system.ahead_h),
                hours(-system.warm_h + 1.0),
            ),
            0.75 * wet.min(1.0) * (1.0 - 0.45 * summer) * frontal,
            vigour,
        ),
        1 => of_system(
            i,
            &SECTOR,
            (hours(-system.warm_h + 1.0), hours(-1.0)),
            0.45 * wet.min(1.0) * frontal,
            vigour,
        ),
        2 => of_system(
            i,
            &BAND,
            (hours(-1.0), hours(1.2)),
            (0.2 + 0.75 * wet.min(1.0)) * frontal,
            vigour * (1.0 + 0.4 * summer),
        ),
        3 => of_system(
            i,
            &SHOWERS,
            (hours(4.0), hours(20.0)),
            0.3 * frontal,
            vigour * (1.0 + 0.5 * summer),
        ),
        4 => of_system(
            i,
            &STORMS,
            (ahead_s + 1.5 * HOUR_S, ahead_s + 8.0 * HOUR_S),
            0.8 * summer * frontal,
            vigour,
        ),
        UNSETTLED_AT => {
            let slot = system.number as f64;
            let span = (slot * SPACING_S, (slot + 1.0) * SPACING_S);
            let clusters = (abundance - UNSETTLED_FROM).max(0.0) * SPACING_S / DAY_S;
            (1.0, phase(&UNSETTLED, span, clusters, 1.0))
        }
        day => {
            let day_s = first_s + (day - OWN) as f64 * DAY_S;
            let inside = day_s < (system.number + 1) as f64 * SPACING_S;
            let span = (day_s + 1.0 * HOUR_S, day_s + 8.0 * HOUR_S);
            // Their cells need no lift, but sinking air holds them down.
            let favour = system.favour(0.5 * (span.0 + span.1)).sqrt();
            let clusters = DAYS_AMOUNT * abundance * convection * favour;
            (
                if inside { 1.0 } else { 0.0 },
                phase(&STORMS, span, clusters, 1.0),
            )
        }
    })
}

/// The phases that a system does bring.
pub(crate) fn phases_with(
    system: &System,
    abundance: f64,
    longitude_deg: f64,
    convection: f64,
) -> [Option<Phase>; PHASES] {
    let possible = possible_phases_with(system, abundance, longitude_deg, convection);
    // Every day has its afternoon: its clusters come or not by themselves.
    core::array::from_fn(|i| {
        let there = system.chances.get(i).copied().unwrap_or(0.5) < possible[i].0;
        there.then_some(possible[i].1)
    })
}

/// [`phases_with`] the usual convection of the season.
pub(crate) fn phases(
    system: &System,
    abundance: f64,
    longitude_deg: f64,
) -> [Option<Phase>; PHASES] {
    let usual = usual_convection(system.winterness);
    phases_with(system, abundance, longitude_deg, usual)
}

impl Phase {
    /// Expected depth, in units of the fitted intensity.
    pub(crate) fn depth(&self) -> f64 {
        let law = &self.law;
        self.clusters * law.cells_of_one() * law.cell_h * law.intensity
    }
}
