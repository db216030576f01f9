//! The rules: each has a manual page, and a fixture that breaks it and the nearest job that does not.
//!
//! A fixture `tests/rules/<rule>.yaml` holds jobs, parted by lines of `---`. A comment `# expect: SEVERITY RULE`
//! above a line says that a finding points at that line first; `# expect: accepted SEVERITY RULE` that the job accepts
//! it. Nothing else above a note may come. Notes may, unless the same rule has an expected note in the same job.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may stop at what it did not expect")]

use std::path::PathBuf;
use std::sync::LazyLock;
use std::{env, fs};

use bellwire::checks::{self, RULES};
use bellwire::circuit::Circuit;
use bellwire::diagnostic::Severity;
use bellwire::netlist::{self, End, Job, TerminalId};
use proptest::prelude::*;

const SECTIONS: [&str; 6] = ["On site", "Why", "Example", "Cure", "Limits", "Sources"];

#[test]
fn every_manual_page_has_its_sections() {
    for rule in RULES {
        let page = rule.manual();
        let headings: Vec<&str> = page.lines().filter_map(|line| line.strip_prefix("## ")).collect();
        assert_eq!(headings, SECTIONS, "the page of {}", rule.name);
        assert!(rule.summary().ends_with('.'), "the first line of {} is one sentence", rule.name);
    }
}

/// `docs/rules` holds what the rules' own files say. `BLESS=1 cargo test --test rules` writes it anew.
#[test]
fn docs_hold_the_manual_pages() {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("docs/rules");
    if env::var_os("BLESS").is_some() {
        fs::create_dir_all(&folder).unwrap();
        for rule in RULES {
            fs::write(folder.join(format!("{}.md", rule.name)), rule.manual()).unwrap();
        }
    }
    let mut pages: Vec<String> =
        fs::read_dir(&folder).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
    pages.sort();
    let mut names: Vec<String> = RULES.iter().map(|rule| format!("{}.md", rule.name)).collect();
    names.sort();
    assert_eq!(pages, names);
    for rule in RULES {
        let page = fs::read_to_string(folder.join(format!("{}.md", rule.name))).unwrap();
        assert!(
            page == rule.manual(),
            "docs/rules/{}.md is stale: run `BLESS=1 cargo test --test rules`",
            rule.name
        );
    }
}

/// What a fixture expects or a check found: line, words.
type Found = (usize, String);

/// The expectations of one job: each counts for the next line that is not one itself.
fn expected(text: &str) -> Vec<Found> {
    let mut waiting = Vec::new();
    let mut all = Vec::new();
    for (number, line) in (1..).zip(text.lines()) {
        match line.trim().strip_prefix("# expect: ") {
            Some(words) => waiting.push(words.to_owned()),
            None => all.extend(waiting.drain(..).map(|words| (number, words))),
        }
    }
    assert!(waiting.is_empty(), "an expectation stands at the end of the file");
    all.sort();
    all
}

/// What the rules find in one job, notes besides.
fn found(name: &str, text: &str) -> (Vec<Found>, Vec<Found>) {
    let reading = netlist::read_text(name, text);
    let mut findings = reading.findings;
    if let Some(job) = &reading.job {
        findings.extend(checks::run(job, &Circuit::of(job)));
    }
    let (mut told, mut notes) = (Vec::new(), Vec::new());
    for finding in &findings {
        assert!(!finding.message.words().is_empty() && !finding.fix.is_empty(), "{finding:?}");
        assert!(!finding.message.words().ends_with('.'), "{}", finding.message);
        let by_reader =
            ["unreadable", "hides-type", "unknown-symbol", "cut-by-comment"].contains(&finding.rule);
        assert!(by_reader || !finding.subjects.is_empty(), "{} is about nothing", finding.message);
        let label = finding.labels.first().unwrap_or_else(|| panic!("{} has no place", finding.message));
        let accepted = if finding.accepted.is_some() { "accepted " } else { "" };
        let words = format!("{accepted}{} {}", finding.severity.word(), finding.rule);
        let line = reading.sources.locate(label.place).line;
        if finding.severity == Severity::Note { &mut notes } else { &mut told }.push((line, words));
    }
    told.sort();
    notes.sort();
    (told, notes)
}

