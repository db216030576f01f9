//! Finding devices, terminals and entries by what a file calls them.

use std::collections::{BTreeMap, BTreeSet};

use super::{DeviceId, Form, Job, PartId, TerminalId};
use crate::syntax::{self, Faults, Said};

/// How many terminals are looked through one by one.
const FEW: usize = 16;

/// The devices of a job by name.
pub struct Directory<'j> {
    job: &'j Job,
    devices: BTreeMap<&'j str, DeviceId>,
    /// The terminals of the devices with many of them.
    terminals: BTreeMap<(DeviceId, &'j str), TerminalId>,
    opaque: &'j BTreeSet<DeviceId>,
}

impl<'j> Directory<'j> {
    /// The directory of a job's devices. Of the `opaque` ones the type could not be read: what is said of their
    /// terminals is not reported again.
    pub fn of(job: &'j Job, opaque: &'j BTreeSet<DeviceId>) -> Self {
        let devices = job.device_ids().map(|(id, device)| (device.name.as_str(), id)).collect();
        let many = job.device_ids().filter(|(_, device)| device.terminals.len() > FEW);
        let terminals = many
            .flat_map(|(id, device)| device.terminals.iter().map(move |terminal| (id, TerminalId(terminal))))
            .map(|(id, terminal)| ((id, job.terminal(terminal).name.as_str()), terminal))
            .collect();
        Self { job, devices, terminals, opaque }
    }

    /// The device of that name.
    pub fn device(&self, name: &str) -> Option<DeviceId> {
        self.devices.get(name).copied()
    }

    /// Whether the type of that device could not be read.
    pub fn is_opaque(&self, device: DeviceId) -> bool {
        self.opaque.contains(&device)
    }

