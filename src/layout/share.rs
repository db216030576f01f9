//! What of a job stands on one sheet.
//!
//! Every terminal stands on one sheet. A device whose terminals stand on several is drawn on each of them, with those
//! terminals only. A conductor between terminals of two sheets is drawn on both, each time from its terminal to a flag.

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

use crate::netlist::{CableId, CoreId, DeviceId, Job, LinkId, TerminalId};

/// A part of a job, or all of it.
#[derive(Clone, Debug)]
pub struct Share<'a> {
    /// The sheet of each terminal of the job, counted from 0.
    sheet_of: Cow<'a, [usize]>,
    /// Which of them this is.
    own: usize,
    /// The devices of which anything stands here, in the order of the job.
    pub(super) devices: Vec<DeviceId>,
    /// The cables of which anything stands here, in the order of the job, each with those of its cores.
    pub(super) cables: Vec<(CableId, Vec<CoreId>)>,
    /// The jumpers of which anything stands here.
    pub(super) links: Vec<LinkId>,
    /// The devices across whose terminals a part lies, for each such part.
    hosts: BTreeMap<DeviceId, Vec<DeviceId>>,
}

/// The devices across whose terminals the parts lie that these jumpers stand for.
fn hosts(job: &Job, links: &[LinkId]) -> BTreeMap<DeviceId, Vec<DeviceId>> {
    let mut hosts: BTreeMap<DeviceId, Vec<DeviceId>> = BTreeMap::new();
    for link in links.iter().filter_map(|id| job.links.get(id.index())) {
        if let Some(part) = link.across {
            let devices = link.ends.map(|end| job.terminal(end).device);
            hosts.entry(part).or_default().extend(devices.into_iter().filter(|device| *device != part));
        }
    }
    hosts
}

impl<'a> Share<'a> {
    /// The whole job.
    #[must_use]
    pub fn whole(job: &Job) -> Self {
        let cables = job.cable_ids().map(|(id, cable)| (id, cable.cores.iter().map(CoreId).collect()));
        let links: Vec<LinkId> = (0..).map(LinkId).take(job.links.len()).collect();
        Self {
            sheet_of: Cow::Owned(vec![0; job.terminals.len()]),
            own: 0,
            devices: job.device_ids().map(|(id, _)| id).collect(),
            cables: cables.collect(),
            hosts: hosts(job, &links),
            links,
        }
    }

    /// What stands on sheet `own`: of the devices given the terminals on that sheet, and of the conductors given those
    /// that have an end there or are loose at both ends.
    pub(super) fn new(
        job: &Job,
        sheet_of: &'a [usize],
        own: usize,
        devices: Vec<DeviceId>,
        cores: &BTreeSet<CoreId>,
        links: &BTreeSet<LinkId>,
    ) -> Self {
        let mut cables: Vec<(CableId, Vec<CoreId>)> = Vec::new();
        for id in cores.iter().copied() {
            let cable = job.core(id).cable;
            match cables.last_mut() {
                Some((last, cores)) if *last == cable => cores.push(id),
                _ => cables.push((cable, vec![id])),
            }
        }
        let links: Vec<LinkId> = links.iter().copied().collect();
        let hosts = hosts(job, &links);
        Self { sheet_of: Cow::Borrowed(sheet_of), own, devices, cables, links, hosts }
    }

    /// The sheet on which a terminal stands, if that is another one.
    #[must_use]
    pub fn elsewhere(&self, terminal: TerminalId) -> Option<usize> {
        self.sheet_of.get(terminal.index()).copied().filter(|sheet| *sheet != self.own)
    }

    /// The sheet on which an end of a conductor is that stands beside a terminal, if that is another one.
    pub(super) fn away(&self, seat: Option<TerminalId>) -> Option<usize> {
        self.elsewhere(seat?)
    }

    /// Where a device stands: a part without a location of its own that lies across others in one location stands there.
    pub(super) fn location<'j>(&self, job: &'j Job, device: DeviceId) -> &'j [String] {
        let own = &*job.device(device).location;
        let hosts = self.hosts.get(&device).into_iter().flatten();
        let mut theirs = hosts.map(|host| &*job.device(*host).location);
        match theirs.next() {
            Some(first) if own.is_empty() && theirs.all(|other| other == first) => first,
            _ => own,
        }
    }

    /// Which part of a device it is of how many, counted from 1 in the order of the sheets; `None` for a whole one.
    pub(super) fn part(&self, job: &Job, device: DeviceId) -> Option<(usize, usize)> {
        let terminals = job.device(device).terminals.iter().map(TerminalId);
        let sheets: BTreeSet<usize> =
            terminals.filter_map(|t| self.sheet_of.get(t.index())).copied().collect();
        let number = sheets.iter().position(|sheet| *sheet == self.own)?;
        (sheets.len() > 1).then_some((number + 1, sheets.len()))
    }
}
