//! What the page for whoever stands on site says: where are you, which device, which core is in hand, what must the
//! meter show.
//!
//! This is the page as data. Whatever can be worked out is worked out here; the browser only shows, follows hops and
//! compares nothing.

mod live;

use std::collections::BTreeMap;

pub use live::Live;

use super::stand::Stand;
use super::test_sheet::{Test, tests_table};
use crate::circuit::Circuit;
use crate::diagnostic::{self, Finding, Severity};
use crate::drawing;
use crate::netlist::{
    Cable, Core, CoreId, Device, DeviceId, Form, Job, Kind, PartId, Status, TerminalId, listed,
};
use crate::scene::{Point, Stroke};
use crate::schedules::{self, Landing, Spot, Spots, State, Table, TerminalRow};

/// The line of a core's swatch, in millimetres.
pub const SWATCH: [Point; 2] = [Point { x: 0.0, y: 1.0 }, Point { x: 10.0, y: 1.0 }];

/// The page.
#[derive(Clone, Debug)]
pub struct Page {
    /// The title of the job.
    pub title: String,
    /// The number and the site, as far as the job states them.
    pub head: String,
    /// Number, site, owner and the rest of the head, those that the job states.
    pub facts: Vec<(&'static str, String)>,
    /// `2 errors`, where the wiring must not be used as it is written.
    pub faulty: Option<String>,
    /// What to mind on any device of the job.
    pub cautions: Vec<String>,
    /// The notes of the job.
    pub notes: Vec<String>,
    /// What the check found, worst first.
    pub findings: Vec<Found>,
    /// The locations, in the order of the job file.
    pub places: Vec<Place>,
    /// The ends of cores that are on no terminal.
    pub loose: Vec<LooseEnd>,
    /// The terminals, in the order of the job file; everything else names one by its number here.
    pub points: Vec<String>,
    /// What joins two terminals without anything between.
    pub hops: Vec<Hop>,
    /// The job at rest.
    pub rest: Live,
    /// The lines of cause and effect.
    pub plays: Vec<Play>,
    /// The test sheet.
    pub tests: Table,
}

/// A finding.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Found {
    /// `danger`, `error`, `warning`, `note`, or `accepted`.
    pub severity: &'static str,
    /// What will happen.
    pub message: String,
    /// What to change.
    pub fix: String,
}

/// The end of a core that is on no terminal; of a spare core that was left alike at both, one for both.
#[derive(Clone, Debug)]
pub struct LooseEnd {
    /// `W2 blue`.
    pub name: String,
    /// `spare, both ends: taped`.
    pub left: String,
    /// Where it stands on the drawing.
    pub stands: Option<String>,
    /// The core, and where its other end goes.
    pub in_hand: InHand,
}

/// A location with its devices.
#[derive(Clone, Debug)]
pub struct Place {
    /// `Hall/Panel` as `Hall, Panel`.
    pub name: String,
    /// Its devices, in the order of the job file.
    pub cards: Vec<Card>,
}

/// The card of a device.
#[derive(Clone, Debug)]
pub struct Card {
    /// Its number in the job.
    pub device: usize,
    /// The label on site.
    pub name: String,
    /// What it is.
    pub what: String,
    /// Where it stands on the drawing, part by part.
    pub stands: Vec<String>,
    /// `OUT1 pulse: 1 s`.
    pub settings: Vec<String>,
    /// What to mind.
    pub cautions: Vec<String>,
    /// Its terminals, in printed order.
    pub terminals: Vec<Pin>,
}

/// A terminal on a card.
#[derive(Clone, Debug)]
pub struct Pin {
    /// Its number among the points.
    pub point: usize,
    /// As printed on the part; a splice has its device's name.
    pub name: String,
    /// What it does.
    pub function: String,
    /// The cores and links on it.
    pub in_hand: Vec<InHand>,
    /// How it was left when nothing is on it.
    pub left: Option<&'static str>,
}

/// What lands on a terminal.
#[derive(Clone, Debug)]
pub struct InHand {
    /// The core's colours as the drawing shows them, on a line [`SWATCH`] long; empty for a link.
    pub swatch: Vec<Stroke>,
    /// `RD red`, `link`.
    pub words: String,
    /// `W2, 4 × 0.22 mm², 14 m`; empty for a link.
    pub cable: String,
    /// The other end: `B1:NO`, or how it was left.
    pub to: String,
    /// The other end among the points.
    pub to_point: Option<usize>,
}

