//! `bellwire library`.

use std::path::Path;

use super::args::Library;
use super::{Ending, Failure, draw, output_files, print};
use crate::drawing;
use crate::figure;
use crate::figure::graphic::{Use, graphic};
use crate::library::{self, Head};
use crate::netlist::{self, Colours, DeviceId, Form, Job, Name};
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
        let cable = CableType::of(name, sheet)?;
        match args.output.as_deref() {
            Some(path) => write(&[cable.picture()], path, args.dpi)?,
            None => print(cable.told(pattern, sheet).as_bytes())?,
        }
        return Ok(Ending::Fine);
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
    let strip = library::device_sheet(kind).is_some_and(|sheet| Head::of(sheet).strip);
    let ways = if strip { format!(", ways: {WAYS}") } else { String::new() };
    read(kind, &format!("devices: {{{kind}: {{type: {kind}{ways}}}}}"))
}

/// A cable type, as it is shown.
struct CableType<'n> {
    name: &'n str,
    title: String,
    cores: Cores,
}

/// The cores of a cable type.
enum Cores {
    /// Those of the type, with their colours.
    Own(Vec<(Name, Colours)>),
    /// So many, which the cable lists.
    Listed(u32),
}

impl<'n> CableType<'n> {
    fn of(name: &'n str, sheet: &str) -> Result<Self, Failure> {
        let Head { title, listed, .. } = Head::of(sheet);
        let cores = match listed {
            Some(count) => Cores::Listed(count),
            None => {
                let job = read(name, &format!("cables: {{W: {{type: {}}}}}", library::with_size(name)))?;
                Cores::Own(job.cores.into_iter().map(|core| (core.name.clone(), core.colours)).collect())
            }
        };
        Ok(Self { name, title, cores })
    }

    /// Its line in the list.
    fn row(self) -> [String; 3] {
        let cores = match self.cores {
            Cores::Own(cores) => cores.iter().map(|(name, _)| name.as_str()).collect::<Vec<_>>().join(" "),
            Cores::Listed(1) => "one, any colour".to_owned(),
            Cores::Listed(count) => format!("{count}, any colours"),
        };
        [self.name.to_owned(), self.title, cores]
    }

    /// The cores that the type has, and what is said of those that it has not.
    fn cores(&self) -> (&[(Name, Colours)], String) {
        match &self.cores {
            Cores::Own(cores) => (cores, String::new()),
            Cores::Listed(1) => (&[], "the one core that the cable lists, of any colour".to_owned()),
            Cores::Listed(count) => (&[], format!("the {count} cores that the cable lists, of any colours")),
        }
    }

    fn told(&self, pattern: &str, sheet: &str) -> String {
        let mut text = format!("{}: {}\n\nCores, with their codes (IEC 60757)\n", self.name, self.title);
        let (cores, listed) = self.cores();
        if cores.is_empty() {
            text.push_str(&format!("  {listed}\n"));
        }
        let width = cores.iter().map(|(name, _)| name.chars().count()).max().unwrap_or(0);
        for (name, colours) in cores {
            let code: String = colours.iter().map(|c| c.code()).collect();
            text.push_str(format!("  {name:width$}  {code}").trim_end());
            text.push('\n');
        }
        text.push_str(&quoted("cable_data", pattern, sheet));
        text
    }

    fn picture(&self) -> Sheet {
        let (cores, listed) = self.cores();
        drawing::cable_sheet(self.name, &self.title, cores, &listed)
    }
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
        rows.push(CableType::of(kind, library::cable_sheet(kind).unwrap_or_default())?.row());
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

/// The pictures of all devices and cables.
fn plate() -> Result<Vec<Sheet>, Failure> {
    let mut pictures = Vec::new();
    for kind in library::device_types() {
        pictures.push(picture(&device_job(kind)?));
    }
    for kind in library::cable_types() {
        pictures.push(CableType::of(kind, library::cable_sheet(kind).unwrap_or_default())?.picture());
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
