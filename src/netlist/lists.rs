//! A short list for each of many things, all of them in one piece.

/// A list for each of the numbers from 0: what lands on each terminal, what is joined to each. A job has tens of thousands of
/// them, nearly all of one or two entries, and a vector for each would cost more than what stands in it.
#[derive(Clone, Debug, Default)]
pub struct Lists<T> {
    /// Where each list begins; one more at the end.
    from: Vec<u32>,
    all: Vec<T>,
}

impl<T: Copy> Lists<T> {
    /// The lists of so many things: each entry with the number of the list that it belongs to, those of one list in the
    /// order in which they come. Entries beyond the count are left out. The entries are gone through twice.
    #[must_use]
    pub fn of(count: usize, entries: impl IntoIterator<Item = (usize, T), IntoIter: Clone>) -> Self {
        let entries = entries.into_iter().filter(|(list, _)| *list < count);
        let mut from = vec![0_u32; count + 1];
        let mut any = None;
        for (list, entry) in entries.clone() {
            from[list + 1] += 1;
            any = Some(entry);
        }
        for list in 0..count {
            from[list + 1] += from[list];
        }
        let Some(any) = any else { return Self { from, all: Vec::new() } };
        let mut all = vec![any; from[count] as usize];
        let mut next = from.clone();
        for (list, entry) in entries {
            all[next[list] as usize] = entry;
            next[list] += 1;
        }
        Self { from, all }
    }

    /// One list; an empty one for a number beyond the count.
    #[must_use]
    pub fn get(&self, list: usize) -> &[T] {
        match self.from.get(list..).and_then(|from| from.get(..2)) {
            Some(&[from, to]) => self.all.get(from as usize..to as usize).unwrap_or_default(),
            _ => &[],
        }
    }

    /// How many lists there are.
    #[must_use]
    pub fn count(&self) -> usize {
        self.from.len().saturating_sub(1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn entries_keep_their_order() {
        let lists = Lists::of(3, [(2, 'a'), (0, 'b'), (2, 'c'), (3, 'd')]);
        assert_eq!(lists.count(), 3);
        assert_eq!(
            [lists.get(0), lists.get(1), lists.get(2), lists.get(3)],
            [&['b'][..], &[], &['a', 'c'], &[]]
        );
    }
}
