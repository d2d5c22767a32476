//! `benchmast vectors`: the golden examples of the wire format.

use super::{Failure, print};
use std::path::PathBuf;

/// Write the golden vectors of the wire format, for unit tests in any language
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  benchmast vectors --out vectors")]
pub(super) struct Arguments {
    /// Folder to write them into; it is made if need be
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
}

pub(super) fn run(arguments: &Arguments) -> Result<(), Failure> {
    let written = crate::vectors::write(&arguments.out)
        .map_err(|error| Failure::writing(&arguments.out.display().to_string(), &error))?;
    let lines: String = written
        .iter()
        .map(|path| format!("{}\n", path.display()))
        .collect();
    print(lines.as_bytes())
}
