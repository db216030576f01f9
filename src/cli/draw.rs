//! `bellwire draw`: the connection diagram.

use std::path::{Path, PathBuf};

use super::args::{Draw, Order, Picture, SheetFormat};
use super::checked::Checked;
use super::{Ending, Failure, files, output_files, print, say};
use crate::drawing;
use crate::layout::Earlier;
use crate::netlist::Job;
use crate::output::{self, About, Proven};
use crate::scene::Sheet;

/// No drawing is larger, in bytes; it keeps a wrong file from filling the memory.
const LARGEST_DRAWING: u64 = 256 << 20;

pub(super) fn run(args: &Draw) -> Result<Ending, Failure> {
    let Some(checked) = Checked::read(&args.job.file)? else { return Ok(Ending::Unusable) };
    let job = &checked.job;
    if let Some(drawn) = &args.verify {
        return verify(drawn, job);
    }
    let Some(output) = &args.output else {
        return Err(Failure("say where it goes with -o".to_owned()));
    };
    let to_standard_output = output.as_os_str() == "-";
    let picture = match args.format {
        None if to_standard_output => Picture::Svg,
        format => output_files::format(output, format)?,
    };
    let earlier = earlier(&args.order, job)?;
    let draw = if args.one_sheet { drawing::draw_on_one_sheet } else { drawing::draw };
    let drawing = draw(job, &checked.circuit, &checked.findings, earlier.as_ref());
    let proven = Proven::new(&drawing, job)?;
    let about = About::of(&job.info, "Connection diagram");
    let made = |format| sheets(&proven, &[], format, args.dpi, &about);
    let files = match picture {
        Picture::Svg => made(SheetFormat::Svg)?,
        Picture::Png => made(SheetFormat::Png)?,
        Picture::Pdf => made(SheetFormat::Pdf)?,
        Picture::Json => vec![proven.geometry().into_bytes()],
    };
    put(files, (!to_standard_output).then_some(output.as_path()), &checked.files)?;
    drawing.remarks.iter().for_each(|remark| say(remark));
    Ok(checked.ending(args.job.strict))
}

/// The files of a drawing with pages after it: one a sheet, a PDF one for all.
pub(super) fn sheets(
    proven: &Proven,
    pages: &[Sheet],
    format: SheetFormat,
    dpi: f64,
    about: &About,
) -> Result<Vec<Vec<u8>>, Failure> {
    let mut all: Vec<Vec<u8>> = match format {
        SheetFormat::Pdf => return Ok(vec![proven.pdf_with(pages, about)?]),
        SheetFormat::Svg => proven.svg().iter().map(|text| text.clone().into_bytes()).collect(),
        SheetFormat::Png => proven.png(dpi).map_err(|e| e.to_string())?,
    };
    for page in pages {
        let svg = output::svg(page);
        all.push(match format {
            SheetFormat::Png => output::png(&svg, page.size, dpi).map_err(|e| e.to_string())?,
            SheetFormat::Svg | SheetFormat::Pdf => svg.into_bytes(),
        });
    }
    Ok(all)
}

/// The order of the earlier drawing that is asked for.
pub(super) fn earlier(order: &Order, job: &Job) -> Result<Option<Earlier>, Failure> {
    let Some(path) = &order.like else { return Ok(None) };
    let shown = path.display();
    let earlier = drawing::earlier(&sheets_on_disk(path)?).map_err(|why| format!("{shown}: {why}"))?;
    if !earlier.shows(job) {
        return Err(Failure(format!(
            "{shown} shows no device of this job; --like takes an earlier drawing of it, as bellwire draw wrote it"
        )));
    }
    Ok(Some(earlier))
}

/// The sheets of a drawing on disk: the others stand beside the first, as many as it says. What an earlier, larger
/// drawing of that name left behind is none of them.
fn sheets_on_disk(drawn: &Path) -> Result<Vec<String>, Failure> {
    let sheet = |path: &Path| {
        let shown = path.display();
        let bytes = files::contents(path, LARGEST_DRAWING).map_err(|reason| format!("{shown}: {reason}"))?;
        String::from_utf8(bytes).map_err(|_| Failure(format!("{shown} is no SVG text")))
    };
    let mut sheets = vec![sheet(drawn)?];
    let count = sheets.first().and_then(|first| stated_count(first)).unwrap_or(usize::MAX);
    let others = (2..=count).map(|n| of_sheet(drawn, n)).take_while(|path| path.is_file());
    for other in others {
        sheets.push(sheet(&other)?);
    }
    Ok(sheets)
}

/// How many sheets there are, as the title block of the first one says: `1 / 5`.
fn stated_count(first: &str) -> Option<usize> {
    let block = first.split("class=\"title-block\"").nth(1)?;
    block.split(">1 / ").skip(1).find_map(|after| after.split('<').next()?.parse().ok())
}

/// Holds a drawing on disk against the job.
fn verify(drawn: &Path, job: &Job) -> Result<Ending, Failure> {
    let shown = drawn.display();
    let sheets = sheets_on_disk(drawn)?;
    let differences = drawing::read_back(&sheets, job).map_err(|why| format!("{shown}: {why}"))?;
    if differences.is_empty() {
        print(format!("{shown} shows this job, core by core.\n").as_bytes())?;
        return Ok(Ending::Fine);
    }
    let mut list = format!("{shown} does not show this job:\n");
    differences.iter().for_each(|difference| list.push_str(&format!("  {difference}\n")));
    print(list.as_bytes())?;
    Ok(Ending::Found)
}

/// Writes the sheets of a drawing to `NAME.svg`, `NAME-2.svg` and so on, or the only one to standard output. A further
/// sheet that an earlier, larger drawing left behind is told, since whoever opens it would take it for one of these; it
/// is not taken away, since nothing tells whose it is.
pub(super) fn put(sheets: Vec<Vec<u8>>, output: Option<&Path>, inputs: &[PathBuf]) -> Result<(), Failure> {
    let Some(output) = output else {
        let [one] = sheets.as_slice() else {
            let n = sheets.len();
            return Err(Failure(format!(
                "the drawing has {n} sheets; standard output takes one, so give a file"
            )));
        };
        return print(one);
    };
    let named: Vec<(PathBuf, Vec<u8>)> =
        (1..).zip(sheets).map(|(sheet, bytes)| (of_sheet(output, sheet), bytes)).collect();
    let count = named.len();
    output_files::write(&named, inputs)?;
    if let [(first, _), .., (last, _)] = named.as_slice() {
        say(&format!("{count} sheets: {} to {}", first.display(), last.display()));
    }
    let stale = (count + 1..).map(|n| of_sheet(output, n)).take_while(|path| path.exists());
    let stale: Vec<String> = stale.map(|path| path.display().to_string()).collect();
    match stale.as_slice() {
        [] => {}
        [one] => say(&format!("{one} was there before and is no sheet of this drawing; take it away")),
        many => say(&format!(
            "{} were there before and are no sheets of this drawing; take them away",
            many.join(", ")
        )),
    }
    Ok(())
}

/// `NAME.svg` for the first sheet, `NAME-2.svg` for the second.
pub(super) fn of_sheet(path: &Path, sheet: usize) -> PathBuf {
    if sheet == 1 {
        return path.to_owned();
    }
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let name = match path.extension() {
        Some(ending) => format!("{stem}-{sheet}.{}", ending.to_string_lossy()),
        None => format!("{stem}-{sheet}"),
    };
    path.with_file_name(name)
}
