//! The test sheet: its order, its figures against hand-worked ones, and filled-in sheets taken back.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may stop at what it did not expect")]

use std::fs;
use std::path::Path;

use bellwire::checks;
use bellwire::circuit::Circuit;
use bellwire::documents::{self, Expect, Kind, Test, Verdict};
use bellwire::netlist::{self, Job};
use bellwire::output;
use bellwire::schedules::Cell;

fn read(text: &str) -> Job {
    let reading = netlist::read_text("job.yaml", text);
    reading.job.unwrap_or_else(|| panic!("{:#?}\n{text}", reading.findings))
}

fn sheet(text: &str) -> (Job, Vec<Test>) {
    let job = read(text);
    let circuit = Circuit::of(&job);
    let tests = documents::tests(&job, &circuit, &checks::run(&job, &circuit));
    (job, tests)
}

fn jobs() -> Vec<(String, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut all = Vec::new();
    for folder in ["examples", "tests/jobs", "tests/corpus"] {
        for entry in fs::read_dir(root.join(folder)).unwrap() {
            let path = entry.unwrap().path();
            if path.extension().is_some_and(|e| e == "yaml") {
                let name = format!("{folder}/{}", path.file_name().unwrap().to_str().unwrap());
                all.push((name, fs::read_to_string(&path).unwrap()));
            }
        }
    }
    all.sort();
    all
}

/// Cautions, then looking, then dead, then live: nothing is measured live before the last dead test.
#[test]
fn cautions_stand_first_and_no_live_test_before_the_last_dead_one() {
    for (name, text) in jobs() {
        let (_, tests) = sheet(&text);
        let kinds: Vec<Kind> = tests.iter().map(|test| test.kind).collect();
        assert!(kinds.is_sorted(), "{name}: {kinds:?}");
        assert_eq!(kinds.first(), Some(&Kind::Caution), "{name}");
        let dead = |kind: &Kind| (Kind::Continuity..=Kind::Bus).contains(kind);
        assert!(kinds.iter().any(dead), "{name}");
        assert!(tests.iter().all(|test| test.kind != Kind::Caution || test.expect == Expect::Nothing));
    }
}

/// A charged lead-acid battery at rest reads 12.6 to 12.9 V (from memory): it passes, alone and at what it feeds; an empty
/// one does not, whatever it may sink to in use.
#[test]
fn a_charged_battery_passes_and_an_empty_one_does_not() {
    let text = |more: &str| {
        format!(
            "job: {{title: Standby light}}\n\
             devices:\n\
             \x20 G1: {{type: battery, volts: 12 V{more}}}\n\
             \x20 F1: {{type: fuse, amps: 1 A}}\n\
             \x20 H1: {{type: siren, volts: 12 V, amps: 0.3 A}}\n\
             cables:\n\
             \x20 W1: {{type: single-0.75, length: 0.2 m, cores: {{red: [G1.V+, F1.1]}}}}\n\
             \x20 W2: {{type: twin-0.75, length: 4 m, cores: {{red: [F1.2, H1.V+], black: [G1.V-, H1.V-]}}}}\n"
        )
    };
    for more in ["", ", low: 10.5 V, high: 13.8 V"] {
        let (_, tests) = sheet(&text(more));
        let limits = |kind: Kind| {
            let (low, high) = tests.iter().find(|test| test.kind == kind).unwrap().limits();
            (low.unwrap(), high.unwrap())
        };
        let (low, high) = limits(Kind::Supply);
        assert!(low > 11.9 && low <= 12.6 && high >= 12.9, "{more}: {low} to {high}");
        for kind in [Kind::NoLoad, Kind::WorstCase] {
            let (low, high) = limits(kind);
            assert!(low <= 12.4 && high >= 12.9, "{more}: {kind:?} {low} to {high}");
        }
    }
}

/// A charger of 13.8 V that gives 5 % more passes where a battery shares the load; amps are read with one of them off.
#[test]
fn a_charger_and_its_battery_are_measured_apart() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/alarm-loop.yaml");
    let (_, tests) = sheet(&fs::read_to_string(path).unwrap());
    let panel = tests.iter().find(|t| t.kind == Kind::NoLoad && t.at == "A1:V+ to A1:V-").unwrap();
    let (low, high) = panel.limits();
    assert!(low.unwrap() <= 10.5 && high.unwrap() >= 1.049 * 13.8, "{low:?} to {high:?}");
    let amps: Vec<&Test> = tests.iter().filter(|t| t.kind == Kind::Current).collect();
    assert!(!amps.is_empty() && amps.iter().all(|t| t.how.contains("with one of them off")), "{amps:?}");
}

