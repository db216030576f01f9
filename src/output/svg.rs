//! A sheet as SVG 1.1: millimetres as user units, names of things in `class` and `data-` attributes.

use std::fmt::Write as _;

use svg::node::element::Element;
use svg::node::{Node, Text as Characters};

use crate::lettering;
use crate::scene::{
    Anchor, Dash, Ending, Fill, Group, Item, Paint, Piece, Point, Role, Shape, Sheet, Stroke, Text, Width,
};

/// Families with nearly the same widths, for programs that do not know the first; `textLength` does the rest.
const FAMILIES: &str = "DejaVu Sans, Verdana, Bitstream Vera Sans, sans-serif";

/// The SVG text of a sheet.
#[must_use]
pub fn svg(sheet: &Sheet) -> String {
    let (w, h) = sheet.size;
    let mut root = Element::new("svg");
    root.assign("xmlns", "http://www.w3.org/2000/svg");
    root.assign("width", format!("{}mm", number(w)));
    root.assign("height", format!("{}mm", number(h)));
    root.assign("viewBox", format!("0 0 {} {}", number(w), number(h)));
    root.assign("role", "img");
    root.assign("font-family", FAMILIES);
    root.assign("fill", "none");
    root.assign("stroke-linejoin", "miter");
    root.append(words("title", &sheet.title));
    root.append(words("desc", &sheet.description));
    let mut paper = Element::new("rect");
    paper.assign("class", "paper");
    paper.assign("width", number(w));
    paper.assign("height", number(h));
    paper.assign("fill", "#ffffff");
    root.append(paper);
    let mut text = root.to_string();
    within(&mut text, "svg", |text| sheet.content.iter().for_each(|group| write_group(text, group)));
    text.push('\n');
    text
}

/// Writes more into the element that a text ends with. A large sheet as one tree of elements would take many times the
/// memory of its text, so that each element is written as soon as it is made.
fn within(text: &mut String, name: &str, more: impl FnOnce(&mut String)) {
    let end = format!("</{name}>");
    if text.ends_with(&end) {
        text.truncate(text.len() - end.len());
    } else if text.ends_with("/>") {
        text.truncate(text.len() - "/>".len());
        text.push_str(">\n");
    }
    more(text);
    text.push_str(&end);
}

/// A few strokes without anything around them, in a picture of that size.
#[must_use]
pub(super) fn small(strokes: &[Stroke], (w, h): (f64, f64)) -> String {
    let mut root = Element::new("svg");
    root.assign("viewBox", format!("0 0 {} {}", number(w), number(h)));
    root.assign("aria-hidden", "true");
    root.assign("fill", "none");
    strokes.iter().for_each(|stroke| root.append(written_stroke(stroke)));
    root.to_string()
}

fn words(name: &str, text: &str) -> Element {
    let mut element = Element::new(name);
    element.append(Characters::new(lettering::line(text)));
    element
}

fn write_group(text: &mut String, group: &Group) {
    let mut element = Element::new("g");
    element.assign("class", class(&group.role));
    for (name, value) in names(&group.role) {
        element.assign(format!("data-{name}"), lettering::printable(&value));
    }
    let _ = write!(text, "{element}");
    if !group.items.is_empty() {
        within(text, "g", |text| {
            for item in &group.items {
                match item {
                    Item::Shape(shape) => {
                        let _ = writeln!(text, "{}", written_shape(shape));
                    }
                    Item::Group(group) => write_group(text, group),
                }
            }
        });
    }
    text.push('\n');
}

/// The class of a group.
fn class(role: &Role) -> &'static str {
    match role {
        Role::Border => "border",
        Role::TitleBlock => "title-block",
        Role::Table(_) => "table",
        Role::Notes => "notes",
        Role::Diagram => "diagram",
        Role::Location(_) => "location",
        Role::Device(_) => "device",
        Role::Splice(_) => "splice",
        Role::Landing { .. } => "landing",
        Role::Core { .. } => "core",
        Role::LooseEnd { .. } => "loose-end",
        Role::Reference { .. } => "reference",
        Role::Lead { .. } => "lead",
        Role::Sheath(_) => "sheath",
        Role::Label(_) => "label",
        Role::Flag(_) => "flag",
    }
}

/// The names that a group bears, as the endings of `data-` attributes and their values.
fn names(role: &Role) -> Vec<(&'static str, String)> {
    match role {
        Role::Border | Role::TitleBlock | Role::Notes | Role::Diagram => Vec::new(),
        Role::Table(name) => vec![("name", (*name).to_owned())],
        Role::Location(name) => vec![("location", name.clone())],
        Role::Device(name) | Role::Splice(name) => vec![("device", name.clone())],
        Role::Landing { device, terminal } | Role::Lead { device, terminal } => {
            vec![("device", device.clone()), ("terminal", terminal.clone())]
        }
        Role::Core { cable, core, ends: [near, far] } => vec![
            ("cable", cable.clone()),
            ("core", core.clone()),
            ("from", ending(near)),
            ("to", ending(far)),
        ],
        Role::LooseEnd { cable, core, way } => {
            vec![("cable", cable.clone()), ("core", core.clone()), ("way", (*way).to_owned())]
        }
        Role::Reference { cable, core } => vec![("cable", cable.clone()), ("core", core.clone())],
        Role::Sheath(name) => vec![("cable", name.clone())],
        Role::Label(of) => vec![("of", of.clone())],
        Role::Flag(number) => vec![("number", number.to_string())],
    }
}

