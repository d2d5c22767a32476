//! Ports: where packets leave the program and where they come in.
//!
//! Datagram ports (`udp`) carry one whole packet a datagram. Byte-stream ports (`-`, `file`, `tcp`,
//! `pty`, `serial`) carry packets delimited as in [`benchmast_protocol::stream`], and begin with a lone zero byte
//! each time somebody new reads, so that whatever was on the line before cannot spoil the first packet.
//!
//! A [`Sender`] waits for its peer, and counts what a peer that went away has missed. A [`Listener`]
//! yields packets, or stretches of a byte stream for the deframer. Every error names the port and the
//! way out.

mod file;
mod framing;
mod name;
mod pty;
mod serial;
mod standard;
mod stored;
mod tcp;
mod terminal;
mod udp;
mod wait;

pub use name::{Address, PortName, PortNameError};
pub use wait::Stop;

use crate::capture;
use std::fmt;
use std::io;
use std::net::SocketAddr;
use std::time::Duration;

/// Is told in one line what a port waits for or has lost; for the user's eyes.
pub type Notice = Box<dyn FnMut(&str) + Send>;

/// What a sender does with packets while nobody is there to take them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Absent {
    /// Wait until somebody is.
    #[default]
    Wait,
    /// Drop and count them, as a radio does. The first peer is waited for all the same.
    Drop,
}

/// How a sender behaves.
pub struct SendOptions {
    /// How long to wait for a peer before giving up; `None` for ever.
    pub peer_within: Option<Duration>,
    /// What becomes of packets while the peer is away.
    pub absent: Absent,
    /// How long to wait at the end until the peer has read everything.
    pub drain: Duration,
    /// Hand on each packet at once; else `-` gathers them. The other streams never gather,
    /// `file` always does.
    pub prompt: bool,
    /// Ends every wait.
    pub stop: Stop,
    /// Is told what is going on.
    pub notice: Notice,
}

impl Default for SendOptions {
    fn default() -> Self {
        Self {
            peer_within: None,
            absent: Absent::default(),
            drain: Duration::from_secs(5),
            prompt: true,
            stop: Stop::default(),
            notice: Box::new(|_| {}),
        }
    }
}

impl fmt::Debug for SendOptions {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("SendOptions")
            .field("peer_within", &self.peer_within)
            .field("absent", &self.absent)
            .field("drain", &self.drain)
            .field("prompt", &self.prompt)
            .field("stop", &self.stop)
            .finish_non_exhaustive()
    }
}

/// What became of the packets given to a sender.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Report {
    /// Packets handed to the operating system for a peer that was there.
    pub sent: u64,
    /// Packets dropped because nobody was there; for `udp`, at least so many were refused.
    pub missed: u64,
    /// How often a peer came.
    pub peers: u64,
    /// Bytes handed over that the peer left unread, as far as can be known (`pty`).
    pub unread: u64,
    /// Bytes that the peer sent us; they are read and thrown away.
    pub answered: u64,
    /// The peer has read everything to the end, as far as can be known.
    pub drained: bool,
}

/// The end of a port that packets leave by.
#[derive(Debug)]
pub struct Sender {
    end: SenderEnd,
}

#[derive(Debug)]
enum SenderEnd {
    Standard(standard::Output),
    File(file::Output),
    Tcp(tcp::Client),
    Udp(udp::Client),
    Pty(pty::Line),
    Serial(serial::Output),
}

impl Sender {
    /// Open a port and wait for its first peer (`tcp`, `pty`).
    ///
    /// # Errors
    /// What is in the way, with the port's name; [`io::ErrorKind::TimedOut`] when no peer came in time;
    /// [`io::ErrorKind::Interrupted`] when asked to stop.
    pub fn open(name: &PortName, options: SendOptions) -> io::Result<Self> {
        let end = match name {
            PortName::Standard => SenderEnd::Standard(standard::Output::open(options)?),
            PortName::File(path) => SenderEnd::File(file::Output::open(name, path)?),
            PortName::Tcp(address) => {
                SenderEnd::Tcp(tcp::Client::open(name.clone(), address.clone(), options)?)
            }
            PortName::Udp(address) => {
                SenderEnd::Udp(udp::Client::open(name.clone(), address, options)?)
            }
            PortName::Pty(link) => SenderEnd::Pty(pty::Line::open(name.clone(), link, options)?),
            PortName::Serial(device, baud) => {
                SenderEnd::Serial(serial::Output::open(name.clone(), device, *baud, options)?)
            }
        };
        Ok(Self { end })
    }

