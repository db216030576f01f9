//! What lies between the terminals of a device: sources, loads, contacts and the rest.

use std::ops::Deref;
use std::sync::Arc;

use super::{DeviceId, Name, PartId, TerminalId};
use crate::source::Place;
use crate::units::{AmpHours, Amps, Ohms, Rated, Seconds, Share, Span, Volts, Watts};

/// One entry of a device's sections.
#[derive(Clone, Debug)]
pub struct Part {
    /// Whose it is.
    pub device: DeviceId,
    /// What it is.
    pub kind: Kind,
    /// Where it was written; for a library type the device's key.
    pub place: Place,
    /// What its type says of it, the same for all devices that bear the type.
    pub of: Arc<TypePart>,
}

/// A part as a type has it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct TypePart {
    /// The entry's name (`OUT1`); for list sections (`bridges`, `screens` …) the section's name and its number.
    pub name: Name,
    /// Wired or fed outside this job: not asked for, still protected.
    pub existing: bool,
}

impl Deref for Part {
    type Target = TypePart;

    fn deref(&self) -> &TypePart {
        &self.of
    }
}

/// What a part is.
#[derive(Clone, Debug)]
pub enum Kind {
    /// `sources`.
    Source(Box<Source>),
    /// `loads`.
    Load(Load),
    /// `inputs`.
    Input(Input),
    /// `dry_inputs`.
    DryInput(Box<DryInput>),
    /// `outputs`.
    Output(Output),
    /// `contacts`: one pole.
    Contact(Contact),
    /// `coils`.
    Coil(Coil),
    /// `bridges`: permanently joined inside.
    Bridge(Box<[TerminalId]>),
    /// `fuses`.
    Fuse(Fuse),
    /// `resistors`.
    Resistor(Resistor),
    /// `diodes`.
    Diode(Diode),
    /// `suppressors`.
    Suppressor(Suppressor),
    /// `supervised`.
    Supervised(Box<Supervised>),
    /// `analogue`.
    Analogue(Box<Analogue>),
    /// `two_wire`.
    TwoWire(Box<TwoWire>),
    /// `signal_pairs`.
    SignalPair(Box<SignalPair>),
    /// `screens`: one bond to earth.
    Screen(TerminalId),
    /// `earths`: one bond to earth.
    Earth(TerminalId),
    /// `aerials`.
    Aerial(TerminalId),
}

impl Kind {
    /// Whether a load or coil does not say what it draws, or a resistor its ohms.
    #[must_use]
    pub fn is_silent(&self) -> bool {
        match self {
            Self::Load(load) => load.draw.is_none(),
            Self::Coil(coil) => coil.draw.is_none(),
            Self::Resistor(resistor) => resistor.ohms.is_none(),
            _ => false,
        }
    }

    /// The plus and minus of a load or coil, or the two terminals of one without.
    #[must_use]
    pub fn load_ends(&self) -> Option<[TerminalId; 2]> {
        match self {
            Self::Load(load) => Some([load.plus, load.minus]),
            Self::Coil(coil) => Some([coil.plus, coil.minus]),
            _ => None,
        }
    }

    /// The same, and the two ends of a resistor: what a soft path leads through.
    #[must_use]
    pub fn soft_ends(&self) -> Option<[TerminalId; 2]> {
        match self {
            Self::Resistor(resistor) => Some(resistor.between),
            _ => self.load_ends(),
        }
    }
}

/// DC or AC.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Current {
    /// Direct.
    Dc,
    /// Alternating.
    Ac,
}

/// What a load can take.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Takes {
    /// DC only.
    Dc,
    /// AC only.
    Ac,
    /// Either.
    Any,
}

