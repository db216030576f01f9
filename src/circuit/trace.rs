//! A path as an installer follows it, terminal by terminal.

use std::collections::VecDeque;

use crate::netlist::{CoreId, Job, Kind, LinkId, PartId, TerminalId};

use super::landings::{Landing, Landings};
use super::quick::Map;

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

/// What is joined to a terminal, and by what: cores, links, then the bridges, fuses and parts of its device that may carry
/// current.
pub(super) fn joints<'a>(
    job: &'a Job,
    landings: &'a Landings,
    at: TerminalId,
) -> impl Iterator<Item = (TerminalId, Through)> + 'a {
    let other = move |[a, b]: [TerminalId; 2]| if a == at { b } else { a };
    let conductors = landings.on(at).iter().filter_map(move |landing| match *landing {
        Landing::Core(core, end) => {
            let away = job.core(core).ends[usize::from(1 - end)].to.terminal()?;
            Some((away, Through::Core(core)))
        }
        Landing::Link(link) => Some((other(job.links[link.index()].ends), Through::Link(link))),
    });
    let parts = job.device(job.terminal(at).device).parts.iter().map(PartId).flat_map(move |id| {
        let here = joined(&job.part(id).kind).filter(move |ends| ends.contains(&at));
        here.map(move |ends| (other(ends), Through::Part(id)))
    });
    conductors.chain(parts)
}

/// The terminals that a part joins, if only at times, two by two.
fn joined(kind: &Kind) -> impl Iterator<Item = [TerminalId; 2]> {
    let (pairs, row): ([Option<[TerminalId; 2]>; 2], &[TerminalId]) = match kind {
        Kind::Bridge(terminals) => ([None; 2], terminals),
        Kind::Contact(contact) => {
            ([contact.no, contact.nc].map(|throw| throw.map(|throw| [contact.common, throw])), &[])
        }
        Kind::Fuse(fuse) => ([Some(fuse.between), None], &[]),
        Kind::Output(output) => ([Some([output.at, output.common]), None], &[]),
        Kind::TwoWire(sensor) => ([Some([sensor.plus, sensor.minus]), None], &[]),
        Kind::Diode(diode) => ([Some([diode.anode, diode.cathode]), None], &[]),
        Kind::Resistor(resistor) => ([Some(resistor.between), None], &[]),
        Kind::Load(load) => ([Some([load.plus, load.minus]), None], &[]),
        Kind::Coil(coil) => ([Some([coil.plus, coil.minus]), None], &[]),
        Kind::Source(source) => ([Some([source.plus, source.minus]), None], &[]),
        _ => ([None; 2], &[]),
    };
    pairs.into_iter().flatten().chain(row.windows(2).map(|pair| [pair[0], pair[1]]))
}

/// The shortest path from `from` to `to` through conductors and the parts that `passes` likes in that direction.
pub(super) fn path(
    job: &Job,
    landings: &Landings,
    from: TerminalId,
    to: TerminalId,
    passes: &dyn Fn(PartId, TerminalId, TerminalId) -> bool,
) -> Option<Path> {
    let mut came: Map<TerminalId, (TerminalId, Through)> = Map::default();
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
        for (next, through) in joints(job, landings, at) {
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
