//! Reading a map key by key.

use super::Faults;
use super::slips::NO_BREAK_SPACE;
use super::tree::{Data, Entry, Value};
use crate::source::Place;
use crate::units::{self, Quantity, Span};

/// A map that is asked for its keys; at the end every key that nobody asked for is reported.
pub struct Fields<'v> {
    what: String,
    place: Place,
    /// Each entry, and whether its key was asked for.
    entries: Vec<(Entry<'v>, bool)>,
    known: Vec<&'static str>,
}

/// A text and where it stands.
#[derive(Clone, Copy, Debug)]
pub struct Said<'v> {
    /// The text, trimmed of nothing.
    pub text: &'v str,
    /// Where it stands.
    pub place: Place,
}

impl<'v> Fields<'v> {
    /// Begins to read a map. `what` names it in messages, such as "a device". Anything but a map is reported; an empty
    /// value is an empty map.
    pub fn open(value: Value<'v>, what: impl Into<String>, faults: &mut Faults) -> Option<Self> {
        let what = what.into();
        match value.data() {
            Data::Map(entries) => Some(Self::of(entries, value.place, what)),
            Data::Empty => Some(Self::of(Vec::new(), value.place, what)),
            _ => {
                let fix =
                    "write keys with their values, each on a line of its own or in braces: `{key: value}`";
                not_a_map(value, &what, fix, faults);
                None
            }
        }
    }

    /// Begins to read entries that were brought together from several maps.
    #[must_use]
    pub fn of(entries: impl IntoIterator<Item = Entry<'v>>, place: Place, what: impl Into<String>) -> Self {
        let entries = entries.into_iter().map(|entry| (entry, false)).collect();
        Self { what: what.into(), place, entries, known: Vec::new() }
    }

    /// What the map is, as messages call it.
    #[must_use]
    pub fn what(&self) -> &str {
        &self.what
    }

    /// Where the map stands.
    #[must_use]
    pub fn place(&self) -> Place {
        self.place
    }

