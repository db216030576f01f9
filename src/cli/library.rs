//! `bellwire library`.

use std::path::Path;

use super::args::Library;
use super::{Ending, Failure, draw, output_files, print};
use crate::drawing;
use crate::figure;
use crate::figure::graphic::{Use, graphic};
use crate::library;
use crate::netlist::{self, DeviceId, Form, Job};
use crate::output;
use crate::scene::Sheet;
use crate::syntax::did_you_mean;

/// How many ways the strip has that stands for all.
const WAYS: u32 = 4;

pub(super) fn run(args: &Library) -> Result<Ending, Failure> {
    let Some(name) = &args.name else {
        match args.output.as_deref() {
            Some(path) => write(&plate()?, path, args.dpi)?,
            None => print(list()?.as_bytes())?,
        }
        return Ok(Ending::Fine);
    };
    if let Some(sheet) = library::device_sheet(name) {
        let job = device_job(name)?;
        match args.output.as_deref() {
            Some(path) => write(&[picture(&job)], path, args.dpi)?,
            None => print(device(&job, name, sheet).as_bytes())?,
        }
        return Ok(Ending::Fine);
    }
    if let Some((pattern, sheet)) = library::shipped_cable(name) {
        if let Some(path) = args.output.as_deref() {
            write(&[cable_picture(name, pattern, sheet)?], path, args.dpi)?;
            return Ok(Ending::Fine);
        }
        return print(cable(name, pattern, sheet)?.as_bytes()).map(|()| Ending::Fine);
    }
    Err(Failure(match did_you_mean(name, library::device_types().chain(library::cable_types())) {
        Some(asked) => format!("no type is called `{name}`; {asked}"),
        None => format!("no type is called `{name}`; `bellwire library` lists them"),
    }))
}

fn form(job: &Job) -> Form {
    job.devices.first().map_or(Form::Box, |d| d.form)
}

/// A job that holds nothing but one device, called like its type.
fn device_job(kind: &str) -> Result<Job, Failure> {
    let strip = library::device_sheet(kind).is_some_and(|sheet| sheet.contains("form: strip"));
    let ways = if strip { format!(", ways: {WAYS}") } else { String::new() };
    read(kind, &format!("devices: {{{kind}: {{type: {kind}{ways}}}}}"))
}

fn cable_job(kind: &str) -> Result<Job, Failure> {
    // Patterns are shown with a common size; the one core of `single-S` may have any colour.
    let shown = kind.strip_suffix('S').map_or_else(|| kind.to_owned(), |stem| format!("{stem}0.75"));
    let cores = if kind.starts_with("single-") { ", cores: {red: taped}" } else { "" };
    read(kind, &format!("cables: {{W: {{type: {shown}{cores}}}}}"))
}

fn read(kind: &str, lines: &str) -> Result<Job, Failure> {
    let text = format!("job: {{title: {kind}}}\n{lines}\n");
    let reading = netlist::read_text(kind, &text);
    let why = reading.findings.first().map(|f| f.message.to_string()).unwrap_or_default();
    reading
        .job
        .ok_or_else(|| Failure(format!("bellwire is at fault: its own `{kind}` cannot be read: {why}")))
}

