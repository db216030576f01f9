//! A data sheet: from its map, and what a device adds to it, to terminals and parts.
//!
//! Terminals and parts are numbered from 0 within the sheet; a device that bears the type shifts them to its own.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::colours::{colour_words, colours_of};
use super::entries;
use super::shared::Pool;
use super::{Contact, DeviceId, Form, Kind, Name, Part, PartId, TerminalId, TypeTerminal};
use crate::library;
use crate::source::{Place, small};
use crate::syntax::{self, Data, Entry, Faults, Fields, Said, Value};
use crate::units::SquareMm;

/// Keys of entries that stand where their names do when the name is forgotten.
const KEYS_OF_ENTRIES: [&str; 8] = ["plus", "minus", "between", "at", "common", "anode", "cathode", "amps"];

/// The sections whose entries have names.
pub const NAMED: &[&str] = &[
    "sources",
    "loads",
    "inputs",
    "dry_inputs",
    "outputs",
    "contacts",
    "coils",
    "fuses",
    "resistors",
    "diodes",
    "suppressors",
    "supervised",
    "analogue",
    "two_wire",
    "signal_pairs",
];

/// The sections that are lists.
pub const LISTS: &[&str] = &["bridges", "screens", "earths", "aerials"];

/// The quantities that may stand on a device and set its type's only source, load, coil, fuse or resistor.
pub const BARE: &[&str] = &["volts", "amps", "ohms", "watts", "low", "high", "ah", "fused"];

/// The most terminals, and the most entries of one section, that a type may have; no part comes near it.
const MOST: usize = 2000;

/// The most ways of one strip.
pub const MOST_WAYS: u32 = 999;

/// A type, ready for devices to bear it.
#[derive(Clone, Debug)]
pub struct Sheet {
    /// What it is, in words.
    pub title: Option<Name>,
    /// Its form.
    pub form: Form,
    /// Its terminals, in printed order.
    pub terminals: Vec<SheetTerminal>,
    /// What lies between them.
    pub parts: Vec<Part>,
    /// The contacts that unlock something, with what they say: a device or an entry of one.
    pub unlocks: Vec<(PartId, String, Place)>,
    /// Printed on the drawing and the test sheet.
    pub cautions: Arc<[String]>,
    /// The graphic symbol asked for.
    pub symbol: Option<Name>,
}

/// A terminal of a type, and where it stands.
#[derive(Clone, Debug)]
pub struct SheetTerminal {
    /// What the type says of it.
    pub of: Arc<TypeTerminal>,
    /// Where it stands.
    pub place: Place,
}

/// One entry of a section, brought together from the type and the device.
struct RawEntry<'v> {
    name: &'v str,
    place: Place,
    fields: Vec<Entry<'v>>,
    /// Whether the device adds it to what its type has.
    added: bool,
}

/// A data sheet before its entries are read: whatever stands in it, the device's own additions included.
#[derive(Default)]
pub struct Outline<'v> {
    title: Option<Said<'v>>,
    form: Option<Form>,
    ways: Option<(u32, Place)>,
    terminals: Vec<Value<'v>>,
    named: Vec<(&'static str, Vec<RawEntry<'v>>)>,
    lists: Vec<(&'static str, Vec<Value<'v>>)>,
    cautions: Vec<Said<'v>>,
    symbol: Option<Said<'v>>,
    place: Option<Place>,
    /// Whether the type has been read, so that what comes now is added by a device.
    of_type: bool,
}

impl<'v> Outline<'v> {
    /// Reads the map of a type.
    pub fn of_type(value: Value<'v>, name: &str, faults: &mut Faults) -> Self {
        let mut outline = Self { place: Some(value.place), ..Self::default() };
        let Some(mut fields) = Fields::open(value, format!("the data sheet `{name}`"), faults) else {
            return outline;
        };
        outline.title = fields.label("name", faults);
        let forms = [("box", Form::Box), ("splice", Form::Splice), ("strip", Form::Strip)];
        outline.form = fields.choice("form", &forms, faults);
        outline.add(&mut fields, faults);
        fields.finish(faults);
        outline.of_type = true;
        outline
    }

