//! From points to a labelled diagram.
//!
//! Before: lines, and room kept for every text. After: the whole [`Layout`], every text at its thing. The widths of the
//! texts are asked for here too, so that the room that was kept is the room that is used.

use super::collect::Graph;
use super::followed::Followed;
use super::model::{
    Conductor, FLAG, Frame, GridPoint, Label, LabelOf, Layout, Lead, Placed as PlacedDevice, Sheath, Wire,
    WireEnd,
};
use super::order::{Ordered, What};
use super::place::{self, Placed};
use super::route::Routed;
use super::sheath;
use crate::figure::{Figure, Side};
use crate::lettering::{self, Height};
use crate::netlist::{CableId, CoreId, End, Form, Job, TerminalId, Unused};
use crate::scene::{Anchor, M, Point, Rect, Text};

/// Modules from a device to the end of an unused lead, and at least from the end of a sheath to that of a loose core.
const STUB: i32 = 2;
/// Millimetres from the end of a loose core to its word: the insulated-end sign and a little air.
const SIGN: f64 = 3.2;
/// Millimetres between the outline of a device and the text above a core.
const AIR: f64 = 1.4;
/// Millimetres from the middle of a core to the baseline of the text above it.
const ABOVE: f64 = 1.0;
/// Millimetres around a word that stands in a box.
const BOX: f64 = 0.8;
/// Millimetres from the tag of a cable to either end of its sheath,
const TAG: f64 = 1.0;
/// and from the text above a core to what stands beside it.
const BESIDE: f64 = 1.2;

/// Millimetres from one line of text to the next.
const LINE: f64 = 3.2;
/// Codes of a cable's cores in one line.
const CODES_ABREAST: usize = 8;
/// Millimetres that length and codes may take in one line.
const ONE_LINE: f64 = 28.0;

/// The room that a cable's labels need.
pub(super) struct Room {
    /// Modules for the tag, between the ends of the sheath and clear of them.
    pub width: i32,
    /// Modules by which what stands below the sheath goes beyond them on either side.
    pub beyond: i32,
    /// Rows of loose ends at the left end of the sheath, with modules for stub, sign and word.
    pub left: Vec<(i32, i32)>,
    /// The same at the right end.
    pub right: Vec<(i32, i32)>,
}

fn modules(mm: f64) -> i32 {
    (mm / M).ceil() as i32
}

fn mm(modules: i32) -> f64 {
    f64::from(modules) * M
}

/// Modules of a frame's name with the air before and after it.
pub(super) fn frame_name_width(path: &[String]) -> i32 {
    let name = path.last().map_or("", String::as_str);
    modules(lettering::width(name, Height::H2_5, true) + 2.0 * AIR)
}

/// Modules from the left edge of a device to the end of its designation and title.
pub(super) fn title_room(figure: &Figure) -> i32 {
    modules(figure.title_at.x + figure.title_width() + 1.0)
}

/// The lines that stand below a cable of several cores: make-up and length, and the codes of its cores from the top one
/// down, so that a grey copy tells which is which in the middle of a run.
pub(super) fn make_up(job: &Job, o: &Ordered, bundle: usize) -> Vec<String> {
    let graph = &o.ranked.graph;
    let cable = job.cable(graph.bundles[bundle].cable);
    if graph.bundles[bundle].strands.len() < 2 {
        return Vec::new();
    }
    let rows = &o.items[o.figures.len() + bundle].rows;
    let codes: Vec<String> = rows.iter().map(|s| code(job, graph.strands[*s].conductor)).collect();
    let length = cable.length.map(|l| l.to_string());
    cable.make_up().into_iter().chain(with_codes(length, &codes)).collect()
}

/// Length and codes in one line where that is short, else the codes below it, in lines of [`CODES_ABREAST`].
fn with_codes(length: Option<String>, codes: &[String]) -> Vec<String> {
    let together: Vec<String> = length.iter().cloned().chain([codes.join(" ")]).collect();
    let together = together.join(" · ");
    if lettering::width(&together, Height::H1_8, false) <= ONE_LINE {
        return vec![together];
    }
    length.into_iter().chain(codes.chunks(CODES_ABREAST).map(|codes| codes.join(" "))).collect()
}

