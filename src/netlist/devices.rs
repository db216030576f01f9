//! The devices of a job: each from its type and what it says itself.

use std::collections::{BTreeMap, BTreeSet, btree_map};
use std::rc::Rc;
use std::sync::Arc;

use super::cables::{END_WORDS, safe};
use super::info::location;
use super::read::Context;
use super::sheet::{BARE, LISTS, NAMED, Outline, Sheet};
use super::{
    Contacting, Device, DeviceId, Job, Kind, Meaning, OnLoss, Part, PartId, Run, Safe, Setting, Terminal,
    TerminalId, TypeDevice, Unused,
};
use crate::source::{Place, small};
use crate::syntax::{self, Data, Entry, Faults, Fields, Said, Value};
use crate::units::{self, AmpHours, Amps, Ohms, Seconds, Volts, Watts};

/// What can only be resolved once all devices are known.
#[derive(Default)]
pub struct Pending<'v> {
    /// Contacts that unlock something, with what they name.
    pub unlocks: Vec<(PartId, String, Place)>,
    /// `across:` of devices.
    pub across: Vec<(DeviceId, Value<'v>)>,
    /// What `place:` says.
    pub hints: Vec<(DeviceId, Value<'v>)>,
    /// Devices whose type could not be read.
    pub opaque: BTreeSet<DeviceId>,
}

/// Keys of a device that stand where devices do when their lines begin too far left.
const KEYS_OF_ONE: [&str; 5] = ["type", "name", "location", "volts", "amps"];

/// Reads the job's own data sheets for their faults, whether a device bears them or not.
pub fn check_types(value: Option<Value<'_>>, context: &mut Context<'_>) {
    let Some(value) = value else { return };
    if Fields::open(value, "`data_sheets`", &mut context.faults).is_none() {
        return;
    }
    for entry in value.entries() {
        let outline = Outline::of_type(entry.value, entry.key, &mut context.faults);
        if !outline.has_terminals() {
            let message = format!("the data sheet `{}` has no terminals", entry.key);
            context.faults.error(
                entry.place,
                message,
                "add `terminals: [1, 2, …]` in the order the part bears them",
            );
        }
        outline.compile(entry.place, &mut context.pool, &mut context.faults);
    }
}

/// Reads `devices:` into the job.
pub fn read<'v>(value: Option<Value<'v>>, job: &mut Job, context: &mut Context<'v>) -> Pending<'v> {
    let mut pending = Pending::default();
    let Some(value) = value else { return pending };
    if Fields::open(value, "`devices`", &mut context.faults).is_none() {
        return pending;
    }
    let mut types = Types::default();
    job.devices.reserve_exact(value.entries().count());
    for entry in value.entries() {
        if KEYS_OF_ONE.contains(&entry.key) && entry.value.text().is_some() {
            let message = format!("`{}:` stands among the names of devices", entry.key);
            let fix = "begin the line further right, below the device that it belongs to";
            context.faults.error(entry.place, message, fix);
            continue;
        }
        check_name(entry, &mut context.faults);
        device(entry, job, &mut types, &mut pending, context);
    }
    pending
}

/// The types read so far, as they are without anything that a device adds.
#[derive(Default)]
struct Types<'v> {
    sheets: BTreeMap<&'v str, Rc<Sheet>>,
}

fn check_name(entry: Entry<'_>, faults: &mut Faults) {
    let name = entry.key;
    if name.trim().is_empty() {
        faults.error(entry.place, "a device has no name", "write what its label says");
    } else if name.contains('.') {
        let fix = format!("write it without the dot, as in `{}`", name.replace('.', "-"));
        faults.error(
            entry.place,
            format!("the device name `{name}` has a dot, which parts a device from its terminal"),
            fix,
        );
    } else if END_WORDS.contains(&name) {
        let message = format!("a device cannot be named `{name}`: the word says how an end was left");
        faults.error(entry.place, message, "give it another name");
    }
}

