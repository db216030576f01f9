//! What has been drawn so far inside an outline, kept apart by what it is.

use super::Side;
use super::graphic::{Graphic, Turn};
use crate::scene::{Anchor, Dash, Fill, Piece, Point, Rect, Shape, Text, Width};

/// A symbol with its turn and origin.
pub(super) type Stamp = (&'static Graphic, Turn, Point);

/// Takes down leads, symbols, links and lettering in millimetres. What belongs to the right side is given by its
/// depth from that side and comes out mirrored.
#[derive(Clone, Debug, Default)]
pub(super) struct Pen {
    /// The width of the outline in millimetres.
    pub w: f64,
    /// Conducting lines.
    pub leads: Vec<Vec<Point>>,
    pub stamps: Vec<Stamp>,
    pub dashes: Vec<Vec<Point>>,
    dots: Vec<Point>,
    rules: Vec<[Point; 2]>,
    texts: Vec<Text>,
}

impl Pen {
    /// An empty sheet of that width.
    pub fn new(w: f64) -> Self {
        Self { w, ..Self::default() }
    }

    /// Where a point of a side is on the sheet.
    pub fn across(&self, side: Side, p: Point) -> Point {
        match side {
            Side::Left => p,
            Side::Right => Point { x: self.w - p.x, ..p },
        }
    }

    /// A conducting line.
    pub fn lead(&mut self, side: Side, points: &[Point]) {
        self.leads.push(points.iter().map(|p| self.across(side, *p)).collect());
    }

    /// A mechanical link.
    pub fn dashed(&mut self, side: Side, points: &[Point]) {
        self.dashes.push(points.iter().map(|p| self.across(side, *p)).collect());
    }

    /// Where three leads meet.
    pub fn dot(&mut self, side: Side, at: Point) {
        self.dots.push(self.across(side, at));
    }

    /// A thin line that conducts nothing.
    pub fn rule(&mut self, from: Point, to: Point) {
        self.rules.push([from, to]);
    }

    /// A symbol.
    pub fn stamp(&mut self, side: Side, (symbol, turn, at): Stamp) {
        let turn = if side == Side::Right { turn.mirrored() } else { turn };
        self.stamps.push((symbol, turn, self.across(side, at)));
    }

    /// Lettering.
    pub fn text(&mut self, side: Side, text: Text) {
        let at = self.across(side, text.at);
        let anchor = match (side, text.anchor) {
            (Side::Right, Anchor::Start) => Anchor::End,
            (Side::Right, Anchor::End) => Anchor::Start,
            (_, anchor) => anchor,
        };
        self.texts.push(Text { at, anchor, ..text });
    }

    /// All of it as shapes.
    pub fn shapes(&self) -> Vec<Shape> {
        let lines = self.leads.iter().map(|l| Shape::line(l, Width::Normal));
        let rules = self.rules.iter().map(|r| Shape::line(r, Width::Thin));
        let dots = self.dots.iter().map(|at| Shape::Circle {
            at: *at,
            radius: 0.4,
            width: Width::Thin,
            fill: Fill::Black,
        });
        let dashes = self.dashes.iter().map(|points| dashed(points));
        let stamps = self.stamps.iter().flat_map(|(symbol, turn, at)| symbol.placed(*turn, *at));
        let texts = self.texts.iter().cloned().map(Shape::Text);
        lines.chain(rules).chain(dots).chain(dashes).chain(stamps).chain(texts).collect()
    }
}

fn dashed(points: &[Point]) -> Shape {
    let piece = |(i, p): (usize, &Point)| if i == 0 { Piece::Move(*p) } else { Piece::Line(*p) };
    Shape::Path {
        pieces: points.iter().enumerate().map(piece).collect(),
        width: Some(Width::Thin),
        dash: Dash::Dashed,
        fill: Fill::None,
    }
}

/// The box around shapes.
pub(super) fn ink(shapes: &[Shape]) -> Option<Rect> {
    shapes.iter().filter_map(Shape::bounds).reduce(|a, b| a.with(&b))
}