/// A supply, transformer secondary or battery.
#[derive(Clone, Debug)]
pub struct Source {
    /// Plus.
    pub plus: TerminalId,
    /// Minus.
    pub minus: TerminalId,
    /// Nominal volts.
    pub volts: Option<Volts>,
    /// Rated amps.
    pub amps: Option<Amps>,
    /// DC or AC.
    pub current: Current,
    /// The lowest volts it really has.
    pub low: Option<Volts>,
    /// The highest volts it really has.
    pub high: Option<Volts>,
    /// A fuse inside, in the plus.
    pub fused: Option<Amps>,
    /// A charger or standby output that a battery may share.
    pub charges: bool,
    /// The pole that is earthed.
    pub earthed: Option<Pole>,
    /// A battery.
    pub battery: bool,
    /// Its capacity.
    pub ah: Option<AmpHours>,
}

/// A pole of a source.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Pole {
    /// Plus.
    Plus,
    /// Minus.
    Minus,
}

impl Pole {
    /// The other one.
    #[must_use]
    pub fn opposite(self) -> Self {
        match self {
            Self::Plus => Self::Minus,
            Self::Minus => Self::Plus,
        }
    }
}

/// What a load draws.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Draw {
    /// That current at any volts in range.
    Amps(Amps),
    /// A resistance.
    Ohms(Ohms),
    /// A power at nominal volts.
    Watts(Watts),
}

/// What draws current.
#[derive(Clone, Debug)]
pub struct Load {
    /// Plus, or the first of `between`.
    pub plus: TerminalId,
    /// Minus, or the second of `between`.
    pub minus: TerminalId,
    /// For a lock: what power does to it.
    pub lock: Option<Lock>,
    /// What its type says of it, the same for all devices that bear the type.
    pub of: Arc<TypeLoad>,
}

/// A load as a type has it.
#[derive(Clone, Debug)]
pub struct TypeLoad {
    /// Whether plus and minus must not be exchanged.
    pub polarised: bool,
    /// What volts it is made for.
    pub volts: Option<Rated>,
    /// What it draws.
    pub draw: Option<Draw>,
    /// DC, AC or either.
    pub takes: Takes,
    /// A coil or motor.
    pub inductive: bool,
    /// Has its suppressor inside.
    pub suppressed: bool,
}

impl Deref for Load {
    type Target = TypeLoad;

    fn deref(&self) -> &TypeLoad {
        &self.of
    }
}

/// What power does to a lock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lock {
    /// Holds while powered.
    LocksPowered,
    /// Holds while dead.
    LocksDead,
}

/// When an input counts as active.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Active {
    /// Joined to the minus of the source that its common belongs to.
    Low,
    /// Joined to its plus.
    High,
    /// When it differs from its common by its volts.
    Either,
}

/// What holds an input when nothing else does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pull {
    /// Up to the plus.
    Up,
    /// Down to the common.
    Down,
    /// Nothing.
    None,
}

/// A digital input.
#[derive(Clone, Debug)]
pub struct Input {
    /// Its terminal.
    pub at: TerminalId,
    /// The terminal it is measured against.
    pub common: TerminalId,
    /// What its type says of it, the same for all devices that bear the type.
    pub of: Arc<TypeInput>,
}

/// An input as a type has it.
#[derive(Clone, Debug)]
pub struct TypeInput {
    /// When it is active.
    pub active: Active,
    /// The volts that it is made for.
    pub volts: Option<Rated>,
    /// What holds it; the inactive level unless said.
    pub pull: Pull,
    /// The type of IEC 61131-2: 1, 2 or 3.
    pub class: Option<u8>,
}

impl Deref for Input {
    type Target = TypeInput;

    fn deref(&self) -> &TypeInput {
        &self.of
    }
}

/// An input that wants a volt-free contact.
#[derive(Clone, Debug)]
pub struct DryInput {
    /// The two sides.
    pub between: [TerminalId; 2],
    /// How long a pulse it takes, if it wants one.
    pub momentary: Option<Span<Seconds>>,
    /// A safety input.
    pub safety: bool,
}

/// A transistor output.
#[derive(Clone, Debug)]
pub struct Output {
    /// Its terminal.
    pub at: TerminalId,
    /// The pole it switches to.
    pub common: TerminalId,
    /// What its type says of it, the same for all devices that bear the type.
    pub of: Arc<TypeOutput>,
}

