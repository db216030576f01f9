//! Bellwire reads one job file of an extra-low-voltage wiring job, checks it as a circuit, draws it and writes its
//! documents.
//!
//! A job goes through the modules in the order in which they stand here, and each uses only those above it.
//!
//! ```
//! use bellwire::circuit::Circuit;
//! use bellwire::{checks, netlist};
//!
//! let reading = netlist::read_text(
//!     "lamp.yaml",
//!     "
//! job: {title: Lamp in the boat shed}
//! devices:
//!   G1: {type: dc-supply, volts: 12 V, amps: 1 A}
//!   E1: {type: lamp, volts: 12 V, amps: 0.4 A}
//! cables:
//!   W1: {type: twin-0.75, length: 4 m, cores: {red: [G1.V+, E1.1], black: taped}}
//! ",
//! );
//! let job = reading.job.ok_or("the file cannot be read")?;
//! let findings = checks::run(&job, &Circuit::of(&job));
//! assert!(findings.iter().any(|finding| finding.rule == "open-return"));
//! # Ok::<(), &str>(())
//! ```

pub mod source;
pub mod units;
pub mod diagnostic;
pub mod syntax;
pub mod library;
pub mod netlist;
pub mod lettering;
pub mod scene;
mod places;
pub mod figure;
pub mod circuit;
pub mod checks;
pub mod schedules;
pub mod layout;
pub mod drawing;
pub mod documents;
pub mod output;
pub mod cli;
