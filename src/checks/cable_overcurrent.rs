//! A core can be made to carry more than it is made for, because no fuse before it is small enough.
//!
//! ## On site
//!
//! Nobody notices while all is well. A short at the far end, or a motor that sticks, then makes the core glow inside its
//! sheath while the fuse holds: the cable burns before anything cuts it off.
//!
//! ## Why
//!
//! What protects a core is the smallest fuse on the way to it, or the source if that gives no more. If there are several
//! ways, the widest counts. What flows back through a return core is limited by what limits the loads that it comes from.
//!
//! ## Example
//!
//! ```yaml
//! devices:
//!   G1: {type: dc-supply, volts: 12 V, amps: 10 A}
//! cables:
//!   W1: {type: alarm-4x0.22, cores: {red: [G1.V+, H1.V+], black: [G1.V-, H1.V-], blue: taped, white: taped}}
//! ```
//!
//! ## Cure
//!
//! Put a fuse of no more than the core's amps where the core begins, or use a larger core. If the maker of the cable
//! allows more, write `amps:` in its cable data.
//!
//! ## Limits
//!
//! Left out: cores that carry only inputs, dry inputs, supervised loops or signals; a lead of at most 0.5 m from a source's
//! plus to the first fuse; a lead that joins batteries in series. In AC the first pole of the source counts as its plus,
//! and the other core as the return. A battery gives any current unless a fuse limits it. It
//! is a warning where the core's amps are the program's own default. A source's amps count as its limit: whether it
//! really folds back there, its maker says. Where several cables are too small for one fuse or source, that is told once, there; of a
//! cable of which it is accepted, by itself. Bundles and hot places want lower amps: write them. Where the widest way to a
//! core can never be closed, the other ways to it are tried, none beyond its 400th part; what is then left untried is noted
//! as not checked.
//!
//! ## Sources
//!
//! IEC 60364-4-43, 433.1: the fuse is at most what the conductor takes; 434.2.1: it stands where the conductor begins.
//! The program's own amps: BS 7671 Table 4F3A for 0.5 to 1.0 mm², IEC 60204-1 Table 6 method B2 rounded down from
//! 1.5 mm²; below 0.5 mm² and for the 0.5 m common practice, no source.

use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::{Circuit, Limit, Protection};
use crate::diagnostic::{Severity, Subject};
use crate::netlist::{AcceptedAt, Cable, CableId, CoreId, Job, Kind, Origin, PartId, TerminalId};
use crate::units::Amps;

use super::report::{Report, listed};
use super::telling;