/// A meter on AC shows no sign: no row of AC has a limit below nothing.
#[test]
fn alternating_volts_have_no_sign() {
    let text = "job: {title: Stair light}\n\
        devices:\n\
        \x20 T1: {type: ac-supply, volts: 24 V, amps: 2 A}\n\
        \x20 S1: {type: toggle-switch}\n\
        \x20 E1: {type: lamp, volts: 24 V, watts: 10}\n\
        cables:\n\
        \x20 W1: {type: single-1.5, length: 3 m, cores: {brown: [T1.A, S1.13]}}\n\
        \x20 W2: {type: twin-1.5, length: 5 m, cores: {red: [S1.14, E1.1], black: [T1.B, E1.2]}}\n\
        cause_and_effect:\n\
        \x20 - {when: S1 at rest, then: E1 dead}\n";
    let (_, tests) = sheet(text);
    let ac: Vec<&Test> = tests.iter().filter(|test| test.unit == "V AC").collect();
    assert!(ac.iter().any(|test| test.kind == Kind::Effect));
    assert!(ac.iter().all(|test| test.limits().0.is_none_or(|low| low >= 0.0)));
    let cautions: Vec<&str> =
        tests.iter().filter(|t| t.kind == Kind::Caution).map(|t| t.how.as_str()).collect();
    assert!(cautions.iter().any(|how| how.contains("isolate every supply, lock off")), "{cautions:?}");
}

#[test]
fn nothing_is_filled_in_and_every_figure_has_its_limits() {
    for (name, text) in jobs() {
        let (_, tests) = sheet(&text);
        let table = documents::tests_table(&tests);
        let names: Vec<&str> = table.columns.iter().map(|column| column.name).collect();
        assert_eq!(names, ["step", "kind", "at", "how", "expect", "unit", "low", "high", "measured"]);
        assert!(table.rows.iter().all(|row| row.last() == Some(&Cell::Blank)), "{name}");
        for (n, test) in tests.iter().enumerate() {
            if let Expect::Figure { value, low, high } = test.expect {
                assert!(low <= high, "{name}: step {}: {test:?}", n + 1);
                assert!(!test.unit.is_empty() && value.is_finite() && low.is_finite() && high.is_finite());
            }
        }
    }
}

/// In a job without a finding every expected value passes its own limits.
#[test]
fn what_is_expected_passes() {
    for (name, text) in jobs() {
        let job = read(&text);
        let circuit = Circuit::of(&job);
        let findings = checks::run(&job, &circuit);
        if findings.iter().any(|f| f.severity > bellwire::diagnostic::Severity::Note) {
            continue;
        }
        for (n, test) in documents::tests(&job, &circuit, &findings).iter().enumerate() {
            if let Expect::Figure { value, low, high } = test.expect {
                let slack = 1e-3 * value.abs();
                assert!((low - slack..=high + slack).contains(&value), "{name}: step {}: {test:?}", n + 1);
                assert!(!test.how.contains("does not pass"));
            }
        }
    }
}

/// Ohms there and back are 2 · length · resistance at 20 °C: 14 m of 7/0.20 (89.13 Ω/km by this program's arithmetic of
/// strands) 2.496 Ω, 3 m of 0.5 mm² class 5 (IEC 60228: 39.0 Ω/km) 0.234 Ω, 0.5 m of 0.75 mm² (26.0 Ω/km) 0.026 Ω.
#[test]
fn continuity_is_twice_length_times_resistance() {
    let (job, tests) = sheet(include_str!("../examples/roof-vent.yaml"));
    let value = |at: &str| {
        let test = tests.iter().find(|t| t.kind == Kind::Continuity && t.at.starts_with(at)).expect(at);
        match test.expect {
            Expect::Figure { value, low, high } => (value, low, high),
            _ => panic!("{at}: no figure"),
        }
    };
    for (at, ohms) in [
        ("W1 red + black", 2.0 * 0.0005 * 26.0),
        ("W2 red + black", 2.0 * 0.014 * 89.131),
        ("W2 black + blue", 2.0 * 0.014 * 89.131),
        ("W3 red + black", 2.0 * 0.003 * 39.0),
        ("W4 red", 0.0002 * 26.0),
    ] {
        let (value, low, high) = value(at);
        assert!((value - ohms).abs() < 1e-3 * ohms, "{at}: {value} instead of {ohms}");
        assert!((high - (ohms + (0.1 * ohms).max(0.2))).abs() < 2e-3, "{at}: {high}");
        assert!((low - (ohms - (0.1 * ohms).max(0.2)).max(0.0)).abs() < 2e-3, "{at}: {low}");
    }
    // Every core stands in a row, spare ones too.
    for (_, core) in job.core_ids() {
        let cable = &job.cable(core.cable).name;
        let found = tests.iter().any(|t| {
            t.kind == Kind::Continuity
                && t.at.strip_prefix(&format!("{cable} ")).is_some_and(|rest| {
                    let cores = rest.split(',').next().unwrap_or_default();
                    cores.split(" + ").any(|name| name == core.name)
                })
        });
        assert!(found, "{cable} {}", core.name);
    }
}

