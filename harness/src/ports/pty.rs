//! `pty:LINK` to send to: a terminal of our own making, for programs that read a serial line.
//!
//! How Linux behaves, measured on 6.18: while nobody has the terminal open, its master reports a hang-up;
//! what a reader has left unread is kept for the next; what is unread when the master closes is lost.
//! A terminal that was never set passes no control bytes and echoes what it gets.

use super::{Absent, PortName, Report, SendOptions, because, framing, terminal, told, wait};
use rustix::event::PollFlags;
use rustix::fs::{Mode, OFlags};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{QueueSelector, tcflush};
use std::ffi::OsString;
use std::fs::{self, File};
use std::io::{self, Read, Write};
use std::os::fd::OwnedFd;
use std::os::unix::ffi::OsStringExt;
use std::os::unix::fs::symlink;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Between two looks whether a reader is there.
const AGAIN_AFTER: Duration = Duration::from_millis(10);
/// A reader that has just opened the terminal may set it first and throw away what is in it.
const SETTLE: Duration = Duration::from_millis(100);
/// Bytes are on their way through the kernel for a moment, so an empty queue counts only when it stays
/// empty for this many looks.
const EMPTY_LOOKS: u32 = 8;

/// The master's side of a terminal, and the link that leads to the other side.
#[derive(Debug)]
pub(super) struct Line {
    name: PortName,
    options: SendOptions,
    master: File,
    terminal: PathBuf,
    link: PathBuf,
    reader: bool,
    report: Report,
}

impl Line {
    pub(super) fn open(name: PortName, link: &Path, options: SendOptions) -> io::Result<Self> {
        let (master, terminal) = make_terminal()
            .map_err(|error| because(&name, &error, "this machine gives out no terminal"))?;
        publish(&name, link, &terminal)?;
        let mut line = Self {
            name,
            options,
            master,
            terminal,
            link: link.to_owned(),
            reader: false,
            report: Report::default(),
        };
        // Only now, so that whatever sets it cannot come in between.
        line.wait_for_reader()?;
        Ok(line)
    }

    pub(super) fn send(&mut self, frame: &[u8]) -> io::Result<()> {
        loop {
            if !self.has_reader()? {
                if self.options.absent == Absent::Wait {
                    self.wait_for_reader()?;
                } else if !self.meet_reader()? {
                    self.report.missed += 1;
                    return Ok(());
                }
            }
            // The whole packet again for the next reader; the last one can have had a part of it.
            if self.hand_over(frame)? {
                self.report.sent += 1;
                return Ok(());
            }
        }
    }

    /// Whether the terminal took all of it; `false` when its reader has gone.
    fn hand_over(&mut self, mut frame: &[u8]) -> io::Result<bool> {
        self.discard_answers();
        while !frame.is_empty() {
            match self.master.write(frame) {
                Ok(count) => frame = &frame[count..],
                Err(error) if error.kind() == io::ErrorKind::WouldBlock => {
                    wait::until(&self.master, PollFlags::OUT, None, &self.options.stop)?;
                    if !self.has_reader()? {
                        return Ok(false);
                    }
                    self.discard_answers();
                }
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => {
                    return Err(because(&self.name, &error, "the terminal takes no more"));
                }
            }
        }
        Ok(true)
    }

    /// What the reader writes would stop it one day if nobody took it.
    fn discard_answers(&mut self) {
        let mut scratch = [0; 512];
        while let Ok(count) = self.master.read(&mut scratch) {
            if count == 0 {
                break;
            }
            self.report.answered += count as u64;
        }
    }

    /// Whether the reader is still there; tells when it has gone.
    fn has_reader(&mut self) -> io::Result<bool> {
        if self.reader && !is_open(&self.master)? {
            self.reader = false;
            let text = format!("the reader of {} has gone", self.link.display());
            (self.options.notice)(&text);
            self.discard_answers();
            let terminal = open_terminal(&self.terminal)?;
            if self.options.absent == Absent::Drop {
                // What is dropped begins with what it has left; the next reader gets nothing stale.
                self.report.unread += rustix::io::ioctl_fionread(&terminal)?;
                tcflush(&terminal, QueueSelector::IFlush)?;
            }
            // It may have set the terminal to its own taste.
            terminal::make_raw(&terminal)?;
        }
        Ok(self.reader)
    }

    /// Whether somebody has opened the terminal, and has not only looked; then its stream is opened.
    fn meet_reader(&mut self) -> io::Result<bool> {
        if !is_open(&self.master)? {
            return Ok(false);
        }
        self.options.stop.sleep(SETTLE)?;
        if !is_open(&self.master)? {
            return Ok(false);
        }
        self.reader = true;
        self.report.peers += 1;
        self.hand_over(framing::OPENING)
    }

    fn wait_for_reader(&mut self) -> io::Result<()> {
        let waiting = format!("waiting for a reader of {}", self.link.display());
        let advice = "nobody has opened it; start the reader, or allow more time";
        let mut patience = wait::Patience::new();
        while !self.meet_reader()? {
            let words = (waiting.as_str(), advice);
            patience.go_on(&self.name, &mut self.options, words, AGAIN_AFTER)?;
        }
        Ok(())
    }

    pub(super) const fn report(&self) -> Report {
        self.report
    }

    /// Wait until the reader has read everything, then take the link away and close.
    pub(super) fn finish(mut self) -> io::Result<Report> {
        let end = Instant::now() + self.options.drain;
        let mut empty_looks = 0;
        let left = loop {
            self.discard_answers();
            let reader = is_open(&self.master)?;
            let left = rustix::io::ioctl_fionread(open_terminal(&self.terminal)?)?;
            empty_looks = if left == 0 { empty_looks + 1 } else { 0 };
            if empty_looks >= EMPTY_LOOKS
                || !reader
                || Instant::now() >= end
                || self.options.stop.sleep(AGAIN_AFTER).is_err()
            {
                break left;
            }
        };
        self.report.unread += left;
        self.report.drained = left == 0;
        Ok(self.report)
    }
}

