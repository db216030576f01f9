//! `bellwire mark`: a trainee's answer, or a folder of them, held against the model.

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::{Value, json};

use super::args::{Mark, MarkFormat, SheetFormat};
use super::checked::{self, Checked};
use super::{Ending, Failure, draw, files, output_files, print};
use crate::circuit::Circuit;
use crate::documents::marking::{self, Class, Fault, Lot, Marker, Model, Pair, class_table, mistakes_table};
use crate::drawing::{self, By, Flagged};
use crate::netlist::{Info, Job};
use crate::output::{self, About, Proven};
use crate::schedules::Table;

pub(super) fn run(args: &Mark) -> Result<Ending, Failure> {
    let Some(checked) = Checked::read(&args.model)? else { return Ok(Ending::Unusable) };
    let model = Model::of(&checked.job, &checked.circuit, &checked.findings);
    let marker = model.marker();
    let output = args.output.as_deref().filter(|path| path.as_os_str() != "-");
    let format = match output {
        Some(path) => output_files::format(path, args.format)?,
        None => args.format.unwrap_or(MarkFormat::Txt),
    };
    if args.answer.is_dir() {
        return folder(&args.answer, &marker, &checked.job.info, format, output, &checked.files);
    }
    let text = files::read(&args.answer)?;
    let Some(answer) = &text.reading.job else {
        checked::say_why(&text.name, &text.reading);
        return Ok(Ending::Unusable);
    };
    let mark = marker.mark(answer);
    let inputs = [checked.files.as_slice(), &text.files].concat();
    let drawn = |format| {
        draw::put(picture(answer, &mark, format, args.dpi)?, output, &inputs)?;
        Ok(Ending::Fine)
    };
    let written = match format {
        MarkFormat::Txt => told(&text.name, &mark),
        MarkFormat::Json => machine(&marker, &mark),
        MarkFormat::Svg => return drawn(SheetFormat::Svg),
        MarkFormat::Png => return drawn(SheetFormat::Png),
        MarkFormat::Pdf => return drawn(SheetFormat::Pdf),
        MarkFormat::Csv | MarkFormat::Md | MarkFormat::Xlsx => {
            return Err(Failure(
                "a table is made of a folder of answers; one answer gives txt, json, svg, png or pdf".into(),
            ));
        }
    };
    output_files::put(output, written.into_bytes(), &inputs)?;
    Ok(Ending::Fine)
}

/// The mark for people.
fn told(name: &str, mark: &marking::Mark) -> String {
    let [right, missing, extra] = mark.joins;
    let mut text = format!("{name}: {} of {} marks\n", mark.marks, mark.out_of);
    if right + missing > 0 {
        text.push_str(&format!("{right} joins right, {missing} missing, {extra} that should not be\n"));
    }
    mark.mistakes().for_each(|mistake| text.push_str(&format!("  {mistake}\n")));
    mark.exchanged.iter().for_each(|words| text.push_str(&format!("  {words}\n")));
    text
}

/// The mark for machines.
fn machine(marker: &Marker<'_>, mark: &marking::Mark) -> String {
    let pair = |pair: &Pair| json!({"pair": pair.pair, "sentence": pair.sentence});
    let lot = |lot| marker.pairs(mark, lot).map(|p| pair(&p)).collect::<Vec<Value>>();
    let dangerous: Vec<Value> = mark.dangerous.iter().map(pair).collect();
    let fault = |fault: &Fault| json!({"rule": fault.rule, "sentence": fault.sentence});
    let faults: Vec<Value> = mark.faults.iter().map(fault).collect();
    let question = |line: &marking::Line| {
        json!({
            "question": line.question,
            "given": line.given,
            "marks": line.marks,
            "out_of": line.out_of,
            "right": line.right,
            "sentence": line.sentence,
        })
    };
    let questions: Vec<Value> = mark.questions.iter().map(question).collect();
    let [right, missing, extra] = mark.joins;
    let value = json!({
        "marks": mark.marks,
        "out_of": mark.out_of,
        "right": lot(Lot::Right),
        "missing": lot(Lot::Missing),
        "extra": lot(Lot::Extra),
        "dangerous": dangerous,
        "faults": faults,
        "joins": {"right": right, "missing": missing, "extra": extra},
        "advice": mark.mistakes().collect::<Vec<String>>(),
        "exchanged": mark.exchanged,
        "questions": questions,
    });
    format!("{value:#}\n")
}

