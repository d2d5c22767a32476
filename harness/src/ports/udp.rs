//! `udp:HOST:PORT`: one packet a datagram, lost without a trace if nobody takes it, as on the air.
//!
//! A sender at full speed overruns a receiver's socket buffer; that too is lost.

use super::{Address, ListenOptions, PortName, Received, Report, SendOptions, because, tcp, wait};
use rustix::event::PollFlags;
use std::io;
use std::net::{Ipv4Addr, Ipv6Addr, SocketAddr, UdpSocket};

/// Sends datagrams from any free port.
#[derive(Debug)]
pub(super) struct Client {
    name: PortName,
    options: SendOptions,
    socket: UdpSocket,
    report: Report,
}

impl Client {
    pub(super) fn open(
        name: PortName,
        address: &Address,
        options: SendOptions,
    ) -> io::Result<Self> {
        let to = tcp::destination(&name, address)?
            .into_iter()
            .next()
            .ok_or_else(|| tcp::unknown_host(&name))?;
        let from = if to.is_ipv4() {
            SocketAddr::from((Ipv4Addr::UNSPECIFIED, 0))
        } else {
            SocketAddr::from((Ipv6Addr::UNSPECIFIED, 0))
        };
        let socket = UdpSocket::bind(from)
            .and_then(|socket| socket.connect(to).map(|()| socket))
            .map_err(|error| because(&name, &error, "can this machine reach that address?"))?;
        Ok(Self {
            name,
            options,
            socket,
            report: Report {
                peers: 1,
                ..Report::default()
            },
        })
    }

    pub(super) fn send(&mut self, packet: &[u8]) -> io::Result<()> {
        let mut outcome = self.socket.send(packet);
        // The refusal of an earlier datagram; this one has not gone yet.
        if matches!(&outcome, Err(error) if error.kind() == io::ErrorKind::ConnectionRefused) {
            self.refused();
            outcome = self.socket.send(packet);
        }
        match outcome {
            Ok(_) => self.report.sent += 1,
            Err(error) if error.kind() == io::ErrorKind::ConnectionRefused => self.refused(),
            Err(error) => {
                return Err(because(
                    &self.name,
                    &error,
                    "can this machine reach that address?",
                ));
            }
        }
        Ok(())
    }

    fn refused(&mut self) {
        if self.report.missed == 0 {
            let text = format!("port {}: nobody listens there yet", self.name);
            (self.options.notice)(&text);
        }
        self.report.missed += 1;
        self.report.sent = self.report.sent.saturating_sub(1);
    }

    pub(super) const fn report(&self) -> Report {
        self.report
    }

    pub(super) fn finish(mut self) -> io::Result<Report> {
        if self.socket.take_error()?.is_some() {
            self.refused();
        }
        Ok(self.report)
    }
}

/// Takes datagrams from anybody.
#[derive(Debug)]
pub(super) struct Server {
    name: PortName,
    options: ListenOptions,
    socket: UdpSocket,
    begun: bool,
}

impl Server {
    pub(super) fn open(
        name: PortName,
        address: &Address,
        mut options: ListenOptions,
    ) -> io::Result<Self> {
        let socket = UdpSocket::bind((address.host.as_str(), address.port))
            .map_err(|error| tcp::cannot_bind(&name, &error))?;
        let at = socket.local_addr()?;
        (options.notice)(&format!("listening at udp:{at}"));
        Ok(Self {
            name,
            options,
            socket,
            begun: false,
        })
    }

    pub(super) fn local_addr(&self) -> Option<SocketAddr> {
        self.socket.local_addr().ok()
    }

    pub(super) fn next<'b>(&mut self, buffer: &'b mut [u8]) -> io::Result<Received<'b>> {
        if !std::mem::replace(&mut self.begun, true) {
            return Ok(Received::Begin);
        }
        let options = &self.options;
        if wait::until(&self.socket, PollFlags::IN, options.idle, &options.stop)?.is_empty() {
            return Ok(Received::Idle);
        }
        let (count, _) = self
            .socket
            .recv_from(buffer)
            .map_err(|error| because(&self.name, &error, "it cannot be read on"))?;
        Ok(Received::Packet {
            bytes: &buffer[..count],
            time_us: None,
            signal_dbm: None,
        })
    }
}
