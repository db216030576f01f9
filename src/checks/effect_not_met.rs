//! A line of cause and effect that the circuit contradicts.
//!
//! ## On site
//!
//! The job was wired as written, every core sits tight, and what the customer ordered does not happen.
//!
//! ## Why
//!
//! Cause and effect is what the job is for. The circuit is put into the state of the line's cause and asked for each effect.
//!
//! ## Example
//!
//! ```yaml
//! cause_and_effect:
//!   - {when: S1 operated, then: H1 powered}       # but H1 hangs on the break contact of S1
//! ```
//!
//! ## Cure
//!
//! Follow the path to the contact that the fix names, if it names one, and move the core, or correct the line.
//!
//! ## Limits
//!
//! A load counts as powered from half of its nominal volts upwards; what sits below its range is told by `volt-drop`. Where a
//! source does not state its volts a closed way to it counts.
//! A cause that only other parts of the circuit can bring about (a coil, an input) is not put on by itself, and the line
//! is noted as not checked.
//!
//! ## Sources
//!
//! Common practice, no source.

use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::solve::{Ask, Solver, settle};
use crate::circuit::{Circuit, Deed, Feed, Landing, Landings, Level, MovedBy, Need, State, Way};
use crate::diagnostic::Subject;
use crate::netlist::{Condition, DeviceId, Job, Kind, PartId, StateWord, TerminalId};

use crate::source::Place;

use super::closing::{fed, held_by, open_at, ways};
use super::eol_value::Loops;
use super::operates::operates;
use super::report::{Report, listed};
use super::unstated;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    if job.cause_and_effect.is_empty() {
        return;
    }
    let solver = Solver::of(job);
    let landings = circuit.landings();
    // Of one effect only the first contradiction is told; the others are further places of it.
    let mut told: BTreeMap<(DeviceId, Option<PartId>), Told> = BTreeMap::new();
    for line in &job.cause_and_effect {
        let mut world = World { state: circuit.at_rest(), before: Vec::new(), off: Vec::new(), still: true };
        let causes: Vec<&Condition> = line.first.iter().chain(&line.when).collect();
        if let Some(cause) = causes.iter().find(|cause| !world.put(job, circuit, &solver, cause)) {
            let missing =
                format!("`{}` is not something that can be operated by itself", job.condition_words(cause));
            let fix = "name what the world moves: a switch, a button, a sensor or an output";
            report.not_checked(missing, fix).at(cause.place, "").about(cause.device);
            continue;
        }
        // A line is told once, whichever of its effects fail.
        let mut line_told = false;
        for effect in &line.then {
            let ends = effect.parts(job).into_iter().flat_map(|part| job.part(part).kind.terminals());
            if ends.into_iter().any(|end| world.shorted(circuit, end)) {
                continue;
            }
            let (met, is) = match Found::of(job, circuit, &solver, &world, effect) {
                Found::Unknown(why) => {
                    let fix = "give what is missing in the job file, or prove the line on site";
                    report.not_checked(why, fix).at(effect.place, "").about(effect.device);
                    continue;
                }
                Found::Is(met, is) => (met, is),
            };
            if line_told || (met && world.still) {
                continue;
            }
            line_told = true;
            let when = job.cause_words(line);
            let is = if world.still { is } else { "its relays never come to rest".to_owned() };
            let message = format!("{when}, {} is wanted, but {is}", job.condition_words(effect));
            let told = told.entry((effect.device, effect.part)).or_insert_with(|| Told {
                message,
                fix: fix(job, circuit, &world, &causes, effect),
                when,
                unwanted: true,
                places: Vec::new(),
                subjects: path(job, circuit, landings, &causes, effect),
            });
            told.unwanted &= wants_off(effect.state);
            told.places.push(effect.place);
        }
    }
    for ((device, _), told) in told {
        let draft = report.find(told.message, told.fix);
        draft.about(device).when(told.when);
        draft.unwanted = told.unwanted;
        for place in told.places {
            draft.at(place, "");
        }
        for subject in told.subjects {
            draft.about(subject);
        }
    }
}

