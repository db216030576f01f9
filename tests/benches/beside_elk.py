"""Draws jobs with the program and with ELK's layered algorithm, and measures both drawings by the same rules.

    npm install elkjs@0.12.1 && pip install PyYAML && python3 beside_elk.py PROGRAM JOB.yaml ...

Prints the rows of `docs/benchmarks.md`; three figures are the program's, ELK's in an order of its own, and ELK's when it
begins with the order of the job file. Of a job with locations the last is ELK's with each location in a box of its own, in
an order of its own: from that of the job file it fails with such boxes.

Both draw the same boxes with the same terminals: the program goes first, and ELK gets the boxes as they came out, with
each terminal where the program put it on the outline (fixed places, and a splice free to be landed on at any side) and
each core directed from a right side to a left one. Where the boxes stand and how the cores run is then left to either.
ELK is not asked to keep the cores of a cable together, it draws no names, and it gets no spare cores: figures are of the
cores that have two ends. A job with locations is drawn once more without them.

ELK draws cores that share a terminal as one line from there on. So crossings are counted twice: as they are seen, several
cores of one conductor on one line as one, and of each two cores. What lies on one line so is a column of its own and not
called a fault. But who follows a core on such a line must know where it parts from it: so what is *met* along a core are
the places at which another line crosses it, and half of those at which it parts from a line that it shares with another
core (half, for from its own side there is nothing to choose).
"""

import json
import re
import subprocess
import sys
import tempfile
from collections import defaultdict
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

import yaml

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "outside"))
from geometry import EPS, M, Boxes, Measure, Piece, self_test

LIMIT = 600
# Room for lettering is not asked for, but lines at least as far apart as the program's.
SPACING = {
    "elk.spacing.nodeNode": 4 * M,
    "elk.spacing.edgeNode": 2 * M,
    "elk.spacing.edgeEdge": 1.5 * M,
    "elk.layered.spacing.nodeNodeBetweenLayers": 6 * M,
    "elk.layered.spacing.edgeNodeBetweenLayers": 2 * M,
    "elk.layered.spacing.edgeEdgeBetweenLayers": 1.5 * M,
}
# In an order of its own, and beginning with that of the job file.
PEERS = ({}, {"elk.layered.considerModelOrder.strategy": "NODES_AND_EDGES"})
# Room between the frame of a location and what stands in it.
PADDING = "[top=12,left=8,bottom=8,right=8]"


# A child of this process would count this one's memory as its own, so a small one starts it.
LAUNCHER = """
import json, resource, subprocess, sys, time
begin = time.monotonic()
try:
    code = subprocess.run(sys.argv[3:], stderr=subprocess.DEVNULL, timeout=int(sys.argv[1])).returncode
except subprocess.TimeoutExpired:
    sys.exit(2)
usage = resource.getrusage(resource.RUSAGE_CHILDREN)
with open(sys.argv[2], "w") as file:
    json.dump((time.monotonic() - begin, usage.ru_utime + usage.ru_stime, usage.ru_maxrss), file)
sys.exit(code if code in (0, 1) else 2)
"""


@dataclass
class Run:
    """What a process took, in seconds and MiB."""

    wall: float
    processor: float
    memory: float
    said: str


def run(arguments: list, folder: Path) -> Run | None:
    """A process from start to end; nothing if it takes too long or fails."""
    account = folder / "account.json"
    words = [str(word) for word in arguments]
    done = subprocess.run(
        [sys.executable, "-c", LAUNCHER, str(LIMIT), str(account), *words], stdout=subprocess.PIPE, text=True, check=False
    )
    if done.returncode not in (0, 1):
        return None
    wall, processor, memory = json.loads(account.read_text(encoding="utf-8"))
    return Run(wall, processor, memory / 1024, done.stdout)


def with_two_ends(geometry: dict) -> dict:
    """The one sheet of a drawing without spare cores and lettering."""
    sheet = geometry["sheets"][0]
    cores = [core for core in sheet["cores"] if core["from"][0] is not None and core["to"][0] is not None]
    return {"sheets": [{**sheet, "cores": cores, "labels": []}]}


