//! What lies between the nodes.

use crate::netlist::{Current, Job, Kind, Lists, PartId, Pole};

use super::movers::MoverId;
use super::nets::{Nets, Node};

/// An edge: index in [`Graph::edges`].
pub(super) type EdgeId = u32;

/// A position that a mover must have.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Need {
    /// The mover.
    pub mover: MoverId,
    /// Whether it must be operated.
    pub operated: bool,
}

/// How an edge carries current.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Carries {
    /// A contact, output or sensor, when its mover stands so.
    When(Need),
    /// A diode, from `a` to `b` only.
    Forward,
    /// A resistor, load or coil.
    Soft,
    /// A source: `a` is its plus, `b` its minus; current goes through it from minus to plus, in AC both ways.
    Source { ac: bool },
}

/// One way between two nodes, through one part.
#[derive(Clone, Copy, Debug)]
pub(super) struct Edge {
    pub(super) part: PartId,
    pub(super) a: Node,
    pub(super) b: Node,
    pub(super) carries: Carries,
}

impl Edge {
    pub(super) fn other(&self, node: Node) -> Node {
        if self.a == node { self.b } else { self.a }
    }

    pub(super) fn soft(&self) -> bool {
        self.carries == Carries::Soft
    }

    /// Whether current that leaves by `node` can enter: with the current, or `against` it when walking back.
    pub(super) fn passes(&self, node: Node, against: bool) -> bool {
        match self.carries {
            Carries::When(_) | Carries::Soft | Carries::Source { ac: true } => true,
            Carries::Forward => (self.a == node) != against,
            Carries::Source { ac: false } => (self.b == node) != against,
        }
    }

    /// Whether current that comes from `node` enters by that pole, if this is an AC source.
    pub(super) fn enters_by(&self, node: Node, pole: Pole) -> bool {
        let by = if self.a == node { Pole::Plus } else { Pole::Minus };
        by == pole || self.carries != Carries::Source { ac: true }
    }

    pub(super) fn need(&self) -> Option<Need> {
        match self.carries {
            Carries::When(need) => Some(need),
            _ => None,
        }
    }
}

/// All edges, and those at each node.
pub(super) struct Graph {
    pub(super) edges: Vec<Edge>,
    at: Lists<EdgeId>,
}

impl Graph {
    pub(super) fn of(job: &Job, nets: &Nets, mover_of: &[Option<MoverId>]) -> Self {
        let mut edges: Vec<Edge> = Vec::new();
        for (id, part) in job.part_ids() {
            let when = |operated| mover_of[id.index()].map(|mover| Carries::When(Need { mover, operated }));
            let mut join = |a: crate::netlist::TerminalId, b: crate::netlist::TerminalId, carries| {
                if let Some(carries) = carries {
                    edges.push(Edge { part: id, a: nets.node[a.index()], b: nets.node[b.index()], carries });
                }
            };
            match &part.kind {
                Kind::Contact(contact) => {
                    if let Some(no) = contact.no {
                        join(contact.common, no, when(true));
                    }
                    if let Some(nc) = contact.nc {
                        join(contact.common, nc, when(false));
                    }
                }
                Kind::Output(output) => join(output.at, output.common, when(true)),
                Kind::TwoWire(sensor) => join(sensor.plus, sensor.minus, when(true)),
                Kind::Diode(diode) => join(diode.anode, diode.cathode, Some(Carries::Forward)),
                Kind::Resistor(resistor) => {
                    join(resistor.between[0], resistor.between[1], Some(Carries::Soft));
                }
                Kind::Load(load) => join(load.plus, load.minus, Some(Carries::Soft)),
                Kind::Coil(coil) => join(coil.plus, coil.minus, Some(Carries::Soft)),
                Kind::Source(source) => {
                    let ac = source.current == Current::Ac;
                    join(source.plus, source.minus, Some(Carries::Source { ac }));
                }
                _ => {}
            }
        }
        edges.shrink_to_fit();
        let mut at = Vec::with_capacity(2 * edges.len());
        for (id, edge) in (0..).zip(&edges) {
            at.push((edge.a as usize, id));
            if edge.b != edge.a {
                at.push((edge.b as usize, id));
            }
        }
        Self { edges, at: Lists::of(nets.nodes, at.iter().copied()) }
    }

    /// The edge of that number.
    pub(super) fn edge(&self, id: EdgeId) -> &Edge {
        &self.edges[id as usize]
    }

    /// The edges at a node.
    pub(super) fn at(&self, node: Node) -> &[EdgeId] {
        self.at.get(node as usize)
    }

    /// How many nodes there are.
    pub(super) fn nodes(&self) -> usize {
        self.at.count()
    }
}
