//! Published worked examples, each reproduced through a job file and what Bellwire says of it.
//!
//! Where a document asks the other way round than the publication (the drop of a length, not the longest length), the published
//! answer is put in and the question must come out. The share of a drop in the nominal volts is written in no document while it
//! is within its limit, so it is worked out here from the drop.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use bellwire::checks;
use bellwire::circuit::Circuit;
use bellwire::diagnostic::Finding;
use bellwire::netlist::{self, Job, Kind, PartId};

const PER_FOOT: f64 = 0.3048;

/// How near counts as the published answer: the solver's constant currents rise by a hundred-thousandth over their range.
const EXACT: f64 = 2e-5;

fn read(text: &str) -> Job {
    let reading = netlist::read_text("job.yaml", text);
    reading.job.unwrap_or_else(|| panic!("{:#?}", reading.findings))
}

/// One load at the end of one cable.
fn run(volts: f64, amps: f64, metres: f64, ohm_per_km: f64) -> Job {
    read(&format!(
        "job: {{title: One load}}
devices:
  G1: {{type: dc-supply, volts: {volts} V, amps: 100 A}}
  E1: {{type: heater, volts: {}..{} V, amps: {amps} A}}
cable_data:
  run: {{cores: [red, black], area: 4 mm², ohm_per_km: {ohm_per_km}, amps: 100 A}}
cables:
  W1: {{type: run, length: {metres} m, cores: {{red: [G1.V+, E1.1], black: [G1.V-, E1.2]}}}}
",
        volts / 10.0,
        volts * 1.2
    ))
}

/// The volts that the first cable loses there and back, as the cable schedule gives them.
fn drop(job: &Job) -> f64 {
    let circuit = Circuit::of(job);
    let (cable, _) = job.cable_ids().next().unwrap();
    circuit.survey(job).cable(job, cable).unwrap().volts.0
}

/// The most that the first source gives.
fn given(job: &Job) -> f64 {
    let circuit = Circuit::of(job);
    let source: PartId =
        job.part_ids().find(|(_, part)| matches!(part.kind, Kind::Source(_))).map(|(id, _)| id).unwrap();
    circuit.survey(job).part(source).unwrap().value.0
}

fn found(job: &Job, rule: &str) -> Option<Finding> {
    checks::run(job, &Circuit::of(job)).into_iter().find(|finding| finding.rule == rule)
}

fn near(got: f64, published: f64, share: f64) {
    assert!((got - published).abs() <= share * published, "{got} and not {published}");
}

/// BS 7671 drop tables as worked by contractors' guides: mV/A/m count both cores.
#[test]
fn drops_of_mv_a_m_tables() {
    // 20 m of 4 mm², 30 A, 11 mV/A/m: 6.6 V.
    near(drop(&run(48.0, 30.0, 20.0, 5.5)), 6.6, EXACT);
    // 10 m of 1.5 mm², 16 A, 29 mV/A/m: 4.64 V.
    near(drop(&run(48.0, 16.0, 10.0, 14.5)), 4.64, EXACT);
    // 40 m of 10 mm², 45 A, 4.4 mV/A/m: 7.92 V.
    near(drop(&run(48.0, 45.0, 40.0, 2.2)), 7.92, EXACT);
}

/// A national guide to voltage drop: 30 m of 6 mm², 32 A, 0.0225 Ω mm²/m lose 7.20 V; of 230 V that is 3.13 %.
#[test]
fn drop_by_resistivity() {
    let lost = drop(&run(110.0, 32.0, 30.0, 0.0225 / 6.0 * 1000.0));
    near(lost, 7.20, EXACT);
    near(lost / 230.0 * 100.0, 3.13, 2e-3);
}

/// Pages on drop in data cable: 0.55 A through 12.8 Ω lose 7.04 V.
#[test]
fn drop_by_ohms() {
    near(drop(&run(48.0, 0.55, 100.0, 64.0)), 7.04, EXACT);
}

/// A fire panel's manual: with 1 V allowed and 18 AWG of 8.08 Ω for 1000 ft, there may be 1237 ft of conductor at 0.1 A, 247
/// at 0.5 A and 123 at 1.0 A, there and back, the rest cut off. At that length the cable loses no more than 1 V, a foot later
/// more.
#[test]
fn longest_conductor_for_one_volt() {
    let per_km = 8.08 / (1000.0 * PER_FOOT) * 1000.0;
    for (feet, amps) in [(1237.0, 0.1), (247.0, 0.5), (123.0, 1.0)] {
        let lost = |feet: f64| drop(&run(24.0, amps, feet * PER_FOOT / 2.0, per_km));
        assert!(lost(feet) <= 1.0, "{feet} ft lose {}", lost(feet));
        assert!(lost(feet + 1.0) > 1.0, "{} ft lose {}", feet + 1.0, lost(feet + 1.0));
    }
}

