//! Recorded weather from a table of real observations to what a receiver believes.
//!
//! Source of the observations: see the head of `data/hourly_year_2013_extract.csv`.

use benchmast::bench::Bench;
use benchmast::plan::{Plan, WeatherSource};
use benchmast::row::{Row, Sink};
use benchmast::scenario;
use benchmast_protocol::quantity::Quantity;
use benchmast_protocol::receiver::Event;
use benchmast_sim::entropy::Seed;
use benchmast_sim::physics::atmosphere::reduce_to_sea_level_hpa;
use benchmast_sim::station::Step;
use benchmast_sim::truth::Truth;
use benchmast_sim::weather::Weather;
use benchmast_sim::weather::recorded::Record;
use std::io;
use std::path::Path;
use std::sync::LazyLock;

#[expect(dead_code, reason = "its main is the program's")]
#[path = "../../harness/examples/convert_hourly.rs"]
mod convert_hourly;

const TABLE: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/data/hourly_year_2013_extract.csv"
);
const HEADER: &str = "utc_mmddhh,t_f,td_f,rh,wd,ws_kt,gust_kt,rain_in,slp_hpa\n";
const INTERVAL_US: i64 = 16_000_000;
const BUCKET_MM: f64 = 0.3;

const SCENARIO: &str = r#"
title = "A real fortnight"
seed = 3
[period]
start = 2013-09-10T00:51:00Z
days = 14
[place]
name = "A coastal airfield"
latitude_deg = 40.64
longitude_deg = -73.78
altitude_m = 4
[weather]
record = "fortnight.csv"
wind_height_m = 10
"#;

/// The heaviest rain, and some hours after it.
const FAULT: &str = r#"
[[fault]]
id = "funnel_partly_blocked"
onset = 2013-09-22T01:51:00Z
end = 2013-09-23T00:51:00Z
severity = 1.0
"#;

/// The table as it stands.
fn table() -> String {
    std::fs::read_to_string(TABLE).expect("the table")
}

/// Converted, written beside the scenario and loaded as a user would.
fn load(fault: &str) -> Plan {
    let folder = tempfile::tempdir().expect("a folder");
    let record = convert_hourly::convert(2013, &table()).expect("a good table");
    std::fs::write(folder.path().join("fortnight.csv"), record).expect("the record");
    let file = folder.path().join("fortnight.toml");
    std::fs::write(&file, format!("{SCENARIO}{fault}")).expect("the scenario");
    scenario::load(&file).unwrap_or_else(|report| panic!("{report}"))
}

fn records(plan: &Plan) -> &[Record] {
    match &plan.weather {
        WeatherSource::Recorded { records, .. } => records,
        WeatherSource::Synthetic { .. } => panic!("not recorded"),
    }
}

/// A run: every interval, and what was believed.
#[derive(Default)]
struct Run {
    truths: Vec<Truth>,
    steps: Vec<Step>,
    causes: u64,
    believed: usize,
    tips: u64,
    other_events: Vec<Event>,
}

impl Run {
    fn of(plan: &Plan) -> Self {
        let mut run = Self::default();
        let mut bench = Bench::new(plan).expect("a record that covers the period");
        bench.run(&mut run).expect("nothing is written");
        run
    }
    /// Sums over the intervals that end after one instant and not after another: rain by truth, twin and
    /// actual head, mm.
    fn rain(&self, after_us: i64, until_us: i64) -> [f64; 3] {
        let mut sums = [0.0; 3];
        for (truth, step) in self.truths.iter().zip(&self.steps) {
            if truth.time_us > after_us && truth.time_us <= until_us {
                sums[0] += truth.rainfall_mm;
                sums[1] += step.twin.rainfall_mm;
                sums[2] += step.actual.rainfall_mm;
            }
        }
        sums
    }
}

impl Sink for Run {
    fn interval(&mut self, row: &Row<'_>) -> io::Result<()> {
        self.truths.push(*row.truth);
        self.steps.push(*row.step);
        self.causes |= row.causes;
        Ok(())
    }
    fn event(&mut self, _time_us: i64, _signal_dbm: f64, event: &Event) -> io::Result<()> {
        match event {
            Event::Observation(believed) => {
                self.believed += 1;
                assert_eq!(believed.intervals_missed, 0);
                // The first has no base to count from; it is dry then.
                let first = self.believed == 1;
                assert_eq!(believed.tips_since.is_none(), first);
                self.tips += u64::from(believed.tips_since.unwrap_or_default());
            }
            Event::Health { .. } | Event::Paired { .. } => {}
            other => self.other_events.push(*other),
        }
        Ok(())
    }
}

