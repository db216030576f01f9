//! The cables of a job: every core of every cable accounted for.

use std::cell::OnceCell;
use std::collections::BTreeMap;
use std::rc::Rc;
use std::sync::Arc;

use super::colours::{colour_words, colours_of, same_core};
use super::conductors::{Class, Conductor};
use super::names::Directory;
use super::read::Context;
use super::shared::Pool;
use super::{
    Cable, CableId, Colours, Conductors, Core, CoreEnd, CoreId, End, Figure, Name, Origin, Run, Safe,
    TerminalId,
};
use crate::library::{Found, shipped_cable};
use crate::source::{Place, small};
use crate::syntax::{self, Data, Entry, Faults, Fields, Said, Value};
use crate::units::{self, Amps, ConductorSize, OhmsPerKm};

/// The words that stand where a terminal could: how an end was left.
pub const END_WORDS: &[&str] = &["taped", "sleeved", "capped", "parked", "bare", "spare"];

/// The most cores of one cable type.
const MOST_CORES: u32 = 999;

/// The same for what a list of cores may hold.
const MOST_LISTED: usize = MOST_CORES as usize;

/// The ways of making an end safe, by their words.
pub fn safe() -> [(&'static str, Safe); 4] {
    [Safe::Taped, Safe::Sleeved, Safe::Capped, Safe::Parked].map(|way| (way.word(), way))
}

/// The cables and their cores.
#[derive(Default)]
pub struct Cables {
    pub cables: Vec<Cable>,
    pub cores: Vec<Core>,
    /// By name, once a name was looked for: only what is accepted names a cable.
    index: OnceCell<BTreeMap<Name, CableId>>,
}

impl Cables {
    /// The cable of that name.
    pub fn find(&self, name: &str) -> Option<CableId> {
        let names = || self.cables.iter().map(|cable| cable.name.clone()).zip((0..).map(CableId)).collect();
        self.index.get_or_init(names).get(name).copied()
    }

    /// The names of all cables.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.cables.iter().map(|cable| cable.name.as_str())
    }

    /// The core that `W2.blue` names. A cable's name may have dots.
    pub fn find_core(&self, text: &str) -> Option<CoreId> {
        text.match_indices('.').find_map(|(at, _)| {
            let cable = self.cables.get(self.find(&text[..at])?.index())?;
            let wanted = &text[at + 1..];
            let same =
                |id: &u32| self.cores.get(*id as usize).is_some_and(|core| same_core(&core.name, wanted));
            cable.cores.iter().find(same).map(CoreId)
        })
    }
}

/// A cable type, read.
#[derive(Clone, Debug, Default)]
struct CableSheet {
    /// Its cores in order; `None` where the cable lists them itself.
    cores: Option<Vec<TypeCore>>,
    /// How many cores the cable must list.
    listed: Option<u32>,
    conductor: Conductor,
    ohm_per_km: Option<OhmsPerKm>,
    amps: Option<Amps>,
    /// Numbers of cores that are twisted together.
    pairs: Vec<[usize; 2]>,
    screened: bool,
    /// The number of the drain's core.
    drain: Option<usize>,
}

#[derive(Clone, Debug)]
struct TypeCore {
    name: Name,
    colours: Colours,
}

/// Reads the job's own cable data for its faults, whether a cable is of that type or not.
pub fn check_types(value: Option<Value<'_>>, context: &mut Context<'_>) {
    let Some(value) = value else { return };
    if Fields::open(value, "`cable_data`", &mut context.faults).is_none() {
        return;
    }
    for entry in value.entries() {
        cable_sheet(Found { name: entry.key, value: entry.value, size: None }, &mut context.faults);
    }
}

