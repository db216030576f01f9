//! One pass over the events of a file: the tree, the path of every entry, and every fault of the text.

use std::borrow::Cow;
use std::collections::HashMap;
use std::sync::Arc;

use granit_parser::{Event, Options, Parser, ScalarStyle, Span, StructureStyle};

use super::Faults;
use super::slips;
use super::tree::{Tree, What, Written};
use crate::source::{FileId, NODE_BITS, NodeId, Nodes, Place, Sources, small, unquoted};

/// How deep maps and lists may stand in one another.
pub const DEEPEST: usize = 64;

/// The note about a text that a comment cuts short.
pub const CUT_BY_COMMENT: &str = "cut-by-comment";

/// What is said of a file that is deeper.
pub fn too_deep() -> String {
    format!("maps and lists stand more than {DEEPEST} deep in one another")
}

/// How many keys and items one file may have.
const MOST_NODES: usize = 1_000_000;
const _: () = assert!(MOST_NODES + 1 < 1 << NODE_BITS);

/// How long a key may be, in bytes. Names stand in every message and on every sheet.
const LONGEST_KEY: usize = 1_000;

/// Reads the tree of a file that is among the sources. Without a tree there is at least one
/// fault; with one there may be faults too.
pub fn parse(sources: &mut Sources, file: FileId, faults: &mut Faults) -> Option<Tree> {
    parse_within(MOST_NODES, sources, file, faults)
}

/// The same for a file of at most so many keys and items.
fn parse_within(most: usize, sources: &mut Sources, file: FileId, faults: &mut Faults) -> Option<Tree> {
    let text = Arc::clone(&sources.file(file).text);
    let mut builder = Builder::new(most, file, &text);
    let whole = builder.run(faults);
    let Builder { nodes, mut values, odd, .. } = builder;
    sources.find_nodes_by(file, nodes_of);
    if !whole {
        return None;
    }
    values.shrink_to_fit();
    let tree = Tree { file, text, keys: nodes.into_keys(), values, odd };
    if tree.root().is_empty() {
        let start = Place::new(file, NodeId(0), 0..0);
        faults.error(
            start,
            "there is nothing in the file",
            "begin it with `job:` and, below it, `  title: …`",
        );
        return None;
    }
    Some(tree)
}

/// The keys and items of a text that was read before, for their paths; its faults have been told.
fn nodes_of(text: &str) -> Nodes {
    let mut builder = Builder::new(MOST_NODES, FileId(0), text);
    builder.run(&mut Faults::new());
    builder.nodes
}

struct Builder<'t> {
    most: usize,
    file: FileId,
    text: &'t str,
    nodes: Nodes,
    /// The value of each node, empty until it has come.
    values: Vec<Written>,
    odd: Vec<Box<str>>,
    open: Vec<Frame<'t>>,
    /// The keys so far of the maps that are open, those of the innermost map last.
    keys: Vec<(Cow<'t, str>, Place)>,
}

/// A map or list whose end has not come yet.
struct Frame<'t> {
    place: Place,
    /// Where the last thing in it ends.
    last: Option<u32>,
    content: Content<'t>,
}

enum Content<'t> {
    Map {
        /// Where its own keys begin among all.
        from: usize,
        /// Its keys once there are many.
        index: HashMap<Cow<'t, str>, Place>,
        key: Option<Key>,
    },
    /// A list of so many items as yet.
    List(u32),
}

/// A key whose value has not come yet.
#[derive(Clone, Copy)]
struct Key {
    place: Place,
    /// It stands in the map already, or is none: its value is read and left out.
    dropped: bool,
}

/// Why the reading of a file ends early; the fault has been reported.
struct Stop;

/// From how many entries on a map is searched by hash.
const INDEXED: usize = 12;

impl<'t> Builder<'t> {
    fn new(most: usize, file: FileId, text: &'t str) -> Self {
        let values = vec![Written::new(0, 0, What::Empty)];
        Self {
            most,
            file,
            text,
            nodes: Nodes::default(),
            values,
            odd: Vec::new(),
            open: Vec::new(),
            keys: Vec::new(),
        }
    }

