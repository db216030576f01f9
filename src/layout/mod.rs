//! Where everything stands: from the job to a placed, routed and labelled diagram on the grid.
//!
//! The phases are `collect`, `rank`, `order`, `place`, `route` and `label`; each turns the type of the one before into
//! the type of the next.
//!
//! The picture is made of columns of devices. Between two columns lies a gap, and in it every cable is a bundle of
//! rows of its own, so that its cores run side by side there and its labels have room. Where a cable passes a column
//! or a gap without ending there it keeps rows free as a lane. Between a column and the bundles beside it lies a
//! channel: all upright pieces of the cores stand there, each on a track of its own.

mod chain;
mod collect;
mod cut;
mod exchange;
mod label;
mod model;
mod order;
mod place;
mod rank;
mod route;
mod search;
mod sift;
mod tracks;
mod tree;
mod walk;

pub use model::*;

use crate::figure::Readings;
use crate::netlist::Job;

/// What is asked of a diagram.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Options<'a> {
    /// Width over height of the paper that the diagram shall fill well.
    pub aspect: f64,
    /// The readings that shall stand in the devices.
    pub readings: Option<&'a Readings>,
}

impl Default for Options<'_> {
    fn default() -> Self {
        Self { aspect: std::f64::consts::SQRT_2, readings: None }
    }
}

/// Lays a job out.
#[must_use]
pub fn lay_out(job: &Job, options: &Options) -> Layout {
    let graph = collect::collect(job);
    let ranking = rank::rank(graph);
    let ordered = search::search(job, ranking, options);
    let placed = place::place(job, ordered);
    let routed = route::route(job, placed);
    label::label(job, routed)
}
