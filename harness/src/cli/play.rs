//! `benchmast play`: the head that is not there, on a real port.

use super::{Failure, telling};
use crate::bench::Bench;
use crate::capture::{Event, Reader};
use crate::link::Arrival;
use crate::pace::{Pace, Pacer};
use crate::plan::{Network, Plan};
use crate::ports::{PortName, Report, SendOptions, Sender, Stop};
use crate::row::Sink;
use std::fs::File;
use std::io::{self, BufReader, Read};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Send a scenario's packets, or a capture's, to a port, as they arrive at the receiver's antenna
#[derive(Debug, clap::Args)]
#[command(
    after_help = "PORT is one of\n  -               standard output (byte stream)\n  file:PATH       a file (byte stream)\n  \
    tcp:HOST:PORT   connect to a receiver that listens (byte stream)\n  udp:HOST:PORT   one packet per datagram\n  \
    pty:LINK        a pseudo-terminal, raw, with a stable link; waits for its reader (byte stream)\n  \
    serial:DEVICE[:BAUD]  a serial line, 8N1, 115200 bits a second unless said otherwise (byte stream)\n\n\
    A network plays one station of it, or all at once where the PORT holds {station}.\n\n\
    Examples:\n  benchmast play scenarios/first_week.toml --to pty:./head0 --pace 60x\n  \
    benchmast play scenarios/four_stations.toml --to 'pty:./{station}' --pace 60x\n  \
    benchmast play scenarios/first_week.toml --to - --pace max > week.stream\n  \
    benchmast play field_capture.ndjson --to tcp:127.0.0.1:7016 --pace max"
)]
pub(super) struct Arguments {
    /// Scenario file (TOML), or a capture: of this, what was heard
    scenario: PathBuf,
    /// Where to
    #[arg(long, value_name = "PORT")]
    to: PortName,
    /// Play only this station of a network
    #[arg(long, value_name = "NAME")]
    station: Option<String>,
    /// How fast: `real`, `60x` (any factor), `max`, or `step` (one packet per line on standard input)
    #[arg(long, default_value = "real")]
    pace: Pace,
    /// Another seed than the scenario's
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    seed: Option<u64>,
    /// Give up when no peer came within so many seconds (tcp and pty; udp knows no peers)
    #[arg(long, value_name = "SECONDS", allow_negative_numbers = true)]
    peer_within: Option<u64>,
    /// Say at the end, as JSON on standard error, what was sent
    #[arg(long)]
    json: bool,
}

/// Puts what is heard on the port, when it is time.
struct Player {
    sender: Sender,
    pacer: Pacer,
    is_over: bool,
}

impl Sink for Player {
    fn heard(&mut self, arrival: &Arrival) -> io::Result<()> {
        if self.is_over || !self.pacer.wait(arrival.time_us)? {
            self.is_over = true;
            return Ok(());
        }
        self.sender.send(&arrival.bytes)?;
        self.is_over = self.sender.is_over();
        Ok(())
    }
}

/// Every capture begins with a brace, and no scenario does.
fn is_capture(path: &Path) -> bool {
    let mut first = [0];
    // A pipe is not looked into: what is read there is gone.
    path.is_file()
        && File::open(path).is_ok_and(|mut file| file.read_exact(&mut first).is_ok())
        && first == [b'{']
}

/// Send what a capture heard, at its own times.
fn replay(arguments: &Arguments) -> Result<(), Failure> {
    let name = arguments.scenario.display();
    let wrong = |error: &dyn std::fmt::Display| Failure::Input(format!("error: {name}: {error}"));
    if arguments.seed.is_some() || arguments.station.is_some() {
        return Err(wrong(
            &"a capture has neither a seed to change nor stations to choose",
        ));
    }
    let file = File::open(&arguments.scenario).map_err(|error| wrong(&error))?;
    let mut reader = Reader::new(BufReader::new(file)).map_err(|error| wrong(&error))?;
    let stop = telling::stop_on_interrupt();
    let port = |error: io::Error| match error.kind() {
        io::ErrorKind::Interrupted => Failure::Interrupted,
        _ => Failure::Port(format!("error: {error}")),
    };
    let mut player = Player {
        sender: open(arguments, &arguments.to, &stop).map_err(port)?,
        pacer: Pacer::new(arguments.pace, stop),
        is_over: false,
    };
    while !player.is_over
        && let Some(line) = reader.next_line().map_err(|error| wrong(&error))?
    {
        if let Event::Heard { signal_dbm } = line.event {
            let arrival = Arrival {
                time_us: line.time_us,
                signal_dbm,
                bytes: line.bytes,
            };
            player.heard(&arrival).map_err(port)?;
        }
    }
    let report = player.sender.finish().map_err(port)?;
    say(arguments, &[(None, &arguments.to)], &[report]);
    Ok(())
}

/// One station and where it is played to.
struct Part<'n> {
    plan: &'n Plan,
    to: PortName,
    bench: Bench,
}

pub(super) fn run(arguments: &Arguments) -> Result<(), Failure> {
    if is_capture(&arguments.scenario) {
        return replay(arguments);
    }
    let (_, mut network) = telling::load(&arguments.scenario)?;
    if let Some(seed) = arguments.seed {
        network.reseed(seed);
    }
    let region = network.region();
    let mut parts = Vec::new();
    for (plan, to) in chosen(arguments, &network)? {
        let bench = Bench::within(plan, region.as_ref())
            .map_err(|error| Failure::Input(format!("error: {error}")))?;
        parts.push(Part { plan, to, bench });
    }
    let reports = play(arguments, &mut parts).map_err(|error| match error.kind() {
        io::ErrorKind::Interrupted => Failure::Interrupted,
        _ => Failure::Port(format!("error: {error}")),
    })?;
    let played: Vec<_> = parts
        .iter()
        .map(|part| (part.plan.station.as_deref(), &part.to))
        .collect();
    say(arguments, &played, &reports);
    Ok(())
}

