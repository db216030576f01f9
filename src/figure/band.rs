//! Symbols between terminals of both sides, level in the band between the sides' columns.
//!
//! Each symbol gets rows of its own. What joins its points to the rows of the terminals runs upright in tracks beside
//! the band, one track a terminal, so that two leads can cross but never lie on one line: a point never stands in the
//! row of another terminal that comes in from that side.

use super::Side;
use super::choose::Drawn;
use super::flank::CIRCLE;
use super::graphic::Turn;
use super::pen::{Pen, Stamp, ink};
use crate::netlist::TerminalId;
use crate::scene::{Anchor, M, Point, Rect, Text};

/// Rows that a symbol with all that it brings and the returns of its points never exceed, in modules.
const TALLEST: i32 = 10;

/// From a symbol up to the words above it, in millimetres.
const CAPTION: f64 = 0.7;

/// A terminal that leads into the band.
#[derive(Clone, Copy, Debug)]
pub(super) struct Entrance {
    pub terminal: TerminalId,
    pub side: Side,
    /// Its row in modules.
    pub row: i32,
}

/// A symbol in its row.
#[derive(Clone, Debug)]
struct Seat<'a> {
    drawn: &'a Drawn,
    turn: Turn,
    row: i32,
    /// Its points: terminal, side of the symbol, row.
    pins: Vec<(TerminalId, Side, i32)>,
    /// Rows kept free for leads that come from the other side: terminal and row.
    returns: Vec<(TerminalId, i32)>,
}

/// The band, before its place across is known.
#[derive(Clone, Debug, Default)]
pub(super) struct Band<'a> {
    seats: Vec<Seat<'a>>,
    tracks: [Vec<TerminalId>; 2],
    entrances: Vec<Entrance>,
    /// How far down a free row is looked for, in modules: there is always one above it.
    search: i32,
}

/// Seats the symbols.
pub(super) fn band<'a>(drawn: &[&'a Drawn], entrances: Vec<Entrance>) -> Band<'a> {
    let mut taken: Vec<(f64, f64)> = Vec::new();
    let lowest = entrances.iter().map(|e| e.row).max().unwrap_or(0);
    let search = lowest + TALLEST * (drawn.len() as i32 + 1);
    let mut band = Band { seats: Vec::new(), tracks: [Vec::new(), Vec::new()], entrances, search };
    for one in drawn {
        if let Some(seat) = band.seat(one, &mut taken) {
            band.seats.push(seat);
        }
    }
    band.lay_tracks();
    band
}

impl<'a> Band<'a> {
    /// Whether there is nothing in it.
    pub fn is_empty(&self) -> bool {
        self.seats.is_empty()
    }

    /// How many modules it takes across.
    pub fn width(&self) -> i32 {
        let [left, right] = &self.tracks;
        self.core_width() + (left.len() + right.len()) as i32
    }

    /// Modules that the symbols and their words take across, 3 at least.
    fn core_width(&self) -> i32 {
        let words = self.seats.iter().filter_map(|s| s.drawn.caption.as_ref()).map(Text::width);
        let signs = self.seats.iter().map(|s| match s.drawn.actuator {
            Some(_) => 3.0 * M,
            None => 0.0,
        });
        let mm = words.map(|w| w + 1.0).chain(signs).fold(3.0 * M, f64::max);
        let modules = (mm / M).ceil() as i32;
        // The symbol's points stay on the grid when it stands in the middle.
        modules + (modules - 3) % 2
    }

    fn entrance(&self, terminal: TerminalId) -> Option<Entrance> {
        self.entrances.iter().find(|e| e.terminal == terminal).copied()
    }

