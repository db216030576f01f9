//! The solver against hand-worked and published cases, and against the laws that every circuit keeps.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may stop at what it did not expect")]

use std::fmt::Write;

use bellwire::circuit::Circuit;
use bellwire::circuit::solve::{Ask, Mains, Solution, Solver, Trouble, settle};
use bellwire::netlist::{self, CableId, CoreId, Job, PartId, TerminalId};
use bellwire::units::Celsius;
use proptest::prelude::*;

fn read(text: &str) -> Job {
    let reading = netlist::read_text("job.yaml", text);
    reading.job.unwrap_or_else(|| panic!("{:#?}\n{text}", reading.findings))
}

fn terminal(job: &Job, label: &str) -> TerminalId {
    job.terminal_ids().map(|(id, _)| id).find(|id| job.label(*id) == label).expect(label)
}

fn part(job: &Job, device: &str, entry: &str) -> PartId {
    job.part_ids()
        .find(|(_, part)| job.device(part.device).name == device && part.name == entry)
        .map(|(id, _)| id)
        .expect(entry)
}

fn core(job: &Job, label: &str) -> CoreId {
    job.core_ids().map(|(id, _)| id).find(|id| job.core_label(*id) == label).expect(label)
}

fn cable(job: &Job, name: &str) -> CableId {
    job.cable_ids().find(|(_, cable)| cable.name == name).map(|(id, _)| id).expect(name)
}

/// Solves with some parts operated.
fn with<T>(job: &Job, operated: &[PartId], change: impl Fn(&mut Ask), look: impl Fn(&Solution) -> T) -> T {
    let solver = Solver::of(job);
    let operated = |id: PartId| operated.contains(&id);
    let mut ask = Ask::new(&operated);
    change(&mut ask);
    look(&solver.solve(&ask))
}

fn at_rest<T>(job: &Job, look: impl Fn(&Solution) -> T) -> T {
    with(job, &[], |_| (), look)
}

#[track_caller]
fn near(value: f64, expected: f64, share: f64) {
    assert!((value - expected).abs() <= share * expected.abs().max(1e-6), "{value} instead of {expected}");
}

/// A supply, a twin cable with two cores of stated resistance, and a load at its end.
fn run(volts: f64, metres: f64, per_km: f64, load: &str) -> String {
    format!(
        "job: {{title: A run}}
devices:
  G1: {{type: dc-supply, volts: {volts} V}}
  E1: {{type: thing, loads: {{L: {{between: [1, 2], {load}}}}}}}
cables:
  W1: {{type: pair, length: {metres} m, cores: {{red: [G1.V+, E1.1], black: [G1.V-, E1.2]}}}}
cable_data:
  pair: {{cores: [red, black], area: 1 mm2, ohm_per_km: {per_km}}}
data_sheets:
  thing: {{terminals: [1, 2]}}
"
    )
}

fn drop_over_run(volts: f64, metres: f64, per_km: f64, load: &str) -> f64 {
    let job = read(&run(volts, metres, per_km, load));
    at_rest(&job, |s| {
        let lost = s.cable_drop(cable(&job, "W1")).unwrap().0;
        let left = s.between(terminal(&job, "E1:1"), terminal(&job, "E1:2")).unwrap().0;
        near(lost + left, volts, 1e-9);
        lost
    })
}

/// BS 7671:2018 Table 4D2B (70 °C thermoplastic, two-core, DC): mV per A per metre of run, against class 2
/// conductors of IEC 60228 at 70 °C. The table is rounded to two figures and lies within 2 % of twice that
/// resistance.
#[test]
fn drop_agrees_with_the_tables_of_bs_7671() {
    for (area, table) in
        [("1", 44.0), ("1.5", 29.0), ("2.5", 18.0), ("4", 11.0), ("6", 7.3), ("10", 4.4), ("16", 2.8)]
    {
        let text = run(230.0, 10.0, 1.0, "volts: 230 V, amps: 10 A")
            .replace("area: 1 mm2, ohm_per_km: 1", &format!("area: {area} mm2, conductor_class: 2"))
            .replace("volts: 230 V}", "volts: 120 V}")
            .replace("volts: 230 V,", "volts: 90..130 V,");
        let job = read(&text);
        let drop = with(
            &job,
            &[],
            |ask| ask.celsius = Celsius(70.0),
            |s| s.cable_drop(cable(&job, "W1")).unwrap().0,
        );
        near(drop, table * 10.0 * 10.0 / 1000.0, 0.02);
    }
}

