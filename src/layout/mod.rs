//! Where everything stands: from the job to a placed, routed and labelled diagram on the grid.
//!
//! The phases are `collect`, `rank`, `order`, `place`, `route` and `label`; each turns the type of the one before into
//! the type of the next.
//!
//! The picture is made of columns of devices. Between two columns lies a gap, and in it every cable is a bundle of
//! rows of its own, so that its cores run side by side there and its labels have room. Where a cable passes a column
//! or a gap without ending there it keeps rows free as a lane. Between a column and the bundles beside it lies a
//! channel: all upright pieces of the cores stand there, each on a track of its own.

mod across;
mod align;
mod alike;
mod chain;
mod collect;
mod cut;
mod divide;
mod earlier;
mod exchange;
mod face;
mod followed;
mod gap;
mod grow;
mod groups;
mod label;
mod model;
mod order;
mod pack;
mod place;
mod polish;
mod rank;
mod route;
mod search;
mod settle;
mod share;
mod sheath;
mod sift;
mod stand;
mod straighten;
mod tidy;
mod tracks;
mod tree;
mod walk;
mod wish;

pub use earlier::{Earlier, Outline, Run};
pub use followed::Followed;
pub use model::*;

use crate::figure::Readings;
use crate::netlist::Job;
use divide::Divided;
use search::Paper;
use share::Share;

/// The most devices of a job whose layout is searched for; a larger one takes the best of a few starts.
const FEW: usize = 60;

/// Lays a job out for one shape of paper after the other; what is found out for one serves the next.
#[derive(Debug)]
pub struct Planner<'a> {
    job: &'a Job,
    share: Share<'a>,
    search: search::Search<'a>,
}

impl<'a> Planner<'a> {
    /// Begins, with the readings that shall stand in the devices.
    #[must_use]
    pub fn new(job: &'a Job, readings: Option<&'a Readings>) -> Self {
        Self::of(job, Share::whole(job), readings)
    }

    /// Begins with what of a job stands on one sheet.
    fn of(job: &'a Job, share: Share<'a>, readings: Option<&'a Readings>) -> Self {
        let search = search::Search::new(job, rank::rank(collect::collect(job, &share)), readings);
        Self { job, share, search }
    }

    /// Keeps the order of an earlier drawing, as far as the job still allows it.
    #[must_use]
    pub fn like(mut self, earlier: &Earlier) -> Self {
        self.search.keep(earlier);
        self
    }

    /// Whether the shape of the paper changes anything.
    #[must_use]
    pub fn minds_paper(&self) -> bool {
        self.search.minds_paper()
    }

    /// Diagrams that fill paper well which is so many times as wide as high: the one that the search finds best, and any
    /// that beat it as drawn.
    #[must_use]
    pub fn lay_out(&mut self, aspect: f64) -> Vec<Layout> {
        self.drawn_best(Paper::of(aspect), |planner, ordered| {
            planner.stand(planner.polished(ordered), Air::default(), None)
        })
    }

    /// The same pressed together if a room, in modules, is too low for them, and only too low.
    #[must_use]
    pub fn lay_out_within(&mut self, aspect: f64, room: (i32, i32)) -> Vec<Layout> {
        let pressed = |planner: &Self, ordered| planner.pressed_at_best(ordered, room);
        let layouts = self.drawn_best(Paper::within(aspect, room), pressed);
        let done = |layout: &Layout| fits(layout.size, room) || hopeless(layout.size, room);
        if layouts.iter().any(done) {
            return layouts;
        }
        // The search goes by a guess of the width.
        self.drawn_best(Paper::of(aspect), pressed)
    }

    /// The same after a shorter search, without regard to an earlier drawing.
    #[must_use]
    pub fn lay_out_plainly(&mut self, aspect: f64, room: (i32, i32)) -> Layout {
        let ordered = self.search.best_unshaken(Paper::within(aspect, room), usize::MAX);
        self.pressed_at_best(ordered, room)
    }
}

/// So many orders of those that the search found are drawn to the end beside its best.
const DRAWN: usize = 3;

/// Modules that a diagram may be higher than what stands in it: frames and lettering end between two rows.
const RIM: i32 = 1;

/// Other shapes that are tried for a diagram that misses its sheet: so many times as wide for their height.
const OTHER_SHAPES: [f64; 2] = [0.7, 1.4];

