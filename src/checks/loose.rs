//! Parts of which one side is wired while the other leads nowhere: most often what was to lead on from there is missing.

use crate::circuit::{Circuit, Need, NetId};
use crate::netlist::{Form, Job, Kind, PartId, Pole, TerminalId};

use super::fed::Starved;
use super::report::Report;

/// Of more than this many nobody can say which belongs to what is dead.
const FEW: usize = 20;

/// One of them: `wired` is its side that is joined to other devices, `open` the one that is not.
#[derive(Clone, Copy, Debug)]
pub(super) struct LooseEnd {
    pub(super) part: PartId,
    pub(super) wired: TerminalId,
    pub(super) open: TerminalId,
    /// The other throw of a changeover contact, if it is open as well.
    other: Option<TerminalId>,
    /// Whether it tells where something is missing: a common that is open while both throws are wired may as well be
    /// exchanged with one.
    telling: bool,
    /// Whether its open side ends on a strip or splice, on which nothing else lies.
    pub(super) on_joint: bool,
}

impl LooseEnd {
    /// The open side, or both throws that may be meant.
    pub(super) fn label(&self, job: &Job) -> String {
        match self.other {
            Some(other) => format!("{} or {}", job.label(self.open), job.label(other)),
            None => job.label(self.open),
        }
    }
}

/// All of a job, in its order. What is marked unused, or wired outside this job, is meant to be so.
pub(super) fn loose_ends(job: &Job, circuit: &Circuit) -> Vec<LooseEnd> {
    let landings = circuit.landings();
    let leads_on = |id: PartId, at: TerminalId| {
        let device = job.part(id).device;
        let net = circuit.terminals_of(circuit.net_of(at));
        let beside = |part: u32| {
            PartId(part) != id
                && job.parts.get(part as usize).is_some_and(|part| {
                    !matches!(part.kind, Kind::Bridge(_))
                        && part.kind.terminals().iter().any(|t| net.contains(t))
                })
        };
        // A source whose pole comes out by way of a contact or fuse of its own device feeds what lies behind that.
        let is_source = |part: &PartId| matches!(job.part(*part).kind, Kind::Source(_));
        let inside = |part: PartId| {
            let kind = &job.part(part).kind;
            let switches = |part: &PartId| matches!(job.part(*part).kind, Kind::Contact(_) | Kind::Fuse(_));
            let apart = |t: &&TerminalId| !net.contains(t);
            (is_source(&id) && switches(&part) || switches(&id) && is_source(&part))
                && kind.terminals().iter().any(|t| net.contains(t))
                && kind.terminals().iter().filter(apart).any(|t| {
                    circuit.terminals_of(circuit.net_of(*t)).iter().any(|other| landings.wired(*other))
                })
        };
        let elsewhere = |other: &&TerminalId| job.terminal(**other).device != device;
        net.iter().filter(elsewhere).any(|other| job.device(job.terminal(*other).device).form == Form::Box)
            || net.iter().filter(elsewhere).any(|other| landings.on(*other).len() != 1)
            || net.iter().any(|other| landings.wired(*other)) && job.device(device).parts.iter().any(beside)
            || job.device(device).parts.iter().map(PartId).any(inside)
    };
    let found = job.part_ids().filter(|(_, part)| !part.existing).filter_map(|(id, part)| {
        let (one, others) = match &part.kind {
            Kind::Source(source) => (source.plus, vec![source.minus]),
            Kind::TwoWire(sensor) => (sensor.plus, vec![sensor.minus]),
            Kind::Fuse(fuse) => (fuse.between[0], vec![fuse.between[1]]),
            Kind::Resistor(resistor) => (resistor.between[0], vec![resistor.between[1]]),
            Kind::Diode(diode) => (diode.anode, vec![diode.cathode]),
            Kind::Contact(contact) => (contact.common, contact.no.into_iter().chain(contact.nc).collect()),
            _ => return None,
        };
        let on_joint = |at: TerminalId| {
            let net = circuit.terminals_of(circuit.net_of(at));
            net.iter().any(|other| job.terminal(*other).device != job.part(id).device)
        };
        let spoken_for = |at: &TerminalId| job.unused(*at).is_some();
        let wired = others.iter().copied().find(|other| leads_on(id, *other));
        match (leads_on(id, one), wired) {
            (true, None) => {
                let mut open = others.into_iter().filter(|other| !spoken_for(other));
                let (open, other) = (open.next()?, open.next());
                Some(LooseEnd { part: id, wired: one, open, other, telling: true, on_joint: on_joint(open) })
            }
            (false, Some(wired)) if !spoken_for(&one) => {
                let telling = others.iter().filter(|other| leads_on(id, **other)).count() == 1;
                let on_joint = on_joint(one);
                Some(LooseEnd { part: id, wired, open: one, other: None, telling, on_joint })
            }
            _ => None,
        }
    });
    found.collect()
}

/// Where what is missing between a part that nothing feeds and its source most likely was.
pub(super) fn gap(
    job: &Job,
    circuit: &Circuit,
    starved: &Starved,
    spot: Option<TerminalId>,
    report: &mut Report,
) -> Option<String> {
    let loose = report.loose_ends(job, circuit);
    if !report.may_look_for_gap() {
        return None;
    }
    let (words, parts) = found(job, circuit, &loose, starved, spot)?;
    report.names_gap(parts);
    Some(words)
}

