//! `listen --capture FILE`: what arrived, as a capture. The header names the heads that were paired, which is known
//! only at the end; until then the lines wait in a file beside.

use crate::capture::{Head, Header, Writer};
use crate::link::{Arrival, Bytes};
use benchmast_protocol::frame::Identity;
use benchmast_protocol::packet::HeadId;
use std::fs::{self, File};
use std::io::{self, BufRead, BufReader, BufWriter, Write};
use std::path::{Path, PathBuf};

/// A capture in the making.
#[derive(Debug)]
pub(super) struct FieldCapture {
    path: PathBuf,
    beside: PathBuf,
    lines: Writer<BufWriter<File>>,
    last_us: i64,
}

impl FieldCapture {
    /// Begin, beside where the capture will stand.
    pub(super) fn create(path: &Path) -> io::Result<Self> {
        if path.is_dir() {
            return Err(io::Error::other("it is a folder; name a file"));
        }
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        let beside = path.with_file_name(format!(".{name}.unfinished-{}", std::process::id()));
        let lines = Writer::new(
            BufWriter::new(File::create(&beside)?),
            &header("", Vec::new()),
        )?;
        Ok(Self {
            path: path.to_owned(),
            beside,
            lines,
            last_us: i64::MIN,
        })
    }

    /// A packet arrived, or something that was none: its bytes are then not known, and an empty packet is as damaged.
    pub(super) fn heard(
        &mut self,
        time_us: i64,
        signal_dbm: Option<f64>,
        bytes: &[u8],
    ) -> io::Result<()> {
        // The computer's clock may be set back; a capture's must not run backwards.
        self.last_us = self.last_us.max(time_us);
        self.lines.heard(&Arrival {
            time_us: self.last_us,
            signal_dbm: signal_dbm.unwrap_or(f64::NAN),
            // Longer ones are no packets of this format, whatever follows.
            bytes: Bytes::from_slice(bytes).unwrap_or_default(),
        })
    }

    /// Put header and lines together under the name that was asked for.
    pub(super) fn finish(
        self,
        from: &str,
        heads: impl Iterator<Item = (HeadId, Identity)>,
    ) -> io::Result<()> {
        let heads = heads.map(|(head, identity)| Head {
            serial: identity.serial,
            head,
            interval_s: identity.interval_s,
            bucket_um: identity.bucket_um,
        });
        drop(self.lines.finish()?);
        let mut lines = BufReader::new(File::open(&self.beside)?);
        // The first line is the header without heads.
        lines.skip_until(b'\n')?;
        let whole = self.beside.with_extension("whole");
        let header = header(&format!("heard at {from}"), heads.collect());
        let mut out = Writer::new(BufWriter::new(File::create(&whole)?), &header)?.finish()?;
        io::copy(&mut lines, &mut out)?;
        out.flush()?;
        fs::rename(&whole, &self.path)?;
        fs::remove_file(&self.beside)
    }
}

fn header(title: &str, heads: Vec<Head>) -> Header {
    Header {
        title: title.to_owned(),
        seed: 0,
        heads,
    }
}
