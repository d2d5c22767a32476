//! Writes `include/benchmast.h` from `src`, or holds what is there against it.
//!
//! `cargo run -p benchmast-header` writes, `cargo run -p benchmast-header -- --check` compares.

use std::path::Path;
use std::process::ExitCode;

fn main() -> ExitCode {
    let crate_dir = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let header = crate_dir.join("include/benchmast.h");
    let config = match cbindgen::Config::from_file(crate_dir.join("header/cbindgen.toml")) {
        Ok(config) => config,
        Err(error) => {
            eprintln!("header/cbindgen.toml: {error}");
            return ExitCode::FAILURE;
        }
    };
    let mut builder = cbindgen::Builder::new().with_config(config);
    for file in ["memory", "plain", "receiver", "keys", "packet"] {
        builder = builder.with_src(crate_dir.join(format!("src/{file}.rs")));
    }
    let mut fresh = Vec::new();
    match builder.generate() {
        Ok(bindings) => bindings.write(&mut fresh),
        Err(error) => {
            eprintln!("the source makes no header: {error}");
            return ExitCode::FAILURE;
        }
    }
    // What Rust calls a safety section is, for C, what the caller must see to.
    let fresh = String::from_utf8_lossy(&fresh).replace(" * # Safety\n", " * The caller's part:\n");
    if std::env::args().any(|argument| argument == "--check") {
        let there = std::fs::read_to_string(&header).unwrap_or_default();
        if there != fresh {
            eprintln!("include/benchmast.h is not what the source makes; write it anew");
            return ExitCode::FAILURE;
        }
        return ExitCode::SUCCESS;
    }
    if let Err(error) = std::fs::write(&header, &*fresh) {
        eprintln!("{}: {error}", header.display());
        return ExitCode::FAILURE;
    }
    ExitCode::SUCCESS
}
