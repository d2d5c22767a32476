//! Ports, with real sockets, terminals, files and other processes.

mod pty;

use benchmast::capture;
use benchmast::link::{Arrival, Bytes};
use benchmast::ports::{
    Absent, ListenOptions, Listener, PortName, Received, Report, SendOptions, Sender, Stop,
};
use std::fs;
use std::io::{self, Read};
use std::net::{TcpListener, TcpStream, UdpSocket};
use std::sync::mpsc;
use std::thread;
use std::time::{Duration, Instant};

/// Longest wait for what must happen; far more than it takes.
const LONG: Duration = Duration::from_secs(20);

/// Bytes that terminals like to act on, zeros, and a number to tell the packets apart.
fn packet(n: u32) -> Vec<u8> {
    let mut bytes = b"\x03\x04\x11\x13\x0A\x0D\x00\x1A\x1C\x7F\xFF\x00".to_vec();
    bytes.extend(n.to_le_bytes());
    bytes
}

fn packets(count: u32) -> Vec<Vec<u8>> {
    (0..count).map(packet).collect()
}

/// The packets on a stream, and that it opens with a lone zero. Decoded by the cobs crate alone.
fn deframe(stream: &[u8]) -> Vec<Vec<u8>> {
    assert_eq!(stream.first(), Some(&0), "a stream opens with a lone zero");
    let (whole, rest) = stream.split_at(stream.iter().rposition(|byte| *byte == 0).unwrap_or(0));
    assert_eq!(rest, [0], "the last packet is closed");
    whole
        .split(|byte| *byte == 0)
        .filter(|frame| !frame.is_empty())
        .map(|frame| {
            let mut bytes = vec![0; 64];
            let length = cobs::decode(frame, &mut bytes).expect("COBS");
            bytes.truncate(length);
            bytes
        })
        .collect()
}

fn name(text: &str) -> PortName {
    text.parse().expect("a port")
}

fn patient() -> SendOptions {
    SendOptions {
        peer_within: Some(LONG),
        drain: LONG,
        ..SendOptions::default()
    }
}

fn once() -> ListenOptions {
    ListenOptions {
        once: true,
        idle: Some(LONG),
        ..ListenOptions::default()
    }
}

/// A thread's result; a thread that hangs fails the test and not the patience of people.
fn join<T>(thread: thread::JoinHandle<T>) -> T {
    eventually(|| thread.is_finished());
    thread.join().expect("no panic")
}

/// The next peer.
fn accept(socket: &TcpListener) -> TcpStream {
    socket.set_nonblocking(true).expect("a socket");
    let mut peer = None;
    eventually(|| {
        peer = socket.accept().ok();
        peer.is_some()
    });
    let (peer, _) = peer.expect("somebody connects");
    peer.set_nonblocking(false).expect("a socket");
    peer.set_read_timeout(Some(LONG)).expect("a socket");
    peer
}

/// Open the port in a thread, send the packets, finish.
fn send_all(
    port: &PortName,
    options: SendOptions,
    all: Vec<Vec<u8>>,
) -> thread::JoinHandle<io::Result<Report>> {
    let port = port.clone();
    thread::spawn(move || {
        let mut sender = Sender::open(&port, options)?;
        for packet in &all {
            sender.send(packet)?;
        }
        sender.finish()
    })
}

/// All bytes of one peer's stream.
fn stream_of(listener: &mut Listener) -> Vec<u8> {
    let (mut buffer, mut stream) = ([0; 100], Vec::new());
    assert_eq!(listener.next(&mut buffer).expect("a peer"), Received::Begin);
    loop {
        match listener.next(&mut buffer).expect("a stream") {
            Received::Bytes(bytes) => stream.extend_from_slice(bytes),
            Received::End => return stream,
            other => panic!("{other:?}"),
        }
    }
}

fn eventually(mut what: impl FnMut() -> bool) {
    let begin = Instant::now();
    while !what() {
        assert!(begin.elapsed() < LONG, "it never happened");
        thread::sleep(Duration::from_millis(5));
    }
}

fn tcp_listener(options: ListenOptions) -> (Listener, PortName) {
    let listener = Listener::open(&name("tcp:127.0.0.1:0"), options).expect("a free port");
    let at = listener.local_addr().expect("an address");
    (listener, name(&format!("tcp:{at}")))
}

#[test]
fn tcp_carries_every_packet_and_the_end_is_confirmed() {
    let (mut listener, port) = tcp_listener(once());
    let sending = send_all(&port, patient(), packets(5_000));
    assert_eq!(deframe(&stream_of(&mut listener)), packets(5_000));
    let report = join(sending).expect("sent");
    assert_eq!((report.sent, report.missed, report.peers), (5_000, 0, 1));
    assert!(report.drained);
}

