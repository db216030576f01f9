//! Where the things of a diagram stand that bear a name.

use std::collections::BTreeMap;

use crate::scene::{Group, Rect, Role, Shape};

/// A name of the job file, and what of it is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Part<'a> {
    /// The outline of a device, or the bar of a splice.
    Device(&'a str),
    /// A circle of a terminal, by device and terminal.
    Landing(&'a str, &'a str),
    /// A label, by what it belongs to.
    Label(&'a str),
    /// The outline of a cable.
    Sheath(&'a str),
    /// The sign at a loose end, by cable and core.
    LooseEnd(&'a str, &'a str),
}

/// The boxes of everything in a diagram that bears a name: of the first shape of the first group that has one.
pub struct Named<'a>(BTreeMap<Part<'a>, Rect>);

impl<'a> Named<'a> {
    /// Looks through a diagram.
    pub fn of(diagram: &'a Group) -> Self {
        let mut named = Self(BTreeMap::new());
        named.collect(diagram);
        named
    }

    fn collect(&mut self, group: &'a Group) {
        for inner in group.groups() {
            let bounds = || inner.shapes().find_map(Shape::bounds);
            if let Some((part, bounds)) = part(&inner.role).zip(bounds()) {
                self.0.entry(part).or_insert(bounds);
            }
            self.collect(inner);
        }
    }

    /// The box of a part, if it is drawn.
    pub fn find(&self, part: Part<'_>) -> Option<Rect> {
        self.0.get(&part).copied()
    }
}

fn part(role: &Role) -> Option<Part<'_>> {
    Some(match role {
        Role::Device(name) | Role::Splice(name) => Part::Device(name),
        Role::Landing { device, terminal } => Part::Landing(device, terminal),
        Role::Label(of) => Part::Label(of),
        Role::Sheath(cable) => Part::Sheath(cable),
        Role::LooseEnd { cable, core, .. } => Part::LooseEnd(cable, core),
        _ => return None,
    })
}