def port(device: dict, terminal: str, x: float) -> str:
    """A terminal on one side of its device: a way of a strip has both."""
    side = "WEST" if x - device["x"] < device["w"] / 2 else "EAST"
    return "\n".join((device["id"], terminal, side))


def side(name: str) -> str:
    return name.rsplit("\n", 1)[1]


def graph(geometry: dict, order: list[str], options: dict) -> dict:
    """The job for ELK, devices and cores in the order of the job file."""
    sheet = geometry["sheets"][0]
    rank = {name: n for n, name in enumerate(order)}
    devices = {device["id"]: device for device in sheet["devices"]}
    children = {}
    for device in sorted(sheet["devices"], key=lambda device: rank[device["id"]]):
        ports = {}
        for terminal in device["terminals"]:
            name = port(device, terminal["id"], terminal["x"])
            # Several landings of one terminal are one place for ELK. A splice is one point: ELK lands its cores itself.
            if terminal["id"] == "" or name in ports:
                continue
            ports[name] = {
                "id": name, "width": 0, "height": 0,
                "x": terminal["x"] - device["x"], "y": terminal["y"] - device["y"],
                "layoutOptions": {"elk.port.side": side(name)},
            }
        children[device["id"]] = {
            "id": device["id"], "width": device["w"], "height": device["h"], "ports": list(ports.values()),
            "layoutOptions": {"elk.portConstraints": "FIXED_POS" if ports else "FREE"},
        }
    edges = []
    for n, core in enumerate(sheet["cores"]):
        ends = []
        for (device, terminal), (x, _) in ((core["from"], core["points"][0]), (core["to"], core["points"][-1])):
            name = port(devices[device], terminal, x)
            if terminal == "":
                name = f"{device}\n\n{n}"
                children[device]["ports"].append({"id": name, "width": 0, "height": 0})
            ends.append(name)
        if side(ends[0]) != "EAST" and side(ends[1]) != "WEST":
            ends.reverse()
        edges.append({"id": str(n), "sources": [ends[0]], "targets": [ends[1]]})
    layout = {
        "elk.algorithm": "layered", "elk.edgeRouting": "ORTHOGONAL", "elk.direction": "RIGHT", "elk.randomSeed": "1",
        **{name: str(value) for name, value in SPACING.items()}, **options,
    }
    return {"id": "root", "layoutOptions": layout, "children": list(children.values()), "edges": edges}


def boxed(whole: dict, locations: dict[str, str]) -> dict:
    """The same for ELK with each location in a box of its own."""
    options = {**whole["layoutOptions"], "elk.hierarchyHandling": "INCLUDE_CHILDREN"}
    top: list[dict] = []
    boxes: dict[str, list[dict]] = {"": top}
    for child in whole["children"]:
        inside = ""
        for name in locations[child["id"]].split("/") if locations[child["id"]] else []:
            around, inside = inside, f"{inside}/{name}"
            if inside not in boxes:
                boxes[inside] = []
                box = {"id": f"\n{inside}", "children": boxes[inside], "layoutOptions": {**options, "elk.padding": PADDING}}
                boxes[around].append(box)
        boxes[inside].append(child)
    return {**whole, "layoutOptions": options, "children": top}


def unboxed(laid_out: dict) -> dict:
    """What ELK made of boxes in boxes, with all places on the one paper."""
    corners, children = {}, []

    def unpack(node: dict, x: float, y: float) -> None:
        corners[node["id"]] = (x, y)
        for child in node["children"]:
            child["x"], child["y"] = child["x"] + x, child["y"] + y
            if child["id"].startswith("\n"):
                unpack(child, child["x"], child["y"])
            else:
                children.append(child)

    unpack(laid_out, 0, 0)
    for edge in laid_out["edges"]:
        x, y = corners[edge.get("container", "root")]
        for section in edge["sections"]:
            for point in (section["startPoint"], *section.get("bendPoints", []), section["endPoint"]):
                point["x"], point["y"] = point["x"] + x, point["y"] + y
    return {**laid_out, "children": children}