/// A diagram of so many hundredths of the area of a room is not tried again for it: it would miss that room in any shape.
const HOPELESS: i64 = 130;

/// The most modules that are added between things one above the other, and to the length of a cable's labels.
const MOST_AIR: (i32, i32) = (6, 24);

impl Planner<'_> {
    /// The best that the search finds, drawn, and those of its other finds that beat it then.
    fn drawn_best(&mut self, paper: Paper, draw: impl Fn(&Self, order::Ordered) -> Layout) -> Vec<Layout> {
        let mut found = self.search.found(paper).into_iter();
        let Some(best) = found.next() else { return Vec::new() };
        let others = self.next_best(&best, found);
        let best = draw(self, best);
        let followed = best.followed;
        let others = others.into_iter().map(|ordered| draw(self, ordered));
        let beating: Vec<Layout> = others.filter(|other| other.followed.beats(followed)).collect();
        std::iter::once(best).chain(beating).collect()
    }

    /// Of some orders those that are drawn in another way than the best, those with the least to follow first, and no more
    /// than are to be drawn to the end.
    fn next_best(
        &self,
        best: &order::Ordered,
        found: impl ExactSizeIterator<Item = order::Ordered>,
    ) -> Vec<order::Ordered> {
        if found.len() == 0 {
            return Vec::new();
        }
        let mut seen = vec![self.look(best)];
        let mut others: Vec<(i64, order::Ordered)> = Vec::new();
        for ordered in found {
            let followed = self.look(&ordered);
            if !seen.contains(&followed) {
                seen.push(followed);
                others.push((followed.effort(), ordered));
            }
        }
        others.sort_by_key(|(effort, _)| *effort);
        others.into_iter().take(DRAWN).map(|(_, ordered)| ordered).collect()
    }

    /// About the size of the diagram, in modules, before anything is searched for.
    fn sketch(&mut self, room: Room) -> Room {
        let ordered = self.search.first_of(Paper::within(aspect(room), room));
        self.stand(ordered, Air::default(), None).size
    }

    /// The diagram that suits a room, not spread; one that misses it is also tried for paper of other shapes, each so many
    /// times as wide for its height.
    fn lay_out_in(&mut self, room: Room, others: &[f64]) -> (order::Ordered, Layout) {
        let mut found = self.lay_out_for(aspect(room), room);
        for shape in others {
            if fits(found.1.size, room) || hopeless(found.1.size, room) {
                break;
            }
            let other = self.lay_out_for(aspect(room) * shape, room);
            if fits(other.1.size, room) {
                found = other;
            }
        }
        found
    }

    /// The diagram for one shape of paper: the best, or the best of the starts if only that fits the room.
    fn lay_out_for(&mut self, aspect: f64, room: Room) -> (order::Ordered, Layout) {
        let paper = Paper::within(aspect, room);
        let ordered = self.search.best_unshaken(paper, usize::MAX);
        let layout = self.pressed(&ordered, room);
        if fits(layout.size, room) {
            return (ordered, layout);
        }
        let first = self.search.first_of(paper);
        let other = self.pressed(&first, room);
        if fits(other.size, room) { (first, other) } else { (ordered, layout) }
    }

    /// A diagram that a room holds, if a search at length comes by one for some shape of paper.
    fn lay_out_at_length(&mut self, room: Room) -> Option<(order::Ordered, Layout)> {
        let mut shapes = std::iter::once(1.0).chain(OTHER_SHAPES);
        shapes.find_map(|shape| {
            let found = self.search.found(Paper::within(aspect(room) * shape, room));
            found.into_iter().find_map(|ordered| {
                let layout = self.pressed(&ordered, room);
                let lowest = self.lowest(&ordered, layout, room);
                fits(lowest.size, room).then_some((ordered, lowest))
            })
        })
    }

    /// The diagram that a room holds of another order, if a search at length comes by one that beats this as drawn.
    fn better_in(&mut self, room: Room, found: (order::Ordered, Layout)) -> (order::Ordered, Layout) {
        let others = self.search.found(Paper::within(aspect(room), room)).into_iter();
        let others = self.next_best(&found.0, others);
        let mut best = found;
        for ordered in others {
            let better = self.polished(ordered);
            let layout = self.lowest(&better, self.pressed(&better, room), room);
            if fits(layout.size, room) && layout.followed.beats(best.1.followed) {
                best = (better, layout);
            }
        }
        best
    }

    /// The diagram of an order as it stands best, or pressed together if a room is too low for it, and only too low.
    fn pressed(&self, ordered: &order::Ordered, room: Room) -> Layout {
        let layout = self.stand(ordered.clone(), Air::default(), None);
        let over = layout.size.1 - room.1;
        if over <= 0 || layout.size.0 > room.0 || place::least_height(self.job, ordered) > room.1 {
            return layout;
        }
        let pressed = self.stand(ordered.clone(), Air::default(), Some(room.1 - RIM));
        if fits(pressed.size, room) { pressed } else { layout }
    }

    /// The same with the small changes that make the drawing better, if a room holds it then too.
    fn pressed_at_best(&self, ordered: order::Ordered, room: Room) -> Layout {
        let layout = self.pressed(&ordered, room);
        let better = self.pressed(&self.polished(ordered), room);
        if fits(better.size, room) || !fits(layout.size, room) { better } else { layout }
    }

    /// The diagram of an order as low as it can be, if a room then holds it, else as it was laid out.
    fn lowest(&self, ordered: &order::Ordered, layout: Layout, room: Room) -> Layout {
        let least = place::least_height(self.job, ordered);
        let lowest = self.stand(ordered.clone(), Air::default(), Some(least));
        if fits(lowest.size, room) { lowest } else { layout }
    }

    /// The diagram of an order spread as far as a room goes that holds it when it is as low as it can be.
    fn spread_in(&self, room: Room, ordered: &order::Ordered, lowest: Layout) -> Layout {
        let pressed = self.pressed(ordered, room);
        let mut layout = if fits(pressed.size, room) { pressed } else { lowest };
        let mut air = Air::default();
        for (most, step) in [(MOST_AIR.0, (1, 0)), (MOST_AIR.1, (0, 2))] {
            while air.beside * step.0 + air.along * step.1 < most * (step.0 + step.1) {
                let more = Air { beside: air.beside + step.0, along: air.along + step.1 };
                let spread = self.stand(ordered.clone(), more, None);
                if !fits(spread.size, room) {
                    break;
                }
                (air, layout) = (more, spread);
            }
        }
        layout
    }

    /// The diagram of an order with more room in it than has to be, or kept `within` a height as far as can be.
    fn stand(&self, ordered: order::Ordered, air: Air, within: Option<i32>) -> Layout {
        let unmet = ordered.unmet(self.job, &self.share);
        let placed = place::place(self.job, ordered, air, within);
        let routed = route::route(self.job, placed);
        Layout { unmet, ..label::label(self.job, routed) }
    }
}

