//! The terminal schedule: every terminal in device order, used or not, one row a conductor, then the loose core ends.

use super::conductors::Conductors;
use super::functions::function;
use super::{Spot, Spots};
use crate::circuit::Circuit;
use crate::netlist::{Core, CoreId, DeviceId, End, Job, Kind, LinkId, TerminalId};

/// One row of the terminal schedule.
#[derive(Clone, Debug, PartialEq)]
pub struct TerminalRow {
    /// What the row is about.
    pub landing: Landing,
    /// The terminal; `None` for the loose end of a core.
    pub at: Option<TerminalId>,
    /// The device's name; empty for a loose end.
    pub device: String,
    /// The terminal as printed on the part; empty for a splice or a loose end.
    pub terminal: String,
    /// What the terminal does.
    pub function: String,
    /// The core's name in the job file; empty when none is joined to it.
    pub core: String,
    /// The core's code after IEC 60757; empty when its colour is not stated.
    pub colour_code: String,
    /// The core's cable.
    pub cable: String,
    /// The other end: `B1:NO`, or how that end was made safe.
    pub to: String,
    /// The name of the conductor; empty for a terminal that nothing is joined to and for a loose end.
    pub net: String,
    /// What the marker on this core end says.
    pub marker: String,
    /// Whether it is joined, and if not how it was left.
    pub state: State,
    /// Where its device stands on the drawing.
    pub spot: Option<Spot>,
}

/// What a row of the terminal schedule is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Landing {
    /// This end (0 near, 1 far) of a core. A spare core whose two ends were left alike has one row, of its near end.
    Core(CoreId, usize),
    /// A link, or the part that lies `across` the terminal.
    Link(LinkId),
    /// Nothing.
    Nothing,
}

/// How a terminal or a core end stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// A core ends here.
    Joined,
    /// A link ends here.
    Linked,
    /// A two-terminal part is held in this terminal with what else is in it.
    Across,
    /// Nothing is on it: how it was made safe, or `empty` for a screw terminal.
    Unused(&'static str),
    /// Wired outside this job.
    Existing,
    /// An aerial, left whole as it must be.
    Whole,
    /// A core end on no terminal that was made safe; the word says how.
    Safe(&'static str),
    /// A core end or a flying lead that was left unsafe.
    Bare,
}

impl State {
    /// The word in the schedule.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Joined => "joined",
            Self::Linked => "linked",
            Self::Across => "across",
            Self::Unused(way) | Self::Safe(way) => way,
            Self::Existing => "existing",
            Self::Whole => "left whole",
            Self::Bare => "BARE",
        }
    }
}

impl TerminalRow {
    /// What stands in the first column on paper: `K1:NO1`, a splice as `X1`, a loose end as `W2 blue`.
    #[must_use]
    pub fn place(&self) -> String {
        match (self.device.as_str(), self.terminal.as_str()) {
            ("", _) => format!("{} {}", self.cable, self.core),
            (device, "") => device.to_owned(),
            (device, terminal) => format!("{device}:{terminal}"),
        }
    }

    /// The device that the row belongs to.
    #[must_use]
    pub fn device_of(&self, job: &Job) -> Option<DeviceId> {
        self.at.map(|t| job.terminal(t).device)
    }
}

/// The terminal schedule of a job.
///
/// Every terminal has at least one row and every core end exactly one, but for a spare core whose two ends were left
/// alike: it has one row for both.
#[must_use]
pub fn terminals(job: &Job, circuit: &Circuit, spots: &Spots) -> Vec<TerminalRow> {
    let conductors = Conductors::of(job, circuit);
    let mut landings: Vec<Vec<Landing>> = vec![Vec::new(); job.terminals.len()];
    let mut land = |terminal: TerminalId, landing| {
        if let Some(on) = landings.get_mut(terminal.index()) {
            on.push(landing);
        }
    };
    for (id, core) in job.core_ids() {
        for (end, stand) in core.ends.iter().enumerate() {
            if let End::Terminal(terminal) = stand.to {
                land(terminal, Landing::Core(id, end));
            }
        }
    }
    for (id, link) in (0..).map(LinkId).zip(&job.links) {
        for terminal in link.ends {
            land(terminal, Landing::Link(id));
        }
    }
    let mut rows = Vec::new();
    for ((id, terminal), on) in job.terminal_ids().zip(&landings) {
        let blank = TerminalRow {
            landing: Landing::Nothing,
            at: Some(id),
            device: job.device(terminal.device).name.to_string(),
            terminal: terminal.name.to_string(),
            function: function(job, &conductors, id),
            core: String::new(),
            colour_code: String::new(),
            cable: String::new(),
            to: String::new(),
            net: String::new(),
            marker: String::new(),
            state: unused(job, id),
            spot: spots.of_terminal(id, terminal.device),
        };
        if on.is_empty() {
            rows.push(blank);
            continue;
        }
        let net = conductors.name(id);
        rows.extend(on.iter().map(|landing| {
            let row = TerminalRow { landing: *landing, net: net.to_owned(), ..blank.clone() };
            match *landing {
                Landing::Core(core, end) => on_terminal(job, row, core, end),
                Landing::Link(link) => linked(job, row, link, id),
                Landing::Nothing => row,
            }
        }));
    }
    for (id, core) in job.core_ids() {
        loose(job, id, core, spots, &mut rows);
    }
    rows
}

