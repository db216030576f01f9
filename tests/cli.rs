//! The program as it is called: statuses, what goes to standard output, and files that are left alone.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may stop at what it did not expect")]

use std::fs;
use std::path::Path;
use std::process::{Command as Plain, Output, Stdio};

use assert_cmd::Command;
use serde_json::Value;
use tempfile::TempDir;

/// A job without a fault.
const SOUND: &str = "\
job: {title: Siren}
devices:
  G1: {type: dc-supply, volts: 12 V, amps: 1 A}
  H1: {type: siren, volts: 12 V, amps: 0.1 A}
cables:
  W1: {type: twin-0.75, length: 1 m, cores: {red: [G1.V+, H1.V+], black: [G1.V-, H1.V-]}}
";

/// The same with an idle device: a warning.
const IDLE: &str = "\
job: {title: Siren}
devices:
  G1: {type: dc-supply, volts: 12 V, amps: 1 A}
  H1: {type: siren, volts: 12 V, amps: 0.1 A}
  H2: {type: strobe, volts: 12 V, amps: 0.1 A}
cables:
  W1: {type: twin-0.75, length: 1 m, cores: {red: [G1.V+, H1.V+], black: [G1.V-, H1.V-]}}
";

/// The same with a spare core that hangs loose: an error.
const LOOSE: &str = "\
job: {title: Siren}
devices:
  G1: {type: dc-supply, volts: 12 V, amps: 1 A}
  H1: {type: siren, volts: 12 V, amps: 0.1 A}
cables:
  W1: {type: alarm-4x0.22, length: 1 m, cores: {red: [G1.V+, H1.V+], black: [G1.V-, H1.V-], white: taped, blue: bare}}
";

/// A file that cannot be used: two faults.
const BROKEN: &str = "\
job: {title: Siren}
devices:
  G1: {type: dc-supply, volts: twelve, amps: 1 A}
  H1: {type: sirn, volts: 12 V, amps: 0.1 A}
";

fn folder(files: &[(&str, &str)]) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    for (name, text) in files {
        fs::write(folder.path().join(name), text).unwrap();
    }
    folder
}

fn run(folder: &Path, args: &[&str]) -> Output {
    Command::cargo_bin("bellwire").unwrap().current_dir(folder).args(args).output().unwrap()
}

fn status(folder: &TempDir, args: &[&str]) -> i32 {
    run(folder.path(), args).status.code().unwrap()
}

fn text(bytes: &[u8]) -> &str {
    std::str::from_utf8(bytes).unwrap()
}

fn json(folder: &TempDir, args: &[&str]) -> Vec<Value> {
    let output = run(folder.path(), args);
    serde_json::from_slice(&output.stdout).unwrap()
}

#[test]
fn check_ends_with_the_status_of_what_it_found() {
    let at =
        folder(&[("sound.yaml", SOUND), ("idle.yaml", IDLE), ("loose.yaml", LOOSE), ("broken.yaml", BROKEN)]);
    assert_eq!(status(&at, &["check", "sound.yaml"]), 0);
    assert_eq!(status(&at, &["check", "sound.yaml", "--strict"]), 0);
    assert_eq!(status(&at, &["check", "idle.yaml"]), 0);
    assert_eq!(status(&at, &["check", "idle.yaml", "--strict"]), 1);
    assert_eq!(status(&at, &["check", "loose.yaml"]), 1);
    assert_eq!(status(&at, &["check", "broken.yaml"]), 2);
    assert_eq!(status(&at, &["check", "absent.yaml"]), 2);
    assert_eq!(status(&at, &["check", "."]), 2);
    assert_eq!(status(&at, &["check"]), 2);
    assert_eq!(status(&at, &["check", "sound.yaml", "--format", "pictures"]), 2);
}

