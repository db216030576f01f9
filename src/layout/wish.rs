//! What devices ask of the layout, done as far as it can be done, and told where it cannot.
//!
//! Columns and sides are put right whenever a choice is put in order; a device that shall stand beside another one is
//! brought there once the order is found.

use super::collect::Graph;
use super::order::Ordered;
use super::rank::Ranking;
use super::share::Share;
use crate::figure::Side;
use crate::netlist::{DeviceId, Hint, Job, OnSide, TerminalId};

/// What a device asks, in the numbers of the graph.
#[derive(Clone, Debug)]
pub(super) struct Wish {
    /// The device.
    pub node: usize,
    /// The device right above or below it.
    pub beside: Option<usize>,
    /// Its column, counted from 0.
    pub column: Option<usize>,
    /// The sides of its terminals.
    pub sides: Vec<(usize, Side)>,
}

/// The wishes of the devices of a share.
pub(super) fn wishes(job: &Job, node_of: impl Fn(DeviceId) -> Option<usize>) -> Vec<Wish> {
    let wish = |hint: &Hint| {
        let first = job.device(hint.device).terminals.start;
        let side = |(terminal, side): &(TerminalId, OnSide)| {
            let side = if *side == OnSide::Left { Side::Left } else { Side::Right };
            ((terminal.0 - first) as usize, side)
        };
        Some(Wish {
            node: node_of(hint.device)?,
            beside: hint.beside.and_then(&node_of),
            column: hint.column.map(|column| usize::from(column).saturating_sub(1)),
            sides: hint.sides.iter().map(side).collect(),
        })
    };
    job.hints.iter().filter_map(wish).collect()
}

impl Ranking {
    /// Puts columns and sides as the devices ask.
    pub(super) fn obey(&mut self) {
        let graph = self.graph();
        for wish in &graph.wishes {
            let column = match (wish.beside, wish.column) {
                (_, Some(column)) => Some(self.column_number(column, &graph)),
                (Some(other), None) => Some(self.choice.column[other]),
                (None, None) => None,
            };
            if let Some(column) = column {
                self.shift(wish.node, column - self.choice.column[wish.node]);
            }
            for (terminal, side) in &wish.sides {
                self.hold(wish.node, *terminal, *side);
            }
        }
    }

    /// The column that is so many from the left, of those in which devices stand that ask for none; so many more than the
    /// last where there are fewer.
    fn column_number(&self, number: usize, graph: &Graph) -> i32 {
        let asks = |n: usize| graph.wishes.iter().any(|w| w.node == n && w.column.is_some());
        let columns = self.choice.column.iter().enumerate().filter(|(n, _)| !asks(*n));
        let mut used: Vec<i32> = columns.map(|(_, column)| *column).collect();
        used.sort_unstable();
        used.dedup();
        let beyond = || used.last().map_or(0, |last| last + 1) + (number - used.len()) as i32;
        used.get(number).copied().unwrap_or_else(beyond)
    }
}

impl Ordered {
    /// Brings devices beside those that they ask for, above or below, whichever makes fewer crossings.
    pub(super) fn bring_beside(&mut self) {
        let wishes = self.ranked.graph.wishes.clone();
        for wish in wishes {
            let Some(other) = wish.beside else { continue };
            let (own, there) = (&self.items[wish.node], &self.items[other]);
            if own.layer != there.layer || own.place != there.place || self.stand_together(wish.node, other) {
                continue;
            }
            let layer = own.layer;
            let without: Vec<usize> =
                self.layers[layer].iter().copied().filter(|item| *item != wish.node).collect();
            let at = without.iter().position(|item| *item == other).unwrap_or(0);
            let tried = [at, at + 1].map(|at| {
                let mut order = without.clone();
                order.insert(at, wish.node);
                self.layers[layer].clone_from(&order);
                (self.crossings(), order)
            });
            if let Some((_, order)) = tried.into_iter().min_by_key(|(crossings, _)| *crossings) {
                self.layers[layer] = order;
            }
        }
    }

    /// Whether two devices follow each other in a column.
    fn stand_together(&self, a: usize, b: usize) -> bool {
        let layer = &self.layers[self.items[a].layer];
        layer.windows(2).any(|pair| *pair == [a, b] || *pair == [b, a])
    }

    /// What devices asked for and did not get, each in a sentence.
    pub(super) fn unmet(&self, job: &Job, share: &Share) -> Vec<String> {
        let mut words = Vec::new();
        let graph = &self.ranked.graph;
        let name = |node: usize| job.device(graph.nodes[node].device).name.to_string();
        for wish in &graph.wishes {
            let own = name(wish.node);
            if let Some(column) = wish.column.filter(|column| self.ranked.column[wish.node] != *column) {
                let (asked, got) = (column + 1, self.ranked.column[wish.node] + 1);
                words.push(format!(
                    "{own} asks for column {asked} and stands in column {got} of {}",
                    self.ranked.columns
                ));
            }
            if let Some(other) = wish.beside.filter(|other| !self.stand_together(wish.node, *other)) {
                let why = if graph.nodes[wish.node].place != graph.nodes[other].place {
                    "they are in different locations"
                } else if self.ranked.column[wish.node] == self.ranked.column[other] {
                    "something else asks for that place too"
                } else {
                    "it asks for another column"
                };
                words.push(format!("{own} asks to stand beside {} and does not: {why}", name(other)));
            }
            for (terminal, _) in wish
                .sides
                .iter()
                .filter(|(t, side)| self.ranked.terminal_side[wish.node].get(*t).is_some_and(|is| is != side))
            {
                let id = TerminalId(graph.nodes[wish.node].first_terminal + *terminal as u32);
                if share.elsewhere(id).is_none() {
                    words.push(format!(
                        "{} asks for the other side and stays: a symbol joins it to terminals that stay there",
                        job.label(id)
                    ));
                }
            }
        }
        for hint in &job.hints {
            let here = |id: DeviceId| share.devices.contains(&id);
            if let Some(other) = hint.beside.filter(|other| here(hint.device) && !here(*other)) {
                let (own, other) = (&job.device(hint.device).name, &job.device(other).name);
                words
                    .push(format!("{own} asks to stand beside {other} and does not: it is on another sheet"));
            }
        }
        words
    }
}
