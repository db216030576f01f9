//! A sheet as shapes in millimetres, origin at the top left, y downwards. Whatever is drawn is drawn from this.
//!
//! Shapes stand in groups, and a group says what it is: that is how a picture, a list of coordinates and the reader of
//! a drawing come to speak of the same things.

use crate::lettering::{self, Height};

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
    /// The smallest rectangle around two points.
    #[must_use]
    pub fn between(a: Point, b: Point) -> Self {
        Self { x: a.x.min(b.x), y: a.y.min(b.y), w: (a.x - b.x).abs(), h: (a.y - b.y).abs() }
    }

    /// The right edge.
    #[must_use]
    pub fn right(&self) -> f64 {
        self.x + self.w
    }

    /// The bottom edge.
    #[must_use]
    pub fn bottom(&self) -> f64 {
        self.y + self.h
    }

    /// The same moved.
    #[must_use]
    pub fn moved(&self, dx: f64, dy: f64) -> Self {
        Self { x: self.x + dx, y: self.y + dy, ..*self }
    }

    /// The same with so much more on every side.
    #[must_use]
    pub fn grown(&self, by: f64) -> Self {
        Self { x: self.x - by, y: self.y - by, w: self.w + 2.0 * by, h: self.h + 2.0 * by }
    }

    /// The smallest rectangle around both.
    #[must_use]
    pub fn with(&self, other: &Self) -> Self {
        let (x, y) = (self.x.min(other.x), self.y.min(other.y));
        let (right, bottom) = (self.right().max(other.right()), self.bottom().max(other.bottom()));
        Self { x, y, w: right - x, h: bottom - y }
    }

    /// Whether the other lies in this one; edges may touch, within what rounding leaves.
    #[must_use]
    pub fn holds(&self, other: &Self) -> bool {
        self.x <= other.x + TOUCH
            && self.y <= other.y + TOUCH
            && other.right() <= self.right() + TOUCH
            && other.bottom() <= self.bottom() + TOUCH
    }

    /// Whether the inner parts of the two share any area.
    #[must_use]
    pub fn overlaps(&self, other: &Self) -> bool {
        self.x < other.x + other.w
            && other.x < self.x + self.w
            && self.y < other.y + other.h
            && other.y < self.y + self.h
    }
}

/// Millimetres between two edges that are the same but for rounding.
const TOUCH: f64 = 0.001;

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

impl Text {
    /// A level text that begins at a point.
    #[must_use]
    pub fn new(text: &str, x: f64, y: f64, height: Height) -> Self {
        let text = lettering::line(text);
        Self { text, at: Point { x, y }, anchor: Anchor::Start, height, bold: false, upright: false }
    }

    /// The same in bold.
    #[must_use]
    pub fn bold(self) -> Self {
        Self { bold: true, ..self }
    }

    /// The same hung on its point in another way.
    #[must_use]
    pub fn anchored(self, anchor: Anchor) -> Self {
        Self { anchor, ..self }
    }

    /// How wide it is along its line.
    #[must_use]
    pub fn width(&self) -> f64 {
        lettering::width(&self.text, self.height, self.bold)
    }

    /// The box of its ink.
    #[must_use]
    pub fn ink(&self) -> Rect {
        let ink = lettering::ink(&self.text, self.height, self.bold);
        let start = match self.anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => -self.width() / 2.0,
            Anchor::End => -self.width(),
        };
        let (along, length) = (start + ink.left, ink.right - ink.left);
        let across = ink.ascent + ink.descent;
        if self.upright {
            Rect { x: self.at.x - ink.ascent, y: self.at.y - along - length, w: across, h: length }
        } else {
            Rect { x: self.at.x + along, y: self.at.y - ink.ascent, w: length, h: across }
        }
    }
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
    /// A straight-cornered line in a colour of its own: what conductors are made of.
    Stroke(Stroke),
}

/// A line through points in a colour of its own.
#[derive(Clone, Debug, PartialEq)]
pub struct Stroke {
    /// From end to end.
    pub points: Vec<Point>,
    /// Its colour.
    pub paint: Paint,
    /// Its width in millimetres.
    pub width: f64,
    /// Drawn and left out in turn, in millimetres; `None` for an unbroken line.
    pub dashes: Option<(f64, f64)>,
}

/// A colour: red, green and blue, 0 to 255.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Paint(pub u8, pub u8, pub u8);

impl Paint {
    /// Ink.
    pub const BLACK: Self = Self(0, 0, 0);
}

/// The straight pieces from point to point.
fn to_each(points: &[Point]) -> impl Iterator<Item = Piece> {
    points.iter().enumerate().map(|(i, p)| if i == 0 { Piece::Move(*p) } else { Piece::Line(*p) })
}

