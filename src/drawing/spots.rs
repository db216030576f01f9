//! Where devices and cables stand on the sheets, for the schedules.

use std::collections::BTreeMap;

use super::paper;
use crate::diagnostic::Subject;
use crate::netlist::{DeviceId, Job, TerminalId};
use crate::scene::{Group, Point, Rect, Role, Shape, Sheet};
use crate::schedules::{Spot, Spots};

/// Sheet and zone of every device, by the middle of its outline, of every cable, by its tag, and of the loose ends of
/// cores, by the sign or the box there.
pub fn spots(job: &Job, sheets: &[Sheet]) -> Spots {
    let contents = (1..).zip(sheets).map(|(number, sheet)| (number, sheet.size, &sheet.content[..]));
    spots_on(job, contents)
}

/// The same of sheets that are told by their number, their size and what stands on them.
pub fn spots_on<'a>(job: &Job, sheets: impl Iterator<Item = (u32, (f64, f64), &'a [Group])>) -> Spots {
    let devices = job.device_ids().map(|(id, device)| (device.name.as_str(), Subject::from(id)));
    let cables = job.cable_ids().map(|(id, cable)| (cable.name.as_str(), Subject::from(id)));
    let core = |cable: &str, core: &str| format!("{cable}.{core}");
    let cores =
        job.core_ids().map(|(id, own)| (core(&job.cable(own.cable).name, &own.name), Subject::from(id)));
    let (devices, cables): (BTreeMap<_, _>, BTreeMap<_, _>) = (devices.collect(), cables.collect());
    let cores: BTreeMap<_, _> = cores.collect();
    let mut spots = Spots::default();
    for (number, size, content) in sheets {
        let mut groups: Vec<&Group> = content.iter().rev().collect();
        while let Some(group) = groups.pop() {
            groups.extend(group.groups());
            let subject = match &group.role {
                Role::Device(name) | Role::Splice(name) => devices.get(name.as_str()),
                // A tag has a frame before its text; the make-up below it has none.
                Role::Label(of) if matches!(group.shapes().next(), Some(Shape::Path { .. })) => {
                    cables.get(of.as_str()).or_else(|| cores.get(of))
                }
                Role::LooseEnd { cable, core: name, .. } => cores.get(&core(cable, name)),
                _ => None,
            };
            if let (Some(subject), Some(bounds)) = (subject, group.shapes().find_map(Shape::bounds)) {
                let spot = Spot { sheet: number, zone: paper::zone(size, middle(bounds)) };
                if spots.of.get(subject).is_some_and(|first| *first != spot) {
                    // A further part of a device: its terminals stand here.
                    for terminal in group.groups().filter_map(|landing| terminal(job, *subject, landing)) {
                        spots.of.insert(terminal, spot.clone());
                    }
                }
                spots.of.entry(*subject).or_insert(spot);
            }
        }
    }
    spots
}

/// The terminal of a device that a landing is of.
fn terminal(job: &Job, device: Subject, landing: &Group) -> Option<Subject> {
    let (Subject::Device(device), Role::Landing { terminal, .. }) = (device, &landing.role) else {
        return None;
    };
    let mut terminals = job.device(DeviceId(device)).terminals.iter().map(TerminalId);
    terminals.find(|id| job.terminal(*id).name == *terminal).map(Subject::from)
}

fn middle(rect: Rect) -> Point {
    Point { x: rect.x + rect.w / 2.0, y: rect.y + rect.h / 2.0 }
}