/// Reads `cables:`.
pub fn read<'v>(value: Option<Value<'v>>, directory: &Directory<'_>, context: &mut Context<'v>) -> Cables {
    let mut found = Cables::default();
    let Some(value) = value else { return found };
    if Fields::open(value, "`cables`", &mut context.faults).is_none() {
        return found;
    }
    let mut types = Types::default();
    found.cables.reserve_exact(value.entries().count());
    let listed = value.entries().filter_map(|cable| cable.value.get("cores"));
    found.cores.reserve_exact(listed.map(|cores| cores.entries().count()).sum());
    for entry in value.entries() {
        if entry.key.trim().is_empty() {
            context.faults.error(entry.place, "a cable has no name", "write what its label says");
        }
        cable(entry, directory, &mut types, &mut found, context);
    }
    found
}

/// The types read so far, and what cables without a type share.
#[derive(Default)]
struct Types<'v> {
    named: BTreeMap<&'v str, Borne>,
    none: Borne,
}

/// A type that cables bear, and what all of them share that say nothing else.
#[derive(Clone, Default)]
struct Borne {
    sheet: Rc<CableSheet>,
    of: Arc<Conductors>,
}

fn cable<'v>(
    entry: Entry<'v>,
    directory: &Directory<'_>,
    types: &mut Types<'v>,
    found: &mut Cables,
    context: &mut Context<'v>,
) {
    let what = format!("the cable {}", entry.key);
    let Some(mut fields) = Fields::open(entry.value, what, &mut context.faults) else { return };
    let type_name = fields.text("type", &mut context.faults);
    let borne = match type_name {
        None => Some(types.none.clone()),
        Some(said) => borne(said, &mut types.named, context),
    };
    let Context { faults, pool, .. } = context;
    let length = fields.quantity("length", faults);
    let separated = fields.flag("separated", faults);
    let colours = fields.value("colours");
    let cores = fields.value("cores");
    let own = read_conductor(&mut fields, faults);
    fields.finish(faults);

    // An unknown type has been reported; the cores that the cable lists are still looked at.
    let known = borne.is_some();
    let Borne { mut sheet, mut of } = borne.unwrap_or_default();
    if own.says_anything() {
        let sheet = Rc::make_mut(&mut sheet);
        own.put_over(sheet);
        of = Arc::new(sheet.conductors(type_name.map(|said| pool.name(said.text)), pool));
    }
    if let Some(colours) = colours {
        rename(Rc::make_mut(&mut sheet), colours, entry, faults);
    }
    let lister = Lister { cable: CableId(small(found.cables.len())), entry, directory };
    let listed = lister.listed(cores, faults);
    let known = known && listed.is_some();
    let start = small(found.cores.len());
    found.cores.extend(lister.match_up(&sheet, known, listed.unwrap_or_default(), pool, faults));
    let run = Run { start, end: small(found.cores.len()) };
    let of_name = |wanted: &str| found.cores.iter().skip(start as usize).position(|core| core.name == wanted);
    // A cable without cable data has its drain by name.
    if of.drain.is_none()
        && let Some(drain) = of_name("drain").or_else(|| of_name("screen"))
    {
        let of = Arc::make_mut(&mut of);
        of.drain = Some(small(drain));
        of.screened = true;
    }
    found.cables.push(Cable {
        name: entry.key.into(),
        length,
        separated,
        cores: run,
        place: entry.place,
        of,
    });
}

