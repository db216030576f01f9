//! The text of every file that was read, and the places in it.
//!
//! A [`Place`] is small and can be copied into every later value; the file name, path, line and column come from
//! [`Sources`] when somebody asks.

use std::ops::Range;
use std::sync::{Arc, OnceLock};

/// One file that was read: its number in [`Sources`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FileId(pub u16);

/// One key or item in the tree of a file: its number among [`File::nodes`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct NodeId(pub u32);

/// Where a value was written: a stretch of bytes and the entry of the file's tree that it belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Place {
    /// The file in the upper bits, the entry in the lower ones: a large job has a hundred thousand places.
    entry: u32,
    /// First byte, counted in the text without its byte-order mark.
    pub start: u32,
    /// The byte after the last.
    pub end: u32,
}

/// In so many bits the number of an entry stands in a [`Place`]; `syntax` takes no file with more entries.
pub const NODE_BITS: u32 = 20;

impl Place {
    /// A stretch of bytes that belongs to an entry of a file; node 0 is the whole file.
    #[must_use]
    pub fn new(file: FileId, node: NodeId, bytes: Range<u32>) -> Self {
        let entry = u32::from(file.0) << NODE_BITS | node.0;
        Self { entry, start: bytes.start, end: bytes.end }
    }

    /// The file.
    #[must_use]
    pub fn file(&self) -> FileId {
        FileId((self.entry >> NODE_BITS) as u16)
    }

    /// The entry it belongs to.
    #[must_use]
    pub fn node(&self) -> NodeId {
        NodeId(self.entry & ((1 << NODE_BITS) - 1))
    }

    /// The same bytes as those of another entry of the file.
    #[must_use]
    pub fn of_node(self, node: NodeId) -> Self {
        Self::new(self.file(), node, self.start..self.end)
    }

    /// Another stretch of bytes that belongs to the same entry.
    #[must_use]
    pub fn with(self, bytes: Range<u32>) -> Self {
        Self { start: bytes.start, end: bytes.end, ..self }
    }

    /// The stretch of bytes.
    #[must_use]
    pub fn bytes(&self) -> Range<usize> {
        self.start as usize..self.end as usize
    }
}

/// The keys and items of a file, in the order of its text; the first is the whole file.
#[derive(Clone, Debug)]
pub struct Nodes {
    /// By node: the entry that holds it; the root is its own parent.
    parents: Vec<NodeId>,
    keys: Keys,
}

/// What leads to each key and item of a file. A large job has hundreds of thousands of them: what a key says is looked up
/// in the text.
#[derive(Clone, Debug)]
pub struct Keys {
    steps: Vec<Step>,
    /// Keys that their stretch of the text does not say as they are meant.
    odd: Vec<OddKey>,
}

/// What leads from the parent to an entry.
#[derive(Clone, Copy, Debug)]
enum Step {
    /// The top of the file.
    Root,
    /// The key that stands there in the text.
    Key { start: u32, length: u16 },
    /// The same, by its number among the odd ones.
    OddKey(u32),
    /// The number of an item in a list, from 0.
    Item(u32),
}

/// A key with escapes, over several lines or very long.
#[derive(Clone, Debug)]
struct OddKey {
    start: u32,
    end: u32,
    text: Box<str>,
}

impl Default for Nodes {
    fn default() -> Self {
        Self { parents: vec![NodeId(0)], keys: Keys { steps: vec![Step::Root], odd: Vec::new() } }
    }
}

impl Nodes {
    /// How many there are, the whole file among them.
    #[must_use]
    pub fn count(&self) -> usize {
        self.parents.len()
    }

    /// Adds the key that stands at a place of the file's text.
    pub fn add_key(&mut self, parent: NodeId, at: Range<u32>, key: &str, text: &str) -> NodeId {
        let written = text.get(at.start as usize..at.end as usize).map(unquoted);
        let step = match u16::try_from(at.end - at.start) {
            Ok(length) if written == Some(key) => Step::Key { start: at.start, length },
            _ => {
                self.keys.odd.push(OddKey { start: at.start, end: at.end, text: key.into() });
                Step::OddKey(small(self.keys.odd.len() - 1))
            }
        };
        self.add(parent, step)
    }

