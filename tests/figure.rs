//! The figures of devices and the symbols inside them.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may panic")]

use std::fmt::Write as _;

use bellwire::drawing::device_sheet;
use bellwire::figure::graphic::{Graphic, Turn, Use, graphic};
use bellwire::figure::{Figure, Side, Sides, default_sides, design};
use bellwire::lettering::Height;
use bellwire::netlist::{DeviceId, Form, Job, read, read_text};
use bellwire::scene::{Anchor, Dash, Fill, Group, M, Piece, Point, Rect, Role, Shape, Sheet, Text, Width};
use bellwire::{library, output};
use proptest::prelude::*;

/// Data sheets that people might write and that are harder to draw than what the program ships.
const HARD: &[(&str, &str)] = &[
    (
        "controller",
        "    name: controller
    terminals: [L+, M, I1, I2, I3, I4, Q1, Q2, C, NO, NC, Z, ZC, A, B, SH]
    loads: {SUPPLY: {plus: L+, minus: M, volts: 24 V, amps: 120 mA}}
    inputs:
      I1: {at: I1, common: M, active: high}
      I2: {at: I2, common: M, active: high}
      I3: {at: I3, common: M, active: high}
      I4: {at: I4, common: M, active: either, volts: 24 V}
    outputs:
      Q1: {at: Q1, common: L+, drives: high, amps: 500 mA}
      Q2: {at: Q2, common: L+, drives: high, amps: 500 mA}
    contacts: {R1: {common: C, no: NO, nc: NC, volts: 28 V, amps: 5 A}}
    supervised: {Z: {at: Z, common: ZC, rest: 2k2, alarm: open}}
    signal_pairs: {BUS: {a: A, b: B, kind: rs485}}
    screens: [SH]
",
    ),
    (
        "comb",
        "    name: relay board with one common
    terminals: [C, NO1, NO2, NC3, NO4]
    contacts:
      K1: {common: C, no: NO1}
      K2: {common: C, no: NO2}
      K3: {common: C, nc: NC3}
      K4: {common: C, no: NO4}
",
    ),
    (
        "fuse-block",
        "    name: fuse block
    terminals: [1, 2, 3, 4, 5, 6, 7, 8]
    fuses:
      F1: {between: [1, 2], amps: 1 A}
      F2: {between: [3, 4], amps: 2 A}
      F3: {between: [5, 6], amps: 3 A}
      F4: {between: [7, 8], amps: 500 mA}
",
    ),
    (
        "common-between",
        "    name: level switch, common between
    terminals: [NC, COM, NO]
    contacts: {S: {common: COM, no: NO, nc: NC}}
    symbol: act-float
",
    ),
    (
        "two-coils",
        "    name: relay with two coils
    terminals: [A1, A2, B1, B2, 11, 12, 14, 23, 24]
    coils: {SET: {between: [A1, A2], volts: 12 V}, RESET: {between: [B1, B2], volts: 12 V}}
    contacts: {P1: {common: 11, nc: 12, no: 14, by: SET}, P2: {common: 23, no: 24, by: RESET}}
",
    ),
    (
        "drive",
        "    name: vent drive board
    terminals: [1, 2, 3, 4, 5, ANT]
    loads: {board: {plus: 1, minus: 2, volts: 20..28 V, amps: 0.5 A, existing: true}}
    dry_inputs: {START: {between: [3, 4], momentary: 0.2..2 s}, STOP: {between: [4, 5], safety: true}}
    aerials: [ANT]
",
    ),
    (
        "end-of-line",
        "    name: detector with its resistors
    terminals: [Z, ZC, T]
    resistors: {EOL: {between: [Z, T], ohms: 4k7}, ALARM: {between: [T, ZC], ohms: 2k2}}
    contacts: {S: {common: Z, nc: ZC}}
",
    ),
];

fn kinds() -> Vec<&'static str> {
    library::device_types().chain(HARD.iter().map(|(name, _)| *name)).collect()
}

/// A job of one device.
fn job_of(kind: &str, more: &str) -> Job {
    let more = if kind == "terminal-strip" { ", ways: 4" } else { more };
    let mut text =
        format!("job: {{title: plate}}\ndevices:\n  {kind}: {{type: {kind}{more}}}\ndata_sheets:\n");
    for (name, sheet) in HARD {
        let _ = write!(text, "  {name}:\n{sheet}");
    }
    let reading = read_text("plate.yaml", &text);
    reading.job.unwrap_or_else(|| panic!("{kind}: {:?}", reading.findings))
}

