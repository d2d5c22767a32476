//! The `benchmast` command.

use std::process::ExitCode;

fn main() -> ExitCode {
    benchmast::cli::main()
}
