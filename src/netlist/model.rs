//! The types of a job.

use std::collections::BTreeMap;
use std::fmt;
use std::ops::Deref;
use std::sync::Arc;

use super::{CableId, CoreId, DeviceId, Kind, Name, Part, PartId, Run, Source, TerminalId};
use crate::source::Place;
use crate::units::{Amps, Metres, OhmsPerKm, Seconds, Span, SquareMm};

/// One job.
#[derive(Clone, Debug)]
pub struct Job {
    /// The head of the job.
    pub info: Info,
    /// The devices, in the order of the file.
    pub devices: Vec<Device>,
    /// The terminals, device by device, in printed order.
    pub terminals: Vec<Terminal>,
    /// The terminals that stay without a core on purpose; they are few.
    pub unused: BTreeMap<TerminalId, Unused>,
    /// What lies between the terminals, device by device.
    pub parts: Vec<Part>,
    /// The cables, in the order of the file.
    pub cables: Vec<Cable>,
    /// The cores, cable by cable, in the type's order.
    pub cores: Vec<Core>,
    /// Jumpers without a cable, and `across:` of two-terminal parts.
    pub links: Vec<Link>,
    /// What devices ask of the layout.
    pub hints: Vec<Hint>,
    /// What must happen when.
    pub cause_and_effect: Vec<CauseLine>,
    /// Findings that the job accepts.
    pub accepted: Vec<Accepted>,
    /// What belongs to an exercise made of the job; no rule reads it.
    pub exercise: super::exercise::Exercise,
}

/// The head of a job.
#[derive(Clone, Debug)]
pub struct Info {
    /// The title.
    pub title: String,
    /// The document number.
    pub number: Option<String>,
    /// The owner (the legal owner of ISO 7200).
    pub owner: Option<String>,
    /// The client.
    pub client: Option<String>,
    /// The site.
    pub site: Option<String>,
    /// Design or as-built.
    pub status: Status,
    /// The revision.
    pub revision: Option<String>,
    /// Earlier and present revisions, one row each, newest first.
    pub revisions: Vec<String>,
    /// The date, as written (`2026-03-14`).
    pub date: Option<String>,
    /// Who drew it.
    pub drawn_by: Option<String>,
    /// Who approved it.
    pub approved_by: Option<String>,
    /// Entries that must never be on together.
    pub exclusive: Vec<Exclusive>,
    /// Where screens are bonded.
    pub screens: ScreenRule,
    /// Locations that are kept apart, as written.
    pub separated: Vec<Vec<String>>,
    /// The sheet asked for.
    pub sheet: SheetSize,
    /// Notes printed on the drawing.
    pub notes: Vec<String>,
    /// Where `job:` stands.
    pub place: Place,
}

/// Whether the file tells what shall be built or what was built.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Status {
    /// A design.
    #[default]
    Design,
    /// As built.
    AsBuilt,
}

/// Where screens meet earth.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum ScreenRule {
    /// At one end only.
    #[default]
    OneEnd,
    /// At both ends.
    BothEnds,
}

/// The sheet asked for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SheetSize {
    /// The smallest that fits.
    #[default]
    Auto,
    /// A4 on its side.
    A4,
    /// A3 on its side.
    A3,
}

/// Entries declared `exclusive`.
#[derive(Clone, Debug)]
pub struct Exclusive {
    /// The entries.
    pub parts: Vec<PartId>,
    /// Where it stands.
    pub place: Place,
}

/// A device.
#[derive(Clone, Debug)]
pub struct Device {
    /// The label on site.
    pub name: Name,
    /// `Hall/Panel` as `["Hall", "Panel"]`; empty when not stated.
    pub location: Arc<[String]>,
    /// Its terminals, in printed order.
    pub terminals: Run,
    /// Its parts, in the data sheet's order.
    pub parts: Run,
    /// `rest: operated`.
    pub rest_operated: bool,
    /// What the door must do when the lock's source is lost.
    pub on_loss: Option<OnLoss>,
    /// What was set on it.
    pub settings: Box<[Setting]>,
    /// Where its key stands.
    pub place: Place,
    /// What its type says of it, the same for all devices that bear the type and say nothing else.
    pub of: Arc<TypeDevice>,
}

