//! The entries of a data sheet's sections.

use super::sheet::Names;
use super::{
    Active, Analogue, AnalogueKind, AnalogueRole, Coil, Contact, Current, Diode, Draw, DryInput, Fuse, Input,
    Kind, Load, Lock, LoopValue, Output, Pole, Pull, Resistor, SignalPair, Source, Supervised, Suppressor,
    Takes, TerminalId, TwoWire, TypeCoil, TypeContact, TypeInput, TypeLoad, TypeOutput,
};
use crate::syntax::{self, Data, Faults, Fields, Said, Value};
use crate::units::{self, Ohms, Rated, Share, Volts};

/// How far a supervised loop may stray where the type does not say; common practice, no source.
const WITHIN: Share = Share(0.10);

/// What an entry of a section is called in messages.
pub fn noun(section: &str) -> &'static str {
    match section {
        "sources" => "the source",
        "loads" => "the load",
        "inputs" => "the input",
        "dry_inputs" => "the dry input",
        "outputs" => "the output",
        "contacts" => "the contact",
        "coils" => "the coil",
        "fuses" => "the fuse",
        "resistors" => "the resistor",
        "diodes" => "the diode",
        "suppressors" => "the suppressor",
        "supervised" => "the supervised loop",
        "analogue" => "the analogue end",
        "two_wire" => "the two-wire sensor",
        "signal_pairs" => "the signal pair",
        _ => "the entry",
    }
}

/// Reads an entry of a section with names. Without a kind there is at least one fault.
pub fn kind(section: &str, fields: &mut Fields<'_>, names: &Names<'_>, faults: &mut Faults) -> Option<Kind> {
    let mut entry = Reader { fields, names, faults };
    match section {
        "sources" => entry.source().map(|source| Kind::Source(Box::new(source))),
        "loads" => entry.load().map(Kind::Load),
        "inputs" => entry.input().map(Kind::Input),
        "dry_inputs" => entry.dry_input().map(|input| Kind::DryInput(Box::new(input))),
        "outputs" => entry.output().map(Kind::Output),
        "contacts" => entry.contact().map(Kind::Contact),
        "coils" => entry.coil().map(Kind::Coil),
        "fuses" => entry.fuse().map(Kind::Fuse),
        "resistors" => entry.resistor().map(Kind::Resistor),
        "diodes" => entry.diode().map(Kind::Diode),
        "suppressors" => entry.suppressor().map(Kind::Suppressor),
        "supervised" => entry.supervised().map(|watched| Kind::Supervised(Box::new(watched))),
        "analogue" => entry.analogue().map(|end| Kind::Analogue(Box::new(end))),
        "two_wire" => entry.two_wire().map(|sensor| Kind::TwoWire(Box::new(sensor))),
        "signal_pairs" => entry.signal_pair().map(|pair| Kind::SignalPair(Box::new(pair))),
        _ => None,
    }
}

/// `bridges: [1, 2]`: the terminals of one bridge without the brackets of the list of bridges.
pub fn one_bridge(items: &[Value<'_>], faults: &mut Faults) {
    let (Some(first), Some(last)) = (items.first(), items.last()) else { return };
    let texts: Vec<&str> = items.iter().filter_map(|item| item.text()).collect();
    let fix = format!("write `bridges: [[{}]]`", texts.join(", "));
    let place = first.place.with(first.place.start..last.place.end);
    faults.error(place, "`bridges` is a list of bridges, each a list of terminals", fix);
}

/// Reads an item of a section that is a list.
pub fn listed(section: &str, item: Value<'_>, names: &Names<'_>, faults: &mut Faults) -> Option<Kind> {
    if section == "bridges" {
        let Data::List(_) = item.data() else {
            faults.error(
                item.place,
                format!("a bridge is a list of terminals; here stands {}", item.shape()),
                "write a list of lists: `bridges: [[1, 2], [3, 4]]`",
            );
            return None;
        };
        let mut joined = Vec::new();
        for said in syntax::texts(item, "a bridge", faults) {
            let terminal = names.find(said, faults)?;
            if !joined.contains(&terminal) {
                joined.push(terminal);
            }
        }
        if joined.len() < 2 {
            faults.error(item.place, "a bridge joins at least two terminals", "write `[1, 2]`");
            return None;
        }
        return Some(Kind::Bridge(joined.into()));
    }
    let Some(said) = syntax::said(item) else {
        let message = format!("`{section}` is a list of terminals; here stands {}", item.shape());
        faults.error(item.place, message, format!("write `{section}: [1, 2]`"));
        return None;
    };
    let terminal = names.find(said, faults)?;
    match section {
        "screens" => Some(Kind::Screen(terminal)),
        "earths" => Some(Kind::Earth(terminal)),
        _ => Some(Kind::Aerial(terminal)),
    }
}

struct Reader<'r, 'v, 'n> {
    fields: &'r mut Fields<'v>,
    names: &'r Names<'n>,
    faults: &'r mut Faults,
}