/// An output as a type has it.
#[derive(Clone, Debug)]
pub struct TypeOutput {
    /// The pole's sense: minus drives low (NPN, sinking), plus drives high (PNP, sourcing).
    pub drives: Pole,
    /// Its volts.
    pub volts: Option<Volts>,
    /// Its amps.
    pub amps: Option<Amps>,
}

impl Deref for Output {
    type Target = TypeOutput;

    fn deref(&self) -> &TypeOutput {
        &self.of
    }
}

/// One pole of a volt-free contact set.
#[derive(Clone, Debug)]
pub struct Contact {
    /// The common.
    pub common: TerminalId,
    /// Joined to the common when operated.
    pub no: Option<TerminalId>,
    /// Joined to the common at rest.
    pub nc: Option<TerminalId>,
    /// The coil that moves it; the world moves it otherwise.
    pub coil: Option<PartId>,
    /// The lock's part that it frees.
    pub unlocks: Option<PartId>,
    /// What its type says of it, the same for all devices that bear the type.
    pub of: Arc<TypeContact>,
}

/// A contact as a type has it.
#[derive(Clone, Debug)]
pub struct TypeContact {
    /// Rated volts.
    pub volts: Option<Volts>,
    /// Rated amps.
    pub amps: Option<Amps>,
    /// Springs back.
    pub momentary: bool,
    /// What its `by:` says, where it says something.
    pub by_word: Option<Name>,
}

impl Contact {
    /// What moves it.
    #[must_use]
    pub fn by(&self) -> Mover<'_> {
        match (self.coil, &self.by_word) {
            (Some(coil), _) => Mover::Coil(coil),
            (None, Some(word)) => Mover::Word(word),
            (None, None) => Mover::Alone,
        }
    }
}

impl Deref for Contact {
    type Target = TypeContact;

    fn deref(&self) -> &TypeContact {
        &self.of
    }
}

/// What moves a contact, output or sensor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mover<'j> {
    /// The world moves this entry alone.
    Alone,
    /// The world moves all entries of the device that share this word.
    Word(&'j Name),
    /// A coil.
    Coil(PartId),
}

/// A coil.
#[derive(Clone, Debug)]
pub struct Coil {
    /// Plus, or the first of `between`.
    pub plus: TerminalId,
    /// Minus, or the second of `between`.
    pub minus: TerminalId,
    /// What its type says of it, the same for all devices that bear the type.
    pub of: Arc<TypeCoil>,
}

/// A coil as a type has it.
#[derive(Clone, Debug)]
pub struct TypeCoil {
    /// Whether plus and minus must not be exchanged.
    pub polarised: bool,
    /// What volts it is made for.
    pub volts: Option<Rated>,
    /// What it draws.
    pub draw: Option<Draw>,
    /// Has its suppressor inside.
    pub suppressed: bool,
    /// Changes over at each pulse and stays.
    pub latching: bool,
}

impl Deref for Coil {
    type Target = TypeCoil;

    fn deref(&self) -> &TypeCoil {
        &self.of
    }
}

/// A fuse.
#[derive(Clone, Debug)]
pub struct Fuse {
    /// Its ends.
    pub between: [TerminalId; 2],
    /// Its rating.
    pub amps: Option<Amps>,
}

/// A resistor.
#[derive(Clone, Debug)]
pub struct Resistor {
    /// Its ends.
    pub between: [TerminalId; 2],
    /// Its value.
    pub ohms: Option<Ohms>,
}

/// A diode.
#[derive(Clone, Debug)]
pub struct Diode {
    /// Anode.
    pub anode: TerminalId,
    /// Cathode.
    pub cathode: TerminalId,
}

/// A varistor or an RC link.
#[derive(Clone, Debug)]
pub struct Suppressor {
    /// Its ends.
    pub between: [TerminalId; 2],
    /// Which.
    pub rc: bool,
}

