//! What lands on each terminal.

use std::collections::BTreeSet;

use crate::netlist::{CoreId, Job, Kind, LinkId, Lists, TerminalId};

/// One conductor end on a terminal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Landing {
    /// The near (0) or far (1) end of a core.
    Core(CoreId, u8),
    /// An end of a jumper, or of an `across:`.
    Link(LinkId),
}

/// Everything that lands, terminal by terminal: cores in the order of the file, then links.
pub(super) struct Landings(Lists<Landing>);

impl Landings {
    pub(super) fn of(job: &Job) -> Self {
        let cores = job.core_ids().flat_map(|(id, core)| {
            let ends = (0..).zip(core.ends);
            ends.filter_map(move |(end, to)| Some((to.to.terminal()?.index(), Landing::Core(id, end))))
        });
        let links = (0..).map(LinkId).zip(&job.links);
        let links = links.flat_map(|(id, link)| link.ends.map(|end| (end.index(), Landing::Link(id))));
        Self(Lists::of(job.terminals.len(), cores.chain(links)))
    }

    /// What lands on one terminal.
    pub(super) fn on(&self, terminal: TerminalId) -> &[Landing] {
        self.0.get(terminal.index())
    }

    /// Whether anything does.
    pub(super) fn wired(&self, terminal: TerminalId) -> bool {
        !self.on(terminal).is_empty()
    }
}

/// The other end of a core, if it has one on a terminal; both ends of a jumper.
pub(super) fn other_ends(job: &Job, landing: Landing) -> Vec<TerminalId> {
    match landing {
        Landing::Core(core, end) => {
            job.core(core).ends[usize::from(1 - end)].to.terminal().into_iter().collect()
        }
        Landing::Link(link) => job.links[link.index()].ends.to_vec(),
    }
}

/// The terminals that conductors join to any of `from`, in order. The walk stops at a terminal that `stop` names; that
/// terminal itself is among them.
pub(super) fn reach(
    job: &Job,
    landings: &Landings,
    from: &[TerminalId],
    stop: &dyn Fn(TerminalId) -> bool,
) -> Vec<TerminalId> {
    let mut reached = from.to_vec();
    let mut seen: BTreeSet<TerminalId> = from.iter().copied().collect();
    let mut next = 0;
    while let Some(&at) = reached.get(next) {
        next += 1;
        if stop(at) {
            continue;
        }
        let mut visit = |neighbour: TerminalId| {
            if seen.insert(neighbour) {
                reached.push(neighbour);
            }
        };
        for landing in landings.on(at) {
            match *landing {
                Landing::Core(core, _) => {
                    job.core(core).ends.iter().filter_map(|end| end.to.terminal()).for_each(&mut visit);
                }
                Landing::Link(link) => job.links[link.index()].ends.into_iter().for_each(&mut visit),
            }
        }
        for part in job.device(job.terminal(at).device).parts.iter() {
            if let Kind::Bridge(joined) = &job.parts[part as usize].kind
                && joined.contains(&at)
            {
                joined.iter().copied().for_each(&mut visit);
            }
        }
    }
    reached.sort();
    reached
}
