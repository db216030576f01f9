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
mod gap;
mod label;
mod model;
mod order;
mod place;
mod rank;
mod route;
mod search;
mod settle;
mod sift;
mod straighten;
mod tracks;
mod tree;
mod walk;

pub use model::*;

use crate::figure::Readings;
use crate::netlist::Job;

/// The most devices of a job whose layout is searched for; a larger one takes the best of a few starts.
const FEW: usize = 60;

/// Lays a job out for one shape of paper after the other; what is found out for one serves the next.
#[derive(Debug)]
pub struct Planner<'a> {
    job: &'a Job,
    search: search::Search<'a>,
}

impl<'a> Planner<'a> {
    /// Begins, with the readings that shall stand in the devices.
    #[must_use]
    pub fn new(job: &'a Job, readings: Option<&'a Readings>) -> Self {
        Self { job, search: search::Search::new(job, rank::rank(collect::collect(job)), readings) }
    }

    /// Whether the shape of the paper changes anything.
    #[must_use]
    pub fn minds_paper(&self) -> bool {
        self.search.minds_paper()
    }

    /// The diagram that fills paper well which is so many times as wide as high.
    #[must_use]
    pub fn lay_out(&mut self, aspect: f64) -> Layout {
        let ordered = self.search.best(aspect);
        let placed = place::place(self.job, ordered);
        let routed = route::route(self.job, placed);
        label::label(self.job, routed)
    }
}

/// Lays a job out, without readings, for paper of an ISO 216 size.
#[must_use]
pub fn lay_out(job: &Job) -> Layout {
    Planner::new(job, None).lay_out(std::f64::consts::SQRT_2)
}
