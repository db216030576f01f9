"""Does the layout hold on graphs that nobody made for it?

Takes general collections of graphs, makes a job of each, has it drawn on one sheet and measures the geometry
(`geometry.py`): nothing may be misplaced, and every core must be there from end to end. The collections:

- the atlas of all graphs with up to seven nodes, and the named graphs of networkx (PyPI)
- the example graphs in Debian's `graphviz-doc`; where an edge names a field of a record, that is its terminal
- the power grid, the neurons and the games in the tests of Debian's `r-cran-igraph`

Each graph is read in two ways. First every node is a device, with a terminal for each end of each core, those towards
the middle of the graph first, and every edge a cable of one to four cores. Then every other node that has three to
twelve edges is a splice, so that there are conductors of many cores, and devices stand in rooms.

    python graphs.py PROGRAM [all]

Of the atlas some graphs are taken, and of the largest graphs the middle. `all` takes every graph whole; it takes long.
"""

import gzip
import re
import subprocess
import sys
import tempfile
from collections import Counter
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path

import networkx as nx
import pydot
from geometry import Measure, draw, self_test

CORES = (2, 1, 3, 2, 1, 4, 2)
# Nodes of more edges take single cores, and none is a splice.
MANY = 12
ROOM = 7
# One of so many graphs of the atlas is in the sample.
EVERY = 9
# Of larger graphs only the middle is in the sample.
EDGES = 700
COLLECTIONS = {"atlas", "networkx", "graphviz", "igraph"}
NAMED = (
    "bull", "chvatal", "cubical", "desargues", "diamond", "dodecahedral", "frucht", "heawood", "hoffman_singleton",
    "house", "house_x", "icosahedral", "krackhardt_kite", "moebius_kantor", "octahedral", "pappus", "petersen",
    "sedgewick_maze", "tetrahedral", "truncated_cube", "truncated_tetrahedron", "tutte", "karate_club",
    "davis_southern_women", "florentine_families", "les_miserables",
)


def unpacked(package: str, folder: Path) -> Path:
    """A package of Debian's, opened but not installed: its documents are often left out when it is."""
    options = ["-qq", "-o", "APT::Sandbox::User=root"]
    subprocess.run(["apt-get", *options, "download", package], cwd=folder, check=True)
    archive = next(folder.glob(f"{package}_*.deb"))
    subprocess.run(["dpkg", "-x", archive, folder / package], check=True)
    return folder / package


def read(file: Path) -> str:
    data = gzip.open(file).read() if file.suffix == ".gz" else file.read_bytes()
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def dot_graph(text: str) -> nx.MultiGraph:
    """The edges of a file of Graphviz's, those in subgraphs too. A named field of a record is kept as `port`."""
    graph = nx.MultiGraph()

    def ends(end) -> list[tuple[str, str]]:
        if not isinstance(end, str):
            return [(name, "") for name in end.get("nodes", {})]
        found = re.fullmatch(r'("(?:[^"\\]|\\.)*"|[^:]*)(?::("[^"]*"|\w+))?(?::\w+)?', end.strip())
        name, port = found.groups() if found else (end, "")
        return [(name.strip('"'), (port or "").strip('"'))]

    def collect(part) -> None:
        for edge in part.get_edges():
            for a, from_port in ends(edge.get_source()):
                for b, to_port in ends(edge.get_destination()):
                    graph.add_edge(a, b, ports={0: from_port, 1: to_port})
        for inner in part.get_subgraphs():
            collect(inner)

    with redirect_stdout(StringIO()):
        for part in pydot.graph_from_dot_data(text) or []:
            collect(part)
    return graph


def collections(folder: Path, everything: bool):
    """Each graph with its name."""
    step = 1 if everything else EVERY
    for n, graph in enumerate(nx.graph_atlas_g()[1::step]):
        yield f"atlas {1 + n * step}", graph
    for name in NAMED:
        yield f"networkx {name}", getattr(nx, f"{name}_graph")()
    examples = unpacked("graphviz-doc", folder) / "usr/share/doc/graphviz/examples/graphs"
    for file in sorted(examples.glob("*/*.gv*")):
        yield f"graphviz {file.name}", dot_graph(read(file))
    tests = unpacked("r-cran-igraph", folder) / "usr/share/doc/r-cran-igraph/tests/testthat"
    for name in ("football", "celegansneural", "power"):
        # Some edges are there twice, which the files do not say.
        text = read(tests / f"{name}.gml.gz").replace("directed", "multigraph 1 directed", 1)
        yield f"igraph {name}", nx.MultiGraph(nx.parse_gml(text.split("\n"), label="id"))


