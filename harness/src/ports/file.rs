//! `file:PATH` to send to.

use super::{PortName, Report, because, framing, told};
use std::fs::{self, Permissions};
use std::io::{self, BufWriter, Write};
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// A byte stream into a file. It is written beside its place and takes its name at the end, so nothing
/// unfinished ever bears the name.
#[derive(Debug)]
pub(super) struct Output {
    name: PortName,
    path: PathBuf,
    out: BufWriter<NamedTempFile>,
    report: Report,
}

impl Output {
    pub(super) fn open(name: &PortName, path: &Path) -> io::Result<Self> {
        if fs::metadata(path).is_ok_and(|there| !there.is_file()) {
            let text = "is there and no plain file; choose another name";
            return Err(told(name, io::ErrorKind::AlreadyExists, text));
        }
        let directory = path
            .parent()
            .filter(|parent| !parent.as_os_str().is_empty());
        let mut out = tempfile::Builder::new()
            .prefix(".unfinished-")
            // As any new file: the user's mask decides.
            .permissions(Permissions::from_mode(0o666))
            .tempfile_in(directory.unwrap_or(Path::new(".")))
            .map(BufWriter::new)
            .map_err(|error| {
                because(
                    name,
                    &error,
                    "is its directory there and yours to write in?",
                )
            })?;
        out.write_all(framing::OPENING)?;
        Ok(Self {
            name: name.clone(),
            path: path.to_owned(),
            out,
            report: Report {
                peers: 1,
                ..Report::default()
            },
        })
    }

    pub(super) fn send(&mut self, frame: &[u8]) -> io::Result<()> {
        self.report.sent += 1;
        self.out
            .write_all(frame)
            .map_err(|error| because(&self.name, &error, "is the disk full?"))
    }

    pub(super) const fn report(&self) -> Report {
        self.report
    }

    pub(super) fn finish(mut self) -> io::Result<Report> {
        self.report.drained = true;
        self.out
            .into_inner()
            .map_err(io::IntoInnerError::into_error)
            .map_err(|error| because(&self.name, &error, "is the disk full?"))?
            .persist(&self.path)
            .map_err(|error| because(&self.name, &error.error, "is the name free?"))?;
        Ok(self.report)
    }
}
