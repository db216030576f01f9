"""The schedules of the examples, counted again from the job files with PyYAML and Python's own csv module.

Every core end must stand in the terminal schedule once (a spare core whose two ends were left alike once for both), the
three machine formats must say the same, and the cable schedule must count the cores as the job file does.

    python schedules.py PROGRAM
"""

import csv
import io
import json
import subprocess
import sys
from collections import Counter
from pathlib import Path

import yaml

SAFE = {"taped", "sleeved", "capped", "parked"}
UNSAFE = {"bare", "spare"}


def ask(program: str, job: Path, which: str, form: str) -> str:
    run = [program, "schedule", str(job), which, "--format", form]
    return subprocess.run(run, capture_output=True, check=True).stdout.decode("utf-8")


def unguarded(cell: str) -> str:
    return cell[1:] if cell[:1] == "'" and cell.lstrip("'")[:1] in "=+-@" else cell


def ends_in(job: dict) -> Counter:
    """How many rows each (cable, core, place) must have, with place `DEVICE`, `DEVICE.TERMINAL` or empty."""
    wanted: Counter = Counter()
    for cable, data in job["cables"].items():
        for core, ends in data["cores"].items():
            ends = [ends, ends] if isinstance(ends, str) else ends
            places = ["" if end in SAFE | UNSAFE else end for end in ends]
            left = ["BARE" if end in UNSAFE else end for end in ends]
            if places == ["", ""] and left[0] == left[1]:
                wanted[cable, core, ""] += 1
            else:
                for place in places:
                    wanted[cable, core, place] += 1
    return wanted


def main() -> None:
    program = sys.argv[1]
    here = Path(__file__).resolve().parents[2]
    ends = cables = 0
    for file in sorted([*here.glob("examples/*.yaml"), *here.glob("tests/jobs/*.yaml")]):
        # BaseLoader leaves every scalar as it is written, as the job file's names want it.
        job = yaml.load(file.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)
        rows = json.loads(ask(program, file, "terminals", "json"))
        wanted = ends_in(job)
        found: Counter = Counter()
        for row in rows:
            if row["core"]:
                place = row["device"] + ("." + row["terminal"] if row["terminal"] else "")
                found[row["cable"], row["core"], place] += 1
        # A core that the file does not mention is there too, spare; it is not in the file's own count.
        extra = found - wanted
        told = {(cable, core) for cable, core, _ in wanted}
        if wanted - found or any((cable, core) in told for cable, core, _ in extra):
            sys.exit(f"{file}: missing {wanted - found}, too many {extra}")
        ends += sum(wanted.values())
        for which in ("terminals", "cables"):
            rows = json.loads(ask(program, file, which, "json"))
            table = list(csv.DictReader(io.StringIO(ask(program, file, which, "csv"), newline="")))
            if len(rows) != len(table):
                sys.exit(f"{file}: {which}: {len(rows)} rows in JSON, {len(table)} in CSV")
            for a, b in zip(rows, table, strict=True):
                a = {k: "" if v is None else v if isinstance(v, str) else f"{v:.15g}" for k, v in a.items()}
                b = {k: unguarded(v) for k, v in b.items()}
                if list(a) != list(b) or a != b:
                    sys.exit(f"{file}: {which}: JSON {a} is not CSV {b}")
            lines = ask(program, file, which, "md").splitlines()
            if len(lines) != len(rows) + 2:
                sys.exit(f"{file}: {which}: {len(rows)} rows in JSON, {len(lines) - 2} in Markdown")
        for row in rows:
            listed = job["cables"][row["cable"]]
            least = len(listed["cores"])
            length = listed.get("length", "").removesuffix(" m")
            if row["cores"] < least or (length and float(length) != row["length_m"]):
                sys.exit(f"{file}: {row} does not agree with {listed}")
            cables += 1
        if [row["cable"] for row in rows] != list(job["cables"]):
            sys.exit(f"{file}: cables in another order than in the job file")
    print(f"{ends} core ends and {cables} cables stand in the schedules as the job files have them")


if __name__ == "__main__":
    main()
