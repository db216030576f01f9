//! The single changes of the wiring that could cure a job, the likelier ones first.
//!
//! A loose end stands first, then a conductor that stands one terminal too far, then two that are exchanged, then one that is
//! missing between a terminal from which nothing leads on and the rest.

use std::collections::BTreeSet;

use crate::circuit::{Circuit, Landing, NetId, Through};
use crate::diagnostic::{Change, Finding};
use crate::netlist::{AnalogueKind, CoreId, Device, DeviceId, Form, Job, Kind, LinkId, Pole, TerminalId};

/// So many shorts are followed for the conductors that they go through.
const SHORTS: usize = 20;

/// One change that could be made.
pub(super) struct Candidate {
    pub(super) change: Change,
    /// What is likelier comes first.
    pub(super) rank: usize,
    /// Whether no core of that name lands on a terminal of that name anywhere else.
    pub(super) odd: bool,
    /// What is to be done, and where; of several that differ in the last alone it is told once.
    pub(super) what: String,
    pub(super) at: String,
}

/// What sort of change could take findings away.
#[derive(Clone, Copy, Default)]
pub(super) struct Sought {
    /// Something stays dead that should not.
    open: bool,
    /// Something stays dead that may have both its ends on one pole.
    on_one_pole: bool,
    /// A source is shorted.
    shorted: bool,
    /// Something is fed the wrong way round.
    turned: bool,
    /// A signal does not arrive, or what happens is not what is wanted.
    astray: bool,
    /// A part is wired on one side only.
    half: bool,
}

/// The rules whose findings one conductor can explain, each with the sort of change that could take it away.
const EXPLAINED: &[(&str, Sought)] = {
    const NONE: Sought =
        Sought { open: false, on_one_pole: false, shorted: false, turned: false, astray: false, half: false };
    const OPEN: Sought = Sought { open: true, ..NONE };
    const ASTRAY: Sought = Sought { astray: true, ..OPEN };
    &[
        ("short-circuit", Sought { shorted: true, ..NONE }),
        ("reversed-polarity", Sought { turned: true, ..NONE }),
        ("open-return", OPEN),
        ("unpowered", Sought { on_one_pole: true, ..OPEN }),
        ("voltage-on-dry-input", ASTRAY),
        ("no-common", OPEN),
        ("sink-source-mismatch", ASTRAY),
        ("floating-input", OPEN),
        ("eol-value", ASTRAY),
        ("loop-supply", ASTRAY),
        ("effect-not-met", ASTRAY),
        ("analogue-mismatch", ASTRAY),
        ("swapped-pair", ASTRAY),
        ("bus-shape", ASTRAY),
        ("screen-open", ASTRAY),
        ("half-wired", Sought { half: true, ..NONE }),
    ]
};

/// Whether a rule finds what one conductor can explain.
pub(super) fn explained(rule: &str) -> bool {
    EXPLAINED.iter().any(|(name, _)| *name == rule)
}

impl Sought {
    pub(super) fn by<'f>(findings: impl Iterator<Item = &'f Finding>) -> Self {
        let sought = findings.filter_map(|finding| EXPLAINED.iter().find(|(name, _)| *name == finding.rule));
        sought.fold(Self::default(), |all, (_, one)| Self {
            open: all.open || one.open,
            on_one_pole: all.on_one_pole || one.on_one_pole,
            shorted: all.shorted || one.shorted,
            turned: all.turned || one.turned,
            astray: all.astray || one.astray,
            half: all.half || one.half,
        })
    }
}

/// All changes that could do what is sought, the likeliest first.
pub(super) fn candidates(job: &Job, circuit: &Circuit, sought: Sought) -> Vec<Candidate> {
    let bench = Bench::of(job, circuit, sought);
    let mut found = Vec::new();
    if sought.open {
        bench.join(&mut found);
    }
    bench.land(&mut found);
    bench.shift(&mut found);
    bench.move_cores(&mut found);
    bench.exchange(&mut found);
    found.sort_by_key(|candidate| candidate.rank);
    found
}

/// An end of a core that lands on a terminal.
#[derive(Clone, Copy)]
struct Landed {
    core: CoreId,
    end: u8,
    at: TerminalId,
}

