//! Design against as-built: the changes, applied to the design, give the as-built, and nothing else is reported.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may stop at what it did not expect")]

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::sync::Arc;

use bellwire::checks;
use bellwire::circuit::Circuit;
use bellwire::documents::changes::{Change, Checked, Entry, compare, entries, wiring};
use bellwire::netlist::{self, DeviceId, End, Job, Kind, Link, Safe, TerminalId};
use bellwire::units::{Amps, Metres};

type Entries = BTreeMap<String, String>;

fn examples() -> Vec<(String, Job)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    let mut files: Vec<_> = fs::read_dir(folder).unwrap().map(|file| file.unwrap().path()).collect();
    files.sort();
    let read = |path: std::path::PathBuf| {
        let text = fs::read_to_string(&path).unwrap();
        (path.display().to_string(), netlist::read_text("job.yaml", &text).job.unwrap())
    };
    files.into_iter().map(read).collect()
}

fn read(text: &str) -> Job {
    netlist::read_text("job.yaml", text).job.unwrap()
}

/// The changes between two jobs, findings left out.
fn changes(design: &Job, built: &Job) -> Vec<Entry> {
    let circuits = [Circuit::of(design), Circuit::of(built)];
    let side = |job, circuit| Checked { job, circuit, findings: &[] };
    wiring(side(design, &circuits[0]), side(built, &circuits[1])).0
}

/// Applies changes to the entries of a design, by their words alone.
fn applied(mut all: Entries, changes: &[Entry]) -> Entries {
    for change in changes {
        let Entry { kind, before, after, .. } = change;
        let what = &ends_sorted(&change.what);
        all = all.into_iter().map(|(k, v)| (ends_sorted(&k), v)).collect();
        let whole = what == &format!("device {before}") || what == &format!("cable {before}");
        if *kind == Change::Renamed && whole {
            let thing = if what.starts_with("device ") { "device" } else { "cable" };
            all = all.into_iter().map(|(k, v)| renamed(thing, before, after, &k, &v)).collect();
        } else if *kind == Change::Recoloured {
            let cable = what.strip_prefix("cable ").unwrap().split(", ").next().unwrap();
            let [old, new] = [before, after].map(|core| format!("core {cable} {core}"));
            let (first, second) = (all.remove(&old), all.remove(&new));
            all.extend(first.map(|ends| (new, ends)));
            all.extend(second.map(|ends| (old, ends)));
        } else {
            assert_eq!(
                all.remove(what).map(|v| sorted(&v)).unwrap_or_default(),
                sorted(before),
                "{change:?}"
            );
            if !after.is_empty() {
                all.insert(what.clone(), after.clone());
            }
        }
    }
    all.into_iter().map(|(k, v)| (ends_sorted(&k), sorted(&v))).collect()
}

/// `link B – A` as `link A – B`.
fn ends_sorted(key: &str) -> String {
    key.strip_prefix("link ").map_or(key.to_owned(), |ends| format!("link {}", sorted(ends)))
}

fn sorted(pair: &str) -> String {
    let mut ends: Vec<&str> = pair.split(" – ").collect();
    ends.sort_unstable();
    ends.join(" – ")
}

fn renamed(thing: &str, old: &str, new: &str, key: &str, value: &str) -> (String, String) {
    let words = |text: &str, by: &str| {
        let one = |word: &str| match word.strip_prefix(old) {
            Some(rest) if rest.is_empty() || rest.starts_with('.') => format!("{new}{rest}"),
            _ => word.to_owned(),
        };
        text.split(by).map(one).collect::<Vec<_>>().join(by)
    };
    let kind = key.split(' ').next().unwrap();
    let own = |key: &str| {
        let rest = key.strip_prefix(&format!("{kind} {old}")).filter(|r| r.is_empty() || r.starts_with(' '));
        rest.map_or(key.to_owned(), |rest| format!("{kind} {new}{rest}"))
    };
    match (thing, kind) {
        ("device", "device") | ("cable", "cable" | "core") => (own(key), value.to_owned()),
        ("device", "core") => (key.to_owned(), words(value, " – ")),
        ("device", "link") => (format!("link {}", words(&key[5..], " – ")), value.to_owned()),
        ("device", "line") => (words(key, " "), value.to_owned()),
        _ => (key.to_owned(), value.to_owned()),
    }
}

/// Numbers that look random and are the same every time.
struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % sides.max(1)
    }
}

