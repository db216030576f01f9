//! Sheets of shapes: diagram, frame, title block, tables; and the read-back.

mod column;
mod device;
mod diagram;
mod earlier;
mod flags;
mod in_parts;
mod index;
mod joints;
mod named;
mod notes;
mod pages;
mod paper;
mod paper_reader;
mod plate;
mod read_back;
mod readings;
mod references;
mod revisions;
mod sheets;
mod spots;
mod strand;
mod table;
mod table_sheets;
mod title_block;

use crate::circuit::Circuit;
use crate::diagnostic::Finding;
use crate::figure::Readings;
use crate::layout::{self, Earlier, Layout, Planner};
use crate::lettering;
use crate::netlist::Job;
use crate::scene::{Group, Shape, Sheet};
use crate::schedules::Spots;

pub use device::device_sheet;
pub use earlier::earlier;
use sheets::Matter;

pub use notes::{By, Flagged, ISOLATE, LIMITS, PUT_IN};
pub use pages::{Block, pages};
pub use paper::Paper;
pub use plate::{cable_sheet, plate};
pub use read_back::read_back;
pub use revisions::{Revision, revise};
pub use strand::{paint_of_code, strokes};
pub use table_sheets::{Titled, paper_figure, table_sheets};

/// A whole drawing.
#[derive(Clone, Debug)]
pub struct Drawing {
    /// Its sheets, the diagram first.
    pub sheets: Vec<Sheet>,
    /// Sheet and zone of every device and cable.
    pub spots: Spots,
    /// What could not be done as the job asks, each in a sentence.
    pub remarks: Vec<String>,
}

/// Width over height of the room that a sheet offers a diagram: above a schedule, and alone.
const ASPECTS: [f64; 2] = [2.1, 1.5];

/// A diagram of so many times the area of the largest room for it is not tried for other shapes of paper.
const HOPELESS: f64 = 1.5;

/// Jobs of more devices are not tried on one sheet: none that a printer takes would hold them.
const MOST_ON_ONE: usize = 60;

/// Draws a job that has been checked: on the smallest sheet that holds the whole diagram, or cut into several diagrams
/// with references between them. What finds no room beside a diagram follows on other sheets. The order of an earlier drawing
/// is kept where the diagram goes on one sheet.
#[must_use]
pub fn draw(job: &Job, circuit: &Circuit, findings: &[Finding], earlier: Option<&Earlier>) -> Drawing {
    draw_flagged(job, circuit, Flagged::by_check(findings), earlier)
}

/// The same with flags that somebody else than the check put up.
#[must_use]
pub fn draw_flagged(
    job: &Job,
    circuit: &Circuit,
    flagged: Flagged<'_>,
    earlier: Option<&Earlier>,
) -> Drawing {
    let readings =
        if flagged.by.shows_readings() { readings::readings(job, circuit) } else { Readings::default() };
    if job.devices.len() <= MOST_ON_ONE {
        let room = Matter::new(job, circuit, &[], flagged).largest_room();
        let layouts = layouts(job, circuit, flagged, &readings, earlier, room);
        if let Some(drawing) = on_sheets(job, circuit, &layouts, flagged) {
            return drawing;
        }
    }
    let Some(paper) = in_parts::paper(job.info.sheet) else {
        return Drawing { sheets: Vec::new(), spots: Spots::default(), remarks: Vec::new() };
    };
    let rooms = Matter::new(job, circuit, &[], flagged).rooms(&paper);
    let diagrams = layout::lay_out_in_parts(job, &rooms, Some(&readings));
    let (sheets, mut remarks) = Matter::new(job, circuit, &diagrams, flagged).in_parts(&paper);
    if earlier.is_some() {
        remarks.push(
            "the job is cut into several sheets: the order of the earlier drawing is not kept".to_owned(),
        );
    }
    remarks.extend(unlettered(&sheets));
    Drawing { spots: spots::spots(job, &sheets), sheets, remarks }
}

/// Draws a job that has been checked with all its notes and tables on a single sheet, as large as that has to be.
#[must_use]
pub fn draw_on_one_sheet(
    job: &Job,
    circuit: &Circuit,
    findings: &[Finding],
    earlier: Option<&Earlier>,
) -> Drawing {
    let flagged = Flagged::by_check(findings);
    let layouts = layouts(job, circuit, flagged, &readings::readings(job, circuit), earlier, None);
    let (sheets, mut remarks) = Matter::new(job, circuit, &layouts, flagged).one_sheet();
    remarks.extend(unlettered(&sheets));
    Drawing { spots: spots::spots(job, &sheets), remarks, sheets }
}

/// The diagram for each shape of paper, and after a shorter search if none fits; each is pressed together if the largest
/// room for it is too low.
fn layouts(
    job: &Job,
    circuit: &Circuit,
    flagged: Flagged<'_>,
    readings: &Readings,
    earlier: Option<&Earlier>,
    largest: Option<(i32, i32)>,
) -> Vec<Layout> {
    let mut planner = Planner::new(job, Some(readings));
    if let Some(earlier) = earlier {
        planner = planner.like(earlier);
    }
    let mut layouts = Vec::new();
    let hopeless = |layouts: &[Layout]| {
        let area = |(width, height): (i32, i32)| f64::from(width) * f64::from(height);
        let beyond = |layout: &Layout| largest.is_some_and(|room| area(layout.size) > HOPELESS * area(room));
        layouts.iter().any(beyond)
    };
    for aspect in ASPECTS {
        layouts.extend(match largest {
            Some(room) => planner.lay_out_within(aspect, room),
            None => planner.lay_out(aspect),
        });
        if !planner.minds_paper() || hopeless(&layouts) {
            return layouts;
        }
    }
    // What has a few crossings more may need less paper.
    if let Some(room) = largest.filter(|_| earlier.is_none()) {
        for aspect in ASPECTS {
            if hopeless(&layouts) || Matter::new(job, circuit, &layouts, flagged).fits_on_one() {
                break;
            }
            layouts.push(planner.lay_out_plainly(aspect, room));
        }
    }
    layouts
}

/// Puts the whole diagram on one sheet: of the layouts given the one that a sheet holds best; `None` if none holds any.
#[must_use]
pub fn on_sheets(job: &Job, circuit: &Circuit, layouts: &[Layout], flagged: Flagged<'_>) -> Option<Drawing> {
    let (sheets, mut remarks) = Matter::new(job, circuit, layouts, flagged).sheets()?;
    remarks.extend(unlettered(&sheets));
    Some(Drawing { spots: spots::spots(job, &sheets), remarks, sheets })
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