/// The jobs of a file, each with empty lines for those before it, so that every line keeps its number.
fn in_place(text: &str) -> Vec<String> {
    let mut before = 0;
    let jobs = text.split_inclusive("---\n").map(|job| {
        let job = job.strip_suffix("---\n").unwrap_or(job);
        let placed = format!("{}{job}", "\n".repeat(before));
        before += job.lines().count() + 1;
        placed
    });
    jobs.collect()
}

#[test]
fn fixtures_bring_what_they_expect_and_nothing_more() {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/rules");
    let mut faults = Vec::new();
    for rule in RULES {
        let name = format!("{}.yaml", rule.name);
        let Ok(text) = fs::read_to_string(folder.join(&name)) else {
            faults.push(format!("{name} is missing"));
            continue;
        };
        let (mut breaking, mut clean) = (0, 0);
        for text in in_place(&text) {
            let expected = expected(&text);
            let whole = format!("{} {}", rule.severity.word(), rule.name);
            match expected.iter().any(|(_, words)| *words == whole) {
                true => breaking += 1,
                false => clean += 1,
            }
            let (told, notes) = found(&name, &text);
            let of_note = |found: &Found| expected.iter().any(|(_, words)| words == &found.1);
            let mut all: Vec<Found> = told.into_iter().chain(notes.into_iter().filter(of_note)).collect();
            all.sort();
            if all != expected {
                faults.push(format!("{name}:\n  expected {expected:?}\n  found    {all:?}"));
            }
        }
        if breaking == 0 || clean == 0 {
            faults.push(format!("{name} has {breaking} jobs that break the rule and {clean} that do not"));
        }
    }
    assert!(faults.is_empty(), "\n{}", faults.join("\n"));
}

/// `tests/conditions.yaml`: the words of each condition as the title of a job that meets it, or just does not.
#[test]
fn conditions_mean_what_their_words_say() {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/conditions.yaml");
    let text = fs::read_to_string(path).unwrap();
    let mut faults = Vec::new();
    for text in in_place(&text) {
        let expected = expected(&text);
        let (told, notes) = found("conditions.yaml", &text);
        let of_note = |found: &Found| expected.iter().any(|(_, words)| words == &found.1);
        let mut all: Vec<Found> = told.into_iter().chain(notes.into_iter().filter(of_note)).collect();
        all.sort();
        if all != expected {
            let title = text.lines().find(|line| line.starts_with("job:")).unwrap_or_default();
            faults.push(format!("{title}\n  expected {expected:?}\n  found    {all:?}"));
        }
    }
    assert!(faults.is_empty(), "\n{}", faults.join("\n"));
}

#[test]
fn every_fixture_belongs_to_a_rule() {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/rules");
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let stem = path.file_stem().unwrap().to_str().unwrap();
        assert!(checks::rule(stem).is_some(), "{} names no rule", path.display());
    }
}

/// Every job of the fixtures and examples that can be read.
fn jobs() -> Vec<Job> {
    let root = PathBuf::from(env!("CARGO_MANIFEST_DIR"));
    let mut files: Vec<PathBuf> = ["tests/rules", "examples"]
        .iter()
        .flat_map(|folder| fs::read_dir(root.join(folder)).unwrap().map(|entry| entry.unwrap().path()))
        .filter(|path| path.extension().is_some_and(|ending| ending == "yaml"))
        .collect();
    files.sort();
    let texts = files.iter().map(|path| fs::read_to_string(path).unwrap());
    let jobs = texts.flat_map(|text| {
        text.split("---\n").filter_map(|job| netlist::read_text("job.yaml", job).job).collect::<Vec<_>>()
    });
    jobs.collect()
}

