//! `bellwire pack`: everything that the job leaves behind.

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use super::args::Pack;
use super::checked::Checked;
use super::{Ending, Failure, draw, files, output_files, say};
use crate::documents::faults;
use crate::drawing::{self, Drawing, Paper, Titled};
use crate::output::{self, About, Proven};
use crate::scene::Role;
use crate::schedules::{self, Cell, Column, Table};
use crate::source::small;
use crate::{documents, scene};

/// From when on a step is told on standard error.
const PATIENCE: Duration = Duration::from_secs(1);

/// Endings of what other verbs write: who gives one of them does not want a folder of that name.
const OF_ONE_FILE: [&str; 9] = ["csv", "json", "md", "pdf", "png", "svg", "txt", "xlsx", "yaml"];

pub(super) fn run(args: &Pack) -> Result<Ending, Failure> {
    let Some(checked) = Checked::read(&args.job.file)? else { return Ok(Ending::Unusable) };
    let output = &args.output;
    if output.as_os_str() == "-" {
        return Err(Failure("a pack goes to a folder, a .zip or a .html; give its name".to_owned()));
    }
    let ending = output.extension().map(|ending| ending.to_string_lossy().to_lowercase());
    if let Some(other) = ending.as_deref().filter(|ending| OF_ONE_FILE.contains(ending)) {
        return Err(Failure(format!(
            "{}: a pack goes to a folder, a .zip or a .html, and no .{other}",
            output.display()
        )));
    }
    if !matches!(ending.as_deref(), Some("html" | "zip")) {
        output_files::new_folder(output)?;
    }
    let job = &checked.job;
    let progress = Progress(Instant::now());
    progress.step("drawing");
    let earlier = draw::earlier(&args.order, job)?;
    let drawing = drawing::draw(job, &checked.circuit, &checked.findings, earlier.as_ref());
    let proven = Proven::new(&drawing, job)?;
    progress.step("test sheet and fault-finding chart");
    let documents = Documents::of(&checked, &drawing);
    progress.step("page");
    let (found, tests) = (&checked.findings, &documents.tests);
    let page = documents::page(job, &checked.circuit, found, tests, &drawing.spots);
    let page = output::html(&page, &documents.chart, proven.svg()).into_bytes();
    if ending.as_deref() == Some("html") {
        output_files::write(&[(output.clone(), page)], &checked.files)?;
    } else {
        progress.step("tables and PDF");
        let files = documents.files(&checked, &drawing, page)?;
        progress.step("writing");
        if ending.as_deref() == Some("zip") {
            output_files::write(&[(output.clone(), output::zip(&files)?)], &checked.files)?;
        } else {
            output_files::write_folder(output, &files)?;
        }
    }
    drawing.remarks.iter().for_each(|remark| say(remark));
    Ok(checked.ending(args.job.strict))
}

/// Tells what is going on once it takes longer than anybody waits without a word.
struct Progress(Instant);

impl Progress {
    fn step(&self, what: &str) {
        if self.0.elapsed() > PATIENCE {
            say(&format!("bellwire: {what} …"));
        }
    }
}

/// The tables of a pack, and what they are made from.
struct Documents {
    tests: Vec<documents::Test>,
    chart: faults::Chart,
    tables: Vec<Named>,
}

/// A table with the name of its file and the kind of document that it is.
struct Named {
    file: &'static str,
    kind: &'static str,
    table: Table,
}

const INDEX: &[Column] = &[Column::text("document", "Document"), Column::number("page", "Page")];

impl Documents {
    fn of(checked: &Checked, drawing: &Drawing) -> Self {
        let (job, circuit) = (&checked.job, &checked.circuit);
        let tests = documents::tests(job, circuit, &checked.findings);
        let chart = faults::chart(job, circuit);
        let settings = documents::settings(job, circuit, &checked.findings);
        let named = |file, kind, table| Named { file, kind, table };
        let terminals = schedules::terminals(job, circuit, &drawing.spots);
        let cables = schedules::cables(job, circuit, &drawing.spots);
        let tables = vec![
            named("terminals", "Terminal schedule", schedules::terminals_table(&terminals)),
            named("cables", "Cable schedule", schedules::cables_table(&cables)),
            named("supplies", "Supply budget", schedules::supplies_table(&schedules::supplies(job, circuit))),
            named("tests", "Test sheet", documents::tests_table(&tests)),
            named("settings", "Settings record", documents::settings_table(&settings)),
            named("faults", "Fault-finding chart", faults::chart_table(&chart)),
            named("parts", "Parts list", schedules::parts_table(&schedules::parts(job))),
            named("markers", "Wire markers", schedules::markers_table(&schedules::markers(job))),
        ];
        Self { tests, chart, tables }
    }