/// Worked drops of BS 7671 guidance: 20 m of 4 mm² at 30 A and 11 mV/A/m lose 6.6 V; 10 m of 1.5 mm² at 16 A and 29
/// mV/A/m 4.64 V; 40 m of 10 mm² at 45 A and 4.4 mV/A/m 7.92 V; and of French practice (NF C 15-100, ρ 0.0225
/// Ω·mm²/m): 30 m of 6 mm² at 32 A 7.20 V.
#[test]
fn published_drops() {
    for (metres, amps, per_km, expected) in [
        (20.0, 30.0, 11.0 / 2.0, 6.6),
        (10.0, 16.0, 29.0 / 2.0, 4.64),
        (40.0, 45.0, 4.4 / 2.0, 7.92),
        (30.0, 32.0, 0.0225 * 1000.0 / 6.0, 7.20),
    ] {
        near(
            drop_over_run(120.0, metres, per_km, &format!("volts: 90..130 V, amps: {amps} A")),
            expected,
            1e-5,
        );
    }
}

/// A fire-panel maker's table of line lengths: with 1 V to lose and 8.08 Ω per 1000 ft, 1237 ft of conductor at 0.1 A,
/// 247 ft at 0.5 A, 123 ft at 1 A (last digit cut off; there and back counted).
#[test]
fn published_lengths() {
    for (feet, amps) in [(1237.0, 0.1), (247.0, 0.5), (123.0, 1.0)] {
        let drop = |feet: f64| {
            drop_over_run(
                24.0,
                feet / 2.0 * 0.3048,
                8.08 / 0.3048,
                &format!("volts: 20..28 V, amps: {amps} A"),
            )
        };
        assert!(drop(feet) <= 1.0 && drop(feet + 1.0) > 1.0, "{feet} ft: {} V", drop(feet));
    }
}

/// An alarm panel's manual: 100 m of 0.22 mm² at 85 Ω/km add 17 Ω to a loop. NEC Chapter 9 example: 400 ft at 6.505 Ω
/// per 1000 ft are 2.602 Ω. A catalogue's example: 0.55 A through 12.8 Ω lose 7.04 V.
#[test]
fn published_loop_resistances() {
    let ohms = |metres: f64, per_km: f64| {
        let job = read(&run(12.0, metres, per_km, "ohms: 1000"));
        at_rest(&job, |s| 12.0 / s.part_amps(part(&job, "E1", "L")).unwrap().0 - 1000.0)
    };
    near(ohms(100.0, 85.0), 17.0, 1e-6);
    near(ohms(400.0 * 0.3048 / 2.0, 6.505 / 0.3048), 2.602, 1e-6);
    near(drop_over_run(24.0, 100.0, 64.0, "volts: 10..28 V, amps: 0.55 A"), 7.04, 1e-5);
}

/// Access-control makers' examples: a 3 W magnet takes 125 mA at 24 V and 250 mA at 12 V; a 20 VA transformer gives
/// 1.666 A at 12 V; a 12 V 500 mA device is a resistor of 24 Ω; 0.5 + 4 × 0.1 + 4 × 0.5 + 4 × 0.05 A are 3.1 A.
#[test]
fn published_currents() {
    let amps = |volts: f64, load: &str| {
        let job = read(&run(volts, 1.0, 0.0, load));
        at_rest(&job, |s| {
            let load = s.part_amps(part(&job, "E1", "L")).unwrap().0;
            near(s.part_amps(part(&job, "G1", "OUT")).unwrap().0, load, 1e-9);
            load
        })
    };
    near(amps(24.0, "volts: 24 V, watts: 3 W"), 0.125, 1e-9);
    near(amps(12.0, "volts: 12 V, watts: 3 W"), 0.25, 1e-9);
    near(amps(12.0, "volts: 12 V, watts: 20 W"), 1.666, 1e-3);
    near(12.0 / amps(12.0, "volts: 12 V, amps: 500 mA"), 24.0, 1e-5);

    let mut text =
        String::from("job: {title: A door}\ndevices:\n  G1: {type: dc-supply, volts: 12 V, amps: 4 A}\n");
    let all: Vec<f64> = [vec![0.5], vec![0.1; 4], vec![0.5; 4], vec![0.05; 4]].concat();
    for (n, amps) in all.iter().enumerate() {
        writeln!(text, "  E{n}: {{type: siren, volts: 12 V, amps: {amps} A}}").unwrap();
    }
    text.push_str("links:\n");
    for n in 0..all.len() {
        writeln!(text, "  - [G1.V+, E{n}.V+]\n  - [G1.V-, E{n}.V-]").unwrap();
    }
    let job = read(&text);
    at_rest(&job, |s| near(s.part_amps(part(&job, "G1", "OUT")).unwrap().0, 3.1, 1e-5));
}