fn list() -> Result<String, Failure> {
    let mut rows = Vec::new();
    for kind in library::device_types() {
        let job = device_job(kind)?;
        let names: Vec<&str> = job.terminals.iter().map(|t| t.name.as_str()).collect();
        let terminals = match form(&job) {
            Form::Box => names.join(" "),
            Form::Splice => "any number of ends".to_owned(),
            Form::Strip => "1 … n, one point each".to_owned(),
        };
        let title = job.devices.first().and_then(|d| d.title.clone()).unwrap_or_default().into();
        rows.push([kind.to_owned(), title, terminals]);
    }
    let devices = rows.len();
    for kind in library::cable_types() {
        let job = cable_job(kind)?;
        let cores: Vec<&str> = job.cores.iter().map(|c| c.name.as_str()).collect();
        let cores = if kind.starts_with("single-") { "one, any colour".to_owned() } else { cores.join(" ") };
        rows.push([kind.to_owned(), name_in(library::cable_sheet(kind).unwrap_or_default()), cores]);
    }
    let width = |column: usize| {
        let cells = rows.iter().filter_map(|row| row.get(column));
        cells.map(|cell| cell.chars().count()).max().unwrap_or(0)
    };
    let (first, second) = (width(0), width(1));
    let mut text = String::from("Devices\n");
    for (i, [kind, title, points]) in rows.iter().enumerate() {
        if i == devices {
            text.push_str("\nCables (S stands for any size: 0.75 for mm², or 18AWG)\n");
        }
        let line = format!("  {kind:first$}  {title:second$}  {points}");
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text.push_str("\nSymbols that a device may ask for with `symbol:`\n");
    for (name, _) in library::GRAPHICS {
        let asked = [Use::Source, Use::Load, Use::Coil, Use::Actuator];
        if let Some(symbol) = graphic(name).filter(|g| asked.contains(&g.stands_for)) {
            text.push_str(&format!("  {name:first$}  {}\n", symbol.title));
        }
    }
    text.push_str("\n`bellwire library NAME` shows one, `-o FILE.svg` or `FILE.png` draws it, without a name all of them.\n");
    Ok(text)
}

/// The `name:` of a data sheet.
fn name_in(sheet: &str) -> String {
    sheet.lines().find_map(|line| line.strip_prefix("name: ")).unwrap_or_default().to_owned()
}

fn device(job: &Job, kind: &str, sheet: &str) -> String {
    let title = job.devices.first().and_then(|d| d.title.as_deref()).unwrap_or_default();
    let mut text = format!("{kind}: {title}\n\n");
    match form(job) {
        Form::Splice => {
            text.push_str(
                "One point that joins any number of cores; an end at it is the device's name alone.\n",
            );
        }
        Form::Strip => {
            text.push_str("Takes `ways: n`; its ways are 1 to n, each one point with two sides.\n")
        }
        Form::Box => {
            let width = job.terminals.iter().map(|t| t.name.chars().count()).max().unwrap_or(0);
            text.push_str("Terminals, in printed order\n");
            for terminal in &job.terminals {
                let lead =
                    terminal.lead.as_ref().map(|colour| format!(" ({colour} lead)")).unwrap_or_default();
                let label = terminal.label.as_deref().unwrap_or_default();
                text.push_str(&format!("  {:width$}  {label}{lead}\n", terminal.name));
            }
        }
    }
    text.push_str(&quoted("data_sheets", kind, sheet));
    text.push_str(&format!("\nTo see it drawn: bellwire library {kind} -o {kind}.svg\n"));
    text
}

fn cable(name: &str, pattern: &str, sheet: &str) -> Result<String, Failure> {
    let mut text = format!("{name}: {}\n\nCores, with their codes (IEC 60757)\n", name_in(sheet));
    if pattern.starts_with("single-") {
        text.push_str("  the one core that the cable lists, of any colour\n");
    } else {
        let job = cable_job(name)?;
        let width = job.cores.iter().map(|c| c.name.chars().count()).max().unwrap_or(0);
        for core in &job.cores {
            let code: String = core.colours.iter().map(|c| c.code()).collect();
            text.push_str(format!("  {:width$}  {code}", core.name).trim_end());
            text.push('\n');
        }
    }
    text.push_str(&quoted("cable_data", pattern, sheet));
    Ok(text)
}

/// A data sheet as it would stand in a job or company file.
fn quoted(section: &str, name: &str, sheet: &str) -> String {
    let mut text = format!("\nAs it would stand in a job file\n  {section}:\n    {name}:\n");
    for line in sheet.lines() {
        text.push_str(format!("      {line}").trim_end());
        text.push('\n');
    }
    text
}

/// The picture of a device.
fn picture(job: &Job) -> Sheet {
    let sides = figure::default_sides(job, DeviceId(0)).plain(form(job));
    drawing::device_sheet(job, &figure::design(job, DeviceId(0), &sides, &[]))
}

/// The picture of a cable.
fn cable_picture(name: &str, pattern: &str, sheet: &str) -> Result<Sheet, Failure> {
    let cores = match pattern.starts_with("single-") {
        true => Vec::new(),
        false => cable_job(name)?.cores.into_iter().map(|core| (core.name.clone(), core.colours)).collect(),
    };
    Ok(drawing::cable_sheet(
        name,
        &name_in(sheet),
        &cores,
        "the one core that the cable lists, of any colour",
    ))
}

/// The pictures of all devices and cables.
fn plate() -> Result<Vec<Sheet>, Failure> {
    let mut pictures = Vec::new();
    for kind in library::device_types() {
        pictures.push(picture(&device_job(kind)?));
    }
    for kind in library::cable_types() {
        pictures.push(cable_picture(kind, kind, library::cable_sheet(kind).unwrap_or_default())?);
    }
    Ok(drawing::plate("Devices and cables of the library", &pictures))
}

/// Writes pictures, the first under the name that was given and the others numbered.
fn write(sheets: &[Sheet], path: &Path, dpi: f64) -> Result<(), Failure> {
    let texts: Vec<String> = sheets.iter().map(output::svg).collect();
    if path.as_os_str() == "-" {
        return match texts.as_slice() {
            [one] => print(one.as_bytes()),
            many => Err(Failure(format!("standard output takes one sheet, not {}; give a file", many.len()))),
        };
    }
    let ending = path.extension().map(|e| e.to_ascii_lowercase());
    let picture = |(text, sheet): (String, &Sheet)| match ending.as_ref().and_then(|e| e.to_str()) {
        Some("svg") => Ok(text.into_bytes()),
        Some("png") => output::png(&text, sheet.size, dpi).map_err(|e| Failure(e.to_string())),
        _ => {
            let shown = path.display();
            Err(Failure(format!("{shown}: the ending says the format; a picture can be .svg or .png")))
        }
    };
    let pictures: Vec<Vec<u8>> = texts.into_iter().zip(sheets).map(picture).collect::<Result<_, _>>()?;
    let named: Vec<_> = (1..).zip(pictures).map(|(n, bytes)| (draw::of_sheet(path, n), bytes)).collect();
    output_files::write(&named, &[])
}