def middle(graph):
    """What is nearest the node of most edges."""
    root = max(graph.nodes, key=lambda node: (graph.degree(node), str(node)))
    nodes = [root, *(node for _, node in nx.bfs_edges(graph, root))]
    while graph.subgraph(nodes).number_of_edges() > EDGES:
        nodes = nodes[: len(nodes) * 3 // 4]
    return graph.subgraph(nodes)


def depths(graph) -> dict:
    """How far each node is from the middle of its part: the node of most edges."""
    depth = {}
    for part in sorted(nx.connected_components(graph), key=lambda part: min(map(str, part))):
        root = max(part, key=lambda node: (graph.degree(node), str(node)))
        depth |= nx.single_source_shortest_path_length(graph, root)
    return depth


class Wiring:
    """A graph as a job."""

    def __init__(self, graph, joined: bool) -> None:
        graph = nx.MultiGraph(graph)
        graph.remove_edges_from(list(nx.selfloop_edges(graph, keys=True)))
        depth = depths(graph)
        nodes = sorted(graph.nodes, key=lambda node: (depth[node], str(node)))
        self.names = {node: f"D{n}" for n, node in enumerate(nodes)}
        self.splices = {
            node for n, node in enumerate(nodes) if joined and n % 2 == 0 and 3 <= graph.degree(node) <= MANY
        }
        self.rooms = {node: f"Room {n // ROOM}" for n, node in enumerate(nodes) if joined}
        # Every core end, and for each device its terminals with what they are ordered by.
        self.cores: dict[tuple[str, str], list] = {}
        terminals: dict = {node: {} for node in nodes}
        cables = []
        for number, (a, b, ports) in enumerate(graph.edges(data="ports", default={})):
            single = self.splices & {a, b} or max(graph.degree(a), graph.degree(b)) > MANY
            ports = {a: ports.get(0, ""), b: ports.get(1, "")}
            count = 1 if single or any(ports.values()) else CORES[number % len(CORES)]
            cores = []
            for core in range(1, count + 1):
                ends = []
                for here, there in ((a, b), (b, a)):
                    name = "" if here in self.splices else f"T{number}-{core}"
                    if ports[here] and name:
                        name = "P" + "".join(c if c.isalnum() else "-" for c in ports[here])
                    terminals[here].setdefault(name, (depth[there] >= depth[here], self.names[there], number, core))
                    ends.append([self.names[here], name])
                self.cores[f"W{number}", f"c{core}"] = ends
                written = ", ".join(device + (f".{name}" if name else "") for device, name in ends)
                cores.append(f"c{core}: [{written}]")
            cables.append(f"  W{number}: {{length: 3 m, cores: {{{', '.join(cores)}}}}}")
        devices = []
        for node in nodes:
            room = f", location: {self.rooms[node]}" if joined else ""
            kind = "type: splice"
            if node not in self.splices:
                names = sorted(terminals[node], key=terminals[node].get) or ["T0"]
                kind = f"terminals: [{', '.join(names)}]"
            devices.append(f"  {self.names[node]}: {{{kind}{room}}}")
        self.devices = len(devices)
        heads = ("devices:", *devices, "cables:", *cables) if cables else ("devices:", *devices)
        self.text = "\n".join(("job: {title: a graph}", *heads)) + "\n"

    def missing(self, geometry: dict) -> list:
        """What is not drawn from end to end as it is asked for."""
        drawn = {}
        for sheet in geometry["sheets"]:
            for core in sheet["cores"]:
                drawn[core["cable"], core["core"]] = [core["from"], core["to"]]
        return sorted(core for core in drawn.keys() | self.cores if drawn.get(core) != self.cores.get(core))


def main() -> None:
    program, everything = sys.argv[1], sys.argv[2:] == ["all"]
    self_test()
    counted: dict[str, Counter] = {}
    faults = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for title, graph in collections(folder, everything):
            if not graph.number_of_nodes():
                continue
            if not everything and graph.number_of_edges() > EDGES:
                graph = middle(graph)
            for joined in (False, True):
                wiring = Wiring(graph, joined)
                if joined and not wiring.splices:
                    continue
                job = folder / "job.yaml"
                job.write_text(wiring.text, encoding="utf-8")
                geometry = draw(program, job, "--one-sheet")
                measure, missing = Measure.of(geometry), wiring.missing(geometry)
                count = counted.setdefault(title.split()[0], Counter())
                count.update(
                    drawings=1, devices=wiring.devices, cores=measure.cores, crossings=measure.crossings,
                    bends=measure.bends,
                )
                if measure.counts() or missing:
                    faults.append(title)
                    kept = Path(tempfile.gettempdir()) / f"faulty-{title.replace(' ', '-')}-{int(joined)}.yaml"
                    kept.write_text(wiring.text, encoding="utf-8")
                    print(f"{title}: {measure.counts()}, missing {missing[:5]}; kept as {kept}")
                    for told in measure.faults.values():
                        print("".join(f"    {words}\n" for words in told[:3]), end="")
    for collection, count in counted.items():
        cores = max(1, count["cores"])
        print(
            f"{collection}: {count['drawings']} drawings, {count['devices']} devices, {count['cores']} cores, "
            f"{count['crossings'] / cores:.2f} crossings and {count['bends'] / cores:.2f} bends a core"
        )
    if counted.keys() != COLLECTIONS:
        sys.exit(f"nothing came of {COLLECTIONS - counted.keys()}")
    if faults:
        sys.exit(f"something is misplaced on {len(faults)} drawings")


if __name__ == "__main__":
    main()
