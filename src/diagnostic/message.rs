//! What a finding says.

use std::borrow::Cow;
use std::fmt;
use std::sync::Arc;

/// A sentence. The words of a state may stand in it that it shares with others: they name up to sixteen things, and a large
/// job has thousands of findings in a few states.
#[derive(Clone, Debug, Default)]
pub struct Message {
    /// The sentence without the words that it shares.
    own: Box<str>,
    shared: Option<Arc<String>>,
    /// Before which byte of its own they stand.
    at: u32,
}

impl Message {
    /// The sentence.
    #[must_use]
    pub fn words(&self) -> Cow<'_, str> {
        match (self.split(), &self.shared) {
            ((before, after), Some(shared)) => Cow::Owned([before, shared.as_str(), after].concat()),
            (_, None) => Cow::Borrowed(&self.own),
        }
    }

    /// From here on it shares these words, if they stand in it.
    pub fn share(&mut self, words: &Arc<String>) {
        let stands = self.own.find(words.as_str()).filter(|_| self.shared.is_none());
        if let Some((at, short)) = stands.and_then(|at| Some((at, u32::try_from(at).ok()?))) {
            let (before, after) = (&self.own[..at], &self.own[at + words.len()..]);
            self.own = [before, after].concat().into();
            (self.shared, self.at) = (Some(Arc::clone(words)), short);
        }
    }

    /// Says more at its end.
    pub fn push_str(&mut self, more: &str) {
        self.own = [&self.own, more].concat().into();
    }

    fn split(&self) -> (&str, &str) {
        self.own.split_at_checked(self.at as usize).unwrap_or((&self.own, ""))
    }
}

impl<T: Into<Box<str>>> From<T> for Message {
    fn from(sentence: T) -> Self {
        Self { own: sentence.into(), ..Self::default() }
    }
}

impl PartialEq for Message {
    fn eq(&self, other: &Self) -> bool {
        self.words() == other.words()
    }
}

impl fmt::Display for Message {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.words())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shared_words_stand_where_they_stood() {
        let state = Arc::new("with K1 operated".to_owned());
        let mut message = Message::from("H1 gets 3 V with K1 operated, and no more");
        let before = message.clone();
        message.share(&state);
        message.share(&state);
        assert_eq!(Arc::strong_count(&state), 2);
        assert_eq!(message, before);
        message.push_str(" than that");
        assert_eq!(message.to_string(), "H1 gets 3 V with K1 operated, and no more than that");
    }
}
