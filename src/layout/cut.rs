//! A minimum cut in a directed graph, by growing a tree from either side (Y. Boykov, V. Kolmogorov, "An experimental
//! comparison of min-cut/max-flow algorithms for energy minimization in vision", IEEE PAMI 26(9), 2004).

use std::collections::VecDeque;

/// A graph whose vertices are to be divided.
pub(super) struct Cut {
    arcs: Vec<Arc>,
    /// The first arc that leaves each vertex.
    first: Vec<u32>,
}

/// Arc `a ^ 1` is the way back.
struct Arc {
    to: u32,
    /// The next arc that leaves the same vertex.
    next: u32,
    /// What it can still carry.
    room: i64,
}

const NONE: u32 = u32::MAX;
/// What an arc carries that must not be cut.
pub(super) const ENDLESS: i64 = i64::MAX / 4;

/// Which tree a vertex belongs to.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Tree {
    Neither,
    Source,
    Sink,
}

/// What a vertex hangs on.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Hold {
    Nothing,
    /// Its tree's root.
    Root,
    /// The arc from it to its parent.
    Arc(u32),
}

impl Cut {
    /// A graph of so many vertices, with room for so many arcs.
    pub fn new(vertices: usize, arcs: usize) -> Self {
        Self { arcs: Vec::with_capacity(2 * arcs), first: vec![NONE; vertices] }
    }

    /// `a` in the set and `b` outside it costs so much.
    pub fn arc(&mut self, a: usize, b: usize, cost: i64) {
        if cost > 0 {
            for (from, to, room) in [(a, b, cost), (b, a, 0)] {
                let arc = Arc { to: to as u32, next: self.first[from], room };
                self.first[from] = self.arcs.len() as u32;
                self.arcs.push(arc);
            }
        }
    }

    /// The smallest set of least cost, where each vertex in it adds its own figure; `None` when no set costs less than 0.
    pub fn least(self, own: Vec<i64>) -> Option<Vec<bool>> {
        let wanted: i64 = own.iter().filter(|cost| **cost < 0).map(|cost| -cost).sum();
        if wanted == 0 {
            return None;
        }
        let count = own.len();
        let mut growth = Growth {
            graph: self,
            own,
            tree: vec![Tree::Neither; count],
            hold: vec![Hold::Nothing; count],
            active: VecDeque::new(),
            orphans: Vec::new(),
            known: vec![(0, 0); count],
            time: 0,
        };
        let flow = growth.run();
        (flow < wanted).then(|| growth.tree.iter().map(|t| *t == Tree::Source).collect())
    }

    fn to(&self, arc: u32) -> usize {
        self.arcs[arc as usize].to as usize
    }

    fn room(&self, arc: u32) -> i64 {
        self.arcs[arc as usize].room
    }
}

/// Two trees that grow until they cannot meet.
struct Growth {
    graph: Cut,
    /// What still comes from the source (below 0) or can still go to the sink (above 0) at each vertex.
    own: Vec<i64>,
    tree: Vec<Tree>,
    hold: Vec<Hold>,
    active: VecDeque<usize>,
    orphans: Vec<usize>,
    /// When each vertex was last known to hang on a root, and how far from it.
    known: Vec<(u32, u32)>,
    time: u32,
}

impl Growth {
    fn run(&mut self) -> i64 {
        for v in 0..self.own.len() {
            if self.own[v] != 0 {
                self.tree[v] = if self.own[v] < 0 { Tree::Source } else { Tree::Sink };
                self.hold[v] = Hold::Root;
                self.active.push_back(v);
            }
        }
        let mut flow = 0;
        while let Some(v) = self.active.front().copied() {
            match self.grow(v) {
                Some(bridge) => {
                    self.time += 1;
                    flow += self.augment(bridge);
                    self.adopt();
                }
                None => {
                    self.active.pop_front();
                }
            }
        }
        flow
    }

    /// The arc on which flow goes from the root of the source towards a vertex, or from it towards the sink.
    fn along(&self, arc: u32, tree: Tree) -> u32 {
        if tree == Tree::Source { arc ^ 1 } else { arc }
    }

