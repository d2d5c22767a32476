//! `tcp:HOST:PORT`: a byte stream. The sender connects, so that a receiver (or an emulator's serial
//! line) is the one that stays; the listener takes one peer after the other.

use super::{
    Absent, Address, ListenOptions, PortName, Received, Report, SendOptions, because, framing,
    told, wait,
};
use rustix::event::PollFlags;
use std::io::{self, Read, Write};
use std::net::{Shutdown, SocketAddr, TcpListener, TcpStream, ToSocketAddrs};
use std::time::{Duration, Instant};

/// How long the refusal of a packet takes at most that went to a peer which has closed.
const REFUSAL_WITHIN: Duration = Duration::from_millis(50);
/// Between two tries to connect.
const AGAIN_AFTER: Duration = Duration::from_millis(100);
/// Longest single try to connect; on the way to a silent host nothing comes back at all.
const TRY: Duration = Duration::from_secs(3);
/// The same while packets are dropped meanwhile: the next one must not be late.
const QUICK_TRY: Duration = Duration::from_millis(100);

/// The addresses behind a name, for a sender.
pub(super) fn destination(name: &PortName, address: &Address) -> io::Result<Vec<SocketAddr>> {
    if address.port == 0 {
        let text = "port number 0 leads nowhere; give the one the receiver listens at";
        return Err(told(name, io::ErrorKind::InvalidInput, text));
    }
    let found: Vec<SocketAddr> = (address.host.as_str(), address.port)
        .to_socket_addrs()
        .map_err(|_| unknown_host(name))?
        .collect();
    if found.is_empty() {
        return Err(unknown_host(name));
    }
    Ok(found)
}

/// The host's name leads nowhere.
pub(super) fn unknown_host(name: &PortName) -> io::Error {
    let text = "no such host is known; check its spelling or give its address";
    told(name, io::ErrorKind::NotFound, text)
}

/// A listener's address is not to be had.
pub(super) fn cannot_bind(name: &PortName, error: &io::Error) -> io::Error {
    let next_step = match error.kind() {
        io::ErrorKind::AddrInUse => {
            "another program listens there: end it, or choose another port number (0 takes any)"
        }
        io::ErrorKind::PermissionDenied => "choose a port number of 1024 or more",
        io::ErrorKind::AddrNotAvailable => "this machine has no such address; try 127.0.0.1",
        _ => "check the spelling of its host; try 127.0.0.1",
    };
    because(name, error, next_step)
}

/// Connects to a receiver, and again when it comes back.
#[derive(Debug)]
pub(super) struct Client {
    name: PortName,
    address: Address,
    options: SendOptions,
    stream: Option<TcpStream>,
    /// The peer will say nothing more: it has closed, or it only listens.
    silent: bool,
    report: Report,
}

impl Client {
    pub(super) fn open(name: PortName, address: Address, options: SendOptions) -> io::Result<Self> {
        let mut client = Self {
            name,
            address,
            options,
            stream: None,
            silent: false,
            report: Report::default(),
        };
        client.connect()?;
        Ok(client)
    }

    /// Try until somebody is there.
    fn connect(&mut self) -> io::Result<()> {
        let waiting = format!("waiting for a receiver to listen at {}", self.name);
        let advice = "nobody listens there; start the receiver first, or allow more time";
        let mut patience = wait::Patience::new();
        while !self.try_connect(TRY)? {
            let words = (waiting.as_str(), advice);
            patience.go_on(&self.name, &mut self.options, words, AGAIN_AFTER)?;
        }
        Ok(())
    }

    /// Whether a connection stands now.
    fn try_connect(&mut self, limit: Duration) -> io::Result<bool> {
        for to in destination(&self.name, &self.address)? {
            let Ok(mut stream) = TcpStream::connect_timeout(&to, limit) else {
                continue;
            };
            // On this machine a try can meet itself when its own port is drawn from the same range.
            if stream.local_addr().ok() == stream.peer_addr().ok() {
                continue;
            }
            stream.set_nodelay(true)?;
            if stream.write_all(framing::OPENING).is_ok() {
                stream.set_nonblocking(true)?;
                self.report.peers += 1;
                self.silent = false;
                self.stream = Some(stream);
                return Ok(true);
            }
        }
        Ok(false)
    }

    pub(super) fn send(&mut self, frame: &[u8]) -> io::Result<()> {
        loop {
            if self.stream.is_none() {
                if self.options.absent == Absent::Wait {
                    self.connect()?;
                } else if !self.try_connect(QUICK_TRY)? {
                    self.report.missed += 1;
                    return Ok(());
                }
            }
            if self.hand_over(frame)? {
                self.report.sent += 1;
                return Ok(());
            }
            // The whole packet goes to the next peer; this one can have had a part of it at most.
            self.stream = None;
            let text = format!("the receiver at {} has closed the connection", self.name);
            (self.options.notice)(&text);
        }
    }

