//! What stands on sheets of paper, read from SVG texts: strokes, circles on which conductors land, signs, flags.
//!
//! It knows nothing of how the sheet came about. Other programs may have edited the file: transforms, other units, styles
//! in attributes or `style`, broken-up or curved lines are all read. Coordinates come out in millimetres.
//!
//! A text is read from its first element to its last and never stands in memory as a tree: that of a large drawing would
//! take several times the room of its text.

use std::borrow::Cow;
use std::fmt;

use quick_xml::XmlVersion;
use quick_xml::events::{BytesStart, Event};
use svgtypes::{
    Color, Length, LengthUnit, NumberListParser, PointsParser, SimplePathSegment, SimplifyingPathParser,
    Transform, ViewBox,
};

use super::strand::Seen;
use crate::scene::{Paint, Point, Rect};

/// What was found.
#[derive(Debug, Default)]
pub struct Found {
    /// Lines that may be conductors, lowest first.
    pub lines: Vec<Line>,
    /// Circles on which conductors land, and the bars of splices.
    pub landings: Vec<Landing>,
    /// The devices that bear their names, each with its outline.
    pub devices: Vec<(String, Rect)>,
    /// The signs and boxes at loose ends.
    pub signs: Vec<Sign>,
    /// Texts outside devices.
    pub labels: Vec<Label>,
    /// The flags at which conductors go on on another sheet.
    pub references: Vec<Reference>,
    /// The sheets: the left edge of each, and its width and height.
    pub sheets: Vec<(f64, (f64, f64))>,
}

/// Between two sheets that are read side by side, in millimetres.
const APART: f64 = 100.0;

impl Found {
    /// Takes in what was found on another sheet, which is laid to the right of all others.
    fn lay_beside(&mut self, other: Self) {
        let by = self.sheets.last().map_or(0.0, |(x, (w, _))| x + w + APART);
        let point = |p: Point| Point { x: p.x + by, ..p };
        let rect = |r: Rect| r.moved(by, 0.0);
        self.lines.extend(
            other
                .lines
                .into_iter()
                .map(|line| Line { points: line.points.into_iter().map(point).collect(), ..line }),
        );
        self.landings.extend(other.landings.into_iter().map(|l| Landing { area: rect(l.area), ..l }));
        self.devices.extend(other.devices.into_iter().map(|(name, area)| (name, rect(area))));
        self.signs.extend(other.signs.into_iter().map(|s| Sign { area: s.area.map(rect), ..s }));
        self.labels.extend(other.labels.into_iter().map(|l| Label { at: l.at.map(point), ..l }));
        self.references
            .extend(other.references.into_iter().map(|r| Reference { area: r.area.map(rect), ..r }));
        self.sheets.extend(other.sheets.into_iter().map(|(x, size)| (x + by, size)));
    }
}

/// One unbroken run of straight pieces.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// What it says that it is.
    pub name: Name,
    /// From end to end.
    pub points: Vec<Point>,
    /// How it looks.
    pub seen: Seen,
}

/// What a line says that it is.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Name {
    /// A core of a cable; a link has an empty cable.
    Core(String, String),
    /// An unused lead: device and terminal.
    Lead(String, String),
    /// Nothing.
    None,
}

/// A place where conductors land.
#[derive(Debug)]
pub struct Landing {
    /// Device and terminal, if it bears their names.
    pub terminal: Option<(String, String)>,
    /// The circle's box, or the bar's.
    pub area: Rect,
    /// Whether it is the bar of a splice.
    pub bar: bool,
}

/// A text outside devices.
#[derive(Debug, Default)]
pub struct Label {
    /// What it belongs to.
    pub of: String,
    /// Its words.
    pub words: String,
    /// Where it hangs, if it has a place of its own.
    pub at: Option<Point>,
}

/// A flag at the end of a conductor that goes on on another sheet.
#[derive(Debug, Default)]
pub struct Reference {
    /// The conductor.
    pub name: Option<Name>,
    /// What stands in it.
    pub words: String,
    /// Where it stands, if anything is drawn.
    pub area: Option<Rect>,
}

