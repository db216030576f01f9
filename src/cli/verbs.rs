//! What each verb does.

use std::io;
use std::path::Path;

use clap::CommandFactory;

use super::args::{self, Listing, TableFormat, Verb};
use super::checked::{Checked, findings, verdict};
use super::files::{JobText, PutAway};
use super::{
    Ending, Failure, compare, draw, files, library, mark, output_files, pack, preview, print, print_by, say,
    schedule, styled, tables, teach, test_sheet,
};
use crate::checks;
use crate::circuit::Circuit;
use crate::diagnostic::{self, Finding, Severity};
use crate::documents;
use crate::drawing::Titled;
use crate::netlist::Reading;
use crate::output;
use crate::source::Sources;
use crate::syntax::UNREADABLE;

/// What `bellwire new` writes.
const STARTER: &str = include_str!("starter.yaml");

pub(super) fn run(verb: Verb) -> Result<Ending, Failure> {
    match verb {
        Verb::Check(args) => check(&args),
        Verb::Draw(args) => draw::run(&args),
        Verb::Schedule(args) => schedule::run(&args),
        Verb::Tests(args) => test_sheet::run(&args),
        Verb::Settings(args) => settings(&args),
        Verb::Faults(args) => faults(&args),
        Verb::Pack(args) => pack::run(&args),
        Verb::Preview(args) => preview::run(&args),
        Verb::Mark(args) => mark::run(&args),
        Verb::Compare(args) => compare::run(&args),
        Verb::Teach(args) => teach::run(&args),
        Verb::Explain { rule } => explain(rule.as_deref()),
        Verb::Library(args) => library::run(&args),
        Verb::New { file } => new(&file),
        Verb::Completions { shell } => {
            let mut script = Vec::new();
            clap_complete::generate(shell, &mut args::Args::command(), "bellwire", &mut script);
            print(&script)?;
            Ok(Ending::Fine)
        }
        Verb::Man => {
            let mut page = Vec::new();
            clap_mangen::Man::new(args::Args::command())
                .render(&mut page)
                .map_err(|e| format!("the manual page cannot be made: {e}"))?;
            print(&page)?;
            Ok(Ending::Fine)
        }
    }
}

fn check(args: &args::Check) -> Result<Ending, Failure> {
    let Looked { name, sources, findings, ending } = match look(&args.job) {
        Err(Failure(message)) if args.format == Listing::Json => {
            let finding = Finding::new(UNREADABLE, Severity::Error, message, "");
            print_by(|out| diagnostic::write_json(out, &[finding], &Sources::new()))?;
            return Ok(Ending::Unusable);
        }
        other => other?,
    };
    print_by(|out| match args.format {
        Listing::Json => diagnostic::write_json(out, &findings, &sources),
        Listing::Human => {
            let styled = styled(&io::stdout());
            diagnostic::write_human(out, &name, &findings, &sources, styled)
        }
    })?;
    Ok(ending)
}

/// What was found in a job file, which needs neither the job nor its circuit any more.
struct Looked {
    name: String,
    sources: Sources,
    findings: Vec<Finding>,
    ending: Ending,
}

fn look(of: &args::JobFile) -> Result<Looked, Failure> {
    let JobText { name, reading: Reading { mut sources, job, findings: noted }, .. } = files::read(&of.file)?;
    let Some(job) = job else {
        return Ok(Looked { name, sources, findings: noted, ending: Ending::Unusable });
    };
    let away = PutAway::of(&of.file, &mut sources);
    let findings = findings(&job, &Circuit::of(&job), noted);
    drop(job);
    if let Some(away) = away.filter(|_| !findings.is_empty()) {
        away.bring_back(&mut sources)?;
    }
    let ending = verdict(&findings, of.strict);
    Ok(Looked { name, sources, findings, ending })
}

fn settings(args: &args::OneTable) -> Result<Ending, Failure> {
    let Some(checked) = Checked::read(&args.job.file)? else { return Ok(Ending::Unusable) };
    let rows = documents::settings(&checked.job, &checked.circuit, &checked.findings);
    let table = documents::settings_table(&rows);
    tables::write(Titled { kind: "Settings record", table: &table }, &args.to, &checked)?;
    Ok(checked.ending(args.job.strict))
}

fn faults(args: &args::OneTable) -> Result<Ending, Failure> {
    let Some(checked) = Checked::read(&args.job.file)? else { return Ok(Ending::Unusable) };
    let chart = documents::faults::chart(&checked.job, &checked.circuit);
    if checked.job.cause_and_effect.is_empty() {
        say(documents::faults::AT_REST_ONLY);
    }
    let table = documents::faults::chart_table(&chart);
    let titled = Titled { kind: "Fault-finding chart", table: &table };
    tables::write_as(&args.to, &checked, |format| match format {
        TableFormat::Txt => Ok(output::chart_text(&chart).into_bytes()),
        TableFormat::Json => Ok(output::chart_json(&chart).into_bytes()),
        other => tables::bytes(titled, other, &checked),
    })?;
    Ok(checked.ending(args.job.strict))
}

fn explain(rule: Option<&str>) -> Result<Ending, Failure> {
    let Some(name) = rule else {
        let width = checks::RULES.iter().map(|rule| rule.name.len()).max().unwrap_or(0);
        let mut list = String::new();
        for rule in checks::RULES {
            list.push_str(&format!("{:width$}  {:7}  {}\n", rule.name, rule.severity.word(), rule.summary()));
        }
        print(list.as_bytes())?;
        return Ok(Ending::Fine);
    };
    match checks::rule(name) {
        Some(rule) => print(rule.manual().as_bytes()).map(|()| Ending::Fine),
        None => Err(Failure(match checks::suggestion(name) {
            Some(near) => format!("no rule is called `{name}`; did you mean `{near}`?"),
            None => format!("no rule is called `{name}`; `bellwire explain` lists them"),
        })),
    }
}

fn new(file: &Path) -> Result<Ending, Failure> {
    if file.as_os_str() == "-" {
        return print(STARTER.as_bytes()).map(|()| Ending::Fine);
    }
    let shown = file.display();
    if file.exists() {
        return Err(Failure(format!("{shown} exists already and was left as it is")));
    }
    output_files::write(&[(file.to_owned(), STARTER.as_bytes().to_vec())], &[])?;
    print(format!("{shown} is written. Change it to your job, then: bellwire check {shown}\n").as_bytes())?;
    Ok(Ending::Fine)
}