static PLAN: LazyLock<Plan> = LazyLock::new(|| load(""));
static HEALTHY: LazyLock<Run> = LazyLock::new(|| Run::of(&PLAN));

/// Source: the same fortnight converted apart from this code; see `data/WEATHER.md`. It puts an observation at
/// the full hour, this converter 51 minutes later.
#[test]
fn the_converter_agrees_with_another_conversion() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/hourly_record_2013_09.csv");
    let mut other = csv::Reader::from_path(path).expect("the other conversion");
    let ours = convert_hourly::convert(2013, &table()).expect("a good table");
    let mut ours = csv::Reader::from_reader(ours.as_bytes());
    assert_eq!(
        ours.headers().expect("a header"),
        other.headers().expect("a header")
    );
    let (mut count, mut calms) = (0, 0);
    for (ours, other) in ours.records().zip(other.records()) {
        let (ours, other) = (ours.expect("a line"), other.expect("a line"));
        assert_eq!(ours[0].replace(":51:", ":00:"), other[0]);
        for column in 1..8 {
            let [a, b] = [&ours, &other].map(|line| line[column].parse::<f64>().ok());
            match (a, b) {
                (Some(a), Some(b)) => assert!((a - b).abs() < 0.0051, "{ours:?} {other:?}"),
                // The other one keeps the direction of a calm, which is 0 and means nothing.
                (None, Some(0.0)) if column == 5 && &ours[4] == "0" => calms += 1,
                (a, b) => assert_eq!(a, b, "{ours:?} {other:?}"),
            }
        }
        count += 1;
    }
    assert_eq!((count, calms), (337, 13));
}

/// Lines of the same table from elsewhere in the year: the spike of 9 May; then, with days and rain changed to
/// stand together, a missing hour before rain, a calm, and a light wind that varies.
#[test]
fn spikes_gaps_calms_and_varying_winds() {
    let spike = "050901,57.02,48.92,74.27,170,10,,0,1016.9\n\
                 050902,13.1,12.02,95.34,80,7,,0,1016.9\n\
                 050903,57.2,53.6,87.74,120,4,,0,\n";
    let text = convert_hourly::convert(2013, &format!("{HEADER}{spike}")).expect("good lines");
    let lines: Vec<_> = text.lines().collect();
    assert!(lines[0].contains("air_temperature of -10.5 at 2013-05-09T02:51:00Z, -24.4 K"));
    assert!(lines[1].contains("dew_point_temperature of -11.1"));
    assert_eq!(lines[4], "2013-05-09T02:51:00Z,,,1016.9,3.601,80,0,");

    let odd = "013116,41,26.96,57.06,270,13,,0,1011.7\n\
               013118,37.94,26.6,64.7,340,13,,0.04,\n\
               010723,39.92,19.94,44.33,0,0,,0,1029.5\n";
    let error = convert_hourly::convert(2013, odd).expect_err("out of order");
    assert_eq!(error, "line 3: not later than the line before");
    let odd = odd.replace("010723", "013119") + "013120,33.98,30.92,88.42,,3,,0,1029.1\n";
    let text = convert_hourly::convert(2013, &odd).expect("good lines");
    let lines: Vec<_> = text.lines().collect();
    assert_eq!(
        lines[1..],
        [
            "2013-01-31T16:51:00Z,5,-2.8,1011.7,6.688,270,0,",
            "2013-01-31T17:51:00Z,,,,,,,",
            "2013-01-31T18:51:00Z,3.3,-3,,6.688,340,1.016,",
            "2013-01-31T19:51:00Z,4.4,-6.7,1029.5,0,,0,",
            "2013-01-31T20:51:00Z,1.1,-0.6,1029.1,1.543,,0,",
        ]
    );

    for (bad, told) in [
        ("022900,1,2,3,4,5,6,7,8", "line 2: parameter 'day'"),
        ("010100,1,2,3,4,x,6,7,8", "line 2: `x` is not a number"),
        ("0101,1,2,3,4,5,6,7,8", "line 2: expected utc_mmddhh,"),
        ("010100,1,2", "line 2: expected utc_mmddhh,"),
    ] {
        let error = convert_hourly::convert(2013, &format!("{HEADER}{bad}\n")).expect_err(bad);
        assert!(error.starts_with(told), "{error}");
    }
}