/// A sign at a loose end.
#[derive(Debug)]
pub struct Sign {
    /// The cable.
    pub cable: String,
    /// The core.
    pub core: String,
    /// How it says the end was left.
    pub way: String,
    /// Where it stands, if anything is drawn.
    pub area: Option<Rect>,
}

/// Deeper groups than this nobody draws.
const DEEPEST: usize = 100;

/// Elements that are not on the paper themselves.
const UNSEEN: [&str; 12] = [
    "defs",
    "symbol",
    "clipPath",
    "mask",
    "marker",
    "pattern",
    "metadata",
    "style",
    "script",
    "title",
    "desc",
    "namedview",
];

/// Reads sheets, and lays them side by side.
///
/// # Errors
/// If a text is not SVG, or cannot be drawn by anybody.
pub fn read<S: AsRef<str>>(texts: &[S]) -> Result<Found, String> {
    let mut all = Found::default();
    for text in texts {
        all.lay_beside(sheet(text.as_ref())?);
    }
    Ok(all)
}

fn sheet(text: &str) -> Result<Found, String> {
    let mut xml = quick_xml::Reader::from_str(text);
    xml.config_mut().expand_empty_elements = true;
    let mut reader = Reader::default();
    loop {
        match xml.read_event().map_err(not_xml)? {
            Event::Start(start) => {
                if !reader.enter(&Element::of(&start)?)? {
                    xml.read_to_end(start.name()).map_err(not_xml)?;
                }
            }
            Event::End(_) => reader.leave(),
            Event::Text(words) => reader.words(&words.xml10_content()),
            Event::CData(words) => reader.words(&words.xml10_content()),
            Event::GeneralRef(reference) => {
                let character = reference.resolve_char_ref().map_err(not_xml)?;
                let known = quick_xml::escape::resolve_predefined_entity(&reference);
                match (character, known) {
                    (Some(character), _) => reader.words(character.encode_utf8(&mut [0; 4])),
                    (None, Some(known)) => reader.words(known),
                    (None, None) => return Err(not_xml(format!("nothing says what &{}; is", &*reference))),
                }
            }
            Event::Eof => return reader.finish(),
            Event::Empty(_) | Event::Comment(_) | Event::Decl(_) | Event::PI(_) | Event::DocType(_) => {}
        }
    }
}

fn not_xml(why: impl fmt::Display) -> String {
    format!("it is not XML: {why}")
}

/// The beginning of an element.
struct Element<'a> {
    /// Its name without a prefix.
    name: &'a str,
    attributes: Vec<(&'a str, Cow<'a, str>)>,
}

impl<'a> Element<'a> {
    fn of(start: &'a BytesStart<'_>) -> Result<Self, String> {
        let mut attributes = Vec::new();
        for attribute in start.attributes() {
            let attribute = attribute.map_err(not_xml)?;
            let key = attribute.key.into_inner();
            // Those of other programs have a prefix.
            if !key.contains(':') {
                let value = attribute.normalized_value(XmlVersion::Implicit1_0).map_err(not_xml)?;
                attributes.push((key, value));
            }
        }
        Ok(Self { name: start.local_name().into_inner(), attributes })
    }

    fn attribute(&self, name: &str) -> Option<&str> {
        self.attributes.iter().find(|(known, _)| *known == name).map(|(_, value)| &**value)
    }
}

/// From user units to millimetres.
fn millimetres(root: &Element) -> Transform {
    let mm = |name: &str| {
        let length = root.attribute(name)?.parse::<Length>().ok()?;
        let unit = match length.unit {
            LengthUnit::Mm => 1.0,
            LengthUnit::Cm => 10.0,
            LengthUnit::In => 25.4,
            LengthUnit::Pt => 25.4 / 72.0,
            LengthUnit::Pc => 25.4 / 6.0,
            LengthUnit::None | LengthUnit::Px => 25.4 / 96.0,
            LengthUnit::Em | LengthUnit::Ex | LengthUnit::Percent => return None,
        };
        Some(length.number * unit)
    };
    let view = root.attribute("viewBox").and_then(|v| v.parse::<ViewBox>().ok());
    let Some(view) = view else {
        let scale = 25.4 / 96.0;
        return Transform::new(scale, 0.0, 0.0, scale, 0.0, 0.0);
    };
    let scale = |name, length: f64| mm(name).map_or(1.0, |mm| mm / length);
    let (sx, sy) = (scale("width", view.w), scale("height", view.h));
    Transform::new(sx, 0.0, 0.0, sy, -view.x * sx, -view.y * sy)
}