/// The cable type of that name; one that is not there is reported.
fn borne<'v>(
    said: Said<'v>,
    types: &mut BTreeMap<&'v str, Borne>,
    context: &mut Context<'v>,
) -> Option<Borne> {
    if let Some(known) = types.get(said.text) {
        return Some(known.clone());
    }
    let name = said.text.trim();
    let Some(found) = context.library.cable(name) else {
        // `twn-0.75` is near to `twin-S` once its size is taken away, and so is `twin` that has none.
        let sizeless = format!("{}-S", name.rsplit_once('-').map_or(name, |(stem, _)| stem));
        let hyphened = name.replace(' ', "-");
        let known = |name: &str| context.library.cable(name).is_some() || shipped_cable(name).is_some();
        let near = context.faults.nearest(name, context.library.known_cables());
        let near = near.or_else(|| context.faults.nearest(&sizeless, context.library.known_cables()));
        let fix = match near {
            _ if hyphened != name && known(&hyphened) => {
                format!("did you mean `{hyphened}`?")
            }
            Some(near) if near.ends_with("-S") => {
                format!("did you mean `{near}`, with a size such as 0.75 (mm²) or 18AWG for the S?")
            }
            _ => context.faults.did_you_mean(name, context.library.known_cables()).unwrap_or_else(|| {
                "describe it under `cable_data:`, or leave `type` out and list all its cores".to_owned()
            }),
        };
        context.faults.error(said.place, format!("there is no cable type `{name}`"), fix);
        return None;
    };
    let sheet = cable_sheet(found, &mut context.faults);
    let type_name = context.pool.name(said.text);
    let of = Arc::new(sheet.conductors(Some(type_name), &mut context.pool));
    let new = Borne { sheet: Rc::new(sheet), of };
    types.insert(said.text, new.clone());
    Some(new)
}

impl CableSheet {
    /// What a cable says of its conductors that bears this.
    fn conductors(&self, type_name: Option<Name>, pool: &mut Pool) -> Conductors {
        let stated = |value| Figure { value, from: Origin::Stated };
        Conductors {
            type_name,
            area: self.conductor.size(),
            size_text: self.conductor.size_text().map(|text| pool.name(&text)),
            ohm_per_km: self.ohm_per_km.map(stated).or_else(|| self.conductor.resistance()),
            amps: self
                .amps
                .map(|value| Figure { value, from: Origin::Stated })
                .or_else(|| self.conductor.amps()),
            pairs: self.pairs.iter().map(|pair| pair.map(small)).collect(),
            drain: self.drain.map(small),
            screened: self.screened || self.drain.is_some(),
        }
    }
}

/// What may be said of a conductor, in the cable data or on the cable itself.
#[derive(Default, PartialEq)]
struct OwnData {
    conductor: Conductor,
    ohm_per_km: Option<OhmsPerKm>,
    amps: Option<Amps>,
}

impl OwnData {
    fn says_anything(&self) -> bool {
        *self != Self::default()
    }

    fn put_over(self, sheet: &mut CableSheet) {
        let old = &mut sheet.conductor;
        let sized = self.conductor.area.is_some() || self.conductor.gauge.is_some();
        if sized || self.conductor.strands.is_some() {
            // A cable of another size has neither the strands nor the figures of its type.
            *old = Conductor { class: old.class, ..self.conductor };
            sheet.ohm_per_km = None;
            sheet.amps = None;
        }
        old.class = self.conductor.class.or(old.class);
        sheet.ohm_per_km = self.ohm_per_km.or(sheet.ohm_per_km);
        sheet.amps = self.amps.or(sheet.amps);
    }
}

fn read_conductor(fields: &mut Fields<'_>, faults: &mut Faults) -> OwnData {
    let mut own = OwnData::default();
    if let Some(said) = fields.text("area", faults) {
        match units::gauge(said.text) {
            Some(gauge) => own.conductor.gauge = Some(gauge),
            None => {
                own.conductor.area =
                    fields.quantity("area", faults).filter(|area: &units::SquareMm| area.0 > 0.0)
            }
        }
    }
    let classes = [("1", Class::Solid), ("2", Class::Stranded), ("5", Class::Flexible)];
    own.conductor.class = fields.choice("conductor_class", &classes, faults);
    if let Some(said) = fields.text("strands", faults) {
        own.conductor.strands = strands(said.text);
        if own.conductor.strands.is_none() {
            let message = format!("`{}` is no strand count", said.text);
            faults.error(
                said.place,
                message,
                "write the number of strands and their diameter in mm, as in `24/0.20`",
            );
        }
    }
    own.ohm_per_km = fields.quantity("ohm_per_km", faults);
    own.amps = fields.quantity("amps", faults);
    own
}

