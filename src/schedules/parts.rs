//! The parts and cut list, for whoever orders: devices by type, cable by type, jumpers, ferrules by size, joints.

use std::collections::BTreeMap;

use super::{Cell, Column, Table};
use crate::netlist::{Cable, CoreId, Device, DeviceId, End, Form, Job, Kind, PartId};
use crate::units::{Ohms, SquareMm};

/// What is ordered over the sum of the runs, as a share: slack at both ends and ways round things. Common practice, no
/// source.
pub const ALLOWANCE: f64 = 0.10;

/// Nominal sizes of insulated ferrules in mm², the colour of their collar and the length of their sleeve in mm (DIN
/// 46228-4; lengths from memory; `None` where makers' colours differ).
const FERRULES: &[(f64, Option<&str>, u32)] = &[
    (0.14, Some("grey"), 8),
    (0.25, None, 8),
    (0.34, None, 8),
    (0.5, Some("white"), 8),
    (0.75, Some("grey"), 8),
    (1.0, Some("red"), 8),
    (1.5, Some("black"), 8),
    (2.5, Some("blue"), 8),
    (4.0, Some("grey"), 10),
    (6.0, Some("yellow"), 12),
    (10.0, Some("red"), 12),
    (16.0, Some("blue"), 12),
    (25.0, Some("yellow"), 16),
    (35.0, Some("red"), 16),
];

/// One row of the parts list. The part number is for the office to fill in.
#[derive(Clone, Debug, PartialEq)]
pub struct PartRow {
    /// What it is.
    pub description: String,
    /// How many or how much.
    pub quantity: f64,
    /// `pcs` or `m`.
    pub unit: &'static str,
    /// Which ones, and how the quantity was worked out.
    pub note: String,
}

/// The parts list of a job.
#[must_use]
pub fn parts(job: &Job) -> Vec<PartRow> {
    let mut rows = devices(job);
    rows.extend(cables(job));
    rows.extend(jumpers(job));
    rows.extend(ferrules(job));
    rows.extend(lead_joints(job));
    rows
}

/// Things of one description, in the order in which the first of each stands in the job file.
struct Grouped<T>(Vec<(String, Vec<T>)>);

impl<T> Grouped<T> {
    fn put(&mut self, description: String, item: T) {
        match self.0.iter_mut().find(|(known, _)| *known == description) {
            Some((_, items)) => items.push(item),
            None => self.0.push((description, vec![item])),
        }
    }
}

#[expect(clippy::cast_precision_loss, reason = "no job has 2^52 of anything")]
fn count(n: usize) -> f64 {
    n as f64
}

fn devices(job: &Job) -> Vec<PartRow> {
    let mut groups: Grouped<(&str, bool)> = Grouped(Vec::new());
    for (id, device) in job.device_ids() {
        let existing = device.parts.iter().any(|part| job.part(PartId(part)).existing);
        groups.put(description(job, id, device), (device.name.as_str(), existing));
    }
    let row = |(description, members): (String, Vec<(&str, bool)>)| {
        let names: Vec<&str> = members.iter().map(|(name, _)| *name).collect();
        let there: Vec<&str> = members.iter().filter(|(_, there)| *there).map(|(name, _)| *name).collect();
        let note = if there.is_empty() {
            names.join(", ")
        } else {
            format!("{}; may be there already: {}", names.join(", "), there.join(", "))
        };
        PartRow { description, quantity: count(members.len()), unit: "pcs", note }
    };
    groups.0.into_iter().map(row).collect()
}

/// The type and the ratings that tell it from others of the type: `fuse, 1 A`, `splice, 3 conductors`.
fn description(job: &Job, id: DeviceId, device: &Device) -> String {
    let name = match (&device.type_name, device.type_title.as_ref().or(device.title.as_ref())) {
        (Some(_), Some(title)) => title.to_string(),
        (Some(kind), None) => spoken(kind),
        (None, Some(title)) => title.to_string(),
        (None, None) => "device".to_owned(),
    };
    let mut words = vec![name];
    match device.form {
        Form::Splice => {
            let on = job
                .cores
                .iter()
                .flat_map(|core| &core.ends)
                .filter(|end| end.to.terminal().is_some_and(|t| job.terminal(t).device == id))
                .count();
            let links = job.links.iter().flat_map(|link| link.ends);
            let on = on + links.filter(|end| job.terminal(*end).device == id).count();
            words.push(if on == 1 { "1 conductor".to_owned() } else { format!("{on} conductors") });
        }
        Form::Strip => words.push(format!("{} ways", device.terminals.len())),
        Form::Box => {
            words.extend(ratings(job, device));
            words.extend(contacts(job, device));
        }
    }
    words.join(", ")
}