/// Lays a job out in as many diagrams as it takes for each to keep to the first of some rooms, in modules to the right and
/// downwards, smallest first. What a diagram does not hold goes on on another, at a flag; one with a device that is too
/// large for a room keeps to a larger one, and goes beyond the largest if it must.
#[must_use]
pub fn lay_out_in_parts(job: &Job, rooms: &[(i32, i32)], readings: Option<&Readings>) -> Vec<Layout> {
    lay_out_divided(job, &divide::divide(job, rooms, readings), rooms, readings)
}

/// A diagram in the making: how its order is found, that order, and the diagram as low as it can be.
type Panel<'a> = (Planner<'a>, order::Ordered, Layout);

/// The diagram of a share in the smallest room that holds it, else in the largest.
fn panel<'a>(
    job: &'a Job,
    share: Share<'a>,
    rooms: &[Room],
    readings: Option<&'a Readings>,
) -> Option<Panel<'a>> {
    let mut planner = Planner::of(job, share, readings);
    let mut found = None;
    for room in rooms {
        let (ordered, layout) = planner.lay_out_in(*room, &OTHER_SHAPES);
        let lowest = planner.lowest(&ordered, layout, *room);
        let at_length = if fits(lowest.size, *room) { None } else { planner.lay_out_at_length(*room) };
        let (ordered, lowest) = at_length.unwrap_or((ordered, lowest));
        let holds = fits(lowest.size, *room);
        let better = planner.polished(ordered.clone());
        let layout = planner.lowest(&better, planner.pressed(&better, *room), *room);
        let keep = fits(layout.size, *room) || !holds;
        let mut best = if keep { (better, layout) } else { (ordered, lowest) };
        if holds && job.devices.len() <= divide::SEARCHED {
            best = planner.better_in(*room, best);
        }
        found = Some(best);
        if holds {
            break;
        }
    }
    found.map(|(ordered, lowest)| (planner, ordered, lowest))
}