    /// Whether the connection took all of it.
    fn hand_over(&mut self, mut frame: &[u8]) -> io::Result<bool> {
        let Some(stream) = &mut self.stream else {
            return Ok(false);
        };
        let was_silent = self.silent;
        self.silent = was_silent || !discard(stream, &mut self.report.answered);
        while !frame.is_empty() {
            match stream.write(frame) {
                Ok(count) => frame = &frame[count..],
                Err(error) if error.kind() == io::ErrorKind::WouldBlock => {
                    wait::until(&*stream, PollFlags::OUT, None, &self.options.stop)?;
                    self.silent = self.silent || !discard(stream, &mut self.report.answered);
                }
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(_) => return Ok(false),
            }
        }
        // Whether it has closed or only listens shows in the fate of the first packet after.
        if self.silent && !was_silent {
            let limit = Some(REFUSAL_WITHIN);
            let found = wait::until(&*stream, PollFlags::empty(), limit, &self.options.stop)?;
            return Ok(found.is_empty());
        }
        Ok(true)
    }

    pub(super) const fn report(&self) -> Report {
        self.report
    }

    /// Say that this is all, and wait until the peer closes too: then it has read everything.
    pub(super) fn finish(mut self) -> io::Result<Report> {
        let Some(stream) = &mut self.stream else {
            return Ok(self.report);
        };
        if stream.shutdown(Shutdown::Write).is_err() {
            return Ok(self.report);
        }
        let end = Instant::now() + self.options.drain;
        let mut scratch = [0; 512];
        loop {
            match stream.read(&mut scratch) {
                Ok(0) => {
                    self.report.drained = true;
                    break;
                }
                Ok(count) => self.report.answered += count as u64,
                Err(error) if error.kind() == io::ErrorKind::WouldBlock => {
                    let left = end.saturating_duration_since(Instant::now());
                    let found =
                        wait::until(&*stream, PollFlags::IN, Some(left), &self.options.stop);
                    if !found.is_ok_and(|found| !found.is_empty()) {
                        break;
                    }
                }
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(_) => break,
            }
        }
        Ok(self.report)
    }
}

/// Read and throw away what the peer says; `false` when it has closed.
fn discard(stream: &mut TcpStream, answered: &mut u64) -> bool {
    let mut scratch = [0; 512];
    loop {
        match stream.read(&mut scratch) {
            Ok(0) => return false,
            Ok(count) => *answered += count as u64,
            Err(error) if error.kind() == io::ErrorKind::WouldBlock => return true,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(_) => return false,
        }
    }
}

/// Accepts one sender after the other.
#[derive(Debug)]
pub(super) struct Server {
    name: PortName,
    options: ListenOptions,
    listener: TcpListener,
    peer: Option<TcpStream>,
    over: bool,
}

impl Server {
    pub(super) fn open(
        name: PortName,
        address: &Address,
        mut options: ListenOptions,
    ) -> io::Result<Self> {
        let listener = TcpListener::bind((address.host.as_str(), address.port))
            .map_err(|error| cannot_bind(&name, &error))?;
        // Between poll and accept a peer may have gone; then nobody must be waited for.
        listener.set_nonblocking(true)?;
        let at = listener.local_addr()?;
        (options.notice)(&format!("listening at tcp:{at}"));
        Ok(Self {
            name,
            options,
            listener,
            peer: None,
            over: false,
        })
    }

    pub(super) fn local_addr(&self) -> Option<SocketAddr> {
        self.listener.local_addr().ok()
    }

    pub(super) fn next<'b>(&mut self, buffer: &'b mut [u8]) -> io::Result<Received<'b>> {
        let (idle, stop) = (self.options.idle, &self.options.stop);
        loop {
            if self.over {
                return Ok(Received::End);
            }
            let Some(peer) = &mut self.peer else {
                if wait::until(&self.listener, PollFlags::IN, idle, stop)?.is_empty() {
                    return Ok(Received::Idle);
                }
                match self.listener.accept() {
                    Ok((peer, from)) => {
                        peer.set_nonblocking(false)?;
                        self.peer = Some(peer);
                        (self.options.notice)(&format!("a sender has connected from {from}"));
                        return Ok(Received::Begin);
                    }
                    Err(error) if is_passing(error.kind()) => continue,
                    Err(error) => {
                        return Err(because(&self.name, &error, "no sender can connect"));
                    }
                }
            };
            if wait::until(&*peer, PollFlags::IN, idle, stop)?.is_empty() {
                return Ok(Received::Idle);
            }
            match peer.read(buffer) {
                Ok(count) if count > 0 => return Ok(Received::Bytes(&buffer[..count])),
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                // Closed, or torn down.
                Ok(_) | Err(_) => {
                    self.peer = None;
                    self.over = self.options.once;
                    (self.options.notice)("the sender has closed the connection");
                }
            }
        }
    }
}

/// Errors of accept after which the next peer may do better.
fn is_passing(kind: io::ErrorKind) -> bool {
    matches!(
        kind,
        io::ErrorKind::WouldBlock | io::ErrorKind::Interrupted | io::ErrorKind::ConnectionAborted
    )
}
