//! Devices that came to stand on several sheets in one piece again, where that costs few cores.
//!
//! Of all ways to bring a device together the one is taken that cuts the fewest conductors more: on each of its sheets,
//! with or without the devices that hang on it alone.

use std::collections::{BTreeMap, BTreeSet};

use super::{Cluster, Contents, Making, conductors};
use crate::layout::Conductor;
use crate::netlist::{CoreId, DeviceId, TerminalId};

/// The most conductors that may be cut for it, all that are cut counted, in a hundred.
const MOST_CUT: usize = 5;

/// The terminals beside which the ends of a conductor stand.
type Ends = [Option<TerminalId>; 2];

/// A way to bring a device together, the better the less.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct Way {
    /// How many conductors more are cut.
    more: isize,
    /// Where it is to stand, and the terminals that go there.
    to: usize,
    moved: BTreeSet<TerminalId>,
}

impl Making<'_> {
    /// Draws torn devices in one piece, as far as sheets hold them and not too many conductors are cut.
    pub(super) fn mend(&mut self) {
        let job = self.job;
        let mut at: Vec<Vec<Ends>> = vec![Vec::new(); job.terminals.len()];
        let (mut count, mut cut) = (0, 0);
        for conductor in conductors(job) {
            let ends = conductor.seats(job);
            for terminal in ends.iter().flatten() {
                at[terminal.index()].push(ends);
            }
            count += 1;
            cut += isize::from(self.is_cut(ends));
        }
        let most = (count * MOST_CUT / 100).cast_signed();
        let mut torn: Vec<DeviceId> = job.device_ids().map(|(id, _)| id).collect();
        torn.retain(|id| self.clusters_of(*id).len() > 1);
        torn.sort_by_key(|id| self.reached[id.index()]);
        for id in torn {
            let left = (most - cut).max(0);
            let mut ways = self.ways(id, &at).into_iter().take_while(|way| way.more <= left);
            cut += ways.find(|way| self.bring(way)).map_or(0, |way| way.more);
        }
    }

    /// All ways to bring a device together, the best first.
    fn ways(&self, id: DeviceId, at: &[Vec<Ends>]) -> BTreeSet<Way> {
        let own: BTreeSet<TerminalId> = self.job.device(id).terminals.iter().map(TerminalId).collect();
        let mut ways = BTreeSet::new();
        for to in self.clusters_of(id) {
            let bare: BTreeSet<TerminalId> =
                own.iter().copied().filter(|t| self.cluster_of[t.index()] != to).collect();
            let mut all = bare.clone();
            for far in bare.iter().flat_map(|t| &at[t.index()]).flatten().flatten() {
                let hanging =
                    self.job.device(self.job.terminal(*far).device).terminals.iter().map(TerminalId);
                let hanging: BTreeSet<TerminalId> = hanging.collect();
                let near = |t: &TerminalId| hanging.contains(t) || own.contains(t);
                if hanging.iter().flat_map(|t| &at[t.index()]).flatten().flatten().all(near) {
                    all.extend(hanging);
                }
            }
            for moved in [bare, all] {
                let touched: BTreeSet<Ends> =
                    moved.iter().flat_map(|t| at[t.index()].iter().copied()).collect();
                let cluster =
                    |t: TerminalId| if moved.contains(&t) { to } else { self.cluster_of[t.index()] };
                let is_cut = |ends: &Ends| matches!(*ends, [Some(a), Some(b)] if cluster(a) != cluster(b));
                let more: isize = touched
                    .iter()
                    .map(|ends| isize::from(is_cut(ends)) - isize::from(self.is_cut(*ends)))
                    .sum();
                ways.insert(Way { more, to, moved });
            }
        }
        ways
    }

    /// Brings terminals to a cluster if sheets hold what comes of it.
    fn bring(&mut self, way: &Way) -> bool {
        let before: Vec<(TerminalId, usize)> =
            way.moved.iter().map(|t| (*t, self.cluster_of[t.index()])).collect();
        for terminal in &way.moved {
            self.cluster_of[terminal.index()] = way.to;
        }
        let touched: BTreeSet<usize> = before.iter().map(|(_, c)| *c).chain([way.to]).collect();
        let mut now: BTreeMap<usize, Contents> = touched.iter().map(|c| (*c, self.contents_of(*c))).collect();
        // Cables that land nowhere come along when nothing else is left where they stood.
        let left = now.values().filter(|contents| contents.devices.is_empty());
        let left: Vec<CoreId> = left.flat_map(|contents| contents.cores.iter().copied()).collect();
        now.retain(|_, contents| !contents.devices.is_empty());
        if let Some(contents) = now.get_mut(&way.to) {
            contents.cores.extend(left);
        }
        if !now.iter().all(|(c, contents)| self.holds(*c, (contents, self.clusters[*c].room), true)) {
            for (terminal, cluster) in before {
                self.cluster_of[terminal.index()] = cluster;
            }
            return false;
        }
        for c in touched {
            match now.remove(&c) {
                Some(contents) => self.clusters[c].contents = contents,
                None => self.clusters[c] = Cluster::default(),
            }
        }
        true
    }

    /// What stands on a cluster whose terminals have changed.
    fn contents_of(&self, c: usize) -> Contents {
        let here = |terminal: TerminalId| self.cluster_of[terminal.index()] == c;
        let devices = self.job.terminal_ids().filter(|(id, _)| here(*id)).map(|(_, t)| t.device);
        let mut contents = Contents { devices: devices.collect(), ..Contents::default() };
        for conductor in conductors(self.job) {
            let ends = conductor.seats(self.job);
            let stands = match conductor {
                // A cable that lands nowhere stays where it is.
                Conductor::Core(id) if ends == [None; 2] => self.clusters[c].contents.cores.contains(&id),
                _ => ends.into_iter().flatten().any(here),
            };
            match conductor {
                _ if !stands => {}
                Conductor::Core(id) => {
                    contents.cores.insert(id);
                }
                Conductor::Link(id) => {
                    contents.links.insert(id);
                }
            }
        }
        contents
    }

    /// The clusters on which a device stands.
    fn clusters_of(&self, id: DeviceId) -> BTreeSet<usize> {
        let terminals = self.job.device(id).terminals.iter().map(TerminalId);
        terminals.map(|t| self.cluster_of[t.index()]).collect()
    }

    fn is_cut(&self, ends: Ends) -> bool {
        let cluster = |t: TerminalId| self.cluster_of[t.index()];
        matches!(ends, [Some(a), Some(b)] if cluster(a) != cluster(b))
    }
}
