//! A receiver that is wrong in one way: it stands between the examination and a right receiver, and spoils
//! what passes.
//!
//!     wrong --fault NAME -- COMMAND...   be such a receiver
//!     wrong --table -- COMMAND...        print the table of all faults, and fail if one is not caught

use benchmast::examine::cases::craft::{Encoding, fields, packet, sealed};
use benchmast_protocol::frame::Frame;
use benchmast_protocol::packet::{HeadId, Packet};
use benchmast_tests::wrong::{FAULTS, table};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::io::{self, BufRead, BufReader, Write};
use std::process::{Command, ExitCode, Stdio};

/// One fault, and what it remembers of the case.
struct Wrong {
    fault: String,
    /// The first life heard of each head.
    lives: BTreeMap<u32, u8>,
    /// The last observation told of each head.
    last: BTreeMap<String, Value>,
    /// The byte before was a delimiter.
    after_delimiter: bool,
    /// Bytes since the last delimiter.
    frame_len: usize,
}

fn unhex(text: &str) -> Vec<u8> {
    let pair = |at: usize| u8::from_str_radix(text.get(2 * at..2 * at + 2)?, 16).ok();
    (0..text.len() / 2).filter_map(pair).collect()
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// The packet without its check.
fn covered(bytes: &[u8]) -> Option<&[u8]> {
    (bytes.len() >= 9).then(|| &bytes[..bytes.len() - 2])
}

/// The numbers of a body as somebody reads them who does not look closely.
fn careless(bytes: &[u8]) -> Option<(u8, HeadId, u16, Vec<i64>)> {
    let covered = covered(bytes)?;
    if sealed(covered) != bytes || !(0x11..=0x13).contains(&bytes[0]) {
        return None;
    }
    let kind = bytes[0] & 7;
    let head = u32::from_le_bytes([bytes[1], bytes[2], bytes[3], bytes[4]]);
    let (mut at, mut numbers) = (7, Vec::new());
    for field in fields(kind) {
        let mut value = 0_u64;
        let mut shift = 0;
        loop {
            let byte = *covered.get(at)?;
            at += 1;
            if field.encoding == Encoding::Byte {
                value = byte.into();
                break;
            }
            value |= u64::from(byte & 0x7f).checked_shl(shift)?;
            shift += 7;
            if byte < 0x80 {
                break;
            }
        }
        let signed = value.cast_signed();
        numbers.push(match field.encoding {
            Encoding::Zigzag(_) if value % 2 == 1 => -(signed / 2) - 1,
            Encoding::Zigzag(_) => signed / 2,
            _ => signed,
        });
    }
    let sequence = u16::from_le_bytes([bytes[5], bytes[6]]);
    (at == covered.len()).then_some((kind, HeadId(head), sequence, numbers))
}

impl Wrong {
    fn spoil_packet(&mut self, bytes: Vec<u8>) -> Vec<u8> {
        match self.fault.as_str() {
            "bad-check" => covered(&bytes).map_or(bytes.clone(), sealed),
            "any-version" => match covered(&bytes) {
                Some(inner) if sealed(inner) == bytes => {
                    let mut inner = inner.to_vec();
                    inner[0] = inner[0] & 15 | 0x10;
                    sealed(&inner)
                }
                _ => bytes,
            },
            "padded-numbers" => match careless(&bytes) {
                Some((kind, head, sequence, numbers)) => packet(kind, head, sequence, &numbers),
                None => bytes,
            },
            "illegal-numbers" => match careless(&bytes) {
                Some((kind, head, sequence, mut numbers)) => {
                    for (number, field) in numbers.iter_mut().zip(fields(kind)) {
                        if field.missing != Some(*number) {
                            *number = (*number).clamp(field.low, field.high);
                        }
                    }
                    packet(kind, head, sequence, &numbers)
                }
                None => bytes,
            },
            "ignores-restarts" => match careless(&bytes) {
                Some((kind, head, sequence, mut numbers)) if kind < 3 => {
                    let life = (numbers[0] % 16) as u8;
                    let first = *self.lives.entry(head.0).or_insert(life);
                    numbers[0] += i64::from(first) - i64::from(life);
                    packet(kind, head, sequence, &numbers)
                }
                _ => bytes,
            },
            "hangs" if bytes.is_empty() => loop {
                std::thread::park();
            },
            _ => bytes,
        }
    }

    fn spoil_stream(&mut self, bytes: Vec<u8>) -> Vec<u8> {
        let mut out = Vec::new();
        for byte in bytes {
            let is_swallowed = self.fault == "swallows-a-byte" && self.after_delimiter && byte != 0;
            self.after_delimiter = byte == 0;
            self.frame_len = if byte == 0 { 0 } else { self.frame_len + 1 };
            if self.fault == "overflows" && self.frame_len > 256 {
                eprintln!("index out of bounds: the length is 256");
                std::process::exit(101);
            }
            if !is_swallowed {
                out.push(byte);
            }
        }
        out
    }

    /// What is asked of the right receiver.
    fn spoil_request(&mut self, request: &mut Value) {
        match request["do"].as_str().unwrap_or_default() {
            "open" => {
                if self.fault == "ignores-keys" {
                    request["keys"] = json!([]);
                }
                self.lives.clear();
                self.last.clear();
                (self.after_delimiter, self.frame_len) = (false, 0);
            }
            word @ ("packet" | "stream") => {
                let bytes = unhex(request["hex"].as_str().unwrap_or_default());
                let bytes = if word == "packet" {
                    self.spoil_packet(bytes)
                } else {
                    self.spoil_stream(bytes)
                };
                request["hex"] = hex(&bytes).into();
            }
            "pairing" if self.fault == "neighbour" => request["open"] = true.into(),
            _ => {}
        }
    }

    /// What is told to the examination.
    fn spoil_reply(&mut self, request: &Value, reply: &mut Value) {
        if self.fault == "agrees" {
            reply
                .as_object_mut()
                .map(|reply| reply.remove("unsupported"));
        }
        let bytes = unhex(request["hex"].as_str().unwrap_or_default());
        let Some(events) = reply["events"].as_array_mut() else {
            return;
        };
        match self.fault.as_str() {
            "empty-frames" if request["do"] == "stream" => {
                let empty = bytes.windows(2).filter(|pair| pair == &[0, 0]).count();
                events.extend((0..empty).map(|_| json!({"event": "refused", "reason": "damaged"})));
            }
            "silence-after" => events.sort_by_key(|event| event["event"] == "silent"),
            _ => {}
        }
        for event in events {
            self.spoil_event(&bytes, event);
        }
    }

    fn spoil_event(&mut self, bytes: &[u8], event: &mut Value) {
        let word = event["event"].as_str().unwrap_or_default().to_owned();
        let head = event["head"].as_str().unwrap_or_default().to_owned();
        match (self.fault.as_str(), word.as_str()) {
            ("missing-is-a-number", _) => {
                for (name, value) in event["fields"].as_object_mut().into_iter().flatten() {
                    let raw = (1..4).flat_map(fields).find(|field| field.name == name);
                    if let (Some(missing), true) =
                        (raw.and_then(|field| field.missing), value.is_null())
                    {
                        *value = missing.to_string().into();
                    }
                }
            }
            ("duplicate-counts", "observation") => {
                self.last.insert(head, event.clone());
            }
            ("duplicate-counts", "duplicate") => {
                let again = self.last.get(&head);
                if let Some(again) = again.filter(|again| again["sequence"] == event["sequence"]) {
                    *event = again.clone();
                }
            }
            ("stale-is-late", "refused") if event["reason"] == "stale" => {
                if let Ok(packet) = Packet::parse(bytes) {
                    *event = json!({
                        "event": "late", "head": packet.head.to_string(), "sequence": packet.sequence,
                        "intervals_late": 64, "tips_since": 0, "rain_um": 0,
                    });
                }
            }
            ("wrap-loses-rain", "observation") => {
                if let Ok(Frame::Observation(observation)) =
                    Packet::parse(bytes).map(|packet| packet.frame)
                    && event["tips_since"]
                        .as_u64()
                        .is_some_and(|since| since > observation.tips.into())
                {
                    event["tips_since"] = 0.into();
                    event["rain_um"] = 0.into();
                }
            }
            ("no-base-is-nought", "observation") if event["tips_since"].is_null() => {
                event["tips_since"] = 0.into();
                event["rain_um"] = 0.into();
            }
            _ => {}
        }
    }
}

fn stand_between(fault: &str, right: &[String]) -> io::Result<()> {
    let (program, arguments) = right.split_first().ok_or(io::ErrorKind::InvalidInput)?;
    let mut child = Command::new(program)
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()?;
    let mut to = child.stdin.take().ok_or(io::ErrorKind::BrokenPipe)?;
    let mut from = BufReader::new(child.stdout.take().ok_or(io::ErrorKind::BrokenPipe)?);
    let mut wrong = Wrong {
        fault: fault.to_owned(),
        lives: BTreeMap::new(),
        last: BTreeMap::new(),
        after_delimiter: false,
        frame_len: 0,
    };
    let mut ask = |request: &Value| -> io::Result<Value> {
        writeln!(to, "{request}")?;
        let mut line = String::new();
        from.read_line(&mut line)?;
        Ok(serde_json::from_str(&line)?)
    };
    for line in io::stdin().lock().lines() {
        let original: Value = serde_json::from_str(&line?)?;
        let mut request = original.clone();
        wrong.spoil_request(&mut request);
        let mut reply = ask(&request)?;
        if fault == "neighbour" && request["do"] == "open" && reply["unsupported"] != true {
            ask(&json!({"id": 0, "do": "pairing", "open": true}))?;
        }
        wrong.spoil_reply(&original, &mut reply);
        writeln!(io::stdout(), "{reply}")?;
        if request["do"] == "bye" {
            break;
        }
    }
    drop(to);
    child.wait().map(drop)
}

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let done = match words.as_slice() {
        [_, "--fault", fault, "--", ..] if FAULTS.iter().any(|(name, ..)| name == fault) => {
            stand_between(fault, &arguments[4..]).map_err(|error| error.to_string())
        }
        [wrong, "--table", "--", ..] => {
            table(wrong, &arguments[3..]).and_then(|(text, all_caught)| {
                print!("{text}");
                if all_caught {
                    Ok(())
                } else {
                    Err("a wrong receiver was not caught".into())
                }
            })
        }
        _ => {
            let names: Vec<&str> = FAULTS.iter().map(|(name, ..)| *name).collect();
            Err(format!(
                "usage: wrong --fault NAME -- COMMAND... | wrong --table -- COMMAND...\nfaults: {}",
                names.join(", ")
            ))
        }
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(text) => {
            eprintln!("{text}");
            ExitCode::FAILURE
        }
    }
}
