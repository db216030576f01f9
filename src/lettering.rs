//! The bundled font, and how much room a text takes in it.
//!
//! Widths come from the shaper that also turns the drawing into a picture, so that what was measured is what is drawn.

use std::collections::HashMap;
use std::sync::{Mutex, OnceLock, PoisonError};

use harfrust::{ShapeOptions, ShapePlan, ShapePlanKey, ShaperData, UnicodeBuffer, script};
use read_fonts::tables::{glyf::Glyf, loca::Loca};
use read_fonts::{FontRef, TableProvider};

/// The name of the bundled font's family.
pub const FAMILY: &str = "DejaVu Sans";

/// Lettering heights of ISO 3098, meaning the height of a capital letter.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Height {
    /// 1.8 mm: core codes, far ends, notes, tables.
    H1_8,
    /// 2.5 mm: terminals and titles.
    H2_5,
    /// 3.5 mm: designations.
    H3_5,
}

/// The height of a capital as a share of the font size in DejaVu Sans (1493 of 2048).
const CAPITAL: f64 = 0.729;

/// Font units of one font size in DejaVu Sans.
const UNITS: f64 = 2048.0;

impl Height {
    /// Height of a capital in millimetres.
    #[must_use]
    pub fn mm(self) -> f64 {
        match self {
            Self::H1_8 => 1.8,
            Self::H2_5 => 2.5,
            Self::H3_5 => 3.5,
        }
    }

    /// The font size in millimetres.
    #[must_use]
    pub fn font_size(self) -> f64 {
        self.mm() / CAPITAL
    }
}

/// The ink of a line of text in millimetres, seen from the point on the baseline where the line begins.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Ink {
    /// To the leftmost ink; mostly a little above 0.
    pub left: f64,
    /// To the rightmost ink.
    pub right: f64,
    /// From the baseline up to the highest ink.
    pub ascent: f64,
    /// From the baseline down to the lowest ink; 0 or more.
    pub descent: f64,
}

/// The width of a line of text in millimetres, from where it begins to where a next letter would begin.
#[must_use]
pub fn width(text: &str, height: Height, bold: bool) -> f64 {
    measured(text, bold).advance * height.font_size() / UNITS
}

/// Where the ink of a line of text lies.
#[must_use]
pub fn ink(text: &str, height: Height, bold: bool) -> Ink {
    let m = measured(text, bold);
    let scale = height.font_size() / UNITS;
    Ink {
        left: m.left * scale,
        right: m.right * scale,
        ascent: m.top.max(0.0) * scale,
        descent: (-m.bottom).max(0.0) * scale,
    }
}

/// A text without the characters that stand for nothing on paper and that XML 1.0 cannot bear.
#[must_use]
pub fn printable(text: &str) -> String {
    text.chars().filter(|c| !c.is_control() && !matches!(c, '\u{fffe}' | '\u{ffff}')).collect()
}

/// A text as one line that can be lettered: without control characters, every run of white space one blank.
#[must_use]
pub fn line(text: &str) -> String {
    let mut line = String::with_capacity(text.len());
    for word in text.split_whitespace() {
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(&printable(word));
    }
    line
}

/// The characters of a text that the bundled font has no glyph for, each once, in the order of the text.
#[must_use]
pub fn without_glyph(text: &str) -> Vec<char> {
    let mut missing = Vec::new();
    for c in line(text).chars() {
        if !missing.contains(&c) && !invisible(c) && faces().iter().any(|face| !face.has(c)) {
            missing.push(c);
        }
    }
    missing
}

/// A text as one line that the bundled font can show throughout: a box stands for a letter that it lacks, and what has
/// no ink is left out.
#[must_use]
pub fn drawable(text: &str) -> String {
    let shown = |c: &char| !invisible(*c);
    let letter = |c: char| if faces().iter().all(|face| face.has(c)) { c } else { '\u{25a1}' };
    line(text).chars().filter(shown).map(letter).collect()
}

/// Words that no line begins with: they belong to the figure before them.
pub const UNIT_SIGNS: [&str; 16] =
    ["V", "mA", "A", "Ah", "Ω", "kΩ", "MΩ", "W", "s", "m", "mm", "mm²", "Ω/km", "%", "DC", "AC"];

