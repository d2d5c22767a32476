//! The lines of EXAMINATION.md: requests out, replies in.

use super::EXAMINATION;
use super::script::{Case, Input, Mode, PLACES, Step, push_hex};
use super::told::{RawTold, head_id};
use benchmast_protocol::packet::HeadId;
use serde::Deserialize;
use serde_json::json;
use std::borrow::Cow;
use std::fmt::Write as _;

/// The longest line, its line feed included.
pub const LONGEST_LINE: usize = 65_536;

/// `hello`.
pub(super) fn hello(id: u64, seed: u64) -> String {
    let suite = concat!("benchmast ", env!("CARGO_PKG_VERSION"));
    format!(
        r#"{{"id":{id},"do":"hello","examination":{EXAMINATION},"suite":"{suite}","seed":{seed}}}"#
    )
}

/// A request that is its word alone.
pub(super) fn bare(id: u64, word: &str) -> String {
    format!(r#"{{"id":{id},"do":"{word}"}}"#)
}

/// `open` in a mode that is none.
pub(super) fn canary(id: u64, word: &str) -> String {
    format!(
        r#"{{"id":{id},"do":"open","case":"{word}","mode":"{word}","places":{PLACES},"silent_after":0,"fields":false,"adopted":[],"keys":[]}}"#
    )
}

/// `open`.
pub(super) fn open(id: u64, case: &Case) -> String {
    let adopted: Vec<_> = case
        .setup
        .adopted
        .iter()
        .map(|(head, identity)| {
            json!({
                "head": head.to_string(), "serial": identity.serial.0, "hardware": identity.hardware,
                "fit": identity.fit.0, "interval_s": identity.interval_s, "bucket_um": identity.bucket_um,
            })
        })
        .collect();
    let keys: Vec<_> = case
        .setup
        .keys
        .iter()
        .map(|keyed| {
            let key = super::script::hex(&keyed.key.0);
            json!({ "serial": keyed.serial.0, "key": key, "heard": keyed.heard })
        })
        .collect();
    let (name, adopted, keys) = (json!(case.id), json!(adopted), json!(keys));
    let (mode, silent_after, fields) = (case.mode, case.setup.silent_after, case.has_fields());
    format!(
        r#"{{"id":{id},"do":"open","case":{name},"mode":"{mode}","places":{PLACES},"silent_after":{silent_after},"fields":{fields},"adopted":{adopted},"keys":{keys}}}"#
    )
}

/// A step, onto the end of `line`.
pub(super) fn step(line: &mut String, id: u64, step: &Step) {
    let t_us = step.t_us;
    let _ = match &step.input {
        Input::Packet(bytes) | Input::Stream(bytes) => {
            let word = match &step.input {
                Input::Packet(_) => Mode::Packet,
                _ => Mode::Stream,
            };
            let _ = write!(line, r#"{{"id":{id},"do":"{word}","t_us":{t_us},"hex":""#);
            push_hex(line, bytes);
            line.write_str("\"}")
        }
        Input::Tick => write!(line, r#"{{"id":{id},"do":"tick","t_us":{t_us}}}"#),
        Input::Expect(serial) => {
            write!(line, r#"{{"id":{id},"do":"expect","serial":{}}}"#, serial.0)
        }
        Input::Pairing(open) => write!(line, r#"{{"id":{id},"do":"pairing","open":{open}}}"#),
    };
}

/// A reply as it is read.
#[derive(Debug, Deserialize)]
pub(super) struct Reply<'m> {
    pub(super) id: Option<u64>,
    #[serde(borrow)]
    pub(super) events: Option<Vec<RawTold<'m>>>,
    #[serde(default)]
    pub(super) unsupported: bool,
    pub(super) skip: Option<String>,
    #[serde(borrow)]
    heads: Option<Vec<RawHead<'m>>>,
    pub(super) name: Option<String>,
    pub(super) version: Option<String>,
}

#[derive(Debug, Deserialize)]
struct RawHead<'m> {
    #[serde(borrow)]
    head: Cow<'m, str>,
    tips: u64,
}

impl Reply<'_> {
    /// What `state` asks for.
    pub(super) fn tips(&self) -> Option<Vec<(HeadId, u64)>> {
        self.heads
            .as_ref()?
            .iter()
            .map(|raw| Some((head_id(&raw.head)?, raw.tips)))
            .collect()
    }
}
