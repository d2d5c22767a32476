//! Packets on a byte stream.

use benchmast_protocol::stream::encode;
use std::io;

/// What opens a stream: a lone delimiter.
pub(super) const OPENING: &[u8] = &[0];

/// A packet as it travels on a byte stream, delimiter included.
pub(super) struct Framed {
    buffer: [u8; 64],
    length: usize,
}

impl Framed {
    /// # Errors
    /// [`io::ErrorKind::InvalidInput`] for a packet that is empty or too long.
    pub(super) fn new(packet: &[u8]) -> io::Result<Self> {
        let mut buffer = [0; 64];
        let length = encode(packet, &mut buffer).map(<[u8]>::len);
        length.map(|length| Self { buffer, length }).ok_or_else(|| {
            io::Error::new(
                io::ErrorKind::InvalidInput,
                format!("a stream carries no packet of {} bytes", packet.len()),
            )
        })
    }

    pub(super) fn bytes(&self) -> &[u8] {
        self.buffer.get(..self.length).unwrap_or_default()
    }
}
