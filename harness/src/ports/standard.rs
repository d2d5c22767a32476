//! `-` to send to: standard output.

use super::{PortName, Report, SendOptions, because, framing};
use std::fs::File;
use std::io::{self, Write};
use std::os::fd::AsFd;

/// Bytes gathered when nobody is in a hurry.
const BATCH: usize = 1 << 16;

/// A byte stream on standard output. Whoever closes it has read enough: that is no error.
#[derive(Debug)]
pub(super) struct Output {
    /// Not [`io::Stdout`], which would cut the stream at line feeds.
    out: Option<File>,
    batch: Vec<u8>,
    prompt: bool,
    report: Report,
}

impl Output {
    pub(super) fn open(options: SendOptions) -> io::Result<Self> {
        let out = File::from(io::stdout().as_fd().try_clone_to_owned()?);
        Ok(Self::onto(out, options.prompt))
    }

    fn onto(out: File, prompt: bool) -> Self {
        Self {
            out: Some(out),
            batch: framing::OPENING.to_vec(),
            prompt,
            report: Report {
                peers: 1,
                ..Report::default()
            },
        }
    }

    pub(super) fn send(&mut self, frame: &[u8]) -> io::Result<()> {
        self.batch.extend_from_slice(frame);
        if self.prompt || self.batch.len() >= BATCH {
            self.hand_on()?;
        }
        match self.out {
            Some(_) => self.report.sent += 1,
            None => self.report.missed += 1,
        }
        Ok(())
    }

    fn hand_on(&mut self) -> io::Result<()> {
        let outcome = self.out.as_mut().map(|out| out.write_all(&self.batch));
        self.batch.clear();
        match outcome {
            Some(Err(error)) if error.kind() == io::ErrorKind::BrokenPipe => {
                self.out = None;
                Ok(())
            }
            Some(Err(error)) => Err(because(
                &PortName::Standard,
                &error,
                "what it is redirected to takes no more",
            )),
            Some(Ok(())) | None => Ok(()),
        }
    }

    pub(super) const fn is_over(&self) -> bool {
        self.out.is_none()
    }

    pub(super) const fn report(&self) -> Report {
        self.report
    }

    pub(super) fn finish(mut self) -> io::Result<Report> {
        self.hand_on()?;
        self.report.drained = !self.is_over();
        Ok(self.report)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Read;

    fn pipe(prompt: bool) -> (io::PipeReader, Output) {
        let (reader, writer) = io::pipe().expect("pipe");
        let writer = std::os::fd::OwnedFd::from(writer);
        (reader, Output::onto(File::from(writer), prompt))
    }

    #[test]
    fn bytes_pass_unchanged_whether_gathered_or_not() {
        for prompt in [false, true] {
            let (mut reader, mut output) = pipe(prompt);
            output.send(b"\x03\n\x04\x00").expect("reader is there");
            output.send(b"\r\x11\x13\x00").expect("reader is there");
            let report = output.finish().expect("reader is there");
            assert_eq!((report.sent, report.missed, report.drained), (2, 0, true));
            let mut all = Vec::new();
            reader.read_to_end(&mut all).expect("pipe");
            assert_eq!(all, b"\x00\x03\n\x04\x00\r\x11\x13\x00");
        }
    }

    #[test]
    fn a_reader_that_has_enough_is_no_error() {
        let (reader, mut output) = pipe(true);
        output.send(b"\x01\x00").expect("reader is there");
        drop(reader);
        output.send(b"\x01\x00").expect("no error");
        assert!(output.is_over());
        output.send(b"\x01\x00").expect("no error");
        let report = output.finish().expect("no error");
        assert_eq!((report.sent, report.missed, report.drained), (1, 2, false));
    }
}
