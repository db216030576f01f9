//! The title block: the fields of ISO 7200, client and site besides, the revisions, and the stamp on a faulty drawing.

use crate::lettering::{self, Height};
use crate::netlist::{Info, Status};
use crate::scene::{Anchor, Dash, Fill, Group, Point, Rect, Role, Shape, Text, Width};

use super::column::PITCH;

/// What stands in it.
pub struct Block<'a> {
    /// The head of the job.
    pub info: &'a Info,
    /// `Connection diagram`, `Terminal schedule`.
    pub document_type: &'a str,
    /// The number of the sheet and how many there are.
    pub sheet: (usize, usize),
    /// `A3`.
    pub size: &'a str,
    /// What the stamp says, on a faulty drawing.
    pub stamp: Option<&'a str>,
}

/// Free on each side of a cell's text.
const PAD: f64 = 1.0;
/// The height of the stamp.
const STAMP: f64 = 8.0;

/// A field: its caption, its text, its share of the row's width, and how large the text would like to be.
struct Field {
    caption: &'static str,
    text: String,
    share: f64,
    bold: bool,
    height: Height,
}

fn field(caption: &'static str, text: &str, share: f64) -> Field {
    Field { caption, text: lettering::line(text), share, bold: false, height: Height::H2_5 }
}

impl Block<'_> {
    /// The block, its lower right corner at a point; `width` wide, at most 180 mm (ISO 7200).
    #[must_use]
    pub fn draw(&self, corner: Point, width: f64) -> (Group, Rect) {
        let rows = self.rows(width);
        let revisions = revisions(self.info, width);
        let stamp = if self.stamp.is_some() { STAMP } else { 0.0 };
        let fields: f64 = rows.iter().map(|(height, _)| height).sum();
        let height = stamp + fields + revisions.0;
        let all = Rect { x: corner.x - width, y: corner.y - height, w: width, h: height };
        let mut group = Group::new(Role::TitleBlock);
        group.shape(Shape::rect(all, Some(Width::Wide), Dash::Solid, Fill::White));
        let mut y = all.y;
        if let Some(words) = self.stamp {
            stamped(&mut group, words, Rect { h: STAMP, ..all });
            y += STAMP;
        }
        for (height, cells) in rows {
            rule(&mut group, all, y);
            let mut x = all.x;
            for cell in &cells {
                let w = cell.share * width;
                if x > all.x + 0.01 {
                    let line = [Point { x, y }, Point { x, y: y + height }];
                    group.shape(Shape::line(&line, Width::Normal));
                }
                cell.draw(&mut group, Rect { x, y, w, h: height });
                x += w;
            }
            y += height;
        }
        rule(&mut group, all, y);
        for text in revisions.1 {
            group.shape(Shape::Text(text).moved(all.x, y));
        }
        (group, all)
    }

    /// The rows of cells with their heights.
    fn rows(&self, width: f64) -> Vec<(f64, Vec<Field>)> {
        let info = self.info;
        let or_empty = |text: &Option<String>| text.clone().unwrap_or_default();
        let status = match info.status {
            Status::Design => "Design",
            Status::AsBuilt => "As built",
        };
        let (sheet, of) = self.sheet;
        let places: Vec<&str> =
            [&info.client, &info.site].into_iter().flatten().map(String::as_str).collect();
        let title = Field { bold: true, height: Height::H3_5, ..field("Title", &info.title, 0.64) };
        let status = Field { bold: true, ..field("Status", status, 0.16) };
        let rows = vec![
            vec![field("Owner", &or_empty(&info.owner), 0.36), title],
            vec![
                field("Client, site", &places.join(", "), 0.36),
                field("Document type", self.document_type, 0.34),
                field("Document number", &or_empty(&info.number), 0.30),
            ],
            vec![
                field("Drawn", &or_empty(&info.drawn_by), 0.18),
                field("Approved", &or_empty(&info.approved_by), 0.18),
                status,
                field("Date", &or_empty(&info.date), 0.19),
                field("Revision", &or_empty(&info.revision), 0.11),
                field("Sheet", &format!("{sheet} / {of}"), 0.10),
                field("Size", self.size, 0.08),
            ],
        ];
        let tallest = |cells: &[Field]| cells.iter().map(|c| c.needs(width)).fold(0.0, f64::max);
        rows.into_iter().map(|cells| (tallest(&cells), cells)).collect()
    }
}

