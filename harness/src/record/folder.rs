//! A folder of results that appears whole or not at all.
//!
//! Files are written into a folder beside the target; when all are complete it takes the target's name.
//! A run that is interrupted leaves a folder whose name says so and never one that looks finished.

use super::table::{Column, Kind};
use sha2::{Digest, Sha256};
use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

/// A folder being written.
#[derive(Debug)]
pub struct Folder {
    target: PathBuf,
    beside: tempfile::TempDir,
    replace: bool,
}

/// A folder, or one of the folders in it, in which files can be made.
#[derive(Debug, Clone)]
pub struct Shelf {
    path: PathBuf,
    /// What stands before the names of its files, seen from the outer folder.
    prefix: String,
}

impl Shelf {
    /// A new file.
    ///
    /// # Errors
    /// If it cannot be created.
    pub fn create(&self, name: &str) -> io::Result<HashedFile> {
        HashedFile::create(self.path.join(name), name)
    }

    /// A file by its bytes.
    ///
    /// # Errors
    /// If it cannot be written.
    pub fn save(&self, name: &str, bytes: &[u8]) -> io::Result<Finished> {
        let mut file = self.create(name)?;
        file.write_all(bytes)?;
        file.finish()
    }

    /// What a file of this shelf is called in the outer folder.
    #[must_use]
    pub fn outer(&self, file: Finished) -> Finished {
        Finished {
            name: format!("{}{}", self.prefix, file.name),
            ..file
        }
    }
}

/// Name of the file that makes a folder a run's folder.
pub const MANIFEST: &str = "manifest.json";

impl Folder {
    /// Prepare to write `target`.
    ///
    /// # Errors
    /// If `target` exists, unless it is an empty folder, or an earlier run's and `replace` is set; or if
    /// its parent cannot be written to.
    pub fn create_beside(target: &Path, replace: bool) -> io::Result<Self> {
        let name = target
            .file_name()
            .ok_or_else(|| io::Error::other("the output folder needs a name"))?;
        let parent = match target.parent() {
            Some(parent) if !parent.as_os_str().is_empty() => parent,
            _ => Path::new("."),
        };
        if occupied(target)? && !(replace && target.join(MANIFEST).is_file()) {
            let next = if target.join(MANIFEST).is_file() {
                "add --replace to write it anew, or choose another --out"
            } else {
                "it is not the folder of an earlier run; choose another --out"
            };
            return Err(io::Error::new(
                io::ErrorKind::AlreadyExists,
                format!("it exists already: {next}"),
            ));
        }
        fs::create_dir_all(parent)?;
        let prefix = format!(".{}.unfinished-", name.to_string_lossy());
        let beside = tempfile::Builder::new()
            .prefix(&prefix)
            .tempdir_in(parent)?;
        Ok(Self {
            target: target.to_path_buf(),
            beside,
            replace,
        })
    }

    /// The folder itself as a place for files.
    #[must_use]
    pub fn shelf(&self) -> Shelf {
        Shelf {
            path: self.beside.path().to_path_buf(),
            prefix: String::new(),
        }
    }

    /// A new folder in this one.
    ///
    /// # Errors
    /// If it cannot be created.
    pub fn below(&self, name: &str) -> io::Result<Shelf> {
        let path = self.beside.path().join(name);
        fs::create_dir(&path)?;
        Ok(Shelf {
            path,
            prefix: format!("{name}/"),
        })
    }

    /// A new file of the folder.
    ///
    /// # Errors
    /// If it cannot be created.
    pub fn create(&self, name: &str) -> io::Result<HashedFile> {
        self.shelf().create(name)
    }

    /// All files are complete: give the folder its name.
    ///
    /// # Errors
    /// If the rename fails; then nothing has appeared.
    pub fn finish(self) -> io::Result<PathBuf> {
        if self.replace && self.target.join(MANIFEST).is_file() {
            // The old results stay until the new ones are complete, then they go in one step.
            let old = self.beside.path().with_extension("replaced");
            fs::rename(&self.target, &old)?;
            if let Err(error) = fs::rename(self.beside.path(), &self.target) {
                fs::rename(&old, &self.target)?;
                return Err(error);
            }
            fs::remove_dir_all(&old)?;
        } else {
            // An empty folder may be in the way; rename replaces it.
            fs::rename(self.beside.path(), &self.target)?;
        }
        let _ = self.beside.keep();
        open_to_all(&self.target)?;
        Ok(self.target)
    }
}

/// Temporary folders are for their owner only; results follow the usual rule.
#[cfg(unix)]
fn open_to_all(folder: &Path) -> io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    fs::set_permissions(folder, fs::Permissions::from_mode(0o755))
}
#[cfg(not(unix))]
fn open_to_all(_folder: &Path) -> io::Result<()> {
    Ok(())
}