/// The size of the sheet in millimetres.
fn size(root: &Element, millimetres: Transform) -> (f64, f64) {
    let view = root.attribute("viewBox").and_then(|v| v.parse::<ViewBox>().ok());
    view.map_or((0.0, 0.0), |view| (view.w * millimetres.a, view.h * millimetres.d))
}

/// Where the reader stands: transform, inherited looks, and what the groups around say.
#[derive(Clone, Debug)]
struct Pen {
    matrix: Transform,
    stroke: Option<String>,
    width: f64,
    dashes: bool,
    shown: bool,
    /// Whether it writes letters.
    lettering: bool,
    within: Within,
}

/// The nearest group that says what it is.
#[derive(Clone, Debug)]
enum Within {
    Nothing,
    Conductor(Name),
    Landing(Option<(String, String)>),
    Splice(Option<String>),
    Sign(usize),
    Label(usize),
    Reference(usize),
    /// A device; what is drawn of it first is its outline.
    Device(String),
    /// Something else that is no conductor: a device, a table, the frame.
    Other,
}

impl Default for Pen {
    fn default() -> Self {
        let matrix = Transform::default();
        Self {
            matrix,
            stroke: None,
            width: 1.0,
            dashes: false,
            shown: true,
            lettering: false,
            within: Within::Nothing,
        }
    }
}

#[derive(Default)]
struct Reader {
    found: Found,
    /// The pens of the elements around, the outermost first.
    pens: Vec<Pen>,
}

impl Reader {
    /// Goes into an element; `false` if nothing of it is on the paper.
    fn enter(&mut self, element: &Element) -> Result<bool, String> {
        let Some(outer) = self.pens.last() else {
            if element.name != "svg" {
                return Err(format!("it is not SVG: its root is <{}>", element.name));
            }
            if !self.found.sheets.is_empty() {
                return Err(not_xml("it has two roots"));
            }
            let pen = Pen { matrix: millimetres(element), ..Pen::default() };
            self.found.sheets.push((0.0, size(element, pen.matrix)));
            self.pens.push(pen);
            return Ok(true);
        };
        if UNSEEN.contains(&element.name) {
            return Ok(false);
        }
        if self.pens.len() > DEEPEST {
            return Err(format!("its groups are nested more than {DEEPEST} deep"));
        }
        let pen = self.entered(element, outer.clone());
        let shown = pen.shown;
        if shown {
            self.shape(element, &pen)?;
            self.pens.push(pen);
            self.words(" ");
        }
        Ok(shown)
    }

    /// Comes out of an element.
    fn leave(&mut self) {
        self.words(" ");
        self.pens.pop();
    }

    /// Takes in characters that stand in an element.
    fn words(&mut self, characters: &str) {
        let Some(pen) = self.pens.last().filter(|pen| pen.lettering) else { return };
        let words = match pen.within {
            Within::Label(i) => self.found.labels.get_mut(i).map(|label| &mut label.words),
            Within::Reference(i) => self.found.references.get_mut(i).map(|reference| &mut reference.words),
            _ => None,
        };
        if let Some(words) = words {
            words.push_str(characters);
        }
    }

    /// What was found when all is read.
    fn finish(mut self) -> Result<Found, String> {
        if self.found.sheets.is_empty() || !self.pens.is_empty() {
            return Err(not_xml("it ends before its root does"));
        }
        for label in &mut self.found.labels {
            label.words = label.words.split_whitespace().collect::<Vec<_>>().join(" ");
        }
        for reference in &mut self.found.references {
            reference.words = reference.words.split_whitespace().collect();
        }
        Ok(self.found)
    }

