//! The index of a drawing of several diagrams: a block for each, what stands on it, and the cables between them.
//!
//! Blocks stand one below the other, and a bracket beside them for each pair of diagrams that cables join. A bracket
//! bears the cables at both its ends. Brackets that end on another page of the index are cut short.

use std::collections::{BTreeMap, BTreeSet};

use crate::layout::{Conductor, Layout, WireEnd};
use crate::lettering::{self, Height};
use crate::netlist::Job;
use crate::scene::{Dash, Fill, Group, Point, Rect, Role, Shape, Text, Width};

/// A diagram in the index.
#[derive(Clone, Debug, Default)]
pub struct Entry {
    /// Its sheet.
    sheet: usize,
    /// Its locations, or nothing.
    places: String,
    /// Its devices.
    devices: String,
    /// The diagrams to which conductors lead, by their number among the entries, with the words for the cables.
    to: BTreeMap<usize, String>,
}

/// The width of a block.
const BLOCK: f64 = 110.0;
/// The most room for words beside a block, and what is left beyond them for the brackets.
const WORDS: f64 = 150.0;
const BRACKETS: f64 = 80.0;
/// What is kept free before the words and after them.
const BESIDE: f64 = 1.5;
/// From bracket to bracket.
const STEP: f64 = 3.0;
/// From bracket end to bracket end, and before the first.
const PITCH: f64 = 4.2;
/// The least height of a block, and what is kept free below it.
const LEAST: f64 = 11.5;
const BELOW: f64 = 3.0;
/// The height of the heading.
const HEAD: f64 = 9.0;
/// What is kept free inside a block.
const PAD: f64 = 2.0;
/// The width of the number in a block.
const NUMBER: f64 = 25.0;

/// What the index says of diagrams, the first of which is on that sheet.
pub fn entries(job: &Job, diagrams: &[Layout], first: usize) -> Vec<Entry> {
    let mut on: BTreeMap<Conductor, BTreeSet<usize>> = BTreeMap::new();
    for (n, diagram) in diagrams.iter().enumerate() {
        for wire in diagram.wires.iter().filter(|wire| wire.ends.contains(&WireEnd::Away)) {
            on.entry(wire.conductor).or_default().insert(n);
        }
    }
    let mut cables: BTreeMap<(usize, usize), BTreeMap<String, usize>> = BTreeMap::new();
    for (conductor, both) in on {
        if let [a, b] = both.into_iter().collect::<Vec<_>>()[..] {
            let (cable, _) = conductor.names(job);
            for pair in [(a, b), (b, a)] {
                *cables.entry(pair).or_default().entry(cable.clone()).or_default() += 1;
            }
        }
    }
    let entry = |(n, diagram): (usize, &Layout)| {
        let ids: BTreeSet<_> = diagram.devices.iter().map(|placed| placed.figure.device).collect();
        let devices = ids.iter().map(|id| job.device(*id));
        let places = devices.clone().map(|device| device.location.join("/")).filter(|p| !p.is_empty());
        let names = devices.map(|device| device.name.to_string());
        let to = cables.range((n, 0)..(n + 1, 0)).map(|((_, other), names)| (*other, words(names)));
        Entry { sheet: first + n, places: listed(places), devices: listed(names), to: to.collect() }
    };
    diagrams.iter().enumerate().map(entry).collect()
}

/// Names in the order in which one looks for them, each once.
fn listed(names: impl Iterator<Item = String>) -> String {
    let names: BTreeSet<String> = names.collect();
    let mut names: Vec<&str> = names.iter().map(String::as_str).collect();
    names.sort_by_cached_key(|name| sought(name));
    names.join(", ")
}

/// What puts `K2` before `K10`: the letters and the number of each part of a name.
fn sought(name: &str) -> Vec<(String, u64)> {
    let mut parts = Vec::new();
    let mut rest = name;
    while !rest.is_empty() {
        let (letters, after) = rest.split_at(rest.find(|c: char| c.is_ascii_digit()).unwrap_or(rest.len()));
        let (digits, after) =
            after.split_at(after.find(|c: char| !c.is_ascii_digit()).unwrap_or(after.len()));
        parts.push((letters.to_owned(), digits.parse().unwrap_or(0)));
        rest = after;
    }
    parts
}

