//! Receiver dialogues of the vector file: what a receiver says to each packet and to time.

use super::vectors::{hex, read, text, unhex};
use benchmast_protocol::frame::{Identity, SensorFit, Serial};
use benchmast_protocol::packet::HeadId;
use benchmast_protocol::receiver::{Config, Event, Receiver, Refusal};
use serde_json::{Value, json};
use std::string::{String, ToString};
use std::vec::Vec;

/// An event as it stands in the file.
pub(crate) fn told(event: &Event) -> Value {
    let name = |head: &HeadId| hex(&head.0.to_be_bytes());
    match event {
        Event::Paired { head, identity } => json!({
            "event": "paired", "head": name(head), "serial": identity.serial.0,
            "interval_s": identity.interval_s, "bucket_um": identity.bucket_um,
        }),
        Event::Observation(believed) => json!({
            "event": "observation", "head": name(&believed.head), "sequence": believed.sequence,
            "tips_since": believed.tips_since, "rain_um": believed.rain_um,
            "intervals_missed": believed.intervals_missed,
        }),
        Event::Health { head, sequence, .. } => {
            json!({"event": "health", "head": name(head), "sequence": sequence})
        }
        Event::Duplicate { head, sequence } => {
            json!({"event": "duplicate", "head": name(head), "sequence": sequence})
        }
        Event::Late {
            head,
            sequence,
            intervals_late,
            tips_since,
            rain_um,
            ..
        } => json!({
            "event": "late", "head": name(head), "sequence": sequence,
            "intervals_late": intervals_late, "tips_since": tips_since, "rain_um": rain_um,
        }),
        Event::Restarted { head, life } => {
            json!({"event": "restarted", "head": name(head), "life": life})
        }
        Event::Silent { head, last_heard } => {
            json!({"event": "silent", "head": name(head), "last_heard_us": last_heard})
        }
        Event::Refused(refusal) => match refusal {
            Refusal::Damaged => json!({"event": "refused", "reason": "damaged"}),
            Refusal::UnknownVersion(version) => {
                json!({"event": "refused", "reason": "unknown_version", "version": version})
            }
            Refusal::UnknownHead(head) => {
                json!({"event": "refused", "reason": "unknown_head", "head": name(head)})
            }
            Refusal::Malformed => json!({"event": "refused", "reason": "malformed"}),
            Refusal::Implausible => json!({"event": "refused", "reason": "implausible"}),
            Refusal::Stale => json!({"event": "refused", "reason": "stale"}),
            Refusal::Forged => json!({"event": "refused", "reason": "forged"}),
            Refusal::Replayed => json!({"event": "refused", "reason": "replayed"}),
        },
    }
}

fn head_id(vector: &Value) -> HeadId {
    HeadId(u32::from_str_radix(text(vector, "head"), 16).unwrap())
}

fn small(vector: &Value, key: &str) -> u16 {
    vector[key]
        .as_u64()
        .and_then(|value| value.try_into().ok())
        .unwrap()
}

#[cfg(feature = "tags")]
fn give_keys(dialogue: &Value, receiver: &mut Receiver<4>) {
    use benchmast_protocol::tag::Key;
    for keyed in dialogue["keys"].as_array().into_iter().flatten() {
        let key = Key(unhex(text(keyed, "key")).try_into().unwrap());
        let heard = keyed["heard"]
            .as_u64()
            .map(|heard| heard.try_into().unwrap());
        receiver
            .set_key(Serial(keyed["serial"].as_u64().unwrap()), key, heard)
            .unwrap();
    }
}

#[test]
fn receivers_say_what_the_dialogues_say() {
    let plain = read("dialogues.json");
    let tagged = if cfg!(feature = "tags") {
        read("dialogues_tagged.json")
    } else {
        Vec::new()
    };
    assert!(plain.len() > 30 && (tagged.len() > 5) == cfg!(feature = "tags"));
    for dialogue in plain.into_iter().chain(tagged) {
        let id = text(&dialogue, "id");
        let mut receiver = Receiver::<4>::new(Config {
            silent_after: small(&dialogue, "silent_after"),
        });
        for head in dialogue["adopted"].as_array().unwrap() {
            let identity = Identity {
                serial: Serial(head["serial"].as_u64().unwrap()),
                hardware: small(head, "hardware"),
                fit: SensorFit(small(head, "fit")),
                interval_s: small(head, "interval_s"),
                bucket_um: small(head, "bucket_um"),
            };
            receiver.adopt(head_id(head), identity).unwrap();
        }
        #[cfg(feature = "tags")]
        give_keys(&dialogue, &mut receiver);
        for (number, step) in dialogue["steps"].as_array().unwrap().iter().enumerate() {
            let now = step["at_us"].as_u64().unwrap();
            if let Some(serial) = step["expect"].as_u64() {
                receiver.expect(Serial(serial)).unwrap();
            } else if let Some(open) = step["open"].as_bool() {
                receiver.expect_any(open);
            } else if let Some(packet) = step["hex"].as_str() {
                receiver.handle_packet(now, &unhex(packet));
            } else {
                receiver.handle_time(now);
            }
            let said: Vec<Value> = core::iter::from_fn(|| receiver.poll_event())
                .map(|event| told(&event))
                .collect();
            let says = step["says"]
                .as_str()
                .map_or_else(String::new, ToString::to_string);
            assert_eq!(
                &Value::Array(said),
                &step["events"],
                "{id}, step {number} {says}"
            );
        }
        assert_eq!(receiver.events_lost(), 0, "{id}");
        for total in dialogue["tips"].as_array().unwrap() {
            assert_eq!(
                receiver.tips_believed(head_id(total)),
                total["tips"].as_u64(),
                "{id}"
            );
        }
    }
}
