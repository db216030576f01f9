//! A file as a tree of located values.

use crate::source::{FileId, Place};

/// A file's tree.
#[derive(Clone, Debug)]
pub struct Tree {
    /// The file.
    pub file: FileId,
    /// The top.
    pub root: Value,
}

/// One value with its place.
#[derive(Clone, Debug)]
pub struct Value {
    /// Where it stands; its node is the entry that holds it.
    pub place: Place,
    /// What it is.
    pub data: Data,
}

/// What a value is.
#[derive(Clone, Debug)]
pub enum Data {
    /// Nothing written after the key.
    Empty,
    /// Text exactly as written, whatever YAML would make of it.
    Text(Box<str>),
    /// Keys in the order of the file, none of them twice.
    Map(Vec<Entry>),
    /// A list.
    List(Vec<Value>),
}

/// A key with its value.
#[derive(Clone, Debug)]
pub struct Entry {
    /// The key as written.
    pub key: Box<str>,
    /// Where the key stands.
    pub place: Place,
    /// The value.
    pub value: Value,
}

impl Value {
    /// The text, if it is one.
    #[must_use]
    pub fn text(&self) -> Option<&str> {
        match &self.data {
            Data::Text(text) => Some(text),
            _ => None,
        }
    }

    /// The entries; none when it is no map.
    #[must_use]
    pub fn entries(&self) -> &[Entry] {
        match &self.data {
            Data::Map(entries) => entries,
            _ => &[],
        }
    }

    /// The value of a key of a map.
    #[must_use]
    pub fn get(&self, key: &str) -> Option<&Value> {
        self.entries().iter().find(|entry| &*entry.key == key).map(|entry| &entry.value)
    }

    /// What it is, in words for a message.
    #[must_use]
    pub fn shape(&self) -> &'static str {
        match &self.data {
            Data::Empty => "nothing",
            Data::Text(_) => "a text",
            Data::Map(_) => "a map of keys",
            Data::List(_) => "a list",
        }
    }
}
