//! Every core of every example cut, left bare or exchanged with its neighbour, every supply pair exchanged: what each must
//! bring stands in `tests/mutations/`, worked out by hand.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::num::NonZero;
use std::ops::Range;
use std::path::Path;
use std::thread;

use bellwire::checks;
use bellwire::circuit::Circuit;
use bellwire::diagnostic::Severity;
use bellwire::netlist::{self, CoreId, End, Job, Kind, TerminalId};

/// How many findings of each severity and rule.
type Brings = BTreeMap<(String, String), usize>;

fn read(text: &str) -> Job {
    let reading = netlist::read_text("job.yaml", text);
    let Some(job) = reading.job else { panic!("{:#?}\n{text}", reading.findings) };
    job
}

/// What a job brings above a note.
fn brings(text: &str) -> Brings {
    let job = read(text);
    let mut found = Brings::new();
    for finding in checks::run(&job, &Circuit::of(&job)) {
        if finding.severity > Severity::Note {
            *found.entry((finding.severity.word().to_owned(), finding.rule.to_owned())).or_default() += 1;
        }
    }
    found
}

/// A job file whose core ends can be rewritten.
struct Bench<'a> {
    text: &'a str,
    job: Job,
}

impl<'a> Bench<'a> {
    fn new(text: &'a str) -> Self {
        Self { text, job: read(text) }
    }

    /// Every change that must be listed, with the text that it makes.
    fn changes(&self) -> BTreeMap<String, String> {
        let mut all = BTreeMap::new();
        for (_, cable) in self.job.cable_ids() {
            let cores: Vec<CoreId> = cable.cores.iter().map(CoreId).collect();
            for &core in &cores {
                let name = format!("{}.{}", cable.name, self.job.core(core).name);
                all.insert(format!("cut {name}"), self.cut(core));
                all.insert(format!("bare {name}"), self.with(&[(core, [None, Some("bare".to_owned())])]));
            }
            for pair in cores.windows(2) {
                let name = |core| &self.job.core(core).name;
                let change = format!("swap {}.{}/{}", cable.name, name(pair[0]), name(pair[1]));
                let far = |core: CoreId| Some(self.end(core, 1));
                let exchanged = [(pair[0], [None, far(pair[1])]), (pair[1], [None, far(pair[0])])];
                all.insert(change, self.with(&exchanged));
            }
        }
        for (_, part) in self.job.part_ids() {
            if let Kind::Source(source) = &part.kind {
                let name = &self.job.device(part.device).name;
                all.insert(format!("poles {name}"), self.poles(source.plus, source.minus));
            }
        }
        all
    }

    /// An end as the job file writes it.
    fn end(&self, core: CoreId, end: usize) -> String {
        match self.job.core(core).ends[end].to {
            End::Terminal(terminal) => self.job.label(terminal).replacen(':', ".", 1),
            End::Safe(safe) => safe.word().to_owned(),
            End::Bare => "bare".to_owned(),
            End::Spare => "spare".to_owned(),
        }
    }

    /// The text with some ends of some cores replaced.
    fn with(&self, changes: &[(CoreId, [Option<String>; 2])]) -> String {
        let mut edits: Vec<(Range<usize>, String)> = Vec::new();
        for (core, new) in changes {
            let written = |end: usize| new[end].clone().unwrap_or_else(|| self.end(*core, end));
            let [near, far] = self.job.core(*core).ends.map(|end| end.place.bytes());
            if near == far {
                edits.push((near, format!("[{}, {}]", written(0), written(1))));
            } else {
                edits.push((near, written(0)));
                edits.push((far, written(1)));
            }
        }
        edits.sort_by_key(|(range, _)| range.start);
        let mut out = self.text.to_owned();
        for (range, new) in edits.into_iter().rev() {
            out.replace_range(range, &new);
        }
        out
    }

    /// The core parted in the middle: its far stub becomes a cable of its own.
    fn cut(&self, core: CoreId) -> String {
        if self.job.core(core).ends.iter().all(|end| !matches!(end.to, End::Terminal(_))) {
            return self.text.to_owned();
        }
        let near = self.with(&[(core, [None, Some("taped".to_owned())])]);
        let name = &self.job.core(core).name;
        let stub = format!("\ncables:\n  CUT: {{cores: {{{name}: [taped, {}]}}}}\n", self.end(core, 1));
        near.replacen("\ncables:\n", &stub, 1)
    }