/// A core end moved to another terminal, taken off, or left.
fn moved(job: &mut Job, (core, end, to): (prop::sample::Index, usize, Option<prop::sample::Index>)) {
    if job.cores.is_empty() || job.terminals.is_empty() {
        return;
    }
    let terminals = job.terminals.len();
    let core = core.index(job.cores.len());
    job.cores[core].ends[end].to = match to {
        Some(terminal) => End::Terminal(TerminalId(u32::try_from(terminal.index(terminals)).unwrap())),
        None => End::Bare,
    };
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_wiring_stops_the_rules(
        which in any::<prop::sample::Index>(),
        edits in proptest::collection::vec(
            (any::<prop::sample::Index>(), 0_usize..2, proptest::option::weighted(0.9, any::<prop::sample::Index>())),
            1..12,
        ),
    ) {
        static JOBS: LazyLock<Vec<Job>> = LazyLock::new(jobs);
        let mut job = JOBS[which.index(JOBS.len())].clone();
        edits.into_iter().for_each(|edit| moved(&mut job, edit));
        let findings = checks::run(&job, &Circuit::of(&job));
        for finding in &findings {
            prop_assert!(!finding.labels.is_empty() && !finding.subjects.is_empty(), "{finding:?}");
        }
        prop_assert_eq!(&findings, &checks::run(&job, &Circuit::of(&job)));
        prop_assert!(findings.is_sorted_by_key(|finding| std::cmp::Reverse(finding.severity)));
    }
}

/// The fix of a contradiction moves what stands on the wrong throw, where that makes it right.
#[test]
fn a_contradicted_effect_says_where_its_way_is_open() {
    let fixes = |to: &str, line: &str| {
        let text = format!(
            "job: {{title: t}}\ndevices:\n  G1: {{type: dc-supply, volts: 12 V, amps: 1 A}}\n  S1: {{type: limit-switch}}\n  \
             H1: {{type: lamp, volts: 12 V, amps: 0.2 A}}\nlinks: [[G1.V+, S1.COM], [{to}, H1.1], [G1.V-, H1.2]]\n\
             cause_and_effect: [{line}]\n"
        );
        let job = netlist::read_text("job.yaml", &text).job.expect("a job");
        let findings = checks::run(&job, &Circuit::of(&job));
        let of_rule = findings.into_iter().filter(|finding| finding.rule == "effect-not-met");
        of_rule.map(|finding| finding.fix).collect::<Vec<_>>()
    };
    let moved = |from: &str, to: &str| {
        format!("move the link, which comes from H1:1, from {from} to {to}, or correct the line")
    };
    assert_eq!(fixes("S1.NC", "{when: S1 operated, then: H1 powered}"), [moved("S1:NC", "S1:NO")]);
    assert_eq!(fixes("S1.NO", "{when: S1 operated, then: H1 dead}"), [moved("S1:NO", "S1:NC")]);
    let bare =
        "no contact lies on the way that holds it; move the core that stands wrong, or correct the line";
    assert_eq!(fixes("G1.V+", "{when: S1 at rest, then: H1 dead}"), [bare]);
}

/// What a rule says to change, in a job of these devices and links on a fused 24 V supply with plus P and minus N.
fn fixes_of(rule: &str, devices: &str, links: &str, more: &str) -> Vec<String> {
    let text = format!(
        "job: {{title: t}}\ndevices:\n  G1: {{type: dc-supply, volts: 24 V, amps: 1 A}}\n  F1: {{type: fuse, amps: 1 A}}\n  \
         P: {{type: splice}}\n  N: {{type: splice}}\n{devices}\nlinks: [[G1.V+, F1.1], [F1.2, P], [G1.V-, N], {links}]\n{more}\n"
    );
    let reading = netlist::read_text("job.yaml", &text);
    let job = reading.job.unwrap_or_else(|| panic!("{:?}\n{text}", reading.findings));
    let findings = checks::run(&job, &Circuit::of(&job));
    findings
        .into_iter()
        .filter(|finding| finding.rule == rule)
        .map(|finding| finding.fix.into_owned())
        .collect()
}

