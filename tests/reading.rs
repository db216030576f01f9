//! Reading job files: what is right is read as written, what is wrong is reported with its place.

#![allow(clippy::expect_used, reason = "a test may stop")]

use bellwire::diagnostic::Severity;
use bellwire::netlist::{
    self, AcceptedAt, Active, Colour, Contacting, Draw, End, Form, Job, Kind, Meaning, Origin, PartId, Pull,
    Reading, Safe, ScreenRule, SheetSize, read, read_text,
};
use bellwire::units::{Amps, Ohms, Seconds, Watts};
use proptest::prelude::*;

const ROOF_VENT: &str = include_str!("reading/roof-vent.yaml");

/// A job that uses every section and nearly every key.
const MANY_SECTIONS: &str = include_str!("reading/many-sections.yaml");

/// Every finding as `line:column severity message | fix`.
fn told(reading: &Reading) -> Vec<String> {
    let tell = |finding: &bellwire::diagnostic::Finding| {
        let at: Vec<String> = finding
            .labels
            .iter()
            .map(|label| {
                let place = reading.sources.locate(label.place);
                assert!(!place.file.starts_with("symbols/"), "{place:?}");
                format!("{}:{}", place.line, place.column)
            })
            .collect();
        format!("{} {} {} | {}", at.join(" "), finding.severity.word(), finding.message, finding.fix)
    };
    reading.findings.iter().map(tell).collect()
}

#[test]
fn the_whole_job_is_read() {
    let reading = read_text("roof-vent.yaml", ROOF_VENT);
    assert_eq!(told(&reading), Vec::<String>::new());
    let job = reading.job.expect("a job");
    assert_eq!(job.devices.len(), 6);
    assert_eq!(job.cores.len(), 10);
    assert_eq!(job.cause_and_effect.len(), 3);
}

/// Every type that the program ships is read without a fault by a device or cable that bears it.
#[test]
fn every_shipped_type_is_in_order() {
    for name in bellwire::library::device_types() {
        let ways = if name == "terminal-strip" { ", ways: 4" } else { "" };
        let text = format!("job: {{title: x}}\ndevices:\n  D1: {{type: {name}{ways}}}\n");
        assert_eq!(told(&read_text("x.yaml", &text)), Vec::<String>::new(), "{name}");
    }
    for name in bellwire::library::cable_types() {
        let name = name.replace("-S", "-0.75");
        let cores = if name.starts_with("single") { ", cores: {red: taped}" } else { "" };
        let text = format!("job: {{title: x}}\ncables:\n  W1: {{type: {name}{cores}}}\n");
        assert_eq!(told(&read_text("x.yaml", &text)), Vec::<String>::new(), "{name}");
    }
}

/// One case of `faults.txt`: a title, a job file and what is to be told about it.
struct Case<'c> {
    title: &'c str,
    text: String,
    told: Vec<&'c str>,
}

/// `faults.txt` shows tabs and control characters as pictures.
fn cases(all: &str) -> Vec<Case<'_>> {
    let mut cases = Vec::new();
    for block in all.split("==== ").skip(1) {
        let (title, rest) = block.split_once('\n').expect("a title");
        let (text, told) = rest.split_once("----\n").expect("a line of dashes");
        let text = text.replace('→', "\t").replace('␀', "\0").replace('␇', "\u{7}");
        cases.push(Case { title, text, told: told.lines().collect() });
    }
    cases
}

/// With `BLESS` set the expected lines are written anew, to be read over before they are kept.
#[test]
fn every_fault_is_told_with_its_place_and_a_fix() {
    const FILE: &str = "tests/reading/faults.txt";
    let all = std::fs::read_to_string(FILE).expect("the cases");
    let mut fresh = String::new();
    let mut wrong = Vec::new();
    for case in cases(&all) {
        let reading = read_text("job.yaml", &case.text);
        let now = told(&reading);
        let shown = case.text.replace('\t', "→").replace('\0', "␀").replace('\u{7}', "␇");
        fresh.push_str(&format!("==== {}\n{shown}----\n", case.title));
        for line in &now {
            fresh.push_str(line);
            fresh.push('\n');
        }
        let unreadable = reading.findings.iter().any(|f| f.rule == "unreadable");
        assert_eq!(reading.job.is_none(), unreadable, "{}", case.title);
        assert!(reading.findings.iter().all(|f| !f.fix.is_empty()), "{}", case.title);
        if now != case.told {
            wrong.push(format!("{}\n  now  {now:#?}\n  then {:#?}", case.title, case.told));
        }
    }
    if std::env::var_os("BLESS").is_some() {
        std::fs::write(FILE, fresh).expect("to write the cases");
    } else {
        assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    }
}