/// The door strike by hand: 12 V, 0.45 A over W2 (0.4 m) and W1 (0.3 m) of 0.75 mm², W3 5 m of 7/0.20 both ways.
#[test]
fn worst_case_volts_by_hand() {
    let text = "job: {title: Strike}
devices:
  G1: {type: dc-supply, volts: 12 V, amps: 1 A}
  S1: {type: push-button-no}
  Y1: {type: strike, volts: 12 V, amps: 0.45 A}
cables:
  W1: {type: single-0.75, length: 10 m, cores: {red: [G1.V+, S1.13]}}
  W2: {type: single-0.75, length: 20 m, cores: {red: [S1.14, Y1.1]}}
  W3: {type: single-0.75, length: 30 m, cores: {black: [G1.V-, Y1.2]}}
cause_and_effect:
  - {when: S1 operated, then: Y1 powered}
  - {when: S1 at rest, then: Y1 dead}
";
    let (_, tests) = sheet(text);
    // 60 m of 26.0 Ω/km (IEC 60228, class 5) at 0.45 A lose 0.702 V.
    let lost = 0.060 * 26.0 * 0.45;
    let worst = tests.iter().find(|t| t.kind == Kind::WorstCase).unwrap();
    let Expect::Figure { value, low, high } = worst.expect else { panic!("{worst:?}") };
    assert!((value - (12.0 - lost)).abs() < 2e-3, "{value}");
    assert!(low >= 0.85 * 12.0 - 1e-9 && high <= 12.6, "{low} {high}");
    let none = tests.iter().find(|t| t.kind == Kind::NoLoad).unwrap();
    assert!(matches!(none.expect, Expect::Figure { value, .. } if (value - 12.0).abs() < 1e-3), "{none:?}");
    let effects: Vec<&Test> = tests.iter().filter(|t| t.kind == Kind::Effect).collect();
    assert!(matches!(effects[0].expect, Expect::Figure { value, .. } if (value - 11.298).abs() < 2e-3));
    assert!(matches!(effects[1].expect, Expect::Figure { value, high, .. } if value == 0.0 && high == 0.5));
}

#[test]
fn a_filled_in_sheet_is_taken_back() {
    let (_, tests) = sheet(include_str!("../examples/roof-vent.yaml"));
    let mut rows = output::rows(&output::csv(&documents::tests_table(&tests))).unwrap();
    let fill = |rows: &mut Vec<Vec<String>>, at: &str, kind: &str, measured: &str| {
        let row = rows.iter_mut().find(|row| row[2].starts_with(at) && row[1] == kind).expect(at);
        measured.clone_into(&mut row[8]);
    };
    fill(&mut rows, "W2 red + black", "continuity", "2,6 Ω");
    fill(&mut rows, "W2 white + red", "continuity", "OL");
    fill(&mut rows, "W2, each core", "no short", "OL");
    fill(&mut rows, "K1:+V to K1:0V", "no load", "9.8");
    fill(&mut rows, "whole job", "look", "yes");
    fill(&mut rows, "K1:ANT", "look", "no");
    fill(&mut rows, "A1:3 to A1:4", "cause and effect", "closed");
    fill(&mut rows, "K1:IN1 to K1:0V", "input", "about nine");
    let judged = documents::judge(&tests, &rows).unwrap();
    let told: Vec<(String, Verdict)> = judged
        .iter()
        .filter(|judged| judged.verdict != Verdict::Missing)
        .map(|judged| (judged.measured.clone(), judged.verdict))
        .collect();
    let expected = [
        ("yes", Verdict::Within),
        ("no", Verdict::Outside),
        ("2,6 Ω", Verdict::Within),
        ("OL", Verdict::Outside),
        ("OL", Verdict::Within),
        ("9.8", Verdict::Outside),
        ("about nine", Verdict::Unreadable),
        ("closed", Verdict::Within),
    ];
    assert_eq!(told, expected.map(|(text, verdict)| (text.to_owned(), verdict)));
    // A sheet of another job, or of this job before it was changed, is refused.
    rows[12][2] = "W9 red".to_owned();
    assert!(documents::judge(&tests, &rows).unwrap_err().contains("W9 red"));
    assert!(documents::judge(&tests, &[vec!["step".to_owned()]]).unwrap_err().contains("`at`"));
}

