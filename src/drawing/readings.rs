//! The readings that a meter shall show at each supply, load and input: at rest, and where that is dead or shall change,
//! in a state that brings the other.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use crate::circuit::solve::{Ask, Solution, Solver};
use crate::circuit::{Circuit, State};
use crate::figure::{Readings, listed};
use crate::netlist::{Core, Current, DeviceId, Job, Kind, PartId, TerminalId};

/// Readings nearer to each other than this, in volts, are the same to whoever looks at a meter. Our own choice.
const ALIKE: f64 = 0.5;

/// Conductor systems with more parts than this get no readings: the sheet would have to be solved too often.
const MOST: usize = 400;

/// The readings of a job, a line each, by device.
pub fn readings(job: &Job, circuit: &Circuit) -> Readings {
    let solver = Solver::of(job);
    let mut meter = Meter { job, circuit, solver: &solver, rest: circuit.at_rest(), seen: BTreeMap::new() };
    let mut of: BTreeMap<DeviceId, Vec<Line>> = BTreeMap::new();
    for (id, part) in job.part_ids() {
        let line = match &part.kind {
            Kind::Source(source) => meter.line([source.plus, source.minus], &[], false),
            Kind::Load(load) => meter.fed(id, [load.plus, load.minus]),
            Kind::Coil(coil) => meter.fed(id, [coil.plus, coil.minus]),
            Kind::Input(input) if is_wired(job, input.at) => meter.input(id, [input.at, input.common]),
            _ => None,
        };
        if let Some(line) = line {
            let lines = of.entry(part.device).or_default();
            match lines.iter_mut().find(|known| known.is_like(&line)) {
                Some(known) => known.take_in(line),
                None => lines.push(line),
            }
        }
    }
    Readings(of.into_iter().map(|(id, lines)| (id, lines.iter().map(|l| l.words(job)).collect())).collect())
}

/// What stands in one line.
struct Line {
    at: Vec<TerminalId>,
    against: TerminalId,
    /// `0 V idle`; nothing where that is not known.
    idle: Option<String>,
    /// The volts in another state, and when that is.
    other: Option<(String, When)>,
}

/// When a reading is another one than that at rest.
#[derive(PartialEq, Eq)]
enum When {
    /// With these operated, each alone for its own terminal.
    Operated(Vec<String>),
    /// In a state, in words.
    State(String),
}

impl Line {
    /// Whether the terminals of two lines read the same against one other: in the same states, or each when something of
    /// its own is operated.
    fn is_like(&self, line: &Self) -> bool {
        let each_its_own = match (&self.other, &line.other) {
            (Some((volts, When::Operated(names))), Some((other, When::Operated(more)))) => {
                volts == other
                    && names.len() == self.at.len()
                    && !more.iter().any(|name| names.contains(name))
            }
            _ => false,
        };
        let when = each_its_own || self.other == line.other;
        when && self.against == line.against && self.idle == line.idle
    }

    fn take_in(&mut self, line: Self) {
        if let (Some((_, When::Operated(names))), Some((_, When::Operated(more)))) =
            (&mut self.other, line.other)
        {
            add(names, more);
        }
        add(&mut self.at, line.at);
    }

    fn words(&self, job: &Job) -> String {
        let name = |t: &TerminalId| job.terminal(*t).name.as_str();
        let at: Vec<&str> = self.at.iter().map(name).collect();
        let reads = if at.len() > 1 { "read" } else { "reads" };
        let other = self.other.iter().map(|(volts, when)| match when {
            When::Operated(names) => {
                let names: Vec<&str> = names.iter().map(String::as_str).collect();
                let turn = if names.len() > 1 { " in turn" } else { "" };
                format!("{volts} with {} operated{turn}", listed(&names))
            }
            When::State(words) => format!("{volts} {words}"),
        });
        let volts: Vec<String> = self.idle.iter().cloned().chain(other).collect();
        format!("{} to {} {reads} {}", listed(&at), name(&self.against), volts.join(", "))
    }
}

/// Adds what is not yet there.
fn add<T: PartialEq>(known: &mut Vec<T>, more: Vec<T>) {
    for one in more {
        if !known.contains(&one) {
            known.push(one);
        }
    }
}

