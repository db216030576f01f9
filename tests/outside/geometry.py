"""Is anything on a drawing misplaced? A measure of the geometry that `draw -o JOB.json` writes, and of nothing else.

It knows millimetres, boxes and lines, no wiring and none of the program's own data. `Measure` counts what must be 0 on
every drawing (`FAULTS`, each with a sentence that says where) and what should be low (crossings, bends, length). Every
run first measures drawings that are spoilt by hand, so that no counter can be asleep.

    python geometry.py PROGRAM [JOB ...]

draws the examples and the further jobs, or the given ones, on one sheet and on as many as the program likes.
"""

import json
import subprocess
import sys
import tempfile
from bisect import bisect_left, bisect_right, insort
from collections import defaultdict
from copy import deepcopy
from dataclasses import dataclass, field
from pathlib import Path

HERE = Path(__file__).resolve().parents[2]
# The grid of drawings; lines of two conductors stay so far apart.
M = 2.5
# Coordinates are written in thousandths.
EPS = 0.01
FAULTS = (
    "overlaps between nets",
    "overlaps in a net",
    "touches",
    "touches in a net",
    "tight pairs",
    "corners at crossings",
    "slanted pieces",
    "cores through boxes",
    "device overlaps",
    "ends off terminal",
    "labels on labels",
    "labels on boxes",
    "cores through labels",
)


@dataclass
class Piece:
    """A level or upright piece of a core."""

    core: int
    level: bool
    at: float
    low: float
    high: float

    @property
    def box(self) -> tuple[float, float, float, float]:
        if self.level:
            return self.low, self.at, self.high, self.at
        return self.at, self.low, self.at, self.high


