//! The volts at every terminal and on every hop in one condition.

use super::super::stand::{Pose, Stand};
use super::Hop;
use crate::circuit::solve::{LOOP, Solution};
use crate::netlist::{Kind, TerminalId};
use crate::source::small;
use crate::units::{Amps, Quantity, Volts};

/// From how many volts against its 0 V on a conductor counts as live here. Common practice, no source.
const LIVE: f64 = 0.5;

/// From how many amps on a core counts as carrying current here. Our own choice: less is a signal.
const CARRIES: f64 = 0.001;

/// Two figures that differ by no more than this share of the larger one are one reading. Our own choice.
const ALIKE: f64 = 0.05;

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
    let of = |ends: [&Solution; 2]| -> [Vec<String>; 3] {
        let held = |at: TerminalId| {
            let minus = minuses.iter().find(|minus| ends[1].between(at, **minus).is_some())?;
            let mut volts = [Volts(0.0); 2];
            for (volts, solution) in volts.iter_mut().zip(ends) {
                let value = solution.between(at, *minus)?;
                *volts = if stand.is_ac(at) { Volts(value.0.abs()) } else { value };
            }
            Some((volts, *minus))
        };
        let volts =
            job.terminal_ids().map(|(at, _)| held(at).map_or_else(String::new, |(volts, _)| span(volts)));
        let against = job.terminal_ids().map(|(at, _)| match held(at) {
            Some((_, minus)) if minus == at => ", the reference".to_owned(),
            Some((_, minus)) => format!(" against {}", job.label(minus)),
            None => String::new(),
        });
        let words = |hop: &Hop| {
            let at = TerminalId(small(hop.ends[0]));
            let volts = held(at).map(|(volts, _)| volts);
            let amps = ends.map(|solution| {
                let amps = hop.id.and_then(|core| solution.core_amps(core));
                Amps(amps.map_or(0.0, |amps| amps.0.abs()))
            });
            let carries = amps[1].0 >= CARRIES;
            let live = |volts: &[Volts; 2]| volts.iter().any(|volts| volts.0.abs() >= LIVE);
            let volts = volts.filter(|volts| live(volts) || carries);
            let mut words: Vec<String> = volts.map(span).into_iter().collect();
            words.extend(carries.then(|| span(amps)));
            words.join(", ")
        };
        [volts.collect(), against.collect(), hops.iter().map(words).collect()]
    };
    // Each of the sources that carry the loads one at a time has its turn.
    let turns: Vec<[Vec<String>; 3]> = (0..stand.turns(pose))
        .map(|turn| {
            stand.look_with(pose, LOOP[0], turn, |least| {
                stand.look_with(pose, LOOP[1], turn, |most| of([least, most]))
            })
        })
        .collect();
    let told = |what: usize, n: usize, at: TerminalId| {
        let words = turns.iter().enumerate().map(|(turn, all)| {
            let words = all.get(what).and_then(|all| all.get(n)).cloned().unwrap_or_default();
            (words, stand.on_turn(pose, turn, at))
        });
        stand.solver().by_turn(&words.collect::<Vec<_>>())
    };
    let against =
        |n: usize| turns.first().and_then(|[_, against, _]| against.get(n)).map_or("", String::as_str);
    let reading = |(at, _): (TerminalId, _)| told(0, at.index(), at) + against(at.index());
    let hop = |(n, hop): (usize, &Hop)| told(2, n, TerminalId(small(hop.ends[0])));
    Live {
        readings: job.terminal_ids().map(reading).collect(),
        hops: hops.iter().enumerate().map(hop).collect(),
    }
}

/// A figure, or where 4–20 mA loops make a difference of it the two ends of what it may be.
fn span<Q: Quantity + std::fmt::Display>([least, most]: [Q; 2]) -> String {
    let (low, high) = if least.value() > most.value() { (most, least) } else { (least, most) };
    if high.value() - low.value() > ALIKE * low.value().abs().max(high.value().abs()) {
        format!("{} to {}", shown(low), shown(high))
    } else {
        shown(most)
    }
}

/// A figure as a hand meter shows it: three digits, and no closer than a hundredth.
fn shown<Q: Quantity + std::fmt::Display>(value: Q) -> String {
    let value = value.value();
    let digits: f64 = format!("{value:.2e}").parse().unwrap_or(value);
    let hundredths = (digits * 100.0).round() / 100.0;
    Q::new(if value.abs() < 10.0 { hundredths + 0.0 } else { digits }).to_string()
}
