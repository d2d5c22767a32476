//! The report of a run: self-contained, safe, small, the same every time, and right in its numbers.

#[allow(dead_code, reason = "shared with an example that uses other parts")]
mod invented;

use benchmast::plan::Plan;
use benchmast::report::{Outcome, Report};
use benchmast::row::{Row, Sink};
use benchmast_protocol::frame::{Frame, Observation};
use benchmast_protocol::quantity::{AirTemperature, Quantity, RelativeHumidity, WindFromDirection};
use benchmast_protocol::receiver::{Believed, Event, Refusal};
use benchmast_sim::station::Step;
use benchmast_sim::truth::Truth;
use invented::{DAY, HEAD, Interval, Noise, SECOND, START_US};

const TICK: i64 = 16 * SECOND;
/// The page must stay below this for any period, bytes.
const MOST_BYTES: usize = 1_500_000;

/// A day with every fault and a dead head, as a page.
fn page(plan: &Plan) -> String {
    let mut report = Report::new(plan);
    assert!(invented::run(plan, &mut report, (0.5, 0.6)).is_ok());
    report.render(&Outcome::default())
}

fn faulty_plan(length_us: i64) -> Plan {
    let mut plan = invented::plan(length_us);
    plan.faults = invented::faults(&plan);
    plan
}

fn fold(report: &mut Report, truth: &Truth, step: &Step) {
    let causes = 0;
    let row = Row {
        truth,
        step,
        causes,
    };
    assert!(report.interval(&row).is_ok());
}

/// One interval of a healthy head, its end at a multiple of 16 s.
fn interval(index: i64) -> Interval {
    let plan = invented::plan(TICK);
    let mut interval = invented::intervals(&plan, 2.0, 2.0)
        .next()
        .expect("a plan of one interval has one");
    interval.truth.time_us = START_US + index * TICK;
    interval.step.time_us = START_US + index * TICK;
    interval
}

/// Every tag that is opened is closed in order; nothing else is looked at.
fn is_balanced(html: &str) -> Result<(), String> {
    let mut open: Vec<&str> = Vec::new();
    for piece in html.split('<').skip(1) {
        let tag = piece.split('>').next().unwrap_or_default();
        let name = tag.split(' ').next().unwrap_or_default();
        if let Some(closed) = name.strip_prefix('/') {
            if open.pop() != Some(closed) {
                return Err(format!("</{closed}> does not close what is open: {open:?}"));
            }
        } else if !tag.ends_with('/') && !["!DOCTYPE", "meta"].contains(&name) {
            open.push(name);
        }
    }
    if open.is_empty() {
        Ok(())
    } else {
        Err(format!("left open: {open:?}"))
    }
}

#[test]
fn asks_for_nothing_from_outside() {
    let html = page(&faulty_plan(DAY));
    for forbidden in [
        "http",
        "src=",
        "@import",
        "url(",
        "<script",
        "<link",
        "javascript",
    ] {
        assert!(!html.contains(forbidden), "{forbidden}");
    }
    // References within the page are all there is.
    assert!(
        html.split("href=\"")
            .skip(1)
            .all(|rest| rest.starts_with('#'))
    );
}

#[test]
fn is_well_formed_and_speaks_to_those_who_cannot_see() {
    let html = page(&faulty_plan(DAY));
    assert_eq!(is_balanced(&html), Ok(()));
    assert!(html.starts_with("<!DOCTYPE html>\n<html lang=\"en\">"));
    assert!(html.contains("<meta name=\"viewport\""));
    let plots: Vec<&str> = html.split("role=\"img\" aria-label=\"").skip(1).collect();
    assert!(plots.len() >= 14, "{}", plots.len());
    for plot in plots {
        let sentence = plot.split('"').next().unwrap_or_default();
        assert!(sentence.len() > 20 && sentence.ends_with('.'), "{sentence}");
    }
    assert_eq!(
        html.matches("<table").count(),
        html.matches("<caption>").count()
    );
}

