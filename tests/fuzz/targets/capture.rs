//! Any bytes as a capture, as they are and as lines after a right header: lines, or a message that names the
//! line; what was read is written and read again, the same.
#![no_main]

use benchmast::capture::{Event, Header, Line, Reader, Writer};
use benchmast::link::Arrival;
use libfuzzer_sys::fuzz_target;

const HEADER: &[u8] = br#"{"format":"benchmast-capture","version":1,"title":"t","seed":7,"heads":[{"serial":"0000000042","head":"0000a001","interval_s":16,"bucket_um":300}]}
"#;

fuzz_target!(|data: &[u8]| {
    judge(data);
    judge(&[HEADER, data].concat());
});

fn judge(text: &[u8]) {
    let Some((header, lines)) = read(text) else {
        return;
    };
    let mut writer = Writer::new(Vec::new(), &header).expect("memory");
    for line in &lines {
        match line.event {
            Event::Sent => writer.sent(line.time_us, &line.bytes),
            Event::Heard { signal_dbm } => writer.heard(&Arrival {
                time_us: line.time_us,
                signal_dbm,
                bytes: line.bytes.clone(),
            }),
        }
        .expect("memory");
    }
    let written = writer.finish().expect("memory");
    let (again, same) = read(&written).expect("what was written");
    assert_eq!(header, again);
    assert_eq!(lines.len(), same.len());
    for (line, same) in lines.iter().zip(&same) {
        assert_eq!((line.time_us, &line.bytes), (same.time_us, &same.bytes));
        match (line.event, same.event) {
            (Event::Sent, Event::Sent) => {}
            (Event::Heard { signal_dbm: was }, Event::Heard { signal_dbm: is }) => {
                // Written in tenths, which is finer than any receiver measures.
                let is_near = (was - is).abs() <= 0.0501 || was.abs() > 1e15;
                assert!(is_near || (was.is_nan() && is.is_nan()), "{was} {is}");
            }
            _ => panic!("{line:?} {same:?}"),
        }
    }
}

/// The header and the lines up to the first that is none.
fn read(text: &[u8]) -> Option<(Header, Vec<Line>)> {
    let mut reader = Reader::new(text).ok()?;
    let mut lines = Vec::new();
    loop {
        match reader.next_line() {
            Ok(Some(line)) => lines.push(line),
            Ok(None) => break,
            Err(error) => {
                assert!(error.line > 1 && !error.to_string().is_empty());
                break;
            }
        }
    }
    Some((reader.header().clone(), lines))
}