    fn poles(&self, plus: TerminalId, minus: TerminalId) -> String {
        let mut changes = Vec::new();
        for (id, core) in self.job.core_ids() {
            let new = core.ends.map(|end| match end.to {
                End::Terminal(t) if t == plus => Some(minus),
                End::Terminal(t) if t == minus => Some(plus),
                _ => None,
            });
            if new != [None, None] {
                changes.push((id, new.map(|t| t.map(|t| self.job.label(t).replacen(':', ".", 1)))));
            }
        }
        self.with(&changes)
    }
}

/// The list of one example: what each change must bring.
fn list(text: &str) -> BTreeMap<String, Brings> {
    let mut list = BTreeMap::new();
    for line in text.lines() {
        let line = line.split('#').next().unwrap_or_default().trim();
        if line.is_empty() {
            continue;
        }
        let (changes, brings) = line.split_once("=>").unwrap_or_else(|| panic!("no `=>` in `{line}`"));
        let mut words = changes.split_whitespace();
        let kind = words.next().unwrap_or_default();
        for target in words {
            let again = list.insert(format!("{kind} {target}"), wanted(brings.trim()));
            assert!(again.is_none(), "`{kind} {target}` stands twice");
        }
    }
    list
}

fn wanted(text: &str) -> Brings {
    let mut brings = Brings::new();
    for item in text.split(',').map(str::trim).filter(|item| *item != "nothing") {
        let words: Vec<&str> = item.split_whitespace().collect();
        let (count, severity, rule) = match words.as_slice() {
            [count, severity, rule] => {
                (count.parse().unwrap_or_else(|_| panic!("`{item}`")), *severity, *rule)
            }
            [severity, rule] => (1, *severity, *rule),
            _ => panic!("`{item}` is not a finding"),
        };
        brings.insert((severity.to_owned(), rule.to_owned()), count);
    }
    brings
}

fn shown(brings: &Brings) -> String {
    let all: Vec<String> =
        brings.iter().map(|((severity, rule), count)| format!("{count} {severity} {rule}")).collect();
    if all.is_empty() { "nothing".to_owned() } else { all.join(", ") }
}

fn file(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(name);
    fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// What is wrong with what some changes bring.
fn judged(changes: &[(&String, &String)], expected: &BTreeMap<String, Brings>) -> Vec<String> {
    let mut wrong = Vec::new();
    for (change, text) in changes {
        let mut wanted = expected[*change].clone();
        // A rule that this version does not have yet cannot speak.
        wanted.retain(|(_, rule), _| checks::rule(rule).is_some());
        let found = brings(text);
        if found != wanted {
            wrong.push(format!(
                "{change}\n    must bring {}\n    brings     {}",
                shown(&wanted),
                shown(&found)
            ));
        }
    }
    wrong
}

fn example(name: &str) {
    let text = file(&format!("examples/{name}.yaml"));
    let expected = list(&file(&format!("tests/mutations/{name}.txt")));
    let changes = Bench::new(&text).changes();
    let listed: BTreeSet<&String> = expected.keys().collect();
    let possible: BTreeSet<&String> = changes.keys().collect();
    let difference: Vec<_> = listed.symmetric_difference(&possible).collect();
    assert!(
        difference.is_empty(),
        "{name}: listed but impossible, or possible but not listed: {difference:?}"
    );
    let all: Vec<(&String, &String)> = changes.iter().collect();
    let share = all.len().div_ceil(thread::available_parallelism().map_or(1, NonZero::get)).max(1);
    let wrong: Vec<String> = thread::scope(|scope| {
        let parts: Vec<_> = all.chunks(share).map(|part| scope.spawn(|| judged(part, &expected))).collect();
        parts
            .into_iter()
            .flat_map(|part| part.join().unwrap_or_else(|_| panic!("{name}: a check panics")))
            .collect()
    });
    assert!(wrong.is_empty(), "{name}: {} of {}\n{}", wrong.len(), changes.len(), wrong.join("\n"));
}

macro_rules! examples {
    ($($test:ident $name:literal,)*) => {$(
        #[test]
        fn $test() {
            example($name);
        }
    )*};
}

examples! {
    roof_vent "roof-vent",
    door_strike "door-strike",
    alarm_loop "alarm-loop",
    two_supplies "two-supplies",
    three_wire_sensor "three-wire-sensor",
    screened_run "screened-run",
    marshalling_box "marshalling-box",
}
