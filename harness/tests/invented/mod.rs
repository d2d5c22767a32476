//! Invented runs for the report: smooth curves with a day in them, two faults, a dead head and a poor link.
//! Nothing here is physics; it only has to look like readings.

use benchmast::faults::{Card, Episode, Fault, Shape};
use benchmast::link::{self, Arrival, Bytes};
use benchmast::plan::{Plan, ReceiverPlan, WeatherSource};
use benchmast::row::{Row, Sink};
use benchmast_protocol::frame::{
    Frame, Health, Identity, Observation, RestartCause, SensorFit, Serial, Status,
};
use benchmast_protocol::packet::{HeadId, MAX_PACKET, Packet};
use benchmast_protocol::quantity::{
    AirPressure, AirTemperature, CellsVoltage, Illuminance, Quantity, RelativeHumidity,
    StoreVoltage, SupplyVoltage, UltravioletIndex, WindFromDirection, WindSpeed, WindSpeedOfGust,
};
use benchmast_protocol::receiver::{Believed, Event, Refusal};
use benchmast_sim::head;
use benchmast_sim::site::{Place, Site};
use benchmast_sim::station::{Reading, Step};
use benchmast_sim::truth::Truth;
use std::f64::consts::TAU;

/// 2031-06-10T00:00:00Z.
pub(crate) const START_US: i64 = 1_938_816_000_000_000;
pub(crate) const SECOND: i64 = 1_000_000;
pub(crate) const DAY: i64 = 86_400 * SECOND;
pub(crate) const HEAD: HeadId = HeadId(0x1a2b_3c4d);
const NEIGHBOUR: HeadId = HeadId(0x0bad_cafe);

const CARD: Card = Card {
    what: "invented",
    signature: "invented",
    look_alikes: "invented",
    field_check: "invented",
    remedy: "invented",
    caution: "invented",
    source: "invented",
};

static SHIELD: Fault = Fault {
    id: "shield_airflow_blocked",
    full_severity: "invented",
    moves: &["air_temperature", "relative_humidity"],
    stops_head: false,
    card: CARD,
    apply: |_, _| {},
};
static FUNNEL: Fault = Fault {
    id: "funnel_partly_blocked",
    full_severity: "invented",
    moves: &["thickness_of_rainfall_amount"],
    stops_head: false,
    card: CARD,
    apply: |_, _| {},
};
static ARROW: Fault = Fault {
    id: "arrow_turned",
    full_severity: "invented",
    moves: &["wind_from_direction"],
    stops_head: false,
    card: CARD,
    apply: |_, _| {},
};

/// A plan over `length_us` from [`START_US`] without any fault.
pub(crate) fn plan(length_us: i64) -> Plan {
    Plan {
        title: "A week in June: a blocked shield, a slow funnel and a turned arrow".into(),
        seed: 20_310_610,
        start_us: START_US,
        end_us: START_US + length_us,
        station: None,
        place_name: "Lower Quenby".into(),
        place: Place {
            latitude_deg: 51.3,
            longitude_deg: -2.1,
            altitude_m: 84.0,
        },
        reference: None,
        site: Site::default(),
        weather: WeatherSource::Recorded {
            file: "quenby.csv".into(),
            records: Vec::new().into(),
            wind_height_m: 10.0,
        },
        head_id: HEAD,
        identity: Identity {
            serial: Serial(1_024_000_017),
            hardware: 1,
            fit: SensorFit::ALL,
            interval_s: 16,
            bucket_um: 300,
        },
        key: None,
        head: head::Parameters::default(),
        link: link::Parameters::default(),
        receiver: ReceiverPlan::default(),
        room: Default::default(),
        faults: Vec::new(),
    }
}

/// Three episodes, spread over the period.
pub(crate) fn faults(plan: &Plan) -> Vec<Episode> {
    let at = |share: f64| plan.start_us + ((plan.end_us - plan.start_us) as f64 * share) as i64;
    vec![
        Episode {
            fault: &SHIELD,
            onset_us: at(0.16),
            end_us: Some(at(0.44)),
            shape: Shape::Ramp {
                over_s: 0.1 * (plan.end_us - plan.start_us) as f64 * 1e-6,
            },
            severity: 0.9,
        },
        Episode {
            fault: &FUNNEL,
            onset_us: at(0.30),
            end_us: None,
            shape: Shape::Step,
            severity: 0.6,
        },
        Episode {
            fault: &ARROW,
            onset_us: at(0.72),
            end_us: Some(at(0.93)),
            shape: Shape::Intermittent {
                period_s: 6.0 * 3600.0,
                duty: 0.7,
            },
            severity: 0.8,
        },
    ]
}

