//! A path as an installer follows it, terminal by terminal.

use std::collections::{HashMap, VecDeque};

use crate::netlist::{CoreId, End, Job, Kind, LinkId, Lists, PartId, TerminalId};

/// What a hop goes through.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Through {
    /// A core.
    Core(CoreId),
    /// A jumper.
    Link(LinkId),
    /// A part: a bridge, contact, fuse, diode, output or sensor; in other searches a source, resistor, load or coil.
    Part(PartId),
}

/// One step of a path.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hop {
    /// Where it leaves.
    pub from: TerminalId,
    /// Where it arrives.
    pub to: TerminalId,
    /// What it goes through.
    pub through: Through,
}

/// A path, terminal by terminal; empty when both ends are one terminal.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Path {
    /// Its steps in order.
    pub hops: Vec<Hop>,
}

impl Path {
    /// The path in words: `G1:V+, W1 red (RD), F1:1, F1, F1:2`; cores with cable and colour, parts by the word of
    /// their device, terminals as they are printed.
    #[must_use]
    pub fn words(&self, job: &Job) -> String {
        let Some(first) = self.hops.first() else { return String::new() };
        let mut text = job.label(first.from);
        for hop in &self.hops {
            match hop.through {
                Through::Core(id) => {
                    let core = job.core(id);
                    text.push_str(&format!(" – {} {} – ", job.cable(core.cable).name, core.name));
                }
                Through::Link(_) => text.push_str(" – link – "),
                Through::Part(_) => text.push_str(" → "),
            }
            text.push_str(&job.label(hop.to));
        }
        text
    }

    /// The cores on it, in order.
    pub fn cores(&self) -> impl Iterator<Item = CoreId> + '_ {
        self.hops.iter().filter_map(|hop| match hop.through {
            Through::Core(id) => Some(id),
            _ => None,
        })
    }

    /// The parts on it, in order.
    pub fn parts(&self) -> impl Iterator<Item = PartId> + '_ {
        self.hops.iter().filter_map(|hop| match hop.through {
            Through::Part(id) => Some(id),
            _ => None,
        })
    }
}

/// Which parts a walk may go through.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// Conductors, closed contacts, fuses, and outputs and sensors that are on: nothing that has a direction.
    Closed,
    /// The same, and diodes forward: the walk goes with the current.
    Hard,
    /// All of it and resistors, loads and coils; diodes either way.
    Soft,
}

/// The joints at each terminal: cores, links, bridges, fuses; and the parts that may carry current.
pub(super) struct Joints(Lists<(TerminalId, Through)>);

impl Joints {
    pub(super) fn of(job: &Job) -> Self {
        let mut joints = Vec::with_capacity(2 * (job.cores.len() + job.links.len() + job.parts.len()));
        let mut add = |a: TerminalId, b: TerminalId, through| {
            joints.push((a.index(), (b, through)));
            joints.push((b.index(), (a, through)));
        };
        for (id, core) in job.core_ids() {
            if let [End::Terminal(a), End::Terminal(b)] = [core.ends[0].to, core.ends[1].to] {
                add(a, b, Through::Core(id));
            }
        }
        for (n, link) in (0..).zip(&job.links) {
            add(link.ends[0], link.ends[1], Through::Link(LinkId(n)));
        }
        for (id, part) in job.part_ids() {
            let through = Through::Part(id);
            match &part.kind {
                Kind::Bridge(terminals) => {
                    for pair in terminals.windows(2) {
                        add(pair[0], pair[1], through);
                    }
                }
                Kind::Fuse(fuse) => add(fuse.between[0], fuse.between[1], through),
                Kind::Contact(contact) => {
                    for throw in [contact.no, contact.nc].into_iter().flatten() {
                        add(contact.common, throw, through);
                    }
                }
                Kind::Output(output) => add(output.at, output.common, through),
                Kind::TwoWire(sensor) => add(sensor.plus, sensor.minus, through),
                Kind::Diode(diode) => add(diode.anode, diode.cathode, through),
                Kind::Resistor(resistor) => add(resistor.between[0], resistor.between[1], through),
                Kind::Load(load) => add(load.plus, load.minus, through),
                Kind::Coil(coil) => add(coil.plus, coil.minus, through),
                Kind::Source(source) => add(source.plus, source.minus, through),
                _ => {}
            }
        }
        Self(Lists::of(job.terminals.len(), joints.iter().copied()))
    }

    /// The joints at one terminal, each with the terminal at its other end.
    pub(super) fn at(&self, terminal: TerminalId) -> &[(TerminalId, Through)] {
        self.0.get(terminal.index())
    }
}

/// The shortest path from `from` to `to` through conductors and the parts that `passes` likes in that direction.
pub(super) fn path(
    job: &Job,
    joints: &Joints,
    from: TerminalId,
    to: TerminalId,
    passes: &dyn Fn(PartId, TerminalId, TerminalId) -> bool,
) -> Option<Path> {
    let mut came: HashMap<TerminalId, (TerminalId, Through)> = HashMap::new();
    let mut queue = VecDeque::from([from]);
    while let Some(at) = queue.pop_front() {
        if at == to {
            let mut hops = Vec::new();
            let mut to = at;
            while to != from {
                let &(before, through) = came.get(&to)?;
                hops.push(Hop { from: before, to, through });
                to = before;
            }
            hops.reverse();
            return Some(Path { hops });
        }
        for &(next, through) in joints.at(at) {
            if next == from || came.contains_key(&next) {
                continue;
            }
            if let Through::Part(part) = through
                && !matches!(job.part(part).kind, Kind::Bridge(_) | Kind::Fuse(_))
                && !passes(part, at, next)
            {
                continue;
            }
            came.insert(next, (at, through));
            queue.push_back(next);
        }
    }
    None
}

/// Whether a contact's throw, or an output or sensor, is closed with its mover standing so.
pub(super) fn throw(job: &Job, part: PartId, from: TerminalId, to: TerminalId, operated: bool) -> bool {
    match &job.part(part).kind {
        Kind::Output(_) | Kind::TwoWire(_) => operated,
        Kind::Contact(contact) => {
            let throw = if from == contact.common { to } else { from };
            (operated && contact.no == Some(throw)) || (!operated && contact.nc == Some(throw))
        }
        _ => false,
    }
}
