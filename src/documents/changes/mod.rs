//! Design against as-built: what was changed, told apart, and what the changes do to the circuit.
//!
//! Both jobs are written down as plain entries ([`record`]); renames are found first and carried through the design, then
//! cores of one cable that changed places; what still differs is one change an entry. So the changes, applied to the
//! design in their order, give the as-built.

mod figures;
mod record;
mod renames;
mod tables;

use std::collections::BTreeMap;

use crate::circuit::{Circuit, NetId};
use crate::diagnostic::{Finding, Subject};
use crate::drawing::Revision;
use crate::netlist::{Job, TerminalId};
use crate::units::{self, Metres};

use super::gained::{Cores, gained};
pub use figures::Moved;
use record::{Record, Spot, pair};
pub use tables::{changes_table, findings_table, moved_table};

/// What kind of change it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Change {
    /// A device or cable has another name, or a device another title.
    Renamed,
    /// A device stands elsewhere, or an end is on another terminal or made safe otherwise.
    Moved,
    /// A connection runs in another core of its cable.
    Recoloured,
    /// A cable is longer.
    Lengthened,
    /// A cable is shorter.
    Shortened,
    /// It says something else: another type, figure or setting.
    Changed,
    /// It was not in the design.
    Added,
    /// It is not in the as-built.
    Removed,
    /// What it joined is joined by another path.
    Rerouted,
}

impl Change {
    /// The word in documents and JSON.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Renamed => "renamed",
            Self::Moved => "moved",
            Self::Recoloured => "recoloured",
            Self::Lengthened => "lengthened",
            Self::Shortened => "shortened",
            Self::Changed => "changed",
            Self::Added => "added",
            Self::Removed => "removed",
            Self::Rerouted => "rerouted",
        }
    }
}

/// One change.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// Its kind.
    pub kind: Change,
    /// What it is about: `device K1`, `device K1 location`, `cable W2 length`, `core W2 red`.
    pub what: String,
    /// What the design says; empty where it says nothing.
    pub before: String,
    /// What the as-built says; empty where it says nothing.
    pub after: String,
}

/// A job that was checked.
#[derive(Clone, Copy)]
pub struct Checked<'a> {
    /// The job.
    pub job: &'a Job,
    /// Its circuit.
    pub circuit: &'a Circuit,
    /// What was found in it.
    pub findings: &'a [Finding],
}

/// All that differs between two jobs.
#[derive(Debug)]
pub struct Changes<'a> {
    /// The changes.
    pub changes: Vec<Entry>,
    /// Findings that the as-built has and the design has not.
    pub gained: Vec<&'a Finding>,
    /// Findings that the design has and the as-built has not.
    pub lost: Vec<&'a Finding>,
    /// Volts and amps that moved.
    pub moved: Vec<Moved>,
}

/// Holds an as-built against its design.
#[must_use]
pub fn compare<'a>(design: Checked<'a>, built: Checked<'a>) -> Changes<'a> {
    let (changes, renames) = wiring(design, built);
    let name = |text: &str| {
        renames.iter().find(|(_, old, _)| old == text).map_or(text, |(_, _, new)| new.as_str()).to_owned()
    };
    let old_name = |text: &str| {
        renames.iter().find(|(_, _, new)| new == text).map_or(text, |(_, old, _)| old.as_str()).to_owned()
    };
    let (was, is) = ((design.job, design.findings), (built.job, built.findings));
    Changes {
        changes,
        gained: gained(is, was, &name, Cores::OfOneName),
        lost: gained(was, is, &old_name, Cores::OfOneName),
        moved: figures::moved(design, built, &name),
    }
}

