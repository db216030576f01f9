//! An independent measure of drawings, taken on the lines of the SVG text itself. It shares no code with the layout, the
//! drawing or the read-back: it knows the names of groups in the file, and the rest is counting.
//!
//! What must be 0 is written beside each counter. The figures of sheets, colours and lettering are held against the
//! standards named there.

#![allow(clippy::unwrap_used)]

use std::collections::BTreeMap;
use std::path::PathBuf;

use bellwire::circuit::Circuit;
use bellwire::diagnostic::Finding;
use bellwire::drawing::Drawing;
use bellwire::netlist::{End, Job, SheetSize, read_text};
use bellwire::{checks, drawing, output};
use installation::{Installation, SHAPES};
use roxmltree::{Document, Node};

#[path = "benches/installation.rs"]
#[allow(dead_code, reason = "the benchmark counts what it makes")]
mod installation;

/// The grid module (IEC 61082-1 practice).
const M: f64 = 2.5;
const EPS: f64 = 0.01;

#[derive(Clone, Copy, Debug, PartialEq)]
struct Box4 {
    x0: f64,
    y0: f64,
    x1: f64,
    y1: f64,
}

impl Box4 {
    fn around(points: &[(f64, f64)]) -> Self {
        let fold = |f: fn(f64, f64) -> f64, start, get: fn(&(f64, f64)) -> f64| {
            points.iter().map(get).fold(start, f)
        };
        Self {
            x0: fold(f64::min, f64::MAX, |p| p.0),
            y0: fold(f64::min, f64::MAX, |p| p.1),
            x1: fold(f64::max, f64::MIN, |p| p.0),
            y1: fold(f64::max, f64::MIN, |p| p.1),
        }
    }

    fn grown(self, by: f64) -> Self {
        Self { x0: self.x0 - by, y0: self.y0 - by, x1: self.x1 + by, y1: self.y1 + by }
    }

    fn overlaps(self, o: Self) -> bool {
        self.x0 < o.x1 - EPS && o.x0 < self.x1 - EPS && self.y0 < o.y1 - EPS && o.y0 < self.y1 - EPS
    }
}

#[derive(Debug)]
struct Core {
    /// `CABLE.CORE`
    name: String,
    cable: String,
    ends: [String; 2],
    points: Vec<(f64, f64)>,
}

impl Core {
    fn pieces(&self) -> impl Iterator<Item = ((f64, f64), (f64, f64))> + '_ {
        self.points.windows(2).map(|p| (p[0], p[1]))
    }
}

#[derive(Debug, Default)]
struct Plan {
    cores: Vec<Core>,
    devices: Vec<(String, Box4)>,
    landings: Vec<(String, (f64, f64))>,
    labels: Vec<(String, String, Box4)>,
    /// The flags at which cores go on on other sheets, with what they say.
    references: Vec<(String, String)>,
    flags: Vec<Box4>,
    tables: Vec<Box4>,
}

fn number(node: &Node, name: &str) -> f64 {
    node.attribute(name).unwrap_or("0").parse().unwrap()
}

/// The points of a path made of straight pieces; arcs count by their ends.
fn points(d: &str) -> Vec<(f64, f64)> {
    let mut points = Vec::new();
    for piece in d.split_inclusive(|c: char| c.is_ascii_alphabetic()).collect::<Vec<_>>().windows(2) {
        let letter = piece[0].chars().last().unwrap();
        let numbers = piece[1].trim_end_matches(|c: char| c.is_ascii_alphabetic());
        let numbers: Vec<f64> = numbers.split_whitespace().map(|n| n.parse().unwrap()).collect();
        match letter {
            'M' | 'L' => points.push((numbers[0], numbers[1])),
            'A' => points.push((numbers[5], numbers[6])),
            _ => {}
        }
    }
    let tail = d.rfind(|c: char| c.is_ascii_alphabetic()).unwrap();
    if d[tail..].starts_with(['M', 'L']) {
        let numbers: Vec<f64> = d[tail + 1..].split_whitespace().map(|n| n.parse().unwrap()).collect();
        points.push((numbers[0], numbers[1]));
    }
    points
}

