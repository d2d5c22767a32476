//! `benchmast examine`: a receiver, the clauses of the wire format, and a verdict for each.

mod port;

use super::{Failure, print, telling};
use crate::examine::cases::{self, Choice};
use crate::examine::child::{Child, Options, Unfit};
use crate::examine::judge::{Examinee, Trouble, Verdict};
use crate::examine::replay;
use crate::examine::results::{self, Expected, Outcome};
use crate::examine::script::{Case, Mode};
use crate::examine::select::is_meant;
use crate::pace::Pace;
use crate::ports::{PortName, Stop};
use indicatif::{ProgressBar, ProgressStyle};
use std::cell::RefCell;
use std::fmt::Write as _;
use std::fs;
use std::io::{self, IsTerminal};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Examine a receiver, clause by clause of the wire format (protocol/WIRE.md)
#[derive(Debug, clap::Args)]
#[command(
    after_help = "The receiver is a program that reads one JSON object per line and answers each with one; \
    protocol/EXAMINATION.md says how. tests/receivers has some to begin with.\n\n\
    Examples:\n  benchmast examine -- python3 tests/receivers/receiver.py\n  \
    benchmast examine --only 'W7.3/*' -- ./my_receiver\n  \
    benchmast examine --case field_capture.ndjson -- ./my_receiver\n  \
    benchmast examine --port serial:/dev/ttyUSB0 --verdicts serial:/dev/ttyUSB1\n  \
    benchmast examine --list\n\n\
    Exit codes: 0 every MUST was met, or all came as --expected says; 1 not so; 2 wrong arguments; 3 a file cannot be used; \
    4 the receiver cannot be started or talked to, or agrees to everything; 5 a report cannot be written; 130 interrupted."
)]
pub(super) struct Arguments {
    /// The receiver under examination, and its arguments
    #[arg(last = true, required_unless_present_any = ["list", "port"], conflicts_with = "port", value_name = "COMMAND")]
    command: Vec<String>,
    /// Print the cases that are meant, and examine nothing
    #[arg(long)]
    list: bool,
    /// Only cases whose id matches this pattern (`*` any text, `?` any letter); may be given more than once
    #[arg(long, value_name = "GLOB")]
    only: Vec<String>,
    /// Leave out cases whose id matches this pattern; may be given more than once
    #[arg(long, value_name = "GLOB")]
    skip: Vec<String>,
    /// A SHOULD that is not met, or a case that the receiver leaves out, counts as failed too (but section 10 may be
    /// left out as a whole)
    #[arg(long)]
    strict: bool,
    /// Put this capture to the receiver instead of the cases, and compare with the reference receiver;
    /// may be given more than once
    #[arg(long, value_name = "FILE")]
    case: Vec<PathBuf>,
    /// How packets come: `packet` or `stream`. Without it, as each case has it
    #[arg(long, value_name = "MODE", value_parser = mode)]
    mode: Option<Mode>,
    /// How many random cases
    #[arg(long, value_name = "N", default_value_t = 50)]
    random: u32,
    /// Seed of the random cases and of the soak
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Length of the soak, simulated days; 0 for none
    #[arg(long, value_name = "DAYS", default_value_t = 30)]
    soak: u32,
    /// How long a reply may take, s
    #[arg(long, value_name = "SECONDS", default_value = "2", value_parser = seconds)]
    timeout: Duration,
    /// Verdicts that are expected; whatever comes otherwise, better or worse, is told and exits with 1
    #[arg(long, value_name = "FILE")]
    expected: Option<PathBuf>,
    /// Write this time's verdicts as a file for --expected
    #[arg(long, value_name = "FILE")]
    write_expected: Option<PathBuf>,
    /// Write a report as `JUnit` XML
    #[arg(long, value_name = "FILE")]
    junit: Option<PathBuf>,
    /// Write a report as JSON
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    /// Examine firmware at the end of this port instead: tcp:HOST:PORT, pty:LINK or serial:DEVICE[:BAUD]
    #[arg(long, value_name = "PORT", requires = "verdicts")]
    port: Option<PortName>,
    /// Where the firmware's events come from: `-`, `file:PATH` (a log that grows), or a PORT to listen at
    #[arg(long, value_name = "PORT", requires = "port")]
    verdicts: Option<PortName>,
    /// How the firmware forgets before each case: `reopen` (the port is closed and opened), or a shell command
    #[arg(long, value_name = "HOW", default_value = "reopen", requires = "port")]
    reset: String,
    /// How fast a case goes over the port: `real`, `60x` (any factor), `max`, or `step`
    #[arg(long, default_value = "max", requires = "port")]
    pace: Pace,
    /// Give up when nobody came to the port within so many seconds
    #[arg(long, value_name = "SECONDS", requires = "port")]
    peer_within: Option<u64>,
    /// Where to put the smallest captures found with which random cases fail
    #[arg(long, value_name = "DIR", default_value = "examination")]
    captures: PathBuf,
}

