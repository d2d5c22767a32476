//! A complete receiver on the protocol crate, for `benchmast examine`. The words of its events are the examination's.
use benchmast::examine::told;
use benchmast_protocol::frame::{Identity, SensorFit, Serial};
use benchmast_protocol::packet::HeadId;
use benchmast_protocol::receiver::{Config, Receiver};
use benchmast_protocol::stream::{Deframed, Deframer};
use benchmast_protocol::tag::Key;
use serde::Deserialize;
use serde_json::{Value, json};
use std::error::Error;
use std::io::{self, BufRead, Write};

/// Every request; keys that it has not are as by default.
#[derive(Deserialize, Default)]
#[serde(default)]
struct Ask {
    id: u64,
    r#do: String,
    mode: String,
    t_us: u64,
    hex: String,
    silent_after: u16,
    fields: bool,
    adopted: Vec<Adopted>,
    keys: Vec<Keyed>,
    serial: u64,
    open: bool,
}

#[derive(Deserialize)]
struct Adopted {
    head: String,
    serial: u64,
    hardware: u16,
    fit: u16,
    interval_s: u16,
    bucket_um: u16,
}

#[derive(Deserialize)]
struct Keyed {
    serial: u64,
    key: String,
    heard: Option<u32>,
}

fn bytes(hex: &str) -> Vec<u8> {
    (0..hex.len() / 2)
        .filter_map(|at| u8::from_str_radix(hex.get(2 * at..2 * at + 2)?, 16).ok())
        .collect()
}

fn open(ask: &Ask) -> Result<Receiver<4>, Box<dyn Error>> {
    let silent_after = ask.silent_after;
    let mut receiver = Receiver::new(Config { silent_after });
    for head in &ask.adopted {
        let id = HeadId(u32::from_str_radix(&head.head, 16)?);
        let identity = Identity {
            serial: Serial(head.serial),
            hardware: head.hardware,
            fit: SensorFit(head.fit),
            interval_s: head.interval_s,
            bucket_um: head.bucket_um,
        };
        receiver.adopt(id, identity)?;
    }
    for keyed in &ask.keys {
        let key = Key(bytes(&keyed.key).try_into().map_err(|_| "16 bytes")?);
        receiver.set_key(Serial(keyed.serial), key, keyed.heard)?;
    }
    Ok(receiver)
}

fn poll(receiver: &mut Receiver<4>, with_fields: bool, events: &mut Vec<Value>) {
    while let Some(event) = receiver.poll_event() {
        events.push(told::json(&event, with_fields));
    }
}

fn main() -> Result<(), Box<dyn Error>> {
    let mut receiver = open(&Ask::default())?;
    let (mut deframer, mut with_fields) = (Deframer::new(), false);
    for line in io::stdin().lock().lines() {
        let ask: Ask = serde_json::from_str(&line?)?;
        let mut answer = json!({"id": ask.id});
        let data = bytes(&ask.hex);
        let mut events: Vec<Value> = Vec::new();
        match (ask.r#do.as_str(), ask.mode.as_str()) {
            ("hello", _) => answer["name"] = "receiver.rs".into(),
            ("open", "packet" | "stream") => {
                (receiver, deframer, with_fields) = (open(&ask)?, Deframer::new(), ask.fields);
            }
            ("packet", _) => receiver.handle_packet(ask.t_us, &data),
            ("stream", _) => {
                let mut rest = data.as_slice();
                while let Some(frame) = deframer.push_from(&mut rest) {
                    match frame {
                        Deframed::Packet(packet) => receiver.handle_packet(ask.t_us, packet),
                        Deframed::Damaged => receiver.handle_damaged(ask.t_us),
                    }
                    poll(&mut receiver, with_fields, &mut events);
                }
                receiver.handle_time(ask.t_us);
            }
            ("tick", _) => receiver.handle_time(ask.t_us),
            ("expect", _) => receiver.expect(Serial(ask.serial))?,
            ("pairing", _) => receiver.expect_any(ask.open),
            ("state", _) => {
                let state = |(head, _)| json!({"head": format!("{head}"), "tips": receiver.tips_believed(head)});
                answer["heads"] = receiver.paired().map(state).collect();
            }
            ("close" | "bye", _) => {}
            _ => answer["unsupported"] = true.into(),
        }
        poll(&mut receiver, with_fields, &mut events);
        answer["events"] = events.into();
        writeln!(io::stdout(), "{answer}")?;
        if ask.r#do == "bye" {
            break;
        }
    }
    Ok(())
}
