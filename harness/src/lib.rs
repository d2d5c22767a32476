//! Everything of benchmast that touches the world: scenarios, faults, link, records, ports, command line.

pub mod episodes;
pub mod faults;
pub mod link;
pub mod plan;
pub mod record;
pub mod row;
pub mod tally;
pub mod vectors;