    /// Whether the file was read to its end.
    fn run(&mut self, faults: &mut Faults) -> bool {
        let mut options = Options::default();
        options.set_emit_comments(false);
        options.emit_unresolved_aliases = true;
        options.emit_anchor_events = true;
        options.disallow_directives = !self.text.starts_with("%YAML 1.2");
        options.flow_nesting_limit = DEEPEST;
        options.block_nesting_limit = DEEPEST;
        let mut documents = 0;
        for event in Parser::new_from_str_with_options(self.text, options) {
            let (event, span) = match event {
                Ok(event) => event,
                Err(error) => {
                    let at = error.marker().byte_offset().unwrap_or(self.text.len());
                    let node = self.open.last().map_or(NodeId(0), |frame| frame.place.node());
                    slips::scan_error(self.text, self.file, node, error.kind(), at, faults);
                    return false;
                }
            };
            if matches!(event, Event::DocumentStart(..)) {
                documents += 1;
                if documents > 1 {
                    let place = self.place(&span, NodeId(0));
                    faults.error(
                        place,
                        "a second document begins here; a job file holds one job",
                        "take out the line `---`, or put the second job in a file of its own",
                    );
                    return false;
                }
            }
            if self.take(event, &span, faults).is_err() {
                return false;
            }
        }
        true
    }

    fn take(&mut self, event: Event<'t>, span: &Span, faults: &mut Faults) -> Result<(), Stop> {
        if let Some(tag) = span.tag_span() {
            let place = self.place(&tag, self.here());
            let written = self.text.get(place.bytes()).unwrap_or("!");
            faults.error(
                place,
                format!("`{written}` is a YAML tag; a job file has none"),
                "take it out, or put the whole text in quotes if it is part of a name",
            );
        }
        match event {
            Event::Scalar(text, style, _, _) => self.scalar(text, style, span, faults),
            Event::MappingStart(style, ..) => {
                let content = Content::Map { from: self.keys.len(), index: HashMap::new(), key: None };
                self.begin(content, style, span, faults)
            }
            Event::SequenceStart(style, ..) => self.begin(Content::List(0), style, span, faults),
            Event::MappingEnd | Event::SequenceEnd => {
                self.end(span);
                Ok(())
            }
            Event::Anchor(_, name) => {
                let place = self.place(span, self.here());
                faults.error(
                    place,
                    format!("`&{name}` is a YAML anchor; a job file has none"),
                    format!("take it out, or write \"&{name}\" in quotes if it is a name"),
                );
                Err(Stop)
            }
            Event::Alias(_) | Event::UnresolvedAlias(_) => {
                let place = self.place(span, self.here());
                let written = self.text.get(place.bytes()).unwrap_or("*");
                faults.error(
                    place,
                    format!("`{written}` is a YAML alias; a job file has none"),
                    format!("write the values out, or write \"{written}\" in quotes if it is a name"),
                );
                Err(Stop)
            }
            _ => Ok(()),
        }
    }

    fn scalar(
        &mut self,
        text: Cow<'t, str>,
        style: ScalarStyle,
        span: &Span,
        faults: &mut Faults,
    ) -> Result<(), Stop> {
        let place = self.place(span, self.here());
        let written = self.text.get(place.bytes()).unwrap_or_default();
        let empty =
            style == ScalarStyle::Plain && (text.is_empty() || (text == "~" && !written.starts_with('~')));
        if let Some(Frame { content: Content::Map { key: None, .. }, place: map, .. }) = self.open.last() {
            return self.key(*map, text, empty, place, faults);
        }
        let place = place.of_node(self.next_node(faults, place)?);
        if style == ScalarStyle::Plain {
            self.note_cut(place, faults);
        }
        // Only an escape brings one in: the file itself was looked through when it was decoded.
        if let Some(strange) = text.chars().find(|c| c.is_control() && !matches!(c, '\n' | '\t')) {
            faults.strange(place, strange, "text");
        }
        // A refused tag has been reported; what stands under it counts as said.
        let what = if empty && span.tag_start().is_none() {
            What::Empty
        } else if unquoted(written) == text {
            What::Text
        } else {
            self.odd.push(text.into());
            What::Odd(small(self.odd.len() - 1))
        };
        self.add(place, what);
        Ok(())
    }

