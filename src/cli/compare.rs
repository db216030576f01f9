//! `bellwire compare`: what was built against what was designed.

use std::path::PathBuf;

use serde_json::{Value, json};

use super::args::{Compare, CompareFormat, SheetFormat};
use super::checked::Checked;
use super::{Ending, Failure, draw, output_files};
use crate::diagnostic::Finding;
use crate::documents::changes::{self, Changes, changes_table, findings_table, moved_table};
use crate::drawing;
use crate::netlist::Job;
use crate::output::{self, About, Proven};
use crate::schedules::Table;

pub(super) fn run(args: &Compare) -> Result<Ending, Failure> {
    let Some(design) = Checked::read(&args.design)? else { return Ok(Ending::Unusable) };
    let Some(built) = Checked::read(&args.built)? else { return Ok(Ending::Unusable) };
    let output = args.output.as_deref().filter(|path| path.as_os_str() != "-");
    let format = match output {
        Some(path) => output_files::format(path, args.format)?,
        None => args.format.unwrap_or(CompareFormat::Txt),
    };
    let changes = changes::compare(side(&design), side(&built));
    let inputs: Vec<PathBuf> = [design.files.as_slice(), &built.files].concat();
    let drawn = |format| {
        let sheets = picture(&changes, (&design, &built), format, args.dpi)?;
        draw::put(sheets, output, &inputs)?;
        Ok(Ending::Fine)
    };
    let text = match format {
        CompareFormat::Txt => report(&changes, output::text, false),
        CompareFormat::Md => report(&changes, output::markdown, true),
        CompareFormat::Json => machine(&changes),
        CompareFormat::Svg => return drawn(SheetFormat::Svg),
        CompareFormat::Png => return drawn(SheetFormat::Png),
        CompareFormat::Pdf => return drawn(SheetFormat::Pdf),
    };
    output_files::put(output, text.into_bytes(), &inputs)?;
    Ok(Ending::Fine)
}

fn side(checked: &Checked) -> changes::Checked<'_> {
    changes::Checked { job: &checked.job, circuit: &checked.circuit, findings: &checked.findings }
}

/// The whole comparison for people.
fn report(changes: &Changes<'_>, table: fn(&Table) -> String, markdown: bool) -> String {
    let mut text = String::new();
    let mut part = |title: &str, content: &Table| {
        let title = if markdown { format!("## {title}\n\n") } else { format!("{title}\n") };
        let body = if content.rows.is_empty() { "none\n".to_owned() } else { table(content) };
        text.push_str(&format!("{title}{body}\n"));
    };
    part("Changes", &changes_table(changes));
    part("Findings gained", &findings_table(&changes.gained));
    part("Findings lost", &findings_table(&changes.lost));
    part("Volts and amps that moved", &moved_table(&changes.moved));
    text.truncate(text.trim_end().len());
    text.push('\n');
    text
}

fn machine(changes: &Changes<'_>) -> String {
    let entries: Vec<Value> = changes
        .changes
        .iter()
        .map(|c| json!({"kind": c.kind.word(), "what": c.what, "before": c.before, "after": c.after}))
        .collect();
    let findings = |findings: &[&Finding]| -> Vec<Value> {
        let one = |f: &&Finding| json!({"rule": f.rule, "severity": f.severity.word(), "message": f.message.words()});
        findings.iter().map(one).collect()
    };
    let moved: Vec<Value> = changes
        .moved
        .iter()
        .map(|m| json!({"what": m.what, "before": m.before, "after": m.after, "unit": m.unit}))
        .collect();
    let value = json!({
        "changes": entries,
        "findings_gained": findings(&changes.gained),
        "findings_lost": findings(&changes.lost),
        "moved": moved,
    });
    format!("{value:#}\n")
}

/// The as-built with its changes on it, listed among the notes and counted in a revision row.
fn picture(
    changes: &Changes<'_>,
    (design, built): (&Checked, &Checked),
    format: SheetFormat,
    dpi: f64,
) -> Result<Vec<Vec<u8>>, Failure> {
    let job: &Job = &built.job;
    let revisions = changes.revisions(job);
    let mut noted = job.clone();
    noted.info.notes.extend(revisions.iter().map(|r| format!("Change {}. {}", r.number, r.text)));
    let count = revisions.len();
    let row = match count {
        0 => "as built: no changes against the design".to_owned(),
        1 => "as built: change 1 against the design".to_owned(),
        _ => format!("as built: changes 1 to {count} against the design"),
    };
    noted.info.revisions.insert(0, row);
    // It stands as the design is drawn, so that the two can be laid side by side.
    let designed = drawing::draw(&design.job, &design.circuit, &design.findings, None);
    let sheets: Vec<String> = designed.sheets.iter().map(output::svg).collect();
    let earlier = drawing::earlier(&sheets).ok().filter(|earlier| earlier.shows(job));
    let mut drawing = drawing::draw(&noted, &built.circuit, &built.findings, earlier.as_ref());
    drawing::revise(&mut drawing, &noted, &revisions);
    let proven = Proven::new(&drawing, &noted)?;
    draw::sheets(&proven, &[], format, dpi, &About::of(&job.info, "Changes"))
}
