//! The head of the job.

use super::{Info, ScreenRule, SheetSize, Status};
use crate::source::Place;
use crate::syntax::{Faults, Fields, Said, Value};

/// The head, and what of it can only be resolved once the devices are read.
pub struct Head<'v> {
    pub info: Info,
    pub exclusive: Option<Value<'v>>,
    pub separated: Vec<Said<'v>>,
}

/// Reads `job:`. `place` is where the file begins, for a head that is missing; one that is `misspelt` is told as that.
pub fn read<'v>(
    entry: Option<(Value<'v>, Place)>,
    place: Place,
    misspelt: bool,
    faults: &mut Faults,
) -> Head<'v> {
    let mut head =
        Head { info: empty(entry.map_or(place, |(_, place)| place)), exclusive: None, separated: Vec::new() };
    let Some((value, place)) = entry else {
        let start = place.with(place.start..place.start);
        if !misspelt {
            faults.error(
                start,
                "the job has no head",
                "begin the file with `job:` and, below it, `title: …`",
            );
        }
        return head;
    };
    let value_place = if value.is_empty() { place } else { value.place };
    let Some(mut fields) = Fields::open(value, "`job`", faults) else { return head };
    let info = &mut head.info;
    match fields.text("title", faults) {
        Some(said) => info.title = said.text.to_owned(),
        None if fields.value("title").is_none() => {
            let start = place.with(place.start..value_place.end.min(place.end.max(value_place.start)));
            faults.error(
                start,
                "the job has no title",
                "add `title: …` below `job:`; it is the only field it must have",
            );
        }
        None => {}
    }
    let mut text =
        |key, faults: &mut Faults| fields.text(key, faults).map(|said: Said<'_>| said.text.to_owned());
    info.number = text("number", faults);
    info.owner = text("owner", faults);
    info.client = text("client", faults);
    info.site = text("site", faults);
    info.revision = text("revision", faults);
    info.drawn_by = text("drawn_by", faults);
    info.approved_by = text("approved_by", faults);
    info.date = fields.text("date", faults).map(|said| {
        if no_day(said.text) {
            let message = format!("{} is no day of the calendar", said.text);
            faults.error(said.place, message, "write year, month and day, as in `2026-03-14`");
        }
        said.text.to_owned()
    });
    let status =
        fields.choice("status", &[("design", Status::Design), ("as-built", Status::AsBuilt)], faults);
    info.status = status.unwrap_or_default();
    let owned = |texts: Vec<Said<'_>>| texts.into_iter().map(|said| said.text.to_owned()).collect();
    info.revisions = owned(fields.texts("revisions", faults));
    info.notes = owned(fields.texts("notes", faults));
    let screens = [("one-end", ScreenRule::OneEnd), ("both-ends", ScreenRule::BothEnds)];
    info.screens = fields.choice("screens", &screens, faults).unwrap_or_default();
    head.separated = fields.texts("separated", faults);
    info.separated = head.separated.iter().map(|said| location(said.text)).collect();
    if let Some(value) = fields.value("sheet")
        && let Some(mut sheet) = Fields::open(value, "`sheet`", faults)
    {
        let sizes = [("A4", SheetSize::A4), ("A3", SheetSize::A3), ("auto", SheetSize::Auto)];
        info.sheet = sheet.choice("size", &sizes, faults).unwrap_or_default();
        sheet.finish(faults);
    }
    head.exclusive = fields.value("exclusive");
    fields.finish(faults);
    head
}

/// `Hall/Panel` as its steps.
pub fn location(text: &str) -> Vec<String> {
    text.split('/').map(str::trim).filter(|step| !step.is_empty()).map(str::to_owned).collect()
}

fn empty(place: Place) -> Info {
    Info {
        title: String::new(),
        number: None,
        owner: None,
        client: None,
        site: None,
        status: Status::default(),
        revision: None,
        revisions: Vec::new(),
        date: None,
        drawn_by: None,
        approved_by: None,
        exclusive: Vec::new(),
        screens: ScreenRule::default(),
        separated: Vec::new(),
        sheet: SheetSize::default(),
        notes: Vec::new(),
        place,
    }
}

/// Whether a date is written as year, month and day, and there is no such day. Any other way of writing it is taken as it stands.
fn no_day(text: &str) -> bool {
    let parts: Vec<&str> = text.split('-').collect();
    let [year, month, day] = parts[..] else { return false };
    let digits = |part: &str, count| part.len() == count && part.bytes().all(|b| b.is_ascii_digit());
    if !(digits(year, 4) && digits(month, 2) && digits(day, 2)) {
        return false;
    }
    let number = |part: &str| part.parse::<u32>().unwrap_or_default();
    let leap = number(year) % 4 == 0 && (number(year) % 100 != 0 || number(year) % 400 == 0);
    let days = match number(month) {
        1 | 3 | 5 | 7 | 8 | 10 | 12 => 31,
        4 | 6 | 9 | 11 => 30,
        2 if leap => 29,
        2 => 28,
        _ => return true,
    };
    !(1..=days).contains(&number(day))
}
