//! The short-circuit search held against a plain enumeration of all states.
//!
//! The enumeration shares nothing with the program's circuit but the job: it builds its own conductors, tries every
//! position of every mover, walks from everything at rest, and looks for paths by trying them all.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may stop at what it did not expect")]

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use bellwire::checks;
use bellwire::circuit::{Circuit, Reachable};
use bellwire::netlist::{self, End, Job, Kind, Mover, PartId, TerminalId};

/// Numbers that look random and are the same every time.
struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.0 >> 33).unwrap() % sides
    }
}

/// A job of a few conductors with contacts, changeovers, shared movers, coils and diodes hung between them anyhow.
fn job_text(dice: &mut Dice) -> String {
    let points = 3 + dice.roll(4);
    let mut devices = String::new();
    let mut links = Vec::new();
    for n in 1..=points {
        writeln!(devices, "  X{n}: {{type: splice}}").unwrap();
    }
    let mut add = |dice: &mut Dice, name: &str, body: &str, terminals: &[&str], sure: bool| {
        writeln!(devices, "  {name}: {{{body}}}").unwrap();
        for terminal in terminals {
            if sure || dice.roll(10) < 9 {
                links.push(format!("[{name}.{terminal}, X{}]", 1 + dice.roll(points)));
            }
        }
    };
    for n in 1..=1 + dice.roll(2) {
        add(dice, &format!("G{n}"), "type: dc-supply, volts: 12 V, amps: 1 A", &["V+", "V-"], true);
    }
    let (mut contacts, mut world, mut coils) = (0, 0, 0);
    for n in 1..=1 + dice.roll(7) {
        let name = format!("S{n}");
        let (body, terminals, poles): (&str, &[&str], usize) = match dice.roll(9) {
            0 => ("type: push-button-no", &["13", "14"], 1),
            1 => ("type: push-button-nc", &["11", "12"], 1),
            2 => ("type: limit-switch", &["COM", "NO", "NC"], 1),
            3 => ("type: reed-contact, rest: operated", &["1", "2"], 1),
            4 => ("type: pair", &["a", "b", "c", "d", "e"], 2),
            5 if coils < 3 => ("type: relay", &["A1", "A2", "11", "12", "14"], 1),
            6 if coils < 3 => ("type: relay-2-pole", &["A1", "A2", "11", "12", "14", "21", "22", "24"], 2),
            7 if coils < 3 => ("type: latching-relay", &["A1", "A2", "11", "12", "14"], 1),
            _ => ("type: diode", &["A", "K"], 0),
        };
        let coil = terminals.contains(&"A1");
        if contacts + poles > 12 || (poles > 0 && !coil && world == 6) {
            continue;
        }
        contacts += poles;
        coils += usize::from(coil);
        world += usize::from(poles > 0 && !coil);
        add(dice, &name, body, terminals, false);
    }
    format!(
        "job: {{title: Any}}\ndevices:\n{devices}links: [{}]\ndata_sheets:\n  pair:\n    terminals: [a, b, c, d, e]\n    \
         contacts: {{P: {{common: a, no: b, by: m}}, Q: {{common: c, no: d, nc: e, by: m}}}}\n",
        links.join(", ")
    )
}

/// A way between two conductors: when its mover stands so, or from the first to the second only.
#[derive(Clone, Copy)]
enum Hop {
    Contact(usize, bool),
    Diode,
    Coil(PartId),
    Source(PartId),
}

/// The job as the enumeration sees it.
struct Plain {
    hops: Vec<(usize, usize, Hop)>,
    /// By mover: the coil that moves it.
    movers: Vec<Option<PartId>>,
    latching: Vec<bool>,
    rest: u64,
    point: Vec<usize>,
    mover_of: BTreeMap<PartId, usize>,
}