#[test]
fn tcp_waits_for_a_receiver_that_comes_late() {
    let free = TcpListener::bind("127.0.0.1:0").expect("a free port");
    let port = name(&format!("tcp:{}", free.local_addr().expect("an address")));
    drop(free);
    let (tell, told) = mpsc::channel();
    let options = SendOptions {
        notice: Box::new(move |text| tell.send(text.to_owned()).expect("heard")),
        ..patient()
    };
    let sending = send_all(&port, options, packets(3));
    let notice = told.recv_timeout(LONG).expect("a notice");
    assert_eq!(
        notice,
        format!("waiting for a receiver to listen at {port}")
    );
    let mut listener = Listener::open(&port, once()).expect("still free");
    assert_eq!(deframe(&stream_of(&mut listener)), packets(3));
    assert_eq!(join(sending).expect("sent").sent, 3);
}

#[test]
fn tcp_meets_a_receiver_that_goes_and_returns() {
    for absent in [Absent::Wait, Absent::Drop] {
        let socket = TcpListener::bind("127.0.0.1:0").expect("a free port");
        let at = socket.local_addr().expect("an address");
        let options = SendOptions {
            absent,
            ..patient()
        };
        let mut sender = Sender::open(&name(&format!("tcp:{at}")), options).expect("connected");
        let mut peer = accept(&socket);
        let mut first = [0; 19];
        sender.send(&packet(0)).expect("sent");
        peer.read_exact(&mut first).expect("sent");
        assert_eq!(deframe(&first), packets(1));
        drop((peer, socket));
        if absent == Absent::Drop {
            for n in 1..4 {
                sender.send(&packet(n)).expect("dropped");
            }
            assert_eq!(sender.report().missed, 3);
        }
        let (go, gone) = mpsc::channel();
        let sending = thread::spawn(move || {
            go.send(()).expect("heard");
            sender.send(&packet(9)).expect("sent");
            sender.finish().expect("sent")
        });
        gone.recv().expect("it begins");
        if absent == Absent::Drop {
            // Nobody is there: this one is dropped too, and there is nobody to wait for at the end.
            let report = join(sending);
            assert_eq!((report.sent, report.missed), (1, 4));
            continue;
        }
        thread::sleep(Duration::from_millis(100));
        let socket = TcpListener::bind(at).expect("still free");
        let mut peer = accept(&socket);
        let mut rest = Vec::new();
        peer.read_to_end(&mut rest).expect("sent");
        drop(peer);
        assert_eq!(deframe(&rest), [packet(9)]);
        let report = join(sending);
        assert_eq!((report.sent, report.missed, report.peers), (2, 0, 2));
    }
}

#[test]
fn tcp_goes_on_for_a_receiver_that_only_listens() {
    let socket = TcpListener::bind("127.0.0.1:0").expect("a free port");
    let at = socket.local_addr().expect("an address");
    let mut sender = Sender::open(&name(&format!("tcp:{at}")), patient()).expect("connected");
    let mut peer = accept(&socket);
    peer.shutdown(std::net::Shutdown::Write).expect("connected");
    for packet in packets(20) {
        sender.send(&packet).expect("sent");
    }
    let report = sender.finish().expect("sent");
    assert_eq!((report.sent, report.peers), (20, 1));
    let mut all = Vec::new();
    peer.read_to_end(&mut all).expect("sent");
    assert_eq!(deframe(&all), packets(20));
}

#[test]
fn tcp_listens_to_one_sender_after_the_other() {
    let (mut listener, port) = tcp_listener(ListenOptions::default());
    let mut buffer = [0; 4096];
    for round in 0..3 {
        let sending = send_all(&port, patient(), vec![packet(round)]);
        let mut stream = Vec::new();
        assert_eq!(listener.next(&mut buffer).expect("a peer"), Received::Begin);
        while stream.len() < 19 {
            match listener.next(&mut buffer).expect("a stream") {
                Received::Bytes(bytes) => stream.extend_from_slice(bytes),
                other => panic!("{other:?}"),
            }
        }
        assert_eq!(deframe(&stream), [packet(round)]);
        // The sender waits until we have seen its end, and that we see when waiting for the next.
        let again = send_all(&port, patient(), vec![]);
        assert_eq!(listener.next(&mut buffer).expect("a peer"), Received::Begin);
        let opening = listener.next(&mut buffer).expect("a stream");
        assert_eq!(opening, Received::Bytes(&[0]));
        assert!(join(sending).expect("sent").drained);
        drop(again);
    }
}