/// The two ends of a load or coil.
struct Poles {
    plus: TerminalId,
    minus: TerminalId,
    polarised: bool,
}

impl<'v> Reader<'_, 'v, '_> {
    fn source(&mut self) -> Option<Source> {
        let pair = self.pair("plus", "minus");
        let source = |[plus, minus]: [TerminalId; 2]| Source {
            plus,
            minus,
            volts: None,
            amps: None,
            current: Current::Dc,
            low: None,
            high: None,
            fused: None,
            charges: false,
            earthed: None,
            battery: false,
            ah: None,
        };
        let Self { fields, faults, .. } = self;
        let volts = fields.quantity("volts", faults);
        let amps = fields.quantity("amps", faults);
        let current = fields.choice("kind", &[("dc", Current::Dc), ("ac", Current::Ac)], faults);
        let (low, high): (Option<Volts>, Option<Volts>) =
            (fields.quantity("low", faults), fields.quantity("high", faults));
        let fused = fields.quantity("fused", faults);
        let charges = fields.flag("charges", faults);
        let earthed = fields.choice("earthed", &[("minus", Pole::Minus), ("plus", Pole::Plus)], faults);
        let battery = fields.flag("battery", faults);
        let ah = fields.quantity("ah", faults);
        if let (Some(low), Some(high)) = (low, high)
            && low.0 > high.0
        {
            let message = format!("`low` ({low}) is above `high` ({high}) of {}", fields.what());
            faults.error(fields.place(), message, "exchange the two figures");
        }
        let current = current.unwrap_or(Current::Dc);
        pair.map(|pair| Source {
            volts,
            amps,
            current,
            low,
            high,
            fused,
            charges,
            earthed,
            battery,
            ah,
            ..source(pair)
        })
    }

    fn load(&mut self) -> Option<Load> {
        let poles = self.poles();
        let volts = self.rated("volts");
        let draw = self.draw();
        let Self { fields, faults, .. } = self;
        let takes =
            fields.choice("kind", &[("dc", Takes::Dc), ("ac", Takes::Ac), ("any", Takes::Any)], faults);
        let inductive = fields.flag("inductive", faults);
        let suppressed = fields.flag("suppressed", faults);
        let locks = [("locks-powered", Lock::LocksPowered), ("locks-dead", Lock::LocksDead)];
        let lock = fields.choice("lock", &locks, faults);
        let Poles { plus, minus, polarised } = poles?;
        let takes = takes.unwrap_or(if polarised { Takes::Dc } else { Takes::Any });
        let of = TypeLoad { polarised, volts, draw, takes, inductive, suppressed };
        Some(Load { plus, minus, lock, of: of.into() })
    }

    fn coil(&mut self) -> Option<Coil> {
        let poles = self.poles();
        let volts = self.rated("volts");
        let draw = self.draw();
        let suppressed = self.fields.flag("suppressed", self.faults);
        let latching = self.fields.flag("latching", self.faults);
        let Poles { plus, minus, polarised } = poles?;
        let of = TypeCoil { polarised, volts, draw, suppressed, latching };
        Some(Coil { plus, minus, of: of.into() })
    }

    fn input(&mut self) -> Option<Input> {
        let pair = self.pair("at", "common");
        let volts = self.rated("volts");
        let levels = [("low", Active::Low), ("high", Active::High), ("either", Active::Either)];
        let active = self.needed_choice("active", &levels);
        let pulls = [("up", Pull::Up), ("down", Pull::Down), ("none", Pull::None)];
        let pull = self.fields.choice("pull", &pulls, self.faults);
        let class = self.fields.choice("type", &[("1", 1), ("2", 2), ("3", 3)], self.faults);
        let ([at, common], active) = (pair?, active?);
        // Left alone, an input rests at its inactive level: up at the plus when low is active, else at its common.
        let pull = pull.unwrap_or(if active == Active::Low { Pull::Up } else { Pull::Down });
        let of = TypeInput { active, volts, pull, class };
        Some(Input { at, common, of: of.into() })
    }

    fn dry_input(&mut self) -> Option<DryInput> {
        let between = self.needed_between();
        let momentary = self.fields.span("momentary", self.faults);
        let safety = self.fields.flag("safety", self.faults);
        Some(DryInput { between: between?, momentary, safety })
    }

    fn output(&mut self) -> Option<Output> {
        let pair = self.pair("at", "common");
        let drives = self.needed_choice("drives", &[("low", Pole::Minus), ("high", Pole::Plus)]);
        let volts = self.fields.quantity("volts", self.faults);
        let amps = self.fields.quantity("amps", self.faults);
        let ([at, common], drives) = (pair?, drives?);
        let of = TypeOutput { drives, volts, amps };
        Some(Output { at, common, of: of.into() })
    }

