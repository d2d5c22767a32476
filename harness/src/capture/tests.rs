//! What is written is read back; what is wrong is told.

use super::*;
use crate::link::Arrival;

fn header_of_ours() -> Header {
    Header {
        title: "Quotes \" and\nlines".to_owned(),
        seed: u64::MAX,
        heads: vec![Head {
            serial: Serial(42),
            head: HeadId(0xA001),
            interval_s: 16,
            bucket_um: 300,
        }],
    }
}

fn bytes(of: &[u8]) -> Bytes {
    Bytes::from_slice(of).expect("fits")
}

const HEADER: &str =
    r#"{"format":"benchmast-capture","version":1,"title":"t","seed":1,"heads":[]}"#;

#[test]
fn a_capture_reads_as_it_was_written() {
    let lines: Vec<Line> = [
        i64::MIN,
        -1,
        0,
        9,
        10,
        99,
        100,
        1_764_028_816_000_000,
        i64::MAX,
    ]
    .into_iter()
    .flat_map(|time_us| {
        let all: Vec<u8> = (0..48).map(|n| (n * 11) as u8).collect();
        let signals = [-120.5, -85.3, -85.0, -0.1, 0.0, 3.7];
        let heard = signals.map(|signal_dbm| Line {
            time_us,
            event: Event::Heard { signal_dbm },
            bytes: bytes(&all),
        });
        let sent = Line {
            time_us,
            event: Event::Sent,
            bytes: bytes(&[0, 0xFF, 0x0A]),
        };
        let empty = Line {
            bytes: Bytes::new(),
            ..sent.clone()
        };
        [sent, empty].into_iter().chain(heard)
    })
    .collect();
    let mut writer = Writer::new(Vec::new(), &header_of_ours()).expect("memory");
    for line in &lines {
        match line.event {
            Event::Sent => writer.sent(line.time_us, &line.bytes).expect("memory"),
            Event::Heard { signal_dbm } => writer
                .heard(&Arrival {
                    time_us: line.time_us,
                    signal_dbm,
                    bytes: line.bytes.clone(),
                })
                .expect("memory"),
        }
    }
    let text = writer.finish().expect("memory");
    let mut reader = Reader::new(text.as_slice()).expect("header");
    assert_eq!(reader.header(), &header_of_ours());
    for line in &lines {
        assert_eq!(reader.next_line().expect("a line").as_ref(), Some(line));
    }
    assert_eq!(reader.next_line().expect("the end"), None);
}

