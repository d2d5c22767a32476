//! Pseudo-terminals with real readers on the other side.

use super::*;
use std::path::Path;
use std::process::{Command, Stdio};

/// A link in a room of its own.
fn pty() -> (tempfile::TempDir, std::path::PathBuf, PortName) {
    let room = tempfile::tempdir().expect("room");
    let link = room.path().join("head0");
    let port = name(&format!("pty:{}", link.display()));
    (room, link, port)
}

/// Take at least `count` bytes from the terminal, as any program would that knows nothing of it.
fn take(link: &Path, count: usize) -> Vec<u8> {
    let mut terminal = fs::File::open(link).expect("the link leads to a terminal");
    let mut bytes = vec![0; count];
    terminal.read_exact(&mut bytes).expect("bytes come");
    bytes
}

#[test]
fn another_process_reads_a_terminal_that_passes_every_byte() {
    let (_room, link, port) = pty();
    let sending = send_all(&port, patient(), packets(500));
    eventually(|| link.exists());
    // A reader that comes late, and sets nothing.
    thread::sleep(Duration::from_millis(100));
    let reader = Command::new("cat")
        .arg(&link)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("cat");
    let report = join(sending).expect("sent");
    let output = join(thread::spawn(|| reader.wait_with_output())).expect("cat ends");
    assert_eq!(deframe(&output.stdout), packets(500));
    assert_eq!((report.sent, report.missed, report.unread), (500, 0, 0));
    assert_eq!(report.answered, 0, "nothing is echoed");
    assert!(report.drained);
    assert!(fs::symlink_metadata(&link).is_err(), "the link is gone");
}

#[test]
fn a_slow_reader_of_a_terminal_loses_nothing() {
    let (_room, link, port) = pty();
    // Several times what the kernel keeps for a terminal.
    let sending = send_all(&port, patient(), packets(4_000));
    eventually(|| link.exists());
    let mut terminal = fs::File::open(&link).expect("a terminal");
    let (mut all, mut some) = (Vec::new(), [0; 1_000]);
    while let Ok(count) = terminal.read(&mut some) {
        if count == 0 {
            break;
        }
        all.extend_from_slice(&some[..count]);
        thread::sleep(Duration::from_millis(1));
    }
    assert_eq!(deframe(&all), packets(4_000));
    assert!(join(sending).expect("sent").drained);
}

#[test]
fn a_reader_of_a_terminal_may_go_and_return_without_losing_a_packet() {
    let (_room, link, port) = pty();
    let mut sender = thread::spawn({
        let port = port.clone();
        move || Sender::open(&port, patient()).expect("a reader comes")
    });
    eventually(|| link.exists());
    let mut all = Vec::new();
    let mut reader = {
        let link = link.clone();
        thread::spawn(move || take(&link, 19))
    };
    for round in 0..3_u32 {
        let mut opened = join(sender);
        opened.send(&packet(2 * round)).expect("sent");
        all.extend(join(reader));
        // Nobody is there now: this one waits for the next reader.
        sender = thread::spawn(move || {
            opened.send(&packet(2 * round + 1)).expect("sent");
            opened
        });
        thread::sleep(Duration::from_millis(50));
        let link = link.clone();
        // The opening zero, the packet of the gap, and the next.
        let count = if round < 2 { 19 + 18 } else { 19 };
        reader = thread::spawn(move || take(&link, count));
    }
    let opened = join(sender);
    all.extend(join(reader));
    assert_eq!(deframe(&all), packets(6));
    let report = opened.finish().expect("sent");
    assert_eq!((report.sent, report.missed, report.peers), (6, 0, 4));
}

#[test]
fn packets_dropped_while_the_reader_is_away_are_counted_and_nothing_stale_is_left() {
    let (_room, link, port) = pty();
    let options = SendOptions {
        absent: Absent::Drop,
        ..patient()
    };
    let opening = {
        let port = port.clone();
        thread::spawn(move || Sender::open(&port, options).expect("a reader comes"))
    };
    eventually(|| link.exists());
    let reader = fs::File::open(&link).expect("a terminal");
    let mut sender = join(opening);
    sender.send(&packet(0)).expect("sent");
    thread::sleep(Duration::from_millis(50));
    drop(reader);
    for n in 1..4 {
        sender.send(&packet(n)).expect("dropped");
    }
    let report = sender.report();
    assert_eq!((report.sent, report.missed), (1, 3));
    assert_eq!(report.unread, 19, "the opening and one packet");
    let next = {
        let link = link.clone();
        thread::spawn(move || take(&link, 19))
    };
    // It is dropped until the next reader is there.
    let (mut n, begin) = (4, Instant::now());
    while sender.report().peers < 2 {
        assert!(begin.elapsed() < LONG, "the next reader is not met");
        sender.send(&packet(n)).expect("dropped or sent");
        n += 1;
    }
    assert_eq!(deframe(&join(next)), [packet(n - 1)]);
    let report = sender.finish().expect("sent");
    assert_eq!((report.sent, report.missed), (2, u64::from(n) - 2));
}

#[test]
fn a_reader_that_sets_the_terminal_for_people_does_not_spoil_it_for_the_next() {
    let (_room, link, port) = pty();
    let sending = thread::spawn({
        let port = port.clone();
        move || Sender::open(&port, patient()).expect("a reader comes")
    });
    eventually(|| link.exists());
    let mut reader = fs::File::open(&link).expect("a terminal");
    let mut sender = join(sending);
    // Else it might reach the terminal only when it is set for people, and be echoed.
    reader.read_exact(&mut [0]).expect("the opening zero");
    let set = Command::new("stty")
        .arg("-F")
        .arg(&link)
        .arg("sane")
        .status();
    assert!(set.expect("stty").success());
    drop(reader);
    let sending = thread::spawn(move || {
        sender.send(&packet(7)).expect("sent");
        sender.finish().expect("sent")
    });
    thread::sleep(Duration::from_millis(50));
    let bytes = join(thread::spawn(move || take(&link, 19)));
    assert_eq!(deframe(&bytes), [packet(7)]);
    assert_eq!(join(sending).answered, 0);
}

#[test]
fn what_a_reader_leaves_unread_is_reported() {
    let (_room, link, port) = pty();
    let options = SendOptions {
        drain: Duration::from_millis(100),
        ..patient()
    };
    let sending = send_all(&port, options, packets(2));
    eventually(|| link.exists());
    let reader = fs::File::open(&link).expect("a terminal");
    let report = join(sending).expect("sent");
    drop(reader);
    assert_eq!((report.unread, report.drained), (1 + 2 * 18, false));
}

#[test]
fn a_listener_opens_a_terminal_whoever_comes_first() {
    for listener_first in [true, false] {
        let (_room, link, port) = pty();
        let mut listener = Listener::open(&port, once()).expect("waits for nobody");
        let sending = if listener_first {
            let port = port.clone();
            thread::spawn(move || {
                thread::sleep(Duration::from_millis(100));
                join(send_all(&port, patient(), packets(300)))
            })
        } else {
            let sending = send_all(&port, patient(), packets(300));
            eventually(|| link.exists());
            sending
        };
        assert_eq!(deframe(&stream_of(&mut listener)), packets(300));
        assert!(join(sending).expect("sent").drained);
    }
}