#[test]
fn an_accepted_finding_does_not_count() {
    let accepted =
        format!("{LOOSE}accepted: [{{rule: unterminated-core, at: W1.blue, because: fitted tomorrow}}]\n");
    let at = folder(&[("job.yaml", &accepted)]);
    assert_eq!(status(&at, &["check", "job.yaml", "--strict"]), 0);
    let findings = json(&at, &["check", "job.yaml", "--format", "json"]);
    let of = |rule: &str| findings.iter().find(|f| f["rule"] == rule).cloned().unwrap();
    assert_eq!(of("unterminated-core")["accepted"], "fitted tomorrow");
    assert!(text(&run(at.path(), &["check", "job.yaml"]).stdout).contains("because: fitted tomorrow"));
}

#[test]
fn json_is_one_array_and_nothing_else() {
    let at = folder(&[("loose.yaml", LOOSE), ("sound.yaml", SOUND)]);
    let output = run(at.path(), &["check", "loose.yaml", "--format", "json"]);
    assert!(output.stderr.is_empty(), "{}", text(&output.stderr));
    let findings: Vec<Value> = serde_json::from_slice(&output.stdout).unwrap();
    let finding = findings.iter().find(|f| f["rule"] == "unterminated-core").unwrap();
    let keys: Vec<&String> = finding.as_object().unwrap().keys().collect();
    assert_eq!(keys, ["rule", "severity", "message", "fix", "accepted", "state", "places"]);
    assert_eq!(finding["severity"], "error");
    assert_eq!(finding["accepted"], Value::Null);
    assert_eq!(finding["state"], Value::Null);
    let place = &finding["places"][0];
    assert_eq!(place["file"], "loose.yaml");
    assert_eq!(place["path"], "cables.W1.cores.blue");
    assert_eq!(place["line"], 6);
    assert_eq!(place["column"], 1 + LOOSE.lines().nth(5).unwrap().find("bare").unwrap());
    assert!(json(&at, &["check", "sound.yaml", "--format", "json"]).iter().all(|f| f["severity"] == "note"));
}

#[test]
fn a_file_that_cannot_be_used_is_told_in_json_too() {
    let at = folder(&[("broken.yaml", BROKEN)]);
    let findings = json(&at, &["check", "broken.yaml", "--format", "json"]);
    assert_eq!(findings.len(), 2, "{findings:#?}");
    assert!(findings.iter().all(|f| f["rule"] == "unreadable" && f["severity"] == "error"));
    let lines: Vec<&Value> = findings.iter().map(|f| &f["places"][0]["line"]).collect();
    assert_eq!(lines, [3, 4]);
    let findings = json(&at, &["check", "absent.yaml", "--format", "json"]);
    assert_eq!(findings.len(), 1);
    assert_eq!(findings[0]["rule"], "unreadable");
}

#[test]
fn people_get_the_line_a_caret_and_a_count() {
    let at = folder(&[("loose.yaml", LOOSE)]);
    let output = run(at.path(), &["check", "loose.yaml"]);
    let shown = text(&output.stdout);
    assert!(shown.contains("error[unterminated-core]: W1 blue is left bare at both ends"), "{shown}");
    assert!(shown.contains("--> loose.yaml:6:"), "{shown}");
    assert!(shown.contains("^^^^"), "{shown}");
    assert!(shown.contains("= fix: "), "{shown}");
    assert!(shown.lines().last().unwrap().starts_with("loose.yaml: 1 error"), "{shown}");
    assert!(!shown.contains('\u{1b}'), "colours belong on a terminal only");
}

#[test]
fn standard_input_is_a_job_file() {
    let mut command = Command::cargo_bin("bellwire").unwrap();
    let output = command.args(["check", "-", "--format", "json"]).write_stdin(LOOSE).output().unwrap();
    assert_eq!(output.status.code(), Some(1));
    let findings: Vec<Value> = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(findings[0]["places"][0]["file"], "-");
}