    /// Adds an item of a list.
    pub fn add_item(&mut self, parent: NodeId, number: u32) -> NodeId {
        self.add(parent, Step::Item(number))
    }

    fn add(&mut self, parent: NodeId, step: Step) -> NodeId {
        self.parents.push(parent);
        self.keys.steps.push(step);
        NodeId(small(self.parents.len() - 1))
    }

    /// What is left for one who goes through the tree from its top; none are added any more.
    #[must_use]
    pub fn into_keys(mut self) -> Keys {
        self.keys.steps.shrink_to_fit();
        self.keys
    }
}

impl Keys {
    /// What a key says, and where it stands in the text; `None` for an item or the whole file.
    #[must_use]
    pub fn key<'t>(&'t self, node: NodeId, text: &'t str) -> Option<(&'t str, Range<u32>)> {
        match *self.steps.get(node.0 as usize)? {
            Step::Root | Step::Item(_) => None,
            Step::Key { start, length } => {
                let end = start + u32::from(length);
                let written = text.get(start as usize..end as usize).unwrap_or_default();
                Some((unquoted(written), start..end))
            }
            Step::OddKey(n) => self.odd.get(n as usize).map(|key| (&*key.text, key.start..key.end)),
        }
    }
}

/// A key or text as its stretch of the file says it: without the quotes round it.
#[must_use]
pub fn unquoted(written: &str) -> &str {
    let inside = |quote| written.strip_prefix(quote).and_then(|rest: &str| rest.strip_suffix(quote));
    inside('"').or_else(|| inside('\'')).unwrap_or(written)
}

/// One file: its name as the user would write it, its text and its tree.
#[derive(Clone, Debug)]
pub struct File {
    /// The name, as given on the command line or under `use:`.
    pub name: String,
    /// The text, without a byte-order mark.
    pub text: Arc<String>,
    /// Where its lines begin, once a line was asked for: while a job is checked nobody does.
    lines: OnceLock<Vec<u32>>,
    /// Its keys and items, once a path was asked for. Those of a large job take as much memory as its text, and few who
    /// read a job ever ask.
    nodes: OnceLock<Nodes>,
    /// How they are found in the text; told by `syntax`.
    find_nodes: fn(&str) -> Nodes,
}

/// A place as people read it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Location {
    /// The file's name.
    pub file: String,
    /// The path in the file's tree, such as `devices.K1.unused` or `cables.W1.cores.red[0]`.
    pub path: String,
    /// The line, from 1.
    pub line: usize,
    /// The column in characters, from 1.
    pub column: usize,
}

/// All files that were read for one job.
#[derive(Clone, Debug, Default)]
pub struct Sources {
    files: Vec<File>,
}

impl Sources {
    /// No files.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Takes a file in. `text` must be free of a byte-order mark.
    pub fn add(&mut self, name: impl Into<String>, text: impl Into<String>) -> FileId {
        // What was read without knowing its length has room for as much again.
        let mut text: String = text.into();
        text.shrink_to_fit();
        let find_nodes = |_: &str| Nodes::default();
        self.files.push(File {
            name: name.into(),
            text: Arc::new(text),
            lines: OnceLock::new(),
            nodes: OnceLock::new(),
            find_nodes,
        });
        FileId(u16::try_from(self.files.len() - 1).unwrap_or(u16::MAX))
    }

    /// The number that the next file will have.
    #[must_use]
    pub fn next_id(&self) -> FileId {
        FileId(u16::try_from(self.files.len()).unwrap_or(u16::MAX))
    }

