//! Reading a capture. What is wrong is told with the line's number.

use super::{Event, FORMAT, Head, Header, Line, VERSION};
use crate::link::Bytes;
use benchmast_protocol::frame::Serial;
use benchmast_protocol::packet::{HeadId, MAX_PACKET};
use serde::Deserialize;
use std::borrow::Cow;
use std::io::{self, BufRead};

/// Why a capture cannot be read on.
#[derive(Debug, thiserror::Error)]
#[error("line {line}: {problem}")]
pub struct CaptureError {
    /// Number of the line, from 1.
    pub line: u64,
    /// What is wrong with it.
    pub problem: Problem,
}

/// What is wrong with a line of a capture.
#[derive(Debug, thiserror::Error)]
pub enum Problem {
    /// The file cannot be read.
    #[error("cannot be read: {0}")]
    Read(#[from] io::Error),
    /// Not a JSON object with the keys of its kind.
    #[error("{0}")]
    Json(String),
    /// Nothing in the file.
    #[error("the file is empty; a capture begins with a header line")]
    Empty,
    /// The first line is no header of ours.
    #[error("`format` is {0:?}, a capture says {FORMAT:?}")]
    Format(String),
    /// Another version of the format.
    #[error("`version` is {0}, this program reads version {VERSION}")]
    Version(u32),
    /// A serial number that is none.
    #[error("`serial` is {0:?}; allowed are 1 to 10 decimal digits")]
    Serial(String),
    /// A radio address that is none.
    #[error("`head` is {0:?}; allowed are 1 to 8 hexadecimal digits")]
    Head(String),
    /// An event there is not.
    #[error("`event` is {0:?}; allowed are \"sent\" and \"heard\"")]
    Event(String),
    /// Half a byte is missing.
    #[error("`hex` has an odd number of digits ({0})")]
    OddHex(usize),
    /// Not a hexadecimal digit.
    #[error("`hex` holds {0:?} at digit {1}; allowed are 0 to 9 and a to f")]
    NotHex(char, usize),
    /// More bytes than a packet may have.
    #[error("`hex` holds {0} bytes; a packet has at most {MAX_PACKET}")]
    TooLong(usize),
    /// Lines out of order.
    #[error("time runs backwards: {now} us comes after {before} us")]
    Backwards {
        /// Time of the last line.
        before: i64,
        /// Time of this one.
        now: i64,
    },
}

#[derive(Deserialize)]
struct RawFormat {
    format: String,
    version: u32,
}

#[derive(Deserialize)]
struct RawHeader {
    title: String,
    seed: u64,
    heads: Vec<RawHead>,
}

#[derive(Deserialize)]
struct RawHead {
    serial: String,
    head: String,
    interval_s: u16,
    bucket_um: u16,
}

#[derive(Deserialize)]
struct RawLine<'l> {
    t_us: i64,
    #[serde(borrow)]
    event: Cow<'l, str>,
    signal_dbm: Option<f64>,
    #[serde(borrow)]
    hex: Cow<'l, str>,
}

/// Reads a capture line by line.
#[derive(Debug)]
pub struct Reader<R: BufRead> {
    input: R,
    header: Header,
    number: u64,
    last_us: i64,
    text: String,
}

impl<R: BufRead> Reader<R> {
    /// Read the header.
    ///
    /// # Errors
    /// [`CaptureError`]
    pub fn new(input: R) -> Result<Self, CaptureError> {
        let mut reader = Self {
            input,
            header: Header {
                title: String::new(),
                seed: 0,
                heads: Vec::new(),
            },
            number: 0,
            last_us: i64::MIN,
            text: String::new(),
        };
        reader.header = match reader.advance() {
            Ok(true) => header(&reader.text),
            Ok(false) => Err(Problem::Empty),
            Err(error) => Err(error.into()),
        }
        .map_err(|problem| CaptureError {
            line: reader.number.max(1),
            problem,
        })?;
        Ok(reader)
    }

    /// What the first line says.
    pub const fn header(&self) -> &Header {
        &self.header
    }

