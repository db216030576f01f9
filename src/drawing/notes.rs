//! What the sheet says in words: cautions, the state in which it is drawn, notes, settings, findings, colours.

use std::collections::BTreeSet;

use super::column::{self, Row};
use super::strand;
use crate::diagnostic::{self, Finding, Severity};
use crate::layout::Lead;
use crate::lettering::{self, Height};
use crate::netlist::{self, Colours, Device, DeviceId, Job, Kind, Setting};
use crate::scene::{Anchor, Dash, Fill, Point, Rect, Shape, Text, Width};

/// The side of a finding's flag.
pub const FLAG: f64 = 3.8;

/// What kind of work this is. The limits of extra-low voltage are those of IEC 61140.
pub const LIMITS: &str = "Extra-low voltage only: at most 50 V AC or 120 V DC. Mains work is for a person licensed or authorised locally.";

/// What comes before any work.
pub const ISOLATE: &str = "Isolate before working. Local codes come first.";

/// The rule of a fault that was put in for an exercise: no rule found it, and it has no severity.
pub const PUT_IN: &str = "fault";

/// How many names a sentence lists before it says how many more there are.
const NAMES: usize = 12;

/// A finding as the sheet lists it.
pub struct Listed<'a> {
    /// The number on its flag; `None` for one that is accepted or about nothing on the sheet.
    pub number: Option<usize>,
    /// The finding.
    pub finding: &'a Finding,
}

/// The findings in the order of the list: worst first, accepted ones last; those that get a flag are numbered from 1.
#[must_use]
pub fn listed(findings: &[Finding]) -> Vec<Listed<'_>> {
    let mut order: Vec<&Finding> = findings.iter().collect();
    order.sort_by_key(|f| (f.accepted.is_some(), std::cmp::Reverse(f.severity)));
    let mut next = 1;
    let number = |finding| {
        let flagged = is_flagged(finding);
        let number = flagged.then_some(next);
        next += usize::from(flagged);
        Listed { number, finding }
    };
    order.into_iter().map(number).collect()
}

/// Checks that lacked a figure are told in one line: a flag for each would bury the faults.
fn is_flagged(finding: &Finding) -> bool {
    finding.accepted.is_none() && !is_not_checked(finding) && !finding.subjects.is_empty()
}

fn is_not_checked(finding: &Finding) -> bool {
    finding.rule == "not-checked" && finding.accepted.is_none()
}

/// The cautions: they stand on every sheet.
#[must_use]
pub fn cautions(width: f64) -> Vec<Row> {
    [LIMITS, ISOLATE].into_iter().flat_map(|caution| column::paragraph(caution, false, width, 0.0)).collect()
}

/// The last note: which version checked it and what it found. It stands on every sheet.
#[must_use]
pub fn last_note(flagged: Flagged<'_>, width: f64) -> Vec<Row> {
    column::paragraph(&flagged.last_note(), false, width, 0.0)
}

/// Who says what is flagged on a drawing: the head of the list, the stamp and the last note tell it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum By {
    /// The check of the job.
    Check,
    /// Nobody: an exercise is given out unchecked.
    Exercise,
    /// The key to an exercise on a job that is as it must be.
    Answer,
    /// The key to an exercise: what was put in, for the trainee to find.
    Key,
    /// The marking of an answer.
    Marking,
}

impl By {
    /// A finding as the list has it. What was put in has no severity, and in marking only a danger is told from the rest.
    fn told(self, finding: &Finding) -> String {
        let message = &finding.message;
        match (self, finding.severity) {
            (Self::Key, _) if finding.rule == PUT_IN => message.to_string(),
            (Self::Marking, Severity::Danger) => format!("DANGEROUS: {message}"),
            (Self::Marking, _) => message.to_string(),
            (_, severity) => format!("{}: {message}", severity.word()),
        }
    }

    /// Whether the readings to expect stand in the diagram. What a job reads from which the answer was taken away is no help
    /// to whoever looks for the answer.
    pub(super) fn shows_readings(self) -> bool {
        !matches!(self, Self::Exercise)
    }

