//! The run in words and tables.

use super::Report;
use super::lanes::{CALM_MS, LANES, SPECIFICATIONS};
use super::tally::Extreme;
use super::wording::{
    count, escape, instant, percent, plural, quantity, signed, span, unit, value, with_unit,
};
use crate::faults::{Episode, Shape};
use crate::tally::REASONS;
use benchmast_protocol::quantity::RAINFALL;
use std::fmt::Write as _;

/// Longer tables tell nobody anything.
const MOST_EPISODES: usize = 100;

/// What happened, in sentences.
pub(super) fn paragraphs(report: &Report) -> String {
    let (tally, traffic, heading) = (&report.tally, &report.traffic, &report.heading);
    let timeline = &report.timeline;
    let mut html = String::new();
    let place = &heading.place;
    let _ = write!(
        html,
        "<p>The station stands at <b>{}</b>, {}, {}, {} above the sea, its wind \
         sensors {} above the ground. The run covers <b>{}</b>, from {} to {}, in {} of {}. The weather \
         was {}.</p>",
        escape(&heading.place_name),
        hemisphere(place.latitude_deg, "N", "S"),
        hemisphere(place.longitude_deg, "E", "W"),
        quantity(Some(place.altitude_m), 0, "m"),
        quantity(Some(heading.height_m), 1, "m"),
        span(timeline.end_us - timeline.start_us),
        instant(timeline.start_us),
        instant(timeline.end_us),
        plural(tally.intervals, "interval", "intervals"),
        span(timeline.interval_us),
        escape(&heading.weather),
    );
    let bins = tally.bins();
    let rain: [f64; 3] = [0, 1, 2].map(|side| bins.iter().map(|bin| bin.rain[side]).sum());
    let parts = bins.iter().map(|bin| bin.truth.parts(0));
    let (sum, number) = parts.fold((0.0, 0.0), |all, part| (all.0 + part.0, all.1 + part.1));
    let mean = (number > 0.0).then(|| sum / number);
    let at = |extreme: Option<Extreme>, decimals, unit| match extreme {
        Some(extreme) => format!(
            "<b>{}</b> ({})",
            quantity(Some(extreme.value), decimals, unit),
            instant(extreme.time_us)
        ),
        None => "–".to_owned(),
    };
    let _ = write!(
        html,
        "<p><b>Weather.</b> The air was <b>{}</b> on average, at its coldest {} and at its warmest {}. \
         The strongest gust was {}. Rain came to <b>{}</b>{}.</p>",
        quantity(mean, 1, "degC"),
        at(tally.coldest, 1, "degC"),
        at(tally.warmest, 1, "degC"),
        at(tally.gustiest, 1, "m s-1"),
        quantity(Some(rain[0]), 1, "mm"),
        if tally.snow_mm < 0.05 {
            String::new()
        } else {
            format!(
                ", and snow to <b>{}</b> of water, which a gauge counts when it melts",
                quantity(Some(tally.snow_mm), 1, "mm")
            )
        },
    );
    let believed = traffic.observations();
    let _ = write!(
        html,
        "<p><b>Receiver.</b> The head sent {}; the receiver believed <b>{}</b>, which is {} of those sent \
         and {} of all intervals. There were <b>{}</b>; the longest time without a new observation was \
         <b>{}</b>.</p>",
        plural(traffic.sent[0], "observation", "observations"),
        count(believed),
        percent(believed, traffic.sent[0]),
        percent(believed, tally.intervals),
        plural(traffic.gaps, "gap", "gaps"),
        span(traffic.longest_wait_us().max(0)),
    );
    let by_receiver = match traffic.rain_um {
        Some(depth_um) => format!(
            "the receiver believed <b>{}</b>",
            quantity(Some(depth_um as f64 / 1000.0), 1, "mm")
        ),
        None => "the receiver could not tell any: that takes two observations of a head it knows"
            .to_owned(),
    };
    let _ = write!(
        html,
        "<p><b>Rain.</b> {} fell, a healthy head counted {}, the actual head <b>{}</b>, and {by_receiver}.</p>",
        quantity(Some(rain[0]), 1, "mm"),
        quantity(Some(rain[1]), 1, "mm"),
        quantity(Some(rain[2]), 1, "mm"),
    );
    if heading.faults.is_empty() {
        html.push_str("<p><b>Faults.</b> None.</p>");
    } else {
        let _ = write!(
            html,
            "<p><b>Faults.</b> {}. A fault was active in {} of the intervals; the actual head said \
             something else than its healthy twin in {}. An active fault need not show: a blocked funnel \
             has no effect in dry weather.</p>",
            plural(heading.faults.len() as u64, "episode", "episodes"),
            percent(tally.with_cause, tally.intervals),
            percent(tally.with_effect, tally.intervals),
        );
    }
    html
}

