//! Which devices and cables are still there under another name.

use std::collections::BTreeMap;

use super::record::{Record, Spot};

/// Renames devices and cables of the design to what the as-built calls them, and says which: `device`, old, new.
pub fn renames(design: &mut Record, built: &Record) -> Vec<(&'static str, String, String)> {
    let mut all = Vec::new();
    // A cable that is recognised helps to recognise the device at its end, and the other way round.
    while let Some((kind, old, new)) = next(design, built) {
        match kind {
            "device" => design.rename_device(&old, &new),
            _ => design.rename_cable(&old, &new),
        }
        all.push((kind, old, new));
    }
    all
}

/// The surest rename that is left.
fn next(design: &Record, built: &Record) -> Option<(&'static str, String, String)> {
    let mut found: Vec<(f64, &'static str, &String, &String)> = Vec::new();
    for (kind, old, new) in
        [("device", &design.devices, &built.devices), ("cable", &design.cables, &built.cables)]
    {
        for (gone, facts) in old.iter().filter(|(name, _)| !new.contains_key(*name)) {
            for (come, others) in new.iter().filter(|(name, _)| !old.contains_key(*name)) {
                let score = match kind {
                    "device" => device_score((design, gone, facts), (built, come, others)),
                    _ => cable_score((design, gone, facts), (built, come, others)),
                };
                found.extend(score.map(|score| (score, kind, gone, come)));
            }
        }
    }
    // The best, and of equals the first in the order of names.
    let best = found.into_iter().reduce(|best, one| if one.0 > best.0 { one } else { best });
    best.map(|(_, kind, old, new)| (kind, old.clone(), new.clone()))
}

type Side<'a> = (&'a Record, &'a String, &'a BTreeMap<String, String>);

/// How alike the facts of two things are, from 0 to 1.
fn alike(a: &BTreeMap<String, String>, b: &BTreeMap<String, String>) -> f64 {
    let same = a.iter().filter(|(fact, value)| b.get(*fact) == Some(value)).count();
    share(same, a.len().max(b.len()))
}

#[expect(clippy::cast_precision_loss, reason = "counts of facts and cores are small")]
fn share(part: usize, of: usize) -> f64 {
    if of == 0 { 1.0 } else { part as f64 / of as f64 }
}

/// What lands on a device, without its name: terminal, cable, core, and where the other end goes.
fn landings<'a>((record, name, _): Side<'a>) -> Vec<[&'a str; 3]> {
    let mut all = Vec::new();
    for ((cable, core), ends) in &record.cores {
        for end in ends {
            if let Spot::At(device, terminal) = end
                && device == name
            {
                all.push([terminal.as_str(), cable.as_str(), core.as_str()]);
            }
        }
    }
    for ends in &record.links {
        for (end, other) in [(&ends[0], &ends[1]), (&ends[1], &ends[0])] {
            if let (Spot::At(device, terminal), Spot::At(far, at)) = (end, other)
                && device == name
            {
                all.push([terminal.as_str(), far.as_str(), at.as_str()]);
            }
        }
    }
    all
}

fn device_score(old: Side<'_>, new: Side<'_>) -> Option<f64> {
    if old.2.get("") != new.2.get("") || old.2.get("terminals") != new.2.get("terminals") {
        return None;
    }
    let (before, after) = (landings(old), landings(new));
    let same = before.iter().filter(|landing| after.contains(landing)).count();
    let kept = share(same, before.len().max(after.len()));
    let facts = alike(old.2, new.2);
    (kept >= 0.5 && facts >= 0.5).then_some(2.0 * kept + facts)
}

fn cable_score(old: Side<'_>, new: Side<'_>) -> Option<f64> {
    let cores = |(record, name, _): Side<'_>| -> Vec<(String, [Spot; 2])> {
        let own = record.cores.iter().filter(|((cable, _), _)| cable == name);
        own.map(|((_, core), ends)| (core.clone(), ends.clone())).collect()
    };
    if old.2.get("") != new.2.get("") {
        return None;
    }
    let (before, after) = (cores(old), cores(new));
    // Ends one by one, so that a cable is known again although the device at its other end is called otherwise now.
    let same: usize = before
        .iter()
        .filter_map(|(core, ends)| {
            after.iter().find(|(other, _)| other == core).map(|(_, with)| (ends, with))
        })
        .map(|(ends, with)| ends.iter().filter(|end| with.contains(end)).count())
        .sum();
    let kept = share(same, 2 * before.len().max(after.len()));
    let facts = alike(old.2, new.2);
    (kept >= 0.5 && facts >= 0.5).then_some(2.0 * kept + facts)
}
