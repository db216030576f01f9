//! What a device asks of the layout: `place: {beside: K1}`, `{column: 2}`, `{side: left}`.

use super::names::Directory;
use super::{DeviceId, Form, Hint, Job, OnSide, TerminalId};
use crate::syntax::{self, Data, Faults, Fields, Said, Value};

/// Reads the `place:` of devices.
pub fn read(
    said: &[(DeviceId, Value<'_>)],
    job: &Job,
    directory: &Directory<'_>,
    faults: &mut Faults,
) -> Vec<Hint> {
    said.iter().filter_map(|(id, value)| hint(*id, *value, job, directory, faults)).collect()
}

const SIDES: [(&str, OnSide); 2] = [("left", OnSide::Left), ("right", OnSide::Right)];

fn hint(
    id: DeviceId,
    value: Value<'_>,
    job: &Job,
    directory: &Directory<'_>,
    faults: &mut Faults,
) -> Option<Hint> {
    let mut fields = Fields::open(value, "`place`", faults)?;
    let mut hint = Hint { device: id, beside: None, column: None, sides: Vec::new() };
    if let Some(said) = fields.text("beside", faults) {
        hint.beside = beside(id, said, directory, faults);
    }
    if let Some(said) = fields.text("column", faults) {
        match said.text.trim().parse::<u16>() {
            Ok(column) if column > 0 => hint.column = Some(column),
            _ => faults.error(
                said.place,
                format!("`{}` is no column", said.text),
                "columns are counted from the left, the first is 1",
            ),
        }
    }
    if let Some(value) = fields.value("side") {
        hint.sides = sides(id, value, job, directory, faults);
    }
    fields.finish(faults);
    Some(hint)
}

fn beside(id: DeviceId, said: Said<'_>, directory: &Directory<'_>, faults: &mut Faults) -> Option<DeviceId> {
    let name = said.text.trim();
    match directory.device(name) {
        Some(other) if other == id => {
            faults.error(said.place, format!("{name} cannot stand beside itself"), "name another device");
            None
        }
        Some(other) => Some(other),
        None => {
            directory.unknown_device(name, said, faults);
            None
        }
    }
}

/// `side: left` for all terminals, or `side: {NO1: right, COM1: right}`.
fn sides(
    id: DeviceId,
    value: Value<'_>,
    job: &Job,
    directory: &Directory<'_>,
    faults: &mut Faults,
) -> Vec<(TerminalId, OnSide)> {
    let device = job.device(id);
    if directory.is_opaque(id) {
        return Vec::new();
    }
    if device.form != Form::Box {
        let fix = "leave it out: each conductor lands on the side from which it comes";
        faults.error(value.place, format!("{} has no sides to choose", device.name), fix);
        return Vec::new();
    }
    let own = || device.terminals.iter().map(TerminalId);
    let Data::Map(entries) = value.data() else {
        let side = syntax::said(value).and_then(|said| syntax::choose(said, "`side`", &SIDES, faults));
        if side.is_none() && value.text().is_none() {
            let fix = "write `side: left`, or `side: {TERMINAL: left}` for some of its terminals";
            faults.error(
                value.place,
                format!("`side` is a word or a map; here stands {}", value.shape()),
                fix,
            );
        }
        return side.map(|side| own().map(|t| (t, side)).collect()).unwrap_or_default();
    };
    let mut sides = Vec::new();
    for entry in entries {
        let names = || own().map(|t| job.terminal(t).name.as_str());
        let Some(terminal) = own().find(|t| job.terminal(*t).name == entry.key) else {
            let list = syntax::listed(names());
            let fix = match faults.nearest(entry.key, names()) {
                Some(near) => format!("did you mean `{near}`? Its terminals are: {list}"),
                None => format!("the terminals of {} are: {list}", device.name),
            };
            faults.error(entry.place, format!("{} has no terminal `{}`", device.name, entry.key), fix);
            continue;
        };
        let side = syntax::said(entry.value).and_then(|said| syntax::choose(said, "a side", &SIDES, faults));
        sides.extend(side.map(|side| (terminal, side)));
    }
    sides
}
