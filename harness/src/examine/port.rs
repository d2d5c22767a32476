//! Receivers that cannot be asked: real firmware at the end of a port. The cases go there as a byte stream, and
//! the firmware prints what it tells on a second channel, one event a line. EXAMINATION.md, "On a port".
//!
//! Nobody answers, so a *fence* tells where a case ends: four packets of versions that are none, in an order that
//! no case has. What the firmware told before its refusals of these belongs to the case.

use super::cases::craft::sealed;
use super::judge::{Miss, Verdict};
use super::reference::Reference;
use super::script::{Case, Input, Setup, Step, Steps, framed};
use super::told::{RawTold, Told, agree};
use crate::pace::Pacer;
use crate::ports::{ListenOptions, Listener, PortName, Received, SendOptions, Sender, Stop};
use benchmast_protocol::frame::{Frame, Identity};
use benchmast_protocol::packet::{HeadId, MAX_PACKET, Packet};
use std::fs::File;
use std::io::{self, BufRead, BufReader, Read};
use std::path::PathBuf;
use std::sync::mpsc::{Receiver as Lines, RecvTimeoutError, Sender as LineSender, channel};
use std::time::{Duration, Instant};

/// Versions of the fence's packets.
const FENCE: [u8; 4] = [13, 14, 13, 15];
/// Between two looks at a file that grows.
const AGAIN_AFTER: Duration = Duration::from_millis(20);
/// A fence without an answer is put up again after so long.
const ONCE_MORE: Duration = Duration::from_secs(2);

/// Where the firmware's lines come from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Verdicts {
    /// Standard input.
    Standard,
    /// A file that grows, such as a log.
    File(PathBuf),
    /// A port that is listened at.
    Port(PortName),
}

/// How the firmware is made to forget what it believes, before each case.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Reset {
    /// The port is closed and opened again, and the firmware begins anew with it.
    Reopen,
    /// A command is run by the shell.
    Command(String),
}

/// The fence as bytes of a stream. It begins with a delimiter, so that a frame that is open is closed.
fn fence() -> Vec<u8> {
    let packets = FENCE.map(|version| framed(&sealed(&[version << 4, 1, 2, 3, 4, 5, 6, 7])));
    [&[0][..], &packets.concat()].concat()
}

fn fence_events() -> Vec<Told> {
    FENCE
        .map(|version| Told::Refused {
            reason: "unknown_version",
            head: None,
            version: Some(version),
        })
        .to_vec()
}

fn identity_packet(head: HeadId, identity: Identity) -> Vec<u8> {
    let packet = Packet {
        head,
        sequence: 0,
        frame: Frame::Identity(identity),
    };
    let mut buffer = [0; MAX_PACKET];
    packet
        .emit(&mut buffer)
        .map(<[u8]>::to_vec)
        .unwrap_or_default()
}

/// A case as it goes over a port: heads are paired by their identities, and all that can be said comes from
/// bytes alone.
#[derive(Debug)]
pub struct PortCase {
    /// Bytes and when they go.
    pub pieces: Vec<(u64, Vec<u8>)>,
    /// Everything that must be told up to the fence.
    pub expect: Vec<Told>,
}

/// The case for a port, if it needs neither a clock nor settings: a receiver that begins with nothing paired, pairing
/// open and no limit of silence must say the same whatever the time.
#[must_use]
pub fn for_port(case: &Case) -> Option<PortCase> {
    let Steps::Listed(steps, _) = &case.on_a_stream().steps else {
        return None;
    };
    if !case.setup.keys.is_empty() {
        return None;
    }
    let prelude: Vec<(u64, Vec<u8>)> = case
        .setup
        .adopted
        .iter()
        .map(|(head, identity)| (0, framed(&identity_packet(*head, *identity))))
        .collect();
    let told = |clock: fn(&Step) -> u64| {
        let mut receiver = Reference::new(&Setup::default());
        let mut said = Vec::new();
        receiver.hear(0, &Input::Pairing(true), &mut said);
        for (_, bytes) in &prelude {
            receiver.hear(0, &Input::Stream(bytes.clone()), &mut said);
        }
        let before = said.len();
        for step in steps {
            if let Input::Stream(_) | Input::Tick = step.input {
                receiver.hear(clock(step), &step.input, &mut said);
            }
        }
        let meant: Vec<Told> = steps.iter().flat_map(|step| step.expect.clone()).collect();
        let is_same = said[before..] == meant[..];
        // The fence's delimiter closes what is open.
        receiver.hear(0, &Input::Stream(vec![0]), &mut said);
        is_same.then_some(said)
    };
    let (still, running) = (told(|_| 0)?, told(|step| step.t_us)?);
    let pieces = prelude
        .into_iter()
        .chain(steps.iter().filter_map(|step| match &step.input {
            Input::Stream(bytes) => Some((step.t_us, bytes.clone())),
            _ => None,
        }));
    (still == running).then(|| PortCase {
        pieces: pieces.collect(),
        expect: still,
    })
}