/// By hand: 12 V through 0.5 Ω there and back to 11 Ω and a diode: (12 - 0.7) / 12 A; turned round, nothing.
#[test]
fn a_diode_drops_its_volts_one_way_only() {
    let text = |anode: &str, cathode: &str| {
        format!(
            "job: {{title: A diode}}
devices:
  G1: {{type: dc-supply, volts: 12 V}}
  D1: {{type: diode}}
  R1: {{type: resistor, ohms: 11}}
links: [[D1.{cathode}, R1.1], [G1.V-, R1.2]]
cables:
  W1: {{type: one, length: 1 km, cores: {{white: [G1.V+, D1.{anode}]}}}}
cable_data: {{one: {{cores: [white], ohm_per_km: 1, area: 16 mm2}}}}
"
        )
    };
    let job = read(&text("A", "K"));
    at_rest(&job, |s| {
        near(s.part_amps(part(&job, "R1", "R")).unwrap().0, 11.3 / 12.0, 1e-4);
        near(s.between(terminal(&job, "D1:A"), terminal(&job, "D1:K")).unwrap().0, 0.7, 1e-3);
    });
    let job = read(&text("K", "A"));
    at_rest(&job, |s| {
        assert_eq!(s.part_amps(part(&job, "R1", "R")).unwrap().0, 0.0);
        near(s.volts(terminal(&job, "D1:K")).unwrap().0, 12.0, 1e-6);
    });
}

/// By hand: of two supplies that meet through diodes the higher one carries the load alone.
#[test]
fn the_higher_of_two_supplies_feeds_through_its_diode() {
    let job = read(
        "job: {title: Two supplies}
devices:
  G1: {type: dc-supply, volts: 13.8 V}
  G2: {type: dc-supply, volts: 12 V}
  D1: {type: diode}
  D2: {type: diode}
  H1: {type: lamp, ohms: 10}
links: [[G1.V+, D1.A], [G2.V+, D2.A], [D1.K, H1.1], [D2.K, H1.1], [G1.V-, H1.2], [G2.V-, H1.2]]
",
    );
    at_rest(&job, |s| {
        near(s.part_amps(part(&job, "G1", "OUT")).unwrap().0, 1.31, 1e-4);
        assert_eq!(s.part_amps(part(&job, "G2", "OUT")).unwrap().0, 0.0);
    });
    let off = [part(&job, "G1", "OUT")];
    let solver = Solver::of(&job);
    let solution = solver.solve(&Ask { off: &off, ..Ask::new(&|_| false) });
    near(solution.part_amps(part(&job, "H1", "L")).unwrap().0, 1.13, 1e-4);
}

/// A charger and its battery carry the loads one at a time.
#[test]
fn a_battery_and_its_charger_take_turns() {
    let job = read(
        "job: {title: Standby}
devices:
  G1: {type: charger, volts: 13.8 V, amps: 2 A}
  G2: {type: battery, volts: 12 V}
  F1: {type: fuse, amps: 2 A}
  H1: {type: lamp, ohms: 10}
links: [[G1.V+, F1.1], [F1.2, G2.V+], [G1.V-, G2.V-], [G1.V+, H1.1], [G1.V-, H1.2]]
",
    );
    let solver = Solver::of(&job);
    let ask = Ask::new(&|_| false);
    assert_eq!(solver.turns(terminal(&job, "H1:1"), &ask), 2);
    let lamp = |turn| solver.solve(&Ask { turn, ..ask }).part_amps(part(&job, "H1", "L")).unwrap().0;
    near(lamp(0), 1.38, 1e-9);
    near(lamp(1), 1.2, 1e-9);
}

