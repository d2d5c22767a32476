//! The page around the figures: head, style, shared marks, fault lanes, legend.

use super::chart::{self, HEIGHT, Scale};
use super::figure::{Chart, Frame};
use super::timeline::Timeline;
use super::wording::escape;
use super::{Outcome, Report, panels, summary};
use crate::faults::Episode;
use std::fmt::Write as _;

pub(super) const STYLE: &str = include_str!("style.css");
/// More labels than this run into each other; the lanes still name every fault.
const MOST_TAGS: usize = 24;
/// Instants at which a lane looks at the severity within one bin.
const LOOKS: i64 = 8;

/// The whole page.
pub(super) fn render(report: &Report, outcome: &Outcome) -> String {
    let timeline = report.timeline;
    let lanes = lanes(&report.heading.faults, &timeline);
    let names: Vec<&str> = lanes.iter().map(|lane| lane.id).collect();
    let ticks = timeline.ticks();
    let frame = Frame::new(timeline, tags(&lanes), &ticks);
    let title = escape(&report.heading.title);
    let mut html = format!(
        "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\
         <title>{title} – {}</title><style>{STYLE}</style></head><body>",
        escape(&report.heading.place_name)
    );
    html.push_str(&shared_marks(report, &lanes, &ticks));
    let _ = write!(
        html,
        "<header><p class=\"kind\">Report of a simulated weather station</p><h1>{title}</h1></header><main>\
         <div class=\"beside\"><section class=\"text\"><h2 id=\"summary\">In short</h2>{}</section>\
         <section class=\"text\"><h2 id=\"reading\">How to read the plots</h2>{HOW_TO_READ}</section></div>\
         <section><h2 id=\"weather\">Weather and readings</h2>{LEGEND}{}{}</ul>",
        summary::paragraphs(report),
        if lanes.is_empty() { "" } else { LEGEND_FAULT },
        if timeline.shows_nights() {
            LEGEND_NIGHT
        } else {
            ""
        },
    );
    if !lanes.is_empty() {
        html.push_str(&lane_figure(&frame, &lanes));
    }
    html.push_str(&panels::all(report, &frame));
    let _ = writeln!(
        html,
        "</section><section><h2 id=\"tables\">In numbers</h2><h3>Readings against the truth</h3>{}\
         <h3>Faults</h3>{}<h3>Packets</h3>{}</section>\
         <section><h2 id=\"run\">About this run</h2>{}</section></main></body></html>",
        summary::quantities(report),
        summary::episodes(report, &names),
        summary::packets(report),
        summary::facts(report, &outcome.facts),
    );
    html
}

const HOW_TO_READ: &str = "\
<p>All plots share one time axis in UTC, so what happens at one time stands in one vertical line. Each \
value is the mean over one bin unless its caption says otherwise.</p>\
<ul>\
<li><b>Twin</b>, the wide pale line: what the same head would have read without any fault, under the same \
weather and with the same noise.</li>\
<li><b>Actual</b>, the thin dark line on it: what the head did read. While it runs inside the pale line the \
head does what a healthy one would; where it leaves it, a fault has an effect. Where it is missing, the head \
was off or had no reading.</li>\
<li><b>Truth</b>, the dots on the lines: free air. Between truth and twin lies what a healthy sensor cannot \
do better.</li>\
<li><b>Grey range</b>: lowest to highest actual reading in each bin.</li>\
<li><b>Effect strips</b>: actual minus twin, in their own scale, only under quantities that a fault moved.</li>\
<li><b>Tinted bands</b> from a solid to a broken edge: a fault is active; its number and name stand at its \
onset. <b>Dim stretches</b>: the sun is below the horizon.</li>\
</ul>";

