//! What is drawn inside an outline: both flanks, the band between them, links, text, aerials.

use std::borrow::Cow;

use super::band::{Entrance, band};
use super::choose::{Drawn, choose};
use super::flank::{CIRCLE, Flank, LETTERS};
use super::graphic::{Turn, graphic};
use super::pen::{Pen, ink};
use super::rows::{Row, Rows};
use super::{Side, links, point, words};
use crate::lettering::{self, Height};
use crate::netlist::{DeviceId, Form, Job, TerminalId};
use crate::scene::{Anchor, M, Point, Text};

/// From line to line of small text.
const LINE: f64 = 3.0;
/// From the outline to text.
const INSET: f64 = 1.6;
/// How far a line that goes on is set in.
const HANGING: f64 = 2.0;
/// The least width to which text is wrapped.
const TEXT_ROOM: f64 = 34.0;
/// Room for the name of an aerial above the lower edge.
const AERIAL_NAME: f64 = 4.2;
/// The inside of a figure.
pub(super) struct Inner {
    /// The outline, in modules.
    pub w: i32,
    pub h: i32,
    pub pen: Pen,
    /// Modules that it needs below the outline.
    pub below: i32,
}

/// Draws the inside of a device.
pub(super) fn inner(job: &Job, device: DeviceId, rows: &Rows, readings: &[String]) -> Inner {
    match rows.form {
        Form::Splice => return point::splice(rows),
        Form::Strip => return point::strip(job, rows),
        Form::Box => {}
    }
    let mut choice = choose(job, device);
    choice.aerials.retain(|t| rows.of(*t).is_none());
    let (one_side, both) = parted(&choice.drawn, rows);
    let flanks = [Side::Left, Side::Right].map(|side| Flank::new(job, rows, side, &one_side, &choice.marks));
    let band = band(&both, entrances(rows, &both));
    let depth = flanks.each_ref().map(Flank::depth);
    // With a band between them the links have no way through; the words beside the symbols tell what moves what.
    let trunks = if band.is_empty() { links::trunks(&flanks) } else { 0 };
    let gap = if band.is_empty() { trunks + i32::from(depth.iter().all(|d| *d > 0)) } else { band.width() };
    let needed = depth[0] + gap + depth[1];
    let block = Block::of(job, device, readings, f64::from(needed) * M - 2.0 * INSET);
    let w = needed.max(modules(block.width)).max(modules(aerials_width(job, &choice.aerials))).max(3);

    let mut pen = Pen::new(f64::from(w) * M);
    let doubled = rows.rows.iter().any(|r| r.last > r.first);
    let raised = doubled || !choice.drawn.is_empty() || !choice.marks.is_empty();
    let further: Vec<TerminalId> = both.iter().flat_map(|d| d.ends.iter().map(|(_, t)| *t)).collect();
    for flank in &flanks {
        flank.draw(job, rows, &further, raised, &mut pen);
    }
    if band.is_empty() {
        // Beside the flank from which they lead, never on the outline.
        let from = if depth[0] > 0 { depth[0] } else { w - depth[1] - trunks + 1 };
        links::draw(&flanks, f64::from(from) * M, &mut pen);
    } else {
        // The band stands in the middle of what the text may have widened.
        let from = depth[0] + (w - depth[0] - depth[1] - band.width()) / 2;
        band.draw(from, w, &mut pen);
    }

    let lowest = f64::from(rows.lowest()) * M + CIRCLE;
    let mut bottom = ink(&pen.shapes()).map_or(lowest, |i| i.bottom().max(lowest));
    bottom = block.draw(bottom, &mut pen) + 0.8;
    if !choice.aerials.is_empty() {
        bottom += AERIAL_NAME;
    }
    let h = modules(bottom).max(rows.lowest() + 1).max(4);
    let below = aerials(job, &choice.aerials, f64::from(h) * M, &mut pen);
    Inner { w, h, pen, below }
}

fn modules(mm: f64) -> i32 {
    (mm / M).ceil() as i32
}