/// A contradiction, with the places of all lines that have the same effect.
struct Told {
    message: String,
    fix: String,
    when: String,
    /// Whether each line wants it off.
    unwanted: bool,
    places: Vec<Place>,
    subjects: Vec<Subject>,
}

fn wants_off(state: StateWord) -> bool {
    matches!(state, StateWord::Dead | StateWord::AtRest | StateWord::Inactive | StateWord::Open)
}

/// What to change: it names where the way to the effect is open, or what holds it closed, where the circuit can tell.
fn fix(job: &Job, circuit: &Circuit, world: &World, causes: &[&Condition], effect: &Condition) -> String {
    let state = &world.state;
    let all = effect.parts(job);
    let part = all.iter().copied().find(|part| !ways(job, circuit, *part).is_empty());
    let open = |ways: &[(Vec<Need>, Vec<PartId>)]| {
        open_at(job, circuit, state, ways, &[]).map(|at| format!("its way is open then {at}"))
    };
    let found = part.and_then(|part| match effect.state {
        StateWord::Forward => turned(circuit, state, part, true).or_else(|| open(&fed(circuit, part, true))),
        StateWord::Reverse => {
            turned(circuit, state, part, false).or_else(|| open(&fed(circuit, part, false)))
        }
        StateWord::Powered | StateWord::Operated | StateWord::Active | StateWord::Closed => {
            open(&ways(job, circuit, part))
        }
        off if wants_off(off) => held_by(job, circuit, state, part, &[]).map(|by| match by {
            Some(by) => format!("its way is closed then {by}"),
            None => "no contact lies on the way that holds it".to_owned(),
        }),
        _ => None,
    });
    let found = found.unwrap_or_else(|| {
        if let Some(only) =
            part.filter(|_| !wants_off(effect.state)).and_then(|p| fed_by(job, circuit, world, p))
        {
            return format!("nothing but {only} feeds it");
        }
        let nothing =
            !wants_off(effect.state) && all.iter().all(|part| nothing_leads_to(job, circuit, *part));
        if nothing { "no way leads to it" } else { "follow its path" }.to_owned()
    });
    let found = match part.map(|part| bystanders(job, circuit, part, causes)) {
        Some((beside, on_the_way)) if !beside.is_empty() => {
            let is = if beside.len() == 1 { "is" } else { "are" };
            match (wants_off(effect.state), on_the_way) {
                (true, true) => format!("{found}, and {} {is} not on it", listed(&beside)),
                (false, false) => format!("{} {is} on no way to it", listed(&beside)),
                _ => found,
            }
        }
        _ => found,
    };
    let resting = causes
        .iter()
        .find(|cause| cause.state == StateWord::AtRest && job.device(cause.device).rest_operated);
    let released = resting.map_or_else(String::new, |cause| {
        let name = &job.device(cause.device).name;
        format!(": {name} rests operated, and `{name} at rest` releases it")
    });
    format!("{found}; move the core that stands wrong, or correct the line{released}")
}

/// The sources of a part, in words, if all its ways need one that is off.
fn fed_by(job: &Job, circuit: &Circuit, world: &World, id: PartId) -> Option<String> {
    let ways = &circuit.feeds(id).ways;
    let lost = |feed: &Feed| feed.sources.iter().any(|source| world.off.contains(source));
    if ways.is_empty() || !ways.iter().all(lost) {
        return None;
    }
    let sources: BTreeSet<PartId> = ways.iter().flat_map(|feed| feed.sources.iter().copied()).collect();
    let names: Vec<String> = sources.into_iter().map(|source| job.part_label(source)).collect();
    Some(listed(&names.iter().map(String::as_str).collect::<Vec<_>>()))
}

