//! Devices that are points: a splice is one, each way of a strip is one.

use super::Side;
use super::flank::{ABOVE, CIRCLE, LETTERS, bar};
use super::inner::Inner;
use super::pen::Pen;
use super::rows::{Row, Rows};
use crate::lettering::{self, Height};
use crate::netlist::Job;
use crate::scene::{Anchor, M, Point, Text};

/// A splice: the outline itself is the bar, with the landings on its edges.
pub(super) fn splice(rows: &Rows) -> Inner {
    Inner { w: 1, h: rows.lowest().max(1) + 1, pen: Pen::new(M), below: 0 }
}

/// A strip: a way a row, its number on the line that joins its two sides.
pub(super) fn strip(job: &Job, rows: &Rows) -> Inner {
    let name = |r: &Row| job.terminal(r.terminal).name.as_str();
    let widest = rows.rows.iter().map(|r| lettering::width(name(r), Height::H2_5, false)).fold(0.0, f64::max);
    let w = (((widest + 2.0 * LETTERS) / M).ceil() as i32).max(4);
    let mut pen = Pen::new(f64::from(w) * M);
    let middle = pen.w / 2.0;
    let mut last = None;
    for row in &rows.rows {
        let y = f64::from(row.first) * M;
        if last != Some(row.terminal) {
            let text = Text::new(name(row), middle, y - ABOVE, Height::H2_5).anchored(Anchor::Middle);
            pen.text(Side::Left, text);
            if last.is_some() {
                let y = y - 1.7 * M;
                pen.rule(Point { x: 0.0, y }, Point { x: pen.w, y });
            }
        }
        pen.lead(row.side, &[Point { x: CIRCLE, y }, Point { x: middle, y }]);
        bar(row, &mut pen);
        last = Some(row.terminal);
    }
    Inner { w, h: rows.lowest().max(2) + 1, pen, below: 0 }
}
