//! What the receiver tells, as a line for people and as JSON for programs.

use crate::tally::reason;
use benchmast_protocol::frame::{Frame, Health, Identity, Observation};
use benchmast_protocol::quantity::Quantity;
use benchmast_protocol::receiver::{Event, Refusal};
use serde_json::{Map, Value, json};

/// ISO 8601 in UTC, to the second for people.
fn stamp(time_us: Option<i64>) -> String {
    time_us
        .and_then(|time| jiff::Timestamp::from_microsecond(time).ok())
        .map_or_else(String::new, |stamp| format!("{stamp:.3}  "))
}

/// One line for people.
pub(super) fn line(time_us: Option<i64>, signal_dbm: Option<f64>, event: &Event) -> String {
    let signal = signal_dbm
        .map(|signal| format!("  {signal:.1} dBm"))
        .unwrap_or_default();
    let text = match event {
        Event::Paired { head, identity } => format!(
            "paired    head {head} serial {}, every {} s, {:.3} mm a tip",
            identity.serial,
            identity.interval_s,
            f64::from(identity.bucket_um) / 1000.0
        ),
        Event::Observation(believed) => {
            let rain = match believed.rain_um {
                Some(rain_um) => format!("+{:.1} mm", f64::from(rain_um) / 1000.0),
                None => "no base yet".into(),
            };
            let missed = match believed.intervals_missed {
                0 => String::new(),
                missed => format!("  ({missed} missed)"),
            };
            format!(
                "believed  #{} {}  rain {rain}{missed}",
                believed.sequence,
                readings(&believed.observation)
            )
        }
        Event::Health {
            sequence, health, ..
        } => format!("health    #{sequence} {}", supply(health)),
        Event::Duplicate { sequence, .. } => format!("duplicate #{sequence}"),
        Event::Late {
            sequence,
            intervals_late,
            frame,
            ..
        } => {
            let what = match frame {
                Frame::Observation(observation) => readings(observation),
                Frame::Health(health) => supply(health),
                Frame::Identity(_) => "identity".into(),
            };
            format!("late      #{sequence} by {intervals_late}: {what}")
        }
        Event::Restarted { head, life } => format!("restarted head {head}, life {life}"),
        Event::Refused(refusal) => format!("refused   {}", because(refusal)),
        Event::Silent { head, .. } => format!("silent    head {head}"),
    };
    format!("{}{text}{signal}", stamp(time_us))
}

fn because(refusal: &Refusal) -> String {
    match refusal {
        Refusal::UnknownVersion(version) => format!("unknown version {version}"),
        Refusal::UnknownHead(head) => format!("unknown head {head}"),
        other => reason(other).to_string(),
    }
}

fn readings(observation: &Observation) -> String {
    let direction = observation.wind_from_direction;
    format!(
        "{}, {} RH, {}, wind {}, gust {}, from {direction}, {}, UV {}",
        observation.air_temperature,
        observation.relative_humidity,
        observation.air_pressure,
        observation.wind_speed,
        observation.wind_speed_of_gust,
        observation.illuminance,
        number(observation.ultraviolet_index),
    )
}

fn number<Q: Quantity>(quantity: Q) -> String {
    quantity.si().map_or_else(
        || "missing".into(),
        |value| format!("{value:.*}", Q::SPECIFICATION.decimals()),
    )
}

fn supply(health: &Health) -> String {
    format!(
        "supply {}, store {}, cells {}, up {} s, {} restarts",
        health.supply, health.store, health.cells, health.uptime_s, health.restarts
    )
}

/// One object for programs: times in microseconds, values as decimal strings, `null` for missing.
pub(super) fn json(time_us: Option<i64>, signal_dbm: Option<f64>, event: &Event) -> Value {
    let mut object = match event {
        Event::Paired { head, identity } => {
            json!({ "event": "paired", "head": head.to_string(), "identity": identity_json(identity) })
        }
        Event::Observation(believed) => json!({
            "event": "observation",
            "head": believed.head.to_string(),
            "sequence": believed.sequence,
            "tips_since": believed.tips_since,
            "rain_um": believed.rain_um,
            "intervals_missed": believed.intervals_missed,
            "readings": readings_json(&believed.observation),
        }),
        Event::Health {
            head,
            sequence,
            health,
        } => json!({
            "event": "health", "head": head.to_string(), "sequence": sequence, "health": health_json(health),
        }),
        Event::Duplicate { head, sequence } => {
            json!({ "event": "duplicate", "head": head.to_string(), "sequence": sequence })
        }
        Event::Late {
            head,
            sequence,
            intervals_late,
            frame,
            tips_since,
            rain_um,
        } => {
            let mut late = json!({
                "event": "late", "head": head.to_string(), "sequence": sequence,
                "intervals_late": intervals_late, "tips_since": tips_since, "rain_um": rain_um,
            });
            match frame {
                Frame::Observation(observation) => late["readings"] = readings_json(observation),
                Frame::Health(health) => late["health"] = health_json(health),
                Frame::Identity(identity) => late["identity"] = identity_json(identity),
            }
            late
        }
        Event::Restarted { head, life } => {
            json!({ "event": "restarted", "head": head.to_string(), "life": life })
        }
        Event::Refused(refusal) => json!({ "event": "refused", "reason": because(refusal) }),
        Event::Silent { head, last_heard } => {
            json!({ "event": "silent", "head": head.to_string(), "last_heard_us": last_heard })
        }
    };
    if let Some(time_us) = time_us {
        object["t_us"] = time_us.into();
    }
    if let Some(signal_dbm) = signal_dbm.filter(|signal| signal.is_finite()) {
        object["signal_dbm"] = signal_dbm.into();
    }
    object
}

fn readings_json(observation: &Observation) -> Value {
    let mut map = Map::new();
    put(&mut map, observation.air_temperature);
    put(&mut map, observation.relative_humidity);
    put(&mut map, observation.air_pressure);
    put(&mut map, observation.wind_speed);
    put(&mut map, observation.wind_speed_of_gust);
    put(&mut map, observation.wind_from_direction);
    put(&mut map, observation.illuminance);
    put(&mut map, observation.ultraviolet_index);
    map.insert("tips".into(), observation.tips.into());
    map.insert("life".into(), observation.status.life().into());
    map.insert("on_cells".into(), observation.status.on_cells().into());
    map.insert("store_low".into(), observation.status.store_low().into());
    map.insert("cells_low".into(), observation.status.cells_low().into());
    Value::Object(map)
}

fn put<Q: Quantity>(map: &mut Map<String, Value>, quantity: Q) {
    let value = if quantity.si().is_some() {
        Value::String(number(quantity))
    } else {
        Value::Null
    };
    map.insert(Q::SPECIFICATION.name.into(), value);
}

fn health_json(health: &Health) -> Value {
    let mut map = Map::new();
    map.insert("restarts".into(), health.restarts.into());
    map.insert("cause".into(), health.cause.0.into());
    map.insert("uptime_s".into(), health.uptime_s.into());
    put(&mut map, health.supply);
    put(&mut map, health.store);
    put(&mut map, health.cells);
    map.insert("firmware".into(), health.firmware.into());
    Value::Object(map)
}

fn identity_json(identity: &Identity) -> Value {
    json!({
        "serial": identity.serial.to_string(),
        "hardware": identity.hardware,
        "fit": identity.fit.0,
        "interval_s": identity.interval_s,
        "bucket_um": identity.bucket_um,
    })
}
