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
pub(super) type Node = u32;

/// Terminals sorted into nets and nodes.
pub(super) struct Nets {
    pub(super) net: Vec<NetId>,
    pub(super) members: Lists<TerminalId>,
    pub(super) node: Arc<[Node]>,
    pub(super) nodes: usize,
}

impl Nets {
    pub(super) fn of(job: &Job) -> Self {
        let mut sets = UnionFind::<u32>::new(job.terminals.len());
        for core in &job.cores {
            if let [End::Terminal(a), End::Terminal(b)] = [core.ends[0].to, core.ends[1].to] {
                sets.union(a.0, b.0);
            }
        }
        for link in &job.links {
            sets.union(link.ends[0].0, link.ends[1].0);
        }
        for part in &job.parts {
            if let Kind::Bridge(terminals) = &part.kind {
                for pair in terminals.windows(2) {
                    sets.union(pair[0].0, pair[1].0);
                }
            }
        }
        let (net, nets) = numbered(&sets, job.terminals.len());
        let members = Lists::of(nets, job.terminal_ids().map(|(id, _)| (net[id.index()] as usize, id)));
        for part in &job.parts {
            if let Kind::Fuse(fuse) = &part.kind {
                sets.union(fuse.between[0].0, fuse.between[1].0);
            }
        }
        let (node, nodes) = numbered(&sets, job.terminals.len());
        let net = net.into_iter().map(NetId).collect();
        Self { net, members, node: node.into(), nodes }
    }
}

/// Numbers the sets in the order of their first member.
fn numbered(sets: &UnionFind<u32>, len: usize) -> (Vec<u32>, usize) {
    let mut number = vec![None; len];
    let mut count = 0;
    let of = (0..)
        .take(len)
        .map(|i| {
            *number[sets.find(i) as usize].get_or_insert_with(|| {
                count += 1;
                count - 1
            })
        })
        .collect();
    (of, count as usize)
}