fn occupied(target: &Path) -> io::Result<bool> {
    match fs::read_dir(target) {
        Ok(mut entries) => Ok(entries.next().is_some()),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(false),
        Err(_) => Ok(true),
    }
}

/// A file that knows its SHA-256 and its length when it is complete.
#[derive(Debug)]
pub struct HashedFile {
    name: String,
    file: BufWriter<Tee>,
}

#[derive(Debug)]
struct Tee {
    file: File,
    sum: Sha256,
    length: u64,
}

impl Write for Tee {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.file.write(bytes)?;
        self.sum.update(&bytes[..written]);
        self.length += written as u64;
        Ok(written)
    }
    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

/// A complete file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finished {
    /// Name in the folder.
    pub name: String,
    /// Length, bytes.
    pub bytes: u64,
    /// SHA-256, lower-case hexadecimal.
    pub sha256: String,
}

impl HashedFile {
    fn create(path: PathBuf, name: &str) -> io::Result<Self> {
        let tee = Tee {
            file: File::create(path)?,
            sum: Sha256::new(),
            length: 0,
        };
        Ok(Self {
            name: name.into(),
            file: BufWriter::with_capacity(1 << 17, tee),
        })
    }

    /// Close the file.
    ///
    /// # Errors
    /// If the last bytes cannot be written.
    pub fn finish(self) -> io::Result<Finished> {
        let tee = self
            .file
            .into_inner()
            .map_err(io::IntoInnerError::into_error)?;
        Ok(Finished {
            name: self.name,
            bytes: tee.length,
            sha256: hex(&tee.sum.finalize()),
        })
    }
}

impl Write for HashedFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.file.write(bytes)
    }
    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

/// SHA-256 of some bytes, lower-case hexadecimal.
#[must_use]
pub fn sha256(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

fn hex(bytes: &[u8]) -> String {
    use std::fmt::Write as _;
    bytes.iter().fold(String::new(), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

/// Unit, CF standard name and title of each column, as JSON.
pub(super) fn units(columns: &[Column]) -> serde_json::Value {
    let entries = columns.iter().map(|column| {
        let unit = match column.kind {
            Kind::Time => "ISO 8601, UTC",
            _ => column.unit.as_str(),
        };
        let mut entry = serde_json::json!({ "unit": unit, "long_name": column.title });
        if let Some(name) = column.cf_standard_name {
            entry["standard_name"] = name.into();
        }
        if !column.flags.is_empty() {
            let meanings: Vec<_> = column.flags.iter().map(|(_, meaning)| *meaning).collect();
            let masks: Vec<_> = column.flags.iter().map(|(mask, _)| *mask).collect();
            // The CF conventions' attributes of the same names.
            entry["flag_masks"] = masks.into();
            entry["flag_meanings"] = meanings.join(" ").into();
        }
        (column.name.clone(), entry)
    });
    serde_json::Value::Object(entries.collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn write_one(target: &Path, replace: bool, text: &str) -> io::Result<Finished> {
        let folder = Folder::create_beside(target, replace)?;
        let mut file = folder.create(MANIFEST)?;
        file.write_all(text.as_bytes())?;
        let finished = file.finish()?;
        folder.finish()?;
        Ok(finished)
    }

    #[test]
    fn a_folder_appears_whole_and_is_replaced_only_on_request() -> io::Result<()> {
        let room = tempfile::tempdir()?;
        let target = room.path().join("deep/run");
        // SHA-256 of "abc": FIPS 180-2, appendix B.1.
        let finished = write_one(&target, false, "abc")?;
        assert_eq!(
            finished.sha256,
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
        assert_eq!(finished.bytes, 3);
        let refused = write_one(&target, false, "new").map_err(|error| error.to_string());
        assert!(refused.is_err_and(|text| text.contains("--replace")));
        assert_eq!(fs::read(target.join(MANIFEST))?, b"abc");
        write_one(&target, true, "new")?;
        assert_eq!(fs::read(target.join(MANIFEST))?, b"new");
        assert_eq!(fs::read_dir(room.path().join("deep"))?.count(), 1);
        Ok(())
    }

    #[test]
    fn a_folder_that_is_not_a_run_is_never_replaced() -> io::Result<()> {
        let room = tempfile::tempdir()?;
        fs::write(room.path().join("holiday.txt"), "photos")?;
        assert!(write_one(room.path(), true, "new").is_err());
        assert_eq!(fs::read(room.path().join("holiday.txt"))?, b"photos");
        Ok(())
    }

    #[test]
    fn an_abandoned_folder_leaves_nothing() -> io::Result<()> {
        let room = tempfile::tempdir()?;
        let folder = Folder::create_beside(&room.path().join("run"), false)?;
        folder.create("key.csv")?.write_all(b"half")?;
        drop(folder);
        assert_eq!(fs::read_dir(room.path())?.count(), 0);
        Ok(())
    }
}