/// A device as its type has it.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct TypeDevice {
    /// What it is, in words: its `name:`, else the data sheet's.
    pub title: Option<Name>,
    /// The type, as written.
    pub type_name: Option<Name>,
    /// What its data sheet calls it.
    pub type_title: Option<Name>,
    /// What kind of drawing and connection it is.
    pub form: Form,
    /// Printed on the drawing and the test sheet.
    pub cautions: Arc<[String]>,
    /// The graphic symbol asked for.
    pub symbol: Option<Name>,
}

impl Deref for Device {
    type Target = TypeDevice;

    fn deref(&self) -> &TypeDevice {
        &self.of
    }
}

/// The form of a device.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Form {
    /// A box with terminals.
    #[default]
    Box,
    /// One point; its only terminal has an empty name.
    Splice,
    /// A strip of ways, each one point with two sides.
    Strip,
}

/// What a door must do without power.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OnLoss {
    /// Stay locked.
    Locked,
    /// Be free.
    Unlocked,
}

/// One setting of a device: `settings: {OUT1: {pulse: 1 s}}` gives entry `OUT1`, key `pulse`.
#[derive(Clone, Debug)]
pub struct Setting {
    /// The entry that it is about, if it names one of the device's parts or stands in a map.
    pub entry: Option<String>,
    /// That entry, when it is one of the device's parts.
    pub part: Option<PartId>,
    /// The key; empty when the entry itself has a plain value.
    pub key: String,
    /// The value as written.
    pub value: String,
    /// What it means, where the program understands it.
    pub meaning: Meaning,
    /// Where the value stands.
    pub place: Place,
}

/// A setting that the program understands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Meaning {
    /// `pulse: 1 s`.
    Pulse(Seconds),
    /// `contact: normally-open` or `normally-closed`.
    Contact(Contacting),
    /// `drives: OUT1`: the entry follows the input that bears the setting; `None` is `nothing`.
    Drives(Option<PartId>),
    /// `terminator: on` or `off`.
    Terminator(bool),
    /// Recorded and printed only.
    Free,
}

/// What an input expects at rest.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Contacting {
    /// A make contact.
    NormallyOpen,
    /// A break contact.
    NormallyClosed,
}

/// A terminal.
#[derive(Clone, Debug)]
pub struct Terminal {
    /// Whose it is.
    pub device: DeviceId,
    /// What the type says of it, the same for all devices that bear the type.
    pub of: Arc<TypeTerminal>,
}

/// A terminal as a type has it.
#[derive(Clone, Debug)]
pub struct TypeTerminal {
    /// As printed on the part; empty for a splice.
    pub name: Name,
    /// More words for it.
    pub label: Option<Name>,
    /// The colour of the flying lead, if it is one.
    pub lead: Option<Name>,
    /// The conductor sizes that fit.
    pub fits: Option<Span<SquareMm>>,
    /// How many conductors it takes; `None` when the type is silent.
    pub conductors: Option<u32>,
}

impl Deref for Terminal {
    type Target = TypeTerminal;

    fn deref(&self) -> &TypeTerminal {
        &self.of
    }
}

/// A terminal that stays without a core on purpose.
#[derive(Clone, Copy, Debug)]
pub struct Unused {
    /// How the lead was made safe; `None` for a screw terminal that simply stays empty.
    pub way: Option<Safe>,
    /// Where it is said.
    pub place: Place,
}

/// A way of making an end safe.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Safe {
    /// Taped.
    Taped,
    /// Sleeved.
    Sleeved,
    /// Capped.
    Capped,
    /// Put in a terminal that this file does not list.
    Parked,
}

impl Safe {
    /// The word in the file and on the drawing.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Taped => "taped",
            Self::Sleeved => "sleeved",
            Self::Capped => "capped",
            Self::Parked => "parked",
        }
    }
}

/// A figure and where it comes from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figure<Q> {
    /// The value.
    pub value: Q,
    /// Where from.
    pub from: Origin,
}