fn paths<'a>(node: &Node<'a, 'a>) -> Vec<Vec<(f64, f64)>> {
    node.children().filter(|n| n.has_tag_name("path")).map(|n| points(n.attribute("d").unwrap())).collect()
}

/// The box of a text's ink: from its stated length, and letters between the baseline and three quarters of the size,
/// a fifth below for letters that go down.
fn ink(node: &Node) -> Box4 {
    let (x, y) = (number(node, "x"), number(node, "y"));
    let (size, length) = (number(node, "font-size"), number(node, "textLength"));
    let text = node.text().unwrap_or_default();
    let below = if text.contains(['g', 'j', 'p', 'q', 'y', ',', '(', ')', 'Q', ';']) { 0.2 } else { 0.0 };
    let start = match node.attribute("text-anchor") {
        Some("middle") => -length / 2.0,
        Some("end") => -length,
        _ => 0.0,
    };
    let (a, b) = (start + 0.03 * size, start + length - 0.03 * size);
    if node.has_attribute("transform") {
        Box4 { x0: x - 0.74 * size, x1: x + below * size, y0: y - b, y1: y - a }
    } else {
        Box4 { x0: x + a, x1: x + b, y0: y - 0.74 * size, y1: y + below * size }
    }
}

fn plan(svg: &str) -> Plan {
    let document = Document::parse(svg).unwrap();
    let mut plan = Plan::default();
    for node in document.descendants() {
        let text = |name: &str| node.attribute(name).unwrap_or_default().to_owned();
        match node.attribute("class") {
            Some("core") => plan.cores.push(Core {
                name: format!("{}.{}", text("data-cable"), text("data-core")),
                cable: text("data-cable"),
                ends: [text("data-from"), text("data-to")],
                points: paths(&node).swap_remove(0),
            }),
            Some("device" | "splice") => {
                plan.devices.push((text("data-device"), Box4::around(&paths(&node)[0])));
            }
            Some("landing") => {
                let circle = node.children().find(|n| n.has_tag_name("circle")).unwrap();
                let (device, terminal) = (text("data-device"), text("data-terminal"));
                let name = if terminal.is_empty() { device } else { format!("{device}.{terminal}") };
                plan.landings.push((name, (number(&circle, "cx"), number(&circle, "cy"))));
            }
            Some("label") => {
                let words = node.children().find(|n| n.has_tag_name("text")).unwrap();
                let frame = paths(&node).first().map(|p| Box4::around(p));
                let shown = words.text().unwrap_or_default().trim().to_owned();
                plan.labels.push((text("data-of"), shown, frame.unwrap_or_else(|| ink(&words))));
            }
            Some("reference") => {
                let words = node.children().find(|n| n.has_tag_name("text")).unwrap();
                let name = format!("{}.{}", text("data-cable"), text("data-core"));
                let frame = Box4::around(&paths(&node)[0]);
                plan.references.push((name.clone(), words.text().unwrap_or_default().trim().to_owned()));
                plan.labels.push((name, String::new(), frame));
            }
            Some("flag") => plan.flags.push(Box4::around(&paths(&node)[0])),
            Some("table" | "title-block") => {
                let all: Vec<(f64, f64)> = paths(&node).into_iter().flatten().collect();
                plan.tables.push(Box4::around(&all));
            }
            _ => {}
        }
    }
    plan
}

/// Counts of what must not be. Every entry is a sentence, so that a failing test says where.
#[derive(Debug, Default)]
struct Faults {
    through_devices: Vec<String>,
    through_tables: Vec<String>,
    through_labels: Vec<String>,
    too_close: Vec<String>,
    label_on_label: Vec<String>,
    label_on_device: Vec<String>,
    flag_on_something: Vec<String>,
    ends_off: Vec<String>,
    corner_at_crossing: Vec<String>,
    slanted: Vec<String>,
    device_on_device: Vec<String>,
}

impl Faults {
    fn all(&self) -> Vec<(&'static str, usize)> {
        vec![
            ("through devices", self.through_devices.len()),
            ("through tables", self.through_tables.len()),
            ("through labels", self.through_labels.len()),
            ("too close", self.too_close.len()),
            ("label on label", self.label_on_label.len()),
            ("label on device", self.label_on_device.len()),
            ("flag on something", self.flag_on_something.len()),
            ("ends off", self.ends_off.len()),
            ("corner at crossing", self.corner_at_crossing.len()),
            ("slanted", self.slanted.len()),
            ("device on device", self.device_on_device.len()),
        ]
    }
}