struct Meter<'a> {
    job: &'a Job,
    circuit: &'a Circuit,
    solver: &'a Solver<'a>,
    rest: State,
    /// What was solved: by system, turn and state; `None` where a source is shorted or no solution was found.
    seen: BTreeMap<(usize, usize, State), Option<Solution<'a>>>,
}

impl Meter<'_> {
    /// A load or coil: at rest, and fed, by the nearest state to rest, where it is dead at rest. Ways through other loads
    /// count where it has no others, as in a string.
    fn fed(&mut self, id: PartId, ends: [TerminalId; 2]) -> Option<Line> {
        let all = &self.circuit.feeds(id).ways;
        let hard = all.iter().any(|feed| feed.hard);
        let ways: Vec<_> = all.iter().filter(|feed| feed.hard == hard).collect();
        let changes = !ways.is_empty() && ways.iter().all(|feed| !feed.needs.is_empty());
        let states: Vec<State> =
            ways.iter().filter_map(|feed| self.circuit.sound(&feed.needs, ends[0]).state()).collect();
        let fed = states.iter().min_by_key(|state| state.moved().len()).cloned();
        self.line(ends, fed.as_slice(), changes)
    }

    /// An input: at rest, and as it is when it changes.
    fn input(&mut self, id: PartId, ends: [TerminalId; 2]) -> Option<Line> {
        let signal = self.circuit.signal(id)?;
        let ways = || signal.active.iter().chain(&signal.inactive);
        let changes = ways().any(|way| !way.needs.is_empty());
        let states: Vec<State> =
            ways().filter_map(|way| self.circuit.sound(&way.needs, ends[0]).state()).collect();
        self.line(ends, &states, changes)
    }

    /// The reading at rest, and that of the first other state that differs from it. `changes` says that the circuit
    /// can alter it, even where the other reading cannot be told.
    fn line(&mut self, [plus, minus]: [TerminalId; 2], others: &[State], changes: bool) -> Option<Line> {
        let rest = self.rest.clone();
        let at_rest = self.volts(&rest, plus, minus);
        let other = others.iter().find_map(|state| {
            let other = self.volts(state, plus, minus)?;
            let differs = at_rest.as_ref().is_none_or(|volts| other.differs(volts));
            differs.then(|| {
                let when = match self.circuit.operated_alone(state) {
                    Some(name) => When::Operated(vec![name.to_owned()]),
                    None => When::State(self.circuit.words(state)),
                };
                (self.words(&other), when)
            })
        });
        let idle = at_rest.map(|volts| {
            let words = self.words(&volts);
            if changes || other.is_some() { format!("{words} idle") } else { words }
        });
        (idle.is_some() || other.is_some()).then(|| Line { at: vec![plus], against: minus, idle, other })
    }

    /// Volts between two terminals in a state; of an AC circuit without sign. `None` where nothing holds them.
    fn volts(&mut self, state: &State, plus: TerminalId, minus: TerminalId) -> Option<Reading> {
        let system = self.solver.system_of(plus);
        let parts = self.solver.parts_around(plus);
        if parts.len() > MOST || system != self.solver.system_of(minus) {
            return None;
        }
        let ac =
            |id: &PartId| matches!(&self.job.part(*id).kind, Kind::Source(s) if s.current == Current::Ac);
        let ac = parts.iter().any(ac);
        let operated = |id: PartId| self.circuit.mover_of(id).is_some_and(|mover| state.operated(mover));
        let ask = Ask::new(&operated);
        let mut reading = Reading(Vec::new());
        for turn in 0..self.solver.turns(plus, &ask) {
            let ask = Ask { turn, ..ask };
            let solved = match self.seen.entry((system, turn, state.clone())) {
                Entry::Occupied(known) => known.into_mut(),
                Entry::Vacant(new) => new.insert(solved(self.circuit, self.solver, plus, state, &ask)),
            };
            let volts = solved.as_ref().and_then(|solved| solved.between(plus, minus));
            if let Some(volts) = volts {
                let volts = if ac { volts.0.abs() } else { volts.0 };
                reading.0.push((volts, self.solver.on_turn(plus, &ask)));
            }
        }
        (!reading.0.is_empty()).then_some(reading)
    }

    /// `11.9 V`, `12 V on G1 or 13.6 V on G2`: as a meter is read.
    fn words(&self, reading: &Reading) -> String {
        let told: Vec<_> = reading.0.iter().map(|(volts, on)| (in_volts(*volts), on.clone())).collect();
        self.solver.by_turn(if reading.is_one() { told.get(..1).unwrap_or(&[]) } else { &told })
    }
}

