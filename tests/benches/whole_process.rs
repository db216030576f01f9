//! Times the program as its user meets it: from the start of the process to its end.
//!
//! `cargo bench` builds the program for release and prints the medians of 20 runs as the rows of `docs/benchmarks.md`.
//! Nothing here fails for being slow: a timed test on a shared machine says little.

#![expect(clippy::print_stdout, reason = "this is what a benchmark is for")]

mod process;

use std::fmt::Write as _;
use std::path::PathBuf;
use std::time::Duration;
use std::{env, fs, io};

use process::run;

const RUNS: usize = 20;

/// A job of ten devices: three lamps and a reed contact behind a fuse and a strip, each lamp with its own switch.
fn ten_devices() -> String {
    let mut text = String::from(
        "job: {title: Ten devices}\ndevices:\n  G1: {type: dc-supply, volts: 24 V, amps: 3 A, location: Panel}\n  \
         F1: {type: fuse, amps: 2 A, location: Panel}\n  X1: {type: terminal-strip, ways: 10, location: Panel}\n",
    );
    for n in 1..=3 {
        let _ = writeln!(text, "  S{n}: {{type: limit-switch, location: Line}}");
        let _ = writeln!(text, "  H{n}: {{type: lamp, volts: 24 V, watts: 5 W, location: Line}}");
    }
    text.push_str("  B1: {type: reed-contact, location: Line}\ncables:\n");
    text.push_str(
        "  W1: {type: twin-0.75, length: 0.4 m, cores: {red: [G1.V+, F1.1], black: [G1.V-, X1.5]}}\n",
    );
    text.push_str("  W2: {type: single-0.75, length: 0.2 m, cores: {red: [F1.2, X1.1]}}\n");
    for n in 1..=3 {
        let (plus, minus) = (n + 1, n + 5);
        let _ =
            write!(text, "  W1{n}: {{type: alarm-4x0.22, length: 9 m, cores: {{red: [X1.{plus}, S{n}.COM], ");
        let _ = writeln!(text, "black: [X1.{minus}, H{n}.2], blue: taped, white: taped}}}}");
        let _ =
            writeln!(text, "  W2{n}: {{type: single-0.5, length: 1 m, cores: {{red: [S{n}.NO, H{n}.1]}}}}");
    }
    text.push_str("  W30: {type: twin-0.5, length: 4 m, cores: {red: [X1.9, B1.1], black: [X1.10, B1.2]}}\n");
    text.push_str(
        "links: [[X1.1, X1.2], [X1.2, X1.3], [X1.3, X1.4], [X1.5, X1.6], [X1.6, X1.7], [X1.7, X1.8]]\n",
    );
    text
}

fn main() -> io::Result<()> {
    let folder = env::temp_dir().join(format!("bellwire-bench-{}", std::process::id()));
    fs::create_dir_all(&folder)?;
    let ten = folder.join("ten.yaml");
    fs::write(&ten, ten_devices())?;
    let large = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("examples/marshalling-box.yaml");
    let path = |name: &str| folder.join(name).display().to_string();
    let (ten, large) = (ten.display().to_string(), large.display().to_string());
    let (svg, png) = (path("out.svg"), path("out.png"));
    let cases: [(&str, &str, Vec<&str>); 5] = [
        ("`check`, ten devices", "20 ms", vec!["check", &ten]),
        ("`draw` to SVG, ten devices", "50 ms", vec!["draw", &ten, "-o", &svg]),
        ("`draw` to PNG at 150 dpi, ten devices", "500 ms", vec!["draw", &ten, "-o", &png]),
        ("`check`, the marshalling box", "", vec!["check", &large]),
        ("`draw` to SVG, the marshalling box", "", vec!["draw", &large, "-o", &svg]),
    ];
    println!("| what | aim | median | fastest | slowest |\n|---|---|---|---|---|");
    for (name, aim, arguments) in &cases {
        run(arguments)?;
        let mut times = (0..RUNS).map(|_| run(arguments)).collect::<io::Result<Vec<Duration>>>()?;
        times.sort();
        let ms = |time: Option<&Duration>| time.map_or(f64::NAN, |t| t.as_secs_f64() * 1000.0);
        let middle = f64::midpoint(ms(times.get(RUNS / 2 - 1)), ms(times.get(RUNS / 2)));
        println!(
            "| {name} | {aim} | {middle:.1} ms | {:.1} ms | {:.1} ms |",
            ms(times.first()),
            ms(times.last())
        );
    }
    fs::remove_dir_all(&folder)
}
