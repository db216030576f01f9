//! The solver against ngspice, a general-purpose circuit simulator, on generated circuits: trees and rings of cores,
//! several supplies, diodes, loads in ohms and amps, contacts in random positions. Volts at every terminal and amps in
//! every core agree to 0.1 %.
//!
//! Needs the program `ngspice`: `cargo test --test ngspice -- --ignored`.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::print_stdout,
    reason = "a test may fail loudly and say what it measured"
)]

use std::fmt::Write as _;
use std::io::Write as _;
use std::process::Command;

use bellwire::circuit::{Circuit, Solution, Terms, Through};
use bellwire::netlist::{self, Draw, End, Job, Kind, TerminalId};

const CIRCUITS: u64 = 320;
const LEAST: f64 = 1e-5;

/// A small generator of its own, so that a circuit can be made again by its number.
struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % sides
    }
}

/// A job: a tree of splices joined by cores, a few more cores that close rings, supplies, loads, diodes, contacts.
fn generated(number: u64) -> String {
    let mut dice = Dice(number.wrapping_mul(7919) + 17);
    let points = 6 + dice.roll(14);
    let mut devices = String::new();
    let mut cables = String::new();
    let mut links = Vec::new();
    for n in 0..points {
        writeln!(devices, "  X{n}: {{type: splice}}").unwrap();
    }
    let size = |dice: &mut Dice| ["0.5", "0.75", "1", "1.5", "2.5"][dice.roll(5) as usize];
    let mut cable = 0;
    for n in 1..points + dice.roll(5) {
        let (a, b) = if n < points { (dice.roll(n), n) } else { (dice.roll(points), dice.roll(points)) };
        if a != b {
            cable += 1;
            let (size, length) = (size(&mut dice), 1 + dice.roll(80));
            writeln!(
                cables,
                "  W{cable}: {{type: single-{size}, length: {length} m, cores: {{red: [X{a}, X{b}]}}}}"
            )
            .unwrap();
        }
    }
    for n in 0..1 + dice.roll(3) {
        let (volts, at) = (5 + dice.roll(24), dice.roll(points));
        writeln!(devices, "  G{n}: {{type: dc-supply, volts: {volts} V, amps: 90 A}}").unwrap();
        writeln!(devices, "  RG{n}: {{type: resistor, ohms: {}}}", 1 + dice.roll(50)).unwrap();
        links.push(format!("[G{n}.V+, RG{n}.1]"));
        links.push(format!("[RG{n}.2, X{at}]"));
        links.push(format!("[G{n}.V-, X{}]", (at + 1 + dice.roll(points - 1)) % points));
    }
    for n in 0..2 + dice.roll(6) {
        let (a, b) = (dice.roll(points), dice.roll(points));
        if a == b {
            continue;
        }
        let ends = match dice.roll(5) {
            0 => {
                writeln!(devices, "  E{n}: {{type: lamp, ohms: {}}}", 10 + dice.roll(900)).unwrap();
                [format!("E{n}.1"), format!("E{n}.2")]
            }
            1 => {
                let amps = 1 + dice.roll(200);
                writeln!(devices, "  E{n}: {{type: lamp, volts: 1..60 V, amps: {amps} mA}}").unwrap();
                [format!("E{n}.1"), format!("E{n}.2")]
            }
            2 => {
                writeln!(devices, "  E{n}: {{type: diode}}").unwrap();
                [format!("E{n}.A"), format!("E{n}.K")]
            }
            3 => {
                let rest = if dice.roll(2) == 0 { ", rest: operated" } else { "" };
                writeln!(devices, "  E{n}: {{type: key-switch{rest}}}").unwrap();
                [format!("E{n}.13"), format!("E{n}.14")]
            }
            _ => {
                writeln!(devices, "  E{n}: {{type: siren, volts: 12 V, watts: {} W}}", 1 + dice.roll(9))
                    .unwrap();
                [format!("E{n}.V+"), format!("E{n}.V-")]
            }
        };
        for (end, at) in ends.iter().zip([a, b]) {
            cable += 1;
            let (size, length) = (size(&mut dice), 1 + dice.roll(80));
            writeln!(
                cables,
                "  W{cable}: {{type: single-{size}, length: {length} m, cores: {{red: [{end}, X{at}]}}}}"
            )
            .unwrap();
        }
    }
    format!(
        "job: {{title: Generated {number}}}\ndevices:\n{devices}cables:\n{cables}links: [{}]\n",
        links.join(", ")
    )
}

