//! What is drawn inside an outline: letters, leads, symbols, links, text.

use super::band::{Band, Entrance, band};
use super::choose::{Choice, Drawn, Mark, choose};
use super::graphic::{Turn, graphic};
use super::pen::{Pen, ink};
use super::rows::{Row, Rows};
use super::slots::{Meeting, Slot, columns};
use super::{Side, words};
use crate::lettering::{self, Height};
use crate::netlist::{DeviceId, Form, Job, TerminalId};
use crate::scene::{Anchor, M, Point, Text};

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
/// How far a line that goes on is set in.
const HANGING: f64 = 2.0;
/// The least width to which text is wrapped.
const TEXT_ROOM: f64 = 34.0;

/// The inside of a figure.
pub(super) struct Inner {
    /// The outline, in modules.
    pub w: i32,
    pub h: i32,
    pub pen: Pen,
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
    let depth = flanks.each_ref().map(|f| {
        let clear = if f.slots.is_empty() && f.marks.is_empty() { 0.0 } else { M / 2.0 };
        ((f.end + clear) / M).ceil() as i32
    });
    let gap = if band.is_empty() {
        i32::from(link == Some(true)) + i32::from(depth[0] > 0 && depth[1] > 0)
    } else {
        band.width()
    };
    let mut w = depth[0] + gap + depth[1];

    let room = (f64::from(w) * M - 2.0 * INSET).max(TEXT_ROOM);
    let small = |t: &str| lettering::width(t, Height::H1_8, false);
    let lines = words::lines(job, device);
    let hung = |line: &String| {
        let room = if small(line) <= room { room } else { room - HANGING };
        let pieces = words::wrapped(line, room, small).into_iter().enumerate();
        pieces.map(|(i, piece)| (if i == 0 { 0.0 } else { HANGING }, piece)).collect::<Vec<_>>()
    };
    let lines: Vec<(f64, String)> = lines.iter().flat_map(hung).collect();
    let longest = lines.iter().map(|(indent, l)| indent + small(l)).fold(0.0, f64::max);
    let aerial_words = "aerial: leave whole";
    let mut needed = longest + 2.0 * INSET;
    if !choice.aerials.is_empty() {
        let last = aerial_x(choice.aerials.len() - 1);
        needed = needed.max(last + 3.5 + lettering::width(aerial_words, Height::H1_8, false));
    }
    w = w.max((needed / M).ceil() as i32).max(3);

    let mut pen = Pen::new(f64::from(w) * M);
    let doubled = rows.rows.iter().any(|r| r.last > r.first);
    let leads = doubled || !choice.drawn.is_empty() || !choice.marks.is_empty();
    for flank in &flanks {
        flank.draw(job, rows, &both, leads, &mut pen);
    }
    if !band.is_empty() {
        // The band stands in the middle of what the text may have widened.
        let from = depth[0] + (w - depth[0] - depth[1] - band.width()) / 2;
        let drawing = band.draw(from, [CIRCLE; 2], w);
        drawing.lines.iter().for_each(|l| pen.lead(Side::Left, l));
        drawing.dashes.iter().for_each(|l| pen.dashed(Side::Left, l));
        drawing.stamps.iter().for_each(|s| pen.stamp(Side::Left, *s));
        drawing.dots.iter().for_each(|p| pen.dot(Side::Left, *p));
        drawing.texts.into_iter().for_each(|t| pen.text(Side::Left, t));
    }
    if link.is_some() {
        links(&flanks, f64::from(depth[0]) * M, &mut pen);
    }

