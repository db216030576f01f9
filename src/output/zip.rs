//! Several files in one ZIP.

use std::io::{Cursor, Write};

use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, ZipWriter};

/// A ZIP of files, each with its name (`/` between folders), in that order. No entry bears a time, so that the same files
/// give the same bytes.
///
/// # Errors
/// If there is more than a ZIP can hold.
pub fn zip(files: &[(String, Vec<u8>)]) -> Result<Vec<u8>, String> {
    let options = SimpleFileOptions::default()
        .compression_method(CompressionMethod::Deflated)
        .last_modified_time(DateTime::default());
    let mut writer = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in files {
        writer.start_file(name, options).map_err(|why| failed(&why.to_string()))?;
        writer.write_all(bytes).map_err(|why| failed(&why.to_string()))?;
    }
    writer.finish().map(Cursor::into_inner).map_err(|why| failed(&why.to_string()))
}

fn failed(why: &str) -> String {
    format!("the ZIP cannot be made: {why}")
}