fn mode(text: &str) -> Result<Mode, String> {
    match text {
        "packet" => Ok(Mode::Packet),
        "stream" => Ok(Mode::Stream),
        _ => Err("allowed are packet and stream".into()),
    }
}

fn seconds(text: &str) -> Result<Duration, String> {
    let number: f64 = text.parse().map_err(|_| "not a number of seconds")?;
    Duration::try_from_secs_f64(number)
        .ok()
        .filter(|time| !time.is_zero())
        .ok_or_else(|| "allowed is more than 0".into())
}

/// The cases that are meant.
fn chosen(arguments: &Arguments) -> Result<Vec<Case>, Failure> {
    let mut chosen = Vec::new();
    for path in &arguments.case {
        let case = replay::case_of(path)
            .map_err(|error| Failure::Input(format!("error: {}: {error}", path.display())))?;
        chosen.push(case);
    }
    if arguments.case.is_empty() {
        chosen = cases::all(Choice {
            soak_days: arguments.soak,
            seed: arguments.seed,
            random: arguments.random,
        });
    }
    chosen.retain(|case| is_meant(&case.id, &arguments.only, &arguments.skip));
    match arguments.mode {
        Some(Mode::Stream) => {
            chosen = chosen.iter().map(Case::on_a_stream).collect();
        }
        Some(Mode::Packet) => chosen.retain(|case| case.mode == Mode::Packet),
        None => {}
    }
    if chosen.is_empty() {
        return Err(Failure::Input(
            "error: no case is left: see with --list what --only, --skip and --mode leave".into(),
        ));
    }
    Ok(chosen)
}

pub(super) fn run(arguments: &Arguments) -> Result<(), Failure> {
    let chosen = chosen(arguments)?;
    if arguments.list {
        return print(list(&chosen).as_bytes());
    }
    let expected = arguments
        .expected
        .as_deref()
        .map(read_expected)
        .transpose()?;
    let stop = telling::stop_on_interrupt();
    if let (Some(to), Some(verdicts)) = (&arguments.port, &arguments.verdicts) {
        return port::run(arguments, (to, verdicts), &chosen, expected.as_ref(), &stop);
    }
    let options = Options {
        timeout: arguments.timeout,
        seed: arguments.seed,
        stop: stop.clone(),
    };
    let mut child = Child::start(&arguments.command, options).map_err(|unfit| match unfit {
        Unfit::Interrupted => Failure::Interrupted,
        other => Failure::Port(format!("error: {other}")),
    })?;
    let begin = Instant::now();
    let desk = RefCell::new(Desk::new(&chosen));
    let outcomes = crate::examine::run(
        &chosen,
        &mut child,
        &mut |_, step| desk.borrow_mut().progress(step),
        &mut |case, outcome, receiver| {
            if outcome.verdict == Verdict::Pass {
                desk.borrow_mut().done(case);
                return Ok(());
            }
            let smaller = smaller(arguments, case, outcome, receiver, &stop)?;
            desk.borrow_mut().tell(case, outcome, smaller);
            Ok(())
        },
    )
    .map_err(|_| Failure::Interrupted)?;
    let mut desk = desk.into_inner();
    desk.bar.finish();
    let name = child.name.clone();
    let starts = child.starts;
    child.bye();
    desk.text.push_str(&summary(
        &outcomes,
        &name,
        starts,
        desk.steps,
        begin.elapsed(),
    ));
    write_reports(arguments, &outcomes, &name)?;
    conclude(arguments, desk.text, &outcomes, expected.as_ref())
}

