//! Sheets drawn from layouts made by hand.

#![allow(clippy::unwrap_used)]

use bellwire::circuit::Circuit;
use bellwire::diagnostic::{Finding, Severity, Subject};
use bellwire::drawing::{self, Drawing};
use bellwire::figure::{self, Side, Sides};
use bellwire::layout::{
    Conductor, Followed, Frame, GridPoint, Label, LabelOf, Layout, Lead, Placed, Sheath, Wire, WireEnd,
};
use bellwire::lettering::Height;
use bellwire::netlist::*;
use bellwire::output;
use bellwire::scene::{Anchor, M, Point, Rect, Role, Shape, Text};

const JOB: &str = r#"
job:
  title: Roof vent controller
  number: J-0412
  owner: Larkfield Controls
  site: Larkfield Nursery, House 3
  status: as-built
  revision: B
  date: 2026-03-14
  drawn_by: installer
  notes: [Fit B1 with the vent fully closed.]
devices:
  G1: {type: dc-supply, name: 12 V supply, volts: 12 V, amps: 1 A, location: Bench}
  F1: {type: fuse, amps: 1 A, location: Control box}
  X1: {type: splice, name: 0 V crimp, location: Control box}
  K1:
    type: relay-module
    location: Control box
    settings:
      OUT1: {pulse: 1 s}
      IN1:  {contact: normally-open, drives: nothing}
    unused: {IN2: taped, COM2: taped, NO2: taped, COM1: capped, NO1: capped}
cables:
  W1:
    type: twin-0.75
    length: 0.5 m
    cores:
      red:   [G1.V+, F1.1]
      black: [G1.V-, X1]
  W4: {type: single-0.75, length: 0.2 m, cores: {white: [F1.2, K1.+V]}}
  W5: {type: single-0.75, length: 0.2 m, cores: {yellow: [X1, K1.0V]}}
  W6: {cores: {white-blue: [X1, K1.IN1]}}
"#;

fn job() -> Job {
    let reading = read_text("job.yaml", JOB);
    reading.job.unwrap_or_else(|| panic!("{:?}", reading.findings))
}

/// Puts a device down; terminals named in `right` stand on the right.
fn put(layout: &mut Layout, job: &Job, id: u32, at: (i32, i32), right: &[&str]) {
    let device = job.device(DeviceId(id));
    let mut of = Vec::new();
    for t in device.terminals.iter() {
        let name = job.terminal(TerminalId(t)).name.clone();
        if device.form == Form::Splice {
            of.extend([(Side::Left, 1), (Side::Right, 2)]);
        } else {
            of.push((if right.contains(&name.as_str()) { Side::Right } else { Side::Left }, 1));
        }
    }
    let figure = figure::design(job, DeviceId(id), &Sides { of, upturned: false }, &[]);
    let i = layout.devices.len();
    layout.devices.push(Placed { figure, at: GridPoint { x: at.0, y: at.1 } });
    let x = f64::from(at.0) * M;
    let y = f64::from(at.1) * M - 1.5;
    label(layout, &device.name, LabelOf::Device(i), x, y, Height::H3_5, true, Anchor::Start);
    let x = x + bellwire::lettering::width(&device.name, Height::H3_5, true) + 1.5;
    label(
        layout,
        device.title.as_deref().unwrap(),
        LabelOf::Device(i),
        x,
        y,
        Height::H1_8,
        false,
        Anchor::Start,
    );
}

#[allow(clippy::too_many_arguments)]
fn label(
    l: &mut Layout,
    text: &str,
    of: LabelOf,
    x: f64,
    y: f64,
    height: Height,
    bold: bool,
    anchor: Anchor,
) {
    let mut t = Text::new(text, x, y, height).anchored(anchor);
    t.bold = bold;
    let ink = t.ink();
    l.labels.push(Label {
        text: text.into(),
        of,
        at: Point { x, y },
        anchor,
        height,
        bold,
        upright: false,
        ink,
    });
}

