//! The fault-finding chart: every fault put into the job again and solved afresh by a path of this test's own, and held
//! against what the chart says of it.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::print_stderr,
    reason = "a test may stop at what it did not expect and say what it measured"
)]

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

use bellwire::circuit::solve::{Ask, Solver, Trouble};
use bellwire::circuit::{Circuit, MovedBy, MoverId, State};
use bellwire::documents::Probe;
use bellwire::documents::faults::{self, Chart, Fault, Scene};
use bellwire::drawing;
use bellwire::netlist::{
    self, CauseLine, End, Job, Kind, LoopValue, Part, PartId, Resistor, Safe, StateWord, TerminalId, TypePart,
};
use bellwire::output;
use bellwire::scene::{Role, Shape, Text};
use bellwire::schedules::{Cell, Column, Table};
use bellwire::units::Ohms;

fn read(text: &str) -> Job {
    let reading = netlist::read_text("job.yaml", text);
    reading.job.unwrap_or_else(|| panic!("{:#?}\n{text}", reading.findings))
}

fn file(name: &str) -> Job {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(name);
    read(&fs::read_to_string(path).unwrap())
}

/// A fault put in by this test's own hand.
fn injected(job: &Job, fault: Fault) -> Job {
    let mut job = job.clone();
    let nothing = Kind::Bridge(Box::default());
    let joined =
        |a: TerminalId, b: TerminalId| Kind::Resistor(Resistor { between: [a, b], ohms: Some(Ohms(0.05)) });
    let mut add = None;
    match fault {
        // The near end this time; which end is open must make no difference.
        Fault::Open(core) => job.cores[core.index()].ends[0].to = End::Safe(Safe::Capped),
        Fault::CoresJoined(a, b) => {
            let ends = |c: netlist::CoreId| job.core(c).ends.map(|end| end.to.terminal());
            let ([a0, a1], [b0, b1]) = (ends(a), ends(b));
            let at = match (a0, b0, a1, b1) {
                (Some(a), Some(b), ..) | (.., Some(a), Some(b)) => (a, b),
                _ => (a0.or(a1).unwrap(), b0.or(b1).unwrap()),
            };
            add = Some(at);
        }
        Fault::TerminalsJoined(a, b) => add = Some((a, b)),
        // Exchanged at the near end this time.
        Fault::Exchanged(a, b) => {
            let (one, other) = (job.core(a).ends[0], job.core(b).ends[0]);
            job.cores[a.index()].ends[0] = other;
            job.cores[b.index()].ends[0] = one;
        }
        Fault::StuckAtRest(id) => {
            let nc = match &job.part(id).kind {
                Kind::Contact(c) => c.nc.map(|nc| (c.common, nc)),
                _ => None,
            };
            job.parts[id.index()].kind = nothing;
            add = nc;
        }
        Fault::StuckOperated(id) => {
            let closed = match &job.part(id).kind {
                Kind::Contact(c) => c.no.map(|no| (c.common, no)),
                Kind::Output(o) => Some((o.at, o.common)),
                Kind::TwoWire(_) => None,
                other => panic!("{other:?}"),
            };
            if let Kind::TwoWire(sensor) = job.part(id).kind.clone() {
                job.parts[id.index()].kind =
                    Kind::Diode(netlist::Diode { anode: sensor.plus, cathode: sensor.minus });
            } else {
                job.parts[id.index()].kind = nothing;
                add = closed;
            }
        }
        Fault::FuseOpen(id) | Fault::SourceLost(id) => job.parts[id.index()].kind = nothing,
        Fault::Reversed(id) => match &mut job.parts[id.index()].kind {
            Kind::Load(l) => (l.plus, l.minus) = (l.minus, l.plus),
            Kind::Coil(c) => (c.plus, c.minus) = (c.minus, c.plus),
            Kind::Diode(d) => (d.anode, d.cathode) = (d.cathode, d.anode),
            Kind::TwoWire(t) => (t.plus, t.minus) = (t.minus, t.plus),
            other => panic!("{other:?}"),
        },
    }
    if let Some((a, b)) = add {
        let device = job.terminal(a).device;
        let place = job.device(device).place;
        // A closed contact has no resistance, a touch has some.
        let kind = match fault {
            Fault::StuckAtRest(_) | Fault::StuckOperated(_) => Kind::Bridge([a, b].into()),
            _ => joined(a, b),
        };
        let of = TypePart { name: "fault".into(), existing: false }.into();
        job.parts.push(Part { device, kind, place, of });
    }
    job
}