/// One edit that somebody on site might have made.
fn edit(job: &mut Job, dice: &mut Dice, step: usize) {
    let terminals = job.terminals.len();
    let terminal = |dice: &mut Dice| TerminalId(u32::try_from(dice.roll(terminals)).unwrap());
    let core = dice.roll(job.cores.len());
    match dice.roll(16) {
        0 => {
            let device = dice.roll(job.devices.len());
            job.devices[device].name = format!("Q{step}").into();
        }
        1 => {
            let cable = dice.roll(job.cables.len());
            job.cables[cable].name = format!("C{step}").into();
        }
        2 | 3 => job.cores[core].ends[dice.roll(2)].to = End::Terminal(terminal(dice)),
        4 => {
            let run = job.cables[job.cores[core].cable.index()].cores;
            let other = run.start as usize + dice.roll(run.len());
            let (a, b) = (job.cores[core].ends, job.cores[other].ends);
            job.cores[core].ends = b;
            job.cores[other].ends = a;
        }
        5 => {
            let cable = dice.roll(job.cables.len());
            #[expect(clippy::cast_precision_loss, reason = "a step is small")]
            let longer = 1.5 + step as f64;
            job.cables[cable].length = Some(Metres(job.cables[cable].length.map_or(1.0, |l| l.0) + longer));
        }
        6 => {
            let device = dice.roll(job.devices.len());
            job.devices[device].location = [format!("Room {step}")].into();
        }
        7 => job.cores[core].ends[dice.roll(2)].to = End::Safe(Safe::Sleeved),
        8 if job.cables.len() > 2 => {
            let gone = job.cables.pop().unwrap();
            job.cores.truncate(gone.cores.start as usize);
        }
        9 => {
            let place = job.info.place;
            job.links.push(Link { ends: [terminal(dice), terminal(dice)], across: None, place });
        }
        10 => {
            job.links.pop();
        }
        11 => {
            for part in &mut job.parts {
                if let Kind::Fuse(fuse) = &mut part.kind {
                    fuse.amps = Some(Amps(0.125 * f64::from(u8::try_from(step % 200).unwrap() + 3)));
                }
            }
        }
        12 => {
            let device = dice.roll(job.devices.len());
            Arc::make_mut(&mut job.devices[device].of).title = Some(format!("thing {step}").into());
        }
        13 => {
            let mut settings: Vec<_> = job.devices.iter_mut().flat_map(|d| &mut d.settings).collect();
            let one = dice.roll(settings.len());
            if let Some(setting) = settings.get_mut(one) {
                setting.value = format!("value {step}");
            }
        }
        14 => {
            job.cause_and_effect.pop();
        }
        15 => {
            let cable = &mut job.cables[job.cores[core].cable.index()];
            Arc::make_mut(&mut cable.of).type_name = Some(format!("cable-{step}").into());
        }
        _ => {}
    }
}

/// A job file with edits made in its text, as somebody on site would make them.
fn edited_text(text: &str, dice: &mut Dice, step: usize) -> String {
    let job = read(text);
    let (_, core) = job.core_ids().nth(dice.roll(job.cores.len())).unwrap();
    let end = core.ends[dice.roll(2)].place.bytes();
    let swap = |range: std::ops::Range<usize>, new: &str| {
        format!("{}{new}{}", &text[..range.start], &text[range.end..])
    };
    let one_word = text[end.clone()].contains('.') && core.mentioned;
    match dice.roll(4) {
        0 if one_word => swap(end, "taped"),
        1 if one_word => {
            let terminal = job.terminals[dice.roll(job.terminals.len())].clone();
            let device = &job.device(terminal.device).name;
            let plain = terminal.name.chars().all(char::is_alphanumeric) && !terminal.name.is_empty();
            if plain { swap(end, &format!("{device}.{}", terminal.name)) } else { text.to_owned() }
        }
        2 => {
            // A device gets another name wherever it is named, unless a terminal is called the same.
            let device = &job.devices[dice.roll(job.devices.len())].name;
            let clash = job.terminals.iter().any(|terminal| terminal.name == *device);
            let word = |c: char| c.is_alphanumeric() || c == '_' || c == '-';
            let mut out = String::new();
            let mut rest = text;
            while let Some(at) = rest.find(device.as_str()).filter(|_| !clash) {
                let before = rest[..at].chars().next_back().or(out.chars().next_back());
                let after = rest[at + device.len()..].chars().next();
                let whole = !before.is_some_and(|c| word(c) || c == '.') && !after.is_some_and(word);
                out.push_str(&rest[..at]);
                out.push_str(&if whole { format!("Q{step}") } else { device.to_string() });
                rest = &rest[at + device.len()..];
            }
            out + rest
        }
        _ => {
            let lengths: Vec<usize> = text.match_indices("length: ").map(|(at, _)| at + 8).collect();
            match lengths.get(dice.roll(lengths.len())) {
                Some(at) => swap(*at..*at, "3"),
                None => text.to_owned(),
            }
        }
    }
}