class Finder:
    """Boxes, found by where they are: sorted by their left edges in level bands of the paper."""

    def __init__(self, boxes: list[tuple[float, float, float, float]], height: float) -> None:
        self.boxes, self.height = boxes, height
        self.bands: dict[int, list[tuple[float, int]]] = defaultdict(list)
        for n, (x0, y0, _, y1) in enumerate(boxes):
            for band in range(int(y0 // height), int(y1 // height) + 1):
                self.bands[band].append((x0, n))
        # How far right anything reaches that begins no later.
        self.reach: dict[int, list[float]] = {}
        for band, entries in self.bands.items():
            entries.sort()
            furthest, so_far = [], float("-inf")
            for _, n in entries:
                so_far = max(so_far, boxes[n][2])
                furthest.append(so_far)
            self.reach[band] = furthest

    def meeting(self, area: tuple[float, float, float, float]) -> set[int]:
        x0, y0, x1, y1 = area
        found = set()
        for band in range(int(y0 // self.height), int(y1 // self.height) + 1):
            entries = self.bands.get(band)
            if entries is None:
                continue
            n = bisect_right(entries, (x1, len(self.boxes))) - 1
            while n >= 0 and self.reach[band][n] >= x0:
                box = self.boxes[entries[n][1]]
                if box[2] >= x0 and box[1] <= y1 and box[3] >= y0:
                    found.add(entries[n][1])
                n -= 1
        return found


def turned(box: tuple[float, float, float, float]) -> tuple[float, float, float, float]:
    return box[1], box[0], box[3], box[2]


class Boxes:
    """Boxes that a level or upright piece can be held against without walking through many bands."""

    def __init__(self, boxes: list[tuple[float, float, float, float]], band: float = 50.0) -> None:
        self.rows = Finder(boxes, band)
        self.columns = Finder([turned(box) for box in boxes], band)

    def meeting(self, area: tuple[float, float, float, float]) -> list[int]:
        level = area[2] - area[0] >= area[3] - area[1]
        return sorted(self.rows.meeting(area) if level else self.columns.meeting(turned(area)))


def overlap(a: tuple[float, ...], b: tuple[float, ...], grown: float = 0.0) -> bool:
    """Whether the insides of two boxes meet, the second grown on all sides."""
    return (
        a[0] < b[2] + grown - EPS and b[0] - grown < a[2] - EPS
        and a[1] < b[3] + grown - EPS and b[1] - grown < a[3] - EPS
    )


def enters(piece: Piece, box: tuple[float, ...], grown: float = 0.0) -> bool:
    """Whether a piece comes into the inside of a box."""
    x0, y0, x1, y1 = piece.box
    return (
        x0 < box[2] + grown - EPS and x1 > box[0] - grown + EPS
        and y0 < box[3] + grown - EPS and y1 > box[1] - grown + EPS
    )


def box_of(item: dict) -> tuple[float, float, float, float]:
    return item["x"], item["y"], item["x"] + item["w"], item["y"] + item["h"]


def crossings(pieces: list[Piece]) -> int:
    """How often a level and an upright piece cross, neither at its end."""
    events = []
    for piece in pieces:
        if piece.level:
            events.append((piece.low, 2, piece))
            events.append((piece.high, 0, piece))
        else:
            events.append((piece.at, 1, piece))
    events.sort(key=lambda event: event[:2])
    count, rows = 0, []
    for _, what, piece in events:
        if what == 2:
            insort(rows, piece.at)
        elif what == 0:
            del rows[bisect_left(rows, piece.at)]
        else:
            count += max(0, bisect_left(rows, piece.high) - bisect_right(rows, piece.low))
    return count


def merged(pieces: list[Piece]) -> list[Piece]:
    """What is seen of the pieces of one conductor: those that lie on one line are one line."""
    lines: dict[tuple[bool, float], list[Piece]] = defaultdict(list)
    for piece in pieces:
        lines[piece.level, round(piece.at, 2)].append(piece)
    seen = []
    for line in lines.values():
        line.sort(key=lambda piece: piece.low)
        for piece in line:
            last = seen[-1] if seen else None
            if last and (last.level, last.at) == (piece.level, line[0].at) and piece.low <= last.high + EPS:
                last.high = max(last.high, piece.high)
            else:
                seen.append(Piece(piece.core, piece.level, line[0].at, piece.low, piece.high))
    return seen


def neighbours(pieces: list[Piece], near: float):
    """Each two parallel pieces side by side, less than so far apart, with their distance."""
    for level in (True, False):
        some = [piece for piece in pieces if piece.level == level]
        events = [(p.low, 1, n) for n, p in enumerate(some)] + [(p.high - EPS, 0, n) for n, p in enumerate(some)]
        events.sort()
        active: list[tuple[float, int]] = []
        for _, begins, n in events:
            entry = (some[n].at, n)
            if not begins:
                # A piece as short as the tolerance ends before it begins, and was never in.
                place = bisect_left(active, entry)
                if place < len(active) and active[place] == entry:
                    del active[place]
                continue
            if some[n].high - some[n].low <= EPS:
                continue
            first = bisect_left(active, (entry[0] - near + EPS, -1))
            last = bisect_left(active, (entry[0] + near - EPS, -1))
            for at, other in active[first:last]:
                yield some[other], some[n], abs(at - entry[0])
            insort(active, entry)


class Joined:
    """What is one conductor: groups that grow together."""

    def __init__(self) -> None:
        self.above: dict = {}

    def root(self, one):
        self.above.setdefault(one, one)
        while self.above[one] != one:
            self.above[one] = self.above[self.above[one]]
            one = self.above[one]
        return one

    def join(self, one, other) -> None:
        self.above[self.root(one)] = self.root(other)


@dataclass
class Measure:
    """Counts of a whole drawing."""

    faults: dict[str, list[str]] = field(default_factory=lambda: {name: [] for name in FAULTS})
    cores: int = 0
    crossings: int = 0
    # Lines of one conductor that lie on each other taken as the one line that is seen.
    seen_crossings: int = 0
    bends: int = 0
    length: float = 0.0
    # The way between the ends of each core along level and upright lines, at the least.
    bound: float = 0.0

    @classmethod
    def of(cls, geometry: dict) -> "Measure":
        measure, joined = cls(), Joined()
        for sheet in geometry["sheets"]:
            for core in sheet["cores"]:
                wire = ("core", core["cable"], core["core"])
                joined.root(wire)
                for device, terminal in (core["from"], core["to"]):
                    if device is not None:
                        joined.join(wire, ("terminal", device, terminal))
        for sheet in geometry["sheets"]:
            measure.sheet(sheet, [joined.root(("core", c["cable"], c["core"])) for c in sheet["cores"]])
        return measure

    def counts(self) -> dict[str, int]:
        return {name: len(told) for name, told in self.faults.items() if told}

    def sheet(self, sheet: dict, nets: list) -> None:
        cores = sheet["cores"]
        names = [f"{core['cable']}.{core['core']}" for core in cores]
        boxes = [box_of(device) for device in sheet["devices"]]
        pieces = self.lines(cores, names)
        self.cores += len(cores)
        self.beside(pieces, nets, names)
        self.corners(cores, pieces, nets, names)
        self.through(sheet["devices"], boxes, pieces, names)
        self.ends(sheet["devices"], cores, names)
        self.labels(sheet["labels"], sheet["devices"], boxes, cores, pieces, names)
        self.crossed(pieces, nets)

    def tell(self, fault: str, words: str) -> None:
        self.faults[fault].append(words)

    def lines(self, cores: list[dict], names: list[str]) -> list[Piece]:
        """The pieces of all cores, two in one direction as one."""
        pieces = []
        for n, core in enumerate(cores):
            own: list[Piece] = []
            points = core["points"]
            for (ax, ay), (bx, by) in zip(points, points[1:]):
                self.length += abs(ax - bx) + abs(ay - by)
                if abs(ax - bx) > EPS and abs(ay - by) > EPS:
                    self.tell("slanted pieces", f"{names[n]} from {ax}, {ay} to {bx}, {by}")
                elif abs(ax - bx) > EPS or abs(ay - by) > EPS:
                    level = abs(ay - by) <= EPS
                    low, high = sorted((ax, bx) if level else (ay, by))
                    piece = Piece(n, level, ay if level else ax, low, high)
                    last = own[-1] if own else None
                    straight = last and last.level == level and min(
                        abs(last.high - low), abs(last.low - high)) <= EPS
                    if last and straight:
                        last.low, last.high = min(last.low, low), max(last.high, high)
                    else:
                        own.append(piece)
            self.bends += max(0, len(own) - 1)
            if points:
                self.bound += abs(points[0][0] - points[-1][0]) + abs(points[0][1] - points[-1][1])
            pieces += own
        return pieces

    def beside(self, pieces: list[Piece], nets: list, names: list[str]) -> None:
        for one, other, apart in neighbours(pieces, M):
            words = f"{names[one.core]} and {names[other.core]} at {one.box} and {other.box}"
            same = nets[one.core] == nets[other.core]
            if apart < EPS:
                self.tell("overlaps in a net" if same else "overlaps between nets", words)
            elif not same:
                self.tell("tight pairs", words)

    def corners(self, cores: list[dict], pieces: list[Piece], nets: list, names: list[str]) -> None:
        """Corners and ends on other cores, or within the grid of where two cores cross."""
        finder = Boxes([piece.box for piece in pieces], M)
        own: dict[int, list[Piece]] = defaultdict(list)
        for piece in pieces:
            own[piece.core].append(piece)
        for n, core in enumerate(cores):
            for x, y in core["points"]:
                near = finder.meeting((x - M + EPS, y - M + EPS, x + M - EPS, y + M - EPS))
                for other in (pieces[k] for k in near if pieces[k].core != n):
                    x0, y0, x1, y1 = other.box
                    words = f"{names[n]} at {x}, {y} and {names[other.core]}"
                    if x0 - EPS < x < x1 + EPS and y0 - EPS < y < y1 + EPS:
                        same = nets[n] == nets[other.core]
                        self.tell("touches in a net" if same else "touches", words)
                    elif any(self.cross_near(piece, other, x, y) for piece in own[n] if piece.level != other.level):
                        self.tell("corners at crossings", words)

    @staticmethod
    def cross_near(one: Piece, other: Piece, x: float, y: float) -> bool:
        if not (one.low - EPS < other.at < one.high + EPS and other.low - EPS < one.at < other.high + EPS):
            return False
        cx, cy = (other.at, one.at) if one.level else (one.at, other.at)
        return abs(cx - x) < M - EPS and abs(cy - y) < M - EPS

    def through(self, devices: list[dict], boxes: list, pieces: list[Piece], names: list[str]) -> None:
        finder = Boxes(boxes)
        for piece in pieces:
            for n in finder.meeting(piece.box):
                if enters(piece, boxes[n]):
                    self.tell("cores through boxes", f"{names[piece.core]} at {piece.box} in {devices[n]['id']}")
        for n, box in enumerate(boxes):
            for other in finder.meeting(box):
                if other < n and overlap(box, boxes[other]):
                    self.tell("device overlaps", f"{devices[n]['id']} and {devices[other]['id']}")

    def ends(self, devices: list[dict], cores: list[dict], names: list[str]) -> None:
        """Each end of a core on a landing of its own; no loose end on any."""
        landings: dict[tuple, list] = defaultdict(list)
        for device in devices:
            for terminal in device["terminals"]:
                place = (round(terminal["x"], 2), round(terminal["y"], 2))
                landings[place].append([device["id"], terminal["id"]])
        taken = set()
        for core, name in zip(cores, names):
            for which, end in ((0, core["from"]), (-1, core["to"])):
                if not core["points"]:
                    self.tell("ends off terminal", f"{name} has no line")
                    continue
                place = tuple(round(v, 2) for v in core["points"][which])
                there = landings.get(place, [])
                if end[0] is None:
                    if there:
                        self.tell("ends off terminal", f"{name}: its loose end is on {there}")
                elif list(end) not in there:
                    self.tell("ends off terminal", f"{name} at {place}: {end} expected, {there} there")
                elif place in taken:
                    self.tell("ends off terminal", f"{name} at {place}: another core is on the same landing")
                else:
                    taken.add(place)

    def labels(
        self, labels: list[dict], devices: list[dict], boxes: list, cores: list[dict], pieces: list[Piece],
        names: list[str],
    ) -> None:
        inks = [box_of(label) for label in labels]
        finder, outlines, lines = Boxes(inks), Boxes(boxes), Boxes([piece.box for piece in pieces])
        for n, (label, ink) in enumerate(zip(labels, inks)):
            for other in finder.meeting(ink):
                if other < n and overlap(ink, inks[other]):
                    self.tell("labels on labels", f"`{label['text']}` and `{labels[other]['text']}` at {ink}")
            for other in outlines.meeting(ink):
                if overlap(ink, boxes[other]):
                    self.tell("labels on boxes", f"`{label['text']}` on {devices[other]['id']} at {ink}")
            # Lines are seven tenths wide; those of a cable run under its own label, and a core under its own.
            around = (ink[0] - 0.3, ink[1] - 0.3, ink[2] + 0.3, ink[3] + 0.3)
            for k in lines.meeting(around):
                core = pieces[k].core
                if label["of"] not in (names[core], cores[core]["cable"]) and enters(pieces[k], ink, 0.3):
                    self.tell("cores through labels", f"{names[core]} through `{label['text']}` at {ink}")

    def crossed(self, pieces: list[Piece], nets: list) -> None:
        by_core, by_net = defaultdict(list), defaultdict(list)
        for piece in pieces:
            by_core[piece.core].append(piece)
            by_net[nets[piece.core]].append(piece)
        self.crossings += crossings(pieces) - sum(crossings(own) for own in by_core.values())
        seen = {net: merged(own) for net, own in by_net.items()}
        self.seen_crossings += crossings([piece for own in seen.values() for piece in own])
        self.seen_crossings -= sum(crossings(own) for own in seen.values())


# Two devices with two cores between them, and nothing wrong.
RIGHT = {
    "sheets": [{
        "size": [297, 210],
        "devices": [
            {"id": "A", "x": 20, "y": 20, "w": 20, "h": 40,
             "terminals": [{"id": "1", "x": 40, "y": 30}, {"id": "2", "x": 40, "y": 40}]},
            {"id": "B", "x": 120, "y": 20, "w": 20, "h": 40,
             "terminals": [{"id": "1", "x": 120, "y": 30}, {"id": "2", "x": 120, "y": 40}]},
        ],
        "cores": [
            {"cable": "W", "core": "red", "from": ["A", "1"], "to": ["B", "1"], "points": [[40, 30], [120, 30]]},
            {"cable": "W", "core": "blue", "from": ["A", "2"], "to": ["B", "2"], "points": [[40, 40], [120, 40]]},
        ],
        "labels": [
            {"text": "RD", "of": "W.red", "x": 42, "y": 27, "w": 8, "h": 2},
            {"text": "W", "of": "W", "x": 75, "y": 28, "w": 10, "h": 14},
        ],
    }],
}
# What is put in the place of the red core's points, and how often each counter must then count.
RED = (
    ([[40, 30], [50, 30], [50, 40], [80, 40], [80, 30], [120, 30]], {"overlaps between nets": 1, "touches": 2}),
    ([[40, 30], [50, 30], [50, 40], [50, 30], [120, 30]], {"touches": 1}),
    ([[40, 30], [50, 30], [50, 38], [80, 38], [80, 30], [120, 30]], {"tight pairs": 1}),
    ([[40, 30], [50, 30], [50, 41], [100, 41], [100, 30], [120, 30]], {"corners at crossings": 2, "tight pairs": 1}),
    ([[40, 30], [90, 30], [95, 35], [120, 35], [120, 30]], {"slanted pieces": 1}),
    ([[40, 30], [60, 30], [60, 10], [130, 10], [130, 30], [120, 30]], {"cores through boxes": 2}),
    ([[40, 30], [30, 30], [30, 10], [120, 10], [120, 30]], {"cores through boxes": 2}),
    ([[40, 30], [119, 30]], {"ends off terminal": 1}),
    ([], {"ends off terminal": 2}),
)
# What else is put where, and what must be counted then.
SPOILT = (
    (("labels", 0, "y", 29), {"cores through labels": 0}),
    (("labels", 0, "of", "W.blue"), {"cores through labels": 0}),
    (("labels", 0, "y", 39), {"cores through labels": 1}),
    (("labels", 0, "x", 36), {"labels on boxes": 1}),
    (("labels", 0, "x", 70), {"labels on labels": 1}),
    (("labels", 1, "of", "V"), {"cores through labels": 2}),
    (("devices", 1, "x", 39), {"device overlaps": 1, "cores through boxes": 2}),
    (("cores", 1, "to", ["B", "1"]), {"ends off terminal": 1}),
    (("cores", 1, "to", [None, "taped"]), {"ends off terminal": 1}),
    (("cores", 0, "points", [[40, 30], [60, 30], [60, 20], [120, 20]]), {"ends off terminal": 1}),
)


def spoilt() -> list[tuple[str, dict, dict]]:
    """Drawings with something wrong, and how often each counter must count at least."""
    cases = []
    for (group, n, key, value), counts in [(("cores", 0, "points", points), counts) for points, counts in RED] + list(SPOILT):
        wrong = deepcopy(RIGHT)
        wrong["sheets"][0][group][n][key] = value
        cases.append((f"{group} {n} {key} {value}", wrong, counts))
    # Two cores of one terminal: near each other is well, on one line or one landing is not.
    for y, points, counts in (
        (38, [[40, 30], [50, 30], [50, 38], [80, 38], [80, 30], [120, 30]], {"tight pairs": 0}),
        (40, [[40, 30], [50, 30], [50, 40], [80, 40], [80, 30], [120, 30]], {"overlaps in a net": 1}),
        (40, [[40, 40], [50, 40], [50, 30], [120, 30]], {"touches in a net": 1, "ends off terminal": 1}),
    ):
        wrong = deepcopy(RIGHT)
        wrong["sheets"][0]["cores"][0] |= {"from": ["A", "2"], "points": points}
        wrong["sheets"][0]["devices"][0]["terminals"][0]["id"] = "2"
        cases.append((f"one net at {y}", wrong, counts))
    return cases


def self_test() -> int:
    """Stops if a counter does not count what is wrong; says how many drawings were tried."""
    right = Measure.of(RIGHT)
    if right.counts() or right.crossings or right.bends or (right.length, right.bound) != (160, 160):
        sys.exit(f"the measure finds faults where there are none: {right}")
    cases, asleep = spoilt(), set(FAULTS)
    for words, wrong, counts in cases:
        found = Measure.of(wrong).counts()
        for name, least in counts.items():
            if found.get(name, 0) < least or (least == 0 and name in found):
                sys.exit(f"the measure counts {found} at {words}, not {counts}")
        asleep -= {name for name, least in counts.items() if least}
    if asleep:
        sys.exit(f"nothing tries the counters {sorted(asleep)}")
    crossed = deepcopy(RIGHT)
    crossed["sheets"][0]["cores"][0]["points"] = [[40, 30], [60, 30], [60, 70], [100, 70], [100, 30], [120, 30]]
    found = Measure.of(crossed)
    if (found.crossings, found.seen_crossings, found.bends, found.length) != (2, 2, 4, 240):
        sys.exit(f"the measure counts wrongly: {found}")
    return len(cases)


def draw(program: str, job: Path, *options: str) -> dict:
    """The geometry of a job. Findings about the wiring do not matter here."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "job.json"
        run = subprocess.run(
            [program, "draw", str(job), "-o", str(file), *options], capture_output=True, text=True, check=False
        )
        if run.returncode not in (0, 1) or not file.exists():
            sys.exit(f"{job}: status {run.returncode}\n{run.stderr}")
        return json.loads(file.read_text(encoding="utf-8"))


def main() -> None:
    program, *jobs = sys.argv[1:]
    tried = self_test()
    folders = [HERE / "examples", HERE / "tests/jobs"]
    files = [Path(job) for job in jobs] or sorted(job for folder in folders for job in folder.glob("*.yaml"))
    cores = 0
    for job in files:
        for options in ([], ["--one-sheet"]):
            measure = Measure.of(draw(program, job, *options))
            cores += measure.cores
            if measure.counts():
                told = [words for words in measure.faults.values() if words]
                sys.exit(f"{job} {options}: {measure.counts()}\n" + "\n".join(w for t in told for w in t[:5]))
    print(f"{tried} spoilt drawings found out; {len(files)} jobs drawn twice, {cores} cores: nothing misplaced")


if __name__ == "__main__":
    main()
