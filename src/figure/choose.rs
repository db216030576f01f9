//! Which symbol stands for which part of a device.

use super::graphic::{Graphic, Use, graphic};
use crate::lettering::Height;
use crate::netlist::{
    AnalogueKind, Contact, Current, Device, DeviceId, Job, Kind, Mover, Part, PartId, Pole, TerminalId,
};
use crate::scene::Text;
use crate::units::Ohms;

/// A part drawn between terminals.
#[derive(Clone, Debug)]
pub(super) struct Drawn {
    pub part: PartId,
    pub symbol: &'static Graphic,
    /// Connection point and terminal; the first is the hinge of a contact, the plus of a source.
    pub ends: Vec<(&'static str, TerminalId)>,
    /// Words beside the symbol.
    pub caption: Option<Text>,
    /// The sign of what moves it.
    pub actuator: Option<&'static Graphic>,
    /// The coil that moves it.
    pub coil: Option<PartId>,
}

/// A sign at one terminal.
#[derive(Clone, Debug)]
pub(super) struct Mark {
    pub symbol: &'static Graphic,
    pub terminal: TerminalId,
}

/// What is drawn inside a device.
#[derive(Clone, Debug, Default)]
pub(super) struct Choice {
    pub drawn: Vec<Drawn>,
    pub marks: Vec<Mark>,
    /// The terminals of the aerials.
    pub aerials: Vec<TerminalId>,
}

/// Chooses the symbols of a device. Parts without one (electronics, say) are told in words only.
pub(super) fn choose(job: &Job, device: DeviceId) -> Choice {
    let entry = job.device(device);
    let asked = entry.symbol.as_deref().and_then(graphic);
    let mut choice = Choice::default();
    let parts = entry.parts.iter().map(PartId);
    for (id, part) in parts.filter_map(|id| Some((id, job.parts.get(id.index())?))) {
        let several = several(job, entry, part);
        let alone = is_sensor(job, entry);
        if let Some(mark) = mark(part).filter(|_| !(alone && matches!(part.kind, Kind::Output(_)))) {
            choice.marks.extend(mark);
            continue;
        }
        if let Kind::Aerial(t) = part.kind {
            choice.aerials.push(t);
            continue;
        }
        if let Kind::Bridge(terminals) = &part.kind {
            let pairs = terminals.windows(2).filter_map(|pair| match pair {
                [a, b] => Some(vec![("a", *a), ("b", *b)]),
                _ => None,
            });
            for ends in pairs {
                choice.drawn.extend(drawn(id, "bridge", ends));
            }
            continue;
        }
        let Some((name, ends)) = symbol(entry, part) else { continue };
        let Some(mut one) = drawn(id, name, ends) else { continue };
        if let Some(asked) = asked.filter(|a| Some(a.stands_for) == wanted(part)) {
            one.symbol = asked;
        }
        if let Kind::Contact(contact) = &part.kind {
            match contact.by() {
                Mover::Coil(coil) => one.coil = Some(coil),
                Mover::Alone | Mover::Word(_) => {
                    one.actuator = asked.filter(|a| a.stands_for == Use::Actuator);
                }
            }
        }
        one.caption = caption(part, several);
        choice.drawn.push(one);
    }
    choice.marks.retain(|m| !choice.drawn.iter().any(|d| d.ends.iter().any(|(_, t)| *t == m.terminal)));
    choice
}

/// Whether the device has one transistor output and no input: then the output is drawn as the switch that it is;
/// else it is a sign at its terminal.
pub(super) fn is_sensor(job: &Job, entry: &Device) -> bool {
    let parts = || entry.parts.iter().filter_map(|p| job.parts.get(p as usize));
    let outputs = parts().filter(|p| matches!(p.kind, Kind::Output(_))).count();
    outputs == 1 && !parts().any(|p| matches!(p.kind, Kind::Input(_)))
}

/// Whether the device has another part of the same kind, so that the name is needed to tell them apart.
fn several(job: &Job, entry: &Device, part: &Part) -> bool {
    let same = |p: &&Part| std::mem::discriminant(&p.kind) == std::mem::discriminant(&part.kind);
    entry.parts.iter().filter_map(|p| job.parts.get(p as usize)).filter(same).nth(1).is_some()
}

fn drawn(part: PartId, name: &str, ends: Vec<(&'static str, TerminalId)>) -> Option<Drawn> {
    let symbol = graphic(name)?;
    // Two ends on one terminal would be a loop of no meaning.
    let apart = ends.iter().enumerate().all(|(i, (_, t))| ends.iter().skip(i + 1).all(|(_, u)| u != t));
    apart.then_some(Drawn { part, symbol, ends, caption: None, actuator: None, coil: None })
}

/// The sign of a part that is drawn at one terminal; `Some(None)` when it has none.
fn mark(part: &Part) -> Option<Option<Mark>> {
    let (name, terminal) = match &part.kind {
        Kind::Input(i) => ("input", i.at),
        Kind::Output(o) if o.drives == Pole::Minus => ("output-npn", o.at),
        Kind::Output(o) => ("output-pnp", o.at),
        Kind::Supervised(s) => ("supervised", s.at),
        Kind::Screen(t) => ("screen", *t),
        Kind::Earth(t) => ("earth", *t),
        _ => return None,
    };
    Some(graphic(name).map(|symbol| Mark { symbol, terminal }))
}

/// The symbol that `symbol:` may exchange for another of its kind.
fn wanted(part: &Part) -> Option<Use> {
    match part.kind {
        Kind::Source(_) => Some(Use::Source),
        Kind::Load(_) => Some(Use::Load),
        Kind::Coil(_) => Some(Use::Coil),
        _ => None,
    }
}

/// The symbol's name and which of its points is which terminal.
fn symbol(entry: &Device, part: &Part) -> Option<(&'static str, Vec<(&'static str, TerminalId)>)> {
    let pair = |name, [a, b]: [TerminalId; 2]| Some((name, vec![("a", a), ("b", b)]));
    match &part.kind {
        Kind::Source(s) => {
            let name = match s.current {
                Current::Dc if s.battery => "battery",
                Current::Dc if s.charges => "charger",
                Current::Dc => "dc-supply",
                Current::Ac => "ac-supply",
            };
            pair(name, [s.plus, s.minus])
        }
        // A load is drawn only with a symbol of its own: what is inside electronics is nobody's business here.
        Kind::Load(l) => {
            let asked = entry.symbol.as_deref().and_then(graphic)?;
            if asked.stands_for == Use::Load { pair("load", [l.plus, l.minus]) } else { None }
        }
        Kind::Coil(c) => pair(if c.latching { "coil-latching" } else { "coil" }, [c.plus, c.minus]),
        Kind::Contact(c) => contact(c, entry.rest_operated && c.coil.is_none()),
        Kind::Output(o) => {
            let name = if o.drives == Pole::Minus { "transistor-npn" } else { "transistor-pnp" };
            Some((name, vec![("at", o.at), ("common", o.common)]))
        }
        Kind::Fuse(f) => pair("fuse", f.between),
        Kind::Resistor(r) => pair("resistor", r.between),
        Kind::Suppressor(s) => pair(if s.rc { "rc-link" } else { "varistor" }, s.between),
        Kind::Diode(d) => Some(("diode", vec![("anode", d.anode), ("cathode", d.cathode)])),
        Kind::DryInput(d) => pair("dry-input", d.between),
        Kind::TwoWire(t) => pair("two-wire-sensor", [t.plus, t.minus]),
        Kind::Analogue(a) => match a.kind {
            AnalogueKind::Loop => pair("analogue-current", [a.plus, a.minus]),
            AnalogueKind::Volts => pair("analogue-voltage", [a.plus, a.minus]),
        },
        Kind::SignalPair(p) => pair("signal-pair", [p.a, p.b]),
        _ => None,
    }
}

fn contact(c: &Contact, operated: bool) -> Option<(&'static str, Vec<(&'static str, TerminalId)>)> {
    let common = ("common", c.common);
    let pick = |rest, moved| if operated { moved } else { rest };
    match (c.no, c.nc) {
        (Some(no), Some(nc)) => Some((
            pick("contact-changeover", "contact-changeover-operated"),
            vec![common, ("nc", nc), ("no", no)],
        )),
        (Some(no), None) => Some((pick("contact-make", "contact-make-operated"), vec![common, ("no", no)])),
        (None, Some(nc)) => Some((pick("contact-break", "contact-break-operated"), vec![common, ("nc", nc)])),
        (None, None) => None,
    }
}

/// The words beside a symbol: its name where the device has several of its kind, and its value where that is short.
fn caption(part: &Part, several: bool) -> Option<Text> {
    let value = match &part.kind {
        Kind::Fuse(f) => f.amps.map(|a| a.to_string()),
        Kind::Resistor(r) => r.ohms.map(Ohms::short),
        _ => None,
    };
    let name = several.then(|| part.name.to_string()).filter(|_| !matches!(part.kind, Kind::Bridge(_)));
    let text: Vec<String> = [name, value].into_iter().flatten().collect();
    (!text.is_empty()).then(|| Text::new(&text.join(" "), 0.0, 0.0, Height::H1_8))
}
