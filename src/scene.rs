//! A sheet as shapes in millimetres, origin at the top left, y downwards. Whatever is drawn is drawn from this.

use crate::lettering::Height;

/// The grid module in millimetres (IEC 61082-1 practice).
pub const M: f64 = 2.5;

/// A point in millimetres.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Point {
    /// To the right.
    pub x: f64,
    /// Downwards.
    pub y: f64,
}

/// A rectangle in millimetres.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Rect {
    /// Left edge.
    pub x: f64,
    /// Top edge.
    pub y: f64,
    /// Width.
    pub w: f64,
    /// Height.
    pub h: f64,
}

impl Rect {
    /// Whether the inner parts of the two share any area.
    #[must_use]
    pub fn overlaps(&self, other: &Self) -> bool {
        self.x < other.x + other.w
            && other.x < self.x + self.w
            && self.y < other.y + other.h
            && other.y < self.y + self.h
    }
}

/// Line widths of the ISO 128 series that the drawing uses.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Width {
    /// 0.25 mm.
    Thin,
    /// 0.35 mm.
    Normal,
    /// 0.5 mm.
    Medium,
    /// 0.7 mm.
    Wide,
}

impl Width {
    /// In millimetres.
    #[must_use]
    pub fn mm(self) -> f64 {
        match self {
            Self::Thin => 0.25,
            Self::Normal => 0.35,
            Self::Medium => 0.5,
            Self::Wide => 0.7,
        }
    }
}

/// The kind of a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dash {
    /// Unbroken.
    Solid,
    /// Dashed: mechanical links, what lies outside the job.
    Dashed,
    /// Dash and dot: the frames of locations.
    DashDot,
}

/// A piece of an outline.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Piece {
    /// Go there without drawing.
    Move(Point),
    /// A straight line.
    Line(Point),
    /// A circular arc of that radius (SVG's `A`, not rotated).
    Arc {
        /// The radius.
        radius: f64,
        /// The larger of the two arcs.
        large: bool,
        /// Clockwise on paper.
        clockwise: bool,
        /// Where it ends.
        to: Point,
    },
    /// Back to the start of the outline.
    Close,
}

/// Where a text hangs on its point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// The point is its left end.
    Start,
    /// The point is its middle.
    Middle,
    /// The point is its right end.
    End,
}

/// One line of lettering, its point on the baseline.
#[derive(Clone, Debug, PartialEq)]
pub struct Text {
    /// The words.
    pub text: String,
    /// The point on the baseline.
    pub at: Point,
    /// Where the text hangs on it.
    pub anchor: Anchor,
    /// The height of a capital.
    pub height: Height,
    /// Bold.
    pub bold: bool,
    /// Turned a quarter to the left, to be read from the right edge of the sheet.
    pub upright: bool,
}

/// Strokes and fills of one symbol, box or sign: black lines, white or black fill.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// An open or closed outline.
    Path {
        /// Its pieces.
        pieces: Vec<Piece>,
        /// The line's width; `None` for a fill without a line.
        width: Option<Width>,
        /// The kind of line.
        dash: Dash,
        /// What is inside.
        fill: Fill,
    },
    /// A circle.
    Circle {
        /// The middle.
        at: Point,
        /// The radius.
        radius: f64,
        /// The line's width.
        width: Width,
        /// What is inside.
        fill: Fill,
    },
    /// Lettering.
    Text(Text),
}

/// What is inside an outline.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fill {
    /// Nothing.
    None,
    /// Paper.
    White,
    /// Ink.
    Black,
}