/// A core end on a terminal.
fn on_terminal(job: &Job, row: TerminalRow, id: CoreId, end: usize) -> TerminalRow {
    let core = job.core(id);
    let to = core.ends.get(1 - end).map(|other| ending(job, other.to)).unwrap_or_default();
    let marker = row.place();
    TerminalRow { to, marker, state: State::Joined, ..of_core(job, row, core) }
}

/// A link or an `across:` on a terminal.
fn linked(job: &Job, row: TerminalRow, id: LinkId, here: TerminalId) -> TerminalRow {
    let Some(link) = job.links.get(id.index()) else { return row };
    let [a, b] = link.ends;
    let to = job.label(if a == here { b } else { a });
    let state = if link.across.is_some() { State::Across } else { State::Linked };
    TerminalRow { to, state, ..row }
}

/// The loose ends of a core.
fn loose(job: &Job, id: CoreId, core: &Core, spots: &Spots, rows: &mut Vec<TerminalRow>) {
    let row = |end: usize, function: &str| {
        let state = core.ends.get(end).and_then(|e| left(e.to))?;
        let other = core.ends.get(1 - end)?;
        let blank = TerminalRow {
            landing: Landing::Core(id, end),
            at: None,
            device: String::new(),
            terminal: String::new(),
            function: function.to_owned(),
            core: String::new(),
            colour_code: String::new(),
            cable: String::new(),
            to: match other.to {
                End::Terminal(t) => job.label(t),
                _ => state.word().to_owned(),
            },
            net: String::new(),
            marker: String::new(),
            state,
            spot: spots.get(id).or_else(|| spots.get(core.cable)),
        };
        let blank = of_core(job, blank, core);
        let code = if blank.colour_code.is_empty() { &blank.core } else { &blank.colour_code };
        let marker = format!("{} {code}", blank.cable);
        Some(TerminalRow { marker, ..blank })
    };
    let [near, far] = core.ends.map(|end| left(end.to));
    if near.is_some() && near == far {
        rows.extend(row(0, "spare, both ends"));
    } else {
        rows.extend(row(0, if far.is_some() { "spare, near end" } else { "near end" }));
        rows.extend(row(1, if near.is_some() { "spare, far end" } else { "far end" }));
    }
}

fn of_core(job: &Job, row: TerminalRow, core: &Core) -> TerminalRow {
    TerminalRow {
        core: core.name.to_string(),
        colour_code: core.colours.iter().map(|colour| colour.code()).collect(),
        cable: job.cable(core.cable).name.to_string(),
        ..row
    }
}

/// Where an end goes, in words.
fn ending(job: &Job, end: End) -> String {
    match end {
        End::Terminal(terminal) => job.label(terminal),
        other => left(other).map_or("", State::word).to_owned(),
    }
}

/// How an end that is on no terminal was left.
fn left(end: End) -> Option<State> {
    match end {
        End::Terminal(_) => None,
        End::Safe(safe) => Some(State::Safe(safe.word())),
        End::Bare | End::Spare => Some(State::Bare),
    }
}

/// How a terminal that nothing is joined to stands.
fn unused(job: &Job, id: TerminalId) -> State {
    if let Some(unused) = job.unused(id) {
        return State::Unused(unused.way.map_or("empty", |way| way.word()));
    }
    let mut on = job.parts_on(id).map(|(_, part)| part).peekable();
    if on.peek().is_some_and(|part| matches!(part.kind, Kind::Aerial(_))) {
        return State::Whole;
    }
    let existing = on.peek().is_some() && on.all(|part| part.existing);
    match (existing, &job.terminal(id).lead) {
        (true, _) => State::Existing,
        (false, Some(_)) => State::Bare,
        (false, None) => State::Unused("empty"),
    }
}
