//! Volts and amps that the changes moved.

use std::collections::BTreeMap;

use super::Checked;
use crate::netlist::{Job, Kind};

/// Smaller differences, in volts or amps and as a share, count as none.
const LEAST: f64 = 0.001;
const LEAST_SHARE: f64 = 0.005;

/// A figure of the worst state that is not what it was.
#[derive(Clone, Debug, PartialEq)]
pub struct Moved {
    /// `E1, lowest volts`, by the name in the as-built.
    pub what: String,
    /// In the design; `None` where it has none.
    pub before: Option<f64>,
    /// In the as-built.
    pub after: Option<f64>,
    /// `V` or `A`.
    pub unit: &'static str,
}

type Figures = BTreeMap<(String, &'static str), f64>;

/// The figures that differ. `name` turns a name of the design into the as-built's.
#[must_use]
pub fn moved(design: Checked<'_>, built: Checked<'_>, name: &dyn Fn(&str) -> String) -> Vec<Moved> {
    let (before, after) = (figures(design, name), figures(built, &|name| name.to_owned()));
    let mut keys: Vec<&(String, &'static str)> = before.keys().chain(after.keys()).collect();
    keys.sort();
    keys.dedup();
    let all = keys.into_iter().map(|key| Moved {
        what: key.0.clone(),
        before: before.get(key).copied(),
        after: after.get(key).copied(),
        unit: key.1,
    });
    all.filter(|moved| match (moved.before, moved.after) {
        (Some(a), Some(b)) => (a - b).abs() > LEAST.max(LEAST_SHARE * a.abs().max(b.abs())),
        _ => true,
    })
    .collect()
}

fn figures(side: Checked<'_>, name: &dyn Fn(&str) -> String) -> Figures {
    let Checked { job, circuit, .. } = side;
    let survey = circuit.survey(job);
    let mut all = Figures::new();
    for (id, part) in job.part_ids() {
        let called = renamed(job, id, name);
        match &part.kind {
            Kind::Load(_) | Kind::Coil(_) => {
                if let Some(fed) = survey.fed(id) {
                    all.insert((format!("{called}, lowest volts"), "V"), fed.lowest.value.0);
                }
            }
            Kind::Source(_) | Kind::Fuse(_) => {
                if let Some(worst) = survey.part(id) {
                    all.insert((format!("{called}, most amps"), "A"), worst.value.0);
                }
            }
            _ => {}
        }
    }
    for (id, cable) in job.cable_ids() {
        if let Some(drop) = circuit.losses(job).cable(job, id) {
            all.insert((format!("{}, largest drop", name(&cable.name)), "V"), drop.volts.0);
        }
    }
    all
}

/// A part by the name of its device in the as-built.
fn renamed(job: &Job, id: crate::netlist::PartId, name: &dyn Fn(&str) -> String) -> String {
    let device = &job.device(job.part(id).device).name;
    job.part_label(id).replacen(device.as_str(), &name(device), 1)
}
