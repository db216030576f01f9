//! A job as a list of plain entries, each with its value: what two jobs are compared by.

use std::collections::{BTreeMap, BTreeSet};

use crate::netlist::{
    Cable, CauseLine, Condition, End, Job, Kind, Meaning, Mover, Origin, PartId, TerminalId,
};

/// Where an end goes: a terminal by its names, or the way in which it was left.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Spot {
    /// Device and terminal.
    At(String, String),
    /// `taped`, `bare` …
    Loose(&'static str),
}

/// A condition of cause and effect: device, entry, state.
type Said = (String, String, String);

/// A job as entries.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Record {
    /// By device: its facts by name; `""` is its type.
    pub devices: BTreeMap<String, BTreeMap<String, String>>,
    /// By cable: its facts by name; `""` is its type.
    pub cables: BTreeMap<String, BTreeMap<String, String>>,
    /// By cable and core: its ends, the smaller first; which is near and which far makes no difference.
    pub cores: BTreeMap<(String, String), [Spot; 2]>,
    /// Jumpers, each with its ends in order.
    pub links: BTreeSet<[Spot; 2]>,
    /// Cause and effect: first, when, then.
    pub lines: BTreeSet<[Vec<Said>; 3]>,
}

impl Spot {
    fn of(job: &Job, terminal: TerminalId) -> Self {
        let terminal = job.terminal(terminal);
        Self::At(job.device(terminal.device).name.to_string(), terminal.name.to_string())
    }

    /// As the job file writes it.
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            Self::At(device, terminal) if terminal.is_empty() => device.clone(),
            Self::At(device, terminal) => format!("{device}.{terminal}"),
            Self::Loose(way) => (*way).to_owned(),
        }
    }

    /// Whether it is on a terminal.
    #[must_use]
    pub fn landed(&self) -> bool {
        matches!(self, Self::At(..))
    }

    fn renamed(&mut self, old: &str, new: &str) {
        if let Self::At(device, _) = self
            && device == old
        {
            new.clone_into(device);
        }
    }
}

/// Two ends in words.
#[must_use]
pub fn pair(ends: &[Spot; 2]) -> String {
    format!("{} – {}", ends[0].words(), ends[1].words())
}

fn sorted(mut ends: [Spot; 2]) -> [Spot; 2] {
    ends.sort();
    ends
}

/// A cable's type, with its size where the type's name does not say it: `twin-0.75`, `twin-0.75 of 1 mm²`.
fn conductors(cable: &Cable) -> String {
    match (&cable.type_name, &cable.size_text) {
        (Some(name), Some(size)) => {
            let figure = size.split(' ').next().unwrap_or_default();
            if name.ends_with(figure) { name.to_string() } else { format!("{name} of {size}") }
        }
        (Some(only), None) | (None, Some(only)) => only.to_string(),
        (None, None) => "no type".to_owned(),
    }
}

impl Record {
    /// The entries of a job. Its head (title, revision, date) is not compared.
    #[must_use]
    pub fn of(job: &Job) -> Self {
        let mut record = Self::default();
        for device in &job.devices {
            let mut facts = BTreeMap::new();
            let mut say = |fact: &str, value: String| facts.insert(fact.to_owned(), value);
            say("", device.type_name.clone().map_or_else(|| "no type".to_owned(), String::from));
            if let Some(title) = &device.title {
                say("name", title.to_string());
            }
            if !device.location.is_empty() {
                say("location", device.location.join("/"));
            }
            if device.rest_operated {
                say("rest", "operated".to_owned());
            }
            if let Some(loss) = device.on_loss {
                say("on loss", loss.word().to_owned());
            }
            for setting in &device.settings {
                let entry = setting.entry.as_ref().map(|entry| format!(" {entry}")).unwrap_or_default();
                let key = if setting.key.is_empty() { String::new() } else { format!(" {}", setting.key) };
                let value = match setting.meaning {
                    Meaning::Pulse(pulse) => pulse.to_string(),
                    _ => setting.value.clone(),
                };
                say(&format!("setting{entry}{key}"), value);
            }
            let names: Vec<&str> =
                device.terminals.iter().map(|t| job.terminal(TerminalId(t)).name.as_str()).collect();
            say("terminals", names.join(", "));
            for id in device.terminals.iter().map(TerminalId) {
                if let Some(unused) = job.unused(id) {
                    let way = unused.way.map_or("left empty", crate::netlist::Safe::word);
                    say(&format!("unused {}", job.terminal(id).name), way.to_owned());
                }
            }
            for part in device.parts.iter().map(PartId) {
                say(&job.part(part).name, part_words(job, part));
            }
            record.devices.insert(device.name.to_string(), facts);
        }
        for cable in &job.cables {
            let mut facts = BTreeMap::new();
            facts.insert(String::new(), conductors(cable));
            if let Some(figure) = cable.ohm_per_km.filter(|figure| figure.from == Origin::Stated) {
                facts.insert("resistance".to_owned(), figure.value.to_string());
            }
            if let Some(figure) = cable.amps.filter(|figure| figure.from == Origin::Stated) {
                facts.insert("amps".to_owned(), figure.value.to_string());
            }
            if cable.separated {
                facts.insert("separated".to_owned(), "yes".to_owned());
            }
            if let Some(length) = cable.length {
                facts.insert("length".to_owned(), length.to_string());
            }
            record.cables.insert(cable.name.to_string(), facts);
        }
        for core in &job.cores {
            let ends = core.ends.map(|end| match end.to {
                End::Terminal(terminal) => Spot::of(job, terminal),
                End::Safe(safe) => Spot::Loose(safe.word()),
                End::Bare => Spot::Loose("bare"),
                End::Spare => Spot::Loose("spare"),
            });
            let key = (job.cable(core.cable).name.to_string(), core.name.to_string());
            record.cores.insert(key, sorted(ends));
        }
        record.links = job.links.iter().map(|link| sorted(link.ends.map(|t| Spot::of(job, t)))).collect();
        record.lines = job.cause_and_effect.iter().map(|line| said(job, line)).collect();
        record
    }