    /// The pen inside an element.
    fn entered(&mut self, element: &Element, outer: Pen) -> Pen {
        let mut pen = outer;
        if let Some(own) = element.attribute("transform").and_then(|t| t.parse::<Transform>().ok()) {
            pen.matrix = product(pen.matrix, own);
        }
        if let Some(stroke) = look(element, "stroke") {
            pen.stroke = (stroke != "none").then(|| stroke.to_owned());
        }
        if let Some(width) = look(element, "stroke-width").and_then(number) {
            pen.width = width;
        }
        if let Some(dashes) = look(element, "stroke-dasharray") {
            let mut lengths = NumberListParser::from(dashes);
            pen.dashes = lengths.any(|l| l.is_ok_and(|l| l > 0.0));
        }
        let hidden =
            [("display", "none"), ("visibility", "hidden"), ("opacity", "0"), ("stroke-opacity", "0")];
        if hidden.iter().any(|(name, value)| look(element, name) == Some(*value)) {
            pen.shown = false;
        }
        if let Some(within) = self.said(element) {
            pen.within = within;
        }
        pen.lettering = matches!(element.name, "text" | "tspan");
        pen
    }

    /// What an element says that it is.
    fn said(&mut self, element: &Element) -> Option<Within> {
        let name = |which: &str| element.attribute(format!("data-{which}").as_str()).map(str::to_owned);
        let pair = |a: &str, b: &str| name(a).zip(name(b));
        let mut within = None;
        for class in element.attribute("class").unwrap_or_default().split_whitespace() {
            within = Some(match class {
                "core" => {
                    Within::Conductor(pair("cable", "core").map_or(Name::None, |(a, b)| Name::Core(a, b)))
                }
                "lead" => Within::Conductor(
                    pair("device", "terminal").map_or(Name::None, |(a, b)| Name::Lead(a, b)),
                ),
                "landing" => Within::Landing(pair("device", "terminal")),
                "splice" => Within::Splice(name("device")),
                "loose-end" => {
                    let (cable, core) = pair("cable", "core").unwrap_or_default();
                    let way = name("way").unwrap_or_default();
                    self.found.signs.push(Sign { cable, core, way, area: None });
                    Within::Sign(self.found.signs.len() - 1)
                }
                "label" => {
                    self.found.labels.push(Label { of: name("of").unwrap_or_default(), ..Label::default() });
                    Within::Label(self.found.labels.len() - 1)
                }
                "reference" => {
                    let name = pair("cable", "core").map(|(cable, core)| Name::Core(cable, core));
                    self.found.references.push(Reference { name, ..Reference::default() });
                    Within::Reference(self.found.references.len() - 1)
                }
                "diagram" => Within::Nothing,
                "device" => name("device").map_or(Within::Other, Within::Device),
                "border" | "title-block" | "table" | "notes" | "location" | "sheath" | "flag" | "paper" => {
                    Within::Other
                }
                _ => continue,
            });
        }
        within
    }

    fn shape(&mut self, element: &Element, pen: &Pen) -> Result<(), String> {
        if pen.lettering {
            let coordinate = |name: &str| element.attribute(name).and_then(number);
            if let (Within::Label(i), Some(x), Some(y)) = (&pen.within, coordinate("x"), coordinate("y"))
                && let Some(label) = self.found.labels.get_mut(*i)
            {
                label.at = label.at.or(Some(apply(pen.matrix, Point { x, y })));
            }
            return Ok(());
        }
        let runs = runs(element)?;
        let placed = |run: &Vec<Point>| run.iter().map(|p| apply(pen.matrix, *p)).collect::<Vec<Point>>();
        let runs: Vec<Vec<Point>> = runs.iter().map(placed).collect();
        let area = runs.iter().flatten().map(|p| Rect::between(*p, *p)).reduce(|a, b| a.with(&b));
        match (&pen.within, area) {
            (_, None) | (Within::Other | Within::Label(_), _) => {}
            (Within::Landing(terminal), Some(area)) => {
                self.found.landings.push(Landing { terminal: terminal.clone(), area, bar: false });
            }
            (Within::Splice(device), Some(area)) => {
                let terminal = device.clone().map(|device| (device, String::new()));
                self.found.landings.push(Landing { terminal, area, bar: true });
            }
            (Within::Device(name), Some(area)) => {
                if self.found.devices.last().is_none_or(|(last, _)| last != name) {
                    self.found.devices.push((name.clone(), area));
                }
            }
            (Within::Sign(i), Some(area)) => {
                if let Some(sign) = self.found.signs.get_mut(*i) {
                    sign.area = Some(sign.area.map_or(area, |a| a.with(&area)));
                }
            }
            (Within::Reference(i), Some(area)) => {
                if let Some(reference) = self.found.references.get_mut(*i) {
                    reference.area = Some(reference.area.map_or(area, |a| a.with(&area)));
                }
            }
            (Within::Nothing, Some(_)) => self.lines(runs, &Name::None, pen),
            (Within::Conductor(name), Some(_)) => {
                // The sign at the end of a lead is made of boxes and fine bars; the lead itself is as wide as a core.
                let name = name.clone();
                self.lines(runs, &name, pen);
            }
        }
        Ok(())
    }

