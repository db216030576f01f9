//! Where everything stands: from the job to a placed, routed and labelled diagram on the grid.
//!
//! The phases are `collect`, `rank`, `order`, `place`, `route` and `label`; each turns the type of the one before into
//! the type of the next.

mod model;

pub use model::*;
