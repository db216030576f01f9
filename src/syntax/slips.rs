//! What a person meant who wrote a text that is no YAML: the usual slips, each with its remedy.

use std::ops::Range;

use granit_parser::ErrorKind;

use super::{Faults, parse};
use crate::source::{FileId, NodeId, Place, small};

/// Reports the error at which the parser gave up.
pub fn scan_error(text: &str, file: FileId, node: NodeId, kind: &ErrorKind, at: usize, faults: &mut Faults) {
    let at = at.min(text.len());
    let slip = Slip::find(text, at, kind);
    let place = Place::new(file, node, small(slip.start)..small(slip.end));
    faults.error(place, slip.message, slip.fix);
}

struct Slip {
    start: usize,
    end: usize,
    message: String,
    fix: String,
}

impl Slip {
    fn new(range: Range<usize>, message: impl Into<String>, fix: impl Into<String>) -> Self {
        Self { start: range.start, end: range.end, message: message.into(), fix: fix.into() }
    }

    fn find(text: &str, at: usize, kind: &ErrorKind) -> Self {
        let here = floor(text, at);
        let line_start = text[..here].rfind('\n').map_or(0, |n| n + 1);
        let line_end = text[here..].find('\n').map_or(text.len(), |n| here + n);
        let line = text[line_start..line_end].trim_end_matches('\r');
        if let Some(tab) = leading_tab(line) {
            return Self::new(
                line_start + tab..line_start + tab + 1,
                "a tab stands at the beginning of this line; YAML wants spaces there",
                "replace the tab by spaces (two for each level)",
            );
        }
        if let Some(slip) = open_quote(text, here, kind) {
            return slip;
        }
        if let Some(slip) = colon_in_braces(line, line_start, kind) {
            return slip;
        }
        // The parser often notices on the line after the one at fault.
        let before = text[..line_start].trim_end_matches(['\n', '\r']);
        let before_start = before.rfind('\n').map_or(0, |n| n + 1);
        let pasted = no_break_space(line, line_start)
            .or_else(|| no_break_space(&before[before_start..], before_start));
        if let Some(slip) = pasted {
            return slip;
        }
        if matches!(kind, ErrorKind::MappingValueNotAllowed)
            && let Some(slip) = missing_colon(line, line_start)
                .or_else(|| too_deep_a_line(&before[before_start..], line, line_start))
        {
            return slip;
        }
        if let Some(slip) = cut_by_comment(&before[before_start..], before_start) {
            return slip;
        }
        for (start, line) in [(line_start, line), (before_start, &before[before_start..])] {
            if let Some(slip) = missing_space(line, start) {
                return slip;
            }
        }
        Self::of_kind(text, here, line_start, line, kind)
    }