def placed(geometry: dict, laid_out: dict) -> dict:
    """What ELK made of it, in the form of the program's geometry."""
    devices = []
    for child in laid_out["children"]:
        terminals = []
        for one in child["ports"]:
            place = {"x": child["x"] + one["x"], "y": child["y"] + one["y"]}
            terminals.append({"id": one["id"].split("\n")[1], **place})
        size = {"x": child["x"], "y": child["y"], "w": child["width"], "h": child["height"]}
        devices.append({"id": child["id"], **size, "terminals": terminals})
    cores = []
    for edge in laid_out["edges"]:
        core = geometry["sheets"][0]["cores"][int(edge["id"])]
        points = []
        for section in edge["sections"]:
            points += [section["startPoint"], *section.get("bendPoints", []), section["endPoint"]]
        line = [[round(point["x"], 3), round(point["y"], 3)] for point in points]
        if edge["sources"][0].split("\n")[0] != core["from"][0]:
            line.reverse()
        cores.append({**core, "points": line})
    size = [laid_out["width"], laid_out["height"]]
    return {"sheets": [{"size": size, "devices": devices, "cores": cores, "labels": []}]}


def met(geometry: dict) -> float:
    """What a reader meets along all cores: crossings, and half of the places where one parts from a line that it shares."""
    cores = geometry["sheets"][0]["cores"]
    pieces = Measure().lines(cores, [str(n) for n in range(len(cores))])
    level = [piece for piece in pieces if piece.level]
    finder = Boxes([piece.box for piece in level])
    crossed, parted = defaultdict(set), defaultdict(set)
    for upright in pieces:
        for k in finder.meeting(upright.box) if not upright.level else ():
            other = level[k]
            inside = other.low + EPS < upright.at < other.high - EPS and upright.low + EPS < other.at < upright.high - EPS
            if inside and other.core != upright.core:
                for core in (other.core, upright.core):
                    crossed[core].add((round(upright.at, 2), round(other.at, 2)))
    own, lines = defaultdict(list), defaultdict(list)
    for piece in pieces:
        own[piece.core].append(piece)
        lines[piece.level, round(piece.at, 2)].append(piece)
    tips = [{tuple(round(v, 2) for v in core["points"][end]) for end in (0, -1)} for core in cores]

    def onwards(piece: Piece, along: float) -> set[bool]:
        """The ways that a core goes on round a corner there."""
        around = [p for p in own[piece.core] if p.level != piece.level and abs(p.at - along) <= EPS]
        return {abs(p.low - piece.at) <= EPS for p in around if min(abs(p.low - piece.at), abs(p.high - piece.at)) <= EPS}

    for line in lines.values():
        for one, other in combinations(line, 2):
            low, high = max(one.low, other.low), min(one.high, other.high)
            if one.core == other.core or high - low <= EPS:
                continue
            for along in (low, high):
                place = (round(along, 2), round(one.at, 2)) if one.level else (round(one.at, 2), round(along, 2))
                together = onwards(one, along) & onwards(other, along)
                if not together and not (place in tips[one.core] and place in tips[other.core]):
                    parted[one.core].add(place)
                    parted[other.core].add(place)
    return sum(map(len, crossed.values())) + sum(map(len, parted.values())) / 2


def test_met() -> None:
    """Stops if what is met is not counted: two cores that share a line to a fork, and a third across that line."""
    lines = ([[0, 0], [40, 0]], [[0, 0], [20, 0], [20, 10], [40, 10]], [[10, -5], [10, 5]])
    cores = [{"points": points} for points in lines]
    # The third crosses both at one place; it meets that once, and each of the two meets it once and parts once.
    if met({"sheets": [{"cores": cores}]}) != 3 + 2 / 2:
        sys.exit(f"what is met along cores is counted wrongly: {met({'sheets': [{'cores': cores}]})}")


