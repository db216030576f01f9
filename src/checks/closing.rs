//! Where the way to a part is open, and what holds it closed, in words.

use crate::circuit::{Circuit, MovedBy, MoverId, Need, State};
use crate::netlist::{Job, Kind, PartId};

use super::report::listed;

/// The most relays one behind the other of which it is told why each is dead or fed.
const RELAYS: usize = 4;

/// Why the way to a part that nothing ever feeds stays open, and what to do about it: a contact on it never closes, or some
/// never close together. `None` where no way leads to it at all.
pub(super) fn never_closes(job: &Job, circuit: &Circuit, id: PartId) -> Option<String> {
    let (needs, parts) = ways(job, circuit, id).into_iter().min_by_key(|(needs, _)| needs.len())?;
    let moved_by_it = |mover: &Need| {
        circuit.movers().get(mover.mover.index()).is_some_and(|mover| mover.by == MovedBy::Coil(id))
    };
    let seen: Vec<MoverId> = needs.iter().filter(|need| moved_by_it(need)).map(|need| need.mover).collect();
    let switches: Vec<(PartId, Need)> = parts
        .into_iter()
        .filter_map(|part| Some((part, circuit.mover_of(part)?)))
        .filter_map(|(part, mover)| Some((part, *needs.iter().find(|need| need.mover == mover)?)))
        .collect();
    let stuck = switches.iter().find(|(_, need)| circuit.reachable(&[*need]).state().is_none());
    if let Some((part, need)) = stuck {
        let why = relay(job, circuit, &circuit.at_rest(), need.mover, &seen);
        return Some(format!("let something close its way {}{why}", gap(job, *part, need.operated)));
    }
    let gaps: Vec<String> = switches.iter().map(|(part, need)| gap(job, *part, need.operated)).collect();
    let gaps: Vec<&str> = gaps.iter().map(String::as_str).collect();
    (gaps.len() > 1).then(|| format!("let its way close {} at the same time", listed(&gaps)))
}

/// Whether every way into a coil leads over a contact of its own: what first pulls it in is missing.
pub(super) fn only_holds_itself(job: &Job, circuit: &Circuit, id: PartId) -> bool {
    let own = |need: &Need| need.operated && circuit.moved_by(need.mover) == Some(id);
    let ways = ways(job, circuit, id);
    !ways.is_empty() && ways.iter().all(|(needs, _)| needs.iter().any(own))
}

/// Where the way that lacks least is open; where that is a relay's contact, what keeps the relay from moving it.
pub(super) fn open_at(
    job: &Job,
    circuit: &Circuit,
    state: &State,
    ways: &[(Vec<Need>, Vec<PartId>)],
    seen: &[MoverId],
) -> Option<String> {
    let lacks = |need: &&Need| state.operated(need.mover) != need.operated;
    let (needs, parts) = ways.iter().min_by_key(|(needs, _)| needs.iter().filter(lacks).count())?;
    let (part, need) = parts.iter().find_map(|part| {
        let mover = circuit.mover_of(*part)?;
        Some((*part, needs.iter().filter(lacks).find(|need| need.mover == mover)?))
    })?;
    let at = gap(job, part, need.operated);
    Some(format!("{at}{}", relay(job, circuit, state, need.mover, seen)))
}

/// What closes a way that is there and should not be; `Some(None)` where nothing on it could open it.
pub(super) fn held_by(
    job: &Job,
    circuit: &Circuit,
    state: &State,
    id: PartId,
    seen: &[MoverId],
) -> Option<Option<String>> {
    let ways = ways(job, circuit, id);
    let (_, parts) = ways.iter().find(|(needs, _)| circuit.holds(needs, state))?;
    let closed: Vec<(String, MoverId)> = parts
        .iter()
        .filter_map(|part| Some((*part, circuit.mover_of(*part)?)))
        .map(|(part, mover)| (gap(job, part, state.operated(mover)), mover))
        .collect();
    let diodes = parts.iter().filter(|part| matches!(job.part(**part).kind, Kind::Diode(_)));
    let diodes: Vec<String> = diodes.map(|part| format!("by {}", job.part_label(*part))).collect();
    let by = match closed.as_slice() {
        [] => return Some(None),
        [(at, mover)] if diodes.is_empty() => format!("{at}{}", relay(job, circuit, state, *mover, seen)),
        _ => {
            let all: Vec<&str> = closed.iter().map(|(at, _)| at).chain(&diodes).map(String::as_str).collect();
            listed(&all)
        }
    };
    Some(Some(by))
}

/// Why the coil of a mover is dead or fed, to be added to what its contact does; nothing if the world moves it, or if
/// the relay was `seen` on the way here, as one that holds itself is.
fn relay(job: &Job, circuit: &Circuit, state: &State, mover: MoverId, seen: &[MoverId]) -> String {
    let by = circuit.movers().get(mover.index()).map(|mover| mover.by);
    let (Some(MovedBy::Coil(moved) | MovedBy::Input(moved)), false) = (by, seen.contains(&mover)) else {
        return String::new();
    };
    if seen.len() >= RELAYS {
        return ", and so on".to_owned();
    }
    let seen = [seen, &[mover]].concat();
    let name = job.part_label(moved);
    if state.operated(mover) {
        let held = held_by(job, circuit, state, moved, &seen).flatten();
        held.map_or_else(String::new, |by| format!(", for the way to {name} is closed {by}"))
    } else {
        let ways = ways(job, circuit, moved);
        if ways.is_empty() {
            return format!(", for no way leads to {name}");
        }
        let open = open_at(job, circuit, state, &ways, &seen);
        open.map_or_else(String::new, |at| format!(", for the way to {name} is open {at}"))
    }
}

/// The hard ways by which a part is fed, reached or closed: what each needs, and the parts on it.
pub(super) fn ways(job: &Job, circuit: &Circuit, id: PartId) -> Vec<(Vec<Need>, Vec<PartId>)> {
    match &job.part(id).kind {
        Kind::Load(_) | Kind::Coil(_) => [true, false].map(|way_round| fed(circuit, id, way_round)).concat(),
        Kind::Input(_) => {
            let active = circuit.signal(id).map_or(&[][..], |signal| &signal.active);
            active.iter().map(|way| (way.needs.clone(), way.parts.clone())).collect()
        }
        Kind::DryInput(dry) => circuit.joins(dry.between[0], dry.between[1]).ways,
        _ => Vec::new(),
    }
}

/// The hard ways by which a load or coil is fed one way round.
pub(super) fn fed(circuit: &Circuit, id: PartId, forward: bool) -> Vec<(Vec<Need>, Vec<PartId>)> {
    let hard = circuit.feeds(id).ways.iter().filter(|feed| feed.hard && feed.forward == forward);
    hard.map(|feed| (feed.needs.to_vec(), feed.parts.to_vec())).collect()
}

/// A contact by the two terminals that it joins when it stands so; an output or a sensor by its name.
fn gap(job: &Job, id: PartId, operated: bool) -> String {
    if let Kind::Contact(contact) = &job.part(id).kind
        && let Some(throw) = if operated { contact.no } else { contact.nc }
    {
        return format!("between {} and {}", job.label(contact.common), job.label(throw));
    }
    format!("at {}", job.part_label(id))
}
