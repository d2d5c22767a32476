//! The `benchmast` command.

fn main() {}