/// Where a figure comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Origin {
    /// The file or the data sheet states it.
    Stated,
    /// IEC 60228, by size and class.
    Iec60228,
    /// ASTM B258, by gauge.
    AstmB258,
    /// The strands: 1.137 × 1000 / (58 × area).
    Strands,
    /// The program's own cautious default.
    OwnDefault,
}

/// A cable.
#[derive(Clone, Debug)]
pub struct Cable {
    /// The label on site.
    pub name: Name,
    /// The length of the run.
    pub length: Option<Metres>,
    /// Kept apart from others.
    pub separated: bool,
    /// Its cores, in the type's order.
    pub cores: Run,
    /// Where its key stands.
    pub place: Place,
    /// What its type says of its conductors, the same for all cables that say nothing else of them.
    pub of: Arc<Conductors>,
}

impl Cable {
    /// Cores that are twisted together.
    pub fn pairs(&self) -> impl ExactSizeIterator<Item = [CoreId; 2]> + '_ {
        self.of.pairs.iter().map(|pair| pair.map(|core| self.core(core)))
    }

    /// The screen's drain.
    #[must_use]
    pub fn drain(&self) -> Option<CoreId> {
        self.of.drain.map(|core| self.core(core))
    }

    /// What it is made up of, where its size is stated: `4 × 0.22 mm², screened`, a single core `1 mm²`. The drain of a
    /// screen is not counted.
    #[must_use]
    pub fn make_up(&self) -> Option<String> {
        let size = self.size_text.as_ref()?;
        let drains = usize::from(self.drain().is_some());
        let screened = if drains > 0 { ", screened" } else { "" };
        Some(match self.cores.len() - drains {
            1 => format!("{size}{screened}"),
            many => format!("{many} × {size}{screened}"),
        })
    }

    fn core(&self, number: u32) -> CoreId {
        CoreId(self.cores.start + number)
    }
}

/// The type of a cable and the conductors that it has.
#[derive(Clone, Debug, Default)]
pub struct Conductors {
    /// The type, as written.
    pub type_name: Option<Name>,
    /// The conductor size.
    pub area: Option<SquareMm>,
    /// The size as the trade writes it: `0.22 mm²`, `18 AWG`.
    pub size_text: Option<Name>,
    /// Resistance of each core at 20 °C.
    pub ohm_per_km: Option<Figure<OhmsPerKm>>,
    /// What each core may carry.
    pub amps: Option<Figure<Amps>>,
    /// Cores that are twisted together, by their numbers in the cable.
    pub pairs: Box<[[u32; 2]]>,
    /// The number of the screen's drain in the cable.
    pub drain: Option<u32>,
    /// Whether the cable has a screen.
    pub screened: bool,
}

impl Deref for Cable {
    type Target = Conductors;

    fn deref(&self) -> &Conductors {
        &self.of
    }
}

/// A core.
#[derive(Clone, Debug)]
pub struct Core {
    /// Whose it is.
    pub cable: CableId,
    /// Near end, far end.
    pub ends: [CoreEnd; 2],
    /// Where its key stands (the cable's key when not mentioned).
    pub place: Place,
    /// What it is called, shared by the cores of all cables that are called so.
    pub of: Arc<CoreName>,
}

/// What a core is called.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct CoreName {
    /// Its name in the file (`red`, `black-1`).
    pub name: Name,
    /// Its colours, base first; empty when the name is no colour and the cable data gives none.
    pub colours: Colours,
    /// Whether the file mentions it; a core that it does not is spare and not made safe.
    pub mentioned: bool,
}

impl Deref for Core {
    type Target = CoreName;

    fn deref(&self) -> &CoreName {
        &self.of
    }
}

/// One end of a core.
#[derive(Clone, Copy, Debug)]
pub struct CoreEnd {
    /// Where it goes.
    pub to: End,
    /// Where that is said.
    pub place: Place,
}

/// Where an end goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// On a terminal.
    Terminal(TerminalId),
    /// Made safe.
    Safe(Safe),
    /// Left bare.
    Bare,
    /// Spare and not yet made safe.
    Spare,
}

