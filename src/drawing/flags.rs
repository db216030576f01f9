//! The numbered flags of findings, each as near to what it is about as the drawing leaves room.

use super::named::{Named, Part};
use super::notes::{self, FLAG, Listed};
use super::strand;
use crate::diagnostic::Subject;
use crate::lettering::Height;
use crate::netlist::{CableId, CoreId, DeviceId, Job, TerminalId};
use crate::places::Taken;
use crate::scene::{Group, Item, Point, Rect, Role, Shape, Text};

/// What is kept free around a flag.
pub(super) const CLEAR: f64 = 0.7;
/// Half the breadth that a line takes.
const HALF_LINE: f64 = 0.35;
/// From ring to ring of the places that are tried, and how many there are.
const STEP: f64 = 1.25;
pub(super) const RINGS: u32 = 96;
/// The rings in which a flag is at its thing.
const NEAR: u32 = 6;
/// The same of a terminal: further off it stands nearer to its neighbour.
const AT_TERMINAL: u32 = 5;
/// From a flag to the name beside it.
const BESIDE: f64 = 0.8;

/// Puts the flags of the numbered findings into the diagram, inside an area and off what stands beside the diagram.
pub fn place(diagram: &mut Group, job: &Job, listed: &[Listed<'_>], area: Rect, beside: &[Group]) {
    let named = Named::of(diagram);
    let mut taken = Taken::of(obstacles(diagram).into_iter().chain(beside.iter().flat_map(obstacles)));
    let mut flags = Vec::new();
    let mut wanted: Vec<(usize, Subject, Point)> = Vec::new();
    for Listed { number, finding } in listed {
        let subject = finding.subjects.iter().find_map(|s| Some((*s, anchor(&named, job, *s)?)));
        let (Some(number), Some((subject, thing))) = (*number, subject) else { continue };
        wanted.push((number, subject, thing));
    }
    // A terminal has one place for its flag, a device many.
    wanted.sort_by_key(|(_, subject, _)| !matches!(subject, Subject::Terminal(_)));
    for (number, subject, thing) in wanted {
        let mark = Mark::new(number, String::new());
        // A flag away from its thing bears the thing's name. What stands below a terminal belongs to the next one.
        let (rings, at_it) = match subject {
            Subject::Terminal(_) => (AT_TERMINAL, Rect { h: thing.y + CLEAR - area.y, ..area }),
            _ => (NEAR, area),
        };
        let near = free(&|at| mark.around(at), thing, &taken, at_it, rings);
        let (mark, at) = match near {
            Some(at) => (mark, at),
            None => {
                let away = Mark::new(number, name(job, subject));
                match free(&|at| away.around(at), thing, &taken, area, RINGS) {
                    Some(at) => (away, at),
                    None => last_resort(mark, by_name(&named, job, subject).unwrap_or(thing), &flags),
                }
            }
        };
        let mut group = Group::new(Role::Flag(number));
        for shape in notes::flag(number, at) {
            group.shape(shape);
        }
        if !mark.name.is_empty() {
            group.text(mark.text(at));
        }
        taken.take(mark.around(at));
        flags.push(group);
    }
    flags.sort_by_key(|flag| if let Role::Flag(number) = flag.role { number } else { 0 });
    diagram.items.extend(flags.into_iter().map(Item::Group));
}

/// Where a flag belongs that is about something.
fn anchor(named: &Named<'_>, job: &Job, subject: Subject) -> Option<Point> {
    match subject {
        Subject::Device(i) => {
            let outline = named.find(Part::Device(&job.devices.get(i as usize)?.name))?;
            Some(Point { x: outline.right(), y: outline.y })
        }
        Subject::Terminal(i) => {
            let _ = job.terminals.get(i as usize)?;
            let terminal = job.terminal(TerminalId(i));
            let owner = &job.device(terminal.device).name;
            let circle = named.find(Part::Landing(owner, &terminal.name));
            circle.map(middle).or_else(|| anchor(named, job, Subject::Device(terminal.device.0)))
        }
        Subject::Cable(i) => {
            let name = &job.cables.get(i as usize)?.name;
            named.find(Part::Label(name)).or_else(|| named.find(Part::Sheath(name))).map(middle)
        }
        Subject::Core(i) => {
            let _ = job.cores.get(i as usize)?;
            let core = job.core(CoreId(i));
            let cable = &job.cable(core.cable).name;
            named
                .find(Part::LooseEnd(cable, &core.name))
                .or_else(|| named.find(Part::Label(&format!("{cable}.{}", core.name))))
                .map(middle)
                .or_else(|| anchor(named, job, Subject::Cable(core.cable.0)))
        }
    }
}

/// The end of the designation of the device, or of the tag of the cable, that a finding is about.
fn by_name(named: &Named<'_>, job: &Job, subject: Subject) -> Option<Point> {
    let name = match subject {
        Subject::Device(i) => &job.device(DeviceId(i)).name,
        Subject::Terminal(i) => &job.device(job.terminal(TerminalId(i)).device).name,
        Subject::Cable(i) => &job.cable(CableId(i)).name,
        Subject::Core(i) => &job.cable(job.core(CoreId(i)).cable).name,
    };
    let label = named.find(Part::Label(name))?;
    Some(Point { x: label.right(), y: middle(label).y })
}

/// Where there is no room at all a flag stands beside a name, over whatever is there, but over no other flag.
fn last_resort(mark: Mark, beside: Point, flags: &[Group]) -> (Mark, Point) {
    let mut at = Point { x: beside.x + BESIDE + mark.half, y: beside.y };
    let is_taken = |at: Point| {
        let others = flags.iter().filter_map(|flag| flag.shapes().find_map(Shape::bounds));
        let own = mark.around(at);
        others.into_iter().any(|other| other.overlaps(&own))
    };
    while is_taken(at) {
        at.x += STEP;
    }
    (mark, at)
}

fn middle(rect: Rect) -> Point {
    Point { x: rect.x + rect.w / 2.0, y: rect.y + rect.h / 2.0 }
}

/// A flag with the name beside it, if it needs one.
struct Mark {
    /// Half the breadth of the flag.
    half: f64,
    name: String,
}

impl Mark {
    fn new(number: usize, name: String) -> Self {
        let flag = notes::flag(number, Point::default()).iter().find_map(Shape::bounds);
        Self { half: flag.map_or(FLAG, |flag| flag.w) / 2.0, name }
    }

    fn text(&self, at: Point) -> Text {
        let y = at.y + Height::H1_8.mm() / 2.0;
        Text::new(&self.name, at.x + self.half + BESIDE, y, Height::H1_8)
    }

    /// All that it takes around it.
    fn around(&self, at: Point) -> Rect {
        let flag = Rect { x: at.x - self.half, y: at.y - FLAG / 2.0, w: 2.0 * self.half, h: FLAG };
        let whole = if self.name.is_empty() { flag } else { flag.with(&self.text(at).ink()) };
        whole.grown(CLEAR)
    }
}

/// What stands beside a flag that is away from its thing.
fn name(job: &Job, subject: Subject) -> String {
    match subject {
        Subject::Device(i) => job.device(DeviceId(i)).name.to_string(),
        Subject::Terminal(i) => job.label(TerminalId(i)),
        Subject::Cable(i) => job.cable(CableId(i)).name.to_string(),
        Subject::Core(i) => {
            let core = job.core(CoreId(i));
            format!("{} {}", job.cable(core.cable).name, strand::code(&core.colours, &core.name))
        }
    }
}

/// The nearest free place around a point, within so many rings.
pub(super) fn free(
    around: &dyn Fn(Point) -> Rect,
    thing: Point,
    taken: &Taken,
    area: Rect,
    rings: u32,
) -> Option<Point> {
    for ring in 2..rings {
        let radius = f64::from(ring) * STEP;
        let count = ring * 4;
        for i in 0..count {
            let angle = f64::from(i) / f64::from(count) * std::f64::consts::TAU - std::f64::consts::FRAC_PI_4;
            let at = Point { x: thing.x + radius * angle.cos(), y: thing.y + radius * angle.sin() };
            let rect = around(at);
            if area.holds(&rect) && taken.is_free(rect) {
                return Some(Point { x: (at.x * 100.0).round() / 100.0, y: (at.y * 100.0).round() / 100.0 });
            }
        }
    }
    None
}

/// The boxes of everything that a flag must not touch: devices and labels whole, lines along their length.
pub(super) fn obstacles(group: &Group) -> Vec<Rect> {
    let mut taken = Vec::new();
    let solid = matches!(
        group.role,
        Role::Device(_) | Role::Splice(_) | Role::Label(_) | Role::LooseEnd { .. } | Role::Reference { .. }
    );
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostic::{Finding, Severity};
    use crate::netlist::read_text;

    #[test]
    fn a_flag_without_room_stands_beside_the_name() {
        let text = "job: {title: x}\ndevices:\n  E1: {type: lamp, volts: 12 V, watts: 3 W}\n";
        let job = read_text("x.yaml", text).job.unwrap();
        let mut diagram = Group::new(Role::Diagram);
        let mut label = Group::new(Role::Label("E1".to_owned()));
        label.text(Text::new("E1", 10.0, 10.0, Height::H3_5).bold());
        let ink = label.shapes().find_map(Shape::bounds).unwrap();
        let mut device = Group::new(Role::Device("E1".to_owned()));
        let outline = Rect { x: 10.0, y: 11.0, w: 20.0, h: 20.0 };
        device.shape(Shape::rect(outline, None, crate::scene::Dash::Solid, crate::scene::Fill::None));
        diagram.group(label);
        diagram.group(device);
        let finding = Finding {
            rule: "unconnected-device",
            severity: Severity::Warning,
            message: "nothing reaches E1".into(),
            fix: "".into(),
            cures: Box::default(),
            accepted: None,
            state: None,
            subjects: vec![Subject::Device(0)],
            labels: vec![],
        };
        let findings = [finding.clone(), finding];
        let nowhere = Rect { x: 0.0, y: 0.0, w: 1.0, h: 1.0 };
        place(&mut diagram, &job, &notes::listed(&findings), nowhere, &[]);
        let flags: Vec<Rect> = diagram
            .groups()
            .filter(|group| matches!(group.role, Role::Flag(_)))
            .filter_map(|group| group.shapes().find_map(Shape::bounds))
            .collect();
        let [first, second] = flags.as_slice() else { panic!("{flags:?}") };
        assert!(first.x > ink.right() && first.x < ink.right() + 2.0, "{first:?} {ink:?}");
        assert!(!first.overlaps(second));
    }

    /// Below its row a flag would be taken for one of the terminal there.
    #[test]
    fn a_flag_below_its_terminal_bears_the_name() {
        let text = "job: {title: x}\ndevices:\n  S1: {type: push-button-no}\n";
        let job = read_text("x.yaml", text).job.unwrap();
        let shown = |above: bool| {
            let mut diagram = Group::new(Role::Diagram);
            let mut device = Group::new(Role::Device("S1".to_owned()));
            let outline = Rect { x: 60.0, y: 20.0, w: 20.0, h: 40.0 };
            device.shape(Shape::rect(outline, None, crate::scene::Dash::Solid, crate::scene::Fill::None));
            let mut landing =
                Group::new(Role::Landing { device: "S1".to_owned(), terminal: "13".to_owned() });
            landing.shape(Shape::rect(
                Rect { x: 59.5, y: 39.5, w: 1.0, h: 1.0 },
                None,
                crate::scene::Dash::Solid,
                crate::scene::Fill::None,
            ));
            device.group(landing);
            diagram.group(device);
            if !above {
                let mut text = Group::new(Role::Label("W1".to_owned()));
                let over = Rect { x: 20.0, y: 20.0, w: 40.0, h: 20.0 };
                text.shape(Shape::rect(over, None, crate::scene::Dash::Solid, crate::scene::Fill::None));
                diagram.group(text);
            }
            let finding = Finding {
                rule: "floating-input",
                severity: Severity::Warning,
                message: "nothing".into(),
                fix: "".into(),
                cures: Box::default(),
                accepted: None,
                state: None,
                subjects: vec![Subject::from(job.terminal_ids().next().unwrap().0)],
                labels: vec![],
            };
            place(
                &mut diagram,
                &job,
                &notes::listed(&[finding]),
                Rect { x: 0.0, y: 0.0, w: 100.0, h: 90.0 },
                &[],
            );
            let flag = diagram.groups().find(|group| matches!(group.role, Role::Flag(_))).unwrap();
            let at = middle(flag.shapes().find_map(Shape::bounds).unwrap());
            let named = flag.shapes().any(|shape| matches!(shape, Shape::Text(text) if text.text == "S1:13"));
            (at.y < 40.0, named)
        };
        assert_eq!(shown(true), (true, false));
        assert!(shown(false).1);
    }
}
