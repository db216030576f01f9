//! Volts and amps of generated circuits against ngspice, a general-purpose circuit simulator.
//!
//! Each circuit has two to four rails, each a tree of cores, some with rings; between them one to three supplies, loads in amps, ohms
//! and watts, diodes and contacts in random positions. The circuit that ngspice gets is written from the same random
//! numbers as the job file, never from the program's own values. A diode is 0.7 V in series with 0.1 mΩ where the
//! solver found it conducting and 1 TΩ where not, and the test then holds ngspice's volts and amps against that choice.
//!
//! Then the readings that the test sheet of three examples expects: each circuit written down by hand from the job file.
//!
//! `cargo test --test ngspice -- --ignored` runs it; it needs the program `ngspice`.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::print_stderr,
    reason = "a test may stop at what it did not expect and say what it measured"
)]

use std::collections::BTreeMap;
use std::fmt::Write;
use std::fs;
use std::io::Write as _;
use std::process::Command;

use bellwire::circuit::Circuit;
use bellwire::circuit::solve::{Ask, Solver};
use bellwire::documents;
use bellwire::netlist::{self, CoreId, Job, Kind, PartId, TerminalId};

const CIRCUITS: u64 = 320;

/// A small random generator (xorshift64*), so that the circuits are the same on every machine.
struct Dice(u64);

impl Dice {
    fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D)
    }

    fn below(&mut self, n: usize) -> usize {
        usize::try_from((self.next() >> 33) % n as u64).unwrap()
    }

    fn chance(&mut self, of_ten: usize) -> bool {
        self.below(10) < of_ten
    }

    fn pick(&mut self, list: &[f64]) -> f64 {
        list[self.below(list.len())]
    }
}

enum Sort {
    Volts(f64),
    Amps { amps: f64, volts: f64, polarised: bool },
    Ohms(f64),
    Watts { watts: f64, volts: f64 },
    Diode,
    Contact(bool),
}

/// A part `P<n>` between two splices, joined to them by links.
struct Piece {
    a: usize,
    b: usize,
    sort: Sort,
}

struct Drawn {
    splices: usize,
    /// Ends, metres, Ω/km.
    cores: Vec<(usize, usize, f64, f64)>,
    pieces: Vec<Piece>,
}

fn drawn(seed: u64) -> Drawn {
    let mut dice = Dice::new(seed + 1);
    let rails = 2 + dice.below(3);
    let mut rail: Vec<Vec<usize>> = Vec::new();
    let mut splices = 0;
    let mut cores = Vec::new();
    for _ in 0..rails {
        let size = 1 + dice.below(7);
        let members: Vec<usize> = (splices..splices + size).collect();
        splices += size;
        for n in 1..size {
            let to = members[dice.below(n)];
            cores.push((to, members[n]));
        }
        if size > 2 && dice.chance(5) {
            let first = dice.below(size);
            cores.push((members[first], members[(first + 1 + dice.below(size - 1)) % size]));
        }
        rail.push(members);
    }
    let cores = cores
        .into_iter()
        .map(|(a, b)| {
            let metres = dice.pick(&[0.2, 0.5, 3.0, 7.5, 14.0, 40.0, 90.0]);
            (a, b, metres, dice.pick(&[7.98, 13.3, 19.5, 26.0, 39.0, 89.1]))
        })
        .collect();
    let mut pieces = Vec::new();
    let spot = |dice: &mut Dice, on: usize| rail[on][dice.below(rail[on].len())];
    let sources = 1 + dice.below(3.min(rails - 1).max(1));
    for n in 0..sources {
        // Each supply stands between rails of its own, so that none is shorted by another.
        let (a, b) = (spot(&mut dice, n + 1), spot(&mut dice, dice_rail(&mut Dice::new(seed + 77), n)));
        pieces.push(Piece { a, b, sort: Sort::Volts(dice.pick(&[12.0, 13.8, 24.0])) });
    }
    for _ in 0..2 + dice.below(10) {
        let from = dice.below(rails);
        let to = (from + 1 + dice.below(rails - 1)) % rails;
        let (a, b) = (spot(&mut dice, from), spot(&mut dice, to));
        let volts = dice.pick(&[12.0, 24.0]);
        let sort = match dice.below(12) {
            0..=2 => Sort::Amps { amps: dice.pick(&[0.02, 0.1, 0.5, 1.2]), volts, polarised: dice.chance(5) },
            3..=5 => Sort::Ohms(dice.pick(&[4.7, 24.0, 120.0, 1000.0, 10e3])),
            6 | 7 => Sort::Watts { watts: dice.pick(&[1.5, 10.0, 36.0]), volts },
            8 | 9 => Sort::Diode,
            _ => Sort::Contact(dice.chance(6)),
        };
        // A diode or contact between two rails may short a supply: it gets a resistance in series.
        if matches!(sort, Sort::Diode | Sort::Contact(_)) {
            splices += 1;
            pieces.push(Piece { a, b: splices - 1, sort });
            pieces.push(Piece { a: splices - 1, b, sort: Sort::Ohms(dice.pick(&[2.2, 47.0, 330.0])) });
        } else {
            pieces.push(Piece { a, b, sort });
        }
    }
    Drawn { splices, cores, pieces }
}