/// A lamp behind a relay's make contact: S1 feeds the coil, `more` is a further cable.
fn relay_fed(contact: &str, more: &str) -> String {
    format!(
        "job: {{title: Loading bay lamp}}
devices:
  G1: {{type: dc-supply, volts: 24 V, amps: 2 A}}
  X1: {{type: splice}}
  X2: {{type: splice}}
  X3: {{type: splice}}
  S1: {{type: push-button-no}}
  S2: {{type: toggle-switch}}
  K1: {{type: relay, volts: 24 V, amps: 40 mA}}
  H1: {{type: siren, volts: 24 V, amps: 0.2 A}}
cables:
  W1: {{type: twin-1, length: 1 m, cores: {{red: [G1.V+, X1], black: [G1.V-, X2]}}}}
  W2: {{type: single-1, length: 1 m, cores: {{red: [X1, S1.13]}}}}
  W3: {{type: single-1, length: 1 m, cores: {{red: [S1.14, K1.A1]}}}}
  W4: {{type: single-1, length: 1 m, cores: {{black: [X2, K1.A2]}}}}
  W5: {{type: single-1, length: 1 m, cores: {{red: [X1, K1.11]}}}}
  W6: {{type: single-1, length: 1 m, cores: {{red: [K1.{contact}, X3]}}}}
  W7: {{type: twin-1, length: 10 m, cores: {{red: [X3, H1.V+], black: [X2, H1.V-]}}}}
{more}"
    )
}

/// With the supplies off a relay stays let go: a way that it would have to close is read in parts or with the relay pressed
/// in by hand, and another way is taken where there is one. Dead tests are taken at rest without power: a break contact is
/// closed there, whatever the coil does when power is on.
#[test]
fn dead_tests_ask_for_nothing_that_needs_power() {
    let polarity = |text: &str| {
        let (_, tests) = sheet(text);
        let found: Vec<Test> = tests.into_iter().filter(|t| t.kind == Kind::Polarity).collect();
        found.into_iter().find(|t| t.at == "G1:V+ to H1:V+").unwrap()
    };
    // By hand: 1 m + 1 m + 1 m + 10 m of 19.5 Ω/km.
    let pressed = polarity(&relay_fed("14", ""));
    assert!(
        matches!(pressed.expect, Expect::Figure { value, .. } if (value - 0.2535).abs() < 1e-3),
        "{pressed:?}"
    );
    for said in ["supplies off", "everything at rest", "K1:11 to K1:14 closes only with power", "no link"] {
        assert!(pressed.how.to_lowercase().contains(&said.to_lowercase()), "{said}: {}", pressed.how);
    }
    assert!(!pressed.how.contains("S1"), "{}", pressed.how);
    // The way back leads through no contact.
    let (_, all) = sheet(&relay_fed("14", ""));
    let back = all.iter().find(|t| t.kind == Kind::Polarity && t.at == "G1:V- to H1:V-").unwrap();
    assert!(!back.how.contains("K1"), "{}", back.how);
    let beside = "  W8: {type: twin-1, length: 2 m, cores: {red: [X1, S2.13], black: [X3, S2.14]}}\n";
    let by_hand = polarity(&relay_fed("14", beside));
    assert!(by_hand.how.contains("with S2 operated. Ohm meter"), "{}", by_hand.how);
    assert!(!by_hand.how.contains("K1"), "{}", by_hand.how);
    let breaks = polarity(&relay_fed("12", ""));
    assert!(breaks.how.contains("everything at rest. Ohm meter"), "{}", breaks.how);
}

