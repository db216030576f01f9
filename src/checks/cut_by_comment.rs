//! A text ends where a comment begins, although the comment looks like part of it.
//!
//! ## On site
//!
//! `name: pump no #2` is read as `pump no`. Labels, drawings and documents then say less than was meant, and two parts
//! may bear one name.
//!
//! ## Why
//!
//! In YAML a `#` after a space begins a comment. Where a figure follows the `#` at once, a number was probably meant.
//!
//! ## Example
//!
//! ```yaml
//! devices:
//!   B2: {type: float-switch,
//!        name: tank no #2
//!       }
//! ```
//!
//! ## Cure
//!
//! Put the text in quotes: `name: "tank no #2"`. If it is a comment, write a space after the `#`.
//!
//! ## Limits
//!
//! A comment whose `#` is followed by anything but a figure is taken for a comment.
//!
//! ## Sources
//!
//! YAML 1.2, comments.

use crate::circuit::Circuit;
use crate::netlist::Job;

use super::report::Report;

/// The reader finds it; here is only its page.
pub(super) fn run(_: &Job, _: &Circuit, _: &mut Report) {}
