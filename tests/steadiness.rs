//! How much of a diagram on one sheet stays as it was after a change of one line, by itself and where the order of the drawing
//! before is kept, and whether the order of the file means anything.
//!
//! A device that the change does not name has moved if it stands in another column than before, columns counted as most
//! devices count them, or in another place among those that stayed in its column. `docs/benchmarks.md` gives the figures;
//! `cargo test --release --test steadiness -- --ignored --nocapture` measures them anew.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    dead_code,
    reason = "a test may stop at what it did not expect and tell figures; what tests share is more than is used here"
)]

#[path = "layout/faults.rs"]
mod faults;
#[path = "benches/installation.rs"]
mod installation;
#[path = "layout/kit.rs"]
mod kit;

use std::collections::{BTreeMap, BTreeSet};
use std::f64::consts::SQRT_2;

use bellwire::figure::Landing;
use bellwire::layout::{self, Earlier, Layout, Outline, Placed, Planner, Run, Wire};
use bellwire::netlist::{self, Job};
use bellwire::scene::{Point, Rect};
use installation::{Installation, Shape};
use kit::{Dice, Kit, at};

/// Supplies feed strips, strips feed controllers, controllers have sensors with three leads and switches and lamps with
/// two; some controllers share a bus.
fn tree(devices: usize, seed: u64) -> String {
    let mut dice = Dice(seed);
    let mut kit = Kit::default();
    let pair = |a: &str, t: usize, b: &str| vec![(at(a, t), at(b, 1)), (at(a, t + 1), at(b, 2))];
    let (mut count, mut strips, mut last) = (0, 0, None::<String>);
    while count < devices {
        strips += 1;
        let (supply, strip) = (format!("G{strips}"), format!("X{strips}"));
        kit.device(&supply, "", 2);
        kit.device(&strip, "", 16);
        kit.cable(&pair(&supply, 1, &strip));
        count += 2;
        for way in 1..4 + dice.below(4) {
            let controller = format!("K{strips}-{way}");
            kit.device(&controller, "", 14);
            kit.cable(&pair(&strip, 2 * way + 1, &controller));
            if let Some(other) = last.replace(controller.clone()).filter(|_| dice.below(4) == 0) {
                kit.cable(&[(at(&other, 13), at(&controller, 13)), (at(&other, 14), at(&controller, 14))]);
            }
            count += 1;
            let mut terminal = 3;
            for n in 0..2 + dice.below(3) {
                let field = format!("B{strips}-{way}-{n}");
                let leads = 2 + dice.below(2);
                kit.device(&field, "", leads);
                let mut cores = pair(&controller, terminal, &field);
                if leads == 3 {
                    cores.push((at(&controller, 1), at(&field, 3)));
                }
                kit.cable(&cores);
                terminal += 2;
                count += 1;
            }
        }
    }
    kit.text()
}

fn job(text: &str) -> Job {
    let reading = netlist::read_text("job.yaml", text);
    reading.job.unwrap_or_else(|| panic!("{:?}\n{text}", reading.findings))
}

/// The ends of the cores of a line, as `[A.1, B.2]` with where they stand in it.
fn cores(line: &str) -> Vec<(usize, usize, [&str; 2])> {
    let starts = line.match_indices('[').map(|(at, _)| at);
    let core = |start: usize| {
        let end = start + line[start..].find(']')?;
        let (a, b) = line[start + 1..end].split_once(", ")?;
        Some((start, end + 1, [a, b]))
    };
    starts.filter_map(core).collect()
}

fn owner(end: &str) -> String {
    end.rsplit_once('.').map_or(end, |(device, _)| device).to_owned()
}

