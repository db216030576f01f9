//! What must happen when, and what else is said about devices as wholes: links, locks, what excludes what.

use super::names::Directory;
use super::{CauseLine, Condition, DeviceId, Exclusive, Job, Kind, Link, PartId, StateWord, TerminalId};
use crate::source::Place;
use crate::syntax::{self, Data, Faults, Fields, Said, Value};

/// The state words; `at rest` stands before `rest`, with which it ends.
const STATES: &[(&str, StateWord)] = &[
    ("operated", StateWord::Operated),
    ("at rest", StateWord::AtRest),
    ("active", StateWord::Active),
    ("inactive", StateWord::Inactive),
    ("closed", StateWord::Closed),
    ("open", StateWord::Open),
    ("powered", StateWord::Powered),
    ("dead", StateWord::Dead),
    ("forward", StateWord::Forward),
    ("reverse", StateWord::Reverse),
    ("on", StateWord::On),
    ("off", StateWord::Off),
    ("rest", StateWord::Rest),
    ("alarm", StateWord::Alarm),
    ("tamper", StateWord::Tamper),
];

/// The states that say of different things that they do their work, and those that say that they do not. Whether a contact
/// is closed says neither.
const DOES_IT_OR_NOT: [[StateWord; 5]; 2] = [
    [StateWord::Operated, StateWord::Active, StateWord::Closed, StateWord::Powered, StateWord::On],
    [StateWord::AtRest, StateWord::Inactive, StateWord::Open, StateWord::Dead, StateWord::Off],
];

impl StateWord {
    /// The word, as a job file writes it.
    #[must_use]
    pub fn word(self) -> &'static str {
        STATES.iter().find(|(_, state)| *state == self).map_or("", |(word, _)| *word)
    }
}

impl Condition {
    /// The parts that it may be about: the one that it names, or all of its device.
    #[must_use]
    pub fn parts(&self, job: &Job) -> Vec<PartId> {
        self.part
            .map_or_else(|| job.device(self.device).parts.iter().map(PartId).collect(), |part| vec![part])
    }
}

/// The items of a list; anything else is reported.
pub fn items<'v>(
    value: Option<Value<'v>>,
    what: &str,
    faults: &mut Faults,
) -> impl Iterator<Item = Value<'v>> + use<'v> {
    let list = match value.map(|value| (value.data(), value)) {
        Some((Data::List(items), _)) => Some(items),
        Some((_, value)) => {
            let message = format!("{what} is a list; here stands {}", value.shape());
            faults.error(
                value.place,
                message,
                "write each item on a line after `- `, or the list in brackets",
            );
            None
        }
        None => None,
    };
    list.into_iter().flatten()
}

/// Two terminals of a list.
fn two_terminals(
    value: Value<'_>,
    what: &str,
    directory: &Directory<'_>,
    faults: &mut Faults,
) -> Option<[(TerminalId, Place); 2]> {
    let texts = syntax::texts(value, what, faults);
    let &[a, b] = texts.as_slice() else {
        let message = format!("{what} names two terminals, not {}", texts.len());
        faults.error(value.place, message, "write two terminals in brackets: `[X1.1, X1.2]`");
        return None;
    };
    let (first, second) = (directory.terminal(a, faults), directory.terminal(b, faults));
    Some([(first?, a.place), (second?, b.place)])
}

/// `links:`, jumpers without a cable.
pub fn links(value: Option<Value<'_>>, directory: &Directory<'_>, faults: &mut Faults) -> Vec<Link> {
    let mut found = Vec::new();
    for item in items(value, "`links`", faults) {
        let Some([(a, _), (b, place)]) = two_terminals(item, "a link", directory, faults) else { continue };
        if a == b {
            faults.error(place, "a link joins a terminal to itself", "write the two terminals that it joins");
            continue;
        }
        found.push(Link { ends: [a, b], across: None, place: item.place });
    }
    found
}