impl Shape {
    /// A rectangle.
    #[must_use]
    pub fn rect(rect: Rect, width: Option<Width>, dash: Dash, fill: Fill) -> Self {
        let corners = [
            (rect.x, rect.y),
            (rect.right(), rect.y),
            (rect.right(), rect.bottom()),
            (rect.x, rect.bottom()),
        ];
        Self::polygon(&corners.map(|(x, y)| Point { x, y }), width, dash, fill)
    }

    /// A closed outline from corner to corner.
    #[must_use]
    pub fn polygon(corners: &[Point], width: Option<Width>, dash: Dash, fill: Fill) -> Self {
        Self::Path { pieces: to_each(corners).chain([Piece::Close]).collect(), width, dash, fill }
    }

    /// An unbroken line from point to point.
    #[must_use]
    pub fn line(points: &[Point], width: Width) -> Self {
        let pieces = to_each(points).collect();
        Self::Path { pieces, width: Some(width), dash: Dash::Solid, fill: Fill::None }
    }

    /// The same moved.
    #[must_use]
    pub fn moved(&self, dx: f64, dy: f64) -> Self {
        let shift = |p: &Point| Point { x: p.x + dx, y: p.y + dy };
        let mut shape = self.clone();
        match &mut shape {
            Self::Path { pieces, .. } => {
                for piece in pieces {
                    match piece {
                        Piece::Move(p) | Piece::Line(p) | Piece::Arc { to: p, .. } => *p = shift(p),
                        Piece::Close => {}
                    }
                }
            }
            Self::Circle { at, .. } => *at = shift(at),
            Self::Text(text) => text.at = shift(&text.at),
            Self::Stroke(stroke) => stroke.points.iter_mut().for_each(|p| *p = shift(p)),
        }
        shape
    }

    /// The box around it: of the ink of a text, of the middle of the line of everything else.
    #[must_use]
    pub fn bounds(&self) -> Option<Rect> {
        match self {
            Self::Path { pieces, .. } => {
                let mut points = Vec::new();
                for piece in pieces {
                    match *piece {
                        Piece::Move(p) | Piece::Line(p) => points.push(p),
                        Piece::Arc { radius, large, clockwise, to } => {
                            let from = points.last().copied().unwrap_or(to);
                            points.extend(arc_reach(from, to, radius, large, clockwise));
                            points.push(to);
                        }
                        Piece::Close => {}
                    }
                }
                around(points.into_iter())
            }
            Self::Circle { at, radius, .. } => {
                Some(Rect { x: at.x - radius, y: at.y - radius, w: 2.0 * radius, h: 2.0 * radius })
            }
            Self::Text(text) => Some(text.ink()),
            Self::Stroke(stroke) => around(stroke.points.iter().copied()),
        }
    }
}

/// The rightmost, lowest, leftmost and highest point of a circle as far as the arc passes through them (centre after
/// the implementation notes of SVG).
fn arc_reach(from: Point, to: Point, radius: f64, large: bool, clockwise: bool) -> Vec<Point> {
    let (dx, dy) = (to.x - from.x, to.y - from.y);
    let chord = dx.hypot(dy);
    if chord < 1e-9 {
        return Vec::new();
    }
    let radius = radius.max(chord / 2.0);
    let away = (radius * radius - chord * chord / 4.0).sqrt() * if large == clockwise { -1.0 } else { 1.0 };
    let centre = Point {
        x: f64::midpoint(from.x, to.x) - away * dy / chord,
        y: f64::midpoint(from.y, to.y) + away * dx / chord,
    };
    let angle = |p: Point| (p.y - centre.y).atan2(p.x - centre.x);
    let (start, end) = if clockwise { (angle(from), angle(to)) } else { (angle(to), angle(from)) };
    let turn = std::f64::consts::TAU;
    let swept = (end - start).rem_euclid(turn);
    let reached = [(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)]
        .map(|(x, y)| Point { x: centre.x + radius * x, y: centre.y + radius * y });
    reached.into_iter().filter(|p| (angle(*p) - start).rem_euclid(turn) <= swept).collect()
}

fn around(points: impl Iterator<Item = Point>) -> Option<Rect> {
    points.map(|p| Rect::between(p, p)).reduce(|a, b| a.with(&b))
}

/// One sheet of a drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// Width and height in millimetres.
    pub size: (f64, f64),
    /// What it is, for those who cannot see it: the document's title.
    pub title: String,
    /// The same in a sentence or two.
    pub description: String,
    /// Everything on it, lowest first.
    pub content: Vec<Group>,
}

/// Shapes that belong together, lowest first.
#[derive(Clone, Debug, PartialEq)]
pub struct Group {
    /// What they are.
    pub role: Role,
    /// The shapes, and groups within.
    pub items: Vec<Item>,
}

