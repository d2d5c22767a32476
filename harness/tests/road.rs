//! The road end to end, through the library: what a fault may move and what it may not.

mod testing_green;

use benchmast::bench::Bench;
use benchmast::faults::{CATALOGUE, Episode, Fault, Shape, by_id};
use benchmast::plan::{Plan, WeatherSource};
use benchmast::row::{Row, Sink};
use benchmast::scenario;
use benchmast_protocol::frame::Observation;
use benchmast_protocol::quantity::{Quantity, RAINFALL};
use benchmast_protocol::receiver::Event;
use std::collections::BTreeMap;
use std::io;
use std::path::Path;

/// A spring fortnight with rain, sun, calm and wind.
fn fortnight() -> String {
    testing_green::scenario("A fortnight", 5, "2026-04-01T00:00:00Z", 14.0)
}

fn plan(text: &str) -> Plan {
    scenario::parse("test.toml", text, Path::new("."))
        .unwrap_or_else(|report| panic!("{}", report.plain()))
}

fn fault(id: &str) -> &'static Fault {
    by_id(id).unwrap_or_else(|| panic!("{id} is not in the catalogue"))
}

fn with_fault(fault: &'static Fault, severity: f64) -> Plan {
    let mut plan = plan(&fortnight());
    plan.faults = vec![Episode {
        fault,
        onset_us: plan.start_us + 86_400_000_000,
        end_us: None,
        shape: Shape::Step,
        severity,
    }];
    plan
}

fn run(plan: &Plan, sink: &mut impl Sink) {
    let mut bench = Bench::new(plan).unwrap_or_else(|error| panic!("{error}"));
    bench.run(sink).unwrap_or_else(|error| panic!("{error}"));
}

