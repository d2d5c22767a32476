//! What the network's page needs of one station.

use super::fronts::Fine;
use crate::plan::Plan;
use crate::report::timeline::Timeline;
use crate::row::{Row, Sink};
use benchmast_protocol::packet::HeadId;
use benchmast_protocol::quantity::Quantity;
use benchmast_protocol::receiver::Event;
use benchmast_sim::truth::Truth;
use std::io;

/// Sum and number of what was present.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Mean {
    sum: f64,
    number: f64,
}

impl Mean {
    fn add(&mut self, value: f64) {
        if value.is_finite() {
            self.sum += value;
            self.number += 1.0;
        }
    }
    /// `None` when nothing was present.
    pub(super) fn value(&self) -> Option<f64> {
        (self.number > 0.0).then(|| self.sum / self.number)
    }
}

/// The weather of one time bin, and the rain believed in it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Bin {
    /// Truth, degC.
    pub(super) temperature: Mean,
    /// Truth at station level, hPa.
    pub(super) pressure: Mean,
    /// Truth, m/s.
    pub(super) wind: Mean,
    /// Highest true gust, m/s.
    pub(super) gust_ms: f64,
    /// Sum of the true wind's vectors: where it comes from, times its speed, m/s.
    pub(super) from: [f64; 2],
    /// Rain and snow that fell, mm of water.
    pub(super) fallen_mm: f64,
    /// Rain that the receiver believed, mm.
    pub(super) believed_mm: f64,
}

/// Listens to one station of a network.
#[derive(Debug)]
pub struct Gathering {
    head: HeadId,
    strand: Strand,
}

/// What is kept of a station.
#[derive(Debug, Clone)]
pub struct Strand {
    pub(super) timeline: Timeline,
    pub(super) bins: Vec<Bin>,
    pub(super) fine: Fine,
    /// Means over the period: true air temperature, and that of the observations believed, degC.
    pub(super) temperature: [Mean; 2],
    /// Highest gust: true, and believed, m/s.
    pub(super) gust_ms: [Option<f64>; 2],
}

impl Gathering {
    /// For a station's plan.
    #[must_use]
    pub fn new(plan: &Plan) -> Self {
        let timeline = Timeline::new(plan.start_us, plan.end_us, plan.head.interval_s);
        Self {
            head: plan.head_id,
            strand: Strand {
                timeline,
                bins: vec![Bin::default(); timeline.count],
                fine: Fine::new(plan.start_us, plan.end_us),
                temperature: [Mean::default(); 2],
                gust_ms: [None; 2],
            },
        }
    }

    /// The station is through.
    #[must_use]
    pub fn finish(self) -> Strand {
        self.strand
    }
}

/// Where the wind comes from as a vector (east, north) of the length of its speed, m/s.
pub(super) fn from_vector(truth: &Truth) -> [f64; 2] {
    // The functions are those of the simulation, alike on all machines.
    let from = truth.wind_from_direction_deg.to_radians();
    let speed_ms = truth.wind_speed_ms;
    [speed_ms * libm::sin(from), speed_ms * libm::cos(from)]
}

/// The larger of what is kept and what is new.
fn keep(kept: &mut Option<f64>, value: f64) {
    if kept.is_none_or(|kept| value > kept) && value.is_finite() {
        *kept = Some(value);
    }
}

impl Sink for Gathering {
    fn interval(&mut self, row: &Row<'_>) -> io::Result<()> {
        let (truth, strand) = (row.truth, &mut self.strand);
        let from = from_vector(truth);
        strand.fine.add(truth, from);
        strand.temperature[0].add(truth.air_temperature_degc);
        keep(&mut strand.gust_ms[0], truth.wind_speed_of_gust_ms);
        let bin = strand.timeline.bin_of_interval_end(row.step.time_us);
        if let Some(bin) = strand.bins.get_mut(bin) {
            bin.temperature.add(truth.air_temperature_degc);
            bin.pressure.add(truth.air_pressure_hpa);
            bin.wind.add(truth.wind_speed_ms);
            bin.gust_ms = bin.gust_ms.max(truth.wind_speed_of_gust_ms);
            bin.from = [bin.from[0] + from[0], bin.from[1] + from[1]];
            bin.fallen_mm += truth.rainfall_mm + truth.snowfall_mm;
        }
        Ok(())
    }

    fn event(&mut self, time_us: i64, _signal_dbm: f64, event: &Event) -> io::Result<()> {
        let Event::Observation(believed) = event else {
            return Ok(());
        };
        if believed.head != self.head {
            return Ok(());
        }
        let (observation, strand) = (&believed.observation, &mut self.strand);
        strand.temperature[1].add(observation.air_temperature.si().unwrap_or(f64::NAN));
        keep(
            &mut strand.gust_ms[1],
            observation.wind_speed_of_gust.si().unwrap_or(f64::NAN),
        );
        let bin = strand.timeline.bin_of_interval_end(time_us);
        if let Some(bin) = strand.bins.get_mut(bin) {
            bin.believed_mm += f64::from(believed.rain_um.unwrap_or(0)) / 1000.0;
        }
        Ok(())
    }
}