    fn of_kind(text: &str, here: usize, line_start: usize, line: &str, kind: &ErrorKind) -> Self {
        let letter = text[here..].chars().next();
        let one = here..here + letter.map_or(0, char::len_utf8);
        let word = here..here + word_length(&text[here..]);
        if letter == Some(',') && text[..here].trim_end().ends_with([',', '[', '{']) {
            return Self::new(
                one,
                "nothing stands before this comma",
                "take the comma out, or write what is missing",
            );
        }
        match kind {
            ErrorKind::UnexpectedCharacter { .. }
            | ErrorKind::InvalidBlockScalarHeader
            | ErrorKind::MappingKeyNotAllowed => {
                let first = match letter {
                    Some('`') => "a back-quote".to_owned(),
                    Some(letter) => format!("`{letter}`"),
                    None => "this".to_owned(),
                };
                let fix = format!("put it in quotes: \"{}\"", &text[word.clone()]);
                Self::new(word, format!("a text cannot begin with {first} here"), fix)
            }
            ErrorKind::DirectiveDisallowed => Self::new(
                one,
                "a line cannot begin with `%` here",
                "put the text in quotes, or take the line out",
            ),
            ErrorKind::PlainScalarStartsWithDashFlowIndicator
            | ErrorKind::BlockEntryInFlowCollection
            | ErrorKind::BlockSequenceEntryNotAllowed
            | ErrorKind::InvalidBlockEntryWhitespace => Self::new(
                one,
                "a `-` alone begins a list item; as a name it must stand in quotes",
                "write \"-\" in quotes, or begin each list item on a line of its own",
            ),
            ErrorKind::UnclosedFlowCollection { open } => Self::new(
                here..here,
                format!("a `{open}` is never closed"),
                format!("add the missing `{}`", closing(*open)),
            ),
            ErrorKind::UnexpectedEofFlowSequence
            | ErrorKind::ExpectedFlowSequenceSeparator
            | ErrorKind::UnexpectedEofFlowMapping
            | ErrorKind::UnexpectedEofImplicitFlowMapping
            | ErrorKind::ExpectedFlowMappingSeparator
                if left_open(text, here).is_some() =>
            {
                let (at, open) = left_open(text, here).unwrap_or((here, '{'));
                Self::new(
                    at..at + 1,
                    format!("this `{open}` is not closed"),
                    format!(
                        "add the missing `{}` at the end of the line, or a comma if it goes on",
                        closing(open)
                    ),
                )
            }
            ErrorKind::UnexpectedEofFlowSequence | ErrorKind::ExpectedFlowSequenceSeparator => Self::new(
                one,
                "a list in brackets goes wrong here",
                "part the items with commas and close the list with `]`",
            ),
            ErrorKind::UnexpectedEofFlowMapping
            | ErrorKind::UnexpectedEofImplicitFlowMapping
            | ErrorKind::ExpectedFlowMappingSeparator => Self::new(
                one,
                "a map in braces goes wrong here",
                "part the keys with commas and close each map with `}`",
            ),
            ErrorKind::MismatchedFlowCollectionEnd { open, close } => Self::new(
                one,
                format!("`{close}` closes what `{open}` opened"),
                format!("close it with `{}`", closing(*open)),
            ),
            ErrorKind::MisplacedFlowCollectionEnd => Self::new(
                one,
                "this bracket closes nothing",
                "take it out, or add the one that opens the list",
            ),
            ErrorKind::UnclosedQuotedScalar => {
                Self::new(one, "a text in quotes is never closed", "add the missing quote at its end")
            }
            ErrorKind::InvalidTrailingSingleQuotedScalar | ErrorKind::InvalidTrailingDoubleQuotedScalar => {
                Self::new(
                    one,
                    "more text follows after the closing quote",
                    "put the whole text inside the quotes",
                )
            }
            ErrorKind::UnknownQuotedScalarEscape => Self::new(
                one,
                "a backslash in double quotes means something else in YAML",
                "use single quotes, or write the backslash twice",
            ),
            ErrorKind::MappingValueNotAllowed | ErrorKind::InvalidColonPlacement
                if colon_forgotten(text, line_start).is_some() =>
            {
                let (at, key, rest) = colon_forgotten(text, line_start).unwrap_or((here..here, "", ""));
                Self::new(at, format!("a colon is missing behind `{key}`"), format!("write `{key}: {rest}`"))
            }
            ErrorKind::MappingValueNotAllowed | ErrorKind::InvalidColonPlacement => Self::new(
                one,
                "a second colon with a space behind it stands on this line",
                "put the text in quotes if the colon is part of it, or begin a new line for the new key",
            ),
            ErrorKind::TabInIndentation
            | ErrorKind::TabNotAllowed
            | ErrorKind::TabInBlockIndentation
            | ErrorKind::TabInPlainScalar => {
                Self::new(one, "a tab stands where YAML wants spaces", "replace the tab by spaces")
            }
            ErrorKind::SimpleKeyExpected
            | ErrorKind::InvalidSimpleKey
            | ErrorKind::ExpectedBlockMappingKey
            | ErrorKind::ExpectedBlockSequenceEntry
            | ErrorKind::ExpectedDocumentStart
            | ErrorKind::InvalidIndentation => {
                let indent = line.len() - line.trim_start().len();
                Self::new(
                    line_start + indent..line_start + line.len(),
                    "this line does not fit the lines above it",
                    "begin it exactly below the key or item that it stands beside, and write `key: value` with a \
                     space after the colon",
                )
            }
            ErrorKind::RecursionLimitExceeded => Self::new(one, parse::too_deep(), TOO_DEEP_FIX),
            other => Self::new(one, format!("the file is not in order here ({other})"), GENERAL),
        }
    }
}

/// A no-break space that stands where YAML wants a plain one: in the indentation of a line, or behind a colon.
fn no_break_space(line: &str, line_start: usize) -> Option<Slip> {
    let at = line
        .find(NO_BREAK_SPACE)
        .filter(|at| line[..*at].trim_end().is_empty() || line[..*at].ends_with(':'))?;
    let at = line_start + at;
    Some(Slip::new(
        at..at + NO_BREAK_SPACE.len_utf8(),
        "a no-break space stands here; YAML wants a plain one",
        "delete it and type a space; it came with a text that was pasted",
    ))
}

/// What to do about a file that is too deep.
pub const TOO_DEEP_FIX: &str =
    "a job file needs no more than six levels; look for brackets that are not closed";

