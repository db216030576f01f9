//! Tables as sheets: A4 on its side, as many as it takes, with frame, title block and cautions.

use super::column::{self, PITCH, Row};
use super::notes::Flagged;
use super::paper::Paper;
use super::sheets::{BETWEEN, Columns, GUTTER, Matter, columns_group, corner, title_width};
use super::strand;
use crate::circuit::Circuit;
use crate::diagnostic::Finding;
use crate::lettering::{self, Height};
use crate::netlist::Job;
use crate::scene::{Dash, Fill, Point, Rect, Role, Shape, Sheet, Text, Width};
use crate::schedules::{Cell, Column, Table};

/// A table with the kind of document that it is.
#[derive(Clone, Copy)]
pub struct Titled<'a> {
    /// `Test sheet`.
    pub kind: &'a str,
    /// The table.
    pub table: &'a Table,
}

/// Between two columns.
const GAP: f64 = 2.5;
/// The height of a row with one line of text.
const HEIGHT: f64 = 4.2;
/// A column that is left empty for whoever fills it in is no narrower.
const TO_FILL_IN: f64 = 18.0;
/// The side of a swatch.
const SWATCH: f64 = 2.6;
/// The column whose cells have a swatch before them.
const SWATCHED: &str = "colour_code";

/// The sheets of tables, one after the other, numbered through from 1.
#[must_use]
pub fn table_sheets(job: &Job, circuit: &Circuit, findings: &[Finding], tables: &[Titled]) -> Vec<Sheet> {
    let matter = Matter::new(job, circuit, &[], Flagged::by_check(findings));
    let Some(paper) = Paper::standard().next() else { return Vec::new() };
    let room = paper.room();
    let (foot, top) = matter.small_foot(&paper);
    let body = Rect { h: top - BETWEEN - room.y, ..room };
    let mut pages: Vec<(&str, Columns)> = Vec::new();
    for titled in tables {
        let widths = widths(titled.table, body.w);
        let head = vec![column::heading(titled.kind), head(titled.table, &widths)];
        let mut rows: Vec<Row> =
            (0..titled.table.rows.len()).flat_map(|n| row(titled.table, n, &widths)).collect();
        if rows.is_empty() {
            rows.extend(column::paragraph("Nothing to list.", false, body.w, 0.0));
        }
        let dealt = column::deal(rows, &head, body.h);
        pages.extend(side_by_side(dealt, right(&widths), body).map(|columns| (titled.kind, columns)));
    }
    let count = pages.len();
    let sheet = |(n, (kind, columns)): (usize, &(&str, Columns))| {
        let block = matter.block(&paper, kind, (n + 1, count)).draw(corner(&paper), title_width(&paper)).0;
        let mut content =
            vec![columns_group(Role::Table("document"), columns), columns_group(Role::Notes, &foot), block];
        content.insert(0, paper.border(&content));
        matter.sheet(&paper, kind, content)
    };
    pages.iter().enumerate().map(sheet).collect()
}

/// Columns of a narrow table side by side, as many as a page has room for; the heading stands over the first.
fn side_by_side(dealt: Vec<column::Column>, width: f64, body: Rect) -> impl Iterator<Item = Columns> {
    let count = (((body.w + GUTTER) / (width + GUTTER)).floor() as usize).max(1);
    let mut rest = dealt.into_iter().peekable();
    std::iter::from_fn(move || {
        rest.peek()?;
        let place = |(n, mut column): (usize, column::Column)| {
            if let Some(first) = column.first_mut().filter(|_| n > 0) {
                first.shapes.clear();
            }
            (Point { x: body.x + n as f64 * (width + GUTTER), y: body.y }, column)
        };
        Some(rest.by_ref().take(count).enumerate().map(place).collect())
    })
}

/// The widths of the columns. Columns in which nothing stands have none, but for those that are to be filled in; where
/// the room does not suffice the widest columns give way, and their texts are broken.
fn widths(table: &Table, room: f64) -> Vec<f64> {
    let mut widths: Vec<f64> = table
        .columns
        .iter()
        .enumerate()
        .map(|(n, column)| {
            let heading = lettering::width(column.heading, Height::H1_8, true);
            let cells = table.rows.iter().filter_map(|row| row.get(n)).map(shown);
            let widest =
                cells.map(|text| lettering::width(&text, Height::H1_8, false)).fold(0.0_f64, f64::max);
            match (column.name, widest > 0.0) {
                ("measured", _) => TO_FILL_IN,
                (_, false) if column.to_fill_in => TO_FILL_IN,
                (SWATCHED, true) => widest.max(heading) + SWATCH + 1.0,
                (_, true) => widest.max(heading),
                (_, false) => 0.0,
            }
        })
        .collect();
    let shown = widths.iter().filter(|width| **width > 0.0).count();
    let room = room - GAP * shown.saturating_sub(1) as f64;
    // The widest columns are cut to one width that makes all fit.
    let mut cut = room;
    for _ in 0..60 {
        let sum: f64 = widths.iter().map(|width| width.min(cut)).sum();
        if sum <= room {
            break;
        }
        cut *= 0.95;
    }
    let left = room - widths.iter().map(|width| width.min(cut)).sum::<f64>();
    let wide = widths.iter().filter(|width| **width > cut).count();
    for width in &mut widths {
        if *width > cut {
            *width = width.min(cut + left / wide.max(1) as f64);
        }
    }
    widths
}

