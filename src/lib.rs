//! Bellwire reads one job file of an extra-low-voltage wiring job, checks it as a circuit, draws it and writes its
//! documents.
//!
//! A job goes through the modules in the order in which they stand here, and each uses only those above it.

pub mod source;
pub mod units;
pub mod diagnostic;
pub mod syntax;
pub mod library;
pub mod netlist;
pub mod lettering;
pub mod scene;
pub mod figure;
pub mod circuit;
pub mod checks;
pub mod schedules;
pub mod layout;
pub mod drawing;
pub mod output;
pub mod cli;
