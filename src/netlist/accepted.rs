//! The findings that a job accepts.

use super::cables::Cables;
use super::intents::items;
use super::names::Directory;
use super::{Accepted, AcceptedAt};
use crate::syntax::{Faults, Fields, Said, Value};

/// Reads `accepted:`. Whether a rule of that name exists, and may be accepted, is for the checks to say.
pub fn read(
    value: Option<Value<'_>>,
    cables: &Cables,
    directory: &Directory<'_>,
    faults: &mut Faults,
) -> Vec<Accepted> {
    let mut found = Vec::new();
    for item in items(value, "`accepted`", faults) {
        let Some(mut fields) = Fields::open(item, "an accepted finding", faults) else { continue };
        let rule = fields.needed_text("rule", faults);
        let at = fields.needed_text("at", faults);
        let because = fields.needed_text("because", faults);
        fields.finish(faults);
        let (Some(rule), Some(at), Some(because)) = (rule, at, because) else { continue };
        let Some(at) = accepted_at(at, cables, directory, faults) else { continue };
        found.push(Accepted {
            rule: rule.text.to_owned(),
            at,
            because: because.text.to_owned(),
            place: item.place,
        });
    }
    found
}

fn accepted_at(
    said: Said<'_>,
    cables: &Cables,
    directory: &Directory<'_>,
    faults: &mut Faults,
) -> Option<AcceptedAt> {
    let text = said.text.trim();
    if let Some(device) = directory.device(text) {
        return Some(AcceptedAt::Device(device));
    }
    if let Some(cable) = cables.find(text) {
        return Some(AcceptedAt::Cable(cable));
    }
    if let Some(core) = cables.find_core(text) {
        return Some(AcceptedAt::Core(core));
    }
    if text.split_once('.').is_some_and(|(device, _)| directory.device(device).is_some()) {
        return directory.terminal(said, faults).map(AcceptedAt::Terminal);
    }
    let fix = match faults.nearest(text, directory.device_names().chain(cables.names())) {
        Some(near) => format!("did you mean `{near}`?"),
        None => "write a device, a terminal (`K1.NO1`), a cable or a core (`W2.blue`)".to_owned(),
    };
    faults.error(said.place, format!("there is no device, terminal, cable or core `{text}`"), fix);
    None
}