/// The graphic symbols, and figures that are hard to draw, stay on their sheets; plates of both are written into the folder
/// for test files, for people to look at.
#[test]
fn pictures_stay_on_their_sheets() {
    let plain = |kind: &str, more: &str| {
        let job = job_of(kind, more);
        let wish = default_sides(&job, DeviceId(0));
        device_sheet(&job, &design(&job, DeviceId(0), &wish.plain(job.devices[0].form), &[]))
    };
    let mut hard: Vec<Sheet> = HARD.iter().map(|(kind, _)| plain(kind, "")).collect();
    for (kind, more) in [
        ("reed-contact", ", rest: operated"),
        ("limit-switch", ", rest: operated"),
        ("push-button-nc", ", rest: operated"),
        ("dc-supply", ", volts: 12 V, amps: 1 A"),
        ("fuse", ", amps: 500 mA"),
        ("resistor", ", ohms: 4k7"),
        ("lamp", ", volts: 24 V, watts: 5 W"),
    ] {
        hard.push(plain(kind, more));
    }
    for kind in
        ["relay", "fuse", "sensor-npn", "relay-module", "limit-switch", "fuse-block", "terminal-strip"]
    {
        let job = job_of(kind, "");
        let flip = |i: usize| if i % 3 == 1 { (Side::Right, 2) } else { (Side::Left, 1) };
        let count = job.devices[0].terminals.len();
        let of = if job.devices[0].form == Form::Strip {
            (0..count).flat_map(|i| [(Side::Left, 1), (Side::Right, 1 + i as u32 % 3)]).collect()
        } else {
            (0..count).map(flip).collect()
        };
        hard.push(device_sheet(&job, &design(&job, DeviceId(0), &Sides { of, upturned: false }, &[])));
    }
    write_plate("hard", hard);
    write_plate("symbols", library::GRAPHICS.iter().map(|(name, svg)| symbol_sheet(name, svg)).collect());
}

/// The devices of the examples and of the jobs for tests, as layout would be asked for them at first.
#[test]
fn lettering_is_clear_in_real_jobs() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files: Vec<_> = ["examples", "tests/jobs"]
        .iter()
        .flat_map(|folder| std::fs::read_dir(root.join(folder)).unwrap())
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "yaml"))
        .collect();
    files.sort();
    assert!(files.len() > 20, "only {} jobs", files.len());
    for file in files {
        let bytes = std::fs::read(&file).unwrap();
        let mut fetch = |used: &str| std::fs::read(file.with_file_name(used)).map_err(|e| e.to_string());
        let reading = read(&file.display().to_string(), bytes, &mut fetch);
        let Some(job) = reading.job else { continue };
        for (id, device) in job.device_ids() {
            let figure = design(&job, id, &default_sides(&job, id).plain(device.form), &[]);
            check_lettering(&device.name, &figure);
        }
    }
}

/// A symbol above its name.
fn symbol_sheet(name: &str, svg: &str) -> Sheet {
    let symbol = Graphic::read(svg).unwrap();
    let mut group = Group::new(Role::Label(name.to_owned()));
    let at = Point { x: if symbol.stands_for == Use::Mark { 12.0 } else { 10.0 }, y: 7.0 };
    symbol.placed(Turn::LEVEL, at).into_iter().for_each(|shape| group.shape(shape));
    group.text(Text::new(name, 22.0, 18.0, Height::H1_8).anchored(Anchor::Middle));
    Sheet { size: (44.0, 21.0), title: name.to_owned(), description: String::new(), content: vec![group] }
}

fn stays_on_its_sheet(sheet: &Sheet) {
    let (w, h) = sheet.size;
    for shape in sheet.content.iter().flat_map(Group::shapes) {
        let ink = shape.bounds().unwrap();
        let inside = ink.x >= 0.0 && ink.y >= 0.0 && ink.right() <= w && ink.bottom() <= h;
        assert!(inside, "{}: {shape:?} leaves the sheet of {w} by {h} mm", sheet.title);
    }
}