/// `across:` of two-terminal devices: the first terminal (a diode's cathode) to the first named, the second to the
/// second.
pub fn across(
    said: &[(DeviceId, Value<'_>)],
    job: &Job,
    directory: &Directory<'_>,
    faults: &mut Faults,
) -> Vec<Link> {
    let mut found = Vec::new();
    for (id, value) in said {
        let Some(named) = two_terminals(*value, "`across`", directory, faults) else { continue };
        if directory.is_opaque(*id) {
            continue;
        }
        let device = job.device(*id);
        let own: Vec<TerminalId> = device.terminals.iter().map(TerminalId).collect();
        let &[first, second] = own.as_slice() else {
            let message = format!(
                "{} has {} terminals; only a part with two can lie across others",
                device.name,
                own.len()
            );
            faults.error(value.place, message, "wire it with cables or `links:` instead");
            continue;
        };
        let cathode_second = device.parts.iter().any(|part| {
            job.parts.get(part as usize).is_some_and(|part| match &part.kind {
                Kind::Diode(diode) => diode.cathode == second,
                _ => false,
            })
        });
        let own = if cathode_second { [second, first] } else { [first, second] };
        for (mine, (theirs, place)) in own.into_iter().zip(named) {
            if job.terminal(theirs).device == *id {
                faults.error(
                    place,
                    format!("{} lies across itself", device.name),
                    "name the terminals of another part",
                );
                continue;
            }
            found.push(Link { ends: [mine, theirs], across: Some(*id), place });
        }
    }
    found
}

/// What contacts unlock: a lock's entry, or a device with one lock.
pub fn unlocks(
    said: Vec<(PartId, String, Place)>,
    job: &Job,
    directory: &Directory<'_>,
    faults: &mut Faults,
) -> Vec<(PartId, PartId)> {
    let mut found = Vec::new();
    for (contact, text, place) in said {
        let said = Said { text: &text, place };
        let text = text.trim();
        if let Some(id) = directory.device(text) {
            if directory.is_opaque(id) {
                continue;
            }
            let locks = parts_of(job, id, |kind| matches!(kind, Kind::Load(load) if load.lock.is_some()));
            match locks.as_slice() {
                [lock] => found.push((contact, *lock)),
                [] => {
                    let fix = "its load says `lock: locks-powered` or `lock: locks-dead`";
                    faults.error(place, format!("{text} has no load that is a lock"), fix);
                }
                several => {
                    faults.error(place, format!("{text} has several locks"), which(job, text, several))
                }
            }
        } else if !text.contains('.') {
            directory.unknown_device(text, said, faults);
        } else if let Some((_, part)) = directory.entry(said, text, faults) {
            match &job.part(part).kind {
                Kind::Load(_) => found.push((contact, part)),
                _ => faults.error(place, format!("`{text}` is no load"), "name the lock's load"),
            }
        }
    }
    found
}

/// `exclusive:` of the head: lists of entries that must never be on together.
pub fn exclusive(
    value: Option<Value<'_>>,
    job: &Job,
    directory: &Directory<'_>,
    faults: &mut Faults,
) -> Vec<Exclusive> {
    let mut found = Vec::new();
    for item in items(value, "`exclusive`", faults) {
        let mut parts = Vec::new();
        let texts = syntax::texts(item, "a list of entries under `exclusive`", faults);
        let said = texts.len();
        for text in texts {
            parts.extend(directory.entry(text, text.text.trim(), faults).map(|(_, part)| part));
        }
        if said < 2 {
            let fix = "write lists of entries: `exclusive: [[K1.C, K2.C]]`";
            faults.error(item.place, "at least two entries exclude each other", fix);
            continue;
        }
        let can_be_on = |part: &&PartId| {
            matches!(
                job.part(**part).kind,
                Kind::Coil(_)
                    | Kind::Contact(_)
                    | Kind::Output(_)
                    | Kind::TwoWire(_)
                    | Kind::Load(_)
                    | Kind::Input(_)
                    | Kind::DryInput(_)
                    | Kind::Source(_)
            )
        };
        if let Some(never) = parts.iter().find(|part| !can_be_on(part)) {
            let name = &job.part(*never).name;
            faults.error(
                item.place,
                format!("`{name}` is nothing that can be on or off"),
                "name coils, contacts, outputs, sensors, inputs or loads",
            );
        }
        found.push(Exclusive { parts, place: item.place });
    }
    found
}

/// Locations that are kept apart must be somebody's.
pub fn check_locations(separated: &[Said<'_>], job: &Job, faults: &mut Faults) {
    for said in separated {
        let wanted = super::info::location(said.text);
        if job.devices.iter().any(|device| device.location.starts_with(&wanted)) {
            continue;
        }
        let all: Vec<String> = job.devices.iter().map(|device| device.location.join("/")).collect();
        let fix = match faults.nearest(said.text, all.iter().map(String::as_str)) {
            Some(near) => format!("did you mean `{near}`?"),
            None => "write a location as its devices do".to_owned(),
        };
        faults.error(said.place, format!("no device stands in `{}`", said.text), fix);
    }
}

/// `cause_and_effect:`.
pub fn cause_and_effect(
    value: Option<Value<'_>>,
    job: &Job,
    directory: &Directory<'_>,
    faults: &mut Faults,
) -> Vec<CauseLine> {
    let mut found = Vec::new();
    for item in items(value, "`cause_and_effect`", faults) {
        let Some(mut fields) = Fields::open(item, "a line of cause and effect", faults) else { continue };
        let conditions = |key, fields: &mut Fields<'_>, faults: &mut Faults| -> Vec<Condition> {
            if let Some((value, words)) = fields.value(key).and_then(|value| Some((value, in_words(value)?)))
            {
                let message = format!("`{key}` holds conditions in words; here stand keys with values");
                faults.error(value.place, message, format!("write `{key}: [{words}]`"));
                return Vec::new();
            }
            let texts = fields.texts(key, faults);
            texts.into_iter().filter_map(|said| condition(said, job, directory, faults)).collect()
        };
        let first = conditions("first", &mut fields, faults);
        let when = conditions("when", &mut fields, faults);
        let then = conditions("then", &mut fields, faults);
        contradicting("when", &when, job, faults);
        contradicting("then", &then, job, faults);
        let said =
            |key: &'static str, fields: &mut Fields<'_>| match fields.value(key).map(|value| value.data()) {
                Some(Data::List(mut items)) => items.next().is_some(),
                Some(_) => true,
                None => false,
            };
        if !said("when", &mut fields) && !said("first", &mut fields) {
            let (place, message) = match fields.value("when") {
                Some(empty) => (empty.place, "`when` is empty"),
                None => (item.place, "the line has no `when`"),
            };
            faults.error(place, message, "add `when: B1 operated`; only after `first:` may it be empty");
        }
        if !said("then", &mut fields) {
            faults.error(
                item.place,
                "the line has no `then`",
                "add what must follow, as in `then: K1.IN1 active`",
            );
        }
        fields.finish(faults);
        found.push(CauseLine { first, when, then, place: item.place });
    }
    found
}

/// The states that exclude each other.
const OPPOSITES: &[[StateWord; 2]] = &[
    [StateWord::Operated, StateWord::AtRest],
    [StateWord::Active, StateWord::Inactive],
    [StateWord::Closed, StateWord::Open],
    [StateWord::Powered, StateWord::Dead],
    [StateWord::On, StateWord::Off],
    [StateWord::Forward, StateWord::Reverse],
];

/// Refuses two conditions of one list that cannot hold at the same time.
fn contradicting(key: &str, all: &[Condition], job: &Job, faults: &mut Faults) {
    for (n, later) in all.iter().enumerate() {
        let excludes = |earlier: &&Condition| {
            (earlier.device, earlier.part) == (later.device, later.part)
                && OPPOSITES.iter().any(|pair| {
                    earlier.state != later.state
                        && pair.contains(&earlier.state)
                        && pair.contains(&later.state)
                })
        };
        let Some(earlier) = all[..n].iter().find(excludes) else { continue };
        let message = format!(
            "`{key}` wants `{}` and `{}` at the same time",
            job.condition_words(earlier),
            job.condition_words(later)
        );
        let fix = "take one of them out; what is done one after the other stands under `first:`, in order";
        faults.error_at(
            vec![(later.place, String::new()), (earlier.place, "the other one".to_owned())],
            message,
            fix,
        );
    }
}

/// Conditions that are written as keys with values as they are meant: `S1: operated` is `S1 operated`.
fn in_words(value: Value<'_>) -> Option<String> {
    let items: Vec<Value<'_>> = match value.data() {
        Data::List(items) => items.collect(),
        _ => vec![value],
    };
    if !items.iter().any(|item| matches!(item.data(), Data::Map(_))) {
        return None;
    }
    let meant = |item: &Value<'_>| match item.data() {
        Data::Map(entries) => {
            entries.map(|entry| Some(format!("{} {}", entry.key, entry.value.text()?))).collect()
        }
        _ => Some(vec![item.text()?.to_owned()]),
    };
    let words: Option<Vec<Vec<String>>> = items.iter().map(meant).collect();
    Some(words?.concat().join(", "))
}

