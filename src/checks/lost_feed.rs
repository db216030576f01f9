//! What one lost feed leaves dead: the parts that hang on it, and those behind a relay that it no longer lets pull in.

use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::Circuit;
use crate::netlist::{Form, Job, Kind, PartId, TerminalId};

use super::closing::ways;
use super::fed::Starved;
use super::report::listed;

/// So many parts are named; of more only the first.
const NAMED: usize = 8;
/// So many of the parts of one finding are pointed at.
pub(super) const POINTED_AT: usize = 12;

/// Parts that stay dead for one reason.
pub(super) struct Group {
    /// The one for whose reason the others stay dead.
    pub(super) root: usize,
    /// Those of which one end leads nowhere, by their numbers in the list of what is starved, each with that end.
    pub(super) hanging: Vec<(usize, TerminalId)>,
    /// Those that stay dead with them.
    pub(super) behind: Vec<usize>,
}

/// The parts that nothing feeds, those together that one lost feed leaves dead. `open` gives the end that leads nowhere, if but
/// one of the two does.
pub(super) fn groups(
    job: &Job,
    circuit: &Circuit,
    starved: &[Starved],
    open: &dyn Fn(&Starved) -> Option<TerminalId>,
) -> Vec<Group> {
    let ends: Vec<Option<TerminalId>> = starved.iter().map(open).collect();
    let number: BTreeMap<PartId, usize> =
        starved.iter().enumerate().map(|(n, part)| (part.part, n)).collect();
    let mut first: BTreeMap<u32, usize> = BTreeMap::new();
    for (n, end) in ends.iter().enumerate() {
        if let Some(lost) = end.and_then(|end| circuit.lost_feed(job, end)) {
            first.entry(lost).or_insert(n);
        }
    }
    // The part that each one hangs together with, or stays dead behind.
    let before: Vec<Option<(usize, bool)>> = starved
        .iter()
        .zip(&ends)
        .enumerate()
        .map(|(n, (part, end))| {
            let on = |end: TerminalId| first.get(&circuit.lost_feed(job, end)?).copied();
            match end {
                Some(end) if circuit.lost_feed(job, *end).is_some() => Some((on(*end)?, true)),
                _ => part.ends.into_iter().find_map(on).map(|at| (at, false)),
            }
            .or_else(|| {
                let dead = |coil: &PartId| number.get(coil).copied().filter(|at| *at != n);
                stuck_behind(job, circuit, part.part, &dead).map(|coil| (coil, false))
            })
            .filter(|(at, _)| *at != n)
        })
        .collect();
    let mut groups: BTreeMap<usize, Group> = BTreeMap::new();
    for (n, end) in ends.iter().enumerate() {
        let (mut at, mut hangs, mut seen) = (n, true, BTreeSet::from([n]));
        while let Some((next, on)) = before[at] {
            hangs &= on;
            at = next;
            if !seen.insert(at) {
                // Relays that wait for each other: the first of them stands for all.
                at = seen.first().copied().unwrap_or(n);
                break;
            }
        }
        let group =
            groups.entry(at).or_insert_with(|| Group { root: at, hanging: Vec::new(), behind: Vec::new() });
        match end {
            Some(end) if hangs || at == n => group.hanging.push((n, *end)),
            _ => group.behind.push(n),
        }
    }
    groups.into_values().collect()
}

/// The first of the dead relays one of which would have to pull in for every way into a part.
fn stuck_behind(
    job: &Job,
    circuit: &Circuit,
    part: PartId,
    dead: &dyn Fn(&PartId) -> Option<usize>,
) -> Option<usize> {
    let ways = ways(job, circuit, part);
    let mut behind = ways.iter().map(|(needs, _)| {
        let operated = needs.iter().filter(|need| need.operated);
        operated.filter_map(|need| circuit.moved_by(need.mover)).find_map(|coil| dead(&coil))
    });
    let first = behind.next()??;
    behind.all(|coil| coil.is_some()).then_some(first)
}

/// Parts by their labels; of many only the first.
pub(super) fn names(job: &Job, parts: impl Iterator<Item = PartId>) -> String {
    let mut names: Vec<String> = parts.map(|id| job.part_label(id)).collect();
    if names.len() > NAMED + 1 {
        let others = names.len() - NAMED;
        names.truncate(NAMED);
        names.push(format!("{others} others"));
    }
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    listed(&names)
}

