//! Where devices and cables stand on the sheets, for the schedules.

use std::collections::BTreeMap;

use super::paper;
use crate::diagnostic::Subject;
use crate::netlist::Job;
use crate::scene::{Group, Point, Rect, Role, Shape, Sheet};
use crate::schedules::{Spot, Spots};

/// Sheet and zone of every device, by the middle of its outline, and of every cable, by its tag.
pub fn spots(job: &Job, sheets: &[Sheet]) -> Spots {
    let devices = job.device_ids().map(|(id, device)| (device.name.as_str(), Subject::from(id)));
    let cables = job.cable_ids().map(|(id, cable)| (cable.name.as_str(), Subject::from(id)));
    let (devices, cables): (BTreeMap<_, _>, BTreeMap<_, _>) = (devices.collect(), cables.collect());
    let mut spots = Spots::default();
    for (number, sheet) in (1..).zip(sheets) {
        let mut groups: Vec<&Group> = sheet.content.iter().rev().collect();
        while let Some(group) = groups.pop() {
            groups.extend(group.groups());
            let subject = match &group.role {
                Role::Device(name) | Role::Splice(name) => devices.get(name.as_str()),
                // A tag has a frame before its text; the make-up below it has none.
                Role::Label(of) if matches!(group.shapes().next(), Some(Shape::Path { .. })) => {
                    cables.get(of.as_str())
                }
                _ => None,
            };
            if let (Some(subject), Some(bounds)) = (subject, group.shapes().find_map(Shape::bounds)) {
                let zone = paper::zone(sheet.size, middle(bounds));
                spots.of.entry(*subject).or_insert(Spot { sheet: number, zone });
            }
        }
    }
    spots
}

fn middle(rect: Rect) -> Point {
    Point { x: rect.x + rect.w / 2.0, y: rect.y + rect.h / 2.0 }
}
