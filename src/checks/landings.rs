//! What lands on each terminal.

use crate::netlist::{CoreId, End, Job, LinkId, TerminalId};

/// One conductor end on a terminal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Landing {
    /// The near (0) or far (1) end of a core.
    Core(CoreId, usize),
    /// An end of a jumper, or of an `across:`.
    Link(LinkId),
}

/// Everything that lands, terminal by terminal: cores in the order of the file, then links.
pub(super) struct Landings(Vec<Vec<Landing>>);

impl Landings {
    pub(super) fn of(job: &Job) -> Self {
        let mut on = vec![Vec::new(); job.terminals.len()];
        for (id, core) in job.core_ids() {
            for (end, to) in core.ends.iter().enumerate() {
                if let End::Terminal(terminal) = to.to {
                    on[terminal.index()].push(Landing::Core(id, end));
                }
            }
        }
        for (id, link) in (0..).map(LinkId).zip(&job.links) {
            for terminal in link.ends {
                on[terminal.index()].push(Landing::Link(id));
            }
        }
        Self(on)
    }

    /// What lands on one terminal.
    pub(super) fn on(&self, terminal: TerminalId) -> &[Landing] {
        &self.0[terminal.index()]
    }

    /// Whether anything does.
    pub(super) fn wired(&self, terminal: TerminalId) -> bool {
        !self.on(terminal).is_empty()
    }
}
