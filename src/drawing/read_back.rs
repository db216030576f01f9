//! Reads a drawing back from its own lines and holds it against the job.
//!
//! Coordinates decide what is joined: lines that touch at an end or a corner, or run on one another, are one conductor,
//! and a conductor is on a terminal when it touches its circle. Names come from the file's attributes, colours from the
//! strokes. What the layout or the drawing meant is not asked.
//!
//! A conductor that goes on on another sheet ends on a flag on both, and each flag must say where the other one stands.

use std::collections::{BTreeMap, BTreeSet};

use super::diagram::{BARE, SPARE};
use super::joints::{self, Joined};
use super::paper;
use super::paper_reader::{self, Found, Label, Name, Reference, Sign};
use super::strand::{self, Seen};
use crate::layout::Conductor;
use crate::lettering;
use crate::netlist::{Colour, End, Job, Kind, LinkId, TerminalId};
use crate::scene::{Point, Rect};

/// How far a sign may stand from the end that it is meant for, in millimetres.
const SIGN_REACH: f64 = 2.0;

/// Distances from a text to two ends that differ by less do not tell which end it belongs to, in millimetres.
const UNDECIDED: f64 = 8.0;

/// The differences between a drawing and a job, each in a sentence; none if they agree.
///
/// # Errors
/// If a text is not a sheet of a drawing that anybody could read.
pub fn read_back<S: AsRef<str>>(sheets: &[S], job: &Job) -> Result<Vec<String>, String> {
    let found = paper_reader::read(sheets)?;
    if found.landings.is_empty() && found.lines.is_empty() && !job.terminals.is_empty() {
        return Err("there is no connection diagram on this sheet".to_owned());
    }
    let conductors = joints::joints(&found);
    let mut named: BTreeMap<Name, Vec<usize>> = BTreeMap::new();
    for (i, joined) in conductors.iter().enumerate() {
        for name in &joined.names {
            named.entry(name.clone()).or_default().push(i);
        }
    }
    let mut held =
        Held { job, found: &found, said: Said::of(&found), conductors, named, differences: Vec::new() };
    held.terminals();
    held.strangers();
    for (id, core) in job.core_ids() {
        held.conductor(name(job, Conductor::Core(id)), (0, 1), &core.colours, core.ends.map(|e| e.to));
    }
    // Links between the same two terminals bear one name.
    let links = || (0..).map(LinkId).zip(&job.links).map(|(id, link)| (name(job, Conductor::Link(id)), link));
    let mut alike: BTreeMap<Name, usize> = BTreeMap::new();
    for (name, _) in links() {
        *alike.entry(name).or_default() += 1;
    }
    let mut read: BTreeMap<Name, usize> = BTreeMap::new();
    for (name, link) in links() {
        let (read, all) = (read.entry(name.clone()).or_default(), alike.get(&name).copied().unwrap_or(1));
        held.conductor(name, (*read, all), &[], link.ends.map(End::Terminal));
        *read += 1;
    }
    held.leads();
    Ok(held.differences)
}

struct Held<'a> {
    job: &'a Job,
    found: &'a Found,
    said: Said<'a>,
    conductors: Vec<Joined>,
    /// The conductors in which each name is found.
    named: BTreeMap<Name, Vec<usize>>,
    differences: Vec<String>,
}

/// What stands beside conductors, by what it says that it belongs to.
struct Said<'a> {
    labels: BTreeMap<&'a str, Vec<&'a Label>>,
    /// By cable and core.
    signs: BTreeMap<(&'a str, &'a str), Vec<&'a Sign>>,
    references: BTreeMap<&'a Name, Vec<&'a Reference>>,
}

impl<'a> Said<'a> {
    fn of(found: &'a Found) -> Self {
        Self {
            labels: by(&found.labels, |label| Some(label.of.as_str())),
            signs: by(&found.signs, |sign| Some((sign.cable.as_str(), sign.core.as_str()))),
            references: by(&found.references, |reference| reference.name.as_ref()),
        }
    }
}

