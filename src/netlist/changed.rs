//! A job with one conductor wired otherwise.

use super::{CoreId, DeviceId, End, Job, Link, LinkId, TerminalId};
use crate::diagnostic::Change;

impl Job {
    /// The same job after a change of its wiring; what the change names has to be of this job.
    #[must_use]
    pub fn after(&self, change: &Change) -> Self {
        let mut job = self.clone();
        match *change {
            Change::Land((core, end), to) => {
                job.cores[CoreId(core).index()].ends[usize::from(end)].to = End::Terminal(TerminalId(to));
            }
            Change::Exchange((a, at), (b, there)) => {
                let [a, b] =
                    [(a, at), (b, there)].map(|(core, end)| (CoreId(core).index(), usize::from(end)));
                let (one, other) = (job.cores[a.0].ends[a.1].to, job.cores[b.0].ends[b.1].to);
                job.cores[a.0].ends[a.1].to = other;
                job.cores[b.0].ends[b.1].to = one;
            }
            Change::Shift(link, end, to) => {
                job.links[LinkId(link).index()].ends[usize::from(end)] = TerminalId(to);
            }
            Change::Join(a, b) => {
                let ends = [TerminalId(a), TerminalId(b)];
                let device: DeviceId = job.terminal(ends[0]).device;
                let place = job.device(device).place;
                job.links.push(Link { ends, across: None, place });
            }
        }
        job
    }
}