/// The left edges of the columns that are shown.
fn edges(widths: &[f64]) -> impl Iterator<Item = (usize, f64, f64)> {
    let mut x = 0.0;
    widths.iter().enumerate().filter(|(_, width)| **width > 0.0).map(move |(n, width)| {
        let left = x;
        x += width + GAP;
        (n, left, *width)
    })
}

fn head(table: &Table, widths: &[f64]) -> Row {
    let y = 0.6 + Height::H1_8.mm();
    let heading = |(n, x, _): (usize, f64, f64)| {
        let column: &Column = table.columns.get(n)?;
        Some(Shape::Text(Text::new(column.heading, x, y, Height::H1_8).bold()))
    };
    let mut shapes: Vec<Shape> = edges(widths).filter_map(heading).collect();
    shapes.push(rule(widths, HEIGHT, Width::Medium));
    Row { height: HEIGHT, shapes, keep: true, ..Row::default() }
}

/// The right edge of the table.
fn right(widths: &[f64]) -> f64 {
    edges(widths).last().map_or(0.0, |(_, x, w)| x + w)
}

fn rule(widths: &[f64], y: f64, width: Width) -> Shape {
    Shape::line(&[Point { x: 0.0, y }, Point { x: right(widths), y }], width)
}

/// How deep a row says the same as the one above it: all columns of [`Column::once`] up to that level. 0 where it begins
/// something new.
fn repeated(table: &Table, n: usize) -> u8 {
    let above = n.checked_sub(1).and_then(|above| table.rows.get(above));
    let (Some(above), Some(row)) = (above, table.rows.get(n)) else { return 0 };
    let same = |level: u8| {
        let columns = table.columns.iter().zip(above.iter().zip(row));
        columns.filter(|(column, _)| column.once == level).all(|(_, (above, row))| above == row)
    };
    let levels = table.columns.iter().map(|column| column.once).max().unwrap_or(0);
    (1..=levels).take_while(|level| same(*level)).last().unwrap_or(0)
}

/// A row of the table, without what the row above says for both; at the head of a sheet with all of it. One that is long
/// comes in pieces, so that it can go on on the next sheet.
fn row(table: &Table, n: usize, widths: &[f64]) -> impl Iterator<Item = Row> {
    let cells = wrapped(table, n, widths);
    let said = repeated(table, n);
    let grouped = table.columns.iter().any(|column| column.once > 0);
    let ends = grouped && repeated(table, n + 1) == 0;
    let end = if ends { Width::Normal } else { Width::Thin };
    let most = cells.iter().map(|cell| cell.lines.len()).max().unwrap_or(1).max(1);
    let pieces = if most > LONG { most.div_ceil(PIECE) } else { 1 };
    (0..pieces).map(move |piece| {
        let lines = if pieces == 1 { 0..most } else { piece * PIECE..most.min((piece + 1) * PIECE) };
        let last = (piece + 1 == pieces).then_some(end);
        let own = piece_of(&cells, lines.clone(), said, last, widths);
        if said == 0 && piece == 0 {
            return own;
        }
        // At the head of a sheet what is said once stands there again.
        let again = cells.iter().map(|cell| cell.from(&lines));
        let opening = piece_of(&again.collect::<Vec<_>>(), lines.clone(), 0, last, widths);
        Row { opening: Some(Box::new(opening)), ..own }
    })
}

/// A row of more lines comes in pieces.
const LONG: usize = 16;
/// The lines of a piece.
const PIECE: usize = 8;

/// A cell as it stands on paper.
#[derive(Clone)]
struct Wrapped {
    column: &'static Column,
    /// Its left edge and its width.
    x: f64,
    width: f64,
    lines: Vec<String>,
    /// Whether it is left empty for whoever fills it in.
    to_fill: bool,
}

impl Wrapped {
    /// The cell where a sheet begins with these lines of its row: one that is said once begins anew.
    fn from(&self, lines: &std::ops::Range<usize>) -> Self {
        let mut cell = self.clone();
        if cell.column.once > 0 && lines.start >= cell.lines.len() {
            let mut again = vec![String::new(); lines.start];
            again.append(&mut cell.lines);
            cell.lines = again;
        }
        cell
    }
}