fn device<'v>(
    entry: Entry<'v>,
    job: &mut Job,
    types: &mut Types<'v>,
    pending: &mut Pending<'v>,
    context: &mut Context<'v>,
) {
    let id = DeviceId(small(job.devices.len()));
    let Some(mut fields) =
        Fields::open(entry.value, format!("the device {}", entry.key), &mut context.faults)
    else {
        pending.opaque.insert(id);
        job.devices.push(blank(entry, job));
        return;
    };
    let faults = &mut context.faults;
    let type_name = fields.text("type", faults);
    let title = fields.label("name", faults).map(|said| context.pool.name(said.text));
    let place_of = fields.label("location", faults).map(|said| location(said.text)).unwrap_or_default();
    let rest = fields.choice("rest", &[("operated", true), ("at rest", false)], faults);
    let losses = [("locked", OnLoss::Locked), ("unlocked", OnLoss::Unlocked)];
    let on_loss = fields.choice("on_loss", &losses, faults);
    let settings = fields.value("settings");
    let unused = fields.value("unused");
    if let Some(across) = fields.value("across") {
        pending.across.push((id, across));
    }
    if let Some(hints) = fields.value("place") {
        pending.hints.push((id, hints));
    }

    context.faults.show_at(context.shipped_from, entry.place);
    let sheet = sheet(entry, &mut fields, type_name, types, context);
    context.faults.show_in_place();

    let mut device = blank(entry, job);
    device.location = context.pool.texts(place_of);
    device.rest_operated = rest.unwrap_or(false);
    device.on_loss = on_loss;
    let type_name = type_name.map(|said| context.pool.name(said.text));
    let mut of = TypeDevice { title, type_name, ..TypeDevice::default() };
    if let Some(sheet) = &sheet {
        of.type_title.clone_from(&sheet.title);
        of.title = of.title.or_else(|| sheet.title.clone());
        of.form = sheet.form;
        of.cautions = Arc::clone(&sheet.cautions);
        of.symbol.clone_from(&sheet.symbol);
    }
    device.of = context.pool.device(of);
    if let Some(sheet) = sheet {
        bear(&sheet, id, &mut device, job, pending, context);
    } else {
        pending.opaque.insert(id);
    }
    let faults = &mut context.faults;
    let opaque = pending.opaque.contains(&id);
    if let Some(unused) = unused {
        read_unused(unused, &device, job, opaque, faults);
    }
    if let Some(settings) = settings {
        let own = job.parts.get(device.parts.start as usize..).unwrap_or_default();
        device.settings = read_settings(settings, own, device.parts.start, faults);
    }
    if entry.value.get("earthed").is_some()
        && let Some(value) = fields.value("earthed")
    {
        let mut own = device.parts.iter().filter_map(|part| job.parts.get(part as usize));
        let source = own.find(|part| matches!(part.kind, Kind::Source(_)));
        let fix = match (source, value.text()) {
            (Some(source), Some(pole)) => {
                format!("write it of its source: `sources: {{{}: {{earthed: {pole}}}}}`", source.name)
            }
            _ => "it is said of a source: `sources: {V: {earthed: minus}}`".to_owned(),
        };
        faults.error(value.place, format!("the device {} has no key `earthed`", entry.key), fix);
    }
    fields.finish(faults);
    job.devices.push(device);
}