/// The volts with each of the sources that carry the loads one at a time, and these.
struct Reading(Vec<(f64, Vec<PartId>)>);

impl Reading {
    /// Whether it is the same whichever source carries the loads.
    fn is_one(&self) -> bool {
        self.0
            .first()
            .is_some_and(|(first, _)| self.0.iter().all(|(volts, _)| (volts - first).abs() <= ALIKE))
    }

    fn differs(&self, other: &Self) -> bool {
        let pairs = self.0.iter().zip(&other.0);
        self.0.len() != other.0.len() || pairs.into_iter().any(|((a, _), (b, _))| (a - b).abs() > ALIKE)
    }
}

/// What hangs together with a terminal, solved in a state in which no source of it is shorted.
fn solved<'a>(
    circuit: &Circuit,
    solver: &'a Solver<'a>,
    at: TerminalId,
    state: &State,
    ask: &Ask,
) -> Option<Solution<'a>> {
    let system = solver.system_of(at);
    let mut shorts = circuit.shorts().ways.iter();
    if shorts.any(|way| solver.system_of(way.between[0]) == system && circuit.holds(&way.needs, state)) {
        return None;
    }
    let solution = solver.solve_around(at, ask);
    let trouble = solution.troubles().next().is_some();
    (!trouble).then_some(solution)
}

/// `11.9 V`.
fn in_volts(volts: f64) -> String {
    // Adding 0 turns a rounded -0 into 0.
    format!("{} V", (volts * 10.0).round() / 10.0 + 0.0)
}

