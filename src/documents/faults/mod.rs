//! The fault-finding chart: every single fault that can happen to this wiring, what would be seen of it, and which
//! reading tells it from its neighbours.
//!
//! Each fault is put into the job and the circuit is solved at rest and under every line of cause and effect. Faults of
//! which the same is seen form a group; in a group the readings are ordered by half-splitting.

mod chart;
mod effect;
mod inject;
mod meter;

pub use chart::{Band, Chart, Group, Reading, chart, chart_table};
pub use effect::{AT_REST_ONLY, Scene, Seen, Signature, UNSEEN};
pub use inject::inject;
pub use meter::{Meter, Point, told_apart};

use super::stand::{Pose, Probe, Stand};
use crate::circuit::Circuit;
use crate::netlist::{CoreId, Form, Job, Kind, PartId, TerminalId};

/// One single fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Fault {
    /// A core is open.
    Open(CoreId),
    /// Two neighbouring cores of a cable touch.
    CoresJoined(CoreId, CoreId),
    /// Two neighbouring terminals of a device touch.
    TerminalsJoined(TerminalId, TerminalId),
    /// Two cores of a cable are exchanged at one end.
    Exchanged(CoreId, CoreId),
    /// A contact, output or sensor never changes over.
    StuckAtRest(PartId),
    /// It stands as operated whatever happens.
    StuckOperated(PartId),
    /// A fuse is open.
    FuseOpen(PartId),
    /// A supply gives nothing.
    SourceLost(PartId),
    /// A polarised part stands the wrong way round.
    Reversed(PartId),
}

impl Fault {
    /// The fault in words.
    #[must_use]
    pub fn words(self, job: &Job) -> String {
        let core = |core: CoreId| job.core_label(core);
        let pair = |a: CoreId, b: CoreId| format!("{} and {}", core(a), job.core(b).name);
        match self {
            Self::Open(id) => format!("{} open", core(id)),
            Self::CoresJoined(a, b) => format!("{} touch", pair(a, b)),
            Self::TerminalsJoined(a, b) => format!("{} and {} touch", job.label(a), job.label(b)),
            Self::Exchanged(a, b) => format!("{} exchanged at one end", pair(a, b)),
            Self::StuckAtRest(id) => format!("{} does not change over", job.part_label(id)),
            Self::StuckOperated(id) => format!("{} stuck as operated", job.part_label(id)),
            Self::FuseOpen(id) => format!("fuse {} open", job.part_label(id)),
            Self::SourceLost(id) => format!("{} gives nothing", job.part_label(id)),
            Self::Reversed(id) => format!("{} the wrong way round", job.part_label(id)),
        }
    }
}

/// Every single fault of a job that can make a difference: what joins or exchanges what is one conductor already, and
/// what happens to cores that go nowhere, is left out.
#[must_use]
pub fn faults(job: &Job, circuit: &Circuit) -> Vec<Fault> {
    let mut all = Vec::new();
    let net = |at: TerminalId| circuit.net_of(at);
    for (id, core) in job.core_ids() {
        if core.ends.iter().all(|end| end.to.terminal().is_some()) {
            all.push(Fault::Open(id));
        }
    }
    for cable in &job.cables {
        let cores: Vec<CoreId> = cable.cores.iter().map(CoreId).collect();
        for pair in cores.windows(2) {
            if let [a, b] = *pair
                && let Some((one, other)) = inject::touching(job, a, b)
                && net(one) != net(other)
            {
                all.push(Fault::CoresJoined(a, b));
            }
        }
        for (n, a) in cores.iter().enumerate() {
            for b in cores.iter().skip(n + 1) {
                let ends = |side: usize| {
                    [a, b].map(|core| job.core(*core).ends.get(side).and_then(|end| end.to.terminal()))
                };
                // Where at one end both cores go to one conductor, or nowhere, exchanging them changes nothing.
                let same = |[one, other]: [Option<TerminalId>; 2]| one.map(net) == other.map(net);
                if !same(ends(0)) && !same(ends(1)) {
                    all.push(Fault::Exchanged(*a, *b));
                }
            }
        }
    }
    for device in job.devices.iter().filter(|device| device.form != Form::Splice) {
        let terminals: Vec<TerminalId> = device.terminals.iter().map(TerminalId).collect();
        for pair in terminals.windows(2) {
            if let [a, b] = *pair
                && job.terminal(a).lead.is_none()
                && job.terminal(b).lead.is_none()
                && net(a) != net(b)
            {
                all.push(Fault::TerminalsJoined(a, b));
            }
        }
    }
    for (id, part) in job.part_ids().filter(|(_, part)| !part.existing) {
        match &part.kind {
            Kind::Contact(_) | Kind::Output(_) | Kind::TwoWire(_) => {
                all.extend([Fault::StuckAtRest(id), Fault::StuckOperated(id)]);
            }
            Kind::Fuse(_) => all.push(Fault::FuseOpen(id)),
            Kind::Source(_) => all.push(Fault::SourceLost(id)),
            _ => {}
        }
        let polarised = match &part.kind {
            Kind::Load(load) => load.polarised,
            Kind::Coil(coil) => coil.polarised,
            Kind::Diode(_) | Kind::TwoWire(_) => true,
            _ => false,
        };
        if polarised {
            all.push(Fault::Reversed(id));
        }
    }
    all
}

/// How far a reading may lie from the one worked out and still count as it: volts and amps.
const NEAR: f64 = 0.5;
/// The same as a share.
const NEAR_SHARE: f64 = 0.05;

/// The faults that would give readings that were taken: those that give most of them, with how many they give. `taken`
/// are the condition, the points and what was read; an open reading of ohms is infinite.
#[must_use]
pub fn explain(job: &Job, circuit: &Circuit, taken: &[(Pose, Probe, f64)]) -> Vec<(Fault, usize)> {
    let mut best: Vec<(Fault, usize)> = Vec::new();
    for fault in faults(job, circuit) {
        let Some(faulty) = inject(job, fault) else { continue };
        let stand = Stand::of(&faulty, circuit);
        let given = taken.iter().filter(|(pose, probe, read)| {
            let pose = stand.again(pose);
            let value = stand.read(&pose, *probe);
            let value = value.unwrap_or(if matches!(probe, Probe::Ohms(..)) { f64::INFINITY } else { 0.0 });
            value == *read || (value - read).abs() <= NEAR.max(NEAR_SHARE * read.abs())
        });
        let given = given.count();
        let most = best.first().map_or(1, |(_, most)| *most);
        if given > most {
            best.clear();
        }
        if given >= most {
            best.push((fault, given));
        }
    }
    best
}