/// The rail for a supply's minus: any of those before the one of its plus.
fn dice_rail(dice: &mut Dice, n: usize) -> usize {
    dice.below(n + 1)
}

fn job_file(drawn: &Drawn) -> String {
    let mut text =
        String::from("job: {title: Generated}\ndata_sheets:\n  part: {terminals: [1, 2]}\ndevices:\n");
    for n in 0..drawn.splices {
        writeln!(text, "  X{n}: {{type: splice}}").unwrap();
    }
    for (n, piece) in drawn.pieces.iter().enumerate() {
        let section = match &piece.sort {
            Sort::Volts(volts) => format!("sources: {{S: {{plus: 1, minus: 2, volts: {volts} V}}}}"),
            Sort::Amps { amps, volts, polarised: true } => {
                format!("loads: {{L: {{plus: 1, minus: 2, volts: {volts} V, amps: {amps} A}}}}")
            }
            Sort::Amps { amps, volts, .. } => {
                format!("loads: {{L: {{between: [1, 2], volts: {volts} V, amps: {amps} A}}}}")
            }
            Sort::Ohms(ohms) => format!("resistors: {{R: {{between: [1, 2], ohms: {ohms}}}}}"),
            Sort::Watts { watts, volts } => {
                format!("loads: {{L: {{between: [1, 2], volts: {volts} V, watts: {watts} W}}}}")
            }
            Sort::Diode => "diodes: {D: {anode: 1, cathode: 2}}".to_owned(),
            Sort::Contact(_) => "contacts: {S: {common: 1, no: 2}}".to_owned(),
        };
        writeln!(text, "  P{n}: {{type: part, {section}}}").unwrap();
    }
    text.push_str("links:\n");
    for (n, piece) in drawn.pieces.iter().enumerate() {
        writeln!(text, "  - [P{n}.1, X{}]\n  - [P{n}.2, X{}]", piece.a, piece.b).unwrap();
    }
    if !drawn.cores.is_empty() {
        text.push_str("cables:\n");
    }
    for (n, (a, b, metres, _)) in drawn.cores.iter().enumerate() {
        writeln!(text, "  W{n}: {{type: c{n}, length: {metres} m, cores: {{white: [X{a}, X{b}]}}}}").unwrap();
    }
    if !drawn.cores.is_empty() {
        text.push_str("cable_data:\n");
    }
    for (n, (_, _, _, per_km)) in drawn.cores.iter().enumerate() {
        writeln!(text, "  c{n}: {{cores: [white], area: 0.5 mm2, ohm_per_km: {per_km}}}").unwrap();
    }
    text
}