const LEGEND: &str = "<ul class=\"legend\" aria-label=\"Legend\">\
<li><svg viewBox=\"0 0 44 14\" aria-hidden=\"true\"><path class=\"twin\" d=\"M3 7h38\"/></svg>twin</li>\
<li><svg viewBox=\"0 0 44 14\" aria-hidden=\"true\"><path class=\"twin\" d=\"M3 7h38\"/><path class=\"actual\" \
d=\"M3 7h20l8-5 10 2\"/></svg>actual</li>\
<li><svg viewBox=\"0 0 44 14\" aria-hidden=\"true\"><path class=\"truth\" d=\"M3 7h38\"/></svg>truth</li>\
<li><svg viewBox=\"0 0 44 14\" aria-hidden=\"true\"><path class=\"believed\" d=\"M3 7h38\"/></svg>believed by \
the receiver</li>\
<li><svg viewBox=\"0 0 44 14\" aria-hidden=\"true\"><path class=\"range\" d=\"M3 2l12 2 12-3 14 2v8l-14 1-12-1-12 \
2z\"/></svg>range</li>";
const LEGEND_FAULT: &str = "<li><svg viewBox=\"0 0 44 14\" aria-hidden=\"true\"><path class=\"band\" d=\"M4 0h36v14h-36z\"/><path \
class=\"onset\" d=\"M4 0v14\"/><path class=\"end\" d=\"M40 0v14\"/></svg>fault</li>";
const LEGEND_NIGHT: &str = "<li><svg viewBox=\"0 0 44 14\" aria-hidden=\"true\"><path class=\"night\" d=\"M4 0h36v14h-36z\"/></svg>night</li>";

/// All episodes of one fault.
#[derive(Debug)]
struct Lane<'p> {
    id: &'static str,
    episodes: Vec<&'p Episode>,
    /// Begin and end of its bands along the axis, 0..=1, and whether they begin or end inside it.
    bands: Vec<Band>,
}

#[derive(Debug, Clone, Copy)]
struct Band {
    begin: f64,
    end: f64,
    begins: bool,
    ends: bool,
}

/// One lane per fault in order of its first onset; episodes too near to be told apart are one band.
fn lanes<'p>(faults: &'p [Episode], timeline: &Timeline) -> Vec<Lane<'p>> {
    let close_us = timeline.close_us();
    let mut lanes: Vec<Lane<'p>> = Vec::new();
    for episode in faults {
        let end_us = episode.end_us.unwrap_or(i64::MAX);
        if episode.onset_us >= close_us
            || end_us <= timeline.origin_us
            || end_us <= episode.onset_us
        {
            continue;
        }
        let band = Band {
            begin: timeline.share(episode.onset_us),
            end: timeline.share(end_us),
            begins: episode.onset_us > timeline.origin_us,
            ends: end_us < close_us,
        };
        let lane = match lanes.iter_mut().find(|lane| lane.id == episode.fault.id) {
            Some(lane) => lane,
            None => {
                lanes.push(Lane {
                    id: episode.fault.id,
                    episodes: Vec::new(),
                    bands: Vec::new(),
                });
                let Some(lane) = lanes.last_mut() else {
                    continue;
                };
                lane
            }
        };
        lane.episodes.push(episode);
        match lane.bands.last_mut() {
            Some(last) if band.begin <= last.end + 0.5 / timeline.count as f64 => {
                if band.end >= last.end {
                    (last.end, last.ends) = (band.end, band.ends);
                }
            }
            _ => lane.bands.push(band),
        }
    }
    lanes
}