#[test]
fn lines_look_as_the_format_says() {
    let mut writer = Writer::new(Vec::new(), &header_of_ours()).expect("memory");
    writer
        .sent(1_764_028_816_000_000, &[0x11, 0xA0])
        .expect("memory");
    let arrival = Arrival {
        time_us: 1_764_028_816_003_333,
        signal_dbm: -85.3,
        bytes: bytes(&[0x11, 0xA0]),
    };
    writer.heard(&arrival).expect("memory");
    let text = String::from_utf8(writer.finish().expect("memory")).expect("text");
    let lines: Vec<&str> = text.lines().collect();
    assert!(lines[0].starts_with(
        r#"{"format":"benchmast-capture","version":1,"title":"Quotes \" and\nlines","seed":18446744073709551615,"heads":[{"#
    ));
    assert!(lines[0].contains(r#""serial":"0000000042""#) && lines[0].contains(r#""0000a001""#));
    assert_eq!(
        lines[1],
        r#"{"t_us":1764028816000000,"event":"sent","hex":"11a0"}"#
    );
    assert_eq!(
        lines[2],
        r#"{"t_us":1764028816003333,"event":"heard","signal_dbm":-85.3,"hex":"11a0"}"#
    );
    for line in lines {
        serde_json::from_str::<serde_json::Value>(line).expect("JSON");
    }
}

#[test]
fn long_captures_are_handed_on_in_batches_without_losing_a_line() {
    let mut writer = Writer::new(Vec::new(), &header_of_ours()).expect("memory");
    for n in 0..20_000 {
        writer.sent(n, &[7; 29]).expect("memory");
    }
    let text = writer.finish().expect("memory");
    assert_eq!(text.iter().filter(|byte| **byte == b'\n').count(), 20_001);
}

#[test]
fn unknown_keys_empty_lines_other_spacing_and_capitals_are_read() {
    let text = [
        r#"{"heads":[{"serial":"7","head":"A","interval_s":16,"bucket_um":300,"x":1}],"new":{},"#,
        r#""seed":1,"title":"t","version":1,"format":"benchmast-capture"}"#,
        "\r\n\n",
        r#" { "hex" : "0AfF", "event" : "heard", "signal_dbm" : -90, "t_us" : 5, "who" : [] }"#,
    ]
    .concat();
    let mut reader = Reader::new(text.as_bytes()).expect("header");
    assert_eq!(reader.header().heads[0].head, HeadId(10));
    let line = reader.next_line().expect("a line").expect("a line");
    assert_eq!(line.bytes, bytes(&[0x0A, 0xFF]));
    assert_eq!(line.event, Event::Heard { signal_dbm: -90.0 });
}

/// The message for a file of these lines.
fn told(lines: &[&str]) -> String {
    let text = lines.join("\n");
    let mut reader = match Reader::new(text.as_bytes()) {
        Ok(reader) => reader,
        Err(error) => return error.to_string(),
    };
    loop {
        match reader.next_line() {
            Ok(Some(_)) => {}
            Ok(None) => return "read to the end".to_owned(),
            Err(error) => return error.to_string(),
        }
    }
}

#[test]
fn what_is_wrong_is_told_with_its_line() {
    let head = |serial: &str, id: &str| {
        HEADER.replace(
            "[]",
            &format!(r#"[{{"serial":"{serial}","head":"{id}","interval_s":16,"bucket_um":300}}]"#),
        )
    };
    let line = |rest: &str| format!(r#"{{"t_us":1,{rest}}}"#);
    let cases: Vec<(Vec<String>, &str)> = vec![
        (vec![], "line 1: the file is empty"),
        (vec!["not json".into()], "line 1: expected"),
        (
            vec!["{}".into()],
            "line 1: missing field `format` (column 2)",
        ),
        (
            vec![HEADER.replace("benchmast-capture", "other")],
            r#"line 1: `format` is "other", a capture says "benchmast-capture""#,
        ),
        (
            vec![HEADER.replace(":1,\"title", ":2,\"title")],
            "line 1: `version` is 2, this program reads version 1",
        ),
        (
            vec![HEADER.replace("seed", "sead")],
            "line 1: missing field `seed`",
        ),
        (
            vec![head("12345678901", "1")],
            "line 1: `serial` is \"12345678901\"",
        ),
        (vec![head("+1", "1")], "line 1: `serial` is \"+1\""),
        (
            vec![head("1", "123456789")],
            "line 1: `head` is \"123456789\"",
        ),
        (vec![head("1", "")], "line 1: `head` is \"\""),
        (
            vec![
                HEADER.into(),
                line(r#""event":"sent","hex":"00""#),
                "{\"t_us\":".into(),
            ],
            "line 3: EOF while parsing",
        ),
        (
            vec![HEADER.into(), String::new(), line(r#""hex":"00""#)],
            "line 3: missing field `event`",
        ),
        (
            vec![HEADER.into(), line(r#""event":"seen","hex":"00""#)],
            r#"line 2: `event` is "seen"; allowed are "sent" and "heard""#,
        ),
        (
            vec![HEADER.into(), line(r#""event":"sent","hex":"000""#)],
            "line 2: `hex` has an odd number of digits (3)",
        ),
        (
            vec![HEADER.into(), line(r#""event":"sent","hex":"0g""#)],
            "line 2: `hex` holds 'g' at digit 2",
        ),
        (
            vec![
                HEADER.into(),
                line(&format!(r#""event":"sent","hex":"{}""#, "00".repeat(49))),
            ],
            "line 2: `hex` holds 49 bytes; a packet has at most 48",
        ),
        (
            vec![
                HEADER.into(),
                line(r#""event":"sent","hex":"00""#),
                r#"{"t_us":0,"event":"sent","hex":"00"}"#.into(),
            ],
            "line 3: time runs backwards: 0 us comes after 1 us",
        ),
    ];
    for (lines, expected) in cases {
        let lines: Vec<&str> = lines.iter().map(String::as_str).collect();
        let message = told(&lines);
        assert!(
            message.starts_with(expected),
            "{message}\nis not\n{expected}"
        );
    }
}

#[test]
fn a_signal_that_nobody_measured_is_left_out() {
    let header = Header {
        title: String::new(),
        seed: 0,
        heads: Vec::new(),
    };
    let mut writer = Writer::new(Vec::new(), &header).unwrap();
    let bytes = Bytes::from_slice(&[1, 2]).unwrap();
    let arrival = Arrival {
        time_us: 5,
        signal_dbm: f64::NAN,
        bytes,
    };
    writer.heard(&arrival).unwrap();
    let text = writer.finish().unwrap();
    let line = text.split(|byte| *byte == b'\n').nth(1).unwrap();
    assert_eq!(line, br#"{"t_us":5,"event":"heard","hex":"0102"}"#);
    let mut reader = Reader::new(text.as_slice()).unwrap();
    let line = reader.next_line().unwrap().unwrap();
    assert!(matches!(line.event, Event::Heard { signal_dbm } if signal_dbm.is_nan()));
}
