//! The picture of a network: one self-contained page over all stations of a run.
//!
//! [`Gathering`] listens to one station and folds what it hears into bins; when the station is through, a
//! [`Strand`] is left, whose size (some 200 kB at most) does not grow with the period. [`page()`] draws the strands of
//! all stations: map, what each receiver believed, small multiples of the weather, and when fronts arrived.

mod fronts;
mod gathering;
mod map;
mod page;

pub use gathering::{Gathering, Strand};
pub use page::page;
