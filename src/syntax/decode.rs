//! From the bytes of a file to its text.

use std::string::FromUtf8Error;

use super::Faults;
use crate::source::{FileId, NodeId, Place, Sources, small};

/// The largest file that is read, in bytes.
pub const LARGEST: usize = 16 << 20;

/// Takes a file in. Bytes that are no text are reported, and there is no file then worth parsing.
pub fn decode(sources: &mut Sources, name: &str, bytes: Vec<u8>, faults: &mut Faults) -> Option<FileId> {
    if bytes.len() > LARGEST {
        let file = sources.add(name, "");
        faults.error(
            whole(file),
            format!("the file has {} MB; a job file has at most {} MB", bytes.len() >> 20, LARGEST >> 20),
            "is this really a job file? If it is, split the job into several",
        );
        return None;
    }
    if matches!(bytes[..], [0xFF, 0xFE, ..] | [0xFE, 0xFF, ..]) || looks_like_utf16(&bytes) {
        let file = sources.add(name, "");
        faults.error(whole(file), "the file is in UTF-16", SAVE);
        return None;
    }
    let text = match text(bytes) {
        Ok(text) => text,
        Err(error) => {
            let good = error.utf8_error().valid_up_to();
            let bytes = error.as_bytes();
            let file = sources.add(name, String::from_utf8_lossy(bytes));
            let bad = bytes.get(good).copied().unwrap_or_default();
            let place = at(file, good, good + '\u{FFFD}'.len_utf8());
            faults.error(place, format!("the file is not in UTF-8: here stands the byte {bad:#04X}"), SAVE);
            return None;
        }
    };
    let file = sources.add(name, text);
    let text = &sources.file(file).text;
    let strange = |c: char| c.is_control() && !matches!(c, '\n' | '\r' | '\t' | '\u{85}');
    if let Some((start, c)) = text.char_indices().find(|(_, c)| strange(*c)) {
        let what = if c == '\0' {
            "a NUL".to_owned()
        } else {
            format!("the control character U+{:04X}", u32::from(c))
        };
        faults.error(
            at(file, start, start + c.len_utf8()),
            format!("{what} stands in the file"),
            "take it out; is this really a text file?",
        );
        return None;
    }
    Some(file)
}

/// The text of a file, without a byte-order mark.
pub fn text(mut bytes: Vec<u8>) -> Result<String, FromUtf8Error> {
    if bytes.starts_with(BYTE_ORDER_MARK) {
        bytes.drain(..BYTE_ORDER_MARK.len());
    }
    String::from_utf8(bytes)
}

const BYTE_ORDER_MARK: &[u8] = b"\xEF\xBB\xBF";

const SAVE: &str = "save the file as UTF-8 (in the editor: Save as, encoding UTF-8)";

/// Every other byte of the beginning is NUL, as plain letters are in UTF-16.
fn looks_like_utf16(bytes: &[u8]) -> bool {
    let head = bytes.get(..8).unwrap_or_default();
    let zero = |offset: usize| head.iter().skip(offset).step_by(2).all(|b| *b == 0);
    let full = |offset: usize| head.iter().skip(offset).step_by(2).all(|b| *b != 0);
    !head.is_empty() && ((zero(0) && full(1)) || (zero(1) && full(0)))
}

fn whole(file: FileId) -> Place {
    at(file, 0, 0)
}

fn at(file: FileId, start: usize, end: usize) -> Place {
    Place::new(file, NodeId(0), small(start)..small(end))
}