/// The table of NEC chapter 9 as an instructor's page uses it: 400 ft of 18 AWG at 6.505 Ω for 1000 ft have 2.602 Ω. At 1 A the
/// two cores of a run of 200 ft lose as many volts.
#[test]
fn resistance_of_a_length() {
    let per_km = 6.505 / (1000.0 * PER_FOOT) * 1000.0;
    near(drop(&run(24.0, 1.0, 200.0 * PER_FOOT, per_km)), 2.602, EXACT);
}

/// A loop that is shorted at its far end, as the check tells its ohms.
fn shorted_loop(metres: f64, ohm_per_km: f64) -> String {
    let job = read(&format!(
        "job: {{title: A loop}}
devices:
  A1: {{type: panel}}
  X1: {{type: splice}}
cable_data:
  run: {{cores: [red, black], area: 0.22 mm², ohm_per_km: {ohm_per_km}, amps: 1 A}}
cables:
  W1: {{type: run, length: {metres} m, cores: {{red: [A1.Z, X1], black: [A1.C, X1]}}}}
data_sheets:
  panel: {{terminals: [Z, C], supervised: {{Z: {{at: Z, common: C, rest: 4k7, alarm: open}}}}}}
"
    ));
    found(&job, "eol-value").expect("a shorted loop is no resistor").message.to_string()
}

/// An alarm panel's manual: 100 m of 0.22 mm² to a dry contact, 85 Ω/km, add 17 Ω. A fire panel's manual: with 100 Ω allowed
/// and 18 AWG of 8.08 Ω for 1000 ft the conductor may be 12 376 ft long.
#[test]
fn ohms_of_a_loop() {
    let says = shorted_loop(100.0, 85.0);
    assert!(says.contains("sees 17 Ω"), "{says}");
    let says = shorted_loop(12_376.0 * PER_FOOT / 2.0, 8.08 / (1000.0 * PER_FOOT) * 1000.0);
    assert!(says.contains("sees 100 Ω"), "{says}");
}

/// One load straight on a supply.
fn straight(volts: f64, amps: f64, load: &str) -> Job {
    read(&format!(
        "job: {{title: One load}}
devices:
  G1: {{type: dc-supply, volts: {volts} V, amps: {amps} A}}
  E1: {{type: heater, volts: {volts} V, {load}}}
links: [[G1.V+, E1.1], [G1.V-, E1.2]]
"
    ))
}

/// A course on power budgets: loads of 0.5 A, 4 × 0.1 A, 4 × 0.5 A and 4 × 0.05 A make 3.1 A, with a quarter in hand 3.875 A, so
/// a supply of 4 A.
#[test]
fn size_of_a_supply() {
    let job = |amps: f64| {
        let mut loads = String::new();
        let mut links = Vec::new();
        let all = [(1, 0.5), (4, 0.1), (4, 0.5), (4, 0.05)];
        for (n, amps) in all.into_iter().flat_map(|(n, amps)| vec![amps; n]).enumerate() {
            loads.push_str(&format!("  E{n}: {{type: heater, volts: 12 V, amps: {amps} A}}\n"));
            links.push(format!("[G1.V+, E{n}.1], [G1.V-, E{n}.2]"));
        }
        read(&format!(
            "job: {{title: Budget}}\ndevices:\n  G1: {{type: dc-supply, volts: 12 V, amps: {amps} A}}\n{loads}links: [{}]\n",
            links.join(", ")
        ))
    };
    near(given(&job(3.5)), 3.1, EXACT);
    let finding = found(&job(3.5), "supply-overload").expect("3.1 A of 3.5 A are above 80 per cent");
    let wanted = "at least 3.9 A (3.875 A with a quarter in hand)";
    assert!(finding.fix.contains(wanted), "{}", finding.fix);
    assert!(found(&job(4.0), "supply-overload").is_none());
}

/// The same course: 20 VA at 12 V are 1.666 A (cut off), and a device of 12 V and 500 mA is a resistor of 24 Ω. A lock maker's
/// guide: a magnet of 3 W draws 125 mA at 24 V and 250 mA at 12 V.
#[test]
fn currents_of_loads() {
    let amps = given(&straight(12.0, 3.0, "watts: 20 W"));
    assert!((amps * 1000.0).floor() == 1666.0, "{amps}");
    near(given(&straight(12.0, 3.0, "ohms: 24 Ω")), 0.5, 1e-9);
    near(given(&straight(24.0, 3.0, "watts: 3 W")), 0.125, 1e-9);
    near(given(&straight(12.0, 3.0, "watts: 3 W")), 0.25, 1e-9);
}