/// What has another name: `device` or `cable`, the old name, the new one.
type Renames = Vec<(&'static str, String, String)>;

/// The changes alone, without what they do to the circuit, and what was renamed.
#[must_use]
pub fn wiring(design: Checked<'_>, built: Checked<'_>) -> (Vec<Entry>, Renames) {
    let (mut before, after) = (Record::of(design.job), Record::of(built.job));
    let mut changes = Vec::new();
    let renames = renames::renames(&mut before, &after);
    for (kind, old, new) in &renames {
        changes.push(Entry {
            kind: Change::Renamed,
            what: format!("{kind} {old}"),
            before: old.clone(),
            after: new.clone(),
        });
    }
    recolour(&mut before, &after, &mut changes);
    let nets = Nets { design, built, renames: &renames };
    differences(&before, &after, &nets, &mut changes);
    (changes, renames)
}

/// A job as the comparison sees it: what there is, and its value. The changes applied to those of the design, in their
/// order, give those of the as-built.
#[must_use]
pub fn entries(job: &Job) -> BTreeMap<String, String> {
    Record::of(job).entries()
}

/// Connections that run in another core of their cable.
fn recolour(before: &mut Record, after: &Record, changes: &mut Vec<Entry>) {
    let cores: Vec<(String, String)> = before.cores.keys().cloned().collect();
    for key in cores {
        let (cable, core) = &key;
        let Some(ends) = before.cores.get(&key).filter(|ends| ends.iter().all(Spot::landed)).cloned() else {
            continue;
        };
        if after.cores.get(&key) == Some(&ends) {
            continue;
        }
        let target = after
            .cores
            .iter()
            .filter(|((of, _), with)| of == cable && **with == ends)
            .find(|(other, _)| before.cores.get(*other) != Some(&ends));
        let Some(((_, new), _)) = target else { continue };
        changes.push(Entry {
            kind: Change::Recoloured,
            what: format!("cable {cable}, {}", pair(&ends)),
            before: core.clone(),
            after: new.clone(),
        });
        before.recolour(cable, core, new);
    }
}

/// What is joined in each of the two jobs, by the names of the as-built.
struct Nets<'a> {
    design: Checked<'a>,
    built: Checked<'a>,
    renames: &'a [(&'static str, String, String)],
}

impl Nets<'_> {
    fn new_name(&self, name: &str) -> String {
        let renamed = self.renames.iter().find(|(_, old, _)| old == name);
        renamed.map_or(name, |(_, _, new)| new.as_str()).to_owned()
    }

    fn net(&self, side: Checked<'_>, spot: &Spot, renamed: bool) -> Option<NetId> {
        let Spot::At(device, terminal) = spot else { return None };
        let found = side.job.terminal_ids().find(|(_, t)| {
            let owner = &side.job.device(t.device).name;
            t.name == *terminal && if renamed { self.new_name(owner) == *device } else { owner == device }
        });
        found.map(|(id, _)| side.circuit.net_of(id))
    }

    fn was(&self, spot: &Spot) -> Option<NetId> {
        self.net(self.design, spot, true)
    }

    fn is(&self, spot: &Spot) -> Option<NetId> {
        self.net(self.built, spot, false)
    }

    fn joined(&self, [a, b]: [&Spot; 2]) -> (bool, bool) {
        let same = |a: Option<NetId>, b: Option<NetId>| a.is_some() && a == b;
        (same(self.was(a), self.was(b)), same(self.is(a), self.is(b)))
    }
}

/// A length of a record in metres.
fn metres(length: &str) -> Option<f64> {
    units::quantity::<Metres>(length).ok().map(|length| length.0)
}

/// One change for every entry that still differs.
fn differences(before: &Record, after: &Record, nets: &Nets<'_>, changes: &mut Vec<Entry>) {
    let (old, new) = (before.entries(), after.entries());
    let rerouted = rerouted(before, after, nets);
    let mut keys: Vec<&String> = old.keys().chain(new.keys()).collect();
    keys.sort();
    keys.dedup();
    for what in keys {
        let (was, is) = (old.get(what), new.get(what));
        if was == is {
            continue;
        }
        let plain = match (was, is) {
            (None, _) => Change::Added,
            (_, None) => Change::Removed,
            (Some(was), Some(is)) if what.starts_with("cable ") && what.ends_with(" length") => {
                if metres(is) < metres(was) { Change::Shortened } else { Change::Lengthened }
            }
            _ if what.starts_with("device ") && what.ends_with(" location") => Change::Moved,
            _ if what.starts_with("device ") && what.ends_with(" name") => Change::Renamed,
            _ if what.starts_with("core ") => core_change(what, before, after),
            _ => Change::Changed,
        };
        let kind = if rerouted.contains(what) { Change::Rerouted } else { plain };
        let text = |value: Option<&String>| value.cloned().unwrap_or_default();
        changes.push(Entry { kind, what: what.clone(), before: text(was), after: text(is) });
    }
}

/// The ends of a core by the name of its entry.
fn core_of<'r>(record: &'r Record, what: &str) -> Option<&'r [Spot; 2]> {
    let named = |(cable, core): &(String, String)| format!("core {cable} {core}") == what;
    record.cores.iter().find(|(key, _)| named(key)).map(|(_, ends)| ends)
}

fn core_change(what: &str, before: &Record, after: &Record) -> Change {
    let landed = |record| core_of(record, what).map_or(0, |ends| ends.iter().filter(|e| e.landed()).count());
    match landed(after).cmp(&landed(before)) {
        std::cmp::Ordering::Less => Change::Removed,
        std::cmp::Ordering::Greater => Change::Added,
        std::cmp::Ordering::Equal => Change::Moved,
    }
}

