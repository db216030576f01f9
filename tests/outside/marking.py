"""Marking: the program against networkx on random answers.

Makes random models with random answers to them (cores left out, moved, exchanged, rails broken or joined, splices
added), lets the program mark each folder of answers and each answer alone, and compares the pairs of terminals that it
calls right, missing and extra with what networkx finds joined in model and answer. Exchanges that make no difference
cannot occur, because no device has an entry that the solver could look at. The seed is fixed.

    python marking.py PROGRAM [ANSWERS]
"""

import itertools
import json
import random
import subprocess
import sys
import tempfile
from pathlib import Path

import networkx as nx

COLOURS = ["red", "black", "blue", "white", "green", "yellow"]


def make_devices(rng: random.Random) -> tuple[list[str], list[str], list[tuple[str, str]], nx.Graph]:
    """Devices without sections, some with terminals that are bridged inside."""
    devices, sheets, points, inside = [], [], [], nx.Graph()
    for n in range(rng.randint(3, 7)):
        names = [str(k) for k in range(1, rng.randint(2, 5))] + ["V+"]
        devices.append(f"  D{n}: {{type: t{n}}}")
        sheets += [f"  t{n}:", f"    terminals: [{', '.join(names)}]"]
        points += [(f"D{n}", name) for name in names]
        if len(names) > 3 and rng.random() < 0.4:
            bridge = rng.sample(names, 2)
            sheets.append(f"    bridges: [[{', '.join(bridge)}]]")
            inside.add_edge((f"D{n}", bridge[0]), (f"D{n}", bridge[1]))
    inside.add_nodes_from(points)
    return devices, sheets, points, inside


def make_cores(rng: random.Random, points: list[tuple[str, str]]) -> list[tuple[tuple, tuple]]:
    return [tuple(rng.sample(points, 2)) for _ in range(rng.randint(3, 14))]


def changed(rng: random.Random, cores: list, points: list) -> list:
    """The cores as a trainee might have them."""
    cores = list(cores)
    for _ in range(rng.choice([0, 0, 1, 1, 2, 4])):
        kind = rng.randrange(4)
        if kind == 0 and cores:
            cores.pop(rng.randrange(len(cores)))
        elif kind == 1:
            cores.append(tuple(rng.sample(points, 2)))
        elif kind == 2 and cores:
            at = rng.randrange(len(cores))
            cores[at] = (cores[at][0], rng.choice([p for p in points if p != cores[at][0]]))
        elif len(cores) > 1:
            a, b = rng.sample(range(len(cores)), 2)
            if cores[a][0] != cores[b][1] and cores[b][0] != cores[a][1]:
                cores[a], cores[b] = (cores[a][0], cores[b][1]), (cores[b][0], cores[a][1])
    return cores


def written(rng: random.Random, devices: list, sheets: list, cores: list, spliced: bool) -> str:
    """The job file; with `spliced` some cores go by way of a splice of their own."""
    name = lambda point: f"{point[0]}.{point[1]}"
    devices, lines, number = list(devices), [], 0
    ends = []
    for n, (a, b) in enumerate(cores):
        if spliced and rng.random() < 0.3:
            devices.append(f"  X{n}: {{type: splice}}")
            ends += [(name(a), f"X{n}"), (f"X{n}", name(b))]
        else:
            ends.append((name(a), name(b)))
    rng.shuffle(ends)
    while ends:
        size = rng.randint(1, 4)
        take, ends = ends[:size], ends[size:]
        cores_text = ", ".join(f"{c}: [{a}, {b}]" for c, (a, b) in zip(COLOURS, take))
        lines.append(f"  W{number}: {{cores: {{{cores_text}}}}}")
        number += 1
    text = ["job: {title: random}", "devices:", *devices]
    if lines:
        text += ["cables:", *lines]
    return "\n".join([*text, "data_sheets:", *sheets]) + "\n"


def joined(points: list, inside: nx.Graph, cores: list) -> tuple[set, int]:
    """The pairs that are joined though not inside a device, and how many joins that takes."""
    graph = nx.Graph(inside)
    graph.add_edges_from(cores)
    within = {p: n for n, part in enumerate(nx.connected_components(inside)) for p in part}
    pairs = set()
    for part in nx.connected_components(graph):
        for a, b in itertools.combinations(sorted(part), 2):
            if within[a] != within[b]:
                pairs.add(frozenset([f"{a[0]}.{a[1]}", f"{b[0]}.{b[1]}"]))
    joins = nx.number_connected_components(inside) - nx.number_connected_components(graph)
    return pairs, joins


def main() -> None:
    program = sys.argv[1]
    answers = int(sys.argv[2]) if len(sys.argv) > 2 else 1000
    rng = random.Random(20260314)
    equal = wrong = pairs = 0
    with tempfile.TemporaryDirectory() as folder:
        model_file, answer_file = Path(folder) / "model.yaml", Path(folder) / "answer.yaml"
        for number in range(answers):
            if number % 10 == 0:
                devices, sheets, points, inside = make_devices(rng)
                cores = make_cores(rng, points)
                model_file.write_text(written(rng, devices, sheets, cores, False), encoding="utf-8")
                wanted, most = joined(points, inside, cores)
            answer = changed(rng, cores, points)
            text = written(rng, devices, sheets, answer, True)
            answer_file.write_text(text, encoding="utf-8")
            run = subprocess.run(
                [program, "mark", str(answer_file), "--model", str(model_file), "--format", "json"],
                capture_output=True, text=True, check=False,
            )
            if run.returncode != 0:
                sys.exit(f"answer {number}: status {run.returncode}\n{run.stderr}\n{text}")
            mark = json.loads(run.stdout)
            is_joined, made = joined(points, inside, answer)
            for key, expected in [
                ("right", wanted & is_joined), ("missing", wanted - is_joined), ("extra", is_joined - wanted)
            ]:
                told = [frozenset(entry["pair"]) for entry in mark[key]]
                if len(told) != len(set(told)) or set(told) != expected:
                    sys.exit(f"answer {number}: {key} is not as networkx says\n{set(told) ^ expected}\n{text}")
                pairs += len(told)
            if mark["out_of"] != most:
                sys.exit(f"answer {number}: out of {mark['out_of']}, networkx says {most}")
            joins = mark["joins"]
            if joins["right"] + joins["missing"] != most or joins["right"] + joins["extra"] != made:
                sys.exit(f"answer {number}: joins do not add up: {joins}, {most}, {made}")
            same = wanted == is_joined
            if same != (mark["marks"] == most) and not mark["faults"]:
                sys.exit(f"answer {number}: {mark['marks']} of {most} marks, yet equal is {same}\n{text}")
            equal, wrong = equal + same, wrong + (not same)
    print(f"{answers} answers, {equal} equal and {wrong} not, {pairs} pairs: all as networkx says")


if __name__ == "__main__":
    main()