const GENERAL: &str = "compare this line and the one above it with an example: spaces at the beginning, `key: value`, \
                       brackets closed";

/// What looks like a space and is none; texts pasted from elsewhere bring it.
pub const NO_BREAK_SPACE: char = '\u{a0}';

/// A quote that is closed on a later line only, by one that was to open another text, or never.
fn open_quote(text: &str, here: usize, kind: &ErrorKind) -> Option<Slip> {
    let trailing = matches!(
        kind,
        ErrorKind::InvalidTrailingSingleQuotedScalar | ErrorKind::InvalidTrailingDoubleQuotedScalar
    );
    if !trailing && !matches!(kind, ErrorKind::UnclosedQuotedScalar) {
        return None;
    }
    let (start, end) = last_quoted(text, if trailing { here } else { text.len() })?;
    let line_end = text[start..].find(['\n', '\r']).map_or(text.len(), |n| start + n);
    if end.is_some_and(|end| end <= line_end) {
        return None;
    }
    let message = match end {
        Some(end) => {
            let line = text[..end].matches('\n').count() + 1;
            format!("this quote is not closed on its line; the next one, on line {line}, ends the text")
        }
        None => "this quote is never closed".to_owned(),
    };
    Some(Slip::new(start..line_end, message, "add the missing quote at the end of the text"))
}

/// The last text in quotes that begins before `here`: where it begins, and where it ends if it does.
fn last_quoted(text: &str, here: usize) -> Option<(usize, Option<usize>)> {
    let mut last = None;
    let mut open: Option<(usize, char)> = None;
    let mut comment = false;
    let mut before = '\n';
    let mut letters = text.char_indices().peekable();
    while let Some((at, letter)) = letters.next().filter(|(at, _)| *at < here) {
        match open {
            Some((start, mark)) if letter == mark => {
                // Twice in single quotes it stands for itself.
                if mark == '\'' && letters.next_if(|(_, next)| *next == mark).is_some() {
                    continue;
                }
                last = Some((start, Some(at + 1)));
                open = None;
            }
            Some((_, '"')) if letter == '\\' => {
                letters.next();
            }
            Some(_) => {}
            None if comment => comment = letter != '\n',
            None if letter == '#' && before.is_whitespace() => comment = true,
            None if matches!(letter, '"' | '\'') && (before.is_whitespace() || "[{,".contains(before)) => {
                open = Some((at, letter));
            }
            None => {}
        }
        before = letter;
    }
    open.map(|(start, _)| (start, None)).or(last)
}

/// `{name: fire: main}`: a colon in a text in braces.
fn colon_in_braces(line: &str, line_start: usize, kind: &ErrorKind) -> Option<Slip> {
    let kinds = matches!(
        kind,
        ErrorKind::ExpectedFlowMappingSeparator
            | ErrorKind::UnexpectedEofFlowMapping
            | ErrorKind::UnexpectedEofImplicitFlowMapping
            | ErrorKind::ExpectedFlowSequenceSeparator
            | ErrorKind::MappingValueNotAllowed
            | ErrorKind::InvalidColonPlacement
    );
    if !kinds || line.contains(['"', '\'']) {
        return None;
    }
    let mut at = line.find('{')? + 1;
    for piece in line.get(at..)?.split(['{', '}', '[', ']', ',']) {
        if let Some((key, text)) = piece.split_once(": ").filter(|(_, text)| text.contains(": ")) {
            let (key, said) = (key.trim(), text.trim());
            let start = line_start + at + piece.len() - text.trim_start().len();
            return Some(Slip::new(
                start..start + said.len(),
                "a second colon with a space behind it stands in this text",
                format!("put the text in quotes: `{key}: \"{said}\"`"),
            ));
        }
        at += piece.len() + 1;
    }
    None
}

/// A line above that stands where the keys of this one stand and has no colon, though it reads like a key and its text: where, the
/// key, and the text.
fn colon_forgotten(text: &str, line_start: usize) -> Option<(Range<usize>, &str, &str)> {
    let line = text.get(line_start..)?.lines().next()?;
    let above = text.get(..line_start)?.trim_end().lines().next_back()?;
    let indent = |line: &str| line.len() - line.trim_start().len();
    let said = above.split(" #").next()?.trim();
    let (key, rest) = said.split_once(' ')?;
    let is_key = !key.is_empty() && key.chars().all(|c| c.is_alphanumeric() || c == '_');
    if !is_key || said.contains(':') || indent(above) != indent(line) {
        return None;
    }
    let start = text.get(..line_start)?.trim_end().len() - above.trim_end().len() + indent(above);
    Some((start..start + key.len(), key, rest.trim()))
}