#[test]
fn a_sender_gives_up_when_nobody_comes_and_says_what_to_do() {
    let free = TcpListener::bind("127.0.0.1:0").expect("a free port");
    let at = free.local_addr().expect("an address");
    drop(free);
    let room = tempfile::tempdir().expect("room");
    let link = room.path().join("head0");
    for port in [format!("tcp:{at}"), format!("pty:{}", link.display())] {
        let options = SendOptions {
            peer_within: Some(Duration::from_millis(50)),
            ..SendOptions::default()
        };
        let error = Sender::open(&name(&port), options).expect_err("nobody is there");
        assert_eq!(error.kind(), io::ErrorKind::TimedOut);
        let text = error.to_string();
        assert!(text.starts_with(&format!("port {port}: nobody ")), "{text}");
        assert!(text.contains("start the re"), "{text}");
    }
    assert!(fs::symlink_metadata(&link).is_err(), "the link is gone");
}

#[test]
fn a_listener_says_what_is_in_its_way() {
    let (_taken, port) = tcp_listener(ListenOptions::default());
    let socket = UdpSocket::bind("127.0.0.1:0").expect("a free port");
    let room = tempfile::tempdir().expect("room");
    let file = room.path().join("file");
    fs::write(&file, "").expect("room");
    let missing = room.path().join("missing");
    for (port, expected) in [
        (
            port.to_string(),
            "Address already in use; another program listens there",
        ),
        (
            format!("udp:{}", socket.local_addr().expect("an address")),
            "Address already in use; another program listens there",
        ),
        (
            "tcp:192.0.2.1:5000".to_owned(),
            "this machine has no such address",
        ),
        (
            format!("file:{}", missing.display()),
            "No such file or directory; give a capture",
        ),
        (
            format!("pty:{}", file.display()),
            "is no terminal; file:PATH reads files",
        ),
    ] {
        let mut buffer = [0; 64];
        let outcome = Listener::open(&name(&port), once())
            .and_then(|mut listener| listener.next(&mut buffer).map(|_| ()));
        let text = outcome.expect_err(&port).to_string();
        assert!(text.starts_with(&format!("port {port}: ")), "{text}");
        assert!(text.contains(expected), "{text}\nlacks\n{expected}");
    }
}

#[test]
fn udp_carries_whole_packets() {
    let mut listener =
        Listener::open(&name("udp:127.0.0.1:0"), ListenOptions::default()).expect("a free port");
    let at = listener.local_addr().expect("an address");
    let mut buffer = [0; 4096];
    assert_eq!(listener.next(&mut buffer).expect("begins"), Received::Begin);
    let mut sender = Sender::open(&name(&format!("udp:{at}")), patient()).expect("open");
    for packet in packets(50) {
        sender.send(&packet).expect("sent");
        let received = listener.next(&mut buffer).expect("received");
        let expected = Received::Packet {
            bytes: &packet,
            time_us: None,
            signal_dbm: None,
        };
        assert_eq!(received, expected);
    }
    let report = sender.finish().expect("sent");
    assert_eq!((report.sent, report.missed), (50, 0));
}

#[test]
fn udp_counts_what_is_refused_and_goes_on() {
    let socket = UdpSocket::bind("127.0.0.1:0").expect("a free port");
    let at = socket.local_addr().expect("an address");
    drop(socket);
    let mut sender = Sender::open(&name(&format!("udp:{at}")), patient()).expect("open");
    for packet in packets(5) {
        sender.send(&packet).expect("no error");
        thread::sleep(Duration::from_millis(5));
    }
    let report = sender.finish().expect("no error");
    assert_eq!(report.sent + report.missed, 5);
    assert!(report.missed >= 4, "{report:?}");
}

#[test]
fn idle_and_stop_end_the_waiting() {
    let room = tempfile::tempdir().expect("room");
    let link = room.path().join("nobody makes it");
    for port in [
        "tcp:127.0.0.1:0".to_owned(),
        "udp:127.0.0.1:0".to_owned(),
        format!("pty:{}", link.display()),
    ] {
        let stop = Stop::default();
        let options = ListenOptions {
            idle: Some(Duration::from_millis(30)),
            stop: stop.clone(),
            ..ListenOptions::default()
        };
        let mut listener = Listener::open(&name(&port), options).expect("free");
        let mut buffer = [0; 64];
        let begin = Instant::now();
        if port.starts_with("udp") {
            assert_eq!(listener.next(&mut buffer).expect("begins"), Received::Begin);
        }
        assert_eq!(listener.next(&mut buffer).expect("waits"), Received::Idle);
        assert!(begin.elapsed() >= Duration::from_millis(30));
        stop.ask();
        assert_eq!(listener.next(&mut buffer).expect("stops"), Received::End);
    }
    let stop = Stop::default();
    let options = SendOptions {
        stop: stop.clone(),
        ..SendOptions::default()
    };
    let port = name(&format!("pty:{}", link.display()));
    let sending = send_all(&port, options, packets(1));
    eventually(|| link.exists());
    stop.ask();
    let error = join(sending).expect_err("stopped");
    assert_eq!(error.kind(), io::ErrorKind::Interrupted);
    assert!(fs::symlink_metadata(&link).is_err(), "the link is gone");
}

