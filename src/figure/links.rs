//! The dashed mechanical links from each coil to the contacts that it moves.

use super::Side;
use super::flank::Flank;
use super::pen::Pen;
use super::slots::Slot;
use crate::netlist::PartId;
use crate::scene::{M, Point};

/// A coil and the contacts that it moves, each with its side.
struct Link<'s> {
    coil: (Side, &'s Slot<'s>),
    contacts: Vec<(Side, &'s Slot<'s>)>,
}

fn links<'s>(flanks: &'s [Flank<'_>; 2]) -> Vec<Link<'s>> {
    let slots = || flanks.iter().flat_map(|f| f.slots.iter().map(move |s| (f.side, s)));
    let held = || slots().filter(|(_, s)| s.hold.is_some());
    let moved = |coil: PartId| held().filter(|(_, s)| s.drawn.coil == Some(coil)).collect::<Vec<_>>();
    let link = |coil: (Side, &'s Slot<'s>)| Link { coil, contacts: moved(coil.1.drawn.part) };
    held().map(link).filter(|link| !link.contacts.is_empty()).collect()
}

impl Link<'_> {
    /// Whether one level line does.
    fn is_straight(&self) -> bool {
        match self.contacts.as_slice() {
            [(side, contact)] => {
                let level = |a: Point, b: Point| (a.y - b.y).abs() < 0.01;
                *side != self.coil.0 && contact.hold.zip(self.coil.1.hold).is_some_and(|(a, b)| level(a, b))
            }
            _ => false,
        }
    }
}

/// How many upright lines between the sides the links need, one for each coil without a straight one.
pub(super) fn trunks(flanks: &[Flank<'_>; 2]) -> i32 {
    links(flanks).iter().filter(|link| !link.is_straight()).count() as i32
}

/// Draws the links; their upright lines stand from `x` on, a module apart.
pub(super) fn draw(flanks: &[Flank<'_>; 2], x: f64, pen: &mut Pen) {
    let mut x = x;
    for link in links(flanks) {
        let all = [link.coil].into_iter().chain(link.contacts.iter().copied());
        let holds: Vec<Point> =
            all.filter_map(|(side, slot)| slot.hold.map(|hold| pen.across(side, hold))).collect();
        if link.is_straight() {
            pen.dashed(Side::Left, &holds);
            continue;
        }
        let ys = || holds.iter().map(|p| p.y);
        let (top, bottom) = (ys().fold(f64::MAX, f64::min), ys().fold(f64::MIN, f64::max));
        pen.dashed(Side::Left, &[Point { x, y: top }, Point { x, y: bottom }]);
        for hold in &holds {
            pen.dashed(Side::Left, &[*hold, Point { x, y: hold.y }]);
        }
        x += M;
    }
}
