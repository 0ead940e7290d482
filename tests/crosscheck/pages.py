"""Report, catalogue and record sheets as a browser and other programs read them.

    python pages.py RESULTS

RESULTS is the demo as `trace` leaves it. A copy of it and an invented archive of 2,000 garments get their pages, which headless Chromium opens over its
DevTools protocol (websocket-client), in a window as on a desk and as on a telephone. Held against the outside: contrast of 4.5 : 1 (WCAG 2.2, 1.4.3),
no sideways scrolling at 320 CSS px (1.4.10), names for whatever can be operated (4.1.2, by the browser's accessibility tree), nothing refused by the page's
own policy (Content Security Policy 3), hashes by another implementation of BLAKE3, record sheets of one or two pages by poppler. Prints figures; exits with 1 when
anything is out. Screenshots are left in target/crosscheck/pages.
"""

import re
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import blake3
from browser import CONTRAST, Browser

ROOT = Path(__file__).resolve().parents[2]
SHOTS = ROOT / "target/crosscheck/pages"
RUBOFF = ROOT / "target/release/ruboff"
FILL = ROOT / "target/release/examples/fill_archive"
DESK, PHONE = (1280, 900), (390, 844)
MOST_SECONDS = 2.0

out = 0


def held(good, words):
    global out
    if not good:
        out += 1
        print(f"  WRONG {words}")


def looked_at(browser, file, name, seconds=None):
    """What must hold for any page, at both widths and in both colour schemes."""
    for size, where in ((DESK, "desk"), (PHONE, "phone"), ((320, 640), "narrow")):
        took = min(browser.open(file.as_uri(), size) for _ in range(3)) if seconds else browser.open(file.as_uri(), size)
        if seconds:
            print(f"{name}, {where}: open in {took:.2f} s")
            held(took < seconds, f"{name} takes {took:.2f} s to open ({where}), {seconds} asked")
        held(browser.run("document.scrollingElement.scrollWidth <= innerWidth"), f"{name} scrolls sideways ({where})")
        bad = browser.refused()
        held(not bad, f"{name}: {bad[:2]}")
        held(all(u.startswith(("file:", "data:")) for u in browser.asked()), f"{name} asks for {browser.asked()[:3]}")
        if where != "narrow":
            browser.shot(f"{name}-{where}")
    for scheme in ("light", "dark"):
        browser.call("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": scheme}])
        ratio, at = browser.run(CONTRAST)
        held(ratio >= 4.5, f"{name}: contrast {ratio:.2f} of {at} ({scheme})")
        if scheme == "dark":
            browser.shot(f"{name}-dark")
    browser.call("Emulation.setEmulatedMedia", features=[])
    held(browser.run("document.querySelectorAll('h1').length") == 1, f"{name} has not one h1")
    held(browser.run("document.querySelectorAll('main').length") == 1, f"{name} has not one main")
    levels = browser.run("Array.from(document.querySelectorAll('h1,h2,h3,h4'), h => +h.tagName[1])")
    held(all(b - a <= 1 for a, b in zip(levels, levels[1:])), f"{name} leaves out a level of heading: {levels[:12]}")
    held(browser.run("Array.from(document.images).every(i => i.alt && i.getAttribute('alt').length > 3)"), f"{name} has a picture without words")
    nameless = browser.nameless()
    held(not nameless, f"{name} has {len(nameless)} things to operate without a name: {nameless[:3]}")


def key(browser, name, code):
    for kind in ("keyDown", "keyUp"):
        browser.call("Input.dispatchKeyEvent", type=kind, key=name, code=name, windowsVirtualKeyCode=code)