/// Whether a core or link ends on a terminal.
fn is_wired(job: &Job, terminal: TerminalId) -> bool {
    let core = |core: &Core| core.ends.iter().any(|end| end.to.terminal() == Some(terminal));
    job.cores.iter().any(core) || job.links.iter().any(|link| link.ends.contains(&terminal))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::netlist::read_text;

    fn told(devices: &str, cables: &str) -> Vec<String> {
        let text = format!("job: {{title: x}}\ndevices:\n{devices}\ncables:\n{cables}\n");
        let job = read_text("x.yaml", &text).job.unwrap();
        let readings = readings(&job, &Circuit::of(&job));
        let lines = |(id, device): (DeviceId, &crate::netlist::Device)| {
            let lines = readings.0.get(&id).cloned().unwrap_or_default();
            lines.into_iter().map(|line| format!("{}: {line}", device.name)).collect::<Vec<_>>()
        };
        job.device_ids().flat_map(lines).collect()
    }

    const LAMP: &str = "  G1: {type: dc-supply, volts: 12 V, amps: 1 A}
  S1: {type: push-button-no}
  E1: {type: lamp, volts: 12 V, amps: 0.4 A}";

    #[test]
    fn a_lamp_behind_a_button_is_dead_at_rest() {
        // 40 m of 0.75 mm² there and back at 26 Ω/km (IEC 60228 class 5) and 0.4 A: 0.8 V are lost.
        let cables = "  W1: {type: single-0.75, length: 1 m, cores: {red: [G1.V+, S1.13]}}
  W2: {type: twin-0.75, length: 40 m, cores: {red: [S1.14, E1.1], black: [G1.V-, E1.2]}}";
        assert_eq!(
            told(LAMP, cables),
            ["G1: V+ to V- reads 12 V", "E1: 1 to 2 reads 0 V idle, 11.2 V with S1 operated"]
        );
    }

    #[test]
    fn inputs_that_read_the_same_each_with_its_own_contact_share_a_line() {
        let devices = "  G1: {type: dc-supply, volts: 24 V, amps: 1 A}
  A1: {type: card}
  S1: {type: push-button-no}
  S2: {type: push-button-no}
  S3: {type: push-button-nc}";
        let cables =
            "  W1: {type: twin-0.75, length: 1 m, cores: {red: [G1.V+, A1.V+], black: [G1.V-, A1.V-]}}
  W2: {type: twin-0.75, length: 1 m, cores: {red: [A1.P1, S1.13], black: [A1.I1, S1.14]}}
  W3: {type: twin-0.75, length: 1 m, cores: {red: [A1.P2, S2.13], black: [A1.I2, S2.14]}}
  W4: {type: twin-0.75, length: 1 m, cores: {red: [A1.P3, S3.11], black: [A1.I3, S3.12]}}
data_sheets:
  card:
    terminals: [V+, V-, P1, I1, P2, I2, P3, I3]
    loads: {L: {plus: V+, minus: V-, volts: 24 V, amps: 50 mA}}
    bridges: [[V+, P1, P2, P3]]
    inputs: {A: {at: I1, common: V-, active: high}, B: {at: I2, common: V-, active: high}, C: {at: I3, common: V-, active: high}}";
        assert_eq!(
            told(devices, cables)[1..],
            [
                "A1: V+ to V- reads 24 V",
                "A1: I1, I2 to V- read 0 V idle, 24 V with S1, S2 operated in turn",
                "A1: I3 to V- reads 24 V idle",
            ]
        );
        // In a row of three one would not see which contact works two of them.
        let shared =
            cables.replace("A1.I3, S3.12", "A1.I1, A1.I3").replace("red: [A1.P3, S3.11], black", "black");
        assert_eq!(
            told(devices, &shared)[2..],
            [
                "A1: I1, I2 to V- read 0 V idle, 24 V with S1, S2 operated in turn",
                "A1: I3 to V- reads 0 V idle, 24 V with S1 operated",
            ]
        );
    }

    #[test]
    fn lamps_in_series_share_the_volts() {
        let devices = "  G1: {type: dc-supply, volts: 12 V, amps: 1 A}
  S1: {type: push-button-no}
  E1: {type: lamp, volts: 6 V, watts: 3 W}
  E2: {type: lamp, volts: 6 V, watts: 3 W}";
        let cables = "  W1: {type: single-0.75, cores: {red: [G1.V+, S1.13]}}
  W2: {type: single-0.75, cores: {red: [S1.14, E1.1]}}
  W3: {type: single-0.75, cores: {red: [E1.2, E2.1]}}
  W4: {type: single-0.75, cores: {black: [E2.2, G1.V-]}}";
        assert_eq!(
            told(devices, cables)[1..],
            [
                "E1: 1 to 2 reads 0 V idle, 6 V with S1 operated",
                "E2: 1 to 2 reads 0 V idle, 6 V with S1 operated",
            ]
        );
    }

    /// The battery alone, or the charger: whoever measures sees one of the two and is told which.
    #[test]
    fn a_charger_and_its_battery_are_both_told() {
        let devices = "  G1: {type: battery, volts: 12 V, ah: 80}
  G2: {type: charger, volts: 13.6 V, amps: 5 A}
  F1: {type: fuse, amps: 10 A}
  S1: {type: push-button-no}
  E1: {type: lamp, volts: 10..15 V, amps: 0.4 A}";
        let cables = "  W1: {type: single-2.5, length: 0.2 m, cores: {red: [G1.V+, F1.1]}}
  W2: {type: single-2.5, length: 0.2 m, cores: {red: [F1.2, G2.V+]}}
  W3: {type: single-2.5, length: 0.2 m, cores: {black: [G1.V-, G2.V-]}}
  W4: {type: single-2.5, length: 0.2 m, cores: {red: [G2.V+, S1.13]}}
  W5: {type: twin-0.75, length: 1 m, cores: {red: [S1.14, E1.1], black: [G2.V-, E1.2]}}";
        assert_eq!(
            told(devices, cables),
            [
                "G1: V+ to V- reads 12 V on G1 or 13.6 V on G2",
                "G2: V+ to V- reads 12 V on G1 or 13.6 V on G2",
                "E1: 1 to 2 reads 0 V idle, 12 V on G1 or 13.6 V on G2 with S1 operated",
            ]
        );
    }

    #[test]
    fn a_shorted_supply_gets_no_reading() {
        let cables = "  W1: {type: single-0.75, length: 1 m, cores: {red: [G1.V+, G1.V-]}}";
        assert!(told(LAMP, cables).is_empty());
    }
}