fn landing(layout: &Layout, job: &Job, name: &str, nth: usize) -> (WireEnd, GridPoint, Side) {
    for (d, placed) in layout.devices.iter().enumerate() {
        let mut hits = placed
            .figure
            .landings
            .iter()
            .enumerate()
            .filter(|(_, l)| job.label(l.terminal) == name)
            .skip(nth);
        if let Some((i, l)) = hits.next() {
            return (
                WireEnd::Landing(d, i),
                GridPoint { x: placed.at.x + l.x, y: placed.at.y + l.y },
                l.side,
            );
        }
    }
    panic!("{name}")
}

/// A core along its corner columns.
fn wire(layout: &mut Layout, job: &Job, core: u32, via: &[i32], nth: [usize; 2]) {
    let c = job.core(CoreId(core)).clone();
    let name = |e: usize| match c.ends[e].to {
        End::Terminal(t) => job.label(t),
        _ => panic!(),
    };
    let (a, pa, sa) = landing(layout, job, &name(0), nth[0]);
    let (b, pb, sb) = landing(layout, job, &name(1), nth[1]);
    let mut points = vec![pa];
    let mut y = pa.y;
    for x in via {
        points.push(GridPoint { x: *x, y });
        y = pb.y;
        points.push(GridPoint { x: *x, y });
    }
    points.push(pb);
    let w = layout.wires.len();
    layout.wires.push(Wire { conductor: Conductor::Core(CoreId(core)), ends: [a, b], points });
    let code: String = c.colours.iter().map(|c| c.code()).collect();
    for (e, p, side, far) in [(0, pa, sa, name(1)), (1, pb, sb, name(0))] {
        let (x, anchor) = if side == Side::Right {
            (f64::from(p.x) * M + 2.0, Anchor::Start)
        } else {
            (f64::from(p.x) * M - 2.0, Anchor::End)
        };
        let y = f64::from(p.y) * M - 0.9;
        label(layout, &format!("{code} → {far}"), LabelOf::WireEnd(w, e), x, y, Height::H1_8, false, anchor);
    }
}

fn small() -> (Job, Layout) {
    let job = job();
    let mut layout = Layout {
        size: (96, 34),
        devices: vec![],
        wires: vec![],
        sheaths: vec![],
        leads: vec![],
        frames: vec![],
        labels: vec![],
        unmet: Vec::new(),
        followed: Followed::default(),
    };
    put(&mut layout, &job, 0, (4, 6), &["V+", "V-"]);
    put(&mut layout, &job, 1, (36, 6), &["2"]);
    put(&mut layout, &job, 2, (44, 13), &[]);
    put(&mut layout, &job, 3, (66, 6), &["COM1", "NO1", "COM2", "NO2"]);
    wire(&mut layout, &job, 0, &[], [0, 0]);
    wire(&mut layout, &job, 1, &[30], [0, 0]);
    wire(&mut layout, &job, 2, &[52], [0, 0]);
    wire(&mut layout, &job, 3, &[54], [1, 0]);
    wire(&mut layout, &job, 4, &[56], [2, 0]);
    for (name, n) in [("K1:COM1", 0), ("K1:NO1", 0), ("K1:COM2", 0), ("K1:NO2", 0), ("K1:IN2", 0)] {
        let (_, p, side) = landing(&layout, &job, name, n);
        let step = if side == Side::Right { 2 } else { -2 };
        let (t, _) = job.terminal_ids().find(|(t, _)| job.label(*t) == name).unwrap();
        layout.leads.push(Lead { terminal: t, points: [p, GridPoint { x: p.x + step, y: p.y }] });
        let x = f64::from(p.x + step * 2) * M + 0.3 * f64::from(step);
        let anchor = if step > 0 { Anchor::Start } else { Anchor::End };
        let n = layout.leads.len() - 1;
        label(
            &mut layout,
            job.unused(t).unwrap().way.unwrap().word(),
            LabelOf::Lead(n),
            x,
            f64::from(p.y) * M + 0.9,
            Height::H1_8,
            false,
            anchor,
        );
    }
    let y = layout.wires[0].points[0].y;
    let outline = Rect { x: 22.0 * M, y: f64::from(y) * M - 2.0, w: 6.0 * M, h: 11.5 };
    let tag = Rect { x: 23.4 * M, y: f64::from(y) * M + 1.2, w: 3.2 * M, h: 5.0 };
    layout.sheaths.push(Sheath { cable: CableId(0), level: outline, legs: [vec![], vec![]], tag });
    label(&mut layout, "W1", LabelOf::Tag(0), 25.0 * M, tag.y + 3.75, Height::H2_5, true, Anchor::Middle);
    label(
        &mut layout,
        "2 × 0.75 mm² · 0.5 m",
        LabelOf::MakeUp(0),
        25.0 * M,
        outline.bottom() + 3.0,
        Height::H1_8,
        false,
        Anchor::Middle,
    );
    layout
        .frames
        .push(Frame { location: vec!["Bench".into()], rect: Rect { x: 1.0, y: 3.0, w: 45.0, h: 50.0 } });
    label(&mut layout, "Bench", LabelOf::Frame(0), 2.0, 6.0, Height::H1_8, true, Anchor::Start);
    (job, layout)
}

