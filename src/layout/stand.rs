//! From what stands in each gap to places from left to right.
//!
//! Before: things on their rows, gap by gap, in order from left to right. After: each has its place. All are put down as far
//! to the left as what stands left of them on their rows allows; then what belongs to the right is drawn to the right
//! again. No thing meets another, and a gap is as wide as what stands in it.

use std::iter;
use std::ops::Range;

use super::align::{self, Member, Run};
use super::order::partner;
use super::place::{self, Placed};
use crate::figure::Side;

/// Per cent of the way from left to right that all cores may have at most in columns of several lines.
const SHORTER: i64 = 96;

/// Towards which side something is drawn where there is room.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Pull {
    Left,
    Middle,
    Right,
}

/// Something that takes room on rows, left and right of its place.
#[derive(Clone, Debug)]
pub(super) struct Thing {
    /// First row, last row, so much to the left and so much to the right.
    pub rows: Vec<(i32, i32, i32, i32)>,
    /// Where it is drawn.
    pub pull: Pull,
    /// What it is.
    pub is: Is,
    /// Its place.
    pub x: i32,
}

/// What a thing is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Is {
    Piece { chord: usize, half: usize },
    SheathLeft(usize),
    Zone(usize),
    SheathRight(usize),
    FrameLeft(usize),
    FrameRight(usize),
    Device(usize),
}

impl Is {
    /// The device that it is.
    fn device(self) -> Option<usize> {
        if let Self::Device(device) = self { Some(device) } else { None }
    }
}

/// How far to the right things reach on each row.
struct Front {
    top: i32,
    reach: Vec<i32>,
}

impl Front {
    fn new(rows: (i32, i32), at: i32) -> Self {
        Self { top: rows.0, reach: vec![at; (rows.1 - rows.0 + 1).max(1) as usize] }
    }

    fn range(&self, from: i32, to: i32) -> Range<usize> {
        let last = self.reach.len() as i32;
        let (from, to) = ((from - self.top).clamp(0, last), (to - self.top + 1).clamp(0, last));
        from as usize..to.max(from) as usize
    }

    fn most(&self, from: i32, to: i32) -> i32 {
        self.reach[self.range(from, to)].iter().copied().max().unwrap_or(0)
    }

    fn raise(&mut self, from: i32, to: i32, at: i32) {
        let range = self.range(from, to);
        for reach in &mut self.reach[range] {
            *reach = (*reach).max(at);
        }
    }
}

impl Thing {
    /// The least place right of the front.
    fn least(&self, front: &Front) -> i32 {
        self.rows.iter().map(|(a, b, left, _)| front.most(*a, *b) + 1 + left).max().unwrap_or(1)
    }

    /// Whether it has rows in common with any of these.
    pub fn meets_any(&self, others: &[Thing]) -> bool {
        let meets = |(a, b, ..): &(i32, i32, i32, i32), (c, d, ..): &(i32, i32, i32, i32)| a <= d && c <= b;
        others.iter().any(|other| self.rows.iter().any(|p| other.rows.iter().any(|q| meets(p, q))))
    }

    fn put(&self, front: &mut Front) {
        for (a, b, _, right) in &self.rows {
            front.raise(*a, *b, self.x + right);
        }
    }

    /// The same seen in a mirror.
    fn most(&self, mirrored: &Front) -> i32 {
        self.rows.iter().map(|(a, b, _, right)| -(mirrored.most(*a, *b) + 1 + right)).min().unwrap_or(self.x)
    }

    fn put_mirrored(&self, mirrored: &mut Front) {
        for (a, b, left, _) in &self.rows {
            mirrored.raise(*a, *b, left - self.x);
        }
    }
}

/// How the devices of a column stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Columns {
    /// All in one line.
    InLine,
    /// In several, each drawn to the right where most of its cores lead there.
    InRuns,
}

