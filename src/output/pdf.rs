//! Sheets as PDF/A-2u: one page a sheet, drawn from the same shapes as the SVG, the bundled font embedded as far as it is
//! used, text that can be selected, a bookmark for every sheet and device.

use std::f64::consts::{FRAC_PI_2, TAU};

use krilla::Document;
use krilla::SerializeSettings;
use krilla::color::rgb;
use krilla::configure::{Archival, ConfigurationBuilder};
use krilla::destination::XyzDestination;
use krilla::geom::{Path, PathBuilder, Point as Spot, Transform};
use krilla::metadata::{DateTime, Metadata};
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill as Ink, Stroke as Pen, StrokeDash};
use krilla::surface::Surface;
use krilla::text::{Font, TextDirection};

use super::About;
use super::svg::dashes;
use crate::lettering;
use crate::scene::{Anchor, Fill, Group, Item, Paint, Piece, Point, Role, Shape, Sheet, Stroke, Text};

/// Points of PDF in a millimetre.
const POINT: f64 = 72.0 / 25.4;

/// The miter limit of SVG, so that both pictures have the same corners.
const MITER: f32 = 4.0;

/// The PDF of sheets in their order.
///
/// # Errors
/// If the program's own pages cannot be written; the program is at fault.
pub fn pdf(sheets: &[&Sheet], about: &About) -> Result<Vec<u8>, String> {
    let fault =
        |why: String| format!("bellwire is at fault: it cannot turn its own sheets into a PDF: {why}");
    let configuration = ConfigurationBuilder::new().with_archival_validator(Archival::A2_U).finish();
    let configuration = configuration.map_err(|why| fault(format!("{why:?}")))?;
    let mut document =
        Document::new_with(SerializeSettings { configuration, ..SerializeSettings::default() });
    let font = |bold| Font::new(lettering::font_file(bold).into(), 0);
    let (Some(regular), Some(bold)) = (font(false), font(true)) else {
        return Err(fault("the bundled font cannot be read".to_owned()));
    };
    let fonts = Fonts { regular, bold };
    let mut outline = Outline::new();
    for (n, sheet) in sheets.iter().enumerate() {
        let size = PageSettings::from_wh(narrow(sheet.size.0 * POINT), narrow(sheet.size.1 * POINT));
        let size = size.ok_or_else(|| fault("a sheet has no size".to_owned()))?;
        let mut page = document.start_page_with(size);
        let mut surface = page.surface();
        surface.push_transform(&Transform::from_scale(narrow(POINT), narrow(POINT)));
        for group in &sheet.content {
            draw(&mut surface, group, &fonts);
        }
        surface.pop();
        surface.finish();
        page.finish();
        outline.push_child(bookmarks(n, sheet));
    }
    document.set_outline(outline);
    document.set_metadata(properties(about));
    document.finish().map_err(|why| fault(format!("{why:?}")))
}

struct Fonts {
    regular: Font,
    bold: Font,
}

fn properties(about: &About) -> Metadata {
    let mut data = Metadata::new()
        .title(lettering::line(&about.title))
        .language("en".to_owned())
        .creator(format!("Bellwire {}", env!("CARGO_PKG_VERSION")));
    if !about.author.is_empty() {
        data = data.authors(vec![lettering::line(&about.author)]);
    }
    if !about.subject.is_empty() {
        data = data.description(lettering::line(&about.subject));
    }
    let (year, month, day) = about.date;
    data.creation_date(DateTime::new(year).month(month).day(day))
}

/// A bookmark for a sheet, and below it one for each device on it.
fn bookmarks(page: usize, sheet: &Sheet) -> OutlineNode {
    let to = |x: f64, y: f64| XyzDestination::new(page, Spot::from_xy(narrow(x * POINT), narrow(y * POINT)));
    let mut node = OutlineNode::new(lettering::line(&sheet.title), to(0.0, 0.0));
    let mut groups: Vec<&Group> = sheet.content.iter().rev().collect();
    while let Some(group) = groups.pop() {
        if let (Role::Device(name), Some(outline)) =
            (&group.role, group.shapes().next().and_then(Shape::bounds))
        {
            node.push_child(OutlineNode::new(lettering::line(name), to(outline.x - 5.0, outline.y - 15.0)));
        }
        let inner: Vec<&Group> = group.groups().collect();
        groups.extend(inner.into_iter().rev());
    }
    node
}

/// PDF counts in single precision; a sheet's millimetres lose nothing by it.
#[expect(
    clippy::cast_possible_truncation,
    reason = "a micrometre on the largest sheet is far above the precision"
)]
fn narrow(value: f64) -> f32 {
    value as f32
}

fn draw(surface: &mut Surface, group: &Group, fonts: &Fonts) {
    for item in &group.items {
        match item {
            Item::Group(group) => draw(surface, group, fonts),
            Item::Shape(shape) => draw_shape(surface, shape, fonts),
        }
    }
}

fn draw_shape(surface: &mut Surface, shape: &Shape, fonts: &Fonts) {
    match shape {
        Shape::Path { pieces, width, dash, fill } => {
            let dash = width.and_then(|width| dashes(*dash, width));
            put(surface, outline(pieces), *fill, width.map(|w| pen(Paint::BLACK, w.mm(), dash.as_deref())));
        }
        Shape::Circle { at, radius, width, fill } => {
            let mut path = PathBuilder::new();
            path.move_to(narrow(at.x + radius), narrow(at.y));
            arc_to(&mut path, *at, *radius, 0.0, TAU);
            path.close();
            put(surface, path.finish(), *fill, Some(pen(Paint::BLACK, width.mm(), None)));
        }
        Shape::Stroke(stroke) => draw_stroke(surface, stroke),
        Shape::Text(text) => draw_text(surface, text, fonts),
    }
}