/// Height of the tag's letters and half its height in millimetres.
fn tag_size(cores: usize) -> (Height, f64) {
    if cores < 2 { (Height::H1_8, 1.7) } else { (Height::H2_5, 2.3) }
}

fn tag_width(job: &Job, graph: &Graph, bundle: usize) -> f64 {
    let cable = job.cable(graph.bundles[bundle].cable);
    let (height, _) = tag_size(graph.bundles[bundle].strands.len());
    lettering::width(&cable.name, height, true) + 2.4
}

/// Modules from the end of a cable's sheath to the ends of its loose cores: their codes stand above.
pub(super) fn stub(job: &Job, graph: &Graph, bundle: usize) -> i32 {
    let loose = graph.bundles[bundle].strands.iter().filter(|s| graph.strands[**s].ends.contains(&None));
    let codes = loose.map(|s| lettering::width(&code(job, graph.strands[*s].conductor), Height::H1_8, false));
    STUB.max(modules(codes.fold(0.0, f64::max) + 1.2))
}

/// The cable that turns back at once over a chord.
pub(super) fn turned(placed: &Placed, chord: usize) -> Option<usize> {
    let o = &placed.ordered;
    let bundle = o.ranked.graph.strands[o.ends[2 * chord].strand].bundle?;
    (o.items[o.figures.len() + bundle].what == What::Turned).then_some(bundle)
}

/// Modules that the tag of such a cable takes on either side of its upright piece.
pub(super) fn turned_width(job: &Job, placed: &Placed, chord: usize) -> Option<i32> {
    let bundle = turned(placed, chord)?;
    Some(modules(tag_width(job, &placed.ordered.ranked.graph, bundle) / 2.0 + 0.4))
}

/// The room of a cable's labels.
pub(super) fn bundle_room(job: &Job, placed: &Placed, bundle: usize) -> Room {
    let o = &placed.ordered;
    let graph = &o.ranked.graph;
    let lines = make_up(job, o, bundle);
    let widest = lines.iter().map(|l| lettering::width(l, Height::H1_8, false)).fold(0.0, f64::max);
    // The ends of the sheath stand a module away.
    let width = (modules(tag_width(job, graph, bundle) + 2.0 * TAG) - 2).max(1) + placed.air.along;
    let beyond = modules((widest - mm(width)) / 2.0).max(0);
    let item = o.figures.len() + bundle;
    let mut room = Room { width, beyond, left: Vec::new(), right: Vec::new() };
    for (row, s) in o.items[item].rows.iter().enumerate() {
        for e in 0..2 {
            if graph.strands[*s].ends[e].is_some() {
                continue;
            }
            let word = loose_word(job, graph.strands[*s].conductor, e);
            let (text, boxed) = word;
            let width = stub(job, graph, bundle) + modules(word_room(text, boxed));
            let y = placed.y[item] + placed.rows[item].get(row).copied().unwrap_or(0);
            let side = if e == o.ranked.left_end[bundle] { &mut room.left } else { &mut room.right };
            side.push((y, width));
        }
    }
    room
}

/// Millimetres from the end of a conductor to the end of the word beside it.
fn word_room(text: &str, boxed: bool) -> f64 {
    if boxed {
        lettering::width(text, Height::H1_8, true) + 2.0 * BOX + 1.0
    } else {
        SIGN + lettering::width(text, Height::H1_8, false) + 1.0
    }
}

/// The word at a loose end, and whether it stands in a box because the end was left unsafe.
fn loose_word(job: &Job, conductor: Conductor, end: usize) -> (&'static str, bool) {
    let to = match conductor {
        Conductor::Core(id) => job.core(id).ends[end].to,
        Conductor::Link(_) => End::Bare,
    };
    match to {
        End::Safe(way) => (way.word(), false),
        End::Bare | End::Spare | End::Terminal(_) => ("BARE", true),
    }
}

fn lead_word(unused: Option<Unused>) -> (&'static str, bool) {
    match unused.and_then(|u| u.way) {
        Some(way) => (way.word(), false),
        None => ("BARE", true),
    }
}

/// The colour code of a core; the core's own name where it has no colour.
fn code(job: &Job, conductor: Conductor) -> String {
    match conductor {
        Conductor::Core(id) => {
            let core = job.core(id);
            if core.colours.is_empty() {
                core.name.to_string()
            } else {
                core.colours.iter().map(|c| c.code()).collect()
            }
        }
        Conductor::Link(_) => String::new(),
    }
}

