//! The solver against hand-worked circuits and the laws that every circuit obeys.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::print_stdout,
    reason = "a test may fail loudly and say what it measured"
)]

use bellwire::circuit::{Circuit, Solution, Terms, Through};
use bellwire::netlist::{self, End, Job, Kind, PartId, TerminalId};
use bellwire::units::Celsius;
use proptest::prelude::*;

fn job(text: &str) -> Job {
    let reading = netlist::read_text("job.yaml", text);
    let faults: Vec<&str> = reading.findings.iter().map(|finding| finding.message.as_str()).collect();
    reading.job.unwrap_or_else(|| panic!("{faults:?}\n{text}"))
}

fn terminal(job: &Job, label: &str) -> TerminalId {
    job.terminal_ids().map(|(id, _)| id).find(|id| job.label(*id) == label).unwrap()
}

fn part(job: &Job, device: &str) -> PartId {
    job.part_ids().find(|(_, part)| job.device(part.device).name == device).unwrap().0
}

fn solved(job: &Job) -> Solution {
    let circuit = Circuit::of(job);
    circuit.solve(job, &circuit.at_rest(), &Terms::default())
}

fn near(got: f64, wanted: f64, share: f64) {
    assert!((got - wanted).abs() <= share * wanted.abs().max(1e-6), "got {got}, wanted {wanted}");
}