/// Puts small sheets in rows on one large one.
fn write_plate(file: &str, sheets: Vec<Sheet>) {
    sheets.iter().for_each(stays_on_its_sheet);
    let (mut x, mut y, mut tallest) = (0.0, 0.0, 0.0_f64);
    let mut content = Vec::new();
    for sheet in sheets {
        let (w, h) = sheet.size;
        if x + w > 270.0 {
            (x, y, tallest) = (0.0, y + tallest, 0.0);
        }
        content.extend(sheet.content.iter().map(|group| group.moved(x, y)));
        x += w;
        tallest = tallest.max(h);
    }
    let sheet =
        Sheet { size: (270.0, y + tallest), title: file.to_owned(), description: String::new(), content };
    let svg = output::svg(&sheet);
    let dir = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join("plates");
    std::fs::create_dir_all(&dir).unwrap();
    std::fs::write(dir.join(format!("{file}.png")), output::png(&svg, sheet.size, 110.0).unwrap()).unwrap();
}

/// A figure's lines as straight pieces with half their width; arcs and circles in short chords.
fn pieces(shape: &Shape) -> Vec<(Point, Point, f64)> {
    let chord = |at: Point, r: f64, i: i32| {
        let angle = f64::from(i) * std::f64::consts::TAU / 32.0;
        Point { x: at.x + r * angle.cos(), y: at.y + r * angle.sin() }
    };
    match shape {
        Shape::Path { pieces, width, .. } => {
            let half = width.map_or(0.0, |w| w.mm() / 2.0);
            let (mut start, mut here, mut out) = (Point::default(), Point::default(), Vec::new());
            for piece in pieces {
                let to = match *piece {
                    Piece::Move(p) => {
                        (start, here) = (p, p);
                        continue;
                    }
                    // A chord is near enough for the small arcs of the symbols.
                    Piece::Line(p) | Piece::Arc { to: p, .. } => p,
                    Piece::Close => start,
                };
                out.push((here, to, half));
                here = to;
            }
            out
        }
        Shape::Circle { at, radius, width, .. } => {
            let half = width.mm() / 2.0;
            (0..32).map(|i| (chord(*at, *radius, i), chord(*at, *radius, i + 1), half)).collect()
        }
        Shape::Text(_) | Shape::Stroke(_) => Vec::new(),
    }
}

/// Whether a straight line passes through a box.
fn passes(a: Point, b: Point, r: &Rect) -> bool {
    let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
    for (p, q, low, high) in [(a.x, b.x, r.x, r.right()), (a.y, b.y, r.y, r.bottom())] {
        let d = q - p;
        if d.abs() < 1e-9 {
            if p <= low || p >= high {
                return false;
            }
            continue;
        }
        let (t0, t1) = ((low - p) / d, (high - p) / d);
        enter = enter.max(t0.min(t1));
        leave = leave.min(t0.max(t1));
    }
    enter < leave
}

/// Nothing in a figure lies on its lettering, and nothing leaves the outline but an aerial, into its margin.
fn check_lettering(kind: &str, figure: &Figure) {
    let outline = Rect { x: 0.0, y: 0.0, w: f64::from(figure.w) * M, h: f64::from(figure.h) * M };
    let below = f64::from(figure.margin[3]) * M;
    let room = Rect { h: outline.h + below, ..outline }.grown(0.01);
    let texts: Vec<_> = figure
        .inside
        .iter()
        .filter_map(|s| match s {
            Shape::Text(t) => Some((t.text.as_str(), t.ink())),
            _ => None,
        })
        .collect();
    for shape in &figure.inside {
        let ink = shape.bounds().unwrap();
        assert!(
            ink.x >= room.x
                && ink.right() <= room.right()
                && ink.y >= room.y
                && ink.bottom() <= room.bottom(),
            "{kind}: {shape:?} leaves the outline {room:?}"
        );
    }
    let edge = Shape::rect(outline, Some(Width::Medium), Dash::Solid, Fill::None);
    let circle = |l: &bellwire::figure::Landing| Shape::Circle {
        at: Point { x: f64::from(l.x) * M, y: f64::from(l.y) * M },
        radius: 1.0,
        width: Width::Normal,
        fill: Fill::White,
    };
    let shapes = figure.inside.iter().cloned().chain([edge]).chain(figure.landings.iter().map(circle));
    let lines: Vec<_> = shapes.flat_map(|s| pieces(&s)).collect();
    for (i, (text, ink)) in texts.iter().enumerate() {
        for (other, box_of) in &texts[..i] {
            assert!(!ink.overlaps(box_of), "{kind}: {text:?} lies on {other:?}");
        }
        for (a, b, half) in &lines {
            assert!(!passes(*a, *b, &ink.grown(*half)), "{kind}: a line {a:?} {b:?} through {text:?}");
        }
    }
}

