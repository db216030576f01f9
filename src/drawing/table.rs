//! The terminal schedule as rows of a table with boxes to tick.

use super::column::{PITCH, Row};
use super::strand;
use crate::circuit::Circuit;
use crate::lettering::{self, Height};
use crate::netlist::{Colours, Job};
use crate::scene::{Dash, Fill, Point, Rect, Shape, Text, Width};
use crate::schedules::{self, Landing, Spots, State};

/// One line of the schedule.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Line {
    /// `K1:NO1`.
    pub terminal: String,
    /// What it does.
    pub function: String,
    /// The colours of the core that is joined to it; `None` when none is.
    pub core: Option<Colours>,
    /// The core's code.
    pub code: String,
    /// Its cable.
    pub cable: String,
    /// The other end, or how the end was made safe.
    pub to: String,
    /// Sheet and zone, where a drawing has several diagrams.
    pub at: String,
    /// Whether another device begins here.
    pub begins: bool,
}

/// The height of a row with one line of text.
const HEIGHT: f64 = 4.2;
/// From the right end of a column's widest text to the next column.
const GAP: f64 = 3.0;
/// The length of a swatch.
const SWATCH: f64 = 6.0;
/// The side of a box to tick.
const BOX: f64 = 2.8;
/// Between the headings of the two columns of boxes.
const BOXES: f64 = 2.6;
/// Words wider than this are broken.
const LONGEST: f64 = 42.0;

/// The schedule, ready to flow.
pub struct Table {
    /// The row that stands at the head of every column.
    pub head: Vec<Row>,
    /// The other rows.
    pub rows: Vec<Row>,
    /// The width of a column.
    pub width: f64,
}

/// Where the columns of the table begin, and its width.
struct Grid {
    function: f64,
    core: f64,
    cable: f64,
    to: f64,
    /// As wide as nothing where no line says where it stands.
    at: f64,
    landed: f64,
    tested: f64,
    width: f64,
}

/// The schedule as a table.
#[must_use]
pub fn table(lines: &[Line]) -> Table {
    let grid = grid(lines);
    let rows = lines.iter().enumerate().map(|(i, line)| {
        let last = lines.get(i + 1).is_none_or(|next| next.begins);
        row(line, &grid, last)
    });
    Table { head: vec![head(&grid)], rows: rows.collect(), width: grid.width }
}

fn widest<'a>(head: &str, texts: impl Iterator<Item = &'a str>, bold: bool) -> f64 {
    let head = lettering::width(head, Height::H1_8, true);
    texts.map(|t| lettering::width(t, Height::H1_8, bold)).fold(head, f64::max)
}

fn grid(lines: &[Line]) -> Grid {
    let terminals = widest("Terminal", lines.iter().map(|l| l.terminal.as_str()), true);
    let function = terminals.min(LONGEST) + GAP;
    let functions = widest("Function", lines.iter().map(|l| l.function.as_str()), false);
    let core = function + functions.min(LONGEST) + GAP;
    let codes = widest("", lines.iter().map(|l| l.code.as_str()), false);
    let cable = core + (SWATCH + 1.2 + codes).max(widest("Core", std::iter::empty(), true)) + GAP;
    let to = cable + widest("Cable", lines.iter().map(|l| l.cable.as_str()), false) + GAP;
    let at = to + widest("To", lines.iter().map(|l| l.to.as_str()), false).min(LONGEST) + GAP;
    let told = lines.iter().any(|l| !l.at.is_empty());
    let widest_at = widest("At", lines.iter().map(|l| l.at.as_str()), false) + GAP;
    let landed = at + if told { widest_at } else { 0.0 };
    let tested = landed + widest("Landed", std::iter::empty(), true) + BOXES;
    let width = tested + widest("Tested", std::iter::empty(), true) + 0.5;
    Grid { function, core, cable, to, at, landed, tested, width }
}

fn head(grid: &Grid) -> Row {
    let names = [
        ("Terminal", 0.0),
        ("Function", grid.function),
        ("Core", grid.core),
        ("Cable", grid.cable),
        ("To", grid.to),
        (if grid.landed > grid.at { "At" } else { "" }, grid.at),
        ("Landed", grid.landed),
        ("Tested", grid.tested),
    ];
    let y = 0.6 + Height::H1_8.mm();
    let names = names.iter().filter(|(name, _)| !name.is_empty());
    let mut shapes: Vec<Shape> =
        names.map(|(name, x)| Shape::Text(Text::new(name, *x, y, Height::H1_8).bold())).collect();
    shapes.push(rule(grid, HEIGHT, Width::Medium));
    Row { height: HEIGHT, shapes, keep: true, ..Row::default() }
}

fn rule(grid: &Grid, y: f64, width: Width) -> Shape {
    Shape::line(&[Point { x: 0.0, y }, Point { x: grid.width, y }], width)
}