fn draw_stroke(surface: &mut Surface, stroke: &Stroke) {
    let mut path = PathBuilder::new();
    for (n, p) in stroke.points.iter().enumerate() {
        if n == 0 {
            path.move_to(narrow(p.x), narrow(p.y));
        } else {
            path.line_to(narrow(p.x), narrow(p.y));
        }
    }
    let dashes = stroke.dashes.map(|(on, off)| [on, off]);
    let dashes = dashes.as_ref().map(<[f64; 2]>::as_slice);
    put(surface, path.finish(), Fill::None, Some(pen(stroke.paint, stroke.width, dashes)));
}

fn put(surface: &mut Surface, path: Option<Path>, fill: Fill, pen: Option<Pen>) {
    let Some(path) = path else { return };
    let ink = |Paint(r, g, b): Paint| Ink { paint: rgb::Color::new(r, g, b).into(), ..Ink::default() };
    surface.set_fill(match fill {
        Fill::None => None,
        Fill::White => Some(ink(Paint(255, 255, 255))),
        Fill::Black => Some(ink(Paint::BLACK)),
    });
    surface.set_stroke(pen);
    surface.draw_path(&path);
}

fn pen(Paint(r, g, b): Paint, width: f64, dashes: Option<&[f64]>) -> Pen {
    Pen {
        paint: rgb::Color::new(r, g, b).into(),
        width: narrow(width),
        miter_limit: MITER,
        dash: dashes.map(|lengths| StrokeDash {
            array: lengths.iter().map(|length| narrow(*length)).collect(),
            offset: 0.0,
        }),
        ..Pen::default()
    }
}

fn draw_text(surface: &mut Surface, text: &Text, fonts: &Fonts) {
    let words = lettering::drawable(&text.text);
    if words.is_empty() {
        return;
    }
    let before = match text.anchor {
        Anchor::Start => 0.0,
        Anchor::Middle => text.width() / 2.0,
        Anchor::End => text.width(),
    };
    surface.set_stroke(None);
    surface.set_fill(Some(Ink { paint: rgb::Color::new(0, 0, 0).into(), ..Ink::default() }));
    let (x, y) = (narrow(text.at.x), narrow(text.at.y));
    if text.upright {
        surface.push_transform(&Transform::from_rotate_at(-90.0, x, y));
    }
    surface.draw_text(
        Spot::from_xy(narrow(text.at.x - before), y),
        if text.bold { fonts.bold.clone() } else { fonts.regular.clone() },
        narrow(text.height.font_size()),
        &words,
        false,
        TextDirection::Auto,
    );
    if text.upright {
        surface.pop();
    }
}

fn outline(pieces: &[Piece]) -> Option<Path> {
    let mut path = PathBuilder::new();
    let mut from = Point::default();
    for piece in pieces {
        match *piece {
            Piece::Move(p) => {
                path.move_to(narrow(p.x), narrow(p.y));
                from = p;
            }
            Piece::Line(p) => {
                path.line_to(narrow(p.x), narrow(p.y));
                from = p;
            }
            Piece::Arc { radius, large, clockwise, to } => {
                arc(&mut path, from, to, radius, large, clockwise);
                from = to;
            }
            Piece::Close => path.close(),
        }
    }
    path.finish()
}

/// An arc of SVG: its centre after the implementation notes of SVG, then curves.
fn arc(path: &mut PathBuilder, from: Point, to: Point, radius: f64, large: bool, clockwise: bool) {
    let (dx, dy) = (to.x - from.x, to.y - from.y);
    let chord = dx.hypot(dy);
    if chord < 1e-9 {
        return;
    }
    let radius = radius.max(chord / 2.0);
    let away =
        (radius * radius - chord * chord / 4.0).max(0.0).sqrt() * if large == clockwise { -1.0 } else { 1.0 };
    let centre = Point {
        x: f64::midpoint(from.x, to.x) - away * dy / chord,
        y: f64::midpoint(from.y, to.y) + away * dx / chord,
    };
    let angle = |p: Point| (p.y - centre.y).atan2(p.x - centre.x);
    let swept = if clockwise {
        (angle(to) - angle(from)).rem_euclid(TAU)
    } else {
        -(angle(from) - angle(to)).rem_euclid(TAU)
    };
    arc_to(path, centre, radius, angle(from), swept);
}

/// Cubic curves along a circle, one for each quarter begun; they leave it by less than a thousandth of its radius.
fn arc_to(path: &mut PathBuilder, centre: Point, radius: f64, from: f64, swept: f64) {
    let parts = (swept.abs() / FRAC_PI_2 - 1e-9).ceil().max(1.0);
    let step = swept / parts;
    let reach = 4.0 / 3.0 * (step / 4.0).tan() * radius;
    let mut angle = from;
    for _ in 0..parts as usize {
        let next = angle + step;
        let (a, b) = (angle.sin_cos(), next.sin_cos());
        let start = (centre.x + radius * a.1, centre.y + radius * a.0);
        let end = (centre.x + radius * b.1, centre.y + radius * b.0);
        path.cubic_to(
            narrow(start.0 - reach * a.0),
            narrow(start.1 + reach * a.1),
            narrow(end.0 + reach * b.0),
            narrow(end.1 - reach * b.1),
            narrow(end.0),
            narrow(end.1),
        );
        angle = next;
    }
}