fn finding(rule: &'static str, severity: Severity, message: &str, subject: Subject) -> Finding {
    Finding {
        rule,
        severity,
        message: message.into(),
        fix: "".into(),
        cures: Box::default(),
        accepted: None,
        state: None,
        subjects: vec![subject],
        labels: vec![],
    }
}

fn on_sheets(job: &Job, layout: &Layout, findings: &[Finding]) -> Drawing {
    let flagged = drawing::Flagged::by_check(findings);
    drawing::on_sheets(job, &Circuit::of(job), std::slice::from_ref(layout), flagged).unwrap()
}

fn drawn(job: &Job, layout: &Layout, findings: &[Finding]) -> Vec<String> {
    let drawing = on_sheets(job, layout, findings);
    let proven = output::Proven::new(&drawing, job).unwrap_or_else(|fault| panic!("{fault}"));
    proven.svg().to_vec()
}

#[test]
fn a_drawing_reads_back_as_its_job_and_comes_out_the_same_twice() {
    let (job, layout) = small();
    let first = drawn(&job, &layout, &[]);
    assert_eq!(first.len(), 1);
    assert!(first[0].contains(r#"width="297mm""#));
    assert_eq!(first, drawn(&job, &layout, &[]));
}

/// Two links between the same two splices bear one name, and each of them is drawn.
#[test]
fn a_link_that_is_written_twice_is_drawn_twice() {
    let text = include_str!("adversary/ring-of-links.yaml");
    let job = read_text("job.yaml", text).job.unwrap();
    let drawing = drawing::draw(&job, &Circuit::of(&job), &[], None);
    let sheets: Vec<String> = drawing.sheets.iter().map(output::svg).collect();
    assert_eq!(drawing::read_back(&sheets, &job), Ok(Vec::new()));
    assert_eq!(sheets[0].matches(r#"data-core="X1 X2""#).count(), 2);
}

/// Each slip that somebody may make with the file in another program, and what must be said about it.
#[test]
fn what_an_edited_drawing_says_differently_is_told() {
    let (job, layout) = small();
    let svg = drawn(&job, &layout, &[]).remove(0);
    let told = |edited: &str| drawing::read_back(&[edited], &job).unwrap();
    assert!(told(&svg).is_empty());

    let core = |name: &str| {
        let start = svg.find(&format!(r#"<g class="core" data-cable="{name}""#)).unwrap();
        let end = start + svg[start..].find("</g>").unwrap() + 4;
        (svg[start..end].to_owned(), svg.replacen(&svg[start..end], "", 1))
    };
    let (w4, without_w4) = core("W4");
    assert_eq!(told(&without_w4), ["W4 white is not on the drawing"]);

    let (w1, without_w1) = core("W1");
    let painted =
        |paint: &str| without_w1.replacen("</svg>", &format!("{}</svg>", w1.replace("#d01c24", paint)), 1);
    let red = painted("#185cbe");
    assert_eq!(told(&red), ["W1 red is drawn in blue, not in red"]);
    let odd = painted("#d01c99");
    assert_eq!(told(&odd), ["W1 red is drawn in no colour that a core has, not in red"]);

    let moved = without_w4.replacen("</svg>", &format!("<g transform='translate(0 4)'>{w4}</g></svg>"), 1);
    let said = told(&moved);
    assert!(said.iter().any(|d| d.contains("W4 white does not reach F1:2")), "{said:?}");
    let far = without_w4.replacen("</svg>", &format!("<g transform='translate(0 2)'>{w4}</g></svg>"), 1);
    let said = told(&far);
    assert!(said.iter().any(|d| d.contains("W4 white does not reach K1:+V")), "{said:?}");
    let near = without_w4.replacen("</svg>", &format!("<g transform='translate(0.2 0.1)'>{w4}</g></svg>"), 1);
    assert!(told(&near).is_empty());

    let worded = svg.replacen("WH → K1:+V", "WH → K1:0V", 1);
    assert_eq!(told(&worded), ["W4 white goes to K1:+V, but the words at its end say K1:0V"]);

    let lead = svg.replacen(r#"data-way="capped""#, r#"data-way="taped""#, 1);
    assert!(told(&lead).iter().any(|d| d.starts_with("lead K1:COM1 has an end drawn as taped")));
    let renamed = svg.replace(r#"data-terminal="0V""#, r#"data-terminal="OV""#);
    let said = told(&renamed);
    assert!(said.contains(&"terminal K1:0V is not on the drawing".to_owned()));
    assert!(said.contains(&"terminal K1:OV is on the drawing but not in the job file".to_owned()));

    let circle = |terminal: &str| {
        let from = svg
            .find(&format!(r#"data-device="{}" data-terminal="{}""#, &terminal[..2], &terminal[3..]))
            .unwrap();
        let value = |name: &str| {
            let at = svg[from..].find(&format!("{name}=\"")).unwrap() + from + name.len() + 2;
            svg[at..at + svg[at..].find('"').unwrap()].to_owned()
        };
        (value("cx"), value("cy"))
    };
    let ((x1, y1), (x2, y2)) = (circle("G1:V+"), circle("F1:2"));
    let line =
        format!("<line x1='{x1}' y1='{y1}' x2='{x2}' y2='{y2}' stroke='black' stroke-width='0.5'/></svg>");
    let said = told(&svg.replacen("</svg>", &line, 1));
    assert!(said.iter().any(|d| d.starts_with("a line that bears no name touches")), "{said:?}");
    let note = "<text x='40' y='40'>see me</text><path d='M5 5h3' stroke='red'/></svg>";
    assert!(told(&svg.replacen("</svg>", note, 1)).is_empty());

    assert!(drawing::read_back(&["no svg"], &job).is_err());
    assert!(drawing::read_back(&["<svg xmlns='http://www.w3.org/2000/svg'/>"], &job).is_err());
}

#[test]
fn findings_are_listed_flagged_and_stamped() {
    let (job, layout) = small();
    let message = "G1 is shorted through W1 red and X1 as soon as B1 operates: the supply trips or burns.";
    let findings = [
        finding("short-circuit", Severity::Error, message, Subject::Core(0)),
        finding("unsafe-lead", Severity::Warning, "The lead NO2 of K1 is loose.", Subject::Terminal(12)),
    ];
    let svg = drawn(&job, &layout, &findings).remove(0);
    assert_eq!(svg.matches(r#"<g class="flag""#).count(), 2);
    assert!(svg.contains("FAULTY: 1 error"));
    assert!(svg.contains("error: G1 is shorted through W1 red"));
    let accepted = Finding { accepted: Some("it is so".into()), ..findings[0].clone() };
    let svg = drawn(&job, &layout, &[accepted]).remove(0);
    assert!(
        !svg.contains("FAULTY")
            && !svg.contains(r#"<g class="flag""#)
            && svg.contains("accepted short-circuit")
    );
}

#[test]
fn long_words_stay_in_the_title_block() {
    let (mut job, layout) = small();
    job.info.title = "Irrigation, frost heating and roof vents of glasshouses 3 to 5".into();
    job.info.drawn_by = Some("somebody-with-a-very-long-hyphenated-name-indeed".into());
    job.info.revisions = (0..6)
        .map(|i| format!("{i} 2026-01-0{i} moved the panel to the other wall of the store room"))
        .collect();
    let drawing = on_sheets(&job, &layout, &[]);
    let block = drawing.sheets[0].content.iter().find(|g| g.role == Role::TitleBlock).unwrap();
    let all = block.shapes().next().unwrap().bounds().unwrap();
    let inks: Vec<Rect> =
        block.shapes().filter_map(|s| if let Shape::Text(t) = s { Some(t.ink()) } else { None }).collect();
    for (i, ink) in inks.iter().enumerate() {
        assert!(all.holds(ink), "{ink:?} leaves {all:?}");
        assert!(inks[..i].iter().all(|other| !other.overlaps(ink)), "{ink:?}");
    }
}

#[test]
fn what_does_not_fit_goes_to_further_sheets() {
    let (mut job, layout) = small();
    job.info.sheet = SheetSize::A4;
    let note = "Keep the sensor cable off the tray of the heating, and mind the drip under vent 4.";
    job.info.notes = vec![note.into(); 40];
    let sheets = drawn(&job, &layout, &[]);
    assert!(sheets.len() > 1);
    for sheet in &sheets {
        assert!(sheet.contains("Isolate before working.") && sheet.contains("50 V AC or 120 V DC"));
        assert!(sheet.contains("No substitute for test."));
    }
    let words = "Keep the sensor cable off the tray";
    assert_eq!(sheets.iter().map(|s| s.matches(words).count()).sum::<usize>(), 40);
}

#[test]
fn pictures_have_the_size_that_was_asked_for() {
    let (job, layout) = small();
    let drawing = on_sheets(&job, &layout, &[]);
    let proven = output::Proven::new(&drawing, &job).unwrap();
    let png = proven.png(72.0).unwrap().remove(0);
    let be = |at: usize| u32::from_be_bytes(png[at..at + 4].try_into().unwrap());
    assert_eq!((be(16), be(20)), (842, 595));
    assert!(proven.png(100_000.0).is_err());
}

/// Names that nobody would choose, and words that are far too long.
const NASTY: &str = r#"
job:
  title: "Ärger <mit> & \"Zeichen\" 'ohne' Ende — Beleuchtung der Bootshalle im Hafen, zweite Ausbaustufe"
  number: J-<1>&
  owner: A Very Long Name of an Owner With Many Words Limited Partnership
  site: Somewhere quite far away beyond the hills where nobody goes
  drawn_by: Somebodywithaverylongnameindeedandnobreak
  notes: ["a note with <angle> & ampersand", "tab\there", "averylongwordaverylongwordaverylongwordaverylongwordaverylongwordaverylongwordaverylongword"]
devices:
  "G<1>": {type: dc-supply, name: "12 V & more \"quoted\"", volts: 12 V, amps: 1 A}
  "K'2": {name: "box → arrow", terminals: ["+", "-", "a b", "→x", "ÖÄÜ", "a-very-long-terminal-name-on-a-part-that-goes-on"]}
  X1: {type: splice, name: "0 V"}
cables:
  "W&1": {type: twin-0.75, cores: {red: ["G<1>.V+", "K'2.+"], black: ["G<1>.V-", X1]}}
  W2: {cores: {"1 → 2": [X1, "K'2.-"], white-blue: ["K'2.a b", "K'2.→x"], "green-yellow": taped}}
links: [["K'2.ÖÄÜ", "K'2.a-very-long-terminal-name-on-a-part-that-goes-on"]]
"#;

#[test]
fn odd_names_and_endless_words_are_drawn_whole() {
    let job = read_text("nasty.yaml", NASTY).job.unwrap();
    let drawing = drawing::draw(&job, &Circuit::of(&job), &[], None);
    let proven = output::Proven::new(&drawing, &job).unwrap_or_else(|fault| panic!("{fault}"));
    assert!(proven.svg()[0].contains("G&lt;1&gt;"));
    assert!(proven.png(50.0).is_ok());
    for group in drawing.sheets.iter().flat_map(|s| &s.content) {
        if !matches!(group.role, Role::Table(_) | Role::Notes | Role::TitleBlock) {
            continue;
        }
        let inks: Vec<(String, Rect)> = group
            .shapes()
            .filter_map(|s| if let Shape::Text(t) = s { Some((t.text.clone(), t.ink())) } else { None })
            .collect();
        for (i, (text, ink)) in inks.iter().enumerate() {
            let (w, h) = drawing.sheets[0].size;
            assert!(ink.x > 20.0 && ink.right() < w - 10.0 && ink.bottom() < h - 10.0, "{text}");
            let on = inks[..i].iter().find(|(_, other)| other.overlaps(ink));
            assert!(on.is_none(), "{text} on {on:?}");
        }
        // Nothing is written over a box to tick.
        for tick in group.shapes().filter_map(Shape::bounds).filter(|b| b.w > 2.0 && b.w < 3.5 && b.h == b.w)
        {
            assert!(inks.iter().all(|(_, ink)| !ink.overlaps(&tick)), "{tick:?}");
        }
    }
    let numbers: serde_json::Value = serde_json::from_str(&proven.geometry()).unwrap();
    assert_eq!(numbers["sheets"][0]["cores"].as_array().unwrap().len(), 6);
}

#[test]
fn a_character_that_the_font_lacks_is_named() {
    let job = read_text("job.yaml", "job: {title: 水 pump}\ndevices: {H1: {type: lamp, volts: 12 V}}\n")
        .job
        .unwrap();
    let drawing = drawing::draw(&job, &Circuit::of(&job), &[], None);
    assert!(drawing.remarks.iter().any(|r| r.contains('水')), "{:?}", drawing.remarks);
}

/// The shape of the numbers, and that they are those of the lines.
#[test]
fn geometry_says_where_everything_stands() {
    let (job, layout) = small();
    let drawing = on_sheets(&job, &layout, &[]);
    let proven = output::Proven::new(&drawing, &job).unwrap();
    let numbers: serde_json::Value = serde_json::from_str(&proven.geometry()).unwrap();
    let sheet = &numbers["sheets"][0];
    assert_eq!(sheet["size"], serde_json::json!([297, 210]));
    let core = &sheet["cores"][0];
    assert_eq!((&core["cable"], &core["core"]), (&"W1".into(), &"red".into()));
    assert_eq!(
        (&core["from"], &core["to"]),
        (&serde_json::json!(["G1", "V+"]), &serde_json::json!(["F1", "1"]))
    );
    let device = sheet["devices"].as_array().unwrap().iter().find(|d| d["id"] == "G1").unwrap();
    let terminal = device["terminals"].as_array().unwrap().iter().find(|t| t["id"] == "V+").unwrap();
    assert_eq!(core["points"][0], serde_json::json!([terminal["x"], terminal["y"]]));
    let splice = sheet["devices"].as_array().unwrap().iter().find(|d| d["id"] == "X1").unwrap();
    assert!(splice["terminals"].as_array().unwrap().iter().all(|t| t["id"] == ""));
    let labels = sheet["labels"].as_array().unwrap();
    let tag = labels.iter().find(|l| l["text"] == "W1" && l["of"] == "W1").unwrap();
    assert_eq!(tag["h"], 5);
    assert!(labels.iter().any(|l| l["text"] == "RD → F1:1" && l["of"] == "W1.red"));
}

/// A flag that stands away from its place bears the name of it: two texts, of which the number alone is framed.
#[test]
fn geometry_gives_each_text_a_place_of_its_own() {
    let job = read_text("mistakes.yaml", include_str!("../examples/mistakes.yaml")).job.unwrap();
    let circuit = Circuit::of(&job);
    let drawing = drawing::draw(&job, &circuit, &bellwire::checks::run(&job, &circuit), None);
    let proven = output::Proven::new(&drawing, &job).unwrap();
    let numbers: serde_json::Value = serde_json::from_str(&proven.geometry()).unwrap();
    let labels = numbers["sheets"][0]["labels"].as_array().unwrap();
    let named = labels.iter().filter(|label| label["of"] == "" && label["text"] == "W5 BU").count();
    assert_eq!(named, 1);
    let place = |label: &serde_json::Value| ["x", "y", "w", "h"].map(|key| label[key].to_string());
    let places: std::collections::BTreeSet<[String; 4]> = labels.iter().map(place).collect();
    assert_eq!(places.len(), labels.len());
}

#[test]
fn every_device_and_cable_has_a_sheet_and_a_zone() {
    let text = include_str!("../examples/roof-vent.yaml");
    let job = read_text("roof-vent.yaml", text).job.unwrap();
    let circuit = Circuit::of(&job);
    let spots = drawing::draw(&job, &circuit, &[], None).spots;
    let rows = bellwire::schedules::terminals(&job, &circuit, &spots);
    assert!(rows.iter().all(|row| row.spot.is_some()));
    let cables = bellwire::schedules::cables(&job, &circuit, &spots);
    assert!(cables.iter().all(|row| row.spot.as_ref().is_some_and(|spot| spot.sheet == 1)));
}

/// A drawing that the program made, with one conductor's place or colour altered in the file: each is told.
#[test]
fn an_altered_file_is_told_by_the_program() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let job = root.join("examples/roof-vent.yaml");
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("roof-vent.svg");
    let bellwire = |args: &[&std::ffi::OsStr]| {
        assert_cmd::Command::cargo_bin("bellwire").unwrap().args(args).output().unwrap()
    };
    assert!(bellwire(&["draw".as_ref(), job.as_os_str(), "-o".as_ref(), file.as_os_str()]).status.success());
    let svg = std::fs::read_to_string(&file).unwrap();
    let told = |edited: &str| {
        std::fs::write(&file, edited).unwrap();
        let said = bellwire(&["draw".as_ref(), "--verify".as_ref(), file.as_os_str(), job.as_os_str()]);
        (said.status.code(), String::from_utf8(said.stdout).unwrap())
    };
    assert_eq!(told(&svg).0, Some(0));

    let group = |core: &str| {
        let (cable, core) = core.split_once(' ').unwrap();
        let head = format!(r#"<g class="core" data-cable="{cable}" data-core="{core}""#);
        let start = svg.find(&head).unwrap();
        svg[start..start + svg[start..].find("</g>").unwrap() + 4].to_owned()
    };
    let path = |group: &str| {
        let start = group.find(" d=\"").unwrap() + 4;
        group[start..start + group[start..].find('"').unwrap()].to_owned()
    };
    let (red, black) = (group("W3 red"), group("W3 black"));

    // From terminal 3 of the drive to its free terminal 2, one row further up.
    let ends_at = path(&red).rsplit('L').next().unwrap().to_owned();
    let (x, y) = ends_at.split_once(' ').unwrap();
    let up: f64 = y.parse::<f64>().unwrap() - 7.5;
    let moved = svg.replacen(&red, &red.replace(&path(&red), &format!("{}L{x} {up}", path(&red))), 1);
    let deleted = svg.replacen(&red, "", 1);
    let swapped = svg
        .replacen(
            &red,
            &red.replace(r#"data-core="red""#, r#"data-core="SWAP""#).replace("#d01c24", "#000000"),
            1,
        )
        .replacen(
            &black,
            &black.replace(r#"data-core="black""#, r#"data-core="red""#).replace("#000000", "#d01c24"),
            1,
        )
        .replacen("SWAP", "black", 1);
    let added = svg.replacen(
        "</svg>",
        &format!(r##"<path d="{}" stroke="#d01c24" stroke-width="0.7" fill="none"/></svg>"##, {
            let start = path(&red);
            let from = start.trim_start_matches('M').split('L').next().unwrap().to_owned();
            let other = path(&black);
            format!("M{from}L{}", other.trim_start_matches('M').split('L').next().unwrap())
        }),
        1,
    );
    let recoloured = svg.replacen(&red, &red.replace("#d01c24", "#185cbe"), 1);
    for (what, edited, expected) in [
        ("moved", &moved, vec!["W3 red is drawn to A1:2, where the job file does not take it"]),
        ("deleted", &deleted, vec!["W3 red is not on the drawing"]),
        ("swapped", &swapped, vec!["W3 red does not reach K1:COM1", "W3 black does not reach K1:NO1"]),
        ("added", &added, vec!["a line that bears no name touches"]),
        ("recoloured", &recoloured, vec!["W3 red is drawn in blue, not in red"]),
    ] {
        assert_ne!(*edited, svg, "{what}");
        let (status, said) = told(edited);
        assert_eq!(status, Some(1), "{what}: {said}");
        for words in expected {
            assert!(said.contains(words), "{what}: {said}");
        }
    }
}
