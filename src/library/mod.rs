//! The parts and cables that the program knows, embedded from `symbols/`, and company files of them.
