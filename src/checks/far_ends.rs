//! What conductors lead to.

use std::collections::BTreeSet;

use crate::circuit::{Landing, Landings};
use crate::netlist::{CoreId, Job, Kind, TerminalId};

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
    reach_by(job, landings, from, stop, &|_| true)
}

/// The same by those cores alone that `by` names, and by links and bridges.
pub(super) fn reach_by(
    job: &Job,
    landings: &Landings,
    from: &[TerminalId],
    stop: &dyn Fn(TerminalId) -> bool,
    by: &dyn Fn(CoreId) -> bool,
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
                Landing::Core(core, _) if !by(core) => {}
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