/// Whether a level or upright piece comes into the inside of a box.
fn enters(a: (f64, f64), b: (f64, f64), area: Box4) -> bool {
    let line = Box4 { x0: a.0.min(b.0), y0: a.1.min(b.1), x1: a.0.max(b.0), y1: a.1.max(b.1) };
    line.x0 < area.x1 - EPS && line.x1 > area.x0 + EPS && line.y0 < area.y1 - EPS && line.y1 > area.y0 + EPS
}

fn faults(plan: &Plan, net: &dyn Fn(&str) -> usize) -> Faults {
    let mut faults = Faults::default();
    for core in &plan.cores {
        let name = &core.name;
        for (a, b) in core.pieces() {
            if (a.0 - b.0).abs() > EPS && (a.1 - b.1).abs() > EPS {
                faults.slanted.push(format!("{name} {a:?} {b:?}"));
            }
            for (device, area) in plan.devices.iter().filter(|(_, area)| enters(a, b, *area)) {
                faults.through_devices.push(format!("{name} through {device} {area:?}"));
            }
            for area in plan.tables.iter().filter(|area| enters(a, b, **area)) {
                faults.through_tables.push(format!("{name} through {area:?}"));
            }
            for (of, text, area) in &plan.labels {
                // A cable's own labels may lie on its cores, and a core's on itself.
                if of != name && *of != core.cable && enters(a, b, area.grown(0.3)) {
                    faults.through_labels.push(format!("{name} through `{text}` of {of} at {area:?}"));
                }
            }
            for area in plan.flags.iter().filter(|area| enters(a, b, area.grown(0.3))) {
                faults.flag_on_something.push(format!("{name} through flag {area:?}"));
            }
        }
        for (end, at) in core.ends.iter().zip([core.points.first(), core.points.last()]) {
            let at = at.unwrap();
            let loose = !end.contains('.') && !plan.landings.iter().any(|(n, _)| n == end);
            let on = |p: &(f64, f64)| (p.0 - at.0).abs() < EPS && (p.1 - at.1).abs() < EPS;
            let landed = plan.landings.iter().filter(|(_, p)| on(p)).map(|(n, _)| n).collect::<Vec<_>>();
            if (!loose && !landed.contains(&end)) || (loose && !landed.is_empty()) {
                faults.ends_off.push(format!("{name} at {at:?}: {end} expected, {landed:?} there"));
            }
        }
    }
    for (i, (of, text, area)) in plan.labels.iter().enumerate() {
        for (_, other, there) in plan.labels[..i].iter().filter(|(_, _, there)| there.overlaps(*area)) {
            faults.label_on_label.push(format!("`{text}` on `{other}` at {area:?} {there:?}"));
        }
        for (device, _) in plan.devices.iter().filter(|(_, there)| there.overlaps(*area)) {
            faults.label_on_device.push(format!("`{text}` of {of} on {device} at {area:?}"));
        }
        for flag in plan.flags.iter().filter(|flag| flag.overlaps(*area)) {
            faults.flag_on_something.push(format!("flag {flag:?} on `{text}`"));
        }
    }
    for (i, (device, area)) in plan.devices.iter().enumerate() {
        for (other, _) in plan.devices[..i].iter().filter(|(_, there)| there.overlaps(*area)) {
            faults.device_on_device.push(format!("{device} on {other}"));
        }
        for flag in plan.flags.iter().filter(|flag| flag.overlaps(*area)) {
            faults.flag_on_something.push(format!("flag {flag:?} on {device}"));
        }
    }
    for (i, flag) in plan.flags.iter().enumerate() {
        if plan.flags[..i].iter().any(|other| other.overlaps(*flag)) {
            faults.flag_on_something.push(format!("flag {flag:?} on a flag"));
        }
    }
    for (i, one) in plan.cores.iter().enumerate() {
        for other in &plan.cores[..i] {
            let same = net(&one.name) == net(&other.name);
            for p in one.pieces() {
                for q in other.pieces() {
                    pair(one, other, p, q, same, &mut faults);
                }
            }
        }
    }
    faults
}

