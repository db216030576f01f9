//! The graphic symbols of `symbols/graphics`, read into shapes with connection points.
//!
//! A symbol is an SVG file in millimetres, its first connection point at the origin, drawn level: the symbols of
//! IEC 60617 as this program draws them, on the module of 2.5 mm. Of SVG it may use `line`, `polyline`, `rect`,
//! `circle`, `path` with `M L H V A Z`, `text`, and `g` with `data-upright`; `docs/symbols.md` tells the rest.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use resvg::usvg::roxmltree::{Document, Node};

use crate::lettering::Height;
use crate::library::GRAPHICS;
use crate::scene::{Anchor, Dash, Fill, Piece, Point, Shape, Text, Width};

/// What a symbol stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Use {
    /// One of `sources`.
    Source,
    /// One of `loads`.
    Load,
    /// One of `coils`.
    Coil,
    /// One of `contacts`.
    Contact,
    /// Another part between two terminals.
    Between,
    /// A sign at one terminal.
    Mark,
    /// The sign of what moves a contact.
    Actuator,
}

/// A graphic symbol.
#[derive(Clone, Debug, PartialEq)]
pub struct Graphic {
    /// Its name in words.
    pub title: String,
    /// What it stands for.
    pub stands_for: Use,
    /// Its connection points by name, in millimetres.
    pub anchors: BTreeMap<String, Point>,
    /// Where a mechanical link takes hold, in millimetres.
    pub hold: Option<Point>,
    items: Vec<Item>,
}

/// One shape; with a pivot it stays upright and only its pivot is turned.
#[derive(Clone, Debug, PartialEq)]
struct Item {
    shape: Shape,
    upright: Option<Point>,
}

/// A quarter turn, mirrored or not, as the images of the two unit vectors.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Turn {
    /// Where "right" goes.
    right: (i8, i8),
    /// Where "down" goes.
    down: (i8, i8),
}

impl Turn {
    /// As drawn.
    pub const LEVEL: Self = Self { right: (1, 0), down: (0, 1) };

    /// The turn that sends "right" and "down" where they are said to go.
    #[must_use]
    pub const fn new(right: (i8, i8), down: (i8, i8)) -> Self {
        Self { right, down }
    }

    /// The same with left and right exchanged afterwards.
    #[must_use]
    pub const fn mirrored(self) -> Self {
        Self { right: (-self.right.0, self.right.1), down: (-self.down.0, self.down.1) }
    }

    /// A point turned about the origin.
    #[must_use]
    pub fn point(self, p: Point) -> Point {
        Point {
            x: p.x * f64::from(self.right.0) + p.y * f64::from(self.down.0),
            y: p.x * f64::from(self.right.1) + p.y * f64::from(self.down.1),
        }
    }

    fn mirrors(self) -> bool {
        self.right.0 * self.down.1 - self.right.1 * self.down.0 < 0
    }
}

impl Graphic {
    /// Reads a symbol's file.
    ///
    /// # Errors
    /// What is wrong with the file, in words.
    pub fn read(svg: &str) -> Result<Self, String> {
        let document = Document::parse(svg).map_err(|e| e.to_string())?;
        let root = document.root_element();
        let stands_for = match root.attribute("data-part") {
            Some("source") => Use::Source,
            Some("load") => Use::Load,
            Some("coil") => Use::Coil,
            Some("contact") => Use::Contact,
            Some("between") => Use::Between,
            Some("mark") => Use::Mark,
            Some("actuator") => Use::Actuator,
            other => return Err(format!("data-part is {other:?}")),
        };
        let mut graphic = Self {
            title: String::new(),
            stands_for,
            anchors: BTreeMap::new(),
            hold: None,
            items: Vec::new(),
        };
        for node in root.children().filter(Node::is_element) {
            graphic.take(node, None)?;
        }
        Ok(graphic)
    }

    /// The shapes, turned, with the symbol's origin at `at`.
    #[must_use]
    pub fn placed(&self, turn: Turn, at: Point) -> Vec<Shape> {
        self.items.iter().map(|item| item.placed(turn, at)).collect()
    }

    /// A connection point after turning and moving; the origin when there is none of that name.
    #[must_use]
    pub fn anchor(&self, name: &str, turn: Turn, at: Point) -> Point {
        moved(turn.point(self.anchors.get(name).copied().unwrap_or_default()), at)
    }

    /// The hold after turning and moving.
    #[must_use]
    pub fn hold(&self, turn: Turn, at: Point) -> Option<Point> {
        self.hold.map(|h| moved(turn.point(h), at))
    }

