//! The figures of devices and the symbols inside them.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may panic")]

use std::fmt::Write as _;

use bellwire::figure::{Figure, default_sides, design};
use bellwire::lettering::Height;
use bellwire::library;
use bellwire::netlist::{DeviceId, Job, read_text};
use bellwire::scene::{Anchor, Dash, Fill, M, Piece, Shape};

/// A job of one device.
fn job_of(kind: &str, more: &str) -> Job {
    let text = format!("job: {{title: plate}}\ndevices:\n  D1: {{type: {kind}{more}}}\n");
    let reading = read_text("plate.yaml", &text);
    reading.job.unwrap_or_else(|| panic!("{kind}: {:?}", reading.findings))
}

fn shape_svg(shape: &Shape, out: &mut String) {
    match shape {
        Shape::Path { pieces, width, dash, fill } => {
            let mut d = String::new();
            for piece in pieces {
                let _ = match piece {
                    Piece::Move(p) => write!(d, "M{} {}", p.x, p.y),
                    Piece::Line(p) => write!(d, "L{} {}", p.x, p.y),
                    Piece::Arc { radius, large, clockwise, to } => {
                        let (l, s) = (u8::from(*large), u8::from(*clockwise));
                        write!(d, "A{radius} {radius} 0 {l} {s} {} {}", to.x, to.y)
                    }
                    Piece::Close => write!(d, "Z"),
                };
            }
            let dash = if *dash == Dash::Solid { "" } else { " stroke-dasharray='0.8 0.5'" };
            let width = width.map_or(0.0, |w| w.mm());
            let _ = writeln!(
                out,
                "<path d='{d}' fill='{}' stroke='black' stroke-width='{width}'{dash}/>",
                paint(*fill)
            );
        }
        Shape::Circle { at, radius, width, fill } => {
            let _ = writeln!(
                out,
                "<circle cx='{}' cy='{}' r='{radius}' fill='{}' stroke='black' stroke-width='{}'/>",
                at.x,
                at.y,
                paint(*fill),
                width.mm()
            );
        }
        Shape::Text(t) => {
            let anchor = match t.anchor {
                Anchor::Start => "start",
                Anchor::Middle => "middle",
                Anchor::End => "end",
            };
            let bold = if t.bold { " font-weight='bold'" } else { "" };
            let text = t.text.replace('&', "&amp;").replace('<', "&lt;");
            let size = t.height.font_size();
            let (x, y) = (t.at.x, t.at.y);
            let _ = writeln!(
                out,
                "<text x='{x}' y='{y}' font-size='{size}' text-anchor='{anchor}'{bold}>{text}</text>"
            );
        }
        Shape::Stroke(_) => {}
    }
}

fn paint(fill: Fill) -> &'static str {
    match fill {
        Fill::None => "none",
        Fill::White => "white",
        Fill::Black => "black",
    }
}

fn figure_svg(figure: &Figure, name: &str, out: &mut String) {
    let (w, h) = (f64::from(figure.w) * M, f64::from(figure.h) * M);
    let _ = writeln!(out, "<rect width='{w}' height='{h}' fill='none' stroke='black' stroke-width='0.5'/>");
    figure.inside.iter().for_each(|s| shape_svg(s, out));
    for l in &figure.landings {
        let (x, y) = (f64::from(l.x) * M, f64::from(l.y) * M);
        let _ = writeln!(
            out,
            "<circle cx='{x}' cy='{y}' r='1' fill='white' stroke='black' stroke-width='0.35'/>"
        );
    }
    let at = figure.title_at;
    let size = Height::H3_5.font_size();
    let _ = writeln!(out, "<text x='{}' y='{}' font-size='{size}' font-weight='bold'>D1</text>", at.x, at.y);
    let size = Height::H1_8.font_size();
    let _ = writeln!(out, "<text x='{}' y='{}' font-size='{size}'>{name}</text>", at.x + 8.0, at.y);
}

/// Writes every library type to `target/plate/*.svg` and `.png`, for people to look at.
#[test]
fn plate() {
    let mut figures = Vec::new();
    for kind in library::device_types() {
        let more = if kind == "terminal-strip" { ", ways: 4" } else { "" };
        let job = job_of(kind, more);
        let wish = default_sides(&job, DeviceId(0));
        let figure = design(&job, DeviceId(0), &wish.plain(job.devices[0].form));
        figures.push((kind.to_owned(), figure));
    }
    write_plate("library", &figures);
}

fn write_plate(file: &str, figures: &[(String, Figure)]) {
    let mut body = String::new();
    let (mut x, mut y, mut tallest) = (5.0, 10.0, 0.0_f64);
    for (name, figure) in figures {
        let w = (f64::from(figure.w) * M).max(30.0) + 12.0;
        if x + w > 300.0 {
            (x, y, tallest) = (5.0, y + tallest + 14.0, 0.0);
        }
        let _ = writeln!(body, "<g transform='translate({x} {y})'>");
        figure_svg(figure, name, &mut body);
        body.push_str("</g>\n");
        x += w;
        tallest = tallest.max(f64::from(figure.h + figure.margin[3]) * M);
    }
    let h = y + tallest + 10.0;
    let svg = format!(
        "<svg xmlns='http://www.w3.org/2000/svg' width='305mm' height='{h}mm' viewBox='0 0 305 {h}' \
         font-family='DejaVu Sans'><rect width='305' height='{h}' fill='white'/>\n{body}</svg>\n"
    );
    let dir = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join("plate");
    std::fs::create_dir_all(&dir).unwrap();
    std::fs::write(dir.join(format!("{file}.svg")), &svg).unwrap();
    let mut options = resvg::usvg::Options::default();
    options.fontdb_mut().load_font_data(dejavu::sans::regular().to_vec());
    options.fontdb_mut().load_font_data(dejavu::sans::bold().to_vec());
    let tree = resvg::usvg::Tree::from_str(&svg, &options).unwrap();
    let scale = 8.0 / 3.78;
    let size = tree.size();
    let (w, h) = ((size.width() * scale) as u32, (size.height() * scale) as u32);
    let mut pixmap = resvg::tiny_skia::Pixmap::new(w, h).unwrap();
    resvg::render(&tree, resvg::tiny_skia::Transform::from_scale(scale, scale), &mut pixmap.as_mut());
    pixmap.save_png(dir.join(format!("{file}.png"))).unwrap();
}
