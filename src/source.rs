//! The text of every file that was read, and the places in it.
//!
//! A [`Place`] is small and can be copied into every later value; the file name, path, line and column come from
//! [`Sources`] when somebody asks.

use std::ops::Range;

/// One file that was read: its number in [`Sources`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FileId(pub u16);

/// One key or item in the tree of a file: its number in [`File::nodes`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct NodeId(pub u32);

/// Where a value was written: a stretch of bytes and the entry of the file's tree that it belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Place {
    /// The file.
    pub file: FileId,
    /// The entry it belongs to; node 0 is the whole file.
    pub node: NodeId,
    /// First byte, counted in the text without its byte-order mark.
    pub start: u32,
    /// The byte after the last.
    pub end: u32,
}

impl Place {
    /// The stretch of bytes.
    #[must_use]
    pub fn bytes(&self) -> Range<usize> {
        self.start as usize..self.end as usize
    }
}

/// One entry of a file's tree: a key with its value, or an item of a list.
#[derive(Clone, Debug)]
pub struct Node {
    /// The entry that holds this one; the root is its own parent.
    pub parent: NodeId,
    /// What leads from the parent to here.
    pub step: Step,
}

/// A step of a path.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Step {
    /// The top of the file.
    Root,
    /// The key of a map.
    Key(Box<str>),
    /// The number of an item in a list, from 0.
    Item(u32),
}

/// One file: its name as the user would write it, its text and its tree.
#[derive(Clone, Debug)]
pub struct File {
    /// The name, as given on the command line or under `use:`.
    pub name: String,
    /// The text, without a byte-order mark.
    pub text: String,
    /// The tree; entry 0 is the root. Filled by `syntax`.
    pub nodes: Vec<Node>,
    lines: Vec<u32>,
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
        let text = text.into();
        let mut lines = vec![0];
        let bytes = text.as_bytes();
        for (i, byte) in bytes.iter().enumerate() {
            let lone_return = *byte == b'\r' && bytes.get(i + 1) != Some(&b'\n');
            if *byte == b'\n' || lone_return {
                lines.push(offset(i + 1));
            }
        }
        let root = Node { parent: NodeId(0), step: Step::Root };
        self.files.push(File { name: name.into(), text, nodes: vec![root], lines });
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

    /// The same, to fill its tree.
    ///
    /// # Panics
    /// If `id` came from other `Sources`.
    pub fn file_mut(&mut self, id: FileId) -> &mut File {
        &mut self.files[usize::from(id.0)]
    }

    /// The place as people read it.
    #[must_use]
    pub fn locate(&self, place: Place) -> Location {
        let file = self.file(place.file);
        let (line, column) = file.line_column(place.start);
        Location { file: file.name.clone(), path: file.path(place.node), line, column }
    }

    /// The text at a place.
    #[must_use]
    pub fn text(&self, place: Place) -> &str {
        self.file(place.file).text.get(place.bytes()).unwrap_or_default()
    }
}

impl File {
    /// Line and column (in characters), both from 1, of a byte.
    #[must_use]
    pub fn line_column(&self, at: u32) -> (usize, usize) {
        let line = self.lines.partition_point(|start| *start <= at).max(1);
        let start = self.lines[line - 1] as usize;
        let before = self.text.get(start..at as usize).unwrap_or_default();
        (line, before.chars().count() + 1)
    }

    /// The path of an entry: keys joined by dots, items in brackets.
    #[must_use]
    pub fn path(&self, node: NodeId) -> String {
        let mut steps = Vec::new();
        let mut at = node;
        while let Some(entry) = self.nodes.get(at.0 as usize) {
            if entry.step == Step::Root {
                break;
            }
            steps.push(&entry.step);
            at = entry.parent;
        }
        let mut path = String::new();
        for step in steps.into_iter().rev() {
            match step {
                Step::Root => {}
                Step::Key(key) => {
                    if !path.is_empty() {
                        path.push('.');
                    }
                    path.push_str(key);
                }
                Step::Item(n) => path.push_str(&format!("[{n}]")),
            }
        }
        path
    }
}

fn offset(at: usize) -> u32 {
    u32::try_from(at).unwrap_or(u32::MAX)
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