/// A line of cause and effect, or at rest without these sources.
type Condition<'a> = (Option<&'a CauseLine>, Vec<PartId>);

/// A job under its conditions, settled by a loop of this test's own.
struct Own<'a> {
    job: &'a Job,
    circuit: Circuit,
}

struct Stood {
    job: Job,
    state: State,
    off: Vec<PartId>,
    tripped: BTreeSet<PartId>,
    still: bool,
}

impl<'a> Own<'a> {
    fn new(job: &'a Job) -> Self {
        Self { job, circuit: Circuit::of(job) }
    }

    fn under(&self, (line, off): &Condition) -> Stood {
        let mut tripped = BTreeSet::new();
        let mut job = self.job.clone();
        loop {
            let (state, off, still) = self.put(&job, (*line, off));
            match (tripped.len() < 4).then(|| self.overloaded(&job, &state, &off)).flatten() {
                Some(id) if tripped.insert(id) => job.parts[id.index()].kind = Kind::Bridge(Box::default()),
                _ => return Stood { job, state, off, tripped, still },
            }
        }
    }

    fn put(&self, job: &Job, (line, off): (Option<&CauseLine>, &[PartId])) -> (State, Vec<PartId>, bool) {
        let solver = Solver::of(job);
        let mut state = self.circuit.unpowered();
        let mut off = off.to_vec();
        let mut fed = BTreeSet::new();
        let mut still = self.settle(job, &solver, &mut state, &off, &mut fed);
        let conditions = line.iter().flat_map(|line| line.first.iter().chain(&line.when));
        for condition in conditions {
            let parts: Vec<PartId> = match condition.part {
                Some(part) => vec![part],
                None => self.job.device(condition.device).parts.iter().map(PartId).collect(),
            };
            match condition.state {
                StateWord::On => off.retain(|id| !parts.contains(id)),
                StateWord::Off => {
                    off.extend(parts.iter().filter(|id| matches!(self.job.part(**id).kind, Kind::Source(_))))
                }
                _ => {
                    let movers: BTreeSet<MoverId> =
                        parts.iter().filter_map(|id| self.circuit.mover_of(*id)).collect();
                    for mover in movers {
                        if self.circuit.movers()[mover.index()].by == MovedBy::World {
                            state = self.circuit.put(&state, mover, condition.state == StateWord::Operated);
                            still &= self.settle(job, &solver, &mut state, &off, &mut fed);
                        }
                    }
                    continue;
                }
            }
            still &= self.settle(job, &solver, &mut state, &off, &mut fed);
        }
        (state, off, still)
    }

    /// Lets coils and driven entries follow, at most a hundred changes.
    fn settle(
        &self,
        job: &Job,
        solver: &Solver,
        state: &mut State,
        off: &[PartId],
        fed: &mut BTreeSet<MoverId>,
    ) -> bool {
        for _ in 0..100 {
            let now = state.clone();
            let operated = |id: PartId| self.circuit.mover_of(id).is_some_and(|m| now.operated(m));
            let solution = solver.solve(&Ask { off, ..Ask::new(&operated) });
            let next = (0..).map(MoverId).zip(self.circuit.movers()).find_map(|(id, mover)| {
                let is = now.operated(id);
                match mover.by {
                    MovedBy::World => None,
                    MovedBy::Input(input) => (solution.active(input) != is).then_some((id, !is)),
                    MovedBy::Coil(coil) => {
                        let Kind::Coil(coil) = &job.part(coil).kind else { return None };
                        let got = solution.between(coil.plus, coil.minus).map_or(0.0, |v| v.0);
                        let got = if coil.polarised { got } else { got.abs() };
                        let rated = coil.volts;
                        let was = if mover.latching { fed.contains(&id) } else { is };
                        let least = match (was, rated) {
                            (true, Some(rated)) => rated.nominal.0 / 10.0,
                            (false, Some(rated)) => rated.range.low.0,
                            (_, None) => 1.0,
                        };
                        let on = got >= least;
                        if on == was {
                            return None;
                        }
                        if mover.latching {
                            if on {
                                fed.insert(id)
                            } else {
                                fed.remove(&id)
                            };
                            return Some((id, if on { !is } else { is }));
                        }
                        Some((id, on))
                    }
                }
            });
            match next {
                Some((mover, operated)) => *state = self.circuit.put(state, mover, operated),
                None => return true,
            }
        }
        false
    }