/// The name of a type as it is said: `DC supply`, `push button NO`.
fn spoken(kind: &str) -> String {
    let words = kind.split('-').map(|word| match word {
        "ac" | "dc" | "no" | "nc" | "npn" | "pnp" => word.to_uppercase(),
        _ => word.to_owned(),
    });
    words.collect::<Vec<_>>().join(" ")
}

/// The ratings of a device that has one source, load, coil, fuse or resistor.
fn ratings(job: &Job, device: &Device) -> Vec<String> {
    let rated: Vec<&Kind> = device
        .parts
        .iter()
        .map(|part| &job.part(PartId(part)).kind)
        .filter(|kind| {
            matches!(
                kind,
                Kind::Source(_) | Kind::Load(_) | Kind::Coil(_) | Kind::Fuse(_) | Kind::Resistor(_)
            )
        })
        .collect();
    let [one] = rated.as_slice() else { return Vec::new() };
    fn shown<T: ToString>(value: Option<T>) -> Option<String> {
        value.map(|value| value.to_string())
    }
    let words = match one {
        Kind::Source(s) => {
            vec![shown(s.volts), shown(s.amps), shown(s.ah)]
        }
        Kind::Load(l) => vec![shown(l.volts), shown(l.draw)],
        Kind::Coil(c) => vec![shown(c.volts), shown(c.draw)],
        Kind::Fuse(f) => vec![shown(f.amps)],
        Kind::Resistor(r) => vec![r.ohms.map(Ohms::short)],
        _ => Vec::new(),
    };
    words.into_iter().flatten().collect()
}

/// What the contacts of a device carry: `contacts 5 A`.
fn contacts(job: &Job, device: &Device) -> Option<String> {
    let mut amps: Vec<String> = Vec::new();
    let mut count = 0;
    for part in device.parts.iter().map(|part| job.part(PartId(part))) {
        let Kind::Contact(contact) = &part.kind else { continue };
        count += 1;
        if let Some(own) = contact.amps.map(|amps| amps.to_string())
            && !amps.contains(&own)
        {
            amps.push(own);
        }
    }
    let word = if count == 1 { "contact" } else { "contacts" };
    (!amps.is_empty()).then(|| format!("{word} {}", amps.join(" and ")))
}

fn cables(job: &Job) -> Vec<PartRow> {
    let mut groups: Grouped<&Cable> = Grouped(Vec::new());
    for cable in &job.cables {
        let colours = || {
            let cores = cable.cores.iter().map(|core| job.core(CoreId(core)).name.as_str());
            cores.collect::<Vec<_>>().join(", ")
        };
        let description = match &cable.type_name {
            // A single core is ordered by its colour; a cable has those of its type.
            Some(kind) if cable.cores.len() == 1 => format!("cable {kind}, {}", colours()),
            Some(kind) => format!("cable {kind}"),
            None => {
                let size = cable.make_up().map(|size| format!(", {size}")).unwrap_or_default();
                format!("cable with cores {}{size}", colours())
            }
        };
        groups.put(description, cable);
    }
    let row = |(description, members): (String, Vec<&Cable>)| {
        let sum: f64 = members.iter().filter_map(|cable| cable.length).map(|length| length.0).sum();
        // Up to the next decimetre; the slack keeps 1.1 m from becoming 1.2 m.
        let quantity = (sum * (1.0 + ALLOWANCE) * 10.0 - 1e-6).ceil() / 10.0;
        let cuts: Vec<String> = members
            .iter()
            .map(|cable| match cable.length {
                Some(length) => format!("{} {length}", cable.name),
                None => format!("{} length not stated, not counted", cable.name),
            })
            .collect();
        let share = ALLOWANCE * 100.0;
        PartRow {
            description,
            quantity,
            unit: "m",
            note: format!("cuts: {}; {share:.0} % allowance included", cuts.join(", ")),
        }
    };
    groups.0.into_iter().map(row).collect()
}