fn list(cases: &[Case]) -> String {
    let mut text = String::new();
    for case in cases {
        let _ = writeln!(
            text,
            "{:<6}  {}\n        {}",
            case.level, case.id, case.sentence
        );
    }
    let _ = writeln!(text, "{} cases", cases.len());
    text
}

fn read_expected(path: &Path) -> Result<Expected, Failure> {
    let problem = |why: String| Failure::Input(format!("error: {}: {why}", path.display()));
    let text =
        fs::read_to_string(path).map_err(|error| problem(format!("cannot be read: {error}")))?;
    let expected: Expected = serde_json::from_str(&text)
        .map_err(|error| problem(format!("is no file of --write-expected: {error}")))?;
    if expected.examination != crate::examine::EXAMINATION {
        return Err(problem(format!(
            "belongs to examination {}, this is {}",
            expected.examination,
            crate::examine::EXAMINATION
        )));
    }
    Ok(expected)
}

/// Where results go while the examination is under way.
struct Desk {
    bar: Bar,
    text: String,
    /// Steps put to the receiver, and of the case under way.
    steps: u64,
    last: u64,
}

impl Desk {
    fn new(cases: &[Case]) -> Self {
        let steps = cases.iter().map(Case::len).sum();
        Self {
            bar: Bar::new(steps),
            text: String::new(),
            steps: 0,
            last: 0,
        }
    }

    fn progress(&mut self, step: u64) {
        self.last = step;
        self.bar.progress(step);
    }

    fn done(&mut self, case: &Case) {
        self.steps += std::mem::take(&mut self.last);
        self.bar.done(case);
    }

    fn tell(&mut self, case: &Case, outcome: &Outcome, smaller: Option<String>) {
        let mut text = format!(
            "{:<8}{:<7}{}\n        {}\n",
            outcome.verdict.word(),
            outcome.level,
            outcome.id,
            outcome.sentence
        );
        for line in outcome
            .verdict
            .story()
            .lines()
            .chain(smaller.iter().flat_map(|text| text.lines()))
        {
            let _ = writeln!(text, "        {line}");
        }
        text.push('\n');
        self.text.push_str(&text);
        self.done(case);
    }
}

/// Progress, where somebody is watching.
struct Bar {
    bar: ProgressBar,
    before: u64,
}

impl Bar {
    fn new(steps: u64) -> Self {
        let bar = if io::stderr().is_terminal() {
            ProgressBar::new(steps)
        } else {
            ProgressBar::hidden()
        };
        if let Ok(style) = ProgressStyle::with_template("{wide_bar} {percent} %  {eta} to go") {
            bar.set_style(style);
        }
        bar.enable_steady_tick(Duration::from_millis(200));
        Self { bar, before: 0 }
    }
    fn progress(&self, step: u64) {
        self.bar.set_position(self.before + step);
    }
    fn done(&mut self, case: &Case) {
        self.before += case.len();
        self.bar.set_position(self.before);
    }
    fn finish(&self) {
        self.bar.finish_and_clear();
    }
}

/// A case made of packets alone that nobody wrote by hand is made as small as it can be, and kept.
fn smaller(
    arguments: &Arguments,
    case: &Case,
    outcome: &Outcome,
    receiver: &mut Child,
    stop: &Stop,
) -> Result<Option<String>, Trouble> {
    let is_random = case.id.starts_with("W7/random-");
    let is_kept = is_random || !arguments.case.is_empty();
    if !is_kept || !outcome.is_miss() || receiver.is_hopeless() || stop.is_asked() {
        return Ok(None);
    }
    let packets = match case.mode {
        Mode::Packet => replay::packets_of(case),
        // What was sent is the same; only its way differs.
        Mode::Stream => packets_before_framing(arguments, case),
    };
    let Some(packets) = packets else {
        return Ok(None);
    };
    let (few, verdict) = replay::shrink(case, &packets, outcome.verdict.clone(), receiver)?;
    let name = case.id.replace(['/', '.'], "-");
    let path = arguments.captures.join(format!("{name}.ndjson"));
    let title = format!("{} at its smallest", case.id);
    let written = fs::create_dir_all(&arguments.captures)
        .and_then(|()| replay::write(&path, &title, arguments.seed, &case.setup, &few));
    let mut text = format!("smallest found: {} of {} packets", few.len(), packets.len());
    match written {
        Ok(()) => {
            let stream = if case.mode == Mode::Stream {
                " --mode stream"
            } else {
                ""
            };
            let command: Vec<String> = arguments.command.iter().map(|word| quoted(word)).collect();
            let _ = write!(
                text,
                "; with them it goes so:\n{}\nreplay: benchmast examine --case {}{stream} -- {}",
                verdict.story(),
                quoted(&path.display().to_string()),
                command.join(" ")
            );
        }
        Err(error) => {
            let _ = write!(text, ", but {} cannot be written: {error}", path.display());
        }
    }
    Ok(Some(text))
}