HEAD = (
    "job", "devices", "cores", "met along a core", "crossings a core, seen", "crossings a core", "bends a core", "length ratio",
    "mean core, mm", "on one line or through boxes", "tight pairs", "one net on one line", "layout, s", "process, s",
    "processor, s", "MiB",
)
NOTHING = ("–",) * (len(HEAD) - 3)


def cells(geometry: dict, took: Run, layout: str) -> tuple[str, ...]:
    """The figures of one drawing, in the order of the table."""
    measure = Measure.of(geometry)
    cores = max(1, measure.cores)
    # Several cores on one landing are ELK's way of drawing a terminal, so ends are not among these.
    wrong = ("overlaps between nets", "touches", "cores through boxes", "device overlaps")
    faults = sum(len(measure.faults[name]) for name in wrong)
    return (
        f"{met(geometry) / cores:.2f}",
        f"{measure.seen_crossings / cores:.2f}", f"{measure.crossings / cores:.2f}", f"{measure.bends / cores:.2f}",
        f"{measure.length / max(1, measure.bound):.2f}", f"{measure.length / cores:.0f}", str(faults),
        str(len(measure.faults["tight pairs"])), str(len(measure.faults["overlaps in a net"])), layout,
        f"{took.wall:.1f}", f"{took.processor:.1f}", f"{took.memory:.0f}",
    )


def without_locations(text: str) -> str:
    return re.sub(r", location: [^,}\n]*", "", text)


def beside(program: str, job: Path, work: Path) -> None:
    numbers = work / "job.json"
    took = run([program, "draw", job, "--one-sheet", "-o", numbers], work)
    if took is None:
        sys.exit(f"{job} could not be drawn")
    whole = json.loads(numbers.read_text(encoding="utf-8"))
    counts = Measure.of(whole).counts()
    if counts:
        print(f"{job.stem}: misplaced with all its lettering and spare cores: {counts}")
    geometry = with_two_ends(whole)
    figures = [cells(geometry, took, "–")]
    devices = yaml.safe_load(job.read_text(encoding="utf-8"))["devices"]
    locations = {str(name): (device or {}).get("location") or "" for name, device in devices.items()}
    peers = [graph(geometry, list(locations), options) for options in PEERS]
    in_boxes = any(locations.values())
    if in_boxes:
        peers[1] = boxed(peers[0], locations)
    for n, peer in enumerate(peers):
        file, out = work / "graph.json", work / "placed.json"
        file.write_text(json.dumps(peer), encoding="utf-8")
        script = Path(__file__).with_name("elk.mjs")
        took = run(["node", "--stack-size=50000", script, file, out], work)
        if took is None:
            print(f"{job.stem}: ELK failed or took more than {LIMIT} s", flush=True)
            figures.append(NOTHING)
            continue
        laid_out = json.loads(out.read_text(encoding="utf-8"))
        drawn = placed(geometry, unboxed(laid_out) if in_boxes and n == 1 else laid_out)
        figures.append(cells(drawn, took, f"{json.loads(took.said)['seconds']:.1f}"))
    sheet = geometry["sheets"][0]
    counts = (str(len(sheet["devices"])), str(len(sheet["cores"])))
    print("| " + " | ".join((job.stem, *counts, *(" / ".join(each) for each in zip(*figures)))) + " |", flush=True)


def main() -> None:
    program, *jobs = sys.argv[1:]
    self_test()
    test_met()
    print(f"| {' | '.join(HEAD)} |\n{'|---' * len(HEAD)}|")
    with tempfile.TemporaryDirectory() as folder:
        for job in map(Path, jobs):
            beside(program, job, Path(folder))
            text = job.read_text(encoding="utf-8")
            if without_locations(text) != text:
                plain = Path(folder) / f"{job.stem} without locations.yaml"
                plain.write_text(without_locations(text), encoding="utf-8")
                beside(program, plain, Path(folder))


if __name__ == "__main__":
    main()