/// `24/0.20`: the number of strands and their diameter in mm.
fn strands(text: &str) -> Option<(u32, f64)> {
    let (count, diameter) = text.split_once('/')?;
    let count: u32 = count.trim().parse().ok()?;
    let diameter: f64 = diameter.trim().trim_end_matches("mm").trim().parse().ok()?;
    ((1..=10_000).contains(&count) && (0.01..=20.0).contains(&diameter)).then_some((count, diameter))
}

fn cable_sheet(found: Found<'_>, faults: &mut Faults) -> CableSheet {
    let mut sheet = CableSheet::default();
    let what = format!("the cable data `{}`", found.name);
    let Some(mut fields) = Fields::open(found.value, what, faults) else { return sheet };
    // A name of the part for people; nothing is computed from it.
    fields.text("name", faults);
    match fields.value("cores") {
        Some(value) if value.text().is_some() => sheet.listed = fields.count("cores", MOST_CORES, faults),
        Some(value) => sheet.cores = Some(type_cores(value, faults)),
        None => {}
    }
    let own = read_conductor(&mut fields, faults);
    sheet.conductor = own.conductor;
    sheet.ohm_per_km = own.ohm_per_km;
    sheet.amps = own.amps;
    if let Some(size) = found.size
        && sheet.conductor.size().is_none()
    {
        match size {
            ConductorSize::Area(area) => sheet.conductor.area = Some(area),
            ConductorSize::Gauge(gauge) => sheet.conductor.gauge = Some(gauge),
        }
    }
    let cores = sheet.cores.clone().unwrap_or_default();
    let find = |said: Said<'_>, faults: &mut Faults| {
        let at = cores.iter().position(|core| same_core(&core.name, said.text));
        if at.is_none() {
            let list = syntax::listed(cores.iter().map(|core| core.name.as_str()));
            faults.error(
                said.place,
                format!("the cable has no core `{}`", said.text),
                format!("its cores are: {list}"),
            );
        }
        at
    };
    if let Some(value) = fields.value("pairs") {
        for item in super::intents::items(Some(value), "`pairs`", faults) {
            match syntax::texts(item, "a pair", faults).as_slice() {
                [a, b] => sheet.pairs.extend(find(*a, faults).zip(find(*b, faults)).map(|(a, b)| [a, b])),
                _ => {
                    faults.error(item.place, "a pair is two cores", "write `pairs: [[white-blue, blue], …]`")
                }
            }
        }
    }
    if let Some(said) = fields.text("screen", faults) {
        match said.text {
            "false" => {}
            "true" => sheet.screened = true,
            _ => {
                sheet.screened = true;
                sheet.drain = find(said, faults);
            }
        }
    }
    fields.finish(faults);
    sheet
}

/// `cores:` of cable data: a list of names, or a map from names to colours.
fn type_cores(value: Value<'_>, faults: &mut Faults) -> Vec<TypeCore> {
    let mut cores: Vec<(TypeCore, Place)> = Vec::new();
    if let Data::Map(entries) = value.data() {
        for entry in entries {
            let colours = match syntax::said(entry.value) {
                Some(said) => colours_of(said.text),
                None => Colours::NONE,
            };
            if colours.is_empty() {
                let text = entry.value.text().unwrap_or_default();
                let fix = match faults.nearest(text, colour_words()) {
                    Some(near) => format!("did you mean `{near}`?"),
                    None => "write a colour word, as in `1: black` or `1: white-blue`".to_owned(),
                };
                let message = format!("the core `{}` has no colour that is known", entry.key);
                faults.error(entry.value.place, message, fix);
            }
            cores.push((TypeCore { name: entry.key.into(), colours }, entry.place));
        }
    } else {
        for said in syntax::texts(value, "`cores`", faults) {
            if cores.len() > MOST_LISTED {
                break;
            }
            if let Some((_, first)) = cores.iter().find(|(core, _)| same_core(&core.name, said.text)) {
                named_twice(said, *first, faults);
                continue;
            }
            cores.push((TypeCore { name: said.text.into(), colours: colours_of(said.text) }, said.place));
        }
    }
    if cores.len() > MOST_LISTED {
        let message = format!("the cable has more than {MOST_LISTED} cores");
        faults.error(value.place, message, "describe it as several cables");
    }
    cores.into_iter().take(MOST_LISTED).map(|(core, _)| core).collect()
}

