//! The page of a network.

use super::fronts::{Front, fronts};
use super::gathering::{Bin, Strand};
use super::map::map;
use crate::plan::{self, Network, WeatherSource};
use crate::report::chart::{self, Scale};
use crate::report::figure::{Chart, Frame};
use crate::report::page::{STYLE, tick_marks};
use crate::report::summary::facts_table;
use crate::report::timeline::Timeline;
use crate::report::wording::{count, escape, instant, percent, quantity, signed, span, value};
use crate::tally::Tally;
use benchmast_sim::weather::Offset;
use std::fmt::Write as _;

type Series = Vec<Option<f64>>;

const HOW_TO_READ: &str = "<p>All plots show the truth in free air; each quantity has one plot per station, \
one below the other in the order of the scenario, with one time axis in UTC. A front, a shower or a change of wind that \
comes to one station after the other stands further right in each plot. What a head read, and what was \
wrong with it, is in the station's own report.</p>";

/// The whole page, HTML in UTF-8: self-contained, but for links to the stations' own reports. `strands` and
/// `tallies` are in the order of the stations.
#[must_use]
pub fn page(
    network: &Network,
    strands: &[Strand],
    tallies: &[Tally],
    facts: &[(String, String)],
) -> String {
    let title = network
        .stations
        .first()
        .map_or_else(String::new, |plan| escape(&plan.title));
    let mut html = format!(
        "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\
         <title>{title} – {}</title><style>{STYLE}</style></head><body>",
        escape(&network.place_name)
    );
    // Stations may report at different paces; the widest bins serve all.
    let Some(timeline) = strands
        .iter()
        .map(|strand| strand.timeline)
        .max_by_key(|timeline| timeline.width_us)
    else {
        return html + "</body></html>\n";
    };
    let ticks = timeline.ticks();
    let _ = write!(
        html,
        "<svg width=\"0\" height=\"0\" class=\"shared\" aria-hidden=\"true\"><defs><g id=\"nights\"></g>\
         <g id=\"bands\"></g>{}</defs></svg><header><p class=\"kind\">Report of a network of simulated weather \
         stations</p><h1>{title}</h1></header><main><div class=\"beside\"><section class=\"text\"><h2 \
         id=\"summary\">In short</h2>{}</section><section class=\"text\"><h2 id=\"reading\">How to read the plots</h2>\
         {HOW_TO_READ}</section></div><section><h2 id=\"map\">The stations</h2><div class=\"beside\"><div>{}</div>\
         <div>{}</div></div></section><section><h2 id=\"believed\">What each receiver believed</h2>{}</section>",
        tick_marks(&timeline, &ticks),
        paragraph(network, &timeline),
        map(network),
        stations(network),
        believed(network, strands, tallies),
    );
    let lines: Vec<&Strand> = strands.iter().collect();
    let fine: Vec<_> = lines.iter().map(|strand| &strand.fine).collect();
    let _ = write!(
        html,
        "<section><h2 id=\"fronts\">Fronts</h2>{}</section>",
        arrivals(network, &fronts(&fine))
    );
    let frame = Frame::new(timeline, String::new(), &ticks);
    html.push_str("<section><h2 id=\"weather\">The weather at each station</h2>");
    for figure in [temperature, rain, pressure, wind, direction] {
        html.push_str(&figure(network, &lines, &frame));
    }
    let _ = writeln!(
        html,
        "</section><section><h2 id=\"run\">About this run</h2>{}</section></main></body></html>",
        about(&timeline, facts)
    );
    html
}