    /// Send one packet.
    ///
    /// # Errors
    /// What is in the way, with the port's name; [`io::ErrorKind::InvalidInput`] for a packet that the
    /// stream cannot carry; [`io::ErrorKind::Interrupted`] when asked to stop while waiting.
    pub fn send(&mut self, packet: &[u8]) -> io::Result<()> {
        match &mut self.end {
            SenderEnd::Udp(end) => end.send(packet),
            SenderEnd::Standard(end) => end.send(framing::Framed::new(packet)?.bytes()),
            SenderEnd::File(end) => end.send(framing::Framed::new(packet)?.bytes()),
            SenderEnd::Tcp(end) => end.send(framing::Framed::new(packet)?.bytes()),
            SenderEnd::Pty(end) => end.send(framing::Framed::new(packet)?.bytes()),
            SenderEnd::Serial(end) => end.send(framing::Framed::new(packet)?.bytes()),
        }
    }

    /// Send bytes of a stream as they are, delimiters and damage included.
    ///
    /// # Errors
    /// As [`Sender::send`]; [`io::ErrorKind::InvalidInput`] for a datagram port.
    pub fn send_stream(&mut self, bytes: &[u8]) -> io::Result<()> {
        match &mut self.end {
            SenderEnd::Udp(_) => Err(io::Error::new(
                io::ErrorKind::InvalidInput,
                "a datagram port carries no byte stream",
            )),
            SenderEnd::Standard(end) => end.send(bytes),
            SenderEnd::File(end) => end.send(bytes),
            SenderEnd::Tcp(end) => end.send(bytes),
            SenderEnd::Pty(end) => end.send(bytes),
            SenderEnd::Serial(end) => end.send(bytes),
        }
    }

    /// Nobody will ever read again (standard output is closed): further packets are for nothing, and
    /// that is no error.
    #[must_use]
    pub const fn is_over(&self) -> bool {
        matches!(&self.end, SenderEnd::Standard(end) if end.is_over())
    }

    /// So far.
    #[must_use]
    pub const fn report(&self) -> Report {
        match &self.end {
            SenderEnd::Standard(end) => end.report(),
            SenderEnd::File(end) => end.report(),
            SenderEnd::Tcp(end) => end.report(),
            SenderEnd::Udp(end) => end.report(),
            SenderEnd::Pty(end) => end.report(),
            SenderEnd::Serial(end) => end.report(),
        }
    }

    /// Wait until the peer has read everything, then close. A file gets its name only now; dropped
    /// without this, it never does.
    ///
    /// # Errors
    /// What is in the way, with the port's name.
    pub fn finish(self) -> io::Result<Report> {
        match self.end {
            SenderEnd::Standard(end) => end.finish(),
            SenderEnd::File(end) => end.finish(),
            SenderEnd::Tcp(end) => end.finish(),
            SenderEnd::Udp(end) => end.finish(),
            SenderEnd::Pty(end) => end.finish(),
            SenderEnd::Serial(end) => end.finish(),
        }
    }
}

/// How a listener behaves.
pub struct ListenOptions {
    /// End with the first peer (`tcp`, `pty`) instead of waiting for the next.
    pub once: bool,
    /// Say [`Received::Idle`] when nothing came for so long; `None` never.
    pub idle: Option<Duration>,
    /// Ends every wait; the listener then says [`Received::End`].
    pub stop: Stop,
    /// Is told what is going on.
    pub notice: Notice,
}

impl Default for ListenOptions {
    fn default() -> Self {
        Self {
            once: false,
            idle: None,
            stop: Stop::default(),
            notice: Box::new(|_| {}),
        }
    }
}

impl fmt::Debug for ListenOptions {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("ListenOptions")
            .field("once", &self.once)
            .field("idle", &self.idle)
            .field("stop", &self.stop)
            .finish_non_exhaustive()
    }
}

