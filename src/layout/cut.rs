//! A minimum cut in a directed graph, by Dinic's algorithm (Y. Dinitz, Soviet Math. Doklady 11, 1970).

use std::collections::VecDeque;

/// A graph whose vertices are to be divided.
pub(super) struct Cut {
    /// Where each arc leads, and what it can still carry; arc `a ^ 1` is the way back.
    arcs: Vec<(usize, i64)>,
    of: Vec<Vec<usize>>,
}

impl Cut {
    /// A graph of so many vertices.
    pub fn new(vertices: usize) -> Self {
        Self { arcs: Vec::new(), of: vec![Vec::new(); vertices + 2] }
    }

    /// `a` in the set and `b` outside it costs so much.
    pub fn arc(&mut self, a: usize, b: usize, cost: i64) {
        if cost > 0 {
            self.of[a].push(self.arcs.len());
            self.arcs.push((b, cost));
            self.of[b].push(self.arcs.len());
            self.arcs.push((a, 0));
        }
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
        let mut level = vec![usize::MAX; self.of.len()];
        level[source] = 0;
        let mut queue = VecDeque::from([source]);
        while let Some(v) = queue.pop_front() {
            for a in &self.of[v] {
                let (to, room) = self.arcs[*a];
                if room > 0 && level[to] == usize::MAX {
                    level[to] = level[v] + 1;
                    queue.push_back(to);
                }
            }
        }
        level
    }

    /// Fills the level graph, walking without recursion.
    fn block(&mut self, level: &[usize], source: usize, sink: usize) -> i64 {
        let mut next = vec![0_usize; self.of.len()];
        let mut flow = 0;
        let mut path: Vec<usize> = Vec::new();
        let mut at = source;
        loop {
            if at == sink {
                let room = path.iter().map(|a| self.arcs[*a].1).min().unwrap_or(0);
                flow += room;
                let mut back = path.len();
                for (i, a) in path.iter().enumerate().rev() {
                    self.arcs[*a].1 -= room;
                    self.arcs[*a ^ 1].1 += room;
                    if self.arcs[*a].1 == 0 {
                        back = i;
                    }
                }
                at = path.get(back).map_or(source, |a| self.arcs[*a ^ 1].0);
                path.truncate(back);
                continue;
            }
            let open = self.of[at][next[at]..].iter().position(|a| {
                let (to, room) = self.arcs[*a];
                room > 0 && level[to] == level[at] + 1
            });
            if let Some(skip) = open {
                next[at] += skip;
                let a = self.of[at][next[at]];
                path.push(a);
                at = self.arcs[a].0;
            } else if let Some(a) = path.pop() {
                at = self.arcs[a ^ 1].0;
                next[at] += 1;
            } else {
                return flow;
            }
        }
    }
}