    /// The names of all devices.
    pub fn device_names(&self) -> impl Iterator<Item = &'j str> {
        self.job.devices.iter().map(|device| device.name.as_str())
    }

    /// Reports a device that is not there.
    pub fn unknown_device(&self, name: &str, said: Said<'_>, faults: &mut Faults) {
        let fix = match faults.nearest(name, self.device_names()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => "list it under `devices:`, or correct the name".to_owned(),
        };
        faults.error(said.place, format!("there is no device `{name}`"), fix);
    }

    /// The device of that name, whose data sheet could be read; one that is not there is reported.
    fn known_device(&self, name: &str, said: Said<'_>, faults: &mut Faults) -> Option<DeviceId> {
        let found = self.device(name);
        if found.is_none() {
            self.unknown_device(name, said, faults);
        }
        found.filter(|id| !self.is_opaque(*id))
    }

    /// The terminal that a text names: `K1.NO1`, or `X1` for a splice. What it does not name is reported.
    pub fn terminal(&self, said: Said<'_>, faults: &mut Faults) -> Option<TerminalId> {
        let text = said.text.trim();
        if let Some(id) = self.device(text) {
            return self.only_terminal(id, said, faults);
        }
        let Some((name, terminal)) = text.split_once('.') else {
            self.no_terminal(text, said, faults);
            return None;
        };
        let id = self.known_device(name, said, faults)?;
        let device = self.job.device(id);
        if device.form == Form::Splice {
            faults.error(
                said.place,
                format!("{name} is a splice: one point, without terminals"),
                format!("write `{name}` alone"),
            );
            return None;
        }
        let found = if device.terminals.len() > FEW {
            self.terminals.get(&(id, terminal)).copied()
        } else {
            device.terminals.iter().find(|t| self.terminal_name(*t) == terminal).map(TerminalId)
        };
        if found.is_none() {
            let names = || device.terminals.iter().map(|t| self.terminal_name(t));
            let list = syntax::listed(names());
            let fix = match faults.nearest(terminal, names()) {
                Some(near) => format!("did you mean `{name}.{near}`? The terminals of {name} are: {list}"),
                None => format!("the terminals of {name} are: {list}"),
            };
            faults.error(said.place, format!("{name} has no terminal `{terminal}`"), fix);
        }
        found
    }

    /// An entry of a device: `K1.OUT1`. What it does not name is reported.
    pub fn entry(&self, said: Said<'_>, text: &str, faults: &mut Faults) -> Option<(DeviceId, PartId)> {
        let Some((name, entry)) = text.split_once('.') else {
            let fix = "write the device and the entry of its data sheet, as in `K1.OUT1`";
            faults.error(said.place, format!("`{text}` names no entry of a device"), fix);
            return None;
        };
        let id = self.known_device(name, said, faults)?;
        let device = self.job.device(id);
        let name_of = |part: u32| self.job.parts.get(part as usize).map_or("", |p| p.name.as_str());
        let found = device.parts.iter().find(|part| name_of(*part) == entry);
        if found.is_none() {
            let list = syntax::listed(device.parts.iter().map(name_of));
            let fix = match faults.nearest(entry, device.parts.iter().map(name_of)) {
                Some(near) => format!("did you mean `{name}.{near}`?"),
                None if device.parts.is_empty() => format!("{name} has no entries"),
                None => format!("the entries of {name} are: {list}"),
            };
            faults.error(said.place, format!("{name} has no entry `{entry}`"), fix);
        }
        found.map(|part| (id, PartId(part)))
    }

    fn terminal_name(&self, terminal: u32) -> &'j str {
        self.job.terminals.get(terminal as usize).map_or("", |t| t.name.as_str())
    }

    fn only_terminal(&self, id: DeviceId, said: Said<'_>, faults: &mut Faults) -> Option<TerminalId> {
        let device = self.job.device(id);
        if self.is_opaque(id) {
            return None;
        }
        if device.form == Form::Splice {
            return device.terminals.iter().next().map(TerminalId);
        }
        let first = device.terminals.iter().next().map_or("1", |t| self.terminal_name(t));
        let list = syntax::listed(device.terminals.iter().map(|t| self.terminal_name(t)));
        let fix = format!("write which terminal, as in `{0}.{first}`; {0} has: {list}", device.name);
        faults.error(
            said.place,
            format!("{} is a device; a core ends on one of its terminals", device.name),
            fix,
        );
        None
    }

    /// Reports a text that is no terminal at all, with what was probably meant.
    fn no_terminal(&self, text: &str, said: Said<'_>, faults: &mut Faults) {
        if let Some((device, terminal)) = text.split_once(':')
            && self.device(device).is_some()
        {
            let message = format!("`{text}` is how a terminal is printed, not how it is written here");
            faults.error(said.place, message, format!("write a dot: `{device}.{terminal}`"));
            return;
        }
        if super::cables::END_WORDS.contains(&text) {
            let message = format!("`{text}` says how the end of a core was left; here stands a terminal");
            faults.error(said.place, message, "write it as `DEVICE.TERMINAL`, a splice by its name");
            return;
        }
        let near = faults.nearest(text, self.device_names().chain(super::cables::END_WORDS.iter().copied()));
        let strip = |name: &str| self.device(name).is_some_and(|id| self.job.device(id).form == Form::Strip);
        let fix = match near {
            // A strip is no end of a core, and another number makes another device.
            Some(near) if strip(near) && unnumbered(near) == unnumbered(text) => {
                format!("if it is a splice, list it under `devices:` as `{text}: {{type: splice}}`; \
                         of a strip write the way too, as in `{near}.1`")
            }
            Some(near) => format!("did you mean `{near}`?"),
            None => "write a terminal as `DEVICE.TERMINAL`, a splice by its name, or taped, sleeved, capped, parked, \
                     bare or spare"
                .to_owned(),
        };
        faults.error(said.place, format!("there is no terminal `{text}`"), fix);
    }
}

/// A name without the number at its end.
fn unnumbered(name: &str) -> &str {
    name.trim_end_matches(|letter: char| letter.is_ascii_digit())
}