type Piece = ((f64, f64), (f64, f64));

/// Two pieces of two cores: too close beside each other, or a corner or end within 1 M of where they cross.
fn pair(one: &Core, other: &Core, p: Piece, q: Piece, same: bool, faults: &mut Faults) {
    let level = |p: Piece| (p.0.1 - p.1.1).abs() < EPS;
    let span = |p: Piece| {
        if level(p) { (p.0.0.min(p.1.0), p.0.0.max(p.1.0)) } else { (p.0.1.min(p.1.1), p.0.1.max(p.1.1)) }
    };
    let place = |p: Piece| if level(p) { p.0.1 } else { p.0.0 };
    if level(p) == level(q) {
        let shared = span(p).1.min(span(q).1) - span(p).0.max(span(q).0);
        let apart = (place(p) - place(q)).abs();
        // Cores of one conductor may be near, but never on one line.
        let least = if same { 0.5 } else { M };
        if shared > EPS && apart < least - EPS {
            faults.too_close.push(format!("{} and {} {p:?} {q:?}", one.name, other.name));
        }
    } else {
        let (x, y) = if level(p) { (place(q), place(p)) } else { (place(p), place(q)) };
        let within = |p: Piece, at: f64| at > span(p).0 - EPS && at < span(p).1 + EPS;
        let (along_p, along_q) = if level(p) { (x, y) } else { (y, x) };
        if within(p, along_p) && within(q, along_q) {
            let near = |c: &&(f64, f64)| (c.0 - x).abs() < M - EPS && (c.1 - y).abs() < M - EPS;
            if let Some(corner) = one.points.iter().chain(&other.points).find(near) {
                faults
                    .corner_at_crossing
                    .push(format!("{} and {} cross at {x} {y}, {corner:?}", one.name, other.name));
            }
        }
    }
}

/// Which cores are one conductor: those that share a terminal, directly or by way of others.
fn nets(job: &Job) -> BTreeMap<String, usize> {
    let mut net: Vec<usize> = (0..job.terminals.len()).collect();
    let mut join = |a: usize, b: usize| {
        let (a, b) = (net[a], net[b]);
        net.iter_mut().filter(|n| **n == a).for_each(|n| *n = b);
    };
    for core in &job.cores {
        if let [End::Terminal(a), End::Terminal(b)] = core.ends.map(|e| e.to) {
            join(a.index(), b.index());
        }
    }
    for link in &job.links {
        join(link.ends[0].index(), link.ends[1].index());
    }
    let mut nets = BTreeMap::new();
    for (i, core) in job.cores.iter().enumerate() {
        let terminal =
            core.ends.iter().find_map(|e| if let End::Terminal(t) = e.to { Some(t) } else { None });
        let own = terminal.map_or(job.terminals.len() + i, |t| net[t.index()]);
        nets.insert(format!("{}.{}", job.cable(core.cable).name, core.name), own);
    }
    let written = |t| {
        let terminal: &bellwire::netlist::Terminal = job.terminal(t);
        let device = &job.device(terminal.device).name;
        if terminal.name.is_empty() { device.to_string() } else { format!("{device}.{}", terminal.name) }
    };
    for link in &job.links {
        let [a, b] = link.ends.map(written);
        nets.insert(format!(".{a} {b}"), net[link.ends[0].index()]);
    }
    nets
}

fn jobs() -> Vec<(String, String)> {
    let root = PathBuf::from(env!("CARGO_MANIFEST_DIR"));
    let mut jobs = Vec::new();
    let folders = ["examples", "tests/jobs"].map(|folder| std::fs::read_dir(root.join(folder)).unwrap());
    for entry in folders.into_iter().flatten() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|e| e == "yaml") {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            jobs.push((name, std::fs::read_to_string(&path).unwrap()));
        }
    }
    jobs.sort();
    jobs
}

fn on_a4(job: &Job, circuit: &Circuit, findings: &[Finding]) -> Drawing {
    on(SheetSize::A4, job, circuit, findings)
}

fn on_a3(job: &Job, circuit: &Circuit, findings: &[Finding]) -> Drawing {
    on(SheetSize::A3, job, circuit, findings)
}