/// Where the contact that is open is a relay's, the fix goes on to what keeps the relay from pulling in.
#[test]
fn a_contradicted_effect_is_followed_back_through_its_relay() {
    let devices = "  S1: {type: toggle-switch}\n  B1: {type: limit-switch}\n  K1: {type: relay, volts: 24 V, amps: 30 mA}\n  \
                   V1: {type: diode, across: [K1.A1, K1.A2]}\n  H1: {type: lamp, volts: 24 V, watts: 2 W}";
    let links = |throw: &str| {
        format!(
            "[P, S1.13], [S1.14, B1.COM], [{throw}, K1.A1], [K1.A2, N], [P, K1.11], [K1.14, H1.1], [H1.2, N]"
        )
    };
    let fixes = |throw: &str, line: &str| {
        fixes_of("effect-not-met", devices, &links(throw), &format!("cause_and_effect: [{line}]"))
    };
    let end = "move the core that stands wrong, or correct the line";
    assert_eq!(
        fixes("B1.NO", "{when: S1 operated, then: H1 powered}"),
        [format!(
            "its way is open then between K1:11 and K1:14, for the way to K1 is open between B1:COM and B1:NO; {end}"
        )]
    );
    assert_eq!(
        fixes("B1.NC", "{when: S1 operated, then: H1 dead}"),
        [format!(
            "its way is closed then between K1:11 and K1:14, for the way to K1 is closed between S1:13 and S1:14 and \
             between B1:COM and B1:NC; {end}"
        )]
    );
    let reversed = fixes("B1.NC", "{when: S1 operated, then: H1 reverse}");
    assert_eq!(reversed, [format!("nothing ever feeds it that way round; {end}")]);
}

/// What is missing between a dead part and its source is named where a contact, a fuse or a supply is open on one side.
#[test]
fn fixes_name_the_gap() {
    let button = "  S1: {type: push-button-no}\n  H1: {type: lamp, volts: 24 V, amps: 0.1 A}";
    let gap = |links: &str| fixes_of("open-return", button, links, "");
    assert_eq!(gap("[P, S1.13], [H1.2, N]"), ["join S1:14 and H1:1"]);
    assert_eq!(gap("[S1.14, H1.1], [H1.2, N]"), ["join P and S1:13"]);
    let two = format!("{button}\n  S2: {{type: push-button-nc}}");
    assert_eq!(
        fixes_of("open-return", &two, "[P, S2.11], [S1.14, H1.1], [H1.2, N]", ""),
        ["join S2:12 and S1:13"]
    );
    let lamps = format!("{button}\n  H2: {{type: lamp, volts: 24 V, amps: 0.1 A}}\n  X1: {{type: splice}}");
    let behind_a_joint = "[P, S1.13], [X1, H1.1], [X1, H2.1], [H1.2, N], [H2.2, N]";
    assert_eq!(fixes_of("open-return", &lamps, behind_a_joint, ""), ["join S1:14 and X1"]);
    let dry = "data_sheets: {drive: {terminals: [1, 2], dry_inputs: {START: {between: [1, 2]}}}}";
    let drive = "  A1: {type: drive}\n  S1: {type: push-button-no}\n  S2: {type: push-button-nc}";
    assert_eq!(
        fixes_of("floating-input", drive, "[A1.1, S1.13], [A1.2, S2.12]", dry),
        ["join S1:14 and S2:11: nothing leads on from either"]
    );
}

/// Where all that a source feeds stands the wrong way round, the fix is at the source; where one part does, at the part.
#[test]
fn fixes_are_where_the_exchange_is() {
    let lamps = "  H1: {type: indicator, volts: 24 V, amps: 20 mA}\n  H2: {type: indicator, volts: 24 V, amps: 20 mA}";
    assert_eq!(
        fixes_of("reversed-polarity", lamps, "[N, H1.V+], [P, H1.V-], [N, H2.V+], [P, H2.V-]", ""),
        ["exchange the link at G1:V+ and the link at G1:V-: all that G1 feeds stands the wrong way round"]
    );
    assert_eq!(
        fixes_of("reversed-polarity", lamps, "[N, H1.V+], [P, H1.V-], [P, H2.V+], [N, H2.V-]", ""),
        ["exchange the link at H1:V+ and the link at H1:V-, or the pair further back"]
    );
}

