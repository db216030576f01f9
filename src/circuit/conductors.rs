//! What lies beyond each core of a conductor, seen from one of its terminals.
//!
//! A conductor (fuses counted as part of it) falls into blocks: its rings, and the cores and links that lie on none. All simple
//! paths between two terminals go through the blocks between them and no others, so a question about a few terminals of a 0 V
//! that thousands share looks at the few blocks between them.

use std::collections::BTreeMap;

use crate::netlist::{CoreId, Job, Kind, PartId, TerminalId};

use super::quick::{Map, Set};
use super::trace::{self, Through};
use super::{Circuit, small};

/// What lies beyond a core, seen from the pole.
#[derive(Clone, Copy, Default)]
pub(super) struct Beyond {
    /// The load of the highest limit there.
    pub(super) load: Option<(f64, PartId)>,
    /// How far from the pole the first fuse of any way is, in metres; infinite where a length is not stated.
    pub(super) to_fuse: f64,
    /// Whether some way has no fuse.
    pub(super) unfused: bool,
}

impl Beyond {
    fn with(self, other: Self) -> Self {
        let load = match (self.load, other.load) {
            (Some(a), Some(b)) => Some(if b.0 > a.0 { b } else { a }),
            (a, b) => a.or(b),
        };
        Self { load, to_fuse: self.to_fuse.max(other.to_fuse), unfused: self.unfused || other.unfused }
    }
}

/// The conductors of a job in blocks, each conductor seen from its first terminal.
pub(super) struct Conductors<'a> {
    job: &'a Job,
    circuit: &'a Circuit,
    /// By terminal: the block that leads towards the first terminal of its conductor, or [`NONE`].
    up: Vec<u32>,
    blocks: Vec<Block>,
}

/// Where no block leads on.
const NONE: u32 = u32::MAX;

struct Block {
    /// Its terminal nearest to the first one.
    top: TerminalId,
    /// How many blocks lie between its other terminals and the first one, itself among them.
    depth: u32,
}

/// A core, link, bridge or fuse between two terminals.
type Joint = (TerminalId, TerminalId, Through);

/// What a search comes upon.
enum Event<'e> {
    /// It goes to a terminal for the first time.
    Enter { from: TerminalId, joint: Joint },
    /// It has seen all beyond a terminal and goes back to the one above, with the block that ends there, if one does.
    Leave { at: TerminalId, above: TerminalId, by: Through, block: Option<&'e [Joint]> },
}

impl<'a> Conductors<'a> {
    pub(super) fn of(job: &'a Job, circuit: &'a Circuit) -> Self {
        let terminals = job.terminals.len();
        let mut all = Self { job, circuit, up: vec![NONE; terminals], blocks: Vec::new() };
        let mut seen = vec![false; terminals];
        for (root, _) in job.terminal_ids() {
            if std::mem::replace(&mut seen[root.index()], true) {
                continue;
            }
            let (mut up, mut tops) = (Vec::new(), Vec::new());
            let number = |block: usize| u32::try_from(block).unwrap_or(NONE);
            let blocks = all.blocks.len();
            all.search(root, &|_, _| true, &mut |event| match event {
                Event::Enter { joint: (_, to, _), .. } => seen[to.index()] = true,
                Event::Leave { above, block: Some(block), .. } => {
                    let ends = block.iter().flat_map(|(a, b, _)| [*a, *b]).filter(|end| *end != above);
                    up.extend(ends.map(|end| (end, number(blocks + tops.len()))));
                    tops.push(above);
                }
                Event::Leave { .. } => {}
            });
            for (end, block) in up {
                all.up[end.index()] = block;
            }
            all.blocks.extend(tops.into_iter().map(|top| Block { top, depth: 0 }));
            // A block ends before the one that its top lies in.
            for block in (blocks..all.blocks.len()).rev() {
                all.blocks[block].depth = all.depth(all.blocks[block].top) + 1;
            }
        }
        all
    }

    /// The block that leads from a terminal towards the first one, and the terminal at its other side.
    fn above(&self, at: TerminalId) -> Option<(u32, TerminalId)> {
        let block = self.up[at.index()];
        Some((block, self.blocks.get(block as usize)?.top))
    }

    /// How many blocks lie between a terminal and the first one.
    fn depth(&self, at: TerminalId) -> u32 {
        self.blocks.get(self.up[at.index()] as usize).map_or(0, |block| block.depth)
    }

    /// The block of two terminals that a joint joins.
    fn block(&self, a: TerminalId, b: TerminalId) -> Option<u32> {
        let (first, second) = (self.above(a), self.above(b));
        match (first, second) {
            (Some((x, _)), Some((y, _))) if x == y => Some(x),
            (Some((x, top)), _) if top == b => Some(x),
            _ => second.map(|(y, _)| y),
        }
    }