fn named_twice(said: Said<'_>, first: Place, faults: &mut Faults) {
    faults.error_at(
        vec![(said.place, "again here".into()), (first, "first here".into())],
        format!("the cable has two cores `{}`", said.text),
        "give each core its own name",
    );
}

/// `colours:` of a cable renames its type's cores in order.
fn rename(sheet: &mut CableSheet, value: Value<'_>, entry: Entry<'_>, faults: &mut Faults) {
    let names = syntax::texts(value, "`colours`", faults);
    let Some(cores) = &mut sheet.cores else {
        let message = format!(
            "the cable {} lists its cores itself; there is nothing for `colours` to rename",
            entry.key
        );
        faults.error(value.place, message, "take `colours` out and name the cores under `cores:`");
        return;
    };
    let drain = sheet.drain;
    let count = cores.len();
    let insulated = count - usize::from(drain.is_some());
    if names.len() != count && names.len() != insulated {
        let message = format!("`colours` names {} cores; the type has {insulated}", names.len());
        faults.error(value.place, message, "name them all, in the type's order");
        return;
    }
    for (n, said) in names.iter().enumerate() {
        if let Some(first) = names[..n].iter().find(|first| same_core(first.text, said.text)) {
            named_twice(*said, first.place, faults);
        }
    }
    let all = names.len() == count;
    let renamed = cores.iter_mut().enumerate().filter(|(at, _)| all || Some(*at) != drain);
    for ((_, core), said) in renamed.zip(names) {
        core.name = said.text.into();
        core.colours = colours_of(said.text);
    }
}

/// A core as the cable lists it.
struct ListedCore<'v> {
    name: &'v str,
    place: Place,
    ends: Option<[CoreEnd; 2]>,
}

struct Lister<'l, 'v> {
    cable: CableId,
    entry: Entry<'v>,
    directory: &'l Directory<'l>,
}

