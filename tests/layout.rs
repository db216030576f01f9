//! Layouts hold what a drawing promises: nothing meets what it should not, everything is there, and what is not touched
//! keeps its order.

#[path = "layout/faults.rs"]
mod faults;
#[path = "layout/kit.rs"]
mod kit;

use std::collections::{BTreeMap, BTreeSet};

use bellwire::layout::{self, Conductor, GridPoint, Layout, WireEnd};
use bellwire::netlist::{self, CoreId, Job};
use bellwire::scene::{M, Rect};
use kit::{Dice, Kit, at};
use proptest::prelude::ProptestConfig;
use proptest::test_runner::RngSeed;

fn job(text: &str) -> Job {
    let reading = netlist::read_text("job.yaml", text);
    reading.job.unwrap_or_else(|| panic!("{:?}", reading.findings))
}

fn laid_out(job: &Job) -> Layout {
    layout::lay_out(job)
}

fn clean(text: &str) -> Layout {
    let job = job(text);
    let layout = laid_out(&job);
    let faults = faults::faults(&job, &layout);
    assert!(faults.is_empty(), "{faults:#?}\n{text}");
    layout
}

/// A supply and a siren on a twin, the black core written as given.
fn is_straight(black: &str) {
    let layout = clean(&format!(
        "job: {{title: siren}}\n\
         devices:\n\
         \x20 G1: {{type: dc-supply, volts: 12 V}}\n\
         \x20 H1: {{type: siren}}\n\
         cables:\n\
         \x20 W1: {{type: twin-0.5, length: 2 m, cores: {{red: [G1.V+, H1.V+], black: {black}}}}}\n",
    ));
    let figures = faults::figures(&layout);
    assert_eq!((figures.crossings, figures.bends, figures.wires), (0, 0, 2));
}

#[test]
fn a_supply_and_a_siren_are_joined_by_straight_cores() {
    is_straight("[G1.V-, H1.V-]");
}

#[test]
fn a_core_that_is_written_the_other_way_round_runs_straight_along_its_cable() {
    is_straight("[H1.V-, G1.V-]");
}

#[test]
fn a_core_that_is_joined_to_an_aerial_lands_on_it() {
    let layout = clean(
        "job: {title: aerial}\n\
         devices:\n\
         \x20 A1: {type: receiver}\n\
         \x20 X1: {type: terminal-strip, ways: 2}\n\
         cables:\n\
         \x20 W1: {length: 1 m, cores: {black: [A1.ANT, X1.1]}}\n\
         data_sheets:\n\
         \x20 receiver: {terminals: ['1', ANT], aerials: [ANT]}\n",
    );
    let landed = |end: &WireEnd| matches!(end, WireEnd::Landing(..));
    assert!(layout.wires.iter().all(|wire| wire.ends.iter().all(landed)));
}

#[test]
fn no_core_runs_along_the_frame_of_a_location() {
    clean(include_str!("jobs/hall-lamps.yaml"));
}

/// One core of W1 goes on to the slip; the other stays in the locker, and so does the cable.
#[test]
fn a_cable_stays_in_the_location_that_a_core_of_it_stays_in() {
    let layout = clean(
        "
job: {title: Slipway lamps}
devices:
  G1: {type: battery, volts: 12 V, location: Locker}
  F1: {type: fuse, amps: 5 A, location: Locker}
  S1: {type: toggle-switch, location: Locker}
  E1: {type: lamp, volts: 12 V, amps: 0.4 A, location: Slip}
  E2: {type: lamp, volts: 12 V, amps: 0.4 A, location: Slip}
cables:
  W1: {type: twin-1.5, length: 0.3 m, cores: {red: [G1.V+, F1.1], black: [G1.V-, E1.2]}}
  W2: {type: single-1.5, length: 0.3 m, cores: {red: [F1.2, S1.13]}}
  W3: {type: single-1.5, length: 8 m, cores: {red: [S1.14, E1.1]}}
  W4: {type: twin-1.5, length: 8 m, cores: {red: [E1.1, E2.1], black: [E1.2, E2.2]}}
",
    );
    let locker = layout.frames.iter().find(|frame| frame.location == ["Locker"]).unwrap();
    let w1 = layout.sheaths.iter().find(|sheath| sheath.cable.index() == 0).unwrap();
    assert_eq!(locker.rect.with(&w1.level), locker.rect);
}

