//! A plan on one page, for people who want to see what they have written before they run it.

use super::draft::Draft;
use super::keys::{SECTIONS, surface_word};
use super::time;
use crate::faults::Shape;
use crate::link::path::{HEALTH_LEN, OBSERVATION_LEN, duty_cycle};
use crate::plan::{Network, Plan, WeatherSource};
use benchmast_protocol::tag;
use benchmast_sim::site::{Place, Site};
use benchmast_sim::weather::Offset;
use benchmast_sim::weather::climate::Climate;
use benchmast_sim::weather::recorded::Record;
use std::fmt::Write;

/// A plan in about twenty lines of plain text.
#[must_use]
pub fn summary(plan: &Plan) -> String {
    let mut page = Page(String::new());
    heading(&mut page, plan, &plan.place_name, plan.place);
    page.line(
        "head",
        &format!(
            "serial {}, radio address {}",
            plan.identity.serial, plan.head_id
        ),
    );
    changes(&mut page, plan, true);
    radio(&mut page, plan);
    neighbour(&mut page, plan);
    faults(&mut page, &[plan]);
    page.0
}

/// All stations of a scenario in plain text: what they share, and what is each one's own.
#[must_use]
pub fn network_summary(network: &Network) -> String {
    if let Some(plan) = network.single() {
        return summary(plan);
    }
    let mut page = Page(String::new());
    let Some(first) = network.stations.first() else {
        return page.0;
    };
    heading(&mut page, first, &network.place_name, network.place);
    let count = network.stations.len();
    let stations = if count == 1 { "station" } else { "stations" };
    page.line(
        "stations",
        &format!("{count} {stations} under one weather, each with a receiver of its own"),
    );
    if matches!(first.weather, WeatherSource::Recorded { .. }) {
        page.line(
            "",
            "the record is the same for all; each fills in its own details",
        );
    }
    for plan in &network.stations {
        page.line("", "");
        page.line(
            plan.station.as_deref().unwrap_or_default(),
            &format!(
                "{}, {} m above sea level",
                way(network.place, plan.place),
                plan.place.altitude_m
            ),
        );
        page.line(
            "",
            &format!(
                "serial {}, radio address {}, every {} s",
                plan.identity.serial, plan.head_id, plan.head.interval_s
            ),
        );
        changes(&mut page, plan, false);
        if plan.link.path.is_some() {
            radio(&mut page, plan);
        }
        if plan.link.neighbour.is_some() {
            neighbour(&mut page, plan);
        }
    }
    page.line("", "");
    let all: Vec<&Plan> = network.stations.iter().collect();
    faults(&mut page, &all);
    page.0
}