/// `K1.OUT1 operated`.
fn condition(said: Said<'_>, job: &Job, directory: &Directory<'_>, faults: &mut Faults) -> Option<Condition> {
    let text = said.text.trim();
    let split = STATES.iter().find_map(|(word, state)| {
        let name = text.strip_suffix(word)?;
        name.ends_with(' ').then(|| (name.trim_end(), *word, *state))
    });
    let Some((name, word, state)) = split else {
        let words = || STATES.iter().map(|(word, _)| *word);
        let last = text.rsplit(' ').next().unwrap_or_default();
        let near = if text.contains(' ') { faults.nearest(last, words()) } else { None };
        let fix = match near {
            Some(near) => format!("did you mean `{}{near}`?", text.strip_suffix(last).unwrap_or_default()),
            None => format!("end it with a state: {}", syntax::listed(words())),
        };
        faults.error(said.place, format!("`{text}` does not say a state"), fix);
        return None;
    };
    let (device, part) = match directory.device(name) {
        Some(device) if directory.is_opaque(device) => return None,
        Some(device) => (device, without_entry(device, word, state, said, job, faults)?),
        None if !name.contains('.') => {
            directory.unknown_device(name, said, faults);
            return None;
        }
        None => {
            let (device, part) = directory.entry(said, name, faults)?;
            if !fits(state, &job.part(part).kind) {
                let able = |state| fits(state, &job.part(part).kind);
                faults.error(
                    said.place,
                    format!("`{name}` cannot be `{word}`"),
                    it_can_be(name, state, able),
                );
                return None;
            }
            (device, Some(part))
        }
    };
    Some(Condition { device, part, state, place: said.place })
}

