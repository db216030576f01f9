//! Which terminals a part stands on.

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

impl Kind {
    /// The terminals that the part stands on, each once, in the order of its data sheet's keys.
    #[must_use]
    pub fn terminals(&self) -> Vec<TerminalId> {
        let mut all = match self {
            Self::Source(s) => vec![s.plus, s.minus],
            Self::Load(l) => vec![l.plus, l.minus],
            Self::Input(i) => vec![i.at, i.common],
            Self::DryInput(d) => d.between.to_vec(),
            Self::Output(o) => vec![o.at, o.common],
            Self::Contact(c) => [Some(c.common), c.no, c.nc].into_iter().flatten().collect(),
            Self::Coil(c) => vec![c.plus, c.minus],
            Self::Bridge(all) => all.clone(),
            Self::Fuse(f) => f.between.to_vec(),
            Self::Resistor(r) => r.between.to_vec(),
            Self::Diode(d) => vec![d.anode, d.cathode],
            Self::Suppressor(s) => s.between.to_vec(),
            Self::Supervised(s) => vec![s.at, s.common],
            Self::Analogue(a) => vec![a.plus, a.minus],
            Self::TwoWire(t) => vec![t.plus, t.minus],
            Self::SignalPair(p) => vec![p.a, p.b],
            Self::Screen(t) | Self::Earth(t) | Self::Aerial(t) => vec![*t],
        };
        let mut seen = Vec::with_capacity(all.len());
        all.retain(|terminal| {
            !seen.contains(terminal) && {
                seen.push(*terminal);
                true
            }
        });
        all
    }
}
