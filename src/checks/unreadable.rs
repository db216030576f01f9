//! The job file cannot be used as it is written.
//!
//! ## On site
//!
//! Nothing is checked or drawn until the file can be read. All that is wrong with it is told in one go.
//!
//! ## Why
//!
//! A name that nobody declared, a quantity without a sense or a key in the wrong place could mean two things. The
//! program does not guess at wiring.
//!
//! ## Example
//!
//! ```yaml
//! devices:
//!   G1: {type: dc-suply, volts: twelve}
//! ```
//!
//! ## Cure
//!
//! Go by the caret; where a name is nearly right, the right one is offered. Names that YAML cannot take plain are put
//! in quotes: `"-1"`. A decimal point is a point: `0.75 m`.
//!
//! ## Limits
//!
//! Tags, anchors, aliases and merge keys of YAML are refused. A file may be no larger than 16 MB.
//!
//! ## Sources
//!
//! YAML 1.2.

use crate::circuit::Circuit;
use crate::netlist::Job;

use super::report::Report;

/// The reader finds it; here is only its page.
pub(super) fn run(_: &Job, _: &Circuit, _: &mut Report) {}