/// The vent stands in a frame of its own below the panel's, with its terminals on the same side.
#[test]
fn a_sheath_goes_round_a_corner_into_the_frame_that_it_leads_into() {
    let layout = clean(
        "
job: {title: Vents of a nursery}
devices:
  G1: {type: dc-supply, volts: 24 V, amps: 2 A, location: Panel}
  F1: {type: fuse, amps: 1 A, location: Panel}
  S1: {type: toggle-switch, location: Panel}
  X1: {type: splice, location: Panel}
  Y1: {type: solenoid-valve, volts: 24 V, amps: 0.2 A, location: Tank}
  Y2: {type: solenoid-valve, volts: 24 V, amps: 0.2 A, location: Tank}
  V1: {type: varistor, across: [Y1.1, Y1.2]}
  V2: {type: varistor, across: [Y2.1, Y2.2]}
links: [[G1.V+, F1.1], [F1.2, S1.13], [G1.V-, X1]]
cables:
  W1: {type: twin-0.75, length: 9 m, cores: {red: [S1.14, Y1.1], black: [X1, Y1.2]}}
  W2: {type: twin-0.75, length: 3 m, cores: {red: [Y1.1, Y2.1], black: [Y1.2, Y2.2]}}
",
    );
    let tank = layout.frames.iter().find(|frame| frame.location == ["Tank"]).unwrap();
    let w1 = layout.sheaths.iter().find(|sheath| sheath.cable.index() == 0).unwrap();
    let ends = [w1.parts().first().copied(), w1.parts().last().copied()];
    assert!(ends.into_iter().flatten().any(|end| tank.rect.overlaps(&end)), "{w1:?} {:?}", tank.rect);
}

/// The ends of cables of several cores whose sheath, or a spare core of it, does not end in the frame of the location in
/// which the others land.
fn ends_elsewhere(job: &Job, layout: &Layout) -> Vec<String> {
    let mut elsewhere = Vec::new();
    for sheath in layout.sheaths.iter().filter(|sheath| sheath.level.h > 0.0) {
        let cable = job.cable(sheath.cable);
        let cores = || cable.cores.iter().map(CoreId);
        let locations = [0, 1].map(|e| {
            let lands = cores().filter_map(|core| job.core(core).ends[e].to.terminal());
            let mut all: Vec<_> = lands.map(|t| &job.device(job.terminal(t).device).location).collect();
            all.dedup();
            all
        });
        let ([near], [far]) = (&locations[0][..], &locations[1][..]) else { continue };
        if near == far {
            continue;
        }
        for (e, location) in [near, far].into_iter().enumerate() {
            let Some(frame) = layout.frames.iter().find(|frame| *frame.location == ***location) else {
                continue;
            };
            let parts = sheath.parts();
            let reaches =
                [parts.first(), parts.last()].into_iter().flatten().any(|end| frame.rect.overlaps(end));
            let spares = layout.wires.iter().filter(|wire| {
                wire.ends[e] == WireEnd::Loose && cores().any(|core| wire.conductor == Conductor::Core(core))
            });
            let mut tips =
                spares.filter_map(|wire| if e == 0 { wire.points.first() } else { wire.points.last() });
            let inside = |tip: &GridPoint| {
                let at = bellwire::scene::Point { x: f64::from(tip.x) * M, y: f64::from(tip.y) * M };
                frame.rect.holds(&Rect::between(at, at))
            };
            if !reaches || !tips.all(inside) {
                elsewhere.push(format!("{} in {}", cable.name, location.join("/")));
            }
        }
    }
    elsewhere
}

/// A sheath ends in the frame of the location that it leads into, with its spare cores, wherever the way there is free: on
/// the same rows, and round a corner.
#[test]
fn a_sheath_with_spare_cores_ends_in_the_frame_that_it_leads_into() {
    // The cores of the other ends part, or change places, before they are there.
    let drawings: [(&str, &[&str]); 2] =
        [("examples/alarm-loop.yaml", &["W6 in Office/Panel"]), ("tests/jobs/eight-zone-panel.yaml", &[])];
    for (path, elsewhere) in drawings {
        let path = format!("{}/{path}", env!("CARGO_MANIFEST_DIR"));
        let text = std::fs::read_to_string(path).unwrap();
        let layout = clean(&text);
        assert_eq!(ends_elsewhere(&job(&text), &layout), elsewhere, "{text}");
    }
}

