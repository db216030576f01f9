//! What is joined: the terminals of a model sorted into conductors, in the model itself and in an answer.
//!
//! Only the terminals of the model's devices count. Splices, and devices that only the answer has, are a way from one
//! terminal to another and nothing more. What a type bridges inside is joined whatever the trainee does, and earns nothing.

use std::collections::BTreeMap;

use petgraph::unionfind::UnionFind;

use crate::netlist::{CoreId, DeviceId, Form, Job, Kind, TerminalId};

/// The same sorting with its groups numbered in the order of their first members.
fn renumbered<K: Ord + Copy>(keys: &[K]) -> Vec<usize> {
    let mut known = BTreeMap::new();
    keys.iter()
        .map(|key| {
            let next = known.len();
            *known.entry(*key).or_insert(next)
        })
        .collect()
}

/// The terminals that count: those of the model's devices, splices apart. A *point* is the number of one of them.
pub struct Ground<'a> {
    /// The model.
    pub model: &'a Job,
    /// By point: the terminal in the model.
    pub terminals: Vec<TerminalId>,
    points: BTreeMap<(&'a str, &'a str), usize>,
    /// By point: what the types bridge inside.
    pub inside: Vec<usize>,
}

/// By point the number of what conductors join it to, bridges inside devices not counted.
pub type Wires = Vec<usize>;

/// By point the number of its conductor.
pub type Sorting = Vec<usize>;

impl<'a> Ground<'a> {
    /// The ground of a model.
    #[must_use]
    pub fn of(model: &'a Job) -> Self {
        let mut terminals = Vec::new();
        let mut points = BTreeMap::new();
        for (id, terminal) in model.terminal_ids() {
            let device = model.device(terminal.device);
            if device.form != Form::Splice {
                points.insert((device.name.as_str(), terminal.name.as_str()), terminals.len());
                terminals.push(id);
            }
        }
        let mut ground = Self { model, terminals, points, inside: Vec::new() };
        let mut sets = UnionFind::new(ground.terminals.len());
        for part in &model.parts {
            if let Kind::Bridge(bridged) = &part.kind {
                for pair in bridged.windows(2) {
                    if let (Some(a), Some(b)) = (ground.point(model, pair[0]), ground.point(model, pair[1])) {
                        sets.union(a, b);
                    }
                }
            }
        }
        ground.inside = renumbered(&sets.into_labeling());
        ground
    }

    /// The point of a terminal of a job, by its names.
    #[must_use]
    pub fn point(&self, job: &Job, terminal: TerminalId) -> Option<usize> {
        let terminal = job.terminal(terminal);
        let device = job.device(terminal.device).name.as_str();
        self.points.get(&(device, terminal.name.as_str())).copied()
    }

    /// The points of a device of the model.
    pub fn points_of(&self, device: DeviceId) -> impl Iterator<Item = usize> + '_ {
        let run = self.model.device(device).terminals;
        run.iter().filter_map(|terminal| self.point(self.model, TerminalId(terminal)))
    }

    /// What the conductors of a job join.
    #[must_use]
    pub fn wires(&self, job: &Job) -> Wires {
        self.wires_without(job, None)
    }

    /// What they join without one core.
    #[must_use]
    pub fn wires_without(&self, job: &Job, left_out: Option<CoreId>) -> Wires {
        let mut sets = UnionFind::new(job.terminals.len());
        for (_, core) in job.core_ids().filter(|(id, _)| Some(*id) != left_out) {
            if let [Some(a), Some(b)] = core.ends.map(|end| end.to.terminal()) {
                sets.union(a.index(), b.index());
            }
        }
        for link in &job.links {
            sets.union(link.ends[0].index(), link.ends[1].index());
        }
        for part in &job.parts {
            if let Kind::Bridge(bridged) = &part.kind {
                for pair in bridged.windows(2) {
                    if self.point(job, pair[0]).is_none() {
                        sets.union(pair[0].index(), pair[1].index());
                    }
                }
            }
        }
        let number = renumbered(&sets.into_labeling());
        // A terminal that the answer does not have is joined to nothing.
        let mut wires: Wires = (0..self.terminals.len()).map(|point| job.terminals.len() + point).collect();
        for (id, _) in job.terminal_ids() {
            if let Some(point) = self.point(job, id) {
                wires[point] = number[id.index()];
            }
        }
        wires
    }

    /// The conductors that wires make together with the bridges inside devices.
    #[must_use]
    pub fn sorted(&self, wires: &Wires) -> Sorting {
        let mut sets = UnionFind::new(wires.len());
        let mut first: BTreeMap<(bool, usize), usize> = BTreeMap::new();
        for (point, (wire, inside)) in wires.iter().zip(&self.inside).enumerate() {
            for key in [(true, *wire), (false, *inside)] {
                let before = *first.entry(key).or_insert(point);
                sets.union(before, point);
            }
        }
        renumbered(&sets.into_labeling())
    }

    /// A point as the job file writes it: `K1.IN1`.
    #[must_use]
    pub fn name(&self, point: usize) -> String {
        let terminal = self.model.terminal(self.terminals[point]);
        format!("{}.{}", self.model.device(terminal.device).name, terminal.name)
    }
}

/// How many joins a sorting takes: its points less its conductors.
#[must_use]
pub fn rank(sorting: &Sorting) -> usize {
    sorting.len() - sorting.iter().max().map_or(0, |last| last + 1)
}

/// What is joined in both.
#[must_use]
pub fn meet(a: &Sorting, b: &Sorting) -> Sorting {
    let keys: Vec<(usize, usize)> = a.iter().copied().zip(b.iter().copied()).collect();
    renumbered(&keys)
}

/// How many joins one has and the other has not, both ways together.
#[must_use]
pub fn distance(a: &Sorting, b: &Sorting) -> usize {
    rank(a) + rank(b) - 2 * rank(&meet(a, b))
}

/// The members of each conductor.
#[must_use]
pub fn members(sorting: &Sorting) -> Vec<Vec<usize>> {
    let mut all = vec![Vec::new(); sorting.iter().max().map_or(0, |last| last + 1)];
    for (point, number) in sorting.iter().enumerate() {
        all[*number].push(point);
    }
    all
}
