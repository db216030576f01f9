//! Bytes: drawings as SVG, PNG, PDF and as numbers, tables as plain text, CSV, XLSX, Markdown, JSON and PDF, the page as HTML,
//! all together as ZIP, and what the preview answers. No electrical or layout knowledge.

mod about;
mod csv;
mod geometry;
mod html;
mod json;
mod markdown;
mod number;
mod pdf;
mod png;
mod proven;
mod served;
mod svg;
mod text;
mod xlsx;
mod zip;

pub use about::About;
pub use csv::{csv, rows};
pub use geometry::geometry;
pub use html::{PageBody, html};
pub use json::{chart_json, json};
pub use markdown::markdown;
pub use pdf::pdf;
pub use png::{NoPicture, png};
pub use proven::{Fault, Proven};
pub use served::{Report, Served, served};
pub use svg::svg;
pub use text::{chart_text, text};
pub use xlsx::xlsx;
pub use zip::zip;