/// Source: the record. Stepped so that intervals end at its instants, weather has its values there and its rain
/// in between.
#[test]
fn truth_is_the_record_at_its_instants() {
    let plan = &*PLAN;
    let records = records(plan);
    assert_eq!(records.len(), 337);
    let seed = Seed(plan.seed);
    let (place, site) = (plan.place, plan.site);
    let start_us = plan.start_us;
    let mut weather = Weather::recorded(records, 10.0, place, site, seed, "a", start_us, 16.0)
        .expect("a good record");
    let (mut total, mut pressures) = (0.0, 0);
    for pair in records.windows(2) {
        let record = pair[1];
        let (mut rain, mut last) = (0.0, Truth::default());
        let mut time_us = pair[0].time_us;
        while time_us < record.time_us {
            time_us += INTERVAL_US;
            last = weather.advance(time_us);
            rain += last.rainfall_mm;
        }
        assert_eq!(last.time_us, record.time_us);
        let wanted = record.rainfall_mm.expect("rain in every record");
        assert!((rain - wanted).abs() < 1e-9, "{record:?}: {rain}");
        total += rain;
        let degc = record.air_temperature_degc.expect("a temperature");
        assert!((last.air_temperature_degc - degc).abs() < 1e-9);
        let dew = record.dew_point_degc.expect("a dew point").min(degc);
        // The dew point of a step comes from a table of saturation: within 1e-5 K.
        assert!((last.dew_point_degc - dew).abs() < 1e-5, "{record:?}");
        if let Some(wanted) = record.air_pressure_at_mean_sea_level_hpa {
            let humidity = last.relative_humidity_percent;
            let hpa =
                reduce_to_sea_level_hpa(last.air_pressure_hpa, place.altitude_m, degc, humidity);
            assert!((hpa - wanted).abs() < 1e-7, "{record:?}: {hpa}");
            pressures += 1;
        }
    }
    assert!((total - 48.006).abs() < 1e-6, "{total}");
    assert_eq!(pressures, 337 - 1 - missing_pressures(records));
    assert!(missing_pressures(records) > 5);
}

fn missing_pressures(records: &[Record]) -> usize {
    let missing = |record: &&Record| record.air_pressure_at_mean_sea_level_hpa.is_none();
    records.iter().filter(missing).count()
}

/// On the bench the head's own clock sets the intervals, so a record falls between two ends: the line between them
/// meets it but for the little that the fine structure has grown in 16 s, and the rain until then lies between
/// the running totals.
#[test]
fn the_bench_sees_the_record() {
    let (plan, run) = (&*PLAN, &*HEALTHY);
    let truths = &run.truths;
    let mut totals = vec![0.0];
    for truth in truths {
        totals.push(totals[totals.len() - 1] + truth.rainfall_mm);
    }
    let mut recorded = 0.0;
    for record in &records(plan)[1..336] {
        recorded += record.rainfall_mm.expect("rain in every record");
        let next = truths.partition_point(|truth| truth.time_us < record.time_us);
        assert!(totals[next] < recorded + 1e-6 && recorded < totals[next + 1] + 1e-6);
        let (a, b) = (&truths[next - 1], &truths[next]);
        let share = (record.time_us - a.time_us) as f64 / (b.time_us - a.time_us) as f64;
        let near = |name: &str, wanted: f64, of: &dyn Fn(&Truth) -> f64, allowed: f64| {
            let off = of(a) + share * (of(b) - of(a)) - wanted;
            assert!(off.abs() < allowed, "{name} {record:?}: {off}");
        };
        let degc = record.air_temperature_degc.expect("a temperature");
        near(
            "temperature",
            degc,
            &|truth| truth.air_temperature_degc,
            0.015,
        );
        let dew = record.dew_point_degc.expect("a dew point").min(degc);
        near("dew point", dew, &|truth| truth.dew_point_degc, 0.015);
        if let Some(wanted) = record.air_pressure_at_mean_sea_level_hpa {
            let sea_level = |truth: &Truth| {
                reduce_to_sea_level_hpa(
                    truth.air_pressure_hpa,
                    plan.place.altitude_m,
                    truth.air_temperature_degc,
                    truth.relative_humidity_percent,
                )
            };
            near("pressure", wanted, &sea_level, 0.006);
        }
    }
    // Its last hour is dry, so that what the last interval leaves out is nothing.
    let total = totals[totals.len() - 1];
    assert!((total - 48.006).abs() < 1e-6, "{total}");
    for truth in truths {
        assert!(
            truth.dew_point_degc <= truth.air_temperature_degc,
            "{truth:?}"
        );
        assert!(
            truth.wind_speed_of_gust_ms >= truth.wind_speed_ms,
            "{truth:?}"
        );
    }
}

