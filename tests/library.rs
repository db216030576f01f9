//! The device and cable types that the program ships, and `bellwire library`.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may panic")]

use assert_cmd::Command;
use bellwire::figure::graphic::graphic;
use bellwire::library;
use bellwire::netlist::{Job, Kind, read_text};

/// A job of one device.
fn job_of(kind: &str) -> Job {
    let more = if kind == "terminal-strip" { ", ways: 4" } else { "" };
    let reading =
        read_text("t.yaml", &format!("job: {{title: t}}\ndevices: {{D1: {{type: {kind}{more}}}}}\n"));
    assert!(reading.findings.is_empty(), "{kind}: {:?}", reading.findings);
    reading.job.unwrap()
}

/// The types that the program promises, each with its terminals in printed order.
const PROMISED: &[(&str, &str)] = &[
    ("dc-supply", "V+ V-"),
    ("ac-supply", "A B"),
    ("battery", "V+ V-"),
    ("charger", "V+ V-"),
    ("fuse", "1 2"),
    ("diode", "A K"),
    ("varistor", "1 2"),
    ("resistor", "1 2"),
    ("relay-module", "+V 0V IN1 IN2 COM1 NO1 COM2 NO2 ANT"),
    ("relay", "A1 A2 11 12 14"),
    ("limit-switch", "COM NO NC"),
    ("push-button-no", "13 14"),
    ("push-button-nc", "11 12"),
    ("key-switch", "13 14"),
    ("float-switch", "1 2"),
    ("reed-contact", "1 2"),
    ("motion-detector", "V+ V- ALM1 ALM2 TMP1 TMP2"),
    ("sensor-npn", "BN BK BU"),
    ("sensor-pnp", "BN BK BU"),
    ("siren", "V+ V-"),
    ("strobe", "V+ V-"),
    ("lamp", "1 2"),
    ("strike", "1 2"),
    ("lock-magnet", "V+ V-"),
    ("motor", "1 2"),
    ("earth-bar", "PE"),
];

#[test]
fn promised_types_have_their_terminals() {
    for (kind, terminals) in PROMISED {
        let job = job_of(kind);
        let names: Vec<&str> = job.terminals.iter().map(|t| t.name.as_str()).collect();
        assert_eq!(names.join(" "), *terminals, "{kind}");
        assert!(
            job.terminals.iter().all(|t| t.label.is_some()),
            "{kind} has a terminal without its function"
        );
    }
    let job = job_of("relay-module");
    assert!(job.terminals.iter().all(|t| t.lead.is_some()), "the module has flying leads");
    assert_eq!(job_of("terminal-strip").terminals.len(), 4);
    assert_eq!(job_of("splice").terminals.len(), 1);
}

/// EN 50005: a contact's two digits end in 1 and 2 on a break contact, in 3 and 4 on a make contact, in 1, 2 and 4 on
/// a changeover (common, break, make); 5 to 8 stand for the same with a delay. The tens digit is the contact's own.
#[test]
fn contact_numbers_follow_en_50005() {
    let mut seen = 0;
    for kind in library::device_types() {
        let job = job_of(kind);
        for part in &job.parts {
            let Kind::Contact(c) = &part.kind else { continue };
            let name = |t| job.terminal(t).name.as_str();
            let names: Vec<&str> = [Some(c.common), c.nc, c.no].into_iter().flatten().map(name).collect();
            if !names.iter().all(|n| n.len() == 2 && n.bytes().all(|b| b.is_ascii_digit())) {
                continue;
            }
            seen += 1;
            assert!(
                names.iter().all(|n| n[..1] == names[0][..1]),
                "{kind}: {names:?} share their tens digit"
            );
            let units: Vec<&str> = names.iter().map(|n| &n[1..]).collect();
            let expected: &[&[&str]] = match (c.nc, c.no) {
                (Some(_), Some(_)) => &[&["1", "2", "4"], &["5", "6", "8"]],
                (Some(_), None) => &[&["1", "2"], &["5", "6"]],
                _ => &[&["3", "4"], &["7", "8"]],
            };
            assert!(expected.contains(&units.as_slice()), "{kind}: {names:?}");
        }
    }
    assert!(seen >= 8, "only {seen} contacts bear numbers");
}

/// What a data sheet asks for by `symbol:` exists.
#[test]
fn symbols_that_types_ask_for_exist() {
    for kind in library::device_types() {
        let job = job_of(kind);
        if let Some(symbol) = &job.devices[0].symbol {
            assert!(graphic(symbol).is_some(), "{kind}: {symbol}");
        }
    }
}

