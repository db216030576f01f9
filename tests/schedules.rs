//! The schedules: columns, words, rows for every end, and what the table formats do to them.

use std::collections::BTreeMap;

use bellwire::circuit::Circuit;
use bellwire::drawing;
use bellwire::netlist::{self, Job};
use bellwire::output;
use bellwire::scene::{Role, Shape};
use bellwire::schedules::{
    Cell, Landing, Spot, Spots, Table, TerminalRow, cables, cables_table, markers, markers_table, parts,
    parts_table, supplies, supplies_table, terminals, terminals_table,
};
use proptest::prelude::*;

const ROOF_VENT: &str = include_str!("../examples/roof-vent.yaml");

fn job(text: &str) -> Job {
    let reading = netlist::read_text("job.yaml", text);
    let Some(job) = reading.job else { panic!("{:#?}", reading.findings) };
    job
}

fn rows(text: &str) -> Vec<TerminalRow> {
    let job = job(text);
    terminals(&job, &Circuit::of(&job), &Spots::default())
}

fn row<'a>(rows: &'a [TerminalRow], place: &str) -> &'a TerminalRow {
    let mut found = rows.iter().filter(|row| row.place() == place);
    let row = found.next().unwrap_or_else(|| panic!("no row {place}"));
    assert!(found.next().is_none(), "more than one row {place}");
    row
}

#[test]
fn the_roof_vent_terminals() {
    let rows = rows(ROOF_VENT);
    let told: Vec<String> = rows
        .iter()
        .map(|r| {
            format!("{}|{}|{}|{}|{}|{}", r.place(), r.function, r.colour_code, r.cable, r.to, r.state.word())
        })
        .collect();
    let expected = "\
G1:V+|supply +|RD|W1|F1:1|joined
G1:V-|supply 0 V|BK|W1|X1|joined
F1:1|fuse, supply side|RD|W1|G1:V+|joined
F1:2|fuse, load side|RD|W4|K1:+V|joined
X1|0 V|BK|W1|G1:V-|joined
X1|0 V|BK|W5|K1:0V|joined
X1|0 V|BK|W2|B1:NO|joined
K1:+V|module supply +|RD|W4|F1:2|joined
K1:0V|module 0 V|BK|W5|X1|joined
K1:IN1|input 1, on at 0 V|RD|W2|B1:COM|joined
K1:IN2|input 2, on at 0 V||||taped
K1:COM1|output 1, common|RD|W3|A1:3|joined
K1:NO1|output 1, make|BK|W3|A1:4|joined
K1:COM2|output 2, common||||taped
K1:NO2|output 2, make||||taped
K1:ANT|aerial||||left whole
B1:COM|switch common|RD|W2|K1:IN1|joined
B1:NO|switch make|BK|W2|X1|joined
B1:NC|switch break||||empty
A1:1|board +||||existing
A1:2|board -||||existing
A1:3|START, volt-free|RD|W3|K1:COM1|joined
A1:4|START, volt-free|BK|W3|K1:NO1|joined
W2 blue|spare, both ends|BU|W2|taped|taped
W2 white|spare, both ends|WH|W2|taped|taped";
    assert_eq!(told.join("\n"), expected);
}

#[test]
fn conductors_are_named_after_poles_then_fuses_then_their_first_terminal() {
    let rows = rows(ROOF_VENT);
    for (place, net) in [
        ("G1:V+", "12 V (G1)"),
        ("F1:1", "12 V (G1)"),
        ("F1:2", "12 V (F1)"),
        ("K1:+V", "12 V (F1)"),
        ("B1:NO", "0 V (G1)"),
        ("B1:COM", "K1:IN1"),
        ("A1:3", "K1:COM1"),
        ("K1:IN2", ""),
    ] {
        assert_eq!(row(&rows, place).net, net, "{place}");
    }
}

#[test]
fn two_supplies_with_one_return_share_its_first_name() {
    let rows = rows(include_str!("../examples/two-supplies.yaml"));
    for place in ["G1:V-", "G2:V-", "A1:0V", "K1:0V"] {
        assert_eq!(row(&rows, place).net, "0 V (G1)", "{place}");
    }
    assert_eq!(row(&rows, "G2:V+").net, "12 V (G2)");
    assert_eq!(row(&rows, "A1:24V").net, "24 V (F1)");
}