fn fields(observation: &Observation) -> [(&'static str, i64); 8] {
    fn field<Q: Quantity>(quantity: Q) -> (&'static str, i64) {
        (Q::SPECIFICATION.name, quantity.raw())
    }
    [
        field(observation.air_temperature),
        field(observation.relative_humidity),
        field(observation.air_pressure),
        field(observation.wind_speed),
        field(observation.wind_speed_of_gust),
        field(observation.wind_from_direction),
        field(observation.illuminance),
        field(observation.ultraviolet_index),
    ]
}

/// In how many intervals each quantity of the actual head differs from its twin's, while both run.
#[derive(Default)]
struct Moved {
    intervals: BTreeMap<&'static str, u64>,
    dead: u64,
    with_cause: u64,
}

impl Sink for Moved {
    fn interval(&mut self, row: &Row<'_>) -> io::Result<()> {
        let (twin, actual) = (&row.step.twin, &row.step.actual);
        self.with_cause += u64::from(row.causes != 0);
        if !actual.alive {
            self.dead += 1;
            return Ok(());
        }
        for (was, is) in fields(&twin.observation)
            .into_iter()
            .zip(fields(&actual.observation))
        {
            if was.1 != is.1 {
                *self.intervals.entry(was.0).or_default() += 1;
            }
        }
        if twin.rainfall_mm.to_bits() != actual.rainfall_mm.to_bits() {
            *self.intervals.entry(RAINFALL.name).or_default() += 1;
        }
        Ok(())
    }
}

#[test]
fn a_fault_moves_what_physics_says_and_nothing_else() {
    let revealed = [
        "arrow_misaligned",
        "funnel_partly_blocked",
        "shield_airflow_blocked",
        "rh_stuck_wet",
        "vane_stuck",
    ];
    for id in revealed {
        let mut moved = Moved::default();
        run(&with_fault(fault(id), 1.0), &mut moved);
        let names: Vec<_> = moved.intervals.keys().copied().collect();
        let mut quantities = fault(id).moves.to_vec();
        quantities.sort_unstable();
        assert_eq!(names, quantities, "{id}: {:?}", moved.intervals);
        assert!(
            moved.intervals.values().all(|count| *count > 10),
            "{id}: {:?}",
            moved.intervals
        );
        assert_eq!(moved.dead, 0, "{id}");
        assert!(moved.with_cause > 70_000, "{id}");
    }
}

#[test]
fn flat_cells_end_in_dull_winter_nights_and_move_nothing_else() {
    let mut winter = with_fault(fault("reserve_cells_flat"), 1.0);
    let shift = 115 * 86_400_000_000;
    winter.start_us -= shift;
    winter.end_us -= shift;
    winter.place.latitude_deg = 62.0;
    winter.faults[0].onset_us -= shift;
    let mut moved = Moved::default();
    run(&winter, &mut moved);
    assert!(moved.dead > 1000, "{} intervals dead", moved.dead);
    // While it runs, the head reads what its twin reads; only a gauge that was off has missed tips.
    assert!(
        moved.intervals.keys().all(|name| *name == RAINFALL.name),
        "{:?}",
        moved.intervals
    );
    winter.faults.clear();
    let mut healthy = Moved::default();
    run(&winter, &mut healthy);
    assert_eq!(healthy.dead, 0);
    assert!(healthy.intervals.is_empty());
}

/// All that a run tells its sinks, as text.
#[derive(Default, PartialEq)]
struct Everything(Vec<String>);

impl Sink for Everything {
    fn interval(&mut self, row: &Row<'_>) -> io::Result<()> {
        self.0.push(format!("{row:?}"));
        Ok(())
    }
    fn sent(&mut self, time_us: i64, bytes: &[u8]) -> io::Result<()> {
        self.0.push(format!("{time_us} {bytes:?}"));
        Ok(())
    }
    fn event(&mut self, time_us: i64, signal_dbm: f64, event: &Event) -> io::Result<()> {
        self.0.push(format!("{time_us} {signal_dbm} {event:?}"));
        Ok(())
    }
}

fn two_days(text: &str) -> Plan {
    let mut plan = plan(text);
    plan.end_us = plan.start_us + 2 * 86_400_000_000;
    plan
}

#[test]
fn severity_zero_is_no_fault() {
    let mut healthy = Everything::default();
    run(&two_days(&fortnight()), &mut healthy);
    for fault in CATALOGUE {
        // Past the reader, which drops such faults: the schedule itself must do nothing.
        let mut nothing = two_days(&fortnight());
        nothing.faults = with_fault(fault, 0.0).faults;
        let mut seen = Everything::default();
        run(&nothing, &mut seen);
        assert!(seen == healthy, "{}", fault.id);
        let mut full = two_days(&fortnight());
        full.faults = with_fault(fault, 1.0).faults;
        let mut seen = Everything::default();
        run(&full, &mut seen);
        assert!(seen != healthy, "{} at severity 1 left no trace", fault.id);
    }
}

#[test]
fn another_seed_is_another_run() {
    let mut first = Everything::default();
    run(&two_days(&fortnight()), &mut first);
    let mut again = Everything::default();
    run(&two_days(&fortnight()), &mut again);
    assert!(first == again);
    let mut other_plan = two_days(&fortnight());
    other_plan.seed = 6;
    let mut other = Everything::default();
    run(&other_plan, &mut other);
    assert!(first != other);
}

/// What the head counted up to the last observation heard in each of its lives, against what is believed.
#[derive(Default)]
struct RainLedger {
    heard_um: u64,
    life_um: u64,
    base: Option<(u8, u16)>,
    wraps: u32,
    restarts: u32,
    believed_um: u64,
}

impl Sink for RainLedger {
    fn event(&mut self, _time_us: i64, _signal_dbm: f64, event: &Event) -> io::Result<()> {
        match event {
            Event::Observation(believed) => {
                // Counted anew from the packets' own counters, the plain way.
                let (life, tips) = (
                    believed.observation.status.life(),
                    believed.observation.tips,
                );
                let step = match self.base {
                    None => 0,
                    Some((was, _)) if was != life => {
                        self.restarts += 1;
                        tips
                    }
                    Some((_, before)) => {
                        self.wraps += u32::from(tips < before);
                        tips.wrapping_sub(before)
                    }
                };
                self.base = Some((life, tips));
                self.heard_um += u64::from(step) * self.life_um;
                self.believed_um += u64::from(believed.rain_um.unwrap_or(0));
            }
            Event::Late { rain_um, .. } => assert_eq!(*rain_um, 0),
            _ => {}
        }
        Ok(())
    }
}

#[test]
fn no_rain_is_lost_in_a_third_of_bursty_loss_across_a_wrap_and_restarts() {
    let mut plan = plan(&fortnight());
    // A bucket of a hundredth of a millimetre, so that the counter wraps within a wet season.
    plan.identity.bucket_um = 10;
    plan.head.bucket_mm = 0.01;
    plan.end_us = plan.start_us + 300 * 86_400_000_000;
    if let WeatherSource::Synthetic { climate } = &mut plan.weather {
        for month in &mut climate.months {
            month.rain_mm *= 3.0;
        }
    }
    plan.link.burst_loss = 0.3;
    plan.link.burst_length = 6.0;
    plan.place.latitude_deg = 61.0;
    plan.faults = vec![Episode {
        fault: fault("reserve_cells_flat"),
        onset_us: plan.start_us + 240 * 86_400_000_000,
        end_us: Some(plan.start_us + 290 * 86_400_000_000),
        shape: Shape::Step,
        severity: 1.0,
    }];
    let mut ledger = RainLedger {
        life_um: 10,
        ..RainLedger::default()
    };
    run(&plan, &mut ledger);
    assert_eq!(ledger.believed_um, ledger.heard_um);
    assert!(ledger.restarts > 0, "no restart");
    assert!(ledger.wraps > 0, "no wrap: {} um", ledger.heard_um);
}

/// Counts what the receiver took for silence.
#[derive(Default)]
struct Silences(u64);

impl Sink for Silences {
    fn event(&mut self, _time_us: i64, _signal_dbm: f64, event: &Event) -> io::Result<()> {
        self.0 += u64::from(matches!(event, Event::Silent { .. }));
        Ok(())
    }
}

#[test]
fn the_end_of_the_period_is_no_silence() {
    // Both times the patience is shorter than the wait for packets that are still on their way.
    for more in [
        "[head]\ninterval_s = 1",
        "[receiver]\nsilent_after_intervals = 2",
    ] {
        let text = fortnight().replace("days = 14", "days = 0.02") + more;
        let mut silences = Silences::default();
        run(&plan(&text), &mut silences);
        assert_eq!(silences.0, 0, "{more}");
    }
}

/// What a receiver believes, and its refusals.
#[derive(Default)]
struct Believed {
    observations: Vec<String>,
    refused: BTreeMap<String, u64>,
    duplicates: u64,
    restarts: u64,
}

impl Sink for Believed {
    fn event(&mut self, _time_us: i64, _signal_dbm: f64, event: &Event) -> io::Result<()> {
        match event {
            Event::Observation(_) | Event::Late { .. } | Event::Health { .. } => {
                self.observations.push(format!("{event:?}"));
            }
            Event::Refused(refusal) => {
                *self.refused.entry(format!("{refusal:?}")).or_default() += 1;
            }
            Event::Duplicate { .. } => self.duplicates += 1,
            Event::Restarted { .. } => self.restarts += 1,
            _ => {}
        }
        Ok(())
    }
}

/// A winter in which head and receiver both restart, over a link that loses, repeats and delays.
#[test]
fn with_a_key_an_honest_head_is_believed_as_without() {
    let mut plan = with_fault(fault("reserve_cells_flat"), 1.0);
    let shift = 115 * 86_400_000_000;
    plan.start_us -= shift;
    plan.end_us -= shift - 40 * 86_400_000_000;
    plan.place.latitude_deg = 62.0;
    plan.faults[0].onset_us -= shift;
    plan.link.loss = 0.1;
    plan.link.duplicate = 0.1;
    plan.link.bit_error = 0.0;
    plan.room.mains.cuts_a_year = 100.0;
    plan.room.mains.battery_hours = 0.0;
    let mut open = Believed::default();
    run(&plan, &mut open);
    plan.key = Some("2b7e151628aed2a6abf7158809cf4f3c".parse().expect("a key"));
    let mut keyed = Believed::default();
    run(&plan, &mut keyed);
    assert!(
        open.restarts > 2 && open.duplicates > 100,
        "{} restarts",
        open.restarts
    );
    assert_eq!(open.restarts, keyed.restarts);
    assert!(open.observations == keyed.observations);
    // A packet heard twice is a replay where there is a key.
    assert_eq!(keyed.duplicates, 0);
    assert_eq!(
        keyed.refused.get("Replayed"),
        Some(&open.duplicates),
        "{:?}",
        keyed.refused
    );
    assert_eq!(keyed.refused.get("Forged"), None);
}
