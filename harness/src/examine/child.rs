//! A receiver as a child process: started, talked to line by line, killed and started again.

use super::judge::{Answer, Examinee, Trouble};
use super::message::{self, LONGEST_LINE, Reply};
use super::script::{Case, Step};
use crate::ports::Stop;
use benchmast_protocol::packet::HeadId;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::os::unix::process::CommandExt;
use std::process::{ChildStdin, ChildStdout, Command, ExitStatus, Stdio};
use std::time::{Duration, Instant};

/// Longest time until a request to stop is noticed.
const SLICE: Duration = Duration::from_millis(100);
/// How long a receiver that was told `bye`, or has closed its output, may take to end.
const FAREWELL: Duration = Duration::from_millis(500);
/// As much of a wrong line as is shown, bytes.
const EXCERPT: usize = 120;
/// As much of the receiver's log as is looked at, bytes.
const LOG: u64 = 2048;

/// Makes a request of a number and a word.
type Request = fn(u64, &str) -> String;

/// How to treat the child.
#[derive(Debug, Clone)]
pub struct Options {
    /// How long a reply may take.
    pub timeout: Duration,
    /// Seed of the examination, for the child to know.
    pub seed: u64,
    /// Ends every wait.
    pub stop: Stop,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            timeout: Duration::from_secs(2),
            seed: 1,
            stop: Stop::default(),
        }
    }
}

/// A receiver that cannot be examined at all.
#[derive(Debug, thiserror::Error)]
pub enum Unfit {
    /// The command cannot be started.
    #[error("cannot start {command:?}: {reason}{advice}")]
    Start {
        /// The command's first word.
        command: String,
        /// What the operating system says.
        reason: String,
        /// The way out.
        advice: String,
    },
    /// It does not answer `hello`.
    #[error("the receiver does not answer hello: {0}")]
    Hello(String),
    /// It answers what nobody can know.
    #[error("the canary: {0}")]
    Canary(String),
    /// Somebody has asked to stop.
    #[error("interrupted")]
    Interrupted,
}

#[derive(Debug)]
struct Running {
    process: std::process::Child,
    stdin: ChildStdin,
    stdout: ChildStdout,
    /// What has been read, and how much of it was used.
    buffer: Vec<u8>,
    used: usize,
}

