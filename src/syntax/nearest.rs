//! The nearest known name to one that is not known.

/// The nearest of `known` to `written`, if one is near enough to be meant. What is easily mistaken on a label (0/O,
/// 1/I/l, 5/S, 8/B) and small or capital letters count as nearly the same. So do names whose words stand in another order
/// and, where nothing else is near, the only one that has a word more or less.
#[must_use]
pub fn nearest<'k>(written: &str, known: impl IntoIterator<Item = &'k str>) -> Option<&'k str> {
    let words = words(written);
    let (mut exchanged, mut word_apart) = (None, Vec::new());
    let written: Vec<char> = written.chars().take(LONGEST + 1).collect();
    if written.len() > LONGEST {
        return None;
    }
    // Costs count in quarters of a letter, so that a mistaken 0 costs less than a wrong letter.
    // A single letter is near only to one that looks like it: any other would be a guess.
    let limit = if written.len() < 2 { 1 } else { (written.len() * WHOLE / 3).max(WHOLE) };
    let mut meter = Meter::default();
    let mut best: Option<(usize, &str)> = None;
    for name in known {
        match words_apart(&words, name) {
            Some(0) => exchanged = exchanged.or(Some(name)),
            Some(1) if !word_apart.contains(&name) => word_apart.push(name),
            _ => {}
        }
        let length = name.chars().count();
        if length.abs_diff(written.len()) * WHOLE > limit {
            continue;
        }
        let bound = best.map_or(limit, |(least, _)| least.saturating_sub(1));
        if let Some(cost) = meter.distance(&written, name, bound) {
            best = Some((cost, name));
        }
    }
    let only = word_apart.first().copied().filter(|_| word_apart.len() == 1);
    exchanged.or(best.map(|(_, name)| name)).or(only)
}

/// The words of a name between its hyphens, in the order of the alphabet.
fn words(name: &str) -> Vec<String> {
    let mut words: Vec<String> = name.split('-').map(str::to_lowercase).collect();
    words.sort_unstable();
    words
}

/// How many words a name has that the other has not, and the other way; `None` if one of them is a single word.
fn words_apart(written: &[String], name: &str) -> Option<usize> {
    if written.len() < 2 || !name.contains('-') {
        return None;
    }
    let mut more = words(name);
    let missing = written.iter().filter(|word| match more.iter().position(|other| other == *word) {
        Some(at) => {
            more.swap_remove(at);
            false
        }
        None => true,
    });
    Some(missing.count() + more.len())
}

/// The question that a name which is not known leads to: did you mean this one? Of a name that is part of longer ones
/// these are told, since `push-button` is no nearer to a break contact than to a make contact.
#[must_use]
pub fn did_you_mean<'k>(written: &str, known: impl IntoIterator<Item = &'k str>) -> Option<String> {
    let known: Vec<&str> = known.into_iter().collect();
    let part = |name: &&str| !written.is_empty() && format!("-{name}-").contains(&format!("-{written}-"));
    let mut longer: Vec<&str> = Vec::new();
    for name in known.iter().copied().filter(part) {
        // A type of the job may hide one of the library that bears the same name.
        if !longer.contains(&name) {
            longer.push(name);
        }
    }
    match longer.as_slice() {
        [rest @ .., last] if longer.len() <= MOST_LONGER => {
            let rest: Vec<String> = rest.iter().map(|name| format!("`{name}`")).collect();
            let or = if rest.is_empty() { "" } else { " or " };
            Some(format!("did you mean {}{or}`{last}`?", rest.join(", ")))
        }
        _ => nearest(written, known).map(|near| format!("did you mean `{near}`?")),
    }
}

/// A part of more names than this tells nothing.
const MOST_LONGER: usize = 6;
const WHOLE: usize = 4;
const LONGEST: usize = 64;

/// Measures the distance of names; its rows are kept from one name to the next.
#[derive(Default)]
struct Meter {
    name: Vec<char>,
    before: Vec<usize>,
    last: Vec<usize>,
    row: Vec<usize>,
}

impl Meter {
    /// Letters to insert, delete, change or exchange with their neighbour, in quarters; `None` above `bound`.
    fn distance(&mut self, written: &[char], name: &str, bound: usize) -> Option<usize> {
        let Self { name: b, before, last, row } = self;
        b.clear();
        b.extend(name.chars());
        before.clear();
        before.resize(b.len() + 1, 0);
        last.clear();
        last.extend((0..=b.len()).map(|i| i * WHOLE));
        row.clear();
        row.resize(b.len() + 1, 0);
        for (i, x) in written.iter().enumerate() {
            row[0] = (i + 1) * WHOLE;
            let mut least = row[0];
            for (j, y) in b.iter().enumerate() {
                let mut cost = (last[j] + change(*x, *y)).min(last[j + 1] + WHOLE).min(row[j] + WHOLE);
                if i > 0 && j > 0 && *x == b[j - 1] && written[i - 1] == *y {
                    cost = cost.min(before[j - 1] + WHOLE);
                }
                row[j + 1] = cost;
                least = least.min(cost);
            }
            // An exchange of neighbours reaches back two rows, so one row above the bound is not the end.
            if least > bound + WHOLE {
                return None;
            }
            std::mem::swap(before, last);
            std::mem::swap(last, row);
        }
        last.last().copied().filter(|cost| *cost <= bound)
    }
}

