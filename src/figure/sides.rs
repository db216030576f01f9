//! Where the terminals of a device would like to stand.

use super::choose::is_sensor;
use super::{Side, Sides};
use crate::netlist::{DeviceId, Form, Job, Kind, TerminalId};

/// What a device's figure would like of its layout.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Preference {
    /// The side that each terminal prefers, in printed order.
    pub sides: Vec<Side>,
    /// Terminals, by their number in the device from 0, that must stand on one side together because a symbol lies
    /// between them. Every terminal is in exactly one group; many groups hold one terminal.
    pub groups: Vec<Vec<usize>>,
    /// Which terminals need no landing where nothing is joined to them, in printed order: aerials.
    pub optional: Vec<bool>,
}

impl Preference {
    /// The preferred sides with one landing a terminal, none on an aerial.
    #[must_use]
    pub fn plain(&self, form: Form) -> Sides {
        let of = match form {
            Form::Box => {
                let landings = self.optional.iter().map(|optional| u32::from(!optional));
                self.sides.iter().copied().zip(landings).collect()
            }
            Form::Splice | Form::Strip => {
                self.sides.iter().flat_map(|_| [(Side::Left, 1), (Side::Right, 1)]).collect()
            }
        };
        Sides { of, upturned: false }
    }
}

/// Which side each terminal of a device prefers, and which must keep one side together.
///
/// Supplies stand right and what they feed stands left; inputs left, outputs and contacts of a device that also has a
/// supply or a coil right. A lone two-terminal part that has no plus lies between left and right.
#[must_use]
pub fn default_sides(job: &Job, device: DeviceId) -> Preference {
    let entry = job.device(device);
    let first = entry.terminals.start;
    let count = entry.terminals.len();
    let number = |t: TerminalId| (t.0 - first) as usize;
    let mut root: Vec<usize> = (0..count).collect();
    let mut sides = vec![Side::Left; count];
    let mut aerial = vec![false; count];
    let parts = || entry.parts.iter().filter_map(|p| job.parts.get(p as usize));
    let worker = parts().any(|p| matches!(p.kind, Kind::Load(_) | Kind::Coil(_) | Kind::Input(_)));
    let lone = count == 2 && parts().count() == 1;
    for part in parts() {
        let mut terminals = terminals(&part.kind);
        if let Kind::Output(o) = &part.kind
            && is_sensor(job, entry)
        {
            terminals.push(o.common);
        }
        let right = match &part.kind {
            Kind::Source(_) => true,
            Kind::Contact(_) => worker,
            Kind::Output(_) => worker && count > 4,
            Kind::Aerial(t) => {
                if let Some(a) = aerial.get_mut(number(*t)) {
                    *a = true;
                }
                continue;
            }
            _ => false,
        };
        let through = match &part.kind {
            Kind::Fuse(_) | Kind::Resistor(_) | Kind::Suppressor(_) | Kind::Diode(_) => true,
            Kind::Load(l) => lone && !l.polarised,
            Kind::Coil(c) => lone && !c.polarised,
            Kind::Contact(_) | Kind::TwoWire(_) => lone,
            _ => false,
        };
        for (i, t) in terminals.iter().enumerate() {
            if let Some(side) = sides.get_mut(number(*t))
                && (right || (through && i == 1))
            {
                *side = Side::Right;
            }
        }
        if !through {
            for pair in terminals.windows(2) {
                if let [a, b] = pair {
                    join(&mut root, number(*a), number(*b));
                }
            }
        }
    }
    let groups = gathered(&root);
    for group in &groups {
        // A group that two parts want on different sides goes where its first terminal goes.
        let side = group.first().and_then(|t| sides.get(*t)).copied().unwrap_or(Side::Left);
        for t in group {
            if let Some(s) = sides.get_mut(*t) {
                *s = side;
            }
        }
    }
    Preference { sides, groups, optional: aerial }
}

/// The terminals between which a part is drawn, or the one that bears its sign.
pub(super) fn terminals(kind: &Kind) -> Vec<TerminalId> {
    match kind {
        Kind::Output(o) => vec![o.at],
        Kind::Input(i) => vec![i.at],
        Kind::Supervised(s) => vec![s.at],
        other => other.terminals().to_vec(),
    }
}

fn find(root: &[usize], mut at: usize) -> usize {
    while let Some(up) = root.get(at)
        && *up != at
    {
        at = *up;
    }
    at
}

fn join(root: &mut [usize], a: usize, b: usize) {
    let (a, b) = (find(root, a), find(root, b));
    if let Some(slot) = root.get_mut(a.max(b)) {
        *slot = a.min(b);
    }
}

/// The groups, each in printed order, in the order of their first terminals.
fn gathered(root: &[usize]) -> Vec<Vec<usize>> {
    let mut groups: Vec<Vec<usize>> = vec![Vec::new(); root.len()];
    for t in 0..root.len() {
        if let Some(group) = groups.get_mut(find(root, t)) {
            group.push(t);
        }
    }
    groups.retain(|g| !g.is_empty());
    groups
}