    /// The type of the document that a diagram is.
    pub(super) fn document_type(self) -> &'static str {
        match self {
            Self::Check => "Connection diagram",
            Self::Exercise => "Exercise",
            Self::Answer | Self::Key => "Key to the exercise",
            Self::Marking => "Marked answer",
        }
    }
}

/// What a drawing flags.
#[derive(Clone, Copy, Debug)]
pub struct Flagged<'a> {
    /// Who says it.
    pub by: By,
    /// What is said.
    pub findings: &'a [Finding],
}

impl<'a> Flagged<'a> {
    /// What the check found.
    #[must_use]
    pub fn by_check(findings: &'a [Finding]) -> Self {
        Self { by: By::Check, findings }
    }

    /// The head of the list.
    pub(super) fn head(self) -> &'static str {
        match self.by {
            By::Check | By::Exercise | By::Answer => "Found by the check",
            By::Key => "For the trainee to find",
            By::Marking => "Found in marking",
        }
    }

    /// What the last note says: who looked, and what is to be known of it.
    fn last_note(self) -> String {
        let (version, found) = (env!("CARGO_PKG_VERSION"), diagnostic::found(self.findings));
        let said = match self.by {
            By::Check => format!("Checked by Bellwire {version}: {found}"),
            By::Exercise => format!("Exercise made by Bellwire {version} for teaching, not for building"),
            By::Answer | By::Key => format!("Key made by Bellwire {version} for teaching, not for building"),
            By::Marking => format!("Marked by Bellwire {version}: {found}"),
        };
        format!("{said}. No substitute for test.")
    }

    /// What the stamp across the title block says: on a drawing with an error or a danger, and on one for teaching.
    pub(super) fn stamp(self) -> Option<String> {
        let parts = diagnostic::counted(self.findings, &[Severity::Danger, Severity::Error]);
        match self.by {
            By::Exercise => Some("EXERCISE".to_owned()),
            By::Answer => Some("KEY".to_owned()),
            By::Key => Some("KEY, WITH FAULTS".to_owned()),
            _ if parts.is_empty() => None,
            By::Check => Some(format!("FAULTY: {}", parts.join(", "))),
            By::Marking => Some(format!("MARKED ANSWER: {}", parts.join(", "))),
        }
    }
}

/// The notes of the job, under their heading.
#[must_use]
pub fn notes(job: &Job, by: By, width: f64) -> Vec<Row> {
    let mut rows = Vec::new();
    let mut say = |text: &str| rows.extend(column::paragraph(text, false, width, 0.0));
    if let Some(text) = at_rest(job) {
        say(&text);
    }
    let has_readings = by.shows_readings() && job.parts.iter().any(|p| matches!(p.kind, Kind::Source(_)));
    if has_readings {
        say("Readings: supplies on; idle: everything as drawn, but coils that are then fed have pulled in.");
    }
    for device in &job.devices {
        for caution in device.cautions.iter() {
            say(&format!("{}: {caution}", device.name));
        }
    }
    for device in job.devices.iter().filter(|d| !d.settings.is_empty()) {
        say(&format!("{} is set: {}.", device.name, settings(&device.settings)));
    }
    for note in &job.info.notes {
        say(note);
    }
    rows
}

/// `OUT1 pulse 1 s; IN1 contact normally-open, drives nothing`.
fn settings(settings: &[Setting]) -> String {
    let mut text = String::new();
    let mut last: Option<&Option<String>> = None;
    for setting in settings {
        let same = last == Some(&setting.entry);
        if !text.is_empty() {
            text.push_str(if same { ", " } else { "; " });
        }
        if let Some(entry) = setting.entry.as_ref().filter(|_| !same) {
            text.push_str(entry);
            text.push(' ');
        }
        if !setting.key.is_empty() {
            text.push_str(&setting.key);
            text.push(' ');
        }
        text.push_str(&setting.value);
        last = Some(&setting.entry);
    }
    text
}