/// Labels at the onset of every band, in a row above a plot: the fault's number and id, cut off where
/// the next label begins.
fn tags(lanes: &[Lane<'_>]) -> String {
    let mut labels: Vec<(f64, usize, &str)> = Vec::new();
    for (index, lane) in lanes.iter().enumerate() {
        labels.extend(lane.bands.iter().map(|band| (band.begin, index, lane.id)));
    }
    if labels.is_empty() || labels.len() > MOST_TAGS {
        return String::new();
    }
    labels.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut html = String::from("<div class=\"tags\" aria-hidden=\"true\">");
    for (place, (begin, index, id)) in labels.iter().enumerate() {
        let next = labels.get(place + 1).map_or(1.0, |label| label.0);
        let _ = write!(
            html,
            "<span class=\"tag\" style=\"left:{:.2}%;max-width:{:.2}%\"><b>{}</b><span> {}</span></span>",
            begin * 100.0,
            (next - begin) * 100.0,
            index + 1,
            escape(id)
        );
    }
    html.push_str("</div>");
    html
}

/// When each fault was active, and how badly.
fn lane_figure(frame: &Frame, lanes: &[Lane<'_>]) -> String {
    let timeline = &frame.timeline;
    let mut html = String::from(
        "<figure><figcaption><b>Faults</b> <span class=\"note\">Height: severity from 0 to 1.</span>\
         </figcaption>",
    );
    for (row, lane) in lanes.iter().enumerate() {
        let severity: Vec<Option<f64>> = (0..timeline.count)
            .map(|bin| {
                let begin = timeline.begin_us(bin);
                let looks = (0..LOOKS).map(|look| {
                    let time = begin + timeline.width_us * (2 * look + 1) / (2 * LOOKS);
                    let of = |episode: &&Episode| episode.severity_at(time);
                    lane.episodes.iter().map(of).fold(0.0, f64::max)
                });
                Some(looks.sum::<f64>() / LOOKS as f64)
            })
            .collect();
        let mut chart = Chart::new(
            Scale::fixed(0.0, 1.0, &[0.5]),
            22,
            format!(
                "Fault {}, {}: active in {} stretches.",
                row + 1,
                lane.id,
                lane.bands.len()
            ),
        )
        .labels(|_, _| String::new())
        .lane();
        chart.mark("severity", &chart::steps(&severity, chart.scale()));
        // Before the first band, else behind the last one, else upon it.
        let first = lane.bands.first().map_or(0.0, |band| band.begin);
        let last = lane.bands.last().map_or(1.0, |band| band.end);
        let (side, at) = if first > 0.28 {
            ("right", 1.0 - first)
        } else if last < 0.75 {
            ("left", last)
        } else {
            ("left", first)
        };
        let name = format!(
            "<span class=\"name\" style=\"{side}:{:.2}%\"><b>{}</b> {}</span>",
            at * 100.0,
            row + 1,
            escape(lane.id)
        );
        chart.write(&mut html, timeline, &name, "<use href=\"#nights\"/>");
    }
    html.push_str(&frame.times);
    html.push_str("</figure>");
    html
}

/// Marks that every plot repeats: night, fault bands, time ticks. Drawn once, used by reference.
fn shared_marks(report: &Report, lanes: &[Lane<'_>], ticks: &[super::timeline::Tick]) -> String {
    let timeline = &report.timeline;
    let across = 2.0 * timeline.count as f64;
    let mut html = String::from(
        "<svg width=\"0\" height=\"0\" class=\"shared\" aria-hidden=\"true\"><defs><g id=\"nights\">",
    );
    if timeline.shows_nights() {
        let bins = report.tally.bins();
        let nights = chart::runs(bins.len(), |bin| 2 * bins[bin].night > bins[bin].intervals);
        let path: String = nights
            .iter()
            .map(|(begin, end)| {
                let across = 2 * (end - begin);
                format!("M{} 0h{across}v{HEIGHT}h-{across}z", 2 * begin)
            })
            .collect();
        let _ = write!(html, "<path class=\"night\" d=\"{path}\"/>");
    }
    html.push_str("</g><g id=\"bands\">");
    for band in lanes.iter().flat_map(|lane| &lane.bands) {
        let (left, right) = (band.begin * across, band.end * across);
        let _ = write!(
            html,
            "<path class=\"band\" d=\"M{left:.2} 0H{right:.2}V{HEIGHT}H{left:.2}z\"/>"
        );
        if band.begins {
            let _ = write!(html, "<path class=\"onset\" d=\"M{left:.2} 0v{HEIGHT}\"/>");
        }
        if band.ends {
            let _ = write!(html, "<path class=\"end\" d=\"M{right:.2} 0v{HEIGHT}\"/>");
        }
    }
    html.push_str("</g>");
    html.push_str(&tick_marks(timeline, ticks));
    html.push_str("</defs></svg>");
    html
}

/// The ticks of the time axis, drawn once.
pub(super) fn tick_marks(timeline: &Timeline, ticks: &[super::timeline::Tick]) -> String {
    let across = 2.0 * timeline.count as f64;
    let mut html = String::from("<g id=\"ticks\">");
    for strong in [false, true] {
        let path: String = ticks
            .iter()
            .filter(|tick| tick.strong == strong)
            .map(|tick| format!("M{:.2} 0v{HEIGHT}", tick.share * across))
            .collect();
        let class = if strong { "tick strong" } else { "tick" };
        if !path.is_empty() {
            let _ = write!(html, "<path class=\"{class}\" d=\"{path}\"/>");
        }
    }
    html.push_str("</g>");
    html
}