/// The cells of a row that are shown, broken into lines.
fn wrapped(table: &Table, n: usize, widths: &[f64]) -> Vec<Wrapped> {
    let cells = table.rows.get(n).map(Vec::as_slice).unwrap_or_default();
    let one = |(n, x, width): (usize, f64, f64)| {
        let (column, cell) = (table.columns.get(n)?, cells.get(n)?);
        let lines = lettering::wrap(&shown(cell), Height::H1_8, false, width + 0.01);
        let to_fill = column.name == "measured" && wants_reading(table, cells);
        Some(Wrapped { column, x, width, lines, to_fill })
    };
    edges(widths).filter_map(one).collect()
}

/// So many lines of a row, without the columns that are said once up to that level; with a rule under the last of them.
fn piece_of(
    cells: &[Wrapped],
    lines: std::ops::Range<usize>,
    said: u8,
    rule_under: Option<Width>,
    widths: &[f64],
) -> Row {
    let base = f64::midpoint(HEIGHT, Height::H1_8.mm());
    let mut shapes = Vec::new();
    let mut most = 1;
    for cell in cells {
        if cell.to_fill && lines.start == 0 {
            let place = Rect { x: cell.x, y: 0.5, w: cell.width, h: HEIGHT - 1.0 };
            shapes.push(Shape::rect(place, Some(Width::Thin), Dash::Solid, Fill::None));
        }
        if cell.column.once > 0 && cell.column.once <= said {
            continue;
        }
        let shown = cell.lines.iter().take(lines.end).skip(lines.start);
        let paint = cell.lines.first().and_then(|text| strand::paint_of_code(text));
        let mut x = cell.x;
        if let Some(paint) = paint.filter(|_| cell.column.name == SWATCHED && lines.start == 0) {
            let y = HEIGHT / 2.0;
            let line = |points, paint, width| {
                Shape::Stroke(crate::scene::Stroke { points, paint, width, dashes: None })
            };
            let ends = |by: f64| vec![Point { x: x - by, y }, Point { x: x + SWATCH + by, y }];
            shapes.push(line(ends(0.2), crate::scene::Paint::BLACK, SWATCH));
            shapes.push(line(ends(0.0), paint, SWATCH - 0.4));
            x += SWATCH + 1.0;
        }
        most = most.max(shown.len());
        for (m, line) in shown.enumerate() {
            let y = base + m as f64 * PITCH;
            shapes.push(Shape::Text(Text::new(line, x, y, Height::H1_8)));
        }
    }
    let height = match rule_under {
        Some(_) => HEIGHT + (most - 1) as f64 * PITCH,
        None => most as f64 * PITCH,
    };
    shapes.extend(rule_under.map(|width| rule(widths, height, width)));
    Row { height, shapes, ..Row::default() }
}

/// Whether a row of a test sheet has something to be read: cautions have not.
fn wants_reading(table: &Table, cells: &[Cell]) -> bool {
    let expect = table.columns.iter().position(|column| column.name == "expect");
    expect.and_then(|n| cells.get(n)).is_some_and(|cell| *cell != Cell::Blank)
}

fn shown(cell: &Cell) -> String {
    match cell {
        Cell::Text(text) => lettering::line(text),
        Cell::Number(value) => paper_figure(*value),
        Cell::Blank => String::new(),
    }
}

/// A figure as it is read on paper: at most four significant digits and three decimals, or one digit where that would be
/// nothing; millions with an `M` before their unit.
#[must_use]
pub fn paper_figure(value: f64) -> String {
    if value.abs() >= 1e6 {
        return format!("{} M", paper_figure(value / 1e6));
    }
    let digits = if value.abs() < 1e-3 { format!("{value:.0e}") } else { format!("{value:.3e}") };
    let rounded: f64 = digits.parse().unwrap_or(value);
    let text = if value.abs() < 1e-3 { format!("{rounded}") } else { format!("{rounded:.3}") };
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::paper_figure;

    #[test]
    fn figures_as_they_are_read_on_paper() {
        let pairs = [
            (0.0, "0"),
            (-0.0, "0"),
            (12.0, "12"),
            (11.674, "11.67"),
            (0.003_666, "0.004"),
            (0.000_12, "0.0001"),
            (0.2078, "0.208"),
            (4703.2, "4703"),
            (-12.6, "-12.6"),
            (1e6, "1 M"),
            (2.2e7, "22 M"),
        ];
        for (value, shown) in pairs {
            assert_eq!(paper_figure(value), shown);
        }
    }
}
