//! `benchmast listen`: the reference receiver on a real port.

use super::field::FieldCapture;
use super::{Failure, telling, words};
use crate::bench::{HEADS, ReferenceReceiver};
use crate::faults::Causes;
use crate::manifest::VERSION;
use crate::ports::{ListenOptions, Listener, PortName, Received, Stop};
use crate::record::folder::{Folder, MANIFEST};
use crate::record::{Format, Recorder, RecorderOptions};
use crate::row::Sink;
use crate::tally::Tally;
use benchmast_protocol::frame::Serial;
use benchmast_protocol::receiver::{Config, Event, Micros};
use benchmast_protocol::stream::{Deframed, Deframer};
use benchmast_protocol::tag::{Key, KeyError};
use std::io::{self, Write};
use std::path::PathBuf;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

/// The reference receiver: print what it believes, and why it refuses the rest
#[derive(Debug, clap::Args)]
#[command(
    after_help = "PORT is one of\n  -               standard input (byte stream)\n  file:PATH       a byte stream or a capture\n  \
    tcp:HOST:PORT   wait there for a sender (byte stream)\n  udp:HOST:PORT   one packet per datagram\n  \
    pty:LINK        a terminal device or a link to one, put into raw mode (byte stream)\n  \
    serial:DEVICE[:BAUD]  a serial line, 8N1, 115200 bits a second unless said otherwise (byte stream)\n\n\
    Examples:\n  benchmast listen --from tcp:127.0.0.1:7016\n  \
    benchmast listen --from file:first_week/capture.ndjson --out believed\n  \
    benchmast listen --from 'pty:./{station}' --station mill --station bridge"
)]
pub(super) struct Arguments {
    /// Where from
    #[arg(long, value_name = "PORT")]
    from: PortName,
    /// Put this station's name in the place of {station} in the PORT; may be given more than once, and then
    /// all are listened to, each with a receiver of its own
    #[arg(long, value_name = "NAME")]
    station: Vec<String>,
    /// Pair with the head of this serial number (may be given four times). Without it: with the heads of a
    /// capture's header, else with the first head that tells its identity
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    serial: Vec<u64>,
    /// Believe the head of this serial number only with tags of this key, 32 hexadecimal digits (may be
    /// given four times)
    #[arg(long, value_name = "N:KEY", value_parser = keyed)]
    key: Vec<(Serial, Key)>,
    /// Pair with every head that tells its identity, the neighbour's too
    #[arg(long, conflicts_with = "serial")]
    every_head: bool,
    /// One JSON object per line for each event
    #[arg(long)]
    json: bool,
    /// Print only the summary
    #[arg(long)]
    quiet: bool,
    /// End with the first sender instead of waiting for the next
    #[arg(long)]
    once: bool,
    /// Record what is believed, as `run` does, into this folder
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Write what arrives into this file, as a capture: for `examine --case`, `play` or another `listen`
    #[arg(long, value_name = "FILE")]
    capture: Option<PathBuf>,
    /// Write an earlier folder anew
    #[arg(long, requires = "out")]
    replace: bool,
}

/// The printed lines of all stations; whole lines, whoever writes them.
type Lines = Arc<Mutex<io::BufWriter<io::Stdout>>>;

/// A thread that failed while it wrote has left whole lines behind.
fn locked(lines: &Lines) -> MutexGuard<'_, io::BufWriter<io::Stdout>> {
    lines.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Where results of listening go: the summary, the printed lines, the record.
struct Desk {
    tally: Tally,
    out: Lines,
    /// Whose results they are, where several stations are listened to.
    station: Option<String>,
    json: bool,
    quiet: bool,
    /// Bytes of a stream, packets or not.
    stream_bytes: u64,
    /// Packets came without any time, and the computer's is that of reading them.
    is_timed_by_reading: bool,
    folder: Option<Folder>,
    field: Option<FieldCapture>,
    recorder: Option<Recorder>,
}

impl Desk {
    fn keep(&mut self, time_us: i64, signal_dbm: Option<f64>, bytes: &[u8]) -> io::Result<()> {
        match &mut self.field {
            Some(field) => field.heard(time_us, signal_dbm, bytes),
            None => Ok(()),
        }
    }