    fn take(&mut self, node: Node<'_, '_>, upright: Option<Point>) -> Result<(), String> {
        let name = node.tag_name().name();
        if name == "title" {
            self.title = node.text().unwrap_or_default().to_owned();
            return Ok(());
        }
        if let Some(id) = node.attribute("id") {
            let at = Point { x: number(node, "cx")?, y: number(node, "cy")? };
            match id.strip_prefix("anchor-") {
                Some(anchor) => {
                    self.anchors.insert(anchor.to_owned(), at);
                }
                None if id == "hold" => self.hold = Some(at),
                None => return Err(format!("id {id:?}")),
            }
            return Ok(());
        }
        if name == "g" {
            let about = node.attribute("data-upright").ok_or("a group without data-upright")?;
            let pivot = points(about)?;
            for child in node.children().filter(Node::is_element) {
                self.take(child, pivot.first().copied())?;
            }
            return Ok(());
        }
        self.items.push(Item { shape: shape(node)?, upright });
        Ok(())
    }
}

/// The symbol of that name.
#[must_use]
pub fn graphic(name: &str) -> Option<&'static Graphic> {
    static ALL: LazyLock<BTreeMap<&str, Graphic>> = LazyLock::new(|| {
        let read = |(name, svg): &(&'static str, &str)| Graphic::read(svg).ok().map(|g| (*name, g));
        GRAPHICS.iter().filter_map(read).collect()
    });
    ALL.get(name)
}

impl Item {
    fn placed(&self, turn: Turn, at: Point) -> Shape {
        if let Some(pivot) = self.upright {
            let to = moved(turn.point(pivot), at);
            let by = Point { x: to.x - pivot.x, y: to.y - pivot.y };
            return turned(&self.shape, Turn::LEVEL, by);
        }
        turned(&self.shape, turn, at)
    }
}

fn moved(p: Point, by: Point) -> Point {
    Point { x: p.x + by.x, y: p.y + by.y }
}

/// A shape turned about the origin and moved; text is moved with its middle and stays upright.
fn turned(shape: &Shape, turn: Turn, by: Point) -> Shape {
    let to = |p: Point| moved(turn.point(p), by);
    match shape {
        Shape::Path { pieces, width, dash, fill } => {
            let piece = |p: &Piece| match *p {
                Piece::Move(p) => Piece::Move(to(p)),
                Piece::Line(p) => Piece::Line(to(p)),
                Piece::Arc { radius, large, clockwise, to: end } => {
                    Piece::Arc { radius, large, clockwise: clockwise != turn.mirrors(), to: to(end) }
                }
                Piece::Close => Piece::Close,
            };
            let pieces = pieces.iter().map(piece).collect();
            Shape::Path { pieces, width: *width, dash: *dash, fill: *fill }
        }
        Shape::Circle { at, radius, width, fill } => {
            Shape::Circle { at: to(*at), radius: *radius, width: *width, fill: *fill }
        }
        Shape::Stroke(_) => shape.moved(by.x, by.y),
        Shape::Text(text) => {
            let half = text.height.mm() / 2.0;
            let middle = to(Point { x: text.at.x, y: text.at.y - half });
            Shape::Text(Text { at: Point { x: middle.x, y: middle.y + half }, ..text.clone() })
        }
    }
}

fn shape(node: Node<'_, '_>) -> Result<Shape, String> {
    let at = |name| number(node, name);
    let pieces = match node.tag_name().name() {
        "line" => vec![
            Piece::Move(Point { x: at("x1")?, y: at("y1")? }),
            Piece::Line(Point { x: at("x2")?, y: at("y2")? }),
        ],
        "polyline" => {
            let points = points(node.attribute("points").unwrap_or_default())?;
            let piece = |(i, p): (usize, &Point)| if i == 0 { Piece::Move(*p) } else { Piece::Line(*p) };
            points.iter().enumerate().map(piece).collect()
        }
        "rect" => {
            let (x, y, w, h) = (at("x")?, at("y")?, at("width")?, at("height")?);
            vec![
                Piece::Move(Point { x, y }),
                Piece::Line(Point { x: x + w, y }),
                Piece::Line(Point { x: x + w, y: y + h }),
                Piece::Line(Point { x, y: y + h }),
                Piece::Close,
            ]
        }
        "path" => outline(node.attribute("d").unwrap_or_default())?,
        "circle" => {
            let at = Point { x: at("cx")?, y: at("cy")? };
            let width = width(node)?;
            return Ok(Shape::Circle { at, radius: number(node, "r")?, width, fill: fill(node)? });
        }
        "text" => return text(node),
        other => return Err(format!("element {other:?}")),
    };
    let dash = if node.has_attribute("stroke-dasharray") { Dash::Dashed } else { Dash::Solid };
    Ok(Shape::Path { pieces, width: Some(width(node)?), dash, fill: fill(node)? })
}