fn row(line: &Line, grid: &Grid, last_of_device: bool) -> Row {
    let broken = |text: &str, bold, room: f64| lettering::wrap(text, Height::H1_8, bold, room - GAP + 0.01);
    let cells = [
        (broken(&line.terminal, true, grid.function), 0.0, true),
        (broken(&line.function, false, grid.core - grid.function), grid.function, false),
        (broken(&line.to, false, grid.at - grid.to), grid.to, false),
    ];
    let most = cells.iter().map(|(lines, ..)| lines.len()).max().unwrap_or(1);
    let extra = most.saturating_sub(1) as f64 * PITCH;
    let height = HEIGHT + extra;
    let base = (HEIGHT + Height::H1_8.mm()) / 2.0;
    let mut shapes = Vec::new();
    let mut put = |text: &str, x: f64, y: f64, bold: bool| {
        if !text.is_empty() {
            let text = Text::new(text, x, y, Height::H1_8);
            shapes.push(Shape::Text(if bold { text.bold() } else { text }));
        }
    };
    for (lines, x, bold) in &cells {
        for (i, text) in lines.iter().enumerate() {
            put(text, *x, base + i as f64 * PITCH, *bold);
        }
    }
    put(&line.cable, grid.cable, base, false);
    put(&line.at, grid.at, base, false);
    if line.core.is_some() {
        put(&line.code, grid.core + SWATCH + 1.2, base, false);
    }
    if let Some(colours) = &line.core {
        let y = HEIGHT / 2.0;
        let swatch = [Point { x: grid.core, y }, Point { x: grid.core + SWATCH, y }];
        shapes.extend(strand::strokes(&swatch, colours).into_iter().map(Shape::Stroke));
    }
    for (left, right) in [(grid.landed, grid.tested - BOXES), (grid.tested, grid.width)] {
        let x = f64::midpoint(left, right) - BOX / 2.0;
        let tick = Rect { x, y: (HEIGHT - BOX) / 2.0, w: BOX, h: BOX };
        shapes.push(Shape::rect(tick, Some(Width::Thin), Dash::Solid, Fill::None));
    }
    shapes.push(rule(grid, height, if last_of_device { Width::Normal } else { Width::Thin }));
    Row { height, shapes, ..Row::default() }
}

/// The lines of a job's schedule, each with where it stands if that is told.
#[must_use]
pub fn lines(job: &Job, circuit: &Circuit, spots: &Spots) -> Vec<Line> {
    let rows = schedules::terminals(job, circuit, spots);
    let mut lines = Vec::new();
    let mut before = None;
    for row in rows {
        let core = match row.landing {
            Landing::Core(id, _) => Some(job.core(id).colours),
            Landing::Link(_) => Some(Colours::NONE),
            Landing::Nothing => None,
        };
        let named = match row.landing {
            Landing::Core(id, _) => strand::code(&job.core(id).colours, &row.core),
            Landing::Link(_) => row.state.word().to_owned(),
            Landing::Nothing => String::new(),
        };
        let begins = before.replace(row.device.clone()).is_some_and(|before| before != row.device);
        let to = if row.to.is_empty() { row.state.word().to_owned() } else { row.to.clone() };
        // How a loose end was left stands under To only where both of its core are alike.
        let told = row.state == State::Joined || [&named, &to].iter().any(|told| *told == row.state.word());
        let function =
            if told { row.function.clone() } else { format!("{}, {}", row.function, row.state.word()) };
        lines.push(Line {
            terminal: row.place(),
            function,
            core,
            code: named,
            cable: row.cable,
            to,
            at: row.spot.map(|spot| format!("{}/{}", spot.sheet, spot.zone)).unwrap_or_default(),
            begins,
        });
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::netlist;

    /// The columns that paper has no room for say nothing that is lost: a marker is what its row begins with, and a state
    /// is told under Core or To, or behind what a loose end is.
    #[test]
    fn what_has_no_column_on_paper_is_told_in_another() {
        let mut states = 0;
        for text in [
            include_str!("../../examples/marshalling-box.yaml"),
            include_str!("../../examples/mistakes.yaml"),
            include_str!("../../examples/roof-vent.yaml"),
        ] {
            let job = netlist::read_text("job.yaml", text).job.unwrap();
            let circuit = Circuit::of(&job);
            let rows = schedules::terminals(&job, &circuit, &Spots::default());
            for (row, line) in rows.iter().zip(lines(&job, &circuit, &Spots::default())) {
                if row.at.is_some() && !row.marker.is_empty() {
                    assert_eq!(row.marker, line.terminal);
                }
                if row.state != State::Joined {
                    states += 1;
                    let word = row.state.word();
                    let told = [&line.code, &line.to].iter().any(|told| *told == word);
                    assert!(told || line.function.ends_with(&format!(", {word}")), "{word}: {line:?}");
                }
            }
        }
        assert!(states > 50, "{states}");
    }
}