/// The links: jumpers of a strip, then those from one device to another. What lies `across` two terminals is a device.
fn jumpers(job: &Job) -> Vec<PartRow> {
    let (mut jumpers, mut wires) = (Vec::new(), Vec::new());
    for link in job.links.iter().filter(|link| link.across.is_none()) {
        let [a, b] = link.ends.map(|end| job.terminal(end).device);
        let strip = a == b && job.device(a).form == Form::Strip;
        let [from, to] = link.ends.map(|end| job.label(end));
        if strip { &mut jumpers } else { &mut wires }.push(format!("{from} to {to}"));
    }
    let row = |description: &str, links: &[String], more: &str| {
        (!links.is_empty()).then(|| PartRow {
            description: description.to_owned(),
            quantity: count(links.len()),
            unit: "pcs",
            note: format!("{}{more}", links.join(", ")),
        })
    };
    let jumpers = row("jumper, two ways of a terminal strip", &jumpers, "");
    let wires = row("link of wire", &wires, "; none where a part's own tail reaches");
    jumpers.into_iter().chain(wires).collect()
}

/// How many ferrules of a size, and the conductor sizes that they are for.
#[derive(Default)]
struct Crimped<'a> {
    count: usize,
    conductors: Vec<&'a str>,
}

/// One for each core end in a screw terminal, by size.
fn ferrules(job: &Job) -> Vec<PartRow> {
    let mut crimped: BTreeMap<usize, Crimped> = BTreeMap::new();
    let mut unknown = 0;
    for core in &job.cores {
        for end in &core.ends {
            let End::Terminal(at) = end.to else { continue };
            let terminal = job.terminal(at);
            if terminal.lead.is_some() || job.device(terminal.device).form == Form::Splice {
                continue;
            }
            let cable = job.cable(core.cable);
            let Some(size) = cable.area.and_then(ferrule) else {
                unknown += 1;
                continue;
            };
            let known = crimped.entry(size).or_default();
            known.count += 1;
            let conductor = cable.size_text.as_deref().unwrap_or_default();
            if !known.conductors.contains(&conductor) {
                known.conductors.push(conductor);
            }
        }
    }
    let mut rows: Vec<PartRow> = crimped
        .into_iter()
        .filter_map(|(size, Crimped { count: n, conductors })| {
            let (area, colour, length) = FERRULES.get(size)?;
            let colour = colour.map_or("colour by maker", |colour| colour);
            Some(PartRow {
                description: format!("ferrule {area} mm², {colour}, {length} mm"),
                quantity: count(n),
                unit: "pcs",
                note: format!(
                    "for {}; DIN 46228-4; one a core end in a screw terminal, for stranded cores; order some spare",
                    conductors.join(", ")
                ),
            })
        })
        .collect();
    if unknown > 0 {
        rows.push(PartRow {
            description: "ferrule, size not known".to_owned(),
            quantity: count(unknown),
            unit: "pcs",
            note: "the cable states no conductor size, or one in no table".to_owned(),
        });
    }
    rows
}

/// The smallest ferrule that takes a conductor, as its place in the table. A strand count gives a little over the nominal
/// size, hence the slack.
fn ferrule(area: SquareMm) -> Option<usize> {
    FERRULES.iter().position(|(size, ..)| area.0 <= size * 1.03)
}

/// Joints of cores to flying leads.
fn lead_joints(job: &Job) -> Option<PartRow> {
    let leads = job.terminal_ids().filter(|(id, terminal)| {
        let core = |core: &crate::netlist::Core| core.ends.iter().any(|end| end.to.terminal() == Some(*id));
        terminal.lead.is_some() && job.cores.iter().any(core)
    });
    let leads: Vec<String> = leads.map(|(id, _)| job.label(id)).collect();
    (!leads.is_empty()).then(|| PartRow {
        description: "in-line joint, core to flying lead".to_owned(),
        quantity: count(leads.len()),
        unit: "pcs",
        note: leads.join(", "),
    })
}

const COLUMNS: &[Column] = &[
    Column::text("description", "Description"),
    Column::text("part_number", "Part number").to_fill_in(),
    Column::number("quantity", "Quantity"),
    Column::text("unit", "Unit"),
    Column::text("note", "Note"),
];

/// The parts list as a table, part numbers left blank.
#[must_use]
pub fn parts_table(rows: &[PartRow]) -> Table {
    let words = |text: &str| Cell::Text(text.to_owned());
    let rows = rows.iter().map(|row| {
        vec![
            words(&row.description),
            words(""),
            Cell::Number(row.quantity),
            words(row.unit),
            words(&row.note),
        ]
    });
    Table { columns: COLUMNS, rows: rows.collect() }
}