    /// Takes in what a type and a device may both say. Entries merge into those of the same name, key by key.
    pub fn add(&mut self, fields: &mut Fields<'v>, faults: &mut Faults) {
        if let Some(value) = fields.value("ways") {
            self.ways = fields.count("ways", MOST_WAYS, faults).map(|ways| (ways, value.place));
        }
        self.cautions.extend(fields.texts("cautions", faults));
        if let Some(symbol) = fields.text("symbol", faults) {
            known_symbol(symbol, faults);
            self.symbol = Some(symbol);
        }
        self.terminals.extend(fields.value("terminals"));
        for section in NAMED {
            let Some(value) = fields.value(section) else { continue };
            let Data::Map(entries) = value.data() else {
                let message = format!("`{section}` is a map of entries; here stands {}", value.shape());
                faults.error(value.place, message, format!("write `{section}: {{NAME: {{…}}}}`"));
                continue;
            };
            let bare =
                |entry: &Entry<'v>| KEYS_OF_ENTRIES.contains(&entry.key) && entry.value.text().is_some();
            if let Some(entry) = entries.clone().find(bare) {
                let message = format!("`{section}` holds entries with names; here stands a key of one");
                let fix = format!("give it a name: `{section}: {{NAME: {{{}: …}}}}`", entry.key);
                faults.error(entry.place, message, fix);
                continue;
            }
            for entry in entries {
                self.add_entry(section, entry, faults);
            }
        }
        for section in LISTS {
            let Some(value) = fields.value(section) else { continue };
            let items: Vec<Value<'v>> = match value.data() {
                Data::List(items) => items.collect(),
                _ => vec![value],
            };
            match self.lists.iter_mut().find(|(known, _)| known == section) {
                Some((_, all)) => all.extend(items),
                None => self.lists.push((section, items)),
            }
        }
    }

    fn add_entry(&mut self, section: &'static str, entry: Entry<'v>, faults: &mut Faults) {
        let twin = self.named.iter().find_map(|(other, entries)| {
            let twin = (*other != section).then(|| entries.iter().find(|e| e.name == entry.key)).flatten()?;
            Some((*other, twin.place))
        });
        if let Some((other, place)) = twin {
            faults.error_at(
                vec![(entry.place, format!("under `{section}`")), (place, format!("under `{other}`"))],
                format!("two entries are named `{}`", entry.key),
                "rename one of them: entry names are unique within a type",
            );
            return;
        }
        if !matches!(entry.value.data(), Data::Map(_) | Data::Empty) {
            let message = format!(
                "`{}` under `{section}` is a map of keys; here stands {}",
                entry.key,
                entry.value.shape()
            );
            faults.error(entry.value.place, message, format!("write `{}: {{key: value, …}}`", entry.key));
            return;
        }
        let at = match self.named.iter().position(|(known, _)| *known == section) {
            Some(at) => at,
            None => {
                self.named.push((section, Vec::new()));
                self.named.len() - 1
            }
        };
        let Some((_, entries)) = self.named.get_mut(at) else { return };
        let new: Vec<Entry<'v>> = entry.value.entries().collect();
        let full = entries.len() >= MOST;
        match entries.iter_mut().find(|e| e.name == entry.key) {
            Some(old) => {
                old.place = entry.place;
                merge(section, &mut old.fields, new);
            }
            None if full => {
                let message = format!("`{section}` has more than {MOST} entries");
                faults.error(entry.place, message, "describe the part by several types");
            }
            None => {
                let added = self.of_type;
                entries.push(RawEntry { name: entry.key, place: entry.place, fields: new, added });
            }
        }
    }

    /// Gives the quantities that stand on a device to the one entry that they can mean: its only source, else its only
    /// load, else its only coil, fuse or resistor; what only sources have goes to its only source.
    pub fn add_bare(&mut self, bare: &[Entry<'v>], faults: &mut Faults) {
        let mut given: BTreeMap<(usize, usize), Vec<Entry<'v>>> = BTreeMap::new();
        for &entry in bare {
            match self.meant_by(entry.key) {
                Ok(at) => given.entry(at).or_default().push(entry),
                Err(names) if names.is_empty() => {
                    let message = format!(
                        "the type has no source, load, coil, fuse or resistor that `{}` could set",
                        entry.key
                    );
                    faults.error(
                        entry.place,
                        message,
                        "take it out, or write it inside the entry that it belongs to",
                    );
                }
                Err(names) => {
                    let [first, second, ..] = names.as_slice() else { continue };
                    let message =
                        format!("`{}` could mean {} or {}", entry.key, described(first), described(second));
                    let fix = format!(
                        "write it inside the entry: `{}: {{{}: {{{}: …}}}}`",
                        first.0, first.1, entry.key
                    );
                    faults.error(entry.place, message, fix);
                }
            }
        }
        for ((section, at), fields) in given {
            if let Some((section, entries)) = self.named.get_mut(section)
                && let Some(raw) = entries.get_mut(at)
            {
                merge(section, &mut raw.fields, fields);
            }
        }
    }

    /// The place of the entry that a bare quantity means; else the entries between which it is not clear.
    fn meant_by(&self, key: &str) -> Result<(usize, usize), Vec<(&'static str, &'v str)>> {
        let groups: &[&[&str]] = match key {
            "volts" => &[&["sources"], &["loads"], &["coils"]],
            "amps" => &[&["sources"], &["loads"], &["coils", "fuses"]],
            "low" | "high" | "ah" | "fused" => &[&["sources"]],
            "ohms" => &[&["loads"], &["coils", "resistors"]],
            _ => &[&["loads"], &["coils"]],
        };
        for group in groups {
            let mut found = Vec::new();
            for (section_at, (section, entries)) in self.named.iter().enumerate() {
                if group.contains(section) {
                    let here =
                        entries.iter().enumerate().map(|(at, raw)| ((section_at, at), (*section, raw.name)));
                    found.extend(here);
                }
            }
            match found.as_slice() {
                [] => {}
                [(at, _)] => return Ok(*at),
                _ => return Err(found.into_iter().map(|(_, name)| name).collect()),
            }
        }
        Err(Vec::new())
    }

    /// Whether it is a strip of which nobody says, readably, how many ways it has.
    pub fn lacks_ways(&self) -> bool {
        self.form == Some(Form::Strip) && self.ways.is_none() && self.terminals.is_empty()
    }

    /// Whether it has terminals, by name or by its form.
    pub fn has_terminals(&self) -> bool {
        !self.terminals.is_empty() || matches!(self.form, Some(Form::Splice | Form::Strip))
    }

    /// Reads it out.
    pub fn compile(&self, place: Place, pool: &mut Pool, faults: &mut Faults) -> Sheet {
        let form = self.form.unwrap_or(Form::Box);
        let place = self.place.unwrap_or(place);
        if let Some((_, ways)) = self.ways.filter(|_| form != Form::Strip) {
            faults.error(
                ways,
                "only a terminal strip has `ways`",
                "take it out, or choose the type `terminal-strip`",
            );
        }
        let terminals = self.read_terminals(form, place, pool, faults);
        let names = Names::of(&terminals);
        let (mut parts, mut unlocks) = (Vec::new(), Vec::new());
        for (section, entries) in &self.named {
            for raw in entries {
                let what = format!("{} `{}`", entries::noun(section), raw.name);
                let mut fields = Fields::of(raw.fields.clone(), raw.place, what);
                let existing = fields.flag("existing", faults);
                let kind = entries::kind(section, &mut fields, &names, faults);
                if *section == "contacts"
                    && let Some(said) = fields.text("unlocks", faults)
                {
                    unlocks.push((part_id(&parts), said.text.to_owned(), said.place));
                }
                fields.finish(faults);
                if let Some(mut kind) = kind {
                    if raw.added
                        && let Kind::Contact(contact) = &kind
                    {
                        self.tell_second(raw, contact, &parts, faults);
                    }
                    pool.share(&mut kind);
                    let of = pool.part(raw.name, existing);
                    parts.push(Part { device: DeviceId(0), kind, place: raw.place, of });
                }
            }
        }
        for (section, items) in &self.lists {
            if *section == "bridges" && items.iter().all(|item| item.text().is_some()) {
                entries::one_bridge(items, faults);
                continue;
            }
            for (at, item) in items.iter().enumerate() {
                if let Some(kind) = entries::listed(section, *item, &names, faults) {
                    let of = pool.part(&format!("{section} {}", at + 1), false);
                    parts.push(Part { device: DeviceId(0), kind, place: item.place, of });
                }
            }
        }
        settle_movers(&mut parts);
        Sheet {
            title: self.title.map(|said| pool.name(said.text)),
            form,
            terminals,
            parts,
            unlocks,
            cautions: pool.texts(self.cautions.iter().map(|said| said.text.to_owned()).collect()),
            symbol: self.symbol.map(|said| pool.name(said.text)),
        }
    }

    /// Reports a contact that a device adds over terminals that a contact of its type joins already: what was meant is that
    /// contact, under its own name.
    fn tell_second(&self, raw: &RawEntry<'v>, contact: &Contact, parts: &[Part], faults: &mut Faults) {
        let ends = |contact: &Contact| {
            let pair = |throw: Option<TerminalId>| {
                throw.map(|throw| [contact.common.min(throw), contact.common.max(throw)])
            };
            [pair(contact.no), pair(contact.nc)]
        };
        let [no, nc] = ends(contact);
        let alike = parts.iter().find(|part| {
            let Kind::Contact(other) = &part.kind else { return false };
            let [other_no, other_nc] = ends(other);
            (no.is_some() && no == other_no) || (nc.is_some() && nc == other_nc)
        });
        if let Some(first) = alike {
            let message = format!(
                "the contact `{}` lies on terminals that the contact `{}` joins already",
                raw.name, first.name
            );
            let fix = format!("write `{}: {{…}}` to say more of that contact", first.name);
            faults.error(raw.place, message, fix);
        }
    }

    fn read_terminals(
        &self,
        form: Form,
        place: Place,
        pool: &mut Pool,
        faults: &mut Faults,
    ) -> Vec<SheetTerminal> {
        let ways = if form == Form::Strip { self.ways.map_or(0, |(ways, _)| ways) } else { 0 };
        let mut found: Vec<SheetTerminal> =
            (1..=ways).map(|n| bare_terminal(&n.to_string(), place, pool)).collect();
        if form == Form::Splice {
            if let Some(value) = self.terminals.first() {
                faults.error(value.place, "a splice is one point, without terminals", "take `terminals` out");
            }
            return vec![bare_terminal("", place, pool)];
        }
        for &value in &self.terminals {
            // A map says more of a terminal and may say it of one that is there; a list only adds.
            let (new, adds) = match value.data() {
                Data::Map(entries) => (entries.map(|e| read_terminal(e, pool, faults)).collect(), false),
                _ => {
                    let said = syntax::texts(value, "`terminals`", faults);
                    (
                        said.into_iter()
                            .map(|said| syntax::on_one_line(said, faults))
                            .map(|said| bare_terminal(said.text, said.place, pool))
                            .collect::<Vec<_>>(),
                        true,
                    )
                }
            };
            for terminal in new {
                if terminal.of.name.is_empty() {
                    faults.error(
                        terminal.place,
                        "a terminal has no name",
                        "write what is printed on the part",
                    );
                    continue;
                }
                let full = found.len() >= MOST;
                match found.iter_mut().find(|t| t.of.name == terminal.of.name) {
                    Some(old) if adds => faults.error_at(
                        vec![(terminal.place, "again here".into()), (old.place, "first here".into())],
                        format!("there are two terminals `{}`", terminal.of.name),
                        "give each terminal its own name, as printed on the part",
                    ),
                    Some(old) => *old = terminal,
                    None if full => {
                        let message = format!("the part has more than {MOST} terminals");
                        faults.error(terminal.place, message, "describe it by several types");
                        return found;
                    }
                    None => found.push(terminal),
                }
            }
        }
        found
    }
}

