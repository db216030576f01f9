//! The two sides of a 0–10 V line do not fit each other.
//!
//! ## On site
//!
//! The lamps stay at full light, or the drive stands still, whatever the controller says. Two commands on one line
//! fight.
//!
//! ## Why
//!
//! Two kinds of 0–10 V exist. In automation the controller feeds the line; in lighting the driver feeds it and the
//! controller draws it down. Both on one line, or neither, give no signal.
//!
//! ## Example
//!
//! ```yaml
//! data_sheets:
//!   dimmer: {terminals: [1, 2], analogue: {OUT: {plus: 1, minus: 2, kind: 0-10, part: command, drives: self}}}
//!   driver: {terminals: [1, 2], analogue: {IN: {plus: 1, minus: 2, kind: 0-10, part: follow, drives: self}}}
//! ```
//!
//! Both feed the line.
//!
//! ## Cure
//!
//! Use a controller and drivers of one kind, one controller to a line, and no more drivers than it can draw down.
//!
//! ## Limits
//!
//! What the parts on an automation line draw is added up where they say it. Parts are held to be on one line when their
//! plus sides are one conductor; then their minus sides must be joined as well, if only by a closed contact or a fuse. A
//! part whose minus alone is wired is looked at too; where other parts of its device share that terminal, an empty plus of a
//! part that follows is a note. A pole of a source on the plus side is told where it comes by conductors and fuses. A part
//! that does not say what it `drives` is taken to fit.
//!
//! ## Sources
//!
//! IEC 60929, annex on control by direct voltage: the driver feeds the line, the controller draws the current.

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::{Circuit, Landings, NetId};
use crate::diagnostic::Severity;
use crate::netlist::{Analogue, AnalogueKind, AnalogueRole, Job, Kind, Part, TerminalId};
use crate::units::Amps;

use super::fed::common_starves;
use super::report::{Report, listed};
use super::reversed_polarity::exchange;
use super::telling::{landing, leads_out};

/// A part on a line: the entry, and what it says of the signal.
type On<'j> = (&'j Part, &'j Analogue);

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    let mut lines: BTreeMap<NetId, Vec<On>> = BTreeMap::new();
    for part in &job.parts {
        if let Kind::Analogue(analogue) = &part.kind
            && analogue.kind == AnalogueKind::Volts
            && (landings.wired(analogue.plus) || half_wired(job, landings, part, analogue))
        {
            lines.entry(circuit.net_of(analogue.plus)).or_default().push((part, analogue));
        }
    }
    let crossed = crossed(&lines);
    for (net, line) in lines.iter().filter(|(net, _)| !crossed.values().any(|other| other == *net)) {
        let (commands, others): (Vec<_>, Vec<_>) =
            line.iter().partition(|(_, analogue)| analogue.role == Some(AnalogueRole::Command));
        let name = |(part, _): &&On| job.device(part.device).name.as_str();
        let mut tell = |at: &On, message: String, fix: Cow<'static, str>| {
            let plus = at.1.plus;
            report.find(message, fix).at(landing(job, landings, plus), "").about(plus).about(at.0.device);
        };
        if let Some(shorted) = line.iter().find(|(_, part)| circuit.net_of(part.minus) == *net) {
            let [plus, minus] = [shorted.1.plus, shorted.1.minus].map(|end| job.label(end));
            let message =
                format!("{plus} and {minus} are joined: the 0–10 V line is shorted and gives no signal");
            tell(shorted, message, format!("take off what joins {plus} and {minus}").into());
            continue;
        }
        let turned = commands.is_empty().then(|| turned(job, circuit, &others)).flatten();
        if let (None, Some((pole, on))) = (&turned, live(job, circuit, &commands, &others)) {
            let [pole, plus] = [pole, on.1.plus].map(|end| job.label(end));
            let message = format!(
                "{pole} is joined to {plus}, the signal side of a 0–10 V line: no signal comes through, and {} may be \
                 destroyed",
                name(&on)
            );
            let fix = format!(
                "take off what joins {pole} and {plus}, and bring it to the terminal that it is meant for"
            );
            tell(on, message, fix.into());
            continue;
        }
        let (command, second) = (commands.first(), commands.get(1));
        match (command, second) {
            (Some(_), Some(second)) => {
                let names = listed(&commands.iter().map(name).collect::<Vec<_>>());
                let all = if commands.len() == 2 { "both" } else { "all" };
                let message =
                    format!("{names} {all} command one 0–10 V line: they fight, and nothing follows");
                let exchange = crossed.get(net).and_then(|other| {
                    let (_, follow) = lines[other].iter().find(|(part, _)| part.device == second.0.device)?;
                    Some(exchange(job, landings, second.1.plus, follow.plus))
                });
                let one = "leave one command on the line";
                tell(second, message, exchange.map_or(one.into(), Cow::Owned));
            }
            (None, _) => {
                if let Some((turned, command)) = turned {
                    let [part, other] = [turned, &command].map(|part| name(&part));
                    let [plus, minus] = [turned.1.plus, command.1.minus].map(|end| job.label(end));
                    let message = format!(
                        "{part} is on the 0–10 V line of {other} the wrong way round: {plus} is joined to {minus}"
                    );
                    let ends = [turned.1.plus, turned.1.minus].map(|end| job.label(end));
                    tell(
                        turned,
                        message,
                        format!("exchange the cores at {} and {}", ends[0], ends[1]).into(),
                    );
                } else if let Some(first) = others.first() {
                    let names = listed(&others.iter().map(name).collect::<Vec<_>>());
                    let message = format!("no part commands the 0–10 V line of {names}: nothing sets it");
                    tell(first, message, "join it to the 0–10 V output of one controller".into());
                }
            }
            (Some(command), None) => {
                // Where its device has lost its 0 V, that is told.
                let apart = others.iter().find(|(of, part)| {
                    !returns(circuit, part.minus, command.1.minus)
                        && !common_starves(job, circuit, of.device, part.minus)
                        && !common_starves(job, circuit, command.0.device, command.1.minus)
                });
                if let Some(apart) = apart {
                    let [minus, back] = [apart.1.minus, command.1.minus].map(|end| job.label(end));
                    let message = format!(
                        "{} is joined to {} with its plus alone: {minus} does not lead back to {back}, so there is no signal",
                        name(apart),
                        name(command)
                    );
                    tell(apart, message, format!("join {minus} and {back} along the same cable").into());
                    continue;
                }
                let clash = others.iter().find(|(_, follow)| {
                    follow.drives_self.is_some() && follow.drives_self == command.1.drives_self
                });
                if let Some(clash) = clash {
                    let who = if clash.1.drives_self == Some(true) { "both feed" } else { "neither feeds" };
                    let message = format!(
                        "{} and {}: {who} the 0–10 V line, so there is no signal",
                        name(command),
                        name(clash)
                    );
                    tell(clash, message, "use a controller and drivers of one kind".into());
                } else {
                    current(job, command, &others, report, landings);
                }
            }
        }
    }
    tell_unset(job, circuit, report);
}