/// Everything on what lost its feed: all terminals that conductors, fuses and contacts join there.
pub(super) struct Rails(BTreeMap<u32, Vec<TerminalId>>);

impl Rails {
    pub(super) fn of(job: &Job, circuit: &Circuit) -> Self {
        let mut rails: BTreeMap<u32, Vec<TerminalId>> = BTreeMap::new();
        for (id, _) in job.terminal_ids() {
            if let Some(lost) = circuit.lost_feed(job, id) {
                rails.entry(lost).or_default().push(id);
            }
        }
        Self(rails)
    }

    /// The terminals that hang together with one.
    fn with(&self, job: &Job, circuit: &Circuit, at: TerminalId) -> &[TerminalId] {
        let lost = circuit.lost_feed(job, at);
        lost.and_then(|lost| self.0.get(&lost)).map_or(&[], Vec::as_slice)
    }

    /// Where what lost its feed is to be fed: the splice or strip way that most contacts part from what hangs on `ends`.
    pub(super) fn spot(&self, job: &Job, circuit: &Circuit, ends: &[TerminalId]) -> Option<TerminalId> {
        let all = self.with(job, circuit, *ends.first()?);
        let far = distances(job, circuit, all, ends);
        let joints = all.iter().filter(|at| job.device(job.terminal(**at).device).form != Form::Box);
        let rank = |at: &&TerminalId| far.get(&circuit.past_fuses(**at)).copied().unwrap_or_default();
        joints.rev().max_by_key(rank).copied()
    }

    /// The ends of loads and coils on what lost its feed, if there is but one such, and whether it is plus that they want there, as
    /// the loads with a polarity and the diodes across the others tell.
    pub(super) fn only_one(&self, job: &Job) -> Option<(Vec<TerminalId>, bool)> {
        let hangs = |at: &TerminalId| {
            job.parts_on(*at).any(|(_, part)| matches!(part.kind, Kind::Load(_) | Kind::Coil(_)))
        };
        let mut loaded = self.0.values().filter(|all| all.iter().any(hangs));
        let (Some(all), None) = (loaded.next(), loaded.next()) else { return None };
        let mut says = all
            .iter()
            .flat_map(|at| job.parts_on(*at).map(move |(_, part)| (at, part)))
            .filter_map(|(at, part)| match &part.kind {
                Kind::Load(load) if load.polarised => Some(load.plus == *at),
                Kind::Coil(coil) if coil.polarised => Some(coil.plus == *at),
                Kind::Diode(diode) => Some(diode.cathode == *at),
                _ => None,
            });
        let plus = says.next()?;
        says.all(|other| other == plus).then(|| (all.iter().copied().filter(hangs).collect(), plus))
    }
}

/// By conductor, fuses closed: how many contacts at the least lie between it and any of `ends`.
fn distances(job: &Job, circuit: &Circuit, all: &[TerminalId], ends: &[TerminalId]) -> BTreeMap<u32, usize> {
    let mut beyond: BTreeMap<u32, BTreeSet<u32>> = BTreeMap::new();
    for at in all {
        for (_, part) in
            job.parts_on(*at).filter(|(_, part)| matches!(part.kind, Kind::Contact(_) | Kind::Output(_)))
        {
            let others = part.kind.terminals();
            let others = others.iter().map(|other| circuit.past_fuses(*other));
            beyond.entry(circuit.past_fuses(*at)).or_default().extend(others);
        }
    }
    let mut far: BTreeMap<u32, usize> = ends.iter().map(|end| (circuit.past_fuses(*end), 0)).collect();
    let mut queue: Vec<u32> = far.keys().copied().collect();
    let mut next = 0;
    while let Some(&at) = queue.get(next) {
        next += 1;
        let steps = far.get(&at).copied().unwrap_or_default() + 1;
        for &other in beyond.get(&at).into_iter().flatten() {
            if let Entry::Vacant(entry) = far.entry(other) {
                entry.insert(steps);
                queue.push(other);
            }
        }
    }
    far
}
