//! YAML to located values: every fault of the text with its place, and the readers' tools.
//!
//! The one place that names a YAML crate. A file is read in one pass; what is wrong with it is collected, so that all of
//! it can be reported together.

mod decode;
mod faults;
mod fields;
mod nearest;
mod parse;
mod slips;
mod tree;

pub use decode::text;
pub use faults::{Faults, UNREADABLE};
pub use fields::{Fields, Said, choose, listed, not_a_map, on_one_line, said, texts};
pub use nearest::{did_you_mean, nearest};
pub use parse::CUT_BY_COMMENT;
pub use tree::{Data, Entries, Entry, Items, Tree, Value};

use crate::source::Sources;

/// Takes a file in and reads its tree. `None` when its text could not be read to the end; the faults then say why.
pub fn load(sources: &mut Sources, name: &str, bytes: Vec<u8>, faults: &mut Faults) -> Option<Tree> {
    let file = decode::decode(sources, name, bytes, faults)?;
    parse::parse(sources, file, faults)
}