/// The pole of a source on which the signal side of a line lies, and a part whose other side is not on it: a command before others.
fn live<'p>(
    job: &Job,
    circuit: &Circuit,
    commands: &[&'p On<'p>],
    others: &[&'p On<'p>],
) -> Option<(TerminalId, &'p On<'p>)> {
    let of_source = |part: &Part| match &part.kind {
        Kind::Source(source) => Some([source.plus, source.minus]),
        _ => None,
    };
    let poles = || job.parts.iter().filter_map(of_source).flatten();
    commands.iter().chain(others).find_map(|&on| {
        let pole = poles().find(|pole| {
            circuit.joined_past_fuses(*pole, on.1.plus) && !circuit.joined_past_fuses(*pole, on.1.minus)
        })?;
        Some((pole, on))
    })
}

/// Says of parts that are wired and whose signal side is empty that nothing sets them. Where an error is told on the same
/// wiring, it may well be for want of the core that belongs there.
fn tell_unset(job: &Job, circuit: &Circuit, report: &mut Report) {
    let told: BTreeSet<u32> = report
        .terminals_told_by("analogue-mismatch")
        .into_iter()
        .flat_map(|at| job.parts_on(at).flat_map(|(_, part)| part.kind.terminals()).collect::<Vec<_>>())
        .map(|at| circuit.system_of(at))
        .collect();
    for part in &job.parts {
        let Kind::Analogue(end) = &part.kind else { continue };
        let empty = end.kind == AnalogueKind::Volts
            && end.role == Some(AnalogueRole::Follow)
            && !part.existing
            && [end.plus, end.minus].iter().all(|at| job.unused(*at).is_none())
            && !circuit.landings().wired(end.plus)
            && !half_wired(job, circuit.landings(), part, end)
            && leads_out(job, circuit, end.minus)
            && !leads_out(job, circuit, end.plus)
            && !told.contains(&circuit.system_of(end.minus));
        if empty {
            let (name, plus) = (&job.device(part.device).name, job.label(end.plus));
            let message = format!("nothing is on {plus}: no 0–10 V signal sets {name}");
            let fix =
                format!("bring the 0–10 V output of a controller to {plus}, or list it under `unused:`");
            let draft = report.find(message, fix).severity(Severity::Note);
            draft.at(job.device(part.device).place, "").about(end.plus).about(part.device);
        }
    }
}