/// Jobs of the examples and of other tests are readable, with nothing to note.
#[test]
fn jobs_as_users_write_them_are_read() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut read = 0;
    for folder in ["examples", "tests/jobs"] {
        for entry in std::fs::read_dir(root.join(folder)).expect("the folder") {
            let path = entry.expect("an entry").path();
            if path.extension().is_none_or(|ending| ending != "yaml") {
                continue;
            }
            let bytes = std::fs::read(&path).expect("the job");
            let mut fetch =
                |name: &str| std::fs::read(root.join(folder).join(name)).map_err(|why| why.to_string());
            let reading = netlist::read(&path.to_string_lossy(), bytes, &mut fetch);
            assert_eq!(told(&reading), Vec::<String>::new(), "{}", path.display());
            read += 1;
        }
    }
    assert!(read > 20, "{read}");
}

fn job(text: &str) -> Job {
    let reading = read_text("job.yaml", text);
    let notes = told(&reading);
    reading.job.unwrap_or_else(|| panic!("{notes:#?}"))
}

#[test]
fn names_keep_their_written_text() {
    let job = job("
job: {title: 1.10, number: 007, revision: 0x1F, date: 2026-03-14, client: yes, site: ~}
devices:
  NO: {terminals: [NO, 5, 1.10, 007, 0V, +V, =A1, -X1, null, true, 1e3]}
  5: {terminals: [on, '1', \"2\"]}
  1_0: {type: splice, name: no}
cables:
  007: {type: single-1, length: 1, cores: {red: [NO.NO, NO.5]}}
  1.20: {type: single-1, length: 1, cores: {red: [NO.1.10, 5.on]}}
  no: {cores: {1: [NO.007, 1_0], black-1: [NO.null, NO.1e3], 010: [NO.true, NO.-X1]}}
");
    assert_eq!(job.info.title, "1.10");
    assert_eq!(job.info.number.as_deref(), Some("007"));
    assert_eq!(job.info.revision.as_deref(), Some("0x1F"));
    assert_eq!(job.info.client.as_deref(), Some("yes"));
    assert_eq!(job.info.site.as_deref(), Some("~"));
    assert_eq!(job.info.date.as_deref(), Some("2026-03-14"));
    let names: Vec<&str> = job.terminals.iter().map(|t| t.name.as_str()).collect();
    assert_eq!(
        names,
        ["NO", "5", "1.10", "007", "0V", "+V", "=A1", "-X1", "null", "true", "1e3", "on", "1", "2", ""]
    );
    let cables: Vec<&str> = job.cables.iter().map(|c| c.name.as_str()).collect();
    assert_eq!(cables, ["007", "1.20", "no"]);
    let cores: Vec<&str> = job.cores.iter().map(|c| c.name.as_str()).collect();
    assert_eq!(cores, ["red", "red", "1", "black-1", "010"]);
    let to = |core: usize, end: usize| match job.cores[core].ends[end].to {
        End::Terminal(id) => job.label(id),
        other => format!("{other:?}"),
    };
    assert_eq!([to(1, 0), to(1, 1)], ["NO:1.10", "5:on"]);
    assert_eq!([to(2, 0), to(2, 1)], ["NO:007", "1_0"]);
}

#[test]
fn every_core_is_accounted_for() {
    let job = job("
job: {title: t}
devices: {A: {terminals: [1, 2, 3, 4]}, B: {terminals: [1, 2, 3, 4]}}
cable_data:
  numbered: {cores: {1: black, 2: black, E: green-yellow}, area: 18 AWG, amps: 5 A}
cables:
  W1:
    type: screened-2x0.22
    cores: {black: [A.2, B.2], red: [A.1, sleeved]}
  W2: {type: twin-0.75, colours: [brown, blue], cores: {blue: bare, brown: [parked, capped]}}
  W3: {type: numbered, cores: {1: spare}}
  W4: {cores: {slate: [A.3, B.3], screen: taped}}
  W5: {type: utp-4pair, cores: {blue: [A.4, B.4]}}
");
    let core = |cable: usize, at: usize| {
        let run: Vec<u32> = job.cables[cable].cores.iter().collect();
        &job.cores[run[at] as usize]
    };
    let w1 = &job.cables[0];
    assert_eq!(w1.cores.len(), 3);
    assert_eq!([&core(0, 0).name, &core(0, 1).name, &core(0, 2).name], ["red", "black", "drain"]);
    assert_eq!(core(0, 0).ends[1].to, End::Safe(Safe::Sleeved));
    assert!(core(0, 0).mentioned && !core(0, 2).mentioned);
    assert_eq!(core(0, 2).ends[0].to, End::Spare);
    assert_eq!(w1.drain().map(|id| job.core(id).name.as_str()), Some("drain"));
    assert!(w1.screened);

    assert_eq!([&core(1, 0).name, &core(1, 1).name], ["brown", "blue"]);
    assert_eq!(core(1, 0).colours, [Colour::Brown]);
    assert_eq!(core(1, 0).ends.map(|end| end.to), [End::Safe(Safe::Parked), End::Safe(Safe::Capped)]);
    assert_eq!(core(1, 1).ends.map(|end| end.to), [End::Bare; 2]);
    assert_eq!(job.cables[1].ohm_per_km.map(|f| (f.value.0, f.from)), Some((26.0, Origin::Iec60228)));

    assert_eq!(core(2, 0).colours, [Colour::Black]);
    assert_eq!(core(2, 2).colours, [Colour::Green, Colour::Yellow]);
    assert_eq!(core(2, 0).ends[1].to, End::Spare);
    assert_eq!(job.cables[2].size_text.as_deref(), Some("18 AWG"));
    assert_eq!(job.cables[2].amps.map(|f| (f.value.0, f.from)), Some((5.0, Origin::Stated)));
    assert_eq!(job.cables[2].ohm_per_km.map(|f| f.from), Some(Origin::AstmB258));

    assert_eq!(core(3, 0).colours, [Colour::Grey]);
    assert!(core(3, 1).colours.is_empty());
    assert_eq!(job.cables[3].drain().map(|id| job.core(id).name.as_str()), Some("screen"));
    assert_eq!(job.cables[3].ohm_per_km, None);

    assert_eq!(job.cables[4].pairs().len(), 4);
    assert_eq!(core(4, 0).colours, [Colour::White, Colour::Blue]);
    assert_eq!(job.cables[4].ohm_per_km.map(|f| (f.value.0, f.from)), Some((93.8, Origin::Stated)));
}

fn part<'j>(job: &'j Job, device: &str, name: &str) -> &'j Kind {
    let (_, device) = job.device_ids().find(|(_, d)| d.name == device).expect("the device");
    let mut parts = device.parts.iter().map(|id| job.part(PartId(id)));
    &parts.find(|part| part.name == name).expect("the part").kind
}

#[test]
fn a_device_merges_into_its_type_entry_by_entry() {
    let job = job("
job: {title: t}
devices:
  K1:
    type: relay-module
    loads: {SUPPLY: {amps: 80 mA, existing: true}}
    inputs: {IN2: {active: high}}
    bridges: [[COM1, COM2]]
    cautions: [Mind the aerial.]
  K2: {type: relay-module}
  M1: {type: lamp, volts: 20..28 V, watts: 5 W}
  M2: {type: lamp, volts: 24, ohms: 4k7}
  K3: {type: relay, volts: 12, ohms: 200}
  R1: {type: resistor, ohms: 4k7}
  Y1: {type: strike, volts: 12, amps: 0.5, loads: {L: {plus: 1, minus: 2}}}
");
    let Kind::Load(load) = part(&job, "K1", "SUPPLY") else { panic!() };
    assert_eq!(load.draw, Some(Draw::Amps(Amps(0.08))));
    assert_eq!(load.volts.map(|v| v.range.low.0), Some(10.0));
    let Kind::Input(input) = part(&job, "K1", "IN2") else { panic!() };
    assert_eq!((input.active, input.pull), (Active::High, Pull::Down));
    let Kind::Input(input) = part(&job, "K1", "IN1") else { panic!() };
    assert_eq!((input.active, input.pull), (Active::Low, Pull::Up));
    let Kind::Bridge(bridge) = part(&job, "K1", "bridges 1") else { panic!() };
    assert_eq!(bridge.iter().map(|t| job.label(*t)).collect::<Vec<_>>(), ["K1:COM1", "K1:COM2"]);
    assert_eq!(job.devices[0].cautions.last().map(String::as_str), Some("Mind the aerial."));
    assert_eq!(job.devices[1].cautions.len() + 1, job.devices[0].cautions.len());
    let Kind::Load(load) = part(&job, "K2", "SUPPLY") else { panic!() };
    assert_eq!(load.draw, Some(Draw::Amps(Amps(0.06))));
    assert_eq!(job.label(load.plus), "K2:+V");

    let Kind::Load(load) = part(&job, "M1", "L") else { panic!() };
    assert_eq!(load.draw, Some(Draw::Watts(Watts(5.0))));
    assert_eq!(load.volts.map(|v| (v.nominal.0, v.range.high.0)), Some((24.0, 28.0)));
    let Kind::Load(load) = part(&job, "M2", "L") else { panic!() };
    assert_eq!(load.draw, Some(Draw::Ohms(Ohms(4700.0))));
    let range = load.volts.map(|v| v.range).expect("a range");
    assert!((range.low.0 - 20.4).abs() < 1e-9 && (range.high.0 - 28.8).abs() < 1e-9);
    let Kind::Coil(coil) = part(&job, "K3", "C") else { panic!() };
    assert_eq!(coil.draw, Some(Draw::Ohms(Ohms(200.0))));
    let Kind::Contact(contact) = part(&job, "K3", "P1") else { panic!() };
    let Some(mover) = contact.coil else { panic!() };
    assert!(matches!(job.part(mover).kind, Kind::Coil(_)));
    assert_eq!(job.device(job.part(mover).device).name, "K3");
    let Kind::Resistor(resistor) = part(&job, "R1", "R") else { panic!() };
    assert_eq!(resistor.ohms, Some(Ohms(4700.0)));
    let Kind::Load(load) = part(&job, "Y1", "L") else { panic!() };
    assert!(load.polarised && load.inductive);
}

#[test]
fn what_is_said_of_devices_as_wholes_is_resolved() {
    let job = job("
job:
  title: t
  exclusive: [[K1.C, K2.C]]
  separated: [Hall/Mains]
  sheet: {size: A3}
  screens: both-ends
devices:
  K1: {type: relay, volts: 12, location: Hall/Mains}
  K2: {type: relay, volts: 12, location: ' Hall / Panel '}
  V1: {type: diode, across: [K1.A1, K1.A2]}
  U1: {type: varistor, across: [K2.A1, K2.A2]}
  B1: {type: reed-contact, rest: operated}
  S1: {type: push-button-nc, contacts: {S: {unlocks: Y1}}}
  Y1: {type: lock-magnet, volts: 12, on_loss: unlocked}
  X2: {type: terminal-strip, ways: 3, unused: [3]}
  M1:
    type: relay-module
    settings: {IN1: {contact: normally-closed, drives: OUT2}, OUT1: {pulse: 500 ms}, mode: [a, b], IN2: off}
links: [[X2.1, X2.2]]
cables:
  W1: {type: single-1, cores: {red: [K1.11, K2.11]}}
cause_and_effect:
  - {when: [K1 operated, B1 at rest], then: Y1 powered}
  - {first: S1 operated, when: [], then: [K1.P1 at rest]}
accepted:
  - {rule: volt-drop, at: K1, because: short}
  - {rule: volt-drop, at: K1.A1, because: short}
  - {rule: volt-drop, at: W1, because: short}
  - {rule: volt-drop, at: W1.red, because: short}
");
    assert_eq!(job.info.exclusive[0].parts.len(), 2);
    assert_eq!(job.info.separated, [["Hall", "Mains"]]);
    assert_eq!((job.info.sheet, job.info.screens), (SheetSize::A3, ScreenRule::BothEnds));
    assert_eq!(*job.devices[1].location, ["Hall", "Panel"]);
    let links: Vec<[String; 2]> = job.links.iter().map(|link| link.ends.map(|end| job.label(end))).collect();
    // The cathode goes to the first terminal named.
    assert_eq!(
        links,
        [["X2:1", "X2:2"], ["V1:K", "K1:A1"], ["V1:A", "K1:A2"], ["U1:1", "K2:A1"], ["U1:2", "K2:A2"]]
    );
    assert!(job.devices[4].rest_operated);
    let Kind::Contact(contact) = part(&job, "S1", "S") else { panic!() };
    let lock = contact.unlocks.expect("a lock");
    assert_eq!(job.device(job.part(lock).device).name, "Y1");
    assert_eq!(job.devices[7].form, Form::Strip);
    assert!(job.unused.keys().any(|id| job.terminal(*id).name == "3"));

    let settings = &job.devices[8].settings;
    assert_eq!(settings[0].meaning, Meaning::Contact(Contacting::NormallyClosed));
    let Meaning::Drives(Some(driven)) = settings[1].meaning else { panic!() };
    assert_eq!(job.part(driven).name, "OUT2");
    assert_eq!(settings[2].meaning, Meaning::Pulse(Seconds(0.5)));
    assert_eq!((settings[3].entry.as_deref(), settings[3].key.as_str()), (None, "mode"));
    assert_eq!((settings[3].value.as_str(), settings[3].meaning), ("a, b", Meaning::Free));
    assert_eq!((settings[4].entry.as_deref(), settings[4].key.as_str()), (Some("IN2"), ""));

    let line = &job.cause_and_effect[0];
    // A relay has nothing that the world moves: its coil is meant.
    assert_eq!(line.when[0].part.map(|id| job.part(id).name.as_str()), Some("C"));
    assert_eq!(line.when[1].part, None);
    assert_eq!(line.then[0].part.map(|id| job.part(id).name.as_str()), Some("L"));
    assert_eq!(job.cause_and_effect[1].first.len(), 1);
    let at: Vec<AcceptedAt> = job.accepted.iter().map(|accepted| accepted.at).collect();
    assert!(matches!(
        at[..],
        [AcceptedAt::Device(_), AcceptedAt::Terminal(_), AcceptedAt::Cable(_), AcceptedAt::Core(_)]
    ));
}

#[test]
fn a_place_says_file_path_line_and_column() {
    let text = "job: {title: t}\ndevices:\n  é: {type: splice}\n  K1: {type: fuse, unused: {9: taped}}\ncables:\n  W1:\n    cores:\n      red: [é, K1.7]\n";
    let reading = read_text("dir/job.yaml", text);
    let places: Vec<_> = reading.findings.iter().map(|f| reading.sources.locate(f.labels[0].place)).collect();
    let told = |at: usize| (places[at].path.as_str(), places[at].line, places[at].column);
    assert_eq!(places[0].file, "dir/job.yaml");
    assert_eq!(told(0), ("devices.K1.unused.9", 4, 29));
    assert_eq!(told(1), ("cables.W1.cores.red[1]", 8, 16));
    let label = &reading.findings[1].labels[0];
    assert_eq!(reading.sources.text(label.place), "K1.7");
}

#[test]
fn files_under_use_are_looked_up_after_the_job_and_before_the_program() {
    let job = "
job: {title: t}
use: [parts/ours.yaml, more.yaml]
devices: {A1: {type: board}, A2: {type: fan}, F1: {type: fuse}}
cables: {W1: {type: flex-1.5, cores: {pink: [A1.2, A2.9]}}}
data_sheets: {board: {terminals: [1, 2]}}
";
    let ours = "
data_sheets:
  board: {terminals: [8]}
  fan: {terminals: [8, 9], loads: {L: {between: [8, 9]}}}
  fuse: {terminals: [a, b]}
cable_data: {flex-S: {cores: [pink]}}
";
    let mut asked = Vec::new();
    let reading = read("job.yaml", job.into(), &mut |path: &str| {
        asked.push(path.to_owned());
        if path == "more.yaml" {
            Ok(b"data_sheets: {fan: {terminals: [1]}}".to_vec())
        } else {
            Ok(ours.into())
        }
    });
    assert_eq!(asked, ["parts/ours.yaml", "more.yaml"]);
    let told = told(&reading);
    let job = reading.job.unwrap_or_else(|| panic!("{told:#?}"));
    let names: Vec<&str> = job.terminals.iter().map(|t| t.name.as_str()).collect();
    assert_eq!(names, ["1", "2", "8", "9", "a", "b"]);
    assert_eq!(job.cables[0].size_text.as_deref(), Some("1.5 mm²"));
    assert!(reading.findings.iter().all(|f| f.rule == "hides-type" && f.severity == Severity::Note));
    assert_eq!(told.len(), 3, "{told:#?}");
    let place = reading.sources.locate(job.parts[0].place);
    assert_eq!((place.file.as_str(), place.line), ("parts/ours.yaml", 4));
}

#[test]
fn bytes_that_are_no_utf_8_text() {
    let mut no_files = |_: &str| Err(String::new());
    let mut told_of = |bytes: &[u8]| told(&read("job.yaml", bytes.into(), &mut no_files));
    let save = "save the file as UTF-8 (in the editor: Save as, encoding UTF-8)";
    assert_eq!(
        told_of(b"job:\n  title: caf\xE9\n"),
        [format!("2:13 error the file is not in UTF-8: here stands the byte 0xE9 | {save}")]
    );
    let wide: Vec<u8> = "job: {title: t}".encode_utf16().flat_map(u16::to_le_bytes).collect();
    let marked = [&[0xFF, 0xFE], wide.as_slice()].concat();
    for bytes in [wide, marked] {
        assert_eq!(told_of(&bytes), [format!("1:1 error the file is in UTF-16 | {save}")]);
    }
    // A byte-order mark, Windows and old Macintosh line ends are no faults.
    for text in [
        "\u{FEFF}job:\n  title: t\n",
        "job:\r\n  title: t\r\n",
        "job:\r  title: t\r",
        "\u{FEFF}---\njob: {title: t}\n...\n",
    ] {
        assert_eq!(told_of(text.as_bytes()), Vec::<String>::new(), "{text:?}");
    }
}

/// Bounds are generous: they are there to catch what grows with the square or worse.
#[test]
fn files_too_large_or_too_deep_are_refused_at_once() {
    let begin = std::time::Instant::now();
    let refused = |text: &str, message: &str| {
        let told = told(&read_text("job.yaml", text));
        assert!(told.len() == 1 && told[0].contains(message), "{told:?}");
    };
    refused(&"a".repeat(50 << 20), "the file has 50 MB; a job file has at most 16 MB");
    let items = vec!["x"; 10_000].join(",");
    let uses = vec!["*a"; 10_000].join(",");
    refused(&format!("job: {{title: t}}\ndevices:\n  A: &a [{items}]\n  B: [{uses}]\n"), "YAML anchor");
    let mut nested = "a0: &a0 [x, x]\n".to_owned();
    for level in 1..12 {
        nested.push_str(&format!("a{level}: &a{level} [*a{0}, *a{0}, *a{0}]\n", level - 1));
    }
    refused(&nested, "YAML anchor");
    refused(&"[".repeat(100_000), "deep");
    refused(&"{a: ".repeat(100), "deep");
    refused(&(0..100).map(|n| format!("{}a:\n", " ".repeat(n))).collect::<String>(), "deep");
    refused(&"- ".repeat(100_000), "deep");
    assert!(begin.elapsed().as_secs() < 20, "{:?}", begin.elapsed());
}

#[test]
fn a_file_with_a_thousand_faults_tells_a_thousand() {
    let mut text = "job: {title: t}\ndevices:\n".to_owned();
    for n in 0..3000 {
        text.push_str(&format!("  F{n}: {{type: fuze}}\n"));
    }
    let told = told(&read_text("job.yaml", &text));
    assert_eq!(told.len(), 1000);
    assert!(told[999].ends_with("did you mean `fuse`?"), "{}", told[999]);
    assert!(told[999].contains("2000 more faults"), "{}", told[999]);
}

#[test]
fn names_and_sentences_stay_short_enough_to_read() {
    let key = "k".repeat(1 << 20);
    let long = told(&read_text(
        "job.yaml",
        &format!("job: {{title: t}}\ndevices:\n  ? {key}\n  : {{type: lamp}}\n"),
    ));
    assert_eq!(long.len(), 1, "{}", long.len());
    assert!(long[0].starts_with("3:5 error this key has 1048576 characters"), "{}", long[0]);
    let long =
        told(&read_text("job.yaml", &format!("job: {{title: t}}\ndevices: {{H1: {{type: {key}}}}}\n")));
    assert!(long.len() == 1 && long[0].len() < 3000, "{}", long[0].len());
}

#[test]
fn files_under_use_are_named_once_and_are_not_too_many() {
    let read_with = |uses: &[String]| {
        let text = format!("job: {{title: t}}\nuse: [{}]\n", uses.join(", "));
        told(&read("job.yaml", text.into(), &mut |_| Ok(b"data_sheets: {}\n".to_vec())))
    };
    let twice = read_with(&["a.yaml".to_owned(), "a.yaml".to_owned()]);
    assert!(twice.len() == 1 && twice[0].contains("`a.yaml` is named twice under `use:`"), "{twice:?}");
    let many: Vec<String> = (0..101).map(|n| format!("f{n}.yaml")).collect();
    assert_eq!(read_with(&many[..100]), Vec::<String>::new());
    let told = read_with(&many);
    assert!(told.len() == 1 && told[0].contains("more than 100 files"), "{told:?}");
}

#[test]
fn spacing_and_comments_change_nothing() {
    let plain = places_left_out(&job(ROOF_VENT));
    let spaced = ROOF_VENT
        .replace(": ", ":   ")
        .replace('[', "[ ")
        .replace('\n', "  # said\n")
        .replace("\ncables:", "\n\n\ncables:");
    let other = places_left_out(&job(&spaced));
    for (a, b) in plain.iter().zip(&other) {
        assert_eq!(a, b);
    }
    assert_eq!(plain.len(), other.len());
}

/// The job as text without its places.
fn places_left_out(job: &Job) -> Vec<String> {
    let text = format!("{job:#?}");
    let mut depth = None;
    let mut kept = Vec::new();
    for line in text.lines() {
        let indent = line.len() - line.trim_start().len();
        if depth.is_none() && line.trim_start().starts_with("place: Place {") {
            depth = Some(indent);
        } else if depth == Some(indent) {
            depth = None;
        } else if depth.is_none() {
            kept.push(line.to_owned());
        }
    }
    kept
}

fn places_are_in_the_text(reading: &Reading) -> Result<(), TestCaseError> {
    for label in reading.findings.iter().flat_map(|finding| &finding.labels) {
        let place = reading.sources.locate(label.place);
        prop_assert!(place.line >= 1 && place.column >= 1);
        prop_assert!(label.place.start <= label.place.end);
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_bytes_stop_the_reader(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        let reading = read("job.yaml", bytes, &mut |_| Err(String::new()));
        prop_assert!(reading.job.is_some() || !reading.findings.is_empty(), "it is told why there is no job");
        places_are_in_the_text(&reading)?;
    }

    #[test]
    fn no_text_stops_the_reader(text in "(job|devices|cables|title|:|,|\\[|\\]|\\{|\\}|-|#|\"|'|\\||&a|\\*a|!|\n|  |\t|x|é|~|\\?|%|\u{85}| ){0,60}") {
        let reading = read_text("job.yaml", &text);
        places_are_in_the_text(&reading)?;
        prop_assert_eq!(reading.job.is_none(), reading.findings.iter().any(|f| f.rule == "unreadable"));
    }

    /// A valid job with pieces of it cut out, doubled or put elsewhere.
    #[test]
    fn no_change_to_a_job_stops_the_reader(
        which in 0_usize..2,
        edits in proptest::collection::vec((any::<prop::sample::Index>(), 0_usize..12, any::<prop::sample::Index>(), 0..3), 1..6),
    ) {
        let whole = [ROOF_VENT, MANY_SECTIONS][which];
        let mut text: Vec<char> = whole.chars().collect();
        for (from, length, to, what) in edits {
            let from = from.index(text.len());
            let end = (from + length).min(text.len());
            let piece: Vec<char> = text[from..end].to_vec();
            let to = to.index(text.len());
            match what {
                0 => drop(text.drain(from..end)),
                1 => drop(text.splice(to..to, piece)),
                _ => drop(text.splice(to..(to + length).min(text.len()), piece)),
            }
            if text.is_empty() {
                text.push('a');
            }
        }
        let text: String = text.into_iter().collect();
        let reading = read_text("job.yaml", &text);
        for finding in &reading.findings {
            prop_assert!(!finding.labels.is_empty());
            for label in &finding.labels {
                prop_assert!(reading.sources.file(label.place.file()).text.get(label.place.bytes()).is_some());
            }
        }
    }
}

/// The pieces of `docs/format.md` that can be read by themselves are in order.
#[test]
fn the_format_page_holds_what_is_read() {
    let page = include_str!("../docs/format.md");
    let mut read = 0;
    for block in page.split("```yaml\n").skip(1) {
        let (text, _) = block.split_once("```").expect("an end");
        let whole = match text.split(':').next() {
            Some("job") => text.to_owned(),
            Some("data_sheets" | "cable_data") => format!("job: {{title: t}}\n{text}"),
            _ => continue,
        };
        assert_eq!(told(&read_text("format.md", &whole)), Vec::<String>::new(), "{text}");
        read += 1;
    }
    assert_eq!(read, 3);
}