/// What stands at an end of a core: its code and its far end; at a flag, where it goes on to. A link on one device is too
/// short for words.
fn end_text(job: &Job, graph: &Graph, strand: usize, end: usize) -> Option<String> {
    let s = &graph.strands[strand];
    let on_flag = s.ends[end].is_some_and(|joint| graph.nodes[joint.node].away.is_some());
    let meant = if on_flag { end } else { 1 - end };
    let far = match s.conductor.ends(job)[meant] {
        End::Terminal(terminal) => job.label(terminal),
        End::Safe(_) | End::Bare | End::Spare => match loose_word(job, s.conductor, meant) {
            (word, false) => word.to_owned(),
            (_, true) => "bare".to_owned(),
        },
    };
    let code = code(job, s.conductor);
    match s.conductor {
        // Where the far end of what lands is no terminal its cable tells it from the like of it.
        Conductor::Core(core) if !on_flag && s.conductor.ends(job)[meant].terminal().is_none() => {
            Some(format!("{} {code} → {far}", job.cable(job.core(core).cable).name))
        }
        Conductor::Core(_) => Some(format!("{code} → {far}")),
        Conductor::Link(_) if s.ends[0].map(|j| j.node) == s.ends[1].map(|j| j.node) => None,
        Conductor::Link(_) => Some(format!("→ {far}")),
    }
}

/// An unused flying lead of a device: terminal and landing.
fn open_leads(job: &Job, placed: &Placed, device: usize) -> Vec<(TerminalId, usize)> {
    let o = &placed.ordered;
    let node = &o.ranked.graph.nodes[device];
    if node.away.is_some() {
        return Vec::new();
    }
    let free = |t: TerminalId| {
        let number = (t.0 - node.first_terminal) as usize;
        let joined = |(s, e): &(usize, usize)| {
            o.ranked.graph.strands[*s].ends[*e].is_some_and(|j| j.terminal == number)
        };
        job.terminal(t).lead.is_some() && !node.ends.iter().any(joined)
    };
    let landings = o.figures[device].landings.iter().enumerate();
    landings.filter(|(_, l)| free(l.terminal)).map(|(i, l)| (l.terminal, i)).collect()
}

/// The landings of a device that have a text beside them: row from its top, side, modules from its outline.
pub(super) fn landing_room(job: &Job, placed: &Placed, device: usize) -> Vec<(i32, Side, i32)> {
    let o = &placed.ordered;
    let figure = &o.figures[device];
    let mut room = Vec::new();
    for border in &o.items[device].ends {
        for end in border {
            let s = o.ends[*end].strand;
            let (_, at) = place::landing(o, *end);
            let Some(landing) = figure.landings.get(at) else { continue };
            let end = usize::from(o.chains[s].first() != Some(end));
            let Some(text) = end_text(job, &o.ranked.graph, s, end) else { continue };
            // Nothing stands nearer than the next module.
            let width = modules(AIR + lettering::width(&text, Height::H1_8, false) + BESIDE) - 1;
            room.push((landing.y, landing.side, width));
        }
    }
    for (terminal, at) in open_leads(job, placed, device) {
        let Some(landing) = figure.landings.get(at) else { continue };
        let (word, boxed) = lead_word(job.unused(terminal));
        room.push((landing.y, landing.side, STUB + modules(word_room(word, boxed))));
        room.push((landing.y + 1, landing.side, STUB + modules(word_room(word, boxed))));
    }
    room
}

/// Labels.
pub(super) fn label(job: &Job, routed: Routed) -> Layout {
    let mut labels = Labels { job, routed: &routed, labels: Vec::new(), outlines: Vec::new() };
    let devices: Vec<PlacedDevice> = labels.devices();
    let wires: Vec<Wire> = labels.wires();
    let sheaths = labels.sheaths();
    let leads = labels.leads();
    let frames = labels.frames();
    let labels = labels.labels;
    let followed = Followed::of(wires.iter().map(|wire| &*wire.points));
    let (size, unmet) = ((0, 0), Vec::new());
    let mut layout = Layout { size, devices, wires, sheaths, leads, frames, labels, unmet, followed };
    sheath::follow(job, &routed, &mut layout);
    whereabouts(job, &routed, &mut layout);
    moved_to_corner(layout)
}