/// Whether no way leads to a part, be it through others. What a loop is to show is told by its resistance.
fn nothing_leads_to(job: &Job, circuit: &Circuit, id: PartId) -> bool {
    let soft = circuit.signal(id).is_some_and(|signal| signal.soft);
    let watched = matches!(job.part(id).kind, Kind::Supervised(_));
    !watched && !soft && ways(job, circuit, id).is_empty() && circuit.feeds(id).ways.is_empty()
}

/// The devices of the causes that are operated and yet can neither open nor close any way to a part, be it by way of relays;
/// and whether others of them can.
fn bystanders<'j>(
    job: &'j Job,
    circuit: &Circuit,
    part: PartId,
    causes: &[&Condition],
) -> (Vec<&'j str>, bool) {
    let (mut behind, mut movers, mut next) = (BTreeSet::from([part]), BTreeSet::new(), vec![part]);
    while let Some(part) = next.pop() {
        let feeds = circuit.feeds(part).ways.iter().flat_map(|feed| feed.parts.clone());
        let on_ways = ways(job, circuit, part).into_iter().flat_map(|way| way.1).chain(feeds);
        for mover in on_ways.filter_map(|part| circuit.mover_of(part)).collect::<BTreeSet<_>>() {
            movers.insert(mover);
            let by = circuit.movers().get(mover.index()).map(|mover| mover.by);
            if let Some(MovedBy::Coil(moved) | MovedBy::Input(moved)) = by
                && behind.insert(moved)
            {
                next.push(moved);
            }
        }
    }
    let operated = causes.iter().filter(|cause| cause.state == StateWord::Operated);
    let (on_the_way, beside): (Vec<&Condition>, Vec<&Condition>) = operated.partition(|cause| {
        cause
            .parts(job)
            .into_iter()
            .filter_map(|part| circuit.mover_of(part))
            .any(|mover| movers.contains(&mover))
    });
    let mut beside: Vec<&str> = beside.iter().map(|cause| &*job.device(cause.device).name).collect();
    beside.dedup();
    (beside, !on_the_way.is_empty())
}

/// What is wrong with a part that is fed the other way round than the line wants it.
fn turned(circuit: &Circuit, state: &State, part: PartId, forward: bool) -> Option<String> {
    let hard = || circuit.feeds(part).ways.iter().filter(|feed| feed.hard);
    if !hard().any(|feed| feed.forward == forward) {
        return Some("nothing ever feeds it that way round".to_owned());
    }
    let other = hard().any(|feed| feed.forward != forward && circuit.holds(&feed.needs, state));
    other.then(|| "it is fed the other way round, as when two cores on its way are exchanged".to_owned())
}

/// What stands on the path between cause and effect: the terminals of both and of all that feeds the effect, the cores
/// on them, and the devices through which it is fed. Another error there explains the contradiction. A source that feeds
/// nothing might be the one that should; where nothing reaches the effect any source might.
fn path(
    job: &Job,
    circuit: &Circuit,
    landings: &Landings,
    causes: &[&Condition],
    effect: &Condition,
) -> Vec<Subject> {
    let mut subjects = Vec::new();
    let all = causes.iter().copied().chain([effect]);
    let reached: Vec<PartId> =
        effect.parts(job).into_iter().flat_map(|part| reaches(job, circuit, part)).collect();
    let feeds = |source: PartId| {
        job.part_ids().any(|(id, _)| circuit.feeds(id).ways.iter().any(|feed| feed.sources.contains(&source)))
    };
    let sources: Vec<(PartId, bool)> = job
        .part_ids()
        .filter(|(_, part)| matches!(part.kind, Kind::Source(_)))
        .map(|(id, _)| (id, reached.is_empty() || reached.contains(&id) || !feeds(id)))
        .collect();
    let joined = |id: PartId, at: TerminalId| {
        job.part(id).kind.terminals().into_iter().any(|terminal| circuit.joined_past_fuses(terminal, at))
    };
    let feeding = job.part_ids().filter(|(id, part)| match &part.kind {
        Kind::Source(_) => sources.contains(&(*id, true)),
        Kind::Fuse(fuse) => {
            let at = fuse.between[0];
            reached.iter().any(|part| joined(*part, at))
                || !sources.iter().any(|(source, named)| !named && joined(*source, at))
        }
        _ => reached.contains(id),
    });
    let on_path: Vec<PartId> =
        all.flat_map(|condition| condition.parts(job)).chain(feeding.map(|(id, _)| id)).collect();
    for terminal in on_path.into_iter().flat_map(|part| job.part(part).kind.terminals()) {
        subjects.push(Subject::from(terminal));
        for landing in landings.on(terminal) {
            if let Landing::Core(core, _) = landing {
                subjects.push(Subject::from(*core));
            }
        }
    }
    for part in
        effect.parts(job).into_iter().flat_map(|part| &circuit.feeds(part).ways).flat_map(|f| &f.parts)
    {
        subjects.push(Subject::from(job.part(*part).device));
    }
    subjects.sort_unstable();
    subjects.dedup();
    subjects
}

