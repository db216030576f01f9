//! Which conductor of a short stands wrong, as far as the wiring tells.

use std::collections::BTreeSet;

use crate::circuit::{Circuit, Hop, Path, Through};
use crate::netlist::{Job, Kind, TerminalId};

use super::landings::{Landing, Landings, other_ends};

/// The step of a short's path that is most likely the one that stands wrong: a conductor without which no part is left with
/// both ends on one conductor or with the wrong pole. It is looked for from the end of the path, between one fuse or contact
/// and the next; of several there the first is taken, for the conductor by which a supply feeds everything is seldom it.
/// `None` where each would leave something wrong.
pub(super) fn culprit<'p>(
    job: &Job,
    circuit: &Circuit,
    landings: &Landings,
    path: &'p Path,
) -> Option<&'p Hop> {
    let through_part = |hop: &Hop| match hop.through {
        Through::Part(part) => !matches!(job.part(part).kind, Kind::Bridge(_)),
        _ => false,
    };
    path.hops.split(through_part).rev().filter(|run| !run.is_empty()).find_map(|run| {
        let (start, end) = (run.first()?.from, run.last()?.to);
        let net = Net::of(job, circuit, landings, start);
        let conductors = run.iter().filter(|hop| !matches!(hop.through, Through::Part(_)));
        let apart = conductors.map(|hop| (net.reached(start, hop), hop));
        let apart = apart.filter(|(near, _)| !near.contains(&end) && !net.left_wrong(near));
        apart.min_by_key(|(near, _)| near.len()).map(|(_, hop)| hop)
    })
}

/// What is one conductor.
struct Net<'j> {
    job: &'j Job,
    landings: &'j Landings,
    terminals: BTreeSet<TerminalId>,
}

impl<'j> Net<'j> {
    fn of(job: &'j Job, circuit: &Circuit, landings: &'j Landings, at: TerminalId) -> Self {
        let terminals = circuit.terminals_of(circuit.net_of(at)).iter().copied().collect();
        Self { job, landings, terminals }
    }

    /// The terminals that hang together with one of them once a conductor is taken off.
    fn reached(&self, from: TerminalId, without: &Hop) -> BTreeSet<TerminalId> {
        let taken_off = |landing: &Landing| match (landing, without.through) {
            (Landing::Core(core, _), Through::Core(off)) => *core == off,
            (Landing::Link(link), Through::Link(off)) => *link == off,
            _ => false,
        };
        let (mut reached, mut next) = (BTreeSet::from([from]), vec![from]);
        while let Some(at) = next.pop() {
            let landed = self.landings.on(at).iter().filter(|landing| !taken_off(landing));
            let by_conductor = landed.flat_map(|landing| other_ends(self.job, *landing));
            let inside = self.job.device(self.job.terminal(at).device).parts.iter();
            let bridged = inside.filter_map(|id| match &self.job.parts.get(id as usize)?.kind {
                Kind::Bridge(terminals) if terminals.contains(&at) => Some(terminals.clone()),
                _ => None,
            });
            for other in by_conductor.chain(bridged.flatten()) {
                if reached.insert(other) {
                    next.push(other);
                }
            }
        }
        reached
    }

    /// Whether a part is left with both ends on one side, or with its plus where the minus is or the reverse, if the `near`
    /// side of the conductor keeps the plus.
    fn left_wrong(&self, near: &BTreeSet<TerminalId>) -> bool {
        let wrong = |kind: &Kind| {
            let (plus, minus, polarised) = match kind {
                Kind::Load(load) => (load.plus, load.minus, load.polarised),
                Kind::Coil(coil) => (coil.plus, coil.minus, coil.polarised),
                Kind::Source(source) => (source.plus, source.minus, true),
                _ => return false,
            };
            let [plus_near, minus_near] = [plus, minus].map(|end| near.contains(&end));
            let [plus_far, minus_far] =
                [plus, minus].map(|end| !near.contains(&end) && self.terminals.contains(&end));
            plus_near && minus_near || plus_far && minus_far || polarised && (minus_near || plus_far)
        };
        self.job.parts.iter().any(|part| wrong(&part.kind))
    }
}