/// What ngspice reads: node 0 is the minus of the first supply.
fn spice_file(drawn: &Drawn, conducting: &BTreeMap<usize, bool>) -> String {
    let ground = drawn.pieces[0].b;
    let node = |n: usize| if n == ground { "0".to_owned() } else { format!("x{n}") };
    let mut text = String::from("* generated\n");
    for (n, (a, b, metres, per_km)) in drawn.cores.iter().enumerate() {
        writeln!(text, "rw{n} {} {} {:e}", node(*a), node(*b), metres * per_km / 1000.0).unwrap();
    }
    let mut wanted: Vec<String> = (0..drawn.cores.len()).map(|n| format!("@rw{n}[i]")).collect();
    for (n, piece) in drawn.pieces.iter().enumerate() {
        let (a, b) = (node(piece.a), node(piece.b));
        // An ammeter in series shows what enters the part.
        writeln!(text, "vm{n} {a} p{n} 0").unwrap();
        wanted.push(format!("i(vm{n})"));
        match &piece.sort {
            Sort::Volts(volts) => writeln!(text, "vp{n} p{n} {b} {volts}"),
            Sort::Ohms(ohms) => writeln!(text, "rp{n} p{n} {b} {ohms:e}"),
            Sort::Watts { watts, volts } => writeln!(text, "rp{n} p{n} {b} {:e}", volts * volts / watts),
            Sort::Amps { amps, volts, polarised } => {
                let low = if *polarised { 0.0 } else { -amps };
                let knee = 0.85 * volts;
                writeln!(
                    text,
                    "bp{n} p{n} {b} i = max({low:e}, min({amps:e}, v(p{n},{b}) * {:e}))",
                    amps / knee
                )
            }
            Sort::Diode if conducting[&n] => writeln!(text, "vp{n} p{n} q{n} 0.7\nrp{n} q{n} {b} 1e-4"),
            Sort::Contact(true) => writeln!(text, "vp{n} p{n} {b} 0"),
            Sort::Diode | Sort::Contact(false) => writeln!(text, "rp{n} p{n} {b} 1e12"),
        }
        .unwrap();
        if matches!(piece.sort, Sort::Diode) {
            wanted.push(format!("v(p{n})"));
        }
    }
    text.push_str(
        ".options reltol=1e-7 abstol=1e-13 vntol=1e-9 itl1=500 rshunt=1e15\n.control\nset numdgt=12\nop\n",
    );
    for n in (0..drawn.splices).filter(|n| *n != ground) {
        writeln!(text, "print v(x{n})").unwrap();
    }
    for value in wanted {
        writeln!(text, "print {value}").unwrap();
    }
    text.push_str("quit\n.endc\n.end\n");
    text
}

fn run_ngspice(text: &str) -> BTreeMap<String, f64> {
    let mut deck = tempfile::NamedTempFile::new().unwrap();
    deck.write_all(text.as_bytes()).unwrap();
    let output = Command::new("ngspice").arg("-b").arg(deck.path()).output().expect("ngspice is installed");
    let printed = String::from_utf8(output.stdout).unwrap();
    let values: BTreeMap<String, f64> = printed
        .lines()
        .filter_map(|line| {
            let (name, value) = line.split_once(" = ")?;
            Some((name.trim().to_owned(), value.trim().parse().ok()?))
        })
        .collect();
    assert!(!values.is_empty(), "{printed}\n{}\n{text}", String::from_utf8_lossy(&output.stderr));
    values
}

fn part_named(job: &Job, name: &str) -> (PartId, Vec<TerminalId>) {
    let device = job.devices.iter().find(|device| device.name == name).unwrap();
    let id = PartId(device.parts.start);
    (id, job.part(id).kind.terminals().to_vec())
}

fn splice(job: &Job, n: usize) -> TerminalId {
    let device = job.devices.iter().find(|device| device.name == format!("X{n}")).unwrap();
    TerminalId(device.terminals.start)
}

#[track_caller]
fn close(what: &str, ours: f64, theirs: f64, grain: f64, text: &str) {
    let gap = (ours - theirs).abs();
    assert!(
        gap <= 1e-3 * ours.abs().max(theirs.abs()) + grain,
        "{what}: {ours} here, {theirs} in ngspice\n{text}"
    );
}

