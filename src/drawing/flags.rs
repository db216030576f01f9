//! The numbered flags of findings, each as near to what it is about as the drawing leaves room.

use super::notes::{self, FLAG, Listed};
use crate::diagnostic::Subject;
use crate::netlist::{CoreId, Job, TerminalId};
use crate::scene::{Group, Item, Point, Rect, Role, Shape};

/// What is kept free around a flag.
const CLEAR: f64 = 0.7;
/// Half the breadth that a line takes.
const HALF_LINE: f64 = 0.35;
/// From ring to ring of the places that are tried, and how many there are.
const STEP: f64 = 1.25;
const RINGS: u32 = 48;

/// Puts the flags of the numbered findings into the diagram, inside an area.
pub fn place(diagram: &mut Group, job: &Job, listed: &[Listed<'_>], area: Rect) {
    let mut taken = obstacles(diagram);
    let mut flags = Vec::new();
    for Listed { number, finding } in listed {
        let subject = finding.subjects.iter().find_map(|s| anchor(diagram, job, *s));
        let (Some(number), Some(at)) = (*number, subject) else { continue };
        let Some(at) = free(at, &taken, area) else { continue };
        let mut group = Group::new(Role::Flag(number));
        for shape in notes::flag(number, at) {
            group.shape(shape);
        }
        taken.push(around(at));
        flags.push(group);
    }
    diagram.items.extend(flags.into_iter().map(Item::Group));
}

/// A name that a group bears and the point of the first group that bears it.
fn anchor(diagram: &Group, job: &Job, subject: Subject) -> Option<Point> {
    match subject {
        Subject::Device(i) => {
            let name = &job.devices.get(i as usize)?.name;
            let outline =
                find(diagram, &|role| matches!(role, Role::Device(n) | Role::Splice(n) if n == name))?;
            Some(Point { x: outline.right(), y: outline.y })
        }
        Subject::Terminal(i) => {
            let _ = job.terminals.get(i as usize)?;
            let terminal = job.terminal(TerminalId(i));
            let owner = &job.device(terminal.device).name;
            let circle = find(
                diagram,
                &|role| matches!(role, Role::Landing { device, terminal: t } if device == owner && *t == terminal.name),
            );
            circle.map(middle).or_else(|| anchor(diagram, job, Subject::Device(terminal.device.0)))
        }
        Subject::Cable(i) => {
            let name = &job.cables.get(i as usize)?.name;
            find(diagram, &|role| matches!(role, Role::Label(of) if of == name))
                .or_else(|| find(diagram, &|role| matches!(role, Role::Sheath(of) if of == name)))
                .map(middle)
        }
        Subject::Core(i) => {
            let _ = job.cores.get(i as usize)?;
            let owner = job.core(CoreId(i));
            let (cable_name, name) = (&job.cable(owner.cable).name, &owner.name);
            find(diagram, &|role| {
                matches!(role, Role::LooseEnd { cable, core, .. } if cable == cable_name && core == name)
            })
            .or_else(|| {
                find(diagram, &|role| {
                    matches!(role, Role::Label(of) if *of == format!("{cable_name}.{name}"))
                })
            })
            .map(middle)
        }
    }
}

fn middle(rect: Rect) -> Point {
    Point { x: rect.x + rect.w / 2.0, y: rect.y + rect.h / 2.0 }
}

/// The box of the first shape of the first group that is meant.
fn find(group: &Group, meant: &dyn Fn(&Role) -> bool) -> Option<Rect> {
    for inner in group.groups() {
        if meant(&inner.role)
            && let Some(bounds) = inner.shapes().find_map(Shape::bounds)
        {
            return Some(bounds);
        }
        if let Some(found) = find(inner, meant) {
            return Some(found);
        }
    }
    None
}

/// The nearest free place around a point.
fn free(at: Point, taken: &[Rect], area: Rect) -> Option<Point> {
    for ring in 2..RINGS {
        let radius = f64::from(ring) * STEP;
        let count = ring * 4;
        for i in 0..count {
            let angle = f64::from(i) / f64::from(count) * std::f64::consts::TAU - std::f64::consts::FRAC_PI_4;
            let at = Point { x: at.x + radius * angle.cos(), y: at.y + radius * angle.sin() };
            let rect = around(at);
            let inside = area.with(&rect) == area;
            if inside && !taken.iter().any(|t| t.overlaps(&rect)) {
                return Some(Point { x: (at.x * 100.0).round() / 100.0, y: (at.y * 100.0).round() / 100.0 });
            }
        }
    }
    None
}

fn around(at: Point) -> Rect {
    Rect { x: at.x, y: at.y, w: 0.0, h: 0.0 }.grown(FLAG / 2.0 + CLEAR)
}

/// The boxes of everything that a flag must not touch: devices and labels whole, lines along their length.
fn obstacles(group: &Group) -> Vec<Rect> {
    let mut taken = Vec::new();
    let solid =
        matches!(group.role, Role::Device(_) | Role::Splice(_) | Role::Label(_) | Role::LooseEnd { .. });
    for item in &group.items {
        match item {
            Item::Group(inner) => taken.extend(obstacles(inner)),
            Item::Shape(shape) if solid => taken.extend(shape.bounds()),
            Item::Shape(Shape::Stroke(stroke)) => {
                let pieces = stroke.points.windows(2);
                taken.extend(pieces.map(|p| Rect::between(p[0], p[1]).grown(HALF_LINE)));
            }
            Item::Shape(shape) => {
                if let Some(b) = shape.bounds() {
                    let corners = [
                        Point { x: b.x, y: b.y },
                        Point { x: b.right(), y: b.y },
                        Point { x: b.right(), y: b.bottom() },
                        Point { x: b.x, y: b.bottom() },
                        Point { x: b.x, y: b.y },
                    ];
                    taken.extend(corners.windows(2).map(|p| Rect::between(p[0], p[1]).grown(HALF_LINE)));
                }
            }
        }
    }
    taken
}