/// Contacts whose `by` names a coil of the sheet are moved by that coil; any other word is the world's.
fn settle_movers(parts: &mut [Part]) {
    let coils: Vec<(Name, PartId)> = (0..)
        .map(PartId)
        .zip(parts.iter())
        .filter(|(_, part)| matches!(part.kind, Kind::Coil(_)))
        .map(|(id, part)| (part.name.clone(), id))
        .collect();
    for part in parts {
        if let Kind::Contact(contact) = &mut part.kind
            && let Some(word) = &contact.by_word
            && let Some((_, coil)) = coils.iter().find(|(name, _)| name == word)
        {
            contact.coil = Some(*coil);
        }
    }
}

/// The terminals of a sheet by name.
pub struct Names<'n> {
    order: Vec<&'n str>,
    index: BTreeMap<&'n str, u32>,
}

impl<'n> Names<'n> {
    fn of(terminals: &'n [SheetTerminal]) -> Self {
        let order: Vec<&str> = terminals.iter().map(|t| t.of.name.as_str()).collect();
        let index = order.iter().copied().zip(0..).collect();
        Self { order, index }
    }

    /// The terminal of that name; an unknown one is reported.
    pub fn find(&self, said: Said<'_>, faults: &mut Faults) -> Option<TerminalId> {
        let found = self.index.get(said.text).copied().map(TerminalId);
        if found.is_none() {
            let list = syntax::listed(self.order.iter().copied());
            let fix = match faults.nearest(said.text, self.order.iter().copied()) {
                Some(near) => format!("did you mean `{near}`? The terminals are: {list}"),
                None if self.order.is_empty() => "list it under `terminals:`".to_owned(),
                None => format!("the terminals are: {list}"),
            };
            faults.error(said.place, format!("the type has no terminal `{}`", said.text), fix);
        }
        found
    }
}