struct Labels<'a> {
    job: &'a Job,
    routed: &'a Routed,
    labels: Vec<Label>,
    /// Of devices and sheaths.
    outlines: Vec<Rect>,
}

impl Labels<'_> {
    fn add(&mut self, text: Text, of: LabelOf, grown: f64) {
        self.labels.push(label_of(text, of, grown));
    }

    fn devices(&mut self) -> Vec<PlacedDevice> {
        let o = &self.routed.placed.ordered;
        let mut devices = Vec::with_capacity(o.figures.len());
        // Flags stand after the devices.
        let count = o.ranked.graph.nodes.iter().take_while(|node| node.away.is_none()).count();
        for (d, figure) in o.figures.iter().take(count).enumerate() {
            let at = GridPoint { x: self.routed.x[d], y: self.routed.placed.y[d] };
            let entry = self.job.device(figure.device);
            // The first landing of a splice is so near its top that the text beside it needs air.
            let lift = if entry.form == Form::Splice { 0.7 } else { 0.0 };
            let (x, y) = (mm(at.x) + figure.title_at.x, mm(at.y) + figure.title_at.y - lift);
            self.add(Text::new(&figure.name, x, y, Height::H3_5).bold(), LabelOf::Device(d), 0.0);
            if let Some(title) = &figure.title {
                let x = x + lettering::width(&figure.name, Height::H3_5, true) + M / 2.0;
                self.add(Text::new(title, x, y, Height::H1_8), LabelOf::Device(d), 0.0);
            }
            let device = PlacedDevice { figure: (**figure).clone(), at };
            self.outlines.push(outline(&device));
            devices.push(device);
        }
        devices
    }

    fn wires(&mut self) -> Vec<Wire> {
        let routed = self.routed;
        let o = &routed.placed.ordered;
        let graph = &o.ranked.graph;
        let mut wires = Vec::with_capacity(graph.strands.len());
        for (s, strand) in graph.strands.iter().enumerate() {
            let points = routed.lines[s].clone();
            let mut ends = [WireEnd::Loose; 2];
            for (e, drawn) in ends.iter_mut().enumerate() {
                let chord_end = if e == 0 { o.chains[s].first() } else { o.chains[s].last() };
                let (Some(tip), Some(next)) = (
                    if e == 0 { points.first() } else { points.last() },
                    if e == 0 {
                        points.get(1)
                    } else {
                        points.len().checked_sub(2).and_then(|i| points.get(i))
                    },
                ) else {
                    continue;
                };
                let to_right = next.x > tip.x;
                if let (Some(_), Some(end)) = (strand.ends[e], chord_end) {
                    let (device, landing) = place::landing(o, *end);
                    *drawn = match graph.nodes[device].away {
                        None => WireEnd::Landing(device, landing),
                        Some(_) => WireEnd::Away,
                    };
                    if let Some(text) = end_text(self.job, graph, s, e) {
                        let (x, anchor) = hung(mm(tip.x), to_right, AIR);
                        let text = Text::new(&text, x, mm(tip.y) - ABOVE, Height::H1_8).anchored(anchor);
                        self.add(text, LabelOf::WireEnd(s, e), 0.0);
                    }
                } else {
                    let way = (if to_right { -1.0 } else { 1.0 }, 0.0);
                    self.labels.extend(loose_labels(self.job, strand.conductor, (s, e), point(*tip), way));
                }
            }
            wires.push(Wire { conductor: strand.conductor, ends, points });
        }
        wires
    }

    fn sheaths(&mut self) -> Vec<Sheath> {
        let routed = self.routed;
        let o = &routed.placed.ordered;
        let graph = &o.ranked.graph;
        let mut sheaths = Vec::with_capacity(graph.bundles.len());
        for (b, bundle) in graph.bundles.iter().enumerate() {
            let item = o.figures.len() + b;
            let [left, from, to, right] = routed.sheaths[b];
            let (first, last) = (
                routed.placed.y[item],
                routed.placed.y[item] + routed.placed.rows[item].last().copied().unwrap_or(0),
            );
            let several = bundle.strands.len() > 1;
            let outline = if several {
                let corner = |x: i32, y: f64| Point { x: mm(x), y };
                Rect::between(corner(left, mm(first) - 1.6), corner(right, mm(last) + 1.6))
            } else {
                Rect { x: mm(left), y: mm(first), w: 0.0, h: 0.0 }
            };
            let turned = routed.turned[b].map(|(x, half)| Point { x: mm(x), y: mm(half) / 2.0 });
            let outline = turned.map_or(outline, |at| Rect::between(at, at));
            let centre = turned.unwrap_or_else(|| Point {
                x: f64::midpoint(mm(from), mm(to)),
                y: f64::midpoint(mm(first), mm(last)),
            });
            let (height, half) = tag_size(bundle.strands.len());
            let width = tag_width(self.job, graph, b);
            let tag = Rect { x: centre.x - width / 2.0, y: centre.y - half, w: width, h: 2.0 * half };
            let name = &self.job.cable(bundle.cable).name;
            let text = Text::new(name, centre.x, centre.y + height.mm() / 2.0, height).bold();
            self.add(text.anchored(Anchor::Middle), LabelOf::Tag(b), 0.0);
            if let Some(label) = self.labels.last_mut() {
                label.ink = tag;
            }
            for (i, line) in make_up(self.job, o, b).iter().enumerate() {
                let y = mm(last) + 1.6 + 2.5 + LINE * i as f64;
                let text = Text::new(line, centre.x, y, Height::H1_8).anchored(Anchor::Middle);
                self.add(text, LabelOf::MakeUp(b), 0.0);
            }
            self.outlines.push(outline);
            let legs = [Vec::new(), Vec::new()];
            sheaths.push(Sheath { cable: bundle.cable, level: outline, legs, tag });
        }
        sheaths
    }

    fn leads(&mut self) -> Vec<Lead> {
        let routed = self.routed;
        let o = &routed.placed.ordered;
        let mut leads = Vec::new();
        for d in 0..o.figures.len() {
            for (terminal, at) in open_leads(self.job, &routed.placed, d) {
                let Some(landing) = o.figures[d].landings.get(at) else { continue };
                let from = GridPoint { x: routed.x[d] + landing.x, y: routed.placed.y[d] + landing.y };
                let out = if landing.side == Side::Left { -STUB } else { STUB };
                let to = GridPoint { x: from.x + out, ..from };
                let word = lead_word(self.job.unused(terminal));
                let way = (if landing.side == Side::Right { 1.0 } else { -1.0 }, 0.0);
                self.labels.push(end_word(point(to), way, word, LabelOf::Lead(leads.len())));
                leads.push(Lead { terminal, points: [from, to] });
            }
        }
        leads
    }

    fn frames(&mut self) -> Vec<Frame> {
        let routed = self.routed;
        let places = &routed.placed.ordered.ranked.graph.places;
        let mut frames: Vec<Frame> = Vec::new();
        for (p, place) in places.iter().enumerate() {
            if let Some(rect) = routed.frame(p) {
                frames.push(Frame { location: place.path.clone(), rect });
            }
        }
        for (i, Frame { location, rect }) in frames.iter().enumerate() {
            let name = location.last().map_or("", String::as_str);
            let text = |x: f64, y: f64| Text::new(name, x, y, Height::H2_5).bold();
            let (high, low) = (rect.y + 3.6, rect.bottom() - 1.2);
            let steps = |y: f64| (0..(rect.w / M) as i32).map(move |step| (rect.x + AIR + mm(step), y));
            // Clear of every frame that does not hold this one.
            let clear =
                |ink: &Rect| frames.iter().all(|other| other.rect.holds(rect) || !other.rect.overlaps(ink));
            let free = |(x, y): &(f64, f64)| {
                let ink = text(*x, *y).ink().grown(0.5);
                let lines = routed.lines.iter();
                let taken = meets(&ink, lines, &self.labels, self.outlines.iter().copied());
                ink.right() < rect.right() && clear(&ink) && !taken
            };
            // At the top if there is room, else at the bottom, else anywhere inside.
            let inside = (1..(rect.h / M) as i32).flat_map(|row| steps(high + mm(row)));
            let place = steps(high).chain(steps(low)).chain(inside).find(free);
            let (x, y) = place.unwrap_or((rect.x + AIR, high));
            self.add(text(x, y), LabelOf::Frame(i), 0.0);
        }
        frames
    }
}