/// Firmware at the end of a port.
pub struct Firmware {
    port: PortName,
    options: Box<dyn Fn() -> SendOptions>,
    reset: Reset,
    sender: Option<Sender>,
    lines: Lines<String>,
    /// How long the firmware may be silent before a fence is told.
    timeout: Duration,
    stop: Stop,
}

impl std::fmt::Debug for Firmware {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Firmware")
            .field("port", &self.port)
            .field("reset", &self.reset)
            .finish_non_exhaustive()
    }
}

impl Firmware {
    /// Listen for verdicts; the port is opened with the first case. `options` makes the port's options each time.
    ///
    /// # Errors
    /// What is in the way.
    pub fn new(
        port: PortName,
        verdicts: &Verdicts,
        reset: Reset,
        timeout: Duration,
        stop: Stop,
        options: Box<dyn Fn() -> SendOptions>,
    ) -> io::Result<Self> {
        if matches!(
            port,
            PortName::Udp(_) | PortName::Standard | PortName::File(_)
        ) {
            let text = format!(
                "port {port}: firmware is examined on a byte stream that somebody reads: tcp, pty or serial"
            );
            return Err(io::Error::new(io::ErrorKind::InvalidInput, text));
        }
        Ok(Self {
            port,
            options,
            reset,
            sender: None,
            lines: listen(verdicts, &stop)?,
            timeout,
            stop,
        })
    }

    /// Put a case to the firmware.
    ///
    /// # Errors
    /// What is wrong with the port; [`io::ErrorKind::Interrupted`] when asked to stop.
    pub fn examine(&mut self, case: &Case, pacer: &mut Pacer) -> io::Result<Verdict> {
        let Some(ready) = for_port(case) else {
            return Ok(Verdict::Skip(
                "needs a clock, settings or a pairing that a port has not".into(),
            ));
        };
        if let Some(trouble) = self.begin()? {
            return Ok(trouble);
        }
        let Some(sender) = &mut self.sender else {
            return Ok(Verdict::Crash("the port is not open".into()));
        };
        pacer.start(0);
        for (t_us, bytes) in &ready.pieces {
            if !pacer.wait(i64::try_from(*t_us).unwrap_or(i64::MAX))? {
                return Err(io::ErrorKind::Interrupted.into());
            }
            sender.send_stream(bytes)?;
        }
        sender.send_stream(&fence())?;
        let Some(said) = self.up_to_fence(self.timeout)? else {
            return Ok(Verdict::Timeout(format!(
                "the fence after the case was not told within {} s: does the firmware still run, and print each event at once?",
                self.timeout.as_secs_f64()
            )));
        };
        Ok(judge(&ready.expect, &said))
    }

    /// Reset the firmware, and wait until it tells a fence.
    fn begin(&mut self) -> io::Result<Option<Verdict>> {
        match &self.reset {
            Reset::Reopen => {
                if let Some(sender) = self.sender.take() {
                    sender.finish()?;
                }
            }
            Reset::Command(command) => {
                let status = std::process::Command::new("sh")
                    .arg("-c")
                    .arg(command)
                    .status()?;
                if !status.success() {
                    return Ok(Some(Verdict::Crash(format!("the reset command: {status}"))));
                }
            }
        }
        if self.sender.is_none() {
            self.sender = Some(Sender::open(&self.port, (self.options)())?);
        }
        let begin = Instant::now();
        let mut put_up = 0;
        while begin.elapsed() < self.timeout.max(5 * ONCE_MORE) {
            if let Some(sender) = &mut self.sender {
                sender.send_stream(&fence())?;
            }
            put_up += 1;
            if self.up_to_fence(ONCE_MORE)?.is_some() {
                // Those before it may only have been late.
                for _ in 1..put_up {
                    if self.up_to_fence(Duration::from_millis(300))?.is_none() {
                        break;
                    }
                }
                return Ok(None);
            }
        }
        Ok(Some(Verdict::Timeout(
            "the firmware tells no fence: does it print the events of EXAMINATION.md, one a line, each at once?".into(),
        )))
    }

    /// All events up to the next fence; `None` if none comes in time.
    fn up_to_fence(&mut self, timeout: Duration) -> io::Result<Option<Vec<Told>>> {
        let fence = fence_events();
        let mut said: Vec<Told> = Vec::new();
        let mut last = Instant::now();
        loop {
            if self.stop.is_asked() {
                return Err(io::ErrorKind::Interrupted.into());
            }
            match self.lines.recv_timeout(Duration::from_millis(50)) {
                Ok(line) => {
                    last = Instant::now();
                    // Firmware prints other things too.
                    if let Ok(raw) = serde_json::from_str::<RawTold<'_>>(line.trim()) {
                        said.push(raw.told());
                    }
                    if said.ends_with(&fence) {
                        said.truncate(said.len() - fence.len());
                        return Ok(Some(said));
                    }
                }
                Err(RecvTimeoutError::Timeout) if last.elapsed() < timeout => {}
                Err(RecvTimeoutError::Timeout) => return Ok(None),
                Err(RecvTimeoutError::Disconnected) => {
                    let text = "the channel of verdicts has ended";
                    return Err(io::Error::new(io::ErrorKind::UnexpectedEof, text));
                }
            }
        }
    }
}

