//! The lines of text inside a device: what no symbol says.

use super::graphic::{Use, graphic};
use crate::lettering;
use crate::netlist::{
    Active, AnalogueKind, AnalogueRole, Current, DeviceId, DryInput, Input, Job, Kind, Load, Lock, LoopValue,
    Output, Part, Pole, Source, Supervised, Takes, TerminalId,
};
use crate::units::Span;

/// The lines of a device, each to be wrapped to the width of its box.
pub(super) fn lines(job: &Job, device: DeviceId) -> Vec<String> {
    let entry = job.device(device);
    let parts: Vec<&Part> = entry.parts.iter().filter_map(|p| job.parts.get(p as usize)).collect();
    let mut lines: Vec<String> = Vec::new();
    let mut said: Vec<(String, Vec<&str>)> = Vec::new();
    let asked = entry.symbol.as_deref().and_then(graphic);
    let drawn_loads = asked.is_some_and(|g| g.stands_for == Use::Load);
    let lone = |part: &Part| {
        let same = |p: &&&Part| std::mem::discriminant(&p.kind) == std::mem::discriminant(&part.kind);
        parts.iter().filter(same).count() == 1
    };
    for part in &parts {
        let Some(words) = words(job, &parts, part, drawn_loads) else { continue };
        // The names that settings and cause-and-effect lines use are told; else only those that tell two apart.
        let named =
            matches!(part.kind, Kind::Input(_) | Kind::DryInput(_) | Kind::Supervised(_)) || !lone(part);
        if !named {
            lines.push(words);
            continue;
        }
        match said.iter_mut().find(|(w, _)| *w == words) {
            Some((_, names)) => names.push(&part.name),
            None => {
                // A placeholder keeps the place of the first; the names are filled in below.
                lines.push(words.clone());
                said.push((words, vec![&part.name]));
            }
        }
    }
    for (words, names) in &said {
        if let Some(line) = lines.iter_mut().find(|l| *l == words) {
            let words = match words.strip_prefix("operates ") {
                Some(rest) if names.len() > 1 => format!("operate {rest}"),
                _ => words.clone(),
            };
            *line = format!("{}: {words}", listed(names));
        }
    }
    lines.extend(existing(job, &parts));
    if entry.rest_operated {
        lines.push("drawn operated".to_owned());
    }
    lines.extend(locks(&parts));
    lines
}

/// Names in a row; four or more that count up by one are told by the first and the last.
pub fn listed(names: &[&str]) -> String {
    let counted = |name: &str| -> Option<(String, u32)> {
        let stem = name.trim_end_matches(|c: char| c.is_ascii_digit());
        Some((stem.to_owned(), name.get(stem.len()..)?.parse().ok()?))
    };
    let follows = |pair: &[&str]| match pair {
        [a, b] => match (counted(a), counted(b)) {
            (Some((stem, n)), Some((next, m))) => stem == next && n.checked_add(1) == Some(m),
            _ => false,
        },
        _ => false,
    };
    match names {
        [first, _, _, .., last] if names.windows(2).all(follows) => format!("{first} … {last}"),
        _ => names.join(", "),
    }
}