/// A job after one change of one line (two for a new device and its cable), and the devices that the change names.
fn edited(text: &str, dice: &mut Dice) -> (String, BTreeSet<String>) {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let (devices, cables) = (text.find("devices:\n").unwrap(), text.find("cables:\n").unwrap());
    let line_of = |at: usize| text[..at].lines().count();
    let (devices, first) = (line_of(devices), line_of(cables) + 1);
    let wired: Vec<usize> = (first..lines.len()).filter(|n| lines[*n].contains("cores: {")).collect();
    let ends: Vec<String> = wired
        .iter()
        .flat_map(|n| cores(&lines[*n]).into_iter().flat_map(|(.., ends)| ends.map(str::to_owned)))
        .collect();
    let end = ends[dice.below(ends.len())].clone();
    let kind = dice.below(4);
    loop {
        let n = wired[dice.below(wired.len())];
        let line = lines[n].clone();
        let all = cores(&line);
        let Some(&(start, stop, [a, b])) = all.get(dice.below(all.len())) else { continue };
        let mut named: BTreeSet<String> = [a, b].map(owner).into();
        match kind {
            // A core is taken out.
            0 if all.len() > 1 => {
                let begin = line[..start].rfind(['{', ',']).unwrap() + 1;
                let mut rest = line[stop..].to_owned();
                let mut before = line[..begin].to_owned();
                match rest.strip_prefix(',') {
                    Some(more) => rest = more.trim_start().to_owned(),
                    None => before.truncate(before.trim_end_matches([',', ' ']).len()),
                }
                let blank = if before.ends_with(',') { " " } else { "" };
                lines[n] = format!("{before}{blank}{rest}");
            }
            // One more core lies beside another, in a cable that has one to spare or whose cores no type counts.
            1 if line.contains(": taped") || !line.contains("type:") => {
                let more = match line.find(": taped") {
                    Some(spare) => {
                        format!("{}: [{a}, {b}]{}", &line[..spare], &line[spare + ": taped".len()..])
                    }
                    None => format!("{}, more: [{a}, {b}]{}", &line[..stop], &line[stop..]),
                };
                lines[n] = more;
            }
            // A core goes somewhere else.
            2 if end != a && end != b => {
                named.insert(owner(&end));
                lines[n] = format!("{}[{a}, {end}]{}", &line[..start], &line[stop..]);
            }
            // A device comes on at a cable of its own.
            3 => {
                named = [owner(a), "NEW1".to_owned()].into();
                lines.insert(first, format!("  NEW2: {{length: 2 m, cores: {{red: [{a}, NEW1.1]}}}}"));
                lines.insert(devices + 1, "  NEW1: {terminals: ['1', '2']}".to_owned());
            }
            _ => continue,
        }
        return (lines.join("\n") + "\n", named);
    }
}

/// The devices of each column from above, the columns from the left.
fn columns(job: &Job, layout: &Layout) -> BTreeMap<String, (i32, i32)> {
    let mut placed: Vec<(i32, i32, i32, String)> = layout
        .devices
        .iter()
        .map(|p| (p.at.x, p.at.x + p.figure.w, p.at.y, job.device(p.figure.device).name.to_string()))
        .collect();
    placed.sort();
    let (mut column, mut reach) = (-1, i32::MIN);
    let mut of = BTreeMap::new();
    for (left, right, top, name) in placed {
        if left >= reach {
            column += 1;
        }
        reach = reach.max(right);
        of.insert(name, (column, top));
    }
    of
}

/// How many devices there are that a change does not name, and how many of them moved.
fn moved(
    before: &BTreeMap<String, (i32, i32)>,
    after: &BTreeMap<String, (i32, i32)>,
    named: &BTreeSet<String>,
) -> (usize, usize) {
    let both: Vec<(i32, i32, i32, i32)> = before
        .iter()
        .filter(|(name, _)| !named.contains(*name))
        .filter_map(|(name, (column, top))| after.get(name).map(|(c, t)| (*column, *c, *top, *t)))
        .collect();
    let mut shifts: BTreeMap<i32, usize> = BTreeMap::new();
    for (was, is, ..) in &both {
        *shifts.entry(is - was).or_default() += 1;
    }
    let shift = shifts.iter().max_by_key(|(_, count)| **count).map_or(0, |(shift, _)| *shift);
    let mut stayed: BTreeMap<i32, Vec<(i32, i32)>> = BTreeMap::new();
    for (was, is, top, now) in &both {
        if is - was == shift {
            stayed.entry(*was).or_default().push((*top, *now));
        }
    }
    let in_order: usize = stayed.into_values().map(longest_in_order).sum();
    (both.len(), both.len() - in_order)
}