fn judge(expected: &[Told], said: &[Told]) -> Verdict {
    if agree(said, expected) {
        return Verdict::Pass;
    }
    let at = expected
        .iter()
        .zip(said)
        .take_while(|(one, other)| one == other)
        .count();
    let texts = |events: &[Told]| {
        events
            .iter()
            .skip(at)
            .take(3)
            .map(ToString::to_string)
            .collect()
    };
    Verdict::Fail(Miss {
        step: 0,
        place: format!(
            "event {} of {}, {} were told",
            at + 1,
            expected.len(),
            said.len()
        ),
        expected: texts(expected),
        said: texts(said),
    })
}

/// Lines of the firmware, as they come.
fn listen(verdicts: &Verdicts, stop: &Stop) -> io::Result<Lines<String>> {
    let (to, lines) = channel();
    let stop = stop.clone();
    match verdicts {
        Verdicts::Standard => {
            std::thread::spawn(move || {
                for line in io::stdin().lock().lines().map_while(Result::ok) {
                    if to.send(line).is_err() {
                        return;
                    }
                }
            });
        }
        Verdicts::File(path) => {
            let file = File::open(path).map_err(|error| {
                io::Error::new(
                    error.kind(),
                    format!("verdicts {}: {error}", path.display()),
                )
            })?;
            std::thread::spawn(move || follow(file, &to, &stop));
        }
        Verdicts::Port(name) => {
            let options = ListenOptions {
                stop: stop.clone(),
                ..ListenOptions::default()
            };
            let listener = Listener::open(name, options)?;
            std::thread::spawn(move || hear(listener, &to));
        }
    }
    Ok(lines)
}

/// The lines of a file that grows.
fn follow(file: File, to: &LineSender<String>, stop: &Stop) {
    let mut reader = BufReader::new(file);
    let mut line = String::new();
    while !stop.is_asked() {
        match reader.by_ref().read_line(&mut line) {
            Ok(_) if line.ends_with('\n') => {
                if to.send(std::mem::take(&mut line)).is_err() {
                    return;
                }
            }
            Ok(_) => std::thread::sleep(AGAIN_AFTER),
            Err(_) => return,
        }
    }
}

/// The lines that come in by a port. What a peer that left had not finished is void.
fn hear(mut listener: Listener, to: &LineSender<String>) {
    let mut buffer = [0; 4096];
    let mut line = Vec::new();
    loop {
        match listener.next(&mut buffer) {
            Ok(Received::Begin) => line.clear(),
            Ok(Received::Bytes(bytes) | Received::Packet { bytes, .. }) => {
                for byte in bytes {
                    if *byte != b'\n' {
                        line.push(*byte);
                    } else if to
                        .send(String::from_utf8_lossy(&std::mem::take(&mut line)).into_owned())
                        .is_err()
                    {
                        return;
                    }
                }
            }
            Ok(Received::Idle) => {}
            Ok(Received::End) | Err(_) => return,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::cases::{self, Choice};
    use super::*;

    /// What a clock or settings decide stays at home; the rest is most of it, and from nearly every clause.
    #[test]
    fn most_cases_go_over_a_port() {
        let all = cases::all(Choice {
            soak_days: 0,
            seed: 1,
            random: 0,
        });
        let (go, stay): (Vec<_>, Vec<_>) = all.iter().partition(|case| for_port(case).is_some());
        assert!(
            go.len() > 150 && go.len() > 2 * stay.len(),
            "{} go, {} stay",
            go.len(),
            stay.len()
        );
        for id in [
            "W7.3/window",
            "W6.6/much-too-long",
            "W1.1/every-version",
            "W7.5/replay",
        ] {
            assert!(go.iter().any(|case| case.id == id), "{id}");
        }
        for id in [
            "W7.6/once",
            "W7.2/waited-paired-with-another",
            "W7.3/long-outage-by-clock",
        ] {
            assert!(stay.iter().any(|case| case.id == id), "{id}");
        }
    }

    /// No case tells the fence by itself, so none ends before its time.
    #[test]
    fn no_case_has_a_fence_in_it() {
        let fence = fence_events();
        for case in cases::all(Choice {
            soak_days: 0,
            seed: 1,
            random: 20,
        }) {
            if let Some(ready) = for_port(&case) {
                assert!(
                    !ready.expect.windows(fence.len()).any(|part| part == fence),
                    "{}",
                    case.id
                );
            }
        }
    }

    #[test]
    fn a_file_that_grows_is_followed() {
        use std::io::Write as _;
        let mut file = tempfile::NamedTempFile::new().expect("a file");
        let stop = Stop::default();
        let lines = listen(&Verdicts::File(file.path().to_owned()), &stop).expect("it is there");
        for text in ["one\ntw", "o\n"] {
            write!(file, "{text}").expect("a file");
            file.flush().expect("a file");
            std::thread::sleep(Duration::from_millis(60));
        }
        let next = || lines.recv_timeout(Duration::from_secs(5)).expect("a line");
        assert_eq!((next().trim(), next().trim()), ("one", "two"));
        stop.ask();
    }
}
