//! What devices ask of the layout under `place:`.

#![allow(clippy::unwrap_used)]

use bellwire::circuit::Circuit;
use bellwire::drawing;
use bellwire::figure::Side;
use bellwire::layout::{self, Layout};
use bellwire::netlist::{Job, read_text};

/// A supply, a fuse, a relay module, three switches and a lamp.
fn job(hint: (&str, &str)) -> Job {
    let place = |device: &str| if device == hint.0 { format!(", place: {}", hint.1) } else { String::new() };
    let text = format!(
        "job: {{title: Fan of the drying hall}}\ndevices:\n\
         \x20 G1: {{type: dc-supply, volts: 12 V, amps: 2 A{}}}\n\
         \x20 F1: {{type: fuse, amps: 1 A{}}}\n\
         \x20 K1: {{type: relay, volts: 12 V, amps: 40 mA{}}}\n\
         \x20 S1: {{type: push-button-no{}}}\n\
         \x20 S2: {{type: push-button-nc{}}}\n\
         \x20 H1: {{type: lamp, volts: 12 V, watts: 2 W{}}}\n\
         \x20 H2: {{type: lamp, volts: 12 V, watts: 2 W{}}}\n\
         \x20 X1: {{type: splice}}\n\
         cables:\n\
         \x20 W1: {{type: twin-0.75, length: 1 m, cores: {{red: [G1.V+, F1.1], black: [G1.V-, X1]}}}}\n\
         \x20 W2: {{type: twin-0.5, length: 5 m, cores: {{red: [F1.2, S1.13], black: [S1.14, S2.11]}}}}\n\
         \x20 W3: {{type: twin-0.5, length: 5 m, cores: {{red: [S2.12, K1.A1], black: [K1.A2, X1]}}}}\n\
         \x20 W4: {{type: twin-0.5, length: 5 m, cores: {{red: [K1.14, H1.1], black: [H1.2, X1]}}}}\n\
         \x20 W5: {{type: twin-0.5, length: 5 m, cores: {{red: [K1.12, H2.1], black: [H2.2, X1]}}}}\n\
         \x20 W6: {{type: single-0.75, length: 1 m, cores: {{red: [F1.2, K1.11]}}}}\n",
        place("G1"),
        place("F1"),
        place("K1"),
        place("S1"),
        place("S2"),
        place("H1"),
        place("H2"),
    );
    let reading = read_text("job.yaml", &text);
    reading.job.unwrap_or_else(|| panic!("{:?}", reading.findings))
}

/// Left and right edge, and top, of a device.
fn stands(job: &Job, layout: &Layout, name: &str) -> (i32, i32, i32) {
    let placed =
        layout.devices.iter().find(|placed| &*job.device(placed.figure.device).name == name).unwrap();
    (placed.at.x, placed.at.x + placed.figure.w, placed.at.y)
}

/// The columns in which devices stand, from the left: devices that overlap from left to right share one.
fn columns(job: &Job, layout: &Layout) -> Vec<Vec<String>> {
    let mut devices: Vec<((i32, i32, i32), String)> = layout
        .devices
        .iter()
        .map(|placed| job.device(placed.figure.device).name.to_string())
        .map(|name| (stands(job, layout, &name), name))
        .collect();
    devices.sort();
    let mut columns: Vec<(i32, Vec<(i32, String)>)> = Vec::new();
    for ((left, right, top), name) in devices {
        match columns.last_mut() {
            Some((reach, column)) if left < *reach => {
                *reach = (*reach).max(right);
                column.push((top, name));
            }
            _ => columns.push((right, vec![(top, name)])),
        }
    }
    let sorted = columns.into_iter().map(|(_, mut column)| {
        column.sort();
        column.into_iter().map(|(_, name)| name).collect()
    });
    sorted.collect()
}

#[test]
fn a_device_stands_in_the_column_that_it_asks_for() {
    for column in 1..=3 {
        for device in ["H1", "S2", "F1"] {
            let job = job((device, &format!("{{column: {column}}}")));
            let layout = layout::lay_out(&job);
            assert_eq!(layout.unmet, Vec::<String>::new());
            let columns = columns(&job, &layout);
            assert!(columns[column - 1].contains(&device.to_owned()), "{device} {column}: {columns:?}");
        }
    }
}

#[test]
fn a_device_stands_beside_the_one_that_it_names() {
    for (device, other) in [("H2", "S1"), ("S2", "G1"), ("F1", "H1"), ("H1", "H2")] {
        let job = job((device, &format!("{{beside: {other}}}")));
        let layout = layout::lay_out(&job);
        assert_eq!(layout.unmet, Vec::<String>::new());
        let columns = columns(&job, &layout);
        let together = |column: &Vec<String>| {
            column
                .windows(2)
                .any(|pair| pair.contains(&device.to_owned()) && pair.contains(&other.to_owned()))
        };
        assert!(columns.iter().any(together), "{device} beside {other}: {columns:?}");
    }
}

#[test]
fn terminals_stand_on_the_side_that_they_ask_for() {
    let on = |hint: &str, terminal: &str| {
        let job = job(("K1", hint));
        let layout = layout::lay_out(&job);
        let landings = layout.devices.iter().flat_map(|placed| &placed.figure.landings);
        let sides = landings.filter(|l| job.label(l.terminal) == format!("K1:{terminal}")).map(|l| l.side);
        sides.collect::<Vec<Side>>()
    };
    for terminal in ["A1", "A2", "11", "14"] {
        assert!(on("{side: left}", terminal).iter().all(|side| *side == Side::Left));
        assert!(on("{side: right}", terminal).iter().all(|side| *side == Side::Right));
    }
    assert!(on("{side: {A1: right}}", "A1").iter().all(|side| *side == Side::Right));
    assert!(on("{side: {14: left}}", "14").iter().all(|side| *side == Side::Left));
}

/// What cannot be done is told.
#[test]
fn what_cannot_be_honoured_is_explained() {
    let told = |hint| {
        let job = job(hint);
        let circuit = Circuit::of(&job);
        drawing::draw(&job, &circuit, &[], None).remarks.join("\n")
    };
    let far = told(("H1", "{column: 40}"));
    assert!(far.contains("H1 asks for column 40 and stands in column"), "{far}");
    let apart = told(("K1", "{side: {11: left, 14: right}}"));
    assert!(apart.contains("asks for the other side and stays"), "{apart}");
}

#[test]
fn slips_in_hints_are_told_with_a_fix() {
    let faults = |hint: &str| {
        let text = format!(
            "job: {{title: x}}\ndevices:\n  K1: {{type: relay, volts: 12 V, amps: 40 mA, place: {hint}}}\n  H1: {{type: lamp}}\n  X1: {{type: splice}}\n"
        );
        let reading = read_text("job.yaml", &text);
        assert!(reading.job.is_none(), "{hint}");
        reading.findings.iter().map(|f| format!("{} {}", f.message, f.fix)).collect::<Vec<_>>().join("\n")
    };
    assert!(faults("{beside: H2}").contains("H1"));
    assert!(faults("{beside: K1}").contains("cannot stand beside itself"));
    assert!(faults("{column: 0}").contains("the first is 1"));
    assert!(faults("{column: two}").contains("is no column"));
    assert!(faults("{side: up}").contains("left"));
    assert!(
        faults("{side: {A3: left}}").contains("did you mean `A1`")
            || faults("{side: {A3: left}}").contains("A2")
    );
    assert!(faults("{side: [left]}").contains("is a word or a map"));
    assert!(faults("{besides: H1}").contains("beside"));
    assert!(faults("left").contains("place"));
}