fn paragraph(network: &Network, timeline: &Timeline) -> String {
    let plans = &network.stations;
    let mut widest = (0.0, 0, 0);
    for (one, plan) in plans.iter().enumerate() {
        for (other, far) in plans.iter().enumerate().skip(one + 1) {
            let distance = plan::distance_km(&plan.place, &far.place);
            if distance > widest.0 {
                widest = (distance, one, other);
            }
        }
    }
    let name = |index: usize| -> String {
        plans
            .get(index)
            .and_then(|plan| plan.station.as_deref())
            .map_or_else(String::new, escape)
    };
    let weather = match plans.first().map(|plan| &plan.weather) {
        Some(WeatherSource::Recorded { .. }) => {
            "They share one record of the weather; what happens between its times each of them fills in by itself."
        }
        _ => "They share one weather, computed from monthly normals.",
    };
    let mut html = format!(
        "<p><b>{}</b> around <b>{}</b>, each with a receiver of its own, over <b>{}</b> from {} to {}. {weather}</p>",
        match plans.len() {
            1 => "One station".to_owned(),
            number => format!("{number} stations"),
        },
        escape(&network.place_name),
        span(timeline.end_us - timeline.start_us),
        instant(timeline.start_us),
        instant(timeline.end_us),
    );
    if widest.0 > 0.0 {
        let _ = write!(
            html,
            "<p>The longest way is that from {} to {}: <b>{}</b>.</p>",
            name(widest.1),
            name(widest.2),
            quantity(Some(widest.0), 1, "km")
        );
    }
    html
}

/// A table: caption, titles of the columns, rows whose first cell is a title. Cells are HTML.
fn table(caption: &str, titles: &[String], rows: &[Vec<String>]) -> String {
    let mut html = format!("<div class=\"scroll\"><table><caption>{caption}</caption><thead><tr>");
    for title in titles {
        let _ = write!(html, "<th scope=\"col\">{title}</th>");
    }
    html.push_str("</tr></thead><tbody>");
    for row in rows {
        html.push_str("<tr>");
        for (column, cell) in row.iter().enumerate() {
            let _ = if column == 0 {
                write!(html, "<th scope=\"row\">{cell}</th>")
            } else {
                write!(html, "<td>{cell}</td>")
            };
        }
        html.push_str("</tr>");
    }
    html.push_str("</tbody></table></div>");
    html
}

fn titles(words: &[&str]) -> Vec<String> {
    words.iter().map(|word| (*word).to_owned()).collect()
}

fn stations(network: &Network) -> String {
    let rows: Vec<Vec<String>> = network
        .stations
        .iter()
        .zip(network.names())
        .map(|(plan, name)| {
            let offset = Offset::between(&network.place, &plan.place);
            vec![
                // The name is fit for a folder, so it is fit for a link.
                format!("<a href=\"{name}/report.html\">{name}</a>"),
                signed(Some(offset.east_km), 1),
                signed(Some(offset.north_km), 1),
                value(Some(plan.place.altitude_m), 0),
                plan.faults.len().to_string(),
            ]
        })
        .collect();
    table(
        "Where they stand, from the cross on the map, and how many episodes of faults they have.",
        &titles(&["Station", "East, km", "North, km", "Altitude, m", "Faults"]),
        &rows,
    )
}

fn believed(network: &Network, strands: &[Strand], tallies: &[Tally]) -> String {
    let rows: Vec<Vec<String>> = network
        .names()
        .zip(strands)
        .zip(tallies)
        .map(|((name, strand), tally)| {
            let [true_mean, believed_mean] = strand.temperature.map(|mean| mean.value());
            vec![
                escape(name),
                format!(
                    "{} ({})",
                    count(tally.observations),
                    percent(tally.observations, tally.intervals)
                ),
                value(true_mean, 2),
                value(believed_mean, 2),
                value(strand.gust_ms[0], 1),
                value(strand.gust_ms[1], 1),
                value(Some(tally.rain_truth_mm), 1),
                value(Some(tally.snow_truth_mm), 1),
                value(Some(tally.rain_believed_mm), 1),
            ]
        })
        .collect();
    table(
        "Each receiver hears its own head. Means of the temperature are over all intervals and over those whose \
         observation was believed; snow is in mm of water, and a gauge counts it when it melts.",
        &titles(&[
            "Station",
            "Observations believed",
            "Temperature, true, °C",
            "believed, °C",
            "Highest gust, true, m/s",
            "believed, m/s",
            "Rain, true, mm",
            "Snow, true, mm",
            "Rain believed, mm",
        ]),
        &rows,
    )
}

