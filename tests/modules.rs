//! The order of the modules in `src/lib.rs` is the order of dependency, and only `cli` touches the surroundings.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may stop at what it did not expect")]

use std::fs;
use std::path::{Path, PathBuf};

/// What only `cli` may mention.
const SURROUNDINGS: [&str; 10] = [
    "std::fs",
    "std::process",
    "std::env",
    "io::stdout",
    "io::stderr",
    "io::stdin",
    "println!",
    "print!(",
    "tempfile::",
    "SystemTime",
];

fn source_folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src")
}

fn modules() -> Vec<String> {
    let root = fs::read_to_string(source_folder().join("lib.rs")).unwrap();
    let names = root.lines().filter_map(|line| line.strip_prefix("pub mod ")?.strip_suffix(';'));
    names.map(str::to_owned).collect()
}

/// Every file below `src` with the module it belongs to and its code, comments and unit tests left out.
fn files() -> Vec<(String, PathBuf, String)> {
    let mut found = Vec::new();
    let mut folders = vec![source_folder()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|ending| ending == "rs") {
                let below = path.strip_prefix(source_folder()).unwrap();
                let first = Path::new(below.components().next().unwrap().as_os_str());
                let module = first.file_stem().unwrap().to_str().unwrap().to_owned();
                let text = fs::read_to_string(&path).unwrap();
                let code = text.split("#[cfg(test)]").next().unwrap();
                let code: Vec<&str> =
                    code.lines().map(|line| line.split("//").next().unwrap_or_default()).collect();
                found.push((module, path.clone(), code.join("\n")));
            }
        }
    }
    found.sort();
    found
}

/// The modules that a file names: after `crate::`, also as `crate::{a::B, c}`.
fn named(code: &str) -> Vec<String> {
    let word = |text: &str| text.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect::<String>();
    let mut names = Vec::new();
    for (at, found) in code.match_indices("crate::") {
        let rest = &code[at + found.len()..];
        let Some(group) = rest.strip_prefix('{') else {
            names.push(word(rest));
            continue;
        };
        let mut depth = 0;
        let mut item = String::new();
        for c in group.chars() {
            match c {
                '}' if depth == 0 => break,
                '{' => depth += 1,
                '}' => depth -= 1,
                ',' if depth == 0 => names.push(word(std::mem::take(&mut item).trim())),
                _ => {}
            }
            if depth > 0 || c != ',' {
                item.push(c);
            }
        }
        names.push(word(item.trim()));
    }
    names.retain(|name| !name.is_empty());
    names
}

#[test]
fn a_module_uses_only_those_above_it() {
    let modules = modules();
    let rank = |name: &str| modules.iter().position(|module| module == name);
    let mut wrong = Vec::new();
    let mut seen = 0;
    for (module, path, code) in files() {
        let Some(own) = rank(&module) else { continue };
        for name in named(&code) {
            let Some(used) = rank(&name) else { continue };
            seen += 1;
            if used > own {
                wrong.push(format!("{} uses {name}, which stands below {module}", path.display()));
            }
        }
    }
    assert!(seen > 20, "only {seen} uses were found: is this test still reading the sources?");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn only_the_command_line_touches_the_surroundings() {
    let mut wrong = Vec::new();
    for (module, path, code) in files() {
        for word in SURROUNDINGS {
            if code.contains(word) && !["cli", "main"].contains(&module.as_str()) {
                wrong.push(format!("{} mentions {word}", path.display()));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_reader_of_uses_sees_them() {
    let code = "use crate::{source::{Place, File}, units}; use crate::netlist::Job; let x = crate::cli::run;";
    assert_eq!(named(code), ["source", "units", "netlist", "cli"]);
}
