//! `file:PATH` and `-` to listen to: a byte stream or a capture.

use super::{ListenOptions, PortName, Received, because, told, wait};
use crate::capture::{self, Event};
use rustix::event::PollFlags;
use std::fs::File;
use std::io::{self, BufReader, Chain, Cursor, Read};
use std::os::fd::AsFd;
use std::path::Path;

/// No stream of ours begins with this byte (it would announce a packet of 122 bytes or more), and every
/// capture does.
const CAPTURE_BEGINS: u8 = b'{';

type CaptureReader = capture::Reader<BufReader<Chain<Cursor<Vec<u8>>, File>>>;

/// A file or standard input.
#[derive(Debug)]
pub(super) struct Input {
    name: PortName,
    options: ListenOptions,
    state: State,
}

#[derive(Debug)]
enum State {
    New(File),
    Stream { ahead: Vec<u8>, file: File },
    Capture(Box<CaptureReader>),
    Over,
}

impl Input {
    pub(super) fn standard(options: ListenOptions) -> io::Result<Self> {
        let file = File::from(io::stdin().as_fd().try_clone_to_owned()?);
        Ok(Self {
            name: PortName::Standard,
            options,
            state: State::New(file),
        })
    }

    pub(super) fn file(name: PortName, path: &Path, options: ListenOptions) -> io::Result<Self> {
        let file = File::open(path).map_err(|error| {
            because(
                &name,
                &error,
                "give a capture, or a stream that was sent to a file",
            )
        })?;
        Ok(Self {
            name,
            options,
            state: State::New(file),
        })
    }

    pub(super) fn capture(&self) -> Option<&capture::Header> {
        match &self.state {
            State::Capture(reader) => Some(reader.header()),
            State::New(_) | State::Stream { .. } | State::Over => None,
        }
    }

    pub(super) fn next<'b>(&mut self, buffer: &'b mut [u8]) -> io::Result<Received<'b>> {
        self.options.stop.check()?;
        match &mut self.state {
            State::New(file) => {
                let mut ahead = vec![0; 4096];
                let Some(count) = read(&self.name, &self.options, file, &mut ahead)? else {
                    return Ok(Received::Idle);
                };
                ahead.truncate(count);
                self.begin(ahead)?;
                Ok(Received::Begin)
            }
            State::Stream { ahead, .. } if !ahead.is_empty() => {
                let count = ahead.len().min(buffer.len());
                for (to, from) in buffer.iter_mut().zip(ahead.drain(..count)) {
                    *to = from;
                }
                Ok(Received::Bytes(&buffer[..count]))
            }
            State::Stream { file, .. } => match read(&self.name, &self.options, file, buffer)? {
                None => Ok(Received::Idle),
                Some(0) => Ok(self.over()),
                Some(count) => Ok(Received::Bytes(&buffer[..count])),
            },
            State::Capture(reader) => loop {
                let line = reader
                    .next_line()
                    .map_err(|error| told(&self.name, io::ErrorKind::InvalidData, error))?;
                let Some(line) = line else {
                    return Ok(Received::End);
                };
                if let Event::Heard { signal_dbm } = line.event {
                    let room = buffer.len().min(line.bytes.len());
                    let (bytes, _) = buffer.split_at_mut(room);
                    bytes.copy_from_slice(&line.bytes[..room]);
                    return Ok(Received::Packet {
                        bytes,
                        time_us: Some(line.time_us),
                        signal_dbm: Some(signal_dbm).filter(|signal| !signal.is_nan()),
                    });
                }
            },
            State::Over => Ok(Received::End),
        }
    }

    fn over<'b>(&mut self) -> Received<'b> {
        self.state = State::Over;
        Received::End
    }

    /// Look at the first bytes: a capture or a stream?
    fn begin(&mut self, ahead: Vec<u8>) -> io::Result<()> {
        let State::New(file) = std::mem::replace(&mut self.state, State::Over) else {
            return Ok(());
        };
        self.state = if ahead.first() == Some(&CAPTURE_BEGINS) {
            let input = BufReader::with_capacity(1 << 16, Cursor::new(ahead).chain(file));
            let reader = capture::Reader::new(input)
                .map_err(|error| told(&self.name, io::ErrorKind::InvalidData, error))?;
            State::Capture(Box::new(reader))
        } else {
            State::Stream { ahead, file }
        };
        Ok(())
    }
}

/// Bytes read, 0 at the end; `None` when nothing came for too long.
fn read(
    name: &PortName,
    options: &ListenOptions,
    file: &mut File,
    buffer: &mut [u8],
) -> io::Result<Option<usize>> {
    if wait::until(&*file, PollFlags::IN, options.idle, &options.stop)?.is_empty() {
        return Ok(None);
    }
    file.read(buffer)
        .map(Some)
        .map_err(|error| because(name, &error, "it cannot be read on"))
}