/// The stations that are meant, each with its port.
fn chosen<'n>(
    arguments: &Arguments,
    network: &'n Network,
) -> Result<Vec<(&'n Plan, PortName)>, Failure> {
    let has_place = arguments.to.for_station("x").is_some();
    if let Some(name) = &arguments.station {
        let plan = telling::station(network, name)?;
        let to = arguments.to.for_station(name);
        return Ok(vec![(plan, to.unwrap_or_else(|| arguments.to.clone()))]);
    }
    if let Some(plan) = network.single() {
        if has_place {
            return Err(Failure::Input(
                "error: the port's name holds {station}, but the scenario has one station, without a name".into(),
            ));
        }
        return Ok(vec![(plan, arguments.to.clone())]);
    }
    let names: Vec<&str> = network.names().collect();
    if !has_place {
        return Err(Failure::Input(format!(
            "error: the scenario has {} ({}): choose one with --station NAME, or play to a port for each, such as --to 'pty:./{{station}}'",
            if names.len() == 1 {
                "a named station".to_owned()
            } else {
                format!("{} stations", names.len())
            },
            names.join(", ")
        )));
    }
    if arguments.pace == Pace::Step && names.len() > 1 {
        return Err(Failure::Input(
            "error: --pace step takes its steps from one standard input: choose one station with --station NAME".into(),
        ));
    }
    let ports = names
        .iter()
        .filter_map(|name| arguments.to.for_station(name));
    Ok(network.stations.iter().zip(ports).collect())
}

/// Play all parts side by side. None begins before each has its peer.
fn play(arguments: &Arguments, parts: &mut [Part<'_>]) -> io::Result<Vec<Report>> {
    let stop = telling::stop_on_interrupt();
    let senders = at_once(&stop, parts.iter(), |part| open(arguments, &part.to, &stop))?;
    let pairs = parts.iter_mut().zip(senders);
    at_once(&stop, pairs, |(part, sender)| {
        let mut player = Player {
            sender,
            pacer: Pacer::new(arguments.pace, stop.clone()),
            is_over: false,
        };
        // The wait for the peers is over: the scenario's first instant is now.
        player.pacer.start(part.plan.start_us);
        let bench = &mut part.bench;
        bench.commission(&mut player)?;
        while !player.is_over && bench.step(&mut player)? {}
        if !player.is_over {
            bench.finish(&mut player)?;
        }
        player.sender.finish()
    })
}

fn open(arguments: &Arguments, to: &PortName, stop: &Stop) -> io::Result<Sender> {
    let options = SendOptions {
        stop: stop.clone(),
        peer_within: arguments.peer_within.map(Duration::from_secs),
        // Nobody watches each packet go by when there is no time between them.
        prompt: arguments.pace != Pace::Max,
        notice: Box::new(telling::notice),
        ..SendOptions::default()
    };
    Sender::open(to, options)
}

/// Do the same with all of a list at once, each on a thread of its own; what fails stops the others.
fn at_once<I: Send, R: Send>(
    stop: &Stop,
    items: impl Iterator<Item = I>,
    work: impl Fn(I) -> io::Result<R> + Sync,
) -> io::Result<Vec<R>> {
    let work = &work;
    let results: Vec<io::Result<R>> = std::thread::scope(|scope| {
        let threads: Vec<_> = items
            .map(|item| {
                scope.spawn(move || {
                    let result = work(item);
                    if result.is_err() {
                        stop.ask();
                    }
                    result
                })
            })
            .collect();
        threads
            .into_iter()
            .map(|thread| {
                let failed = |_| Err(io::Error::other("a thread failed"));
                thread.join().unwrap_or_else(failed)
            })
            .collect()
    });
    // The reason comes before the interruptions that it made.
    let mut done = Vec::new();
    let mut failure: Option<io::Error> = None;
    for result in results {
        match result {
            Ok(result) => done.push(result),
            Err(error) => {
                let is_consequence = error.kind() == io::ErrorKind::Interrupted;
                if failure.is_none() || !is_consequence {
                    failure = Some(error);
                }
            }
        }
    }
    failure.map_or(Ok(done), Err)
}

/// What was sent where: stations, if they have names, and ports.
fn say(arguments: &Arguments, parts: &[(Option<&str>, &PortName)], reports: &[Report]) {
    if arguments.json {
        let mut list: Vec<_> = parts
            .iter()
            .zip(reports)
            .map(|((station, to), report)| {
                let mut told = serde_json::json!({
                    "sent": report.sent, "missed": report.missed, "peers": report.peers,
                    "unread_bytes": report.unread, "drained": report.drained,
                });
                if let Some(name) = station {
                    told["station"] = (*name).into();
                    told["to"] = to.to_string().into();
                }
                told
            })
            .collect();
        match (list.pop(), list.is_empty()) {
            (Some(only), true) => eprintln!("{only}"),
            (last, _) => {
                list.extend(last);
                eprintln!("{}", serde_json::json!({ "stations": list }));
            }
        }
        return;
    }
    for ((_, to), report) in parts.iter().zip(reports) {
        let mut text = format!("{} packets sent to {to}", report.sent);
        if report.missed > 0 {
            text.push_str(&format!(", {} found nobody there", report.missed));
        }
        if report.unread > 0 {
            text.push_str(&format!(", {} bytes left unread", report.unread));
        }
        telling::notice(&text);
    }
}
