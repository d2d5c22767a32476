//! Writing a capture. A line a packet, so the numbers are put down by hand.

use super::{FORMAT, Header, VERSION};
use crate::link::Arrival;
use crate::row::Sink;
use serde_json::json;
use std::io::{self, Write};

/// Bytes gathered before they are handed on.
const BATCH: usize = 1 << 16;

/// Two digits for every byte: decimal below 100, and hexadecimal.
const DECIMAL: [[u8; 2]; 100] = {
    let mut pairs = [[0; 2]; 100];
    let mut n = 0;
    while n < 100 {
        pairs[n] = [b'0' + n as u8 / 10, b'0' + n as u8 % 10];
        n += 1;
    }
    pairs
};
const HEX: [[u8; 2]; 256] = {
    let digits = b"0123456789abcdef";
    let mut pairs = [[0; 2]; 256];
    let mut n = 0;
    while n < 256 {
        pairs[n] = [digits[n >> 4], digits[n & 15]];
        n += 1;
    }
    pairs
};

/// Writes a capture line by line. Call [`Writer::finish`] at the end: dropping a writer loses lines.
#[derive(Debug)]
pub struct Writer<W: Write> {
    out: W,
    batch: Vec<u8>,
}

impl<W: Write> Writer<W> {
    /// Begin with the header.
    ///
    /// # Errors
    /// What `out` says.
    pub fn new(out: W, header: &Header) -> io::Result<Self> {
        let heads: Vec<_> = header
            .heads
            .iter()
            .map(|head| {
                json!({
                    "serial": head.serial.to_string(),
                    "head": head.head.to_string(),
                    "interval_s": head.interval_s,
                    "bucket_um": head.bucket_um,
                })
            })
            .collect();
        let mut writer = Self {
            out,
            batch: Vec::with_capacity(BATCH + 512),
        };
        // By hand for the order of the keys: the format's name comes first.
        let (title, heads) = (json!(header.title), json!(heads));
        let seed = header.seed;
        writeln!(
            writer.batch,
            r#"{{"format":"{FORMAT}","version":{VERSION},"title":{title},"seed":{seed},"heads":{heads}}}"#
        )?;
        Ok(writer)
    }

    /// A head begins to send a packet.
    ///
    /// # Errors
    /// What `out` says.
    pub fn sent(&mut self, time_us: i64, bytes: &[u8]) -> io::Result<()> {
        self.time(time_us);
        self.batch.extend_from_slice(br#","event":"sent","hex":""#);
        self.hex(bytes)
    }

    /// The receiver hears a packet.
    ///
    /// # Errors
    /// What `out` says.
    pub fn heard(&mut self, arrival: &Arrival) -> io::Result<()> {
        self.time(arrival.time_us);
        self.batch.extend_from_slice(br#","event":"heard""#);
        if arrival.signal_dbm.is_nan() {
            self.batch.extend_from_slice(br#","hex":""#);
            return self.hex(&arrival.bytes);
        }
        self.batch.extend_from_slice(br#","signal_dbm":"#);
        // Tenths are exact: the link gives no finer ones.
        let tenths = (arrival.signal_dbm * 10.0).round() as i64;
        if tenths < 0 {
            self.batch.push(b'-');
        }
        let tenths = tenths.unsigned_abs();
        self.unsigned(tenths / 10);
        self.batch
            .extend_from_slice(&[b'.', b'0' + (tenths % 10) as u8]);
        self.batch.extend_from_slice(br#","hex":""#);
        self.hex(&arrival.bytes)
    }

    /// Hand on what is gathered and give the output back, flushed.
    ///
    /// # Errors
    /// What the output says.
    pub fn finish(mut self) -> io::Result<W> {
        self.out.write_all(&self.batch)?;
        self.out.flush()?;
        Ok(self.out)
    }

    fn time(&mut self, time_us: i64) {
        self.batch.extend_from_slice(br#"{"t_us":"#);
        if time_us < 0 {
            self.batch.push(b'-');
        }
        self.unsigned(time_us.unsigned_abs());
    }

    fn unsigned(&mut self, mut value: u64) {
        let mut digits = [b'0'; 20];
        let mut from = digits.len();
        // Pairs from the right; a lone leading digit is the right half of its pair.
        loop {
            let pair = DECIMAL[(value % 100) as usize];
            value /= 100;
            from -= 2;
            digits[from..from + 2].copy_from_slice(&pair);
            if value == 0 {
                break;
            }
        }
        from += usize::from(digits[from] == b'0');
        self.batch.extend_from_slice(&digits[from..]);
    }

    fn hex(&mut self, bytes: &[u8]) -> io::Result<()> {
        for byte in bytes {
            self.batch.extend_from_slice(&HEX[usize::from(*byte)]);
        }
        self.batch.extend_from_slice(b"\"}\n");
        if self.batch.len() >= BATCH {
            self.out.write_all(&self.batch)?;
            self.batch.clear();
        }
        Ok(())
    }
}

impl<W: Write> Sink for Writer<W> {
    fn sent(&mut self, time_us: i64, bytes: &[u8]) -> io::Result<()> {
        Writer::sent(self, time_us, bytes)
    }
    fn heard(&mut self, arrival: &Arrival) -> io::Result<()> {
        Writer::heard(self, arrival)
    }
}
