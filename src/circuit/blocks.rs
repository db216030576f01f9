//! Blocks: the parts of a graph that one node can cut off.
//!
//! Every simple path from a node to the root goes through the blocks between them and no others, so a search for
//! paths needs to look at nothing else. Tarjan's algorithm, without recursion.

use super::graph::{EdgeId, Graph};
use super::nets::Node;
use super::quick::{Map, Set};
use super::small;

/// The blocks of what can be reached from one node. A job has such for each pole of each source, so they are kept small.
pub(super) struct Blocks {
    root: Node,
    /// Each node but the root with the block that leads from it towards the root, by node.
    up: Vec<(Node, u32)>,
    /// By block: its node nearest to the root, and where its edges end among all.
    blocks: Vec<(Node, u32)>,
    edges: Vec<EdgeId>,
}

struct Visit {
    node: Node,
    by: Option<EdgeId>,
    next: usize,
}

impl Blocks {
    /// The blocks seen from `root`, over the edges that `allowed` likes, without the node `removed`.
    pub(super) fn of(
        graph: &Graph,
        root: Node,
        removed: Option<Node>,
        allowed: &dyn Fn(EdgeId) -> bool,
    ) -> Self {
        let mut blocks = Self { root, up: Vec::new(), blocks: Vec::new(), edges: Vec::new() };
        let mut found: Map<Node, (usize, usize)> = Map::from_iter([(root, (0, 0))]);
        let mut stack = vec![Visit { node: root, by: None, next: 0 }];
        let mut open: Vec<EdgeId> = Vec::new();
        while let Some(visit) = stack.last_mut() {
            let node = visit.node;
            if let Some(&id) = graph.at(node).get(visit.next) {
                visit.next += 1;
                let by = visit.by;
                let other = graph.edge(id).other(node);
                if other == node || Some(other) == removed || Some(id) == by || !allowed(id) {
                    continue;
                }
                let seen = found.get(&node).map_or(0, |f| f.0);
                match found.get(&other).map(|f| f.0) {
                    None => {
                        let number = found.len();
                        found.insert(other, (number, number));
                        open.push(id);
                        stack.push(Visit { node: other, by: Some(id), next: 0 });
                    }
                    Some(before) if before < seen => {
                        open.push(id);
                        if let Some(entry) = found.get_mut(&node) {
                            entry.1 = entry.1.min(before);
                        }
                    }
                    Some(_) => {}
                }
                continue;
            }
            let (by, low) = (visit.by, found.get(&node).map_or(0, |f| f.1));
            stack.pop();
            let (Some(by), Some(parent)) = (by, stack.last()) else { continue };
            let top = parent.node;
            let number = found.get(&top).map_or(0, |f| f.0);
            if let Some(entry) = found.get_mut(&top) {
                entry.1 = entry.1.min(low);
            }
            if low >= number {
                blocks.close(graph, top, by, &mut open);
            }
        }
        blocks.up.sort_unstable();
        blocks.up.dedup();
        blocks.up.shrink_to_fit();
        blocks.blocks.shrink_to_fit();
        blocks.edges.shrink_to_fit();
        blocks
    }

    fn close(&mut self, graph: &Graph, top: Node, by: EdgeId, open: &mut Vec<EdgeId>) {
        let at = open.iter().rposition(|&edge| edge == by).unwrap_or(0);
        let block = small(self.blocks.len());
        for edge in open.drain(at..) {
            for node in [graph.edge(edge).a, graph.edge(edge).b] {
                if node != top {
                    self.up.push((node, block));
                }
            }
            self.edges.push(edge);
        }
        self.blocks.push((top, small(self.edges.len())));
    }

    /// The block that leads from a node towards the root.
    fn above(&self, node: Node) -> Option<usize> {
        let at = self.up.binary_search_by_key(&node, |(node, _)| *node).ok()?;
        self.up.get(at).map(|(_, block)| *block as usize)
    }

    /// The node of a block nearest to the root.
    fn top(&self, block: usize) -> Node {
        self.blocks.get(block).map_or(self.root, |(top, _)| *top)
    }

    fn edges_of(&self, block: usize) -> impl Iterator<Item = EdgeId> {
        let end = |block: usize| self.blocks.get(block).map_or(0, |(_, end)| *end as usize);
        let from = block.checked_sub(1).map_or(0, end);
        self.edges.get(from..end(block)).unwrap_or_default().iter().copied()
    }

    /// By edge: the number of its block in the whole graph; `None` for one from a node to itself. Two edges lie on one
    /// simple ring if, and only if, they have one block.
    pub(super) fn numbers(graph: &Graph) -> Vec<Option<u32>> {
        let mut number = vec![None; graph.edges.len()];
        let mut count = 0;
        let mut seen = vec![false; graph.nodes()];
        for root in (0..).take(graph.nodes()) {
            if seen[root as usize] || graph.at(root).is_empty() {
                continue;
            }
            let blocks = Self::of(graph, root, None, &|_| true);
            for (node, _) in &blocks.up {
                seen[*node as usize] = true;
            }
            for block in 0..blocks.blocks.len() {
                for edge in blocks.edges_of(block) {
                    number[edge as usize] = Some(count);
                }
                count += 1;
            }
        }
        number
    }

    /// Whether a node can be reached at all.
    pub(super) fn reaches(&self, node: Node) -> bool {
        node == self.root || self.above(node).is_some()
    }

    /// The same, but only over nodes from which a walk gets to the root, with the current or `against` it.
    pub(super) fn towards(
        graph: &Graph,
        root: Node,
        removed: Option<Node>,
        against: bool,
        allowed: &dyn Fn(EdgeId) -> bool,
    ) -> Self {
        let mut reach = Set::from_iter([root]);
        let mut queue = vec![root];
        while let Some(node) = queue.pop() {
            for &id in graph.at(node) {
                let edge = graph.edge(id);
                let other = edge.other(node);
                if Some(other) != removed && allowed(id) && edge.passes(other, against) && reach.insert(other)
                {
                    queue.push(other);
                }
            }
        }
        Self::of(graph, root, removed, &|id| {
            let edge = graph.edge(id);
            allowed(id) && reach.contains(&edge.a) && reach.contains(&edge.b)
        })
    }

    /// All nodes that can be reached, the root among them, in order.
    pub(super) fn nodes(&self) -> Vec<Node> {
        let mut nodes: Vec<Node> = self.up.iter().map(|(node, _)| *node).chain([self.root]).collect();
        nodes.sort_unstable();
        nodes
    }

    /// All edges that lie on simple paths from a node to the root, sorted.
    pub(super) fn between(&self, node: Node) -> Vec<EdgeId> {
        let mut edges = Vec::new();
        let mut at = node;
        while let Some(block) = self.above(at) {
            edges.extend(self.edges_of(block));
            at = self.top(block);
        }
        edges.sort_unstable();
        edges
    }

    /// The edges of the block that holds an edge at the root, without that edge.
    pub(super) fn around(&self, graph: &Graph, edge: EdgeId) -> Vec<EdgeId> {
        let ends = [graph.edge(edge).a, graph.edge(edge).b];
        for end in ends {
            if let Some(block) = self.above(end)
                && self.edges_of(block).any(|e| e == edge)
            {
                let mut edges: Vec<EdgeId> = self.edges_of(block).filter(|e| *e != edge).collect();
                edges.sort_unstable();
                return edges;
            }
        }
        Vec::new()
    }
}
