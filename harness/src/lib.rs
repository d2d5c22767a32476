//! Everything of benchmast that touches the world: scenarios, faults, link, records, ports, command line.

pub mod capture;
pub mod episodes;
pub mod faults;
pub mod link;
pub mod pace;
pub mod plan;
pub mod ports;
pub mod record;
pub mod report;
pub mod row;
pub mod scenario;
pub mod tally;
pub mod vectors;
