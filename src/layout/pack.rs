//! From sizes of diagrams to sheets: several small diagrams share one.
//!
//! A diagram that does not fill its sheet takes in smaller ones beside it or below it, each in a corner of the room that
//! is left. Then each may spread as far as nothing else stands.

use super::{Room, fits};

/// Modules between two diagrams on one sheet.
const BETWEEN: i32 = 3;

/// A diagram in its place.
#[derive(Clone, Copy, Debug)]
pub(super) struct Spot {
    /// Its number.
    pub diagram: usize,
    /// Its top left corner.
    pub corner: (i32, i32),
    /// The room that it may take.
    pub room: Room,
}

/// A sheet in the making: its diagrams, with the room that each needs, and the room that is left, as corner and size.
struct Sheet {
    spots: Vec<Spot>,
    left: Vec<((i32, i32), Room)>,
}

/// Packs. The sheets stand in the order of their first diagrams, and so do the diagrams on each.
pub(super) fn pack(sizes: &[Room], room: Room) -> Vec<Vec<Spot>> {
    let mut order: Vec<usize> = (0..sizes.len()).collect();
    order.sort_by_key(|n| (-area(sizes[*n]), *n));
    let mut sheets: Vec<Sheet> = Vec::new();
    for n in order {
        let size = sizes[n];
        // The nearest in the order of the sheets: what is drawn together belongs together.
        let holds = |sheet: &Sheet| sheet.left.iter().any(|(_, room)| fits(size, *room));
        let near = |sheet: &Sheet| sheet.spots.iter().map(|spot| spot.diagram.abs_diff(n)).min();
        let taker = sheets.iter_mut().filter(|sheet| holds(sheet)).min_by_key(|sheet| near(sheet));
        match taker {
            Some(sheet) => sheet.put(n, size),
            None => {
                let mut sheet = Sheet { spots: Vec::new(), left: vec![((0, 0), room)] };
                sheet.put(n, size);
                sheets.push(sheet);
            }
        }
    }
    for sheet in &mut sheets {
        sheet.spots.sort_by_key(|spot| spot.diagram);
        for i in 0..sheet.spots.len() {
            sheet.grow(i, room);
        }
    }
    sheets.sort_by_key(|sheet| sheet.spots.first().map(|spot| spot.diagram));
    sheets.into_iter().map(|sheet| sheet.spots).collect()
}

fn area((w, h): Room) -> i64 {
    i64::from(w) * i64::from(h)
}

impl Sheet {
    /// Puts a diagram into the smallest room that holds it; an empty sheet takes any.
    fn put(&mut self, diagram: usize, size: Room) {
        let rooms = self.left.iter().enumerate();
        let best = rooms.filter(|(_, (_, room))| fits(size, *room)).min_by_key(|(_, (_, room))| area(*room));
        let at = best.map_or(0, |(i, _)| i);
        if at >= self.left.len() {
            return;
        }
        let ((x, y), (w, h)) = self.left.swap_remove(at);
        self.spots.push(Spot { diagram, corner: (x, y), room: size });
        let (beside, below) = (w - size.0 - BETWEEN, h - size.1 - BETWEEN);
        // The larger of the two rooms gets the corner between them.
        let (tall, wide) = if area((beside, h)) > area((w, below)) { (h, size.0) } else { (size.1, w) };
        self.left.push(((x + size.0 + BETWEEN, y), (beside, tall)));
        self.left.push(((x, y + size.1 + BETWEEN), (wide, below)));
        self.left.retain(|(_, room)| room.0 > 0 && room.1 > 0);
    }

    /// Gives a diagram the room to its right and below it that no other takes.
    fn grow(&mut self, i: usize, room: Room) {
        let Spot { corner: (x, y), room: (w, h), .. } = self.spots[i];
        let others = || self.spots.iter().enumerate().filter(move |(j, _)| *j != i).map(|(_, spot)| spot);
        let level = |o: &&Spot| o.corner.1 < y + h && y < o.corner.1 + o.room.1 && o.corner.0 > x;
        let right = others().filter(level).map(|o| o.corner.0 - BETWEEN).min().unwrap_or(room.0);
        let under = |o: &&Spot| o.corner.0 < right && x < o.corner.0 + o.room.0 && o.corner.1 > y;
        let bottom = others().filter(under).map(|o| o.corner.1 - BETWEEN).min().unwrap_or(room.1);
        self.spots[i].room = (w.max(right - x), h.max(bottom - y));
    }
}
