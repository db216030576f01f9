"""PDF and XLSX of the examples, opened by programs from outside.

PDF: qpdf finds nothing wrong; every font is embedded; pdf_oxide holds it for PDF/A-2u, and not a copy without its metadata; pypdf
finds what an archive asks for (ISO 19005-2, level U, as far as the structure of the file shows it) and nothing that it forbids; the text has every terminal and cable; the pages have the
size that the drawing has; the picture that poppler makes of the first page is that of the PNG but for the edges of lines and letters.
XLSX: openpyxl reads the same rows as Python's csv reads from the CSV, and what looks like a formula is text.

    python documents.py PROGRAM
"""

import csv
import html
import io
import json
import re
import subprocess
import sys
import tempfile
from pathlib import Path

import openpyxl
import pdf_oxide
import pypdf
from pypdf.generic import ArrayObject, DictionaryObject, IndirectObject, StreamObject
from PIL import Image, ImageChops, ImageFilter

HERE = Path(__file__).resolve().parents[2]
DPI = 75
TABLES = [
    ["schedule", "{job}", "terminals"],
    ["schedule", "{job}", "cables"],
    ["schedule", "{job}", "supplies"],
    ["schedule", "{job}", "parts"],
    ["schedule", "{job}", "markers"],
    ["tests", "{job}"],
    ["settings", "{job}"],
    ["faults", "{job}"],
]
FORMULAS = """
job: {title: '=HYPERLINK("x")', number: '@1', date: 2026-03-14}
devices:
  '=1+1': {type: dc-supply, volts: 12 V, amps: 1 A, settings: {'+key': '=2+2', note: '@sum'}}
  '-E1': {type: lamp, volts: 12 V, amps: 0.1 A}
cables:
  '+W1': {type: twin-0.75, length: 2 m, cores: {red: ['=1+1.V+', '-E1.1'], black: ['=1+1.V-', '-E1.2']}}
"""


def run(*args: object) -> bytes:
    return subprocess.run([str(a) for a in args], capture_output=True, check=True).stdout


def unguarded(cell: str) -> str:
    return cell[1:] if cell[:1] == "'" and cell.lstrip("'")[:1] in list("=+-@") else cell


def every_object(start: object) -> list:
    """All that hangs on the trailer of a PDF."""
    known, waiting, found = set(), [start], []
    while waiting:
        thing = waiting.pop()
        if isinstance(thing, IndirectObject):
            if thing.idnum in known:
                continue
            known.add(thing.idnum)
            thing = thing.get_object()
        found.append(thing)
        if isinstance(thing, DictionaryObject):
            waiting += [thing.raw_get(key) for key in thing]
        elif isinstance(thing, ArrayObject):
            waiting += list(thing)
    return found


def archival(pdf: Path) -> None:
    """What ISO 19005-2 asks of the structure of a file: by another's checker, and clause by clause."""
    verdict = pdf_oxide.PdfDocument(str(pdf)).validate_pdf_a("2u")
    assert verdict["valid"] and not verdict["errors"], f"{pdf}: {verdict}"
    reader = pypdf.PdfReader(pdf, strict=True)
    root = reader.trailer["/Root"]
    head = pdf.read_bytes()[:16]
    assert re.match(rb"%PDF-1\.[0-7]\n%[\x80-\xff]{4}", head), f"{pdf}: 6.1.2, head {head}"
    assert "/ID" in reader.trailer and not reader.is_encrypted, f"{pdf}: 6.1.3, no ID, or encrypted"
    intents = [i.get_object() for i in root["/OutputIntents"]]
    profiles = [i["/DestOutputProfile"].get_object().get_data() for i in intents if i["/S"] == "/GTS_PDFA1"]
    assert len(profiles) == 1 and profiles[0][36:40] == b"acsp", f"{pdf}: 6.2.3, no colour profile"
    about = root["/Metadata"].get_data().decode()
    assert re.search(r"<pdfaid:part>2<.*<pdfaid:conformance>U<", about), f"{pdf}: 6.6.4, does not say PDF/A-2u"
    written = {"/Title": "dc:title", "/Author": "dc:creator", "/Creator": "xmp:CreatorTool"}
    for key, tag in written.items():
        text = (reader.trailer["/Info"].get_object() if "/Info" in reader.trailer else {}).get(key)
        inside = re.search(rf"<{tag}>(.*?)</{tag}>", about, re.S)
        told = html.unescape(re.sub(r"<[^>]*>", "", inside.group(1))) if inside else None
        assert text is None or text == told, f"{pdf}: 6.6.3, {key} is {text} and {told}"
    for thing in every_object(reader.trailer["/Root"]):
        if not isinstance(thing, DictionaryObject):
            continue
        filters = thing.get("/Filter", []) if isinstance(thing, StreamObject) else []
        assert "LZWDecode" not in str(filters) and "Crypt" not in str(filters), f"{pdf}: 6.1.7.2, {filters}"
        assert not (isinstance(thing, StreamObject) and "/F" in thing), f"{pdf}: 6.1.7.1, a stream outside the file"
        action = thing.get("/S") if thing.get("/Type") == "/Action" or "/Next" in thing and "/S" in thing else None
        assert action in (None, "/GoTo"), f"{pdf}: 6.5.1, action {action}"
        assert not {"/AA", "/JS", "/OpenAction", "/XFA"} & set(thing), f"{pdf}: 6.5 or 6.6, {set(thing)}"
        assert thing.get("/Type") not in ("/Filespec", "/EmbeddedFile"), f"{pdf}: 6.8, a file inside"
        assert thing.get("/Subtype") not in ("/PS", "/Movie", "/Sound", "/3D", "/Screen"), f"{pdf}: 6.2.9 or 6.3.1"
        if thing.get("/Type") == "/Font" and thing.get("/Subtype") in ("/Type0", "/TrueType", "/Type1"):
            assert "/ToUnicode" in thing, f"{pdf}: 6.2.11.7.2, letters without their meaning"
        if thing.get("/Type") == "/FontDescriptor":
            assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(thing), f"{pdf}: 6.2.11.4.1, a font is missing"