    fn overloaded(&self, job: &Job, state: &State, off: &[PartId]) -> Option<PartId> {
        let solver = Solver::of(job);
        let operated = |id: PartId| self.circuit.mover_of(id).is_some_and(|m| state.operated(m));
        let solution = solver.solve(&Ask { off, ..Ask::new(&operated) });
        let amps = |id: PartId| solution.part_amps(id).map_or(0.0, |a| a.0);
        let fuse = |(id, part): &(PartId, &Part)| match &part.kind {
            Kind::Fuse(fuse) => {
                fuse.amps.map(|rating| amps(*id).abs() / rating.0).filter(|share| *share > 2.1)
            }
            _ => None,
        };
        let source = |(id, part): &(PartId, &Part)| match &part.kind {
            Kind::Source(source) => {
                let own = match source.amps {
                    Some(rating) => amps(*id) / rating.0 / 1.5,
                    None => source.volts.map_or(0.0, |volts| amps(*id) / (volts.0 / 0.5)),
                };
                let fused = source.fused.map_or(0.0, |rating| amps(*id) / rating.0 / 2.1);
                Some(own.max(fused)).filter(|share| *share > 1.0)
            }
            _ => None,
        };
        let most = |shares: Vec<(f64, PartId)>| {
            shares.into_iter().reduce(|a, b| if b.0 > a.0 { b } else { a }).map(|(_, id)| id)
        };
        let fuses = job.part_ids().filter_map(|p| Some((fuse(&p)?, p.0))).collect();
        let sources = job.part_ids().filter_map(|p| Some((source(&p)?, p.0))).collect();
        let contradiction = solution.troubles().find_map(|trouble| match trouble {
            Trouble::Contradiction(all) => all.first().copied(),
            _ => None,
        });
        most(fuses).or(contradiction).or(most(sources))
    }

    /// What is seen: `K1` → `dead`.
    fn seen(&self, stood: &Stood) -> BTreeMap<String, String> {
        let solver = Solver::of(&stood.job);
        let operated = |id: PartId| self.circuit.mover_of(id).is_some_and(|m| stood.state.operated(m));
        let ask = Ask { off: &stood.off, ..Ask::new(&operated) };
        let solution = solver.solve(&ask);
        let mut seen = BTreeMap::new();
        for (id, part) in stood.job.part_ids().filter(|(_, part)| !part.existing && part.name != "fault") {
            let ohms = |a: TerminalId, b: TerminalId| solver.ohms(a, b, &Ask::new(&operated)).map(|o| o.0);
            let word = match &part.kind {
                Kind::Load(load) => {
                    let ac = solver.parts_around(load.plus).iter().any(|id| {
                        matches!(&stood.job.part(*id).kind, Kind::Source(s) if s.current == netlist::Current::Ac)
                    });
                    let got = solution.between(load.plus, load.minus).map_or(0.0, |v| v.0);
                    let got = if ac { got.abs() } else { got };
                    let Some(rated) = load.volts else { continue };
                    let (low, high) = (rated.range.low.0 * 0.98, rated.range.high.0 * 1.02);
                    match got {
                        got if got.abs() < (rated.nominal.0 / 2.0).min(low) => "dead",
                        got if got < 0.0 && load.polarised => "dead",
                        got if got < 0.0 => "reversed",
                        got if got < low => "weak",
                        got if got > high => "overfed",
                        _ => "powered",
                    }
                }
                Kind::Input(_) => {
                    if solution.active(id) {
                        "active"
                    } else {
                        "not active"
                    }
                }
                Kind::DryInput(dry) => {
                    let closed = ohms(dry.between[0], dry.between[1]).is_some_and(|ohms| ohms <= 1000.0);
                    if closed { "closed" } else { "open" }
                }
                Kind::Supervised(watched) => {
                    let ohms = ohms(watched.at, watched.common);
                    let shows = |value: Option<LoopValue>| match (value, ohms) {
                        (Some(LoopValue::Open), None) => true,
                        (Some(LoopValue::Shorted), Some(ohms)) => ohms < 100.0,
                        (Some(LoopValue::Ohms(o)), Some(ohms)) => {
                            (ohms / o.0 - 1.0).abs() <= watched.within.0
                        }
                        _ => false,
                    };
                    if shows(watched.rest) {
                        "as at rest"
                    } else if shows(watched.alarm) {
                        "in alarm"
                    } else if shows(watched.tamper) {
                        "in tamper"
                    } else {
                        "at a value that is none of its own"
                    }
                }
                _ => continue,
            };
            seen.insert(name(&stood.job, id), word.to_owned());
        }
        for id in &stood.tripped {
            let verb = match &self.job.part(*id).kind {
                Kind::Fuse(_) => "blows",
                Kind::Source(source) if source.battery && source.fused.is_none() => "is shorted and may burn",
                _ => "gives up",
            };
            seen.insert(format!("{}!", name(self.job, *id)), verb.to_owned());
        }
        if !stood.still {
            seen.insert("relays".to_owned(), "chatter".to_owned());
        }
        seen
    }

