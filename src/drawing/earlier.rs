//! The order of a drawing on disk, for another one to keep.

use std::collections::BTreeMap;

use super::paper_reader::{self, Name};
use crate::layout::{Earlier, Outline, Run};
use crate::scene::{Point, Rect};

/// Where things stand on the sheets of a drawing.
///
/// # Errors
/// If a text is not a sheet of a drawing that anybody could read.
pub fn earlier<S: AsRef<str>>(sheets: &[S]) -> Result<Earlier, String> {
    let found = paper_reader::read(sheets)?;
    let mut landings: BTreeMap<&str, Vec<(String, Point)>> = BTreeMap::new();
    for landing in found.landings.iter().filter(|landing| !landing.bar) {
        let Some((device, terminal)) = &landing.terminal else { continue };
        let Rect { x, y, w, h } = landing.area;
        let at = Point { x: x + w / 2.0, y: y + h / 2.0 };
        landings.entry(device).or_default().push((terminal.clone(), at));
    }
    let bars = found.landings.iter().filter(|landing| landing.bar);
    let splices = bars.filter_map(|bar| Some((&bar.terminal.as_ref()?.0, bar.area)));
    let devices = found.devices.iter().map(|(name, area)| (name, *area)).chain(splices);
    let mut outline = |(name, area): (&String, Rect)| Outline {
        name: name.clone(),
        area,
        landings: landings.remove(name.as_str()).unwrap_or_default(),
    };
    let runs = found.lines.iter().filter_map(|line| {
        let Name::Core(cable, core) = &line.name else { return None };
        Some(Run { names: (cable.clone(), core.clone()), points: line.points.clone() })
    });
    Ok(Earlier::new(devices.map(&mut outline).collect(), runs.collect()))
}