/// In which state the contacts are drawn, said of this job's own devices.
fn at_rest(job: &Job) -> Option<String> {
    let mut still = Vec::new();
    let mut operated = Vec::new();
    let (mut supplies, mut coils, mut outputs) = (false, false, false);
    for (id, device) in job.device_ids() {
        let moved = moved_by_hand(job, id);
        if moved {
            if device.rest_operated { operated.push(device) } else { still.push(device) }
        }
    }
    for part in &job.parts {
        match part.kind {
            Kind::Source(_) => supplies = true,
            Kind::Coil(_) => coils = true,
            Kind::Output(_) | Kind::TwoWire(_) => outputs = true,
            _ => {}
        }
    }
    let mut parts = Vec::new();
    if supplies {
        parts.push("supplies off".to_owned());
    }
    if coils {
        parts.push("coils without current".to_owned());
    }
    if outputs {
        parts.push("transistor outputs off".to_owned());
    }
    if !still.is_empty() {
        parts.push(format!("{} not operated", names(&still)));
    }
    if !operated.is_empty() {
        parts.push(format!("{} operated, as at rest", names(&operated)));
    }
    (!parts.is_empty()).then(|| format!("Drawn at rest: {}.", parts.join("; ")))
}

/// Whether something outside the circuit moves a contact of the device.
fn moved_by_hand(job: &Job, device: DeviceId) -> bool {
    job.part_ids()
        .any(|(_, part)| part.device == device && matches!(&part.kind, Kind::Contact(c) if c.coil.is_none()))
}

/// `B1 (vent closed), S1 and 4 more`.
fn names(devices: &[&Device]) -> String {
    let name = |device: &&Device| match &device.title {
        Some(title) if devices.len() <= NAMES / 2 => format!("{} ({title})", device.name),
        _ => device.name.to_string(),
    };
    let shown: Vec<String> = devices.iter().take(NAMES).map(name).collect();
    let more = devices.len().saturating_sub(NAMES);
    let list = shown.join(", ");
    if more > 0 { format!("{list} and {more} more") } else { list }
}