    /// Settles the key that has just come.
    fn key(
        &mut self,
        map: Place,
        text: Cow<'t, str>,
        empty: bool,
        place: Place,
        faults: &mut Faults,
    ) -> Result<(), Stop> {
        let told = text.get(..text.floor_char_boundary(LONGEST_KEY)).unwrap_or_default();
        self.room(place, faults)?;
        let place = place.of_node(self.nodes.add_key(map.node(), place.start..place.end, told, self.text));
        self.values.push(Written::new(place.start, place.end, What::Empty));
        let Some(Frame { content: Content::Map { from, index, key }, .. }) = self.open.last_mut() else {
            return Ok(());
        };
        let own = self.keys.get(*from..).unwrap_or_default();
        let twin = if index.is_empty() {
            own.iter().find(|(known, _)| *known == text).map(|(_, first)| *first)
        } else {
            index.get(&text).copied()
        };
        let long = told.len() < text.len();
        let strange = text.chars().find(|c| c.is_control());
        *key = Some(Key {
            place,
            dropped: long || empty || text == "<<" || twin.is_some() || strange.is_some(),
        });
        if let Some(strange) = strange {
            faults.strange(place, strange, "name");
        } else if long {
            faults.error(
                place,
                format!("this key has {} characters; no name is so long", text.chars().count()),
                "shorten it, or close the quotation mark that it begins with",
            );
        } else if empty {
            faults.error(place, "a name is missing before this colon", "write the key, or take the line out");
        } else if text == "<<" {
            faults.error(
                place,
                "`<<` merges maps in YAML; a job file has no merging",
                "write the keys out, or use a data sheet under `data_sheets:` for what devices share",
            );
        } else if let Some(first) = twin {
            faults.error_at(
                vec![(place, "again here".into()), (first, "first here".into())],
                format!("`{text}` stands twice in one map"),
                "rename one of the two, or take one out",
            );
        } else if index.is_empty() {
            self.keys.push((text, place));
            if self.keys.len() - *from == INDEXED {
                index.extend(self.keys.drain(*from..));
            }
        } else {
            index.insert(text, place);
        }
        Ok(())
    }

    fn begin(
        &mut self,
        content: Content<'t>,
        style: StructureStyle,
        span: &Span,
        faults: &mut Faults,
    ) -> Result<(), Stop> {
        let place = self.place(span, self.here());
        if let Some(Frame { content: Content::Map { key: None, .. }, .. }) = self.open.last() {
            let fix = match style {
                StructureStyle::Flow => "write the key as plain text; a name with brackets goes in quotes",
                StructureStyle::Block => "write the key as plain text",
            };
            faults.error(place, "a list or a map stands where a key should", fix);
            return Err(Stop);
        }
        if self.open.len() >= DEEPEST {
            faults.error(place, too_deep(), slips::TOO_DEEP_FIX);
            return Err(Stop);
        }
        let place = place.of_node(self.next_node(faults, place)?);
        self.open.push(Frame { place, last: None, content });
        Ok(())
    }

    fn end(&mut self, span: &Span) {
        let Some(Frame { mut place, last, content }) = self.open.pop() else { return };
        // The end of a block runs to the next token; the last thing in it is the end that a reader sees.
        let end = self.place(span, place.node());
        let bracket = self.text.get(end.bytes()).is_some_and(|t| t == "]" || t == "}");
        place.end = if bracket { end.end } else { last.unwrap_or(place.start).max(place.start) };
        let after = small(self.values.len());
        let what = match content {
            Content::Map { from, .. } => {
                self.keys.truncate(from);
                What::Map { after }
            }
            Content::List(_) => What::List { after },
        };
        self.add(place, what);
    }

    /// Puts a finished value where it belongs.
    fn add(&mut self, place: Place, mut what: What) {
        let end = match self.open.last_mut() {
            None => None,
            Some(Frame { content: Content::List(count), last, .. }) => {
                *count += 1;
                Some((last, place.end))
            }
            Some(Frame { content: Content::Map { key, .. }, last, .. }) => match key.take() {
                Some(Key { place: key, dropped: false }) => Some((last, place.end.max(key.end))),
                _ => {
                    what = What::LeftOut { after: small(self.values.len()) };
                    None
                }
            },
        };
        if let Some((last, end)) = end {
            *last = Some(end);
        }
        if let Some(value) = self.values.get_mut(place.node().0 as usize) {
            *value = Written::new(place.start, place.end, what);
        }
    }

