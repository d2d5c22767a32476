//! The worked examples of the wire format, as files that the document's test, the codec's tests and other
//! people's decoders read: `protocol/vectors/*.json`.
//!
//! Packets are written by the codec; what a receiver must make of them is stated here by hand.

mod dialogues;
mod packets;
mod refused;
mod streams;
mod tagged;

use benchmast_protocol::frame::Frame;
use serde::Serialize;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// One vector file.
#[derive(Serialize)]
struct File<V> {
    /// Which wire format the vectors belong to.
    wire_format: u8,
    /// What the vectors are and how to read them.
    about: &'static str,
    vectors: Vec<V>,
}

impl<V: Serialize> File<V> {
    fn write(about: &'static str, vectors: Vec<V>, path: PathBuf) -> io::Result<PathBuf> {
        let file = Self {
            wire_format: benchmast_protocol::packet::VERSION,
            about,
            vectors,
        };
        let mut text = serde_json::to_string_pretty(&file)?;
        text.push('\n');
        fs::write(&path, text)?;
        Ok(path)
    }
}

/// The fields of a frame by the names of WIRE.md sections 3 to 5, each as a decimal number in its unit; `None`: no reading.
pub fn decimals(frame: &Frame) -> impl Iterator<Item = (&'static str, Option<String>)> {
    let fields = packets::fields(frame).into_iter();
    fields.map(|field| (field.name, field.value))
}

/// Write all vector files into a directory, which is made if need be, and return their paths.
///
/// # Errors
/// What the file system says.
pub fn write(dir: &Path) -> io::Result<Vec<PathBuf>> {
    fs::create_dir_all(dir)?;
    Ok(vec![
        File::write(
            packets::ABOUT,
            packets::accepted(),
            dir.join("packets_accepted.json"),
        )?,
        File::write(
            refused::ABOUT,
            refused::refused(),
            dir.join("packets_refused.json"),
        )?,
        File::write(streams::ABOUT, streams::all(), dir.join("streams.json"))?,
        File::write(
            dialogues::ABOUT,
            dialogues::all(),
            dir.join("dialogues.json"),
        )?,
        File::write(
            tagged::ABOUT,
            tagged::all(),
            dir.join("packets_tagged.json"),
        )?,
        File::write(
            dialogues::ABOUT_TAGGED,
            dialogues::all_tagged(),
            dir.join("dialogues_tagged.json"),
        )?,
    ])
}

/// Bytes as pairs of lower-case hexadecimal digits.
fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}