/// A generator of numbers in [-1, 1).
pub(crate) struct Noise(u64);

impl Noise {
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed | 1)
    }
    pub(crate) fn next(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1u64 << 52) as f64 - 1.0
    }
}

/// Truth at the end of an interval.
pub(crate) fn truth(time_us: i64, noise: &mut Noise, gustiness: &mut f64) -> Truth {
    let days = (time_us - START_US) as f64 / DAY as f64;
    let hour = (days.fract() * 24.0 - 4.0) / 24.0;
    let sun_up = 0.42 - 0.62 * (TAU * days).cos() - 0.1 * (TAU * days / 365.0).sin();
    let system = (TAU * days / 3.7).sin() + 0.4 * (TAU * days / 1.9 + 1.0).sin();
    let cloud = (0.5 + 0.6 * system).clamp(0.0, 1.0);
    let year = 6.0 * (TAU * days / 365.0).cos();
    let air = 14.0 + year + 5.5 * (1.0 - 0.6 * cloud) * (TAU * (hour - 0.25)).sin() - 2.0 * system;
    let dew = (9.0 + year + 1.5 * system).min(air - 0.2);
    let humidity =
        (100.0 * (17.6 * dew / (243.0 + dew) - 17.6 * air / (243.0 + air)).exp()).min(100.0);
    *gustiness = 0.98 * *gustiness + 0.2 * noise.next();
    let speed = (3.0 + 1.8 * system + 1.3 * (TAU * hour).sin() + *gustiness).max(0.0);
    let wet = system > 0.75 && (TAU * days * 5.0).sin() > 0.2;
    let light =
        (sun_up.max(0.0) * (1.0 - 0.75 * cloud) * 105_000.0 * (1.0 + 0.15 * cloud * noise.next()))
            .max(0.0);
    Truth {
        time_us,
        interval_s: 16.0,
        air_temperature_degc: air,
        dew_point_degc: dew,
        relative_humidity_percent: humidity,
        air_pressure_hpa: 1004.0 - 8.0 * system + 0.4 * (2.0 * TAU * days).sin(),
        wind_speed_ms: speed,
        wind_speed_of_gust_ms: speed * (1.25 + 0.15 * noise.next()),
        wind_from_direction_deg: (330.0 + 70.0 * system + 12.0 * *gustiness).rem_euclid(360.0),
        rainfall_mm: if wet {
            0.011 * (1.0 + noise.next())
        } else {
            0.0
        },
        cloud_area_fraction: cloud,
        sun: benchmast_sim::physics::sun::SunDirection {
            east: 0.0,
            north: 0.0,
            up: sun_up,
        },
        illuminance_lx: light,
        ultraviolet_index: light / 105_000.0 * 8.0,
        ..Truth::default()
    }
}

/// What a head says of values.
fn reading(truth: &Truth, values: [f64; 4], sequence: u16, tips: u16, rain: f64) -> Reading {
    let [air, humidity, direction, store] = values;
    let health = sequence.is_multiple_of(64).then(|| Health {
        restarts: 1,
        cause: RestartCause::CELLS_INSERTED,
        uptime_s: 16 * u32::from(sequence),
        supply: SupplyVoltage::saturating_from_si(1800.0),
        store: StoreVoltage::saturating_from_si(store),
        cells: CellsVoltage::saturating_from_si(2950.0),
        firmware: 3,
    });
    Reading {
        alive: true,
        sequence,
        observation: Observation {
            status: Status::new(1, store < 2250.0, store < 2250.0, false),
            air_temperature: AirTemperature::saturating_from_si(air),
            relative_humidity: RelativeHumidity::saturating_from_si(humidity),
            air_pressure: AirPressure::saturating_from_si(truth.air_pressure_hpa + 0.3),
            wind_speed: WindSpeed::saturating_from_si(truth.wind_speed_ms * 0.96),
            wind_speed_of_gust: WindSpeedOfGust::saturating_from_si(truth.wind_speed_of_gust_ms),
            wind_from_direction: WindFromDirection::saturating_from_si(
                direction.rem_euclid(360.0).floor(),
            ),
            tips,
            illuminance: Illuminance::saturating_from_si(truth.illuminance_lx * 0.95),
            ultraviolet_index: UltravioletIndex::saturating_from_si(truth.ultraviolet_index),
        },
        health,
        rainfall_mm: rain,
        restarts: 1,
        store_v: store / 1000.0,
        supply_v: 1.8,
    }
}