/// What is asked of the wiring again and again while changes are thought of.
struct Bench<'j> {
    job: &'j Job,
    circuit: &'j Circuit,
    sought: Sought,
    /// By conductor: whether a plus and a minus come to it in some state.
    poles: Vec<[bool; 2]>,
    /// The conductors through which shorts go.
    shorting: BTreeSet<Through>,
    /// The names of cores with those of the terminals of devices on which they land.
    customs: BTreeSet<(&'j str, &'j str)>,
    landed: Vec<Landed>,
}

impl<'j> Bench<'j> {
    fn of(job: &'j Job, circuit: &'j Circuit, sought: Sought) -> Self {
        let mut poles: Vec<Option<[bool; 2]>> = vec![None; circuit.net_count()];
        for (at, _) in job.terminal_ids() {
            poles[circuit.net_of(at).index()].get_or_insert_with(|| {
                let on = circuit.hard_poles(at);
                [Pole::Plus, Pole::Minus].map(|pole| on.iter().any(|(_, its)| *its == pole))
            });
        }
        let shorts = circuit.shorts().ways.iter().take(SHORTS);
        let paths = shorts.filter_map(|short| {
            let [from, to] = short.between;
            circuit.follow(job, &short.needs, &short.parts, from, to)
        });
        let landed: Vec<Landed> = job
            .core_ids()
            .flat_map(|(core, is)| {
                let ends = (0..).zip(is.ends);
                ends.filter_map(move |(end, to)| Some(Landed { core, end, at: to.to.terminal()? }))
            })
            .collect();
        Self {
            job,
            circuit,
            sought,
            poles: poles.into_iter().map(Option::unwrap_or_default).collect(),
            shorting: paths.flat_map(|path| path.hops).map(|hop| hop.through).collect(),
            customs: landed
                .iter()
                .filter(|it| job.device(job.terminal(it.at).device).form == Form::Box)
                .map(|it| (&*job.core(it.core).name, &*job.terminal(it.at).name))
                .collect(),
            landed,
        }
    }

    fn net(&self, at: TerminalId) -> NetId {
        self.circuit.net_of(at)
    }

    fn poles(&self, at: TerminalId) -> [bool; 2] {
        self.poles[self.net(at).index()]
    }

    /// Whether no source comes to a terminal in any state.
    fn dead(&self, at: TerminalId) -> bool {
        self.poles(at) == [false; 2]
    }

    fn form(&self, at: TerminalId) -> Form {
        self.device(at).form
    }