/// Puts everything down: the devices of a column in one line, or in several and nearer to what most of their cores lead to if
/// the cores are so much shorter then, and the whole no wider.
pub(super) fn stand(placed: &Placed, gaps: Vec<Vec<Thing>>) -> Vec<Vec<Thing>> {
    let in_line = put_down(placed, gaps.clone(), Columns::InLine);
    let in_runs = put_down(placed, gaps, Columns::InRuns);
    let shorter = reach(placed, &in_runs) * 100 <= reach(placed, &in_line) * SHORTER;
    if shorter && breadth(&in_runs) <= breadth(&in_line) { in_runs } else { in_line }
}

/// Modules to the right edge of all.
fn breadth(gaps: &[Vec<Thing>]) -> i32 {
    let edge = |t: &Thing| t.rows.iter().map(|(.., right)| t.x + right).max();
    gaps.iter().flatten().filter_map(edge).max().unwrap_or(0)
}

/// Modules between the ends of all cores from left to right.
fn reach(placed: &Placed, gaps: &[Vec<Thing>]) -> i64 {
    let o = &placed.ordered;
    let mut x = vec![0; o.figures.len()];
    for thing in gaps.iter().flatten() {
        if let Some(device) = thing.is.device() {
            x[device] = thing.x;
        }
    }
    let at = |end: &usize| {
        let (device, landing) = place::landing(o, *end);
        x[device] + o.figures[device].landings.get(landing).map_or(0, |l| l.x)
    };
    let reach = |chain: &Vec<usize>| match (chain.first(), chain.last()) {
        (Some(a), Some(b)) if o.ends[*a].item < x.len() && o.ends[*b].item < x.len() => at(a).abs_diff(at(b)),
        _ => 0,
    };
    o.chains.iter().map(|chain| i64::from(reach(chain))).sum()
}

/// Puts everything down.
fn put_down(placed: &Placed, mut gaps: Vec<Vec<Thing>>, columns: Columns) -> Vec<Vec<Thing>> {
    let rows = || gaps.iter().flatten().flat_map(|t| t.rows.iter());
    let bounds = (rows().map(|r| r.0).min().unwrap_or(0), rows().map(|r| r.1).max().unwrap_or(0));
    let mut front = Front::new(bounds, 0);
    let mut runs = Vec::with_capacity(gaps.len());
    // Where the columns so far end: no run may stand above or below another column.
    let mut edge = i32::MIN;
    for things in &mut gaps {
        let devices = first_device(things);
        let (others, column) = things.split_at_mut(devices);
        for thing in others {
            thing.x = thing.least(&front);
            thing.put(&mut front);
        }
        runs.push(align(placed, column, &front, edge, columns));
        for thing in column {
            thing.put(&mut front);
            edge = edge.max(thing.x + width(placed, thing) + 1);
        }
    }
    let right = front.reach.iter().copied().max().unwrap_or(0) + 1;
    let mut mirrored = Front::new(bounds, -right);
    let rightward = match columns {
        Columns::InLine => vec![false; placed.ordered.figures.len()],
        Columns::InRuns => rightward(placed, &gaps, &runs),
    };
    let mut edge = i32::MAX;
    for (things, runs) in gaps.iter_mut().zip(&mut runs).rev() {
        let devices = first_device(things);
        let (others, column) = things.split_at_mut(devices);
        for n in 0..runs.len() {
            let devices = &mut column[runs[n].devices.clone()];
            if devices.iter().all(|thing| leans_right(placed, thing, &rightward)) {
                let most = |t: &Thing| t.most(&mirrored).min(edge - width(placed, t) - 1) - t.x;
                let room = align::room(runs, n, devices.iter().map(most).min().unwrap_or(0));
                runs[n].line += room;
                devices.iter_mut().for_each(|thing| thing.x += room);
            }
            devices.iter().for_each(|thing| thing.put_mirrored(&mut mirrored));
        }
        edge = column.iter().map(|thing| thing.x).fold(edge, i32::min);
        for thing in others.iter_mut().rev() {
            let most = thing.most(&mirrored).max(thing.x);
            let pull = if leans_right(placed, thing, &rightward) { Pull::Right } else { thing.pull };
            thing.x = match pull {
                Pull::Left => thing.x,
                Pull::Middle => i32::midpoint(thing.x, most),
                Pull::Right => most,
            };
            thing.put_mirrored(&mut mirrored);
        }
    }
    gaps
}

