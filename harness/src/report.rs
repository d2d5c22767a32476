//! The picture of a run: one self-contained page with plots and a summary in words.
//!
//! [`Report`] is a [`Sink`]: it folds every interval and every packet into a fixed number of time bins,
//! so its memory (below 2 MiB) and the size of its page (below 1.5 MB) do not grow with the period.
//! [`Report::render`] turns the bins into HTML with inline SVG; the page asks for nothing from outside,
//! runs no script, and is the same bytes for the same input.
//!
//! The road: `timeline` (bins and ticks) → `lanes` and `folds` → `tally` (what was read) and `traffic` (what was heard) →
//! `chart` (marks) → `panels` (one figure per quantity) and `summary` (words and tables) → `page`.

mod chart;
mod faults;
mod figure;
mod folds;
pub mod gallery;
mod lanes;
pub mod network;
mod page;
mod panels;
mod summary;
mod tally;
mod timeline;
mod traffic;
mod wording;

use crate::faults::Episode;
use crate::link::Arrival;
use crate::plan::{Plan, WeatherSource};
use crate::row::{Row, Sink};
use benchmast_protocol::frame::Identity;
use benchmast_protocol::packet::HeadId;
use benchmast_protocol::receiver::Event;
use benchmast_sim::site::Place;
use tally::Tally;
use timeline::Timeline;
use traffic::Traffic;

/// What a report must be told at the end of a run.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Outcome {
    /// Lines of the table "About this run", as name and value: versions, files, their sums.
    pub facts: Vec<(String, String)>,
}

/// What the page says about the plan, without its records.
#[derive(Debug)]
struct Heading {
    title: String,
    place_name: String,
    place: Place,
    height_m: f64,
    weather: String,
    seed: u64,
    head_id: HeadId,
    identity: Identity,
    faults: Vec<Episode>,
}

/// Everything the page is drawn from.
#[derive(Debug)]
pub struct Report {
    heading: Heading,
    timeline: Timeline,
    tally: Tally,
    traffic: Traffic,
}

impl Report {
    /// An empty report over the plan's period.
    #[must_use]
    pub fn new(plan: &Plan) -> Self {
        let timeline = Timeline::new(plan.start_us, plan.end_us, plan.head.interval_s);
        let weather = match &plan.weather {
            WeatherSource::Synthetic { .. } => "computed from monthly normals".to_owned(),
            WeatherSource::Recorded { file, records, .. } => format!(
                "filled in between the {} records of {}",
                wording::count(records.len() as u64),
                // The directory is this machine's business, not the reader's.
                file.file_name().unwrap_or_default().to_string_lossy()
            ),
        };
        Self {
            tally: Tally::new(timeline, &plan.faults),
            traffic: Traffic::new(timeline, plan.head_id, plan.link.delay_max_s),
            timeline,
            heading: Heading {
                title: plan.title.clone(),
                place_name: plan.place_name.clone(),
                place: plan.place,
                height_m: plan.site.height_m,
                weather,
                seed: plan.seed,
                head_id: plan.head_id,
                identity: plan.identity,
                faults: plan.faults.clone(),
            },
        }
    }

    /// The whole page, HTML in UTF-8.
    #[must_use]
    pub fn render(&self, outcome: &Outcome) -> String {
        page::render(self, outcome)
    }
}

impl Sink for Report {
    fn interval(&mut self, row: &Row<'_>) -> std::io::Result<()> {
        self.tally.interval(row);
        Ok(())
    }

    fn sent(&mut self, time_us: i64, bytes: &[u8]) -> std::io::Result<()> {
        self.traffic.sent(time_us, bytes);
        Ok(())
    }

    fn heard(&mut self, arrival: &Arrival) -> std::io::Result<()> {
        self.traffic.heard(arrival);
        Ok(())
    }

    fn event(&mut self, time_us: i64, _signal_dbm: f64, event: &Event) -> std::io::Result<()> {
        self.traffic.event(time_us, event);
        Ok(())
    }
}