/// Whether lines, labels or outlines meet a box.
fn meets<'a>(
    ink: &Rect,
    lines: impl Iterator<Item = &'a Vec<GridPoint>>,
    labels: &[Label],
    mut outlines: impl Iterator<Item = Rect>,
) -> bool {
    let mut lines = lines.flat_map(|line| line.windows(2)).map(|p| match p {
        [a, b] => Rect::between(point(*a), point(*b)).grown(0.35),
        _ => Rect::default(),
    });
    lines.any(|line| line.overlaps(ink))
        || labels.iter().any(|l| l.ink.overlaps(ink))
        || outlines.any(|o| o.overlaps(ink))
}

/// Says where loose ends of a cable are that do not stand in the frame of their location: below the lowest of them, or
/// above the highest.
fn whereabouts(job: &Job, routed: &Routed, layout: &mut Layout) {
    let graph = &routed.placed.ordered.ranked.graph;
    for (b, bundle) in graph.bundles.iter().enumerate() {
        for e in 0..2 {
            let tip = |s: &usize| {
                let line = &layout.wires[*s].points;
                if e == 0 { line.first().copied() } else { line.last().copied() }
            };
            let loose = bundle.strands.iter().filter(|s| graph.strands[**s].ends[e].is_none());
            let mut tips: Vec<Point> = loose.filter_map(tip).map(point).collect();
            tips.sort_by(|a, b| a.y.total_cmp(&b.y));
            let (Some(first), Some(last)) = (tips.first(), tips.last()) else { continue };
            let Some(location) = location_of_end(job, bundle.cable, e) else { continue };
            let tips = Rect::between(*first, *last);
            let frames = &layout.frames;
            let here = |frame: &Frame| *frame.location == *location && frame.rect.holds(&tips);
            let Some(name) = location.last().filter(|_| !frames.iter().any(here)) else { continue };
            let (x, anchor) = hung(first.x, e != routed.placed.ordered.ranked.left_end[b], SIGN);
            let middle = Height::H1_8.mm() / 2.0;
            let free = |text: &Text| {
                let ink = text.ink().grown(0.3);
                let cut = |frame: &Frame| frame.rect.overlaps(&ink) && !frame.rect.holds(&ink);
                let devices = layout.devices.iter().map(outline);
                let outlines = devices.chain(layout.sheaths.iter().flat_map(Sheath::parts));
                let lines = layout.wires.iter().map(|wire| &wire.points);
                !meets(&ink, lines, &layout.labels, outlines) && !frames.iter().any(cut)
            };
            let at = |y: f64| Text::new(&format!("in {name}"), x, y, Height::H1_8).anchored(anchor);
            let spots = [last.y + middle + LINE, first.y + middle - LINE].map(at);
            if let Some(text) = spots.into_iter().find(free) {
                layout.labels.push(label_of(text, LabelOf::MakeUp(b), 0.0));
            }
        }
    }
}