/// Volts from a terminal to another as our solver has them.
fn volts(solution: &Solution, from: TerminalId, to: TerminalId) -> Option<f64> {
    solution.volts(from, to).map(|volts| volts.0)
}

/// The circuit for ngspice. Diodes and polarised loads stand as our solver left them; what ngspice finds is held
/// against that afterwards.
fn deck(job: &Job, circuit: &Circuit, solution: &Solution) -> String {
    let mut deck = String::from("* generated\n");
    let node = |id: TerminalId| format!("t{}", id.0);
    let state = circuit.at_rest();
    let first = job.parts.iter().find_map(|part| match &part.kind {
        Kind::Source(source) => Some(source.minus),
        _ => None,
    });
    for (id, core) in job.core_ids() {
        if let [End::Terminal(a), End::Terminal(b)] = [core.ends[0].to, core.ends[1].to] {
            let cable = job.cable(core.cable);
            let ohms = cable.ohm_per_km.unwrap().value.0 * cable.length.unwrap().0 / 1000.0;
            writeln!(deck, "Rc{} {} {} {ohms:e}", id.0, node(a), node(b)).unwrap();
        }
    }
    for (n, link) in job.links.iter().enumerate() {
        writeln!(deck, "Rl{n} {} {} {LEAST:e}", node(link.ends[0]), node(link.ends[1])).unwrap();
    }
    for (id, part) in job.part_ids() {
        let n = id.0;
        match &part.kind {
            Kind::Source(source) => {
                let (plus, minus) = (node(source.plus), node(source.minus));
                writeln!(deck, "V{n} {plus} s{n} DC {}", source.volts.unwrap().0).unwrap();
                writeln!(deck, "Rs{n} s{n} {minus} {LEAST:e}").unwrap();
            }
            Kind::Resistor(r) => {
                let (a, b) = (node(r.between[0]), node(r.between[1]));
                writeln!(deck, "R{n} {a} {b} {}", r.ohms.unwrap().0).unwrap();
            }
            Kind::Load(load) => {
                let (a, b) = (node(load.plus), node(load.minus));
                let across = volts(solution, load.plus, load.minus);
                match load.draw.unwrap() {
                    _ if load.polarised && across.is_none_or(|volts| volts < 0.0) => {}
                    Draw::Ohms(ohms) => writeln!(deck, "R{n} {a} {b} {}", ohms.0).unwrap(),
                    Draw::Watts(watts) => {
                        let ohms = load.volts.unwrap().nominal.0.powi(2) / watts.0;
                        writeln!(deck, "R{n} {a} {b} {ohms}").unwrap();
                    }
                    Draw::Amps(amps) => {
                        let (i, from) = (amps.0, load.volts.unwrap().range.low.0);
                        writeln!(deck, "B{n} {a} {b} I={{{i} * min(max(V({a},{b})/{from}, -1), 1)}}")
                            .unwrap();
                    }
                }
            }
            Kind::Diode(diode) if solution.amps(Through::Part(id)) > 0.0 => {
                writeln!(deck, "V{n} {} d{n} DC 0.7", node(diode.anode)).unwrap();
                writeln!(deck, "Rd{n} d{n} {} {LEAST:e}", node(diode.cathode)).unwrap();
            }
            Kind::Contact(contact) => {
                let operated = state.operated(circuit.mover_of(id).unwrap());
                if let Some(throw) = if operated { contact.no } else { contact.nc } {
                    writeln!(deck, "R{n} {} {} {LEAST:e}", node(contact.common), node(throw)).unwrap();
                }
            }
            _ => {}
        }
    }
    // Ground at the first source's minus, and by a resistance far above anything in the circuit elsewhere.
    for (id, _) in job.terminal_ids() {
        let ohms = if Some(id) == first { "1" } else { "1e10" };
        writeln!(deck, "Rg{0} {1} 0 {ohms}", id.0, node(id)).unwrap();
    }
    deck.push_str(".options reltol=1e-6 abstol=1e-10 vntol=1e-7 gmin=1e-14\n.control\nop\nset numdgt=12\n");
    for (id, _) in job.terminal_ids() {
        writeln!(deck, "print v({})", node(id)).unwrap();
    }
    deck.push_str(".endc\n.end\n");
    deck
}

