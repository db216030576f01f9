//! Colour words, and the colours of a core from its name.

use super::{Colour, Colours};

/// The words of IEC 60757 Table 1, and the others that the trade uses for the same colours.
const WORDS: &[(&str, Colour)] = &[
    ("black", Colour::Black),
    ("brown", Colour::Brown),
    ("red", Colour::Red),
    ("orange", Colour::Orange),
    ("yellow", Colour::Yellow),
    ("green", Colour::Green),
    ("blue", Colour::Blue),
    ("violet", Colour::Violet),
    ("purple", Colour::Violet),
    ("grey", Colour::Grey),
    ("gray", Colour::Grey),
    ("slate", Colour::Grey),
    ("white", Colour::White),
    ("pink", Colour::Pink),
    ("gold", Colour::Gold),
    ("turquoise", Colour::Turquoise),
    ("silver", Colour::Silver),
];

/// All colour words.
pub fn colour_words() -> impl Iterator<Item = &'static str> {
    WORDS.iter().map(|(word, _)| *word)
}

/// The colour of a word, or of its code in capitals.
#[must_use]
pub fn colour(word: &str) -> Option<Colour> {
    let said = |(known, colour): &&(&str, Colour)| known.eq_ignore_ascii_case(word) || colour.code() == word;
    WORDS.iter().find(said).map(|(_, colour)| *colour)
}

/// The colours of a core from its name: `red`, `white-blue` (base first), `green-yellow`, or as the documents print them,
/// `RD`, `WHBU`, `GNYE`. Empty when it is no colour.
#[must_use]
pub fn colours_of(name: &str) -> Colours {
    if let Some((base, second)) = name.split_at_checked(2)
        && let (Some(base), Some(second)) = (colour(base), colour(second))
    {
        return Colours::two(base, second);
    }
    let mut words = name.split(['-', '/']).map(|word| colour(word.trim()));
    match (words.next(), words.next(), words.next()) {
        (Some(Some(one)), None, _) => Colours::one(one),
        (Some(Some(base)), Some(Some(second)), None) => Colours::two(base, second),
        _ => Colours::NONE,
    }
}

/// Whether two core names mean the same core: the same text, or the same colours (`grey` and `slate`).
#[must_use]
pub fn same_core(a: &str, b: &str) -> bool {
    a == b || {
        let colours = colours_of(a);
        !colours.is_empty() && colours == colours_of(b)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_give_colours_base_first() {
        assert_eq!(colours_of("red"), [Colour::Red]);
        assert_eq!(colours_of("white-blue"), [Colour::White, Colour::Blue]);
        assert_eq!(colours_of("green-yellow"), [Colour::Green, Colour::Yellow]);
        assert_eq!(colours_of("slate"), [Colour::Grey]);
        assert_eq!(colours_of("RD"), [Colour::Red]);
        assert_eq!(colours_of("WHBU"), [Colour::White, Colour::Blue]);
        assert_eq!(colours_of("GN/YE"), [Colour::Green, Colour::Yellow]);
        assert_eq!(colours_of("rd"), []);
        assert_eq!(colours_of("ABBU"), []);
        assert_eq!(colours_of("1"), []);
        assert_eq!(colours_of("black-1"), []);
        assert!(same_core("purple", "violet"));
        assert!(!same_core("1", "2"));
    }
}