/// What joins two terminals.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Hop {
    /// The two terminals, by their numbers among the points.
    pub ends: [usize; 2],
    /// `W2 red`, `link`, `inside K1`.
    pub words: String,
    /// The cable as the drawing names it; empty for a link.
    pub cable: String,
    /// The core as the drawing names it; empty for what is joined inside a part.
    pub core: String,
    /// The core, if it is one.
    pub id: Option<CoreId>,
}

/// A line of cause and effect.
#[derive(Clone, Debug)]
pub struct Play {
    /// `with B1 operated`; for one that cannot be worked out its words.
    pub when: String,
    /// `K1.IN1 active`.
    pub then: Vec<String>,
    /// The job in that condition; `None` where the circuit alone does not tell it.
    pub live: Option<Live>,
    /// Whether the relays come to rest.
    pub still: bool,
}

/// The page of a job with its findings and its test sheet.
#[must_use]
pub fn page(job: &Job, circuit: &Circuit, findings: &[Finding], tests: &[Test], spots: &Spots) -> Page {
    let stand = Stand::of(job, circuit);
    let rows = schedules::terminals(job, circuit, spots);
    let hops = hops(job);
    let rest = live::of(&stand, &stand.rest(), &hops);
    let plays = job.cause_and_effect.iter().map(|line| {
        let pose = stand.cause(line);
        Play {
            when: job.cause_words(line),
            then: line.then.iter().map(|effect| job.condition_words(effect)).collect(),
            live: pose.as_ref().map(|pose| live::of(&stand, pose, &hops)),
            still: pose.is_none_or(|pose| pose.still),
        }
    });
    Page {
        title: job.info.title.clone(),
        head: [&job.info.number, &job.info.site]
            .into_iter()
            .flatten()
            .cloned()
            .collect::<Vec<_>>()
            .join(", "),
        facts: facts(job),
        faulty: faulty(findings),
        cautions: cautions(job),
        notes: job.info.notes.clone(),
        findings: found(findings),
        loose: rows.iter().filter_map(|row| loose(job, row)).collect(),
        places: places(job, rows, spots),
        points: job.terminal_ids().map(|(id, _)| job.label(id)).collect(),
        plays: plays.collect(),
        hops,
        rest,
        tests: tests_table(tests),
    }
}

fn facts(job: &Job) -> Vec<(&'static str, String)> {
    let info = &job.info;
    let status = match info.status {
        Status::Design => "Design",
        Status::AsBuilt => "As built",
    };
    let stated = [
        ("Number", info.number.clone()),
        ("Site", info.site.clone()),
        ("Client", info.client.clone()),
        ("Owner", info.owner.clone()),
        ("Status", Some(status.to_owned())),
        ("Revision", info.revision.clone()),
        ("Date", info.date.clone()),
        ("Drawn by", info.drawn_by.clone()),
        ("Approved by", info.approved_by.clone()),
    ];
    stated.into_iter().filter_map(|(name, value)| Some((name, value?))).collect()
}

/// The errors and dangers, counted.
fn faulty(findings: &[Finding]) -> Option<String> {
    let all = diagnostic::counted(findings, &[Severity::Danger, Severity::Error]);
    (!all.is_empty()).then(|| listed(&all))
}

fn cautions(job: &Job) -> Vec<String> {
    let general =
        [drawing::LIMITS, drawing::ISOLATE, "Worked out from the job file. No substitute for test."];
    let of_devices = job
        .devices
        .iter()
        .flat_map(|device| device.cautions.iter().map(move |caution| format!("{}: {caution}", device.name)));
    general.iter().map(|&caution| caution.to_owned()).chain(of_devices).collect()
}

fn found(findings: &[Finding]) -> Vec<Found> {
    let mut order: Vec<&Finding> = findings.iter().collect();
    order.sort_by_key(|f| (f.accepted.is_some(), std::cmp::Reverse(f.severity)));
    let words = |finding: &Finding| Found {
        severity: if finding.accepted.is_some() { "accepted" } else { finding.severity.word() },
        message: finding.message.to_string(),
        fix: finding.accepted.as_deref().unwrap_or(&finding.fix).to_owned(),
    };
    order.into_iter().map(words).collect()
}