    /// `no #2` ends before the `#`; where a figure follows it, that was hardly meant.
    fn note_cut(&self, place: Place, faults: &mut Faults) {
        let rest = self.text.get(place.end as usize..).unwrap_or_default();
        let comment = rest.trim_start_matches([' ', '\t']);
        let figure = comment.strip_prefix('#').is_some_and(|c| c.starts_with(|c: char| c.is_ascii_digit()));
        if !figure || comment.len() == rest.len() {
            return;
        }
        let end = comment.find(['\n', '\r', '}', ']', ',']).unwrap_or(comment.len());
        let line = comment[..end].trim_end();
        let said = self.text.get(place.bytes()).unwrap_or_default();
        faults.note(
            CUT_BY_COMMENT,
            vec![(place, "this is all that is read".into())],
            format!("the text ends before `{line}`: a space and `#` begin a comment"),
            format!("write \"{said} {line}\" in quotes if it belongs to the text"),
        );
    }

    /// The entry that the value to come belongs to.
    fn next_node(&mut self, faults: &mut Faults, place: Place) -> Result<NodeId, Stop> {
        match self.open.last() {
            None => Ok(NodeId(0)),
            Some(Frame { content: Content::Map { key, .. }, place: map, .. }) => {
                Ok(key.map_or(map.node(), |key| key.place.node()))
            }
            Some(Frame { content: Content::List(count), place: list, .. }) => {
                let (list, count) = (list.node(), *count);
                self.room(place, faults)?;
                self.values.push(Written::new(place.start, place.end, What::Empty));
                Ok(self.nodes.add_item(list, count))
            }
        }
    }

    /// Whether one more entry is still within what a file may have.
    fn room(&self, place: Place, faults: &mut Faults) -> Result<(), Stop> {
        if self.nodes.count() <= self.most {
            return Ok(());
        }
        faults.error(
            place,
            format!("the file has more than {} keys and items", self.most),
            "split the job into several job files",
        );
        Err(Stop)
    }

    /// The entry that is being read.
    fn here(&self) -> NodeId {
        match self.open.last() {
            None => NodeId(0),
            Some(Frame { content: Content::Map { key: Some(key), .. }, .. }) => key.place.node(),
            Some(frame) => frame.place.node(),
        }
    }

    fn place(&self, span: &Span, node: NodeId) -> Place {
        let range = span.byte_range().unwrap_or_default();
        let start = small(range.start.min(self.text.len()));
        let end = small(range.end.min(self.text.len()));
        Place::new(self.file, node, start..end.max(start))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(most: usize, text: &str) -> Vec<String> {
        let (mut sources, mut faults) = (Sources::new(), Faults::new());
        let file = sources.add("job.yaml", text);
        let tree = parse_within(most, &mut sources, file, &mut faults);
        assert_eq!(tree.is_none(), faults.any_error());
        faults.into_findings().into_iter().map(|finding| finding.message.to_string()).collect()
    }

    #[test]
    fn keys_and_items_are_counted() {
        let text = "a: [1, 2, {b: 3}]\nc: 4\n";
        assert_eq!(told(6, text), Vec::<String>::new());
        assert_eq!(told(5, text), ["the file has more than 5 keys and items"]);
    }

    #[test]
    fn places_end_where_a_reader_sees_the_end() {
        let text = "a:\n  b: [1, 2]\n  c:\n    - x\n\n# said\nd: {e: 'f'}\n";
        let (mut sources, mut faults) = (Sources::new(), Faults::new());
        let file = sources.add("job.yaml", text);
        let tree = parse(&mut sources, file, &mut faults);
        let seen = |path: &[&str]| {
            let value = path.iter().try_fold(tree.as_ref()?.root(), |value, key| value.get(key))?;
            Some((sources.text(value.place), sources.locate(value.place).path))
        };
        assert_eq!(seen(&["a"]), Some(("b: [1, 2]\n  c:\n    - x", "a".to_owned())));
        assert_eq!(seen(&["a", "b"]), Some(("[1, 2]", "a.b".to_owned())));
        assert_eq!(seen(&["a", "c"]), Some(("- x", "a.c".to_owned())));
        assert_eq!(seen(&["d"]), Some(("{e: 'f'}", "d".to_owned())));
        assert_eq!(seen(&["d", "e"]), Some(("'f'", "d.e".to_owned())));
    }
}