/// The device's type with its own additions; `None` when there is no such type.
fn sheet<'v>(
    entry: Entry<'v>,
    fields: &mut Fields<'v>,
    type_name: Option<Said<'v>>,
    types: &mut Types<'v>,
    context: &mut Context<'v>,
) -> Option<Rc<Sheet>> {
    let adds =
        [BARE, &["ways", "cautions", "symbol", "terminals"], NAMED, LISTS].map(|keys| fields.any_of(keys));
    let adds = adds.contains(&true);
    let Context { faults, pool, .. } = context;
    let mut outline = match type_name {
        None => {
            if fields.value("type").is_some() {
                return None;
            }
            if fields.value("terminals").is_none() {
                let fix = "add `type:` (`bellwire library` lists them), or `terminals: [1, 2, …]`";
                faults.error(
                    entry.place,
                    format!("the device {} has neither a type nor terminals", entry.key),
                    fix,
                );
                return None;
            }
            Outline::default()
        }
        Some(said) => {
            let name = said.text.trim();
            if !adds && let Some(sheet) = types.sheets.get(name) {
                return Some(Rc::clone(sheet));
            }
            let Some(found) = context.library.device(name) else {
                let asked = faults.did_you_mean(name, context.library.known_devices());
                let fix = asked.unwrap_or_else(|| {
                    "describe it under `data_sheets:`, or choose one that `bellwire library` lists".to_owned()
                });
                faults.error(said.place, format!("there is no device type `{name}`"), fix);
                read_figures(fields, faults);
                return None;
            };
            Outline::of_type(found.value, found.name, faults)
        }
    };
    if !adds && !outline.lacks_ways() {
        let sheet = Rc::new(outline.compile(entry.place, pool, faults));
        types.sheets.extend(type_name.map(|said| (said.text.trim(), Rc::clone(&sheet))));
        return Some(sheet);
    }
    outline.add(fields, faults);
    let bare: Vec<Entry<'v>> =
        BARE.iter().filter_map(|key| fields.entry(key)).filter(|e| !e.value.is_empty()).collect();
    outline.add_bare(&bare, faults);
    if outline.lacks_ways() {
        // A figure that cannot be read has been reported.
        if fields.value("ways").is_some() {
            return None;
        }
        let message = format!("{} is a terminal strip, but it does not say how many ways it has", entry.key);
        faults.error(entry.place, message, "add `ways: 4` (or as many as it has)");
        return None;
    }
    Some(Rc::new(outline.compile(entry.place, pool, faults)))
}

/// Reads the figures of a device whose type is not known, so that those that cannot be read are told at once.
fn read_figures(fields: &mut Fields<'_>, faults: &mut Faults) {
    for key in ["volts", "low", "high"] {
        fields.span::<Volts>(key, faults);
    }
    for key in ["amps", "fused"] {
        fields.quantity::<Amps>(key, faults);
    }
    fields.quantity::<Ohms>("ohms", faults);
    fields.quantity::<Watts>("watts", faults);
    fields.quantity::<AmpHours>("ah", faults);
}

/// Gives a device the terminals and parts of its type.
fn bear(
    sheet: &Sheet,
    id: DeviceId,
    device: &mut Device,
    job: &mut Job,
    pending: &mut Pending<'_>,
    context: &Context<'_>,
) {
    let shift = Shift { terminals: small(job.terminals.len()), parts: small(job.parts.len()) };
    job.terminals
        .extend(sheet.terminals.iter().map(|terminal| Terminal { device: id, of: Arc::clone(&terminal.of) }));
    job.parts.extend(sheet.parts.iter().map(|part| Part {
        device: id,
        kind: shift.kind(part.kind.clone()),
        place: context.shown(part.place, device.place),
        of: Arc::clone(&part.of),
    }));
    let unlocks = sheet.unlocks.iter().map(|(part, text, place)| {
        (PartId(part.0 + shift.parts), text.clone(), context.shown(*place, device.place))
    });
    pending.unlocks.extend(unlocks);
    device.terminals = Run { start: shift.terminals, end: small(job.terminals.len()) };
    device.parts = Run { start: shift.parts, end: small(job.parts.len()) };
}

/// From the numbers of a sheet to those of the job.
struct Shift {
    terminals: u32,
    parts: u32,
}

impl Shift {
    fn kind(&self, mut kind: Kind) -> Kind {
        let t = |terminal: &mut TerminalId| terminal.0 += self.terminals;
        match &mut kind {
            Kind::Source(source) => [&mut source.plus, &mut source.minus].map(t),
            Kind::Load(load) => [&mut load.plus, &mut load.minus].map(t),
            Kind::Coil(coil) => [&mut coil.plus, &mut coil.minus].map(t),
            Kind::Input(input) => [&mut input.at, &mut input.common].map(t),
            Kind::Output(output) => [&mut output.at, &mut output.common].map(t),
            Kind::DryInput(input) => input.between.each_mut().map(t),
            Kind::Fuse(fuse) => fuse.between.each_mut().map(t),
            Kind::Resistor(resistor) => resistor.between.each_mut().map(t),
            Kind::Suppressor(suppressor) => suppressor.between.each_mut().map(t),
            Kind::Diode(diode) => [&mut diode.anode, &mut diode.cathode].map(t),
            Kind::Supervised(supervised) => [&mut supervised.at, &mut supervised.common].map(t),
            Kind::Analogue(analogue) => [&mut analogue.plus, &mut analogue.minus].map(t),
            Kind::TwoWire(sensor) => [&mut sensor.plus, &mut sensor.minus].map(t),
            Kind::SignalPair(pair) => [&mut pair.a, &mut pair.b].map(t),
            Kind::Contact(contact) => {
                contact.no.iter_mut().chain(&mut contact.nc).for_each(t);
                if let Some(coil) = &mut contact.coil {
                    coil.0 += self.parts;
                }
                t(&mut contact.common);
                [(), ()]
            }
            Kind::Bridge(terminals) => {
                terminals.iter_mut().for_each(t);
                [(), ()]
            }
            Kind::Screen(terminal) | Kind::Earth(terminal) | Kind::Aerial(terminal) => {
                t(terminal);
                [(), ()]
            }
        };
        kind
    }
}

