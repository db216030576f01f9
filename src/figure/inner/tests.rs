//! Whether a figure joins what its data sheet joins.

use proptest::prelude::*;

use super::super::pen::Stamp;
use super::super::{Sides, rows};
use super::*;
use crate::library;
use crate::netlist::read_text;
use crate::scene::Rect;

/// Data sheets that are harder to draw than what the program ships.
const HARD: [(&str, &str); 9] = [
    ("comb", "terminals: [C, 1, 2, 3, 4]
    contacts: {K1: {common: C, no: 1}, K2: {common: C, no: 2}, K3: {common: C, nc: 3}, K4: {common: C, no: 4}}"),
    ("middle", "terminals: [NC, COM, NO, X]
    contacts: {S: {common: COM, no: NO, nc: NC}}
    symbol: act-float"),
    ("last", "terminals: [NO, NC, COM]
    contacts: {S: {common: COM, no: NO, nc: NC}}
    symbol: act-limit"),
    ("interlocked", "terminals: [1, 2, 3, 4, 5, 6]
    fuses: {A: {between: [1, 3], amps: 2 A}, B: {between: [2, 5], amps: 3 A}, C: {between: [4, 6]}}"),
    ("chain", "terminals: [1, 2, 3, 4]
    resistors: {A: {between: [1, 2], ohms: 2k2}, B: {between: [2, 3], ohms: 4k7}, C: {between: [3, 4]}, D: {between: [1, 4]}}"),
    ("fuse-block", "terminals: [1, 2, 3, 4, 5, 6, 7, 8]
    fuses: {F1: {between: [1, 2], amps: 1 A}, F2: {between: [3, 4], amps: 2 A}, F3: {between: [5, 6], amps: 3 A}, F4: {between: [7, 8], amps: 500 mA}}"),
    ("controller", "terminals: [L+, M, I1, I2, I3, I4, Q1, Q2, C, NO, NC, Z, ZC, A, B]
    loads: {SUPPLY: {plus: L+, minus: M, volts: 24 V, amps: 120 mA}}
    inputs: {I1: {at: I1, common: M, active: high}, I2: {at: I2, common: M, active: high}, I3: {at: I3, common: M, active: high}, I4: {at: I4, common: M, active: high}}
    outputs: {Q1: {at: Q1, common: L+, drives: high, amps: 500 mA}, Q2: {at: Q2, common: L+, drives: high, amps: 500 mA}}
    contacts: {R1: {common: C, no: NO, nc: NC, volts: 28 V, amps: 5 A}}
    supervised: {Z: {at: Z, common: ZC, rest: 2k2, alarm: open}}
    signal_pairs: {BUS: {a: A, b: B, kind: rs485}}"),
    ("two-coils", "terminals: [A1, A2, B1, B2, 11, 12, 14, 23, 24]
    coils: {SET: {between: [A1, A2], volts: 12 V}, RESET: {between: [B1, B2], volts: 12 V}}
    contacts: {P1: {common: 11, nc: 12, no: 14, by: SET}, P2: {common: 23, no: 24, by: RESET}}"),
    ("drive", "terminals: [1, 2, 3, 4, 5, ANT]
    loads: {board: {plus: 1, minus: 2, volts: 20..28 V, amps: 0.5 A, existing: true}}
    dry_inputs: {START: {between: [3, 4], momentary: 0.2..2 s}, STOP: {between: [4, 5], safety: true}}
    aerials: [ANT]"),
];

fn types() -> Vec<&'static str> {
    library::device_types().chain(HARD.iter().map(|(name, _)| *name)).collect()
}

fn job_of(kind: &str, operated: bool) -> Job {
    let ways = if kind == "terminal-strip" { ", ways: 5" } else { "" };
    let rest = if operated { ", rest: operated" } else { "" };
    let mut text = format!("job: {{title: t}}\ndevices:\n  D1: {{type: {kind}{ways}{rest}}}\ndata_sheets:\n");
    for (name, sheet) in HARD {
        text.push_str(&format!("  {name}:\n    {sheet}\n"));
    }
    let reading = read_text("t.yaml", &text);
    reading.job.unwrap_or_else(|| panic!("{kind}: {:?}", reading.findings))
}

fn on_line(p: Point, a: Point, b: Point) -> bool {
    let box_of = Rect::between(a, b).grown(0.01);
    p.x >= box_of.x && p.x <= box_of.right() && p.y >= box_of.y && p.y <= box_of.bottom()
}

/// Which leads are joined: an end of one lies on the other. All leads are level or upright. A lead that ends at a
/// symbol goes on as the symbol, so there it only joins what ends there too.
struct Joined {
    pieces: Vec<(Point, Point)>,
    root: Vec<usize>,
}

impl Joined {
    fn of(leads: &[Vec<Point>], anchors: &[Point]) -> Self {
        let pieces: Vec<(Point, Point)> =
            leads.iter().flat_map(|l| l.windows(2).map(|p| (p[0], p[1])).collect::<Vec<_>>()).collect();
        for (a, b) in &pieces {
            assert!((a.x - b.x).abs() < 1e-6 || (a.y - b.y).abs() < 1e-6, "a slanting lead {a:?} {b:?}");
        }
        let meets = |end: Point, (a, b): (Point, Point)| {
            let symbol = anchors.iter().any(|p| same(*p, end));
            if symbol { same(end, a) || same(end, b) } else { on_line(end, a, b) }
        };
        let mut root: Vec<usize> = (0..pieces.len()).collect();
        for i in 0..pieces.len() {
            for j in 0..i {
                let (one, two) = (pieces[i], pieces[j]);
                if meets(one.0, two) || meets(one.1, two) || meets(two.0, one) || meets(two.1, one) {
                    let (from, to) = (root[i], root[j]);
                    root.iter_mut().filter(|r| **r == from).for_each(|r| *r = to);
                }
            }
        }
        Self { pieces, root }
    }

    /// The lead that ends at a point, else the one that passes through it.
    fn at(&self, p: Point) -> Option<usize> {
        let ends = self.pieces.iter().position(|(a, b)| same(p, *a) || same(p, *b));
        let passes = || self.pieces.iter().position(|(a, b)| on_line(p, *a, *b));
        ends.or_else(passes).map(|i| self.root[i])
    }
}

fn same(a: Point, b: Point) -> bool {
    (a.x - b.x).abs() < 0.01 && (a.y - b.y).abs() < 0.01
}

fn sides_of(job: &Job, choices: &[(bool, u32)]) -> Sides {
    let device = &job.devices[0];
    let mut choices = choices.iter().cycle();
    let mut next = || *choices.next().expect("some choices");
    let mut of = Vec::new();
    for _ in device.terminals.iter() {
        let (right, count) = next();
        if device.form == Form::Box {
            of.push((if right { Side::Right } else { Side::Left }, count));
        } else {
            of.push((Side::Left, count - 1));
            of.push((Side::Right, u32::from(right) + 1));
        }
    }
    Sides { of, upturned: false }
}

/// Holds a figure against what it must be.
fn check(job: &Job, sides: &Sides) {
    let rows = rows::rows(job, DeviceId(0), sides);
    let inner = inner(job, DeviceId(0), &rows, &[]);
    let pen = &inner.pen;
    let outline = Rect { x: 0.0, y: 0.0, w: f64::from(inner.w) * M, h: f64::from(inner.h) * M };
    let anchors = |(symbol, turn, at): &Stamp| -> Vec<Point> {
        symbol.anchors.keys().map(|name| symbol.anchor(name, *turn, *at)).collect()
    };
    let anchors: Vec<Point> = pen.stamps.iter().flat_map(anchors).collect();
    let joined = Joined::of(&pen.leads, &anchors);
    let choice = choose(job, DeviceId(0));

    // Leads: every landing leads to its terminal's symbols and to nothing else.
    let mut net_of = std::collections::BTreeMap::new();
    for landing in rows.landings(inner.w) {
        let x = if landing.side == Side::Left { CIRCLE } else { outline.w - CIRCLE };
        let net = joined.at(Point { x, y: f64::from(landing.y) * M });
        let first = *net_of.entry(landing.terminal).or_insert(net);
        assert_eq!(first, net, "landings of one terminal are joined");
    }
    let mut nets: Vec<usize> = net_of.values().filter_map(|n| *n).collect();
    nets.sort_unstable();
    nets.dedup();
    let count = net_of.values().flatten().count();
    assert_eq!(
        nets.len(),
        count,
        "{:?}: leads of two terminals are joined: {net_of:?}",
        job.devices[0].type_name
    );
    let mut stamps: Vec<_> = pen.stamps.iter().collect();
    for drawn in &choice.drawn {
        let place = stamps.iter().position(|(symbol, turn, at)| {
            std::ptr::eq(*symbol, drawn.symbol)
                && drawn.ends.iter().all(|(anchor, terminal)| {
                    let net = joined.at(symbol.anchor(anchor, *turn, *at));
                    net.is_some() && net_of.get(terminal) == Some(&net)
                })
        });
        let place = place.unwrap_or_else(|| {
            panic!("{:?}: {:?} is not drawn between its terminals", job.devices[0].type_name, drawn.ends)
        });
        stamps.remove(place);
    }

    // Symbols: on the grid, clear of each other and of leads.
    let boxes: Vec<Rect> = pen.stamps.iter().filter_map(|(s, turn, at)| ink(&s.placed(*turn, *at))).collect();
    for (i, a) in boxes.iter().enumerate() {
        let a = a.grown(-0.2);
        let (symbol, turn, at) = &pen.stamps[i];
        if symbol.hold != Some(Point::default()) {
            for point in symbol.anchors.keys().map(|name| symbol.anchor(name, *turn, *at)) {
                for part in [point.x / M, point.y / M] {
                    assert!((part - part.round()).abs() < 1e-6, "{} off the grid", symbol.title);
                }
            }
        }
        for b in &boxes[..i] {
            assert!(!a.overlaps(b), "{:?}: two symbols overlap: {a:?} {b:?}", job.devices[0].type_name);
        }
        for (p, q) in &joined.pieces {
            assert!(
                !Rect::between(*p, *q).grown(0.05).overlaps(&a),
                "a lead {p:?} {q:?} through {}",
                symbol.title
            );
        }
    }
}

/// A link on the outline would not be seen: every upright of one stands inside.
#[test]
fn no_link_stands_on_the_outline() {
    let mut links = 0;
    for kind in types() {
        for choices in [&[(true, 1)][..], &[(false, 1)], &[(true, 1), (false, 1)], &[(false, 1), (true, 1)]] {
            let job = job_of(kind, false);
            let inner =
                inner(&job, DeviceId(0), &rows::rows(&job, DeviceId(0), &sides_of(&job, choices)), &[]);
            for link in &inner.pen.dashes {
                links += 1;
                for at in link {
                    let right = f64::from(inner.w) * M;
                    assert!(at.x > 1.0 && at.x < right - 1.0, "{kind}: {at:?} in {right}, {choices:?}");
                }
            }
        }
    }
    assert!(links > 20, "{links} links");
}

#[test]
fn plain_figures_join_what_they_should() {
    for kind in types() {
        for operated in [false, true] {
            let job = job_of(kind, operated);
            let wish = super::super::default_sides(&job, DeviceId(0));
            check(&job, &wish.plain(job.devices[0].form));
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
    #[test]
    fn figures_join_what_they_should_whatever_the_sides(
        kind in prop::sample::select(types()),
        choices in prop::collection::vec((any::<bool>(), 1_u32..4), 16)
    ) {
        let job = job_of(kind, false);
        check(&job, &sides_of(&job, &choices));
    }
}

#[test]
fn an_aerial_that_was_cut_is_told_as_cut() {
    let words = |unused: &str| {
        let text = format!("job: {{title: x}}\ndevices:\n  K1: {{type: relay-module{unused}}}\n");
        let job = read_text("x.yaml", &text).job.unwrap();
        let aerials: Vec<TerminalId> =
            job.terminal_ids().filter(|(_, t)| t.name == "ANT").map(|(id, _)| id).collect();
        aerial_words(&job, &aerials).into_owned()
    };
    assert_eq!(words(""), "aerial: leave whole");
    assert_eq!(words(", unused: {ANT: capped}"), "aerial capped: leave it whole");
}