#[test]
fn hostile_words_stay_words() {
    let hostile = "</title><script>alert('\"&')</script>";
    let escaped = "&lt;/title&gt;&lt;script&gt;alert(&#39;&quot;&amp;&#39;)&lt;/script&gt;";
    let mut plan = faulty_plan(DAY);
    plan.title = hostile.into();
    plan.place_name = hostile.into();
    if let benchmast::plan::WeatherSource::Recorded { file, .. } = &mut plan.weather {
        *file = "a/<b onload=x>".into();
    }
    let report = Report::new(&plan);
    let html = report.render(&Outcome {
        facts: vec![(hostile.into(), hostile.into())],
    });
    assert!(!html.contains("<script") && !html.contains("<b onload"));
    // Head and heading, place twice, a fact's name and value.
    assert_eq!(html.matches(escaped).count(), 6);
    assert_eq!(is_balanced(&html), Ok(()));
}

#[test]
fn a_run_without_any_value_draws_nothing() {
    let plan = invented::plan(DAY);
    let mut report = Report::new(&plan);
    let nan = f64::NAN;
    for index in 1..=5400 {
        let truth = Truth {
            time_us: START_US + index * TICK,
            air_temperature_degc: nan,
            dew_point_degc: nan,
            relative_humidity_percent: nan,
            air_pressure_hpa: nan,
            wind_speed_ms: nan,
            wind_speed_of_gust_ms: nan,
            wind_from_direction_deg: nan,
            rainfall_mm: nan,
            illuminance_lx: f64::INFINITY,
            ultraviolet_index: nan,
            ..Truth::default()
        };
        let step = Step {
            time_us: truth.time_us,
            twin: invented::dead(),
            actual: invented::dead(),
        };
        fold(&mut report, &truth, &step);
    }
    let html = report.render(&Outcome::default());
    assert_eq!(is_balanced(&html), Ok(()));
    let body = html.split("</style>").nth(1).unwrap_or_default();
    for nonsense in ["NaN", "inf ", "inf<", "inf\u{a0}"] {
        assert!(!body.contains(nonsense), "{nonsense}");
    }
    // Only the legend and the running totals of rain, which are zero, show the actual head.
    assert_eq!(body.matches("<path class=\"actual\"").count(), 2);
    assert!(body.contains("Air temperature: no values."));
    assert!(body.contains("Illuminance: no values."));
    assert!(body.contains("The head was off in 5\u{202f}400 intervals"));
}

#[test]
fn an_empty_run_and_one_of_a_single_interval_can_be_shown() {
    for length in [-DAY, 0, 1, TICK] {
        let plan = faulty_plan(length);
        let html = page(&plan);
        assert_eq!(is_balanced(&html), Ok(()), "{length}");
    }
    let mut report = Report::new(&invented::plan(TICK));
    let one = interval(1);
    fold(&mut report, &one.truth, &one.step);
    let html = report.render(&Outcome::default());
    // One bin: its values are dashes as wide as the plot.
    assert!(html.contains("viewBox=\"0 0 2 1000\""));
    assert!(html.contains("m-1 0h2"));
    assert!(html.contains("in 1 interval of 16 s"));
}

#[test]
fn instants_at_the_ends_of_time_do_not_matter() {
    let mut plan = faulty_plan(DAY);
    plan.faults[0].onset_us = i64::MIN;
    plan.faults[1].onset_us = i64::MAX;
    plan.faults[2].end_us = Some(i64::MAX);
    assert_eq!(is_balanced(&page(&plan)), Ok(()));
}