/// Puts new fields over old ones. A load or coil that is told its poles or its draw in another way forgets the old way.
fn merge<'v>(section: &str, old: &mut Vec<Entry<'v>>, new: Vec<Entry<'v>>) {
    const POLES: &[&[&str]] = &[&["plus", "minus"], &["between"]];
    const DRAWS: &[&[&str]] = &[&["amps"], &["ohms"], &["watts"]];
    let choices: &[&[&[&str]]] = if matches!(section, "loads" | "coils") { &[POLES, DRAWS] } else { &[] };
    old.retain(|field| {
        let key = field.key;
        let replaced = new.iter().any(|n| n.key == key);
        let other_way = choices.iter().any(|ways| {
            let mine = ways.iter().position(|way| way.contains(&key));
            let theirs = |n: &Entry<'_>| ways.iter().position(|way| way.contains(&n.key));
            mine.is_some() && new.iter().any(|n| theirs(n).is_some_and(|theirs| Some(theirs) != mine))
        });
        !replaced && !other_way
    });
    old.extend(new);
}

fn described((section, name): &(&str, &str)) -> String {
    format!("{} `{name}`", entries::noun(section))
}

fn part_id(parts: &[Part]) -> PartId {
    PartId(small(parts.len()))
}

fn bare_terminal(name: &str, place: Place, pool: &mut Pool) -> SheetTerminal {
    let name = pool.name(name);
    let of = TypeTerminal { name, label: None, lead: None, fits: None, conductors: None };
    SheetTerminal { of: pool.terminal(of), place }
}