/// 0.55 A over 12.8 Ω of conductor drops 7.04 V: a published worked example on drop in data cable.
#[test]
fn drop_over_a_known_resistance() {
    let job = job("
job: {title: Drop}
cable_data: {data: {cores: [red, black], area: 0.5 mm², ohm_per_km: 64}}
devices:
  G1: {type: dc-supply, volts: 24 V, amps: 2 A}
  E1: {type: heater, volts: 10..30 V, amps: 0.55 A}
cables:
  W1: {type: data, length: 100 m, cores: {red: [G1.V+, E1.1], black: [G1.V-, E1.2]}}
");
    let solution = solved(&job);
    let at_load = solution.volts(terminal(&job, "E1:1"), terminal(&job, "E1:2")).unwrap();
    near(24.0 - at_load.0, 7.04, 1e-4);
    near(solution.amps(Through::Part(part(&job, "E1"))), 0.55, 1e-9);
    near(solution.amps(Through::Part(part(&job, "G1"))), 0.55, 1e-4);
}

/// A published value: a device of 12 V and 500 mA looks like 24 Ω; so does one that is stated in ohms.
#[test]
fn ohms_and_amps_agree_at_nominal_volts() {
    for draw in ["amps: 0.5 A", "ohms: 24 Ω", "watts: 6 W"] {
        let job = job(&format!(
            "
job: {{title: Load}}
devices:
  G1: {{type: dc-supply, volts: 12 V, amps: 2 A}}
  E1: {{type: lamp, volts: 12 V, {draw}}}
links: [[G1.V+, E1.1], [G1.V-, E1.2]]
"
        ));
        near(solved(&job).amps(Through::Part(part(&job, "E1"))), 0.5, 1e-4);
    }
}

/// R(t) = R20 × (1 + 0.00393 × (t − 20)), IEC 60028.
#[test]
fn warm_copper_drops_more() {
    let job = job("
job: {title: Warm}
devices: {G1: {type: dc-supply, volts: 24 V, amps: 9 A}, E1: {type: heater, volts: 10..30 V, amps: 4 A}}
cables: {W1: {type: twin-1.5, length: 10 m, cores: {red: [G1.V+, E1.1], black: [G1.V-, E1.2]}}}
");
    let circuit = Circuit::of(&job);
    let drop = |at| {
        let terms = Terms { at: Celsius(at), ..Terms::default() };
        let solution = circuit.solve(&job, &circuit.at_rest(), &terms);
        24.0 - solution.volts(terminal(&job, "E1:1"), terminal(&job, "E1:2")).unwrap().0
    };
    // 13.3 Ω/km, class 5, 1.5 mm² (IEC 60228).
    near(drop(20.0), 2.0 * 10.0 * 0.0133 * 4.0, 1e-3);
    near(drop(70.0) / drop(20.0), 1.0 + 0.003_93 * 50.0, 1e-3);
}

#[test]
fn a_diode_keeps_its_volts_one_way_and_blocks_the_other() {
    for (ends, wanted) in [("[G1.V+, V1.A], [V1.K, E1.1]", 11.3), ("[G1.V+, V1.K], [V1.A, E1.1]", 0.0)] {
        let job = job(&format!(
            "
job: {{title: Diode}}
devices:
  G1: {{type: dc-supply, volts: 12 V, amps: 2 A}}
  V1: {{type: diode}}
  E1: {{type: lamp, volts: 12 V, ohms: 100 Ω}}
links: [{ends}, [G1.V-, E1.2]]
"
        ));
        let volts = solved(&job).volts(terminal(&job, "E1:1"), terminal(&job, "E1:2")).unwrap().0;
        assert!((volts - wanted).abs() < 1e-3, "{volts} V, wanted {wanted} V");
    }
}

#[test]
fn a_loop_reads_its_resistor_and_its_cable() {
    let job = job("
job: {title: Loop}
devices: {A1: {terminals: [Z, C]}, R1: {type: resistor, ohms: 4k7}}
cables: {W1: {type: twin-0.5, length: 100 m, cores: {red: [A1.Z, R1.1], black: [A1.C, R1.2]}}}
");
    let circuit = Circuit::of(&job);
    let (z, c) = (terminal(&job, "A1:Z"), terminal(&job, "A1:C"));
    let ohms = circuit.ohms(&job, &circuit.at_rest(), z, c, Celsius(20.0)).unwrap();
    // 39.0 Ω/km, class 5, 0.5 mm² (IEC 60228).
    near(ohms.0, 4700.0 + 2.0 * 3.9, 1e-4);
}

/// Points joined by random resistors, some by way of cores, with two sources.
fn network() -> impl Strategy<Value = (usize, Vec<(usize, usize, u32)>, [u32; 2])> {
    (4..10_usize).prop_flat_map(|points| {
        let more = proptest::collection::vec((0..points, 0..points, 1..5000_u32), 0..8);
        let tree = proptest::collection::vec((0..1000_usize, 1..5000_u32), points - 1);
        (Just(points), tree, more, [1..30_u32, 1..30_u32]).prop_map(|(points, tree, more, volts)| {
            let mut edges: Vec<(usize, usize, u32)> =
                tree.iter().enumerate().map(|(n, (to, ohms))| (n + 1, to % (n + 1), *ohms)).collect();
            edges.extend(more.into_iter().filter(|(a, b, _)| a != b));
            (points, edges, volts)
        })
    })
}

/// The first source between points 0 and 1, the second between 2 and 3.
fn written(points: usize, edges: &[(usize, usize, u32)], volts: [u32; 2]) -> Job {
    let mut text = String::from("job: {title: Network}\ndevices:\n");
    for n in 0..points {
        text.push_str(&format!("  X{n}: {{type: splice}}\n"));
    }
    for (n, volts) in volts.iter().enumerate() {
        text.push_str(&format!("  G{n}: {{type: dc-supply, volts: {volts} V, amps: 9 A}}\n"));
        text.push_str(&format!("  RS{n}: {{type: resistor, ohms: 10}}\n"));
    }
    for (n, (_, _, ohms)) in edges.iter().enumerate() {
        text.push_str(&format!("  R{n}: {{type: resistor, ohms: {ohms}}}\n"));
    }
    text.push_str("links:\n");
    for n in 0..2 {
        text.push_str(&format!(
            "  - [G{n}.V+, RS{n}.1]\n  - [RS{n}.2, X{}]\n  - [G{n}.V-, X{}]\n",
            2 * n,
            2 * n + 1
        ));
    }
    for (n, (a, b, _)) in edges.iter().enumerate() {
        text.push_str(&format!("  - [X{a}, R{n}.1]\n  - [X{b}, R{n}.2]\n"));
    }
    job(&text)
}

/// Amps that leave a terminal's device by its parts, links and cores.
fn sum_at(job: &Job, solution: &Solution, at: TerminalId) -> f64 {
    let mut sum = 0.0;
    for (id, core) in job.core_ids() {
        for (end, sign) in core.ends.iter().zip([1.0, -1.0]) {
            if end.to == End::Terminal(at) {
                sum += sign * solution.amps(Through::Core(id));
            }
        }
    }
    for (n, link) in job.links.iter().enumerate() {
        let id = netlist::LinkId(u32::try_from(n).unwrap());
        for (end, sign) in link.ends.iter().zip([1.0, -1.0]) {
            if *end == at {
                sum += sign * solution.amps(Through::Link(id));
            }
        }
    }
    for (id, part) in job.part_ids() {
        let (from, to, sign) = match &part.kind {
            Kind::Resistor(r) => (r.between[0], r.between[1], 1.0),
            Kind::Source(s) => (s.plus, s.minus, -1.0),
            _ => continue,
        };
        if from == at {
            sum += sign * solution.amps(Through::Part(id));
        }
        if to == at {
            sum -= sign * solution.amps(Through::Part(id));
        }
    }
    sum
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    /// Kirchhoff's current law: what flows into a terminal flows out of it.
    #[test]
    fn currents_sum_to_nothing_at_every_terminal((points, edges, volts) in network()) {
        let job = written(points, &edges, volts);
        let solution = solved(&job);
        prop_assert!(solution.unsolved.is_empty());
        for (id, _) in job.terminal_ids() {
            prop_assert!(sum_at(&job, &solution, id).abs() < 1e-5, "{}", job.label(id));
        }
    }

    /// Superposition: both sources together give the sum of each alone (the other at no volts).
    #[test]
    fn sources_add_up((points, edges, volts) in network()) {
        let drop = |volts: [f64; 2]| {
            let mut job = written(points, &edges, [1, 1]);
            let mut volts = volts.into_iter();
            for part in &mut job.parts {
                if let Kind::Source(source) = &mut part.kind {
                    source.volts = volts.next().map(bellwire::units::Volts);
                }
            }
            let solution = solved(&job);
            solution.volts(terminal(&job, "X2"), terminal(&job, "X1")).unwrap().0
        };
        let [a, b] = volts.map(f64::from);
        let (both, one, other) = (drop([a, b]), drop([a, 0.0]), drop([0.0, b]));
        prop_assert!((both - one - other).abs() < 1e-5 * (1.0 + both.abs()), "{both} {one} {other}");
    }

    /// Reciprocity: a volt here gives there what a volt there gives here.
    #[test]
    fn here_and_there_change_places((points, edges, _) in network()) {
        let amps = |volts: [f64; 2], through: &str| {
            let mut job = written(points, &edges, [1, 1]);
            let mut volts = volts.into_iter();
            for part in &mut job.parts {
                if let Kind::Source(source) = &mut part.kind {
                    source.volts = volts.next().map(bellwire::units::Volts);
                }
            }
            let solution = solved(&job);
            solution.amps(Through::Part(part(&job, through)))
        };
        let (there, here) = (amps([10.0, 0.0], "G1"), amps([0.0, 10.0], "G0"));
        prop_assert!((there - here).abs() < 1e-6 + 1e-4 * there.abs(), "{there} {here}");
    }
}