    fn volts(&self, stood: &Stood, a: TerminalId, b: TerminalId) -> f64 {
        let solver = Solver::of(&stood.job);
        let operated = |id: PartId| self.circuit.mover_of(id).is_some_and(|m| stood.state.operated(m));
        solver.solve(&Ask { off: &stood.off, ..Ask::new(&operated) }).between(a, b).map_or(0.0, |v| v.0)
    }
}

/// The name by which the chart calls a part.
fn name(job: &Job, id: PartId) -> String {
    let part = job.part(id);
    let device = job.device(part.device);
    let kind = std::mem::discriminant(&part.kind);
    let plain = matches!(part.kind, Kind::Source(_) | Kind::Load(_) | Kind::Coil(_) | Kind::Contact(_));
    let alone = device
        .parts
        .iter()
        .map(PartId)
        .filter(|other| *other != id)
        .all(|other| plain && std::mem::discriminant(&job.part(other).kind) != kind);
    if alone { device.name.to_string() } else { format!("{}.{}", device.name, part.name) }
}

type Effects = Vec<BTreeMap<String, String>>;

/// What differs from the sound job, condition by condition: (part, word, condition).
fn differs(sound: &Effects, now: &Effects) -> BTreeSet<(String, String, usize)> {
    let mut all = BTreeSet::new();
    for (n, (sound, now)) in sound.iter().zip(now).enumerate() {
        for (part, word) in now {
            if sound.get(part) != Some(word) {
                all.insert((part.clone(), word.clone(), n));
            }
        }
    }
    all
}

/// The same read out of the words of a complaint. What is said of most conditions at once may be right in some of them.
fn complained(complaint: &str, conditions: &[String], sound: &Effects) -> BTreeSet<(String, String, usize)> {
    const WORDS: [&str; 20] = [
        "dead",
        "weak",
        "powered",
        "overfed",
        "reversed",
        "not active",
        "active",
        "open",
        "closed",
        "as at rest",
        "in alarm",
        "in tamper",
        "at a value that is none of its own",
        "blows",
        "gives up",
        "is shorted and may burn",
        "blow",
        "give up",
        "are shorted and may burn",
        "chatter",
    ];
    let mut all = BTreeSet::new();
    if complaint.starts_with("nothing is seen") {
        return all;
    }
    for clause in complaint.split("; ") {
        let found = WORDS.iter().filter_map(|word| {
            let at = clause.find(&format!(" {word} "))?;
            Some((at, *word))
        });
        // The first of them, and of those that begin there the longest.
        let (at, word) = found.min_by_key(|(at, word)| (*at, usize::MAX - word.len())).expect(clause);
        let when = &clause[at + word.len() + 2..];
        let word = match word {
            "blow" => "blows",
            "give up" => "gives up",
            "are shorted and may burn" => "is shorted and may burn",
            one => one,
        };
        let named = |words: &str| -> Vec<usize> {
            let number = |one| conditions.iter().position(|known| known == one).expect(one);
            words.split(", or ").map(number).collect()
        };
        let conditions: Vec<usize> = match (when, when.strip_prefix("always except ")) {
            ("always", _) => (0..conditions.len()).collect(),
            (_, Some(others)) => {
                let others = named(others);
                (0..conditions.len()).filter(|n| !others.contains(n)).collect()
            }
            _ => named(when),
        };
        for part in clause[..at].split(", ") {
            let trips = ["blows", "gives up", "is shorted and may burn"].contains(&word);
            let part = if trips { format!("{part}!") } else { part.to_owned() };
            let wrong = conditions.iter().filter(|n| sound[**n].get(&part).is_none_or(|was| was != word));
            all.extend(wrong.map(|n| (part.clone(), word.to_owned(), *n)));
        }
    }
    all
}