#[test]
fn company_files_are_read_beside_the_job_and_nowhere_else() {
    let ours = "data_sheets: {hooter: {terminals: [1, 2], loads: {L: {plus: 1, minus: 2, volts: 12 V, amps: 0.1 A}}}}\n";
    let job = |used: &str| {
        format!(
            "use: [{used}]\n{}",
            SOUND.replace("type: siren", "type: hooter").replace("H1.V+", "H1.1").replace("H1.V-", "H1.2")
        )
    };
    let at = folder(&[]);
    fs::create_dir_all(at.path().join("jobs/parts")).unwrap();
    fs::write(at.path().join("ours.yaml"), ours).unwrap();
    fs::write(at.path().join("jobs/parts/ours.yaml"), ours).unwrap();
    fs::write(at.path().join("jobs/inside.yaml"), job("parts/ours.yaml")).unwrap();
    fs::write(at.path().join("jobs/outside.yaml"), job("../ours.yaml")).unwrap();
    assert_eq!(status(&at, &["check", "jobs/inside.yaml"]), 0);
    let output = run(at.path(), &["check", "jobs/outside.yaml"]);
    assert_eq!(output.status.code(), Some(2));
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink("../ours.yaml", at.path().join("jobs/linked.yaml")).unwrap();
        fs::write(at.path().join("jobs/link.yaml"), job("linked.yaml")).unwrap();
        assert_eq!(status(&at, &["check", "jobs/link.yaml"]), 2);
    }
}

#[test]
fn wrong_commands_are_told_plainly() {
    let at = folder(&[]);
    let output = run(at.path(), &[]);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("Usage: bellwire"), "{}", text(&output.stderr));
    let output = run(at.path(), &["chekc", "job.yaml"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("'check'"), "{}", text(&output.stderr));
    let output = run(at.path(), &["check", "absent.yaml"]);
    assert_eq!(text(&output.stderr), "bellwire: absent.yaml: there is no such file\n");
    assert!(text(&run(at.path(), &["check", "."]).stderr).contains("this is a folder"));
    assert_eq!(status(&at, &["--help"]), 0);
    assert_eq!(status(&at, &["--version"]), 0);
}

#[test]
fn rules_are_listed_and_explained() {
    let at = folder(&[]);
    let list = run(at.path(), &["explain"]);
    assert_eq!(list.status.code(), Some(0));
    assert!(text(&list.stdout).lines().any(|line| line.starts_with("unterminated-core ")));
    let page = run(at.path(), &["explain", "unterminated-core"]);
    assert!(text(&page.stdout).starts_with("# unterminated-core (error)\n"));
    let wrong = run(at.path(), &["explain", "unterminated-coer"]);
    assert_eq!(wrong.status.code(), Some(2));
    assert!(text(&wrong.stderr).contains("`unterminated-core`"), "{}", text(&wrong.stderr));
}

#[test]
fn new_writes_a_sound_job_and_spares_what_is_there() {
    let at = folder(&[("taken.yaml", "mine")]);
    assert_eq!(status(&at, &["new", "job.yaml"]), 0);
    assert_eq!(status(&at, &["check", "job.yaml", "--strict"]), 0);
    assert_eq!(status(&at, &["new", "taken.yaml"]), 2);
    assert_eq!(fs::read_to_string(at.path().join("taken.yaml")).unwrap(), "mine");
    assert_eq!(status(&at, &["new", "absent/job.yaml"]), 2);
    assert_eq!(fs::read_dir(at.path()).unwrap().count(), 2, "nothing is left behind");
}

#[test]
fn completions_and_manual_page_are_printed() {
    let at = folder(&[]);
    assert!(text(&run(at.path(), &["completions", "bash"]).stdout).contains("_bellwire"));
    assert!(text(&run(at.path(), &["man"]).stdout).contains(".TH bellwire"));
}

#[test]
fn a_reader_that_goes_away_is_no_fault() {
    let at = folder(&[("loose.yaml", LOOSE)]);
    let program = Command::cargo_bin("bellwire").unwrap().get_program().to_owned();
    for (args, status) in [(&["explain"][..], 0), (&["check", "loose.yaml"], 1)] {
        let mut child = Plain::new(&program)
            .current_dir(at.path())
            .args(args)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        drop(child.stdout.take());
        let output = child.wait_with_output().unwrap();
        assert_eq!(text(&output.stderr), "");
        assert_eq!(output.status.code(), Some(status));
    }
}