    /// The next line; `None` at the end.
    ///
    /// # Errors
    /// [`CaptureError`]
    pub fn next_line(&mut self) -> Result<Option<Line>, CaptureError> {
        let outcome = match self.advance() {
            Ok(true) => line(&self.text)
                .and_then(|line| self.in_order(line))
                .map(Some),
            Ok(false) => Ok(None),
            Err(error) => Err(error.into()),
        };
        outcome.map_err(|problem| CaptureError {
            line: self.number,
            problem,
        })
    }

    /// Fetch the next line that is not empty; `false` at the end.
    fn advance(&mut self) -> io::Result<bool> {
        loop {
            self.text.clear();
            self.number += 1;
            if self.input.read_line(&mut self.text)? == 0 {
                return Ok(false);
            }
            if !self.text.trim().is_empty() {
                return Ok(true);
            }
        }
    }

    fn in_order(&mut self, line: Line) -> Result<Line, Problem> {
        if line.time_us < self.last_us {
            return Err(Problem::Backwards {
                before: self.last_us,
                now: line.time_us,
            });
        }
        self.last_us = line.time_us;
        Ok(line)
    }
}

/// The parser's own words without its line, which is always 1, and with the column in words.
fn json_problem(error: &serde_json::Error) -> Problem {
    let text = error.to_string();
    let place = format!(" at line {} column {}", error.line(), error.column());
    let what = text.strip_suffix(&place).unwrap_or(&text);
    Problem::Json(format!("{what} (column {})", error.column()))
}

fn header(text: &str) -> Result<Header, Problem> {
    let json = |error| json_problem(&error);
    let kind: RawFormat = serde_json::from_str(text).map_err(json)?;
    if kind.format != FORMAT {
        return Err(Problem::Format(kind.format));
    }
    if kind.version != VERSION {
        return Err(Problem::Version(kind.version));
    }
    let raw: RawHeader = serde_json::from_str(text).map_err(json)?;
    let heads = raw.heads.into_iter().map(head).collect::<Result<_, _>>()?;
    Ok(Header {
        title: raw.title,
        seed: raw.seed,
        heads,
    })
}

fn head(raw: RawHead) -> Result<Head, Problem> {
    let serial = Some(&raw.serial)
        .filter(|text| text.bytes().all(|byte| byte.is_ascii_digit()))
        .and_then(|text| text.parse().ok())
        .filter(|serial| *serial <= Serial::MAX);
    let id = Some(&raw.head)
        .filter(|text| text.bytes().all(|byte| byte.is_ascii_hexdigit()))
        .and_then(|text| u32::from_str_radix(text, 16).ok());
    Ok(Head {
        serial: Serial(serial.ok_or(Problem::Serial(raw.serial))?),
        head: HeadId(id.ok_or(Problem::Head(raw.head))?),
        interval_s: raw.interval_s,
        bucket_um: raw.bucket_um,
    })
}

fn line(text: &str) -> Result<Line, Problem> {
    let raw: RawLine<'_> = serde_json::from_str(text).map_err(|error| json_problem(&error))?;
    let event = match raw.event.as_ref() {
        "sent" => Event::Sent,
        "heard" => Event::Heard {
            signal_dbm: raw.signal_dbm.unwrap_or(f64::NAN),
        },
        other => return Err(Problem::Event(other.to_owned())),
    };
    Ok(Line {
        time_us: raw.t_us,
        event,
        bytes: bytes(&raw.hex)?,
    })
}

fn bytes(hex: &str) -> Result<Bytes, Problem> {
    let mut nibbles = Vec::with_capacity(2 * MAX_PACKET);
    for (index, digit) in hex.chars().enumerate() {
        let nibble = digit
            .to_digit(16)
            .ok_or(Problem::NotHex(digit, index + 1))?;
        nibbles.push(nibble as u8);
    }
    let (pairs, rest) = nibbles.as_chunks::<2>();
    if !rest.is_empty() {
        return Err(Problem::OddHex(nibbles.len()));
    }
    pairs
        .iter()
        .map(|[high, low]| high << 4 | low)
        .try_fold(Bytes::new(), |mut bytes, byte| {
            bytes.push(byte).map(|()| bytes).ok()
        })
        .ok_or(Problem::TooLong(pairs.len()))
}
