"""Drives the page of a job in a real browser, as a technician with a phone would.

Usage: page.py PROGRAM. Needs Chromium (Debian's package `chromium`), Playwright and axe from PyPI.
"""

import json
import pathlib
import shutil
import subprocess
import sys
import tempfile

import yaml
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect, sync_playwright

ROOT = pathlib.Path(__file__).resolve().parents[2]
PROGRAM = sys.argv[1]
NASTY = "</script><script>window.broken = 1</script>\"'><img src=x onerror=\"window.broken = 1\">"


class Plain(yaml.SafeLoader):
    """Every plain scalar stays text, as the job file means it."""


Plain.yaml_implicit_resolvers = {}


def pack(job, folder):
    page = folder / "page.html"
    page.unlink(missing_ok=True)
    subprocess.run([PROGRAM, "pack", job, "-o", page], check=True, capture_output=True)
    return page


def rows(job):
    text = subprocess.run(
        [PROGRAM, "schedule", job, "terminals", "--format", "json"], check=True, capture_output=True, text=True
    ).stdout
    return json.loads(text)


def label(row):
    return f"{row['device']}:{row['terminal']}" if row["terminal"] else row["device"]


def opened(browser, path, **options):
    context = browser.new_context(**options)
    page = context.new_page()
    page.faults = []
    page.on("console", lambda message: page.faults.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: page.faults.append(str(error)))
    page.on("request", lambda request: None if request.url.startswith("file:") and request.url.split("#")[0] == path.as_uri()
            else page.faults.append(f"fetched {request.url}"))
    page.goto(path.as_uri())
    return page


def accessible(page, what):
    found = Axe().run(page).response["violations"]
    serious = [v for v in found if v["impact"] in ("serious", "critical")]
    assert not serious, f"{what}: {[(v['id'], v['nodes'][0]['html'][:200]) for v in serious]}"


def fits(page, what):
    over = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert over <= 0, f"{what}: {over} pixels too wide"


def cards(page, job, terminals):
    """From location to device to terminal: the right core, far end and reading."""
    places = page.locator("#start .choices a").all_inner_texts()
    assert places, "no place to choose from"
    wired = [row for row in terminals if row["core"] and row["device"]]
    for row in wired:
        page.goto(page.url.split("#")[0] + "#where")
        name = page.evaluate(
            "(name) => [...document.querySelectorAll('.card h3')].find((h) => h.firstChild.textContent.trim() === name)"
            ".closest('.place').querySelector('h2').textContent",
            row["device"],
        )
        page.locator("#start .choices a", has=page.locator("b", has_text=name)).filter(
            has=page.get_by_text(name, exact=True)
        ).first.click()
        place = page.locator(".place:visible")
        place.locator("> .choices a").filter(has=page.get_by_text(row["device"], exact=True)).first.click()
        card = page.locator(".card:visible")
        expect(card, "one card is shown").to_have_count(1)
        expect(card.locator("h3")).to_contain_text(row["device"])
        pins = card.locator(".pin").filter(
            has=page.locator(".name").get_by_text(row["terminal"] or row["device"], exact=True)
        )
        hands = [text.replace("\n", " ") for text in pins.locator(".hand").all_inner_texts()]
        wanted = [row["core"], row["cable"], row["to"]]
        assert any(all(word in text for word in wanted) for text in hands), f"{label(row)}: {wanted} not in {hands}"
        if row["zone"]:
            stands = card.locator(".spot").inner_text()
            assert f"sheet {row['sheet']:g}, zone {row['zone']}" in stands, f"{label(row)}: {stands}, {row}"


def traces(page, terminals):
    """Trace walks the whole conductor: every terminal of it, and no other."""
    points = page.evaluate("JSON.parse(document.getElementById('job').textContent).points")
    nets = {}
    for row in terminals:
        if row["net"]:
            nets.setdefault(row["net"], set()).add(label(row))
    for net in nets.values():
        start = sorted(net)[0]
        page.goto(page.url.split("#")[0] + f"#trace-{points.index(start)}")
        expect(page.locator("#trace-from")).to_have_text(start)
        walked = set(page.locator("#trace-walk a").all_inner_texts()) | {page.locator("#trace-from").inner_text()}
        assert walked == net, f"trace from {start}: {walked} instead of {net}"


def plays(page, job):
    """Playing a line sets every reading to what the test sheet expects."""
    document = yaml.load((ROOT / job).read_text(), Plain)
    for n, line in enumerate(document.get("cause_and_effect") or []):
        page.goto(page.url.split("#")[0] + "#effects")
        button = page.locator(f".play[value='{n}']")
        if not button.count():
            continue
        button.click()
        expect(button).to_have_attribute("aria-pressed", "true")
        expect(page.locator(".marked"), "nothing is marked on the drawing").not_to_have_count(0)
        then = line["then"] if isinstance(line["then"], list) else [line["then"]]
        for effect in then:
            device, state = effect.split(" ", 1)
            live = page.locator("#live").inner_text()
            if state == "powered":
                assert device.split(".")[0] + ":" in live, f"{effect}: no live core leads to it: {live}"
        button.click()
        expect(page.locator(".marked"), "back to rest, and something is still marked").to_have_count(0)


def inert(browser, folder):
    """A job with markup in every text stays text."""
    quoted = json.dumps(NASTY)
    job = folder / "nasty.yaml"
    job.write_text(f"""
job:
  title: {quoted}
  number: {quoted}
  site: {quoted}
  notes: [{quoted}]
devices:
  G1: {{type: dc-supply, name: {quoted}, volts: 12 V, amps: 1 A, location: {quoted}, cautions: [{quoted}]}}
  E1: {{type: lamp, name: {quoted}, volts: 12 V, amps: 0.4 A, settings: {{mode: {quoted}}}}}
  '<img src=x>': {{type: splice}}
cables:
  W1: {{type: twin-0.75, length: 4 m, cores: {{red: [G1.V+, E1.1], black: [G1.V-, E1.2]}}}}
  W2: {{length: 1 m, cores: {{red: [G1.V+, '<img src=x>']}}}}
cause_and_effect:
  - {{when: G1 on, then: E1 powered}}
""")
    page = opened(browser, pack(job, folder))
    page.locator(".play").first.evaluate("(button) => button.click()")
    assert page.evaluate("window.broken") is None, "markup of the job was run"
    assert page.title() == NASTY
    assert not page.locator("img").count()
    assert not page.faults, page.faults


def main():
    folder = pathlib.Path(tempfile.mkdtemp())
    try:
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
            inert(browser, folder)
            for job in sorted((ROOT / "examples").glob("*.yaml")):
                path = pack(job, folder)
                terminals = rows(job)
                page = opened(browser, path, viewport={"width": 360, "height": 740})
                cards(page, job, terminals)
                traces(page, terminals)
                plays(page, job)
                for view in ("where", "drawing", "effects", "tests", "faults", "notes"):
                    page.goto(path.as_uri() + f"#{view}")
                    fits(page, f"{job.name}, {view}")
                    accessible(page, f"{job.name}, {view}")
                target = next(row for row in terminals if row["device"] and row["terminal"])
                page.goto(path.as_uri() + "#where")
                page.locator("#search").fill(label(target))
                page.locator("#hits a").first.click()
                assert page.locator(".pin.here .name").inner_text() == target["terminal"]
                assert not page.faults, page.faults
                print(f"{job.name}: {len(terminals)} rows found on the page as the schedule has them")
            browser.close()
    finally:
        shutil.rmtree(folder)


if __name__ == "__main__":
    main()
