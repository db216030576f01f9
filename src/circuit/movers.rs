//! What moves, and the state of all movers together.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::netlist::{DeviceId, Job, Kind, Meaning, Mover as By, Name, Part, PartId, TerminalId};
use crate::source::small;

/// A mover: index in [`super::Circuit::movers`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct MoverId(pub u32);

impl MoverId {
    /// The index.
    #[must_use]
    pub fn index(self) -> usize {
        self.0 as usize
    }
}

/// What decides the position of a mover.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MovedBy {
    /// The world: it takes any position at any time.
    World,
    /// That coil.
    Coil(PartId),
    /// That input, by its setting `drives`.
    Input(PartId),
}

/// Something that moves contacts, or switches outputs and two-wire sensors.
#[derive(Clone, Debug)]
pub struct Mover {
    /// Whose it is.
    pub device: DeviceId,
    /// What decides its position.
    pub by: MovedBy,
    /// Its contacts, outputs and two-wire sensors.
    pub parts: Box<[PartId]>,
    /// Its name as the job file writes it in a condition: `B1`, `K1.OUT1`.
    pub name: Name,
    /// Whether it is operated while everything is at rest (world movers; coils follow the circuit).
    pub rest_operated: bool,
    /// Changes over at each pulse and stays.
    pub latching: bool,
    /// The coil that puts it back, of a relay that one coil sets and another resets.
    pub reset: Option<PartId>,
    /// May stand at rest while it is fed: it goes back by itself after a set time, or follows only after one.
    pub timed: bool,
}

/// The position of every mover. Copies share it until one is changed: the survey keeps one for every core and part of a
/// job.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct State(Arc<Positions>);

#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Positions {
    /// By mover: operated while everything is at rest.
    rest: Arc<[bool]>,
    /// The movers that stand otherwise than at rest, in order.
    moved: Vec<MoverId>,
    /// The latching coils that are fed, in order.
    fed: Vec<MoverId>,
}

impl State {
    /// Everything at rest, where these are operated at rest and these latching coils fed.
    pub(super) fn resting(rest: impl IntoIterator<Item = bool>, fed: &[MoverId]) -> Self {
        let rest = rest.into_iter().collect();
        Self(Arc::new(Positions { rest, moved: Vec::new(), fed: fed.to_vec() }))
    }

    /// Whether a mover is operated.
    #[must_use]
    pub fn operated(&self, mover: MoverId) -> bool {
        self.rests_operated(mover) != self.0.moved.binary_search(&mover).is_ok()
    }

    /// Whether a mover is operated while everything is at rest.
    pub(super) fn rests_operated(&self, mover: MoverId) -> bool {
        self.0.rest.get(mover.index()).copied().unwrap_or(false)
    }

    /// The latching coils that are fed, in order.
    pub(super) fn fed(&self) -> &[MoverId] {
        &self.0.fed
    }

    /// The movers that stand otherwise than when everything is at rest.
    #[must_use]
    pub fn moved(&self) -> &[MoverId] {
        &self.0.moved
    }

    /// Whether everything is at rest.
    #[must_use]
    pub fn at_rest(&self) -> bool {
        self.0.moved.is_empty()
    }

    pub(super) fn set(&mut self, mover: MoverId, operated: bool) {
        if self.operated(mover) != operated {
            self.turn(mover);
        }
    }

    /// Puts a mover the other way.
    pub(super) fn turn(&mut self, mover: MoverId) {
        let moved = &mut Arc::make_mut(&mut self.0).moved;
        match moved.binary_search(&mover) {
            Ok(at) => {
                moved.remove(at);
            }
            Err(at) => moved.insert(at, mover),
        }
    }

    pub(super) fn feed(&mut self, mover: MoverId, fed: bool) {
        match (self.0.fed.binary_search(&mover), fed) {
            (Err(at), true) => Arc::make_mut(&mut self.0).fed.insert(at, mover),
            (Ok(at), false) => {
                Arc::make_mut(&mut self.0).fed.remove(at);
            }
            _ => {}
        }
    }
}