/// What ngspice gives for each terminal.
fn simulated(job: &Job, deck: &str) -> Vec<f64> {
    let mut file = tempfile::Builder::new().suffix(".cir").tempfile().unwrap();
    file.write_all(deck.as_bytes()).unwrap();
    let output = Command::new("ngspice").arg("-b").arg(file.path()).output().expect("ngspice is installed");
    let text = String::from_utf8_lossy(&output.stdout);
    let mut volts = vec![f64::NAN; job.terminals.len()];
    for line in text.lines() {
        if let Some((node, value)) = line.strip_prefix("v(t").and_then(|line| line.split_once(") = ")) {
            volts[node.parse::<usize>().unwrap()] = value.trim().parse().unwrap();
        }
    }
    assert!(volts.iter().all(|volts| volts.is_finite()), "ngspice gave no volts\n{deck}\n{text}");
    volts
}

#[test]
#[ignore = "needs ngspice"]
fn volts_and_amps_agree_with_ngspice() {
    let (mut compared, mut worst) = (0_u64, 0.0_f64);
    for number in 0..CIRCUITS {
        let text = generated(number);
        let job = netlist::read_text("job.yaml", &text).job.unwrap_or_else(|| panic!("{text}"));
        let circuit = Circuit::of(&job);
        let solution = circuit.solve(&job, &circuit.at_rest(), &Terms::default());
        assert!(solution.unsolved.is_empty(), "{text}");
        let theirs = simulated(&job, &deck(&job, &circuit, &solution));
        let at = |id: TerminalId| theirs[id.index()];
        let mut agree = |ours: f64, theirs: f64, floor: f64, what: &str| {
            let off = (ours - theirs).abs() / theirs.abs().max(floor);
            assert!(off < 1e-3, "circuit {number}: {what}: ours {ours}, ngspice {theirs}\n{text}");
            worst = worst.max(off);
            compared += 1;
        };
        let Some((_, source)) = job.part_ids().find(|(_, part)| matches!(part.kind, Kind::Source(_))) else {
            continue;
        };
        let Kind::Source(source) = &source.kind else { continue };
        for (id, _) in job.terminal_ids() {
            if let Some(ours) = volts(&solution, id, source.minus) {
                agree(ours, at(id) - at(source.minus), 0.05, &job.label(id));
            }
        }
        for (id, core) in job.core_ids() {
            if let [End::Terminal(a), End::Terminal(b)] = [core.ends[0].to, core.ends[1].to] {
                let cable = job.cable(core.cable);
                let ohms = cable.ohm_per_km.unwrap().value.0 * cable.length.unwrap().0 / 1000.0;
                agree(solution.amps(Through::Core(id)), (at(a) - at(b)) / ohms, 1e-3, &cable.name);
            }
        }
        for (id, part) in job.part_ids() {
            if let Kind::Diode(diode) = &part.kind {
                let forward = at(diode.anode) - at(diode.cathode);
                if solution.amps(Through::Part(id)) > 0.0 {
                    assert!(forward > 0.7 - 1e-4, "circuit {number}: a diode conducts at {forward} V");
                } else if volts(&solution, diode.anode, diode.cathode).is_some() {
                    assert!(forward < 0.7 + 1e-4, "circuit {number}: a diode blocks at {forward} V");
                }
            }
        }
    }
    println!("{CIRCUITS} circuits, {compared} figures, largest difference {:.5} %", worst * 100.0);
}