/// Things in their order under the keys that they have.
fn by<'a, K: Ord, T>(things: &'a [T], key: impl Fn(&'a T) -> Option<K>) -> BTreeMap<K, Vec<&'a T>> {
    let mut under: BTreeMap<K, Vec<&T>> = BTreeMap::new();
    for thing in things {
        if let Some(key) = key(thing) {
            under.entry(key).or_default().push(thing);
        }
    }
    under
}

/// A core or link as it is drawn, in one piece or in two with flags.
struct Drawn {
    joined: Joined,
    /// The points of its flags, each with the terminals that its piece is on.
    flags: Vec<(Point, Vec<(String, String)>)>,
}

impl Held<'_> {
    fn say(&mut self, text: String) {
        self.differences.push(text);
    }

    /// Every terminal of the job must be on the paper, and no other.
    fn terminals(&mut self) {
        let named: BTreeSet<(String, String)> =
            self.found.landings.iter().filter_map(|l| l.terminal.clone()).collect();
        let nameless = self.found.landings.iter().filter(|l| l.terminal.is_none()).count();
        if nameless > 0 {
            self.say(format!("{nameless} terminal circles on the drawing bear no name"));
        }
        let job = self.job;
        let aerials: BTreeSet<TerminalId> = job
            .parts
            .iter()
            .filter_map(|p| if let Kind::Aerial(t) = p.kind { Some(t) } else { None })
            .collect();
        let mut known = BTreeSet::new();
        for (id, terminal) in job.terminal_ids() {
            let device = &job.device(terminal.device).name;
            let name = (lettering::printable(device), lettering::printable(&terminal.name));
            if !named.contains(&name) && !aerials.contains(&id) {
                self.say(format!("terminal {} is not on the drawing", job.label(id)));
            }
            known.insert(name);
        }
        for strange in named.difference(&known) {
            self.say(format!("terminal {} is on the drawing but not in the job file", printed(strange)));
        }
    }

    /// Lines that belong to nothing in the job.
    fn strangers(&mut self) {
        let job = self.job;
        let mut known: BTreeSet<Name> = BTreeSet::new();
        known.extend(job.core_ids().map(|(id, _)| name(job, Conductor::Core(id))));
        let links = (0..).map(LinkId).take(job.links.len());
        known.extend(links.map(|id| name(job, Conductor::Link(id))));
        known.extend(job.terminal_ids().filter(|(_, t)| t.lead.is_some()).map(|(id, _)| lead_name(job, id)));
        let mut said = BTreeSet::new();
        let mut words = Vec::new();
        for joined in &self.conductors {
            for name in joined.names.iter().filter(|n| !known.contains(n)) {
                let at = self.terminals_of(joined);
                match name {
                    // A loose line of somebody's notes is no conductor.
                    Name::None if at.len() + joined.names.len() < 2 => {}
                    Name::None => {
                        let others: Vec<String> =
                            joined.names.iter().filter(|n| **n != Name::None).map(called).collect();
                        let what = at.iter().chain(&others).cloned().collect::<Vec<_>>().join(", ");
                        words.push(format!("a line that bears no name touches {what}"));
                    }
                    other if said.insert(other.clone()) => {
                        words.push(format!("{} is on the drawing but not in the job file", called(other)));
                    }
                    _ => {}
                }
            }
        }
        self.differences.extend(words);
    }

    /// One core or link, the so manieth of so many that bear its name: in one piece, alone, in its colours, and on its two
    /// ends.
    fn conductor(&mut self, own: Name, of: (usize, usize), colours: &[Colour], ends: [End; 2]) {
        let what = called(&own);
        let drawn = match self.drawn(&own, of, &what) {
            Ok(drawn) => drawn,
            Err(words) => return self.say(words),
        };
        let joined = &drawn.joined;
        let mut words = Vec::new();
        let alone = !joined.names.iter().any(|n| *n != own && *n != Name::None);
        let mut said = BTreeSet::new();
        for (a, b, at) in joined.contacts.iter().filter(|(a, b, _)| *a == own || *b == own) {
            let other = if *a == own { b } else { a };
            if *other != Name::None && said.insert(other) {
                let other = called(other);
                words.push(format!(
                    "{what} touches {other} at {:.1}, {:.1} mm and reads as joined to it",
                    at.x, at.y
                ));
            }
        }
        let looks = self.looks(joined, &own);
        if looks.as_deref() != Some(colours) {
            let seen = looks.map_or_else(|| "no colour that a core has".to_owned(), |c| words_of(&c));
            words.push(format!("{what} is drawn in {seen}, not in {}", words_of(colours)));
        }
        if alone {
            words.extend(self.ends(joined, &what, &own, ends));
        }
        if words.is_empty() {
            words.extend(self.far_ends(&drawn, &what, &own, ends));
        }
        self.differences.extend(words);
    }

    /// A core or link in one piece; two pieces with flags that lead to each other are one.
    fn drawn(&self, own: &Name, (nth, all): (usize, usize), what: &str) -> Result<Drawn, String> {
        let at = self.named.get(own).map_or(&[][..], Vec::as_slice);
        let pieces: Vec<&Joined> = at.iter().filter_map(|i| self.conductors.get(*i)).collect();
        let flags = self.said.references.get(own).map_or(&[][..], Vec::as_slice);
        match (pieces.as_slice(), flags) {
            ([], _) => Err(format!("{what} is not on the drawing")),
            (pieces, []) if pieces.len() == all => {
                let joined = pieces.get(nth).map(|piece| (*piece).clone()).unwrap_or_default();
                Ok(Drawn { joined, flags: Vec::new() })
            }
            ([first, second], [a, b]) => {
                // Each piece has one loose end at a flag, and the flags are not the same.
                let end = |piece: &Joined, flag: &Reference| {
                    let area = flag.area?.grown(SIGN_REACH);
                    piece.free.iter().copied().find(|p| inside(area, *p))
                };
                let straight = end(first, a).zip(end(second, b));
                let ends = straight.or_else(|| end(first, b).zip(end(second, a)));
                let Some((p, q)) = ends else {
                    return Err(format!(
                        "{what} is drawn in 2 pieces, and not each of them ends on its flag"
                    ));
                };
                for (flag, other) in [(a, b), (b, a)] {
                    let place = other.area.map(|area| self.place(middle(area))).unwrap_or_default();
                    if flag.words != place {
                        return Err(format!(
                            "a flag of {what} leads to {}, but it goes on at {place}",
                            if flag.words.is_empty() { "nowhere" } else { &flag.words }
                        ));
                    }
                }
                let mut joined = (*first).clone();
                joined.names.extend(second.names.iter().cloned());
                joined.lines.extend(&second.lines);
                joined.landings.extend(&second.landings);
                joined.contacts.extend(second.contacts.iter().cloned());
                joined.free.extend(&second.free);
                joined.free.retain(|point| *point != p && *point != q);
                let flags = vec![(p, self.names_at(first)), (q, self.names_at(second))];
                Ok(Drawn { joined, flags })
            }
            (pieces, []) => Err(format!("{what} is drawn in {} pieces that do not touch", pieces.len())),
            (pieces, flags) => {
                Err(format!("{what} is drawn in {} pieces with {} flags", pieces.len(), flags.len()))
            }
        }
    }

    /// Sheet and zone of a point.
    fn place(&self, at: Point) -> String {
        let on = |(_, (x, size)): &(usize, &(f64, (f64, f64)))| at.x >= *x && at.x <= x + size.0;
        let sheet = self.found.sheets.iter().enumerate().find(on);
        let zone = |(n, (x, size)): (usize, &(f64, (f64, f64)))| {
            format!("{}/{}", n + 1, paper::zone(*size, Point { x: at.x - x, y: at.y }))
        };
        sheet.map(zone).unwrap_or_default()
    }

    /// The terminals that a piece is on.
    fn names_at(&self, joined: &Joined) -> Vec<(String, String)> {
        let landings = joined.landings.iter().filter_map(|i| self.found.landings.get(*i));
        landings.filter_map(|landing| landing.terminal.clone()).collect()
    }

    /// Whether the conductor ends where the job says.
    fn ends(&self, joined: &Joined, what: &str, own: &Name, ends: [End; 2]) -> Vec<String> {
        let job = self.job;
        let mut expected: Vec<(String, String)> = Vec::new();
        let mut ways: Vec<&str> = Vec::new();
        for end in ends {
            match end {
                End::Terminal(t) => expected.push(names_of(job, t)),
                End::Safe(safe) => ways.push(safe.word()),
                End::Bare => ways.push(BARE),
                End::Spare => ways.push(SPARE),
            }
        }
        expected.sort();
        expected.dedup();
        let mut touched: Vec<(String, String)> =
            joined.landings.iter().filter_map(|i| self.found.landings.get(*i)?.terminal.clone()).collect();
        touched.sort();
        touched.dedup();
        let mut words = Vec::new();
        for lost in expected.iter().filter(|t| !touched.contains(t)) {
            words.push(format!("{what} does not reach {}", printed(lost)));
        }
        for strange in touched.iter().filter(|t| !expected.contains(t)) {
            words.push(format!(
                "{what} is drawn to {}, where the job file does not take it",
                printed(strange)
            ));
        }
        let expects_loose = ways.len();
        if joined.free.len() != expects_loose && words.is_empty() {
            let free = joined.free.len();
            words.push(format!(
                "{what} has {free} loose ends on the drawing and {expects_loose} in the job file"
            ));
        }
        words.extend(self.signs(joined, what, own, ways));
        words
    }

    /// Whether the words at the ends of a core (`RD → B1:NO`) name the terminal at its other end.
    fn far_ends(&self, drawn: &Drawn, what: &str, own: &Name, ends: [End; 2]) -> Vec<String> {
        let (Name::Core(cable, core), [End::Terminal(a), End::Terminal(b)]) = (own, ends) else {
            return Vec::new();
        };
        let subject = format!("{cable}.{core}");
        let told = |t: TerminalId| lettering::line(&self.job.label(t));
        let mut words = Vec::new();
        for label in self.said.labels.get(subject.as_str()).into_iter().flatten() {
            let Some((_, far)) = label.words.split_once("→ ") else { continue };
            let distance = |t: TerminalId| {
                let name = names_of(self.job, t);
                let at = label.at?;
                let landings = drawn.joined.landings.iter().filter_map(|i| self.found.landings.get(*i));
                let own = landings.filter(|l| l.terminal.as_ref() == Some(&name) && !l.bar);
                // The words at a flag say the same as those at the other end of its piece.
                let flags = drawn.flags.iter().filter(|(_, on)| on.contains(&name)).map(|(p, _)| *p);
                own.map(|landing| middle(landing.area))
                    .chain(flags)
                    .map(|p| (p.x - at.x).hypot(p.y - at.y))
                    .min_by(f64::total_cmp)
            };
            let (near_a, near_b) = (distance(a).unwrap_or(0.0), distance(b).unwrap_or(0.0));
            // Where the two ends stand side by side nobody can say whose words they are.
            let expected = if (near_a - near_b).abs() < UNDECIDED {
                vec![told(a), told(b)]
            } else if near_a < near_b {
                vec![told(b)]
            } else {
                vec![told(a)]
            };
            if !expected.iter().any(|e| label.words.ends_with(&format!("→ {e}"))) {
                words.push(format!(
                    "{what} goes to {}, but the words at its end say {far}",
                    expected.join(" or ")
                ));
            }
        }
        words
    }

    /// Whether the signs at loose ends say how the job file leaves them, and stand there.
    fn signs(&self, joined: &Joined, what: &str, own: &Name, mut ways: Vec<&str>) -> Vec<String> {
        let lead: String;
        let of = match own {
            Name::Core(cable, core) => (cable.as_str(), core.as_str()),
            Name::Lead(device, terminal) => {
                lead = format!("{device}.{terminal}");
                ("", lead.as_str())
            }
            Name::None => return Vec::new(),
        };
        let mut words = Vec::new();
        for sign in self.said.signs.get(&of).into_iter().flatten() {
            match ways.iter().position(|w| *w == sign.way) {
                Some(i) => {
                    ways.remove(i);
                }
                None => words.push(format!(
                    "{what} has an end drawn as {}, which the job file does not say",
                    sign.way
                )),
            }
            let near = |p: &Point| sign.area.is_none_or(|a| inside(a.grown(SIGN_REACH), *p));
            if !joined.free.iter().any(near) {
                words.push(format!("the sign `{}` of {what} stands at none of its loose ends", sign.way));
            }
        }
        words.extend(ways.iter().map(|way| format!("{what} has no end drawn as {way}")));
        words
    }

    /// Unused leads: each on its own terminal alone, with its sign.
    fn leads(&mut self) {
        let job = self.job;
        let mut terminals = BTreeMap::new();
        for (id, _) in job.terminal_ids() {
            terminals.entry(names_of(job, id)).or_insert(id);
        }
        let mut words = Vec::new();
        for joined in &self.conductors {
            for own in joined.names.iter().filter(|n| matches!(n, Name::Lead(..))) {
                let Name::Lead(device, terminal) = own else { continue };
                let what = called(own);
                let touched = self.terminals_of(joined);
                let expected = printed(&(device.clone(), terminal.clone()));
                if joined.names.len() > 1 || touched != [expected] {
                    words.push(format!("{what} is drawn to {}", touched.join(", ")));
                }
                if let Some(id) = terminals.get(&(device.clone(), terminal.clone())) {
                    let way = job.unused(*id).and_then(|u| u.way).map_or(BARE, |w| w.word());
                    words.extend(self.signs(joined, &what, own, vec![way]));
                }
            }
        }
        self.differences.extend(words);
    }

    /// The terminals that a conductor touches, as they are printed.
    fn terminals_of(&self, joined: &Joined) -> Vec<String> {
        let terminals = joined.landings.iter().filter_map(|i| self.found.landings.get(*i));
        let named: BTreeSet<String> = terminals
            .map(|l| l.terminal.as_ref().map_or_else(|| "a terminal without a name".to_owned(), printed))
            .collect();
        named.into_iter().collect()
    }

    /// The colours of a conductor's own strokes; `None` if they are no core's.
    fn looks(&self, joined: &Joined, own: &Name) -> Option<Vec<Colour>> {
        let mut runs: BTreeMap<Vec<(i64, i64)>, Vec<Seen>> = BTreeMap::new();
        for line in joined.lines.iter().filter_map(|i| self.found.lines.get(*i)).filter(|l| l.name == *own) {
            let key = |p: &Point| ((p.x * 10.0).round() as i64, (p.y * 10.0).round() as i64);
            runs.entry(line.points.iter().map(key).collect()).or_default().push(line.seen);
        }
        let mut looks = runs.values().map(|seen| strand::colours(seen));
        let first = looks.next()?;
        if looks.all(|other| other == first) { first } else { None }
    }
}