/// A loop that is open, one that is joined before its resistor and one with the wrong resistor want three things.
#[test]
fn fixes_of_a_loop_follow_its_ohms() {
    let sheet = "data_sheets: {panel: {terminals: [Z, C], supervised: {Z: {at: Z, common: C, rest: 4k7, alarm: open}}}}";
    let of = |ohms: &str, links: &str| {
        let devices = format!(
            "  A1: {{type: panel}}\n  B1: {{type: push-button-nc}}\n  R1: {{type: resistor, ohms: {ohms}}}"
        );
        fixes_of("eol-value", &devices, links, sheet)
    };
    let whole = "[A1.Z, B1.11], [B1.12, R1.1], [R1.2, A1.C]";
    assert_eq!(of("4k7", whole), [""; 0]);
    assert_eq!(of("10k", whole), ["fit 4700 Ω as R1, which has 10000 Ω"]);
    assert_eq!(
        of("4k7", "[A1.Z, B1.11], [R1.2, A1.C]"),
        ["follow the loop from A1:Z to A1:C and close the joint or contact that is open"]
    );
    assert_eq!(
        of("4k7", "[A1.Z, B1.11], [B1.12, A1.C], [R1.2, A1.C]"),
        [
            "find what joins A1:Z and A1:C before the resistors, a bridge, exchanged cores or a closed contact, and take it away"
        ]
    );
}

/// A fix fits the wiring at hand: a part that is fed both ways round, a sensor on the wrong poles, a fuse that is there.
#[test]
fn fixes_fit_the_wiring() {
    let reverser = "  S1: {type: toggle-switch}\n  K1: {type: relay-2-pole, volts: 24 V, amps: 30 mA}\n  \
                    V1: {type: diode, across: [K1.A1, K1.A2]}\n  M1: {type: motor, volts: 24 V, amps: 0.5 A}\n  \
                    V2: {type: diode, across: [M1.1, M1.2]}";
    let links = "[P, S1.13], [S1.14, K1.A1], [K1.A2, N], [P, K1.12], [N, K1.14], [N, K1.22], [P, K1.24], [K1.11, M1.1], \
                 [K1.21, M1.2]";
    assert_eq!(
        fixes_of("reversed-diode", reverser, links, ""),
        ["take V2 out and put a varistor or an RC link across M1: it is fed both ways round"]
    );
    let sensor = "  B1: {type: eye}\n  K1: {type: card}";
    let card = "data_sheets: {card: {terminals: [I, M], inputs: {I: {at: I, common: M, active: high, type: 3}}}, \
                eye: {terminals: [BN, BU, BK], outputs: {OUT: {at: BK, common: BN, drives: high}}}}";
    assert_eq!(
        fixes_of("sink-source-mismatch", sensor, "[N, B1.BN], [P, B1.BU], [B1.BK, K1.I], [N, K1.M]", card),
        ["bring B1:BN to plus"]
    );
    let relays = "  S1: {type: toggle-switch}\n  X1: {type: splice}\n  X2: {type: splice}\n  \
                  K1: {type: relay, volts: 24 V, amps: 30 mA}\n  K2: {type: relay, volts: 24 V, amps: 30 mA}\n  \
                  H1: {type: lamp, volts: 24 V, watts: 2 W}";
    let links = "[P, S1.13], [S1.14, X1], [X1, K1.A1], [X1, K2.A1], [N, K1.A2], [N, K2.A2], [P, K1.11], [K1.14, X2], \
                 [X2, K2.12], [K2.11, N], [X2, H1.1], [H1.2, N]";
    assert_eq!(
        fixes_of("relies-on-interlock", relays, links, ""),
        ["F1 blows then; where that is not enough, use a mechanical interlock"]
    );
}