fn text(node: Node<'_, '_>) -> Result<Shape, String> {
    let size = number(node, "font-size")?;
    let heights = [Height::H1_8, Height::H2_5, Height::H3_5];
    let height = heights.into_iter().find(|h| (h.font_size() - size).abs() < 0.01);
    if node.attribute("text-anchor") != Some("middle") {
        return Err("text hangs on its middle".to_owned());
    }
    Ok(Shape::Text(Text {
        text: node.text().unwrap_or_default().to_owned(),
        at: Point { x: number(node, "x")?, y: number(node, "y")? },
        anchor: Anchor::Middle,
        height: height.ok_or_else(|| format!("font-size {size}"))?,
        bold: node.attribute("font-weight") == Some("bold"),
        upright: false,
    }))
}

fn number(node: Node<'_, '_>, name: &str) -> Result<f64, String> {
    let text = node.attribute(name).ok_or_else(|| format!("{} without {name}", node.tag_name().name()))?;
    text.parse().map_err(|_| format!("{name}={text:?}"))
}

/// The line's width: the element's own or the file's 0.35 mm.
fn width(node: Node<'_, '_>) -> Result<Width, String> {
    match node.attribute("stroke-width") {
        None | Some("0.35") => Ok(Width::Normal),
        Some("0.25") => Ok(Width::Thin),
        Some("0.5") => Ok(Width::Medium),
        Some("0.7") => Ok(Width::Wide),
        Some(other) => Err(format!("stroke-width {other:?}")),
    }
}

fn fill(node: Node<'_, '_>) -> Result<Fill, String> {
    match node.attribute("fill") {
        None | Some("none") => Ok(Fill::None),
        Some("white") => Ok(Fill::White),
        Some("black") => Ok(Fill::Black),
        Some(other) => Err(format!("fill {other:?}")),
    }
}

/// Numbers in pairs.
fn points(text: &str) -> Result<Vec<Point>, String> {
    let split = text.split([' ', ',']).filter(|t| !t.is_empty());
    let numbers: Vec<f64> =
        split.map(|t| t.parse().map_err(|_| format!("number {t:?}"))).collect::<Result<_, String>>()?;
    if !numbers.len().is_multiple_of(2) {
        return Err(format!("an odd number of coordinates in {text:?}"));
    }
    let point = |p: &[f64]| match p {
        [x, y] => Some(Point { x: *x, y: *y }),
        _ => None,
    };
    Ok(numbers.chunks(2).filter_map(point).collect())
}

/// The pieces of a path's `d`: absolute `M`, `L`, `H`, `V`, `A` and `Z`, each letter written out.
fn outline(d: &str) -> Result<Vec<Piece>, String> {
    let mut pieces = Vec::new();
    let mut here = Point::default();
    let spaced: String =
        d.chars().flat_map(|c| if c.is_ascii_alphabetic() { vec![' ', c, ' '] } else { vec![c] }).collect();
    let mut tokens = spaced.split([' ', ',']).filter(|t| !t.is_empty());
    while let Some(letter) = tokens.next() {
        let mut next = || -> Result<f64, String> {
            let token = tokens.next().ok_or_else(|| format!("{d:?} ends early"))?;
            token.parse().map_err(|_| format!("number {token:?} in {d:?}"))
        };
        let piece = match letter {
            "M" | "L" => {
                here = Point { x: next()?, y: next()? };
                if letter == "M" { Piece::Move(here) } else { Piece::Line(here) }
            }
            "H" => {
                here.x = next()?;
                Piece::Line(here)
            }
            "V" => {
                here.y = next()?;
                Piece::Line(here)
            }
            "A" => {
                let [rx, ry, _turned, large, sweep] = [next()?, next()?, next()?, next()?, next()?];
                if (rx - ry).abs() > 1e-9 {
                    return Err(format!("an arc of two radii in {d:?}"));
                }
                here = Point { x: next()?, y: next()? };
                Piece::Arc { radius: rx, large: large > 0.5, clockwise: sweep > 0.5, to: here }
            }
            "Z" => Piece::Close,
            other => return Err(format!("letter {other:?} in {d:?}")),
        };
        pieces.push(piece);
    }
    Ok(pieces)
}
