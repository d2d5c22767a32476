//! `benchmast play`: the head that is not there, on a real port.

use super::{Failure, telling};
use crate::bench::Bench;
use crate::link::Arrival;
use crate::pace::{Pace, Pacer};
use crate::plan::Plan;
use crate::ports::{PortName, Report, SendOptions, Sender};
use crate::row::Sink;
use std::io;
use std::path::PathBuf;
use std::time::Duration;

/// Send a scenario's packets to a port, as they arrive at the receiver's antenna
#[derive(Debug, clap::Args)]
#[command(
    after_help = "PORT is one of\n  -               standard output (byte stream)\n  file:PATH       a file (byte stream)\n  \
    tcp:HOST:PORT   connect to a receiver that listens (byte stream)\n  udp:HOST:PORT   one packet per datagram\n  \
    pty:LINK        a pseudo-terminal, raw, with a stable link; waits for its reader (byte stream)\n\n\
    Examples:\n  benchmast play scenarios/first_week.toml --to pty:./head0 --pace 60x\n  \
    benchmast play scenarios/first_week.toml --to - --pace max > week.stream"
)]
pub(super) struct Arguments {
    /// Scenario file (TOML)
    scenario: PathBuf,
    /// Where to
    #[arg(long, value_name = "PORT")]
    to: PortName,
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

pub(super) fn run(arguments: &Arguments) -> Result<(), Failure> {
    let (_, mut plan) = telling::load(&arguments.scenario)?;
    if let Some(seed) = arguments.seed {
        plan.seed = seed;
    }
    let mut bench = Bench::new(&plan).map_err(|error| Failure::Input(format!("error: {error}")))?;
    let report = play(arguments, &plan, &mut bench).map_err(|error| match error.kind() {
        io::ErrorKind::Interrupted => Failure::Interrupted,
        _ => Failure::Port(format!("error: {error}")),
    })?;
    tell(arguments, &report);
    Ok(())
}

fn play(arguments: &Arguments, plan: &Plan, bench: &mut Bench) -> io::Result<Report> {
    let stop = telling::stop_on_interrupt();
    let options = SendOptions {
        stop: stop.clone(),
        peer_within: arguments.peer_within.map(Duration::from_secs),
        // Nobody watches each packet go by when there is no time between them.
        prompt: arguments.pace != Pace::Max,
        notice: Box::new(telling::notice),
        ..SendOptions::default()
    };
    let mut player = Player {
        sender: Sender::open(&arguments.to, options)?,
        pacer: Pacer::new(arguments.pace, stop),
        is_over: false,
    };
    // The wait for the peer is over: the scenario's first instant is now.
    player.pacer.start(plan.start_us);
    bench.commission(&mut player)?;
    while !player.is_over && bench.step(&mut player)? {}
    if !player.is_over {
        bench.finish(&mut player)?;
    }
    player.sender.finish()
}

fn tell(arguments: &Arguments, report: &Report) {
    if arguments.json {
        let report = serde_json::json!({
            "sent": report.sent, "missed": report.missed, "peers": report.peers,
            "unread_bytes": report.unread, "drained": report.drained,
        });
        eprintln!("{report}");
        return;
    }
    let mut text = format!("{} packets sent to {}", report.sent, arguments.to);
    if report.missed > 0 {
        text.push_str(&format!(", {} found nobody there", report.missed));
    }
    if report.unread > 0 {
        text.push_str(&format!(", {} bytes left unread", report.unread));
    }
    telling::notice(&text);
}