    /// Goes through all that is joined to a terminal over the joints that `allowed` likes, by their ends.
    fn search(
        &self,
        root: TerminalId,
        allowed: &dyn Fn(TerminalId, TerminalId) -> bool,
        tell: &mut dyn FnMut(Event),
    ) {
        struct Visit<I> {
            at: TerminalId,
            by: Option<Through>,
            rest: I,
        }
        let visit = |at, by| Visit { at, by, rest: trace::joints(self.job, &self.circuit.landings, at) };
        let kind = |through: Through| match through {
            Through::Part(part) => Some(&self.job.part(part).kind),
            _ => None,
        };
        // By terminal: its number in the order of the search, and the lowest number that leads back there.
        let mut found: Map<TerminalId, (u32, u32)> = Map::from_iter([(root, (0, 0))]);
        let mut stack = vec![visit(root, None)];
        let mut open: Vec<Joint> = Vec::new();
        while let Some(Visit { at, by, rest }) = stack.last_mut() {
            let (at, by) = (*at, *by);
            if let Some((to, through)) = rest.next() {
                let plain = matches!(kind(through), None | Some(Kind::Bridge(_) | Kind::Fuse(_)));
                // A bridge is one entry that joins several pairs: the pair tells them apart.
                let bridge = matches!(kind(through), Some(Kind::Bridge(_)));
                let came = stack.len().checked_sub(2).and_then(|n| stack.get(n)).map(|below| below.at);
                let back = Some(through) == by && (!bridge || came == Some(to));
                if !plain || to == at || back || !allowed(at, to) {
                    continue;
                }
                let number = found.get(&at).map_or(0, |f| f.0);
                match found.get(&to).map(|f| f.0) {
                    None => {
                        let next = small(found.len());
                        found.insert(to, (next, next));
                        open.push((at, to, through));
                        stack.push(visit(to, Some(through)));
                        tell(Event::Enter { from: at, joint: (at, to, through) });
                    }
                    Some(before) if before < number => {
                        open.push((at, to, through));
                        if let Some(entry) = found.get_mut(&at) {
                            entry.1 = entry.1.min(before);
                        }
                    }
                    Some(_) => {}
                }
                continue;
            }
            stack.pop();
            let (Some(by), Some(above)) = (by, stack.last().map(|visit| visit.at)) else { continue };
            let low = found.get(&at).map_or(0, |f| f.1);
            let number = found.get(&above).map_or(0, |f| f.0);
            if let Some(entry) = found.get_mut(&above) {
                entry.1 = entry.1.min(low);
            }
            if low >= number {
                let from = open.iter().rposition(|joint| *joint == (above, at, by)).unwrap_or(0);
                tell(Event::Leave { at, above, by, block: Some(&open[from..]) });
                open.truncate(from);
            } else {
                tell(Event::Leave { at, above, by, block: None });
            }
        }
    }

    /// The blocks between a terminal and any of `ends` of the same conductor.
    fn between(&self, root: TerminalId, ends: &BTreeMap<TerminalId, (f64, PartId)>) -> Set<u32> {
        let mut between = Set::default();
        // From the root as far up as any end has asked for yet.
        let mut passed = Set::from_iter([root]);
        let mut highest = root;
        for &end in ends.keys() {
            let mut at = end;
            while !passed.contains(&at) {
                let own = self.above(at).filter(|_| self.depth(at) >= self.depth(highest));
                if let Some((block, top)) = own {
                    if !between.insert(block) {
                        break;
                    }
                    at = top;
                } else if let Some((block, top)) = self.above(highest) {
                    between.insert(block);
                    highest = top;
                    passed.insert(top);
                } else {
                    break;
                }
            }
        }
        between
    }

    /// What lies beyond each core of a conductor on simple paths from its `root` to its `ends`. A ring of cores is one: every
    /// core of it may carry what any of its ends takes.
    pub(super) fn beyond(
        &self,
        root: TerminalId,
        ends: &BTreeMap<TerminalId, (f64, PartId)>,
    ) -> Vec<(CoreId, Beyond)> {
        let job = self.job;
        let metres = |through: Through| match through {
            Through::Core(core) => job.cable(job.core(core).cable).length.map_or(f64::INFINITY, |l| l.0),
            _ => 0.0,
        };
        let own = |at: TerminalId| Beyond {
            load: ends.get(&at).copied(),
            to_fuse: 0.0,
            unfused: ends.contains_key(&at),
        };
        let between = self.between(root, ends);
        let allowed = |a, b| self.block(a, b).is_some_and(|block| between.contains(&block));
        // By terminal beyond which not all is seen yet: how far it is from the root, and what lies beyond it.
        let mut sum: Map<TerminalId, (f64, Beyond)> = Map::from_iter([(root, (0.0, own(root)))]);
        let mut told = Vec::new();
        self.search(root, &allowed, &mut |event| match event {
            Event::Enter { from, joint: (_, to, through) } => {
                let away = sum.get(&from).map_or(0.0, |sum| sum.0);
                sum.insert(to, (away + metres(through), own(to)));
            }
            Event::Leave { at, above, by, block } => {
                let Some((_, here)) = sum.remove(&at) else { return };
                let Some((away, before)) = sum.get_mut(&above) else { return };
                let mut up = here;
                if let Some(block) = block {
                    let fuse =
                        matches!(by, Through::Part(part) if matches!(job.part(part).kind, Kind::Fuse(_)));
                    if fuse && block.len() == 1 && here.load.is_some() {
                        up = Beyond { to_fuse: *away, unfused: false, ..here };
                    } else {
                        told.extend(block.iter().filter_map(|(_, _, through)| match through {
                            Through::Core(core) if here.load.is_some() => Some((*core, here)),
                            _ => None,
                        }));
                    }
                }
                *before = before.with(up);
            }
        });
        told
    }
}