    fn device(&self, at: TerminalId) -> &'j Device {
        self.job.device(self.job.terminal(at).device)
    }

    /// How many cores and links, the leads of parts across others apart, land on a terminal.
    fn conductors(&self, at: TerminalId) -> usize {
        let on = self.circuit.landings().on(at).iter();
        on.filter(|landing| match landing {
            Landing::Core(..) => true,
            Landing::Link(link) => self.job.links[link.index()].across.is_none(),
        })
        .count()
    }

    /// Whether nothing lands on the terminal of a device.
    fn bare(&self, at: TerminalId) -> bool {
        self.conductors(at) == 0 && self.form(at) != Form::Splice
    }

    fn odd(&self, core: CoreId, at: TerminalId) -> bool {
        self.form(at) == Form::Box
            && !self.customs.contains(&(&*self.job.core(core).name, &*self.job.terminal(at).name))
    }

    /// The terminal that stands for each conductor: a splice, else the strip way or terminal with the fewest on it.
    fn spots(&self) -> Vec<TerminalId> {
        let mut spots: Vec<Option<TerminalId>> = vec![None; self.circuit.net_count()];
        let rank = |at: TerminalId| {
            let form = match self.form(at) {
                Form::Splice => 0,
                Form::Strip => 1,
                Form::Box => 2,
            };
            (form, self.conductors(at))
        };
        for (at, _) in self.job.terminal_ids().filter(|(at, _)| self.job.unused(*at).is_none()) {
            let spot = &mut spots[self.net(at).index()];
            if spot.is_none_or(|other| rank(at) < rank(other)) {
                *spot = Some(at);
            }
        }
        spots.into_iter().flatten().collect()
    }

    /// Cores that are left loose at one end, brought to each conductor.
    fn land(&self, found: &mut Vec<Candidate>) {
        let job = self.job;
        let spots = self.spots();
        for (core, is) in job.core_ids() {
            let (end, at, which) = match is.ends.map(|end| end.to.terminal()) {
                [Some(at), None] => (1, at, "far"),
                [None, Some(at)] => (0, at, "near"),
                _ => continue,
            };
            let fellows: Vec<&Device> = self.fellows(core, end).map(|it| self.device(it.at)).collect();
            let helps = |to: TerminalId| {
                self.sought.astray
                    || self.sought.open && self.dead(to) != self.dead(at)
                    || self.sought.half && self.bare(to)
            };
            // A drain that is earthed carries no current, whatever its other end is brought to.
            let bond = |at: TerminalId| {
                job.parts_on(at).any(|(_, part)| matches!(part.kind, Kind::Screen(_) | Kind::Earth(_)))
            };
            let earthed = job.cable(is.cable).drain() == Some(core) && bond(at);
            let fits = |to: TerminalId| {
                self.net(to) != self.net(at)
                    && !self.passes_fuse(to, at)
                    && (!earthed || bond(to))
                    && helps(to)
            };
            for &to in spots.iter().filter(|to| fits(**to)) {
                let device = self.device(to);
                let beside = fellows.iter().any(|fellow| std::ptr::eq(*fellow, device));
                let near =
                    fellows.is_empty() || fellows.iter().any(|fellow| fellow.location == device.location);
                found.push(Candidate {
                    change: Change::Land((core.0, end), to.0),
                    rank: match (self.bare(to), beside, near) {
                        (true, true, _) => 0,
                        (true, _, true) => 1,
                        (false, _, true) => 2,
                        (true, ..) => 3,
                        (false, ..) => 4,
                    },
                    odd: self.odd(core, to),
                    what: format!(
                        "land the {which} end of {}, which is left loose, on",
                        job.core_label(core)
                    ),
                    at: job.label(to),
                });
            }
        }
    }

    /// The terminals to which what lands on one may have been meant to go: the ways beside it on a strip, and from a way that is
    /// too full those that still want a second core; all others of a device.
    fn others(&self, at: TerminalId) -> impl Iterator<Item = TerminalId> {
        let strip = self.form(at) == Form::Strip;
        let full = strip && self.conductors(at) > 2;
        let near = move |to: TerminalId| to.0.abs_diff(at.0) == 1 || full && self.conductors(to) == 1;
        let all = self.device(at).terminals.iter().map(TerminalId);
        all.filter(move |to| (!strip || near(*to)) && self.may_go(at, *to))
    }

    /// The other splices at the place of the one on which a core lands, where something has both its ends on one pole: crimps look
    /// alike.
    fn other_splices(&self, at: TerminalId) -> impl Iterator<Item = TerminalId> {
        let here = (self.sought.on_one_pole && self.form(at) == Form::Splice).then(|| self.device(at));
        let all = self.job.terminal_ids().map(|(to, _)| to);
        all.filter(move |to| {
            let beside = here.is_some_and(|here| here.location == self.device(*to).location);
            beside && self.form(*to) == Form::Splice && self.may_go(at, *to)
        })
    }

    /// The terminals on which nothing is, of the devices on which the other cores of its cable land at that end.
    fn beside_fellows(&self, core: Landed) -> impl Iterator<Item = TerminalId> {
        let own = self.job.terminal(core.at).device;
        let fellows = self.fellows(core.core, core.end).map(|it| self.job.terminal(it.at).device);
        let devices: BTreeSet<DeviceId> = fellows.filter(|device| *device != own).collect();
        let all = devices.into_iter().flat_map(|id| self.job.device(id).terminals.iter().map(TerminalId));
        all.filter(move |to| self.bare(*to) && self.may_go(core.at, *to))
    }

    /// The other cores of a core's cable that land on terminals at one end.
    fn fellows(&self, core: CoreId, end: u8) -> impl Iterator<Item = &Landed> {
        let cable = self.job.core(core).cable;
        self.landed
            .iter()
            .filter(move |it| it.core != core && it.end == end && self.job.core(it.core).cable == cable)
    }

    /// Whether what lands on one terminal may go to another without leaving a part with one side that leads nowhere.
    fn may_go(&self, at: TerminalId, to: TerminalId) -> bool {
        to != at
            && self.job.unused(to).is_none()
            && self.net(to) != self.net(at)
            && (self.conductors(at) > 1 || !self.is_needed(at))
    }

    /// Whether one terminal is for a signal alone, and what comes to it would come straight from a source, a load or a coil.
    fn is_foreign(&self, far: TerminalId, to: TerminalId) -> bool {
        let power = |kind: &Kind| matches!(kind, Kind::Source(_) | Kind::Load(_) | Kind::Coil(_));
        let signal = |kind: &Kind| match kind {
            Kind::Input(input) => input.at == to,
            Kind::DryInput(_) | Kind::Supervised(_) | Kind::SignalPair(_) => true,
            Kind::Analogue(end) => end.plus == to && end.kind == AnalogueKind::Volts,
            _ => false,
        };
        let on = |at: TerminalId, wanted: &dyn Fn(&Kind) -> bool| {
            self.job.parts_on(at).any(|(_, part)| wanted(&part.kind))
        };
        on(far, &power) && on(to, &signal) && !on(to, &power)
    }

    /// Whether a part lies on a terminal of which another side is wired, so that this one may not stay empty.
    fn is_needed(&self, at: TerminalId) -> bool {
        self.job.parts_on(at).any(|(_, part)| {
            let needs_all = match &part.kind {
                Kind::Contact(contact) => contact.no.is_none() || contact.nc.is_none(),
                kind => matches!(kind, Kind::Output(_) | Kind::TwoWire(_) | Kind::Fuse(_)),
            };
            needs_all && part.kind.terminals().iter().any(|other| *other != at && self.conductors(*other) > 0)
        })
    }

    /// How likely it is that something which lands on one terminal was meant for another: most where it shares its terminal and
    /// nothing is on that beside it.
    fn misplaced(&self, at: TerminalId, to: TerminalId) -> usize {
        let beside = to.0.abs_diff(at.0) == 1;
        match (self.conductors(at) > 1, self.bare(to)) {
            (true, true) => 10 + usize::from(!beside),
            (false, true) => 12 + usize::from(!beside),
            (true, false) => 25,
            (false, false) => 45,
        }
    }

    /// Whether bringing something from one terminal to another could do what is sought.
    fn helps(&self, through: Through, at: TerminalId, to: TerminalId) -> bool {
        self.sought.astray
            || self.sought.shorted && self.shorting.contains(&through)
            || self.sought.open && (self.dead(at) || self.dead(to) || self.bare(to))
            || self.sought.on_one_pole && self.poles(at) != self.poles(to)
            || self.sought.half && self.bare(to) && self.conductors(at) > 1
    }

    /// Cores brought from one terminal to another of the same device.
    fn move_cores(&self, found: &mut Vec<Candidate>) {
        for &landed in &self.landed {
            let Landed { core, end, at } = landed;
            let all = self.others(at).map(|to| (to, self.misplaced(at, to)));
            let all = all.chain(self.beside_fellows(landed).map(|to| (to, 14)));
            let all = all.chain(self.other_splices(at).map(|to| (to, 26)));
            let far = self.job.core(core).ends[usize::from(1 - end)].to.terminal();
            let all = all.filter(|(to, _)| !far.is_some_and(|far| self.is_foreign(far, *to)));
            for (to, rank) in all.filter(|(to, _)| self.helps(Through::Core(core), at, *to)) {
                found.push(Candidate {
                    change: Change::Land((core.0, end), to.0),
                    rank,
                    odd: self.odd(core, to),
                    what: format!("move {} from {} to", self.job.core_label(core), self.job.label(at)),
                    at: self.job.label(to),
                });
            }
        }
    }

    /// Links brought from one terminal to another of the same device.
    fn shift(&self, found: &mut Vec<Candidate>) {
        let links = (0..).map(LinkId).zip(&self.job.links).filter(|(_, link)| link.across.is_none());
        for (id, link) in links {
            for (end, at) in (0..).zip(link.ends) {
                let far_end = link.ends[usize::from(1 - end)];
                let far = self.job.label(far_end);
                let fits = |to: &TerminalId| {
                    !self.is_foreign(far_end, *to) && self.helps(Through::Link(id), at, *to)
                };
                for to in self.others(at).filter(fits) {
                    found.push(Candidate {
                        change: Change::Shift(id.0, end, to.0),
                        // Links lead on from way to way: that one shares its terminal says nothing.
                        rank: if self.conductors(at) > 1 { 40 } else { self.misplaced(at, to) },
                        odd: false,
                        what: format!(
                            "move the link, which comes from {far}, from {} to",
                            self.job.label(at)
                        ),
                        at: self.job.label(to),
                    });
                }
            }
        }
    }

    /// Two cores exchanged at one end of a cable, or on one device.
    fn exchange(&self, found: &mut Vec<Candidate>) {
        let job = self.job;
        for (n, one) in self.landed.iter().enumerate() {
            for other in &self.landed[n + 1..] {
                let of_cable = job.core(one.core).cable == job.core(other.core).cable && one.end == other.end;
                let on_device = self.form(one.at) == Form::Box
                    && job.terminal(one.at).device == job.terminal(other.at).device;
                if one.core == other.core
                    || self.net(one.at) == self.net(other.at)
                    || !(of_cable || on_device)
                    || !self.exchange_helps(one, other)
                {
                    continue;
                }
                let [here, there] =
                    [one, other].map(|it| format!("{} at {}", job.core_label(it.core), job.label(it.at)));
                found.push(Candidate {
                    change: Change::Exchange((one.core.0, one.end), (other.core.0, other.end)),
                    rank: 20 + usize::from(!of_cable),
                    odd: self.odd(one.core, other.at) || self.odd(other.core, one.at),
                    what: "exchange".to_owned(),
                    at: format!("{here} and {there}"),
                });
            }
        }
    }

    fn exchange_helps(&self, one: &Landed, other: &Landed) -> bool {
        let [[plus, minus], [its_plus, its_minus]] = [one, other].map(|it| self.poles(it.at));
        let shorting = [one, other].iter().any(|it| self.shorting.contains(&Through::Core(it.core)));
        self.sought.astray
            || self.sought.shorted && shorting
            || self.sought.turned && (plus && its_minus || minus && its_plus)
            || self.sought.open && (self.dead(one.at) || self.dead(other.at))
    }

    /// A conductor that a pole comes to, joined to one that none does, where nothing leads on from one of the two.
    fn join(&self, found: &mut Vec<Candidate>) {
        let (live, dead): (Vec<_>, Vec<_>) = self.spots().into_iter().partition(|at| !self.dead(*at));
        for &from in &live {
            for &to in &dead {
                let beside = self.ways_beside(from, to);
                if self.passes_fuse(from, to) {
                    continue;
                }
                if beside.is_none() && !self.dangles(from) && !self.dangles(to) {
                    continue;
                }
                let [from, to] = beside.unwrap_or([from, to]);
                found.push(Candidate {
                    change: Change::Join(from.0, to.0),
                    rank: match (beside.is_some(), self.dangles(from), self.dangles(to)) {
                        (true, ..) => 30,
                        (_, true, true) => 31,
                        _ => 32,
                    },
                    odd: false,
                    what: "join".to_owned(),
                    at: format!("{} and {}", self.job.label(from), self.job.label(to)),
                });
            }
        }
    }

    /// Two ways of one strip that lie side by side, one on either conductor.
    fn ways_beside(&self, one: TerminalId, other: TerminalId) -> Option<[TerminalId; 2]> {
        let ways = |at: TerminalId| {
            let all = self.circuit.terminals_of(self.net(at)).iter().copied();
            all.filter(|at| self.form(*at) == Form::Strip)
        };
        let beside = |a: TerminalId, b: TerminalId| {
            a.0.abs_diff(b.0) == 1 && self.job.terminal(a).device == self.job.terminal(b).device
        };
        ways(one).find_map(|a| ways(other).find(|b| beside(a, *b)).map(|b| [a, b]))
    }

    /// Whether one conductor is a source's own before its fuse, and the other leads to no fuse.
    fn passes_fuse(&self, source: TerminalId, other: TerminalId) -> bool {
        let has = |at: TerminalId, wanted: &dyn Fn(&Kind) -> bool| {
            let all = self.circuit.terminals_of(self.net(at)).iter();
            all.flat_map(|at| self.job.parts_on(*at)).any(|(_, part)| wanted(&part.kind))
        };
        let fuse = |kind: &Kind| matches!(kind, Kind::Fuse(_));
        has(source, &|kind| matches!(kind, Kind::Source(_))) && has(source, &fuse) && !has(other, &fuse)
    }

    /// Whether nothing but sides of fuses, contacts and sources lies on a conductor: nothing leads on from there.
    fn dangles(&self, at: TerminalId) -> bool {
        let all = self.circuit.terminals_of(self.net(at));
        let mut parts =
            all.iter().flat_map(|at| self.job.parts_on(*at)).map(|(_, part)| &part.kind).peekable();
        parts.peek().is_some()
            && parts.all(|kind| {
                matches!(kind, Kind::Contact(_) | Kind::Fuse(_) | Kind::Source(_) | Kind::Bridge(_))
            })
    }
}
