//! The bundled font, and how wide a text is in it.

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

/// The width of a line of text in millimetres.
#[must_use]
pub fn width(text: &str, height: Height, bold: bool) -> f64 {
    let per = if bold { 0.70 } else { 0.62 };
    text.chars().count() as f64 * per * height.font_size()
}