impl Plain {
    fn of(job: &Job) -> Self {
        let mut point: Vec<usize> = (0..job.terminals.len()).collect();
        let mut join = |a: TerminalId, b: TerminalId| {
            let (from, to) = (point[a.index()], point[b.index()]);
            point.iter_mut().filter(|p| **p == from).for_each(|p| *p = to);
        };
        for core in &job.cores {
            if let (End::Terminal(a), End::Terminal(b)) = (core.ends[0].to, core.ends[1].to) {
                join(a, b);
            }
        }
        for link in &job.links {
            join(link.ends[0], link.ends[1]);
        }
        let at = |t: TerminalId| point[t.index()];
        let mut names: Vec<(u32, netlist::Name)> = Vec::new();
        let (mut hops, mut movers, mut latching, mut rest) = (Vec::new(), Vec::new(), Vec::new(), 0_u64);
        let mut mover_of = BTreeMap::new();
        for (id, part) in job.part_ids() {
            match &part.kind {
                Kind::Contact(c) => {
                    let (name, coil) = match c.by() {
                        Mover::Alone => (part.name.clone(), None),
                        Mover::Word(word) => (word.clone(), None),
                        Mover::Coil(coil) => (job.part(coil).name.clone(), Some(coil)),
                    };
                    let key = (part.device.0, name);
                    let mover =
                        names.iter().position(|n| *n == key).unwrap_or_else(|| {
                            names.push(key);
                            movers.push(coil);
                            latching.push(coil.is_some_and(
                                |c| matches!(&job.part(c).kind, Kind::Coil(coil) if coil.latching),
                            ));
                            rest |= u64::from(coil.is_none() && job.device(part.device).rest_operated)
                                << (names.len() - 1);
                            names.len() - 1
                        });
                    mover_of.insert(id, mover);
                    for (throw, operated) in [(c.no, true), (c.nc, false)] {
                        if let Some(throw) = throw {
                            hops.push((at(c.common), at(throw), Hop::Contact(mover, operated)));
                        }
                    }
                }
                Kind::Diode(d) => hops.push((at(d.anode), at(d.cathode), Hop::Diode)),
                Kind::Coil(c) => hops.push((at(c.plus), at(c.minus), Hop::Coil(id))),
                Kind::Source(s) => hops.push((at(s.minus), at(s.plus), Hop::Source(id))),
                _ => {}
            }
        }
        Self { hops, movers, latching, rest, point, mover_of }
    }

    /// Where one can go from a point with the current; coils as well when `soft`, sources from minus to plus.
    fn next(&self, at: usize, state: u64, soft: bool) -> Vec<(usize, usize)> {
        let mut all = Vec::new();
        for (n, &(a, b, hop)) in self.hops.iter().enumerate() {
            let (forth, back) = match hop {
                Hop::Contact(mover, operated) => {
                    let closed = (state >> mover & 1 == 1) == operated;
                    (closed, closed)
                }
                Hop::Diode | Hop::Source(_) => (true, false),
                Hop::Coil(_) => (soft, soft),
            };
            if forth && a == at {
                all.push((n, b));
            }
            if back && b == at {
                all.push((n, a));
            }
        }
        all
    }

    /// Whether a simple path leads from `at` to `goal`, through hop `through` if one is named, never over hop `not`.
    fn path(
        &self,
        [at, goal]: [usize; 2],
        state: u64,
        soft: bool,
        through: Option<usize>,
        not: usize,
        seen: &mut Vec<usize>,
    ) -> bool {
        if at == goal && through.is_none() {
            return true;
        }
        if at == goal && seen.len() > 1 {
            return false;
        }
        let mut ways = self.next(at, state, soft);
        // The part that is asked about may be passed whatever the path otherwise takes.
        if let Some(part) = through
            && !soft
        {
            let (a, b, _) = self.hops[part];
            ways.extend([(a, b), (b, a)].iter().filter(|(from, _)| *from == at).map(|(_, to)| (part, *to)));
        }
        for (hop, to) in ways {
            if hop == not || seen.contains(&to) {
                continue;
            }
            seen.push(to);
            let left = through.filter(|t| *t != hop);
            let found = self.path([to, goal], state, soft, left, not, seen);
            seen.pop();
            if found {
                return true;
            }
        }
        false
    }

