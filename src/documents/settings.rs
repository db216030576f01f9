//! The settings record: what each device must be set to, held against the wiring.

use super::stand::Stand;
use crate::circuit::Circuit;
use crate::diagnostic::{Finding, Severity, Subject};
use crate::netlist::{Contacting, Device, DeviceId, Job, Kind, Meaning, PartId, Setting};
use crate::schedules::{Cell, Column, Table};

/// One setting of one device.
#[derive(Clone, Debug, PartialEq)]
pub struct SettingRow {
    /// The device.
    pub device: String,
    /// What it is, in words.
    pub name: String,
    /// Where it is.
    pub location: String,
    /// The entry that it is about; empty for the whole device.
    pub entry: String,
    /// What is set.
    pub setting: String,
    /// To what.
    pub value: String,
    /// Whether it agrees with the wiring.
    pub agrees: Agrees,
    /// Why, in a few words.
    pub checked: String,
}

/// How a setting stands to the wiring.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Agrees {
    /// It agrees.
    Yes,
    /// It does not.
    No,
    /// The program does not know what it means, or cannot tell.
    NotChecked,
}

impl Agrees {
    /// The word in the table.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Yes => "agrees",
            Self::No => "DOES NOT AGREE",
            Self::NotChecked => "not checked",
        }
    }
}

/// The settings of all devices, in the order of the job file. `findings` are what the check found.
#[must_use]
pub fn settings(job: &Job, circuit: &Circuit, findings: &[Finding]) -> Vec<SettingRow> {
    let stand = Stand::of(job, circuit);
    let mut rows = Vec::new();
    for (id, device) in job.device_ids() {
        for setting in &device.settings {
            let (agrees, checked) = held(&stand, circuit, findings, id, device, setting);
            let (entry, key) = match (&setting.entry, setting.key.as_str()) {
                (Some(entry), key) => (entry.clone(), key.to_owned()),
                (None, key) => (String::new(), key.to_owned()),
            };
            rows.push(SettingRow {
                device: device.name.to_string(),
                name: device.title.clone().unwrap_or_default().into(),
                location: device.location.join("/"),
                entry,
                setting: key,
                value: setting.value.clone(),
                agrees,
                checked,
            });
        }
    }
    rows
}

fn held(
    stand: &Stand,
    circuit: &Circuit,
    findings: &[Finding],
    id: DeviceId,
    device: &Device,
    setting: &Setting,
) -> (Agrees, String) {
    let job = stand.job;
    match setting.meaning {
        Meaning::Free => (Agrees::NotChecked, "recorded as written".to_owned()),
        Meaning::Contact(wanted) => contact(stand, wanted, setting.part),
        Meaning::Pulse(_) => pulse(job, circuit, findings, id, setting.part),
        Meaning::Drives(target) => match target {
            Some(target) => {
                (Agrees::Yes, format!("{} follows {}", job.part_label(target), source_of(job, setting)))
            }
            None => (Agrees::Yes, format!("nothing follows {}", source_of(job, setting))),
        },
        Meaning::Terminator(on) => {
            let pair = device.parts.iter().map(PartId).find(|part| {
                setting.part.is_none_or(|own| own == *part)
                    && matches!(job.part(*part).kind, Kind::SignalPair(_))
            });
            match (pair, told(findings, "bus-shape", id)) {
                (None, _) => (Agrees::NotChecked, "no signal pair on this device".to_owned()),
                (Some(_), Some(finding)) => (Agrees::No, finding.message.to_string()),
                (Some(_), None) if findings.iter().any(|f| f.rule == "bus-shape" && f.accepted.is_none()) => {
                    (Agrees::NotChecked, "a line of this job is not right: see the check".to_owned())
                }
                (Some(_), None) => {
                    let is = if on { "on" } else { "off" };
                    (Agrees::Yes, format!("{is}: its line has its terminators at its two ends"))
                }
            }
        }
    }
}

fn source_of(job: &Job, setting: &Setting) -> String {
    setting.part.map(|part| job.part_label(part)).or_else(|| setting.entry.clone()).unwrap_or_default()
}

/// What an input is set for against what it sees at rest.
fn contact(stand: &Stand, wanted: Contacting, part: Option<PartId>) -> (Agrees, String) {
    let Some(part) = part else { return (Agrees::NotChecked, "about no input of the device".to_owned()) };
    let rest = stand.rest();
    let (made, words) = match &stand.job.part(part).kind {
        Kind::Input(input) => {
            let probe = super::Probe::Volts(input.at, input.common);
            if stand.read(&rest, probe).is_none() {
                return (Agrees::NotChecked, "nothing holds this input at rest".to_owned());
            }
            (stand.look(&rest, |solution| solution.active(part)), ["not active at rest", "active at rest"])
        }
        Kind::DryInput(dry) => {
            let [a, b] = dry.between;
            (stand.read(&rest, super::Probe::Ohms(a, b)).is_some(), ["open at rest", "closed at rest"])
        }
        _ => return (Agrees::NotChecked, "about no input of the device".to_owned()),
    };
    let agrees = made == (wanted == Contacting::NormallyClosed);
    (if agrees { Agrees::Yes } else { Agrees::No }, words[usize::from(made)].to_owned())
}

/// A pulse against the volt-free inputs that its contact closes.
fn pulse(
    job: &Job,
    circuit: &Circuit,
    findings: &[Finding],
    id: DeviceId,
    part: Option<PartId>,
) -> (Agrees, String) {
    if let Some(finding) = told(findings, "latched-trigger", id) {
        return (Agrees::No, finding.message.to_string());
    }
    let wants: Vec<String> = job
        .part_ids()
        .filter_map(|(dry, entry)| {
            let Kind::DryInput(input) = &entry.kind else { return None };
            let range = input.momentary?;
            let [a, b] = input.between;
            let closes =
                circuit.joins(a, b).ways.iter().any(|(_, parts)| part.is_some_and(|p| parts.contains(&p)));
            closes.then(|| format!("{} takes {range}", job.part_label(dry)))
        })
        .collect();
    if wants.is_empty() {
        (Agrees::NotChecked, "it closes no input that wants a pulse".to_owned())
    } else {
        (Agrees::Yes, wants.join(", "))
    }
}

/// A finding of a rule about a device that nobody accepted.
fn told<'a>(findings: &'a [Finding], rule: &str, device: DeviceId) -> Option<&'a Finding> {
    findings.iter().find(|finding| {
        finding.rule == rule
            && finding.accepted.is_none()
            && finding.severity > Severity::Note
            && finding.subjects.contains(&Subject::from(device))
    })
}

const COLUMNS: &[Column] = &[
    Column::text("device", "Device"),
    Column::text("name", "Name"),
    Column::text("location", "Location"),
    Column::text("entry", "Entry"),
    Column::text("setting", "Setting"),
    Column::text("value", "Value"),
    Column::text("agrees", "Wiring"),
    Column::text("checked", "Checked against"),
];

/// The settings as a table.
#[must_use]
pub fn settings_table(rows: &[SettingRow]) -> Table {
    let rows = rows.iter().map(|row| {
        let words = [
            &row.device,
            &row.name,
            &row.location,
            &row.entry,
            &row.setting,
            &row.value,
            row.agrees.word(),
            &row.checked,
        ];
        words.map(|text: &str| Cell::Text(text.to_owned())).to_vec()
    });
    Table { columns: COLUMNS, rows: rows.collect() }
}