/// The parts whose terminals are all on one side, and those with terminals on both.
fn parted<'a>(drawn: &'a [Drawn], rows: &Rows) -> (Vec<&'a Drawn>, Vec<&'a Drawn>) {
    let side_of = |t: TerminalId| rows.of(t).map(|r| r.side);
    let landed = |d: &&Drawn| d.ends.iter().all(|(_, t)| side_of(*t).is_some());
    let one_side = |d: &&Drawn| d.ends.windows(2).all(|pair| side_of(pair[0].1) == side_of(pair[1].1));
    drawn.iter().filter(landed).partition(one_side)
}

/// The terminals that lead into the band.
fn entrances(rows: &Rows, both: &[&Drawn]) -> Vec<Entrance> {
    let inside = |row: &&Row| both.iter().any(|d| d.ends.iter().any(|(_, t)| *t == row.terminal));
    let entrance = |row: &Row| Entrance { terminal: row.terminal, side: row.side, row: row.first };
    rows.rows.iter().filter(inside).map(entrance).collect()
}

/// The lines of text at the bottom of a device.
struct Block {
    /// How far each is set in, and its words.
    lines: Vec<(f64, String)>,
    /// What it takes across, its distance from the outline included, in millimetres.
    width: f64,
}

impl Block {
    fn of(job: &Job, device: DeviceId, readings: &[String], room: f64) -> Self {
        let room = room.max(TEXT_ROOM);
        let width = |t: &str| lettering::width(t, Height::H1_8, false);
        let mut lines = Vec::new();
        for line in words::lines(job, device).iter().chain(readings) {
            let room = if width(line) <= room { room } else { room - HANGING };
            for (i, piece) in words::wrapped(line, room, width).into_iter().enumerate() {
                lines.push((if i == 0 { 0.0 } else { HANGING }, piece));
            }
        }
        let longest = lines.iter().map(|(indent, line)| indent + width(line)).fold(0.0, f64::max);
        Self { width: longest + 2.0 * INSET, lines }
    }

    /// Draws it below what has been drawn so far; gives where it ends.
    fn draw(&self, from: f64, pen: &mut Pen) -> f64 {
        let mut y = from;
        for (i, (indent, line)) in self.lines.iter().enumerate() {
            y += if i == 0 { LINE + 0.6 } else { LINE };
            pen.text(Side::Left, Text::new(line, INSET + indent, y, Height::H1_8));
        }
        if self.lines.is_empty() { from } else { y + 0.8 }
    }
}

/// Where the stem of an aerial leaves the outline, in millimetres from the left.
fn aerial_x(number: usize) -> f64 {
    (2.0 + 6.0 * number as f64) * M
}

/// What stands beside aerials: what to do with them, and what was done if they were cut.
fn aerial_words(job: &Job, aerials: &[TerminalId]) -> Cow<'static, str> {
    let cut = aerials.iter().find_map(|terminal| job.unused.get(terminal)?.way);
    match cut {
        Some(way) => format!("aerial {}: leave it whole", way.word()).into(),
        None => "aerial: leave whole".into(),
    }
}

/// What the aerials with their words take across, in millimetres.
fn aerials_width(job: &Job, aerials: &[TerminalId]) -> f64 {
    match aerials.len() {
        0 => 0.0,
        n => aerial_x(n - 1) + 3.5 + lettering::width(&aerial_words(job, aerials), Height::H1_8, false),
    }
}

/// Draws the aerials below the outline; gives the modules that they take.
fn aerials(job: &Job, aerials: &[TerminalId], bottom: f64, pen: &mut Pen) -> i32 {
    let Some(symbol) = graphic("aerial") else { return 0 };
    for (i, terminal) in aerials.iter().enumerate() {
        let x = aerial_x(i);
        let name = &job.terminal(*terminal).name;
        let mut text = Text::new(name, x, bottom - 1.0, Height::H2_5).anchored(Anchor::Middle);
        if text.ink().x < LETTERS {
            text = Text { at: Point { x: LETTERS, ..text.at }, anchor: Anchor::Start, ..text };
        }
        pen.text(Side::Left, text);
        pen.stamp(Side::Left, (symbol, Turn::LEVEL, Point { x, y: bottom }));
        if i + 1 == aerials.len() {
            let words = aerial_words(job, aerials);
            pen.text(Side::Left, Text::new(&words, x + 3.5, bottom + 4.5, Height::H1_8));
        }
    }
    if aerials.is_empty() { 0 } else { 3 }
}

#[cfg(test)]
mod tests;