    fn sources(&self) -> impl Iterator<Item = (usize, usize, usize, PartId)> + '_ {
        self.hops.iter().enumerate().filter_map(|(n, (minus, plus, hop))| match hop {
            Hop::Source(id) => Some((n, *minus, *plus, *id)),
            _ => None,
        })
    }

    /// Whether a coil is fed: by hard paths for sure (2), by way of other coils perhaps (1), or not (0).
    fn fed(&self, coil: PartId, state: u64) -> u8 {
        let hop = self.hops.iter().position(|(_, _, h)| matches!(h, Hop::Coil(id) if *id == coil)).unwrap();
        if self.hops[hop].0 == self.hops[hop].1 {
            return 0;
        }
        let fed = |soft| {
            self.sources().any(|(n, minus, plus, _)| {
                minus != plus && self.path([plus, minus], state, soft, Some(hop), n, &mut vec![plus])
            })
        };
        if fed(false) { 2 } else { u8::from(fed(true)) }
    }

    fn shorted(&self, state: u64) -> BTreeSet<PartId> {
        self.sources()
            .filter(|&(n, minus, plus, _)| {
                minus == plus || self.path([plus, minus], state, false, None, n, &mut vec![plus])
            })
            .map(|s| s.3)
            .collect()
    }

    /// All states that a walk from rest can reach: positions, and which latching coils are fed, above bit 32.
    fn reachable(&self) -> BTreeSet<u64> {
        let mut memo: BTreeMap<(PartId, u64), u8> = BTreeMap::new();
        let low = |s: u64| s & 0xffff_ffff;
        let mut settle = |start: u64| -> Vec<u64> {
            let mut seen = vec![start];
            let mut still = Vec::new();
            let mut at = 0;
            while at < seen.len() {
                let state = seen[at];
                at += 1;
                let (mut stands, mut together, mut to) = (true, state, Vec::new());
                for (mover, coil) in self.movers.iter().enumerate() {
                    let Some(coil) = coil else { continue };
                    let fed = *memo.entry((*coil, low(state))).or_insert_with(|| self.fed(*coil, low(state)));
                    let (bit, mark) = (1_u64 << mover, 1_u64 << (32 + mover));
                    let after = if self.latching[mover] {
                        let was = state & mark != 0;
                        match fed {
                            2 if !was => Some(((state ^ bit) | mark, true)),
                            0 if was => Some((state & !mark, true)),
                            1 if was => Some((state & !mark, false)),
                            1 => Some(((state ^ bit) | mark, false)),
                            _ => None,
                        }
                    } else {
                        match (fed, state & bit != 0) {
                            (2, false) | (0, true) => Some((state ^ bit, true)),
                            (1, _) => Some((state ^ bit, false)),
                            _ => None,
                        }
                    };
                    if let Some((after, driven)) = after {
                        stands &= !driven;
                        if driven {
                            together ^= state ^ after;
                        }
                        to.push(after);
                    }
                }
                to.push(together);
                if stands {
                    still.push(state);
                }
                for after in to {
                    if !seen.contains(&after) {
                        seen.push(after);
                    }
                }
            }
            if still.is_empty() { seen } else { still }
        };
        let mut all: BTreeSet<u64> = settle(self.rest).into_iter().collect();
        let mut queue: Vec<u64> = all.iter().copied().collect();
        while let Some(state) = queue.pop() {
            for (mover, _) in self.movers.iter().enumerate().filter(|(_, coil)| coil.is_none()) {
                for after in settle(state ^ (1 << mover)) {
                    if all.insert(after) {
                        queue.push(after);
                    }
                }
            }
        }
        all.into_iter().map(low).collect()
    }
}

#[test]
fn shorts_are_those_of_an_enumeration_of_all_states() {
    let mut dice = Dice(20_260_314);
    let (mut shorts, mut kept_away, mut sound) = (0, 0, 0);
    for round in 0..2200 {
        let text = job_text(&mut dice);
        let reading = netlist::read_text("any.yaml", &text);
        let job = reading.job.unwrap_or_else(|| panic!("{:?}\n{text}", reading.findings));
        let circuit = Circuit::of(&job);
        let plain = Plain::of(&job);
        assert!(circuit.shorts().complete);
        let reached = plain.reachable();
        let ever: BTreeSet<PartId> = reached.iter().flat_map(|state| plain.shorted(*state)).collect();
        let any: BTreeSet<PartId> = (0..1_u64 << plain.movers.len()).flat_map(|s| plain.shorted(s)).collect();

        let (mut found, mut possible) = (BTreeSet::new(), BTreeSet::new());
        for short in &circuit.shorts().ways {
            possible.extend(short.sources.iter().copied());
            match circuit.reachable(&short.needs) {
                Reachable::Yes(_) => {
                    found.extend(short.sources.iter().copied());
                    let so = reached.iter().any(|state| {
                        short.needs.iter().all(|need| {
                            let part = circuit.movers()[need.mover.index()].parts[0];
                            (state >> plain.mover_of[&part] & 1 == 1) == need.operated
                        })
                    });
                    assert!(so, "round {round}: {short:?} is out of reach\n{text}");
                }
                Reachable::Assumed(_) => panic!("round {round}: so small a job is walked in full\n{text}"),
                Reachable::No => {}
            }
        }
        assert_eq!(found, ever, "round {round}: sources that get shorted\n{text}");
        assert_eq!(possible, any, "round {round}: sources that some combination shorts\n{text}");

        let findings = checks::run(&job, &circuit);
        let told = |rule: &str| findings.iter().any(|finding| finding.rule == rule);
        // A turned diode speaks for the shorts through it, and is told without one where a coil lies before it.
        let diode = told("reversed-diode");
        assert!(!told("short-circuit") || !ever.is_empty(), "round {round}: told of a short\n{text}");
        assert!(
            told("short-circuit") || diode || ever.is_empty(),
            "round {round}: no word of a short\n{text}"
        );
        if ever.is_empty() {
            let note = told("relies-on-interlock");
            assert!(!note || !any.is_empty(), "round {round}: told of an interlock\n{text}");
            assert!(note || diode || any.is_empty(), "round {round}: no word of an interlock\n{text}");
        }
        shorts += usize::from(!ever.is_empty());
        kept_away += usize::from(ever.is_empty() && !any.is_empty());
        sound += usize::from(any.is_empty());
        assert!(plain.point.len() == job.terminals.len());
    }
    // A test that meets only one kind of job proves little.
    assert!(
        shorts > 300 && sound > 300 && kept_away > 5,
        "{shorts} shorted, {kept_away} kept away, {sound} sound"
    );
}
