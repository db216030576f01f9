//! The placed diagram as shapes on a sheet.

use super::references::{self, References};
use super::{device, strand};
use crate::layout::{Conductor, GridPoint, Label, LabelOf, Layout, Lead, Sheath, Wire, WireEnd};
use crate::netlist::{self, CoreEnd, End, Job, Safe, TerminalId, Unused};
use crate::scene::{Dash, Ending, Fill, Group, M, Point, Rect, Role, Shape, Text, Width};

/// The insulated-end sign: its length along the conductor and its breadth.
const SIGN: (f64, f64) = (2.2, 2.0);

/// What the drawing calls an end that was left unsafe.
pub const BARE: &str = "bare";
/// What the drawing calls an end that is spare and not yet made safe.
pub const SPARE: &str = "spare";

/// The diagram, its top left corner at a point of the sheet, and in its flags where conductors go on.
#[must_use]
pub fn diagram(job: &Job, layout: &Layout, origin: Point, references: &References) -> Group {
    let mut pen = Pen { job, layout, origin, references, group: Group::new(Role::Diagram) };
    pen.locations();
    pen.sheaths();
    pen.wires();
    pen.leads();
    pen.devices();
    pen.labels();
    pen.group
}

struct Pen<'a> {
    job: &'a Job,
    layout: &'a Layout,
    origin: Point,
    references: &'a References,
    group: Group,
}

impl Pen<'_> {
    fn at(&self, p: GridPoint) -> Point {
        Point { x: self.origin.x + f64::from(p.x) * M, y: self.origin.y + f64::from(p.y) * M }
    }

    fn place(&self, rect: Rect) -> Rect {
        rect.moved(self.origin.x, self.origin.y)
    }

    fn locations(&mut self) {
        for frame in &self.layout.frames {
            let mut group = Group::new(Role::Location(frame.location.join("/")));
            let rect = self.place(frame.rect);
            group.shape(Shape::rect(rect, Some(Width::Thin), Dash::DashDot, Fill::None));
            self.group.group(group);
        }
    }

    fn sheaths(&mut self) {
        for sheath in &self.layout.sheaths {
            if sheath.level.w > 0.0 && sheath.level.h > 0.0 {
                let mut group = Group::new(Role::Sheath(self.job.cable(sheath.cable).name.to_string()));
                let shape = Shape::polygon(&sheath.outline(), Some(Width::Thin), Dash::Solid, Fill::None);
                group.shape(shape.moved(self.origin.x, self.origin.y));
                self.group.group(group);
            }
        }
    }

    fn wires(&mut self) {
        for wire in &self.layout.wires {
            let (cable, core) = wire.conductor.names(self.job);
            let colours = match wire.conductor {
                Conductor::Core(id) => self.job.core(id).colours.as_slice(),
                Conductor::Link(_) => &[],
            };
            let ends = [self.ending(wire, 0), self.ending(wire, 1)];
            let points: Vec<Point> = wire.points.iter().map(|p| self.at(*p)).collect();
            let role = Role::Core { cable: cable.clone(), core: core.clone(), ends: ends.clone() };
            let mut group = Group::new(role);
            for stroke in strand::strokes(&points, colours) {
                group.shape(Shape::Stroke(stroke));
            }
            self.group.group(group);
            for (end, (tip, before)) in ends.iter().zip(tips(&points)) {
                let (cable, core) = (cable.clone(), core.clone());
                match end {
                    Ending::Landing { .. } => {}
                    Ending::Loose(way) => {
                        let mut group = Group::new(Role::LooseEnd { cable, core, way });
                        if *way != BARE && *way != SPARE {
                            insulated_end(&mut group, tip, before);
                        }
                        self.group.group(group);
                    }
                    Ending::Away(to) => {
                        let mut group = Group::new(Role::Reference { cable, core });
                        references::flag(&mut group, tip, before, to);
                        self.group.group(group);
                    }
                }
            }
        }
    }

    fn ending(&self, wire: &Wire, end: usize) -> Ending {
        match wire.ends.get(end) {
            Some(WireEnd::Landing(device, landing)) => {
                let placed = self.layout.devices.get(*device);
                let landing = placed.and_then(|p| p.figure.landings.get(*landing));
                landing.map_or(Ending::Loose(SPARE), |l| self.landing_end(l.terminal))
            }
            Some(WireEnd::Away) => Ending::Away(self.references.at(wire.conductor, end).to_owned()),
            Some(WireEnd::Loose) | None => Ending::Loose(match wire.conductor {
                Conductor::Core(id) => self.job.core(id).ends.get(end).map_or(SPARE, way),
                Conductor::Link(_) => SPARE,
            }),
        }
    }

    fn landing_end(&self, terminal: TerminalId) -> Ending {
        let terminal = self.job.terminal(terminal);
        let device = self.job.device(terminal.device).name.to_string();
        Ending::Landing { device, terminal: terminal.name.to_string() }
    }

    fn leads(&mut self) {
        for lead in &self.layout.leads {
            let terminal = self.job.terminal(lead.terminal);
            let mut group = Group::new(Role::Lead {
                device: self.job.device(terminal.device).name.to_string(),
                terminal: terminal.name.to_string(),
            });
            let points = lead.points.map(|p| self.at(p));
            let colours = terminal.lead.as_deref().map(netlist::colours_of).unwrap_or_default();
            for stroke in strand::strokes(&points, &colours) {
                group.shape(Shape::Stroke(stroke));
            }
            self.group.group(group);
            let way = self.job.unused(lead.terminal).and_then(|u| u.way).map_or(BARE, Safe::word);
            let core = self.job.written(lead.terminal);
            let mut sign = Group::new(Role::LooseEnd { cable: String::new(), core, way });
            if way != BARE {
                let [near, far] = points;
                insulated_end(&mut sign, far, near);
            }
            self.group.group(sign);
        }
    }

    fn devices(&mut self) {
        for placed in &self.layout.devices {
            self.group.group(device::device(self.job, &placed.figure, self.at(placed.at)));
        }
    }

    fn labels(&mut self) {
        for label in &self.layout.labels {
            let mut group = Group::new(Role::Label(self.subject(label.of)));
            if let Some((frame, width)) = self.label_frame(label) {
                group.shape(Shape::rect(self.place(frame), Some(width), Dash::Solid, Fill::White));
            }
            let at = Point { x: label.at.x + self.origin.x, y: label.at.y + self.origin.y };
            group.text(Text {
                at,
                anchor: label.anchor,
                bold: label.bold,
                upright: label.upright,
                ..Text::new(&label.text, at.x, at.y, label.height)
            });
            self.group.group(group);
        }
    }

    /// The box around a label that has one: a cable's tag, and the warning at an end that was left unsafe.
    fn label_frame(&self, label: &Label) -> Option<(Rect, Width)> {
        let heavy = Some((label.ink, Width::Wide));
        match label.of {
            LabelOf::Tag(sheath) => self.layout.sheaths.get(sheath).map(|s| (s.tag, Width::Normal)),
            LabelOf::LooseEnd(wire, end) => {
                let wire = self.layout.wires.get(wire)?;
                let unsafe_end = matches!(self.ending(wire, end), Ending::Loose(BARE | SPARE));
                unsafe_end.then_some(heavy).flatten()
            }
            LabelOf::Lead(lead) => {
                let terminal = self.layout.leads.get(lead)?.terminal;
                (!made_safe(self.job.unused(terminal))).then_some(heavy).flatten()
            }
            _ => None,
        }
    }

    /// What a label belongs to, in the names of the job file.
    fn subject(&self, of: LabelOf) -> String {
        let name = match of {
            LabelOf::Device(i) => {
                self.layout.devices.get(i).map(|p| self.job.device(p.figure.device).name.to_string())
            }
            LabelOf::WireEnd(i, _) | LabelOf::LooseEnd(i, _) => self.layout.wires.get(i).map(|w| {
                let (cable, core) = w.conductor.names(self.job);
                format!("{cable}.{core}")
            }),
            LabelOf::Tag(i) | LabelOf::MakeUp(i) => {
                self.layout.sheaths.get(i).map(|s: &Sheath| self.job.cable(s.cable).name.to_string())
            }
            LabelOf::Lead(i) => self.layout.leads.get(i).map(|l: &Lead| self.job.written(l.terminal)),
            LabelOf::Frame(i) => self.layout.frames.get(i).map(|f| f.location.join("/")),
        };
        name.unwrap_or_default()
    }
}