/// Readings that change as much as they can from bin to bin, in every quantity and on both heads.
fn noisiest(plan: &Plan, step_us: i64) -> String {
    let mut report = Report::new(plan);
    let mut noise = Noise::new(7);
    let mut time_us = plan.start_us;
    let mut gustiness = 0.0;
    let base = interval(1);
    while time_us < plan.end_us {
        time_us += step_us;
        let mut truth = invented::truth(time_us, &mut noise, &mut gustiness);
        truth.air_temperature_degc += 30.0 * noise.next();
        truth.rainfall_mm = noise.next().abs();
        let mut step = base.step;
        step.time_us = time_us;
        for reading in [&mut step.twin, &mut step.actual] {
            let observation = &mut reading.observation;
            observation.air_temperature = AirTemperature::saturating_from_si(40.0 * noise.next());
            observation.relative_humidity =
                RelativeHumidity::saturating_from_si(50.0 + 50.0 * noise.next());
            observation.air_pressure = Quantity::saturating_from_si(1000.0 + 40.0 * noise.next());
            observation.wind_speed = Quantity::saturating_from_si(20.0 * noise.next().abs());
            observation.wind_speed_of_gust =
                Quantity::saturating_from_si(20.0 * noise.next().abs());
            observation.wind_from_direction =
                Quantity::saturating_from_si(180.0 + 180.0 * noise.next());
            observation.illuminance = Quantity::saturating_from_si(1e5 * noise.next().abs());
            observation.ultraviolet_index = Quantity::saturating_from_si(8.0 * noise.next().abs());
            reading.rainfall_mm = noise.next().abs();
        }
        fold(&mut report, &truth, &step);
        let refused = Event::Refused(Refusal::Damaged);
        assert!(report.event(time_us, -90.0, &refused).is_ok());
    }
    report.render(&Outcome::default())
}

#[test]
fn ten_years_and_the_most_bins_stay_small() {
    let mut plan = invented::plan(3652 * DAY);
    let one = invented::faults(&plan);
    for index in 0..3000 {
        let mut episode = one[index % one.len()];
        episode.onset_us = START_US + index as i64 * DAY;
        episode.end_us = Some(episode.onset_us + DAY / 2);
        plan.faults.push(episode);
    }
    let ten_years = noisiest(&plan, DAY / 12);
    assert!(ten_years.contains("And 2\u{202f}900 episodes more."));
    // As many bins as there can be, with and without ranges within them.
    let bins = [
        noisiest(&invented::plan(1000 * TICK), TICK),
        noisiest(&invented::plan(125 * DAY), DAY / 96),
    ];
    for html in [&ten_years, &bins[0], &bins[1]] {
        assert!(html.len() < MOST_BYTES, "{} bytes", html.len());
        assert!(html.len() > 100_000, "{} bytes", html.len());
    }
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    let plan = faulty_plan(2 * DAY);
    assert_eq!(page(&plan), page(&plan));
    let mut other = faulty_plan(2 * DAY);
    other.seed += 1;
    assert_ne!(page(&plan), page(&other));
}

/// The cells of a table's row that begins with `title`.
fn cells(html: &str, title: &str) -> Vec<String> {
    let begin = format!("<tr><th scope=\"row\">{title}</th>");
    let row = html
        .split(&begin)
        .nth(1)
        .and_then(|rest| rest.split("</tr>").next())
        .unwrap_or_default();
    row.split("<td")
        .skip(1)
        .map(|cell| {
            let text = cell.split_once('>').map_or("", |(_, text)| text);
            text.replace("<b>", "")
                .replace("</b>", "")
                .replace("</td>", "")
        })
        .collect()
}

fn with_temperature(observation: Observation, degc: f64) -> Observation {
    Observation {
        air_temperature: AirTemperature::saturating_from_si(degc),
        ..observation
    }
}

