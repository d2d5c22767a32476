//! From the intervals and events of a run to the rows of its tables.

use super::columns;
use super::folder::{Finished, HashedFile, Shelf, units};
use super::key::Key;
use super::observed::Observed;
use super::table::Column;
use super::writer::TableWriter;
use super::{Facts, Format};
use crate::faults::Causes;
use crate::room;
use crate::row::{Row, Sink};
use benchmast_protocol::receiver::Event;
use std::io::{self, Write};

/// What is to be recorded, and how.
#[derive(Debug, Clone)]
pub struct RecorderOptions {
    /// In what forms.
    pub formats: Vec<Format>,
    /// Whether what the receiver believed is written.
    pub observed: bool,
    /// Whether the receiver's surroundings are written beside it: only where they are not perfect.
    pub room: bool,
    /// Whether the answer key is written.
    pub key: bool,
    /// Rain depth of one tip, micrometres.
    pub bucket_um: u16,
    /// What the bits of the key's cause mask mean.
    pub causes: Causes,
    /// Write on a further thread.
    pub background: bool,
    /// What the files' metadata say of the run.
    pub facts: Facts,
}

/// Writes the tables of a run.
pub struct Recorder {
    observed: Option<Observed>,
    key: Option<Key>,
    sidecars: Vec<HashedFile>,
}

impl Recorder {
    /// Open the files of a run.
    ///
    /// # Errors
    /// If a file cannot be created.
    pub fn new(folder: &Shelf, options: &RecorderOptions) -> io::Result<Self> {
        keep_freed_memory();
        let mut sidecars = Vec::new();
        let mut open = |name: &str, columns: &[Column], background: bool| {
            if options.formats.contains(&Format::Csv) {
                let mut file = folder.create(&format!("{name}.units.json"))?;
                serde_json::to_writer_pretty(&mut file, &units(columns))?;
                writeln!(file)?;
                sidecars.push(file);
            }
            let formats = &options.formats;
            TableWriter::new(folder, name, columns, formats, &options.facts, background)
        };
        let bucket = options.bucket_um;
        let observed = if options.observed {
            // These tables are not worth a thread.
            Some(Observed {
                observations: open("observed", &columns::observed(bucket), false)?,
                health: open("observed_health", &columns::observed_health(), false)?,
                receiver: if options.room {
                    Some(open(
                        "observed_receiver",
                        &columns::observed_receiver(),
                        false,
                    )?)
                } else {
                    None
                },
            })
        } else {
            None
        };
        let key = if options.key {
            Some(Key {
                table: open(
                    "key",
                    &columns::key(bucket, &options.causes),
                    options.background,
                )?,
                bucket_um: u32::from(bucket),
            })
        } else {
            None
        };
        Ok(Self {
            observed,
            key,
            sidecars,
        })
    }

    /// Write what is left and close the files.
    ///
    /// # Errors
    /// What the files say.
    pub fn finish(self) -> io::Result<Vec<Finished>> {
        let mut files = self.sidecars;
        if let Some(observed) = self.observed {
            files.extend(observed.observations.finish()?);
            files.extend(observed.health.finish()?);
            if let Some(receiver) = observed.receiver {
                files.extend(receiver.finish()?);
            }
        }
        if let Some(key) = self.key {
            files.extend(key.table.finish()?);
        }
        files.into_iter().map(HashedFile::finish).collect()
    }
}

/// Let the allocator keep what is freed, instead of giving it back and asking for it again with every block
/// of a table: that is a tenth of the time of a long run.
///
/// The GNU C library learns from the largest block it has seen freed how much to keep; this one is never
/// touched and costs no memory. Other allocators do not mind.
fn keep_freed_memory() {
    drop(std::hint::black_box(Vec::<u8>::with_capacity(24 << 20)));
}

impl Sink for Recorder {
    fn interval(&mut self, row: &Row<'_>) -> io::Result<()> {
        self.key.interval(row)
    }
    fn event(&mut self, time_us: i64, signal_dbm: f64, event: &Event) -> io::Result<()> {
        self.observed.event(time_us, signal_dbm, event)
    }
    fn room(&mut self, state: &room::State) -> io::Result<()> {
        self.observed.room(state)
    }
}