/// What an effect is fed or reached by in any state: sources, and the parts on the way.
fn reaches(job: &Job, circuit: &Circuit, id: PartId) -> Vec<PartId> {
    let levels = |at: TerminalId| {
        let ways = circuit.levels(at).ways;
        let on_way = |way: Level| -> Vec<PartId> {
            way.parts.into_iter().chain(way.poles.iter().map(|pole| pole.0)).collect()
        };
        ways.into_iter().flat_map(on_way)
    };
    match &job.part(id).kind {
        Kind::Load(_) | Kind::Coil(_) => {
            let ways = &circuit.feeds(id).ways;
            ways.iter().flat_map(|feed| feed.sources.iter().chain(&feed.parts).copied()).collect()
        }
        Kind::Input(input) => levels(input.at).chain(levels(input.common)).collect(),
        Kind::DryInput(dry) => {
            let ways = circuit.joins(dry.between[0], dry.between[1]).ways;
            ways.into_iter().flat_map(|way| way.1).collect()
        }
        _ => Vec::new(),
    }
}

/// The job as a line's cause has it.
struct World {
    state: State,
    /// The states on the way to it.
    before: Vec<State>,
    off: Vec<PartId>,
    still: bool,
}

impl World {
    /// Puts a cause on; false if it cannot be put on by itself.
    fn put(&mut self, job: &Job, circuit: &Circuit, solver: &Solver, cause: &Condition) -> bool {
        match circuit.deed(job, cause) {
            None => return false,
            Some(Deed::Switch(sources, on)) => {
                self.off.retain(|id| !sources.contains(id));
                if !on {
                    self.off.extend(sources);
                }
                if self.off.is_empty() {
                    self.go(circuit.settled(&self.state));
                } else {
                    self.follow(job, circuit, solver, &self.state.clone());
                }
            }
            Some(Deed::Move(movers, operated)) => {
                for mover in movers {
                    if self.off.is_empty() {
                        self.go(circuit.after(&self.state, mover, operated));
                    } else {
                        self.follow(job, circuit, solver, &circuit.put(&self.state, mover, operated));
                    }
                }
            }
        }
        true
    }

    /// Lets the coils follow by the volts that the sources give which are on.
    fn follow(&mut self, job: &Job, circuit: &Circuit, solver: &Solver, state: &State) {
        let nothing = |_| false;
        let settled = settle(job, circuit, solver, state, &Ask { off: &self.off, ..Ask::new(&nothing) });
        self.go((settled.state, settled.chatter.is_empty()));
    }

    /// Goes on to a state; whether it stands still there.
    fn go(&mut self, (state, still): (State, bool)) {
        self.before.push(std::mem::replace(&mut self.state, state));
        self.still &= still;
    }