    /// The entry of a key, whatever its value.
    pub fn entry(&mut self, key: &'static str) -> Option<Entry<'v>> {
        self.known.push(key);
        let (entry, asked) = self.entries.iter_mut().find(|(entry, _)| entry.key == key)?;
        *asked = true;
        Some(*entry)
    }

    /// Whether any of these keys has a value; none of them is read yet.
    pub fn any_of(&mut self, keys: &[&'static str]) -> bool {
        self.known.extend(keys);
        let mut entries = self.entries.iter();
        entries.any(|(entry, _)| keys.contains(&entry.key) && !entry.value.is_empty())
    }

    /// The value of a key; a key without a value counts as absent.
    pub fn value(&mut self, key: &'static str) -> Option<Value<'v>> {
        self.entry(key).map(|entry| entry.value).filter(|value| !value.is_empty())
    }

    /// The text of a key.
    pub fn text(&mut self, key: &'static str, faults: &mut Faults) -> Option<Said<'v>> {
        let value = self.value(key)?;
        let said = said(value);
        if said.is_none() {
            let message = format!("`{key}` takes one value; here stands {}", value.shape());
            faults.error(
                value.place,
                message,
                format!("write `{key}: value`; a text with `: ` or `, ` goes in quotes"),
            );
        }
        said
    }

    /// The text of a key that stands on a label: on one line.
    pub fn label(&mut self, key: &'static str, faults: &mut Faults) -> Option<Said<'v>> {
        self.text(key, faults).map(|said| on_one_line(said, faults))
    }

    /// A text that must be there.
    pub fn needed_text(&mut self, key: &'static str, faults: &mut Faults) -> Option<Said<'v>> {
        if self.value(key).is_none() {
            self.missing(key, faults);
            return None;
        }
        self.text(key, faults)
    }

    /// Reports that a key is missing.
    pub fn missing(&self, key: &str, faults: &mut Faults) {
        faults.error(self.place, format!("{} has no `{key}`", self.what), format!("add `{key}:`"));
    }

    /// A quantity.
    pub fn quantity<Q: Quantity>(&mut self, key: &'static str, faults: &mut Faults) -> Option<Q> {
        let said = self.text(key, faults)?;
        unread(units::quantity(said.text), key, said, faults)
    }

    /// A range, or a single quantity as a range of itself.
    pub fn span<Q: Quantity>(&mut self, key: &'static str, faults: &mut Faults) -> Option<Span<Q>> {
        let said = self.text(key, faults)?;
        unread(units::span(said.text), key, said, faults)
    }

    /// A whole number from 1 to `most`.
    pub fn count(&mut self, key: &'static str, most: u32, faults: &mut Faults) -> Option<u32> {
        let said = self.text(key, faults)?;
        let number = said.text.trim().parse().ok().filter(|n| (1..=most).contains(n));
        if number.is_none() {
            let message = format!("`{key}` is a whole number from 1 to {most}; here stands `{}`", said.text);
            faults.error(said.place, message, format!("write a number, as in `{key}: 2`"));
        }
        number
    }

    /// `true` or `false`; absent is false.
    pub fn flag(&mut self, key: &'static str, faults: &mut Faults) -> bool {
        self.switch(key, faults).unwrap_or(false)
    }

    /// `true` or `false`.
    pub fn switch(&mut self, key: &'static str, faults: &mut Faults) -> Option<bool> {
        const WORDS: &[(&str, bool)] =
            &[("true", true), ("false", false), ("yes", true), ("no", false), ("on", true), ("off", false)];
        self.choice(key, WORDS, faults)
    }

    /// One of a few words.
    pub fn choice<T: Copy>(
        &mut self,
        key: &'static str,
        words: &[(&str, T)],
        faults: &mut Faults,
    ) -> Option<T> {
        let said = self.text(key, faults)?;
        choose(said, &format!("`{key}`"), words, faults)
    }

    /// The texts of a list; a single text is a list of one.
    pub fn texts(&mut self, key: &'static str, faults: &mut Faults) -> Vec<Said<'v>> {
        let Some(value) = self.value(key) else { return Vec::new() };
        texts(value, &format!("`{key}`"), faults)
    }

    /// Whether a key that is not there stands there misspelt: that is reported when the map is finished.
    #[must_use]
    pub fn misspelt(&self, key: &'static str, faults: &Faults) -> bool {
        let present = self.entries.iter().any(|(entry, _)| entry.key == key);
        !present && self.entries.iter().any(|(entry, _)| faults.nearest(entry.key, [key]).is_some())
    }

    /// Reports every key that was not asked for.
    pub fn finish(self, faults: &mut Faults) {
        // `any_of` makes a key known without reading it.
        let unknown = |(entry, asked): &(Entry<'_>, bool)| !*asked && !self.known.contains(&entry.key);
        if !self.entries.iter().any(unknown) {
            return;
        }
        let mut known: Vec<&str> = Vec::new();
        for key in &self.known {
            if !known.contains(key) {
                known.push(key);
            }
        }
        for (at, (entry, _)) in self.entries.iter().enumerate().filter(|(_, field)| unknown(field)) {
            let before = at.checked_sub(1).and_then(|at| self.entries.get(at)).map(|(before, _)| *before);
            let fix = run_together(*entry, &known)
                .or_else(|| {
                    faults
                        .nearest(entry.key, known.iter().copied())
                        .map(|near| format!("did you mean `{near}`?"))
                })
                .or_else(|| before.and_then(|before| cut_by_comma(before, *entry)))
                .unwrap_or_else(|| format!("known here: {}", listed(known.iter().copied())));
            faults.error(entry.place, format!("{} has no key `{}`", self.what, entry.key), fix);
        }
    }
}

/// `type:fuse`, `type = fuse` or `type fuse` in braces is all key and no value: how to part the two. A key may also begin
/// with what looks like a space.
fn run_together(entry: Entry<'_>, known: &[&str]) -> Option<String> {
    if entry.key.starts_with(NO_BREAK_SPACE) {
        return Some("it begins with a no-break space; delete that and type a space".to_owned());
    }
    let (key, text) = entry.key.split_once([':', '=', ' ']).filter(|_| entry.value.is_empty())?;
    let (key, text) = (key.trim(), text.trim_start_matches([':', '=', ' ']));
    known.contains(&key).then(|| format!("write `{key}: {text}`, with a colon and a space after it"))
}

/// In braces a comma begins a new key: what to write when `entry` belongs to the text before it.
fn cut_by_comma(before: Entry<'_>, entry: Entry<'_>) -> Option<String> {
    let text = before.value.text().filter(|_| entry.value.is_empty())?;
    let (key, rest) = (before.key, entry.key);
    if text.ends_with(|c: char| c.is_ascii_digit()) && rest.starts_with(|c: char| c.is_ascii_digit()) {
        return Some(format!("write a decimal point: `{key}: {text}.{rest}`"));
    }
    Some(format!("a text with a comma goes in quotes: `{key}: \"{text}, {rest}\"`"))
}

/// Reports that something else stands where a map should, with the slip that may be behind it.
pub fn not_a_map(value: Value<'_>, what: &str, fix: &str, faults: &mut Faults) {
    if let Some((key, rest)) = value.text().and_then(|text| text.split_once(':'))
        && !key.contains(char::is_whitespace)
        && !rest.is_empty()
    {
        let message = format!("a space is missing after `{key}:`");
        faults.error(value.place, message, format!("write `{key}: {}`", rest.trim_start()));
        return;
    }
    faults.error(value.place, format!("{what} is a map of keys; here stands {}", value.shape()), fix);
}

/// The text of a value, if it is one.
#[must_use]
pub fn said(value: Value<'_>) -> Option<Said<'_>> {
    value.text().map(|text| Said { text, place: value.place })
}

/// A text without space around it; a line break or a tab in it is reported.
pub fn on_one_line<'v>(said: Said<'v>, faults: &mut Faults) -> Said<'v> {
    let text = said.text.trim();
    if let Some(strange) = text.chars().find(|c| matches!(c, '\n' | '\t')) {
        faults.strange(said.place, strange, "name");
    }
    Said { text, ..said }
}

/// The texts of a list; a single text is a list of one. Anything else in it is reported.
pub fn texts<'v>(value: Value<'v>, what: &str, faults: &mut Faults) -> Vec<Said<'v>> {
    let mut found = Vec::new();
    match value.data() {
        Data::List(items) => {
            for item in items {
                match said(item) {
                    Some(said) => found.push(said),
                    None => {
                        let message = format!("{what} is a list of texts; here stands {}", item.shape());
                        faults.error(
                            item.place,
                            message,
                            "write a text; one with `: ` or `, ` goes in quotes",
                        );
                    }
                }
            }
        }
        Data::Text(text) => found.push(Said { text, place: value.place }),
        Data::Empty => {}
        Data::Map(_) => {
            let message = format!("{what} is a list; here stands a map of keys");
            faults.error(value.place, message, "write a list: `[a, b]`, or each item on a line after `- `");
        }
    }
    found
}

/// One of a few words.
pub fn choose<T: Copy>(said: Said<'_>, what: &str, words: &[(&str, T)], faults: &mut Faults) -> Option<T> {
    let text = said.text.trim();
    if let Some((_, meaning)) = words.iter().find(|(word, _)| *word == text) {
        return Some(*meaning);
    }
    let names = || words.iter().map(|(word, _)| *word);
    let fix = match faults.nearest(text, names()) {
        Some(near) => format!("did you mean `{near}`?"),
        None => format!("write one of: {}", listed(names())),
    };
    faults.error(said.place, format!("{what} cannot be `{text}`"), fix);
    None
}

/// Names in a row, parted by commas; a long row is cut.
#[must_use]
pub fn listed<'n>(names: impl IntoIterator<Item = &'n str>) -> String {
    const MOST: usize = 24;
    let mut row = String::new();
    for (at, name) in names.into_iter().enumerate() {
        if at == MOST {
            row.push_str(", …");
            break;
        }
        if at > 0 {
            row.push_str(", ");
        }
        row.push_str(name);
    }
    row
}

fn unread<T>(result: Result<T, units::Unread>, key: &str, said: Said<'_>, faults: &mut Faults) -> Option<T> {
    result.map_err(|why| faults.error(said.place, format!("`{key}`: {}", why.message), why.fix)).ok()
}