    fn lines(&mut self, runs: Vec<Vec<Point>>, name: &Name, pen: &Pen) {
        let Some(stroke) = &pen.stroke else { return };
        let m = pen.matrix;
        let width = pen.width * (m.a * m.d - m.b * m.c).abs().sqrt();
        let paint = stroke.parse::<Color>().map_or(Paint(1, 2, 3), |c| Paint(c.red, c.green, c.blue));
        let seen = Seen { paint, width, dashed: pen.dashes };
        let runs = runs.into_iter().filter(|points| points.len() > 1);
        self.found.lines.extend(runs.map(|points| Line { name: name.clone(), points, seen }));
    }
}

/// A presentation attribute, or the same in `style`, which is stronger.
fn look<'a>(element: &'a Element, name: &str) -> Option<&'a str> {
    let style = element.attribute("style").and_then(|style| {
        style.split(';').filter_map(|entry| entry.split_once(':')).find(|(key, _)| key.trim() == name)
    });
    style.map(|(_, value)| value.trim()).or_else(|| element.attribute(name)).map(str::trim)
}

fn number(text: &str) -> Option<f64> {
    text.parse::<Length>().ok().map(|l| l.number)
}

fn product(outer: Transform, inner: Transform) -> Transform {
    let (o, i) = (outer, inner);
    Transform::new(
        o.a * i.a + o.c * i.b,
        o.b * i.a + o.d * i.b,
        o.a * i.c + o.c * i.d,
        o.b * i.c + o.d * i.d,
        o.a * i.e + o.c * i.f + o.e,
        o.b * i.e + o.d * i.f + o.f,
    )
}

fn apply(m: Transform, p: Point) -> Point {
    Point { x: m.a * p.x + m.c * p.y + m.e, y: m.b * p.x + m.d * p.y + m.f }
}

/// The runs of points of a shape; curves as short straight pieces, circles and ellipses by their box.
fn runs(element: &Element) -> Result<Vec<Vec<Point>>, String> {
    let value = |name: &str| element.attribute(name).and_then(number).unwrap_or(0.0);
    let corners = |x: f64, y: f64, w: f64, h: f64| {
        vec![[x, y], [x + w, y], [x + w, y + h], [x, y + h], [x, y]]
            .into_iter()
            .map(|[x, y]| Point { x, y })
            .collect::<Vec<Point>>()
    };
    Ok(match element.name {
        "path" => path(element.attribute("d").unwrap_or_default())?,
        "line" => {
            vec![vec![Point { x: value("x1"), y: value("y1") }, Point { x: value("x2"), y: value("y2") }]]
        }
        shape @ ("polyline" | "polygon") => {
            let points = PointsParser::from(element.attribute("points").unwrap_or_default());
            let mut points: Vec<Point> = points.map(|(x, y)| Point { x, y }).collect();
            if shape == "polygon" {
                points.extend(points.first().copied());
            }
            vec![points]
        }
        "rect" => vec![corners(value("x"), value("y"), value("width"), value("height"))],
        shape @ ("circle" | "ellipse") => {
            let (rx, ry) =
                if shape == "circle" { (value("r"), value("r")) } else { (value("rx"), value("ry")) };
            vec![corners(value("cx") - rx, value("cy") - ry, 2.0 * rx, 2.0 * ry)]
        }
        _ => Vec::new(),
    })
}

