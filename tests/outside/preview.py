"""Lets a job be written beside two browser windows, and holds what they show against what the program says at the prompt.

Usage: preview.py PROGRAM. Needs Chromium (Debian's package `chromium`), Playwright and axe from PyPI.
"""

import os
import pathlib
import shutil
import signal
import subprocess
import sys
import tempfile

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect, sync_playwright

ROOT = pathlib.Path(__file__).resolve().parents[2]
PROGRAM = str(pathlib.Path(sys.argv[1]).resolve())
LONG = 60_000


def opened(browser, address):
    page = browser.new_context(viewport={"width": 1000, "height": 700}).new_page()
    page.faults = []
    page.on("console", lambda message: page.faults.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: page.faults.append(str(error)))
    page.on("request", lambda request: None if request.url.startswith(address) else page.faults.append(request.url))
    page.goto(address)
    return page


def box(page):
    """What of the first sheet is shown."""
    return [float(n) for n in page.locator(".sheet svg").first.get_attribute("viewBox").split()]


def main():
    expect.set_options(timeout=LONG)
    folder = pathlib.Path(tempfile.mkdtemp())
    text = (ROOT / "examples/roof-vent.yaml").read_text()
    title = next(line for line in text.splitlines() if "title:" in line)
    job = folder / "vent.yaml"
    job.write_text(text)
    # Whoever is started in the background may pass on that Ctrl-C is not heard.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    serving = subprocess.Popen(
        [PROGRAM, "preview", "vent.yaml"], cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    )
    try:
        said = serving.stdout.readline()
        address = next(word for word in said.split() if word.startswith("http"))
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(
                executable_path=shutil.which("chromium"),
                args=["--no-sandbox", "--host-resolver-rules=MAP shed.example 127.0.0.1"],
            )
            windows = [opened(browser, address), opened(browser, address)]
            first, second = windows
            for page in windows:
                expect(page.locator("h1")).not_to_be_empty()

            # One window is left in the middle of something.
            first.goto(address + "#effects")
            first.locator(".play").nth(1).click()
            first.locator("#preview details").evaluate("(details) => { details.open = true; }")
            first.evaluate("window.scrollTo(0, 150)")
            job.write_text(text.replace(title, "  title: Vent of the long glasshouse"))
            for page in windows:
                expect(page.locator("h1")).to_have_text("Vent of the long glasshouse")
            expect(first.locator(".play").nth(1)).to_have_attribute("aria-pressed", "true")
            expect(first.locator("#preview details")).to_have_attribute("open", "")
            expect(first.locator("#effects")).to_be_visible()
            first.wait_for_function("window.scrollY === 150")
            listed = subprocess.run([PROGRAM, "check", "vent.yaml"], cwd=folder, capture_output=True, text=True).stdout
            assert first.locator("#preview pre").text_content() == listed

            # Broken: the words of the prompt above the page from before, which still works.
            job.write_text(text.replace("type:", "typ:", 1))
            why = subprocess.run(
                [PROGRAM, "draw", "vent.yaml", "-o", "-"], cwd=folder, capture_output=True, text=True
            ).stderr.strip()
            assert "vent.yaml:" in why and "fix:" in why, why
            for page in windows:
                expect(page.locator("#unusable")).to_be_visible()
                assert page.locator("#preview pre").text_content() == why
                assert page.title().startswith("Unusable: Vent of the long"), page.title()
                page.wait_for_function("window.scrollY === 0")
                found = Axe().run(page).response["violations"]
                assert not [v["id"] for v in found if v["impact"] in ("serious", "critical")], found
            first.locator("nav a", has_text="Drawing").click()
            expect(first.locator(".sheet").first).to_be_visible()

            # What was brought nearer stays so, to a turn of the wheel.
            for _ in range(3):
                first.locator(".nearer").first.click()
            first.locator(".sheet").first.press("ArrowRight")
            first.locator(".sheet").first.press("ArrowDown")
            before = box(first)

            # Mended by another file in the place of the old one.
            (folder / "new").write_text(text)
            os.replace(folder / "new", job)
            for page in windows:
                expect(page.locator("#unusable")).to_have_count(0)
                expect(page.locator("h1")).to_contain_text(title.split("title:")[1].strip())
            expect(first.locator(".sheet").first).to_be_visible()
            after = box(first)
            assert all(abs(a - b) < 0.15 * before[2] for a, b in zip(before, after)), (before, after)
            if len(sys.argv) > 2:
                first.screenshot(path=sys.argv[2])
            for page in windows:
                assert not page.faults, page.faults

            # A name that somebody else gave this machine is not answered.
            stranger = browser.new_context().new_page()
            answer = stranger.goto(address.replace("127.0.0.1", "shed.example"))
            assert answer.status == 403, answer.status

            serving.send_signal(signal.SIGINT)
            serving.wait(timeout=60)
            for page in windows:
                expect(page.locator("#news")).to_contain_text("has ended")
            browser.close()
        left = sorted(path.name for path in folder.iterdir())
        assert left == ["vent.yaml"], left
        print("two windows followed a job through a change, a mistake and its cure, in the words of the prompt")
    finally:
        if serving.poll() is None:
            serving.kill()
            serving.wait()
        shutil.rmtree(folder)


if __name__ == "__main__":
    main()
