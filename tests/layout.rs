//! Layouts hold what a drawing promises: nothing meets what it should not, everything is there, and what is not touched
//! keeps its order.

#[path = "layout/faults.rs"]
mod faults;

use bellwire::layout::{self, Layout, Options};
use bellwire::netlist::{self, Job};

fn job(text: &str) -> Job {
    let reading = netlist::read_text("job.yaml", text);
    reading.job.unwrap_or_else(|| panic!("{:?}", reading.findings))
}

fn laid_out(job: &Job) -> Layout {
    layout::lay_out(job, &Options::default())
}

fn clean(text: &str) -> Layout {
    let job = job(text);
    let layout = laid_out(&job);
    let faults = faults::faults(&job, &layout);
    assert!(faults.is_empty(), "{faults:#?}");
    layout
}

#[test]
fn a_supply_and_a_lamp_are_joined_by_straight_cores() {
    let layout = clean(
        "job: {title: lamp}\n\
         devices:\n\
         \x20 G1: {type: dc-supply, volts: 12 V}\n\
         \x20 H1: {type: siren}\n\
         cables:\n\
         \x20 W1: {type: twin-0.5, length: 2 m, cores: {red: [G1.V+, H1.V+], black: [G1.V-, H1.V-]}}\n",
    );
    let figures = faults::figures(&layout);
    assert_eq!((figures.crossings, figures.bends, figures.wires), (0, 0, 2));
}