    /// A device has another name.
    pub fn rename_device(&mut self, old: &str, new: &str) {
        if let Some(facts) = self.devices.remove(old) {
            self.devices.insert(new.to_owned(), facts);
        }
        for ends in self.cores.values_mut() {
            ends.iter_mut().for_each(|end| end.renamed(old, new));
            ends.sort();
        }
        let links = std::mem::take(&mut self.links).into_iter().map(|mut ends| {
            ends.iter_mut().for_each(|end| end.renamed(old, new));
            sorted(ends)
        });
        self.links = links.collect();
        let lines = std::mem::take(&mut self.lines).into_iter().map(|mut line| {
            let conditions = line.iter_mut().flatten();
            conditions.filter(|said| said.0 == old).for_each(|said| new.clone_into(&mut said.0));
            line
        });
        self.lines = lines.collect();
    }

    /// A cable has another name.
    pub fn rename_cable(&mut self, old: &str, new: &str) {
        if let Some(facts) = self.cables.remove(old) {
            self.cables.insert(new.to_owned(), facts);
        }
        let cores = std::mem::take(&mut self.cores).into_iter();
        self.cores = cores
            .map(|((cable, core), ends)| ((if cable == old { new.to_owned() } else { cable }, core), ends))
            .collect();
    }

    /// What two cores of a cable do changes over; a core that is not there takes the other's place.
    pub fn recolour(&mut self, cable: &str, old: &str, new: &str) {
        let [old, new] = [old, new].map(|core| (cable.to_owned(), core.to_owned()));
        let (first, second) = (self.cores.remove(&old), self.cores.remove(&new));
        self.cores.extend(first.map(|ends| (new, ends)));
        self.cores.extend(second.map(|ends| (old, ends)));
    }

    /// All entries: what it is, and its value. `device K1`, `device K1 location`, `cable W2`, `cable W2 length`,
    /// `core W2 red`, `link A.1 – B.2`, `line …`.
    #[must_use]
    pub fn entries(&self) -> BTreeMap<String, String> {
        let mut all = BTreeMap::new();
        for (kind, things) in [("device", &self.devices), ("cable", &self.cables)] {
            for (name, facts) in things {
                for (fact, value) in facts {
                    all.insert(format!("{kind} {name} {fact}").trim_end().to_owned(), value.clone());
                }
            }
        }
        all.extend(
            self.cores.iter().map(|((cable, core), ends)| (format!("core {cable} {core}"), pair(ends))),
        );
        all.extend(self.links.iter().map(|ends| (format!("link {}", pair(ends)), "joined".to_owned())));
        all.extend(self.lines.iter().map(|line| (format!("line {}", line_words(line)), "wanted".to_owned())));
        all
    }
}

fn said(job: &Job, line: &CauseLine) -> [Vec<Said>; 3] {
    let one = |condition: &Condition| {
        let entry = condition.part.map(|part| job.part(part).name.to_string()).unwrap_or_default();
        (job.device(condition.device).name.to_string(), entry, condition.state.word().to_owned())
    };
    [&line.first, &line.when, &line.then].map(|all| all.iter().map(one).collect())
}