fn arrivals(network: &Network, fronts: &[Front]) -> String {
    if fronts.is_empty() {
        return "<p>None was found: nowhere did the pressure turn from falling to rising while the wind turned.</p>"
            .to_owned();
    }
    let mut columns = titles(&[
        "At the first station",
        "Wind turned, °",
        "Temperature, K",
        "Pressure, hPa",
    ]);
    columns.extend(network.names().map(|name| format!("{}, min", escape(name))));
    let rows: Vec<Vec<String>> = fronts
        .iter()
        .map(|front| {
            let mut row = vec![
                instant(front.time_us),
                signed(Some(front.turn_deg), 0),
                signed(Some(front.warming_k), 1),
                signed(Some(front.kink_hpa), 1),
            ];
            row.extend(front.lags_min.iter().map(|lag| signed(*lag, 0)));
            row
        })
        .collect();
    table(
        "Found where the pressure at the first station turns from falling to rising (by how much the change in three \
         hours grows) while the wind turns (clockwise positive) from the hour before to the hour after. The last columns: how many \
         minutes later the same stretch of the pressure's course came to each station. The first sixty days \
         are searched.",
        &columns,
        &rows,
    )
}

/// One value per bin of the frame's timeline.
fn series(strand: &Strand, frame: &Frame, pick: fn(&Bin) -> Option<f64>) -> Series {
    let own = &strand.timeline;
    (0..frame.timeline.count)
        .map(|bin| {
            // Where a station's bins are narrower, the one in the middle stands for all.
            let middle = frame.timeline.begin_us(bin) + frame.timeline.width_us / 2;
            strand.bins.get(own.bin_of(middle)).and_then(pick)
        })
        .collect()
}

fn extent<'s>(series: impl IntoIterator<Item = &'s Series>) -> (f64, f64) {
    let values = series.into_iter().flatten().flatten();
    values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
        (low.min(*value), high.max(*value))
    })
}

/// Height of one plot, tenths of the letter size.
fn height(network: &Network) -> u32 {
    if network.stations.len() > 6 { 44 } else { 62 }
}

fn temperature(network: &Network, strands: &[&Strand], frame: &Frame) -> String {
    let of = |strand: &&Strand| series(strand, frame, |bin| bin.temperature.value());
    let all: Vec<Series> = strands.iter().map(of).collect();
    let (low, high) = extent(&all);
    let charts: Vec<Chart> = network
        .names()
        .zip(&all)
        .map(|(name, values)| {
            let own = extent([values]);
            let mut chart = Chart::new(
                Scale::around(low, high, 2.0, 2),
                height(network),
                format!(
                    "Air temperature at {name}: from {} to {}.",
                    quantity(Some(own.0), 1, "degC"),
                    quantity(Some(own.1), 1, "degC")
                ),
            )
            .heading(name);
            chart.mark("actual", &chart::line(values, chart.scale(), 1));
            chart
        })
        .collect();
    frame.figure("Air temperature", "°C", "", &charts)
}

fn pressure(network: &Network, strands: &[&Strand], frame: &Frame) -> String {
    let of = |strand: &&Strand| series(strand, frame, |bin| bin.pressure.value());
    let all: Vec<Series> = strands.iter().map(of).collect();
    let widest = all
        .iter()
        .map(|values| extent([values]))
        .map(|(low, high)| high - low)
        .fold(2.0, f64::max);
    let charts: Vec<Chart> = network
        .names()
        .zip(&all)
        .map(|(name, values)| {
            let own = extent([values]);
            let middle = f64::midpoint(own.0, own.1);
            let mut chart = Chart::new(
                Scale::around(middle - widest / 2.0, middle + widest / 2.0, 2.0, 2),
                height(network),
                format!(
                    "Pressure at {name}: from {} to {}.",
                    quantity(Some(own.0), 1, "hPa"),
                    quantity(Some(own.1), 1, "hPa")
                ),
            )
            .heading(name);
            chart.mark("actual", &chart::line(values, chart.scale(), 1));
            chart
        })
        .collect();
    frame.figure("Air pressure", "hPa", "At station level.", &charts)
}

