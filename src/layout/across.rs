//! Parts that lie across two terminals of one device: a flyback diode, an end-of-line resistor, a suppressor.
//!
//! Such a part stands beside its device, in the next column on the side of those terminals, so that its two wires are short
//! and straight; where the device goes it goes too. A part with two leads can lie either way up: its terminals stand in the
//! order in which their wires do not cross.

use super::collect::Graph;
use super::rank::{Ranking, other};
use crate::figure::Side;

/// The device across whose terminals each lies, if nothing else is joined to it.
pub(super) fn hosts(graph: &Graph) -> Vec<Option<usize>> {
    let host = |n: usize| {
        let &[a, b] = &graph.nodes[n].ends[..] else { return None };
        let far = |(s, e): (usize, usize)| {
            let strand = &graph.strands[s];
            strand.ends[1 - e].filter(|_| strand.bundle.is_none()).map(|joint| joint.node)
        };
        let host = far(a).filter(|host| far(b) == Some(*host) && *host != n)?;
        let here = |n: usize| graph.nodes[n].away.is_none();
        (graph.nodes[n].pref.sides.len() == 2 && here(n) && here(host)).then_some(host)
    };
    (0..graph.nodes.len()).map(host).collect()
}

impl Ranking {
    /// Puts what lies across two terminals on one side of a device beside it there.
    pub(super) fn seat_companions(&mut self) {
        let graph = self.graph();
        for (n, host) in graph.hosts.iter().enumerate() {
            if let Some(host) = host {
                self.seat(&graph, n, *host);
            }
        }
    }

    fn seat(&mut self, graph: &Graph, n: usize, host: usize) {
        let far =
            graph.nodes[n].ends.iter().map(|(s, e)| self.choice.side.get(self.unit_of[*s][1 - e]).copied());
        let sides: Vec<Side> = far.flatten().collect();
        let &[side, second] = &sides[..] else { return };
        if side == second {
            self.choice.column[n] = self.choice.column[host] + if side == Side::Right { 1 } else { -1 };
            for u in self.units_of[n].clone() {
                self.choice.side[u] = other(side);
            }
        }
    }
}

/// Whether a device lies across another and has its second terminal above its first, so that its wires do not cross.
pub(super) fn lies_upturned(graph: &Graph, host: &[Option<usize>], side: &[[Side; 2]], n: usize) -> bool {
    let (Some(_), &[a, b]) = (host[n], &graph.nodes[n].ends[..]) else { return false };
    let own = [a, b].map(|(s, e)| side[s][e]);
    let theirs = [a, b].map(|(s, e)| side[s][1 - e]);
    let terminal = [a, b].map(|(s, e)| graph.strands[s].ends[1 - e].map_or(0, |joint| joint.terminal));
    if own[0] != own[1] || theirs[0] != theirs[1] {
        return false;
    }
    if own[0] == theirs[0] { terminal[0] < terminal[1] } else { terminal[0] > terminal[1] }
}