/// Constant currents: in proportion below their range, none when fed backwards, and 12 V each for two in series on
/// 24 V.
#[test]
fn constant_currents_outside_their_range() {
    let amps = |volts: f64| {
        let job = read(&run(volts, 1.0, 0.0, "volts: 12 V, amps: 0.5 A"));
        at_rest(&job, |s| s.part_amps(part(&job, "E1", "L")).unwrap().0)
    };
    near(amps(12.0), 0.5, 1e-5);
    near(amps(14.0), 0.5, 1e-5);
    near(amps(5.1), 0.25, 1e-9);
    let job = read(
        "job: {title: Backwards and in series}
devices:
  G1: {type: dc-supply, volts: 24 V}
  H1: {type: siren, volts: 24 V, amps: 0.1 A}
  H2: {type: siren, volts: 12 V, amps: 0.1 A}
  H3: {type: siren, volts: 12 V, amps: 0.1 A}
links: [[G1.V+, H1.V-], [G1.V-, H1.V+], [G1.V+, H2.V+], [H2.V-, H3.V+], [H3.V-, G1.V-]]
",
    );
    at_rest(&job, |s| {
        assert_eq!(s.part_amps(part(&job, "H1", "L")).unwrap().0, 0.0);
        near(s.volts(terminal(&job, "H3:V+")).unwrap().0, 12.0, 1e-3);
        near(s.part_amps(part(&job, "G1", "OUT")).unwrap().0, 0.1, 1e-4);
    });
}

/// What nothing feeds has no volts, and is named; a supply shorted by links is told and spoils nothing else.
#[test]
fn what_cannot_be_solved_is_told() {
    let job = read(
        "job: {title: Loose ends}
devices:
  G1: {type: dc-supply, volts: 12 V}
  G2: {type: dc-supply, volts: 12 V}
  H1: {type: lamp, ohms: 10}
  H2: {type: lamp, ohms: 10}
  S1: {type: key-switch}
links: [[G1.V+, G1.V-], [G2.V+, H1.1], [G2.V-, H1.2], [H2.1, S1.13], [S1.14, G2.V+]]
",
    );
    at_rest(&job, |s| {
        let troubles: Vec<&Trouble> = s.troubles().collect();
        assert_eq!(troubles, [&Trouble::Contradiction(vec![part(&job, "G1", "OUT")])]);
        assert_eq!(s.volts(terminal(&job, "G1:V+")), None);
        assert_eq!(s.volts(terminal(&job, "H2:1")), None);
        assert_eq!(s.floating().collect::<Vec<_>>(), [terminal(&job, "H2:1")]);
        near(s.part_amps(part(&job, "H1", "L")).unwrap().0, 1.2, 1e-9);
    });
    with(
        &job,
        &[part(&job, "S1", "S")],
        |_| (),
        |s| {
            near(s.volts(terminal(&job, "H2:2")).unwrap().0, 12.0, 1e-6);
            assert_eq!(s.part_amps(part(&job, "H2", "L")).unwrap().0, 0.0);
        },
    );
}

/// The lowest and highest volts of a source, and copper at 70 °C: 1 + 0.00393 × 50 times its resistance (IEC 60028).
#[test]
fn low_volts_and_warm_copper() {
    let text = run(24.0, 10.0, 100.0, "ohms: 22").replace("{type: dc-supply, volts: 24 V}", "{type: own}").replace(
        "data_sheets:\n",
        "data_sheets:\n  own: {terminals: [V+, V-], sources: {OUT: {plus: V+, minus: V-, volts: 24 V, low: 21.6 V, high: 28 V}}}\n",
    );
    let job = read(&text);
    let amps = |mains, celsius| {
        let change = |ask: &mut Ask| {
            ask.mains = mains;
            ask.celsius = Celsius(celsius);
        };
        with(&job, &[], change, |s| s.core_amps(core(&job, "W1 red")).unwrap().0)
    };
    near(amps(Mains::Nominal, 20.0), 1.0, 1e-9);
    near(amps(Mains::Low, 20.0), 0.9, 1e-9);
    near(amps(Mains::High, 20.0), 28.0 / 24.0, 1e-9);
    near(amps(Mains::Nominal, 70.0), 24.0 / (22.0 + 2.0 * 1.1965), 1e-9);
}