    fn contact(&mut self) -> Option<Contact> {
        let common = self.needed_terminal("common");
        let no = self.terminal("no");
        let nc = self.terminal("nc");
        let Self { fields, faults, .. } = self;
        let volts = fields.quantity("volts", faults);
        let amps = fields.quantity("amps", faults);
        let by_word = fields.text("by", faults).map(|said| said.text.into());
        let momentary = fields.flag("momentary", faults);
        let common = common?;
        let said_either = fields.value("no").is_some() || fields.value("nc").is_some();
        if !said_either {
            let message = format!("{} has neither `no` nor `nc`", fields.what());
            faults.error(
                fields.place(),
                message,
                "say which terminal its common meets: `no:` when operated, `nc:` at rest",
            );
            return None;
        }
        if no.is_some_and(|no| no == common || nc == Some(no)) || nc == Some(common) {
            let message = format!("{} has one terminal in two of its places", fields.what());
            faults.error(fields.place(), message, "`common`, `no` and `nc` are terminals of their own");
            return None;
        }
        let of = TypeContact { volts, amps, momentary, by_word };
        Some(Contact { common, no, nc, coil: None, unlocks: None, of: of.into() })
    }

    fn fuse(&mut self) -> Option<Fuse> {
        let between = self.needed_between();
        let amps = self.fields.quantity("amps", self.faults);
        Some(Fuse { between: between?, amps })
    }

    fn resistor(&mut self) -> Option<Resistor> {
        let between = self.needed_between();
        let ohms = self.fields.quantity("ohms", self.faults);
        Some(Resistor { between: between?, ohms })
    }

    fn diode(&mut self) -> Option<Diode> {
        self.pair("anode", "cathode").map(|[anode, cathode]| Diode { anode, cathode })
    }

    fn suppressor(&mut self) -> Option<Suppressor> {
        let between = self.needed_between();
        let rc = self.needed_choice("kind", &[("varistor", false), ("rc", true)]);
        Some(Suppressor { between: between?, rc: rc? })
    }

    fn supervised(&mut self) -> Option<Supervised> {
        let pair = self.pair("at", "common");
        let rest = self.loop_value("rest");
        let alarm = self.loop_value("alarm");
        let tamper = self.loop_value("tamper");
        let within = self.fields.quantity("within", self.faults).unwrap_or(WITHIN);
        if within.0 >= 1.0 {
            let place = self.fields.value("within").map_or(self.fields.place(), |value| value.place);
            let message = "`within` leaves no resistance out: at 100 % a shorted loop would do for any value";
            self.faults.error(place, message, "write how far a value may be off, as in `within: 10 %`");
        }
        let [at, common] = pair?;
        Some(Supervised { at, common, rest, alarm, tamper, within })
    }

    fn analogue(&mut self) -> Option<Analogue> {
        let pair = self.pair("plus", "minus");
        let kind = self.needed_choice("kind", &[("4-20", AnalogueKind::Loop), ("0-10", AnalogueKind::Volts)]);
        let roles = [
            ("transmitter", AnalogueRole::Transmitter),
            ("receiver", AnalogueRole::Receiver),
            ("command", AnalogueRole::Command),
            ("follow", AnalogueRole::Follow),
        ];
        let role = self.fields.choice("part", &roles, self.faults);
        let drives_self = self.fields.choice("drives", &[("self", true), ("other", false)], self.faults);
        let volts = self.rated("volts");
        let ohms = self.fields.quantity("ohms", self.faults);
        let amps = self.fields.quantity("amps", self.faults);
        let ([plus, minus], kind) = (pair?, kind?);
        Some(Analogue { plus, minus, kind, role, drives_self, volts, ohms, amps })
    }

    fn two_wire(&mut self) -> Option<TwoWire> {
        let pair = self.pair("plus", "minus");
        let Self { fields, faults, .. } = self;
        let drop = fields.quantity("drop", faults);
        let leak = fields.quantity("leak", faults);
        let holds = fields.quantity("holds", faults);
        pair.map(|[plus, minus]| TwoWire { plus, minus, drop, leak, holds })
    }

    fn signal_pair(&mut self) -> Option<SignalPair> {
        let pair = self.pair("a", "b");
        let Self { fields, faults, .. } = self;
        let kind = fields.needed_text("kind", faults);
        let polarised = fields.switch("polarised", faults).unwrap_or(true);
        let terminator = fields.quantity("terminator", faults);
        let ([a, b], kind) = (pair?, kind?);
        Some(SignalPair { a, b, kind: kind.text.into(), polarised, terminator })
    }