/// How long the lead from a source to its first fuse may be, in metres.
const LEAD: f64 = 0.5;
/// So many cables behind one fuse are named; all are pointed at.
const NAMED: usize = 8;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let protection = Protection::of(job, circuit);
    let batteries: Vec<Subject> = report
        .drafts()
        .iter()
        .filter(|draft| draft.finding.rule == "unfused-battery")
        .filter_map(|draft| draft.finding.subjects.first().copied())
        .collect();
    let accepted = accepted(job);
    let mut found: Vec<Over> = Vec::new();
    for (id, cable) in job.cable_ids() {
        // Cores of one cable with one reason are told together.
        let mut over: BTreeMap<String, (Vec<CoreId>, &Limit)> = BTreeMap::new();
        let mut unknown: BTreeMap<String, &str> = BTreeMap::new();
        for core in cable.cores.iter().map(CoreId) {
            let reached = protection.core(core).or_else(|| protection.at_worst(core)).is_some();
            if !reached && !protection.unsure(core) {
                continue;
            }
            let Some(rated) = cable.amps else {
                let fix = "state `area:` or `amps:` in its cable data";
                unknown.insert(format!("{} has no conductor size", cable.name), fix);
                continue;
            };
            let exceeds =
                |limit: &&Limit| limit.amps.is_none_or(|amps| amps.0 > rated.value.0 * (1.0 + 1e-6));
            let certain = protection.core(core).filter(exceeds);
            let possible = certain.or_else(|| protection.at_worst(core).filter(exceeds));
            let Some(found) = possible else {
                if protection.unsure(core) {
                    let missing =
                        format!("the ways to {} are too many or too long to follow them all", cable.name);
                    unknown.insert(missing, "compare its amps with the fuses before it by hand");
                }
                continue;
            };
            match protection.lead(core).filter(|_| found.returns.is_none()) {
                Some(metres) if metres <= LEAD => continue,
                Some(metres) if metres.is_infinite() && cable.length.is_none() => {
                    unknown.insert(format!("{} has no length", cable.name), "write `length:` for it");
                    continue;
                }
                _ => {}
            }
            match (certain, possible.and_then(|limit| limit.unknown)) {
                (Some(limit), _) => {
                    // A battery without a fuse is told by the rule of its own.
                    let told = batteries.iter().any(|plus| is_plus(job, limit, *plus));
                    if limit.amps.is_none() && (told || fused_inside(job, core, cable, limit)) {
                        continue;
                    }
                    over.entry(reason(job, limit)).or_insert_with(|| (Vec::new(), limit)).0.push(core);
                }
                (None, Some(part)) => {
                    let missing = format!("{} has no amps", job.part_label(part));
                    unknown.insert(missing, "write `amps:` for it, as it is marked");
                }
                (None, None) => {}
            }
        }
        for (missing, fix) in unknown {
            report.not_checked(missing, fix).at(cable.place, "").about(id);
        }
        let Some(rated) = cable.amps else { continue };
        // The supply side first; what it says of the way there holds for the way back too.
        let widest = over.into_values().min_by_key(|(_, limit)| limit.returns.is_some());
        if let Some((cores, limit)) = widest {
            found.push(Over { id, cores, limit, rated: rated.value, from: rated.from });
        }
    }
    // Several cables that are too small for one fuse are one mistake; what is accepted of one of them is accepted of no other.
    let mut too_large: BTreeMap<(PartId, bool, Option<String>), Vec<usize>> = BTreeMap::new();
    for (n, over) in found.iter().enumerate().filter(|(_, over)| !accepted.contains(&over.id)) {
        let by = over.limit.set_by;
        let fuse = matches!(job.part(by).kind, Kind::Fuse(_));
        if fuse || by == over.limit.source && over.limit.amps.is_some() {
            // A source without a smaller fuse before it may be one of a state alone, in which the fuse is passed by.
            let state = if fuse { None } else { words(job, circuit, over.limit) };
            too_large.entry((by, over.from == Origin::OwnDefault, state)).or_default().push(n);
        }
    }
    too_large.retain(|_, cables| cables.len() > 1);
    let behind: BTreeSet<usize> = too_large.values().flatten().copied().collect();
    for over in found.iter().enumerate().filter(|(n, _)| !behind.contains(n)).map(|(_, over)| over) {
        tell(job, circuit, over, report);
    }
    for ((by, _, state), cables) in too_large {
        let cables: Vec<&Over> = cables.iter().map(|n| &found[*n]).collect();
        tell_of_several(job, by, state, &cables, report);
    }
}

/// A cable of which some cores can be made to carry too much.
struct Over<'p> {
    id: CableId,
    cores: Vec<CoreId>,
    limit: &'p Limit,
    rated: Amps,
    from: Origin,
}

/// The cables of which too large a fuse is accepted.
fn accepted(job: &Job) -> BTreeSet<CableId> {
    let entries = job.accepted.iter().filter(|entry| entry.rule == "cable-overcurrent");
    let cables = entries.filter_map(|entry| match entry.at {
        AcceptedAt::Cable(cable) => Some(cable),
        AcceptedAt::Core(core) => Some(job.core(core).cable),
        AcceptedAt::Device(_) | AcceptedAt::Terminal(_) => None,
    });
    cables.collect()
}

