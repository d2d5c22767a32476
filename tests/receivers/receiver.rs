//! A complete receiver on the protocol crate, for `benchmast examine`.
use benchmast_protocol::frame::{Frame, Health, Identity, Observation, SensorFit, Serial};
use benchmast_protocol::packet::{HeadId, Packet};
use benchmast_protocol::quantity::Quantity;
use benchmast_protocol::receiver::{Config, Event, Receiver, Refusal};
use benchmast_protocol::stream::{Deframed, Deframer};
use benchmast_protocol::tag::Key;
use serde_json::{Map, Value, json};
use std::io::{self, BufRead, Write};

/// A reading as a decimal text, or null.
fn reading<Q: Quantity>(map: &mut Map<String, Value>, quantity: Q) {
    let decimals = Q::SPECIFICATION.decimals();
    map.insert(
        Q::SPECIFICATION.name.into(),
        quantity.si().map(|si| format!("{si:.decimals$}")).into(),
    );
}

fn fields(bytes: &[u8]) -> Value {
    let mut map = Map::new();
    match Packet::parse(bytes).map(|packet| packet.frame) {
        Ok(Frame::Observation(Observation {
            status,
            air_temperature,
            relative_humidity,
            air_pressure,
            wind_speed,
            wind_speed_of_gust,
            wind_from_direction,
            tips,
            illuminance,
            ultraviolet_index,
        })) => {
            map.extend([
                ("status".into(), status.bits().to_string().into()),
                ("tips".into(), tips.to_string().into()),
            ]);
            reading(&mut map, air_temperature);
            reading(&mut map, relative_humidity);
            reading(&mut map, air_pressure);
            reading(&mut map, wind_speed);
            reading(&mut map, wind_speed_of_gust);
            reading(&mut map, wind_from_direction);
            reading(&mut map, illuminance);
            reading(&mut map, ultraviolet_index);
        }
        Ok(Frame::Health(Health {
            restarts,
            cause,
            uptime_s,
            supply,
            store,
            cells,
            firmware,
        })) => {
            for (name, number) in [
                ("restarts", restarts.into()),
                ("cause", cause.0.into()),
                ("uptime_s", uptime_s),
                ("firmware", firmware.into()),
            ] {
                map.insert(name.into(), number.to_string().into());
            }
            reading(&mut map, supply);
            reading(&mut map, store);
            reading(&mut map, cells);
        }
        Ok(Frame::Identity(Identity {
            serial,
            hardware,
            fit,
            interval_s,
            bucket_um,
        })) => {
            for (name, number) in [
                ("serial", serial.0),
                ("hardware", hardware.into()),
                ("fit", fit.0.into()),
                ("interval_s", interval_s.into()),
                ("bucket_um", bucket_um.into()),
            ] {
                map.insert(name.into(), number.to_string().into());
            }
        }
        Err(_) => {}
    }
    Value::Object(map)
}

fn told(event: Event) -> Value {
    match event {
        Event::Paired { head, identity } => {
            json!({"event": "paired", "head": head.to_string(), "serial": identity.serial.0, "interval_s": identity.interval_s, "bucket_um": identity.bucket_um})
        }
        Event::Observation(b) => {
            json!({"event": "observation", "head": b.head.to_string(), "sequence": b.sequence, "tips_since": b.tips_since, "rain_um": b.rain_um, "intervals_missed": b.intervals_missed})
        }
        Event::Health { head, sequence, .. } => {
            json!({"event": "health", "head": head.to_string(), "sequence": sequence})
        }
        Event::Duplicate { head, sequence } => {
            json!({"event": "duplicate", "head": head.to_string(), "sequence": sequence})
        }
        Event::Late {
            head,
            sequence,
            intervals_late,
            tips_since,
            rain_um,
            ..
        } => {
            json!({"event": "late", "head": head.to_string(), "sequence": sequence, "intervals_late": intervals_late, "tips_since": tips_since, "rain_um": rain_um})
        }
        Event::Restarted { head, life } => {
            json!({"event": "restarted", "head": head.to_string(), "life": life})
        }
        Event::Silent { head, last_heard } => {
            json!({"event": "silent", "head": head.to_string(), "last_heard_us": last_heard})
        }
        Event::Refused(Refusal::UnknownVersion(version)) => {
            json!({"event": "refused", "reason": "unknown_version", "version": version})
        }
        Event::Refused(Refusal::UnknownHead(head)) => {
            json!({"event": "refused", "reason": "unknown_head", "head": head.to_string()})
        }
        Event::Refused(reason) => {
            json!({"event": "refused", "reason": format!("{reason:?}").to_lowercase()})
        }
    }
}

