//! Which conductor of a short stands wrong, as far as the wiring tells.

use std::collections::BTreeSet;

use crate::circuit::{Circuit, Hop, Landing, Landings, Path, Through};
use crate::netlist::{Job, Kind, PartId, TerminalId};

use super::far_ends::other_ends;

/// The step of a short's path that is most likely the one that stands wrong: a conductor without which both its sides still
/// serve something and no part is left with both ends on one conductor or with the wrong pole. It is looked for from the end
/// of the path, between one fuse or contact and the next; of several there the first is taken. A conductor whose one side
/// serves nothing but the contacts of the short itself comes after all others. Where each would leave something wrong it is
/// the only one of the last stretch, if there is but one.
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
    let on_path: BTreeSet<PartId> = path.parts().collect();
    let runs = || path.hops.split(through_part).rev().filter(|run| !run.is_empty());
    let conductors = |run: &'p [Hop]| run.iter().filter(|hop| !matches!(hop.through, Through::Part(_)));
    let among = |strict: bool| {
        runs().find_map(|run| {
            let (start, end) = (run.first()?.from, run.last()?.to);
            let net = Net::of(job, circuit, landings, start);
            conductors(run).find(|hop| {
                let [near, far] = net.parted(start, hop);
                !near.contains(&end)
                    && net.serves(&near, &on_path, strict)
                    && net.serves(&far, &on_path, strict)
                    && !net.left_wrong(&near)
            })
        })
    };
    among(true).or_else(|| among(false)).or_else(|| {
        let mut last = conductors(runs().next()?);
        last.next().filter(|_| last.next().is_none())
    })
}

/// The terminals on either side of a conductor that stands wrong, once it is taken off.
pub(super) fn sides(
    job: &Job,
    circuit: &Circuit,
    landings: &Landings,
    wrong: &Hop,
) -> [BTreeSet<TerminalId>; 2] {
    Net::of(job, circuit, landings, wrong.from).parted(wrong.from, wrong)
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

    /// The terminals that hang together with one of them once a conductor is taken off, and all others.
    fn parted(&self, from: TerminalId, without: &Hop) -> [BTreeSet<TerminalId>; 2] {
        let near = self.reached(from, without);
        let far = self.terminals.difference(&near).copied().collect();
        [near, far]
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
            let bridged = self.job.parts_on(at).filter_map(|(_, part)| match &part.kind {
                Kind::Bridge(terminals) => Some(terminals.clone()),
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

    /// Whether a side of a conductor leads to anything besides the sources and the fuses that the short itself goes through,
    /// and, if it is `strict`, its contacts.
    fn serves(&self, side: &BTreeSet<TerminalId>, on_path: &BTreeSet<PartId>, strict: bool) -> bool {
        self.job.part_ids().any(|(id, part)| {
            let leads_on = match part.kind {
                Kind::Source(_) | Kind::Bridge(_) | Kind::Earth(_) | Kind::Screen(_) => false,
                Kind::Fuse(_) => !on_path.contains(&id),
                _ => !strict || !on_path.contains(&id),
            };
            leads_on && part.kind.terminals().iter().any(|terminal| side.contains(terminal))
        })
    }

    /// Whether a part or both throws of a contact are left with both ends on one side, or with its plus where the minus is
    /// or the reverse, if the `near` side of the conductor keeps the plus.
    fn left_wrong(&self, near: &BTreeSet<TerminalId>) -> bool {
        let far = |end: &TerminalId| !near.contains(end) && self.terminals.contains(end);
        let together =
            |ends: &[TerminalId; 2]| ends.iter().all(|end| near.contains(end)) || ends.iter().all(far);
        let wrong = |kind: &Kind| {
            let (plus, minus, polarised) = match kind {
                Kind::Resistor(part) => return together(&part.between),
                Kind::Suppressor(part) => return together(&part.between),
                Kind::Fuse(part) => return together(&part.between),
                Kind::Diode(part) => return together(&[part.anode, part.cathode]),
                Kind::Contact(part) => {
                    let throws = part.no.zip(part.nc).is_some_and(|(no, nc)| together(&[no, nc]));
                    let only = part.no.xor(part.nc).is_some_and(|throw| together(&[part.common, throw]));
                    return throws || only;
                }
                Kind::Load(load) => (load.plus, load.minus, load.polarised),
                Kind::Coil(coil) => (coil.plus, coil.minus, coil.polarised),
                Kind::Source(source) => (source.plus, source.minus, true),
                _ => return false,
            };
            let [plus_near, minus_near] = [plus, minus].map(|end| near.contains(&end));
            let [plus_far, minus_far] = [plus, minus].map(|end| far(&end));
            plus_near && minus_near || plus_far && minus_far || polarised && (minus_near || plus_far)
        };
        self.job.parts.iter().any(|part| wrong(&part.kind))
    }
}