fn name(job: &Job, id: Conductor) -> Name {
    let (cable, core) = id.names(job);
    Name::Core(lettering::printable(&cable), lettering::printable(&core))
}

fn lead_name(job: &Job, id: TerminalId) -> Name {
    let (device, terminal) = names_of(job, id);
    Name::Lead(device, terminal)
}

fn names_of(job: &Job, id: TerminalId) -> (String, String) {
    let terminal = job.terminal(id);
    (lettering::printable(&job.device(terminal.device).name), lettering::printable(&terminal.name))
}

fn printed((device, terminal): &(String, String)) -> String {
    if terminal.is_empty() { device.clone() } else { format!("{device}:{terminal}") }
}

fn called(name: &Name) -> String {
    match name {
        Name::Core(cable, core) if cable.is_empty() => format!("link {core}"),
        Name::Core(cable, core) => format!("{cable} {core}"),
        Name::Lead(device, terminal) => format!("lead {device}:{terminal}"),
        Name::None => "a line without a name".to_owned(),
    }
}

fn words_of(colours: &[Colour]) -> String {
    if colours.is_empty() {
        return "the grey of an unstated colour".to_owned();
    }
    colours.iter().map(|c| c.word()).collect::<Vec<_>>().join("-")
}

fn middle(area: Rect) -> Point {
    Point { x: area.x + area.w / 2.0, y: area.y + area.h / 2.0 }
}

fn inside(area: Rect, p: Point) -> bool {
    p.x >= area.x && p.x <= area.right() && p.y >= area.y && p.y <= area.bottom()
}
