//! What a terminal does, in a few words.

use super::conductors::Conductors;
use crate::netlist::{Active, AnalogueKind, Current, Form, Job, Kind, Part, PartId, Pole, TerminalId};

/// What a terminal does: its label in the data sheet, else words made from what lies on it. A splice or a way of a
/// strip does what its conductor does.
pub fn function(job: &Job, conductors: &Conductors, terminal: TerminalId) -> String {
    let own = job.terminal(terminal);
    if let Some(label) = &own.label {
        return label.to_string();
    }
    if job.device(own.device).form == Form::Box {
        return from_parts(job, terminal).unwrap_or_default();
    }
    if let Some(pole) = conductors.pole(terminal) {
        return pole.to_owned();
    }
    let words =
        |t: TerminalId| job.terminal(t).label.clone().map(String::from).or_else(|| from_parts(job, t));
    conductors.on_parts(terminal).find_map(words).unwrap_or_default()
}

/// Words from the first part that says something of the terminal; a bridge speaks only when nothing else does.
fn from_parts(job: &Job, terminal: TerminalId) -> Option<String> {
    let device = job.device(job.terminal(terminal).device);
    let parts = || device.parts.iter().map(|id| job.part(PartId(id)));
    let bridged = || {
        parts().find_map(|part| match &part.kind {
            Kind::Bridge(all) if all.contains(&terminal) => {
                let other = all.iter().find(|t| **t != terminal)?;
                Some(format!("joined inside to {}", job.terminal(*other).name))
            }
            _ => None,
        })
    };
    parts().find_map(|part| words(part, terminal)).or_else(bridged)
}

fn words(part: &Part, terminal: TerminalId) -> Option<String> {
    let name = &part.name;
    let pick = |choices: &[(TerminalId, String)]| {
        choices.iter().find(|(at, _)| *at == terminal).map(|(_, words)| words.clone())
    };
    let two = |a: TerminalId, b: TerminalId, first: &str, second: &str| {
        pick(&[(a, format!("{name}{first}")), (b, format!("{name}{second}"))])
    };
    match &part.kind {
        Kind::Source(s) => {
            let volts = s.volts.map(|v| format!(" {v}")).unwrap_or_default();
            match (s.current, s.battery) {
                (Current::Ac, _) => pick(&[
                    (s.plus, format!("supply{volts} AC, A")),
                    (s.minus, format!("supply{volts} AC, B")),
                ]),
                (Current::Dc, true) => {
                    pick(&[(s.plus, format!("battery +{volts}")), (s.minus, "battery -".to_owned())])
                }
                (Current::Dc, false) => {
                    pick(&[(s.plus, format!("supply +{volts}")), (s.minus, "supply 0 V".to_owned())])
                }
            }
        }
        Kind::Load(l) if l.polarised => two(l.plus, l.minus, " +", " -"),
        Kind::Load(l) => two(l.plus, l.minus, "", ""),
        Kind::Input(i) => {
            let level = match i.active {
                Active::Low => ", on at 0 V",
                Active::High => ", on at +",
                Active::Either => "",
            };
            two(i.at, i.common, level, ", common")
        }
        Kind::DryInput(d) => two(d.between[0], d.between[1], ", volt-free", ", volt-free"),
        Kind::Output(o) => {
            let sense = if o.drives == Pole::Minus { ", switches to 0 V" } else { ", switches to +" };
            two(o.at, o.common, sense, ", common")
        }
        Kind::Contact(c) => {
            let mut choices = vec![(c.common, format!("{name}, common"))];
            choices.extend(c.no.map(|t| (t, format!("{name}, make"))));
            choices.extend(c.nc.map(|t| (t, format!("{name}, break"))));
            pick(&choices)
        }
        Kind::Coil(c) if c.polarised => two(c.plus, c.minus, ", coil +", ", coil -"),
        Kind::Coil(c) => two(c.plus, c.minus, ", coil", ", coil"),
        Kind::Bridge(_) => None,
        Kind::Fuse(f) => two(f.between[0], f.between[1], ", fuse", ", fuse"),
        Kind::Resistor(r) => two(r.between[0], r.between[1], ", resistor", ", resistor"),
        Kind::Diode(d) => two(d.anode, d.cathode, ", anode", ", cathode"),
        Kind::Suppressor(s) => two(s.between[0], s.between[1], ", suppressor", ", suppressor"),
        Kind::Supervised(s) => two(s.at, s.common, ", watched loop", ", loop common"),
        Kind::Analogue(a) => match a.kind {
            AnalogueKind::Loop => two(a.plus, a.minus, ", 4–20 mA +", ", 4–20 mA -"),
            AnalogueKind::Volts => two(a.plus, a.minus, ", 0–10 V +", ", 0–10 V -"),
        },
        Kind::TwoWire(t) => two(t.plus, t.minus, ", sensor +", ", sensor -"),
        Kind::SignalPair(p) => two(p.a, p.b, ", leg a", ", leg b"),
        Kind::Screen(t) => pick(&[(*t, "screen".to_owned())]),
        Kind::Earth(t) => pick(&[(*t, "earth".to_owned())]),
        Kind::Aerial(t) => pick(&[(*t, "aerial".to_owned())]),
    }
}
