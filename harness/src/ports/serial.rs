//! `serial:DEVICE[:BAUD]` to send to: a real serial line, eight data bits, no parity, one stop bit.

use super::{PortName, Report, SendOptions, because, framing, terminal, told, wait};
use rustix::event::PollFlags;
use rustix::fs::{Mode, OFlags};
use rustix::termios::{self, ControlModes, OptionalActions};
use std::fs::File;
use std::io::{self, Read, Write};
use std::os::fd::AsFd;
use std::path::Path;

/// Set a line that is raw already to a speed, and to 8N1 without flow control.
pub(super) fn set_speed(line: impl AsFd, baud: u32) -> io::Result<()> {
    let mut modes = termios::tcgetattr(&line)?;
    modes.set_speed(baud)?;
    modes.control_modes &= !(ControlModes::CSIZE
        | ControlModes::PARENB
        | ControlModes::CSTOPB
        | ControlModes::CRTSCTS);
    modes.control_modes |= ControlModes::CS8;
    termios::tcsetattr(&line, OptionalActions::Now, &modes)?;
    Ok(())
}

/// A line that is sent to. Nobody can tell whether somebody is at its other end.
#[derive(Debug)]
pub(super) struct Output {
    name: PortName,
    options: SendOptions,
    line: File,
    report: Report,
}

impl Output {
    pub(super) fn open(
        name: PortName,
        path: &Path,
        baud: u32,
        options: SendOptions,
    ) -> io::Result<Self> {
        let line = open_line(&name, path, baud)?;
        let mut output = Self {
            name,
            options,
            line,
            report: Report {
                peers: 1,
                ..Report::default()
            },
        };
        output.hand_over(framing::OPENING)?;
        Ok(output)
    }

    pub(super) fn send(&mut self, frame: &[u8]) -> io::Result<()> {
        self.hand_over(frame)?;
        self.report.sent += 1;
        Ok(())
    }

    fn hand_over(&mut self, mut bytes: &[u8]) -> io::Result<()> {
        self.discard_answers();
        while !bytes.is_empty() {
            match self.line.write(bytes) {
                Ok(count) => bytes = &bytes[count..],
                Err(error) if error.kind() == io::ErrorKind::WouldBlock => {
                    wait::until(&self.line, PollFlags::OUT, None, &self.options.stop)?;
                    self.discard_answers();
                }
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => {
                    return Err(because(
                        &self.name,
                        &error,
                        "has the adapter been pulled out?",
                    ));
                }
            }
        }
        Ok(())
    }

    fn discard_answers(&mut self) {
        let mut scratch = [0; 512];
        while let Ok(count) = self.line.read(&mut scratch) {
            if count == 0 {
                break;
            }
            self.report.answered += count as u64;
        }
    }

    pub(super) const fn report(&self) -> Report {
        self.report
    }

    /// Wait until all has left the machine, then close.
    pub(super) fn finish(mut self) -> io::Result<Report> {
        self.discard_answers();
        self.report.drained = termios::tcdrain(&self.line).is_ok();
        Ok(self.report)
    }
}

fn open_line(name: &PortName, path: &Path, baud: u32) -> io::Result<File> {
    // Not blocking: a line without carrier would never open.
    let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::NONBLOCK | OFlags::CLOEXEC;
    let line = rustix::fs::open(path, flags, Mode::empty()).map_err(|error| {
        let next_step = "is the adapter plugged in, and may you use it (group dialout)?";
        because(name, &error.into(), next_step)
    })?;
    if !termios::isatty(&line) {
        let text = "is no serial line; file:PATH writes files";
        return Err(told(name, io::ErrorKind::InvalidInput, text));
    }
    terminal::make_raw(&line)
        .and_then(|()| set_speed(&line, baud))
        .map_err(|error| because(name, &error, "the line does not take this speed"))?;
    Ok(File::from(line))
}

#[cfg(test)]
mod tests {
    use super::super::pty::make_terminal;
    use super::*;

    /// A terminal of our own stands for the line: its other end reads what was sent.
    #[test]
    fn every_byte_arrives_and_the_line_is_set() {
        let (mut master, path) = make_terminal().expect("a terminal");
        let name = PortName::Serial(path.clone(), 19_200);
        let mut output = Output::open(name, &path, 19_200, SendOptions::default()).expect("a line");
        output
            .send(b"\x03\n\r\x11\x13\x04\x7f\x00")
            .expect("it is there");
        let modes = termios::tcgetattr(&output.line).expect("modes");
        assert_eq!(modes.output_speed(), 19_200);
        assert!(modes.control_modes.contains(ControlModes::CS8));
        assert!(
            !modes
                .control_modes
                .intersects(ControlModes::PARENB | ControlModes::CSTOPB)
        );
        let mut all = Vec::new();
        let mut chunk = [0; 64];
        while all.len() < 9 {
            match master.read(&mut chunk) {
                Ok(count) => all.extend_from_slice(&chunk[..count]),
                Err(error) => assert_eq!(error.kind(), io::ErrorKind::WouldBlock),
            }
        }
        assert_eq!(all, b"\x00\x03\n\r\x11\x13\x04\x7f\x00");
        let report = output.finish().expect("it is there");
        assert_eq!((report.sent, report.drained), (1, true));
    }

    #[test]
    fn what_is_no_line_is_told_with_the_way_out() {
        let open = |path: &str| {
            let name = PortName::Serial(path.into(), 9600);
            let opened = Output::open(name, Path::new(path), 9600, SendOptions::default());
            opened.expect_err("no line").to_string()
        };
        assert!(open("/no/such/line").contains("is the adapter plugged in"));
        assert!(open("/dev/null").contains("is no serial line"));
    }
}