#[test]
fn sources_of_one_device_are_told_apart_and_series_takes_the_first_pole() {
    let rows = rows(
        "job: {title: t}
devices: {G1: {type: twin-supply}, H1: {type: lamp}, G2: {type: ac-supply, volts: 8 V}, Y1: {type: strike}}
cables:
  W1: {cores: {red: [G1.A+, H1.1], black: [G1.B-, H1.2], blue: [G1.A-, G1.B+]}}
  W2: {cores: {red: [G2.A, Y1.1], black: [G2.B, Y1.2]}}
data_sheets:
  twin-supply:
    terminals: [A+, A-, B+, B-]
    sources: {A: {plus: A+, minus: A-, volts: 12 V}, B: {plus: B+, minus: B-, volts: 5 V}}
",
    );
    assert_eq!(row(&rows, "H1:1").net, "12 V (G1.A)");
    assert_eq!(row(&rows, "H1:2").net, "0 V (G1.B)");
    assert_eq!(row(&rows, "G1:A-").net, "0 V (G1.A)");
    assert_eq!(row(&rows, "G1:A+").function, "supply + 12 V");
    assert_eq!(row(&rows, "Y1:1").net, "8 V AC, A (G2)");
    assert_eq!(row(&rows, "Y1:2").net, "8 V AC, B (G2)");
}

#[test]
fn functions_come_from_the_sections_where_no_label_says_them() {
    let rows = rows(
        "job: {title: t}
devices: {A1: {type: x}}
data_sheets:
  x:
    terminals: [V, M, I, Q, C, N, B, K1, K2, F, Z, P, S, E, T, J]
    loads: {BOARD: {plus: V, minus: M, volts: 12 V}}
    inputs: {IN: {at: I, common: M, active: high}}
    outputs: {OUT: {at: Q, common: M, drives: low}}
    contacts: {R: {common: C, no: N, nc: B}}
    coils: {L: {between: [K1, K2]}}
    fuses: {F: {between: [V, F]}}
    supervised: {ZONE: {at: Z, common: M, rest: 1k, alarm: open}}
    signal_pairs: {BUS: {a: P, b: S, kind: rs485}}
    earths: [E]
    bridges: [[M, J]]
",
    );
    for (place, function) in [
        ("A1:V", "BOARD +"),
        ("A1:M", "BOARD -"),
        ("A1:I", "IN, on at +"),
        ("A1:Q", "OUT, switches to 0 V"),
        ("A1:C", "R, common"),
        ("A1:N", "R, make"),
        ("A1:B", "R, break"),
        ("A1:K1", "L, coil"),
        ("A1:F", "F, fuse"),
        ("A1:Z", "ZONE, watched loop"),
        ("A1:P", "BUS, leg a"),
        ("A1:E", "earth"),
        ("A1:J", "joined inside to M"),
        ("A1:T", ""),
    ] {
        assert_eq!(row(&rows, place).function, function, "{place}");
    }
}

#[test]
fn every_terminal_has_a_row_and_every_core_end_one() {
    for text in [
        ROOF_VENT,
        include_str!("../examples/marshalling-box.yaml"),
        include_str!("../examples/mistakes.yaml"),
    ] {
        let job = job(text);
        let rows = terminals(&job, &Circuit::of(&job), &Spots::default());
        for (id, _) in job.terminal_ids() {
            assert!(rows.iter().any(|row| row.at == Some(id)), "no row for {}", job.label(id));
        }
        for (id, core) in job.core_ids() {
            let ends: Vec<usize> = rows
                .iter()
                .filter_map(|row| match row.landing {
                    Landing::Core(core, end) if core == id => Some(end),
                    _ => None,
                })
                .collect();
            let both = core.ends[0].to == core.ends[1].to;
            let mut sorted = ends.clone();
            sorted.sort_unstable();
            assert!(sorted == [0, 1] || (both && sorted == [0]), "{}: {ends:?}", job.core_label(id));
        }
    }
}

#[test]
fn loose_ends_say_how_they_were_left() {
    let rows = rows(include_str!("../examples/mistakes.yaml"));
    let white: Vec<(&str, &str)> = rows
        .iter()
        .filter(|row| row.place() == "W5 white")
        .map(|row| (row.function.as_str(), row.state.word()))
        .collect();
    assert_eq!(white, [("spare, near end", "taped"), ("spare, far end", "BARE")]);
    let loose = row(&rows, "W12 black");
    assert_eq!(
        (loose.to.as_str(), loose.state.word(), loose.marker.as_str()),
        ("H2:V-", "sleeved", "W12 BK")
    );
    assert_eq!(row(&rows, "W5 blue").state.word(), "BARE", "a core that the file does not mention");
    assert_eq!(row(&rows, "K1:COM2").state.word(), "BARE", "a flying lead that the file does not mention");
    assert_eq!(row(&rows, "B1:NO").state.word(), "empty", "a screw terminal");
}