/// A relay that breaks its own coil chatters; one that holds itself stays in after the button is let go.
#[test]
fn coils_follow_their_volts() {
    let job = read(
        "job: {title: A buzzer}
devices:
  G1: {type: dc-supply, volts: 12 V}
  K1: {type: relay, volts: 12 V, amps: 40 mA}
links: [[G1.V+, K1.11], [K1.12, K1.A1], [K1.A2, G1.V-]]
",
    );
    let circuit = Circuit::of(&job);
    let solver = Solver::of(&job);
    let settled = settle(&job, &circuit, &solver, &circuit.at_rest(), &Ask::new(&|_| false));
    let mover = circuit.mover_of(part(&job, "K1", "P1")).unwrap();
    assert_eq!(settled.chatter, [mover, mover]);

    let job = read(
        "job: {title: Self-holding}
devices:
  G1: {type: dc-supply, volts: 12 V}
  S1: {type: push-button-no}
  K1: {type: relay, volts: 12 V, amps: 40 mA}
links: [[G1.V+, S1.13], [S1.14, K1.A1], [G1.V+, K1.11], [K1.14, K1.A1], [K1.A2, G1.V-]]
",
    );
    let circuit = Circuit::of(&job);
    let solver = Solver::of(&job);
    let ask = Ask::new(&|_| false);
    let relay = circuit.mover_of(part(&job, "K1", "P1")).unwrap();
    let button = circuit.mover_of(part(&job, "S1", "S")).unwrap();
    assert!(!settle(&job, &circuit, &solver, &circuit.at_rest(), &ask).state.operated(relay));
    let (pressed, _) = circuit.after(&circuit.at_rest(), button, true);
    let pressed = settle(&job, &circuit, &solver, &pressed, &ask).state;
    let (released, _) = circuit.after(&pressed, button, false);
    let settled = settle(&job, &circuit, &solver, &released, &ask);
    assert!(settled.state.operated(relay) && settled.chatter.is_empty());
}

/// By hand: a resistor of 4.7 kΩ at the end of 100 m there and back at 39.0 Ω/km (IEC 60228, class 5, 0.5 mm²).
#[test]
fn a_loop_reads_its_resistor_and_its_cable() {
    let job = read(
        "job: {title: Loop}
devices: {A1: {terminals: [Z, C, N]}, R1: {type: resistor, ohms: 4k7}, S1: {type: key-switch}}
links: [[S1.13, R1.1], [S1.14, R1.2]]
cables: {W1: {type: twin-0.5, length: 100 m, cores: {red: [A1.Z, R1.1], black: [A1.C, R1.2]}}}
",
    );
    let ohms = |operated: bool, to: &str| {
        let solver = Solver::of(&job);
        solver.ohms(terminal(&job, "A1:Z"), terminal(&job, to), &Ask::new(&|_| operated)).map(|ohms| ohms.0)
    };
    near(ohms(false, "A1:C").unwrap(), 4700.0 + 2.0 * 3.9, 1e-9);
    near(ohms(true, "A1:C").unwrap(), 2.0 * 3.9, 1e-9);
    assert_eq!(ohms(false, "A1:N"), None);
}

/// A random network of resistors: splices, resistors between them by links and cores, two sources each in series with a resistor.
#[derive(Clone, Debug)]
struct Network {
    splices: usize,
    ties: Vec<(usize, usize, u32)>,
    sources: [(usize, usize); 2],
}

fn network() -> impl Strategy<Value = Network> {
    (3_usize..12).prop_flat_map(|splices| {
        let tree = proptest::collection::vec((0_usize..1000, 1_u32..500), splices - 1);
        let more = proptest::collection::vec((0..splices, 1..splices, 1_u32..500), 0..8);
        let sources = [(0..splices, 1..splices), (0..splices, 1..splices)];
        (tree, more, sources).prop_map(move |(tree, more, sources)| {
            let mut ties: Vec<(usize, usize, u32)> =
                tree.iter().enumerate().map(|(n, (to, ohms))| (to % (n + 1), n + 1, *ohms)).collect();
            ties.extend(more.iter().map(|(a, by, ohms)| (*a, (a + by) % splices, *ohms)));
            Network { splices, ties, sources: sources.map(|(a, by)| (a, (a + by) % splices)) }
        })
    })
}