/// The whole line: two files, the program as it is called, its JSON applied to the design.
#[test]
fn what_the_program_tells_makes_the_as_built_of_the_design() {
    let folder = tempfile::tempdir().unwrap();
    let [before, after] = ["design.yaml", "built.yaml"].map(|name| folder.path().join(name));
    let mut dice = Dice(20_261_125);
    let (mut told, mut tried) = (0, 0);
    for script in 0..48 {
        let names =
            ["roof-vent", "door-strike", "two-supplies", "three-wire-sensor", "screened-run", "alarm-loop"];
        let name = names[script % names.len()];
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("examples/{name}.yaml"));
        let design = fs::read_to_string(file).unwrap();
        let mut built = design.clone();
        for step in 0..=dice.roll(4) {
            built = edited_text(&built, &mut dice, 10 * script + step);
        }
        let Some(as_built) = netlist::read_text("job.yaml", &built).job else { continue };
        tried += 1;
        fs::write(&before, &design).unwrap();
        fs::write(&after, &built).unwrap();
        let done = assert_cmd::Command::cargo_bin("bellwire")
            .unwrap()
            .arg("compare")
            .args([&before, &after])
            .args(["--format", "json"])
            .output()
            .unwrap();
        assert_eq!(done.status.code(), Some(0), "{}", String::from_utf8_lossy(&done.stderr));
        let json: serde_json::Value = serde_json::from_slice(&done.stdout).unwrap();
        let changes: Vec<Entry> = json["changes"].as_array().unwrap().iter().map(entry_of).collect();
        let wanted: Entries =
            entries(&as_built).into_iter().map(|(k, v)| (ends_sorted(&k), sorted(&v))).collect();
        assert_eq!(
            applied(entries(&read(&design)), &changes),
            wanted,
            "{name}, script {script}: {changes:#?}"
        );
        assert!(changes.iter().all(|change| change.before != change.after), "{changes:#?}");
        told += changes.len();
    }
    assert!(tried > 40 && told > 60, "{tried} scripts, {told} changes");
}

fn entry_of(json: &serde_json::Value) -> Entry {
    const KINDS: [Change; 9] = [
        Change::Renamed,
        Change::Moved,
        Change::Recoloured,
        Change::Lengthened,
        Change::Shortened,
        Change::Changed,
        Change::Added,
        Change::Removed,
        Change::Rerouted,
    ];
    let text = |key: &str| json[key].as_str().unwrap().to_owned();
    let kind = KINDS.into_iter().find(|kind| kind.word() == text("kind")).unwrap();
    Entry { kind, what: text("what"), before: text("before"), after: text("after") }
}

#[test]
fn the_changes_applied_to_the_design_give_the_as_built() {
    let examples = examples();
    let mut dice = Dice(20_260_314);
    let mut told = 0;
    for script in 0..500 {
        let (name, design) = &examples[script % examples.len()];
        let mut built = design.clone();
        for step in 0..=dice.roll(6) {
            edit(&mut built, &mut dice, 10 * script + step);
        }
        let changes = changes(design, &built);
        let wanted: Entries =
            entries(&built).into_iter().map(|(k, v)| (ends_sorted(&k), sorted(&v))).collect();
        assert_eq!(applied(entries(design), &changes), wanted, "{name}, script {script}: {changes:#?}");
        assert!(changes.iter().all(|change| change.before != change.after), "{changes:#?}");
        told += changes.len();
    }
    assert!(told > 1_000, "{told} changes in 500 scripts");
}

#[test]
fn a_job_is_like_itself_and_a_core_may_be_written_from_either_end() {
    for (_, job) in examples() {
        assert!(changes(&job, &job).is_empty());
        let mut turned = job.clone();
        turned.cores.iter_mut().for_each(|core| core.ends.reverse());
        assert!(changes(&job, &turned).is_empty());
    }
}

#[test]
fn a_rename_is_one_change() {
    for (name, job) in examples() {
        for device in 0..job.devices.len() {
            let mut built = job.clone();
            built.devices[device].name = "NEW".into();
            let changes = changes(&job, &built);
            assert_eq!(changes.len(), 1, "{name}: {changes:#?}");
            assert_eq!((changes[0].kind, changes[0].after.as_str()), (Change::Renamed, "NEW"));
            assert_eq!(changes[0].before, job.device(DeviceId(u32::try_from(device).unwrap())).name);
        }
        for cable in 0..job.cables.len() {
            let mut built = job.clone();
            built.cables[cable].name = "NEW".into();
            let changes = changes(&job, &built);
            assert_eq!(changes.len(), 1, "{name}: {changes:#?}");
            assert_eq!(changes[0].kind, Change::Renamed);
        }
    }
}

const DESIGN: &str = "
job: {title: Lamp}
devices:
  G1: {type: dc-supply, volts: 12 V, amps: 2 A, location: Panel}
  X1: {type: splice, location: Panel}
  X2: {type: splice, location: Panel}
  E1: {type: lamp, volts: 12 V, amps: 0.4 A}
  E2: {type: lamp, volts: 12 V, amps: 0.4 A}
