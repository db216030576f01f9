//! How the things of a job are called in print.

use std::fmt;

use super::{Active, CauseLine, Condition, Draw, Job, Kind, LoopValue, OnLoss, PartId, Pole, Pull, Takes};

impl Job {
    /// A part as it is called on site: a source, load, coil or contact by its device where that has one of the kind,
    /// anything else by its device where that has nothing else in it; else `A1.START`.
    #[must_use]
    pub fn part_label(&self, id: PartId) -> String {
        let part = self.part(id);
        let device = self.device(part.device);
        let kind = std::mem::discriminant(&part.kind);
        let plain = matches!(part.kind, Kind::Source(_) | Kind::Load(_) | Kind::Coil(_) | Kind::Contact(_));
        let mut others = device.parts.iter().map(PartId).filter(|other| *other != id);
        if others.any(|other| !plain || std::mem::discriminant(&self.part(other).kind) == kind) {
            format!("{}.{}", device.name, part.name)
        } else {
            device.name.to_string()
        }
    }

    /// A condition as one would say it: `K1.OUT1 operated`.
    #[must_use]
    pub fn condition_words(&self, condition: &Condition) -> String {
        let name = match condition.part {
            Some(part) => self.part_label(part),
            None => self.device(condition.device).name.to_string(),
        };
        format!("{name} {}", condition.state.word())
    }

    /// The cause of a line as it is done on site: `with S1 operated`; `after S1 operated, then S1 at rest, and with S0
    /// operated`.
    #[must_use]
    pub fn cause_words(&self, line: &CauseLine) -> String {
        let words = |all: &[Condition]| -> Vec<String> {
            all.iter().map(|condition| self.condition_words(condition)).collect()
        };
        let (first, when) = (words(&line.first).join(", then "), listed(&words(&line.when)));
        match (first.is_empty(), when.is_empty()) {
            (true, true) => "at rest".to_owned(),
            (true, false) => format!("with {when}"),
            (false, true) => format!("after {first}"),
            (false, false) => format!("after {first}, and with {when}"),
        }
    }
}

/// `a, b and c`.
#[must_use]
pub fn listed<W: AsRef<str>>(words: &[W]) -> String {
    let words: Vec<&str> = words.iter().map(AsRef::as_ref).collect();
    match words.as_slice() {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

impl fmt::Display for Draw {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Amps(amps) => amps.fmt(f),
            Self::Ohms(ohms) => f.write_str(&ohms.short()),
            Self::Watts(watts) => watts.fmt(f),
        }
    }
}

impl fmt::Display for LoopValue {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Ohms(ohms) => f.write_str(&ohms.short()),
            Self::Open => f.write_str("open"),
            Self::Shorted => f.write_str("shorted"),
        }
    }
}

impl OnLoss {
    /// The word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Locked => "locked",
            Self::Unlocked => "unlocked",
        }
    }
}

impl Takes {
    /// The word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Dc => "DC",
            Self::Ac => "AC",
            Self::Any => "any",
        }
    }
}

impl Active {
    /// The word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Low => "low",
            Self::High => "high",
            Self::Either => "either",
        }
    }
}

impl Pull {
    /// The word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Up => "up",
            Self::Down => "down",
            Self::None => "none",
        }
    }
}

impl Pole {
    /// The word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Plus => "plus",
            Self::Minus => "minus",
        }
    }
}