    /// The files of the pack in their order.
    fn files(
        &self,
        checked: &Checked,
        drawing: &Drawing,
        page: Vec<u8>,
    ) -> Result<Vec<(String, Vec<u8>)>, Failure> {
        let about = About::of(&checked.job.info, "Job record");
        let mut files = vec![
            ("job-record.pdf".to_owned(), self.pdf(checked, drawing, &about)?),
            ("page.html".to_owned(), page),
        ];
        let sheets: Vec<(&str, &Table)> =
            self.tables.iter().map(|named| (named.kind, &named.table)).collect();
        files.push(("tables.xlsx".to_owned(), output::xlsx(&sheets, &about)?));
        for Named { file, table, .. } in &self.tables {
            files.push((format!("tables/{file}.csv"), output::csv(table).into_bytes()));
        }
        files.extend(job_files(checked)?);
        Ok(files)
    }

    /// All documents as one PDF: an index, the diagram, the tables.
    fn pdf(&self, checked: &Checked, drawing: &Drawing, about: &About) -> Result<Vec<u8>, Failure> {
        let sheets_of = |kind: &str, table: &Table| {
            drawing::table_sheets(
                &checked.job,
                &checked.circuit,
                &checked.findings,
                &[Titled { kind, table }],
            )
        };
        // The terminal schedule stands on the drawing's own sheets, with boxes to tick.
        let on_drawing = |named: &Named| named.file == "terminals";
        let filled = self.tables.iter().filter(|named| !named.table.rows.is_empty() && !on_drawing(named));
        let filled: Vec<&Named> = filled.collect();
        let each: Vec<Vec<scene::Sheet>> =
            filled.iter().map(|named| sheets_of(named.kind, &named.table)).collect();
        // The index is short enough for one sheet: it has a row a document.
        let mut rows = Vec::new();
        let mut listed = |kind: &str, page: usize| {
            rows.push(vec![Cell::Text(kind.to_owned()), Cell::Number(f64::from(small(page)))]);
        };
        let parts = [("Connection diagram", Role::Diagram), ("Terminal schedule", Role::Table("terminals"))];
        let bears = |sheet: &scene::Sheet, role: &Role| sheet.content.iter().any(|group| group.role == *role);
        for (n, sheet) in drawing.sheets.iter().enumerate() {
            for (kind, role) in parts.iter().filter(|(_, role)| bears(sheet, role)) {
                let before = drawing.sheets.get(..n).unwrap_or_default();
                if !before.iter().any(|sheet| bears(sheet, role)) {
                    listed(kind, 2 + n);
                } else if !before.last().is_some_and(|sheet| bears(sheet, role)) {
                    listed(&format!("{kind}, continued"), 2 + n);
                }
            }
        }
        let mut next = 2 + drawing.sheets.len();
        for (named, sheets) in filled.iter().zip(&each) {
            listed(named.kind, next);
            next += sheets.len();
        }
        let index = Table { columns: INDEX, rows };
        let index = sheets_of("Index", &index);
        let mut all: Vec<scene::Sheet> =
            index.iter().chain(&drawing.sheets).chain(each.iter().flatten()).cloned().collect();
        let count = all.len();
        for (sheet, number) in all.iter_mut().zip(1..) {
            sheet.content.push(Paper::page_number(sheet.size, number, count));
        }
        Ok(output::pdf(&all.iter().collect::<Vec<_>>(), about)?)
    }
}

/// The job file and the company files that it names, under `job/` as they lie beside each other. None when the job came
/// by way of standard input.
fn job_files(checked: &Checked) -> Result<Vec<(String, Vec<u8>)>, Failure> {
    let Some(folder) = checked.files.first().and_then(|file| file.parent()) else { return Ok(Vec::new()) };
    let one = |path: &PathBuf| {
        let bytes =
            files::contents(path, files::LARGEST).map_err(|why| format!("{}: {why}", path.display()))?;
        Ok((format!("job/{}", inside(path, folder)), bytes))
    };
    checked.files.iter().map(one).collect()
}

/// The path below a folder, with `/` between its parts whatever the system.
fn inside(path: &Path, folder: &Path) -> String {
    let below = path.strip_prefix(folder).unwrap_or(path);
    let parts: Vec<_> = below.components().map(|part| part.as_os_str().to_string_lossy()).collect();
    parts.join("/")
}