def checker_objects(pdf: Path, work: Path) -> None:
    """The checker of archives does not hold everything for one."""
    bare = work / "bare.pdf"
    writer = pypdf.PdfWriter()
    for page in pypdf.PdfReader(pdf).pages:
        writer.add_page(page)
    writer.write(bare)
    assert not pdf_oxide.PdfDocument(str(bare)).validate_pdf_a("2u")["valid"], "a PDF without metadata is no PDF/A"


def sound_pdf(pdf: Path) -> str:
    """The text of a PDF that qpdf, pypdf and pdffonts have nothing to say against."""
    run("qpdf", "--check", pdf)
    archival(pdf)
    fonts = run("pdffonts", pdf).decode().splitlines()[2:]
    assert fonts, f"{pdf}: no fonts"
    for font in fonts:
        emb, sub, uni = font.split()[-5:-2]
        assert (emb, sub, uni) == ("yes", "yes", "yes"), f"{pdf}: {font}"
    return re.sub(r"\s+", " ", run("pdftotext", "-layout", pdf, "-").decode())


def drawing(program: str, job: Path, work: Path) -> None:
    pdf, png, numbers = (work / f"{job.stem}.{ending}" for ending in ("pdf", "png", "json"))
    for target in (pdf, numbers):
        run(program, "draw", job, "-o", target)
    run(program, "draw", job, "-o", png, "--dpi", DPI)
    text = sound_pdf(pdf)
    sheets = json.loads(numbers.read_text())["sheets"]
    pages = re.findall(r"Page\s+\d+ size:\s+([\d.]+) x ([\d.]+)", run("pdfinfo", "-l", 99, pdf).decode())
    assert len(pages) == len(sheets), f"{job.name}: {len(pages)} pages, {len(sheets)} sheets"
    for page, sheet in zip(pages, sheets):
        for points, mm in zip(page, sheet["size"]):
            assert abs(float(points) / 72 * 25.4 - mm) < 0.2, f"{job.name}: {page} for {sheet['size']}"
    words = set(text.split(" "))
    for row in csv.DictReader(io.StringIO(run(program, "schedule", job, "terminals", "--format", "csv").decode())):
        for name in (unguarded(row[column]) for column in ("device", "cable", "terminal")):
            assert not name or name in words or name in text, f"{job.name}: {name} is not in the PDF"
    run("pdftoppm", "-r", DPI, "-png", "-f", 1, "-l", 1, "-singlefile", pdf, work / "page")
    ours = Image.open(png).convert("L")
    theirs = Image.open(work / "page.png").convert("L").resize(ours.size)
    # Lines and letters are smoothed differently by the two programs; a soft blur leaves what is really there.
    soft = [picture.filter(ImageFilter.GaussianBlur(1.5)) for picture in (ours, theirs)]
    histogram = ImageChops.difference(*soft).histogram()
    far = sum(histogram[64:]) / sum(histogram)
    assert far < 0.002, f"{job.name}: {far:.2%} of the picture differs"
    print(f"{job.name}: {len(pages)} pages, {far:.4%} of the picture differs")


def tables(program: str, job: Path, work: Path, twice: bool) -> int:
    """Every table; `twice` for the same bytes the second time."""
    count = 0
    for form in TABLES:
        args = [part.format(job=job) for part in form]
        rows = list(csv.reader(io.StringIO(run(program, *args, "--format", "csv").decode())))
        book = work / "table.xlsx"
        run(program, *args, "-o", book)
        sheet = openpyxl.load_workbook(book).worksheets[0]
        assert sheet.freeze_panes == "A2" and sheet.print_title_rows, f"{job.name} {form}: no frozen head"
        read = [list(row) for row in sheet.iter_rows(values_only=True)]
        assert len(read) == len(rows), f"{job.name} {form}: {len(read)} rows, {len(rows)} in the CSV"
        for ours, theirs in zip(rows, read):
            for a, b in zip(ours, theirs):
                a, b = unguarded(a), "" if b is None else b
                same = float(a) == b if isinstance(b, (int, float)) else a == b
                assert same, f"{job.name} {form}: `{a}` in the CSV, `{b}` in the XLSX"
        for row in sheet.iter_rows():
            assert all(cell.data_type != "f" for cell in row), f"{job.name} {form}: a formula"
        pdf = work / "table.pdf"
        run(program, *args, "-o", pdf)
        sound_pdf(pdf)
        if twice:
            again = pdf.read_bytes(), book.read_bytes()
            run(program, *args, "-o", pdf)
            run(program, *args, "-o", book)
            assert again == (pdf.read_bytes(), book.read_bytes()), f"{job.name} {form}: other bytes the second time"
        count += 1
    return count


def main() -> None:
    program = sys.argv[1]
    jobs = sorted((HERE / "examples").glob("*.yaml"))
    with tempfile.TemporaryDirectory() as folder:
        work = Path(folder)
        odd = work / "formulas.yaml"
        odd.write_text(FORMULAS)
        count = 0
        for n, job in enumerate([odd, *jobs]):
            drawing(program, job, work)
            if n == 0:
                checker_objects(work / f"{job.stem}.pdf", work)
            count += tables(program, job, work, twice=n < 2)
    print(f"{len(jobs) + 1} drawings and {count} tables opened")


if __name__ == "__main__":
    main()