#[test]
fn links_and_parts_across_have_rows_of_their_own() {
    let rows = rows(include_str!("../examples/door-strike.yaml"));
    let at = |place: &str| -> Vec<(String, &'static str)> {
        rows.iter().filter(|row| row.place() == place).map(|row| (row.to.clone(), row.state.word())).collect()
    };
    assert_eq!(at("X1:2"), [("B1:1".to_owned(), "joined"), ("X1:1".to_owned(), "linked")]);
    assert_eq!(at("Y1:1"), [("X1:3".to_owned(), "joined"), ("V1:K".to_owned(), "across")]);
}

#[test]
fn cables_say_what_to_pull() {
    let job = job(ROOF_VENT);
    let rows = cables(&job, &Circuit::of(&job), &Spots::default());
    let w2 = rows.iter().find(|row| row.cable == "W2").unwrap();
    assert_eq!((w2.from.as_str(), w2.to.as_str()), ("X1, K1 (Control box)", "B1 (Roof ridge)"));
    assert_eq!((w2.kind.as_str(), w2.cores, w2.spare), ("alarm-4x0.22", 4, 2));
    assert_eq!(w2.length.unwrap().0, 14.0);
    // 7/0.20: 1.137 × 1000 / (58 × 0.2199 mm²) = 89.1 Ω/km.
    assert!((w2.ohm_per_km.unwrap().0 - 89.1).abs() < 0.1);
}

const TWO_SIRENS: &str = "
job: {title: t}
devices:
  G1: {type: battery, volts: 12 V, ah: 7 Ah}
  F1: {type: fuse, amps: 2 A}
  S1: {type: key-switch}
  S2: {type: key-switch}
  X1: {type: splice}
  H1: {type: siren, volts: 12 V, amps: 0.5 A}
  H2: {type: siren, volts: 12 V, amps: 0.2 A}
cables:
  W1: {type: single-0.75, length: 0.1 m, cores: {red: [G1.V+, F1.1]}}
  W2: {type: single-0.75, length: 0.1 m, cores: {red: [F1.2, X1]}}
  W3: {cores: {red: [X1, S1.13], brown: [S1.14, H1.V+], black: [G1.V-, H1.V-]}, type: cord, length: 10 m}
  W4: {cores: {red: [X1, S2.13], brown: [S2.14, H2.V+], black: [G1.V-, H2.V-]}, type: cord}
cable_data:
  cord: {cores: [red, brown, black], ohm_per_km: 26}
";

/// By hand: 0.5 A over 10 m of 26 Ω/km lose 0.13 V there and 0.13 V back.
#[test]
fn cables_say_their_worst_amps_and_drop() {
    let job = job(TWO_SIRENS);
    let rows = cables(&job, &Circuit::of(&job), &Spots::default());
    let row = |name: &str| rows.iter().find(|row| row.cable == name).unwrap();
    assert!((row("W1").amps.unwrap().0 - 0.7).abs() < 1e-5);
    assert_eq!(row("W1").amps_state, "with S1 operated and S2 operated");
    assert!((row("W3").amps.unwrap().0 - 0.5).abs() < 1e-5);
    assert_eq!(row("W3").amps_state, "with S1 operated");
    assert!((row("W3").drop.unwrap().0 - 0.26).abs() < 1e-5);
    assert_eq!(row("W3").drop_state, "with S1 operated");
    assert!((row("W4").amps.unwrap().0 - 0.2).abs() < 1e-5);
    assert_eq!(row("W4").drop, None, "its length is not stated");
}