fn bytes(hex: &str) -> Vec<u8> {
    (0..hex.len() / 2)
        .filter_map(|at| u8::from_str_radix(hex.get(2 * at..2 * at + 2)?, 16).ok())
        .collect()
}

fn main() -> io::Result<()> {
    let (mut receiver, mut deframer, mut shows) = (
        Receiver::<4>::new(Config::default()),
        Deframer::new(),
        false,
    );
    for line in io::stdin().lock().lines() {
        let ask: Value = serde_json::from_str(&line?)?;
        let mut answer = json!({"id": ask["id"]});
        let (now, data) = (
            ask["t_us"].as_u64().unwrap_or(0),
            bytes(ask["hex"].as_str().unwrap_or("")),
        );
        let mut events: Vec<Value> = Vec::new();
        let mut poll = |receiver: &mut Receiver<4>, data: &[u8]| {
            while let Some(event) = receiver.poll_event() {
                let mut event = told(event);
                if shows {
                    event["fields"] = fields(data);
                }
                events.push(event);
            }
        };
        match ask["do"].as_str().unwrap_or("") {
            "hello" => answer["name"] = "receiver.rs".into(),
            "open" if ["packet", "stream"].contains(&ask["mode"].as_str().unwrap_or("")) => {
                shows = ask["fields"] == true;
                (receiver, deframer) = (Receiver::new(Config { silent_after: ask["silent_after"].as_u64().unwrap_or(0) as u16 }), Deframer::new());
                for head in ask["adopted"].as_array().into_iter().flatten() {
                    let small = |key: &str| head[key].as_u64().unwrap_or(0) as u16;
                    let identity = Identity { serial: Serial(head["serial"].as_u64().unwrap_or(0)), hardware: small("hardware"), fit: SensorFit(small("fit")), interval_s: small("interval_s"), bucket_um: small("bucket_um") };
                    let id = u32::from_str_radix(head["head"].as_str().unwrap_or(""), 16).unwrap_or(0);
                    receiver.adopt(HeadId(id), identity).map_err(io::Error::other)?;
                }
                for keyed in ask["keys"].as_array().into_iter().flatten() {
                    let key = Key(bytes(keyed["key"].as_str().unwrap_or("")).try_into().unwrap_or_default());
                    let heard = keyed["heard"].as_u64().and_then(|heard| heard.try_into().ok());
                    receiver.set_key(Serial(keyed["serial"].as_u64().unwrap_or(0)), key, heard).map_err(io::Error::other)?;
                }
            }
            "packet" => { receiver.handle_packet(now, &data); poll(&mut receiver, &data) }
            "tick" => { receiver.handle_time(now); poll(&mut receiver, &[]) }
            "stream" => {
                let mut rest = data.as_slice();
                while let Some(frame) = deframer.push_from(&mut rest) {
                    let packet = match frame {
                        Deframed::Packet(packet) => { receiver.handle_packet(now, packet); packet }
                        Deframed::Damaged => { receiver.handle_damaged(now); &[] }
                    };
                    poll(&mut receiver, packet);
                }
                receiver.handle_time(now);
                poll(&mut receiver, &[]);
            }
            "expect" => receiver.expect(Serial(ask["serial"].as_u64().unwrap_or(0))).map_err(io::Error::other)?,
            "pairing" => receiver.expect_any(ask["open"] == true),
            "state" => answer["heads"] = receiver.paired().map(|(head, _)| json!({"head": head.to_string(), "tips": receiver.tips_believed(head)})).collect(),
            "close" | "bye" => {}
            _ => answer["unsupported"] = true.into(),
        }
        answer["events"] = events.into();
        writeln!(io::stdout(), "{answer}")?;
        if ask["do"] == "bye" {
            break;
        }
    }
    Ok(())
}