/// The packets of a case that was put on a stream.
fn packets_before_framing(arguments: &Arguments, case: &Case) -> Option<Vec<replay::Heard>> {
    let number = case
        .id
        .strip_prefix(&format!("W7/random-{}-", arguments.seed))
        .and_then(|number| number.parse().ok());
    match number {
        Some(number) => Some(cases::any_script(arguments.seed, number)),
        None => arguments.case.iter().find_map(|path| {
            let from_file = replay::case_of(path).ok()?;
            (from_file.id == case.id).then(|| replay::packets_of(&from_file))?
        }),
    }
}

/// A word as a shell takes it for one.
fn quoted(word: &str) -> String {
    let is_plain = |letter: char| letter.is_ascii_alphanumeric() || "-_./:=+,@%".contains(letter);
    if !word.is_empty() && word.chars().all(is_plain) {
        word.to_owned()
    } else {
        format!("'{}'", word.replace('\'', r"'\''"))
    }
}

fn summary(outcomes: &[Outcome], name: &str, starts: u64, steps: u64, time: Duration) -> String {
    let counts: Vec<String> = results::counts(outcomes)
        .iter()
        .map(|(word, count)| format!("{count} {word}"))
        .collect();
    let mut clauses: Vec<&str> = outcomes
        .iter()
        .filter(|outcome| outcome.is_miss())
        .filter_map(|outcome| outcome.clauses.first().map(String::as_str))
        .collect();
    clauses.sort_unstable();
    clauses.dedup();
    let mut text = format!(
        "{name}: {} cases: {}. {steps} steps in {:.1} s, {:.0} a second.\n",
        outcomes.len(),
        counts.join(", "),
        time.as_secs_f64(),
        steps as f64 / time.as_secs_f64().max(1e-9),
    );
    if starts > 1 {
        let _ = writeln!(text, "The receiver was started {starts} times.");
    }
    if !clauses.is_empty() {
        let _ = writeln!(text, "Clauses not met: {}.", clauses.join(", "));
    }
    text
}

fn write_reports(arguments: &Arguments, outcomes: &[Outcome], name: &str) -> Result<(), Failure> {
    let write = |path: &Option<PathBuf>, text: &dyn Fn() -> String| match path {
        Some(path) => fs::write(path, text())
            .map_err(|error| Failure::writing(&path.display().to_string(), &error)),
        None => Ok(()),
    };
    write(&arguments.junit, &|| results::junit(outcomes, name))?;
    write(&arguments.json, &|| {
        format!("{:#}\n", results::json(outcomes, name, arguments.seed))
    })?;
    write(&arguments.write_expected, &|| {
        let expected = serde_json::json!(Expected::of(outcomes));
        format!("{expected:#}\n")
    })
}

fn conclude(
    arguments: &Arguments,
    mut text: String,
    outcomes: &[Outcome],
    expected: Option<&Expected>,
) -> Result<(), Failure> {
    let is_good = match expected {
        Some(expected) => {
            let mut is_good = true;
            for outcome in expected.differing(outcomes) {
                is_good = false;
                let _ = writeln!(
                    text,
                    "not as expected: {} {}, expected {}",
                    outcome.id,
                    outcome.verdict.word(),
                    expected.word(&outcome.id)
                );
            }
            if is_good {
                text.push_str("All as expected.\n");
            }
            is_good
        }
        None => results::is_passed(outcomes, arguments.strict),
    };
    print(text.as_bytes())?;
    if is_good || arguments.write_expected.is_some() && expected.is_none() {
        Ok(())
    } else {
        Err(Failure::Check)
    }
}