/// Without fault and loss the receiver has every interval and every tip of the twin, and the twin reads what
/// a good head can: within its accuracies and the errors of shield, funnel and cups.
#[test]
fn a_healthy_head_is_believed_to_the_last_tip() {
    let run = &*HEALTHY;
    assert_eq!(run.causes, 0);
    assert_eq!(run.other_events, []);
    // 14 days of intervals of 16 s; the clock is up to 20 ppm fast or slow.
    assert!(
        (75_598..=75_602).contains(&run.believed),
        "{}",
        run.believed
    );
    assert_eq!(run.believed, run.steps.len());
    assert!(run.steps.iter().all(|step| step.actual == step.twin));
    let [fallen, twin, _] = run.rain(i64::MIN, i64::MAX);
    assert_eq!(run.tips, (twin / BUCKET_MM).round() as u64);
    let lost = 1.0 - twin / fallen;
    // Wind over the rim takes some 5 to 9 % of rain at these speeds (the Nordic rain formula), wetting and
    // evaporation the rest.
    assert!((0.02..0.14).contains(&lost), "{lost}");

    let mut worst = [0.0_f64; 3];
    for (truth, step) in run.truths.iter().zip(&run.steps) {
        let observation = &step.twin.observation;
        let off = [
            observation
                .air_temperature
                .si()
                .map(|v| v - truth.air_temperature_degc),
            observation
                .relative_humidity
                .si()
                .map(|v| v - truth.relative_humidity_percent),
            observation
                .air_pressure
                .si()
                .map(|v| v - truth.air_pressure_hpa),
        ];
        for (worst, off) in worst.iter_mut().zip(off) {
            *worst = worst.max(off.expect("a healthy head reads").abs());
        }
    }
    let [temperature, humidity, pressure] = worst;
    // 0.2 K and 1.2 K in the shield; 5 %, less by that warmth, and slow where the air changes within minutes;
    // 0.5 hPa and the half of a step.
    assert!((0.05..1.4).contains(&temperature), "{worst:?}");
    assert!((0.5..13.0).contains(&humidity), "{worst:?}");
    assert!((0.05..0.6).contains(&pressure), "{worst:?}");
}

/// A plug in the funnel through the front of the 22nd: the peak is clipped, the tail goes on when the rain is
/// over, and the twin knows nothing of it.
#[test]
fn a_plugged_funnel_shows_in_real_rain() {
    let run = Run::of(&load(FAULT));
    let healthy = &*HEALTHY;
    assert_eq!(run.truths, healthy.truths);
    let twins = run.steps.iter().map(|step| step.twin);
    assert!(twins.eq(healthy.steps.iter().map(|step| step.twin)));
    assert!(run.causes.is_power_of_two());

    // 2013-09-22T00:51:00Z.
    let hour = |hour: i64| 1_379_811_060_000_000 + hour * 3_600_000_000;
    let [fallen, twin, actual] = run.rain(hour(4), hour(5));
    assert!(
        (fallen - 16.764).abs() < 0.1,
        "0.66 inches in one hour: {fallen}"
    );
    assert!(twin > 16.0 && actual < 1.0, "peak: {twin} {actual}");
    // Dry hours afterwards.
    let [fallen, twin, actual] = run.rain(hour(9), hour(13));
    assert!(fallen == 0.0 && twin == 0.0, "{fallen} {twin}");
    assert!(actual > 3.0 * BUCKET_MM, "tail: {actual}");

    let [_, twin, actual] = run.rain(i64::MIN, i64::MAX);
    assert!((0.5..0.8).contains(&(actual / twin)), "{actual} of {twin}");
    assert_eq!(run.tips, (actual / BUCKET_MM).round() as u64);
}
