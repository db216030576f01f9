//! Which parts stand on each terminal.

use crate::circuit::{Circuit, NetId};
use crate::netlist::{Job, Kind, Lists, PartId, TerminalId};

/// The parts on each terminal, bridges left out: they only join.
pub(super) struct Standing(Lists<PartId>);

impl Standing {
    pub(super) fn of(job: &Job) -> Self {
        let standing = job.part_ids().filter(|(_, part)| !matches!(part.kind, Kind::Bridge(_)));
        let on = standing.flat_map(|(id, part)| {
            part.kind.terminals().into_iter().map(move |terminal| (terminal.index(), id))
        });
        Self(Lists::of(job.terminals.len(), on))
    }

    /// The parts on one terminal.
    pub(super) fn on(&self, terminal: TerminalId) -> &[PartId] {
        self.0.get(terminal.index())
    }

    /// The parts on a whole conductor, each with its terminal.
    pub(super) fn on_net<'a>(
        &'a self,
        circuit: &'a Circuit,
        net: NetId,
    ) -> impl Iterator<Item = (TerminalId, PartId)> + 'a {
        circuit.terminals_of(net).iter().flat_map(|t| self.on(*t).iter().map(|part| (*t, *part)))
    }
}

/// Whether a part is a bond to earth.
pub(super) fn is_bond(kind: &Kind) -> bool {
    matches!(kind, Kind::Screen(_) | Kind::Earth(_))
}