/// What came in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Received<'b> {
    /// A sender is there, or the file is open: a new stream begins. A half packet of the last one is
    /// void. Always comes before the first bytes; for a capture, [`Listener::capture`] is known now.
    Begin,
    /// The next stretch of the byte stream, never empty.
    Bytes(&'b [u8]),
    /// One whole packet, as it was heard.
    Packet {
        /// Its bytes.
        bytes: &'b [u8],
        /// When it was heard, microseconds since 1970-01-01T00:00:00Z; from a capture only.
        time_us: Option<i64>,
        /// How strongly it was heard, dBm; from a capture only.
        signal_dbm: Option<f64>,
    },
    /// Nothing came for as long as the options say.
    Idle,
    /// Nothing more will come.
    End,
}

/// The end of a port that packets come in by.
#[derive(Debug)]
pub struct Listener {
    end: ListenerEnd,
}

#[derive(Debug)]
enum ListenerEnd {
    Stored(stored::Input),
    Tcp(tcp::Server),
    Udp(udp::Server),
    Terminal(terminal::Line),
}

impl Listener {
    /// Open a port. Waits for nobody.
    ///
    /// # Errors
    /// What is in the way, with the port's name.
    pub fn open(name: &PortName, options: ListenOptions) -> io::Result<Self> {
        let end = match name {
            PortName::Standard => ListenerEnd::Stored(stored::Input::standard(options)?),
            PortName::File(path) => {
                ListenerEnd::Stored(stored::Input::file(name.clone(), path, options)?)
            }
            PortName::Tcp(address) => {
                ListenerEnd::Tcp(tcp::Server::open(name.clone(), address, options)?)
            }
            PortName::Udp(address) => {
                ListenerEnd::Udp(udp::Server::open(name.clone(), address, options)?)
            }
            PortName::Pty(link) => {
                ListenerEnd::Terminal(terminal::Line::new(name.clone(), link, None, options))
            }
            PortName::Serial(device, baud) => ListenerEnd::Terminal(terminal::Line::new(
                name.clone(),
                device,
                Some(*baud),
                options,
            )),
        };
        Ok(Self { end })
    }

    /// Wait for what comes next. `buffer` takes the bytes; give it 48 or more (4096 is good).
    ///
    /// # Errors
    /// What is in the way, with the port's name; for a damaged capture also the line.
    pub fn next<'b>(&mut self, buffer: &'b mut [u8]) -> io::Result<Received<'b>> {
        let outcome = match &mut self.end {
            ListenerEnd::Stored(end) => end.next(buffer),
            ListenerEnd::Tcp(end) => end.next(buffer),
            ListenerEnd::Udp(end) => end.next(buffer),
            ListenerEnd::Terminal(end) => end.next(buffer),
        };
        match outcome {
            Err(error) if wait::is_stop(&error) => Ok(Received::End),
            outcome => outcome,
        }
    }

    /// The address that `tcp` and `udp` listen at, with the real port number.
    #[must_use]
    pub fn local_addr(&self) -> Option<SocketAddr> {
        match &self.end {
            ListenerEnd::Tcp(end) => end.local_addr(),
            ListenerEnd::Udp(end) => end.local_addr(),
            ListenerEnd::Stored(_) | ListenerEnd::Terminal(_) => None,
        }
    }

    /// The header, once [`Received::Begin`] has come, when what is read is a capture.
    #[must_use]
    pub fn capture(&self) -> Option<&capture::Header> {
        match &self.end {
            ListenerEnd::Stored(end) => end.capture(),
            ListenerEnd::Tcp(_) | ListenerEnd::Udp(_) | ListenerEnd::Terminal(_) => None,
        }
    }
}

/// An error that names its port.
fn told(name: &PortName, kind: io::ErrorKind, text: impl fmt::Display) -> io::Error {
    io::Error::new(kind, format!("port {name}: {text}"))
}

/// An error of the operating system, with the port's name and the next step.
fn because(name: &PortName, error: &io::Error, next_step: &str) -> io::Error {
    let reason = error.to_string();
    // The number means nothing to most people.
    let reason = reason.split(" (os error").next().unwrap_or(&reason);
    told(name, error.kind(), format_args!("{reason}; {next_step}"))
}
