//! The parts and cables that the program knows, embedded from `symbols/`, and company files of them.
//!
//! A type is looked up on shelves: the job's own data sheets, then the files it names under `use:`, then what the
//! program ships. All of them hold data sheets of one format, so that a new part needs no Rust.

use std::collections::BTreeMap;

use crate::source::{Place, Sources};
use crate::syntax::{self, Faults, Tree, Value};
use crate::units::{self, ConductorSize, SquareMm};

mod shipped {
    include!(concat!(env!("OUT_DIR"), "/symbols.rs"));
}

pub use shipped::GRAPHICS;

/// The note about a type of one shelf that hides another's.
pub const HIDES_TYPE: &str = "hides-type";

/// The note about a graphic symbol that there is not.
pub const UNKNOWN_SYMBOL: &str = "unknown-symbol";

/// The names of the device types that the program ships.
pub fn device_types() -> impl ExactSizeIterator<Item = &'static str> {
    shipped::DEVICES.iter().map(|(name, _)| *name)
}

/// The names of the cable types that the program ships; in those that end in `-S` any size in mm² or AWG stands
/// for the S.
pub fn cable_types() -> impl ExactSizeIterator<Item = &'static str> {
    shipped::CABLES.iter().map(|(name, _)| *name)
}

/// The data sheet of a shipped device type, as it would stand under `data_sheets:`.
#[must_use]
pub fn device_sheet(name: &str) -> Option<&'static str> {
    shipped::DEVICES.iter().find(|(known, _)| *known == name).map(|(_, text)| *text)
}

/// The data of a shipped cable type, as it would stand under `cable_data:`. Takes `twin-0.75` and `twin-18AWG` as well
/// as `twin-S`.
#[must_use]
pub fn cable_sheet(name: &str) -> Option<&'static str> {
    shipped_cable(name).map(|(_, text)| text)
}

/// The shipped cable type of that name, with the name of its pattern.
#[must_use]
pub fn shipped_cable(name: &str) -> Option<(&'static str, &'static str)> {
    let exact = shipped::CABLES.iter().find(|(known, _)| *known == name);
    exact.or_else(|| shipped::CABLES.iter().find(|(known, _)| size_in(known, name).is_some())).copied()
}

/// The graphic symbol of that name, as SVG.
#[must_use]
pub fn graphic(name: &str) -> Option<&'static str> {
    GRAPHICS.iter().find(|(known, _)| *known == name).map(|(_, text)| *text)
}

/// What a data sheet says of its type before anything bears it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Head {
    /// What it is, in words.
    pub title: String,
    /// Whether it is a strip, so that a device says how many ways it has.
    pub strip: bool,
    /// How many cores a cable of it lists; `None` where the type names them.
    pub listed: Option<u32>,
}

impl Head {
    /// Reads it from the text of a data sheet.
    #[must_use]
    pub fn of(sheet: &str) -> Self {
        let tree = syntax::load(&mut Sources::new(), "a data sheet", sheet.into(), &mut Faults::new());
        let text = |key: &str| tree.as_ref().and_then(|tree| tree.root().get(key)).and_then(|v| v.text());
        Self {
            title: text("name").unwrap_or_default().to_owned(),
            strip: text("form") == Some("strip"),
            listed: text("cores").and_then(|count| count.trim().parse().ok()),
        }
    }
}

/// The size that stands in `name` where `pattern` (`twin-S`) has its S.
#[must_use]
pub fn size_in(pattern: &str, name: &str) -> Option<ConductorSize> {
    let size = name.strip_prefix(stem(pattern)?)?;
    if !size.starts_with(|c: char| c.is_ascii_digit()) {
        return None;
    }
    let area = || size.parse().ok().filter(|mm2| (0.01..=400.0).contains(mm2)).map(SquareMm);
    units::gauge(size).map(ConductorSize::Gauge).or_else(|| area().map(ConductorSize::Area))
}

/// The name of a cable as a job may write it: a pattern with a common size for its S.
#[must_use]
pub fn with_size(name: &str) -> String {
    stem(name).map_or_else(|| name.to_owned(), |stem| format!("{stem}0.75"))
}

/// What stands in a pattern before its S.
fn stem(pattern: &str) -> Option<&str> {
    pattern.strip_suffix('S').filter(|stem| stem.ends_with('-'))
}

/// A type as it was found.
#[derive(Clone, Copy, Debug)]
pub struct Found<'t> {
    /// Its name on the shelf, such as `twin-S`.
    pub name: &'t str,
    /// Its data sheet.
    pub value: Value<'t>,
    /// The size that the asked name gives a pattern.
    pub size: Option<ConductorSize>,
}

/// A data sheet on a shelf, and the place of its name.
type Held<'t> = (Place, Value<'t>);

/// One shelf: the types of one file, or of what the program ships.
#[derive(Debug, Default)]
struct Shelf<'t> {
    devices: BTreeMap<&'t str, Held<'t>>,
    cables: BTreeMap<&'t str, Held<'t>>,
}

impl<'t> Shelf<'t> {
    /// The cable type of that name, or the pattern that it fits with the size that it gives.
    fn cable(&self, name: &str) -> Option<(&'t str, Held<'t>, Option<ConductorSize>)> {
        let exact = self.cables.get_key_value(name).map(|(name, held)| (*name, *held, None));
        exact.or_else(|| {
            let fitting = |(pattern, held): (&&'t str, &Held<'t>)| {
                size_in(pattern, name).map(|size| (*pattern, *held, Some(size)))
            };
            self.cables.iter().find_map(fitting)
        })
    }
}