/// The lines on which two devices both command, each with the line of the same two on which neither does: their cores have
/// changed places.
fn crossed(lines: &BTreeMap<NetId, Vec<On>>) -> BTreeMap<NetId, NetId> {
    let commands = |line: &[On]| {
        line.iter().filter(|(_, analogue)| analogue.role == Some(AnalogueRole::Command)).count()
    };
    let of_two = |line: &[On]| match line {
        [(one, _), (other, _)] if one.device != other.device => {
            Some((one.device.min(other.device), one.device.max(other.device)))
        }
        _ => None,
    };
    let mut without: BTreeMap<_, NetId> = BTreeMap::new();
    for (net, line) in lines.iter().filter(|(_, line)| commands(line) == 0) {
        without.extend(of_two(line).map(|devices| (devices, *net)));
    }
    let fighting = lines.iter().filter(|(_, line)| commands(line) == 2);
    fighting.filter_map(|(net, line)| Some((*net, *without.get(&of_two(line)?)?))).collect()
}

/// Whether only the minus of a part is wired, and nothing else in its device uses that terminal.
fn half_wired(job: &Job, landings: &Landings, part: &Part, analogue: &Analogue) -> bool {
    landings.wired(analogue.minus)
        && job.unused(analogue.plus).is_none()
        && !part.existing
        && job.parts_on(analogue.minus).count() == 1
}

/// Whether two minus sides are joined, be it by way of fuses or contacts.
fn returns(circuit: &Circuit, a: TerminalId, b: TerminalId) -> bool {
    circuit.joined_past_fuses(a, b) || !circuit.joins(a, b).ways.is_empty()
}

/// A part of a line without a command whose plus is on the minus of one and whose minus is on its plus, with that command.
fn turned<'p>(job: &'p Job, circuit: &Circuit, others: &[&'p On<'p>]) -> Option<(&'p On<'p>, On<'p>)> {
    let joined = |a, b| circuit.net_of(a) == circuit.net_of(b);
    others.iter().find_map(|&other| {
        let command = job.parts.iter().find_map(|part| match &part.kind {
            Kind::Analogue(analogue)
                if analogue.kind == AnalogueKind::Volts
                    && analogue.role == Some(AnalogueRole::Command)
                    && joined(analogue.minus, other.1.plus)
                    && joined(analogue.plus, other.1.minus) =>
            {
                Some((part, &**analogue))
            }
            _ => None,
        })?;
        Some((other, command))
    })
}

/// Whether the command can draw down what the drivers feed, or give what the parts on its line draw.
fn current(job: &Job, command: &On, others: &[&On], report: &mut Report, landings: &Landings) {
    let name = &job.device(command.0.device).name;
    let sum = |parts: &[&On]| -> Amps {
        Amps(parts.iter().filter_map(|(_, part)| part.amps).map(|amps| amps.0).sum())
    };
    let mut tell = |message: String, fix: &'static str| {
        let plus = command.1.plus;
        report.find(message, fix).at(landing(job, landings, plus), "").about(plus).about(command.0.device);
    };
    if command.1.drives_self == Some(true) {
        // Automation inputs draw so little that few say how much; those that do are added up.
        let drawn = sum(others);
        if let Some(limit) = command.1.amps.filter(|limit| drawn.0 > limit.0) {
            let message =
                format!("{name} can give {limit} and {drawn} is drawn on its line: the signal sags");
            tell(message, "fewer parts on this line, or an output that gives more");
        }
        return;
    }
    let feeds = |part: &&&On| part.1.drives_self == Some(true);
    let drivers: Vec<_> = others.iter().filter(feeds).copied().collect();
    let silent = drivers.iter().find(|(_, driver)| driver.amps.is_none());
    let (Some(limit), None) = (command.1.amps, silent) else {
        if drivers.is_empty() {
            return;
        }
        let who = silent.map_or(name, |(part, _)| &job.device(part.device).name);
        let part = silent.map_or(command.0, |(part, _)| part);
        report
            .not_checked(
                format!("{who} does not say its 0–10 V current"),
                "state `amps:` of that entry in its data sheet",
            )
            .at(part.place, "")
            .about(part.device);
        return;
    };
    let fed = sum(&drivers);
    if fed.0 > limit.0 {
        let who = match drivers.len() {
            1 => "one driver feeds".to_owned(),
            several => format!("{several} drivers feed"),
        };
        let message =
            format!("{name} can draw {limit} and {who} {fed} into it: it cannot bring the line down");
        tell(message, "fewer drivers on this line, or a controller or booster that draws more");
    }
}
