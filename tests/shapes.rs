//! Jobs of every shape and of random sizes: nothing on their drawings is misplaced, and every drawing reads back as its
//! job.

#![allow(clippy::unwrap_used, reason = "a test may stop at what it did not expect")]

#[path = "layout/faults.rs"]
#[allow(dead_code, reason = "how good a layout is does not matter here")]
mod faults;
#[path = "layout/kit.rs"]
mod kit;

use bellwire::circuit::Circuit;
use bellwire::{drawing, layout, netlist, output};
use kit::{Dice, Kit, at};
use proptest::prelude::ProptestConfig;
use proptest::test_runner::RngSeed;

/// A location and one within it, one apart, and none.
const PLACES: [&str; 4] = ["", "Hall", "Hall/Panel", "Yard"];

fn comes_out_clean(kit: &Kit) {
    let text = kit.text();
    let reading = netlist::read_text("job.yaml", &text);
    let job = reading.job.unwrap_or_else(|| panic!("{:?}\n{text}", reading.findings));
    let laid_out = layout::lay_out(&job);
    let faults = faults::faults(&job, &laid_out);
    assert!(faults.is_empty(), "{faults:#?}\n{text}");
    let circuit = Circuit::of(&job);
    for draw in [drawing::draw_on_one_sheet, drawing::draw] {
        if let Err(fault) = output::Proven::new(&draw(&job, &circuit, &[], None), &job) {
            panic!("{fault}\n{text}");
        }
    }
}

/// Cores from terminals of one device to those of another, beginning at the given ones: in order, turned round or mixed;
/// now and then an end is made safe.
fn cores(dice: &mut Dice, count: usize, a: (&str, usize), b: (&str, usize)) -> Vec<(String, String)> {
    let mut to: Vec<usize> = (0..count).collect();
    match dice.below(3) {
        0 => {}
        1 => to.reverse(),
        _ => (1..count).for_each(|i| to.swap(i, dice.below(i + 1))),
    }
    let mut core = |(i, j): (usize, &usize)| {
        let ends = (at(a.0, a.1 + i), at(b.0, b.1 + j));
        match dice.below(16) {
            0 => (ends.0, "taped".to_owned()),
            1 => ("capped".to_owned(), ends.1),
            2 => ("taped".to_owned(), "taped".to_owned()),
            _ => ends,
        }
    };
    to.iter().enumerate().map(&mut core).collect()
}

fn place(dice: &mut Dice) -> &'static str {
    PLACES[dice.below(PLACES.len())]
}

/// Devices around one, each on a cable of its own.
fn star(kit: &mut Kit, dice: &mut Dice, name: &str, size: usize) {
    kit.device(name, place(dice), 3 * size);
    for i in 0..size {
        let leaf = format!("{name}-{i}");
        kit.device(&leaf, place(dice), 3);
        let cable = cores(dice, 3, (name, 3 * i + 1), (&leaf, 1));
        kit.cable(&cable);
    }
}

/// Devices in a row, each joined to the next; the last to the first, if it is a ring.
fn chain(kit: &mut Kit, dice: &mut Dice, name: &str, size: usize, ring: bool) {
    let member = |i: usize| format!("{name}-{}", i % size);
    for i in 0..size {
        kit.device(&member(i), place(dice), 8);
    }
    for i in 0..if ring { size } else { size - 1 } {
        let count = 1 + dice.below(4);
        let cable = cores(dice, count, (&member(i), 5), (&member(i + 1), 1));
        kit.cable(&cable);
    }
}

/// Each device on any of those before it.
fn tree(kit: &mut Kit, dice: &mut Dice, name: &str, size: usize) {
    for i in 0..size {
        kit.device(&format!("{name}-{i}"), place(dice), 6);
        if i > 0 {
            let before = format!("{name}-{}", dice.below(i));
            let (count, from) = (1 + dice.below(3), 1 + dice.below(4));
            let cable = cores(dice, count, (&before, from), (&format!("{name}-{i}"), 1));
            kit.cable(&cable);
        }
    }
}