/// The colours of IEC 60757, in the order of its Table 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs, reason = "the names say it")]
pub enum Colour {
    Black,
    Brown,
    Red,
    Orange,
    Yellow,
    Green,
    Blue,
    Violet,
    Grey,
    White,
    Pink,
    Gold,
    Turquoise,
    Silver,
}

/// The colours of a core, base first: none, one or two.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Colours {
    all: [Colour; 2],
    count: u8,
}

impl Colours {
    /// No colour.
    pub const NONE: Self = Self { all: [Colour::Black; 2], count: 0 };

    /// One colour.
    #[must_use]
    pub fn one(colour: Colour) -> Self {
        Self { all: [colour; 2], count: 1 }
    }

    /// The colours.
    #[must_use]
    pub fn as_slice(&self) -> &[Colour] {
        self
    }

    /// A base and a second colour.
    #[must_use]
    pub fn two(base: Colour, second: Colour) -> Self {
        Self { all: [base, second], count: 2 }
    }
}

impl Default for Colours {
    fn default() -> Self {
        Self::NONE
    }
}

impl Deref for Colours {
    type Target = [Colour];

    fn deref(&self) -> &[Colour] {
        self.all.get(..self.count.into()).unwrap_or_default()
    }
}

impl<const N: usize> PartialEq<[Colour; N]> for Colours {
    fn eq(&self, other: &[Colour; N]) -> bool {
        **self == *other
    }
}

impl fmt::Debug for Colours {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_list().entries(self.iter()).finish()
    }
}

/// A jumper without a cable.
#[derive(Clone, Debug)]
pub struct Link {
    /// Its two ends.
    pub ends: [TerminalId; 2],
    /// The device whose `across:` it is.
    pub across: Option<DeviceId>,
    /// Where it stands.
    pub place: Place,
}

/// Where a device would like to stand on the drawing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Hint {
    /// The device.
    pub device: DeviceId,
    /// The device right above or right below it.
    pub beside: Option<DeviceId>,
    /// The column of devices, counted from the left, the first being 1.
    pub column: Option<u16>,
    /// The sides of its terminals.
    pub sides: Vec<(TerminalId, OnSide)>,
}

/// A side of a device's outline.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "the names say it")]
pub enum OnSide {
    Left,
    Right,
}

/// One line of cause and effect.
#[derive(Clone, Debug)]
pub struct CauseLine {
    /// Done in order before `when`.
    pub first: Vec<Condition>,
    /// The causes.
    pub when: Vec<Condition>,
    /// The effects.
    pub then: Vec<Condition>,
    /// Where it stands.
    pub place: Place,
}

/// `K1.OUT1 operated`.
#[derive(Clone, Debug)]
pub struct Condition {
    /// The device.
    pub device: DeviceId,
    /// The entry, if one is named.
    pub part: Option<PartId>,
    /// The state word.
    pub state: StateWord,
    /// Where it stands.
    pub place: Place,
}

/// The state words of a condition.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "the names say it")]
pub enum StateWord {
    Operated,
    AtRest,
    Active,
    Inactive,
    Closed,
    Open,
    Powered,
    Dead,
    Forward,
    Reverse,
    On,
    Off,
    Rest,
    Alarm,
    Tamper,
}

/// A finding that the job accepts at one place.
#[derive(Clone, Debug)]
pub struct Accepted {
    /// The rule.
    pub rule: String,
    /// What it is about.
    pub at: AcceptedAt,
    /// The reason.
    pub because: String,
    /// Where it stands.
    pub place: Place,
}

/// What an accepted finding is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "the names say it")]
pub enum AcceptedAt {
    Device(DeviceId),
    Terminal(TerminalId),
    Cable(CableId),
    Core(CoreId),
}

impl Job {
    /// The device of that number.
    #[must_use]
    pub fn device(&self, id: DeviceId) -> &Device {
        &self.devices[id.index()]
    }

    /// The terminal of that number.
    #[must_use]
    pub fn terminal(&self, id: TerminalId) -> &Terminal {
        &self.terminals[id.index()]
    }

    /// What `unused:` says of a terminal.
    #[must_use]
    pub fn unused(&self, id: TerminalId) -> Option<Unused> {
        self.unused.get(&id).copied()
    }