/// A head that does not run.
pub(crate) fn dead() -> Reading {
    Reading {
        alive: false,
        sequence: 0,
        observation: Observation {
            status: Status::from_bits(0),
            air_temperature: AirTemperature::MISSING,
            relative_humidity: RelativeHumidity::MISSING,
            air_pressure: AirPressure::MISSING,
            wind_speed: WindSpeed::MISSING,
            wind_speed_of_gust: WindSpeedOfGust::MISSING,
            wind_from_direction: WindFromDirection::MISSING,
            tips: 0,
            illuminance: Illuminance::MISSING,
            ultraviolet_index: UltravioletIndex::MISSING,
        },
        health: None,
        rainfall_mm: 0.0,
        restarts: 1,
        store_v: 0.0,
        supply_v: 0.0,
    }
}

fn severity(plan: &Plan, fault: &str, time_us: i64) -> f64 {
    plan.faults
        .iter()
        .filter(|e| e.fault.id == fault && e.onset_us < time_us)
        .filter(|e| e.end_us.is_none_or(|end| time_us <= end))
        .map(|e| {
            let since_s = time_us.saturating_sub(e.onset_us) as f64 * 1e-6;
            e.severity
                * match e.shape {
                    Shape::Step => 1.0,
                    Shape::Ramp { over_s } => (since_s / over_s).min(1.0),
                    Shape::Intermittent { period_s, duty } => {
                        f64::from(u8::from((since_s / period_s).fract() < duty))
                    }
                }
        })
        .fold(0.0, f64::max)
}

/// One interval of the whole road.
pub(crate) struct Interval {
    pub(crate) truth: Truth,
    pub(crate) step: Step,
    pub(crate) causes: u64,
}

/// All intervals of a plan; `dead_from` to `dead_to` are shares of the period without a running head.
pub(crate) fn intervals(
    plan: &Plan,
    dead_from: f64,
    dead_to: f64,
) -> impl Iterator<Item = Interval> + '_ {
    let count = (plan.end_us - plan.start_us) / (16 * SECOND);
    let mut noise = Noise::new(plan.seed);
    let (mut gustiness, mut film) = (0.0, 0.0);
    let (mut water, mut tips) = ([0.0; 2], [0_u16; 2]);
    (1..=count).map(move |index| {
        let time_us = plan.start_us + index * 16 * SECOND;
        let truth = truth(time_us, &mut noise, &mut gustiness);
        let blocked = severity(plan, SHIELD.id, time_us);
        let clogged = severity(plan, FUNNEL.id, time_us);
        let turned = severity(plan, ARROW.id, time_us);
        film = 0.999 * film + 0.001 * truth.illuminance_lx;
        let heat = 5.0 * film / 100_000.0;
        let jitter = 0.08 * noise.next();
        let wobble = 14.0 * noise.next();
        let store = 2300.0 + 450.0 * (film / 60_000.0).min(1.0);
        let mut rain = [0.0; 2];
        for (side, open) in [1.0, 1.0 - 0.8 * clogged].into_iter().enumerate() {
            water[side] += truth.rainfall_mm * open;
            if water[side] >= 0.3 {
                water[side] -= 0.3;
                tips[side] = tips[side].wrapping_add(1);
                rain[side] = 0.3;
            }
        }
        let of = |side: usize, extra: f64, turn: f64| {
            let air = truth.air_temperature_degc + 0.12 * heat + extra + jitter + 0.1;
            let humidity = truth.relative_humidity_percent + 2.0 - 4.5 * extra + 3.0 * jitter;
            let direction = truth.wind_from_direction_deg + wobble + turn;
            let values = [air, humidity, direction, store - 150.0 * extra.max(0.0)];
            reading(&truth, values, (index - 1) as u16, tips[side], rain[side])
        };
        let twin = of(0, 0.0, 0.0);
        let mut actual = of(1, heat * blocked, 70.0 * turned);
        let share = index as f64 / count as f64;
        if share > dead_from && share <= dead_to {
            actual = dead();
        }
        let on = |severity: f64, bit: u64| if severity > 0.0 { bit } else { 0 };
        Interval {
            truth,
            step: Step {
                time_us,
                twin,
                actual,
            },
            causes: on(blocked, 1) | on(clogged, 2) | on(turned, 4),
        }
    })
}