/// A sheath that goes on level past a frame does not lie along its upper or lower line.
#[test]
fn no_sheath_lies_along_the_frame_of_a_location() {
    for name in ["boathouse-lamps", "mushroom-tunnel", "planetarium-dome"] {
        let path = format!("{}/tests/corpus/{name}.yaml", env!("CARGO_MANIFEST_DIR"));
        let layout = clean(&std::fs::read_to_string(path).unwrap());
        for frame in &layout.frames {
            let lines = [frame.rect.y, frame.rect.bottom()];
            let beside = layout.sheaths.iter().map(|sheath| sheath.level).filter(|level| {
                level.h > 0.0 && level.x < frame.rect.right() && frame.rect.x < level.right()
            });
            for level in beside {
                let near =
                    |line: f64| [level.y, level.bottom()].iter().any(|edge| (edge - line).abs() < M / 2.0);
                assert!(!lines.into_iter().any(near), "{name}: {:?} {level:?}", frame.location);
            }
        }
    }
}

/// A wire from one terminal of a detector to another turns back right beside it, with its name between them.
#[test]
fn a_wire_from_a_device_to_itself_stays_in_its_location() {
    let mut kit = Kit::default();
    kit.device("G1", "Plant", 4);
    kit.device("B1", "Shed", 4);
    kit.cable(&[(at("G1", 1), at("B1", 1)), (at("G1", 2), at("B1", 4))]);
    kit.cable(&[(at("B1", 2), at("B1", 3))]);
    let layout = clean(&kit.text());
    let shed = layout.frames.iter().find(|frame| frame.location == ["Shed"]).unwrap();
    let plate = layout.sheaths.iter().find(|sheath| sheath.cable.index() == 1).unwrap().tag;
    assert_eq!(shed.rect.with(&plate), shed.rect);
    let loops = layout.wires.iter().filter(|wire| match wire.ends {
        [WireEnd::Landing(a, _), WireEnd::Landing(b, _)] => a == b,
        _ => false,
    });
    let inside = |p: &GridPoint| {
        let (x, y) = (f64::from(p.x) * M, f64::from(p.y) * M);
        shed.rect.x < x && x < shed.rect.right() && shed.rect.y < y && y < shed.rect.bottom()
    };
    let loops: Vec<_> = loops.collect();
    assert!(loops.len() == 1 && loops.iter().all(|wire| wire.points.iter().all(inside)), "{loops:?}");
}

/// W12 and W14 turn back left of all else in the box.
#[test]
fn a_cable_that_turns_back_in_a_location_does_so_within_its_frame() {
    let job = job(include_str!("jobs/reversing-motor.yaml"));
    let layout = laid_out(&job);
    let found = faults::faults(&job, &layout);
    assert!(found.is_empty(), "{found:#?}");
    let frame = layout.frames.iter().find(|frame| frame.location == ["Box"]).unwrap().rect;
    let within = |wire: &layout::Wire| {
        let boxed = |end: &WireEnd| match end {
            WireEnd::Landing(d, _) => job.device(layout.devices[*d].figure.device).location[..] == ["Box"],
            _ => false,
        };
        wire.ends.iter().all(boxed)
    };
    for wire in layout.wires.iter().filter(|wire| within(wire)) {
        for point in &wire.points {
            let at = Rect { x: M * f64::from(point.x), y: M * f64::from(point.y), w: 0.0, h: 0.0 };
            assert_eq!(frame.with(&at), frame, "{wire:?}");
        }
    }
}

/// A diode across a coil has no location of its own; it stands in the panel, where the relay is.
#[test]
fn a_part_across_a_device_stands_in_the_frame_of_that_device() {
    let layout = clean(
        "
job: {title: Pump shed relay}
devices:
  G1: {type: dc-supply, volts: 24 V, location: Shed/Panel}
  S1: {type: push-button-no, location: Shed}
  K1: {type: relay, volts: 24 V, amps: 40 mA, location: Shed/Panel}
  V1: {type: diode, across: [K1.A1, K1.A2]}
cables:
  W1: {type: twin-0.5, length: 1 m, cores: {red: [G1.V+, S1.13], black: [S1.14, K1.A1]}}
  W2: {type: single-0.5, length: 1 m, cores: {black: [G1.V-, K1.A2]}}
",
    );
    let panel = layout.frames.iter().find(|frame| frame.location == ["Shed", "Panel"]).unwrap();
    let stands = layout.devices.iter().filter(|device| {
        let (w, h) = (M * f64::from(device.figure.w), M * f64::from(device.figure.h));
        let outline = Rect { x: M * f64::from(device.at.x), y: M * f64::from(device.at.y), w, h };
        panel.rect.holds(&outline)
    });
    assert_eq!(stands.count(), 3, "G1, K1 and V1");
}