/// Lays a divided job out. Two diagrams that come to stand on one sheet and have a conductor in common become one if a
/// sheet holds it.
fn lay_out_divided(job: &Job, divided: &Divided, rooms: &[Room], readings: Option<&Readings>) -> Vec<Layout> {
    let Some(room) = rooms.first().copied() else { return Vec::new() };
    let mut panels: Vec<Option<Panel>> =
        divided.shares(job).map(|share| panel(job, share, rooms, readings)).collect();
    let sizes: Vec<Room> = panels.iter().flatten().map(|(.., lowest)| lowest.size).collect();
    let packed = pack::pack(&sizes, room);
    if job.devices.len() <= divide::SEARCHED {
        for (first, second) in packed.iter().flat_map(|spots| pairs(spots)) {
            if !divided.joins(first, second) {
                continue;
            }
            let joined = divided.joined(first, second);
            let share = joined.shares(job).nth(first);
            let found = share.and_then(|share| panel(job, share, &[room], readings));
            if found.is_some_and(|(.., lowest)| fits(lowest.size, room)) {
                return lay_out_divided(job, &joined, rooms, readings);
            }
        }
    }
    let sheet = |spots: Vec<pack::Spot>| {
        let mut sheet = Layout::default();
        for spot in spots {
            if let Some((planner, ordered, lowest)) = panels.get_mut(spot.diagram).and_then(Option::take) {
                sheet.take_in(planner.spread_in(spot.room, &ordered, lowest), spot.corner);
            }
        }
        sheet
    };
    let mut sheets: Vec<Layout> = packed.into_iter().map(sheet).collect();
    emptiest_last(&mut sheets, room);
    sheets
}

/// The numbers of each two diagrams on a sheet, the smaller first.
fn pairs(spots: &[pack::Spot]) -> impl Iterator<Item = (usize, usize)> {
    spots.iter().enumerate().flat_map(move |(i, first)| {
        spots[i + 1..]
            .iter()
            .map(move |second| (first.diagram.min(second.diagram), first.diagram.max(second.diagram)))
    })
}

/// Puts the emptiest sheet last if it is less than half full, where one looks for such a one. The first stays, for there a
/// reader begins.
fn emptiest_last(sheets: &mut Vec<Layout>, room: Room) {
    let emptiest = (1..sheets.len()).min_by_key(|n| area(sheets[*n].size));
    if let Some(n) = emptiest.filter(|n| 2 * area(sheets[*n].size) < area(room)) {
        let sheet = sheets.remove(n);
        sheets.push(sheet);
    }
}

/// Modules to the right and downwards.
type Room = (i32, i32);

fn fits(size: Room, room: Room) -> bool {
    size.0 <= room.0 && size.1 <= room.1
}

fn area(size: Room) -> i64 {
    i64::from(size.0) * i64::from(size.1)
}

fn hopeless(size: Room, room: Room) -> bool {
    100 * area(size) > HOPELESS * area(room)
}

fn aspect(room: Room) -> f64 {
    f64::from(room.0) / f64::from(room.1.max(1))
}

/// Room beyond what has to be, in modules.
#[derive(Clone, Copy, Debug, Default)]
struct Air {
    /// Between things one above the other.
    beside: i32,
    /// To the length of a cable's labels.
    along: i32,
}

/// Lays a job out, without readings, for paper of an ISO 216 size.
#[must_use]
pub fn lay_out(job: &Job) -> Layout {
    Planner::new(job, None).lay_out(std::f64::consts::SQRT_2).into_iter().next().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn widths_after(widths: &[i32]) -> Vec<i32> {
        let sheet = |width: &i32| Layout { size: (*width, 10), ..Layout::default() };
        let mut sheets: Vec<Layout> = widths.iter().map(sheet).collect();
        emptiest_last(&mut sheets, (10, 10));
        sheets.iter().map(|sheet| sheet.size.0).collect()
    }

    #[test]
    fn a_sheet_that_is_less_than_half_full_comes_last() {
        assert_eq!(widths_after(&[9, 4, 8, 3, 7]), [9, 4, 8, 7, 3]);
        assert_eq!(widths_after(&[9, 6, 8]), [9, 6, 8]);
        assert_eq!(widths_after(&[2, 8, 9]), [2, 8, 9]);
        assert!(widths_after(&[]).is_empty());
    }
}