/// The outgoing core is at its worst in one state, the return core, which two loads share, in another.
#[test]
fn each_core_of_a_drop_is_in_its_own_worst_state() {
    let job = job("
job: {title: t}
devices:
  G1: {type: dc-supply, volts: 12 V, amps: 2 A}
  G2: {type: dc-supply, volts: 12 V, amps: 2 A}
  S1: {type: toggle-switch}
  S2: {type: toggle-switch}
  X1: {type: splice}
  X2: {type: splice}
  H1: {type: siren, volts: 12 V, amps: 0.5 A}
  H2: {type: siren, volts: 12 V, amps: 1 A}
cables:
  W1: {type: single-0.75, length: 1 m, cores: {red: [G1.V+, S1.13]}}
  W2: {type: cord, length: 10 m, cores: {red: [S1.14, H1.V+], black: [X1, X2]}}
  W3: {type: single-0.75, length: 1 m, cores: {red: [G2.V+, S2.13]}}
  W4: {type: single-0.75, length: 1 m, cores: {red: [S2.14, H2.V+]}}
  W5: {type: single-0.75, length: 1 m, cores: {black: [H1.V-, X2]}}
  W6: {type: single-0.75, length: 1 m, cores: {black: [H2.V-, X2]}}
  W7: {type: single-0.75, length: 1 m, cores: {black: [G1.V-, X1]}}
  W8: {type: single-0.75, length: 1 m, cores: {black: [G2.V-, X1]}}
cable_data:
  cord: {cores: [red, black], ohm_per_km: 50}
");
    let rows = cables(&job, &Circuit::of(&job), &Spots::default());
    let row = rows.iter().find(|row| row.cable == "W2").unwrap();
    // 10 m of 50 Ω/km are 0.5 Ω: 0.25 V there, 0.75 V back.
    assert!((row.drop.unwrap().0 - 1.0).abs() < 1e-5, "{row:?}");
    assert_eq!(row.drop_state, "with S1 operated; with S1 operated and S2 operated");
}

/// By hand: 0.7 A of the battery's 7 Ah last 10 hours.
#[test]
fn supplies_say_what_draws_on_them() {
    let job = job(TWO_SIRENS);
    let rows = supplies(&job, &Circuit::of(&job));
    assert_eq!(rows.len(), 1);
    let row = &rows[0];
    assert_eq!((row.source.as_str(), row.state.as_str()), ("G1", "with S1 operated and S2 operated"));
    assert_eq!(row.loads, "H1 0.5 A, H2 0.2 A");
    assert!((row.worst.unwrap().0 - 0.7).abs() < 1e-5);
    assert!((row.hours.unwrap() - 10.0).abs() < 1e-4);
    let csv = output::csv(&supplies_table(&rows));
    assert_eq!(csv.lines().next().unwrap(), "source,volts,amps_rated,amps_worst,percent,state,loads,hours");
}

#[test]
fn a_supply_says_its_share_and_nothing_that_it_does_not_know() {
    let known = job("
job: {title: t}
devices:
  G1: {type: dc-supply, volts: 12 V, amps: 2 A}
  H1: {type: siren, volts: 12 V, amps: 0.5 A}
cables:
  W1: {type: twin-0.75, length: 1 m, cores: {red: [G1.V+, H1.V+], black: [G1.V-, H1.V-]}}
");
    let row = &supplies_table(&supplies(&known, &Circuit::of(&known))).rows[0];
    assert!(matches!(row[4], Cell::Number(share) if (share - 25.0).abs() < 1e-3));
    assert_eq!(row[5], Cell::Text("at rest".to_owned()));
    let unknown = job("
job: {title: t}
devices:
  G1: {type: dc-supply, volts: 12 V, amps: 2 A}
  H1: {type: siren, volts: 12 V}
cables:
  W1: {type: twin-0.75, length: 1 m, cores: {red: [G1.V+, H1.V+], black: [G1.V-, H1.V-]}}
");
    let row = &supplies_table(&supplies(&unknown, &Circuit::of(&unknown))).rows[0];
    assert_eq!((&row[3], &row[4]), (&Cell::Blank, &Cell::Blank));
}

#[test]
fn sheet_and_zone_come_from_the_lookup() {
    let job = job(ROOF_VENT);
    let k1 = job.device_ids().find(|(_, device)| device.name == "K1").unwrap().0;
    let spots = Spots { of: BTreeMap::from([(k1.into(), Spot { sheet: 1, zone: "B3".to_owned() })]) };
    let table = terminals_table(&terminals(&job, &Circuit::of(&job), &spots));
    let with: Vec<&Vec<Cell>> = table.rows.iter().filter(|row| row[10] == Cell::Number(1.0)).collect();
    assert_eq!(with.len(), 9, "the nine terminals of K1");
    assert!(with.iter().all(|row| row[11] == Cell::Text("B3".to_owned())));
}

#[test]
fn the_columns_keep_their_names() {
    let job = job(ROOF_VENT);
    let terminals = terminals_table(&terminals(&job, &Circuit::of(&job), &Spots::default()));
    let cables = cables_table(&cables(&job, &Circuit::of(&job), &Spots::default()));
    let names = |table: &Table| output::csv(table).lines().next().unwrap().to_owned();
    assert_eq!(
        names(&terminals),
        "device,terminal,function,core,colour_code,cable,to,net,marker,state,sheet,zone"
    );
    assert_eq!(names(&cables), "cable,type,length_m,from,to,cores,spare,amps,drop_v,ohm_per_km,sheet,zone");
    let first = &serde_json::from_str::<serde_json::Value>(&output::json(&cables)).unwrap()[0];
    assert_eq!(first["length_m"], 0.5);
    assert_eq!(first["cores"], 2);
    // The relay module draws 60 mA.
    assert!((first["amps"].as_f64().unwrap() - 0.06).abs() < 1e-5);
}

#[test]
fn csv_guards_formulas_in_text_and_never_in_figures() {
    let table = table(&[&["+V", "=A1", "-", "@x", "'+V", "'plain", "a,b", "c\"d", "e\nf", "±5"]], Some(-1.5));
    let text = output::csv(&table);
    let line = text.lines().nth(1).unwrap();
    assert!(line.starts_with("'+V,'=A1,'-,'@x,''+V,'plain,\"a,b\",\"c\"\"d\",\"e"), "{line}");
    assert!(text.ends_with(",±5,-1.5\r\n"), "{text}");
    assert_eq!(
        output::rows(&text).unwrap()[1][..10],
        ["+V", "=A1", "-", "@x", "'+V", "'plain", "a,b", "c\"d", "e\nf", "±5"]
    );
}

#[test]
fn markdown_keeps_its_cells_apart() {
    let text = output::markdown(&table(&[&["a|b", "c\nd", "*e*", "", "", "", "", "", "", ""]], None));
    let line = text.lines().nth(2).unwrap();
    assert!(line.starts_with("| a\\|b | c d | \\*e\\* |"), "{line}");
}

#[test]
fn the_plain_table_leaves_empty_columns_out() {
    let text = output::text(&table(&[&["K1", "", "x", "", "", "", "", "", "", ""]], None));
    assert_eq!(text, "Device  Function\nK1      x\n");
}

/// A table with the columns of the terminal schedule: ten texts, a figure and an empty zone.
fn table(rows: &[&[&str]], figure: Option<f64>) -> Table {
    let columns = terminals_table(&[]).columns;
    let rows = rows.iter().map(|row| {
        let mut cells: Vec<Cell> = row.iter().map(|text| Cell::Text((*text).to_owned())).collect();
        cells.push(figure.map_or(Cell::Blank, Cell::Number));
        cells
    });
    Table { columns: &columns[..11], rows: rows.collect() }
}

proptest! {
    #[test]
    fn any_text_comes_back_from_csv(texts in proptest::collection::vec("['=+\\-@a,\"\r\n é]{0,6}", 10)) {
        let texts: Vec<&str> = texts.iter().map(String::as_str).collect();
        let back = output::rows(&output::csv(&table(&[&texts], None))).unwrap();
        prop_assert_eq!(&back[1][..10], &texts[..]);
    }
}

/// By hand: W2 alone is alarm cable, 14 m and 10 % are 15.4 m; W4 and W5 are ordered by their colour.
#[test]
fn the_roof_vent_parts() {
    let job = job(ROOF_VENT);
    let told: Vec<String> =
        parts(&job).iter().map(|row| format!("{}|{}|{}", row.description, row.quantity, row.unit)).collect();
    let expected = "\
DC supply, 12 V, 1 A|1|pcs
fuse, 1 A|1|pcs
splice, 3 conductors|1|pcs
relay and input module, 10–28 V, 60 mA, contacts 5 A|1|pcs
limit switch, contact 5 A|1|pcs
vent drive board, 20–28 V, 0.5 A|1|pcs
cable twin-0.75|0.6|m
cable single-0.75, red|0.3|m
cable single-0.75, black|0.3|m
cable alarm-4x0.22|15.4|m
cable twin-0.5|3.3|m
ferrule 0.25 mm², colour by maker, 8 mm|2|pcs
ferrule 0.5 mm², white, 8 mm|2|pcs
ferrule 0.75 mm², grey, 8 mm|4|pcs
in-line joint, core to flying lead|5|pcs";
    assert_eq!(told.join("\n"), expected);
    let table = parts_table(&parts(&job));
    let names: Vec<&str> = table.columns.iter().map(|column| column.name).collect();
    assert_eq!(names, ["description", "part_number", "quantity", "unit", "note"]);
}

/// Jumpers of a strip and links of wire are ordered too; what lies `across` is a device. A type by gauge stands in the
/// list as it is sold.
#[test]
fn jumpers_and_cable_by_gauge_are_ordered() {
    let job = job("job: {title: Rail}\n\
        devices:\n\
        \x20 G1: {type: dc-supply, volts: 24 V, amps: 2 A}\n\
        \x20 X1: {type: terminal-strip, ways: 4}\n\
        \x20 K1: {type: relay, volts: 24 V, amps: 40 mA}\n\
        \x20 V1: {type: diode, across: [K1.A1, K1.A2]}\n\
        cables:\n\
        \x20 W1: {type: single-18AWG, length: 2 m, cores: {red: [G1.V+, X1.1]}}\n\
        \x20 W2: {type: twin-14 awg, length: 2 m, cores: {red: [X1.2, K1.A1], black: [G1.V-, K1.A2]}}\n\
        links: [[X1.1, X1.2], [X1.2, X1.3], [X1.3, K1.11]]\n");
    let told: Vec<String> = parts(&job)
        .iter()
        .filter(|row| !row.note.starts_with("cuts"))
        .skip(4)
        .map(|row| {
            format!("{}|{}|{}", row.description, row.quantity, row.note.split("; DIN").next().unwrap())
        })
        .collect();
    let expected = "\
jumper, two ways of a terminal strip|2|X1:1 to X1:2, X1:2 to X1:3
link of wire|1|X1:3 to K1:11; none where a part's own tail reaches
ferrule 1 mm², red, 8 mm|2|for 18 AWG
ferrule 2.5 mm², blue, 8 mm|4|for 14 AWG";
    assert_eq!(told.join("\n"), expected);
    let ohms: Vec<f64> = cables(&job, &Circuit::of(&job), &Spots::default())
        .iter()
        .map(|row| row.ohm_per_km.unwrap().0)
        .collect();
    // 18 AWG 20.95 and 14 AWG 8.286 Ω/km as handbooks print them.
    assert!((ohms[0] / 20.95 - 1.0).abs() < 0.002 && (ohms[1] / 8.286 - 1.0).abs() < 0.002, "{ohms:?}");
}

/// A narrow table does not leave most of each page empty: its columns stand side by side under one heading.
#[test]
fn markers_stand_side_by_side_on_paper() {
    let job = job(include_str!("../examples/marshalling-box.yaml"));
    let table = markers_table(&markers(&job));
    let titled = drawing::Titled { kind: "Wire markers", table: &table };
    let sheets = drawing::table_sheets(&job, &Circuit::of(&job), &[], &[titled]);
    let first = &sheets[0];
    let groups = first.content.iter().filter(|group| group.role == Role::Table("document"));
    let texts: Vec<&str> = groups
        .flat_map(|group| group.shapes())
        .filter_map(|shape| if let Shape::Text(text) = shape { Some(text.text.as_str()) } else { None })
        .collect();
    let count = |word: &str| texts.iter().filter(|text| **text == word).count();
    assert_eq!(count("Wire markers"), 1);
    assert!(count("Core") > 1, "{}", count("Core"));
    assert!(sheets.len() * 50 <= table.rows.len(), "{} sheets for {} rows", sheets.len(), table.rows.len());
}

#[test]
fn a_marker_for_every_core_end() {
    let job = job(ROOF_VENT);
    let rows = markers(&job);
    assert_eq!(rows.len(), 2 * job.cores.len());
    let text = |cable: &str, core: &str, end: &str| {
        let row = rows.iter().find(|row| row.cable == cable && row.core == core && row.end == end).unwrap();
        (row.device.as_str(), row.terminal.as_str(), row.text.as_str())
    };
    assert_eq!(text("W4", "red", "far"), ("K1", "+V", "K1:+V"));
    assert_eq!(text("W5", "black", "near"), ("X1", "", "X1"));
    assert_eq!(text("W2", "blue", "far"), ("", "", "W2 BU"));
    let csv = output::csv(&markers_table(&rows));
    assert!(csv.contains("W4,red,far,K1,'+V,K1:+V\r\n"), "{csv}");
}

/// A relay is ordered by what its contacts carry, and a cable without a type by its size; the drain is no core of it.
#[test]
fn parts_say_all_that_is_stated() {
    let job = job("
job: {title: Winch}
devices:
  K1: {type: relay-2-pole, volts: 12 V, amps: 150 mA, contacts: {P1: {amps: 30 A}, P2: {amps: 30 A}}}
  X1: {type: splice}
cables:
  W1: {cores: {1: [X1, K1.A1], 2: taped}, area: 0.75 mm²}
  W2: {type: screened-4x0.22, cores: {red: taped, black: taped, blue: taped, white: taped, drain: taped}}
");
    let rows = parts(&job);
    let has = |words: &str| rows.iter().any(|row| row.description == words);
    assert!(has("relay, two poles, 12 V, 0.15 A, contacts 30 A"), "{rows:#?}");
    assert!(has("splice, 1 conductor"), "{rows:#?}");
    assert!(has("cable with cores 1, 2, 2 × 0.75 mm²"), "{rows:#?}");
    assert_eq!(job.cables[1].make_up().as_deref(), Some("4 × 0.22 mm², screened"));
    let text = output::text(&parts_table(&rows));
    assert!(text.lines().next().unwrap().contains("Part number"), "{text}");
}

/// What each is called by hand on the job is no matter for the order: the data sheet's name is.
#[test]
fn parts_bear_the_name_of_their_data_sheet() {
    let job = job("
job: {title: Hut}
devices:
  H1: {type: lead-lamp, name: bunk}
  H2: {type: lead-lamp, name: table}
  K1: {type: plain-box}
data_sheets:
  lead-lamp: {name: LED lamp with leads, terminals: [+, 0], loads: {L: {plus: +, minus: 0, volts: 12 V, amps: 0.3 A}}}
  plain-box: {terminals: [1, 2]}
");
    let rows: Vec<(String, f64)> =
        parts(&job).into_iter().map(|row| (row.description, row.quantity)).collect();
    let expected = [("LED lamp with leads, 12 V, 0.3 A".to_owned(), 2.0), ("plain box".to_owned(), 1.0)];
    assert_eq!(rows, expected);
}

/// What draws on a supply is told in one unit.
#[test]
fn small_loads_of_a_supply_are_told_in_amps_too() {
    let job = job("
job: {title: t}
devices:
  G1: {type: dc-supply, volts: 12 V, amps: 2 A}
  H1: {type: indicator, volts: 12 V, amps: 20 mA}
cables:
  W1: {type: twin-0.75, cores: {red: [G1.V+, H1.V+], black: [G1.V-, H1.V-]}}
");
    assert_eq!(supplies(&job, &Circuit::of(&job))[0].loads, "H1 0.02 A");
}

/// A 4–20 mA loop counts with its largest current, 21 mA (NAMUR NE 43), by hand: 21 mA through 100 m of 1 mm² (IEC 60228:
/// 19.5 Ω/km) there and back lose 0.0819 V.
#[test]
fn a_current_loop_counts() {
    let text = include_str!("loop.yaml").replace("length: 10 m", "length: 100 m");
    let job = job(&text);
    let circuit = Circuit::of(&job);
    let cables = cables(&job, &circuit, &Spots::default());
    for row in &cables {
        assert!((row.amps.unwrap().0 - 0.021).abs() < 1e-5, "{row:?}");
    }
    assert!((cables[0].drop.unwrap().0 - 0.021 * 2.0 * 0.1 * 19.5).abs() < 1e-4, "{:?}", cables[0]);
    let supplies = supplies(&job, &circuit);
    assert!((supplies[0].worst.unwrap().0 - 0.021).abs() < 1e-5, "{supplies:?}");
    assert_eq!(supplies[0].loads, "B1 0.021 A");
    // Of an input that does not say its ohms the current cannot be worked out: empty, not nothing.
    let job = self::job(&text.replace(", ohms: 250", ""));
    let circuit = Circuit::of(&job);
    assert!(self::cables(&job, &circuit, &Spots::default()).iter().all(|row| row.amps.is_none()));
    assert!(self::supplies(&job, &circuit)[0].worst.is_none());
}