fn words(job: &Job, parts: &[&Part], part: &Part, drawn_loads: bool) -> Option<String> {
    match &part.kind {
        Kind::Source(s) => source(s),
        Kind::Load(l) => load(l).map(|words| if drawn_loads { words } else { format!("supply {words}") }),
        Kind::Input(i) => Some(input(job, parts, i)),
        Kind::DryInput(d) => Some(dry_input(d)),
        Kind::Output(o) => Some(output(job, o)),
        Kind::Supervised(s) => supervised(s),
        Kind::Contact(c) => {
            let worked = parts.iter().any(|p| matches!(p.kind, Kind::Coil(_) | Kind::Input(_)));
            let rating = [c.volts.map(|v| v.to_string()), c.amps.map(|a| a.to_string())];
            let rating: Vec<String> = rating.into_iter().flatten().collect();
            (worked && !rating.is_empty()).then(|| format!("contact {}", rating.join(", ")))
        }
        Kind::Coil(c) => {
            let values = [c.volts.map(|r| r.to_string()), c.draw.map(|d| d.to_string())];
            let values: Vec<String> = values.into_iter().flatten().collect();
            (!values.is_empty()).then(|| format!("coil {}", values.join(", ")))
        }
        Kind::TwoWire(t) => {
            let values =
                [t.drop.map(|v| format!("keeps {v} when on")), t.leak.map(|a| format!("leaks {a} when off"))];
            let values: Vec<String> = values.into_iter().flatten().collect();
            (!values.is_empty()).then(|| values.join(", "))
        }
        Kind::Analogue(a) => {
            let kind = match a.kind {
                AnalogueKind::Loop => "4–20 mA",
                AnalogueKind::Volts => "0–10 V",
            };
            let role = match a.role {
                Some(AnalogueRole::Transmitter) => ", sends",
                Some(AnalogueRole::Receiver) => ", reads",
                Some(AnalogueRole::Command) => ", commands",
                Some(AnalogueRole::Follow) => ", follows",
                None => "",
            };
            let feeds = match a.drives_self {
                Some(true) => ", feeds its loop",
                _ => "",
            };
            Some(format!("{kind}{role}{feeds}"))
        }
        _ => None,
    }
}

fn source(s: &Source) -> Option<String> {
    let kind = if s.current == Current::Ac { "AC" } else { "DC" };
    let values = [
        s.volts.map(|v| format!("{v} {kind}")),
        s.amps.map(|a| format!("up to {a}")),
        s.ah.map(|ah| ah.to_string()),
        s.fused.map(|a| format!("fuse {a} inside")),
    ];
    let values: Vec<String> = values.into_iter().flatten().collect();
    (!values.is_empty()).then(|| values.join(", "))
}

fn load(l: &Load) -> Option<String> {
    let kind = match l.takes {
        Takes::Dc => " DC",
        Takes::Ac => " AC",
        Takes::Any => "",
    };
    let values = [l.volts.map(|r| format!("{r}{kind}")), l.draw.map(|d| d.to_string())];
    let values: Vec<String> = values.into_iter().flatten().collect();
    (!values.is_empty()).then(|| values.join(", "))
}

fn input(job: &Job, parts: &[&Part], i: &Input) -> String {
    let name = |t: TerminalId| job.terminal(t).name.as_str();
    // The supply terminals of the device itself say what "low" and "high" are.
    let supply = parts.iter().find_map(|p| match &p.kind {
        Kind::Load(l) if l.plus == i.common || l.minus == i.common => Some((l.plus, l.minus)),
        Kind::Source(s) if s.plus == i.common || s.minus == i.common => Some((s.plus, s.minus)),
        _ => None,
    });
    match (i.active, supply) {
        (Active::Low, Some((_, minus))) => format!("operates when joined to {}", name(minus)),
        (Active::High, Some((plus, _))) => format!("operates when joined to {}", name(plus)),
        (Active::Low, None) => format!("operates at 0 V of the supply of {}", name(i.common)),
        (Active::High, None) => format!("operates at + of the supply of {}", name(i.common)),
        (Active::Either, _) => {
            let at = i.volts.map_or_else(|| "voltage".to_owned(), |r| r.to_string());
            format!("operates on {at} against {}, either way round", name(i.common))
        }
    }
}

fn dry_input(d: &DryInput) -> String {
    let kind = if d.safety { "safety, volt-free" } else { "volt-free" };
    match d.momentary {
        Some(Span { low, high }) => format!("{kind}, pulse {}–{} s", trimmed(low.0), trimmed(high.0)),
        None => kind.to_owned(),
    }
}

