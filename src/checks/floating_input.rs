//! An input can never operate, or hangs in the air.
//!
//! ## On site
//!
//! The button is pressed and nothing happens; or the input chatters by itself, because for a while nothing holds it.
//!
//! ## Why
//!
//! An input operates when it is joined to its active level: an active-low one to 0 V, an active-high one to plus. A dry
//! input operates when a contact closes between its two sides. Where no position of any contact does that, a core is
//! missing or lands elsewhere.
//!
//! ## Example
//!
//! ```yaml
//! cables:
//!   W2: {type: twin-0.5, cores: {red: [K1.IN1, B1.COM], black: [B1.NO, taped]}}   # B1.NO belongs on 0 V
//! ```
//!
//! ## Cure
//!
//! Bring the far side of the contact to the level that the input wants. An input that stays without a core on purpose
//! belongs under `unused:`. An input without a pull of its own needs a resistor, or a contact that always joins it to
//! something.
//!
//! ## Limits
//!
//! A state in which a source is lost counts too: a relay that watches a supply closes its break contact only then. A level
//! that comes by way of a resistor or another load counts as possible, unless the input states its type of IEC
//! 61131-2 and the volts never suffice; and a resistor or load that leads to a pole holds an input without a pull. An
//! input that is not wired and not listed under `unused:` is a note, with `pull: none` a warning. Where a path ends at a
//! device without sections nothing can be said.
//!
//! ## Sources
//!
//! IEC 61131-2 for sinking and sourcing inputs. The rest is common practice, no source.

use std::collections::BTreeSet;

use crate::circuit::solve::{Ask, Mains, Solver};
use crate::circuit::{Circuit, Landings, MoverId, Need, Signal, State, Way};
use crate::diagnostic::Severity;
use crate::netlist::{Active, Input, Job, Kind, PartId, Pull, TerminalId};
use crate::units::Volts;

use super::closing::never_closes;
use super::fed::{closes, common_starves, common_turned, made_active};
use super::loose::on_side;
use super::report::Report;
use super::reversed_polarity::on_turned;
use super::telling;

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let (landings, turned) = (circuit.landings(), report.turned_sources(job, circuit));
    let reversed = report.told_by("reversed-polarity");
    // What hangs on a feed that loads have lost as well is told with these.
    let starved = report.terminals_told_by("open-return").into_iter();
    let dead: BTreeSet<u32> = starved.filter_map(|at| circuit.lost_feed(job, at)).collect();
    for (id, part) in job.part_ids() {
        match &part.kind {
            Kind::Input(input) => {
                let Some(signal) = circuit.signal(id) else { continue };
                let wired = landings.wired(input.at);
                if !wired {
                    idle(job, id, &[input.at], input.pull == Pull::None, report);
                } else if !on_turned(signal, &turned) && circuit.sound(&[], input.at).state().is_some() {
                    let lost = circuit.lost_feed(job, input.at).is_some_and(|lost| dead.contains(&lost));
                    let follows = lost || common_turned(job, circuit, &reversed, part.device, input.common);
                    let look = Look { job, circuit, landings, id, follows };
                    look.input(input, signal, report);
                }
            }
            Kind::DryInput(dry) => {
                let wired = dry.between.map(|side| landings.wired(side));
                if dry.safety && !part.existing && wired != [true, true] {
                    // An empty safety input is a danger of its own.
                } else if wired == [false, false] {
                    idle(job, id, &dry.between, false, report);
                } else if circuit.sound(&[], dry.between[0]).state().is_some() {
                    let look = Look { job, circuit, landings, id, follows: false };
                    look.dry_input(dry.between, report);
                }
            }
            _ => {}
        }
    }
}

struct Look<'a> {
    job: &'a Job,
    circuit: &'a Circuit,
    landings: &'a Landings,
    id: PartId,
    /// Whether what is told of other parts keeps it from working.
    follows: bool,
}

