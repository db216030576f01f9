//! What lands on each terminal.

use crate::netlist::{CoreId, Job, LinkId, Lists, TerminalId};

/// One conductor end on a terminal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Landing {
    /// The near (0) or far (1) end of a core.
    Core(CoreId, u8),
    /// An end of a jumper, or of an `across:`.
    Link(LinkId),
}

/// Everything that lands, terminal by terminal: cores in the order of the file, then links.
pub struct Landings(Lists<Landing>);

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
    #[must_use]
    pub fn on(&self, terminal: TerminalId) -> &[Landing] {
        self.0.get(terminal.index())
    }

    /// Whether anything does.
    #[must_use]
    pub fn wired(&self, terminal: TerminalId) -> bool {
        !self.on(terminal).is_empty()
    }
}
