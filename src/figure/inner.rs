//! What is drawn inside an outline: letters, leads, symbols, links, text.

use super::band::{Band, Entrance, band};
use super::choose::{Choice, Drawn, Mark, choose};
use super::graphic::{Turn, graphic};
use super::rows::{Row, Rows};
use super::slots::{Meeting, Slot, Stamp, columns, ink};
use super::{Side, words};
use crate::lettering::{self, Height};
use crate::netlist::{DeviceId, Form, Job, TerminalId};
use crate::scene::{Anchor, Dash, Fill, M, Piece, Point, Shape, Text, Width};

/// The radius of a landing's circle.
const CIRCLE: f64 = 1.0;
/// From the outline to a terminal's letters.
const LETTERS: f64 = 1.6;
/// From a lead up to the baseline of the letters that stand on it.
const ABOVE: f64 = 0.9;
/// From line to line of small text.
const LINE: f64 = 3.0;
/// From the outline to text.
const INSET: f64 = 1.6;
/// The least width to which text is wrapped.
const TEXT_ROOM: f64 = 32.0;

/// The inside of a figure.
pub(super) struct Inner {
    /// The outline, in modules.
    pub w: i32,
    pub h: i32,
    pub shapes: Vec<Shape>,
    /// Modules that it needs below the outline.
    pub below: i32,
}

/// One side's letters, signs and columns.
struct Flank<'a> {
    side: Side,
    slots: Vec<Slot<'a>>,
    marks: Vec<&'a Mark>,
    /// Where the signs begin.
    marks_at: f64,
    /// How deep all of it reaches, in millimetres.
    end: f64,
}

/// Draws the inside of a device.
pub(super) fn inner(job: &Job, device: DeviceId, rows: &Rows) -> Inner {
    match rows.form {
        Form::Splice => return splice(rows),
        Form::Strip => return strip(job, rows),
        Form::Box => {}
    }
    let choice = choose(job, device);
    let side_of = |t: TerminalId| rows.of(t).map(|r| r.side);
    let (mut one_side, mut both): (Vec<&Drawn>, Vec<&Drawn>) = (Vec::new(), Vec::new());
    for drawn in &choice.drawn {
        let mut sides = drawn.ends.iter().map(|(_, t)| side_of(*t));
        let first = sides.next().flatten();
        if first.is_none() || drawn.ends.iter().any(|(_, t)| side_of(*t).is_none()) {
            continue;
        }
        if sides.all(|s| s == first) { one_side.push(drawn) } else { both.push(drawn) }
    }
    let flanks = [Side::Left, Side::Right].map(|side| flank(job, rows, side, &one_side, &choice));
    let band = band(&both, entrances(rows, &both));
    let link = trunk(&flanks, &band);
    let depth = flanks.each_ref().map(|f| (f.end / M).ceil() as i32);
    let gap = if band.is_empty() {
        i32::from(link == Some(true)) + if depth[0] > 0 && depth[1] > 0 { 2 } else { 1 }
    } else {
        band.width()
    };
    let mut w = depth[0] + gap + depth[1];

    let room = (f64::from(w) * M - 2.0 * INSET).max(TEXT_ROOM);
    let small = |t: &str| lettering::width(t, Height::H1_8, false);
    let lines: Vec<String> =
        words::lines(job, device).iter().flat_map(|line| words::wrapped(line, room, small)).collect();
    let longest = lines.iter().map(|l| small(l)).fold(0.0, f64::max);
    let aerial_words = "aerial: leave whole";
    let mut needed = longest + 2.0 * INSET;
    if !choice.aerials.is_empty() {
        let last = aerial_x(choice.aerials.len() - 1);
        needed = needed.max(last + 3.5 + lettering::width(aerial_words, Height::H1_8, false));
    }
    w = w.max((needed / M).ceil() as i32).max(3);

    let mut pen = Pen { shapes: Vec::new(), w: f64::from(w) * M };
    let doubled = rows.rows.iter().any(|r| r.last > r.first);
    let leads = doubled || !choice.drawn.is_empty() || !choice.marks.is_empty();
    for flank in &flanks {
        flank.draw(job, rows, &both, leads, &mut pen);
    }
    if !band.is_empty() {
        // The band stands in the middle of what the text may have widened.
        let from = depth[0] + (w - depth[0] - depth[1] - band.width()) / 2;
        let drawing = band.draw(from, [CIRCLE; 2], w);
        drawing.lines.iter().for_each(|l| pen.line(Side::Left, l));
        drawing.dashes.iter().for_each(|l| pen.dashed(l));
        drawing.stamps.iter().for_each(|s| pen.stamp(Side::Left, *s));
        drawing.dots.iter().for_each(|p| pen.dot(Side::Left, *p));
        pen.shapes.extend(drawing.texts.into_iter().map(Shape::Text));
    }
    if link.is_some() {
        links(&flanks, f64::from(depth[0]) * M, &mut pen);
    }

    let lowest = f64::from(rows.lowest()) * M;
    let drawn_to = ink(&pen.shapes).map_or(lowest, |i| i.bottom()).max(lowest + CIRCLE);
    let mut y = drawn_to + 1.3;
    for line in &lines {
        y += LINE;
        pen.shapes.push(Shape::Text(Text::new(line, INSET, y - 1.2, Height::H1_8)));
    }
    let aerial_room = if choice.aerials.is_empty() { 0.0 } else { 4.2 };
    let bottom = if lines.is_empty() { drawn_to } else { y - 0.4 } + 0.8 + aerial_room;
    let h = ((bottom / M).ceil() as i32).max(rows.lowest() + 2).max(4);
    let below = aerials(job, &choice, f64::from(h) * M, aerial_words, &mut pen);
    Inner { w, h, shapes: pen.shapes, below }
}