#[test]
fn lettering_is_clear_in_plain_figures() {
    for kind in kinds() {
        for more in ["", ", rest: operated"] {
            let job = job_of(kind, more);
            let wish = default_sides(&job, DeviceId(0));
            check_lettering(kind, &design(&job, DeviceId(0), &wish.plain(job.devices[0].form), &[]));
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
    #[test]
    fn lettering_is_clear_whatever_the_sides(
        kind in prop::sample::select(kinds()),
        choices in prop::collection::vec((any::<bool>(), 1_u32..4), 16)
    ) {
        let job = job_of(kind, "");
        let device = &job.devices[0];
        let side = |right| if right { Side::Right } else { Side::Left };
        let of = match device.form {
            Form::Box => choices.iter().take(device.terminals.len()).map(|(r, n)| (side(*r), *n)).collect(),
            _ => choices
                .iter()
                .take(device.terminals.len())
                .flat_map(|(r, n)| [(Side::Left, n - 1), (Side::Right, u32::from(*r) + 1)])
                .collect(),
        };
        check_lettering(kind, &design(&job, DeviceId(0), &Sides { of, upturned: false }, &[]));
    }
}

/// Landings: printed order on each side, three modules from the last of one terminal to the first of the next, two
/// between those of one, on the outline.
#[test]
fn landings_stand_in_printed_order() {
    for kind in kinds() {
        let job = job_of(kind, "");
        if job.devices[0].form != Form::Box {
            continue;
        }
        let of =
            (0..job.terminals.len()).map(|i| if i % 2 == 0 { (Side::Left, 2) } else { (Side::Right, 1) });
        let figure = design(&job, DeviceId(0), &Sides { of: of.collect(), upturned: false }, &[]);
        for side in [Side::Left, Side::Right] {
            let on: Vec<_> = figure.landings.iter().filter(|l| l.side == side).collect();
            assert!(on.iter().all(|l| l.x == if side == Side::Left { 0 } else { figure.w }), "{kind}");
            assert!(on.iter().all(|l| l.y > 0 && l.y < figure.h), "{kind}");
            for pair in on.windows(2) {
                let apart = pair[1].y - pair[0].y;
                let same = pair[0].terminal == pair[1].terminal;
                assert_eq!(apart, if same { 2 } else { 3 }, "{kind}");
                assert!(pair[0].terminal <= pair[1].terminal, "{kind}");
            }
        }
    }
}

/// Every graphic symbol can be read, has the points that its use asks for, and bears them on the grid.
#[test]
fn graphics_stand_on_the_grid() {
    assert!(library::GRAPHICS.len() > 50);
    for (name, svg) in library::GRAPHICS {
        let symbol = Graphic::read(svg).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert!(!symbol.title.is_empty(), "{name} has no title");
        assert_eq!(graphic(name).unwrap(), &symbol);
        let anchors: Vec<&str> = symbol.anchors.keys().map(String::as_str).collect();
        let wanted: &[&[&str]] = match symbol.stands_for {
            Use::Source | Use::Load | Use::Coil => &[&["a", "b"]],
            Use::Between => &[&["a", "b"], &["anode", "cathode"], &["at", "common"]],
            Use::Contact => &[&["common", "no"], &["common", "nc"], &["common", "nc", "no"]],
            Use::Mark => &[&["t"]],
            Use::Actuator => &[&[]],
        };
        assert!(wanted.contains(&anchors.as_slice()), "{name}: {anchors:?}");
        for (anchor, at) in &symbol.anchors {
            for part in [at.x / M, at.y / M] {
                assert!((part - part.round()).abs() < 1e-9, "{name}: {anchor} is off the grid");
            }
        }
        let holds = matches!(symbol.stands_for, Use::Coil | Use::Contact | Use::Actuator);
        assert_eq!(symbol.hold.is_some(), holds, "{name}: a hold");
    }
}
