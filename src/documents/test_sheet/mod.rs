//! The test sheet: the ordered tests of this very job, each with the value that it must give and an empty box.
//!
//! The order is that of IEC 60364-6: look, then dead tests, then live tests; a test that fails is repeated after the
//! cure with all tests before it. What must not be done stands first. Values come from the job by the solver; no result is
//! ever filled in.
//!
//! Limits, where neither the job nor a part states them, are our own choice and stand in one place each: [`OHMS`],
//! [`METER`], [`OPEN`], [`SUPPLY`], [`CHARGED`], [`AT_DEVICE`].

mod cautions;
mod dead;
mod effects;
mod live;
mod readings;

pub(super) use live::charged;
pub use readings::{Judged, Verdict, judge};

use super::stand::{Pose, Probe, Stand};
use crate::circuit::Circuit;
use crate::diagnostic::Finding;
use crate::netlist::Job;
use crate::schedules::{Cell, Column, Table};

/// How far the ohms of a core may lie from length times resistance at 20 °C, as a share. Our own choice; it leaves room
/// for the temperature of the cable and a length that was stepped out.
pub const OHMS: f64 = 0.10;

/// No reading of ohms is held closer than this: the leads and last digits of a hand meter. Our own choice.
pub const METER: f64 = 0.2;

/// From how many ohms on two conductors count as apart in a dead test. Common practice, no source; the insulation
/// test of IEC 60364-6 asks for 0.5 MΩ at 250 V.
pub const OPEN: f64 = 1e6;

/// How far a supply may lie from its nominal volts where its own limits are not stated, as a share. Our own choice.
pub const SUPPLY: f64 = 0.05;

/// Up to so many times its nominal volts a charged battery may read where its own limits are not stated. From memory, for
/// each cell at rest: lead-acid 2.10 to 2.15 V of 2.0 V, so 12.6 to 12.9 V of 12 V; lithium iron phosphate up to 3.4 V of
/// 3.2 V; nickel-metal hydride up to 1.4 V of 1.2 V and lithium-ion up to 4.2 V of 3.6 V, which are the highest.
pub const CHARGED: f64 = 7.0 / 6.0;

/// How far the volts at a device may lie from those worked out, as a share. Our own choice.
pub const AT_DEVICE: f64 = 0.05;

/// The kinds of row.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// What to mind, and what must not be done.
    Caution,
    /// Looking, power off.
    Look,
    /// Ohms of a core.
    Continuity,
    /// Conductors that must be apart.
    Short,
    /// Insulation.
    Insulation,
    /// Which pole goes where.
    Polarity,
    /// Ohms of a watched loop.
    Loop,
    /// Ohms across a bus.
    Bus,
    /// A source alone.
    Supply,
    /// Volts at a device that draws nothing yet.
    NoLoad,
    /// Volts at a device in the worst state.
    WorstCase,
    /// Amps of a circuit.
    Current,
    /// An input at rest.
    Input,
    /// A line of cause and effect.
    Effect,
}

impl Kind {
    /// The word in the table.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Caution => "caution",
            Self::Look => "look",
            Self::Continuity => "continuity",
            Self::Short => "no short",
            Self::Insulation => "insulation",
            Self::Polarity => "polarity",
            Self::Loop => "loop",
            Self::Bus => "bus",
            Self::Supply => "supply alone",
            Self::Current => "current",
            Self::NoLoad => "no load",
            Self::WorstCase => "worst case",
            Self::Input => "input",
            Self::Effect => "cause and effect",
        }
    }
}

/// What a test must give.
#[derive(Clone, Debug, PartialEq)]
pub enum Expect {
    /// Nothing is measured.
    Nothing,
    /// A word: `yes`, `open`, `closed`. With a limit where a meter gives a figure.
    Word {
        /// The word.
        word: &'static str,
        /// The figure from which on it is so.
        low: Option<f64>,
        /// The figure up to which it is so.
        high: Option<f64>,
    },
    /// A figure.
    Figure {
        /// As worked out.
        value: f64,
        /// The lowest that passes.
        low: f64,
        /// The highest that passes.
        high: f64,
    },
}

/// One row.
#[derive(Clone, Debug, PartialEq)]
pub struct Test {
    /// What kind of test.
    pub kind: Kind,
    /// The points to touch, or what it is about.
    pub at: String,
    /// Which meter, what to set, what to mind.
    pub how: String,
    /// What it must give.
    pub expect: Expect,
    /// The unit of its figures.
    pub unit: &'static str,
    /// What the solver was asked, where it was: the condition and the points.
    pub probe: Option<(Pose, Probe)>,
}

