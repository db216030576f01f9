//! The paper: sizes of ISO 216, and the frame, centring marks and zones of ISO 5457.

use super::flags;
use crate::lettering::Height;
use crate::scene::{Anchor, Dash, Fill, Group, Point, Rect, Role, Shape, Text, Width};

/// A sheet of paper on its side.
#[derive(Clone, Debug, PartialEq)]
pub struct Paper {
    /// `A4`, or millimetres by millimetres for a sheet longer than A0.
    pub name: String,
    /// Width and height in millimetres.
    pub size: (f64, f64),
}

/// The trimmed sizes of ISO 216, main A series, smallest first, on their side. Turning A4 as well departs from ISO 5457,
/// which has it upright: a connection diagram is wide.
const SIZES: [(&str, f64, f64); 5] = [
    ("A4", 297.0, 210.0),
    ("A3", 420.0, 297.0),
    ("A2", 594.0, 420.0),
    ("A1", 841.0, 594.0),
    ("A0", 1189.0, 841.0),
];

/// The filing margin on the left (ISO 5457).
const LEFT: f64 = 20.0;
/// The margin on the other three sides (ISO 5457).
const MARGIN: f64 = 10.0;
/// The border with the zones, outside the frame (ISO 5457, from memory).
const ZONES: f64 = 5.0;
/// The length of a zone, counted from the middle of the sheet (ISO 5457).
const ZONE: f64 = 50.0;
/// How far a centring mark reaches into the frame, from the outer line of the zones (ISO 5457, from memory).
const INSIDE: f64 = 10.0;
/// What is kept free of a centring mark: one that would come nearer to something is shorter.
const CLEAR: f64 = 1.0;
/// What is kept free at the head of the frame.
const HEAD: f64 = 6.0;
/// What is kept free inside the frame.
const PAD: f64 = 4.0;

impl Paper {
    /// The standard sheets, smallest first.
    pub fn standard() -> impl Iterator<Item = Self> {
        SIZES.iter().map(|(name, w, h)| Self { name: (*name).to_owned(), size: (*w, *h) })
    }

    /// A sheet for a diagram that no standard sheet holds: in steps of a zone, with this much room inside.
    #[must_use]
    pub fn beyond(w: f64, h: f64) -> Self {
        let step = |room: f64, margins: f64, least: f64| {
            (((room + margins + 2.0 * PAD) / ZONE).ceil() * ZONE).max(least)
        };
        let size = (step(w, LEFT + MARGIN, 1189.0), step(h, 2.0 * MARGIN, 841.0));
        Self { name: format!("{} × {}", size.0, size.1), size }
    }

    /// The inside of the frame.
    #[must_use]
    pub fn frame(&self) -> Rect {
        Rect { x: LEFT, y: MARGIN, w: self.size.0 - LEFT - MARGIN, h: self.size.1 - 2.0 * MARGIN }
    }

    /// The inside of the frame, a little away from it.
    #[must_use]
    pub fn room(&self) -> Rect {
        let frame = self.frame();
        Rect { x: frame.x + PAD, y: frame.y + HEAD, w: frame.w - 2.0 * PAD, h: frame.h - HEAD }
    }

    /// The zone of a point, letter before number: `B3`.
    #[must_use]
    pub fn zone(&self, at: Point) -> String {
        zone(self.size, at)
    }

    /// The number of a page of a record, at the foot of the sheet, beside the number of the zone right of the middle.
    #[must_use]
    pub fn page_number(size: (f64, f64), number: usize, count: usize) -> Group {
        let mut group = Group::new(Role::Border);
        let x = size.0 / 2.0 + ZONE / 2.0 + 4.0;
        let y = size.1 - MARGIN + (ZONES + Height::H1_8.mm()) / 2.0;
        group.text(Text::new(&format!("Page {number} of {count}"), x, y, Height::H1_8));
        group
    }