/// The entries of cores that changed and yet join what was joined before: an end that moved along its conductor, or a
/// connection that went where another came for the same conductor.
fn rerouted(before: &Record, after: &Record, nets: &Nets<'_>) -> Vec<String> {
    let mut all = Vec::new();
    let mut gone: BTreeMap<NetId, Vec<String>> = BTreeMap::new();
    let mut come: BTreeMap<NetId, Vec<String>> = BTreeMap::new();
    let both = |ends: Option<&'_ [Spot; 2]>| ends.filter(|ends| ends.iter().all(Spot::landed)).cloned();
    let keys = before.cores.keys().chain(after.cores.keys().filter(|key| !before.cores.contains_key(*key)));
    for key in keys {
        let (was, is) = (both(before.cores.get(key)), both(after.cores.get(key)));
        let what = format!("core {} {}", key.0, key.1);
        match (was, is) {
            (Some(was), Some(is)) if was != is => {
                let away: Vec<&Spot> = was.iter().filter(|end| !is.contains(end)).collect();
                let there: Vec<&Spot> = is.iter().filter(|end| !was.contains(end)).collect();
                let along = away.iter().zip(&there).all(|(a, b)| nets.joined([a, b]) == (true, true));
                if along && nets.joined([&was[0], &was[1]]).1 {
                    all.push(what);
                }
            }
            (Some(was), None) if nets.joined([&was[0], &was[1]]).1 => {
                gone.entry(nets.is(&was[0]).unwrap_or(NetId(u32::MAX))).or_default().push(what);
            }
            (None, Some(is)) if nets.joined([&is[0], &is[1]]).0 => {
                come.entry(nets.is(&is[0]).unwrap_or(NetId(u32::MAX))).or_default().push(what);
            }
            _ => {}
        }
    }
    for (net, went) in gone {
        if let Some(came) = come.remove(&net) {
            all.extend(went.into_iter().chain(came));
        }
    }
    all
}

impl Changes<'_> {
    /// The changes as the as-built drawing shows them: numbered, each at what it is about.
    #[must_use]
    pub fn revisions(&self, built: &Job) -> Vec<Revision> {
        let numbered = (1..).zip(&self.changes);
        numbered
            .map(|(number, entry)| Revision {
                number,
                tag: entry.kind.word().to_uppercase(),
                struck: (entry.kind == Change::Removed).then(|| entry.what.clone()),
                subject: subject(built, entry),
                text: entry.sentence(),
            })
            .collect()
    }
}

impl Entry {
    /// `moved: core W2 red, K1.IN1 – B1.COM before, K1.IN2 – B1.COM now`.
    #[must_use]
    pub fn sentence(&self) -> String {
        let Self { kind, what, before, after } = self;
        let kind = kind.word();
        match (before.is_empty(), after.is_empty()) {
            (false, false) => format!("{kind}: {what}, {before} before, {after} now"),
            (true, false) => format!("{kind}: {what}, {after}"),
            (false, true) => format!("{kind}: {what}, {before} before"),
            (true, true) => format!("{kind}: {what}"),
        }
    }
}

/// What a change is about on the as-built: the thing itself, or where it used to land.
fn subject(job: &Job, entry: &Entry) -> Option<Subject> {
    let device = |name: &str| job.device_ids().find(|(_, d)| d.name == name).map(|(id, _)| Subject::from(id));
    let cable = |name: &str| job.cable_ids().find(|(_, c)| c.name == name).map(|(id, _)| Subject::from(id));
    let core = || {
        let named =
            |c: &crate::netlist::Core| format!("core {} {}", job.cable(c.cable).name, c.name) == entry.what;
        job.core_ids().find(|(_, c)| named(c)).map(|(id, _)| Subject::from(id))
    };
    let spot = |text: &str| {
        text.split(" – ").find_map(|end| {
            let found = job.terminal_ids().find(|(id, _)| job.label(*id).replacen(':', ".", 1) == end);
            found.map(|(id, _): (TerminalId, _)| Subject::from(id))
        })
    };
    let mut words = entry.what.split([' ', ',']);
    let kind = words.next().unwrap_or_default();
    let name = words.next().unwrap_or_default();
    let own = match (kind, entry.kind) {
        ("device", Change::Renamed) if entry.what.matches(' ').count() == 1 => device(&entry.after),
        ("cable", Change::Renamed) => cable(&entry.after),
        ("device", _) => device(name),
        ("cable", _) => cable(name),
        ("core", _) => core(),
        _ => None,
    };
    own.or_else(|| spot(&entry.after))
        .or_else(|| spot(&entry.before))
        .or_else(|| spot(entry.what.strip_prefix("link ").unwrap_or_default()))
}
