//! Any text as a scenario: a plan or a message, and the message can be printed.
#![no_main]

use libfuzzer_sys::fuzz_target;
use std::path::Path;

fuzz_target!(|text: &str| {
    // No record of weather is looked for: the folder is not there.
    if let Err(report) =
        benchmast::scenario::parse_network("fuzz.toml", text, Path::new("no/such/folder"))
    {
        assert!(!report.plain().trim().is_empty());
    }
});