fn hemisphere(degrees: f64, positive: &str, negative: &str) -> String {
    let side = if degrees < 0.0 { negative } else { positive };
    format!("{}°\u{a0}{side}", value(Some(degrees.abs()), 2))
}

/// Bias, scatter and effect per quantity.
pub(super) fn quantities(report: &Report) -> String {
    let tally = &report.tally;
    let [twin, actual] = tally.deviations();
    let largest_effects = tally.largest_effects();
    let bins = tally.bins();
    let mut html = format!(
        "<div class=\"scroll\"><table><caption>How far the readings were from the truth, and what the \
         faults added. Bias: mean of reading minus truth. RMSE: root of the mean squared difference. \
         Effect: actual minus twin. Wind direction only where the true wind was at least {CALM_MS} m/s. \
         Tolerance: how far a healthy sensor itself may be off. The sun on the shield adds to the error of the \
         temperature, and the vane reads one moment where the truth is the mean of the interval.</caption><thead><tr><th scope=\"col\">Quantity</th>\
         <th scope=\"col\">Unit</th><th scope=\"col\">Bias, twin</th><th scope=\"col\">Bias, actual</th>\
         <th scope=\"col\">RMSE, twin</th><th scope=\"col\">RMSE, actual</th>\
         <th scope=\"col\">Mean size of effect</th><th scope=\"col\">Largest effect</th>\
         <th scope=\"col\">Tolerance</th></tr></thead><tbody>"
    );
    for lane in 0..LANES {
        let specification = &SPECIFICATIONS[lane];
        let decimals = specification.decimals();
        let compared: f64 = bins.iter().map(|bin| bin.effect.number[lane]).sum();
        let effect = (compared > 0.0).then(|| tally.effect_sum[lane] / compared);
        let largest = largest_effects[lane];
        let (open, close) = if largest == 0.0 {
            ("", "")
        } else {
            ("<b>", "</b>")
        };
        let tolerance = specification.tolerance;
        let mut limit = value(Some(tolerance.absolute), decimals.min(1));
        if tolerance.relative > 0.0 {
            let _ = write!(limit, " or {:.0}\u{a0}%", tolerance.relative * 100.0);
        }
        let _ = write!(
            html,
            "<tr><th scope=\"row\">{}</th><td class=\"word\">{}</td><td>{}</td><td>{}</td><td>{}</td>\
             <td>{}</td><td>{open}{}{close}</td><td>{open}{}{close}</td><td>±{limit}</td></tr>",
            specification.title,
            unit(specification.unit),
            signed(twin.bias(lane), decimals),
            signed(actual.bias(lane), decimals),
            value(twin.rmse(lane), decimals),
            value(actual.rmse(lane), decimals),
            value(effect, decimals),
            signed(effect.map(|_| largest), decimals),
        );
    }
    html.push_str("</tbody></table></div>");
    html
}

/// What each episode was and did; `names` are the faults in the order of their numbers in the plots.
pub(super) fn episodes(report: &Report, names: &[&str]) -> String {
    let faults = &report.heading.faults;
    if faults.is_empty() {
        return "<p>There was no fault in this run: actual and twin are the same head.</p>"
            .to_owned();
    }
    let mut html = String::from(
        "<div class=\"scroll\"><table class=\"words\"><caption>Every episode of a fault, and the largest differences from \
         the healthy twin while it lasted. Where episodes overlap, each is shown with what all of them did \
         together.</caption><thead><tr><th scope=\"col\">Fault</th><th scope=\"col\">Onset</th>\
         <th scope=\"col\">End</th><th scope=\"col\">How it set in</th><th scope=\"col\">Severity</th>\
         <th scope=\"col\">Largest effects</th></tr></thead><tbody>",
    );
    for (index, episode) in faults.iter().enumerate().take(MOST_EPISODES) {
        let _ = write!(
            html,
            "<tr><th scope=\"row\">{}{}</th><td class=\"word\">{}</td><td class=\"word\">{}</td>\
             <td class=\"word\">{}</td><td class=\"word\">{}</td><td class=\"word wide\">{}</td></tr>",
            names
                .iter()
                .position(|name| *name == episode.fault.id)
                .map_or_else(String::new, |lane| format!("{}\u{a0}", lane + 1)),
            escape(episode.fault.id),
            instant(episode.onset_us),
            episode
                .end_us
                .map_or_else(|| "never put right".to_owned(), instant),
            shape(episode.shape),
            value(Some(episode.severity), 2),
            doing(report, index, episode),
        );
    }
    html.push_str("</tbody></table></div>");
    if faults.len() > MOST_EPISODES {
        let _ = write!(
            html,
            "<p>And {} more.</p>",
            plural((faults.len() - MOST_EPISODES) as u64, "episode", "episodes")
        );
    }
    html
}