/// The terminals that lead into the band.
fn entrances(rows: &Rows, both: &[&Drawn]) -> Vec<Entrance> {
    let inside = |row: &&Row| both.iter().any(|d| d.ends.iter().any(|(_, t)| *t == row.terminal));
    let entrance = |row: &Row| Entrance { terminal: row.terminal, side: row.side, row: row.first };
    rows.rows.iter().filter(inside).map(entrance).collect()
}

fn flank<'a>(job: &Job, rows: &Rows, side: Side, one_side: &[&'a Drawn], choice: &'a Choice) -> Flank<'a> {
    let on = || rows.rows.iter().filter(|r| r.side == side);
    let width = |r: &Row| lettering::width(&job.terminal(r.terminal).name, Height::H2_5, false);
    let widest = on().map(width).fold(0.0, f64::max);
    let letters = on().next().is_some();
    let mut end = if letters { LETTERS + widest + 0.6 } else { 0.0 };
    let here = |t: TerminalId| on().any(|r| r.terminal == t);
    let marks: Vec<&Mark> = choice.marks.iter().filter(|m| here(m.terminal)).collect();
    let marks_at = ((end + 0.6) / M).ceil() * M;
    for mark in &marks {
        let ink = ink(&mark.symbol.placed(Turn::LEVEL, Point { x: marks_at, y: 0.0 }));
        end = end.max(ink.map_or(0.0, |i| i.right()) + 0.4);
    }
    let drawn: Vec<&Drawn> =
        one_side.iter().filter(|d| d.ends.iter().all(|(_, t)| here(*t))).copied().collect();
    let row = |t: TerminalId| rows.of(t).map_or(0.0, |r| f64::from(r.first) * M);
    let (slots, end) = columns(&drawn, row, end);
    Flank { side, slots, marks, marks_at, end }
}

