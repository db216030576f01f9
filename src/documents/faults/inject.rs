//! A job with one fault in it.

use super::Fault;
use crate::netlist::{CoreId, Diode, End, Job, Kind, Part, Resistor, Safe, TerminalId, TypePart};
use crate::units::Ohms;

/// The ohms where two conductors touch. Our own choice: small enough to blow a fuse, and a short through it can still be
/// solved.
const TOUCH: f64 = 0.05;

/// The job with a fault in it; `None` if the fault cannot be in this job. Terminals, parts and cores keep their numbers.
#[must_use]
pub fn inject(job: &Job, fault: Fault) -> Option<Job> {
    let mut job = job.clone();
    match fault {
        Fault::Open(id) => job.cores.get_mut(id.index())?.ends[1].to = End::Safe(Safe::Taped),
        Fault::CoresJoined(a, b) => {
            let (one, other) = touching(&job, a, b)?;
            touch(&mut job, one, other);
        }
        Fault::TerminalsJoined(a, b) => touch(&mut job, a, b),
        Fault::Exchanged(a, b) => {
            let (one, other) = (job.core(a).ends[1].to, job.core(b).ends[1].to);
            job.cores.get_mut(a.index())?.ends[1].to = other;
            job.cores.get_mut(b.index())?.ends[1].to = one;
        }
        Fault::StuckAtRest(id) => {
            let kind = &mut job.parts.get_mut(id.index())?.kind;
            *kind = match kind {
                Kind::Contact(contact) => {
                    Kind::Bridge(contact.nc.map_or_else(Box::default, |nc| [contact.common, nc].into()))
                }
                _ => Kind::Bridge(Box::default()),
            };
        }
        Fault::StuckOperated(id) => {
            let kind = &mut job.parts.get_mut(id.index())?.kind;
            *kind = match kind {
                Kind::Contact(contact) => {
                    Kind::Bridge(contact.no.map_or_else(Box::default, |no| [contact.common, no].into()))
                }
                Kind::Output(output) => Kind::Bridge([output.at, output.common].into()),
                // A sensor that is on keeps some volts, much as a diode does.
                Kind::TwoWire(sensor) => Kind::Diode(Diode { anode: sensor.plus, cathode: sensor.minus }),
                _ => return None,
            };
        }
        Fault::FuseOpen(id) | Fault::SourceLost(id) => {
            job.parts.get_mut(id.index())?.kind = Kind::Bridge(Box::default());
        }
        Fault::Reversed(id) => match &mut job.parts.get_mut(id.index())?.kind {
            Kind::Load(load) => std::mem::swap(&mut load.plus, &mut load.minus),
            Kind::Coil(coil) => std::mem::swap(&mut coil.plus, &mut coil.minus),
            Kind::Diode(diode) => std::mem::swap(&mut diode.anode, &mut diode.cathode),
            Kind::TwoWire(sensor) => std::mem::swap(&mut sensor.plus, &mut sensor.minus),
            _ => return None,
        },
    }
    Some(job)
}

/// The terminals of two cores that touch: both at the near end where they go, else where they do go.
pub(super) fn touching(job: &Job, a: CoreId, b: CoreId) -> Option<(TerminalId, TerminalId)> {
    let ends = |core: CoreId| job.core(core).ends.map(|end| end.to.terminal());
    let ([near_a, far_a], [near_b, far_b]) = (ends(a), ends(b));
    match ((near_a, near_b), (far_a, far_b)) {
        ((Some(one), Some(other)), _) | (_, (Some(one), Some(other))) => Some((one, other)),
        _ => near_a.or(far_a).zip(near_b.or(far_b)),
    }
}

fn touch(job: &mut Job, a: TerminalId, b: TerminalId) {
    let device = job.terminal(a).device;
    let place = job.device(device).place;
    job.parts.push(Part {
        device,
        kind: Kind::Resistor(Resistor { between: [a, b], ohms: Some(Ohms(TOUCH)) }),
        place,
        of: TypePart { name: "touch".into(), existing: false }.into(),
    });
}