/// The cable types that the program promises, each with its cores in order. In a pattern the size is the S.
#[test]
fn promised_cables_have_their_cores() {
    let promised = [
        ("single-0.75", "brown", 0.75),
        ("twin-0.5", "red black", 0.5),
        ("figure8-1.5", "red black", 1.5),
        ("alarm-4x0.22", "red black blue white", 0.22),
        ("alarm-6x0.22", "red black blue white green yellow", 0.22),
        ("alarm-8x0.22", "red black blue white green yellow orange brown", 0.22),
        ("screened-2x0.22", "red black drain", 0.22),
        ("screened-4x0.22", "red black blue white drain", 0.22),
    ];
    for (kind, cores, area) in promised {
        let listed = if kind.starts_with("single") { ", cores: {brown: taped}" } else { "" };
        let text = format!("job: {{title: t}}\ncables: {{W1: {{type: {kind}{listed}}}}}\n");
        let job = read_text("t.yaml", &text).job.unwrap();
        let names: Vec<&str> = job.cores.iter().map(|c| c.name.as_str()).collect();
        assert_eq!(names.join(" "), cores, "{kind}");
        assert_eq!(job.cables[0].area.map(|a| a.0), Some(area), "{kind}");
    }
    // The pairs of ANSI/TIA-568: 1 blue, 2 orange, 3 green, 4 brown, each with its white partner.
    let text = "job: {title: t}\ncables: {W1: {type: utp-4pair}}\n";
    let job = read_text("t.yaml", text).job.unwrap();
    let codes: Vec<String> =
        job.cores.iter().map(|c| c.colours.iter().map(|c| c.code()).collect::<String>()).collect();
    assert_eq!(codes.join(" "), "WHBU BU WHOG OG WHGN GN WHBN BN");
}

fn bellwire(args: &[&str]) -> std::process::Output {
    Command::cargo_bin("bellwire").unwrap().args(args).output().unwrap()
}

#[test]
fn the_library_is_listed_and_shown() {
    let list = String::from_utf8(bellwire(&["library"]).stdout).unwrap();
    for kind in library::device_types().chain(library::cable_types()) {
        assert!(list.contains(&format!("  {kind} ")), "{kind}");
        let shown = bellwire(&["library", kind]);
        assert!(shown.status.success(), "{kind}: {shown:?}");
        let shown = String::from_utf8(shown.stdout).unwrap();
        assert!(shown.starts_with(&format!("{kind}: ")), "{shown}");
    }
    let unknown = bellwire(&["library", "relya"]);
    assert_eq!(unknown.status.code(), Some(2));
    assert!(String::from_utf8(unknown.stderr).unwrap().contains("did you mean `relay`?"));
}

/// What is shown of a type can stand in a job file as it is.
#[test]
fn a_shown_data_sheet_can_be_copied() {
    for kind in library::device_types() {
        let shown = String::from_utf8(bellwire(&["library", kind]).stdout).unwrap();
        let sheet: Vec<&str> = shown
            .lines()
            .skip_while(|line| !line.starts_with("  data_sheets:"))
            .take_while(|line| !line.is_empty())
            .map(|line| &line[2..])
            .collect();
        let text = format!("job: {{title: t}}\n{}\n", sheet.join("\n"));
        let reading = read_text("t.yaml", &text);
        assert!(reading.job.is_some(), "{kind}: {:?}", reading.findings);
    }
}

#[test]
fn a_device_is_drawn_as_svg_and_png() {
    let svg = bellwire(&["library", "relay-module", "-o", "-"]);
    assert!(svg.status.success());
    let svg = String::from_utf8(svg.stdout).unwrap();
    assert!(svg.contains("COM1") && svg.contains("aerial: leave whole"), "{svg}");
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("relay.png");
    assert!(bellwire(&["library", "relay", "-o", file.to_str().unwrap()]).status.success());
    assert!(std::fs::read(&file).unwrap().starts_with(b"\x89PNG"));
    assert_eq!(bellwire(&["library", "relay", "-o", "relay.bmp"]).status.code(), Some(2));
    let twin = bellwire(&["library", "twin-S", "-o", "-"]);
    let twin = String::from_utf8(twin.stdout).unwrap();
    assert!(twin.contains("RD red") && twin.contains("BK black"), "{twin}");
    // All together are more than one sheet.
    assert_eq!(bellwire(&["library", "-o", "-"]).status.code(), Some(2));
}

/// `docs/plates` shows everything that the program ships. `BLESS=1 cargo test --test library` draws it anew.
#[test]
fn the_plates_are_up_to_date() {
    let kept = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/plates");
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("library.svg");
    assert!(bellwire(&["library", "-o", file.to_str().unwrap()]).status.success());
    let sheets = |folder: &std::path::Path| {
        let mut files: Vec<(String, String)> = std::fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .filter(|path| path.extension().is_some_and(|ending| ending == "svg"))
            .map(|path| {
                let name = path.file_name().unwrap().to_string_lossy().into_owned();
                (name, std::fs::read_to_string(path).unwrap())
            })
            .collect();
        files.sort();
        files
    };
    let drawn = sheets(folder.path());
    let all: String = drawn.iter().map(|(_, text)| text.as_str()).collect();
    for kind in library::device_types().chain(library::cable_types()) {
        assert!(all.contains(&format!(">{kind}</text>")), "{kind}");
    }
    if std::env::var_os("BLESS").is_some() {
        sheets(&kept).iter().for_each(|(name, _)| std::fs::remove_file(kept.join(name)).unwrap());
        drawn.iter().for_each(|(name, text)| std::fs::write(kept.join(name), text).unwrap());
    }
    assert!(sheets(&kept) == drawn, "docs/plates is stale: run `BLESS=1 cargo test --test library`");
}