    let lowest = f64::from(rows.lowest()) * M;
    let drawn_to = ink(&pen.shapes()).map_or(lowest, |i| i.bottom()).max(lowest + CIRCLE);
    let mut y = drawn_to + 1.8;
    for (indent, line) in &lines {
        y += LINE;
        pen.text(Side::Left, Text::new(line, INSET + indent, y - 1.2, Height::H1_8));
    }
    let aerial_room = if choice.aerials.is_empty() { 0.0 } else { 4.2 };
    let bottom = if lines.is_empty() { drawn_to } else { y - 0.4 } + 0.8 + aerial_room;
    let h = ((bottom / M).ceil() as i32).max(rows.lowest() + 1).max(4);
    let below = aerials(job, &choice, f64::from(h) * M, aerial_words, &mut pen);
    Inner { w, h, pen, below }
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
                pen.lead(side, &[Point { x: CIRCLE, y }, Point { x: deepest, y }]);
            }
            for meeting in &meetings {
                let here = meetings.iter().filter(|m| (m.depth - meeting.depth).abs() < 0.01);
                let further = onwards || meeting.depth < deepest - 0.01;
                if here.count() + usize::from(further) > 1 {
                    pen.dot(side, Point { x: meeting.depth, y });
                }
            }
            bar(row, pen);
        }
        for mark in &self.marks {
            if let Some(row) = rows.of(mark.terminal) {
                let y = f64::from(row.first) * M;
                pen.lead(side, &[Point { x: CIRCLE, y }, Point { x: self.marks_at, y }]);
                pen.stamp(side, (mark.symbol, Turn::LEVEL, Point { x: self.marks_at, y }));
            }
        }
        for slot in &self.slots {
            slot.lines.iter().for_each(|l| pen.lead(side, l));
            slot.stamps.iter().for_each(|s| pen.stamp(side, *s));
            slot.dashes.iter().for_each(|d| pen.dashed(side, d));
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
            pen.dashed(Side::Left, &[from, *only]);
            continue;
        }
        let x = middle;
        let ys = || to.iter().map(|p| p.y).chain([from.y]);
        let (top, bottom) = (ys().fold(f64::MAX, f64::min), ys().fold(f64::MIN, f64::max));
        pen.dashed(Side::Left, &[Point { x, y: top }, Point { x, y: bottom }]);
        for end in to.iter().chain([&from]) {
            pen.dashed(Side::Left, &[*end, Point { x, y: end.y }]);
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
        pen.text(Side::Left, text);
        pen.stamp(Side::Left, (symbol, Turn::LEVEL, Point { x, y: bottom }));
        if i + 1 == choice.aerials.len() {
            let text = Text::new(words, x + 3.5, bottom + 4.5, Height::H1_8);
            pen.text(Side::Left, text);
        }
    }
    if choice.aerials.is_empty() { 0 } else { 3 }
}

/// A splice: a bar with the landings on its edges.
fn splice(rows: &Rows) -> Inner {
    Inner { w: 1, h: rows.lowest().max(1) + 1, pen: Pen::new(M), below: 0 }
}

