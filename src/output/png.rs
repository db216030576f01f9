//! An SVG text as PNG, with the bundled font and nothing else of the machine's.

use std::fmt;
use std::sync::{Arc, OnceLock};

use resvg::tiny_skia::{Color, Pixmap};
use resvg::usvg::{ImageHrefResolver, Options, Transform, Tree, fontdb};

use crate::lettering;

/// Millimetres of an inch.
const INCH: f64 = 25.4;

/// The picture may have as many pixels as an A0 sheet at 400 dots an inch; more is refused, not tried.
const MOST_PIXELS: f64 = 250_000_000.0;

/// Why there is no picture.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoPicture {
    /// It would be too large: width and height in pixels.
    TooLarge(u64, u64),
    /// The program's own SVG or its picture could not be made: the program is at fault.
    Fault(String),
}

impl fmt::Display for NoPicture {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooLarge(w, h) => {
                write!(f, "a picture of {w} by {h} pixels is too large to make; choose a smaller --dpi")
            }
            Self::Fault(why) => {
                write!(f, "bellwire is at fault: it cannot turn its own drawing into a picture: {why}")
            }
        }
    }
}

/// The PNG of an SVG text of that size in millimetres, at that many dots an inch.
///
/// # Errors
/// If it would be too large, or the program's own SVG cannot be read.
pub fn png(svg: &str, size: (f64, f64), dpi: f64) -> Result<Vec<u8>, NoPicture> {
    let pixels = |mm: f64| (mm / INCH * dpi).round().max(1.0);
    let (w, h) = (pixels(size.0), pixels(size.1));
    if !w.is_finite() || w * h > MOST_PIXELS {
        return Err(NoPicture::TooLarge(w as u64, h as u64));
    }
    let fault = |why: String| NoPicture::Fault(why);
    let tree = Tree::from_str(svg, &options()).map_err(|e| fault(e.to_string()))?;
    let mut picture =
        Pixmap::new(w as u32, h as u32).ok_or_else(|| fault(format!("no picture of {w} by {h}")))?;
    picture.fill(Color::WHITE);
    let scale = Transform::from_scale(w as f32 / tree.size().width(), h as f32 / tree.size().height());
    resvg::render(&tree, scale, &mut picture.as_mut());
    picture.encode_png().map_err(|e| fault(e.to_string()))
}

/// Nothing is loaded from anywhere: no images, no fonts but the bundled ones.
fn options() -> Options<'static> {
    static FONTS: OnceLock<Arc<fontdb::Database>> = OnceLock::new();
    let fonts = FONTS.get_or_init(|| {
        let mut fonts = fontdb::Database::new();
        for bold in [false, true] {
            fonts.load_font_source(fontdb::Source::Binary(Arc::new(lettering::font_file(bold))));
        }
        fonts.set_sans_serif_family(lettering::FAMILY);
        Arc::new(fonts)
    });
    Options {
        font_family: lettering::FAMILY.to_owned(),
        fontdb: Arc::clone(fonts),
        image_href_resolver: ImageHrefResolver {
            resolve_data: Box::new(|_, _, _| None),
            resolve_string: Box::new(|_, _| None),
        },
        ..Options::default()
    }
}