impl Look<'_> {
    fn input(&self, input: &Input, signal: &Signal, report: &mut Report) {
        let Self { job, circuit, id, .. } = *self;
        let works = !signal.complete
            || made_active(job, circuit, signal)
            || (signal.common.is_empty() && works_alone(circuit, input))
            || (signal.soft && self.held_off(input).is_none());
        if works {
            if input.pull == Pull::None
                && !job.part(id).existing
                && let Some(state) = joined_to_nothing(job, circuit, id, input.at, signal)
            {
                let name = job.label(input.at);
                let words = circuit.words(&state);
                let message = format!(
                    "{name} hangs in the air {words}: nothing holds it, and it will operate as it likes"
                );
                let fix =
                    "add a resistor to its inactive level, or use a changeover contact that always joins it";
                self.tell(input.at, message, fix.to_owned(), report).when(words);
            }
            return;
        }
        if self.unknown(&[input.at, input.common], report)
            || common_starves(job, circuit, job.part(id).device, input.common)
        {
            return;
        }
        let (at, common) = (job.label(input.at), job.label(input.common));
        let (message, fix) = if let Some(volts) = self.held_off(input).filter(|_| signal.soft) {
            let level = telling::level(input.active);
            (
                format!(
                    "{at} can never operate: it needs {level}, and what lies on the way there leaves it at {volts} against {common}"
                ),
                format!("take a smaller resistor, or bring the far side of its contact straight to {level}"),
            )
        } else if signal.common.is_empty() {
            (
                format!("{at} can never operate: its common {common} is on no source"),
                format!("bring {common} to the source that {at} is switched from"),
            )
        } else {
            let level = telling::level(input.active);
            let end = self.loose_end(input.at, report);
            let far = end.map_or_else(
                || "the far side of its contact".to_owned(),
                |end| format!("{end}, from which nothing leads on,"),
            );
            // The way may be there, and only what moves its contacts is dead.
            let stays_open = never_closes(job, circuit, id);
            (
                format!("{at} can never operate: it needs {level}, and no contact ever brings it there"),
                stays_open.unwrap_or_else(|| format!("bring {far} to {level}")),
            )
        };
        self.tell(input.at, message, fix, report).follows = self.follows;
    }

    /// The volts nearest to operating that an input ever gets by way of resistors or loads, if none suffice; `None` if some
    /// do, or if that cannot be told: only a stated type says how much an input draws.
    fn held_off(&self, input: &Input) -> Option<Volts> {
        let Self { job, circuit, id, .. } = *self;
        input.class?;
        let (states, complete) = circuit.states(&circuit.movers_around(input.at, id));
        if !complete {
            return None;
        }
        let solver = Solver::of(job);
        let mut nearest: Option<f64> = None;
        for state in states {
            let operated = |part: PartId| circuit.mover_of(part).is_some_and(|mover| state.operated(mover));
            for mains in [Mains::Nominal, Mains::High] {
                let solution = solver.solve_around(input.at, &Ask { mains, ..Ask::new(&operated) });
                if solution.active(id) || solution.troubles().next().is_some() {
                    return None;
                }
                let Some(volts) = solution.between(input.at, input.common) else { continue };
                let nearer = |before: f64| match input.active {
                    Active::Low => volts.0 < before,
                    Active::High | Active::Either => volts.0.abs() > before.abs(),
                };
                if nearest.is_none_or(nearer) {
                    nearest = Some(volts.0);
                }
            }
        }
        nearest.map(|volts| Volts((volts * 10.0).round() / 10.0))
    }

    /// The only loose end on the side of a terminal, which is where what is missing was to land.
    fn loose_end(&self, at: TerminalId, report: &mut Report) -> Option<String> {
        let loose = report.loose_ends(self.job, self.circuit);
        if !report.may_look_for_gap() {
            return None;
        }
        let [end] = on_side(self.circuit, &loose, at)[..] else { return None };
        report.names_gap([end.part]);
        Some(end.label(self.job))
    }

    fn dry_input(&self, between: [TerminalId; 2], report: &mut Report) {
        let Self { job, circuit, .. } = *self;
        if closes(job, circuit, between) || self.unknown(&between, report) {
            return;
        }
        let [a, b] = between.map(|side| job.label(side));
        let open = between.into_iter().find(|side| !self.landings.wired(*side)).unwrap_or(between[0]);
        let message =
            format!("{} can never operate: no contact ever joins {a} and {b}", job.part_label(self.id));
        let fix = match between.map(|side| self.loose_end(side, report)) {
            [Some(one), Some(other)] => format!("join {one} and {other}: nothing leads on from either"),
            [Some(end), None] => format!("join {b} and {end}, from which nothing leads on"),
            [None, Some(end)] => format!("join {a} and {end}, from which nothing leads on"),
            [None, None] => format!("wire a volt-free contact between {a} and {b}"),
        };
        self.tell(open, message, fix, report);
    }

    /// Says that nothing can be said, where a path ends at a device without sections.
    fn unknown(&self, ends: &[TerminalId], report: &mut Report) -> bool {
        let Some(dark) = ends.iter().find_map(|end| self.circuit.dark_end(*end, self.id)) else {
            return false;
        };
        let job = self.job;
        let device = job.part(self.id).device;
        let missing = format!(
            "{} is wired to {}, and what lies behind that is not known",
            job.part_label(self.id),
            job.label(dark)
        );
        report
            .not_checked(missing, "give that device sections that say what lies between its terminals")
            .at(job.device(device).place, "")
            .about(device);
        true
    }

    fn tell<'r>(
        &self,
        at: TerminalId,
        message: String,
        fix: String,
        report: &'r mut Report,
    ) -> &'r mut super::report::Draft {
        report.find(message, fix).at(telling::landing(self.job, self.landings, at), "").about(at).of(self.id)
    }
}