/// What a supervised loop shows in one condition.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LoopValue {
    /// A resistance.
    Ohms(Ohms),
    /// Open.
    Open,
    /// Shorted.
    Shorted,
}

/// A loop that is watched by its resistance.
#[derive(Clone, Debug)]
pub struct Supervised {
    /// Its terminal.
    pub at: TerminalId,
    /// Its common.
    pub common: TerminalId,
    /// At rest.
    pub rest: Option<LoopValue>,
    /// In alarm.
    pub alarm: Option<LoopValue>,
    /// Tampered with.
    pub tamper: Option<LoopValue>,
    /// How far from the value is still that value.
    pub within: Share,
}

impl Supervised {
    /// Whether a loop of so many ohms, or an open one, shows a value. Fewer than 100 Ω count as shorted: from memory, what
    /// panels take for a short.
    #[must_use]
    pub fn shows(&self, value: LoopValue, ohms: Option<f64>) -> bool {
        match (value, ohms) {
            (LoopValue::Open, None) => true,
            (LoopValue::Shorted, Some(ohms)) => ohms < 100.0,
            (LoopValue::Ohms(target), Some(ohms)) => {
                (ohms - target.0).abs() <= self.within.0 * target.0 + 1e-6
            }
            _ => false,
        }
    }
}

/// Kinds of analogue signal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AnalogueKind {
    /// 4–20 mA.
    Loop,
    /// 0–10 V.
    Volts,
}

/// The role in an analogue link.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AnalogueRole {
    /// Sets the loop's current.
    Transmitter,
    /// Reads it.
    Receiver,
    /// Sets the 0–10 V.
    Command,
    /// Follows it.
    Follow,
}

/// One end of an analogue link.
#[derive(Clone, Debug)]
pub struct Analogue {
    /// Plus.
    pub plus: TerminalId,
    /// Minus.
    pub minus: TerminalId,
    /// The signal.
    pub kind: AnalogueKind,
    /// The role.
    pub role: Option<AnalogueRole>,
    /// Whether this part feeds the loop or pair; `None` for a passive 4–20 part.
    pub drives_self: Option<bool>,
    /// The volts it feeds, or needs.
    pub volts: Option<Rated>,
    /// Its resistance.
    pub ohms: Option<Ohms>,
    /// Its current.
    pub amps: Option<Amps>,
}

impl Analogue {
    /// Whether this is a transmitter that its 4–20 mA loop feeds.
    #[must_use]
    pub fn draws_from_loop(&self) -> bool {
        self.in_fed_loop() && self.role == Some(AnalogueRole::Transmitter)
    }

    /// Whether this is an input that a 4–20 mA loop goes through.
    #[must_use]
    pub fn reads_loop(&self) -> bool {
        self.in_fed_loop() && self.role == Some(AnalogueRole::Receiver)
    }

    /// Whether an input in a 4–20 mA loop does not say its ohms.
    #[must_use]
    pub fn is_silent(&self) -> bool {
        self.reads_loop() && self.ohms.is_none()
    }

    fn in_fed_loop(&self) -> bool {
        self.kind == AnalogueKind::Loop && self.drives_self != Some(true)
    }
}

/// A two-wire electronic sensor.
#[derive(Clone, Debug)]
pub struct TwoWire {
    /// Plus.
    pub plus: TerminalId,
    /// Minus.
    pub minus: TerminalId,
    /// What it keeps when on.
    pub drop: Option<Volts>,
    /// What it leaks when off.
    pub leak: Option<Amps>,
    /// The least current it needs when on.
    pub holds: Option<Amps>,
}

/// Two legs that must not be swapped.
#[derive(Clone, Debug)]
pub struct SignalPair {
    /// The first leg.
    pub a: TerminalId,
    /// The second leg.
    pub b: TerminalId,
    /// `rs485`, `audio` or another word.
    pub kind: Name,
    /// Whether the legs must not be exchanged.
    pub polarised: bool,
    /// The terminator inside, if the part has one.
    pub terminator: Option<Ohms>,
}
