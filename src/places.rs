//! Things on paper, found by where they are.

use rstar::{AABB, RTree, RTreeObject};

use crate::scene::{Point, Rect};

/// Things with a box each.
pub struct Places<T>(RTree<Thing<T>>);

struct Thing<T> {
    area: Rect,
    what: T,
}

impl<T> RTreeObject for Thing<T> {
    type Envelope = AABB<[f64; 2]>;

    fn envelope(&self) -> Self::Envelope {
        envelope(&self.area)
    }
}

fn envelope(area: &Rect) -> AABB<[f64; 2]> {
    AABB::from_corners([area.x, area.y], [area.right(), area.bottom()])
}

fn is_somewhere(area: &Rect) -> bool {
    [area.x, area.y, area.right(), area.bottom()].iter().all(|v| v.is_finite())
}

impl<T> Places<T> {
    /// Things in their boxes. What some file puts beyond all numbers stands nowhere.
    pub fn new(things: impl IntoIterator<Item = (Rect, T)>) -> Self {
        let things = things.into_iter().filter(|(area, _)| is_somewhere(area));
        Self(RTree::bulk_load(things.map(|(area, what)| Thing { area, what }).collect()))
    }

    /// What stands in an area or at its edge, with its box; in no order that means anything.
    pub fn at(&self, area: Rect) -> impl Iterator<Item = (Rect, &T)> {
        self.0.locate_in_envelope_intersecting(envelope(&area)).map(|thing| (thing.area, &thing.what))
    }

    /// Puts one more thing.
    pub fn put(&mut self, area: Rect, what: T) {
        if is_somewhere(&area) {
            self.0.insert(Thing { area, what });
        }
    }

    /// What stands so near to a point, with its box.
    pub fn near(&self, point: Point, reach: f64) -> impl Iterator<Item = (Rect, &T)> {
        self.at(Rect::between(point, point).grown(reach))
    }
}

/// What is taken on paper.
pub type Taken = Places<()>;

impl Taken {
    /// So many boxes.
    pub fn of(areas: impl IntoIterator<Item = Rect>) -> Self {
        Self::new(areas.into_iter().map(|area| (area, ())))
    }

    /// Takes one more.
    pub fn take(&mut self, area: Rect) {
        self.put(area, ());
    }

    /// Whether an area is free; what only touches its edge does not count.
    pub fn is_free(&self, area: Rect) -> bool {
        !self.at(area).any(|(taken, ())| taken.overlaps(&area))
    }
}
