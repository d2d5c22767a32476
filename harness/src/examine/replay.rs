//! Captures as cases: a field capture becomes a regression case, and a failed case the smallest capture that
//! still fails.

use super::cases::{from_capture, told_by_reference};
use super::judge::{Examinee, Trouble, Verdict, examine};
use super::script::{Case, Input, Mode, PLACES, Setup, Steps};
use crate::capture::{self, Event, Reader, Writer};
use crate::link::{Arrival, Bytes};
use std::fs::File;
use std::io::{self, BufRead, BufReader, BufWriter};
use std::path::Path;
use std::time::{Duration, Instant};

/// How long a failed case may be made smaller.
const PATIENCE: Duration = Duration::from_secs(30);
/// Simulated beginning of a capture that is written, microseconds since 1970: 2026-01-01.
const BEGIN_US: i64 = 1_767_225_600_000_000;
/// Signal strength of a capture that is written, dBm: nothing looks at it.
const SIGNAL_DBM: f64 = -90.0;

/// A packet and when it arrives.
pub type Heard = (u64, Vec<u8>);

/// A capture that makes no case.
#[derive(Debug, thiserror::Error)]
pub enum ReplayError {
    /// It cannot be opened.
    #[error("cannot be opened: {0}")]
    Open(#[from] io::Error),
    /// It cannot be read.
    #[error("{0}")]
    Read(#[from] capture::CaptureError),
    /// It has more heads than a receiver under examination has places for.
    #[error("pairs {0} heads; a receiver under examination has room for {PLACES}")]
    Heads(usize),
    /// Nothing was heard in it.
    #[error("holds no packet that was heard")]
    Empty,
}

/// A capture as a case: its heads are paired, what was heard is put to the receiver with its times, counted
/// from the first packet, and what must be said is taken from the protocol crate's receiver.
///
/// # Errors
/// [`ReplayError`]
pub fn case_of(path: &Path) -> Result<Case, ReplayError> {
    let name = path
        .file_stem()
        .map_or_else(String::new, |stem| stem.to_string_lossy().into_owned());
    read(BufReader::new(File::open(path)?), &name)
}

fn read(input: impl BufRead, name: &str) -> Result<Case, ReplayError> {
    let mut reader = Reader::new(input)?;
    let header = reader.header().clone();
    if header.heads.len() > PLACES {
        return Err(ReplayError::Heads(header.heads.len()));
    }
    let adopted = header
        .heads
        .iter()
        .map(|head| {
            (
                head.head,
                from_capture(head.serial.0, head.interval_s, head.bucket_um),
            )
        })
        .collect();
    let mut heard: Vec<Heard> = Vec::new();
    let mut first = None;
    while let Some(line) = reader.next_line()? {
        if matches!(line.event, Event::Heard { .. }) {
            let first = *first.get_or_insert(line.time_us);
            let t_us = u64::try_from(line.time_us.saturating_sub(first)).unwrap_or(0);
            heard.push((t_us, line.bytes.to_vec()));
        }
    }
    if heard.is_empty() {
        return Err(ReplayError::Empty);
    }
    let setup = Setup {
        adopted,
        ..Setup::default()
    };
    let sentence = format!(
        "{}: as the reference receiver judges it.",
        header.title.trim_end_matches('.')
    );
    Ok(told_by_reference(
        format!("case/{name}"),
        sentence,
        setup,
        heard,
    ))
}

/// Write packets as a capture for heads as set up. Packets longer than a capture holds are cut off there.
///
/// # Errors
/// What the file system says.
pub fn write(
    path: &Path,
    title: &str,
    seed: u64,
    setup: &Setup,
    heard: &[Heard],
) -> io::Result<()> {
    let heads = setup.adopted.iter().map(|(head, identity)| capture::Head {
        serial: identity.serial,
        head: *head,
        interval_s: identity.interval_s,
        bucket_um: identity.bucket_um,
    });
    let header = capture::Header {
        title: title.to_owned(),
        seed,
        heads: heads.collect(),
    };
    let mut writer = Writer::new(BufWriter::new(File::create(path)?), &header)?;
    for (t_us, bytes) in heard {
        writer.heard(&Arrival {
            time_us: BEGIN_US.saturating_add_unsigned(*t_us),
            signal_dbm: SIGNAL_DBM,
            bytes: bytes.iter().copied().take(48).collect::<Bytes>(),
        })?;
    }
    writer.finish().map(drop)
}

/// The packets of a case that a capture can hold: packets alone, of heads as a capture pairs them.
#[must_use]
pub fn packets_of(case: &Case) -> Option<Vec<Heard>> {
    let Steps::Listed(steps, _) = &case.steps else {
        return None;
    };
    steps
        .iter()
        .map(|step| match &step.input {
            Input::Packet(bytes) => Some((step.t_us, bytes.clone())),
            _ => None,
        })
        .collect()
}

/// The smallest part of `heard` found with which the receiver still fails, and how it fails then. `case` is the
/// case that has failed, `heard` its packets.
///
/// # Errors
/// [`Trouble::Interrupted`]
pub fn shrink(
    case: &Case,
    heard: &[Heard],
    verdict: Verdict,
    receiver: &mut dyn Examinee,
) -> Result<(Vec<Heard>, Verdict), Trouble> {
    let end = Instant::now() + PATIENCE;
    let mut best = (heard.to_vec(), verdict);
    cut_after_failure(&mut best);
    let mut size = best.0.len().div_ceil(2);
    while size > 0 && best.0.len() > 1 {
        let mut from = 0;
        let before = best.0.len();
        while from < best.0.len() && best.0.len() > 1 {
            if Instant::now() >= end {
                return Ok(best);
            }
            let mut fewer = best.0.clone();
            fewer.drain(from..(from + size).min(best.0.len()));
            if fewer.is_empty() {
                break;
            }
            let verdict = put(case, &fewer, receiver)?;
            if matches!(verdict, Verdict::Pass | Verdict::Skip(_)) {
                from += size;
            } else {
                best = (fewer, verdict);
                cut_after_failure(&mut best);
            }
        }
        // Once more with single packets as long as that helps.
        size = if size == 1 && best.0.len() < before {
            1
        } else {
            size / 2
        };
    }
    Ok(best)
}

/// What comes after the step that failed is not needed.
fn cut_after_failure(best: &mut (Vec<Heard>, Verdict)) {
    if let Verdict::Fail(miss) = &best.1
        && miss.step > 0
    {
        best.0
            .truncate(usize::try_from(miss.step).unwrap_or(usize::MAX));
    }
}

fn put(case: &Case, heard: &[Heard], receiver: &mut dyn Examinee) -> Result<Verdict, Trouble> {
    let fewer = told_by_reference(
        case.id.clone(),
        case.sentence.clone(),
        case.setup.clone(),
        heard.to_vec(),
    );
    match case.mode {
        Mode::Packet => examine(&fewer, receiver),
        Mode::Stream => examine(&fewer.on_a_stream(), receiver),
    }
}

#[cfg(test)]
mod tests {
    use super::super::cases::{A, any_case, any_script};
    use super::super::judge::Answer;
    use super::super::reference::Reference;
    use super::super::script::Step;
    use super::super::told::Told;
    use super::*;
    use benchmast_protocol::packet::HeadId;

    /// Says of every duplicate that it is late.
    struct Confused(Reference);

    impl Examinee for Confused {
        fn open(&mut self, case: &Case) -> Result<Option<String>, Trouble> {
            self.0.open(case)
        }
        fn take(&mut self, step: &Step, answer: &mut Answer) -> Result<(), Trouble> {
            self.0.take(step, answer)?;
            for told in &mut answer.events {
                if let Told::Duplicate { head, sequence } = *told {
                    *told = Told::Late {
                        head,
                        sequence,
                        intervals_late: 0,
                        tips_since: 0,
                        rain_um: 0,
                    };
                }
            }
            Ok(())
        }
        fn tips(&mut self) -> Result<Option<Vec<(HeadId, u64)>>, Trouble> {
            self.0.tips()
        }
        fn close(&mut self) -> Result<(), Trouble> {
            self.0.close()
        }
    }

    #[test]
    fn a_failure_shrinks_to_the_packets_it_needs_and_fails_again_from_its_file() {
        let mut case = any_case(1, 0);
        let heard = any_script(1, 0);
        let mut receiver = Confused(Reference::new(&case.setup));
        let verdict = examine(&case, &mut receiver).expect("nobody stops it");
        assert!(matches!(verdict, Verdict::Fail(_)), "{verdict:?}");
        let (few, verdict) =
            shrink(&case, &heard, verdict, &mut receiver).expect("nobody stops it");
        assert!(matches!(verdict, Verdict::Fail(_)), "{verdict:?}");
        // A packet and the same again.
        assert!(few.len() <= 3, "{few:?}");
        let room = tempfile::tempdir().expect("a room");
        let path = room.path().join("small.ndjson");
        write(&path, "small", 1, &case.setup, &few).expect("a file");
        let again = case_of(&path).expect("a case");
        assert_eq!(again.setup, case.setup);
        assert_eq!(again.id, "case/small");
        let verdict = examine(&again, &mut receiver).expect("nobody stops it");
        assert!(matches!(verdict, Verdict::Fail(_)), "{verdict:?}");
        case = again;
        let verdict = examine(&case, &mut Reference::new(&case.setup)).expect("nobody stops it");
        assert_eq!(verdict, Verdict::Pass);
    }

    #[test]
    fn what_makes_no_case_is_told() {
        let header = |heads: &str| {
            format!(
                "{{\"format\":\"benchmast-capture\",\"version\":1,\"title\":\"t\",\"seed\":1,\"heads\":[{heads}]}}\n"
            )
        };
        let head = format!(r#"{{"serial":"5","head":"{A}","interval_s":16,"bucket_um":300}}"#);
        let tell = |text: String| read(text.as_bytes(), "x").expect_err("no case").to_string();
        assert!(tell(header(&head)).contains("holds no packet"));
        assert!(tell(header(&[head.as_str(); 5].join(","))).contains("5 heads"));
        assert!(tell("{}".into()).contains("line 1"));
    }
}
