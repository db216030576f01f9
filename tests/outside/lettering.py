"""Is the lettering legible? Names on the PNG, read back by tesseract.

Draws every example at 150 dpi, cuts out each label by the box that the geometry gives for it, and has tesseract
(Debian's package `tesseract-ocr`) read what stands there: the far end at each end of a core (`K1:NO1`), the designation
of each cable, the letters of each terminal at the side of a device. At least 98 of 100 must be read as written. 0 and O,
1, I and l, 5 and S, 8 and B, W and w count as one: print does not tell them apart out of context, nor does the program.

    python lettering.py PROGRAM [JOB ...]
"""

import csv
import io
import json
import re
import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image

HERE = Path(__file__).resolve().parents[2]
DPI = 150
# Tesseract likes capitals about 30 pixels high; those of 1.8 mm are 11 at 150 dpi.
LARGER = 3
LEAST = 0.98
ALIKE = str.maketrans("oil|sb", "011158")


def plain(text: str) -> str:
    """Without spaces and case (W and w have one shape), and with one letter for those that look alike."""
    return re.sub(r"\s", "", text).lower().translate(ALIKE)


def run(*args: object) -> bytes:
    return subprocess.run([str(a) for a in args], capture_output=True, check=True).stdout


def core_name(text: str) -> str:
    return text.rsplit(" ", 1)[-1]


def wanted(sheet: dict, cables: set[str]) -> list[tuple[str, tuple[float, float, float, float]]]:
    """What is to be read, and the box in millimetres where it stands."""
    found = []
    for label in sheet["labels"]:
        x, y, w, h = (label[key] for key in "xywh")
        text = label["text"]
        if " → " in text:
            # What stands behind the arrow: the widths of letters are near enough alike to cut between.
            name = core_name(text)
            part = w * (len(name) + 1.2) / len(text)
            found.append((name, (x + w - part, y - 0.5, x + w + 0.6, y + h + 0.5)))
        elif text in cables and label["of"] == text:
            # Within the frame.
            found.append((text, (x + 0.6, y + 0.6, x + w - 0.6, y + h - 0.6)))
    for device in sheet["devices"]:
        left, right = device["x"], device["x"] + device["w"]
        # A terminal that takes several cores has several landings under one letter.
        first = {terminal["id"]: terminal for terminal in reversed(device["terminals"])}
        for name, terminal in first.items():
            x, y = terminal["x"], terminal["y"]
            room = min(2.4 * len(name) + 1.5, device["w"] / 2 - 1)
            if not name or x not in (left, right) or device["w"] < 15:
                continue
            box = (x + 0.9, x + 0.9 + room) if x == left else (x - 0.9 - room, x - 0.9)
            found.append((name, (box[0], y - 3.7, box[1], y - 0.5)))
    return found


def tesseract(picture: Path, letters: str, mode: int) -> list[dict]:
    """The words that tesseract reads, as rows of its table; no dictionary, and only the letters that names have."""
    plainly = ["load_system_dawg=0", "load_freq_dawg=0", f"tessedit_char_whitelist={letters}"]
    settings = [part for setting in plainly for part in ("-c", setting)]
    text = run("tesseract", picture, "-", "--psm", mode, *settings, "tsv").decode()
    rows = csv.DictReader(io.StringIO(text), delimiter="\t", quoting=csv.QUOTE_NONE)
    return [row for row in rows if row["text"] and row["text"].strip()]


def read(picture: Image.Image, labels: list, letters: str, work: Path) -> list[str]:
    """What tesseract reads in each box: all of them one below the other on one picture, and what it did not make out so
    once more by itself."""
    scale = DPI / 25.4
    strips = [picture.crop(tuple(round(v * scale) for v in box)) for _, box in labels]
    strips = [s.resize((s.width * LARGER, s.height * LARGER), Image.Resampling.BICUBIC) for s in strips]
    file, gap, edge = work / "page.png", 40, 100
    page = Image.new("L", (max(s.width for s in strips) + 2 * edge, sum(s.height + gap for s in strips) + gap), 255)
    rows, top = [], gap
    for strip in strips:
        page.paste(strip, (edge, top))
        rows.append((top - gap // 2, top + strip.height + gap // 2))
        top += strip.height + gap
    page.save(file, dpi=(DPI * LARGER, DPI * LARGER))
    lines = [""] * len(labels)
    for word in tesseract(file, letters, 6):
        middle = int(word["top"]) + int(word["height"]) / 2
        for n, (low, high) in enumerate(rows):
            if low <= middle < high:
                lines[n] += word["text"]
    for n, ((name, _), strip) in enumerate(zip(labels, strips)):
        for mode in (7, 8):
            if not reads(lines[n], name):
                page = Image.new("L", (strip.width + 2 * edge, strip.height + 2 * gap), 255)
                page.paste(strip, (edge, gap))
                page.save(file, dpi=(DPI * LARGER, DPI * LARGER))
                again = "".join(word["text"] for word in tesseract(file, letters, mode))
                lines[n] = again if reads(again, name) else lines[n]
    return lines


def reads(text: str, name: str) -> bool:
    """Whether what was read ends in a name; in front of it the arrow may have left something."""
    return plain(text).endswith(plain(name))


def main() -> None:
    program, *jobs = sys.argv[1:]
    jobs = [Path(job) for job in jobs] or sorted((HERE / "examples").glob("*.yaml"))
    right = count = 0
    with tempfile.TemporaryDirectory() as folder:
        work = Path(folder)
        for job in jobs:
            numbers = work / f"{job.stem}.json"
            run(program, "draw", job, "-o", numbers)
            run(program, "draw", job, "-o", work / f"{job.stem}.png", "--dpi", DPI)
            good = all_of = 0
            sheets = json.loads(numbers.read_text())["sheets"]
            for n, sheet in enumerate(sheets):
                cables = {core["cable"] for core in sheet["cores"]}
                labels = [label for label in wanted(sheet, cables) if re.search(r"\w", label[0])]
                letters = "".join(sorted({letter for name, _ in labels for letter in name}))
                if not labels:
                    continue
                file = work / (f"{job.stem}.png" if n == 0 else f"{job.stem}-{n + 1}.png")
                got = read(Image.open(file).convert("L"), labels, letters, work)
                for (name, box), text in zip(labels, got):
                    good += reads(text, name)
                    all_of += 1
                    if not reads(text, name):
                        place = f"{box[0]:.0f}, {box[1]:.0f} mm"
                        print(f"  {job.name} sheet {n + 1}, at {place}: `{name}` was read as `{text}`")
            print(f"{job.name}: {good} of {all_of} names read")
            right, count = right + good, count + all_of
    share = right / count if count else 0
    print(f"{right} of {count} names read: {share:.1%}")
    if share < LEAST:
        sys.exit(f"fewer than {LEAST:.0%} of the names can be read")


if __name__ == "__main__":
    main()
