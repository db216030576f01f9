//! From the bytes of a job file to the job.

use std::collections::{BTreeMap, BTreeSet};

use super::shared::Pool;
use super::{Job, Kind};
use super::{accepted, cables, devices, exercise, hints, info, intents, names::Directory};
use crate::diagnostic::Finding;
use crate::library::{self, Library};
use crate::source::{FileId, Place, Sources};
use crate::syntax::{self, Faults, Fields, Said, Tree};

/// How many files one job may name under `use:`.
const MOST_FILES: usize = 100;

/// What came of reading a job file.
#[derive(Debug)]
pub struct Reading {
    /// The files that were read.
    pub sources: Sources,
    /// The job; `None` when anything could not be read.
    pub job: Option<Job>,
    /// What could not be read, rule `unreadable`, and notes, such as on a type that hides another.
    pub findings: Vec<Finding>,
}

/// Reads a job file. `fetch` gives the content of a file named under `use:`, by its path relative to the job file.
pub fn read(name: &str, bytes: Vec<u8>, fetch: &mut dyn FnMut(&str) -> Result<Vec<u8>, String>) -> Reading {
    let mut sources = Sources::new();
    let mut faults = Faults::new();
    let job = syntax::load(&mut sources, name, bytes, &mut faults)
        .and_then(|tree| read_tree(&tree, &mut sources, fetch, &mut faults));
    let job = job.filter(|_| !faults.any_error());
    Reading { sources, job, findings: faults.into_findings() }
}

/// Reads a job from its text alone; it cannot name other files.
#[must_use]
pub fn read_text(name: &str, text: &str) -> Reading {
    read(name, text.into(), &mut |_| Err("there are no other files here".to_owned()))
}

/// Everything that the readers of the sections share.
pub(super) struct Context<'v> {
    /// Where types are looked up.
    pub library: Library<'v>,
    /// The files from this one on are the program's own: what stands there is shown at the device instead.
    pub shipped_from: FileId,
    /// The names that were read so far.
    pub pool: Pool,
    /// What was found so far.
    pub faults: Faults,
}

impl Context<'_> {
    /// The place to show: `own` unless it lies in a file of the program, then `instead`.
    pub fn shown(&self, own: Place, instead: Place) -> Place {
        if own.file() >= self.shipped_from { instead } else { own }
    }
}