/// The movers of a job, and the mover of each part.
pub(super) fn collect(job: &Job) -> (Vec<Mover>, Vec<Option<MoverId>>) {
    let follows: BTreeMap<PartId, PartId> = job
        .devices
        .iter()
        .flat_map(|device| &device.settings)
        .filter_map(|setting| match (setting.part, setting.meaning) {
            (Some(input), Meaning::Drives(Some(entry))) => Some((entry, input)),
            _ => None,
        })
        .collect();
    let (mut movers, mut parts): (Vec<Mover>, Vec<Vec<PartId>>) = Default::default();
    let mut of = vec![None; job.parts.len()];
    let mut known: BTreeMap<(DeviceId, Name, Option<PartId>), usize> = BTreeMap::new();
    for (id, part) in job.part_ids() {
        let (word, by) = match &part.kind {
            Kind::Contact(contact) => match contact.by() {
                By::Alone => (part.name.clone(), MovedBy::World),
                By::Word(word) => (word.clone(), MovedBy::World),
                By::Coil(coil) => (job.part(coil).name.clone(), MovedBy::Coil(coil)),
            },
            Kind::Output(_) | Kind::TwoWire(_) => (part.name.clone(), MovedBy::World),
            _ => continue,
        };
        let by = follows.get(&id).map_or(by, |input| MovedBy::Input(*input));
        // An entry that follows an input parts from the entries that share its word.
        let alone = matches!(by, MovedBy::Input(_)).then_some(id);
        let at = *known.entry((part.device, word.clone(), alone)).or_insert_with(|| {
            let latching =
                matches!(by, MovedBy::Coil(c) if matches!(&job.part(c).kind, Kind::Coil(c) if c.latching));
            movers.push(Mover {
                device: part.device,
                by,
                parts: Box::default(),
                name: word,
                rest_operated: by == MovedBy::World && job.device(part.device).rest_operated,
                latching,
                reset: match by {
                    MovedBy::Coil(set) if latching => reset_of(job, set),
                    _ => None,
                },
                timed: false,
            });
            parts.push(Vec::new());
            movers.len() - 1
        });
        parts[at].push(id);
        movers[at].timed |= matches!(by, MovedBy::Coil(coil) if is_delayed(job, coil, part));
        movers[at].timed |= job
            .device(part.device)
            .settings
            .iter()
            .any(|setting| setting.part == Some(id) && matches!(setting.meaning, Meaning::Pulse(_)));
        of[id.index()] = Some(MoverId(small(at)));
    }
    let mut count: BTreeMap<DeviceId, usize> = BTreeMap::new();
    for mover in &movers {
        *count.entry(mover.device).or_default() += 1;
    }
    for (mover, parts) in movers.iter_mut().zip(parts) {
        mover.parts = parts.into();
        let device = &job.device(mover.device).name;
        mover.name = if count.get(&mover.device) == Some(&1) {
            device.clone()
        } else {
            format!("{device}.{}", mover.name).into()
        };
    }
    movers.shrink_to_fit();
    (movers, of)
}

/// Whether a contact of a coil A1-A2 bears the numbers of one that follows late: units 5-6 as a break contact, 5-8 or 7-8 as a
/// make contact (EN 50005).
fn is_delayed(job: &Job, coil: PartId, part: &Part) -> bool {
    let (Kind::Contact(contact), Kind::Coil(coil)) = (&part.kind, &job.part(coil).kind) else { return false };
    let number = |at: TerminalId| {
        let mut chars = job.terminal(at).name.chars();
        match (chars.next(), chars.next(), chars.next()) {
            (Some(tens), Some(unit), None) if tens.is_ascii_digit() => Some((tens, unit)),
            _ => None,
        }
    };
    let late = |throw: TerminalId, pairs: &[(char, char)]| match (number(contact.common), number(throw)) {
        (Some((tens, common)), Some((other, throw))) => tens == other && pairs.contains(&(common, throw)),
        _ => false,
    };
    job.terminal(coil.plus).name == "A1"
        && contact.no.is_none_or(|no| late(no, &[('5', '8'), ('7', '8')]))
        && contact.nc.is_none_or(|nc| late(nc, &[('5', '6')]))
}

/// The coil beside a latching one, if there is but one and it moves nothing itself: it resets what the other sets.
fn reset_of(job: &Job, set: PartId) -> Option<PartId> {
    let parts = || job.device(job.part(set).device).parts.iter().map(PartId);
    let moves = |coil: PartId| {
        parts().any(|id| matches!(&job.part(id).kind, Kind::Contact(contact) if contact.coil == Some(coil)))
    };
    let mut others = parts().filter(|id| *id != set && matches!(job.part(*id).kind, Kind::Coil(_)));
    others.next().filter(|other| others.next().is_none() && !moves(*other))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_turns_twice_stands_as_before() {
        let mut state = State::resting([false, true, false, false], &[]);
        state.set(MoverId(3), true);
        [2, 1, 2, 3, 2].map(MoverId).into_iter().for_each(|mover| state.turn(mover));
        assert_eq!(state.moved(), [1, 2].map(MoverId));
        assert_eq!([0, 1, 2, 3].map(|m| state.operated(MoverId(m))), [false, false, true, false]);
    }
}
