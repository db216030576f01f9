//! The plate of the library: small pictures, each under its name, on as many sheets as they need.

use super::strand;
use crate::lettering::Height;
use crate::netlist::{Colours, Name};
use crate::scene::{Anchor, Group, M, Point, Role, Shape, Sheet, Text};

/// The sheets are A4 on their side (ISO 216).
const SIZE: (f64, f64) = (297.0, 210.0);
/// Free at the left, right and foot of a sheet.
const MARGIN: f64 = 10.0;
/// Where the pictures begin below the heading.
const TOP: f64 = 20.0;
/// The length of a core in the picture of a cable.
const CORE: f64 = 25.0;
/// From core to core in the picture of a cable.
const PITCH: f64 = 2.0 * M;

/// A cable under its name: each core in its colours, with its code and name. One without cores takes `words` instead.
#[must_use]
pub fn cable_sheet(name: &str, title: &str, cores: &[(Name, Colours)], words: &str) -> Sheet {
    let mut group = Group::new(Role::Label(name.to_owned()));
    let baseline = 2.0 * M + Height::H3_5.mm();
    let designation = Text::new(name, 2.0 * M, baseline, Height::H3_5).bold();
    let beside = Text::new(title, 2.0 * M + designation.width() + M / 2.0, baseline, Height::H1_8);
    let mut right = beside.ink().right();
    group.text(designation);
    group.text(beside);
    let mut y = baseline + PITCH;
    for (core, colours) in cores {
        let line = [Point { x: 2.0 * M, y }, Point { x: 2.0 * M + CORE, y }];
        strand::strokes(&line, colours).into_iter().for_each(|stroke| group.shape(Shape::Stroke(stroke)));
        let code = strand::code(colours, core);
        let told = if code == *core { code } else { format!("{code} {core}") };
        let text = Text::new(&told, 4.0 * M + CORE, y + Height::H1_8.mm() / 2.0, Height::H1_8);
        right = right.max(text.ink().right());
        group.text(text);
        y += PITCH;
    }
    if cores.is_empty() {
        let text = Text::new(words, 2.0 * M, y, Height::H1_8);
        right = right.max(text.ink().right());
        group.text(text);
        y += PITCH;
    }
    Sheet {
        size: (right + 2.0 * M, y),
        title: name.to_owned(),
        description: title.to_owned(),
        content: vec![group],
    }
}

/// The pictures in columns under a heading that counts the sheets, in their order.
#[must_use]
pub fn plate(heading: &str, pictures: &[Sheet]) -> Vec<Sheet> {
    let mut pages: Vec<Vec<Group>> = vec![Vec::new()];
    let (mut x, mut y, mut widest) = (MARGIN, TOP, 0.0_f64);
    for picture in pictures {
        let (w, h) = picture.size;
        if y > TOP && y + h > SIZE.1 - MARGIN {
            (x, y, widest) = (x + widest, TOP, 0.0);
        }
        if x > MARGIN && x + w > SIZE.0 - MARGIN {
            // A column that is too wide for what is left goes on on the next sheet.
            (x, y, widest) = (MARGIN, TOP, 0.0);
            pages.push(Vec::new());
        }
        if let Some(page) = pages.last_mut() {
            page.extend(picture.content.iter().map(|group| group.moved(x, y)));
        }
        (y, widest) = (y + h, widest.max(w));
    }
    let count = pages.len();
    let sheet = |(number, mut content): (usize, Vec<Group>)| {
        let mut head = Group::new(Role::Notes);
        let baseline = MARGIN + Height::H3_5.mm();
        head.text(Text::new(heading, MARGIN + 2.0 * M, baseline, Height::H3_5).bold());
        let told = Text::new(&format!("{number} / {count}"), SIZE.0 - MARGIN, baseline, Height::H2_5);
        head.text(told.anchored(Anchor::End));
        content.insert(0, head);
        Sheet {
            size: SIZE,
            title: format!("{heading}, {number} / {count}"),
            description: String::new(),
            content,
        }
    };
    (1..).zip(pages).map(sheet).collect()
}