impl Field {
    /// The lines of its text and their height: on one line if that fits, else smaller, else broken.
    fn lines(&self, width: f64) -> (Vec<String>, Height) {
        let room = width - 2.0 * PAD;
        for height in [self.height, Height::H2_5] {
            if lettering::width(&self.text, height, self.bold) <= room {
                return (vec![self.text.clone()], height);
            }
        }
        let small = if self.height == Height::H3_5 { Height::H2_5 } else { Height::H1_8 };
        (lettering::wrap(&self.text, small, self.bold, room), small)
    }

    /// The height of a cell that holds it.
    fn needs(&self, width: f64) -> f64 {
        let (lines, height) = self.lines(width * self.share);
        let text = lines.len().saturating_sub(1) as f64 * height.mm() * 1.9 + height.mm();
        PAD + Height::H1_8.mm() + 1.5 + text + height.mm() * 0.3 + 0.7
    }

    fn draw(&self, group: &mut Group, cell: Rect) {
        let x = cell.x + PAD;
        let caption = Text::new(self.caption, x, cell.y + PAD + Height::H1_8.mm(), Height::H1_8);
        group.text(caption);
        let (lines, height) = self.lines(cell.w);
        let pitch = height.mm() * 1.9;
        let mut y = cell.bottom() - 0.7 - height.mm() * 0.3 - lines.len().saturating_sub(1) as f64 * pitch;
        for line in lines {
            let text = Text::new(&line, x, y, height);
            group.text(if self.bold { text.bold() } else { text });
            y += pitch;
        }
    }
}

fn rule(group: &mut Group, all: Rect, y: f64) {
    if y > all.y + 0.01 {
        group.shape(Shape::line(&[Point { x: all.x, y }, Point { x: all.right(), y }], Width::Normal));
    }
}

/// The height of the rows of revisions, and their texts seen from the top left corner.
fn revisions(info: &Info, width: f64) -> (f64, Vec<Text>) {
    const CAPTION: &str = "Revisions";
    let first = PAD + Height::H1_8.mm();
    let mut texts = vec![Text::new(CAPTION, PAD, first, Height::H1_8)];
    let indent = PAD + lettering::width(CAPTION, Height::H1_8, false) + 3.0;
    let mut y = first;
    let lines: Vec<String> = info
        .revisions
        .iter()
        .flat_map(|r| lettering::wrap(r, Height::H1_8, false, width - indent - PAD))
        .collect();
    let count = lines.len().max(1);
    for line in lines {
        texts.push(Text::new(&line, indent, y, Height::H1_8));
        y += PITCH;
    }
    (first + (count - 1) as f64 * PITCH + 1.4, texts)
}

/// A stamp that nobody can overlook: a heavy box, hatched at both ends, across the whole block.
fn stamped(group: &mut Group, words: &str, area: Rect) {
    let frame = area.grown(-0.9);
    let text = format!("{words} · NOT FOR USE");
    let fits = |height| lettering::width(&text, height, true) < frame.w - 8.0;
    let height = if fits(Height::H3_5) { Height::H3_5 } else { Height::H2_5 };
    let middle = Point { x: frame.x + frame.w / 2.0, y: frame.y + frame.h / 2.0 };
    let words = Text::new(&text, middle.x, middle.y + height.mm() / 2.0, height).bold();
    let words = words.anchored(Anchor::Middle);
    let clear = words.width() / 2.0 + 2.0;
    let lean = frame.h;
    let mut x = frame.x;
    while x + lean <= frame.right() {
        if x + lean <= middle.x - clear || x >= middle.x + clear {
            let line = [Point { x, y: frame.bottom() }, Point { x: x + lean, y: frame.y }];
            group.shape(Shape::line(&line, Width::Medium));
        }
        x += 2.5;
    }
    group.shape(Shape::rect(frame, Some(Width::Wide), Dash::Solid, Fill::None));
    group.text(words);
}