cables:
  W1: {type: twin-0.75, length: 1 m, cores: {red: [G1.V+, X1], black: [G1.V-, X2]}}
  W2: {type: alarm-4x0.22, length: 8 m, cores: {red: [X1, E1.1], black: [X2, E1.2], blue: taped, white: taped}}
  W3: {type: twin-0.75, length: 8 m, cores: {red: [X1, E2.1], black: [X2, E2.2]}}
";

/// The changes from [`DESIGN`] to the same with replacements, each as `kind what`.
fn told(changes_made: &[(&str, &str)]) -> Vec<String> {
    let built = changes_made.iter().fold(DESIGN.to_owned(), |text, (old, new)| {
        assert!(text.contains(old), "{old}");
        text.replace(old, new)
    });
    let all = changes(&read(DESIGN), &read(&built));
    all.iter().map(|entry| format!("{} {}", entry.kind.word(), entry.what)).collect()
}

#[test]
fn kinds_are_told_apart() {
    assert_eq!(told(&[("length: 1 m", "length: 2 m")]), ["lengthened cable W1 length"]);
    assert_eq!(told(&[("length: 1 m", "length: 90 cm")]), ["shortened cable W1 length"]);
    assert_eq!(told(&[("length: 1 m, cores", "length: 1 m, area: 1 mm², cores")]), ["changed cable W1"]);
    assert_eq!(told(&[("amps: 2 A", "amps: 3 A")]), ["changed device G1 OUT"]);
    assert_eq!(
        told(&[(
            "red: [X1, E1.1], black: [X2, E1.2], blue: taped",
            "blue: [X1, E1.1], black: [X2, E1.2], red: taped"
        )]),
        ["recoloured cable W2, E1.1 – X1"]
    );
    assert_eq!(told(&[("[X2, E2.2]", "[G1.V-, E2.2]")]), ["rerouted core W3 black"]);
    assert_eq!(told(&[("[X1, E2.1]", "[G1.V-, E2.1]")]), ["moved core W3 red"]);
    assert_eq!(told(&[("blue: taped", "blue: [X1, E1.2]")]), ["added core W2 blue"]);
    assert_eq!(told(&[("black: [X2, E1.2]", "black: taped")]), ["removed core W2 black"]);
    assert_eq!(
        told(&[(
            "E1: {type: lamp, volts: 12 V, amps: 0.4 A}",
            "E1: {type: lamp, volts: 12 V, amps: 0.4 A, location: Hall}"
        )]),
        ["added device E1 location"]
    );
    assert_eq!(
        told(&[("volts: 12 V, amps: 2 A, location: Panel", "volts: 12 V, amps: 2 A, location: Hall")]),
        ["moved device G1 location"]
    );
    assert_eq!(
        told(&[
            ("red: [X1, E1.1]", "red: taped"),
            ("blue: taped", "blue: taped"),
            ("W3:", "W4: {type: single-0.75, length: 9 m, cores: {red: [G1.V+, E1.1]}}\n  W3:")
        ]),
        ["added cable W4", "added cable W4 length", "rerouted core W2 red", "rerouted core W4 red"]
    );
}

#[test]
fn what_the_change_does_to_the_circuit_is_told() {
    let built =
        DESIGN.replace("length: 8 m, cores: {red: [X1, E1.1]", "length: 80 m, cores: {red: [X1, E1.1]");
    let built = built.replace("blue: taped", "blue: bare");
    let jobs = [read(DESIGN), read(&built)];
    let circuits = jobs.each_ref().map(Circuit::of);
    let findings = [0, 1].map(|n| checks::run(&jobs[n], &circuits[n]));
    let side = |n: usize| Checked { job: &jobs[n], circuit: &circuits[n], findings: &findings[n] };
    let there = compare(side(0), side(1));
    assert!(there.gained.iter().any(|f| f.rule == "unterminated-core"));
    assert!(there.gained.iter().any(|f| f.rule == "volt-drop"));
    // The drop was a warning and is an error now.
    assert!(there.lost.iter().all(|f| f.rule == "volt-drop"));
    let lamp = there.moved.iter().find(|m| m.what == "E1, lowest volts").unwrap();
    // 2 × 72 m more of 0.22 mm² (IEC 60228 has no such size; the solver's own figure is held by tests/solver.rs).
    assert!(lamp.after.unwrap() < lamp.before.unwrap() - 1.0, "{lamp:?}");
    let back = compare(side(1), side(0));
    assert_eq!(back.lost.len(), there.gained.len());
    let drawn = there.revisions(&jobs[1]);
    assert!(drawn.iter().all(|revision| revision.subject.is_some()));
}