/// The most devices of a column that still stand in their order.
fn longest_in_order(mut tops: Vec<(i32, i32)>) -> usize {
    tops.sort_unstable();
    let mut ends: Vec<i32> = Vec::new();
    for (_, now) in tops {
        let place = ends.partition_point(|end| *end < now);
        match ends.get_mut(place) {
            Some(end) => *end = now,
            None => ends.push(now),
        }
    }
    ends.len()
}

/// What is laid out after a change.
#[derive(Clone, Copy)]
enum After {
    /// The job by itself.
    Alone,
    /// The job in the order of the drawing before.
    Like,
}

/// A layout as it would be seen on its drawing.
fn seen(job: &Job, layout: &Layout) -> Earlier {
    let point = |x: i32, y: i32| Point { x: f64::from(x), y: f64::from(y) };
    let outline = |placed: &Placed| {
        let (at, figure) = (placed.at, &placed.figure);
        let landing =
            |l: &Landing| (job.terminal(l.terminal).name.to_string(), point(at.x + l.x, at.y + l.y));
        let (x, y, w, h) = (at.x.into(), at.y.into(), figure.w.into(), figure.h.into());
        Outline {
            name: job.device(figure.device).name.to_string(),
            area: Rect { x, y, w, h },
            landings: figure.landings.iter().map(landing).collect(),
        }
    };
    let run = |wire: &Wire| Run {
        names: wire.conductor.names(job),
        points: wire.points.iter().map(|p| point(p.x, p.y)).collect(),
    };
    Earlier::new(layout.devices.iter().map(outline).collect(), layout.wires.iter().map(run).collect())
}

/// What so many edits do: the share of devices not named that move, in hundredths, and the mean of crossings.
fn moved_by_edits(text: &str, edits: usize, seed: u64, after: After) -> (f64, f64) {
    let old = job(text);
    let layout = layout::lay_out(&old);
    let (before, earlier) = (columns(&old, &layout), seen(&old, &layout));
    let mut dice = Dice(seed);
    let (mut all, mut gone, mut crossings) = (0, 0, 0);
    for _ in 0..edits {
        let (text, named) = edited(text, &mut dice);
        let job = job(&text);
        let planner = Planner::new(&job, None);
        let mut planner = match after {
            After::Alone => planner,
            After::Like => planner.like(&earlier),
        };
        let layout = planner.lay_out(SQRT_2).swap_remove(0);
        let (count, moved) = moved(&before, &columns(&job, &layout), &named);
        all += count;
        gone += moved;
        crossings += faults::figures(&layout).crossings;
    }
    (100.0 * gone as f64 / all.max(1) as f64, crossings as f64 / edits as f64)
}

/// The same job with the lines of its devices and cables in another order.
fn shuffled(text: &str, dice: &mut Dice) -> String {
    let mut lines: Vec<&str> = text.lines().collect();
    for heading in ["devices:", "cables:"] {
        let first = lines.iter().position(|line| *line == heading).unwrap() + 1;
        let count = lines[first..].iter().take_while(|line| line.starts_with("  ")).count();
        for n in (1..count).rev() {
            lines.swap(first + n, first + dice.below(n + 1));
        }
    }
    lines.join("\n") + "\n"
}

/// By how much crossings, bends and length differ at most between orders of the file, in hundredths.
fn differs(text: &str, orders: usize) -> f64 {
    let of = |text: &str| {
        let figures = faults::figures(&layout::lay_out(&job(text)));
        [figures.crossings as f64, figures.bends as f64, figures.length as f64]
    };
    let first = of(text);
    let mut dice = Dice(5);
    let others = (0..orders).flat_map(|_| {
        let other = of(&shuffled(text, &mut dice));
        first.into_iter().zip(other).map(|(a, b)| 100.0 * (a - b).abs() / a.max(1.0)).collect::<Vec<_>>()
    });
    others.fold(0.0, f64::max)
}