impl<'v> Lister<'_, 'v> {
    /// The cores that the cable lists; `None` when they cannot be read.
    fn listed(&self, value: Option<Value<'v>>, faults: &mut Faults) -> Option<Vec<ListedCore<'v>>> {
        let Some(value) = value else { return Some(Vec::new()) };
        let Data::Map(entries) = value.data() else {
            let fix = "write each core with its two ends: `cores: {red: [G1.V+, F1.1], black: [G1.V-, X1]}`";
            syntax::not_a_map(value, "`cores`", fix, faults);
            return None;
        };
        let mut cores = Vec::new();
        let mut entries = entries.peekable();
        while let Some(core) = entries.next() {
            // `{red: G1.V+, F1.1}`: in braces the comma begins a new key, which has no value.
            let second = entries.peek().filter(|next| {
                next.value.is_empty() && core.value.text().is_some_and(|text| !END_WORDS.contains(&text))
            });
            if let (Some(second), Some(first)) = (second, core.value.text()) {
                let message = format!("the two ends of {} {} need brackets", self.entry.key, core.key);
                let fix = format!("write `{}: [{first}, {}]`", core.key, second.key);
                let both = core.value.place.with(core.value.place.start..second.place.end);
                faults.error(both, message, fix);
                entries.next();
                cores.push(ListedCore { name: core.key, place: core.place, ends: None });
                continue;
            }
            let ends = self.ends(core, faults);
            cores.push(ListedCore { name: core.key, place: core.place, ends });
        }
        Some(cores)
    }

    /// Brings the cores of the type and those that the cable lists together, in the type's order.
    fn match_up(
        &self,
        sheet: &CableSheet,
        known: bool,
        listed: Vec<ListedCore<'v>>,
        pool: &mut Pool,
        faults: &mut Faults,
    ) -> Vec<Core> {
        let spare = CoreEnd { to: End::Spare, place: self.entry.place };
        let mut core = |name: &str, colours: Colours, listed: Option<&ListedCore<'v>>| Core {
            cable: self.cable,
            ends: listed.and_then(|l| l.ends).unwrap_or([spare; 2]),
            place: listed.map_or(self.entry.place, |l| l.place),
            of: pool.core(name, colours, listed.is_some()),
        };
        let mut taken: Vec<bool> = vec![false; listed.len()];
        let mut of_type = Vec::new();
        for type_core in sheet.cores.iter().flatten() {
            // Two spellings of one colour are one core; what is listed a second time is reported below.
            let at = listed.iter().position(|l| l.name == type_core.name).or_else(|| {
                listed.iter().zip(&taken).position(|(l, taken)| !taken && same_core(l.name, &type_core.name))
            });
            if let Some(taken) = at.and_then(|at| taken.get_mut(at)) {
                *taken = true;
            }
            let listed = at.and_then(|at| listed.get(at));
            let name = listed.map_or(&*type_core.name, |l| l.name);
            of_type.push(core(name, type_core.colours, listed));
        }
        if sheet.cores.is_some() {
            for (l, _) in listed.iter().zip(&taken).filter(|(_, taken)| !**taken) {
                self.unknown_core(l, sheet, faults);
            }
            return of_type;
        }
        if let Some(count) = sheet.listed.filter(|_| known)
            && small(listed.len()) != count
        {
            let cores = if count == 1 { "core" } else { "cores" };
            let message = format!(
                "the cable {} lists {} cores; its type has {count} {cores}",
                self.entry.key,
                listed.len()
            );
            faults.error(self.entry.place, message, "list each core once, with its two ends");
        } else if known && listed.is_empty() {
            let message = format!("the cable {} has no cores", self.entry.key);
            faults.error(
                self.entry.place,
                message,
                "list them: `cores: {red: [G1.V+, F1.1]}`, or give the cable a `type`",
            );
        }
        listed.iter().map(|l| core(l.name, colours_of(l.name), Some(l))).collect()
    }

    fn unknown_core(&self, listed: &ListedCore<'v>, sheet: &CableSheet, faults: &mut Faults) {
        let names = || sheet.cores.iter().flatten().map(|core| core.name.as_str());
        let list = syntax::listed(names());
        let fix = match faults.nearest(listed.name, names()) {
            Some(near) => format!("did you mean `{near}`? Its cores are: {list}"),
            None => format!("its cores are: {list}; `colours:` renames them"),
        };
        faults.error(
            listed.place,
            format!("the cable {} has no core `{}`", self.entry.key, listed.name),
            fix,
        );
    }

    /// The two ends of a core, or one word for both.
    fn ends(&self, core: Entry<'v>, faults: &mut Faults) -> Option<[CoreEnd; 2]> {
        let name = format!("{} {}", self.entry.key, core.key);
        match core.value.data() {
            Data::Text(text) => {
                let said = Said { text, place: core.value.place };
                if let Some(to) = word(text.trim()) {
                    return Some([CoreEnd { to, place: said.place }; 2]);
                }
                self.not_two(&name, core.key, said, faults);
                None
            }
            Data::List(items) => {
                let count = items.clone().count();
                let mut items = items;
                match (items.next(), items.next(), count) {
                    (Some(near), Some(far), 2) => {
                        let (near, far) = (self.end(near, &name, faults), self.end(far, &name, faults));
                        let (near, far) = (near?, far?);
                        if matches!(near.to, End::Terminal(_)) && near.to == far.to {
                            let message = format!("both ends of {name} are on one terminal");
                            faults.error(far.place, message, "write where each end of the core goes");
                            return None;
                        }
                        Some([near, far])
                    }
                    (Some(only), None, _) => {
                        match syntax::said(only) {
                            Some(said) => self.not_two(&name, core.key, said, faults),
                            None => {
                                let message = format!("{name} has one end; a core has two");
                                faults.error(only.place, message, "write both ends: `[G1.V+, F1.1]`");
                            }
                        }
                        None
                    }
                    (first, _, count) => {
                        let message = format!("{name} has {count} ends; a core has two");
                        let fix = if first.is_none() {
                            "write both ends, or `taped` or `spare` for both"
                        } else {
                            "where more than two meet, put a splice or a terminal strip between them"
                        };
                        faults.error(core.value.place, message, fix);
                        None
                    }
                }
            }
            Data::Empty => {
                let fix = "write both ends, as in `[G1.V+, F1.1]`, or `taped` or `spare` for both";
                faults.error(core.place, format!("nothing is said about {name}"), fix);
                None
            }
            Data::Map(entries) => {
                let ends: Vec<&str> = entries.map(|entry| entry.key).collect();
                let fix = format!("write square brackets: `{}: [{}]`", core.key, ends.join(", "));
                faults.error(core.value.place, format!("the ends of {name} are a list, not a map"), fix);
                None
            }
        }
    }

    fn end(&self, value: Value<'v>, name: &str, faults: &mut Faults) -> Option<CoreEnd> {
        let Some(said) = syntax::said(value) else {
            let message = format!("an end of {name} is a terminal or a word; here stands {}", value.shape());
            faults.error(value.place, message, "write a terminal as `DEVICE.TERMINAL`, or `taped`");
            return None;
        };
        let to = match word(said.text.trim()) {
            Some(to) => to,
            None => End::Terminal(self.terminal(said, faults)?),
        };
        Some(CoreEnd { to, place: said.place })
    }

    fn terminal(&self, said: Said<'_>, faults: &mut Faults) -> Option<TerminalId> {
        self.directory.terminal(said, faults)
    }

    /// One text where two ends should be: the comma or the brackets are missing, or an end is.
    fn not_two(&self, name: &str, key: &str, said: Said<'_>, faults: &mut Faults) {
        // `F1.2 -> X1`, `F1.2; X1`, `F1.2 to X1` and the like.
        let text = said.text.replace("->", " ");
        let parting = |letter: char| letter.is_whitespace() || matches!(letter, ',' | ';' | '→' | '–');
        let parts: Vec<&str> = text.split(parting).filter(|part| !matches!(*part, "" | "-" | "to")).collect();
        match parts.as_slice() {
            [a, b] if said.text.contains(',') => {
                let message = format!("the two ends of {name} need brackets");
                faults.error(said.place, message, format!("write `{key}: [{a}, {b}]`"));
            }
            [a, b]
                if self.directory.device(said.text.split('.').next().unwrap_or_default()).is_none()
                    || b.contains('.')
                    || self.directory.device(b).is_some() =>
            {
                let message = format!("a comma is missing between the two ends of {name}");
                faults.error(said.place, message, format!("write `{key}: [{a}, {b}]`"));
            }
            _ => {
                let near = faults.nearest(said.text, END_WORDS.iter().copied());
                let fix = match near {
                    // The word is right, but stands in a list of its own.
                    Some(near) if near == said.text => {
                        format!("write it without brackets: `{key}: {near}`")
                    }
                    Some(near) if !said.text.contains('.') => format!("did you mean `{near}`?"),
                    _ if !said.text.contains('.') && self.directory.device(said.text).is_none() => {
                        format!("write where each end goes, as in `{key}: [DEVICE.TERMINAL, taped]`")
                    }
                    _ => format!("write both ends, as in `{key}: [{}, taped]`", said.text),
                };
                faults.error(said.place, format!("{name} has one end; a core has two"), fix);
            }
        }
    }
}

/// The meaning of a word that stands where a terminal could.
fn word(text: &str) -> Option<End> {
    match text {
        "bare" => Some(End::Bare),
        "spare" => Some(End::Spare),
        _ => safe().into_iter().find(|(word, _)| *word == text).map(|(_, way)| End::Safe(way)),
    }
}
