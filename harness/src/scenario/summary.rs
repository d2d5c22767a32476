//! A plan on one page, for people who want to see what they have written before they run it.

use super::draft::Draft;
use super::keys::SECTIONS;
use super::time;
use crate::faults::Shape;
use crate::plan::{Plan, WeatherSource};
use benchmast_sim::weather::climate::Climate;
use benchmast_sim::weather::recorded::Record;
use std::fmt::Write;

/// A plan in about twenty lines of plain text.
#[must_use]
pub fn summary(plan: &Plan) -> String {
    let mut page = Page(String::new());
    page.0.push_str(&plan.title);
    page.0.push_str("\n\n");
    let place = plan.place;
    page.line(
        "place",
        &format!(
            "{}, {:.2} deg {}, {:.2} deg {}, {} m above sea level",
            plan.place_name,
            place.latitude_deg.abs(),
            if place.latitude_deg < 0.0 { "S" } else { "N" },
            place.longitude_deg.abs(),
            if place.longitude_deg < 0.0 { "W" } else { "E" },
            place.altitude_m
        ),
    );
    let length = plan.end_us - plan.start_us;
    page.line(
        "period",
        &format!(
            "{} to {}",
            time::show(plan.start_us),
            time::show(plan.end_us)
        ),
    );
    page.line(
        "",
        &format!(
            "{}, {} intervals of {} s",
            time::show_duration(length),
            length / (i64::from(plan.head.interval_s) * 1_000_000),
            plan.head.interval_s
        ),
    );
    page.line("seed", &plan.seed.to_string());
    match &plan.weather {
        WeatherSource::Synthetic { climate } => synthetic(&mut page, climate),
        WeatherSource::Recorded {
            file,
            records,
            wind_height_m,
        } => {
            page.line("weather", &format!("recorded: {}", file.display()));
            recorded(&mut page, records, *wind_height_m);
        }
    }
    page.line(
        "head",
        &format!(
            "serial {}, radio address {}",
            plan.identity.serial, plan.head_id
        ),
    );
    changes(&mut page, plan);
    match plan.link.neighbour {
        Some(neighbour) => page.line(
            "neighbour",
            &format!(
                "{}, {} of its packets heard",
                neighbour.head,
                percent(neighbour.heard)
            ),
        ),
        None => page.line("neighbour", "none"),
    }
    faults(&mut page, plan);
    page.0
}

/// A page with a left column of titles.
struct Page(String);

impl Page {
    fn line(&mut self, title: &str, text: &str) {
        // Writing to a String cannot fail.
        let _ = writeln!(self.0, "{title:<11}{text}");
    }
}

fn percent(share: f64) -> String {
    format!("{} %", (share * 1000.0).round() / 10.0)
}

fn synthetic(page: &mut Page, climate: &Climate) {
    let months = &climate.months;
    let coldest = months
        .iter()
        .map(|month| month.mean_temperature_degc)
        .fold(f64::INFINITY, f64::min);
    let warmest = months
        .iter()
        .map(|month| month.mean_temperature_degc)
        .fold(f64::NEG_INFINITY, f64::max);
    let rain: f64 = months.iter().map(|month| month.rain_mm).sum();
    page.line(
        "weather",
        &format!(
            "computed; monthly means {coldest} to {warmest} degC, {rain:.0} mm of rain a year"
        ),
    );
}

fn recorded(page: &mut Page, records: &[Record], wind_height_m: f64) {
    let gap = records
        .windows(2)
        .map(|pair| pair[1].time_us - pair[0].time_us)
        .max()
        .unwrap_or(0);
    let rain: f64 = records.iter().filter_map(|record| record.rainfall_mm).sum();
    page.line(
        "",
        &format!(
            "{} records, at most {} apart, {rain:.1} mm of rain, wind at {wind_height_m} m",
            records.len(),
            time::show_duration(gap)
        ),
    );
}

/// Every key of the fixed parts that is not at its default.
fn changes(page: &mut Page, plan: &Plan) {
    let mut default = Draft::default();
    let mut actual = Draft {
        site: plan.site,
        head: plan.head,
        link: plan.link.clone(),
        receiver: plan.receiver,
        serial: plan.identity.serial.0,
        hardware: plan.identity.hardware,
        head_id: plan.head_id.0,
        ..Draft::default()
    };
    for name in ["site", "head", "link", "receiver"] {
        let keys = SECTIONS
            .iter()
            .filter(|section| section.name == name)
            .flat_map(|section| section.keys);
        let changed: Vec<_> = keys
            .filter(|key| !matches!(key.name, "serial" | "head_id"))
            .filter_map(|key| {
                let usual = (key.slot)(&mut default).show()?;
                let value = (key.slot)(&mut actual).show()?;
                (value != usual).then(|| format!("{} = {value} (usually {usual})", key.name))
            })
            .collect();
        let title = if name == "head" { "" } else { name };
        if changed.is_empty() && name != "head" {
            page.line(title, "all as usual");
        }
        for (index, change) in changed.iter().enumerate() {
            page.line(if index == 0 { title } else { "" }, change);
        }
    }
}

fn faults(page: &mut Page, plan: &Plan) {
    if plan.faults.is_empty() {
        page.line("faults", "none: the head is its own healthy twin");
    }
    for (index, episode) in plan.faults.iter().enumerate() {
        let shape = match episode.shape {
            Shape::Step => "at once".to_owned(),
            Shape::Ramp { over_s } => format!(
                "growing over {}",
                time::show_duration((over_s * 1e6) as i64)
            ),
            Shape::Intermittent { period_s, duty } => format!(
                "{} of every {}",
                percent(duty),
                time::show_duration((period_s * 1e6) as i64)
            ),
        };
        let until = episode.end_us.map_or_else(
            || "to the end".to_owned(),
            |end| format!("for {}", time::show_duration(end - episode.onset_us)),
        );
        page.line(
            if index == 0 { "faults" } else { "" },
            &format!(
                "{} from {} {until}, {shape}, severity {}",
                episode.fault.id,
                time::show(episode.onset_us),
                episode.severity
            ),
        );
    }
}