/// How an end that is on no terminal was left.
#[must_use]
pub fn way(end: &CoreEnd) -> &'static str {
    match end.to {
        End::Safe(safe) => safe.word(),
        End::Bare => BARE,
        End::Spare | End::Terminal(_) => SPARE,
    }
}

fn made_safe(unused: Option<Unused>) -> bool {
    unused.is_some_and(|u| u.way.is_some())
}

/// The two ends of a line, each with the point before it.
pub(super) fn tips(points: &[Point]) -> [(Point, Point); 2] {
    match points {
        [first, second, ..] => {
            let last = points.len() - 1;
            [(*first, *second), (points[last], points[last - 1])]
        }
        [only] => [(*only, *only); 2],
        [] => [(Point::default(), Point::default()); 2],
    }
}

/// The insulated-end sign beyond the tip of a conductor: a small box with two bars across.
fn insulated_end(group: &mut Group, tip: Point, before: Point) {
    let (dx, dy) = (
        (tip.x - before.x).signum() * f64::from(tip.x != before.x),
        (tip.y - before.y).signum() * f64::from(tip.y != before.y),
    );
    let (dx, dy) = if dx == 0.0 && dy == 0.0 { (1.0, 0.0) } else { (dx, dy) };
    let along =
        |l: f64, across: f64| Point { x: tip.x + dx * l - dy * across, y: tip.y + dy * l + dx * across };
    let half = SIGN.1 / 2.0;
    let corners = Rect::between(along(0.0, -half), along(SIGN.0, half));
    group.shape(Shape::rect(corners, Some(Width::Normal), Dash::Solid, Fill::White));
    for share in [1.0 / 3.0, 2.0 / 3.0] {
        let l = SIGN.0 * share;
        group.shape(Shape::line(&[along(l, -half), along(l, half)], Width::Thin));
    }
}