/// A strip: a way a row, one point with two sides.
fn strip(job: &Job, rows: &Rows) -> Inner {
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

/// The bar that joins the landings of one terminal.
fn bar(row: &Row, pen: &mut Pen) {
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

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::pen::Stamp;
    use super::super::{Sides, rows};
    use super::*;
    use crate::library;
    use crate::netlist::read_text;
    use crate::scene::Rect;

    /// Data sheets that are harder to draw than what the program ships.
    const HARD: [(&str, &str); 9] = [
        ("comb", "terminals: [C, 1, 2, 3, 4]
    contacts: {K1: {common: C, no: 1}, K2: {common: C, no: 2}, K3: {common: C, nc: 3}, K4: {common: C, no: 4}}"),
        ("middle", "terminals: [NC, COM, NO, X]
    contacts: {S: {common: COM, no: NO, nc: NC}}
    symbol: act-float"),
        ("last", "terminals: [NO, NC, COM]
    contacts: {S: {common: COM, no: NO, nc: NC}}
    symbol: act-limit"),
        ("interlocked", "terminals: [1, 2, 3, 4, 5, 6]
    fuses: {A: {between: [1, 3], amps: 2 A}, B: {between: [2, 5], amps: 3 A}, C: {between: [4, 6]}}"),
        ("chain", "terminals: [1, 2, 3, 4]
    resistors: {A: {between: [1, 2], ohms: 2k2}, B: {between: [2, 3], ohms: 4k7}, C: {between: [3, 4]}, D: {between: [1, 4]}}"),
        ("fuse-block", "terminals: [1, 2, 3, 4, 5, 6, 7, 8]
    fuses: {F1: {between: [1, 2], amps: 1 A}, F2: {between: [3, 4], amps: 2 A}, F3: {between: [5, 6], amps: 3 A}, F4: {between: [7, 8], amps: 500 mA}}"),
        ("controller", "terminals: [L+, M, I1, I2, I3, I4, Q1, Q2, C, NO, NC, Z, ZC, A, B]
    loads: {SUPPLY: {plus: L+, minus: M, volts: 24 V, amps: 120 mA}}
    inputs: {I1: {at: I1, common: M, active: high}, I2: {at: I2, common: M, active: high}, I3: {at: I3, common: M, active: high}, I4: {at: I4, common: M, active: high}}
    outputs: {Q1: {at: Q1, common: L+, drives: high, amps: 500 mA}, Q2: {at: Q2, common: L+, drives: high, amps: 500 mA}}
    contacts: {R1: {common: C, no: NO, nc: NC, volts: 28 V, amps: 5 A}}
    supervised: {Z: {at: Z, common: ZC, rest: 2k2, alarm: open}}
    signal_pairs: {BUS: {a: A, b: B, kind: rs485}}"),
        ("two-coils", "terminals: [A1, A2, B1, B2, 11, 12, 14, 23, 24]
    coils: {SET: {between: [A1, A2], volts: 12 V}, RESET: {between: [B1, B2], volts: 12 V}}
    contacts: {P1: {common: 11, nc: 12, no: 14, by: SET}, P2: {common: 23, no: 24, by: RESET}}"),
        ("drive", "terminals: [1, 2, 3, 4, 5, ANT]
    loads: {board: {plus: 1, minus: 2, volts: 20..28 V, amps: 0.5 A, existing: true}}
    dry_inputs: {START: {between: [3, 4], momentary: 0.2..2 s}, STOP: {between: [4, 5], safety: true}}
    aerials: [ANT]"),
    ];

    fn types() -> Vec<&'static str> {
        library::device_types().chain(HARD.iter().map(|(name, _)| *name)).collect()
    }

    fn job_of(kind: &str, operated: bool) -> Job {
        let ways = if kind == "terminal-strip" { ", ways: 5" } else { "" };
        let rest = if operated { ", rest: operated" } else { "" };
        let mut text =
            format!("job: {{title: t}}\ndevices:\n  D1: {{type: {kind}{ways}{rest}}}\ndata_sheets:\n");
        for (name, sheet) in HARD {
            text.push_str(&format!("  {name}:\n    {sheet}\n"));
        }
        let reading = read_text("t.yaml", &text);
        reading.job.unwrap_or_else(|| panic!("{kind}: {:?}", reading.findings))
    }

    fn on_line(p: Point, a: Point, b: Point) -> bool {
        let box_of = Rect::between(a, b).grown(0.01);
        p.x >= box_of.x && p.x <= box_of.right() && p.y >= box_of.y && p.y <= box_of.bottom()
    }

    /// Which leads are joined: an end of one lies on the other. All leads are level or upright. A lead that ends at a
    /// symbol goes on as the symbol, so there it only joins what ends there too.
    struct Joined {
        pieces: Vec<(Point, Point)>,
        root: Vec<usize>,
    }

    impl Joined {
        fn of(leads: &[Vec<Point>], anchors: &[Point]) -> Self {
            let pieces: Vec<(Point, Point)> =
                leads.iter().flat_map(|l| l.windows(2).map(|p| (p[0], p[1])).collect::<Vec<_>>()).collect();
            for (a, b) in &pieces {
                assert!((a.x - b.x).abs() < 1e-6 || (a.y - b.y).abs() < 1e-6, "a slanting lead {a:?} {b:?}");
            }
            let meets = |end: Point, (a, b): (Point, Point)| {
                let symbol = anchors.iter().any(|p| same(*p, end));
                if symbol { same(end, a) || same(end, b) } else { on_line(end, a, b) }
            };
            let mut root: Vec<usize> = (0..pieces.len()).collect();
            for i in 0..pieces.len() {
                for j in 0..i {
                    let (one, two) = (pieces[i], pieces[j]);
                    if meets(one.0, two) || meets(one.1, two) || meets(two.0, one) || meets(two.1, one) {
                        let (from, to) = (root[i], root[j]);
                        root.iter_mut().filter(|r| **r == from).for_each(|r| *r = to);
                    }
                }
            }
            Self { pieces, root }
        }

        /// The lead that ends at a point, else the one that passes through it.
        fn at(&self, p: Point) -> Option<usize> {
            let ends = self.pieces.iter().position(|(a, b)| same(p, *a) || same(p, *b));
            let passes = || self.pieces.iter().position(|(a, b)| on_line(p, *a, *b));
            ends.or_else(passes).map(|i| self.root[i])
        }
    }

    fn same(a: Point, b: Point) -> bool {
        (a.x - b.x).abs() < 0.01 && (a.y - b.y).abs() < 0.01
    }

    fn sides_of(job: &Job, choices: &[(bool, u32)]) -> Sides {
        let device = &job.devices[0];
        let mut choices = choices.iter().cycle();
        let mut next = || *choices.next().expect("some choices");
        let mut of = Vec::new();
        for _ in device.terminals.iter() {
            let (right, count) = next();
            if device.form == Form::Box {
                of.push((if right { Side::Right } else { Side::Left }, count));
            } else {
                of.push((Side::Left, count - 1));
                of.push((Side::Right, u32::from(right) + 1));
            }
        }
        Sides { of }
    }

    /// Holds a figure against what it must be.
    fn check(job: &Job, sides: &Sides) {
        let rows = rows::rows(job, DeviceId(0), sides);
        let inner = inner(job, DeviceId(0), &rows);
        let pen = &inner.pen;
        let outline = Rect { x: 0.0, y: 0.0, w: f64::from(inner.w) * M, h: f64::from(inner.h) * M };
        let anchors = |(symbol, turn, at): &Stamp| -> Vec<Point> {
            symbol.anchors.keys().map(|name| symbol.anchor(name, *turn, *at)).collect()
        };
        let anchors: Vec<Point> = pen.stamps.iter().flat_map(anchors).collect();
        let joined = Joined::of(&pen.leads, &anchors);
        let choice = choose(job, DeviceId(0));

        // Leads: every landing leads to its terminal's symbols and to nothing else.
        let mut net_of = std::collections::BTreeMap::new();
        for landing in rows.landings(inner.w) {
            let x = if landing.side == Side::Left { CIRCLE } else { outline.w - CIRCLE };
            let net = joined.at(Point { x, y: f64::from(landing.y) * M });
            let first = *net_of.entry(landing.terminal).or_insert(net);
            assert_eq!(first, net, "landings of one terminal are joined");
        }
        let mut nets: Vec<usize> = net_of.values().filter_map(|n| *n).collect();
        nets.sort_unstable();
        nets.dedup();
        let count = net_of.values().flatten().count();
        assert_eq!(
            nets.len(),
            count,
            "{:?}: leads of two terminals are joined: {net_of:?}",
            job.devices[0].type_name
        );
        let mut stamps: Vec<_> = pen.stamps.iter().collect();
        for drawn in &choice.drawn {
            let place = stamps.iter().position(|(symbol, turn, at)| {
                std::ptr::eq(*symbol, drawn.symbol)
                    && drawn.ends.iter().all(|(anchor, terminal)| {
                        let net = joined.at(symbol.anchor(anchor, *turn, *at));
                        net.is_some() && net_of.get(terminal) == Some(&net)
                    })
            });
            let place = place.unwrap_or_else(|| {
                panic!("{:?}: {:?} is not drawn between its terminals", job.devices[0].type_name, drawn.ends)
            });
            stamps.remove(place);
        }

        // Symbols: on the grid, clear of each other and of leads.
        let boxes: Vec<Rect> =
            pen.stamps.iter().filter_map(|(s, turn, at)| ink(&s.placed(*turn, *at))).collect();
        for (i, a) in boxes.iter().enumerate() {
            let a = a.grown(-0.2);
            let (symbol, turn, at) = &pen.stamps[i];
            if symbol.hold != Some(Point::default()) {
                for point in symbol.anchors.keys().map(|name| symbol.anchor(name, *turn, *at)) {
                    for part in [point.x / M, point.y / M] {
                        assert!((part - part.round()).abs() < 1e-6, "{} off the grid", symbol.title);
                    }
                }
            }
            for b in &boxes[..i] {
                assert!(!a.overlaps(b), "{:?}: two symbols overlap: {a:?} {b:?}", job.devices[0].type_name);
            }
            for (p, q) in &joined.pieces {
                assert!(
                    !Rect::between(*p, *q).grown(0.05).overlaps(&a),
                    "a lead {p:?} {q:?} through {}",
                    symbol.title
                );
            }
        }
    }

    #[test]
    fn plain_figures_join_what_they_should() {
        for kind in types() {
            for operated in [false, true] {
                let job = job_of(kind, operated);
                let wish = super::super::default_sides(&job, DeviceId(0));
                check(&job, &wish.plain(job.devices[0].form));
            }
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn figures_join_what_they_should_whatever_the_sides(
            kind in prop::sample::select(types()),
            choices in prop::collection::vec((any::<bool>(), 1_u32..4), 16)
        ) {
            let job = job_of(kind, false);
            check(&job, &sides_of(&job, &choices));
        }
    }
}