/// Breaks a text into lines that are at most `room` millimetres wide, between words where it can; every line has at
/// least one character.
#[must_use]
pub fn wrap(text: &str, height: Height, bold: bool, room: f64) -> Vec<String> {
    let mut lines = Vec::new();
    let mut current = String::new();
    for word in kept(text, |whole| width(whole, height, bold) <= room) {
        let word = word.as_str();
        let longer = if current.is_empty() { word.to_owned() } else { format!("{current} {word}") };
        if width(&longer, height, bold) <= room {
            current = longer;
            continue;
        }
        if !current.is_empty() {
            lines.push(std::mem::take(&mut current));
        }
        let mut rest = word;
        while width(rest, height, bold) > room {
            let ends = || rest.char_indices().map(|(i, _)| i).skip(1);
            let fits = ends().take_while(|i| width(&rest[..*i], height, bold) <= room).last();
            let Some(end) = fits.or_else(|| ends().next()) else { break };
            let (line, left) = rest.split_at(end);
            lines.push(line.to_owned());
            rest = left;
        }
        rest.clone_into(&mut current);
    }
    if !current.is_empty() {
        lines.push(current);
    }
    lines
}

/// The words of a text, each figure in one with its unit where both fit on a line.
fn kept(text: &str, fits: impl Fn(&str) -> bool) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let unit = UNIT_SIGNS.contains(&word.trim_end_matches([',', '.', ';', ':', ')']));
        if let Some(last) =
            words.last_mut().filter(|last| unit && last.contains(|c: char| c.is_ascii_digit()))
        {
            let whole = format!("{last} {word}");
            if fits(&whole) {
                *last = whole;
                continue;
            }
        }
        words.push(word.to_owned());
    }
    words
}

/// What has no ink in any font (Unicode's default ignorable code points of these blocks).
fn invisible(c: char) -> bool {
    matches!(c, '\u{ad}' | '\u{200b}'..='\u{200f}' | '\u{2060}'..='\u{2064}' | '\u{fe00}'..='\u{fe0f}' | '\u{feff}')
}

/// A text in font units.
#[derive(Clone, Copy, Default)]
struct Measured {
    advance: f64,
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
}

struct Face {
    font: FontRef<'static>,
    shaper: ShaperData,
    outlines: Option<(Loca<'static>, Glyf<'static>)>,
    known: Mutex<Known>,
}

/// What need not be found out twice.
#[derive(Default)]
struct Known {
    texts: HashMap<Box<str>, Measured>,
    /// How the font shapes each script and direction met so far.
    plans: Vec<ShapePlan>,
}

/// The file of the bundled font.
#[must_use]
pub fn font_file(bold: bool) -> &'static [u8] {
    if bold { dejavu::sans::bold() } else { dejavu::sans::regular() }
}

fn faces() -> &'static [Face; 2] {
    static FACES: OnceLock<[Face; 2]> = OnceLock::new();
    FACES.get_or_init(|| [Face::new(false), Face::new(true)])
}

fn measured(text: &str, bold: bool) -> Measured {
    let [regular, heavy] = faces();
    if bold { heavy.measured(text) } else { regular.measured(text) }
}

impl Face {
    fn new(bold: bool) -> Self {
        let Ok(font) = FontRef::new(font_file(bold)) else {
            unreachable!("the bundled font is part of the program")
        };
        let outlines = font.loca(None).ok().zip(font.glyf().ok());
        Self { shaper: ShaperData::new(&font), font, outlines, known: Mutex::default() }
    }

    fn has(&self, c: char) -> bool {
        self.font.cmap().is_ok_and(|map| map.map_codepoint(c).is_some())
    }

    fn measured(&self, text: &str) -> Measured {
        let mut known = self.known.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(m) = known.texts.get(text) {
            return *m;
        }
        let m = self.measure(&line(text), &mut known.plans);
        known.texts.insert(text.into(), m);
        m
    }