/// The states that something can be in, as a fix; first the one that means for it what another means elsewhere.
fn it_can_be(name: &str, wanted: StateWord, able: impl Fn(StateWord) -> bool) -> String {
    let words = || STATES.iter().filter(|(_, state)| able(*state));
    let says = !matches!(wanted, StateWord::Closed | StateWord::Open);
    let alike = DOES_IT_OR_NOT.iter().find(|words| says && words.contains(&wanted));
    let meant = alike.and_then(|alike| words().find(|(_, state)| alike.contains(state)));
    let listed = syntax::listed(words().map(|(word, _)| *word));
    match meant {
        _ if listed.is_empty() => "it has no state of its own".to_owned(),
        Some((word, _)) => format!("did you mean `{name} {word}`? It can be: {listed}"),
        None => format!("it can be: {listed}"),
    }
}

/// What `DEVICE state` means: all that the world moves, or the one entry that can be in that state.
fn without_entry(
    device: DeviceId,
    word: &str,
    state: StateWord,
    said: Said<'_>,
    job: &Job,
    faults: &mut Faults,
) -> Option<Option<PartId>> {
    let moving = matches!(state, StateWord::Operated | StateWord::AtRest);
    if moving && !parts_of(job, device, world_moves).is_empty() {
        return Some(None);
    }
    let candidates = if moving {
        parts_of(job, device, |kind| matches!(kind, Kind::Coil(_)))
    } else {
        parts_of(job, device, |kind| fits(state, kind))
    };
    let name = &job.device(device).name;
    match candidates.as_slice() {
        [part] => Some(Some(*part)),
        [] => {
            let able = |state| !parts_of(job, device, |kind| fits(state, kind)).is_empty();
            faults.error(
                said.place,
                format!("nothing in {name} can be `{word}`"),
                it_can_be(name, state, able),
            );
            None
        }
        several => {
            let message = format!("{} entries of {name} can be `{word}`", several.len());
            faults.error(said.place, message, which(job, name, several));
            None
        }
    }
}

/// Whether an entry of that kind can be in that state.
fn fits(state: StateWord, kind: &Kind) -> bool {
    match state {
        StateWord::Operated | StateWord::AtRest => {
            matches!(kind, Kind::Contact(_) | Kind::Coil(_) | Kind::Output(_) | Kind::TwoWire(_))
        }
        StateWord::Active | StateWord::Inactive => matches!(kind, Kind::Input(_)),
        StateWord::Closed | StateWord::Open => matches!(kind, Kind::DryInput(_)),
        StateWord::Powered | StateWord::Dead => matches!(kind, Kind::Load(_)),
        StateWord::Forward | StateWord::Reverse => matches!(kind, Kind::Load(load) if !load.polarised),
        StateWord::On | StateWord::Off => matches!(kind, Kind::Source(_)),
        StateWord::Rest | StateWord::Alarm | StateWord::Tamper => matches!(kind, Kind::Supervised(_)),
    }
}

/// Whether the world moves an entry of that kind, rather than a coil.
fn world_moves(kind: &Kind) -> bool {
    match kind {
        Kind::Contact(contact) => contact.coil.is_none(),
        Kind::Output(_) | Kind::TwoWire(_) => true,
        _ => false,
    }
}

fn parts_of(job: &Job, device: DeviceId, wanted: impl Fn(&Kind) -> bool) -> Vec<PartId> {
    let parts = job.device(device).parts.iter().map(PartId);
    parts.filter(|id| wanted(&job.part(*id).kind)).collect()
}

fn which(job: &Job, device: &str, parts: &[PartId]) -> String {
    let names: Vec<String> = parts.iter().map(|part| format!("{device}.{}", job.part(*part).name)).collect();
    format!("name one of them: {}", syntax::listed(names.iter().map(String::as_str)))
}
