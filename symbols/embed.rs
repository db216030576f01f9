//! Build script: makes the table of the files under `symbols/` that the program carries.
//!
//! A new device, cable or graphic symbol is a new file; no Rust changes.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::{env, fs, io};

#[expect(clippy::print_stdout, reason = "this is how a build script speaks to cargo")]
fn main() -> io::Result<()> {
    let root = PathBuf::from(env::var("CARGO_MANIFEST_DIR").map_err(io::Error::other)?);
    let out = PathBuf::from(env::var("OUT_DIR").map_err(io::Error::other)?);
    let mut text = String::new();
    for (constant, folder, ending) in
        [("DEVICES", "devices", "yaml"), ("CABLES", "cables", "yaml"), ("GRAPHICS", "graphics", "svg")]
    {
        let folder = root.join("symbols").join(folder);
        println!("cargo::rerun-if-changed={}", folder.display());
        table(&mut text, constant, &folder, ending)?;
    }
    fs::write(out.join("symbols.rs"), text)
}

/// Writes one `(name, content)` table, sorted by name.
fn table(text: &mut String, constant: &str, folder: &Path, ending: &str) -> io::Result<()> {
    let mut files: Vec<PathBuf> =
        fs::read_dir(folder)?.map(|entry| entry.map(|e| e.path())).collect::<io::Result<_>>()?;
    files.retain(|f| f.extension().is_some_and(|e| e == ending));
    files.sort();
    let _ = writeln!(
        text,
        "/// Embedded `{}`: file stem and text.\npub const {constant}: &[(&str, &str)] = &[",
        folder.file_name().unwrap_or_default().display()
    );
    for file in files {
        let stem = file.file_stem().unwrap_or_default().display().to_string();
        let _ = writeln!(text, "    ({stem:?}, include_str!({file:?})),");
    }
    text.push_str("];\n");
    Ok(())
}