/// A size is told as it is stated: by area, by gauge, or both where they meet.
#[test]
fn sizes_are_told_in_the_unit_of_the_job() {
    let told = |fits: &str, cable: &str| {
        let text = format!(
            "job: {{title: t}}\ndevices:\n  G1: {{type: dc-supply, volts: 12 V, amps: 1 A}}\n  A1: {{type: bell}}\ncables:\n  \
             W1: {{type: {cable}, length: 1 m, cores: {{red: [G1.V+, A1.1], black: [G1.V-, A1.2]}}}}\ndata_sheets:\n  bell:\n    \
             terminals: {{1: {{fits: {fits}}}, 2: {{}}}}\n    loads: {{L: {{between: [1, 2], volts: 12 V, amps: 0.1 A}}}}\n"
        );
        let reading = netlist::read_text("job.yaml", &text);
        let job = reading.job.unwrap_or_else(|| panic!("{:?}\n{text}", reading.findings));
        let findings = checks::run(&job, &Circuit::of(&job));
        let found = findings.into_iter().find(|finding| finding.rule == "terminal-overfilled");
        found.map(|finding| finding.message.words().split(": it will").next().unwrap_or_default().to_owned())
    };
    let says = |words: &str| Some(words.to_owned());
    assert_eq!(
        told("0.2..0.5 mm²", "twin-0.75"),
        says("W1 red is 0.75 mm² and A1:1 takes 0.2 mm² to 0.5 mm²")
    );
    assert_eq!(told("24..20 AWG", "twin-18AWG"), says("W1 red is 18 AWG and A1:1 takes 24 AWG to 20 AWG"));
    assert_eq!(
        told("0.2..0.5 mm²", "twin-18AWG"),
        says("W1 red is 18 AWG (0.823 mm²) and A1:1 takes 0.2 mm² to 0.5 mm²")
    );
    assert_eq!(
        told("24..20 AWG", "twin-0.75"),
        says("W1 red is 0.75 mm² and A1:1 takes 24 AWG (0.205 mm²) to 20 AWG (0.518 mm²)")
    );
    assert_eq!(told("24..16 AWG", "twin-18AWG"), None);
}

/// A contact without a second throw, a key that does not spring back, a diode that is built in: the fix asks for what
/// can be done.
#[test]
fn fixes_ask_for_what_can_be_done() {
    let devices = |contact: &str| {
        format!(
            "  S1: {{type: {contact}}}\n  A1: {{type: starter, settings: {{RUN: {{contact: normally-open}}}}}}"
        )
    };
    let lamps = "  X1: {type: terminal-strip, ways: 4}\n  H1: {type: lamp, volts: 24 V, watts: 1 W}\n  \
                 H2: {type: lamp, volts: 24 V, watts: 1 W}";
    let cables = "cables: {W1: {type: single-1, length: 1 m, cores: {red: [P, X1.1]}}, W2: {type: single-1, length: 1 m, \
                  cores: {red: [X1.1, H1.1]}}, W3: {type: single-1, length: 1 m, cores: {red: [X1.1, H2.1]}}}";
    assert_eq!(
        fixes_of("terminal-overfilled", lamps, "[N, H1.2], [N, H2.2]", cables),
        ["land what is too many on further ways of X1, and link those to this one"]
    );
    let starter = "data_sheets: {starter: {terminals: [1, 2], dry_inputs: {RUN: {between: [1, 2]}}}}";
    let other = |contact: &str, links: &str| fixes_of("contact-type", &devices(contact), links, starter);
    assert_eq!(
        other("push-button-nc", "[A1.1, S1.11], [A1.2, S1.12]"),
        ["put a normally-open contact in place of S1, or change the setting"]
    );
    assert_eq!(
        other("limit-switch", "[A1.1, S1.COM], [A1.2, S1.NC]"),
        ["use the other throw of S1, or change the setting"]
    );
    assert_eq!(
        other("limit-switch", "[A1.1, A1.2]"),
        ["lead it through a normally-open contact, or change the setting"]
    );
    let gate =
        "data_sheets: {gate: {terminals: [1, 2], dry_inputs: {RUN: {between: [1, 2], momentary: 0.2..2 s}}}}";
    assert_eq!(
        fixes_of(
            "latched-trigger",
            "  S1: {type: key-switch}\n  A1: {type: gate}",
            "[A1.1, S1.13], [A1.2, S1.14]",
            gate
        ),
        [
            "use a button that springs back, or a timer relay set to a pulse of 0.2 s to 2 s, written under its `settings:`"
        ]
    );
    let exchange = "exchange the link at K1:A1 and the link at K1:A2, or the pair further back";
    let relay = |ends: &str| {
        format!(
            "data_sheets: {{r: {{terminals: [A1, A2], coils: {{C: {{{ends}, volts: 24 V, amps: 20 mA}}}}, \
             diodes: {{D: {{anode: A2, cathode: A1}}}}}}}}"
        )
    };
    let turned =
        |rule: &str, ends: &str| fixes_of(rule, "  K1: {type: r}", "[P, K1.A2], [N, K1.A1]", &relay(ends));
    assert_eq!(turned("reversed-diode", "between: [A1, A2]"), [exchange]);
    assert_eq!(
        turned("short-circuit", "plus: A1, minus: A2"),
        [format!("{exchange}: K1 is fed the wrong way round, and the diode across it conducts")]
    );
}

