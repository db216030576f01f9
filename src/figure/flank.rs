//! One side of a device: its letters and landings, the signs at its terminals, and the symbols in its columns.

use super::Side;
use super::choose::{Drawn, Mark};
use super::graphic::Turn;
use super::pen::{Pen, ink};
use super::rows::{Row, Rows};
use super::slots::{Meeting, Slot, columns};
use crate::lettering::{self, Height};
use crate::netlist::{Job, TerminalId};
use crate::scene::{M, Point, Text};

/// The radius of a landing's circle.
pub(super) const CIRCLE: f64 = 1.0;
/// From the outline to a terminal's letters.
pub(super) const LETTERS: f64 = 1.6;
/// From a lead up to the baseline of the letters that stand on it.
pub(super) const ABOVE: f64 = 0.9;

/// One side, laid out by depth.
pub(super) struct Flank<'a> {
    pub side: Side,
    /// The parts whose terminals are all on this side.
    pub slots: Vec<Slot<'a>>,
    marks: Vec<&'a Mark>,
    /// Where the signs begin, in millimetres.
    marks_at: f64,
    /// How deep all of it reaches, in millimetres.
    end: f64,
}

impl<'a> Flank<'a> {
    /// Lays a side out: letters outermost, then signs, then columns.
    pub fn new(job: &Job, rows: &Rows, side: Side, drawn: &[&'a Drawn], marks: &'a [Mark]) -> Self {
        let on = || rows.rows.iter().filter(|r| r.side == side);
        let width = |r: &Row| lettering::width(&job.terminal(r.terminal).name, Height::H2_5, false);
        let widest = on().map(width).fold(0.0, f64::max);
        let mut end = if on().next().is_some() { LETTERS + widest + 0.6 } else { 0.0 };
        let here = |t: TerminalId| on().any(|r| r.terminal == t);
        let marks: Vec<&Mark> = marks.iter().filter(|m| here(m.terminal)).collect();
        let marks_at = ((end + 0.6) / M).ceil() * M;
        for mark in &marks {
            let ink = ink(&mark.symbol.placed(Turn::LEVEL, Point { x: marks_at, y: 0.0 }));
            end = end.max(ink.map_or(0.0, |i| i.right()) + 0.4);
        }
        let drawn: Vec<&Drawn> =
            drawn.iter().filter(|d| d.ends.iter().all(|(_, t)| here(*t))).copied().collect();
        let row = |t: TerminalId| rows.of(t).map_or(0.0, |r| f64::from(r.first) * M);
        let (slots, end) = columns(&drawn, row, end);
        Self { side, slots, marks, marks_at, end }
    }

    /// How many modules it takes across, with clear room beyond its symbols.
    pub fn depth(&self) -> i32 {
        let clear = if self.slots.is_empty() && self.marks.is_empty() { 0.0 } else { M / 2.0 };
        ((self.end + clear) / M).ceil() as i32
    }

    /// Draws it. `further` tells which terminals have a lead that goes on beyond this side; `raised` sets the letters
    /// on their leads instead of beside their circles.
    pub fn draw(&self, job: &Job, rows: &Rows, further: &[TerminalId], raised: bool, pen: &mut Pen) {
        for row in rows.rows.iter().filter(|r| r.side == self.side) {
            let y = f64::from(row.first) * M;
            let name = &job.terminal(row.terminal).name;
            let baseline = if raised { y - ABOVE } else { y + Height::H2_5.mm() / 2.0 };
            pen.text(self.side, Text::new(name, LETTERS, baseline, Height::H2_5));
            self.lead(row, further.contains(&row.terminal), pen);
            bar(row, pen);
        }
        for mark in &self.marks {
            if let Some(row) = rows.of(mark.terminal) {
                let y = f64::from(row.first) * M;
                pen.lead(self.side, &[Point { x: CIRCLE, y }, Point { x: self.marks_at, y }]);
                pen.stamp(self.side, (mark.symbol, Turn::LEVEL, Point { x: self.marks_at, y }));
            }
        }
        for slot in &self.slots {
            slot.lines.iter().for_each(|l| pen.lead(self.side, l));
            slot.stamps.iter().for_each(|s| pen.stamp(self.side, *s));
            slot.dashes.iter().for_each(|d| pen.dashed(self.side, d));
            if let Some(text) = &slot.text {
                pen.text(self.side, text.clone());
            }
        }
    }

    /// The lead of a terminal to the deepest column that it meets, with a dot where it also goes on.
    fn lead(&self, row: &Row, further: bool, pen: &mut Pen) {
        let y = f64::from(row.first) * M;
        let meetings = self.slots.iter().flat_map(|s| &s.meetings);
        let meetings: Vec<&Meeting> = meetings.filter(|m| m.terminal == row.terminal).collect();
        let deepest = meetings.iter().map(|m| m.depth).fold(0.0, f64::max);
        if deepest > 0.0 {
            pen.lead(self.side, &[Point { x: CIRCLE, y }, Point { x: deepest, y }]);
        }
        for meeting in &meetings {
            let here = meetings.iter().filter(|m| (m.depth - meeting.depth).abs() < 0.01);
            let on = further || meeting.depth < deepest - 0.01;
            if here.count() + usize::from(on) > 1 {
                pen.dot(self.side, Point { x: meeting.depth, y });
            }
        }
    }
}

/// The bar that joins the landings of one terminal.
pub(super) fn bar(row: &Row, pen: &mut Pen) {
    if row.last == row.first {
        return;
    }
    let [y, low] = [row.first, row.last].map(|row| f64::from(row) * M);
    pen.lead(row.side, &[Point { x: M, y }, Point { x: M, y: low }]);
    for landing in row.landings() {
        let y = f64::from(landing) * M;
        pen.lead(row.side, &[Point { x: CIRCLE, y }, Point { x: M, y }]);
    }
}