#[test]
fn a_drawing_goes_to_the_file_that_was_named() {
    let at = folder(&[("job.yaml", SOUND), ("idle.yaml", IDLE)]);
    for (file, start) in [("job.svg", &b"<svg"[..]), ("job.png", &b"\x89PNG"[..]), ("job.json", &b"{"[..])] {
        let output = run(at.path(), &["draw", "job.yaml", "-o", file, "--dpi", "50"]);
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        assert!(output.stdout.is_empty() && output.stderr.is_empty());
        let bytes = fs::read(at.path().join(file)).unwrap();
        assert!(bytes.windows(start.len()).any(|window| window == start), "{file}");
    }
    let shown = run(at.path(), &["draw", "job.yaml", "-o", "-"]);
    assert_eq!(shown.stdout, fs::read(at.path().join("job.svg")).unwrap());
    assert_eq!(status(&at, &["draw", "idle.yaml", "-o", "idle.svg"]), 0);
    assert_eq!(status(&at, &["draw", "idle.yaml", "-o", "idle.svg", "--strict"]), 1);
}

#[test]
fn a_sheet_of_an_earlier_drawing_is_told() {
    let at = folder(&[("job.yaml", SOUND), ("job-2.svg", "old")]);
    let drawn = run(at.path(), &["draw", "job.yaml", "-o", "job.svg"]);
    assert_eq!(drawn.status.code(), Some(0));
    assert!(text(&drawn.stderr).contains("job-2.svg was there before"), "{}", text(&drawn.stderr));
    assert_eq!(text(&run(at.path(), &["draw", "job.yaml", "-o", "new.svg"]).stderr), "");
    // All of them are told, and none is read for a sheet of the drawing that is there now.
    fs::write(at.path().join("job-3.svg"), "old").unwrap();
    let drawn = run(at.path(), &["draw", "job.yaml", "-o", "job.svg"]);
    assert!(
        text(&drawn.stderr).contains("job-2.svg, job-3.svg were there before"),
        "{}",
        text(&drawn.stderr)
    );
    assert_eq!(status(&at, &["draw", "--verify", "job.svg", "job.yaml"]), 0);
}

/// V9 lies across the coil of K1, in the panel; the spare cores of W2 are on no card.
#[test]
fn the_page_has_a_place_for_what_lies_across_and_for_spare_cores() {
    const JOB: &str = "\
job: {title: Panel}
devices:
  G1: {type: dc-supply, volts: 12 V, amps: 1 A, location: Panel}
  K1: {type: relay, volts: 12 V, amps: 20 mA, location: Panel}
  V9: {type: diode, across: [K1.A1, K1.A2]}
cables:
  W1: {type: twin-0.75, cores: {red: [G1.V+, K1.A1], black: [G1.V-, K1.A2]}}
  W2: {type: alarm-4x0.22, cores: {red: taped, black: taped, blue: taped, white: taped}}
";
    let at = folder(&[("job.yaml", JOB)]);
    run(at.path(), &["pack", "job.yaml", "-o", "job.html"]);
    let page = fs::read_to_string(at.path().join("job.html")).unwrap();
    assert!(!page.contains("No location stated"));
    for core in ["red", "black", "blue", "white"] {
        assert!(page.contains(&format!("<span class=\"name\">W2 {core}</span>")), "{core}");
    }
}

#[test]
fn everything_goes_on_one_sheet_if_that_is_asked() {
    let job =
        fs::read_to_string(format!("{}/tests/jobs/npn-pnp-inputs.yaml", env!("CARGO_MANIFEST_DIR"))).unwrap();
    let at = folder(&[("job.yaml", job.as_str())]);
    let sheets = |file: &str, args: &[&str]| -> Vec<Value> {
        assert_eq!(status(&at, &[&["draw", "job.yaml", "-o", file], args].concat()), 0);
        let text = fs::read_to_string(at.path().join(file)).unwrap();
        serde_json::from_str::<Value>(&text).unwrap()["sheets"].as_array().unwrap().clone()
    };
    assert!(sheets("several.json", &[]).len() > 1, "this job shows nothing if it fits on one sheet anyway");
    let one = sheets("one.json", &["--one-sheet"]);
    assert_eq!(one.len(), 1);
    let drawn = one[0]["cores"].as_array().unwrap().len();
    assert_eq!(drawn, sheets("several.json", &[])[0]["cores"].as_array().unwrap().len());
}

