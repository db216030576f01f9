//! Names and words that many things of a job bear, each kept once.

use std::borrow::Borrow;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::ops::Deref;
use std::sync::Arc;

use super::{
    Colours, CoreName, Draw, Kind, Takes, TypeCoil, TypeContact, TypeDevice, TypeLoad, TypePart, TypeTerminal,
};
use crate::units::Rated;

/// A name or a few words, shared by all that bear them: `A1` of every relay, `red` of every cable.
#[derive(Clone, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Name(Arc<str>);

impl Name {
    /// The text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl Deref for Name {
    type Target = str;

    fn deref(&self) -> &str {
        &self.0
    }
}

impl Borrow<str> for Name {
    fn borrow(&self) -> &str {
        &self.0
    }
}

impl AsRef<str> for Name {
    fn as_ref(&self) -> &str {
        &self.0
    }
}

impl<T: Into<Arc<str>>> From<T> for Name {
    fn from(text: T) -> Self {
        Self(text.into())
    }
}

impl From<Name> for String {
    fn from(name: Name) -> Self {
        name.as_str().to_owned()
    }
}

impl PartialEq<str> for Name {
    fn eq(&self, other: &str) -> bool {
        self.as_str() == other
    }
}

impl PartialEq<&str> for Name {
    fn eq(&self, other: &&str) -> bool {
        self.as_str() == *other
    }
}

impl PartialEq<String> for Name {
    fn eq(&self, other: &String) -> bool {
        self.as_str() == other
    }
}

impl PartialEq<Name> for &str {
    fn eq(&self, other: &Name) -> bool {
        *self == other.as_str()
    }
}

impl PartialEq<Name> for String {
    fn eq(&self, other: &Name) -> bool {
        self.as_str() == other.as_str()
    }
}

impl fmt::Display for Name {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

impl fmt::Debug for Name {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Debug::fmt(&*self.0, f)
    }
}

/// What was named so far while a job is read.
#[derive(Default)]
pub struct Pool {
    names: BTreeSet<Name>,
    texts: BTreeSet<Arc<[String]>>,
    devices: BTreeSet<Arc<TypeDevice>>,
    terminals: BTreeMap<TerminalKey, Arc<TypeTerminal>>,
    parts: BTreeSet<Arc<TypePart>>,
    loads: BTreeMap<LoadKey, Arc<TypeLoad>>,
    coils: BTreeMap<CoilKey, Arc<TypeCoil>>,
    contacts: BTreeMap<ContactKey, Arc<TypeContact>>,
    cores: BTreeSet<Arc<CoreName>>,
}

/// What tells one type's terminal from another's; of the sizes that fit, their bits.
type TerminalKey = (Name, Option<Name>, Option<Name>, Option<[u64; 2]>, Option<u32>);

/// The same of a load: its volts and what it draws by their bits, and what is either so or not.
type LoadKey = (Option<[u64; 3]>, Option<(u8, u64)>, Takes, [bool; 3]);

/// The same of a coil.
type CoilKey = (Option<[u64; 3]>, Option<(u8, u64)>, [bool; 3]);

/// The same of a contact: its volts and amps by their bits.
type ContactKey = ([Option<u64>; 2], bool, Option<Name>);

fn volts_key(volts: Option<Rated>) -> Option<[u64; 3]> {
    volts.map(|volts| [volts.nominal, volts.range.low, volts.range.high].map(|volts| volts.0.to_bits()))
}

fn draw_key(draw: Option<Draw>) -> Option<(u8, u64)> {
    draw.map(|draw| match draw {
        Draw::Amps(amps) => (0, amps.0.to_bits()),
        Draw::Ohms(ohms) => (1, ohms.0.to_bits()),
        Draw::Watts(watts) => (2, watts.0.to_bits()),
    })
}

/// The one that is equal to this among those that are known; else this.
fn known<T: Ord>(all: &mut BTreeSet<Arc<T>>, this: T) -> Arc<T> {
    if let Some(known) = all.get(&this) {
        return Arc::clone(known);
    }
    let this = Arc::new(this);
    all.insert(Arc::clone(&this));
    this
}

impl Pool {
    /// The name of that text.
    pub fn name(&mut self, text: &str) -> Name {
        if let Some(known) = self.names.get(text) {
            return known.clone();
        }
        let name = Name::from(text);
        self.names.insert(name.clone());
        name
    }

    /// These texts in a row, such as the steps of a location.
    pub fn texts(&mut self, texts: Vec<String>) -> Arc<[String]> {
        if let Some(known) = self.texts.get(texts.as_slice()) {
            return Arc::clone(known);
        }
        let texts: Arc<[String]> = texts.into();
        self.texts.insert(Arc::clone(&texts));
        texts
    }

    /// A device as a type has it.
    pub fn device(&mut self, of: TypeDevice) -> Arc<TypeDevice> {
        known(&mut self.devices, of)
    }

    /// What a core is called.
    pub fn core(&mut self, name: &str, colours: Colours, mentioned: bool) -> Arc<CoreName> {
        let of = CoreName { name: self.name(name), colours, mentioned };
        known(&mut self.cores, of)
    }

    /// A part as a type has it.
    pub fn part(&mut self, name: &str, existing: bool) -> Arc<TypePart> {
        let of = TypePart { name: self.name(name), existing };
        known(&mut self.parts, of)
    }

    /// A load, coil or contact shares what its type says with those before it that say the same: many devices add their own
    /// amps.
    pub fn share(&mut self, kind: &mut Kind) {
        match kind {
            Kind::Load(load) => {
                let TypeLoad { polarised, volts, draw, takes, inductive, suppressed } = *load.of;
                let key = (volts_key(volts), draw_key(draw), takes, [polarised, inductive, suppressed]);
                load.of = Arc::clone(self.loads.entry(key).or_insert_with(|| Arc::clone(&load.of)));
            }
            Kind::Coil(coil) => {
                let TypeCoil { polarised, volts, draw, suppressed, latching } = *coil.of;
                let key = (volts_key(volts), draw_key(draw), [polarised, suppressed, latching]);
                coil.of = Arc::clone(self.coils.entry(key).or_insert_with(|| Arc::clone(&coil.of)));
            }
            Kind::Contact(contact) => {
                let TypeContact { volts, amps, momentary, by_word } = &*contact.of;
                let ratings = [volts.map(|volts| volts.0.to_bits()), amps.map(|amps| amps.0.to_bits())];
                let known = self.contacts.entry((ratings, *momentary, by_word.clone()));
                contact.of = Arc::clone(known.or_insert_with(|| Arc::clone(&contact.of)));
            }
            _ => {}
        }
    }

    /// A terminal as a type has it.
    pub fn terminal(&mut self, of: TypeTerminal) -> Arc<TypeTerminal> {
        let TypeTerminal { name, label, lead, fits, conductors } = of.clone();
        let fits = fits.map(|fits| [fits.low.0, fits.high.0].map(f64::to_bits));
        let known = self.terminals.entry((name, label, lead, fits, conductors));
        Arc::clone(known.or_insert_with(|| Arc::new(of)))
    }
}