fn read_tree(
    tree: &Tree,
    sources: &mut Sources,
    fetch: &mut dyn FnMut(&str) -> Result<Vec<u8>, String>,
    faults: &mut Faults,
) -> Option<Job> {
    let mut top = Fields::open(tree.root(), "the job file", faults)?;
    let uses = top.texts("use", faults);
    let company: Vec<Tree> = told_once(uses, faults)
        .into_iter()
        .filter_map(|said| company_file(said, sources, fetch, faults))
        .collect();

    let mut library = Library::new();
    library.add_file(tree);
    for file in &company {
        library.add_file(file);
    }
    let shipped_from = sources.next_id();
    let types = types(tree, "devices");
    types.iter().for_each(|name| library.note_hidden_device(name, faults));
    let devices: Vec<(&'static str, Tree)> = library::device_types()
        .filter(|name| types.contains(name) && library.device(name).is_none())
        .filter_map(|name| {
            let text = library::device_sheet(name)?;
            Some((name, syntax::load(sources, &format!("symbols/devices/{name}.yaml"), text.into(), faults)?))
        })
        .collect();
    let types = self::types(tree, "cables");
    types.iter().for_each(|name| library.note_hidden_cable(name, faults));
    let wanted = types.iter().filter(|name| library.cable(name).is_none());
    let patterns: BTreeSet<&str> =
        wanted.filter_map(|name| library::shipped_cable(name)).map(|(pattern, _)| pattern).collect();
    let cables: Vec<(&'static str, Tree)> = library::cable_types()
        .filter(|name| patterns.contains(name))
        .filter_map(|name| {
            let text = library::cable_sheet(name)?;
            Some((name, syntax::load(sources, &format!("symbols/cables/{name}.yaml"), text.into(), faults)?))
        })
        .collect();
    library.add_shipped(&devices, &cables);

    let mut context =
        Context { library, shipped_from, pool: Pool::default(), faults: std::mem::take(faults) };
    let job = sections(&mut top, tree, &mut context);
    top.finish(&mut context.faults);
    *faults = context.faults;
    job
}

/// Reads the sections in an order in which each finds what it names.
fn sections<'v>(top: &mut Fields<'v>, tree: &'v Tree, context: &mut Context<'v>) -> Option<Job> {
    let head = top.entry("job").map(|entry| (entry.value, entry.place));
    let misspelt = top.misspelt("job", &context.faults);
    let info = info::read(head, tree.root().place, misspelt, &mut context.faults);
    devices::check_types(top.value("data_sheets"), context);
    cables::check_types(top.value("cable_data"), context);
    let mut job = Job {
        info: info.info,
        devices: Vec::new(),
        terminals: Vec::new(),
        unused: BTreeMap::new(),
        parts: Vec::new(),
        cables: Vec::new(),
        cores: Vec::new(),
        links: Vec::new(),
        hints: Vec::new(),
        cause_and_effect: Vec::new(),
        accepted: Vec::new(),
        exercise: exercise::read(top.entry("exercise"), &mut context.faults),
    };
    let pending = devices::read(top.value("devices"), &mut job, context);
    let directory = Directory::of(&job, &pending.opaque);
    let faults = &mut context.faults;
    let unlocked = intents::unlocks(pending.unlocks, &job, &directory, faults);
    let across = intents::across(&pending.across, &job, &directory, faults);
    let hints = hints::read(&pending.hints, &job, &directory, faults);
    let links = intents::links(top.value("links"), &directory, faults);
    let read_cables = cables::read(top.value("cables"), &directory, context);
    let faults = &mut context.faults;
    let cause_and_effect = intents::cause_and_effect(top.value("cause_and_effect"), &job, &directory, faults);
    let exclusive = intents::exclusive(info.exclusive, &job, &directory, faults);
    intents::check_locations(&info.separated, &job, faults);
    let accepted = accepted::read(top.value("accepted"), &read_cables, &directory, faults);
    drop(directory);

    job.links = links.into_iter().chain(across).collect();
    job.hints = hints;
    job.cause_and_effect = cause_and_effect;
    job.info.exclusive = exclusive;
    job.accepted = accepted;
    job.cables = read_cables.cables;
    job.cores = read_cables.cores;
    for (contact, lock) in unlocked {
        if let Some(part) = job.parts.get_mut(contact.index())
            && let Kind::Contact(contact) = &mut part.kind
        {
            contact.unlocks = Some(lock);
        }
    }
    // The lists of a large job grew by doubling; nothing is added to them from here on.
    job.devices.shrink_to_fit();
    job.cables.shrink_to_fit();
    job.terminals.shrink_to_fit();
    job.parts.shrink_to_fit();
    job.cores.shrink_to_fit();
    Some(job)
}

/// The types that a section names.
fn types<'v>(tree: &'v Tree, section: &str) -> BTreeSet<&'v str> {
    let entries = tree.root().get(section).into_iter().flat_map(|value| value.entries());
    entries
        .filter_map(|entry| entry.value.get("type"))
        .filter_map(|value| value.text())
        .map(str::trim)
        .collect()
}

/// The files to read: each once, and not more than a job may name.
fn told_once<'v>(uses: Vec<Said<'v>>, faults: &mut Faults) -> Vec<Said<'v>> {
    if let Some(beyond) = uses.get(MOST_FILES) {
        faults.error(
            beyond.place,
            format!("more than {MOST_FILES} files stand under `use:`"),
            "put the data sheets together in fewer files",
        );
        return Vec::new();
    }
    let mut once: Vec<Said<'v>> = Vec::new();
    for said in uses {
        match once.iter().find(|first| first.text == said.text) {
            Some(first) => faults.error_at(
                vec![(said.place, "again here".into()), (first.place, "first here".into())],
                format!("`{}` is named twice under `use:`", said.text),
                "take one of the two out",
            ),
            None => once.push(said),
        }
    }
    once
}

/// Reads a company file of data sheets.
fn company_file(
    said: Said<'_>,
    sources: &mut Sources,
    fetch: &mut dyn FnMut(&str) -> Result<Vec<u8>, String>,
    faults: &mut Faults,
) -> Option<Tree> {
    let path = said.text.trim();
    let outside = path.is_empty()
        || path.starts_with(['/', '\\', '~'])
        || path.contains([':', '\\'])
        || path.split('/').any(|step| step == "..");
    if outside {
        faults.error(
            said.place,
            format!("`{path}` does not lie in the folder of the job file"),
            "copy the file beside the job file or into a folder below it, and write its path from there with `/`",
        );
        return None;
    }
    let bytes = match fetch(path) {
        Ok(bytes) => bytes,
        Err(why) => {
            faults.error(
                said.place,
                format!("`{path}` cannot be read: {why}"),
                "check the name under `use:`",
            );
            return None;
        }
    };
    let tree = syntax::load(sources, path, bytes, faults)?;
    let mut fields = Fields::open(tree.root(), "a company file", faults)?;
    for section in ["data_sheets", "cable_data"] {
        if let Some(value) = fields.value(section) {
            let _ = Fields::open(value, format!("`{section}`"), faults);
        }
    }
    fields.finish(faults);
    Some(tree)
}
