//! What is done in the world to bring a condition about.

use super::{Circuit, MovedBy, MoverId};
use crate::netlist::{Condition, Job, Kind, PartId, StateWord};

/// What is done to bring a condition about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Deed {
    /// Sources are switched on, or off.
    Switch(Vec<PartId>, bool),
    /// Movers are operated one after the other, or put at rest.
    Move(Vec<MoverId>, bool),
}

impl Circuit {
    /// What the world does to bring a condition about; `None` where only other parts of the circuit can.
    #[must_use]
    pub fn deed(&self, job: &Job, condition: &Condition) -> Option<Deed> {
        let parts = condition.parts(job);
        let operated = match condition.state {
            StateWord::On | StateWord::Off => {
                let sources = parts.into_iter().filter(|id| matches!(job.part(*id).kind, Kind::Source(_)));
                return Some(Deed::Switch(sources.collect(), condition.state == StateWord::On));
            }
            StateWord::Operated => true,
            StateWord::AtRest => false,
            _ => return None,
        };
        let mut movers: Vec<MoverId> = parts.iter().filter_map(|id| self.mover_of(*id)).collect();
        movers.sort_unstable();
        movers.dedup();
        movers.retain(|m| self.movers().get(m.index()).is_some_and(|mover| mover.by == MovedBy::World));
        (!movers.is_empty()).then_some(Deed::Move(movers, operated))
    }
}
