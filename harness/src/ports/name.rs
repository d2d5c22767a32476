//! Names of ports, as they are given on the command line.

use std::fmt;
use std::path::{Path, PathBuf};
use std::str::FromStr;

/// Where packets go or come from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PortName {
    /// `-`: standard output or input, a byte stream.
    Standard,
    /// `file:PATH`: a byte stream in a file; a listener also reads captures.
    File(PathBuf),
    /// `tcp:HOST:PORT`: a byte stream; the sender connects, the listener accepts.
    Tcp(Address),
    /// `udp:HOST:PORT`: one packet a datagram.
    Udp(Address),
    /// `pty:LINK`: a byte stream on a terminal; the sender makes it, the listener opens it.
    Pty(PathBuf),
    /// `serial:DEVICE[:BAUD]`: a byte stream on a real serial line, 8N1, at so many bits a second.
    Serial(PathBuf, u32),
}

/// Bits a second where no speed is given.
const USUAL_BAUD: u32 = 115_200;
/// Below this a number after the last colon belongs to the device's name: no line is as slow.
const SLOWEST_BAUD: u32 = 50;

/// What stands for a station's name in the name of a port.
const STATION: &str = "{station}";

impl PortName {
    /// The port of one station, where this name has `{station}` in it; `None` where it has not.
    #[must_use]
    pub fn for_station(&self, station: &str) -> Option<Self> {
        let named = |text: &str| {
            text.contains(STATION)
                .then(|| text.replace(STATION, station))
        };
        let path = |path: &Path| path.to_str().and_then(named).map(PathBuf::from);
        let address = |address: &Address| {
            named(&address.host).map(|host| Address {
                host,
                port: address.port,
            })
        };
        match self {
            Self::Standard => None,
            Self::File(file) => path(file).map(Self::File),
            Self::Pty(link) => path(link).map(Self::Pty),
            Self::Serial(device, baud) => path(device).map(|device| Self::Serial(device, *baud)),
            Self::Tcp(peer) => address(peer).map(Self::Tcp),
            Self::Udp(peer) => address(peer).map(Self::Udp),
        }
    }
}

/// Host and port number.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Address {
    /// Name or address, without the brackets of IPv6.
    pub host: String,
    /// Port number; 0 lets a listener take any free one.
    pub port: u16,
}

impl fmt::Display for Address {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.host.contains(':') {
            write!(f, "[{}]:{}", self.host, self.port)
        } else {
            write!(f, "{}:{}", self.host, self.port)
        }
    }
}

impl fmt::Display for PortName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Standard => f.write_str("-"),
            Self::File(path) => write!(f, "file:{}", path.display()),
            Self::Tcp(address) => write!(f, "tcp:{address}"),
            Self::Udp(address) => write!(f, "udp:{address}"),
            Self::Pty(path) => write!(f, "pty:{}", path.display()),
            Self::Serial(path, USUAL_BAUD) => write!(f, "serial:{}", path.display()),
            Self::Serial(path, baud) => write!(f, "serial:{}:{baud}", path.display()),
        }
    }
}

/// A port name that cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PortNameError {
    /// No such kind of port.
    #[error(
        "{text:?} is no port; allowed are -, file:PATH, tcp:HOST:PORT, udp:HOST:PORT, pty:LINK and serial:DEVICE[:BAUD]{hint}"
    )]
    Kind {
        /// What was given.
        text: String,
        /// The nearest right one, as the end of the sentence.
        hint: String,
    },
    /// A path is missing.
    #[error("{kind}: names no {what}; as in {kind}:{example}")]
    NoPath {
        /// Kind of port.
        kind: &'static str,
        /// What is missing.
        what: &'static str,
        /// What it might look like.
        example: &'static str,
    },
    /// Host and port number cannot be read.
    #[error("{kind}:{text} {problem}; as in {kind}:127.0.0.1:5000 or {kind}:[::1]:5000")]
    Address {
        /// Kind of port.
        kind: &'static str,
        /// What was given after the kind.
        text: String,
        /// What is wrong with it.
        problem: &'static str,
    },
}

impl FromStr for PortName {
    type Err = PortNameError;

    fn from_str(text: &str) -> Result<Self, PortNameError> {
        if text == "-" {
            return Ok(Self::Standard);
        }
        match text.split_once(':') {
            Some(("file", path)) => path_of("file", "file", "week.stream", path).map(Self::File),
            Some(("pty", path)) => path_of("pty", "link", "./head0", path).map(Self::Pty),
            Some(("serial", rest)) => serial(rest),
            Some(("tcp", rest)) => address("tcp", rest).map(Self::Tcp),
            Some(("udp", rest)) => address("udp", rest).map(Self::Udp),
            _ => Err(PortNameError::Kind {
                text: text.to_owned(),
                hint: hint(text),
            }),
        }
    }
}

fn path_of(
    kind: &'static str,
    what: &'static str,
    example: &'static str,
    path: &str,
) -> Result<PathBuf, PortNameError> {
    if path.is_empty() {
        Err(PortNameError::NoPath {
            kind,
            what,
            example,
        })
    } else {
        Ok(PathBuf::from(path))
    }
}

/// A device and its speed. Devices' names may hold colons themselves.
fn serial(text: &str) -> Result<PortName, PortNameError> {
    let (device, baud) = text
        .rsplit_once(':')
        .and_then(|(device, baud)| Some((device, baud.parse().ok()?)))
        .filter(|(_, baud)| *baud >= SLOWEST_BAUD)
        .unwrap_or((text, USUAL_BAUD));
    path_of("serial", "device", "/dev/ttyUSB0:9600", device)
        .map(|device| PortName::Serial(device, baud))
}