#[test]
fn numbers_are_those_of_the_rows() {
    let mut plan = faulty_plan(4 * TICK);
    plan.faults.truncate(1);
    plan.faults[0].onset_us = START_US + 2 * TICK;
    plan.faults[0].end_us = None;
    let mut report = Report::new(&plan);
    // Truth 10.0; twin 10.1 each time; actual 10.1, 10.1, 12.1, 14.1. Effects 0, 0, 2, 4.
    for (index, extra) in [0.0, 0.0, 2.0, 4.0].into_iter().enumerate() {
        let mut one = interval(index as i64 + 1);
        one.truth.air_temperature_degc = 10.0;
        one.truth.wind_speed_ms = 5.0;
        // 2 degrees apart across north.
        one.truth.wind_from_direction_deg = 359.0;
        let twin = with_temperature(one.step.twin.observation, 10.1);
        let direction = WindFromDirection::saturating_from_si(1.0);
        one.step.twin.observation = Observation {
            wind_from_direction: direction,
            ..twin
        };
        one.step.actual = one.step.twin;
        one.step.actual.observation = with_temperature(one.step.twin.observation, 10.1 + extra);
        one.truth.rainfall_mm = 0.5;
        one.step.twin.rainfall_mm = 0.6;
        one.step.actual.rainfall_mm = 0.3;
        fold(&mut report, &one.truth, &one.step);
    }
    let html = report.render(&Outcome::default());
    // Bias, RMSE, mean size and largest effect: (0.1 + 0.1 + 2.1 + 4.1) / 4 = 1.60,
    // sqrt((0.01 + 0.01 + 4.41 + 16.81) / 4) = 2.30, (2 + 4) / 4 = 1.50.
    assert_eq!(
        cells(&html, "Air temperature"),
        [
            "°C", "+0.10", "+1.60", "0.10", "2.30", "1.50", "+4.00", "±0.2"
        ]
    );
    assert_eq!(
        cells(&html, "Wind direction"),
        ["°", "+2", "+2", "2", "2", "0", "0", "±10"]
    );
    assert!(html.contains(
        "2.0\u{a0}mm fell, a healthy head counted 2.4\u{a0}mm, the actual head <b>1.2\u{a0}mm</b>"
    ));
    let fault = cells(&html, "1\u{a0}shield_airflow_blocked");
    assert_eq!(
        fault.last().map(String::as_str),
        // The rain that is missing meanwhile is not this fault's doing.
        Some("air temperature +4.00\u{a0}°C")
    );
    // Only the temperature was moved: one effect strip.
    assert_eq!(html.matches("effect: actual \u{2212} twin").count(), 1);
}

#[test]
fn no_fault_no_effect() {
    let html = page(&invented::plan(DAY));
    // The dead stretch has no reading, which is not an effect on a quantity.
    assert_eq!(html.matches("effect: actual \u{2212} twin").count(), 0);
    assert!(!html.contains("class=\"band\""));
    assert!(html.contains("There was no fault in this run"));
}

#[test]
fn packets_are_counted_by_what_became_of_them() {
    let plan = invented::plan(8 * TICK);
    let mut report = Report::new(&plan);
    let base = interval(1);
    let observation = base.step.actual.observation;
    let mut tell = |tick: i64, event: Event| {
        assert!(report.event(START_US + tick * TICK, -80.0, &event).is_ok());
    };
    let believed = |sequence: u16, rain_um: Option<u32>, intervals_missed: u32| {
        Event::Observation(Believed {
            head: HEAD,
            sequence,
            observation,
            tips_since: rain_um.map(|depth| (depth / 300) as u16),
            rain_um,
            intervals_missed,
        })
    };
    tell(1, believed(0, None, 0));
    tell(2, believed(1, Some(600), 0));
    tell(5, believed(4, Some(300), 2));
    let (head, frame) = (HEAD, Frame::Observation(observation));
    let (sequence, intervals_late) = (3, 1);
    tell(
        5,
        Event::Late {
            head,
            sequence,
            intervals_late,
            frame,
            tips_since: 0,
            rain_um: 0,
        },
    );
    tell(5, Event::Duplicate { head, sequence });
    tell(6, Event::Refused(Refusal::Implausible));
    tell(6, Event::Refused(Refusal::UnknownVersion(9)));
    let html = report.render(&Outcome::default());
    let number = |name: &str| cells(&html, name).join("");
    assert_eq!(number("observations believed in order of time"), "3");
    assert_eq!(
        number("observations believed late, overtaken by a newer one"),
        "1"
    );
    assert_eq!(number("duplicates"), "1");
    assert_eq!(
        number("refused as unknown version: another format version"),
        "1"
    );
    assert!(html.contains("and the receiver believed <b>0.9\u{a0}mm</b>"));
    assert!(html.contains("<b>1 gap</b>"));
    // From the third observation at 80 s to the fifth, and from there to the end at 128 s: 48 s each.
    assert!(html.contains("observation was <b>48 s</b>"));
}
