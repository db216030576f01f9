//! The rules: each has a manual page.

use std::path::PathBuf;
use std::{env, fs};

use bellwire::checks::RULES;

const SECTIONS: [&str; 6] = ["On site", "Why", "Example", "Cure", "Limits", "Sources"];

#[test]
fn every_manual_page_has_its_sections() {
    for rule in RULES {
        let page = rule.manual();
        let headings: Vec<&str> = page.lines().filter_map(|line| line.strip_prefix("## ")).collect();
        assert_eq!(headings, SECTIONS, "the page of {}", rule.name);
        assert!(rule.summary().ends_with('.'), "the first line of {} is one sentence", rule.name);
    }
}

/// `docs/rules` holds what the rules' own files say. `BLESS=1 cargo test --test rules` writes it anew.
#[test]
fn docs_hold_the_manual_pages() {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("docs/rules");
    if env::var_os("BLESS").is_some() {
        fs::create_dir_all(&folder).unwrap();
        for rule in RULES {
            fs::write(folder.join(format!("{}.md", rule.name)), rule.manual()).unwrap();
        }
    }
    let mut pages: Vec<String> =
        fs::read_dir(&folder).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
    pages.sort();
    let mut names: Vec<String> = RULES.iter().map(|rule| format!("{}.md", rule.name)).collect();
    names.sort();
    assert_eq!(pages, names);
    for rule in RULES {
        let page = fs::read_to_string(folder.join(format!("{}.md", rule.name))).unwrap();
        assert!(
            page == rule.manual(),
            "docs/rules/{}.md is stale: run `BLESS=1 cargo test --test rules`",
            rule.name
        );
    }
}