#[test]
fn the_search_finds_the_order_that_one_a3_sheet_holds() {
    let example = format!("{}/examples/two-supplies.yaml", env!("CARGO_MANIFEST_DIR"));
    let at = folder(&[("job.yaml", fs::read_to_string(example).unwrap().as_str())]);
    assert_eq!(status(&at, &["draw", "job.yaml", "-o", "job.json"]), 0);
    let drawn: Value =
        serde_json::from_str(&fs::read_to_string(at.path().join("job.json")).unwrap()).unwrap();
    // A search that takes its first best needs a second sheet for the schedule.
    assert_eq!(drawn["sheets"].as_array().unwrap().len(), 1);
    assert_eq!(drawn["sheets"][0]["size"], serde_json::json!([420, 297]));
}

#[test]
fn a_drawing_on_disk_is_held_against_its_job() {
    let at = folder(&[("job.yaml", SOUND)]);
    assert_eq!(status(&at, &["draw", "job.yaml", "-o", "job.svg"]), 0);
    assert_eq!(status(&at, &["draw", "--verify", "job.svg", "job.yaml"]), 0);
    fs::write(at.path().join("job.yaml"), SOUND.replace("black: [G1.V-, H1.V-]", "black: [H1.V-, G1.V-]"))
        .unwrap();
    fs::write(
        at.path().join("other.yaml"),
        SOUND.replace("H1.V-", "H1.V+").replace("red: [G1.V+, H1.V+]", "red: [G1.V+, H1.V-]"),
    )
    .unwrap();
    let other = run(at.path(), &["draw", "--verify", "job.svg", "other.yaml"]);
    assert_eq!(other.status.code(), Some(1), "{}", text(&other.stderr));
    assert!(text(&other.stdout).contains("does not show this job"));
    fs::write(at.path().join("not.svg"), "hello").unwrap();
    assert_eq!(status(&at, &["draw", "--verify", "not.svg", "job.yaml"]), 2);
}

#[test]
fn the_order_of_an_earlier_drawing_is_kept() {
    let example = format!("{}/examples/roof-vent.yaml", env!("CARGO_MANIFEST_DIR"));
    let example = fs::read_to_string(example).unwrap();
    let at = folder(&[("job.yaml", example.as_str())]);
    assert_eq!(status(&at, &["draw", "job.yaml", "-o", "first.svg"]), 0);
    let drawn = |name: &str| fs::read_to_string(at.path().join(name)).unwrap();
    // The same job again, over the earlier drawing itself; then with all its devices upside down.
    assert_eq!(status(&at, &["draw", "job.yaml", "-o", "again.svg", "--like", "first.svg"]), 0);
    assert!(drawn("first.svg") == drawn("again.svg"), "the same job in its own order is another drawing");
    let turned = drawn("first.svg").replacen(
        "<g class=\"diagram\">",
        "<g class=\"diagram\" transform=\"scale(1,-1)\">",
        1,
    );
    fs::write(at.path().join("turned.svg"), turned).unwrap();
    assert_eq!(status(&at, &["draw", "job.yaml", "-o", "turned.svg", "--like", "turned.svg"]), 0);
    assert!(drawn("first.svg") != drawn("turned.svg"), "the order of the earlier drawing was not kept");
    assert_eq!(status(&at, &["draw", "--verify", "turned.svg", "job.yaml"]), 0);
}

