//! Dead tests: continuity core by core, nothing joined that must be apart, polarity, loops and buses by their ohms.

use std::collections::BTreeMap;

use super::super::stand::{Probe, Stand};
use super::{Expect, Kind, OPEN, Test};
use crate::circuit::Circuit;
use crate::netlist::{CableId, CoreId, End, Job, Kind as Part, LoopValue, Meaning, PartId};
use crate::units::Celsius;

/// Ohms below which two poles count as shorted rather than joined by a resistor. Our own choice.
const SHORTED: f64 = 10.0;

pub(super) fn add(stand: &Stand, circuit: &Circuit, tests: &mut Vec<Test>) {
    let job = stand.job;
    for (id, _) in job.cable_ids() {
        continuity(stand, id, tests);
    }
    for (_, cable) in job.cable_ids().filter(|(_, cable)| cable.cores.len() > 1) {
        let screen = if cable.screened { " and to the screen" } else { "" };
        let at = format!("{}, each core to every other{screen}", cable.name);
        let how = "Both ends off their terminals. Ohm meter between two cores at a time.";
        tests.push(Test::new(Kind::Short, at, how, Expect::open(), "Ω"));
    }
    poles(stand, tests);
    if job.cables.iter().any(|cable| cable.cores.len() > 1) {
        // IEC 60364-6: SELV and PELV circuits at 250 V DC, at least 0.5 MΩ.
        let expect = Expect::Word { word: "apart", low: Some(0.5), high: None };
        let how = "Where it is asked for: every device and supply unplugged, insulation tester at 250 V DC between all \
                   conductors together and earth.";
        tests.push(Test::new(Kind::Insulation, "all cables", how, expect, "MΩ"));
    }
    polarity(stand, circuit, tests);
    loops(stand, tests);
    buses(job, circuit, tests);
}

/// Where a core goes, in words: `K1:IN1 – B1:COM`, a spare one by how it was left.
fn way(job: &Job, core: CoreId) -> String {
    let end = |end: End| match end {
        End::Terminal(terminal) => job.label(terminal),
        End::Safe(way) => way.word().to_owned(),
        End::Bare | End::Spare => "BARE".to_owned(),
    };
    let [near, far] = job.core(core).ends.map(|core_end| end(core_end.to));
    if near == far { near } else { format!("{near} – {far}") }
}

fn continuity(stand: &Stand, id: CableId, tests: &mut Vec<Test>) {
    let job = stand.job;
    let cable = job.cable(id);
    let cores: Vec<CoreId> = cable.cores.iter().map(CoreId).collect();
    let ohms = |core: CoreId| stand.solver().core_ohms(core, Celsius(20.0)).map(|ohms| ohms.0);
    let [first, others @ ..] = cores.as_slice() else { return };
    if others.is_empty() {
        let at = format!("{}, {}", job.core_label(*first), way(job, *first));
        let how = "Both ends off their terminals. Ohm meter from end to end, its leads nulled.";
        tests.push(told(at, how.to_owned(), ohms(*first)));
        return;
    }
    for (n, core) in cores.iter().enumerate() {
        // Of two cores there is one loop; of more, each is looped with the next one.
        if cores.len() == 2 && n == 1 {
            break;
        }
        let Some(partner) = cores.get((n + 1) % cores.len()) else { continue };
        let (name, other) = (&job.core(*core).name, &job.core(*partner).name);
        let at = format!("{} {name} + {other}, {} and {}", cable.name, way(job, *core), way(job, *partner));
        let how = format!(
            "Both ends off their terminals. Join {name} and {other} at the far end; ohm meter on the two at the near end, \
             its leads nulled. Then part them: open."
        );
        tests.push(told(at, how, ohms(*core).zip(ohms(*partner)).map(|(a, b)| a + b)));
    }
}

/// A row of continuity; where length or resistance is not known, without a figure, and it says so.
fn told(at: String, how: String, ohms: Option<f64>) -> Test {
    match ohms {
        Some(ohms) => Test::new(Kind::Continuity, at, how, Expect::ohms(ohms), "Ω"),
        None => {
            let how = format!("{how} No figure: the length or the resistance of this cable is not stated.");
            Test::new(Kind::Continuity, at, how, Expect::word("joined"), "Ω")
        }
    }
}

/// No short between the poles of each source.
fn poles(stand: &Stand, tests: &mut Vec<Test>) {
    let job = stand.job;
    let rest = stand.rest();
    for (_, part) in job.part_ids().filter(|(_, part)| !part.existing) {
        let Part::Source(source) = &part.kind else { continue };
        let at = format!("{} to {}", job.label(source.plus), job.label(source.minus));
        let how = "The source off its terminals, fuses in, loads and electronics unplugged, nothing operated. Ohm meter on \
                   the two conductors, both ways round.";
        let probe = Probe::Ohms(source.plus, source.minus);
        let resistors = stand.read(&rest, probe).filter(|ohms| (SHORTED..OPEN).contains(ohms));
        let expect = resistors.map_or_else(Expect::open, Expect::ohms);
        tests.push(Test::new(Kind::Short, at, how, expect, "Ω"));
    }
}