fn label_of(text: Text, of: LabelOf, grown: f64) -> Label {
    let ink = text.ink().grown(grown);
    let Text { text, at, anchor, height, bold, upright } = text;
    Label { text, of, at, anchor, height, bold, upright, ink }
}

/// The outline of a device.
pub(super) fn outline(device: &PlacedDevice) -> Rect {
    let at = point(device.at);
    Rect { x: at.x, y: at.y, w: mm(device.figure.w), h: mm(device.figure.h) }
}

/// The word beyond a loose end of a conductor and the code beside it; `way` leads out of the conductor, a step of one.
pub(super) fn loose_labels(
    job: &Job,
    conductor: Conductor,
    (s, e): (usize, usize),
    tip: Point,
    way: (f64, f64),
) -> [Label; 2] {
    let word = end_word(tip, way, loose_word(job, conductor, e), LabelOf::LooseEnd(s, e));
    let code = along(&code(job, conductor), tip, (-way.0, -way.1), 0.4, -ABOVE);
    [word, label_of(code, LabelOf::WireEnd(s, e), 0.0)]
}

/// The word beyond the end of a conductor.
fn end_word(tip: Point, way: (f64, f64), (word, boxed): (&str, bool), of: LabelOf) -> Label {
    let far = if boxed { BOX + 0.4 } else { SIGN };
    let text = along(word, tip, way, far, Height::H1_8.mm() / 2.0);
    let text = if boxed { text.bold() } else { text };
    label_of(text, of, if boxed { BOX } else { 0.0 })
}