/// A relay that is pulled in at rest has let go when the dead tests are made.
#[test]
fn a_watched_loop_that_power_holds_is_no_dead_test() {
    let text = "job: {title: Cold room watch}
devices:
  G1: {type: dc-supply, volts: 12 V, amps: 1 A}
  B1: {type: motion-detector, volts: 12 V, amps: 20 mA}
  B2: {type: reed-contact, rest: operated}
  A1: {type: zones}
cables:
  W1: {type: alarm-4x0.22, length: 5 m, cores: {red: [G1.V+, B1.V+], black: [G1.V-, B1.V-], \
     blue: [A1.Z1, B1.ALM1], white: [A1.Z0, B1.ALM2]}}
  W2: {type: twin-0.5, length: 5 m, cores: {red: [A1.Z2, B2.1], black: [A1.Z3, B2.2]}}
data_sheets:
  zones:
    terminals: [Z1, Z0, Z2, Z3]
    supervised:
      MOTION: {at: Z1, common: Z0, rest: shorted, alarm: open}
      DOOR: {at: Z2, common: Z3, rest: shorted, alarm: open}
";
    let (_, tests) = sheet(text);
    let of = |at: &str| tests.iter().find(|t| t.at == at && t.unit == "Ω").unwrap();
    assert_eq!(of("A1:Z1 to A1:Z0").kind, Kind::Input);
    assert!(of("A1:Z1 to A1:Z0").how.starts_with("Power on"));
    assert_eq!(of("A1:Z2 to A1:Z3").kind, Kind::Loop);
    assert!(of("A1:Z2 to A1:Z3").how.contains("supplies off"));
}

/// Amps above what the supply gives never pass, and the row says that the job is so.
#[test]
fn an_overloaded_supply_fails() {
    let text = "job: {title: Winch}
devices:
  G1: {type: dc-supply, volts: 12 V, amps: 5 A}
  M1: {type: motor, volts: 12 V, amps: 14 A}
cables:
  W1: {type: twin-2.5, length: 1 m, cores: {red: [G1.V+, M1.1], black: [G1.V-, M1.2]}}
";
    let (_, tests) = sheet(text);
    let row = tests.iter().find(|t| t.kind == Kind::Current).unwrap();
    let Expect::Figure { value, high, .. } = row.expect else { panic!("{row:?}") };
    assert!((value - 14.0).abs() < 1e-3 && (high - 5.0).abs() < 1e-9, "{row:?}");
    assert!(row.how.contains("does not pass"), "{}", row.how);
    // Who reads 14 A has worked well: the job is at fault.
    let step = tests.iter().position(|t| t == row).unwrap();
    let mut rows = output::rows(&output::csv(&documents::tests_table(&tests))).unwrap();
    rows[step + 1][8] = "14".to_owned();
    let judged = documents::judge(&tests, &rows).unwrap();
    let told = judged.iter().find(|judged| judged.step == step + 1).unwrap();
    assert_eq!((told.verdict, told.as_written), (Verdict::Outside, true));
    rows[step + 1][8] = "9".to_owned();
    let judged = documents::judge(&tests, &rows).unwrap();
    assert!(judged.iter().all(|judged| !judged.as_written));
}

/// What passes as the volts of a charger alone passes at what it feeds, less the 8 mV that 0.3 A lose on the way.
#[test]
fn a_charger_that_passes_alone_passes_at_its_loads() {
    let text = "job: {title: Gate light}
devices:
  G1: {type: charger, volts: 13.8 V, amps: 3 A}
  G2: {type: battery, volts: 12 V, fused: 5 A}
  X1: {type: splice}
  X2: {type: splice}
  E1: {type: siren, volts: 10..16 V, amps: 0.3 A}
cables:
  W1: {type: twin-1, length: 0.3 m, cores: {red: [G1.V+, X1], black: [G1.V-, X2]}}
  W2: {type: twin-1, length: 0.3 m, cores: {red: [G2.V+, X1], black: [G2.V-, X2]}}
  W3: {type: twin-1, length: 0.3 m, cores: {red: [X1, E1.V+], black: [X2, E1.V-]}}
";
    let (_, tests) = sheet(text);
    let high = |kind: Kind| tests.iter().find(|t| t.kind == kind).unwrap().limits().1.unwrap();
    let alone = high(Kind::Supply);
    assert!((alone - 1.05 * 13.8).abs() < 1e-2, "{alone}");
    for kind in [Kind::NoLoad, Kind::WorstCase] {
        assert!(high(kind) >= alone - 2e-2, "{kind:?}: {} under {alone}", high(kind));
    }
}