/// `unused:`, a map to the way of making safe, or a list.
fn read_unused(value: Value<'_>, device: &Device, job: &mut Job, opaque: bool, faults: &mut Faults) {
    let mut said: Vec<(Said<'_>, Option<Safe>)> = Vec::new();
    match value.data() {
        Data::Map(entries) => {
            for entry in entries {
                let name = Said { text: entry.key, place: entry.place };
                let Some(way) = syntax::said(entry.value) else {
                    let message = format!(
                        "`unused` says of `{}` how it was made safe; here stands {}",
                        entry.key,
                        entry.value.shape()
                    );
                    faults.error(entry.place, message, "write `taped`, `sleeved`, `capped` or `parked`");
                    continue;
                };
                // `bare` is an honest answer: the lead is unused and was not made safe.
                let mut words: Vec<(&str, Option<Safe>)> =
                    safe().iter().map(|(word, way)| (*word, Some(*way))).collect();
                words.push(("bare", None));
                if let Some(way) =
                    syntax::choose(way, &format!("the way `{}` was made safe", entry.key), &words, faults)
                {
                    said.push((name, way));
                }
            }
        }
        _ => said.extend(syntax::texts(value, "`unused`", faults).into_iter().map(|name| (name, None))),
    }
    let own = job.terminals.get(device.terminals.start as usize..).unwrap_or_default();
    let (ids, device) = (device.terminals.iter().map(TerminalId), &device.name);
    for (name, way) in said {
        match ids.clone().zip(own).find(|(_, terminal)| terminal.name == name.text) {
            Some((id, _)) => match job.unused.entry(id) {
                btree_map::Entry::Occupied(first) => faults.error_at(
                    vec![(name.place, "again here".into()), (first.get().place, "first here".into())],
                    format!("`unused` names `{}` twice", name.text),
                    "take one out",
                ),
                btree_map::Entry::Vacant(free) => {
                    free.insert(Unused { way, place: name.place });
                }
            },
            None if opaque => {}
            None => {
                let list = syntax::listed(own.iter().map(|t| t.name.as_str()));
                let fix = match faults.nearest(name.text, own.iter().map(|t| t.name.as_str())) {
                    Some(near) => format!("did you mean `{near}`? The terminals of {device} are: {list}"),
                    None => format!("the terminals of {device} are: {list}"),
                };
                faults.error(name.place, format!("{device} has no terminal `{}`", name.text), fix);
            }
        }
    }
}

fn read_settings(value: Value<'_>, own: &[Part], first: u32, faults: &mut Faults) -> Box<[Setting]> {
    let mut reader = Settings { own, first, found: Vec::new() };
    let Data::Map(entries) = value.data() else {
        let message = format!("`settings` is a map; here stands {}", value.shape());
        faults.error(
            value.place,
            message,
            "write `settings: {NAME: value}` or `settings: {ENTRY: {pulse: 1 s}}`",
        );
        return Box::default();
    };
    for entry in entries {
        let part = reader.part(entry.key);
        match entry.value.data() {
            Data::Map(_) => reader.nested(entry.key, part, "", entry.value, faults),
            _ if part.is_some() => reader.add(Some(entry.key), part, "", entry.value, faults),
            _ => reader.add(None, None, entry.key, entry.value, faults),
        }
    }
    reader.found.into()
}

struct Settings<'p> {
    own: &'p [Part],
    first: u32,
    found: Vec<Setting>,
}