#[test]
fn an_earlier_drawing_must_show_the_job() {
    let at =
        folder(&[("job.yaml", SOUND), ("not.svg", "hello"), ("empty.svg", "<svg/>"), ("old.svg", "old")]);
    for (earlier, said) in [
        ("not.svg", "not.svg: it is not XML"),
        ("empty.svg", "empty.svg shows no device of this job"),
        ("none.svg", "none.svg: "),
    ] {
        let output = run(at.path(), &["draw", "job.yaml", "-o", "old.svg", "--like", earlier]);
        assert_eq!(output.status.code(), Some(2), "{}", text(&output.stderr));
        assert!(text(&output.stderr).contains(said), "{}", text(&output.stderr));
        assert_eq!(fs::read_to_string(at.path().join("old.svg")).unwrap(), "old");
    }
    // What stands beyond all paper is kept to as far as it goes.
    let far = "<svg><g class='device' data-device='G1'><path d='M0 -1e300L9 -1e300'/></g>\
        <g class='device' data-device='H1'><path d='M1e300 1e300L1e300 9'/></g></svg>";
    fs::write(at.path().join("far.svg"), far).unwrap();
    assert_eq!(status(&at, &["draw", "job.yaml", "-o", "near.svg", "--like", "far.svg"]), 0);
    assert_eq!(status(&at, &["draw", "--verify", "near.svg", "job.yaml"]), 0);
}

#[test]
fn nothing_is_written_for_a_file_that_cannot_be_used() {
    let at = folder(&[("broken.yaml", BROKEN), ("old.svg", "old")]);
    let before: Vec<_> = fs::read_dir(at.path()).unwrap().map(|e| e.unwrap().file_name()).collect();
    let output = run(at.path(), &["draw", "broken.yaml", "-o", "old.svg"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("error[unreadable]"));
    assert_eq!(status(&at, &["draw", "broken.yaml", "-o", "new.svg"]), 2);
    assert_eq!(status(&at, &["schedule", "broken.yaml", "cables", "-o", "new.csv"]), 2);
    assert_eq!(fs::read_to_string(at.path().join("old.svg")).unwrap(), "old");
    let after: Vec<_> = fs::read_dir(at.path()).unwrap().map(|e| e.unwrap().file_name()).collect();
    assert_eq!(before, after);
}

#[test]
fn output_files_are_refused_with_a_reason() {
    let at = folder(&[("job.yaml", SOUND), ("job.svg", "old")]);
    let told = |args: &[&str]| {
        let output = run(at.path(), args);
        assert_eq!(output.status.code(), Some(2), "{args:?}");
        text(&output.stderr).to_owned()
    };
    assert!(told(&["draw", "job.yaml", "-o", "absent/job.svg"]).contains("there is no folder absent"));
    assert!(told(&["draw", "job.yaml", "-o", "job.doc"]).contains("it can be .svg, .png, .pdf, .json"));
    assert!(told(&["draw", "job.yaml", "-o", "job"]).contains("it can be .svg, .png, .pdf, .json"));
    assert!(
        told(&["draw", "job.yaml", "-o", "job.yaml", "--format", "svg"]).contains("is read for this job")
    );
    assert!(told(&["draw", "job.yaml", "-o", "job.svg", "--format", "png"]).contains("different things"));
    assert!(told(&["draw", "job.yaml", "-o", ".", "--format", "svg"]).contains("is a folder"));
    assert!(told(&["draw", "job.yaml", "-o", "job.png", "--dpi", "0"]).contains("10 to 2400"));
    assert!(told(&["draw", "job.yaml"]).contains("--output"));
    assert!(told(&["schedule", "job.yaml", "cables", "-o", "job.doc"]).contains(".csv"));
    let issued = at.path().join("job.svg");
    let mut rights = fs::metadata(&issued).unwrap().permissions();
    rights.set_readonly(true);
    fs::set_permissions(&issued, rights).unwrap();
    assert!(told(&["draw", "job.yaml", "-o", "job.svg"]).contains("may only be read"));
    assert_eq!(fs::read_to_string(issued).unwrap(), "old");
    assert_eq!(fs::read_to_string(at.path().join("job.yaml")).unwrap(), SOUND);
}

#[test]
fn a_table_without_rows_says_so() {
    let at = folder(&[("job.yaml", SOUND)]);
    assert_eq!(text(&run(at.path(), &["settings", "job.yaml"]).stdout), "Nothing to list.\n");
}

#[cfg(unix)]
#[test]
fn an_output_file_keeps_its_rights_and_its_link() {
    use std::os::unix::fs::{PermissionsExt, symlink};
    let at = folder(&[("job.yaml", SOUND), ("real.csv", "old")]);
    let real = at.path().join("real.csv");
    fs::set_permissions(&real, fs::Permissions::from_mode(0o640)).unwrap();
    symlink("real.csv", at.path().join("link.csv")).unwrap();
    assert_eq!(status(&at, &["schedule", "job.yaml", "cables", "-o", "link.csv"]), 0);
    assert!(fs::symlink_metadata(at.path().join("link.csv")).unwrap().is_symlink());
    assert!(fs::read_to_string(&real).unwrap().starts_with("cable,"));
    assert_eq!(fs::metadata(&real).unwrap().permissions().mode() & 0o777, 0o640);
    assert_eq!(status(&at, &["schedule", "job.yaml", "cables", "-o", "/dev/null", "--format", "csv"]), 0);
}

#[test]
fn a_pack_is_a_new_folder_or_one_file_with_the_same_bytes() {
    let dir = folder(&[("lamp.yaml", SOUND)]);
    let files = |at: &Path| -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(at)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    };
    assert_eq!(status(&dir, &["pack", "lamp.yaml", "-o", "record"]), 0);
    assert_eq!(
        files(&dir.path().join("record")),
        ["job", "job-record.pdf", "page.html", "tables", "tables.xlsx"]
    );
    assert_eq!(fs::read(dir.path().join("record/job/lamp.yaml")).unwrap(), SOUND.as_bytes());
    assert_eq!(status(&dir, &["pack", "lamp.yaml", "-o", "record"]), 2, "what is there is left as it is");
    assert_eq!(status(&dir, &["pack", "lamp.yaml", "-o", "a.zip"]), 0);
    assert_eq!(status(&dir, &["pack", "lamp.yaml", "-o", "b.zip"]), 0);
    let zip = |name: &str| fs::read(dir.path().join(name)).unwrap();
    assert_eq!(zip("a.zip"), zip("b.zip"));
    assert!(zip("a.zip").starts_with(b"PK"));
    assert_eq!(status(&dir, &["pack", "lamp.yaml", "-o", "page.html"]), 0);
    assert_eq!(zip("page.html"), fs::read(dir.path().join("record/page.html")).unwrap());
    assert_eq!(status(&dir, &["pack", "lamp.yaml", "-o", "-"]), 2);
    assert_eq!(status(&dir, &["pack", "lamp.yaml", "-o", "record.pdf"]), 2, "that is no name of a folder");
    assert!(!dir.path().join("record.pdf").exists());
    let told = run(dir.path(), &["pack", "lamp.yaml", "-o", "absent/record"]);
    assert!(text(&told.stderr).contains("there is no folder absent"), "{}", text(&told.stderr));
}