/// The locations with their devices.
fn places(job: &Job, all: Vec<TerminalRow>, spots: &Spots) -> Vec<Place> {
    let mut rows: BTreeMap<TerminalId, Vec<TerminalRow>> = BTreeMap::new();
    for row in all {
        if let Some(at) = row.at {
            rows.entry(at).or_default().push(row);
        }
    }
    let mut places: Vec<Place> = Vec::new();
    for (id, device) in (0..).map(DeviceId).zip(&job.devices) {
        let location = location(job, id, device);
        let name = match location {
            [] => "No location stated".to_owned(),
            steps => steps.join(", "),
        };
        let card = card(job, id, device, &rows, spots);
        match places.iter_mut().find(|place| place.name == name) {
            Some(place) => place.cards.push(card),
            None => places.push(Place { name, cards: vec![card] }),
        }
    }
    places
}

/// Where a device is: where it says, or what lies across the terminals of another device, with that.
fn location<'j>(job: &'j Job, id: DeviceId, device: &'j Device) -> &'j [String] {
    if !device.location.is_empty() {
        return &device.location;
    }
    let across = job.links.iter().filter(|link| link.across == Some(id)).flat_map(|link| link.ends);
    let mut hosts = across.map(|at| job.terminal(at).device).filter(|host| *host != id);
    match hosts.next() {
        Some(host) => &job.device(host).location,
        None => &[],
    }
}

fn card(
    job: &Job,
    id: DeviceId,
    device: &Device,
    rows: &BTreeMap<TerminalId, Vec<TerminalRow>>,
    spots: &Spots,
) -> Card {
    let settings = device.settings.iter().map(|setting| {
        let about = [setting.entry.as_deref().unwrap_or_default(), &setting.key];
        let about: Vec<&str> = about.into_iter().filter(|word| !word.is_empty()).collect();
        format!("{}: {}", about.join(" "), setting.value)
    });
    let terminals = device.terminals.iter().map(TerminalId).map(|at| {
        let rows = rows.get(&at).map_or(&[][..], Vec::as_slice);
        let name = &job.terminal(at).name;
        Pin {
            point: at.index(),
            name: if name.is_empty() { device.name.to_string() } else { name.to_string() },
            function: rows.first().map(|row| row.function.clone()).unwrap_or_default(),
            in_hand: rows.iter().filter_map(|row| in_hand(job, at, row)).collect(),
            left: rows.iter().find(|row| row.landing == Landing::Nothing).map(|row| row.state.word()),
        }
    });
    Card {
        device: id.index(),
        name: device.name.to_string(),
        what: what(job, device),
        stands: stands(job, id, device, rows, spots),
        settings: settings.collect(),
        cautions: device.cautions.to_vec(),
        terminals: terminals.collect(),
    }
}

/// Where a device stands on the drawing: a place for each of its parts, and which terminals are there if it has several.
fn stands(
    job: &Job,
    id: DeviceId,
    device: &Device,
    rows: &BTreeMap<TerminalId, Vec<TerminalRow>>,
    spots: &Spots,
) -> Vec<String> {
    let mut parts: Vec<(Spot, Vec<&str>)> = Vec::new();
    for at in device.terminals.iter().map(TerminalId) {
        let Some(spot) = rows.get(&at).and_then(|rows| rows.first()).and_then(|row| row.spot.clone()) else {
            continue;
        };
        let name = &*job.terminal(at).name;
        match parts.iter_mut().find(|(known, _)| *known == spot) {
            Some((_, names)) => names.push(name),
            None => parts.push((spot, vec![name])),
        }
    }
    if parts.is_empty() {
        parts.extend(spots.of.get(&id.into()).map(|spot| (spot.clone(), Vec::new())));
    }
    let several = parts.len() > 1;
    let words = |(spot, names): (Spot, Vec<&str>)| {
        let place = format!("sheet {}, zone {}", spot.sheet, spot.zone);
        if several { format!("{place}: {}", names.join(", ")) } else { place }
    };
    parts.into_iter().map(words).collect()
}