#[test]
fn a_file_has_its_name_only_when_it_is_whole() {
    let room = tempfile::tempdir().expect("room");
    let path = room.path().join("week.stream");
    let port = name(&format!("file:{}", path.display()));
    let mut sender = Sender::open(&port, patient()).expect("room");
    sender.send(&packet(0)).expect("room");
    drop(sender);
    assert_eq!(fs::read_dir(room.path()).expect("room").count(), 0);

    let mut sender = Sender::open(&port, patient()).expect("room");
    for packet in packets(1_000) {
        sender.send(&packet).expect("room");
        assert!(!path.exists());
    }
    let report = sender.finish().expect("room");
    assert_eq!((report.sent, report.drained), (1_000, true));
    assert_eq!(fs::read_dir(room.path()).expect("room").count(), 1);
    assert_eq!(deframe(&fs::read(&path).expect("there")), packets(1_000));

    let mut listener = Listener::open(&port, once()).expect("there");
    assert_eq!(deframe(&stream_of(&mut listener)), packets(1_000));
    assert_eq!(listener.capture(), None);
    // An earlier file is replaced, a directory is not.
    Sender::open(&port, patient())
        .and_then(Sender::finish)
        .expect("room");
    assert_eq!(fs::read(&path).expect("there"), [0]);
    let port = name(&format!("file:{}", room.path().display()));
    let error = Sender::open(&port, patient()).expect_err("a directory");
    assert!(error.to_string().contains("no plain file"), "{error}");
}

#[test]
fn a_packet_that_no_stream_carries_is_an_error() {
    let room = tempfile::tempdir().expect("room");
    let port = name(&format!("file:{}", room.path().join("a").display()));
    let mut sender = Sender::open(&port, patient()).expect("room");
    for length in [0, 49] {
        let error = sender.send(&vec![1; length]).expect_err("no packet");
        assert_eq!(error.kind(), io::ErrorKind::InvalidInput);
    }
    assert_eq!(sender.report().sent, 0);
}

#[test]
fn a_capture_is_heard_packet_by_packet_with_time_and_signal() {
    let room = tempfile::tempdir().expect("room");
    let path = room.path().join("capture.ndjson");
    let port = name(&format!("file:{}", path.display()));
    let header = capture::Header {
        title: "two packets".to_owned(),
        seed: 3,
        heads: Vec::new(),
    };
    let file = fs::File::create(&path).expect("room");
    let mut writer = capture::Writer::new(file, &header).expect("room");
    let arrivals: Vec<Arrival> = (0..2_000)
        .map(|n| Arrival {
            time_us: i64::from(n) * 16_000_000 + 7_708,
            signal_dbm: -90.5 + f64::from(n % 7),
            bytes: Bytes::from_slice(&packet(n)).expect("fits"),
        })
        .collect();
    for arrival in &arrivals {
        writer
            .sent(arrival.time_us - 7_708, &arrival.bytes)
            .expect("room");
        writer.heard(arrival).expect("room");
    }
    writer.finish().expect("room");

    let mut listener = Listener::open(&port, ListenOptions::default()).expect("there");
    let mut buffer = [0; 64];
    assert_eq!(listener.next(&mut buffer).expect("begins"), Received::Begin);
    assert_eq!(listener.capture(), Some(&header));
    for arrival in &arrivals {
        let expected = Received::Packet {
            bytes: &arrival.bytes,
            time_us: Some(arrival.time_us),
            signal_dbm: Some(arrival.signal_dbm),
        };
        assert_eq!(listener.next(&mut buffer).expect("a packet"), expected);
    }
    assert_eq!(listener.next(&mut buffer).expect("the end"), Received::End);
    assert_eq!(listener.next(&mut buffer).expect("the end"), Received::End);

    let text = fs::read_to_string(&path).expect("there");
    fs::write(&path, text.replace("\"t_us\":16000000,", "")).expect("room");
    let mut listener = Listener::open(&port, ListenOptions::default()).expect("there");
    let error = loop {
        match listener.next(&mut buffer) {
            Ok(Received::End) => panic!("it is damaged"),
            Ok(_) => {}
            Err(error) => break error,
        }
    };
    let expected = format!("port {port}: line 4: missing field `t_us`");
    assert!(error.to_string().starts_with(&expected), "{error}");
}