impl Network {
    fn job(&self, volts: [f64; 2]) -> Job {
        let mut text =
            String::from("job: {title: Random}\ndata_sheets:\n  part: {terminals: [1, 2, 3]}\ndevices:\n");
        for n in 0..self.splices {
            writeln!(text, "  X{n}: {{type: splice}}").unwrap();
        }
        for (n, (_, _, ohms)) in self.ties.iter().enumerate() {
            writeln!(text, "  R{n}: {{type: resistor, ohms: {ohms}}}").unwrap();
        }
        for (n, volts) in volts.iter().enumerate() {
            writeln!(
                text,
                "  G{n}: {{type: part, sources: {{S: {{plus: 3, minus: 2, volts: {volts} V}}}}, \
                 resistors: {{R: {{between: [1, 3], ohms: 10}}}}}}"
            )
            .unwrap();
        }
        text.push_str("links:\n");
        for (n, (a, b, _)) in self.ties.iter().enumerate() {
            writeln!(text, "  - [R{n}.1, X{a}]\n  - [R{n}.2, X{b}]").unwrap();
        }
        for (n, (a, b)) in self.sources.iter().enumerate() {
            writeln!(text, "  - [G{n}.1, X{a}]\n  - [G{n}.2, X{b}]").unwrap();
        }
        read(&text)
    }

    /// The amps in every resistor, and those out of both sources.
    fn amps(&self, volts: [f64; 2]) -> Vec<f64> {
        let job = self.job(volts);
        at_rest(&job, |s| {
            assert_eq!(s.troubles().count(), 0);
            let amps = |id| s.part_amps(id).unwrap().0;
            let mut all: Vec<f64> =
                (0..self.ties.len()).map(|n| amps(part(&job, &format!("R{n}"), "R"))).collect();
            all.extend((0..2).map(|n| amps(part(&job, &format!("G{n}"), "S"))));
            all
        })
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, ..ProptestConfig::default() })]

    /// Kirchhoff: what flows into a splice flows out; round every mesh the volts add up, for each resistor's amps
    /// times its ohms are the volts between its ends.
    #[test]
    fn kirchhoffs_laws(network in network()) {
        let job = network.job([12.0, 24.0]);
        at_rest(&job, |s| {
            let mut sum = vec![0.0; network.splices];
            for (n, (a, b, ohms)) in network.ties.iter().enumerate() {
                let amps = s.part_amps(part(&job, &format!("R{n}"), "R")).unwrap().0;
                sum[*a] -= amps;
                sum[*b] += amps;
                let (a, b) = (terminal(&job, &format!("X{a}")), terminal(&job, &format!("X{b}")));
                let volts = s.between(a, b).unwrap().0;
                assert!((amps * f64::from(*ohms) - volts).abs() < 1e-7, "{amps} A, {ohms} Ω, {volts} V");
            }
            for (n, (a, b)) in network.sources.iter().enumerate() {
                let amps = s.part_amps(part(&job, &format!("G{n}"), "S")).unwrap().0;
                sum[*a] += amps;
                sum[*b] -= amps;
            }
            for sum in sum {
                assert!(sum.abs() < 1e-7, "{sum} A are lost");
            }
        });
    }

    /// Superposition: both sources together cause what each causes alone, added.
    #[test]
    fn superposition(network in network()) {
        let (first, second) = (network.amps([12.0, 0.0]), network.amps([0.0, 24.0]));
        for ((both, first), second) in network.amps([12.0, 24.0]).iter().zip(first).zip(second) {
            prop_assert!((both - first - second).abs() < 1e-8);
        }
    }

    /// Reciprocity: a source in one branch causes in another what the same source there causes in the first.
    #[test]
    fn reciprocity(network in network()) {
        let n = network.ties.len();
        let (first, second) = (network.amps([12.0, 0.0]), network.amps([0.0, 12.0]));
        prop_assert!((first[n + 1] - second[n]).abs() < 1e-9, "{} and {}", first[n + 1], second[n]);
    }
}