/// Follows the readings of a group by what is measured, to the faults that are left.
fn follow(chart: &Chart, group: usize, measure: &dyn Fn(usize, TerminalId, TerminalId) -> f64) -> Vec<Fault> {
    let group = &chart.groups[group];
    let mut left: Vec<usize> = (0..group.faults.len()).collect();
    let mut next = (!group.readings.is_empty()).then_some(0);
    while let Some(n) = next {
        let reading = &group.readings[n];
        let Probe::Volts(a, b) = reading.probe else { panic!("{reading:?}") };
        let got = measure(reading.condition, a, b);
        let Some(band) = reading.bands.iter().find(|band| (band.low..=band.high).contains(&got)) else {
            return Vec::new();
        };
        left.clone_from(&band.faults);
        next = band.next;
    }
    left.into_iter().map(|n| group.faults[n]).collect()
}

fn held(path: &str) {
    let job = file(path);
    let circuit = Circuit::of(&job);
    let scene = Scene::of(&job, &circuit);
    let chart = faults::chart(&job, &circuit);
    // The conditions in the chart's own order: rest, then each line that brings a new one.
    let own = Own::new(&job);
    let mut lines: Vec<Condition> = vec![(None, Vec::new())];
    let mut known = vec![{
        let s = own.put(&job, (None, &[]));
        (s.0, s.1)
    }];
    for line in &job.cause_and_effect {
        let s = own.put(&job, (Some(line), &[]));
        if !known.contains(&(s.0.clone(), s.1.clone())) {
            known.push((s.0, s.1));
            lines.push((Some(line), Vec::new()));
        }
    }
    // Where a charger and a battery feed together, the battery alone too.
    let source = |charges: bool| {
        let is = move |part: &Part| matches!(&part.kind, Kind::Source(s) if s.charges == charges && (charges || s.battery));
        job.part_ids().filter(move |(_, part)| is(part)).map(|(id, _)| id).collect::<Vec<_>>()
    };
    let (chargers, batteries) = (source(true), source(false));
    if !chargers.is_empty() && !batteries.is_empty() {
        let s = own.put(&job, (None, &chargers));
        if !known.contains(&(s.0, s.1)) {
            lines.push((None, chargers));
        }
    }
    assert_eq!(lines.len(), scene.conditions.len(), "{path}: {:?}", scene.conditions);
    let effects = |own: &Own| -> Effects { lines.iter().map(|line| own.seen(&own.under(line))).collect() };
    let sound = effects(&own);
    let listed: Vec<Fault> = chart.groups.iter().flat_map(|group| group.faults.clone()).collect();
    assert_eq!(listed.len(), faults::faults(&job, &circuit).len(), "{path}: every fault is in one group");
    let (mut named, mut found, mut wrong) = (0, 0, Vec::new());
    for (n, group) in chart.groups.iter().enumerate() {
        assert_eq!(group.causes.len(), group.faults.len());
        for fault in &group.faults {
            let faulty = injected(&job, *fault);
            let own = Own::new(&faulty);
            let really = differs(&sound, &effects(&own));
            let says = complained(&group.complaint, &scene.conditions, &sound);
            if really != says {
                wrong.push(format!("{}\n  says {says:?}\n  is {really:?}", fault.words(&job)));
            }
            let first = chart
                .groups
                .iter()
                .position(|g| complained(&g.complaint, &scene.conditions, &sound) == really);
            named += usize::from(first == Some(n));
            let measure = |condition: usize, a, b| own.volts(&own.under(&lines[condition]), a, b);
            found += usize::from(first.is_some_and(|first| follow(&chart, first, &measure).contains(fault)));
        }
    }
    let all = listed.len();
    eprintln!(
        "{path}: {all} faults, {} groups, {named} named in their first group, {found} found by its readings",
        chart.groups.len()
    );
    assert!(wrong.is_empty(), "{path}:\n{}", wrong.join("\n"));
    assert!(named * 100 >= all * 95, "{path}: {named} of {all}");
    assert!(found * 100 >= all * 95, "{path}: {found} of {all} found by the readings");
}