fn on(size: SheetSize, job: &Job, circuit: &Circuit, findings: &[Finding]) -> Drawing {
    let mut job = job.clone();
    job.info.sheet = size;
    drawing::draw(&job, circuit, findings, None)
}

fn as_drawn(job: &Job, circuit: &Circuit, findings: &[Finding]) -> Drawing {
    drawing::draw(job, circuit, findings, None)
}

fn on_one_sheet(job: &Job, circuit: &Circuit, findings: &[Finding]) -> Drawing {
    drawing::draw_on_one_sheet(job, circuit, findings, None)
}

type Draw = fn(&Job, &Circuit, &[Finding]) -> Drawing;

fn drawn(name: &str, text: &str) -> (Job, Vec<String>) {
    drawn_by(as_drawn, name, text)
}

fn drawn_by(draw: Draw, name: &str, text: &str) -> (Job, Vec<String>) {
    let reading = read_text(name, text);
    let job = reading.job.unwrap_or_else(|| panic!("{name}: {:?}", reading.findings));
    let findings = checks::run(&job, &Circuit::of(&job));
    let drawing = draw(&job, &Circuit::of(&job), &findings);
    let proven = output::Proven::new(&drawing, &job).unwrap_or_else(|fault| panic!("{name}: {fault}"));
    let sheets = proven.svg().to_vec();
    (job, sheets)
}

/// What is misplaced on a drawing, in words.
fn misplaced(draw: Draw, name: &str, text: &str) -> Option<String> {
    let (job, sheets) = drawn_by(draw, name, text);
    let nets = nets(&job);
    let plans: Vec<Plan> = sheets.iter().map(|sheet| plan(sheet)).collect();
    let whole = plans.iter().map(|plan| plan.cores.len()).sum::<usize>();
    let cut = plans.iter().map(|plan| plan.references.len()).sum::<usize>();
    assert_eq!(2 * whole - cut, 2 * (job.cores.len() + job.links.len()), "{name}: a core is missing");
    let told = (1..).zip(&plans).filter_map(|(number, plan)| {
        let found = faults(plan, &|core| nets[core]);
        let any = found.all().iter().any(|(_, count)| *count > 0);
        any.then(|| format!("{name}, sheet {number}: {:?}\n{found:#?}", found.all()))
    });
    let told: Vec<String> = told.collect();
    (!told.is_empty()).then(|| told.join("\n"))
}

#[test]
fn nothing_on_any_drawing_is_misplaced() {
    let told = jobs().into_iter().filter_map(|(name, text)| misplaced(as_drawn, &name, &text));
    let told: Vec<String> = told.collect();
    assert!(told.is_empty(), "{}", told.join("\n"));
}

/// The same jobs on small paper, so that most of them are cut.
#[test]
fn nothing_on_a_drawing_of_several_diagrams_is_misplaced() {
    let told = jobs()
        .into_iter()
        .flat_map(|(name, text)| [on_a4 as Draw, on_a3].map(|draw| misplaced(draw, &name, &text)));
    let told: Vec<String> = told.flatten().collect();
    assert!(told.is_empty(), "{}", told.join("\n"));
}

/// Large installations, with returns to a common 0 V, jumpers, spare cores and locations, more than are searched for the
/// best layout.
#[test]
fn nothing_on_a_large_drawing_is_misplaced() {
    let told = SHAPES.iter().map(|shape| {
        let installation = Installation::of(*shape, 90, 1);
        let name = format!("{shape:?}");
        [on_one_sheet as Draw, as_drawn].map(|draw| misplaced(draw, &name, &installation.text))
    });
    let told: Vec<String> = told.flatten().flatten().collect();
    assert!(told.is_empty(), "{}", told.join("\n"));
}

