//! The files of a run: what the receiver believed, and the answer key.
//!
//! Rows are gathered in blocks of columns ([`table::Block`]) and written block by block as CSV or Parquet,
//! so that memory does not grow with the period. With more than one thread a second one does the writing;
//! the bytes are the same.

mod columns;
mod csv;
pub mod folder;
mod key;
mod observed;
mod parquet;
mod readings;
mod recorder;
pub mod table;
mod writer;

pub(crate) use readings::reported;
pub use recorder::{Recorder, RecorderOptions};

/// In what form the tables are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Format {
    /// RFC 4180 text with a header row, UTC times, empty cells for missing values and units in a sidecar.
    Csv,
    /// Apache Parquet, typed and compressed, units in the metadata.
    Parquet,
}

impl Format {
    /// The ending of its file names.
    #[must_use]
    pub fn extension(self) -> &'static str {
        match self {
            Self::Csv => "csv",
            Self::Parquet => "parquet",
        }
    }
}

/// What a table file's metadata says of the run, as key and value.
pub type Facts = Vec<(String, String)>;
