//! Symbols between terminals of one side, each in an upright column beside its rows.
//!
//! Everything here counts depth: millimetres from the side's outline inwards, and y downwards. Columns are assigned
//! like the tracks of nested intervals, the shorter span nearer to the side, so that a lead crosses a column only
//! where two spans truly interlock. A symbol always lies between two neighbouring rows, clear of every lead.

use super::choose::Drawn;
use super::graphic::{Turn, Use};
use super::pen::{Stamp, ink};
use crate::netlist::TerminalId;
use crate::scene::{Anchor, M, Point, Rect, Text};

/// Modules between the ends of a symbol.
const LONG: f64 = 3.0 * M;
/// Clear room beside a column, in millimetres.
const CLEAR: f64 = 1.25;

/// Where a lead of a terminal meets a column.
#[derive(Clone, Copy, Debug)]
pub(super) struct Meeting {
    pub terminal: TerminalId,
    pub depth: f64,
}

/// A part in its column.
#[derive(Clone, Debug)]
pub(super) struct Slot<'a> {
    pub drawn: &'a Drawn,
    pub stamps: Vec<Stamp>,
    pub lines: Vec<Vec<Point>>,
    pub dashes: Vec<Vec<Point>>,
    pub text: Option<Text>,
    pub meetings: Vec<Meeting>,
    /// Where a mechanical link takes hold.
    pub hold: Option<Point>,
    /// First and last row, in millimetres.
    span: [f64; 2],
    /// From the column to the nearest ink, 0 or less, and to the deepest.
    near: f64,
    deep: f64,
}

/// Builds the parts of one side into columns that begin beyond `base`; gives them and how deep they reach.
pub(super) fn columns<'a>(
    drawn: &[&'a Drawn],
    row: impl Fn(TerminalId) -> f64,
    base: f64,
) -> (Vec<Slot<'a>>, f64) {
    let mut slots: Vec<Slot<'_>> = drawn.iter().map(|d| slot(d, &row)).collect();
    slots.sort_by(|a, b| {
        let length = |s: &Slot<'_>| s.span[1] - s.span[0];
        length(a).total_cmp(&length(b)).then(a.span[0].total_cmp(&b.span[0]))
    });
    let mut levels: Vec<usize> = Vec::with_capacity(slots.len());
    for (i, slot) in slots.iter().enumerate() {
        let over = slots.iter().zip(&levels).take(i).filter(|(other, _)| interlock(slot, other));
        levels.push(over.map(|(_, level)| level + 1).max().unwrap_or(0));
    }
    let mut end = base;
    for level in 0..=levels.iter().copied().max().unwrap_or(0) {
        let on = || slots.iter().zip(&levels).filter(|(_, l)| **l == level).map(|(s, _)| s);
        let near = on().map(|s| s.near).fold(0.0, f64::min);
        let deep = on().map(|s| s.deep).fold(0.0, f64::max);
        if on().next().is_none() {
            continue;
        }
        let column = ((end + CLEAR - near) / M).ceil() * M;
        for (slot, _) in slots.iter_mut().zip(&levels).filter(|(_, l)| **l == level) {
            slot.shift(column);
        }
        end = column + deep;
    }
    (slots, end)
}

/// Whether two spans share more than an end.
fn interlock(a: &Slot<'_>, b: &Slot<'_>) -> bool {
    a.span[0] < b.span[1] - 0.1 && b.span[0] < a.span[1] - 0.1
}

/// A part around a column at depth 0.
fn slot<'a>(drawn: &'a Drawn, row: &impl Fn(TerminalId) -> f64) -> Slot<'a> {
    let at: Vec<(&str, TerminalId, f64)> = drawn.ends.iter().map(|(a, t)| (*a, *t, row(*t))).collect();
    let ys = || at.iter().map(|(_, _, y)| *y);
    let span = [ys().fold(f64::MAX, f64::min), ys().fold(f64::MIN, f64::max)];
    let mut slot = Slot {
        drawn,
        stamps: Vec::new(),
        lines: Vec::new(),
        dashes: Vec::new(),
        text: None,
        meetings: Vec::new(),
        hold: None,
        span,
        near: 0.0,
        deep: 0.0,
    };
    match *at.as_slice() {
        [first, second] => slot.pair(first, second),
        [common, nc, no] => slot.changeover(common, nc, no),
        _ => {}
    }
    slot
}

type End<'n> = (&'n str, TerminalId, f64);

