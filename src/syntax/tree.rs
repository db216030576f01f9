//! A file as a tree of located values.
//!
//! The whole tree is one list in the order of the text, and what stands in it is looked up there: the file of a large job
//! has hundreds of thousands of values, and a piece of memory for each would come to many times the file.

use std::sync::Arc;

use crate::source::{FileId, Keys, NODE_BITS, NodeId, Place, unquoted};

/// A file's tree.
#[derive(Clone, Debug)]
pub struct Tree {
    pub(super) file: FileId,
    pub(super) text: Arc<String>,
    pub(super) keys: Keys,
    /// The value of each node.
    pub(super) values: Vec<Written>,
    /// The texts that their stretch of the file does not say as they are meant: with escapes, or over several lines.
    pub(super) odd: Vec<Box<str>>,
}

/// A value as it stands in the text.
#[derive(Clone, Copy, Debug)]
pub(super) struct Written {
    start: u32,
    end: u32,
    /// Which kind of [`What`] it is in the upper bits, its number in as many of the lower ones as a node has.
    what: u32,
}

impl Written {
    pub(super) fn new(start: u32, end: u32, what: What) -> Self {
        let (kind, number) = match what {
            What::Empty => (0, 0),
            What::Text => (1, 0),
            What::Odd(n) => (2, n),
            What::Map { after } => (3, after),
            What::List { after } => (4, after),
            What::LeftOut { after } => (5, after),
        };
        Self { start, end, what: kind << NODE_BITS | number }
    }

    fn what(self) -> What {
        let number = self.what & ((1 << NODE_BITS) - 1);
        match self.what >> NODE_BITS {
            1 => What::Text,
            2 => What::Odd(number),
            3 => What::Map { after: number },
            4 => What::List { after: number },
            5 => What::LeftOut { after: number },
            _ => What::Empty,
        }
    }
}

/// What a value is; `after` is the first node that no longer belongs to it.
#[derive(Clone, Copy, Debug)]
pub(super) enum What {
    Empty,
    /// What stands between its start and its end, quotes apart.
    Text,
    /// A text by its number among the odd ones.
    Odd(u32),
    Map {
        after: u32,
    },
    List {
        after: u32,
    },
    /// It counts as not written: its key is no key, or stands in the map already.
    LeftOut {
        after: u32,
    },
}

/// One value with its place.
#[derive(Clone, Copy, Debug)]
pub struct Value<'t> {
    tree: &'t Tree,
    /// Where it stands; its node is the entry that holds it.
    pub place: Place,
    what: What,
}

/// What a value is.
#[derive(Clone, Debug)]
pub enum Data<'t> {
    /// Nothing written after the key.
    Empty,
    /// Text exactly as written, whatever YAML would make of it.
    Text(&'t str),
    /// Keys in the order of the file, none of them twice.
    Map(Entries<'t>),
    /// A list.
    List(Items<'t>),
}

/// A key with its value.
#[derive(Clone, Copy, Debug)]
pub struct Entry<'t> {
    /// The key as written.
    pub key: &'t str,
    /// Where the key stands.
    pub place: Place,
    /// The value.
    pub value: Value<'t>,
}

/// The items of a list, in order.
#[derive(Clone, Debug)]
pub struct Items<'t> {
    tree: &'t Tree,
    next: u32,
    after: u32,
}

/// The entries of a map, in order.
#[derive(Clone, Debug)]
pub struct Entries<'t>(Items<'t>);

impl Tree {
    /// The top.
    #[must_use]
    pub fn root(&self) -> Value<'_> {
        self.value(0)
    }

    fn value(&self, node: u32) -> Value<'_> {
        let nothing = Written::new(0, 0, What::Empty);
        let written = self.values.get(node as usize).copied().unwrap_or(nothing);
        let place = Place::new(self.file, NodeId(node), written.start..written.end);
        Value { tree: self, place, what: written.what() }
    }
}

impl<'t> Value<'t> {
    /// What it is.
    #[must_use]
    pub fn data(&self) -> Data<'t> {
        let inside = |after| Items { tree: self.tree, next: self.place.node().0 + 1, after };
        match self.what {
            What::Empty | What::LeftOut { .. } => Data::Empty,
            What::Text => Data::Text(unquoted(self.tree.text.get(self.place.bytes()).unwrap_or_default())),
            What::Odd(n) => Data::Text(self.tree.odd.get(n as usize).map_or("", |text| &**text)),
            What::Map { after } => Data::Map(Entries(inside(after))),
            What::List { after } => Data::List(inside(after)),
        }
    }

    /// Whether nothing is written after the key.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        matches!(self.what, What::Empty)
    }

    /// The text, if it is one.
    #[must_use]
    pub fn text(&self) -> Option<&'t str> {
        match self.data() {
            Data::Text(text) => Some(text),
            _ => None,
        }
    }

    /// The entries; none when it is no map.
    #[must_use]
    pub fn entries(&self) -> Entries<'t> {
        match self.data() {
            Data::Map(entries) => entries,
            _ => Entries(Items { tree: self.tree, next: 0, after: 0 }),
        }
    }

    /// The value of a key of a map.
    #[must_use]
    pub fn get(&self, key: &str) -> Option<Value<'t>> {
        self.entries().find(|entry| entry.key == key).map(|entry| entry.value)
    }

    /// What it is, in words for a message.
    #[must_use]
    pub fn shape(&self) -> &'static str {
        match self.data() {
            Data::Empty => "nothing",
            Data::Text(_) => "a text",
            Data::Map(_) => "a map of keys",
            Data::List(_) => "a list",
        }
    }
}

impl<'t> Iterator for Items<'t> {
    type Item = Value<'t>;

    fn next(&mut self) -> Option<Value<'t>> {
        while self.next < self.after {
            let value = self.tree.value(self.next);
            self.next = match value.what {
                What::Empty | What::Text | What::Odd(_) => self.next + 1,
                What::Map { after } | What::List { after } | What::LeftOut { after } => after,
            };
            if !matches!(value.what, What::LeftOut { .. }) {
                return Some(value);
            }
        }
        None
    }
}

impl<'t> Iterator for Entries<'t> {
    type Item = Entry<'t>;

    fn next(&mut self) -> Option<Entry<'t>> {
        let value = self.0.next()?;
        let tree = self.0.tree;
        let (key, at) = tree.keys.key(value.place.node(), &tree.text)?;
        Some(Entry { key, place: value.place.with(at), value })
    }
}
