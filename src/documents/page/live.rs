//! The volts at every terminal and on every hop in one condition.

use super::super::stand::{Pose, Stand};
use super::Hop;
use crate::netlist::{Kind, TerminalId};
use crate::source::small;
use crate::units::{Amps, Quantity, Volts};

/// From how many volts against its 0 V on a conductor counts as live here. Common practice, no source.
const LIVE: f64 = 0.5;

/// From how many amps on a core counts as carrying current here. Our own choice: less is a signal.
const CARRIES: f64 = 0.001;

/// A condition of the job in words that a meter would confirm.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Live {
    /// By terminal: `11.9 V against G1:V-`; empty where no source holds it.
    pub readings: Vec<String>,
    /// By hop: `11.9 V, 0.5 A` where it is live or carries current, else empty.
    pub hops: Vec<String>,
}

pub(super) fn of(stand: &Stand, pose: &Pose, hops: &[Hop]) -> Live {
    let job = stand.job;
    let minuses: Vec<TerminalId> = job
        .part_ids()
        .filter(|(id, _)| !pose.off.contains(id))
        .filter_map(|(_, part)| match &part.kind {
            Kind::Source(source) => Some(source.minus),
            _ => None,
        })
        .collect();
    stand.look(pose, |solution| {
        let held = |at: TerminalId| {
            let minus = minuses.iter().find(|minus| solution.between(at, **minus).is_some())?;
            let volts = solution.between(at, *minus)?.0;
            Some((if stand.is_ac(at) { volts.abs() } else { volts }, *minus))
        };
        let readings = job.terminal_ids().map(|(at, _)| match held(at) {
            Some((volts, minus)) if minus == at => format!("{}, the reference", shown(Volts(volts))),
            Some((volts, minus)) => format!("{} against {}", shown(Volts(volts)), job.label(minus)),
            None => String::new(),
        });
        let words = |hop: &Hop| {
            let at = TerminalId(small(hop.ends[0]));
            let volts = held(at).map(|(volts, _)| volts);
            let amps = hop.id.and_then(|core| solution.core_amps(core)).map_or(0.0, |amps| amps.0.abs());
            let volts = volts.filter(|volts| volts.abs() >= LIVE || amps >= CARRIES);
            let mut words: Vec<String> = volts.map(|volts| shown(Volts(volts))).into_iter().collect();
            words.extend((amps >= CARRIES).then(|| shown(Amps(amps))));
            words.join(", ")
        };
        Live { readings: readings.collect(), hops: hops.iter().map(words).collect() }
    })
}

/// A figure as a hand meter shows it: three digits, and no closer than a hundredth.
fn shown<Q: Quantity + std::fmt::Display>(value: Q) -> String {
    let value = value.value();
    let digits: f64 = format!("{value:.2e}").parse().unwrap_or(value);
    let hundredths = (digits * 100.0).round() / 100.0;
    Q::new(if value.abs() < 10.0 { hundredths + 0.0 } else { digits }).to_string()
}