/// A sheet with two devices, a table, and two cores side by side; everything is in order on it.
const RIGHT: &str = r##"<svg xmlns="http://www.w3.org/2000/svg" width="297mm" height="210mm" viewBox="0 0 297 210">
<g class="device" data-device="A"><path d="M20 20L40 20L40 60L20 60Z"/>
<g class="landing" data-device="A" data-terminal="1"><circle cx="40" cy="30" r="0.9"/></g>
<g class="landing" data-device="A" data-terminal="2"><circle cx="40" cy="40" r="0.9"/></g></g>
<g class="device" data-device="B"><path d="M120 20L140 20L140 60L120 60Z"/>
<g class="landing" data-device="B" data-terminal="1"><circle cx="120" cy="30" r="0.9"/></g>
<g class="landing" data-device="B" data-terminal="2"><circle cx="120" cy="40" r="0.9"/></g></g>
<g class="table" data-name="terminals"><path d="M20 100L140 100L140 140L20 140Z"/></g>
<g class="flag" data-number="1"><path d="M70 80L74 80L74 84L70 84Z"/></g>
<g class="core" data-cable="W" data-core="red" data-from="A.1" data-to="B.1"><path d="M40 30L120 30"/></g>
<g class="core" data-cable="W" data-core="blue" data-from="A.2" data-to="B.2"><path d="M40 40L120 40"/></g>
<g class="label" data-of="W.red"><text x="42" y="29" font-size="2.4" textLength="8">RD</text></g>
<g class="label" data-of="W"><path d="M70 28L80 28L80 42L70 42Z"/><text x="75" y="36" font-size="2.4" textLength="4" text-anchor="middle">W</text></g>
</svg>"##;

