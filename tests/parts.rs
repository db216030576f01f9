//! A job that no sheet holds: diagrams on several, and references between them.

#![allow(clippy::unwrap_used)]

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use assert_cmd::Command;
use bellwire::circuit::Circuit;
use bellwire::netlist::{Job, read_text};
use bellwire::{checks, drawing, output};
use serde_json::Value;

fn job(text: &str) -> Job {
    let reading = read_text("job.yaml", text);
    reading.job.unwrap_or_else(|| panic!("{:?}", reading.findings))
}

/// The sheets as SVG, and the geometry.
fn drawn(job: &Job) -> (Vec<String>, Value) {
    let circuit = Circuit::of(job);
    let findings = checks::run(job, &circuit);
    let drawing = drawing::draw(job, &circuit, &findings, None);
    let proven = output::Proven::new(&drawing, job).unwrap_or_else(|fault| panic!("{fault}"));
    (proven.svg().to_vec(), serde_json::from_str(&proven.geometry()).unwrap())
}

/// Controllers on a supply rail, each with two sensors and two lamps: nearly a tree.
fn controllers(count: usize) -> String {
    let mut text = String::from("job: {title: Rows of vents}\ndevices:\n");
    let _ = writeln!(text, "  G1: {{type: dc-supply, volts: 24 V, amps: 20 A}}");
    let _ = writeln!(text, "  XP: {{type: terminal-strip, name: plus rail, ways: {count}}}");
    let _ = writeln!(text, "  XN: {{type: terminal-strip, name: 0 V rail, ways: {count}}}");
    let mut cables =
        String::from("cables:\n  W0: {type: twin-1.5, cores: {red: [G1.V+, XP.1], black: [G1.V-, XN.1]}}\n");
    for n in 1..=count {
        let _ = writeln!(text, "  K{n}: {{name: vent board, terminals: [V+, V-, I1, I2, O1, O2]}}");
        let _ = writeln!(
            cables,
            "  W{n}0: {{type: twin-0.75, cores: {{red: [XP.{n}, K{n}.V+], black: [XN.{n}, K{n}.V-]}}}}"
        );
        for part in 1..=2 {
            let _ = writeln!(text, "  B{n}{part}: {{type: float-switch}}\n  H{n}{part}: {{type: lamp}}");
            let _ = writeln!(
                cables,
                "  W{n}{part}: {{type: twin-0.5, cores: {{red: [B{n}{part}.1, K{n}.V+], black: [B{n}{part}.2, K{n}.I{part}]}}}}"
            );
            let _ = writeln!(
                cables,
                "  V{n}{part}: {{type: twin-0.5, cores: {{red: [K{n}.O{part}, H{n}{part}.1], black: [H{n}{part}.2, K{n}.V-]}}}}"
            );
        }
    }
    let jumpers: Vec<String> =
        (1..count).flat_map(|n| ["XP", "XN"].map(|x| format!("  - [{x}.{n}, {x}.{}]", n + 1))).collect();
    format!("{text}{cables}links:\n{}\n", jumpers.join("\n"))
}

/// Each core end of the geometry that is on no terminal: sheet, core, what it says, and where it is.
fn flags(geometry: &Value) -> Vec<(usize, String, String, (f64, f64))> {
    let mut flags = Vec::new();
    for (number, sheet) in (1..).zip(geometry["sheets"].as_array().unwrap()) {
        for core in sheet["cores"].as_array().unwrap() {
            let points = core["points"].as_array().unwrap();
            for (end, at) in [("from", points.first()), ("to", points.last())] {
                let says = core[end][1].as_str().unwrap();
                if core[end][0].is_null() && says.contains('/') {
                    let name =
                        format!("{}.{}", core["cable"].as_str().unwrap(), core["core"].as_str().unwrap());
                    let at = at.unwrap();
                    flags.push((
                        number,
                        name,
                        says.to_owned(),
                        (at[0].as_f64().unwrap(), at[1].as_f64().unwrap()),
                    ));
                }
            }
        }
    }
    flags
}

