//! Everything of benchmast that touches the world: scenarios, faults, link, records, ports, command line.

pub mod faults;
pub mod link;
pub mod plan;
pub mod report;
pub mod row;