#[test]
fn every_counter_counts() {
    let counted = |svg: &str| {
        let found = faults(&plan(svg), &|core| usize::from(core == "W.red"));
        found.all().into_iter().filter(|(_, count)| *count > 0).collect::<Vec<_>>()
    };
    assert_eq!(counted(RIGHT), []);
    let red = r#"<path d="M40 30L120 30"/>"#;
    let cases = [
        (red, r#"<path d="M40 30L60 30L60 10L130 10L130 25L120 25L120 30"/>"#, "through devices", 2),
        (red, r#"<path d="M40 30L60 30L60 120L65 120L65 30L120 30"/>"#, "through tables", 3),
        (red, r#"<path d="M40 30L41 30L41 38L119 38L119 30L120 30"/>"#, "too close", 1),
        (red, r#"<path d="M40 30L60 30L60 40L80 40L80 30L120 30"/>"#, "too close", 1),
        (red, r#"<path d="M40 30L119 30"/>"#, "ends off", 1),
        (red, r#"<path d="M40 30L60 30L64 34L120 34L120 30"/>"#, "slanted", 1),
        (red, r#"<path d="M40 30L60 30L60 41L100 41L100 30L120 30"/>"#, "corner at crossing", 2),
        (
            r#"data-of="W.red"><text x="42" y="29""#,
            r#"data-of="W.blue"><text x="42" y="30.5""#,
            "through labels",
            1,
        ),
        (r#"<text x="42" y="29""#, r#"<text x="36" y="29""#, "label on device", 1),
        (r#"<text x="42" y="29""#, r#"<text x="66" y="31""#, "label on label", 1),
        ("M70 80L74 80L74 84L70 84Z", "M60 28L64 28L64 32L60 32Z", "flag on something", 1),
        ("M70 80L74 80L74 84L70 84Z", "M118 50L122 50L122 54L118 54Z", "flag on something", 1),
        ("M120 20L140 20L140 60L120 60Z", "M38 50L140 50L140 60L38 60Z", "device on device", 1),
    ];
    for (right, wrong, counter, least) in cases {
        let bad = RIGHT.replacen(right, wrong, 1);
        assert_ne!(bad, RIGHT);
        let counted = counted(&bad);
        assert!(counted.iter().any(|(name, n)| *name == counter && *n >= least), "{wrong}: {counted:?}");
    }
    // Cores of one conductor may stand close, never on one line.
    let bad = RIGHT.replacen(red, r#"<path d="M40 30L41 30L41 38L119 38L119 30L120 30"/>"#, 1);
    assert_eq!(faults(&plan(&bad), &|_| 0).too_close.len(), 0);
    let bad = RIGHT.replacen(red, r#"<path d="M40 30L60 30L60 40L80 40L80 30L120 30"/>"#, 1);
    assert_eq!(faults(&plan(&bad), &|_| 0).too_close.len(), 1);
}

/// Trimmed sizes on their side: ISO 216, main A series. Margins of 20 mm at the filing edge and 10 mm elsewhere, fields
/// of 50 mm counted from the centring marks, 24 × 16 of them on A0, 16 × 12, 12 × 8, 8 × 6 and 6 × 4 on A4: ISO 5457.
#[test]
fn sheets_are_those_of_iso_216_and_iso_5457() {
    let standard = [
        ("A4", 297.0, 210.0, "F", 6),
        ("A3", 420.0, 297.0, "F", 8),
        ("A2", 594.0, 420.0, "H", 12),
        ("A1", 841.0, 594.0, "M", 16),
        ("A0", 1189.0, 841.0, "R", 24),
    ];
    let papers: Vec<drawing::Paper> = drawing::Paper::standard().collect();
    assert_eq!(papers.len(), standard.len());
    for (paper, (name, w, h, last_row, columns)) in papers.iter().zip(standard) {
        assert_eq!((paper.name.as_str(), paper.size), (name, (w, h)));
        let frame = paper.frame();
        assert_eq!((frame.x, frame.y, w - frame.right(), h - frame.bottom()), (20.0, 10.0, 10.0, 10.0));
        let corner = bellwire::scene::Point { x: frame.right() - 1.0, y: frame.bottom() - 1.0 };
        let last_row = if name == "A4" { "D" } else { last_row };
        assert_eq!(paper.zone(corner), format!("{last_row}{columns}"), "{name}");
        let past_middle = bellwire::scene::Point { x: w / 2.0 + 1.0, y: h / 2.0 - 49.0 };
        let one_on = bellwire::scene::Point { x: w / 2.0 + 51.0, y: h / 2.0 - 49.0 };
        assert_ne!(paper.zone(past_middle), paper.zone(one_on));
        assert_eq!(paper.zone(past_middle)[1..], (columns / 2 + 1).to_string());
    }
}

/// The codes and their order: IEC 60757:2021, Table 1.
#[test]
fn colour_codes_are_those_of_iec_60757() {
    use bellwire::netlist::{Colour, colours_of};
    let table = [
        ("black", "BK"),
        ("brown", "BN"),
        ("red", "RD"),
        ("orange", "OG"),
        ("yellow", "YE"),
        ("green", "GN"),
        ("blue", "BU"),
        ("violet", "VT"),
        ("grey", "GY"),
        ("white", "WH"),
        ("pink", "PK"),
        ("gold", "GD"),
        ("turquoise", "TQ"),
        ("silver", "SR"),
    ];
    let mut before: Option<Colour> = None;
    for (word, code) in table {
        let [colour] = colours_of(word)[..] else { panic!("{word}") };
        assert_eq!((colour.word(), colour.code()), (word, code));
        assert!(before.is_none_or(|b| b < colour));
        before = Some(colour);
    }
    assert_eq!(colours_of("green-yellow").iter().map(|c| c.code()).collect::<String>(), "GNYE");
}

/// Capitals of 1.8, 2.5 and 3.5 mm (ISO 3098); a capital of the bundled font is 0.729 of its size. Lines of 0.25, 0.35,
/// 0.5 and 0.7 mm (ISO 128); an outlined conductor is the only wider thing.
#[test]
fn lettering_and_lines_have_standard_sizes() {
    let (_, text) = jobs().into_iter().find(|(name, _)| name == "roof-vent.yaml").unwrap();
    let (_, sheets) = drawn("roof-vent.yaml", &text);
    let document = Document::parse(&sheets[0]).unwrap();
    for node in document.descendants().filter(|n| n.has_tag_name("text")) {
        let capital = number(&node, "font-size") * 0.729;
        assert!([1.8, 2.5, 3.5].iter().any(|h| (capital - h).abs() < 0.01), "{capital}");
        assert_eq!(node.attribute("fill"), Some("#000000"));
    }
    for node in document.descendants().filter(|n| n.has_attribute("stroke-width")) {
        let width = number(&node, "stroke-width");
        assert!([0.25, 0.35, 0.5, 0.7, 0.6, 1.1].contains(&width), "{width}");
    }
}

#[test]
fn spacing_and_comments_change_nothing() {
    let (name, text) = jobs().swap_remove(0);
    let (_, sheets) = drawn(&name, &text);
    let spaced: String = text.lines().map(|l| format!("{l}   # {}\n\n", l.len())).collect();
    assert_eq!(drawn(&name, &spaced).1, sheets);
    assert_eq!(drawn(&name, &text).1, sheets);
}
