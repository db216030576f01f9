//! `bellwire draw`: the job as sheets on paper, or a drawing on disk held against its job.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use super::args::{Draw, Picture};
use super::files::{self, JobText};
use super::verbs::{findings, unreadable, verdict};
use super::{Ending, Failure, output_files, print};
use crate::diagnostic::{Finding, Severity};
use crate::drawing;
use crate::netlist::Job;
use crate::output::Proven;

/// No drawing is larger; it keeps a wrong file from filling the memory.
const LARGEST: u64 = 256 << 20;

pub(super) fn run(args: &Draw) -> Result<Ending, Failure> {
    let text = files::read(&args.job.file)?;
    let Some(job) = &text.reading.job else { return unreadable(&text, &mut io::stderr()) };
    if let Some(file) = &args.verify {
        return verify(file, job);
    }
    let (picture, target) = target(args)?;
    let found = findings(job, &text);
    let drawing = drawing::draw(job, &found);
    let proven = Proven::new(&drawing, job).map_err(|fault| fault.to_string())?;
    let sheets: Vec<Vec<u8>> = match picture {
        Picture::Svg => proven.svg().iter().map(|sheet| sheet.clone().into_bytes()).collect(),
        Picture::Png => proven.png(args.dpi).map_err(|no| no.to_string())?,
        Picture::Json => vec![proven.geometry().into_bytes()],
    };
    written(&target, sheets, &text)?;
    for remark in &drawing.remarks {
        say(&format!("bellwire: {remark}\n"));
    }
    faults(&found, &text.name);
    Ok(if args.job.strict { verdict(&found, true) } else { Ending::Fine })
}

/// What the drawing becomes, and where it goes; `None` is standard output.
fn target(args: &Draw) -> Result<(Picture, Option<PathBuf>), Failure> {
    match args.output.as_deref() {
        Some(path) if path.as_os_str() != "-" => {
            let ending = path.extension().and_then(|e| e.to_str()).map(str::to_ascii_lowercase);
            let picture = match ending.as_deref() {
                Some("svg") => Picture::Svg,
                Some("png") => Picture::Png,
                Some("json") => Picture::Json,
                _ => {
                    let shown = path.display();
                    return Err(format!(
                        "{shown}: a drawing goes to a name that ends in .svg, .png or .json"
                    )
                    .into());
                }
            };
            match args.format {
                Some(format) if format != picture => {
                    Err("the ending of the file and --format say different things; leave --format out"
                        .to_owned()
                        .into())
                }
                _ => Ok((picture, Some(path.to_owned()))),
            }
        }
        Some(_) => Ok((args.format.unwrap_or(Picture::Svg), None)),
        None => match args.format {
            Some(format) => Ok((format, None)),
            None => Err("say where the drawing goes, such as -o job.svg (.png, .json)".to_owned().into()),
        },
    }
}

/// Writes all sheets or none: `job.svg`, `job-2.svg` …
fn written(target: &Option<PathBuf>, sheets: Vec<Vec<u8>>, text: &JobText) -> Result<(), Failure> {
    match target {
        Some(path) => {
            let files: Vec<(PathBuf, Vec<u8>)> =
                sheets.into_iter().enumerate().map(|(i, bytes)| (numbered(path, i + 1), bytes)).collect();
            output_files::write(&files, &text.files)
        }
        None => match sheets.as_slice() {
            [only] => print(only),
            sheets => {
                let count = sheets.len();
                Err(format!(
                    "the drawing has {count} sheets and standard output takes one; give a file with -o"
                )
                .into())
            }
        },
    }
}

fn numbered(path: &Path, sheet: usize) -> PathBuf {
    if sheet == 1 {
        return path.to_owned();
    }
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let ending = path.extension().unwrap_or_default().to_string_lossy();
    path.with_file_name(format!("{stem}-{sheet}.{ending}"))
}

/// Holds a drawing on disk against the job.
fn verify(file: &Path, job: &Job) -> Result<Ending, Failure> {
    let shown = file.display();
    let unreadable = |e: io::Error| format!("{shown}: {}", files::reason(&e));
    if fs::metadata(file).map_err(unreadable)?.len() > LARGEST {
        return Err(format!("{shown}: it is larger than 256 MB, which no drawing is").into());
    }
    let bytes = fs::read(file).map_err(unreadable)?;
    let svg =
        String::from_utf8(bytes).map_err(|_| format!("{shown}: it is not SVG: its text is not UTF-8"))?;
    let differences = drawing::read_back(&svg, job).map_err(|why| format!("{shown}: {why}"))?;
    if differences.is_empty() {
        print(format!("{shown}: every core is drawn as the job file says\n").as_bytes())?;
        return Ok(Ending::Fine);
    }
    let mut list = String::new();
    for difference in &differences {
        list.push_str(&format!("{shown}: {difference}\n"));
    }
    print(list.as_bytes())?;
    Ok(Ending::Found)
}

/// A drawing with faults is written all the same, but not in silence.
fn faults(found: &[Finding], name: &str) {
    let count = found.iter().filter(|f| f.accepted.is_none() && f.severity >= Severity::Error).count();
    if count > 0 {
        let errors = if count == 1 { "1 error".to_owned() } else { format!("{count} errors") };
        say(&format!(
            "bellwire: {errors} found: the drawing is stamped. `bellwire check {name}` tells them\n"
        ));
    }
}

/// Writes to standard error; nobody can be told if that fails.
fn say(text: &str) {
    let _ = io::stderr().write_all(text.as_bytes());
}