/// A lead has a colour.
fn check_lead(said: Said<'_>, faults: &mut Faults) {
    if colours_of(said.text).is_empty() {
        let fix = match faults.nearest(said.text, colour_words()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => "write a colour, as in `lead: red` or `lead: white-blue`".to_owned(),
        };
        faults.error(said.place, format!("a lead cannot be `{}`", said.text), fix);
    }
}

fn read_terminal(entry: Entry<'_>, pool: &mut Pool, faults: &mut Faults) -> SheetTerminal {
    let what = format!("the terminal `{}`", entry.key);
    let Some(mut fields) = Fields::open(entry.value, what, faults) else {
        return bare_terminal(entry.key, entry.place, pool);
    };
    let lead = fields.text("lead", faults).map(|said| {
        check_lead(said, faults);
        pool.name(said.text)
    });
    let fits = fields.span::<SquareMm>("fits", faults);
    let conductors = fields.count("conductors", 99, faults);
    let label = fields.label("label", faults).map(|said| pool.name(said.text));
    fields.finish(faults);
    let of = TypeTerminal { name: pool.name(entry.key), label, lead, fits, conductors };
    SheetTerminal { of: pool.terminal(of), place: entry.place }
}

/// Says so when there is no graphic symbol of that name.
fn known_symbol(symbol: Said<'_>, faults: &mut Faults) {
    if library::graphic(symbol.text).is_some() {
        return;
    }
    let fix = match faults.nearest(symbol.text, library::GRAPHICS.iter().map(|(name, _)| *name)) {
        Some(near) => format!("did you mean `{near}`?"),
        None => "write one that `bellwire library` lists, or leave `symbol:` out".to_owned(),
    };
    let message = format!("there is no symbol `{}`; the drawing follows the sections instead", symbol.text);
    faults.note(library::UNKNOWN_SYMBOL, vec![(symbol.place, String::new())], message, fix);
}
