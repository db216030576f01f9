//! Names for conductors: what the terminals that are joined without anything between are called together.

use crate::circuit::{Circuit, NetId};
use crate::netlist::{Current, Form, Job, Kind, PartId, Pole, Source, TerminalId};
use crate::source::small;

/// The names of a job's conductors.
///
/// A conductor on a pole of a source is named after it: `12 V (G1)`, `0 V (G1)`, `24 V AC, A (T1)`; one that a fuse
/// joins to such a conductor after the fuse: `12 V (F1)`. Any other bears the name of its first terminal in the job file
/// that is no splice and no way of a strip: `K1:IN1`. So a name changes only when that terminal, pole or fuse does, and
/// no two conductors share one.
pub struct Conductors<'a> {
    job: &'a Job,
    circuit: &'a Circuit,
    names: Vec<String>,
    poles: Vec<Option<String>>,
}

impl<'a> Conductors<'a> {
    /// Names the conductors of a job.
    #[must_use]
    pub fn of(job: &'a Job, circuit: &'a Circuit) -> Self {
        let mut poles: Vec<Option<Words>> = vec![None; circuit.net_count()];
        for (id, part) in job.part_ids() {
            let Kind::Source(source) = &part.kind else { continue };
            for (terminal, pole) in [(source.plus, Pole::Plus), (source.minus, Pole::Minus)] {
                let slot = poles.get_mut(circuit.net_of(terminal).index());
                if let Some(slot) = slot.filter(|slot| slot.is_none()) {
                    *slot = Some(Words::of(job, id, pole_words(source, pole)));
                }
            }
        }
        behind_fuses(job, circuit, &mut poles);
        let names = (0..circuit.net_count()).map(|net| match poles.get(net).and_then(Option::as_ref) {
            Some(words) => words.name.clone(),
            None => first_terminal(job, circuit, net),
        });
        let names = names.collect();
        let mut poles: Vec<Option<String>> =
            poles.into_iter().map(|pole| pole.map(|words| words.pole)).collect();
        shared(job, circuit, &mut poles);
        Self { job, circuit, names, poles }
    }

    /// The name of the conductor that a terminal is part of.
    #[must_use]
    pub fn name(&self, terminal: TerminalId) -> &str {
        self.names.get(self.net(terminal)).map_or("", String::as_str)
    }

    /// `12 V` or `0 V` when the conductor is on a pole of a source; `12 V (G1) or 13.6 V (G2)` where a charger and what it
    /// charges share it, if but for fuses.
    #[must_use]
    pub fn pole(&self, terminal: TerminalId) -> Option<&str> {
        self.poles.get(self.net(terminal)).and_then(Option::as_deref)
    }

    /// The terminals of the conductor that are on parts: no splices, no ways of strips.
    pub(super) fn on_parts(&self, terminal: TerminalId) -> impl Iterator<Item = TerminalId> {
        let all = self.circuit.terminals_of(self.circuit.net_of(terminal));
        all.iter().copied().filter(|t| on_a_part(self.job, *t))
    }

    fn net(&self, terminal: TerminalId) -> usize {
        self.circuit.net_of(terminal).index()
    }
}

fn on_a_part(job: &Job, terminal: TerminalId) -> bool {
    job.device(job.terminal(terminal).device).form == Form::Box
}

fn first_terminal(job: &Job, circuit: &Circuit, net: usize) -> String {
    let id = NetId(small(net));
    let all = circuit.terminals_of(id);
    let first = all.iter().find(|t| on_a_part(job, **t)).or(all.first());
    first.map(|t| job.label(*t)).unwrap_or_default()
}

fn pole_words(source: &Source, pole: Pole) -> String {
    let volts = source.volts.map(|volts| volts.to_string());
    match (source.current, pole, volts) {
        (Current::Dc, Pole::Plus, Some(volts)) => volts,
        (Current::Dc, Pole::Plus, None) => "plus".to_owned(),
        (Current::Dc, Pole::Minus, _) => "0 V".to_owned(),
        (Current::Ac, pole, volts) => {
            let leg = if pole == Pole::Plus { "A" } else { "B" };
            volts.map_or_else(|| format!("AC, {leg}"), |volts| format!("{volts} AC, {leg}"))
        }
    }
}

/// How a conductor is called that is on a pole.
#[derive(Clone)]
struct Words {
    /// `12 V`.
    pole: String,
    /// `12 V (G1)`.
    name: String,
}

impl Words {
    /// After a source or a fuse; with the entry's name where the device has more than one of the kind.
    fn of(job: &Job, id: PartId, pole: String) -> Self {
        let part = job.part(id);
        let device = job.device(part.device);
        let kind = std::mem::discriminant(&part.kind);
        let alike =
            device.parts.iter().filter(|p| std::mem::discriminant(&job.part(PartId(*p)).kind) == kind);
        let name = if alike.count() > 1 {
            format!("{pole} ({}.{})", device.name, part.name)
        } else {
            format!("{pole} ({})", device.name)
        };
        Self { pole, name }
    }
}

/// Names the plus that a charger and what it charges share after both, where their volts differ.
fn shared(job: &Job, circuit: &Circuit, poles: &mut [Option<String>]) {
    let sources: Vec<(PartId, &Source)> = job
        .part_ids()
        .filter_map(|(id, part)| match &part.kind {
            Kind::Source(source) if source.current == Current::Dc => Some((id, &**source)),
            _ => None,
        })
        .collect();
    for (_, charger) in sources.iter().filter(|(_, source)| source.charges) {
        let on = |(_, source): &&(PartId, &Source)| {
            circuit.joined_past_fuses(source.plus, charger.plus)
                && circuit.joined_past_fuses(source.minus, charger.minus)
        };
        let all: Vec<Words> = sources
            .iter()
            .filter(on)
            .map(|(id, source)| Words::of(job, *id, pole_words(source, Pole::Plus)))
            .collect();
        if all.iter().all(|words| words.pole == all[0].pole) {
            continue;
        }
        let names: Vec<&str> = all.iter().map(|words| words.name.as_str()).collect();
        for (net, pole) in (0..).map(NetId).zip(poles.iter_mut()) {
            let first = circuit.terminals_of(net).first();
            if pole.is_some() && first.is_some_and(|at| circuit.joined_past_fuses(*at, charger.plus)) {
                *pole = Some(names.join(" or "));
            }
        }
    }
}

/// Carries the words of a pole through the fuses on it, but never those of a 0 V.
fn behind_fuses(job: &Job, circuit: &Circuit, poles: &mut [Option<Words>]) {
    let fuses: Vec<(PartId, [usize; 2])> = job
        .part_ids()
        .filter_map(|(id, part)| match &part.kind {
            Kind::Fuse(fuse) => Some((id, fuse.between.map(|t| circuit.net_of(t).index()))),
            _ => None,
        })
        .collect();
    // Fuses in a row are passed one a round.
    for _ in 0..fuses.len() {
        let mut changed = false;
        for (id, [a, b]) in &fuses {
            for (from, to) in [(*a, *b), (*b, *a)] {
                let Some(words) = poles.get(from).cloned().flatten() else { continue };
                if words.pole == "0 V" {
                    continue;
                }
                if let Some(slot) = poles.get_mut(to).filter(|slot| slot.is_none()) {
                    *slot = Some(Words::of(job, *id, words.pole));
                    changed = true;
                }
            }
        }
        if !changed {
            break;
        }
    }
}