#[test]
#[ignore = "needs ngspice"]
fn volts_and_amps_agree_with_ngspice() {
    let (mut volts, mut amps, mut conducting_diodes, mut blocked) = (0, 0, 0, 0);
    let mut solved = 0;
    for seed in 0..CIRCUITS {
        let drawn = drawn(seed);
        let text = job_file(&drawn);
        let reading = netlist::read_text("generated.yaml", &text);
        let job = reading.job.unwrap_or_else(|| panic!("{:?}\n{text}", reading.findings));
        let closed: BTreeMap<PartId, bool> = drawn
            .pieces
            .iter()
            .enumerate()
            .filter_map(|(n, piece)| match piece.sort {
                Sort::Contact(closed) => Some((part_named(&job, &format!("P{n}")).0, closed)),
                _ => None,
            })
            .collect();
        let operated = |id: PartId| closed.get(&id).copied().unwrap_or(false);
        let solver = Solver::of(&job);
        let solution = solver.solve(&Ask::new(&operated));
        assert_eq!(solution.troubles().count(), 0, "{:?}\n{text}", solution.troubles().collect::<Vec<_>>());
        let conducting: BTreeMap<usize, bool> = (0..drawn.pieces.len())
            .filter_map(|n| {
                let (id, _) = part_named(&job, &format!("P{n}"));
                matches!(job.part(id).kind, Kind::Diode(_))
                    .then(|| (n, solution.part_amps(id).unwrap().0.abs() > 1e-7))
            })
            .collect();
        let spice = spice_file(&drawn, &conducting);
        let theirs = run_ngspice(&spice);
        let ground = splice(&job, drawn.pieces[0].b);
        for n in (0..drawn.splices).filter(|n| *n != drawn.pieces[0].b) {
            // Where nothing holds a terminal, ngspice shows what its own leakage makes of it.
            if let Some(ours) = solution.between(splice(&job, n), ground) {
                close(
                    &format!("volts at X{n}"),
                    ours.0,
                    theirs[&format!("v(x{n})")],
                    2e-6,
                    &format!("{text}\n{spice}"),
                );
                volts += 1;
            }
        }
        for n in 0..drawn.cores.len() {
            let id =
                job.core_ids().find(|(_, core)| job.cable(core.cable).name == format!("W{n}")).unwrap().0;
            let id: CoreId = id;
            close(
                &format!("amps in W{n}"),
                solution.core_amps(id).unwrap().0,
                theirs[&format!("@rw{n}[i]")],
                2e-6,
                &text,
            );
            amps += 1;
        }
        for (n, piece) in drawn.pieces.iter().enumerate() {
            let (id, _) = part_named(&job, &format!("P{n}"));
            let mut ours = solution.part_amps(id).unwrap().0;
            if matches!(piece.sort, Sort::Volts(_)) {
                ours = -ours;
            }
            let entering = theirs[&format!("i(vm{n})")];
            close(&format!("amps into P{n}"), ours, entering, 2e-6, &text);
            amps += 1;
            if let Some(on) = conducting.get(&n) {
                let at = |x: usize| theirs.get(&format!("v(x{x})")).copied().unwrap_or(0.0);
                if *on {
                    assert!(entering > 0.0, "P{n} conducts backwards\n{text}");
                    conducting_diodes += 1;
                } else if solution.between(splice(&job, piece.a), splice(&job, piece.b)).is_some() {
                    assert!(at(piece.a) - at(piece.b) < 0.7 + 1e-4, "P{n} blocks though forward\n{text}");
                    blocked += 1;
                }
            }
        }
        solved += 1;
    }
    eprintln!(
        "{solved} circuits, {volts} volts, {amps} amps; {conducting_diodes} diodes conducting, {blocked} blocked"
    );
    assert!(solved >= 300 && volts > 2000 && amps > 4000 && conducting_diodes > 40 && blocked > 40);
}

/// The worst-case volts that the test sheet of an example expects at two terminals.
fn expected(example: &str, at: &str, how: &str) -> f64 {
    let text = fs::read_to_string(format!("{}/examples/{example}.yaml", env!("CARGO_MANIFEST_DIR"))).unwrap();
    let job = netlist::read_text("job.yaml", &text).job.unwrap();
    let circuit = Circuit::of(&job);
    let tests = documents::tests(&job, &circuit, &[]);
    let test =
        tests.iter().find(|test| test.at == at && test.how.contains(how) && test.unit.starts_with("V"));
    match test.map(|test| &test.expect) {
        Some(documents::Expect::Figure { value, .. }) => *value,
        other => panic!("{example}, {at}: {other:?}"),
    }
}