impl Slot<'_> {
    /// Two terminals: the symbol stands just before the second.
    fn pair(&mut self, first: End<'_>, second: End<'_>) {
        let way = (second.2 - first.2).signum();
        let turn = Turn::new((0, sign(way)), (1, 0));
        let origin = Point { x: 0.0, y: second.2 - way * LONG };
        self.run(&[Point { x: 0.0, y: first.2 }, origin]);
        self.meet(first.1, 0.0);
        self.meet(second.1, 0.0);
        self.stamp(turn, origin, origin.y + way * LONG / 2.0);
    }

    /// Three terminals: common, break, make.
    fn changeover(&mut self, common: End<'_>, nc: End<'_>, no: End<'_>) {
        let (up, down) = (nc.2.min(no.2) < common.2, nc.2.max(no.2) > common.2);
        if up && down {
            // The common stands between: the symbol lies level, its throws led round above and below.
            let to_nc = sign(nc.2 - common.2);
            let turn = Turn::new((1, 0), (0, to_nc));
            let origin = Point { x: 0.0, y: common.2 };
            self.meet(common.1, 0.0);
            for end in [nc, no] {
                let pin = self.drawn.symbol.anchor(end.0, turn, origin);
                self.run(&[pin, Point { x: pin.x, y: end.2 }]);
                self.meet(end.1, pin.x);
            }
            self.stamp(turn, origin, common.2);
            return;
        }
        let way = if down { 1.0 } else { -1.0 };
        let near = if ((nc.2 - common.2) * way) < ((no.2 - common.2) * way) { nc } else { no };
        let towards = if near.0 == nc.0 { -1 } else { 1 };
        let turn = Turn::new((0, sign(way)), (towards, 0));
        let origin = Point { x: 0.0, y: near.2 - way * LONG };
        self.run(&[Point { x: 0.0, y: common.2 }, origin]);
        self.meet(common.1, 0.0);
        for end in [nc, no] {
            let pin = self.drawn.symbol.anchor(end.0, turn, origin);
            self.run(&[pin, Point { x: pin.x, y: end.2 }]);
            self.meet(end.1, pin.x);
        }
        self.stamp(turn, origin, origin.y + way * LONG / 2.0);
    }

    /// Puts the symbol, its actuator and its words down and measures them.
    fn stamp(&mut self, turn: Turn, origin: Point, middle: f64) {
        let symbol = self.drawn.symbol;
        self.stamps.push((symbol, turn, origin));
        let drawn_lines = self.lines.iter().flatten().map(|p| Rect { x: p.x, y: p.y, w: 0.0, h: 0.0 });
        let ink = ink(&symbol.placed(turn, origin)).into_iter().chain(drawn_lines);
        let ink = ink.reduce(|a, b| a.with(&b)).unwrap_or_default();
        (self.near, self.deep) = (ink.x.min(0.0), ink.right().max(0.0));
        self.hold = symbol.hold(turn, origin);
        if let (Some(actuator), Some(hold)) = (self.drawn.actuator, self.hold) {
            let at = Point { x: self.deep + 0.5, y: hold.y };
            self.dashes.push(vec![hold, at]);
            self.stamps.push((actuator, Turn::LEVEL, at));
            self.deep = super::pen::ink(&actuator.placed(Turn::LEVEL, at)).map_or(self.deep, |i| i.right());
        }
        if let Some(caption) = &self.drawn.caption {
            // Words stay off the level at which a mechanical link leaves.
            let linked = self.drawn.coil.is_some() || symbol.stands_for == Use::Coil;
            let y = middle + if linked { 2.1 } else { 0.0 } + caption.height.mm() / 2.0;
            let text =
                Text { at: Point { x: self.deep + 0.75, y }, anchor: Anchor::Start, ..caption.clone() };
            self.deep = text.ink().right();
            self.text = Some(text);
        }
    }

    fn run(&mut self, points: &[Point; 2]) {
        if points[0] != points[1] {
            self.lines.push(points.to_vec());
        }
    }

    fn meet(&mut self, terminal: TerminalId, depth: f64) {
        self.meetings.push(Meeting { terminal, depth });
    }

    fn shift(&mut self, by: f64) {
        for (_, _, at) in &mut self.stamps {
            at.x += by;
        }
        for point in self.lines.iter_mut().chain(&mut self.dashes).flatten() {
            point.x += by;
        }
        for meeting in &mut self.meetings {
            meeting.depth += by;
        }
        if let Some(text) = &mut self.text {
            text.at.x += by;
        }
        if let Some(hold) = &mut self.hold {
            hold.x += by;
        }
    }
}

fn sign(value: f64) -> i8 {
    if value < 0.0 { -1 } else { 1 }
}
