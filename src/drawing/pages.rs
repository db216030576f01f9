//! Pages of text and tables: what is read and filled in at the bench.

use super::column::{self, Row};
use super::paper::Paper;
use crate::lettering::{self, Height};
use crate::scene::{Dash, Fill, Group, Point, Rect, Role, Shape, Sheet, Text, Width};

/// A piece of a page.
#[derive(Clone, Debug, PartialEq)]
pub enum Block {
    /// A heading.
    Heading(String),
    /// A paragraph.
    Text(String),
    /// A table with a ruled grid; an empty cell is a place to write.
    Table {
        /// The headings of its columns.
        head: Vec<String>,
        /// The share of the width that each column gets.
        shares: Vec<f64>,
        /// Its rows.
        rows: Vec<Vec<String>>,
    },
    /// So many ruled lines to write on.
    Lines(usize),
}

/// From baseline to baseline of 2.5 mm lettering (ISO 3098: 19/10 of the height).
const PITCH: f64 = 4.75;
/// The height of a row to write in.
const WRITING: f64 = 7.5;
/// What is kept free on each side of a cell's text.
const PAD: f64 = 1.2;
/// The height of the line at the foot.
const FOOT: f64 = 6.0;

/// The pages that hold the blocks, A4 on its side. Every page bears the title, its number and the foot.
#[must_use]
pub fn pages(title: &str, foot: &str, blocks: &[Block]) -> Vec<Sheet> {
    let Some(paper) = Paper::standard().next() else { return Vec::new() };
    let room = paper.room();
    let body = Rect { y: room.y + 9.0, h: room.h - 9.0 - FOOT - 3.0, ..room };
    let mut rows: Vec<Row> = Vec::new();
    let mut answering = false;
    for block in blocks {
        // What is asked stays with the lines to work it out on, and with the table below them.
        let lines = matches!(block, Block::Lines(_));
        let stays = lines || (answering && matches!(block, Block::Table { .. }));
        if let Some(before) = rows.last_mut().filter(|_| stays) {
            before.keep = true;
        }
        answering = lines;
        rows.extend(block_rows(block, body.w));
    }
    let columns = column::deal(rows, &[], body.h);
    let count = columns.len();
    let sheets = columns.into_iter().zip(1..).map(|(column, number)| {
        let mut page = Group::new(Role::Notes);
        page.text(Text::new(title, room.x, room.y + Height::H3_5.mm(), Height::H3_5).bold());
        let counted = format!("{foot}   Page {number} of {count}");
        page.text(Text::new(&counted, room.x, room.bottom() - 2.0, Height::H1_8));
        for shape in column::placed(&column, Point { x: body.x, y: body.y }) {
            page.shape(shape);
        }
        Sheet {
            size: paper.size,
            title: title.to_owned(),
            description: format!("{title}, page {number} of {count}."),
            content: vec![paper.border(std::slice::from_ref(&page)), page],
        }
    });
    sheets.collect()
}

fn block_rows(block: &Block, width: f64) -> Vec<Row> {
    match block {
        Block::Heading(text) => {
            let words = Text::new(text, 0.0, 3.0 + Height::H3_5.mm(), Height::H3_5).bold();
            vec![Row { height: 9.0, shapes: vec![Shape::Text(words)], keep: true, ..Row::default() }]
        }
        Block::Text(text) => paragraph(text, width),
        Block::Lines(count) => (1..=*count)
            .map(|line| {
                let keep = line < *count;
                let y = WRITING - 0.5;
                let rule = Shape::line(&[Point { x: 0.0, y }, Point { x: width, y }], Width::Thin);
                Row { height: WRITING, shapes: vec![rule], keep, ..Row::default() }
            })
            .collect(),
        Block::Table { head, shares, rows } => {
            let total: f64 = shares.iter().sum();
            let widths: Vec<f64> = shares.iter().map(|share| share / total * width).collect();
            let head = Row { keep: true, ..line(head, &widths, true) };
            // A table that goes on on the next page bears its head there too.
            let row = |cells: &Vec<String>| {
                let row = line(cells, &widths, false);
                Row { opening: Some(Box::new(head.over(&row))), ..row }
            };
            let body: Vec<Row> = rows.iter().map(row).collect();
            let mut all = vec![head];
            all.extend(body);
            all.push(column::gap(2.0));
            all
        }
    }
}

fn paragraph(text: &str, width: f64) -> Vec<Row> {
    let lines = lettering::wrap(text, Height::H2_5, false, width);
    let count = lines.len();
    let row = |(i, line): (usize, String)| {
        let words = Text::new(&line, 0.0, 0.8 + Height::H2_5.mm(), Height::H2_5);
        let last = i + 1 == count;
        let height = if last { PITCH + 1.0 } else { PITCH };
        Row { height, shapes: vec![Shape::Text(words)], keep: !last, ..Row::default() }
    };
    lines.into_iter().enumerate().map(row).collect()
}

/// A row of a table in its grid.
fn line(cells: &[String], widths: &[f64], bold: bool) -> Row {
    let wrapped: Vec<Vec<String>> = cells
        .iter()
        .zip(widths)
        .map(|(cell, width)| lettering::wrap(cell, Height::H2_5, bold, width - 2.0 * PAD))
        .collect();
    let most = wrapped.iter().map(Vec::len).max().unwrap_or(1).max(1);
    #[expect(clippy::cast_precision_loss, reason = "a cell has few lines")]
    let height = WRITING + (most - 1) as f64 * PITCH;
    let mut shapes = Vec::new();
    let mut x = 0.0;
    for (lines, width) in wrapped.iter().zip(widths) {
        let cell = Rect { x, y: 0.0, w: *width, h: height };
        shapes.push(Shape::rect(cell, Some(Width::Thin), Dash::Solid, Fill::None));
        let mut y = f64::midpoint(WRITING, Height::H2_5.mm());
        for text in lines {
            let words = Text::new(text, x + PAD, y, Height::H2_5);
            shapes.push(Shape::Text(if bold { words.bold() } else { words }));
            y += PITCH;
        }
        x += width;
    }
    Row { height, shapes, ..Row::default() }
}