    fn take(
        &mut self,
        time_us: Option<i64>,
        signal_dbm: Option<f64>,
        event: &Event,
    ) -> io::Result<()> {
        let signal = signal_dbm.unwrap_or(f64::NAN);
        self.tally.event(0, signal, event)?;
        if let (Event::Paired { identity, .. }, Some(folder), None) =
            (event, &self.folder, &self.recorder)
        {
            // Not before: the rain column's step is the bucket's.
            self.recorder = Some(Recorder::new(
                &folder.shelf(),
                &RecorderOptions {
                    room: false,
                    formats: vec![Format::Csv],
                    observed: true,
                    key: false,
                    bucket_um: identity.bucket_um,
                    causes: Causes::default(),
                    background: false,
                    facts: Vec::new(),
                },
            )?);
        }
        if let Some(recorder) = &mut self.recorder {
            recorder.event(time_us.unwrap_or_else(wall_us), signal, event)?;
        }
        if self.quiet {
            return Ok(());
        }
        let mut out = locked(&self.out);
        if self.json {
            let mut told = words::json(time_us, signal_dbm, event);
            if let Some(station) = &self.station {
                told["station"] = station.as_str().into();
            }
            writeln!(out, "{told}")
        } else {
            if let Some(station) = &self.station {
                write!(out, "{station}: ")?;
            }
            writeln!(out, "{}", words::line(time_us, signal_dbm, event))
        }
    }
}

/// The computer's clock, microseconds since 1970-01-01T00:00:00Z.
fn wall_us() -> i64 {
    SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .map_or(0, |since| i64::try_from(since.as_micros()).unwrap_or(0))
}

/// The receiver and the time it goes by.
struct Ears {
    receiver: ReferenceReceiver,
    deframer: Deframer,
    opened: Instant,
    first_us: Option<i64>,
    /// A stored stream has no time of its own, and the computer's would only mislead.
    is_stored: bool,
    /// Pairing stays open.
    every_head: bool,
}

impl Ears {
    /// The receiver's monotonic time: the capture's where there is one, none for a stored stream.
    fn now(&mut self, time_us: Option<i64>) -> Micros {
        match time_us {
            Some(time_us) => {
                let first_us = *self.first_us.get_or_insert(time_us);
                Micros::try_from(time_us.saturating_sub(first_us)).unwrap_or(0)
            }
            None if self.is_stored => 0,
            None => Micros::try_from(self.opened.elapsed().as_micros()).unwrap_or(Micros::MAX),
        }
    }

    fn packet(
        &mut self,
        bytes: &[u8],
        time_us: Option<i64>,
        signal_dbm: Option<f64>,
        desk: &mut Desk,
    ) -> io::Result<()> {
        let now = self.now(time_us);
        desk.tally.heard += 1;
        desk.keep(time_us.unwrap_or_else(wall_us), signal_dbm, bytes)?;
        self.receiver.handle_packet(now, bytes);
        self.tell(time_us, signal_dbm, desk)
    }

    fn stream(&mut self, mut bytes: &[u8], desk: &mut Desk) -> io::Result<()> {
        let now = self.now(None);
        desk.stream_bytes += bytes.len() as u64;
        desk.is_timed_by_reading |= self.is_stored;
        while let Some(frame) = self.deframer.push_from(&mut bytes) {
            desk.tally.heard += 1;
            // A stored stream has no times: the clock stands still, as it does for the receiver.
            let time_us = if self.is_stored { 0 } else { wall_us() };
            match frame {
                Deframed::Packet(packet) => desk.keep(time_us, None, packet)?,
                Deframed::Damaged => desk.keep(time_us, None, &[])?,
            }
            match frame {
                Deframed::Packet(packet) => self.receiver.handle_packet(now, packet),
                Deframed::Damaged => self.receiver.handle_damaged(now),
            }
            self.tell(None, None, desk)?;
        }
        Ok(())
    }

    fn tell(
        &mut self,
        time_us: Option<i64>,
        signal_dbm: Option<f64>,
        desk: &mut Desk,
    ) -> io::Result<()> {
        while let Some(event) = self.receiver.poll_event() {
            if matches!(event, Event::Paired { .. }) && !self.every_head {
                self.receiver.expect_any(false);
            }
            desk.take(time_us, signal_dbm, &event)?;
        }
        Ok(())
    }
}

/// One port to listen at.
struct Post {
    station: Option<String>,
    from: PortName,
    out: Option<PathBuf>,
    capture: Option<PathBuf>,
}

/// The ports that are meant.
fn posts(arguments: &Arguments) -> Result<Vec<Post>, Failure> {
    let has_place = arguments.from.for_station("x").is_some();
    if arguments.station.is_empty() {
        if has_place {
            return Err(Failure::Input(
                "error: the port's name holds {station}: say with --station NAME which are meant; it may be given more than once".into(),
            ));
        }
        return Ok(vec![Post {
            station: None,
            from: arguments.from.clone(),
            out: arguments.out.clone(),
            capture: arguments.capture.clone(),
        }]);
    }
    let is_alone = arguments.station.len() == 1;
    if !is_alone && arguments.capture.is_some() {
        return Err(Failure::Input(
            "error: --capture holds what one receiver hears: listen to one station at a time"
                .into(),
        ));
    }
    let of = |name: &String| {
        let from = arguments.from.for_station(name)?;
        let out = arguments.out.as_ref();
        Some(Post {
            station: (!is_alone).then(|| name.clone()),
            from,
            capture: arguments.capture.clone(),
            out: out.map(|out| {
                if is_alone {
                    out.clone()
                } else {
                    out.join(name)
                }
            }),
        })
    };
    let posts: Option<Vec<Post>> = arguments.station.iter().map(of).collect();
    posts.ok_or_else(|| {
        Failure::Input(
            "error: --station: the port's name has no place for it; write {station} there, such as --from 'pty:./{station}'".into(),
        )
    })
}