/// `W3 (2 cores), W7, W12 (1 core each), 2 links`: how many conductors each cable has, and how many links there are, which
/// have no name.
fn words(cables: &BTreeMap<String, usize>) -> String {
    let mut cables: Vec<(&str, usize)> = cables.iter().map(|(name, count)| (name.as_str(), *count)).collect();
    cables.sort_by_cached_key(|(name, _)| sought(name));
    let links = cables.iter().find(|(name, _)| name.is_empty()).map(|(_, count)| *count);
    cables.retain(|(name, _)| !name.is_empty());
    let (single, several): (Vec<_>, Vec<_>) = cables.into_iter().partition(|(_, count)| *count == 1);
    let mut each: Vec<String> =
        several.into_iter().map(|(name, count)| format!("{name} ({count} cores)")).collect();
    let names: Vec<&str> = single.into_iter().map(|(name, _)| name).collect();
    match names[..] {
        [] => {}
        [name] => each.push(format!("{name} (1 core)")),
        _ => each.push(format!("{} (1 core each)", names.join(", "))),
    }
    match links {
        None => {}
        Some(1) => each.push("1 link".to_owned()),
        Some(count) => each.push(format!("{count} links")),
    }
    each.join(", ")
}

/// A page of the index.
pub struct Page {
    /// What stands on it.
    pub group: Group,
    /// Down to where it is taken.
    pub end: f64,
    /// How far to the right it is taken.
    pub right: f64,
}

/// The index in as many pages as it takes.
pub fn pages(entries: &[Entry], body: Rect) -> Vec<Page> {
    let mut pages = Vec::new();
    let mut from = 0;
    while from < entries.len() {
        let mut y = body.y + HEAD;
        let mut to = from;
        while let Some(entry) = entries.get(to).filter(|e| to == from || y + height(e) <= body.bottom()) {
            y += height(entry) + BELOW;
            to += 1;
        }
        let (group, right) = page(entries, from..to, body);
        pages.push(Page { group, end: y, right });
        from = to;
    }
    pages
}

fn height(entry: &Entry) -> f64 {
    LEAST.max(PITCH * (entry.to.len() as f64 + 0.6))
}

/// An end of a bracket: the entry that it is on, the one at its other end, and where.
struct Tip {
    other: usize,
    y: f64,
}

/// What stands on a page, and how far it goes to the right.
fn page(entries: &[Entry], shown: std::ops::Range<usize>, body: Rect) -> (Group, f64) {
    let mut group = Group::new(Role::Notes);
    let heading = "Diagrams and the cables between them";
    group.text(Text::new(heading, body.x, body.y + Height::H3_5.mm(), Height::H3_5).bold());
    let mut tips: Vec<Vec<Tip>> = Vec::new();
    let mut y = body.y + HEAD;
    for n in shown.clone() {
        let Some(entry) = entries.get(n) else { continue };
        let rect = Rect { x: body.x, y, w: BLOCK, h: height(entry) };
        block(&mut group, entry, rect);
        // From the top: upwards the nearest first, then downwards the farthest first, so that brackets lie in one another.
        let mut others: Vec<usize> = entry.to.keys().copied().collect();
        others.sort_by_key(|other| (*other > n, std::cmp::Reverse(*other)));
        let first = y + (rect.h - PITCH * (others.len() as f64 - 1.0)) / 2.0;
        let tip = |(i, other): (usize, usize)| Tip { other, y: first + PITCH * i as f64 };
        tips.push(others.into_iter().enumerate().map(tip).collect());
        y += rect.h + BELOW;
    }
    let tracks = tracks(&tips, &shown);
    let said = |n: usize, tip: &Tip| {
        let cables = entries.get(n).and_then(|entry| entry.to.get(&tip.other)).map_or("", String::as_str);
        let words = entries.get(tip.other).map(|other| format!("→ sheet {}: {cables}", other.sheet));
        shortened(&words.unwrap_or_default(), WORDS.min(body.w - BLOCK - BRACKETS) - 2.0 * BESIDE)
    };
    let all = (shown.start..).zip(&tips).flat_map(|(n, own)| own.iter().map(move |tip| said(n, tip)));
    let widest = all.map(|words| lettering::width(&words, Height::H1_8, false)).fold(0.0, f64::max);
    let room = (widest + 2.0 * BESIDE).max(0.0);
    for (i, own) in tips.iter().enumerate() {
        let n = shown.start + i;
        for tip in own {
            let start = body.x + BLOCK;
            group.text(Text::new(&said(n, tip), start + BESIDE, tip.y - 0.7, Height::H1_8));
            let near = Point { x: start, y: tip.y };
            let corner = |x: f64| Point { x, y: tip.y };
            match tracks.get(&(n.min(tip.other), n.max(tip.other))) {
                // Both ends are on this page: the upper one draws the bracket.
                Some(track) if tip.other > n => {
                    let x = start + room + STEP * (*track as f64 + 1.0);
                    let far = tips.get(tip.other - shown.start).and_then(|t| t.iter().find(|t| t.other == n));
                    let y = far.map_or(tip.y, |far| far.y);
                    let line = [near, corner(x), Point { x, y }, Point { x: start, y }];
                    group.shape(Shape::line(&line, Width::Normal));
                }
                Some(_) => {}
                None => group.shape(Shape::line(&[near, corner(start + room)], Width::Normal)),
            }
        }
    }
    let brackets = tracks.values().max().map_or(0.0, |track| STEP * (*track as f64 + 1.0));
    (group, body.x + BLOCK + room + brackets)
}