/// A tab before the first thing on the line.
fn leading_tab(line: &str) -> Option<usize> {
    let blank = line.len() - line.trim_start_matches([' ', '\t']).len();
    line[..blank].find('\t')
}

/// `red:[…]`, `title:Vent` at the beginning of a line or after `{` or `,`.
fn missing_space(line: &str, line_start: usize) -> Option<Slip> {
    let content = line.split(" #").next().unwrap_or_default();
    for (at, _) in content.match_indices(':') {
        let behind = content[at + 1..].chars().next()?;
        let key_start = content[..at].rfind(['{', ',', '[', ' ']).map_or(0, |n| n + 1);
        let key = &content[key_start..at];
        let first_on_line = content[..key_start].trim_matches([' ', '-', '{']).is_empty();
        let plain =
            !key.is_empty() && key.chars().all(|c| c.is_alphanumeric() || matches!(c, '_' | '-' | '+' | '.'));
        let opens = matches!(behind, '[' | '{' | '"' | '\'');
        if plain && (opens || (first_on_line && !behind.is_whitespace() && behind != ':')) {
            let start = line_start + key_start;
            return Some(Slip::new(
                start..line_start + at + 1,
                format!("a space is missing after `{key}:`"),
                format!("write `{key}: {}…` with a space after the colon", behind),
            ));
        }
    }
    None
}

/// `F1 {type: fuse}`: the colon after the key is missing.
fn missing_colon(line: &str, line_start: usize) -> Option<Slip> {
    let key = line[..line.find([':', '{', '['])?].trim();
    let rest = line.trim_start().strip_prefix(key)?.trim_start();
    if key.is_empty() || key.starts_with(['-', '"', '\'']) || !rest.starts_with(['{', '[']) {
        return None;
    }
    let start = line_start + line.find(key)?;
    Some(Slip::new(
        start..start + key.len(),
        format!("a colon is missing after `{key}`"),
        format!("write `{key}: {}…`", &rest[..1]),
    ))
}

/// A line that begins deeper than the `key: text` above it: YAML reads it as more of that text.
fn too_deep_a_line(before: &str, line: &str, line_start: usize) -> Option<Slip> {
    let (above, this) = (before.trim_start(), line.trim_start());
    let (key, text) = above.split_once(": ")?;
    let (indent, indent_above) = (line.len() - this.len(), before.len() - above.len());
    if indent <= indent_above || text.trim().is_empty() || this.matches(": ").count() > 1 {
        return None;
    }
    Some(Slip::new(
        line_start + indent_above..line_start + indent,
        format!("this line begins deeper than `{key}` above it, which makes it more of that text"),
        format!("begin it exactly below `{key}`"),
    ))
}

/// The last bracket that the line before the one at `here` opens and does not close.
fn left_open(text: &str, here: usize) -> Option<(usize, char)> {
    let line = text.get(..here)?.rfind('\n')?;
    let before = text.get(..line)?.trim_end();
    let start = before.rfind('\n').map_or(0, |at| at + 1);
    let mut open: Vec<(usize, char)> = Vec::new();
    let mut quote = None;
    let mut last = ' ';
    for (at, letter) in before.get(start..)?.char_indices() {
        match (quote, letter) {
            (Some(mark), _) if letter == mark => quote = None,
            (Some(_), _) => {}
            (None, '#') if last == ' ' => break,
            (None, '"' | '\'') if " [{,:".contains(last) => quote = Some(letter),
            (None, '{' | '[') => open.push((start + at, letter)),
            (None, '}' | ']') => {
                open.pop();
            }
            _ => {}
        }
        last = letter;
    }
    open.pop()
}

/// `{name: pump no #2}`: the comment takes the closing brace with it.
fn cut_by_comment(line: &str, line_start: usize) -> Option<Slip> {
    let at = line.find(" #")?;
    let (said, comment) = line.split_at(at);
    let open = said.matches(['{', '[']).count() > said.matches(['}', ']']).count();
    if !open || !comment.contains(['}', ']']) {
        return None;
    }
    let start = line_start + at + 1;
    Some(Slip::new(
        start..line_start + line.len(),
        "a space and `#` begin a comment: the rest of this line is not read, its closing bracket neither",
        "put the text in quotes if the `#` is part of it, or move the comment behind the bracket",
    ))
}

fn word_length(text: &str) -> usize {
    text.find([',', ']', '}', '\n', '\r']).map_or(text.len(), |end| text[..end].trim_end().len())
}

fn closing(open: char) -> char {
    if open == '[' { ']' } else { '}' }
}

fn floor(text: &str, mut at: usize) -> usize {
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}