/// Run a plan into a sink, over a link that loses packets in bursts.
pub(crate) fn run(plan: &Plan, sink: &mut impl Sink, dead: (f64, f64)) -> std::io::Result<()> {
    let mut noise = Noise::new(99);
    let (mut lost, mut last, mut missed) = (false, None::<u16>, 0);
    for interval in intervals(plan, dead.0, dead.1) {
        sink.interval(&Row {
            truth: &interval.truth,
            step: &interval.step,
            causes: interval.causes,
        })?;
        let time_us = interval.step.time_us;
        let days = (time_us - plan.start_us) as f64 / DAY as f64;
        let signal_dbm = -88.0 + 3.0 * (TAU * days / 0.7).sin() + 2.0 * noise.next();
        if noise.next() > 0.97 {
            let stranger = packet_of(NEIGHBOUR, &interval.step.twin);
            sink.sent(time_us, &stranger)?;
            sink.heard(&arrival(time_us, signal_dbm - 6.0, &stranger))?;
            sink.event(
                time_us,
                -97.0,
                &Event::Refused(Refusal::UnknownHead(NEIGHBOUR)),
            )?;
        }
        let reading = &interval.step.actual;
        if !reading.alive {
            missed += 1;
            continue;
        }
        let bytes = packet_of(HEAD, reading);
        sink.sent(time_us, &bytes)?;
        let burst = if (3.4..3.7).contains(&days) {
            0.2
        } else {
            0.96
        };
        lost = if lost {
            noise.next() > -0.5
        } else {
            noise.next() > burst
        };
        if lost {
            missed += 1;
            continue;
        }
        let time_us = time_us + 40_000;
        sink.heard(&arrival(time_us, signal_dbm, &bytes))?;
        if noise.next() > 0.985 {
            sink.event(time_us, signal_dbm, &Event::Refused(Refusal::Damaged))?;
            missed += 1;
            continue;
        }
        let tips = reading.observation.tips;
        let tips_since = last.map(|last| tips.wrapping_sub(last));
        let believed = Believed {
            head: HEAD,
            sequence: reading.sequence,
            observation: reading.observation,
            tips_since,
            rain_um: tips_since.map(|tips| u32::from(tips) * 300),
            intervals_missed: missed,
        };
        (last, missed) = (Some(tips), 0);
        sink.event(time_us, signal_dbm, &Event::Observation(believed))?;
        if noise.next() > 0.98 {
            sink.heard(&arrival(time_us, signal_dbm, &bytes))?;
            let sequence = reading.sequence;
            sink.event(
                time_us,
                signal_dbm,
                &Event::Duplicate {
                    head: HEAD,
                    sequence,
                },
            )?;
        }
        if noise.next() > 0.995 {
            let late = Event::Late {
                head: HEAD,
                sequence: reading.sequence.wrapping_sub(1),
                intervals_late: 1,
                frame: Frame::Observation(reading.observation),
                tips_since: 0,
                rain_um: 0,
            };
            sink.event(time_us, signal_dbm, &late)?;
        }
    }
    Ok(())
}

fn packet_of(head: HeadId, reading: &Reading) -> Bytes {
    let packet = Packet {
        head,
        sequence: reading.sequence,
        frame: Frame::Observation(reading.observation),
    };
    let mut buffer = [0; MAX_PACKET];
    let bytes = packet.emit(&mut buffer).unwrap_or_default();
    Bytes::from_slice(bytes).unwrap_or_default()
}

fn arrival(time_us: i64, signal_dbm: f64, bytes: &Bytes) -> Arrival {
    Arrival {
        time_us,
        signal_dbm,
        bytes: bytes.clone(),
    }
}