/// The conductor that a short's fix takes off is the one that stands wrong, not the supply's own.
#[test]
fn a_short_is_taken_apart_where_it_stands_wrong() {
    let devices = "  S1: {type: toggle-switch}\n  H1: {type: lamp, volts: 24 V, amps: 0.1 A}";
    let fixes = |links: &str| fixes_of("short-circuit", devices, links, "");
    assert_eq!(
        fixes("[P, S1.13], [S1.14, N], [P, H1.1], [H1.2, N]"),
        ["lead this path through the load that it is for, or take the link between S1:14 and N off it"]
    );
    assert_eq!(
        fixes("[P, S1.13], [S1.14, H1.1], [H1.2, N], [H1.1, H1.2]"),
        ["lead this path through the load that it is for, or take the link between H1:1 and H1:2 off it"]
    );
    assert_eq!(
        fixes("[P, S1.13], [S1.14, H1.1], [H1.2, N], [S1.13, N]"),
        ["take the link between S1:13 and N off this path: it is on the wrong pole"]
    );
}

/// Of what nothing ever feeds the fix names the contact that never closes, or those that never close together.
#[test]
fn what_stays_dead_says_where_its_way_stays_open() {
    let relay = |name: &str| {
        format!(
            "  {name}: {{type: relay-2-pole, volts: 24 V, amps: 20 mA}}\n  V{name}: {{type: diode, across: [{name}.A1, {name}.A2]}}"
        )
    };
    let lamp = "  H1: {type: lamp, volts: 24 V, amps: 0.1 A}";
    let held = "[P, K1.11], [K1.14, K1.A1], [K1.A2, N], [P, K1.21], [K1.24, H1.1], [H1.2, N]";
    assert_eq!(
        fixes_of("open-return", &format!("{}\n{lamp}", relay("K1")), held, ""),
        ["let something close its way between K1:11 and K1:14"]
    );
    let devices = format!("  S1: {{type: toggle-switch}}\n{}\n{}\n{lamp}", relay("K1"), relay("K2"));
    let apart = "[P, S1.13], [S1.14, K1.A1], [K1.A2, N], [K2.A2, N], [P, K1.21], [K1.22, K2.A1], [P, K1.11], [K1.14, H1.1], \
                 [H1.2, K2.11], [K2.14, N]";
    assert_eq!(
        fixes_of("unpowered", &devices, apart, ""),
        ["let its way close between K1:11 and K1:14 and between K2:11 and K2:14 at the same time"]
    );
    let module = format!("  K0: {{type: relay-module, settings: {{IN1: {{drives: OUT1}}}}}}\n{lamp}");
    assert_eq!(
        fixes_of(
            "open-return",
            &module,
            "[P, K0.+V], [N, K0.0V], [P, K0.COM1], [K0.NO1, H1.1], [H1.2, N]",
            ""
        ),
        ["let something close its way between K0:COM1 and K0:NO1, for no way leads to K0.IN1"]
    );
}

/// A cause that can neither open nor close the way to its effect is named.
#[test]
fn a_contradicted_effect_names_the_cause_that_is_on_no_way_to_it() {
    let devices = "  S1: {type: toggle-switch}\n  S2: {type: push-button-nc}\n  H1: {type: lamp, volts: 24 V, amps: 0.1 A}";
    let fixes = |links: &str, line: &str| {
        fixes_of("effect-not-met", devices, links, &format!("cause_and_effect: [{line}]"))
    };
    let end = "move the core that stands wrong, or correct the line";
    let past = "[P, S1.13], [S1.14, H1.1], [H1.2, N]";
    assert_eq!(
        fixes(past, "{when: [S1 operated, S2 operated], then: H1 dead}"),
        [format!("its way is closed then between S1:13 and S1:14, and S2 is not on it; {end}")]
    );
    assert_eq!(
        fixes(past, "{when: S2 operated, then: H1 powered}"),
        [format!("S2 is on no way to it; {end}")]
    );
    assert_eq!(
        fixes(past, "{when: [S1 operated, G1 off], then: H1 powered}"),
        [format!("nothing but G1 feeds it; {end}")]
    );
}

