//! Sets of positions that movers must have together, sorted by mover, each mover once.

use super::graph::Need;

/// Both sets together, if no mover would have to stand two ways.
pub(super) fn both(a: &[Need], b: &[Need]) -> Option<Vec<Need>> {
    let mut all = Vec::with_capacity(a.len() + b.len());
    let (mut i, mut j) = (0, 0);
    while let (Some(x), Some(y)) = (a.get(i), b.get(j)) {
        if x.mover == y.mover && x.operated != y.operated {
            return None;
        }
        if x.mover <= y.mover {
            all.push(*x);
            i += 1;
            j += usize::from(x.mover == y.mover);
        } else {
            all.push(*y);
            j += 1;
        }
    }
    all.extend_from_slice(&a[i..]);
    all.extend_from_slice(&b[j..]);
    Some(all)
}

/// Whether all of `few` stand in `many`.
pub(super) fn within(few: &[Need], many: &[Need]) -> bool {
    few.len() <= many.len() && few.iter().all(|need| many.binary_search(need).is_ok())
}
