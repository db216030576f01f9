//! Devices that are alike: of one kind, wired alike to neighbours that are wired alike.
//!
//! Three relays with like wiring should stand in one column, each with the same terminals on the same side. So what is
//! changed of one of them is tried for all of them at once.

use std::collections::BTreeMap;

use super::collect::{Graph, Joint};
use super::rank::{Ranking, Unit};
use crate::figure::Side;
use crate::netlist::Form;

/// How far from a device wiring is compared, in wires.
const DEPTH: usize = 2;

/// What stands alike, in sets of two and more.
#[derive(Debug)]
pub(super) struct Alike {
    /// Devices.
    pub devices: Vec<Vec<usize>>,
    /// Units.
    pub units: Vec<Vec<usize>>,
}

impl Alike {
    /// Finds what is alike.
    pub fn of(graph: &Graph, units: &[Unit]) -> Self {
        let kinds = kinds(graph);
        let unit = |unit: &Unit| {
            let far = unit.ends.first().and_then(|(s, e)| graph.strands[*s].ends[1 - e]);
            let far = far.map(|joint| (kinds[joint.node], label(graph, joint)));
            (kinds[unit.node], unit.terminals.first().copied(), far)
        };
        let devices = sets(kinds.iter().copied());
        let units = sets(units.iter().map(unit));
        Self { devices, units }
    }
}

/// A number for each device, the same for those that are alike.
fn kinds(graph: &Graph) -> Vec<usize> {
    let nodes = || graph.nodes.iter().enumerate();
    let mut kinds = numbered(nodes().map(|(n, node)| {
        let strip = node.form != Form::Box;
        let terminals = (!strip).then_some((&node.pref.sides, &node.pref.groups));
        let free = (node.plain, node.source, node.away.is_some(), graph.hosts[n].is_some());
        (node.form == Form::Splice, terminals, free)
    }));
    for _ in 0..DEPTH {
        kinds = numbered(nodes().map(|(n, node)| {
            let mut wires: Vec<_> = Vec::with_capacity(node.ends.len());
            for (s, e) in &node.ends {
                let strand = &graph.strands[*s];
                if let [Some(own), Some(far)] = [strand.ends[*e], strand.ends[1 - e]]
                    && far.node != n
                {
                    wires.push((
                        label(graph, own),
                        strand.bundle.is_some(),
                        label(graph, far),
                        kinds[far.node],
                    ));
                }
            }
            wires.sort_unstable();
            (kinds[n], wires)
        }));
    }
    kinds
}

/// The number of a terminal in its device; the ways of a strip are all alike.
fn label(graph: &Graph, joint: Joint) -> usize {
    if graph.nodes[joint.node].form == Form::Box { joint.terminal } else { 0 }
}

/// Keys as numbers.
fn numbered<K: Ord>(keys: impl Iterator<Item = K>) -> Vec<usize> {
    let keys: Vec<K> = keys.collect();
    let mut known: Vec<&K> = keys.iter().collect();
    known.sort_unstable();
    known.dedup();
    keys.iter().map(|key| known.partition_point(|k| *k < key)).collect()
}

/// The sets of two and more with one key, in the order of their first members.
fn sets<K: Ord>(keys: impl Iterator<Item = K>) -> Vec<Vec<usize>> {
    let mut sets: BTreeMap<K, Vec<usize>> = BTreeMap::new();
    for (i, key) in keys.enumerate() {
        sets.entry(key).or_default().push(i);
    }
    let mut sets: Vec<Vec<usize>> = sets.into_values().filter(|set| set.len() > 1).collect();
    sets.sort_unstable();
    sets
}

/// The value that most have, the least of those.
fn most<T: Ord + Copy>(values: impl Iterator<Item = T>) -> Option<(T, usize)> {
    let mut counts: BTreeMap<T, usize> = BTreeMap::new();
    for value in values {
        *counts.entry(value).or_default() += 1;
    }
    counts.into_iter().rev().max_by_key(|(_, count)| *count)
}

impl Ranking {
    /// Moves all devices of a set by so many columns.
    pub fn shift_alike(&mut self, set: usize, by: i32) {
        let devices = self.alike.devices[set].clone();
        self.follow(&devices, |column| column + by);
    }

    /// Puts all devices of a set in the column so many right of the one in which most of them are.
    pub fn stand_alike(&mut self, set: usize, by: i32) {
        let devices = self.alike.devices[set].clone();
        let Some((column, _)) = most(devices.iter().map(|n| self.choice.column[*n])) else { return };
        for n in devices {
            self.shift(n, column + by - self.choice.column[n]);
        }
    }

    /// Puts all units of a set on one side.
    pub fn face_alike(&mut self, set: usize, side: Side) {
        for u in self.alike.units[set].clone() {
            if self.choice.side[u] != side {
                self.flip(u);
            }
        }
    }

    /// Lets most decide for all that are alike.
    pub fn settle_alike(&mut self) {
        for set in 0..self.alike.units.len() {
            if let Some((side, _)) = most(self.alike.units[set].iter().map(|u| self.choice.side[*u])) {
                self.face_alike(set, side);
            }
        }
        for set in 0..self.alike.devices.len() {
            self.stand_alike(set, 0);
        }
    }

    /// How many devices and units stand otherwise than most that are like them.
    pub(super) fn unlike(&self) -> usize {
        let devices = self.alike.devices.iter().map(|set| {
            set.len() - most(set.iter().map(|n| self.choice.column[*n])).map_or(0, |(_, count)| count)
        });
        let units = self.alike.units.iter().map(|set| {
            set.len() - most(set.iter().map(|u| self.choice.side[*u])).map_or(0, |(_, count)| count)
        });
        devices.sum::<usize>() + units.sum::<usize>()
    }
}