fn change(x: char, y: char) -> usize {
    if x == y {
        0
    } else if x.eq_ignore_ascii_case(&y) || look(x) == look(y) {
        1
    } else {
        WHOLE
    }
}

/// One letter for all that look like it, those of other alphabets too.
fn look(c: char) -> char {
    match c {
        // Those written as numbers are Cyrillic and Greek letters, hyphens, dashes and the minus sign.
        'O' | 'o' | '\u{41e}' | '\u{39f}' => '0',
        'I' | 'l' | 'i' | 'L' | '\u{406}' | '\u{399}' => '1',
        'S' | 's' | '\u{405}' => '5',
        'B' | '\u{412}' | '\u{392}' => '8',
        '_' | ' ' | '\u{2010}'..='\u{2015}' | '\u{2212}' => '-',
        '\u{410}' | '\u{391}' => 'A',
        '\u{421}' => 'C',
        '\u{415}' | '\u{395}' => 'E',
        '\u{41d}' | '\u{397}' => 'H',
        '\u{41a}' | '\u{39a}' => 'K',
        '\u{41c}' | '\u{39c}' => 'M',
        '\u{420}' | '\u{3a1}' => 'P',
        '\u{422}' | '\u{3a4}' => 'T',
        '\u{425}' | '\u{3a7}' => 'X',
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use super::{did_you_mean, nearest};

    #[test]
    fn part_of_longer_names_asks_for_each_of_them() {
        let known = ["fuse", "push-button-nc", "push-button-no", "reed-contact"];
        let asked = |written| did_you_mean(written, known).unwrap_or_default();
        assert_eq!(asked("push-button"), "did you mean `push-button-nc` or `push-button-no`?");
        assert_eq!(
            did_you_mean("reed", known.into_iter().chain(known)).as_deref(),
            Some("did you mean `reed-contact`?")
        );
        assert_eq!(asked("reed"), "did you mean `reed-contact`?");
        assert_eq!(asked("fuze"), "did you mean `fuse`?");
        assert_eq!(did_you_mean("quite-other", known), None);
        assert_eq!(did_you_mean("", known), None);
    }

    #[test]
    fn letters_that_look_alike_are_nearest() {
        assert_eq!(nearest("V\u{2212}", ["V+", "V-"]), Some("V-"));
        assert_eq!(nearest("\u{41d}1", ["G1", "H1"]), Some("H1"));
    }

    #[test]
    fn words_in_another_order_or_one_too_few_are_near() {
        let known =
            ["lock-magnet", "push-button-nc", "push-button-no", "relay-2-pole", "reed-contact", "lamp"];
        assert_eq!(nearest("magnet-lock", known), Some("lock-magnet"));
        assert_eq!(nearest("Magnet-Lock", known), Some("lock-magnet"));
        assert_eq!(nearest("button-no-push", known), Some("push-button-no"));
        assert_eq!(nearest("pole-relay", known), Some("relay-2-pole"));
        assert_eq!(nearest("reed-window-contact", known), Some("reed-contact"));
        assert_eq!(nearest("button-push", known), None, "either of two would be a guess");
        assert_eq!(nearest("contact-window", known), None);
        assert_eq!(nearest("magnet", known), None);
    }

    #[test]
    fn labels_that_look_alike_are_nearest() {
        assert_eq!(nearest("NO1", ["NC1", "NO1", "COM1"]), Some("NO1"));
        assert_eq!(nearest("N01", ["NC1", "NO1", "COM1"]), Some("NO1"));
        assert_eq!(nearest("KI", ["K2", "K1", "K3"]), Some("K1"));
        assert_eq!(nearest("5", ["A", "S"]), Some("S"));
        assert_eq!(nearest("OV", ["+V", "0V"]), Some("0V"));
        assert_eq!(nearest("lenght", ["length", "type", "cores"]), Some("length"));
        assert_eq!(nearest("limit_switch", ["limit-switch", "lamp"]), Some("limit-switch"));
        assert_eq!(nearest("quite-other", ["length", "type", "cores"]), None);
    }
}