#[test]
fn roof_vent() {
    held("examples/roof-vent.yaml");
}

#[test]
fn door_strike() {
    held("examples/door-strike.yaml");
}

#[test]
fn alarm_loop() {
    held("examples/alarm-loop.yaml");
    held("tests/jobs/charger-battery.yaml");
}

#[test]
fn two_supplies() {
    held("examples/two-supplies.yaml");
}

#[test]
fn three_wire_sensor() {
    held("examples/three-wire-sensor.yaml");
}

#[test]
fn screened_run() {
    held("examples/screened-run.yaml");
}

#[test]
fn marshalling_box() {
    held("examples/marshalling-box.yaml");
}

#[test]
fn relays_and_reversing() {
    held("tests/jobs/self-holding-pump.yaml");
    held("tests/jobs/reversing-motor.yaml");
}

/// By hand: with the fuse of the roof vent controller out the module is dead, its input cannot be active, and F1:1 has
/// 12 V while F1:2 has none.
#[test]
fn an_open_fuse_is_found_between_its_sides() {
    let job = file("examples/roof-vent.yaml");
    let chart = faults::chart(&job, &Circuit::of(&job));
    let group =
        chart.groups.iter().find(|group| group.causes.iter().any(|cause| cause == "fuse F1 open")).unwrap();
    assert!(group.complaint.contains("K1 dead always"), "{}", group.complaint);
    assert!(group.causes.iter().any(|cause| cause == "G1 gives nothing"), "{:?}", group.causes);
    let band = group
        .readings
        .iter()
        .flat_map(|reading| &reading.bands)
        .find(|band| group.found(band) == "fuse F1 open");
    assert!(band.is_some(), "{group:#?}");
}

#[test]
fn the_chart_as_json() {
    let job = file("examples/door-strike.yaml");
    let text = output::chart_json(&faults::chart(&job, &Circuit::of(&job)));
    let value: serde_json::Value = serde_json::from_str(&text).unwrap();
    let groups = value["groups"].as_array().unwrap();
    assert!(groups.len() > 3);
    for group in groups {
        assert!(group["complaint"].is_string());
        assert!(group["causes"].as_array().unwrap().iter().all(serde_json::Value::is_string));
        for reading in group["readings"].as_array().unwrap() {
            assert!(reading["at"].is_string());
            let [low, expect, high] = ["low", "expect", "high"].map(|key| reading[key].as_f64().unwrap());
            assert!(low < expect && expect < high);
        }
    }
}

/// On paper a complaint is told once, and again at the head of every sheet on which its bands go on.
#[test]
fn the_chart_on_paper() {
    let job = file("examples/alarm-loop.yaml");
    let circuit = Circuit::of(&job);
    let table = faults::chart_table(&faults::chart(&job, &circuit));
    let titled = drawing::Titled { kind: "Fault-finding chart", table: &table };
    let sheets = drawing::table_sheets(&job, &circuit, &[], &[titled]);
    assert!(sheets.len() > 1);
    let mut told = 0;
    for sheet in &sheets {
        let texts: Vec<&Text> = sheet
            .content
            .iter()
            .filter(|group| group.role == Role::Table("document"))
            .flat_map(|group| group.shapes())
            .filter_map(|shape| if let Shape::Text(text) = shape { Some(text) } else { None })
            .collect();
        let head = texts.iter().find(|text| text.text == "Complaint").unwrap();
        let column: Vec<f64> =
            texts.iter().filter(|t| t.at.x == head.at.x && !t.bold).map(|text| text.at.y).collect();
        let first = texts.iter().filter(|t| !t.bold).map(|t| t.at.y).fold(f64::INFINITY, f64::min);
        assert!(column.contains(&first), "{} begins without a complaint", sheet.title);
        told += texts.iter().filter(|t| t.text == "Complaint" || column.contains(&t.at.y)).count();
    }
    let cells: usize = table.rows.iter().map(Vec::len).sum();
    assert!(told < cells / 2, "{told} of {cells}");
}

