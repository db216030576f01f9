//! Sheets of shapes: diagram, frame, title block, tables; and the read-back.

mod column;
mod device;
mod diagram;
mod flags;
mod joints;
mod notes;
mod paper;
mod paper_reader;
mod read_back;
mod sheets;
mod strand;
mod table;
mod title_block;

use crate::diagnostic::Finding;
use crate::layout::Layout;
use crate::netlist::Job;
use crate::scene::Sheet;

pub use device::device_sheet;
pub use paper::Paper;
pub use read_back::read_back;

/// A whole drawing.
#[derive(Clone, Debug)]
pub struct Drawing {
    /// Its sheets, the diagram first.
    pub sheets: Vec<Sheet>,
    /// What could not be done as the job asks, each in a sentence.
    pub remarks: Vec<String>,
}

/// Draws a job that has been laid out and checked.
#[must_use]
pub fn draw(job: &Job, layout: &Layout, findings: &[Finding]) -> Drawing {
    let lines = table::lines(job);
    let (sheets, remarks) = sheets::Matter::new(job, layout, findings, &lines).sheets();
    Drawing { sheets, remarks }
}