/// The track of each bracket between two entries of a page: a longer one lies outside the shorter ones beside it.
fn tracks(tips: &[Vec<Tip>], shown: &std::ops::Range<usize>) -> BTreeMap<(usize, usize), usize> {
    let mut brackets: Vec<(usize, usize)> = Vec::new();
    for (i, own) in tips.iter().enumerate() {
        let n = shown.start + i;
        brackets.extend(own.iter().filter(|t| t.other > n && shown.contains(&t.other)).map(|t| (n, t.other)));
    }
    brackets.sort_by_key(|(a, b)| (b - a, *a));
    let mut tracks: BTreeMap<(usize, usize), usize> = BTreeMap::new();
    for (a, b) in brackets {
        let beside = tracks.iter().filter(|((c, d), _)| a <= *d && *c <= b);
        let track = beside.map(|(_, track)| track + 1).max().unwrap_or(0);
        tracks.insert((a, b), track);
    }
    tracks
}

fn block(group: &mut Group, entry: &Entry, rect: Rect) {
    group.shape(Shape::rect(rect, Some(Width::Medium), Dash::Solid, Fill::None));
    let middle = rect.y + rect.h / 2.0;
    let number = Text::new(&format!("Sheet {}", entry.sheet), rect.x + PAD, middle + 1.25, Height::H2_5);
    group.text(number.bold());
    let x = rect.x + NUMBER;
    let room = rect.w - NUMBER - PAD;
    let mut lines: Vec<String> = Vec::new();
    if !entry.places.is_empty() {
        lines.push(shortened(&entry.places, room));
    }
    let free = 3 - lines.len();
    let devices = lettering::wrap(&entry.devices, Height::H1_8, false, room);
    let cut = devices.len() > free;
    for (i, line) in devices.into_iter().take(free).enumerate() {
        lines.push(if cut && i + 1 == free { shortened(&format!("{line} …"), room) } else { line });
    }
    let top = middle - 3.3 * (lines.len() as f64 - 1.0) / 2.0 + Height::H1_8.mm() / 2.0;
    for (i, line) in lines.iter().enumerate() {
        let text = Text::new(line, x, top + 3.3 * i as f64, Height::H1_8);
        group.text(if i == 0 && !entry.places.is_empty() { text.bold() } else { text });
    }
}

/// As much of a text as there is room for, in bold as in plain letters.
fn shortened(text: &str, room: f64) -> String {
    let fits = |text: &str| lettering::width(text, Height::H1_8, true) <= room;
    if fits(text) {
        return text.to_owned();
    }
    let mut kept: Vec<char> = text.trim_end_matches(" …").chars().collect();
    loop {
        let short = format!("{} …", kept.iter().collect::<String>().trim_end());
        if kept.pop().is_none() || fits(&short) {
            return short;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cables_of_one_core_share_a_bracket() {
        let said = |all: &[(&str, usize)]| words(&all.iter().map(|(n, c)| ((*n).to_owned(), *c)).collect());
        let all = [("W10", 1), ("W2", 1), ("W9", 3), ("", 2), ("W1", 1)];
        assert_eq!(said(&all), "W9 (3 cores), W1, W2, W10 (1 core each), 2 links");
        assert_eq!(said(&[("W1", 1), ("", 1)]), "W1 (1 core), 1 link");
    }

    #[test]
    fn names_stand_where_one_looks_for_them() {
        let names = ["K10", "X1", "K2", "B1", "K2", "Tank 10", "Tank 2/Lid", "K", "K2a"];
        let listed = listed(names.into_iter().map(str::to_owned));
        assert_eq!(listed, "B1, K, K2, K2a, K10, Tank 2/Lid, Tank 10, X1");
    }
}