/// The contact on a volt-free input is measured on the core that was taken off, for on the input a meter reads the device;
/// and with power on where a relay has to pull in.
#[test]
fn a_contact_is_measured_past_the_device_that_it_works() {
    let text = "job: {title: Mixer call}
devices:
  G1: {type: dc-supply, volts: 24 V, amps: 1 A}
  S1: {type: push-button-no}
  K1: {type: relay, volts: 24 V, amps: 40 mA}
  A1: {type: starter}
cables:
  W1: {type: single-1, length: 1 m, cores: {red: [G1.V+, S1.13]}}
  W2: {type: single-1, length: 1 m, cores: {red: [S1.14, K1.A1]}}
  W3: {type: single-1, length: 1 m, cores: {black: [G1.V-, K1.A2]}}
  W4: {type: twin-1, length: 3 m, cores: {red: [K1.11, A1.1], black: [K1.14, A1.2]}}
cause_and_effect:
  - {when: S1 operated, then: A1.RUN closed}
data_sheets:
  starter:
    terminals: [1, 2]
    dry_inputs: {RUN: {between: [1, 2]}}
";
    let (_, tests) = sheet(text);
    let row = tests.iter().find(|t| t.kind == Kind::Effect).unwrap();
    assert!(row.how.starts_with("Power on, with S1 operated"), "{}", row.how);
    assert!(row.how.contains("ohm meter from what was taken off A1:1 to A1:2"), "{}", row.how);
}

/// Two terminators that are on give 60 Ω between the legs though no data sheet states theirs; of another kind of line no
/// figure is made up.
#[test]
fn a_bus_whose_terminators_state_no_ohms_is_measured() {
    let text = |more: &str| {
        format!(
            "job: {{title: Two meters}}
devices:
  A1: {{type: bus-device, volts: 24 V, amps: 20 mA, settings: {{terminator: on}}{more}}}
  A2: {{type: bus-device, volts: 24 V, amps: 20 mA, settings: {{terminator: on}}{more}}}
cables:
  W1: {{type: screened-2x0.22, length: 20 m, cores: {{red: [A1.A, A2.A], black: [A1.B, A2.B], drain: [taped, taped]}}}}
"
        )
    };
    let bus = |more: &str| {
        let (_, tests) = sheet(&text(more));
        tests.into_iter().find(|t| t.kind == Kind::Bus).unwrap()
    };
    let usual = bus("");
    assert!(matches!(usual.expect, Expect::Figure { value, .. } if (value - 60.0).abs() < 1e-9), "{usual:?}");
    assert!(usual.how.contains("A1 and A2 states no ohms: 120 Ω is taken"), "{}", usual.how);
    let other = bus(", signal_pairs: {BUS: {kind: sounder}}");
    assert!(other.how.contains("No figure") && other.limits() == (None, None), "{other:?}");
}

/// A 4–20 mA input reads 1 to 5 V over its 250 Ω (Ohm's law), with room to 3.8 and 20.5 mA (NAMUR NE 43).
#[test]
fn a_current_loop_has_a_test() {
    let text = include_str!("loop.yaml");
    let (_, tests) = sheet(text);
    let row = tests.iter().find(|t| t.at == "A1:I+ to A1:I-").unwrap();
    assert_eq!((row.kind, row.unit), (Kind::Input, "V DC"));
    let (low, high) = row.limits();
    assert!((low.unwrap() - 0.95).abs() < 1e-9 && (high.unwrap() - 5.125).abs() < 1e-9, "{row:?}");
    assert!(!row.how.contains("no such current flows"), "{}", row.how);
    let (_, broken) = sheet(&text.replace("[A1.I-, G1.V-]", "[A1.I-, bare]"));
    let row = broken.iter().find(|t| t.at == "A1:I+ to A1:I-").unwrap();
    assert!(row.how.contains("no such current flows"), "{}", row.how);
    // The page gives the reading as the two ends of the range.
    let job = read(text);
    let circuit = Circuit::of(&job);
    let page = documents::page(&job, &circuit, &[], &tests, &bellwire::schedules::Spots::default());
    let at = page.points.iter().position(|point| point == "A1:I+").unwrap();
    assert_eq!(page.rest.readings[at], "1 V to 5 V against G1:V-");
}