/// A shape or a group.
#[derive(Clone, Debug, PartialEq)]
pub enum Item {
    /// A shape.
    Shape(Shape),
    /// A group.
    Group(Group),
}

/// What a group is. Names are those of the job file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Role {
    /// The sheet's own frame: border, centring marks, zones.
    Border,
    /// The title block.
    TitleBlock,
    /// A table, by its name.
    Table(&'static str),
    /// Notes, colour key and the list of findings.
    Notes,
    /// Everything that the layout placed.
    Diagram,
    /// The frame of a location, by its path.
    Location(String),
    /// The outline of a device; its first shape is the outline.
    Device(String),
    /// The bar of a splice; its first shape is the bar.
    Splice(String),
    /// A circle on which one conductor lands.
    Landing {
        /// The device.
        device: String,
        /// The terminal; empty for a splice.
        terminal: String,
    },
    /// A core, or a link (`cable` is then empty and `core` names its two terminals); its strokes all run alike.
    Core {
        /// The cable.
        cable: String,
        /// The core.
        core: String,
        /// Near end and far end.
        ends: [Ending; 2],
    },
    /// The insulated-end sign beyond the loose end of a core or of an unused lead; empty when the end is not safe.
    LooseEnd {
        /// The cable; empty for a lead.
        cable: String,
        /// The core, or the lead as `DEVICE.TERMINAL`.
        core: String,
        /// How it was made safe, `bare` or `spare`.
        way: &'static str,
    },
    /// The flag at which a core goes on on another sheet: an outline, and sheet and zone of its other flag.
    Reference {
        /// The cable; empty for a link.
        cable: String,
        /// The core.
        core: String,
    },
    /// A flying lead that nothing is joined to.
    Lead {
        /// The device.
        device: String,
        /// The terminal.
        terminal: String,
    },
    /// The outline of a cable.
    Sheath(String),
    /// A text outside devices, by what it belongs to: a device, a cable, `CABLE.CORE`, a location. A box, if it has
    /// one, comes first.
    Label(String),
    /// The square flag of a finding, by its number in the list.
    Flag(usize),
}

/// How a core ends.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Ending {
    /// On a landing.
    Landing {
        /// The device.
        device: String,
        /// The terminal; empty for a splice.
        terminal: String,
    },
    /// Nowhere: how it was made safe, `bare` or `spare`.
    Loose(&'static str),
    /// On a flag: the sheet and the zone where it goes on, `2/B3`.
    Away(String),
}

impl Group {
    /// An empty group.
    #[must_use]
    pub fn new(role: Role) -> Self {
        Self { role, items: Vec::new() }
    }

    /// Puts a shape on top.
    pub fn shape(&mut self, shape: Shape) {
        self.items.push(Item::Shape(shape));
    }

    /// Puts a text on top.
    pub fn text(&mut self, text: Text) {
        self.shape(Shape::Text(text));
    }

    /// Puts a group on top.
    pub fn group(&mut self, group: Self) {
        self.items.push(Item::Group(group));
    }

    /// The same elsewhere, by millimetres.
    #[must_use]
    pub fn moved(&self, dx: f64, dy: f64) -> Self {
        let items = self.items.iter().map(|item| match item {
            Item::Shape(shape) => Item::Shape(shape.moved(dx, dy)),
            Item::Group(group) => Item::Group(group.moved(dx, dy)),
        });
        Self { role: self.role.clone(), items: items.collect() }
    }

    /// The shapes that are directly in it.
    pub fn shapes(&self) -> impl Iterator<Item = &Shape> {
        self.items.iter().filter_map(|item| match item {
            Item::Shape(shape) => Some(shape),
            Item::Group(_) => None,
        })
    }

    /// The groups that are directly in it.
    pub fn groups(&self) -> impl Iterator<Item = &Self> {
        self.items.iter().filter_map(|item| match item {
            Item::Shape(_) => None,
            Item::Group(group) => Some(group),
        })
    }
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_arc_counts_with_its_bulge() {
        let half = |clockwise| Shape::Path {
            pieces: vec![
                Piece::Move(Point { x: 0.0, y: -2.0 }),
                Piece::Arc { radius: 2.0, large: false, clockwise, to: Point { x: 0.0, y: 2.0 } },
            ],
            width: Some(Width::Normal),
            dash: Dash::Solid,
            fill: Fill::None,
        };
        let bulge = |clockwise| half(clockwise).bounds().map(|r| (r.x.round(), r.right().round()));
        assert_eq!(bulge(true), Some((0.0, 2.0)));
        assert_eq!(bulge(false), Some((-2.0, 0.0)));
    }
}