    /// The file of that number.
    ///
    /// # Panics
    /// If `id` came from other `Sources`.
    #[must_use]
    pub fn file(&self, id: FileId) -> &File {
        &self.files[usize::from(id.0)]
    }

    /// Says how the keys and items of a file are found in its text, for one who asks for a path.
    ///
    /// # Panics
    /// If `id` came from other `Sources`.
    pub fn find_nodes_by(&mut self, id: FileId, find_nodes: fn(&str) -> Nodes) {
        self.files[usize::from(id.0)].find_nodes = find_nodes;
    }

    /// Takes the text of a file away, for one who [brings it back](Self::bring_text) before a place in it is told.
    ///
    /// # Panics
    /// If `id` came from other `Sources`.
    pub fn take_text(&mut self, id: FileId) -> Arc<String> {
        std::mem::take(&mut self.files[usize::from(id.0)].text)
    }

    /// Brings the text of a file back that was taken away.
    ///
    /// # Panics
    /// If `id` came from other `Sources`.
    pub fn bring_text(&mut self, id: FileId, text: String) {
        self.files[usize::from(id.0)].text = Arc::new(text);
    }

    /// The place as people read it.
    #[must_use]
    pub fn locate(&self, place: Place) -> Location {
        let file = self.file(place.file());
        let (line, column) = file.line_column(place.start);
        Location { file: file.name.clone(), path: file.path(place.node()), line, column }
    }

    /// The text at a place.
    #[must_use]
    pub fn text(&self, place: Place) -> &str {
        self.file(place.file()).text.get(place.bytes()).unwrap_or_default()
    }
}

impl File {
    /// Line and column (in characters), both from 1, of a byte.
    #[must_use]
    pub fn line_column(&self, at: u32) -> (usize, usize) {
        let lines = self.lines.get_or_init(|| line_starts(&self.text));
        let line = lines.partition_point(|start| *start <= at).max(1);
        let start = lines[line - 1] as usize;
        let before = self.text.get(start..at as usize).unwrap_or_default();
        (line, before.chars().count() + 1)
    }

    /// The path of an entry: keys joined by dots, items in brackets.
    #[must_use]
    pub fn path(&self, node: NodeId) -> String {
        let nodes = self.nodes.get_or_init(|| (self.find_nodes)(&self.text));
        let mut steps = Vec::new();
        let mut at = node;
        while let Some(parent) = nodes.parents.get(at.0 as usize).filter(|_| at != NodeId(0)) {
            steps.push(at);
            at = *parent;
        }
        let mut path = String::new();
        for node in steps.into_iter().rev() {
            if let Some(Step::Item(number)) = nodes.keys.steps.get(node.0 as usize) {
                path.push_str(&format!("[{number}]"));
            } else if let Some((key, _)) = nodes.keys.key(node, &self.text) {
                if !path.is_empty() {
                    path.push('.');
                }
                path.push_str(key);
            }
        }
        path
    }
}

/// Where each line of a text begins.
fn line_starts(text: &str) -> Vec<u32> {
    let bytes = text.as_bytes();
    let mut lines = vec![0];
    for (i, byte) in bytes.iter().enumerate() {
        let lone_return = *byte == b'\r' && bytes.get(i + 1) != Some(&b'\n');
        if *byte == b'\n' || lone_return {
            lines.push(small(i + 1));
        }
    }
    lines
}

/// A count, an index or a place in a text as one of the small numbers that everything is kept in: no job comes near
/// their end.
#[must_use]
pub fn small(number: usize) -> u32 {
    u32::try_from(number).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_and_columns_count_characters() {
        let mut sources = Sources::new();
        let id = sources.add("a.yaml", "é: 1\r\nb: 2\rc: 3\n");
        let file = sources.file(id);
        assert_eq!(file.line_column(0), (1, 1));
        assert_eq!(file.line_column(2), (1, 2));
        assert_eq!(file.line_column(7), (2, 1));
        assert_eq!(file.line_column(12), (3, 1));
    }
}