    /// Whether on the way a source was shorted with which a terminal hangs together: nothing behind it means anything.
    fn shorted(&self, circuit: &Circuit, terminal: TerminalId) -> bool {
        let states = self.before.iter().chain([&self.state]);
        states.into_iter().any(|state| {
            circuit
                .shorts()
                .ways
                .iter()
                .any(|way| circuit.holds(&way.needs, state) && circuit.same_system(way.between[0], terminal))
        })
    }
}

/// What the circuit says of an effect.
enum Found {
    /// Whether it is as wanted, and how it is.
    Is(bool, String),
    /// Why nothing can be said.
    Unknown(String),
}

impl Found {
    fn of(job: &Job, circuit: &Circuit, solver: &Solver, world: &World, effect: &Condition) -> Self {
        for id in effect.parts(job) {
            if let Some(found) = Self::part(job, circuit, solver, world, effect.state, id) {
                return found;
            }
        }
        Self::Unknown(format!("`{}` says nothing that the circuit can show", job.condition_words(effect)))
    }

    fn part(
        job: &Job,
        circuit: &Circuit,
        solver: &Solver,
        world: &World,
        wanted: StateWord,
        id: PartId,
    ) -> Option<Self> {
        let kind = &job.part(id).kind;
        let terminals = kind.terminals();
        let name = job.part_label(id);
        if let Some(dark) = terminals.iter().find_map(|t| circuit.dark_end(*t, id)) {
            let why =
                format!("{name} is wired to {}, and what lies behind that is not known", job.label(dark));
            return Some(Self::Unknown(why));
        }
        let operated = |part: PartId| circuit.mover_of(part).is_some_and(|m| world.state.operated(m));
        let ask = Ask { off: &world.off, ..Ask::new(&operated) };
        let volts = |a: TerminalId, b: TerminalId| {
            solver
                .solve_around(a, &ask)
                .between(a, b)
                .map_or(0.0, |volts| (volts.0 * 10.0).round() / 10.0 + 0.0)
        };
        let is = |now: bool, yes: &str, no: &str| format!("{name} is {}", if now { yes } else { no });
        match (kind, wanted) {
            (
                Kind::Contact(_) | Kind::Output(_) | Kind::TwoWire(_),
                StateWord::Operated | StateWord::AtRest,
            ) => {
                let now = operated(id);
                Some(Self::Is(now == (wanted == StateWord::Operated), is(now, "operated", "at rest")))
            }
            (Kind::Load(_) | Kind::Coil(_), _) => {
                let (rated, [plus, minus]) = match kind {
                    Kind::Load(load) => (load.volts, [load.plus, load.minus]),
                    Kind::Coil(coil) => (coil.volts, [coil.plus, coil.minus]),
                    _ => return None,
                };
                if let Some(silent) = silent(job, circuit, world, id) {
                    return Some(Self::Unknown(unstated::missing(job, silent)));
                }
                if let Some(found) = by_ways(job, circuit, world, wanted, id) {
                    return Some(found);
                }
                let least = rated.map_or(1.0, |rated| rated.nominal.0 / 2.0);
                let got = volts(plus, minus);
                let met = match wanted {
                    StateWord::Powered | StateWord::Operated => got.abs() >= least,
                    StateWord::Dead | StateWord::AtRest => got.abs() < least,
                    StateWord::Forward => got >= least,
                    StateWord::Reverse => got <= -least,
                    _ => return None,
                };
                let (plus, minus) = (job.label(plus), job.label(minus));
                Some(Self::Is(met, format!("{plus} sits at {got} V against {minus}")))
            }
            (Kind::Input(input), StateWord::Active | StateWord::Inactive) => {
                let got = volts(input.at, input.common);
                let now = operates(circuit, id, input, &world.state, || got).unwrap_or(false);
                let (at, common) = (job.label(input.at), job.label(input.common));
                let text =
                    format!("{}: {at} sits at {got} V against {common}", is(now, "active", "inactive"));
                Some(Self::Is(now == (wanted == StateWord::Active), text))
            }
            (Kind::DryInput(dry), StateWord::Closed | StateWord::Open) => {
                let now =
                    circuit.path(job, &world.state, Way::Closed, dry.between[0], dry.between[1]).is_some();
                Some(Self::Is(now == (wanted == StateWord::Closed), is(now, "closed", "open")))
            }
            (Kind::Supervised(watched), StateWord::Rest | StateWord::Alarm | StateWord::Tamper) => {
                let value = match wanted {
                    StateWord::Rest => watched.rest,
                    StateWord::Alarm => watched.alarm,
                    _ => watched.tamper,
                };
                let Some(value) = value else {
                    return Some(Self::Unknown(format!("{name} does not say what it shows then")));
                };
                let loops = Loops::of(job, circuit).parts(job, circuit, watched);
                if let Some(silent) = loops.into_iter().find(|part| job.part(*part).kind.is_silent()) {
                    return Some(Self::Unknown(unstated::missing(job, silent)));
                }
                let ohms = solver.ohms(watched.at, watched.common, &ask).map(|ohms| ohms.0.round());
                let met = watched.shows(value, ohms);
                let seen = ohms.map_or("an open loop".to_owned(), |ohms| format!("{ohms} Ω"));
                Some(Self::Is(met, format!("{name} sees {seen}")))
            }
            _ => None,
        }
    }
}