impl Drop for Running {
    /// With its own children: a command may be a shell that starts the receiver.
    fn drop(&mut self) {
        if let Some(group) = i32::try_from(self.process.id())
            .ok()
            .and_then(rustix::process::Pid::from_raw)
        {
            let _ = rustix::process::kill_process_group(group, rustix::process::Signal::KILL);
        }
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// A receiver under examination, running or to be started again.
#[derive(Debug)]
pub struct Child {
    command: Vec<String>,
    options: Options,
    running: Option<Running>,
    /// The child's standard error.
    log: File,
    log_from: u64,
    last_id: u64,
    line: String,
    /// Its own name and version, as far as it says.
    pub name: String,
    /// How often it was started.
    pub starts: u64,
    /// Starts in a row that did not get as far as the reply to `hello`.
    failed_starts: u32,
    /// Somebody was told to flush.
    has_hinted: bool,
}

impl Child {
    /// Start the receiver, and see that it does not agree to everything.
    ///
    /// # Errors
    /// [`Unfit`]
    pub fn start(command: &[String], options: Options) -> Result<Self, Unfit> {
        let log = tempfile::tempfile().map_err(|error| Unfit::Start {
            command: command.first().cloned().unwrap_or_default(),
            reason: format!("no temporary file for its log: {error}"),
            advice: String::new(),
        })?;
        let mut child = Self {
            command: command.to_vec(),
            options,
            running: None,
            log,
            log_from: 0,
            last_id: 0,
            line: String::new(),
            name: String::new(),
            starts: 0,
            failed_starts: 0,
            has_hinted: false,
        };
        child.launch()?;
        child.hello().map_err(|trouble| match trouble {
            Trouble::Interrupted => Unfit::Interrupted,
            Trouble::Crash(text) | Trouble::Timeout(text) | Trouble::Garbled(text) => {
                Unfit::Hello(text)
            }
        })?;
        child.canary()?;
        Ok(child)
    }

    fn launch(&mut self) -> Result<(), Unfit> {
        let (program, arguments) = self.command.split_first().ok_or_else(|| Unfit::Start {
            command: String::new(),
            reason: "no command is given".into(),
            advice: "; as in `benchmast examine -- python3 my_receiver.py`".into(),
        })?;
        let unfit = |error: &io::Error| {
            let reason = error.to_string();
            Unfit::Start {
                command: program.clone(),
                reason: reason.split(" (os error").next().unwrap_or(&reason).to_owned(),
                advice: match error.kind() {
                    io::ErrorKind::NotFound if program.contains('/') => {
                        "; is the path right, seen from here?".into()
                    }
                    io::ErrorKind::NotFound if std::path::Path::new(program).exists() => {
                        format!("; a file here needs its path: ./{program}")
                    }
                    io::ErrorKind::NotFound => "; is it installed, and on the PATH?".into(),
                    io::ErrorKind::PermissionDenied => {
                        "; is it executable, or does it need its interpreter before it, as in `python3 FILE`?".into()
                    }
                    _ => String::new(),
                },
            }
        };
        self.log_from = self.log.seek(SeekFrom::End(0)).unwrap_or(0);
        let log = self.log.try_clone().map_err(|error| unfit(&error))?;
        let mut process = Command::new(program)
            .args(arguments)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(log)
            .process_group(0)
            .spawn()
            .map_err(|error| unfit(&error))?;
        let (Some(stdin), Some(stdout)) = (process.stdin.take(), process.stdout.take()) else {
            return Err(unfit(&io::Error::other("it has no pipes")));
        };
        self.starts += 1;
        self.running = Some(Running {
            process,
            stdin,
            stdout,
            buffer: Vec::with_capacity(4096),
            used: 0,
        });
        Ok(())
    }

    fn hello(&mut self) -> Result<(), Trouble> {
        let id = self.next_id();
        let line = message::hello(id, self.options.seed);
        let name = self.ask(id, &line, |reply| {
            if reply.unsupported {
                return Err("hello is unsupported".into());
            }
            Ok(match (&reply.name, &reply.version) {
                (Some(name), Some(version)) => format!("{name} {version}"),
                (Some(name), None) => name.clone(),
                (None, _) => "a receiver without a name".into(),
            })
        })?;
        self.name = name;
        Ok(())
    }

    fn canary(&mut self) -> Result<(), Unfit> {
        // Not always the same word, so that nobody can know it.
        let word = format!(
            "zz-canary-{:08x}",
            self.options.seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) >> 32
        );
        let requests: [(&str, Request); 2] = [
            ("a request that there is not", message::bare),
            ("a mode that there is not", message::canary),
        ];
        for (what, request) in requests {
            let id = self.next_id();
            let line = request(id, &word);
            let agrees = self.ask(id, &line, |reply| {
                Ok(!reply.unsupported && reply.skip.is_none())
            });
            match agrees {
                Ok(false) => {}
                Ok(true) => {
                    return Err(Unfit::Canary(format!(
                        "the receiver agrees to {what}; it must answer {{\"id\":{id},\"unsupported\":true}}"
                    )));
                }
                Err(Trouble::Interrupted) => return Err(Unfit::Interrupted),
                Err(Trouble::Crash(text) | Trouble::Timeout(text) | Trouble::Garbled(text)) => {
                    return Err(Unfit::Canary(format!(
                        "to {what} the receiver must answer {{\"id\":{id},\"unsupported\":true}}: {text}"
                    )));
                }
            }
        }
        Ok(())
    }

    /// Say goodbye and wait a little for the receiver to end.
    pub fn bye(mut self) {
        if self.running.is_some() {
            let id = self.next_id();
            let line = message::bare(id, "bye");
            let _ = self.ask(id, &line, |_| Ok(()));
            if let Some(running) = &mut self.running {
                let _ = ended(&mut running.process, FAREWELL);
            }
        }
    }

    fn next_id(&mut self) -> u64 {
        self.last_id += 1;
        self.last_id
    }

    /// One request and its reply. Whatever goes wrong, the child is killed.
    fn ask<T>(
        &mut self,
        id: u64,
        line: &str,
        read: impl FnOnce(&Reply<'_>) -> Result<T, String>,
    ) -> Result<T, Trouble> {
        if self.running.is_none() {
            // Unfit once, unfit for this case; the examiner gives up when it stays so.
            self.failed_starts += 1;
            self.launch()
                .map_err(|unfit| Trouble::Crash(unfit.to_string()))?;
            self.hello()?;
            self.failed_starts = 0;
        }
        let done = self.exchange(id, line, read);
        if done.is_err() {
            self.running = None;
        }
        done
    }

    fn exchange<T>(
        &mut self,
        id: u64,
        line: &str,
        read: impl FnOnce(&Reply<'_>) -> Result<T, String>,
    ) -> Result<T, Trouble> {
        let Some(running) = &mut self.running else {
            return Err(Trouble::Crash("the receiver is not running".into()));
        };
        let mut request = Vec::with_capacity(line.len() + 1);
        request.extend_from_slice(line.as_bytes());
        request.push(b'\n');
        if running.stdin.write_all(&request).is_err() {
            return Err(self.crash("closed its input"));
        }
        let end = match running.line(self.options.timeout, &self.options.stop) {
            Ok(end) => end,
            Err(Silence::Stopped) => return Err(Trouble::Interrupted),
            Err(Silence::Late) => {
                let hint = if std::mem::replace(&mut self.has_hinted, true) {
                    ""
                } else {
                    "\nDoes the receiver flush its standard output after every line?"
                };
                return Err(Trouble::Timeout(format!(
                    "no reply within {} s to {}{hint}",
                    self.options.timeout.as_secs_f64(),
                    excerpt(line.as_bytes())
                )));
            }
            Err(Silence::TooLong) => {
                return Err(Trouble::Garbled(format!(
                    "a line of more than {LONGEST_LINE} bytes"
                )));
            }
            Err(Silence::Ended) => return Err(self.crash("closed its output")),
        };
        let text = &running.buffer[running.used..end];
        let garbled = |why: String| Trouble::Garbled(format!("{why}: {}", excerpt(text)));
        let reply: Reply<'_> = serde_json::from_slice(text)
            .map_err(|error| garbled(format!("no reply of EXAMINATION.md ({})", plain(&error))))?;
        if reply.id != Some(id) {
            return Err(garbled(format!("a reply to another request than {id}")));
        }
        let found = read(&reply).map_err(garbled)?;
        running.used = end + 1;
        Ok(found)
    }

    /// The receiver has ended: how, and what it has logged last.
    fn crash(&mut self, what: &str) -> Trouble {
        let status = self
            .running
            .as_mut()
            .and_then(|running| ended(&mut running.process, FAREWELL));
        let mut text = match status {
            Some(status) => format!("the receiver has ended: {status}"),
            None => format!("the receiver {what}"),
        };
        let log = self.log_tail();
        if !log.is_empty() {
            text.push_str("\nit has logged: ");
            text.push_str(&log.join("\n  "));
        }
        Trouble::Crash(text)
    }

    /// The last lines of what this start of the child wrote on its standard error.
    fn log_tail(&mut self) -> Vec<String> {
        let mut bytes = Vec::new();
        let end = self.log.seek(SeekFrom::End(0)).unwrap_or(0);
        let from = self.log_from.max(end.saturating_sub(LOG));
        let read = self
            .log
            .seek(SeekFrom::Start(from))
            .and_then(|_| (&self.log).take(LOG).read_to_end(&mut bytes));
        let _ = self.log.seek(SeekFrom::End(0));
        if read.is_err() {
            return Vec::new();
        }
        let text = String::from_utf8_lossy(&bytes);
        let lines: Vec<&str> = text
            .lines()
            .filter(|line| !line.trim().is_empty())
            .collect();
        let from = lines.len().saturating_sub(4);
        lines[from..]
            .iter()
            .map(|line| (*line).to_owned())
            .collect()
    }
}

/// Why there is no line.
enum Silence {
    Late,
    TooLong,
    Ended,
    Stopped,
}

impl Running {
    /// Where the next line ends, without its line feed; it begins at `used`.
    fn line(&mut self, timeout: Duration, stop: &Stop) -> Result<usize, Silence> {
        if self.used == self.buffer.len() {
            self.buffer.clear();
            self.used = 0;
        }
        let mut looked = self.used;
        let mut begin: Option<Instant> = None;
        loop {
            let found = self.buffer[looked..].iter().position(|byte| *byte == b'\n');
            if let Some(at) = found {
                return Ok(looked + at);
            }
            looked = self.buffer.len();
            if looked - self.used >= LONGEST_LINE {
                return Err(Silence::TooLong);
            }
            let begin = *begin.get_or_insert_with(Instant::now);
            loop {
                let left = timeout.saturating_sub(begin.elapsed());
                if left.is_zero() {
                    return Err(Silence::Late);
                }
                if stop.is_asked() {
                    return Err(Silence::Stopped);
                }
                if readable(&self.stdout, left.min(SLICE)) {
                    break;
                }
            }
            let mut chunk = [0; 4096];
            match self.stdout.read(&mut chunk) {
                Ok(0) => return Err(Silence::Ended),
                Ok(count) => self.buffer.extend_from_slice(&chunk[..count]),
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(_) => return Err(Silence::Ended),
            }
        }
    }
}

fn readable(stdout: &ChildStdout, time: Duration) -> bool {
    let time = Timespec {
        tv_sec: i64::try_from(time.as_secs()).unwrap_or(i64::MAX),
        tv_nsec: time.subsec_nanos().into(),
    };
    let mut fds = [PollFd::new(stdout, PollFlags::IN)];
    // A signal counts as nothing yet; any other trouble shows when it is read.
    !matches!(
        poll(&mut fds, Some(&time)),
        Ok(0) | Err(rustix::io::Errno::INTR)
    )
}

/// How the process has ended, if it does so in time.
fn ended(process: &mut std::process::Child, within: Duration) -> Option<ExitStatus> {
    let begin = Instant::now();
    loop {
        match process.try_wait() {
            Ok(Some(status)) => return Some(status),
            Ok(None) if begin.elapsed() < within => std::thread::sleep(Duration::from_millis(2)),
            _ => return None,
        }
    }
}

/// The beginning of a line, fit to be printed.
fn excerpt(line: &[u8]) -> String {
    let (begin, more) = match line.get(..EXCERPT) {
        Some(begin) if line.len() > EXCERPT => (begin, "..."),
        _ => (line, ""),
    };
    if begin.is_empty() {
        return "an empty line".into();
    }
    format!("{}{more}", String::from_utf8_lossy(begin).escape_debug())
}

/// The parser's words without its line, which is always 1.
fn plain(error: &serde_json::Error) -> String {
    error.to_string().replace(" at line 1 column", " at byte")
}

impl Examinee for Child {
    fn open(&mut self, case: &Case) -> Result<Option<String>, Trouble> {
        let id = self.next_id();
        let line = message::open(id, case);
        self.ask(id, &line, |reply| {
            Ok(match (&reply.skip, reply.unsupported) {
                (Some(reason), _) => Some(reason.clone()),
                (None, true) => Some(format!("mode {} is unsupported", case.mode)),
                (None, false) => None,
            })
        })
    }

    fn take(&mut self, step: &Step, answer: &mut Answer) -> Result<(), Trouble> {
        let id = self.next_id();
        let mut line = std::mem::take(&mut self.line);
        line.clear();
        message::step(&mut line, id, step);
        answer.events.clear();
        answer.fields = None;
        let done = self.ask(id, &line, |reply| {
            let events = reply.events.as_ref().ok_or("a reply without events")?;
            for raw in events {
                let told = raw.told();
                if told.has_fields() && raw.fields.is_some() {
                    answer.fields.clone_from(&raw.fields);
                }
                answer.events.push(told);
            }
            Ok(())
        });
        self.line = line;
        done
    }

    fn tips(&mut self) -> Result<Option<Vec<(HeadId, u64)>>, Trouble> {
        let id = self.next_id();
        let line = message::bare(id, "state");
        self.ask(id, &line, |reply| {
            if reply.unsupported {
                return Ok(None);
            }
            let tips = reply.tips().ok_or("a state without heads")?;
            Ok(Some(tips))
        })
    }

    fn close(&mut self) -> Result<(), Trouble> {
        let id = self.next_id();
        let line = message::bare(id, "close");
        self.ask(id, &line, |_| Ok(()))
    }

    fn is_hopeless(&self) -> bool {
        self.failed_starts >= super::HOPELESS_AFTER
    }
}