/// The plus of each polarised load and coil is joined to the plus of a source that feeds it.
fn polarity(stand: &Stand, circuit: &Circuit, tests: &mut Vec<Test>) {
    let job = stand.job;
    for (id, part) in job.part_ids().filter(|(_, part)| !part.existing) {
        let (plus, minus) = match &part.kind {
            Part::Load(load) if load.polarised => (load.plus, load.minus),
            Part::Coil(coil) if coil.polarised => (coil.plus, coil.minus),
            _ => continue,
        };
        let hard = circuit.feeds(id).ways.iter().find(|feed| feed.hard && feed.forward);
        let Some(feed) = hard else { continue };
        let Some((from, back)) = feed.sources.first().zip(feed.sources.last()) else { continue };
        let (Part::Source(first), Part::Source(last)) = (&job.part(*from).kind, &job.part(*back).kind) else {
            continue;
        };
        let Some(state) = circuit.sound(&feed.needs, plus).state() else { continue };
        let pose = stand.in_state(state);
        for (pole, end, sign) in [(first.plus, plus, "+"), (last.minus, minus, "-")] {
            let at = format!("{} to {}", job.label(pole), job.label(end));
            let how = format!(
                "{} unplugged, supplies off, fuses in, {}. Ohm meter from the {sign} of {} to the conductor for the {sign} \
                 of {}.",
                job.device(part.device).name,
                pose.words,
                job.device(job.part(*from).device).name,
                job.part_label(id),
            );
            let probe = Probe::Ohms(pole, end);
            let expect = stand.read(&pose, probe).map_or_else(|| Expect::word("joined"), Expect::ohms);
            tests.push(Test::new(Kind::Polarity, at, how, expect, "Ω").probed(&pose, probe));
        }
    }
}

/// Watched loops at rest: what the panel will see.
fn loops(stand: &Stand, tests: &mut Vec<Test>) {
    let job = stand.job;
    let rest = stand.rest();
    for (_, part) in job.part_ids().filter(|(_, part)| !part.existing) {
        let Part::Supervised(watched) = &part.kind else { continue };
        let at = format!("{} to {}", job.label(watched.at), job.label(watched.common));
        let how = "The loop off the panel, everything at rest. Ohm meter on its two conductors.";
        let probe = Probe::Ohms(watched.at, watched.common);
        let expect = match (stand.read(&rest, probe), watched.rest) {
            (None, _) => Expect::open(),
            (Some(ohms), Some(LoopValue::Ohms(wanted))) => {
                let slack = watched.within.0 * wanted.0;
                Expect::figure(ohms, wanted.0 - slack, wanted.0 + slack)
            }
            (Some(ohms), _) => Expect::ohms(ohms),
        };
        tests.push(Test::new(Kind::Loop, at, how, expect, "Ω").probed(&rest, probe));
    }
}

/// A bus with its terminators on: all of them side by side.
fn buses(job: &Job, circuit: &Circuit, tests: &mut Vec<Test>) {
    let mut lines: BTreeMap<(usize, usize), Vec<PartId>> = BTreeMap::new();
    for (id, part) in job.part_ids() {
        let Part::SignalPair(pair) = &part.kind else { continue };
        let (a, b) = (circuit.net_of(pair.a).index(), circuit.net_of(pair.b).index());
        lines.entry((a.min(b), a.max(b))).or_default().push(id);
    }
    for members in lines.values().filter(|members| members.len() > 1) {
        let on = |id: &PartId| {
            let settings = &job.device(job.part(*id).device).settings;
            settings
                .iter()
                .any(|s| s.part.is_none_or(|part| part == *id) && s.meaning == Meaning::Terminator(true))
        };
        let inside: f64 = members
            .iter()
            .filter(|id| on(id))
            .filter_map(|id| match &job.part(*id).kind {
                Part::SignalPair(pair) => pair.terminator.map(|ohms| 1.0 / ohms.0),
                _ => None,
            })
            .sum();
        let Some(Part::SignalPair(pair)) = members.first().map(|id| &job.part(*id).kind) else { continue };
        let outside: f64 = job
            .parts
            .iter()
            .filter_map(|part| match &part.kind {
                Part::Resistor(resistor) => {
                    let [a, b] = resistor.between.map(|t| circuit.net_of(t));
                    let (c, d) = (circuit.net_of(pair.a), circuit.net_of(pair.b));
                    let lies = (a == c && b == d) || (a == d && b == c);
                    resistor.ohms.filter(|ohms| lies && ohms.0 > 0.0).map(|ohms| 1.0 / ohms.0)
                }
                _ => None,
            })
            .sum();
        if inside + outside > 0.0 {
            let at = format!("{} to {}", job.label(pair.a), job.label(pair.b));
            let how = "Power off, the terminators on as set. Ohm meter across the two legs. The ohms of the cable and of \
                       what the devices draw are left out.";
            let expect = Expect::ohms(1.0 / (inside + outside));
            tests.push(Test::new(Kind::Bus, at, how, expect, "Ω"));
        }
    }
}
