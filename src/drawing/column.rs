//! Text and tables as rows that flow down columns.

use crate::lettering::{self, Height};
use crate::scene::{Point, Shape, Text};

/// From baseline to baseline of 1.8 mm lettering (ISO 3098: 19/10 of the height).
pub const PITCH: f64 = 3.42;

/// A strip across a column.
#[derive(Clone, Debug, Default)]
pub struct Row {
    /// Its height in millimetres.
    pub height: f64,
    /// What is in it, seen from its top left corner.
    pub shapes: Vec<Shape>,
    /// Whether a column may not end here.
    pub keep: bool,
    /// What stands instead of it where a column begins with it: the same under the head of its table, or with what the
    /// row above it says for both.
    pub opening: Option<Box<Row>>,
}

impl Row {
    /// The row as it stands at the head of a column.
    fn opened(self) -> Self {
        match self.opening {
            Some(opening) => Self { keep: self.keep, ..*opening },
            None => self,
        }
    }

    /// How much higher it is at the head of a column.
    fn rise(&self) -> f64 {
        self.opening.as_ref().map_or(0.0, |opening| opening.height - self.height)
    }

    /// This row and under it another as one.
    #[must_use]
    pub fn over(&self, under: &Self) -> Self {
        let mut shapes = self.shapes.clone();
        shapes.extend(under.shapes.iter().map(|shape| shape.moved(0.0, self.height)));
        Self { height: self.height + under.height, shapes, keep: under.keep, opening: None }
    }
}

/// One column: rows that stand under each other.
pub type Column = Vec<Row>;

/// The height of rows under each other.
#[must_use]
pub fn height(rows: &[Row]) -> f64 {
    rows.iter().map(|r| r.height).sum()
}

/// A paragraph of 1.8 mm lettering, its first line set in by `indent` less than the others if `hanging`.
#[must_use]
pub fn paragraph(text: &str, bold: bool, width: f64, indent: f64) -> Vec<Row> {
    let lines = lettering::wrap(text, Height::H1_8, bold, width - indent);
    let count = lines.len();
    let row = |(i, line): (usize, String)| {
        let mut text = Text::new(&line, indent, 0.5 + Height::H1_8.mm(), Height::H1_8);
        text.bold = bold;
        Row { height: PITCH, shapes: vec![Shape::Text(text)], keep: i + 1 < count, ..Row::default() }
    };
    lines.into_iter().enumerate().map(row).collect()
}

/// Empty space.
#[must_use]
pub fn gap(height: f64) -> Row {
    Row { height, ..Row::default() }
}

/// A heading that stays with what follows.
#[must_use]
pub fn heading(text: &str) -> Row {
    let text = Text::new(text, 0.0, 0.3 + Height::H2_5.mm(), Height::H2_5).bold();
    Row { height: 5.0, shapes: vec![Shape::Text(text)], keep: true, ..Row::default() }
}

/// Rows dealt out to columns of that height, in order; each column begins with the rows of `head`. Rows that no
/// column can hold are not put anywhere: a row higher than a column stands alone and sticks out.
#[must_use]
pub fn deal(mut rows: Vec<Row>, head: &[Row], room: f64) -> Vec<Column> {
    let mut columns: Vec<Column> = Vec::new();
    for column in dealt(&rows, height(head), room).into_iter().rev() {
        let mut own = head.to_vec();
        let mut these = rows.drain(column.start..);
        own.extend(these.next().map(Row::opened));
        own.extend(these);
        columns.push(own);
    }
    columns.reverse();
    columns
}

/// Which rows stand in each column.
struct Dealt {
    start: usize,
    /// The height of the column, its head included.
    height: f64,
}

fn dealt(rows: &[Row], head: f64, room: f64) -> Vec<Dealt> {
    let mut columns: Vec<Dealt> = Vec::new();
    let (mut start, mut block) = (0, 0.0);
    for (n, row) in rows.iter().enumerate() {
        block += row.height;
        if row.keep && n + 1 < rows.len() {
            continue;
        }
        match columns.last_mut() {
            Some(column) if column.height + block <= room + 0.001 => column.height += block,
            _ => {
                let rise = rows.get(start).map_or(0.0, Row::rise);
                columns.push(Dealt { start, height: head + rise + block });
            }
        }
        (start, block) = (n + 1, 0.0);
    }
    columns
}

/// The rows in at most `count` columns as low as can be, if that is not above `room`.
#[must_use]
pub fn balance(rows: &[Row], head: &[Row], count: usize, room: f64) -> Option<Vec<Column>> {
    let head_height = height(head);
    let fair = (height(rows) / count.max(1) as f64 + head_height).min(room);
    let holds = |tried: f64| {
        let columns = dealt(rows, head_height, tried);
        columns.len() <= count && columns.iter().all(|c| c.height <= room + 0.001)
    };
    // Higher columns are never more: the least height is found by halving, a millimetre fine.
    let tried = |more: u32| (fair + f64::from(more)).min(room);
    let (mut low, mut high) = (0, (room - fair).ceil().max(0.0) as u32);
    if !holds(room) {
        return None;
    }
    while low < high {
        let middle = u32::midpoint(low, high);
        if holds(tried(middle)) { high = middle } else { low = middle + 1 }
    }
    Some(deal(rows.to_vec(), head, tried(high)))
}

/// The shapes of a column whose top left corner is at a point.
#[must_use]
pub fn placed(column: &[Row], at: Point) -> Vec<Shape> {
    let mut shapes = Vec::new();
    let mut y = at.y;
    for row in column {
        shapes.extend(row.shapes.iter().map(|s| s.moved(at.x, y)));
        y += row.height;
    }
    shapes
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(heights: &[(f64, bool)]) -> Vec<Row> {
        heights.iter().map(|(height, keep)| Row { height: *height, keep: *keep, ..Row::default() }).collect()
    }

    #[test]
    fn rows_stay_in_order_and_with_what_they_belong_to() {
        let columns = deal(rows(&[(4.0, false), (4.0, true), (4.0, false), (4.0, false)]), &[gap(1.0)], 9.5);
        let heights: Vec<Vec<f64>> = columns.iter().map(|c| c.iter().map(|r| r.height).collect()).collect();
        assert_eq!(heights, [vec![1.0, 4.0], vec![1.0, 4.0, 4.0], vec![1.0, 4.0]]);
    }

    #[test]
    fn a_row_that_opens_a_column_stands_there_as_it_has_to() {
        let mut all = rows(&[(4.0, false); 5]);
        for row in &mut all {
            row.opening = Some(Box::new(gap(2.0).over(row)));
        }
        let columns = deal(all, &[], 10.0);
        let heights: Vec<Vec<f64>> = columns.iter().map(|c| c.iter().map(|r| r.height).collect()).collect();
        assert_eq!(heights, [vec![6.0, 4.0], vec![6.0, 4.0], vec![6.0]]);
    }

    #[test]
    fn columns_are_as_low_as_can_be() {
        let all = rows(&[(4.0, false); 10]);
        let columns = balance(&all, &[], 3, 100.0).unwrap();
        assert_eq!(columns.iter().map(Vec::len).collect::<Vec<_>>(), [4, 4, 2]);
        assert!(balance(&all, &[], 3, 15.0).is_none());
    }
}