proptest::proptest! {
    // The same jobs on every machine.
    #![proptest_config(ProptestConfig {
        cases: 5,
        failure_persistence: None,
        rng_seed: RngSeed::Fixed(1),
        ..ProptestConfig::default()
    })]

    #[test]
    fn stars(size in 1_usize..40, seed in 0_u64..1_000_000) {
        let mut kit = Kit::default();
        star(&mut kit, &mut Dice(seed), "A", size);
        comes_out_clean(&kit);
    }

    #[test]
    fn chains_and_rings(size in 3_usize..60, seed in 0_u64..1_000_000) {
        let mut dice = Dice(seed);
        for ring in [false, true] {
            let mut kit = Kit::default();
            chain(&mut kit, &mut dice, "C", size, ring);
            comes_out_clean(&kit);
        }
    }

    #[test]
    fn trees(size in 1_usize..90, seed in 0_u64..1_000_000) {
        let mut kit = Kit::default();
        tree(&mut kit, &mut Dice(seed), "T", size);
        comes_out_clean(&kit);
    }

    /// One strip with all cores of a job on it, neighbours joined by jumpers.
    #[test]
    fn giant_strips(ways in 2_usize..160, seed in 0_u64..1_000_000) {
        let (mut kit, mut dice) = (Kit::default(), Dice(seed));
        kit.devices += &format!("  X1: {{type: terminal-strip, ways: {ways}, location: Hall}}\n");
        let mut way = 1;
        while way <= ways {
            let (name, count) = (format!("D{way}"), (1 + dice.below(4)).min(ways + 1 - way));
            kit.device(&name, place(&mut dice), count);
            // Some cores go back to a way that is taken.
            let mut to = |i: usize| if dice.below(6) == 0 { 1 + dice.below(way) } else { way + i };
            let cable: Vec<_> = (0..count).map(|i| (format!("X1.{}", to(i)), at(&name, i + 1))).collect();
            kit.cable(&cable);
            if way > 1 && dice.below(3) == 0 {
                kit.links.push(format!("[X1.{}, X1.{way}]", way - 1));
            }
            way += count;
        }
        comes_out_clean(&kit);
    }

    /// Parts that nothing joins, devices alone among them.
    #[test]
    fn loose_pieces(pieces in 1_usize..12, seed in 0_u64..1_000_000) {
        let (mut kit, mut dice) = (Kit::default(), Dice(seed));
        for piece in 0..pieces {
            let (name, size) = (format!("P{piece}"), 1 + dice.below(8));
            match dice.below(4) {
                0 => star(&mut kit, &mut dice, &name, size),
                1 => chain(&mut kit, &mut dice, &name, size + 2, true),
                2 => tree(&mut kit, &mut dice, &name, size),
                _ => kit.device(&name, place(&mut dice), size),
            }
        }
        comes_out_clean(&kit);
    }

    /// A device of up to 80 terminals and more, with cores from any of them to a few others and to itself.
    #[test]
    fn devices_of_many_terminals(terminals in 40_usize..100, others in 1_usize..8, seed in 0_u64..1_000_000) {
        let (mut kit, mut dice) = (Kit::default(), Dice(seed));
        kit.device("A", "Hall", terminals);
        for other in 0..others {
            kit.device(&format!("B{other}"), place(&mut dice), 10);
        }
        for _ in 0..terminals / 2 {
            let name = format!("B{}", dice.below(others));
            let count = 1 + dice.below(4);
            let (from, to) = (1 + dice.below(terminals - count), 1 + dice.below(6));
            let cable = cores(&mut dice, count, ("A", from), (&name, to));
            kit.cable(&cable);
        }
        kit.cable(&[(at("A", 1), at("A", terminals))]);
        comes_out_clean(&kit);
    }

    /// Cables of up to 40 cores between two devices, some also to a third.
    #[test]
    fn cables_of_many_cores(count in 10_usize..=40, seed in 0_u64..1_000_000) {
        let (mut kit, mut dice) = (Kit::default(), Dice(seed));
        for name in ["A", "B", "C"] {
            kit.device(name, place(&mut dice), count);
        }
        for (a, b) in [("A", "B"), ("B", "C")] {
            let mut cable = cores(&mut dice, count, (a, 1), (b, 1));
            for core in cable.iter_mut().filter(|core| core.1.starts_with("B.")) {
                if dice.below(5) == 0 {
                    core.1.replace_range(..1, "C");
                }
            }
            kit.cable(&cable);
        }
        comes_out_clean(&kit);
    }

    /// Names of up to 60 letters, wide and narrow ones, for devices, locations and terminals.
    #[test]
    fn long_names(length in 1_usize..=60, seed in 0_u64..1_000_000) {
        let (mut kit, mut dice) = (Kit::default(), Dice(seed));
        let word = |letter: &str, end: usize| format!("{}{end}", letter.repeat(length - 1));
        let devices: Vec<String> = (0..7).map(|i| word(["W", "i", "M-", "j"][i % 4], i)).collect();
        for (i, name) in devices.iter().enumerate() {
            let terminals: Vec<String> = (0..4).map(|t| word(["T", "l"][t % 2], t)).collect();
            let location = word("L", i / 3);
            kit.devices +=
                &format!("  {name}: {{location: {location}, terminals: [{}]}}\n", terminals.join(", "));
        }
        for i in 0..10 {
            let mut end = || format!("{}.{}", devices[dice.below(7)], word(["T", "l"][i % 2], 2 * dice.below(2) + i % 2));
            let (a, b) = (end(), end());
            if a != b {
                kit.cable(&[(a, b)]);
            }
        }
        comes_out_clean(&kit);
    }

    /// Splices of many cores, one behind the other.
    #[test]
    fn splices(ends in 3_usize..24, seed in 0_u64..1_000_000) {
        let (mut kit, mut dice) = (Kit::default(), Dice(seed));
        for splice in ["X1", "X2", "X3"] {
            kit.part(splice, "splice");
        }
        kit.cable(&[("X1".into(), "X2".into()), ("X2".into(), "X3".into())]);
        for end in 0..ends {
            let name = format!("D{end}");
            kit.device(&name, place(&mut dice), 3);
            let mut splice = |i: usize| (format!("X{}", 1 + dice.below(3)), at(&name, i));
            let cable: Vec<_> = (1..=3).map(&mut splice).collect();
            kit.cable(&cable);
        }
        comes_out_clean(&kit);
    }
}
