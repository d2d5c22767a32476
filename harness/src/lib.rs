//! Everything of benchmast that touches the world: scenarios, faults, link, records, ports, command line.

pub mod bench;
pub mod capture;
pub mod cli;
pub mod episodes;
pub mod examine;
pub mod faults;
pub mod link;
pub mod manifest;
pub mod pace;
pub mod plan;
pub mod ports;
pub mod record;
pub mod report;
pub mod room;
pub mod row;
pub mod scenario;
pub mod tally;
pub mod vectors;