fn address(kind: &'static str, text: &str) -> Result<Address, PortNameError> {
    let fail = |problem| PortNameError::Address {
        kind,
        text: text.to_owned(),
        problem,
    };
    let (host, port) = text.rsplit_once(':').ok_or_else(|| {
        if text.parse::<u16>().is_ok() {
            fail("names no host")
        } else {
            fail("names no port number")
        }
    })?;
    let port = port
        .parse()
        .map_err(|_| fail("ends in no port number of 0 to 65535"))?;
    let bare = match host.strip_prefix('[') {
        Some(inner) => inner
            .strip_suffix(']')
            .ok_or_else(|| fail("opens a bracket that it does not close"))?,
        None if host.contains(':') => return Err(fail("needs brackets around an IPv6 address")),
        None => host,
    };
    if bare.is_empty() {
        return Err(fail("names no host"));
    }
    if bare.contains('/') {
        return Err(fail("has a slash in its host"));
    }
    Ok(Address {
        host: bare.to_owned(),
        port,
    })
}

/// What was probably meant.
fn hint(text: &str) -> String {
    let meant = match text.split_once(':') {
        Some((kind, rest)) => {
            let kind = kind.to_lowercase();
            ["file", "tcp", "udp", "pty", "serial"]
                .into_iter()
                .map(|word| (strsim::damerau_levenshtein(&kind, word), word))
                .min()
                .filter(|(distance, _)| *distance <= 2)
                .map(|(_, word)| format!("{word}:{}", rest.trim_start_matches('/')))
        }
        None if text.is_empty() => None,
        None if text.starts_with("/dev/") => Some(format!("serial:{text}")),
        None => Some(format!("file:{text}")),
    };
    meant.map_or_else(String::new, |meant| format!("; did you mean {meant}?"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_read_as_they_are_written() {
        let at = |host: &str, port| Address {
            host: host.to_owned(),
            port,
        };
        for (text, name) in [
            ("-", PortName::Standard),
            ("file:a b:c", PortName::File("a b:c".into())),
            ("tcp:localhost:5000", PortName::Tcp(at("localhost", 5000))),
            ("tcp:[::1]:0", PortName::Tcp(at("::1", 0))),
            ("udp:127.0.0.1:65535", PortName::Udp(at("127.0.0.1", 65535))),
            ("pty:/dev/ttyS0", PortName::Pty("/dev/ttyS0".into())),
            (
                "serial:/dev/ttyS0",
                PortName::Serial("/dev/ttyS0".into(), 115_200),
            ),
            (
                "serial:/dev/ttyS0:9600",
                PortName::Serial("/dev/ttyS0".into(), 9600),
            ),
            (
                "serial:/dev/usb-0:1:1",
                PortName::Serial("/dev/usb-0:1:1".into(), 115_200),
            ),
        ] {
            assert_eq!(text.parse(), Ok(name.clone()));
            assert_eq!(name.to_string(), text);
        }
    }

    #[test]
    fn a_place_for_the_station_is_filled_in() {
        for (text, filled) in [
            ("pty:./{station}", Some("pty:./west")),
            (
                "file:out/{station}/capture.ndjson",
                Some("file:out/west/capture.ndjson"),
            ),
            ("tcp:{station}.example:5000", Some("tcp:west.example:5000")),
            ("udp:localhost:5000", None),
            ("-", None),
        ] {
            let name: PortName = text.parse().expect(text);
            let filled = filled.map(|text| text.parse().expect(text));
            assert_eq!(name.for_station("west"), filled, "{text}");
        }
    }

    #[test]
    fn what_is_no_name_is_told_with_the_way_out() {
        for (text, told) in [
            (
                "",
                "\"\" is no port; allowed are -, file:PATH, tcp:HOST:PORT, udp:HOST:PORT, pty:LINK and serial:DEVICE[:BAUD]",
            ),
            ("tpc:localhost:1", "did you mean tcp:localhost:1?"),
            ("UDP:localhost:1", "did you mean udp:localhost:1?"),
            ("tcp://localhost:1", "has a slash in its host"),
            ("pyt:head0", "did you mean pty:head0?"),
            ("out.bin", "did you mean file:out.bin?"),
            ("/dev/ttyS0", "did you mean serial:/dev/ttyS0?"),
            (
                "serial:",
                "serial: names no device; as in serial:/dev/ttyUSB0:9600",
            ),
            ("file:", "file: names no file; as in file:week.stream"),
            ("pty:", "pty: names no link; as in pty:./head0"),
            (
                "tcp:5000",
                "tcp:5000 names no host; as in tcp:127.0.0.1:5000",
            ),
            ("tcp::5000", "names no host"),
            ("udp:localhost", "names no port number"),
            ("udp:localhost:", "ends in no port number of 0 to 65535"),
            ("udp:localhost:65536", "ends in no port number"),
            ("udp:::1:5000", "needs brackets around an IPv6 address"),
            ("udp:[::1:5000", "opens a bracket"),
        ] {
            let message = text.parse::<PortName>().expect_err(text).to_string();
            assert!(message.contains(told), "{message}\nlacks\n{told}");
        }
        let message = "modem:x".parse::<PortName>().expect_err("no kind");
        assert!(!message.to_string().contains("did you mean"), "{message}");
    }
}