/// Hundreds of jumpers between two cabinets are more than any sheet holds: each is on the sheets of both its ends.
#[test]
fn cabinets_with_hundreds_of_jumpers_between_them_come_on_sheets() {
    let mut kit = Kit::default();
    for n in 1..=22 {
        kit.device(&format!("X{n}"), "Left", 20);
        kit.device(&format!("Y{n}"), "Right", 20);
        kit.links
            .extend((1..=20).map(|t| format!("[{}, {}]", at(&format!("X{n}"), t), at(&format!("Y{n}"), t))));
    }
    let job = job(&kit.text());
    let sheets = layout::lay_out_in_parts(&job, &[(151, 93)], None);
    let drawn: BTreeSet<Conductor> =
        sheets.iter().flat_map(|sheet| sheet.wires.iter().map(|wire| wire.conductor)).collect();
    assert!(sheets.len() > 2 && drawn.len() == 440, "{} sheets with {} jumpers", sheets.len(), drawn.len());
}

/// What a panel's jumper leads to is in the panel too, whichever sheet it is on.
#[test]
fn the_flag_of_a_jumper_stands_in_its_location() {
    let job = job(include_str!("../examples/marshalling-box.yaml"));
    let mut flags = 0;
    for layout in layout::lay_out_in_parts(&job, &[(90, 40)], None) {
        for wire in &layout.wires {
            let Conductor::Link(link) = wire.conductor else { continue };
            let [a, b] = job.links[link.index()].ends.map(|t| &job.device(job.terminal(t).device).location);
            let tips = wire.ends.iter().zip([wire.points.first(), wire.points.last()]);
            for (_, tip) in tips.filter(|(end, _)| a == b && **end == WireEnd::Away) {
                let (x, y) = tip.map(|p| (f64::from(p.x) * M, f64::from(p.y) * M)).unwrap();
                let holds = |r: &Rect| r.x < x && x < r.right() && r.y < y && y < r.bottom();
                let frames = layout.frames.iter().filter(|frame| frame.location[..] == a[..]);
                assert_eq!(frames.filter(|frame| holds(&frame.rect)).count(), 1, "{}", link.index());
                flags += 1;
            }
        }
    }
    assert!(flags > 1, "{flags}");
}

/// Four cores of a cable change places with one another. At the barrier their landings are on the rows on which the cable
/// would have them if they changed there, so that upright pieces would be split and cross more than once.
#[test]
fn cores_change_places_at_the_end_where_that_crosses_least() {
    let layout = clean(include_str!("corpus/yard-barrier.yaml"));
    assert!(layout.followed.crossings <= 6, "{:?}", layout.followed);
}

#[test]
fn a_star_a_chain_and_a_ring_come_out_clean() {
    let mut star = Kit::default();
    star.device("A", "Panel", 24);
    let mut chain = Kit::default();
    chain.device("D0", "", 4);
    for i in 0..12 {
        star.device(&format!("B{i}"), if i % 3 == 0 { "Yard" } else { "" }, 2);
        star.cable(&[
            (at("A", 2 * i + 1), at(&format!("B{i}"), 1)),
            (at("A", 2 * i + 2), at(&format!("B{i}"), 2)),
        ]);
        let (near, far) = (format!("D{i}"), format!("D{}", i + 1));
        chain.device(&far, if i > 6 { "Hall/Panel" } else { "Hall" }, 4);
        chain.cable(&[(at(&near, 1), at(&far, 3)), (at(&near, 2), at(&far, 4))]);
    }
    clean(&star.text());
    clean(&chain.text());
    chain.cable(&[(at("D12", 1), at("D0", 3)), (at("D12", 2), at("D0", 4))]);
    clean(&chain.text());
}

#[test]
fn a_device_with_80_terminals_and_a_cable_with_40_cores_come_out_clean() {
    let mut kit = Kit::default();
    kit.device("A", "", 80);
    kit.device("B", "", 40);
    kit.device("C", "", 40);
    let all: Vec<_> = (1..=40).map(|i| (at("A", i), at("B", 41 - i))).collect();
    kit.cable(&all);
    for i in 1..=20 {
        kit.cable(&[(at("A", 39 + 2 * i), at("C", i)), (at("A", 40 + 2 * i), at("C", 41 - i))]);
    }
    clean(&kit.text());
}