#[test]
fn every_sheet_is_a3_and_every_cut_core_has_two_flags_that_lead_to_each_other() {
    let job = job(&controllers(16));
    let (sheets, geometry) = drawn(&job);
    assert!(sheets.len() > 6);
    for sheet in &sheets {
        assert!(sheet.contains(r#"width="420mm""#) && sheet.contains(r#"height="297mm""#));
    }
    let mut of: BTreeMap<String, Vec<_>> = BTreeMap::new();
    for (sheet, core, says, at) in flags(&geometry) {
        of.entry(core).or_default().push((sheet, says, at));
    }
    assert!(!of.is_empty());
    for (core, flags) in of {
        let [(first, to_second, _), (second, to_first, _)] = &flags[..] else { panic!("{core}: {flags:?}") };
        assert_eq!(to_second.split('/').next().unwrap(), second.to_string(), "{core}");
        assert_eq!(to_first.split('/').next().unwrap(), first.to_string(), "{core}");
        // The zone is at most the length of a flag away from the end of the core.
        for ((_, says, _), (_, _, at)) in [(&flags[0], &flags[1]), (&flags[1], &flags[0])] {
            let zone = says.split('/').nth(1).unwrap();
            let near: Vec<String> = [-12.5, 0.0, 12.5]
                .map(|dx| {
                    let paper = drawing::Paper::standard().nth(1).unwrap();
                    paper.zone(bellwire::scene::Point { x: at.0 + dx, y: at.1 })
                })
                .into();
            assert!(near.iter().any(|z| z == zone), "{core}: {zone} {near:?}");
        }
    }
}

/// Of the trunk to the marshalling box 10 cores land, and 2 are made safe at both ends.
#[test]
fn a_cut_cable_has_all_its_cores_on_each_sheet_and_each_spare_is_made_safe_where_it_ends() {
    let (_, geometry) = drawn(&job(include_str!("../examples/marshalling-box.yaml")));
    let mut shown = 0;
    for sheet in geometry["sheets"].as_array().unwrap() {
        let cores: Vec<&Value> =
            sheet["cores"].as_array().unwrap().iter().filter(|core| core["cable"] == "W20").collect();
        if cores.is_empty() {
            continue;
        }
        shown += 1;
        assert_eq!(cores.len(), 12);
        let ends = cores.iter().flat_map(|core| ["from", "to"].map(|end| &core[end]));
        assert_eq!(ends.filter(|end| end[0].is_null() && end[1] == "parked").count(), 2);
    }
    assert_eq!(shown, 2);
}

/// All flags of one cable to one sheet point the same way.
#[test]
fn the_flags_of_a_cable_point_one_way() {
    let (_, geometry) = drawn(&job(include_str!("../examples/marshalling-box.yaml")));
    let mut ways: BTreeMap<(usize, String, String), BTreeSet<bool>> = BTreeMap::new();
    let mut several = 0;
    for (number, sheet) in geometry["sheets"].as_array().unwrap().iter().enumerate() {
        for core in sheet["cores"].as_array().unwrap() {
            let points = core["points"].as_array().unwrap();
            let tips = [(points.first(), points.get(1)), (points.last(), points.iter().rev().nth(1))];
            for (end, (tip, before)) in ["from", "to"].into_iter().zip(tips) {
                let says = core[end][1].as_str().unwrap();
                let Some((far, _)) = says.split_once('/').filter(|_| core[end][0].is_null()) else {
                    continue;
                };
                let x = |point: Option<&Value>| point.unwrap()[0].as_f64().unwrap();
                let key = (number, core["cable"].as_str().unwrap().to_owned(), far.to_owned());
                let known = ways.entry(key).or_default();
                several += usize::from(!known.is_empty());
                known.insert(x(tip) > x(before));
            }
        }
    }
    assert!(several > 20, "{several}");
    for (cable, ways) in ways.iter().filter(|((_, cable, _), _)| !cable.is_empty()) {
        assert_eq!(ways.len(), 1, "{cable:?}");
    }
}

/// Of a job that is nearly a tree at most a twentieth of the cores is cut, and only the last sheet may be half empty.
#[test]
fn few_cores_are_cut_and_every_sheet_is_used_well() {
    let job = job(&controllers(16));
    let (_, geometry) = drawn(&job);
    let cut = flags(&geometry).into_iter().filter(|(_, core, ..)| !core.starts_with('.')).count() / 2;
    assert!(cut * 20 <= job.cores.len(), "{cut} of {} cores are cut", job.cores.len());
    let mut fills: Vec<f64> = Vec::new();
    for sheet in geometry["sheets"].as_array().unwrap() {
        let mut xs: Vec<f64> = Vec::new();
        let mut ys: Vec<f64> = Vec::new();
        for device in sheet["devices"].as_array().unwrap() {
            let of = |key: &str| device[key].as_f64().unwrap();
            xs.extend([of("x"), of("x") + of("w")]);
            ys.extend([of("y"), of("y") + of("h")]);
        }
        let points =
            sheet["cores"].as_array().unwrap().iter().flat_map(|core| core["points"].as_array().unwrap());
        for point in points {
            xs.push(point[0].as_f64().unwrap());
            ys.push(point[1].as_f64().unwrap());
        }
        let span =
            |v: &[f64]| v.iter().copied().fold(0.0, f64::max) - v.iter().copied().fold(f64::MAX, f64::min);
        if !xs.is_empty() {
            // The room between frame and foot of an A3 sheet, in millimetres.
            fills.push(span(&xs) * span(&ys) / (382.0 * 232.0));
        }
    }
    let last = fills.len() - 1;
    assert!(fills[..last].iter().all(|fill| *fill > 0.5), "{fills:?}");
}

/// Few notes get no sheet of their own: they stand under the index, with the schedule beside them. Notes that fill sheets
/// do not.
#[test]
fn few_notes_and_the_schedule_stand_with_the_index() {
    let kinds = |job: &Job| {
        let (sheets, _) = drawn(job);
        let kind = |svg: &String| {
            svg.split_once("<title>")?.1.split_once("</title>")?.0.split_once(": ").map(|t| t.1.to_owned())
        };
        sheets.iter().filter_map(kind).collect::<Vec<_>>()
    };
    let mut job = job(include_str!("../examples/marshalling-box.yaml"));
    let few = kinds(&job);
    assert_eq!(few.first().map(String::as_str), Some("Index, notes and schedule"));
    assert!(!few.iter().any(|kind| kind.starts_with("Notes")), "{few:?}");
    job.info.notes = vec!["Fit each vent so that it closes by its own weight.".into(); 300];
    let many = kinds(&job);
    assert_eq!(many.first().map(String::as_str), Some("Index of sheets"));
    assert!(many.iter().any(|kind| kind.starts_with("Notes")), "{many:?}");
}

/// A diagram that is a little too high for A2 is pressed together, so that at most the schedule follows.
#[test]
fn a_small_job_comes_whole_on_one_sheet() {
    let jobs = [(include_str!("jobs/hall-lamps.yaml"), 1), (include_str!("jobs/eight-zone-panel.yaml"), 2)];
    for (text, expected) in jobs {
        let (_, geometry) = drawn(&job(text));
        let sheets = geometry["sheets"].as_array().unwrap();
        let filled = sheets.iter().filter(|sheet| !sheet["devices"].as_array().unwrap().is_empty());
        assert_eq!((sheets.len(), filled.count()), (expected, 1));
    }
}

#[test]
fn a_terminal_stands_on_one_sheet_and_a_strip_may_stand_on_several() {
    let job = job(&controllers(16));
    let (_, geometry) = drawn(&job);
    let mut seen: BTreeMap<(String, String), BTreeSet<usize>> = BTreeMap::new();
    let mut devices: BTreeSet<String> = BTreeSet::new();
    for (number, sheet) in geometry["sheets"].as_array().unwrap().iter().enumerate() {
        for device in sheet["devices"].as_array().unwrap() {
            let name = device["id"].as_str().unwrap().to_owned();
            devices.insert(name.clone());
            for terminal in device["terminals"].as_array().unwrap() {
                let terminal = terminal["id"].as_str().unwrap().to_owned();
                seen.entry((name.clone(), terminal)).or_default().insert(number);
            }
        }
    }
    assert_eq!(devices.len(), job.devices.len());
    assert!(seen.values().all(|sheets| sheets.len() == 1));
    assert_eq!(seen.len(), job.terminals.len());
}

/// What somebody may spoil in the files, and what must be said about it.
#[test]
fn a_flag_that_leads_astray_is_told() {
    let job = job(&controllers(13));
    let (sheets, geometry) = drawn(&job);
    assert_eq!(drawing::read_back(&sheets, &job), Ok(Vec::new()));
    let (number, _, says, _) = flags(&geometry).swap_remove(0);
    let spoilt = |right: &str, wrong: &str| {
        let mut all = sheets.clone();
        let at = number - 1;
        assert!(all[at].contains(right));
        all[at] = all[at].replacen(right, wrong, 1);
        drawing::read_back(&all, &job).unwrap()
    };
    let told = spoilt(&format!(">{says}<"), ">99/A1<");
    assert!(told.iter().any(|d| d.contains("leads to 99/A1, but it goes on at")), "{told:?}");
    let told = spoilt(r#"class="reference""#, r#"class="somewhat""#);
    assert!(told.iter().any(|d| d.contains("is drawn in 2 pieces with 1 flags")), "{told:?}");
    let mut exchanged = sheets.clone();
    exchanged.swap(1, 2);
    let told = drawing::read_back(&exchanged, &job).unwrap();
    assert!(told.iter().any(|d| d.contains("leads to")), "{told:?}");
    let told = drawing::read_back(&sheets[..2], &job).unwrap();
    assert!(told.iter().any(|d| d.contains("is not on the drawing")), "{told:?}");
}

#[test]
fn the_order_of_the_file_means_nothing() {
    let text = controllers(13);
    let (head, cables) = text.split_once("cables:\n").unwrap();
    let mut lines: Vec<&str> = cables.lines().collect();
    let end = lines.iter().position(|line| !line.starts_with(' ')).unwrap();
    lines[..end].reverse();
    let reversed = format!("{head}cables:\n{}\n", lines.join("\n"));
    assert_ne!(reversed, text);
    // Numbers of findings follow the file; where things stand does not.
    let stands = |text: &str| {
        let (_, geometry) = drawn(&job(text));
        let sheets = geometry["sheets"].as_array().unwrap().iter();
        sheets.map(|sheet| (sheet["devices"].clone(), sheet["cores"].clone())).collect::<Vec<_>>()
    };
    assert_eq!(stands(&text), stands(&reversed));
}

#[test]
fn the_program_writes_and_reads_all_sheets() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("job.yaml");
    std::fs::write(&file, controllers(13)).unwrap();
    let svg = folder.path().join("job.svg");
    let bellwire = || Command::new(assert_cmd::cargo::cargo_bin!("bellwire"));
    bellwire().arg("draw").arg(&file).arg("-o").arg(&svg).assert().success();
    assert!(folder.path().join("job-2.svg").exists());
    bellwire().arg("draw").arg(&file).arg("--verify").arg(&svg).assert().success();
    let second = folder.path().join("job-3.svg");
    let text = std::fs::read_to_string(&second).unwrap();
    std::fs::write(&second, text.replacen(r#"class="core""#, r#"class="location""#, 1)).unwrap();
    bellwire().arg("draw").arg(&file).arg("--verify").arg(&svg).assert().code(1);
    let schedule = bellwire().arg("schedule").arg(&file).arg("terminals").assert().success();
    let table = String::from_utf8(schedule.get_output().stdout.clone()).unwrap();
    assert!(table.lines().filter(|line| line.contains("3")).count() > 10);
}

/// A cable from the first board to the last has its spare cores at one of them, wherever the cable appears first.
#[test]
fn a_spare_core_is_looked_up_where_it_is_drawn() {
    let spares = ["white", "green", "orange", "brown"];
    let left = spares.map(|core| format!("{core}: taped")).join(", ");
    let cable = format!(
        "  Z1: {{type: alarm-8x0.22, cores: {{red: [K1.V+, K16.V+], blue: [K16.V-, K1.V-], {left}}}}}\nlinks:"
    );
    let job = job(&controllers(16).replace("links:", &cable));
    let circuit = Circuit::of(&job);
    let drawing = drawing::draw(&job, &circuit, &[], None);
    let geometry = output::Proven::new(&drawing, &job).unwrap().geometry();
    let geometry: Value = serde_json::from_str(&geometry).unwrap();
    let rows = bellwire::schedules::terminals(&job, &circuit, &drawing.spots);
    for core in spares {
        let row = rows.iter().find(|row| row.at.is_none() && row.cable == "Z1" && row.core == core).unwrap();
        let on: Vec<u32> = (1..)
            .zip(geometry["sheets"].as_array().unwrap())
            .filter(|(_, sheet)| {
                let cores = sheet["cores"].as_array().unwrap();
                cores.iter().any(|drawn| drawn["cable"] == "Z1" && drawn["core"] == core)
            })
            .map(|(number, _)| number)
            .collect();
        assert_eq!(on, [row.spot.as_ref().unwrap().sheet], "{core}");
    }
}

/// Boxes one after the other, joined by eight-core cables, each with a strip of eight ways and three floats.
fn chain_of_boxes(count: usize) -> String {
    let mut text = String::from("job: {title: Run of boxes}\ndevices:\n");
    let mut cables = String::from("cables:\n");
    let colours = ["red", "black", "blue", "white", "green", "yellow", "orange", "brown"];
    for n in 1..=count {
        let _ = writeln!(text, "  X{n}: {{type: terminal-strip, ways: 8, location: Box {n}}}");
        if n < count {
            let cores = (1..).zip(colours).map(|(way, c)| format!("{c}: [X{n}.{way}, X{}.{way}]", n + 1));
            let cores: Vec<String> = cores.collect();
            let _ = writeln!(
                cables,
                "  W{n}: {{type: alarm-8x0.22, length: 20 m, cores: {{{}}}}}",
                cores.join(", ")
            );
        }
        for way in 2..=4 {
            let _ = writeln!(text, "  B{n}{way}: {{type: float-switch, location: House {n}}}");
            let _ = writeln!(
                cables,
                "  V{n}{way}: {{type: twin-0.5, length: 3 m, cores: {{red: [X{n}.1, B{n}{way}.1], black: [X{n}.{way}, B{n}{way}.2]}}}}"
            );
        }
    }
    text + &cables
}

/// A box is landed from one sheet: its strip and all cores of a cable that ends there stand together, and the sheet tells
/// what its flags mean.
#[test]
fn a_short_strip_and_the_cables_that_land_on_it_are_in_one_piece() {
    let (sheets, geometry) = drawn(&job(&chain_of_boxes(9)));
    let mut on: BTreeMap<String, usize> = BTreeMap::new();
    let mut cut: BTreeMap<String, BTreeMap<usize, usize>> = BTreeMap::new();
    let (mut drawings, mut flagged) = (0, 0);
    for (n, sheet) in geometry["sheets"].as_array().unwrap().iter().enumerate() {
        let devices = sheet["devices"].as_array().unwrap();
        drawings += usize::from(!devices.is_empty());
        for device in devices {
            *on.entry(device["id"].to_string()).or_default() += 1;
        }
        for core in sheet["cores"].as_array().unwrap() {
            *cut.entry(core["cable"].to_string()).or_default().entry(n).or_default() += 1;
        }
        if sheets[n].contains(r#"class="flag""#) {
            flagged += 1;
            assert!(sheets[n].contains("Found by the check"), "sheet {}", n + 1);
        }
    }
    assert!(drawings > 2 && flagged > 2 && on.len() == 36);
    assert!(on.values().all(|times| *times == 1), "{on:?}");
    // On every sheet where a cable is drawn it has all its cores.
    assert!(
        cut.values().all(|sheets| sheets.values().all(|cores| Some(cores) == sheets.values().next())),
        "{cut:?}"
    );
}

/// A controller that no A3 holds is drawn on larger paper, and what hangs on it beside it.
#[test]
fn what_hangs_on_a_device_that_is_too_large_for_a3_stands_with_it() {
    let terminals: Vec<String> = (1..=48).map(|n| format!("T{n}")).collect();
    let mut text = String::from(
        "job: {title: Alarm}\ndevices:\n  A1: {type: panel, location: Hall}\n  X1: {type: terminal-strip, ways: 12}\n",
    );
    let mut cables = String::from("cables:\n");
    for n in 1..=24 {
        let _ = writeln!(text, "  B{n}: {{type: float-switch}}");
        let (first, second) = (2 * n - 1, 2 * n);
        let _ = writeln!(
            cables,
            "  W{n}: {{type: twin-0.5, length: 9 m, cores: {{red: [A1.T{first}, B{n}.1], black: [A1.T{second}, B{n}.2]}}}}"
        );
    }
    let sheet = format!(
        "data_sheets:\n  panel:\n    terminals: [{}]\n    bridges: [[T1, T3, T5]]\n    contacts: {{Q: {{common: T2, no: T4}}}}\n",
        terminals.join(", ")
    );
    let (_, geometry) = drawn(&job(&(text + &cables + &sheet)));
    let panel = geometry["sheets"]
        .as_array()
        .unwrap()
        .iter()
        .find(|sheet| sheet["devices"].as_array().unwrap().iter().any(|device| device["id"] == "A1"));
    let panel = panel.unwrap();
    assert!(panel["size"][0].as_f64().unwrap() > 420.0, "{}", panel["size"]);
    let beside = panel["devices"].as_array().unwrap().len() - 1;
    assert!(beside >= 12, "{beside} devices beside the panel");
}