    fn seat(&self, drawn: &'a Drawn, taken: &mut Vec<(f64, f64)>) -> Option<Seat<'a>> {
        let ends: Vec<(&str, Entrance)> =
            drawn.ends.iter().filter_map(|(a, t)| Some((*a, self.entrance(*t)?))).collect();
        let first = ends.first()?.1;
        let mirrored = first.side == Side::Right;
        let row_of = |name: &str| ends.iter().find(|(a, _)| *a == name).map_or(0, |(_, e)| e.row);
        let flipped = ends.len() == 3 && row_of("nc") < row_of("no");
        let across = if mirrored { -1 } else { 1 };
        let turn = Turn::new((across, 0), (0, if flipped { -1 } else { 1 }));
        let box_of = self.room(drawn, turn);
        let mut rows: Vec<i32> = ends.iter().map(|(_, e)| e.row).collect();
        rows.extend(2..self.search);
        for row in rows {
            let (top, bottom) = (f64::from(row) * M + box_of.0, f64::from(row) * M + box_of.1);
            if top < 1.0 || taken.iter().any(|(t, b)| top < *b && *t < bottom) {
                continue;
            }
            let pins: Vec<(TerminalId, Side, i32)> = ends
                .iter()
                .enumerate()
                .map(|(i, (name, e))| {
                    let at = drawn.symbol.anchor(name, turn, Point::default());
                    let side = if (i == 0) == mirrored { Side::Right } else { Side::Left };
                    (e.terminal, side, row + (at.y / M).round() as i32)
                })
                .collect();
            if pins.iter().any(|pin| self.clashes(*pin)) {
                continue;
            }
            taken.push((top, bottom));
            let mut returns = Vec::new();
            for (terminal, side, _) in &pins {
                if self.entrance(*terminal).is_some_and(|e| e.side != *side) {
                    returns.push((*terminal, self.free_row(*terminal, taken)));
                }
            }
            return Some(Seat { drawn, turn, row, pins, returns });
        }
        None
    }

    /// From the row to the top and the bottom of all that a symbol brings, in millimetres.
    fn room(&self, drawn: &Drawn, turn: Turn) -> (f64, f64) {
        let symbol = ink(&drawn.symbol.placed(turn, Point::default())).unwrap_or_default();
        let mut room = (symbol.y - 0.4, symbol.bottom() + 0.4);
        if let Some(caption) = &drawn.caption {
            room.0 = symbol.y - CAPTION - caption.height.mm() - 0.2;
        }
        if let Some((_, below)) = actuator(drawn, turn, Point::default()) {
            room.1 = room.1.max(below.bottom() + 0.4);
        }
        room
    }

    /// Whether a point stands in the row of another terminal that comes in from that side.
    fn clashes(&self, (terminal, side, row): (TerminalId, Side, i32)) -> bool {
        self.entrances.iter().any(|e| e.side == side && e.row == row && e.terminal != terminal)
    }

    /// A row in which a lead may cross the band.
    fn free_row(&self, terminal: TerminalId, taken: &mut Vec<(f64, f64)>) -> i32 {
        let free = |row: &i32| {
            let (top, bottom) = (f64::from(*row) * M - 1.0, f64::from(*row) * M + 1.0);
            let clear = taken.iter().all(|(t, b)| bottom <= *t || *b <= top);
            clear && ![Side::Left, Side::Right].iter().any(|s| self.clashes((terminal, *s, *row)))
        };
        let row = (1..self.search).find(free).unwrap_or(self.search);
        taken.push((f64::from(row) * M - 1.0, f64::from(row) * M + 1.0));
        row
    }

    /// The rows that a terminal's track on a side joins: its own (if it comes in there), those of its points there,
    /// those in which it crosses.
    fn rows_on(&self, terminal: TerminalId, side: Side) -> Vec<i32> {
        let own = self.entrance(terminal).filter(|e| e.side == side).map(|e| e.row);
        let pins = self.seats.iter().flat_map(|s| &s.pins);
        let pins = pins.filter(|(t, s, _)| *t == terminal && *s == side).map(|(_, _, row)| *row);
        let returns = self.seats.iter().flat_map(|s| &s.returns);
        let returns = returns.filter(|(t, _)| *t == terminal).map(|(_, row)| *row);
        let mut rows: Vec<i32> = own.into_iter().chain(pins).chain(returns).collect();
        rows.sort_unstable();
        rows.dedup();
        rows
    }

    fn lay_tracks(&mut self) {
        for side in [Side::Left, Side::Right] {
            let needs = |e: &&Entrance| self.rows_on(e.terminal, side).len() > 1;
            let mut tracks: Vec<TerminalId> =
                self.entrances.iter().filter(needs).map(|e| e.terminal).collect();
            tracks.dedup();
            self.tracks[side as usize] = tracks;
        }
    }

    /// Draws the band. `from` is where it begins across and `w` the width of the outline, in modules.
    pub fn draw(&self, from: i32, w: i32, pen: &mut Pen) {
        let x_of = |side: Side, track: usize| {
            let i = track as i32;
            let start = if side == Side::Left { from } else { from + self.width() };
            f64::from(if side == Side::Left { start + i } else { start - i }) * M
        };
        let tracks_left = self.tracks[0].len() as i32;
        let core = [from + tracks_left, from + tracks_left + self.core_width()].map(|x| f64::from(x) * M);
        let symbol_left = core[0] + (core[1] - core[0] - 3.0 * M) / 2.0;
        let symbol = [symbol_left, symbol_left + 3.0 * M];
        for side in [Side::Left, Side::Right] {
            let edge = if side == Side::Left { CIRCLE } else { f64::from(w) * M - CIRCLE };
            for entrance in self.entrances.iter().filter(|e| e.side == side) {
                let y = f64::from(entrance.row) * M;
                let track = self.tracks[side as usize].iter().position(|t| *t == entrance.terminal);
                let to = track.map_or(symbol[side as usize], |t| x_of(side, t));
                pen.lead(Side::Left, &[Point { x: edge, y }, Point { x: to, y }]);
            }
            for (i, terminal) in self.tracks[side as usize].iter().enumerate() {
                let (x, rows) = (x_of(side, i), self.rows_on(*terminal, side));
                let ends = [rows.first(), rows.last()].map(|r| f64::from(r.copied().unwrap_or(0)) * M);
                pen.lead(Side::Left, &ends.map(|y| Point { x, y }));
                let middle = rows.get(1..rows.len().saturating_sub(1)).unwrap_or_default();
                middle.iter().for_each(|r| pen.dot(Side::Left, Point { x, y: f64::from(*r) * M }));
            }
        }
        for seat in &self.seats {
            for (terminal, side, row) in &seat.pins {
                let y = f64::from(*row) * M;
                let track = self.tracks[*side as usize].iter().position(|t| t == terminal);
                if let Some(track) = track {
                    pen.lead(
                        Side::Left,
                        &[Point { x: x_of(*side, track), y }, Point { x: symbol[*side as usize], y }],
                    );
                }
            }
            for (terminal, row) in &seat.returns {
                let track = |side: Side| {
                    let i = self.tracks[side as usize].iter().position(|t| t == terminal);
                    Point { x: x_of(side, i.unwrap_or(0)), y: f64::from(*row) * M }
                };
                pen.lead(Side::Left, &[track(Side::Left), track(Side::Right)]);
            }
            seat.draw(symbol, pen);
        }
    }
}

impl Seat<'_> {
    fn draw(&self, symbol: [f64; 2], pen: &mut Pen) {
        let mirrored = self.turn.point(Point { x: 1.0, y: 0.0 }).x < 0.0;
        let at = Point { x: symbol[usize::from(mirrored)], y: f64::from(self.row) * M };
        pen.stamp(Side::Left, (self.drawn.symbol, self.turn, at));
        let ink = ink(&self.drawn.symbol.placed(self.turn, at)).unwrap_or_default();
        if let Some(caption) = &self.drawn.caption {
            let at = Point { x: (symbol[0] + symbol[1]) / 2.0, y: ink.y - CAPTION };
            pen.text(Side::Left, Text { at, anchor: Anchor::Middle, ..caption.clone() });
        }
        if let Some((stamp, _)) = actuator(self.drawn, self.turn, at) {
            if let Some(hold) = self.drawn.symbol.hold(self.turn, at) {
                pen.dashed(Side::Left, &[hold, stamp.2]);
            }
            pen.stamp(Side::Left, stamp);
        }
    }
}

/// The actuator of a level contact, below it, and its box.
fn actuator(drawn: &Drawn, turn: Turn, at: Point) -> Option<(Stamp, Rect)> {
    let (actuator, hold) = (drawn.actuator?, drawn.symbol.hold(turn, at)?);
    let below = ink(&drawn.symbol.placed(turn, at))?.bottom();
    let to = Point { x: hold.x, y: below + 0.5 };
    let down = Turn::new((0, 1), (-1, 0));
    Some(((actuator, down, to), ink(&actuator.placed(down, to)).unwrap_or_default()))
}
