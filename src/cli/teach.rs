//! `bellwire teach`: an exercise made of a job, with its key and its answer file.

use std::path::{Path, PathBuf};

use super::args::{SheetFormat, Teach};
use super::checked::{self, findings};
use super::{Ending, Failure, draw, files, output_files};
use crate::circuit::Circuit;
use crate::documents::teaching::{Exercise, Lesson, Taken, exercise};
use crate::drawing::Drawing;
use crate::netlist::Job;
use crate::output::{About, Proven};
use crate::scene::Sheet;
use crate::source::FileId;

pub(super) fn run(args: &Teach) -> Result<Ending, Failure> {
    let text = files::read(&args.job)?;
    let reading = text.reading;
    let Some(job) = &reading.job else {
        checked::say_why(&text.name, &reading);
        return Ok(Ending::Unusable);
    };
    if job.exercise.place.is_some() {
        return Err(Failure(format!("{} is an exercise already; give the job it was made of", text.name)));
    }
    let format = output_files::format(&args.output, None)?;
    let taken = match args.take {
        _ if args.faults => Taken::Faults,
        Some(taken) => taken,
        None => Taken::of_level(args.level).ok_or_else(|| "levels go from 1 to 7".to_owned())?,
    };
    let found = findings(job, &Circuit::of(job), Vec::new());
    let source = &reading.sources.file(FileId(0)).text;
    let lesson = Lesson { job, text: source, findings: &found };
    let made = exercise(&lesson, taken, args.seed).ok_or_else(|| {
        Failure("no single fault of this job is seen and can be told from another by a reading".to_owned())
    })?;
    let written = written(&made, format, args.dpi, &args.output)?;
    output_files::write(&written, &text.files)?;
    Ok(Ending::Fine)
}

/// Every file of the exercise.
fn written(
    made: &Exercise,
    format: SheetFormat,
    dpi: f64,
    output: &Path,
) -> Result<Vec<(PathBuf, Vec<u8>)>, Failure> {
    let beside = |word: &str, ending: &str| {
        let stem = output.file_stem().unwrap_or_default().to_string_lossy();
        output.with_file_name(format!("{stem}-{word}.{ending}"))
    };
    let ending = output.extension().unwrap_or_default().to_string_lossy().into_owned();
    let mut all = named(output, sheets(&made.given, &made.pages, "Exercise", format, dpi)?);
    all.extend(named(
        &beside("key", &ending),
        sheets(&made.answer, &made.key, "Key to the exercise", format, dpi)?,
    ));
    all.push((beside("answer", "yaml"), made.to_fill.clone().into_bytes()));
    all.push((beside("key", "yaml"), made.model.clone().into_bytes()));
    Ok(all)
}

fn named(output: &Path, sheets: Vec<Vec<u8>>) -> Vec<(PathBuf, Vec<u8>)> {
    (1..).zip(sheets).map(|(sheet, bytes)| (draw::of_sheet(output, sheet), bytes)).collect()
}

/// A drawing, read back, and the pages after it.
fn sheets(
    (drawing, job): &(Drawing, Job),
    pages: &[Sheet],
    kind: &str,
    format: SheetFormat,
    dpi: f64,
) -> Result<Vec<Vec<u8>>, Failure> {
    let proven = Proven::new(drawing, job)?;
    draw::sheets(&proven, pages, format, dpi, &About::of(&job.info, kind))
}
