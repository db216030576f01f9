//! A type of the job or of a company file hides another of the same name.
//!
//! ## On site
//!
//! Nothing, if it is meant. If not, the part is checked and drawn by the wrong data sheet.
//!
//! ## Why
//!
//! Types are looked up in the job first, then in the files under `use:`, then among those that the program ships. The
//! first one found is taken.
//!
//! ## Example
//!
//! ```yaml
//! data_sheets:
//!   siren: {terminals: [1, 2], loads: {L: {plus: 1, minus: 2, volts: 12 V, amps: 0.1 A}}}
//! ```
//!
//! The program ships a `siren` too.
//!
//! ## Cure
//!
//! Give the type a name of its own, unless it shall stand in for the other.
//!
//! ## Limits
//!
//! Only types that a device or cable of the job uses are told.
//!
//! ## Sources
//!
//! Common practice, no source.

use crate::circuit::Circuit;
use crate::netlist::Job;

use super::report::Report;

/// The reader finds it; here is only its page.
pub(super) fn run(_: &Job, _: &Circuit, _: &mut Report) {}
