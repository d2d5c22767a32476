//! `pty:LINK` to listen to: a terminal that a sender has made, or any serial line.

use super::{ListenOptions, PortName, Received, because, serial, told, wait};
use rustix::event::PollFlags;
use rustix::fs::{Mode, OFlags};
use rustix::termios::{self, ControlModes, OptionalActions};
use std::fs::File;
use std::io::{self, Read};
use std::os::fd::AsFd;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Between two looks whether the terminal is there.
const AGAIN_AFTER: Duration = Duration::from_millis(20);

/// Set a terminal so that every byte passes as it is, nothing is echoed, and no carrier is needed.
pub(super) fn make_raw(terminal: impl AsFd) -> io::Result<()> {
    let mut modes = termios::tcgetattr(&terminal)?;
    modes.make_raw();
    modes.control_modes |= ControlModes::CLOCAL | ControlModes::CREAD;
    // Now, not "flush": nothing that has come in already is lost.
    termios::tcsetattr(&terminal, OptionalActions::Now, &modes)?;
    Ok(())
}

/// A terminal that is opened as soon as it is there.
#[derive(Debug)]
pub(super) struct Line {
    name: PortName,
    path: PathBuf,
    /// Of a serial line, bits a second.
    baud: Option<u32>,
    options: ListenOptions,
    terminal: Option<File>,
    waiting_told: bool,
    over: bool,
}

impl Line {
    pub(super) fn new(
        name: PortName,
        path: &Path,
        baud: Option<u32>,
        options: ListenOptions,
    ) -> Self {
        Self {
            name,
            path: path.to_owned(),
            baud,
            options,
            terminal: None,
            waiting_told: false,
            over: false,
        }
    }

    pub(super) fn next<'b>(&mut self, buffer: &'b mut [u8]) -> io::Result<Received<'b>> {
        loop {
            if self.over {
                return Ok(Received::End);
            }
            let Some(terminal) = &mut self.terminal else {
                return self.wait_for_terminal();
            };
            let options = &self.options;
            if wait::until(&*terminal, PollFlags::IN, options.idle, &options.stop)?.is_empty() {
                return Ok(Received::Idle);
            }
            match terminal.read(buffer) {
                Ok(count) if count > 0 => return Ok(Received::Bytes(&buffer[..count])),
                Err(error) if is_passing(error.kind()) => {}
                // The other side has closed: the end of the stream, or an input/output error.
                Ok(_) | Err(_) => {
                    self.terminal = None;
                    self.waiting_told = false;
                    self.over = self.options.once;
                    (self.options.notice)(&format!("the sender at {} has closed", self.name));
                }
            }
        }
    }

    fn wait_for_terminal<'b>(&mut self) -> io::Result<Received<'b>> {
        let begin = Instant::now();
        while !self.try_open()? {
            if !std::mem::replace(&mut self.waiting_told, true) {
                let text = format!("waiting for a sender to make {}", self.path.display());
                (self.options.notice)(&text);
            }
            if self
                .options
                .idle
                .is_some_and(|limit| begin.elapsed() >= limit)
            {
                return Ok(Received::Idle);
            }
            self.options.stop.sleep(AGAIN_AFTER)?;
        }
        Ok(Received::Begin)
    }

    /// Whether the terminal is open now.
    fn try_open(&mut self) -> io::Result<bool> {
        // Not blocking: a serial line without carrier would never open.
        let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::NONBLOCK | OFlags::CLOEXEC;
        let terminal = match rustix::fs::open(&self.path, flags, Mode::empty()) {
            Ok(terminal) => terminal,
            // Not there, or its other side is just closing.
            Err(rustix::io::Errno::NOENT | rustix::io::Errno::IO) => return Ok(false),
            Err(error) => {
                let next_step = "give the link of a sender, or a serial line that you may use";
                return Err(because(&self.name, &error.into(), next_step));
            }
        };
        if !termios::isatty(&terminal) {
            let text = "is no terminal; file:PATH reads files";
            return Err(told(&self.name, io::ErrorKind::InvalidInput, text));
        }
        make_raw(&terminal)
            .and_then(|()| {
                self.baud
                    .map_or(Ok(()), |baud| serial::set_speed(&terminal, baud))
            })
            .map_err(|error| because(&self.name, &error, "it cannot be set to pass every byte"))?;
        self.terminal = Some(File::from(terminal));
        Ok(true)
    }
}

fn is_passing(kind: io::ErrorKind) -> bool {
    matches!(kind, io::ErrorKind::WouldBlock | io::ErrorKind::Interrupted)
}