impl Flank<'_> {
    fn draw(&self, job: &Job, rows: &Rows, both: &[&Drawn], leads: bool, pen: &mut Pen) {
        let side = self.side;
        for row in rows.rows.iter().filter(|r| r.side == side) {
            let y = f64::from(row.first) * M;
            let name = &job.terminal(row.terminal).name;
            let baseline = if leads { y - ABOVE } else { y + Height::H2_5.mm() / 2.0 };
            let text = Text::new(name, LETTERS, baseline, Height::H2_5);
            pen.text(side, text);
            let meetings = self.slots.iter().flat_map(|s| &s.meetings);
            let meetings: Vec<&Meeting> = meetings.filter(|m| m.terminal == row.terminal).collect();
            let onwards = both.iter().any(|d| d.ends.iter().any(|(_, t)| *t == row.terminal));
            let deepest = meetings.iter().map(|m| m.depth).fold(0.0, f64::max);
            if deepest > 0.0 {
                pen.line(side, &[Point { x: CIRCLE, y }, Point { x: deepest, y }]);
            }
            for meeting in &meetings {
                let here = meetings.iter().filter(|m| (m.depth - meeting.depth).abs() < 0.01);
                let further = onwards || meeting.depth < deepest - 0.01;
                if here.count() + usize::from(further) > 1 {
                    pen.dot(side, Point { x: meeting.depth, y });
                }
            }
            if row.last > row.first {
                // One bar joins the landings of one terminal.
                let low = f64::from(row.last) * M;
                let bar = M;
                pen.line(side, &[Point { x: CIRCLE, y: low }, Point { x: bar, y: low }, Point { x: bar, y }]);
                let mut between = f64::from(row.first) * M + 2.0 * M;
                while between < low - 0.1 {
                    pen.line(side, &[Point { x: CIRCLE, y: between }, Point { x: bar, y: between }]);
                    between += 2.0 * M;
                }
                pen.line(side, &[Point { x: CIRCLE, y }, Point { x: bar, y }]);
            }
        }
        for mark in &self.marks {
            if let Some(row) = rows.of(mark.terminal) {
                let y = f64::from(row.first) * M;
                pen.line(side, &[Point { x: CIRCLE, y }, Point { x: self.marks_at, y }]);
                pen.stamp(side, (mark.symbol, Turn::LEVEL, Point { x: self.marks_at, y }));
            }
        }
        for slot in &self.slots {
            slot.lines.iter().for_each(|l| pen.line(side, l));
            slot.stamps.iter().for_each(|s| pen.stamp(side, *s));
            for dash in &slot.dashes {
                let dash: Vec<Point> = dash.iter().map(|p| pen.across(side, *p)).collect();
                pen.dashed(&dash);
            }
            if let Some(text) = &slot.text {
                pen.text(side, text.clone());
            }
        }
    }
}

