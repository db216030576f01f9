//! Dead tests: continuity core by core, nothing joined that must be apart, polarity, loops and buses by their ohms.

use std::collections::BTreeMap;

use super::super::stand::{Pose, Probe, Stand};
use super::{Expect, Kind, OPEN, Test};
use crate::circuit::{Circuit, Feed, MovedBy, MoverId, Way};
use crate::netlist::{
    CableId, CoreId, End, Job, Kind as Part, LoopValue, Meaning, PartId, Supervised, TerminalId, listed,
};
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
    loops(stand, circuit, Kind::Loop, tests);
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
    let rest = stand.unpowered();
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

/// Whether a mover is moved without power: a button, a switch, a float; not what a coil moves, nor the contacts and outputs
/// of a device that takes a supply itself.
fn moved_by_hand(job: &Job, circuit: &Circuit, mover: MoverId) -> bool {
    circuit.movers().get(mover.index()).is_some_and(|mover| {
        let electronic = |part: u32| match &job.part(PartId(part)).kind {
            Part::Load(load) => load.polarised,
            Part::Source(_) | Part::Input(_) | Part::Output(_) | Part::TwoWire(_) => true,
            _ => false,
        };
        mover.by == MovedBy::World && !job.device(mover.device).parts.iter().any(electronic)
    })
}

/// A way in which a part is fed, with all power off.
struct Unpowered {
    /// What is moved by hand stands as the way needs it.
    by_hand: Pose,
    /// So do the contacts that power alone closes.
    pressed: Pose,
    /// The ends of those contacts.
    closed: Vec<[TerminalId; 2]>,
}

fn without_power(stand: &Stand, circuit: &Circuit, feed: &Feed) -> Unpowered {
    let job = stand.job;
    let mut by_hand = stand.unpowered();
    let (mut moved, mut needs_power, mut closed) = (Vec::new(), Vec::new(), Vec::new());
    for need in &feed.needs {
        if by_hand.state.operated(need.mover) == need.operated {
            continue;
        }
        if moved_by_hand(job, circuit, need.mover) {
            by_hand.state = circuit.put(&by_hand.state, need.mover, need.operated);
            let name = circuit.movers().get(need.mover.index()).map_or("", |mover| mover.name.as_str());
            moved.push(format!("{name} {}", if need.operated { "operated" } else { "not operated" }));
            continue;
        }
        needs_power.push(need);
        let on_the_way = feed.parts.iter().filter(|part| circuit.mover_of(**part) == Some(need.mover));
        closed.extend(on_the_way.filter_map(|part| match &job.part(*part).kind {
            Part::Contact(contact) => {
                let throw = if need.operated { contact.no } else { contact.nc };
                throw.map(|throw| [contact.common, throw])
            }
            Part::Output(output) => Some([output.at, output.common]),
            Part::TwoWire(sensor) => Some([sensor.plus, sensor.minus]),
            _ => None,
        }));
    }
    if !moved.is_empty() {
        by_hand.words = format!("with {}", listed(&moved));
    }
    let mut pressed = by_hand.clone();
    for need in needs_power {
        pressed.state = circuit.put(&pressed.state, need.mover, need.operated);
    }
    Unpowered { by_hand, pressed, closed }
}

/// What to do about contacts that power alone closes. A link might be forgotten, so that none is put in: a relay is pressed
/// in, or the way is read in parts (common practice, no source).
fn pressed_in(job: &Job, closed: &[[TerminalId; 2]]) -> String {
    let named: Vec<String> =
        closed.iter().map(|[a, b]| format!("{} to {}", job.label(*a), job.label(*b))).collect();
    let (close, them) = if closed.len() == 1 { ("closes", "it") } else { ("close", "them") };
    match closed {
        [] => String::new(),
        _ => format!(
            " {} {close} only with power, which stays off: press {them} in by hand where that can be done, else read \
             the ohms up to each side and add them. Put no link in.",
            listed(&named)
        ),
    }
}