    fn measure(&self, text: &str, plans: &mut Vec<ShapePlan>) -> Measured {
        let shaper = self.shaper.shaper(&self.font).build();
        let mut buffer = UnicodeBuffer::new();
        buffer.push_str(text);
        buffer.guess_segment_properties();
        let script = Some(buffer.script()).filter(|s| *s != script::UNKNOWN);
        let key = ShapePlanKey::new(script, buffer.direction());
        if !plans.iter().any(|plan| key.matches(plan)) {
            plans.push(ShapePlan::new(&shaper, buffer.direction(), script, None, &[]));
        }
        let plan = plans.iter().find(|plan| key.matches(plan));
        let shaped = shaper.shape(buffer, ShapeOptions::new().plan(plan));
        let mut m = Measured::default();
        let mut inked = false;
        for (glyph, at) in shaped.glyph_infos().iter().zip(shaped.glyph_positions()) {
            let outline = self
                .outlines
                .as_ref()
                .and_then(|(loca, glyf)| loca.get_glyf(glyph.glyph_id.into(), glyf).ok().flatten());
            if let Some(outline) = outline {
                let (x, y) = (m.advance + f64::from(at.x_offset), f64::from(at.y_offset));
                let left = x + f64::from(outline.x_min());
                let right = x + f64::from(outline.x_max());
                let top = y + f64::from(outline.y_max());
                let bottom = y + f64::from(outline.y_min());
                m.left = if inked { m.left.min(left) } else { left };
                m.right = if inked { m.right.max(right) } else { right };
                m.top = if inked { m.top.max(top) } else { top };
                m.bottom = if inked { m.bottom.min(bottom) } else { bottom };
                inked = true;
            }
            m.advance += f64::from(at.x_advance);
        }
        m
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_capital_is_as_high_as_its_name_says() {
        for height in [Height::H1_8, Height::H2_5, Height::H3_5] {
            let ink = ink("H", height, false);
            assert!((ink.ascent - height.mm()).abs() < 0.005, "{ink:?}");
            assert!(ink.descent == 0.0);
        }
    }

    #[test]
    fn descenders_and_kerning_count() {
        assert!(ink("gjpq", Height::H2_5, false).descent > 0.5);
        let apart = width("A", Height::H3_5, false) + width("V", Height::H3_5, false);
        assert!(width("AV", Height::H3_5, false) < apart - 0.1);
        assert!(width("K1:NO1", Height::H1_8, true) > width("K1:NO1", Height::H1_8, false));
    }

    /// Against the text boxes of the picture library, which reads its own font tables.
    #[test]
    fn widths_are_those_of_the_picture() {
        let mut options = resvg::usvg::Options::default();
        options.fontdb_mut().load_font_data(font_file(false).to_vec());
        options.fontdb_mut().load_font_data(font_file(true).to_vec());
        for (text, bold) in [
            ("K1:NO1", false),
            ("→ B1:COM", false),
            ("4 × 0.22 mm² · 14 m", false),
            ("AVAVAV To", true),
            ("office filing, ffi", false),
            ("Źródło 12 V ⎓ µΩ", true),
        ] {
            let weight = if bold { "bold" } else { "normal" };
            let size = Height::H2_5.font_size();
            let svg = format!(
                "<svg xmlns='http://www.w3.org/2000/svg' width='200' height='20'><text id='t' y='10' \
                 font-family='{FAMILY}' font-weight='{weight}' font-size='{size}'>{text}</text></svg>"
            );
            let tree = resvg::usvg::Tree::from_str(&svg, &options).unwrap();
            let there = f64::from(tree.node_by_id("t").unwrap().bounding_box().width());
            let here = width(text, Height::H2_5, bold);
            assert!((there - here).abs() < 0.01, "{text}: {there} in the picture, {here} measured");
        }
    }

    #[test]
    fn characters_without_a_glyph_are_named_once() {
        assert_eq!(without_glyph("pump 中 house 中\u{200b} ⏚"), ['中', '⏚']);
        assert!(without_glyph("Ω²³·–—↔→éüßñŁőžµ±≤≥×÷").is_empty());
    }

    #[test]
    fn lines_break_at_words() {
        let lines = wrap("isolate before working on it", Height::H1_8, false, 20.0);
        assert!(lines.len() > 1 && lines.iter().all(|l| width(l, Height::H1_8, false) <= 20.0));
        assert_eq!(lines.join(" "), "isolate before working on it");
        let lines = wrap("a donaudampfschifffahrtsgesellschaft", Height::H1_8, false, 20.0);
        assert!(lines.len() > 2 && lines.iter().all(|l| width(l, Height::H1_8, false) <= 20.0));
        assert_eq!(lines.concat(), "adonaudampfschifffahrtsgesellschaft");
        // A unit stays with its figure, and both go to the next line.
        let narrow = width("it is fed by 18..28", Height::H1_8, false) + 0.1;
        assert_eq!(
            wrap("it is fed by 18..28 V, and", Height::H1_8, false, narrow),
            ["it is fed by", "18..28 V, and"]
        );
        assert_eq!(wrap("ab", Height::H1_8, false, 0.1), ["a", "b"]);
        assert_eq!(line(" a\u{7}\n\tb  c "), "a b c");
    }
}