fn ending(end: &Ending) -> String {
    match end {
        Ending::Landing { device, terminal } if terminal.is_empty() => device.clone(),
        Ending::Landing { device, terminal } => format!("{device}.{terminal}"),
        Ending::Loose(way) => (*way).to_owned(),
        Ending::Away(to) => to.clone(),
    }
}

fn written_shape(shape: &Shape) -> Element {
    match shape {
        Shape::Path { pieces, width, dash, fill } => {
            let mut element = Element::new("path");
            element.assign("d", data(pieces));
            if let Some(width) = width {
                line(&mut element, Paint::BLACK, width.mm());
                if let Some(dashes) = dashes(*dash, *width) {
                    let dashes: Vec<String> = dashes.into_iter().map(number).collect();
                    element.assign("stroke-dasharray", dashes.join(" "));
                }
            }
            inside(&mut element, *fill);
            element
        }
        Shape::Circle { at, radius, width, fill } => {
            let mut element = Element::new("circle");
            element.assign("cx", number(at.x));
            element.assign("cy", number(at.y));
            element.assign("r", number(*radius));
            line(&mut element, Paint::BLACK, width.mm());
            inside(&mut element, *fill);
            element
        }
        Shape::Text(text) => written_text(text),
        Shape::Stroke(stroke) => written_stroke(stroke),
    }
}

fn written_stroke(stroke: &Stroke) -> Element {
    let mut element = Element::new("path");
    let mut d = String::new();
    for (i, p) in stroke.points.iter().enumerate() {
        step(&mut d, if i == 0 { 'M' } else { 'L' }, &[p.x, p.y]);
    }
    element.assign("d", d);
    line(&mut element, stroke.paint, stroke.width);
    if let Some((on, off)) = stroke.dashes {
        element.assign("stroke-dasharray", format!("{} {}", number(on), number(off)));
    }
    element
}

fn written_text(text: &Text) -> Element {
    let Point { x, y } = text.at;
    let mut element = Element::new("text");
    element.assign("x", number(x));
    element.assign("y", number(y));
    element.assign("font-size", number(text.height.font_size()));
    element.assign("fill", "#000000");
    element.assign("textLength", number(text.width()));
    element.assign("lengthAdjust", "spacingAndGlyphs");
    if text.bold {
        element.assign("font-weight", "bold");
    }
    match text.anchor {
        Anchor::Start => {}
        Anchor::Middle => element.assign("text-anchor", "middle"),
        Anchor::End => element.assign("text-anchor", "end"),
    }
    if text.upright {
        element.assign("transform", format!("rotate(-90 {} {})", number(x), number(y)));
    }
    element.append(Characters::new(lettering::printable(&text.text)));
    element
}

fn line(element: &mut Element, Paint(r, g, b): Paint, width: f64) {
    element.assign("stroke", format!("#{r:02x}{g:02x}{b:02x}"));
    element.assign("stroke-width", number(width));
}

fn inside(element: &mut Element, fill: Fill) {
    match fill {
        Fill::None => {}
        Fill::White => element.assign("fill", "#ffffff"),
        Fill::Black => element.assign("fill", "#000000"),
    }
}

/// Dashes of ISO 128-2 in millimetres: a dash of 12 widths and a gap of 3; long dash 24, gap 3, dot half a width, gap 3.
pub(super) fn dashes(dash: Dash, width: Width) -> Option<Vec<f64>> {
    let of = |lengths: &[f64]| lengths.iter().map(|l| l * width.mm()).collect();
    match dash {
        Dash::Solid => None,
        Dash::Dashed => Some(of(&[6.0, 3.0])),
        Dash::DashDot => Some(of(&[24.0, 3.0, 1.0, 3.0])),
    }
}

fn data(pieces: &[Piece]) -> String {
    let mut d = String::new();
    for piece in pieces {
        match piece {
            Piece::Move(p) => step(&mut d, 'M', &[p.x, p.y]),
            Piece::Line(p) => step(&mut d, 'L', &[p.x, p.y]),
            Piece::Arc { radius, large, clockwise, to } => {
                let flag = |on: bool| f64::from(u8::from(on));
                step(&mut d, 'A', &[*radius, *radius, 0.0, flag(*large), flag(*clockwise), to.x, to.y]);
            }
            Piece::Close => d.push('Z'),
        }
    }
    d
}

fn step(d: &mut String, letter: char, values: &[f64]) {
    d.push(letter);
    for (i, value) in values.iter().enumerate() {
        let blank = if i == 0 { "" } else { " " };
        let _ = write!(d, "{blank}{}", number(*value));
    }
}

/// A number with at most three decimals, the same everywhere.
fn number(value: f64) -> String {
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}