/// The volts that a part gets and those that are lost are of one state and of one source, which is named where several may
/// feed it. By hand, 40 m of 89.13 Ω/km there and back are 7.13 Ω: below 10.2 V the siren draws in proportion, so that the
/// battery leaves it 12 V / (1 + 7.13 × 0.5 / 10.2) = 8.89 V.
#[test]
fn a_volt_drop_is_told_of_one_source() {
    let messages = |sources: &str, load: &str, length: &str, rest: &str| {
        let text = format!(
            "job: {{title: t}}\ndevices:\n  {sources}\n  E1: {{type: siren, {load}}}\ncables:\n  W1: {{type: \
             alarm-4x0.22, length: {length}, cores: {{red: [G1.V+, E1.V+], black: [G1.V-, E1.V-], blue: taped, white: \
             taped}}}}\n{rest}"
        );
        let job = netlist::read_text("job.yaml", &text).job.expect("a job");
        let findings = checks::run(&job, &Circuit::of(&job));
        let of_rule = findings.into_iter().filter(|finding| finding.rule == "volt-drop");
        of_rule.map(|finding| finding.message.to_string()).collect::<Vec<_>>()
    };
    let both =
        "G1: {type: charger, volts: 13.8 V, amps: 3 A}\n  G2: {type: battery, volts: 12 V, fused: 3 A}";
    let joined = "links: [[G1.V+, G2.V+], [G1.V-, G2.V-]]\n";
    assert_eq!(
        messages(both, "volts: 12 V, amps: 0.5 A", "40 m", joined),
        ["E1 gets 8.9 V and needs 10.2 V: the way to it from G2 loses 3.1 V"]
    );
    let one = "G1: {type: dc-supply, volts: 12 V, amps: 3 A}";
    assert_eq!(
        messages(one, "volts: 10..15 V, amps: 0.3 A", "20 m", ""),
        ["the way to E1 loses 1.1 V, 9 % of 12.5 V, the middle of its 10–15 V"]
    );
    // 1.25 m there and back are 0.2228 Ω: at 2.72 A that is 0.606 V or 5.05 % of 12 V.
    assert_eq!(
        messages(one, "volts: 12 V, amps: 2.72 A", "1.25 m", ""),
        ["the way to E1 loses 0.6 V, 5.1 % of its 12 V"]
    );
}

/// A device with several entries may well be wired at others: the one that is meant is named.
#[test]
fn what_is_half_wired_is_named_by_its_entry() {
    let text = "job: {title: t}\ndevices:\n  G1: {type: dc-supply, volts: 12 V, amps: 1 A}\n  B1: {type: reader}\nlinks: [[G1.V+, B1.+], \
         [G1.V-, B1.-]]\ndata_sheets:\n  reader:\n    terminals: [+, '-', LED]\n    loads: {L: {plus: +, minus: '-', volts: 12 V, amps: 0.1 A}}\n    \
         contacts: {LED: {common: +, no: LED}}\n";
    let job = netlist::read_text("job.yaml", text).job.expect("a job");
    let findings = checks::run(&job, &Circuit::of(&job));
    let told: Vec<String> = findings
        .iter()
        .filter(|finding| finding.rule == "half-wired")
        .map(|finding| finding.message.to_string())
        .collect();
    assert_eq!(
        told,
        ["contact LED of B1 is wired at B1:+ alone, and nothing leads on from B1:LED: it switches nothing"]
    );
}

/// Who writes `at rest` of a device that is drawn operated may have taken it for how it stands.
#[test]
fn what_rests_operated_is_released_at_rest() {
    let fixes = fixes_of(
        "effect-not-met",
        "  S1: {type: push-button-no, rest: operated}\n  E1: {type: lamp, volts: 24 V, watts: 5}",
        "[P, S1.13], [S1.14, E1.1], [E1.2, N]",
        "cause_and_effect:\n  - {when: S1 at rest, then: E1 powered}",
    );
    let [fix] = &fixes[..] else { panic!("{fixes:?}") };
    assert!(fix.ends_with("S1 rests operated, and `S1 at rest` releases it"), "{fix}");
}
