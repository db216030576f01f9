//! A device or type asks for a graphic symbol that there is not.
//!
//! ## On site
//!
//! Nothing. The drawing shows what follows from the sections of the data sheet instead.
//!
//! ## Why
//!
//! `symbol:` names one of the symbols that the program ships. It may be a slip of the pen, or a symbol that still wants
//! drawing.
//!
//! ## Example
//!
//! ```yaml
//! devices:
//!   M1: {type: motor, symbol: moter}
//! ```
//!
//! ## Cure
//!
//! Write one that `bellwire library` lists, or leave `symbol:` out.
//!
//! ## Limits
//!
//! Only the name is looked at: an actuator's sign asked for on a lamp is left out without a word.
//!
//! ## Sources
//!
//! Common practice, no source.

use crate::circuit::Circuit;
use crate::netlist::Job;

use super::report::Report;

/// The reader finds it; here is only its page.
pub(super) fn run(_: &Job, _: &Circuit, _: &mut Report) {}
