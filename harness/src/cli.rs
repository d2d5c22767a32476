//! The command line: arguments in, a plan made, run, and reported. One table of options yields the help
//! and the completions; errors are printed in one place, here.

mod check;
mod examine;
mod faults;
mod field;
mod listen;
mod play;
mod run;
mod telling;
mod vectors;
mod words;

use clap::{CommandFactory, Parser, Subcommand};
use std::io::{self, Write};
use std::process::ExitCode;

/// What the exit code of every command means.
const EXIT_CODES: &str = "Exit codes: 0 done; 1 a check failed; 2 wrong arguments; 3 the input (scenario, record, \
    capture) cannot be used; 4 a port or the program at its other end failed; 5 results cannot be written; 130 interrupted.";

#[derive(Debug, Parser)]
#[command(
    name = "benchmast",
    version,
    about = "A weather station that does not exist, true enough to test real things on",
    after_help = EXIT_CODES,
    max_term_width = 100
)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Run(run::Arguments),
    Check(check::Arguments),
    Play(play::Arguments),
    Listen(listen::Arguments),
    Faults(faults::Arguments),
    Examine(Box<examine::Arguments>),
    Vectors(vectors::Arguments),
    /// Print shell completions
    #[command(
        after_help = "Example:\n  benchmast completions bash > ~/.local/share/bash-completion/completions/benchmast"
    )]
    Completions {
        /// For which shell
        shell: clap_complete::Shell,
    },
}

/// Why a command did not do what was asked.
#[derive(Debug)]
pub(crate) enum Failure {
    /// The input cannot be used; the text is complete.
    Input(String),
    /// A port or its other end failed.
    Port(String),
    /// Results cannot be written.
    Output(String),
    /// A check was made, its result told, and it is not good.
    Check,
    /// Whoever read our output has gone; nothing is wrong.
    ReaderGone,
    /// Somebody pressed Ctrl-C; nothing half-written is left.
    Interrupted,
}

impl Failure {
    /// An error while writing to `target`.
    pub(crate) fn writing(target: &str, error: &io::Error) -> Self {
        if error.kind() == io::ErrorKind::BrokenPipe {
            return Self::ReaderGone;
        }
        if error.kind() == io::ErrorKind::Interrupted {
            return Self::Interrupted;
        }
        Self::Output(format!("error: cannot write {target}: {error}"))
    }

    fn report(self) -> ExitCode {
        let (text, code) = match self {
            Self::Input(text) => (text, 3),
            Self::Port(text) => (text, 4),
            Self::Output(text) => (text, 5),
            Self::Check => return ExitCode::from(1),
            Self::ReaderGone => return ExitCode::SUCCESS,
            Self::Interrupted => ("benchmast: interrupted".into(), telling::INTERRUPTED),
        };
        if !text.is_empty() {
            // If even the error stream is gone, the exit code has to do.
            let _ = writeln!(io::stderr(), "{}", text.trim_end());
        }
        ExitCode::from(code)
    }
}

/// Run the command that the process was started with.
#[must_use]
pub fn main() -> ExitCode {
    let done = match Cli::parse().command {
        Command::Run(arguments) => run::run(&arguments),
        Command::Check(arguments) => check::run(&arguments),
        Command::Play(arguments) => play::run(&arguments),
        Command::Listen(arguments) => listen::run(&arguments),
        Command::Faults(arguments) => faults::run(&arguments),
        Command::Examine(arguments) => examine::run(&arguments),
        Command::Vectors(arguments) => vectors::run(&arguments),
        Command::Completions { shell } => completions(shell),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => failure.report(),
    }
}

fn completions(shell: clap_complete::Shell) -> Result<(), Failure> {
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut Cli::command(), "benchmast", &mut script);
    print(&script)
}

/// Write to standard output.
fn print(text: &[u8]) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    out.write_all(text)
        .and_then(|()| out.flush())
        .map_err(|error| Failure::writing("to standard output", &error))
}

/// Print a value as JSON on standard output.
fn print_json(value: &serde_json::Value) -> Result<(), Failure> {
    print(format!("{value:#}\n").as_bytes())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_of_options_is_sound_and_every_command_shows_an_example() {
        Cli::command().debug_assert();
        for command in Cli::command().get_subcommands() {
            let help = command
                .get_after_help()
                .map(ToString::to_string)
                .unwrap_or_default();
            assert!(help.contains("Example"), "{}", command.get_name());
        }
    }
}