fn line_words([first, when, then]: &[Vec<Said>; 3]) -> String {
    let words = |all: &[Said]| {
        let one = |(device, entry, state): &Said| {
            if entry.is_empty() { format!("{device} {state}") } else { format!("{device}.{entry} {state}") }
        };
        all.iter().map(one).collect::<Vec<_>>().join(" and ")
    };
    let before = if first.is_empty() { String::new() } else { format!("after {}, ", words(first)) };
    format!("{before}when {}, then {}", words(when), words(then))
}

/// A part in words: what it is, between which terminals, and its figures.
fn part_words(job: &Job, id: PartId) -> String {
    let part = job.part(id);
    let names: Vec<&str> = part.kind.terminals().into_iter().map(|t| job.terminal(t).name.as_str()).collect();
    let mut words = vec![kind_words(&part.kind).to_owned(), names.join(" ")];
    words.extend(figures(job, &part.kind));
    if part.existing {
        words.push("existing".to_owned());
    }
    words.retain(|word| !word.is_empty());
    words.join(", ")
}

fn kind_words(kind: &Kind) -> &'static str {
    match kind {
        Kind::Source(source) if source.battery => "battery",
        Kind::Source(source) if source.charges => "charger",
        Kind::Source(_) => "source",
        Kind::Load(load) if load.polarised => "polarised load",
        Kind::Load(_) => "load",
        Kind::Input(_) => "input",
        Kind::DryInput(dry) if dry.safety => "safety input",
        Kind::DryInput(_) => "volt-free input",
        Kind::Output(_) => "output",
        Kind::Contact(_) => "contact",
        Kind::Coil(coil) if coil.latching => "latching coil",
        Kind::Coil(_) => "coil",
        Kind::Bridge(_) => "bridge",
        Kind::Fuse(_) => "fuse",
        Kind::Resistor(_) => "resistor",
        Kind::Diode(_) => "diode",
        Kind::Suppressor(_) => "suppressor",
        Kind::Supervised(_) => "supervised loop",
        Kind::Analogue(_) => "analogue",
        Kind::TwoWire(_) => "two-wire sensor",
        Kind::SignalPair(_) => "signal pair",
        Kind::Screen(_) => "screen",
        Kind::Earth(_) => "earth",
        Kind::Aerial(_) => "aerial",
    }
}

/// The figures of a part, each in words.
fn figures(job: &Job, kind: &Kind) -> Vec<String> {
    fn shown<T: ToString>(value: Option<T>) -> Option<String> {
        value.map(|value| value.to_string())
    }
    let all: Vec<Option<String>> = match kind {
        Kind::Source(s) => {
            vec![shown(s.volts), shown(s.amps), shown(s.low), shown(s.high), shown(s.fused), shown(s.ah)]
        }
        Kind::Load(l) => vec![shown(l.volts), shown(l.draw), Some(l.takes.word().to_owned())],
        Kind::Input(i) => vec![
            shown(i.volts),
            Some(format!("active {}", i.active.word())),
            Some(format!("pull {}", i.pull.word())),
        ],
        Kind::DryInput(d) => vec![shown(d.momentary)],
        Kind::Output(o) => {
            vec![shown(o.volts), shown(o.amps), Some(format!("drives to {}", o.drives.word()))]
        }
        Kind::Contact(c) => {
            let name = |t: Option<TerminalId>| t.map(|t| job.terminal(t).name.clone());
            let by = match c.by() {
                Mover::Alone => None,
                Mover::Word(word) => Some(word.clone()),
                Mover::Coil(coil) => Some(job.part(coil).name.clone()),
            };
            vec![
                name(c.no).map(|name| format!("make {name}")),
                name(c.nc).map(|name| format!("break {name}")),
                shown(c.volts),
                shown(c.amps),
                by.map(|by| format!("by {by}")),
                c.momentary.then(|| "momentary".to_owned()),
            ]
        }
        Kind::Coil(c) => vec![shown(c.volts), shown(c.draw), c.polarised.then(|| "polarised".to_owned())],
        Kind::Fuse(f) => vec![shown(f.amps)],
        Kind::Resistor(r) => vec![shown(r.ohms)],
        Kind::Analogue(a) => vec![shown(a.volts), shown(a.ohms), shown(a.amps)],
        Kind::TwoWire(t) => vec![shown(t.drop), shown(t.leak), shown(t.holds)],
        Kind::SignalPair(p) => vec![Some(p.kind.to_string()), shown(p.terminator)],
        Kind::Supervised(s) => [s.rest, s.alarm, s.tamper].map(shown).into(),
        _ => Vec::new(),
    };
    all.into_iter().flatten().collect()
}
