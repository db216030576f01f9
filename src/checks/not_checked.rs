//! A check was left out because a figure is missing.
//!
//! ## On site
//!
//! Nothing is known to be wrong. The program did not look, because the job file does not say enough, and it tells you
//! so instead of passing in silence.
//!
//! ## Why
//!
//! A length, a current or a rating that nobody wrote down is the one that was never thought about. A check that was
//! left out must not look like one that was passed.
//!
//! ## Example
//!
//! ```yaml
//! cables:
//!   W2: {type: alarm-4x0.22, cores: {red: [G1.V+, H1.V+], black: [G1.V-, H1.V-], blue: taped, white: taped}}
//! ```
//!
//! W2 has no `length:`, so the volts that it loses cannot be worked out.
//!
//! ## Cure
//!
//! Write the missing figure into the job file. The note names it and the checks that wait for it. Where the figure
//! cannot be had, measure on site.
//!
//! ## Limits
//!
//! The note says what is missing, not whether it would have mattered.
//!
//! ## Sources
//!
//! Common practice, no source.

use std::collections::BTreeMap;

use crate::circuit::Circuit;
use crate::netlist::Job;

use super::report::{Draft, Report, listed};

/// Draws the notes of one missing figure together into one that names every check that waits for it.
pub(super) fn run(_: &Job, _: &Circuit, report: &mut Report) {
    let drafts = report.drafts();
    let mut gathered: Vec<(Box<Draft>, Vec<&'static str>)> = Vec::new();
    let mut known: BTreeMap<String, usize> = BTreeMap::new();
    let mut others = Vec::new();
    for draft in drafts.drain(..) {
        let Some(by) = draft.wanted_by.map(|rule| rule.name) else {
            others.push(draft);
            continue;
        };
        match known.get(&*draft.finding.message.words()).and_then(|at| gathered.get_mut(*at)) {
            Some((_, rules)) if rules.contains(&by) => {}
            Some((_, rules)) => rules.push(by),
            None => {
                known.insert(draft.finding.message.to_string(), gathered.len());
                gathered.push((draft, vec![by]));
            }
        }
    }
    for (mut draft, rules) in gathered {
        let verb = if rules.len() == 1 { "was" } else { "were" };
        let message = &mut draft.finding.message;
        message.push_str(&format!(", so {} {verb} not checked", listed(&rules)));
        others.push(draft);
    }
    *drafts = others;
}