#[test]
fn the_order_of_the_file_changes_no_figure() {
    for text in [tree(60, 1), Installation::of(Shape::CommonZero, 30, 1).text] {
        assert_eq!(differs(&text, 3), 0.0);
    }
}

#[test]
fn little_moves_in_a_large_tree() {
    let (moved, _) = moved_by_edits(&tree(100, 1), 60, 1, After::Alone);
    assert!(moved <= 2.0, "{moved:.1} % moved");
}

#[test]
fn few_cores_cross_in_a_large_tree() {
    for (devices, most) in [(100, 0.6), (500, 0.6)] {
        let figures = faults::figures(&layout::lay_out(&job(&tree(devices, 1))));
        let each = figures.crossings as f64 / figures.wires as f64;
        assert!(each <= most, "{devices} devices: {each:.3} crossings a core");
    }
}

#[test]
fn rooms_stand_beside_their_panels_in_a_large_installation() {
    for shape in [Shape::CommonZero, Shape::OneSupply] {
        let figures = faults::figures(&layout::lay_out(&job(&Installation::of(shape, 300, 1).text)));
        let mean = figures.length / figures.wires as i64;
        assert!(mean <= 160, "{shape:?}: a mean core of {mean} modules");
    }
}

#[test]
fn next_to_nothing_moves_where_the_order_of_a_drawing_is_kept() {
    for text in [tree(15, 2), Installation::of(Shape::OneSupply, 20, 1).text] {
        let (moved, _) = moved_by_edits(&text, 20, 1, After::Like);
        assert!(moved <= 2.0, "{moved:.1} % moved");
    }
}

#[test]
fn what_moved_is_counted() {
    let column = |names: &[(&str, i32, i32)]| {
        names.iter().map(|(name, column, top)| ((*name).to_owned(), (*column, *top))).collect()
    };
    let before = column(&[("A", 0, 0), ("B", 1, 0), ("C", 1, 10), ("D", 1, 20), ("E", 2, 0)]);
    let none = BTreeSet::new();
    assert_eq!(moved(&before, &before, &none), (5, 0));
    // All one column to the right: nothing has moved.
    let right = column(&[("A", 1, 0), ("B", 2, 0), ("C", 2, 10), ("D", 2, 20), ("E", 3, 0)]);
    assert_eq!(moved(&before, &right, &none), (5, 0));
    // D above B and C, and E in another column.
    let other = column(&[("A", 0, 0), ("B", 1, 5), ("C", 1, 10), ("D", 1, 0), ("E", 1, 30)]);
    assert_eq!(moved(&before, &other, &none), (5, 2));
    assert_eq!(moved(&before, &other, &["D".to_owned()].into()), (4, 1));
}

#[test]
#[ignore = "it lays out some thousand diagrams"]
fn steadiness() {
    let jobs = [
        ("tree", tree(15, 1), 200),
        ("tree", tree(100, 1), 200),
        ("tree", tree(500, 1), 100),
        ("common 0 V", Installation::of(Shape::CommonZero, 30, 1).text, 100),
        ("common 0 V", Installation::of(Shape::CommonZero, 100, 1).text, 30),
        ("one supply", Installation::of(Shape::OneSupply, 100, 1).text, 30),
    ];
    for (name, text, edits) in jobs {
        let job = job(&text);
        let before = faults::figures(&layout::lay_out(&job)).crossings;
        let [(alone, crossed), (like, crossed_like)] =
            [After::Alone, After::Like].map(|after| moved_by_edits(&text, edits, 1, after));
        println!(
            "| {name} | {} | {edits} | {alone:.1} % | {like:.1} % | {before} | {crossed:.0} | {crossed_like:.0} |",
            job.devices.len()
        );
        assert_eq!(differs(&text, 3), 0.0, "{name}");
    }
}