#[test]
fn long_names_and_loose_pieces_come_out_clean() {
    let mut kit = Kit::default();
    let long = "N".repeat(60);
    kit.device(&long, "A_location_with_a_name_that_is_much_wider_than_what_stands_in_it", 3);
    kit.device("B", "", 3);
    kit.device("alone", "Elsewhere", 2);
    kit.cable(&[
        (at(&long, 1), at("B", 1)),
        (at(&long, 2), "taped".into()),
        ("bare".into(), "capped".into()),
    ]);
    kit.cable(&[(at(&long, 3), at("B", 3))]);
    kit.cable(&[("taped".into(), "taped".into())]);
    kit.links.push(format!("[{}, {}]", at("B", 1), at("B", 2)));
    clean(&kit.text());
    clean("job: {title: nothing}\n");
}

#[test]
fn a_strip_with_everything_on_it_comes_out_clean() {
    let mut kit = Kit::default();
    kit.devices += "  X1: {type: terminal-strip, ways: 30, location: Box}\n";
    kit.part("X2", "splice");
    for i in 1..=15 {
        let name = format!("B{i}");
        kit.device(&name, if i % 4 == 0 { "Box" } else { "" }, 3);
        let cores = [
            (format!("X1.{i}"), at(&name, 1)),
            (format!("X1.{}", 31 - i), at(&name, 2)),
            ("X2".into(), at(&name, 3)),
        ];
        kit.cable(&cores);
    }
    kit.links.push("[X1.1, X1.2]".into());
    kit.links.push("[X1.2, X1.9]".into());
    clean(&kit.text());
}

fn random(seed: u64) -> String {
    let mut dice = Dice(seed);
    let mut kit = Kit::default();
    let count = 2 + dice.below(7);
    let places = ["", "Hall", "Hall/Panel", "Yard", "Roof"];
    let mut terminals = Vec::new();
    for d in 0..count {
        let (name, n) = (format!("D{d}"), 1 + dice.below(8));
        kit.device(&name, places[dice.below(places.len())], n);
        terminals.extend((1..=n).map(|t| at(&name, t)));
    }
    kit.part("X1", "splice");
    terminals.push("X1".into());
    for _ in 0..count + dice.below(4) {
        let mut core = || {
            let end = |dice: &mut Dice| {
                let loose = ["taped", "bare", "parked"];
                if dice.below(12) == 0 {
                    loose[dice.below(3)].to_owned()
                } else {
                    terminals[dice.below(terminals.len())].clone()
                }
            };
            (end(&mut dice), end(&mut dice))
        };
        let n = 1 + (core().0.len() + core().1.len()) % 4;
        let cores: Vec<_> = (0..n).map(|_| core()).filter(|(a, b)| a != b || !a.contains('.')).collect();
        let cores: Vec<_> = cores.into_iter().filter(|(a, b)| a != "X1" || b != "X1").collect();
        if !cores.is_empty() {
            kit.cable(&cores);
        }
    }
    kit.text()
}

proptest::proptest! {
    // The same jobs on every machine.
    #![proptest_config(ProptestConfig {
        cases: 12,
        failure_persistence: None,
        rng_seed: RngSeed::Fixed(1),
        ..ProptestConfig::default()
    })]

    #[test]
    fn whatever_is_joined_comes_out_clean(seed in 0_u64..1_000_000) {
        clean(&random(seed));
    }
}

/// Where each device stands, by its name.
fn places(text: &str) -> BTreeMap<String, (i32, i32)> {
    let job = job(text);
    let of = |placed: &layout::Placed| {
        (job.device(placed.figure.device).name.to_string(), (placed.at.x, placed.at.y))
    };
    laid_out(&job).devices.iter().map(of).collect()
}

#[test]
fn the_order_of_devices_and_cables_in_the_file_means_nothing() {
    for seed in [3, 7] {
        let text = random(seed);
        let (devices, cables) = (text.find("devices:\n").unwrap(), text.find("cables:\n").unwrap());
        let turned = |section: &str| -> String {
            let (entries, rest): (Vec<&str>, Vec<&str>) =
                section.lines().skip(1).partition(|line| line.starts_with("  ") && line.contains(": {"));
            let entries = entries.into_iter().rev().chain(rest);
            entries.map(|line| format!("{line}\n")).collect()
        };
        let other = format!(
            "{}devices:\n{}cables:\n{}",
            &text[..devices],
            turned(&text[devices..cables]),
            turned(&text[cables..])
        );
        assert_ne!(text, other);
        assert_eq!(places(&text), places(&other), "{other}");
    }
}