/// The list of findings, each under the number on its flag.
#[must_use]
pub fn findings(job: &Job, by: By, listed: &[Listed<'_>], width: f64) -> Vec<Row> {
    let indent = FLAG + 1.6;
    let mut rows = Vec::new();
    for Listed { number, finding } in listed.iter().filter(|l| !is_not_checked(l.finding)) {
        let mut text = match finding.accepted.as_deref() {
            Some(because) => format!("accepted {}: {} Because: {because}", finding.rule, finding.message),
            None => by.told(finding),
        };
        if let Some(state) = finding.state.as_ref().filter(|state| !text.contains(state.as_str())) {
            text.push_str(&format!(" ({state})"));
        }
        let mut lines = column::paragraph(&text, false, width, indent);
        if let (Some(number), Some(first)) = (number, lines.first_mut()) {
            first.shapes.extend(flag(*number, Point { x: FLAG / 2.0, y: 0.5 + Height::H1_8.mm() / 2.0 }));
        }
        if let Some(last) = lines.last_mut() {
            last.height += 1.3;
        }
        rows.extend(lines);
    }
    rows.extend(not_checked(job, listed, width));
    rows
}

/// The flag of a finding around a point.
#[must_use]
pub fn flag(number: usize, at: Point) -> Vec<Shape> {
    let mut text = Text::new(&number.to_string(), at.x, at.y + Height::H1_8.mm() / 2.0, Height::H1_8).bold();
    text.anchor = Anchor::Middle;
    let w = FLAG.max(text.width() + 1.2);
    let rect = Rect { x: at.x - w / 2.0, y: at.y - FLAG / 2.0, w, h: FLAG };
    vec![Shape::rect(rect, Some(Width::Medium), Dash::Solid, Fill::White), Shape::Text(text)]
}

fn not_checked(job: &Job, listed: &[Listed<'_>], width: f64) -> Vec<Row> {
    use crate::diagnostic::Subject;
    let name = |finding: &Finding| match finding.subjects.first() {
        Some(Subject::Device(i)) => job.devices.get(*i as usize).map(|d| d.name.clone()),
        Some(Subject::Terminal(i)) => {
            let terminal = job.terminals.get(*i as usize);
            terminal.map(|t| job.device(t.device).name.clone())
        }
        Some(Subject::Cable(i)) => job.cables.get(*i as usize).map(|c| c.name.clone()),
        Some(Subject::Core(i)) => job.cores.get(*i as usize).map(|c| job.cable(c.cable).name.clone()),
        None => None,
    };
    let count = listed.iter().filter(|l| is_not_checked(l.finding)).count();
    if count == 0 {
        return Vec::new();
    }
    let about: BTreeSet<netlist::Name> =
        listed.iter().filter(|l| is_not_checked(l.finding)).filter_map(|l| name(l.finding)).collect();
    let shown: Vec<&str> = about.iter().take(NAMES).map(netlist::Name::as_str).collect();
    let more = if about.len() > NAMES { format!(" and {} more", about.len() - NAMES) } else { String::new() };
    let what = if count == 1 { "1 check was".to_owned() } else { format!("{count} checks were") };
    let text = format!(
        "note: {what} left out for want of a figure (at {}{more}); `bellwire check` says which.",
        shown.join(", ")
    );
    column::paragraph(&text, false, width, FLAG + 1.6)
}

/// The key to the colours of the job's cores and of the unused leads that are drawn.
#[must_use]
pub fn colour_key<'a>(job: &Job, leads: impl Iterator<Item = &'a Lead>, width: f64) -> Vec<Row> {
    const SWATCH: f64 = 6.0;
    let mut used: BTreeSet<Colours> = job.cores.iter().map(|c| c.colours).collect();
    let leads = leads.filter_map(|l| job.terminal(l.terminal).lead.as_deref());
    used.extend(leads.map(netlist::colours_of));
    let mut entries: Vec<(Colours, String)> = Vec::new();
    for colours in used.iter().filter(|c| !c.is_empty()) {
        let words: Vec<&str> = colours.iter().map(|c| c.word()).collect();
        entries.push((*colours, format!("{} {}", strand::code(colours, ""), words.join("-"))));
    }
    entries.sort_by_key(|(colours, _)| (colours.len(), *colours));
    let words = grey_words(job, used.contains(&Colours::NONE));
    if !words.is_empty() {
        entries.push((Colours::NONE, words));
    }
    if entries.is_empty() {
        return Vec::new();
    }
    let mut rows = Vec::new();
    let mut row = Row { height: PITCH_KEY, ..Row::default() };
    let lead = "Colours (IEC 60757):";
    let baseline = 0.7 + Height::H1_8.mm();
    row.shapes.push(Shape::Text(Text::new(lead, 0.0, baseline, Height::H1_8)));
    let mut x = lettering::width(lead, Height::H1_8, false) + 2.5;
    for (colours, words) in entries {
        let needed = SWATCH + 1.2 + lettering::width(&words, Height::H1_8, false);
        if x > 0.0 && x + needed > width {
            rows.push(std::mem::replace(&mut row, Row { height: PITCH_KEY, ..Row::default() }));
            x = 0.0;
        }
        let y = baseline - Height::H1_8.mm() / 2.0;
        let line = [Point { x, y }, Point { x: x + SWATCH, y }];
        row.shapes.extend(strand::strokes(&line, &colours).into_iter().map(Shape::Stroke));
        row.shapes.push(Shape::Text(Text::new(&words, x + SWATCH + 1.2, baseline, Height::H1_8)));
        x += needed + 3.0;
    }
    rows.push(row);
    if let Some((_, before)) = rows.split_last_mut() {
        before.iter_mut().for_each(|row| row.keep = true);
    }
    rows
}

/// What the grey of an unstated colour stands for in this job; `colourless` if a core or lead bears it.
fn grey_words(job: &Job, colourless: bool) -> String {
    let drain = |at: usize| job.cables.iter().any(|c| c.drain().is_some_and(|d| d.index() == at));
    let bare: Vec<usize> =
        (0..job.cores.len()).filter(|at| job.cores.get(*at).is_some_and(|c| c.colours.is_empty())).collect();
    let drains = bare.iter().filter(|at| drain(**at)).count();
    let mut words = Vec::new();
    if drains > 0 {
        words.push("drain");
    }
    if !job.links.is_empty() {
        words.push("link");
    }
    if bare.len() > drains || (colourless && bare.is_empty()) {
        words.push("colour not stated");
    }
    match words.as_slice() {
        [before @ .., last] if !before.is_empty() => format!("{}, or {last}", before.join(", ")),
        _ => words.concat(),
    }
}

/// The pitch of the lines of the colour key.
const PITCH_KEY: f64 = 3.8;
