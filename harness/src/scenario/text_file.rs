//! Reading a whole text file, with refusals that say what to do.

use super::nearest::nearest;
use std::fmt;
use std::io::{ErrorKind, Read};
use std::path::Path;

/// Why a file is not a text that can be read.
#[derive(Debug)]
pub(super) enum Refusal {
    NotFound,
    Directory,
    TooLarge(u64),
    /// Valid up to this byte.
    NotUtf8(Vec<u8>, usize),
    Other(std::io::Error),
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotFound => f.write_str("does not exist"),
            Self::Directory => f.write_str("is a directory, not a file"),
            Self::TooLarge(limit) => write!(f, "is larger than {} MiB", limit >> 20),
            Self::NotUtf8(..) => f.write_str("is not text in UTF-8"),
            Self::Other(error) => write!(f, "cannot be read: {error}"),
        }
    }
}

impl Refusal {
    /// The next step.
    pub(super) fn help(&self, file: &Path) -> String {
        let directory = match file.parent() {
            Some(parent) if !parent.as_os_str().is_empty() => parent,
            _ => Path::new("."),
        };
        match self {
            Self::NotFound if !directory.is_dir() => {
                format!("there is no directory {} either", directory.display())
            }
            Self::NotFound => match neighbour(file, directory) {
                Some(name) => format!("did you mean {}?", directory.join(name).display()),
                None => format!("look for its name in {}", directory.display()),
            },
            Self::Directory => "name the file in it".to_owned(),
            Self::TooLarge(_) => "look whether it is the right file".to_owned(),
            Self::NotUtf8(..) => {
                "save it again as UTF-8; most editors offer that when saving".to_owned()
            }
            Self::Other(_) => "look whether you may read it".to_owned(),
        }
    }
}

/// A file of the same directory with a similar name.
fn neighbour(file: &Path, directory: &Path) -> Option<String> {
    let wanted = file.file_name()?.to_str()?;
    let mut names: Vec<String> = directory
        .read_dir()
        .ok()?
        .filter_map(|entry| entry.ok()?.file_name().into_string().ok())
        .collect();
    // The order of a directory is not defined.
    names.sort();
    nearest(wanted, names.iter().map(String::as_str)).map(str::to_owned)
}

/// The text of a file of at most `limit` bytes.
pub(super) fn read(file: &Path, limit: u64) -> Result<String, Refusal> {
    let refuse = |error: std::io::Error| match error.kind() {
        ErrorKind::NotFound => Refusal::NotFound,
        ErrorKind::IsADirectory => Refusal::Directory,
        _ => Refusal::Other(error),
    };
    if file.is_dir() {
        return Err(Refusal::Directory);
    }
    let mut bytes = Vec::new();
    let mut open = std::fs::File::open(file).map_err(refuse)?.take(limit + 1);
    open.read_to_end(&mut bytes).map_err(refuse)?;
    if bytes.len() as u64 > limit {
        return Err(Refusal::TooLarge(limit));
    }
    String::from_utf8(bytes).map_err(|error| {
        let valid = error.utf8_error().valid_up_to();
        Refusal::NotUtf8(error.into_bytes(), valid)
    })
}
