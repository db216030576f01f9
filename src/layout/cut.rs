//! A minimum cut in a directed graph, by Dinic's algorithm (Y. Dinitz, Soviet Math. Doklady 11, 1970).

use std::collections::VecDeque;

/// A graph whose vertices are to be divided.
pub(super) struct Cut {
    vertices: usize,
    /// From, to, and what the arc can still carry; arc `a ^ 1` is the way back.
    arcs: Vec<(u32, u32, i64)>,
    /// The arcs that leave each vertex, together; those of vertex `v` begin at `first[v]`.
    leaving: Vec<u32>,
    first: Vec<u32>,
}

impl Cut {
    /// A graph of so many vertices.
    pub fn new(vertices: usize) -> Self {
        Self { vertices, arcs: Vec::new(), leaving: Vec::new(), first: Vec::new() }
    }

    /// `a` in the set and `b` outside it costs so much.
    pub fn arc(&mut self, a: usize, b: usize, cost: i64) {
        if cost > 0 {
            self.arcs.push((a as u32, b as u32, cost));
            self.arcs.push((b as u32, a as u32, 0));
        }
    }

    /// Sorts the arcs by the vertex that they leave.
    fn index(&mut self) {
        self.first = vec![0; self.vertices + 3];
        for (from, ..) in &self.arcs {
            self.first[*from as usize + 1] += 1;
        }
        for v in 1..self.first.len() {
            self.first[v] += self.first[v - 1];
        }
        let mut next = self.first.clone();
        self.leaving = vec![0; self.arcs.len()];
        for (a, (from, ..)) in self.arcs.iter().enumerate() {
            let place = &mut next[*from as usize];
            self.leaving[*place as usize] = a as u32;
            *place += 1;
        }
    }

    fn leaving(&self, v: usize) -> &[u32] {
        &self.leaving[self.first[v] as usize..self.first[v + 1] as usize]
    }

    /// The smallest set of least cost, where each vertex in it adds its own figure; `None` when no set costs less than 0.
    pub fn least(mut self, own: &[i64]) -> Option<Vec<bool>> {
        let (source, sink) = (own.len(), own.len() + 1);
        let mut wanted = 0;
        for (v, cost) in own.iter().enumerate() {
            if *cost < 0 {
                wanted -= cost;
                self.arc(source, v, -cost);
            } else {
                self.arc(v, sink, *cost);
            }
        }
        if wanted == 0 {
            return None;
        }
        self.index();
        let mut flow = 0;
        loop {
            let level = self.levels(source);
            if level[sink] == usize::MAX {
                return (flow < wanted)
                    .then(|| level[..own.len()].iter().map(|l| *l != usize::MAX).collect());
            }
            flow += self.block(&level, source, sink);
        }
    }

    fn levels(&self, source: usize) -> Vec<usize> {
        let mut level = vec![usize::MAX; self.vertices + 2];
        level[source] = 0;
        let mut queue = VecDeque::from([source]);
        while let Some(v) = queue.pop_front() {
            for a in self.leaving(v) {
                let (_, to, room) = self.arcs[*a as usize];
                if room > 0 && level[to as usize] == usize::MAX {
                    level[to as usize] = level[v] + 1;
                    queue.push_back(to as usize);
                }
            }
        }
        level
    }

    /// Fills the level graph, walking without recursion.
    fn block(&mut self, level: &[usize], source: usize, sink: usize) -> i64 {
        let mut next = vec![0_usize; self.vertices + 2];
        let mut flow = 0;
        let mut path: Vec<usize> = Vec::new();
        let mut at = source;
        loop {
            if at == sink {
                let room = path.iter().map(|a| self.arcs[*a].2).min().unwrap_or(0);
                flow += room;
                let mut back = path.len();
                for (i, a) in path.iter().enumerate().rev() {
                    self.arcs[*a].2 -= room;
                    self.arcs[*a ^ 1].2 += room;
                    if self.arcs[*a].2 == 0 {
                        back = i;
                    }
                }
                at = path.get(back).map_or(source, |a| self.arcs[*a].0 as usize);
                path.truncate(back);
                continue;
            }
            let open = self.leaving(at)[next[at]..].iter().position(|a| {
                let (_, to, room) = self.arcs[*a as usize];
                room > 0 && level[to as usize] == level[at] + 1
            });
            if let Some(skip) = open {
                next[at] += skip;
                let a = self.leaving(at)[next[at]] as usize;
                path.push(a);
                at = self.arcs[a].1 as usize;
            } else if let Some(a) = path.pop() {
                at = self.arcs[a].0 as usize;
                next[at] += 1;
            } else {
                return flow;
            }
        }
    }
}
