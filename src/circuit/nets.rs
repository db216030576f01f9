//! Which terminals are one conductor.
//!
//! A *net* is what cores, links and bridges join: it never changes. A *node* is what fuses join besides; the searches
//! run on nodes, because a fuse is always closed there.

use std::sync::Arc;

use petgraph::unionfind::UnionFind;

use crate::netlist::{End, Job, Kind, Lists, TerminalId};

/// A conductor: the terminals that cores, links and bridges join. Numbered in the order of its first terminal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct NetId(pub u32);

impl NetId {
    /// The index.
    #[must_use]
    pub fn index(self) -> usize {
        self.0 as usize
    }
}

/// What fuses join, besides cores, links and bridges.
pub(super) type Node = usize;

/// Terminals sorted into nets and nodes.
pub(super) struct Nets {
    pub(super) net: Vec<NetId>,
    pub(super) members: Lists<TerminalId>,
    pub(super) node: Arc<[Node]>,
    pub(super) nodes: usize,
}

impl Nets {
    pub(super) fn of(job: &Job) -> Self {
        let mut sets = UnionFind::<usize>::new(job.terminals.len());
        for core in &job.cores {
            if let [End::Terminal(a), End::Terminal(b)] = [core.ends[0].to, core.ends[1].to] {
                sets.union(a.index(), b.index());
            }
        }
        for link in &job.links {
            sets.union(link.ends[0].index(), link.ends[1].index());
        }
        for part in &job.parts {
            if let Kind::Bridge(terminals) = &part.kind {
                for pair in terminals.windows(2) {
                    sets.union(pair[0].index(), pair[1].index());
                }
            }
        }
        let (net, nets) = numbered(&sets, job.terminals.len());
        let members = Lists::of(nets, job.terminal_ids().map(|(id, _)| (net[id.index()], id)));
        for part in &job.parts {
            if let Kind::Fuse(fuse) = &part.kind {
                sets.union(fuse.between[0].index(), fuse.between[1].index());
            }
        }
        let (node, nodes) = numbered(&sets, job.terminals.len());
        let net = net.into_iter().map(|n| NetId(u32::try_from(n).unwrap_or(u32::MAX))).collect();
        Self { net, members, node: node.into(), nodes }
    }
}

/// Numbers the sets in the order of their first member.
fn numbered(sets: &UnionFind<usize>, len: usize) -> (Vec<usize>, usize) {
    let mut number = vec![None; len];
    let mut count = 0;
    let of = (0..len)
        .map(|i| {
            *number[sets.find(i)].get_or_insert_with(|| {
                count += 1;
                count - 1
            })
        })
        .collect();
    (of, count)
}