/// The devices of each run that has more cores on its right than on its left.
fn rightward(placed: &Placed, gaps: &[Vec<Thing>], runs: &[Vec<Run>]) -> Vec<bool> {
    let o = &placed.ordered;
    let mut rightward = vec![false; o.figures.len()];
    for (things, runs) in gaps.iter().zip(runs) {
        let column = &things[first_device(things)..];
        for run in runs {
            let devices = || column[run.devices.clone()].iter().filter_map(|thing| thing.is.device());
            let cores = |side: Side| devices().map(|d| o.items[d].ends[side as usize].len()).sum::<usize>();
            if cores(Side::Right) > cores(Side::Left) {
                devices().for_each(|d| rightward[d] = true);
            }
        }
    }
    rightward
}

/// Whether a thing goes with devices that are drawn to the right: one of them, or what only their cores lead to from there.
fn leans_right(placed: &Placed, thing: &Thing, rightward: &[bool]) -> bool {
    let o = &placed.ordered;
    let leads_there = |end: usize| {
        o.ends[end].side == Side::Right && rightward.get(o.ends[end].item).copied().unwrap_or(false)
    };
    match thing.is {
        Is::Device(d) => rightward.get(d).copied().unwrap_or(false),
        Is::Piece { chord, .. } => {
            o.ends[2 * chord].side != o.ends[2 * chord + 1].side
                && (leads_there(2 * chord) || leads_there(2 * chord + 1))
        }
        Is::SheathLeft(b) => {
            let ends = &o.items[o.figures.len() + b].ends[Side::Left as usize];
            !ends.is_empty() && ends.iter().all(|end| leads_there(partner(*end)))
        }
        _ => false,
    }
}

/// Modules from the left to the right edge of a device.
fn width(placed: &Placed, thing: &Thing) -> i32 {
    thing.is.device().map_or(0, |device| placed.ordered.figures[device].w)
}

/// Where in a gap the devices of the column right of it begin.
fn first_device(things: &[Thing]) -> usize {
    things.iter().position(|thing| thing.is.device().is_some()).unwrap_or(things.len())
}

/// Lines the devices of a column up, runs right of an edge: by the side on which they have wires, else by their middle.
fn align(placed: &Placed, column: &mut [Thing], front: &Front, edge: i32, columns: Columns) -> Vec<Run> {
    let o = &placed.ordered;
    let least = |t: &Thing| match columns {
        Columns::InLine => t.least(front),
        Columns::InRuns => t.least(front).max(edge),
    };
    let borders = |t: &Thing| t.is.device().map(|device| &o.items[device].ends);
    let cores = |t: &Thing| borders(t).map_or(0, |ends| ends.iter().map(Vec::len).sum());
    let indent = |t: &Thing, wide: i32| {
        let spare = wide - width(placed, t);
        match borders(t).map(|[left, right]| (left.is_empty(), right.is_empty())) {
            Some((false, true)) => 0,
            Some((true, false)) => spare,
            _ => spare / 2,
        }
    };
    let ranges = match columns {
        Columns::InLine => iter::once(0..column.len()).collect(),
        Columns::InRuns => {
            let member = |t: &Thing| Member { least: least(t), cores: cores(t) };
            align::divided(&column.iter().map(member).collect::<Vec<_>>())
        }
    };
    let run = |devices: Range<usize>| {
        let things = &column[devices.clone()];
        let wide = things.iter().map(|t| width(placed, t)).max().unwrap_or(0);
        let line = things.iter().map(|t| least(t) - indent(t, wide)).max().unwrap_or(0);
        Run { devices, line, wide }
    };
    let mut runs: Vec<Run> = ranges.into_iter().map(run).collect();
    align::join(&mut runs);
    for run in &runs {
        for thing in &mut column[run.devices.clone()] {
            thing.x = run.line + indent(thing, run.wide);
        }
    }
    runs
}