/// The record has the terminal schedule once, on the drawing's own sheets.
#[test]
fn the_record_has_no_document_twice() {
    let dir = folder(&[("lamp.yaml", SOUND)]);
    assert_eq!(status(&dir, &["pack", "lamp.yaml", "-o", "record"]), 0);
    let bytes = fs::read(dir.path().join("record/job-record.pdf")).unwrap();
    let record = String::from_utf8_lossy(&bytes);
    // Each sheet has a bookmark with its title.
    let named = |kind: &str| record.matches(&format!("(Siren: {kind})")).count();
    assert_eq!([named("Cable schedule"), named("Terminal schedule")], [1, 0]);
}

#[test]
fn what_cannot_be_taken_is_told_in_plain_words() {
    let dir = folder(&[("lamp.yaml", SOUND), ("filled.csv", "step\n1,2\n")]);
    let said = |args: &[&str]| {
        let told = run(dir.path(), args);
        assert_eq!(told.status.code(), Some(2));
        text(&told.stderr).to_owned()
    };
    let sheet = said(&["tests", "lamp.yaml", "--readings", "filled.csv"]);
    assert!(sheet.contains("line 2 has 2 cells, and the lines above it have 1"), "{sheet}");
    let seed = said(&["teach", "lamp.yaml", "-o", "a.svg", "--seed", "-1"]);
    assert!(seed.contains("invalid value '-1'") && !seed.contains("-- -1"), "{seed}");
}