/// Three examples written down for ngspice by hand. Resistance of a core: 26.0 Ω/km for 0.75 mm² and 39.0 for 0.5 mm²
/// (IEC 60228, class 5), 89.131 for 7/0.20 (1.137 · 1000 / (58 · 7π · 0.1²)).
#[test]
#[ignore = "needs ngspice"]
fn the_readings_of_three_examples_agree_with_ngspice() {
    let alarm = 1.137e3 / (58.0 * 7.0 * std::f64::consts::PI * 0.01);
    let deck = |body: &str, wanted: &[&str]| {
        let mut text = format!("* by hand\n{body}.options reltol=1e-7 abstol=1e-13 vntol=1e-9 itl1=500\n");
        text.push_str(".control\nset numdgt=12\nop\n");
        for value in wanted {
            writeln!(text, "print {value}").unwrap();
        }
        text.push_str("quit\n.endc\n.end\n");
        run_ngspice(&text)
    };
    let mut held = 0;
    let mut hold = |what: &str, ours: f64, theirs: f64| {
        assert!(
            (ours - theirs).abs() <= 5e-4 * theirs.abs() + 2e-4,
            "{what}: {ours} here, {theirs} in ngspice"
        );
        held += 1;
    };

    // The roof vent controller: 60 mA from 12 V over W1 red, F1, W4 and back over W5 and W1 black; with B1 operated the
    // input is joined to 0 V over 14 m there and back, against 100 kΩ from the module's plus.
    let roof = format!(
        "v1 p 0 12\nrw1 p f {:e}\nrw4 f m {:e}\nrw5 n x {:e}\nrw1b x 0 {:e}\nib m n 0.06\n\
         rpull m in 100k\nrw2 in com {:e}\nrw2b com x {:e}\n",
        0.0005 * 26.0,
        0.0002 * 26.0,
        0.0002 * 26.0,
        0.0005 * 26.0,
        0.014 * alarm,
        0.014 * alarm,
    );
    let theirs = deck(&roof, &["v(m,n)", "v(in,n)"]);
    hold("K1", expected("roof-vent", "K1:+V to K1:0V", "Everything plugged in"), theirs["v(m,n)"]);
    hold("K1 IN1", expected("roof-vent", "K1:IN1 to K1:0V", "with B1 operated"), theirs["v(in,n)"]);

    // The workshop alarm with the siren on: charger 13.8 V over W4 and W5; panel 150 mA, detector 15 mA at the end of 16 m
    // of 7/0.20, siren 0.4 A at the end of 12 m of 0.5 mm² from AUX+ to SIR-, which the panel ties to V-.
    let loop_ = format!(
        "v1 p 0 13.8\nrw4 p x1 {w4:e}\nrw5 x1 a {w5:e}\nrw5b b x2 {w5:e}\nrw4b x2 0 {w4:e}\nia a b 0.15\n\
         rw6 a d {w6:e}\nrw6b e b {w6:e}\nid d e 0.015\nrw8 a s {w8:e}\nrw8b t b {w8:e}\nis s t 0.4\n",
        w4 = 0.0004 * 26.0,
        w5 = 0.0003 * 26.0,
        w6 = 0.016 * alarm,
        w8 = 0.012 * 39.0,
    );
    let theirs = deck(&loop_, &["v(a,b)", "v(d,e)", "v(s,t)"]);
    hold("A1", expected("alarm-loop", "A1:V+ to A1:V-", "Everything plugged in"), theirs["v(a,b)"]);
    hold("B1", expected("alarm-loop", "B1:V+ to B1:V-", "Everything plugged in"), theirs["v(d,e)"]);
    hold("P1", expected("alarm-loop", "P1:V+ to P1:V-", "with A1.SIR operated"), theirs["v(s,t)"]);

    // The screened run: controller 180 mA behind W1 and W2, benches 30 mA each, the second behind the first; S+ and S- are
    // joined to the controller's supply inside.
    let bus = format!(
        "v1 p 0 24\nrw1 p f {w1:e}\nrw2 f a {w2:e}\nrw1b b 0 {w1:e}\nia a b 0.18\n\
         rw3 a c {w3:e}\nrw3b d b {w3:e}\nic c d 0.03\nrw4 c e {w4:e}\nrw4b g d {w4:e}\nie e g 0.03\n",
        w1 = 0.0004 * 26.0,
        w2 = 0.0002 * 26.0,
        w3 = 0.018 * alarm,
        w4 = 0.012 * alarm,
    );
    let theirs = deck(&bus, &["v(a,b)", "v(c,d)", "v(e,g)"]);
    hold("A1", expected("screened-run", "A1:24V to A1:0V", "Everything plugged in"), theirs["v(a,b)"]);
    hold("B1", expected("screened-run", "B1:24V to B1:0V", "Everything plugged in"), theirs["v(c,d)"]);
    hold("B2", expected("screened-run", "B2:24V to B2:0V", "Everything plugged in"), theirs["v(e,g)"]);
    eprintln!("{held} readings of three examples agree");
    assert_eq!(held, 8);
}