pub(super) fn run(arguments: &Arguments) -> Result<(), Failure> {
    let stop = telling::stop_on_interrupt();
    let lines = Arc::new(Mutex::new(io::BufWriter::new(io::stdout())));
    let posts = posts(arguments)?;
    if let [post] = posts.as_slice() {
        return listen(arguments, post, &stop, lines);
    }
    let results: Vec<Result<(), Failure>> = std::thread::scope(|scope| {
        let threads: Vec<_> = posts
            .iter()
            .map(|post| {
                let (stop, lines) = (&stop, Arc::clone(&lines));
                scope.spawn(move || {
                    let result = listen(arguments, post, stop, lines);
                    if result.is_err() {
                        // Without one of them, the others would be listened to for ever.
                        stop.ask();
                    }
                    result
                })
            })
            .collect();
        threads
            .into_iter()
            .map(|thread| {
                let failed = |_| Err(Failure::Port("error: a thread failed".into()));
                thread.join().unwrap_or_else(failed)
            })
            .collect()
    });
    results.into_iter().collect()
}

/// Listen at one port until it ends.
fn listen(arguments: &Arguments, post: &Post, stop: &Stop, lines: Lines) -> Result<(), Failure> {
    let options = ListenOptions {
        stop: stop.clone(),
        once: arguments.once,
        idle: Some(Duration::from_secs(1)),
        notice: Box::new(telling::notice),
    };
    let mut ears = Ears {
        receiver: receiver(arguments)?,
        deframer: Deframer::new(),
        opened: Instant::now(),
        first_us: None,
        is_stored: matches!(post.from, PortName::Standard | PortName::File(_)),
        every_head: arguments.every_head,
    };
    let folder = post
        .out
        .as_ref()
        .map(|out| {
            Folder::create_beside(out, arguments.replace)
                .map_err(|error| Failure::writing(&out.display().to_string(), &error))
        })
        .transpose()?;
    let field = post
        .capture
        .as_ref()
        .map(|path| {
            FieldCapture::create(path)
                .map_err(|error| Failure::writing(&path.display().to_string(), &error))
        })
        .transpose()?;
    let mut desk = Desk {
        tally: Tally::default(),
        out: lines,
        station: post.station.clone(),
        json: arguments.json,
        quiet: arguments.quiet,
        stream_bytes: 0,
        is_timed_by_reading: false,
        folder,
        field,
        recorder: None,
    };
    let mut listener = Listener::open(&post.from, options).map_err(|error| port(post, &error))?;
    hear(arguments, post, &mut listener, &mut ears, &mut desk)?;
    if let (Some(field), Some(path)) = (desk.field.take(), &post.capture) {
        field
            .finish(&post.from.to_string(), ears.receiver.paired())
            .map_err(|error| Failure::writing(&path.display().to_string(), &error))?;
    }
    if desk.tally.heard > 0 && ears.receiver.paired().next().is_none() {
        telling::notice(
            "no head was paired: was its serial number right, and does it have a key (--key)?",
        );
    }
    finish(post, desk)
}

/// A file, or a capture wherever it comes from, is input; everything else is a port.
fn port(post: &Post, error: &io::Error) -> Failure {
    let text = format!("error: {error}");
    let is_file = matches!(post.from, PortName::File(_));
    if is_file || error.kind() == io::ErrorKind::InvalidData {
        Failure::Input(text)
    } else {
        Failure::Port(text)
    }
}

fn receiver(arguments: &Arguments) -> Result<ReferenceReceiver, Failure> {
    let mut receiver = ReferenceReceiver::new(Config::default());
    for serial in &arguments.serial {
        receiver.expect(Serial(*serial)).map_err(|_| {
            Failure::Input(format!(
                "error: --serial: the reference receiver has room for {HEADS} heads"
            ))
        })?;
    }
    for (serial, key) in &arguments.key {
        receiver.set_key(*serial, *key, None).map_err(|_| {
            Failure::Input(format!(
                "error: --key: the reference receiver has room for {HEADS} heads"
            ))
        })?;
    }
    Ok(receiver)
}

