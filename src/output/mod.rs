//! Bytes of SVG, PNG, CSV, Markdown and JSON. No electrical or layout knowledge.

mod geometry;
mod png;
mod proven;
mod svg;

pub use geometry::geometry;
pub use png::{NoPicture, png};
pub use proven::{Fault, Proven};
pub use svg::svg;