    /// The part of that number.
    #[must_use]
    pub fn part(&self, id: PartId) -> &Part {
        &self.parts[id.index()]
    }

    /// The cable of that number.
    #[must_use]
    pub fn cable(&self, id: CableId) -> &Cable {
        &self.cables[id.index()]
    }

    /// The core of that number.
    #[must_use]
    pub fn core(&self, id: CoreId) -> &Core {
        &self.cores[id.index()]
    }

    /// All devices with their numbers.
    pub fn device_ids(&self) -> impl Iterator<Item = (DeviceId, &Device)> + Clone {
        (0..).map(DeviceId).zip(&self.devices)
    }

    /// All terminals with their numbers.
    pub fn terminal_ids(&self) -> impl Iterator<Item = (TerminalId, &Terminal)> + Clone {
        (0..).map(TerminalId).zip(&self.terminals)
    }

    /// All parts with their numbers.
    pub fn part_ids(&self) -> impl Iterator<Item = (PartId, &Part)> + Clone {
        (0..).map(PartId).zip(&self.parts)
    }

    /// The sources with their ids.
    pub fn sources(&self) -> impl Iterator<Item = (PartId, &Source)> {
        self.part_ids().filter_map(|(id, part)| match &part.kind {
            Kind::Source(source) => Some((id, &**source)),
            _ => None,
        })
    }

    /// The parts of a terminal's device that use the terminal.
    pub fn parts_on(&self, id: TerminalId) -> impl Iterator<Item = (PartId, &Part)> {
        let held = self.device(self.terminal(id).device).parts.iter().map(PartId);
        held.map(|part| (part, self.part(part))).filter(move |(_, part)| part.kind.terminals().contains(&id))
    }

    /// All cables with their numbers.
    pub fn cable_ids(&self) -> impl Iterator<Item = (CableId, &Cable)> + Clone {
        (0..).map(CableId).zip(&self.cables)
    }

    /// All cores with their numbers.
    pub fn core_ids(&self) -> impl Iterator<Item = (CoreId, &Core)> + Clone {
        (0..).map(CoreId).zip(&self.cores)
    }

    /// A core in words: `W2 blue`.
    #[must_use]
    pub fn core_label(&self, id: CoreId) -> String {
        let core = self.core(id);
        format!("{} {}", self.cable(core.cable).name, core.name)
    }

    /// A terminal as the job file writes it: `K1.NO1`, a splice as `X1`.
    #[must_use]
    pub fn written(&self, id: TerminalId) -> String {
        let terminal = self.terminal(id);
        let device = &self.device(terminal.device).name;
        if terminal.name.is_empty() { device.to_string() } else { format!("{device}.{}", terminal.name) }
    }

    /// A terminal in print: `K1:NO1`, a splice as `X1`.
    #[must_use]
    pub fn label(&self, id: TerminalId) -> String {
        let terminal = self.terminal(id);
        let device = &self.device(terminal.device).name;
        if terminal.name.is_empty() { device.to_string() } else { format!("{device}:{}", terminal.name) }
    }
}

impl Colour {
    /// The word of IEC 60757.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Black => "black",
            Self::Brown => "brown",
            Self::Red => "red",
            Self::Orange => "orange",
            Self::Yellow => "yellow",
            Self::Green => "green",
            Self::Blue => "blue",
            Self::Violet => "violet",
            Self::Grey => "grey",
            Self::White => "white",
            Self::Pink => "pink",
            Self::Gold => "gold",
            Self::Turquoise => "turquoise",
            Self::Silver => "silver",
        }
    }

    /// The code of IEC 60757.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::Black => "BK",
            Self::Brown => "BN",
            Self::Red => "RD",
            Self::Orange => "OG",
            Self::Yellow => "YE",
            Self::Green => "GN",
            Self::Blue => "BU",
            Self::Violet => "VT",
            Self::Grey => "GY",
            Self::White => "WH",
            Self::Pink => "PK",
            Self::Gold => "GD",
            Self::Turquoise => "TQ",
            Self::Silver => "SR",
        }
    }
}