/// A serial number and its head's key.
fn keyed(text: &str) -> Result<(Serial, Key), String> {
    let (serial, key) = text
        .split_once(':')
        .ok_or("write the serial number, a colon and the key")?;
    let serial = serial
        .parse()
        .ok()
        .filter(|serial| *serial <= Serial::MAX)
        .ok_or("a serial number has at most ten digits")?;
    let key = key.parse().map_err(|error: KeyError| error.to_string())?;
    Ok((Serial(serial), key))
}

/// With no serial number given: the heads of a capture's header, else the first one that is heard.
fn pair(arguments: &Arguments, listener: &Listener, receiver: &mut ReferenceReceiver) {
    if !arguments.serial.is_empty() {
        return;
    }
    match listener.capture() {
        _ if arguments.every_head => receiver.expect_any(true),
        Some(header) if !header.heads.is_empty() => {
            for head in &header.heads {
                // More heads than places: the first ones.
                let _ = receiver.expect(head.serial);
            }
        }
        // Closed again when one has come; a head paired earlier stays the one.
        _ => {
            let is_alone = receiver.paired().next().is_none();
            receiver.expect_any(is_alone);
        }
    }
}

fn hear(
    arguments: &Arguments,
    post: &Post,
    listener: &mut Listener,
    ears: &mut Ears,
    desk: &mut Desk,
) -> Result<(), Failure> {
    let mut buffer = [0; 4096];
    loop {
        let mut begins = false;
        let done = match listener
            .next(&mut buffer)
            .map_err(|error| port(post, &error))?
        {
            Received::Begin => {
                begins = true;
                Ok(())
            }
            Received::Bytes(bytes) => ears.stream(bytes, desk),
            Received::Packet {
                bytes,
                time_us,
                signal_dbm,
            } => ears.packet(bytes, time_us, signal_dbm, desk),
            Received::Idle => {
                if !ears.is_stored {
                    let now = ears.now(None);
                    ears.receiver.handle_time(now);
                }
                ears.tell(None, None, desk)
                    .and_then(|()| locked(&desk.out).flush())
            }
            Received::End => return Ok(()),
        };
        done.map_err(|error| Failure::writing("what is believed", &error))?;
        if begins {
            ears.deframer = Deframer::new();
            pair(arguments, listener, &mut ears.receiver);
        }
    }
}

fn finish(post: &Post, desk: Desk) -> Result<(), Failure> {
    locked(&desk.out)
        .flush()
        .map_err(|error| Failure::writing("to standard output", &error))?;
    let tally = &desk.tally;
    let refused: Vec<_> = tally
        .refused
        .iter()
        .map(|(reason, count)| format!("{count} {reason}"))
        .collect();
    let whose = desk
        .station
        .as_ref()
        .map_or_else(String::new, |station| format!("{station}: "));
    let summary = format!(
        "{whose}{} packets heard: {} observations and {} health reports believed, {} duplicate, {} late, {} refused{}; \
        {} intervals missed; rain {:.1} mm",
        tally.heard,
        tally.observations,
        tally.health_reports,
        tally.duplicates,
        tally.late,
        tally.refused_total(),
        if refused.is_empty() {
            String::new()
        } else {
            format!(" ({})", refused.join(", "))
        },
        tally.intervals_missed,
        tally.rain_believed_mm,
    );
    telling::notice(&summary);
    if tally.heard == 0 && desk.stream_bytes > 0 {
        telling::notice(&format!(
            "{} bytes came, and no packet ended in them: is it a byte stream of a head, or a capture?",
            desk.stream_bytes
        ));
    }
    if desk.is_timed_by_reading && desk.recorder.is_some() {
        telling::notice(
            "a stored stream holds no times: those of the record say when it was read; \
            a capture keeps the true ones",
        );
    }
    let (Some(out), Some(folder)) = (&post.out, desk.folder) else {
        return Ok(());
    };
    let Some(recorder) = desk.recorder else {
        return Err(Failure::Input(
            "error: no head was paired, so there is nothing to record; was its serial number right?".into(),
        ));
    };
    record(folder, recorder, &desk.tally)
        .map_err(|error| Failure::writing(&out.display().to_string(), &error))
}

fn record(folder: Folder, recorder: Recorder, tally: &Tally) -> io::Result<()> {
    let files: Vec<_> = recorder
        .finish()?
        .iter()
        .map(|file| {
            serde_json::json!({ "name": file.name, "bytes": file.bytes, "sha256": file.sha256 })
        })
        .collect();
    let manifest = serde_json::json!({
        "manifest": 1, "benchmast": VERSION, "tally": tally, "files": files,
    });
    let mut file = folder.create(MANIFEST)?;
    writeln!(file, "{manifest:#}")?;
    file.finish()?;
    folder.finish()?;
    Ok(())
}