#[test]
fn the_trainers_desk_from_the_sheet_to_the_class_table() {
    let strike = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/door-strike.yaml"));
    let folder = folder(&[("job.yaml", &strike.unwrap())]);
    let at = folder.path();
    for (args, name) in [("--level=4", "some.pdf"), ("--faults", "fault.pdf")] {
        assert_eq!(run(at, &["teach", "job.yaml", args, "-o", name]).status.code(), Some(0), "{args}");
        let stem = name.strip_suffix(".pdf").unwrap();
        for (made, begins) in
            [(".pdf", "%PDF"), ("-key.pdf", "%PDF"), ("-answer.yaml", "job:"), ("-key.yaml", "job:")]
        {
            let bytes = fs::read(at.join(format!("{stem}{made}"))).unwrap();
            assert!(bytes.starts_with(begins.as_bytes()), "{stem}{made}");
        }
    }
    let marked = run(at, &["mark", "fault-answer.yaml", "--model", "fault-key.yaml", "--format", "json"]);
    let marked: Value = serde_json::from_slice(&marked.stdout).unwrap();
    assert_eq!(marked["marks"], 0);
    assert!(marked["questions"].as_array().unwrap().iter().any(|line| line["question"] == "fault"));
    fs::create_dir(at.join("class")).unwrap();
    fs::copy(at.join("some-answer.yaml"), at.join("class/ann.yaml")).unwrap();
    fs::copy(at.join("some-key.yaml"), at.join("class/bob.yaml")).unwrap();
    for (what, name, begins) in [
        ("class", "class.xlsx", "PK"),
        ("class/ann.yaml", "ann.pdf", "%PDF"),
        ("class", "class.csv", "answer,"),
    ] {
        let done = run(at, &["mark", what, "--model", "some-key.yaml", "-o", name]);
        assert_eq!(done.status.code(), Some(0), "{}", String::from_utf8_lossy(&done.stderr));
        assert!(fs::read(at.join(name)).unwrap().starts_with(begins.as_bytes()), "{name}");
    }
    assert!(at.join("class-mistakes.csv").exists());
    let done = run(at, &["compare", "job.yaml", "some-key.yaml", "-o", "changes.pdf"]);
    assert_eq!(done.status.code(), Some(0));
    let again = run(at, &["teach", "some-key.yaml", "-o", "again.svg"]);
    assert_eq!(again.status.code(), Some(2), "an exercise makes no further one");
}

#[test]
fn a_class_with_answers_that_cannot_be_read_is_marked_all_the_same() {
    let at = folder(&[("job.yaml", SOUND)]);
    let class = at.path().join("class");
    fs::create_dir_all(class.join("b.yaml")).unwrap();
    fs::write(class.join("a.yaml"), SOUND).unwrap();
    fs::write(class.join("c.yaml"), BROKEN).unwrap();
    fs::write(class.join("d.yaml"), SOUND).unwrap();
    fs::write(class.join("notes.txt"), "no answer").unwrap();
    let args = ["mark", "class", "--model", "job.yaml", "--format", "json"];
    let done = run(at.path(), &args);
    assert_eq!(done.status.code(), Some(2));
    let rows: Vec<Value> = serde_json::from_slice(&done.stdout).unwrap();
    let told = rows.iter().map(|row| (row["answer"].as_str().unwrap(), row["marks"].is_null()));
    assert_eq!(told.collect::<Vec<_>>(), [("a", false), ("b", true), ("c", true), ("d", false)]);
    assert_eq!(rows[1]["remark"], "cannot be read: class/b.yaml: this is a folder; give a file in it");
    assert_eq!(rows[2]["remark"], "cannot be read; see: bellwire check class/c.yaml");
    fs::remove_dir(class.join("b.yaml")).unwrap();
    fs::remove_file(class.join("c.yaml")).unwrap();
    assert_eq!(run(at.path(), &args).status.code(), Some(0));
    let onto = ["mark", "class", "--model", "job.yaml", "--format", "csv", "-o", "class/a.yaml"];
    assert_eq!(run(at.path(), &onto).status.code(), Some(2), "no answer is overwritten");
}
