//! Bytes of SVG, PNG, CSV, Markdown and JSON. No electrical or layout knowledge.

mod csv;
mod geometry;
mod html;
mod json;
mod markdown;
mod number;
mod png;
mod proven;
mod svg;
mod text;

pub use csv::{csv, rows};
pub use geometry::geometry;
pub use html::html;
pub use json::json;
pub use markdown::markdown;
pub use png::{NoPicture, png};
pub use proven::{Fault, Proven};
pub use svg::svg;
pub use text::text;