/// All types that a job may name.
#[derive(Debug, Default)]
pub struct Library<'t> {
    shelves: Vec<Shelf<'t>>,
}

impl<'t> Library<'t> {
    /// A library without shelves.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds the shelf of a job file or company file, to be asked after those that stand there already.
    pub fn add_file(&mut self, tree: &'t Tree) {
        let index = |section: &str| {
            let entries = tree.root().get(section).into_iter().flat_map(|value| value.entries());
            entries.map(|entry| (entry.key, (entry.place, entry.value))).collect()
        };
        self.shelves.push(Shelf { devices: index("data_sheets"), cables: index("cable_data") });
    }

    /// Adds what the program ships, last: the trees of the data sheets that the job needs, by name.
    pub fn add_shipped(&mut self, devices: &'t [(&'static str, Tree)], cables: &'t [(&'static str, Tree)]) {
        let index = |trees: &'t [(&'static str, Tree)]| -> BTreeMap<&'t str, Held<'t>> {
            trees.iter().map(|(name, tree)| (*name, (tree.root().place, tree.root()))).collect()
        };
        self.shelves.push(Shelf { devices: index(devices), cables: index(cables) });
    }

    /// Notes that the device type of that name, which the job uses, hides one that is looked up later.
    pub fn note_hidden_device(&self, name: &str, faults: &mut Faults) {
        let held = self.shelves.iter().filter_map(|shelf| shelf.devices.get(name));
        note_hidden(name, held.map(|(place, _)| *place), device_sheet(name).is_some(), faults);
    }

    /// The same for a cable type.
    pub fn note_hidden_cable(&self, name: &str, faults: &mut Faults) {
        let held = self.shelves.iter().filter_map(|shelf| shelf.cable(name));
        note_hidden(name, held.map(|(_, (place, _), _)| place), shipped_cable(name).is_some(), faults);
    }

    /// Whether a shelf has that device type itself.
    #[must_use]
    pub fn device(&self, name: &str) -> Option<Found<'t>> {
        self.shelves.iter().find_map(|shelf| {
            shelf.devices.get_key_value(name).map(|(name, (_, value))| Found {
                name,
                value: *value,
                size: None,
            })
        })
    }

    /// The cable type of that name; `twin-0.75` finds `twin-S`.
    #[must_use]
    pub fn cable(&self, name: &str) -> Option<Found<'t>> {
        let (name, (_, value), size) = self.shelves.iter().find_map(|shelf| shelf.cable(name))?;
        Some(Found { name, value, size })
    }

    /// The names of all device types, for suggestions.
    pub fn known_devices(&self) -> impl Iterator<Item = &'t str> {
        let shipped = device_types().map(|name| -> &'t str { name });
        self.shelves.iter().flat_map(|shelf| shelf.devices.keys().copied()).chain(shipped)
    }

    /// The names of all cable types, for suggestions.
    pub fn known_cables(&self) -> impl Iterator<Item = &'t str> {
        let shipped = cable_types().map(|name| -> &'t str { name });
        self.shelves.iter().flat_map(|shelf| shelf.cables.keys().copied()).chain(shipped)
    }
}

/// Notes that of several types of one name, at these places in the order of looking up, the first is used.
fn note_hidden(name: &str, mut held: impl Iterator<Item = Place>, ships: bool, faults: &mut Faults) {
    let Some(used) = held.next() else { return };
    if let Some(hidden) = held.next() {
        faults.note(
            HIDES_TYPE,
            vec![(used, "this one is used".into()), (hidden, "this one is hidden".into())],
            format!("two files have a type `{name}`; the first one that is looked up is used"),
            "rename one of them if both are meant",
        );
    } else if ships {
        faults.note(
            HIDES_TYPE,
            vec![(used, String::new())],
            format!("`{name}` is also a type that the program ships; yours is used"),
            "rename it if the program's is meant",
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_data_sheet_says_what_it_is_before_anything_bears_it() {
        let listed = Head::of("conductor_class: 5\ncores: 3 # of any colour\nname: \"three loose cores\"\n");
        assert_eq!(listed, Head { title: "three loose cores".into(), strip: false, listed: Some(3) });
        let named = Head::of("name: pair\ncores: [red, black]\n");
        assert_eq!(named, Head { title: "pair".into(), strip: false, listed: None });
        assert!(Head::of("{name: rail, form: strip}\n").strip);
        assert_eq!([with_size("twin-S"), with_size("alarmS")], ["twin-0.75", "alarmS"]);
    }

    #[test]
    fn a_size_stands_for_the_s_of_a_pattern() {
        let area = |mm2| Some(ConductorSize::Area(SquareMm(mm2)));
        assert_eq!(size_in("twin-S", "twin-0.75"), area(0.75));
        assert_eq!(size_in("twin-S", "twin-1"), area(1.0));
        assert_eq!(size_in("twin-S", "twin-18AWG"), Some(ConductorSize::Gauge(18)));
        assert_eq!(size_in("twin-S", "twin-18 awg"), Some(ConductorSize::Gauge(18)));
        for (pattern, name) in [
            ("twin-S", "twin-"),
            ("twin-S", "twin-S"),
            ("twin-S", "twin-inf"),
            ("twin-S", "twin-0"),
            ("twin-S", "twin--1"),
            ("twin-S", "twin-99AWG"),
            ("alarmS", "alarm4"),
        ] {
            assert_eq!(size_in(pattern, name), None, "{name}");
        }
    }
}