impl Settings<'_> {
    fn part(&self, name: &str) -> Option<PartId> {
        (self.first..).map(PartId).zip(self.own).find(|(_, part)| part.name == name).map(|(id, _)| id)
    }

    fn nested(
        &mut self,
        entry: &str,
        part: Option<PartId>,
        before: &str,
        value: Value<'_>,
        faults: &mut Faults,
    ) {
        for inner in value.entries() {
            let key =
                if before.is_empty() { inner.key.to_string() } else { format!("{before}.{}", inner.key) };
            match inner.value.data() {
                Data::Map(_) => self.nested(entry, part, &key, inner.value, faults),
                _ => self.add(Some(entry), part, &key, inner.value, faults),
            }
        }
    }

    fn add(
        &mut self,
        entry: Option<&str>,
        part: Option<PartId>,
        key: &str,
        value: Value<'_>,
        faults: &mut Faults,
    ) {
        let texts = syntax::texts(value, "a setting", faults);
        let text = texts.iter().map(|said| said.text).collect::<Vec<_>>().join(", ");
        let meaning = match texts.as_slice() {
            [said] => self.meaning(part, key, *said, faults),
            _ => Meaning::Free,
        };
        self.found.push(Setting {
            entry: entry.map(str::to_owned),
            part,
            key: key.to_owned(),
            value: text,
            meaning,
            place: value.place,
        });
    }

    /// What a setting means. `contact` and `drives` are understood at an input, whose they are; the rest everywhere.
    fn meaning(&self, part: Option<PartId>, key: &str, said: Said<'_>, faults: &mut Faults) -> Meaning {
        let kind =
            part.and_then(|id| self.own.get(id.0.checked_sub(self.first)? as usize)).map(|part| &part.kind);
        let input = matches!(kind, Some(Kind::Input(_) | Kind::DryInput(_)));
        let understood = match key {
            "pulse" => match units::quantity::<Seconds>(said.text) {
                Ok(seconds) => Some(Meaning::Pulse(seconds)),
                Err(why) => {
                    if kind.is_some() {
                        faults.error(said.place, format!("`pulse`: {}", why.message), why.fix);
                    }
                    None
                }
            },
            "contact" if input => {
                let words = [
                    ("normally-open", Contacting::NormallyOpen),
                    ("normally-closed", Contacting::NormallyClosed),
                ];
                syntax::choose(said, "`contact`", &words, faults).map(Meaning::Contact)
            }
            "terminator" => {
                let words = [("on", true), ("off", false), ("true", true), ("false", false)];
                syntax::choose(said, "`terminator`", &words, faults).map(Meaning::Terminator)
            }
            "drives" if input && said.text.trim() == "nothing" => Some(Meaning::Drives(None)),
            "drives" if input => self.driven(said, faults).map(|part| Meaning::Drives(Some(part))),
            _ => None,
        };
        understood.unwrap_or(Meaning::Free)
    }

    /// The contact or output that an input drives.
    fn driven(&self, said: Said<'_>, faults: &mut Faults) -> Option<PartId> {
        let movable = || {
            let all = (self.first..).map(PartId).zip(self.own);
            all.filter(|(_, part)| matches!(part.kind, Kind::Contact(_) | Kind::Output(_)))
        };
        let found = movable().find(|(_, part)| part.name == said.text.trim()).map(|(id, _)| id);
        if found.is_none() {
            let names: Vec<&str> = movable().map(|(_, part)| part.name.as_str()).collect();
            let fix = match faults.nearest(said.text, names.iter().copied()) {
                Some(near) => format!("did you mean `{near}`?"),
                None => format!("write `nothing`, or one of: {}", syntax::listed(names)),
            };
            faults.error(
                said.place,
                format!("the device has no contact or output `{}` to drive", said.text),
                fix,
            );
        }
        found
    }
}

fn blank(entry: Entry<'_>, job: &Job) -> Device {
    let (terminals, parts) = (small(job.terminals.len()), small(job.parts.len()));
    Device {
        name: entry.key.into(),
        location: Arc::default(),
        terminals: Run { start: terminals, end: terminals },
        parts: Run { start: parts, end: parts },
        rest_operated: false,
        on_loss: None,
        settings: Box::default(),
        place: entry.place,
        of: Arc::default(),
    }
}