/// What all stations of a scenario share.
fn heading(page: &mut Page, plan: &Plan, place_name: &str, place: Place) {
    page.0.push_str(&plan.title);
    page.0.push_str("\n\n");
    page.line(
        "place",
        &format!(
            "{place_name}, {:.2} deg {}, {:.2} deg {}, {} m above sea level",
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
        WeatherSource::Synthetic { climate } => synthetic(page, climate),
        WeatherSource::Recorded {
            file,
            records,
            wind_height_m,
        } => {
            page.line("weather", &format!("recorded: {}", file.display()));
            recorded(page, records, *wind_height_m);
        }
    }
}

/// The way from a place to another in words.
fn way(from: Place, to: Place) -> String {
    let Offset { east_km, north_km } = Offset::between(&from, &to);
    let part = |km: f64, positive: &str, negative: &str| {
        let side = if km < 0.0 { negative } else { positive };
        let text = format!("{:.1}", km.abs());
        (text != "0.0").then(|| format!("{text} km {side}"))
    };
    let parts: Vec<String> = [
        part(east_km, "east", "west"),
        part(north_km, "north", "south"),
    ]
    .into_iter()
    .flatten()
    .collect();
    if parts.is_empty() {
        "at the place".to_owned()
    } else {
        format!("{} of the place", parts.join(" and "))
    }
}

/// Time on the air, and where the power goes if the path is given by its geometry.
fn radio(page: &mut Page, plan: &Plan) {
    let modulation = &plan.link.modulation;
    let interval_s = f64::from(plan.head.interval_s);
    let tag_len = plan.key.map_or(0, |_| tag::OVERHEAD);
    let observation_len = OBSERVATION_LEN + tag_len;
    let duty = duty_cycle(
        modulation,
        interval_s,
        observation_len,
        HEALTH_LEN + tag_len,
    );
    let milliseconds = modulation.airtime_us(observation_len) as f64 * 1e-3;
    page.line(
        "radio",
        &format!(
            "at most {milliseconds:.1} ms on the air for an observation, {:.3} % of the time in all",
            100.0 * duty
        ),
    );
    let Some(path) = plan.link.path else { return };
    let budget = path.budget(modulation);
    page.line(
        "",
        &format!(
            "{:.0} dB lost in {:.0} m of free space, {:.0} dB at the wall, {:.0} dB in rooms and floors, {:.0} dB else",
            budget.free_space_db,
            path.outdoor_m + path.indoor_m,
            budget.entry_db,
            budget.indoor_db,
            path.extra_loss_db
        ),
    );
    page.line(
        "",
        &format!(
            "median signal {:.0} dBm, {:.0} dB {} what 99 of 100 observations need",
            budget.signal_dbm,
            budget.margin_db().abs(),
            if budget.margin_db() < 0.0 {
                "below"
            } else {
                "above"
            }
        ),
    );
    if plan.room.sky.is_some() {
        page.line("", "position fix from satellites in its window");
    }
}

fn neighbour(page: &mut Page, plan: &Plan) {
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
}

/// A page with a left column of titles.
struct Page(String);

impl Page {
    fn line(&mut self, title: &str, text: &str) {
        if title.chars().count() > 10 {
            // A long name gets a line of its own.
            let _ = writeln!(self.0, "{title}");
            return self.line("", text);
        }
        // Writing to a String cannot fail.
        let _ = writeln!(self.0, "{}", format!("{title:<11}{text}").trim_end());
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
fn changes(page: &mut Page, plan: &Plan, tells_of_none: bool) {
    let mut default = Draft::default();
    let mut actual = Draft {
        site: plan.site,
        local_wind: plan.site.local_wind.into(),
        surface: (plan.site.surface != Site::default().surface)
            .then(|| surface_word(plan.site.surface).map(str::to_owned))
            .flatten(),
        obstacles: plan.site.obstacles.into(),
        head: plan.head,
        link: plan.link.clone(),
        receiver: plan.receiver,
        room: plan.room.clone(),
        serial: plan.identity.serial.0,
        hardware: plan.identity.hardware,
        head_id: plan.head_id.0,
        key: plan.key,
        ..Draft::default()
    };
    for name in [
        "site",
        "head",
        "link",
        "receiver",
        "receiver.mains",
        "receiver.backhaul",
    ] {
        let keys = SECTIONS
            .iter()
            .filter(|section| section.name == name)
            .flat_map(|section| section.keys);
        let changed: Vec<_> = keys
            .filter(|key| !matches!(key.name, "serial" | "head_id"))
            .filter_map(|key| {
                let usual = (key.slot)(&mut default).show();
                let value = (key.slot)(&mut actual).show()?;
                let name = key.name;
                match usual {
                    Some(usual) if usual == value => None,
                    Some(usual) => Some(format!("{name} = {value} (usually {usual})")),
                    None => Some(format!("{name} = {value}")),
                }
            })
            .collect();
        // What few scenarios speak of is told where it is spoken of.
        let often = !matches!(name, "head" | "receiver.mains" | "receiver.backhaul");
        let title = match name {
            "head" => "",
            "receiver.mains" => "mains",
            "receiver.backhaul" => "backhaul",
            name => name,
        };
        if changed.is_empty() && often && tells_of_none {
            page.line(title, "all as usual");
        }
        for (index, change) in changed.iter().enumerate() {
            page.line(if index == 0 { title } else { "" }, change);
        }
    }
}

fn faults(page: &mut Page, plans: &[&Plan]) {
    let episodes = || {
        plans
            .iter()
            .flat_map(|plan| plan.faults.iter().map(move |episode| (*plan, episode)))
    };
    if episodes().next().is_none() {
        let text = if plans.len() == 1 {
            "none: the head is its own healthy twin"
        } else {
            "none: each head is its own healthy twin"
        };
        page.line("faults", text);
    }
    for (index, (plan, episode)) in episodes().enumerate() {
        let whose = plan
            .station
            .as_ref()
            .map_or_else(String::new, |name| format!("{name}: "));
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
                "{whose}{} from {} {until}, {shape}, severity {}",
                episode.fault.id,
                time::show(episode.onset_us),
                episode.severity
            ),
        );
    }
}