impl Test {
    fn new(
        kind: Kind,
        at: impl Into<String>,
        how: impl Into<String>,
        expect: Expect,
        unit: &'static str,
    ) -> Self {
        Self { kind, at: at.into(), how: how.into(), expect, unit, probe: None }
    }

    fn probed(self, pose: &Pose, probe: Probe) -> Self {
        Self { probe: Some((pose.clone(), probe)), ..self }
    }

    /// Whether what the job as it is written gives lies within the limits.
    fn passes(&self) -> bool {
        match self.expect {
            Expect::Figure { value, low, high } => met(value, low) && met(-value, -high),
            _ => true,
        }
    }

    /// The lowest and the highest figure that passes.
    #[must_use]
    pub fn limits(&self) -> (Option<f64>, Option<f64>) {
        match self.expect {
            Expect::Nothing => (None, None),
            Expect::Word { low, high, .. } => (low, high),
            Expect::Figure { low, high, .. } => (Some(low), Some(high)),
        }
    }
}

impl Expect {
    fn word(word: &'static str) -> Self {
        Self::Word { word, low: None, high: None }
    }

    /// Apart, or not joined at all.
    fn open() -> Self {
        Self::Word { word: "open", low: Some(OPEN), high: None }
    }

    /// A figure in ohms with the limits of a dead test.
    fn ohms(value: f64) -> Self {
        let slack = (OHMS * value).max(METER);
        Self::figure(value, (value - slack).max(0.0), value + slack)
    }

    /// A figure with its limits, rounded to what a table shows.
    fn figure(value: f64, low: f64, high: f64) -> Self {
        Self::Figure { value: rounded(value), low: rounded(low), high: rounded(high) }
    }
}

/// To five significant digits, more than any hand meter shows; what no hand meter shows at all is 0.
fn rounded(value: f64) -> f64 {
    if value.abs() < 1e-4 {
        return 0.0;
    }
    format!("{value:.4e}").parse().unwrap_or(value)
}

/// The tests of a job in their order. `findings` are what the check found.
#[must_use]
pub fn tests(job: &Job, circuit: &Circuit, findings: &[Finding]) -> Vec<Test> {
    let limited = live::with_limits(job);
    let stand = Stand::of(&limited, circuit);
    let mut tests = Vec::new();
    cautions::add(job, findings, &mut tests);
    dead::add(&stand, circuit, &mut tests);
    live::add(&stand, circuit, &mut tests);
    effects::add(&stand, &mut tests);
    tests.iter_mut().for_each(contradicted);
    tests
}

/// Whether a value reaches a lower limit; one that is met to a thousandth is met.
fn met(value: f64, low: f64) -> bool {
    value >= low - 1e-3 * low.abs()
}

/// Says so where the job as it is written gives a value that does not pass.
fn contradicted(test: &mut Test) {
    if !test.passes() {
        test.how.push_str(" As the job is written this does not pass; the check says why.");
    }
}

const COLUMNS: &[Column] = &[
    Column::number("step", "Step"),
    Column::text("kind", "Kind"),
    Column::text("at", "At"),
    Column::text("how", "How"),
    Column::number("expect", "Expect"),
    Column::text("unit", "Unit"),
    Column::number("low", "Low"),
    Column::number("high", "High"),
    Column::number("measured", "Measured"),
];

/// The test sheet as a table; `measured` is empty for whoever tests.
#[must_use]
pub fn tests_table(tests: &[Test]) -> Table {
    let figure = |value: Option<f64>| value.map_or(Cell::Blank, Cell::Number);
    let words = |text: &str| Cell::Text(text.to_owned());
    let rows = (1..).zip(tests).map(|(step, test)| {
        let expect = match &test.expect {
            Expect::Nothing => Cell::Blank,
            Expect::Word { word, .. } => words(word),
            Expect::Figure { value, .. } => Cell::Number(*value),
        };
        let (low, high) = test.limits();
        vec![
            Cell::Number(f64::from(step)),
            words(test.kind.word()),
            words(&test.at),
            words(&test.how),
            expect,
            words(test.unit),
            figure(low),
            figure(high),
            Cell::Blank,
        ]
    });
    Table { columns: COLUMNS, rows: rows.collect() }
}
