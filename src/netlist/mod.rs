//! The job as it was meant: devices, terminals, parts, cables, cores and ends, names resolved and quantities in SI.
//!
//! Everything stands in dense vectors; the id types are their indices. What was left out in the file is filled in
//! here, and every core of every cable is accounted for.

mod model;
mod part_terminals;

pub use model::*;
