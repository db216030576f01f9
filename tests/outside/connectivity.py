"""Which terminals are joined: the program against networkx.

Makes random jobs of boxes, splices, strips, links and permanent bridges, asks the program for the terminal schedule
and compares its `net` column with the connected components that networkx finds. The seed is fixed.

    python connectivity.py PROGRAM [JOBS]
"""

import json
import random
import subprocess
import sys
import tempfile
from pathlib import Path

import networkx as nx


def make_job(rng: random.Random) -> tuple[str, nx.Graph]:
    """A random job as YAML, and what is joined in it."""
    graph = nx.Graph()
    devices, sheets, points = [], [], []
    for n in range(rng.randint(2, 9)):
        kind = rng.choice(["box", "box", "box", "splice", "strip"])
        name = f"D{n}"
        if kind == "splice":
            devices.append(f"  {name}: {{type: splice}}")
            points.append((name, ""))
        elif kind == "strip":
            ways = rng.randint(1, 6)
            devices.append(f"  {name}: {{type: terminal-strip, ways: {ways}}}")
            points += [(name, str(way)) for way in range(1, ways + 1)]
        else:
            count = rng.randint(1, 7)
            names = rng.sample(["NO", "1", "07", "1.10", "+V", "0V", "A", "on", "null", "B-", "~x"], count)
            devices.append(f"  {name}: {{type: t{n}}}")
            sheet = [f"  t{n}:", f"    terminals: [{', '.join(names)}]"]
            if count >= 3 and rng.random() < 0.4:
                bridge = rng.sample(names, rng.randint(2, count - 1))
                sheet.append(f"    bridges: [[{', '.join(bridge)}]]")
                for other in bridge[1:]:
                    graph.add_edge((name, bridge[0]), (name, other))
            sheets += sheet
            points += [(name, terminal) for terminal in names]
    graph.add_nodes_from(points)

    def written(point: tuple[str, str]) -> str:
        return point[0] if point[1] == "" else f"{point[0]}.{point[1]}"

    cables = []
    for n in range(rng.randint(1, 12)):
        cores = []
        for colour in rng.sample(["red", "black", "blue", "white", "green", "white-blue"], rng.randint(1, 4)):
            if len(points) > 1 and rng.random() < 0.8:
                a, b = rng.sample(points, 2)
                graph.add_edge(a, b)
                cores.append(f"{colour}: [{written(a)}, {written(b)}]")
            elif rng.random() < 0.5:
                cores.append(f"{colour}: [{written(rng.choice(points))}, taped]")
            else:
                cores.append(f"{colour}: taped")
        cables.append(f"  W{n}: {{cores: {{{', '.join(cores)}}}}}")
    links = []
    for _ in range(rng.randint(0, 3) if len(points) > 1 else 0):
        a, b = rng.sample(points, 2)
        if rng.random() < 0.5:
            graph.add_edge(a, b)
            links.append(f"  - [{written(a)}, {written(b)}]")
    text = ["job: {title: random}", "devices:", *devices, "cables:", *cables]
    if links:
        text += ["links:", *links]
    if sheets:
        text += ["data_sheets:", *sheets]
    return "\n".join(text) + "\n", graph


def nets(rows: list[dict]) -> set[frozenset]:
    """The groups of terminals that the schedule says are one conductor; a terminal that nothing is on is not in one."""
    groups: dict[str, set] = {}
    for row in rows:
        if row["device"] and row["net"]:
            groups.setdefault(row["net"], set()).add((row["device"], row["terminal"]))
    return {frozenset(group) for group in groups.values()}


def main() -> None:
    program = sys.argv[1]
    jobs = int(sys.argv[2]) if len(sys.argv) > 2 else 300
    rng = random.Random(20260314)
    compared = joined = 0
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "job.yaml"
        for number in range(jobs):
            text, graph = make_job(rng)
            file.write_text(text, encoding="utf-8")
            run = subprocess.run(
                [program, "schedule", str(file), "terminals", "--no-zones", "--format", "json"],
                capture_output=True, text=True, check=False,
            )
            if run.returncode != 0:
                sys.exit(f"job {number}: status {run.returncode}\n{run.stderr}\n{text}")
            rows = json.loads(run.stdout)
            landed = {(r["device"], r["terminal"]) for r in rows if r["device"] and r["net"]}
            found = nets(rows)
            # A terminal with nothing on it has no row with a conductor: leave it out on both sides.
            wanted = {frozenset(c & landed) for c in nx.connected_components(graph)} - {frozenset()}
            if found != wanted:
                sys.exit(f"job {number}: the program joins otherwise than networkx\n{found ^ wanted}\n{text}")
            bare = {p for p in graph.nodes if graph.degree(p) > 0} - landed
            bridged = {p for p in bare if all(q[0] == p[0] for q in graph.neighbors(p))}
            if bare - bridged:
                sys.exit(f"job {number}: joined, yet no row says so: {bare - bridged}\n{text}")
            compared += len(wanted)
            joined += sum(len(c) > 1 for c in wanted)
    print(f"{jobs} jobs, {compared} conductors, {joined} of them with more than one terminal: all as networkx says")


if __name__ == "__main__":
    main()
