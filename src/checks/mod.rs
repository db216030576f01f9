//! The rules, one file each, and their registry.
//!
//! A rule is one file, one line in the list below and one fixture `tests/rules/<rule>.yaml`. The file's `//!` text is
//! the rule's manual page, `run` is its condition, message and fix. The first line of the page is its summary.
//!
//! `cargo fmt` does not follow the list: format the files with `rustfmt --edition 2024 src/checks/*.rs`.

mod astray;
mod changes;
mod closing;
mod culprit;
mod far_ends;
mod fed;
mod lines;
mod loose;
mod lost_feed;
mod operates;
mod precedence;
mod remedy;
mod report;
mod screens;
mod standing;
mod telling;
mod unstated;

use std::cmp::Reverse;

use crate::circuit::Circuit;
use crate::diagnostic::{Finding, Severity};
use crate::netlist::Job;
use crate::syntax::nearest;

use report::Report;

/// One rule.
pub struct Rule {
    /// Its name, such as `short-circuit`.
    pub name: &'static str,
    /// The severity of its gravest finding.
    pub severity: Severity,
    source: &'static str,
    run: fn(&Job, &Circuit, &mut Report),
}

macro_rules! rules {
    ($($module:ident $name:literal $severity:ident,)*) => {
        $(mod $module;)*

        /// All rules, in the order in which they run. The order counts: some, the last ones above all, look at what those before
        /// them found (`Report`), and of findings alike in gravity and place the first rule's stands first.
        pub static RULES: &[Rule] = &[$(Rule {
            name: $name,
            severity: Severity::$severity,
            source: include_str!(concat!(stringify!($module), ".rs")),
            run: $module::run,
        },)*];
    };
}

rules! {
    unreadable "unreadable" Error,
    hides_type "hides-type" Note,
    unknown_symbol "unknown-symbol" Note,
    cut_by_comment "cut-by-comment" Note,
    above_elv "above-elv" Danger,
    mixed_voltages "mixed-voltages" Danger,
    safety_bridged "safety-bridged" Danger,
    release_not_a_cut "release-not-a-cut" Danger,
    lock_state "lock-state" Danger,
    unfused_battery "unfused-battery" Danger,
    earth_colour "earth-colour" Danger,
    short_circuit "short-circuit" Error,
    reversed_diode "reversed-diode" Error,
    relies_on_interlock "relies-on-interlock" Note,
    parallel_supplies "parallel-supplies" Error,
    reversed_polarity "reversed-polarity" Error,
    wrong_voltage "wrong-voltage" Error,
    open_return "open-return" Error,
    unpowered "unpowered" Error,
    voltage_on_dry_input "voltage-on-dry-input" Error,
    no_common "no-common" Error,
    sink_source_mismatch "sink-source-mismatch" Error,
    contact_type "contact-type" Error,
    floating_input "floating-input" Error,
    latched_trigger "latched-trigger" Warning,
    chattering "chattering" Error,
    volt_drop "volt-drop" Error,
    supply_overload "supply-overload" Error,
    fuse_overload "fuse-overload" Error,
    cable_overcurrent "cable-overcurrent" Error,
    contact_overload "contact-overload" Error,
    eol_value "eol-value" Error,
    eol_place "eol-place" Warning,
    loop_supply "loop-supply" Error,
    two_wire_leak "two-wire-leak" Warning,
    back_feed "back-feed" Warning,
    shared_return "shared-return" Warning,
    effect_not_met "effect-not-met" Error,
    unsuppressed_coil "unsuppressed-coil" Warning,
    unterminated_core "unterminated-core" Error,
    unsafe_lead "unsafe-lead" Warning,
    cut_aerial "cut-aerial" Error,
    terminal_overfilled "terminal-overfilled" Warning,
    contact_number "contact-number" Error,
    drivers_joined "drivers-joined" Error,
    analogue_mismatch "analogue-mismatch" Error,
    swapped_pair "swapped-pair" Error,
    split_pair "split-pair" Warning,
    exclusive_together "exclusive-together" Warning,
    bus_shape "bus-shape" Warning,
    screen_both_ends "screen-both-ends" Warning,
    screen_open "screen-open" Warning,
    earthed_twice "earthed-twice" Warning,
    pole_colour "pole-colour" Warning,
    unconnected_device "unconnected-device" Warning,
    unused_wired "unused-wired" Note,
    bypassed "bypassed" Note,
    half_wired "half-wired" Note,
    idle_source "idle-source" Note,
    core_direction "core-direction" Warning,
    not_checked "not-checked" Note,
    accepted_nothing "accepted-nothing" Warning,
}

/// The rule of that name.
#[must_use]
pub fn rule(name: &str) -> Option<&'static Rule> {
    RULES.iter().find(|rule| rule.name == name)
}

/// The nearest rule's name to one that is not known.
#[must_use]
pub fn suggestion(name: &str) -> Option<&'static str> {
    nearest(name, RULES.iter().map(|rule| rule.name))
}

/// Holds every rule against a job. The gravest findings come first, then in the order of the file.
#[must_use]
pub fn run(job: &Job, circuit: &Circuit) -> Vec<Finding> {
    let mut findings = remedy::tried(job, circuit, untried(job, circuit), &untried);
    findings.sort_by_cached_key(|finding| {
        let place = finding.labels.first().map(|label| label.place);
        let at = place.map(|place| (place.file(), place.start));
        (Reverse(finding.severity), at, rank(finding.rule))
    });
    findings
}

/// What the rules find, in their order, without any cure tried: enough where only what is wrong counts.
#[must_use]
pub fn untried(job: &Job, circuit: &Circuit) -> Vec<Finding> {
    let mut report = Report::default();
    for rule in RULES {
        report.begin(rule);
        (rule.run)(job, circuit, &mut report);
    }
    precedence::one_a_mistake(job, report.into_drafts())
}

fn rank(name: &str) -> usize {
    RULES.iter().position(|rule| rule.name == name).unwrap_or(RULES.len())
}

impl Rule {
    /// The manual page, in Markdown: the `//!` text of the rule's own file under its name.
    #[must_use]
    pub fn manual(&self) -> String {
        let mut page = format!("# {} ({})\n\n", self.name, self.severity.word());
        for line in self.lines() {
            page.push_str(line);
            page.push('\n');
        }
        page
    }

    /// The first line of the manual page.
    #[must_use]
    pub fn summary(&self) -> &'static str {
        self.lines().next().unwrap_or_default()
    }

    fn lines(&self) -> impl Iterator<Item = &'static str> + use<> {
        self.source
            .lines()
            .map_while(|line| line.strip_prefix("//!"))
            .map(|line| line.strip_prefix(' ').unwrap_or(line))
    }
}