    /// Takes the free neighbours of a vertex into its tree; an arc from the source's tree to the sink's, if there is one.
    fn grow(&mut self, v: usize) -> Option<u32> {
        let tree = self.tree[v];
        if tree == Tree::Neither {
            return None;
        }
        let mut arc = self.graph.first[v];
        while arc != NONE {
            let outwards = self.along(arc ^ 1, tree);
            if self.graph.room(outwards) > 0 {
                let w = self.graph.to(arc);
                if self.tree[w] == Tree::Neither {
                    self.tree[w] = tree;
                    self.hold[w] = Hold::Arc(arc ^ 1);
                    self.known[w] = (self.known[v].0, self.known[v].1 + 1);
                    self.active.push_back(w);
                } else if self.tree[w] != tree {
                    return Some(outwards);
                }
            }
            arc = self.graph.arcs[arc as usize].next;
        }
        None
    }

    /// Sends what the way over a bridge can carry.
    fn augment(&mut self, bridge: u32) -> i64 {
        let sides = [(self.graph.to(bridge ^ 1), Tree::Source), (self.graph.to(bridge), Tree::Sink)];
        let mut most = self.graph.room(bridge);
        for (mut v, tree) in sides {
            while let Hold::Arc(arc) = self.hold[v] {
                most = most.min(self.graph.room(self.along(arc, tree)));
                v = self.graph.to(arc);
            }
            most = most.min(self.own[v].abs());
        }
        self.send(bridge, most);
        for (mut v, tree) in sides {
            while let Hold::Arc(arc) = self.hold[v] {
                let along = self.along(arc, tree);
                self.send(along, most);
                if self.graph.room(along) == 0 {
                    self.orphan(v);
                }
                v = self.graph.to(arc);
            }
            self.own[v] -= most * self.own[v].signum();
            if self.own[v] == 0 {
                self.orphan(v);
            }
        }
        most
    }

    fn send(&mut self, arc: u32, flow: i64) {
        self.graph.arcs[arc as usize].room -= flow;
        self.graph.arcs[arc as usize ^ 1].room += flow;
    }

    fn orphan(&mut self, v: usize) {
        self.hold[v] = Hold::Nothing;
        self.orphans.push(v);
    }

    /// Finds new parents for vertices that hang on nothing, or sets them free.
    fn adopt(&mut self) {
        while let Some(v) = self.orphans.pop() {
            let tree = self.tree[v];
            let mut best: Option<(u32, u32)> = None;
            let mut arc = self.graph.first[v];
            while arc != NONE {
                let w = self.graph.to(arc);
                if self.tree[w] == tree
                    && self.graph.room(self.along(arc, tree)) > 0
                    && let Some(far) = self.distance(w)
                    && best.is_none_or(|(least, _)| far < least)
                {
                    best = Some((far, arc));
                }
                arc = self.graph.arcs[arc as usize].next;
            }
            if let Some((far, arc)) = best {
                self.hold[v] = Hold::Arc(arc);
                self.known[v] = (self.time, far + 1);
                continue;
            }
            let mut arc = self.graph.first[v];
            while arc != NONE {
                let w = self.graph.to(arc);
                if self.tree[w] == tree {
                    if self.graph.room(self.along(arc, tree)) > 0 {
                        self.active.push_back(w);
                    }
                    if self.hold[w] == Hold::Arc(arc ^ 1) {
                        self.orphan(w);
                    }
                }
                arc = self.graph.arcs[arc as usize].next;
            }
            self.tree[v] = Tree::Neither;
        }
    }

    /// How far a vertex is from its tree's root; `None` if it hangs on nothing.
    fn distance(&mut self, from: usize) -> Option<u32> {
        let (mut v, mut steps) = (from, 0);
        let far = loop {
            if self.known[v].0 == self.time && self.hold[v] != Hold::Nothing {
                break self.known[v].1;
            }
            match self.hold[v] {
                Hold::Nothing => return None,
                Hold::Root => {
                    self.known[v] = (self.time, 0);
                    break 0;
                }
                Hold::Arc(arc) => {
                    v = self.graph.to(arc);
                    steps += 1;
                }
            }
        };
        // What lies on the way is known from now on.
        let (mut v, mut left) = (from, far + steps);
        while let Hold::Arc(arc) = self.hold[v] {
            if self.known[v].0 == self.time {
                break;
            }
            self.known[v] = (self.time, left);
            left -= 1;
            v = self.graph.to(arc);
        }
        Some(far + steps)
    }
}