/// A text that goes on from a point in the line of a conductor, away from it and below that line by so much.
fn along(text: &str, from: Point, way: (f64, f64), away: f64, below: f64) -> Text {
    let upright = way.0 == 0.0;
    let (x, y) = if upright {
        (from.x + below, from.y + way.1 * away)
    } else {
        (from.x + way.0 * away, from.y + below)
    };
    // Upright text runs upwards.
    let anchor = if way.0 - way.1 > 0.0 { Anchor::Start } else { Anchor::End };
    Text { upright, ..Text::new(text, x, y, Height::H1_8).anchored(anchor) }
}

/// The location in which all cores of a cable land at one end.
fn location_of_end(job: &Job, cable: CableId, end: usize) -> Option<&[String]> {
    let lands = |core: CoreId| job.core(core).ends[end].to.terminal();
    let mut devices = job.cable(cable).cores.iter().map(CoreId).filter_map(lands);
    let of = |at: TerminalId| &job.device(job.terminal(at).device).location[..];
    let first = of(devices.next()?);
    (!first.is_empty() && devices.all(|at| of(at) == first)).then_some(first)
}

/// The lines on which the flags of a wire lie.
fn flags(wire: &Wire) -> impl Iterator<Item = Rect> {
    let tips =
        [(wire.points.first(), wire.points.get(1)), (wire.points.last(), wire.points.iter().rev().nth(1))];
    wire.ends.iter().zip(tips).filter_map(|(end, tip)| {
        let (WireEnd::Away, (Some(tip), Some(before))) = (end, tip) else { return None };
        let far = GridPoint { x: tip.x + if before.x > tip.x { -FLAG } else { FLAG }, ..*tip };
        Some(Rect::between(point(*tip), point(far)))
    })
}

pub(super) fn point(at: GridPoint) -> Point {
    Point { x: mm(at.x), y: mm(at.y) }
}

fn hung(x: f64, to_right: bool, away: f64) -> (f64, Anchor) {
    if to_right { (x + away, Anchor::Start) } else { (x - away, Anchor::End) }
}

/// The same with its top left corner at 0, 0.
fn moved_to_corner(mut layout: Layout) -> Layout {
    let mut boxes: Vec<Rect> = layout.labels.iter().map(|l| l.ink).collect();
    boxes.extend(layout.frames.iter().map(|f| f.rect));
    boxes.extend(layout.sheaths.iter().flat_map(Sheath::parts));
    for d in &layout.devices {
        boxes.push(Rect {
            x: mm(d.at.x),
            y: mm(d.at.y),
            w: mm(d.figure.w),
            h: mm(d.figure.h + d.figure.margin[3]),
        });
    }
    let points =
        layout.wires.iter().flat_map(|w| &w.points).chain(layout.leads.iter().flat_map(|l| &l.points));
    boxes.extend(points.map(|p| Rect { x: mm(p.x), y: mm(p.y), w: 0.0, h: 0.0 }));
    boxes.extend(layout.wires.iter().flat_map(flags));
    let Some(all) = boxes.into_iter().reduce(|a, b| a.with(&b)) else { return layout };
    let (dx, dy) = (-(all.x / M).floor() as i32, -(all.y / M).floor() as i32);
    let (fx, fy) = (mm(dx), mm(dy));
    for d in &mut layout.devices {
        d.at = GridPoint { x: d.at.x + dx, y: d.at.y + dy };
    }
    let wires = layout.wires.iter_mut().flat_map(|w| &mut w.points);
    for p in wires.chain(layout.leads.iter_mut().flat_map(|l| &mut l.points)) {
        *p = GridPoint { x: p.x + dx, y: p.y + dy };
    }
    layout.sheaths = layout.sheaths.into_iter().map(|sheath| sheath.moved(fx, fy)).collect();
    for f in &mut layout.frames {
        f.rect = f.rect.moved(fx, fy);
    }
    for l in &mut layout.labels {
        l.at = Point { x: l.at.x + fx, y: l.at.y + fy };
        l.ink = l.ink.moved(fx, fy);
    }
    layout.size = (modules(all.right()) + dx, modules(all.bottom()) + dy);
    layout
}
