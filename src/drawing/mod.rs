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
use crate::layout::{self, Layout, Options};
use crate::lettering;
use crate::netlist::Job;
use crate::scene::{Group, Shape, Sheet};

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

/// Width over height of the rooms that sheets offer a diagram: above a schedule, on an empty sheet, beside a schedule.
const ASPECTS: [f64; 3] = [2.4, 1.5, 1.0];

/// Draws a job that has been checked, on the smallest sheet that holds it.
#[must_use]
pub fn draw(job: &Job, findings: &[Finding]) -> Drawing {
    let layouts = ASPECTS.map(|aspect| layout::lay_out(job, &Options { aspect }));
    on_sheets(job, &layouts, findings)
}

/// Puts the diagram on sheets: of the layouts given the one that a sheet holds best.
#[must_use]
pub fn on_sheets(job: &Job, layouts: &[Layout], findings: &[Finding]) -> Drawing {
    let lines = table::lines(job);
    let (sheets, mut remarks) = sheets::Matter::new(job, layouts, findings, &lines).sheets();
    remarks.extend(unlettered(&sheets));
    Drawing { sheets, remarks }
}

/// A remark for each character that the font cannot show.
fn unlettered(sheets: &[Sheet]) -> Vec<String> {
    let mut remarks: Vec<(char, String)> = Vec::new();
    let mut groups: Vec<&Group> = sheets.iter().flat_map(|s| &s.content).collect();
    while let Some(group) = groups.pop() {
        groups.extend(group.groups());
        for shape in group.shapes() {
            let Shape::Text(text) = shape else { continue };
            for c in lettering::without_glyph(&text.text) {
                if !remarks.iter().any(|(known, _)| *known == c) {
                    remarks.push((
                        c,
                        format!("the font has no letter for `{c}` in `{}`; a box stands there", text.text),
                    ));
                }
            }
        }
    }
    remarks.sort();
    remarks.into_iter().map(|(_, remark)| remark).collect()
}