/// What a device is: its title, and what is stated of its sources and loads.
fn what(job: &Job, device: &Device) -> String {
    let title = device.title.clone().unwrap_or_else(|| device.type_name.clone().unwrap_or_default());
    let rated = device.parts.iter().map(|part| job.part(PartId(part))).find_map(|part| match &part.kind {
        Kind::Source(source) => source.volts.map(|volts| volts.to_string()),
        _ => None,
    });
    match (rated, device.form) {
        (Some(volts), _) if !title.contains(&volts) => format!("{title}, {volts}"),
        (_, Form::Splice) if title.is_empty() => "splice".to_owned(),
        _ => title.into(),
    }
}

/// A row of the terminal schedule that is of a loose end.
fn loose(job: &Job, row: &TerminalRow) -> Option<LooseEnd> {
    let (None, Landing::Core(id, end)) = (row.at, row.landing) else { return None };
    Some(LooseEnd {
        name: row.place(),
        left: format!("{}: {}", row.function, row.state.word()),
        stands: row.spot.as_ref().map(|spot| format!("sheet {}, zone {}", spot.sheet, spot.zone)),
        in_hand: core_in_hand(job, id, end, row),
    })
}

fn core_in_hand(job: &Job, id: CoreId, end: usize, row: &TerminalRow) -> InHand {
    let core = job.core(id);
    let other = core.ends.get(1 - end);
    let words = match row.colour_code.as_str() {
        "" => core.name.to_string(),
        code => format!("{code} {}", core.name),
    };
    InHand {
        swatch: drawing::strokes(&SWATCH, &core.colours),
        words,
        cable: made(job.cable(core.cable)),
        to: row.to.clone(),
        to_point: other.and_then(|other| other.to.terminal()).map(TerminalId::index),
    }
}

fn in_hand(job: &Job, at: TerminalId, row: &TerminalRow) -> Option<InHand> {
    match row.landing {
        Landing::Core(id, end) => Some(core_in_hand(job, id, end, row)),
        Landing::Link(id) => {
            let [a, b] = job.links.get(id.index())?.ends;
            let other = if a == at { b } else { a };
            let words = if row.state == State::Across { "its own lead" } else { "link" };
            Some(InHand {
                swatch: Vec::new(),
                words: words.to_owned(),
                cable: String::new(),
                to: row.to.clone(),
                to_point: Some(other.index()),
            })
        }
        Landing::Nothing => None,
    }
}

/// `W2, 4 × 0.22 mm², 14 m`.
fn made(cable: &Cable) -> String {
    let mut words = vec![cable.name.to_string()];
    words.extend(cable.make_up());
    words.extend(cable.length.map(|length| length.to_string()));
    words.join(", ")
}

/// Everything that joins two terminals without anything between: cores, links, and what is joined inside a part.
fn hops(job: &Job) -> Vec<Hop> {
    let mut hops = Vec::new();
    for (id, core) in job.core_ids() {
        hops.extend(of_core(job, id, core));
    }
    for link in &job.links {
        let [a, b] = link.ends;
        let written = |t: TerminalId| {
            let terminal = job.terminal(t);
            let device = &job.device(terminal.device).name;
            if terminal.name.is_empty() { device.to_string() } else { format!("{device}.{}", terminal.name) }
        };
        hops.push(Hop {
            ends: [a.index(), b.index()],
            words: if link.across.is_some() { "its own lead" } else { "link" }.to_owned(),
            cable: String::new(),
            core: format!("{} {}", written(a), written(b)),
            id: None,
        });
    }
    for part in &job.parts {
        let Kind::Bridge(terminals) = &part.kind else { continue };
        let words = format!("inside {}", job.device(part.device).name);
        hops.extend(terminals.windows(2).map(|two| Hop {
            ends: [two[0].index(), two[1].index()],
            words: words.clone(),
            cable: String::new(),
            core: String::new(),
            id: None,
        }));
    }
    hops
}

fn of_core(job: &Job, id: CoreId, core: &Core) -> Option<Hop> {
    let [near, far] = [core.ends[0].to.terminal()?, core.ends[1].to.terminal()?];
    Some(Hop {
        ends: [near.index(), far.index()],
        words: job.core_label(id),
        cable: job.cable(core.cable).name.to_string(),
        core: core.name.to_string(),
        id: Some(id),
    })
}
