//! The job as a circuit: connectivity, reachable states, paths and the solver.

/// The circuit of one job.
pub struct Circuit;
