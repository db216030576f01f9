//! The job as a circuit: connectivity, reachable states, paths and the solver.