/// A row that no sheet holds goes on on the next, where it says again what it is about.
#[test]
fn a_row_higher_than_a_sheet_goes_on() {
    const COLUMNS: &[Column] =
        &[Column::text("complaint", "Complaint").said_once(1), Column::text("cause", "Cause")];
    let cells = |words: &str| vec![Cell::Text("lamp dark".to_owned()), Cell::Text(words.to_owned())];
    let many = "W1 red open; ".repeat(700);
    let table = Table { columns: COLUMNS, rows: vec![cells("short"), cells(&many), cells("short")] };
    let job = file("examples/door-strike.yaml");
    let titled = drawing::Titled { kind: "Fault-finding chart", table: &table };
    let sheets = drawing::table_sheets(&job, &Circuit::of(&job), &[], &[titled]);
    assert!(sheets.len() > 1);
    let mut words = 0;
    for sheet in &sheets {
        let texts = |role: Role| -> Vec<&Text> {
            let groups = sheet.content.iter().filter(move |group| group.role == role);
            let shapes = groups.flat_map(|group| group.shapes());
            shapes.filter_map(|shape| if let Shape::Text(text) = shape { Some(text) } else { None }).collect()
        };
        let foot = texts(Role::Notes).iter().map(|text| text.at.y).fold(f64::INFINITY, f64::min);
        let body = texts(Role::Table("document"));
        assert!(body.iter().all(|text| text.at.y < foot - 3.0), "{}", sheet.title);
        assert_eq!(body.iter().filter(|text| text.text == "lamp dark").count(), 1, "{}", sheet.title);
        words += body.iter().map(|text| text.text.matches("open").count()).sum::<usize>();
    }
    assert_eq!(words, 700);
}

/// A lamp on AC is fed whichever way round it is joined, and is missed when it is not.
#[test]
fn a_lamp_on_ac_has_no_wrong_way_round() {
    let job = read(
        "job: {title: Stair light}\n\
         devices:\n\
         \x20 T1: {type: ac-supply, volts: 24 V, amps: 2 A}\n\
         \x20 S1: {type: toggle-switch}\n\
         \x20 E1: {type: lamp, volts: 24 V, watts: 10}\n\
         \x20 E2: {type: lamp, volts: 24 V, watts: 10}\n\
         cables:\n\
         \x20 W1: {type: single-1.5, length: 3 m, cores: {brown: [T1.A, S1.13]}}\n\
         \x20 W2: {type: twin-1.5, length: 5 m, cores: {red: [S1.14, E1.1], black: [T1.B, E1.2]}}\n\
         \x20 W3: {type: twin-1.5, length: 5 m, cores: {red: [S1.14, E2.2], black: [T1.B, E2.1]}}\n\
         cause_and_effect:\n\
         \x20 - {when: S1 operated, then: [E1 powered, E2 powered]}\n",
    );
    let chart = faults::chart(&job, &Circuit::of(&job));
    let complaint = |cause: &str| {
        let group = chart.groups.iter().find(|group| group.causes.iter().any(|known| known == cause));
        group.unwrap().complaint.clone()
    };
    assert_eq!(complaint("W1 brown open"), "E1, E2 dead with S1 operated");
    assert_eq!(complaint("W2 red open"), "E1 dead with S1 operated");
    assert_eq!(complaint("W3 red open"), "E2 dead with S1 operated");
}

/// A battery does not say how many amps it gives, and is shorted all the same.
#[test]
fn a_shorted_battery_is_told() {
    let job = file("examples/alarm-loop.yaml");
    let chart = faults::chart(&job, &Circuit::of(&job));
    let group = chart
        .groups
        .iter()
        .find(|group| group.causes.iter().any(|cause| cause == "G2:V+ and G2:V- touch"))
        .unwrap();
    assert!(group.complaint.contains("G2 is shorted and may burn always"), "{}", group.complaint);
}

/// A reading that a fault explains is explained by it.
#[test]
fn readings_are_explained() {
    let job = file("examples/roof-vent.yaml");
    let circuit = Circuit::of(&job);
    let tests = bellwire::documents::tests(&job, &circuit, &[]);
    let worst = tests
        .iter()
        .find(|t| t.at == "K1:+V to K1:0V" && t.kind == bellwire::documents::Kind::WorstCase)
        .unwrap();
    let (pose, probe) = worst.probe.clone().unwrap();
    let found = faults::explain(&job, &circuit, &[(pose, probe, 0.0)]);
    let words: Vec<String> = found.iter().map(|(fault, _)| fault.words(&job)).collect();
    assert!(
        words.contains(&"fuse F1 open".to_owned()) && words.contains(&"W4 red open".to_owned()),
        "{words:?}"
    );
    assert!(!words.contains(&"W3 red open".to_owned()), "{words:?}");
}