fn path(data: &str) -> Result<Vec<Vec<Point>>, String> {
    const PIECES: u32 = 12;
    let mut runs: Vec<Vec<Point>> = Vec::new();
    let mut run: Vec<Point> = Vec::new();
    for segment in SimplifyingPathParser::from(data) {
        let segment = segment.map_err(|e| format!("a line in it cannot be read: {e}"))?;
        let from = run.last().copied().unwrap_or_default();
        match segment {
            SimplePathSegment::MoveTo { x, y } => {
                runs.push(std::mem::replace(&mut run, vec![Point { x, y }]));
            }
            SimplePathSegment::LineTo { x, y } => run.push(Point { x, y }),
            SimplePathSegment::CurveTo { x1, y1, x2, y2, x, y } => {
                run.extend((1..=PIECES).map(|i| {
                    let t = f64::from(i) / f64::from(PIECES);
                    let s = 1.0 - t;
                    let of = |a, b, c, d| {
                        s * s * s * a + 3.0 * s * s * t * b + 3.0 * s * t * t * c + t * t * t * d
                    };
                    Point { x: of(from.x, x1, x2, x), y: of(from.y, y1, y2, y) }
                }));
            }
            SimplePathSegment::Quadratic { x1, y1, x, y } => {
                run.extend((1..=PIECES).map(|i| {
                    let t = f64::from(i) / f64::from(PIECES);
                    let s = 1.0 - t;
                    let of = |a, b, c| s * s * a + 2.0 * s * t * b + t * t * c;
                    Point { x: of(from.x, x1, x), y: of(from.y, y1, y) }
                }));
            }
            SimplePathSegment::ClosePath => run.extend(run.first().copied()),
        }
    }
    runs.push(run);
    runs.retain(|run| run.len() > 1);
    Ok(runs)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read_inside(body: &str) -> Result<Found, String> {
        read(&[format!("<svg viewBox='0 0 100 100' width='100mm' height='100mm'>{body}</svg>")])
    }

    #[test]
    fn words_are_read_however_they_are_written() {
        let words = |text: &str| {
            let found =
                read_inside(&format!("<g class='label' data-of='W1'><text x='1' y='2'>{text}</text></g>"));
            found.unwrap().labels.into_iter().map(|label| label.words).collect::<Vec<_>>()
        };
        for text in
            ["A&amp;B &lt; C", "A&#38;B  &#x3c;\n C", "<![CDATA[A&B < C]]>", "A&amp;B<tspan>&lt;</tspan>C"]
        {
            assert_eq!(words(text), ["A&B < C"], "{text}");
        }
    }

    #[test]
    fn names_are_read_with_their_signs() {
        let found = read_inside(
            "<g class='core' data-cable='W&amp;1' data-core='&#97;'><path d='M0 0H9' stroke='#000'/></g>",
        );
        let names: Vec<Name> = found.unwrap().lines.into_iter().map(|line| line.name).collect();
        assert_eq!(names, [Name::Core("W&1".to_owned(), "a".to_owned())]);
    }

    #[test]
    fn what_is_not_on_the_paper_is_passed_over() {
        let line = "<g><path d='M0 0H9' stroke='#000'/></g>";
        for (around, seen) in [("g", 1), ("defs", 0), ("symbol", 0), ("g display='none'", 0)] {
            let end = around.split(' ').next().unwrap_or_default();
            let found = read_inside(&format!("<{around}>{line}</{end}><rect/>{line}")).unwrap();
            assert_eq!(found.lines.len(), seen + 1, "{around}");
        }
    }

    #[test]
    fn broken_texts_are_refused() {
        for text in [
            "",
            "lamp",
            "<svg>",
            "<svg><g></svg>",
            "<svg/><svg/>",
            "<svg><g a='1' a='2'/></svg>",
            "<svg>&x;</svg>",
        ] {
            assert!(read(&[text]).is_err_and(|why| why.starts_with("it is not XML")), "{text}");
        }
        assert!(read(&["<html/>"]).is_err_and(|why| why.starts_with("it is not SVG")));
        assert!(read_inside(&"<g>".repeat(200)).is_err_and(|why| why.contains("deep")));
    }
}