/// The answer drawn, with a flag at every difference.
fn picture(
    answer: &Job,
    mark: &marking::Mark,
    format: SheetFormat,
    dpi: f64,
) -> Result<Vec<Vec<u8>>, Failure> {
    let findings = mark.findings();
    let flagged = Flagged { by: By::Marking, findings: &findings };
    let drawing = drawing::draw_flagged(answer, &Circuit::of(answer), flagged, None);
    let proven = Proven::new(&drawing, answer)?;
    draw::sheets(&proven, &[], format, dpi, &About::of(&answer.info, "Marked answer"))
}

/// Marks every job file of a folder.
fn folder(
    folder: &Path,
    marker: &Marker<'_>,
    info: &Info,
    format: MarkFormat,
    output: Option<&Path>,
    inputs: &[PathBuf],
) -> Result<Ending, Failure> {
    let answers = answers(folder)?;
    let mut inputs = inputs.to_vec();
    let jobs: Vec<_> = answers.iter().map(|(_, path)| job_in(path.as_ref(), &mut inputs)).collect();
    let inputs = inputs.as_slice();
    let mut class = Class::default();
    for ((name, _), mark) in answers.iter().zip(marker.mark_all(&jobs)) {
        class.add(name, mark);
    }
    let ending = if jobs.iter().all(Result::is_ok) { Ending::Fine } else { Ending::Unusable };
    let tables = [class_table(&class), mistakes_table(&class)];
    let as_bytes = |write: fn(&Table) -> String| tables.each_ref().map(write);
    let [class, mistakes] = match format {
        MarkFormat::Txt => as_bytes(output::text),
        MarkFormat::Csv => as_bytes(output::csv),
        MarkFormat::Md => as_bytes(output::markdown),
        MarkFormat::Json => as_bytes(output::json),
        MarkFormat::Xlsx => {
            let [class, mistakes] = &tables;
            let both = [("Class", class), ("Mistakes", mistakes)];
            let book = output::xlsx(&both, &About::of(info, "Class"))?;
            output_files::put(output, book, inputs)?;
            return Ok(ending);
        }
        MarkFormat::Svg | MarkFormat::Png | MarkFormat::Pdf => {
            return Err(Failure(
                "a drawing is made of one answer; a folder gives txt, csv, md, json or xlsx".into(),
            ));
        }
    };
    match output {
        Some(path) => {
            let stem = path.file_stem().unwrap_or_default().to_string_lossy();
            let ending = path.extension().unwrap_or_default().to_string_lossy();
            let beside = path.with_file_name(format!("{stem}-mistakes.{ending}"));
            let both = [(path.to_owned(), class.into_bytes()), (beside, mistakes.into_bytes())];
            output_files::write(&both, inputs)?;
        }
        None if format == MarkFormat::Txt => print(format!("{class}\n{mistakes}").as_bytes())?,
        None => print(class.as_bytes())?,
    }
    Ok(ending)
}

/// What the row of an answer is called, and its file; of an entry that cannot be looked at there is only the reason.
type Entry = (String, Result<PathBuf, String>);

/// The job files of a folder, by name.
fn answers(folder: &Path) -> Result<Vec<Entry>, Failure> {
    let shown = folder.display();
    let entries = fs::read_dir(folder).map_err(|e| format!("{shown}: {}", files::reason(&e)))?;
    let mut answers = Vec::new();
    for entry in entries {
        match entry.map(|entry| entry.path()) {
            Ok(path) if path.extension().is_some_and(|ending| ending == "yaml" || ending == "yml") => {
                let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
                answers.push((name, Ok(path)));
            }
            Ok(_) => {}
            Err(error) => answers.push(("?".to_owned(), Err(files::reason(&error)))),
        }
    }
    if answers.is_empty() {
        return Err(Failure(format!("{shown}: there is no .yaml file in this folder")));
    }
    answers.sort_by(|(_, a), (_, b)| a.cmp(b));
    Ok(answers)
}

/// The job of an answer, or why there is none, as its row tells it. The files that are read for it are added to `inputs`.
fn job_in(path: Result<&PathBuf, &String>, inputs: &mut Vec<PathBuf>) -> Result<Job, String> {
    let path = path.map_err(|why| format!("cannot be read: {why}"))?;
    let text = files::read(path).map_err(|Failure(why)| format!("cannot be read: {why}"))?;
    inputs.extend(text.files);
    text.reading.job.ok_or_else(|| format!("cannot be read; see: bellwire check {}", path.display()))
}