    /// The frame with its marks and zones, round what stands in it.
    #[must_use]
    pub fn border(&self, content: &[Group]) -> Group {
        let mut group = Group::new(Role::Border);
        let (w, h) = self.size;
        let frame = self.frame();
        let outer = frame.grown(ZONES);
        group.shape(Shape::rect(outer, Some(Width::Normal), Dash::Solid, Fill::None));
        group.shape(Shape::rect(frame, Some(Width::Wide), Dash::Solid, Fill::None));
        let (cx, cy) = (w / 2.0, h / 2.0);
        let taken: Vec<Rect> = content.iter().flat_map(flags::obstacles).collect();
        let marks = [
            ((cx, outer.y), (cx, frame.y), (0.0, 1.0)),
            ((cx, outer.bottom()), (cx, frame.bottom()), (0.0, -1.0)),
            ((outer.x, cy), (frame.x, cy), (1.0, 0.0)),
            ((outer.right(), cy), (frame.right(), cy), (-1.0, 0.0)),
        ];
        for (from, (x, y), inwards) in marks {
            let edge = Point { x, y };
            let end = |reach: f64| Point { x: x + inwards.0 * reach, y: y + inwards.1 * reach };
            let is_free = |reach: &f64| {
                let mark = Rect::between(edge, end(*reach)).grown(CLEAR);
                !taken.iter().any(|rect| rect.overlaps(&mark))
            };
            let reaches = (0..=20).map(|half| INSIDE - f64::from(half) / 2.0);
            let reach = reaches.into_iter().find(is_free).unwrap_or(0.0);
            group.shape(Shape::line(&[Point { x: from.0, y: from.1 }, end(reach)], Width::Wide));
        }

        // A4 bears its zones on two sides, larger sheets on all four (ISO 5457).
        let small = w < 400.0;
        let columns = inner_lines(w, LEFT, MARGIN);
        let rows = inner_lines(h, MARGIN, MARGIN);
        let (left, right) = (frame.x, frame.right());
        for (i, (a, b)) in fields(left, right, &columns).enumerate() {
            let label = (i + 1).to_string();
            zone_label(&mut group, &label, f64::midpoint(a, b), frame.y - ZONES / 2.0);
            if !small {
                zone_label(&mut group, &label, f64::midpoint(a, b), frame.bottom() + ZONES / 2.0);
            }
        }
        for (i, (a, b)) in fields(frame.y, frame.bottom(), &rows).enumerate() {
            zone_label(&mut group, &letter(i), left - ZONES / 2.0, f64::midpoint(a, b));
            if !small {
                zone_label(&mut group, &letter(i), right + ZONES / 2.0, f64::midpoint(a, b));
            }
        }
        let mut tick = |a: (f64, f64), b: (f64, f64)| {
            group.shape(Shape::line(&[Point { x: a.0, y: a.1 }, Point { x: b.0, y: b.1 }], Width::Normal));
        };
        for x in columns.into_iter().filter(|x| (x - cx).abs() > 0.1) {
            tick((x, outer.y), (x, frame.y));
            if !small {
                tick((x, frame.bottom()), (x, outer.bottom()));
            }
        }
        for y in rows.into_iter().filter(|y| (y - cy).abs() > 0.1) {
            tick((outer.x, y), (left, y));
            if !small {
                tick((right, y), (outer.right(), y));
            }
        }
        group
    }
}

/// The zone of a point on a sheet of that width and height.
pub(super) fn zone((w, h): (f64, f64), at: Point) -> String {
    let index = |lines: &[f64], v: f64| lines.iter().filter(|line| **line <= v).count();
    let row = index(&inner_lines(h, MARGIN, MARGIN), at.y);
    let column = index(&inner_lines(w, LEFT, MARGIN), at.x);
    format!("{}{}", letter(row), column + 1)
}

fn zone_label(group: &mut Group, text: &str, x: f64, y: f64) {
    let text = Text::new(text, x, y + Height::H3_5.mm() / 2.0, Height::H3_5);
    group.text(text.anchored(Anchor::Middle));
}

/// The number of whole zones from the middle to the edge: A4 has 6 by 4 fields, A3 8 by 6, A2 12 by 8, A1 16 by 12,
/// A0 24 by 16 (ISO 5457); what is left over belongs to the last field.
fn inner_lines(length: f64, before: f64, after: f64) -> Vec<f64> {
    let middle = length / 2.0;
    let half = (middle / ZONE).round() as i32;
    (1 - half..half)
        .map(|i| middle + f64::from(i) * ZONE)
        .filter(|x| *x > before + 5.0 && *x < length - after - 5.0)
        .collect()
}

fn fields(from: f64, to: f64, lines: &[f64]) -> impl Iterator<Item = (f64, f64)> {
    let starts = std::iter::once(from).chain(lines.iter().copied());
    let ends = lines.iter().copied().chain(std::iter::once(to));
    starts.zip(ends).collect::<Vec<_>>().into_iter()
}

/// Row letters without I and O; after Z they double.
fn letter(index: usize) -> String {
    const LETTERS: &[u8; 24] = b"ABCDEFGHJKLMNPQRSTUVWXYZ";
    let one = char::from(LETTERS[index % LETTERS.len()]);
    if index < LETTERS.len() { one.to_string() } else { format!("{one}{one}") }
}