/// Tells of a fuse, or of a source without one, that is too large for several of the cables behind it.
fn tell_of_several(job: &Job, by: PartId, state: Option<String>, cables: &[&Over], report: &mut Report) {
    let [first, ..] = cables else { return };
    let least = cables.iter().map(|over| over.rated.0).fold(f64::INFINITY, f64::min);
    let most = cables.iter().map(|over| over.rated.0).fold(0.0, f64::max);
    let mut names: Vec<String> = cables.iter().map(|over| job.cable(over.id).name.to_string()).collect();
    if names.len() > NAMED + 1 {
        let others = names.len() - NAMED;
        names.truncate(NAMED);
        names.push(format!("{others} other cables"));
    }
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let rated =
        if least < most { format!("{} to {}", Amps(least), Amps(most)) } else { Amps(least).to_string() };
    let own = if first.from == Origin::OwnDefault { " by the program's own table" } else { "" };
    let label = job.part_label(by);
    let lets = first.limit.amps.map_or_else(|| "any current".to_owned(), |amps| amps.to_string());
    let (names, least, clause) = (listed(&names), Amps(least), telling::clause(state.as_deref()));
    let (over, fix) = match job.part(by).kind {
        Kind::Fuse(_) => (
            format!("{label} lets {lets} through, and behind it {names} are"),
            format!(
                "take a fuse of at most {least} for {label}, or larger cables, or put a smaller fuse where each of them \
                 begins"
            ),
        ),
        _ => (
            format!("{label} gives {lets}, no smaller fuse stands before {names}{clause}, and they are"),
            format!("lead them from behind a fuse of at most {least}, or use larger cables"),
        ),
    };
    let message = format!("{over} made for {rated}{own}: a short at the far end heats them until they burn");
    let device = job.part(by).device;
    let draft = report.find(message, fix);
    draft.at(job.device(device).place, "").about(device);
    if let Some(state) = state {
        draft.when(state);
    }
    for over in cables {
        for core in &over.cores {
            draft.at(job.core(*core).place, "").about(*core);
        }
        draft.about(over.id);
    }
    if first.from == Origin::OwnDefault {
        draft.severity(Severity::Warning);
    }
}

fn is_plus(job: &Job, limit: &Limit, subject: Subject) -> bool {
    telling::pole(job, (limit.source, crate::netlist::Pole::Plus)).map(Subject::from) == Some(subject)
}

/// Whether what a battery feeds without a fuse is fused inside, as its data sheet says: the lead to it, if that is short, and
/// what comes back from a load behind that fuse.
fn fused_inside(job: &Job, core: CoreId, cable: &Cable, limit: &Limit) -> bool {
    let fused = |at: TerminalId| {
        job.parts_on(at).any(|(_, part)| {
            matches!(&part.kind, Kind::Source(source) if source.fused.is_some() && source.plus == at)
        })
    };
    match limit.returns {
        Some(load) => job.part(load).kind.load_ends().is_some_and(|[plus, _]| fused(plus)),
        None => {
            cable.length.is_some_and(|length| length.0 <= LEAD)
                && job.core(core).ends.iter().filter_map(|end| end.to.terminal()).any(fused)
        }
    }
}

/// Why so much may flow.
fn reason(job: &Job, limit: &Limit) -> String {
    let source = job.part_label(limit.source);
    match limit.amps {
        None => format!("{source} is a battery, and no fuse stands before it"),
        Some(_) if limit.set_by == limit.source => {
            format!("{source} gives as much, and no smaller fuse stands before it")
        }
        Some(_) => format!("{} lets as much through", job.part_label(limit.set_by)),
    }
}

/// The state in which so much may flow, in words.
fn words(job: &Job, circuit: &Circuit, limit: &Limit) -> Option<String> {
    let state = circuit.sound(&limit.needs, job.part(limit.source).kind.terminals()[0]).state()?;
    circuit.when(&limit.needs, &state)
}

fn tell(job: &Job, circuit: &Circuit, over: &Over, report: &mut Report) {
    let &Over { id, ref cores, limit, rated, from } = over;
    let names: Vec<&str> = cores.iter().map(|core| job.core(*core).name.as_str()).collect();
    let most = limit.amps.map_or_else(|| "any current".to_owned(), |amps| amps.to_string());
    let words = words(job, circuit, limit);
    let own = if from == Origin::OwnDefault { " by the program's own table" } else { "" };
    let through =
        limit.returns.map_or_else(String::new, |load| format!(" back from {}", job.part_label(load)));
    let message = format!(
        "{} {} can be made to carry {most}{through}{} and {} for {rated}{own}: {}, so a short at {} far end \
         heats the cable until it burns",
        job.cable(id).name,
        listed(&names),
        telling::clause(words.as_deref()),
        if names.len() == 1 { "is made" } else { "are made" },
        reason(job, limit),
        if names.len() == 1 { "its" } else { "their" }
    );
    let begins = if names.len() == 1 { "it begins" } else { "they begin" };
    let fix = format!("put a fuse of at most {rated} where {begins}, or use a larger cable");
    let draft = report.find(message, fix);
    for core in cores {
        draft.at(job.core(*core).place, "").about(*core);
    }
    draft.about(id).about(job.part(limit.set_by).device);
    if from == Origin::OwnDefault {
        draft.severity(Severity::Warning);
    }
    if let Some(words) = words {
        draft.when(words);
    }
}