fn shape(shape: Shape) -> String {
    let seconds = |seconds: f64| span((seconds.clamp(0.0, 1e12) * 1e6) as i64);
    match shape {
        Shape::Step => "at once".to_owned(),
        Shape::Ramp { over_s } => format!("slowly, over {}", seconds(over_s)),
        Shape::Intermittent { period_s, duty } => format!(
            "on and off, {:.0}\u{a0}% of every {}",
            duty * 100.0,
            seconds(period_s)
        ),
    }
}

fn doing(report: &Report, index: usize, episode: &Episode) -> String {
    let Some(doing) = report.tally.watch.doings.get(index) else {
        return String::new();
    };
    let outside = episode.onset_us >= report.timeline.end_us
        || episode
            .end_us
            .is_some_and(|end| end <= report.timeline.start_us);
    if outside {
        return "outside the period".to_owned();
    }
    let mut words = Vec::new();
    for (specification, effect) in SPECIFICATIONS.iter().zip(doing.effect.larger()) {
        if effect != 0.0 && episode.fault.moves.contains(&specification.name) {
            let size = signed(Some(effect), specification.decimals());
            words.push(format!(
                "{} {}",
                specification.title.to_lowercase(),
                with_unit(size, specification.unit)
            ));
        }
    }
    if doing.rain_mm.abs() > 1e-6 && episode.fault.moves.contains(&RAINFALL.name) {
        words.push(format!(
            "rain {}",
            with_unit(signed(Some(doing.rain_mm), 1), "mm")
        ));
    }
    if doing.dead > 0 && episode.fault.stops_head {
        words.push(format!(
            "head off for {}",
            plural(doing.dead, "interval", "intervals")
        ));
    }
    if words.is_empty() {
        "none".to_owned()
    } else {
        words.join("; ").replace("uv index", "UV index")
    }
}

/// Packets by what became of them, and refusals by reason.
pub(super) fn packets(report: &Report) -> String {
    let traffic = &report.traffic;
    let mut html = String::from(
        "<div class=\"scroll\"><table><caption>What became of the packets.</caption><thead><tr>\
         <th scope=\"col\">Packets</th><th scope=\"col\">Number</th></tr></thead><tbody>",
    );
    let mut line = |name: &str, number: u64| {
        let _ = write!(
            html,
            "<tr><th scope=\"row\">{name}</th><td>{}</td></tr>",
            count(number)
        );
    };
    line("observations sent by the head", traffic.sent[0]);
    line("health reports sent by the head", traffic.sent[1]);
    line("identities sent by the head", traffic.sent[2]);
    line("sent by another head", traffic.sent_by_others);
    line("arrived at the antenna, copies included", traffic.heard);
    line("observations believed in order of time", traffic.believed);
    line(
        "observations believed late, overtaken by a newer one",
        traffic.late_observations,
    );
    line(
        "other late packets",
        traffic.late - traffic.late_observations,
    );
    line("health reports believed", traffic.health_reports);
    line("duplicates", traffic.duplicates);
    for ((name, what), number) in REASONS.iter().zip(traffic.refused) {
        line(&format!("refused as {name}: {what}"), number);
    }
    line("times the head was paired", traffic.pairings);
    line("restarts of the head noticed", traffic.restarts);
    line("times the head counted as silent", traffic.silences);
    html.push_str("</tbody></table></div>");
    html
}

/// What the caller knows about the run.
pub(super) fn facts(report: &Report, facts: &[(String, String)]) -> String {
    let heading = &report.heading;
    let own = [
        ("seed", heading.seed.to_string()),
        ("radio address of the head", heading.head_id.to_string()),
        (
            "serial number of the head",
            heading.identity.serial.to_string(),
        ),
        ("one bin of a plot", span(report.timeline.width_us)),
    ];
    let own = own.iter().map(|(name, text)| (*name, text.as_str()));
    let given = facts
        .iter()
        .map(|(name, text)| (name.as_str(), text.as_str()));
    facts_table(own.chain(given))
}

/// What made a page, fact by fact.
pub(super) fn facts_table<'f>(facts: impl Iterator<Item = (&'f str, &'f str)>) -> String {
    let mut html = String::from(
        "<div class=\"scroll\"><table class=\"facts\"><caption>What made this page.</caption><tbody>",
    );
    for (name, text) in facts {
        let _ = write!(
            html,
            "<tr><th scope=\"row\">{}</th><td class=\"word\">{}</td></tr>",
            escape(name),
            escape(text)
        );
    }
    html.push_str("</tbody></table></div>");
    html
}