/// A charger keeps a battery: whichever carries the loads, a sound job reads as right, and the battery is condemned only by
/// a reading with the charger off.
#[test]
fn a_sound_battery_on_its_charger_is_not_condemned() {
    let job = file("tests/jobs/charger-battery.yaml");
    let circuit = Circuit::of(&job);
    let chart = faults::chart(&job, &circuit);
    let [charger, battery] = ["G1", "G2"].map(|name| {
        let of = |(_, part): &(PartId, &Part)| *job.device(part.device).name == *name;
        job.part_ids().find(of).unwrap().0
    });
    for reading in chart.groups.iter().flat_map(|group| &group.readings) {
        if reading.right[1] > 1.0 {
            let right = [12.0, 13.8];
            // The lamp's core loses a little.
            for (is, right) in reading.right.iter().zip(right) {
                assert!((is - right).abs() < 0.2, "{reading:#?}");
            }
            assert!(reading.low < right[0] && reading.high > right[1], "{reading:#?}");
        }
    }
    let group = |fault| chart.groups.iter().find(|group| group.faults.contains(&fault)).unwrap();
    let lost = group(Fault::SourceLost(battery));
    assert!(lost.complaint.contains("with G1 off"), "{}", lost.complaint);
    assert_ne!(group(Fault::SourceLost(charger)), lost);
    let condemned = |band: &&faults::Band| lost.found(band).contains("G2 gives nothing");
    for reading in &lost.readings {
        for band in reading.bands.iter().filter(condemned) {
            assert!(!(band.low < 12.7 && 12.7 < band.high), "{reading:#?}");
        }
    }
    let table = faults::chart_table(&chart);
    assert!(table.rows.iter().flatten().any(|cell| *cell == Cell::Text("12 to 13.8".to_owned())));
}

/// Two supplies that go together give up; one gives up.
#[test]
fn what_several_do_is_said_of_several() {
    let text = "job: {title: Two feeds}\n\
        devices:\n\
        \x20 G1: {type: charger, volts: 13.8 V, amps: 1 A}\n\
        \x20 G2: {type: dc-supply, volts: 12 V, amps: 1 A}\n\
        \x20 E1: {type: siren, volts: 12 V, amps: 0.1 A}\n\
        \x20 E2: {type: siren, volts: 12 V, amps: 0.1 A}\n\
        cables:\n\
        \x20 W1: {type: alarm-4x0.22, length: 2 m, cores: {red: [G1.V+, E1.V+], black: [G1.V-, E1.V-], \
        blue: [G2.V+, E2.V+], white: [G2.V-, E2.V-]}}\n";
    let job = read(text);
    let chart = faults::chart(&job, &Circuit::of(&job));
    for group in &chart.groups {
        for clause in group.complaint.split("; ") {
            let several = clause.split(" give").next().unwrap().contains(", ");
            assert!(!clause.contains(" gives up ") || !several, "{clause}");
            assert!(!clause.contains(" give up ") || several, "{clause}");
        }
    }
    let said = |words: &str| chart.groups.iter().any(|group| group.complaint.contains(words));
    assert!(said("G1 gives up"));
}

const LEVEL: &str = include_str!("loop.yaml");

/// A core of a 4–20 mA loop that is open is seen at the input, which then gets less than 4 mA.
#[test]
fn a_broken_current_loop_is_seen() {
    let job = read(LEVEL);
    let chart = faults::chart(&job, &Circuit::of(&job));
    for (id, core) in job.core_ids() {
        let group = chart.groups.iter().find(|group| group.faults.contains(&Fault::Open(id))).unwrap();
        assert!(group.complaint.contains("A1 below 4 mA"), "{}: {}", core.name, group.complaint);
    }
    // The volts over the input are 1 to 5 V: no reading that tells faults apart.
    let all = chart.groups.iter().flat_map(|group| &group.readings);
    for reading in all {
        let Probe::Volts(at, _) = reading.probe else { panic!("{reading:?}") };
        assert_ne!(job.label(at), "A1:I+");
    }
}