/// An active-low input whose device is fed outside this job still operates when it is joined to its own common.
fn works_alone(circuit: &Circuit, input: &Input) -> bool {
    input.active != Active::High
        && circuit
            .joins(input.at, input.common)
            .ways
            .iter()
            .any(|(needs, _)| circuit.reachable(needs).state().is_some())
}

/// A state in which an input is on no path to any pole, not even by way of a resistor or load.
fn joined_to_nothing(
    job: &Job,
    circuit: &Circuit,
    id: PartId,
    at: TerminalId,
    signal: &Signal,
) -> Option<State> {
    if signal.at.iter().any(|level| level.needs.is_empty()) {
        return None;
    }
    let mut movers: Vec<MoverId> =
        signal.at.iter().flat_map(|level| &level.needs).map(|need| need.mover).collect();
    movers.sort_unstable();
    movers.dedup();
    let (states, _) = circuit.states(&movers);
    let poles: Vec<TerminalId> =
        circuit.soft_poles(at, id).into_iter().filter_map(|pole| telling::pole(job, pole)).collect();
    let resting =
        |state: &State| poles.iter().any(|pole| circuit.path(job, state, Way::Soft, at, *pole).is_some());
    states.into_iter().find(|state| {
        let held = signal.at.iter().any(|level| circuit.holds(&level.needs, state));
        let needs: Vec<Need> =
            movers.iter().map(|m| Need { mover: *m, operated: state.operated(*m) }).collect();
        !held && !resting(state) && circuit.sound(&needs, at).state().is_some()
    })
}

/// Tells of an input that nothing is wired to.
fn idle(job: &Job, id: PartId, terminals: &[TerminalId], floats: bool, report: &mut Report) {
    // A flying lead that nobody spoke of is `unsafe-lead`'s, an input of another job is not asked for.
    let spoken_for = |t: &TerminalId| job.unused(*t).is_some() || job.terminal(*t).lead.is_some();
    let Some(&at) = terminals.first() else { return };
    if job.part(id).existing || terminals.iter().all(spoken_for) {
        return;
    }
    let device = job.part(id).device;
    let name = job.label(at);
    let message = if floats {
        format!("nothing is wired to {name} and nothing holds it: it will operate as it likes")
    } else {
        format!("nothing is wired to the input {name}")
    };
    let severity = if floats { Severity::Warning } else { Severity::Note };
    report
        .find(message, format!("wire it, or list {name} under `unused:` of {}", job.device(device).name))
        .at(job.device(device).place, "")
        .about(at)
        .of(id)
        .severity(severity);
}