/// The plus of each polarised load and coil is joined to the plus of a source that feeds it; if it can be, by a way that is
/// had with the power off.
fn polarity(stand: &Stand, circuit: &Circuit, tests: &mut Vec<Test>) {
    let job = stand.job;
    for (id, part) in job.part_ids().filter(|(_, part)| !part.existing) {
        let (plus, minus) = match &part.kind {
            Part::Load(load) if load.polarised => (load.plus, load.minus),
            Part::Coil(coil) if coil.polarised => (coil.plus, coil.minus),
            _ => continue,
        };
        let mut ways =
            circuit.feeds(id).ways.iter().filter(|feed| {
                feed.hard && feed.forward && circuit.sound(&feed.needs, plus).state().is_some()
            });
        let Some(first_way) = ways.next() else { continue };
        let first = (first_way, without_power(stand, circuit, first_way));
        let mut others = ways.map(|way| (way, without_power(stand, circuit, way)));
        let (feed, way) = match first.1.closed.is_empty() {
            true => first,
            false => others.find(|(_, way)| way.closed.is_empty()).unwrap_or(first),
        };
        let Some((from, back)) = feed.sources.first().zip(feed.sources.last()) else { continue };
        let (Part::Source(first), Part::Source(last)) = (&job.part(*from).kind, &job.part(*back).kind) else {
            continue;
        };
        for (pole, end, sign) in [(first.plus, plus, "+"), (last.minus, minus, "-")] {
            let at = format!("{} to {}", job.label(pole), job.label(end));
            let probe = Probe::Ohms(pole, end);
            let (pose, closed) = match stand.read(&way.by_hand, probe) {
                Some(_) => (&way.by_hand, String::new()),
                None => (&way.pressed, pressed_in(job, &way.closed)),
            };
            let how = format!(
                "{} unplugged, supplies off, fuses in, {}.{closed} Ohm meter from the {sign} of {} to the conductor for the \
                 {sign} of {}.",
                job.device(part.device).name,
                pose.words,
                job.device(job.part(*from).device).name,
                job.part_label(id),
            );
            let expect = stand.read(pose, probe).map_or_else(|| Expect::word("joined"), Expect::ohms);
            tests.push(Test::new(Kind::Polarity, at, how, expect, "Ω").probed(pose, probe));
        }
    }
}

/// Watched loops at rest: what the panel will see. Those whose contacts power holds are no dead tests but stand with the
/// inputs.
pub(super) fn loops(stand: &Stand, circuit: &Circuit, kind: Kind, tests: &mut Vec<Test>) {
    let job = stand.job;
    let powered = kind != Kind::Loop;
    let (rest, how) = if powered {
        let how = "Power on, everything at rest: detectors and relays hold their contacts. The loop off the panel. Ohm \
                   meter on its two conductors.";
        (stand.rest(), how)
    } else {
        let how =
            "The loop off the panel, supplies off, everything at rest. Ohm meter on its two conductors.";
        (stand.unpowered(), how)
    };
    for (_, part) in job.part_ids().filter(|(_, part)| !part.existing) {
        let Part::Supervised(watched) = &part.kind else { continue };
        if held_by_power(stand, circuit, watched) != powered {
            continue;
        }
        let at = format!("{} to {}", job.label(watched.at), job.label(watched.common));
        let probe = Probe::Ohms(watched.at, watched.common);
        let expect = match (stand.read(&rest, probe), watched.rest) {
            (None, _) => Expect::open(),
            (Some(ohms), Some(LoopValue::Ohms(wanted))) => {
                let slack = watched.within.0 * wanted.0;
                Expect::figure(ohms, wanted.0 - slack, wanted.0 + slack)
            }
            (Some(ohms), _) => Expect::ohms(ohms),
        };
        tests.push(Test::new(kind, at, how, expect, "Ω").probed(&rest, probe));
    }
}

/// Whether a watched loop reads at rest what it does because power holds a contact of it.
fn held_by_power(stand: &Stand, circuit: &Circuit, watched: &Supervised) -> bool {
    let job = stand.job;
    let rest = stand.rest();
    let probe = Probe::Ohms(watched.at, watched.common);
    let path = circuit.path(job, &rest.state, Way::Soft, watched.at, watched.common);
    stand.read(&rest, probe) != stand.read(&stand.unpowered(), probe)
        || path.is_some_and(|path| {
            let mut movers = path.parts().filter_map(|part| circuit.mover_of(part));
            movers.any(|mover| !moved_by_hand(job, circuit, mover))
        })
}

/// What a terminator of an RS-485 line has where its device does not say: 120 Ω, the impedance of the cable (TIA/EIA-485
/// practice in makers' notes on the bus; the standard itself not read).
const TERMINATOR: f64 = 120.0;

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
        let (mut inside, mut taken, mut unknown) = (0.0, Vec::new(), Vec::new());
        for id in members.iter().filter(|id| on(id)) {
            let Part::SignalPair(pair) = &job.part(*id).kind else { continue };
            let name = || job.device(job.part(*id).device).name.to_string();
            match pair.terminator {
                Some(ohms) => inside += 1.0 / ohms.0,
                None if pair.kind.as_str() == "rs485" => {
                    inside += 1.0 / TERMINATOR;
                    taken.push(name());
                }
                None => unknown.push(name()),
            }
        }
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
        if inside + outside > 0.0 || !unknown.is_empty() {
            let at = format!("{} to {}", job.label(pair.a), job.label(pair.b));
            let mut how = "Power off, the terminators on as set. Ohm meter across the two legs. The ohms of the cable and \
                           of what the devices draw are left out."
                .to_owned();
            if !taken.is_empty() {
                how.push_str(&format!(
                    " The terminator of {} states no ohms: 120 Ω is taken, as is usual on TIA/EIA-485 lines; see its \
                     data sheet.",
                    listed(&taken)
                ));
            }
            let expect = if unknown.is_empty() {
                Expect::ohms(1.0 / (inside + outside))
            } else {
                how.push_str(&format!(" No figure: the terminator of {} states no ohms.", listed(&unknown)));
                Expect::word("joined")
            };
            tests.push(Test::new(Kind::Bus, at, how, expect, "Ω"));
        }
    }
}