    fn terminal(&mut self, key: &'static str) -> Option<TerminalId> {
        let said = self.fields.text(key, self.faults)?;
        self.names.find(said, self.faults)
    }

    fn needed_terminal(&mut self, key: &'static str) -> Option<TerminalId> {
        let said = self.fields.needed_text(key, self.faults)?;
        self.names.find(said, self.faults)
    }

    /// Two terminals, each under its own key.
    fn pair(&mut self, first: &'static str, second: &'static str) -> Option<[TerminalId; 2]> {
        let (a, b) = (self.needed_terminal(first), self.needed_terminal(second));
        let (a, b) = (a?, b?);
        if a == b {
            let message = format!("`{first}` and `{second}` of {} are one terminal", self.fields.what());
            self.faults.error(self.fields.place(), message, "they are two terminals of the part");
            return None;
        }
        Some([a, b])
    }

    fn needed_between(&mut self) -> Option<[TerminalId; 2]> {
        if self.fields.value("between").is_none() {
            self.fields.missing("between", self.faults);
            return None;
        }
        self.between()
    }

    fn between(&mut self) -> Option<[TerminalId; 2]> {
        let value = self.fields.value("between")?;
        let found = syntax::texts(value, "`between`", self.faults);
        let &[a, b] = found.as_slice() else {
            let message = format!("`between` names two terminals, not {}", found.len());
            self.faults.error(value.place, message, "write `between: [1, 2]`");
            return None;
        };
        let (first, second) = (self.names.find(a, self.faults), self.names.find(b, self.faults));
        let (first, second) = (first?, second?);
        if first == second {
            self.faults.error(
                b.place,
                "`between` names one terminal twice",
                "write the part's two terminals",
            );
            return None;
        }
        Some([first, second])
    }

    /// `plus` and `minus`, or `between`.
    fn poles(&mut self) -> Option<Poles> {
        let said = |fields: &mut Fields<'v>, key| fields.value(key).is_some();
        let named = said(self.fields, "plus") || said(self.fields, "minus");
        if said(self.fields, "between") {
            if named {
                let message = format!("{} has both `between` and `plus` or `minus`", self.fields.what());
                let fix = "keep `plus` and `minus` if the two must not be exchanged, else `between`";
                self.faults.error(self.fields.place(), message, fix);
                return None;
            }
            return self.between().map(|[plus, minus]| Poles { plus, minus, polarised: false });
        }
        self.pair("plus", "minus").map(|[plus, minus]| Poles { plus, minus, polarised: true })
    }

    /// A nominal, or a range.
    fn rated(&mut self, key: &'static str) -> Option<Rated> {
        let said = self.fields.text(key, self.faults)?;
        let range = said.text.contains("..");
        let span = self.fields.span(key, self.faults)?;
        Some(if range { Rated::from_range(span) } else { Rated::from_nominal(span.low) })
    }

    fn draw(&mut self) -> Option<Draw> {
        let Self { fields, faults, .. } = self;
        let said: Vec<&str> =
            ["amps", "ohms", "watts"].into_iter().filter(|key| fields.value(key).is_some()).collect();
        let amps = fields.quantity("amps", faults).map(Draw::Amps);
        let ohms = fields.quantity("ohms", faults).map(Draw::Ohms);
        let watts = fields.quantity("watts", faults).map(Draw::Watts);
        if let [first, second, ..] = said.as_slice() {
            let message = format!("{} says what it draws twice, by `{first}` and `{second}`", fields.what());
            faults.error(fields.place(), message, "keep one of them");
        }
        if let Some(Draw::Ohms(Ohms(0.0))) = ohms {
            faults.error(fields.place(), format!("{} has 0 Ω", fields.what()), "write its resistance");
        }
        amps.or(ohms).or(watts)
    }

    fn loop_value(&mut self, key: &'static str) -> Option<LoopValue> {
        let said = self.fields.text(key, self.faults)?;
        match said.text.trim() {
            "open" => Some(LoopValue::Open),
            "shorted" => Some(LoopValue::Shorted),
            text => match units::quantity(text) {
                Ok(ohms) => Some(LoopValue::Ohms(ohms)),
                Err(why) => {
                    let fix = match self.faults.nearest(text, ["open", "shorted"]) {
                        Some(near) => format!("did you mean `{near}`?"),
                        None => format!("{}, or `open` or `shorted`", why.fix),
                    };
                    self.faults.error(said.place, format!("`{key}`: {}", why.message), fix);
                    None
                }
            },
        }
    }

    fn needed_choice<T: Copy>(&mut self, key: &'static str, words: &[(&str, T)]) -> Option<T> {
        let said: Said<'v> = self.fields.needed_text(key, self.faults)?;
        syntax::choose(said, &format!("`{key}`"), words, self.faults)
    }
}