/// The same, and the loose ends that tell so: one end of the part is on no source, however the contacts stand, and but one
/// loose end lies on the pole that it wants, or but one on its own side.
fn found(
    job: &Job,
    circuit: &Circuit,
    loose: &[LooseEnd],
    starved: &Starved,
    spot: Option<TerminalId>,
) -> Option<(String, Vec<PartId>)> {
    let (part, [a, b]) = (starved.part, starved.ends);
    if loose.is_empty() || loose.len() > FEW {
        return None;
    }
    // A relay that holds itself is not fed by that to begin with.
    let own = |need: &Need| need.operated && circuit.moved_by(need.mover) == Some(part);
    let hard = |end: TerminalId| -> Vec<(PartId, Pole)> {
        let ways = circuit.levels(end).ways;
        let ways = ways.iter().filter(|level| !level.needs.iter().any(own));
        ways.flat_map(|level| level.poles.to_vec()).collect()
    };
    let (open, other, has) = match (hard(a), hard(b)) {
        (none, has) if none.is_empty() && !has.is_empty() => (a, b, has),
        (has, none) if none.is_empty() && !has.is_empty() => (b, a, has),
        (none, _) if none.is_empty() => match (circuit.soft_poles(a, part), circuit.soft_poles(b, part)) {
            (none, has) if none.is_empty() && !has.is_empty() => (a, b, has),
            (has, none) if none.is_empty() && !has.is_empty() => (b, a, has),
            _ => return None,
        },
        (on_a, on_b) => return unjoined_pole(job, loose, [(a, on_a), (b, on_b)]),
    };
    let wants = |(source, pole): (PartId, Pole)| has.iter().any(|(s, p)| *s == source && *p != pole);
    let live = loose.iter().filter(|end| end.telling).filter(|end| match &job.part(end.part).kind {
        Kind::Source(source) => {
            wants((end.part, if end.open == source.plus { Pole::Plus } else { Pole::Minus }))
        }
        _ => circuit.levels(end.wired).ways.iter().any(|level| level.poles.iter().any(|pole| wants(*pole))),
    });
    let dead = on_side(circuit, loose, open);
    let live: Vec<&LooseEnd> = live.filter(|live| !dead.iter().any(|dead| dead.open == live.open)).collect();
    let words = match (live.as_slice(), dead.as_slice()) {
        ([live], [dead]) => {
            format!("join {} and {}: nothing leads on from either", dead.label(job), live.label(job))
        }
        ([live], []) => {
            let spot = spot.or_else(|| joint(job, circuit, circuit.net_of(open))).unwrap_or(open);
            let which =
                if spot == open { String::new() } else { format!(", on which {} hangs,", job.label(open)) };
            let live = live.label(job);
            format!(
                "find what is missing between {live}, from which nothing leads on, and {}{which}",
                job.label(spot)
            )
            .trim_end_matches(',')
            .to_owned()
        }
        ([], [dead]) => format!(
            "find what is missing between {}, from which nothing leads on, and the other pole of the source that {} is on",
            dead.label(job),
            job.label(other)
        ),
        _ => return None,
    };
    Some((words, live.iter().chain(&dead).map(|end| end.part).collect()))
}

/// The one source to which a part whose ends are on different ones could be joined, for the pole that it lacks leads nowhere.
fn unjoined_pole(
    job: &Job,
    loose: &[LooseEnd],
    ends: [(TerminalId, Vec<(PartId, Pole)>); 2],
) -> Option<(String, Vec<PartId>)> {
    let mut found = loose.iter().filter_map(|end| {
        let Kind::Source(source) = &job.part(end.part).kind else { return None };
        let has = if end.open == source.plus { Pole::Minus } else { Pole::Plus };
        let at = ends.iter().position(|(_, poles)| poles.contains(&(end.part, has)))?;
        let wrong = ends[1 - at].0;
        let [wrong, open] = [wrong, end.open].map(|at| job.label(at));
        let words = format!("find what is missing between {open}, from which nothing leads on, and {wrong}");
        Some((words, vec![end.part]))
    });
    found.next().filter(|_| found.next().is_none())
}

/// The loose ends that conductors, fuses and contacts, however they stand, join to a terminal.
pub(super) fn on_side<'l>(circuit: &Circuit, loose: &'l [LooseEnd], at: TerminalId) -> Vec<&'l LooseEnd> {
    if loose.len() > FEW {
        return Vec::new();
    }
    let joined = |end: &&LooseEnd| {
        circuit.joined_past_fuses(at, end.wired) || !circuit.joins(at, end.wired).ways.is_empty()
    };
    loose.iter().filter(|end| end.telling).filter(joined).collect()
}

/// The first splice or strip way of a conductor.
fn joint(job: &Job, circuit: &Circuit, net: NetId) -> Option<TerminalId> {
    let mut terminals = circuit.terminals_of(net).iter().copied();
    terminals.find(|at| job.device(job.terminal(*at).device).form != Form::Box)
}