#[test]
fn the_same_job_gives_the_same_layout() {
    let text = random(7);
    assert_eq!(format!("{:?}", clean(&text)), format!("{:?}", clean(&text)));
}

/// All devices ask for a column, so there is none to count them from.
#[test]
fn columns_that_all_devices_ask_for_are_theirs() {
    let layout = clean(
        "
job: {title: Alarm of a boat shed}
devices:
  A1: {type: panel, place: {column: 1}}
  B1: {type: motion-detector, unused: [TMP1, TMP2], place: {column: 3}}
  B2: {type: motion-detector, unused: [TMP1, TMP2], place: {column: 2}}
cables:
  W1: {type: alarm-4x0.22, length: 8 m, cores: {red: [A1.A1, B1.V+], black: [A1.N1, B1.V-], blue: taped, white: taped}}
  W2: {type: alarm-4x0.22, length: 8 m, cores: {red: [A1.A2, B2.V+], black: [A1.N2, B2.V-], blue: taped, white: taped}}
data_sheets:
  panel: {terminals: [A1, N1, A2, N2]}
",
    );
    assert!(layout.unmet.is_empty(), "{:?}", layout.unmet);
    let x: Vec<i32> = layout.devices.iter().map(|device| device.at.x).collect();
    assert!(matches!(x[..], [a1, b1, b2] if a1 < b2 && b2 < b1), "{x:?}");
}

/// The middle core is made safe at its far end: it leaves beside the others.
#[test]
fn a_core_that_lands_at_one_end_only_runs_along_its_cable() {
    let layout = clean(
        "
job: {title: Spare core of a pump shed}
devices:
  X1: {type: terminal-strip, ways: 3}
  B1: {type: limit-switch, unused: [NC]}
cables:
  W1: {type: alarm-4x0.22, length: 8 m, cores: {red: [X1.1, B1.COM], black: [X1.2, taped], blue: [X1.3, B1.NO], white: taped}}
",
    );
    let black = &layout.wires[1];
    assert!(black.points.windows(2).all(|pair| pair[0].x <= pair[1].x), "{:?}", black.points);
}

/// The spare cores of the long cable are drawn at the dryer at both ends.
#[test]
fn loose_ends_outside_the_frame_of_their_location_say_where_they_are() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/two-supplies.yaml");
    let layout = clean(&std::fs::read_to_string(path).unwrap());
    let told: Vec<&str> =
        layout.labels.iter().map(|label| &*label.text).filter(|text| text.starts_with("in ")).collect();
    let office = layout.frames.iter().find(|frame| frame.location == ["Office"]).unwrap();
    let loose = |wire: &layout::Wire| wire.ends == [WireEnd::Loose; 2];
    let tips = layout.wires.iter().filter(|wire| loose(wire)).filter_map(|wire| wire.points.last());
    let outside = tips.filter(|tip| {
        let at = bellwire::scene::Point { x: f64::from(tip.x) * M, y: f64::from(tip.y) * M };
        !office.rect.holds(&Rect::between(at, at))
    });
    assert_eq!(told, vec!["in Office"; usize::from(outside.count() > 0)]);
}

/// A core that is written the other way round than the others of its cable runs along with them, whichever devices it joins.
#[test]
fn a_core_written_the_other_way_round_does_not_turn_back() {
    let text = "
job: {title: Fan of a mushroom shed}
devices:
  X1: {type: terminal-strip, ways: 3, location: Shed}
  K1: {type: relay, location: Shed}
  S1: {type: limit-switch, location: Tunnel}
  H1: {type: lamp, location: Tunnel}
cables:
  W1: {type: alarm-4x0.22, length: 31 m, cores: {red: [X1.1, S1.COM], black: [X1.2, H1.2], blue: [K1.14, H1.1],
    white: [S1.NO, K1.A1]}}
";
    let (job, layout) = (job(text), clean(text));
    let white = layout.wires.iter().find(
        |wire| matches!(wire.conductor, Conductor::Core(core) if job.core(core).name.as_str() == "white"),
    );
    let points = &white.unwrap().points;
    let level: i32 = points.windows(2).map(|pair| (pair[1].x - pair[0].x).abs()).sum();
    let apart = points.last().zip(points.first()).map_or(0, |(a, b)| (a.x - b.x).abs());
    assert_eq!(level, apart, "{points:?}");
}