/// What the ways alone say of a load or coil that a source feeds whose volts are not stated; `None` where no such source has
/// a part in it.
fn by_ways(job: &Job, circuit: &Circuit, world: &World, wanted: StateWord, id: PartId) -> Option<Found> {
    let unstated = |source: &PartId| {
        !world.off.contains(source)
            && matches!(&job.part(*source).kind, Kind::Source(source) if source.volts.is_none())
    };
    let all = &circuit.feeds(id).ways;
    let silent = all.iter().flat_map(|feed| &feed.sources).copied().find(unstated)?;
    let has_no_volts = || Found::Unknown(format!("{} has no volts", job.part_label(silent)));
    let on = |feed: &&Feed| {
        circuit.holds(&feed.needs, &world.state) && !feed.sources.iter().any(|s| world.off.contains(s))
    };
    let (hard, soft): (Vec<&Feed>, Vec<&Feed>) = all.iter().filter(on).partition(|feed| feed.hard);
    // While a source is lost, the coils follow the volts that the others give.
    if !world.off.is_empty() || hard.is_empty() && soft.iter().any(|feed| feed.sources.iter().any(unstated)) {
        return Some(has_no_volts());
    }
    let goes = |forward: bool| hard.iter().any(|feed| feed.forward == forward);
    let met = match wanted {
        StateWord::Powered | StateWord::Operated => !hard.is_empty(),
        StateWord::Dead | StateWord::AtRest => hard.is_empty(),
        StateWord::Forward => goes(true),
        StateWord::Reverse => goes(false),
        _ => return None,
    };
    let name = job.part_label(id);
    let is = if hard.is_empty() { "no way to it is closed" } else { "it is fed" };
    Some(Found::Is(met, format!("{name}: {is}")))
}

/// What does not say its current, where a part is fed by way of others only and its volts depend on that.
fn silent(job: &Job, circuit: &Circuit, world: &World, id: PartId) -> Option<PartId> {
    let on = |feed: &&Feed| {
        circuit.holds(&feed.needs, &world.state)
            && !feed.sources.iter().any(|source| world.off.contains(source))
    };
    let feeding: Vec<&Feed> = circuit.feeds(id).ways.iter().filter(on).collect();
    if feeding.iter().any(|feed| feed.hard) {
        return None;
    }
    let mut on_the_ways = feeding.iter().flat_map(|feed| &feed.parts).chain([&id]).copied();
    on_the_ways.find(|part| !feeding.is_empty() && job.part(*part).kind.is_silent())
}