def asked(browser, file, garments):
    """The report's search, filter and order, by keyboard alone where a person would."""
    browser.open(file.as_uri(), DESK)
    key(browser, "Tab", 9)
    held(browser.run("document.activeElement.className") == "skip", "the first stop is not the link past the form")
    key(browser, "Tab", 9)
    held(browser.run("document.activeElement.id") == "words", "the second stop is not the search box")
    held(browser.run("getComputedStyle(document.activeElement).outlineStyle") != "none", "focus is not seen")
    start = time.monotonic()
    browser.call("Input.insertText", text="miller")
    browser.run("new Promise(done => setTimeout(done, 200))")
    shown = browser.run("document.querySelectorAll('#pictures > li:not([hidden])').length")
    status = browser.run("document.getElementById('count').textContent")
    held(0 < shown < garments and status.startswith(f"{shown} of {garments}"), f"the count says {status!r} for {shown}")
    print(f"report: {status} (after {time.monotonic() - start - 0.2:.2f} s)")
    browser.run("(() => { const f = document.getElementById('ask'); f.elements.words.value = ''; f.elements.order.value = 'out'; f.dispatchEvent(new Event('input')) })()")
    browser.run("new Promise(done => setTimeout(done, 300))")
    outs = browser.run("Array.from(document.querySelectorAll('#pictures > li'), l => +l.dataset.out)")
    held(outs == sorted(outs, reverse=True), "ordered by how far lines are out, they are not")
    browser.run("(() => { const f = document.getElementById('ask'); f.querySelector('input[value=failed]').click() })()")
    browser.run("new Promise(done => setTimeout(done, 300))")
    held(browser.run("document.querySelectorAll('#pictures > li[data-standing=failed]:not([hidden])').length") == 0, "failed pictures are shown though left out")


def sheets(browser, folder):
    """Record sheets on A4 and Letter."""
    for file in sorted((folder / "catalogue/sheets").glob("*.html"))[:4]:
        browser.open(file.as_uri(), DESK)
        for paper, size in (("A4", (8.27, 11.69)), ("Letter", (8.5, 11))):
            pdf = SHOTS / f"sheet-{file.stem}-{paper}.pdf"
            browser.pdf(pdf, *size)
            pages = int(re.search(r"Pages:\s+(\d+)", subprocess.run(["pdfinfo", pdf], capture_output=True, text=True, check=True).stdout)[1])
            held(pages <= 2, f"{file.stem} takes {pages} pages of {paper}")
            subprocess.run(["pdftoppm", "-r", "60", "-png", pdf, pdf.with_suffix("")], check=True)


def hashed(folder):
    lines = (folder / "catalogue/hashes.txt").read_text().splitlines()
    for line in lines:
        digest, path = line.split("  ", 1)
        held(blake3.blake3((folder / path).read_bytes()).hexdigest() == digest, f"hash of {path}")
    there = {str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file() and "catalogue" not in p.parts and not any(q.startswith(".") for q in p.relative_to(folder).parts)}
    held({line.split("  ", 1)[1] for line in lines} == there, "the hash list has not every file")
    print(f"hashes: {len(lines)} files, all as BLAKE3's own package has them")


def main():
    demo = Path(sys.argv[1]).resolve()
    shutil.rmtree(SHOTS, ignore_errors=True)
    SHOTS.mkdir(parents=True)
    with tempfile.TemporaryDirectory() as tmp:
        small, large = Path(tmp) / "small", Path(tmp) / "large"
        shutil.copytree(demo, small)
        subprocess.run([FILL, large, "2000"], check=True)
        for folder in (small, large):
            start = time.monotonic()
            told = subprocess.run([RUBOFF, "catalogue", folder], capture_output=True, text=True)
            held(told.returncode == 0, told.stderr)
            print(f"{told.stdout.strip()} ({time.monotonic() - start:.1f} s); report of {(folder / 'report.html').stat().st_size / 1e6:.1f} MB")
        browser = Browser(SHOTS)
        try:
            looked_at(browser, large / "report.html", "report", MOST_SECONDS)
            asked(browser, large / "report.html", 2000)
            looked_at(browser, large / "catalogue/index.html", "index", MOST_SECONDS)
            looked_at(browser, small / "report.html", "report-demo")
            garment = sorted((small / "catalogue/garments").glob("*.html"))[0]
            looked_at(browser, garment, "garment-demo")
            held(browser.run("Promise.all(Array.from(document.images, i => { i.loading = 'eager'; return i.decode() })).then(() => document.images.length)") > 0, "pictures of a garment's page are not let in")
            looked_at(browser, small / "catalogue/sheets" / garment.name, "sheet-demo")
            sheets(browser, small)
            sheets(browser, large)
        finally:
            browser.close()
        hashed(small)
    if out:
        raise SystemExit(f"pages: {out} things are out")


if __name__ == "__main__":
    main()