impl Drop for Line {
    /// Before the terminal closes, so that nobody finds a link that leads nowhere.
    fn drop(&mut self) {
        if fs::read_link(&self.link).is_ok_and(|to| to == self.terminal) {
            // At worst a dead link stays, which the next sender replaces.
            let _ = fs::remove_file(&self.link);
        }
    }
}

pub(super) fn make_terminal() -> io::Result<(File, PathBuf)> {
    let master: OwnedFd = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY)?;
    rustix::io::fcntl_setfd(&master, rustix::io::FdFlags::CLOEXEC)?;
    grantpt(&master)?;
    unlockpt(&master)?;
    let name = ptsname(&master, Vec::new())?;
    let terminal = PathBuf::from(OsString::from_vec(name.into_bytes()));
    rustix::io::ioctl_fionbio(&master, true)?;
    // Opened and closed once: set for all who come, and from now on the hang-up tells of nobody there.
    terminal::make_raw(open_terminal(&terminal)?)?;
    Ok((File::from(master), terminal))
}

fn open_terminal(terminal: &Path) -> io::Result<OwnedFd> {
    let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::NONBLOCK | OFlags::CLOEXEC;
    Ok(rustix::fs::open(terminal, flags, Mode::empty())?)
}

/// Whether anybody has the terminal of this master open.
fn is_open(master: &File) -> io::Result<bool> {
    Ok(!wait::now(master, PollFlags::empty())?.contains(PollFlags::HUP))
}

/// Make the link, in place of a dead one of an earlier sender but of nothing else.
fn publish(name: &PortName, link: &Path, terminal: &Path) -> io::Result<()> {
    let exists = match symlink(terminal, link) {
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => error,
        outcome => {
            return outcome.map_err(|error| {
                because(
                    name,
                    &error,
                    "is its directory there and yours to write in?",
                )
            });
        }
    };
    let leads_to = fs::read_link(link).ok();
    let dead = |to: &PathBuf| to.as_path() == terminal || !to.exists();
    match leads_to.filter(|to| to.starts_with("/dev/pts")) {
        Some(to) if dead(&to) => {}
        Some(to) => {
            let text = format!(
                "its link leads to {}, a terminal in use; end the sender that uses it or, if none does, remove the link",
                to.display()
            );
            return Err(told(name, exists.kind(), text));
        }
        None => {
            let text = "something else has that name and is not overwritten; choose another name";
            return Err(told(name, exists.kind(), text));
        }
    }
    // Beside it first, then renamed: at no time does the name lead nowhere.
    let mut beside = link.as_os_str().to_owned();
    beside.push(format!(".{}", std::process::id()));
    symlink(terminal, &beside)
        .and_then(|()| fs::rename(&beside, link))
        .map_err(|error| because(name, &error, "the dead link there cannot be replaced"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_link_replaces_a_dead_one_and_nothing_else() {
        let room = tempfile::tempdir().expect("room");
        let link = room.path().join("head0");
        let name = PortName::Pty(link.clone());
        let (master, terminal) = make_terminal().expect("a terminal");
        let ours = || fs::read_link(&link).is_ok_and(|to| to == terminal);

        publish(&name, &link, &terminal).expect("new");
        assert!(ours());
        publish(&name, &link, &terminal).expect("left by one who had this terminal before");
        fs::remove_file(&link).expect("is there");
        symlink("/dev/pts/999999", &link).expect("new");
        publish(&name, &link, &terminal).expect("dead");
        assert!(ours());

        let (_other_master, other) = make_terminal().expect("a terminal");
        let error = publish(&name, &link, &other).expect_err("in use");
        assert!(error.to_string().contains("a terminal in use"), "{error}");
        assert!(ours());
        fs::remove_file(&link).expect("is there");
        for other in ["/dev/null", "nowhere"] {
            symlink(other, &link).expect("new");
            let error = publish(&name, &link, &terminal).expect_err("not ours");
            assert!(error.to_string().contains("is not overwritten"), "{error}");
            fs::remove_file(&link).expect("is there");
        }
        fs::write(&link, "precious").expect("new");
        let error = publish(&name, &link, &terminal).expect_err("not ours");
        assert!(error.to_string().contains("is not overwritten"), "{error}");
        assert_eq!(fs::read(&link).expect("is there"), b"precious");
        assert_eq!(fs::read_dir(room.path()).expect("room").count(), 1);
        drop(master);
    }

    #[test]
    fn the_terminal_passes_every_byte_and_echoes_none() {
        let (mut master, terminal) = make_terminal().expect("a terminal");
        let mut reader = File::from(open_terminal(&terminal).expect("ours"));
        let every: Vec<u8> = (0..=255).collect();
        master.write_all(&every).expect("room");
        let mut got = Vec::new();
        while got.len() < every.len() {
            let limit = Some(Duration::from_secs(20));
            let found = wait::until(&reader, PollFlags::IN, limit, &wait::Stop::default());
            assert!(!found.expect("a terminal").is_empty(), "only {got:?} came");
            let mut some = [0; 64];
            let count = reader.read(&mut some).expect("bytes are there");
            got.extend_from_slice(&some[..count]);
        }
        assert_eq!(got, every);
        let mut echo = [0; 1];
        let error = master.read(&mut echo).expect_err("nothing is echoed");
        assert_eq!(error.kind(), io::ErrorKind::WouldBlock);
    }
}