/// Whether mechanical links are drawn, and whether they need an upright trunk between the sides.
fn trunk(flanks: &[Flank<'_>; 2], band: &Band<'_>) -> Option<bool> {
    if !band.is_empty() {
        return None;
    }
    let slots = || flanks.iter().flat_map(|f| f.slots.iter().map(move |s| (f.side, s)));
    let mut any = None;
    for (side, contact) in slots() {
        let Some(coil) = contact.drawn.coil else { continue };
        let Some((coil_side, coil)) = slots().find(|(_, s)| s.drawn.part == coil) else { continue };
        let level = match (contact.hold, coil.hold) {
            (Some(a), Some(b)) => (a.y - b.y).abs() < 0.01,
            _ => continue,
        };
        any = Some(any == Some(true) || side == coil_side || !level);
    }
    any
}

/// Draws the dashed links from each coil to the contacts that it moves.
fn links(flanks: &[Flank<'_>; 2], middle: f64, pen: &mut Pen) {
    let slots = || flanks.iter().flat_map(|f| f.slots.iter().map(move |s| (f.side, s)));
    for (side, coil) in slots() {
        let Some(from) = coil.hold.map(|h| pen.across(side, h)) else { continue };
        let moved = slots().filter(|(_, s)| s.drawn.coil == Some(coil.drawn.part));
        let to: Vec<Point> = moved.filter_map(|(s, c)| c.hold.map(|h| pen.across(s, h))).collect();
        if to.is_empty() {
            continue;
        }
        if let [only] = to.as_slice()
            && (only.y - from.y).abs() < 0.01
            && (from.x < middle) != (only.x < middle)
        {
            pen.dashed(&[from, *only]);
            continue;
        }
        let x = middle + M;
        let ys = || to.iter().map(|p| p.y).chain([from.y]);
        let (top, bottom) = (ys().fold(f64::MAX, f64::min), ys().fold(f64::MIN, f64::max));
        pen.dashed(&[Point { x, y: top }, Point { x, y: bottom }]);
        for end in to.iter().chain([&from]) {
            pen.dashed(&[*end, Point { x, y: end.y }]);
        }
    }
}

/// Where the stem of an aerial leaves the outline, in millimetres from the left.
fn aerial_x(number: usize) -> f64 {
    2.0 * M + number as f64 * 4.0 * M
}

/// Draws the aerials below the outline; gives the modules that they take.
fn aerials(job: &Job, choice: &Choice, bottom: f64, words: &str, pen: &mut Pen) -> i32 {
    let Some(symbol) = graphic("aerial") else { return 0 };
    for (i, terminal) in choice.aerials.iter().enumerate() {
        let x = aerial_x(i);
        let name = &job.terminal(*terminal).name;
        let text = Text::new(name, x, bottom - 1.0, Height::H2_5).anchored(Anchor::Middle);
        let text = if text.ink().x < LETTERS {
            Text { at: Point { x: LETTERS, ..text.at }, anchor: Anchor::Start, ..text }
        } else {
            text
        };
        pen.shapes.push(Shape::Text(text));
        pen.stamp(Side::Left, (symbol, Turn::LEVEL, Point { x, y: bottom }));
        if i + 1 == choice.aerials.len() {
            let text = Text::new(words, x + 3.5, bottom + 4.5, Height::H1_8);
            pen.shapes.push(Shape::Text(text));
        }
    }
    if choice.aerials.is_empty() { 0 } else { 3 }
}

/// A splice: a bar with the landings on its edges.
fn splice(rows: &Rows) -> Inner {
    let h = rows.lowest().max(1) + 1;
    let mut pen = Pen { shapes: Vec::new(), w: M };
    let ys = || rows.rows.iter().flat_map(|r| [r.first, r.last]).map(|y| f64::from(y) * M);
    let (top, bottom) = (ys().fold(f64::MAX, f64::min), ys().fold(f64::MIN, f64::max));
    if top <= bottom {
        let bar = [Point { x: M / 2.0, y: top - 1.0 }, Point { x: M / 2.0, y: bottom + 1.0 }];
        pen.shapes.push(Shape::line(&bar, Width::Wide));
    }
    Inner { w: 1, h, shapes: pen.shapes, below: 0 }
}

/// A strip: a way a row, one point with two sides.
fn strip(job: &Job, rows: &Rows) -> Inner {
    let name = |r: &Row| job.terminal(r.terminal).name.as_str();
    let widest = rows.rows.iter().map(|r| lettering::width(name(r), Height::H2_5, false)).fold(0.0, f64::max);
    let w = (((widest + 2.0 * LETTERS) / M).ceil() as i32).max(4);
    let mut pen = Pen { shapes: Vec::new(), w: f64::from(w) * M };
    let h = rows.lowest().max(2) + 2;
    let mut last = None;
    for row in &rows.rows {
        let y = f64::from(row.first) * M;
        if last != Some(row.terminal) {
            let middle = Point { x: pen.w / 2.0, y: y - ABOVE };
            let text = Text::new(name(row), middle.x, middle.y, Height::H2_5).anchored(Anchor::Middle);
            pen.shapes.push(Shape::Text(text));
            pen.line(Side::Left, &[Point { x: CIRCLE, y }, Point { x: pen.w - CIRCLE, y }]);
        }
        last = Some(row.terminal);
    }
    Inner { w, h, shapes: pen.shapes, below: 0 }
}

/// Puts shapes down; those of the right side are given by their depth and mirrored.
struct Pen {
    shapes: Vec<Shape>,
    w: f64,
}

impl Pen {
    fn across(&self, side: Side, p: Point) -> Point {
        match side {
            Side::Left => p,
            Side::Right => Point { x: self.w - p.x, ..p },
        }
    }

    fn line(&mut self, side: Side, points: &[Point]) {
        let points: Vec<Point> = points.iter().map(|p| self.across(side, *p)).collect();
        self.shapes.push(Shape::line(&points, Width::Normal));
    }

    fn dashed(&mut self, points: &[Point]) {
        let piece = |(i, p): (usize, &Point)| if i == 0 { Piece::Move(*p) } else { Piece::Line(*p) };
        self.shapes.push(Shape::Path {
            pieces: points.iter().enumerate().map(piece).collect(),
            width: Some(Width::Thin),
            dash: Dash::Dashed,
            fill: Fill::None,
        });
    }

    fn dot(&mut self, side: Side, at: Point) {
        let at = self.across(side, at);
        self.shapes.push(Shape::Circle { at, radius: 0.4, width: Width::Thin, fill: Fill::Black });
    }

    fn stamp(&mut self, side: Side, (symbol, turn, at): Stamp) {
        let turn = if side == Side::Right { turn.mirrored() } else { turn };
        let at = self.across(side, at);
        self.shapes.extend(symbol.placed(turn, at));
    }

    fn text(&mut self, side: Side, text: Text) {
        let at = self.across(side, text.at);
        let anchor = match (side, text.anchor) {
            (Side::Right, Anchor::Start) => Anchor::End,
            (Side::Right, Anchor::End) => Anchor::Start,
            (_, anchor) => anchor,
        };
        self.shapes.push(Shape::Text(Text { at, anchor, ..text }));
    }
}