fn output(job: &Job, o: &Output) -> String {
    let sense = if o.drives == Pole::Minus { "NPN" } else { "PNP" };
    let rating = o.amps.map(|a| format!(", up to {a}")).unwrap_or_default();
    format!("{sense}, switches to {}{rating}", job.terminal(o.common).name)
}

fn supervised(s: &Supervised) -> Option<String> {
    let value = |word: &str, v: Option<LoopValue>| v.map(|v| format!("{word} {v}"));
    let values = [value("rest", s.rest), value("alarm", s.alarm), value("tamper", s.tamper)];
    let values: Vec<String> = values.into_iter().flatten().collect();
    (!values.is_empty()).then(|| format!("loop, {}", values.join(", ")))
}

/// One line for all that is wired outside this job.
fn existing(job: &Job, parts: &[&Part]) -> Option<String> {
    let mut terminals: Vec<TerminalId> =
        parts.iter().filter(|p| p.existing).flat_map(|p| super::sides::terminals(&p.kind)).collect();
    terminals.sort();
    terminals.dedup();
    let names: Vec<&str> = terminals.iter().map(|t| job.terminal(*t).name.as_str()).collect();
    (!names.is_empty()).then(|| format!("{}: existing, not touched", names.join(", ")))
}

fn locks(parts: &[&Part]) -> Option<String> {
    parts.iter().find_map(|p| match &p.kind {
        Kind::Load(Load { lock: Some(Lock::LocksPowered), .. }) => Some("locks while powered".to_owned()),
        Kind::Load(Load { lock: Some(Lock::LocksDead), .. }) => Some("frees while powered".to_owned()),
        _ => None,
    })
}

/// At most three decimals, no trailing zeros.
fn trimmed(value: f64) -> String {
    let text = format!("{value:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Breaks a line between words so that each piece is at most `room` wide, as `width` measures, and no wider than the
/// number of pieces asks for; a longer word stays whole.
pub(super) fn wrapped(line: &str, room: f64, width: impl Fn(&str) -> f64) -> Vec<String> {
    let mut best = broken(line, room, &width);
    let count = best.len();
    let mut narrower = room - 1.0;
    while count > 1 && narrower > room / 2.0 {
        let pieces = broken(line, narrower, &width);
        if pieces.len() > count {
            break;
        }
        best = pieces;
        narrower -= 1.0;
    }
    best
}

fn broken(line: &str, room: f64, width: impl Fn(&str) -> f64) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    for word in line.split_whitespace() {
        match words.last_mut() {
            // `at rest` stays together.
            Some(last) if last == "at" && word.starts_with("rest") => *last = format!("at {word}"),
            _ => words.push(word.to_owned()),
        }
    }
    let mut pieces: Vec<String> = Vec::new();
    for word in words {
        match pieces.last_mut() {
            Some(last)
                if lettering::UNIT_SIGNS.contains(&word.trim_end_matches(','))
                    || width(&format!("{last} {word}")) <= room =>
            {
                last.push(' ');
                last.push_str(&word);
            }
            _ => pieces.push(word),
        }
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_count_up_are_told_by_the_first_and_the_last() {
        assert_eq!(listed(&["IN1", "IN2", "IN3", "IN4"]), "IN1 … IN4");
        assert_eq!(listed(&["IN1", "IN2"]), "IN1, IN2");
        assert_eq!(listed(&["IN1", "IN2", "IN4", "IN5"]), "IN1, IN2, IN4, IN5");
        assert_eq!(listed(&["1", "2", "3", "A4"]), "1, 2, 3, A4");
    }

    #[test]
    fn lines_are_broken_evenly() {
        let width = |t: &str| t.chars().count() as f64;
        assert_eq!(wrapped("one two three four", 16.0, width), ["one two", "three four"]);
        assert_eq!(wrapped("one two", 16.0, width), ["one two"]);
        assert_eq!(wrapped("extraordinarily so", 9.0, width), ["extraordinarily", "so"]);
        assert_eq!(wrapped("reads 0 V at rest", 12.0, width), ["reads 0 V", "at rest"]);
    }
}
