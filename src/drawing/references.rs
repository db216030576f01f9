//! Where a conductor goes on that is cut between two diagrams: the sheet and the zone of its other flag.

use std::collections::BTreeMap;

use super::diagram::tips;
use super::paper::Paper;
use crate::layout::{Conductor, FLAG, Layout, WireEnd};
use crate::lettering::Height;
use crate::scene::{Anchor, Dash, Fill, Group, M, Piece, Point, Rect, Shape, Text, Width};

/// Half the breadth of a flag, and how long its point is.
const HALF: f64 = 1.9;
const POINT: f64 = 2.0;

/// What stands in the flags: sheet and zone (`2/B3`) of the other flag, by conductor and end.
#[derive(Clone, Debug, Default)]
pub struct References(BTreeMap<(Conductor, usize), String>);

impl References {
    /// The references between diagrams, each with its paper, the number of its sheet and its top left corner there.
    pub fn new<'a>(diagrams: impl Iterator<Item = (&'a Paper, (usize, &'a Layout, Point))>) -> Self {
        let mut at = BTreeMap::new();
        for (paper, (sheet, layout, origin)) in diagrams {
            for wire in &layout.wires {
                let points = wire
                    .points
                    .iter()
                    .map(|p| Point { x: origin.x + f64::from(p.x) * M, y: origin.y + f64::from(p.y) * M });
                let points: Vec<Point> = points.collect();
                for (end, (tip, before)) in tips(&points).into_iter().enumerate() {
                    if wire.ends[end] == WireEnd::Away {
                        let area = area(tip, before);
                        let middle = Point { x: area.x + area.w / 2.0, y: area.y + area.h / 2.0 };
                        at.insert((wire.conductor, end), format!("{sheet}/{}", paper.zone(middle)));
                    }
                }
            }
        }
        let other = |((conductor, end), _): (&(Conductor, usize), _)| {
            Some(((*conductor, *end), at.get(&(*conductor, 1 - end))?.clone()))
        };
        Self(at.iter().filter_map(other).collect())
    }

    /// What the flag at that end of a conductor says.
    pub fn at(&self, conductor: Conductor, end: usize) -> &str {
        self.0.get(&(conductor, end)).map_or("", String::as_str)
    }
}

/// The box of a flag at the tip of a conductor that comes from `before`.
fn area(tip: Point, before: Point) -> Rect {
    let length = f64::from(FLAG) * M;
    let far = if before.x > tip.x { tip.x - length } else { tip.x + length };
    Rect::between(Point { x: tip.x, y: tip.y - HALF }, Point { x: far, y: tip.y + HALF })
}

/// A flag: it points away from the conductor.
pub fn flag(group: &mut Group, tip: Point, before: Point, words: &str) {
    let area = area(tip, before);
    let towards = if before.x > tip.x { -1.0 } else { 1.0 };
    let far = tip.x + towards * area.w;
    let neck = far - towards * POINT;
    let corner = |x: f64, y: f64| Point { x, y };
    let pieces = vec![
        Piece::Move(corner(tip.x, area.y)),
        Piece::Line(corner(neck, area.y)),
        Piece::Line(corner(far, tip.y)),
        Piece::Line(corner(neck, area.bottom())),
        Piece::Line(corner(tip.x, area.bottom())),
        Piece::Close,
    ];
    let (width, fill) = (Some(Width::Normal), Fill::White);
    group.shape(Shape::Path { pieces, width, dash: Dash::Solid, fill });
    let middle = f64::midpoint(tip.x, neck);
    let text = Text::new(words, middle, tip.y + Height::H1_8.mm() / 2.0, Height::H1_8);
    group.text(text.anchored(Anchor::Middle));
}
