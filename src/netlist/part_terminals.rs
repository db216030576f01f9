//! Which terminals a part stands on.

use std::array;
use std::iter::{Chain, Take};
use std::ops::Deref;
use std::vec;

use super::{End, Kind, TerminalId};

impl End {
    /// The terminal, if it goes to one.
    #[must_use]
    pub fn terminal(self) -> Option<TerminalId> {
        match self {
            Self::Terminal(terminal) => Some(terminal),
            Self::Safe(_) | Self::Bare | Self::Spare => None,
        }
    }
}

/// The terminals of a part, as a slice. All parts but bridges stand on at most three, which need no memory of their own.
#[derive(Clone, Debug)]
pub struct Terminals {
    few: [TerminalId; 3],
    count: usize,
    /// All of them, if there are more.
    many: Vec<TerminalId>,
}

impl Terminals {
    fn of(all: impl IntoIterator<Item = TerminalId>) -> Self {
        let mut terminals = Self { few: [TerminalId(0); 3], count: 0, many: Vec::new() };
        for terminal in all {
            if !terminals.contains(&terminal) {
                terminals.push(terminal);
            }
        }
        terminals
    }

    fn push(&mut self, terminal: TerminalId) {
        match self.few.get_mut(self.count) {
            Some(free) if self.many.is_empty() => {
                *free = terminal;
                self.count += 1;
            }
            _ => {
                if self.many.is_empty() {
                    self.many.extend(self.few);
                    self.count = 0;
                }
                self.many.push(terminal);
            }
        }
    }
}

impl Deref for Terminals {
    type Target = [TerminalId];

    fn deref(&self) -> &[TerminalId] {
        if self.many.is_empty() { self.few.get(..self.count).unwrap_or_default() } else { &self.many }
    }
}

impl IntoIterator for Terminals {
    type Item = TerminalId;
    type IntoIter = Chain<Take<array::IntoIter<TerminalId, 3>>, vec::IntoIter<TerminalId>>;

    fn into_iter(self) -> Self::IntoIter {
        self.few.into_iter().take(self.count).chain(self.many)
    }
}

impl Kind {
    /// The terminals that the part stands on, each once, in the order of its data sheet's keys.
    #[must_use]
    pub fn terminals(&self) -> Terminals {
        match self {
            Self::Source(s) => Terminals::of([s.plus, s.minus]),
            Self::Load(l) => Terminals::of([l.plus, l.minus]),
            Self::Input(i) => Terminals::of([i.at, i.common]),
            Self::DryInput(d) => Terminals::of(d.between),
            Self::Output(o) => Terminals::of([o.at, o.common]),
            Self::Contact(c) => Terminals::of([Some(c.common), c.no, c.nc].into_iter().flatten()),
            Self::Coil(c) => Terminals::of([c.plus, c.minus]),
            Self::Bridge(all) => Terminals::of(all.iter().copied()),
            Self::Fuse(f) => Terminals::of(f.between),
            Self::Resistor(r) => Terminals::of(r.between),
            Self::Diode(d) => Terminals::of([d.anode, d.cathode]),
            Self::Suppressor(s) => Terminals::of(s.between),
            Self::Supervised(s) => Terminals::of([s.at, s.common]),
            Self::Analogue(a) => Terminals::of([a.plus, a.minus]),
            Self::TwoWire(t) => Terminals::of([t.plus, t.minus]),
            Self::SignalPair(p) => Terminals::of([p.a, p.b]),
            Self::Screen(t) | Self::Earth(t) | Self::Aerial(t) => Terminals::of([*t]),
        }
    }
}