fn wind(network: &Network, strands: &[&Strand], frame: &Frame) -> String {
    let of = |pick: fn(&Bin) -> Option<f64>| -> Vec<Series> {
        let one = |strand: &&Strand| series(strand, frame, pick);
        strands.iter().map(one).collect()
    };
    let (means, gusts) = (
        of(|bin| bin.wind.value()),
        of(|bin| bin.wind.value().map(|_| bin.gust_ms)),
    );
    let high = extent(&gusts).1;
    let charts: Vec<Chart> = network
        .names()
        .zip(means.iter().zip(&gusts))
        .map(|(name, (mean, gust))| {
            let mut chart = Chart::new(
                Scale::from_zero(high, 2.0, 3),
                height(network),
                format!(
                    "Wind at {name}: the strongest gust was {}.",
                    quantity(Some(extent([gust]).1), 1, "m s-1")
                ),
            )
            .heading(name);
            chart.mark("range", &chart::range(mean, gust, chart.scale()));
            chart.mark("actual", &chart::line(mean, chart.scale(), 1));
            chart
        })
        .collect();
    let note = "Line: mean. Grey: up to the highest gust.";
    frame.figure("Wind speed", "m/s", note, &charts)
}

/// Where the wind comes from: dots, since a line would cross the whole plot at north.
fn direction(network: &Network, strands: &[&Strand], frame: &Frame) -> String {
    let charts: Vec<Chart> = network
        .names()
        .zip(strands)
        .map(|(name, strand)| {
            let values = series(strand, frame, |bin| {
                let [east, north] = bin.from;
                let degrees = libm::atan2(east, north).to_degrees();
                let round = if degrees < 0.0 {
                    degrees + 360.0
                } else {
                    degrees
                };
                (east.abs() + north.abs() > 0.0).then_some(round)
            });
            let mut chart = Chart::new(
                Scale::fixed(0.0, 360.0, &[0.0, 180.0, 360.0]),
                height(network),
                format!("Where the wind comes from at {name}, one dot per bin."),
            )
            .labels(|value, _| (if value == 180.0 { "S" } else { "N" }).to_owned())
            .heading(name);
            chart.mark("actual dot", &chart::dots(&values, chart.scale()));
            chart
        })
        .collect();
    let note = "Where the wind comes from. Vector mean of each bin.";
    frame.figure("Wind direction", "", note, &charts)
}

fn rain(network: &Network, strands: &[&Strand], frame: &Frame) -> String {
    let (bar_us, ranges) = frame.timeline.bars();
    let sums = |strand: &Strand, pick: fn(&Bin) -> f64| -> Vec<f64> {
        let mut sums = vec![0.0; ranges.len()];
        for (bin, of_bin) in strand.bins.iter().enumerate() {
            let middle = strand.timeline.begin_us(bin) + strand.timeline.width_us / 2;
            let on_page = frame.timeline.bin_of(middle);
            let bar = ranges.partition_point(|range| range.1 <= on_page);
            if let Some(sum) = sums.get_mut(bar) {
                *sum += pick(of_bin);
            }
        }
        sums
    };
    let all: Vec<[Vec<f64>; 2]> = strands
        .iter()
        .map(|strand| {
            [
                sums(strand, |bin| bin.fallen_mm),
                sums(strand, |bin| bin.believed_mm),
            ]
        })
        .collect();
    let highest = all.iter().flatten().flatten().copied().fold(0.0, f64::max);
    let nothing = vec![0.0; ranges.len()];
    let charts: Vec<Chart> = network
        .names()
        .zip(&all)
        .map(|(name, [fallen, believed])| {
            let mut chart = Chart::new(
                Scale::from_zero(highest, 1.0, 2),
                height(network),
                format!(
                    "Rain and snow at {name}: {} fell, {} of rain was believed.",
                    quantity(Some(fallen.iter().sum()), 1, "mm"),
                    quantity(Some(believed.iter().sum()), 1, "mm")
                ),
            )
            .heading(name);
            let bars = |top: &[f64], width: f64, chart: &Chart| {
                chart::bars(&ranges, &nothing, top, width, chart.scale())
            };
            chart.mark("twin bar", &bars(fallen, 0.86, &chart));
            chart.mark("actual bar", &bars(believed, 0.4, &chart));
            chart
        })
        .collect();
    let note = format!(
        "Sum per {}. Pale: what fell, snow as water. Dark: rain believed by the receiver.",
        span(bar_us)
    );
    frame.figure("Rain and snow", "mm", &note, &charts)
}

fn about(timeline: &Timeline, facts: &[(String, String)]) -> String {
    let bin = span(timeline.width_us);
    let given = facts
        .iter()
        .map(|(name, text)| (name.as_str(), text.as_str()));
    facts_table(given.chain([("one bin of a plot", bin.as_str())]))
}
