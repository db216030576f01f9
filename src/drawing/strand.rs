//! How a conductor looks: from the colours of its insulation to strokes, and back.

use crate::netlist::Colour;
use crate::scene::{Paint, Point, Stroke, Width};

/// The colours as they are printed, and whether paper swallows them. The words and codes are those of IEC 60757; no
/// standard fixes the printing colours.
const PAINTS: [(Colour, Paint, bool); 14] = [
    (Colour::Black, Paint::BLACK, false),
    (Colour::Brown, Paint(122, 72, 28), false),
    (Colour::Red, Paint(208, 28, 36), false),
    (Colour::Orange, Paint(240, 124, 0), false),
    (Colour::Yellow, Paint(255, 220, 0), true),
    (Colour::Green, Paint(22, 138, 58), false),
    (Colour::Blue, Paint(24, 92, 190), false),
    (Colour::Violet, Paint(122, 48, 160), false),
    (Colour::Grey, Paint(168, 168, 168), true),
    (Colour::White, Paint(255, 255, 255), true),
    (Colour::Pink, Paint(255, 166, 196), true),
    (Colour::Gold, Paint(214, 176, 72), true),
    (Colour::Turquoise, Paint(90, 204, 204), true),
    (Colour::Silver, Paint(206, 210, 218), true),
];

/// A conductor whose insulation colour nobody has stated: a grey without outline, unlike the grey of IEC 60757.
const UNSTATED: Paint = Paint(112, 112, 112);

/// The width of a pale conductor with its outline, and without.
const OUTLINED: (f64, f64) = (1.1, 0.6);

/// Length of a stripe, and of the base colour between two.
const STRIPE: (f64, f64) = (2.0, 2.0);

/// The strokes of a conductor of those colours (base first), lowest first: one plain line; under a pale one a wider
/// black line that remains as outline; over it the second colour in dashes.
#[must_use]
pub fn strokes(points: &[Point], colours: &[Colour]) -> Vec<Stroke> {
    let stroke = |paint, width, dashes| Stroke { points: points.to_vec(), paint, width, dashes };
    let Some((base, stripes)) = colours.split_first() else {
        return vec![stroke(UNSTATED, Width::Wide.mm(), None)];
    };
    let mut strokes = Vec::new();
    let mut width = Width::Wide.mm();
    if colours.iter().any(|c| paint(*c).1) {
        strokes.push(stroke(Paint::BLACK, OUTLINED.0, None));
        width = OUTLINED.1;
    }
    strokes.push(stroke(paint(*base).0, width, None));
    strokes.extend(stripes.iter().map(|c| stroke(paint(*c).0, width, Some(STRIPE))));
    strokes
}

/// One stroke of a conductor as it was found on paper.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seen {
    /// Its colour.
    pub paint: Paint,
    /// Its width in millimetres.
    pub width: f64,
    /// Whether it is dashed.
    pub dashed: bool,
}

/// The colours of a conductor from its strokes, lowest first; empty for one whose colour is not stated, `None` when no
/// conductor looks like this.
#[must_use]
pub fn colours(strokes: &[Seen]) -> Option<Vec<Colour>> {
    let mut whole = strokes.iter().filter(|s| !s.dashed);
    let mut base = whole.next()?;
    if let Some(upper) = whole.next() {
        let outline = base.paint == Paint::BLACK && base.width > upper.width;
        if !outline || whole.next().is_some() {
            return None;
        }
        base = upper;
    }
    let stripes = strokes.iter().filter(|s| s.dashed);
    if base.paint == UNSTATED {
        return (stripes.count() == 0).then(Vec::new);
    }
    std::iter::once(base).chain(stripes).map(|s| colour(s.paint)).collect()
}

fn paint(colour: Colour) -> (Paint, bool) {
    let entry = PAINTS.iter().find(|(known, ..)| *known == colour);
    entry.map_or((UNSTATED, false), |(_, paint, pale)| (*paint, *pale))
}

/// The colour in which a core with that code is printed: of two colours the base. `None` for what is no code of IEC
/// 60757.
#[must_use]
pub fn paint_of_code(code: &str) -> Option<Paint> {
    let base = code.get(..2)?;
    PAINTS.iter().find(|(colour, ..)| colour.code() == base).map(|(_, paint, _)| *paint)
}

fn colour(paint: Paint) -> Option<Colour> {
    PAINTS.iter().find(|(_, known, _)| *known == paint).map(|(colour, ..)| *colour)
}

/// The code of a core's colours (IEC 60757, base colour first), or its name when no colour is stated.
#[must_use]
pub fn code(colours: &[Colour], name: &str) -> String {
    if colours.is_empty() { name.to_owned() } else { colours.iter().map(|c| c.code()).collect() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_pair_of_colours_can_be_told_from_its_strokes() {
        let line = [Point { x: 0.0, y: 0.0 }, Point { x: 10.0, y: 0.0 }];
        let mut kinds = vec![Vec::new()];
        for (base, ..) in PAINTS {
            kinds.push(vec![base]);
            kinds.extend(PAINTS.iter().filter(|(c, ..)| *c != base).map(|(c, ..)| vec![base, *c]));
        }
        for kind in kinds {
            let seen: Vec<Seen> = strokes(&line, &kind)
                .iter()
                .map(|s| Seen { paint: s.paint, width: s.width, dashed: s.dashes.is_some() })
                .collect();
            assert_eq!(colours(&seen), Some(kind));
        }
    }

    #[test]
    fn strange_strokes_are_no_conductor() {
        let plain = |paint, width| Seen { paint, width, dashed: false };
        assert_eq!(colours(&[]), None);
        assert_eq!(colours(&[plain(Paint(1, 2, 3), 0.7)]), None);
        assert_eq!(colours(&[plain(Paint::BLACK, 0.7), plain(PAINTS[2].1, 0.7)]), None);
    }
}
